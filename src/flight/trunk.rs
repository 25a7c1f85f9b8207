//! From take-off to the loss of the link, flown by the pilot.

use super::luck::Luck;
use super::pilot::{Pilot, Sees, path_flown_m};
use super::running::Running;
use super::state::{State, Steering};
use super::touch::{Coming, Contact, contact};
use super::watch::Watch;
use super::{Declared, Doing, Event, Facts, Flags, Headline, LossCause, LossMoment, Manner, Order};
use crate::craft::PackLevel;
use crate::failsafe::{Act, Command, Demand, Horizontal};
use crate::scenario::{AfterHold, FliesBy, VideoLink, VideoLost};
use crate::world::World;

/// Telemetry must warn for this long before the pilot heeds it. Estimate: one glance at the readout.
const WARNED_S: f64 = 1.0;

/// Rate at which the pilot turns the craft round for another look of its antenna, rad/s. Estimate: once round in 12 s.
const LOOKS_ROUND_RADPS: f64 = 0.5;

/// A craft that has not lifted off by then does not. Estimate: a slow climb of 0.1 m/s has.
pub(super) const LIFTS_OFF_WITHIN_S: f64 = 30.0;

/// How the trunk ended.
pub enum TrunkEnd {
    /// The link was declared lost.
    Lost(Box<State>, LossMoment),
    /// The flight ended with the link up.
    Down(Headline),
    /// No take-off, and why.
    Refused(&'static str),
}

/// Flies the trunk of one flight.
pub fn fly_trunk<W: Watch>(world: &World, luck: &Luck, watch: &mut W) -> TrunkEnd {
    if luck.refused {
        return TrunkEnd::Refused("no take-off: the fix was never good enough");
    }
    let mut state = State::at_take_off(world, luck);
    let mut pilot = Pilot::at_take_off(luck.lands_off_m);
    let mut flags = Flags::default();
    let mut warned_since_s = f64::INFINITY;
    let mut blind = Blind::default();
    let mut pack: Option<Running> = None;
    let sensitivity_dbm = luck.radio.sensitivity_dbm(luck.drawn.radio.control.noise_rise_db);
    let most_s = 3.0 * world.path.duration_s() + 300.0;
    let mut flown_m = 0.0;
    watch.event(0.0, || Event::TakeOff);

    while state.time_s < most_s {
        let place = state.motion.place_m;
        if !place.iter().all(|x| x.is_finite()) {
            // Each branch ends at once and is marked as a fault: so is the flight, under every policy.
            let at_s = state.time_s;
            return lost(world, state, flown_m, at_s, LossCause::Restart);
        }
        let before_m = flown_m;
        flown_m = path_flown_m(pilot.task, &world.path, place).unwrap_or(flown_m);
        begin_cut(world, luck, &mut state, flown_m, flown_m - before_m, watch);
        if !state.sensed {
            state.sense(world, luck, luck.cut.off(state.cut_from_s));
        }
        let loss = declared(luck, &state);

        // A warning by telemetry, heeded after the reaction time.
        let sees = sees(world, &state);
        let warned = is_warned(world, luck, &state, sees.charge_pct, sensitivity_dbm);
        warned_since_s = if warned { warned_since_s.min(state.time_s) } else { f64::INFINITY };
        if state.time_s - warned_since_s > WARNED_S + luck.drawn.pilot.reaction_s && pilot.is_on_the_path() {
            watch.event(state.time_s, || Event::Pilot("warned by telemetry, the pilot turns back"));
            pilot.go_home(&sees);
        }

        if let Some(video) = &luck.drawn.radio.video
            && loss.is_none()
        {
            match blind.step(video, luck.drawn.pilot.reaction_s, &mut state, &sees, &mut pilot, world.scenario.step_s) {
                BlindNews::None => {}
                BlindNews::Told(what) => watch.event(state.time_s, || Event::Pilot(what)),
                BlindNews::Switch => {
                    watch.event(state.time_s, || Event::Pilot("picture gone, the pilot throws the switch"));
                    let at_s = state.time_s;
                    return lost(world, state, flown_m, at_s, LossCause::Switch);
                }
            }
        }

        let on_the_path = pilot.is_on_the_path();
        let mut wanted = pilot.stick(&sees);
        if let Some(what) = pilot.news() {
            watch.event(state.time_s, || Event::Pilot(what));
        }
        if on_the_path && !pilot.is_on_the_path() {
            flown_m = world.path.length_m();
        }
        let steering = steer(world, &state, &mut pilot, &mut wanted);
        let silent = hear(world, &mut state, wanted);

        // What a low pack makes the craft do by itself, whatever the sticks say.
        heed_pack(world, &mut state, &mut pack, watch);
        let motors = state.pack.level < PackLevel::Cutoff;
        let (demand, steering, landing, doing) = match &mut pack {
            Some(running) => {
                let demand = running.demand(world, &state);
                (demand, Steering::Craft, demand.act == Act::Land, Doing::of(demand.act))
            }
            None => {
                let doing = if silent { Doing::Silent } else { Doing::Piloted };
                (as_commanded(&state), steering, pilot.is_coming_down(), doing)
            }
        };
        watch.step(world, &state, doing);
        // Up to the loss it is flown as it was; what comes then begins there.
        let from_s = state.time_s;
        state.fly(world, luck, &Demand { motors, ..demand }, steering, changes_s(&loss, &pack));
        state.count_halves(world, from_s, state.time_s);

        let touched = contact(world, luck, &state, place, Coming::of(landing, motors));
        let here = touched.map_or(state.motion.place_m, |contact| contact.place_m);
        if !world.grid.marks(here[0], here[1]).inside_fence {
            flags.set(Flags::LEFT_AREA);
        }
        if let Some(contact) = touched {
            return TrunkEnd::Down(headline_at(world, luck, contact, flags, motors));
        }
        if let Some(Loss { at_s, cause }) = loss.filter(|loss| loss.at_s <= state.time_s || !state.sensed) {
            watch.event(at_s, || Event::Lost(cause));
            flown_m = path_flown_m(pilot.task, &world.path, here).unwrap_or(flown_m);
            return lost(world, state, flown_m, at_s, cause);
        }
        if !state.airborne && state.time_s > LIFTS_OFF_WITHIN_S {
            return TrunkEnd::Refused("no take-off: the craft did not lift off");
        }
    }
    TrunkEnd::Down(Headline::NotSettled)
}

/// Begins the cut that the scenario sets when its time has come: at `flown_m` of the path, with `moved_m` to come in this step.
fn begin_cut<W: Watch>(world: &World, luck: &Luck, state: &mut State, flown_m: f64, moved_m: f64, watch: &mut W) {
    if state.cut_from_s.is_none()
        && let Some(at_s) = luck.cut.begins_s(state.time_s, world.scenario.step_s, flown_m, moved_m)
    {
        state.cut_from_s = Some(at_s);
        watch.event(at_s, || Event::Cut);
    }
}

/// The loss of the link as the receiver calls it.
struct Loss {
    at_s: f64,
    cause: LossCause,
}

/// The loss within the step that was sensed, if there is one.
fn declared(luck: &Luck, state: &State) -> Option<Loss> {
    let Some(Declared::Lost { at_s }) = state.link_now.event else { return None };
    // The cut is the cause when it reached into the silence; a loss before it, or long after a short one, has its own.
    let by_cut = luck.cut.ends_s(state.cut_from_s) > state.link.last_valid_s();
    Some(Loss { at_s, cause: if by_cut { LossCause::Cut } else { state.link.cause() } })
}

/// When the loss comes or a low pack's action has lasted, as far as that is settled.
fn changes_s(loss: &Option<Loss>, pack: &Option<Running>) -> f64 {
    let loss_s = loss.as_ref().map_or(f64::INFINITY, |loss| loss.at_s);
    pack.as_ref().map_or(loss_s, |running| running.ends_s().min(loss_s))
}

/// What the sticks say, as it was last heard.
fn as_commanded(state: &State) -> Demand {
    let Command { horizontal, climb_mps } = state.command;
    Demand { act: Act::CarryOn, horizontal, climb_mps, motors: true }
}

/// Whether telemetry tells the pilot of something that makes him turn back.
fn is_warned(world: &World, luck: &Luck, state: &State, charge_pct: f64, sensitivity_dbm: f64) -> bool {
    let pilot = &world.scenario.pilot;
    state.link_now.telemetry_up
        && (charge_pct < pilot.turn_back_charge_pct
            || (pilot.turn_back_below_pct > 0.0 && state.link_now.quality_pct < pilot.turn_back_below_pct)
            || (pilot.turn_back_margin_db >= 0.0
                && state.link.rssi_dbm(&luck.radio) - sensitivity_dbm < pilot.turn_back_margin_db))
}

/// What the pilot sees of the state: where the craft is in the middle of the step over which his sticks stay.
pub(super) fn sees<'a>(world: &'a World, state: &State) -> Sees<'a> {
    let half_s = 0.5 * world.scenario.step_s;
    Sees {
        world,
        limits: &world.limits,
        place_m: state.place_in_m(half_s),
        ground_m: state.ground_m,
        time_s: state.time_s + half_s,
        charge_pct: 100.0 * state.pack.charge,
    }
}

