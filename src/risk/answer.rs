//! From a scenario to its answer in one call, for programs: no files, no clock, nothing printed.
//!
//! The command line does the same in steps, because it shows progress and writes flights as they come. Who wants that too
//! takes [`World`], [`super::assess::assess`] and [`fly_all`].

use super::assess::{Ask, AssessError, ConditionError};
use super::faults::Faults;
use super::run::fly_all;
use super::summary::{Heights, Summary};
use super::sweep;
use crate::failsafe::Policy;
use crate::flight::{FlightOutcome, Trace, record};
use crate::scenario::{Scenario, ScenarioError};
use crate::world::{World, WorldError};
use std::convert::Infallible;
use std::ops::Range;

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// The scenario cannot be read.
    #[error(transparent)]
    Scenario(#[from] ScenarioError),
    /// It reads well, but no world can be made of it, or the models do not cover what it asks for.
    #[error(transparent)]
    World(#[from] WorldError),
    /// One of its conditions cannot be flown.
    #[error(transparent)]
    Condition(#[from] ConditionError),
    /// There is no such policy, or it has no way home.
    #[error("there is no policy \"{name}\" that {must}; accepted: {accepted}")]
    Policy {
        /// What was asked for.
        name: String,
        /// What it has to do.
        must: &'static str,
        /// Names of those that do.
        accepted: String,
    },
    /// Numbers broke down in so many flights that nothing can be read from the others.
    #[error("{0}")]
    Faults(String),
}

impl From<AssessError<Infallible>> for Error {
    fn from(error: AssessError<Infallible>) -> Error {
        match error {
            AssessError::World(error) => error.into(),
            AssessError::Condition(error) => error.into(),
            AssessError::Sink(never) => match never {},
        }
    }
}

/// How a scenario is assessed. The seed and the number of flights are the scenario's own: see [`Scenario::with_seed`] and
/// [`Scenario::with_flights`].
#[derive(Debug, Clone, PartialEq, Eq, Default)]
#[non_exhaustive]
pub struct Options {
    /// Leave out the scenario's conditions, what would change the answer, and the what-if bars. A condition costs as much as
    /// the run itself, up to 2,000 flights.
    pub quick: bool,
    /// Name of the scenario for the report; the title when `None`.
    pub name: Option<String>,
}

impl Options {
    /// The policies compared, and nothing beside.
    pub fn quick() -> Options {
        Options { quick: true, ..Options::default() }
    }
}

/// Flies a scenario under all its policies and gives the answer: shares with intervals, paired differences, a verdict.
///
/// The same scenario and seed give the same summary whatever the number of threads (rayon's).
///
/// # Errors
/// A scenario that cannot be flown, or a simulation that breaks off in more than 1 of 1,000 lost links.
///
/// ```
/// use lostlink::{Options, Scenario, assess};
///
/// let scenario = Scenario::from_file("scenarios/club-field.toml")?.with_flights(40);
/// let summary = assess(&scenario, &Options::quick())?;
/// println!("{}", summary.verdict.sentence);
/// assert_eq!(summary.policies.len(), scenario.policies.len());
/// # Ok::<(), lostlink::Error>(())
/// ```
pub fn assess(scenario: &Scenario, options: &Options) -> Result<Summary, Error> {
    let world = World::new(scenario.clone())?;
    let ask = Ask {
        scenario_name: options.name.clone().unwrap_or_else(|| scenario.title.clone()),
        command: format!("lostlink::assess with {} flights and seed {}", scenario.flights, scenario.seed),
        flights: 0..scenario.flights,
        flights_rule: "fixed beforehand".into(),
        quick: options.quick,
    };
    let summary = super::assess::assess::<Infallible>(&world, &ask, &|_: u64| {}, &mut |_| Ok(()))?;
    let names: Vec<String> = scenario.policies.iter().map(|policy| policy.name.clone()).collect();
    bearable(&summary.faults, &names)?;
    Ok(summary)
}

/// Flies the flights of these numbers and gives how each ended, in their order: one ending per policy of the scenario when
/// the link was lost.
///
/// A flight's number is all of its luck: the same number under the same seed meets the same gusts, shadows and satellites in
/// every variation of a scenario.
///
/// # Errors
/// A scenario that cannot be flown.
///
/// ```
/// let scenario = lostlink::Scenario::from_file("scenarios/club-field.toml")?;
/// let flights = lostlink::fly(&scenario, 3..5)?;
/// assert_eq!((flights[0].flight, flights[1].flight), (3, 4));
/// if let Some(loss) = flights[0].loss {
///     assert!(loss.time_s > 0.0 && flights[0].endings.len() == scenario.policies.len());
/// }
/// # Ok::<(), lostlink::Error>(())
/// ```
pub fn fly(scenario: &Scenario, flights: Range<u32>) -> Result<Vec<FlightOutcome>, Error> {
    let world = World::new(scenario.clone())?;
    let mut outcomes = Vec::with_capacity(flights.len());
    let Ok(()) = fly_all::<Infallible>(&world, flights, &|_| {}, &mut |outcome| {
        outcomes.push(outcome);
        Ok(())
    });
    Ok(outcomes)
}

/// Flies one flight under the policy of that name and tells it step by step, a row about every `every_s` seconds.
///
/// # Errors
/// A scenario that cannot be flown, or that has no such policy.
///
/// ```
/// let scenario = lostlink::Scenario::from_file("scenarios/club-field.toml")?;
/// let trace = lostlink::replay(&scenario, 3, &scenario.policies[0].name, 1.0)?;
/// println!("{} after {} s", trace.headline, trace.rows[trace.rows.len() - 1].time_s);
/// assert!(trace.rows.windows(2).all(|pair| pair[0].time_s < pair[1].time_s));
/// # Ok::<(), lostlink::Error>(())
/// ```
pub fn replay(scenario: &Scenario, flight: u32, policy: &str, every_s: f64) -> Result<Trace, Error> {
    let world = World::for_flight(scenario.clone(), flight)?;
    Ok(record(&world, flight, named(&world.scenario.policies, policy, "is flown", |_| true)?, every_s))
}

/// Flies the policy of that name home at each of these heights above the take-off spot, lowest first, on the same flights,
/// and gives a row for each with the interval that can be recommended.
///
/// # Errors
/// A scenario that cannot be flown, a policy that is not there or does not fly home, or a simulation that breaks off too often.
///
/// ```
/// let scenario = lostlink::Scenario::from_file("scenarios/club-field.toml")?.with_flights(40);
/// let policy = scenario.policies.iter().find(|policy| policy.returns()).map_or("", |policy| &policy.name);
/// let heights = lostlink::compare_heights(&scenario, policy, &[30.0, 60.0])?;
/// assert_eq!(heights.rows[0].danger.of, heights.rows[1].danger.of);
/// # Ok::<(), lostlink::Error>(())
/// ```
pub fn compare_heights(scenario: &Scenario, policy: &str, heights_m: &[f64]) -> Result<Heights, Error> {
    let policy = named(&scenario.policies, policy, "flies home", Policy::returns)?;
    let world = World::new(scenario.clone())?;
    let found = sweep::sweep(&world, policy, heights_m, &[], scenario.flights, &|_| {})?;
    bearable(&found.faults, &[])?;
    Ok(found)
}

fn bearable(faults: &Faults, names: &[String]) -> Result<(), Error> {
    if faults.too_many() { Err(Error::Faults(faults.refusal(names))) } else { Ok(()) }
}

fn named<'p>(
    policies: &'p [Policy],
    name: &str,
    must: &'static str,
    fits: impl Fn(&Policy) -> bool,
) -> Result<&'p Policy, Error> {
    policies.iter().find(|policy| policy.name == name && fits(policy)).ok_or_else(|| {
        let names: Vec<String> = policies.iter().filter(|p| fits(p)).map(|p| format!("\"{}\"", p.name)).collect();
        let accepted = if names.is_empty() { "none".into() } else { names.join(", ") };
        Error::Policy { name: name.into(), must, accepted }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::failsafe::PolicyError;
    use crate::sky::{AlmanacError, NavigationError};
    use crate::stats::StatsError;

    /// `?` into `Box<dyn Error + Send + Sync>` or an error of one's own, also across threads.
    #[test]
    fn errors_travel() {
        fn travels<E: std::error::Error + Send + Sync + 'static>() {}
        travels::<Error>();
        travels::<ScenarioError>();
        travels::<WorldError>();
        travels::<ConditionError>();
        travels::<AssessError<std::io::Error>>();
        travels::<PolicyError>();
        travels::<StatsError>();
        travels::<AlmanacError>();
        travels::<NavigationError>();
        travels::<crate::radio::OutOfRange>();
    }

    /// One call gives what the steps give.
    #[test]
    fn one_call_is_the_steps() {
        let scenario =
            Scenario::from_file(concat!(env!("LOSTLINK_ROOT"), "scenarios/club-field.toml")).unwrap().with_flights(12);
        let world = World::new(scenario.clone()).unwrap();
        let mut workshop = crate::flight::Workshop::default();
        let flown = fly(&scenario, 4..7).unwrap();
        for (flight, outcome) in (4..7).zip(&flown) {
            assert_eq!(*outcome, crate::flight::fly(&world, &mut workshop, flight));
        }
        let summary = assess(&scenario, &Options::quick()).unwrap();
        let lost = fly(&scenario, 0..12).unwrap().iter().filter(|outcome| outcome.loss.is_some()).count();
        assert_eq!((summary.flights, summary.loss.lost.events), (12, lost as u64));
        assert!(summary.conditions.is_empty() && summary.what_if.is_empty());
    }

    #[test]
    fn a_policy_that_is_not_there_is_told_with_those_that_are() {
        let scenario = Scenario::from_file(concat!(env!("LOSTLINK_ROOT"), "scenarios/club-field.toml")).unwrap();
        let error = replay(&scenario, 0, "fly to the moon", 1.0).unwrap_err().to_string();
        assert!(error.contains("\"fly to the moon\"") && error.contains(&scenario.policies[0].name), "{error}");
        let still = scenario.policies.iter().find(|policy| !policy.returns()).unwrap();
        let error = compare_heights(&scenario, &still.name, &[30.0]).unwrap_err().to_string();
        assert!(error.contains("flies home"), "{error}");
    }
}
