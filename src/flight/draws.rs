//! The luck of one flight: random streams by purpose, and the values of the uncertain inputs.

use crate::chance::{Purpose, Source, Uncertain};
use crate::scenario::{CutAt, Loss, Scenario};
use rand_distr::Distribution;

/// All streams of a seed, made once per world.
#[derive(Debug, Clone, Copy)]
pub struct Streams {
    /// Values of the uncertain inputs: one block per input at count 0.
    pub inputs: Source,
    /// Turbulence and gusts.
    pub wind: Source,
    /// Shadowing of the radio path, as a field over the site.
    pub shadowing: Source,
    /// Fading, packets, bursts and restarts of the control uplink.
    pub uplink: Source,
    /// Fading and packets of telemetry.
    pub telemetry: Source,
    /// Fading of the picture.
    pub video: Source,
    /// When sources of interference are on.
    pub interference: Source,
    /// Error of the fix and its jumps.
    pub fix: Source,
    /// Losses of the fix that geometry does not explain.
    pub fix_outage: Source,
    /// Wander of the heading and of the barometer.
    pub heading: Source,
    /// What the pilot does by chance: whether he takes over, where he sets it down.
    pub pilot: Source,
    /// Moment of a loss that the scenario forces.
    pub cut: Source,
    /// Tolerances of the craft that are no inputs.
    pub craft: Source,
    /// Unevenness of the ground met at touch-down.
    pub ground: Source,
}

impl Streams {
    /// The streams of a master seed.
    pub fn new(seed: u64) -> Streams {
        let of = |purpose| Source::new(seed, purpose);
        Streams {
            inputs: of(Purpose::Inputs),
            wind: of(Purpose::Wind),
            shadowing: of(Purpose::Shadowing),
            uplink: of(Purpose::Uplink),
            telemetry: of(Purpose::Telemetry),
            video: of(Purpose::Video),
            interference: of(Purpose::Interference),
            fix: of(Purpose::Fix),
            fix_outage: of(Purpose::FixOutage),
            heading: of(Purpose::Heading),
            pilot: of(Purpose::Pilot),
            cut: of(Purpose::Cut),
            craft: of(Purpose::Craft),
            ground: of(Purpose::Ground),
        }
    }
}

/// The streams and the number of one flight: every draw is keyed by (purpose, flight, time), never by policy.
#[derive(Debug, Clone, Copy)]
pub struct FlightDraws {
    /// The streams of the master seed.
    pub streams: Streams,
    /// Number of the flight, the second part of every key.
    pub flight: u32,
}

/// The values that the uncertain inputs take in one flight.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs)]
pub struct Drawn {
    pub wind_mps: f64,
    pub from_deg: f64,
    pub turbulence: f64,
    pub gust_mps: f64,
    pub hill_factor: f64,
    pub temperature_c: f64,
    pub tendency_pa_per_h: f64,
    pub mass_kg: f64,
    pub drive_efficiency: f64,
    pub linear_drag_per_s: f64,
    pub drag_area_m2: f64,
    pub fall_drag_area_m2: f64,
    pub health: f64,
    pub resistance_ohm: f64,
    pub resistance_b_k: f64,
    pub cold_loss: f64,
    pub charge_pct: f64,
    pub power_dbm: f64,
    pub noise_rise_db: f64,
    pub body_loss_db: f64,
    pub shadow_sigma_db: f64,
    pub null_depth_db: f64,
    pub cross_polar_db: f64,
    pub own_noise_db: f64,
    pub powered_before_s: f64,
    pub heading_bias_deg: f64,
    /// Factor on the error of the fix.
    pub error_factor: f64,
    pub reaction_s: f64,
    pub unresponsive_share: f64,
    /// Time or path share of a forced cut, as the scenario states it.
    pub cut_at: Option<f64>,
    /// Length of a forced cut, s; `None`: for ever, or none is forced.
    pub cut_for_s: Option<f64>,
    /// Radiated power of each interferer.
    pub interferer_dbm: Vec<f64>,
    /// How long after the loss the pilot turns, raises his antenna, aims it, walks; infinite: he does not.
    pub hands_s: [f64; 4],
}

