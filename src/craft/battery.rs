//! The pack: open-circuit voltage, resistance, current at a demanded power, and what its voltage makes the craft do.

/// Reference temperature of the pack's resistance, K: 25 °C.
const REFERENCE_K: f64 = 298.15;

/// Constant of [`resistance_factor`] over lithium-polymer packs, K: low, likeliest, high.
///
/// # Source
/// 3 131 of a two-cell 2.2 Ah pack over 0–30 °C (R = 1.1e-6 exp(3131/T) Ω in a web article of 2010) in the middle; 4 280–4 710 K between neighbouring temperatures from 25 down to −15 °C of a 5.1 Ah pouch power
/// cell (Plett's public cell set, computed); the low end is an estimate for packs that warm up in use.
pub const POUCH_B_K: [f64; 3] = [2_000.0, 3_100.0, 4_500.0];

/// The same over cylindrical lithium-ion cells, K, their own warming included.
///
/// # Source
/// Ten-second resistances at −10 °C over those at 25 °C of six cells cycled cold at 1C: 1.17–1.84, mean 1.44, which is 350–1 370 K
/// (open data set of cold 1C cycles, 2024, computed); the high end is an estimate for cells that stay cold.
pub const CYLINDER_B_K: [f64; 3] = [400.0, 900.0, 3_000.0];

/// Share of the charge that a cylindrical cell gives when it starts cold, over that at 25 °C; `loss` is a factor on what is
/// lost. At least 0.2.
///
/// # Source
/// 0.81 ± 0.07 at −10 °C: six cells discharged at 1C to 2.5 V gave 13–31 points of their capacity less than at 25 °C, mean
/// 19 (open data set of cold 1C cycles, 2024, computed). 0.90 at 0 °C and straight lines in between and beyond are interpolation.
/// Pouches lose none: 0.94–1.0 at −10 °C (Kollmeyer and Skells 2020 as quoted; Plett's public cell set).
pub fn cylinder_capacity_factor(cell_temperature_k: f64, loss: f64) -> f64 {
    let celsius = cell_temperature_k - 273.15;
    let lost = if celsius >= 25.0 {
        0.0
    } else if celsius >= 0.0 {
        0.10 * (25.0 - celsius) / 25.0
    } else {
        0.10 - 0.009 * celsius
    };
    (1.0 - loss * lost).max(0.2)
}

/// Spread of the loss of [`cylinder_capacity_factor`]: 0.07 of 0.19, one standard deviation.
pub const COLD_LOSS_SIGMA: f64 = 0.37;

/// Open-circuit voltage per cell at states of charge 0, 0.05, …, 1, V.
///
/// # Source
/// Parameter set of Ai et al., "Electrochemical thermal-mechanical modelling of stress inhomogeneity in
/// lithium-ion pouch cells", J. Electrochem. Soc. 167, 013512, 2020 (LCO/graphite pouch cell, 4.2 V to 3.0 V),
/// evaluated with a battery modelling library at 14 nodes, straight lines between them.
const OPEN_CIRCUIT_V: [f64; 21] = {
    let mut table = [0.0; 21];
    // (index of the node, V); the nodes lie on the uniform grid, so nothing is lost.
    let nodes: [(usize, f64); 14] = [
        (0, 3.0000),
        (1, 3.5421),
        (2, 3.6396),
        (3, 3.6654),
        (4, 3.6954),
        (6, 3.7331),
        (8, 3.7622),
        (10, 3.7925),
        (12, 3.8365),
        (14, 3.9089),
        (16, 3.9945),
        (18, 4.0879),
        (19, 4.1384),
        (20, 4.2000),
    ];
    let mut n = 0;
    while n + 1 < nodes.len() {
        let (from, from_v) = nodes[n];
        let (to, to_v) = nodes[n + 1];
        let mut k = from;
        while k <= to {
            table[k] = from_v + (to_v - from_v) * ((k - from) as f64 / (to - from) as f64);
            k += 1;
        }
        n += 1;
    }
    table
};

