//! A whole report in a folder: written beside, then put in its place by one rename, which swaps it with an earlier report. A run killed
//! at any moment leaves the earlier report or the new one, whole, and nothing that a report did not write is ever removed. Where a
//! system cannot swap, two renames do it, and the next run brings back what a kill between them hid.
//!
//! A folder is ours by its mark, a file of a name and a first line that nothing else writes. It lists the files of the
//! report with their SHA-256: what is not in the list, or is no longer as it was written, belongs to somebody else.

use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Component, Path, PathBuf};
use std::sync::Mutex;

/// Mark in the names of folders being written or replaced.
const WRITING: &str = ".writing-";
const REPLACED: &str = ".replaced-";

/// The file by which a folder is known to be ours.
pub const MARK: &str = "lostlink-folder.txt";

/// The whole mark before it takes the place of the one that grew: listed while a report is written.
const WHOLE_MARK: &str = "lostlink-folder.txt.new";

/// Its first line. What follows is a line per file: its SHA-256 (a dash while it is being written), two spaces, its path.
const MARK_HEAD: &str = "lostlink folder, form 1: a later run replaces the files listed here and touches no others";

/// A report folder being written.
#[derive(Debug)]
pub struct ReportFolder {
    /// As it was named.
    named: PathBuf,
    /// The same with a link followed.
    target: PathBuf,
    writing: PathBuf,
    mark: Mutex<Mark>,
    keep: bool,
    /// Whether figures are written as pictures (PNG) too, and not as SVG alone.
    pub pictures: bool,
}

/// Why a folder could not be written.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// The target is a file, or has no name.
    #[error("{0} cannot be a report folder; name another with --out")]
    Target(PathBuf),
    /// The target is a link to nothing.
    #[error("{0} is a link to a folder that is not there; remove the link or name another folder with --out")]
    Link(PathBuf),
    /// The target may not be written.
    #[error("{0} is read-only; make it writable or name another folder with --out")]
    ReadOnly(PathBuf),
    /// The target has no mark of ours.
    #[error(
        "{folder} is a folder with other things in it, {file} among them, and without the mark of a report ({MARK}); name \
         another folder with --out, or move this one away (an early report without a mark: delete it once)"
    )]
    Foreign {
        /// The target.
        folder: PathBuf,
        /// The first thing in it by name.
        file: String,
    },
    /// A report of ours with something in it that it did not write.
    #[error("{} {why}; move it away or name another folder with --out", folder.join(file).display())]
    Kept {
        /// The target.
        folder: PathBuf,
        /// What is not ours, by its path in the folder.
        file: String,
        /// In which way.
        why: &'static str,
    },
    /// Something came into the target while the report was made.
    #[error("{0}. The new report is whole and lies in {1} until the next run")]
    Late(Box<FolderError>, PathBuf),
    /// Writing failed.
    #[error("{0}: {1}")]
    Io(PathBuf, io::Error),
}

/// A file of a report being written. What goes wrong names it as it will be called, not where it is written.
#[derive(Debug)]
pub struct ReportFile {
    file: BufWriter<fs::File>,
    named: PathBuf,
}

impl ReportFile {
    fn told(&self, error: io::Error) -> io::Error {
        io::Error::new(error.kind(), format!("{}: {error}", self.named.display()))
    }
}

impl Write for ReportFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes).map_err(|error| self.told(error))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush().map_err(|error| self.told(error))
    }
}

fn at(path: &Path) -> impl FnOnce(io::Error) -> FolderError {
    let path = path.to_path_buf();
    move |error| FolderError::Io(path, error)
}

/// What a mark says: the files of a report by their path with `/`, each with its SHA-256, or `None` while it is written.
#[derive(Debug, Clone, Default, PartialEq)]
struct Mark(BTreeMap<String, Option<String>>);

impl Mark {
    /// The mark of a folder, when it has one of ours: a plain file with our first line and a list that stays in the folder.
    fn of(folder: &Path) -> Option<Mark> {
        let path = folder.join(MARK);
        if !path.symlink_metadata().ok()?.is_file() {
            return None;
        }
        let text = fs::read_to_string(path).ok()?;
        let mut lines = text.lines();
        if lines.next() != Some(MARK_HEAD) {
            return None;
        }
        let mut files = BTreeMap::new();
        for line in lines {
            let (hash, file) = line.split_once("  ")?;
            let inside = Path::new(file).components().all(|part| matches!(part, Component::Normal(_)));
            if file.is_empty() || !inside {
                return None;
            }
            files.insert(file.to_string(), (hash != "-").then(|| hash.to_string()));
        }
        Some(Mark(files))
    }

