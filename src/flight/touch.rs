//! Contact with ground and obstacles.

use super::judge::ground_at;
use super::luck::Luck;
use super::setup::Setup;
use super::state::State;
use super::{Ground, Manner};
use crate::craft::{Touch, landing};

/// A contact that ends the flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contact {
    /// How.
    pub manner: Manner,
    /// On what.
    pub ground: Ground,
    /// Where.
    pub place_m: [f64; 3],
    /// Share of the step at which it happened.
    pub share: f64,
}

/// What stands where something was touched.
enum Standing {
    Nothing,
    Trees,
    Building,
}

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
pub fn contact(setup: &Setup, luck: &Luck, state: &State, before_m: [f64; 3], coming: Coming) -> Option<Contact> {
    let landing = coming == Coming::Landing;
    let (grid, world) = (&setup.world.grid, setup.world);
    let here = state.motion.place_m;
    let ground_m = state.ground_m;
    let on_ground = here[2] <= ground_m;
    if !on_ground && !grid.stands_at(here[0], here[1], here[2] - ground_m) {
        return None;
    }
    let home = [world.home_m[0], world.home_m[1]];
    let radius_m = world.scenario.judge.home_radius_m;
    let velocity = state.motion.velocity_mps;
    let level_mps = (velocity[0] * velocity[0] + velocity[1] * velocity[1]).sqrt();
    let sink_mps = -velocity[2];
    let place = |share: f64| [0, 1, 2].map(|i| before_m[i] + share * (here[i] - before_m[i]));
    if on_ground {
        let above_before = before_m[2] - grid.ground_m(before_m[0], before_m[1]);
        let share =
            if above_before > 0.0 { crate::craft::fall::crossing_share(above_before, here[2] - ground_m) } else { 0.0 };
        let place_m = place(share);
        let ground = ground_at(grid, [place_m[0], place_m[1]], home, radius_m);
        let manner = if landing || level_mps <= luck.touch.hard_mps[1] {
            let sigma_rad =
                if ground == Ground::Rough { landing::ROUGH_SLOPE_SIGMA_RAD } else { landing::OPEN_SLOPE_SIGMA_RAD };
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
        return Some(Contact { manner, ground, place_m, share });
    }
    let place_m = place(1.0);
    let from_above = !grid.struck([here[0], here[1], before_m[2]]) && sink_mps > level_mps;
    let standing = if grid.canopy_m(here[0], here[1]) > ground_m {
        Standing::Trees
    } else if grid.opaque_m(here[0], here[1]) > ground_m {
        Standing::Building
    } else {
        Standing::Nothing
    };
    let below = ground_at(grid, [here[0], here[1]], home, radius_m);
    let (manner, ground) = match standing {
        // A craft that comes down onto trees or a roof has come down there; one that flies into them struck them.
        Standing::Trees if landing && from_above => {
            (Manner::TippedOver, if matches!(below, Ground::Clear | Ground::Home) { Ground::Rough } else { below })
        }
        Standing::Building if landing && from_above => (
            Manner::HardLanding,
            if matches!(below, Ground::Clear | Ground::Home | Ground::Rough) { Ground::Property } else { below },
        ),
        Standing::Building if coming == Coming::Falling && below == Ground::Clear => (Manner::Strike, Ground::Property),
        Standing::Trees if coming == Coming::Falling && below == Ground::Clear => (Manner::Strike, Ground::Rough),
        _ => (Manner::Strike, below),
    };
    Some(Contact { manner, ground, place_m, share: 1.0 })
}
