//! Numbers and names in sentences.

/// A whole number with thousands separators: `5,000`.
pub fn grouped(number: u64) -> String {
    set_apart(&number.to_string())
}

/// Digits with their thousands set apart.
pub fn set_apart(digits: &str) -> String {
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// `a`, `a and b`, `a, b and c`.
pub fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// Names in quotes, joined: `"a"`, `"a" and "b"`, `"a", "b" and "c"`.
pub fn named(names: &[&str]) -> String {
    list(&names.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>())
}
