//! The document of a check: link, sky, energy and clearance of the plan, before any flight is simulated.

use super::document::{Document, On, Section, Table};
use super::words::{self, count, number as n, signed};
use crate::plan::{NoReturn, Survey};
use crate::scenario::{LeftOut, Scenario, TagUse};

/// The document.
pub fn document(scenario: &Scenario, survey: &Survey, grid_cell_m: f64) -> Document {
    let policies = scenario.policies.iter().map(|policy| format!("{}: {}.", policy.name, policy.in_words()));
    Document {
        kind: "The plan before any flight",
        tab: "the plan",
        title: scenario.title.clone(),
        invented: scenario.invented,
        question: scenario.about.clone(),
        sections: vec![
            plan(scenario, survey, grid_cell_m),
            map(survey),
            link(scenario, survey),
            sky(survey),
            energy(scenario, survey),
            Section::new("policies", "Policies", "Policies").lines(policies),
            assumed(survey),
            Section::new("odd", "Unusual values", "Unusual values").lines(survey.warnings.clone()),
        ],
        ..Document::default()
    }
}

fn assumed(survey: &Survey) -> Section {
    let lines = survey.assumed.iter().map(|row| format!("{}: {} ({}).", row.key, row.value, row.note));
    Section::new("assumed", "Assumed", "Assumed for want of a number; a distribution is drawn for each flight")
        .lines(lines)
}

/// Features of each reason that are named; `--json` has all.
const NAMED: usize = 3;

/// What became of a raw map.
fn map(survey: &Survey) -> Section {
    let section = Section::new("map", "Map", "What became of the map");
    let Some(map) = &survey.map else { return section };
    let used: u32 = map.used.iter().map(|row| row.features).sum();
    let kinds = grouped(&map.used, |row: &TagUse| row.becomes.as_str());
    let becomes = kinds.into_iter().map(|(becomes, list)| {
        let assumed: u32 = list.iter().map(|row| row.heights_assumed).sum();
        let assumed = if assumed > 0 { format!("; the height of {assumed} is assumed") } else { String::new() };
        let name = |row: &TagUse| format!("{} {}", count(u64::from(row.features)), row.tag);
        format!("{}: {becomes}{assumed}.", first_few(&list, name))
    });
    let mut reasons = grouped(&map.left_out, |one: &LeftOut| one.why.as_str());
    reasons.sort_by_key(|(_, list)| std::cmp::Reverse(list.len()));
    let lines = reasons.into_iter().map(|(why, list)| {
        let name = |one: &LeftOut| {
            let tag = if one.tag.is_empty() { String::new() } else { format!(" ({})", one.tag) };
            format!("{}{tag}", one.feature)
        };
        format!("Not used, {why}: {}.", first_few(&list, name))
    });
    let section = section.line(format!(
        "{}: {} features used, {} not; `check --json` lists every one that is not used.",
        map.file,
        count(u64::from(used)),
        count(map.left_out.len() as u64)
    ));
    section.lines(becomes).lines(lines)
}

/// Items with the same word together, in the order in which the words come first.
fn grouped<T>(list: &[T], word: impl Fn(&T) -> &str) -> Vec<(&str, Vec<&T>)> {
    let mut groups: Vec<(&str, Vec<&T>)> = Vec::new();
    for item in list {
        match groups.iter_mut().find(|(known, _)| *known == word(item)) {
            Some((_, group)) => group.push(item),
            None => groups.push((word(item), vec![item])),
        }
    }
    groups
}

/// The first [`NAMED`] of a list, and how many more there are.
fn first_few<T>(list: &[&T], name: impl Fn(&T) -> String) -> String {
    let first: Vec<String> = list.iter().take(NAMED).map(|item| name(item)).collect();
    let more = list.len().saturating_sub(NAMED);
    if more > 0 { format!("{} and {more} more", first.join(", ")) } else { first.join(", ") }
}

fn place([x, y, z]: [f64; 3]) -> String {
    format!("{}, {} m above home", words::place(x, y), n(z, 0))
}

fn plan(scenario: &Scenario, survey: &Survey, grid_cell_m: f64) -> Section {
    let clearance = if survey.path_clearance_m.is_finite() {
        format!(
            "Least height of the path above what stands below: {} m, after {} m.",
            n(survey.path_clearance_m, 0),
            n(survey.path_clearance_at_m, 0)
        )
    } else {
        String::new()
    };
    Section::new("plan", "Plan", "Plan")
        .line(format!(
            "{} m in {} s; grid of {} m; {} policies; {} flights from seed {}.",
            n(survey.along.last().map_or(0.0, |p| p.distance_m), 0),
            n(survey.duration_s, 0),
            n(grid_cell_m, 1),
            scenario.policies.len(),
            count(u64::from(scenario.flights)),
            scenario.seed
        ))
        .line(clearance)
}

