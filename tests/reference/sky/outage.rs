//! The fix lost and regained as a two-state process.

use libm::{erfc, exp, expm1, log};
use std::f64::consts::FRAC_1_SQRT_2;

/// Probability that one outage lasts longer than `tau_s`.
pub fn outage_longer(mean_down_s: f64, tau_s: f64) -> f64 {
    exp(-tau_s / mean_down_s)
}

/// Probability of at least one outage longer than `tau_s` within a flight that starts with a fix; outages are cut at landing.
///
/// Solves the renewal equation S′ = λ (G − S), where S(t) is the chance of no long outage in a time t from up and G(t) from the
/// moment of loss: 1 up to tau, then the outages that end before tau, each followed by S.
pub fn any_outage_longer(mean_up_s: f64, mean_down_s: f64, tau_s: f64, flight_s: f64) -> f64 {
    let (lose, regain) = (1.0 / mean_up_s, 1.0 / mean_down_s);
    if flight_s <= tau_s {
        return 0.0;
    }
    // At most four million steps; with a tau shorter than one of them every outage counts.
    let most = (4e6 * tau_s / flight_s) as usize;
    if most == 0 {
        return -expm1(-lose * flight_s);
    }
    let per_tau = ((20.0 * tau_s / mean_down_s.min(mean_up_s)) as usize).clamp(200, 20_000).min(most);
    let h = tau_s / per_tau as f64;
    let steps = (flight_s / h).ceil() as usize;
    // S at every step; up to tau it is 1.
    let mut survive = vec![1.0; per_tau + 1];
    let mut ended = 1.0 - exp(-regain * tau_s);
    let cut = exp(-regain * tau_s);
    for k in per_tau..steps {
        let (now, old, old_next) = (survive[k], survive[k - per_tau], survive[k + 1 - per_tau]);
        let rate = |s: f64, i: f64, delayed: f64| (lose * (i - s), regain * (s - cut * delayed - i));
        let (ds, di) = rate(now, ended, old);
        let (ds2, di2) = rate(now + h * ds, ended + h * di, old_next);
        survive.push(now + 0.5 * h * (ds + ds2));
        ended += 0.5 * h * (di + di2);
    }
    // Between the last two steps, linearly.
    let at = flight_s / h;
    let k = (at as usize).min(survive.len() - 2);
    let s = survive[k] + (survive[k + 1] - survive[k]) * (at - k as f64);
    1.0 - s
}

/// Mean lengths of good and bad stretches and the share of good ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShadowingStates {
    /// Mean length of good stretches.
    pub mean_good_m: f64,
    /// Mean length of bad stretches.
    pub mean_bad_m: f64,
    /// Share of good ones.
    pub share_good: f64,
}

/// Two-state shadowing along a path: lengths log-normal, cut at a least length.
///
/// # Source
/// Form of ITU-R P.681, annex 2 (second-hand); mean of a log-normal distribution truncated below, closed form.
pub fn shadowing_states(good: [f64; 3], bad: [f64; 3]) -> ShadowingStates {
    // [mean of the logarithm, its sigma, least length].
    let mean = |[mu, sigma, least]: [f64; 3]| {
        let above = |x: f64| 0.5 * erfc(-x * FRAC_1_SQRT_2);
        let z = (mu - log(least)) / sigma;
        exp(mu + 0.5 * sigma * sigma) * above(z + sigma) / above(z)
    };
    let (mean_good_m, mean_bad_m) = (mean(good), mean(bad));
    ShadowingStates { mean_good_m, mean_bad_m, share_good: mean_good_m / (mean_good_m + mean_bad_m) }
}
