//! The luck of one flight: random streams by purpose, and the values of the uncertain inputs.

use crate::chance::{Purpose, Source, Uncertain};
use crate::scenario::{Inputs, Scenario, UncertainInput};
use crate::world::World;
use rand_distr::Distribution;

/// The streams of a seed by [`Purpose`], made once per flight or world.
#[derive(Debug, Clone, Copy)]
pub struct Streams([Source; Purpose::COUNT]);

impl Streams {
    /// The streams of a master seed.
    pub fn new(seed: u64) -> Streams {
        Streams(Purpose::ALL.map(|purpose| Source::new(seed, purpose)))
    }

    /// The stream of a purpose.
    #[inline(always)]
    pub fn of(&self, purpose: Purpose) -> &Source {
        &self.0[purpose as usize - 1]
    }
}

/// The streams and the number of one flight: every draw is keyed by (purpose, flight, time), never by policy.
#[derive(Debug, Clone, Copy)]
pub struct FlightDraws {
    /// The streams of the master seed.
    pub streams: Streams,
    /// Number of the flight, the second part of every key.
    pub flight: u32,
}

impl FlightDraws {
    /// The value of an uncertain input.
    fn input(&self, block: u32, number: &Uncertain) -> f64 {
        number.sample(&mut self.streams.of(Purpose::Inputs).at(self.flight, 0, block))
    }
}

/// The values that the uncertain inputs take in one flight, each where the scenario has its distribution:
/// `drawn.weather.wind_mps`.
pub type Drawn = Inputs<f64>;

impl Drawn {
    /// Draws the inputs of one flight. Each input has a block of its own, so that fixing one shifts no other.
    pub fn of_flight(scenario: &Scenario, draws: &FlightDraws) -> Drawn {
        scenario.inputs_with(|_, block, number| draws.input(block, number))
    }

    /// The middle value of every input, for planning.
    pub fn central(scenario: &Scenario) -> Drawn {
        scenario.inputs_with(|_, _, number| number.central())
    }
}

/// The uncertain inputs of a world, each with its values in these flights: found again from seed and flight number at any time, so
/// that nobody has to keep them.
pub fn input_columns(world: &World, flights: &[u32]) -> Vec<(UncertainInput, Vec<f64>)> {
    let column = |(place, input)| (input, input_values(world, flights, place));
    world.scenario.uncertain().into_iter().enumerate().map(column).collect()
}

/// The values of one of them, by its place in the list.
pub fn input_values(world: &World, flights: &[u32], place: usize) -> Vec<f64> {
    let streams = Streams::new(world.scenario.seed);
    // A flight is flown in the world that its number names, and what shapes a site is drawn for each of them.
    let worlds = if world.family.is_empty() { std::slice::from_ref(world) } else { &world.family };
    let own: Vec<UncertainInput> =
        worlds.iter().filter_map(|one| one.scenario.uncertain().into_iter().nth(place)).collect();
    let value = |flight: u32| {
        let own = &own[flight as usize % own.len()];
        FlightDraws { streams, flight }.input(own.block, &own.number)
    };
    flights.iter().map(|&flight| value(flight)).collect()
}
