//! The page of one lost link: its player, its story, its key moments, and each policy in detail.

use super::document::Document;
use super::gallery::Gallery;
use super::page::{Fonts, Piece, Printed, sections};
use super::plot::{self, Figure, Look, loss};
use super::words::number as n;
use super::{document, player, replay};
use crate::risk::cautions::DEFERENCE;
use crate::story::{Sentence, Told};
use askama::Template;
use document::{Block, On, Section};
use std::io::Write;

/// The figures of the page and of its folder.
pub fn gallery(told: &Told) -> Gallery {
    Gallery::new(|look| figures(told, look), vec![])
}

fn figures(told: &Told, look: Look) -> Vec<Figure> {
    let mut figures = vec![
        loss::plan(told, look).figure,
        loss::side(told, look).figure,
        loss::lines(told, look).figure,
        loss::moments(told, look),
    ];
    for (index, trace) in told.traces.iter().enumerate() {
        let story = format!("Flight {} under \"{}\"", trace.flight, loss::name_of(told, index));
        // One policy needs no number.
        let numbered = |name: &str| if told.traces.len() > 1 { format!("{name}-{}", index + 1) } else { name.into() };
        if index == 0 {
            figures.push(plot::budget("budget", &story, trace, look));
        }
        figures.push(plot::timeline(&numbered("timeline"), &story, trace, told.map.ceiling_m, look));
    }
    figures
}

/// A sentence with its time in words.
struct Said<'a> {
    number: usize,
    time_s: Option<f64>,
    when: String,
    text: &'a str,
}

struct Part<'a> {
    heading: String,
    words: String,
    start: usize,
    sentences: Vec<Said<'a>>,
}

impl<'a> Part<'a> {
    fn new(heading: String, words: String, sentences: &'a [Sentence]) -> Part<'a> {
        let said = |sentence: &'a Sentence| Said {
            number: sentence.number,
            time_s: sentence.time_s,
            when: sentence.time_s.map_or(String::new(), |time_s| format!("{} s", n(time_s, 1))),
            text: &sentence.text,
        };
        let start = sentences.first().map_or(1, |sentence| sentence.number);
        Part { heading, words, start, sentences: sentences.iter().map(said).collect() }
    }
}

#[derive(Template)]
#[template(path = "story.html")]
struct Page<'a> {
    fonts: Fonts,
    deference: &'static str,
    d: &'a Document,
    answer: (&'a str, &'a str),
    style: &'static str,
    player: String,
    parts: Vec<Part<'a>>,
    sections: Vec<Printed<'a>>,
    script: &'static str,
}

/// Writes the page.
///
/// # Errors
/// Those of the writer.
pub fn write(told: &Told, gallery: &Gallery, out: &mut dyn Write) -> std::io::Result<()> {
    let story = &told.story;
    let detail = Document {
        sections: vec![
            Section::new("moments", "Moments", "Key moments").with(On::Page, Block::Figures("loss-moments")),
            Section::new("margin", "Margin", "Where the margin of the link went")
                .with(On::Page, Block::Figures("budget")),
            Section::new("detail", "Detail", "Each policy in detail").with(On::Page, Block::Figures("timeline")),
        ],
        ..replay::document(story)
    };
    let mut parts = vec![Part::new("What all policies share".into(), String::new(), &story.shared)];
    for policy in &story.policies {
        let words = format!("The policy: {}.", policy.words);
        parts.push(Part::new(format!("Under \"{}\": {}", policy.name, policy.outcome), words, &policy.sentences));
    }
    if !story.compared.is_empty() {
        parts.push(Part::new("Side by side".into(), String::new(), &story.compared));
    }
    let all = story.answer.as_str();
    let page = Page {
        fonts: Fonts::embedded(),
        deference: DEFERENCE,
        d: &detail,
        answer: all.find(". ").map_or((all, ""), |at| (&all[..=at], &all[at + 2..])),
        style: player::STYLE,
        player: player::fragment(told, "loss")?,
        parts,
        sections: sections(&detail, gallery),
        script: player::SCRIPT,
    };
    page.write_into(out)
}
