//! A sweep of return heights on the same flights: rows, the recommended interval, what limits it.

use super::faults::Faults;
use super::outcome::{is_craft_lost_or_worse, is_danger, is_home};
use super::summary::{HeightRow, Heights, SUMMARY_VERSION, Share};
use super::words::{confidence_words, frequency, grouped, per_thousand, share};
use crate::flight::{Flags, FlightOutcome, Headline};
use crate::stats::paired::tango;
use crate::stats::quantile::{QuantileRule, sample_quantile};

/// One height of the sweep, flown as one policy of the flights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SweptHeight {
    /// Return height above home.
    pub height_m: f64,
    /// Speed, when swept too.
    pub speed_mps: Option<f64>,
}

/// What the sweep is told about the scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct SweepFacts {
    /// Title.
    pub title: String,
    /// Whether place and craft are invented.
    pub invented: bool,
    /// Hash of the scenario.
    pub scenario_hash: String,
    /// Policy whose return was varied.
    pub policy: String,
    /// Seed.
    pub seed: u64,
    /// Tallest obstacle top or ground along the ways home, above home.
    pub tallest_m: f64,
    /// Greatest permitted height above home on the ways home.
    pub ceiling_m: f64,
    /// Height above home under which the link is in shadow along the way home; `None`: nowhere.
    pub link_shadow_below_m: Option<f64>,
    /// Smallest difference that matters, as a share.
    pub matters: f64,
    /// Confidence of intervals.
    pub confidence: f64,
}

/// Counts of one height; per-flight marks stay for pairing.
#[derive(Debug, Clone, Default)]
struct HeightTally {
    danger: Vec<bool>,
    craft_lost: Vec<bool>,
    at_home: u64,
    headlines: [u64; Headline::ALL.len()],
    reserve_used: u64,
    fell_back: u64,
    pack_left_pct: Vec<f32>,
    time_s: Vec<f32>,
}

/// Counts a sweep: each flight has one ending per height.
#[derive(Debug, Clone)]
pub struct HeightsTally {
    heights: Vec<SweptHeight>,
    flights: u64,
    faults: Faults,
    rows: Vec<HeightTally>,
}

impl HeightsTally {
    /// An empty sweep over these heights, lowest first.
    pub fn new(heights: &[SweptHeight]) -> Self {
        HeightsTally {
            heights: heights.to_vec(),
            flights: 0,
            faults: Faults::new(heights.len()),
            rows: vec![HeightTally::default(); heights.len()],
        }
    }

    /// Counts one flight, whose endings are one per height in their order.
    pub fn push(&mut self, outcome: &FlightOutcome) {
        self.flights += 1;
        if outcome.loss.is_none() {
            return;
        }
        assert_eq!(outcome.endings.len(), self.rows.len(), "flight {}: one ending per height", outcome.flight);
        if self.faults.push(outcome) {
            return;
        }
        for (row, ending) in self.rows.iter_mut().zip(&outcome.endings) {
            let headline = ending.headline;
            row.danger.push(is_danger(headline));
            row.craft_lost.push(is_craft_lost_or_worse(headline));
            row.at_home += u64::from(is_home(headline));
            row.headlines[headline.index()] += 1;
            row.reserve_used += u64::from(ending.flags.has(Flags::RESERVE_USED));
            row.fell_back += u64::from(ending.flags.has(Flags::FELL_BACK));
            row.pack_left_pct.push(ending.pack_left_pct);
            row.time_s.push(ending.time_to_end_s);
        }
    }

    /// Adds the sweep over the flights that follow.
    pub fn merge(&mut self, later: HeightsTally) {
        self.flights += later.flights;
        self.faults.merge(later.faults);
        for (mine, theirs) in self.rows.iter_mut().zip(later.rows) {
            mine.danger.extend(theirs.danger);
            mine.craft_lost.extend(theirs.craft_lost);
            mine.at_home += theirs.at_home;
            for (x, y) in mine.headlines.iter_mut().zip(theirs.headlines) {
                *x += y;
            }
            mine.reserve_used += theirs.reserve_used;
            mine.fell_back += theirs.fell_back;
            mine.pack_left_pct.extend(theirs.pack_left_pct);
            mine.time_s.extend(theirs.time_s);
        }
    }