/// Open-circuit voltage of one cell, V; `charge` is clamped to 0..=1.
///
/// # Source
/// The table of `OPEN_CIRCUIT_V`: Ai et al. 2020.
#[inline]
pub fn cell_open_circuit_v(charge: f64) -> f64 {
    let place = charge.clamp(0.0, 1.0) * 20.0;
    let index = (place as usize).min(19);
    OPEN_CIRCUIT_V[index] + (place - index as f64) * (OPEN_CIRCUIT_V[index + 1] - OPEN_CIRCUIT_V[index])
}

/// State of charge at which a cell has an open-circuit voltage: 0 below 3.0 V, 1 above 4.2 V.
pub fn charge_at_open_circuit(cell_v: f64) -> f64 {
    let Some(index) = (0..20).find(|&k| cell_v < OPEN_CIRCUIT_V[k + 1]) else { return 1.0 };
    let share = (cell_v - OPEN_CIRCUIT_V[index]) / (OPEN_CIRCUIT_V[index + 1] - OPEN_CIRCUIT_V[index]);
    (index as f64 + share.max(0.0)) / 20.0
}

/// Voltage at the terminals under load, V.
#[inline]
pub fn terminal_v(open_circuit_v: f64, resistance_ohm: f64, current_a: f64) -> f64 {
    open_circuit_v - current_a * resistance_ohm
}

/// Greatest power in W that a pack can deliver; infinite without resistance.
///
/// # Source
/// Maximum power transfer: V_oc²/(4R).
#[inline]
pub fn max_power_w(open_circuit_v: f64, resistance_ohm: f64) -> f64 {
    open_circuit_v * open_circuit_v / (4.0 * resistance_ohm)
}

/// Current in A for a demanded power; a demand above [`max_power_w`] is clipped to it.
///
/// # Source
/// P = (V_oc − I R) I: I = (V_oc − √(V_oc² − 4RP))/(2R), written as 2P/(V_oc + √…), which also holds at R = 0.
#[inline]
pub fn current_a(power_w: f64, open_circuit_v: f64, resistance_ohm: f64) -> f64 {
    let under = open_circuit_v * open_circuit_v - 4.0 * resistance_ohm * power_w;
    if under <= 0.0 {
        return open_circuit_v / (2.0 * resistance_ohm);
    }
    2.0 * power_w / (open_circuit_v + under.sqrt())
}

/// Resistance over that at 25 °C.
///
/// # Source
/// Arrhenius form exp(B (1/T − 1/298.15)); see [`POUCH_B_K`].
pub fn resistance_factor(cell_temperature_k: f64, b_k: f64) -> f64 {
    libm::exp(b_k * (1.0 / cell_temperature_k - 1.0 / REFERENCE_K))
}

/// What the pack's state makes the craft do. Ordered: worse is greater.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum PackLevel {
    /// Nothing.
    #[default]
    Fine,
    /// A warning is given; it goes again when the voltage recovers.
    Warn,
    /// The craft comes down by itself; never taken back.
    Land,
    /// No thrust; never taken back.
    Cutoff,
}

/// A pack with its thresholds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pack {
    /// Cells in series.
    pub cells: f64,
    /// Capacity left.
    pub capacity_ah: f64,
    /// Resistance at its temperature.
    pub resistance_ohm: f64,
    /// Filtered voltage per cell at which it warns …
    pub warn_v: f64,
    /// … the craft comes down by itself …
    pub land_v: f64,
    /// … and thrust is lost.
    pub cutoff_v: f64,
    /// State of charge at which it warns …
    pub warn_charge: f64,
    /// … and the craft comes down by itself. The charge is what is watched; the voltage is the backstop, for a pack that
    /// holds less than it is taken for.
    pub land_charge: f64,
    /// Time constant of the filter before the thresholds.
    pub filter_s: f64,
    /// The warning goes when the voltage is this much above its threshold.
    pub hysteresis_v: f64,
}

/// Default time constant of the voltage filter, s (estimate: longer than a gust response, shorter than a climb).
pub const FILTER_S: f64 = 2.0;

