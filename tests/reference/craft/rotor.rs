//! Rotor power by momentum theory.

use lostlink::craft::LevelFlight;
use lostlink::craft::rotor::*;
use lostlink::units::STANDARD_GRAVITY_MPS2;

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
    let (half, hover2) = (0.5 * airspeed_mps * airspeed_mps, hover_induced_mps * hover_induced_mps);
    if hover2 <= 0.0 {
        return 0.0;
    }
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

/// Airspeed of least power, m/s: longest endurance.
pub fn min_power_mps(flight: &LevelFlight) -> f64 {
    least(0.0, FASTEST_MPS, |v| flight.power_w(v))
}

/// Airspeed of least energy per ground metre, m/s, into a headwind (tailwind negative). Not limited by the
/// tilt. `None` in a headwind of 140 m/s or more.
pub fn best_range_mps(flight: &LevelFlight, headwind_mps: f64) -> Option<f64> {
    let slowest_mps = headwind_mps.max(0.0);
    (slowest_mps < FASTEST_MPS - 10.0).then(|| {
        let from = slowest_mps + if headwind_mps >= 0.0 { 1e-3 } else { 0.0 };
        least(from, FASTEST_MPS, |v| flight.power_w(v) / (v - headwind_mps))
    })
}

/// Energy in J over a level leg at an airspeed; `None` when the headwind leaves no speed over ground.
pub fn leg_energy_j(flight: &LevelFlight, distance_m: f64, airspeed_mps: f64, headwind_mps: f64) -> Option<f64> {
    let ground_mps = airspeed_mps - headwind_mps;
    (ground_mps > 0.0).then(|| flight.power_w(airspeed_mps) * distance_m / ground_mps)
}

/// Extra electrical energy in J to climb, by overall efficiency.
pub fn climb_energy_j(mass_kg: f64, height_gain_m: f64, efficiency: f64) -> f64 {
    mass_kg * STANDARD_GRAVITY_MPS2 * height_gain_m / efficiency
}
