//! The card for the field in words: what was computed, put as a pilot reads it beside the take-off spot.

pub use super::field_tests::CardFacts;

use super::document::{Block, Document, On, Part, Section, Table};
use super::field_tests::{fallback, step_words, tests, tolerances};
use super::sheet::{Setting, Sheet, SkyMoment};
use super::words::{self, clock, number as n};
use crate::failsafe::{Action, ActionKind, Fallback, Guards, HeightFrom, Policy, ReturnHeight};
use crate::risk::field_sheet::{FADES_UNDER_DB, Fades, NEAR_M};
use crate::risk::outcome::Concern;
use crate::risk::summary::Decision;
use crate::scenario::{GoesFirst, PackAct, Scenario};
use crate::site::ZoneKind;

/// Clearance of the path under which the card warns.
const LOW_M: f64 = 10.0;

/// Puts the card together.
pub fn card(facts: &CardFacts) -> Sheet {
    let (scenario, summary) = (facts.scenario, facts.summary);
    let policy = &scenario.policies[facts.chosen];
    let row = &summary.policies[facts.chosen];
    let danger = row.share(Concern::Danger);
    Sheet {
        title: summary.title.clone(),
        about: summary.about.clone(),
        invented: summary.invented,
        program_version: summary.program_version.clone(),
        seed: summary.seed,
        scenario_hash: summary.scenario_hash.clone(),
        command: facts.command.clone(),
        opening: opening(facts, policy),
        policy: policy.name.clone(),
        policy_words: words::sentence(&policy.in_words()) + ".",
        verdict: verdict(facts, policy),
        changes: super::information::lines(summary).0,
        danger,
        settings: settings(scenario, policy),
        delivered_name: scenario.delivered.as_ref().map(|delivered| delivered.name.clone()),
        height_m: facts.heights.as_ref().and_then(|heights| heights.interval_m),
        height_why: match &facts.heights {
            None => "The chosen policy does not fly home.".into(),
            Some(heights) if heights.interval_m.is_none() => heights.sentence.clone(),
            Some(heights) => format!(
                "Lower limit: {}. Upper limit: {}. ({} flights at each of {} heights.){}",
                heights.below,
                heights.above,
                words::count(heights.flights),
                heights.rows.len(),
                outside(policy, heights.interval_m)
            ),
        },
        no_return: no_return(facts, policy),
        wind: wind(facts, policy),
        least_satellites: facts.sky.satellites,
        greatest_hdop: facts.sky.hdop,
        forecast: forecast(facts),
        fades: fades(facts),
        underneath: underneath(facts, policy),
        bystanders: bystanders(facts, policy),
        first: first(facts),
        cautions: cautions(facts),
        tests: tests(facts, policy),
    }
}

/// What is said when the policy comes home at a height that is not among the recommended ones.
fn outside(policy: &Policy, interval_m: Option<[f64; 2]>) -> String {
    let set_m = policy.actions.iter().find_map(|action| match &action.kind {
        ActionKind::Return { height, .. } => Some(height.up_m),
        _ => None,
    });
    match (set_m, interval_m) {
        (Some(set_m), Some([low_m, high_m])) if set_m < low_m - 1e-9 || set_m > high_m + 1e-9 => {
            format!(" The height set on this card, {set_m} m, lies outside that.")
        }
        _ => String::new(),
    }
}

/// A setting that may be worked out: one decimal, none when it is whole.
fn short(value: f64) -> String {
    format!("{}", (value * 10.0).round() / 10.0)
}

/// A card can be made for any policy; it says which one to set only where the assessment does.
fn opening(facts: &CardFacts, policy: &Policy) -> String {
    let verdict = &facts.summary.verdict;
    let several = verdict.choice.left.len();
    let stands = match verdict.decision {
        Decision::NothingLost => "No link was lost, so nothing is chosen. Card for".into(),
        Decision::Lone => "The only policy of the scenario".into(),
        _ if !verdict.choice.left.contains(&facts.chosen) => "Set aside by the assessment".into(),
        Decision::One => "Failsafe to set".into(),
        Decision::Any if several == 2 => "Either of 2 policies serves. Card for".into(),
        Decision::Any => format!("Any of {several} policies serves. Card for"),
        Decision::Circle => format!("None of {several} policies comes first. Card for"),
        Decision::Open => format!("Undecided between {several} policies. Card for"),
    };
    format!("{stands}: {}", policy.name)
}

