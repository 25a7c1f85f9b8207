//! How does flight 7 end under each policy? `cargo run --release --example one_flight`

fn main() -> Result<(), lostlink::Error> {
    let scenario = lostlink::Scenario::from_file("scenarios/club-field.toml")?;
    for flight in lostlink::fly(&scenario, 7..8)? {
        for (policy, ending) in scenario.policies.iter().zip(&flight.endings) {
            println!("{}: {} after {:.0} s", policy.name, ending.headline.label(), ending.time_to_end_s);
        }
    }
    Ok(())
}
