//! What all policies share: the day, take-off, the silence, the loss.

use super::margin::MeanMargin;
use super::told::{About, Draft};
use super::words::{
    between, by_satellites, course, decibels, high, length, level, lies, metres, per_cent, span_between, speed,
};
use crate::flight::{Event, LossCause, LossMoment, Luck, Trace, TraceRow};
use crate::risk::words::{direction, list, number, sentence};
use crate::site::{Whose, ZoneKind};
use crate::world::World;

/// A term that takes less is not given as a number: another made the difference.
const TELLS_FROM_DB: f64 = 1.0;

/// The sentences before the loss, or to the end when the link was never lost.
pub(super) fn shared(world: &World, luck: &Luck, trace: &Trace) -> Vec<Draft> {
    let mut told = the_day(world, luck);
    told.extend(take_off(world, trace));
    let until_s = trace.lost_at_s.unwrap_or(f64::INFINITY);
    for happened in trace.events.iter().filter(|happened| happened.time_s <= until_s) {
        let at = |about, text: String| Draft::at(happened.time_s, about, text);
        match &happened.event {
            Event::Pilot(what) => told.push(at(About::Pilot, format!("{}.", sentence(what)))),
            Event::LowPack(what) => {
                told.push(at(About::Pack, format!("The pack is low: whatever the sticks say, the craft will {what}.")));
            }
            Event::Cut => told.push(at(About::Link, "The scenario cuts the link, in both directions.".into())),
            _ => {}
        }
    }
    if let (Some(moment), Some(from_s)) = (&trace.loss, trace.silent_from_s) {
        told.extend(silence(world, trace, moment, from_s));
        told.extend(the_loss(world, luck, trace, moment));
    } else {
        let last_s = trace.rows.last().map_or(0.0, |row| row.time_s);
        told.push(Draft::at(last_s, About::End, format!("The link was never lost. Outcome: {}.", trace.headline)));
    }
    told
}

fn the_day(world: &World, luck: &Luck) -> Vec<Draft> {
    let weather = &luck.drawn.weather;
    let scenario = &world.scenario;
    let (sin, cos) = libm::sincos(weather.from_deg.to_radians());
    let mut told = vec![Draft::throughout(
        About::Weather,
        format!(
            "The mean wind is {} from the {} ({}°) at {} above the ground; the air is at {} °C.",
            speed(weather.wind_mps),
            direction([sin, cos]),
            number(weather.from_deg.rem_euclid(360.0), 0),
            metres(scenario.weather.wind_height_m),
            number(weather.temperature_c, 0),
        ),
    )];
    let names = scenario.site.zone_names();
    let zones = || (0u16..).zip(&scenario.site.zones).filter(|(_, zone)| zone.kind == ZoneKind::People);
    let named = |there: bool| -> Vec<String> {
        zones()
            .filter(|(number, _)| luck.presence.of(*number) == there)
            .map(|(at, zone)| {
                let name = &names[usize::from(at)];
                if there && zone.people >= 1.0 { format!("{name} ({})", number(zone.people, 0)) } else { name.clone() }
            })
            .collect()
    };
    let (there, empty) = (named(true), named(false));
    let mut parts = Vec::new();
    if !there.is_empty() {
        parts.push(format!("Places with people in them: {}.", list(&there)));
    }
    if !empty.is_empty() {
        parts.push(format!("Empty in this flight: {}.", list(&empty)));
    }
    if !parts.is_empty() {
        told.push(Draft::throughout(About::Present, parts.join(" ")));
    }
    told
}

