//! What it is worth to know an uncertain input before choosing between options, from flights that have flown anyway.
//!
//! Every flight has drawn each input and has losses under every option, by one criterion or several. The loss that an input explains
//! is the regression of the loss on that input; what is left is luck, which nobody can know beforehand. Who knew the input would
//! choose, value by value, by the explained losses.

use rand::Rng;
use rand::seq::SliceRandom;
use std::borrow::Cow;

/// Knots of the smooth curve through the losses.
const KNOTS: usize = 7;

/// Blocks left out in turn for the standard error.
const BLOCKS: usize = 10;

/// Shuffled repeats behind the noise floor.
const SHUFFLES: usize = 39;

/// Losses of every option by every criterion, and how one chooses by them.
pub struct Question<'a> {
    /// The losses.
    pub losses: &'a Losses,
    /// What no loss is less than, where there is such a bound: a curve through losses that are seldom anything else runs under it
    /// here and there, and would make believe that something can be saved where nothing is lost.
    pub least: Option<f64>,
    /// The option chosen by mean losses, told by option and criterion less those of the one chosen when no input is known.
    pub choose: &'a (dyn Fn(&[Vec<f64>]) -> usize + Sync),
}

/// The value of knowing an input, criterion by criterion.
#[derive(Debug, Clone, PartialEq)]
pub struct Value {
    /// Mean loss avoided per flight by choosing with the input known; negative where a graver criterion costs a lesser one.
    pub saved: Vec<f64>,
    /// Standard error of each.
    pub error: Vec<f64>,
    /// What the best of all inputs looked at would seem to save in 19 of 20 cases if none had any bearing on the losses: less than
    /// that is noise.
    pub floor: Vec<f64>,
}

impl Value {
    /// The first criterion by which the value stands out from noise: beyond the floor, and beyond two standard errors.
    pub fn shown_by(&self) -> Option<usize> {
        let least = |criterion: usize| self.floor[criterion].max(2.0 * self.error[criterion]).max(0.0);
        (0..self.saved.len()).find(|&criterion| self.saved[criterion] > least(criterion))
    }
}

/// Functions of one or several inputs, orthonormal over the flights with the constant left out, and their values at the places
/// over which a decision is averaged.
#[derive(Debug, Clone, PartialEq)]
struct Basis {
    /// A function each: its value in every flight, then at every place; nothing more where the flights are the places.
    columns: Vec<Vec<f64>>,
    flights: usize,
}

impl Basis {
    /// Modified Gram-Schmidt against the constant and each other, twice for accuracy; a function that the others hold already is
    /// left out.
    fn orthonormal(functions: Vec<Vec<f64>>, flights: usize) -> Basis {
        let mut columns: Vec<Vec<f64>> = Vec::with_capacity(functions.len());
        for mut column in functions {
            let before = norm(&column[..flights]);
            for _ in 0..2 {
                let mean = mean(&column[..flights]);
                column.iter_mut().for_each(|value| *value -= mean);
                for earlier in &columns {
                    let share = dot(&earlier[..flights], &column[..flights]);
                    column.iter_mut().zip(earlier).for_each(|(value, other)| *value -= share * other);
                }
            }
            let left = norm(&column[..flights]);
            if left > 1e-8 * before.max(f64::MIN_POSITIVE) {
                column.iter_mut().for_each(|value| *value /= left);
                columns.push(column);
            }
        }
        Basis { columns, flights }
    }

    /// What the inputs explain of `y`, which has a value per flight, at every place.
    fn explained(&self, y: &[f64], places: usize) -> Vec<f64> {
        let mut fitted = vec![mean(y); places];
        for column in &self.columns {
            let (flown, placed) = column.split_at(self.flights);
            let share = dot(flown, y);
            let placed = if placed.is_empty() { flown } else { placed };
            fitted.iter_mut().zip(placed).for_each(|(value, basis)| *value += share * basis);
        }
        fitted
    }