    fn text(&self) -> String {
        let mut text = format!("{MARK_HEAD}\n");
        for (file, hash) in &self.0 {
            let _ = writeln!(text, "{}  {file}", hash.as_deref().unwrap_or("-"));
        }
        text
    }

    /// Folders in which listed files lie, deepest first.
    fn folders(&self) -> Vec<&Path> {
        let mut folders: Vec<&Path> = self
            .0
            .keys()
            .flat_map(|file| Path::new(file).ancestors().skip(1))
            .filter(|folder| !folder.as_os_str().is_empty())
            .collect();
        folders.sort_by_key(|folder| (std::cmp::Reverse(folder.components().count()), *folder));
        folders.dedup();
        folders
    }

    /// The first thing in a folder that this mark does not vouch for, by path, and in which way.
    fn first_foreign(&self, folder: &Path) -> io::Result<Option<(String, &'static str)>> {
        self.first_foreign_below(folder, "")
    }

    fn first_foreign_below(&self, folder: &Path, below: &str) -> io::Result<Option<(String, &'static str)>> {
        const NOT_OURS: &str = "is not part of the report in that folder";
        for name in sorted_names(&folder.join(below))? {
            let file = if below.is_empty() { name } else { format!("{below}/{name}") };
            let path = folder.join(&file);
            let kind = path.symlink_metadata()?.file_type();
            if kind.is_symlink() {
                return Ok(Some((file, "is a link that no report made")));
            } else if kind.is_dir() {
                if !self.folders().contains(&Path::new(&file)) {
                    return Ok(Some((file, NOT_OURS)));
                }
                if let Some(found) = self.first_foreign_below(folder, &file)? {
                    return Ok(Some(found));
                }
            } else if file != MARK {
                match self.0.get(&file) {
                    None => return Ok(Some((file, NOT_OURS))),
                    Some(Some(hash)) if *hash != hash_of(&path)? => {
                        return Ok(Some((file, "was changed since the report in that folder was written")));
                    }
                    Some(_) => {}
                }
            }
        }
        Ok(None)
    }

    /// Removes what is listed, then folders left empty, the mark and the folder itself. Anything else in it stays, and the
    /// mark with it.
    fn remove(&self, folder: &Path) -> io::Result<()> {
        for file in self.0.keys() {
            match fs::remove_file(folder.join(file)) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
                _ => {}
            }
        }
        for inner in self.folders() {
            // One that is not empty stays.
            let _ = fs::remove_dir(folder.join(inner));
        }
        if sorted_names(folder)?.iter().all(|name| name == MARK) {
            match fs::remove_file(folder.join(MARK)) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
                _ => {}
            }
            fs::remove_dir(folder)?;
        }
        Ok(())
    }
}

/// Names in a folder, sorted, so that the same one is told first everywhere.
fn sorted_names(folder: &Path) -> io::Result<Vec<String>> {
    let mut names: Vec<String> = fs::read_dir(folder)?
        .map(|entry| Ok(entry?.file_name().to_string_lossy().into_owned()))
        .collect::<io::Result<_>>()?;
    names.sort();
    Ok(names)
}

/// SHA-256 of a file in hexadecimal.
fn hash_of(path: &Path) -> io::Result<String> {
    let mut hasher = Sha256::new();
    let mut file = fs::File::open(path)?;
    let mut buffer = vec![0; 1 << 16];
    loop {
        let read = io::Read::read(&mut file, &mut buffer)?;
        if read == 0 {
            break;
        }
        hasher.update(&buffer[..read]);
    }
    Ok(hasher.finalize().iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    }))
}

/// The mark of a folder that a report may take the place of: an empty one, or a report of ours with nothing else in it.
fn replaceable(folder: &Path) -> Result<Mark, FolderError> {
    if !folder.is_dir() {
        return Err(FolderError::Target(folder.into()));
    }
    if folder.metadata().map_err(at(folder))?.permissions().readonly() {
        return Err(FolderError::ReadOnly(folder.into()));
    }
    let Some(file) = sorted_names(folder).map_err(at(folder))?.into_iter().next() else {
        return Ok(Mark::default());
    };
    let Some(mark) = Mark::of(folder) else {
        return Err(FolderError::Foreign { folder: folder.into(), file });
    };
    match mark.first_foreign(folder).map_err(at(folder))? {
        None => Ok(mark),
        Some((file, why)) => Err(FolderError::Kept { folder: folder.into(), file, why }),
    }
}