fn take_off(world: &World, trace: &Trace) -> Vec<Draft> {
    let Some(first) = trace.rows.first() else {
        return vec![Draft::at(0.0, About::TakeOff, format!("{}.", sentence(&trace.headline)))];
    };
    let home_m = level(world.home_m);
    let stored = |row: &TraceRow| lies(home_m, row.stored_home_m, "the take-off spot");
    let has_home = |row: &TraceRow| row.stored_home_m[0].is_finite();
    if has_home(first) {
        let text = format!("Take-off. The home point that the craft has stored lies {}.", stored(first));
        return vec![Draft::at(first.time_s, About::TakeOff, text)];
    }
    let mut told =
        vec![Draft::at(first.time_s, About::TakeOff, "Take-off, before the craft has a fix: no home point is stored.")];
    if let Some(row) = trace.rows.iter().find(|row| has_home(row)) {
        let text = format!("With its first fix the craft stores a home point, {}.", stored(row));
        told.push(Draft::at(row.time_s, About::TakeOff, text));
    }
    told
}

fn silence(world: &World, trace: &Trace, moment: &LossMoment, from_s: f64) -> Option<Draft> {
    let row = trace.at(from_s)?;
    let what = if moment.cause == LossCause::Switch {
        "The last packet before the pilot throws the switch comes through."
    } else {
        "The last packet from the pilot comes through."
    };
    let text = format!(
        "{what} The craft is {}, {}, at {}.",
        lies(level(world.home_m), level(row.place_m), "the take-off spot"),
        high(row.height_m),
        speed(row.speed_mps),
    );
    Some(Draft::at(from_s, About::Link, text))
}

fn the_loss(world: &World, luck: &Luck, trace: &Trace, moment: &LossMoment) -> Vec<Draft> {
    let lost_s = moment.time_s;
    let Some(row) = trace.at(lost_s) else { return Vec::new() };
    let cut = trace.events.iter().find(|happened| happened.event == Event::Cut);
    let still_cut = cut.is_some_and(|cut| luck.cut.ends_s(Some(cut.time_s)) > lost_s);
    let hears = match (&world.scenario.radio.telemetry, moment.telemetry_up) {
        (None, _) => "",
        (Some(_), true) if still_cut => {
            " The cut silences telemetry too, which the pilot's transmitter has yet to notice."
        }
        (Some(_), true) => " The pilot's transmitter still receives telemetry from the craft.",
        (Some(_), false) => " The pilot's transmitter receives no telemetry from the craft either.",
    };
    let silent = span_between(trace.silent_from_s.unwrap_or(lost_s), lost_s);
    let place = format!(
        "with the craft {} and {}",
        lies(level(world.home_m), level(row.place_m), "the take-off spot"),
        course(trace, row)
    );
    let lost = if moment.cause == LossCause::Switch {
        format!("The picture is gone and the pilot throws the switch, {place}: the policy begins.{hears}")
    } else {
        format!("After {silent} without a packet the receiver calls the link lost, {place}.{hears}")
    };
    vec![
        Draft::at(lost_s, About::Lost, lost),
        Draft::at(lost_s, About::Cause, why(trace, moment)),
        Draft::at(lost_s, About::Belief, belief(world, row)),
        Draft::at(lost_s, About::Around, around(world, luck, row)),
    ]
}

/// Why the link went: the cause as the flight has it, with what it took of the margin over the silence.
fn why(trace: &Trace, moment: &LossMoment) -> String {
    let Some(silence) = MeanMargin::of_silence(trace) else { return format!("Why: {}.", moment.cause.label()) };
    let b = &silence.budget;
    let takes = |what: &str, value_db: f64| {
        if value_db >= TELLS_FROM_DB { format!("{what}: they take {}", decibels(value_db)) } else { what.into() }
    };
    let what = match moment.cause {
        LossCause::Cut => "the scenario has cut the link, whatever the radio could still do".into(),
        LossCause::Distance => format!(
            "the craft is far away, {} from the pilot's antenna, which takes {}",
            metres(f64::from(moment.distance_m)),
            decibels(b.distance_db)
        ),
        LossCause::Obstruction => takes("terrain or buildings stand in the way", b.diffraction_db),
        LossCause::Vegetation => takes("trees stand in the way", b.vegetation_db),
        LossCause::Antenna => {
            takes("the antennas point past each other, or one is damaged", b.pattern_db + b.polarisation_db)
        }
        LossCause::Body => {
            takes("the pilot's own body stands in the way of the waves", b.body_db).replace("they take", "it takes")
        }
        LossCause::Reflection => takes("the wave off the ground works against the direct one", b.reflection_db)
            .replace("they take", "it takes"),
        LossCause::Fading => takes("shadowing and fading, as chance has them", b.shadowing_db + b.fading_db),
        LossCause::Interference => takes("others on the band drown the packets", b.interference_db),
        LossCause::Restart => "the receiver had restarted".into(),
        LossCause::Switch => "the pilot threw the switch, having no picture".into(),
    };
    let left = match moment.cause {
        LossCause::Cut | LossCause::Switch | LossCause::Restart => String::new(),
        _ if silence.margin_db.is_finite() => {
            format!(" The mean margin during the silence is {}, before fading.", decibels(silence.margin_db))
        }
        _ => String::new(),
    };
    format!("Why: {what}.{left}")
}