    /// The option chosen place by place, and what that saves on average by each criterion. The functions are those of `part` of the
    /// flights.
    fn choices(&self, part: Part, question: &Question, places: usize) -> Choices {
        let Losses { apart, own, .. } = question.losses;
        let (options, criteria) = (apart.len(), own.len());
        let explained = |y: &Vec<f64>| self.explained(&part.of(y), places);
        let fitted: Vec<Vec<Option<Vec<f64>>>> =
            apart.iter().map(|by| by.iter().map(|y| y.as_ref().map(explained)).collect()).collect();
        // No option can save more than the chosen one loses.
        let at_most: Option<Vec<Vec<f64>>> = question.least.map(|least| {
            let room = |y| explained(y).into_iter().map(|own| (own - least).max(0.0)).collect();
            own.iter().map(room).collect()
        });
        let mut saved = vec![0.0; criteria];
        let mut chosen = Vec::with_capacity(places);
        let mut told = vec![vec![0.0; criteria]; options];
        for place in 0..places {
            for (told, by) in told.iter_mut().zip(&fitted) {
                for (criterion, (told, y)) in told.iter_mut().zip(by).enumerate() {
                    let more = y.as_ref().map_or(0.0, |y| y[place]);
                    *told = at_most.as_ref().map_or(more, |most| more.max(-most[criterion][place]));
                }
            }
            let option = (question.choose)(&told);
            saved.iter_mut().zip(&told[option]).for_each(|(saved, more)| *saved -= more / places as f64);
            chosen.push(option);
        }
        Choices { chosen, saved }
    }

    /// The same functions with the flights in another order, as if the input had nothing to do with their losses.
    fn dealt(&self, order: &[usize]) -> Basis {
        let deal = |column: &Vec<f64>| {
            let (flown, placed) = column.split_at(self.flights);
            order.iter().map(|&flight| flown[flight]).chain(placed.iter().copied()).collect()
        };
        Basis { columns: self.columns.iter().map(deal).collect(), flights: self.flights }
    }
}

/// The losses of some flights, by option and criterion, held against those of the option that is chosen when no input is known.
pub struct Losses {
    chosen: usize,
    /// Less those of that option; `None`: they never differ.
    apart: Vec<Vec<Option<Vec<f64>>>>,
    /// Those of that option by criterion.
    own: Vec<Vec<f64>>,
    flights: usize,
}

impl Losses {
    /// Of losses by option, criterion and flight.
    ///
    /// # Panics
    /// No option, no criterion, or lists of different lengths.
    pub fn beside(chosen: usize, losses: Vec<Vec<Vec<f64>>>) -> Losses {
        let own = losses[chosen].clone();
        let flights = own[0].len();
        let fits =
            |option: &Vec<Vec<f64>>| option.len() == own.len() && option.iter().all(|loss| loss.len() == flights);
        assert!(losses.iter().all(fits), "a loss per option, criterion and flight");
        let less = |(mut loss, own): (Vec<f64>, &Vec<f64>)| {
            let differs = loss != *own;
            loss.iter_mut().zip(own).for_each(|(loss, own)| *loss -= own);
            differs.then_some(loss)
        };
        let apart = losses.into_iter().map(|option| option.into_iter().zip(&own).map(less).collect()).collect();
        Losses { chosen, apart, own, flights }
    }
}

/// Part of the flights.
#[derive(Debug, Clone, Copy)]
enum Part {
    All,
    /// Without one of [`BLOCKS`] blocks.
    Without(usize),
}

impl Part {
    /// What a list has of them.
    fn of(self, list: &[f64]) -> Cow<'_, [f64]> {
        match self {
            Part::All => list.into(),
            Part::Without(block) => {
                list.iter().enumerate().filter(|(index, _)| index % BLOCKS != block).map(|(_, value)| *value).collect()
            }
        }
    }
}

/// What is chosen where.
struct Choices {
    /// The option at every place.
    chosen: Vec<usize>,
    /// What that saves on average, by criterion.
    saved: Vec<f64>,
}

/// What knowing the input would save that took the values `x` in the flights of the question: without error and floor, for a first
/// look over many inputs. `plausible` is explained at [`value_of_knowing`].
///
/// # Panics
/// As [`value_of_knowing`].
pub fn saved_by_knowing(x: &[f64], plausible: &[f64], question: &Question) -> Vec<f64> {
    check(x, plausible, question);
    let basis = Basis::orthonormal(functions(x, plausible), x.len());
    basis.choices(Part::All, question, plausible.len()).saved
}

