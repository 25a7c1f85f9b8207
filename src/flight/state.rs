//! The craft in flight: plain data, and the one step that moves it on.

use super::luck::Luck;
use super::{AirState, AirWhen, Declared, FixMoment, FixNow, FixState, LinkNow, LinkState, Off};
use crate::craft::{MoverState, PackLevel, PackState, TurnedLoop, Wish};
use crate::failsafe::{ActionKind, Command, Demand, FenceRoom, HeightFrom, Horizontal, Observation, Policy};
use crate::geometry::{Frame, plus};
use crate::radio::maths::cos_sin_turns;
use crate::site::Area;
use crate::world::World;
use std::f64::consts::TAU;

/// Greatest turn rate of the nose, rad/s. Estimate: a calm camera turn.
const NOSE_RATE_RADPS: f64 = 1.5;

/// Height above the ground from which on a craft counts as flying. Estimate: about its own height.
const LIFTED_OFF_M: f64 = 0.2;

/// Longest piece of a step in which a fall is worked out, s.
///
/// # Source
/// Own computation: over a 50 m fall the midpoint rule is then off by a millimetre, see `FallBody::step`.
const FALL_PIECE_S: f64 = 0.05;

/// Who turns a speed over ground into a tilt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Steering {
    /// The pilot's eye: he sees where it goes and corrects.
    Eye,
    /// The craft by its fix and its idea of north: the speed is meant in that idea.
    Craft,
    /// Sticks that turn with the nose: the craft turns their speed into its idea of north first.
    Sticks,
}

/// What a policy needs to see beyond what every policy does.
#[derive(Debug, Clone, Default)]
pub struct Asks {
    /// The fence that a guard heeds.
    fence: Option<Area>,
    /// The ground below, for a way home above the ground.
    terrain: bool,
}

impl Asks {
    /// What a policy asks for.
    pub fn of(world: &World, policy: &Policy) -> Asks {
        let terrain = policy.actions.iter().any(
            |action| matches!(action.kind, ActionKind::Return { height, .. } if height.from == HeightFrom::Ground),
        );
        Asks { fence: policy.heeds_fence().then(|| world.permitted_area()), terrain }
    }
}

/// How long each direction of the link was without the other.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Halves {
    /// The pilot's set heard the craft while the craft's receiver had called the link lost.
    pub telemetry_only_s: f64,
    /// The craft obeyed while the pilot's set did not hear it; 0 without telemetry.
    pub control_only_s: f64,
}

/// State of one craft. Cloned at the loss of the link: every policy goes on from the same.
#[derive(Debug, Clone)]
pub struct State {
    /// Steps since take-off: the index of every draw.
    pub step: u32,
    /// Time since take-off, s: `step` times the step, or later within that step.
    pub time_s: f64,
    /// How long the last move took, s: a step, or a part of one.
    pub moved_s: f64,
    /// Radio and fix of this step are known.
    pub sensed: bool,
    /// Place, velocity and attitude of the body: local metres and m/s.
    pub motion: MoverState,
    /// Velocity at the beginning of the last step.
    pub before_mps: [f64; 3],
    /// Unit vector of the thrust: the craft's up axis.
    pub up: [f64; 3],
    /// Direction of the nose: unit vector, east and north.
    pub nose: [f64; 2],
    /// How the craft was turned when the radio last asked for it.
    body: Frame,
    /// z of the ground below, m.
    pub ground_m: f64,
    /// Rotor speed over the greatest, 0 to 1.
    pub throttle: f64,
    /// Charge, filtered voltage and level of the pack.
    pub pack: PackState,
    /// Its voltage per cell under load.
    pub cell_v: f64,
    /// The radio: both directions, the receiver, the fading met.
    pub link: LinkState,
    /// Radio, last step's answer.
    pub link_now: LinkNow,
    /// The sense of place: fix, heading, barometer.
    pub fix: FixState,
    /// Sense of place, last step's answer.
    pub fix_now: FixNow,
    /// The velocity loop under the heading error.
    turned_loop: TurnedLoop,
    /// Turbulence and gust at the craft.
    pub air: AirState,
    /// Wind at the craft with gusts: east, north, up, m/s.
    pub wind_mps: [f64; 3],
    /// Highest height above home that the craft believes to have had.
    pub highest_m: f64,
    /// Whether the rotors sank through their own wake in the last step.
    pub vortex_ring: bool,
    /// When the scenario cut the link.
    pub cut_from_s: Option<f64>,
    /// The last command that came through.
    pub command: Command,
    /// It has lifted off.
    pub airborne: bool,
    /// The pack has warned.
    pub pack_warned: bool,
    /// How long each direction of the link was up without the other.
    pub halves: Halves,
    /// When the receiver last declared the control link lost or restored, s.
    control_turned_s: f64,
}

