//! Counts endings as they come and finishes into the summary's tables. Counters are whole numbers and measures are
//! kept in flight order, so batches merged in order give the same bytes on any number of threads.

use super::choice::choose;
use super::compare::{Comparisons, PairTables, lost_needed, pairing_gain, pairs_of};
use super::faults::Faults;
use super::harm::HarmModel;
use super::outcome::{Concern, LISTED, is_home};
use super::summary::{
    Contour, EndPoint, LossSummary, MAP_ENDS, Measure, Met, Pair, PolicySummary, QuantileBand, Share, Verdict,
    flag_labels,
};
use super::verdict::{self, Evidence, Rules};
use super::words::{round_up, share};
use crate::failsafe::Policy;
use crate::flight::{Ending, Flags, FlightOutcome, Headline, LossCause, Order, Tier};
use crate::scenario::Judge;
use crate::stats::density::map_contours;
use crate::stats::display::quantile_dots;
use crate::stats::paired::{holm, mcnemar_exact};
use crate::stats::quantile::{QuantileRule, quantile_ranks, quantile_upper_rank, sample_quantile};
use std::collections::BTreeMap;

const HEADLINES: usize = Headline::ALL.len();
const FLAGS: usize = Flags::NAMED.len();
/// Strips of the path for danger against the moment of loss.
const MOMENTS: usize = 10;
/// Dots of a dotplot.
const DOTS: usize = 50;
/// Shares of the map's contours and circles.
const MAP_SHARES: [f64; 3] = [0.5, 0.9, 0.99];
/// Share of unsettled flights above which bounds are printed.
const UNSETTLED: f64 = 0.001;

