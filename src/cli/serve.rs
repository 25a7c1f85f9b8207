//! `serve`: the live page.

use super::args::ServeArgs;
use super::out::Failure;
use super::{load, out};
use crate::live::Live;
use crate::risk::answer::Error;
use crate::risk::cautions::{DEFERENCE, MODEL};
use crate::scenario::{Folder, text_of};
use crate::serve::{Bounds, Server, told_to_end};
use std::io::ErrorKind;
use std::path::Path;

/// Runs it until it is told to end.
pub fn run(args: &ServeArgs) -> Result<(), Failure> {
    let live = live(&args.scenario)?;
    let title = live.base().scenario.title.clone();
    let server = Server::bind(live, args.port, Bounds::default()).map_err(|error| match error.kind() {
        ErrorKind::AddrInUse | ErrorKind::PermissionDenied => Failure::Input(format!(
            "lostlink: --port {}: {error}\n  accepted: a port that is free, or no --port to have one chosen\n",
            args.port
        )),
        _ => error.into(),
    })?;
    let address = server.url();
    out::print(format!("\"{title}\", live: {address}  (Ctrl-C ends it)\n{MODEL} {DEFERENCE}\n").as_bytes())?;
    if args.open
        && let Err(error) = open::that_detached(&address)
    {
        let mut errors = anstream::stderr();
        let _ = std::io::Write::write_fmt(
            &mut errors,
            format_args!("lostlink: no browser could be opened ({error}): open the address above yourself\n"),
        );
    }
    server.run(told_to_end())?;
    Ok(())
}

fn live(path: &Path) -> Result<Live, Failure> {
    let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
    let opened = text_of(path).map_err(Error::from);
    let opened = opened.and_then(|text| Live::open(&path.display().to_string(), &text, &Folder(folder)));
    opened.map_err(|error| match error {
        Error::Scenario(error) => load::no_scenario(&error),
        error => load::refused(path, &error),
    })
}
