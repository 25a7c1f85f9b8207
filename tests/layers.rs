//! Imports run one way: a module uses only those that stand before it, and inside a folder no files use each other in a circle.
//!
//! Inside a folder the order is that of its files: whatever a file names with `super::` or `crate::` is followed through the
//! re-exports of `mod.rs` to the file that defines it, and the uses between the files (a folder inside counting as one) must have
//! no circle. `mod.rs` is the folder's face and stands outside of that: what it defines itself may be used by any file, and it
//! may use any. Unit tests do not count.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Circles that are still there, by folder: every file that is in one. The list only shrinks; it is empty.
const STILL_CIRCLING: &[(&str, &[&str])] = &[];

/// The modules in order; those of one step use none of each other.
const STEPS: [&[&str]; 18] = [
    &["units"],
    &["geometry"],
    &["chance"],
    &["stats"],
    &["site", "air", "radio", "sky", "craft"],
    &["failsafe", "geodata"],
    &["scenario"],
    &["world"],
    &["flight"],
    &["plan"],
    &["risk"],
    &["story"],
    &["lesson"],
    &["live"],
    &["report"],
    &["serve"],
    &["cli"],
    &["main", "lib"],
];

fn step_of(module: &str) -> Option<usize> {
    STEPS.iter().position(|step| step.contains(&module))
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("the folder is there") {
        let path = entry.expect("readable").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
}

/// Modules named after `crate::`, also inside braces: `use crate::{site::Area, units}`.
fn named(line: &str) -> Vec<String> {
    let word =
        |text: &str| text.chars().take_while(|letter| letter.is_alphanumeric() || *letter == '_').collect::<String>();
    let mut found = Vec::new();
    for (at, _) in line.match_indices("crate::") {
        let rest = &line[at + "crate::".len()..];
        if let Some(list) = rest.strip_prefix('{') {
            let mut depth = 0;
            let mut start = true;
            for (index, letter) in list.char_indices() {
                match letter {
                    '{' => depth += 1,
                    '}' if depth == 0 => break,
                    '}' => depth -= 1,
                    ',' if depth == 0 => start = true,
                    letter if start && letter.is_alphabetic() => {
                        found.push(word(&list[index..]));
                        start = false;
                    }
                    _ => {}
                }
            }
        } else {
            found.push(word(rest));
        }
    }
    found
}

/// What a source names against the order, as 'file:line names module'.
fn against_the_order(module: &str, name: &str, text: &str) -> Vec<String> {
    let own = step_of(module);
    let mut found = Vec::new();
    for (index, line) in text.lines().enumerate() {
        // Prose may name what it likes.
        let code = line.split("//").next().unwrap_or_default();
        for other in named(code) {
            // The formulas that judge are compiled for unit tests alone: what runs cannot name them.
            let allowed = other == module
                || other == "reference"
                || match (step_of(&other), own) {
                    (Some(other), Some(own)) => other < own,
                    // A name at the top of the crate that is no module of the list.
                    _ => false,
                };
            if !allowed {
                found.push(format!("{name}:{} names {other}", index + 1));
            }
        }
    }
    found
}

#[test]
fn modules_use_earlier_ones_only() {
    let root = Path::new(env!("LOSTLINK_ROOT")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    assert!(files.len() > 20);
    let mut found = Vec::new();
    for path in files {
        let inside = path.strip_prefix(&root).expect("inside");
        let first = inside.components().next().expect("a name").as_os_str().to_string_lossy().into_owned();
        let module = first.trim_end_matches(".rs").to_string();
        assert!(step_of(&module).is_some(), "{module} has no place in the order: give it one in this test");
        let text = std::fs::read_to_string(&path).expect("readable");
        found.extend(against_the_order(&module, &inside.to_string_lossy(), &text));
    }
    assert!(found.is_empty(), "imports against the order:\n{}", found.join("\n"));
}

#[test]
fn the_test_itself_sees_what_it_must() {
    let seen = |module: &str, line: &str| !against_the_order(module, "x", line).is_empty();
    assert!(seen("radio", "use crate::site::Area;"));
    assert!(seen("site", "use crate::{units, world::World};"));
    assert!(seen("failsafe", "let x = crate::flight::step();"));
    assert!(!seen("world", "use crate::{radio::Antenna, site::{Area, Zone}, units};"));
    assert!(!seen("site", "// the crate::world builds this"));
    assert!(!seen("site", "use crate::units::wrap_pi;"));
}

/// A file's production code without comments.
fn production(text: &str) -> String {
    let end = text.find("\n#[cfg(test)]\nmod ").unwrap_or(text.len());
    text[..end].lines().map(|line| line.split("//").next().unwrap_or_default()).collect::<Vec<_>>().join("\n")
}

/// A path as written, its last name being what the file calls it.
#[derive(Debug, Clone, PartialEq)]
struct Named {
    path: Vec<String>,
    called: String,
}

/// The paths of a use tree, `super::{a::{B, C as D}, e}` being three of them; a `*` stands for itself.
fn tree(text: &str, before: &[String], found: &mut Vec<Named>) {
    let mut path = before.to_vec();
    let mut rest = text.trim_start();
    loop {
        if let Some(list) = rest.strip_prefix('{') {
            let (mut depth, mut start) = (0, 0);
            for (index, letter) in list.char_indices() {
                match letter {
                    '}' | ',' if depth == 0 => {
                        tree(&list[start..index], &path, found);
                        start = index + 1;
                        if letter == '}' {
                            return;
                        }
                    }
                    '{' => depth += 1,
                    '}' => depth -= 1,
                    _ => {}
                }
            }
            return;
        }
        let word: String = rest.chars().take_while(|c| c.is_alphanumeric() || "_*".contains(*c)).collect();
        if word.is_empty() {
            return;
        }
        rest = &rest[word.len()..];
        path.push(word.clone());
        match rest.strip_prefix("::") {
            Some(more) if !more.starts_with('<') => rest = more,
            _ => {
                let alias = rest.trim_start().strip_prefix("as ").map(|name| name.trim().to_string());
                found.push(Named { called: alias.unwrap_or(word), path });
                return;
            }
        }
    }
}

/// Every path of a text that starts with one of these words.
fn paths(text: &str, starts: &[&str]) -> Vec<Named> {
    let mut found = Vec::new();
    for start in starts {
        for (at, _) in text.match_indices(start) {
            let free = |c: char| !(c.is_alphanumeric() || c == '_' || c == ':');
            if text[..at].chars().next_back().is_none_or(free) {
                let text = text[at..].strip_prefix("pub use ").unwrap_or(&text[at..]);
                tree(text.split(';').next().unwrap_or_default(), &[], &mut found);
            }
        }
    }
    found
}

/// All modules by their paths: `radio::antenna`, `flight::link` (its `mod.rs`).
struct Crate {
    code: BTreeMap<Vec<String>, String>,
    folders: BTreeSet<Vec<String>>,
}

impl Crate {
    fn add(&mut self, file: &str, text: &str) {
        let mut path: Vec<String> = file.trim_end_matches(".rs").split('/').map(str::to_string).collect();
        if path.last().is_some_and(|name| name == "mod") {
            path.pop();
            self.folders.insert(path.clone());
        }
        self.code.insert(path, production(text));
    }

    /// The module that defines what `path`, written in module `from`, names.
    fn home_of(&self, from: &[String], path: &[String], depth: usize) -> Option<Vec<String>> {
        let mut at = match path.first()?.as_str() {
            "crate" => Vec::new(),
            "super" | "self" => from.to_vec(),
            _ => from.to_vec(),
        };
        let mut words = path.iter().skip(usize::from(["crate", "self"].contains(&path[0].as_str()))).peekable();
        while words.next_if(|word| *word == "super").is_some() {
            at.pop();
        }
        for word in words {
            at.push(word.clone());
            if self.code.contains_key(&at) {
                continue;
            }
            at.pop();
            let shown = paths(self.code.get(&at)?, &["pub use ", "pub(crate) use ", "pub(super) use "]);
            // Its own name again would be followed for ever.
            let passed = shown.iter().find(|shown| shown.called == *word && depth > 0);
            return match passed {
                Some(passed) => self.home_of(&at, &passed.path, depth - 1),
                None => Some(at),
            };
        }
        Some(at)
    }

    /// Uses between the children of each folder: folder, user, used.
    fn uses(&self) -> BTreeMap<Vec<String>, BTreeSet<(String, String)>> {
        let mut found: BTreeMap<Vec<String>, BTreeSet<(String, String)>> = BTreeMap::new();
        for (from, code) in &self.code {
            for named in paths(code, &["crate::", "super::", "self::"]) {
                let Some(home) = self.home_of(from, &named.path, 8) else { continue };
                let common = from.iter().zip(&home).take_while(|(a, b)| a == b).count();
                // Nothing but the face of a folder ends where the common part does.
                if common > 0 && self.folders.contains(&from[..common]) && common < from.len().min(home.len()) {
                    let edge = (from[common].clone(), home[common].clone());
                    found.entry(from[..common].to_vec()).or_default().insert(edge);
                }
            }
        }
        found
    }

    /// Files that use themselves by way of others, by folder.
    fn circles(&self) -> BTreeMap<String, BTreeSet<String>> {
        let mut found: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for (folder, edges) in self.uses() {
            for (start, _) in &edges {
                let (mut reached, mut open) = (BTreeSet::new(), vec![start]);
                while let Some(at) = open.pop() {
                    let next = edges.iter().filter(|(user, _)| user == at).map(|(_, used)| used);
                    open.extend(next.filter(|used| reached.insert(*used)));
                }
                if reached.contains(start) {
                    found.entry(folder.join("/")).or_default().insert(start.clone());
                }
            }
        }
        found
    }
}

#[test]
fn files_of_a_folder_use_each_other_in_no_circle() {
    let root = Path::new(env!("LOSTLINK_ROOT")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    let mut all = Crate { code: BTreeMap::new(), folders: BTreeSet::new() };
    for path in files {
        let name = path.strip_prefix(&root).expect("under src").display().to_string();
        if !["lib.rs", "main.rs"].contains(&name.as_str()) {
            all.add(&name, &std::fs::read_to_string(&path).expect("readable"));
        }
    }
    let (uses, circles) = (all.uses(), all.circles());
    let known = |folder: &str, file: &str| {
        STILL_CIRCLING.iter().any(|(known, files)| *known == folder && files.contains(&file))
    };
    let mut told = Vec::new();
    for (folder, files) in &circles {
        let path: Vec<String> = folder.split('/').map(str::to_string).collect();
        // Both ends are named: the new one of the two makes the circle.
        for (user, used) in uses[&path].iter().filter(|(user, used)| files.contains(user) && files.contains(used)) {
            if !known(folder, user) || !known(folder, used) {
                told.push(format!("{folder}: {user} uses {used}"));
            }
        }
    }
    assert!(told.is_empty(), "these uses lie in a circle between files of a folder:\n{}", told.join("\n"));
    for (folder, files) in STILL_CIRCLING {
        for file in *files {
            let circling = circles.get(*folder).is_some_and(|files| files.contains(*file));
            assert!(circling, "{folder}/{file} is in no circle any more: take it off the list");
        }
    }
}

#[test]
fn the_test_of_folders_sees_what_it_must() {
    let with = |a: &str, b: &str, c: &str| {
        let mut all = Crate { code: BTreeMap::new(), folders: BTreeSet::new() };
        all.add("f/mod.rs", "mod a;\npub mod b;\npub use a::{One, Two as Second};\npub use g::Deep;\npub struct Base;");
        all.add("f/a.rs", a);
        all.add("f/b.rs", b);
        all.add("f/g/mod.rs", "pub use c::Deep;");
        all.add("f/g/c.rs", c);
        all.circles().get("f").map(|files| files.iter().cloned().collect::<Vec<_>>().join(" ")).unwrap_or_default()
    };
    // By way of the re-export, under another name, and by a full path.
    assert_eq!(with("use super::b::X;", "use super::{Base, One};", ""), "a b");
    assert_eq!(with("use super::{b::{X, Y}};", "fn f() { super::Second::new() }", ""), "a b");
    assert_eq!(with("use crate::f::b;", "use crate::{f::One, units};", ""), "a b");
    // Through a folder inside.
    assert_eq!(with("use super::b::X;", "use super::Deep;", "use super::super::One;"), "a b g");
    // One way, the face, comments and unit tests make none.
    assert_eq!(with("use super::b::X;", "use super::Base;", "use crate::f::One;"), "");
    assert_eq!(
        with("use super::b::X;", "// super::One\n\n#[cfg(test)]\nmod tests {\n use super::super::One;\n}", ""),
        ""
    );
}
