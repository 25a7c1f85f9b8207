//! Tests of the reference formulas of `craft`, and of flying code against them.

mod battery {
    use crate::reference::craft::battery::*;
    use lostlink::craft::Pack;

    fn reference() -> Pack {
        pouch_pack(6, 2.2, 0.04, 298.15, [3.5, 3.3, 3.0])
    }

    /// The stepped pack reaches the cut-off when the closed integral says so.
    /// The trapezoid over the table is its integral, since it is straight between nodes.
    #[test]
    fn open_circuit_energy_is_the_area_under_the_table() {
        let pack = reference();
        let steps = 20_000;
        let sum: f64 = (0..steps).map(|k| pack.open_circuit_v((f64::from(k) + 0.5) / f64::from(steps))).sum();
        let want = 3_600.0 * 2.2 * sum / f64::from(steps);
        assert!((open_circuit_energy_j(&pack, 1.0, 0.0) / want - 1.0).abs() < 1e-9);
        let pieces = open_circuit_energy_j(&pack, 0.93, 0.17) + open_circuit_energy_j(&pack, 0.17, 0.0);
        assert!((pieces - open_circuit_energy_j(&pack, 0.93, 0.0)).abs() < 1e-6);
    }

    #[test]
    fn stepping_agrees_with_the_integral() {
        let pack = Pack { filter_s: 0.0, ..reference() };
        let mut state = pack.at(1.0);
        let mut time_s = 0.0;
        while pack.step(&mut state, 143.0, 0.05).cell_v > 3.5 {
            time_s += 0.05;
        }
        let want = time_to_cutoff_s(&pack, 143.0, 1.0, 3.5).unwrap();
        assert!((time_s - want).abs() < 0.2, "{time_s} {want}");
        assert_eq!(time_to_charge_s(&pack, 143.0, 0.2, 0.5), None);
        assert_eq!(time_to_charge_s(&pack, 1e5, 0.9, 0.5), None);
    }

    #[test]
    fn planning_charge_agrees_with_the_integral() {
        let pack = reference();
        let time_s = time_to_charge_s(&pack, 143.0, 0.9, 0.6).unwrap();
        let used = pack.charge_used(143.0 * time_s, 143.0, 0.9).unwrap();
        assert!((used - 0.3).abs() < 2e-3, "{used}");
        assert!(pack.charge_used(1e9, 143.0, 0.9).unwrap() > 1.0);
        assert_eq!(pack.charge_used(1.0, 1e9, 0.9), None);
    }

    #[test]
    fn a_threshold_beyond_the_end_is_never_reached() {
        assert_eq!(filter_crossing_s(2.0, 21.6, 20.4, 20.0), None);
        assert_eq!(filter_crossing_s(2.0, 21.6, 20.4, 22.0), None);
        assert_eq!(filter_crossing_s(2.0, 21.6, 20.4, 21.6), Some(0.0));
    }
}

mod fall {
    use crate::reference::craft::fall::*;
    use lostlink::craft::FallBody;
    use lostlink::craft::fall::kinetic_energy_j;
    use lostlink::units::STANDARD_GRAVITY_MPS2;

    /// A drop in still air against its closed form.
    #[test]
    fn a_drop_matches_the_closed_form() {
        let body = FallBody::new(1.0, 0.03);
        let terminal = terminal_mps(1.0, 0.03, 1.225, STANDARD_GRAVITY_MPS2);
        for height_m in [0.5, 10.0, 120.0, 2_000.0] {
            let fall = fall_exact(&body, height_m, [0.0; 3], [0.0; 3], 1.225).unwrap();
            let speed = dropped_speed_mps(height_m, terminal, STANDARD_GRAVITY_MPS2);
            let time = dropped_time_s(height_m, terminal, STANDARD_GRAVITY_MPS2);
            assert!((fall.speed_mps() / speed - 1.0).abs() < 1e-9);
            assert!((fall.time_s / time - 1.0).abs() < 1e-9);
        }
    }

