//! The picture's way down from the craft, in the mean.

use super::mean::MeanLink;
use super::pilot_end::PilotEnd;
use super::setup::{LinkSetup, VideoSetup};
use crate::geometry::Frame;
use crate::radio::antenna::Floor;
use crate::radio::body::CraftShadow;
use crate::radio::maths::{quick_db, quick_ratio};

/// Mean SNR of the picture at the pilot's receiver, and the K with which it fades.
#[derive(Debug, Clone, Copy)]
pub(crate) struct MeanPicture {
    pub(crate) snr_db: f64,
    pub(crate) k_db: f64,
}

impl LinkSetup {
    /// The picture at a place, where the uplink is as `mean` says, with a flight's antennas and body.
    #[inline(always)]
    #[allow(clippy::too_many_arguments)]
    pub(crate) fn mean_picture(
        &self,
        video: &VideoSetup,
        mean: &MeanLink,
        floor: &Floor,
        craft_shadow: &CraftShadow,
        end: &PilotEnd,
        place_m: [f64; 3],
        body: &Frame,
    ) -> MeanPicture {
        let way = &video.way;
        let joined = way.pair.coupling(floor, &mean.pilot_frame, body, mean.direction);
        let own_body_db = craft_shadow.deviation_db(body.to_body(mean.direction.map(|part| -part)));
        let direct_db = joined.turned_away_db + joined.polarisation_db + own_body_db;
        let met = self.rays(mean.direction[2]).received(
            joined.direct_share * quick_ratio(-own_body_db),
            direct_db,
            mean.blocked,
        );
        let over_db = match &self.fields_of(end).video {
            Some(field) => field.excess(place_m).total_db(),
            None => mean.budget.diffraction_db + mean.budget.vegetation_db,
        };
        let snr_db = video.power_dbm + joined.gain_db + joined.turned_away_db
            - met.loss_db
            - craft_shadow.mean_db()
            - way.one_metre_db
            - 2.0 * quick_db(mean.distance_m)
            - way.air_db_per_m * mean.distance_m
            - over_db
            - mean.budget.body_db
            - mean.budget.shadowing_db
            - way.noise_dbm;
        MeanPicture { snr_db, k_db: met.k_db }
    }

    /// Margin of the picture at a place with middle antennas and no shadowing, without interference; `None` without a picture.
    pub fn picture_margin_db(&self, place_m: [f64; 3], body: &Frame, body_loss_most_db: f64) -> Option<f64> {
        let video = self.video.as_ref()?;
        let mean = self.mean(place_m, body, body_loss_most_db, 0.0);
        let craft_shadow = CraftShadow::even(self.craft_shadow_db[0]);
        let picture = self.mean_picture(video, &mean, &self.floor, &craft_shadow, &self.end, place_m, body);
        Some(picture.snr_db - video.way.packets.needed_db)
    }

    /// Share of the uplink's packets that others on the band leave.
    pub fn kept_beside_neighbours(&self) -> f64 {
        self.kept
    }
}
