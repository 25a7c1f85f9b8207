//! The printer for pages: one file each, works offline, light and dark, on paper and on a phone.

use super::document::{Block, Document, On, Paper, Part};
use super::gallery::{Gallery, Shown, Words};
use super::plot::canvas::inline;
use super::plot::theme::Theme;
use crate::risk::cautions::DEFERENCE;
use askama::Template;
use base64::Engine as _;
use std::io::Write;

/// A page's fonts, for embedding.
pub(super) struct Fonts {
    pub(super) regular: String,
    pub(super) bold: String,
}

impl Fonts {
    pub(super) fn embedded() -> Fonts {
        let encode = |bytes: &[u8]| base64::engine::general_purpose::STANDARD.encode(bytes);
        Fonts {
            regular: encode(include_bytes!("../../assets/fonts/Inter-Regular.woff2")),
            bold: encode(include_bytes!("../../assets/fonts/Inter-Bold.woff2")),
        }
    }
}

/// A part as the template prints it: words and tables of the document, figures of the gallery.
pub(super) enum Piece<'a> {
    Words(&'a Block),
    Figure(Drawn<'a>),
}

/// A figure with its drawings for a wide page, for paper where that is another, and for phones.
pub(super) struct Drawn<'a> {
    pub(super) about: &'a Words,
    pub(super) class: &'static str,
    pub(super) desk: String,
    pub(super) paper: String,
    pub(super) phone: String,
}

impl<'a> From<&'a Shown> for Drawn<'a> {
    fn from(shown: &'a Shown) -> Drawn<'a> {
        let inline = |svg: &str| inline(svg, Theme::Light);
        Drawn {
            about: &shown.about,
            class: if shown.middle.is_some() { "mid" } else { "full" },
            desk: inline(shown.middle.as_ref().unwrap_or(&shown.wide)),
            paper: shown.middle.as_ref().map_or(String::new(), |_| inline(&shown.wide)),
            phone: inline(shown.narrow.as_ref().unwrap_or(&shown.wide)),
        }
    }
}

/// A section with what a page prints of it.
pub(super) struct Printed<'a> {
    pub(super) id: &'static str,
    pub(super) name: &'static str,
    pub(super) heading: &'a str,
    paper: Paper,
    pub(super) pieces: Vec<Piece<'a>>,
}

/// Sections that share a sheet of paper.
struct Sheet<'a> {
    /// `sheet`: one sheet and no more; `annex`: as many as it needs; nothing: it goes on where it is.
    class: &'static str,
    sections: Vec<Printed<'a>>,
}

#[derive(Template)]
#[template(path = "page.html")]
struct Page<'a> {
    fonts: Fonts,
    deference: &'static str,
    d: &'a Document,
    /// The answer's first sentence, and what follows.
    answer: (&'a str, &'a str),
    lead: Vec<Piece<'a>>,
    beside: Option<Drawn<'a>>,
    /// Whether the answer has a sheet of its own.
    alone: bool,
    sheets: Vec<Sheet<'a>>,
    /// Names of the sections with their ids.
    contents: Vec<(&'static str, &'static str)>,
}

#[derive(Template)]
#[template(path = "sheet.html")]
struct Card<'a> {
    fonts: Fonts,
    deference: &'static str,
    d: &'a Document,
    lead: Vec<Piece<'a>>,
    /// Sections of the card, and those of the tests.
    card: Vec<Printed<'a>>,
    tests: Vec<Printed<'a>>,
}

fn pieces<'a>(parts: &'a [Part], gallery: &'a Gallery) -> Vec<Piece<'a>> {
    let mut pieces = Vec::new();
    for part in parts.iter().filter(|part| part.on != On::Terminal) {
        match &part.block {
            Block::Figures(name) => pieces.extend(gallery.named(name).map(|shown| Piece::Figure(shown.into()))),
            block => pieces.push(Piece::Words(block)),
        }
    }
    pieces
}

pub(super) fn sections<'a>(document: &'a Document, gallery: &'a Gallery) -> Vec<Printed<'a>> {
    let mut printed: Vec<Printed> = Vec::new();
    // A sheet begins with the first of its sections that has anything to print.
    let mut begins = Paper::Goes;
    for section in &document.sections {
        if section.paper != Paper::Goes {
            begins = section.paper;
        }
        let pieces = pieces(&section.parts, gallery);
        if !pieces.is_empty() {
            let paper = std::mem::take(&mut begins);
            printed.push(Printed { id: section.id, name: section.name, heading: &section.heading, paper, pieces });
        }
    }
    printed
}

/// The sections by the sheets of paper on which they stand.
fn sheets(sections: Vec<Printed<'_>>) -> Vec<Sheet<'_>> {
    let mut sheets: Vec<Sheet> = Vec::new();
    for section in sections {
        let class = match section.paper {
            Paper::Goes => "",
            Paper::Sheet => "sheet",
            Paper::Annex => "annex",
        };
        match sheets.last_mut() {
            Some(last) if class.is_empty() => last.sections.push(section),
            _ => sheets.push(Sheet { class, sections: vec![section] }),
        }
    }
    sheets
}

/// Prints a document with its figures.
///
/// # Errors
/// Those of the writer.
pub fn write(document: &Document, gallery: &Gallery, out: &mut dyn Write) -> std::io::Result<()> {
    let all = document.answer.as_str();
    let sections = sections(document, gallery);
    let contents = sections.iter().map(|section| (section.id, section.name)).collect();
    let page = Page {
        fonts: Fonts::embedded(),
        deference: DEFERENCE,
        d: document,
        answer: all.find(". ").map_or((all, ""), |at| (&all[..=at], &all[at + 2..])),
        lead: pieces(&document.lead, gallery),
        beside: document.beside.and_then(|name| gallery.named(name).next()).map(Drawn::from),
        alone: sections.iter().any(|section| section.paper != Paper::Goes),
        contents,
        sheets: sheets(sections),
    };
    page.write_into(out)
}

/// Prints the card for the field: the card on one sheet, the tests on the next.
///
/// # Errors
/// Those of the writer.
pub fn write_card(document: &Document, out: &mut dyn Write) -> std::io::Result<()> {
    let gallery = Gallery::default();
    let (tests, card) = sections(document, &gallery).into_iter().partition(|section| section.id.starts_with("test"));
    let lead = pieces(&document.lead, &gallery);
    let page = Card { fonts: Fonts::embedded(), deference: DEFERENCE, d: document, lead, card, tests };
    page.write_into(out)
}
