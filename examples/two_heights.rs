//! Home over the ridge at 50 m or at 90 m? `cargo run --release --example two_heights`

use lostlink::{Scenario, compare_heights};

fn main() -> Result<(), lostlink::Error> {
    let scenario = Scenario::from_file("scenarios/ridge-valley.toml")?.with_flights(500);
    let heights = compare_heights(&scenario, "home at 80 m", &[50.0, 90.0])?;
    for row in &heights.rows {
        println!("{} m: craft lost or worse in {:.1} % of lost links", row.height_m, 100.0 * row.craft_lost.estimate());
    }
    println!("{}", heights.sentence);
    Ok(())
}
