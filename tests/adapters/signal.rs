//! Adapters of the `radio` routines about antennas, fading, waveforms, packets and the receiver.

use super::Adapter;

/// Routine and adapter.
pub fn adapters() -> Vec<(&'static str, Adapter)> {
    vec![]
}
