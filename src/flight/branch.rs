//! From the loss of the link to the end, under one policy.

use super::judge::ground_at;
use super::luck::Luck;
use super::pilot::{Pilot, Stick};
use super::setup::Setup;
use super::state::State;
use super::touch::{Coming, contact};
use super::trunk::FRESH_S;
use super::watch::Watch;
use super::{Doing, Ending, Facts, Flags, Ground, LinkEvent, LossCause, LossMoment, Manner};
use crate::craft::{PackLevel, fall};
use crate::failsafe::{Act, Demand, Engine, Policy};
use crate::scenario::OnRegain;

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
    Pilot(Pilot, Stick),
}

/// What is counted on the way.
struct Count {
    flags: Flags,
    greatest_distance_m: f64,
    greatest_height_m: f64,
    over_people_s: f64,
    without_fix_s: f64,
    vortex_ring_s: f64,
}

/// Flies one policy from the state at the loss; `at_loss` is left as it was.
pub fn fly_branch<W: Watch>(
    setup: &Setup,
    luck: &Luck,
    at_loss: &State,
    moment: &LossMoment,
    policy: &Policy,
    watch: &mut W,
) -> Ending {
    let world = setup.world;
    let mut state = at_loss.clone();
    let start_s = state.time_s;
    let mut engine = Engine::start(policy, &state.observe(setup));
    let mut hand = Hand::Policy;
    let mut regained_at_s = f64::INFINITY;
    let mut fell_back_told = false;
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
    };
    let started_inside = world.grid.inside_fence(state.motion.place_m[0], state.motion.place_m[1]);
    if state.fix.home_error_m().is_none() {
        count.flags.set(Flags::NO_HOME);
    }
    // A pilot who threw the switch himself, for want of a picture, does not take over on a good link alone.
    let takes_over = world.scenario.pilot.on_regain != OnRegain::LetFinish && moment.cause != LossCause::Switch;

    let (manner, ground, end_m, end_s) = loop {
        if state.time_s - start_s >= MOST_S {
            let place = state.motion.place_m;
            break (Manner::StillUp, ground_here(setup, place), place, state.time_s);
        }
        if !state.motion.place_m.iter().all(|x| x.is_finite()) {
            count.flags.set(Flags::FAULT);
            break (Manner::StillUp, Ground::Clear, at_loss.motion.place_m, state.time_s);
        }
        // The step in which the link was called lost has been sensed already.
        if state.step > at_loss.step {
            state.sense(setup, luck, luck.cut.is_cut(state.cut_from_s, state.time_s));
        }
        match state.link_now.event {
            Some(LinkEvent::Restored { at_s }) if takes_over && motors => {
                regained_at_s = at_s + luck.drawn.reaction_s;
                watch.event(at_s, || "link back".into());
            }
            Some(LinkEvent::Lost { at_s }) => {
                regained_at_s = f64::INFINITY;
                if matches!(hand, Hand::Pilot(..)) {
                    watch.event(at_s, || "link declared lost again".into());
                    engine = Engine::start(policy, &state.observe(setup));
                    hand = Hand::Policy;
                }
            }
            _ => {}
        }
        if matches!(hand, Hand::Policy) && motors && state.time_s >= regained_at_s {
            let mut pilot = Pilot::at_take_off();
            pilot.take_over(world, state.motion.place_m, moment, world.scenario.pilot.on_regain);
            hand = Hand::Pilot(pilot, Stick::still());
            count.flags.set(Flags::PILOT_TOOK_OVER);
            watch.event(state.time_s, || "the pilot takes over".into());
        }

        let place = state.motion.place_m;
        let ground_m = state.ground_m;
        let (demand, landing) = match &mut hand {
            Hand::Policy => {
                let demand = engine.step(policy, &setup.limits, &state.observe(setup));
                if engine.fell_back() && !fell_back_told {
                    fell_back_told = true;
                    count.flags.set(Flags::FELL_BACK);
                    watch.event(state.time_s, || {
                        "a guard failed or the action was impossible: the fallback runs".into()
                    });
                }
                (demand, demand.act == Act::Land)
            }
            Hand::Pilot(pilot, stick) => {
                let wanted = pilot.stick(&world.path, world.home_m, &setup.limits, place, ground_m, state.time_s);
                if state.link.silence_s(state.time_s) <= FRESH_S {
                    *stick = wanted;
                }
                let must_land = state.pack.level >= PackLevel::Land;
                let climb_mps = if must_land { -setup.limits.descent_mps.min(1.5) } else { stick.climb_mps };
                let demand = Demand { act: Act::Hold, horizontal: stick.horizontal, climb_mps, motors: true };
                (demand, pilot.is_coming_down() || must_land)
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
            (Hand::Pilot(..), _) => Doing::TakenOver,
            (Hand::Policy, _) => match demand.act {
                Act::Hold => Doing::Hold,
                Act::Return => Doing::Return,
                Act::Land => Doing::Land,
                Act::Drop => Doing::Drop,
            },
        };
        if doing_told != Some(doing) {
            doing_told = Some(doing);
            // The policy begins when the loss is declared, which lies within the step.
            watch.event(state.time_s.max(f64::from(moment.time_s)), || format!("begins: {}", doing.label()));
        }
        watch.step(setup, &state, doing);

        let by_craft = matches!(hand, Hand::Policy);
        state.fly(setup, luck, &demand, by_craft);
        let astray = state.fix_now.heading_error_rad.abs() > ASTRAY_RAD && demand.act == Act::Return;
        count.step(setup, &state, by_craft && !engine.fell_back() && !ran_dry && !astray && started_inside);

        if let Some(contact) = contact(setup, luck, &state, place, Coming::of(landing, motors)) {
            // A fall that ends in trees or on a roof is a fall all the same. A pack that gives up within reach of
            // the ground makes a landing, as hard as it is.
            let manner = match contact.manner {
                _ if ran_dry => Manner::RanDry,
                _ if told_to_drop => Manner::Fall,
                manner => manner,
            };
            let end_s = state.time_s - (1.0 - contact.share) * setup.step_s;
            state.motion.velocity_mps = contact.velocity_mps;
            break (manner, contact.ground, contact.place_m, end_s);
        }
    };

    let judge = &world.scenario.judge;
    if 100.0 * state.pack.charge < judge.reserve_pct {
        count.flags.set(Flags::RESERVE_USED);
    }
    let in_hand = matches!(hand, Hand::Pilot(..));
    let headline = setup.order.headline(&Facts { manner, ground, flags: count.flags, in_hand });
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
        loss_time_s: moment.time_s,
        loss_m: moment.place_m,
        time_to_end_s: (end_s - f64::from(moment.time_s)) as f32,
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
    }
}

fn ground_here(setup: &Setup, place_m: [f64; 3]) -> Ground {
    let world = setup.world;
    let home = [world.home_m[0], world.home_m[1]];
    ground_at(&world.grid, [place_m[0], place_m[1]], home, world.scenario.judge.home_radius_m)
}

impl Count {
    #[inline]
    fn step(&mut self, setup: &Setup, state: &State, obeying: bool) {
        let (world, place) = (setup.world, state.motion.place_m);
        let (x, y) = (place[0], place[1]);
        let (dx, dy) = (x - world.home_m[0], y - world.home_m[1]);
        self.greatest_distance_m = self.greatest_distance_m.max((dx * dx + dy * dy).sqrt());
        let height_m = place[2] - world.home_m[2];
        self.greatest_height_m = self.greatest_height_m.max(height_m);
        if height_m > world.scenario.site.ceiling_m {
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
            self.over_people_s += setup.step_s;
        }
        if !state.fix_now.fix {
            self.flags.set(Flags::FIX_LOST);
            self.without_fix_s += setup.step_s;
        }
        if state.vortex_ring {
            self.flags.set(Flags::VORTEX_RING);
            self.vortex_ring_s += setup.step_s;
        }
    }
}
