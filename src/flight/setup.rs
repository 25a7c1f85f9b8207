//! What all flights of a world share: the models ready to fly.

use super::judge::Order;
use super::{FixSetup, FixSetupError, LinkError, LinkLuck, LinkSetup, Streams};
use crate::failsafe::{Limits, Policy};
use crate::world::World;

/// The world with its models ready to fly. Read-only.
pub struct Setup<'w> {
    /// The world.
    pub world: &'w World,
    /// The radio.
    pub link: LinkSetup,
    /// The fix.
    pub fix: FixSetup,
    /// Random streams.
    pub streams: Streams,
    /// Order of headlines.
    pub order: Order,
    /// What the craft can do, as policies count on it.
    pub limits: Limits,
    /// Policies flown.
    pub policies: Vec<Policy>,
    /// Step.
    pub step_s: f64,
}

/// Why a world cannot be flown.
#[derive(Debug, thiserror::Error)]
pub enum SetupError {
    /// The radio.
    #[error("radio: {0}")]
    Link(#[from] LinkError),
    /// The fix.
    #[error("sky: {0}")]
    Fix(#[from] FixSetupError),
}

/// Buffers that one thread uses again for each of its flights.
pub struct Workshop {
    /// Radio luck with its shadowing tile, between flights.
    pub link: Option<LinkLuck>,
}

impl<'w> Setup<'w> {
    /// Readies a world with its own policies.
    ///
    /// # Errors
    /// Radio figures or a date that the models do not cover.
    pub fn new(world: &'w World) -> Result<Setup<'w>, SetupError> {
        Setup::with_policies(world, world.scenario.policies.clone())
    }

    /// Readies a world with other policies than its scenario lists.
    ///
    /// # Errors
    /// As [`Setup::new`].
    pub fn with_policies(world: &'w World, policies: Vec<Policy>) -> Result<Setup<'w>, SetupError> {
        let scenario = &world.scenario;
        let order = scenario.judge.order.as_ref().and_then(|words| Order::from_words(words)).unwrap_or_default();
        Ok(Setup {
            world,
            link: LinkSetup::of_scenario(scenario, &world.grid, world.link.clone())?,
            fix: FixSetup::new(scenario, &world.sky, world.home_m[2])?,
            streams: Streams::new(scenario.seed),
            order,
            limits: crate::world::craft::limits(&scenario.craft),
            policies,
            step_s: scenario.step_s,
        })
    }

    /// Buffers for one thread.
    pub fn workshop(&self) -> Workshop {
        Workshop { link: None }
    }
}
