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
