//! Shipped scenarios and named files, damaged: the reader refuses, it never panics.

use super::helpers::{Folder, flat, scenario_files};
use lostlink::scenario;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use std::path::Path;

/// The shipped scenarios, to be damaged.
fn texts() -> Vec<String> {
    let mut texts: Vec<String> =
        scenario_files().iter().map(|path| std::fs::read_to_string(path).expect("readable")).collect();
    texts.push(scenario::SHORTEST.into());
    texts
}

fn read_and_draw(text: &str) {
    let folder = Folder(Path::new(env!("LOSTLINK_ROOT")).join("scenarios"));
    match scenario::read("mutated.toml", text, &folder) {
        Ok(scenario) => assert!(!scenario.policies.is_empty()),
        Err(found) => {
            assert!(found.iter().any(|finding| finding.severity == scenario::Severity::Error));
            assert!(!lostlink::cli::diagnostics::render(&found, true).is_empty());
        }
    }
}

#[test]
fn odd_ends_do_not_make_the_reader_panic() {
    for text in [
        "",
        "\n",
        "\u{feff}",
        "[",
        "title",
        "title = ",
        "[[policy]]\n[[policy.action]]",
        "[craft",
        "a.b.c = 1",
        "[policy]",
        "policy = [1]",
    ] {
        read_and_draw(text);
    }
}

pub(super) const PIECES: [&str; 24] = [
    "-1",
    "0",
    "1e300",
    "nan",
    "inf",
    "-inf",
    "\"\"",
    "[",
    "]",
    "{",
    "}",
    "=",
    "\n",
    "#",
    "true",
    "[[]]",
    "[[0, 0]]",
    "{ normal = [1, 1] }",
    "9223372036854775807",
    "2026-01-01",
    "'",
    "\"\"\"",
    "é",
    "\u{0}",
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, rng_seed: RngSeed::Fixed(20_260_516), ..ProptestConfig::default() })]

    /// Bytes cut out, doubled or replaced anywhere.
    #[test]
    fn no_text_makes_the_reader_panic(
        which in 0usize..8,
        edits in prop::collection::vec((0.0f64..1.0, 0usize..40, 0usize..PIECES.len()), 1..6),
    ) {
        let texts = texts();
        let mut text = texts[which % texts.len()].clone();
        for (place, cut, piece) in edits {
            let mut at = (place * text.len() as f64) as usize;
            while !text.is_char_boundary(at) {
                at -= 1;
            }
            let mut end = (at + cut).min(text.len());
            while !text.is_char_boundary(end) {
                end += 1;
            }
            text.replace_range(at..end, PIECES[piece]);
        }
        read_and_draw(&text);
    }

    /// One value replaced by another of any kind: the text still parses, so every later stage is met.
    #[test]
    fn no_value_makes_the_reader_panic(which in 0usize..8, line in 0usize..400, piece in 0usize..PIECES.len()) {
        let texts = texts();
        let text = &texts[which % texts.len()];
        let keyed: Vec<usize> = text.lines().enumerate().filter(|(_, line)| line.contains(" = ") && !line.starts_with('#')).map(|pair| pair.0).collect();
        let chosen = keyed[line % keyed.len()];
        let mutated: Vec<String> = text
            .lines()
            .enumerate()
            .map(|(index, line)| {
                if index == chosen { format!("{} = {}", line.split(" = ").next().unwrap_or_default(), PIECES[piece]) } else { line.to_string() }
            })
            .collect();
        read_and_draw(&mutated.join("\n"));
    }

    /// Files that a scenario names may hold anything.
    #[test]
    fn no_named_file_makes_the_reader_panic(bytes in prop::collection::vec(any::<u8>(), 0..200), place in 0.0f64..1.0, piece in 0usize..PIECES.len()) {
        let extra = "terrain_file = \"f\"\nground_file = \"g.geojson\"";
        let path = "file = \"h.gpx\"";
        let good = [
            "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1000\n1 2\n3 4\n".to_string(),
            r#"{ "type": "Feature", "properties": { "kind": "water", "width_m": 3 }, "geometry": { "type": "LineString", "coordinates": [[9.0, 47.0], [9.001, 47.001]] } }"#.to_string(),
            "<gpx><trk><trkseg><trkpt lat=\"47\" lon=\"9\"><ele>430</ele></trkpt></trkseg></trk></gpx>".to_string(),
        ];
        let damaged = good.map(|text| {
            let at = (place * text.len() as f64) as usize;
            format!("{}{}{}", &text[..at], PIECES[piece], &text[(at + 1).min(text.len())..]).into_bytes()
        });
        for files in [damaged, [bytes.clone(), bytes.clone(), bytes.clone()]] {
            let names = ["f", "g.geojson", "h.gpx"].map(String::from);
            let files = scenario::MemoryFiles(names.into_iter().zip(files).collect());
            if let Err(found) = scenario::read("m.toml", &flat(extra, path), &files) {
                lostlink::cli::diagnostics::render(&found, false);
            }
        }
    }
}
