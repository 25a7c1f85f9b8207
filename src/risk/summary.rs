//! What the report says, as data. Everything a reader sees comes from here; `report` computes nothing new.

use super::choice::{Choice, SetAside};
use super::compare::Standing;
use super::faults::Faults;
use super::information::Information;
use super::outcome::{Concern, LISTED};
use crate::flight::{Flags, Headline, LossBudget, LossCause, Tier, Trace};
pub use crate::plan::{AlongPath, Knowledge, NoReturn, Relief, Section, SectionPoint, SiteMap, SiteOnEarth, SiteWind};
use crate::scenario::{Hard, InputRow, Matters};
use crate::site::{Whose, ZoneKind};
use crate::units::nullable;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Version of the JSON form; raised when a key changes meaning or goes.
pub const SUMMARY_VERSION: u32 = 3;

/// What a summary says it is.
pub const SUMMARY_FORMAT: &str = "lostlink-summary";

/// What a sweep of heights says it is.
pub const HEIGHTS_FORMAT: &str = "lostlink-heights";

/// A count out of a total with its Clopper–Pearson interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Share {
    /// How often it happened.
    pub events: u64,
    /// Out of so many.
    pub of: u64,
    /// Lower end of the interval, 0 to 1.
    pub low: f64,
    /// Upper end of the interval, 0 to 1.
    pub high: f64,
}

impl Share {
    /// The estimate; NaN out of none.
    pub fn estimate(&self) -> f64 {
        self.events as f64 / self.of as f64
    }
}

/// A quantile with order-statistic bounds; an end that does not exist is `None`: not bounded by this many flights.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct QuantileBand {
    /// The sample's quantile, in the measure's unit.
    #[serde(deserialize_with = "nullable")]
    pub value: f64,
    /// Lower end of its interval.
    pub low: Option<f64>,
    /// Upper end of its interval.
    pub high: Option<f64>,
}

/// A measure over the flights of one policy.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measure {
    /// Key in files, with unit suffix, e.g. `distance_home_m`.
    pub key: Cow<'static, str>,
    /// Words for tables.
    pub label: Cow<'static, str>,
    /// Unit as printed, e.g. `m`.
    pub unit: Cow<'static, str>,
    /// 5 % quantile.
    pub p05: QuantileBand,
    /// Median.
    pub p50: QuantileBand,
    /// 95 % quantile.
    pub p95: QuantileBand,
    /// 50 values at the quantiles (i − ½)/50, for a dotplot.
    #[serde(deserialize_with = "nullable")]
    pub dots: Vec<f64>,
}

/// Where one flight ended, for maps.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct EndPoint {
    /// Number of the flight, as for `lostlink replay`.
    pub flight: u32,
    /// Where it ended: x, y in local metres.
    #[serde(deserialize_with = "nullable")]
    pub place_m: [f32; 2],
    /// Headline outcome.
    pub headline: Headline,
}

/// A closed contour on the map, in local metres.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Contour {
    /// Share of the ends inside, 0.5, 0.9 or 0.99.
    pub share: f64,
    /// Closed rings.
    pub rings_m: Vec<Vec<[f64; 2]>>,
}

/// One policy.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PolicySummary {
    /// Name of the policy.
    pub name: String,
    /// The chain in words.
    pub words: String,
    /// Lost links under this policy, without those set aside for a fault.
    pub lost: u64,
    /// One per headline of [`Headline::ALL`], that order.
    pub headlines: Vec<(Headline, Share)>,
    /// One per tier of [`Tier::ALL`], that order.
    pub tiers: Vec<(Tier, Share)>,
    /// One per concern of [`Concern::ALL`], that order: so or worse.
    pub concerns: Vec<(Concern, Share)>,
    /// In which zones it met people, roads in use or property, and how hard; the zones most often met first.
    pub met: Vec<Met>,
    /// Landed at home, or the pilot got it back.
    pub home: Share,
    /// Lower and upper bound of the danger share when unsettled flights all end well, all badly;
    /// `None` when at most 1 in 1,000 is unsettled.
    pub danger_bounds: Option<(f64, f64)>,
    /// Flags that may overlap.
    pub flags: Vec<(Cow<'static, str>, Share)>,
    /// Headline by flag: rows as [`Headline::ALL`], columns as [`Flags::NAMED`].
    pub headline_by_flag: Vec<Vec<u64>>,
    /// Danger share among the flights that the pilot did not take over: how those he took over would have ended
    /// under the policy alone is not known.
    pub danger_without_pilot: Share,
    /// Distances, times, heights, charge over the lost links, the first [`LISTED`] of them.
    pub measures: Vec<Measure>,
    /// 99 % came down within this distance of home, one-sided, as sure as intervals are; `None`: not bounded by this many flights.
    pub within_99_m: Option<f64>,
    /// Circles around home that held 50, 90 and 99 % of the ends.
    #[serde(deserialize_with = "nullable")]
    pub circles_m: [f64; 3],
    /// Highest-density contours of the same ends (empty under 200).
    pub contours: Vec<Contour>,
    /// Kernel bandwidth of those contours: geometric mean of the two axes.
    #[serde(deserialize_with = "nullable")]
    pub kernel_m: f64,
    /// Ends for the map: at most [`MAP_ENDS`], the first flights.
    pub ends: Vec<EndPoint>,
    /// Tracks from loss to the end of the first few flights (at most 20), thinned; may be empty.
    #[serde(skip)]
    pub tracks_m: Vec<Vec<[f32; 2]>>,
    /// Danger against the moment of loss: (path share from, to, share).
    pub danger_by_moment: Vec<(f64, f64, Share)>,
    /// The harm annex, when asked for.
    pub harm: Option<Harm>,
}

