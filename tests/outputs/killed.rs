//! Killed at any moment, a full disk, a closed pipe, a place that cannot be written: the earlier report stands or the new one is whole,
//! the error says what is wrong, the exit code says that something is.

use crate::typed::{self, at_work, complaint, contents, lostlink, output, process, seen};
use lostlink::report::folder::ReportFolder;
use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};
use tempfile::TempDir;

const SCENARIO: &str = r#"
title = "A small field"
flights = 4
[site]
extent_m = [-60, -60, 60, 60]
cell_m = 10
[craft]
mass_kg = 1
[path]
waypoints_m = [[0, 20, 20]]
[loss.cut]
any_time = true
[[policy]]
name = "drop"
action = [{ drop = {} }]
"#;

fn field() -> TempDir {
    typed::field(SCENARIO)
}

/// Whether systems of this kind put a report in the place of another in one step; others need two, and a kill may fall between them.
const SWAPS: bool = cfg!(any(target_os = "linux", target_vendor = "apple"));

/// How long a process may take until the first thing happens, on a machine that has much else to do.
const BEGUN_WITHIN: Duration = Duration::from_secs(5);

/// The quickest command that makes a whole folder.
const RUN: [&str; 4] = ["sky", "field.toml", "--out", "report"];

/// Two reports by turns, for ever: what `a_report_is_whole_at_any_moment` kills.
#[test]
#[ignore = "never ends; another test starts and kills it"]
fn by_turns() {
    let Some(target) = std::env::var_os("LOSTLINK_BY_TURNS") else { return };
    for turn in 0u32.. {
        let folder = ReportFolder::begin(Path::new(&target)).expect("begun");
        for file in FILES {
            folder.write(file, &[b'a' + (turn % 2) as u8; 20_000]).expect("written");
        }
        folder.finish().expect("finished");
    }
}

const FILES: [&str; 3] = ["report.html", "summary.json", "figures/map.svg"];

/// A process that does nothing but put one report in the place of another is killed again and again: what it leaves is whole, and the
/// next run clears up.
#[cfg(any(target_os = "linux", target_vendor = "apple"))]
#[test]
fn a_report_is_whole_at_any_moment() {
    let folder = tempfile::tempdir().expect("a folder");
    let target = folder.path().join("report");
    let this = std::env::current_exe().expect("this program");
    let mut by_letter = [0, 0];
    for kill in 0..40 {
        // While reports are swapped, a file of the one or of the other may be gone.
        let look = || seen(&target).ok();
        let earlier = look();
        let mut child = std::process::Command::new(&this)
            .args(["killed::by_turns", "--exact", "--ignored"])
            .env("LOSTLINK_BY_TURNS", &target)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("runs");
        // It has begun when something changes; then it is killed a moment later, another one each time.
        let start = Instant::now();
        while look() == earlier && start.elapsed() < BEGUN_WITHIN {}
        let began = start.elapsed() < BEGUN_WITHIN;
        std::thread::sleep(Duration::from_micros(137 * kill));
        child.kill().expect("killed");
        child.wait().expect("gone");
        assert!(began, "kill {kill}: nothing happened");
        let now = contents(&target);
        let letter = now.get(FILES[0]).map_or(b'?', |bytes| bytes[0]);
        for file in FILES {
            assert!(now.get(file).is_some_and(|bytes| *bytes == [letter; 20_000]), "after kill {kill}: {file}");
        }
        // With the folder of figures and the mark.
        assert_eq!(now.len(), FILES.len() + 2, "{:?}", now.keys());
        by_letter[usize::from(letter - b'a')] += 1;
    }
    assert!(by_letter[0] > 2 && by_letter[1] > 2, "{by_letter:?}");
    ReportFolder::begin(&target).expect("begun").finish().expect("finished");
    let names: Vec<_> =
        std::fs::read_dir(folder.path()).expect("a folder").flatten().map(|entry| entry.file_name()).collect();
    assert_eq!(names, ["report"], "what killed runs left is cleared away");
}

/// Runs the program in a folder and kills it after so long; whether it ended well before.
fn killed_after(folder: &Path, arguments: &[&str], wait: Duration) -> bool {
    let mut run = at_work(folder, arguments);
    std::thread::sleep(wait);
    // It may have ended before.
    let _ = run.kill();
    run.wait().expect("gone").success()
}

/// Moments of a run to kill it at, as shares of the time that a whole one took: from its start to its end. Where the machine was slow
/// just then, all of them may come too late: then it is killed at once, over again.
fn moments(whole: Duration) -> impl Iterator<Item = Duration> {
    let shares = (0..8).map(move |moment| whole.mul_f64(f64::from(moment) / 7.0));
    shares.chain(std::iter::repeat_n(Duration::ZERO, 20))
}