fn verdict(facts: &CardFacts, policy: &Policy) -> String {
    let verdict = &facts.summary.verdict;
    let row = &facts.summary.policies[facts.chosen];
    let [danger, lost] = [Concern::Danger, Concern::CraftLost].map(|on| words::share(&row.share(on)));
    let mut text = if verdict.choice.ranking.first() == Some(&facts.chosen) {
        verdict.sentence.clone()
    } else {
        format!(
            "\"{}\" was chosen by hand; danger to people under it: {danger}; craft lost or worse: {lost}. The assessment says: {}",
            policy.name, verdict.sentence
        )
    };
    if let (Some(delivered), Some((danger, _))) = (&facts.scenario.delivered, &facts.delivered_danger) {
        text += &format!(
            " As the craft was delivered (\"{}\"), danger to people: {}.",
            delivered.name,
            words::share(danger)
        );
    }
    text
}

/// Rows of one policy: what, and its value. Rows of one kind of action have the same names in every policy.
fn rows_of(policy: &Policy, scenario: &Scenario) -> Vec<(String, String)> {
    let order: Vec<&str> = policy.actions.iter().map(|action| step_words(&action.kind)).collect();
    let mut rows = vec![("order".to_string(), order.join(", then "))];
    for (index, Action { kind, guards, otherwise, resumes_after_s }) in policy.actions.iter().enumerate() {
        let again = policy.actions[..index].iter().filter(|earlier| earlier.kind.word() == kind.word()).count();
        let mut step = kind.word().to_string();
        if again > 0 {
            step += &format!(" {}", again + 1);
        }
        let mut add = |what: &str, value: String| rows.push((format!("{step}: {what}"), value));
        match kind {
            ActionKind::Hold { for_s } => add("for", format!("{for_s} s")),
            ActionKind::Land { sink_mps } => {
                add("sink", format!("{} m/s", short(sink_mps.unwrap_or(scenario.craft.descent_mps))));
            }
            ActionKind::Return { height, speed_mps, home_circle_m, climbs_before, level_within_m } => {
                add("height", height.in_words());
                add("speed", format!("{} m/s", short(speed_mps.unwrap_or(scenario.craft.cruise_mps))));
                add("comes down within", format!("{home_circle_m} m of home"));
                if *height != ReturnHeight::here() {
                    add("climbs", if *climbs_before { "before it starts home" } else { "on the way" }.into());
                }
                if *level_within_m > 0.0 {
                    add("does not climb within", format!("{level_within_m} m of home"));
                }
            }
            ActionKind::CarryOn { for_s: Some(for_s) } => add("for", format!("{for_s} s")),
            ActionKind::CarryOn { for_s: None } => {}
            ActionKind::Drop => {}
        }
        if let Some(g) = guards.fix {
            add("needs", format!("{} satellites, HDOP {} or less", g.satellites, g.hdop));
        }
        if let Some(g) = guards.progress {
            add("must close on home", format!("at {} m/s over {} s", g.closing_mps, g.within_s));
        }
        if let Some(reserve_pct) = guards.reserve_pct {
            add("charge kept", format!("{reserve_pct} %"));
        }
        if let Some(at_most_s) = guards.at_most_s {
            add("no longer than", format!("{at_most_s} s"));
        }
        if let Some(within_m) = guards.fence_within_m {
            add("stays inside the fence by", format!("{within_m} m"));
        }
        let guarded = *guards != Guards::default();
        if guarded || matches!(kind, ActionKind::Return { .. }) {
            add("if that fails", fallback(*otherwise).into());
        }
        if let Some(after_s) = resumes_after_s {
            add("flies home after all when the fix is back for", format!("{after_s} s"));
        }
    }
    rows
}

