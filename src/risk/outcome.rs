//! What counts as danger, craft lost, home; how links are lost, in words.

use crate::flight::{Group, Headline};
use crate::scenario::{CutAt, Loss};

/// Danger to others.
pub fn is_danger(headline: Headline) -> bool {
    headline.group() == Group::Danger
}

/// Danger to others, or the craft lost.
pub fn is_craft_lost_or_worse(headline: Headline) -> bool {
    matches!(headline.group(), Group::Danger | Group::CraftLost)
}

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
