//! Default parameters of a generic multirotor by its mass, 0.1 kg to 10 kg.
//!
//! Points in between are interpolated in the logarithm of mass. Values are published where a source is named and
//! engineering estimates elsewhere; the scenario can replace each of them.

use super::rotor;
use crate::units::STANDARD_GRAVITY_MPS2;

/// Density of the air at sea level (ISO 2533); the models use nothing of each other.
const SEA_LEVEL_DENSITY_KGPM3: f64 = 1.225;

/// Range of masses covered, kg.
pub const MASS_RANGE_KG: (f64, f64) = (0.1, 10.0);

/// The mass is not covered.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("defaults by class cover 0.1 kg to 10 kg, not {0} kg")]
pub struct MassOutsideClasses(pub f64);

/// Mass, rotors, rotor diameter in inches, mass over drag area while falling in kg/m².
///
/// # Source
/// Sizes are estimates of generic camera and racing craft. 24 kg/m² up to 2 kg is Arterburn et al., ASSURE A4 (2017), as quoted:
/// 64.7 foot-pounds a pound at terminal speed up to 4.4 lb, which is 193 J/kg or 19.7 m/s; they measured 19 m/s for one craft
/// of 1.2 kg. Below 0.5 kg and above 2.2 kg it is an estimate that shrinks and grows with size. Spread: [`FALL_SPREAD`].
const CLASSES: [(f64, f64, f64, f64); 7] = [
    (0.1, 4.0, 2.5, 14.0),
    (0.25, 4.0, 3.0, 20.0),
    (0.65, 4.0, 5.0, 24.0),
    (1.0, 4.0, 7.0, 24.0),
    (2.2, 4.0, 10.0, 24.0),
    (5.0, 6.0, 15.0, 29.0),
    (10.0, 6.0, 20.0, 31.0),
];

/// Factors on the likeliest drag area while falling that give the least and the greatest.
///
/// # Source
/// Estimate: rotors that stand still against rotors that windmill; free-spinning rotors add up to 110 % of drag, attitude takes up
/// to 85 % (Hammer et al., CEAS Aeronautical Journal 2023, as quoted), and a tumbling craft meets the mean of it.
pub const FALL_SPREAD: (f64, f64) = (1.0 / 1.6, 1.56);

/// A low, a likeliest and a high value.
pub type Triple = [f64; 3];

/// Default parameters of one craft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassDefaults {
    /// Number of rotors.
    pub rotors: u32,
    /// Diameter of each.
    pub rotor_diameter_m: f64,
    /// Half of the greatest width: rotor discs side by side with a tenth of a diameter between (estimate).
    pub radius_m: f64,
    /// Induced-power factor: 1.15, the usual value of textbooks on helicopter aerodynamics.
    pub induced_factor: f64,
    /// Profile power in hover at sea level: 32 W at 1 kg and 7 in, which makes a figure of merit of 0.60; with
    /// m^1.5/√A elsewhere (estimate).
    pub profile_power_w: f64,
    /// Blade tip speed: 75 m/s at 1 kg and 7 in (thrust coefficient 0.11); with the root of the disc loading (estimate).
    pub tip_speed_mps: f64,
    /// Efficiency of motors and controllers: with the figure of merit 0.34 to 0.50 overall, likeliest 0.42. Ideal over electrical
    /// hover power of a 1.39 kg craft is 0.36 on a stand, 0.345–0.395 over its thrusts (Russell et al., NASA TM-2018-219758,
    /// table C85); Rodrigues et al. 2022 imply 0.46 for one of 3 kg.
    pub drive_efficiency: Triple,
    /// Power of what turns no rotor: 10 W at 1 kg, growing with m^0.6 (estimate).
    pub aux_power_w: f64,
    /// Linear rotor drag over mass, one half of a pair with the drag area: what is published is the total. 0.22 1/s at 6.4 m/s for a
    /// 1.39 kg craft in a tunnel (NASA TM-2018-219758, table C18), 0.28 to 0.18 for 0.55–1.07 kg (Hattenberger et al. 2022, as
    /// quoted), 0.26 for 0.39 kg (Sun et al., J. Aircraft 56(2) 2019); the split of a tilt–wind fit is 0.144 1/s and 0.030 m² (Garreau
    /// 2020 as coded). Racing craft drag more: 0.24–0.54 (Faessler et al., RA-L 3(2) 2018, as quoted).
    pub linear_drag_per_s: Triple,
    /// Drag area in level flight, the other half: bare frames of 1–2 kg have 0.02–0.05 m² (Russell et al. 2016, as quoted); with m^⅔.
    pub drag_area_m2: Triple,
    /// Drag area when falling; see the table's source.
    pub fall_drag_area_m2: Triple,
    /// Greatest tilt (estimate).
    pub tilt_max_deg: f64,
    /// Cruise speed: 12 m/s at 1 kg, with m^⅙ (estimate).
    pub cruise_mps: f64,
    /// Climb limit (estimate).
    pub climb_mps: f64,
    /// Descent limit: 0.4 of the hover induced velocity, short of the vortex ring (see [`super::motion::VORTEX_RING`]).
    pub descent_mps: f64,
    /// Descent near the ground (estimate).
    pub final_descent_mps: f64,
    /// Height below which it comes down slowly (estimate).
    pub slow_below_m: f64,
    /// Greatest horizontal acceleration (estimate).
    pub accel_mps2: f64,
    /// Time constant of the velocity loop: 0.8 s at 1 kg, with m^⅙ (estimate: times go with the root of length).
    pub velocity_lag_s: f64,
    /// Time constant of attitude: 0.2 s at 1 kg, with m^⅙ (estimate).
    pub attitude_lag_s: f64,
    /// Greatest thrust over weight: 4 at 1 kg, falling with m^0.2, 2.5 to 5 (estimate).
    pub thrust_ratio: f64,
    /// Attitude error, 1 sigma (estimate; 0.5–2° are typical of low-cost attitude estimation).
    pub level_error_deg: f64,
    /// Cells in series (estimate).
    pub cells: u32,
    /// Capacity: 50 Wh a kilogram of craft (estimate).
    pub capacity_ah: f64,
    /// Resistance of the pack at 25 °C: 15 mΩ Ah a cell, wiring included (estimate; power packs are at 10–20).
    pub resistance_ohm: f64,
}

