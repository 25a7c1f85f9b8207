//! What the page is told, as JSON.

use crate::flight::{Headline, LossCause, Tier};
use crate::live::{At, Control, Live, State};
use crate::plan::site_map;
use crate::report::player::{Columns, columns};
use crate::report::plot::Look;
use crate::report::plot::canvas::{OVER, inline};
use crate::report::plot::loss::{Scale, name_of, stroke_of};
use crate::report::plot::plan::plan;
use crate::report::plot::theme::Theme;
use crate::risk::cautions;
use crate::story::{Sentence, Told};
use serde::Serialize;

/// Distance between the points of the path that the page is given, m.
const PATH_STEP_M: f64 = 5.0;
/// Most of them.
const PATH_POINTS: f64 = 1_000.0;

#[derive(Serialize)]
pub(super) struct Start {
    title: String,
    invented: bool,
    about: String,
    cautions: Vec<String>,
    seed: u64,
    flights: u32,
    version: &'static str,
    confidence: f64,
    controls: Vec<Control>,
    policies: Vec<PolicyLook>,
    path: Path,
    plan: Plan,
    tiers: Vec<TierName>,
    headline: String,
}

#[derive(Serialize)]
struct PolicyLook {
    name: String,
    words: String,
    ink: &'static str,
    dash_px: [f64; 2],
    shape: String,
}

#[derive(Serialize)]
struct Path {
    length_m: f64,
    points: Vec<PathPoint>,
    home_m: [f64; 2],
}

#[derive(Serialize)]
struct PathPoint {
    along_m: f64,
    x_m: f64,
    y_m: f64,
    height_m: f64,
}

#[derive(Serialize)]
struct Plan {
    svg: String,
    scale: Option<Scale>,
    over: f64,
}

#[derive(Serialize)]
struct TierName {
    key: Tier,
    label: &'static str,
}

fn hundredths(value: f64) -> f64 {
    // No minus before nothing.
    (100.0 * value).round() / 100.0 + 0.0
}

/// What stands before anything is flown.
pub(super) fn start(live: &Live, at: &At) -> Start {
    let (world, scenario) = (&at.world, &at.world.scenario);
    let policies: Vec<PolicyLook> = scenario
        .policies
        .iter()
        .enumerate()
        .map(|(index, policy)| {
            let stroke = stroke_of(index);
            PolicyLook {
                name: policy.name.clone(),
                words: policy.in_words(),
                ink: stroke.ink.variable(),
                dash_px: stroke.dash_px,
                shape: stroke.shape.word(),
            }
        })
        .collect();
    let length_m = world.path.length_m();
    let points = world.path.every(PATH_STEP_M.max(length_m / PATH_POINTS)).map(|place| PathPoint {
        along_m: hundredths(place.flown_m),
        x_m: hundredths(place.place_m[0]),
        y_m: hundredths(place.place_m[1]),
        height_m: hundredths(place.place_m[2] - world.home_m[2]),
    });
    let drawn = plan(&site_map(world), Look::NARROW);
    let mut cautions = scenario.warnings.clone();
    cautions.extend(cautions::of_live());
    Start {
        title: scenario.title.clone(),
        invented: scenario.invented,
        about: scenario.about.clone(),
        cautions,
        seed: scenario.seed,
        flights: scenario.flights,
        version: env!("CARGO_PKG_VERSION"),
        confidence: scenario.judge.confidence,
        controls: live.controls(&at.state),
        path: Path { length_m: hundredths(length_m), points: points.collect(), home_m: scenario.site.home_m },
        plan: Plan { svg: inline(&drawn.figure.svg, Theme::Light), scale: drawn.scales.into_iter().next(), over: OVER },
        tiers: Tier::ALL.map(|key| TierName { key, label: key.label() }).into(),
        headline: headline(policies.len()),
        policies,
    }
}

fn headline(policies: usize) -> String {
    const WORDS: [&str; 10] = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"];
    let many = WORDS.get(policies).map_or_else(|| policies.to_string(), |word| (*word).to_string());
    let noun = if policies == 1 { "policy" } else { "policies with the same luck" };
    format!("What becomes of a lost link: {many} {noun}")
}

#[derive(Serialize)]
pub(super) struct Flight {
    flight: u32,
    picked: String,
    lost_at_s: Option<f64>,
    cause: Option<&'static str>,
    lost_m: Option<[f64; 3]>,
    policies: Vec<PolicyFlight>,
    cut: Cut,
    answer: String,
    sentences: Vec<Said>,
}

#[derive(Serialize)]
struct PolicyFlight {
    name: String,
    headline: Option<Headline>,
    tier: Option<Tier>,
    outcome: String,
    rows: Rows,
}

#[derive(Serialize)]
struct Rows {
    time_s: Vec<f64>,
    x_m: Vec<f64>,
    y_m: Vec<f64>,
    along_m: Vec<f64>,
    height_m: Vec<f64>,
    doing: Vec<&'static str>,
}

#[derive(Serialize)]
struct Cut {
    direction: [f64; 2],
    points: Vec<[f64; 2]>,
}

#[derive(Serialize)]
struct Said {
    number: usize,
    time_s: Option<f64>,
    policy: Option<usize>,
    text: String,
}

/// One flight under all policies.
pub(super) fn flight(told: &Told) -> Flight {
    let story = &told.story;
    let shared = told.traces.first();
    let lost = story.lost_at_s.and_then(|time_s| shared?.at(time_s));
    let policies = told.traces.iter().enumerate().map(|(index, trace)| {
        let policy = story.policies.get(index);
        let Columns { time_s, x_m, y_m, along_m, height_m, .. } = columns(told, trace);
        let doing = told.watched(trace).iter().map(|row| row.doing.label()).collect();
        PolicyFlight {
            name: name_of(told, index).into(),
            headline: policy.and_then(|policy| policy.headline),
            tier: policy.and_then(|policy| policy.tier),
            outcome: trace.headline.clone(),
            rows: Rows { time_s, x_m, y_m, along_m, height_m, doing },
        }
    });
    let said = |policy: Option<usize>| {
        move |sentence: &Sentence| Said {
            number: sentence.number,
            time_s: sentence.time_s.map(hundredths),
            policy,
            text: sentence.text.clone(),
        }
    };
    let mut sentences: Vec<Said> = story.shared.iter().map(said(None)).collect();
    for (index, policy) in story.policies.iter().enumerate() {
        sentences.extend(policy.sentences.iter().map(said(Some(index))));
    }
    sentences.extend(story.compared.iter().map(said(None)));
    Flight {
        flight: story.flight,
        picked: story.picked.clone(),
        lost_at_s: story.lost_at_s.map(hundredths),
        cause: shared.and_then(|trace| trace.cause).map(LossCause::label),
        lost_m: lost.map(|row| [row.place_m[0], row.place_m[1], row.height_m].map(hundredths)),
        policies: policies.collect(),
        cut: Cut {
            direction: told.cut.direction,
            points: told.cut.points.iter().map(|point| [point.along_m, point.surface_m].map(hundredths)).collect(),
        },
        answer: story.answer.clone(),
        sentences,
    }
}

/// Name of the file in which a state is saved.
pub(super) fn file_name(title: &str, state: &State) -> String {
    let letters: String =
        title.to_lowercase().chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    let words: Vec<&str> = letters.split('-').filter(|word| !word.is_empty()).take(6).collect();
    let stem = if words.is_empty() { "scenario".to_string() } else { words.join("-") };
    let moved = if state.settings().next().is_some() { "-changed" } else { "" };
    format!("{stem}{moved}.toml")
}
