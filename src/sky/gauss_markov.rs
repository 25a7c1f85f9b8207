//! Errors with a memory: first-order Gauss–Markov processes, exactly discretised.

use libm::{exp, expm1};

/// One exact step of a first-order Gauss–Markov process of unit variance: x ← coefficient · x + drive · w.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaussMarkov {
    /// What is kept of the old value.
    pub coefficient: f64,
    /// Standard deviation of what is added, for a unit process.
    pub drive: f64,
}

impl GaussMarkov {
    /// A step of `step_s` of a process with time constant `time_constant_s` > 0.
    ///
    /// # Source
    /// Exact discretisation of the Ornstein–Uhlenbeck process, e.g. Gelb, "Applied optimal estimation", 1974, section 3.8.
    #[inline]
    pub fn new(time_constant_s: f64, step_s: f64) -> Self {
        let x = step_s / time_constant_s;
        GaussMarkov { coefficient: exp(-x), drive: (-expm1(-2.0 * x)).sqrt() }
    }

    /// The next value of a unit process, given a standard normal number.
    #[inline]
    pub fn next(&self, value: f64, normal: f64) -> f64 {
        self.coefficient * value + self.drive * normal
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_process_keeps_its_variance_whatever_the_step() {
        for step in [1e-6, 0.05, 1.0, 100.0, 1e6] {
            let gm = GaussMarkov::new(30.0, step);
            assert!((gm.coefficient * gm.coefficient + gm.drive * gm.drive - 1.0).abs() < 1e-12);
        }
    }

    /// Two half steps equal one whole step, in coefficient and in variance added.
    #[test]
    fn steps_compose() {
        let (half, whole) = (GaussMarkov::new(7.0, 0.5), GaussMarkov::new(7.0, 1.0));
        assert!((half.coefficient * half.coefficient - whole.coefficient).abs() < 1e-15);
        let added = half.coefficient * half.coefficient * half.drive * half.drive + half.drive * half.drive;
        assert!((added - whole.drive * whole.drive).abs() < 1e-15);
    }
}