    /// In a frame that moves with the wind the air is still: the fall with wind is the same fall, carried along.
    #[test]
    fn wind_is_a_change_of_frame() {
        let body = FallBody::new(0.7, 0.025);
        let wind = [4.0, -3.0, 0.0];
        let with = fall_exact(&body, 60.0, [10.0, 0.0, 1.0], wind, 1.2).unwrap();
        let still = fall_exact(&body, 60.0, [6.0, 3.0, 1.0], [0.0; 3], 1.2).unwrap();
        assert!((with.time_s - still.time_s).abs() < 1e-9);
        assert!((with.distance_m - still.distance_m - 4.0 * with.time_s).abs() < 1e-8);
        assert!((with.cross_m - still.cross_m + 3.0 * with.time_s).abs() < 1e-8);
    }

    #[test]
    fn without_drag_it_is_a_parabola() {
        let body = FallBody { mass_kg: 1.0, drag_area_m2: 0.0, gravity_mps2: 9.81 };
        let fall = fall_exact(&body, 50.0, [10.0, 0.0, 0.0], [3.0, 0.0, 0.0], 1.225).unwrap();
        let want = without_drag(50.0, 10.0, 9.81);
        assert!((fall.distance_m - want.distance_m).abs() < 1e-9 && (fall.time_s - want.time_s).abs() < 1e-9);
        assert!((fall.angle_rad() - want.angle_rad()).abs() < 1e-9);
    }

    #[test]
    fn yardsticks() {
        // 14 CFR 107.120(a)(1) and 107.130(a)(1): 11 and 25 foot-pounds.
        assert!((joules_from_foot_pounds(11.0) - 14.914).abs() < 1e-3);
        assert!((joules_from_foot_pounds(25.0) - 33.895).abs() < 1e-3);
        let mass_kg = mass_for_terminal_energy_kg(80.0, 30.0, 1.225, 9.806_65);
        let speed = terminal_mps(mass_kg, mass_kg / 30.0, 1.225, 9.806_65);
        assert!((kinetic_energy_j(mass_kg, speed) - 80.0).abs() < 1e-9);
    }
}

mod kinematics {
    use crate::reference::craft::kinematics::*;
    use lostlink::craft::kinematics::*;

    #[test]
    fn tilt_and_drag_balance() {
        let k = drag_per_m(1.0, 0.018, 1.225);
        for linear in [0.0, 0.15, 0.5] {
            let v = tilt_limited_mps(0.5, linear, k);
            assert!((linear * v + k * v * v - tilt_accel_mps2(0.5)).abs() < 1e-9);
        }
        assert!((tilt_limited_mps(0.5, 0.2, 0.0) - tilt_accel_mps2(0.5) / 0.2).abs() < 1e-9);
        assert_eq!(tilt_limited_mps(0.0, 0.0, 0.0), 0.0);
    }

    #[test]
    fn the_triangle_closes() {
        for angle in [0.1, 0.9, 2.0, 3.0, -1.2] {
            let (va, w) = (12.0, 7.0);
            let ground = ground_speed_mps(va, w, angle).unwrap();
            let crab = crab_rad(va, w, angle).unwrap();
            assert!((va * libm::cos(crab) + w * libm::cos(angle) - ground).abs() < 1e-12);
            assert!((va * libm::sin(crab) + w * libm::sin(angle)).abs() < 1e-12);
        }
        assert_eq!(ground_speed_mps(5.0, 8.0, 1.5), None);
        assert!(ground_speed_mps(5.0, 8.0, std::f64::consts::PI).unwrap() < 0.0);
        assert_eq!(crab_rad(5.0, 8.0, 1.5), None);
        assert_eq!(out_and_back_ratio(8.0, 8.0), None);
    }

