//! The command `lostlink`: see `lostlink --help`.

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(lostlink::cli::run(lostlink::cli::args::Cli::typed()))
}
