//! What lies on a site.

use serde::Serialize;

/// What a piece of ground is, for the one who comes down on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
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
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
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

/// A zone of the ground.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Zone {
    /// Name in tables and on the map.
    pub name: String,
    /// What it is.
    pub kind: ZoneKind,
    /// Where it is.
    pub area: Area,
    /// People in it, by head count over the zone, while they are there.
    pub people: f64,
    /// Share of the time that they are there, 0 to 1.
    pub present_share: f64,
    /// Distance around a people zone that counts as among people.
    pub margin_m: f64,
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
#[derive(Debug, Clone, PartialEq, Serialize)]
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
