//! Spells in which one end of the link is off.

/// When the pilot's set is silent, or the craft's receiver deaf.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Off {
    /// From this time on …
    pub from_s: f64,
    /// … and before this one.
    pub until_s: f64,
}

impl Off {
    /// It works all the time.
    pub const NEVER: Off = Off { from_s: f64::INFINITY, until_s: f64::INFINITY };

    /// Whether it is off at a time.
    #[inline]
    pub fn at(&self, time_s: f64) -> bool {
        self.from_s <= time_s && time_s < self.until_s
    }

    /// When that changes next.
    #[inline]
    pub(super) fn changes_s(&self, time_s: f64) -> f64 {
        if time_s < self.from_s {
            self.from_s
        } else if time_s < self.until_s {
            self.until_s
        } else {
            f64::INFINITY
        }
    }
}

/// For as long as anybody asks, or never.
impl From<bool> for Off {
    fn from(off: bool) -> Off {
        if off { Off { from_s: f64::NEG_INFINITY, until_s: f64::INFINITY } } else { Off::NEVER }
    }
}
