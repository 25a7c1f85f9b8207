//! The words for what is drawn on the ground, in a scenario as on a map.

use crate::site::{ObstacleKind, Whose, ZoneKind};

pub(super) const ZONE_KINDS: [(&str, ZoneKind); 6] = [
    ("clear", ZoneKind::Clear),
    ("rough", ZoneKind::Rough),
    ("water", ZoneKind::Water),
    ("road", ZoneKind::Road),
    ("people", ZoneKind::People),
    ("property", ZoneKind::Property),
];

pub(super) const OBSTACLE_KINDS: [(&str, ObstacleKind); 3] =
    [("building", ObstacleKind::Building), ("trees", ObstacleKind::Trees), ("wire", ObstacleKind::Wire)];

pub(super) const WHOSE: [(&str, Whose); 2] = [("crew", Whose::Crew), ("others", Whose::Others)];

/// The word for something that has one.
pub(super) fn word_of<T: PartialEq>(words: &[(&'static str, T)], meant: T) -> &'static str {
    words.iter().find(|(_, one)| *one == meant).map_or("", |(word, _)| word)
}
