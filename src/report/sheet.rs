//! The card for the field bag, as data: what is printed, and nothing computed.

use crate::risk::summary::Share;
use serde::Serialize;

/// One page for the site, one for the tests.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sheet {
    /// Title.
    pub title: String,
    /// The question.
    pub about: String,
    /// Whether place and craft are invented.
    pub invented: bool,
    /// Program version.
    pub program_version: String,
    /// Seed.
    pub seed: u64,
    /// Hash of the scenario.
    pub scenario_hash: String,
    /// Command that makes this again.
    pub command: String,
    /// Headline: the failsafe to set, or how the assessment stands to this policy.
    pub opening: String,
    /// Chosen policy.
    pub policy: String,
    /// Its chain in words.
    pub policy_words: String,
    /// The verdict in a sentence.
    pub verdict: String,
    /// What would change it, most important first; may be empty.
    pub changes: Vec<String>,
    /// Danger to people under it.
    pub danger: Share,
    /// Settings beside those the craft was delivered with.
    pub settings: Vec<Setting>,
    /// Name of the policy as delivered; `None`: not stated.
    pub delivered_name: Option<String>,
    /// Recommended return heights above home.
    pub height_m: Option<[f64; 2]>,
    /// What limits them, in a sentence.
    pub height_why: String,
    /// Point of no return, in a sentence.
    pub no_return: String,
    /// The wind at which the verdict flips, in a sentence.
    pub wind: String,
    /// Fewest satellites before take-off.
    pub least_satellites: u32,
    /// Greatest HDOP before take-off.
    pub greatest_hdop: f64,
    /// Satellites and HDOP over the hour of flight.
    pub forecast: Vec<SkyMoment>,
    /// Where the link is expected to fade, a line each.
    pub fades: Vec<String>,
    /// Who and what is underneath, a line each.
    pub underneath: Vec<String>,
    /// What to say to bystanders, a line each.
    pub bystanders: Vec<String>,
    /// Cautions that stand before everything else; empty as a rule.
    pub first: Vec<String>,
    /// Further cautions.
    pub cautions: Vec<String>,
    /// Bench and field tests, in order; neighbours of one group stand under one heading.
    pub tests: Vec<FieldTest>,
}

/// One setting.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Setting {
    /// What.
    pub what: String,
    /// Value under the chosen policy, with unit.
    pub chosen: String,
    /// Value as delivered; `None`: not stated.
    pub delivered: Option<String>,
}

impl Setting {
    /// Whether it differs from what was delivered, or that is not known.
    pub fn changes(&self) -> bool {
        self.delivered.as_deref() != Some(self.chosen.as_str())
    }
}

/// The sky at one time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SkyMoment {
    /// Time, with zone.
    pub time: String,
    /// Satellites in view.
    pub satellites: u32,
    /// HDOP; NaN: no fix.
    pub hdop: f64,
}

/// One test with what is predicted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FieldTest {
    /// Heading: `On the bench`, `Range walk`, …
    pub group: String,
    /// What to do.
    pub how: String,
    /// What to look at.
    pub what: String,
    /// Predicted value with unit.
    pub predicted: String,
    /// Tolerance with unit.
    pub tolerance: String,
}
