//! Records one flight for a timeline.

use super::branch::fly_branch;
use super::luck::{Luck, Workshop};
use super::state::State;
use super::trunk::{TrunkEnd, fly_trunk};
use super::watch::Watch;
use super::{Doing, Flags, Trace, TraceEvent, TraceRow, home_energy};
use crate::failsafe::Policy;
use crate::world::{HomeEnergy, Way, World};

/// Collects rows every so often, and all events.
struct Recorder<'e> {
    every_steps: u32,
    energy: HomeEnergy<'e>,
    way: Way,
    highest_z_m: f64,
    no_return: bool,
    rows: Vec<TraceRow>,
    events: Vec<TraceEvent>,
}

impl Watch for Recorder<'_> {
    fn step(&mut self, world: &World, state: &State, doing: Doing) {
        self.highest_z_m = self.highest_z_m.max(state.motion.place_m[2]);
        let changed = self.rows.last().is_some_and(|row| row.doing != doing);
        if state.step.is_multiple_of(self.every_steps) || changed {
            let row = self.row(world, state, doing);
            if !self.no_return && row.charge_pct < row.charge_home_pct {
                self.no_return = true;
                self.event(row.time_s, || "from here on the pack no longer reaches home".into());
            }
            self.rows.push(row);
        }
    }

    fn event(&mut self, time_s: f64, what: impl FnOnce() -> String) {
        self.events.push(TraceEvent { time_s, what: what() });
    }
}

impl Recorder<'_> {
    fn row(&self, world: &World, state: &State, doing: Doing) -> TraceRow {
        let (place, velocity) = (state.motion.place_m, state.motion.velocity_mps);
        let (link, fix) = (&state.link_now, &state.fix_now);
        let home = world.home_m;
        let error = fix.place_error_m;
        let horizontal = |v: [f64; 3]| (v[0] * v[0] + v[1] * v[1]).sqrt();
        let height_m = place[2] - home[2];
        let (way, charge) = (&self.way, state.pack.charge);
        // As long as he flies it, the way home begins with a silence.
        let need = match doing {
            Doing::Piloted => self.energy.need_after_silence(way, place, velocity, self.highest_z_m, charge),
            _ => self.energy.need(way, place, self.highest_z_m, charge),
        };
        let charge_home_pct = need.map_or(f64::NAN, |need| 100.0 * need.charge);
        TraceRow {
            time_s: state.time_s,
            place_m: place,
            height_m,
            surface_m: world.grid.surface_m(place[0], place[1]) - home[2],
            speed_mps: horizontal(velocity),
            doing,
            quality_pct: link.quality_pct,
            margin_db: link.margin_db,
            budget: state.link.budget(),
            telemetry_up: link.telemetry_up,
            video_up: link.video_up,
            satellites: fix.satellites,
            hdop: if fix.fix { fix.hdop } else { f64::NAN },
            fix_error_m: if fix.fix { horizontal(error) } else { f64::NAN },
            charge_pct: 100.0 * state.pack.charge,
            charge_home_pct,
            cell_v: state.cell_v,
            wind_mps: horizontal(state.wind_mps),
        }
    }
}

/// Flies one flight under one policy again and records it, a row about every `every_s`.
///
/// The charge needed to come home is that of the policy's own way home, or of one at the height it has.
pub fn record(world: &World, flight: u32, policy: &Policy, every_s: f64) -> Trace {
    let world = world.of_flight(flight);
    let luck = Luck::new(world, &mut Workshop::default(), flight);
    let mut recorder = Recorder {
        every_steps: ((every_s / world.scenario.step_s).round() as u32).max(1),
        energy: home_energy(world, &luck.drawn),
        way: Way::of(policy).unwrap_or(Way::level()),
        highest_z_m: f64::NEG_INFINITY,
        no_return: false,
        rows: Vec::new(),
        events: Vec::new(),
    };
    let (headline, lost) = match fly_trunk(world, &luck, &mut recorder) {
        TrunkEnd::Refused(why) => (why.to_string(), None),
        TrunkEnd::Down(headline) => (headline.label().to_string(), None),
        TrunkEnd::Lost(state, moment) => {
            let ending = fly_branch(world, &luck, &state, &moment, policy, &mut recorder);
            let how = if ending.flags.has(Flags::FAULT) {
                "numerical fault: the simulation broke off, and this is no ending"
            } else {
                ending.headline.label()
            };
            (how.to_string(), Some(moment))
        }
    };
    recorder.events.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    Trace {
        flight,
        policy: policy.name.clone(),
        every_s: f64::from(recorder.every_steps) * world.scenario.step_s,
        rows: recorder.rows,
        lost_at_s: lost.map(|moment| moment.time_s),
        cause: lost.map(|moment| moment.cause),
        events: recorder.events,
        headline,
    }
}
