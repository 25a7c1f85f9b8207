//! Everything about one flight that does not change while it is flown.

use super::{AirSetup, Drawn, FixDraws, FixState, FlightDraws, LinkLuck, Off, Presence, Streams, WindDraws};
use crate::chance::Purpose;
use crate::craft::{FallBody, HeldLoop, Mover, Pack, TouchLimits};
use crate::scenario::{CutAt, Loss};
use crate::units::SAME_MOMENT_S;
use crate::world::radio::{LinkDraws, LinkSetup};
use crate::world::{FixSetup, HomeEnergy, World, craft as models};

/// Buffers that one thread uses again for each of its flights.
#[derive(Default)]
pub struct Workshop {
    /// Radio luck with its shadowing tile, between flights.
    pub link: Option<LinkLuck>,
    /// Draws of wind and fix, between flights: for their memory.
    pub draws: Option<(WindDraws, FixDraws)>,
}

/// One flight's values, models and plan of the forced loss.
pub struct Luck {
    /// Streams and flight number.
    pub draws: FlightDraws,
    /// What wind and fix draw as the flight goes on.
    pub wind_draws: WindDraws,
    /// See [`Luck::wind_draws`].
    pub fix_draws: FixDraws,
    /// Values of the uncertain inputs.
    pub drawn: Drawn,
    /// The craft as a body that moves: its limits and lags, that of the velocity as a loop that holds over a step.
    pub mover: Mover,
    /// The pack with this flight's health, resistance and temperature.
    pub pack: Pack,
    /// The craft as a body that falls.
    pub fall: FallBody,
    /// Speeds and slopes that a touch-down forgives.
    pub touch: TouchLimits,
    /// Unevenness met at touch-down, two standard normal numbers.
    pub ground_normals: [f64; 2],
    /// The radio with this flight's noise, feeds and settings.
    pub radio: LinkSetup,
    /// Shadows, fading and drawn values of the radio.
    pub link: LinkLuck,
    /// The sense of place with this flight's outages, jumps and drifts.
    pub sense: FixSetup,
    /// The sense of place at take-off.
    pub fix: FixState,
    /// Mean wind, density and turbulence of the flight.
    pub air: AirSetup,
    /// Who is on the ground.
    pub presence: Presence,
    /// When the scenario forces the link off.
    pub cut: Cut,
    /// How far off the pilot sets it down, by eye: along his way home and to the left of it.
    pub lands_off_m: [f64; 2],
    /// The pilot does not take over when the link is back.
    pub unresponsive: bool,
    /// A switch stands in the wrong position at hand-back.
    pub wrong_switch: bool,
    /// No take-off: the guard of the fix did not pass in time.
    pub refused: bool,
}

/// The plan of a forced loss.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cut {
    /// The link goes when physics says so.
    Never,
    /// At a time after take-off.
    AtTime {
        /// Start, s after take-off.
        time_s: f64,
        /// Length, s; infinite: for ever.
        for_s: f64,
    },
    /// After a distance along the path.
    AtDistance {
        /// Distance flown along the path at which it starts, m.
        flown_m: f64,
        /// Length, s; infinite: for ever.
        for_s: f64,
    },
}

impl Cut {
    /// Plans the forced loss of one flight.
    fn plan(world: &World, drawn: &Drawn, draws: &FlightDraws) -> Cut {
        let Loss::Cut { at, for_s } = &drawn.loss else { return Cut::Never };
        let for_s = for_s.unwrap_or(f64::INFINITY);
        let share = draws.streams.of(Purpose::Cut).units(draws.flight, 0, 0)[0];
        match at {
            CutAt::AnyTime => Cut::AtTime { time_s: share * world.path.duration_s(), for_s },
            CutAt::TimeS(time_s) => Cut::AtTime { time_s: time_s.max(0.0), for_s },
            CutAt::PathShare(share) => {
                Cut::AtDistance { flown_m: share.clamp(0.0, 1.0) * world.path.length_m(), for_s }
            }
            CutAt::Near { .. } => Cut::AtDistance { flown_m: world.near.at_share(share), for_s },
        }
    }

    /// When the cut begins, if it does within the step: from `time_s` for `step_s`, at `flown_m` of the path with `moved_m`
    /// more of it to come.
    #[inline]
    pub fn begins_s(&self, time_s: f64, step_s: f64, flown_m: f64, moved_m: f64) -> Option<f64> {
        match *self {
            Cut::Never => None,
            Cut::AtTime { time_s: at, .. } => (time_s + step_s > at + SAME_MOMENT_S).then_some(at.max(time_s)),
            Cut::AtDistance { flown_m: at, .. } => (flown_m + moved_m > at || flown_m >= at)
                .then(|| if flown_m >= at { time_s } else { time_s + step_s * (at - flown_m) / moved_m }),
        }
    }

