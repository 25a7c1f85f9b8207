//! Where findings, inputs and the documentation of keys gather while a file is read.

use super::diagnostic::{Diagnostic, Severity, line_of, span_of_line};
use super::kind::KeyDoc;
use super::meant::nearest_path;
use std::cell::RefCell;
use std::collections::HashSet;
use std::ops::Range;
use std::sync::Arc;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One input for the report's table.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct InputRow {
    /// Key path in the file.
    pub key: String,
    /// Value as written, or the default used.
    pub value: String,
    /// Line in the file, counted from 1; `None` for a default.
    pub line: Option<usize>,
    /// The comment on the key's line (where the value comes from), the default's source, or 'estimate'.
    pub note: String,
}

/// A key of a condition that replaces one of the file.
pub(crate) struct Override<'a> {
    pub key: String,
    pub key_span: Range<usize>,
    pub value: &'a Spanned<DeValue<'a>>,
    pub used: bool,
}

/// Where findings, inputs and key documentation gather.
pub(crate) struct Sink<'a> {
    pub name: String,
    pub text: Arc<str>,
    pub document: &'a DeTable<'a>,
    /// Where what is missing at the top is shown.
    pub start: Range<usize>,
    pub overrides: RefCell<Vec<Override<'a>>>,
    pub diagnostics: RefCell<Vec<Diagnostic>>,
    pub inputs: RefCell<Vec<InputRow>>,
    pub keys: RefCell<Vec<KeyDoc>>,
    /// Paths of those.
    pub documented: RefCell<HashSet<String>>,
    /// Only documentation is wanted: every table is visited as if it were there and empty.
    describing: bool,
}

impl<'a> Sink<'a> {
    pub fn new(name: &str, text: Arc<str>, document: &'a DeTable<'a>) -> Sink<'a> {
        Sink {
            name: name.into(),
            text,
            document,
            start: 0..0,
            overrides: RefCell::default(),
            diagnostics: RefCell::default(),
            inputs: RefCell::default(),
            keys: RefCell::default(),
            documented: RefCell::default(),
            describing: false,
        }
    }

    pub fn describing(document: &'a DeTable<'a>) -> Sink<'a> {
        Sink { describing: true, ..Sink::new("", "".into(), document) }
    }

    pub fn is_describing(&self) -> bool {
        self.describing
    }

    /// Replaces the value of a key path in what is read from now on.
    pub fn replace(&self, key: &str, key_span: Range<usize>, value: &'a Spanned<DeValue<'a>>) {
        self.overrides.borrow_mut().push(Override { key: key.into(), key_span, value, used: false });
    }

    /// Reports replaced keys that nothing asked for.
    pub fn report_unused(&self) {
        let overrides = self.overrides.borrow();
        for change in overrides.iter().filter(|change| !change.used) {
            let hint = nearest_path(&change.key, &self.keys.borrow());
            let accepted = "the path of a key, e.g. \"weather.wind_mps\"";
            let span = Some(change.key_span.clone());
            self.push(Severity::Error, span, &change.key, "no such key to change", accepted, hint);
        }
    }

    pub fn push(
        &self,
        severity: Severity,
        span: Option<Range<usize>>,
        key: &str,
        found: impl Into<String>,
        accepted: impl Into<String>,
        hint: Option<String>,
    ) {
        if self.describing {
            return;
        }
        self.diagnostics.borrow_mut().push(Diagnostic {
            severity,
            file: self.name.clone(),
            source: Some(self.text.clone()),
            line: span.as_ref().map(|span| line_of(&self.text, span.start)),
            span,
            key: key.into(),
            found: found.into(),
            accepted: accepted.into(),
            hint,
        });
    }

    /// How many errors were found so far.
    pub fn errors(&self) -> usize {
        self.diagnostics.borrow().iter().filter(|finding| finding.severity == Severity::Error).count()
    }

    /// A finding in another file.
    pub fn push_in(&self, file: &str, text: &Arc<str>, fault: FileFault) {
        self.diagnostics.borrow_mut().push(Diagnostic {
            severity: Severity::Error,
            file: file.into(),
            source: Some(text.clone()),
            span: fault.line.map(|line| span_of_line(text, line)),
            line: fault.line,
            key: fault.key,
            found: fault.found,
            accepted: fault.accepted,
            hint: None,
        });
    }

    /// A value in words; a short list or table as it is written.
    pub fn describe(&self, value: &Spanned<DeValue>) -> String {
        let written = self.text.get(value.span()).unwrap_or_default();
        match value.get_ref() {
            DeValue::Array(_) | DeValue::Table(_)
                if written.len() <= 40 && !written.contains('\n') && !written.is_empty() =>
            {
                format!("`{written}`")
            }
            other => describe(other),
        }
    }

    /// The comment behind a value on its last line.
    fn comment_after(&self, at: usize) -> String {
        let rest = self.text.get(at..).unwrap_or_default();
        let line = rest.lines().next().unwrap_or_default();
        let mut quote = None;
        for (index, letter) in line.char_indices() {
            match (quote, letter) {
                (None, '"' | '\'') => quote = Some(letter),
                (Some(open), close) if open == close => quote = None,
                (None, '#') => return line[index + 1..].trim().into(),
                _ => {}
            }
        }
        String::new()
    }

    /// Lists an input: as the file states it, or its default.
    pub fn record(&self, key: String, span: Option<Range<usize>>, default: &str, source: &str) {
        let row = match span {
            Some(span) => InputRow {
                key,
                value: shortened(self.text.get(span.clone()).unwrap_or_default()),
                line: Some(line_of(&self.text, span.start)),
                note: self.comment_after(span.end),
            },
            None => InputRow { key, value: default.into(), line: None, note: source.into() },
        };
        self.inputs.borrow_mut().push(row);
    }
}

