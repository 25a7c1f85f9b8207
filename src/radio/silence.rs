//! How likely it is that a receiver calls the link lost while its craft stays near one place.

use super::fading::{Amplitudes, DiffuseField, DiffuseRead, DiffuseWay, INDEPENDENT_BANDS};
use super::maths::{quick_db, quick_ratio, rician_tails};
use super::modem::PacketCurve;
use crate::chance::{Purpose, Source};
use crate::units::{SPEED_OF_LIGHT_MPS, db_from_ratio, ratio_from_db};
use rayon::prelude::*;

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
    /// Standard deviation of shadowing, frozen during the stay: the least and the greatest that is asked for.
    pub shadow_sigma_db: [f64; 2],
    /// Chance that a packet is lost for other reasons (collisions, bursts), 0 to 1.
    pub other_loss: f64,
}

/// Chance of a declared loss during a stay, tabled over mean margin, Rician K and shadowing.
///
/// From [`INDEPENDENT_BANDS`] on every packet fades on its own, as in flight: runs of independent losses. Below, stays are
/// drawn from the field that flights meet, packet by packet and band by band; a silence comes when the strongest levels of
/// some window as long as the patience are too weak. Where few of the drawn stays reach, the chance goes on as deep fades
/// do: for long fades as the square of the power, for short ones slower, measured at the rarest stays drawn. Shadowing is
/// one value for the whole stay, taken to five standard deviations.
///
/// # Source
/// Runs of losses: Feller, vol. 1, XIII.7 (from memory). Deep fades: crossings go as the root of the power and their
/// lengths too (Rice 1948); longer ones than the mean get rare with the cube of the length (Rice 1958, from memory).
/// The combination is our own approximation; tests hold it against flights and against Rice's rates.
#[derive(Debug, Clone)]
pub struct DeclaredLoss {
    first_db: f64,
    columns: usize,
    sigma_db: [f64; 2],
    /// One table for each standard deviation from the least to the greatest; in it row 0 is Rayleigh, then [`K_ROWS_DB`].
    tables: Vec<Vec<f32>>,
}

/// K of the rows, in dB.
const K_ROWS_DB: [f64; 10] = [-8.0, -4.0, 0.0, 3.0, 6.0, 9.0, 12.0, 15.0, 20.0, 30.0];
const ROWS: usize = K_ROWS_DB.len() + 1;
/// Points per dB of margin.
const POINTS_PER_DB: f64 = 2.0;
/// Tables between the least and the greatest standard deviation, when they differ.
const SIGMAS: usize = 5;
/// Shadows that the mean is taken over: −5 to 5 standard deviations in steps of a quarter.
const SHADOWS: i32 = 20;

/// Shadows in standard deviations with their weights, which add to 1: the trapezoidal rule, all but exact for a normal law.
pub fn shadow_nodes(half: i32, reach: f64) -> Vec<(f64, f64)> {
    let nodes = (-half..=half).map(|i| f64::from(i) * reach / f64::from(half));
    let mut weighed: Vec<(f64, f64)> = nodes.map(|z| (z, libm::exp(-0.5 * z * z))).collect();
    let total: f64 = weighed.iter().map(|node| node.1).sum();
    weighed.iter_mut().for_each(|node| node.1 /= total);
    weighed
}

impl DeclaredLoss {
    /// For a packet curve; figures that are not above zero where they must be are taken as the least that makes sense.
    pub fn new(curve: &PacketCurve, input: &StayInput) -> DeclaredLoss {
        let sigma_db = input.shadow_sigma_db.map(|sigma_db| sigma_db.max(0.0));
        let span_db = 5.0 * sigma_db[1];
        let (low_db, high_db) = curve.range_db();
        let first_db = (low_db - input.needed_snr_db - 20.0).floor() - span_db;
        let last_db = (high_db - input.needed_snr_db + 50.0).ceil() + span_db;
        let columns = ((last_db - first_db) * POINTS_PER_DB) as usize + 2;
        let margins_db: Vec<f64> = (0..columns).map(|i| first_db + i as f64 / POINTS_PER_DB).collect();
        let frozen = if input.bands >= INDEPENDENT_BANDS {
            input.apart(curve, &margins_db)
        } else {
            input.together(curve, &margins_db)
        };
        let nodes = shadow_nodes(SHADOWS, 5.0);
        let count = if sigma_db[1] - sigma_db[0] > 1e-9 { SIGMAS } else { 1 };
        let table = |index: usize| {
            let share = if count > 1 { index as f64 / (count - 1) as f64 } else { 1.0 };
            let sigma_db = sigma_db[0] + share * (sigma_db[1] - sigma_db[0]);
            let mut table = Vec::with_capacity(ROWS * columns);
            for row in &frozen {
                let at = |x: f64| {
                    let x = x.clamp(0.0, (columns - 1) as f64 - 1e-9);
                    let i = x as usize;
                    row[i] + (x - i as f64) * (row[(i + 1).min(columns - 1)] - row[i])
                };
                table.extend((0..columns).map(|i| {
                    let mean = |(z, weight): &(f64, f64)| weight * at(i as f64 + z * sigma_db * POINTS_PER_DB);
                    nodes.iter().map(mean).sum::<f64>() as f32
                }));
            }
            table
        };
        DeclaredLoss { first_db, columns, sigma_db, tables: (0..count).map(table).collect() }
    }

