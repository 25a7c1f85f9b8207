//! Arguments, diagnostics, progress and exit codes: the only part that prints or touches files.

pub mod args;
pub mod diagnostics;
mod load;
mod progress;

mod assess;
mod check;
mod heights;
mod reach;
mod replay;
mod sheet;
mod sky;

use crate::report::terminal::Manner;
use args::{Cli, Colour, Command};
use std::io::{self, IsTerminal, Write};

pub use crate::scenario::Folder;

/// Done.
pub const DONE: u8 = 0;
/// Failed.
pub const FAILED: u8 = 1;
/// Bad input.
pub const BAD_INPUT: u8 = 2;

/// Why a command did not do its work.
#[derive(Debug)]
pub enum Failure {
    /// The input is wrong; the text says where and what would be accepted.
    Input(String),
    /// Something else.
    Other(anyhow::Error),
}

impl From<anyhow::Error> for Failure {
    fn from(error: anyhow::Error) -> Self {
        Failure::Other(error)
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        Failure::Other(error.into())
    }
}

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
        return report(Failure::Other(error.into()));
    }
    let common = &cli.common;
    let outcome = match &cli.command {
        Command::Check(args) => check::run(common, args),
        Command::Assess(args) => assess::run(common, args),
        Command::Heights(args) => heights::run(common, args),
        Command::Replay(args) => replay::run(common, args),
        Command::Reach(args) => reach::run(common, args),
        Command::Sky(args) => sky::run(common, args),
        Command::Sheet(args) => sheet::run(common, args),
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

/// How to write on standard output.
fn manner(common: &args::Common) -> Manner {
    let terminal = match common.color {
        Colour::Auto => io::stdout().is_terminal(),
        Colour::Always => true,
        Colour::Never => false,
    };
    let no_color = std::env::var_os("NO_COLOR").filter(|_| common.color == Colour::Auto);
    Manner::of(terminal, no_color.as_deref(), common.ascii)
}

/// Writes to standard output.
fn print(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    out.write_all(bytes)?;
    out.flush()?;
    Ok(())
}

fn completions(shell: clap_complete::Shell) -> Result<(), Failure> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut <Cli as clap::CommandFactory>::command(), "lostlink", &mut text);
    io::stdout().write_all(&text)?;
    Ok(())
}

fn man(folder: &std::path::Path) -> Result<(), Failure> {
    std::fs::create_dir_all(folder)?;
    clap_mangen::generate_to(<Cli as clap::CommandFactory>::command(), folder)?;
    Ok(())
}
