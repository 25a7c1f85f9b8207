//! Tests of the reference formulas of `radio`, and of flying code against them.

mod clutter {
    use crate::reference::radio::clutter::*;

    #[test]
    fn above_the_clutter_nothing_is_lost() {
        assert_eq!(clutter_loss_db(900e6, 12.0, 27.0, 10.0, Clutter::Suburban).unwrap(), 0.0);
        let low = clutter_loss_db(900e6, 1.5, 27.0, 10.0, Clutter::OpenRural).unwrap();
        assert!(low > 0.0 && low < clutter_loss_db(900e6, 1.5, 27.0, 10.0, Clutter::Suburban).unwrap());
        assert!(clutter_loss_db(5.8e9, 1.5, 27.0, 10.0, Clutter::Suburban).is_err());
    }

    #[test]
    fn sight_improves_with_height_and_worsens_with_distance() {
        let p = |h, d| rural_line_of_sight_probability(h, d).unwrap();
        assert!(p(20.0, 3000.0) > p(20.0, 6000.0));
        assert!(p(35.0, 3000.0) > p(20.0, 3000.0));
        assert_eq!(p(120.0, 9000.0), 1.0);
        assert!(rural_line_of_sight_probability(400.0, 100.0).is_err());
    }
}

mod diffraction {
    use crate::reference::radio::diffraction::*;
    use lostlink::radio::diffraction::*;
    use std::f64::consts::PI;

    #[test]
    fn grazing_rows_of_edges_follow_the_closed_form() {
        // n equal edges, equally spaced, at grazing incidence: amplitude 1/(n + 1) (Xia and Bertoni 1992).
        for n in 1..=6 {
            let spacings = vec![250.0; n + 1];
            let heights = vec![0.0; n];
            let loss = knife_edges_exact_db(2.4e9, Edges::new(&spacings, &heights).unwrap()).unwrap();
            assert!((loss - 20.0 * libm::log10(n as f64 + 1.0)).abs() < 1e-6, "{n} edges: {loss}");
        }
    }

    #[test]
    fn one_edge_of_the_integral_is_the_fresnel_integral() {
        // v from the geometry, then ITU-R P.526 equation (30).
        for height in [-12.0, -6.0, -1.0, 0.0, 3.0, 15.0, 80.0, 250.0] {
            let (spacings, heights) = ([400.0, 900.0], [height]);
            let v = fresnel_parameter(2.4e9, 400.0, 900.0, height).unwrap();
            let chain = knife_edges_exact_db(2.4e9, Edges::new(&spacings, &heights).unwrap()).unwrap();
            let direct = knife_edge_loss_exact_db(v).unwrap();
            assert!((chain - direct).abs() < 1e-4, "{height} m, v {v}: {chain} against {direct}");
        }
    }

    #[test]
    fn both_branches_of_the_fresnel_integral_meet() {
        let below = knife_edge_loss_exact_db(2.0 - 1e-9).unwrap();
        let above = knife_edge_loss_exact_db(2.0 + 1e-9).unwrap();
        assert!((below - above).abs() < 1e-7);
        // Deep shadow: 1/(π v √2) of the field, 13 + 20 log10 v in dB.
        let deep = knife_edge_loss_exact_db(1000.0).unwrap();
        assert!((deep - 20.0 * libm::log10(PI * 1000.0 * 2.0f64.sqrt())).abs() < 1e-5);
    }

    #[test]
    fn an_edge_pays_the_surcharge_only_under_the_terrain_method() {
        let (spacings, heights) = ([500.0, 700.0], [12.0]);
        let edges = Edges::new(&spacings, &heights).unwrap();
        let clean = single_edge_loss_db(868e6, 500.0, 700.0, 12.0).unwrap();
        assert!((deygout_raw_db(868e6, edges).unwrap() - clean).abs() < 1e-12);
        assert!(bullington_edges_db(868e6, edges).unwrap() > clean + 6.0);
    }
}

mod fading {
    use crate::reference::radio::fading::*;
    use lostlink::radio::maths::rician_tails;
    use lostlink::units::ratio_from_db;

