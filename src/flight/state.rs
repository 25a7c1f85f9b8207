//! The craft in flight: plain data, and the one step that moves it on.

use super::luck::Luck;
use super::setup::Setup;
use super::{AirState, FixMoment, FixNow, FixState, LinkNow, LinkState};
use crate::craft::{MoverState, PackLevel, PackState, Wish};
use crate::failsafe::{Demand, Horizontal, Observation};

/// Greatest turn rate of the nose, rad/s. Estimate: a calm camera turn.
const NOSE_RATE_RADPS: f64 = 1.5;

/// State of one craft. Cloned at the loss of the link: every policy goes on from the same.
#[derive(Debug, Clone)]
pub struct State {
    /// Steps since take-off: the index of every draw.
    pub step: u32,
    /// Time since take-off.
    pub time_s: f64,
    /// Motion.
    pub motion: MoverState,
    /// Velocity at the beginning of the last step.
    pub before_mps: [f64; 3],
    /// Unit vector of the thrust: the craft's up axis.
    pub up: [f64; 3],
    /// Direction of the nose: unit vector, east and north.
    pub nose: [f64; 2],
    /// Axes of the craft when the radio last asked for them.
    body: [[f64; 3]; 3],
    /// z of the ground below.
    pub ground_m: f64,
    /// Rotor speed over the greatest, 0 to 1.
    pub throttle: f64,
    /// Pack.
    pub pack: PackState,
    /// Its voltage per cell under load.
    pub cell_v: f64,
    /// Radio.
    pub link: LinkState,
    /// Radio, last step's answer.
    pub link_now: LinkNow,
    /// Sense of place.
    pub fix: FixState,
    /// Sense of place, last step's answer.
    pub fix_now: FixNow,
    /// Sine and cosine of the heading error.
    heading_turn: [f64; 2],
    /// Air.
    pub air: AirState,
    /// Wind at the craft.
    pub wind_mps: [f64; 3],
    /// Highest height above home that the craft believes to have had.
    pub highest_m: f64,
    /// Whether the rotors sank through their own wake in the last step.
    pub vortex_ring: bool,
    /// When the scenario cut the link.
    pub cut_from_s: Option<f64>,
}

impl State {
    /// At rest on the take-off spot; the models are set up by [`Luck`].
    pub fn at_take_off(setup: &Setup, luck: &Luck) -> State {
        let world = setup.world;
        let pack = luck.pack.at(luck.drawn.charge_pct / 100.0);
        State {
            step: 0,
            time_s: 0.0,
            motion: MoverState::at(world.home_m),
            before_mps: [0.0; 3],
            up: [0.0, 0.0, 1.0],
            nose: [0.0, 1.0],
            body: [[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]],
            ground_m: world.home_m[2],
            throttle: 0.0,
            cell_v: pack.filtered_cell_v,
            pack,
            link: luck.link_at_start(setup),
            link_now: LinkNow::at_start(),
            fix: luck.fix,
            fix_now: luck.fix.now(),
            heading_turn: turn_of(luck.fix.now().heading_error_rad),
            air: luck.air_at_start(),
            wind_mps: [0.0; 3],
            highest_m: 0.0,
            vortex_ring: false,
            cut_from_s: None,
        }
    }

    /// Axes of the craft in world coordinates: forward, left, up.
    pub fn body(&self) -> [[f64; 3]; 3] {
        let up = self.up;
        let nose = self.nose;
        let along = nose[0] * up[0] + nose[1] * up[1];
        let mut forward = [nose[0] - along * up[0], nose[1] - along * up[1], -along * up[2]];
        let length = (forward[0] * forward[0] + forward[1] * forward[1] + forward[2] * forward[2]).sqrt().max(1e-9);
        let inverse = 1.0 / length;
        forward = [forward[0] * inverse, forward[1] * inverse, forward[2] * inverse];
        let left = [
            up[1] * forward[2] - up[2] * forward[1],
            up[2] * forward[0] - up[0] * forward[2],
            up[0] * forward[1] - up[1] * forward[0],
        ];
        [forward, left, up]
    }

    /// Radio and fix of this step. `forced_off`: the scenario cuts the link now.
    #[inline]
    pub fn sense(&mut self, setup: &Setup, luck: &Luck, forced_off: bool) {
        let step_s = setup.step_s;
        if self.link.looks(&setup.link) {
            self.body = self.body();
        }
        self.link_now = self.link.step(
            &setup.link,
            &luck.link,
            self.time_s,
            step_s,
            self.motion.place_m,
            &self.body,
            self.motion.velocity_mps,
            self.cell_v,
            forced_off,
        );
        if setup.fix.is_due(self.step) {
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
            self.fix_now = self.fix.step(&setup.fix, &setup.world.sky, &luck.draws, &moment);
            if self.fix_now.heading_error_rad != before_rad {
                self.heading_turn = turn_of(self.fix_now.heading_error_rad);
            }
        }
        self.highest_m = self.highest_m.max(self.believed_height_m(setup));
    }

