//! How an ending is counted: its headline under a stated order, what counts as danger, craft lost, home.

use crate::flight::{Ending, Flags, Ground, Group, Headline, Manner};
use crate::scenario::{CutAt, Loss};

/// The headlines of an order given by words, those not named following in the default order.
/// Words that are no headline are left out; the scenario's reader has refused them.
pub fn order_of(words: &[String]) -> Vec<Headline> {
    let mut order: Vec<Headline> = Vec::with_capacity(Headline::ALL.len());
    for word in words {
        if let Some(found) = Headline::ALL.into_iter().find(|h| h.word() == word)
            && !order.contains(&found)
        {
            order.push(found);
        }
    }
    for headline in Headline::ALL {
        if !order.contains(&headline) {
            order.push(headline);
        }
    }
    order
}

/// Everything that happened to a flight and could be its headline.
pub fn candidates(ending: &Ending) -> impl Iterator<Item = Headline> {
    let came_down = ending.manner != Manner::StillUp;
    let ground = match ending.ground {
        Ground::People => Some(Headline::AmongPeople),
        Ground::Road => Some(Headline::OnRoad),
        Ground::Property => Some(Headline::OnProperty),
        Ground::Water => Some(Headline::InWater),
        Ground::Outside => Some(Headline::LeftArea),
        Ground::Rough => Some(Headline::RoughOrHard),
        Ground::Home | Ground::Clear => None,
    };
    let manner = match ending.manner {
        Manner::Strike => Some(Headline::Struck),
        Manner::RanDry => Some(Headline::RanDry),
        Manner::Fall => Some(Headline::Fell),
        Manner::HardLanding | Manner::TippedOver => Some(Headline::RoughOrHard),
        Manner::SetDown | Manner::StillUp => None,
    };
    [
        Some(ending.headline),
        ground.filter(|_| came_down),
        manner,
        ending.flags.has(Flags::LEFT_AREA).then_some(Headline::LeftArea),
    ]
    .into_iter()
    .flatten()
}

/// The headline of an ending: its own in the default order, else the first of `order` that happened.
pub fn headline_under(order: Option<&[Headline]>, ending: &Ending) -> Headline {
    let Some(order) = order else { return ending.headline };
    let rank = |h: &Headline| order.iter().position(|o| o == h).unwrap_or(order.len());
    candidates(ending).min_by_key(rank).unwrap_or(ending.headline)
}

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
