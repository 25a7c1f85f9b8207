//! What drives the danger: one input moved to its 10 % and 90 % value on the same flights.

use super::end_log::EndLog;
use super::summary::WhatIf;
use crate::stats::paired::tango;
use std::collections::BTreeMap;

/// The run whose answer is asked about, and its policy.
#[derive(Clone, Copy)]
pub struct Base<'a> {
    /// Endings of the run.
    pub log: &'a EndLog,
    /// Policy.
    pub policy: usize,
}

/// Change of the danger share from `base` to `changed`, which flew that policy alone, in points, with its paired interval, over the
/// flights that lost the link in both (shares are per lost link). Without any such flight the change is NaN and the interval ± 100.
fn change(base: Base, changed: &EndLog, confidence: f64) -> (f64, [f64; 2]) {
    let before: BTreeMap<u32, bool> = base.log.dangers(base.policy).collect();
    let (mut more, mut fewer, mut both_lost) = (0, 0, 0);
    for (flight, after) in changed.dangers(0) {
        let Some(&before) = before.get(&flight) else { continue };
        both_lost += 1;
        more += u64::from(!before && after);
        fewer += u64::from(before && !after);
    }
    match tango(more, fewer, both_lost, confidence) {
        Ok(ends) => {
            let points = 100.0 * (more as f64 - fewer as f64) / both_lost as f64;
            (points, [100.0 * ends.low, 100.0 * ends.high])
        }
        Err(_) => (f64::NAN, [-100.0, 100.0]),
    }
}

/// One bar: `key` at its 10 % and its 90 % value against the run.
pub fn bar(key: &str, values: [f64; 2], base: Base, changed: [&EndLog; 2], confidence: f64) -> WhatIf {
    let [low, high] = changed.map(|log| change(base, log, confidence));
    WhatIf {
        key: key.into(),
        values,
        policy: base.policy,
        change_points: [low.0, high.0],
        interval_points: [low.1, high.1],
    }
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

    /// Two policies, of which the second ends as told.
    fn base(marks: &[Option<bool>]) -> EndLog {
        log(marks, &[Headline::AtHome])
    }

    fn log(marks: &[Option<bool>], others: &[Headline]) -> EndLog {
        let mut log = EndLog::default();
        for (flight, mark) in marks.iter().enumerate() {
            let headline = if *mark == Some(true) { Headline::OnRoad } else { Headline::AtHome };
            let mut flight = outcome(flight as u32, &[others, &[headline]].concat());
            if mark.is_none() {
                flight.loss = None;
                flight.endings.clear();
            }
            log.push(&flight);
        }
        log
    }

    /// Only flights lost in both runs count: here four of five, with one turned to danger.
    #[test]
    fn change_is_paired_over_lost_links() {
        let run = base(&[Some(false), Some(false), Some(true), Some(false), None]);
        let base_of = |log| Base { log, policy: 1 };
        let worse = log(&[Some(true), Some(false), Some(true), Some(false), Some(true)], &[]);
        let (points, ends) = change(base_of(&run), &worse, 0.95);
        assert_eq!(points, 25.0);
        let expected = tango(1, 0, 4, 0.95).unwrap();
        assert_eq!(ends, [100.0 * expected.low, 100.0 * expected.high]);
        let same = log(&[Some(false), Some(false), Some(true), Some(false), None], &[]);
        let bar_of = bar("weather.wind_mps", [2.0, 8.0], base_of(&run), [&same, &worse], 0.95);
        assert_eq!((bar_of.policy, bar_of.change_points), (1, [0.0, 25.0]));
        let mut bars = vec![WhatIf { change_points: [f64::NAN, 1.0], ..bar_of.clone() }, bar_of];
        sort(&mut bars);
        assert_eq!(bars[0].change_points[1], 25.0);
        assert!(change(base_of(&base(&[None])), &same, 0.95).0.is_nan());
    }
}
