//! Flies the first so many flights of the club field on one thread and tells the steps flown, for counting instructions.
//! `cargo run --release --example steps -- 40`

use lostlink::World;
use lostlink::flight::{StepCount, Workshop, fly_in_parts};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let flights: u32 = std::env::args().nth(1).ok_or("how many flights?")?.parse()?;
    let world = World::new(lostlink::Scenario::from_file("scenarios/club-field.toml")?)?;
    let (mut workshop, mut steps) = (Workshop::default(), StepCount::default());
    // What is shared and worked out when first asked for is worked out by all flights that are counted.
    for flight in 0..flights {
        fly_in_parts(&world, &mut workshop, flight, &mut steps, &mut |_, _| {});
    }
    println!("{}", steps.0);
    Ok(())
}
