//! Policies and their actions.

use super::ESTIMATE;
use crate::failsafe::{
    Action, ActionKind, BatteryGuard, Fallback, FenceGuard, FixGuard, Guards, Policy, ProgressGuard, ReturnHeight,
    TimeGuard,
};
use crate::scenario::table::{Section, above, between, describe, tidy};
use toml::de::DeValue;

/// Time with a good fix after which a way home given up for want of one is taken up again. Estimate: longer than a fix
/// that comes and goes.
const RESUMES_AFTER_S: f64 = 3.0;

pub(super) fn read_policy(s: &Section) -> Policy {
    let name = s.required_text("name", "Name in every table and figure");
    let sections =
        s.tables("action", "The actions, in order; each is one of `hold`, `land`, `return`, `drop`, `carry_on`");
    let count = sections.len();
    let actions: Vec<Action> = sections.iter().filter_map(read_action).collect();
    let policy = Policy { name, actions };
    // A chain with an action that could not be read says nothing about its end.
    if policy.actions.len() == count
        && !s.sink.is_describing()
        && let Err(fault) = policy.check()
    {
        s.error(
            "",
            fault.to_string(),
            "a chain that ends with `land`, `drop`, `return` or `carry_on`, each action of which can be reached",
        );
    }
    policy
}

/// A way home above the permitted height is odd but legal to ask about.
pub(super) fn warn_of_height(s: &Section, policy: &Policy, ceiling_m: f64) {
    for (index, action) in policy.actions.iter().enumerate() {
        if let ActionKind::Return { height: ReturnHeight::AtLeastM(height) | ReturnHeight::ExactlyM(height), .. } =
            action.kind
            && height > ceiling_m
        {
            let found = format!(
                "a way home at {} m in action {}, above the ceiling of {} m",
                tidy(height),
                index + 1,
                tidy(ceiling_m)
            );
            s.warn("", found, "a height up to `site.ceiling_m`");
        }
    }
}