/// Value of knowing the input that took the values `x` in the flights of the question.
///
/// `plausible` holds values that stand for the input's distribution evenly, quantiles for instance: averaging over them rather than
/// over the values drawn leaves the luck of the draw out. `looked_at` inputs are looked at in all, which the noise floor, made with
/// `shuffle`, allows for.
///
/// # Panics
/// No plausible value, or not a value of the input for each flight.
///
/// # Source
/// Strong and Oakley, Medical Decision Making 34 (2014) 755: the partial value of perfect information by nonparametric
/// regression. The natural cubic spline: Hastie, Tibshirani and Friedman, The Elements of Statistical Learning (2009), eq. 5.4 and 5.5.
pub fn value_of_knowing(
    x: &[f64],
    plausible: &[f64],
    question: &Question,
    looked_at: usize,
    shuffle: &mut impl Rng,
) -> Value {
    check(x, plausible, question);
    let criteria = question.losses.own.len();
    if x.len() < 2 * BLOCKS * KNOTS {
        let never = vec![f64::INFINITY; criteria];
        return Value { saved: vec![0.0; criteria], error: never.clone(), floor: never };
    }
    let places = plausible.len();
    let basis = Basis::orthonormal(functions(x, plausible), x.len());
    let without = |block: usize| {
        let part = Part::Without(block);
        let kept = part.of(x);
        Basis::orthonormal(functions(&kept, plausible), kept.len()).choices(part, question, places).saved
    };
    let parts: Vec<Vec<f64>> = (0..BLOCKS).map(without).collect();
    let mut order: Vec<usize> = (0..x.len()).collect();
    let dealt: Vec<Vec<f64>> = (0..SHUFFLES)
        .map(|_| {
            order.shuffle(shuffle);
            basis.dealt(&order).choices(Part::All, question, places).saved
        })
        .collect();
    let of = |criterion: usize, list: &[Vec<f64>]| list.iter().map(|saved| saved[criterion]).collect::<Vec<f64>>();
    Value {
        saved: basis.choices(Part::All, question, places).saved,
        error: (0..criteria).map(|criterion| jackknife_error(&of(criterion, &parts))).collect(),
        floor: (0..criteria).map(|criterion| floor(&of(criterion, &dealt), looked_at)).collect(),
    }
}

/// The 95 % quantile of the greatest of so many gains like these, taken for normal, but never under the greatest of these.
fn floor(gains: &[f64], looked_at: usize) -> f64 {
    let middle = mean(gains);
    let sigma = (gains.iter().map(|gain| (gain - middle).powi(2)).sum::<f64>() / (gains.len() - 1) as f64).sqrt();
    let z = -crate::chance::standard_normal_quantile(0.05 / looked_at as f64);
    gains.iter().copied().fold(middle + z * sigma, f64::max)
}

fn check(x: &[f64], plausible: &[f64], question: &Question) {
    assert!(x.len() == question.losses.flights, "a value of the input for each flight");
    assert!(!plausible.is_empty(), "values over which to average");
}

/// A share with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// Share of flights.
    pub share: f64,
    /// Its standard error.
    pub error: f64,
}

/// Share of the flights at whose inputs, were they known, the choice would be the same. The inputs' effects are added up: what only
/// two of them together do is taken for luck.
///
/// # Panics
/// No flight, or not a value of each input for each flight.
pub fn standing(inputs: &[&[f64]], question: &Question) -> Standing {
    let share_of = |part: Part| {
        let columns: Vec<Vec<f64>> = inputs.iter().flat_map(|x| functions(&part.of(x), &[])).collect();
        let flights = part.of(&question.losses.own[0]).len();
        let chosen = Basis::orthonormal(columns, flights).choices(part, question, flights).chosen;
        chosen.iter().filter(|&&option| option == question.losses.chosen).count() as f64 / flights as f64
    };
    let parts: Vec<f64> = (0..BLOCKS).map(|block| share_of(Part::Without(block))).collect();
    Standing { share: share_of(Part::All), error: jackknife_error(&parts) }
}

/// Standard error from estimates that each leave out one of as many blocks.
fn jackknife_error(parts: &[f64]) -> f64 {
    let count = parts.len() as f64;
    let middle = mean(parts);
    ((count - 1.0) / count * parts.iter().map(|part| (part - middle).powi(2)).sum::<f64>()).sqrt()
}

