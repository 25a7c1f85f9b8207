//! From the loss of the link to the end, under one policy.

use super::luck::Luck;
use super::pilot::Pilot;
use super::running::Running;
use super::state::{State, Steering};
use super::touch::{Coming, Contact, contact, here_in};
use super::trunk::{LIFTS_OFF_WITHIN_S, hear, sees, steer};
use super::watch::Watch;
use super::{Declared, Doing, Ending, Event, Facts, Flags, Here, LossCause, LossMoment, Manner, Order};
use crate::craft::{PackLevel, fall};
use crate::failsafe::{Act, Command, Demand, Horizontal, Policy};
use crate::scenario::{GoesFirst, OnRegain, WrongSwitch};
use crate::world::{Straight, World};

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

/// How a branch ended, and when.
struct End {
    contact: Contact,
    time_s: f64,
}

/// What the craft is told to do in a step.
struct Move {
    demand: Demand,
    steering: Steering,
    /// It comes down on purpose.
    landing: bool,
}

/// A branch under way.
struct Branch<'a> {
    world: &'a World,
    luck: &'a Luck,
    moment: &'a LossMoment,
    policy: &'a Policy,
    at_loss: &'a State,
    takes_over: bool,
    started_inside: bool,
    state: State,
    running: Running<'a>,
    /// How often the running policy has given up and taken up again, as far as that was told.
    told_given_up: u32,
    told_taken_up: u32,
    hand: Hand,
    regained_at_s: f64,
    motors: bool,
    told_to_drop: bool,
    ran_dry: bool,
    doing_told: Option<Doing>,
    count: Count,
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
    let mut branch = Branch::start(world, luck, at_loss, moment, policy);
    let end = loop {
        if let Some(end) = branch.broken_off() {
            break end;
        }
        branch.hear_of_the_link(watch);
        branch.change_hands(watch);
        branch.heed_the_pack(watch);
        if let Some(end) = branch.step(watch) {
            break end;
        }
    };
    branch.ending(&end, watch)
}

