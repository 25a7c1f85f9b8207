//! The pilot's end of the link, and what his hands do with it once the link is gone.

use super::bounce::Bounce;
use super::luck::LinkLuck;
use super::setup::LinkSetup;
use super::state::LinkState;
use crate::scenario::Hands;
use crate::world::{Excess, LinkField};
use std::sync::Arc;

/// Speed of scatterers that keeps a hovering craft's fading moving, m/s (estimate: leaves, grass, the pilot's hand).
const SCATTER_MPS: f64 = 0.1;
/// Speed at which he walks, m/s. Common practice: an unhurried walk.
const WALK_MPS: f64 = 1.4;
/// An antenna at least so high stands above his head: his body is in nobody's way. Estimate.
const OVERHEAD_M: f64 = 2.0;

/// The pilot's end of the link as it is now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PilotEnd {
    /// The antenna.
    pub(super) place_m: [f64; 3],
    /// Fixed facing, (east, north); `None`: he follows the craft.
    pub(super) facing: Option<[f64; 2]>,
    /// The antenna is pointed at the craft by itself, up and down too.
    pub(super) aimed: bool,
    /// It is raised.
    pub(super) raised: bool,
    /// His body may stand in the way.
    pub(super) body: bool,
    /// How far he has walked, east and north.
    pub(super) walked_m: [f64; 2],
    /// What keeps a hovering craft's fading moving: the scatterers' and his own speed, squared, m²/s².
    pub(super) stirring_m2ps2: f64,
}

impl PilotEnd {
    pub(super) fn standing(place_m: [f64; 3], facing: Option<[f64; 2]>) -> PilotEnd {
        PilotEnd {
            place_m,
            facing,
            aimed: false,
            raised: false,
            body: facing.is_some(),
            walked_m: [0.0; 2],
            stirring_m2ps2: SCATTER_MPS * SCATTER_MPS,
        }
    }
}

/// What his hands may do in a world.
#[derive(Debug, Clone)]
pub(super) struct HandsSetup {
    /// The raised antenna's height above its first place, its ray off the ground, what stands in its way.
    pub(super) raise: Option<Raised>,
    /// Where he walks: direction, east and north, and how far.
    pub(super) walk: Option<([f64; 2], f64)>,
}

/// The raised antenna.
#[derive(Debug, Clone)]
pub(super) struct Raised {
    /// z of it.
    pub(super) z_m: f64,
    pub(super) over_head: bool,
    pub(super) bounce: Option<Bounce>,
    pub(super) excess: Option<Arc<LinkField>>,
    pub(super) video_excess: Option<Arc<LinkField>>,
}

impl HandsSetup {
    pub(super) fn new(
        hands: &Hands,
        ground_m: f64,
        bounce: Option<&Bounce>,
        excess: Option<Arc<LinkField>>,
        video_excess: Option<Arc<LinkField>>,
    ) -> HandsSetup {
        let raise = hands.raise.as_ref().map(|raise| Raised {
            z_m: ground_m + raise.to_m,
            over_head: raise.to_m >= OVERHEAD_M,
            bounce: bounce.cloned(),
            excess,
            video_excess,
        });
        let walk = hands.walk.as_ref().map(|walk| {
            let (east, north) = libm::sincos(walk.toward_deg.to_radians());
            ([east, north], walk.distance_m)
        });
        HandsSetup { raise, walk }
    }
}

impl LinkSetup {
    /// What stands between the pilot's end as it is and a place.
    #[inline(always)]
    pub(super) fn excess_from(&self, end: &PilotEnd, place_m: [f64; 3]) -> Excess {
        let field = match &self.hands {
            Some(HandsSetup { raise: Some(raised), .. }) if end.raised => &raised.excess,
            _ => &self.excess,
        };
        field.as_ref().map_or(Excess::default(), |field| field.excess(place_m))
    }

    /// The video link's field, when it has one of its own.
    #[inline(always)]
    pub(super) fn video_field(&self, end: &PilotEnd) -> Option<&LinkField> {
        match &self.hands {
            Some(HandsSetup { raise: Some(raised), .. }) if end.raised => raised.video_excess.as_deref(),
            _ => self.video_excess.as_deref(),
        }
    }

    /// The ray off the ground from the pilot's end as it is.
    #[inline(always)]
    pub(super) fn bounce_from(&self, end: &PilotEnd) -> Option<&Bounce> {
        match &self.hands {
            Some(HandsSetup { raise: Some(raised), .. }) if end.raised => raised.bounce.as_ref(),
            _ => self.bounce.as_ref(),
        }
    }
}

impl LinkState {
    /// What his hands have done by a time: the same for every policy, by the time since the link was called lost first, or,
    /// for the turn, since telemetry fell silent before that.
    #[cold]
    pub(super) fn use_hands(&mut self, hands: &HandsSetup, luck: &LinkLuck, time_s: f64) {
        let [turn_s, raise_s, aim_s, walk_s] = luck.values.hands_s;
        let since_s = time_s - self.lost_from_s;
        if time_s - self.lost_from_s.min(self.deaf_from_s) >= turn_s {
            (self.end.facing, self.end.body) = (None, false);
        }
        if let Some(raised) = &hands.raise
            && since_s >= raise_s
        {
            self.end.raised = true;
            self.end.place_m[2] = raised.z_m;
            self.end.body &= !raised.over_head;
        }
        self.end.aimed |= since_s >= aim_s;
        if let Some((direction, far_m)) = hands.walk
            && since_s >= walk_s
        {
            let now_m = (WALK_MPS * (since_s - walk_s)).min(far_m);
            let walked_m = direction.map(|part| part * now_m);
            for ((place_m, walked_m), before_m) in self.end.place_m.iter_mut().zip(walked_m).zip(self.end.walked_m) {
                *place_m += walked_m - before_m;
            }
            self.end.walked_m = walked_m;
            let walking_mps = if now_m < far_m { WALK_MPS } else { 0.0 };
            self.end.stirring_m2ps2 = SCATTER_MPS * SCATTER_MPS + walking_mps * walking_mps;
        }
    }
}
