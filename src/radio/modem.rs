//! Waveforms and their error rates.

use super::maths::{bessel_i0_scaled, integrate, marcum_q1, quick_db, rician_tails};
use crate::units::ratio_from_db;
use std::sync::LazyLock;

/// How bits become a signal.
#[derive(Debug, Clone, Copy, PartialEq)]
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

/// An argument outside what the waveform formulas cover.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ModemError {
    /// Spreading factors run from 5 to 12.
    #[error("spreading factor {0} is not one of 5 to 12")]
    SpreadingFactor(u32),
    /// Coding rates run from 4/4 to 4/8.
    #[error("coding rate index {0} is not one of 0 to 4")]
    CodingRate(u32),
    /// Bandwidth or noise figure out of range.
    #[error(transparent)]
    OutOfRange(#[from] super::OutOfRange),
}

fn symbols_of(spreading_factor: u32) -> Result<f64, ModemError> {
    if (5..=12).contains(&spreading_factor) {
        Ok(f64::from(1u32 << spreading_factor))
    } else {
        Err(ModemError::SpreadingFactor(spreading_factor))
    }
}

/// Symbol error rate of the chirp waveform in white noise; SNR in the chirp's bandwidth, spreading factor 5 to 12.
///
/// Ideal non-coherent detection of 2^SF orthogonal symbols, Es/N0 = 2^SF·SNR. The textbook's alternating sum cancels from
/// SF 8 on; this is the integral it comes from, over the envelope of the right bin, with positive terms only.
///
/// # Source
/// Proakis, Digital Communications, non-coherent M-ary orthogonal signalling (from memory).
pub fn chirp_symbol_error_rate(spreading_factor: u32, snr_db: f64) -> Result<f64, ModemError> {
    let symbols = symbols_of(spreading_factor)?;
    let a = (2.0 * symbols * ratio_from_db(snr_db)).sqrt();
    // Chance that at least one of the M−1 noise bins exceeds envelope r.
    let beaten = |r: f64| -libm::expm1((symbols - 1.0) * libm::log1p(-libm::exp(-0.5 * r * r)));
    let density = |r: f64| r * libm::exp(-0.5 * (r - a) * (r - a)) * bessel_i0_scaled(r * a);
    // The integrand peaks where it stops being certain to be beaten, or halfway to a when that is further out.
    let edge = (2.0 * libm::log(symbols)).sqrt();
    let peak = if 0.5 * a > edge { 0.5 * a } else { a.min(edge) };
    let (from, to) = ((peak - 12.0).max(0.0), peak + 12.0);
    Ok(integrate(from, to, 60, |r| if r > 0.0 { density(r) * beaten(r) } else { 0.0 }).min(1.0 - 1.0 / symbols))
}

/// Bit error rate of non-coherent binary FSK with modulation index `h`, bit by bit.
///
/// # Source
/// Proakis, Digital Communications, binary correlated signals, non-coherent, with the correlation |sin πh/(πh)| of two
/// tones h/T apart (from memory). Smoothed pulses and discriminators lose more: state that as implementation loss.
pub fn fsk_bit_error_rate_index(eb_n0_db: f64, h: f64) -> f64 {
    let x = std::f64::consts::PI * h;
    let rho = if x.abs() < 1e-9 { 1.0 } else { (libm::sin(x) / x).abs() };
    let root = (1.0 - rho * rho).max(0.0).sqrt();
    let half = 0.5 * ratio_from_db(eb_n0_db);
    let (a, b) = ((half * (1.0 - root)).sqrt(), (half * (1.0 + root)).sqrt());
    let shared = 0.5 * libm::exp(-0.5 * (a - b) * (a - b)) * bessel_i0_scaled(a * b);
    (marcum_q1(a, b) - shared).max(0.0)
}

/// Chance that at least one of `count` independent parts fails, each with chance `each`.
pub fn packet_error_rate(count: u64, each: f64) -> f64 {
    if each >= 1.0 {
        return if count > 0 { 1.0 } else { 0.0 };
    }
    -libm::expm1(count as f64 * libm::log1p(-each))
}

