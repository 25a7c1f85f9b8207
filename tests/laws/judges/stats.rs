//! Tests of the reference formulas of `stats`, and of flying code against them.

mod paired {
    use crate::reference::stats::paired::*;
    use crate::reference::stats::special::chi_squared_tail;
    use lostlink::stats::Interval;
    use lostlink::stats::paired::*;

    /// Worked table 59/6/16/80 of Fagerland, Lydersen and Laake (2017), chapter 8.
    #[test]
    fn worked_table() {
        let near = |got: Interval, low: f64, high: f64| {
            assert!((got.low - low).abs() < 5e-5 && (got.high - high).abs() < 5e-5, "{got:?}");
        };
        near(tango(6, 16, 161, 0.95).unwrap(), -0.1240, -0.0054);
        near(newcombe([59, 6, 16, 80], 0.95).unwrap(), -0.1186, -0.0046);
        near(wald(6, 16, 161, 0.95).unwrap(), -0.1184, -0.0058);
        assert!((mcnemar_exact(6, 16) - 0.052_479).abs() < 5e-7);
        assert!((mcnemar_midp(6, 16) - 0.034_69).abs() < 5e-6);
    }

    /// The identity of both tests for two classes: Bowker = Stuart–Maxwell = (b − c)²/(b + c).
    #[test]
    fn two_classes_reduce_to_mcnemar() {
        let table = vec![vec![59.0, 6.0], vec![16.0, 80.0]];
        let expected = 100.0 / 22.0;
        assert!((bowker(&table).unwrap() - expected).abs() < 1e-12);
        assert!((stuart_maxwell(&table).unwrap() - expected).abs() < 1e-12);
        assert!((chi_squared_tail(expected, 1.0) - mcnemar_asymptotic(6, 16)).abs() < 1e-14);
    }
}

mod proportion {
    use crate::reference::stats::proportion::*;
    use lostlink::stats::Interval;
    use lostlink::stats::proportion::*;

    /// Newcombe (1998) table 1: 81/263 and 1/29, four printed digits.
    #[test]
    fn newcombes_printed_rows() {
        let near = |got: Interval, low: f64, high: f64| {
            assert!((got.low - low).abs() < 5e-5 && (got.high - high).abs() < 5e-5, "{got:?}");
        };
        near(clopper_pearson(81, 263, 0.95).unwrap(), 0.2527, 0.3676);
        near(wilson(81, 263, 0.95).unwrap(), 0.2553, 0.3662);
        near(wilson_corrected(81, 263, 0.95).unwrap(), 0.2535, 0.3682);
        near(clopper_pearson(1, 29, 0.95).unwrap(), 0.0009, 0.1776);
    }

    #[test]
    fn ends_are_exact_without_and_with_only_events() {
        for of in [1, 10, 5_000, 1_000_000] {
            for method in [clopper_pearson, wilson, wilson_corrected, jeffreys, clopper_pearson_midp] {
                let none = method(0, of, 0.95).unwrap();
                let all = method(of, of, 0.95).unwrap();
                assert_eq!((none.low, all.high), (0.0, 1.0));
                assert!(none.high > 0.0 && all.low < 1.0);
                assert!((none.high - (1.0 - all.low)).abs() < 1e-12, "mirror at {of}");
            }
            let half = clopper_pearson(of / 2 + 1, of, 0.95);
            assert!(half.is_ok());
        }
        assert!(clopper_pearson(3, 2, 0.95).is_err());
        assert!(clopper_pearson(0, 0, 0.95).is_err());
        assert!(clopper_pearson(0, 1, 1.0).is_err());
    }

    /// The bound's own definition: with no event, (1 − u)ⁿ = 1 − confidence.
    #[test]
    fn bound_without_events() {
        let u = upper_bound_one_sided(0, 5_000, 0.95).unwrap();
        assert!((libm::exp(5_000.0 * libm::log1p(-u)) - 0.05).abs() < 1e-14);
        assert_eq!(event_free_needed(0.001, 0.95).unwrap(), 2_995);
    }

    /// Clopper–Pearson never covers less than it says; the other two do somewhere.
    #[test]
    fn exact_coverage_over_true_shares() {
        let shares: Vec<f64> = (1..200).map(|i| f64::from(i) / 200.0).collect();
        let least = |method| shares.iter().map(|&p| coverage(method, 50, p, 0.95).unwrap()).fold(1.0, f64::min);
        assert!(least(ShareInterval::ClopperPearson) >= 0.95);
        assert!(least(ShareInterval::Wilson) < 0.95);
        assert!(least(ShareInterval::Wald) < 0.3);
    }
}

mod quantile {
    use crate::reference::stats::quantile::*;
    use lostlink::chance::{Purpose, Source};
    use lostlink::stats::quantile::*;

