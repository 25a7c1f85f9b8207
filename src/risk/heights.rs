//! A sweep of return heights on the same flights: rows, the recommended interval, what limits it.

use super::faults::Faults;
use super::outcome::Concern;
use super::summary::{HEIGHTS_FORMAT, HeightRow, Heights, SUMMARY_VERSION, Share};
use super::words::{brief, confidence_words, frequency, grouped, share};
use crate::flight::{Flags, FlightOutcome, Headline};
use crate::scenario::Matters;
use crate::stats::paired::tango;
use crate::stats::quantile::{QuantileRule, sample_quantile};

/// Recommended heights are multiples of this, rounded to the careful side: the lower end up, the upper down. Estimate: what a
/// pilot sets.
pub const ROUND_M: f64 = 5.0;

/// A height has room under the ceiling when no more of the lost links than this rise above it. Estimate.
const ABOVE_CEILING_AT_MOST: f64 = 0.05;

/// One height of the sweep, flown as one policy of the flights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SweptHeight {
    /// Return height, in the policy's own form.
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
    /// Above what its heights are.
    pub measured_from: &'static str,
    /// Seed.
    pub seed: u64,
    /// Tallest thing on the ways home, measured as the heights are.
    pub tallest_m: f64,
    /// Height asked between that and a recommended height.
    pub clearance_m: f64,
    /// Greatest permitted height on the ways home, measured as the heights are.
    pub ceiling_m: f64,
    /// What the assessment says against returning.
    pub first: Option<String>,
    /// Smallest differences that matter.
    pub matters: Matters,
    /// Confidence of intervals.
    pub confidence: f64,
}

/// What is kept of each lost link, for pairing.
#[derive(Debug, Clone, Copy)]
struct End {
    headline: Headline,
    flags: Flags,
}

