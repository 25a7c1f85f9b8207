//! Which guards watched a policy, and what was the worst that they met.

use super::words::{per_cent, span};
use crate::failsafe::{Action, ActionKind, GivenUp, Guards, Policy};
use crate::flight::{Doing, Event, Trace, TraceRow};
use crate::risk::words::{list, number};

/// One sentence or two on the guards of a policy.
pub(super) fn guards(policy: &Policy, trace: &Trace) -> String {
    let guarded = |action: &&Action| action.guards != Guards::default();
    if !policy.actions.iter().any(|action| guarded(&action)) {
        return "No guard is set.".into();
    }
    let stretches = stretches(policy, trace);
    let rows = |has: &dyn Fn(&Guards) -> bool| -> Vec<&TraceRow> {
        let under = |doing| policy.actions.iter().any(|action| has(&action.guards) && doing_of(&action.kind) == doing);
        stretches.iter().filter(|stretch| under(stretch.doing)).flat_map(|stretch| stretch.rows).collect()
    };
    let mut watched: Vec<String> = Vec::new();
    let met = rows(&|guards| guards.fix.is_some());
    if !met.is_empty() {
        let asks = asked(policy, |guards| guards.fix).map_or(String::new(), |guard| {
            format!(", where at least {} and at most {} are asked for", guard.satellites, guard.hdop)
        });
        watched.push(format!("the fix (at worst {}{asks})", worst_fix(&met)));
    }
    let met = rows(&|guards| guards.reserve_pct.is_some());
    if let Some(least_pct) = met.iter().map(|row| row.charge_pct).min_by(f64::total_cmp) {
        let asks = asked(policy, |guards| guards.reserve_pct)
            .map_or(String::new(), |reserve_pct| format!(", where {reserve_pct} % is asked for"));
        watched.push(format!("the battery (at worst {}{asks})", per_cent(least_pct)));
    }
    if !rows(&|guards| guards.progress.is_some()).is_empty() {
        watched.push("the progress towards home".into());
    }
    let has_time = |doing| {
        policy.actions.iter().any(|action| action.guards.at_most_s.is_some() && doing_of(&action.kind) == doing)
    };
    let timed = stretches.iter().filter(|stretch| has_time(stretch.doing));
    if let Some(longest_s) = timed.map(|stretch| stretch.lasted_s).max_by(f64::total_cmp) {
        let asks = asked(policy, |guards| guards.at_most_s)
            .map_or(String::new(), |at_most_s| format!(", where at most {at_most_s} s are allowed"));
        watched.push(format!("the duration (at most {}{asks})", span(longest_s)));
    }
    if !rows(&|guards| guards.fence_within_m.is_some()).is_empty() {
        watched.push("the room to the fence".into());
    }
    if watched.is_empty() {
        return "Guards are set, but no action that has one was ever under way.".into();
    }
    let acted = acted(policy, trace);
    let outcome = match (acted.as_slice(), watched.len()) {
        ([], 1) => "It did not act.".into(),
        ([], _) => "None of them acted.".into(),
        (_, 1) => "It acted.".into(),
        (acted, _) => format!("What acted: {}.", list(acted)),
    };
    let guards = if watched.len() == 1 { "One guard watched" } else { "Guards watched" };
    format!("{guards} {}. {outcome}", list(&watched))
}

/// What the guards of this kind ask, when all that there are ask the same.
pub(super) fn asked<T: PartialEq + Copy>(policy: &Policy, of: impl Fn(&Guards) -> Option<T>) -> Option<T> {
    let mut asked = policy.actions.iter().filter_map(|action| of(&action.guards));
    let first = asked.next()?;
    asked.all(|other| other == first).then_some(first)
}

