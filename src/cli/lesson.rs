//! `lesson`: a course of chapters with predictions, answered by simulations run on the spot.

use super::args::{Common, LessonArgs};
use super::diagnostics;
use super::out::{Failure, document};
use super::progress::Progress;
use crate::lesson::{self, Answered, Lesson};
use crate::report::folder::ReportFolder;
use crate::report::lesson::{Course, document as told};
use crate::scenario::{Diagnostic, Folder, text_of};
use std::io::IsTerminal;
use std::path::Path;

/// Title of the built-in course.
const COURSE: &str = "When the link goes";
/// For whom it is.
const FOR_WHOM: &str = "Remote pilots who have flown in sight and are about to fly farther, and those who teach them. Every place \
    and craft in it is invented.";

/// Runs it.
pub fn run(common: &Common, args: &LessonArgs) -> Result<(), Failure> {
    let lessons = if args.files.is_empty() {
        lesson::course()
            .map(|(name, text)| lesson::read(name, text, &lesson::course_files()).map_err(wrong))
            .into_iter()
            .collect()
    } else {
        args.files.iter().map(|path| read(path)).collect::<Result<Vec<Lesson>, Failure>>()
    }?;
    let (title, for_whom) = match lessons.as_slice() {
        [one] => (one.title.clone(), one.for_whom.clone()),
        _ if args.files.is_empty() => (COURSE.into(), FOR_WHOM.into()),
        _ => ("Lessons".into(), String::new()),
    };
    let folder = ReportFolder::begin(&args.out)?;
    let mut chapters: Vec<lesson::Chapter> = lessons.into_iter().flat_map(|lesson| lesson.chapters).collect();
    for chapter in &mut chapters {
        chapter.flights = args.run.flights.unwrap_or(chapter.flights);
        chapter.seed = args.run.seed.unwrap_or(chapter.seed);
    }
    let progress = Progress::new("chapters", chapters.len() as u64, common.ascii);
    let hear = progress.hear();
    let mut answered: Vec<Answered> = Vec::new();
    for chapter in chapters {
        answered.push(lesson::run(chapter).map_err(|error| Failure::Input(format!("lostlink: {error}\n")))?);
        hear(answered.len() as u64);
    }
    progress.finish();
    let course = Course { title, for_whom, chapters: &answered };
    folder.lesson(&course)?;
    let place = folder.finish()?;
    document(common, &told(&course), "", Some(&place.join("lesson.html")))
}

fn wrong(found: Vec<Diagnostic>) -> Failure {
    Failure::Input(diagnostics::render(&found, std::io::stderr().is_terminal()))
}

fn read(path: &Path) -> Result<Lesson, Failure> {
    let text = text_of(path).map_err(|why| {
        Failure::Input(format!("lostlink: {why}\n  accepted: a lesson file (TOML), see docs/lesson.md\n"))
    })?;
    let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
    lesson::read(&path.display().to_string(), &text, &Folder(folder)).map_err(wrong)
}
