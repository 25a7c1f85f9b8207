//! Policies and their actions.

use super::ESTIMATE;
use crate::failsafe::{
    Action, ActionKind, Fallback, FixGuard, Guards, HeightFrom, Policy, ProgressGuard, ReturnHeight,
};
use crate::scenario::kind::{above, between, tidy};
use crate::scenario::section::Section;
use crate::scenario::sink::describe;
use toml::de::DeValue;

/// Time with a good fix after which a way home given up for want of one is taken up again. Estimate: longer than a fix
/// that comes and goes.
const RESUMES_AFTER_S: f64 = 3.0;

/// The keys of the actions, for messages and the page of keys.
pub(in crate::scenario) const ACTIONS: &str = "`hold`, `land`, `return`, `drop`, `carry_on`";
/// The same one by one.
pub(in crate::scenario) const ACTION_WORDS: [&str; 5] = ["hold", "land", "return", "drop", "carry_on"];

pub(in crate::scenario) fn read_policy(s: &Section) -> Policy {
    let name = s.required_text("name", "Name in every table and figure");
    let sections = s.tables("action", &format!("The actions, in order; each is one of {ACTIONS}"));
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

/// The policies compared; their names differ.
/// Policies of a scenario: each is flown with all flights and has a row in every table and figure.
const POLICIES_AT_MOST: usize = 24;

pub(in crate::scenario) fn read_policies(root: &Section, ceiling_m: f64) -> Vec<Policy> {
    let sections = root.tables("policy", "The policies compared, in the order of tables and figures; at least one");
    if sections.is_empty() {
        root.missing("policy", "at least one table `[[policy]]` with a name and its actions");
    }
    if let Some(over) = sections.get(POLICIES_AT_MOST) {
        over.error(
            "name",
            format!("policy {} of {}", POLICIES_AT_MOST + 1, sections.len()),
            format!("at most {POLICIES_AT_MOST} policies"),
        );
    }
    let mut policies: Vec<Policy> = Vec::new();
    for section in sections {
        let policy = read_policy(&section);
        if policies.iter().any(|other| other.name == policy.name) {
            section.error("name", format!("the name \"{}\" for the second time", policy.name), "a name of its own");
        }
        warn_of_height(&section, &policy, ceiling_m);
        policies.push(policy);
    }
    policies
}

/// A way home above the permitted height is odd but legal to ask about.
fn warn_of_height(s: &Section, policy: &Policy, ceiling_m: f64) {
    for (index, action) in policy.actions.iter().enumerate() {
        if let ActionKind::Return { height, .. } = &action.kind
            && height.from == HeightFrom::Home
            && height.up_m > ceiling_m
        {
            let found = format!(
                "a way home at {} m in action {}, above the ceiling of {} m",
                tidy(height.up_m),
                index + 1,
                tidy(ceiling_m)
            );
            s.warn("", found, "a height up to `site.ceiling_m`");
        }
    }
}

fn read_action(s: &Section) -> Option<Action> {
    let mut kinds: Vec<(ActionKind, Fallback)> = Vec::new();
    kinds.extend(s.opt_table("hold", "Stays where it is; without a fix it holds level and drifts").map(|t| {
        let for_s = t.required_number("for_s", above(0.0, 3600.0), "How long; then the next action follows");
        (ActionKind::Hold { for_s: for_s.unwrap_or(1.0) }, read_otherwise(&t))
    }));
    kinds.extend(s.opt_table("land", "Comes down where it is").map(|t| {
        let sink_mps = t.opt_number("sink_mps", above(0.1, 20.0), "the craft's descent limit", "Sink speed aloft");
        (ActionKind::Land { sink_mps }, read_otherwise(&t))
    }));
    let mut resumes_after_s = None;
    kinds.extend(s.opt_table("return", "Flies to the home point and comes down there").map(|t| {
        let kind = read_return(&t);
        resumes_after_s = Some(t.number(
            "resumes_after_s",
            between(0.0, 600.0),
            RESUMES_AFTER_S,
            ESTIMATE,
            "After it began to come down for want of a fix: how long the fix must be good again before it flies home after all; 0 for never",
        ))
        .filter(|after_s| *after_s > 0.0);
        (kind, read_otherwise(&t))
    }));
    kinds.extend(s.opt_table("drop", "Stops the motors").map(|t| (ActionKind::Drop, read_otherwise(&t))));
    let carry_on = s.opt_table("carry_on", "No failsafe set: flies on by the last commands, whatever they were");
    kinds.extend(carry_on.map(|t| {
        let for_s = t.opt_number(
            "for_s",
            above(0.0, 3600.0),
            "until the pack or the ground ends it",
            "How long; then the next action follows",
        );
        (ActionKind::CarryOn { for_s }, read_otherwise(&t))
    }));
    let guards = read_guards(&s.table("guard"));
    if s.sink.is_describing() {
        return None;
    }
    let one = || format!("exactly one of {ACTIONS}");
    match kinds.as_slice() {
        [] => {
            s.error("", "no action", one());
            None
        }
        [(kind, otherwise)] => Some(Action { kind: kind.clone(), guards, otherwise: *otherwise, resumes_after_s }),
        [_, (second, _), ..] => {
            s.error(second.word(), "a second action", one());
            None
        }
    }
}

fn read_otherwise(t: &Section) -> Fallback {
    t.word(
        "otherwise",
        &[("land", Fallback::Land), ("drop", Fallback::Drop), ("next", Fallback::Next)],
        "land",
        "the gentlest end",
        "What follows when a guard fails or the action is impossible",
    )
}

fn read_return(t: &Section) -> ActionKind {
    let height = read_height(t);
    let speed_mps =
        t.opt_number("speed_mps", above(0.5, 60.0), "the craft's cruise speed", "Speed over ground aimed for");
    let home_circle_m = t.number(
        "home_circle_m",
        above(0.5, 500.0),
        10.0,
        ESTIMATE,
        "Horizontal distance from the home point at which it starts to come down",
    );
    let climbs_before = if t.former("climb_first", "climbs") {
        t.flag("climb_first", true, "", "")
    } else {
        t.word(
            "climbs",
            &[("before", true), ("on_the_way", false)],
            "before",
            "common practice",
            "Whether it climbs to its height before it starts home, or on the way",
        )
    };
    let level_within_m = t.number(
        "level_within_m",
        between(0.0, 500.0),
        0.0,
        "always climbs",
        "Distance from home within which it does not climb to its height",
    );
    ActionKind::Return { height, speed_mps, home_circle_m, climbs_before, level_within_m }
}

fn read_guards(g: &Section) -> Guards {
    Guards {
        fix: g.opt_table("fix", "Guard: enough satellites, good enough geometry").map(|f| FixGuard {
            satellites: f.whole(
                "satellites",
                4,
                60,
                5,
                "computed: one more than a solution needs, so that a faulty one shows",
                "Fewest satellites",
            ) as u32,
            hdop: f.number(
                "hdop",
                above(0.0, 50.0),
                3.0,
                "computed: 5 m, 1 sigma, at a range error of 1.6 m under an open sky: half of the usual home circle",
                "Greatest HDOP",
            ),
        }),
        progress: g.opt_table("progress", "Guard: gets closer to home").map(|p| ProgressGuard {
            closing_mps: p.number("closing_mps", between(0.0, 30.0), 1.0, ESTIMATE, "Least closing speed"),
            within_s: p.number("within_s", above(0.5, 600.0), 20.0, ESTIMATE, "Averaged over this time"),
        }),
        reserve_pct: g
            .opt_table("battery", "Guard: keeps a reserve")
            .map(|b| b.number("reserve_pct", between(0.0, 95.0), 15.0, ESTIMATE, "Least state of charge")),
        at_most_s: g
            .opt_table(g.renamed("time", "duration"), "Guard: ends in time")
            .map(|t| t.number("at_most_s", above(0.5, 7200.0), 300.0, ESTIMATE, "Longest time in this action")),
        fence_within_m: g
            .opt_table("fence", "Guard: stays inside the fence, as far as the craft knows where it is")
            .map(|f| {
                f.number(
                    "within_m",
                    between(0.0, 500.0),
                    10.0,
                    ESTIMATE,
                    "Room to be left to the fence at the place where the craft would come to a stop",
                )
            }),
    }
}

fn read_height(t: &Section) -> ReturnHeight {
    const SHAPE: &str = "a table with `up_m`, and `from` and `may_sink` where they are not the usual ones";
    if let Some(DeValue::String(word)) = t.find("height").map(toml::Spanned::get_ref) {
        if word.as_ref() == "stay_level" {
            t.warn("height", "a word of an earlier form", "`height = { from = \"here\" }`");
        } else {
            t.error("height", describe(&DeValue::String(word.clone())), SHAPE);
        }
        return ReturnHeight::here();
    }
    if !t.has("height") && !t.sink.is_describing() {
        t.missing("height", SHAPE);
        return ReturnHeight::here();
    }
    let h = t.table("height");
    if let Some(height) = read_former_height(t, &h) {
        return height;
    }
    let from = h.word(
        "from",
        &[
            ("home", HeightFrom::Home),
            ("here", HeightFrom::Here),
            ("path", HeightFrom::Path),
            ("ground", HeightFrom::Ground),
        ],
        "home",
        "common practice",
        "From what the height is measured: the home point, where the way home starts, the highest point flown, or the ground \
         below by a table on board",
    );
    let up_m =
        h.opt_number("up_m", between(0.0, 2000.0), "0 from `here`, else required", "How far above that it is flown");
    let may_sink = h.flag(
        "may_sink",
        from == HeightFrom::Ground,
        "true from `ground`: it follows the ground",
        "Whether the craft comes down to that height when it is higher",
    );
    if up_m.is_none() && from != HeightFrom::Here && !h.has("up_m") && !h.sink.is_describing() {
        h.missing("up_m", "a number of metres, 0 to 2000");
    }
    ReturnHeight { from, up_m: up_m.unwrap_or(0.0), may_sink }
}

/// The height as earlier files state it.
fn read_former_height(t: &Section, h: &Section) -> Option<ReturnHeight> {
    type Made = fn(f64) -> ReturnHeight;
    const FORMS: [(&str, &str, Made); 4] = [
        ("at_least_m", "up_m", ReturnHeight::at_least_m),
        ("exactly_m", "up_m` with `may_sink = true", ReturnHeight::exactly_m),
        ("above_path_m", "up_m` with `from = \"path\"", ReturnHeight::above_path_m),
        ("above_ground_m", "up_m` with `from = \"ground\"", ReturnHeight::above_ground_m),
    ];
    let there: Vec<_> = FORMS.into_iter().filter(|(key, now, _)| h.former(key, now)).collect();
    if there.len() > 1 || (there.len() == 1 && h.has("up_m")) {
        t.error("height", "more than one height", "one `up_m`");
    }
    let (key, _, made) = *there.first()?;
    Some(made(h.opt_number(key, above(0.0, 2000.0), "", "").unwrap_or(0.0)))
}
