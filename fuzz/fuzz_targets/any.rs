//! Runs the target that the program is called after.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| lostlink_fuzz::run(env!("CARGO_BIN_NAME"), bytes));