    /// The chance at a mean margin (without shadowing and fading) and K, under the greatest shadowing; K of −∞ is Rayleigh.
    #[inline]
    pub fn at(&self, margin_db: f64, k_db: f64) -> f64 {
        self.in_table(self.tables.len() - 1, margin_db, k_db)
    }

    /// The same under shadowing of a standard deviation between the least and the greatest.
    #[inline]
    pub fn at_shadowing(&self, margin_db: f64, k_db: f64, sigma_db: f64) -> f64 {
        if self.tables.len() == 1 {
            return self.at(margin_db, k_db);
        }
        let [least, most] = self.sigma_db;
        let x = ((sigma_db - least) / (most - least)).clamp(0.0, 1.0) * (SIGMAS - 1) as f64;
        let table = (x as usize).min(SIGMAS - 2);
        let low = self.in_table(table, margin_db, k_db);
        low + (x - table as f64) * (self.in_table(table + 1, margin_db, k_db) - low)
    }

    #[inline]
    fn in_table(&self, table: usize, margin_db: f64, k_db: f64) -> f64 {
        let after = K_ROWS_DB.iter().position(|row| k_db < *row).unwrap_or(K_ROWS_DB.len());
        let high = self.row_at(table, after.min(K_ROWS_DB.len() - 1) + 1, margin_db);
        if after == K_ROWS_DB.len() {
            return high;
        }
        let low = self.row_at(table, after, margin_db);
        let share = if after == 0 {
            // From Rayleigh (K linear 0) up to the first row, linear in linear K.
            ratio_from_db(k_db - K_ROWS_DB[0])
        } else {
            (k_db - K_ROWS_DB[after - 1]) / (K_ROWS_DB[after] - K_ROWS_DB[after - 1])
        };
        low + share * (high - low)
    }

    #[inline]
    fn row_at(&self, table: usize, row: usize, margin_db: f64) -> f64 {
        let x = ((margin_db - self.first_db) * POINTS_PER_DB).clamp(0.0, (self.columns - 1) as f64 - 1e-6);
        let i = x as usize;
        let pair = &self.tables[table][row * self.columns + i..][..2];
        let (low, high) = (f64::from(pair[0]), f64::from(pair[1]));
        let t = x - i as f64;
        // Small chances fall by powers.
        if low > 0.0 && high > 0.0 { low * libm::pow(high / low, t) } else { low + t * (high - low) }
    }
}

