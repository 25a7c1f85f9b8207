//! The command `lostlink`: see `lostlink --help`.

fn main() {}
