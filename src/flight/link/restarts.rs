//! The craft's receiver when it restarts.

use super::luck::LinkLuck;
use super::off::Off;
use crate::chance::Purpose;
use crate::world::radio::LinkSetup;

/// Blocks of the uplink stream that restarts use.
const RESTART_BLOCK: u32 = 0x2000_0000;

/// Restarts of one flight.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Restarts {
    /// When the receiver is down.
    pub(super) down: Off,
    count: u32,
    next_s: f64,
}

impl Restarts {
    pub(super) fn at_start(setup: &LinkSetup, luck: &LinkLuck) -> Restarts {
        Restarts { down: Off::NEVER, count: 0, next_s: after_s(setup, luck, 0, 0.0) }
    }

    /// Brings them on from a time to another and tells whether the receiver restarted in between.
    #[inline]
    pub(super) fn advance(&mut self, setup: &LinkSetup, luck: &LinkLuck, time_s: f64, end_s: f64, cell_v: f64) -> bool {
        let mut restarted = false;
        while self.next_s < end_s {
            self.goes_down(time_s, self.next_s, self.next_s + setup.restarts.for_s);
            self.count += 1;
            self.next_s = after_s(setup, luck, self.count, self.next_s);
            restarted = true;
        }
        if cell_v < setup.restarts.brownout_v {
            self.goes_down(time_s, time_s, end_s + setup.restarts.for_s);
            restarted = true;
        }
        restarted
    }

    /// Down over a spell, which goes on from the last one if that reaches beyond `time_s`.
    #[cold]
    fn goes_down(&mut self, time_s: f64, from_s: f64, until_s: f64) {
        self.down = if self.down.from_s.is_finite() && self.down.until_s > time_s {
            Off { from_s: self.down.from_s.min(from_s), until_s: self.down.until_s.max(until_s) }
        } else {
            Off { from_s, until_s }
        };
    }
}

/// Time of restart number `count`, the one before it or take-off having been at `from_s`.
fn after_s(setup: &LinkSetup, luck: &LinkLuck, count: u32, from_s: f64) -> f64 {
    if setup.restarts.per_s <= 0.0 {
        return f64::INFINITY;
    }
    // By inversion, one uniform number a restart: a faster rate moves every restart forward and pairs with a slower one.
    let unit = luck.draws.streams.of(Purpose::Uplink).units(luck.draws.flight, count, RESTART_BLOCK)[0];
    from_s - libm::log(1.0 - unit) / setup.restarts.per_s
}
