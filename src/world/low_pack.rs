//! What a low pack makes the craft do by itself, as policies.

use crate::failsafe::{Action, ActionKind, Fallback, Guards, Policy, ReturnHeight};
use crate::scenario::{Battery, GoesFirst, PackAct};

/// Distance of home at which a way home by a low pack turns into coming down. Estimate, as for policies.
const PACK_HOME_CIRCLE_M: f64 = 10.0;

fn policy(battery: &Battery, act: PackAct, name: &str) -> Option<Policy> {
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

/// What a low pack makes the craft do.
#[derive(Debug, Clone, PartialEq)]
pub struct LowPack {
    /// At the pack's warning; `None`: nothing.
    pub at_warning: Option<Policy>,
    /// At its limit; `None`: nothing.
    pub at_limit: Option<Policy>,
    /// The limit brings a policy down.
    pub limit_lands: bool,
}

impl LowPack {
    /// As the battery is set.
    pub fn of(battery: &Battery) -> LowPack {
        LowPack {
            at_warning: policy(battery, battery.at_warning, "low pack"),
            at_limit: policy(battery, battery.at_limit, "empty pack"),
            limit_lands: battery.at_limit == PackAct::Land && battery.goes_first == GoesFirst::Pack,
        }
    }
}
