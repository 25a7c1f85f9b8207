//! One flight told on a terminal.

use super::survey::CAUTION;
use super::terminal::{Manner, Page};
use super::words;
use crate::flight::Trace;
use crate::scenario::Scenario;

/// Rows of the table.
const ROWS: usize = 40;

/// The flight in words, 80 columns: what happened, then a table of moments.
pub fn text(scenario: &Scenario, trace: &Trace, manner: Manner) -> String {
    let mut page = Page::new(manner);
    let n = words::number;
    page.title(&format!("{}: flight {} under '{}'", scenario.title, trace.flight, trace.policy));
    page.line(&format!("Outcome: {}.", trace.headline));
    page.heading("What happened");
    for (time_s, what) in &trace.events {
        page.line(&format!("{:>7} s  {what}", n(*time_s, 1)));
    }
    page.heading("Moments");
    let every = trace.rows.len().div_ceil(ROWS).max(1);
    let mut rows: Vec<Vec<String>> = Vec::new();
    for (index, row) in trace.rows.iter().enumerate() {
        let new = index > 0 && trace.rows[index - 1].doing != row.doing;
        if index % every == 0 || new || index + 1 == trace.rows.len() {
            rows.push(vec![
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
            ]);
        }
    }
    page.plain_table(&["doing", "s", "east", "north", "high", "m/s", "link %", "dB", "sats", "HDOP", "pack %"], &rows);
    page.line("east, north, high: metres from home. dB: margin of the uplink before fading. Outcome: the worst thing that happened, on the way or at the end.");
    page.heading("Cautions");
    page.line(CAUTION);
    page.finish()
}
