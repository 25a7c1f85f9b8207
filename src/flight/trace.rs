//! One flight, second by second.

use super::{Ending, Headline, LossCause, LossMoment};
use crate::failsafe::{Act, GivenUp};
use crate::units::SAME_MOMENT_S;
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

/// Something that happened in a flight.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// Took off.
    TakeOff,
    /// The scenario cut the link.
    Cut,
    /// The receiver called the link lost.
    Lost(LossCause),
    /// It called it lost once more, after it had been back.
    LostAgain,
    /// The receiver handed control back.
    LinkBack,
    /// The pilot takes over.
    TakesOver,
    /// He takes over with a switch in the wrong position.
    TakesOverWithWrongSwitch,
    /// He puts that switch right.
    SwitchPutRight,
    /// What is set for a low pack begins: in words.
    LowPack(String),
    /// What the pilot makes up his mind to, in words.
    Pilot(&'static str),
    /// The policy gave an action up.
    GivenUp(GivenUp),
    /// It took the way home up again.
    TakenUpAgain,
    /// The motors stop, as told.
    MotorsStop,
    /// The pack is empty.
    PackEmpty,
    /// The craft begins to do something else.
    Begins(Doing),
    /// From here on the pack no longer reaches home.
    NoReturn,
    /// The end.
    End(Headline),
}

impl Event {
    /// What happened, in plain words.
    pub fn in_words(&self) -> String {
        match self {
            Event::TakeOff => "take-off".into(),
            Event::Cut => "the scenario cuts the link".into(),
            Event::Lost(cause) => format!("link declared lost ({})", cause.label()),
            Event::LostAgain => "link declared lost again".into(),
            Event::LinkBack => "link back".into(),
            Event::TakesOver => "the pilot takes over".into(),
            Event::TakesOverWithWrongSwitch => "the pilot takes over with a switch in the wrong position".into(),
            Event::SwitchPutRight => "the pilot puts the switch right".into(),
            Event::LowPack(what) => format!("low pack: the craft will {what}"),
            Event::Pilot(what) => (*what).into(),
            Event::GivenUp(why) => format!("given up: {}; the fallback runs", why.in_words()),
            Event::TakenUpAgain => "the fix is back: the way home is taken up again".into(),
            Event::MotorsStop => "motors stop".into(),
            Event::PackEmpty => "the pack is empty: no thrust".into(),
            Event::Begins(doing) => format!("begins: {}", doing.label()),
            Event::NoReturn => "from here on the pack no longer reaches home".into(),
            Event::End(headline) => format!("end: {}", headline.label()),
        }
    }
}

/// An event and when it was; in JSON a pair of the time and the words.
#[derive(Debug, Clone, PartialEq)]
pub struct Happened {
    /// Time after take-off, s.
    pub time_s: f64,
    /// What it was.
    pub event: Event,
}

impl Happened {
    /// The event in plain words.
    pub fn what(&self) -> String {
        self.event.in_words()
    }
}

impl Serialize for Happened {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        (self.time_s, self.what()).serialize(to)
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
    /// The same towards east and north: where the air goes.
    pub wind_to_mps: [f64; 2],
    /// Speed upwards, m/s.
    pub climb_mps: f64,
    /// Where the craft believes to be, x and y; NaN without a fix.
    pub believed_m: [f64; 2],
    /// Height above the take-off spot that it believes.
    pub believed_height_m: f64,
    /// Home point that it has stored, x and y; NaN as long as it has none.
    pub stored_home_m: [f64; 2],
    /// Where it takes north for, degrees to the left of true north.
    pub heading_error_deg: f64,
    /// Distance to the nearest zone with somebody in it, 0 in it; NaN: nobody anywhere.
    pub people_m: f64,
    /// That zone, by its place in the site's list.
    pub people_zone: Option<u16>,
    /// Inside the permitted area.
    pub inside: bool,
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
    /// Rows in time order; one more wherever what the craft does changes, and a last one at the touch.
    pub rows: Vec<TraceRow>,
    /// When the last packet came through before the link was declared lost; `None`: it never was.
    pub silent_from_s: Option<f64>,
    /// When the link was declared lost; `None`: never.
    pub lost_at_s: Option<f64>,
    /// Why it was; `None`: never.
    pub cause: Option<LossCause>,
    /// Things that happened, in time order.
    pub events: Vec<Happened>,
    /// How it ended, in words.
    pub headline: String,
    /// The loss as the mass run has it; `None`: the link was never lost.
    #[serde(skip)]
    pub loss: Option<LossMoment>,
    /// The end after a loss as the mass run has it.
    #[serde(skip)]
    pub ending: Option<Ending>,
}

impl Trace {
    /// The row in force at a time: the last one not later; the first one before all of them.
    pub fn at(&self, time_s: f64) -> Option<&TraceRow> {
        let later = self.rows.partition_point(|row| row.time_s <= time_s + SAME_MOMENT_S);
        self.rows.get(later.saturating_sub(1))
    }
}
