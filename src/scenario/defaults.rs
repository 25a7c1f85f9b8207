//! Defaults of a craft by its mass.

/// What a craft of a given mass and rotor set usually is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CraftDefaults {
    mass_kg: f64,
    pub rotors: u32,
    pub rotor_diameter_m: f64,
    pub radius_m: f64,
    pub profile_power_w: f64,
    pub aux_power_w: f64,
    pub drag_area_m2: f64,
    pub fall_drag_area_m2: f64,
    pub descent_mps: f64,
    pub cells: u32,
    hover_w: f64,
}

/// Mass, rotors, rotor diameter in inches, mass over drag area when falling. Estimates for generic classes.
const CLASSES: [(f64, u32, f64, f64); 7] = [
    (0.1, 4, 2.5, 17.0),
    (0.25, 4, 3.0, 25.0),
    (0.65, 4, 5.0, 30.0),
    (1.0, 4, 7.0, 31.0),
    (2.2, 4, 10.0, 35.0),
    (5.0, 6, 15.0, 42.0),
    (10.0, 6, 20.0, 45.0),
];

impl CraftDefaults {
    pub fn for_mass(mass_kg: f64) -> CraftDefaults {
        CraftDefaults::new(mass_kg, if mass_kg < 3.3 { 4 } else { 6 })
    }

    pub fn new(mass_kg: f64, rotors: u32) -> CraftDefaults {
        let mass_kg = mass_kg.clamp(0.1, 10.0);
        let (diameter_in, _) = interpolated(mass_kg);
        let usual = if mass_kg < 3.3 { 4.0 } else { 6.0 };
        // The disc area belongs to the mass: other rotor counts share it.
        let diameter_m = diameter_in * 0.0254 * (usual / f64::from(rotors)).sqrt();
        CraftDefaults {
            mass_kg,
            rotors,
            rotor_diameter_m: diameter_m,
            radius_m: 0.0,
            profile_power_w: 0.0,
            aux_power_w: (10.0 * mass_kg.sqrt()).clamp(3.0, 25.0),
            drag_area_m2: 0.018 * libm::cbrt(mass_kg * mass_kg),
            fall_drag_area_m2: mass_kg / interpolated(mass_kg).1,
            descent_mps: 0.0,
            cells: match mass_kg {
                m if m < 0.15 => 2,
                m if m < 0.4 => 4,
                m if m < 3.3 => 6,
                _ => 12,
            },
            hover_w: 0.0,
        }
        .with_rotors(rotors, diameter_m)
    }

    /// The same mass on stated rotors.
    pub fn with_rotors(self, rotors: u32, rotor_diameter_m: f64) -> CraftDefaults {
        let disc_m2 = f64::from(rotors) * std::f64::consts::PI * 0.25 * rotor_diameter_m * rotor_diameter_m;
        let weight_n = self.mass_kg * crate::units::STANDARD_GRAVITY_MPS2;
        let induced_mps = (weight_n / (2.0 * 1.225 * disc_m2)).sqrt();
        // Four 7-inch rotors have 0.0993 m² of disc.
        let profile_power_w = 32.0 * self.mass_kg * self.mass_kg.sqrt() * (0.0993 / disc_m2).sqrt();
        CraftDefaults {
            rotors,
            rotor_diameter_m,
            radius_m: 1.2 * rotor_diameter_m,
            profile_power_w,
            descent_mps: 0.4 * induced_mps,
            hover_w: (1.15 * weight_n * induced_mps + profile_power_w) / 0.78 + self.aux_power_w,
            ..self
        }
    }

    /// Capacity that hovers 20 minutes at 3.7 V a cell.
    pub fn capacity_ah(&self, cells: u32) -> f64 {
        self.hover_w * (20.0 / 60.0) / (3.7 * f64::from(cells))
    }

    /// 40 mΩ for six cells of 2.2 Ah, in series and by capacity.
    pub fn resistance_ohm(&self, cells: u32, capacity_ah: f64) -> f64 {
        0.040 * f64::from(cells) / 6.0 * 2.2 / capacity_ah
    }
}

/// Rotor diameter in inches and mass over falling drag area, straight lines over the logarithm of the mass.
fn interpolated(mass_kg: f64) -> (f64, f64) {
    let after = CLASSES.iter().position(|class| class.0 >= mass_kg).unwrap_or(CLASSES.len() - 1).max(1);
    let (low, high) = (CLASSES[after - 1], CLASSES[after]);
    let t = libm::log(mass_kg / low.0) / libm::log(high.0 / low.0);
    (low.2 + t * (high.2 - low.2), low.3 + t * (high.3 - low.3))
}
