//! A whole report in a folder: written beside, then renamed. A killed run leaves no half-written file and destroys no
//! earlier report.

use crate::risk::summary::{Heights, Summary};
use rayon::prelude::*;
use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// Mark in the names of folders being written or replaced.
const WRITING: &str = ".writing-";
const REPLACED: &str = ".replaced-";

/// A report folder being written.
#[derive(Debug)]
pub struct ReportFolder {
    target: PathBuf,
    writing: PathBuf,
    finished: bool,
}

/// Why a folder could not be written.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// The target is a file, or has no name.
    #[error("{0} cannot be a report folder")]
    Target(PathBuf),
    /// The target holds things that no report wrote.
    #[error("{0} is a folder with other things in it; name a new folder, or one that holds a report")]
    Foreign(PathBuf),
    /// Writing failed.
    #[error("{0}: {1}")]
    Io(PathBuf, io::Error),
}

fn at(path: &Path) -> impl FnOnce(io::Error) -> FolderError {
    let path = path.to_path_buf();
    move |error| FolderError::Io(path, error)
}

/// The file by which a folder is known to hold a report.
pub const MARK: &str = "summary.json";

impl ReportFolder {
    /// Makes an empty folder beside the target and clears away what killed runs left there.
    ///
    /// # Errors
    /// When the target is a file, a folder with anything but a report in it, or its parent cannot be written.
    pub fn begin(target: &Path) -> Result<ReportFolder, FolderError> {
        let name = target.file_name().ok_or_else(|| FolderError::Target(target.into()))?.to_string_lossy().into_owned();
        let parent = match target.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
            _ => PathBuf::from("."),
        };
        if target.exists() {
            if !target.is_dir() {
                return Err(FolderError::Target(target.into()));
            }
            let empty = fs::read_dir(target).map_err(at(target))?.next().is_none();
            if !empty
                && !["summary.json", "heights.json", "sheet.json", "reach.json", "sky.json"]
                    .iter()
                    .any(|mark| target.join(mark).is_file())
            {
                return Err(FolderError::Foreign(target.into()));
            }
        }
        fs::create_dir_all(&parent).map_err(at(&parent))?;
        clear_leftovers(&parent, &name, target.exists()).map_err(at(&parent))?;
        let writing = parent.join(format!(".{name}{WRITING}{}", std::process::id()));
        if writing.exists() {
            fs::remove_dir_all(&writing).map_err(at(&writing))?;
        }
        fs::create_dir(&writing).map_err(at(&writing))?;
        Ok(ReportFolder { target: target.to_path_buf(), writing, finished: false })
    }

    /// Opens a file in it; `name` may hold one level of folders.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn file(&self, name: &str) -> Result<BufWriter<fs::File>, FolderError> {
        let path = self.writing.join(name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(at(parent))?;
        }
        Ok(BufWriter::new(fs::File::create(&path).map_err(at(&path))?))
    }

    /// Writes a whole file.
    ///
    /// # Errors
    /// When it cannot be made or written.
    pub fn write(&self, name: &str, bytes: &[u8]) -> Result<(), FolderError> {
        let path = self.writing.join(name);
        let mut file = self.file(name)?;
        file.write_all(bytes).and_then(|()| file.flush()).map_err(at(&path))
    }

    /// Puts the folder in the target's place. The earlier report goes only when the new one stands.
    ///
    /// # Errors
    /// When a rename fails; the earlier report is then back in its place.
    pub fn finish(mut self) -> Result<PathBuf, FolderError> {
        let target = self.target.clone();
        if target.exists() {
            let name = target.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let aside = target.with_file_name(format!(".{name}{REPLACED}{}", std::process::id()));
            if aside.exists() {
                fs::remove_dir_all(&aside).map_err(at(&aside))?;
            }
            fs::rename(&target, &aside).map_err(at(&target))?;
            if let Err(error) = fs::rename(&self.writing, &target) {
                let _ = fs::rename(&aside, &target);
                return Err(FolderError::Io(target, error));
            }
            self.finished = true;
            // The new report stands; what is left of the earlier one is cleared now or by the next run.
            let _ = fs::remove_dir_all(&aside);
        } else {
            fs::rename(&self.writing, &target).map_err(at(&target))?;
            self.finished = true;
        }
        Ok(target)
    }
}

impl Drop for ReportFolder {
    fn drop(&mut self) {
        if !self.finished {
            let _ = fs::remove_dir_all(&self.writing);
        }
    }
}

