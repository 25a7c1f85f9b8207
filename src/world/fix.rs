//! The craft's sense of place as far as it is the same for all flights.

use super::SkyField;
use crate::air::atmosphere::{isa_height_slope_m_per_pa, isa_pressure_pa, isa_temperature_k};
use crate::chance::Uncertain;
use crate::failsafe::FixGuard;
use crate::scenario::{Scenario, Sky};
use crate::sky::{GaussMarkov, MagneticError, Start, TwoState, magnetic_field};
use libm::{exp, expm1};

/// Time between solutions of the position receiver (estimate: five a second).
const SOLUTION_S: f64 = 0.2;

/// Time between steps of the slow parts: short against their memories (estimate).
const SLOW_S: f64 = 1.0;

/// Memory of the slow part of the position error.
///
/// # Source
/// Beard and McLain, "Small unmanned aircraft", 2012, table of chapter 7: 1/k = 1,100 s (second-hand).
const SLOW_MEMORY_S: f64 = 1_100.0;

/// Shares of the variance: slow, fast, white.
///
/// # Source
/// Fast to slow 1 : 2 agrees with the same records at 1, 2 and 4 minutes; the small white part is an estimate.
const VARIANCE_SHARES: [f64; 3] = [0.65, 0.325, 0.025];

/// Memory of the wander of the heading (estimate).
const HEADING_WANDER_S: f64 = 60.0;

/// Time constant with which course over ground corrects the heading (estimate).
const ALIGN_S: f64 = 5.0;
/// Memory of the course's error (estimate).
const COURSE_MEMORY_S: f64 = 10.0;

/// What is the same for all flights: intervals, memories, the pilot's guard.
#[derive(Debug, Clone)]
pub struct FixSetup {
    pub(crate) per_solution: u32,
    pub(crate) per_slow: u32,
    pub(crate) solution_s: f64,
    slow_s: f64,
    pub(crate) slow: GaussMarkov,
    pub(crate) wander: GaussMarkov,
    pub(crate) course: GaussMarkov,
    pub(crate) outage: TwoState,
    pub(crate) start: Start,
    pub(crate) without_fix: bool,
    /// What a fix must have for the pilot to take off.
    pub(crate) guard: FixGuard,
    pub(crate) window_s: f64,
    pub(crate) home_m: [f64; 3],
    pub(crate) throttle_rad: f64,
    /// Declination at the site, east positive.
    pub declination_rad: f64,
    pub(crate) declination_sigma_rad: f64,
    pub(crate) declination_applied: bool,
    pub(crate) align_gain: f64,
    pub(crate) course_alignment: bool,
    pub(crate) walk_m: f64,
    pub(crate) slope_m_per_pa: f64,
    pub(crate) isa_k: f64,
    pub(crate) amplitude: [f64; 3],
    pub(crate) jump_m: Uncertain,
    /// What of a jump is left after a solution.
    pub(crate) jump_kept: f64,
    /// Words below this bring a jump.
    pub(crate) jump_below: u64,
    pub(crate) jumps_per_s: f64,
    pub(crate) jump_for_s: f64,
}

/// Why the setup fails.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FixSetupError {
    /// No declination.
    #[error("{0}")]
    Magnetic(#[from] MagneticError),
}

impl FixSetup {
    /// From a scenario and its sky; `home_z_m` is the ground at the take-off spot.
    ///
    /// # Errors
    /// When the magnetic model does not cover the date and no declination is stated.
    pub fn new(scenario: &Scenario, sky: &SkyField, home_z_m: f64) -> Result<FixSetup, FixSetupError> {
        let (s, step_s) = (&scenario.sky, scenario.step_s);
        let per_solution = ((SOLUTION_S / step_s).round() as u32).max(1);
        let solution_s = f64::from(per_solution) * step_s;
        let per_slow = per_solution * ((SLOW_S / solution_s).round() as u32).max(1);
        let slow_s = f64::from(per_slow) * step_s;
        let source = sky.source();
        let (declination_rad, declination_sigma_rad) = match s.declination_deg {
            Some(stated) => (stated.to_radians(), 0.0),
            None => {
                let site = source.site;
                let field = magnetic_field(source.decimal_year, site.height_m, site.lat_deg(), site.lon_deg())?;
                (field.declination_rad, field.declination_sigma_rad)
            }
        };
        let amsl_m = source.site.height_m + home_z_m;
        let setup = FixSetup {
            per_solution,
            per_slow,
            solution_s,
            slow_s,
            slow: GaussMarkov::new(SLOW_MEMORY_S, slow_s),
            wander: GaussMarkov::new(HEADING_WANDER_S, slow_s),
            course: GaussMarkov::new(COURSE_MEMORY_S, slow_s),
            outage: TwoState { availability: 1.0, lose: 0.0, regain: 1.0 },
            start: s.start,
            without_fix: !s.wait_for_fix,
            guard: FixGuard { satellites: s.wait_satellites, hdop: s.wait_hdop },
            window_s: s.window_s,
            home_m: [scenario.site.home_m[0], scenario.site.home_m[1], home_z_m],
            throttle_rad: 0.0,
            declination_rad,
            declination_sigma_rad,
            declination_applied: s.declination_applied,
            align_gain: -expm1(-solution_s / ALIGN_S),
            course_alignment: s.course_alignment,
            walk_m: 0.0,
            slope_m_per_pa: isa_height_slope_m_per_pa(isa_pressure_pa(amsl_m.clamp(-500.0, 9_000.0))),
            isa_k: isa_temperature_k(amsl_m),
            amplitude: VARIANCE_SHARES.map(f64::sqrt),
            jump_m: s.jump_m.clone(),
            jump_kept: 0.0,
            jump_below: 0,
            jumps_per_s: 0.0,
            jump_for_s: 0.0,
        };
        Ok(setup.tuned(&s.central()))
    }

    /// The same with the values of one flight.
    pub fn tuned(&self, sky: &Sky<f64>) -> FixSetup {
        let outage = if sky.outage_every_s.is_finite() && sky.outage_every_s > 0.0 && sky.outage_for_s > 0.0 {
            TwoState::new(sky.outage_every_s, sky.outage_for_s, self.solution_s)
        } else {
            TwoState { availability: 1.0, lose: 0.0, regain: 1.0 }
        };
        let jumps_per_s = sky.jumps_per_h / 3600.0;
        FixSetup {
            outage,
            throttle_rad: sky.heading_throttle_deg.to_radians(),
            walk_m: sky.baro_drift_m_per_sqrt_min * (self.slow_s / 60.0).sqrt(),
            jump_kept: exp(-self.solution_s / sky.jump_for_s),
            jump_below: (-expm1(-jumps_per_s * self.solution_s) * 4_294_967_296.0).round() as u64,
            jumps_per_s,
            jump_for_s: sky.jump_for_s,
            ..self.clone()
        }
    }

    /// Whether the receiver solves at this step; at others its last solution stands.
    #[inline]
    pub fn is_due(&self, step: u32) -> bool {
        step.is_multiple_of(self.per_solution)
    }
}
