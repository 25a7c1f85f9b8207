//! Where a scenario's control link reaches: joins the link in flight with the maps of [`crate::world::reach`].

use super::{Drawn, FlightDraws, LinkDraws, LinkError, LinkLuck, LinkSetup, Streams};
use crate::chance::standard_normal_quantile;
use crate::radio::disturbance::SilenceRate;
use crate::radio::modem::PacketCurve;
use crate::radio::silence::{DeclaredLoss, StayInput};
use crate::scenario::Scenario;
use crate::site::SiteGrid;
use crate::world::FlightPath;
use crate::world::reach::{
    MapHeight, PlaceLink, Reach, ray_section, reach_along, reach_in_directions, reach_map, weakest,
};

/// Speed of scatterers around a hovering craft, as the link in flight takes it (estimate).
pub const HOVER_SCATTER_MPS: f64 = 0.1;

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
    /// Places along the path.
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
/// source by itself on top ([`SilenceRate`]).
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
    let curve = PacketCurve::new(&control.waveform, control.payload_bytes)?;
    let others = Others::of(scenario, link, ask.stay_s);
    let loss = DeclaredLoss::new(
        &curve,
        &StayInput {
            frequency_hz: control.frequency_hz,
            packet_rate_hz: control.packet_rate_hz,
            patience_s: control.receiver.patience_s,
            stay_s: ask.stay_s,
            speed_mps: ask.speed_mps,
            bands: link.bands(),
            needed_snr_db: curve.snr_for_db(super::link::MARGIN_ERROR_RATE),
            shadow_sigma_db: scenario.radio.shadow_sigma_db.central(),
            other_loss: 1.0 - others.left,
        },
    );
    let antenna_m = link.pilot_m();
    let power_dbm = link.full_power_dbm(control.power_dbm.central());
    let best_db = link.margin_at_one_metre_db(power_dbm, control.noise_rise_db.central());
    let body_loss_db = control.body_loss_db.central();
    let mean = |place_m: [f64; 3]| {
        let (east, north) = (place_m[0] - antenna_m[0], place_m[1] - antenna_m[1]);
        let level = (east * east + north * north).sqrt();
        let [x, y] = if level > 1e-6 { [east / level, north / level] } else { [0.0, 1.0] };
        let nose_away = [[x, -y, 0.0], [y, x, 0.0], [0.0, 0.0, 1.0]];
        let mean = link.mean(place_m, &nose_away, body_loss_db, 0.0);
        others.link(&loss, place_m, &nose_away, best_db - mean.loss_db, mean.k_db)
    };
    let place_at = |flown_m: f64| path.at_distance(flown_m).0;
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

/// Other users of the band around a craft that stays in one place.
struct Others<'a> {
    link: &'a LinkSetup,
    luck: LinkLuck,
    /// Share of packets that neighbours and the good state of bursts leave.
    left: f64,
    /// Packets that a silence lasts.
    run: f64,
    /// Shadowing at equally likely places.
    shadows_db: [f64; 5],
    /// Time within a stay in which a silence may be declared.
    open_s: f64,
    /// Sources that are always on, on all channels: nothing but noise.
    steady: Vec<usize>,
    sources: Vec<Source>,
    /// Rate of silences by bursts, and the share of packets that a burst leaves.
    bursts: Option<(SilenceRate, f64)>,
}

/// A source that is on by turns, or on a part of the channels.
struct Source {
    index: usize,
    overlap: f64,
    silences: SilenceRate,
    /// Packets of a silence that it covers, and the share of silences.
    covered: Vec<(u32, f64)>,
}

/// An interference to noise below this ratio, 0.004 dB, is none.
const LEAST_RATIO: f64 = 1e-3;

