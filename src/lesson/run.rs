//! Flies a chapter, measures it, finds the right prediction, and holds the prose to what came out.

use super::file::{Ask, Chapter, Measure, Operand, Statistic, Variant};
use super::measure::{Flown, Seen, Value};
use super::quote::Quoting;
use crate::failsafe::Policy;
use crate::flight::{Headline, TOLD_EVERY_S, Trace, record};
use crate::risk::faults::is_faulted;
use crate::risk::run::fly_all;
use crate::risk::words::{grouped, number, share};
use crate::scenario::Scenario;
use crate::stats::quantile::{QuantileRule, sample_quantile};
use crate::story::{Told, tell};
use crate::world::{World, WorldError};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Confidence of the shares' intervals: common practice.
const CONFIDENCE: f64 = 0.95;

/// A chapter with its answer.
#[derive(Debug, Clone)]
pub struct Answered {
    /// The chapter.
    pub chapter: Chapter,
    /// Per variant the value of each measure.
    pub values: Vec<Vec<Value>>,
    /// Lost links per variant.
    pub lost: Vec<u32>,
    /// What the learner can choose, in order.
    pub predictions: Vec<Prediction>,
    /// The flight shown.
    pub shown: Option<Shown>,
    /// The setting with its numbers.
    pub setting: String,
    /// The question.
    pub question: String,
    /// What was found, in a sentence.
    pub found: String,
    /// Why.
    pub why: String,
    /// What to do in the field.
    pub field: String,
}

/// A prediction to choose.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prediction {
    /// Its words.
    pub words: String,
    /// Whether it is what was found.
    pub right: bool,
}

/// One flight under every variant.
#[derive(Debug, Clone)]
pub struct Shown {
    /// Its number.
    pub flight: u32,
    /// Its trace under each variant, in their order.
    pub traces: Vec<Trace>,
    /// The take-off spot under each: x, y.
    pub homes_m: Vec<[f64; 2]>,
    /// Its story, where the variants differ in nothing but what the craft does once the link is lost, and none leaves the site.
    pub told: Option<Told>,
}

/// Why a chapter cannot be told.
#[derive(Debug, thiserror::Error)]
#[error("{file}:{line}: chapter \"{chapter}\": {why}\n  accepted: {accepted}")]
pub struct LessonError {
    /// The lesson's file.
    pub file: String,
    /// Line of the chapter, or of what does not hold.
    pub line: usize,
    /// The chapter's title.
    pub chapter: String,
    /// What is wrong.
    pub why: String,
    /// What would be accepted.
    pub accepted: &'static str,
}

impl Chapter {
    fn fault(&self, why: String, accepted: &'static str) -> LessonError {
        LessonError { file: self.file.clone(), line: self.line, chapter: self.title.clone(), why, accepted }
    }
}

/// Flies a chapter and answers its question.
///
/// # Errors
/// A scenario that cannot be flown, a number that no flight gives, predictions that the numbers do not tell apart, or a claim that
/// does not hold.
pub fn run(chapter: Chapter) -> Result<Answered, LessonError> {
    let mut worlds: Vec<World> = Vec::new();
    for variant in &chapter.variants {
        let scenario = variant.scenario.clone().with_flights(chapter.flights).with_seed(chapter.seed);
        let made = match worlds.first() {
            None => World::new(scenario),
            Some(first) => World::like(first, scenario),
        };
        let refused = |error: WorldError| {
            chapter.fault(format!("variant \"{}\": {error}", variant.name), "a scenario that can be flown")
        };
        worlds.push(made.map_err(refused)?);
    }
    let traced = chapter.measures.iter().any(|measure| match measure.statistic {
        Statistic::Share(event) => event.needs_trace(),
        Statistic::Median(of) | Statistic::Mean(of) | Statistic::Greatest(of) | Statistic::Shown(of) => {
            of.needs_trace()
        }
    });
    let flown: Vec<Vec<Flown>> = worlds.iter().map(|world| fly(world, traced)).collect();
    if let Some(broken) = flown.iter().flatten().find(|flown| is_faulted(&flown.outcome)) {
        let why = format!("the simulation broke off with a numerical fault in flight {}", broken.outcome.flight);
        return Err(chapter.fault(why, "another `seed`, or a smaller `step_s` in the scenario"));
    }
    let at = chapter.flight.or_else(|| flight_to_show(&flown));
    let mut values = Vec::new();
    for (variant, flights) in chapter.variants.iter().zip(&flown) {
        let value = |measure: &Measure| {
            measured(measure, flights, at).ok_or_else(|| {
                let why = format!("no flight of \"{}\" gives a number for `{}`", variant.name, measure.id);
                chapter.fault(why, "variants in which links are lost")
            })
        };
        values.push(chapter.measures.iter().map(value).collect::<Result<Vec<Value>, LessonError>>()?);
    }
    check_claims(&chapter, &values)?;
    let predictions = predictions(&chapter, &values)?;
    let shown = at.map(|flight| {
        let told = story(&chapter, &worlds, flight);
        let again = |world: &World| record(world, flight, &world.scenario.policies[0], TOLD_EVERY_S);
        let traces = told.as_ref().map_or_else(|| worlds.iter().map(again).collect(), |told| told.traces.clone());
        let homes_m = worlds.iter().map(|world| [world.home_m[0], world.home_m[1]]).collect();
        Shown { flight, traces, homes_m, told }
    });
    let fill = |text: &Quoting| filled(text, &chapter, &values);
    Ok(Answered {
        setting: fill(&chapter.setting),
        question: fill(&chapter.question.words),
        found: found(&chapter, &values),
        why: fill(&chapter.why),
        field: fill(&chapter.field),
        lost: flown.iter().map(|all| all.iter().filter(|one| one.outcome.loss.is_some()).count() as u32).collect(),
        values,
        predictions,
        shown,
        chapter,
    })
}

