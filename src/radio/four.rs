//! Four numbers on which everything is done at once.

use rustfft::num_traits::{FromPrimitive, Num, One, Signed, Zero};
use std::ops::{Add, Div, Mul, Neg, Rem, Sub};

/// Four single-precision numbers. Each operation is done on each of them for itself, so that a lane has the bits that its numbers would
/// give alone, whatever the processor does at once: nothing here adds lanes up, and nothing fuses a product with a sum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Four(pub(super) [f32; 4]);

impl Four {
    #[inline(always)]
    fn all(value: f32) -> Four {
        Four([value; 4])
    }

    /// Those of a slice of four.
    #[inline(always)]
    pub(super) fn of(four: &[f32]) -> Four {
        Four([four[0], four[1], four[2], four[3]])
    }

    /// Rows as columns.
    #[inline(always)]
    pub(super) fn turned([Four(a), Four(b), Four(c), Four(d)]: [Four; 4]) -> [Four; 4] {
        [
            Four([a[0], b[0], c[0], d[0]]),
            Four([a[1], b[1], c[1], d[1]]),
            Four([a[2], b[2], c[2], d[2]]),
            Four([a[3], b[3], c[3], d[3]]),
        ]
    }

    #[inline(always)]
    fn each(self, of: impl Fn(f32) -> f32) -> Four {
        let Four([a, b, c, d]) = self;
        Four([of(a), of(b), of(c), of(d)])
    }

    #[inline(always)]
    fn with(self, other: Four, of: impl Fn(f32, f32) -> f32) -> Four {
        let (Four([a, b, c, d]), Four([e, f, g, h])) = (self, other);
        Four([of(a, e), of(b, f), of(c, g), of(d, h)])
    }
}

/// Operators that act on each lane.
macro_rules! by_lane {
    ($($operation:ident $method:ident),*) => {$(
        impl $operation for Four {
            type Output = Four;

            #[inline(always)]
            fn $method(self, other: Four) -> Four {
                self.with(other, $operation::$method)
            }
        }
    )*};
}

by_lane!(Add add, Sub sub, Mul mul, Div div, Rem rem);

impl Neg for Four {
    type Output = Four;

    #[inline(always)]
    fn neg(self) -> Four {
        self.each(Neg::neg)
    }
}

impl Zero for Four {
    #[inline(always)]
    fn zero() -> Four {
        Four::all(0.0)
    }

    fn is_zero(&self) -> bool {
        *self == Four::zero()
    }
}

impl One for Four {
    #[inline(always)]
    fn one() -> Four {
        Four::all(1.0)
    }
}

impl Num for Four {
    type FromStrRadixErr = <f32 as Num>::FromStrRadixErr;

    fn from_str_radix(text: &str, radix: u32) -> Result<Four, Self::FromStrRadixErr> {
        f32::from_str_radix(text, radix).map(Four::all)
    }
}

impl Signed for Four {
    fn abs(&self) -> Four {
        self.each(f32::abs)
    }

    fn abs_sub(&self, other: &Four) -> Four {
        self.with(*other, |a, b| (a - b).max(0.0))
    }

    fn signum(&self) -> Four {
        self.each(f32::signum)
    }

    fn is_positive(&self) -> bool {
        self.0.iter().all(|lane| lane.is_sign_positive())
    }

    fn is_negative(&self) -> bool {
        self.0.iter().all(|lane| lane.is_sign_negative())
    }
}

impl FromPrimitive for Four {
    fn from_i64(value: i64) -> Option<Four> {
        Some(Four::all(value as f32))
    }

    fn from_u64(value: u64) -> Option<Four> {
        Some(Four::all(value as f32))
    }

    fn from_f64(value: f64) -> Option<Four> {
        Some(Four::all(value as f32))
    }
}