/// Why a report could not be written.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// The folder.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// A page.
    #[error(transparent)]
    Page(#[from] super::html::HtmlError),
    /// A picture.
    #[error("{0}: {1}")]
    Picture(String, super::plot::canvas::RasterError),
    /// Writing failed.
    #[error("the report could not be written: {0}")]
    Io(#[from] io::Error),
}

/// Picture points to a px in the PNGs.
const PNG_SCALE: f32 = 2.0;

impl ReportFolder {
    /// Writes figures as SVG and PNG to `figures/`, on all threads.
    ///
    /// # Errors
    /// When one cannot be drawn or written.
    pub fn figures(&self, figures: &[super::plot::Figure]) -> Result<(), ReportError> {
        let pictures: Vec<Result<Vec<u8>, ReportError>> = figures
            .par_iter()
            .map(|figure| figure.png(PNG_SCALE).map_err(|error| ReportError::Picture(figure.id.clone(), error)))
            .collect();
        for (figure, picture) in figures.iter().zip(pictures) {
            self.write(&format!("figures/{}.svg", figure.id), figure.svg.as_bytes())?;
            self.write(&format!("figures/{}.png", figure.id), &picture?)?;
        }
        Ok(())
    }

    /// Writes everything that follows from a summary: `report.html`, `summary.json`, `ends.geojson` and the figures.
    /// `flights.csv` is written by the caller while the flights come in.
    ///
    /// # Errors
    /// When a file cannot be written.
    pub fn summary(&self, summary: &Summary) -> Result<(), ReportError> {
        let finish = |mut file: BufWriter<fs::File>| file.flush();
        let mut file = self.file("report.html")?;
        super::html::report(summary, &mut file)?;
        finish(file)?;
        let mut file = self.file("ends.geojson")?;
        super::geojson::ends(summary, &mut file)?;
        finish(file)?;
        self.figures(&super::plot::all(summary, super::plot::Look::WIDE))?;
        let mut file = self.file(MARK)?;
        super::json::write(summary, &mut file)?;
        finish(file)?;
        Ok(())
    }

    /// Writes everything that follows from a height sweep: `heights.html`, `heights.json` and the figure.
    ///
    /// # Errors
    /// When a file cannot be written.
    pub fn heights(&self, heights: &Heights) -> Result<(), ReportError> {
        let mut file = self.file("heights.html")?;
        super::html::heights(heights, &mut file)?;
        file.flush()?;
        self.figures(&super::plot::of_heights(heights, super::plot::Look::WIDE))?;
        let mut file = self.file("heights.json")?;
        super::json::write(heights, &mut file)?;
        file.flush()?;
        Ok(())
    }
}

/// Removes folders of runs that no longer live; brings an earlier report back when a run died between two renames.
fn clear_leftovers(parent: &Path, name: &str, target_there: bool) -> io::Result<()> {
    let (writing, replaced) = (format!(".{name}{WRITING}"), format!(".{name}{REPLACED}"));
    let mut target_there = target_there;
    for entry in fs::read_dir(parent)? {
        let entry = entry?;
        let found = entry.file_name().to_string_lossy().into_owned();
        let Some(process) = found.strip_prefix(&writing).or_else(|| found.strip_prefix(&replaced)) else { continue };
        let Ok(process) = process.parse::<u32>() else { continue };
        if process != std::process::id() && alive(process) {
            continue;
        }
        if found.starts_with(&replaced) && !target_there {
            fs::rename(entry.path(), parent.join(name))?;
            target_there = true;
        } else {
            fs::remove_dir_all(entry.path())?;
        }
    }
    Ok(())
}

/// Whether a process of this number runs, where that can be told; elsewhere none is taken to.
fn alive(process: u32) -> bool {
    Path::new("/proc/self").exists() && Path::new("/proc").join(process.to_string()).exists()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_report_replaces_the_earlier_one_only_at_the_end() {
        let home = tempfile::tempdir().unwrap();
        let target = home.path().join("report");
        let first = ReportFolder::begin(&target).unwrap();
        first.write(MARK, b"one").unwrap();
        first.write("figures/map.svg", b"<svg/>").unwrap();
        assert!(!target.exists());
        first.finish().unwrap();
        assert_eq!(names(home.path()), ["report"]);
        let second = ReportFolder::begin(&target).unwrap();
        second.write(MARK, b"two").unwrap();
        assert_eq!(fs::read(target.join(MARK)).unwrap(), b"one");
        second.finish().unwrap();
        assert_eq!(fs::read(target.join(MARK)).unwrap(), b"two");
        assert_eq!(names(&target), [MARK], "nothing of the earlier report is left among the new files");
        assert_eq!(names(home.path()), ["report"]);
    }

    #[test]
    fn an_abandoned_run_leaves_the_earlier_report() {
        let home = tempfile::tempdir().unwrap();
        let target = home.path().join("report");
        let first = ReportFolder::begin(&target).unwrap();
        first.write(MARK, b"one").unwrap();
        first.finish().unwrap();
        let second = ReportFolder::begin(&target).unwrap();
        second.write(MARK, b"half").unwrap();
        drop(second);
        assert_eq!(fs::read(target.join(MARK)).unwrap(), b"one");
        assert_eq!(names(home.path()), ["report"]);
    }

    #[test]
    fn leftovers_of_killed_runs_go_and_a_report_caught_between_renames_comes_back() {
        let home = tempfile::tempdir().unwrap();
        let target = home.path().join("report");
        // No process has this number on any system in use.
        let dead = u32::MAX - 1;
        fs::create_dir(home.path().join(format!(".report{WRITING}{dead}"))).unwrap();
        let caught = home.path().join(format!(".report{REPLACED}{dead}"));
        fs::create_dir(&caught).unwrap();
        fs::write(caught.join(MARK), b"one").unwrap();
        let next = ReportFolder::begin(&target).unwrap();
        assert_eq!(fs::read(target.join(MARK)).unwrap(), b"one");
        drop(next);
        assert_eq!(names(home.path()), ["report"]);
    }

    #[test]
    fn folders_with_other_things_are_left_alone() {
        let home = tempfile::tempdir().unwrap();
        fs::write(home.path().join("letter.txt"), b"dear").unwrap();
        assert!(matches!(ReportFolder::begin(home.path()), Err(FolderError::Foreign(_))));
        assert!(matches!(ReportFolder::begin(&home.path().join("letter.txt")), Err(FolderError::Target(_))));
        assert_eq!(names(home.path()), ["letter.txt"]);
    }
}
