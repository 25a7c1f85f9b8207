//! What a practitioner would ask about before anything flies: where craft and pilot stand, what the craft can carry and meet, what never
//! comes about, what the craft was delivered with, what nobody hears.

use super::notice::Notices;
use super::picture::Picture;
use super::ways::PATH_STEP_M;
use super::words::named;
use crate::failsafe::{ActionKind, Policy};
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

/// Share of packets lost to others on the band from which they are worth a word. Estimate.
const CROWDED: f64 = 0.1;

/// Where craft and pilot stand.
pub(super) fn standing(world: &World, notes: &mut Notices) {
    let (site, pilot_m) = (&world.scenario.site, world.scenario.pilot.place_m);
    for (who, key, place_m) in
        [("the take-off spot", "site.home_m", site.home_m), ("the pilot", "pilot.place_m", pilot_m)]
    {
        // The uppermost zone of a place is the one that counts.
        let on_top = site.zones.iter().rev().find(|zone| zone.area.contains(place_m));
        if on_top.is_some_and(|zone| zone.kind == ZoneKind::Water) {
            let remedy = "a place on firm ground; a boat or a jetty is a zone of its own over the water";
            notes.push(key, format!("{who} is in water"), remedy);
        }
        let inside = |kind| site.obstacles.iter().find(|at| at.kind == kind && at.area.contains(place_m));
        if let Some(building) = inside(ObstacleKind::Building).filter(|building| building.base_m <= 2.0) {
            let found = format!("{who} is inside the building \"{}\"", building.name);
            notes.push(key, found, "a place beside it; what one stands under has a `base_m` above 2 m");
        }
    }
    let slope_deg = site.terrain.as_ref().map_or(0.0, |ground| {
        let [x_m, y_m] = site.home_m;
        ground.slope_rad(x_m, y_m).to_degrees()
    });
    let tips_deg = world.scenario.craft.central().tip_slope_deg;
    if slope_deg > tips_deg {
        let found = format!(
            "the ground slopes by {slope_deg:.0}° at the take-off spot; on more than {tips_deg:.0}° the craft tips over"
        );
        notes.push("site.home_m", found, "a level spot");
    }
}

/// What the craft lifts, and how fast it is against the wind.
pub(super) fn strength(world: &World, top_mps: f64, notes: &mut Notices) {
    let craft = world.scenario.craft.central();
    let weight_n = craft.flown_mass_kg() * STANDARD_GRAVITY_MPS2;
    let lifts = mover(&craft, [0.0; 2]).thrust_max_n / weight_n;
    if lifts < LIFTS_WELL {
        let (key, number) = if craft.payload_kg > 0.0 {
            ("craft.payload_kg", craft.payload_kg)
        } else {
            ("craft.thrust_ratio", craft.thrust_ratio)
        };
        let found = format!(
            "with {number} the motors lift {lifts:.1} times the weight of {:.1} kg; below {LIFTS_WELL} the craft hardly climbs or holds \
             against gusts, below 1 it stays on the ground",
            craft.flown_mass_kg()
        );
        notes.push(key, found, "less load, or the `thrust_ratio` as measured on the bench");
    }
    let loading_npm2 = weight_n / rotors(&craft).disc_area_m2;
    if loading_npm2 > DISC_LOADING_NPM2 {
        let found = format!(
            "{:.1} kg on this disc area are {loading_npm2:.0} N/m²; small multirotors carry 50 to 250",
            craft.flown_mass_kg()
        );
        notes.push(
            "craft.rotor_diameter_m",
            found,
            "the diameter of one rotor in metres, and their number in `rotors`",
        );
    }
    if !top_mps.is_finite() {
        return;
    }
    let wind_mps = world.scenario.weather.wind_mps.central();
    if wind_mps >= top_mps {
        let found = format!(
            "a wind of {wind_mps:.0} m/s, where the craft makes at most {top_mps:.0} m/s: upwind it gets nowhere"
        );
        notes.push("weather.wind_mps", found, "a day with less wind");
    }
    let mut fast = vec![
        ("craft.cruise_mps".to_string(), craft.cruise_mps),
        ("path.speed_mps".into(), world.scenario.path.speed_mps),
    ];
    for (index, policy) in world.scenario.policies.iter().enumerate() {
        for (step, action) in policy.actions.iter().enumerate() {
            if let ActionKind::Return { speed_mps, .. } = action.kind {
                fast.push((format!("policy[{index}].action[{step}].return.speed_mps"), speed_mps.unwrap_or(0.0)));
            }
        }
    }
    for (key, asked_mps) in fast.into_iter().filter(|(_, asked_mps)| *asked_mps > 1.02 * top_mps) {
        let found = format!("{asked_mps:.0} m/s is asked for; in still air the craft makes at most {top_mps:.0} m/s");
        notes.push(&key, found, format!("up to {:.0} m/s, with room for a headwind", top_mps.floor()));
    }
}