impl ClassDefaults {
    /// Defaults for a mass with pack and payload.
    ///
    /// # Errors
    /// When the mass lies outside [`MASS_RANGE_KG`].
    pub fn for_mass(mass_kg: f64) -> Result<ClassDefaults, MassOutsideClasses> {
        if !(MASS_RANGE_KG.0..=MASS_RANGE_KG.1).contains(&mass_kg) {
            return Err(MassOutsideClasses(mass_kg));
        }
        let (disc_area_m2, mass_over_drag) = between_classes(mass_kg);
        let rotors = if mass_kg < 3.5 { 4 } else { 6 };
        let rotor_diameter_m = (disc_area_m2 / (f64::from(rotors) * std::f64::consts::FRAC_PI_4)).sqrt();
        // Centres on a circle with neighbours 1.1 diameters apart.
        let ring = 1.1 / (2.0 * libm::sin(std::f64::consts::PI / f64::from(rotors)));
        let reference_area_m2 = rotor::disc_area_m2(4, 7.0 * METRES_PER_INCH);
        let power = |exponent: f64| libm::pow(mass_kg, exponent);
        let fall = mass_kg / mass_over_drag;
        let hover_mps =
            rotor::hover_induced_mps(mass_kg * STANDARD_GRAVITY_MPS2, disc_area_m2, SEA_LEVEL_DENSITY_KGPM3);
        let cells = match mass_kg {
            m if m < 0.15 => 2,
            m if m < 0.45 => 4,
            m if m < 3.5 => 6,
            _ => 12,
        };
        let cell_mean_v = 3.816;
        let capacity_ah = 50.0 * mass_kg / (f64::from(cells) * cell_mean_v);
        Ok(ClassDefaults {
            rotors,
            rotor_diameter_m,
            radius_m: rotor_diameter_m * (ring + 0.5),
            induced_factor: 1.15,
            profile_power_w: 32.0 * power(1.5) * (reference_area_m2 / disc_area_m2).sqrt(),
            tip_speed_mps: 75.0 * (mass_kg * reference_area_m2 / disc_area_m2).sqrt(),
            drive_efficiency: [0.57, 0.70, 0.83],
            aux_power_w: 10.0 * power(0.6),
            linear_drag_per_s: [0.08, 0.15, 0.30],
            drag_area_m2: [0.006, 0.016, 0.030].map(|area| area * power(2.0 / 3.0)),
            fall_drag_area_m2: [FALL_SPREAD.0 * fall, fall, FALL_SPREAD.1 * fall],
            tilt_max_deg: 30.0,
            cruise_mps: 12.0 * power(1.0 / 6.0),
            climb_mps: 4.0,
            descent_mps: 0.4 * hover_mps,
            final_descent_mps: 0.7,
            slow_below_m: 8.0,
            accel_mps2: 4.0,
            velocity_lag_s: 0.8 * power(1.0 / 6.0),
            attitude_lag_s: 0.2 * power(1.0 / 6.0),
            thrust_ratio: (4.0 * power(-0.2)).clamp(2.5, 5.0),
            level_error_deg: 0.7,
            cells,
            capacity_ah,
            resistance_ohm: 0.0147 * f64::from(cells) / capacity_ah,
        })
    }
}