impl PolicySummary {
    /// Lost links that its measures and contours are of, the first.
    pub fn listed(&self) -> u64 {
        self.lost.min(LISTED as u64)
    }

    /// The share that ends in this tier; of no lost link when it is not there.
    pub fn tier(&self, tier: Tier) -> Share {
        let none = Share { events: 0, of: 0, low: 0.0, high: 1.0 };
        self.tiers.iter().find(|(this, _)| *this == tier).map_or(none, |found| found.1)
    }

    /// The share that ends so or worse; of no lost link when it is not there.
    pub fn share(&self, on: Concern) -> Share {
        let none = Share { events: 0, of: 0, low: 0.0, high: 1.0 };
        self.concerns.iter().find(|(this, _)| *this == on).map_or(none, |found| found.1)
    }
}

/// Endings in one zone with people, traffic or owners there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Met {
    /// Place of the zone in [`Summary::zones`].
    pub zone: u16,
    /// Endings there that are a grave danger.
    pub grave: Share,
    /// That are a danger, grave or not.
    pub danger: Share,
    /// All of them.
    pub all: Share,
    /// Energy with which it could reach them, J: quantiles 5, 50, 95 %.
    #[serde(deserialize_with = "nullable")]
    pub energy_j: [f64; 3],
}

/// A zone of the site, as endings name it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ZoneSummary {
    /// Name.
    pub name: String,
    /// What it is.
    pub kind: ZoneKind,
    /// Whose people they are.
    pub whose: Whose,
    /// Head count while they are there.
    pub people: f64,
    /// Share of the time that they are there.
    pub present_share: f64,
    /// Hours of the day, UTC, in which there is anybody; `None`: all day.
    #[serde(default)]
    pub hours_utc: Option<[f64; 2]>,
}

/// Most ends drawn per policy.
pub const MAP_ENDS: usize = 2_000;

/// Expected harm per million lost links: a band, never a permission.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Harm {
    /// 5th percentile of the compound uncertainty.
    #[serde(deserialize_with = "nullable")]
    pub low_per_million: f64,
    /// Mean expected harm per million lost links.
    #[serde(deserialize_with = "nullable")]
    pub mean_per_million: f64,
    /// 95th percentile.
    #[serde(deserialize_with = "nullable")]
    pub high_per_million: f64,
    /// Median strike area.
    #[serde(deserialize_with = "nullable")]
    pub strike_area_m2: f64,
    /// Share of impacts above 15 J, 33.9 J and 80 J.
    #[serde(deserialize_with = "nullable")]
    pub above_lines: [f64; 3],
}

/// Two policies on the same flights.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// Index of the first policy.
    pub first: usize,
    /// Index of the second policy.
    pub second: usize,
    /// What is compared.
    pub about: Concern,
    /// Events under both, only the first, only the second, neither.
    pub table: [u64; 4],
    /// Share(first) − share(second).
    #[serde(deserialize_with = "nullable")]
    pub difference: f64,
    /// Tango interval at the Bonferroni level.
    pub low: f64,
    /// Upper end of the same interval.
    pub high: f64,
    /// Exact McNemar p, Holm-adjusted over the pairs, of danger to people; `None` in the other concerns.
    pub p_adjusted: Option<f64>,
    /// How the first stands against the second, by what matters.
    pub standing: Standing,
    /// Whether the interval excludes 0: the two differ, by however little.
    pub apart: bool,
    /// Flights that would settle it, when it cannot be told yet.
    pub flights_needed: Option<u64>,
    /// Unpaired over paired variance: how many times more flights unpaired runs would need. NaN when no flight went
    /// differently under the two, so that there is nothing to gain.
    #[serde(deserialize_with = "nullable")]
    pub pairing_gain: f64,
}

