//! What a practitioner would ask about before anything flies: where craft and pilot stand, what the craft can carry and meet, what never
//! comes about.

use super::ways::PATH_STEP_M;
use super::words::named;
use crate::failsafe::ActionKind;
use crate::scenario::{CutAt, Loss};
use crate::site::{ObstacleKind, ZoneKind};
use crate::units::STANDARD_GRAVITY_MPS2;
use crate::world::World;
use crate::world::craft::{mover, rotors};

/// Thrust over weight under which a multirotor hardly climbs or holds against gusts. Common practice, no source: two is aimed for.
const LIFTS_WELL: f64 = 1.5;

/// Weight over disc area beyond what small multirotors carry, N/m². Estimate: twice the 250 of a heavily laden one.
const DISC_LOADING_NPM2: f64 = 500.0;

/// Share of all satellites that stand above the horizon at most. Estimate: four to five tenths are up at a time.
const UP_AT_MOST: f64 = 0.6;

/// Where craft and pilot stand.
pub(super) fn standing(world: &World, lines: &mut Vec<String>) {
    let (site, pilot_m) = (&world.scenario.site, world.scenario.pilot.place_m);
    for (who, key, place_m) in
        [("the take-off spot", "site.home_m", site.home_m), ("the pilot", "pilot.place_m", pilot_m)]
    {
        // The uppermost zone of a place is the one that counts.
        let on_top = site.zones.iter().rev().find(|zone| zone.area.contains(place_m));
        if on_top.is_some_and(|zone| zone.kind == ZoneKind::Water) {
            lines.push(format!("{key}: {who} is in water"));
        }
        let inside = |kind| site.obstacles.iter().find(|at| at.kind == kind && at.area.contains(place_m));
        if let Some(building) = inside(ObstacleKind::Building).filter(|building| building.base_m <= 2.0) {
            lines.push(format!("{key}: {who} is inside the building \"{}\"", building.name));
        }
    }
    let slope_deg = site.terrain.as_ref().map_or(0.0, |ground| {
        let [x_m, y_m] = site.home_m;
        ground.slope_rad(x_m, y_m).to_degrees()
    });
    let tips_deg = world.scenario.craft.central().tip_slope_deg;
    if slope_deg > tips_deg {
        lines.push(format!(
            "site.home_m: the ground slopes by {slope_deg:.0}° at the take-off spot; on more than {tips_deg:.0}° the craft tips over"
        ));
    }
}

/// What the craft lifts, and how fast it is against the wind.
pub(super) fn strength(world: &World, top_mps: f64, lines: &mut Vec<String>) {
    let craft = world.scenario.craft.central();
    let weight_n = craft.flown_mass_kg() * STANDARD_GRAVITY_MPS2;
    let lifts = mover(&craft, [0.0; 2]).thrust_max_n / weight_n;
    if lifts < LIFTS_WELL {
        let key = if craft.payload_kg > 0.0 {
            format!("craft.payload_kg = {}", craft.payload_kg)
        } else {
            format!("craft.thrust_ratio = {}", craft.thrust_ratio)
        };
        lines.push(format!(
            "{key}: so the motors lift {lifts:.1} times the weight of {:.1} kg; below {LIFTS_WELL} the craft hardly climbs or holds against \
             gusts, below 1 it stays on the ground",
            craft.flown_mass_kg()
        ));
    }
    let loading_npm2 = weight_n / rotors(&craft).disc_area_m2;
    if loading_npm2 > DISC_LOADING_NPM2 {
        lines.push(format!(
            "craft.rotor_diameter_m: {:.1} kg on this disc area are {loading_npm2:.0} N/m²; small multirotors carry 50 to 250",
            craft.flown_mass_kg()
        ));
    }
    if !top_mps.is_finite() {
        return;
    }
    let wind_mps = world.scenario.weather.wind_mps.central();
    if wind_mps >= top_mps {
        lines.push(format!(
            "weather.wind_mps: a wind of {wind_mps:.0} m/s, where the craft makes at most {top_mps:.0} m/s: upwind it gets nowhere"
        ));
    }
    let mut fast: Vec<(String, f64)> = vec![("craft.cruise_mps".into(), craft.cruise_mps)];
    fast.push(("path.speed_mps".into(), world.scenario.path.speed_mps));
    for policy in &world.scenario.policies {
        for action in &policy.actions {
            if let ActionKind::Return { speed_mps, .. } = action.kind {
                fast.push((format!("the way home of policy \"{}\"", policy.name), speed_mps.unwrap_or(0.0)));
            }
        }
    }
    for (what, asked_mps) in fast.into_iter().filter(|(_, asked_mps)| *asked_mps > 1.02 * top_mps) {
        lines
            .push(format!("{what} asks for {asked_mps:.0} m/s; in still air the craft makes at most {top_mps:.0} m/s"));
    }
}

/// What never comes about.
pub(super) fn never(world: &World, lines: &mut Vec<String>) {
    let scenario = &world.scenario;
    let all = world.sky.source().satellites.list.len();
    let at_most = (UP_AT_MOST * all as f64).floor() as u32;
    let asks = |policy: &&crate::failsafe::Policy| {
        policy.actions.iter().any(|action| action.guards.fix.is_some_and(|guard| guard.satellites > at_most))
    };
    let asking: Vec<&str> = scenario.policies.iter().filter(asks).map(|policy| policy.name.as_str()).collect();
    if !asking.is_empty() {
        lines.push(format!(
            "more satellites are asked for than the {at_most} that stand over the site at most, of {all} in the constellations chosen; the \
             guard always acts: {}",
            named(&asking)
        ));
    }
    if scenario.sky.wait_for_fix && scenario.sky.wait_satellites > at_most {
        lines.push(format!(
            "sky.wait_satellites = {}: at most {at_most} stand over the site, of {all} in the constellations chosen; the craft never takes \
             off with a fix",
            scenario.sky.wait_satellites
        ));
    }
    let duration_s = world.path.duration_s();
    if let Loss::Cut { at: CutAt::TimeS(at_s), .. } = &scenario.loss
        && at_s.central() > duration_s
    {
        lines.push(format!(
            "loss.cut.time_s = {:.0}: the path is over after {duration_s:.0} s, so most flights land before their link is cut",
            at_s.central()
        ));
    }
    let patience_s = scenario.radio.control.receiver.patience_s.central();
    let runs_on_m = patience_s * scenario.path.speed_mps;
    if let Some(fence) = &scenario.site.fence {
        let edge_m = |place_m: [f64; 3]| fence.edge_distance_m([place_m[0], place_m[1]]);
        let nearest_m = world.path.every(PATH_STEP_M).map(|at| edge_m(at.place_m)).fold(f64::INFINITY, f64::min);
        if runs_on_m > nearest_m {
            lines.push(format!(
                "radio.control.receiver.patience_s: before the link is called lost the craft flies on for {patience_s:.1} s, \
                 {runs_on_m:.0} m at its speed; the path comes within {nearest_m:.0} m of the fence"
            ));
        }
    }
}