    /// The sweep's answer: heights whose danger, then craft lost, cannot be told apart from the best one, in an
    /// unbroken run around it and not above the ceiling.
    ///
    /// A height drops out when its paired Tango interval against the best excludes 0 and it is worse by at least what
    /// matters. Levels are not adjusted for the number of heights: dropping a good height is the cautious error.
    pub fn finish(self, facts: &SweepFacts) -> Heights {
        let rows: Vec<HeightRow> = self.rows.iter().zip(&self.heights).map(|(t, h)| t.row(h, facts)).collect();
        let answer = self.recommend(&rows, facts);
        Heights {
            summary_version: SUMMARY_VERSION,
            title: facts.title.clone(),
            invented: facts.invented,
            program_version: env!("CARGO_PKG_VERSION").into(),
            scenario_hash: facts.scenario_hash.clone(),
            policy: facts.policy.clone(),
            seed: facts.seed,
            flights: self.flights,
            matters_points: 100.0 * facts.matters,
            faults: self.faults,
            rows,
            tallest_m: facts.tallest_m,
            ceiling_m: facts.ceiling_m,
            interval_m: answer.interval_m,
            below: answer.below,
            above: answer.above,
            sentence: answer.sentence,
        }
    }

    fn recommend(&self, rows: &[HeightRow], facts: &SweepFacts) -> Answer {
        let lost = self.rows.first().map_or(0, |row| row.danger.len() as u64);
        if lost == 0 {
            return Answer::none(format!(
                "No height can be recommended: the link was never lost in {} flights.",
                grouped(self.flights)
            ));
        }
        let allowed: Vec<usize> = (0..rows.len()).filter(|&i| rows[i].height_m <= facts.ceiling_m).collect();
        let key =
            |i: usize| (rows[i].danger.events, rows[i].craft_lost.events, std::cmp::Reverse(rows[i].at_home.events));
        let Some(best) = allowed.iter().copied().min_by_key(|&i| key(i)) else {
            return Answer::none("No height can be recommended: every height tried is above the ceiling.".into());
        };
        // The best within the danger that can't be told apart is the one with the least craft lost.
        let alike = |i: usize, j: usize, marks: fn(&HeightTally) -> &[bool]| {
            !clearly_worse(marks(&self.rows[i]), marks(&self.rows[j]), facts)
        };
        let by_danger: Vec<bool> =
            (0..rows.len()).map(|i| allowed.contains(&i) && (i == best || alike(i, best, |t| &t.danger))).collect();
        let centre = allowed
            .iter()
            .copied()
            .filter(|&i| by_danger[i])
            .min_by_key(|&i| (rows[i].craft_lost.events, key(i)))
            .unwrap_or(best);
        let good: Vec<bool> =
            (0..rows.len()).map(|i| by_danger[i] && (i == centre || alike(i, centre, |t| &t.craft_lost))).collect();
        // The unbroken run lies along the heights flown at the centre's speed.
        let mut line: Vec<usize> = (0..rows.len()).filter(|&i| rows[i].speed_mps == rows[centre].speed_mps).collect();
        line.sort_by(|&i, &j| rows[i].height_m.total_cmp(&rows[j].height_m));
        let place = line.iter().position(|&i| i == centre).unwrap_or(0);
        let mut first = place;
        while first > 0 && good[line[first - 1]] {
            first -= 1;
        }
        let mut last = place;
        while last + 1 < line.len() && good[line[last + 1]] {
            last += 1;
        }
        let interval_m = [rows[line[first]].height_m, rows[line[last]].height_m];
        let below = match first.checked_sub(1) {
            None => format!("no limit found; {} m was the lowest tried", metres(interval_m[0])),
            Some(i) => self.limit(line[i], centre, rows, facts),
        };
        let above = match line.get(last + 1) {
            None => format!("no limit found; {} m was the highest tried", metres(interval_m[1])),
            Some(&i) if rows[i].height_m > facts.ceiling_m => format!("the ceiling of {} m", metres(facts.ceiling_m)),
            Some(&i) => self.limit(i, centre, rows, facts),
        };
        let speed = rows[centre].speed_mps.map_or(String::new(), |v| format!(" with {} m/s", metres(v)));
        let (what, alike) = if first == last {
            (format!("Return at {} m{speed}", metres(interval_m[0])), "the heights next to it are worse".to_string())
        } else {
            (
                format!("Return anywhere between {} m and {} m{speed}", metres(interval_m[0]), metres(interval_m[1])),
                "no other height in this range is clearly worse".to_string(),
            )
        };
        let sentence = format!(
            "{what}: at {} m danger to others {}, craft lost or worse {}; {alike} with {} lost links ({} sure). Below: \
             {below}. Above: {above}.",
            metres(rows[centre].height_m),
            frequency(&rows[centre].danger),
            frequency(&rows[centre].craft_lost),
            grouped(lost),
            confidence_words(facts.confidence)
        );
        Answer { interval_m: Some(interval_m), below, above, sentence }
    }

