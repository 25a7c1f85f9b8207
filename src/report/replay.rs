//! The document of one flight: what happened, then a table of moments.

use super::document::{Block, Document, On, Section, Table};
use super::gallery::Gallery;
use super::plot;
use super::words::number as n;
use crate::flight::Trace;
use crate::scenario::Scenario;

/// Rows of the table.
const ROWS: usize = 40;

/// The figures of a flight.
pub fn gallery(scenario: &Scenario, trace: &Trace) -> Gallery {
    let story = format!("Flight {} under '{}'", trace.flight, trace.policy);
    let draw = |look| {
        vec![
            plot::timeline("timeline", &story, trace, scenario.site.ceiling_m, look),
            plot::budget("budget", &story, trace, look),
        ]
    };
    Gallery::new(draw, vec![])
}

/// The document.
pub fn document(scenario: &Scenario, trace: &Trace) -> Document {
    let every = trace.rows.len().div_ceil(ROWS).max(1);
    let told = trace.rows.iter().enumerate().filter(|(index, row)| {
        let new = *index > 0 && trace.rows[index - 1].doing != row.doing;
        index % every == 0 || new || index + 1 == trace.rows.len()
    });
    let rows = told.map(|(_, row)| {
        vec![
            row.doing.label().into(),
            n(row.time_s, 1),
            n(row.place_m[0], 0),
            n(row.place_m[1], 0),
            n(row.height_m, 0),
            n(row.speed_mps, 1),
            n(row.quality_pct, 0),
            n(row.margin_db, 0),
            row.satellites.to_string(),
            n(row.hdop, 1),
            n(row.charge_pct, 0),
        ]
    });
    let columns = ["doing", "#s", "#east", "#north", "#high", "#m/s", "#link %", "#dB", "#sats", "#HDOP", "#pack %"];
    let happened = trace.events.iter().map(|event| format!("{} s: {}", n(event.time_s, 1), event.what));
    Document {
        kind: "One flight",
        tab: "one flight",
        title: format!("{}: flight {} under '{}'", scenario.title, trace.flight, trace.policy),
        invented: scenario.invented,
        answer: format!("Outcome: {}.", trace.headline),
        sections: vec![
            Section::new("happened", "What happened", "What happened").with(On::Both, Block::List(happened.collect())),
            Section::new("moments", "Moments", "Moments")
                .with(On::Both, Table::new("", &columns).label("Moments").class("tight").rows(rows).block())
                .line(
                    "east, north, high: metres from home. dB: margin of the uplink before fading. Outcome: the worst thing that \
                     happened, on the way or at the end.",
                ),
        ],
        ..Document::default()
    }
}
