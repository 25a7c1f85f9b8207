//! What `check` prints: link, sky, energy and clearance of the plan, before any flight is simulated.

use super::terminal::{Manner, Page};
use super::words;
use crate::plan::Survey;
use crate::scenario::Scenario;

/// The survey on a terminal, 80 columns.
pub fn text(scenario: &Scenario, survey: &Survey, grid_cell_m: f64, manner: Manner) -> String {
    let mut page = Page::new(manner);
    let n = words::number;
    let place = |p: [f64; 3]| format!("{} m east, {} m north, {} m above home", n(p[0], 0), n(p[1], 0), n(p[2], 0));
    page.title(&if scenario.invented {
        format!("{} (invented place and craft)", scenario.title)
    } else {
        scenario.title.clone()
    });
    page.line(&scenario.about);

    page.heading("Plan");
    let last = survey.along.last();
    page.line(&format!(
        "{} m in {} s; grid of {} m; {} policies; {} flights from seed {}.",
        n(last.map_or(0.0, |p| p.distance_m), 0),
        n(survey.duration_s, 0),
        n(grid_cell_m, 1),
        scenario.policies.len(),
        words::count(u64::from(scenario.flights)),
        scenario.seed
    ));
    if survey.path_clearance_m.is_finite() {
        page.line(&format!(
            "Least height of the path above what stands below: {} m, after {} m.",
            n(survey.path_clearance_m, 0),
            n(survey.path_clearance_at_m, 0)
        ));
    }

    page.heading("Link budget at the weakest place of the path (middle values, no fading)");
    let weakest = &survey.along[survey.weakest];
    page.line(&format!("At {}, after {} m of flight:", place(weakest.place_m), n(weakest.distance_m, 0)));
    let b = &survey.weakest_budget;
    let mut rows = vec![vec![
        "margin with both ends one metre apart".to_string(),
        format!("{} dB", n(survey.margin_at_one_metre_db, 1)),
    ]];
    for (what, loss_db) in [
        ("distance", b.distance_db),
        ("terrain and buildings", b.diffraction_db),
        ("trees", b.vegetation_db),
        ("ground reflection", b.reflection_db),
        ("antenna patterns, pointing, damage", b.pattern_db),
        ("polarisation", b.polarisation_db),
        ("the pilot's body", b.body_db),
        ("interference, mean over time and channels", b.interference_db),
    ] {
        if loss_db.abs() >= 0.05 {
            rows.push(vec![format!("  {what}"), format!("{} dB", words::signed(-loss_db, 1))]);
        }
    }
    rows.push(vec!["margin left".into(), format!("{} dB", n(weakest.margin_db, 1))]);
    page.plain_table(&["", "level"], &rows);
    page.line(&format!(
        "Packets fail below {} dBm at the craft. Shadowing ({} dB, one sigma) and fading come on top in flight.",
        n(survey.sensitivity_dbm, 1),
        n(scenario.radio.shadow_sigma_db.central(), 1)
    ));

    if let Some(weakest) = survey.with_sources_on {
        page.line(&format!(
            "While every source of interference is on the least margin of the path is {} dB, at {}, after {} m.",
            n(weakest.margin_db, 1),
            place(weakest.place_m),
            n(weakest.distance_m, 0)
        ));
    }

    page.heading("Sky along the path (middle of the take-off window)");
    let with_fix: Vec<f64> = survey.along.iter().map(|p| p.hdop).filter(|hdop| hdop.is_finite()).collect();
    let fewest = survey.along.iter().map(|p| p.satellites).min().unwrap_or(0);
    let most = survey.along.iter().map(|p| p.satellites).max().unwrap_or(0);
    let worst = with_fix.iter().copied().fold(f64::NAN, f64::max);
    let tracked = if fewest == most { fewest.to_string() } else { format!("{fewest} to {most}") };
    page.line(&format!("Satellites tracked: {tracked}; worst HDOP: {}.", n(worst, 2)));
    if with_fix.len() < survey.along.len() {
        page.line(&format!(
            "No position fix on {} of {} looked-at places of the path.",
            survey.along.len() - with_fix.len(),
            survey.along.len()
        ));
    }

    page.heading("Energy and the way home (middle wind and pack)");
    let left = match last.map_or(f64::NAN, |p| p.charge_pct) {
        short if short < 0.0 => format!("the charge does not last the path: {} % of the pack short", n(-short, 1)),
        left => format!("charge left at the end of the path {} %", n(left, 0)),
    };
    page.line(&format!(
        "Hover {} W; fastest through the air {} m/s; {left}.",
        n(survey.hover_power_w, 0),
        n(survey.top_airspeed_mps, 1)
    ));
    let rows: Vec<Vec<String>> = survey
        .ways
        .iter()
        .zip(&survey.no_return)
        .map(|(way, back)| {
            vec![
                way.name.clone(),
                format!("{} m", n(way.clearance_m, 0)),
                if way.charge_needed_pct.is_finite() {
                    format!("{} %", n(way.charge_needed_pct, 0))
                } else {
                    "cannot".into()
                },
                format!("{} m/s", n(back.headwind_mps, 1)),
                format!("{} m/s", n(back.best_speed_mps, 1)),
                back.distance_m.map_or_else(|| "none".into(), |d| format!("{} m", n(d, 0))),
            ]
        })
        .collect();
    if rows.is_empty() {
        page.line("No policy flies home.");
    } else {
        page.plain_table(&["policy", "clears by", "most charge", "headwind", "best speed", "no return"], &rows);
        page.line(
            "clears by: least height of the straight way home above what stands below; negative: it flies into \
             something. most charge: what the costliest way home from the path takes. no return: distance flown after \
             which the charge left no longer brings it home; none: it does from everywhere.",
        );
        for back in &survey.no_return {
            if let Some(place_m) = back.place_m {
                page.line(&format!(
                    "'{}' has its point of no return at {}.",
                    scenario.policies[back.policy].name,
                    place(place_m)
                ));
            }
        }
    }

    page.heading("Policies");
    for policy in &scenario.policies {
        page.line(&format!("{}: {}.", policy.name, policy.in_words()));
    }
    if !survey.warnings.is_empty() {
        page.heading("Unusual values");
        for warning in &survey.warnings {
            page.line(warning);
        }
    }
    page.heading("Cautions");
    page.line(CAUTION);
    page.finish()
}

/// The cautions that stand under every text.
pub const CAUTION: &str = "A simulation of a model of this site: no permission, no clearance, no record of real flights. Test the \
link, the home point and the failsafe on the bench with propellers removed and in the field before people are anywhere \
near. Local rules and licensed practice come first.";
