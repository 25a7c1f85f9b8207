//! Tests of the reference formulas of `sky`, and of flying code against them.

mod almanac {
    use crate::reference::sky::*;
    use lostlink::sky::*;

    fn record() -> AlmanacRecord {
        // A real record of the US Coast Guard Navigation Center's almanac of week 567 (modulo 1024).
        AlmanacRecord {
            number: 2,
            health: 0,
            week: 567,
            elements: Elements {
                eccentricity: 0.009_169_101_715_1,
                toe_s: 118_784.0,
                i0_rad: 0.956_960_618_5,
                omega_dot_radps: -8.068_907_320_1e-9,
                sqrt_a_sqrtm: 5_154.330_566,
                omega0_rad: -0.823_908_329_01,
                arg_perigee_rad: 3.117_603_779,
                m0_rad: -2.046_483_516_7,
                ..Elements::default()
            },
        }
    }

    #[test]
    fn written_records_read_back() {
        let list = vec![record(), AlmanacRecord { number: 31, health: 63, week: 2_615, ..record() }];
        assert_eq!(read_yuma(&write_yuma(&list)).unwrap(), list);
    }

    #[test]
    fn errors_name_the_line() {
        let text = write_yuma(&[record()]);
        let broken = text.replace("Eccentricity:", "Eccentricity");
        assert!(matches!(read_yuma(&broken), Err(AlmanacError::Number { line: 4, .. })));
        let missing: String = text.lines().filter(|l| !l.starts_with("Af0")).map(|l| format!("{l}\n")).collect();
        assert_eq!(read_yuma(&missing), Err(AlmanacError::Missing { line: 2, field: "Af0" }));
        let degrees = text.replace("0.9569606185", "54.8");
        assert!(matches!(read_yuma(&degrees), Err(AlmanacError::Range { field: "Orbital Inclination", .. })));
        assert_eq!(read_yuma("\n\n"), Err(AlmanacError::Empty));
        assert!(read_yuma("Colour: 3").is_err());
    }
}

mod cn0 {
    use crate::reference::sky::*;
    use lostlink::sky::*;

    #[test]
    fn interference_inverts() {
        let j = tolerable_interference_db(44.0, 28.0, 1.5, CHIP_RATE_HZ).unwrap();
        assert!((effective_cn0_dbhz(44.0, j, 1.5, CHIP_RATE_HZ) - 28.0).abs() < 1e-9);
        assert_eq!(tolerable_interference_db(28.0, 28.0, 1.5, CHIP_RATE_HZ), None);
    }

    /// ∫sinc⁴ = 2/3 over all frequencies: the matched factor is exactly 3/2 (closed form).
    #[test]
    fn matched_factor_is_three_halves() {
        assert!((interference_factors(CHIP_RATE_HZ).matched - 1.5).abs() < 1e-5);
        assert!((interference_factors(10.23e6).matched - 1.5).abs() < 1e-5);
    }
}

mod dop {
    use crate::reference::sky::*;

    #[test]
    fn too_few_is_no_solution() {
        let d: Vec<[f64; 3]> = (0..3).map(|k| direction(f64::from(k), 0.5)).collect();
        assert_eq!(dop_one_clock(&d), None);
        assert_eq!(dop_one_clock(&[]), None);
        let same = vec![direction(1.0, 0.5); 9];
        assert_eq!(dop_one_clock(&same), None);
    }
}

mod error_budget {
    use crate::reference::sky::*;
    use libm::{erf, exp};
    use std::f64::consts::FRAC_1_SQRT_2;

    /// Circle and line have closed forms.
    #[test]
    fn circle_probability_limits() {
        assert!((probability_within_circle(1.0, 1.0, 1.5) - (1.0 - exp(-1.125))).abs() < 1e-9);
        assert!((probability_within_circle(1.0, 0.0, 1.5) - erf(1.5 * FRAC_1_SQRT_2)).abs() < 1e-12);
        assert!((probability_within_circle(1.0, 0.01, 1.5) - erf(1.5 * FRAC_1_SQRT_2)).abs() < 1e-3);
    }
}

