//! Which policy for the club field? `cargo run --release --example assess`

use lostlink::{Options, Scenario, assess};

fn main() -> Result<(), lostlink::Error> {
    let scenario = Scenario::from_file("scenarios/club-field.toml")?.with_flights(500);
    let summary = assess(&scenario, &Options::quick())?;
    println!("{}\n{}", summary.verdict.sentence, summary.verdict.others);
    Ok(())
}
