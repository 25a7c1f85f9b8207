//! Pages of summaries made by hand: complete, offline, honest. They are written below the tests' temporary folder
//! (`target/tmp/pages`), where the browser test opens them.

use crate::common;

use lostlink::report::document::Document;
use lostlink::report::gallery::Gallery;
use lostlink::report::{assess, card, heights, page, reach};
use lostlink::risk::summary::Summary;
use std::path::PathBuf;

fn keep(name: &str, page: &[u8]) {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("pages");
    std::fs::create_dir_all(&folder).expect("the tests' folder can be made");
    std::fs::write(folder.join(name), page).expect("the page can be written");
}

fn printed(name: &str, document: &Document, gallery: &Gallery) -> String {
    let mut bytes = Vec::new();
    page::write(document, gallery, &mut bytes).expect("writing into memory");
    keep(&format!("{name}.html"), &bytes);
    String::from_utf8(bytes).expect("the page is UTF-8")
}

fn report(name: &str, summary: &Summary) -> String {
    printed(name, &assess::document(summary), &assess::gallery(summary))
}

/// The words a reader sees, without markup, styles and fonts.
fn words(page: &str) -> String {
    let body = &page[page.find("<body").expect("a body")..];
    let mut out = String::new();
    let mut inside = false;
    for c in body.chars() {
        match c {
            '<' => inside = true,
            '>' => {
                inside = false;
                out.push(' ');
            }
            c if !inside => out.push(c),
            _ => {}
        }
    }
    out
}

fn check(name: &str, page: &str) {
    assert!(
        !page.contains("http://")
            || page.matches("http://").count() == page.matches("http://www.w3.org/2000/svg").count(),
        "{name}"
    );
    assert!(!page.contains("https://") && !page.contains("<script"), "{name}: nothing from outside, no script");
    let words = words(page);
    let lower = words.to_lowercase();
    assert!(
        !lower.split(|c: char| !c.is_alphanumeric()).any(|word| word == "safe" || word == "safely"),
        "{name} says it"
    );
    for (at, _) in lower.match_indices("0 %") {
        let before = lower[..at].chars().next_back();
        assert!(
            before.is_some_and(|c| c.is_ascii_digit() || c == '.'),
            "{name}: a rate of nothing: {}",
            &words[at.saturating_sub(40)..at + 3]
        );
    }
    for never in ["NaN", "inf ", "{{", "{%", ">None<", "Some("] {
        assert!(!words.contains(never), "{name} shows {never}");
    }
    // Ids are unique, references to them exist.
    let mut ids = std::collections::BTreeSet::new();
    for piece in page.split(" id=\"").skip(1) {
        let id = &piece[..piece.find('"').expect("closed")];
        assert!(ids.insert(id.to_string()), "{name}: id {id} twice");
    }
    for (start, end) in [("url(#", ')'), ("href=\"#", '"')] {
        for piece in page.split(start).skip(1) {
            let id = &piece[..piece.find(end).expect("closed")];
            assert!(ids.contains(id), "{name}: nothing has the id {id}");
        }
    }
}

#[test]
fn report_pages() {
    for (name, summary) in [
        ("report-plain", common::summary()),
        ("report", common::full()),
        ("report-many", common::many()),
        ("report-bare", common::bare()),
        ("report-never", common::never_lost()),
    ] {
        let page = report(name, &summary);
        check(name, &page);
        let words = words(&page);
        let escaped = |text: &str| {
            text.replace('&', "&#38;")
                .replace('<', "&#60;")
                .replace('>', "&#62;")
                .replace('"', "&#34;")
                .replace('\'', "&#39;")
        };
        for must in [&summary.title, &summary.about, &summary.command, &summary.scenario_hash, &summary.program_version]
        {
            assert!(words.contains(&escaped(must)), "{name} lacks {must}");
        }
        for policy in &summary.policies {
            assert!(words.contains(&escaped(&policy.name)), "{name} lacks {}", policy.name);
        }
        for row in summary.inputs.iter().filter(|row| row.line.is_some()) {
            assert!(words.contains(&row.key), "{name} lacks {}", row.key);
        }
        let cautions = assess::document(&summary).cautions;
        assert_eq!(cautions.len(), 8);
        for caution in &cautions {
            assert!(words.contains(&escaped(caution)), "{name} lacks {caution}");
        }
        assert!(words.contains("It permits nothing"));
        // Four sheets of paper, then the annex: answer, map, what changes it, limits.
        let sheets: Vec<&str> =
            page.split("<div class=\"").skip(1).map(|rest| &rest[..rest.find('"').unwrap()]).collect();
        let on_paper = |class: &str| sheets.iter().filter(|sheet| sheet.split(' ').any(|word| word == class)).count();
        assert_eq!((on_paper("sheet"), on_paper("annex")), (4, 1), "{name}: {sheets:?}");
        let at = |id: &str| page.find(&format!("id=\"{id}\"")).unwrap_or_else(|| panic!("{name} has no {id}"));
        let order = ["policies", "drives", "limits", "made", "loss", "plan", "counts"];
        let places: Vec<usize> =
            order.iter().filter(|id| **id != "drives" || page.contains("id=\"drives\"")).map(|id| at(id)).collect();
        assert!(places.is_sorted(), "{name}: {places:?}");
    }
}