impl State {
    /// At rest on the take-off spot; the models are set up by [`Luck`].
    pub fn at_take_off(world: &World, luck: &Luck) -> State {
        let pack = luck.pack.at(luck.drawn.craft.battery.charge_pct / 100.0);
        // Set down with its nose the way it will fly.
        let nose = world.path.first_heading();
        State {
            step: 0,
            time_s: 0.0,
            moved_s: 0.0,
            sensed: false,
            motion: MoverState::at(world.home_m),
            before_mps: [0.0; 3],
            up: [0.0, 0.0, 1.0],
            nose,
            body: Frame::level(nose),
            ground_m: world.home_m[2],
            throttle: 0.0,
            cell_v: pack.filtered_cell_v,
            pack,
            link: LinkState::new(&luck.radio, &luck.link),
            link_now: LinkNow::at_start(),
            fix: luck.fix,
            fix_now: luck.fix.now(),
            turned_loop: luck.mover.velocity_loop.turned(turn_of(luck.fix.now().heading_error_rad)),
            air: AirState::new(&luck.air, &luck.wind_draws),
            wind_mps: [0.0; 3],
            highest_m: 0.0,
            vortex_ring: false,
            cut_from_s: None,
            command: Command::still(),
            airborne: false,
            pack_warned: false,
            halves: Halves::default(),
            control_turned_s: f64::NEG_INFINITY,
        }
    }

    /// Slopes of the thrust towards east and north: the attitude it has.
    pub fn slope(&self) -> [f64; 2] {
        let up = self.up[2].max(1e-3);
        [self.up[0] / up, self.up[1] / up]
    }

    /// Turns the nose to the left by an angle.
    pub fn turn_left(&mut self, angle_rad: f64) {
        let (sin, cos) = libm::sincos(angle_rad);
        let [x, y] = self.nose;
        self.nose = [cos * x - sin * y, sin * x + cos * y];
    }

    /// How the craft is turned: its axes in local ones.
    pub fn body(&self) -> Frame {
        Frame::of_nose_and_up(self.nose, self.up)
    }

    /// Radio and fix of this step, which begins now. `off`: when the scenario cuts the link.
    #[inline]
    pub fn sense(&mut self, world: &World, luck: &Luck, off: Off) {
        let step_s = world.scenario.step_s;
        self.sensed = true;
        if self.link.looks(&luck.radio) {
            self.body = self.body();
        }
        self.link_now = self.link.step(
            &luck.radio,
            &luck.link,
            self.time_s,
            time_of_s(self.step + 1, step_s),
            self.motion.place_m,
            &self.body,
            self.motion.velocity_mps,
            self.cell_v,
            off,
        );
        if let Some(turned_s) = self.link_now.telemetry_turned_s {
            self.count_turn(turned_s);
        }
        if let Some(Declared::Lost { at_s } | Declared::Restored { at_s }) = self.link_now.event {
            self.control_turned_s = at_s;
        }
        if luck.sense.is_due(self.step) {
            let (v, w) = (self.motion.velocity_mps, self.wind_mps);
            let air = [v[0] - w[0], v[1] - w[1], v[2] - w[2]];
            let moment = FixMoment {
                step: self.step,
                time_s: self.time_s,
                place_m: self.motion.place_m,
                velocity_mps: v,
                airspeed_mps: (air[0] * air[0] + air[1] * air[1] + air[2] * air[2]).sqrt(),
                throttle: self.throttle,
                tilt_rad: tilt_rad(self.up),
            };
            let before_rad = self.fix_now.heading_error_rad;
            self.fix_now = self.fix.step(&luck.sense, &world.sky, &luck.fix_draws, &moment);
            if self.fix_now.heading_error_rad != before_rad {
                self.turned_loop = luck.mover.velocity_loop.turned(turn_of(self.fix_now.heading_error_rad));
            }
        }
        self.highest_m = self.highest_m.max(self.believed_height_m(world));
    }

