//! `new`: a commented scenario to start from, in a file.

use super::args::{NewArgs, TemplateArg};
use super::out::{self, Failure, bad, print};
use super::starter::Starter;
use super::{own, schema};
use crate::report::terminal::{COLUMNS, wrap};
use crate::scenario::schema_text;
use clap::ValueEnum;
use std::io::{self, BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Runs it.
pub fn run(args: &NewArgs) -> Result<(), Failure> {
    let asks =
        args.template.is_none() && args.path.is_none() && io::stdin().is_terminal() && io::stderr().is_terminal();
    let (mut starter, file) = if asks {
        let answers = ask(args, &mut io::stdin().lock(), &mut io::stderr().lock())?;
        let Some(Answers { template, numbers, file }) = answers else {
            return print(b"Nothing is written.\n");
        };
        let mut starter = Starter::of(template);
        for (question, value) in QUESTIONS.iter().zip(numbers).filter(|(_, value)| value.is_some()) {
            starter.put(
                question.key,
                &question.written(value.unwrap_or_default()),
                "as answered when this file was made",
            );
        }
        (starter, file)
    } else if let Some(path) = &args.path {
        let stem = path.file_stem().map(PathBuf::from).unwrap_or_default();
        let file = args.file.clone().unwrap_or_else(|| stem.with_extension("toml"));
        refuse(&file, args.overwrite)?;
        // Names of the files are taken from there.
        if let Some(folder) = file.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder)
                .map_err(|error| Failure::Other(anyhow::Error::new(error).context(folder.display().to_string())))?;
        }
        (own::own(&file, path, args.terrain.as_deref())?, file)
    } else {
        let template = args.template.unwrap_or(TemplateArg::FlatField);
        (Starter::of(template), args.file.clone().unwrap_or_else(|| usual(template)))
    };
    if args.no_schema {
        starter.without_schema();
    }
    let written = write(&starter, &file, args)?;
    let invented = match args.path {
        Some(_) => "The path and the ground are yours; craft, wind, people and radio are invented.",
        None => "Its numbers are invented.",
    };
    print(told(&starter, &file, &written, invented).as_bytes())
}

/// The file of a template when none is named.
fn usual(template: TemplateArg) -> PathBuf {
    PathBuf::from(format!("{}.toml", word(template)))
}

/// The word of a template.
fn word(template: TemplateArg) -> String {
    template.to_possible_value().map(|value| value.get_name().to_string()).unwrap_or_default()
}

/// A number that is asked for.
struct Question {
    key: &'static str,
    words: &'static str,
    low: f64,
    high: f64,
    /// Standard deviation as a share of the number, where the key has a distribution.
    spread: Option<f64>,
}

/// What is asked, with the ranges of the keys.
const QUESTIONS: [Question; 3] = [
    Question {
        key: "lat_deg",
        words: "Latitude of the take-off spot, degrees north",
        low: -89.9,
        high: 89.9,
        spread: None,
    },
    Question {
        key: "lon_deg",
        words: "Longitude of the take-off spot, degrees east",
        low: -180.0,
        high: 180.0,
        spread: None,
    },
    Question { key: "mass_kg", words: "Mass of the craft ready to fly, kg", low: 0.1, high: 10.0, spread: Some(0.03) },
];

impl Question {
    fn written(&self, value: f64) -> String {
        match self.spread {
            Some(share) => format!("{{ normal = [{value}, {}] }}", (value * share * 1e4).round() / 1e4),
            None => format!("{value}"),
        }
    }
}

/// What was answered; a number that was left as it is is `None`.
#[derive(Debug, PartialEq)]
struct Answers {
    template: TemplateArg,
    numbers: [Option<f64>; 3],
    file: PathBuf,
}