fn settings(scenario: &Scenario, policy: &Policy) -> Vec<Setting> {
    const NOT_USED: &str = "not used";
    let chosen = rows_of(policy, scenario);
    let delivered = scenario.delivered.as_ref().map(|delivered| rows_of(delivered, scenario));
    let find = |rows: &[(String, String)], what: &str| rows.iter().find(|row| row.0 == what).map(|row| row.1.clone());
    let mut list: Vec<Setting> = chosen
        .iter()
        .map(|(what, value)| Setting {
            what: what.clone(),
            chosen: value.clone(),
            delivered: delivered.as_ref().map(|rows| find(rows, what).unwrap_or_else(|| NOT_USED.into())),
        })
        .collect();
    for (what, value) in delivered.iter().flatten() {
        if find(&chosen, what).is_none() {
            let place = list
                .iter()
                .rposition(|row| row.what.split(':').next() == what.split(':').next())
                .map_or(list.len(), |k| k + 1);
            let setting = Setting { what: what.clone(), chosen: NOT_USED.into(), delivered: Some(value.clone()) };
            list.insert(place, setting);
        }
    }
    let receiver = scenario.radio.control.receiver.central();
    for (what, value) in [
        ("receiver: silence until lost", receiver.patience_s),
        ("receiver: good link until control is back", receiver.handback_s),
    ] {
        list.push(Setting { what: what.into(), chosen: format!("{value} s"), delivered: None });
    }
    list.extend(pack_settings(scenario));
    list
}

/// What the craft does by itself when its pack runs low: of the limit always, of the warning where anything is set.
fn pack_settings(scenario: &Scenario) -> Vec<Setting> {
    let battery = &scenario.craft.battery;
    let does = |act: PackAct| match (act, battery.return_at_least_m) {
        (PackAct::Nothing, _) => "nothing".to_string(),
        (PackAct::Land, _) => "land".into(),
        (PackAct::Return, None) => "home at the height it has".into(),
        (PackAct::Return, Some(height_m)) => format!("home at {height_m} m or higher"),
    };
    let setting = |what: String, chosen: String| Setting { what, chosen, delivered: None };
    let mut list = Vec::new();
    if battery.at_warning != PackAct::Nothing {
        let at = format!("low pack: at {} % or {} V a cell", short(battery.warn_charge_pct), battery.warn_v);
        list.push(setting(at, does(battery.at_warning)));
    }
    let at = format!("low pack: at {} % or {} V a cell", short(battery.land_charge_pct), battery.land_v);
    list.push(setting(at, does(battery.at_limit)));
    if battery.goes_first == GoesFirst::Policy {
        list.push(setting("low pack: while the link is lost".into(), "not heeded".into()));
    }
    list
}

fn no_return(facts: &CardFacts, policy: &Policy) -> String {
    let wind = facts.summary.map.wind;
    let wind = format!("a wind of {} m/s from {}°", n(wind.speed_mps, 0), n(wind.from_rad.to_degrees(), 0));
    let Some(row) = facts.summary.no_return.iter().find(|row| row.policy == facts.chosen) else {
        return if policy.returns() { "not worked out.".into() } else { "does not apply.".into() };
    };
    let mut text = match (row.distance_m, row.place_m) {
        (Some(flown_m), Some([x, y, z])) => format!(
            "turn back before {} m of the path ({}, {} m high): beyond it the charge does not bring it home in {wind}.",
            n((flown_m / 10.0).floor() * 10.0, 0),
            place(x, y),
            n(z, 0)
        ),
        _ => format!("none. In {wind} a craft with middle values can reach home from everywhere on the path."),
    };
    if row.best_speed_mps.is_finite() {
        let from = if row.distance_m.is_some() { "there" } else { "its farthest place" };
        text += &format!(
            " Cheapest speed home from {from}: {} m/s over the ground ({}).",
            n(row.best_speed_mps, 0),
            words::along_wind(row.headwind_mps, 0)
        );
    } else {
        text += " Against this wind it makes no way home from there.";
    }
    text
}

