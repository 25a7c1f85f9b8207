//! How many requests a second are answered.

use std::sync::{Mutex, PoisonError};
use std::time::Instant;

/// A bucket of tokens that fills at a steady rate; every request takes one.
pub(super) struct Rate {
    per_s: f64,
    most: f64,
    held: Mutex<Held>,
}

struct Held {
    tokens: f64,
    since: Instant,
}

impl Rate {
    pub(super) fn new(per_s: f64, most: f64) -> Rate {
        Rate { per_s, most, held: Mutex::new(Held { tokens: most, since: Instant::now() }) }
    }

    /// Whether one more may be answered now.
    pub(super) fn takes(&self, now: Instant) -> bool {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        let waited_s = now.saturating_duration_since(held.since).as_secs_f64();
        held.tokens = (held.tokens + self.per_s * waited_s).min(self.most);
        held.since = now;
        let takes = held.tokens >= 1.0;
        if takes {
            held.tokens -= 1.0;
        }
        takes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn a_burst_is_taken_then_the_rate() {
        let rate = Rate::new(10.0, 5.0);
        let start = Instant::now();
        let taken = |at: Instant| (0..20).filter(|_| rate.takes(at)).count();
        assert_eq!(taken(start), 5);
        assert_eq!(taken(start + Duration::from_millis(250)), 2);
        assert_eq!(taken(start + Duration::from_secs(60)), 5);
        // A clock that goes back gives nothing.
        assert_eq!(taken(start), 0);
    }
}