/// Asks; `None`: the input ended before the last answer.
fn ask(args: &NewArgs, input: &mut dyn BufRead, out: &mut dyn Write) -> io::Result<Option<Answers>> {
    let places: Vec<String> = TemplateArg::value_variants().iter().map(|template| word(*template)).collect();
    writeln!(out, "A scenario to start from. Enter takes what stands in brackets; Ctrl-D ends without a file.")?;
    writeln!(out, "With a flight from a file of yours: lostlink new --path FILE")?;
    let which = |text: &str| TemplateArg::from_str(text, false).map_err(|_| format!("accepted: {}", places.join(", ")));
    let question = format!("What is it like there: {}", places.join(", "));
    let Some(template) = one(input, out, &question, &places[0], &which)? else { return Ok(None) };
    let starter = Starter::of(template);
    let mut numbers = [None; 3];
    for (question, answer) in QUESTIONS.iter().zip(&mut numbers) {
        let there = starter.number(question.key).unwrap_or_default();
        let number = |text: &str| {
            let number =
                text.replace(',', ".").parse().ok().filter(|number| (question.low..=question.high).contains(number));
            number.ok_or_else(|| format!("accepted: a number from {} to {}", question.low, question.high))
        };
        let Some(given) = one(input, out, question.words, &format!("{there}"), &number)? else { return Ok(None) };
        *answer = Some(given).filter(|given| *given != there);
    }
    let file = args.file.clone().unwrap_or_else(|| usual(template)).display().to_string();
    let free = |text: &str| match refuse(Path::new(text), args.overwrite) {
        Ok(()) => Ok(PathBuf::from(text)),
        Err(_) => Err("it is there already, or no file; accepted: another name".to_string()),
    };
    let Some(file) = one(input, out, "File to write", &file, &free)? else { return Ok(None) };
    Ok(Some(Answers { template, numbers, file }))
}

/// Asks until the answer is accepted; `None` at the end of the input.
fn one<T>(
    input: &mut dyn BufRead,
    out: &mut dyn Write,
    question: &str,
    usual: &str,
    accept: &dyn Fn(&str) -> Result<T, String>,
) -> io::Result<Option<T>> {
    loop {
        write!(out, "{question} [{usual}]: ")?;
        out.flush()?;
        let mut line = String::new();
        if input.read_line(&mut line)? == 0 {
            writeln!(out)?;
            return Ok(None);
        }
        let text = if line.trim().is_empty() { usual } else { line.trim() };
        match accept(text) {
            Ok(answer) => return Ok(Some(answer)),
            Err(why) => writeln!(out, "  {why}")?,
        }
    }
}

/// A file that is there is not replaced unasked, and what is no file never.
fn refuse(file: &Path, overwrite: bool) -> Result<(), Failure> {
    match file.symlink_metadata() {
        Ok(about) if about.is_file() && overwrite => Ok(()),
        Ok(about) if about.is_file() => {
            Err(bad(&format!("{} is there already\n  accepted: another file, or --overwrite", file.display())))
        }
        Ok(_) => Err(bad(&format!("{} is there already and no file\n  accepted: another name", file.display()))),
        Err(_) if file.file_name().is_none() => {
            Err(bad(&format!("'{}' names no file\n  accepted: the name of a file", file.display())))
        }
        Err(_) => Ok(()),
    }
}

/// Writes the scenario and the files beside it, all or none of those that are in the way; what was written.
fn write(starter: &Starter, file: &Path, args: &NewArgs) -> Result<Vec<PathBuf>, Failure> {
    let beside = |name: &str| file.with_file_name(name);
    let schema = schema_text();
    let mut list: Vec<(PathBuf, &str)> = vec![(file.to_path_buf(), &starter.text)];
    list.extend(starter.files.iter().map(|(name, content)| (beside(name), *content)));
    // A file that is there with the same content, such as the schema beside an earlier scenario, need not be written.
    list.retain(|(path, content)| std::fs::read(path).map_or(true, |there| there != content.as_bytes()));
    for (path, _) in &list {
        refuse(path, args.overwrite)?;
    }
    let schema_file = beside(schema::FILE);
    // One of another version of this program serves as well, and may be somebody's own.
    if !args.no_schema && !schema_file.exists() {
        list.push((schema_file, &schema));
    }
    for (path, content) in &list {
        out::file(path, content.as_bytes())?;
    }
    Ok(list.into_iter().map(|(path, _)| path).collect())
}