/// Default hysteresis of the warning, V per cell (estimate).
pub const HYSTERESIS_V: f64 = 0.05;

/// State of a pack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PackState {
    /// State of charge, 0 to 1.
    pub charge: f64,
    /// Filtered voltage per cell.
    pub filtered_cell_v: f64,
    /// Level reached.
    pub level: PackLevel,
}

/// What one step of a pack gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PackNow {
    /// Voltage per cell under load.
    pub cell_v: f64,
    /// Current.
    pub current_a: f64,
    /// Power delivered: the demand, or less when the pack cannot.
    pub power_w: f64,
    /// The pack could not deliver what was demanded.
    pub power_limited: bool,
    /// Level after the step.
    pub level: PackLevel,
}

impl Pack {
    /// A state at rest.
    pub fn at(&self, charge: f64) -> PackState {
        PackState { charge, filtered_cell_v: cell_open_circuit_v(charge), level: PackLevel::Fine }
    }

    /// Open-circuit voltage of the pack, V.
    #[inline]
    pub fn open_circuit_v(&self, charge: f64) -> f64 {
        self.cells * cell_open_circuit_v(charge)
    }

    /// Draws a power for a step. Charge is counted by current; the level follows the charge and the filtered voltage per
    /// cell, whichever is worse, and an empty pack is a cut-off whatever the filter says.
    #[inline]
    pub fn step(&self, state: &mut PackState, power_w: f64, step_s: f64) -> PackNow {
        // Inverses that do not wait for the state: they leave the loop, or run beside it.
        let (per_cell, per_coulomb) = (1.0 / self.cells, 1.0 / (3_600.0 * self.capacity_ah));
        let open_v = self.open_circuit_v(state.charge);
        let current_a = current_a(power_w.max(0.0), open_v, self.resistance_ohm);
        let loaded_v = terminal_v(open_v, self.resistance_ohm, current_a);
        let delivered_w = loaded_v * current_a;
        let limited = delivered_w < power_w * (1.0 - 1e-9);
        state.charge = (state.charge - current_a * step_s * per_coulomb).max(0.0);
        let cell_v = loaded_v * per_cell;
        state.filtered_cell_v += (cell_v - state.filtered_cell_v) * lag_share(step_s, self.filter_s);
        let v = state.filtered_cell_v;
        let reached = if v <= self.cutoff_v || state.charge <= 0.0 {
            PackLevel::Cutoff
        } else if v <= self.land_v || state.charge <= self.land_charge {
            PackLevel::Land
        } else if v <= self.warn_v
            || state.charge <= self.warn_charge
            || (state.level == PackLevel::Warn && v <= self.warn_v + self.hysteresis_v)
        {
            PackLevel::Warn
        } else {
            PackLevel::Fine
        };
        if reached > state.level || state.level <= PackLevel::Warn {
            state.level = reached;
        }
        PackNow { cell_v, current_a, power_w: delivered_w, power_limited: limited, level: state.level }
    }

    /// Share of the full pack's thrust left at a voltage per cell under load.
    ///
    /// # Source
    /// Thrust goes with revolutions squared and revolutions with voltage: (V/4.2)² (estimate; ignores that current falls too).
    #[inline]
    pub fn thrust_share(cell_v: f64) -> f64 {
        let share = cell_v * (1.0 / FULL_CELL_V);
        share * share
    }

    /// State of charge at which the voltage per cell under a constant power falls to `cutoff_v`, or at which the
    /// pack can no longer deliver that power, whichever comes first. 1 when that is so with a full pack already;
    /// `None` when the pack is empty before.
    pub fn charge_at_cutoff(&self, power_w: f64, cutoff_v_per_cell: f64) -> Option<f64> {
        let cutoff_v = cutoff_v_per_cell * self.cells;
        // Below √(RP) no terminal voltage is possible: the pack collapses there.
        let least_v = (power_w * self.resistance_ohm).sqrt();
        let open_v =
            if cutoff_v > least_v { cutoff_v + self.resistance_ohm * power_w / cutoff_v } else { 2.0 * least_v };
        let cell_v = open_v / self.cells;
        (cell_v >= OPEN_CIRCUIT_V[0]).then(|| charge_at_open_circuit(cell_v))
    }

