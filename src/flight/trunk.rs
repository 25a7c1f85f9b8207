//! From take-off to the loss of the link, flown by the pilot.

use super::luck::Luck;
use super::pilot::{Pilot, Stick, Task, path_flown_m};
use super::setup::Setup;
use super::state::State;
use super::touch::{Coming, Contact, contact};
use super::watch::Watch;
use super::{Doing, Facts, Flags, Headline, LinkEvent, LossCause, LossMoment, Manner};
use crate::craft::PackLevel;
use crate::failsafe::{Act, Demand, Horizontal};
use crate::scenario::VideoLost;

/// A command older than this is an old one: the craft flies on by it (the last command holds). Estimate.
pub(super) const FRESH_S: f64 = 0.25;

/// Telemetry must warn for this long before the pilot heeds it. Estimate: one glance at the readout.
const WARNED_S: f64 = 1.0;

/// How the trunk ended.
pub enum TrunkEnd {
    /// The link was declared lost.
    Lost(Box<State>, LossMoment),
    /// The flight ended with the link up.
    Down(Headline),
    /// No take-off for want of a fix.
    Refused,
}

/// Flies the trunk of one flight.
pub fn fly_trunk<W: Watch>(setup: &Setup, luck: &Luck, watch: &mut W) -> TrunkEnd {
    let world = setup.world;
    if luck.refused {
        return TrunkEnd::Refused;
    }
    let mut state = State::at_take_off(setup, luck);
    let mut pilot = Pilot::at_take_off();
    let mut stick = Stick::still();
    let mut flags = Flags::default();
    let mut warned_since_s = f64::INFINITY;
    let mut blind_since_s = f64::INFINITY;
    let sensitivity_dbm = setup.link.sensitivity_dbm(luck.drawn.noise_rise_db);
    let most_s = 3.0 * world.path.duration_s() + 300.0;
    let mut flown_m = 0.0;
    watch.event(0.0, || "take-off".into());

    while state.time_s < most_s {
        let place = state.motion.place_m;
        flown_m = path_flown_m(pilot.task, &world.path, place).unwrap_or(flown_m);
        if state.cut_from_s.is_none() && luck.cut.is_due(state.time_s, flown_m) {
            state.cut_from_s = Some(state.time_s);
            watch.event(state.time_s, || "the scenario cuts the link".into());
        }
        state.sense(setup, luck, luck.cut.is_cut(state.cut_from_s, state.time_s));

        if let Some(LinkEvent::Lost { at_s }) = state.link_now.event {
            // The cut is the cause when it reached into the silence; a loss before it, or long after a short one, has its own.
            let by_cut = luck.cut.ends_s(state.cut_from_s) > state.link.last_valid_s();
            let cause = if by_cut { LossCause::Cut } else { state.link.cause() };
            watch.event(at_s, || format!("link declared lost ({})", cause.label()));
            let moment = moment_of(setup, &state, flown_m, at_s, cause);
            return TrunkEnd::Lost(Box::new(state), moment);
        }

        // A warning by telemetry, heeded after the reaction time.
        let s = &world.scenario.pilot;
        let warned = state.link_now.telemetry_up
            && (100.0 * state.pack.charge < s.turn_back_charge_pct
                || (s.turn_back_below_pct > 0.0 && state.link_now.quality_pct < s.turn_back_below_pct)
                || (s.turn_back_margin_db >= 0.0
                    && state.link.rssi_dbm(&setup.link) - sensitivity_dbm < s.turn_back_margin_db));
        warned_since_s = if warned { warned_since_s.min(state.time_s) } else { f64::INFINITY };
        if state.time_s - warned_since_s > WARNED_S + luck.drawn.reaction_s
            && matches!(pilot.task, Task::Path { .. } | Task::Pause { .. })
        {
            watch.event(state.time_s, || "warned by telemetry, the pilot turns back".into());
            pilot.go_home(place, world.clear_level_m);
        }

        // A lost picture.
        if let Some(video) = &world.scenario.radio.video {
            blind_since_s = if state.link_now.video_up { f64::INFINITY } else { blind_since_s.min(state.time_s) };
            // The picture counts as gone after its patience already.
            let blind = state.time_s - blind_since_s > luck.drawn.reaction_s;
            match video.when_lost {
                VideoLost::FlyOn => {}
                VideoLost::Hold => {
                    if blind && !matches!(pilot.task, Task::HandsOff | Task::Down) {
                        watch.event(state.time_s, || "picture gone, the pilot lets go".into());
                        pilot.let_go();
                    } else if !blind && state.link_now.video_up && pilot.has_let_go() {
                        watch.event(state.time_s, || "picture back, the pilot flies home".into());
                        pilot.go_home(place, world.clear_level_m);
                    }
                }
                VideoLost::TriggerPolicy => {
                    if blind {
                        watch.event(state.time_s, || "picture gone, the pilot throws the switch".into());
                        let moment = moment_of(setup, &state, flown_m, state.time_s, LossCause::Switch);
                        return TrunkEnd::Lost(Box::new(state), moment);
                    }
                }
            }
        }

        let ground_m = state.ground_m;
        let before = pilot.task;
        let mut wanted = pilot.stick(&world.path, world.home_m, &setup.limits, place, ground_m, state.time_s);
        if pilot.task == Task::Home && matches!(before, Task::Path { .. } | Task::Pause { .. }) {
            flown_m = world.path.length_m();
        }
        // Let go of, the craft holds by its own means: without a fix it keeps level and drifts.
        if pilot.has_let_go() && !state.fix_now.fix {
            wanted.horizontal = Horizontal::Level;
        }
        let silent = state.link.silence_s(state.time_s) > FRESH_S;
        if !silent {
            stick = wanted;
        }
        watch.step(setup, &state, if silent { Doing::Silent } else { Doing::Piloted });
        // A pack that must land brings the craft down whatever the sticks say.
        let must_land = state.pack.level >= PackLevel::Land;
        let motors = state.pack.level < PackLevel::Cutoff;
        let climb_mps = if must_land { -setup.limits.descent_mps.min(1.5) } else { stick.climb_mps };
        let demand = Demand { act: Act::Hold, horizontal: stick.horizontal, climb_mps, motors };
        state.fly(setup, luck, &demand, false);

        let here = state.motion.place_m;
        if !world.grid.inside_fence(here[0], here[1]) {
            flags.set(Flags::LEFT_AREA);
        }
        // On the ground at the start there is nothing to touch down from.
        let climbing_out = state.time_s < 3.0;
        if !climbing_out
            && let Some(contact) =
                contact(setup, luck, &state, place, Coming::of(matches!(pilot.task, Task::Down) || must_land, motors))
        {
            return TrunkEnd::Down(headline_at(setup, contact, flags, motors));
        }
    }
    TrunkEnd::Down(Headline::NotSettled)
}

fn headline_at(setup: &Setup, contact: Contact, flags: Flags, motors: bool) -> Headline {
    let manner = if motors { contact.manner } else { Manner::RanDry };
    setup.order.headline(&Facts { manner, ground: contact.ground, flags, in_hand: false })
}

fn moment_of(setup: &Setup, state: &State, flown_m: f64, at_s: f64, cause: LossCause) -> LossMoment {
    let place = state.motion.place_m;
    LossMoment {
        time_s: at_s as f32,
        place_m: place.map(|x| x as f32),
        path_share: (flown_m / setup.world.path.length_m().max(1.0)).clamp(0.0, 1.0) as f32,
        distance_m: crate::world::length(place, setup.world.antenna_m) as f32,
        cause,
    }
}
