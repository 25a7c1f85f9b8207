//! What a chapter can measure: events of flights, counted; quantities of endings; of one flight what its trace tells.

use crate::flight::{Flags, FlightOutcome, Headline, LossCause, Trace, TraceRow};
use crate::risk::outcome::Concern;
use crate::risk::summary::Share;
use crate::risk::tally::{MEASURES, MeasureOf};
use crate::risk::words::{grouped, number};

/// Something that a flight did or not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Event {
    /// Its link was called lost: counted among all flights, everything else among those whose link was.
    Lost,
    /// It ended so or worse.
    Over(Concern),
    /// It ended so.
    Ended(Headline),
    /// It happened on the way.
    Happened(Flags),
    /// The link was lost for this reason above all.
    Cause(LossCause),
    /// The picture was gone when the link was called lost.
    PictureFirst,
}

/// A number of a flight.
#[derive(Clone, Copy)]
pub enum Quantity {
    /// One that an assessment measures of every ending.
    Ending(MeasureOf),
    /// From take-off to the moment the link was called lost.
    LossTime,
    /// From the pilot's antenna to the craft at that moment.
    LossDistance,
    /// From there to the place of the end, over ground.
    Carried,
    /// Time from the last packet to the moment the link was called lost.
    Silent,
    /// Way flown in that time.
    Blind,
    /// Time without a picture before the link was called lost.
    NoPicture,
    /// Charge taken from there to the end.
    PackUsed,
}

impl std::fmt::Debug for Quantity {
    fn fmt(&self, out: &mut std::fmt::Formatter) -> std::fmt::Result {
        out.write_str(self.key())
    }
}

/// The events by their words in a lesson file.
pub fn events() -> Vec<(&'static str, Event)> {
    let concerns = ["grave", "danger", "trespass", "craft-lost", "at-risk", "away"];
    let flags = [
        ("over-people", Flags::OVER_PEOPLE),
        ("above-ceiling", Flags::ABOVE_CEILING),
        ("fix-lost", Flags::FIX_LOST),
        ("reserve-used", Flags::RESERVE_USED),
        ("fell-back", Flags::FELL_BACK),
        ("taken-over", Flags::PILOT_TOOK_OVER),
        ("lost-again", Flags::LOST_AGAIN),
        ("pack-acted", Flags::PACK_ACTED),
        ("switch-wrong", Flags::WRONG_SWITCH),
    ];
    let causes = [
        ("cause-cut", LossCause::Cut),
        ("cause-distance", LossCause::Distance),
        ("cause-obstruction", LossCause::Obstruction),
        ("cause-vegetation", LossCause::Vegetation),
        ("cause-antenna", LossCause::Antenna),
        ("cause-body", LossCause::Body),
        ("cause-reflection", LossCause::Reflection),
        ("cause-fading", LossCause::Fading),
        ("cause-interference", LossCause::Interference),
        ("cause-restart", LossCause::Restart),
        ("cause-switch", LossCause::Switch),
    ];
    let mut all = vec![("lost", Event::Lost), ("picture-first", Event::PictureFirst)];
    all.extend(concerns.into_iter().zip(Concern::ALL.map(Event::Over)));
    all.extend(Headline::ALL.map(|headline| (headline.word(), Event::Ended(headline))));
    all.extend(causes.map(|(word, cause)| (word, Event::Cause(cause))));
    all.extend(flags.map(|(word, flag)| (word, Event::Happened(flag))));
    all
}

/// The quantities by their words in a lesson file.
pub fn quantities() -> Vec<(&'static str, Quantity)> {
    let own = [
        Quantity::LossTime,
        Quantity::LossDistance,
        Quantity::Carried,
        Quantity::Silent,
        Quantity::Blind,
        Quantity::NoPicture,
        Quantity::PackUsed,
    ];
    let all = MEASURES.map(Quantity::Ending).into_iter().chain(own);
    all.map(|quantity| (quantity.key(), quantity)).collect()
}

impl Event {
    /// Whether the trace of a flight has to be asked.
    pub fn needs_trace(self) -> bool {
        self == Event::PictureFirst
    }

    /// Whether it came about; nothing where the link was not lost and it is about lost links.
    pub fn came(self, flown: &Flown) -> Option<bool> {
        let ending = flown.outcome.endings.first();
        match self {
            Event::Lost => Some(flown.outcome.loss.is_some()),
            Event::Over(concern) => ending.map(|ending| concern.counts(ending.headline)),
            Event::Ended(headline) => ending.map(|ending| ending.headline == headline),
            Event::Happened(flag) => ending.map(|ending| ending.flags.has(flag)),
            Event::Cause(cause) => flown.outcome.loss.map(|loss| loss.cause == cause),
            Event::PictureFirst => ending.and(flown.seen.as_ref()).map(|seen| seen.no_picture_s > 0.0),
        }
    }
}

