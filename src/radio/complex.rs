//! The few complex operations that wave formulas need, on `libm`, so that they give the same bits everywhere.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A complex number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Complex {
    pub re: f64,
    pub im: f64,
}

impl Complex {
    pub const fn new(re: f64, im: f64) -> Self {
        Complex { re, im }
    }

    #[inline]
    pub fn norm_squared(self) -> f64 {
        self.re * self.re + self.im * self.im
    }

    #[inline]
    pub fn norm(self) -> f64 {
        self.norm_squared().sqrt()
    }

    /// Principal root: real part ≥ 0.
    #[inline]
    pub fn sqrt(self) -> Self {
        let norm = self.norm();
        if norm == 0.0 {
            return Complex::new(0.0, 0.0);
        }
        // The larger part by a sum of like signs, the other from the product, so that nothing cancels.
        if self.re >= 0.0 {
            let re = (0.5 * (norm + self.re)).sqrt();
            Complex::new(re, 0.5 * self.im / re)
        } else {
            let im = (0.5 * (norm - self.re)).sqrt().copysign(self.im);
            Complex::new(0.5 * self.im / im, im)
        }
    }
}

impl Add for Complex {
    type Output = Self;
    #[inline]
    fn add(self, other: Self) -> Self {
        Complex::new(self.re + other.re, self.im + other.im)
    }
}

impl Sub for Complex {
    type Output = Self;
    #[inline]
    fn sub(self, other: Self) -> Self {
        Complex::new(self.re - other.re, self.im - other.im)
    }
}

impl Neg for Complex {
    type Output = Self;
    #[inline]
    fn neg(self) -> Self {
        Complex::new(-self.re, -self.im)
    }
}

impl Mul for Complex {
    type Output = Self;
    #[inline]
    fn mul(self, other: Self) -> Self {
        Complex::new(self.re * other.re - self.im * other.im, self.re * other.im + self.im * other.re)
    }
}

impl Mul<f64> for Complex {
    type Output = Self;
    #[inline]
    fn mul(self, factor: f64) -> Self {
        Complex::new(self.re * factor, self.im * factor)
    }
}

impl Div for Complex {
    type Output = Self;
    #[inline]
    fn div(self, other: Self) -> Self {
        let scale = 1.0 / other.norm_squared();
        Complex::new(
            (self.re * other.re + self.im * other.im) * scale,
            (self.im * other.re - self.re * other.im) * scale,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_root_squared_gives_the_number_back() {
        for z in [Complex::new(3.0, 4.0), Complex::new(-3.0, 1e-9), Complex::new(-2.0, -5.0), Complex::new(0.0, 2.0)] {
            let root = z.sqrt();
            assert!(root.re >= 0.0);
            assert!((root * root - z).norm() < 1e-14 * z.norm());
        }
    }

    #[test]
    fn division_undoes_multiplication() {
        let (a, b) = (Complex::new(1.5, -2.0), Complex::new(-0.25, 7.0));
        assert!(((a * b) / b - a).norm() < 1e-15);
    }
}
