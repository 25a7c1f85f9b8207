//! The pilot, and what he does with the radio.

use super::ESTIMATE;
use crate::chance::Uncertain;
use crate::scenario::declare::part;
use crate::scenario::kind::{Limits, between};
use crate::scenario::place::Place;
use crate::scenario::section::Section;

/// What the pilot's sticks steer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FliesBy {
    /// The craft's attitude: the pilot steers by eye, and let go of, it keeps level and drifts.
    Attitude,
    /// A speed over ground: the craft steers by its fix and its heading, and let go of, it keeps its place.
    PositionHold,
}

const FLIES_BY: [(&str, FliesBy); 2] = [("attitude", FliesBy::Attitude), ("position_hold", FliesBy::PositionHold)];

/// What the craft does at hand-back while a switch stands in the wrong position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WrongSwitch {
    /// Keeps level and drifts.
    Level,
    /// Comes down, level.
    Sink,
    /// Stops its motors.
    StopMotors,
}

const SWITCHES: [(&str, WrongSwitch); 3] =
    [("level", WrongSwitch::Level), ("sink", WrongSwitch::Sink), ("stop_motors", WrongSwitch::StopMotors)];

/// What the pilot does with the link back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnRegain {
    /// Takes over and flies home by hand.
    FlyHome,
    /// Takes over and goes on with the path.
    Resume,
    /// Lets the policy finish.
    LetFinish,
}

const ON_REGAIN: [(&str, OnRegain); 3] =
    [("fly_home", OnRegain::FlyHome), ("resume", OnRegain::Resume), ("let_finish", OnRegain::LetFinish)];

part! {
    /// The pilot.
    pub struct Pilot<U>(s, home_m: [f64; 2]) {
        "What the pilot does with the radio once the link is gone; `None`: nothing"
        hands: Option<Hands<U>> = opt_part(read_hands(s));
        "Where the pilot stands: [x, y]"
        place_m: [f64; 2] = numbers(between(-1e6, 1e6), home_m, "at the take-off spot");
        "Height of the antenna above the ground"
        antenna_height_m: f64 = number(between(0.1, 100.0), 1.5, "in the hands");
        "Direction the pilot's antenna points"
        facing_deg: Option<f64> = opt_number(between(-360.0, 360.0), "it follows the craft");
        "Reaction time"
        reaction_s: U = uncertain(20, between(0.0, 60.0), Uncertain::Lognormal(2.4, 1.65), "drivers' prompted take-overs, mean 2.72 s, sd 1.45 s: Zhang et al., Transp. Res. F 64 (2019); of remote pilots nothing is published");
        "What the sticks steer: the attitude, by eye or by the picture; or a speed over ground, by the craft's fix and heading"
        flies_by: FliesBy = word(&FLIES_BY, "attitude", "estimate: flown by eye or by the picture");
        "How far off the take-off spot the pilot sets the craft down by eye, 1 sigma a direction"
        lands_off_m: U = uncertain(1120, between(0.0, 50.0), Uncertain::Lognormal(0.7, 1.4), ESTIMATE);
        "What the pilot does with the link back"
        on_regain: U = chances(1137, &ON_REGAIN, "fly_home", "common practice, no source");
        "Share of pilots who do not take over when the link is back: then the policy finishes"
        unresponsive_share: U = uncertain(1060, between(0.0, 1.0), Uncertain::Triangular(0.05, 0.15, 0.35), "drivers who watched and did not act: 28 % (Victor et al., Human Factors 60(8), 2018); for remote pilots an estimate");
        "Share of hand-backs at which a switch stands in the wrong position, for one more reaction time"
        wrong_switch_share: f64 = number(between(0.0, 1.0), 0.0, "off unless stated");
        "What the craft does meanwhile: keeps level and drifts, comes down level, or stops its motors"
        wrong_switch: WrongSwitch = word(&SWITCHES, "level", ESTIMATE);
        "Link quality at which telemetry's warning makes the pilot turn back; 0 for never"
        turn_back_below_pct: f64 = number(between(0.0, 100.0), 0.0, "no warning heeded");
        "Signal strength above sensitivity at which the pilot turns back; negative for never"
        turn_back_margin_db: f64 = number(between(-100.0, 60.0), -1.0, "no warning heeded");
        "Charge left at which telemetry's warning makes the pilot turn back; 0 for never"
        turn_back_charge_pct: f64 = number(between(0.0, 100.0), 0.0, "no warning heeded");
    }
}

impl Pilot<f64> {
    /// What he does with the link back in this flight.
    pub fn on_regain(&self) -> OnRegain {
        ON_REGAIN[(self.on_regain as usize).min(ON_REGAIN.len() - 1)].1
    }
}

