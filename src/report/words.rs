//! Numbers in words: natural frequencies with one denominator, bounds where nothing was seen.

pub use crate::risk::words::{
    PER, bare_frequency, brief, difference, flights, frequency as share, grouped as count, per_thousand as of_thousand,
    range as interval,
};

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

/// A number with a sign.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    if value > 0.0 && text.chars().any(|c| c.is_ascii_digit() && c != '0') { format!("+{text}") } else { text }
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
    fn numbers_have_a_minus_sign_and_commas() {
        assert_eq!(number(-1234.56, 1), "−1,234.6");
        assert_eq!(number(-0.01, 1), "0.0");
        assert_eq!(signed(0.5, 1), "+0.5");
        assert_eq!(list(&["a".into(), "b".into(), "c".into()]), "a, b and c");
    }
}