/// Shape of a chirp packet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChirpPacket {
    /// Spreading factor, 5 to 12.
    pub spreading_factor: u32,
    /// Chirp bandwidth.
    pub bandwidth_hz: f64,
    /// Coding rate 4/(4 + index).
    pub coding_rate_index: u32,
    /// Payload.
    pub payload_bytes: u32,
    /// Preamble length in symbols.
    pub preamble_symbols: u32,
    /// With a 16-bit check.
    pub crc: bool,
    /// Without an explicit header.
    pub implicit_header: bool,
    /// With two bits fewer per symbol, for symbols longer than 16 ms.
    pub low_rate_optimised: bool,
}

impl ChirpPacket {
    /// Payload symbols, the eight of the first block included.
    ///
    /// # Source
    /// The published airtime formula of chirp modems for SF 7 to 12 (from memory); applied unchanged at SF 5 and 6, where
    /// newer modems use other constants.
    pub fn payload_symbols(&self) -> Result<u64, ModemError> {
        symbols_of(self.spreading_factor)?;
        if self.coding_rate_index > 4 {
            return Err(ModemError::CodingRate(self.coding_rate_index));
        }
        let sf = i64::from(self.spreading_factor);
        let bits = 8 * i64::from(self.payload_bytes) - 4 * sf + 28 + if self.crc { 16 } else { 0 }
            - if self.implicit_header { 20 } else { 0 };
        let per_block = 4 * (sf - if self.low_rate_optimised { 2 } else { 0 });
        let blocks = bits.max(0).unsigned_abs().div_ceil(per_block.unsigned_abs());
        Ok(8 + blocks * u64::from(self.coding_rate_index + 4))
    }

    /// Time on air.
    pub fn time_on_air_s(&self) -> Result<f64, ModemError> {
        let symbols = f64::from(self.preamble_symbols) + 4.25 + self.payload_symbols()? as f64;
        Ok(symbols * f64::from(1u32 << self.spreading_factor) / self.bandwidth_hz)
    }
}

/// Chance that a chirp packet fails when each symbol fails with chance `each`.
///
/// Coding rates 4/7 and 4/8 repair one symbol per interleaved block (the interleaver turns one wrong symbol into one wrong
/// bit in each codeword); 4/4, 4/5 and 4/6 repair none.
///
/// # Source
/// Property of the distance-3 and -4 Hamming codes under diagonal interleaving (from memory).
pub fn chirp_packet_error_rate(symbols_count: u64, coding_rate_index: u32, each: f64) -> f64 {
    if coding_rate_index < 3 {
        return packet_error_rate(symbols_count, each);
    }
    let block = u64::from(4 + coding_rate_index);
    let failed = |size: u64| {
        // 1 − (1−p)^m − m·p·(1−p)^(m−1), as a sum of positive terms: two or more fail.
        let m = size as f64;
        let (mut term, mut sum) = (libm::pow(1.0 - each, m), 0.0);
        for k in 1..=size {
            term = if each < 1.0 { term * each / (1.0 - each) * (m - k as f64 + 1.0) / k as f64 } else { 0.0 };
            if k >= 2 {
                sum += term;
            }
        }
        if each >= 1.0 && size >= 2 { 1.0 } else { sum.min(1.0) }
    };
    let (whole, rest) = (symbols_count / block, symbols_count % block);
    let mut log = whole as f64 * libm::log1p(-failed(block));
    if rest > 0 {
        log += libm::log1p(-failed(rest));
    }
    -libm::expm1(log)
}

/// Bytes an FSK packet carries besides its payload: preamble 4, synchronisation 4, check 2.
///
/// # Source
/// Estimate, typical of short-range packet radios.
const FSK_OVERHEAD_BYTES: u32 = 10;

impl Waveform {
    /// Bandwidth in which the noise is counted, Hz. FSK: bit rate × (1 + modulation index).
    pub fn bandwidth_hz(&self) -> f64 {
        match *self {
            Waveform::Chirp { bandwidth_hz, .. } | Waveform::Video { bandwidth_hz, .. } => bandwidth_hz,
            Waveform::Fsk { bit_rate_bps, modulation_index, .. } => bit_rate_bps * (1.0 + modulation_index),
        }
    }

