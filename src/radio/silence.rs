//! How likely it is that a receiver calls the link lost while its craft stays near one place.

use super::maths::rician_tails;
use super::modem::PacketCurve;
use crate::chance::standard_normal_quantile;
use crate::units::{SPEED_OF_LIGHT_MPS, ratio_from_db};

/// What the chance of a declared loss depends on beside margin and K.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StayInput {
    /// Carrier.
    pub frequency_hz: f64,
    /// Packets per second.
    pub packet_rate_hz: f64,
    /// Silence after which the receiver calls the link lost.
    pub patience_s: f64,
    /// How long the craft stays.
    pub stay_s: f64,
    /// How fast the way between craft and scatterers changes meanwhile: the craft's speed, or the scatterers' own when it hovers.
    pub speed_mps: f64,
    /// Coherence bands that the hop set spans, ≥ 1.
    pub bands: u32,
    /// SNR at margin 0.
    pub needed_snr_db: f64,
    /// Standard deviation of shadowing, frozen during the stay.
    pub shadow_sigma_db: f64,
    /// Chance that a packet is lost for other reasons (collisions, bursts), 0 to 1.
    pub other_loss: f64,
}

/// Chance of a declared loss during a stay, tabled over mean margin and Rician K.
///
/// Fading is taken as blocks: over half a wavelength of travel the diffuse field stays, then it is drawn anew; hops meet
/// each coherence band equally often; shadowing is one value for the whole stay. A run of lost packets may begin at any
/// packet of a block, or span whole blocks when patience is longer than one.
///
/// # Source
/// Block fading: common practice (Rappaport, Wireless Communications, from memory); runs of losses: Feller, vol. 1, XIII.7 (from
/// memory). The combination is our own approximation; a test holds it against a direct simulation.
#[derive(Debug, Clone)]
pub struct DeclaredLoss {
    first_db: f64,
    columns: usize,
    /// Row 0 is Rayleigh, then [`K_ROWS_DB`].
    rate: Vec<f32>,
}

/// K of the rows, in dB.
const K_ROWS_DB: [f64; 10] = [-8.0, -4.0, 0.0, 3.0, 6.0, 9.0, 12.0, 15.0, 20.0, 30.0];
/// Points per dB of margin.
const POINTS_PER_DB: f64 = 2.0;
/// Values of the shadowing that the mean is taken over, equally likely.
const SHADOWS: usize = 41;

impl DeclaredLoss {
    /// For a packet curve; figures that are not above zero where they must be are taken as the least that makes sense.
    pub fn new(curve: &PacketCurve, input: &StayInput) -> DeclaredLoss {
        let span_db = 5.0 * input.shadow_sigma_db.max(0.0);
        let (low_db, high_db) = curve.range_db();
        let first_db = (low_db - input.needed_snr_db - 20.0).floor() - span_db;
        let last_db = (high_db - input.needed_snr_db + 50.0).ceil() + span_db;
        let columns = ((last_db - first_db) * POINTS_PER_DB) as usize + 2;
        let shadows_db: Vec<f64> = (0..SHADOWS)
            .map(|i| input.shadow_sigma_db.max(0.0) * standard_normal_quantile((i as f64 + 0.5) / SHADOWS as f64))
            .collect();
        let mut rate = Vec::with_capacity((K_ROWS_DB.len() + 1) * columns);
        for row in 0..=K_ROWS_DB.len() {
            let k = if row == 0 { 0.0 } else { ratio_from_db(K_ROWS_DB[row - 1]) };
            let levels = fade_levels(k);
            let frozen: Vec<f64> = (0..columns)
                .map(|i| {
                    let mean_snr_db = first_db + i as f64 / POINTS_PER_DB + input.needed_snr_db;
                    input.without_shadowing(|fade_db| curve.at(mean_snr_db + fade_db), &levels)
                })
                .collect();
            let at = |x: f64| {
                let x = x.clamp(0.0, (columns - 1) as f64 - 1e-9);
                let i = x as usize;
                frozen[i] + (x - i as f64) * (frozen[(i + 1).min(columns - 1)] - frozen[i])
            };
            rate.extend((0..columns).map(|i| {
                let sum: f64 = shadows_db.iter().map(|shadow_db| at(i as f64 + shadow_db * POINTS_PER_DB)).sum();
                (sum / SHADOWS as f64) as f32
            }));
        }
        DeclaredLoss { first_db, columns, rate }
    }

