//! A lesson as one page, and its figures as slides.

use super::document::{Document, On, Section, Table};
use super::files::ReportError;
use super::folder::ReportFolder;
use super::gallery::{Gallery, GalleryError};
use super::page::{Drawn, Fonts};
use super::player;
use super::plot::{Figure, lesson as plot};
use super::words;
use crate::lesson::{Answered, Value};
use crate::risk::cautions::{self, DEFERENCE};
use askama::Template;
use rayon::prelude::*;
use std::io::Write;

const SCRIPT: &str = include_str!("../../assets/lesson.js");

/// Picture points to a px of a slide: 1,920 across.
const SLIDE_SCALE: f32 = 1.5;

/// A lesson ready to be printed.
pub struct Course<'a> {
    /// Its title.
    pub title: String,
    /// For whom it is.
    pub for_whom: String,
    /// Its chapters with their answers.
    pub chapters: &'a [Answered],
}

struct Printed<'a> {
    number: usize,
    chapter: &'a Answered,
    /// What the answer is: the words of the right prediction.
    right: &'a str,
    table: Table,
    figures: Vec<Drawn<'a>>,
    /// The player of the flight shown, where there is one.
    player: String,
}

#[derive(Template)]
#[template(path = "lesson.html")]
struct Page<'a> {
    fonts: Fonts,
    deference: &'static str,
    d: &'a Document,
    for_whom: &'a str,
    version: &'static str,
    chapters: Vec<Printed<'a>>,
    style: &'static str,
    scripts: [&'static str; 2],
}

fn cell(value: &Value) -> String {
    match value {
        Value::Share(share) => {
            format!("{} ({} of 1,000)", value.in_words(), words::interval(share))
        }
        Value::Number(..) => value.in_words(),
    }
}

/// The numbers of a chapter, a row per variant.
fn table(chapter: &Answered) -> Table {
    let measures = &chapter.chapter.measures;
    let heads: Vec<String> = measures.iter().map(|measure| format!("#{}", measure.words)).collect();
    let mut columns = vec!["", "#lost links"];
    columns.extend(heads.iter().map(String::as_str));
    let flights = words::count(u64::from(chapter.chapter.flights));
    let caption = format!("{flights} flights each, seed {}. In brackets: the 95 % interval.", chapter.chapter.seed);
    let rows = chapter.values.iter().enumerate().map(|(index, values)| {
        let mut row = vec![chapter.chapter.variants[index].name.clone(), words::count(u64::from(chapter.lost[index]))];
        row.extend(values.iter().map(cell));
        row
    });
    let mut table = Table::new(caption, &columns).label("The numbers").rows(rows);
    table.head[0].words = "variant".into();
    table
}

fn gallery(chapter: &Answered, number: usize) -> Gallery {
    let draw = |look| {
        let mut figures = vec![plot::numbers(chapter, &format!("numbers-{number}"), look)];
        figures.extend(
            chapter.shown.as_ref().map(|shown| plot::flight(chapter, shown, &format!("flight-{number}"), look)),
        );
        figures
    };
    Gallery::new(draw, vec![])
}

/// The chapters as text: question, what was found, why.
pub fn document(course: &Course) -> Document {
    let section = |chapter: &Answered| {
        let right = chapter.predictions.iter().find(|prediction| prediction.right);
        let answer = right.map_or(String::new(), |prediction| format!("Answer: {}.", prediction.words));
        Section::new("chapter", "Chapter", chapter.chapter.title.clone())
            .line(chapter.question.clone())
            .line(answer)
            .with(On::Both, table(chapter).block())
            .line(chapter.why.clone())
            .line(chapter.field.clone())
    };
    let n = course.chapters.len();
    Document {
        kind: "Lesson",
        tab: "lesson",
        title: course.title.clone(),
        invented: invented(course),
        question: course.for_whom.clone(),
        answer: format!("{n} chapter{}, each answered by simulation.", if n == 1 { "" } else { "s" }),
        sections: course.chapters.iter().map(section).collect(),
        cautions: cautions::of_lesson(),
        ..Document::default()
    }
}

fn invented(course: &Course) -> bool {
    course.chapters.iter().flat_map(|chapter| &chapter.chapter.variants).all(|variant| variant.scenario.invented)
}

fn played(chapter: &Answered, number: usize) -> String {
    let told = chapter.shown.as_ref().and_then(|shown| shown.told.as_ref());
    // Writing into memory does not fail.
    told.and_then(|told| player::fragment(told, &format!("loss-{number}")).ok()).unwrap_or_default()
}

/// Writes the page.
///
/// # Errors
/// Those of the writer.
pub fn write(course: &Course, out: &mut dyn Write) -> std::io::Result<()> {
    let galleries: Vec<Gallery> =
        course.chapters.par_iter().enumerate().map(|(index, chapter)| gallery(chapter, index + 1)).collect();
    let chapters = course.chapters.iter().zip(&galleries).enumerate().map(|(index, (chapter, gallery))| {
        let right = chapter.predictions.iter().find(|prediction| prediction.right);
        Printed {
            number: index + 1,
            chapter,
            right: right.map_or("", |prediction| prediction.words.as_str()),
            table: table(chapter),
            player: played(chapter, index + 1),
            figures: ["numbers", "flight"].iter().flat_map(|name| gallery.named(name)).map(Drawn::from).collect(),
        }
    });
    let document = Document {
        kind: "Lesson",
        tab: "lesson",
        title: course.title.clone(),
        invented: invented(course),
        question: "Predict first, then look at what the simulation found.".into(),
        cautions: cautions::of_lesson(),
        ..Document::default()
    };
    let page = Page {
        fonts: Fonts::embedded(),
        deference: DEFERENCE,
        d: &document,
        for_whom: &course.for_whom,
        version: env!("CARGO_PKG_VERSION"),
        chapters: chapters.collect(),
        style: player::STYLE,
        scripts: [SCRIPT, player::SCRIPT],
    };
    page.write_into(out)
}

/// The slides of the chapter of that number, with the stems of their files.
pub fn slides(chapter: &Answered, number: usize) -> Vec<(String, Figure)> {
    let stem = |what: &str| format!("{number:02}-{what}");
    let mut all = vec![(stem("numbers"), plot::numbers_slide(chapter, &stem("numbers")))];
    all.extend(
        chapter.shown.as_ref().map(|shown| (stem("flight"), plot::flight_slide(chapter, shown, &stem("flight")))),
    );
    all
}

impl ReportFolder {
    /// Writes a lesson: its page, and every figure as a slide.
    ///
    /// # Errors
    /// When a file cannot be written or a figure cannot be drawn.
    pub fn lesson(&self, course: &Course) -> Result<(), ReportError> {
        let mut bytes = Vec::new();
        write(course, &mut bytes)?;
        self.write("lesson.html", &bytes)?;
        let all: Vec<(String, Figure)> =
            course.chapters.iter().enumerate().flat_map(|(index, chapter)| slides(chapter, index + 1)).collect();
        let pictures: Vec<_> = all.par_iter().map(|(_, figure)| figure.png(SLIDE_SCALE)).collect();
        for ((stem, figure), picture) in all.iter().zip(pictures) {
            self.write(&format!("slides/{stem}.svg"), figure.svg.as_bytes())?;
            self.write(
                &format!("slides/{stem}.png"),
                &picture.map_err(|error| GalleryError::Picture(stem.clone(), error))?,
            )?;
        }
        Ok(())
    }
}