impl<'a> Branch<'a> {
    fn start(
        world: &'a World,
        luck: &'a Luck,
        at_loss: &'a State,
        moment: &'a LossMoment,
        policy: &'a Policy,
    ) -> Branch<'a> {
        let state = at_loss.clone();
        let mut flags = Flags::default();
        if state.fix.home_error_m().is_none() {
            flags.set(Flags::NO_HOME);
        }
        // A pilot who threw the switch himself, for want of a picture, does not take over on a good link alone.
        let lets_finish = luck.drawn.pilot.on_regain() == OnRegain::LetFinish;
        Branch {
            takes_over: !lets_finish && moment.cause != LossCause::Switch && !luck.unresponsive,
            started_inside: world.grid.marks(state.motion.place_m[0], state.motion.place_m[1]).inside_fence,
            running: Running::start(world, &state, policy),
            told_given_up: 0,
            told_taken_up: 0,
            hand: Hand::Policy,
            regained_at_s: f64::INFINITY,
            motors: true,
            told_to_drop: false,
            ran_dry: false,
            doing_told: None,
            count: Count {
                flags,
                greatest_distance_m: Straight::between(world.home_m, state.motion.place_m).length_m(),
                greatest_height_m: state.motion.place_m[2] - world.home_m[2],
                over_people_s: 0.0,
                without_fix_s: 0.0,
                vortex_ring_s: 0.0,
                declared_lost: 1,
            },
            world,
            luck,
            moment,
            policy,
            at_loss,
            state,
        }
    }

    /// The end of a branch that is flown no further.
    #[inline(always)]
    fn broken_off(&mut self) -> Option<End> {
        let (place_m, time_s) = (self.state.motion.place_m, self.state.time_s);
        if time_s - self.at_loss.time_s >= MOST_S {
            let here = here_in(self.world, self.luck, place_m);
            return Some(End { contact: Contact::in_the_air(here, place_m, &self.state), time_s });
        }
        if !place_m.iter().all(|x| x.is_finite()) {
            self.count.flags.set(Flags::FAULT);
            let place_m = self.at_loss.motion.place_m;
            return Some(End { contact: Contact::in_the_air(Here::default(), place_m, &self.state), time_s });
        }
        None
    }

    fn runs(&mut self, policy: &'a Policy) {
        self.running = Running::start(self.world, &self.state, policy);
        (self.told_given_up, self.told_taken_up) = (0, 0);
    }

    /// Senses, and notes whether the link came back or went again.
    #[inline(always)]
    fn hear_of_the_link<W: Watch>(&mut self, watch: &mut W) {
        // The step in which the link was called lost has been sensed already.
        if self.state.sensed {
            return;
        }
        self.state.sense(self.world, self.luck, self.luck.cut.off(self.state.cut_from_s));
        match self.state.link_now.event {
            Some(Declared::Restored { at_s }) => {
                watch.event(at_s, || Event::LinkBack);
                if self.takes_over && self.motors {
                    self.regained_at_s = at_s + self.luck.drawn.pilot.reaction_s;
                }
            }
            Some(Declared::Lost { at_s }) => {
                self.regained_at_s = f64::INFINITY;
                self.count.declared_lost += 1;
                self.count.flags.set(Flags::LOST_AGAIN);
                watch.event(at_s, || Event::LostAgain);
                if !matches!(self.hand, Hand::Policy) {
                    self.runs(self.policy);
                    self.hand = Hand::Policy;
                }
            }
            None => {}
        }
    }

    /// The pilot takes over, or puts a switch right.
    #[inline(always)]
    fn change_hands<W: Watch>(&mut self, watch: &mut W) {
        let now_s = self.state.time_s;
        if matches!(self.hand, Hand::Policy) && self.motors && now_s >= self.regained_at_s {
            self.count.flags.set(Flags::PILOT_TOOK_OVER);
            if self.luck.wrong_switch {
                self.count.flags.set(Flags::WRONG_SWITCH);
                watch.event(now_s, || Event::TakesOverWithWrongSwitch);
                self.hand = Hand::WrongSwitch { until_s: now_s + self.luck.drawn.pilot.reaction_s };
            } else {
                watch.event(now_s, || Event::TakesOver);
                self.hand = Hand::Pilot(self.pilot());
            }
        }
        if let Hand::WrongSwitch { until_s } = self.hand
            && self.motors
            && now_s >= until_s
        {
            watch.event(now_s, || Event::SwitchPutRight);
            self.hand = Hand::Pilot(self.pilot());
        }
    }

    /// The pilot's mind when he has the craft back.
    fn pilot(&self) -> Pilot {
        let mut pilot = Pilot::at_take_off(self.luck.lands_off_m);
        pilot.take_over(&sees(self.world, &self.state), self.moment, self.luck.drawn.pilot.on_regain());
        pilot
    }

    /// Starts what is set for a low pack when its time has come.
    #[inline(always)]
    fn heed_the_pack<W: Watch>(&mut self, watch: &mut W) {
        self.state.pack_warned |= self.state.pack.level >= PackLevel::Warn;
        if matches!(self.hand, Hand::Policy)
            && self.motors
            && let Some(called) = called_by_pack(self.world, &self.state)
            && !self.running.is(called)
        {
            self.count.flags.set(Flags::PACK_ACTED);
            watch.event(self.state.time_s, || Event::LowPack(called.in_words()));
            self.runs(called);
        }
    }

    /// Flies one step; the end when it touches something, or has not lifted off for too long.
    #[inline(always)]
    fn step<W: Watch>(&mut self, watch: &mut W) -> Option<End> {
        let (world, luck) = (self.world, self.luck);
        let (place_m, from_s) = (self.state.motion.place_m, self.state.time_s);
        let Move { demand, steering, landing } = self.decide(watch);
        self.watch_the_motors(&demand, watch);
        self.tell(demand.act, watch);

        let motors = self.motors;
        let until_s = self.changes_s();
        self.state.fly(world, luck, &Demand { motors, ..demand }, steering, until_s);
        let astray = self.state.fix_now.heading_error_rad.abs() > ASTRAY_RAD && steering != Steering::Eye;
        let by_craft = matches!(self.hand, Hand::Policy) && !self.running.engine.fell_back();
        let obeying = by_craft && !self.ran_dry && !astray && self.started_inside;
        let stood = !self.state.airborne && motors && self.state.time_s - self.at_loss.time_s > LIFTS_OFF_WITHIN_S;
        let touched =
            (!stood).then(|| contact(world, luck, &self.state, place_m, Coming::of(landing, motors))).flatten();
        let lasts_s = self.state.moved_s * touched.map_or(1.0, |contact| contact.share);
        let comes_to_m = touched.map_or(self.state.motion.place_m, |contact| contact.place_m);
        self.count.step(world, luck, &self.state, comes_to_m, lasts_s, obeying);
        let state = &mut self.state;
        state.count_halves(world, from_s, from_s + lasts_s);

        if stood {
            let place_m = state.motion.place_m;
            let stands = Contact::in_the_air(here_in(world, luck, place_m), place_m, state);
            return Some(End { contact: Contact { manner: Manner::SetDown, ..stands }, time_s: state.time_s });
        }
        let contact = touched?;
        // A fall that ends in trees or on a roof is a fall all the same. A pack that gives up within reach of
        // the ground makes a landing, as hard as it is.
        let manner = match contact.manner {
            _ if self.ran_dry => Manner::RanDry,
            Manner::Strike if self.told_to_drop => Manner::Fall,
            manner => manner,
        };
        Some(End { contact: Contact { manner, ..contact }, time_s: from_s + lasts_s })
    }

    /// When somebody else takes over or the policy goes on to its next action, as far as that is settled: the step is flown
    /// up to there, and the rest of it as is decided then.
    #[inline(always)]
    fn changes_s(&self) -> f64 {
        match self.hand {
            Hand::Policy if self.motors => self.running.ends_s().min(self.regained_at_s),
            Hand::WrongSwitch { until_s } => until_s,
            Hand::Policy | Hand::Pilot(_) => f64::INFINITY,
        }
    }

    /// What whoever flies it wants.
    #[inline(always)]
    fn decide<W: Watch>(&mut self, watch: &mut W) -> Move {
        let (world, state) = (self.world, &mut self.state);
        let carry_on = |horizontal, climb_mps, motors| Demand { act: Act::CarryOn, horizontal, climb_mps, motors };
        match &mut self.hand {
            Hand::Policy => {
                let mut demand = self.running.demand(world, state);
                self.tell_of_the_policy(watch);
                let steering = match demand.act {
                    Act::CarryOn => carried_on(&self.state, &mut demand),
                    _ => Steering::Craft,
                };
                Move { demand, steering, landing: demand.act == Act::Land }
            }
            Hand::Pilot(pilot) => {
                let mut wanted = pilot.stick(&sees(world, state));
                if let Some(what) = pilot.news() {
                    watch.event(state.time_s, || Event::Pilot(what));
                }
                let steering = steer(world, state, pilot, &mut wanted);
                hear(world, state, wanted);
                let must_land = world.low_pack.at_limit.is_some() && state.pack.level >= PackLevel::Land;
                let Command { horizontal, mut climb_mps } = state.command;
                if must_land {
                    climb_mps = -world.limits.descent_mps.min(FORCED_SINK_MPS);
                }
                let landing = pilot.is_coming_down() || must_land;
                Move { demand: carry_on(horizontal, climb_mps, true), steering, landing }
            }
            Hand::WrongSwitch { .. } => {
                let (climb_mps, motors) = match world.scenario.pilot.wrong_switch {
                    WrongSwitch::Level => (0.0, true),
                    WrongSwitch::Sink => (-world.limits.descent_mps, true),
                    WrongSwitch::StopMotors => (0.0, false),
                };
                let demand = carry_on(Horizontal::Level, climb_mps, motors);
                Move { demand, steering: Steering::Eye, landing: climb_mps < 0.0 }
            }
        }
    }

    /// Tells when the policy gives something up or takes it up again.
    #[inline(always)]
    fn tell_of_the_policy<W: Watch>(&mut self, watch: &mut W) {
        let (engine, now_s) = (&self.running.engine, self.state.time_s);
        if let (Some(why), times) = engine.given_up()
            && times > self.told_given_up
        {
            self.told_given_up = times;
            self.count.flags.set(Flags::FELL_BACK);
            watch.event(now_s, || Event::GivenUp(why));
        }
        if engine.taken_up() > self.told_taken_up {
            self.told_taken_up = engine.taken_up();
            self.count.flags.set(Flags::TAKEN_UP_AGAIN);
            watch.event(now_s, || Event::TakenUpAgain);
        }
    }

    /// Stops the motors when told to, or when the pack is empty.
    #[inline(always)]
    fn watch_the_motors<W: Watch>(&mut self, demand: &Demand, watch: &mut W) {
        let now_s = self.state.time_s;
        let state = &self.state;
        if self.motors && !demand.motors {
            self.motors = false;
            self.told_to_drop = true;
            watch.event(now_s, || Event::MotorsStop);
        }
        if self.motors && state.pack.level >= PackLevel::Cutoff {
            self.motors = false;
            self.ran_dry = state.motion.place_m[2] - state.ground_m > 2.0;
            watch.event(now_s, || Event::PackEmpty);
        }
    }

    /// Tells what the craft does.
    #[inline(always)]
    fn tell<W: Watch>(&mut self, act: Act, watch: &mut W) {
        let doing = match (&self.hand, self.motors) {
            (_, false) => Doing::Drop,
            (Hand::Pilot(_) | Hand::WrongSwitch { .. }, _) => Doing::TakenOver,
            (Hand::Policy, _) => Doing::of(act),
        };
        if self.doing_told != Some(doing) {
            self.doing_told = Some(doing);
            // That the pilot takes over is told where he does.
            if doing != Doing::TakenOver {
                watch.event(self.state.time_s, || Event::Begins(doing));
            }
        }
        watch.step(self.world, &self.state, doing);
    }

    /// What it came to.
    fn ending<W: Watch>(mut self, end: &End, watch: &mut W) -> Ending {
        let (world, luck, moment, state) = (self.world, self.luck, self.moment, &self.state);
        let judge = &world.scenario.judge;
        if 100.0 * state.pack.charge < judge.reserve_pct {
            self.count.flags.set(Flags::RESERVE_USED);
        }
        let Count { flags, .. } = self.count;
        let Contact { manner, here, place_m: end_m, velocity_mps: velocity, .. } = end.contact;
        let energy_j = end.contact.energy_below_j(world, luck.mover.mass_kg);
        let in_hand = matches!(self.hand, Hand::Pilot(_));
        let headline = Order::of(judge).headline(&Facts { manner, here, energy_j, flags, in_hand }, &judge.hard);
        watch.event(end.time_s, || Event::End(headline));
        let speed_mps = fall::speed_mps(velocity);
        let distance_m = Straight::between(world.home_m, end_m).length_m();
        Ending {
            flight: luck.draws.flight,
            headline,
            manner,
            ground: here.ground,
            zone: here.zone_of(headline),
            energy_below_j: energy_j as f32,
            flags,
            end_m: end_m.map(|x| x as f32),
            loss_time_s: moment.time_s as f32,
            loss_m: moment.place_m,
            time_to_end_s: (end.time_s - moment.time_s).max(0.0) as f32,
            distance_home_m: distance_m as f32,
            greatest_distance_m: self.count.greatest_distance_m.max(distance_m) as f32,
            greatest_height_m: self.count.greatest_height_m as f32,
            over_people_s: self.count.over_people_s as f32,
            people_per_km2: world.grid.people_per_km2(end_m[0], end_m[1]) as f32,
            impact_speed_mps: speed_mps as f32,
            impact_angle_deg: fall::angle_below_rad(velocity).to_degrees() as f32,
            impact_energy_j: fall::kinetic_energy_j(luck.mover.mass_kg, speed_mps) as f32,
            pack_left_pct: (100.0 * state.pack.charge) as f32,
            without_fix_s: self.count.without_fix_s as f32,
            vortex_ring_s: self.count.vortex_ring_s as f32,
            declared_lost: self.count.declared_lost,
            telemetry_only_s: state.halves.telemetry_only_s as f32,
            control_only_s: state.halves.control_only_s as f32,
        }
    }
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

impl Count {
    /// Counts a step, or the part of it up to a contact, which takes `lasts_s` and ends at `place`.
    #[inline]
    fn step(&mut self, world: &World, luck: &Luck, state: &State, place: [f64; 3], lasts_s: f64, obeying: bool) {
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
        if marks.among_people && luck.presence.anybody(world.grid.zones_at(x, y)) {
            self.flags.set(Flags::OVER_PEOPLE);
            self.over_people_s += lasts_s;
        }
        if !state.fix_now.fix {
            self.flags.set(Flags::FIX_LOST);
            self.without_fix_s += lasts_s;
        }
        if state.vortex_ring {
            self.flags.set(Flags::VORTEX_RING);
            self.vortex_ring_s += lasts_s;
        }
    }
}
