//! The tests of the card: what to do on the bench and in the field, what to look at, and what the model predicts of it.

use super::information::{turn_words, value_words};
use super::sheet::FieldTest;
use super::words::{self, number as n};
use crate::failsafe::{ActionKind, Fallback, Policy};
use crate::plan::bench::RangeStop;
use crate::risk::field_sheet::{
    AirTest, Bench, Fades, FixTests, HoverTest, RangeWalk, SkyWait, Underneath, WALK_SIGMA_DB, WindLimit,
};
use crate::risk::information::InputValue;
use crate::risk::summary::{Heights, Share, Summary};
use crate::scenario::Scenario;

/// A thumb on a stopwatch. Estimate.
const THUMB_S: f64 = 0.3;

/// What the power model itself may be off by, as a share. Estimate.
const POWER: f64 = 0.1;

/// What may pass between two steps of a failsafe before the eye sees the next, s. Estimate.
const SEEN_S: f64 = 1.0;

/// Everything the card is made of.
#[derive(Debug)]
pub struct CardFacts<'a> {
    /// Scenario.
    pub scenario: &'a Scenario,
    /// Its assessment.
    pub summary: &'a Summary,
    /// Index of the chosen policy.
    pub chosen: usize,
    /// Danger under the policy as delivered, and lost links of it set aside because the simulation faulted.
    pub delivered_danger: Option<(Share, u64)>,
    /// Sweep of return heights; `None`: the policy does not return.
    pub heights: Option<Heights>,
    /// Winds.
    pub wind: WindLimit,
    /// Where the link fades, and the least margin of the path.
    pub fades: Fades,
    /// What lies underneath.
    pub underneath: Vec<Underneath>,
    /// Sky.
    pub sky: SkyWait,
    /// Receiver on the bench.
    pub bench: Bench,
    /// Range walk.
    pub walk: RangeWalk,
    /// Home point, hold, heading.
    pub fix: FixTests,
    /// Hover.
    pub hover: HoverTest,
    /// Where the failsafe can be tried in the air; `None`: nowhere near.
    pub air: Option<AirTest>,
    /// Command that makes the card again.
    pub command: String,
}

/// An action in two or three words.
pub fn step_words(kind: &ActionKind) -> &'static str {
    match kind {
        ActionKind::Hold { .. } => "hold",
        ActionKind::Land { .. } => "land",
        ActionKind::Return { .. } => "return home",
        ActionKind::Drop => "stop the motors",
        ActionKind::CarryOn { .. } => "fly on as before",
    }
}

/// What a step falls back to.
pub fn fallback(otherwise: Fallback) -> &'static str {
    match otherwise {
        Fallback::Land => "land",
        Fallback::Drop => "stop the motors",
        Fallback::Next => "go on to the next step",
    }
}

/// Two significant digits: no prediction here is better than that.
pub fn rough(value: f64) -> String {
    if !value.is_finite() || value.abs() < 9.95 {
        return words::short(value, 1);
    }
    let step = libm::pow(10.0, libm::floor(libm::log10(value.abs())) - 1.0);
    n((value / step).round() * step, 0)
}

/// A bound to two digits, rounded up.
fn under(value: f64) -> String {
    if value < 10.0 { n((value * 10.0).ceil() / 10.0, 1) } else { n(value.ceil(), 0) }
}

/// A quality, never as nothing or everything it may not be.
fn quality(pct: f64) -> String {
    if pct < 1.0 { "under 1".into() } else { n(pct, 0) }
}