/// Endings at one height, in flight order.
#[derive(Debug, Clone, Default)]
struct HeightTally {
    ends: Vec<End>,
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
            row.ends.push(End { headline: ending.headline, flags: ending.flags });
            row.pack_left_pct.push(ending.pack_left_pct);
            row.time_s.push(ending.time_to_end_s);
        }
    }

    /// The sweep's answer: of the heights that clear what stands on the ways home and keep under the ceiling those that cannot be
    /// told apart from the best, in an unbroken run around it.
    ///
    /// A height drops out when in some concern its paired Tango interval against the best excludes 0 and it is worse by at least
    /// what matters. Levels are not adjusted for the number of heights: dropping a good height is the cautious error.
    pub fn finish(self, facts: &SweepFacts) -> Heights {
        let rows: Vec<HeightRow> = self.rows.iter().zip(&self.heights).map(|(t, h)| t.row(h, facts)).collect();
        let answer = self.recommend(&rows, facts);
        Heights {
            format: HEIGHTS_FORMAT.into(),
            version: SUMMARY_VERSION,
            title: facts.title.clone(),
            invented: facts.invented,
            program_version: env!("CARGO_PKG_VERSION").into(),
            scenario_hash: facts.scenario_hash.clone(),
            policy: facts.policy.clone(),
            measured_from: facts.measured_from.into(),
            seed: facts.seed,
            flights: self.flights,
            matters: facts.matters,
            faults: self.faults,
            rows,
            tallest_m: facts.tallest_m,
            clearance_m: facts.clearance_m,
            ceiling_m: facts.ceiling_m,
            interval_m: answer.interval_m,
            below: answer.below,
            above: answer.above,
            first: facts.first.clone(),
            sentence: answer.sentence,
        }
    }

    fn recommend(&self, rows: &[HeightRow], facts: &SweepFacts) -> Answer {
        let lost = self.rows.first().map_or(0, |row| row.ends.len() as u64);
        if lost == 0 {
            return Answer::none(format!("the link was never lost in {} flights", grouped(self.flights)));
        }
        let clear: Vec<usize> = (0..rows.len()).filter(|&i| is_clear(&rows[i], facts)).collect();
        if clear.is_empty() {
            return Answer::none(format!("no height tried is {}", clearance(facts)));
        }
        let allowed: Vec<usize> = clear.into_iter().filter(|&i| has_room(&rows[i], facts)).collect();
        let Some(centre) = self.best_of(&allowed, facts) else {
            return Answer::none(format!(
                "no height tried that is {} keeps under the ceiling of {} m",
                clearance(facts),
                metres(facts.ceiling_m)
            ));
        };
        let good = |i: usize| {
            allowed.contains(&i)
                && (i == centre || Concern::ALL.into_iter().all(|on| !self.clearly_worse(i, centre, on, facts)))
        };
        // The unbroken run lies along the heights flown at the centre's speed.
        let mut line: Vec<usize> = (0..rows.len()).filter(|&i| rows[i].speed_mps == rows[centre].speed_mps).collect();
        line.sort_by(|&i, &j| rows[i].height_m.total_cmp(&rows[j].height_m));
        let place = line.iter().position(|&i| i == centre).unwrap_or(0);
        let first = (0..place).rev().take_while(|&at| good(line[at])).last().unwrap_or(place);
        let last = (place + 1..line.len()).take_while(|&at| good(line[at])).last().unwrap_or(place);
        let ends_m = [first, last].map(|at| rows[line[at]].height_m);
        let below = match first.checked_sub(1).map(|at| line[at]) {
            None => format!("no limit found; {} m was the lowest tried", metres(ends_m[0])),
            Some(i) if !is_clear(&rows[i], facts) => clearance(facts),
            Some(i) => self.limit(i, centre, rows, facts),
        };
        let above = match line.get(last + 1) {
            None => format!("no limit found; {} m was the highest tried", metres(ends_m[1])),
            Some(&i) if rows[i].height_m > facts.ceiling_m => format!("the ceiling of {} m", metres(facts.ceiling_m)),
            Some(&i) if !has_room(&rows[i], facts) => format!(
                "overshoot above the ceiling ({} of 1,000 at {} m)",
                brief(&rows[i].above_ceiling),
                metres(rows[i].height_m)
            ),
            Some(&i) => self.limit(i, centre, rows, facts),
        };
        let interval_m = rounded(ends_m);
        let told = |end: usize, what: &str, is_last: bool| {
            let tried = if is_last { format!(" ({what} tried)") } else { String::new() };
            format!("{} m{tried}", metres(interval_m[end]))
        };
        let speed = rows[centre].speed_mps.map_or(String::new(), |v| format!(" at a speed of {} m/s", metres(v)));
        let (low, high) = (told(0, "the lowest", first == 0), told(1, "the highest", last + 1 == line.len()));
        let heights = if first == last { low } else { format!("{low} to {high}") };
        let worst = |of: fn(&HeightRow) -> Share| {
            let shares = line[first..=last].iter().map(|&i| of(&rows[i]));
            frequency(&shares.max_by_key(|share| share.events).unwrap_or(of(&rows[centre])))
        };
        let sentence = format!(
            "Return at {heights} above {}{speed}. At the worst of these heights: danger to people {}, craft lost or worse {}; heights that are \
             clearly worse are left out ({} sure). Lower limit: {below}. Upper limit: {above}.",
            facts.measured_from,
            worst(|row| row.danger),
            worst(|row| row.craft_lost),
            confidence_words(facts.confidence)
        );
        Answer { interval_m: Some(interval_m), below, above, sentence }
    }

    /// Of these heights the best: concern by concern those that are not clearly worse than the least stay in; of those the one with
    /// the fewest bad ends, the gravest first.
    fn best_of(&self, allowed: &[usize], facts: &SweepFacts) -> Option<usize> {
        let mut left = allowed.to_vec();
        for on in Concern::ALL {
            let least = left.iter().copied().min_by_key(|&i| self.rows[i].events(on))?;
            left.retain(|&i| i == least || !self.clearly_worse(i, least, on, facts));
        }
        left.into_iter().min_by_key(|&i| Concern::ALL.map(|on| self.rows[i].events(on)))
    }

    /// Whether the first height has clearly more such ends than the second on the same flights, by at least what matters.
    fn clearly_worse(&self, first: usize, second: usize, on: Concern, facts: &SweepFacts) -> bool {
        let pairs = || self.rows[first].ends.iter().zip(&self.rows[second].ends);
        let count = |a: bool, b: bool| {
            pairs().filter(|(x, y)| (on.counts(x.headline), on.counts(y.headline)) == (a, b)).count() as u64
        };
        let (more, fewer, n) = (count(true, false), count(false, true), self.rows[first].ends.len() as u64);
        let difference = (more as f64 - fewer as f64) / n as f64;
        difference >= on.matters(&facts.matters)
            && tango(more, fewer, n, facts.confidence).is_ok_and(|ends| ends.low > 0.0)
    }

    /// In what a height is worse than the centre: the headline that grew most in the gravest concern that tells them apart, and
    /// what nearly all of these flights have in common. What was not measured is not told as a cause.
    fn limit(&self, at: usize, centre: usize, rows: &[HeightRow], facts: &SweepFacts) -> String {
        let (out, inside) = (&self.rows[at], &self.rows[centre]);
        let height_m = rows[at].height_m;
        let on =
            Concern::ALL.into_iter().find(|&on| self.clearly_worse(at, centre, on, facts)).unwrap_or(Concern::Away);
        let count =
            |row: &HeightTally, headline: Headline| row.ends.iter().filter(|end| end.headline == headline).count();
        let grown = |headline: &Headline| count(out, *headline) as i64 - count(inside, *headline) as i64;
        let counted = Headline::ALL.into_iter().rev().filter(|&headline| on.counts(headline));
        let most = counted.max_by_key(grown).unwrap_or(Headline::NotSettled);
        let cause = match out.in_common(most, inside) {
            Some(flag) => flag.to_string(),
            None if most == Headline::Struck && height_m <= facts.tallest_m => {
                format!("what stands on the ways home reaches {} m", metres(facts.tallest_m.ceil()))
            }
            None if most == Headline::RanDry => "the charge did not last".into(),
            None => "cause not established".into(),
        };
        let of = out.ends.len() as u64;
        let told = |row: &HeightTally| brief(&share(count(row, most) as u64, of, facts.confidence));
        format!(
            "{}; {cause} ({} of 1,000 at {} m, {} at {} m)",
            most.label(),
            told(out),
            metres(height_m),
            told(inside),
            metres(rows[centre].height_m)
        )
    }
}