/// Functions whose sums are the curves fitted to one input, each in all flights and then at the places, where there are any: a natural
/// cubic spline, or one level per value when the input takes few.
fn functions(x: &[f64], places: &[f64]) -> Vec<Vec<f64>> {
    let mut sorted = x.to_vec();
    sorted.sort_by(f64::total_cmp);
    let mut levels = sorted.clone();
    levels.dedup();
    let all =
        |function: &dyn Fn(f64) -> f64| x.iter().chain(places).map(|&value| function(value)).collect::<Vec<f64>>();
    if levels.len() <= KNOTS {
        return levels[1..].iter().map(|&level| all(&|value| f64::from(value == level))).collect();
    }
    // The outer knots stand at 2 % and 98 %: beyond them the curve is straight.
    let last = sorted.len() - 1;
    let place = |knot: usize| (0.02 + 0.96 * knot as f64 / (KNOTS - 1) as f64) * last as f64;
    let (middle, width) = (sorted[last / 2], sorted[last] - sorted[0]);
    let unit = |value: f64| (value - middle) / width;
    let mut knots: Vec<f64> = (0..KNOTS).map(|knot| unit(sorted[place(knot).round() as usize])).collect();
    knots.dedup();
    let mut functions = vec![all(&unit)];
    if let [inner @ .., before_end, end] = knots.as_slice() {
        let cube = |value: f64, knot: f64| (value - knot).max(0.0).powi(3);
        let bend = |value: f64, knot: f64| (cube(value, knot) - cube(value, *end)) / (end - knot);
        functions
            .extend(inner.iter().map(|&knot| all(&|value| bend(unit(value), knot) - bend(unit(value), *before_end))));
    }
    functions
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Sums of products side by side, so that one addition need not wait for the one before it.
const LANES: usize = 8;

fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (a_parts, b_parts) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let rest: f64 = a_parts.remainder().iter().zip(b_parts.remainder()).map(|(a, b)| a * b).sum();
    let mut sums = [0.0; LANES];
    for (a, b) in a_parts.zip(b_parts) {
        for lane in 0..LANES {
            sums[lane] += a[lane] * b[lane];
        }
    }
    sums.iter().sum::<f64>() + rest
}