    /// Height above the take-off spot that the craft believes.
    pub fn believed_height_m(&self, setup: &Setup) -> f64 {
        self.motion.place_m[2] - setup.world.home_m[2] + self.fix_now.height_error_m
    }

    /// What the policy gets to see.
    pub fn observe(&self, setup: &Setup) -> Observation {
        let world = setup.world;
        let (place, velocity, fix) = (self.motion.place_m, self.motion.velocity_mps, &self.fix_now);
        let believed = [place[0] + fix.place_error_m[0], place[1] + fix.place_error_m[1]];
        Observation {
            time_s: self.time_s,
            fix: fix.fix,
            satellites: fix.satellites,
            hdop: fix.hdop,
            place_m: believed,
            velocity_mps: [velocity[0] + fix.velocity_error_mps[0], velocity[1] + fix.velocity_error_mps[1]],
            home_m: self.fix.home_error_m().map(|error| [world.home_m[0] + error[0], world.home_m[1] + error[1]]),
            height_m: self.believed_height_m(setup),
            highest_m: self.highest_m,
            terrain_m: world.grid.ground_m(believed[0], believed[1]) - world.home_m[2],
            charge_pct: 100.0 * self.pack.charge,
            must_land: self.pack.level >= PackLevel::Land,
        }
    }

    /// Moves on by one step under a demand.
    ///
    /// `steered_by_craft`: the craft itself turns its idea of north and east into tilt, so a wrong heading turns
    /// its horizontal acceleration; a pilot sees where it goes and corrects.
    #[inline]
    pub fn fly(&mut self, setup: &Setup, luck: &Luck, demand: &Demand, steered_by_craft: bool) {
        let step_s = setup.step_s;
        let place = self.motion.place_m;
        self.before_mps = self.motion.velocity_mps;
        self.wind_mps = self.air.step(
            &luck.air,
            &setup.world.air,
            &luck.draws.streams.wind,
            luck.draws.flight,
            self.step,
            step_s,
            place,
            place[2] - self.ground_m,
            self.motion.velocity_mps,
        );
        let density = luck.air.density_kgpm3;
        if !demand.motors {
            let state = &mut self.motion;
            luck.fall.step(&mut state.place_m, &mut state.velocity_mps, self.wind_mps, density, step_s);
            self.throttle = 0.0;
            self.vortex_ring = false;
            let now = luck.pack.step(&mut self.pack, luck.mover.rotors.aux_power_w, step_s);
            self.cell_v = now.cell_v;
        } else {
            let measured = self.motion.velocity_mps;
            let wish = match demand.horizontal {
                Horizontal::Level => Wish::Level { sink_mps: -demand.climb_mps },
                Horizontal::Velocity(v) => {
                    self.turn_nose(v, step_s);
                    let mut accel = if steered_by_craft {
                        let error = self.fix_now.velocity_error_mps;
                        let seen = [measured[0] + error[0], measured[1] + error[1], measured[2]];
                        luck.mover.accel_demand([v[0], v[1], demand.climb_mps], seen)
                    } else {
                        luck.mover.accel_demand([v[0], v[1], demand.climb_mps], measured)
                    };
                    if steered_by_craft {
                        let [sin, cos] = self.heading_turn;
                        (accel[0], accel[1]) = (cos * accel[0] - sin * accel[1], sin * accel[0] + cos * accel[1]);
                    }
                    Wish::Acceleration(accel)
                }
            };
            let share = crate::craft::Pack::thrust_share(self.cell_v);
            let now = luck.mover.step(&mut self.motion, wish, self.wind_mps, density, share, step_s);
            self.up = now.tilt;
            self.throttle = now.throttle;
            self.vortex_ring = now.vortex_ring;
            let pack = luck.pack.step(&mut self.pack, now.power_w, step_s);
            self.cell_v = pack.cell_v;
        }
        let place = self.motion.place_m;
        self.ground_m = setup.world.grid.ground_m(place[0], place[1]);
        self.step += 1;
        self.time_s = f64::from(self.step) * step_s;
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

/// Sine and cosine of an angle.
fn turn_of(angle_rad: f64) -> [f64; 2] {
    let (sin, cos) = libm::sincos(angle_rad);
    [sin, cos]
}

/// Angle between a unit vector and the vertical, within 0.2° up to 50°: asin x ≈ x + x³/6 + 3x⁵/40.
#[inline]
fn tilt_rad(up: [f64; 3]) -> f64 {
    let x2 = up[0] * up[0] + up[1] * up[1];
    x2.sqrt() * (1.0 + x2 * (1.0 / 6.0 + x2 * (3.0 / 40.0)))
}