    #[test]
    fn ranks_of_known_cases() {
        // Median of 20 values: order statistics 6 and 15, any book on order statistics.
        let r = quantile_ranks(20, 0.5, 0.95).unwrap();
        assert_eq!((r.low, r.high), (Some(6), Some(15)));
        assert_eq!(quantile_ranks(100, 0.99, 0.95).unwrap().high, None);
        assert_eq!(quantile_upper_rank(5_000, 0.99, 0.95).unwrap(), Some(4_962));
        assert_eq!(quantile_upper_rank(2_994, 0.999, 0.95).unwrap(), None);
        assert_eq!(quantile_upper_rank(2_995, 0.999, 0.95).unwrap(), Some(2_995));
        assert_eq!((wilks(0.95, 0.95, 1).unwrap(), wilks(0.95, 0.95, 2).unwrap()), (59, 93));
        assert_eq!(wilks_two_sided(0.9, 0.9).unwrap(), 38);
    }

    #[test]
    fn sample_quantiles_and_tail_mean() {
        let values: Vec<f64> = (1..=100).map(f64::from).collect();
        assert_eq!(tail_mean(&values, 0.05).unwrap(), 98.0);
        assert_eq!(tail_mean(&values, 0.025).unwrap(), (100.0 + 99.0 + 0.5 * 98.0) / 2.5);
        assert_eq!(sample_quantile(&values, 0.5, QuantileRule::Type7), 50.5);
        assert_eq!(sample_quantile(&values, 0.5, QuantileRule::Type8), 50.5);
        assert_eq!(sample_quantile(&[3.0], 0.9, QuantileRule::Type8), 3.0);
        assert!(sample_quantile(&[], 0.5, QuantileRule::Type8).is_nan());
    }

    /// The bootstrap interval of a normal-like mean is close to mean ± 1.96 ideal standard errors.
    #[test]
    fn bca_of_a_symmetric_sample() {
        let s = Source::new(3, Purpose::Trial);
        let values: Vec<f64> = (0..100).flat_map(|flight| s.normals(flight, 0, 0)).collect();
        let se = bootstrap_ideal_se(&values).unwrap();
        let m = mean(&values);
        let got = bca_mean(&values, 4_000, 0.95, &mut Source::new(3, Purpose::Resample).sequence(0, 0)).unwrap();
        assert!((got.low - (m - 1.96 * se)).abs() < 0.25 * se, "{got:?}");
        assert!((got.high - (m + 1.96 * se)).abs() < 0.25 * se, "{got:?}");
        let again = bca_mean(&values, 4_000, 0.95, &mut Source::new(3, Purpose::Resample).sequence(0, 0)).unwrap();
        assert_eq!(got, again);
    }
}

mod density {
    use crate::reference::stats::density::*;
    use lostlink::chance::{Purpose, Source};
    use lostlink::stats::density::*;

    fn cloud(n: u32, sx: f64, sy: f64, angle: f64) -> Vec<[f64; 2]> {
        let s = Source::new(5, Purpose::Trial);
        let (sin, cos) = (libm::sin(angle), libm::cos(angle));
        (0..n)
            .map(|flight| {
                let z = s.normals(flight, 0, 0);
                let (u, v) = (sx * z[0], sy * z[1]);
                [40.0 + cos * u - sin * v, -7.0 + sin * u + cos * v]
            })
            .collect()
    }

    /// A circle of a round normal holds 1 − exp(−r²/2σ²); a line holds the half-normal.
    #[test]
    fn containment_of_round_and_flat_clouds() {
        let r = containment_radius(10.0, 10.0, 0.0, 0.9).unwrap();
        assert!((r - 10.0 * ellipse_scale(0.9).unwrap()).abs() < 1e-9);
        let flat = containment_radius(10.0, 0.0, 0.0, 0.95).unwrap();
        assert!((flat - 19.599_639_845_400_54).abs() < 2e-2, "{flat}");
        let tilted = containment_radius(5.0, 5.0, 1.0, 0.95).unwrap();
        assert!((tilted / 5.0 / 2.0_f64.sqrt() - 1.96).abs() < 5e-3);
        let centred = offset_disc_probability(10.0, 0.0, 15.0).unwrap();
        assert!((centred - (1.0 - libm::exp(-1.125))).abs() < 1e-14);
    }