/// The story of a flight under all variants, where one world serves them all and none leaves the site.
fn story(chapter: &Chapter, worlds: &[World], flight: u32) -> Option<Told> {
    let bare = |variant: &Variant| Scenario { policies: Vec::new(), ..variant.scenario.clone() };
    let [first, others @ ..] = chapter.variants.as_slice() else { return None };
    if others.is_empty() || others.iter().any(|other| bare(other) != bare(first)) {
        return None;
    }
    let named = |variant: &Variant| {
        variant.scenario.policies.first().map(|p| Policy { name: variant.name.clone(), ..p.clone() })
    };
    let policies: Vec<Policy> = chapter.variants.iter().filter_map(named).collect();
    let told = tell(worlds.first()?, flight, "", &policies, TOLD_EVERY_S);
    // Beside one that flies away the others would be dots.
    let [west, south, east, north] = first.scenario.site.extent_m;
    let inside = |p: [f64; 3]| p[0] >= west && p[0] <= east && p[1] >= south && p[1] <= north;
    let stays = told.traces.iter().flat_map(|trace| &trace.rows).all(|row| inside(row.place_m));
    (stays && told.story.lost_at_s.is_some()).then_some(told)
}

fn fly(world: &World, traced: bool) -> Vec<Flown> {
    let mut flown = Vec::new();
    let all: Result<(), std::convert::Infallible> =
        fly_all(world, 0..world.scenario.flights, &|_| {}, &mut |outcome| {
            flown.push(Flown { outcome, seen: None });
            Ok(())
        });
    let Ok(()) = all;
    if traced {
        let policy = &world.scenario.policies[0];
        let seen = |one: &mut Flown| {
            if one.outcome.loss.is_some() {
                one.seen = Seen::of(&record(world, one.outcome.flight, policy, TOLD_EVERY_S));
            }
        };
        flown.par_iter_mut().for_each(seen);
    }
    flown
}

/// A flight whose link is lost under as many variants as possible; of those one that ends as most do under each; of those one that
/// ends differently under them.
fn flight_to_show(flown: &[Vec<Flown>]) -> Option<u32> {
    let first = flown.first()?;
    let end = |one: &Flown| one.outcome.endings.first().map(|ending| ending.headline);
    let usual: Vec<Option<Headline>> = flown.iter().map(|all| most(all.iter().filter_map(end))).collect();
    let worth = |index: usize| {
        let ends: Vec<Option<Headline>> = flown.iter().map(|all| end(&all[index])).collect();
        let lost = ends.iter().flatten().count();
        let as_usual = ends.iter().zip(&usual).filter(|(end, usual)| end == usual).count();
        let kinds: BTreeSet<Headline> = ends.iter().copied().flatten().collect();
        (lost, as_usual, kinds.len())
    };
    // The first of the best.
    let best = (0..first.len()).rev().max_by_key(|&index| worth(index))?;
    (worth(best).0 > 0).then(|| first[best].outcome.flight)
}

/// What came most often; of what came as often the worst.
fn most(ends: impl Iterator<Item = Headline>) -> Option<Headline> {
    let mut counts = BTreeMap::new();
    ends.for_each(|end| *counts.entry(end).or_insert(0_u32) += 1);
    counts.into_iter().rev().max_by_key(|(_, count)| *count).map(|(end, _)| end)
}