/// What was written, what to edit first, and what comes next.
fn told(starter: &Starter, file: &Path, written: &[PathBuf], invented: &str) -> String {
    let names: Vec<String> = written.iter().map(|path| path.display().to_string()).collect();
    let mut text = match names.as_slice() {
        [] => format!("{} was there already, the same.\n", file.display()),
        names => format!("Written: {}\n", names.join(", ")),
    };
    text += &format!("\n{invented} Edit first, at the lines marked EDIT:\n");
    for edit in starter.edits() {
        const INDENT: usize = 6;
        text += &format!("  {}\n", edit.key);
        for line in wrap(&edit.words, COLUMNS - INDENT) {
            text += &format!("{:INDENT$}{line}\n", "");
        }
    }
    let file = file.display();
    text + &format!("\nNext:\n  lostlink check {file}\n  lostlink assess {file}\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answered(args: &NewArgs, typed: &str) -> (Option<Answers>, String) {
        let mut out = Vec::new();
        let answers = ask(args, &mut typed.as_bytes(), &mut out).expect("in memory");
        (answers, String::from_utf8(out).expect("UTF-8"))
    }

    /// What is accepted as an answer the reader accepts too, to the last number.
    #[test]
    fn answers_can_be_read() {
        for template in TemplateArg::value_variants() {
            for number in [|question: &Question| question.low, |question: &Question| question.high] {
                let mut starter = Starter::of(*template);
                for question in &QUESTIONS {
                    starter.put(question.key, &question.written(number(question)), "as answered");
                }
                starter.without_schema();
                // The starter's own files lie beside it, not here: only what is said of these keys counts.
                let found = crate::scenario::read("new.toml", &starter.text, &crate::scenario::NoFiles).err();
                let about = |finding: &crate::scenario::Diagnostic| {
                    QUESTIONS.iter().any(|question| finding.key.ends_with(question.key))
                };
                let refused = found.iter().flatten().find(|finding| about(finding));
                assert!(refused.is_none(), "{refused:?}");
            }
        }
    }

    #[test]
    fn questions_have_defaults_and_end_with_the_input() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("x.toml");
        let args = NewArgs { file: Some(file.clone()), ..NewArgs::default() };
        let (all, asked) = answered(&args, "\n\n\n\n\n");
        assert_eq!(all, Some(Answers { template: TemplateArg::FlatField, numbers: [None; 3], file: file.clone() }));
        assert!(asked.contains("degrees north [50]") && asked.contains("kg [1]"), "{asked}");
        let (some, asked) = answered(&args, "beach\nshore\n95\n54,25\n\n2.5\n\n");
        assert!(
            asked.contains("accepted: flat-field, valley") && asked.contains("a number from -89.9 to 89.9"),
            "{asked}"
        );
        let some = some.expect("answered");
        assert_eq!((some.template, some.numbers), (TemplateArg::Shore, [Some(54.25), None, Some(2.5)]));
        assert_eq!(QUESTIONS[2].written(2.5), "{ normal = [2.5, 0.075] }");
        // Wherever the input ends, nothing is made.
        for typed in ["", "shore\n", "shore\n54\n11\n", "shore\n54\n11\n1\n"] {
            assert_eq!(answered(&args, typed).0, None, "{typed:?}");
        }
        std::fs::write(&file, "there").expect("written");
        let other = folder.path().join("y.toml");
        let (moved, _) = answered(&args, &format!("\n\n\n\n\n{}\n", other.display()));
        assert_eq!(moved.expect("answered").file, other);
    }
}
