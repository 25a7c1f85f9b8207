//! What a story is: data.

use crate::flight::{Headline, Tier, Trace, TraceRow};
use crate::plan::SiteMap;
use serde::Serialize;

/// What a sentence is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum About {
    /// The weather of the flight.
    Weather,
    /// Who is on the ground.
    Present,
    /// Take-off and home point.
    TakeOff,
    /// What the pilot does.
    Pilot,
    /// The link, up or silent.
    Link,
    /// The receiver calls the link lost.
    Lost,
    /// Why it went.
    Cause,
    /// What the craft believes, against what is true.
    Belief,
    /// Wind, pack and people where the link was lost.
    Around,
    /// The craft begins to do something else.
    Begins,
    /// A guard fired, or an action was impossible.
    Guard,
    /// Which guards watched, and what they met at worst.
    Guards,
    /// How closely it passed over what stands on its way.
    Clearance,
    /// Telemetry goes or comes.
    Telemetry,
    /// The wind where the way home is flown.
    Wind,
    /// The position fix goes or comes.
    Fix,
    /// The pack.
    Pack,
    /// Edge of the permitted area, and the permitted height.
    Area,
    /// People below.
    People,
    /// The touch.
    End,
    /// Who was near, and with what energy it came.
    Near,
    /// What is left after the end.
    After,
    /// Policies held against each other.
    Compared,
}

/// A sentence, or two that belong together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sentence {
    /// Its number in the story, from 1.
    pub number: usize,
    /// When it holds, s after take-off; `None`: throughout.
    pub time_s: Option<f64>,
    /// What it is about.
    pub about: About,
    /// What it says.
    pub text: String,
}

/// What one policy made of the loss.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PolicyStory {
    /// Name of the policy.
    pub name: String,
    /// The policy in words.
    pub words: String,
    /// How it ended; `None`: the simulation broke off.
    pub headline: Option<Headline>,
    /// What that means for people and craft.
    pub tier: Option<Tier>,
    /// How it ended, in words.
    pub outcome: String,
    /// When it ended, s after take-off.
    pub ended_at_s: f64,
    /// From the loss to the end.
    pub sentences: Vec<Sentence>,
}

/// One flight, told.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Story {
    /// Title of the scenario.
    pub title: String,
    /// Whether place and craft are invented.
    pub invented: bool,
    /// Hash of the scenario.
    pub scenario_hash: String,
    /// Seed.
    pub seed: u64,
    /// Flight number.
    pub flight: u32,
    /// Why this flight is told.
    pub picked: String,
    /// The story in two sentences.
    pub answer: String,
    /// When the link was called lost, s after take-off; `None`: never.
    pub lost_at_s: Option<f64>,
    /// What all policies share: until the loss, or to the end when the link was never lost.
    pub shared: Vec<Sentence>,
    /// One per policy, in their order; empty when the link was never lost.
    pub policies: Vec<PolicyStory>,
    /// The policies held against each other.
    pub compared: Vec<Sentence>,
}

impl Story {
    /// All sentences in the order of their numbers.
    pub fn sentences(&self) -> impl Iterator<Item = &Sentence> {
        self.shared.iter().chain(self.policies.iter().flat_map(|policy| &policy.sentences)).chain(&self.compared)
    }
}

/// A vertical cut through the site: from the take-off spot towards the place of the loss, and on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cut {
    /// Unit vector of its direction, east and north.
    pub direction: [f64; 2],
    /// What stands along it, in steps from one end of what is worth seeing to the other.
    pub points: Vec<CutPoint>,
}

/// A place on the cut; heights above the take-off spot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CutPoint {
    /// Distance from the take-off spot along the cut.
    pub along_m: f64,
    /// Top of what stands there: ground, trees, roofs.
    pub surface_m: f64,
}

/// A story with the traces that it tells: one per policy, or a single one when the link was never lost; and the site it plays on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    /// The sentences.
    pub story: Story,
    /// The flights.
    pub traces: Vec<Trace>,
    /// The site from the side.
    pub cut: Cut,
    /// The site from above, under the wind of this flight.
    #[serde(skip)]
    pub map: SiteMap,
}

impl Told {
    /// Distance of a place from the take-off spot along the cut.
    pub fn along_m(&self, place_m: [f64; 3]) -> f64 {
        let [east, north] = self.cut.direction;
        (place_m[0] - self.map.home_m[0]) * east + (place_m[1] - self.map.home_m[1]) * north
    }

    /// The rows of a trace in the part worth watching.
    pub fn watched<'a>(&self, trace: &'a Trace) -> &'a [TraceRow] {
        let [from_s, _] = self.window_s();
        &trace.rows[trace.rows.partition_point(|row| row.time_s < from_s).min(trace.rows.len())..]
    }

    /// The part of the flight worth watching, s after take-off: from ten seconds before the last packet to the last end.
    pub fn window_s(&self) -> [f64; 2] {
        let last = self.traces.iter().filter_map(|trace| trace.rows.last()).map(|row| row.time_s).fold(1.0, f64::max);
        let first = self.traces.first().and_then(|trace| trace.silent_from_s).map_or(0.0, |from_s| from_s - 10.0);
        [first.clamp(0.0, last - 1.0), last]
    }
}

/// A sentence that has no number yet.
pub(super) struct Draft {
    pub(super) time_s: Option<f64>,
    pub(super) about: About,
    pub(super) text: String,
}

impl Draft {
    pub(super) fn at(time_s: f64, about: About, text: impl Into<String>) -> Draft {
        Draft { time_s: Some(time_s), about, text: text.into() }
    }

    pub(super) fn throughout(about: About, text: impl Into<String>) -> Draft {
        Draft { time_s: None, about, text: text.into() }
    }
}