fn wind(facts: &CardFacts, policy: &Policy) -> String {
    let limit = &facts.wind;
    match facts.summary.verdict.decision {
        Decision::NothingLost => return "no link was lost, so no policies were compared.".into(),
        Decision::Lone => return "there is no other policy to compare with.".into(),
        _ => {}
    }
    let name = |index: usize| facts.summary.policies.get(index).map_or("?", |row| row.name.as_str());
    let ends = [limit.steps.first(), limit.steps.last()].map(|step| step.map_or(f64::NAN, |step| step.wind_mps));
    let chosen = &policy.name;
    let at = format!("m/s at {} m height", facts.scenario.weather.wind_height_m);
    // Where it holds only from some wind on.
    let from = limit.below.as_ref().and_then(|flip| flip.holds_at_mps);
    let from = from.map_or(String::new(), |from_mps| format!("from {} m/s ", n(from_mps, 0)));
    let mut text = match &limit.above {
        Some(flip) if flip.holds_at_mps.is_none() => {
            format!(
                "already in the day's middle wind, {} {at}, \"{}\" is better (in {}).",
                n(flip.at_mps, 0),
                name(flip.to),
                flip.by
            )
        }
        Some(flip) => format!(
            "no policy was shown to be better than \"{chosen}\" {from}up to {} {at}; at {} m/s \"{}\" is better (in {}).",
            n(flip.holds_at_mps.unwrap_or(f64::NAN), 0),
            n(flip.at_mps, 0),
            name(flip.to),
            flip.by
        ),
        None => format!(
            "no policy was shown to be better than \"{chosen}\" {from}up to {} {at}, the strongest tried.",
            n(ends[1], 0)
        ),
    };
    if let Some(flip) = &limit.below {
        text += &format!(" At {} m/s and less \"{}\" is better (in {}).", n(flip.at_mps, 0), name(flip.to), flip.by);
    }
    text + &format!(" ({} flights at each mean wind, with the same luck.)", limit.flights)
}

/// A time of day in UTC, and in the local time that the scenario uses.
fn moment(second_s: f64, offset_min: Option<i32>) -> String {
    let of_day = |second_s: f64| clock(second_s.rem_euclid(86_400.0));
    let local = offset_min.map(|minutes| format!(" ({} local)", of_day(second_s + 60.0 * f64::from(minutes))));
    format!("{} UTC{}", of_day(second_s), local.unwrap_or_default())
}

fn forecast(facts: &CardFacts) -> Vec<SkyMoment> {
    const ROWS: usize = 6;
    let [.., hour, minute, second] = facts.scenario.sky.utc;
    let from_s = f64::from(hour * 3600 + minute * 60 + second);
    let samples = &facts.sky.samples;
    let last = samples.len().saturating_sub(1);
    let mut picks: Vec<usize> =
        (0..ROWS).map(|k| (last as f64 * k as f64 / (ROWS - 1) as f64).round() as usize).collect();
    picks.dedup();
    picks
        .into_iter()
        .filter_map(|k| samples.get(k))
        .map(|&(time_s, satellites, hdop)| SkyMoment {
            time: moment(from_s + time_s, facts.scenario.sky.offset_min),
            satellites,
            hdop: if hdop.is_finite() { hdop } else { f64::NAN },
        })
        .collect()
}

/// To ten metres: no place along a path is predicted better.
fn ten(value_m: f64) -> f64 {
    (value_m / 10.0).round() * 10.0
}

fn place(x_m: f64, y_m: f64) -> String {
    words::place(ten(x_m), ten(y_m))
}

fn fades(facts: &CardFacts) -> Vec<String> {
    const SHOWN: usize = 4;
    let Fades { stretches: list, least_db } = &facts.fades;
    let sources = !facts.scenario.radio.interferers.is_empty();
    let on = if sources { ", with every source of interference on" } else { "" };
    if list.is_empty() {
        let more = if sources { "Other sources" } else { "Interference" };
        return vec![format!(
            "Nowhere on the path by distance and ground{on}: the mean margin stays at {} dB or more. {more}, other pilots \
             and a wrong antenna may still take it.",
            n(least_db.floor(), 0)
        )];
    }
    let mut lines: Vec<String> = list
        .iter()
        .take(SHOWN)
        .map(|fade| {
            let where_ = if fade.to_m - fade.from_m < 1.0 {
                format!("At {} m of the path", n(ten(fade.from_m), 0))
            } else {
                let [from_m, to_m] = [(fade.from_m / 10.0).floor() * 10.0, (fade.to_m / 10.0).ceil() * 10.0];
                format!("From {} to {} m of the path", n(from_m, 0), n(to_m, 0))
            };
            format!(
                "{where_}, up to {} m from you: mean margin down to {} dB near {}; mostly {}.",
                n((fade.farthest_m / 10.0).ceil() * 10.0, 0),
                n(fade.least_db, 0),
                place(fade.place_m[0], fade.place_m[1]),
                fade.cause.label()
            )
        })
        .collect();
    if list.len() > SHOWN {
        lines.push(format!("{} further stretches.", list.len() - SHOWN));
    }
    lines.push(format!("A stretch is listed when its mean margin is under {} dB{on}.", n(FADES_UNDER_DB, 0)));
    lines
}