    /// The chirp packet of a control payload: check present, header implicit, rate optimised when symbols exceed 16 ms.
    fn chirp_packet(&self, payload_bytes: u32) -> Option<ChirpPacket> {
        match *self {
            Waveform::Chirp { spreading_factor, bandwidth_hz, coding_rate_index, preamble_symbols, .. } => {
                Some(ChirpPacket {
                    spreading_factor,
                    bandwidth_hz,
                    coding_rate_index,
                    payload_bytes,
                    preamble_symbols,
                    crc: true,
                    implicit_header: true,
                    low_rate_optimised: f64::from(1u32 << spreading_factor.min(12)) / bandwidth_hz > 0.016,
                })
            }
            _ => None,
        }
    }

    /// Time on air of one packet; `None` for video, which is a stream.
    ///
    /// # Errors
    /// A chirp waveform outside its range.
    pub fn time_on_air_s(&self, payload_bytes: u32) -> Result<Option<f64>, ModemError> {
        Ok(match *self {
            Waveform::Chirp { .. } => match self.chirp_packet(payload_bytes) {
                Some(packet) => Some(packet.time_on_air_s()?),
                None => None,
            },
            Waveform::Fsk { bit_rate_bps, .. } => {
                Some(f64::from(8 * (payload_bytes + FSK_OVERHEAD_BYTES)) / bit_rate_bps)
            }
            Waveform::Video { .. } => None,
        })
    }

    /// Chance that a packet (video: a frame) fails at an SNR in [`Waveform::bandwidth_hz`], without fading.
    ///
    /// # Errors
    /// A chirp waveform outside its range.
    pub fn packet_error_rate(&self, payload_bytes: u32, snr_db: f64) -> Result<f64, ModemError> {
        match *self {
            Waveform::Chirp { spreading_factor, coding_rate_index, implementation_loss_db, .. } => {
                let symbols = self.chirp_packet(payload_bytes).map_or(Ok(0), |packet| packet.payload_symbols())?;
                let each = chirp_symbol_error_rate(spreading_factor, snr_db - implementation_loss_db)?;
                Ok(chirp_packet_error_rate(symbols, coding_rate_index, each))
            }
            Waveform::Fsk { modulation_index, coding_gain_db, implementation_loss_db, .. } => {
                // SNR in rate × (1 + h): Eb/N0 is larger by 1 + h.
                let eb_n0_db =
                    snr_db + 10.0 * libm::log10(1.0 + modulation_index) + coding_gain_db - implementation_loss_db;
                let bits = u64::from(8 * (payload_bytes + 2));
                Ok(packet_error_rate(bits, fsk_bit_error_rate_index(eb_n0_db, modulation_index)))
            }
            Waveform::Video { snr_needed_db, slope_db, .. } => {
                // Logistic, 10 % to 90 % within the slope's width.
                let ln_9_twice = 4.394_449_154_672_439;
                Ok(1.0 / (1.0 + libm::exp((snr_db - snr_needed_db) * ln_9_twice / slope_db)))
            }
        }
    }

    /// The last whole decibel of SNR, −60 to 79, at which packets fail more often than at this rate.
    fn last_above_db(&self, payload_bytes: u32, rate: f64) -> Result<f64, ModemError> {
        let (mut low_db, mut high_db) = (-60_i32, 80_i32);
        while high_db - low_db > 1 {
            let middle_db = (low_db + high_db).div_euclid(2);
            let above = self.packet_error_rate(payload_bytes, f64::from(middle_db))? > rate;
            if above { low_db = middle_db } else { high_db = middle_db }
        }
        Ok(f64::from(low_db))
    }
}

/// Packet error rate over SNR as a table, 1/16 dB apart, from certain failure to one in 10⁹.
///
/// Linear between its points: within 1.5 % of the rate anywhere.
#[derive(Debug, Clone, PartialEq)]
pub struct PacketCurve {
    first_db: f64,
    rate: Vec<f64>,
    /// SNR as a ratio up to which every packet fails, and from which none does.
    certain: [f64; 2],
}

/// Points per decibel of a [`PacketCurve`].
const POINTS_PER_DB: f64 = 16.0;

impl PacketCurve {
    /// The curve of a waveform and payload.
    ///
    /// # Errors
    /// A chirp waveform outside its range.
    pub fn new(waveform: &Waveform, payload_bytes: u32) -> Result<PacketCurve, ModemError> {
        let first_db = waveform.last_above_db(payload_bytes, 1.0 - 1e-6)?;
        let last_db = waveform.last_above_db(payload_bytes, 1e-9)? + 1.0;
        let points = ((last_db - first_db) * POINTS_PER_DB) as u32 + 1;
        let rate = (0..points)
            .map(|i| waveform.packet_error_rate(payload_bytes, first_db + f64::from(i) / POINTS_PER_DB))
            .collect::<Result<Vec<f64>, ModemError>>()?;
        let end_db = first_db + f64::from(points - 1) / POINTS_PER_DB;
        Ok(PacketCurve { first_db, rate, certain: [ratio_from_db(first_db), ratio_from_db(end_db)] })
    }