/// All tests, a group after the other: first what would change the choice, then on the ground and at last in the air, each by what
/// it is worth to know what it settles.
pub fn tests(facts: &CardFacts, policy: &Policy) -> Vec<FieldTest> {
    let worth = |keys: &[&str]| {
        let settles =
            |input: &&InputValue| input.keys.iter().any(|key| keys.iter().any(|start| key.starts_with(start)));
        let inputs = facts.summary.information.iter().flat_map(|found| &found.inputs);
        inputs.filter(settles).map(|input| input.saved).fold(0.0, f64::max)
    };
    let mut ground = [
        (worth(&["radio.control.receiver", "radio.telemetry"]), BENCH.to_string(), on_the_bench(facts, policy)),
        (worth(&["radio."]), walk_words(&facts.walk), range_walk(&facts.walk)),
        (worth(&["sky."]), "At the take-off spot, before the flight".into(), before_take_off(facts)),
    ];
    // Of equal ones the bench, where nothing can fly away, comes first.
    ground.sort_by(|a, b| b.0.total_cmp(&a.0));
    let [failsafe, hover] = [
        (air_words(facts, policy), failsafe_in_the_air(facts, policy)),
        ("In the air, over clear ground, with nobody near".to_string(), in_the_air(facts)),
    ];
    let groups = [("Measure first: the choice hangs on it".to_string(), measured_first(facts))]
        .into_iter()
        .chain(ground.into_iter().map(|(_, group, tests)| (group, tests)))
        .chain([hover, failsafe]);
    let tests =
        groups.flat_map(|(group, tests)| tests.into_iter().map(move |test| FieldTest { group: group.clone(), ..test }));
    tests.collect()
}

const BENCH: &str = "On the bench, propellers removed";

/// The numbers on which the choice hangs: those at which it turns, then those that are worth knowing before it.
fn measured_first(facts: &CardFacts) -> Vec<FieldTest> {
    let Some(found) = &facts.summary.information else { return vec![] };
    let mut list: Vec<FieldTest> = Vec::new();
    let mut told: Vec<&str> = Vec::new();
    for again in found.again.iter().filter(|again| !again.turns.is_empty()) {
        let Some(turn) = turn_words(facts.summary, again) else { continue };
        let first = &again.turns[0];
        let limits = format!(
            "turns at {}",
            value_words(again, if again.assumed > first.above { first.above } else { first.under })
        );
        list.push(test("Measure it on the spot", &turn, value_words(again, again.assumed), limits));
        told.push(&again.key);
    }
    for input in found.inputs.iter().filter(|input| input.keys.iter().all(|key| !told.contains(&key.as_str()))) {
        let names: Vec<String> = input.keys.iter().map(|key| words::key_here(facts.summary, key).0).collect();
        let saves = format!("would save {} of 1,000", words::of_thousand(input.saved));
        list.push(test("Measure it, and state it in the scenario", &words::list(&names), "an estimate so far", saves));
    }
    list
}

/// Whether the failsafe may be tried in the air at all.
fn flies(policy: &Policy) -> bool {
    let ends_at_once = |kind: &ActionKind| matches!(kind, ActionKind::Drop | ActionKind::CarryOn { .. });
    !policy.actions.iter().any(|action| ends_at_once(&action.kind))
}

/// A place for the test beside the take-off spot.
fn where_words(air: &AirTest) -> String {
    let [east_m, north_m] = air.offset_m;
    format!(
        "{} m {} of the take-off spot, {} m up",
        n(east_m.hypot(north_m), 0),
        words::direction(air.offset_m),
        n(air.height_m, 0)
    )
}

fn air_words(facts: &CardFacts, policy: &Policy) -> String {
    match &facts.air {
        _ if !flies(policy) => "The failsafe: never in the air".into(),
        None => "The failsafe in the air: not here".into(),
        Some(air) => format!(
            "The failsafe once in the air, {}, {} m or more from everything drawn",
            where_words(air),
            n(air.clear_m.floor(), 0)
        ),
    }
}