struct Answer {
    interval_m: Option<[f64; 2]>,
    below: String,
    above: String,
    sentence: String,
}

impl Answer {
    fn none(why: String) -> Answer {
        let sentence = format!("No height can be recommended: {why}.");
        Answer { interval_m: None, below: String::new(), above: String::new(), sentence }
    }
}

/// Whether a height clears what stands on the ways home by what is asked.
fn is_clear(row: &HeightRow, facts: &SweepFacts) -> bool {
    row.height_m >= facts.tallest_m + facts.clearance_m - 1e-9
}

/// Whether a height and what the flights overshoot it by keep under the ceiling.
fn has_room(row: &HeightRow, facts: &SweepFacts) -> bool {
    row.height_m <= facts.ceiling_m && row.above_ceiling.estimate() <= ABOVE_CEILING_AT_MOST
}

fn clearance(facts: &SweepFacts) -> String {
    format!(
        "{} m above what stands on the ways home, up to {} m",
        metres(facts.clearance_m),
        metres(facts.tallest_m.ceil())
    )
}

/// Rounded to the careful side; as it is when nothing round lies between.
fn rounded(ends_m: [f64; 2]) -> [f64; 2] {
    let low_m = ((ends_m[0] - 1e-9) / ROUND_M).ceil() * ROUND_M;
    let high_m = ((ends_m[1] + 1e-9) / ROUND_M).floor() * ROUND_M;
    if low_m <= high_m { [low_m, high_m] } else { ends_m }
}