/// Levels of Rician power relative to its mean, dB, and their probabilities: 1/2 dB apart from −40 to +12 dB.
fn fade_levels(k: f64) -> Vec<(f64, f64)> {
    let below = |level_db: f64| rician_tails(k, ratio_from_db(level_db)).below;
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

/// Stays drawn: so many packets in all, and never fewer stays than the second. Estimate: chances of a few in a thousand come
/// out within a third, and a table takes a tenth of a second.
const PACKETS_DRAWN: usize = 1_000_000;
const STAYS_LEAST: usize = 400;
/// Rarest stays by which the chance of rarer ones is judged, and how far back its slope is taken.
const RAREST: usize = 24;
const SLOPE_OVER: usize = 4;
/// A single band is looked at so often on its way, in wavelengths: closer packets meet one level.
const LOOK_EVERY: f64 = 0.04;
/// Share of packets that arrive at the two SNR between which the foot of the packet curve is taken as a power law.
const FOOT: [f64; 2] = [0.3, 0.01];

impl StayInput {
    /// Packets that fall within the patience after a valid one, and within the stay. One that falls on its very end comes in
    /// time as often as not, by rounding.
    fn packets(&self) -> (f64, f64) {
        let within = self.patience_s * self.packet_rate_hz;
        let run = if (within - within.round()).abs() < 1e-6 { within - 0.5 } else { within.floor() };
        let run = run.max(1.0);
        (run, (self.stay_s * self.packet_rate_hz).max(run))
    }

    fn keep(&self) -> f64 {
        1.0 - self.other_loss.clamp(0.0, 1.0)
    }

    /// Chances without shadowing when every packet fades on its own, for each row over the margins.
    fn apart(&self, curve: &PacketCurve, margins_db: &[f64]) -> Vec<Vec<f64>> {
        let (run, stay) = self.packets();
        let row = |row: usize| {
            let levels = fade_levels(k_of(row));
            let chance = |margin_db: &f64| {
                let snr_db = margin_db + self.needed_snr_db;
                let lost: f64 = levels.iter().map(|(fade_db, weight)| weight * curve.at(snr_db + fade_db)).sum();
                run_probability(1.0 - (1.0 - lost) * self.keep(), run, stay)
            };
            margins_db.iter().map(chance).collect()
        };
        (0..ROWS).map(row).collect()
    }

    /// Chances without shadowing when packets of one band fade together, for each row over the margins.
    fn together(&self, curve: &PacketCurve, margins_db: &[f64]) -> Vec<Vec<f64>> {
        let (run, stay) = self.packets();
        let bands = self.bands.max(1);
        let per_packet = self.speed_mps.max(0.0) * self.frequency_hz / SPEED_OF_LIGHT_MPS / self.packet_rate_hz;
        // A single band is looked at less often than packets come when they come much closer than it changes.
        let stride = if bands == 1 { (LOOK_EVERY / per_packet.max(1e-9)).min(run / 8.0).max(1.0).floor() } else { 1.0 };
        let (window, looks) = (run / stride, ((stay / stride) as usize).max(1));
        let stays = (PACKETS_DRAWN / looks).clamp(STAYS_LEAST, 20_000);
        // The foot of the packet curve: arrivals go as this power of the SNR.
        let [high_db, low_db] = FOOT.map(|arrive| curve.snr_for_db(1.0 - arrive));
        let power = 10.0 * libm::log10(FOOT[0] / FOOT[1]) / (high_db - low_db).max(0.1);
        // Silent at even odds when so many packets are expected in the weakest window.
        let per_power = FOOT[0] * self.keep().max(1e-9) * stride;
        let highest_db = |weakest: Weakest| {
            let even = even_odds((weakest.alike - 1.0) / window) / per_power;
            high_db - self.needed_snr_db + db_from_ratio(even / weakest.sum) / power
        };
        let source = Source::new(1, Purpose::Trial);
        let field = DiffuseField::new(&source);
        let rays: Vec<Amplitudes> = (0..ROWS).map(|row| Amplitudes::of_k(k_of(row))).collect();
        let drawn: Vec<[f64; ROWS]> = (0..stays as u32)
            .into_par_iter()
            .map_init(Drawing::default, |drawing, stay| {
                drawing.draw(&field, &source, stay, bands, looks, per_packet * stride);
                std::array::from_fn(|row| highest_db(drawing.least_window(rays[row], power, window)))
            })
            .collect();
        let by_others = run_probability(self.other_loss.clamp(0.0, 1.0), run, stay);
        (0..ROWS)
            .map(|row| {
                let mut highest_db: Vec<f64> = drawn.iter().map(|stay| stay[row]).collect();
                highest_db.sort_by(|a, b| b.total_cmp(a));
                let chance = |margin_db: &f64| 1.0 - (1.0 - exceeds(&highest_db, *margin_db)) * (1.0 - by_others);
                margins_db.iter().map(chance).collect()
            })
            .collect()
    }
}

/// Windows whose sums lie within this of the least are tries for a silence as good as it. Estimate.
const ALIKE: f64 = 1.5;

/// Packets expected in a window at which some window out of many alike is silent with even odds: a silence begins at the
/// first window or after any packet that arrives. `windows` alike beside the first, in lengths of one.
fn even_odds(windows: f64) -> f64 {
    let (mut low, mut high) = (0.0, 40.0);
    for _ in 0..24 {
        let x = 0.5 * (low + high);
        let silent = libm::exp(-x);
        if (1.0 - silent) * libm::exp(-windows * x * silent) < 0.5 { low = x } else { high = x }
    }
    high
}

/// Share of stays whose highest margin of a silence lies above one; highest first. Beyond the rarest ones drawn it goes on as
/// the power of the field does in deep fades.
fn exceeds(highest_db: &[f64], margin_db: f64) -> f64 {
    let stays = highest_db.len();
    let above = highest_db.partition_point(|highest| *highest > margin_db);
    if above >= RAREST {
        // Between two stays the share rises evenly.
        let [nearer, next] = [highest_db[above - 1], highest_db.get(above).copied().unwrap_or(highest_db[above - 1])];
        let part = if nearer > next { (nearer - margin_db) / (nearer - next) } else { 0.0 };
        return ((above as f64 - 0.5 + part.clamp(0.0, 1.0)) / stays as f64).min(1.0);
    }
    let [near, far] = [highest_db[RAREST - 1], highest_db[RAREST * SLOPE_OVER - 1]];
    let per_db = (libm::log10(SLOPE_OVER as f64) / (near - far).max(1e-3)).clamp(0.05, 10.0);
    (RAREST as f64 - 0.5) / stays as f64 * libm::pow(10.0, -per_db * (margin_db - near).max(0.0))
}

/// K of a row, as a ratio.
fn k_of(row: usize) -> f64 {
    if row == 0 { 0.0 } else { ratio_from_db(K_ROWS_DB[row - 1]) }
}

/// The weakest window of a stay.
struct Weakest {
    /// The levels' power in it.
    sum: f64,
    /// How many windows come near it, itself among them.
    alike: f64,
}

/// One stay in the field.
#[derive(Default)]
struct Drawing {
    reads: Vec<DiffuseRead>,
    field: Vec<[f64; 2]>,
    levels: Vec<f64>,
    from_start: Vec<f64>,
    to_end: Vec<f64>,
}

impl Drawing {
    /// Draws the field at each look of a stay, hops visiting the bands as in flight.
    fn draw(&mut self, field: &DiffuseField, source: &Source, stay: u32, bands: u32, looks: usize, step: f64) {
        self.reads.clear();
        self.reads.extend((0..bands).map(|band| field.read(source, stay, band)));
        let first = source.words(stay, 0, 0)[0];
        let mut way = DiffuseWay::new(0.0, step);
        self.field.clear();
        self.field.extend((0..looks as u32).map(|look| {
            let turn = first.wrapping_add(look).wrapping_mul(0x9E37_79B9);
            let band = (u64::from(turn) * u64::from(bands)) >> 32;
            let here = field.on_way(&self.reads[band as usize], &way);
            way.go_on();
            here
        }));
    }

    /// Least sum over any `window` looks in a row of the levels' power to `power`, and how many windows come near it.
    fn least_window(&mut self, rays: Amplitudes, power: f64, window: f64) -> Weakest {
        self.levels.clear();
        self.levels.extend(self.field.iter().map(|here| {
            let level_db = quick_db(rays.level(*here));
            quick_ratio((power * level_db).clamp(-2000.0, 500.0))
        }));
        let count = self.levels.len();
        // The last look of a window counts by the part of it that falls into it.
        let whole = (window as usize).clamp(1, count);
        let part = if whole < count { window.fract() } else { 0.0 };
        // Sums from the start and to the end of blocks as long as a window: what is small is not lost beside what is large.
        self.from_start.clear();
        self.to_end.clear();
        self.to_end.resize(count, 0.0);
        let mut sum = 0.0;
        for (i, level) in self.levels.iter().enumerate() {
            sum = if i.is_multiple_of(whole) { *level } else { sum + level };
            self.from_start.push(sum);
        }
        for (i, level) in self.levels.iter().enumerate().rev() {
            sum = if (i + 1).is_multiple_of(whole) || i + 1 == count { *level } else { sum + level };
            self.to_end[i] = sum;
        }
        let last = count - whole - usize::from(part > 0.0);
        let sum = |from: usize| {
            let end = from + whole;
            let before = if from.is_multiple_of(whole) { 0.0 } else { self.to_end[from] };
            let rest = if part > 0.0 { part * self.levels[end] } else { 0.0 };
            before + self.from_start[end - 1] + rest
        };
        let least = (0..=last).map(sum).fold(f64::INFINITY, f64::min).max(1e-250);
        let alike = (0..=last).filter(|from| sum(*from) <= ALIKE * least).count();
        Weakest { sum: least, alike: alike as f64 }
    }
}

/// Chance of at least one run of `run` losses among `trials`, each lost with chance `loss`; all three may be fractions
/// of whole blocks.
fn run_probability(loss: f64, run: f64, trials: f64) -> f64 {
    // Runs begin in clumps, so count their beginnings as rare events.
    let once = libm::pow(loss, run);
    let beginnings = (trials - run).max(0.0) * (1.0 - loss) * once;
    (1.0 - (1.0 - once) * libm::exp(-beginnings)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

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
}
