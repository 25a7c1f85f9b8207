//! The mean link: geometry, obstruction, antennas, the pilot's body, shadows.

use super::SINE_POINTS;
use super::bounce::Bounce;
use super::budget::LossBudget;
use super::field::Excess;
use super::fields::PilotFields;
use super::pilot_end::PilotEnd;
use super::setup::LinkSetup;
use crate::geometry::Frame;
use crate::radio::antenna::{Coupling, Floor};
use crate::radio::body::{CraftShadow, body_loss_db};
use crate::radio::fading::{BLOCKED, Rays};
use crate::radio::maths::{quick_db, quick_ratio};

/// The mean link at a moment: what geometry and shadowing make of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanLink {
    /// Where the margin went, without fading and interference.
    pub budget: LossBudget,
    /// Sum of those losses, dB.
    pub loss_db: f64,
    /// Rician K, dB; −∞ when the line of sight is blocked.
    pub k_db: f64,
    /// Powers of the line of sight and of the scattered field, whatever they add to; how far the straight line is cut.
    pub(crate) powers: [f64; 2],
    pub(crate) blocked: f64,
    pub(crate) distance_m: f64,
    pub(crate) direction: [f64; 3],
    pub(crate) pilot_frame: Frame,
}

/// What a flight's luck adds to geometry.
#[derive(Debug, Clone, Copy)]
pub(crate) struct MeanTerms<'a> {
    /// Greatest loss through the pilot's body, dB.
    pub(crate) body_loss_most_db: f64,
    pub(crate) shadowing_db: f64,
    pub(crate) floor: &'a Floor,
    pub(crate) craft_shadow: &'a CraftShadow,
    pub(crate) end: &'a PilotEnd,
}

impl MeanLink {
    /// Before the first look.
    pub(crate) fn unknown() -> MeanLink {
        MeanLink {
            budget: LossBudget::default(),
            loss_db: 0.0,
            k_db: 0.0,
            powers: [0.0, 1.0],
            blocked: 0.0,
            distance_m: 0.0,
            direction: [0.0; 3],
            pilot_frame: Frame::EAST,
        }
    }
}

impl LinkSetup {
    /// The mean uplink from the pilot to a craft at `place_m`, turned as `body` says, with a given shadowing loss.
    ///
    /// Nulls are as deep as they are in the middle, and the craft's body takes as much in every direction.
    pub fn mean(&self, place_m: [f64; 3], body: &Frame, body_loss_most_db: f64, shadowing_db: f64) -> MeanLink {
        let (floor, craft_shadow) = (&self.floor, &CraftShadow::even(self.craft_shadow_db[0]));
        let end = &self.end;
        self.mean_with(place_m, body, &MeanTerms { body_loss_most_db, shadowing_db, floor, craft_shadow, end })
    }

