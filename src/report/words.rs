//! Words of reports: numbers as [`crate::risk::words`] writes them, keys of the scenario, times of day, directions, and what a
//! comparison came to. What two commands say in the same words stands here or in [`crate::risk::cautions`].

pub use crate::risk::words::{
    PER, at_least, at_most, bare_frequency, brief, difference, difference_range, direction, flights,
    frequency as share, grouped as count, list, number, per_thousand as of_thousand, range as interval, sentence,
    signed,
};

use crate::plan::reach::LEAST_CHANCE;
use crate::plan::{GuardDay, SetDay};
use crate::risk::compare::Standing;
use crate::risk::summary::{Pair, QuantileBand, Share, Summary};

/// A number with its decimals, or none where they are zeros: `10`, `2.5`.
pub fn short(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').into() } else { text }
}

/// A smallest difference that matters, of 1,000.
pub fn matters(points: f64) -> String {
    short(points * 10.0, 1)
}

/// A share with its interval in brackets, for a cell: `7.1 (2.8 to 15)`, `< 0.74`.
pub fn cell(share: &Share) -> String {
    if share.events == 0 || share.events == share.of {
        brief(share)
    } else {
        format!("{} ({})", brief(share), interval(share))
    }
}

/// A quantile with its bounds, unbounded ends said.
pub fn band(band: &QuantileBand, decimals: usize) -> String {
    match (band.low, band.high) {
        (None, None) => format!("{}, not bounded", number(band.value, decimals)),
        (low, high) => {
            format!("{} ({} to {})", number(band.value, decimals), bound(low, decimals), bound(high, decimals))
        }
    }
}

/// A bound that may not exist.
fn bound(value: Option<f64>, decimals: usize) -> String {
    value.map_or("not bounded".into(), |value| number(value, decimals))
}

/// A distance that few go beyond, rounded outward to a metre.
pub fn within(distance_m: Option<f64>) -> String {
    bound(distance_m.map(f64::ceil), 0)
}

/// Name of a policy by its index.
pub fn policy_name(summary: &Summary, index: usize) -> &str {
    summary.policies.get(index).map_or("?", |policy| &policy.name)
}

/// A policy beside the one that comes first, in one concern: `"drop": 5 fewer of 1,000 than "home" (−12 to −1); …`.
pub fn beside(summary: &Summary, pair: &Pair, first: usize) -> String {
    let turned = pair.first == first;
    let (other, more) = if turned { (pair.second, -pair.difference) } else { (pair.first, pair.difference) };
    let (low, high) = if turned { (-pair.high, -pair.low) } else { (pair.low, pair.high) };
    let size = match more * PER {
        d if d.abs() < 1e-9 => "as many of 1,000 as".into(),
        d if d < 0.0 => format!("{} fewer of 1,000 than", of_thousand(-more)),
        _ => format!("{} more of 1,000 than", of_thousand(more)),
    };
    format!(
        "\"{}\": {size} \"{}\" ({}); {}",
        policy_name(summary, other),
        policy_name(summary, first),
        difference_range(low, high),
        verdict(summary, pair)
    )
}

/// Keys of the take-off spot.
pub const HOME_EAST: &str = "site.home_east_m";
/// The other one.
pub const HOME_NORTH: &str = "site.home_north_m";

/// A key of this scenario in words that stand within a sentence, with its unit: a zone by its name, the others by what they mean.
pub fn key_here(summary: &Summary, path: &str) -> (String, &'static str) {
    let (meaning, unit) = key(path);
    match path {
        HOME_EAST => return ("the take-off spot, moved east or west".into(), unit),
        HOME_NORTH => return ("the take-off spot, moved north or south".into(), unit),
        _ => {}
    }
    let zone = path.strip_prefix("site.zone[").and_then(|rest| {
        let (place, what) = rest.split_once("].")?;
        Some((summary.zones.get(place.parse::<usize>().ok()?)?, what))
    });
    if let Some((zone, what)) = zone {
        let what = if what == "margin_m" { "the margin around".into() } else { format!("{}, of", inner(&meaning)) };
        return (format!("{what} {}", zone.name), unit);
    }
    (inner(&meaning), unit)
}

/// Words that began a sentence, within one: an abbreviation keeps its capitals.
fn inner(text: &str) -> String {
    let mut letters = text.chars();
    match (letters.next(), letters.clone().next()) {
        (Some(first), Some(second)) if second.is_lowercase() => first.to_lowercase().chain(letters).collect(),
        _ => text.into(),
    }
}

/// How a pair stands, in full.
pub fn verdict(summary: &Summary, pair: &Pair) -> String {
    let better = |index: usize| format!("\"{}\" better", policy_name(summary, index));
    match (pair.standing, pair.flights_needed) {
        (Standing::Better, _) => better(pair.first),
        (Standing::Worse, _) => better(pair.second),
        (Standing::Equal, _) => "counted as equal".into(),
        // No flight went differently: more of the same can only show that there is nothing to tell.
        (Standing::Open, Some(n)) if pair.table[1] + pair.table[2] == 0 => {
            format!("cannot be told yet: none went differently; {} like these would settle it", flights(n))
        }
        (Standing::Open, Some(n)) => format!("cannot be told yet; {} would settle it", flights(n)),
        (Standing::Open, None) => "cannot be told yet".into(),
    }
}

/// A wind along the way home: `headwind 3.1 m/s`.
pub fn along_wind(headwind_mps: f64, decimals: usize) -> String {
    let wind = if headwind_mps >= 0.0 { "headwind" } else { "tailwind" };
    format!("{wind} {} m/s", number(headwind_mps.abs(), decimals))
}

