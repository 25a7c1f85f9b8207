//! `page`: the page of a report again, from its data.

use super::args::PageArgs;
use super::out::{Failure, file, print};
use crate::report::gallery::Gallery;
use crate::report::{assess, page};
use crate::risk::summary::{SUMMARY_FORMAT, SUMMARY_VERSION, Summary};
use crate::scenario::bytes_of;
use std::path::Path;

/// Runs it.
pub fn run(args: &PageArgs) -> Result<(), Failure> {
    let summary = read(&args.summary)?;
    let beside = args.summary.parent().unwrap_or(Path::new(""));
    let accepted = "accepted: a summary.json with the folder figures/ beside it, as assess writes them";
    let gallery =
        Gallery::read(beside).map_err(|error| Failure::Input(format!("lostlink: {error}\n  {accepted}\n")))?;
    let mut bytes = Vec::new();
    page::write(&assess::document(&summary), &gallery, &mut bytes)?;
    match &args.out {
        None => print(&bytes),
        Some(out) => file(out, &bytes),
    }
}

/// Reads a summary; what is wrong with it is told with its file and place.
fn read(path: &Path) -> Result<Summary, Failure> {
    let wrong = |place: String, found: String, accepted: String| {
        Failure::Input(format!("lostlink: {}{place}: {found}\n  accepted: {accepted}\n", path.display()))
    };
    let usual = || "the summary.json of a report, as assess writes it".to_string();
    let bytes = bytes_of(path).map_err(|error| wrong(String::new(), error.to_string(), usual()))?;
    let text = String::from_utf8(bytes).map_err(|_| wrong(String::new(), "not UTF-8 text".into(), usual()))?;
    #[derive(serde::Deserialize)]
    struct Form {
        format: Option<String>,
        version: Option<u64>,
        program_version: Option<String>,
    }
    let at = |error: &serde_json::Error| format!(":{}:{}", error.line(), error.column());
    // The version first: what another one holds this program cannot judge.
    let form: Form =
        serde_json::from_str(&text).map_err(|error| wrong(at(&error), format!("not a summary: {error}"), usual()))?;
    if form.format.as_deref() != Some(SUMMARY_FORMAT) {
        let found = match form.format {
            Some(format) => format!("`format` is \"{format}\""),
            None => "no `format` in it".into(),
        };
        return Err(wrong(String::new(), found, format!("\"{SUMMARY_FORMAT}\": {}", usual())));
    }
    match form.version {
        Some(version) if version == u64::from(SUMMARY_VERSION) => {}
        None => return Err(wrong(String::new(), "no `version` in it".into(), usual())),
        Some(version) => {
            let line = text.lines().position(|line| line.contains("\"version\"")).map_or(1, |k| k + 1);
            let by = form.program_version.map_or(String::new(), |by| format!(" (written by lostlink {by})"));
            let accepted = format!("version {SUMMARY_VERSION}; assess the scenario again");
            return Err(wrong(format!(":{line}"), format!("summary version {version}{by}"), accepted));
        }
    }
    serde_json::from_str(&text).map_err(|error| wrong(at(&error), format!("not a whole summary: {error}"), usual()))
}