    /// State of charge at which this much power brings the pack to a level, or at which it can no longer deliver it.
    pub fn charge_at_level(&self, level: PackLevel, power_w: f64) -> f64 {
        let (charge, cell_v) = match level {
            PackLevel::Fine => return 1.0,
            PackLevel::Warn => (self.warn_charge, self.warn_v),
            PackLevel::Land => (self.land_charge, self.land_v),
            PackLevel::Cutoff => (0.0, self.cutoff_v),
        };
        self.charge_at_cutoff(power_w, cell_v).unwrap_or(0.0).max(charge)
    }

    /// Charge used by an energy at the terminals, drawn at a power from a state of charge; more than `from` when the
    /// pack does not hold that much, `None` when it cannot deliver that power. For planning: the voltage is taken
    /// half-way through.
    pub fn charge_used(&self, energy_j: f64, power_w: f64, from: f64) -> Option<f64> {
        let mut used = 0.0;
        for _ in 0..3 {
            let open_v = self.open_circuit_v((from - 0.5 * used).max(0.0));
            if power_w > max_power_w(open_v, self.resistance_ohm) {
                return None;
            }
            let loaded_v = terminal_v(open_v, self.resistance_ohm, current_a(power_w, open_v, self.resistance_ohm));
            used = energy_j / (loaded_v * 3_600.0 * self.capacity_ah);
        }
        Some(used)
    }
}

/// Voltage of a full cell, V.
pub const FULL_CELL_V: f64 = OPEN_CIRCUIT_V[20];

