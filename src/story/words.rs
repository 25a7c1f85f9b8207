//! Numbers and directions as they are said.

use crate::flight::{Trace, TraceRow};
use crate::risk::words::{direction, number};
use crate::units::SAME_MOMENT_S;

/// A craft that moves more slowly has no course. Estimate.
const MOVES_MPS: f64 = 0.5;

/// A length: a decimal below ten metres.
pub(super) fn metres(value_m: f64) -> String {
    format!("{} m", number(value_m, usize::from(value_m.abs() < 9.95)))
}

/// A height above the take-off spot: the one reference of a story, but for what says otherwise.
pub(super) fn high(value_m: f64) -> String {
    if value_m <= -0.05 {
        format!("{} below take-off", metres(-value_m))
    } else {
        format!("{} above take-off", metres(value_m))
    }
}

/// The same with so many decimals.
pub(super) fn high_to(value_m: f64, decimals: usize) -> String {
    let side = if value_m <= -0.05 { "below" } else { "above" };
    format!("{} m {side} take-off", number(value_m.abs(), decimals))
}

/// A value as it is said with so many decimals: what is said of two of them must follow from what is said of each.
pub(super) fn rounded(value: f64, decimals: usize) -> f64 {
    let scale = libm::pow(10.0, decimals as f64);
    (value * scale).round() / scale
}

/// A length as [`metres`] says it.
pub(super) fn rounded_m(value_m: f64) -> f64 {
    rounded(value_m, usize::from(value_m.abs() < 9.95))
}

/// The span between two times as they are said.
pub(super) fn span_between(from_s: f64, to_s: f64) -> String {
    span(rounded(to_s, 1) - rounded(from_s, 1))
}

/// A speed.
pub(super) fn speed(value_mps: f64) -> String {
    format!("{} m/s", number(value_mps, 1))
}

/// An energy: a decimal below ten joules.
pub(super) fn energy(value_j: f64) -> String {
    format!("{} J", number(value_j, usize::from(value_j.abs() < 9.95)))
}

/// A time span.
pub(super) fn span(value_s: f64) -> String {
    format!("{} s", number(value_s, 1))
}

/// A share.
pub(super) fn per_cent(value_pct: f64) -> String {
    format!("{} %", number(value_pct, 0))
}

/// A ratio in decibels.
pub(super) fn decibels(value_db: f64) -> String {
    format!("{} dB", number(value_db, 0))
}

/// From one place to another.
pub(super) fn between(from_m: [f64; 2], to_m: [f64; 2]) -> [f64; 2] {
    [to_m[0] - from_m[0], to_m[1] - from_m[1]]
}

/// Length of a vector.
pub(super) fn length(vector: [f64; 2]) -> f64 {
    (vector[0] * vector[0] + vector[1] * vector[1]).sqrt()
}

/// Where a place lies from another: `12 m north-east of the take-off spot`.
pub(super) fn lies(from_m: [f64; 2], to_m: [f64; 2], what: &str) -> String {
    let off = between(from_m, to_m);
    if length(off) < 0.05 {
        format!("at {what}")
    } else {
        format!("{} {} of {what}", metres(length(off)), direction(off))
    }
}

/// The first two axes.
pub(super) fn level(place_m: [f64; 3]) -> [f64; 2] {
    [place_m[0], place_m[1]]
}

/// The satellites of a fix and their geometry; a receiver that coasts has no solution for a moment.
pub(super) fn by_satellites(satellites: u32, hdop: f64) -> String {
    if hdop.is_finite() {
        format!("by {satellites} satellites with an HDOP of {}", number(hdop, 1))
    } else {
        format!("by carrying its last fix on, with {satellites} satellites and no solution")
    }
}

/// How the craft moves over the ground at a row, told from the row before.
pub(super) fn course(trace: &Trace, row: &TraceRow) -> String {
    let before = trace.rows.iter().rev().find(|other| other.time_s < row.time_s - SAME_MOMENT_S);
    match before {
        Some(before) if row.speed_mps >= MOVES_MPS => {
            let way = between(level(before.place_m), level(row.place_m));
            format!("moving {} at {}", direction(way), speed(row.speed_mps))
        }
        _ => "all but at rest".into(),
    }
}
