//! Rotor power by momentum theory.

use crate::units::STANDARD_GRAVITY_MPS2;

/// Total disc area of all rotors, m².
pub fn disc_area_m2(rotors: u32, rotor_diameter_m: f64) -> f64 {
    f64::from(rotors) * std::f64::consts::FRAC_PI_4 * rotor_diameter_m * rotor_diameter_m
}

/// Induced velocity in hover, m/s, for a thrust in N.
///
/// # Source
/// Rankine–Froude momentum theory: v_h = √(T/(2ρA)).
#[inline]
pub fn hover_induced_mps(thrust_n: f64, disc_area_m2: f64, density_kgpm3: f64) -> f64 {
    (thrust_n / (2.0 * density_kgpm3 * disc_area_m2)).sqrt()
}

/// The same from V² and v_h². Written as v_h²/√(√(V⁴/4 + v_h⁴) + V²/2), which loses no digits at high speed.
#[inline]
fn edgewise_from_squares(speed2: f64, hover2: f64) -> f64 {
    if hover2 <= 0.0 {
        return 0.0;
    }
    let half = 0.5 * speed2;
    hover2 / ((half * half + hover2 * hover2).sqrt() + half).sqrt()
}

/// Argument of the least value of `f` between two ends: a scan for the valley, then golden sections.
pub fn least(from: f64, to: f64, f: impl Fn(f64) -> f64) -> f64 {
    const POINTS: usize = 400;
    const GOLDEN: f64 = 0.618_033_988_749_894_8;
    let at = |k: usize| from + (to - from) * k as f64 / POINTS as f64;
    let mut best = (0, f64::INFINITY);
    for k in 0..=POINTS {
        let value = f(at(k));
        if value < best.1 {
            best = (k, value);
        }
    }
    let (mut low, mut high) = (at(best.0.saturating_sub(1)), at((best.0 + 1).min(POINTS)));
    let (mut x1, mut x2) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut f1, mut f2) = (f(x1), f(x2));
    // The width shrinks to the square root of the rounding error, where the valley's floor is flat.
    for _ in 0..60 {
        if f1 <= f2 {
            (high, x2, f2) = (x2, x1, f1);
            x1 = high - GOLDEN * (high - low);
            f1 = f(x1);
        } else {
            (low, x1, f1) = (x1, x2, f2);
            x2 = low + GOLDEN * (high - low);
            f2 = f(x2);
        }
    }
    let middle = 0.5 * (low + high);
    // An optimum at an end is that end.
    if f(from) <= f(middle) {
        from
    } else if f(to) < f(middle) {
        to
    } else {
        middle
    }
}

/// What the power of one craft depends on, air apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rotors {
    /// Disc area of all rotors.
    pub disc_area_m2: f64,
    /// Induced power over its ideal value.
    pub induced_factor: f64,
    /// Profile power in hover in air of [`crate::craft::rotor::PROFILE_DENSITY_KGPM3`].
    pub profile_power_w: f64,
    /// Blade tip speed.
    pub tip_speed_mps: f64,
    /// Drag area in level flight.
    pub drag_area_m2: f64,
    /// Efficiency of motors and their controllers.
    pub drive_efficiency: f64,
    /// Power of everything that does not turn rotors.
    pub aux_power_w: f64,
}

/// Density at which [`Rotors::profile_power_w`] is stated: sea level, standard atmosphere.
pub const PROFILE_DENSITY_KGPM3: f64 = 1.225;

