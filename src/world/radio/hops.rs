//! The hop set of the control link.

use crate::radio::fading::coherence_bandwidth_hz;
use crate::scenario::RadioLink;

/// Channels side by side about a middle frequency, and the bands within which they fade alike.
#[derive(Debug, Clone, Copy)]
pub(crate) struct HopSet {
    middle_hz: f64,
    span_hz: f64,
    /// Width of one channel.
    pub(crate) width_hz: f64,
    pub(crate) channels: u32,
    pub(crate) bands: u32,
    /// Bands over channels in 2⁻³², rounded up.
    bands_per_channel: u64,
}

impl HopSet {
    pub(crate) fn new(control: &RadioLink, delay_spread_s: f64) -> HopSet {
        let channels = control.hop_channels.max(1);
        let span_hz = if channels > 1 { control.hop_span_hz } else { 0.0 };
        let bands = (span_hz / coherence_bandwidth_hz(delay_spread_s)).ceil().clamp(1.0, f64::from(channels)) as u32;
        HopSet {
            middle_hz: control.frequency_hz,
            span_hz,
            width_hz: control.waveform.bandwidth_hz(),
            channels,
            bands,
            bands_per_channel: (u64::from(bands) << 32).div_ceil(u64::from(channels)),
        }
    }

    /// Middle frequency of a channel.
    pub(crate) fn channel_hz(&self, channel: u32) -> f64 {
        let share = if self.channels > 1 { f64::from(channel) / f64::from(self.channels - 1) - 0.5 } else { 0.0 };
        self.middle_hz + self.span_hz * share
    }

    /// Channels closer than a band's width share their power: what counts is how many lie side by side.
    pub(crate) fn side_by_side(&self) -> u32 {
        self.channels.min(1 + (self.span_hz / self.width_hz) as u32)
    }

    /// Channel that a packet is sent on.
    #[inline(always)]
    pub(crate) fn channel(&self, packet: u32) -> u32 {
        // The golden ratio's multiples visit the channels evenly and in a scattered order.
        let turn = packet.wrapping_mul(0x9E37_79B9);
        ((u64::from(turn) * u64::from(self.channels)) >> 32) as u32
    }

    /// Coherence band of a channel.
    #[inline(always)]
    pub(crate) fn band(&self, channel: u32) -> usize {
        ((u64::from(channel) * self.bands_per_channel) >> 32) as usize
    }
}