fn norm(values: &[f64]) -> f64 {
    dot(values, values).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::standard_normal_quantile;
    use rand::SeedableRng;
    use rand::rngs::SmallRng;
    use rand_distr::{Distribution, Normal};

    const FLIGHTS: usize = 5_000;

    fn stream(seed: u64) -> SmallRng {
        SmallRng::seed_from_u64(seed)
    }

    fn normal(seed: u64, mean: f64, sigma: f64) -> Vec<f64> {
        Normal::new(mean, sigma).unwrap().sample_iter(stream(seed)).take(FLIGHTS).collect()
    }

    fn quantiles(mean: f64, sigma: f64) -> Vec<f64> {
        (0..200).map(|part| mean + sigma * standard_normal_quantile((f64::from(part) + 0.5) / 200.0)).collect()
    }

    fn least(told: &[Vec<f64>]) -> usize {
        (0..told.len()).min_by(|&a, &b| told[a][0].total_cmp(&told[b][0])).unwrap_or(0)
    }

    fn question(losses: &Losses) -> Question<'_> {
        Question { losses, choose: &least, least: None }
    }

    /// Two options, one of which loses θ ~ N(μ, 1) more: knowing θ saves φ(μ) − |μ| Φ(−|μ|), the unit normal loss (Raiffa and
    /// Schlaifer, Applied Statistical Decision Theory (1961), section 5.4), within 5 % at 5,000 flights whose luck is half as large.
    #[test]
    fn two_options_and_a_normal_prior() {
        for (run, mean) in [0.0, 0.3, -0.6, 1.0].into_iter().enumerate() {
            let density = libm::exp(-0.5 * mean * mean) / (2.0 * std::f64::consts::PI).sqrt();
            let tail = 0.5 * libm::erfc(f64::abs(mean) / std::f64::consts::SQRT_2);
            let exact = density - f64::abs(mean) * tail;
            let theta = normal(run as u64, mean, 1.0);
            let luck = normal(100 + run as u64, 0.0, 0.5);
            let more = theta.iter().zip(&luck).map(|(more, luck)| more + luck).collect();
            let losses = Losses::beside(usize::from(mean < 0.0), vec![vec![vec![0.0; FLIGHTS]], vec![more]]);
            let question = question(&losses);
            let found = value_of_knowing(&theta, &quantiles(mean, 1.0), &question, 1, &mut stream(1));
            assert!((found.saved[0] / exact - 1.0).abs() < 0.05, "{found:?} {exact}");
            assert!((found.saved[0] - exact).abs() < 3.0 * found.error[0] + 0.005 * exact, "{found:?} {exact}");
            assert_eq!(found.shown_by(), Some(0));
            assert_eq!(saved_by_knowing(&theta, &quantiles(mean, 1.0), &question), found.saved);
        }
    }

    /// Three options on an input of three levels, each best at one of them: exactly the mean of what the levels save.
    #[test]
    fn levels() {
        let x: Vec<f64> = (0..FLIGHTS).map(|flight| (flight % 3) as f64).collect();
        let loss = |option: i32| x.iter().map(|&level| if level == f64::from(option) { 0.0 } else { 0.3 }).collect();
        let losses = Losses::beside(0, (0..3).map(|option| vec![loss(option)]).collect());
        let found = value_of_knowing(&x, &[0.0, 1.0, 2.0], &question(&losses), 1, &mut stream(1));
        assert!((found.saved[0] - 0.2).abs() < 1e-4 && found.shown_by() == Some(0), "{found:?}");
    }

    /// Where a graver criterion rules, what it saves may cost a lesser one, and both are told.
    #[test]
    fn a_graver_criterion_costs_a_lesser_one() {
        let x = normal(5, 0.0, 1.0);
        let grave = x.iter().map(|&x| f64::from(x > 1.0)).collect();
        // Option 0 keeps the craft and is grave above 1; option 1 loses the craft always.
        let none = vec![0.0; FLIGHTS];
        let losses = Losses::beside(0, vec![vec![grave, none.clone()], vec![none, vec![1.0; FLIGHTS]]]);
        let rule = |told: &[Vec<f64>]| usize::from(told[1][0] < -0.5);
        let question = Question { losses: &losses, choose: &rule, least: Some(0.0) };
        let found = value_of_knowing(&x, &quantiles(0.0, 1.0), &question, 1, &mut stream(1));
        // Φ(−1): a spline rounds the step off.
        let exact = 0.5 * libm::erfc(1.0 / std::f64::consts::SQRT_2);
        assert!((found.saved[0] - exact).abs() < 0.03 && (found.saved[1] + exact).abs() < 0.03, "{found:?}");
        assert_eq!(found.shown_by(), Some(0));
    }

    /// An input without bearing seems worth more than the floor in at most about 1 of 20 runs.
    #[test]
    fn noise_is_not_value() {
        let shown = (0..100).filter(|&run| {
            let x = &normal(1000 + run, 0.0, 1.0)[..600];
            let loss = |option: u64| vec![normal(2000 + 3 * run + option, 0.0, 1.0)[..600].to_vec()];
            let losses = Losses::beside(0, (0..3).map(loss).collect());
            value_of_knowing(x, x, &question(&losses), 1, &mut stream(run)).shown_by().is_some()
        });
        // 100 runs at 5 %: within 3.5 standard deviations of 5.
        let shown = shown.count();
        assert!(shown <= 12, "{shown}");
    }

    /// Options that differ by x + y of two independent inputs: the first stands where x + y is under 1.
    #[test]
    fn standing_adds_up_inputs() {
        let (x, y) = (normal(1, 0.0, 1.0), normal(2, 0.0, 1.0));
        let luck = normal(3, 0.0, 1.0);
        let first = (0..FLIGHTS).map(|flight| x[flight] + y[flight] + luck[flight]).collect();
        let losses = Losses::beside(0, vec![vec![first], vec![vec![1.0; FLIGHTS]]]);
        let found = standing(&[&x, &y], &question(&losses));
        // Φ(1/√2).
        let exact = 1.0 - 0.5 * libm::erfc(0.5);
        assert!(
            (found.share - exact).abs() < 0.02 && (found.share - exact).abs() < 4.0 * found.error,
            "{found:?} {exact}"
        );
        let losses = Losses::beside(0, vec![vec![vec![1.0; 50]], vec![vec![0.0; 50]]]);
        assert_eq!(standing(&[&[1.0; 50]], &question(&losses)).share, 0.0);
    }

    /// Where the chosen option never loses, nothing is worth knowing, however a curve through seldom losses of the others runs.
    #[test]
    fn nothing_is_saved_where_nothing_is_lost() {
        let x = normal(7, 0.0, 1.0);
        let seldom = x.iter().map(|&x| f64::from(x > 1.8)).collect();
        let losses = Losses::beside(0, vec![vec![vec![0.0; FLIGHTS]], vec![seldom]]);
        let with = |least| {
            let question = Question { least, ..question(&losses) };
            saved_by_knowing(&x, &quantiles(0.0, 1.0), &question)[0]
        };
        assert!(with(None) > 0.001, "a curve that runs under nothing: {}", with(None));
        assert_eq!(with(Some(0.0)), 0.0);
    }

    #[test]
    fn few_flights_show_nothing() {
        let losses = Losses::beside(0, vec![vec![vec![0.0, 1.0]], vec![vec![1.0, 0.0]]]);
        let found = value_of_knowing(&[1.0, 2.0], &[1.0, 2.0], &question(&losses), 1, &mut stream(1));
        assert!(found.saved == [0.0] && found.shown_by().is_none());
    }
}