/// Turns what the pilot wants into what the sticks say in his flight mode, and tells who steers.
pub(super) fn steer(world: &World, state: &State, pilot: &mut Pilot, wanted: &mut Command) -> Steering {
    let by_fix = world.scenario.pilot.flies_by == FliesBy::PositionHold && state.fix_now.fix;
    if pilot.has_let_go() {
        // Let go of, the craft holds by its own means: without a fix, or by attitude alone, it keeps level and drifts.
        if by_fix {
            return Steering::Craft;
        }
        wanted.horizontal = Horizontal::Level;
        return Steering::Eye;
    }
    if !by_fix {
        return Steering::Eye;
    }
    if let Horizontal::Velocity(speed_mps) = &mut wanted.horizontal {
        *speed_mps = pilot.aim(*speed_mps, state.motion.velocity_mps, world.scenario.step_s);
    }
    Steering::Sticks
}

/// Passes a command on when the link is there, and tells whether it is silent: then the last one stays.
pub(super) fn hear(world: &World, state: &mut State, wanted: Command) -> bool {
    let silent = state.link.silence_s(state.time_s + 0.5 * world.scenario.step_s) > world.fresh_s;
    if !silent {
        state.command = wanted;
    } else {
        keep_command(world, state);
    }
    silent
}

/// What stays of the last command: sticks that steer an attitude leave the attitude, those that steer a speed the speed.
fn keep_command(world: &World, state: &mut State) {
    let by_attitude = world.scenario.pilot.flies_by == FliesBy::Attitude;
    if let Horizontal::Velocity(_) = state.command.horizontal
        && by_attitude
    {
        state.command.horizontal = Horizontal::Tilt(state.slope());
    }
}