    /// The chance at a mean margin (without shadowing and fading) and K; K of −∞ is Rayleigh.
    #[inline]
    pub fn at(&self, margin_db: f64, k_db: f64) -> f64 {
        let after = K_ROWS_DB.iter().position(|row| k_db < *row).unwrap_or(K_ROWS_DB.len());
        let high = self.row_at(after.min(K_ROWS_DB.len() - 1) + 1, margin_db);
        if after == K_ROWS_DB.len() {
            return high;
        }
        let low = self.row_at(after, margin_db);
        let share = if after == 0 {
            // From Rayleigh (K linear 0) up to the first row, linear in linear K.
            ratio_from_db(k_db - K_ROWS_DB[0])
        } else {
            (k_db - K_ROWS_DB[after - 1]) / (K_ROWS_DB[after] - K_ROWS_DB[after - 1])
        };
        low + share * (high - low)
    }

    #[inline]
    fn row_at(&self, row: usize, margin_db: f64) -> f64 {
        let x = ((margin_db - self.first_db) * POINTS_PER_DB).clamp(0.0, (self.columns - 1) as f64 - 1e-6);
        let i = x as usize;
        let pair = &self.rate[row * self.columns + i..][..2];
        f64::from(pair[0]) + (x - i as f64) * f64::from(pair[1] - pair[0])
    }

    /// Mean margin from which on the chance is at most `probability`, at this K.
    pub fn margin_for_db(&self, probability: f64, k_db: f64) -> f64 {
        let (mut low, mut high) = (self.first_db, self.first_db + self.columns as f64 / POINTS_PER_DB);
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if self.at(middle, k_db) > probability { low = middle } else { high = middle }
        }
        high
    }
}

/// Levels of Rician power relative to its mean, dB, and their probabilities: 1/2 dB apart from −40 to +12 dB.
fn fade_levels(k: f64) -> Vec<(f64, f64)> {
    let below = |level_db: f64| rician_tails(k, ratio_from_db(level_db)).0;
    let mut last = 0.0;
    let mut levels: Vec<(f64, f64)> = Vec::new();
    for i in 0..=104 {
        let edge_db = -40.0 + 0.5 * f64::from(i);
        let next = if i == 104 { 1.0 } else { below(edge_db) };
        if next - last > 1e-15 {
            levels.push((edge_db - 0.25, next - last));
        }
        last = next;
    }
    levels
}

impl StayInput {
    /// Chance of a declared loss for a given packet error rate over the fade level.
    fn without_shadowing(&self, error_rate: impl Fn(f64) -> f64, levels: &[(f64, f64)]) -> f64 {
        let keep = 1.0 - self.other_loss.clamp(0.0, 1.0);
        let rates: Vec<(f64, f64)> =
            levels.iter().map(|(level_db, weight)| (1.0 - (1.0 - error_rate(*level_db)) * keep, *weight)).collect();
        let mean_power = |power: f64| -> f64 {
            rates.iter().map(|(rate, weight)| weight * if *rate > 0.0 { libm::pow(*rate, power) } else { 0.0 }).sum()
        };
        let bands = f64::from(self.bands.max(1));
        let run = (self.patience_s * self.packet_rate_hz).max(1.0);
        let stay = (self.stay_s * self.packet_rate_hz).max(run);
        // Packets in half a wavelength of travel.
        let coherence_s = 0.5 * SPEED_OF_LIGHT_MPS / self.frequency_hz / self.speed_mps.max(1e-6);
        let block = (coherence_s * self.packet_rate_hz).clamp(1.0, stay);
        // Chance that `packets` in a row of one block are all lost: each band is met by as many of them as the others.
        let all_lost = |packets: f64| {
            let met = bands.min(packets);
            libm::pow(mean_power(packets / met), met)
        };
        if run < block {
            let blocks = stay / block;
            let in_block = if self.bands <= 1 {
                rates.iter().map(|(rate, weight)| weight * run_probability(*rate, run, block)).sum()
            } else {
                let once = all_lost(run);
                clumped(once, libm::pow(once, 1.0 / run), run, block)
            };
            1.0 - libm::pow((1.0 - in_block).max(0.0), blocks)
        } else {
            let whole = all_lost(block);
            run_probability(whole, run / block, stay / block)
        }
    }
}