/// What a choice comes to: how the policies that are not set aside stand to each other.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Decision {
    /// No link was lost.
    NothingLost,
    /// There is no other policy.
    Lone,
    /// One is left.
    One,
    /// Several, and no difference between them matters.
    Any,
    /// Several, each better than another one.
    Circle,
    /// Several, not shown to be equal; also where a summary does not tell.
    #[default]
    Open,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// Which policies are left, and where the others were set aside.
    pub choice: Choice,
    /// What that comes to.
    #[serde(default)]
    pub decision: Decision,
    /// One sentence that answers: which policy, how sure.
    pub sentence: String,
    /// One sentence on what the others do.
    pub others: String,
    /// The concern that set a policy aside last, or that there is none so far.
    pub decided_by: String,
}

/// How often the link was lost.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LossSummary {
    /// `modelled`, or `cut` with its words.
    pub how: String,
    /// Flights in which the link was declared lost, out of all.
    pub lost: Share,
    /// Time of the loss after take-off, s: quantiles 5, 50, 95 %.
    #[serde(deserialize_with = "nullable")]
    pub time_s: [f64; 3],
    /// Distance from the pilot then, same quantiles.
    #[serde(deserialize_with = "nullable")]
    pub distance_m: [f64; 3],
    /// Main cause by share of the margin lost: (cause, flights).
    pub causes: Vec<(String, u64)>,
    /// Flights that ended before any loss: (headline word, count).
    pub without_loss: Vec<(String, u64)>,
    /// Flights in which the take-off was refused for want of a fix.
    pub not_taken_off: u64,
}

/// Results under one condition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ConditionSummary {
    /// Name of the condition; the first is the scenario as stated.
    pub name: String,
    /// Odds relative to those of the others, when given.
    pub odds: Option<f64>,
    /// Lost links; without one the condition takes no part in the choice.
    pub lost: u64,
    /// Danger to people per policy.
    pub danger: Vec<Share>,
    /// Craft lost or worse per policy.
    pub craft_lost: Vec<Share>,
    /// The choice there; `None` without a lost link.
    pub choice: Option<Choice>,
    /// Points of danger to people behind the least, per policy.
    #[serde(deserialize_with = "nullable")]
    pub behind_points: Vec<f64>,
}

/// The choice over all conditions that lost a link.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OverConditions {
    /// The rule named: `expected` when odds were given, else `each`.
    pub rule: Cow<'static, str>,
    /// Policies left: of the mean by the odds, or under each condition. May be empty: then each is set aside under some condition.
    pub left: Vec<usize>,
    /// For each policy where it was set aside first; `None`: it is left.
    pub set_aside: Vec<Option<SetAsideUnder>>,
    /// The choice over conditions in words.
    pub sentence: String,
}

/// Where a policy was set aside over conditions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetAsideUnder {
    /// Place of the condition; `None`: by the mean over all.
    pub condition: Option<usize>,
    /// By whom and why.
    pub aside: SetAside,
}

/// One bar of the what-if figure: an input at its 10 % and 90 % value on the same flights.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WhatIf {
    /// Path of the input's key in the scenario file.
    pub key: String,
    /// Its 10 % and 90 % value.
    #[serde(deserialize_with = "nullable")]
    pub values: [f64; 2],
    /// Policy (the recommended one).
    pub policy: usize,
    /// Change of the danger share against the base, in points, at either value.
    #[serde(deserialize_with = "nullable")]
    pub change_points: [f64; 2],
    /// Paired interval of each.
    #[serde(deserialize_with = "nullable")]
    pub interval_points: [[f64; 2]; 2],
}

/// The link at the moment it was declared lost, in one flight.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ToldLoss {
    /// Which flight this is, in words.
    pub what: String,
    /// Flight number.
    pub flight: u32,
    /// When, s after take-off.
    pub time_s: f64,
    /// What took most of the margin.
    pub cause: LossCause,
    /// Distance between the antennas then, m.
    #[serde(deserialize_with = "nullable")]
    pub distance_m: f64,
    /// Share of control packets received over the receiver's window, per cent.
    #[serde(deserialize_with = "nullable")]
    pub quality_pct: f64,
    /// Mean margin of the uplink then, dB.
    #[serde(deserialize_with = "nullable")]
    pub margin_db: f64,
    /// What took the margin away, each against the margin at one metre.
    pub budget: LossBudget,
}

