//! Contact with ground and obstacles.

use super::judge::here_at;
use super::luck::Luck;
use super::state::State;
use super::{Ground, Here, Manner};
use crate::craft::{Touch, fall, landing};
use crate::geometry::{minus, plus};
use crate::units::STANDARD_GRAVITY_MPS2;
use crate::world::World;

/// A contact that ends the flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contact {
    /// How it came down.
    pub manner: Manner,
    /// What it came down on, and who was there.
    pub here: Here,
    /// Where it touched: x, y, z in local metres.
    pub place_m: [f64; 3],
    /// Share of the step at which it happened, 0 to 1.
    pub share: f64,
    /// Velocity then: that of the impact, not that of the end of the step.
    pub velocity_mps: [f64; 3],
}

/// What stands where something was touched.
enum Standing {
    Nothing,
    Trees,
    Building,
}

/// Shares of a step at which obstacles are looked for: 0.6 m apart at 12 m/s.
const LOOKS: [f64; 4] = [0.25, 0.5, 0.75, 1.0];

/// More than the way of a step departs from the straight line between its ends, m: an eighth of the acceleration times the square of
/// the step, 0.2 m for 40 m/s² over 0.2 s.
const SAG_M: f64 = 1.0;

/// How the craft was coming down, if it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Coming {
    /// It was flying somewhere: what it touches it strikes.
    Flying,
    /// On purpose: a touch from above is a landing, judged by its speeds, and anything else is a strike.
    Landing,
    /// Without thrust: it comes to rest on what it falls onto.
    Falling,
}

impl Coming {
    /// From whether it was landing and whether its motors ran.
    pub fn of(landing: bool, motors: bool) -> Coming {
        match (landing, motors) {
            (_, false) => Coming::Falling,
            (true, true) => Coming::Landing,
            (false, true) => Coming::Flying,
        }
    }
}

