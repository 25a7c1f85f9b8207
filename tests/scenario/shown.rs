//! The messages of the readers and of `check`, looked up in the expected words of the tests: what no test shows is listed in
//! tests/broken/unshown.txt, with the file that says it. The list only shrinks: show a new message by an input in tests/broken.

use super::expected::differs;
use super::helpers::broken;
use std::path::{Path, PathBuf};

/// Where messages come from.
const SOURCES: [&str; 8] = [
    "src/scenario",
    "src/lesson/file.rs",
    "src/site/terrain.rs",
    "src/geodata",
    "src/sky",
    "src/plan/odd.rs",
    "src/plan/warnings.rs",
    "src/failsafe/policy.rs",
];

/// What begins a message.
const CALLS: [&str; 11] = [
    "error(",
    "warn(",
    "fault(",
    "missing(",
    "notes.push(",
    "push(Severity",
    "#[error(",
    "FileFault {",
    "refuse(",
    "NotText",
    "PolicyError",
];

fn files(path: &Path, found: &mut Vec<PathBuf>) {
    if path.is_dir() {
        let mut inside: Vec<PathBuf> =
            std::fs::read_dir(path).expect("a folder").map(|entry| entry.expect("readable").path()).collect();
        inside.sort();
        inside.iter().for_each(|path| files(path, found));
    } else {
        found.push(path.to_path_buf());
    }
}

/// Literals from a call to the end of its statement, unescaped, with a NUL for each value put in.
fn literals(call: &str) -> Vec<String> {
    let (mut found, mut depth, mut letters) = (Vec::new(), 0, call.chars().peekable());
    while let Some(letter) = letters.next() {
        match letter {
            '(' | '[' | '{' => depth += 1,
            ')' | ']' | '}' if depth <= 1 => return found,
            ')' | ']' | '}' => depth -= 1,
            '"' => {
                let mut text = String::new();
                while let Some(letter) = letters.next().filter(|letter| *letter != '"') {
                    match letter {
                        '\\' => match letters.next() {
                            Some('\n') => while letters.next_if(|next| next.is_whitespace()).is_some() {},
                            Some('n') | None => text.push('\n'),
                            Some(other) => text.push(other),
                        },
                        '{' if letters.next_if_eq(&'{').is_none() => {
                            while letters.next().is_some_and(|inside| inside != '}') {}
                            text.push('\0');
                        }
                        letter => text.push(letter),
                    }
                }
                found.push(text);
            }
            _ => {}
        }
    }
    found
}

fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The string literals of a source, unescaped; its comments are none.
fn strings(source: &str) -> Vec<String> {
    let (letters, mut found, mut at) = (source.chars().collect::<Vec<char>>(), Vec::new(), 0);
    let here = |at: usize, what: char| letters.get(at) == Some(&what);
    while at < letters.len() {
        let begins = at == 0 || !(letters[at - 1].is_alphanumeric() || letters[at - 1] == '_') || here(at - 1, 'b');
        let marks = letters[at + 1..].iter().take_while(|letter| **letter == '#').count();
        if here(at, '/') && here(at + 1, '/') {
            at += letters[at..].iter().take_while(|letter| **letter != '\n').count();
        } else if here(at, 'r') && begins && here(at + 1 + marks, '"') {
            at += 2 + marks;
            let start = at;
            let ends = |at: usize| here(at, '"') && (1..=marks).all(|mark| here(at + mark, '#'));
            while at < letters.len() && !ends(at) {
                at += 1;
            }
            found.push(letters[start..at].iter().collect());
            at += 1 + marks;
        } else if here(at, '"') {
            let mut text = String::new();
            at += 1;
            while at < letters.len() && !here(at, '"') {
                match (letters[at], letters.get(at + 1)) {
                    // A line that goes on begins at its first word.
                    ('\\', Some('\n')) => {
                        at += 2;
                        at += letters[at..].iter().take_while(|letter| letter.is_whitespace()).count();
                        continue;
                    }
                    ('\\', Some('n')) => text.push('\n'),
                    ('\\', Some(other)) => text.push(*other),
                    (letter, _) => text.push(letter),
                }
                at += if here(at, '\\') { 2 } else { 1 };
            }
            found.push(text);
            at += 1;
        } else if here(at, '\'') && (here(at + 1, '\\') || here(at + 2, '\'')) {
            at += 3;
        } else {
            at += 1;
        }
    }
    found
}

#[test]
fn only_literals_are_strings() {
    let source = "// a \"comment\"\nf('\"', \"one \\\"two\\\" \\\n    three\", r#\"raw \"four\"\"#); for<'a> \"five\" /// \"six\"";
    assert_eq!(strings(source), ["one \"two\" three", "raw \"four\"", "five"]);
}

/// Everything that tests expect: files of words, and the string literals of the tests themselves.
fn expected(root: &Path) -> String {
    let mut paths = Vec::new();
    files(&root.join("tests"), &mut paths);
    files(&root.join("src"), &mut paths);
    let own = root.join("src");
    let mut words = Vec::new();
    for path in paths {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let text = || std::fs::read_to_string(&path).unwrap_or_default();
        if name.ends_with(".rs") {
            let text = text();
            // Of the program's own files only their unit tests.
            let from = if path.starts_with(&own) { text.find("#[cfg(test)]").unwrap_or(text.len()) } else { 0 };
            words.extend(strings(&text[from..]));
        } else if name.ends_with(".txt") && name != "unshown.txt" && !path.to_string_lossy().contains("numbers") {
            words.push(text());
        }
    }
    flat(&words.join("\n"))
}

#[test]
fn every_message_is_shown_by_a_test() {
    let root = Path::new(env!("LOSTLINK_ROOT"));
    let expected = expected(root);
    let mut sources = Vec::new();
    SOURCES.iter().for_each(|source| files(&root.join(source), &mut sources));
    let (mut unshown, mut all) = (std::collections::BTreeSet::new(), 0);
    for source in sources {
        let text = std::fs::read_to_string(&source).expect("readable");
        let text = &text[..text.find("#[cfg(test)]").unwrap_or(text.len())];
        for call in CALLS {
            for (at, _) in text.match_indices(call) {
                for literal in literals(&text[at..]) {
                    // The longest part that is the same in every message; what is short says nothing by itself.
                    let parts = literal.split('\0').map(flat);
                    let part = parts.max_by_key(String::len).unwrap_or_default();
                    let words = part.trim_matches(|c: char| !c.is_alphanumeric() && c != '`');
                    if words.len() >= 12 && words.contains(' ') {
                        all += 1;
                        if !expected.contains(words) {
                            let file = source.strip_prefix(root).unwrap_or(&source).display().to_string();
                            unshown.insert(format!("{file}: {words}\n"));
                        }
                    }
                }
            }
        }
    }
    assert!(all > 150, "only {all} messages found: the search is broken");
    let differing = differs(&broken().join("unshown.txt"), &unshown.into_iter().collect::<String>());
    assert!(
        differing.is_empty(),
        "messages that no test shows: give tests/broken an input for them, or LOSTLINK_BLESS=1\n{differing}"
    );
}
