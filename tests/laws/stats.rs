//! Laws of the statistics: coverage of intervals by exact sums and by seeded simulation, tests that keep their level.
//!
//! A simulated coverage of R repeats has the standard error √(c(1 − c)/R); five of them are allowed, so that a right
//! method fails once in two million and a wrong one by more than that is caught.

use crate::reference::stats::density::ellipse_scale;
use crate::reference::stats::paired::{mcnemar_midp, wald};
use crate::reference::stats::proportion::{Holds, ShareInterval, coverage, jeffreys, wilson};
use crate::reference::stats::quantile::{bca_mean, ecdf_half_width};
use crate::reference::stats::special::binomial_pmf;
use lostlink::chance::{Purpose, Sequence, Source, standard_normal_quantile};
use lostlink::stats::density::{map_contours, scott_factor};
use lostlink::stats::paired::{bonferroni_level, mcnemar_exact, tango};
use lostlink::stats::proportion::{clopper_pearson, sample_size_half_width, upper_bound_one_sided};
use lostlink::stats::quantile::{quantile_ranks, quantile_upper_rank};
use rand::RngExt;
use rand_distr::{Binomial, Distribution, Exp1, StandardNormal};

fn draws(repeat: u32) -> Sequence {
    Source::new(20_251, Purpose::Trial).sequence(repeat, 0)
}

fn close_to(simulated: f64, exact: f64, repeats: u32, what: &str) {
    let error = 5.0 * (exact * (1.0 - exact) / f64::from(repeats)).sqrt();
    assert!((simulated - exact).abs() <= error, "{what}: {simulated} simulated, {exact} exact, {error} allowed");
}

/// Clopper–Pearson covers at least what it says at every share and number tried, and its exact coverage is what a
/// simulation finds.
#[test]
fn clopper_pearson_covers() {
    for n in [1, 5, 20, 100, 1_000, 20_000] {
        for i in 1..60 {
            let p = f64::from(i * i) / 3_600.0;
            for confidence in [0.9, 0.95, 0.991_666_666_666] {
                let got = coverage(ShareInterval::ClopperPearson, n, p, confidence).unwrap();
                assert!(got >= confidence - 1e-12, "n = {n}, p = {p}: {got} under {confidence}");
            }
        }
    }
    const REPEATS: u32 = 20_000;
    let (n, p) = (200_u64, 0.03);
    let covered = (0..REPEATS)
        .filter(|&repeat| {
            let events = Binomial::new(n, p).unwrap().sample(&mut draws(repeat));
            clopper_pearson(events, n, 0.95).unwrap().holds(p)
        })
        .count();
    let exact = coverage(ShareInterval::ClopperPearson, n, p, 0.95).unwrap();
    close_to(covered as f64 / f64::from(REPEATS), exact, REPEATS, "Clopper–Pearson");
}

/// The coverage routine itself against the definition: the sum over all counts of those whose interval holds p.
#[test]
fn coverage_is_the_sum_over_counts() {
    for (n, p) in [(50, 0.02), (7, 0.5), (300, 0.97)] {
        for (method, interval) in [
            (ShareInterval::ClopperPearson, clopper_pearson as fn(u64, u64, f64) -> _),
            (ShareInterval::Wilson, wilson),
        ] {
            let sum: f64 =
                (0..=n).filter(|&k| interval(k, n, 0.95).unwrap().holds(p)).map(|k| binomial_pmf(k, n, p)).sum();
            let got = coverage(method, n, p, 0.95).unwrap();
            assert!((got - sum).abs() < 1e-11, "{method:?}, n = {n}, p = {p}: {got} against {sum}");
        }
    }
}

/// More events never lower an end; a higher confidence never narrows; one-sided lies within two-sided.
#[test]
fn intervals_are_monotone() {
    for of in [1, 9, 400, 1_000_000] {
        let steps: Vec<u64> = (0..=of).step_by((of as usize / 40).max(1)).collect();
        for method in [clopper_pearson, wilson, jeffreys] {
            let mut last = (-1.0, -1.0);
            for &events in &steps {
                let i = method(events, of, 0.95).unwrap();
                let wide = method(events, of, 0.99).unwrap();
                assert!(i.low >= last.0 && i.high >= last.1, "{events} of {of}");
                assert!(wide.low <= i.low && i.high <= wide.high, "{events} of {of}");
                assert!(i.holds(events as f64 / of as f64), "{events} of {of}: {i:?}");
                last = (i.low, i.high);
            }
        }
        for &events in &steps {
            let one = upper_bound_one_sided(events, of, 0.95).unwrap();
            assert!(one <= clopper_pearson(events, of, 0.95).unwrap().high);
        }
    }
}

/// The number of trials asked for is the first that is tight enough.
#[test]
fn sample_sizes_are_the_smallest() {
    for (share, half) in [(0.5_f64, 0.02), (0.02, 0.005), (0.0, 0.001), (1.0, 0.01), (0.001, 0.0005)] {
        let n = sample_size_half_width(share, half, 0.95).unwrap();
        let z = standard_normal_quantile(0.975);
        let width = |n: f64| z * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt() / (1.0 + z * z / n);
        assert!(width(n as f64) <= half && (n == 1 || width((n - 1) as f64) > half), "{share} {half}: {n}");
    }
}

