//! From the loss of the link to the end, under one policy.

use super::judge::ground_at;
use super::luck::Luck;
use super::pilot::Pilot;
use super::state::{Asks, State, Steering};
use super::touch::{Coming, contact};
use super::trunk::{LIFTS_OFF_WITHIN_S, hear, sees, steer};
use super::watch::Watch;
use super::{Doing, Ending, Facts, Flags, Ground, LinkEvent, LossCause, LossMoment, Manner, Order};
use crate::craft::{PackLevel, fall};
use crate::failsafe::{Act, Command, Demand, Engine, Horizontal, Policy};
use crate::scenario::{GoesFirst, OnRegain, WrongSwitch};
use crate::world::World;

/// Sink speed of a craft that must land while the pilot has it. Estimate.
const FORCED_SINK_MPS: f64 = 1.5;

/// A branch is broken off after this long: longer than any pack of this class lasts. Estimate.
pub const MOST_S: f64 = 2_400.0;

/// A heading wrong by more bends the way home into a spiral or away: then the craft no longer does as its policy says.
///
/// # Source
/// Position hold with a damping ratio of 0.7 is stable up to 65° of heading error (see `sky::heading`); rounded down.
const ASTRAY_RAD: f64 = 60.0 * std::f64::consts::PI / 180.0;

/// Who flies.
enum Hand {
    Policy,
    Pilot(Pilot),
    /// A switch in the wrong position, until the pilot has put it right.
    WrongSwitch {
        until_s: f64,
    },
}

/// What is counted on the way.
struct Count {
    flags: Flags,
    greatest_distance_m: f64,
    greatest_height_m: f64,
    over_people_s: f64,
    without_fix_s: f64,
    vortex_ring_s: f64,
    declared_lost: u32,
}

/// The policy under way: the one asked about, or what is set for a low pack.
struct Running<'p> {
    policy: &'p Policy,
    engine: Engine,
    asks: Asks,
    told_given_up: u32,
    told_taken_up: u32,
}

impl<'p> Running<'p> {
    fn start(world: &World, state: &State, policy: &'p Policy) -> Running<'p> {
        let asks = Asks::of(world, policy);
        let engine = Engine::start(policy, &state.observe(world, &asks));
        Running { policy, engine, asks, told_given_up: 0, told_taken_up: 0 }
    }

    fn step<W: Watch>(&mut self, world: &World, state: &State, flags: &mut Flags, watch: &mut W) -> Demand {
        let demand = self.engine.step(self.policy, &world.limits, &state.observe(world, &self.asks));
        if let (Some(why), times) = self.engine.given_up()
            && times > self.told_given_up
        {
            self.told_given_up = times;
            flags.set(Flags::FELL_BACK);
            watch.event(state.time_s, || format!("given up: {}; the fallback runs", why.in_words()));
        }
        if self.engine.taken_up() > self.told_taken_up {
            self.told_taken_up = self.engine.taken_up();
            flags.set(Flags::TAKEN_UP_AGAIN);
            watch.event(state.time_s, || "the fix is back: the way home is taken up again".into());
        }
        demand
    }
}

/// What is set for the pack as it is, when the pack goes first.
fn called_by_pack<'s>(world: &'s World, state: &State) -> Option<&'s Policy> {
    if world.scenario.craft.battery.goes_first != GoesFirst::Pack {
        return None;
    }
    // A landing at the limit is a matter of every policy's own.
    let at_limit =
        world.low_pack.at_limit.as_ref().filter(|_| state.pack.level >= PackLevel::Land && !world.low_pack.limit_lands);
    at_limit.or_else(|| world.low_pack.at_warning.as_ref().filter(|_| state.pack_warned))
}