/// A measure: key, words, unit, and where it stands in an ending.
pub type MeasureOf = (&'static str, &'static str, &'static str, fn(&Ending) -> f32);

/// What an assessment measures of every ending.
pub const MEASURES: [MeasureOf; 11] = [
    ("distance_home_m", "distance from home at the end", "m", |e| e.distance_home_m),
    ("greatest_distance_m", "greatest distance from home", "m", |e| e.greatest_distance_m),
    ("greatest_height_m", "greatest height above home", "m", |e| e.greatest_height_m),
    ("time_to_end_s", "time from loss to the end", "s", |e| e.time_to_end_s),
    ("over_people_s", "time over people", "s", |e| e.over_people_s),
    ("impact_speed_mps", "speed at the end", "m/s", |e| e.impact_speed_mps),
    ("impact_energy_j", "impact energy", "J", |e| e.impact_energy_j),
    ("energy_below_j", "energy it could reach the ground with", "J", |e| e.energy_below_j),
    ("pack_left_pct", "pack left at the end", "%", |e| e.pack_left_pct),
    ("without_fix_s", "time without a position fix", "s", |e| e.without_fix_s),
    ("vortex_ring_s", "time sinking through its own wake", "s", |e| e.vortex_ring_s),
];
/// Place of the distance home and the impact energy among the measures.
const DISTANCE_HOME: usize = 0;
const IMPACT_ENERGY: usize = 6;

/// Counts of one policy.
#[derive(Debug, Clone, Default)]
struct PolicyTally {
    headline_by_flag: [[u64; FLAGS]; HEADLINES],
    headlines: [u64; HEADLINES],
    not_taken_over: u64,
    danger_not_taken_over: u64,
    moments: [[u64; 2]; MOMENTS],
    /// Per zone met.
    met: BTreeMap<u16, ZoneTally>,
    /// The measures of an ending side by side. These and what follows are of the first [`LISTED`] lost links.
    measures: Vec<[f32; MEASURES.len()]>,
    ends_m: Vec<[f32; 2]>,
    map_ends: Vec<EndPoint>,
    /// Impact angle and people per km², only for the annex.
    impacts: Vec<[f32; 2]>,
}

/// Endings in one zone.
#[derive(Debug, Clone, Default)]
struct ZoneTally {
    grave: u64,
    danger: u64,
    all: u64,
    /// Of the first [`LISTED`].
    energy_j: Vec<f32>,
}

/// Counts flights in order.
#[derive(Debug, Clone)]
pub struct Tally {
    names: Vec<String>,
    chains: Vec<String>,
    rules: Rules,
    order: Option<Order>,
    harm: Option<HarmModel>,
    how: String,
    flights: u64,
    lost: u64,
    not_taken_off: u64,
    causes: BTreeMap<LossCause, u64>,
    without_loss: BTreeMap<Headline, u64>,
    faults: Faults,
    loss_time_s: Vec<f32>,
    loss_distance_m: Vec<f32>,
    policies: Vec<PolicyTally>,
    pairs: Vec<PairTables>,
}

/// What a tally finishes into.
#[derive(Debug, Clone, PartialEq)]
pub struct TallyResult {
    /// Flights counted.
    pub flights: u64,
    /// Losses.
    pub loss: LossSummary,
    /// Losses set aside.
    pub faults: Faults,
    /// One per policy, in their order.
    pub policies: Vec<PolicySummary>,
    /// All pairs, concern by concern.
    pub pairs: Vec<Pair>,
    /// What the verdict follows from.
    pub comparisons: Comparisons,
    /// The answer.
    pub verdict: Verdict,
    /// The order of headlines, when it is not the default.
    pub order: Option<Vec<String>>,
}

/// What has become of one policy's losses.
#[derive(Debug, Clone, PartialEq)]
pub struct SoFar {
    /// Losses that ended in each tier, worst first.
    pub tiers: Vec<(Tier, Share)>,
    /// Landed at home, or the pilot got it back.
    pub home: Share,
}

impl Tally {
    /// An empty tally. `how` says in words how links are lost ([`loss_words`](super::outcome::loss_words));
    /// `craft_radius_m` is used for the annex only, when the judge asks for it.
    pub fn new(policies: &[Policy], judge: &Judge, how: &str, craft_radius_m: f64) -> Self {
        Tally {
            names: policies.iter().map(|p| p.name.clone()).collect(),
            chains: policies.iter().map(Policy::in_words).collect(),
            rules: Rules { matters: judge.matters, confidence: judge.confidence },
            order: judge.order.as_deref().and_then(Order::from_words).filter(|order| *order != Order::default()),
            harm: judge.harm.then(|| HarmModel::of_craft(craft_radius_m)),
            how: how.into(),
            flights: 0,
            lost: 0,
            not_taken_off: 0,
            causes: BTreeMap::new(),
            without_loss: BTreeMap::new(),
            faults: Faults::new(policies.len()),
            loss_time_s: Vec::new(),
            loss_distance_m: Vec::new(),
            policies: vec![PolicyTally::default(); policies.len()],
            pairs: vec![PairTables::default(); pairs_of(policies.len()).count()],
        }
    }

    /// Counts one flight. Flights come in the order of their numbers. A loss must come with one ending per policy.
    pub fn push(&mut self, outcome: &FlightOutcome) {
        self.flights += 1;
        self.not_taken_off += u64::from(outcome.not_taken_off);
        let Some(loss) = &outcome.loss else {
            if let Some(headline) = outcome.without_loss {
                *self.without_loss.entry(headline).or_default() += 1;
            }
            return;
        };
        assert_eq!(outcome.endings.len(), self.policies.len(), "flight {}: one ending per policy", outcome.flight);
        self.lost += 1;
        *self.causes.entry(loss.cause).or_default() += 1;
        if self.loss_time_s.len() < LISTED {
            self.loss_time_s.push(loss.time_s as f32);
            self.loss_distance_m.push(loss.distance_m);
        }
        if self.faults.push(outcome) {
            return;
        }
        let moment = ((loss.path_share * MOMENTS as f32) as usize).min(MOMENTS - 1);
        let headlines: Vec<Headline> = outcome.endings.iter().map(|ending| ending.headline).collect();
        for ((tally, ending), &headline) in self.policies.iter_mut().zip(&outcome.endings).zip(&headlines) {
            tally.push(ending, headline, moment, self.harm.is_some());
        }
        for (tables, (i, j)) in self.pairs.iter_mut().zip(pairs_of(headlines.len())) {
            for (table, on) in tables.iter_mut().zip(Concern::ALL) {
                let cell = match (on.counts(headlines[i]), on.counts(headlines[j])) {
                    (true, true) => 0,
                    (true, false) => 1,
                    (false, true) => 2,
                    (false, false) => 3,
                };
                table[cell] += 1;
            }
        }
    }

    /// The choice and its words.
    fn verdict(&self, comparisons: &Comparisons) -> Verdict {
        let share_of = |p: &PolicyTally| Concern::ALL.map(|on| p.share_of(on, self.rules.confidence));
        let shares: Vec<[Share; Concern::ALL.len()]> = self.policies.iter().map(share_of).collect();
        let estimates: Vec<_> = shares.iter().map(|of| of.map(|share| share.estimate())).collect();
        let evidence = Evidence {
            names: &self.names,
            chains: &self.chains,
            not_taken_off: self.not_taken_off,
            flights: self.flights,
            lost: self.lost - self.faults.flights,
            shares: &shares,
            tables: &self.pairs,
            comparisons,
        };
        verdict::verdict(&evidence, &self.rules, choose(comparisons, &estimates))
    }

    /// All pairs, concern by concern.
    fn pairs(&self, comparisons: &Comparisons) -> Vec<Pair> {
        let per_lost = self.flights as f64 / (self.lost - self.faults.flights).max(1) as f64;
        let p_values: Vec<f64> =
            self.pairs.iter().map(|t| t[Concern::Danger.index()]).map(|t| mcnemar_exact(t[1], t[2])).collect();
        let adjusted = holm(&p_values);
        let pair = |on: Concern, index: usize, (first, second): (usize, usize)| {
            let (table, one) = (self.pairs[index][on.index()], comparisons.at(on, first, second));
            let needed = lost_needed(table, comparisons.level, one.matters);
            Pair {
                first,
                second,
                about: on,
                table,
                difference: one.difference,
                low: one.low,
                high: one.high,
                p_adjusted: (on == Concern::Danger).then(|| adjusted[index]),
                standing: one.standing(),
                apart: one.is_apart(),
                flights_needed: needed.map(|lost| round_up(lost * per_lost)),
                pairing_gain: pairing_gain(table),
            }
        };
        let of = |on: Concern| pairs_of(self.names.len()).enumerate().map(move |(index, two)| (on, index, two));
        Concern::ALL.into_iter().flat_map(of).map(|(on, index, two)| pair(on, index, two)).collect()
    }

    /// Links lost so far.
    pub fn links_lost(&self) -> u64 {
        self.lost
    }

    /// Losses set aside so far.
    pub fn faults(&self) -> &Faults {
        &self.faults
    }

    /// What has become of each policy's losses so far.
    pub fn so_far(&self) -> Vec<SoFar> {
        self.policies.iter().map(|policy| policy.so_far(self.rules.confidence)).collect()
    }

    /// The answer that follows from what has been counted.
    pub fn answer(&self) -> Verdict {
        self.verdict(&self.comparisons())
    }

    fn comparisons(&self) -> Comparisons {
        Comparisons::of(self.names.len(), &self.pairs, &self.rules.matters, self.rules.confidence)
    }

    /// The tables, pairs and the verdict.
    pub fn finish(self) -> TallyResult {
        let confidence = self.rules.confidence;
        let comparisons = self.comparisons();
        let (pairs, verdict) = (self.pairs(&comparisons), self.verdict(&comparisons));
        let crowd_per_km2 = self.policies.iter().flat_map(|p| &p.impacts).map(|i| f64::from(i[1])).fold(0.0, f64::max);
        let policies = self
            .policies
            .iter()
            .enumerate()
            .map(|(index, tally)| {
                let harm = self.harm.and_then(|model| model.annex(&tally.impacts(), crowd_per_km2));
                tally.finish(&self.names[index], &self.chains[index], confidence, harm)
            })
            .collect();
        let mut causes: Vec<(String, u64)> =
            self.causes.iter().map(|(cause, &count)| (cause.label().to_string(), count)).collect();
        causes.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        TallyResult {
            flights: self.flights,
            loss: LossSummary {
                how: self.how,
                lost: share(self.lost, self.flights, confidence),
                time_s: three(&self.loss_time_s),
                distance_m: three(&self.loss_distance_m),
                causes,
                without_loss: self.without_loss.iter().map(|(h, &count)| (h.word().to_string(), count)).collect(),
                not_taken_off: self.not_taken_off,
            },
            faults: self.faults,
            policies,
            pairs,
            comparisons,
            verdict,
            order: self.order.map(|order| order.words().map(str::to_string).collect()),
        }
    }
}

impl PolicyTally {
    fn push(&mut self, ending: &Ending, headline: Headline, moment: usize, with_impacts: bool) {
        let row = headline.index();
        self.headlines[row] += 1;
        for (count, (flag, _)) in self.headline_by_flag[row].iter_mut().zip(Flags::NAMED) {
            *count += u64::from(ending.flags.has(flag));
        }
        let [grave, danger] = [Concern::Grave, Concern::Danger].map(|on| u64::from(on.counts(headline)));
        if let Some(zone) = ending.zone {
            let met = self.met.entry(zone).or_default();
            (met.grave, met.danger, met.all) = (met.grave + grave, met.danger + danger, met.all + 1);
            if met.energy_j.len() < LISTED {
                met.energy_j.push(ending.energy_below_j);
            }
        }
        if !ending.flags.has(Flags::PILOT_TOOK_OVER) {
            self.not_taken_over += 1;
            self.danger_not_taken_over += danger;
        }
        self.moments[moment][0] += danger;
        self.moments[moment][1] += 1;
        if self.measures.len() < LISTED {
            self.list(ending, headline, with_impacts);
        }
    }

    /// Keeps what is kept one by one.
    fn list(&mut self, ending: &Ending, headline: Headline, with_impacts: bool) {
        self.measures.push(MEASURES.map(|(_, _, _, of)| of(ending)));
        let place_m = [ending.end_m[0], ending.end_m[1]];
        self.ends_m.push(place_m);
        if self.map_ends.len() < MAP_ENDS {
            self.map_ends.push(EndPoint { flight: ending.flight, place_m, headline });
        }
        if with_impacts {
            self.impacts.push([ending.impact_angle_deg, ending.people_per_km2]);
        }
    }

    /// The values of a measure, by its place among them.
    fn measured(&self, place: usize) -> impl Iterator<Item = f32> {
        self.measures.iter().map(move |values| values[place])
    }

    fn measure(&self, place: usize, confidence: f64) -> Measure {
        let (key, label, unit, _) = MEASURES[place];
        let sorted = finite_sorted(self.measured(place));
        Measure {
            key: key.into(),
            label: label.into(),
            unit: unit.into(),
            p05: quantile_band(&sorted, 0.05, confidence),
            p50: quantile_band(&sorted, 0.5, confidence),
            p95: quantile_band(&sorted, 0.95, confidence),
            dots: if sorted.is_empty() {
                Vec::new()
            } else {
                quantile_dots(DOTS, |q| sample_quantile(&sorted, q, QuantileRule::Type8))
            },
        }
    }

    fn lost(&self) -> u64 {
        self.headlines.iter().sum()
    }

    fn count(&self, event: impl Fn(Headline) -> bool) -> u64 {
        Headline::ALL.into_iter().filter(|&h| event(h)).map(|h| self.headlines[h.index()]).sum()
    }

    fn share_of(&self, on: Concern, confidence: f64) -> Share {
        share(self.count(|h| on.counts(h)), self.lost(), confidence)
    }

    fn so_far(&self, confidence: f64) -> SoFar {
        let of_lost = |count: u64| share(count, self.lost(), confidence);
        SoFar {
            tiers: Tier::ALL.map(|tier| (tier, of_lost(self.count(|h| h.tier() == tier)))).to_vec(),
            home: of_lost(self.count(is_home)),
        }
    }

    /// Endings by zone, the zones most often met first.
    fn met(&self, confidence: f64) -> Vec<Met> {
        let of_lost = |count: u64| share(count, self.lost(), confidence);
        let met = |(&zone, tally): (&u16, &ZoneTally)| Met {
            zone,
            grave: of_lost(tally.grave),
            danger: of_lost(tally.danger),
            all: of_lost(tally.all),
            energy_j: three(&tally.energy_j),
        };
        let mut list: Vec<Met> = self.met.iter().map(met).collect();
        list.sort_by_key(|met| std::cmp::Reverse(met.all.events));
        list
    }

    /// (energy, angle, people per km²) of every end; what is not finite counts as none.
    fn impacts(&self) -> Vec<(f64, f64, f64)> {
        let number = |x: f32, instead: f64| if x.is_finite() { f64::from(x) } else { instead };
        self.measured(IMPACT_ENERGY)
            .zip(&self.impacts)
            .map(|(energy, &[angle, people])| (number(energy, 0.0), number(angle, 90.0), number(people, 0.0)))
            .collect()
    }

    fn finish(&self, name: &str, chain: &str, confidence: f64, harm: Option<super::summary::Harm>) -> PolicySummary {
        let lost = self.lost();
        let of_lost = |count: u64| share(count, lost, confidence);
        let so_far = self.so_far(confidence);
        let unsettled = self.headlines[Headline::NotSettled.index()];
        let danger = self.count(|h| Concern::Danger.counts(h));
        let flags: Vec<u64> = (0..FLAGS).map(|f| self.headline_by_flag.iter().map(|row| row[f]).sum()).collect();
        let home = finite_sorted(self.measured(DISTANCE_HOME));
        let points: Vec<[f64; 2]> = self.ends_m.iter().map(|p| p.map(f64::from)).collect();
        let contours = map_contours(&points, &MAP_SHARES);
        PolicySummary {
            name: name.into(),
            words: chain.into(),
            lost,
            headlines: Headline::ALL.into_iter().map(|h| (h, of_lost(self.headlines[h.index()]))).collect(),
            tiers: so_far.tiers,
            concerns: Concern::ALL.map(|on| (on, self.share_of(on, confidence))).to_vec(),
            met: self.met(confidence),
            home: so_far.home,
            danger_bounds: (unsettled as f64 > UNSETTLED * lost as f64)
                .then(|| (danger as f64 / lost as f64, (danger + unsettled) as f64 / lost as f64)),
            flags: flag_labels().map(Into::into).zip(flags.into_iter().map(of_lost)).collect(),
            headline_by_flag: self.headline_by_flag.iter().map(|row| row.to_vec()).collect(),
            danger_without_pilot: share(self.danger_not_taken_over, self.not_taken_over, confidence),
            measures: (0..MEASURES.len()).map(|place| self.measure(place, confidence)).collect(),
            within_99_m: quantile_upper_rank(home.len() as u64, 0.99, confidence)
                .ok()
                .flatten()
                .map(|rank| home[rank as usize - 1]),
            circles_m: MAP_SHARES.map(|q| held(&home, q)),
            contours: contours.levels.into_iter().map(|(share, rings_m)| Contour { share, rings_m }).collect(),
            kernel_m: contours.kernel_m,
            ends: self.map_ends.clone(),
            tracks_m: Vec::new(),
            danger_by_moment: self
                .moments
                .iter()
                .enumerate()
                .map(|(i, &[events, of])| {
                    let at = |i: usize| i as f64 / MOMENTS as f64;
                    (at(i), at(i + 1), share(events, of, confidence))
                })
                .collect(),
            harm,
        }
    }
}

/// The finite ones, sorted upwards.
fn finite_sorted(values: impl IntoIterator<Item = f32>) -> Vec<f64> {
    let mut sorted: Vec<f64> = values.into_iter().filter(|x| x.is_finite()).map(f64::from).collect();
    sorted.sort_by(f64::total_cmp);
    sorted
}

/// Quantiles 5, 50, 95 % of the finite ones.
fn three(values: &[f32]) -> [f64; 3] {
    let sorted = finite_sorted(values.iter().copied());
    [0.05, 0.5, 0.95].map(|q| sample_quantile(&sorted, q, QuantileRule::Type8))
}

/// Smallest value that holds a share of the sorted ones; NaN of none.
fn held(sorted: &[f64], share: f64) -> f64 {
    let rank = (share * sorted.len() as f64 - 1e-9).ceil().max(1.0) as usize;
    sorted.get(rank - 1).copied().unwrap_or(f64::NAN)
}

/// A quantile with its order-statistic ends.
pub(crate) fn quantile_band(sorted: &[f64], q: f64, confidence: f64) -> QuantileBand {
    let ranks = quantile_ranks(sorted.len() as u64, q, confidence).ok();
    let at = |rank: Option<u64>| rank.map(|r| sorted[r as usize - 1]);
    QuantileBand {
        value: sample_quantile(sorted, q, QuantileRule::Type8),
        low: ranks.and_then(|r| at(r.low)),
        high: ranks.and_then(|r| at(r.high)),
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::failsafe::{Action, ActionKind, Fallback, Guards};
    use crate::flight::{Ground, LossMoment, Manner};
    use crate::scenario::Hard;

    pub(crate) fn judge_rules() -> Judge {
        Judge {
            matters: crate::risk::choice::tests::MATTERS,
            hard: Hard { others_j: 15.0, crew_j: 33.9 },
            clearance_m: 10.0,
            confidence: 0.95,
            home_radius_m: 15.0,
            reserve_pct: 15.0,
            harm: false,
            order: None,
        }
    }

    pub(crate) fn policy(name: &str) -> Policy {
        let action = Action {
            kind: ActionKind::Drop,
            guards: Guards::default(),
            otherwise: Fallback::Land,
            resumes_after_s: None,
        };
        Policy { name: name.into(), actions: vec![action] }
    }

    pub(crate) fn ending(flight: u32, headline: Headline, distance_m: f32) -> Ending {
        Ending {
            flight,
            headline,
            manner: Manner::SetDown,
            ground: Ground::Clear,
            zone: None,
            energy_below_j: 0.7,
            flags: Flags::default(),
            end_m: [distance_m, 0.5 * distance_m, 0.0],
            loss_time_s: 60.0,
            loss_m: [100.0, 0.0, 30.0],
            time_to_end_s: 20.0,
            distance_home_m: distance_m,
            greatest_distance_m: 150.0,
            greatest_height_m: 60.0,
            over_people_s: 0.0,
            people_per_km2: 0.0,
            impact_speed_mps: 1.0,
            impact_angle_deg: 90.0,
            impact_energy_j: 0.7,
            pack_left_pct: 40.0,
            without_fix_s: 0.0,
            vortex_ring_s: 0.0,
            declared_lost: 1,
            telemetry_only_s: 0.0,
            control_only_s: 0.0,
        }
    }

    pub(crate) fn outcome(flight: u32, headlines: &[Headline]) -> FlightOutcome {
        FlightOutcome {
            flight,
            loss: Some(LossMoment {
                time_s: 60.0 + f64::from(flight),
                place_m: [100.0, 0.0, 30.0],
                path_share: (flight % 10) as f32 / 10.0 + 0.05,
                distance_m: 100.0,
                cause: LossCause::Cut,
                telemetry_up: true,
            }),
            endings: headlines
                .iter()
                .enumerate()
                .map(|(k, &h)| ending(flight, h, (flight % 97) as f32 + k as f32))
                .collect(),
            without_loss: None,
            not_taken_off: false,
        }
    }

    fn run(n: u32) -> Vec<FlightOutcome> {
        (0..n)
            .map(|flight| {
                let a = if flight % 50 == 0 { Headline::OnRoad } else { Headline::AtHome };
                let b = match flight % 20 {
                    0 => Headline::AmongOthers,
                    1 | 2 => Headline::Struck,
                    3 => Headline::NotSettled,
                    _ => Headline::ClearElsewhere,
                };
                outcome(flight, &[a, b])
            })
            .collect()
    }

    fn tally(outcomes: &[FlightOutcome]) -> Tally {
        let mut tally = Tally::new(&[policy("a"), policy("b")], &judge_rules(), "cut", 0.2);
        outcomes.iter().for_each(|o| tally.push(o));
        tally
    }

    #[test]
    fn counts_add_up() {
        let mut flights = run(1_000);
        flights.push(FlightOutcome {
            flight: 1_000,
            loss: None,
            endings: vec![],
            without_loss: Some(Headline::AtHome),
            not_taken_off: false,
        });
        let result = tally(&flights).finish();
        assert_eq!((result.flights, result.loss.lost.events, result.loss.lost.of), (1_001, 1_000, 1_001));
        assert_eq!(result.loss.causes, [("cut by the scenario".to_string(), 1_000)]);
        assert_eq!(result.loss.without_loss, [("at-home".to_string(), 1)]);
        let b = &result.policies[1];
        assert_eq!(b.headlines.iter().map(|h| h.1.events).sum::<u64>(), 1_000);
        assert_eq!(b.tiers.iter().map(|t| t.1.events).collect::<Vec<_>>(), [0, 50, 0, 100, 0, 800, 50]);
        assert_eq!(b.concerns.iter().map(|c| c.1.events).collect::<Vec<_>>(), [0, 50, 50, 150, 150, 1_000]);
        assert_eq!((b.share(Concern::CraftLost).events, b.home.events), (150, 0));
        assert_eq!(b.danger_bounds, Some((0.05, 0.1)));
        assert_eq!(result.policies[0].danger_bounds, None);
        assert_eq!(b.danger_by_moment.iter().map(|m| m.2.events).sum::<u64>(), 50);
        assert!(b.danger_by_moment.iter().all(|m| m.2.of == 100));
        // Flights 0, 100, 200 … end in danger under both; 50, 150 … only under a; 20, 40, 60 … only under b.
        let danger = result.pairs.iter().find(|pair| pair.about == Concern::Danger).unwrap();
        assert_eq!(danger.table, [10, 10, 40, 940]);
        assert_eq!(danger.p_adjusted, Some(mcnemar_exact(10, 40)));
        assert_eq!(result.pairs.iter().filter(|pair| pair.p_adjusted.is_some()).count(), 1);
        assert_eq!(b.measures.len(), MEASURES.len());
        let home = &result.policies[0].measures[DISTANCE_HOME];
        assert!(home.p50.value == 46.5 && home.dots.len() == 50);
        assert!(home.p50.low.unwrap() <= home.p50.value && home.p50.value <= home.p50.high.unwrap());
        assert_eq!(result.policies[0].within_99_m, Some(96.0));
        assert_eq!(result.policies[0].contours.len(), 3);
        assert_eq!(result.policies[0].ends.len(), 1_000);
    }

    /// Beyond so many lost links memory does not grow: what is kept one by one stays that of the first, counts are of all.
    #[test]
    fn a_long_run_lists_its_first_lost_links() {
        let mut flights = run(LISTED as u32 + 2_000);
        for flight in &mut flights[LISTED..] {
            for ending in &mut flight.endings {
                (ending.distance_home_m, ending.energy_below_j, ending.zone) = (5_000.0, 900.0, Some(2));
            }
        }
        flights[3].endings[0].zone = Some(2);
        let (all, first) = (tally(&flights).finish(), tally(&flights[..LISTED]).finish());
        assert_eq!(all.loss.lost.events, LISTED as u64 + 2_000);
        assert_eq!((all.loss.time_s, all.loss.distance_m), (first.loss.time_s, first.loss.distance_m));
        for (all, first) in all.policies.iter().zip(&first.policies) {
            assert_eq!((all.lost, all.listed(), first.listed()), (LISTED as u64 + 2_000, LISTED as u64, first.lost));
            assert_eq!((&all.measures, all.within_99_m), (&first.measures, first.within_99_m));
            assert_eq!((all.circles_m, &all.contours), (first.circles_m, &first.contours));
            assert_eq!(all.headlines.iter().map(|headline| headline.1.events).sum::<u64>(), all.lost);
            assert_eq!(all.danger_by_moment.iter().map(|moment| moment.2.of).sum::<u64>(), all.lost);
        }
        let met = &all.policies[0].met[0];
        assert_eq!((met.all.events, met.energy_j), (2_001, [900.0; 3]));
    }

    #[test]
    fn only_an_order_other_than_the_default_is_told() {
        let of = |words: &[&str]| {
            let order = Some(words.iter().map(|word| word.to_string()).collect());
            Tally::new(&[policy("a")], &Judge { order, ..judge_rules() }, "cut", 0.2).finish().order
        };
        assert_eq!(of(&["struck"]).unwrap()[..2], ["struck", "hard-among-others"]);
        assert_eq!(of(&["hard-among-others"]), None);
    }

    /// Whom it met and how hard stays with the policy.
    #[test]
    fn zones_met_are_counted() {
        let mut flights = run(400);
        for flight in flights.iter_mut().filter(|flight| flight.flight % 20 == 0) {
            (flight.endings[1].zone, flight.endings[1].energy_below_j) = (Some(3), 2.0);
        }
        flights[7].endings[1].zone = Some(1);
        let met = &tally(&flights).finish().policies[1].met;
        assert_eq!(
            met.iter().map(|m| (m.zone, m.danger.events, m.grave.events)).collect::<Vec<_>>(),
            [(3, 20, 0), (1, 0, 0)]
        );
        assert_eq!((met[0].all.of, met[0].energy_j), (400, [2.0; 3]));
    }

    #[test]
    fn the_annex_comes_only_when_asked_for() {
        let mut flights = run(400);
        for flight in &mut flights {
            flight.endings[1].people_per_km2 = if flight.flight % 20 == 0 { 4_000.0 } else { 0.0 };
            flight.endings[1].impact_energy_j = 60.0;
        }
        assert!(tally(&flights).finish().policies[1].harm.is_none());
        let mut with = Tally::new(&[policy("a"), policy("b")], &Judge { harm: true, ..judge_rules() }, "cut", 0.2);
        flights.iter().for_each(|o| with.push(o));
        let result = with.finish();
        let (a, b) = (result.policies[0].harm.unwrap(), result.policies[1].harm.unwrap());
        assert!(a.mean_per_million == 0.0 && a.high_per_million > 0.0);
        assert!(b.low_per_million > 0.0 && b.low_per_million < b.mean_per_million);
        assert_eq!(b.above_lines, [1.0, 1.0, 0.0]);
    }

    #[test]
    fn no_flight_and_no_loss_finish_without_panic() {
        let empty = tally(&[]).finish();
        assert_eq!(empty.policies[0].lost, 0);
        assert!(empty.policies[0].measures[0].dots.is_empty());
        assert!(empty.policies[0].circles_m[0].is_nan());
        assert_eq!(empty.policies[0].within_99_m, None);
        let one = tally(&run(1)).finish();
        assert_eq!(one.policies[0].measures[0].p50.high, None);
    }
}
