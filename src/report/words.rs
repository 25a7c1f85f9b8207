//! Numbers in words: natural frequencies with one denominator, bounds where nothing was seen.

use crate::risk::summary::Share;

/// The one denominator: every frequency is told per this many lost links.
pub const PER: f64 = 1000.0;

/// A number with a true minus sign and thousands set apart.
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".into();
    }
    let text = format!("{:.decimals$}", value.abs());
    let (whole, rest) = text.split_once('.').map_or((text.as_str(), None), |(whole, rest)| (whole, Some(rest)));
    let mut grouped = String::new();
    for (index, digit) in whole.chars().enumerate() {
        if index > 0 && (whole.len() - index).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    if let Some(rest) = rest {
        grouped.push('.');
        grouped += rest;
    }
    let zero = text.chars().all(|c| c == '0' || c == '.');
    if value < 0.0 && !zero { format!("−{grouped}") } else { grouped }
}

/// A count with thousands set apart.
pub fn count(value: u64) -> String {
    number(value as f64, 0)
}

/// A number with a sign.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    if value > 0.0 && text.chars().any(|c| c.is_ascii_digit() && c != '0') { format!("+{text}") } else { text }
}

/// A share in [0, 1] as a number out of 1,000, to two significant figures of the smaller of it and its complement.
pub fn of_thousand(share: f64) -> String {
    let smaller = share.min(1.0 - share) * PER;
    if smaller <= 0.0 || !smaller.is_finite() {
        return number(share * PER, 0);
    }
    let mut place = 1 - libm::floor(libm::log10(smaller)) as i32;
    if share > 0.5 {
        // Close to all: one decimal is enough, and what is not all does not round to all.
        place = place.min(1);
    }
    let scale = 10f64.powi(place);
    let mut value = (share * PER * scale).round() / scale;
    if value >= PER {
        value = (share * PER * scale).floor() / scale;
    }
    number(value, place.max(0) as usize)
}

/// The interval of a share out of 1,000: `(3.2 to 14)`.
pub fn interval(share: &Share) -> String {
    format!("{} to {}", of_thousand(share.low), of_thousand(share.high))
}

/// A share in words: `7.1 of 1,000 (3.2 to 14)`; where nothing was seen, its bound.
pub fn share(share: &Share) -> String {
    match (share.events, share.of) {
        (_, 0) => "no lost link".into(),
        (0, of) => format!("none seen in {}: under {} of 1,000", count(of), of_thousand(share.high)),
        (events, of) if events == of => format!("all {} seen: over {} of 1,000", count(of), of_thousand(share.low)),
        _ => format!("{} of 1,000 ({})", of_thousand(share.estimate()), interval(share)),
    }
}

/// A share for a cell or a label: `7.1`, `< 0.74`, `> 999.3`.
pub fn brief(share: &Share) -> String {
    match (share.events, share.of) {
        (_, 0) => "–".into(),
        (0, _) => format!("< {}", of_thousand(share.high)),
        (events, of) if events == of => format!("> {}", of_thousand(share.low)),
        _ => of_thousand(share.estimate()),
    }
}

/// A difference of shares per 1,000, signed, two significant figures.
pub fn difference(difference: f64) -> String {
    let value = difference * PER;
    if value.abs() < 1e-12 {
        return "0".into();
    }
    let place = 1 - libm::floor(libm::log10(value.abs())) as i32;
    let scale = 10f64.powi(place);
    signed((value * scale).round() / scale, place.clamp(0, 2) as usize)
}

/// `a`, `a and b`, `a, b and c`.
pub fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// The first letter large.
pub fn sentence(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().map_or(String::new(), |first| first.to_uppercase().chain(characters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frequencies_have_two_figures_of_the_smaller_side() {
        assert_eq!(of_thousand(0.0071), "7.1");
        assert_eq!(of_thousand(0.000_62), "0.62");
        assert_eq!(of_thousand(0.0714), "71");
        assert_eq!(of_thousand(0.713), "710");
        assert_eq!(of_thousand(0.996_93), "996.9");
        assert_eq!(of_thousand(0.5), "500");
        assert_eq!(of_thousand(1.0), "1,000");
        assert_eq!(of_thousand(0.999_97), "999.9");
    }

    #[test]
    fn nothing_seen_is_a_bound_and_never_a_zero() {
        // Clopper-Pearson for 0 of 5,000 at 95 %: upper end 0.074 % (notes, 3.1).
        let none = Share { events: 0, of: 5000, low: 0.0, high: 0.000_737_5 };
        assert_eq!(share(&none), "none seen in 5,000: under 0.74 of 1,000");
        assert_eq!(brief(&none), "< 0.74");
        let all = Share { events: 5000, of: 5000, low: 0.999_262_5, high: 1.0 };
        assert_eq!(brief(&all), "> 999.3");
        assert_eq!(brief(&Share { events: 0, of: 0, low: 0.0, high: 1.0 }), "–");
    }

    #[test]
    fn numbers_have_a_minus_sign_and_commas() {
        assert_eq!(number(-1234.56, 1), "−1,234.6");
        assert_eq!(number(-0.01, 1), "0.0");
        assert_eq!(signed(0.5, 1), "+0.5");
        assert_eq!(difference(-0.0312), "−31");
        assert_eq!(difference(0.000_4), "+0.40");
        assert_eq!(list(&["a".into(), "b".into(), "c".into()]), "a, b and c");
    }
}