/// Share of the way that a first-order lag covers in a step, 1 − exp(−Δt/τ): up to Δt = 2τ by a Padé form (within 4e-6), beyond by
/// the exponential function; 1 without a time constant.
///
/// # Source
/// [4/4] Padé approximant of the exponential function.
#[inline]
pub(crate) fn lag_share(step_s: f64, time_constant_s: f64) -> f64 {
    if time_constant_s <= 0.0 {
        return 1.0;
    }
    let x = step_s / time_constant_s;
    if x > 2.0 {
        return -libm::expm1(-x);
    }
    // 1 − (even − odd)/(even + odd), even = 1680 + 180x² + x⁴, odd = 840x + 20x³.
    let x2 = x * x;
    let (even, odd) = (1_680.0 + x2 * (180.0 + x2), x * (840.0 + 20.0 * x2));
    2.0 * odd / (even + odd)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reference() -> Pack {
        crate::reference::craft::battery::pouch_pack(6, 2.2, 0.04, 298.15, [3.5, 3.3, 3.0])
    }

    #[test]
    fn the_table_and_its_inverse() {
        assert_eq!(cell_open_circuit_v(0.25), 0.5 * (3.6954 + 3.7331));
        assert_eq!((cell_open_circuit_v(-1.0), cell_open_circuit_v(2.0)), (3.0, 4.2));
        for k in 0..=1_000 {
            let charge = f64::from(k) / 1_000.0;
            assert!((charge_at_open_circuit(cell_open_circuit_v(charge)) - charge).abs() < 1e-12);
        }
        assert_eq!((charge_at_open_circuit(2.0), charge_at_open_circuit(5.0)), (0.0, 1.0));
    }

    #[test]
    fn a_demand_beyond_the_pack_is_clipped() {
        let pack = reference();
        let mut state = pack.at(0.5);
        let now = pack.step(&mut state, 1e6, 0.05);
        assert!(now.power_limited && now.current_a.is_finite());
        assert!((now.power_w / max_power_w(pack.open_circuit_v(0.5), 0.04) - 1.0).abs() < 1e-12);
        assert_eq!(current_a(100.0, 24.0, 0.0), 100.0 / 24.0);
    }

    /// The warning goes with hysteresis, the forced descent stays.
    #[test]
    fn levels_latch() {
        let pack = Pack { filter_s: 0.0, ..reference() };
        let mut state = pack.at(0.05);
        assert_eq!(pack.step(&mut state, 300.0, 0.05).level, PackLevel::Warn);
        let mut state = PackState { charge: 0.06, ..state };
        assert_eq!(pack.step(&mut state, 1.0, 0.05).level, PackLevel::Fine);
        let mut state = pack.at(0.02);
        assert_eq!(pack.step(&mut state, 400.0, 0.05).level, PackLevel::Land);
        state.charge = 0.9;
        assert_eq!(pack.step(&mut state, 1.0, 0.05).level, PackLevel::Land);
        state.charge = 0.0;
        assert_eq!(pack.step(&mut state, 1.0, 0.05).level, PackLevel::Cutoff);
    }

    /// The charge brings the levels on while the voltage is still high, and the voltage while the charge is.
    #[test]
    fn charge_or_voltage_makes_the_level() {
        let pack = Pack { warn_charge: 0.2, land_charge: 0.1, filter_s: 0.0, ..reference() };
        for (charge, power_w, want) in [
            (0.5, 143.0, PackLevel::Fine),
            (0.19, 20.0, PackLevel::Warn),
            (0.09, 20.0, PackLevel::Land),
            (0.5, 1_900.0, PackLevel::Land),
        ] {
            let mut state = pack.at(charge);
            assert_eq!(pack.step(&mut state, power_w, 0.01).level, want, "{charge} {power_w}");
            let least = pack.charge_at_level(want, power_w);
            assert!(want == PackLevel::Fine || charge <= least + 1e-9, "{charge} {power_w} {least}");
        }
        // Above the charge of a level the power does not bring it on, below it does.
        for level in [PackLevel::Warn, PackLevel::Land, PackLevel::Cutoff] {
            for power_w in [20.0, 200.0, 700.0, 1_500.0] {
                let least = pack.charge_at_level(level, power_w);
                for (charge, reached) in [(least + 1e-3, false), (least - 1e-3, true)] {
                    if (1e-3..1.0).contains(&charge) {
                        let mut state = pack.at(charge);
                        assert_eq!(pack.step(&mut state, power_w, 1e-6).level >= level, reached, "{level:?} {power_w}");
                    }
                }
            }
        }
    }

    /// Cylindrical cells give less charge in the cold, and their resistance grows as measured.
    #[test]
    fn cold_cylinders_are_as_measured() {
        let at = |celsius: f64, loss: f64| cylinder_capacity_factor(celsius + 273.15, loss);
        assert_eq!((at(25.0, 1.0), at(40.0, 1.0)), (1.0, 1.0));
        assert!((at(0.0, 1.0) - 0.90).abs() < 1e-12 && (at(-10.0, 1.0) - 0.81).abs() < 1e-12);
        assert!((at(-10.0, 1.0 + COLD_LOSS_SIGMA) - 0.74).abs() < 1e-3);
        let grown = |b_k: f64| resistance_factor(263.15, b_k);
        assert!((1.17..1.84).contains(&grown(CYLINDER_B_K[0])) && (1.17..1.84).contains(&grown(CYLINDER_B_K[1])));
        // 11.2 mΩ at 25 °C and 127 mΩ at −15 °C of the pouch power cell (Plett): within what is drawn.
        let pouch = |b_k: f64| 11.2 * resistance_factor(258.15, b_k);
        assert!(pouch(POUCH_B_K[1]) < 127.0 && 127.0 < 1.15 * pouch(POUCH_B_K[2]));
    }

    #[test]
    fn lag_share_is_the_exponential() {
        for x in [1e-4, 0.01, 0.1, 0.5, 1.0, 1.5, 2.0, 2.5] {
            assert!((lag_share(x, 1.0) - (1.0 - libm::exp(-x))).abs() < 4e-6, "{x}");
        }
        assert!(lag_share(100.0, 1.0) <= 1.0 && lag_share(1.0, 0.0) == 1.0);
    }
}