/// The end of a trunk by a lost link, with the last command as it stays.
fn lost(world: &World, mut state: State, flown_m: f64, at_s: f64, cause: LossCause) -> TrunkEnd {
    keep_command(world, &mut state);
    let place = state.motion.place_m;
    let moment = LossMoment {
        time_s: at_s,
        place_m: place.map(|x| x as f32),
        path_share: (flown_m / world.path.length_m().max(1.0)).clamp(0.0, 1.0) as f32,
        distance_m: crate::world::length(place, world.antenna_m) as f32,
        cause,
        telemetry_up: state.link_now.telemetry_up,
    };
    TrunkEnd::Lost(Box::new(state), moment)
}

/// Starts what is set for a low pack when its time has come: the limit's after the warning's.
fn heed_pack<'s, W: Watch>(world: &'s World, state: &mut State, pack: &mut Option<Running<'s>>, watch: &mut W) {
    if state.pack.level < PackLevel::Warn {
        return;
    }
    let warned = std::mem::replace(&mut state.pack_warned, true);
    let due = if state.pack.level >= PackLevel::Land {
        world.low_pack.at_limit.as_ref()
    } else {
        world.low_pack.at_warning.as_ref().filter(|_| !warned)
    };
    let Some(policy) = due.filter(|due| pack.as_ref().is_none_or(|running| !running.is(due))) else { return };
    watch.event(state.time_s, || Event::LowPack(policy.in_words()));
    *pack = Some(Running::start(world, state, policy));
}

