//! What the modules of this test share: files in memory and in folders, a flat field, expected words.

use lostlink::scenario::{self, Diagnostic, Files};
use std::path::{Path, PathBuf};

/// Files of a folder on disk.
pub struct Folder(pub PathBuf);

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        std::fs::read(self.0.join(name)).map_err(|_| "there is no such file".into())
    }
}

pub fn words(found: &[Diagnostic]) -> String {
    found.iter().map(|finding| finding.in_words() + "\n").collect()
}

pub fn scenario_files() -> Vec<PathBuf> {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the folder is there")
        .map(|entry| entry.expect("readable").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .collect();
    files.sort();
    files
}

/// Files of a folder by name, those with a certain ending.
pub fn names_in(folder: &Path, ending: &str) -> Vec<String> {
    let list = std::fs::read_dir(folder).expect("the folder is there");
    let names = list.map(|entry| entry.expect("readable")).filter(|entry| entry.path().is_file());
    let mut names: Vec<String> = names.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.retain(|name| name.ends_with(ending));
    names.sort();
    names
}

pub fn broken() -> PathBuf {
    Path::new(env!("LOSTLINK_ROOT")).join("tests/broken")
}

pub const FLAT: &str = r#"title = "Flat"
[site]
lat_deg = 47.0
lon_deg = 9.0
height_amsl_m = 400
EXTRA
[craft]
mass_kg = 1.0   # kitchen scale
[path]
PATH
[[policy]]
name = "land"
[[policy.action]]
land = {}
"#;

pub fn flat(extra: &str, path: &str) -> String {
    FLAT.replace("EXTRA", extra).replace("PATH", path)
}

/// A map on which every height that the scenario may state is open: trees, storeys, a building, power lines.
pub const OPEN_HEIGHTS: &str = r#"<osm version="0.6">
<node id="1" lat="47.001" lon="ORIGIN.001"><tag k="natural" v="tree"/></node>
<node id="2" lat="47.002" lon="ORIGIN.001"/><node id="3" lat="47.002" lon="ORIGIN.0012"/><node id="4" lat="47.0022" lon="ORIGIN.0012"/>
<node id="5" lat="47.001" lon="ORIGIN.002"><tag k="power" v="tower"/></node>
<node id="6" lat="47.001" lon="ORIGIN.003"><tag k="power" v="pole"/></node>
<way id="7"><nd ref="2"/><nd ref="3"/><nd ref="4"/><nd ref="2"/><tag k="building" v="house"/><tag k="building:levels" v="2"/></way>
<way id="8"><nd ref="2"/><nd ref="3"/><nd ref="4"/><nd ref="2"/><tag k="building" v="shed"/></way>
</osm>"#;

pub fn memory(files: &[(&str, &str)]) -> scenario::MemoryFiles {
    scenario::MemoryFiles(files.iter().map(|(name, text)| ((*name).into(), text.as_bytes().to_vec())).collect())
}