    /// SNR range of the table.
    pub fn range_db(&self) -> (f64, f64) {
        (self.first_db, self.first_db + (self.rate.len() - 1) as f64 / POINTS_PER_DB)
    }

    /// Packet error rate at an SNR; constant beyond the ends (certain below, 0 above 1e-9).
    #[inline]
    pub fn at(&self, snr_db: f64) -> f64 {
        let x = (snr_db - self.first_db) * POINTS_PER_DB;
        if x <= 0.0 {
            return 1.0;
        }
        let index = x as usize;
        match self.rate.get(index..index + 2) {
            Some(pair) => pair[0] + (x - index as f64) * (pair[1] - pair[0]),
            None => 0.0,
        }
    }

    /// SNR as a ratio from which no packet fails.
    pub fn sure(&self) -> f64 {
        self.certain[1]
    }

    /// Packet error rate at an SNR given as a ratio: most packets need no logarithm.
    #[inline]
    pub fn at_ratio(&self, snr: f64) -> f64 {
        if snr >= self.certain[1] {
            0.0
        } else if snr <= self.certain[0] {
            1.0
        } else {
            self.at(quick_db(snr))
        }
    }

    /// Lowest SNR at which the rate is at most `packet_error_rate`.
    pub fn snr_for_db(&self, packet_error_rate: f64) -> f64 {
        let after = self.rate.partition_point(|&p| p > packet_error_rate);
        if after == 0 || after == self.rate.len() {
            return self.first_db + after as f64 / POINTS_PER_DB;
        }
        let (high, low) = (self.rate[after - 1], self.rate[after]);
        self.first_db + (after as f64 - (packet_error_rate - low) / (high - low)) / POINTS_PER_DB
    }
}

/// Packet error rate averaged over Rician fading, by mean SNR and K: what a hop set sees whose hops fade independently.
#[derive(Debug, Clone)]
pub struct FadedCurve {
    first_db: f64,
    columns: usize,
    /// Row 0 is Rayleigh, row 1 + i is K = −10 + i dB up to 30 dB.
    rate: Vec<f32>,
    /// Mean SNR at which 10 % fail, per row.
    tenth_db: Vec<f64>,
}

/// K of the first Rician row and number of rows, 1 dB apart.
const K_ROWS: (f64, usize) = (-10.0, 41);
/// Points per decibel of mean SNR.
const MEAN_POINTS_PER_DB: f64 = 4.0;

/// Rician fading of one K in bins of level about its mean.
struct Fades {
    /// Chance of a fade deeper than the deepest bin.
    deeper: f64,
    /// Middle of each bin, dB, upwards.
    level_db: Vec<f64>,
    /// Chance of each bin.
    chance: Vec<f64>,
    /// Sum of the chances of the bins before each, and last of all bins.
    before: Vec<f64>,
}

/// Fading from −50 dB to +15 dB in bins of 1/8 dB, per row of a [`FadedCurve`]. It does not depend on the waveform, so it is worked out
/// once.
static FADES: LazyLock<Vec<Fades>> = LazyLock::new(|| (0..=K_ROWS.1).map(Fades::of_row).collect());

impl Fades {
    fn of_row(row: usize) -> Fades {
        let k = if row == 0 { 0.0 } else { ratio_from_db(K_ROWS.0 + (row - 1) as f64) };
        let below = |level_db: f64| rician_tails(k, ratio_from_db(level_db)).below;
        let deeper = below(-50.0);
        let mut fades = Fades { deeper, level_db: Vec::new(), chance: Vec::new(), before: vec![0.0] };
        let (mut last, mut sum) = (deeper, 0.0);
        for i in 0..520 {
            let level_db = -50.0 + f64::from(i) / 8.0;
            let next = below(level_db + 0.125);
            let chance = next - last;
            last = next;
            if chance > 1e-14 {
                sum += chance;
                fades.level_db.push(level_db + 0.0625);
                fades.chance.push(chance);
                fades.before.push(sum);
            }
        }
        fades
    }