/// What the craft believes, against what is true.
fn belief(world: &World, row: &TraceRow) -> String {
    let place = if row.believed_m[0].is_finite() {
        let off_m = between(level(row.place_m), row.believed_m);
        format!(
            "The craft believes it is {} {} of its true place, {}",
            metres(length(off_m)),
            direction(off_m),
            by_satellites(row.satellites, row.hdop)
        )
    } else {
        format!("The craft has no position fix, with {} satellites in view", row.satellites)
    };
    let height = format!(
        "it believes it is {} m above take-off; its true height is {} m",
        number(row.believed_height_m, 1),
        number(row.height_m, 1)
    );
    let home = if row.stored_home_m[0].is_finite() {
        format!("Its home point lies {}", lies(level(world.home_m), row.stored_home_m, "the take-off spot"))
    } else {
        "It has no home point".into()
    };
    let turned = row.heading_error_deg;
    let side = if turned < 0.0 { "right" } else { "left" };
    let heading = if turned.abs() < 0.5 {
        "what it takes for north is right to half a degree".into()
    } else {
        format!("what it takes for north lies {}° to the {side} of true north", number(turned.abs(), 0))
    };
    format!("{place}; {height}. {home}; {heading}.")
}

/// Wind, pack and people where the link was lost.
fn around(world: &World, luck: &Luck, row: &TraceRow) -> String {
    let from = direction([-row.wind_to_mps[0], -row.wind_to_mps[1]]);
    let mut text = format!(
        "The wind at the craft is {} from the {from}, gusts included; the pack holds {}.",
        speed(row.wind_mps),
        per_cent(row.charge_pct)
    );
    if let Some(near) = nearest(world, row) {
        text += &format!(" {near}.");
    } else if world.scenario.site.zones.iter().any(|zone| zone.kind == ZoneKind::People) && !anybody(world, luck) {
        text += " Nobody is in any of the marked places.";
    }
    text
}

fn anybody(world: &World, luck: &Luck) -> bool {
    (0u16..).zip(&world.scenario.site.zones).any(|(at, zone)| zone.kind == ZoneKind::People && luck.presence.of(at))
}

/// The nearest people, as a sentence without its full stop.
pub(super) fn nearest(world: &World, row: &TraceRow) -> Option<String> {
    let at = usize::from(row.people_zone?);
    let (name, zone) = (world.scenario.site.zone_names().into_iter().nth(at)?, world.scenario.site.zones.get(at)?);
    let crew = zone.whose == Whose::Crew;
    Some(if row.people_m > 0.0 {
        let counts = if row.people_m <= zone.margin_m {
            format!(", within the {} that count as among them", metres(zone.margin_m))
        } else {
            String::new()
        };
        let whose = if crew { "the crew" } else { "those" };
        format!("The nearest people are {whose} at \"{name}\", {} away over the ground{counts}", metres(row.people_m))
    } else {
        let whose = if crew { "the crew" } else { "people" };
        format!("Below it are {whose} at \"{name}\"")
    })
}
