//! From what happened to the one headline.

use super::{Flags, Ground, Headline, Manner, Presence};
use crate::scenario::{FORMER_AMONG_PEOPLE, Hard, Judge};
use crate::site::{SiteGrid, Whose, ZoneKind};

/// What lies at a place in one flight, and who is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Here {
    /// The ground, apart from whoever is there.
    pub ground: Ground,
    /// The zone of others who are there.
    pub others: Option<u16>,
    /// The zone of the crew that is there.
    pub crew: Option<u16>,
    /// The road in use, or the property, that the ground is.
    pub owned: Option<u16>,
}

/// What a flight came to, before it is named. From these the headline follows, and from the headline its [`Tier`](super::Tier):
///
/// | it came down | with no more energy than the line | with more |
/// |---|---|---|
/// | where others were (line: 15 J) | danger | grave |
/// | on a road in use | grave | grave |
/// | where the crew was (line: 33.9 J) | as the craft fared | danger |
/// | on property of others | trespass | trespass |
/// | anywhere, after it had left the area | trespass | trespass |
/// | in water, in trees; fell, struck, ran dry | craft lost | craft lost |
/// | hard by its speed, tipped over, on rough ground | craft at risk | craft at risk |
/// | upright on clear ground or at home | fine | fine |
///
/// The worst line that fits counts; so people who come, or stay longer, never lessen it.
///
/// - *Who is there* is drawn per flight ([`Presence`]). A zone of people with nobody in it is the ground below it; a road out of
///   use is open ground.
/// - *Between the two lines* it is hard on others and gentle on the crew. The lower line is that for people whom nobody has told
///   (NASA-STD-8719.14, 4.7, 15 J; 14 CFR 107.120, 11 ft·lbf, is about the same, from memory); the upper that for people on notice
///   in a closed site (14 CFR 107.130(a)(1), 25 ft·lbf, with 107.125, from memory). Both are those of a rigid object: rotors without guards cut at
///   walking pace, which is why a gentle landing among others is a danger. A kinetic energy stands for the energy transferred:
///   the careful side.
/// - *Gently among the crew* every flight ends that ends well: they are told, and watch it come. What counts is how the craft fared;
///   whose zone it was stays with the ending.
/// - *On a road in use* the energy does not matter: it is the driver's evasion that does harm.
/// - *A fence crossed* has no energy of its own. Where the craft comes down beyond it, it meets whoever was drawn there, with the
///   energy of that contact; nobody drawn, and it is trespass.
/// - *What strikes something above the ground* without lift falls on: its energy is that of the contact and of the whole rest of
///   the fall, without drag. What has set down on a roof or in a tree stays there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facts {
    /// How it came down.
    pub manner: Manner,
    /// What and who was there.
    pub here: Here,
    /// Energy with which it could reach whoever was there, J.
    pub energy_j: f64,
    /// What happened on the way.
    pub flags: Flags,
    /// The pilot had it in hand at the end.
    pub in_hand: bool,
}

/// The order in which headlines are tried, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Order([Headline; Headline::ALL.len()]);

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
            let meant: Vec<Headline> = if word == FORMER_AMONG_PEOPLE {
                vec![Headline::HardAmongOthers, Headline::AmongOthers, Headline::HardAmongCrew]
            } else {
                vec![Headline::ALL.into_iter().find(|headline| headline.word() == word)?]
            };
            if meant.iter().any(|headline| order.contains(headline)) {
                return None;
            }
            order.extend(meant);
        }
        let left: Vec<Headline> = Headline::ALL.into_iter().filter(|headline| !order.contains(headline)).collect();
        order.extend(left);
        order.try_into().ok().map(Order)
    }

    /// The words of this order, worst first.
    pub fn words(&self) -> impl Iterator<Item = &'static str> {
        self.0.into_iter().map(Headline::word)
    }

    /// The first headline of this order whose test the facts meet.
    pub fn headline(&self, facts: &Facts, hard: &Hard) -> Headline {
        self.0.into_iter().find(|&headline| meets(headline, facts, hard)).unwrap_or(Headline::NotSettled)
    }
}

