//! 'Until tight enough' in two stages: a pilot run sets the number, a fresh run of that many is reported alone.
//! Stopping when an interval gets tight would bias rare shares low, which is the wrong side.

use super::summary::Share;
use super::words::{confidence_words, grouped, points_of_thousand, round_up};
use crate::stats::StatsError;
use crate::stats::proportion::sample_size_half_width;

/// Flights of the fresh run so that the danger share of every policy gets this half-width (as a share).
///
/// Each pilot share enters with the end of its interval that asks for more, and the loss share with its lower end,
/// so that the wish is met even if the pilot run was lucky.
///
/// # Errors
/// A half-width that is not > 0, a confidence outside (0, 1), or a pilot run in which no link was lost.
pub fn fresh_flights(danger: &[Share], lost: &Share, half_width: f64, confidence: f64) -> Result<u64, StatsError> {
    if lost.events == 0 {
        return Err(StatsError::Counts { events: 0, of: lost.of });
    }
    let mut links = 1;
    for share in danger {
        let hardest = 0.5_f64.clamp(share.low, share.high);
        links = links.max(sample_size_half_width(hardest, half_width, confidence)?);
    }
    Ok(round_up(links as f64 / lost.low.max(1e-12)))
}

/// The two stages in words, for the report.
pub fn rule_words(pilot_flights: u64, fresh: u64, half_width: f64, confidence: f64) -> String {
    format!(
        "two stages: a pilot run of {} flights set the number, a fresh run of {} flights is reported alone; aim: every \
         danger share within {} either side ({} interval)",
        grouped(pilot_flights),
        grouped(fresh),
        points_of_thousand(100.0 * half_width),
        confidence_words(confidence)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::stats::proportion::wilson;
    use crate::risk::words::share;

    #[test]
    fn the_fresh_run_is_tight_enough_at_the_pilots_shares() {
        let (danger, lost) = ([share(10, 400, 0.95), share(40, 400, 0.95)], share(400, 500, 0.95));
        let flights = fresh_flights(&danger, &lost, 0.01, 0.95).unwrap();
        let links = (flights as f64 * 0.8) as u64;
        for p in [0.025, 0.1] {
            let got = wilson((p * links as f64) as u64, links, 0.95).unwrap();
            assert!(got.high - got.low <= 0.02, "{flights}: {got:?}");
        }
        assert!(fresh_flights(&danger, &share(0, 500, 0.95), 0.01, 0.95).is_err());
        assert!(fresh_flights(&danger, &lost, 0.0, 0.95).is_err());
        assert_eq!(
            rule_words(500, 7_300, 0.01, 0.95),
            "two stages: a pilot run of 500 flights set the number, a fresh run of 7,300 flights is reported alone; \
             aim: every danger share within 10 of 1,000 either side (95 % interval)"
        );
    }
}