    /// Counts how long each direction of the link was without the other over a part of the step last sensed.
    #[inline]
    pub fn count_halves(&mut self, world: &World, from_s: f64, to_s: f64) {
        let LinkNow { event, up, telemetry_up, .. } = self.link_now;
        if event.is_none() && up == telemetry_up {
            return;
        }
        let obeys_s = match event {
            None if up => to_s - from_s,
            None => 0.0,
            Some(Declared::Lost { at_s }) => at_s.clamp(from_s, to_s) - from_s,
            Some(Declared::Restored { at_s }) => to_s - at_s.clamp(from_s, to_s),
        };
        if telemetry_up {
            self.halves.telemetry_only_s += to_s - from_s - obeys_s;
        } else if world.scenario.radio.telemetry.is_some() {
            self.halves.control_only_s += obeys_s;
        }
    }

    /// Makes up for what was counted while it was not yet told that telemetry had gone or was back.
    #[cold]
    fn count_turn(&mut self, turned_s: f64) {
        let LinkNow { event, up, telemetry_up, .. } = self.link_now;
        // What is declared turns it in the step that begins.
        let control_up = up != event.is_some();
        // Of the time since then, that since the control link turned, and that before it did.
        let since_s = self.time_s - turned_s.max(self.control_turned_s);
        let before_s = (self.control_turned_s - turned_s).max(0.0);
        let (obeyed_s, lost_s) = if control_up { (since_s, before_s) } else { (before_s, since_s) };
        let sign = if telemetry_up { 1.0 } else { -1.0 };
        let Halves { telemetry_only_s, control_only_s } = &mut self.halves;
        *telemetry_only_s = (*telemetry_only_s + sign * lost_s).max(0.0);
        *control_only_s = (*control_only_s - sign * obeyed_s).max(0.0);
    }

    /// Height above the take-off spot that the craft believes.
    pub fn believed_height_m(&self, world: &World) -> f64 {
        self.motion.place_m[2] - world.home_m[2] + self.fix_now.height_error_m
    }

    /// Where the craft will be in a while, by its velocity now.
    #[inline]
    pub fn place_in_m(&self, ahead_s: f64) -> [f64; 3] {
        plus(self.motion.place_m, ahead_s, self.motion.velocity_mps)
    }

