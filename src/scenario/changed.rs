//! Scenarios within another file: written out there as a table, or in a file of their own that it names; each with keys changed
//! there. What is wrong is told at its place, whichever file that is in.

use super::diagnostic::{Diagnostic, Severity, line_of};
use super::files::{Files, Keeper, Remembered};
use super::read::{FIXED, read_scenario, settled};
use super::section::{Change, Section};
use super::sink::Sink;
use super::types::Scenario;
use crate::geodata::{Bytes, text_of};
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;
use toml::de::DeTable;

/// The file in which scenarios stand, or are named: it is read, then `read` is called with its top table.
///
/// # Errors
/// Every error found, and the warnings with them, in the order of their places.
pub(crate) fn read_host<T>(name: &str, text: &str, read: impl FnOnce(&Section) -> T) -> Result<T, Vec<Diagnostic>> {
    let (document, faults) = DeTable::parse_recoverable(text);
    let sink = Sink::new(name, text.into(), document.get_ref());
    let made = read(&Section::root(&sink));
    let found = settled(&sink, &faults);
    if found.iter().any(|finding| finding.severity == Severity::Error) { Err(found) } else { Ok(made) }
}

/// What a variation changes: its name, its place, its keys.
pub(crate) struct Changes<'a> {
    /// Its name.
    pub name: String,
    /// Its place in the file that states it.
    pub span: Range<usize>,
    /// The keys with their new values.
    pub keys: Vec<Change<'a>>,
}

/// A scenario and its variations, from one of two places.
pub(crate) enum Written<'a> {
    /// A table of the file that states the variations.
    Here(&'a DeTable<'a>, Range<usize>),
    /// Another file, by its name, and where it is named.
    Elsewhere(String, Range<usize>),
}

/// Reads a scenario once per variation. Findings go to the sink of the file that states the variations.
pub(crate) fn read_variations(
    host: &Sink,
    key: &str,
    written: &Written,
    files: &dyn Files,
    variations: &[Changes],
) -> Vec<Scenario> {
    match written {
        Written::Here(table, span) => {
            let at = Text { name: &host.name, text: host.text.clone(), table, start: span.start..span.start };
            let read = all(&at, files, variations);
            host.diagnostics.borrow_mut().extend(read.findings);
            read.scenarios
        }
        Written::Elsewhere(name, span) => {
            let refuse = |found: String| {
                let accepted = "the name of a scenario file, relative to this file's folder";
                host.push(Severity::Error, Some(span.clone()), key, found, accepted, None);
                Vec::new()
            };
            let bytes = match files.read(name) {
                Ok(bytes) => bytes,
                Err(why) => return refuse(format!("\"{name}\": {why}")),
            };
            let Ok(text) = text_of(bytes) else { return refuse(format!("\"{name}\": not UTF-8 text")) };
            // The scenario's text behind as much blank as the other file is long: then every place, in whichever file, is one number.
            let shift = host.text.len() + 1;
            let padded = " ".repeat(shift) + &text;
            let (document, faults) = DeTable::parse_recoverable(&padded);
            let both: Arc<str> = format!("{}\n{text}", host.text).into();
            let at = Text { name: &host.name, text: both.clone(), table: document.get_ref(), start: shift..shift };
            let folder = Path::new(name).parent().map(|folder| folder.to_string_lossy().into_owned());
            let beside = Beside { files, folder: folder.unwrap_or_default() };
            let read = all(&at, &beside, variations);
            let gathered = Sink::new(&host.name, both, document.get_ref());
            gathered.diagnostics.borrow_mut().extend(read.findings);
            let theirs: Arc<str> = text.into();
            let found =
                settled(&gathered, &faults).into_iter().map(|finding| placed(finding, host, name, &theirs, shift));
            host.diagnostics.borrow_mut().extend(found);
            read.scenarios
        }
    }
}

/// A finding in the text of both files, put into the one that it is about.
fn placed(finding: Diagnostic, host: &Sink, name: &str, theirs: &Arc<str>, shift: usize) -> Diagnostic {
    match &finding.span {
        Some(span) if finding.file == host.name && span.start >= shift => {
            let span = span.start - shift..span.end.max(span.start) - shift;
            let line = Some(line_of(theirs, span.start));
            Diagnostic { file: name.into(), source: Some(theirs.clone()), line, span: Some(span), ..finding }
        }
        Some(span) if finding.file == host.name => {
            let line = Some(line_of(&host.text, span.start));
            Diagnostic { source: Some(host.text.clone()), line, ..finding }
        }
        _ => finding,
    }
}

/// Files named in a file that lies in another folder.
struct Beside<'f> {
    files: &'f dyn Files,
    folder: String,
}

impl Files for Beside<'_> {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        self.files.read(&Path::new(&self.folder).join(name).to_string_lossy())
    }

    fn open(&self, name: &str) -> Result<Box<dyn Bytes>, String> {
        self.files.open(&Path::new(&self.folder).join(name).to_string_lossy())
    }
}

/// The text in which a scenario stands.
struct Text<'t, 'a> {
    name: &'t str,
    text: Arc<str>,
    table: &'a DeTable<'a>,
    start: Range<usize>,
}

struct Variations {
    scenarios: Vec<Scenario>,
    findings: Vec<Diagnostic>,
}

/// The scenario as it stands, for its findings, then every variation, for what it adds to them.
fn all(at: &Text, files: &dyn Files, variations: &[Changes]) -> Variations {
    let remembered = Remembered::default();
    let keep = || Keeper::new(files, &remembered);
    let mut findings: Vec<Diagnostic> = one(at, &keep(), &[]).1;
    let mut scenarios = Vec::new();
    for variation in variations {
        let (scenario, found) = one(at, &keep(), &variation.keys);
        let fresh: Vec<Diagnostic> = found.into_iter().filter(|finding| !findings.contains(finding)).collect();
        findings.extend(fresh.into_iter().map(|mut finding| {
            if finding.span.as_ref().is_none_or(|span| !variation.span.contains(&span.start)) {
                finding.found = format!("{} (under \"{}\")", finding.found, variation.name);
            }
            finding
        }));
        scenarios.push(scenario);
    }
    Variations { scenarios, findings }
}

fn one<'a>(at: &Text<'_, 'a>, keep: &Keeper, changes: &[Change<'a>]) -> (Scenario, Vec<Diagnostic>) {
    let mut sink = Sink::new(at.name, at.text.clone(), at.table);
    sink.start = at.start.clone();
    for (key, span, value) in changes {
        let first = key.split(['.', '[']).next().unwrap_or_default();
        if FIXED.contains(&first) && first != "judge" {
            let accepted = "a key of the place, air, craft, radio, sky, path, pilot, loss, policies or judge";
            let span = Some(span.clone());
            sink.push(Severity::Error, span, key, "a key that cannot be changed here", accepted, None);
        } else {
            sink.replace(key, span.clone(), value);
        }
    }
    let scenario = read_scenario(&sink, keep, true);
    sink.report_unused();
    (scenario, sink.diagnostics.take())
}
