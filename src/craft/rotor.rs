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

/// Electrical hover power in W from a figure of merit: ideal power over both efficiencies plus what else draws.
pub fn hover_electrical_w(
    thrust_n: f64,
    hover_induced_mps: f64,
    figure_of_merit: f64,
    drive_efficiency: f64,
    aux_power_w: f64,
) -> f64 {
    thrust_n * hover_induced_mps / (figure_of_merit * drive_efficiency) + aux_power_w
}

/// Figure of merit from propeller coefficients referred to revolutions per second and diameter.
///
/// # Source
/// FM = T^1.5/(P √(2ρA)) with T = C_T ρ n² D⁴, P = C_P ρ n³ D⁵: FM = √(2/π) C_T^1.5/C_P.
pub fn figure_of_merit(thrust_coefficient: f64, power_coefficient: f64) -> f64 {
    (2.0 / std::f64::consts::PI).sqrt() * thrust_coefficient * thrust_coefficient.sqrt() / power_coefficient
}

/// Induced velocity in edgewise flight, m/s (disc level, axial speed 0).
///
/// # Source
/// Glauert's momentum equation v √(V² + v²) = v_h², solved: v = √(√(V⁴/4 + v_h⁴) − V²/2).
#[inline]
pub fn edgewise_mps(airspeed_mps: f64, hover_induced_mps: f64) -> f64 {
    edgewise_from_squares(airspeed_mps * airspeed_mps, hover_induced_mps * hover_induced_mps)
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

/// Induced velocity in axial climb, m/s; `climb_mps` ≥ 0.
///
/// # Source
/// Momentum theory: v = −V_c/2 + √(V_c²/4 + v_h²).
#[inline]
pub fn climb_mps(climb_mps: f64, hover_induced_mps: f64) -> f64 {
    let half = 0.5 * climb_mps;
    (half * half + hover_induced_mps * hover_induced_mps).sqrt() - half
}

/// Induced velocity for any direction of the air, m/s: in-plane speed and axial speed (climb positive).
///
/// Solves v √(V_x² + (V_z + v)²) = v_h² for the greatest root, the one that hover leads to. In a steep
/// descent (−2 ≤ V_z/v_h < 0 with little in-plane speed) momentum theory does not hold; [`sinking_ratio`] does.
///
/// # Source
/// Glauert's general momentum equation, as in textbooks of helicopter aerodynamics.
pub fn general_mps(inplane_mps: f64, axial_mps: f64, hover_induced_mps: f64) -> f64 {
    let h2 = hover_induced_mps * hover_induced_mps;
    if h2 <= 0.0 {
        return 0.0;
    }
    let excess = |v: f64| v * (inplane_mps * inplane_mps + (axial_mps + v) * (axial_mps + v)).sqrt() - h2;
    // Right of −V_z the left side grows, and there it exceeds v_h² at |V_z| + v_h.
    let (mut low, mut high) = ((-axial_mps).max(0.0), axial_mps.abs() + hover_induced_mps);
    if excess(low) > 0.0 {
        // The root lies below −V_z: walk down to the first change of sign.
        let step = low / 2_000.0;
        while low > 0.0 && excess(low) > 0.0 {
            high = low;
            low = (low - step).max(0.0);
        }
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if excess(middle) > 0.0 { high = middle } else { low = middle }
    }
    0.5 * (low + high)
}

/// Induced velocity over that in hover while sinking vertically, `climb_ratio` = V_c/v_h in −2..=0.
///
/// # Source
/// Leishman, Principles of Helicopter Aerodynamics, quartic fit of measurements with κ = 1 (coefficients as
/// commonly reprinted; equation number not verified).
pub fn sinking_ratio(climb_ratio: f64) -> f64 {
    let x = climb_ratio;
    1.0 + x * (-1.125 + x * (-1.372 + x * (-1.718 + x * -0.655)))
}

/// Induced velocity over that in hover in the windmill-brake state, `climb_ratio` = V_c/v_h ≤ −2; `None` above.
///
/// # Source
/// Momentum theory, windmill-brake branch: −x/2 − √(x²/4 − 1).
pub fn windmill_ratio(climb_ratio: f64) -> Option<f64> {
    let half = 0.5 * climb_ratio;
    (climb_ratio <= -2.0).then(|| -half - (half * half - 1.0).sqrt())
}

/// Blade profile power in W.
///
/// # Source
/// Zeng, Xu, Zhang, "Energy minimization for wireless communication with rotary-wing UAV", IEEE Trans.
/// Wireless Communications 18(4), 2019, appendix: P₀ = δ/8 ρ s A Ω³ R³.
pub fn blade_profile_w(
    profile_drag: f64,
    density_kgpm3: f64,
    solidity: f64,
    disc_area_m2: f64,
    rotor_speed_radps: f64,
    rotor_radius_m: f64,
) -> f64 {
    let tip_mps = rotor_speed_radps * rotor_radius_m;
    profile_drag / 8.0 * density_kgpm3 * solidity * disc_area_m2 * tip_mps * tip_mps * tip_mps
}

/// Hover induced power in W with an increment `k` on the ideal value.
///
/// # Source
/// Zeng, Xu, Zhang 2019, appendix: P_i = (1+k) W^1.5/√(2ρA).
pub fn induced_with_increment_w(weight_n: f64, increment: f64, density_kgpm3: f64, disc_area_m2: f64) -> f64 {
    (1.0 + increment) * weight_n * hover_induced_mps(weight_n, disc_area_m2, density_kgpm3)
}

/// The published rotary-wing model: propulsion power at a forward speed, thrust equal to weight.
///
/// # Source
/// Zeng, Xu, Zhang 2019, equation 12.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RotaryWing {
    /// Profile power in hover.
    pub profile_power_w: f64,
    /// Induced power in hover.
    pub induced_power_w: f64,
    /// Blade tip speed.
    pub tip_speed_mps: f64,
    /// Induced velocity in hover.
    pub hover_induced_mps: f64,
    /// Body drag over rotor solidity and disc area.
    pub body_drag_ratio: f64,
    /// Rotor solidity.
    pub solidity: f64,
    /// Disc area.
    pub disc_area_m2: f64,
    /// Density of the air.
    pub density_kgpm3: f64,
}