impl Drawn {
    /// Draws the inputs of one flight. Each input has a block of its own, so that fixing one shifts no other.
    pub fn of_flight(scenario: &Scenario, draws: &FlightDraws) -> Drawn {
        Drawn::with(scenario, |block, number| number.sample(&mut draws.streams.inputs.at(draws.flight, 0, block)))
    }

    /// The middle value of every input, for planning.
    pub fn central(scenario: &Scenario) -> Drawn {
        Drawn::with(scenario, |_, number| number.central())
    }

    fn with(s: &Scenario, value: impl Fn(u32, &Uncertain) -> f64) -> Drawn {
        let (cut_at, cut_for_s) = match &s.loss {
            Loss::Modelled => (None, None),
            Loss::Cut { at, for_s } => {
                let at = match at {
                    CutAt::TimeS(number) | CutAt::PathShare(number) => Some(value(21, number)),
                    CutAt::AnyTime | CutAt::Near { .. } => None,
                };
                (at, for_s.as_ref().map(|number| value(22, number)))
            }
        };
        Drawn {
            wind_mps: value(0, &s.weather.wind_mps),
            from_deg: value(1, &s.weather.from_deg),
            turbulence: value(2, &s.weather.turbulence),
            gust_mps: value(3, &s.weather.gust_mps),
            temperature_c: value(4, &s.weather.temperature_c),
            tendency_pa_per_h: value(5, &s.weather.tendency_pa_per_h),
            mass_kg: value(6, &s.craft.mass_kg) + s.craft.payload_kg,
            linear_drag_per_s: value(7, &s.craft.linear_drag_per_s),
            drag_area_m2: value(8, &s.craft.drag_area_m2),
            fall_drag_area_m2: value(9, &s.craft.fall_drag_area_m2),
            health: value(10, &s.craft.battery.health),
            resistance_ohm: value(11, &s.craft.battery.resistance_ohm),
            charge_pct: value(12, &s.craft.battery.charge_pct),
            resistance_b_k: value(1040, &s.craft.battery.resistance_b_k),
            cold_loss: value(1041, &s.craft.battery.cold_loss),
            hill_factor: value(1043, &s.weather.hill_factor),
            drive_efficiency: value(1042, &s.craft.drive_efficiency),
            power_dbm: value(13, &s.radio.control.power_dbm),
            noise_rise_db: value(14, &s.radio.control.noise_rise_db),
            body_loss_db: value(15, &s.radio.control.body_loss_db),
            shadow_sigma_db: value(16, &s.radio.shadow_sigma_db),
            null_depth_db: value(1000, &s.radio.null_depth_db),
            cross_polar_db: value(1001, &s.radio.cross_polar_db),
            own_noise_db: value(17, &s.sky.own_noise_db),
            powered_before_s: value(18, &s.sky.powered_before_s),
            heading_bias_deg: value(19, &s.sky.heading_bias_deg),
            error_factor: value(1020, &s.sky.error_factor),
            reaction_s: value(20, &s.pilot.reaction_s),
            unresponsive_share: value(1060, &s.pilot.unresponsive_share),
            cut_at,
            cut_for_s,
            interferer_dbm: s
                .radio
                .interferers
                .iter()
                .enumerate()
                .map(|(index, source)| value(32 + index as u32, &source.eirp_dbm))
                .collect(),
            hands_s: {
                let hands = s.pilot.hands.as_ref();
                let after = |block, number: Option<&Uncertain>| number.map_or(f64::INFINITY, |n| value(block, n));
                [
                    after(1002, hands.and_then(|hands| hands.turn_after_s.as_ref())),
                    after(1003, hands.and_then(|hands| hands.raise.as_ref()).map(|raise| &raise.after_s)),
                    after(1004, hands.and_then(|hands| hands.aim_after_s.as_ref())),
                    after(1005, hands.and_then(|hands| hands.walk.as_ref()).map(|walk| &walk.after_s)),
                ]
            },
        }
    }
}
