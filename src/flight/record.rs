//! Records one flight for a timeline.

use super::branch::fly_branch;
use super::luck::{Luck, Workshop};
use super::state::State;
use super::trunk::{TrunkEnd, fly_trunk};
use super::watch::Watch;
use super::{Doing, Ending, Event, Flags, Happened, Presence, Trace, TraceRow, home_energy};
use crate::failsafe::Policy;
use crate::site::ZoneKind;
use crate::world::{HomeEnergy, Way, World};

/// Time between the rows of a trace that is told or drawn: some two metres at cruise.
pub const TOLD_EVERY_S: f64 = 0.2;

/// Collects rows every so often, and all events.
struct Recorder<'e> {
    every_steps: u32,
    energy: HomeEnergy<'e>,
    way: Way,
    highest_z_m: f64,
    no_return: bool,
    presence: &'e Presence,
    rows: Vec<TraceRow>,
    events: Vec<Happened>,
}

/// The nearest zone with somebody in it.
struct Nearest {
    zone: u16,
    distance_m: f64,
}

impl Watch for Recorder<'_> {
    fn step(&mut self, world: &World, state: &State, doing: Doing) {
        self.highest_z_m = self.highest_z_m.max(state.motion.place_m[2]);
        let changed = self.rows.last().is_some_and(|row| row.doing != doing);
        if state.step.is_multiple_of(self.every_steps) || changed {
            let row = self.row(world, state, doing);
            if !self.no_return && row.charge_pct < row.charge_home_pct {
                self.no_return = true;
                self.event(row.time_s, || Event::NoReturn);
            }
            self.rows.push(row);
        }
    }

    fn event(&mut self, time_s: f64, what: impl FnOnce() -> Event) {
        self.events.push(Happened { time_s, event: what() });
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
        let nearest = self.nearest(world, [place[0], place[1]]);
        let believed_m = |axis: usize| if fix.fix { place[axis] + error[axis] } else { f64::NAN };
        let stored_m = |axis: usize| state.fix.home_error_m().map_or(f64::NAN, |error| home[axis] + error[axis]);
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
            wind_to_mps: [state.wind_mps[0], state.wind_mps[1]],
            climb_mps: velocity[2],
            believed_m: [0, 1].map(believed_m),
            believed_height_m: state.believed_height_m(world),
            stored_home_m: [0, 1].map(stored_m),
            heading_error_deg: fix.heading_error_rad.to_degrees(),
            people_m: nearest.as_ref().map_or(f64::NAN, |nearest| nearest.distance_m),
            people_zone: nearest.map(|nearest| nearest.zone),
            inside: world.grid.marks(place[0], place[1]).inside_fence,
        }
    }

    fn nearest(&self, world: &World, place_m: [f64; 2]) -> Option<Nearest> {
        let zones = (0u16..).zip(&world.scenario.site.zones);
        let there = zones.filter(|(number, zone)| zone.kind == ZoneKind::People && self.presence.of(*number));
        there
            .map(|(zone, at)| Nearest { zone, distance_m: at.area.distance_m(place_m) })
            .min_by(|a, b| a.distance_m.total_cmp(&b.distance_m))
    }

    /// A last row at the touch: the one before it, at the place, time and speed of the end.
    fn touch(&mut self, world: &World, ending: &Ending) {
        let Some(&last) = self.rows.last().filter(|_| ending.end_m.iter().all(|x| x.is_finite())) else { return };
        let place_m = ending.end_m.map(f64::from);
        let Some(time_s) = self.events.last().map(|end| end.time_s) else { return };
        let (sin, cos) = libm::sincos(f64::from(ending.impact_angle_deg).to_radians());
        let speed_mps = f64::from(ending.impact_speed_mps);
        let nearest = self.nearest(world, [place_m[0], place_m[1]]);
        let moved = |axis: usize| place_m[axis] - last.place_m[axis];
        let row = TraceRow {
            time_s,
            place_m,
            height_m: place_m[2] - world.home_m[2],
            surface_m: world.grid.surface_m(place_m[0], place_m[1]) - world.home_m[2],
            speed_mps: speed_mps * cos,
            climb_mps: -speed_mps * sin,
            believed_m: [0, 1].map(|axis| last.believed_m[axis] + moved(axis)),
            believed_height_m: last.believed_height_m + moved(2),
            charge_pct: f64::from(ending.pack_left_pct),
            people_m: nearest.as_ref().map_or(f64::NAN, |nearest| nearest.distance_m),
            people_zone: nearest.map(|nearest| nearest.zone),
            inside: world.grid.marks(place_m[0], place_m[1]).inside_fence,
            ..last
        };
        if time_s > last.time_s {
            self.rows.push(row);
        } else if let Some(last) = self.rows.last_mut() {
            *last = row;
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
        presence: &luck.presence,
        rows: Vec::new(),
        events: Vec::new(),
    };
    let (mut silent_from_s, mut ended) = (None, None);
    let (headline, lost) = match fly_trunk(world, &luck, &mut recorder) {
        TrunkEnd::Refused(why) => (why.to_string(), None),
        TrunkEnd::Down(headline) => (headline.label().to_string(), None),
        TrunkEnd::Lost(state, moment) => {
            silent_from_s = Some(state.link.last_valid_s());
            let ending = fly_branch(world, &luck, &state, &moment, policy, &mut recorder);
            recorder.touch(world, &ending);
            ended = Some(ending);
            let how = if ending.flags.has(Flags::FAULT) {
                "numerical fault: the simulation broke off, and this is no ending"
            } else {
                ending.headline.label()
            };
            (how.to_string(), Some(moment))
        }
    };
    let Recorder { every_steps, rows, mut events, .. } = recorder;
    events.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    Trace {
        flight,
        policy: policy.name.clone(),
        every_s: f64::from(every_steps) * world.scenario.step_s,
        rows,
        silent_from_s,
        lost_at_s: lost.map(|moment| moment.time_s),
        cause: lost.map(|moment| moment.cause),
        events,
        headline,
        loss: lost,
        ending: ended,
    }
}