/// Exact coverage of a paired interval: the trinomial sum over all (only A, only B).
fn paired_coverage(interval: impl Fn(u64, u64) -> (f64, f64), n: u64, only_a: f64, only_b: f64) -> f64 {
    let d = only_a - only_b;
    let mut sum = 0.0;
    for b in 0..=n {
        let first = binomial_pmf(b, n, only_a);
        for c in 0..=n - b {
            let (low, high) = interval(b, c);
            if low <= d && d <= high {
                sum += first * binomial_pmf(c, n - b, only_b / (1.0 - only_a));
            }
        }
    }
    sum
}

/// Tango's interval is a score interval: close to nominal on average, never far under it, and far better than Wald's
/// where discordant trials are rare.
#[test]
fn tango_covers() {
    let n = 60;
    let (mut sum, mut count, mut least) = (0.0, 0.0, 1.0_f64);
    for only_a in [0.005, 0.02, 0.05, 0.1, 0.2, 0.35] {
        for only_b in [0.005, 0.02, 0.05, 0.1, 0.2, 0.35] {
            let exact = paired_coverage(
                |b, c| {
                    let i = tango(b, c, n, 0.95).unwrap();
                    (i.low, i.high)
                },
                n,
                only_a,
                only_b,
            );
            sum += exact;
            count += 1.0;
            least = least.min(exact);
        }
    }
    assert!((sum / count - 0.95_f64).abs() < 0.015, "mean coverage {}", sum / count);
    assert!(least > 0.92, "least coverage {least}");
    let rare = paired_coverage(
        |b, c| {
            let i = wald(b, c, n, 0.95).unwrap();
            (i.low, i.high)
        },
        n,
        0.02,
        0.005,
    );
    assert!(rare < 0.85, "Wald's interval should fail here: {rare}");
}

/// The exact sum is what a simulation of paired flights finds.
#[test]
fn tango_covers_in_simulation() {
    const REPEATS: u32 = 8_000;
    let (n, only_a, only_b) = (120_u64, 0.06, 0.02);
    let covered = (0..REPEATS)
        .filter(|&repeat| {
            let mut chance = draws(repeat);
            let (mut b, mut c) = (0, 0);
            for _ in 0..n {
                let u: f64 = chance.random();
                b += u64::from(u < only_a);
                c += u64::from(u >= only_a && u < only_a + only_b);
            }
            tango(b, c, n, 0.95).unwrap().holds(only_a - only_b)
        })
        .count();
    let exact = paired_coverage(
        |b, c| {
            let i = tango(b, c, n, 0.95).unwrap();
            (i.low, i.high)
        },
        n,
        only_a,
        only_b,
    );
    close_to(covered as f64 / f64::from(REPEATS), exact, REPEATS, "Tango");
}

/// McNemar's exact test never rejects equal policies more often than its level at any number of discordant trials.
/// The mid-p one may there, but hardly over all numbers that can come up (Fagerland, Lydersen and Laake 2013).
#[test]
fn mcnemar_keeps_its_level() {
    let rejected = |test: fn(u64, u64) -> f64, discordant: u64| -> f64 {
        (0..=discordant).filter(|&b| test(b, discordant - b) <= 0.05).map(|b| binomial_pmf(b, discordant, 0.5)).sum()
    };
    for discordant in 1..=200 {
        let exact = rejected(mcnemar_exact, discordant);
        assert!(exact <= 0.05, "{discordant}: {exact}");
    }
    for share in [0.02, 0.1, 0.3, 0.8] {
        let over_all: f64 = (1..=100).map(|d| binomial_pmf(d, 100, share) * rejected(mcnemar_midp, d)).sum();
        assert!(over_all <= 0.052, "{share}: {over_all}");
    }
}

/// Four policies with equal danger on shared luck: at the Bonferroni level all six intervals hold 0 together in at
/// least 95 % of runs.
#[test]
fn all_pairs_hold_together() {
    const REPEATS: u32 = 1_500;
    let level = bonferroni_level(4, 0.95);
    let held = (0..REPEATS)
        .filter(|&repeat| {
            let mut chance = draws(repeat);
            let n = 500;
            let mut only = [[0_u64; 4]; 4];
            for _ in 0..n {
                let day = 0.16 * chance.random::<f64>();
                let ends: [bool; 4] = std::array::from_fn(|_| chance.random_bool(day));
                for i in 0..4 {
                    for j in 0..4 {
                        only[i][j] += u64::from(ends[i] && !ends[j]);
                    }
                }
            }
            (0..4).all(|i| (0..i).all(|j| tango(only[i][j], only[j][i], n, level).unwrap().holds(0.0)))
        })
        .count();
    let share = held as f64 / f64::from(REPEATS);
    let error = 5.0 * (0.95_f64 * 0.05 / f64::from(REPEATS)).sqrt();
    assert!(share >= 0.95 - error, "{share}");
}

