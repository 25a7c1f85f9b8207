//! One flight, second by second.

use super::LossCause;
use crate::failsafe::Act;
use crate::world::radio::LossBudget;
use serde::{Serialize, Serializer};

/// What the craft is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Doing {
    /// Flown by the pilot along the path.
    Piloted,
    /// The link is silent but not yet called lost: the last command holds.
    Silent,
    /// Holding.
    Hold,
    /// Climbing or flying home.
    Return,
    /// Coming down.
    Land,
    /// Falling.
    Drop,
    /// Flying on by the last commands.
    CarryOn,
    /// The pilot has it back.
    TakenOver,
}

impl Doing {
    /// What an act of a policy looks like.
    pub fn of(act: Act) -> Doing {
        match act {
            Act::Hold => Doing::Hold,
            Act::Return => Doing::Return,
            Act::Land => Doing::Land,
            Act::Drop => Doing::Drop,
            Act::CarryOn => Doing::CarryOn,
        }
    }

    /// Word for figures and tables.
    pub fn label(self) -> &'static str {
        match self {
            Doing::Piloted => "piloted",
            Doing::Silent => "silent",
            Doing::Hold => "hold",
            Doing::Return => "return",
            Doing::Land => "land",
            Doing::Drop => "fall",
            Doing::CarryOn => "carry on",
            Doing::TakenOver => "taken over",
        }
    }
}

/// One moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TraceRow {
    /// Time after take-off, s.
    pub time_s: f64,
    /// Place: x, y, z (z above the site's origin).
    pub place_m: [f64; 3],
    /// Height above the take-off spot.
    pub height_m: f64,
    /// Height of ground or obstacle top below, above the take-off spot.
    pub surface_m: f64,
    /// Horizontal speed over ground, m/s.
    pub speed_mps: f64,
    /// Who flies it, or which action of the policy.
    pub doing: Doing,
    /// Share of control packets received over the receiver's window, per cent.
    pub quality_pct: f64,
    /// Margin of the uplink over what its packets need.
    pub margin_db: f64,
    /// Margin lost to each cause, for the stacked budget.
    pub budget: LossBudget,
    /// Telemetry is heard by the pilot.
    pub telemetry_up: bool,
    /// The pilot has a picture.
    pub video_up: bool,
    /// Satellites in the fix.
    pub satellites: u32,
    /// Horizontal dilution of precision; NaN without a fix.
    pub hdop: f64,
    /// Horizontal error of the position, NaN without a fix.
    pub fix_error_m: f64,
    /// State of charge, per cent.
    pub charge_pct: f64,
    /// Charge needed from here to get home at the return height, per cent; NaN when it cannot.
    pub charge_home_pct: f64,
    /// Volts per cell under load.
    pub cell_v: f64,
    /// Mean wind and gusts at the craft, m/s.
    pub wind_mps: f64,
}

/// Something that happened: in JSON a pair of both.
#[derive(Debug, Clone, PartialEq)]
pub struct TraceEvent {
    /// Time after take-off, s.
    pub time_s: f64,
    /// In plain words.
    pub what: String,
}

impl Serialize for TraceEvent {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        (self.time_s, &self.what).serialize(to)
    }
}

/// One flight under one policy, with its trunk.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trace {
    /// Flight number.
    pub flight: u32,
    /// Name of the policy flown.
    pub policy: String,
    /// Time between rows, s, a whole number of steps.
    pub every_s: f64,
    /// Rows in time order; one more wherever what the craft does changes.
    pub rows: Vec<TraceRow>,
    /// When the link was declared lost; `None`: never.
    pub lost_at_s: Option<f64>,
    /// Why it was; `None`: never.
    pub cause: Option<LossCause>,
    /// Things that happened, in time order.
    pub events: Vec<TraceEvent>,
    /// How it ended, in words.
    pub headline: String,
}