/// Those that gave an action up, each once.
fn acted(policy: &Policy, trace: &Trace) -> Vec<String> {
    let has_fix = policy.actions.iter().any(|action| action.guards.fix.is_some());
    let mut acted: Vec<String> = Vec::new();
    for happened in &trace.events {
        let name = match &happened.event {
            Event::GivenUp(GivenUp::PoorFix { .. }) => "the fix guard",
            Event::GivenUp(GivenUp::NoFix) if has_fix => "the fix guard",
            Event::GivenUp(GivenUp::Progress { .. }) => "the progress guard",
            Event::GivenUp(GivenUp::Charge { .. }) => "the battery guard",
            Event::GivenUp(GivenUp::Time { .. }) => "the duration guard",
            Event::GivenUp(GivenUp::Fence { .. }) => "the fence guard",
            _ => continue,
        };
        if !acted.iter().any(|other| other == name) {
            acted.push(name.into());
        }
    }
    acted
}

fn worst_fix(rows: &[&TraceRow]) -> String {
    let fewest = rows.iter().map(|row| row.satellites).min().unwrap_or(0);
    let poorest = rows.iter().map(|row| row.hdop).filter(|hdop| hdop.is_finite()).fold(f64::NAN, f64::max);
    let gone = if rows.iter().any(|row| !row.hdop.is_finite()) { ", at times without a solution" } else { "" };
    if poorest.is_finite() {
        format!("{fewest} satellites and an HDOP of {}{gone}", number(poorest, 1))
    } else {
        format!("{fewest} satellites{gone}")
    }
}

/// A part of the flight in which one kind of action was under way.
struct Stretch<'t> {
    doing: Doing,
    rows: &'t [TraceRow],
    lasted_s: f64,
}

fn doing_of(kind: &ActionKind) -> Doing {
    match kind {
        ActionKind::Hold { .. } => Doing::Hold,
        ActionKind::Land { .. } => Doing::Land,
        ActionKind::Return { .. } => Doing::Return,
        ActionKind::Drop => Doing::Drop,
        ActionKind::CarryOn { .. } => Doing::CarryOn,
    }
}

/// The actions of the policy as the trace has them. Coming down at home is part of the way home; what follows on a guard, on the
/// pilot or on a low pack is not the policy's.
fn stretches<'t>(policy: &Policy, trace: &'t Trace) -> Vec<Stretch<'t>> {
    let lands = policy.actions.iter().any(|action| matches!(action.kind, ActionKind::Land { .. }));
    let rows = &trace.rows;
    let mut from = rows.partition_point(|row| trace.lost_at_s.is_none_or(|lost_s| row.time_s < lost_s));
    let mut found: Vec<(Doing, usize, usize)> = Vec::new();
    let mut own = true;
    while let Some(row) = rows.get(from) {
        let to = from + rows[from..].iter().take_while(|other| other.doing == row.doing).count();
        let since_s = from.checked_sub(1).map_or(row.time_s, |before| rows[before].time_s);
        for happened in trace.events.iter().filter(|other| other.time_s > since_s && other.time_s <= row.time_s + 1e-6)
        {
            match happened.event {
                Event::LostAgain | Event::TakenUpAgain => own = true,
                // What comes down or falls on a guard is the fallback; any other action is the next of the chain.
                Event::GivenUp(_) => own = !matches!(row.doing, Doing::Land | Doing::Drop),
                Event::LowPack(_) => own = false,
                _ => {}
            }
        }
        let at_home = row.doing == Doing::Land && !lands;
        match found.last_mut().filter(|last| at_home && own && last.0 == Doing::Return && last.2 == from) {
            Some(way_home) => way_home.2 = to,
            None if own && at_home => found.push((Doing::Return, from, to)),
            None if own => found.push((row.doing, from, to)),
            None => {}
        }
        from = to;
    }
    let stretch = |(doing, from, to): (Doing, usize, usize)| {
        let ends_s = rows.get(to).or(rows.last()).map_or(0.0, |row| row.time_s);
        Stretch { doing, rows: &rows[from..to], lasted_s: ends_s - rows[from].time_s }
    };
    found.into_iter().map(stretch).collect()
}
