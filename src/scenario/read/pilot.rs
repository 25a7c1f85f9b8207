//! The pilot, and how the link is lost.

use super::ESTIMATE;
use crate::chance::Uncertain;
use crate::scenario::table::{Section, above, between, tidy};
use crate::scenario::types::{CutAt, FliesBy, Hands, Loss, OnRegain, Pilot, Raise, Walk, WrongSwitch};
use crate::site::shape::line_distance_m;

/// `faces`: he faces one way whatever the craft does, so that there is something to turn.
fn read_hands(h: &Section, faces: bool) -> Hands {
    // Non-urgent take-overs: median and spread.
    let surprised = || Uncertain::Lognormal(4.6, 1.6);
    let later = || Uncertain::Lognormal(10.0, 1.6);
    let turn =
        h.flag("turn", true, "common practice", "Turns to face the craft; only where `pilot.facing_deg` is stated");
    let turn_after_s = h.uncertain(
        "turn_after_s",
        between(0.0, 600.0),
        surprised(),
        "drivers not in a hurry take over after 4.57 s: Eriksson and Stanton, Human Factors 59(4), 2017",
        "When, after the link is called lost or telemetry falls silent, whichever comes first",
    );
    let raise_to_m = h.opt_number(
        "raise_to_m",
        between(0.1, 100.0),
        "not done",
        "Raises the antenna to this height above the ground; from 2 m on, the pilot's body is no longer in the way",
    );
    let raise_after_s =
        h.uncertain("raise_after_s", between(0.0, 600.0), later(), ESTIMATE, "When, after the link is called lost");
    let aim = h.flag("aim", false, "not done", "Points the antenna at the craft, up and down too");
    let aim_after_s =
        h.uncertain("aim_after_s", between(0.0, 600.0), surprised(), ESTIMATE, "When, after the link is called lost");
    let walk_m = h.opt_number("walk_m", between(0.1, 500.0), "not done", "Walks this far, at 1.4 m/s");
    let walk_deg =
        h.number("walk_deg", between(-360.0, 360.0), 0.0, "north", "Direction of that walk, clockwise from north");
    let walk_after_s =
        h.uncertain("walk_after_s", between(0.0, 600.0), later(), ESTIMATE, "When, after the link is called lost");
    Hands {
        turn_after_s: (turn && faces).then_some(turn_after_s),
        raise: raise_to_m.map(|to_m| Raise { after_s: raise_after_s, to_m }),
        aim_after_s: aim.then_some(aim_after_s),
        walk: walk_m.map(|distance_m| Walk { after_s: walk_after_s, distance_m, toward_deg: walk_deg }),
    }
}

pub(super) fn read_pilot(s: &Section, home_m: [f64; 2]) -> Pilot {
    let faces = s.has("facing_deg");
    // Left out it says what it does by default; `false` says that his hands stay where they are.
    let hands = if s.has("hands") || s.sink.is_describing() {
        s.opt_table(
            "hands",
            "What the pilot does with the radio once the link is gone; left out, the pilot turns to face the craft; `false` for nothing",
        )
    } else {
        Some(s.table("hands"))
    };
    let hands = hands.map(|hands| read_hands(&hands, faces)).filter(|hands| {
        hands.turn_after_s.is_some() || hands.raise.is_some() || hands.aim_after_s.is_some() || hands.walk.is_some()
    });
    Pilot {
        hands,
        place_m: s.numbers::<2>(
            "place_m",
            between(-1e6, 1e6),
            home_m,
            "at the take-off spot",
            "Where the pilot stands: [x, y]",
        ),
        antenna_height_m: s.number(
            "antenna_height_m",
            between(0.1, 100.0),
            1.5,
            "in the hands",
            "Height of the antenna above the ground",
        ),
        facing_deg: s.opt_number(
            "facing_deg",
            between(-360.0, 360.0),
            "it follows the craft",
            "Direction the pilot's antenna points",
        ),
        reaction_s: s.uncertain(
            "reaction_s",
            between(0.0, 60.0),
            Uncertain::Lognormal(2.4, 1.65),
            "drivers' prompted take-overs, mean 2.72 s, sd 1.45 s: Zhang et al., Transp. Res. F 64 (2019); of remote pilots nothing is published",
            "Reaction time",
        ),
        flies_by: s.word(
            "flies_by",
            &[("attitude", FliesBy::Attitude), ("position_hold", FliesBy::PositionHold)],
            "attitude",
            "estimate: flown by the picture",
            "What the sticks steer: the attitude, by eye; or a speed over ground, by the craft's fix and heading",
        ),
        lands_off_m: s.number(
            "lands_off_m",
            between(0.0, 50.0),
            0.7,
            ESTIMATE,
            "How far off the take-off spot the pilot sets the craft down by eye, 1 sigma a direction",
        ),
        on_regain: s.word(
            "on_regain",
            &[("fly_home", OnRegain::FlyHome), ("resume", OnRegain::Resume), ("let_finish", OnRegain::LetFinish)],
            "fly_home",
            ESTIMATE,
            "What the pilot does with the link back",
        ),
        unresponsive_share: s.uncertain(
            "unresponsive_share",
            between(0.0, 1.0),
            Uncertain::Triangular(0.05, 0.15, 0.35),
            "drivers who watched and did not act: 28 % (Victor et al., Human Factors 60(8), 2018); for remote pilots an estimate",
            "Share of pilots who do not take over when the link is back: then the policy finishes",
        ),
        wrong_switch_share: s.number(
            "wrong_switch_share",
            between(0.0, 1.0),
            0.0,
            "off unless stated",
            "Share of hand-backs at which a switch stands in the wrong position, for one more reaction time",
        ),
        wrong_switch: s.word(
            "wrong_switch",
            &[("level", WrongSwitch::Level), ("sink", WrongSwitch::Sink), ("stop_motors", WrongSwitch::StopMotors)],
            "level",
            ESTIMATE,
            "What the craft does meanwhile: keeps level and drifts, comes down level, or stops its motors",
        ),
        turn_back_below_pct: s.number(
            "turn_back_below_pct",
            between(0.0, 100.0),
            0.0,
            "no warning heeded",
            "Link quality at which telemetry's warning makes the pilot turn back; 0 for never",
        ),
        turn_back_margin_db: s.number(
            "turn_back_margin_db",
            between(-100.0, 60.0),
            -1.0,
            "no warning heeded",
            "Signal strength above sensitivity at which the pilot turns back; negative for never",
        ),
        turn_back_charge_pct: s.number(
            "turn_back_charge_pct",
            between(0.0, 100.0),
            0.0,
            "no warning heeded",
            "Charge left at which telemetry's warning makes the pilot turn back; 0 for never",
        ),
    }
}