impl<'a> Others<'a> {
    fn of(scenario: &Scenario, link: &'a LinkSetup, stay_s: f64) -> Others<'a> {
        let radio = &scenario.radio;
        let (interval_s, patience_s) = (1.0 / radio.control.packet_rate_hz, radio.control.receiver.patience_s);
        let run = (patience_s / interval_s).round().max(1.0) as u32;
        let draws = FlightDraws { streams: Streams::new(scenario.seed), flight: 0 };
        let luck = LinkLuck::new(link, draws, LinkDraws::from(&Drawn::central(scenario)));
        let met = |index: usize| link.overlap(index) > 0.0 && radio.interferers[index].duty > 0.0;
        let (steady, turns): (Vec<usize>, Vec<usize>) =
            (0..radio.interferers.len()).filter(|&index| met(index)).partition(|&index| link.is_steady(index));
        let sources = turns.into_iter().map(|index| {
            let (duty, on_s) = (radio.interferers[index].duty, radio.interferers[index].burst_s);
            let off_s = if duty >= 1.0 { 0.0 } else { on_s * (1.0 - duty) / duty };
            Source {
                index,
                overlap: link.overlap(index),
                silences: SilenceRate::new(on_s, off_s, interval_s, patience_s),
                covered: link.covered(index, run),
            }
        });
        Others {
            link,
            luck,
            run: f64::from(run),
            shadows_db: [0.1, 0.3, 0.5, 0.7, 0.9]
                .map(|share| radio.shadow_sigma_db.central() * standard_normal_quantile(share)),
            left: link.left_by_neighbours() * radio.bursts.map_or(1.0, |bursts| 1.0 - bursts.loss_good),
            open_s: (stay_s - patience_s).max(0.0),
            steady,
            sources: sources.collect(),
            bursts: radio.bursts.map(|bursts| {
                let silences = SilenceRate::new(bursts.bad_s, bursts.good_s, interval_s, patience_s);
                let left_good = 1.0 - bursts.loss_good;
                (silences, if left_good > 0.0 { (1.0 - bursts.loss_bad) / left_good } else { 0.0 })
            }),
        }
    }

    /// Margin and chance of a declared loss at a place, from the margin and K without others.
    fn link(
        &self,
        loss: &DeclaredLoss,
        place_m: [f64; 3],
        body: &[[f64; 3]; 3],
        quiet_db: f64,
        k_db: f64,
    ) -> PlaceLink {
        let ratio = |index: usize| self.link.interference_ratio(&self.luck, index, place_m, body);
        let noise = 1.0 + self.steady.iter().map(|&index| ratio(index)).sum::<f64>();
        let base_db = quiet_db - 10.0 * libm::log10(noise);
        let base_chance = loss.at(base_db, k_db);
        let mut stays = 1.0 - base_chance;
        let lost = |margin_db: f64| 1.0 - self.left * (1.0 - self.link.faded_error_rate(margin_db, k_db));
        let over_shadows = |chance: &dyn Fn(f64) -> f64| {
            self.shadows_db.iter().map(|shadow_db| chance(*shadow_db)).sum::<f64>() / self.shadows_db.len() as f64
        };
        let silenced = |per_s: f64| -libm::expm1(-per_s * self.open_s);
        for source in &self.sources {
            let ratio = ratio(source.index) / noise;
            if ratio < LEAST_RATIO {
                continue;
            }
            let rise_db = 10.0 * libm::log10(1.0 + ratio);
            stays *= 1.0
                - if source.overlap >= 1.0 {
                    // While it is on it is noise as any other: shadows and fades decide whether it silences the link.
                    let more =
                        (loss.at(base_db - rise_db, k_db) - base_chance).max(0.0) / (1.0 - base_chance).max(1e-9);
                    more * silenced(source.silences.extra_per_s(lost(base_db), 1.0))
                } else {
                    over_shadows(&|shadow_db| {
                        let free = lost(base_db + shadow_db);
                        let on = source.as_if_on_all(lost(base_db + shadow_db - rise_db), free, self.run);
                        silenced(source.silences.extra_per_s(free, on))
                    })
                };
        }
        if let Some((silences, left)) = &self.bursts {
            stays *= 1.0
                - over_shadows(&|shadow_db| {
                    let free = lost(base_db + shadow_db);
                    silenced(silences.extra_per_s(free, 1.0 - left * (1.0 - free)))
                });
        }
        let margin_db = quiet_db - self.link.mean_rise_db(&self.luck, place_m, body);
        PlaceLink { margin_db, loss_chance: (1.0 - stays).clamp(0.0, 1.0) }
    }
}

impl Source {
    /// The packet loss that, if it were the same on all channels, would silence as many runs of packets as this source
    /// does: hops take turns in and out of the channels that it covers.
    fn as_if_on_all(&self, hit: f64, free: f64, run: f64) -> f64 {
        let [hit, free] = [hit, free].map(|loss| libm::log(loss.max(1e-12)));
        let silenced = |&(covered, share): &(u32, f64)| {
            share * libm::exp(f64::from(covered) * hit + (run - f64::from(covered)) * free)
        };
        libm::pow(self.covered.iter().map(silenced).sum::<f64>(), 1.0 / run)
    }
}