fn measured(measure: &Measure, flights: &[Flown], shown: Option<u32>) -> Option<Value> {
    let (quantity, make): (_, fn(&mut Vec<f64>) -> f64) = match measure.statistic {
        Statistic::Share(event) => {
            let came: Vec<bool> = flights.iter().filter_map(|flown| event.came(flown)).collect();
            let events = came.iter().filter(|came| **came).count() as u64;
            return (!came.is_empty()).then(|| Value::Share(share(events, came.len() as u64, CONFIDENCE)));
        }
        Statistic::Shown(quantity) => {
            let one = flights.iter().find(|flown| Some(flown.outcome.flight) == shown)?;
            return quantity
                .of(one)
                .filter(|value| value.is_finite())
                .map(|value| Value::Number(value, quantity.unit()));
        }
        Statistic::Median(quantity) => (quantity, |all| {
            all.sort_by(f64::total_cmp);
            sample_quantile(all, 0.5, QuantileRule::Type8)
        }),
        Statistic::Mean(quantity) => (quantity, |all| all.iter().sum::<f64>() / all.len() as f64),
        Statistic::Greatest(quantity) => (quantity, |all| all.iter().copied().fold(f64::NEG_INFINITY, f64::max)),
    };
    let mut all: Vec<f64> =
        flights.iter().filter_map(|flown| quantity.of(flown)).filter(|value| value.is_finite()).collect();
    (!all.is_empty()).then(|| Value::Number(make(&mut all), quantity.unit()))
}

fn side(operand: &Operand, values: &[Vec<Value>]) -> f64 {
    match operand {
        Operand::Number(number) => *number,
        Operand::Of { variant, measure } => values[*variant][*measure].plain(),
    }
}

fn side_words(chapter: &Chapter, operand: &Operand, values: &[Vec<Value>]) -> Option<String> {
    let Operand::Of { variant, measure } = operand else { return None };
    let (id, of) = (&chapter.variants[*variant].id, &chapter.measures[*measure].id);
    Some(format!("{id}.{of} is {}", values[*variant][*measure].in_words()))
}

fn check_claims(chapter: &Chapter, values: &[Vec<Value>]) -> Result<(), LessonError> {
    for claim in &chapter.claims {
        let (greater, less) = (side(&claim.greater, values), side(&claim.less, values));
        // What is not a number holds no claim.
        if !(greater > less && greater - less >= claim.by) {
            let sides = [&claim.greater, &claim.less];
            let found: Vec<String> = sides.iter().filter_map(|one| side_words(chapter, one, values)).collect();
            let why = format!("the claim \"{}\" does not hold: {}", claim.text, found.join(", "));
            let fault = chapter.fault(why, "claims and texts that fit what is simulated; shares count out of 100");
            return Err(LessonError { line: claim.line, ..fault });
        }
    }
    Ok(())
}

fn predictions(chapter: &Chapter, values: &[Vec<Value>]) -> Result<Vec<Prediction>, LessonError> {
    let measure = chapter.question.measure;
    let all: Vec<f64> = values.iter().map(|of| of[measure].plain()).collect();
    let best = |sign: f64| {
        let most = all.iter().map(|value| sign * value).fold(f64::NEG_INFINITY, f64::max);
        if all.iter().filter(|value| sign * **value == most).count() != 1 {
            let why = format!("no single variant has it: `{}` is alike for two", chapter.measures[measure].id);
            return Err(chapter.fault(why, "variants that the simulation tells apart"));
        }
        let variant = |(variant, value): (&Variant, &f64)| Prediction {
            words: variant.name.clone(),
            right: sign * value == most,
        };
        Ok(chapter.variants.iter().zip(&all).map(variant).collect())
    };
    match &chapter.question.ask {
        Ask::Most => best(1.0),
        Ask::Least => best(-1.0),
        Ask::HowMuch { variant, edges } => {
            let value = values[*variant][measure];
            let unit = match value {
                Value::Share(_) => " of 100".to_string(),
                Value::Number(_, unit) => format!(" {unit}"),
            };
            let words = |edge: f64| number(edge, usize::from(edge.fract() != 0.0));
            let fewer = if matches!(value, Value::Share(_)) { "fewer" } else { "less" };
            let plain = value.plain();
            let place = edges.iter().filter(|edge| plain >= **edge).count();
            let one = |index: usize| Prediction {
                words: match (index.checked_sub(1).map(|at| edges[at]), edges.get(index)) {
                    (None, Some(edge)) => format!("{fewer} than {}{unit}", words(*edge)),
                    (Some(low), Some(edge)) => format!("{} to {}{unit}", words(low), words(*edge)),
                    (Some(low), None) => format!("{}{unit} or more", words(low)),
                    (None, None) => String::new(),
                },
                right: index == place,
            };
            Ok((0..=edges.len()).map(one).collect())
        }
    }
}

/// What was found, variant by variant.
fn found(chapter: &Chapter, values: &[Vec<Value>]) -> String {
    let measure = chapter.question.measure;
    let one = |index: usize| format!("{} ({})", chapter.variants[index].name, values[index][measure].in_words());
    let all: Vec<String> = (0..chapter.variants.len()).map(one).collect();
    format!("{}: {}.", chapter.measures[measure].words, all.join("; "))
}

fn filled(text: &Quoting, chapter: &Chapter, values: &[Vec<Value>]) -> String {
    text.filled(|name| match chapter.named(name) {
        Some(Operand::Of { variant, measure }) => values[variant][measure].in_words(),
        _ => grouped(u64::from(chapter.flights)),
    })
}
