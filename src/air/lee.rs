//! Wind shadow behind an obstacle: a stated simplification.

/// Share of the mean wind lost at the ground right behind a solid obstacle.
///
/// # Source
/// Estimate. Wind-break measurements report 50–80 % loss close behind dense barriers (WMO-No. 8 advises ten
/// heights of distance for that reason; from memory).
pub const SOLID_LOSS: f64 = 0.7;

/// The same behind trees.
///
/// # Source
/// Estimate: a porous barrier takes about half of what a solid one does.
pub const TREE_LOSS: f64 = 0.4;

/// A wedge of slow air behind an obstacle: its top falls in a straight line from the obstacle's top to the
/// ground, and the loss at the ground falls in a straight line to nothing over the same length.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Wedge {
    /// Top of the slow air above ground, m; 0: none.
    pub top_m: f32,
    /// Share of the mean wind lost at the ground.
    pub loss: f32,
}

impl Wedge {
    /// The wedge `distance_m` downwind of an obstacle of a height, when the shadow is `lee_heights` obstacle
    /// heights long and takes `loss` right behind it.
    ///
    /// # Source
    /// Simplification: wakes of real obstacles depend on width, porosity and stability, and are turbulent; this
    /// one only slows the mean wind.
    pub fn behind(height_m: f64, distance_m: f64, lee_heights: f64, loss: f64) -> Wedge {
        let share = 1.0 - distance_m / (lee_heights * height_m);
        if height_m <= 0.0 || share <= 0.0 || share.is_nan() {
            return Wedge::default();
        }
        Wedge { top_m: (height_m * share) as f32, loss: (loss * share) as f32 }
    }

    /// Share of the mean wind left at a height above ground: 1 at and above the wedge's top.
    #[inline]
    pub fn wind_share(self, height_agl_m: f64) -> f64 {
        let top_m = f64::from(self.top_m);
        if height_agl_m >= top_m {
            return 1.0;
        }
        1.0 - f64::from(self.loss) * (1.0 - height_agl_m.max(0.0) / top_m)
    }

    /// The stronger of two shadows: at the ground.
    pub fn stronger(self, other: Wedge) -> Wedge {
        if other.loss > self.loss { other } else { self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wedge_ends_where_it_should() {
        let near = Wedge::behind(10.0, 0.0, 10.0, SOLID_LOSS);
        assert_eq!(near.wind_share(10.0), 1.0);
        assert!((near.wind_share(0.0) - (1.0 - SOLID_LOSS)).abs() < 1e-6);
        let middle = Wedge::behind(10.0, 50.0, 10.0, SOLID_LOSS);
        assert!((f64::from(middle.top_m) - 5.0).abs() < 1e-6);
        assert!(middle.wind_share(2.0) > near.wind_share(2.0));
        assert_eq!(Wedge::behind(10.0, 100.0, 10.0, SOLID_LOSS), Wedge::default());
        assert_eq!(Wedge::behind(10.0, 5.0, 0.0, SOLID_LOSS).wind_share(0.0), 1.0);
        assert_eq!(Wedge::default().wind_share(0.0), 1.0);
    }
}