    /// What a policy gets to see; terrain and fence only when it `asks` for them.
    #[inline]
    pub fn observe(&self, world: &World, asks: &Asks) -> Observation {
        let (place, velocity, fix) = (self.motion.place_m, self.motion.velocity_mps, &self.fix_now);
        let middle = self.place_in_m(0.5 * world.scenario.step_s);
        let believed = [place[0] + fix.place_error_m[0], place[1] + fix.place_error_m[1]];
        let moves = [velocity[0] + fix.velocity_error_mps[0], velocity[1] + fix.velocity_error_mps[1]];
        let above_ground_m = place[2] - self.ground_m;
        Observation {
            time_s: self.time_s,
            fix: fix.fix,
            satellites: fix.satellites,
            hdop: fix.hdop,
            place_m: believed,
            middle_m: [middle[0] + fix.place_error_m[0], middle[1] + fix.place_error_m[1]],
            middle_height_m: middle[2] - world.home_m[2] + fix.height_error_m,
            velocity_mps: moves,
            home_m: self.fix.home_error_m().map(|error| [world.home_m[0] + error[0], world.home_m[1] + error[1]]),
            height_m: self.believed_height_m(world),
            highest_m: self.highest_m,
            terrain_m: if asks.terrain { world.grid.ground_m(believed[0], believed[1]) - world.home_m[2] } else { 0.0 },
            above_ground_m: (above_ground_m <= world.scenario.craft.ground_sensor_m).then_some(above_ground_m),
            fence: asks.fence.as_ref().filter(|_| fix.fix).map(|fence| {
                let speed_mps = (moves[0] * moves[0] + moves[1] * moves[1]).sqrt();
                let stops_in_s = speed_mps / (2.0 * world.limits.accel_mps2) + world.limits.velocity_lag_s;
                let stopping = [0, 1].map(|axis| believed[axis] + stops_in_s * moves[axis]);
                FenceRoom { here_m: room_m(fence, believed), stopping_m: room_m(fence, stopping) }
            }),
            charge_pct: 100.0 * self.pack.charge,
            must_land: world.low_pack.limit_lands && self.pack.level >= PackLevel::Land,
            command: self.command,
        }
    }

    /// Moves on under a demand to the end of the step, or until a time within it.
    ///
    /// A craft that steers turns its idea of north and east into tilt, so a wrong heading turns its horizontal
    /// acceleration; sticks besides mean directions from the nose, which it turns into its idea of the world first.
    #[inline]
    pub fn fly(&mut self, world: &World, luck: &Luck, demand: &Demand, steering: Steering, until_s: f64) {
        let step_s = world.scenario.step_s;
        let (begins_s, end_s) = (time_of_s(self.step, step_s), time_of_s(self.step + 1, step_s));
        // What should have been done by now asks for no shorter step.
        let ends_within = self.time_s < until_s && until_s < end_s;
        let for_s = match ends_within {
            true => until_s - self.time_s,
            false if self.time_s <= begins_s => step_s,
            false => end_s - self.time_s,
        };
        self.before_mps = self.motion.velocity_mps;
        let density = luck.air.density_kgpm3;
        if !demand.motors {
            // A fall is short, and what it hits with counts: in short pieces.
            let pieces = (for_s / FALL_PIECE_S).ceil().max(1.0);
            let piece_s = for_s / pieces;
            for _ in 0..pieces as u32 {
                self.meet_the_air(world, luck, piece_s);
                let state = &mut self.motion;
                luck.fall.step(&mut state.place_m, &mut state.velocity_mps, self.wind_mps, density, piece_s);
                self.ground_m = world.grid.ground_m(state.place_m[0], state.place_m[1]);
            }
            self.throttle = 0.0;
            self.vortex_ring = false;
            let now = luck.pack.step(&mut self.pack, luck.mover.rotors.aux_power_w, for_s);
            self.cell_v = now.cell_v;
        } else {
            self.meet_the_air(world, luck, for_s);
            let measured = luck.mover.ahead_mps(&self.motion, self.wind_mps, density);
            // An attitude's own vertical loop measures the velocity as it is.
            let sink_mps = measured[2] - self.motion.velocity_mps[2] - demand.climb_mps;
            let wish = match demand.horizontal {
                Horizontal::Level => Wish::Attitude { slope: [0.0; 2], sink_mps },
                Horizontal::Tilt(slope) => Wish::Attitude { slope, sink_mps },
                Horizontal::Velocity(v) => {
                    self.turn_nose(v, for_s);
                    if steering == Steering::Eye {
                        Wish::Acceleration(luck.mover.accel_demand([v[0], v[1], demand.climb_mps], measured))
                    } else {
                        let [cos, sin] = self.turned_loop.turn;
                        let [east, north] = match steering {
                            Steering::Sticks => [cos * v[0] + sin * v[1], cos * v[1] - sin * v[0]],
                            _ => v,
                        };
                        let error = self.fix_now.velocity_error_mps;
                        let seen = [measured[0] + error[0], measured[1] + error[1], measured[2]];
                        Wish::Acceleration(luck.mover.turned_demand(
                            [east, north, demand.climb_mps],
                            seen,
                            &self.turned_loop,
                        ))
                    }
                }
            };
            let share = crate::craft::Pack::thrust_share(self.cell_v);
            let now = luck.mover.step(&mut self.motion, wish, self.wind_mps, density, share, for_s);
            self.up = now.tilt;
            self.throttle = now.throttle;
            self.vortex_ring = now.vortex_ring;
            let pack = luck.pack.step(&mut self.pack, now.power_w, for_s);
            self.cell_v = pack.cell_v;
        }
        let place = self.motion.place_m;
        self.ground_m = world.grid.ground_m(place[0], place[1]);
        if !self.airborne {
            self.rest_on_the_ground();
        }
        self.moved_s = for_s;
        if ends_within {
            self.time_s = until_s;
        } else {
            self.step += 1;
            self.time_s = end_s;
            self.sensed = false;
        }
    }