/// The failsafe tried once: what is seen, when, and when to take over.
fn failsafe_in_the_air(facts: &CardFacts, policy: &Policy) -> Vec<FieldTest> {
    if !flies(policy) {
        let how = "Do not try this failsafe in the air: it gives the craft up";
        return vec![test(
            how,
            "on the bench, propellers removed: what it does",
            step_words(&policy.actions[0].kind),
            "no other",
        )];
    }
    let first = policy.actions.first().map_or("nothing", |action| step_words(&action.kind));
    let Some(air) = &facts.air else {
        let how =
            "Find open ground elsewhere: here no place near take-off is clear of people, roads, water and obstacles";
        return vec![test(how, "first step of the failsafe, from 20 m up, nobody within 30 m", first, "no other")];
    };
    let bench = &facts.bench;
    let mut list = vec![test(
        "Hover there; switch the transmitter off",
        &format!("time until it begins to {first}"),
        format!("{} s", n(bench.lost_after_s, 1)),
        format!("±{} s", n(bench.interval_s + THUMB_S + SEEN_S, 1)),
    )];
    for pair in policy.actions.windows(2) {
        let after = match &pair[0].kind {
            ActionKind::Hold { for_s } => format!("{for_s} s"),
            _ => "when done".into(),
        };
        let what = format!("until it then begins to {}", step_words(&pair[1].kind));
        list.push(test("Watch", &what, after, format!("±{} s *", n(SEEN_S, 1))));
    }
    let sinks = policy.actions.iter().all(|action| !matches!(action.kind, ActionKind::Return { .. }));
    let way = if sinks { "it sinks straight down" } else { "it closes on home as set" };
    list.push(test(
        format!(
            "Switch it on again then; at once if the craft does anything else or sinks below {} m",
            n((air.height_m / 2.0).floor(), 0)
        ),
        &format!("{way}; time until control is back"),
        format!("{} s", n(bench.back_after_s, 1)),
        format!("±{} s", n(bench.interval_s + THUMB_S + SEEN_S, 1)),
    ));
    list
}

/// A test whose group is not known yet.
fn test(how: impl Into<String>, what: &str, predicted: impl Into<String>, tolerance: impl Into<String>) -> FieldTest {
    FieldTest {
        group: String::new(),
        how: how.into(),
        what: what.into(),
        predicted: predicted.into(),
        tolerance: tolerance.into(),
    }
}

fn on_the_bench(facts: &CardFacts, policy: &Policy) -> Vec<FieldTest> {
    let (bench, receiver) = (&facts.bench, facts.scenario.radio.control.receiver.central());
    let around = |seconds: f64| format!("±{} s", n(seconds + THUMB_S, 1));
    let first = policy.actions.first().map_or("nothing", |action| step_words(&action.kind));
    let home = policy.actions.iter().find(|action| matches!(action.kind, ActionKind::Return { .. }));
    let mut list = vec![
        test(
            "Switch the transmitter off",
            "time until it declares the link lost",
            format!("{} s", n(bench.lost_after_s, 1)),
            around(bench.interval_s),
        ),
        test("See what the craft says it is doing then", "first step of the failsafe", first, "no other"),
    ];
    list.extend(home.map(|action| {
        let how = "The same, indoors without a position fix";
        test(how, "what it does instead of the return", fallback(action.otherwise), "no other")
    }));
    list.push(test(
        "Switch the transmitter on again",
        "time from link shown to control back",
        format!("{} s", n(bench.back_after_s, 1)),
        around(bench.interval_s + receiver.window_s.min(1.0)),
    ));
    list.extend(facts.scenario.radio.telemetry.as_ref().map(|telemetry| {
        test(
            "Switch the craft off",
            "time until the transmitter reports it",
            format!("{} s", n(telemetry.patience_s.central(), 1)),
            around(1.0 / telemetry.packet_rate_hz),
        )
    }));
    list
}

fn walk_words(walk: &RangeWalk) -> String {
    format!(
        "Range walk over open level ground, propellers removed, {} dBm ({} dB less than in flight), craft level at {} m, nose away",
        n(walk.power_dbm, 0),
        n(walk.less_db, 0),
        n(walk.craft_height_m, 1)
    )
}

fn range_walk(walk: &RangeWalk) -> Vec<FieldTest> {
    let at = |distance_m: f64| format!("At {} m", n(distance_m, 0));
    let strength = |stop: &RangeStop| {
        let level = format!("{} dBm", n(stop.rssi_dbm, 0));
        test(at(stop.distance_m), "signal strength at the craft", level, format!("±{} dB", n(walk.tolerance_db, 0)))
    };
    let mut list: Vec<FieldTest> = walk.stops.iter().map(strength).collect();
    // The farthest stop tells most about the quality.
    list.extend(walk.stops.last().map(|stop| {
        let [low, high] = stop.quality_span_pct.map(quality);
        // One lost packet in a hundred is no fault.
        let least = n((stop.quality_span_pct[0].round() - 1.0).max(0.0), 0);
        let span = if low == high { format!("{least} % or more") } else { format!("{low} to {high} %") };
        test(at(stop.distance_m), "link quality", format!("{} %", quality(stop.quality_pct)), span)
    }));
    list.extend(walk.half_m.map(|[near, middle, far]| {
        let span = format!("{} to {} m", rough(near), rough(far));
        test("Walk on", "where half the packets are lost", format!("{} m", rough(middle)), span)
    }));
    list
}

