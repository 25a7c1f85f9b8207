//! Waveforms and their error rates.

use serde::Serialize;

/// How bits become a signal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Waveform {
    /// Chirp spread spectrum: non-coherent 2^SF-ary orthogonal signalling.
    Chirp {
        /// Spreading factor, 5 to 12.
        spreading_factor: u32,
        /// Chirp bandwidth.
        bandwidth_hz: f64,
        /// Coding rate 4/(4 + index), index 0 (none) to 4.
        coding_rate_index: u32,
        /// Preamble length in symbols.
        preamble_symbols: u32,
        /// SNR lost against the ideal detector.
        implementation_loss_db: f64,
    },
    /// Frequency-shift keying, non-coherent.
    Fsk {
        /// Bits per second on the air.
        bit_rate_bps: f64,
        /// Modulation index h; 1 is orthogonal.
        modulation_index: f64,
        /// Coding gain, as stated.
        coding_gain_db: f64,
        /// SNR lost against the ideal detector.
        implementation_loss_db: f64,
    },
    /// Digital video judged by a needed SNR with a soft slope.
    Video {
        /// Noise bandwidth.
        bandwidth_hz: f64,
        /// SNR at which half the frames are lost.
        snr_needed_db: f64,
        /// Width of the slope from good to bad.
        slope_db: f64,
    },
}
