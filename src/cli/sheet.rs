//! `sheet`: the card for the field bag.

use super::args::{Common, LOWEST_M, SheetArgs};
use super::out::Failure;
use super::progress::Progress;
use super::{load, out};
use crate::plan::ways::WaysHome;
use crate::report::card::{self, CardFacts};
use crate::report::json;
use crate::risk::assess::{Ask, assess, work};
use crate::risk::field_sheet as field;
use crate::risk::sweep::{heights_between, sweep};
use std::convert::Infallible;

/// Return heights compared, and flights at each: fewer than `heights` flies by default, for a card in seconds.
const HEIGHTS: u32 = 12;
const HEIGHT_FLIGHTS: u32 = 400;
/// Flights at each wind: fewer cannot show that a policy is no worse by 10 of 1,000 in grave danger to people.
const WIND_FLIGHTS: u32 = 800;
/// Flights whose fix is looked at on the ground, and crafts that hover.
const FIX_FLIGHTS: u32 = 400;
const HOVER_FLIGHTS: u32 = 200;

/// Runs it.
pub fn run(common: &Common, args: &SheetArgs) -> Result<(), Failure> {
    let mut scenario = load::changed(&args.scenario, &args.run)?;
    // The card is for the scenario as stated; what would change its answer is part of it.
    scenario.conditions.clear();
    let named = match &args.policy {
        Some(name) => Some(load::policy_named(&scenario.policies, Some(name), |_| true)?.name.clone()),
        None => None,
    };
    let folder = load::folder(args.out.as_deref(), &args.scenario, "-sheet", false)?;
    let refused = |error: &dyn std::fmt::Display| load::refused(&args.scenario, error);
    let world = load::world(&args.scenario, scenario)?;
    let flights = world.scenario.flights;
    let mut command = load::again("sheet", &args.scenario, &world.scenario);
    if let Some(name) = &named {
        command += &format!(" --policy \"{name}\"");
    }
    let ask = Ask {
        scenario_name: load::name(&args.scenario),
        command: command.clone(),
        flights: 0..flights,
        flights_rule: "fixed beforehand".into(),
        quick: false,
    };
    let few = |most: u32| most.min(flights);

    let progress = Progress::new("assessment", work(&world.scenario, &ask), common.ascii);
    let summary = assess::<Infallible>(&world, &ask, &progress.hear(), &mut |_| Ok(()))?;
    progress.finish();
    load::bearable(&summary.faults, &world.scenario.policies)?;
    let verdict = &summary.verdict;
    let chosen = named
        .and_then(|name| world.scenario.policies.iter().position(|policy| policy.name == name))
        .or(verdict.choice.left.first().copied())
        .unwrap_or(0);
    let policy = &world.scenario.policies[chosen];

    let progress = Progress::new("as delivered", u64::from(flights), common.ascii);
    let delivered_danger = match &world.scenario.delivered {
        Some(delivered) => field::danger_under(&world, delivered, flights, &progress.hear())?,
        None => None,
    };
    progress.finish();
    let progress = Progress::new("return heights", u64::from(few(HEIGHT_FLIGHTS)), common.ascii);
    let heights = if policy.returns() {
        let heights_m = heights_between(LOWEST_M, WaysHome::of(&world, policy).ceiling_m, HEIGHTS);
        let found = sweep(&world, policy, &heights_m, &[], few(HEIGHT_FLIGHTS), &progress.hear());
        Some(found.map_err(|error| refused(&error))?)
    } else {
        None
    };
    progress.finish();
    let progress = Progress::new("winds", field::wind_work(few(WIND_FLIGHTS)), common.ascii);
    let wind = field::wind_limit(&world, chosen, few(WIND_FLIGHTS), &progress.hear())?;
    progress.finish();

    let facts = CardFacts {
        scenario: &world.scenario,
        summary: &summary,
        chosen,
        delivered_danger,
        heights,
        wind,
        fades: field::fades(&world),
        underneath: field::underneath(&world),
        sky: field::sky_wait(&world, policy),
        bench: field::bench(&world.link.receiver),
        walk: field::range_walk(&world).map_err(|error| refused(&error))?,
        fix: field::fix_tests(&world, few(FIX_FLIGHTS)),
        hover: field::hover_test(&world, few(HOVER_FLIGHTS)),
        air: field::air_test(&world),
        command,
    };
    let sheet = card::card(&facts);
    let document = card::document(&sheet);
    folder.card("sheet.html", &document)?;
    folder.json("sheet.json", &json::SHEET.of(&sheet))?;
    let place = folder.finish()?;
    out::document(common, &document, "", Some(&place.join("sheet.html")))
}