/// Flies one policy from the state at the loss; `at_loss` is left as it was.
pub fn fly_branch<W: Watch>(
    world: &World,
    luck: &Luck,
    at_loss: &State,
    moment: &LossMoment,
    policy: &Policy,
    watch: &mut W,
) -> Ending {
    let mut state = at_loss.clone();
    let start_s = state.time_s;
    let mut running = Running::start(world, &state, policy);
    let mut hand = Hand::Policy;
    let mut regained_at_s = f64::INFINITY;
    let mut motors = true;
    let mut told_to_drop = false;
    let mut ran_dry = false;
    let mut doing_told: Option<Doing> = None;
    let mut count = Count {
        flags: Flags::default(),
        greatest_distance_m: 0.0,
        greatest_height_m: f64::NEG_INFINITY,
        over_people_s: 0.0,
        without_fix_s: 0.0,
        vortex_ring_s: 0.0,
        declared_lost: 1,
    };
    let started_inside = world.grid.inside_fence(state.motion.place_m[0], state.motion.place_m[1]);
    if state.fix.home_error_m().is_none() {
        count.flags.set(Flags::NO_HOME);
    }
    // A pilot who threw the switch himself, for want of a picture, does not take over on a good link alone.
    let s = &world.scenario.pilot;
    let takes_over = s.on_regain != OnRegain::LetFinish && moment.cause != LossCause::Switch && !luck.unresponsive;

    let (manner, ground, end_m, end_s) = loop {
        if state.time_s - start_s >= MOST_S {
            let place = state.motion.place_m;
            break (Manner::StillUp, ground_here(world, place), place, state.time_s);
        }
        if !state.motion.place_m.iter().all(|x| x.is_finite()) {
            count.flags.set(Flags::FAULT);
            break (Manner::StillUp, Ground::Clear, at_loss.motion.place_m, state.time_s);
        }
        // The step in which the link was called lost has been sensed already.
        if state.step > at_loss.step {
            state.sense(world, luck, luck.cut.is_cut(state.cut_from_s, state.time_s));
        }
        match state.link_now.event {
            Some(LinkEvent::Restored { at_s }) => {
                watch.event(at_s, || "link back".into());
                if takes_over && motors {
                    regained_at_s = at_s + luck.drawn.pilot.reaction_s;
                }
            }
            Some(LinkEvent::Lost { at_s }) if state.step > at_loss.step => {
                regained_at_s = f64::INFINITY;
                count.declared_lost += 1;
                count.flags.set(Flags::LOST_AGAIN);
                watch.event(at_s, || "link declared lost again".into());
                if !matches!(hand, Hand::Policy) {
                    running = Running::start(world, &state, policy);
                    hand = Hand::Policy;
                }
            }
            _ => {}
        }
        if matches!(hand, Hand::Policy) && motors && state.time_s >= regained_at_s {
            count.flags.set(Flags::PILOT_TOOK_OVER);
            if luck.wrong_switch {
                count.flags.set(Flags::WRONG_SWITCH);
                watch.event(state.time_s, || "the pilot takes over with a switch in the wrong position".into());
                hand = Hand::WrongSwitch { until_s: state.time_s + luck.drawn.pilot.reaction_s };
            } else {
                watch.event(state.time_s, || "the pilot takes over".into());
                hand = Hand::Pilot(take_over(world, luck, &state, moment));
            }
        }
        if let Hand::WrongSwitch { until_s } = hand
            && motors
            && state.time_s >= until_s
        {
            watch.event(state.time_s, || "the pilot puts the switch right".into());
            hand = Hand::Pilot(take_over(world, luck, &state, moment));
        }
        state.pack_warned |= state.pack.level >= PackLevel::Warn;
        if matches!(hand, Hand::Policy)
            && motors
            && let Some(called) = called_by_pack(world, &state)
            && !std::ptr::eq(called, running.policy)
        {
            count.flags.set(Flags::PACK_ACTED);
            watch.event(state.time_s, || format!("low pack: the craft will {}", called.in_words()));
            running = Running::start(world, &state, called);
        }

        let place = state.motion.place_m;
        let ground_m = state.ground_m;
        let (demand, steering, landing) = match &mut hand {
            Hand::Policy => {
                let mut demand = running.step(world, &state, &mut count.flags, watch);
                let steering =
                    if demand.act == Act::CarryOn { carried_on(&state, &mut demand) } else { Steering::Craft };
                (demand, steering, demand.act == Act::Land)
            }
            Hand::Pilot(pilot) => {
                let mut wanted = pilot.stick(&sees(world, &state));
                if let Some(what) = pilot.news() {
                    watch.event(state.time_s, || what.into());
                }
                let steering = steer(world, &state, pilot, &mut wanted);
                hear(world, &mut state, wanted);
                let must_land = world.low_pack.at_limit.is_some() && state.pack.level >= PackLevel::Land;
                let Command { horizontal, mut climb_mps } = state.command;
                if must_land {
                    climb_mps = -world.limits.descent_mps.min(FORCED_SINK_MPS);
                }
                let demand = Demand { act: Act::CarryOn, horizontal, climb_mps, motors: true };
                (demand, steering, pilot.is_coming_down() || must_land)
            }
            Hand::WrongSwitch { .. } => {
                let (climb_mps, motors) = match s.wrong_switch {
                    WrongSwitch::Level => (0.0, true),
                    WrongSwitch::Sink => (-world.limits.descent_mps, true),
                    WrongSwitch::StopMotors => (0.0, false),
                };
                let demand = Demand { act: Act::CarryOn, horizontal: Horizontal::Level, climb_mps, motors };
                (demand, Steering::Eye, climb_mps < 0.0)
            }
        };
        if motors && !demand.motors {
            motors = false;
            told_to_drop = true;
            watch.event(state.time_s, || "motors stop".into());
        }
        if motors && state.pack.level >= PackLevel::Cutoff {
            motors = false;
            ran_dry = place[2] - ground_m > 2.0;
            watch.event(state.time_s, || "the pack is empty: no thrust".into());
        }
        let demand = Demand { motors, ..demand };

        let doing = match (&hand, motors) {
            (_, false) => Doing::Drop,
            (Hand::Pilot(_) | Hand::WrongSwitch { .. }, _) => Doing::TakenOver,
            (Hand::Policy, _) => Doing::of(demand.act),
        };
        if doing_told != Some(doing) {
            doing_told = Some(doing);
            // That the pilot takes over is told where he does.
            if doing != Doing::TakenOver {
                // The policy begins when the loss is declared, which lies within the step.
                watch.event(state.time_s.max(moment.time_s), || format!("begins: {}", doing.label()));
            }
        }
        watch.step(world, &state, doing);

        let by_craft = matches!(hand, Hand::Policy);
        state.fly(world, luck, &demand, steering);
        let astray = state.fix_now.heading_error_rad.abs() > ASTRAY_RAD && steering != Steering::Eye;
        count.step(world, &state, by_craft && !running.engine.fell_back() && !ran_dry && !astray && started_inside);

        if !state.airborne && motors && state.time_s - start_s > LIFTS_OFF_WITHIN_S {
            let place = state.motion.place_m;
            break (Manner::SetDown, ground_here(world, place), place, state.time_s);
        }
        if let Some(contact) = contact(world, luck, &state, place, Coming::of(landing, motors)) {
            // A fall that ends in trees or on a roof is a fall all the same. A pack that gives up within reach of
            // the ground makes a landing, as hard as it is.
            let manner = match contact.manner {
                _ if ran_dry => Manner::RanDry,
                Manner::Strike if told_to_drop => Manner::Fall,
                manner => manner,
            };
            let end_s = state.time_s - (1.0 - contact.share) * world.scenario.step_s;
            state.motion.velocity_mps = contact.velocity_mps;
            break (manner, contact.ground, contact.place_m, end_s);
        }
    };

    let judge = &world.scenario.judge;
    if 100.0 * state.pack.charge < judge.reserve_pct {
        count.flags.set(Flags::RESERVE_USED);
    }
    let in_hand = matches!(hand, Hand::Pilot(_));
    let headline = Order::of(judge).headline(&Facts { manner, ground, flags: count.flags, in_hand });
    watch.event(end_s, || format!("end: {}", headline.label()));
    let velocity = state.motion.velocity_mps;
    let speed_mps = fall::speed_mps(velocity);
    let home = world.home_m;
    let distance = |p: [f64; 3]| ((p[0] - home[0]) * (p[0] - home[0]) + (p[1] - home[1]) * (p[1] - home[1])).sqrt();
    Ending {
        flight: luck.draws.flight,
        headline,
        manner,
        ground,
        flags: count.flags,
        end_m: end_m.map(|x| x as f32),
        loss_time_s: moment.time_s as f32,
        loss_m: moment.place_m,
        time_to_end_s: (end_s - moment.time_s).max(0.0) as f32,
        distance_home_m: distance(end_m) as f32,
        greatest_distance_m: count.greatest_distance_m.max(distance(end_m)) as f32,
        greatest_height_m: count.greatest_height_m as f32,
        over_people_s: count.over_people_s as f32,
        people_per_km2: world.grid.people_per_km2(end_m[0], end_m[1]) as f32,
        impact_speed_mps: speed_mps as f32,
        impact_angle_deg: fall::angle_below_rad(velocity).to_degrees() as f32,
        impact_energy_j: fall::kinetic_energy_j(luck.mover.mass_kg, speed_mps) as f32,
        pack_left_pct: (100.0 * state.pack.charge) as f32,
        without_fix_s: count.without_fix_s as f32,
        vortex_ring_s: count.vortex_ring_s as f32,
        declared_lost: count.declared_lost,
        telemetry_only_s: state.halves.telemetry_only_s as f32,
        control_only_s: state.halves.control_only_s as f32,
    }
}