    #[test]
    fn kernel_density_integrates_to_one() {
        let points = cloud(60, 20.0, 5.0, 0.7);
        let kde = KernelDensity::scott(&points).unwrap();
        assert!((kde.box_mass([-500.0, -500.0], [500.0, 500.0]) - 1.0).abs() < 1e-9);
        assert!((kde.grid_mass().unwrap() - 1.0).abs() < 1e-4);
        assert!(KernelDensity::scott(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]]).is_err());
        assert!(KernelDensity::scott(&[[0.0, 0.0]; 5]).is_err());
    }

    /// On a bivariate normal the contour's area is π σ₁ σ₂ k², with the kernel's own widening; it holds its
    /// share of the points. Five standard errors of the share for 20,000 points are 1.1 points at 90 %.
    #[test]
    fn contours_of_a_normal_cloud() {
        let points = cloud(20_000, 60.0, 20.0, 0.5);
        let got = map_contours(&points, &[0.5, 0.9, 0.99]);
        assert_eq!(got.levels.len(), 3);
        let h = 0.5 * scott_factor(20_000, 2);
        for (share, rings) in &got.levels {
            let area: f64 = rings.iter().map(|ring| ring_area(ring)).sum();
            let k = ellipse_scale(*share).unwrap();
            let expected = std::f64::consts::PI * 60.0 * 20.0 * (1.0 + h * h) * k * k;
            assert!((area / expected - 1.0).abs() < 0.06, "{share}: {area} against {expected}");
            assert!(rings.iter().all(|ring| ring.first() == ring.last()));
        }
        assert!((got.kernel_m - (60.0_f64 * 20.0).sqrt() * h).abs() < 0.1);
    }
}

mod decision {
    use crate::reference::stats::decision::*;

    #[test]
    fn three_rules_pick_three_rows() {
        let loss = vec![vec![2.0, 9.0, 30.0], vec![6.0, 7.0, 12.0], vec![10.0, 10.0, 10.0]];
        let got = picks(&loss, &[0.6, 0.3, 0.1]).unwrap();
        assert_eq!((got.minimax, got.regret, got.expected), (2, 1, 0));
        assert_eq!(max_regret(&loss).unwrap(), [20.0, 4.0, 8.0]);
        assert!(dominated(&loss).is_empty());
        assert_eq!(dominated(&[vec![1.0, 2.0], vec![1.0, 3.0], vec![0.5, 4.0]]), [1]);
        assert!(dominated(&[vec![1.0], vec![1.0]]).is_empty());
        assert!(expected(&loss, &[1.0]).is_err());
        assert!(regret(&[vec![1.0], vec![]]).is_err());
    }
}

mod display {
    use crate::reference::stats::display::*;

    #[test]
    fn icons_add_up_and_ties_go_first() {
        assert_eq!(icon_counts(&[8703, 962, 241, 71, 23], 100), [87, 10, 2, 1, 0]);
        assert_eq!(icon_counts(&[1, 1, 1], 100), [34, 33, 33]);
        assert_eq!(icon_counts(&[0, 0], 100), [0, 0]);
        assert_eq!(icon_counts(&[u64::MAX / 2, u64::MAX / 2], 3), [2, 1]);
    }
}

mod rare {
    use crate::reference::stats::rare::*;
    use crate::reference::stats::special::normal_tail;

    /// A half plane and a parabola turned into closed forms.
    #[test]
    fn polynomial_of_known_regions() {
        let half = vec![vec![(3.0, 0, 0), (-1.0, 0, 1)]];
        let got = polynomial(&half, Combine::Min, [0.0, 0.0], [1.0, 1.0]).unwrap();
        assert!((got / normal_tail(3.0) - 1.0).abs() < 1e-11);
        // The same with x and y exchanged: no root in y, a jump in x.
        let turned = vec![vec![(3.0, 0, 0), (-1.0, 1, 0)]];
        let got = polynomial(&turned, Combine::Min, [0.0, 0.0], [1.0, 1.0]).unwrap();
        assert!((got / normal_tail(3.0) - 1.0).abs() < 1e-10);
        // Outside a circle: chi-squared with two degrees of freedom.
        let circle = vec![vec![(9.0, 0, 0), (-1.0, 2, 0), (-1.0, 0, 2)]];
        let got = polynomial(&circle, Combine::Max, [0.0, 0.0], [1.0, 1.0]).unwrap();
        assert!((got / libm::exp(-4.5) - 1.0).abs() < 1e-10, "{got}");
        assert!((hypersphere(3.0, 2) / libm::exp(-4.5) - 1.0).abs() < 1e-13);
    }

    #[test]
    fn stopping_at_events_is_biased_as_known() {
        // r = 1: −p ln p/q.
        let p: f64 = 0.01;
        let got = inverse_sampling_plain(p, 1).unwrap();
        assert!((got / (-p * libm::log(p) / (1.0 - p)) - 1.0).abs() < 1e-11);
        assert!((inverse_sampling_unbiased(p, 7).unwrap() / p - 1.0).abs() < 1e-12);
        assert!(inverse_sampling_unbiased(p, 1).is_err());
    }

