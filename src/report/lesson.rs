//! A lesson as one page, and its figures as slides.

use super::document::{Document, On, Section, Table};
use super::files::ReportError;
use super::folder::ReportFolder;
use super::gallery::{Gallery, GalleryError};
use super::json;
use super::page::{Drawn, Fonts};
use super::player;
use super::plot::{Figure, lesson as plot};
use super::words;
use crate::lesson::{Answered, Measure, Value};
use crate::risk::cautions::{self, DEFERENCE};
use crate::risk::summary::Share;
use askama::Template;
use rayon::prelude::*;
use serde::Serialize;
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

/// What `lesson.json` holds: the numbers of every chapter, as flown.
#[derive(Debug, Serialize)]
pub struct LessonFile<'a> {
    /// Program version.
    pub program_version: &'static str,
    /// Title of the lesson.
    pub title: &'a str,
    /// For whom it is.
    pub for_whom: &'a str,
    /// Whether every place and craft is invented.
    pub invented: bool,
    /// The chapters in order.
    pub chapters: Vec<ChapterFile<'a>>,
}

/// One chapter of [`LessonFile`].
#[derive(Debug, Serialize)]
pub struct ChapterFile<'a> {
    /// Title.
    pub title: &'a str,
    /// Flights of each variant.
    pub flights: u32,
    /// Their seed.
    pub seed: u64,
    /// What is asked.
    pub question: &'a str,
    /// The right prediction.
    pub answer: &'a str,
    /// Number of the flight shown; `None`: none is.
    pub flight_shown: Option<u32>,
    /// The variants in order.
    pub variants: Vec<VariantFile<'a>>,
}

/// One variant of a chapter.
#[derive(Debug, Serialize)]
pub struct VariantFile<'a> {
    /// Its name in quotes.
    pub id: &'a str,
    /// Its name on the page.
    pub name: &'a str,
    /// Hash of its scenario.
    pub scenario_hash: &'a str,
    /// Links lost.
    pub lost: u32,
    /// What was measured, in order.
    pub measures: Vec<MeasureFile<'a>>,
}

/// One number.
#[derive(Debug, Serialize)]
pub struct MeasureFile<'a> {
    /// Its name in quotes.
    pub id: &'a str,
    /// What it is.
    pub words: &'a str,
    /// The number, or the share of all.
    pub value: f64,
    /// Its unit; empty for a share.
    pub unit: &'static str,
    /// For a share: how many of how many, with the bounds of its 95 % interval.
    pub share: Option<Share>,
}

impl<'a> LessonFile<'a> {
    /// From a lesson with its answers.
    pub fn new(course: &'a Course) -> LessonFile<'a> {
        LessonFile {
            program_version: env!("CARGO_PKG_VERSION"),
            title: &course.title,
            for_whom: &course.for_whom,
            invented: invented(course),
            chapters: course.chapters.iter().map(ChapterFile::new).collect(),
        }
    }
}

impl<'a> ChapterFile<'a> {
    fn new(answered: &'a Answered) -> ChapterFile<'a> {
        let chapter = &answered.chapter;
        let measured = |values: &[Value]| {
            let pairs = chapter.measures.iter().zip(values.to_vec());
            let one = |(measure, value): (&'a Measure, Value)| {
                let (value, unit, share) = match value {
                    Value::Share(share) => (share.estimate(), "", Some(share)),
                    Value::Number(value, unit) => (value, unit, None),
                };
                MeasureFile { id: &measure.id, words: &measure.words, value, unit, share }
            };
            pairs.map(one).collect()
        };
        let variants = chapter.variants.iter().zip(&answered.values).zip(&answered.lost);
        ChapterFile {
            title: &chapter.title,
            flights: chapter.flights,
            seed: chapter.seed,
            question: &answered.question,
            answer: answered.predictions.iter().find(|prediction| prediction.right).map_or("", |right| &right.words),
            flight_shown: answered.shown.as_ref().map(|shown| shown.flight),
            variants: variants
                .map(|((variant, values), &lost)| VariantFile {
                    id: &variant.id,
                    name: &variant.name,
                    scenario_hash: &variant.scenario.hash,
                    lost,
                    measures: measured(values),
                })
                .collect(),
        }
    }
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
    /// Writes a lesson: its page, its numbers, and every figure as a slide.
    ///
    /// # Errors
    /// When a file cannot be written or a figure cannot be drawn.
    pub fn lesson(&self, course: &Course) -> Result<(), ReportError> {
        let mut bytes = Vec::new();
        write(course, &mut bytes)?;
        self.write("lesson.html", &bytes)?;
        self.json("lesson.json", &json::LESSON.of(&LessonFile::new(course)))?;
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
