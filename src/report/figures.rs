//! Every figure that a scenario can give, by name: what it shows, what it takes to make it, how it is drawn.
//!
//! A new figure is a row of [`ALL`]: the help, the thumbnails, the list in error messages and the tests follow from it.

use super::plot::{self, Figure, Look, Planned, loss};
use crate::plan::reach::Reach;
use crate::plan::{SiteMap, SkyDay, Survey};
use crate::risk::summary::{Heights, Summary};
use crate::scenario::{Loss, Scenario};
use crate::story::Told;

/// What it takes to make a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Need {
    /// The plan, surveyed: nothing is flown.
    Plan,
    /// The radio, at a height over the whole site.
    Reach,
    /// A day of the sky.
    Sky,
    /// One flight under every policy.
    Flight,
    /// All flights.
    Flights,
    /// All flights, and more with inputs and conditions varied.
    Variations,
    /// All flights at every return height.
    Heights,
}

impl Need {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Need::Plan => "nothing is flown",
            Need::Reach => "the radio over the whole site",
            Need::Sky => "a day of the sky",
            Need::Flight => "one flight, chosen by --flight",
            Need::Flights => "flights",
            Need::Variations => "flights, more of them with inputs varied",
            Need::Heights => "flights at many return heights",
        }
    }
}

/// A plan, surveyed.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The site as drawn.
    pub map: SiteMap,
    /// What can be said before any flight.
    pub survey: Survey,
    /// Names of the policies.
    pub policies: Vec<String>,
}

/// Where the link reaches, on its site.
#[derive(Debug, Clone)]
pub struct Reached {
    /// The maps and the path.
    pub reach: Reach,
    /// The site as drawn.
    pub map: SiteMap,
}

/// A day of the sky, and the part of it in which the satellites' ways are drawn.
#[derive(Debug, Clone)]
pub struct Skied {
    /// The day.
    pub day: SkyDay,
    /// From, s of the day.
    pub from_s: f64,
    /// To, s of the day.
    pub to_s: f64,
}

/// How a figure is drawn, from what it needs. `None`: it would say nothing.
#[derive(Debug, Clone, Copy)]
enum Draw {
    Plan(fn(&Planned, Look) -> Option<Figure>),
    Reach(fn(&Reached, Look) -> Option<Figure>),
    Sky(fn(&Skied, Look) -> Option<Figure>),
    Flight(fn(&Told, Look) -> Option<Figure>),
    Flights(fn(&Summary, Look) -> Option<Figure>),
    Variations(fn(&Summary, Look) -> Option<Figure>),
    Heights(fn(&Heights, Look) -> Option<Figure>),
}

/// What figures are drawn from; what was not needed is not there.
#[derive(Debug, Default)]
pub struct Found {
    /// For figures of the plan.
    pub plan: Option<Plan>,
    /// For figures of the radio.
    pub reach: Option<Reached>,
    /// For figures of the sky.
    pub sky: Option<Skied>,
    /// For figures of one flight.
    pub told: Option<Told>,
    /// For figures of all flights.
    pub summary: Option<Summary>,
    /// For the figure of return heights.
    pub heights: Option<Heights>,
}

/// Whether a scenario can give a figure, as far as it says so itself: if not, why.
type Possible = fn(&Scenario) -> Result<(), &'static str>;

/// A figure that can be asked for.
#[derive(Debug, Clone, Copy)]
pub struct Named {
    /// What is typed.
    pub name: &'static str,
    /// What it shows.
    pub shows: &'static str,
    draw: Draw,
    possible: Possible,
    /// What is missing where it says nothing.
    nothing: &'static str,
}

const NO_LOSS: &str = "no link was lost";
const NO_FLIGHT: &str = "no such flight among those that it is picked from";

fn always(_: &Scenario) -> Result<(), &'static str> {
    Ok(())
}

fn many_policies(scenario: &Scenario) -> Result<(), &'static str> {
    if scenario.policies.len() > 1 { Ok(()) } else { Err("there is one policy, and nothing to hold it against") }
}

fn returning(scenario: &Scenario) -> Result<(), &'static str> {
    if scenario.policies.iter().any(|policy| policy.returns()) { Ok(()) } else { Err("no policy flies home") }
}

fn modelled(scenario: &Scenario) -> Result<(), &'static str> {
    if matches!(scenario.loss, Loss::Modelled) { Ok(()) } else { Err("the scenario cuts the link: no term took it") }
}

