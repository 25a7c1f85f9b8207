//! Shares in words: natural frequencies with one denominator, bounds instead of zeros.

use super::summary::Share;
use crate::plan::words::set_apart;
pub use crate::plan::words::{grouped, list, named};
use crate::stats::proportion::clopper_pearson;

/// The one denominator of natural frequencies.
pub const PER: f64 = 1_000.0;

/// A share with its Clopper–Pearson interval; out of none the interval is 0 to 1.
pub fn share(events: u64, of: u64, confidence: f64) -> Share {
    let ends = clopper_pearson(events, of, confidence);
    Share { events, of, low: ends.as_ref().map_or(0.0, |i| i.low), high: ends.map_or(1.0, |i| i.high) }
}

/// A number with a true minus sign and thousands set apart; a dash when there is none.
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".into();
    }
    let text = format!("{:.decimals$}", value.abs());
    let (whole, rest) = text.split_at(text.find('.').unwrap_or(text.len()));
    let zero = text.chars().all(|c| c == '0' || c == '.');
    format!("{}{}{rest}", if value < 0.0 && !zero { "−" } else { "" }, set_apart(whole))
}

/// A number with a sign.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    if value > 0.0 && text.chars().any(|c| c.is_ascii_digit() && c != '0') { format!("+{text}") } else { text }
}

/// Which way a number is rounded. Ends of intervals and bounds go outward, so that what is printed holds what was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Toward {
    Nearest,
    Down,
    Up,
}

impl Toward {
    /// To a whole number. What is a hair from one is that one.
    fn whole(self, x: f64) -> f64 {
        match self {
            Toward::Nearest => x.round(),
            Toward::Down => libm::floor(x + 1e-9),
            Toward::Up => libm::ceil(x - 1e-9),
        }
    }
}

/// Two significant digits under 10, else a whole number; no trailing zeros after the point.
fn two_digits(x: f64, toward: Toward) -> String {
    if x.is_nan() || x <= 0.0 {
        return "0".into();
    }
    if x >= 9.95 && (toward == Toward::Nearest || x >= 10.0) {
        return grouped(toward.whole(x) as u64);
    }
    let decimals = (1 - libm::floor(libm::log10(x)) as i32).clamp(0, 12) as usize;
    let scale = libm::pow(10.0, decimals as f64);
    let text = format!("{:.decimals$}", toward.whole(x * scale) / scale);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}

/// A share as a number out of 1,000: `31`, `7.2`, `0.074`, `999.3`. Under 10 two significant digits, else a whole number; of
/// what is nearly all one decimal. One that is not all never rounds to 1,000, nor one that is not nothing to 0.
pub fn per_thousand(share: f64) -> String {
    rounded(share, Toward::Nearest)
}

/// The lower end of an interval out of 1,000, rounded down: 998.157 is `998.1`.
pub fn at_least(share: f64) -> String {
    rounded(share, Toward::Down)
}

/// The upper end of an interval out of 1,000, rounded up: 1.843 is `1.9`. The end may be 1,000 itself.
pub fn at_most(share: f64) -> String {
    rounded(share, Toward::Up)
}

fn rounded(share: f64, toward: Toward) -> String {
    let x = PER * share;
    if x <= PER / 2.0 || x.is_nan() {
        return two_digits(x, toward);
    }
    let scale = if PER - x < 9.95 { 10.0 } else { 1.0 };
    let mut value = toward.whole(x * scale) / scale;
    if share < 1.0 && value >= PER && toward != Toward::Up {
        value = PER - 1.0 / scale;
    }
    if value >= PER { grouped(value as u64) } else { format!("{value:.1}").trim_end_matches(".0").to_string() }
}

/// A difference of shares per 1,000, signed: `+5`, `−31`, `+0.4`.
pub fn difference(difference: f64) -> String {
    let text = per_thousand(difference.abs());
    match difference {
        d if d.is_nan() => "–".into(),
        d if d.abs() * PER < 1e-9 => "0".into(),
        d if d < 0.0 => format!("−{text}"),
        _ => format!("+{text}"),
    }
}

/// The ends of a difference's interval per 1,000, signed and rounded outward: `−12 to −1`.
pub fn difference_range(low: f64, high: f64) -> String {
    let end = |end: f64, outward: Toward| {
        let inward = if outward == Toward::Up { Toward::Down } else { Toward::Up };
        match end {
            e if e.is_nan() => "–".into(),
            e if e.abs() * PER < 1e-9 => "0".into(),
            e if e < 0.0 => format!("−{}", rounded(-e, inward)),
            e => format!("+{}", rounded(e, outward)),
        }
    };
    format!("{} to {}", end(low, Toward::Down), end(high, Toward::Up))
}

