//! The document of a height sweep: which height to come home at.

use super::document::{Block, Document, Number, On, Part, Section, Table};
use super::gallery::Gallery;
use super::plot;
use super::words::{brief, cell, count, number, sentence};
use crate::risk::cautions;
use crate::risk::summary::{HeightRow, Heights};

/// The figures of a height sweep, for [`document`].
pub fn gallery(heights: &Heights) -> Gallery {
    Gallery::new(|look| plot::of_heights(heights, look), vec![])
}

/// The document.
pub fn document(heights: &Heights) -> Document {
    let metres = |value: f64| format!("{} m", number(value, 0));
    let interval = heights.interval_m.map(|[low, high]| format!("{} to {}", number(low, 0), metres(high)));
    // The reason large, its count in brackets below it.
    let limit = |what: &str, why: &str| {
        let (reason, note) = why.split_once(" (").unwrap_or((why, ""));
        Number::new(what, sentence(reason), note.trim_end_matches(')'))
    };
    let above = format!("above {}", heights.measured_from);
    let numbers = vec![
        Number::new(
            format!("Recommended heights above {}", heights.measured_from),
            interval.unwrap_or("none".into()),
            "an interval, not a point",
        ),
        limit("What sets the lower limit", &heights.below),
        limit("What sets the upper limit", &heights.above),
        // Rounded up, as in the sentences: a bound.
        Number::new("Tallest obstacle on the ways home", metres(heights.tallest_m.ceil()), above.as_str()),
        Number::new("Ceiling", metres(heights.ceiling_m), above.as_str()),
    ];
    let flown = format!(
        "Policy: {}. The same {} flights at every height; seed {}, version {}, scenario {}.",
        heights.policy,
        count(heights.flights),
        heights.seed,
        heights.program_version,
        &heights.scenario_hash[..heights.scenario_hash.len().min(12)]
    );
    Document {
        kind: "Return heights compared",
        tab: "which height to come home at",
        title: heights.title.clone(),
        invented: heights.invented,
        question: "If the link goes and the craft comes home: at which height?".into(),
        first: cautions::first_of_heights(heights),
        answer: heights.sentence.clone(),
        lead: vec![
            Part::both(Block::Sure(flown)),
            Part::both(Block::Numbers(numbers)),
            Part::page(Block::Figures("heights")),
        ],
        cautions: cautions::of_heights(),
        boxed: true,
        sections: vec![
            Section::new("table", "All heights", "All heights")
                .with(On::Terminal, brief_table(heights).block())
                .with(On::Page, whole_table(heights).block()),
        ],
        ..Document::default()
    }
}

/// The first cells of a row: its height, and its speed where speeds were swept too.
fn lead(heights: &Heights, row: &HeightRow, mark: &str) -> Vec<String> {
    let mut cells = vec![format!("{}{mark}", number(row.height_m, 0))];
    if speeds(heights) {
        cells.push(row.speed_mps.map_or("–".into(), |speed| number(speed, 1)));
    }
    cells
}

fn speeds(heights: &Heights) -> bool {
    heights.rows.iter().any(|row| row.speed_mps.is_some())
}

fn table(heights: &Heights, caption: &str, rest: [&str; 5]) -> Table {
    let speed = if speeds(heights) { vec!["#m/s"] } else { vec![] };
    let columns: Vec<&str> = ["#height / m"].into_iter().chain(speed).chain(rest).collect();
    Table::new(caption, &columns)
}

fn brief_table(heights: &Heights) -> Table {
    let columns = ["#danger to people", "#lost or worse", "#at home", "#charge left / %", "#time / s"];
    let mut table = table(heights, "Of 1,000 lost links; * recommended.", columns);
    for row in &heights.rows {
        let inside =
            heights.interval_m.is_some_and(|[low, high]| row.height_m >= low - 1e-9 && row.height_m <= high + 1e-9);
        let mut cells = lead(heights, row, if inside { " *" } else { "" });
        cells.extend([cell(&row.danger), brief(&row.craft_lost), brief(&row.at_home)]);
        cells.extend([row.pack_left_pct[1], row.time_s[1]].map(|value| number(value, 0)));
        table.row(cells, inside);
    }
    table
}

fn whole_table(heights: &Heights) -> Table {
    let caption =
        "Of 1,000 lost links, with intervals; charge and time: the median, and the middle 90 % of the flights.";
    let columns = ["#danger to people", "#craft lost or worse", "#at home", "#charge left / %", "#time to the end / s"];
    let spread =
        |[low, half, high]: [f64; 3]| format!("{} ({} to {})", number(half, 0), number(low, 0), number(high, 0));
    let rows = heights.rows.iter().map(|row| {
        let mut cells = lead(heights, row, "");
        cells.extend([&row.danger, &row.craft_lost, &row.at_home].map(cell));
        cells.extend([row.pack_left_pct, row.time_s].map(spread));
        cells
    });
    table(heights, caption, columns).label("Table of heights").rows(rows)
}