    /// The drift forms meet in their limits, and the speed is the slope of the distance.
    #[test]
    fn drift_forms_are_consistent() {
        let slope = |k1: f64, k: f64, t: f64| {
            (drift_distance_m(6.0, k1, k, t + 1e-4) - drift_distance_m(6.0, k1, k, t - 1e-4)) / 2e-4
        };
        for (k1, k) in [(0.0, 0.011), (0.15, 0.011), (0.15, 0.0), (0.15, 1e-12), (1e-13, 0.011)] {
            for t in [1.0, 10.0, 100.0] {
                assert!((slope(k1, k, t) - drift_speed_mps(6.0, k1, k, t)).abs() < 1e-6, "{k1} {k} {t}");
            }
        }
        assert!((drift_distance_m(6.0, 0.0, 0.011, 30.0) - drift_distance_m(6.0, 1e-9, 0.011, 30.0)).abs() < 1e-5);
    }
}

mod landing {
    use crate::reference::craft::kinematics::drift_distance_m;
    use crate::reference::craft::landing::*;

    /// In a uniform wind the integral is the closed form of the drift.
    #[test]
    fn landing_drift_in_uniform_wind_is_the_closed_form() {
        let got = landing_drift_m(40.0, 1.0, |_| 6.0, 0.15, 0.011);
        assert!((got - drift_distance_m(6.0, 0.15, 0.011, 40.0)).abs() < 1e-6);
    }

    #[test]
    fn two_stage_landing() {
        assert!((landing_time_s(60.0, 2.5, 8.0, 0.7) - (52.0 / 2.5 + 8.0 / 0.7)).abs() < 1e-12);
        assert!((landing_time_s(4.0, 2.5, 8.0, 0.7) - 4.0 / 0.7).abs() < 1e-12);
    }
}

mod rotor {
    use crate::reference::craft::rotor::*;
    use lostlink::craft::rotor::*;
    use lostlink::units::STANDARD_GRAVITY_MPS2;

    fn reference() -> Rotors {
        Rotors {
            disc_area_m2: disc_area_m2(4, 0.1778),
            induced_factor: 1.15,
            profile_power_w: 32.0,
            tip_speed_mps: 75.0,
            drag_area_m2: 0.018,
            drive_efficiency: 0.78,
            aux_power_w: 10.0,
        }
    }

    /// The four solutions agree where they meet, and each satisfies the momentum equation.
    #[test]
    fn induced_velocities_satisfy_momentum() {
        for (x, z) in
            [(0.0, 0.0), (0.0, 4.0), (10.0, 0.0), (15.0, 3.0), (12.0, -4.0), (3.0, -1.0), (20.0, -9.0), (40.0, 0.5)]
        {
            let h = 6.35;
            let v = general_mps(x, z, h);
            let residual = v * (x * x + (z + v) * (z + v)).sqrt() / (h * h) - 1.0;
            assert!(residual.abs() < 1e-12, "({x}, {z}): {residual:e}");
        }
        assert!((general_mps(10.0, 0.0, 6.35) - edgewise_mps(10.0, 6.35)).abs() < 1e-12);
        assert!((general_mps(0.0, 4.0, 6.35) - climb_mps(4.0, 6.35)).abs() < 1e-12);
        assert_eq!(sinking_ratio(0.0), 1.0);
        assert_eq!(windmill_ratio(-2.0), Some(1.0));
        assert_eq!(windmill_ratio(-1.9), None);
        assert_eq!(general_mps(10.0, 1.0, 0.0), 0.0);
    }

