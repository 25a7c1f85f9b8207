//! What is odd about a plan but allowed.

use super::odd;
use super::ways::{PATH_STEP_M, WayHome};
use super::words::{grouped, named};
use crate::flight::MOST_S;
use crate::scenario::{AfterHold, VideoLost};
use crate::site::Area;
use crate::world::World;

/// What is odd about a scenario but allowed, and about the plan that it makes: for check, report and card alike. `empty_at_s`: when the
/// pack is empty, should that be before the end of the path; `top_mps`: the greatest airspeed.
pub(super) fn warnings(world: &World, ways: &[WayHome], empty_at_s: Option<f64>, top_mps: f64) -> Vec<String> {
    let scenario = &world.scenario;
    let mut lines = scenario.warnings.clone();

    // Who may never come down.
    let duration_s = world.path.duration_s();
    let video = scenario.radio.video.as_ref().map(|video| video.central());
    if let Some(video) = video.filter(|video| video.when_lost == VideoLost::Hold) {
        // Turned or climbed, he waits the same time again.
        let again = matches!(video.after_hold, AfterHold::Turn | AfterHold::Climb);
        let hovers_s = if again { 2.0 } else { 1.0 } * video.hold_s;
        if hovers_s > duration_s {
            lines.push(format!(
                "radio.video.hold_s = {}: without a picture the craft hovers for {hovers_s:.0} s with the link up, longer than \
                 the {duration_s:.0} s of the path; such a flight ends by its pack or not at all",
                video.hold_s
            ));
        }
    }
    for policy in &world.scenario.policies {
        let hold_s: f64 = policy.actions.iter().map(|action| action.kind.waits_s()).sum();
        if hold_s >= MOST_S {
            lines.push(format!(
                "policy \"{}\" holds for {} s: a flight is watched for {} s from the loss, so this one ends by its pack or not at all",
                policy.name,
                grouped(hold_s as u64),
                grouped(MOST_S as u64)
            ));
        }
    }

    if let Some(empty_s) = empty_at_s {
        lines.push(format!(
            "the charge does not last the path: at the middle values of what is assumed the pack is empty {:.0} s after take-off, of {:.0} s",
            empty_s, duration_s
        ));
    }
    odd::standing(world, &mut lines);
    odd::strength(world, top_mps, &mut lines);
    odd::never(world, &mut lines);
    if let Some(ceiling_m) = scenario.site.ceiling_above_ground_m {
        over_the_ceiling(world, ceiling_m, &mut lines);
    }

    // Home needs a home point.
    let homeward: Vec<&str> = ways.iter().map(|way| way.name.as_str()).collect();
    if !scenario.sky.wait_for_fix && !homeward.is_empty() {
        lines.push(format!(
            "sky.wait_for_fix = false: a craft that takes off without a fix has no home point until it gets one, and without a home point \
             these policies do not come home: {}",
            named(&homeward)
        ));
    }

    if let Some(Tallest { name, top_m }) = tallest(world) {
        for way in ways.iter().filter(|way| way.least_height_m < top_m) {
            lines.push(format!(
                "policy \"{}\" comes home at {:.0} m above home, lower than the tallest obstacle of the site: {name}, {top_m:.0} m above home",
                way.name, way.least_height_m
            ));
        }
    }

    if scenario.radio.telemetry.is_none() {
        let pilot = &scenario.pilot;
        for (key, heeded) in [
            ("pilot.turn_back_below_pct", pilot.turn_back_below_pct > 0.0),
            ("pilot.turn_back_margin_db", pilot.turn_back_margin_db >= 0.0),
            ("pilot.turn_back_charge_pct", pilot.turn_back_charge_pct > 0.0),
        ] {
            if heeded {
                lines.push(format!("{key} is stated, but there is no radio.telemetry: nothing warns the pilot"));
            }
        }
    }
    lines
}

/// What rises above a ceiling that is measured from the ground: the path, and obstacles over which no way is then permitted.
fn over_the_ceiling(world: &World, ceiling_m: f64, lines: &mut Vec<String>) {
    let above_m = |p: [f64; 3]| p[2] - world.grid.ground_m(p[0], p[1]);
    let highest_m = world.path.every(PATH_STEP_M).map(|at| above_m(at.place_m)).fold(f64::NEG_INFINITY, f64::max);
    if highest_m > ceiling_m + 0.5 {
        lines.push(format!(
            "the path rises to {highest_m:.0} m above the ground below, over site.ceiling_above_ground_m = {ceiling_m}"
        ));
    }
    let over: Vec<_> = world.scenario.site.obstacles.iter().filter(|obstacle| obstacle.height_m > ceiling_m).collect();
    for obstacle in over.iter().take(OVER_AT_MOST) {
        lines.push(format!(
            "site.ceiling_above_ground_m = {ceiling_m}: under the top of {}, {:.0} m above the ground; no way over it keeps to that",
            obstacle.name, obstacle.height_m
        ));
    }
    if over.len() > OVER_AT_MOST {
        let more = over.len() - OVER_AT_MOST;
        lines.push(format!("site.ceiling_above_ground_m = {ceiling_m}: under the tops of {more} more obstacles"));
    }
}

/// Obstacles over a ceiling that are named: a raw map may have a whole wood of them.
const OVER_AT_MOST: usize = 5;

/// The obstacle whose top is the highest of the site.
struct Tallest<'s> {
    name: &'s str,
    /// Above home.
    top_m: f64,
}

fn tallest(world: &World) -> Option<Tallest<'_>> {
    let grid = &world.grid;
    let top_m = |area: &Area| {
        let places = area.outline_m().into_iter().flatten().chain(std::iter::once(area.middle_m()));
        places.map(|[x, y]| grid.top_m(x, y)).fold(f64::NEG_INFINITY, f64::max)
    };
    let tops = world.scenario.site.obstacles.iter();
    let tops = tops.map(|o| Tallest { name: &o.name, top_m: top_m(&o.area) - world.home_m[2] });
    tops.max_by(|a, b| a.top_m.total_cmp(&b.top_m))
}