/// Metres in an inch (exact by definition).
const METRES_PER_INCH: f64 = 0.0254;

/// Disc area and mass over drag area, interpolated in the logarithms.
fn between_classes(mass_kg: f64) -> (f64, f64) {
    let upper = CLASSES.iter().position(|class| mass_kg <= class.0).unwrap_or(CLASSES.len() - 1).max(1);
    let (low, high) = (CLASSES[upper - 1], CLASSES[upper]);
    let share = libm::log(mass_kg / low.0) / libm::log(high.0 / low.0);
    let area_m2 = |class: (f64, f64, f64, f64)| rotor::disc_area_m2(class.1 as u32, class.2 * METRES_PER_INCH);
    let mix = |a: f64, b: f64| a * libm::exp(share * libm::log(b / a));
    (mix(area_m2(low), area_m2(high)), mix(low.3, high.3))
}

#[cfg(test)]
mod tests {
    use super::super::kinematics;
    use super::*;
    use crate::reference::craft as reference;

    /// At the classes of the table the table's own sizes come out.
    #[test]
    fn table_masses_give_table_sizes() {
        for class in CLASSES {
            let defaults = ClassDefaults::for_mass(class.0).unwrap();
            assert_eq!(f64::from(defaults.rotors), class.1);
            assert!((defaults.rotor_diameter_m / METRES_PER_INCH - class.2).abs() < 1e-9);
            assert!((class.0 / defaults.fall_drag_area_m2[1] - class.3).abs() < 1e-9);
        }
    }

    /// Over the whole range: hover times of 10 to 40 minutes, terminal speeds of 11 to 31 m/s, cruise within what tilt
    /// allows, profile power that makes a figure of merit of 0.6.
    #[test]
    fn every_mass_makes_a_craft_that_flies() {
        for k in 0..=200 {
            let mass_kg = 0.1 * libm::pow(100.0, f64::from(k) / 200.0);
            let d = ClassDefaults::for_mass(mass_kg.clamp(0.1, 10.0)).unwrap();
            let area_m2 = rotor::disc_area_m2(d.rotors, d.rotor_diameter_m);
            let weight_n = mass_kg * STANDARD_GRAVITY_MPS2;
            let ideal_w = weight_n * rotor::hover_induced_mps(weight_n, area_m2, 1.225);
            let merit = ideal_w / (d.induced_factor * ideal_w + d.profile_power_w);
            assert!((merit - 0.60).abs() < 0.01, "{mass_kg}: {merit}");
            let hover_w = (d.induced_factor * ideal_w + d.profile_power_w) / d.drive_efficiency[1] + d.aux_power_w;
            let minutes = 50.0 * mass_kg / hover_w * 60.0;
            assert!((10.0..40.0).contains(&minutes), "{mass_kg}: {minutes}");
            for area_m2 in d.fall_drag_area_m2 {
                let terminal = reference::fall::terminal_mps(mass_kg, area_m2, 1.225, STANDARD_GRAVITY_MPS2);
                assert!((11.0..31.0).contains(&terminal), "{mass_kg}: {terminal}");
            }
            let drag = kinematics::drag_per_m(mass_kg, d.drag_area_m2[1], 1.225);
            let top_mps =
                reference::kinematics::tilt_limited_mps(d.tilt_max_deg.to_radians(), d.linear_drag_per_s[1], drag);
            assert!(d.cruise_mps < 0.95 * top_mps, "{mass_kg}: {} {top_mps}", d.cruise_mps);
        }
    }

    #[test]
    fn other_masses_are_refused() {
        assert_eq!(ClassDefaults::for_mass(0.05), Err(MassOutsideClasses(0.05)));
        assert!(ClassDefaults::for_mass(11.0).is_err() && ClassDefaults::for_mass(f64::NAN).is_err());
    }
}
