//! Defaults of a craft by its mass, following what the file states of its rotors and cells.

use crate::craft::class::{ClassDefaults, MASS_RANGE_KG};
use crate::craft::rotor;
use crate::units::STANDARD_GRAVITY_MPS2;

/// The class of a mass; a mass beyond the range, which is an error elsewhere, counts as its end.
pub(super) fn class_of(mass_kg: f64) -> ClassDefaults {
    let (low, high) = MASS_RANGE_KG;
    let mass_kg = if mass_kg.is_nan() { 1.0 } else { mass_kg.clamp(low, high) };
    ClassDefaults::for_mass(mass_kg).expect("the mass was brought into the range")
}

/// The same class on another number of rotors: they share the disc area.
pub(super) fn diameter_for(class: &ClassDefaults, rotors: u32) -> f64 {
    class.rotor_diameter_m * (f64::from(class.rotors) / f64::from(rotors)).sqrt()
}

/// The class with stated rotors: what follows from their size and disc loading changes with them.
pub(super) fn with_rotors(class: ClassDefaults, rotors: u32, diameter_m: f64) -> ClassDefaults {
    let area = |rotors: u32, diameter_m: f64| f64::from(rotors) * diameter_m * diameter_m;
    // Induced and tip speed go with the root of the disc loading, and so does profile power at a given weight.
    let loading = (area(class.rotors, class.rotor_diameter_m) / area(rotors, diameter_m)).sqrt();
    // Centres on a circle with neighbours 1.1 diameters apart, as in the class.
    let ring = 1.1 / (2.0 * libm::sin(std::f64::consts::PI / f64::from(rotors)));
    ClassDefaults {
        rotors,
        rotor_diameter_m: diameter_m,
        radius_m: diameter_m * (ring + 0.5),
        profile_power_w: class.profile_power_w * loading,
        tip_speed_mps: class.tip_speed_mps * loading,
        descent_mps: class.descent_mps * loading,
        ..class
    }
}

/// The class's energy in a pack of other cells.
pub(super) fn capacity_ah(class: &ClassDefaults, cells: u32) -> f64 {
    class.capacity_ah * f64::from(class.cells) / f64::from(cells)
}

/// Resistance by cells and capacity, at the class's resistance times capacity a cell.
pub(super) fn resistance_ohm(class: &ClassDefaults, cells: u32, capacity_ah: f64) -> f64 {
    let per_cell_ohm_ah = class.resistance_ohm * class.capacity_ah / f64::from(class.cells);
    per_cell_ohm_ah * f64::from(cells) / capacity_ah
}

/// Height from which a craft that comes down by itself must still reach the ground, m: the usual ceiling of open operations.
const DOWN_FROM_M: f64 = 120.0;

/// Factor on what coming down takes. Estimate: a pack that holds less than it is taken for, wind, the last metres slowly.
const DOWN_MARGIN: f64 = 1.5;

/// Voltage of a cell that is nearly empty, under load, V. Estimate from the table of the pack's model.
const LOW_CELL_V: f64 = 3.6;

/// Charge, per cent, that a time of hovering takes from a pack of so many cells times ampere-hours.
fn hovering_pct(class: &ClassDefaults, mass_kg: f64, cell_ah: f64, time_s: f64) -> f64 {
    let area_m2 = rotor::disc_area_m2(class.rotors, class.rotor_diameter_m);
    let weight_n = mass_kg * STANDARD_GRAVITY_MPS2;
    let induced_w = class.induced_factor * weight_n * rotor::hover_induced_mps(weight_n, area_m2, 1.225);
    let power_w = (induced_w + class.profile_power_w) / class.drive_efficiency[1] + class.aux_power_w;
    100.0 * power_w * time_s / (3_600.0 * LOW_CELL_V * cell_ah)
}

/// Charge at which a craft should come down by itself, whole per cent.
pub(super) fn landing_charge_pct(class: &ClassDefaults, mass_kg: f64, cell_ah: f64) -> f64 {
    let time_s = (DOWN_FROM_M - class.slow_below_m) / class.descent_mps + class.slow_below_m / class.final_descent_mps;
    hovering_pct(class, mass_kg, cell_ah, DOWN_MARGIN * time_s).clamp(4.0, 25.0).round()
}

/// Charge at which a warning leaves the way home of a kilometre above that, whole per cent.
pub(super) fn warning_charge_pct(class: &ClassDefaults, mass_kg: f64, cell_ah: f64, landing_pct: f64) -> f64 {
    let way = hovering_pct(class, mass_kg, cell_ah, 1_000.0 / class.cruise_mps).clamp(4.0, 30.0);
    (landing_pct + way).min(95.0).max(landing_pct).round()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stated_rotors_keep_the_disc_area_or_change_what_hangs_on_it() {
        let class = class_of(1.0);
        let same = with_rotors(class, class.rotors, class.rotor_diameter_m);
        assert_eq!((same.profile_power_w, same.radius_m), (class.profile_power_w, class.radius_m));
        let six = with_rotors(class, 6, diameter_for(&class, 6));
        assert!((six.profile_power_w - class.profile_power_w).abs() < 1e-9);
        assert!((six.descent_mps - class.descent_mps).abs() < 1e-9);
        // Half the diameter: a quarter of the disc, twice the induced speed.
        let small = with_rotors(class, 4, 0.5 * class.rotor_diameter_m);
        assert!((small.descent_mps - 2.0 * class.descent_mps).abs() < 1e-9);
        assert!((capacity_ah(&class, 3) - 2.0 * class.capacity_ah).abs() < 1e-12);
        assert!((resistance_ohm(&class, class.cells, class.capacity_ah) - class.resistance_ohm).abs() < 1e-15);
        assert_eq!(class_of(f64::NAN), class_of(1.0));
    }

    /// By hand for 1 kg: 158 W for 55.5 s and half as much again is 13.1 kJ of 3,600 · 3.6 · 6 · 2.18 J, 8 %; a kilometre at
    /// 12 m/s is as much.
    #[test]
    fn charges_follow_from_hover_power() {
        let class = class_of(1.0);
        let cell_ah = f64::from(class.cells) * class.capacity_ah;
        let landing = landing_charge_pct(&class, 1.0, cell_ah);
        assert_eq!((landing, warning_charge_pct(&class, 1.0, cell_ah, landing)), (8.0, 16.0));
        assert!(landing_charge_pct(&class, 1.0, 0.5 * cell_ah) > landing);
        assert_eq!(landing_charge_pct(&class, 1.0, 1e-3 * cell_ah), 25.0);
    }
}