impl RotaryWing {
    /// Propulsion power in W at a forward speed ≥ 0.
    pub fn power_w(&self, speed_mps: f64) -> f64 {
        let tip = speed_mps / self.tip_speed_mps;
        let induced = edgewise_mps(speed_mps, self.hover_induced_mps) / self.hover_induced_mps;
        self.profile_power_w * (1.0 + 3.0 * tip * tip)
            + self.induced_power_w * induced
            + 0.5
                * self.body_drag_ratio
                * self.density_kgpm3
                * self.solidity
                * self.disc_area_m2
                * speed_mps
                * speed_mps
                * speed_mps
    }

    /// Speed of least power, m/s: longest endurance.
    pub fn min_power_mps(&self) -> f64 {
        least(0.0, FASTEST_MPS, |v| self.power_w(v))
    }

    /// Speed of least energy per metre in still air, m/s.
    pub fn best_range_mps(&self) -> f64 {
        least(1e-3, FASTEST_MPS, |v| self.power_w(v) / v)
    }

    /// Least energy per metre, J/m.
    pub fn min_energy_jpm(&self) -> f64 {
        let speed_mps = self.best_range_mps();
        self.power_w(speed_mps) / speed_mps
    }
}

/// Upper end of the speeds searched for an optimum, m/s.
const FASTEST_MPS: f64 = 150.0;

