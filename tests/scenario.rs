//! Scenario files: every shipped one loads; broken ones are refused with exact words and places.

use lostlink::scenario::{self, Diagnostic, Files};
use std::path::{Path, PathBuf};

/// Files of a folder on disk.
struct Folder(PathBuf);

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        std::fs::read(self.0.join(name)).map_err(|_| "there is no such file".into())
    }
}

fn words(found: &[Diagnostic]) -> String {
    found.iter().map(|finding| finding.in_words() + "\n").collect()
}

fn scenario_files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the folder is there")
        .map(|entry| entry.expect("readable").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .collect();
    files.sort();
    files
}

#[test]
fn every_shipped_scenario_loads_without_a_warning() {
    let files = scenario_files();
    assert!(!files.is_empty());
    for path in files {
        let text = std::fs::read_to_string(&path).expect("readable");
        let folder = Folder(path.parent().expect("a folder").into());
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        match scenario::read(&name, &text, &folder) {
            Ok(scenario) => {
                assert_eq!(scenario.warnings, Vec::<String>::new(), "{name}");
                assert!(scenario.invented, "{name}: places and craft that are shipped are invented");
                assert!(scenario.policies.len() >= 4, "{name}");
                assert!(!scenario.about.is_empty(), "{name}");
                for condition in &scenario.conditions {
                    assert_eq!(condition.scenario.warnings, Vec::<String>::new(), "{name}: {}", condition.name);
                }
            }
            Err(found) => panic!("{}", words(&found)),
        }
    }
}