fn exists(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

impl ReportFolder {
    /// Makes an empty folder beside the target and clears away what killed runs left there.
    ///
    /// # Errors
    /// When the target is a file, or a folder that may not be written or holds anything but a report as it was written;
    /// when its parent cannot be written.
    pub fn begin(target: &Path) -> Result<ReportFolder, FolderError> {
        let named = target.to_path_buf();
        let is_link = target.symlink_metadata().is_ok_and(|meta| meta.file_type().is_symlink());
        let target =
            if is_link { target.canonicalize().map_err(|_| FolderError::Link(named.clone()))? } else { named.clone() };
        let name = target.file_name().ok_or_else(|| FolderError::Target(named.clone()))?.to_string_lossy().into_owned();
        let parent = match target.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
            _ => PathBuf::from("."),
        };
        if exists(&target) {
            replaceable(&target)?;
        }
        fs::create_dir_all(&parent).map_err(at(&parent))?;
        clear_leftovers(&parent, &name, exists(&target)).map_err(at(&parent))?;
        let writing = parent.join(format!(".{name}{WRITING}{}", std::process::id()));
        fs::create_dir(&writing).map_err(at(&writing))?;
        let folder = ReportFolder { named, target, writing, mark: Mutex::default(), keep: false, pictures: false };
        // What is listed is known to the next run, at whatever moment this one is killed: a line is one write.
        let first = Mark([(WHOLE_MARK.to_string(), None)].into()).text();
        fs::write(folder.writing.join(MARK), first).map_err(at(&folder.writing))?;
        Ok(folder)
    }

    fn listed(&self) -> std::sync::MutexGuard<'_, Mark> {
        self.mark.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    /// Lists a file that is about to be written.
    fn list(&self, name: &str) -> io::Result<()> {
        if self.listed().0.insert(name.into(), None).is_some() {
            return Ok(());
        }
        let mut mark = fs::OpenOptions::new().append(true).open(self.writing.join(MARK))?;
        mark.write_all(format!("-  {name}\n").as_bytes())
    }

    /// Puts the whole mark in the place of the one that grew.
    fn write_mark(&self) -> io::Result<()> {
        let whole = self.writing.join(WHOLE_MARK);
        fs::write(&whole, self.listed().text())?;
        fs::rename(whole, self.writing.join(MARK))
    }

    /// Opens a file in it; `name` may hold folders, parted by `/`.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn file(&self, name: &str) -> Result<ReportFile, FolderError> {
        let (path, named) = (self.writing.join(name), self.named.join(name));
        // Listed before it is made: a run killed now leaves nothing that the next one does not know.
        self.list(name).map_err(at(&named))?;
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(at(&named))?;
        }
        let file = BufWriter::new(fs::File::create(&path).map_err(at(&named))?);
        Ok(ReportFile { file, named })
    }

    /// Writes a whole file.
    ///
    /// # Errors
    /// When it cannot be made or written.
    pub fn write(&self, name: &str, bytes: &[u8]) -> Result<(), FolderError> {
        let ReportFile { mut file, named } = self.file(name)?;
        file.write_all(bytes).and_then(|()| file.flush()).map_err(at(&named))
    }

    /// Puts the folder in the target's place. The earlier report goes only when the new one stands. All files must be
    /// written to their end.
    ///
    /// # Errors
    /// When something came into the target since, or a rename fails; the earlier report is then in its place.
    pub fn finish(mut self) -> Result<PathBuf, FolderError> {
        for (file, hash) in &mut self.listed().0 {
            *hash = Some(hash_of(&self.writing.join(&**file)).map_err(at(&self.named.join(&**file)))?);
        }
        self.write_mark().map_err(at(&self.named))?;
        let target = self.target.clone();
        if exists(&target) {
            let mark = replaceable(&target).map_err(|error| {
                self.keep = true;
                FolderError::Late(Box::new(error), self.writing.clone())
            })?;
            if swapped(&self.writing, &target).map_err(at(&target))? {
                self.keep = true;
                // The new report stands, the earlier one beside it; what is left of that is cleared now or by the next run.
                let _ = mark.remove(&self.writing);
                return Ok(self.named.clone());
            }
            let name = target.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let aside = target.with_file_name(format!(".{name}{REPLACED}{}", std::process::id()));
            if exists(&aside) {
                return Err(FolderError::Target(aside));
            }
            fs::rename(&target, &aside).map_err(at(&target))?;
            if let Err(error) = fs::rename(&self.writing, &target) {
                let _ = fs::rename(&aside, &target);
                return Err(FolderError::Io(target, error));
            }
            self.keep = true;
            let _ = mark.remove(&aside);
        } else {
            fs::rename(&self.writing, &target).map_err(at(&target))?;
            self.keep = true;
        }
        Ok(self.named.clone())
    }
}

