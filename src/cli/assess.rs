//! `assess`: the main job.

use super::args::{AssessArgs, Common};
use super::out::{Failure, bad};
use super::progress::Progress;
use super::timing::Timing;
use super::{load, out};
use crate::report::assess::{document, gallery, main_gallery, preliminary, side_gallery};
use crate::report::csv::{self, FlightsCsv};
use crate::report::gallery::Gallery;
use crate::risk::Tally;
use crate::risk::assess::{self, Ask, assess, condition_worlds, danger_of};
use crate::risk::follow::{Early, Follow, Stage};
use crate::risk::outcome::loss_words;
use crate::risk::run::fly_all;
use crate::risk::stages;
use crate::risk::summary::Summary;
use crate::world::World;
use anyhow::Context;
use std::sync::{Mutex, PoisonError};

/// Flights of the pilot run that sets the number in two stages.
const PILOT_FLIGHTS: u32 = 1_000;

/// Runs it.
pub fn run(common: &Common, args: &AssessArgs) -> Result<(), Failure> {
    let timing = Timing::begin("scenario");
    let scenario = load::changed(&args.scenario, &args.run)?;
    if let Some(points) = args.until_half_width.filter(|&points| !(points > 0.0 && points < 50.0)) {
        return Err(bad(&format!(
            "--until-half-width {points}: accepted: a number of percentage points between 0 and 50"
        )));
    }
    let folder = load::folder(args.out.as_deref(), &args.scenario, "", args.png)?;
    timing.stage("world");
    let world = load::world(&args.scenario, scenario)?;

    let (flights, flights_rule) = match args.until_half_width {
        None => (0..world.scenario.flights, "fixed beforehand".to_string()),
        Some(points) => {
            // A pilot run is not flown for a condition that would be refused after it.
            condition_worlds(&world).map_err(|error| load::condition_refused(&args.scenario, &error))?;
            timing.stage("pilot run");
            two_stages(common, &world, points)?
        }
    };
    let mut command = load::again("assess", &args.scenario, &world.scenario);
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
    let site = &world.scenario.site;
    let mut rows = FlightsCsv::new(folder.file("flights.csv")?, &names, &site.zone_names(), site.frame())?;
    let follower = Follower { common, timing: &timing, progress: &progress, drawn: Mutex::default() };
    let summary = assess(&world, &ask, &follower, &mut |outcome| rows.write(outcome))
        .map_err(|error| load::assess_refused(&args.scenario, error))?;
    timing.stage("flights.csv, inputs.csv");
    rows.finish()?;
    csv::inputs(&world, ask.flights.clone(), folder.file("inputs.csv")?)?;
    progress.finish();
    load::bearable(&summary.faults, &world.scenario.policies)?;

    // The answer before the last figures and the files.
    timing.stage("answer");
    let document = document(&summary);
    // Who stops listening still gets the report.
    let told = if args.json { out::json(&summary) } else { out::document(common, &document, "", None) };
    timing.stage("figures still to be drawn");
    let gallery = match follower.drawn.into_inner().unwrap_or_else(PoisonError::into_inner) {
        Some(drawn) => drawn.and(side_gallery(&summary)),
        None => gallery(&summary),
    };
    timing.stage("figures' files, page");
    folder.page("report.html", &document, &gallery)?;
    timing.stage("other files");
    folder.summary_data(&summary)?;
    let place = folder.finish()?;
    told?;
    if !args.json {
        out::page("", &place.join("report.html"))?;
    }
    if args.timing {
        timing.tell(&world, ask.flights);
    }
    Ok(())
}

/// Shows progress and, of a longer run, what the first flights say; draws the figures of the main run while side runs fly.
struct Follower<'a> {
    common: &'a Common,
    timing: &'a Timing,
    progress: &'a Progress,
    drawn: Mutex<Option<Gallery>>,
}

impl Follow for Follower<'_> {
    fn flown(&self, done: u64) {
        self.progress.show(done);
    }

    fn begins(&self, stage: Stage) {
        self.timing.assessing(stage);
    }

    fn early(&self, early: &Early) {
        self.progress.say(&out::aside(self.common, &preliminary(early)));
    }

    fn main_run(&self, summary: &Summary) {
        let drawn = self.timing.beside("figures drawn beside flying", || main_gallery(summary));
        *self.drawn.lock().unwrap_or_else(PoisonError::into_inner) = Some(drawn);
    }
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
        .context("the pilot run lost no link, so no number of flights can be chosen; give --flights")
        .map_err(Failure::Other)?;
    let most =
        "more than 10,000,000 flights would be needed for that half-width; ask for a wider one or give --flights";
    let fresh = u32::try_from(fresh).ok().filter(|&n| n <= 10_000_000).context(most).map_err(Failure::Other)?;
    let rule = stages::rule_words(u64::from(PILOT_FLIGHTS), u64::from(fresh), points / 100.0, confidence);
    Ok((PILOT_FLIGHTS..PILOT_FLIGHTS + fresh, rule))
}
