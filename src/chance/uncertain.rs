//! A number of the scenario that may be uncertain.

use super::normal::standard_normal_quantile;
use rand::distr::{Distribution, StandardUniform};

/// A scenario's number: exact, or a distribution drawn once per flight.
///
/// Draws are made by inversion, so that the same uniform number under a shifted distribution gives
/// the matching value: what-if comparisons stay paired.
#[derive(Debug, Clone, PartialEq)]
pub enum Uncertain {
    /// Always this value.
    Exact(f64),
    /// Normal with (mean, standard deviation).
    Normal(f64, f64),
    /// Uniform between (low, high).
    Uniform(f64, f64),
    /// Triangular with (low, mode, high).
    Triangular(f64, f64, f64),
    /// Log-normal with (median, factor): 68 % lie within median ÷ factor … median × factor.
    Lognormal(f64, f64),
    /// One of several (value, weight).
    Choice(Vec<(f64, f64)>),
    /// Another distribution whose draws below (low) or above (high) count as that limit.
    Within(Box<Uncertain>, f64, f64),
}

impl From<f64> for Uncertain {
    fn from(value: f64) -> Self {
        Uncertain::Exact(value)
    }
}

impl Uncertain {
    /// The value below which a share `p` of draws lies, `p` in [0, 1]. Normal and log-normal are cut
    /// at 4 standard deviations, so that no draw is absurd.
    pub fn quantile(&self, p: f64) -> f64 {
        let z = || standard_normal_quantile(p.clamp(1e-12, 1.0 - 1e-12)).clamp(-4.0, 4.0);
        match self {
            Uncertain::Exact(value) => *value,
            Uncertain::Normal(mean, sd) => mean + sd * z(),
            Uncertain::Uniform(low, high) => low + p * (high - low),
            Uncertain::Triangular(low, mode, high) => {
                let (span, rise) = (high - low, mode - low);
                if span <= 0.0 {
                    *low
                } else if p * span < rise {
                    low + (p * span * rise).sqrt()
                } else {
                    high - ((1.0 - p) * span * (high - mode)).sqrt()
                }
            }
            Uncertain::Lognormal(median, factor) => median * libm::exp(libm::log(*factor) * z()),
            Uncertain::Choice(options) => {
                let total: f64 = options.iter().map(|option| option.1).sum();
                let mut left = p * total;
                for (value, weight) in options {
                    if left < *weight {
                        return *value;
                    }
                    left -= weight;
                }
                options.last().map_or(f64::NAN, |option| option.0)
            }
            Uncertain::Within(inner, low, high) => inner.quantile(p).max(*low).min(*high),
        }
    }

    /// The middle value: the median, and for a choice the likeliest (the earlier of equals).
    pub fn central(&self) -> f64 {
        match self {
            Uncertain::Choice(options) => {
                options
                    .iter()
                    .fold((f64::NAN, f64::NEG_INFINITY), |best, &option| if option.1 > best.1 { option } else { best })
                    .0
            }
            other => other.quantile(0.5),
        }
    }

    /// Whether every flight gets the same value.
    pub fn is_exact(&self) -> bool {
        match self {
            Uncertain::Exact(_) => true,
            Uncertain::Normal(_, sd) => *sd == 0.0,
            Uncertain::Uniform(low, high) => low == high,
            Uncertain::Triangular(low, _, high) => low == high,
            Uncertain::Lognormal(_, factor) => *factor == 1.0,
            Uncertain::Choice(options) => options.windows(2).all(|pair| pair[0].0 == pair[1].0),
            Uncertain::Within(inner, ..) => inner.is_exact(),
        }
    }

    /// Least and greatest value that can be drawn.
    pub fn range(&self) -> Range {
        match self {
            Uncertain::Choice(options) => {
                let values = || options.iter().map(|option| option.0);
                Range { low: values().fold(f64::INFINITY, f64::min), high: values().fold(f64::NEG_INFINITY, f64::max) }
            }
            other => Range { low: other.quantile(0.0), high: other.quantile(1.0) },
        }
    }
}

/// Least and greatest of some values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Least.
    pub low: f64,
    /// Greatest.
    pub high: f64,
}

/// Takes one uniform double of the generator and inverts it, so that draws stay paired under a changed distribution.
impl Distribution<f64> for Uncertain {
    fn sample<R: rand::Rng + ?Sized>(&self, chance: &mut R) -> f64 {
        let unit: f64 = StandardUniform.sample(chance);
        self.quantile(unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::{Purpose, Source};
    use rand_distr::{Normal, Triangular};

    /// A draw is the quantile at the uniform number that stands at its key: nothing else is taken.
    #[test]
    fn a_draw_is_the_quantile_at_its_key() {
        let stream = Source::new(4, Purpose::Trial);
        for number in [Uncertain::Normal(5.0, 1.5), Uncertain::Lognormal(10.0, 2.0), Uncertain::Uniform(2.0, 4.0)] {
            for flight in 0..50 {
                let drawn = number.sample(&mut stream.at(flight, 0, 1_040));
                assert_eq!(drawn, number.quantile(stream.units(flight, 0, 1_040)[0]));
            }
        }
    }

    /// Against the same distributions written by others: the share of their draws below a quantile is its probability,
    /// within five standard errors.
    #[test]
    fn quantiles_split_the_draws_of_others() {
        const DRAWS: u32 = 40_000;
        let stream = Source::new(12, Purpose::Trial);
        let normal = Normal::new(5.0, 1.5).unwrap();
        let triangular = Triangular::new(-1.0, 4.0, 0.5).unwrap();
        for p in [0.02, 0.3, 0.5, 0.9] {
            let error = 5.0 * (p * (1.0 - p) / f64::from(DRAWS)).sqrt();
            let share = |limit: f64, draw: &dyn Fn(u32) -> f64| {
                (0..DRAWS).filter(|&flight| draw(flight) < limit).count() as f64 / f64::from(DRAWS)
            };
            let got = share(Uncertain::Normal(5.0, 1.5).quantile(p), &|k| normal.sample(&mut stream.sequence(k, 0)));
            assert!((got - p).abs() < error, "normal below its {p} quantile: {got}");
            let got = share(Uncertain::Triangular(-1.0, 0.5, 4.0).quantile(p), &|k| {
                triangular.sample(&mut stream.sequence(k, 1))
            });
            assert!((got - p).abs() < error, "triangular below its {p} quantile: {got}");
        }
    }

    #[test]
    fn quantiles_of_each_kind() {
        assert_eq!(Uncertain::Uniform(2.0, 4.0).quantile(0.25), 2.5);
        assert_eq!(Uncertain::Triangular(0.0, 1.0, 2.0).quantile(0.5), 1.0);
        assert!((Uncertain::Triangular(0.0, 1.0, 4.0).quantile(0.25) - 1.0).abs() < 1e-12);
        let spread = Uncertain::Lognormal(10.0, 2.0);
        assert!((spread.quantile(0.841_344_746_068_543) - 20.0).abs() < 1e-9);
        let choice = Uncertain::Choice(vec![(1.0, 1.0), (5.0, 3.0)]);
        assert_eq!((choice.quantile(0.2), choice.quantile(0.3), choice.central()), (1.0, 5.0, 5.0));
        assert_eq!(choice.range(), Range { low: 1.0, high: 5.0 });
        let within = Uncertain::Within(Box::new(Uncertain::Normal(1.0, 1.0)), 0.0, 2.5);
        assert_eq!((within.range(), within.central()), (Range { low: 0.0, high: 2.5 }, 1.0));
    }
}