    /// When the pilot's set is silent by a cut that began then.
    #[inline]
    pub fn off(&self, from_s: Option<f64>) -> Off {
        // A packet due at the beginning is lost, one due at the end is not.
        from_s.map_or(Off::NEVER, |at_s| Off {
            from_s: at_s - SAME_MOMENT_S,
            until_s: self.ends_s(from_s) - SAME_MOMENT_S,
        })
    }

    /// When a cut that began then ends; −∞ when none began.
    pub fn ends_s(&self, from_s: Option<f64>) -> f64 {
        match (*self, from_s) {
            (Cut::AtTime { for_s, .. } | Cut::AtDistance { for_s, .. }, Some(from_s)) => from_s + for_s,
            _ => f64::NEG_INFINITY,
        }
    }
}

impl Luck {
    /// Draws all that a flight owes to chance before it begins.
    pub fn new(world: &World, workshop: &mut Workshop, flight: u32) -> Luck {
        let draws = FlightDraws { streams: Streams::new(world.scenario.seed), flight };
        let mut drawn = Drawn::of_flight(&world.scenario, &draws);
        let craft = draws.streams.of(Purpose::Craft).normals(flight, 0, 0);
        let ground = draws.streams.of(Purpose::Ground).normals(flight, 0, 0);
        let [responds, switches] = draws.streams.of(Purpose::Pilot).units(flight, 0, 0);
        let off = draws.streams.of(Purpose::Pilot).normals(flight, 0, 1);
        let scenario = &world.scenario;
        let slope = libm::tan(drawn.craft.level_error_deg.to_radians());
        let radio = world.link.tuned(&drawn.radio);
        let link = match workshop.link.take() {
            None => LinkLuck::new(&radio, draws, LinkDraws::from(&drawn)),
            Some(mut link) => {
                link.redraw(&radio, draws, LinkDraws::from(&drawn));
                link
            }
        };
        let wind = *draws.streams.of(Purpose::Wind);
        let (mut wind_draws, mut fix_draws) =
            workshop.draws.take().unwrap_or_else(|| (WindDraws::new(wind, flight), FixDraws::new(draws)));
        wind_draws.redraw(wind, flight);
        fix_draws.redraw(draws);
        let sense = world.fix.tuned(&drawn.sky);
        let fix = sense.begin(&world.sky, &draws, &drawn);
        let [.., hour, minute, second] = scenario.sky.utc;
        let take_off_s = f64::from(hour * 3600 + minute * 60 + second) + fix.start_s();
        drawn.weather.take_off_at(take_off_s / 3600.0);
        let air = AirSetup::new(&drawn.weather, &world.air, &wind, flight, world.path.duration_s());
        let presence =
            Presence::draw(&scenario.site.zones, draws.streams.of(Purpose::Presence), flight, take_off_s / 3600.0);
        let velocity_loop =
            HeldLoop::over_steps(drawn.craft.velocity_lag_s, drawn.craft.attitude_lag_s, scenario.step_s);
        let refused = scenario.sky.wait_for_fix && !fix.take_off().guard_met;
        Luck {
            mover: Mover { velocity_loop, ..models::mover(&drawn.craft, [slope * craft[0], slope * craft[1]]) },
            pack: models::pack(&drawn.craft, drawn.weather.temperature_c + 273.15),
            fall: models::fall_body(&drawn.craft),
            touch: models::touch_limits(&drawn.craft),
            ground_normals: [ground[0], ground[1]],
            radio,
            link,
            sense,
            fix,
            air,
            presence,
            cut: Cut::plan(world, &drawn, &draws),
            lands_off_m: [off[0], off[1]].map(|off| drawn.pilot.lands_off_m * off),
            unresponsive: responds < drawn.pilot.unresponsive_share,
            wrong_switch: switches < scenario.pilot.wrong_switch_share,
            refused,
            wind_draws,
            fix_draws,
            draws,
            drawn,
        }
    }

    /// Gives its buffers back for the next flight.
    pub fn retire(self, workshop: &mut Workshop) {
        workshop.link = Some(self.link);
        workshop.draws = Some((self.wind_draws, self.fix_draws));
    }
}

/// What coming home depends on under the values of a flight.
pub fn home_energy<'w>(world: &'w World, drawn: &Drawn) -> HomeEnergy<'w> {
    HomeEnergy::new(&drawn.craft, &drawn.weather, &world.air, &world.grid, world.home_m)
        .after_silence(drawn.radio.control.receiver.patience_s)
}