fn metres(x: f64) -> String {
    let text = format!("{x:.1}");
    text.trim_end_matches(".0").to_string()
}

impl HeightTally {
    fn events(&self, on: Concern) -> u64 {
        self.ends.iter().filter(|end| on.counts(end.headline)).count() as u64
    }

    /// What at least nine in ten of the ends with a headline have in common, and less than half of all ends of another height.
    fn in_common(&self, headline: Headline, other: &HeightTally) -> Option<&'static str> {
        const TELLING: [Flags; 7] = [
            Flags::PACK_ACTED,
            Flags::FELL_BACK,
            Flags::FIX_LOST,
            Flags::NO_HOME,
            Flags::LOST_AGAIN,
            Flags::VORTEX_RING,
            Flags::RESERVE_USED,
        ];
        let of: Vec<&End> = self.ends.iter().filter(|end| end.headline == headline).collect();
        let with = |ends: &mut dyn Iterator<Item = &End>, flag: Flags| ends.filter(|end| end.flags.has(flag)).count();
        let telling = |flag: &&Flags| {
            10 * with(&mut of.iter().copied(), **flag) >= 9 * of.len()
                && 2 * with(&mut other.ends.iter(), **flag) < other.ends.len()
        };
        let flag = TELLING.iter().find(telling)?;
        Flags::NAMED.iter().find(|named| named.0 == *flag).map(|named| named.1)
    }

    fn row(&self, height: &SweptHeight, facts: &SweepFacts) -> HeightRow {
        let n = self.ends.len() as u64;
        let count = |is: &dyn Fn(&End) -> bool| -> Share {
            share(self.ends.iter().filter(|end| is(end)).count() as u64, n, facts.confidence)
        };
        let three = |values: &[f32]| {
            let mut sorted: Vec<f64> = values.iter().filter(|x| x.is_finite()).map(|&x| f64::from(x)).collect();
            sorted.sort_by(f64::total_cmp);
            [0.05, 0.5, 0.95].map(|q| sample_quantile(&sorted, q, QuantileRule::Type8))
        };
        HeightRow {
            height_m: height.height_m,
            speed_mps: height.speed_mps,
            danger: count(&|end| Concern::Danger.counts(end.headline)),
            craft_lost: count(&|end| Concern::CraftLost.counts(end.headline)),
            at_home: count(&|end| !Concern::Away.counts(end.headline)),
            not_settled: count(&|end| end.headline == Headline::NotSettled),
            above_ceiling: count(&|end| end.flags.has(Flags::ABOVE_CEILING)),
            pack_left_pct: three(&self.pack_left_pct),
            time_s: three(&self.time_s),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::risk::choice::tests::MATTERS;
    use crate::risk::tally::tests::outcome;

    fn facts() -> SweepFacts {
        SweepFacts {
            title: "t".into(),
            invented: true,
            scenario_hash: "0123456789abcdef".into(),
            policy: "home".into(),
            measured_from: "home",
            seed: 1,
            tallest_m: 32.0,
            clearance_m: 5.0,
            ceiling_m: 100.0,
            first: None,
            matters: MATTERS,
            confidence: 0.95,
        }
    }

    fn heights(list: impl IntoIterator<Item = f64>) -> Vec<SweptHeight> {
        list.into_iter().map(|height_m| SweptHeight { height_m, speed_mps: None }).collect()
    }

    /// Heights 20, 30 … 120 m: strikes under 35 m, out of the area from 90 m up, always by a guard that failed.
    fn sweep(n: u32) -> HeightsTally {
        let heights = heights((2..=12).map(|i| 10.0 * f64::from(i)));
        let mut tally = HeightsTally::new(&heights);
        for flight in 0..n {
            let roll = flight % 100;
            let headline = |h: &SweptHeight| {
                if h.height_m < 35.0 && roll < 20 {
                    Headline::Struck
                } else if h.height_m >= 90.0 && (50..60).contains(&roll) {
                    Headline::LeftArea
                } else if roll == 99 {
                    Headline::OnRoad
                } else {
                    Headline::AtHome
                }
            };
            let mut outcome = outcome(flight, &heights.iter().map(headline).collect::<Vec<_>>());
            for ending in outcome.endings.iter_mut().filter(|ending| ending.headline == Headline::LeftArea) {
                ending.flags.set(Flags::FELL_BACK);
            }
            tally.push(&outcome);
        }
        tally
    }

    #[test]
    fn the_interval_lies_between_what_limits_it() {
        let got = sweep(2_000).finish(&facts());
        assert_eq!(got.interval_m, Some([40.0, 80.0]));
        assert_eq!(got.below, "5 m above what stands on the ways home, up to 32 m");
        assert_eq!(
            got.above,
            "left the permitted area; a guard failed, the fallback ran (100 of 1,000 at 90 m, < 1.9 at 40 m)"
        );
        assert!(
            got.sentence.starts_with(
                "Return at 40 m to 80 m above home. At the worst of these heights: danger to people 10 of 1,000 (6.1 to 16), craft lost \
                 or worse 10 of 1,000 (6.1 to 16); heights that are clearly worse are left out (95 % sure)."
            ),
            "{}",
            got.sentence
        );
        assert_eq!((got.rows.len(), got.flights, got.rows[0].craft_lost.events), (11, 2_000, 420));
        // Without a clearance the strikes limit it, and what they have in common is told.
        let bare = sweep(2_000).finish(&SweepFacts { clearance_m: 0.0, tallest_m: 30.0, ..facts() });
        assert_eq!(
            bare.below,
            "struck something at speed; what stands on the ways home reaches 30 m (200 of 1,000 at 30 m, < 1.9 at 40 m)"
        );
        let unknown = sweep(2_000).finish(&SweepFacts { clearance_m: 0.0, tallest_m: 20.0, ..facts() });
        assert!(unknown.below.starts_with("struck something at speed; cause not established ("), "{}", unknown.below);
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
            got.sentence.starts_with("Return at 50 m to 70 m (the highest tried) above home at a speed of 12 m/s. At"),
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
        assert!(none.sentence.ends_with("keeps under the ceiling of 10 m."), "{}", none.sentence);
        let tall = sweep(100).finish(&SweepFacts { tallest_m: 118.5, ..facts() });
        assert_eq!(
            tall.sentence,
            "No height can be recommended: no height tried is 5 m above what stands on the ways home, up to 119 m."
        );
        let never = HeightsTally::new(&heights([30.0])).finish(&facts());
        assert!(never.sentence.contains("never lost"));
    }

    /// A height from which flights rise above the ceiling has no room under it.
    #[test]
    fn overshoot_needs_room_under_the_ceiling() {
        let heights = heights([40.0, 95.0, 100.0]);
        let mut tally = HeightsTally::new(&heights);
        for flight in 0..1_000 {
            let mut outcome = outcome(flight, &[Headline::AtHome; 3]);
            for (ending, every) in outcome.endings.iter_mut().zip([2_000, 50, 10]) {
                if flight % every == 1 {
                    ending.flags.set(Flags::ABOVE_CEILING);
                }
            }
            tally.push(&outcome);
        }
        let got = tally.finish(&facts());
        assert_eq!(got.interval_m, Some([40.0, 95.0]));
        assert_eq!(got.above, "overshoot above the ceiling (100 of 1,000 at 100 m)");
    }

    #[test]
    fn ends_are_rounded_to_the_careful_side() {
        assert_eq!(rounded([41.2, 88.9]), [45.0, 85.0]);
        assert_eq!(rounded([40.0, 85.0]), [40.0, 85.0]);
        assert_eq!(rounded([41.0, 44.0]), [41.0, 44.0]);
    }
}
