//! The mean link: geometry, obstruction, antennas, the pilot's body, shadows.

use super::SINE_POINTS;
use super::bounce::Bounce;
use super::setup::LinkSetup;
use crate::flight::LossBudget;
use crate::geometry::Frame;
use crate::radio::antenna::Coupling;
use crate::radio::body::body_loss_db;
use crate::radio::fading::rician_amplitudes;
use crate::radio::maths::quick_db;
use crate::world::Excess;

/// From this share of blocking on there is no line of sight.
const BLOCKED: f64 = 0.95;

/// The mean link at a moment: what geometry and shadowing make of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanLink {
    /// Where the margin went, without fading and interference.
    pub budget: LossBudget,
    /// Sum of those losses, dB.
    pub loss_db: f64,
    /// Rician K, dB; −∞ when the line of sight is blocked.
    pub k_db: f64,
    /// Line-of-sight and diffuse amplitude.
    pub(super) amplitudes: [f64; 2],
    pub(super) distance_m: f64,
    pub(super) direction: [f64; 3],
    pub(super) pilot_frame: Frame,
}

impl MeanLink {
    /// Before the first look.
    pub(super) fn unknown() -> MeanLink {
        MeanLink {
            budget: LossBudget::default(),
            loss_db: 0.0,
            k_db: 0.0,
            amplitudes: [0.0; 2],
            distance_m: 0.0,
            direction: [0.0; 3],
            pilot_frame: Frame::EAST,
        }
    }
}

impl LinkSetup {
    /// The mean uplink from the pilot to a craft at `place_m`, turned as `body` says, with a given shadowing loss.
    #[inline]
    pub fn mean(&self, place_m: [f64; 3], body: &Frame, body_loss_most_db: f64, shadowing_db: f64) -> MeanLink {
        let from = self.pilot_m;
        let (dx, dy, dz) = (place_m[0] - from[0], place_m[1] - from[1], place_m[2] - from[2]);
        let level2 = dx * dx + dy * dy;
        let square = (level2 + dz * dz).max(1.0);
        let distance_m = square.sqrt();
        let inverse = 1.0 / distance_m;
        let direction = [dx * inverse, dy * inverse, dz * inverse];
        let level = level2.sqrt();
        // Azimuth only: the pilot turns round, his antenna stays as level as he holds it.
        let per_level = 1.0 / level.max(1e-6);
        let bearing = if level > 1e-6 {
            [dx * per_level, dy * per_level]
        } else {
            // Right overhead he looks as the craft does.
            let [x, y, _] = body.forward();
            [x, y]
        };
        let facing = self.facing.unwrap_or(bearing);
        let pilot_frame = Frame::level(facing);
        let joined = self.up.pair.coupling(&pilot_frame, body, direction);
        let over = self.excess.as_ref().map_or(Excess::default(), |field| field.excess(place_m));
        let reflection_db = match &self.bounce {
            Some(bounce) if over.blocked < BLOCKED => {
                self.bounced(bounce, place_m, body, &pilot_frame, level2, distance_m, &joined)
            }
            _ => 0.0,
        };
        let behind_db = match self.facing {
            Some(facing) => {
                body_loss_db(body_loss_most_db, facing[0] * bearing[0] + facing[1] * bearing[1], direction[2])
            }
            None => 0.0,
        };
        let [k_db, line, diffuse] = if over.blocked >= BLOCKED {
            [f64::NEG_INFINITY, 0.0, 1.0]
        } else {
            let x = direction[2].abs().min(1.0) * SINE_POINTS as f64;
            let i = (x as usize).min(SINE_POINTS - 1);
            let (a, b) = (&self.rician[i], &self.rician[i + 1]);
            let t = x - i as f64;
            let at = |c: usize| a[c] + t * (b[c] - a[c]);
            let [k_db, line, diffuse] = [at(0), at(1), at(2)];
            if over.blocked > 0.0 {
                // At the edge of a shadow the line of sight fades out, and K with it.
                let k = (1.0 - over.blocked) * line * line / (diffuse * diffuse);
                let (line, diffuse) = rician_amplitudes(k);
                [quick_db(k), line, diffuse]
            } else {
                [k_db, line, diffuse]
            }
        };
        let budget = LossBudget {
            distance_db: quick_db(square) + self.up.air_db_per_m * distance_m,
            diffraction_db: over.diffraction_db,
            vegetation_db: over.vegetation_db,
            reflection_db,
            pattern_db: joined.pattern_db,
            polarisation_db: joined.polarisation_db,
            body_db: behind_db,
            shadowing_db,
            fading_db: 0.0,
            interference_db: 0.0,
        };
        let loss_db = budget.distance_db
            + budget.diffraction_db
            + budget.vegetation_db
            + budget.reflection_db
            + budget.pattern_db
            + budget.polarisation_db
            + budget.body_db
            + budget.shadowing_db;
        MeanLink { budget, loss_db, k_db, amplitudes: [line, diffuse], distance_m, direction, pilot_frame }
    }

    #[allow(clippy::too_many_arguments)]
    #[inline]
    fn bounced(
        &self,
        bounce: &Bounce,
        place_m: [f64; 3],
        body: &Frame,
        pilot_frame: &Frame,
        level2: f64,
        distance_m: f64,
        joined: &Coupling,
    ) -> f64 {
        let (low_m, high_m) = ((self.pilot_m[2] - bounce.ground_m).max(0.0), (place_m[2] - bounce.ground_m).max(0.0));
        let sum_m = low_m + high_m;
        let bounced_m = (level2 + sum_m * sum_m).sqrt().max(1.0);
        let inverse = 1.0 / bounced_m;
        let (east, north) = ((place_m[0] - self.pilot_m[0]) * inverse, (place_m[1] - self.pilot_m[1]) * inverse);
        let slope = sum_m * inverse;
        let share = self.up.pair.share_of_rays(pilot_frame, body, [east, north, -slope], [east, north, slope]);
        let amplitude = (share / joined.pattern_share).sqrt();
        bounce.loss_db(amplitude, distance_m, bounced_m, sum_m, low_m * high_m)
    }
}