#[test]
fn zero_events_are_a_bound() {
    let page = report("report-bare", &common::bare());
    let words = words(&page);
    assert!(words.contains("none seen in 60"), "danger of nothing seen is told with its number of flights");
    assert!(
        words.contains("fewer than 61 of 1,000"),
        "and its bound (3.84/63.84, rounded up, by Wilson's interval, as the made-up shares have it)"
    );
}

#[test]
fn other_pages() {
    let (found, sweep) = (common::heights(), common::reach());
    check("heights", &printed("heights", &heights::document(&found), &heights::gallery(&found)));
    let page = printed("reach", &reach::document(&sweep, true), &reach::gallery(&sweep, &common::site()));
    check("reach", &page);
    let mut bytes = Vec::new();
    page::write_card(&card::document(&common::sheet()), &mut bytes).expect("writing into memory");
    keep("sheet.html", &bytes);
    let page = String::from_utf8(bytes).expect("UTF-8");
    check("sheet", &page);
    assert_eq!(page.matches(">change it<").count(), 2, "two settings differ from the delivered ones");
    assert_eq!(page.matches(">check it<").count(), 1, "one is not known");
    assert!(page.contains("* estimate"), "tolerances are explained");
}

/// Where nothing was worked out of what would change the answer, the page says why.
#[test]
fn a_page_says_why_a_question_was_left_open() {
    let asked = common::full();
    assert!(asked.information.is_some() && asked.loss.lost.events > 0 && asked.policies.len() > 1);
    let changed = |change: &dyn Fn(&mut Summary)| {
        let mut summary = asked.clone();
        if let Some(found) = &mut summary.information {
            found.inputs.clear();
            found.again.clear();
            (found.screened, found.stands) = (0, None);
        }
        change(&mut summary);
        words(&report("left-open", &summary))
    };
    for (change, says) in [
        (&(|s: &mut Summary| s.information = None) as &dyn Fn(&mut Summary), "Left out of a quick run"),
        (&|s| s.loss.lost.events = 0, "Not worked out: no link was lost."),
        (
            &|s| *s = Summary { information: s.information.clone(), ..common::bare() },
            "Not worked out: there is no other policy",
        ),
        (&|_| (), "Not worked out: no input is given with a spread."),
    ] {
        let text = changed(change);
        assert!(text.contains(says), "no \"{says}\"");
        assert_eq!(text.matches("Not worked out").count() + text.matches("Left out of").count(), 1, "{says}");
    }
    let whole = words(&report("asked", &asked));
    assert!(!whole.contains("Not worked out") && !whole.contains("Left out of a quick run"));
}

#[test]
fn a_report_folder_is_whole_and_the_same_twice() {
    use lostlink::report::folder::ReportFolder;
    let home = tempfile::tempdir().expect("a folder");
    let mut both = Vec::new();
    for name in ["one", "two"] {
        let target = home.path().join(name);
        let mut folder = ReportFolder::begin(&target).expect("a new folder");
        folder.pictures = true;
        let summary = common::full();
        folder.page("report.html", &assess::document(&summary), &assess::gallery(&summary)).expect("written");
        folder.summary_data(&summary).expect("written");
        folder.finish().expect("renamed");
        let mut files = std::collections::BTreeMap::new();
        for folder in [target.clone(), target.join("figures")] {
            for entry in std::fs::read_dir(folder).expect("there") {
                let path = entry.expect("readable").path();
                if path.is_file() {
                    let name = path.strip_prefix(&target).expect("below").display().to_string();
                    files.insert(name, std::fs::read(&path).expect("readable"));
                }
            }
        }
        both.push(files);
    }
    for name in [
        "report.html",
        "summary.json",
        "ends.geojson",
        "figures/map.svg",
        "figures/map.png",
        "figures/bars.svg",
        "figures/timeline-1.png",
    ] {
        assert!(both[0].contains_key(name), "{name} is missing");
    }
    assert!(both[0] == both[1], "the same summary gives the same bytes");
    let left: Vec<_> = std::fs::read_dir(home.path()).expect("there").collect();
    assert_eq!(left.len(), 2, "nothing is left beside the reports");
}
