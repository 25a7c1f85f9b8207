//! How likely it is that others' transmissions silence a link long enough.

use super::interference::Spells;
use super::packets::BurstProcess;
use crate::geometry::cell_at;

/// Points along each side of a [`SilenceRate`] (estimate: fine enough that the rate between two is within a few per cent).
const POINTS: usize = 49;
/// Greatest log odds of a packet loss on it: 1 in 10,000 and its complement.
const MOST_LOG_ODDS: f64 = 9.2;
/// Greatest rate, 1/s: sooner than any receiver would notice; and one that nobody lives to see. Estimates.
const MOST_PER_S: f64 = 1e6;
const LEAST_PER_S: f64 = 1e-30;

/// How often a run of lost packets fills a receiver's patience while a source is on and off by turns, tabled over the
/// packet loss while it is off and while it is on.
///
/// Packets are lost independently given the source's state. The runs come at a steady rate after the first time that one
/// can be full.
///
/// # Source
/// Expected time to the first run: [`BurstProcess::first_run`]; its law is taken as exponential, which rare runs have.
#[derive(Debug, Clone)]
pub struct SilenceRate {
    /// Natural logarithm of the rate per second, by loss while off, then by loss while on.
    log_per_s: Vec<f32>,
}

impl SilenceRate {
    /// For a source with these spells, packets `interval_s` apart and a patience.
    pub fn new(spells: &Spells, interval_s: f64, patience_s: f64) -> SilenceRate {
        let [on_s, off_s] = spells.means_s();
        let run = (patience_s / interval_s).round().max(1.0) as u64;
        let loss = |index: usize| {
            let log_odds = MOST_LOG_ODDS * (2.0 * index as f64 / (POINTS - 1) as f64 - 1.0);
            1.0 / (1.0 + libm::exp(-log_odds))
        };
        let log_per_s = (0..POINTS * POINTS)
            .map(|index| {
                let (off, on) = (loss(index / POINTS), loss(index % POINTS));
                let process = if off_s <= 0.0 {
                    BurstProcess { good_to_bad: 1.0, bad_to_good: 0.0, loss_good: off, loss_bad: on }
                } else if on_s <= 0.0 {
                    BurstProcess { good_to_bad: 0.0, bad_to_good: 1.0, loss_good: off, loss_bad: on }
                } else {
                    BurstProcess::sampled(off_s, on_s, off, on, interval_s)
                };
                let wait_s = (process.first_run(run) - run as f64) * interval_s;
                // 0: at once; infinite: never.
                libm::log((1.0 / wait_s.max(1.0 / MOST_PER_S)).max(LEAST_PER_S)) as f32
            })
            .collect();
        SilenceRate { log_per_s }
    }

    /// The rate, 1/s, beyond the one that the loss while off would give by itself.
    pub fn extra_per_s(&self, loss_off: f64, loss_on: f64) -> f64 {
        let (off, on) = (place(loss_off), place(loss_on));
        (libm::exp(self.at(off, on)) - libm::exp(self.at(off, off))).max(0.0)
    }

    fn at(&self, (row, v): (usize, f64), (column, u): (usize, f64)) -> f64 {
        let value = |row: usize, column: usize| f64::from(self.log_per_s[row * POINTS + column]);
        let along = |row: usize| value(row, column) + u * (value(row, column + 1) - value(row, column));
        along(row) + v * (along(row + 1) - along(row))
    }
}

/// Cell and share within it for a loss.
fn place(loss: f64) -> (usize, f64) {
    let least = 1.0 / (1.0 + libm::exp(MOST_LOG_ODDS));
    let loss = loss.clamp(least, 1.0 - least);
    let x = (libm::log(loss / (1.0 - loss)) / MOST_LOG_ODDS + 1.0) * 0.5 * (POINTS - 1) as f64;
    let cell = cell_at(x, POINTS - 2);
    (cell, (x - cell as f64).clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::radio::packets::independent_first_run;

    /// A source that is always on is independent loss: Feller's waiting time.
    #[test]
    fn always_on_is_independent_loss() {
        let rate = SilenceRate::new(&Spells::new(1.0, 0.0), 0.02, 0.5);
        for loss in [0.5, 0.8, 0.93, 0.99] {
            let wait_s = (independent_first_run(loss, 25) - 25.0) * 0.02;
            let got = rate.extra_per_s(1e-4, loss);
            assert!((got * wait_s - 1.0).abs() < 0.1, "{loss}: {got} against {}", 1.0 / wait_s);
        }
        assert_eq!(SilenceRate::new(&Spells::new(0.0, 1.0), 0.02, 0.5).extra_per_s(0.2, 1.0), 0.0);
        // Long patience: no rate comes out of a chance too small for a number.
        for run in [80.0, 100.0, 125.0, 500.0] {
            let rate = SilenceRate::new(&Spells::new(1.0, 0.0), 0.01, run * 0.01);
            assert!((0..400).all(|i| rate.extra_per_s(0.0, f64::from(i) * 0.001) < 1e-9), "{run}");
        }
    }

    /// Spells of 2 s every 10 s that drown everything: the wait for one longer than the patience of 1 s, by renewal.
    #[test]
    fn long_spells_fill_the_patience() {
        let (on_s, off_s, patience_s) = (2.0, 8.0, 1.0);
        let rate = SilenceRate::new(&Spells::new(on_s, off_s), 0.02, patience_s);
        // A spell is long enough with chance p; else it costs its own length and another gap.
        let p = libm::exp(-patience_s / on_s);
        let short_s = (on_s - (on_s + patience_s) * p) / (1.0 - p);
        let from_on_s = (1.0 - p) / p * (short_s + off_s);
        let wait_s = 0.2 * from_on_s + 0.8 * (off_s + from_on_s);
        let got = rate.extra_per_s(0.0, 1.0);
        assert!((got * wait_s - 1.0).abs() < 0.03, "{got} against {}", 1.0 / wait_s);
        assert!(rate.extra_per_s(0.3, 0.3).abs() < 1e-12, "no more than by itself");
    }
}
