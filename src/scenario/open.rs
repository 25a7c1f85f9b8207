//! Ways to a scenario for programs: from text, from a file, and again with another seed or number of flights.

use super::diagnostic::{Diagnostic, Severity};
use super::files::{Files, NoFiles};
use super::read::read;
use super::types::Scenario;
use crate::geodata::{self, Bytes};
use std::fmt;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// Files on disk, relative to a scenario's folder.
#[derive(Debug, Clone)]
pub struct Folder(pub PathBuf);

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        bytes_of(&self.0.join(name)).map_err(in_words)
    }

    fn open(&self, name: &str) -> Result<Box<dyn Bytes>, String> {
        let path = self.0.join(name);
        let checked = checked(&path).and_then(|about| match about.len() > DATA_AT_MOST_BYTES {
            true => Err(too_large(DATA_AT_MOST_BYTES)),
            false => std::fs::File::open(&path),
        });
        checked.map(|file| Box::new(file) as Box<dyn Bytes>).map_err(in_words)
    }
}

fn in_words(cause: io::Error) -> String {
    match cause.kind() {
        io::ErrorKind::NotFound => "there is no such file".into(),
        io::ErrorKind::PermissionDenied => "it may not be read".into(),
        _ => cause.to_string(),
    }
}

/// Sizes up to which a scenario (or another text written by hand) and a file of data are read.
const TEXT_AT_MOST_BYTES: u64 = 16 << 20;
const DATA_AT_MOST_BYTES: u64 = 1 << 30;

/// Bytes of a file of data: a regular one of at most 1 GiB.
///
/// # Errors
/// A folder, a pipe or a device, one that is larger, one that cannot be read.
pub fn bytes_of(path: &Path) -> io::Result<Vec<u8>> {
    bytes_at_most(path, DATA_AT_MOST_BYTES)
}

/// What is known of a regular file: a pipe might never end, a device never does.
fn checked(path: &Path) -> io::Result<std::fs::Metadata> {
    let about = std::fs::metadata(path)?;
    if !about.is_file() {
        let what = if about.is_dir() { "it is a folder" } else { "it is a pipe or a device" };
        return Err(io::Error::other(format!("{what}, not a file")));
    }
    Ok(about)
}

fn too_large(at_most: u64) -> io::Error {
    io::Error::other(format!("it is larger than {} MB", at_most >> 20))
}

/// Bytes of a regular file of a bounded size.
fn bytes_at_most(path: &Path, at_most: u64) -> io::Result<Vec<u8>> {
    // Told before anything is taken into memory.
    if checked(path)?.len() > at_most {
        return Err(too_large(at_most));
    }
    let mut bytes = Vec::new();
    // One byte more than is accepted shows a file that grew since it was asked.
    std::fs::File::open(path)?.take(at_most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > at_most {
        return Err(too_large(at_most));
    }
    Ok(bytes)
}

/// Why there is no scenario.
#[non_exhaustive]
pub enum ScenarioError {
    /// The file cannot be read.
    Unreadable {
        /// The file.
        path: PathBuf,
        /// Why not.
        cause: io::Error,
    },
    /// The file is not UTF-8 text.
    NotText {
        /// The file.
        path: PathBuf,
        /// Line of the first byte that is not, counted from 1.
        line: usize,
    },
    /// What the file says cannot be used: every error in it, and the warnings with them, in the order of their places.
    Findings(Vec<Diagnostic>),
}

impl fmt::Display for ScenarioError {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        match self {
            ScenarioError::Unreadable { path, cause } => write!(out, "{}: {cause}", path.display()),
            ScenarioError::NotText { path, line } => write!(out, "{}:{line}: not UTF-8 text", path.display()),
            ScenarioError::Findings(findings) => {
                let mut errors = findings.iter().filter(|finding| finding.severity == Severity::Error);
                if let Some(first) = errors.next() {
                    write!(out, "{first}")?;
                }
                errors.try_for_each(|finding| write!(out, "\n{finding}"))
            }
        }
    }
}

/// As [`Display`](fmt::Display): a `main` that returns the error prints it this way, and a finding holds the whole file.
impl fmt::Debug for ScenarioError {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        fmt::Display::fmt(self, out)
    }
}

impl std::error::Error for ScenarioError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            ScenarioError::Unreadable { cause, .. } => Some(cause),
            _ => None,
        }
    }
}

