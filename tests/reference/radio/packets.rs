//! Lost packets: independent and in bursts, runs of them, windows over them.

use lostlink::radio::packets::*;

/// Share of packets lost in the long run.
pub fn mean_loss(process: &BurstProcess) -> f64 {
    let bad = process.bad_share();
    (1.0 - bad) * process.loss_good + bad * process.loss_bad
}

/// Mean number of packets in one visit to the bad state; infinite when it is never left.
pub fn mean_bad_run(process: &BurstProcess) -> f64 {
    1.0 / process.bad_to_good
}

/// Correlation of the losses of two packets `lag` packets apart (lag ≥ 1); NaN when nothing or everything is lost.
pub fn autocorrelation(process: &BurstProcess, lag: u32) -> f64 {
    let loss = mean_loss(process);
    covariance(process) * memory(process).powi(lag as i32) / (loss * (1.0 - loss))
}

fn memory(process: &BurstProcess) -> f64 {
    1.0 - process.good_to_bad - process.bad_to_good
}

fn covariance(process: &BurstProcess) -> f64 {
    let (bad, step) = (process.bad_share(), process.loss_bad - process.loss_good);
    bad * (1.0 - bad) * step * step
}

/// Standard deviation of the share received of `window` packets in a row.
pub fn window_sigma(process: &BurstProcess, window: u64) -> f64 {
    let (loss, n, memory) = (mean_loss(process), window as f64, memory(process));
    // Σ (n−k)·memory^k for k = 1 … n−1, term by term: exact also when memory is near 1.
    let (mut sum, mut power) = (0.0, 1.0);
    for k in 1..window {
        power *= memory;
        sum += (n - k as f64) * power;
        if power.abs() < 1e-18 {
            break;
        }
    }
    ((loss * (1.0 - loss) * n + 2.0 * covariance(process) * sum).max(0.0)).sqrt() / n
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
