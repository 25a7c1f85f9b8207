//! Access to the files a scenario names.

use super::section::Section;
use crate::geodata::Bytes;
use sha2::{Digest, Sha256};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io::{self, Cursor, SeekFrom};

/// Gives the bytes of a file named in a scenario. The name is as written there: relative to the scenario's folder.
pub trait Files {
    /// The file's bytes.
    ///
    /// # Errors
    /// Why it cannot be read, in a few words.
    fn read(&self, name: &str) -> Result<Vec<u8>, String>;

    /// The file's bytes, to be read where they are asked for: of a large file only a part may be needed.
    ///
    /// # Errors
    /// Why it cannot be read, in a few words.
    fn open(&self, name: &str) -> Result<Box<dyn Bytes>, String> {
        Ok(Box::new(Cursor::new(self.read(name)?)))
    }
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

/// Gives files and hashes all that is read.
pub(super) struct Keeper<'f> {
    files: &'f dyn Files,
    hasher: RefCell<Sha256>,
}

impl Keeper<'_> {
    pub fn new(files: &dyn Files) -> Keeper<'_> {
        Keeper { files, hasher: RefCell::new(Sha256::new()) }
    }

    /// The same files, without counting what is read of them.
    pub fn aside(&self) -> Keeper<'_> {
        Keeper::new(self.files)
    }

    pub fn add(&self, bytes: &[u8]) {
        let mut hasher = self.hasher.borrow_mut();
        hasher.update((bytes.len() as u64).to_le_bytes());
        hasher.update(bytes);
    }

    pub fn hash(&self) -> String {
        self.hasher.borrow().clone().finalize().iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// The text of a file named by a key; its absence is a finding.
    pub fn text(&self, section: &Section, key: &'static str, name: &str) -> Option<String> {
        if section.sink.is_describing() {
            return None;
        }
        match self.files.read(name) {
            Ok(bytes) => {
                self.add(&bytes);
                let text = String::from_utf8(bytes).map(without_mark);
                if text.is_err() {
                    section.error(key, format!("the file \"{name}\" is not text"), "a text file in UTF-8");
                }
                text.ok()
            }
            Err(why) => unreadable(section, key, name, &why),
        }
    }

    /// A file named by a key, to be read where it is asked for; its absence is a finding. All of it counts for the hash.
    pub fn open(&self, section: &Section, key: &'static str, name: &str) -> Option<Box<dyn Bytes>> {
        if section.sink.is_describing() {
            return None;
        }
        let hashed = |mut bytes: Box<dyn Bytes>| {
            let length = bytes.seek(SeekFrom::End(0))?;
            bytes.seek(SeekFrom::Start(0))?;
            let mut hasher = self.hasher.borrow_mut();
            hasher.update(length.to_le_bytes());
            let mut part = vec![0; 1 << 16];
            loop {
                match bytes.read(&mut part)? {
                    0 => break,
                    count => hasher.update(&part[..count]),
                }
            }
            bytes.seek(SeekFrom::Start(0))?;
            Ok(bytes)
        };
        let bytes = self.files.open(name).and_then(|bytes| hashed(bytes).map_err(|cause: io::Error| cause.to_string()));
        bytes.map_or_else(|why| unreadable(section, key, name, &why), Some)
    }
}

fn unreadable<T>(section: &Section, key: &'static str, name: &str, why: &str) -> Option<T> {
    let accepted = "a file that is there, relative to the scenario's folder";
    section.error(key, format!("the file \"{name}\" cannot be read: {why}"), accepted);
    None
}

/// The text without the byte-order mark that some editors put before it.
pub(super) fn without_mark(mut text: String) -> String {
    if text.starts_with('\u{feff}') {
        text.drain(..'\u{feff}'.len_utf8());
    }
    text
}