/// A distance from people, roads or property: rounded down, for nearer is the worse.
fn beside(distance_m: f64) -> String {
    if distance_m < 1.0 { "less than 1 m".into() } else { format!("{} m", n((distance_m + 1e-6).floor(), 0)) }
}

fn underneath(facts: &CardFacts, policy: &Policy) -> Vec<String> {
    let returns = policy.returns();
    let mut lines = Vec::new();
    for row in &facts.underneath {
        let kind = match row.zone.kind {
            ZoneKind::People => "people",
            ZoneKind::Road => "road or railway",
            ZoneKind::Property => "property of others",
            ZoneKind::Water => "water",
            ZoneKind::Clear | ZoneKind::Rough => continue,
        };
        let place = if row.from_path_m <= 0.0 {
            "under the path".to_string()
        } else if returns && row.from_ways_m <= 0.0 {
            "under the ways home".into()
        } else if row.from_path_m <= NEAR_M && (!returns || row.from_path_m <= row.from_ways_m) {
            format!("{} beside the path", beside(row.from_path_m))
        } else if returns {
            format!("{} beside the ways home", beside(row.from_ways_m))
        } else {
            continue;
        };
        let heads = if row.zone.people <= 0.0 {
            "nobody, as stated".to_string()
        } else {
            let count = n(row.zone.people, if row.zone.people < 1.0 { 1 } else { 0 });
            let share = row.zone.present_share;
            let when = if share >= 1.0 {
                String::new()
            } else if share <= 0.0 {
                ", but never there, as stated".into()
            } else {
                format!(", there {} times out of 10", n(10.0 * share, if share < 0.1 { 1 } else { 0 }))
            };
            format!("about {count} {}{when}", if row.zone.people == 1.0 { "person" } else { "people" })
        };
        lines.push(format!("{} ({kind}): {heads}; {place}.", words::sentence(&row.zone.name)));
    }
    if lines.is_empty() {
        lines.push(format!(
            "No people, road, property or water was drawn within {} m. Nobody drawn does not mean nobody there.",
            n(NEAR_M, 0)
        ));
    }
    let row = &facts.summary.policies[facts.chosen];
    let ends: Vec<String> = row
        .headlines
        .iter()
        .filter(|(headline, share)| Concern::Trespass.counts(*headline) && share.events > 0)
        .map(|(headline, share)| format!("{} {}", headline.label(), words::share(share)))
        .collect();
    if !ends.is_empty() {
        lines.push(format!("How lost links under this policy ended badly for others: {}.", ends.join("; ")));
    }
    lines
}