    /// Finds the wind where it is, for a time of the step.
    #[inline(always)]
    fn meet_the_air(&mut self, world: &World, luck: &Luck, for_s: f64) {
        let (air, draws, step_s) = (&luck.air, &luck.wind_draws, world.scenario.step_s);
        let (place_m, velocity_mps) = (self.motion.place_m, self.motion.velocity_mps);
        let height_agl_m = place_m[2] - self.ground_m;
        let when = AirWhen { step: self.step, step_s, for_s };
        self.wind_mps = self.air.step(air, &world.air, draws, &when, place_m, height_agl_m, velocity_mps);
    }

    /// Until it has lifted off, the ground bears it.
    fn rest_on_the_ground(&mut self) {
        let above_m = self.motion.place_m[2] - self.ground_m;
        self.airborne = above_m > LIFTED_OFF_M;
        if above_m <= 0.0 {
            self.motion.place_m[2] = self.ground_m;
            self.motion.velocity_mps = [0.0; 3];
        }
    }

    /// Turns the nose towards where it shall go, as fast as it may.
    #[inline]
    fn turn_nose(&mut self, wish_mps: [f64; 2], step_s: f64) {
        if wish_mps[0] * wish_mps[0] + wish_mps[1] * wish_mps[1] > 1.0 {
            let [cos, sin] = self.nose;
            let aside = cos * wish_mps[1] - sin * wish_mps[0];
            let ahead = cos * wish_mps[0] + sin * wish_mps[1];
            let most = NOSE_RATE_RADPS * step_s;
            let turn = if ahead > 0.0 && aside.abs() < most * ahead { aside / ahead } else { most.copysign(aside) };
            // A small turn as a tangent, brought back to unit length.
            let (x, y) = (cos - turn * sin, sin + turn * cos);
            let inverse = 1.0 / (1.0 + turn * turn).sqrt();
            self.nose = [x * inverse, y * inverse];
        }
    }
}

/// When a step begins.
#[inline(always)]
fn time_of_s(step: u32, step_s: f64) -> f64 {
    f64::from(step) * step_s
}

/// Distance to the edge of an area, negative outside.
fn room_m(area: &Area, place_m: [f64; 2]) -> f64 {
    let edge_m = area.edge_distance_m(place_m);
    if area.contains(place_m) { edge_m } else { -edge_m }
}

/// Cosine and sine of an angle.
#[inline]
fn turn_of(angle_rad: f64) -> [f64; 2] {
    let (cos, sin) = cos_sin_turns(angle_rad * (1.0 / TAU));
    [cos, sin]
}

/// Angle between a unit vector and the vertical, within 0.2° up to 50°: asin x ≈ x + x³/6 + 3x⁵/40.
#[inline]
fn tilt_rad(up: [f64; 3]) -> f64 {
    let x2 = up[0] * up[0] + up[1] * up[1];
    x2.sqrt() * (1.0 + x2 * (1.0 / 6.0 + x2 * (3.0 / 40.0)))
}
