//! Access to the files a scenario names.

use std::collections::BTreeMap;

/// Gives the bytes of a file named in a scenario. The name is as written there: relative to the scenario's folder.
pub trait Files {
    /// The file's bytes.
    ///
    /// # Errors
    /// Why it cannot be read, in a few words.
    fn read(&self, name: &str) -> Result<Vec<u8>, String>;
}

/// No files at all.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoFiles;

impl Files for NoFiles {
    fn read(&self, _name: &str) -> Result<Vec<u8>, String> {
        Err("no files are given".into())
    }
}

/// Files held in memory, by name.
#[derive(Debug, Clone, Default)]
pub struct MemoryFiles(pub BTreeMap<String, Vec<u8>>);

impl Files for MemoryFiles {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        self.0.get(name).cloned().ok_or_else(|| "there is no such file".into())
    }
}