impl Quantity {
    /// Its word in a lesson file, with its unit.
    pub fn key(self) -> &'static str {
        match self {
            Quantity::Ending(measure) => measure.0,
            Quantity::LossTime => "loss_time_s",
            Quantity::LossDistance => "loss_distance_m",
            Quantity::Carried => "carried_m",
            Quantity::Silent => "silent_s",
            Quantity::Blind => "blind_m",
            Quantity::NoPicture => "no_picture_s",
            Quantity::PackUsed => "pack_used_pct",
        }
    }

    /// Its unit.
    pub fn unit(self) -> &'static str {
        match self {
            Quantity::Ending(measure) => measure.2,
            Quantity::LossTime | Quantity::Silent | Quantity::NoPicture => "s",
            Quantity::PackUsed => "%",
            Quantity::LossDistance | Quantity::Carried | Quantity::Blind => "m",
        }
    }

    /// Whether the trace of a flight has to be asked.
    pub fn needs_trace(self) -> bool {
        matches!(self, Quantity::Silent | Quantity::Blind | Quantity::NoPicture | Quantity::PackUsed)
    }

    /// Its value in a flight whose link was lost.
    pub fn of(self, flown: &Flown) -> Option<f64> {
        let (loss, ending) = (flown.outcome.loss.as_ref()?, flown.outcome.endings.first()?);
        let seen = flown.seen.as_ref();
        match self {
            Quantity::Ending(measure) => Some(f64::from(measure.3(ending))),
            Quantity::LossTime => Some(loss.time_s),
            Quantity::LossDistance => Some(f64::from(loss.distance_m)),
            Quantity::Carried => {
                let moved = |axis: usize| f64::from(ending.end_m[axis] - ending.loss_m[axis]);
                Some(moved(0).hypot(moved(1)))
            }
            Quantity::Silent => seen.map(|seen| seen.silent_s),
            Quantity::Blind => seen.map(|seen| seen.blind_m),
            Quantity::NoPicture => seen.map(|seen| seen.no_picture_s),
            Quantity::PackUsed => seen.map(|seen| seen.charge_pct - f64::from(ending.pack_left_pct)),
        }
    }
}

/// One flight under one policy, as measures ask it.
#[derive(Debug, Clone)]
pub struct Flown {
    /// Its loss and its ending.
    pub outcome: FlightOutcome,
    /// What its trace tells, where a measure asks for that.
    pub seen: Option<Seen>,
}

/// What the trace of a lost link tells of the time before the loss.
#[derive(Debug, Clone, Copy)]
pub struct Seen {
    silent_s: f64,
    blind_m: f64,
    no_picture_s: f64,
    charge_pct: f64,
}

impl Seen {
    /// From a trace; nothing when its link was never lost.
    pub fn of(trace: &Trace) -> Option<Seen> {
        let (lost_s, silent_from_s) = (trace.lost_at_s?, trace.silent_from_s?);
        let before = &trace.rows[..trace.rows.partition_point(|row| row.time_s < lost_s)];
        let dark_at = before.iter().rposition(|row| row.video_up).map_or(0, |at| at + 1);
        // Of the way between two rows what lies in the silence.
        let blind = |pair: &[TraceRow]| {
            let [a, b] = [&pair[0], &pair[1]];
            let way = |axis: usize| b.place_m[axis] - a.place_m[axis];
            let within_s = b.time_s.min(lost_s) - a.time_s.max(silent_from_s);
            let long_m = (way(0) * way(0) + way(1) * way(1) + way(2) * way(2)).sqrt();
            long_m * within_s.max(0.0) / (b.time_s - a.time_s).max(1e-9)
        };
        Some(Seen {
            silent_s: lost_s - silent_from_s,
            blind_m: trace.rows.windows(2).map(blind).sum(),
            no_picture_s: before.get(dark_at).map_or(0.0, |row| lost_s - row.time_s),
            charge_pct: before.last().map_or(f64::NAN, |row| row.charge_pct),
        })
    }
}

/// What was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value {
    /// So many out of so many.
    Share(Share),
    /// A number with its unit.
    Number(f64, &'static str),
}

impl Value {
    /// As claims and ranges count it: shares out of 100.
    pub fn plain(self) -> f64 {
        match self {
            Value::Share(share) => 100.0 * share.estimate(),
            Value::Number(value, _) => value,
        }
    }

    /// In words: `41 of 200`, `none of 200`, `23 m`.
    pub fn in_words(self) -> String {
        match self {
            Value::Share(share) if share.events == 0 => format!("none of {}", grouped(share.of)),
            Value::Share(share) if share.events == share.of => format!("all {}", grouped(share.of)),
            Value::Share(share) => format!("{} of {}", grouped(share.events), grouped(share.of)),
            Value::Number(value, unit) => {
                let decimals = usize::from(value.abs() < 9.95);
                format!("{} {unit}", number(value, decimals))
            }
        }
    }
}
