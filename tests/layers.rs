//! Imports run one way: a module uses only those that stand before it.

use std::path::{Path, PathBuf};

/// The modules in order; those of one step use none of each other.
const STEPS: [&[&str]; 14] = [
    &["units"],
    &["geometry"],
    &["chance"],
    &["stats"],
    &["site", "air", "radio", "sky", "craft"],
    &["failsafe"],
    &["scenario"],
    &["world"],
    &["flight"],
    &["plan"],
    &["risk"],
    &["report"],
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
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
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