fn read_action(s: &Section) -> Option<Action> {
    let fallback = |t: &Section| {
        t.word(
            "otherwise",
            &[("land", Fallback::Land), ("drop", Fallback::Drop), ("next", Fallback::Next)],
            "land",
            "the gentlest end",
            "What follows when a guard fails or the action is impossible",
        )
    };
    let mut kinds: Vec<(&'static str, ActionKind, Fallback)> = Vec::new();
    let mut resumes_after_s = None;
    if let Some(t) = s.opt_table("hold", "Stays where it is; without a fix it holds level and drifts") {
        let for_s =
            t.required_number("for_s", above(0.0, 3600.0), "How long; then the next action follows").unwrap_or(1.0);
        kinds.push(("hold", ActionKind::Hold { for_s }, fallback(&t)));
    }
    if let Some(t) = s.opt_table("land", "Comes down where it is") {
        let sink_mps = t.opt_number("sink_mps", above(0.1, 20.0), "the craft's descent limit", "Sink speed aloft");
        kinds.push(("land", ActionKind::Land { sink_mps }, fallback(&t)));
    }
    if let Some(t) = s.opt_table("return", "Flies to the home point and comes down there") {
        let height = read_height(&t);
        let speed_mps =
            t.opt_number("speed_mps", above(0.5, 60.0), "the craft's cruise speed", "Speed over ground aimed for");
        let home_circle_m = t.number(
            "home_circle_m",
            above(0.5, 500.0),
            10.0,
            ESTIMATE,
            "Horizontal distance from the home point at which it starts to come down",
        );
        let climb_first =
            t.flag("climb_first", true, "common practice", "Whether it reaches its height before it starts home");
        let level_within_m = t.number(
            "level_within_m",
            between(0.0, 500.0),
            0.0,
            "always climbs",
            "Distance from home within which it does not climb to its height",
        );
        resumes_after_s = Some(t.number(
            "resumes_after_s",
            between(0.0, 600.0),
            RESUMES_AFTER_S,
            ESTIMATE,
            "After it began to come down for want of a fix: how long the fix must be good again before it flies home after all; 0 for never",
        ))
        .filter(|after_s| *after_s > 0.0);
        kinds.push((
            "return",
            ActionKind::Return { height, speed_mps, home_circle_m, climb_first, level_within_m },
            fallback(&t),
        ));
    }
    if let Some(t) = s.opt_table("drop", "Stops the motors") {
        kinds.push(("drop", ActionKind::Drop, fallback(&t)));
    }
    if let Some(t) = s.opt_table("carry_on", "No failsafe set: flies on by the last commands, whatever they were") {
        let for_s = t.opt_number(
            "for_s",
            above(0.0, 3600.0),
            "until the pack or the ground ends it",
            "How long; then the next action follows",
        );
        kinds.push(("carry_on", ActionKind::CarryOn { for_s }, fallback(&t)));
    }
    let g = s.table("guard");
    let guards = Guards {
        fix: g.opt_table("fix", "Guard: enough satellites, good enough geometry").map(|f| FixGuard {
            satellites: f.whole("satellites", 4, 60, 6, ESTIMATE, "Fewest satellites") as u32,
            hdop: f.number("hdop", above(0.0, 50.0), 2.5, ESTIMATE, "Greatest HDOP"),
        }),
        progress: g.opt_table("progress", "Guard: gets closer to home").map(|p| ProgressGuard {
            closing_mps: p.number("closing_mps", between(0.0, 30.0), 1.0, ESTIMATE, "Least closing speed"),
            within_s: p.number("within_s", above(0.5, 600.0), 20.0, ESTIMATE, "Averaged over this time"),
        }),
        battery: g.opt_table("battery", "Guard: keeps a reserve").map(|b| BatteryGuard {
            reserve_pct: b.number("reserve_pct", between(0.0, 95.0), 15.0, ESTIMATE, "Least state of charge"),
        }),
        time: g.opt_table("time", "Guard: ends in time").map(|t| TimeGuard {
            at_most_s: t.number("at_most_s", above(0.5, 7200.0), 300.0, ESTIMATE, "Longest time in this action"),
        }),
        fence: g.opt_table("fence", "Guard: stays inside the fence, as far as the craft knows where it is").map(|f| {
            FenceGuard {
                within_m: f.number(
                    "within_m",
                    between(0.0, 500.0),
                    10.0,
                    ESTIMATE,
                    "Room to be left to the fence at the place where the craft would come to a stop",
                ),
            }
        }),
    };
    const ONE: &str = "exactly one of `hold`, `land`, `return`, `drop`, `carry_on`";
    if s.sink.is_describing() {
        return None;
    }
    match kinds.as_slice() {
        [] => {
            s.error("", "no action", ONE);
            None
        }
        [(_, kind, otherwise)] => Some(Action { kind: kind.clone(), guards, otherwise: *otherwise, resumes_after_s }),
        [_, (second, ..), ..] => {
            s.error(second, "a second action", ONE);
            None
        }
    }
}

fn read_height(t: &Section) -> ReturnHeight {
    const SHAPES: &str =
        "\"stay_level\", or a table with one of `at_least_m`, `exactly_m`, `above_path_m`, `above_ground_m`";
    if let Some(DeValue::String(word)) = t.find("height").map(toml::Spanned::get_ref) {
        if word.as_ref() != "stay_level" {
            t.error("height", describe(&DeValue::String(word.clone())), SHAPES);
        }
        return ReturnHeight::StayLevel;
    }
    if !t.has("height") && !t.sink.is_describing() {
        t.missing("height", SHAPES);
        return ReturnHeight::StayLevel;
    }
    let h = t.table("height");
    let limits = above(0.0, 2000.0);
    let one = |key, meaning| h.opt_number(key, limits, "another height is given", meaning);
    let at_least = one("at_least_m", "Climbs to this height above home when lower; stays when higher");
    let exactly = one("exactly_m", "Climbs or descends to this height above home");
    let above_path = one("above_path_m", "This much above the highest point flown so far");
    let above_ground = one("above_ground_m", "This much above the ground below, from a terrain table on board");
    let given = [
        at_least.map(ReturnHeight::AtLeastM),
        exactly.map(ReturnHeight::ExactlyM),
        above_path.map(ReturnHeight::AbovePathM),
        above_ground.map(ReturnHeight::AboveGroundM),
    ];
    let mut given = given.into_iter().flatten();
    let count =
        ["at_least_m", "exactly_m", "above_path_m", "above_ground_m"].into_iter().filter(|key| h.has(key)).count();
    if count != 1 && !h.sink.is_describing() {
        let found = if count == 0 { "no height" } else { "more than one height" };
        t.error("height", found, SHAPES);
    }
    given.next().unwrap_or(ReturnHeight::StayLevel)
}
