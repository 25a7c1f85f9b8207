//! The day of the sky as text, CSV and JSON.

use super::survey::CAUTION;
use super::terminal::{Manner, Page};
use super::words;
use crate::plan::{GuardDay, SetDay, SkyDay};
use std::io::{self, Write};

/// The day on a terminal, 80 columns: the table of [`write_text`] under a title, cautions at the end.
pub fn text(day: &SkyDay, title: &str, manner: Manner) -> String {
    let mut table = Vec::new();
    let mut page = Page::new(manner);
    page.title(title);
    // Writing into memory does not fail.
    if write_text(day, &mut table).is_ok() {
        page.laid_out(&String::from_utf8_lossy(&table));
    }
    page.heading("Cautions");
    page.line("Worked out from orbits and from what was drawn of the site, not from what a receiver saw.");
    page.line(CAUTION);
    page.finish()
}

/// Writes the day as a table for a terminal, at most 80 columns wide.
///
/// # Errors
/// Those of `out`.
pub fn write_text(day: &SkyDay, out: &mut dyn Write) -> io::Result<()> {
    let [year, month, date] = day.date;
    writeln!(
        out,
        "Sky of {year:04}-{month:02}-{date:02} (UTC), {} above the take-off ground",
        metres(day.height_agl_m)
    )?;
    writeln!(
        out,
        "{:.4}° {}, {:.4}° {}; {}",
        day.lat_deg.abs(),
        if day.lat_deg < 0.0 { "S" } else { "N" },
        day.lon_deg.abs(),
        if day.lon_deg < 0.0 { "W" } else { "E" },
        if day.place_stated { "place as stated" } else { "place assumed, the scenario states none" }
    )?;
    for line in wrapped(&words::sentence(&day.origin), 80) {
        writeln!(out, "{line}")?;
    }
    for warning in &day.warnings {
        for line in wrapped(&format!("note: {warning}"), 80) {
            writeln!(out, "{line}")?;
        }
    }
    writeln!(out)?;
    writeln!(out, "{:<38}{:>5}{:>8}{:>7}{:>7}{:>13}", "constellations", "sats", "fewest", "HDOP", "95 %", "no fix")?;
    for (index, set) in day.sets.iter().enumerate() {
        let mark = if index == day.own { "*" } else { " " };
        writeln!(
            out,
            "{mark} {:<36}{:>5.0}{:>8}{:>7}{:>7}{:>13}",
            set.name,
            set.median_satellites,
            set.fewest_satellites,
            hdop(set.median_hdop),
            hdop(set.hdop_95),
            time_of_day_share(set.share_without)
        )?;
    }
    writeln!(out, "* as the scenario flies; sats and HDOP: medians of the day; 95 %: its upper end")?;
    let set = day.own_set();
    writeln!(out)?;
    writeln!(
        out,
        "best hour {} UTC, worst hour {} UTC ({})",
        hour_span(set.best_hour),
        hour_span(set.worst_hour),
        set.name
    )?;
    writeln!(out, "{:<7}{:>8}{:>8}{:>10}", "hour", "fewest", "HDOP", "greatest")?;
    for hour in &set.hours {
        let mark = if hour.hour == set.best_hour {
            "  best"
        } else if hour.hour == set.worst_hour {
            "  worst"
        } else {
            ""
        };
        writeln!(
            out,
            "{:<7}{:>8}{:>8}{:>10}{mark}",
            hour_span(hour.hour),
            hour.fewest_satellites,
            hdop(hour.median_hdop),
            hdop(hour.greatest_hdop)
        )?;
    }
    writeln!(out)?;
    writeln!(out, "When a guard would not pass:")?;
    for set in &day.sets {
        for guard in &set.guards {
            for line in wrapped(&guard_words(set, guard), 78) {
                writeln!(out, "  {line}")?;
            }
        }
    }
    Ok(())
}

/// A guard over the day in words.
pub fn guard_words(set: &SetDay, day: &GuardDay) -> String {
    let limits = format!(
        "{}: {} satellites and HDOP {} ({})",
        set.name,
        day.guard.satellites,
        words::number(day.guard.hdop, 1),
        day.guard.label
    );
    if day.failing_s.is_empty() {
        return format!("{limits}: passes at every sample of the day");
    }
    let minutes = day.failing_s.iter().map(|[from, to]| to - from).sum::<f64>() / 60.0;
    if day.failing_s.len() == 1 && day.share_failing >= 1.0 {
        return format!("{limits}: passes at no sample of the day");
    }
    const SHOWN: usize = 8;
    let mut spans: Vec<String> =
        day.failing_s.iter().take(SHOWN).map(|[from, to]| format!("{}–{}", clock(*from), clock(*to))).collect();
    if day.failing_s.len() > SHOWN {
        spans.push(format!("{} more stretches", day.failing_s.len() - SHOWN));
    }
    format!("{limits}: would not pass for {minutes:.0} min: {}", words::list(&spans))
}

/// Writes the samples of every set as CSV: time, set, satellites, HDOP, VDOP, errors; empty where there is no solution.
///
/// # Errors
/// Those of `out`.
pub fn write_csv(day: &SkyDay, out: &mut dyn Write) -> Result<(), csv::Error> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record([
        "utc",
        "time_s",
        "constellations",
        "satellites",
        "hdop",
        "vdop",
        "horizontal_m",
        "vertical_m",
    ])?;
    let [year, month, date] = day.date;
    for set in &day.sets {
        for row in &set.rows {
            let value = |x: f64| if x.is_finite() { format!("{x:.3}") } else { String::new() };
            table.write_record([
                format!("{year:04}-{month:02}-{date:02}T{}:00Z", clock(row.time_s)),
                format!("{:.0}", row.time_s),
                set.name.clone(),
                row.satellites.to_string(),
                value(row.hdop),
                value(row.vdop),
                value(row.horizontal_m),
                value(row.vertical_m),
            ])?;
        }
    }
    table.flush()?;
    Ok(())
}

/// Writes everything as JSON; values without a solution are `null`.
///
/// # Errors
/// Those of `out`.
pub fn write_json(day: &SkyDay, out: &mut dyn Write) -> Result<(), serde_json::Error> {
    #[derive(serde::Serialize)]
    struct Versioned<'a> {
        format: &'static str,
        version: u32,
        #[serde(flatten)]
        day: &'a SkyDay,
    }
    serde_json::to_writer_pretty(out, &Versioned { format: "lostlink-sky", version: 1, day })
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
    if value.is_finite() { words::number(value, if value < 10.0 { 2 } else { 0 }) } else { "none".into() }
}

fn time_of_day_share(share: f64) -> String {
    let minutes = share * 1440.0;
    if minutes < 0.5 {
        "never seen".into()
    } else if minutes < 90.0 {
        format!("{minutes:.0} min")
    } else {
        format!("{:.1} h", minutes / 60.0)
    }
}

fn metres(value: f64) -> String {
    format!("{} m", words::number(value, if value < 10.0 { 1 } else { 0 }))
}

/// Lines of at most `width` characters, broken at blanks.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.len() - 1;
        if !lines[last].is_empty() && lines[last].chars().count() + 1 + word.chars().count() > width {
            lines.push(word.to_string());
        } else {
            if !lines[last].is_empty() {
                lines[last].push(' ');
            }
            lines[last].push_str(word);
        }
    }
    lines
}