fn meets(headline: Headline, facts: &Facts, hard: &Hard) -> bool {
    let Facts { manner, here, energy_j, flags, in_hand } = *facts;
    let down = manner != Manner::StillUp;
    let whole = manner == Manner::SetDown;
    match headline {
        Headline::HardAmongOthers => down && here.others.is_some() && energy_j > hard.others_j,
        Headline::OnRoad => down && here.ground == Ground::Road,
        Headline::AmongOthers => down && here.others.is_some(),
        Headline::HardAmongCrew => down && here.crew.is_some() && energy_j > hard.crew_j,
        Headline::LeftArea => flags.has(Flags::LEFT_AREA),
        Headline::OnProperty => down && here.ground == Ground::Property,
        Headline::Struck => manner == Manner::Strike,
        Headline::RanDry => manner == Manner::RanDry,
        Headline::InWater => down && here.ground == Ground::Water,
        Headline::InTrees => down && here.ground == Ground::Trees,
        Headline::Fell => manner == Manner::Fall,
        Headline::RoughOrHard => {
            matches!(manner, Manner::HardLanding | Manner::TippedOver) || (whole && here.ground == Ground::Rough)
        }
        Headline::PilotBack => whole && in_hand,
        Headline::ClearElsewhere => whole && !in_hand && here.ground == Ground::Clear,
        Headline::AtHome => whole && !in_hand && here.ground == Ground::Home,
        Headline::NotSettled => true,
    }
}

impl Here {
    /// The zone that a headline tells of, else that of the crew.
    pub fn zone_of(&self, headline: Headline) -> Option<u16> {
        match headline {
            Headline::HardAmongOthers | Headline::AmongOthers => self.others,
            Headline::OnRoad | Headline::OnProperty => self.owned,
            _ => self.crew,
        }
    }
}

/// What lies at a place, for one who comes down there, and who is there. People are there wherever their zone or its margin reaches,
/// whatever lies on top; of zones of one kind the topmost counts. Home is where the take-off spot is, on open and on rough ground.
pub fn here_at(grid: &SiteGrid, presence: &Presence, place_m: [f64; 2], home_m: [f64; 2], home_radius_m: f64) -> Here {
    let [x, y] = place_m;
    let mut here = Here::default();
    for at in grid.zones_at(x, y) {
        let there = presence.of(at.zone);
        let (ground, owned) = match at.kind {
            ZoneKind::People => {
                if there {
                    *(if at.whose == Whose::Crew { &mut here.crew } else { &mut here.others }) = Some(at.zone);
                }
                continue;
            }
            ZoneKind::Road if there => (Ground::Road, Some(at.zone)),
            ZoneKind::Road | ZoneKind::Clear => (Ground::Clear, None),
            ZoneKind::Property => (Ground::Property, Some(at.zone)),
            ZoneKind::Water => (Ground::Water, None),
            ZoneKind::Rough => (Ground::Rough, None),
        };
        (here.ground, here.owned) = (ground, owned);
    }
    if matches!(here.ground, Ground::Clear | Ground::Rough) {
        let (dx, dy) = (x - home_m[0], y - home_m[1]);
        if !grid.marks(x, y).inside_fence {
            here.ground = Ground::Outside;
        } else if dx * dx + dy * dy <= home_radius_m * home_radius_m {
            here.ground = Ground::Home;
        }
    }
    here
}

#[cfg(test)]
mod tests {
    use super::*;

    const HARD: Hard = Hard { others_j: 15.0, crew_j: 33.9 };

    fn facts(manner: Manner, ground: Ground, flags: Flags) -> Facts {
        Facts { manner, here: Here { ground, ..Here::default() }, energy_j: 0.3, flags, in_hand: false }
    }

    fn met(facts: Facts, others: bool, crew: bool, energy_j: f64) -> Facts {
        let there = |there: bool| there.then_some(0);
        Facts { here: Here { others: there(others), crew: there(crew), ..facts.here }, energy_j, ..facts }
    }

