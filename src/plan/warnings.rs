//! What is odd about a plan but allowed.

use super::notice::Notices;
use super::odd;
use super::picture::Picture;
use super::ways::{PATH_STEP_M, WayHome, tallest_in_reach};
use super::words::grouped;
use crate::failsafe::HeightFrom;
use crate::flight::MOST_S;
use crate::scenario::{AfterHold, VideoLost};
use crate::world::World;

/// What the survey found that warnings rest on.
pub(super) struct Found<'f> {
    /// Every way home.
    pub(super) ways: &'f [WayHome],
    /// When the pack is empty, should that be before the end of the path.
    pub(super) empty_at_s: Option<f64>,
    /// The greatest airspeed.
    pub(super) top_mps: f64,
    /// Where the picture is weakest; `None` without one.
    pub(super) picture: Option<&'f Picture>,
}

/// What is odd about a scenario but allowed, and about the plan that it makes: for check, report and card alike.
pub(super) fn warnings(world: &World, found: &Found) -> Vec<String> {
    let mut notes = Notices::after_reading(&world.scenario);
    endless(world, &mut notes);
    if let Some(empty_s) = found.empty_at_s {
        let words = format!(
            "the charge does not last the path: at the middle values of what is assumed the pack is empty {empty_s:.0} s after take-off, of \
             {:.0} s",
            world.path.duration_s()
        );
        notes.push("craft.battery", words, "a shorter path, a fuller or a larger pack");
    }
    odd::standing(world, &mut notes);
    odd::strength(world, found.top_mps, &mut notes);
    odd::never(world, &mut notes);
    if let Some(ceiling_m) = world.scenario.site.ceiling_above_ground_m {
        over_the_ceiling(world, ceiling_m, &mut notes);
    }
    odd::without_a_fix(world, &mut notes);
    ways_home(world, found.ways, &mut notes);
    odd::no_telemetry(world, &mut notes);
    odd::picture_short(found.picture, &mut notes);
    odd::crowded(world, &mut notes);
    odd::delivered(world, &mut notes);
    notes.into_lines()
}

/// Who may never come down.
fn endless(world: &World, notes: &mut Notices) {
    let duration_s = world.path.duration_s();
    let video = world.scenario.radio.video.as_ref().map(|video| video.central());
    if let Some(video) = video.filter(|video| video.when_lost == VideoLost::Hold) {
        // Turned or climbed, he waits the same time again.
        let again = matches!(video.after_hold, AfterHold::Turn | AfterHold::Climb);
        let hovers_s = if again { 2.0 } else { 1.0 } * video.hold_s;
        if hovers_s > duration_s {
            let words = format!(
                "without a picture the craft hovers for {hovers_s:.0} s with the link up, longer than the {duration_s:.0} s of the path; \
                 such a flight ends by its pack or not at all"
            );
            notes.push("radio.video.hold_s", words, "a time well below that of the path");
        }
    }
    for (index, policy) in world.scenario.policies.iter().enumerate() {
        let hold_s: f64 = policy.actions.iter().map(|action| action.kind.waits_s()).sum();
        if hold_s >= MOST_S {
            let words = format!(
                "policy \"{}\" holds for {} s: a flight is watched for {} s from the loss, so this one ends by its pack or not at all",
                policy.name,
                grouped(hold_s as u64),
                grouped(MOST_S as u64)
            );
            notes.push(&format!("policy[{index}].name"), words, "shorter holds");
        }
    }
}

/// Ways home that meet something, pass lower than what stands near them, or go higher than is permitted: of every return of every chain,
/// and of a low pack.
fn ways_home(world: &World, ways: &[WayHome], notes: &mut Notices) {
    let site = &world.scenario.site;
    let tallest = if ways.is_empty() { None } else { tallest_in_reach(world) };
    for way in ways {
        let [x, y, z] = way.from_m;
        let (key, who) = (&way.key, way.in_words());
        if way.clearance_m < 0.0 {
            let words = format!(
                "{} meets what stands on the straight way home, {:.0} m above its height at the worst, when it starts at x {x:.0}, y {y:.0}, \
                 {z:.0} m above home",
                who, -way.clearance_m
            );
            notes.push(key, words, "a greater height, a climb before it starts, or a path from which the way is clear");
        } else if let Some(tallest) = tallest.as_ref().filter(|tallest| way.least_height_m < tallest.top_m) {
            let words = format!(
                "{} comes home at {:.0} m above home, lower than the tallest thing within reach of the ways home: {}, {:.0} m above home; \
                 wind or a fix that errs may carry it there",
                who, way.least_height_m, tallest.what, tallest.top_m
            );
            notes.push(key, words, format!("more than {:.0} m above home", tallest.top_m.ceil()));
        }
        // A stated height above home is held against the ceiling where it is read.
        if way.from != HeightFrom::Home && way.height_m > site.ceiling_m + 0.5 {
            let words = format!(
                "{} comes home at up to {:.0} m above home, above the ceiling of {:.0} m",
                who, way.height_m, site.ceiling_m
            );
            notes.push(key, words, "a lower height, or a lower path, so that it keeps to `site.ceiling_m`");
        }
        if let Some(ceiling_m) = site.ceiling_above_ground_m.filter(|ceiling_m| way.above_ground_m > ceiling_m + 0.5) {
            let words = format!(
                "{} comes home at up to {:.0} m above the ground below, above the ceiling of {ceiling_m:.0} m there",
                who, way.above_ground_m
            );
            notes.push(key, words, "a lower height, or one `from = \"ground\"`");
        }
    }
}

/// What rises above a ceiling that is measured from the ground: the path, and obstacles over which no way is then permitted.
fn over_the_ceiling(world: &World, ceiling_m: f64, notes: &mut Notices) {
    let above_m = |p: [f64; 3]| p[2] - world.grid.ground_m(p[0], p[1]);
    let highest_m = world.path.every(PATH_STEP_M).map(|at| above_m(at.place_m)).fold(f64::NEG_INFINITY, f64::max);
    if highest_m > ceiling_m + 0.5 {
        let words = format!(
            "the path rises to {highest_m:.0} m above the ground below, over site.ceiling_above_ground_m = {ceiling_m}"
        );
        notes.push("path", words, "a lower path");
    }
    let over: Vec<_> = world.scenario.site.obstacles.iter().filter(|obstacle| obstacle.height_m > ceiling_m).collect();
    let (key, remedy) = ("site.ceiling_above_ground_m", "ways home that pass beside it");
    for obstacle in over.iter().take(OVER_AT_MOST) {
        let words = format!(
            "{ceiling_m}, under the top of {}, {:.0} m above the ground; no way over it keeps to that",
            obstacle.name, obstacle.height_m
        );
        notes.push(key, words, remedy);
    }
    if over.len() > OVER_AT_MOST {
        let more = over.len() - OVER_AT_MOST;
        notes.push(key, format!("{ceiling_m}, under the tops of {more} more obstacles"), remedy);
    }
}

/// Obstacles over a ceiling that are named: a raw map may have a whole wood of them.
const OVER_AT_MOST: usize = 5;