fn conditions(scenario: &Scenario) -> Result<(), &'static str> {
    if scenario.conditions.is_empty() { Err("the scenario states no conditions") } else { Ok(()) }
}

const fn row(name: &'static str, shows: &'static str, draw: Draw, possible: Possible, nothing: &'static str) -> Named {
    Named { name, shows, draw, possible, nothing }
}

/// All of them.
pub const ALL: [Named; 28] = [
    row(
        "bars",
        "outcomes of 1,000 lost links under each policy",
        Draw::Flights(|s, l| Some(plot::bars(s, l))),
        always,
        NO_LOSS,
    ),
    row("icons", "the same as squares to count", Draw::Flights(|s, l| Some(plot::icons(s, l))), always, NO_LOSS),
    row(
        "map",
        "where lost links ended under the policy that comes first",
        Draw::Flights(|s, l| Some(plot::map(s, l))),
        always,
        NO_LOSS,
    ),
    row("others", "where they ended under the other policies", Draw::Flights(plot::others), many_policies, NO_LOSS),
    row(
        "pairs",
        "danger of the other policies beside the first, with intervals",
        Draw::Flights(plot::pairs),
        many_policies,
        "every lost link went alike under all policies",
    ),
    row("energy", "energy at the ground", Draw::Flights(plot::energy), always, NO_LOSS),
    row(
        "distance-home",
        "how far from home lost links ended",
        Draw::Flights(|s, l| plot::dots(s, "distance_home_m", l)),
        always,
        NO_LOSS,
    ),
    row(
        "time-to-end",
        "how long they went on",
        Draw::Flights(|s, l| plot::dots(s, "time_to_end_s", l)),
        always,
        NO_LOSS,
    ),
    row(
        "pack-left",
        "what was left in the pack",
        Draw::Flights(|s, l| plot::dots(s, "pack_left_pct", l)),
        always,
        NO_LOSS,
    ),
    row(
        "moment",
        "where on the path a lost link is dangerous",
        Draw::Flights(plot::moment),
        always,
        "no danger to people was seen",
    ),
    row(
        "turns",
        "which policy comes first as one number changes (break-even)",
        Draw::Variations(plot::turns),
        always,
        "no number that was varied turned the choice",
    ),
    row(
        "what-if",
        "which uncertain inputs drive the danger",
        Draw::Variations(plot::what_if),
        always,
        "no input that was varied changed the danger",
    ),
    row(
        "regret",
        "danger beyond the least, condition by condition",
        Draw::Variations(plot::regret),
        conditions,
        "under every condition all policies are about as dangerous",
    ),
    row(
        "heights",
        "what the return height does to danger, losses, charge and time",
        Draw::Heights(|h, l| Some(plot::sweep(h, l))),
        returning,
        "",
    ),
    row("loss-plan", "one lost link from above", Draw::Flight(|t, l| Some(loss::plan(t, l).figure)), always, NO_FLIGHT),
    row(
        "loss-side",
        "one lost link from the side",
        Draw::Flight(|t, l| Some(loss::side(t, l).figure)),
        always,
        NO_FLIGHT,
    ),
    row(
        "loss-lines",
        "one lost link over time",
        Draw::Flight(|t, l| Some(loss::lines(t, l).figure)),
        always,
        NO_FLIGHT,
    ),
    row(
        "loss-moments",
        "its key moments as small maps",
        Draw::Flight(|t, l| Some(loss::moments(t, l))),
        always,
        NO_FLIGHT,
    ),
    row("timeline", "one flight under one policy in detail", Draw::Flight(timeline), always, NO_FLIGHT),
    row(
        "budget",
        "which term took the margin away in that flight",
        Draw::Flight(budget),
        modelled,
        "the link held in this flight",
    ),
    row("site", "the site with its zones, obstacles and path", Draw::Plan(|p, l| Some(plot::site(p, l))), always, ""),
    row(
        "along",
        "link, sky and charge expected along the path",
        Draw::Plan(plot::along),
        always,
        "the path is one place",
    ),
    row(
        "section",
        "a cut from the pilot to the weakest place of the path",
        Draw::Plan(|p, l| plot::section(0, p.sections.first()?, l)),
        always,
        "",
    ),
    row(
        "section-far",
        "a cut to its farthest place",
        Draw::Plan(|p, l| plot::section(1, p.sections.get(1)?, l)),
        always,
        "the weakest place is the farthest, or there is no path",
    ),
    row(
        "reach",
        "where the control link reaches at a height",
        Draw::Reach(|r, l| plot::reach_map(&r.reach, 0, &r.map, l)),
        always,
        "",
    ),
    row(
        "reach-path",
        "margin and chance of a declared loss along the path",
        Draw::Reach(|r, l| plot::reach_path(&r.reach, l)),
        always,
        "the path is one place",
    ),
    row("sky-day", "satellites and HDOP over the day", Draw::Sky(|s, l| Some(plot::sky_day(&s.day, l))), always, ""),
    row(
        "sky-plot",
        "where the satellites stand",
        Draw::Sky(|s, l| Some(plot::sky_plot(&s.day, s.from_s, s.to_s, l))),
        always,
        "",
    ),
];

