//! Flies the first so many flights of the club field, or of another scenario, on one thread and tells the steps flown, for counting
//! instructions. `cargo run --release --example steps -- 40`

use lostlink::World;
use lostlink::flight::{StepCount, Workshop, fly, fly_in_parts};

/// Flights flown beforehand: they work out what is shared and worked out when first asked for.
const BEFORE: u32 = 64;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let flights: u32 = arguments.next().ok_or("how many flights?")?.parse()?;
    let scenario = arguments.next().unwrap_or("scenarios/club-field.toml".into());
    let world = World::new(lostlink::Scenario::from_file(scenario)?)?;
    let (mut workshop, mut steps) = (Workshop::default(), StepCount::default());
    for flight in 0..BEFORE.max(flights) {
        fly(&world, &mut workshop, flight);
    }
    for flight in 0..flights {
        fly_in_parts(&world, &mut workshop, flight, &mut steps, &mut |_, _| {});
    }
    println!("{}", steps.0);
    Ok(())
}
