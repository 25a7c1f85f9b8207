//! Lost packets: independent and in bursts, runs of them, windows over them.

/// Two-state burst process per packet: the loss is drawn with the current state, then the state moves.
///
/// # Source
/// Gilbert (1960), Elliott (1963), Bell System Technical Journal (from memory).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BurstProcess {
    /// Chance per packet to go from the good to the bad state, 0 to 1.
    pub good_to_bad: f64,
    /// Chance per packet to go from the bad to the good state, 0 to 1.
    pub bad_to_good: f64,
    /// Chance that a packet is lost in the good state.
    pub loss_good: f64,
    /// Chance that a packet is lost in the bad state.
    pub loss_bad: f64,
}

impl BurstProcess {
    /// The process seen by packets `interval_s` apart when good and bad spells last exponential times of these means.
    ///
    /// Exact: spells that begin and end between two packets are not seen, as in flight.
    pub fn sampled(good_s: f64, bad_s: f64, loss_good: f64, loss_bad: f64, interval_s: f64) -> BurstProcess {
        let moved = -libm::expm1(-interval_s * (1.0 / good_s + 1.0 / bad_s));
        BurstProcess {
            good_to_bad: moved * bad_s / (good_s + bad_s),
            bad_to_good: moved * good_s / (good_s + bad_s),
            loss_good,
            loss_bad,
        }
    }

    /// Share of the packets that meet the bad state in the long run. A process that never moves counts as good.
    pub fn bad_share(&self) -> f64 {
        let both = self.good_to_bad + self.bad_to_good;
        if both > 0.0 { self.good_to_bad / both } else { 0.0 }
    }

    /// Share of packets lost in the long run.
    pub fn mean_loss(&self) -> f64 {
        let bad = self.bad_share();
        (1.0 - bad) * self.loss_good + bad * self.loss_bad
    }

    /// Mean number of packets in one visit to the bad state; infinite when it is never left.
    pub fn mean_bad_run(&self) -> f64 {
        1.0 / self.bad_to_good
    }

    /// Correlation of the losses of two packets `lag` packets apart (lag ≥ 1); NaN when nothing or everything is lost.
    pub fn autocorrelation(&self, lag: u32) -> f64 {
        let loss = self.mean_loss();
        self.covariance() * self.memory().powi(lag as i32) / (loss * (1.0 - loss))
    }

    fn memory(&self) -> f64 {
        1.0 - self.good_to_bad - self.bad_to_good
    }

    fn covariance(&self) -> f64 {
        let (bad, step) = (self.bad_share(), self.loss_bad - self.loss_good);
        bad * (1.0 - bad) * step * step
    }

    /// Standard deviation of the share received of `window` packets in a row.
    pub fn window_sigma(&self, window: u64) -> f64 {
        let (loss, n, memory) = (self.mean_loss(), window as f64, self.memory());
        // Σ (n−k)·memory^k for k = 1 … n−1, term by term: exact also when memory is near 1.
        let (mut sum, mut power) = (0.0, 1.0);
        for k in 1..window {
            power *= memory;
            sum += (n - k as f64) * power;
            if power.abs() < 1e-18 {
                break;
            }
        }
        ((loss * (1.0 - loss) * n + 2.0 * self.covariance() * sum).max(0.0)).sqrt() / n
    }

    /// Expected number of packets until the first `run` losses in a row, from a stationary start; infinite when such a run
    /// cannot happen.
    ///
    /// Solves the linear equations of the chain (state, losses in a row) by elimination from the longest run down; every
    /// quantity is a sum of positive terms, so that rare runs keep their accuracy.
    pub fn first_run(&self, run: u64) -> f64 {
        if run == 0 {
            return 0.0;
        }
        let (p, r) = (self.good_to_bad, self.bad_to_good);
        let to = [[1.0 - p, p], [r, 1.0 - r]];
        let loss = [self.loss_good, self.loss_bad];
        // From (state, j in a row): mean packets until run or first success; chance to complete the run; chance to
        // succeed first and start again in the good or the bad state.
        let mut count = [0.0; 2];
        let mut done = [1.0; 2];
        let mut again = [[0.0; 2]; 2];
        for _ in 0..run {
            if done == [0.0; 2] {
                // Too rare for a number, and rarer still from here on.
                return f64::INFINITY;
            }
            let (last_count, last_done, last_again) = (count, done, again);
            for state in 0..2 {
                let onward = |f: &dyn Fn(usize) -> f64| to[state][0] * f(0) + to[state][1] * f(1);
                let (h, ok) = (loss[state], 1.0 - loss[state]);
                count[state] = 1.0 + h * onward(&|next| last_count[next]);
                done[state] = h * onward(&|next| last_done[next]);
                for target in 0..2 {
                    again[state][target] = h * onward(&|next| last_again[next][target]) + ok * to[state][target];
                }
            }
        }
        let [[_, good_bad], [bad_good, _]] = again;
        let determinant = done[0] * done[1] + done[0] * bad_good + good_bad * done[1];
        let bad = self.bad_share();
        if determinant <= 0.0 {
            return f64::INFINITY;
        }
        let from_good = (count[0] * (done[1] + bad_good) + good_bad * count[1]) / determinant;
        let from_bad = ((done[0] + good_bad) * count[1] + bad_good * count[0]) / determinant;
        // A state that is never met has no say, however long the wait from it.
        let weighed = |share: f64, wait: f64| if share > 0.0 { share * wait } else { 0.0 };
        weighed(1.0 - bad, from_good) + weighed(bad, from_bad)
    }
}