impl Rotors {
    /// Electrical power in W.
    ///
    /// `inplane_mps` is the speed through the air across the rotor axis (in level flight the airspeed), `climb_mps`
    /// the vertical speed through the air. Sinking gives nothing back: real craft recover nothing useful, and hover
    /// power bounds it until deep in the vortex ring. The 3 in the profile term already holds the power of
    /// rotor (linear) drag, so that drag is not charged a second time.
    ///
    /// # Source
    /// Momentum theory with Glauert's edgewise inflow; profile growth 1 + 3 μ² after Bramwell; drag and climb
    /// power as force times speed.
    #[inline]
    pub fn power_w(&self, thrust_n: f64, inplane_mps: f64, climb_mps: f64, density_kgpm3: f64) -> f64 {
        let speed2 = inplane_mps * inplane_mps;
        let hover2 = thrust_n * (1.0 / (2.0 * density_kgpm3 * self.disc_area_m2));
        let mut induced_mps = edgewise_from_squares(speed2, hover2);
        let mut lift_w = 0.0;
        if climb_mps > 0.0 {
            lift_w = thrust_n * climb_mps;
            // Newton steps on v²(V_x² + (V_z + v)²) = v_h⁴ from a start right of the root: one for a gust, up to four for
            // a climb. What is left is below 2e-4 of the power.
            let climb2 = climb_mps * climb_mps;
            let rounds = 1
                + u32::from(climb2 > 8e-4 * hover2)
                + u32::from(climb2 > 0.06 * hover2)
                + u32::from(climb2 > 0.5 * hover2);
            for _ in 0..rounds {
                let through = climb_mps + induced_mps;
                let flow2 = speed2 + through * through;
                let slope = 2.0 * induced_mps * (flow2 + induced_mps * through);
                if slope > 0.0 {
                    induced_mps -= (induced_mps * induced_mps * flow2 - hover2 * hover2) / slope;
                }
            }
        }
        let tip2 = speed2 * (1.0 / (self.tip_speed_mps * self.tip_speed_mps));
        let profile_w = self.profile_power_w * (density_kgpm3 * (1.0 / PROFILE_DENSITY_KGPM3)) * (1.0 + 3.0 * tip2);
        let drag_w = 0.5 * density_kgpm3 * self.drag_area_m2 * speed2 * inplane_mps;
        (self.induced_factor * thrust_n * induced_mps + profile_w + drag_w + lift_w) * (1.0 / self.drive_efficiency)
            + self.aux_power_w
    }

    /// Level flight of a mass in air of a density, without linear drag.
    pub fn level(&self, mass_kg: f64, density_kgpm3: f64) -> LevelFlight {
        LevelFlight { rotors: *self, weight_n: mass_kg * STANDARD_GRAVITY_MPS2, linear_drag_npmps: 0.0, density_kgpm3 }
    }
}

/// A craft in steady flight, for planning.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelFlight {
    /// Power model.
    pub rotors: Rotors,
    /// Weight.
    pub weight_n: f64,
    /// Linear drag per airspeed, N s/m. The thrust carries it; its power is in the profile term already.
    pub linear_drag_npmps: f64,
    /// Density of the air.
    pub density_kgpm3: f64,
}

impl LevelFlight {
    /// The same with a linear drag over mass.
    pub fn with_linear_drag(self, linear_drag_per_s: f64) -> LevelFlight {
        LevelFlight { linear_drag_npmps: linear_drag_per_s * self.weight_n / STANDARD_GRAVITY_MPS2, ..self }
    }

    /// Electrical power in W in level flight at an airspeed ≥ 0: the thrust carries weight and drag.
    pub fn power_w(&self, airspeed_mps: f64) -> f64 {
        self.climbing_power_w(airspeed_mps, 0.0)
    }

    /// Electrical power in W with a vertical speed through the air besides.
    pub fn climbing_power_w(&self, airspeed_mps: f64, climb_mps: f64) -> f64 {
        let drag_n = (0.5 * self.density_kgpm3 * self.rotors.drag_area_m2 * airspeed_mps + self.linear_drag_npmps)
            * airspeed_mps;
        let thrust_n = (self.weight_n * self.weight_n + drag_n * drag_n).sqrt();
        self.rotors.power_w(thrust_n, airspeed_mps, climb_mps, self.density_kgpm3)
    }
}