/// Whether the craft touched ground or an obstacle in the step from `before` to where it is.
pub fn contact(world: &World, luck: &Luck, state: &State, before_m: [f64; 3], coming: Coming) -> Option<Contact> {
    let landing = coming == Coming::Landing;
    let grid = &world.grid;
    let here = state.motion.place_m;
    let ground_m = state.ground_m;
    if !state.airborne {
        // It stands where it stood: a landing or a stop of the motors ends what never began.
        return (coming != Coming::Flying).then(|| Contact {
            manner: Manner::SetDown,
            here: here_in(world, luck, here),
            place_m: here,
            share: 0.0,
            velocity_mps: [0.0; 3],
        });
    }
    let on_ground = here[2] <= ground_m;
    let clear = || {
        let (east_m, north_m) = (here[0] - before_m[0], here[1] - before_m[1]);
        let way_m = (east_m * east_m + north_m * north_m).sqrt();
        grid.is_clear_of_all(before_m[2].min(here[2]) - SAG_M, ground_m, way_m + SAG_M)
    };
    if !on_ground && (!grid.has_obstacles() || clear()) {
        return None;
    }
    // Between the ends of the step the velocity changes at a steady rate.
    let (slow, fast) = (state.before_mps, state.motion.velocity_mps);
    let gained = minus(fast, slow);
    let at = |share: f64| plus(slow, share, gained);
    let place = |share: f64| {
        let bend = 0.5 * state.moved_s * share * (share - 1.0);
        plus(plus(before_m, share, minus(here, before_m)), bend, gained)
    };
    let speeds = |velocity: [f64; 3]| ((velocity[0] * velocity[0] + velocity[1] * velocity[1]).sqrt(), -velocity[2]);
    let ground_share = on_ground.then(|| {
        let above_before = before_m[2] - grid.ground_m(before_m[0], before_m[1]);
        if above_before > 0.0 {
            fall::bent_crossing_share(above_before, here[2] - ground_m, gained[2], state.moved_s)
        } else {
            0.0
        }
    });
    // What is thinner than the way of a step is looked for on the way, as far as the craft comes.
    let up_to = ground_share.unwrap_or(f64::INFINITY);
    let met = LOOKS.into_iter().take_while(|&share| share < up_to).find(|&share| grid.in_obstacle(place(share)));
    if let (None, Some(share)) = (met, ground_share) {
        let (place_m, velocity_mps) = (place(share), at(share));
        let (level_mps, sink_mps) = speeds(velocity_mps);
        let here = here_in(world, luck, place_m);
        let manner = if landing || level_mps <= luck.touch.hard_mps[1] {
            let sigma_rad = if here.ground == Ground::Rough {
                landing::ROUGH_SLOPE_SIGMA_RAD
            } else {
                landing::OPEN_SLOPE_SIGMA_RAD
            };
            let slope_rad =
                landing::local_slope_rad(grid.slope_rad(place_m[0], place_m[1]), sigma_rad, luck.ground_normals);
            match luck.touch.judge(sink_mps, level_mps, slope_rad) {
                Touch::Soft => Manner::SetDown,
                Touch::Hard => Manner::HardLanding,
                // Harder than any landing, whatever it was meant to be.
                Touch::Crash => Manner::Strike,
                Touch::TippedOver => Manner::TippedOver,
            }
        } else {
            Manner::Strike
        };
        return Some(Contact { manner, here, place_m, share, velocity_mps });
    }
    let share = entry_share(met?, |share| grid.in_obstacle(place(share)));
    let (here, velocity_mps) = (place(share), at(share));
    let ground_m = grid.ground_m(here[0], here[1]);
    let (level_mps, sink_mps) = speeds(velocity_mps);
    let from_above = !grid.struck([here[0], here[1], before_m[2]]) && sink_mps > level_mps;
    let standing = if grid.canopy_m(here[0], here[1]) > ground_m {
        Standing::Trees
    } else if grid.opaque_m(here[0], here[1]) > ground_m {
        Standing::Building
    } else {
        Standing::Nothing
    };
    let mut below = here_in(world, luck, here);
    let open = matches!(below.ground, Ground::Clear | Ground::Home | Ground::Rough);
    // A craft that comes down onto trees or a roof has come down there; one that flies into them struck them.
    let comes_down = (landing && from_above) || coming == Coming::Falling;
    let manner = match standing {
        Standing::Trees if landing && from_above => Manner::TippedOver,
        Standing::Building if landing && from_above => Manner::HardLanding,
        _ => Manner::Strike,
    };
    match standing {
        Standing::Trees if comes_down && open => below.ground = Ground::Trees,
        Standing::Building if comes_down && open => below.ground = Ground::Property,
        _ => {}
    }
    Some(Contact { manner, here: below, place_m: here, share, velocity_mps })
}

/// What lies at a place, and who is there in this flight.
pub fn here_in(world: &World, luck: &Luck, place_m: [f64; 3]) -> Here {
    let home_m = [world.home_m[0], world.home_m[1]];
    let radius_m = world.scenario.judge.home_radius_m;
    here_at(&world.grid, &luck.presence, [place_m[0], place_m[1]], home_m, radius_m)
}

impl Contact {
    /// No contact yet: where it is when no more is looked at.
    pub fn in_the_air(here: Here, place_m: [f64; 3], state: &State) -> Contact {
        Contact { manner: Manner::StillUp, here, place_m, share: 1.0, velocity_mps: state.motion.velocity_mps }
    }

    /// Energy with which it can reach whoever is below: that of the contact, and of the whole rest of the fall when it has no
    /// lift any more above the ground.
    pub fn energy_below_j(&self, world: &World, mass_kg: f64) -> f64 {
        let above_m = (self.place_m[2] - world.grid.ground_m(self.place_m[0], self.place_m[1])).max(0.0);
        let falls = matches!(self.manner, Manner::Strike | Manner::Fall | Manner::RanDry);
        let rest_j = if falls { mass_kg * STANDARD_GRAVITY_MPS2 * above_m } else { 0.0 };
        fall::kinetic_energy_j(mass_kg, fall::speed_mps(self.velocity_mps)) + rest_j
    }
}

/// Share of the step at which the craft comes into what stands there, from where it is inside.
fn entry_share(inside_at: f64, inside: impl Fn(f64) -> bool) -> f64 {
    let (mut out, mut within) = (0.0, inside_at);
    if inside(out) {
        return out;
    }
    // To a thousandth of a step.
    for _ in 0..10 {
        let middle = 0.5 * (out + within);
        if inside(middle) { within = middle } else { out = middle }
    }
    within
}
