//! Library functions that only tests reach: every one is either a judge, and then it stands in `tests/reference`, or dead.
//!
//! A plain scan of the text: a function is unreached when its name stands nowhere in `src`, outside comments, imports and unit
//! tests, but at its definition. Names that several functions share, and functions that only unreached ones call, slip through one
//! round; when the callers go, they show.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Reached from outside of `src` alone, and meant to be: function, why it stands in the library.
const MEANT: &[(&str, &str)] = &[
    ("arrives_s", "planned times at corners, for those who use the library; flown times are held against them"),
    ("compare_heights", "a call of the library's own, as examples/two_heights.rs makes it"),
    ("from_toml", "likewise, as examples/one_flight.rs and the doc tests make it"),
    ("curvature_per_m", "a constant of the terrain method that the independent form of its loss has to know"),
    ("format_page", "the page of scenario keys, printed by examples/keys.rs"),
    ("grid_mass", "what the grid of the map's contours holds; only the grid can tell"),
    ("overlaps", "a look at a figure's layout for the tests of all figures"),
    ("try_fill_bytes", "part of that source's trait"),
    ("try_next_u64", "part of that source's trait"),
    ("unexplained", "a look at a figure's layout for the tests of all figures"),
    // Methods of traits, called by the compiler or by other crates.
    ("default", "trait"),
    ("deref", "trait"),
    ("drop", "trait"),
    ("fmt", "trait"),
    ("from", "trait"),
    ("abs_sub", "trait of numbers, which the transform asks for and calls in part"),
    ("from_f64", "likewise"),
    ("from_i64", "likewise"),
    ("from_u64", "likewise"),
    ("is_negative", "likewise"),
    ("is_positive", "likewise"),
    ("is_zero", "likewise"),
    ("main", "the program"),
];

fn sources(folder: &Path, list: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder of sources") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, list);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            list.push(path);
        }
    }
}

/// A file's code without its unit tests, comments and imports.
fn production(text: &str) -> String {
    let mut code = String::new();
    let mut lines = text.lines();
    let mut importing = false;
    while let Some(line) = lines.next() {
        if line.trim() == "#[cfg(test)]" && line.starts_with('#') {
            // What follows is for tests: one statement, or the module that ends the file.
            let mut inside = lines.by_ref().skip_while(|inner| inner.starts_with("#["));
            if inside.next().is_some_and(|inner| inner.ends_with(';')) {
                continue;
            }
            break;
        }
        let bare = line.split("//").next().unwrap_or("");
        let start = bare.trim_start();
        importing |= start.starts_with("use ") || start.starts_with("pub use ") || start.starts_with("pub(crate) use ");
        if !importing {
            code.push_str(bare);
            code.push('\n');
        }
        importing &= !bare.trim_end().ends_with(';');
    }
    code
}

fn words(code: &str) -> impl Iterator<Item = &str> {
    code.split(|c: char| !(c.is_alphanumeric() || c == '_')).filter(|word| !word.is_empty())
}

/// Names of functions that `files` (name and production code) define and never name again.
fn unreached(files: &[(String, String)]) -> Vec<(String, String)> {
    let mut named: BTreeMap<&str, usize> = BTreeMap::new();
    let mut defined: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for (file, code) in files {
        let mut last = "";
        for word in words(code) {
            *named.entry(word).or_default() += 1;
            if last == "fn" {
                defined.entry(word).or_default().push(file);
            }
            last = word;
        }
    }
    let mut list = Vec::new();
    for (name, places) in &defined {
        if named[name] <= places.len() {
            list.extend(places.iter().map(|file| (file.to_string(), name.to_string())));
        }
    }
    list
}

#[test]
fn library_functions_are_reached_by_what_runs() {
    let root = Path::new(env!("LOSTLINK_ROOT")).join("src");
    let mut paths = Vec::new();
    sources(&root, &mut paths);
    paths.sort();
    let files: Vec<(String, String)> = paths
        .iter()
        .map(|path| {
            let name = path.strip_prefix(&root).expect("under src").display().to_string();
            (name, production(&std::fs::read_to_string(path).expect("readable")))
        })
        .collect();
    let found = unreached(&files);
    let odd: Vec<String> = found
        .iter()
        .filter(|(_, name)| MEANT.iter().all(|(meant, _)| meant != name))
        .map(|(file, name)| format!("{file}: {name}"))
        .collect();
    assert!(
        odd.is_empty(),
        "reached by tests at most; move them to tests/reference if they judge, else delete them:\n{}",
        odd.join("\n")
    );
    for (meant, why) in MEANT.iter().filter(|(_, why)| !["trait", "the program"].contains(why)) {
        assert!(found.iter().any(|(_, name)| name == meant), "`{meant}` ({why}) need not be listed any more");
    }
}

#[test]
fn the_scan_tells_reached_from_unreached() {
    let text = "use a::idle;\nfn busy() {}\n/// Calls idle().\npub fn idle() {\n    busy();\n}\n\n#[cfg(test)]\nmod tests {\n    fn t() {\n        idle();\n    }\n}\n";
    let files = [("one.rs".to_string(), production(text))];
    assert_eq!(unreached(&files), [("one.rs".to_string(), "idle".to_string())]);
}