/// Swaps two folders at once; `false`: this system, or the file system they lie on, cannot.
#[cfg(any(target_os = "linux", target_vendor = "apple"))]
fn swapped(one: &Path, other: &Path) -> io::Result<bool> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    match renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE) {
        Ok(()) => Ok(true),
        Err(error) if [Errno::INVAL, Errno::NOSYS, Errno::NOTSUP, Errno::OPNOTSUPP].contains(&error) => Ok(false),
        Err(error) => Err(error.into()),
    }
}

#[cfg(not(any(target_os = "linux", target_vendor = "apple")))]
fn swapped(_one: &Path, _other: &Path) -> io::Result<bool> {
    Ok(false)
}

impl Drop for ReportFolder {
    fn drop(&mut self) {
        if !self.keep {
            let _ = fs::remove_file(self.writing.join(WHOLE_MARK));
            let _ = self.listed().remove(&self.writing);
        }
    }
}

/// Clears folders of runs that no longer live; brings an earlier report back when a run died between two renames. What
/// has no mark, or holds something that its mark does not list, stays.
fn clear_leftovers(parent: &Path, name: &str, target_there: bool) -> io::Result<()> {
    let (writing, replaced) = (format!(".{name}{WRITING}"), format!(".{name}{REPLACED}"));
    let mut target_there = target_there;
    for found in sorted_names(parent)? {
        let Some(process) = found.strip_prefix(&writing).or_else(|| found.strip_prefix(&replaced)) else { continue };
        let Ok(process) = process.parse::<u32>() else { continue };
        if process != std::process::id() && alive(process) {
            continue;
        }
        let path = parent.join(&found);
        if !path.symlink_metadata()?.is_dir() {
            continue;
        }
        if found.starts_with(&replaced) && !target_there {
            fs::rename(&path, parent.join(name))?;
            target_there = true;
        } else if let Some(mark) = Mark::of(&path) {
            if mark.first_foreign(&path)?.is_none() {
                mark.remove(&path)?;
            }
        } else {
            // Killed before the first mark was written: there is nothing in it, or a mark of no length; else it is not ours.
            let mark = path.join(MARK);
            if sorted_names(&path)? == [MARK] && mark.symlink_metadata()?.len() == 0 {
                fs::remove_file(mark)?;
            }
            let _ = fs::remove_dir(&path);
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

    const FILE: &str = "summary.json";

    fn names(folder: &Path) -> Vec<String> {
        sorted_names(folder).unwrap()
    }

    fn report(target: &Path, bytes: &[u8]) {
        let folder = ReportFolder::begin(target).unwrap();
        folder.write(FILE, bytes).unwrap();
        folder.write("figures/map.svg", b"<svg/>").unwrap();
        folder.finish().unwrap();
    }

    #[test]
    fn a_report_replaces_the_earlier_one_only_at_the_end() {
        let home = tempfile::tempdir().unwrap();
        let target = home.path().join("report");
        let first = ReportFolder::begin(&target).unwrap();
        first.write(FILE, b"one").unwrap();
        first.write("figures/map.svg", b"<svg/>").unwrap();
        assert!(!target.exists());
        first.finish().unwrap();
        assert_eq!(names(home.path()), ["report"]);
        let second = ReportFolder::begin(&target).unwrap();
        second.write(FILE, b"two").unwrap();
        assert_eq!(fs::read(target.join(FILE)).unwrap(), b"one");
        second.finish().unwrap();
        assert_eq!(fs::read(target.join(FILE)).unwrap(), b"two");
        assert_eq!(names(&target), [MARK, FILE], "nothing of the earlier report is left among the new files");
        assert_eq!(names(home.path()), ["report"]);
    }

    /// The SHA-256 of "abc" is the one-block example of FIPS 180-4 (published with the standard's examples).
    #[test]
    fn the_mark_lists_what_was_written() {
        let home = tempfile::tempdir().unwrap();
        let target = home.path().join("report");
        let folder = ReportFolder::begin(&target).unwrap();
        folder.write("z.txt", b"abc").unwrap();
        folder.write("figures/a.txt", b"abc").unwrap();
        folder.finish().unwrap();
        let hash = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        let text = fs::read_to_string(target.join(MARK)).unwrap();
        assert_eq!(text, format!("{MARK_HEAD}\n{hash}  figures/a.txt\n{hash}  z.txt\n"));
        assert_eq!(Mark::of(&target).unwrap().text(), text);
    }

    #[test]
    fn an_abandoned_run_leaves_the_earlier_report() {
        let home = tempfile::tempdir().unwrap();
        let target = home.path().join("report");
        report(&target, b"one");
        let second = ReportFolder::begin(&target).unwrap();
        second.write(FILE, b"half").unwrap();
        drop(second);
        assert_eq!(fs::read(target.join(FILE)).unwrap(), b"one");
        assert_eq!(names(home.path()), ["report"]);
    }

    #[test]
    fn leftovers_of_killed_runs_go_and_a_report_caught_between_renames_comes_back() {
        let home = tempfile::tempdir().unwrap();
        let target = home.path().join("report");
        // No process has these numbers on any system in use.
        let dead = |k: u32| u32::MAX - k;
        // Killed before it wrote anything, while it wrote, and between two renames.
        fs::create_dir(home.path().join(format!(".report{WRITING}{}", dead(1)))).unwrap();
        let half = ReportFolder::begin(&target).unwrap();
        half.write("figures/map.svg", b"<svg").unwrap();
        fs::rename(&half.writing, home.path().join(format!(".report{WRITING}{}", dead(2)))).unwrap();
        drop(half);
        report(&target, b"one");
        fs::rename(&target, home.path().join(format!(".report{REPLACED}{}", dead(3)))).unwrap();
        // Not ours: it only looks like one of them.
        let theirs = home.path().join(format!(".report{WRITING}{}", dead(4)));
        fs::create_dir(&theirs).unwrap();
        fs::write(theirs.join("letter.txt"), b"dear").unwrap();
        let next = ReportFolder::begin(&target).unwrap();
        assert_eq!(fs::read(target.join(FILE)).unwrap(), b"one");
        drop(next);
        let left = names(home.path());
        assert_eq!(left, [format!(".report{WRITING}{}", dead(4)), "report".into()]);
        assert_eq!(fs::read(theirs.join("letter.txt")).unwrap(), b"dear");
    }

    #[test]
    fn what_comes_in_while_a_report_is_made_is_kept_and_the_report_too() {
        let home = tempfile::tempdir().unwrap();
        let target = home.path().join("report");
        report(&target, b"one");
        let second = ReportFolder::begin(&target).unwrap();
        second.write(FILE, b"two").unwrap();
        fs::write(target.join("letter.txt"), b"dear").unwrap();
        let error = second.finish().unwrap_err();
        let FolderError::Late(why, lies) = &error else { panic!("{error}") };
        assert!(why.to_string().contains("letter.txt"), "{error}");
        assert_eq!(fs::read(lies.join(FILE)).unwrap(), b"two");
        assert_eq!(fs::read(target.join(FILE)).unwrap(), b"one");
        assert_eq!(fs::read(target.join("letter.txt")).unwrap(), b"dear");
    }

    #[test]
    fn folders_with_other_things_are_left_alone() {
        let home = tempfile::tempdir().unwrap();
        fs::write(home.path().join("letter.txt"), b"dear").unwrap();
        assert!(
            matches!(ReportFolder::begin(home.path()), Err(FolderError::Foreign { file, .. }) if file == "letter.txt")
        );
        assert!(matches!(ReportFolder::begin(&home.path().join("letter.txt")), Err(FolderError::Target(_))));
        assert_eq!(names(home.path()), ["letter.txt"]);
    }

    /// A list that leads out of its folder is no mark of ours: it would remove what lies elsewhere.
    #[test]
    fn a_mark_reaches_no_farther_than_its_folder() {
        let home = tempfile::tempdir().unwrap();
        let target = home.path().join("report");
        let letter = home.path().join("letter.txt");
        fs::write(&letter, b"dear").unwrap();
        fs::create_dir(&target).unwrap();
        for line in ["-  ../letter.txt".to_string(), format!("-  {}", letter.display()), "-  ".into(), "letter".into()]
        {
            fs::write(target.join(MARK), format!("{MARK_HEAD}\n{line}\n")).unwrap();
            assert!(matches!(ReportFolder::begin(&target), Err(FolderError::Foreign { .. })), "{line}");
        }
        assert_eq!(fs::read(&letter).unwrap(), b"dear");
    }
}