fn timeline(told: &Told, look: Look) -> Option<Figure> {
    let trace = told.traces.first()?;
    let story = format!("Flight {} under \"{}\"", trace.flight, loss::name_of(told, 0));
    Some(plot::timeline("timeline", &story, trace, told.map.ceiling_m, look))
}

fn budget(told: &Told, look: Look) -> Option<Figure> {
    let trace = told.traces.first().filter(|trace| trace.lost_at_s.is_some())?;
    Some(plot::budget("budget", &format!("flight {}", trace.flight), trace, look))
}

impl Named {
    /// The figure of a name.
    pub fn of(name: &str) -> Option<&'static Named> {
        ALL.iter().find(|named| named.name == name)
    }

    /// What it takes.
    pub fn needs(&self) -> Need {
        match self.draw {
            Draw::Plan(_) => Need::Plan,
            Draw::Reach(_) => Need::Reach,
            Draw::Sky(_) => Need::Sky,
            Draw::Flight(_) => Need::Flight,
            Draw::Flights(_) => Need::Flights,
            Draw::Variations(_) => Need::Variations,
            Draw::Heights(_) => Need::Heights,
        }
    }

    /// Whether a scenario can give it, as far as the scenario alone tells.
    ///
    /// # Errors
    /// Why not.
    pub fn possible(&self, scenario: &Scenario) -> Result<(), &'static str> {
        (self.possible)(scenario)
    }

    /// Draws it. `None`: what it needs was not found, or it would say nothing.
    pub fn draw(&self, found: &Found, look: Look) -> Option<Figure> {
        match self.draw {
            Draw::Plan(draw) => {
                let plan = found.plan.as_ref()?;
                let policies = plan.policies.iter().map(String::as_str).collect();
                draw(&Planned::surveyed(&plan.map, &plan.survey, policies), look)
            }
            Draw::Reach(draw) => draw(found.reach.as_ref()?, look),
            Draw::Sky(draw) => draw(found.sky.as_ref()?, look),
            Draw::Flight(draw) => draw(found.told.as_ref()?, look),
            Draw::Flights(draw) => draw(found.summary.as_ref().filter(|summary| summary.loss.lost.events > 0)?, look),
            Draw::Variations(draw) => draw(found.summary.as_ref()?, look),
            Draw::Heights(draw) => draw(found.heights.as_ref()?, look),
        }
    }

    /// Why it was not drawn, where what it needs was found.
    pub fn nothing(&self) -> &'static str {
        if self.nothing.is_empty() { "there is nothing to draw" } else { self.nothing }
    }
}

/// The name that is probably meant.
pub fn nearest(name: &str) -> Option<&'static str> {
    let like = |named: &&Named| strsim::normalized_damerau_levenshtein(name, named.name);
    let likest = ALL.iter().max_by(|a, b| like(a).total_cmp(&like(b)))?;
    (like(&likest) >= 0.5).then_some(likest.name)
}

/// The list of names for the help.
pub fn list() -> String {
    let wide = ALL.iter().map(|named| named.name.len()).max().unwrap_or(0);
    ALL.iter().map(|named| format!("  {:wide$}  {}\n", named.name, named.shows)).collect()
}

/// Which figures a scenario can give, and why it cannot give the others.
pub fn list_for(scenario: &Scenario) -> String {
    let can: Vec<&str> = ALL.iter().filter(|named| named.possible(scenario).is_ok()).map(|named| named.name).collect();
    let cannot =
        ALL.iter().filter_map(|named| Some(format!("  not {}: {}\n", named.name, named.possible(scenario).err()?)));
    format!("{}\n{}", can.join(", "), cannot.collect::<String>())
}