/// The pilot's mind when he has the craft back.
fn take_over(world: &World, luck: &Luck, state: &State, moment: &LossMoment) -> Pilot {
    let mut pilot = Pilot::at_take_off(luck.lands_off_m);
    pilot.take_over(&sees(world, state), moment, world.scenario.pilot.on_regain);
    pilot
}

/// Who steers a craft that goes on by the last commands: a speed needs a fix to be kept, else it keeps level.
fn carried_on(state: &State, demand: &mut Demand) -> Steering {
    if matches!(demand.horizontal, Horizontal::Velocity(_)) {
        if state.fix_now.fix {
            return Steering::Sticks;
        }
        demand.horizontal = Horizontal::Level;
    }
    Steering::Eye
}

fn ground_here(world: &World, place_m: [f64; 3]) -> Ground {
    let home = [world.home_m[0], world.home_m[1]];
    ground_at(&world.grid, [place_m[0], place_m[1]], home, world.scenario.judge.home_radius_m)
}

impl Count {
    #[inline]
    fn step(&mut self, world: &World, state: &State, obeying: bool) {
        let place = state.motion.place_m;
        let (x, y) = (place[0], place[1]);
        let (dx, dy) = (x - world.home_m[0], y - world.home_m[1]);
        self.greatest_distance_m = self.greatest_distance_m.max((dx * dx + dy * dy).sqrt());
        let height_m = place[2] - world.home_m[2];
        self.greatest_height_m = self.greatest_height_m.max(height_m);
        let above_ground_m = world.scenario.site.ceiling_above_ground_m;
        if height_m > world.scenario.site.ceiling_m
            || above_ground_m.is_some_and(|most_m| place[2] - state.ground_m > most_m)
        {
            self.flags.set(Flags::ABOVE_CEILING);
        }
        let marks = world.grid.marks(x, y);
        if !marks.inside_fence {
            if !self.flags.has(Flags::LEFT_AREA) && obeying && state.fix_now.fix {
                self.flags.set(Flags::LEFT_OBEYING);
            }
            self.flags.set(Flags::LEFT_AREA);
        } else if marks.in_fence_margin {
            self.flags.set(Flags::ENTERED_MARGIN);
        }
        if marks.among_people {
            self.flags.set(Flags::OVER_PEOPLE);
            self.over_people_s += world.scenario.step_s;
        }
        if !state.fix_now.fix {
            self.flags.set(Flags::FIX_LOST);
            self.without_fix_s += world.scenario.step_s;
        }
        if state.vortex_ring {
            self.flags.set(Flags::VORTEX_RING);
            self.vortex_ring_s += world.scenario.step_s;
        }
    }
}