fn bystanders(facts: &CardFacts, policy: &Policy) -> Vec<String> {
    let mut parts: Vec<String> = Vec::new();
    for action in &policy.actions {
        parts.push(match &action.kind {
            ActionKind::Hold { for_s } => format!("stays where it is for {for_s} seconds"),
            ActionKind::Land { .. } => "comes down straight where it is".into(),
            ActionKind::Return { height, .. } if height.from == HeightFrom::Home => {
                format!("flies back here {} m up and comes down at this spot", height.up_m)
            }
            ActionKind::Return { .. } => "flies back here and comes down at this spot".into(),
            ActionKind::Drop => "stops its motors and falls where it is".into(),
            ActionKind::CarryOn { for_s: Some(for_s) } => format!("flies on as before for {for_s} seconds"),
            ActionKind::CarryOn { for_s: None } => "flies on as before until its battery is empty".into(),
        });
    }
    let mut lines =
        vec![format!("\"If the radio link goes, the craft {}. Nobody is steering it then.\"", parts.join(", then "))];
    for line in policy.actions.iter().filter_map(gives_up) {
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    lines.extend(low_pack(facts, policy));
    lines.push(format!(
        "\"Please stay {} m or more from the take-off spot until I say that the propellers have stopped, and do not touch the \
         craft if it comes down near you.\"",
        n(facts.scenario.judge.home_radius_m.max(10.0), 0)
    ));
    lines.push("\"When I call, look up, and walk away from under it.\"".into());
    lines
}

/// What a step falls back to, said to bystanders; `None` where it cannot be given up.
fn gives_up(action: &Action) -> Option<String> {
    let guarded = action.guards != Guards::default();
    let what = match &action.kind {
        ActionKind::Return { .. } => "cannot find the way back",
        ActionKind::Hold { .. } if guarded => "cannot stay where it is",
        ActionKind::Land { .. } if guarded => "cannot come down as planned",
        ActionKind::CarryOn { .. } if guarded => "cannot fly on",
        _ => return None,
    };
    let then = match action.otherwise {
        Fallback::Land => "comes down where it is",
        Fallback::Drop => "falls where it is",
        Fallback::Next => "goes on to what comes next",
    };
    Some(format!("\"If it {what}, it {then}.\""))
}

/// What a low pack makes of it, said to bystanders; nothing where the failsafe comes straight down anyway.
fn low_pack(facts: &CardFacts, policy: &Policy) -> Option<String> {
    let battery = &facts.scenario.craft.battery;
    let straight_down = matches!(policy.actions.first()?.kind, ActionKind::Land { .. } | ActionKind::Drop);
    if straight_down || battery.goes_first != GoesFirst::Pack {
        return None;
    }
    let acts = [battery.at_warning, battery.at_limit];
    let what = if acts.contains(&PackAct::Return) {
        "flies back here"
    } else if acts.contains(&PackAct::Land) {
        "comes down where it is"
    } else {
        return None;
    };
    Some(format!("\"If its battery runs low meanwhile, it {what}.\""))
}

/// Cautions that stand before the choice: those of the assessment, with the faults of the card's own runs.
fn first(facts: &CardFacts) -> Vec<String> {
    let mut summary = facts.summary.clone();
    let side = &mut summary.faults.side_flights;
    *side += facts.wind.faulted + facts.delivered_danger.map_or(0, |danger| danger.1);
    *side += facts.heights.as_ref().map_or(0, |heights| heights.faults.flights);
    crate::risk::cautions::first(&summary)
}

fn cautions(facts: &CardFacts) -> Vec<String> {
    let mut lines = Vec::new();
    let home = facts.scenario.site.home_m;
    let low = facts
        .summary
        .along
        .iter()
        // Take-off and landing start on the ground.
        .filter(|p| (p.place_m[0] - home[0]).abs() + (p.place_m[1] - home[1]).abs() > 5.0)
        .map(|p| (p.place_m[2] - p.surface_m, p.distance_m))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((clearance_m, flown_m)) = low.filter(|low| low.0 < LOW_M) {
        lines.push(format!(
            "The path is only {} m above what stands below it, {} m after take-off.",
            n(clearance_m, 0),
            n(flown_m, 0)
        ));
    }
    let sky = &facts.sky;
    if sky.failing == sky.samples.len() {
        lines.push(
            "The sky asked for is expected at none of the moments looked at: with these satellites do not take off, or use a receiver \
             for more satellite systems, or a failsafe that needs no fix."
                .into(),
        );
    } else if sky.failing > 0 {
        lines.push(format!(
            "The sky asked for is not expected at {} of the {} moments looked at.",
            sky.failing,
            sky.samples.len()
        ));
    }
    if !facts.scenario.sky.wait_for_fix {
        lines.push("In the scenario the craft takes off without waiting for a fix; this card asks for one.".into());
    }
    // One that begins with a key of the scenario keeps its letters.
    let begun = |warning: &String| {
        let key = warning.split_whitespace().next().is_some_and(|first| first.contains(['.', '_']));
        if key { warning.clone() } else { words::sentence(warning) }
    };
    lines.extend(facts.summary.warnings.iter().map(begun));
    lines.push(
        "Numbers are those of a model with the inputs of the scenario; people count only where they were drawn.".into(),
    );
    lines
}

/// The document of a card: settings, limits, what is around, and the tests. A terminal has the tests in lines.
pub fn document(sheet: &Sheet) -> Document {
    Document {
        kind: "Card for the field",
        tab: "card for the field",
        title: sheet.title.clone(),
        invented: sheet.invented,
        question: sheet.about.clone(),
        first: sheet.first.clone(),
        answer: sheet.opening.clone(),
        lead: lead(sheet),
        cautions: sheet.cautions.clone(),
        sections: vec![
            settings_section(sheet),
            limits(sheet),
            sky_section(sheet),
            list("fades", "Where the link is expected to fade", &sheet.fades),
            list("under", "Who and what is underneath", &sheet.underneath),
            list("say", "What to say to bystanders", &sheet.bystanders),
            tests_section(sheet),
        ],
        made: format!(
            "Version {}, seed {}, scenario {}; made by: {}",
            sheet.program_version,
            sheet.seed,
            sheet.scenario_hash.get(..12).unwrap_or(&sheet.scenario_hash),
            sheet.command
        ),
        ..Document::default()
    }
}

/// The sentences of the assessment, as its page has them.
fn lead(sheet: &Sheet) -> Vec<Part> {
    let mut lead = vec![Part::both(Block::Sure(sheet.verdict.clone()))];
    if !sheet.changes.is_empty() {
        lead.push(Part::both(Block::Sure(format!("What would change it: {}", sheet.changes.join(" ")))));
    }
    lead
}

fn list(id: &'static str, heading: &'static str, lines: &[String]) -> Section {
    Section::new(id, heading, heading).with(On::Both, Block::List(lines.to_vec()))
}

fn settings_section(sheet: &Sheet) -> Section {
    let caption = match &sheet.delivered_name {
        Some(name) => format!("Beside the settings the craft was delivered with ({name}). Changes are marked."),
        None => "The scenario does not say what the craft was delivered with.".into(),
    };
    let rows = sheet.settings.iter().map(|row| {
        let change = match row.delivered {
            None => "check it",
            Some(_) if row.changes() => "change it",
            Some(_) => "keep",
        };
        let delivered = row.delivered.clone().unwrap_or("not stated".into());
        vec![row.what.clone(), row.chosen.clone(), delivered, change.into()]
    });
    let rows: Vec<Vec<String>> = rows.collect();
    let changes = rows.iter().filter(|row| row[3] != "keep").map(|row| row[..3].to_vec());
    let columns = ["setting", "set to", "delivered", "change"];
    let brief = Table::new("Only what must be changed or checked:", &columns[..3]).rows(changes);
    let same = if brief.rows.is_empty() { "Nothing differs from the settings it was delivered with." } else { "" };
    Section::new("settings", "Settings", "Settings of this policy")
        .line(sheet.policy_words.clone())
        .with(On::Terminal, brief.block())
        .with(On::Terminal, Block::Line(same.into()))
        .with(On::Page, Table::new(caption, &columns).label("Settings").rows(rows).block())
}

fn limits(sheet: &Sheet) -> Section {
    let height = match sheet.height_m {
        Some([low, high]) => format!("Come home at {} to {} m above home", n(low, 0), n(high, 0)),
        None => "No return height is recommended".into(),
    };
    Section::new("limits", "Limits", "Limits of the day")
        .with(On::Both, Block::Strong(height))
        .line(sheet.height_why.clone())
        .line(format!("Point of no return: {}", sheet.no_return))
        .line(format!("Wind: {}", sheet.wind))
}

fn sky_section(sheet: &Sheet) -> Section {
    let rows = sheet.forecast.iter().map(|row| vec![row.time.clone(), row.satellites.to_string(), n(row.hdop, 1)]);
    let forecast = Table::new("Expected at the take-off spot", &["time", "#satellites", "#HDOP"]);
    Section::new("sky", "Sky", "Sky before take-off")
        .line(format!(
            "At least {} satellites and HDOP at most {}; otherwise wait.",
            sheet.least_satellites,
            n(sheet.greatest_hdop, 1)
        ))
        .with(On::Page, forecast.label("Satellites expected").rows(rows).block())
}

fn tests_section(sheet: &Sheet) -> Section {
    let intro = "Propellers off on the bench and on foot. Tick when done. A value outside its tolerance means that the model or the \
                 set-up is wrong: find out which before you fly.";
    let mut section = Section::new("tests", "Tests", "Bench and field tests: predicted, and what was seen")
        .line(format!("{intro} {}", tolerances()));
    for group in sheet.tests.chunk_by(|a, b| a.group == b.group) {
        let name = &group[0].group;
        let lines = group.iter().map(|t| format!("{}: {}: {} ({})", t.how, t.what, t.predicted, t.tolerance));
        let rows = group.iter().map(|t| [&t.how, &t.what, &t.predicted, &t.tolerance].map(Clone::clone).to_vec());
        let columns = ["do this", "look at", "#predicted", "#tolerance"];
        section = section
            .with(On::Terminal, Block::Line(format!("{name}:")))
            .with(On::Terminal, Block::List(lines.collect()))
            .with(On::Page, Table::new(name, &columns).rows(rows).block());
    }
    section
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{self, Files};

    struct Nothing;

    impl Files for Nothing {
        fn read(&self, name: &str) -> Result<Vec<u8>, String> {
            Err(format!("{name}: no file here"))
        }
    }

    fn scenario() -> Scenario {
        let text = r#"
title = "A field"
about = "Invented, for tests."
invented = true
[site]
extent_m = [-100, -100, 100, 100]
[craft]
mass_kg = 1
cruise_mps = 9
[path]
waypoints_m = [[0, 20, 30], [50, 20, 30]]
speed_mps = 5
[loss.cut]
any_time = true
[[policy]]
name = "home"
[[policy.action]]
hold = { for_s = 2 }
[[policy.action]]
return = { height = { up_m = 40, may_sink = true }, home_circle_m = 5 }
guard.battery = { reserve_pct = 15 }
[delivered]
name = "as delivered"
[[delivered.action]]
return = { height = { up_m = 20 }, home_circle_m = 5 }
guard.duration = { at_most_s = 60 }
"#;
        scenario::read("field.toml", text, &Nothing).unwrap_or_else(|found| {
            panic!("{}", found.iter().map(|finding| finding.in_words() + "\n").collect::<String>())
        })
    }

    /// Rows meet by what the action is, wherever it stands in its chain; what only one policy has is said to be unused in the
    /// other.
    #[test]
    fn settings_stand_beside_those_delivered() {
        let scenario = scenario();
        let rows = settings(&scenario, &scenario.policies[0]);
        let row = |what: &str| rows.iter().find(|row| row.what == what).unwrap_or_else(|| panic!("{what}: {rows:#?}"));
        let pair = |what: &str| (row(what).chosen.as_str(), row(what).delivered.as_deref());
        assert_eq!(pair("order"), ("hold, then return home", Some("return home")));
        assert_eq!(pair("hold: for"), ("2 s", Some("not used")));
        assert_eq!(pair("return: height"), ("40 m above home", Some("20 m above home or higher")));
        assert_eq!(pair("return: speed"), ("9 m/s", Some("9 m/s")));
        assert!(!row("return: comes down within").changes());
        assert_eq!(pair("return: charge kept"), ("15 %", Some("not used")));
        assert_eq!(pair("return: no longer than"), ("not used", Some("60 s")));
        assert!(row("receiver: silence until lost").delivered.is_none());
        // What only the delivered policy has stands beside the rows of its action, not at the end.
        let at = |what: &str| rows.iter().position(|row| row.what == what);
        assert!(at("return: no longer than") < at("receiver: silence until lost"));
    }

    #[test]
    fn what_is_set_for_a_low_pack_stands_on_the_card() {
        let mut scenario = scenario();
        let rows = |scenario: &Scenario| -> Vec<(String, String)> {
            let rows = settings(scenario, &scenario.policies[0]).into_iter();
            rows.filter(|row| row.what.starts_with("low pack")).map(|row| (row.what, row.chosen)).collect()
        };
        let limit = format!("low pack: at {} % or 3.3 V a cell", short(scenario.craft.battery.land_charge_pct));
        assert_eq!(rows(&scenario), [(limit.clone(), "land".to_string())]);
        let battery = &mut scenario.craft.battery;
        (battery.at_warning, battery.warn_charge_pct) = (PackAct::Return, 25.0);
        (battery.return_at_least_m, battery.goes_first) = (Some(50.0), GoesFirst::Policy);
        let home = "home at 50 m or higher".to_string();
        assert_eq!(
            rows(&scenario),
            [
                ("low pack: at 25 % or 3.5 V a cell".to_string(), home),
                (limit, "land".into()),
                ("low pack: while the link is lost".into(), "not heeded".into())
            ]
        );
    }
}
