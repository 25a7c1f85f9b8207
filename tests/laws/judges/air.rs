//! Tests of the reference formulas of `air`, and of flying code against them.

mod atmosphere {
    use crate::reference::air::atmosphere::*;
    use lostlink::air::atmosphere::*;

    /// ISO 2533:1975 table 5 (values from memory): 0, 1 000 and 11 000 m geopotential.
    #[test]
    fn standard_values() {
        assert!((density_kgpm3(0.0) - 1.225).abs() < 1e-6);
        let geometric_m = |h: f64| EARTH_RADIUS_M * h / (EARTH_RADIUS_M - h);
        assert!((temperature_k(geometric_m(1_000.0)) - 281.65).abs() < 1e-9);
        assert!((pressure_pa(geometric_m(1_000.0)) / 89_874.6 - 1.0).abs() < 1e-5);
        assert!((pressure_pa(geometric_m(11_000.0)) / 22_632.0 - 1.0).abs() < 1e-4);
        assert!((pressure_pa(geometric_m(11_001.0)) / pressure_pa(geometric_m(11_000.0)) - 1.0).abs() < 2e-4);
    }

    #[test]
    fn an_offset_changes_density_and_not_pressure() {
        let warm = density_with_offset_kgpm3(500.0, 15.0);
        assert!((warm * (temperature_k(500.0) + 15.0) - density_kgpm3(500.0) * temperature_k(500.0)).abs() < 1e-9);
        let same = density_at_site_kgpm3(500.0, SEA_LEVEL_PRESSURE_PA, temperature_k(500.0) + 15.0);
        assert!((same - warm).abs() < 1e-12);
    }
}

mod turbulence {
    use crate::reference::air::turbulence::*;
    use lostlink::air::turbulence::*;

    /// 15 kt at 30 m: σ_u 1.327 m/s, L_u 152.5 m.
    #[test]
    fn light_turbulence_at_thirty_metres() {
        let wind_mps = Severity::Light.wind_20ft_mps();
        assert!((sigma_u_mps(30.0, wind_mps) - 1.327).abs() < 1e-3 && (length_u_m(30.0) - 152.5).abs() < 0.05);
        assert!((Severity::Severe.factor_on(wind_mps).unwrap() - 3.0).abs() < 1e-12);
        assert_eq!(Severity::Light.factor_on(0.0), None);
    }

    #[test]
    fn the_table_follows_the_formulas() {
        let mut height_m = 0.0;
        while height_m < 400.0 {
            let (exact, fast) = (low_altitude(height_m), LowAltitude::fast(height_m));
            assert!((fast.sigma_ratio / exact.sigma_ratio - 1.0).abs() < 1e-4, "{height_m}");
            assert!((fast.length_u_m / exact.length_u_m - 1.0).abs() < 1e-4, "{height_m}");
            assert_eq!(fast.length_w_m, exact.length_w_m);
            height_m += 0.37;
        }
    }
}

mod wind {
    use crate::reference::air::wind::*;
    use lostlink::air::wind::vector_mps;

    #[test]
    fn a_west_wind_blows_east() {
        let wind = vector_mps(5.0, 270_f64.to_radians());
        assert!((wind[0] - 5.0).abs() < 1e-12 && wind[1].abs() < 1e-12);
        assert!((from_rad(wind).to_degrees() + 90.0).abs() < 1e-12);
    }

    /// Both laws give the reference wind at the reference height and grow upwards.
    #[test]
    fn laws_meet_at_the_reference_height() {
        assert!((log_law_mps(6.0, 10.0, 10.0, 0.05) - 6.0).abs() < 1e-12);
        assert!((power_law_mps(6.0, 10.0, 10.0, 0.2) - 6.0).abs() < 1e-12);
        assert!(log_law_mps(6.0, 10.0, 40.0, 0.05) > 6.0);
        assert_eq!(log_law_mps(6.0, 10.0, 0.04, 0.05), 0.0);
        assert_eq!(power_law_mps(6.0, 10.0, 0.0, 0.2), 0.0);
    }

    #[test]
    fn categories_by_word() {
        for category in TerrainCategory::ALL {
            assert_eq!(TerrainCategory::from_word(category.word()), Some(category));
        }
        assert_eq!(TerrainCategory::from_word("V"), None);
    }
}
