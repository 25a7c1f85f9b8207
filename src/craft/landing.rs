//! Touch-down: what the speeds and the ground at contact do, and how long a landing takes and drifts.

/// How a touch-down goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Touch {
    /// Set down.
    Soft,
    /// Harder than it should be.
    Hard,
    /// It tips over: it slides over the ground too fast, or the ground is too steep.
    TippedOver,
    /// It hits the ground.
    Crash,
}

/// Limits of a touch-down; all are inputs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TouchLimits {
    /// Greatest vertical and horizontal speed of a soft touch-down.
    pub soft_mps: [f64; 2],
    /// Greatest vertical and horizontal speed that is not a crash.
    pub hard_mps: [f64; 2],
    /// Slope at which a craft set down at rest tips over.
    pub tip_slope_rad: f64,
}

impl TouchLimits {
    /// What happens at a touch-down with a sink speed, a horizontal speed, and a local slope ≥ 0.
    ///
    /// The horizontal speed that tips it over falls with the slope: the height that the centre of mass must be lifted
    /// to roll over the downhill foot shrinks about in proportion to the angle left before tipping, and the speed goes
    /// with its root. The direction of motion against the slope is not looked at.
    ///
    /// # Source
    /// Estimate: tripping of a rigid body on two feet, linearised in the slope.
    pub fn judge(&self, sink_mps: f64, horizontal_mps: f64, slope_rad: f64) -> Touch {
        let slope_share = slope_rad.max(0.0) / self.tip_slope_rad;
        let bearable = sink_mps <= self.hard_mps[0] && horizontal_mps <= self.hard_mps[1];
        if !bearable {
            Touch::Crash
        } else if slope_share >= 1.0 || horizontal_mps > self.soft_mps[1] * (1.0 - slope_share).sqrt() {
            Touch::TippedOver
        } else if sink_mps > self.soft_mps[0] {
            Touch::Hard
        } else {
            Touch::Soft
        }
    }
}

/// Standard deviation of the local slope on open ground about that of the terrain grid, rad per axis.
///
/// # Source
/// Estimate: 2 cm of unevenness under a 30 cm stance is 4°.
pub const OPEN_SLOPE_SIGMA_RAD: f64 = 0.05;

/// The same on rough ground (scrub, stones, furrows).
///
/// # Source
/// Estimate: 8 cm under a 30 cm stance is 15°.
pub const ROUGH_SLOPE_SIGMA_RAD: f64 = 0.22;

/// Local slope in rad at a touch-down: the grid's slope, and unevenness drawn by two standard normals.
pub fn local_slope_rad(grid_slope_rad: f64, sigma_rad: f64, normals: [f64; 2]) -> f64 {
    let along = grid_slope_rad + sigma_rad * normals[0];
    let across = sigma_rad * normals[1];
    (along * along + across * across).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn speeds_and_slope_decide() {
        let limits = TouchLimits { soft_mps: [1.0, 1.5], hard_mps: [3.0, 3.0], tip_slope_rad: 25_f64.to_radians() };
        assert_eq!(limits.judge(0.7, 0.2, 0.0), Touch::Soft);
        assert_eq!(limits.judge(2.0, 0.2, 0.0), Touch::Hard);
        assert_eq!(limits.judge(0.7, 2.0, 0.0), Touch::TippedOver);
        assert_eq!(limits.judge(0.7, 5.0, 0.0), Touch::Crash);
        assert_eq!(limits.judge(4.0, 0.0, 0.0), Touch::Crash);
        assert_eq!(limits.judge(0.7, 0.0, 0.5), Touch::TippedOver);
        assert_eq!(limits.judge(0.7, 1.2, 0.0), Touch::Soft);
        assert_eq!(limits.judge(0.7, 1.2, 0.3), Touch::TippedOver);
        assert_eq!(limits.judge(f64::NAN, 0.0, 0.0), Touch::Crash);
    }
}
