//! Access to the files a scenario names.

use super::section::Section;
use crate::geodata::{Bytes, text_of};
use sha2::{Digest, Sha256};
use std::any::Any;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Cursor, SeekFrom};
use std::sync::{Arc, Mutex, PoisonError};

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

/// Files held in memory, by name. Shared bytes (`Arc<[u8]>`) are not copied when a file is opened.
#[derive(Debug, Clone)]
pub struct MemoryFiles<B = Vec<u8>>(pub BTreeMap<String, B>);

/// None.
impl Default for MemoryFiles {
    fn default() -> MemoryFiles {
        MemoryFiles(BTreeMap::new())
    }
}

impl<B: AsRef<[u8]> + Clone + 'static> MemoryFiles<B> {
    fn bytes(&self, name: &str) -> Result<&B, String> {
        self.0.get(name).ok_or_else(|| "there is no such file".into())
    }
}

impl<B: AsRef<[u8]> + Clone + 'static> Files for MemoryFiles<B> {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        self.bytes(name).map(|bytes| bytes.as_ref().to_vec())
    }

    fn open(&self, name: &str) -> Result<Box<dyn Bytes>, String> {
        self.bytes(name).map(|bytes| Box::new(Cursor::new(bytes.clone())) as Box<dyn Bytes>)
    }
}

/// What was made of the same files before: a scenario is read once more for each of its conditions and for each state of its controls,
/// and a map or a terrain takes longer than all else.
#[derive(Default)]
pub struct Remembered {
    /// Fingerprints of files, by name.
    prints: Mutex<BTreeMap<String, [u8; 32]>>,
    /// What was made last stands last.
    made: Mutex<Vec<Made>>,
}

struct Made {
    key: String,
    value: Arc<dyn Any + Send + Sync>,
}

/// Most that is remembered: a site as it stands and as some conditions have it.
const REMEMBERED: usize = 8;

impl Remembered {
    fn print_of(&self, name: &str) -> Option<[u8; 32]> {
        self.prints.lock().unwrap_or_else(PoisonError::into_inner).get(name).copied()
    }

    fn note(&self, name: &str, print: [u8; 32]) {
        self.prints.lock().unwrap_or_else(PoisonError::into_inner).insert(name.into(), print);
    }

    fn find<T: Send + Sync + 'static>(&self, key: &str) -> Option<Arc<T>> {
        let mut made = self.made.lock().unwrap_or_else(PoisonError::into_inner);
        let index = made.iter().position(|one| one.key == key && one.value.is::<T>())?;
        let found = made.remove(index);
        let value = found.value.clone();
        made.push(found);
        value.downcast().ok()
    }

    fn keep(&self, key: String, value: Arc<dyn Any + Send + Sync>) {
        let mut made = self.made.lock().unwrap_or_else(PoisonError::into_inner);
        if made.len() == REMEMBERED {
            made.remove(0);
        }
        made.push(Made { key, value });
    }
}

/// Gives files and hashes all that is read.
pub(super) struct Keeper<'f> {
    files: &'f dyn Files,
    remembered: &'f Remembered,
    hasher: RefCell<Sha256>,
    /// Files that are in the hash.
    hashed: RefCell<BTreeSet<String>>,
}

impl<'f> Keeper<'f> {
    pub fn new(files: &'f dyn Files, remembered: &'f Remembered) -> Keeper<'f> {
        Keeper { files, remembered, hasher: RefCell::new(Sha256::new()), hashed: RefCell::default() }
    }

    pub fn add(&self, bytes: &[u8]) {
        let mut hasher = self.hasher.borrow_mut();
        hasher.update((bytes.len() as u64).to_le_bytes());
        hasher.update(bytes);
    }

    /// Adds a file by its fingerprint, once.
    fn count(&self, name: &str, print: [u8; 32]) {
        if self.hashed.borrow_mut().insert(name.into()) {
            self.add(&print);
        }
        self.remembered.note(name, print);
    }

    /// What was made under a key before, out of files that then count as read again. The key says all that it was made from.
    pub fn made<T: Send + Sync + 'static>(&self, key: &str, names: &[&str]) -> Option<Arc<T>> {
        let made = self.remembered.find(key)?;
        for name in names {
            self.count(name, self.remembered.print_of(name)?);
        }
        Some(made)
    }

    /// Remembers what was made.
    pub fn remember<T: Send + Sync + 'static>(&self, key: String, made: Arc<T>) {
        self.remembered.keep(key, made);
    }

    pub fn hash(&self) -> String {
        self.hasher.borrow().clone().finalize().iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// The text of a file named by a key; its absence is a finding.
    pub fn text(&self, section: &Section, key: &'static str, name: &str) -> Option<Arc<str>> {
        if section.sink.is_describing() {
            return None;
        }
        match self.files.read(name) {
            Ok(bytes) => {
                self.count(name, Sha256::digest(&bytes).into());
                let text = text_of(bytes);
                if text.is_err() {
                    section.error(key, format!("the file \"{name}\" is not text"), "a text file in UTF-8");
                }
                text.ok().map(Arc::from)
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
            if let Some(print) = self.remembered.print_of(name) {
                self.count(name, print);
                return Ok(bytes);
            }
            let mut hasher = Sha256::new();
            let mut part = vec![0; 1 << 16];
            loop {
                match bytes.read(&mut part)? {
                    0 => break,
                    count => hasher.update(&part[..count]),
                }
            }
            bytes.seek(SeekFrom::Start(0))?;
            self.count(name, hasher.finalize().into());
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
