//! From what happened to the one headline.

use super::{Flags, Ground, Headline, Manner};
use crate::scenario::Judge;
use crate::site::{SiteGrid, ZoneKind};

/// What a flight came to, before it is named.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facts {
    /// How it came down.
    pub manner: Manner,
    /// What it came down on.
    pub ground: Ground,
    /// What happened on the way.
    pub flags: Flags,
    /// The pilot had it in hand at the end.
    pub in_hand: bool,
}

/// The order in which headlines are tried, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Order([Headline; 13]);

impl Default for Order {
    fn default() -> Self {
        Order(Headline::ALL)
    }
}

impl Order {
    /// The order that a scenario asks for.
    pub fn of(judge: &Judge) -> Order {
        judge.order.as_deref().and_then(Order::from_words).unwrap_or_default()
    }

    /// An order from headline words; words not named keep their default order behind those named.
    /// `None` when a word is unknown or named twice.
    pub fn from_words(words: &[String]) -> Option<Order> {
        let mut order: Vec<Headline> = Vec::new();
        for word in words {
            let headline = Headline::ALL.into_iter().find(|headline| headline.word() == word)?;
            if order.contains(&headline) {
                return None;
            }
            order.push(headline);
        }
        order.extend(Headline::ALL.into_iter().filter(|headline| !words.iter().any(|word| word == headline.word())));
        order.try_into().ok().map(Order)
    }

    /// The words of this order, worst first.
    pub fn words(&self) -> impl Iterator<Item = &'static str> {
        self.0.into_iter().map(Headline::word)
    }

    /// The first headline of this order whose test the facts meet.
    pub fn headline(&self, facts: &Facts) -> Headline {
        self.0.into_iter().find(|&headline| meets(headline, facts)).unwrap_or(Headline::NotSettled)
    }
}

fn meets(headline: Headline, facts: &Facts) -> bool {
    let down = facts.manner != Manner::StillUp;
    let whole = facts.manner == Manner::SetDown;
    match headline {
        Headline::AmongPeople => down && facts.ground == Ground::People,
        Headline::OnRoad => down && facts.ground == Ground::Road,
        Headline::LeftArea => facts.flags.has(Flags::LEFT_AREA),
        Headline::OnProperty => down && facts.ground == Ground::Property,
        Headline::Struck => facts.manner == Manner::Strike,
        Headline::RanDry => facts.manner == Manner::RanDry,
        Headline::InWater => down && facts.ground == Ground::Water,
        Headline::Fell => facts.manner == Manner::Fall,
        Headline::RoughOrHard => {
            matches!(facts.manner, Manner::HardLanding | Manner::TippedOver) || (whole && facts.ground == Ground::Rough)
        }
        Headline::PilotBack => whole && facts.in_hand,
        Headline::ClearElsewhere => whole && !facts.in_hand && facts.ground == Ground::Clear,
        Headline::AtHome => whole && !facts.in_hand && facts.ground == Ground::Home,
        Headline::NotSettled => true,
    }
}

/// What lies at a place, for one who comes down there. People come first wherever they are; home is where
/// the take-off spot is, on whatever zone.
pub fn ground_at(grid: &SiteGrid, place_m: [f64; 2], home_m: [f64; 2], home_radius_m: f64) -> Ground {
    let [x, y] = place_m;
    let kind = grid.kind(x, y);
    if grid.among_people(x, y) {
        return Ground::People;
    }
    match kind {
        ZoneKind::People => return Ground::People,
        ZoneKind::Road => return Ground::Road,
        ZoneKind::Property => return Ground::Property,
        ZoneKind::Water => return Ground::Water,
        ZoneKind::Clear | ZoneKind::Rough => {}
    }
    if !grid.inside_fence(x, y) {
        return Ground::Outside;
    }
    let (dx, dy) = (x - home_m[0], y - home_m[1]);
    if dx * dx + dy * dy <= home_radius_m * home_radius_m {
        return Ground::Home;
    }
    if kind == ZoneKind::Rough { Ground::Rough } else { Ground::Clear }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn facts(manner: Manner, ground: Ground, flags: Flags) -> Facts {
        Facts { manner, ground, flags, in_hand: false }
    }

    #[test]
    fn the_worst_that_happened_names_the_flight() {
        let order = Order::default();
        let left = Flags::LEFT_AREA;
        assert_eq!(order.headline(&facts(Manner::Strike, Ground::People, left)), Headline::AmongPeople);
        assert_eq!(order.headline(&facts(Manner::SetDown, Ground::Home, left)), Headline::LeftArea);
        assert_eq!(order.headline(&facts(Manner::RanDry, Ground::Water, Flags::default())), Headline::RanDry);
        assert_eq!(order.headline(&facts(Manner::Fall, Ground::Home, Flags::default())), Headline::Fell);
        assert_eq!(order.headline(&facts(Manner::SetDown, Ground::Rough, Flags::default())), Headline::RoughOrHard);
        assert_eq!(order.headline(&facts(Manner::StillUp, Ground::Clear, Flags::default())), Headline::NotSettled);
        let back = Facts { in_hand: true, ..facts(Manner::SetDown, Ground::Home, Flags::default()) };
        assert_eq!(order.headline(&back), Headline::PilotBack);
    }

    #[test]
    fn a_stated_order_is_followed() {
        let order = Order::from_words(&["struck".into(), "left-area".into()]).unwrap();
        let both = facts(Manner::Strike, Ground::People, Flags::LEFT_AREA);
        assert_eq!(order.headline(&both), Headline::Struck);
        assert_eq!(Order::from_words(&["nonsense".into()]), None);
        assert_eq!(Order::from_words(&["fell".into(), "fell".into()]), None);
    }
}