/// Expected number of packets until the first `run` losses in a row when each is lost with chance `loss`; infinite for
/// `loss` = 0.
///
/// # Source
/// Feller, An Introduction to Probability Theory, vol. 1, XIII.7 (from memory): (1−pⁿ)/(pⁿ(1−p)), here as Σ p⁻ᵏ,
/// which also holds at p = 1.
pub fn independent_first_run(loss: f64, run: u64) -> f64 {
    let (mut sum, mut power) = (0.0, 1.0);
    for _ in 0..run {
        power /= loss;
        sum += power;
    }
    sum
}

/// Expected number of packets until `run` valid ones in a row when each is lost with chance `loss`.
pub fn independent_recovery(loss: f64, run: u64) -> f64 {
    independent_first_run(1.0 - loss, run)
}

/// Probability that fewer than `threshold` of `window` packets arrive, each lost with chance `loss`.
pub fn window_below_threshold(loss: f64, window: u64, threshold: u64) -> f64 {
    if threshold == 0 {
        return 0.0;
    }
    if threshold > window {
        return 1.0;
    }
    let arrive = 1.0 - loss;
    if loss <= 0.0 || arrive <= 0.0 {
        return if arrive <= 0.0 { 1.0 } else { 0.0 };
    }
    // Binomial terms in logarithms; the smaller side is summed.
    let n = window as f64;
    let (ln_loss, ln_arrive) = (libm::log(loss), libm::log1p(-loss));
    let term = |k: u64| {
        let k = k as f64;
        libm::exp(
            libm::lgamma(n + 1.0) - libm::lgamma(k + 1.0) - libm::lgamma(n - k + 1.0)
                + k * ln_arrive
                + (n - k) * ln_loss,
        )
    };
    if (threshold as f64) < n * arrive {
        (0..threshold).map(term).sum::<f64>().min(1.0)
    } else {
        1.0 - (threshold..=window).map(term).sum::<f64>().min(1.0)
    }
}

/// Probability that a given interval of `gap_s` holds no valid packet, each lost with chance `loss`.
pub fn silent_interval(packet_rate_hz: f64, gap_s: f64, loss: f64) -> f64 {
    libm::pow(loss, packet_rate_hz * gap_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With equal losses in both states the process is independent loss.
    #[test]
    fn equal_states_are_independent() {
        let same = BurstProcess { good_to_bad: 0.1, bad_to_good: 0.3, loss_good: 0.2, loss_bad: 0.2 };
        for run in [1, 3, 12] {
            assert!((same.first_run(run) / independent_first_run(0.2, run) - 1.0).abs() < 1e-12);
        }
        assert!((same.window_sigma(50) - (0.2 * 0.8 / 50.0_f64).sqrt()).abs() < 1e-12);
        assert!(same.autocorrelation(1).abs() < 1e-15);
    }

    /// Two losses in a row at one half: 6 tosses (Feller).
    #[test]
    fn coins() {
        assert_eq!(independent_first_run(0.5, 2), 6.0);
        assert_eq!(independent_first_run(1.0, 7), 7.0);
        assert_eq!(independent_first_run(0.0, 2), f64::INFINITY);
        assert!((window_below_threshold(0.5, 4, 2) - 5.0 / 16.0).abs() < 1e-12);
        assert!((window_below_threshold(0.5, 4, 4) - 15.0 / 16.0).abs() < 1e-12);
        assert_eq!(window_below_threshold(0.0, 10, 10), 0.0);
        assert_eq!(window_below_threshold(1.0, 10, 1), 1.0);
    }

    /// A state that is never left is independent loss, however small the chance of a run.
    #[test]
    fn a_state_for_ever_is_independent() {
        for (p, r, loss) in [(1.0, 0.0, [0.3, 0.686e-3]), (0.0, 1.0, [0.686e-3, 0.3])] {
            let process = BurstProcess { good_to_bad: p, bad_to_good: r, loss_good: loss[0], loss_bad: loss[1] };
            for run in [2, 10, 100, 105, 400] {
                let (got, want) = (process.first_run(run), independent_first_run(0.686e-3, run));
                assert!(got == want || (got / want - 1.0).abs() < 1e-9, "{run}: {got} {want}");
            }
        }
    }

    #[test]
    fn sampling_keeps_shares_and_memory() {
        let fine = BurstProcess::sampled(9.0, 1.0, 0.0, 1.0, 0.004);
        let coarse = BurstProcess::sampled(9.0, 1.0, 0.0, 1.0, 0.1);
        assert!((fine.bad_share() - 0.1).abs() < 1e-12 && (coarse.bad_share() - 0.1).abs() < 1e-12);
        // 25 fine packets last as long as one coarse one.
        assert!((fine.autocorrelation(25) - coarse.autocorrelation(1)).abs() < 1e-12);
    }
}
