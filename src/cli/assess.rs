//! `assess`: the main job.

use super::args::{AssessArgs, Common, FlightsArgs};
use super::progress::Progress;
use super::{Failure, load, manner, print};
use crate::report::csv::FlightsCsv;
use crate::report::folder::ReportFolder;
use crate::report::{json, terminal};
use crate::risk::Tally;
use crate::risk::assess::{self, Ask, AssessError, assess, condition_worlds, danger_of};
use crate::risk::outcome::loss_words;
use crate::risk::run::fly_all;
use crate::risk::stages;
use crate::scenario::Scenario;
use crate::world::World;
use anyhow::Context;
use std::path::Path;

/// Flights of the pilot run that sets the number in two stages.
const PILOT_FLIGHTS: u32 = 1_000;

/// The scenario with what the command line changes.
pub fn scenario_of(path: &Path, run: &FlightsArgs) -> Result<Scenario, Failure> {
    let mut scenario = load::scenario(path)?;
    if let Some(flights) = run.flights {
        scenario = scenario.with_flights(flights);
    }
    if let Some(seed) = run.seed {
        scenario = scenario.with_seed(seed);
    }
    Ok(scenario)
}

/// The command that makes a report again, without what does not change it.
pub fn again(command: &str, path: &Path, scenario: &Scenario) -> String {
    format!("lostlink {command} {} --flights {} --seed {}", path.display(), scenario.flights, scenario.seed)
}

/// Runs it.
pub fn run(common: &Common, args: &AssessArgs) -> Result<(), Failure> {
    let scenario = scenario_of(&args.scenario, &args.run)?;
    if let Some(points) = args.until_half_width.filter(|&points| !(points > 0.0 && points < 50.0)) {
        return Err(Failure::Input(format!(
            "lostlink: --until-half-width {points}: accepted: a number of percentage points between 0 and 50\n"
        )));
    }
    let target = load::folder(args.out.as_deref(), &args.scenario, "");
    let folder = ReportFolder::begin(&target).map_err(anyhow::Error::from)?;
    let world = World::new(scenario).map_err(|error| load::refused(&args.scenario, &error))?;

    let (flights, flights_rule) = match args.until_half_width {
        None => (0..world.scenario.flights, "fixed beforehand".to_string()),
        Some(points) => {
            // A pilot run is not flown for a condition that would be refused after it.
            condition_worlds(&world).map_err(|error| load::condition_refused(&args.scenario, &error))?;
            two_stages(common, &world, points)?
        }
    };
    let mut command = again("assess", &args.scenario, &world.scenario);
    if let Some(points) = args.until_half_width {
        command = format!(
            "lostlink assess {} --until-half-width {points} --seed {}",
            args.scenario.display(),
            world.scenario.seed
        );
    }
    if args.quick {
        command += " --quick";
    }
    let ask = Ask { scenario_name: load::name(&args.scenario), command, flights, flights_rule, quick: args.quick };

    let progress = Progress::new("flights", assess::work(&world.scenario, &ask), common.ascii);
    let names: Vec<String> = world.scenario.policies.iter().map(|policy| policy.name.clone()).collect();
    let mut rows =
        FlightsCsv::new(folder.file("flights.csv").map_err(anyhow::Error::from)?, &names).context("flights.csv")?;
    let summary =
        assess(&world, &ask, &progress.hear(), &mut |outcome| rows.write(outcome)).map_err(|error| match error {
            AssessError::Condition(error) => load::condition_refused(&args.scenario, &error),
            error => anyhow::Error::from(error).into(),
        })?;
    rows.finish().context("flights.csv")?;
    progress.finish();
    if summary.faults.too_many() {
        return Err(Failure::Other(anyhow::Error::msg(summary.faults.refusal(&names))));
    }

    folder.summary(&summary).map_err(anyhow::Error::from)?;
    let place = folder.finish().map_err(anyhow::Error::from)?;
    if args.json {
        let mut out = Vec::new();
        json::write(&summary, &mut out)?;
        print(&out)?;
    } else {
        let text = terminal::summary(&summary, manner(common));
        print(format!("{text}\nReport: {}\n", place.join("report.html").display()).as_bytes())?;
    }
    Ok(())
}

/// A pilot run sets the number of flights; the fresh run starts after it.
fn two_stages(common: &Common, world: &World, points: f64) -> Result<(std::ops::Range<u32>, String), Failure> {
    let scenario = &world.scenario;
    let confidence = scenario.judge.confidence;
    let progress = Progress::new("pilot run", u64::from(PILOT_FLIGHTS), common.ascii);
    let how = loss_words(&scenario.loss);
    let mut tally = Tally::new(&scenario.policies, &scenario.judge, &how, scenario.craft.radius_m);
    let flown: Result<(), std::convert::Infallible> =
        fly_all(world, 0..PILOT_FLIGHTS, &progress.hear(), &mut |outcome| {
            tally.push(&outcome);
            Ok(())
        });
    let Ok(()) = flown;
    progress.finish();
    let result = tally.finish();
    let fresh = stages::fresh_flights(&danger_of(&result), &result.loss.lost, points / 100.0, confidence)
        .context("the pilot run lost no link, so no number of flights can be chosen; give --flights")?;
    let fresh = u32::try_from(fresh).ok().filter(|&n| n <= 10_000_000).context(
        "more than 10,000,000 flights would be needed for that half-width; ask for a wider one or give --flights",
    )?;
    let rule = stages::rule_words(u64::from(PILOT_FLIGHTS), u64::from(fresh), points / 100.0, confidence);
    Ok((PILOT_FLIGHTS..PILOT_FLIGHTS + fresh, rule))
}
