//! Terminal text, JSON on summaries made by hand.

use crate::common;

use lostlink::report::terminal::{self, Manner};
use lostlink::report::{assess, card, heights, json, reach};
use lostlink::risk::cautions;
use lostlink::risk::summary::Summary;

fn cases() -> Vec<(&'static str, Summary)> {
    vec![
        ("plain", common::summary()),
        ("full", common::full()),
        ("many", common::many()),
        ("bare", common::bare()),
        ("never", common::never_lost()),
    ]
}

#[test]
fn terminal_text_fits_eighty_columns() {
    let mut texts: Vec<(String, String)> = Vec::new();
    for ascii in [false, true] {
        let manner = Manner { colour: false, ascii };
        for (name, summary) in cases() {
            texts.push((format!("{name} {ascii}"), terminal::print(&assess::document(&summary), manner)));
        }
        for (name, document) in [
            ("heights", heights::document(&common::heights())),
            ("reach", reach::document(&common::reach(), true)),
            ("card", card::document(&common::sheet())),
        ] {
            texts.push((format!("{name} {ascii}"), terminal::print(&document, manner)));
        }
    }
    for (name, text) in &texts {
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{name}: {} columns: {line}", line.chars().count());
            assert_eq!(line, line.trim_end(), "{name}");
        }
        assert!(text.contains("Cautions"), "{name}");
        assert!(!text.contains("NaN") && !text.contains('\u{1b}'), "{name}");
        let lower = text.to_lowercase();
        assert!(!lower.split(|c: char| !c.is_alphanumeric()).any(|word| word == "safe"), "{name}");
        assert!(!lower.contains(" 0 %"), "{name}");
        if name.ends_with("true") {
            assert!(text.is_ascii(), "{name}: {:?}", text.chars().find(|c| !c.is_ascii()));
        }
    }
    texts[..8].iter().for_each(|(_, text)| println!("{text}"));
}

#[test]
fn colour_only_on_a_terminal_and_not_against_no_color() {
    use std::ffi::OsStr;
    assert!(Manner::of(true, None, false).colour);
    assert!(Manner::of(true, Some(OsStr::new("")), false).colour);
    assert!(!Manner::of(true, Some(OsStr::new("1")), false).colour);
    assert!(!Manner::of(false, None, false).colour);
    let coloured = terminal::print(&assess::document(&common::full()), Manner { colour: true, ascii: false });
    let plain = terminal::print(&assess::document(&common::full()), Manner::default());
    assert!(coloured.contains("\u{1b}["));
    // Without its escape sequences it is the plain text.
    let mut bare = String::new();
    let mut inside = false;
    for c in coloured.chars() {
        match c {
            '\u{1b}' => inside = true,
            'm' if inside => inside = false,
            c if !inside => bare.push(c),
            _ => {}
        }
    }
    assert_eq!(bare, plain);
}

#[test]
fn json_reads_back_and_names_its_version() {
    for (name, summary) in cases() {
        let mut bytes = Vec::new();
        json::write(&summary, &mut bytes).expect("writing into memory");
        let value: serde_json::Value = serde_json::from_slice(&bytes).expect(name);
        assert_eq!((&value["format"], &value["version"]), (&"lostlink-summary".into(), &3.into()));
        assert_eq!(value["policies"].as_array().map(Vec::len), Some(summary.policies.len()));
        assert!(bytes.ends_with(b"}\n"));
        // Every key of the document is told of in the documentation.
        let documentation = include_str!("../../docs/summary.md");
        let mut keys = std::collections::BTreeSet::new();
        collect(&value, &mut keys);
        for key in keys {
            assert!(documentation.contains(&format!("`{key}`")), "docs/summary.md does not tell of `{key}`");
        }
    }
}

