//! Defaults of a craft by its mass, following what the file states of its rotors and cells.

use crate::craft::class::{ClassDefaults, MASS_RANGE_KG};

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
}
