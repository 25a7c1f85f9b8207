//! The craft of a scenario as parameters of the models, for one flight or for planning.

use crate::craft::{FallBody, HeldLoop, LevelFlight, Mover, Pack, Rotors, TouchLimits, battery, rotor};
use crate::failsafe::Limits;
use crate::scenario::{CellForm, Craft};
use crate::units::STANDARD_GRAVITY_MPS2;

/// Power model of a craft.
pub fn rotors(craft: &Craft<f64>) -> Rotors {
    Rotors {
        disc_area_m2: rotor::disc_area_m2(craft.rotors, craft.rotor_diameter_m),
        induced_factor: craft.induced_factor,
        profile_power_w: craft.profile_power_w,
        tip_speed_mps: craft.tip_speed_mps,
        drag_area_m2: craft.drag_area_m2,
        drive_efficiency: craft.drive_efficiency,
        aux_power_w: craft.aux_power_w,
    }
}

/// Steady flight of a craft, for planning.
pub fn level_flight(craft: &Craft<f64>, density_kgpm3: f64) -> LevelFlight {
    rotors(craft).level(craft.flown_mass_kg(), density_kgpm3).with_linear_drag(craft.linear_drag_per_s)
}

/// Motion of a craft. `level_error` are the slopes of its attitude error in this flight.
///
/// The thrust ratio is that of the scenario's middle mass: neither a payload nor a heavier draw makes the motors stronger.
pub fn mover(craft: &Craft<f64>, level_error: [f64; 2]) -> Mover {
    Mover {
        mass_kg: craft.flown_mass_kg(),
        linear_drag_per_s: craft.linear_drag_per_s,
        rotors: rotors(craft),
        tilt_max_tan: libm::tan(craft.tilt_max_deg.to_radians()),
        thrust_max_n: craft.thrust_ratio * craft.rated_mass_kg * STANDARD_GRAVITY_MPS2,
        accel_max_mps2: craft.accel_mps2,
        climb_max_mps: craft.climb_mps,
        descent_max_mps: craft.descent_mps,
        velocity_loop: HeldLoop::restless(craft.velocity_lag_s),
        attitude_lag_s: craft.attitude_lag_s,
        level_error,
    }
}

/// What the craft can do, as its pilot and its policies count on it.
pub fn limits(craft: &Craft<f64>) -> Limits {
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
pub fn pack(craft: &Craft<f64>, air_temperature_k: f64) -> Pack {
    let stated = &craft.battery;
    let temperature_k = stated.temperature_c.map_or(air_temperature_k, |t| t + 273.15);
    let cold = match stated.cell_form {
        CellForm::Pouch => 1.0,
        CellForm::Cylinder => battery::cylinder_capacity_factor(temperature_k, stated.cold_loss),
    };
    Pack {
        cells: f64::from(stated.cells),
        capacity_ah: stated.capacity_ah * stated.health * cold,
        resistance_ohm: stated.resistance_ohm * battery::resistance_factor(temperature_k, stated.resistance_b_k),
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
pub fn fall_body(craft: &Craft<f64>) -> FallBody {
    FallBody::new(craft.flown_mass_kg(), craft.fall_drag_area_m2)
}

/// What a touch-down may be like.
pub fn touch_limits(craft: &Craft<f64>) -> TouchLimits {
    TouchLimits {
        soft_mps: craft.soft_touch_mps.map(|speed| craft.touch_factor * speed),
        hard_mps: craft.hard_touch_mps.map(|speed| craft.touch_factor * speed),
        tip_slope_rad: craft.tip_slope_deg.to_radians(),
    }
}
