//! Shares in words: natural frequencies with one denominator, bounds instead of zeros.

use super::summary::Share;
use crate::stats::proportion::{clopper_pearson, upper_bound_one_sided};

/// The one denominator of natural frequencies.
pub const PER: f64 = 1_000.0;

/// A share with its Clopper–Pearson interval; out of none the interval is 0 to 1.
pub fn share(events: u64, of: u64, confidence: f64) -> Share {
    let ends = clopper_pearson(events, of, confidence);
    Share { events, of, low: ends.as_ref().map_or(0.0, |i| i.low), high: ends.map_or(1.0, |i| i.high) }
}

/// A whole number with thousands separators: `5,000`.
pub fn grouped(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// Two significant digits under 10, else a whole number; no trailing zeros after the point.
fn two_digits(x: f64) -> String {
    if x >= 9.95 {
        return grouped(x.round() as u64);
    }
    if x.is_nan() || x <= 0.0 {
        return "0".into();
    }
    let decimals = (1 - libm::floor(libm::log10(x)) as i32).clamp(0, 12) as usize;
    let text = format!("{x:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}

/// A share as a number out of 1,000: `31`, `7.2`, `0.074`. One that is not all never rounds to 1,000.
pub fn per_thousand(share: f64) -> String {
    let x = PER * share;
    if share < 1.0 && x >= PER - 0.5 {
        // The complement carries the digits: 999.3, not 1,000.
        let rest = two_digits(PER - x);
        let decimals = rest.split_once('.').map_or(0, |(_, d)| d.len());
        let scale = libm::pow(10.0, decimals as f64);
        let complement: f64 = rest.parse().unwrap_or(0.0);
        return format!("{:.decimals$}", ((PER - complement) * scale).round() / scale);
    }
    two_digits(x)
}

/// A share as natural frequency with its interval: `7 of 1,000 (2.8 to 14)`; with no event the bound: `none of 5,000
/// seen (under 0.74 of 1,000)`; with only events `all of 5,000 (over 999.3 of 1,000)`.
pub fn frequency(share: &Share) -> String {
    if share.of == 0 {
        "none lost".into()
    } else if share.events == 0 {
        format!("none of {} seen (under {} of 1,000)", grouped(share.of), per_thousand(share.high))
    } else if share.events == share.of {
        format!("all of {} (over {} of 1,000)", grouped(share.of), per_thousand(share.low))
    } else {
        format!("{} of 1,000 ({})", per_thousand(share.estimate()), range(share))
    }
}

/// The ends of a share's interval out of 1,000: `2.8 to 14`, `under 0.74`, `over 999.3`.
pub fn range(share: &Share) -> String {
    if share.events == 0 {
        format!("under {}", per_thousand(share.high))
    } else if share.events == share.of {
        format!("over {}", per_thousand(share.low))
    } else {
        format!("{} to {}", per_thousand(share.low), per_thousand(share.high))
    }
}

/// A share in per cent: `0.7 %`, `under 0.074 %` without an event, `over 99.93 %` with nothing else.
pub fn percent(share: &Share) -> String {
    let text = |x: f64| {
        let p = 100.0 * x;
        if x < 1.0 && p >= 99.5 { format!("{:.2}", (p.min(99.995) * 100.0).floor() / 100.0) } else { two_digits(p) }
    };
    if share.of == 0 {
        "none lost".into()
    } else if share.events == 0 {
        format!("under {} %", text(share.high))
    } else if share.events == share.of {
        format!("over {} %", text(share.low))
    } else {
        format!("{} %", text(share.estimate()))
    }
}

/// Nothing seen, as a sentence part: `none in 5,000; we can be 95 % sure it is under 0.6 of 1,000`.
pub fn none_seen(of: u64, confidence: f64) -> String {
    let bound = upper_bound_one_sided(0, of, confidence).unwrap_or(1.0);
    format!(
        "none in {}; we can be {} sure it is under {} of 1,000",
        grouped(of),
        confidence_words(confidence),
        per_thousand(bound)
    )
}

/// A confidence in per cent: `95 %`.
pub fn confidence_words(confidence: f64) -> String {
    let text = format!("{:.2}", 100.0 * confidence);
    format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
}

/// Names in quotes, joined: `"a"`, `"a" and "b"`, `"a", "b" and "c"`.
pub fn named(names: &[&str]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    match quoted.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// Percentage points: `3.1 points`, `1 point`, `under 0.05 points`.
pub fn points(x: f64) -> String {
    let x = x.abs();
    if x < 0.05 {
        return "under 0.05 points".into();
    }
    let text = if x < 9.95 { format!("{x:.1}") } else { format!("{x:.0}") };
    let text = text.trim_end_matches(".0");
    format!("{text} point{}", if text == "1" { "" } else { "s" })
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_in_words() {
        let s = |events, of| share(events, of, 0.95);
        assert_eq!(frequency(&s(7, 1_000)), "7 of 1,000 (2.8 to 14)");
        assert_eq!(frequency(&s(0, 5_000)), "none of 5,000 seen (under 0.74 of 1,000)");
        assert_eq!(frequency(&s(5_000, 5_000)), "all of 5,000 (over 999 of 1,000)");
        assert_eq!(frequency(&s(4_999, 5_000)), "999.8 of 1,000 (999 to 999.9949)");
        assert_eq!(frequency(&s(1_570, 5_000)), "314 of 1,000 (301 to 327)");
        assert_eq!(none_seen(5_000, 0.95), "none in 5,000; we can be 95 % sure it is under 0.6 of 1,000");
        assert_eq!(percent(&s(0, 5_000)), "under 0.074 %");
        assert_eq!(percent(&s(35, 5_000)), "0.7 %");
        assert_eq!(percent(&s(4_999, 5_000)), "99.98 %");
        assert_eq!(
            (grouped(999), grouped(1_000), grouped(1_234_567)),
            ("999".into(), "1,000".into(), "1,234,567".into())
        );
        assert_eq!((round_up(3_074.0), round_up(3_000.0), round_up(41.2)), (3_100, 3_000, 42));
        assert_eq!(
            (points(1.0), points(-3.12), points(0.01)),
            ("1 point".into(), "3.1 points".into(), "under 0.05 points".into())
        );
        assert_eq!(named(&["a", "b", "c"]), "\"a\", \"b\" and \"c\"");
    }

    /// Nothing seen is never printed as zero, nor something as everything.
    #[test]
    fn no_share_prints_as_zero_or_everything() {
        for of in [1_u64, 7, 100, 5_000, 1_000_000] {
            for events in [0, 1, of / 2, of.saturating_sub(1), of] {
                let s = share(events, of, 0.95);
                for text in [frequency(&s), percent(&s), range(&s)] {
                    let head = text.split_whitespace().next().unwrap();
                    assert!(head != "0" && head != "100", "{events} of {of}: {text}");
                    assert!(head != "1,000" || events == of, "{events} of {of}: {text}");
                }
            }
        }
    }
}