    #[test]
    fn the_worst_that_happened_names_the_flight() {
        let headline = |facts: Facts| Order::default().headline(&facts, &HARD);
        let (left, none) = (Flags::LEFT_AREA, Flags::default());
        let struck = facts(Manner::Strike, Ground::Clear, left);
        assert_eq!(headline(met(struck, true, false, 60.0)), Headline::HardAmongOthers);
        assert_eq!(headline(facts(Manner::SetDown, Ground::Home, left)), Headline::LeftArea);
        assert_eq!(headline(facts(Manner::RanDry, Ground::Water, none)), Headline::RanDry);
        assert_eq!(headline(facts(Manner::Fall, Ground::Home, none)), Headline::Fell);
        assert_eq!(headline(facts(Manner::Fall, Ground::Trees, none)), Headline::InTrees);
        assert_eq!(headline(facts(Manner::TippedOver, Ground::Trees, none)), Headline::InTrees);
        assert_eq!(headline(facts(Manner::SetDown, Ground::Rough, none)), Headline::RoughOrHard);
        assert_eq!(headline(facts(Manner::StillUp, Ground::Clear, none)), Headline::NotSettled);
        let back = Facts { in_hand: true, ..facts(Manner::SetDown, Ground::Home, none) };
        assert_eq!(headline(back), Headline::PilotBack);
    }

    /// The table of [`Facts`], cell by cell: below the lower line, between the two, above the upper.
    #[test]
    fn severity_is_by_energy_and_by_whom_it_meets() {
        use super::super::Tier;
        use Tier::{CraftLost, Danger, Fine, Grave, Trespass};
        let tiers = |facts: Facts, others, crew| {
            [14.9, 20.0, 40.0]
                .map(|energy_j| Order::default().headline(&met(facts, others, crew, energy_j), &HARD).tier())
        };
        let landed = |ground| facts(Manner::SetDown, ground, Flags::default());
        assert_eq!(tiers(landed(Ground::Home), true, false), [Danger, Grave, Grave]);
        assert_eq!(tiers(landed(Ground::Home), true, true), [Danger, Grave, Grave]);
        assert_eq!(tiers(landed(Ground::Home), false, true), [Fine, Fine, Danger]);
        assert_eq!(tiers(landed(Ground::Home), false, false), [Fine; 3]);
        assert_eq!(tiers(landed(Ground::Road), true, true), [Grave; 3]);
        assert_eq!(tiers(landed(Ground::Property), false, false), [Trespass; 3]);
        assert_eq!(tiers(landed(Ground::Water), false, false), [CraftLost; 3]);
        assert_eq!(
            tiers(facts(Manner::SetDown, Ground::Outside, Flags::LEFT_AREA), false, true),
            [Trespass, Trespass, Danger]
        );
    }

    /// Someone more on the ground never makes an ending less grave.
    #[test]
    fn more_people_never_lessen_it() {
        let manners =
            [Manner::SetDown, Manner::HardLanding, Manner::TippedOver, Manner::Fall, Manner::Strike, Manner::RanDry];
        for ground in Ground::ALL {
            for manner in manners {
                for energy_j in [0.3, 20.0, 200.0] {
                    for flags in [Flags::default(), Flags::LEFT_AREA] {
                        let tier = |others, crew| {
                            let facts = met(facts(manner, ground, flags), others, crew, energy_j);
                            Order::default().headline(&facts, &HARD).tier()
                        };
                        let nobody = tier(false, false);
                        assert!(tier(false, true) <= nobody && tier(true, false) <= nobody, "{ground:?} {manner:?}");
                        assert!(tier(true, true) <= tier(true, false).min(tier(false, true)), "{ground:?} {manner:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_stated_order_is_followed() {
        let order = Order::from_words(&["struck".into(), "left-area".into()]).unwrap();
        let both = met(facts(Manner::Strike, Ground::Clear, Flags::LEFT_AREA), true, false, 60.0);
        assert_eq!(order.headline(&both, &HARD), Headline::Struck);
        assert_eq!(Order::from_words(&["nonsense".into()]), None);
        assert_eq!(Order::from_words(&["fell".into(), "fell".into()]), None);
        // A word of earlier files stands for all endings among people.
        let former = Order::from_words(&["struck".into(), "among-people".into()]).unwrap();
        let words: Vec<&str> = former.words().take(4).collect();
        assert_eq!(words, ["struck", "hard-among-others", "among-others", "hard-among-crew"]);
    }
}