    /// Printed by Armitage, McPherson and Rowe (1969): .050 .083 .107 .126 .142 … .193 at ten looks.
    #[test]
    fn looks_inflate_the_level() {
        let rates = repeated_looks(0.05, 10).unwrap();
        for (got, printed) in rates.iter().zip([0.050, 0.083, 0.107, 0.126, 0.142]) {
            assert!((got - printed).abs() < 5e-4);
        }
        assert!((rates[9] - 0.193).abs() < 5e-4);
    }
}

mod cluster {
    use crate::reference::stats::cluster::*;

    #[test]
    fn equal_strata_and_weights_are_plain_shares() {
        let (share, se) = stratified_share(&[(0.5, 5, 100), (0.5, 15, 100)]).unwrap();
        assert!((share - 0.1).abs() < 1e-15);
        assert!((se - (0.25 * (0.0475 + 0.1275) / 100.0_f64).sqrt()).abs() < 1e-15);
        assert_eq!(effective_size(&[2.0; 7]).unwrap(), 7.0);
        assert_eq!(design_effect(100, 1, 0.3), (1.0, 100.0));
        assert!(cluster_share(&[1], 10).is_err());
    }
}

mod sensitivity {
    use crate::reference::stats::sensitivity::*;
    use lostlink::chance::{Purpose, Source};

    /// 2¹⁴ rows: the errors of the estimators are about 0.01.
    #[test]
    fn the_estimator_hits_the_exact_values() {
        let mut chance = Source::new(8, Purpose::Resample).sequence(0, 0);
        let turn = |x: f64| std::f64::consts::PI * (2.0 * x - 1.0);
        let got = saltelli(3, 1 << 14, &mut chance, |x| {
            let s = libm::sin(turn(x[0]));
            let t = libm::sin(turn(x[1]));
            s + 7.0 * t * t + 0.1 * turn(x[2]).powi(4) * s
        })
        .unwrap();
        for (a, b) in got.iter().zip(exact::ishigami(7.0, 0.1).1) {
            assert!((a.first - b.first).abs() < 0.03 && (a.total - b.total).abs() < 0.03, "{a:?} against {b:?}");
        }
        let a = [0.0, 1.0, 4.5, 9.0];
        let got = saltelli(4, 1 << 14, &mut chance, |x| {
            x.iter().zip(a).map(|(x, a)| ((4.0 * x - 2.0).abs() + a) / (1.0 + a)).product()
        })
        .unwrap();
        for (x, y) in got.iter().zip(exact::g_function(&a)) {
            assert!((x.first - y.first).abs() < 0.03 && (x.total - y.total).abs() < 0.03, "{x:?} against {y:?}");
        }
        assert!(saltelli(2, 64, &mut chance, |_| 1.0).is_err());
    }

    #[test]
    fn effects_of_a_linear_function_are_its_slopes() {
        let mut chance = Source::new(8, Purpose::Resample).sequence(1, 0);
        let got = morris(3, 20, &mut chance, |x| 4.0 * x[0] - 3.0 * x[1] + 0.5 * x[2]).unwrap();
        for (e, c) in got.iter().zip([4.0_f64, -3.0, 0.5]) {
            assert!((e.mu - c).abs() < 1e-12 && (e.mu_star - c.abs()).abs() < 1e-12 && e.sigma < 1e-12);
        }
        let bent = morris(2, 50, &mut chance, |x| x[0] * x[1]).unwrap();
        assert!(bent[0].sigma > 0.1);
    }
}

mod special {
    use crate::reference::stats::special::*;
    use statrs::distribution::{ChiSquared, ContinuousCDF};

    fn close(a: f64, b: f64, relative: f64) {
        assert!((a - b).abs() <= relative * b.abs().max(1e-300), "{a:e} against {b:e}");
    }

    /// Against an independent implementation, and P(1, x) = 1 − e⁻ˣ.
    #[test]
    fn gamma_functions_agree_with_another_library() {
        for (x, df) in [(3.84, 1.0), (7.714, 2.0), (19.1, 6.0), (100.0, 50.0)] {
            close(chi_squared_tail(x, df), ChiSquared::new(df).unwrap().sf(x), 1e-10);
        }
        close(gamma_parts(1.0, 2.5).1, libm::exp(-2.5), 1e-14);
        close(gamma_quantile(1.0, 0.95), -libm::log(0.050_000_000_000_000_044), 1e-14);
    }

    #[test]
    fn the_rule_integrates_polynomials() {
        let value = integrate(0.0, 1.0, 1, |x| x.powi(39));
        close(value, 1.0 / 40.0, 1e-13);
    }
}