    /// Mean of a curve over these fades about a mean SNR.
    fn average(&self, curve: &PacketCurve, mean_db: f64) -> f64 {
        let (certain_db, sure_db) = curve.range_db();
        let certain = self.level_db.partition_point(|level_db| mean_db + level_db <= certain_db);
        let lost = self.level_db[certain..].iter().zip(&self.chance[certain..]);
        lost.map(|(level_db, chance)| (mean_db + level_db, chance))
            .take_while(|&(snr_db, _)| snr_db < sure_db)
            .fold(self.before[certain], |sum, (snr_db, chance)| sum + chance * curve.at(snr_db))
            + self.deeper
    }
}

impl FadedCurve {
    /// Averages a curve over fading from −50 dB to +15 dB about the mean, in bins of 1/8 dB weighted by their exact
    /// probability.
    pub fn new(curve: &PacketCurve) -> FadedCurve {
        let (low_db, high_db) = curve.range_db();
        let first_db = (low_db - 16.0).floor();
        let columns = ((high_db + 50.0 - first_db) * MEAN_POINTS_PER_DB) as usize + 2;
        let (mut rate, mut tenth_db) = (Vec::with_capacity(FADES.len() * columns), Vec::new());
        for fades in FADES.iter() {
            let at = |i: usize| fades.average(curve, first_db + i as f64 / MEAN_POINTS_PER_DB).min(1.0) as f32;
            let start = rate.len();
            rate.extend((0..columns).map(at));
            let row_rates = &rate[start..];
            let after = row_rates.partition_point(|&p| p > 0.1).clamp(1, columns - 1);
            let (high, low) = (f64::from(row_rates[after - 1]), f64::from(row_rates[after]));
            let share = if high > low { ((0.1 - low) / (high - low)).clamp(0.0, 1.0) } else { 0.0 };
            tenth_db.push(first_db + (after as f64 - share) / MEAN_POINTS_PER_DB);
        }
        FadedCurve { first_db, columns, rate, tenth_db }
    }

    /// Packet error rate at a mean SNR and K, which is held within −10 … 30 dB; K of −∞ is Rayleigh fading.
    #[inline]
    pub fn at(&self, mean_snr_db: f64, k_db: f64) -> f64 {
        by_k(k_db, |row| self.row_at(row, mean_snr_db))
    }

    /// Mean SNR at which a tenth of the packets fail at this K.
    pub fn snr_for_tenth_db(&self, k_db: f64) -> f64 {
        by_k(k_db, |row| self.tenth_db[row])
    }

    #[inline]
    fn row_at(&self, row: usize, mean_snr_db: f64) -> f64 {
        let x = ((mean_snr_db - self.first_db) * MEAN_POINTS_PER_DB).clamp(0.0, (self.columns - 1) as f64 - 1e-6);
        let index = x as usize;
        let cell = &self.rate[row * self.columns + index..][..2];
        let low = f64::from(cell[0]);
        low + (x - index as f64) * (f64::from(cell[1]) - low)
    }
}