/// How many of [`moments`] are tried in any case.
const TRIED: usize = 8;

/// The program itself, killed at some moments of its run over an earlier report: that stands, or the new one is whole.
#[test]
fn a_run_killed_at_any_moment_leaves_one_whole_report() {
    let folder = field();
    let report = folder.path().join("report");
    let with = |height: &'static str| [&RUN[..], &["--height", height]].concat();
    let made = |height: &'static str| {
        output(folder.path(), &with(height));
        contents(&report)
    };
    let other = made("20");
    let began = Instant::now();
    let earlier = made("60");
    let whole = began.elapsed();
    assert!(earlier.len() > 3 && earlier != other, "two reports that can be told apart");
    let mut kept = 0;
    for (index, moment) in moments(whole).enumerate() {
        if index >= TRIED && kept > 0 {
            break;
        }
        let ended = killed_after(folder.path(), &with("20"), moment);
        let now = seen(&report).unwrap_or_default();
        assert!(
            now == earlier && !ended || now == other || !SWAPS && now.is_empty(),
            "after {moment:?}: neither report is whole"
        );
        kept += u32::from(now == earlier);
        if now != earlier {
            assert!(made("60") == earlier);
        }
    }
    assert!(kept > 0, "no kill came before the end");
    assert!(made("20") == other);
    assert_eq!(std::fs::read_dir(folder.path()).expect("a folder").count(), 2, "what killed runs left is cleared away");
}

/// Killed without an earlier report: there is none, or a whole one.
#[test]
fn a_first_run_killed_leaves_no_half_of_a_report() {
    let scratch = field();
    let began = Instant::now();
    output(scratch.path(), &RUN);
    let whole = began.elapsed();
    let expected = contents(&scratch.path().join("report"));
    assert!(expected.contains_key("sky.html"), "{:?}", expected.keys());
    let mut none = 0;
    for (index, moment) in moments(whole).enumerate() {
        if index >= TRIED && none > 0 {
            break;
        }
        let folder = field();
        let ended = killed_after(folder.path(), &RUN, moment);
        let left = seen(&folder.path().join("report")).ok();
        assert!(left.as_ref().map_or(!ended, |left| *left == expected), "after {moment:?}: half of a report");
        none += u32::from(left.is_none());
    }
    assert!(none > 0, "no kill came before the end");
}

/// A run killed while it flies leaves the earlier report as it was and no half-written one; the next run clears up.
#[test]
fn a_killed_run_leaves_the_earlier_report_alone() {
    let folder = field();
    let report = folder.path().join("report");
    let arguments = ["assess", "field.toml", "--quick", "--out", "report"];
    let first = output(folder.path(), &arguments);
    let before = contents(&report);
    assert!(before.len() >= 4, "{} files", before.len());
    let hidden = || {
        let entries =
            std::fs::read_dir(folder.path()).expect("a folder").map(|entry| entry.expect("readable").file_name());
        entries.filter(|name| name.to_string_lossy().starts_with('.')).count()
    };
    // Far more flights than can be flown before the kill.
    let mut run = at_work(folder.path(), &[&arguments[..], &["--flights", "5000000"]].concat());
    let start = Instant::now();
    while hidden() == 0 && start.elapsed() < BEGUN_WITHIN {
        std::thread::sleep(Duration::from_millis(5));
    }
    let (began, ended) = (hidden() > 0, run.try_wait().expect("known").is_some());
    run.kill().expect("killed");
    run.wait().expect("gone");
    assert!(began && !ended, "it is at work on a report beside the earlier one");
    assert!(contents(&report) == before, "the earlier report stands");
    assert_eq!(output(folder.path(), &arguments), first, "and the next run is as the first");
    assert_eq!(hidden(), 0, "what the killed run left is cleared");
    assert!(contents(&report) == before);
}

/// Whoever reads no further ends the program, quietly: that is no failure.
#[cfg(unix)]
#[test]
fn a_closed_pipe_is_a_quiet_end() {
    let folder = field();
    let out = folder.path().join("out");
    for arguments in [
        &["check", "field.toml"][..],
        &["check", "field.toml", "--json"],
        &["replay", "field.toml", "--flight", "1", "--json"],
        &["completions", "bash"],
        &["--help"],
        &["assess", "--help"],
    ] {
        let stderr = std::fs::File::create(&out).expect("a file");
        let mut run = process(folder.path(), arguments).stdout(Stdio::piped()).stderr(stderr).spawn().expect("runs");
        // The reader is gone before the first byte.
        drop(run.stdout.take());
        let code = run.wait().expect("gone").code();
        let told = std::fs::read_to_string(&out).expect("text");
        assert_eq!((code, told.as_str()), (Some(0), ""), "{arguments:?}");
    }
}

