//! What drives the danger: one input moved to its 10 % and 90 % value on the same flights.

use super::faults::is_faulted;
use super::outcome::is_danger;
use super::summary::WhatIf;
use crate::flight::FlightOutcome;
use crate::stats::paired::tango;

/// How each flight of a run ended under one policy, as far as danger goes; in flight order.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DangerLog {
    marks: Vec<Mark>,
    faulted: u64,
}

/// One flight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mark {
    /// The link was never lost, or the simulation faulted.
    NotLost,
    /// Lost, no danger.
    Fine,
    /// Lost, danger to others.
    Danger,
}

impl DangerLog {
    /// An empty log.
    pub fn new() -> Self {
        Self::default()
    }

    /// Notes one flight under one policy.
    pub fn push(&mut self, outcome: &FlightOutcome, policy: usize) {
        if is_faulted(outcome) {
            self.faulted += 1;
            self.marks.push(Mark::NotLost);
            return;
        }
        let mark = match (&outcome.loss, outcome.endings.get(policy)) {
            (Some(_), Some(ending)) if is_danger(ending.headline) => Mark::Danger,
            (Some(_), Some(_)) => Mark::Fine,
            _ => Mark::NotLost,
        };
        self.marks.push(mark);
    }

    /// Adds the log of the flights that follow.
    pub fn merge(&mut self, later: DangerLog) {
        self.marks.extend(later.marks);
        self.faulted += later.faulted;
    }

    /// Flights that count as not lost because the simulation faulted.
    pub fn faulted(&self) -> u64 {
        self.faulted
    }

    /// Flights noted.
    pub fn len(&self) -> usize {
        self.marks.len()
    }

    /// Whether none is noted.
    pub fn is_empty(&self) -> bool {
        self.marks.is_empty()
    }
}

/// Change of the danger share from `base` to `changed`, in points, with its paired interval, over the flights that
/// lost the link in both (shares are per lost link). Without any such flight the change is NaN and the interval ± 100.
pub fn change(base: &DangerLog, changed: &DangerLog, confidence: f64) -> (f64, [f64; 2]) {
    let (mut more, mut fewer, mut both_lost) = (0, 0, 0);
    for (&before, &after) in base.marks.iter().zip(&changed.marks) {
        if before == Mark::NotLost || after == Mark::NotLost {
            continue;
        }
        both_lost += 1;
        more += u64::from(before == Mark::Fine && after == Mark::Danger);
        fewer += u64::from(before == Mark::Danger && after == Mark::Fine);
    }
    match tango(more, fewer, both_lost, confidence) {
        Ok(ends) => {
            let points = 100.0 * (more as f64 - fewer as f64) / both_lost as f64;
            (points, [100.0 * ends.low, 100.0 * ends.high])
        }
        Err(_) => (f64::NAN, [-100.0, 100.0]),
    }
}

/// One bar: `key` at its 10 % and its 90 % value against the base, for the recommended policy.
pub fn bar(
    key: &str,
    values: [f64; 2],
    policy: usize,
    base: &DangerLog,
    changed: [&DangerLog; 2],
    confidence: f64,
) -> WhatIf {
    let [low, high] = changed.map(|log| change(base, log, confidence));
    WhatIf { key: key.into(), values, policy, change_points: [low.0, high.0], interval_points: [low.1, high.1] }
}

/// Sorts bars so that the input that moves the danger most comes first; ties keep the file's order.
pub fn sort(bars: &mut [WhatIf]) {
    let size =
        |bar: &WhatIf| bar.change_points.iter().filter(|x| x.is_finite()).fold(0.0_f64, |most, x| most.max(x.abs()));
    bars.sort_by(|a, b| size(b).total_cmp(&size(a)));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::Headline;
    use crate::risk::tally::tests::outcome;

    fn log(marks: &[Option<bool>]) -> DangerLog {
        let mut log = DangerLog::new();
        for (flight, mark) in marks.iter().enumerate() {
            let headline = if *mark == Some(true) { Headline::OnRoad } else { Headline::AtHome };
            let mut flight = outcome(flight as u32, &[headline]);
            if mark.is_none() {
                flight.loss = None;
                flight.endings.clear();
            }
            log.push(&flight, 0);
        }
        log
    }

    /// Only flights lost in both runs count: here four of five, with one turned to danger.
    #[test]
    fn change_is_paired_over_lost_links() {
        let base = log(&[Some(false), Some(false), Some(true), Some(false), None]);
        let worse = log(&[Some(true), Some(false), Some(true), Some(false), Some(true)]);
        let (points, ends) = change(&base, &worse, 0.95);
        assert_eq!(points, 25.0);
        let expected = tango(1, 0, 4, 0.95).unwrap();
        assert_eq!(ends, [100.0 * expected.low, 100.0 * expected.high]);
        let bar_of = bar("weather.wind_mps", [2.0, 8.0], 0, &base, [&base, &worse], 0.95);
        assert_eq!(bar_of.change_points, [0.0, 25.0]);
        let mut bars = vec![WhatIf { change_points: [f64::NAN, 1.0], ..bar_of.clone() }, bar_of];
        sort(&mut bars);
        assert_eq!(bars[0].change_points[1], 25.0);
        assert!(change(&log(&[None]), &base, 0.95).0.is_nan());
    }
}
