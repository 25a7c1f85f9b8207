//! Trees on the path.

use super::range::{OutOfRange, within};

#[inline]
fn woodland(depth_m: f64, specific_db_per_m: f64, greatest_db: f64) -> f64 {
    -greatest_db * libm::expm1(-depth_m * specific_db_per_m / greatest_db)
}

/// Rows of (frequency in MHz, γ in dB/m, Am in dB): mixed forest.
///
/// The first five are ITU-R P.833-9 table 1. The last two have no table value: γ is read from memory off the curve
/// of its figure 2 for trees in leaf, Am continued as f^0.43 (an estimate).
const MIXED_FOREST: [(f64, f64, f64); 7] = [
    (105.9, 0.04, 9.4),
    (466.475, 0.12, 18.0),
    (949.0, 0.17, 26.5),
    (1852.2, 0.30, 29.0),
    (2117.5, 0.34, 34.1),
    (2400.0, 0.40, 36.0),
    (5800.0, 1.00, 52.6),
];

/// What bare trees leave of the loss in leaf. From memory: some 20 % less at UHF.
const BARE_SHARE: f64 = 0.8;

/// Woodland at one frequency and season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Woodland {
    /// Loss per metre of canopy at first.
    pub specific_db_per_m: f64,
    /// Loss that depth does not exceed.
    pub greatest_db: f64,
}

impl Woodland {
    /// Mixed forest at this frequency, interpolated over the logarithm of frequency in the logarithms of both figures.
    ///
    /// # Errors
    /// Frequency outside 100 MHz to 6 GHz.
    ///
    /// # Source
    /// ITU-R P.833-9 table 1 up to 2.1 GHz; above an estimate (figure 2 from memory). Out of leaf: 20 % less (from memory).
    pub fn mixed_forest(frequency_hz: f64, in_leaf: bool) -> Result<Self, OutOfRange> {
        within("frequency in Hz", frequency_hz, 100e6, 6e9)?;
        let mhz = frequency_hz * 1e-6;
        let rows = &MIXED_FOREST;
        let last = rows.len() - 2;
        let index = (0..last).find(|i| mhz <= rows[i + 1].0).unwrap_or(last);
        let ((f0, g0, a0), (f1, g1, a1)) = (rows[index], rows[index + 1]);
        let share = libm::log(mhz / f0) / libm::log(f1 / f0);
        let between = |low: f64, high: f64| low * libm::exp(share * libm::log(high / low));
        let season = if in_leaf { 1.0 } else { BARE_SHARE };
        Ok(Woodland { specific_db_per_m: season * between(g0, g1), greatest_db: season * between(a0, a1) })
    }

    /// Loss in dB for this length of ray, ≥ 0, inside the canopy.
    #[inline]
    pub fn loss_db(&self, depth_m: f64) -> f64 {
        woodland(depth_m, self.specific_db_per_m, self.greatest_db)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_met_and_between_its_rows_lies_between() {
        // ITU-R P.833-9 table 1, 949 MHz.
        let row = Woodland::mixed_forest(949e6, true).unwrap();
        assert!((row.specific_db_per_m - 0.17).abs() < 1e-12 && (row.greatest_db - 26.5).abs() < 1e-12);
        let between = Woodland::mixed_forest(1.2e9, true).unwrap();
        assert!(between.specific_db_per_m > 0.17 && between.specific_db_per_m < 0.30);
        assert!(Woodland::mixed_forest(10e9, true).is_err());
    }

    #[test]
    fn bare_trees_lose_less_and_depth_saturates() {
        let leaf = Woodland::mixed_forest(2.4e9, true).unwrap();
        let bare = Woodland::mixed_forest(2.4e9, false).unwrap();
        assert!(bare.loss_db(50.0) < leaf.loss_db(50.0));
        assert!(leaf.loss_db(1e5) <= leaf.greatest_db + 1e-9);
        assert_eq!(leaf.loss_db(0.0), 0.0);
    }
}