/// What is read back is what was written, to the last digit and the last number that does not exist.
#[test]
fn a_summary_reads_back_as_it_was() {
    for (name, summary) in cases() {
        let mut written = Vec::new();
        json::write(&summary, &mut written).expect("writing into memory");
        let read: lostlink::Summary = serde_json::from_slice(&written).expect(name);
        let mut again = Vec::new();
        json::write(&read, &mut again).expect("writing into memory");
        assert!(written == again, "{name}");
        let print = |summary| terminal::print(&assess::document(summary), Manner::default());
        assert_eq!(print(&summary), print(&read), "{name}");
    }
}

/// Where the shape of the site is uncertain, that it takes few values is told beside what the intervals cover; where it is known, not.
#[test]
fn an_uncertain_site_says_what_the_intervals_leave_out() {
    let mut summary = common::full();
    let told = |summary: &Summary| {
        let line = cautions::of_summary(summary).into_iter().find(|line| line.starts_with("Intervals cover"));
        line.expect("what they cover")
            .contains("intervals hold for the 4 values drawn with the seed alone. Compare a few seeds.")
    };
    summary.inputs.retain(|row| !row.key.starts_with("site."));
    assert!(!told(&summary));
    let mut row = summary.inputs[0].clone();
    (row.key, row.value) = ("site.obstacle[0].height_m".into(), "12".into());
    summary.inputs.push(row.clone());
    assert!(!told(&summary), "a height that is known");
    row.value = "{ uniform = [10, 14] }".into();
    summary.inputs.push(row);
    assert!(told(&summary));
}

/// What a long run takes from its first lost links alone is told, with how many they are; of others nothing is said.
#[test]
fn a_long_run_says_what_is_of_its_first_lost_links() {
    let told = |summary: &Summary| cautions::of_summary(summary).into_iter().find(|line| line.contains("of the first"));
    let mut summary = common::full();
    assert_eq!(told(&summary), None);
    summary.policies.iter_mut().for_each(|policy| policy.lost = 36_412);
    let line = told(&summary).expect("it is told");
    assert!(line.contains("all 36,412 lost links") && line.ends_with("are of the first 20,000."), "{line}");
}

fn collect(value: &serde_json::Value, keys: &mut std::collections::BTreeSet<String>) {
    match value {
        serde_json::Value::Object(map) => {
            for (key, value) in map {
                keys.insert(key.clone());
                collect(value, keys);
            }
        }
        serde_json::Value::Array(list) => list.iter().for_each(|value| collect(value, keys)),
        _ => {}
    }
}

/// Codes of the files stand in their documentation, each as it is written.
#[test]
fn codes_are_documented() {
    use lostlink::flight::{Ground, Headline, LossCause, Manner, Tier};
    let documentation = include_str!("../../docs/summary.md");
    let word = |value: serde_json::Value| value.as_str().expect("a word").to_string();
    fn json<T: serde::Serialize>(value: &T) -> serde_json::Value {
        serde_json::to_value(value).expect("a word")
    }
    let words: Vec<String> = Headline::ALL
        .iter()
        .map(|headline| headline.word().to_string())
        .chain(Manner::ALL.iter().map(|code| word(json(code))))
        .chain(Ground::ALL.iter().map(|code| word(json(code))))
        .chain(LossCause::ALL.iter().map(|code| word(json(code))))
        .chain(Tier::ALL.iter().map(|code| word(json(code))))
        .collect();
    assert!(words.len() > 40, "{words:?}");
    let missing: Vec<&String> = words.iter().filter(|code| !documentation.contains(&format!("| `{code}` |"))).collect();
    assert!(missing.is_empty(), "docs/summary.md does not tell of {missing:?}");
}

#[test]
fn columns_of_the_flights_file_are_documented() {
    let documentation = include_str!("../../docs/summary.md");
    use lostlink::report::csv::{COLUMNS, EARTH_COLUMNS};
    for (column, meaning) in COLUMNS.into_iter().chain(EARTH_COLUMNS) {
        assert!(
            documentation.contains(&format!("`{column}` | {meaning}")),
            "docs/summary.md does not tell of `{column}`: {meaning}"
        );
    }
}
