//! What it costs to tell what would change the answer, beside the flights of the run that it is told for: at most a third of them.

use lostlink::risk::end_log::EndLog;
use lostlink::risk::information::information;
use lostlink::{Scenario, World};
use std::time::Instant;

fn main() {
    println!("{:<14} {:>8} {:>10} {:>14} {:>8}", "scenario", "flights", "flown, s", "what-if, s", "ratio");
    for (name, flights) in [("club-field", 2_000), ("lake-shore", 2_000), ("ridge-valley", 5_000)] {
        let scenario = Scenario::from_file(format!("scenarios/{name}.toml")).expect("a scenario").with_flights(flights);
        let world = World::new(scenario).expect("a world");
        // The best of three: what else the machine does only adds.
        let mut least_s = [f64::INFINITY; 2];
        for _ in 0..3 {
            let begun = Instant::now();
            let log = EndLog::of(&world, 0..flights, &|_| {});
            let flown_s = begun.elapsed().as_secs_f64();
            let begun = Instant::now();
            information(&world, &log, 0, 0..flights, &|_| {}).expect("worlds of its values");
            least_s = [least_s[0].min(flown_s), least_s[1].min(begun.elapsed().as_secs_f64())];
        }
        let [flown_s, asked_s] = least_s;
        println!("{name:<14} {flights:>8} {flown_s:>10.2} {asked_s:>14.2} {:>8.2}", asked_s / flown_s);
    }
}
