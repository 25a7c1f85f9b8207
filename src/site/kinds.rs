//! What lies on a site.

use serde::{Deserialize, Serialize};

/// What a piece of ground is, for the one who comes down on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ZoneKind {
    /// Open ground where a landing harms nobody.
    Clear,
    /// Trees, rocks, steep or forbidden ground: a landing there risks the craft.
    Rough,
    /// Water.
    Water,
    /// A road or railway.
    Road,
    /// A place where people are.
    People,
    /// Buildings, gardens, vehicles of others.
    Property,
}

/// A plane shape in local metres.
#[derive(Debug, Clone, PartialEq)]
pub enum Area {
    /// A simple polygon, not closed (the last point joins the first).
    Polygon(Vec<[f64; 2]>),
    /// A disc.
    Circle {
        /// Middle.
        centre_m: [f64; 2],
        /// Radius.
        radius_m: f64,
    },
    /// A line with a width: a road, a path, a hedge, a wire.
    Strip {
        /// Points of the middle line.
        line_m: Vec<[f64; 2]>,
        /// Full width.
        width_m: f64,
    },
}

/// Whose a zone is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Whose {
    /// Those who fly and help: told beforehand, and watching.
    Crew,
    /// Anybody else.
    Others,
}

/// A zone of the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// Name in tables and on the map.
    pub name: String,
    /// What it is.
    pub kind: ZoneKind,
    /// Whose people they are.
    pub whose: Whose,
    /// Where it is.
    pub area: Area,
    /// People in it, by head count over the zone, while they are there.
    pub people: f64,
    /// Share of the time that they are there, 0 to 1.
    pub present_share: f64,
    /// Hours of the day (UTC) between which alone they may be there; past midnight when the second is the lesser. `None`: at
    /// any hour.
    pub hours_utc: Option<[f64; 2]>,
    /// Distance around a people zone that counts as among people.
    pub margin_m: f64,
}

impl Zone {
    /// Head count of a zone for which none is stated: a place of people and a road have someone on them.
    pub fn people_unstated(kind: ZoneKind) -> f64 {
        if matches!(kind, ZoneKind::People | ZoneKind::Road) { 1.0 } else { 0.0 }
    }

    /// Chance that somebody is there at an hour of the day. A head count under 1 counts as that share of the time.
    pub fn presence(&self, hour_utc: f64) -> f64 {
        let open = self.hours_utc.is_none_or(|[from, to]| {
            let hour = hour_utc.rem_euclid(24.0);
            if from <= to { from <= hour && hour < to } else { hour >= from || hour < to }
        });
        if open { self.present_share * self.people.min(1.0) } else { 0.0 }
    }
}

/// What an obstacle is made of, as far as radio and satellites care.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ObstacleKind {
    /// Opaque: buildings, walls.
    Building,
    /// Lossy: trees, hedges.
    Trees,
    /// Thin: a wire or mast, struck but unseen by radio and sky.
    Wire,
}

/// Something that stands on the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Obstacle {
    /// Name in tables and on the map.
    pub name: String,
    /// What it is.
    pub kind: ObstacleKind,
    /// Its footprint.
    pub area: Area,
    /// Its top above the ground below it.
    pub height_m: f64,
    /// Its underside above the ground below it: 0 for what stands, more for a wire.
    pub base_m: f64,
}
