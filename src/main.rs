//! The command `lostlink`: see `lostlink --help`.

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(lostlink::cli::run(lostlink::cli::args::Cli::parse()))
}
