//! Arguments, diagnostics, progress and exit codes: the only part that prints or touches files. Each file uses only those that
//! stand before it.

pub mod args;
pub mod diagnostics;
mod progress;
mod timing;

mod out;

mod load;

mod gather;
mod schema;
mod starter;

mod own;

mod assess;
mod check;
mod figure;
mod heights;
mod lesson;
mod new;
mod page;
mod reach;
mod replay;
#[cfg(feature = "serve")]
mod serve;
mod sheet;
mod sky;

use args::{Cli, Colour, Command};
pub use out::Failure;
use std::io::{self, Write};

pub use crate::scenario::Folder;

/// Done.
pub const DONE: u8 = 0;
/// Failed.
pub const FAILED: u8 = 1;
/// Bad input.
pub const BAD_INPUT: u8 = 2;

/// Runs one command and gives the exit code.
pub fn run(cli: Cli) -> u8 {
    match cli.common.color {
        Colour::Auto => {}
        Colour::Always => anstream::ColorChoice::Always.write_global(),
        Colour::Never => anstream::ColorChoice::Never.write_global(),
    }
    if let Some(threads) = cli.common.threads
        && let Err(error) = rayon::ThreadPoolBuilder::new().num_threads(threads).build_global()
    {
        return report(error.into());
    }
    let common = &cli.common;
    let outcome = match &cli.command {
        Command::New(args) => new::run(args),
        Command::Check(args) => check::run(common, args),
        Command::Assess(args) => assess::run(common, args),
        Command::Heights(args) => heights::run(common, args),
        Command::Replay(args) => replay::run(common, args),
        Command::Reach(args) => reach::run(common, args),
        Command::Sky(args) => sky::run(common, args),
        Command::Sheet(args) => sheet::run(common, args),
        Command::Figure(args) => figure::run(common, args),
        Command::Lesson(args) => lesson::run(common, args),
        #[cfg(feature = "serve")]
        Command::Serve(args) => serve::run(args),
        Command::Page(args) => page::run(args),
        Command::Schema => schema::run(),
        Command::Completions { shell } => completions(*shell),
        Command::Man { folder } => man(folder),
    };
    match outcome {
        Ok(()) => DONE,
        Err(failure) => report(failure),
    }
}

fn report(failure: Failure) -> u8 {
    match failure {
        Failure::Input(text) => {
            let _ = write!(anstream::stderr(), "{text}");
            BAD_INPUT
        }
        // A closed pipe is a normal end.
        Failure::Other(error)
            if error.downcast_ref::<io::Error>().is_some_and(|e| e.kind() == io::ErrorKind::BrokenPipe) =>
        {
            DONE
        }
        Failure::Other(error) => {
            let _ = writeln!(anstream::stderr(), "lostlink: {error:#}");
            FAILED
        }
    }
}

fn completions(shell: clap_complete::Shell) -> Result<(), Failure> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut <Cli as clap::CommandFactory>::command(), "lostlink", &mut text);
    out::print(&text)
}

fn man(folder: &std::path::Path) -> Result<(), Failure> {
    std::fs::create_dir_all(folder)?;
    clap_mangen::generate_to(<Cli as clap::CommandFactory>::command(), folder)?;
    Ok(())
}