/// A place on the ground: `12 m east, 30 m south`.
pub fn place(x_m: f64, y_m: f64) -> String {
    let way = |value_m: f64, [plus, minus]: [&str; 2]| {
        format!("{} m {}", number(value_m.abs(), 0), if value_m.round() < 0.0 { minus } else { plus })
    };
    format!("{}, {}", way(x_m, ["east", "west"]), way(y_m, ["north", "south"]))
}

/// A chance of a declared loss, of 1,000.
pub fn chance(chance: f64) -> String {
    let bound = if chance <= LEAST_CHANCE {
        "fewer than "
    } else if chance > 0.999 {
        "more than "
    } else {
        ""
    };
    format!("{bound}{} of 1,000", of_thousand(chance.clamp(LEAST_CHANCE, 0.999)))
}

/// The sixteen directions by name.
pub fn compass(bearing_deg: f64) -> &'static str {
    const NAMES: [&str; 16] =
        ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];
    NAMES[(bearing_deg.rem_euclid(360.0) / 22.5).round() as usize % 16]
}

/// Time of day as hours and minutes; the end of the day is 24:00.
pub fn clock(time_s: f64) -> String {
    let minutes = (time_s / 60.0).round() as u32;
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}

/// An hour as `09–10`.
pub fn hour_span(hour: u32) -> String {
    format!("{hour:02}–{:02}", hour + 1)
}

/// HDOP as people say it: `none` without a solution.
pub fn hdop(value: f64) -> String {
    if value.is_finite() { number(value, if value < 10.0 { 2 } else { 0 }) } else { "none".into() }
}

/// What the sky of one choice of constellations offers over the day.
pub fn day(set: &SetDay) -> String {
    format!(
        "With {}: for half of the day at least {} satellites and HDOP {} or better; never fewer than {}. Best hour {}, worst {} UTC.",
        set.name,
        number(set.median_satellites, 0),
        hdop(set.median_hdop),
        set.fewest_satellites,
        hour_span(set.best_hour),
        hour_span(set.worst_hour)
    )
}

/// How far a time is ahead of UTC: `UTC+02:00`.
pub fn offset(minutes: i32) -> String {
    let sign = if minutes < 0 { '−' } else { '+' };
    format!("UTC{sign}{:02}:{:02}", minutes.abs() / 60, minutes.abs() % 60)
}

/// A guard over the day.
pub fn guard(set: &SetDay, day: &GuardDay) -> String {
    const SHOWN: usize = 8;
    let limits = format!(
        "{}: {} satellites and HDOP {} ({})",
        set.name,
        day.guard.satellites,
        number(day.guard.hdop, 1),
        day.guard.label
    );
    if day.failing_s.is_empty() {
        return format!("{limits}: passes at every sample of the day");
    }
    let minutes = day.failing_s.iter().map(|[from, to]| to - from).sum::<f64>() / 60.0;
    if day.failing_s.len() == 1 && day.share_failing >= 1.0 {
        return format!("{limits}: passes at no sample of the day");
    }
    let mut spans: Vec<String> =
        day.failing_s.iter().take(SHOWN).map(|[from, to]| format!("{}–{}", clock(*from), clock(*to))).collect();
    if day.failing_s.len() > SHOWN {
        spans.push(format!("{} more stretches", day.failing_s.len() - SHOWN));
    }
    format!("{limits}: would not pass for {minutes:.0} min: {}", list(&spans))
}

/// A key of the scenario in words with the unit of its value, from the documentation of the format: `weather.wind_mps` is
/// `Mean wind at the reference height` in `m/s`. A key that is not documented stands for itself.
pub fn key(key: &str) -> (String, &'static str) {
    let mut plain = String::new();
    let mut inside = false;
    for c in key.chars() {
        match c {
            '[' => {
                plain += "[]";
                inside = true;
            }
            ']' => inside = false,
            c if !inside => plain.push(c),
            _ => {}
        }
    }
    let meaning = crate::scenario::key_list().into_iter().find(|doc| doc.key == plain).map(|doc| doc.meaning);
    // The longer endings first.
    const UNITS: [(&str, &str); 19] = [
        ("_pa_per_h", "Pa/h"),
        ("_mm_per_h", "mm/h"),
        ("_deg_per_100m", "° per 100 m"),
        ("_per_s", "per s"),
        ("_mps", "m/s"),
        ("_deg", "°"),
        ("_pct", "%"),
        ("_dbm", "dBm"),
        ("_dbi", "dBi"),
        ("_db", "dB"),
        ("_ohm", "ohm"),
        ("_kg", "kg"),
        ("_m2", "m²"),
        ("_hz", "Hz"),
        ("_ah", "Ah"),
        ("_pa", "Pa"),
        ("_c", "°C"),
        ("_s", "s"),
        ("_m", "m"),
    ];
    let unit = UNITS.iter().find(|(end, _)| plain.ends_with(end)).map_or("", |found| found.1);
    (meaning.filter(|words| !words.is_empty()).unwrap_or_else(|| key.to_string()), unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_have_words_and_units() {
        assert_eq!(key("weather.wind_mps"), ("Mean wind at the reference height".into(), "m/s"));
        assert_eq!(key("craft.linear_drag_per_s").1, "per s");
        assert_eq!(key("nothing.of_that"), ("nothing.of_that".into(), ""));
        // Every uncertain input of the format has a meaning.
        assert!(crate::scenario::key_list().iter().all(|doc| !key(&doc.key).0.is_empty()));
    }
}