/// The pilot without a picture.
struct Blind {
    since_s: f64,
    /// Since when he has let the craft hold, and since when he has done what follows.
    holds_since_s: f64,
    then_since_s: f64,
}

impl Default for Blind {
    fn default() -> Self {
        Blind { since_s: f64::INFINITY, holds_since_s: f64::INFINITY, then_since_s: f64::INFINITY }
    }
}

/// What comes of a step without a picture.
enum BlindNews {
    None,
    Told(&'static str),
    Switch,
}

impl Blind {
    fn step(
        &mut self,
        video: &VideoLink<f64>,
        reaction_s: f64,
        state: &mut State,
        sees: &Sees,
        pilot: &mut Pilot,
        step_s: f64,
    ) -> BlindNews {
        let now_s = state.time_s;
        self.since_s = if state.link_now.video_up { f64::INFINITY } else { self.since_s.min(now_s) };
        // The picture counts as gone after its patience already.
        let blind = now_s - self.since_s > reaction_s;
        match video.when_lost {
            VideoLost::FlyOn => return BlindNews::None,
            VideoLost::TriggerPolicy => return if blind { BlindNews::Switch } else { BlindNews::None },
            VideoLost::Hold => {}
        }
        if self.holds_since_s == f64::INFINITY {
            if blind && !pilot.is_coming_down() {
                pilot.let_go();
                self.holds_since_s = now_s;
                return BlindNews::Told("picture gone, the pilot lets go");
            }
            return BlindNews::None;
        }
        if state.link_now.video_up {
            *self = Blind::default();
            pilot.go_home(sees);
            return BlindNews::Told("picture back, the pilot flies home");
        }
        if self.then_since_s == f64::INFINITY {
            if now_s - self.holds_since_s < video.hold_s {
                return BlindNews::None;
            }
            self.then_since_s = now_s;
            return match video.after_hold {
                AfterHold::Turn => BlindNews::Told("no picture, the pilot turns the craft round"),
                AfterHold::Climb => {
                    pilot.climb(sees);
                    BlindNews::Told("no picture, the pilot climbs")
                }
                AfterHold::ComeBack => {
                    pilot.go_home(sees);
                    BlindNews::Told("no picture, the pilot flies home without")
                }
                AfterHold::TriggerPolicy => BlindNews::Switch,
            };
        }
        let waits = match video.after_hold {
            AfterHold::Turn => {
                state.turn_left(LOOKS_ROUND_RADPS * step_s);
                true
            }
            AfterHold::Climb => pilot.is_up(state.motion.place_m),
            AfterHold::ComeBack | AfterHold::TriggerPolicy => return BlindNews::None,
        };
        if !waits {
            self.then_since_s = now_s;
        }
        if now_s - self.then_since_s > video.hold_s { BlindNews::Switch } else { BlindNews::None }
    }
}

fn headline_at(world: &World, luck: &Luck, contact: Contact, flags: Flags, motors: bool) -> Headline {
    let judge = &world.scenario.judge;
    let manner = if motors { contact.manner } else { Manner::RanDry };
    let energy_j = contact.energy_below_j(world, luck.mover.mass_kg);
    let facts = Facts { manner, here: contact.here, energy_j, flags, in_hand: false };
    Order::of(judge).headline(&facts, &judge.hard)
}
