//! The day of the sky: its document, its table, its JSON.

use super::csv::table;
use super::document::{Block, Document, On, Part, Section, Table};
use super::gallery::Gallery;
use super::plot;
use super::words::{self, clock, hdop, hour_span, number};
use crate::plan::{SetDay, SkyDay};
use std::io::Write;

/// The figures: the day, and the ways of the satellites between two times of it.
pub fn gallery(day: &SkyDay, from_s: f64, to_s: f64) -> Gallery {
    Gallery::new(|look| vec![plot::sky_day(day, look), plot::sky_plot(day, from_s, to_s, look)], vec![])
}

/// The document, for the scenario of a title.
pub fn document(day: &SkyDay, title: &str, invented: bool) -> Document {
    let [year, month, date] = day.date;
    let letter = |value: f64, letters: [&'static str; 2]| letters[usize::from(value < 0.0)];
    let place = format!(
        "{year:04}-{month:02}-{date:02} (UTC), {} m above the take-off ground at {:.4}° {}, {:.4}° {} ({}).",
        number(day.height_agl_m, usize::from(day.height_agl_m < 10.0)),
        day.lat_deg.abs(),
        letter(day.lat_deg, ["N", "S"]),
        day.lon_deg.abs(),
        letter(day.lon_deg, ["E", "W"]),
        if day.place_stated { "place as stated" } else { "place assumed, the scenario states none" }
    );
    let mut lead =
        vec![Part::both(Block::Sure(place)), Part::both(Block::Sure(format!("{}.", words::sentence(&day.origin))))];
    lead.extend(day.offset_min.map(|minutes| {
        let offset = words::offset(minutes);
        Part::both(Block::Line(format!("Times are UTC; the scenario's local time is {offset}.")))
    }));
    lead.extend(day.warnings.iter().map(|warning| Part::both(Block::Line(format!("Note: {warning}")))));
    lead.extend(["sky-day", "sky-plot"].map(|name| Part::page(Block::Figures(name))));
    let set = day.own_set();
    let guards = day.sets.iter().flat_map(|set| set.guards.iter().map(|guard| words::guard(set, guard)));
    let modelled = "Worked out from orbits and from what was drawn of the site, not from what a receiver saw.";
    Document {
        kind: "Satellites and HDOP over a day",
        tab: "satellites over the day",
        title: title.into(),
        invented,
        question: "At which hours is the sky good enough?".into(),
        answer: words::day(set),
        lead,
        sections: vec![
            Section::new("sets", "Constellations", "Constellations compared").with(On::Terminal, sets(day).block()),
            Section::new("hours", "Hours", format!("Hour by hour: {}", set.name))
                .with(On::Terminal, hours(set).block()),
            Section::new("guards", "Guards", "When a guard would not pass")
                .with(On::Both, Block::List(guards.collect()))
                .with(On::Page, Block::Line(modelled.into())),
        ],
        cautions: vec![modelled.into()],
        ..Document::default()
    }
}

fn sets(day: &SkyDay) -> Table {
    let columns = ["constellations", "#sats", "#fewest", "#HDOP", "#95 %", "#no fix"];
    let caption = "* as the scenario flies; sats and HDOP: medians of the day; 95 %: its upper end.";
    let rows = day.sets.iter().enumerate().map(|(index, set)| {
        vec![
            format!("{} {}", if index == day.own { "*" } else { "-" }, set.name),
            number(set.median_satellites, 0),
            set.fewest_satellites.to_string(),
            hdop(set.median_hdop),
            hdop(set.hdop_95),
            share_of_day(set.share_without),
        ]
    });
    Table::new(caption, &columns).rows(rows)
}

fn hours(set: &SetDay) -> Table {
    let rows = set.hours.iter().map(|hour| {
        let mark = if hour.hour == set.best_hour {
            "best"
        } else if hour.hour == set.worst_hour {
            "worst"
        } else {
            ""
        };
        vec![
            hour_span(hour.hour),
            hour.fewest_satellites.to_string(),
            hdop(hour.median_hdop),
            hdop(hour.greatest_hdop),
            mark.into(),
        ]
    });
    Table::new("", &["hour", "#fewest", "#HDOP", "#greatest", ""]).rows(rows)
}

fn share_of_day(share: f64) -> String {
    let minutes = share * 1440.0;
    if minutes < 0.5 {
        "never seen".into()
    } else if minutes < 90.0 {
        format!("{minutes:.0} min")
    } else {
        format!("{:.1} h", minutes / 60.0)
    }
}

/// Writes the samples of every set as CSV: time, set, satellites, HDOP, VDOP, errors; empty where there is no solution.
///
/// # Errors
/// Those of `out`.
pub fn write_csv(day: &SkyDay, out: impl Write) -> Result<(), csv::Error> {
    let [year, month, date] = day.date;
    let value = |x: f64| if x.is_finite() { format!("{x:.3}") } else { String::new() };
    let rows = day.sets.iter().flat_map(|set| set.rows.iter().map(move |row| (set, row))).map(|(set, row)| {
        vec![
            format!("{year:04}-{month:02}-{date:02}T{}:00Z", clock(row.time_s)),
            format!("{:.0}", row.time_s),
            set.name.clone(),
            row.satellites.to_string(),
            value(row.hdop),
            value(row.vdop),
            value(row.horizontal_m),
            value(row.vertical_m),
        ]
    });
    let head = ["utc", "time_s", "constellations", "satellites", "hdop", "vdop", "horizontal_m", "vertical_m"];
    table(out, &head, rows)
}