    /// Why a height is worse than the centre: the headline that grew most, tied to the input that explains it.
    fn limit(&self, at: usize, centre: usize, rows: &[HeightRow], facts: &SweepFacts) -> String {
        let (out, inside) = (&self.rows[at], &self.rows[centre]);
        let height_m = rows[at].height_m;
        let grew = |h: Headline| out.headlines[h.index()] as i64 - inside.headlines[h.index()] as i64;
        let Some(most) = Headline::ALL
            .into_iter()
            .filter(|&h| is_craft_lost_or_worse(h))
            .max_by_key(|&h| (grew(h), std::cmp::Reverse(h.index())))
            .filter(|&h| grew(h) > 0)
        else {
            return format!("more craft lost at {} m", metres(height_m));
        };
        let of = out.danger.len() as f64;
        let count = format!(
            "at {} m {} of 1,000 {}",
            metres(height_m),
            per_thousand(out.headlines[most.index()] as f64 / of),
            most.label()
        );
        let lower = height_m < rows[centre].height_m;
        let reason = match most {
            Headline::Struck if height_m <= facts.tallest_m => {
                format!("obstacles up to {} m", metres(facts.tallest_m))
            }
            Headline::Struck => "what stands along the ways home".into(),
            Headline::RanDry => "energy: the climb and the wind aloft use up the pack".into(),
            Headline::LeftArea | Headline::InWater if !lower => "wind: it grows with height".into(),
            _ if out.reserve_used > inside.reserve_used && !lower => "energy and wind aloft".into(),
            _ if lower && facts.link_shadow_below_m.is_some_and(|h| height_m < h) => {
                "link shadow: the way home runs where the radio does not reach".into()
            }
            _ if out.fell_back > inside.fell_back => "guards that fail on the way home".into(),
            _ if lower => "the way home at that height".into(),
            _ => "wind aloft".into(),
        };
        format!("{reason} ({count})")
    }
}

struct Answer {
    interval_m: Option<[f64; 2]>,
    below: String,
    above: String,
    sentence: String,
}

impl Answer {
    fn none(sentence: String) -> Answer {
        Answer { interval_m: None, below: String::new(), above: String::new(), sentence }
    }
}

/// Whether the first has clearly more events than the second on the same flights, by at least what matters.
fn clearly_worse(first: &[bool], second: &[bool], facts: &SweepFacts) -> bool {
    let only = |a: &[bool], b: &[bool]| a.iter().zip(b).filter(|(x, y)| **x && !**y).count() as u64;
    let (more, fewer, n) = (only(first, second), only(second, first), first.len() as u64);
    let difference = (more as f64 - fewer as f64) / n as f64;
    difference >= facts.matters && tango(more, fewer, n, facts.confidence).is_ok_and(|ends| ends.low > 0.0)
}

fn metres(x: f64) -> String {
    let text = format!("{x:.1}");
    text.trim_end_matches(".0").to_string()
}