fn before_take_off(facts: &CardFacts) -> Vec<FieldTest> {
    let ends = |values: &mut dyn Iterator<Item = f64>| {
        values.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], x| [low.min(x), high.max(x)])
    };
    let samples = &facts.sky.samples;
    let [few, many] = ends(&mut samples.iter().map(|row| f64::from(row.1)));
    let [best, worst] = ends(&mut samples.iter().map(|row| row.2));
    let span = |low: String, high: String| if low == high { low } else { format!("{low} to {high}") };
    let hdop = if worst.is_finite() { span(n(best, 1), n(worst, 1)) } else { format!("{} or worse", n(best, 1)) };
    let [left, right] = facts.fix.heading_deg.map(|deg| words::signed(deg, 0));
    let mut list = vec![
        test("Wait until the fix is good", "satellites shown", span(n(few, 0), n(many, 0)), "±3 *"),
        test("The same", "HDOP shown", hdop, "±0.3 *"),
        test(
            "Point the nose at a landmark of known bearing",
            "heading shown minus the bearing",
            format!("{left}° to {right}°"),
            "95 of 100",
        ),
    ];
    if facts.fix.home_95_m.is_finite() {
        let how = "Set home, motors off; carry it 20 m off and back";
        let under = format!("under {} m", under(facts.fix.home_95_m));
        list.push(test(how, "distance to home shown when back", under, "95 of 100"));
    }
    list
}

fn in_the_air(facts: &CardFacts) -> Vec<FieldTest> {
    let mut list = Vec::new();
    if facts.fix.hold_95_m.is_finite() {
        let under = format!("under {} m", under(facts.fix.hold_95_m));
        list.push(test("Hover at 5 m for 30 s, hands off", "drift over the ground", under, "95 of 100"));
    }
    let hover = &facts.hover;
    let [least, power, most] = hover.power_w;
    let [few, charge, many] = hover.charge_pct;
    list.push(test(
        format!("Hover for {} s in little wind", n(hover.for_s, 0)),
        "power from the pack",
        format!("{} W", rough(power)),
        format!("{} to {} W *", rough(least * (1.0 - POWER)), rough(most * (1.0 + POWER))),
    ));
    let span = format!("{} to {} % *", rough(few * (1.0 - POWER)), rough(many * (1.0 + POWER)));
    list.push(test("The same", "charge used", format!("{} %", rough(charge)), span));
    list
}

/// What the tolerances of the tests are.
pub fn tolerances() -> String {
    format!(
        "Tolerances: times, from the receiver's settings, {} s for the thumb and, in the air, {} s for the eye; signal strength, two sigma of \
         shadowing and of {} dB for antennas held by hand (estimate); power, the spread of the scenario's inputs and {} % for the \
         model. 95 of 100: so many such tests should keep to it. * estimate.",
        n(THUMB_S, 1),
        n(SEEN_S, 0),
        n(WALK_SIGMA_DB, 0),
        n(100.0 * POWER, 0)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quality_is_never_nothing() {
        assert_eq!((quality(0.2), quality(49.6), quality(100.0)), ("under 1".into(), "50".into(), "100".into()));
    }

    #[test]
    fn predictions_have_two_digits() {
        assert_eq!([0.26, 2.68, 9.96, 214.4, 1_068.0].map(rough), ["0.3", "2.7", "10", "210", "1,100"]);
    }

    #[test]
    fn bearings_have_names() {
        let place = |x_m: f64, y_m: f64| AirTest { offset_m: [x_m, y_m], height_m: 20.0, clear_m: 30.0 };
        assert_eq!(where_words(&place(0.0, 40.0)), "40 m north of the take-off spot, 20 m up");
        assert_eq!(where_words(&place(-21.2, -21.2)), "30 m south-west of the take-off spot, 20 m up");
    }
}
