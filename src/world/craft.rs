//! The craft of a scenario as parameters of the models, for one flight or for planning.

use crate::craft::{FallBody, LevelFlight, Mover, Pack, Rotors, TouchLimits, battery, rotor};
use crate::failsafe::Limits;
use crate::scenario::{CellForm, Craft};
use crate::units::STANDARD_GRAVITY_MPS2;

/// Values of the craft in one flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CraftDraws {
    /// Mass with pack and payload.
    pub mass_kg: f64,
    /// Linear rotor drag over mass.
    pub linear_drag_per_s: f64,
    /// Drag area in level flight.
    pub drag_area_m2: f64,
    /// Drag area when falling.
    pub fall_drag_area_m2: f64,
    /// Capacity left through age, as a share.
    pub health: f64,
    /// Resistance of the pack at 25 °C.
    pub resistance_ohm: f64,
    /// Constant of its growth in the cold.
    pub resistance_b_k: f64,
    /// Factor on the charge lost in the cold.
    pub cold_loss: f64,
    /// Efficiency of motors and their controllers.
    pub drive_efficiency: f64,
    /// State of charge at take-off, 0 to 1.
    pub charge: f64,
}

impl CraftDraws {
    /// The middle values, for planning.
    pub fn central(craft: &Craft) -> CraftDraws {
        CraftDraws {
            mass_kg: craft.mass_kg.central() + craft.payload_kg,
            linear_drag_per_s: craft.linear_drag_per_s.central(),
            drag_area_m2: craft.drag_area_m2.central(),
            fall_drag_area_m2: craft.fall_drag_area_m2.central(),
            health: craft.battery.health.central(),
            resistance_ohm: craft.battery.resistance_ohm.central(),
            resistance_b_k: craft.battery.resistance_b_k.central(),
            cold_loss: craft.battery.cold_loss.central(),
            drive_efficiency: craft.drive_efficiency.central(),
            charge: craft.battery.charge_pct.central() / 100.0,
        }
    }
}

/// Power model of a craft.
pub fn rotors(craft: &Craft, draws: &CraftDraws) -> Rotors {
    Rotors {
        disc_area_m2: rotor::disc_area_m2(craft.rotors, craft.rotor_diameter_m),
        induced_factor: craft.induced_factor,
        profile_power_w: craft.profile_power_w,
        tip_speed_mps: craft.tip_speed_mps,
        drag_area_m2: draws.drag_area_m2,
        drive_efficiency: draws.drive_efficiency,
        aux_power_w: craft.aux_power_w,
    }
}

/// Steady flight of a craft, for planning.
pub fn level_flight(craft: &Craft, draws: &CraftDraws, density_kgpm3: f64) -> LevelFlight {
    rotors(craft, draws).level(draws.mass_kg, density_kgpm3).with_linear_drag(draws.linear_drag_per_s)
}

/// Motion of a craft. `level_error` are the slopes of its attitude error in this flight.
///
/// The thrust ratio is that of the scenario's middle mass: neither a payload nor a heavier draw makes the motors stronger.
pub fn mover(craft: &Craft, draws: &CraftDraws, level_error: [f64; 2]) -> Mover {
    Mover {
        mass_kg: draws.mass_kg,
        linear_drag_per_s: draws.linear_drag_per_s,
        rotors: rotors(craft, draws),
        tilt_max_tan: libm::tan(craft.tilt_max_deg.to_radians()),
        thrust_max_n: craft.thrust_ratio * craft.rated_mass_kg * STANDARD_GRAVITY_MPS2,
        accel_max_mps2: craft.accel_mps2,
        climb_max_mps: craft.climb_mps,
        descent_max_mps: craft.descent_mps,
        velocity_lag_s: craft.velocity_lag_s,
        attitude_lag_s: craft.attitude_lag_s,
        level_error,
    }
}

/// What the craft can do, as its pilot and its policies count on it.
pub fn limits(craft: &Craft) -> Limits {
    Limits {
        cruise_mps: craft.cruise_mps,
        climb_mps: craft.climb_mps,
        descent_mps: craft.descent_mps,
        final_descent_mps: craft.final_descent_mps,
        slow_below_m: craft.slow_below_m,
        accel_mps2: craft.accel_mps2,
        velocity_lag_s: craft.velocity_lag_s,
    }
}

/// Pack of a craft; `air_temperature_k` holds when the scenario states no temperature of its own.
pub fn pack(craft: &Craft, draws: &CraftDraws, air_temperature_k: f64) -> Pack {
    let stated = &craft.battery;
    let temperature_k = stated.temperature_c.map_or(air_temperature_k, |t| t + 273.15);
    let cold = match stated.cell_form {
        CellForm::Pouch => 1.0,
        CellForm::Cylinder => battery::cylinder_capacity_factor(temperature_k, draws.cold_loss),
    };
    Pack {
        cells: f64::from(stated.cells),
        capacity_ah: stated.capacity_ah * draws.health * cold,
        resistance_ohm: draws.resistance_ohm * battery::resistance_factor(temperature_k, draws.resistance_b_k),
        warn_v: stated.warn_v,
        land_v: stated.land_v,
        cutoff_v: stated.cutoff_v,
        warn_charge: stated.warn_charge_pct / 100.0,
        land_charge: stated.land_charge_pct / 100.0,
        filter_s: battery::FILTER_S,
        hysteresis_v: battery::HYSTERESIS_V,
    }
}

/// The craft as a falling body.
pub fn fall_body(draws: &CraftDraws) -> FallBody {
    FallBody::new(draws.mass_kg, draws.fall_drag_area_m2)
}

/// What a touch-down may be like.
pub fn touch_limits(craft: &Craft) -> TouchLimits {
    TouchLimits {
        soft_mps: craft.soft_touch_mps,
        hard_mps: craft.hard_touch_mps,
        tip_slope_rad: craft.tip_slope_deg.to_radians(),
    }
}
