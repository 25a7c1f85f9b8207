//! Where a scenario's control link reaches.

use super::reach::{MapHeight, Reach, reach_along, reach_in_directions, reach_map, weakest};
use super::section::ray_section;
use super::stay::Others;
use crate::geometry::Frame;
use crate::radio::silence::{DeclaredLoss, StayInput};
use crate::scenario::Scenario;
use crate::site::SiteGrid;
use crate::world::FlightPath;
use crate::world::radio::{HOVER_SCATTER_MPS, LinkError, LinkSetup};

/// What is asked of [`reach_of`].
#[derive(Debug, Clone, PartialEq)]
pub struct ReachAsk {
    /// Heights to map; the first one also gives the greatest distances.
    pub heights: Vec<MapHeight>,
    /// Points of each map from west to east and from south to north.
    pub points: [usize; 2],
    /// Mean margin asked for, for the greatest distances.
    pub needed_margin_db: f64,
    /// How long the craft stays in one place, for the chance of a declared loss.
    pub stay_s: f64,
    /// Its speed meanwhile; hovering: [`HOVER_SCATTER_MPS`].
    pub speed_mps: f64,
    /// Number of places along the path at which the link is told.
    pub along_points: usize,
}

impl Default for ReachAsk {
    /// 40 m above ground, a map of 200 × 200 points, 10 dB, hovering for 10 s: our own choices.
    fn default() -> Self {
        ReachAsk {
            heights: vec![MapHeight::AboveGroundM(40.0)],
            points: [200, 200],
            needed_margin_db: 10.0,
            stay_s: 10.0,
            speed_mps: HOVER_SCATTER_MPS,
            along_points: 400,
        }
    }
}

/// Maps, greatest distances and the path's link for the uplink of a scenario, at the central values of its uncertain inputs.
///
/// The craft is level with its nose away from the pilot, who faces as the scenario says. Interferers, neighbours and
/// bursts count: the mean margin is less by the mean rise of the noise floor over the hop set and over time, as in
/// flight; the chance of a declared loss is that of fading and shadowing over what is always there, and of every other
/// source by itself on top ([`crate::radio::disturbance::SilenceRate`]).
///
/// # Errors
/// A waveform outside its range.
pub fn reach_of(
    scenario: &Scenario,
    grid: &SiteGrid,
    path: &FlightPath,
    link: &LinkSetup,
    ask: &ReachAsk,
) -> Result<Reach, LinkError> {
    let control = &scenario.radio.control;
    let curve = &link.up.packets.curve;
    let others = Others::of(scenario, link, ask.stay_s);
    // What the craft's body takes by direction stays as it is while the craft does: it counts with the shadows.
    let (ground_db, body_db) = (scenario.radio.shadow_sigma_db.central(), link.craft_shadow_db[1]);
    let sigma_db = |z_m: f64| libm::hypot(ground_db * link.shadow_share(z_m), body_db);
    let loss = DeclaredLoss::new(
        curve,
        &StayInput {
            frequency_hz: control.frequency_hz,
            packet_rate_hz: control.packet_rate_hz,
            patience_s: control.receiver.patience_s.central(),
            stay_s: ask.stay_s,
            speed_mps: ask.speed_mps,
            bands: link.bands(),
            needed_snr_db: link.up.packets.needed_db,
            shadow_sigma_db: [sigma_db(f64::INFINITY), sigma_db(f64::NEG_INFINITY)],
            other_loss: 1.0 - others.left,
        },
    );
    let antenna_m = link.end.place_m;
    let power_dbm = link.full_power_dbm(control.power_dbm.central());
    let best_db = link.margin_at_one_metre_db(power_dbm, control.noise_rise_db.central());
    let body_loss_db = control.body_loss_db.central();
    let mean = |place_m: [f64; 3]| {
        let nose_away = Frame::level([place_m[0] - antenna_m[0], place_m[1] - antenna_m[1]]);
        let mean = link.mean(place_m, &nose_away, body_loss_db, 0.0);
        others.link(&loss, place_m, &nose_away, best_db - mean.loss_db, mean.k_db, sigma_db(place_m[2]))
    };
    let place_at = |flown_m: f64| path.at_distance(flown_m).place_m;
    let frequency_hz = control.frequency_hz;
    let along = reach_along(grid, frequency_hz, antenna_m, path.length_m(), ask.along_points, &place_at, &mean);
    let maps = ask.heights.iter().map(|height| reach_map(grid, *height, ask.points, &mean)).collect();
    let pilot_m = [antenna_m[0], antenna_m[1]];
    let directions = ask.heights.first().map_or(vec![], |height| {
        reach_in_directions(grid, pilot_m, *height, ask.needed_margin_db, 5.0, &mean).to_vec()
    });
    let step_m = grid.cell_m.clamp(1.0, 10.0);
    let weakest = weakest(&along)
        .map_or(vec![], |index| ray_section(grid, frequency_hz, antenna_m, along[index].place_m, step_m));
    Ok(Reach {
        title: scenario.title.clone(),
        antenna_m,
        needed_margin_db: ask.needed_margin_db,
        stay_s: ask.stay_s,
        maps,
        directions,
        along,
        weakest,
    })
}