    /// Published table of Zeng, Xu and Zhang 2019; the paper reports 10.2 m/s and 18.3 m/s.
    #[test]
    fn the_published_model_has_its_published_optima() {
        let weight_n = 20.0;
        let disc_area_m2 = 0.503;
        let model = RotaryWing {
            profile_power_w: blade_profile_w(0.012, 1.225, 0.05, disc_area_m2, 300.0, 0.4),
            induced_power_w: induced_with_increment_w(weight_n, 0.1, 1.225, disc_area_m2),
            tip_speed_mps: 120.0,
            hover_induced_mps: hover_induced_mps(weight_n, disc_area_m2, 1.225),
            body_drag_ratio: 0.6,
            solidity: 0.05,
            disc_area_m2,
            density_kgpm3: 1.225,
        };
        assert!((model.min_power_mps() - 10.2).abs() < 0.05);
        assert!((model.best_range_mps() - 18.3).abs() < 0.05);
        // Our own level power with the same numbers: drag of the body, no tilt of the thrust to speak of.
        let ours = Rotors {
            disc_area_m2,
            induced_factor: 1.1,
            profile_power_w: model.profile_power_w,
            tip_speed_mps: 120.0,
            drag_area_m2: 0.6 * 0.05 * disc_area_m2,
            drive_efficiency: 1.0,
            aux_power_w: 0.0,
        }
        .level(weight_n / STANDARD_GRAVITY_MPS2, 1.225);
        for speed_mps in [0.0, 5.0, 10.0, 15.0, 20.0] {
            let (one, other) = (ours.power_w(speed_mps), model.power_w(speed_mps));
            assert!((one / other - 1.0).abs() < 0.01, "{speed_mps}: {one} {other}");
        }
    }

    /// The power in a climb: momentum theory in closed form for a vertical one.
    #[test]
    fn climb_power_matches_the_closed_form() {
        let rotors = reference();
        let weight_n = STANDARD_GRAVITY_MPS2;
        let h = hover_induced_mps(weight_n, rotors.disc_area_m2, 1.225);
        for climb in [0.5, 2.0, 4.0, 8.0] {
            let want = (weight_n * (1.15 * climb_mps(climb, h) + climb) + 32.0) / 0.78 + 10.0;
            let got = rotors.power_w(weight_n, 0.0, climb, 1.225);
            assert!((got / want - 1.0).abs() < 2e-3, "{climb}: {got} {want}");
        }
        assert_eq!(rotors.power_w(weight_n, 8.0, -3.0, 1.225), rotors.power_w(weight_n, 8.0, 0.0, 1.225));
    }

    /// The few Newton steps of the flight loop against the solved equation, over speeds and climbs.
    #[test]
    fn inflow_in_a_climb_is_near_the_solution() {
        let rotors = reference();
        let weight_n = STANDARD_GRAVITY_MPS2;
        let h = hover_induced_mps(weight_n, rotors.disc_area_m2, 1.225);
        for speed in [0.0, 2.0, 6.0, 12.0, 20.0] {
            let level = rotors.power_w(weight_n, speed, 0.0, 1.225);
            let with = |v: f64, climb: f64| weight_n * (1.15 * (v - edgewise_mps(speed, h)) + climb) / 0.78;
            for climb in [0.01, 0.1, 0.3, 0.6, 0.64, 1.0, 2.0, 2.5, 2.6, 4.0, 6.0, 8.0] {
                let want = level + with(general_mps(speed, climb, h), climb);
                let got = rotors.power_w(weight_n, speed, climb, 1.225);
                assert!((got / want - 1.0).abs() < 2e-4, "{speed} {climb}: {got} {want}");
            }
        }
    }

    #[test]
    fn best_range_speed_rises_with_the_headwind() {
        let craft = reference().level(1.0, 1.225);
        let speeds: Vec<f64> = [-6.0, 0.0, 4.0, 8.0, 16.0].map(|w| best_range_mps(&craft, w).unwrap()).to_vec();
        assert!(speeds.windows(2).all(|pair| pair[0] < pair[1]), "{speeds:?}");
        assert_eq!(leg_energy_j(&craft, 500.0, 8.0, 8.0), None);
        assert_eq!(best_range_mps(&craft, 200.0), None);
    }

    /// The published hover regression and our default efficiency agree within its spread at 3 kg, 4 × 13 in.
    #[test]
    fn default_efficiency_is_near_measured_hover_power() {
        let disc = disc_area_m2(4, 0.33);
        let weight_n = 3.0 * STANDARD_GRAVITY_MPS2;
        let ours = hover_electrical_w(weight_n, hover_induced_mps(weight_n, disc, 1.2), 0.60, 0.78, 13.8);
        assert!((ours / hover_regression_w(3.0, 1.2) - 1.0).abs() < 0.1, "{ours}");
    }
}