/// Nothing more fits on the disk.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_with_its_place() {
    let folder = field();
    let full = || std::fs::OpenOptions::new().write(true).open("/dev/full").expect("a device that is always full");
    for arguments in [&["check", "field.toml"][..], &["check", "field.toml", "--json"], &["completions", "fish"]] {
        let mut run = process(folder.path(), arguments);
        let run = run.stdout(full()).stderr(Stdio::piped()).output().expect("runs");
        let told = String::from_utf8_lossy(&run.stderr).into_owned();
        assert_eq!(run.status.code(), Some(1), "{arguments:?}: {told}");
        assert!(told.starts_with("lostlink: standard output: No space left on device"), "{arguments:?}: {told}");
    }
    // A file named on the command line.
    let told = complaint(folder.path(), &["replay", "field.toml", "--flight", "1", "--page", "/dev/full"], 1);
    assert!(told.contains("/dev/full: No space left on device"), "{told}");
}

/// A file where a folder is needed, a folder where a file is.
#[test]
fn a_place_that_cannot_be_written_is_told() {
    let folder = field();
    std::fs::write(folder.path().join("letter"), "dear").expect("written");
    std::fs::create_dir(folder.path().join("drawer")).expect("made");
    for (arguments, words, code) in [
        (&["replay", "field.toml", "--flight", "1", "--out", "letter/report"][..], "letter", 1),
        (
            &["replay", "field.toml", "--flight", "1", "--out", "letter"],
            "letter cannot be a report folder; name another with --out",
            1,
        ),
        (
            &["replay", "field.toml", "--flight", "1", "--page", "drawer"],
            "lostlink: drawer: it is a folder; accepted: the name of a file",
            2,
        ),
        (&["replay", "field.toml", "--flight", "1", "--page", "letter/page.html"], "letter", 1),
        (&["figure", "field.toml", "map", "--out", "letter/map.svg"], "letter", 1),
    ] {
        let run = lostlink(folder.path(), arguments).assert().code(code);
        let told = String::from_utf8_lossy(&run.get_output().stderr).into_owned();
        assert!(told.contains(words), "{arguments:?}: {told}");
        assert_eq!(std::fs::read(folder.path().join("letter")).expect("there"), b"dear");
    }
    let left: Vec<_> =
        std::fs::read_dir(folder.path()).expect("a folder").flatten().map(|entry| entry.file_name()).collect();
    assert_eq!(left.len(), 3, "nothing half-written is left: {left:?}");
}

/// A file that is there is replaced whole; what a link leads to is replaced, the link stays; one that is read-only stays.
#[cfg(unix)]
#[test]
fn a_file_is_replaced_whole() {
    use std::os::unix::fs::PermissionsExt;
    let folder = field();
    let page = folder.path().join("page.html");
    std::fs::write(&page, "an earlier page").expect("written");
    std::os::unix::fs::symlink("page.html", folder.path().join("link.html")).expect("linked");
    let arguments = ["replay", "field.toml", "--flight", "1", "--page", "link.html"];
    lostlink(folder.path(), &arguments).assert().code(0);
    assert!(folder.path().join("link.html").symlink_metadata().expect("there").file_type().is_symlink());
    let text = std::fs::read_to_string(&page).expect("text");
    assert!(
        text.starts_with("<!DOCTYPE html>") && text.trim_end().ends_with("</html>"),
        "{}",
        &text[..60.min(text.len())]
    );
    std::fs::set_permissions(&page, std::fs::Permissions::from_mode(0o444)).expect("set");
    let run = lostlink(folder.path(), &arguments).assert().code(1);
    let told = String::from_utf8_lossy(&run.get_output().stderr).into_owned();
    assert!(told.contains("link.html") && told.to_lowercase().contains("permission denied"), "{told}");
    assert_eq!(std::fs::read_to_string(&page).expect("text"), text);
}

/// Pipes, devices and folders in the place of a summary are refused without being read.
#[cfg(unix)]
#[test]
fn a_summary_is_a_file() {
    let folder = field();
    for (name, words) in [("/dev/zero", "it is a pipe or a device, not a file"), (".", "it is a folder, not a file")] {
        let run = lostlink(folder.path(), &["page", name]).timeout(Duration::from_secs(20)).assert().code(2);
        let told = String::from_utf8_lossy(&run.get_output().stderr).into_owned();
        assert!(told.contains(words), "{told}");
    }
}
