//! A walk through XML that counts lines, follows no entity and goes no deeper than a stated depth.

use super::feature::{Fault, shortened, too_large};
use quick_xml::events::attributes::Attribute;
use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};

/// Elements within elements up to this: formats read here have about ten. Estimate.
const DEPTH_AT_MOST: usize = 64;

/// What comes next.
pub(super) enum Node<'t> {
    /// An element begins; one that is empty ends at once.
    Open(BytesStart<'t>),
    /// Text, or a part of it.
    Text(String),
    /// An element ends.
    Close(String),
    /// The end of the text.
    End,
}

/// A text being walked through.
pub(super) struct Xml<'t> {
    text: &'t str,
    reader: Reader<&'t [u8]>,
    /// What would be accepted.
    format: &'static str,
    /// Bytes up to which ends of lines are counted: from the start for every element it takes a time that grows with its square.
    counted: usize,
    line: usize,
    depth: usize,
}

impl<'t> Xml<'t> {
    pub(super) fn new(text: &'t str, format: &'static str) -> Result<Xml<'t>, Fault> {
        if let Some(fault) = too_large(text) {
            return Err(fault);
        }
        let mut reader = Reader::from_str(text);
        reader.config_mut().expand_empty_elements = true;
        Ok(Xml { text, reader, format, counted: 0, line: 1, depth: 0 })
    }

    /// Line on which what was read last begins, counted from 1.
    pub(super) fn line(&self) -> usize {
        self.line
    }

    /// A fault on that line.
    pub(super) fn fault(&self, found: impl Into<String>, accepted: impl Into<String>) -> Fault {
        Fault::at(self.line, "", found, accepted)
    }

    fn count_to(&mut self, at: usize) {
        let part = self.text.as_bytes().get(self.counted..at).unwrap_or_default();
        self.line += part.iter().filter(|byte| **byte == b'\n').count();
        self.counted = self.counted.max(at);
    }

    pub(super) fn next(&mut self) -> Result<Node<'t>, Fault> {
        loop {
            let start = usize::try_from(self.reader.buffer_position()).unwrap_or(usize::MAX);
            let event = match self.reader.read_event() {
                Ok(event) => event,
                Err(cause) => {
                    self.count_to(usize::try_from(self.reader.error_position()).unwrap_or(start));
                    return Err(self.fault(cause.to_string(), self.format));
                }
            };
            self.count_to(start);
            match event {
                Event::Start(tag) => {
                    self.depth += 1;
                    if self.depth > DEPTH_AT_MOST {
                        let found = format!("elements within each other more than {DEPTH_AT_MOST} deep");
                        return Err(self.fault(found, self.format));
                    }
                    return Ok(Node::Open(tag));
                }
                Event::End(tag) => {
                    self.depth = self.depth.saturating_sub(1);
                    return Ok(Node::Close(tag.local_name().as_ref().to_string()));
                }
                Event::Text(part) => return Ok(Node::Text(part.xml10_content().into_owned())),
                Event::CData(part) => return Ok(Node::Text(part.xml10_content().into_owned())),
                Event::GeneralRef(reference) => {
                    let letter = match reference.resolve_char_ref() {
                        Ok(Some(letter)) => Some(letter),
                        _ => predefined(&reference),
                    };
                    let Some(letter) = letter else {
                        let found = format!("the entity &{};, which is not followed", shortened(&reference));
                        return Err(self.fault(found, "text without entities of its own"));
                    };
                    return Ok(Node::Text(letter.into()));
                }
                Event::Eof if self.depth > 0 => {
                    self.count_to(self.text.len());
                    return Err(self.fault("an end before all elements are closed", self.format));
                }
                Event::Eof => return Ok(Node::End),
                _ => {}
            }
        }
    }

    /// The values of attributes by their local names, in one pass; the first of each name counts.
    pub(super) fn attributes<const N: usize>(
        &self,
        tag: &BytesStart,
        names: [&str; N],
    ) -> Result<[Option<String>; N], Fault> {
        let mut found = [const { None }; N];
        for attribute in tag.attributes().with_checks(false) {
            let attribute: Attribute =
                attribute.map_err(|cause| self.fault(format!("an attribute that is none: {cause}"), self.format))?;
            let name = attribute.key.local_name();
            let Some(slot) = names.iter().position(|known| *known == name.as_ref()) else { continue };
            if found[slot].is_none() {
                let value = attribute.normalized_value(XmlVersion::Implicit1_0);
                let value = value.map_err(|cause| self.fault(cause.to_string(), "text without entities of its own"))?;
                found[slot] = Some(value.into_owned());
            }
        }
        Ok(found)
    }
}

fn predefined(name: &str) -> Option<char> {
    Some(match name {
        "lt" => '<',
        "gt" => '>',
        "amp" => '&',
        "apos" => '\'',
        "quot" => '"',
        _ => return None,
    })
}