/// Text of a file, as it stands.
///
/// # Errors
/// A file that cannot be read, or the line where it stops being UTF-8.
pub fn text_of(path: &Path) -> Result<String, ScenarioError> {
    let bytes = bytes_at_most(path, TEXT_AT_MOST_BYTES)
        .map_err(|cause| ScenarioError::Unreadable { path: path.to_path_buf(), cause })?;
    geodata::text_of(bytes).map_err(|error| {
        let whole = &error.as_bytes()[..error.utf8_error().valid_up_to()];
        ScenarioError::NotText {
            path: path.to_path_buf(),
            line: whole.iter().filter(|&&byte| byte == b'\n').count() + 1,
        }
    })
}

impl Scenario {
    /// Reads a scenario from the text of a scenario file that names no other file.
    ///
    /// # Errors
    /// Every mistake in the text, each with its line and what would be accepted there.
    ///
    /// ```
    /// use lostlink::Scenario;
    ///
    /// let scenario = Scenario::from_toml(r#"
    ///     title = "Out over the meadow and back"
    ///
    ///     [site]
    ///     home_m = [0, 0]
    ///     extent_m = [-400, -400, 400, 400]
    ///
    ///     [path]
    ///     waypoints_m = [[0, 200, 40], [0, 0, 40]]
    ///
    ///     [craft]
    ///     mass_kg = 1.0
    ///
    ///     [[policy]]
    ///     name = "land"
    ///     action = [{ land = {} }]
    /// "#)?;
    /// assert_eq!((scenario.flights, scenario.policies.len()), (2000, 1));
    ///
    /// let wrong = Scenario::from_toml("title = \"Wind\"\nweather.wind_mps = \"strong\"").unwrap_err();
    /// assert!(wrong.to_string().contains("weather.wind_mps"));
    /// # Ok::<(), lostlink::Error>(())
    /// ```
    pub fn from_toml(text: &str) -> Result<Scenario, ScenarioError> {
        read("scenario", text, &NoFiles).map_err(ScenarioError::Findings)
    }

    /// Reads a scenario file and the files that it names, relative to its folder.
    ///
    /// # Errors
    /// A file that cannot be read, or every mistake in it at once.
    ///
    /// ```
    /// let scenario = lostlink::Scenario::from_file("scenarios/club-field.toml")?;
    /// assert!(scenario.invented);
    /// # Ok::<(), lostlink::Error>(())
    /// ```
    pub fn from_file(path: impl AsRef<Path>) -> Result<Scenario, ScenarioError> {
        let path = path.as_ref();
        let text = text_of(path)?;
        let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
        read(&path.display().to_string(), &text, &Folder(folder)).map_err(ScenarioError::Findings)
    }

    /// The same scenario with another number of flights, its conditions with it.
    #[must_use]
    pub fn with_flights(mut self, flights: u32) -> Scenario {
        self.each(|scenario| {
            scenario.flights = flights;
            scenario.list("flights", flights.to_string());
        });
        self
    }

    /// The same scenario under another master seed, its conditions with it.
    #[must_use]
    pub fn with_seed(mut self, seed: u64) -> Scenario {
        self.each(|scenario| {
            scenario.seed = seed;
            scenario.list("seed", seed.to_string());
        });
        self
    }

    /// The table of inputs states what is flown, not what the file says.
    fn list(&mut self, key: &str, value: String) {
        for row in self.inputs.iter_mut().filter(|row| row.key == key && row.value != value) {
            (row.value, row.line, row.note) = (value.clone(), None, "asked for in the place of the file's".into());
        }
    }

    fn each(&mut self, change: impl Fn(&mut Scenario)) {
        change(self);
        self.conditions.iter_mut().for_each(|condition| change(&mut condition.scenario));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_wrong_is_said_without_the_command_line() {
        let absent = Scenario::from_file("no/such/file.toml").unwrap_err();
        assert!(absent.to_string().starts_with("no/such/file.toml: "), "{absent}");
        assert!(std::error::Error::source(&absent).is_some());
        let wrong = Scenario::from_toml("title = \"x\"\nflights = -1\nstep_s = 9\n").unwrap_err().to_string();
        assert!(wrong.contains("scenario:2: flights: ") && wrong.contains("\nscenario:3: step_s: "), "{wrong}");
    }

    #[test]
    fn conditions_follow_the_seed_and_the_flights() {
        let scenario = Scenario::from_file(concat!(env!("LOSTLINK_ROOT"), "scenarios/quarry.toml"))
            .unwrap()
            .with_flights(77)
            .with_seed(5);
        assert!(!scenario.conditions.is_empty());
        assert_eq!((scenario.flights, scenario.seed), (77, 5));
        for condition in &scenario.conditions {
            assert_eq!((condition.scenario.flights, condition.scenario.seed), (77, 5));
        }
    }
}