mod first_fix {
    use crate::reference::sky::*;

    #[test]
    fn odd_frames_have_no_answer() {
        assert!(ephemeris_wait_s(6.0, 31.0)[0].is_nan());
        assert_eq!(ephemeris_wait_s(6.0, 18.0), [18.0, 21.0, 24.0]);
    }
}

mod heading {
    use crate::reference::sky::*;

    #[test]
    fn hard_iron_deviates_at_most_by_the_arcsine() {
        let mut most: f64 = 0.0;
        for k in 0..3600 {
            most = most.max(hard_iron_error_rad(2_000.0, 0.4, 20_000.0, f64::from(k) * 0.001_745_329).abs());
        }
        assert!((most - hard_iron_max_rad(2_000.0, 20_000.0)).abs() < 1e-5);
    }

    #[test]
    fn beyond_a_right_angle_it_never_arrives() {
        assert_eq!(spiral_path_ratio(1.6), f64::INFINITY);
        assert_eq!(spiral_distance_m(10.0, 5.0, 0.0, 3.0), 0.0);
        assert_eq!(nose_minus_course_rad(5.0, 4.0), None);
    }
}

mod kepler {
    use crate::reference::sky::*;
    use lostlink::sky::{Elements, MU_M3PS2};

    /// Late in one week is shortly before the elements of the next.
    #[test]
    fn the_week_wraps() {
        let at = |toe_s: f64, time_of_week_s: f64| {
            let e = Elements { toe_s, sqrt_a_sqrtm: 5_153.6, i0_rad: 0.96, ..Elements::default() };
            broadcast_position_m(&e, time_of_week_s, MU_M3PS2)
        };
        let far = |a: [f64; 3], b: [f64; 3]| a.iter().zip(b).map(|(x, y)| (x - y).abs()).fold(0.0, f64::max);
        assert!(far(at(400.0, 604_000.0), at(400.0, -800.0)) < 1e-3);
        assert!(far(at(604_000.0, 400.0), at(604_000.0, 605_200.0)) < 1e-3);
    }

    #[test]
    fn period_and_axis_invert() {
        assert!((semi_major_axis_m(orbit_period_s(2.6e7, MU_M3PS2), MU_M3PS2) - 2.6e7).abs() < 1e-6);
    }
}

mod outage {
    use crate::reference::sky::*;
    use libm::exp;

    /// Without a least length every outage counts: the chance of any is 1 − e^(−λt), here nearly so.
    #[test]
    fn short_outages_all_count() {
        let p = any_outage_longer(300.0, 5.0, 1e-3, 900.0);
        assert!((p - (1.0 - exp(-3.0))).abs() < 2e-3, "{p}");
        assert_eq!(any_outage_longer(300.0, 5.0, 10.0, 9.0), 0.0);
    }
}

mod skyline {
    use crate::reference::sky::*;
    use std::f64::consts::TAU;

    #[test]
    fn polyline_closes_over_north() {
        let line = Skyline::Polyline(vec![(1.0, 0.2), (2.0, 0.4), (6.0, 0.0)]);
        assert!((line.elevation_rad(1.5) - 0.3).abs() < 1e-12);
        let gap = 1.0 + TAU - 6.0;
        assert!((line.elevation_rad(0.0) - 0.2 * (TAU - 6.0) / gap).abs() < 1e-12);
        assert!((line.elevation_rad(TAU) - line.elevation_rad(0.0)).abs() < 1e-12);
        assert_eq!(Skyline::Polyline(vec![(3.0, 0.5)]).elevation_rad(0.1), 0.5);
    }

    #[test]
    fn gap_may_run_over_north() {
        let gap = Skyline::Gap { closed_rad: 0.7, open_rad: 0.1, from_rad: 6.0, to_rad: 0.5 };
        assert_eq!([6.0, 0.0, 0.5, 0.6, 5.9].map(|a| gap.elevation_rad(a)), [0.1, 0.1, 0.1, 0.7, 0.7]);
        assert_eq!(Skyline::Highest(vec![gap, Skyline::Level(0.3)]).elevation_rad(0.0), 0.3);
    }
}
