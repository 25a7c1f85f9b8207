//! What all flights of a world share: the models ready to fly.

use super::judge::Order;
use super::{FixSetup, FixSetupError, LinkLuck, Streams};
use crate::failsafe::{Action, ActionKind, Fallback, Guards, Limits, Policy, ReturnHeight};
use crate::scenario::{Battery, GoesFirst, PackAct};
use crate::world::World;
use crate::world::radio::{LinkError, LinkSetup};

/// A command older than this, and than so many packets, is an old one. Estimate.
const FRESH_S: f64 = 0.25;
const FRESH_PACKETS: f64 = 2.5;

/// Distance of home at which a way home by a low pack turns into coming down. Estimate, as for policies.
const PACK_HOME_CIRCLE_M: f64 = 10.0;

/// What a low pack makes the craft do, as a policy.
fn pack_policy(battery: &Battery, act: PackAct, name: &str) -> Option<Policy> {
    let kind = match act {
        PackAct::Nothing => return None,
        PackAct::Land => ActionKind::Land { sink_mps: None },
        PackAct::Return => ActionKind::Return {
            height: battery.return_at_least_m.map_or(ReturnHeight::here(), ReturnHeight::at_least_m),
            speed_mps: None,
            home_circle_m: PACK_HOME_CIRCLE_M,
            climbs_before: true,
            level_within_m: 0.0,
        },
    };
    let action = Action { kind, guards: Guards::default(), otherwise: Fallback::Land, resumes_after_s: None };
    Some(Policy { name: name.into(), actions: vec![action] })
}

/// The world with its models ready to fly. Read-only.
pub struct Setup<'w> {
    /// The world flown in.
    pub world: &'w World,
    /// The radio: links, noise floor, sources, tables.
    pub link: LinkSetup,
    /// The sense of place: fix, heading, barometer.
    pub fix: FixSetup,
    /// Random streams by purpose, of the scenario's seed.
    pub streams: Streams,
    /// Order in which headlines are tried, worst first.
    pub order: Order,
    /// What the craft can do, as policies count on it.
    pub limits: Limits,
    /// Policies flown, each from the moment of the loss.
    pub policies: Vec<Policy>,
    /// Range of a sensor that measures the height above what is below, m; 0: there is none.
    pub ground_sensor_m: f64,
    /// What the craft does by itself at the pack's warning and at its limit, as policies; `None`: nothing.
    pub at_warning: Option<Policy>,
    /// What it does at the pack's limit; `None`: nothing.
    pub at_limit: Option<Policy>,
    /// The pack's limit brings a policy down.
    pub limit_lands: bool,
    /// A command older than this, s, is an old one.
    pub fresh_s: f64,
    /// Time step, s.
    pub step_s: f64,
}

/// Why a world cannot be flown.
#[derive(Debug, thiserror::Error)]
pub enum SetupError {
    /// The radio's figures lie outside what its models hold for.
    #[error("radio: {0}")]
    Link(#[from] LinkError),
    /// The date or place lies outside what the models of the fix hold for.
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
        let craft = &scenario.craft;
        let order = scenario.judge.order.as_ref().and_then(|words| Order::from_words(words)).unwrap_or_default();
        Ok(Setup {
            world,
            link: LinkSetup::of_scenario(scenario, &world.grid, world.link.clone())?,
            fix: FixSetup::new(scenario, &world.sky, world.home_m[2])?,
            streams: Streams::new(scenario.seed),
            order,
            limits: crate::world::craft::limits(&scenario.craft),
            policies,
            ground_sensor_m: craft.ground_sensor_m,
            at_warning: pack_policy(&craft.battery, craft.battery.at_warning, "low pack"),
            at_limit: pack_policy(&craft.battery, craft.battery.at_limit, "empty pack"),
            limit_lands: craft.battery.at_limit == PackAct::Land && craft.battery.goes_first == GoesFirst::Pack,
            fresh_s: FRESH_S.max(FRESH_PACKETS / scenario.radio.control.packet_rate_hz),
            step_s: scenario.step_s,
        })
    }

    /// Buffers for one thread.
    pub fn workshop(&self) -> Workshop {
        Workshop { link: None }
    }
}