/// The whole answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// What it is.
    pub format: String,
    /// Version of this form.
    pub version: u32,
    /// Program version.
    pub program_version: String,
    /// Title of the scenario.
    pub title: String,
    /// The question the scenario asks.
    pub about: String,
    /// Whether place and craft are invented.
    pub invented: bool,
    /// Hash of the scenario.
    pub scenario_hash: String,
    /// Scenario file name as given.
    pub scenario_name: String,
    /// Command that makes this again.
    pub command: String,
    /// Master seed.
    pub seed: u64,
    /// Flights flown, whether or not the link was lost.
    pub flights: u64,
    /// How that number came about: `fixed`, or the two stages in words.
    pub flights_rule: String,
    /// Time step, s.
    pub step_s: f64,
    /// Two-sided confidence of the intervals, e.g. 0.95; those of the pairs hold together.
    pub confidence: f64,
    /// Smallest differences that matter: value judgements.
    pub matters: Matters,
    /// Energies above which it came down hard.
    pub hard: Hard,
    /// Zones of the site, in its order.
    pub zones: Vec<ZoneSummary>,
    /// How often the link was lost.
    pub loss: LossSummary,
    /// Lost links set aside because the simulation faulted.
    pub faults: Faults,
    /// Policies, in the order listed.
    pub policies: Vec<PolicySummary>,
    /// All pairs.
    pub pairs: Vec<Pair>,
    /// The answer: the choice, and its sentences.
    pub verdict: Verdict,
    /// Conditions, the base first; empty when none are stated.
    pub conditions: Vec<ConditionSummary>,
    /// The choice over them.
    pub over_conditions: Option<OverConditions>,
    /// What drives the answer: one bar per uncertain input, widest first.
    pub what_if: Vec<WhatIf>,
    /// What would change the answer; `None` when left out.
    pub information: Option<Information>,
    /// Link, sky and energy along the planned path.
    pub along: Vec<AlongPath>,
    /// Vertical cuts of the link; may be empty.
    pub sections: Vec<Section>,
    /// Points of no return, one per policy that returns.
    pub no_return: Vec<NoReturn>,
    /// Where the margin had gone when the link was declared lost, in the flights told in full.
    pub losses: Vec<ToldLoss>,
    /// Typical and worst flight of the recommended policy, and the worst of all.
    #[serde(skip)]
    pub traces: Vec<(String, Trace)>,
    /// The site as drawn.
    #[serde(skip)]
    pub map: SiteMap,
    /// Every input as read or by default, with its line and where it comes from.
    pub inputs: Vec<InputRow>,
    /// How well each model is known, and why.
    pub knowledge: Vec<Knowledge>,
    /// What is odd about the scenario, in words.
    pub warnings: Vec<String>,
    /// Whether the order of headlines is not the default, and then which.
    pub order: Option<Vec<String>>,
}

/// One height of a return-height sweep.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeightRow {
    /// Return height above home, m.
    pub height_m: f64,
    /// Speed, when swept too.
    pub speed_mps: Option<f64>,
    /// Share of the lost links that ended as a danger to others.
    pub danger: Share,
    /// Craft lost or worse.
    pub craft_lost: Share,
    /// Landed at home.
    pub at_home: Share,
    /// Had not ended when the clock ran out.
    pub not_settled: Share,
    /// Rose above the ceiling on the way.
    pub above_ceiling: Share,
    /// Pack left at the end, per cent: 5, 50, 95 %.
    pub pack_left_pct: [f64; 3],
    /// Time from loss to the end: 5, 50, 95 %.
    pub time_s: [f64; 3],
}

/// A return-height sweep.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Heights {
    /// What it is.
    pub format: String,
    /// Version of this form.
    pub version: u32,
    /// Title of the scenario.
    pub title: String,
    /// Whether place and craft are invented.
    pub invented: bool,
    /// Program version.
    pub program_version: String,
    /// Hash of the scenario.
    pub scenario_hash: String,
    /// Policy whose return was varied.
    pub policy: String,
    /// Above what its heights are: home, where the link went, the highest point flown, the ground below.
    pub measured_from: Cow<'static, str>,
    /// Master seed.
    pub seed: u64,
    /// Flights at each height, the same ones.
    pub flights: u64,
    /// Smallest differences that matter.
    pub matters: Matters,
    /// Lost links set aside because the simulation faulted at some height.
    pub faults: Faults,
    /// Rows, lowest first.
    pub rows: Vec<HeightRow>,
    /// Tallest thing on the ways home, measured as the heights are.
    pub tallest_m: f64,
    /// Height asked above that.
    pub clearance_m: f64,
    /// Greatest permitted height on the ways home, measured as the heights are.
    pub ceiling_m: f64,
    /// Recommended interval; `None`: no height does.
    pub interval_m: Option<[f64; 2]>,
    /// What limits it below.
    pub below: String,
    /// What limits it above.
    pub above: String,
    /// What the assessment says against returning, to be told first.
    pub first: Option<String>,
    /// The answer in a sentence.
    pub sentence: String,
}

/// Names of flags in the order of [`Flags::NAMED`].
pub fn flag_labels() -> impl Iterator<Item = &'static str> {
    Flags::NAMED.iter().map(|named| named.1)
}