/// Argument of the least value of `f` between two ends: a scan for the valley, then golden sections.
pub(crate) fn least(from: f64, to: f64, f: impl Fn(f64) -> f64) -> f64 {
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

/// Whole-craft power estimate in kW from lift over drag.
///
/// # Source
/// D'Andrea, "Can drones deliver?", IEEE Trans. Automation Science and Engineering 11(3), 2014:
/// P = m v/(370 η r) + p with v in km/h, P and p in kW (from memory).
pub fn delivery_estimate_kw(mass_kg: f64, speed_mps: f64, efficiency: f64, lift_to_drag: f64, aux_power_w: f64) -> f64 {
    mass_kg * speed_mps * 3.6 / (370.0 * efficiency * lift_to_drag) + 1e-3 * aux_power_w
}

/// Hover power in W of a 2.3–3.6 kg delivery quadrotor by regression over measured flights.
///
/// # Source
/// Rodrigues et al., "Drone flight data reveal energy and greenhouse gas emissions savings for very small
/// package delivery", Patterns 3, 2022 (coefficients from memory).
pub fn hover_regression_w(mass_kg: f64, density_kgpm3: f64) -> f64 {
    80.4 * mass_kg * mass_kg.sqrt() / density_kgpm3.sqrt() + 13.8
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

    /// Induced velocity in hover, m/s.
    pub fn hover_induced_mps(&self) -> f64 {
        hover_induced_mps(self.weight_n, self.rotors.disc_area_m2, self.density_kgpm3)
    }

    /// Airspeed of least power, m/s: longest endurance.
    pub fn min_power_mps(&self) -> f64 {
        least(0.0, FASTEST_MPS, |v| self.power_w(v))
    }

    /// Airspeed of least energy per ground metre, m/s, into a headwind (tailwind negative). Not limited by the
    /// tilt. `None` in a headwind of 140 m/s or more.
    pub fn best_range_mps(&self, headwind_mps: f64) -> Option<f64> {
        let slowest_mps = headwind_mps.max(0.0);
        (slowest_mps < FASTEST_MPS - 10.0).then(|| {
            let from = slowest_mps + if headwind_mps >= 0.0 { 1e-3 } else { 0.0 };
            least(from, FASTEST_MPS, |v| self.power_w(v) / (v - headwind_mps))
        })
    }

    /// Energy in J over a level leg at an airspeed; `None` when the headwind leaves no speed over ground.
    pub fn leg_energy_j(&self, distance_m: f64, airspeed_mps: f64, headwind_mps: f64) -> Option<f64> {
        let ground_mps = airspeed_mps - headwind_mps;
        (ground_mps > 0.0).then(|| self.power_w(airspeed_mps) * distance_m / ground_mps)
    }
}

/// Extra electrical energy in J to climb, by overall efficiency.
pub fn climb_energy_j(mass_kg: f64, height_gain_m: f64, efficiency: f64) -> f64 {
    mass_kg * STANDARD_GRAVITY_MPS2 * height_gain_m / efficiency
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reference() -> Rotors {
        Rotors {
            disc_area_m2: disc_area_m2(4, 0.1778),
            induced_factor: 1.15,
            profile_power_w: 32.0,
            tip_speed_mps: 75.0,
            drag_area_m2: 0.018,
            drive_efficiency: 0.78,
            aux_power_w: 10.0,
        }
    }

    /// The four solutions agree where they meet, and each satisfies the momentum equation.
    #[test]
    fn induced_velocities_satisfy_momentum() {
        for (x, z) in
            [(0.0, 0.0), (0.0, 4.0), (10.0, 0.0), (15.0, 3.0), (12.0, -4.0), (3.0, -1.0), (20.0, -9.0), (40.0, 0.5)]
        {
            let h = 6.35;
            let v = general_mps(x, z, h);
            let residual = v * (x * x + (z + v) * (z + v)).sqrt() / (h * h) - 1.0;
            assert!(residual.abs() < 1e-12, "({x}, {z}): {residual:e}");
        }
        assert!((general_mps(10.0, 0.0, 6.35) - edgewise_mps(10.0, 6.35)).abs() < 1e-12);
        assert!((general_mps(0.0, 4.0, 6.35) - climb_mps(4.0, 6.35)).abs() < 1e-12);
        assert_eq!(sinking_ratio(0.0), 1.0);
        assert_eq!(windmill_ratio(-2.0), Some(1.0));
        assert_eq!(windmill_ratio(-1.9), None);
        assert_eq!(general_mps(10.0, 1.0, 0.0), 0.0);
    }

    /// Published table of Zeng, Xu and Zhang 2019; the paper reports 10.2 m/s and 18.3 m/s.
    #[test]
    fn the_published_model_has_its_published_optima() {
        let weight_n = 20.0;
        let disc_area_m2 = 0.503;
        let model = RotaryWing {
            profile_power_w: blade_profile_w(0.012, 1.225, 0.05, disc_area_m2, 300.0, 0.4),
            induced_power_w: induced_with_increment_w(weight_n, 0.1, 1.225, disc_area_m2),
            tip_speed_mps: 120.0,
            hover_induced_mps: hover_induced_mps(weight_n, disc_area_m2, 1.225),
            body_drag_ratio: 0.6,
            solidity: 0.05,
            disc_area_m2,
            density_kgpm3: 1.225,
        };
        assert!((model.min_power_mps() - 10.2).abs() < 0.05);
        assert!((model.best_range_mps() - 18.3).abs() < 0.05);
        // Our own level power with the same numbers: drag of the body, no tilt of the thrust to speak of.
        let ours = Rotors {
            disc_area_m2,
            induced_factor: 1.1,
            profile_power_w: model.profile_power_w,
            tip_speed_mps: 120.0,
            drag_area_m2: 0.6 * 0.05 * disc_area_m2,
            drive_efficiency: 1.0,
            aux_power_w: 0.0,
        }
        .level(weight_n / STANDARD_GRAVITY_MPS2, 1.225);
        for speed_mps in [0.0, 5.0, 10.0, 15.0, 20.0] {
            let (one, other) = (ours.power_w(speed_mps), model.power_w(speed_mps));
            assert!((one / other - 1.0).abs() < 0.01, "{speed_mps}: {one} {other}");
        }
    }

    /// The power in a climb: momentum theory in closed form for a vertical one.
    #[test]
    fn climb_power_matches_the_closed_form() {
        let rotors = reference();
        let weight_n = STANDARD_GRAVITY_MPS2;
        let h = hover_induced_mps(weight_n, rotors.disc_area_m2, 1.225);
        for climb in [0.5, 2.0, 4.0, 8.0] {
            let want = (weight_n * (1.15 * climb_mps(climb, h) + climb) + 32.0) / 0.78 + 10.0;
            let got = rotors.power_w(weight_n, 0.0, climb, 1.225);
            assert!((got / want - 1.0).abs() < 2e-3, "{climb}: {got} {want}");
        }
        assert_eq!(rotors.power_w(weight_n, 8.0, -3.0, 1.225), rotors.power_w(weight_n, 8.0, 0.0, 1.225));
    }

    /// The few Newton steps of the flight loop against the solved equation, over speeds and climbs.
    #[test]
    fn inflow_in_a_climb_is_near_the_solution() {
        let rotors = reference();
        let weight_n = STANDARD_GRAVITY_MPS2;
        let h = hover_induced_mps(weight_n, rotors.disc_area_m2, 1.225);
        for speed in [0.0, 2.0, 6.0, 12.0, 20.0] {
            let level = rotors.power_w(weight_n, speed, 0.0, 1.225);
            let with = |v: f64, climb: f64| weight_n * (1.15 * (v - edgewise_mps(speed, h)) + climb) / 0.78;
            for climb in [0.01, 0.1, 0.3, 0.6, 0.64, 1.0, 2.0, 2.5, 2.6, 4.0, 6.0, 8.0] {
                let want = level + with(general_mps(speed, climb, h), climb);
                let got = rotors.power_w(weight_n, speed, climb, 1.225);
                assert!((got / want - 1.0).abs() < 2e-4, "{speed} {climb}: {got} {want}");
            }
        }
    }

    #[test]
    fn best_range_speed_rises_with_the_headwind() {
        let craft = reference().level(1.0, 1.225);
        let speeds: Vec<f64> = [-6.0, 0.0, 4.0, 8.0, 16.0].map(|w| craft.best_range_mps(w).unwrap()).to_vec();
        assert!(speeds.windows(2).all(|pair| pair[0] < pair[1]), "{speeds:?}");
        assert_eq!(craft.leg_energy_j(500.0, 8.0, 8.0), None);
        assert_eq!(craft.best_range_mps(200.0), None);
    }

    /// The published hover regression and our default efficiency agree within its spread at 3 kg, 4 × 13 in.
    #[test]
    fn default_efficiency_is_near_measured_hover_power() {
        let disc = disc_area_m2(4, 0.33);
        let weight_n = 3.0 * STANDARD_GRAVITY_MPS2;
        let ours = hover_electrical_w(weight_n, hover_induced_mps(weight_n, disc, 1.2), 0.60, 0.78, 13.8);
        assert!((ours / hover_regression_w(3.0, 1.2) - 1.0).abs() < 0.1, "{ours}");
    }
}