/// Order-statistic bounds cover exactly what their ranks say, whatever the distribution: here with ties excluded by a
/// continuous, skewed one.
#[test]
fn order_statistic_bounds_cover() {
    const REPEATS: u32 = 6_000;
    let (n, q) = (150_u64, 0.9);
    let ranks = quantile_ranks(n, q, 0.95).unwrap();
    let upper = quantile_upper_rank(n, q, 0.95).unwrap().unwrap();
    let truth = -libm::log1p(-q);
    let (mut two, mut one) = (0, 0);
    for repeat in 0..REPEATS {
        let mut chance = draws(repeat);
        let mut values: Vec<f64> = (0..n).map(|_| chance.sample(Exp1)).collect();
        values.sort_by(f64::total_cmp);
        let at = |rank: u64| values[rank as usize - 1];
        two += u32::from(at(ranks.low.unwrap()) <= truth && truth <= at(ranks.high.unwrap()));
        one += u32::from(truth <= at(upper));
    }
    assert!(ranks.coverage >= 0.95);
    close_to(f64::from(two) / f64::from(REPEATS), ranks.coverage, REPEATS, "two-sided ranks");
    let exact: f64 = (0..upper).map(|k| binomial_pmf(k, n, q)).sum();
    assert!(exact >= 0.95);
    close_to(f64::from(one) / f64::from(REPEATS), exact, REPEATS, "one-sided rank");
    // One rank lower would no longer do.
    assert!(exact - binomial_pmf(upper - 1, n, q) < 0.95);
}

/// The band of Dvoretzky, Kiefer and Wolfowitz holds the whole distribution function in at least 95 % of samples.
#[test]
fn ecdf_band_covers() {
    const REPEATS: u32 = 4_000;
    let n = 80;
    let half = ecdf_half_width(n, 0.95).unwrap();
    let held = (0..REPEATS)
        .filter(|&repeat| {
            let mut chance = draws(repeat);
            let mut u: Vec<f64> = (0..n).map(|_| chance.random()).collect();
            u.sort_by(f64::total_cmp);
            u.iter().enumerate().all(|(i, x)| {
                let (before, after) = (i as f64 / n as f64, (i + 1) as f64 / n as f64);
                (after - x).abs().max((before - x).abs()) <= half
            })
        })
        .count();
    let share = held as f64 / f64::from(REPEATS);
    let error = 5.0 * (0.95_f64 * 0.05 / f64::from(REPEATS)).sqrt();
    assert!(share >= 0.95 - error, "{share}");
    // And not by being far too wide: Massart's constant is sharp for many values.
    assert!(share <= 0.975 + error, "{share}");
}

/// The BCa interval of a skewed mean covers near nominal: known to be a little under it at 60 values.
#[test]
fn bca_covers_a_skewed_mean() {
    const REPEATS: u32 = 800;
    let covered = (0..REPEATS)
        .filter(|&repeat| {
            let mut chance = draws(repeat);
            let values: Vec<f64> = (0..60).map(|_| chance.sample(Exp1)).collect();
            let mut resample = Source::new(9, Purpose::Resample).sequence(repeat, 0);
            bca_mean(&values, 600, 0.95, &mut resample).unwrap().holds(1.0)
        })
        .count();
    let share = covered as f64 / f64::from(REPEATS);
    assert!((0.90..=0.975).contains(&share), "{share}");
}

/// On a bivariate normal the contour of a share p runs where the density is (1 − p) of its peak. The kernel widens the
/// cloud by (1 + h²); what is left is the noise of the estimate: under 0.02 of the peak for 30,000 points.
#[test]
fn contours_lie_at_their_level() {
    let source = Source::new(77, Purpose::Trial);
    let (sx, sy) = (50.0, 15.0);
    let points: Vec<[f64; 2]> = (0..30_000)
        .map(|flight| {
            let mut chance = source.sequence(flight, 0);
            let mut along = |scale: f64| scale * chance.sample::<f64, _>(StandardNormal);
            [along(sx), along(sy)]
        })
        .collect();
    let h = 0.5 * scott_factor(points.len(), 2);
    for (share, rings) in map_contours(&points, &[0.5, 0.9, 0.99]).levels {
        let longest = rings.iter().max_by_key(|ring| ring.len()).unwrap();
        let level = longest
            .iter()
            .map(|p| {
                let d = ((p[0] / sx).powi(2) + (p[1] / sy).powi(2)) / (1.0 + h * h);
                libm::exp(-0.5 * d)
            })
            .sum::<f64>()
            / longest.len() as f64;
        assert!((level - (1.0 - share)).abs() < 0.02, "{share}: level over peak {level}");
        // Five standard errors of the share of points inside its ellipse.
        let k = ellipse_scale(share).unwrap();
        let inside = points.iter().filter(|p| (p[0] / sx).powi(2) + (p[1] / sy).powi(2) <= k * k).count();
        close_to(inside as f64 / 30_000.0, share, 30_000, "points inside the ellipse");
    }
}
