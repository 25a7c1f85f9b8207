//! The power of the pilot's set.

use super::luck::LinkLuck;
use crate::world::radio::LinkSetup;

/// The step of power it is at.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Power {
    step: usize,
    /// When it may change next.
    change_s: f64,
}

impl Power {
    /// Power conducted now.
    pub(super) fn dbm(&self, setup: &LinkSetup, luck: &LinkLuck) -> f64 {
        setup.power.steps_dbm.get(self.step).copied().unwrap_or(luck.values.power_dbm)
    }

    /// Whether it is due to be looked at.
    #[inline]
    pub(super) fn is_due(&self, setup: &LinkSetup, now_s: f64) -> bool {
        setup.power.is_stepped() && now_s >= self.change_s
    }

    /// Power control, once per quality window: up a step when the pilot's set reads a quality under the threshold or
    /// hears no telemetry, down a step when every packet of the window arrived. Common practice, no source. Tells whether
    /// it changed.
    pub(super) fn control(&mut self, setup: &LinkSetup, now_s: f64, telemetry_up: bool, quality_pct: f64) -> bool {
        self.change_s = now_s + f64::from(setup.receiver.window) * setup.receiver.interval_s;
        let before = self.step;
        if !telemetry_up || quality_pct < setup.power.up_below_pct {
            self.step = (self.step + 1).min(setup.power.steps_dbm.len() - 1);
        } else if quality_pct >= 100.0 {
            self.step = self.step.saturating_sub(1);
        }
        self.step != before
    }
}
