//! Who is on the ground in one flight.

use crate::chance::Source;
use crate::site::{Zone, ZoneAt, ZoneKind};

/// The zones that have people in them, or traffic on them, in one flight: the same for every policy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Presence(Vec<bool>);

impl Presence {
    /// Draws it. The draw is keyed by the flight and the zone's name (by its place in the list when it has none): neither other
    /// zones nor their order change it, zones of one name have their people together, and a greater chance never takes away
    /// whom a lesser one had there.
    pub fn draw(zones: &[Zone], stream: &Source, flight: u32, hour_utc: f64) -> Presence {
        let there = zones.iter().enumerate().map(|(number, zone)| {
            let (count, block) = if zone.name.is_empty() { (number as u32, 1) } else { (hashed(&zone.name), 0) };
            stream.units(flight, count, block)[0] < zone.presence(hour_utc)
        });
        Presence(there.collect())
    }

    /// Whether somebody is in the zone of this place in the list.
    #[inline]
    pub fn of(&self, zone: u16) -> bool {
        self.0.get(usize::from(zone)).copied().unwrap_or(false)
    }

    /// Whether somebody is in one of these zones of people.
    #[inline]
    pub fn anybody(&self, zones: &[ZoneAt]) -> bool {
        zones.iter().any(|at| at.kind == ZoneKind::People && self.of(at.zone))
    }
}

/// FNV-1a over the bytes of a name.
fn hashed(name: &str) -> u32 {
    name.bytes().fold(0x811C_9DC5, |hash, byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Purpose;
    use crate::site::{Area, Whose};

    fn zone(name: &str, people: f64, present_share: f64, hours_utc: Option<[f64; 2]>) -> Zone {
        let area = Area::Circle { centre_m: [0.0, 0.0], radius_m: 1.0 };
        let (kind, whose) = (ZoneKind::People, Whose::Others);
        Zone { name: name.into(), kind, whose, area, people, present_share, hours_utc, margin_m: 0.0 }
    }

    #[test]
    fn presence_is_drawn_as_often_as_stated_and_grows_with_it() {
        let stream = Source::new(5, Purpose::Presence);
        let often = |zone: &Zone, hour| {
            (0..4_000)
                .map(|flight| Presence::draw(std::slice::from_ref(zone), &stream, flight, hour).of(0))
                .collect::<Vec<_>>()
        };
        let count = |there: &[bool]| there.iter().filter(|&&there| there).count() as f64 / 4_000.0;
        let mut last = vec![false; 4_000];
        for share in [0.0, 0.1, 0.3, 0.7, 1.0] {
            let there = often(&zone("path", 3.0, share, None), 12.0);
            assert!((count(&there) - share).abs() < 3.5 * (share * (1.0 - share) / 4_000.0).sqrt() + 1e-9, "{share}");
            assert!(last.iter().zip(&there).all(|(before, now)| !before || *now), "{share}");
            last = there;
        }
        // Nobody, half a person, and hours of the day, past midnight too.
        assert_eq!(count(&often(&zone("path", 0.0, 1.0, None), 12.0)), 0.0);
        assert!((count(&often(&zone("path", 0.5, 1.0, None), 12.0)) - 0.5).abs() < 0.03);
        let shift = |hour| count(&often(&zone("path", 1.0, 1.0, Some([7.0, 17.0])), hour));
        assert_eq!([6.9, 7.0, 16.9, 17.0, 31.5].map(shift), [0.0, 1.0, 1.0, 0.0, 1.0]);
        let night = |hour| count(&often(&zone("path", 1.0, 1.0, Some([22.0, 2.0])), hour));
        assert_eq!([21.0, 23.0, 1.0, 3.0].map(night), [0.0, 1.0, 1.0, 0.0]);
    }

    #[test]
    fn other_zones_and_their_order_change_nothing() {
        let stream = Source::new(6, Purpose::Presence);
        let (a, b) = (zone("a", 1.0, 0.5, None), zone("b", 1.0, 0.5, None));
        let mut apart = 0;
        for flight in 0..200 {
            let [two, turned] = [[a.clone(), b.clone()], [b.clone(), a.clone()]]
                .map(|zones| Presence::draw(&zones, &stream, flight, 12.0));
            assert_eq!((two.of(0), two.of(1)), (turned.of(1), turned.of(0)));
            assert_eq!(Presence::draw(std::slice::from_ref(&b), &stream, flight, 12.0).of(0), two.of(1));
            apart += usize::from(two.of(0) != two.of(1));
        }
        assert!((60..140).contains(&apart), "{apart} of 200: names share their luck");
    }
}