pub(super) fn read_loss(s: &Section, home_m: [f64; 2], waypoints_m: &[[f64; 3]]) -> Loss {
    let modelled = s.flag("modelled", true, "the radio decides", "The link goes when the radio model says so");
    let Some(c) = s.opt_table(
        "cut",
        "The link is cut at a moment, whatever the radio model says; a loss that comes before it counts with its own cause",
    ) else {
        if !modelled {
            s.error("modelled", "no loss at all", "`modelled = true` or a table `cut`");
        }
        return Loss::Modelled;
    };
    if s.has("modelled") && modelled && s.has("cut") {
        s.error("modelled", "both `modelled` and `cut`", "one of the two");
    }
    let any_time = c.flag("any_time", false, "", "Any moment of the path, all equally likely");
    let time_s =
        c.has("time_s").then(|| c.uncertain("time_s", between(0.0, 36_000.0), 0.0, "", "At this time after take-off"));
    let path_share = c
        .has("path_share")
        .then(|| c.uncertain("path_share", between(0.0, 1.0), 0.5, "", "At this share of the path's length"));
    let near_m =
        c.opt_numbers::<3>("near_m", between(-1e6, 1e6), "another moment is given", "Within a disc: [x, y, radius]");
    let for_s = c.has("for_s").then(|| c.uncertain("for_s", above(0.0, 36_000.0), 10.0, "", "How long the cut lasts"));
    if c.sink.is_describing() {
        c.uncertain("time_s", between(0.0, 36_000.0), 0.0, "another moment is given", "At this time after take-off");
        c.uncertain(
            "path_share",
            between(0.0, 1.0),
            0.5,
            "another moment is given",
            "At this share of the path's length",
        );
        c.uncertain("for_s", above(0.0, 36_000.0), 10.0, "when left out: for good", "How long the cut lasts");
    }
    let moments = usize::from(any_time)
        + [time_s.is_some(), path_share.is_some(), c.has("near_m")].into_iter().filter(|there| *there).count();
    const ONE: &str = "one of `any_time = true`, `time_s`, `path_share`, `near_m`";
    if moments != 1 && !c.sink.is_describing() {
        c.error("", if moments == 0 { "no moment" } else { "more than one moment" }, ONE);
    }
    let at = if let Some(time_s) = time_s {
        CutAt::TimeS(time_s)
    } else if let Some(share) = path_share {
        CutAt::PathShare(share)
    } else if let Some([x, y, radius_m]) = near_m {
        if radius_m <= 0.0 {
            c.error("near_m", format!("the radius {radius_m}"), "a radius above 0");
        }
        let way_m: Vec<[f64; 2]> = std::iter::once(home_m).chain(waypoints_m.iter().map(|p| [p[0], p[1]])).collect();
        let off_m = line_distance_m(&way_m, [x, y]);
        if off_m > radius_m && !waypoints_m.is_empty() {
            c.error(
                "near_m",
                format!("a disc of {} m whose middle the path passes at {off_m:.0} m", tidy(radius_m)),
                "a disc that the path crosses",
            );
        }
        CutAt::Near { place_m: [x, y], radius_m }
    } else {
        CutAt::AnyTime
    };
    Loss::Cut { at, for_s }
}