    /// Rayleigh fading (Jakes 1974): outage 1−exp(−x); crossings √(2π)·fd·ρ·exp(−ρ²).
    #[test]
    fn rician_with_k_zero_is_rayleigh() {
        for level in [-40.0, -10.0, 0.0, 5.0] {
            let want = rayleigh_outage(level);
            assert!((rician_tails(0.0, ratio_from_db(level)).below / want - 1.0).abs() < 1e-12);
            let rho = ratio_from_db(0.5 * level);
            let lcr = f64::sqrt(std::f64::consts::TAU) * 50.0 * rho * libm::exp(-rho * rho);
            assert!((level_crossing_rate_hz(0.0, level, 50.0) / lcr - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn fade_levels_invert_the_outage() {
        for k_db in [-10.0, 0.0, 6.0, 15.0, 30.0] {
            for p in [1e-9, 1e-4, 0.01, 0.5, 0.99] {
                let level = rician_fade_level_db(k_db, p).unwrap();
                assert!((rician_outage(k_db, level) / p - 1.0).abs() < 1e-9, "{k_db} {p}");
            }
        }
        assert_eq!(rician_fade_level_db(6.0, 0.0), None);
        assert_eq!(rician_fade_level_db(6.0, 1.0), None);
    }
}

mod free_space {
    use crate::reference::radio::free_space::*;
    use lostlink::radio::free_space::one_metre_loss_db;

    #[test]
    fn the_constant_of_the_printed_formula() {
        // ITU-R P.525 prints 32.4 + 20 log f_MHz + 20 log d_km; the exact constant is 32.44778.
        assert!((free_space_loss_db(1e6, 1e3).unwrap() - 32.447_783).abs() < 1e-6);
    }

    #[test]
    fn a_decade_is_20_db() {
        let loss = |distance_m| free_space_loss_db(868e6, distance_m).unwrap();
        assert!((loss(1e4) - loss(1e3) - 20.0).abs() < 1e-12);
        assert_eq!(loss(1.0), one_metre_loss_db(868e6));
    }

    #[test]
    fn outside_the_range_is_refused() {
        assert!(free_space_loss_db(2.4e9, 0.0).is_err());
        assert!(free_space_loss_db(f64::NAN, 1.0).is_err());
        assert!(fresnel_radius_m(2.4e9, 1.0, 1.0, 0).is_err());
        assert!(earth_bulge_m(-1.0, 1.0, 8.5e6).is_err());
    }
}

mod ground {
    use crate::reference::radio::ground::*;
    use lostlink::radio::free_space::WavePolarisation;
    use lostlink::radio::ground::roughness_factor;

    #[test]
    fn beyond_the_break_distance_loss_grows_twelve_db_an_octave() {
        let bounce = GroundBounce::new(2.44e9, 15.0, 0.005, 0.0, WavePolarisation::Horizontal).unwrap();
        let far = 20.0 * two_ray_break_distance_m(2.44e9, 1.5, 10.0).unwrap();
        // 6 dB of these 12 are free space's.
        let octave = bounce.excess_db(2.0 * far, 1.5, 10.0, 1.0) - bounce.excess_db(far, 1.5, 10.0, 1.0);
        assert!((octave - 6.02).abs() < 0.1, "{octave}");
    }

    #[test]
    fn rough_ground_takes_the_bounce_away() {
        let rough = GroundBounce::new(5.8e9, 15.0, 0.005, 2.0, WavePolarisation::Vertical).unwrap();
        assert!(rough.excess_db(300.0, 2.0, 60.0, 1.0).abs() < 1e-6);
        assert!(roughness_factor(5.8e9, 0.2, 2.0).unwrap() < 1e-6);
        let shaded = GroundBounce::new(5.8e9, 15.0, 0.005, 0.0, WavePolarisation::Vertical).unwrap();
        assert_eq!(shaded.excess_db(300.0, 2.0, 60.0, 0.0).abs(), 0.0);
    }

    #[test]
    fn wetter_soil_has_more_permittivity() {
        let soil = |water_share| Soil {
            sand_pct: 51.52,
            clay_pct: 13.42,
            silt_pct: 35.06,
            water_share,
            specific_gravity: 2.65,
        };
        let real = |water| soil_permittivity(2.4e9, 20.0, soil(water)).unwrap().real;
        assert!(real(0.05) < real(0.15) && real(0.15) < real(0.3));
        assert!(soil_permittivity(2.4e9, 20.0, soil(0.9)).is_err());
    }
}

mod modem {
    use crate::reference::radio::modem::*;
    use lostlink::radio::modem::fsk_bit_error_rate_index;

    #[test]
    fn orthogonal_index_is_the_simple_formula() {
        for eb_n0_db in [-3.0, 5.0, 12.0] {
            let (general, simple) = (fsk_bit_error_rate_index(eb_n0_db, 1.0), fsk_bit_error_rate(eb_n0_db));
            assert!((general / simple - 1.0).abs() < 1e-9);
        }
        assert!(fsk_bit_error_rate_index(10.0, 0.5) > fsk_bit_error_rate(10.0));
    }
}

mod noise {
    use crate::reference::radio::noise::*;
    use lostlink::radio::noise::*;

    #[test]
    fn equal_interference_doubles_the_noise() {
        assert!((noise_rise_db(0.0).unwrap() - 3.010_3).abs() < 1e-4);
        assert!((overall_noise_figure_db(0.0, 5.0).unwrap() - 5.0).abs() < 1e-12);
    }
}

mod packets {
    use crate::reference::radio::packets::*;
    use lostlink::radio::packets::BurstProcess;

    /// With equal losses in both states the process is independent loss.
    #[test]
    fn equal_states_are_independent() {
        let same = BurstProcess { good_to_bad: 0.1, bad_to_good: 0.3, loss_good: 0.2, loss_bad: 0.2 };
        for run in [1, 3, 12] {
            assert!((same.first_run(run) / independent_first_run(0.2, run) - 1.0).abs() < 1e-12);
        }
        assert!((window_sigma(&same, 50) - (0.2 * 0.8 / 50.0_f64).sqrt()).abs() < 1e-12);
        assert!(autocorrelation(&same, 1).abs() < 1e-15);
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
        assert!((autocorrelation(&fine, 25) - autocorrelation(&coarse, 1)).abs() < 1e-12);
    }
}

mod shadowing {
    use crate::reference::radio::shadowing::*;

    #[test]
    fn innovation_keeps_the_variance() {
        for step in [1e-6, 0.3, 10.0, 500.0] {
            let rho = correlation(step, 37.0);
            let new = innovation_sigma_db(4.0, step, 37.0);
            assert!((rho * rho * 16.0 + new * new - 16.0).abs() < 1e-12);
        }
    }
}
