//! Words beside a test, in a file of their own.

use std::path::Path;

/// Writes words anew with `LOSTLINK_BLESS=1`: read them then. Whether it did.
pub fn blessed(beside: &Path, drawn: &str) -> bool {
    let blesses = std::env::var_os("LOSTLINK_BLESS").is_some();
    if blesses {
        std::fs::write(beside, drawn).expect("writable");
    }
    blesses
}

/// Holds words to those of a file: empty when they are the same.
pub fn differs(beside: &Path, drawn: &str) -> String {
    blessed(beside, drawn);
    let expected = std::fs::read_to_string(beside).unwrap_or_default();
    if drawn == expected {
        String::new()
    } else {
        format!("--- {} gave\n{drawn}--- expected\n{expected}", beside.display())
    }
}
