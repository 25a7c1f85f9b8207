//! Files on disk.

use crate::scenario::Files;
use std::path::PathBuf;

/// Files relative to a scenario's folder.
#[derive(Debug, Clone)]
pub struct Folder(pub PathBuf);

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        std::fs::read(self.0.join(name)).map_err(|cause| match cause.kind() {
            std::io::ErrorKind::NotFound => "there is no such file".into(),
            std::io::ErrorKind::PermissionDenied => "it may not be read".into(),
            _ => cause.to_string(),
        })
    }
}
