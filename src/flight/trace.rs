//! One flight, second by second.

use super::LossCause;
use crate::failsafe::Act;
use serde::Serialize;

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

/// Where the margin went: each is a loss in dB against the margin at one metre, positive for a loss.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct LossBudget {
    /// Free space, with rain and gases where they count.
    pub distance_db: f64,
    /// Diffraction over terrain and buildings.
    pub diffraction_db: f64,
    /// Trees in the way.
    pub vegetation_db: f64,
    /// Ground reflection (negative is a gain).
    pub reflection_db: f64,
    /// Antenna patterns and pointing, against both peaks.
    pub pattern_db: f64,
    /// Mismatch of the two antennas' polarisation.
    pub polarisation_db: f64,
    /// The pilot's body.
    pub body_db: f64,
    /// Shadowing that terrain and obstacles do not explain; negative is a gain.
    pub shadowing_db: f64,
    /// Small-scale fading; negative is a gain.
    pub fading_db: f64,
    /// Interference and bursts: rise of the noise floor.
    pub interference_db: f64,
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
    /// Things that happened, with their time, in plain words.
    pub events: Vec<(f64, String)>,
    /// How it ended, in words.
    pub headline: String,
}
