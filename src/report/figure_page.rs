//! The page of thumbnails: every figure that a scenario can give, with the name to type for it.

use super::document::Document;
use super::page::Fonts;
use super::plot::Figure;
use super::plot::canvas::inline;
use crate::risk::cautions::DEFERENCE;
use askama::Template;
use std::io::Write;

/// A figure on the page.
pub struct Thumbnail<'a> {
    /// What is typed for it.
    pub name: &'static str,
    /// What it shows.
    pub shows: &'static str,
    /// What it takes.
    pub needs: &'static str,
    /// As a slide.
    pub figure: &'a Figure,
}

/// What the page shows.
pub struct Thumbnails<'a> {
    /// Title of the scenario.
    pub title: &'a str,
    /// Whether place and craft are invented.
    pub invented: bool,
    /// The scenario file as typed.
    pub scenario: String,
    /// What to know of these thumbnails.
    pub note: &'a str,
    /// The figures.
    pub given: Vec<Thumbnail<'a>>,
    /// Names of those that the scenario cannot give, with the reason.
    pub missing: Vec<(&'a str, &'a str)>,
}

#[derive(Template)]
#[template(path = "figures.html")]
struct Page<'a> {
    fonts: Fonts,
    deference: &'static str,
    d: &'a Document,
    t: &'a Thumbnails<'a>,
    drawings: Vec<String>,
}

/// Writes the page.
///
/// # Errors
/// Those of the writer.
pub fn write(thumbnails: &Thumbnails, out: &mut dyn Write) -> std::io::Result<()> {
    let n = thumbnails.given.len();
    let document = Document {
        kind: "Figures",
        tab: "figures",
        title: thumbnails.title.into(),
        invented: thumbnails.invented,
        question: format!("{n} figures of this scenario, each for a slide, for paper or for a screen."),
        ..Document::default()
    };
    let drawings = thumbnails.given.iter().map(|one| inline(&one.figure.svg, one.figure.theme)).collect();
    Page { fonts: Fonts::embedded(), deference: DEFERENCE, d: &document, t: thumbnails, drawings }.write_into(out)
}
