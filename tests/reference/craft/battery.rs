//! The pack: open-circuit voltage, resistance, current at a demanded power, and what its voltage makes the craft do.

use lostlink::craft::Pack;
use lostlink::craft::battery::*;

/// Constant of [`resistance_factor`] of one pack, K.
///
/// # Source
/// R = 1.1e-6 exp(3131/T) Ω fitted to a two-cell 2.2 Ah pack over 0–30 °C in a web article of 2010; other packs differ.
pub const RESISTANCE_B_K: f64 = 3_131.0;

/// A pouch pack with default filter and hysteresis that heeds its voltage alone. `resistance_ohm` is that at 25 °C;
/// `temperature_k` the cells'.
pub fn pouch_pack(
    cells: u32,
    capacity_ah: f64,
    resistance_ohm: f64,
    temperature_k: f64,
    [warn_v, land_v, cutoff_v]: [f64; 3],
) -> Pack {
    Pack {
        cells: f64::from(cells),
        capacity_ah,
        resistance_ohm: resistance_ohm * resistance_factor(temperature_k, RESISTANCE_B_K),
        warn_v,
        land_v,
        cutoff_v,
        warn_charge: 0.0,
        land_charge: 0.0,
        filter_s: FILTER_S,
        hysteresis_v: HYSTERESIS_V,
    }
}

/// Open-circuit energy between two states of charge, J: the voltage is straight between its nodes at every twentieth, so that
/// trapezoids are exact.
pub fn open_circuit_energy_j(pack: &Pack, from: f64, to: f64) -> f64 {
    let inside = (1..20).map(|k| f64::from(k) / 20.0).filter(|node| (to..from).contains(node));
    let ends: Vec<f64> = std::iter::once(to).chain(inside).chain([from]).collect();
    let mean_v = |a: f64, b: f64| 0.5 * (pack.open_circuit_v(a) + pack.open_circuit_v(b));
    let charge_v: f64 = ends.windows(2).map(|piece| mean_v(piece[0], piece[1]) * (piece[1] - piece[0])).sum();
    3_600.0 * pack.capacity_ah * charge_v
}

/// Alternative closed form for a cell that ends at 4.10 V, V.
///
/// # Source
/// Chen and Rincón-Mora, "Accurate electrical battery model capable of predicting runtime and I–V performance",
/// IEEE Trans. Energy Conversion 21(2), 2006, equation 2.
pub fn cell_fit_v(charge: f64) -> f64 {
    let s = charge;
    -1.031 * libm::exp(-35.0 * s) + 3.685 + s * (0.215_6 + s * (-0.117_8 + s * 0.320_1))
}

/// Discharge time in s by Peukert's law. Shown for completeness: together with a resistance it counts the
/// same loss twice, so the simulation does not use it.
pub fn peukert_time_s(capacity_ah: f64, rating_h: f64, current_a: f64, exponent: f64) -> f64 {
    3_600.0 * rating_h * libm::pow(capacity_ah / (current_a * rating_h), exponent)
}

/// Time in s for a low-pass filtered voltage to reach a threshold after a step; `None` when it never does.
pub fn filter_crossing_s(time_constant_s: f64, before_v: f64, after_v: f64, threshold_v: f64) -> Option<f64> {
    let ratio = (before_v - after_v) / (threshold_v - after_v);
    if before_v == threshold_v {
        return Some(0.0);
    }
    (ratio.is_finite() && ratio >= 1.0).then(|| time_constant_s * libm::log(ratio))
}

/// Time in s at constant power from one state of charge down to another; `None` when the pack cannot deliver
/// that power all the way, or when `to` is above `from`.
pub fn time_to_charge_s(pack: &Pack, power_w: f64, from: f64, to: f64) -> Option<f64> {
    if to > from || power_w <= 0.0 || max_power_w(pack.open_circuit_v(to), pack.resistance_ohm) < power_w {
        return None;
    }
    // dt = 3600 Q/I dσ; the voltage is straight between nodes, so each piece is integrated by Simpson's rule.
    const PIECES: usize = 64;
    let inverse = |charge: f64| 1.0 / current_a(power_w, pack.open_circuit_v(charge), pack.resistance_ohm);
    let (mut sum, mut low) = (0.0, to);
    while low < from {
        // The next node above; the margin keeps rounding from making an empty piece.
        let high = (((low * 20.0 + 1e-9).floor() + 1.0) / 20.0).min(from);
        let h = (high - low) / PIECES as f64;
        let inside: f64 = (1..PIECES).map(|k| (if k % 2 == 1 { 4.0 } else { 2.0 }) * inverse(low + h * k as f64)).sum();
        sum += h / 3.0 * (inverse(low) + inside + inverse(high));
        low = high;
    }
    Some(3_600.0 * pack.capacity_ah * sum)
}

/// Time in s at constant power until [`Pack::charge_at_cutoff`]; 0 when it is passed already, `None` when the
/// pack is empty before.
pub fn time_to_cutoff_s(pack: &Pack, power_w: f64, from: f64, cutoff_v_per_cell: f64) -> Option<f64> {
    let to = pack.charge_at_cutoff(power_w, cutoff_v_per_cell)?;
    if to >= from {
        return Some(0.0);
    }
    // A hair above the charge of collapse, where the demand is just deliverable.
    time_to_charge_s(pack, power_w, from, to).or_else(|| time_to_charge_s(pack, power_w, from, to + 1e-9))
}