/// What never comes about.
pub(super) fn never(world: &World, notes: &mut Notices) {
    let scenario = &world.scenario;
    let all = world.sky.source().satellites.list.len();
    let at_most = (UP_AT_MOST * all as f64).floor() as u32;
    for (index, policy) in scenario.policies.iter().enumerate() {
        for (step, action) in policy.actions.iter().enumerate() {
            if let Some(guard) = action.guards.fix.filter(|guard| guard.satellites > at_most) {
                let found = format!(
                    "policy \"{}\" asks for {} satellites, more than the {at_most} that stand over the site at most, of {all} in the \
                     constellations chosen; the guard always acts",
                    policy.name, guard.satellites
                );
                let key = format!("policy[{index}].action[{step}].guard.fix.satellites");
                notes.push(&key, found, "fewer satellites, or more `sky.constellations` if the receiver has them");
            }
        }
    }
    if scenario.sky.wait_for_fix && scenario.sky.wait_satellites > at_most {
        let found = format!(
            "{}, where at most {at_most} stand over the site, of {all} in the constellations chosen; the craft never takes off with a fix",
            scenario.sky.wait_satellites
        );
        notes.push("sky.wait_satellites", found, "fewer satellites, or more `sky.constellations`");
    }
    let duration_s = world.path.duration_s();
    if let Loss::Cut { at: CutAt::TimeS(at_s), .. } = &scenario.loss
        && at_s.central() > duration_s
    {
        let found = format!(
            "{:.0} s, when the path is over after {duration_s:.0} s, so most flights land before their link is cut",
            at_s.central()
        );
        notes.push("loss.cut.time_s", found, "an earlier time, or `path_share`");
    }
    beyond_the_fence(world, notes);
}

/// How far the craft flies on before its link is called lost.
fn beyond_the_fence(world: &World, notes: &mut Notices) {
    let scenario = &world.scenario;
    let Some(fence) = &scenario.site.fence else { return };
    let patience_s = scenario.radio.control.receiver.patience_s.central();
    let runs_on_m = patience_s * scenario.path.speed_mps;
    let edge_m = |place_m: [f64; 3]| fence.edge_distance_m([place_m[0], place_m[1]]);
    let nearest_m = world.path.every(PATH_STEP_M).map(|at| edge_m(at.place_m)).fold(f64::INFINITY, f64::min);
    if runs_on_m > nearest_m {
        let found = format!(
            "before the link is called lost the craft flies on for {patience_s:.1} s, {runs_on_m:.0} m at its speed; the path comes within \
             {nearest_m:.0} m of the fence, which it may cross before any policy begins"
        );
        notes.push(
            "radio.control.receiver.patience_s",
            found,
            "a shorter patience, a slower path, or one farther inside",
        );
    }
}