/// A fault in a named file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct FileFault {
    pub line: Option<usize>,
    pub key: String,
    pub found: String,
    pub accepted: String,
}

/// One line of at most 80 characters.
pub(super) fn shortened(text: &str) -> String {
    let as_shown = |letter: char| if is_hidden(letter) { letter.escape_unicode().to_string() } else { letter.into() };
    let shown: String = text.chars().map(as_shown).collect();
    let flat = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    if flat.chars().count() <= 80 { flat } else { flat.chars().take(77).chain("...".chars()).collect() }
}

/// What a text may hold.
pub(super) const SHOWN: &str =
    "a text of characters that are shown: no control characters, none that turn the direction of writing";

/// Whether a character moves a cursor, turns the direction of writing or is not shown at all: with it a page or a terminal could show
/// something else than what stands there. Lines may end.
fn is_hidden(letter: char) -> bool {
    let turns = matches!(letter, '\u{061c}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}');
    turns || (letter.is_control() && !matches!(letter, '\n' | '\r' | '\t'))
}

/// What is wrong with a text that holds such a character.
pub(super) fn hidden(text: &str) -> Option<String> {
    let letter = text.chars().find(|letter| is_hidden(*letter))?;
    Some(format!("a text with the character U+{:04X}, which is not shown", u32::from(letter)))
}

/// A value in words.
pub(super) fn describe(value: &DeValue) -> String {
    match value {
        DeValue::String(text) => format!("the text \"{}\"", shortened(text)),
        DeValue::Integer(number) => format!("the number {number}"),
        DeValue::Float(number) => format!("the number {number}"),
        DeValue::Boolean(flag) => format!("`{flag}`"),
        DeValue::Datetime(_) => "a date or time".into(),
        DeValue::Array(list) if list.len() == 1 => "a list of one".into(),
        DeValue::Array(list) => format!("a list of {}", list.len()),
        DeValue::Table(_) => "a table".into(),
    }
}
