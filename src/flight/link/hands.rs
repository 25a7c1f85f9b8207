//! What the pilot's hands do with his end of the link once the link is gone.

use crate::world::radio::{HOVER_SCATTER_MPS, HandsSetup, PilotEnd};

/// Speed at which he walks, m/s. Common practice: an unhurried walk.
const WALK_MPS: f64 = 1.4;

/// The pilot's end of the link, and since when he has something to do about it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hands {
    pub(super) end: PilotEnd,
    /// When the link was first called lost, and telemetry first fell silent.
    lost_from_s: f64,
    deaf_from_s: f64,
}

impl Hands {
    pub(super) fn at_rest(end: PilotEnd) -> Hands {
        Hands { end, lost_from_s: f64::INFINITY, deaf_from_s: f64::INFINITY }
    }

    pub(super) fn hear_of_loss(&mut self, at_s: f64) {
        self.lost_from_s = self.lost_from_s.min(at_s);
    }

    pub(super) fn hear_nothing(&mut self, at_s: f64) {
        self.deaf_from_s = self.deaf_from_s.min(at_s);
    }

    /// Whether he has had a reason to act by a time.
    #[inline]
    pub(super) fn are_asked(&self, time_s: f64) -> bool {
        self.lost_from_s.min(self.deaf_from_s) < time_s
    }

    /// What they have done by a time: the same for every policy, by the time since the link was called lost first, or, for
    /// the turn, since telemetry fell silent before that. `after_s`: how long he takes to turn, raise, aim, walk.
    #[cold]
    pub(super) fn act(&mut self, setup: &HandsSetup, after_s: [f64; 4], time_s: f64) {
        let [turn_s, raise_s, aim_s, walk_s] = after_s;
        let since_s = time_s - self.lost_from_s;
        let end = &mut self.end;
        if time_s - self.lost_from_s.min(self.deaf_from_s) >= turn_s {
            (end.facing, end.body) = (None, false);
        }
        if let Some(raise) = &setup.raise
            && since_s >= raise_s
        {
            end.raised = true;
            end.place_m[2] = raise.z_m;
            end.body &= !raise.over_head;
        }
        end.aimed |= since_s >= aim_s;
        if let Some(walk) = &setup.walk
            && since_s >= walk_s
        {
            let now_m = (WALK_MPS * (since_s - walk_s)).min(walk.far_m);
            let walked_m = walk.direction.map(|part| part * now_m);
            for ((place_m, walked_m), before_m) in end.place_m.iter_mut().zip(walked_m).zip(end.walked_m) {
                *place_m += walked_m - before_m;
            }
            end.walked_m = walked_m;
            let walking_mps = if now_m < walk.far_m { WALK_MPS } else { 0.0 };
            end.stirring_m2ps2 = HOVER_SCATTER_MPS * HOVER_SCATTER_MPS + walking_mps * walking_mps;
        }
    }
}
