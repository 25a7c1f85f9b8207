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

/// A key of the scenario in words with the unit of its value, from the documentation of the format: `weather.wind_mps` is
/// `Mean wind at the reference height` in `m/s`. A key that is not documented stands for itself.
pub fn key(key: &str) -> (String, &'static str) {
    let mut plain = String::new();
    let mut inside = false;
    for c in key.chars() {
        match c {
            '[' => {
                plain += "[]";
                inside = true;
            }
            ']' => inside = false,
            c if !inside => plain.push(c),
            _ => {}
        }
    }
    let meaning = crate::scenario::key_list().into_iter().find(|doc| doc.key == plain).map(|doc| doc.meaning);
    // The longer endings first.
    const UNITS: [(&str, &str); 19] = [
        ("_pa_per_h", "Pa/h"),
        ("_mm_per_h", "mm/h"),
        ("_deg_per_100m", "° per 100 m"),
        ("_per_s", "per s"),
        ("_mps", "m/s"),
        ("_deg", "°"),
        ("_pct", "%"),
        ("_dbm", "dBm"),
        ("_dbi", "dBi"),
        ("_db", "dB"),
        ("_ohm", "ohm"),
        ("_kg", "kg"),
        ("_m2", "m²"),
        ("_hz", "Hz"),
        ("_ah", "Ah"),
        ("_pa", "Pa"),
        ("_c", "°C"),
        ("_s", "s"),
        ("_m", "m"),
    ];
    let unit = UNITS.iter().find(|(end, _)| plain.ends_with(end)).map_or("", |found| found.1);
    (meaning.filter(|words| !words.is_empty()).unwrap_or_else(|| key.to_string()), unit)
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
    fn keys_have_words_and_units() {
        assert_eq!(key("weather.wind_mps"), ("Mean wind at the reference height".into(), "m/s"));
        assert_eq!(key("craft.linear_drag_per_s").1, "per s");
        assert_eq!(key("nothing.of_that"), ("nothing.of_that".into(), ""));
        // Every uncertain input of the format has a meaning.
        assert!(crate::scenario::key_list().iter().all(|doc| !key(&doc.key).0.is_empty()));
    }

    #[test]
    fn numbers_have_a_minus_sign_and_commas() {
        assert_eq!(number(-1234.56, 1), "−1,234.6");
        assert_eq!(number(-0.01, 1), "0.0");
        assert_eq!(signed(0.5, 1), "+0.5");
        assert_eq!(list(&["a".into(), "b".into(), "c".into()]), "a, b and c");
    }
}
