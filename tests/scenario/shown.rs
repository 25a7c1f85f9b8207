//! The messages of the readers and of `check`, looked up in the expected words of the tests: what no test shows is listed in
//! tests/broken/unshown.txt, with the file that says it. The list only shrinks: show a new message by an input in tests/broken.

use super::helpers::{broken, differs};
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

/// Everything that tests expect: files of words, and the sources of the tests themselves but for their escapes.
fn expected(root: &Path) -> String {
    let mut paths = Vec::new();
    files(&root.join("tests"), &mut paths);
    files(&root.join("src"), &mut paths);
    let is_words = |path: &Path| {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        (name.ends_with(".txt") && name != "unshown.txt" && !path.to_string_lossy().contains("numbers"))
            || name.ends_with(".rs")
    };
    let own = root.join("src");
    let texts = paths.iter().filter(|path| is_words(path)).map(|path| {
        let text = std::fs::read_to_string(path).unwrap_or_default();
        // Of the program's own files only their unit tests.
        let tests = text.find("#[cfg(test)]").map_or("", |at| &text[at..]);
        if path.starts_with(&own) { tests.to_string() } else { text }
    });
    flat(&texts.collect::<Vec<_>>().join("\n").replace("\\\n", " ").replace("\\\"", "\""))
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