/// What the pilot does with the radio once the link is called lost; times are counted from then on.
#[derive(Debug, Clone, PartialEq)]
pub struct Hands<U = Uncertain> {
    /// Turns to the craft and follows it; also when telemetry falls silent. `None`: he does not, or follows it anyway.
    pub turn_after_s: Option<U>,
    /// Raises the antenna.
    pub raise: Option<Raise<U>>,
    /// Points the antenna at the craft, up and down too.
    pub aim_after_s: Option<U>,
    /// Walks.
    pub walk: Option<Walk<U>>,
}

/// The pilot raises his antenna.
#[derive(Debug, Clone, PartialEq)]
pub struct Raise<U = Uncertain> {
    /// How long after the loss, s.
    pub after_s: U,
    /// Height of the raised antenna above the ground, m.
    pub to_m: f64,
}

/// The pilot walks.
#[derive(Debug, Clone, PartialEq)]
pub struct Walk<U = Uncertain> {
    /// How long after the loss he sets out, s.
    pub after_s: U,
    /// How far he walks, m.
    pub distance_m: f64,
    /// Where to, degrees clockwise from north.
    pub toward_deg: f64,
}

impl<U> Hands<U> {
    /// The same with every uncertain input changed.
    pub(in crate::scenario) fn map<V>(&self, place: &Place, change: &mut impl FnMut(&Place, u32, &U) -> V) -> Hands<V> {
        let mut of = |key, block, after_s: &U| change(&place.key(key), block, after_s);
        Hands {
            turn_after_s: self.turn_after_s.as_ref().map(|after_s| of("turn_after_s", 1002, after_s)),
            raise: self
                .raise
                .as_ref()
                .map(|raise| Raise { after_s: of("raise_after_s", 1003, &raise.after_s), to_m: raise.to_m }),
            aim_after_s: self.aim_after_s.as_ref().map(|after_s| of("aim_after_s", 1004, after_s)),
            walk: self.walk.as_ref().map(|walk| Walk {
                after_s: of("walk_after_s", 1005, &walk.after_s),
                distance_m: walk.distance_m,
                toward_deg: walk.toward_deg,
            }),
        }
    }
}

fn read_hands(s: &Section) -> Option<Hands> {
    // Left out it says what it does by default; `false` says that his hands stay where they are.
    let h = if s.has("hands") || s.sink.is_describing() {
        s.opt_table(
            "hands",
            "What the pilot does with the radio once the link is gone; left out, the pilot turns to face the craft; `false` for nothing",
        )?
    } else {
        s.table("hands")
    };
    const DELAY: Limits = between(0.0, 600.0);
    const AFTER: &str = "When, after the link is called lost";
    // Non-urgent take-overs: median and spread.
    let (surprised, later) = (Uncertain::Lognormal(4.6, 1.6), Uncertain::Lognormal(10.0, 1.6));
    let turn =
        h.flag("turn", true, "common practice", "Turns to face the craft; only where `pilot.facing_deg` is stated");
    let turn_after_s = h.uncertain(
        "turn_after_s",
        DELAY,
        surprised.clone(),
        "drivers not in a hurry take over after 4.57 s: Eriksson and Stanton, Human Factors 59(4), 2017",
        "When, after the link is called lost or telemetry falls silent, whichever comes first",
    );
    let raise_to_m = h.opt_number(
        "raise_to_m",
        between(0.1, 100.0),
        "not done",
        "Raises the antenna to this height above the ground; from 2 m on, the pilot's body is no longer in the way",
    );
    let raise_after_s = h.uncertain("raise_after_s", DELAY, later.clone(), ESTIMATE, AFTER);
    let aim = h.flag("aim", false, "not done", "Points the antenna at the craft, up and down too");
    let aim_after_s = h.uncertain("aim_after_s", DELAY, surprised, ESTIMATE, AFTER);
    let walk_m = h.opt_number("walk_m", between(0.1, 500.0), "not done", "Walks this far, at 1.4 m/s");
    let toward_deg =
        h.number("walk_deg", between(-360.0, 360.0), 0.0, "north", "Direction of that walk, clockwise from north");
    let walk_after_s = h.uncertain("walk_after_s", DELAY, later, ESTIMATE, AFTER);
    let hands = Hands {
        // Only one who faces one way whatever the craft does has something to turn.
        turn_after_s: (turn && s.has("facing_deg")).then_some(turn_after_s),
        raise: raise_to_m.map(|to_m| Raise { after_s: raise_after_s, to_m }),
        aim_after_s: aim.then_some(aim_after_s),
        walk: walk_m.map(|distance_m| Walk { after_s: walk_after_s, distance_m, toward_deg }),
    };
    let does = hands.turn_after_s.is_some() || hands.raise.is_some() || hands.aim_after_s.is_some();
    (does || hands.walk.is_some()).then_some(hands)
}
