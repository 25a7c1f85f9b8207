//! Tests of the reference formulas of `risk`, and of flying code against them.

mod harm {
    use crate::reference::risk::harm::*;
    use lostlink::risk::harm::*;

    #[test]
    fn areas_agree_where_they_must() {
        let disc = strike_area_disc_m2(0.3, 0.3);
        let steep = strike_area_capsule_m2(0.3, 0.3, 1.8, std::f64::consts::FRAC_PI_2);
        assert!((disc - steep).abs() < 1e-12);
        // A slide slower than the lethal speed adds nothing.
        let slow = Slide {
            width_m: 2.0,
            mass_kg: 10.0,
            impact_speed_mps: 1.0,
            impact_angle_rad: 0.6,
            person_radius_m: 0.3,
            person_height_m: 1.8,
            lethal_energy_j: 290.0,
            friction: 0.65,
            restitution: 0.7,
        };
        let still = strike_area_capsule_m2(1.0, 0.3, 1.8, 0.6);
        assert!((critical_area_with_slide_m2(&slow) - still).abs() < 1e-12);
        assert!(critical_area_small_m2(0.6, 1.0, 0.3, 1.8) < strike_area_capsule_m2(0.3, 0.3, 1.8, 1.0));
    }

    #[test]
    fn curves_grow_with_energy_and_are_half_at_alpha() {
        assert!((fatality_penalty_factor(1e6, 1e6, 34.0, 0.5) - 0.5).abs() < 1e-12);
        assert_eq!(fatality_penalty_factor(0.0, 1e5, 34.0, 0.25), 0.0);
        assert_eq!(fatality_thresholded(34.0, 1e5, 34.0, 3.0), 0.0);
        assert!((fatality_thresholded(1e5, 1e5, 34.0, 6.0) - 0.5).abs() < 1e-12);
        let mut last = 0.0;
        for e in 1..400 {
            let p = fatality_penalty_factor(f64::from(e), 1e5, 34.0, 0.25);
            assert!(p > last && p < 1.0);
            last = p;
        }
    }
}