/// What a [`FadedCurve`] has at a K, between its rows.
#[inline]
fn by_k(k_db: f64, of_row: impl Fn(usize) -> f64) -> f64 {
    if k_db == f64::NEG_INFINITY {
        return of_row(0);
    }
    let y = (k_db - K_ROWS.0).clamp(0.0, (K_ROWS.1 - 1) as f64 - 1e-9);
    let row = y as usize;
    let low = of_row(row + 1);
    low + (y - row as f64) * (of_row(row + 2) - low)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The alternating sum is accurate at SF 5, where it can be evaluated directly.
    #[test]
    fn the_integral_is_the_alternating_sum() {
        for snr_db in [-12.0, -8.0, -5.0, -3.0] {
            let es_n0 = 32.0 * ratio_from_db(snr_db);
            let (mut sum, mut choose) = (0.0, 1.0);
            for k in 1..32 {
                let kf = f64::from(k);
                choose *= (32.0 - kf) / kf;
                let sign = if k % 2 == 1 { 1.0 } else { -1.0 };
                sum += sign * choose / (kf + 1.0) * libm::exp(-kf / (kf + 1.0) * es_n0);
            }
            let got = chirp_symbol_error_rate(5, snr_db).unwrap();
            assert!((got / sum - 1.0).abs() < 1e-6, "{snr_db}: {got} {sum}");
        }
    }

    #[test]
    fn error_rates_fall_with_snr_everywhere() {
        for sf in 5..=12 {
            let mut last = 1.0;
            for tenth in -450..100 {
                let p = chirp_symbol_error_rate(sf, f64::from(tenth) / 10.0).unwrap();
                assert!(p >= 0.0 && p <= last + 1e-9, "SF {sf} at {tenth}: {p} after {last}");
                last = p;
            }
        }
        assert!(chirp_symbol_error_rate(4, 0.0).is_err() && chirp_symbol_error_rate(13, 0.0).is_err());
    }

    /// Far down the tail a symbol is beaten by one noise bin at a time: (M−1)/2·exp(−Es/2N0).
    #[test]
    fn the_tail_is_the_union_bound() {
        for sf in 5..=12 {
            let symbols = f64::from(1u32 << sf);
            for es_n0 in [100.0, 300.0, 900.0] {
                let bound = 0.5 * (symbols - 1.0) * libm::exp(-0.5 * es_n0);
                let got = chirp_symbol_error_rate(sf, 10.0 * libm::log10(es_n0 / symbols)).unwrap();
                assert!((got / bound - 1.0).abs() < 2e-3, "SF {sf}, Es/N0 {es_n0}: {got:e} {bound:e}");
            }
        }
    }

    #[test]
    fn coding_repairs_one_symbol_per_block() {
        assert_eq!(chirp_packet_error_rate(8, 4, 0.0), 0.0);
        let p: f64 = 0.01;
        let want = 1.0 - (0.99_f64.powi(8) + 8.0 * p * 0.99_f64.powi(7));
        assert!((chirp_packet_error_rate(8, 4, p) / want - 1.0).abs() < 1e-9);
        assert!((chirp_packet_error_rate(24, 1, p) - (1.0 - 0.99_f64.powi(24))).abs() < 1e-12);
        assert_eq!(chirp_packet_error_rate(16, 3, 1.0), 1.0);
    }

    fn chirp() -> Waveform {
        Waveform::Chirp {
            spreading_factor: 7,
            bandwidth_hz: 812_500.0,
            coding_rate_index: 3,
            preamble_symbols: 12,
            implementation_loss_db: 1.0,
        }
    }

    #[test]
    fn curves_follow_the_formula_and_its_average() {
        let curve = PacketCurve::new(&chirp(), 8).unwrap();
        for snr_db in [-12.0, -9.51, -8.03, -7.2] {
            let exact = chirp().packet_error_rate(8, snr_db).unwrap();
            assert!((curve.at(snr_db) - exact).abs() < 0.015 * exact, "{snr_db}: {} {exact}", curve.at(snr_db));
        }
        assert_eq!((curve.at(-90.0), curve.at(40.0)), (1.0, 0.0));
        for i in -900..400 {
            let snr_db = f64::from(i) * 0.05;
            let (by_db, by_ratio) = (curve.at(snr_db), curve.at_ratio(ratio_from_db(snr_db)));
            assert!((by_db - by_ratio).abs() <= 1e-9, "{snr_db}: {by_db} {by_ratio}");
        }
        let tenth = chirp().packet_error_rate(8, curve.snr_for_db(0.1)).unwrap();
        assert!((tenth - 0.1).abs() < 0.0015, "{tenth}");
        let faded = FadedCurve::new(&curve);
        // Against direct integration over the exponential density of Rayleigh power.
        for mean_db in [-10.0, 0.0, 8.3, 20.0] {
            let want = integrate(0.0, 40.0, 4000, |x| libm::exp(-x) * curve.at(mean_db + 10.0 * libm::log10(x)));
            let got = faded.at(mean_db, f64::NEG_INFINITY);
            assert!((got - want).abs() < 0.004 * want + 1e-4, "{mean_db}: {got} {want}");
        }
        assert!(faded.at(0.0, 6.0) < faded.at(0.0, f64::NEG_INFINITY));
        assert!((faded.at(5.0, 30.0) - curve.at(5.0)).abs() < 1e-3);
        assert!(faded.snr_for_tenth_db(0.0) > curve.snr_for_db(0.1));
    }
}
