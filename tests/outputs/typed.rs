//! The program as it is typed: run in a folder, what it says, what it leaves there.

use assert_cmd::Command;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Stdio;
use tempfile::TempDir;

/// A folder with a scenario `field.toml`.
pub fn field(scenario: &str) -> TempDir {
    let folder = tempfile::tempdir().expect("a folder for the test");
    std::fs::write(folder.path().join("field.toml"), scenario).expect("the scenario can be written");
    folder
}

/// The program to be started in a folder, whatever the terminal of the tests says about colours.
pub fn process(folder: &Path, arguments: &[&str]) -> std::process::Command {
    let mut process = std::process::Command::new(env!("CARGO_BIN_EXE_lostlink-under-test"));
    process.current_dir(folder).env_remove("NO_COLOR").args(arguments);
    process
}

/// The program at work in a folder; what it says is not heard.
pub fn at_work(folder: &Path, arguments: &[&str]) -> std::process::Child {
    process(folder, arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("runs")
}

/// The program to be run to its end.
pub fn lostlink(folder: &Path, arguments: &[&str]) -> Command {
    Command::from_std(process(folder, arguments))
}

/// Standard output and standard error of a run that ends well.
pub fn both(folder: &Path, arguments: &[&str]) -> (String, String) {
    let done = lostlink(folder, arguments).assert().code(0);
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("UTF-8");
    (text(&done.get_output().stdout), text(&done.get_output().stderr))
}

/// Standard output of a run that ends well.
pub fn output(folder: &Path, arguments: &[&str]) -> String {
    both(folder, arguments).0
}

/// Standard error of a run that ends with this code.
pub fn complaint(folder: &Path, arguments: &[&str], code: i32) -> String {
    let done = lostlink(folder, arguments).assert().code(code);
    String::from_utf8(done.get_output().stderr.clone()).expect("UTF-8")
}

/// Everything below a folder with its bytes; a link counts by where it points. An error where something goes while it is read.
pub fn seen(folder: &Path) -> std::io::Result<BTreeMap<String, Vec<u8>>> {
    fn gather(at: &Path, below: &str, found: &mut BTreeMap<String, Vec<u8>>) -> std::io::Result<()> {
        for entry in std::fs::read_dir(at)? {
            let path = entry?.path();
            let name = format!("{below}{}", path.file_name().expect("a name").to_string_lossy());
            let kind = path.symlink_metadata()?.file_type();
            if kind.is_symlink() {
                let to = std::fs::read_link(&path)?;
                found.insert(name, to.to_string_lossy().into_owned().into_bytes());
            } else if kind.is_dir() {
                found.insert(format!("{name}/"), Vec::new());
                gather(&path, &format!("{name}/"), found)?;
            } else {
                found.insert(name, std::fs::read(&path)?);
            }
        }
        Ok(())
    }
    let mut found = BTreeMap::new();
    gather(folder, "", &mut found)?;
    Ok(found)
}

/// Everything below a folder that nobody else writes to.
pub fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    seen(folder).unwrap_or_else(|why| panic!("{}: {why}", folder.display()))
}