/// Chance of at least one run of `run` losses among `trials`, each lost with chance `loss`; all three may be fractions
/// of whole blocks.
fn run_probability(loss: f64, run: f64, trials: f64) -> f64 {
    clumped(libm::pow(loss, run), loss, run, trials)
}

/// The same from the chance of one given run: runs begin in clumps, so count their beginnings as rare events.
fn clumped(once: f64, loss: f64, run: f64, trials: f64) -> f64 {
    let beginnings = (trials - run).max(0.0) * (1.0 - loss) * once;
    (1.0 - (1.0 - once) * libm::exp(-beginnings)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::{Purpose, Source};
    use crate::radio::Waveform;
    use crate::radio::fading::rician_amplitudes;

    fn curve() -> PacketCurve {
        let waveform = Waveform::Fsk {
            bit_rate_bps: 100e3,
            modulation_index: 1.0,
            coding_gain_db: 0.0,
            implementation_loss_db: 1.0,
        };
        PacketCurve::new(&waveform, 12).unwrap()
    }

    fn input(curve: &PacketCurve) -> StayInput {
        StayInput {
            frequency_hz: 2.44e9,
            packet_rate_hz: 50.0,
            patience_s: 0.5,
            stay_s: 10.0,
            speed_mps: 0.1,
            bands: 1,
            needed_snr_db: curve.snr_for_db(0.1),
            shadow_sigma_db: 0.0,
            other_loss: 0.0,
        }
    }

    /// The exact recursion for runs among independent trials (Feller).
    fn exact_run(loss: f64, run: usize, trials: usize) -> f64 {
        let mut none = vec![1.0; trials + 1];
        for k in run..=trials {
            let ends = if k == run { 1.0 } else { (1.0 - loss) * none[k - run - 1] };
            none[k] = none[k - 1] - ends * loss.powi(run as i32);
        }
        1.0 - none[trials]
    }

    #[test]
    fn runs_follow_the_exact_recursion() {
        for (loss, run, trials) in [(0.3, 10, 500), (0.7, 10, 500), (0.9, 25, 500), (0.5, 5, 100), (0.95, 50, 1500)] {
            let (near, exact) = (run_probability(loss, run as f64, trials as f64), exact_run(loss, run, trials));
            assert!((near - exact).abs() < 0.02 + 0.05 * exact, "{loss} {run} {trials}: {near} against {exact}");
        }
        assert_eq!(run_probability(0.0, 10.0, 100.0), 0.0);
        assert_eq!(run_probability(1.0, 10.0, 100.0), 1.0);
    }

    #[test]
    fn more_margin_and_more_line_of_sight_never_hurt() {
        let curve = curve();
        let mut stay = input(&curve);
        stay.shadow_sigma_db = 4.0;
        let table = DeclaredLoss::new(&curve, &stay);
        for k_db in [f64::NEG_INFINITY, -20.0, -3.0, 5.0, 14.0, 40.0] {
            let mut last = 1.0 + 1e-6;
            for step in -80..120 {
                let p = table.at(f64::from(step) * 0.5, k_db);
                assert!((0.0..=1.0).contains(&p) && p <= last + 1e-6, "{k_db} {step}: {last} to {p}");
                last = p;
            }
        }
        assert!(table.at(15.0, 15.0) < table.at(15.0, f64::NEG_INFINITY));
        assert!(table.at(-30.0, 15.0) > 0.999 && table.at(60.0, 15.0) < 1e-6);
        let margin_db = table.margin_for_db(0.01, 9.0);
        assert!((table.at(margin_db, 9.0) - 0.01).abs() < 1e-3);
    }

    #[test]
    fn shadowing_counts_both_ways() {
        let curve = curve();
        let mut stay = input(&curve);
        let clear = DeclaredLoss::new(&curve, &stay);
        stay.shadow_sigma_db = 6.0;
        let shadowed = DeclaredLoss::new(&curve, &stay);
        assert!(shadowed.at(20.0, 12.0) > clear.at(20.0, 12.0));
        assert!(shadowed.at(-12.0, 12.0) < clear.at(-12.0, 12.0));
    }

    /// Packet by packet over drawn blocks, bands and hops.
    fn simulated(curve: &PacketCurve, stay: &StayInput, margin_db: f64, k_db: f64) -> f64 {
        let source = Source::new(7, Purpose::Trial);
        let (line, diffuse) = rician_amplitudes(if k_db.is_finite() { ratio_from_db(k_db) } else { 0.0 });
        let coherence_s = 0.5 * SPEED_OF_LIGHT_MPS / stay.frequency_hz / stay.speed_mps;
        let packets = (stay.stay_s * stay.packet_rate_hz) as u32;
        let run = (stay.patience_s * stay.packet_rate_hz) as u32;
        let trials = 3000;
        let mut declared = 0;
        for trial in 0..trials {
            let shadow_db = stay.shadow_sigma_db * source.normals(trial, 0, 77_777)[0];
            let mut silent = 0;
            for packet in 0..packets {
                let block = (f64::from(packet) / stay.packet_rate_hz / coherence_s) as u32;
                let [hop, luck] = source.units(trial, packet, 1);
                let band = (hop * f64::from(stay.bands)) as u32;
                let field = source.normals(trial, block, 1000 + band);
                let (re, im) = (line + diffuse * field[0] / 2.0f64.sqrt(), diffuse * field[1] / 2.0f64.sqrt());
                let level_db = 10.0 * (re * re + im * im).log10();
                let error = curve.at(margin_db + shadow_db + stay.needed_snr_db + level_db);
                silent = if luck < error { silent + 1 } else { 0 };
                if silent >= run {
                    declared += 1;
                    break;
                }
            }
        }
        f64::from(declared) / f64::from(trials)
    }

    /// The approximation against a direct simulation: hovering and flying, one band and many, short and long patience.
    #[test]
    fn the_closed_form_agrees_with_a_simulation() {
        let curve = curve();
        for (speed_mps, bands, patience_s, k_db, sigma) in [
            (0.1, 1, 0.3, 6.0, 0.0),
            (0.1, 1, 0.3, f64::NEG_INFINITY, 3.0),
            (0.1, 4, 0.3, f64::NEG_INFINITY, 0.0),
            (12.0, 1, 0.5, 6.0, 2.0),
            (12.0, 8, 0.5, f64::NEG_INFINITY, 4.0),
            (0.1, 1, 1.5, 9.0, 2.0),
        ] {
            let stay = StayInput { speed_mps, bands, patience_s, shadow_sigma_db: sigma, ..input(&curve) };
            let table = DeclaredLoss::new(&curve, &stay);
            for target in [0.15, 0.5, 0.85] {
                let margin_db = table.margin_for_db(target, k_db);
                // In decibels of margin: the simulated chance lies between those of 1.5 dB less and more.
                let (high, low) = (table.at(margin_db - 1.5, k_db), table.at(margin_db + 1.5, k_db));
                let met = simulated(&curve, &stay, margin_db, k_db);
                assert!(
                    met >= low - 0.03 && met <= high + 0.03,
                    "{speed_mps} m/s, {bands} bands, {patience_s} s, K {k_db}: {met} outside {low} to {high}"
                );
            }
        }
    }
}