/// A share as natural frequency with its interval: `7 of 1,000 (2.8 to 15)`; with no event the bound: `none seen in 5,000
/// (fewer than 0.74 of 1,000)`; with only events `all of 5,000 (more than 999.2 of 1,000)`.
pub fn frequency(share: &Share) -> String {
    frequency_in(share, " of 1,000")
}

/// The same where the text says before that it tells of 1,000: `7 (2.8 to 15)`.
pub fn bare_frequency(share: &Share) -> String {
    frequency_in(share, "")
}

/// The same with what is counted named before the interval: `7 of 1,000 lost links (2.8 to 15)`.
pub fn frequency_among(share: &Share, what: &str) -> String {
    let text = frequency(share);
    if share.of == 0 || share.events == 0 { text } else { text.replacen(" (", &format!(" {what} ("), 1) }
}

fn frequency_in(share: &Share, unit: &str) -> String {
    if share.of == 0 {
        "no lost link".into()
    } else if share.events == 0 {
        format!("none seen in {} (fewer than {}{unit})", grouped(share.of), at_most(share.high))
    } else if share.events == share.of {
        format!("all of {} (more than {}{unit})", grouped(share.of), at_least(share.low))
    } else {
        format!("{}{unit} ({})", per_thousand(share.estimate()), range(share))
    }
}

/// The ends of a share's interval out of 1,000, rounded outward: `2.8 to 15`, `fewer than 0.74`, `more than 999.2`.
pub fn range(share: &Share) -> String {
    if share.events == 0 {
        format!("fewer than {}", at_most(share.high))
    } else if share.events == share.of {
        format!("more than {}", at_least(share.low))
    } else {
        format!("{} to {}", at_least(share.low), at_most(share.high))
    }
}

/// A share for a cell or a label: `7.1`, `< 0.74`, `> 999.2`.
pub fn brief(share: &Share) -> String {
    match (share.events, share.of) {
        (_, 0) => "–".into(),
        (0, _) => format!("< {}", at_most(share.high)),
        (events, of) if events == of => format!("> {}", at_least(share.low)),
        _ => per_thousand(share.estimate()),
    }
}

/// Nothing seen, as a sentence part: `none in 5,000; we can be 95 % sure that the rate is below 0.74 of 1,000`. The bound is the one
/// printed elsewhere for the same share, the upper end of its two-sided interval.
pub fn none_seen(of: u64, confidence: f64) -> String {
    format!(
        "none in {}; we can be {} sure that the rate is below {} of 1,000",
        grouped(of),
        confidence_words(confidence),
        at_most(share(0, of, confidence).high)
    )
}

/// A confidence in per cent: `95 %`.
pub fn confidence_words(confidence: f64) -> String {
    let text = format!("{:.2}", 100.0 * confidence);
    format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
}

/// The direction of a vector, east and north: the nearest of eight, by name.
pub fn direction([east, north]: [f64; 2]) -> &'static str {
    const NAMES: [&str; 8] = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
    let bearing_deg = libm::atan2(east, north).to_degrees().rem_euclid(360.0);
    NAMES[(bearing_deg / 45.0).round() as usize % NAMES.len()]
}

/// The first letter large.
pub fn sentence(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().map_or(String::new(), |first| first.to_uppercase().chain(characters).collect())
}

/// A size given in percentage points as natural frequency: `31 of 1,000`, `under 0.5 of 1,000`.
pub fn points_of_thousand(points: f64) -> String {
    let share = points.abs() / 100.0;
    if share * PER < 0.5 { "under 0.5 of 1,000".into() } else { format!("{} of 1,000", per_thousand(share)) }
}

/// Rounded up to two significant digits, for numbers of flights asked for.
pub fn round_up(x: f64) -> u64 {
    if x < 100.0 {
        return x.ceil() as u64;
    }
    let scale = libm::pow(10.0, libm::floor(libm::log10(x)) - 1.0);
    // A whole number of scales may come out a hair above itself.
    ((x / scale - 1e-9).ceil() * scale).round() as u64
}

