//! What policies are compared by, and how links are lost, in words.

use crate::flight::{Headline, Tier};
use crate::scenario::{CutAt, Loss, Matters};
use serde::{Deserialize, Serialize};

/// What is compared, in the order of concern: endings that are so or worse, so that none is gained by making a bad one worse.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Concern {
    /// Grave danger to people.
    Grave,
    /// Danger to people, grave or not.
    Danger,
    /// Trespass or worse.
    Trespass,
    /// Craft lost or worse.
    CraftLost,
    /// Craft at risk or worse.
    AtRisk,
    /// Not back at home, neither by itself nor by the pilot.
    Away,
}

impl Concern {
    /// All, in their order.
    pub const ALL: [Concern; 6] =
        [Concern::Grave, Concern::Danger, Concern::Trespass, Concern::CraftLost, Concern::AtRisk, Concern::Away];

    /// Whether an ending counts.
    pub fn counts(self, headline: Headline) -> bool {
        let worst = match self {
            Concern::Grave => Tier::Grave,
            Concern::Danger => Tier::Danger,
            Concern::Trespass => Tier::Trespass,
            Concern::CraftLost => Tier::CraftLost,
            Concern::AtRisk => Tier::CraftAtRisk,
            Concern::Away => return !is_home(headline),
        };
        headline.tier() <= worst
    }

    /// Words for sentences and tables.
    pub fn label(self) -> &'static str {
        match self {
            Concern::Grave => "grave danger to people",
            Concern::Danger => "danger to people",
            Concern::Trespass => "trespass or worse",
            Concern::CraftLost => "craft lost or worse",
            Concern::AtRisk => "craft at risk or worse",
            Concern::Away => "not back at home",
        }
    }

    /// Smallest difference that matters, as a share.
    pub fn matters(self, matters: &Matters) -> f64 {
        let points = match self {
            Concern::Grave => matters.grave_points,
            Concern::Danger => matters.danger_points,
            Concern::Trespass => matters.trespass_points,
            Concern::CraftLost => matters.craft_lost_points,
            Concern::AtRisk => matters.at_risk_points,
            Concern::Away => matters.away_points,
        };
        points / 100.0
    }

    /// Its place in [`Concern::ALL`].
    pub fn index(self) -> usize {
        self as usize
    }
}

/// Lost links of a run that are kept one by one, the first: quantiles, contours of the ends and what would change the answer follow from
/// these, counts and the choice from all. So the memory of a run does not grow with it. The interval of a 5 % quantile of so many
/// reaches from the 4.7 % to the 5.3 % quantile.
pub const LISTED: usize = 20_000;

/// Landed at home, or the pilot got it back.
pub fn is_home(headline: Headline) -> bool {
    matches!(headline, Headline::AtHome | Headline::PilotBack)
}

/// How the link is lost, in words.
pub fn loss_words(loss: &Loss) -> String {
    match loss {
        Loss::Modelled => "modelled".into(),
        Loss::Cut { at, for_s } => {
            let at = match at {
                CutAt::AnyTime => "at any moment of the path, all equally likely",
                CutAt::TimeS(_) => "at a stated time after take-off",
                CutAt::PathShare(_) => "at a stated share of the path",
                CutAt::Near { .. } => "within a stated disc",
            };
            let long = if for_s.is_some() { "for a stated time" } else { "for good" };
            format!("cut {at}, {long}")
        }
    }
}