impl HeightTally {
    fn row(&self, height: &SweptHeight, facts: &SweepFacts) -> HeightRow {
        let n = self.danger.len() as u64;
        let count =
            |marks: &[bool]| -> Share { share(marks.iter().filter(|&&m| m).count() as u64, n, facts.confidence) };
        let three = |values: &[f32]| {
            let mut sorted: Vec<f64> = values.iter().filter(|x| x.is_finite()).map(|&x| f64::from(x)).collect();
            sorted.sort_by(f64::total_cmp);
            [0.05, 0.5, 0.95].map(|q| sample_quantile(&sorted, q, QuantileRule::Type8))
        };
        HeightRow {
            height_m: height.height_m,
            speed_mps: height.speed_mps,
            danger: count(&self.danger),
            craft_lost: count(&self.craft_lost),
            at_home: share(self.at_home, n, facts.confidence),
            not_settled: share(self.headlines[Headline::NotSettled.index()], n, facts.confidence),
            pack_left_pct: three(&self.pack_left_pct),
            time_s: three(&self.time_s),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::risk::tally::tests::outcome;

    fn facts() -> SweepFacts {
        SweepFacts {
            title: "t".into(),
            invented: true,
            scenario_hash: "0123456789abcdef".into(),
            policy: "home".into(),
            seed: 1,
            tallest_m: 32.0,
            ceiling_m: 100.0,
            link_shadow_below_m: None,
            matters: 0.005,
            confidence: 0.95,
        }
    }

    /// Heights 20, 30 … 120 m: strikes under 35 m, drift out of the area from 90 m up.
    fn sweep(n: u32) -> HeightsTally {
        let heights: Vec<SweptHeight> =
            (2..=12).map(|i| SweptHeight { height_m: 10.0 * f64::from(i), speed_mps: None }).collect();
        let mut tally = HeightsTally::new(&heights);
        for flight in 0..n {
            let headlines: Vec<Headline> = heights
                .iter()
                .map(|h| {
                    let roll = flight % 100;
                    if h.height_m < 35.0 && roll < 20 {
                        Headline::Struck
                    } else if h.height_m >= 90.0 && (50..60).contains(&roll) {
                        Headline::LeftArea
                    } else if roll == 99 {
                        Headline::OnRoad
                    } else {
                        Headline::AtHome
                    }
                })
                .collect();
            tally.push(&outcome(flight, &headlines));
        }
        tally
    }

    #[test]
    fn the_interval_lies_between_obstacles_and_wind() {
        let got = sweep(2_000).finish(&facts());
        assert_eq!(got.interval_m, Some([40.0, 80.0]));
        assert_eq!(got.below, "obstacles up to 32 m (at 30 m 200 of 1,000 struck something at speed)");
        assert_eq!(got.above, "wind: it grows with height (at 90 m 100 of 1,000 left the permitted area)");
        assert!(
            got.sentence.starts_with("Return anywhere between 40 m and 80 m: at 40 m danger to others 10 of 1,000")
        );
        assert_eq!((got.rows.len(), got.flights, got.rows[0].craft_lost.events), (11, 2_000, 420));
    }

    /// Heights × speeds: the run of heights is that of the best speed.
    #[test]
    fn speeds_are_swept_too() {
        let heights: Vec<SweptHeight> = [30.0, 50.0, 70.0]
            .into_iter()
            .flat_map(|height_m| [5.0, 12.0].map(|v| SweptHeight { height_m, speed_mps: Some(v) }))
            .collect();
        let mut tally = HeightsTally::new(&heights);
        for flight in 0..1_000 {
            let headlines: Vec<Headline> = heights
                .iter()
                .map(|h| {
                    if h.speed_mps == Some(5.0) && flight % 10 == 0 {
                        Headline::LeftArea
                    } else if h.height_m < 40.0 && flight % 7 == 0 {
                        Headline::Struck
                    } else {
                        Headline::AtHome
                    }
                })
                .collect();
            tally.push(&outcome(flight, &headlines));
        }
        let got = tally.finish(&facts());
        assert_eq!(got.interval_m, Some([50.0, 70.0]));
        assert!(
            got.sentence.starts_with("Return anywhere between 50 m and 70 m with 12 m/s: at 50 m"),
            "{}",
            got.sentence
        );
        assert_eq!(got.above, "no limit found; 70 m was the highest tried");
    }

    #[test]
    fn ceiling_and_ends_of_the_sweep_limit_too() {
        let low = sweep(2_000).finish(&SweepFacts { ceiling_m: 65.0, ..facts() });
        assert_eq!((low.interval_m, low.above.as_str()), (Some([40.0, 60.0]), "the ceiling of 65 m"));
        let none = sweep(100).finish(&SweepFacts { ceiling_m: 10.0, ..facts() });
        assert_eq!(none.interval_m, None);
        assert!(none.sentence.contains("above the ceiling"));
        let never = HeightsTally::new(&[SweptHeight { height_m: 30.0, speed_mps: None }]).finish(&facts());
        assert!(never.sentence.contains("never lost"));
        let (whole, mut parts) = (sweep(2_000), sweep(2_000));
        parts.merge(HeightsTally::new(&whole.heights));
        assert_eq!(whole.finish(&facts()), parts.finish(&facts()));
    }
}
