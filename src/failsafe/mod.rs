//! What the craft does by itself once the control link is lost.
//!
//! A [`Policy`] is a chain of actions with guards and fallbacks. It sees an observation and answers
//! with a demand; it knows nothing of the world and cannot peek at the truth. A policy is added here alone.

mod engine;
mod policy;

pub use engine::{
    Act, Command, Demand, Engine, FIX_GRACE_S, FenceRoom, GivenUp, Horizontal, Limits, NEAR_GROUND_MPS, Observation,
    POSITION_GAIN_TIMES_LAG, climb_to, slowed_mps, toward,
};

pub use policy::{
    Action, ActionKind, Fallback, FixGuard, Guards, HeightFrom, Policy, PolicyError, ProgressGuard, ReturnHeight,
};