/// A number of flights asked for: `about 3,100 flights`; beyond ten million nobody flies them.
pub fn flights(needed: u64) -> String {
    if needed > 10_000_000 {
        "more than 10 million flights".into()
    } else {
        format!("about {} flights", grouped(needed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_in_words() {
        let s = |events, of| share(events, of, 0.95);
        assert_eq!(frequency(&s(7, 1_000)), "7 of 1,000 (2.8 to 15)");
        assert_eq!(bare_frequency(&s(7, 1_000)), "7 (2.8 to 15)");
        // Clopper-Pearson for 0 of 5,000 at 95 %: upper end 0.0738 %.
        assert_eq!(frequency(&s(0, 5_000)), "none seen in 5,000 (fewer than 0.74 of 1,000)");
        assert_eq!(frequency(&s(5_000, 5_000)), "all of 5,000 (more than 999.2 of 1,000)");
        assert_eq!(frequency(&s(4_999, 5_000)), "999.8 of 1,000 (998.8 to 1,000)");
        assert_eq!(frequency(&s(1_570, 5_000)), "314 of 1,000 (301 to 328)");
        assert_eq!(none_seen(5_000, 0.95), "none in 5,000; we can be 95 % sure that the rate is below 0.74 of 1,000");
        assert_eq!((brief(&s(0, 5_000)), brief(&s(5_000, 5_000))), ("< 0.74".into(), "> 999.2".into()));
        assert_eq!(brief(&s(0, 0)), "–");
        assert_eq!(
            [0.0071, 0.000_62, 0.0714, 0.713, 0.996_93, 0.5, 1.0, 0.999_97].map(per_thousand),
            ["7.1", "0.62", "71", "713", "996.9", "500", "1,000", "999.9"]
        );
        assert_eq!([-0.0312, 0.000_4, 0.0, 1.0, 0.005].map(difference), ["−31", "+0.4", "0", "+1,000", "+5"]);
        assert_eq!(
            (grouped(999), grouped(1_000), grouped(1_234_567)),
            ("999".into(), "1,000".into(), "1,234,567".into())
        );
        assert_eq!((round_up(3_074.0), round_up(3_000.0), round_up(41.2)), (3_100, 3_000, 42));
        assert_eq!(
            (points_of_thousand(1.0), points_of_thousand(-3.12), points_of_thousand(0.01)),
            ("10 of 1,000".into(), "31 of 1,000".into(), "under 0.5 of 1,000".into())
        );
        assert_eq!(named(&["a", "b", "c"]), "\"a\", \"b\" and \"c\"");
    }

    #[test]
    fn numbers_have_a_minus_sign_and_commas() {
        assert_eq!(number(-1234.56, 1), "−1,234.6");
        assert_eq!(number(-0.01, 1), "0.0");
        assert_eq!(signed(0.5, 1), "+0.5");
        assert_eq!(list(&["a".into(), "b".into(), "c".into()]), "a, b and c");
    }

    /// What is printed as a bound holds the bound.
    #[test]
    fn bounds_round_outward() {
        assert_eq!([0.001_843, 0.009_96, 0.010_1, 0.999_99].map(at_most), ["1.9", "10", "11", "1,000"]);
        assert_eq!([0.998_157, 0.986_9, 0.009_96, 0.000_019_9].map(at_least), ["998.1", "986", "9.9", "0.019"]);
        assert_eq!([0.005, 0.02, 0.97].map(at_least), [0.005, 0.02, 0.97].map(at_most));
        let none = Share { events: 0, of: 2_000, low: 0.0, high: 0.001_843 };
        assert_eq!(range(&none), "fewer than 1.9");
        assert_eq!(range(&Share { events: 2_000, low: 0.998_157, high: 1.0, ..none }), "more than 998.1");
        assert_eq!(difference_range(-0.012_3, -0.001_01), "−13 to −1");
        assert_eq!(difference_range(-0.006_87, 0.006_87), "−6.9 to +6.9");
        for k in 1..4_000 {
            let share = f64::from(k) / 4_001.0;
            let value = |text: String| text.replace(',', "").parse::<f64>().unwrap();
            assert!(
                value(at_least(share)) <= PER * share + 1e-6 && value(at_most(share)) >= PER * share - 1e-6,
                "{share}"
            );
        }
    }

    /// Nothing seen is never printed as zero, nor something as everything.
    #[test]
    fn no_share_prints_as_zero_or_everything() {
        for of in [1_u64, 7, 100, 5_000, 1_000_000] {
            for events in [0, 1, of / 2, of.saturating_sub(1), of] {
                let s = share(events, of, 0.95);
                for text in [frequency(&s), bare_frequency(&s), range(&s), brief(&s)] {
                    let head = text.split_whitespace().next().unwrap();
                    assert!(head != "0" && head != "100", "{events} of {of}: {text}");
                    assert!(head != "1,000" || events == of, "{events} of {of}: {text}");
                }
            }
        }
    }
}
