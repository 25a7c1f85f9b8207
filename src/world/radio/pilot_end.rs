//! The pilot's end of the link, and what his hands may do with it once the link is gone.

use crate::scenario::{Hands, Pilot};

/// Speed of scatterers that keeps a hovering craft's fading moving (estimate: leaves, grass, the pilot's hand).
pub const HOVER_SCATTER_MPS: f64 = 0.1;
/// An antenna at least so high stands above his head: his body is in nobody's way. Estimate.
const OVERHEAD_M: f64 = 2.0;

/// The pilot's end of the link as it is now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct PilotEnd {
    /// The antenna.
    pub(crate) place_m: [f64; 3],
    /// Fixed facing, (east, north); `None`: he follows the craft.
    pub(crate) facing: Option<[f64; 2]>,
    /// The antenna is pointed at the craft by itself, up and down too.
    pub(crate) aimed: bool,
    /// It is raised.
    pub(crate) raised: bool,
    /// His body may stand in the way.
    pub(crate) body: bool,
    /// How far he has walked, east and north.
    pub(crate) walked_m: [f64; 2],
    /// What keeps a hovering craft's fading moving: the scatterers' and his own speed, squared, m²/s².
    pub(crate) stirring_m2ps2: f64,
}

impl PilotEnd {
    /// As the flight begins, on ground at this z.
    pub(crate) fn standing(pilot: &Pilot, ground_m: f64) -> PilotEnd {
        let facing = pilot.facing_deg.map(towards);
        PilotEnd {
            place_m: [pilot.place_m[0], pilot.place_m[1], ground_m + pilot.antenna_height_m],
            facing,
            aimed: false,
            raised: false,
            body: facing.is_some(),
            walked_m: [0.0; 2],
            stirring_m2ps2: HOVER_SCATTER_MPS * HOVER_SCATTER_MPS,
        }
    }
}

/// What his hands may do in a world.
#[derive(Debug, Clone, Copy)]
pub(crate) struct HandsSetup {
    pub(crate) raise: Option<Raise>,
    pub(crate) walk: Option<Walk>,
}

/// The raised antenna.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Raise {
    /// z of it.
    pub(crate) z_m: f64,
    pub(crate) over_head: bool,
}

/// Where he walks.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Walk {
    /// East and north.
    pub(crate) direction: [f64; 2],
    pub(crate) far_m: f64,
}

impl HandsSetup {
    pub(crate) fn new(hands: &Hands, ground_m: f64) -> HandsSetup {
        let raise =
            hands.raise.as_ref().map(|raise| Raise { z_m: ground_m + raise.to_m, over_head: raise.to_m >= OVERHEAD_M });
        let walk = hands.walk.as_ref().map(|walk| Walk { direction: towards(walk.toward_deg), far_m: walk.distance_m });
        HandsSetup { raise, walk }
    }
}

/// A bearing as a direction, east and north.
fn towards(bearing_deg: f64) -> [f64; 2] {
    let (east, north) = libm::sincos(bearing_deg.to_radians());
    [east, north]
}