/// What the craft does until somebody sets it otherwise.
pub(super) fn delivered(world: &World, notes: &mut Notices) {
    let scenario = &world.scenario;
    let Some(delivered) = &scenario.delivered else {
        notes.push(
            "delivered",
            "nothing is said of what the craft was delivered with; until it is set otherwise it does that, whatever is chosen here",
            "a table `[delivered]` with what is read off the craft",
        );
        return;
    };
    let drops = delivered.actions.iter().any(|action| matches!(action.kind, ActionKind::Drop));
    let same = |policy: &&Policy| policy.actions == delivered.actions;
    match scenario.policies.iter().find(same) {
        Some(_) if !drops => {}
        found => {
            let compared = if found.is_some() { "" } else { ", and no policy here does that" };
            let found = format!(
                "the craft as delivered: {}{compared}; a craft that nobody set flies that, not what is chosen",
                delivered.in_words()
            );
            notes.push("delivered", found, "the same chain as a `[[policy]]`, to see what forgetting costs, and a look at the setting before take-off");
        }
    }
}

/// A craft that tells the pilot nothing.
pub(super) fn no_telemetry(world: &World, notes: &mut Notices) {
    if world.scenario.radio.telemetry.is_none() {
        let pilot = &world.scenario.pilot;
        let heeded: Vec<&str> = [
            ("pilot.turn_back_below_pct", pilot.turn_back_below_pct > 0.0),
            ("pilot.turn_back_margin_db", pilot.turn_back_margin_db >= 0.0),
            ("pilot.turn_back_charge_pct", pilot.turn_back_charge_pct > 0.0),
        ]
        .into_iter()
        .filter_map(|(key, stated)| stated.then_some(key))
        .collect();
        let mut found =
            "there is none: nothing warns the pilot of a weak link or a low pack before it is too late".to_string();
        if !heeded.is_empty() {
            found += &format!(", and what is stated has no effect: {}", heeded.join(", "));
        }
        notes.push("radio.telemetry", found, "`telemetry = {}` where the craft sends any");
    }
}

/// A picture that does not reach.
pub(super) fn picture_short(picture: Option<&Picture>, notes: &mut Notices) {
    if let Some(picture) = picture.filter(|picture| picture.margin_db < 0.0) {
        let [x, y, z] = picture.place_m;
        let found = format!(
            "at the middle values the picture falls {:.0} dB short at x {x:.0}, y {y:.0}, {z:.0} m above home, after {:.0} m of flight, where \
             the control link has {:.0} dB",
            -picture.margin_db, picture.distance_m, picture.control_db
        );
        notes.push("radio.video", found, "a path nearer or higher, a better antenna, or a pilot who sees the craft");
    }
}

/// Others on the band who take much of it.
pub(super) fn crowded(world: &World, notes: &mut Notices) {
    let taken = 1.0 - world.link.kept_beside_neighbours();
    if taken >= CROWDED {
        let found = format!(
            "{} others on the band take {:.0} % of the packets, wherever the craft is: every fade is declared a loss sooner",
            world.scenario.radio.neighbours,
            100.0 * taken
        );
        notes.push("radio.neighbours", found, "fewer of them in the air, other channels, or a longer patience");
    }
}

/// What rests on a fix that the craft may not have.
pub(super) fn without_a_fix(world: &World, notes: &mut Notices) {
    let scenario = &world.scenario;
    if scenario.sky.wait_for_fix {
        return;
    }
    let which = |does: fn(&Policy) -> bool| {
        let names: Vec<&str> =
            scenario.policies.iter().filter(|policy| does(policy)).map(|policy| policy.name.as_str()).collect();
        (!names.is_empty()).then(|| named(&names))
    };
    let home = which(Policy::returns);
    let place = which(|policy| {
        let rests = |action: &crate::failsafe::Action| {
            matches!(action.kind, ActionKind::Hold { .. }) || action.guards.fence_within_m.is_some()
        };
        policy.actions.iter().any(rests)
    });
    let parts = [
        home.map(|names| format!("without a home point these policies do not come home: {names}")),
        place.map(|names| format!("without a fix these neither hold a place nor know the fence: {names}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if !parts.is_empty() {
        let found = format!(
            "false: a craft that takes off without a fix has no home point until it gets one; {}",
            parts.join(", and ")
        );
        notes.push("sky.wait_for_fix", found, "`wait_for_fix = true`, and a take-off that waits for it");
    }
}