fn link(scenario: &Scenario, survey: &Survey) -> Section {
    let weakest = &survey.along[survey.weakest];
    let b = &survey.weakest_budget;
    let terms = [
        ("distance", b.distance_db),
        ("terrain and buildings", b.diffraction_db),
        ("trees", b.vegetation_db),
        ("ground reflection", b.reflection_db),
        ("antenna patterns, pointing, damage", b.pattern_db),
        ("polarisation", b.polarisation_db),
        ("the pilot's body", b.body_db),
        ("interference, mean over time and channels", b.interference_db),
    ];
    let taken = terms.into_iter().filter(|(_, loss_db)| loss_db.abs() >= 0.05);
    let mut rows = vec![vec![
        "margin with both ends one metre apart".into(),
        format!("{} dB", n(survey.margin_at_one_metre_db, 1)),
    ]];
    rows.extend(taken.map(|(what, loss_db)| vec![what.to_string(), format!("{} dB", signed(-loss_db, 1))]));
    rows.push(vec!["margin left".into(), format!("{} dB", n(weakest.margin_db, 1))]);
    let with_sources = survey.with_sources_on.map(|weakest| {
        format!(
            "While every source of interference is on, the least margin of the path is {} dB, at {}, after {} m.",
            n(weakest.margin_db, 1),
            place(weakest.place_m),
            n(weakest.distance_m, 0)
        )
    });
    let picture = survey.picture.map(|picture| {
        format!(
            "The least margin of the picture is {} dB, at {}, after {} m; the control link has {} dB there.",
            n(picture.margin_db, 1),
            place(picture.place_m),
            n(picture.distance_m, 0),
            n(picture.control_db, 1)
        )
    });
    let neighbours = (scenario.radio.neighbours > 0).then(|| {
        format!(
            "{} others on the band leave {} % of the packets, wherever the craft is.",
            scenario.radio.neighbours,
            n(100.0 * survey.kept_beside_neighbours, 1)
        )
    });
    Section::new("link", "Link", "Link budget at the weakest place of the path (middle values, no fading)")
        .line(format!("At {}, after {} m of flight:", place(weakest.place_m), n(weakest.distance_m, 0)))
        .with(On::Both, Table::new("", &["", "#level"]).label("Link budget").rows(rows).block())
        .line(format!(
            "Packets fail below {} dBm at the craft. Shadowing ({} dB, one sigma) and fading come on top in flight.",
            n(survey.sensitivity_dbm, 1),
            n(scenario.radio.shadow_sigma_db.central(), 1)
        ))
        .lines(with_sources)
        .lines(neighbours)
        .lines(picture)
}

fn sky(survey: &Survey) -> Section {
    let with_fix: Vec<f64> = survey.along.iter().map(|p| p.hdop).filter(|hdop| hdop.is_finite()).collect();
    let fewest = survey.along.iter().map(|p| p.satellites).min().unwrap_or(0);
    let most = survey.along.iter().map(|p| p.satellites).max().unwrap_or(0);
    let worst = with_fix.iter().copied().fold(f64::NAN, f64::max);
    let tracked = if fewest == most { fewest.to_string() } else { format!("{fewest} to {most}") };
    let without = survey.along.len() - with_fix.len();
    let gaps = (without > 0).then(|| {
        format!("No position fix at {without} of the {} places looked at along the path.", survey.along.len())
    });
    Section::new("sky", "Sky", "Sky along the path (middle of the take-off window)")
        .line(format!("Satellites tracked: {tracked}; worst HDOP: {}.", n(worst, 2)))
        .lines(gaps)
}

fn energy(scenario: &Scenario, survey: &Survey) -> Section {
    let left = match survey.along.last().map_or(f64::NAN, |p| p.charge_pct) {
        short if short < 0.0 => format!("the charge does not last the path: {} % of the pack short", n(-short, 1)),
        left => format!("charge left at the end of the path {} %", n(left, 0)),
    };
    let section = Section::new("energy", "Energy", "Energy and the way home (middle wind and pack)").line(format!(
        "Hover {} W; fastest through the air {} m/s; {left}.",
        n(survey.hover_power_w, 0),
        n(survey.top_airspeed_mps, 1)
    ));
    if survey.ways.is_empty() {
        return section.line("No policy flies home.");
    }
    let rows = survey.ways.iter().map(|way| {
        let charge = way.charge_needed_pct;
        // Where the charge no longer brings it home is told of the first return of each policy.
        let back = survey.no_return.iter().find(|back| way.first && way.policy == Some(back.policy));
        let of = |words: &dyn Fn(&NoReturn) -> String| back.map_or_else(String::new, words);
        vec![
            way.name.clone(),
            format!("{} m", n(way.clearance_m, 0)),
            if charge.is_finite() { format!("{} %", n(charge, 0)) } else { "cannot".into() },
            of(&|back| format!("{} m/s", n(back.headwind_mps, 1))),
            of(&|back| format!("{} m/s", n(back.best_speed_mps, 1))),
            of(&|back| back.distance_m.map_or("none".into(), |d| format!("{} m", n(d, 0)))),
        ]
    });
    let columns = ["policy", "#clears by", "#most charge", "#headwind", "#best speed", "#no return"];
    let places = survey.no_return.iter().filter_map(|back| {
        let name = &scenario.policies[back.policy].name;
        Some(format!("'{name}' has its point of no return at {}.", place(back.place_m?)))
    });
    section
        .with(On::Both, Table::new("", &columns).label("Ways home").rows(rows).block())
        .line(
            "clears by: least height of the straight way home above what stands below; negative: it flies into something. most \
             charge: what the costliest way home from the path takes. no return: distance flown after which the charge left no \
             longer brings it home; none: it does from everywhere.",
        )
        .lines(places)
}