    /// The same with a flight's own values.
    #[inline(always)]
    pub(crate) fn mean_with(&self, place_m: [f64; 3], body: &Frame, terms: &MeanTerms) -> MeanLink {
        let end = terms.end;
        let from = end.place_m;
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
            let [x, y, _] = Frame::level([body.forward()[0], body.forward()[1]]).forward();
            [x, y]
        };
        let pilot_frame = if end.aimed {
            Frame::pointing(direction, bearing)
        } else {
            Frame::level_along(end.facing.unwrap_or(bearing))
        };
        let joined = self.up.pair.coupling(terms.floor, &pilot_frame, body, direction);
        let over = self.excess_from(end, place_m);
        let reflection_db = match &self.bounce {
            Some(bounce) if over.blocked < BLOCKED => {
                self.bounced(bounce, from, place_m, body, &pilot_frame, terms.floor, level2, distance_m, &joined)
            }
            _ => 0.0,
        };
        let behind_db = match end.facing {
            Some(facing) if end.body => {
                body_loss_db(terms.body_loss_most_db, facing[0] * bearing[0] + facing[1] * bearing[1], direction[2])
            }
            _ => 0.0,
        };
        let rays = self.rays(direction[2]);
        // The ray leaves the craft towards the pilot.
        let to_pilot = body.to_body([-direction[0], -direction[1], -direction[2]]);
        let own_body_db = terms.craft_shadow.deviation_db(to_pilot);
        let turned_db = joined.turned_away_db + own_body_db;
        let direct_db = turned_db + joined.polarisation_db;
        let met = rays.received(joined.direct_share * quick_ratio(-own_body_db), direct_db, over.blocked);
        // What scatter gives back, in parts to patterns and polarisation.
        let kept = if direct_db.abs() > 1e-6 { met.loss_db / direct_db } else { 1.0 };
        let budget = LossBudget {
            distance_db: quick_db(square) + self.up.air_db_per_m * distance_m,
            diffraction_db: over.diffraction_db,
            vegetation_db: over.vegetation_db,
            reflection_db,
            pattern_db: joined.pattern_db - joined.turned_away_db + kept * turned_db + terms.craft_shadow.mean_db(),
            polarisation_db: kept * joined.polarisation_db,
            body_db: behind_db,
            shadowing_db: terms.shadowing_db,
            fading_db: 0.0,
            interference_db: 0.0,
        };
        // The sum of them all; what antennas take need not wait for its parts.
        let antennas_db = joined.pattern_db - joined.turned_away_db + met.loss_db + terms.craft_shadow.mean_db();
        let loss_db = budget.distance_db
            + budget.diffraction_db
            + budget.vegetation_db
            + budget.reflection_db
            + antennas_db
            + budget.body_db
            + budget.shadowing_db;
        MeanLink {
            budget,
            loss_db,
            k_db: met.k_db,
            powers: met.powers,
            blocked: over.blocked,
            distance_m,
            direction,
            pilot_frame,
        }
    }

    /// What stands between the pilot's end as it is and a place.
    #[inline(always)]
    fn excess_from(&self, end: &PilotEnd, place_m: [f64; 3]) -> Excess {
        self.fields_of(end).control.as_ref().map_or(Excess::default(), |field| field.excess(place_m))
    }

    /// The fields of the pilot's end as it is.
    #[inline(always)]
    pub(crate) fn fields_of(&self, end: &PilotEnd) -> &PilotFields {
        if end.raised { &self.fields.raised } else { &self.fields.standing }
    }

    /// Rays between antennas that look at each other, at the sine of an elevation.
    #[inline(always)]
    pub(crate) fn rays(&self, sine: f64) -> Rays {
        let x = sine.abs().min(1.0) * SINE_POINTS as f64;
        let i = (x as usize).min(SINE_POINTS - 1);
        let (a, b) = (&self.rician[i], &self.rician[i + 1]);
        let t = x - i as f64;
        let at = |c: usize| a[c] + t * (b[c] - a[c]);
        Rays { k_db: at(0), powers: [at(1), at(2)] }
    }

    #[allow(clippy::too_many_arguments)]
    #[inline]
    fn bounced(
        &self,
        bounce: &Bounce,
        from: [f64; 3],
        place_m: [f64; 3],
        body: &Frame,
        pilot_frame: &Frame,
        floor: &Floor,
        level2: f64,
        distance_m: f64,
        joined: &Coupling,
    ) -> f64 {
        let (low_m, high_m) = ((from[2] - bounce.ground_m).max(0.0), (place_m[2] - bounce.ground_m).max(0.0));
        let sum_m = low_m + high_m;
        let bounced_m = (level2 + sum_m * sum_m).sqrt().max(1.0);
        let inverse = 1.0 / bounced_m;
        let (east, north) = ((place_m[0] - from[0]) * inverse, (place_m[1] - from[1]) * inverse);
        let slope = sum_m * inverse;
        let share = self.up.pair.share_of_rays(floor, pilot_frame, body, [east, north, -slope], [east, north, slope]);
        let amplitude = (share / joined.pattern_share).sqrt();
        bounce.loss_db(amplitude, distance_m, bounced_m, sum_m, low_m * high_m)
    }
}
