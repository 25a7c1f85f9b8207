//! What goes out: text or JSON on standard output, a report's place, and why a command did not do its work.

use super::args::{Colour, Common};
use crate::report::document::Document;
use crate::report::terminal::{self, Manner};
use std::fs;
use std::io::{self, IsTerminal, Write};
use std::path::Path;

/// Why a command did not do its work.
#[derive(Debug)]
pub enum Failure {
    /// The input is wrong; the text says where and what would be accepted.
    Input(String),
    /// Something else.
    Other(anyhow::Error),
}

impl<E: std::error::Error + Send + Sync + 'static> From<E> for Failure {
    fn from(error: E) -> Self {
        Failure::Other(error.into())
    }
}

/// An option whose value is out of its range; `what` says what is accepted.
pub fn bad(what: &str) -> Failure {
    Failure::Input(format!("lostlink: {what}\n"))
}

/// How to write on standard output.
fn manner(common: &Common) -> Manner {
    manner_of(common, io::stdout().is_terminal())
}

/// How to write on a stream.
fn manner_of(common: &Common, is_terminal: bool) -> Manner {
    let terminal = match common.color {
        Colour::Auto => is_terminal,
        Colour::Always => true,
        Colour::Never => false,
    };
    let no_color = std::env::var_os("NO_COLOR").filter(|_| common.color == Colour::Auto);
    Manner::of(terminal, no_color.as_deref(), common.ascii)
}

/// Writes to standard output.
pub fn print(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    let written = out.write_all(bytes).and_then(|()| out.flush());
    written.map_err(|error| Failure::Other(anyhow::Error::new(error).context("standard output")))
}

/// Writes a file beside its place, then puts it there: a run that is killed, or finds the disk full, leaves what was there. What is a
/// device or a pipe is written as it stands.
pub fn file(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let at = |path: &Path| {
        let path = path.display().to_string();
        move |error: io::Error| Failure::Other(anyhow::Error::new(error).context(path))
    };
    // A link stays, and what it leads to is replaced, or made where nothing is there yet.
    let led_to = || fs::read_link(path).ok().map(|to| path.parent().map_or(to.clone(), |folder| folder.join(&to)));
    let target = path.canonicalize().ok().or_else(led_to).unwrap_or_else(|| path.to_path_buf());
    let name = target.file_name().ok_or_else(|| bad(&format!("{}: accepted: the name of a file", path.display())))?;
    let there = target.metadata().ok();
    match &there {
        Some(about) if about.is_dir() => {
            return Err(bad(&format!("{}: it is a folder; accepted: the name of a file", path.display())));
        }
        Some(about) if !about.is_file() => return fs::write(&target, bytes).map_err(at(path)),
        // Its owner says that it stays.
        Some(about) if about.permissions().readonly() => return Err(at(path)(io::ErrorKind::PermissionDenied.into())),
        _ => {}
    }
    if let Some(folder) = target.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        fs::create_dir_all(folder).map_err(at(folder))?;
    }
    let beside = target.with_file_name(format!(".{}.writing-{}", name.to_string_lossy(), std::process::id()));
    // Whoever may read the old one may read the new one.
    let as_before = || there.map_or(Ok(()), |about| fs::set_permissions(&beside, about.permissions()));
    let put = fs::write(&beside, bytes).and_then(|()| as_before()).and_then(|()| fs::rename(&beside, &target));
    put.map_err(|error| {
        let _ = fs::remove_file(&beside);
        at(path)(error)
    })
}

/// A paragraph for standard error.
pub fn aside(common: &Common, text: &str) -> String {
    terminal::paragraph(text, manner_of(common, io::stderr().is_terminal()))
}

/// Prints a document, with a `note` and the place of its page where there is one.
pub fn document(common: &Common, document: &Document, note: &str, page: Option<&Path>) -> Result<(), Failure> {
    print(terminal::print(document, manner(common)).as_bytes())?;
    page.map_or(Ok(()), |place| self::page(note, place))
}

/// Tells where the page of a document lies, with a `note`.
pub fn page(note: &str, place: &Path) -> Result<(), Failure> {
    let mut text = "\n".to_string();
    if !note.is_empty() {
        text += &(terminal::wrap(note, terminal::COLUMNS).join("\n") + "\n");
    }
    text += &format!("Report: {}\n", place.display());
    print(text.as_bytes())
}

/// Prints data as JSON.
pub fn json<T: serde::Serialize>(value: &T) -> Result<(), Failure> {
    let mut bytes = Vec::new();
    crate::report::json::write(value, &mut bytes)?;
    print(&bytes)
}
