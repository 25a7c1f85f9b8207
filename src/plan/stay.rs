//! The chance that other users of the band add to that of a declared loss while a craft stays in one place.

use super::reach::PlaceLink;
use crate::flight::Drawn;
use crate::geometry::Frame;
use crate::radio::disturbance::SilenceRate;
use crate::radio::interference::Spells;
use crate::radio::silence::{DeclaredLoss, shadow_nodes};
use crate::scenario::Scenario;
use crate::world::radio::{Covered, LinkDraws, LinkSetup, Strength};

/// Other users of the band around a craft that stays in one place.
///
/// Each part-time source is taken as if it acted by itself, on top of what is always there. The combination is our own
/// approximation; a test holds it against hovering flights.
pub(super) struct Others<'a> {
    link: &'a LinkSetup,
    strengths: Vec<Strength>,
    /// Share of packets that neighbours and the good state of bursts leave.
    pub(super) left: f64,
    /// Packets that a silence lasts.
    run: f64,
    /// Shadows in standard deviations, with their weights.
    shadows: Vec<(f64, f64)>,
    /// Time within a stay in which a silence may be declared.
    open_s: f64,
    /// Sources that are always on, on all channels: nothing but noise.
    steady: Vec<usize>,
    sources: Vec<Source>,
    bursts: Option<Bursts>,
}

/// Bursts of loss.
struct Bursts {
    /// Rate of silences by them.
    silences: SilenceRate,
    /// Share of packets that one leaves.
    left: f64,
}

/// A source that is on by turns, or on a part of the channels.
struct Source {
    index: usize,
    even: bool,
    silences: SilenceRate,
    /// Packets of a silence that it covers.
    covered: Vec<Covered>,
}

/// An interference to noise below this ratio, 0.004 dB, is none (estimate).
const LEAST_RATIO: f64 = 1e-3;

impl<'a> Others<'a> {
    pub(super) fn of(scenario: &Scenario, link: &'a LinkSetup, stay_s: f64) -> Others<'a> {
        let radio = &scenario.radio;
        let (interval_s, patience_s) =
            (1.0 / radio.control.packet_rate_hz, radio.control.receiver.patience_s.central());
        let run = (patience_s / interval_s).round().max(1.0) as u32;
        let mut strengths = Vec::new();
        link.strengths(&LinkDraws::from(&Drawn::central(scenario)), &mut strengths);
        let met = |index: usize| link.sources[index].hits_control() && link.sources[index].spells.share() > 0.0;
        let (steady, turns): (Vec<usize>, Vec<usize>) = (0..radio.interferers.len())
            .filter(|&index| met(index))
            .partition(|&index| link.sources[index].is_steady());
        let sources = turns.into_iter().map(|index| Source {
            index,
            even: link.sources[index].even,
            silences: SilenceRate::new(&link.sources[index].spells, interval_s, patience_s),
            covered: link.covered(index, run),
        });
        Others {
            link,
            strengths,
            run: f64::from(run),
            shadows: shadow_nodes(7, 4.5),
            left: link.kept * radio.bursts.map_or(1.0, |bursts| 1.0 - bursts.loss_good),
            open_s: (stay_s - patience_s).max(0.0),
            steady,
            sources: sources.collect(),
            bursts: radio.bursts.map(|bursts| {
                let silences = SilenceRate::new(&Spells::new(bursts.bad_s, bursts.good_s), interval_s, patience_s);
                let left_good = 1.0 - bursts.loss_good;
                let left = if left_good > 0.0 { (1.0 - bursts.loss_bad) / left_good } else { 0.0 };
                Bursts { silences, left }
            }),
        }
    }

    /// Margin and chance of a declared loss at a place, from the margin and K without others and the standard deviation of
    /// shadowing there.
    #[allow(clippy::too_many_arguments)]
    pub(super) fn link(
        &self,
        loss: &DeclaredLoss,
        place_m: [f64; 3],
        body: &Frame,
        quiet_db: f64,
        k_db: f64,
        sigma_db: f64,
    ) -> PlaceLink {
        let ratios = self.link.at_craft(&self.strengths, place_m, body);
        let noise = 1.0 + self.steady.iter().map(|&index| ratios[index]).sum::<f64>();
        let base_db = quiet_db - 10.0 * libm::log10(noise);
        let base_chance = loss.at_shadowing(base_db, k_db, sigma_db);
        let mut stays = 1.0 - base_chance;
        let lost = |margin_db: f64| 1.0 - self.left * (1.0 - self.link.faded_error_rate(margin_db, k_db));
        let over_shadows = |chance: &dyn Fn(f64) -> f64| {
            self.shadows.iter().map(|(z, weight)| weight * chance(z * sigma_db)).sum::<f64>()
        };
        let silenced = |per_s: f64| -libm::expm1(-per_s * self.open_s);
        for source in &self.sources {
            let ratio = ratios[source.index] / noise;
            if ratio < LEAST_RATIO {
                continue;
            }
            let rise_db = 10.0 * libm::log10(1.0 + ratio);
            stays *= 1.0
                - if source.even {
                    // While it is on it is noise as any other: shadows and fades decide whether it silences the link.
                    let more = (loss.at_shadowing(base_db - rise_db, k_db, sigma_db) - base_chance).max(0.0)
                        / (1.0 - base_chance).max(1e-9);
                    more * silenced(source.silences.extra_per_s(lost(base_db), 1.0))
                } else {
                    over_shadows(&|shadow_db| {
                        let free = lost(base_db + shadow_db);
                        let on = source.as_if_on_all(lost(base_db + shadow_db - rise_db), free, self.run);
                        silenced(source.silences.extra_per_s(free, on))
                    })
                };
        }
        if let Some(Bursts { silences, left }) = &self.bursts {
            stays *= 1.0
                - over_shadows(&|shadow_db| {
                    let free = lost(base_db + shadow_db);
                    silenced(silences.extra_per_s(free, 1.0 - left * (1.0 - free)))
                });
        }
        let margin_db = quiet_db - self.link.mean_rise_db(&ratios);
        PlaceLink { margin_db, loss_chance: (1.0 - stays).clamp(0.0, 1.0) }
    }
}

impl Source {
    /// The packet loss that, if it were the same on all channels, would silence as many runs of packets as this source
    /// does: hops take turns in and out of the channels that it covers.
    fn as_if_on_all(&self, hit: f64, free: f64, run: f64) -> f64 {
        let [hit, free] = [hit, free].map(|loss| libm::log(loss.max(1e-12)));
        let silenced = |covered: &Covered| {
            let packets = f64::from(covered.packets);
            covered.share * libm::exp(packets * hit + (run - packets) * free)
        };
        libm::pow(self.covered.iter().map(silenced).sum::<f64>(), 1.0 / run)
    }
}
