//! The scenario: plain data, always valid once read.

use crate::chance::Uncertain;
use crate::failsafe::Policy;
use crate::radio::{Antenna, Waveform};
pub use crate::site::Terrain;
use crate::site::{Area, GridInput, Obstacle, SiteGrid, Zone};
use serde::Serialize;
use std::path::PathBuf;

/// Everything one assessment needs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scenario {
    /// Title of the report, one line.
    pub title: String,
    /// What the question is, in a sentence or two.
    pub about: String,
    /// Whether place and craft are invented; the report says so.
    pub invented: bool,
    /// Master seed: it and a flight number are all of a flight's luck.
    pub seed: u64,
    /// Number of flights flown, each under every policy.
    pub flights: u32,
    /// Time step of the simulation, s; 0.001 to 0.1.
    pub step_s: f64,
    /// How results are judged: what matters, how sure, what counts as home.
    pub judge: Judge,
    /// The place: ground, zones, obstacles, fence, people.
    pub site: Site,
    /// The air: wind, turbulence, temperature, pressure.
    pub weather: Weather,
    /// The craft: mass, rotors, limits, pack.
    pub craft: Craft,
    /// The radio: links, antennas, surroundings, who else is on the band.
    pub radio: Radio,
    /// The satellites and the craft's sense of place.
    pub sky: Sky,
    /// The planned flight, from and to the take-off spot.
    pub path: FlightPlan,
    /// The pilot: where he stands, how he reacts, what he does with the link back.
    pub pilot: Pilot,
    /// How the link is lost.
    pub loss: Loss,
    /// The policies compared, in the order listed.
    pub policies: Vec<Policy>,
    /// What the craft was delivered with, for the site card.
    pub delivered: Option<Policy>,
    /// Variations of this scenario, each whole.
    pub conditions: Vec<Condition>,
    /// Every input as read or by default, for the report.
    pub inputs: Vec<InputRow>,
    /// Odd but legal values, in words.
    pub warnings: Vec<String>,
    /// SHA-256 of the file's text and of every file it names, hexadecimal.
    pub hash: String,
}

/// How results are judged; set before the run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judge {
    /// Smallest difference of the danger share that matters, in percentage points.
    pub matters_points: f64,
    /// Two-sided confidence of printed intervals, e.g. 0.95.
    pub confidence: f64,
    /// Within this distance of the take-off spot a landing is at home.
    pub home_radius_m: f64,
    /// The pack level under which the reserve flag is set.
    pub reserve_pct: f64,
    /// Whether to print the harm annex.
    pub harm: bool,
    /// The order of headline outcomes, by word, worst first, when not the default.
    pub order: Option<Vec<String>>,
}

/// One variation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Condition {
    /// Name in tables.
    pub name: String,
    /// Its odds, when the user gave some.
    pub odds: Option<f64>,
    /// Its line in the file, counted from 1.
    pub line: Option<usize>,
    /// The scenario with the changed inputs (without conditions of its own). Its policies have the names of the others, in their order, and
    /// may do something else.
    pub scenario: Box<Scenario>,
}

/// One input for the report's table.
#[derive(Debug, Clone, PartialEq, Serialize, serde::Deserialize)]
pub struct InputRow {
    /// Key path in the file.
    pub key: String,
    /// Value as written, or the default used.
    pub value: String,
    /// Line in the file, counted from 1; `None` for a default.
    pub line: Option<usize>,
    /// The comment on the key's line (where the value comes from), the default's source, or 'estimate'.
    pub note: String,
}

/// The place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Site {
    /// Where the local origin lies on Earth; `None`: a flat plane somewhere at 45° north, said so in the report.
    pub origin: Option<Origin>,
    /// Height of z = 0 above mean sea level, whether or not the origin's place is stated.
    pub height_amsl_m: f64,
    /// West, south, east, north edge of the simulated area.
    pub extent_m: [f64; 4],
    /// Grid spacing in metres, when stated; else chosen from the size.
    pub cell_m: Option<f64>,
    /// Terrain; `None`: flat at z = 0.
    pub terrain: Option<Terrain>,
    /// Zones (roads, water, people …); later ones lie on top of earlier ones.
    pub zones: Vec<Zone>,
    /// What stands on the ground: buildings, trees, masts, with their heights.
    pub obstacles: Vec<Obstacle>,
    /// The permitted area; `None`: the whole extent.
    pub fence: Option<Area>,
    /// Width of the strip inside the fence whose entry is flagged.
    pub fence_margin_m: f64,
    /// Greatest permitted height above the take-off spot.
    pub ceiling_m: f64,
    /// Greatest permitted height above the ground below; `None`: not limited.
    pub ceiling_above_ground_m: Option<f64>,
    /// Take-off spot in local metres; home.
    pub home_m: [f64; 2],
    /// People per km² where no zone says otherwise.
    pub people_per_km2: f64,
    /// Relative permittivity of the ground, for reflection.
    pub ground_permittivity: f64,
    /// Conductivity of the ground, S/m.
    pub ground_conductivity_spm: f64,
    /// Rms roughness of the ground, for reflection.
    pub ground_roughness_m: f64,
}

/// Latitude and longitude assumed when the site is not tied to the Earth.
pub const UNSTATED_ORIGIN: (f64, f64) = (45.0, 0.0);

impl Site {
    /// Latitude and longitude of the origin, stated or assumed.
    pub fn lat_lon_deg(&self) -> (f64, f64) {
        self.origin.map_or(UNSTATED_ORIGIN, |place| (place.lat_deg, place.lon_deg))
    }
}

/// The origin on Earth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Origin {
    /// Geodetic latitude, north positive.
    pub lat_deg: f64,
    /// Longitude, east positive.
    pub lon_deg: f64,
}

impl Site {
    /// The site as a grid of look-ups.
    pub fn grid(&self) -> SiteGrid {
        SiteGrid::new(&GridInput {
            extent_m: self.extent_m,
            cell_m: self.cell_m,
            terrain: self.terrain.as_ref(),
            zones: &self.zones,
            obstacles: &self.obstacles,
            fence: self.fence.as_ref(),
            fence_margin_m: self.fence_margin_m,
            people_per_km2: self.people_per_km2,
        })
    }
}

/// The air. The wind blows *from* `from_deg`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Weather {
    /// Mean wind over the flight, m/s, at `wind_height_m`.
    pub wind_mps: Uncertain,
    /// Height above the ground that `wind_mps` is stated for, m.
    pub wind_height_m: f64,
    /// Direction the wind comes from, degrees clockwise from north.
    pub from_deg: Uncertain,
    /// Turning of the wind with height, clockwise positive.
    pub veer_deg_per_100m: f64,
    /// Roughness length of the surroundings, m: 0.01 short grass, 1 a town.
    pub roughness_m: f64,
    /// Turbulence, as a factor on the intensity that wind and height give (0 none, 1 as the standard says).
    pub turbulence: Uncertain,
    /// Slow change of the mean wind over a flight: standard deviation in m/s …
    pub drift_mps: f64,
    /// … with this memory.
    pub drift_memory_s: f64,
    /// Discrete gust: peak amplitude added once at a random moment, m/s; 0: none.
    pub gust_mps: Uncertain,
    /// Length of that gust along the wind, m.
    pub gust_length_m: f64,
    /// Length of the wind shadow behind obstacles in obstacle heights; 0: none.
    pub lee_heights: f64,
    /// Whether hills change the wind: faster over crests, separated behind steep slopes.
    pub hill_wind: bool,
    /// Factor on the speed-up over crests that the formula gives; 1 as it stands.
    pub hill_factor: Uncertain,
    /// Air temperature at the site, °C.
    pub temperature_c: Uncertain,
    /// Pressure reduced to sea level, Pa.
    pub pressure_pa: f64,
    /// Change of the pressure, Pa an hour, which a barometer takes for height.
    pub tendency_pa_per_h: Uncertain,
    /// Rain, mm an hour, for the radio alone.
    pub rain_mm_per_h: f64,
}

/// The craft.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Craft {
    /// What it is in general words, for the report.
    pub name: String,
    /// Mass in kg with pack and all that it always carries; `payload_kg` comes on top.
    pub mass_kg: Uncertain,
    /// The mass that its thrust ratio is of: the middle mass as the file states it.
    pub rated_mass_kg: f64,
    /// What it carries besides, kg.
    pub payload_kg: f64,
    /// Half of its greatest width, m, for strikes and harm.
    pub radius_m: f64,
    /// Number of rotors, all alike.
    pub rotors: u32,
    /// Diameter of each rotor, m.
    pub rotor_diameter_m: f64,
    /// Induced power over that of momentum theory, 1 and up.
    pub induced_factor: f64,
    /// Profile power of all rotors together in hover at sea level, W.
    pub profile_power_w: f64,
    /// Speed of the blade tips in hover, m/s.
    pub tip_speed_mps: f64,
    /// Shaft power over electrical power of motors and their controllers, 0 to 1.
    pub drive_efficiency: Uncertain,
    /// Electrical power of everything that does not turn rotors, W.
    pub aux_power_w: f64,
    /// Rotor drag linear in airspeed, over mass: 1/s.
    pub linear_drag_per_s: Uncertain,
    /// Drag coefficient times area in level flight, m².
    pub drag_area_m2: Uncertain,
    /// Drag coefficient times area in a fall with the motors stopped, m².
    pub fall_drag_area_m2: Uncertain,
    /// Greatest tilt from level, degrees.
    pub tilt_max_deg: f64,
    /// Speed over ground aimed for where nothing else is stated, m/s.
    pub cruise_mps: f64,
    /// Greatest climb speed, m/s.
    pub climb_mps: f64,
    /// Greatest descent speed, m/s, positive downwards.
    pub descent_mps: f64,
    /// Descent speed below `slow_below_m`, m/s.
    pub final_descent_mps: f64,
    /// Height above the take-off level (as the craft knows it) below which it comes down slowly.
    pub slow_below_m: f64,
    /// Range of a sensor that measures the height above what is below; 0: there is none.
    pub ground_sensor_m: f64,
    /// Greatest horizontal acceleration asked for, m/s².
    pub accel_mps2: f64,
    /// Time constant of the velocity loop, s.
    pub velocity_lag_s: f64,
    /// Time constant with which the attitude follows, s.
    pub attitude_lag_s: f64,
    /// Greatest thrust over weight with a full pack.
    pub thrust_ratio: f64,
    /// Attitude error that makes a level hold drift, 1 sigma.
    pub level_error_deg: f64,
    /// Greatest vertical and horizontal speed of a soft touch-down …
    pub soft_touch_mps: [f64; 2],
    /// … and of a hard one; above is a crash.
    pub hard_touch_mps: [f64; 2],
    /// Slope of the ground above which it tips over at rest, degrees.
    pub tip_slope_deg: f64,
    /// The pack and what it makes the craft do.
    pub battery: Battery,
}

/// The pack.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Battery {
    /// Cells in series.
    pub cells: u32,
    /// Rated capacity, Ah.
    pub capacity_ah: f64,
    /// Share of the rated capacity that age has left, 0 to 1.
    pub health: Uncertain,
    /// Resistance of the whole pack at 25 °C, Ω.
    pub resistance_ohm: Uncertain,
    /// State of charge at take-off, per cent.
    pub charge_pct: Uncertain,
    /// Form of its cells: pouches and cylinders differ in the cold.
    pub cell_form: CellForm,
    /// Constant of the resistance's growth in the cold.
    pub resistance_b_k: Uncertain,
    /// Factor on the share of the charge that cells of this form lose in the cold.
    pub cold_loss: Uncertain,
    /// Pack temperature; `None`: the air's.
    pub temperature_c: Option<f64>,
    /// State of charge, per cent, at which a warning is given …
    pub warn_charge_pct: f64,
    /// … and at which the craft comes down by itself.
    pub land_charge_pct: f64,
    /// Voltage per cell under load at which a warning is given …
    pub warn_v: f64,
    /// … at which the craft comes down by itself …
    pub land_v: f64,
    /// … and at which thrust is lost.
    pub cutoff_v: f64,
    /// What the craft does by itself at the warning.
    pub at_warning: PackAct,
    /// What it does by itself at the limit.
    pub at_limit: PackAct,
    /// Least height above home of the way home that a low pack sends it on; `None`: the height it has.
    pub return_at_least_m: Option<f64>,
    /// What decides when the link is lost and the pack is low.
    pub goes_first: GoesFirst,
}

/// What a craft does by itself when its pack is low.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PackAct {
    /// Nothing: it only tells.
    Nothing,
    /// Flies home.
    Return,
    /// Comes down where it is.
    Land,
}

/// What decides when the link is lost and the pack is low.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum GoesFirst {
    /// What is set for a low pack.
    Pack,
    /// The policy for a lost link.
    Policy,
}

/// What the cells of a pack are like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CellForm {
    /// Lithium-polymer pouches.
    Pouch,
    /// Cylindrical lithium-ion cells.
    Cylinder,
}

/// The radio.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Radio {
    /// The control link: the one whose loss is in question.
    pub control: RadioLink,
    /// Telemetry from the craft on the control link; `None`: off, the pilot gets no warning.
    pub telemetry: Option<Telemetry>,
    /// The video downlink; `None`: no camera link.
    pub video: Option<VideoLink>,
    /// Sources of interference, each at a place with a power and a duty.
    pub interferers: Vec<Interferer>,
    /// Other pilots who hop over the same band.
    pub neighbours: u32,
    /// Two-state burst process on the uplink; `None`: none.
    pub bursts: Option<Bursts>,
    /// Standard deviation of shadowing that terrain and obstacles do not resolve, near the ground.
    pub shadow_sigma_db: Uncertain,
    /// Height over which that falls to 1/e; 0: it is the same at every height.
    pub shadow_height_m: f64,
    /// Depth of a rod's null below its peak.
    pub null_depth_db: Uncertain,
    /// Greatest loss by polarisation mismatch.
    pub cross_polar_db: Uncertain,
    /// What the craft's own body takes: mean, and standard deviation over craft in one direction.
    pub craft_shadow_db: [f64; 2],
    /// Distance at which shadowing has decayed to 1/e.
    pub shadow_distance_m: f64,
    /// Rician K at the horizon and overhead, dB.
    pub rician_k_db: [f64; 2],
    /// Rms delay spread of the surroundings, s; it decides how wide a band fades together.
    pub delay_spread_s: f64,
    /// Surroundings for man-made noise: a name of ITU-R P.372, or none.
    pub noise_environment: Option<NoiseEnvironment>,
    /// Whether trees are in leaf: bare ones take less.
    pub in_leaf: bool,
}

/// Surroundings of ITU-R P.372 for man-made noise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoiseEnvironment {
    /// City.
    City,
    /// Residential.
    Residential,
    /// Rural.
    Rural,
    /// Quiet rural.
    QuietRural,
}

/// One radio link with both its ends.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RadioLink {
    /// Middle of the band, Hz.
    pub frequency_hz: f64,
    /// Conducted power at the pilot's antenna port, dBm.
    pub power_dbm: Uncertain,
    /// Powers stepped through when quality falls, lowest first; empty: fixed power.
    pub power_steps_dbm: Vec<f64>,
    /// Link quality, per cent, under which the power goes one step up.
    pub power_up_below_pct: f64,
    /// The pilot's antenna.
    pub pilot_antenna: Antenna,
    /// The craft's antenna.
    pub craft_antenna: Antenna,
    /// Noise figure of the craft's receiver.
    pub noise_figure_db: f64,
    /// Noise added by the craft's own electronics.
    pub noise_rise_db: Uncertain,
    /// Modulation and coding, for the packet error rate.
    pub waveform: Waveform,
    /// Control packets a second.
    pub packet_rate_hz: f64,
    /// Payload of one packet, bytes.
    pub payload_bytes: u32,
    /// Channels hopped over; 1 does not hop.
    pub hop_channels: u32,
    /// Width of the band hopped over, Hz.
    pub hop_span_hz: f64,
    /// Loss in dB through the pilot's body when it stands right in the way.
    pub body_loss_db: Uncertain,
    /// The craft's receiver: when it calls the link lost, when it gives control back.
    pub receiver: Receiver,
}

/// The craft's receiver.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Receiver {
    /// Window over which the link quality is counted, s.
    pub window_s: f64,
    /// Time without a valid packet after which the link is called lost, s.
    pub patience_s: f64,
    /// Time that the link has to be good before control goes back, s.
    pub handback_s: f64,
    /// Link quality, per cent, that counts as good.
    pub handback_quality_pct: f64,
    /// Steps in which the signal strength is told, dB.
    pub rssi_step_db: f64,
    /// Pack voltage per cell under which the receiver restarts; 0: never.
    pub brownout_v: f64,
    /// Chance per flight hour that it restarts by itself.
    pub restarts_per_h: f64,
    /// How long it hears nothing while it restarts, s.
    pub restart_s: f64,
}

/// Telemetry on the control link's frequency and antennas.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Telemetry {
    /// Conducted power at the craft's antenna port, dBm.
    pub power_dbm: f64,
    /// Telemetry packets a second.
    pub packet_rate_hz: f64,
    /// Noise figure of the pilot's receiver.
    pub noise_figure_db: f64,
    /// Silence after which the pilot's set says that telemetry is lost.
    pub patience_s: f64,
}

/// The video downlink.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VideoLink {
    /// Carrier of the picture, Hz.
    pub frequency_hz: f64,
    /// Power at the craft's antenna port.
    pub power_dbm: f64,
    /// The craft's antenna.
    pub craft_antenna: Antenna,
    /// The pilot's antenna.
    pub pilot_antenna: Antenna,
    /// Noise figure of the pilot's receiver.
    pub noise_figure_db: f64,
    /// Modulation and coding of the picture.
    pub waveform: Waveform,
    /// Picture gone for this long counts as video lost.
    pub patience_s: f64,
    /// What the pilot does once it counts as lost while control is up.
    pub when_lost: VideoLost,
    /// How long he lets the craft hold without a picture before he does something else …
    pub hold_s: f64,
    /// … namely this.
    pub after_hold: AfterHold,
}

/// What the pilot does without a picture while control is up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum VideoLost {
    /// Flies on blind along the path.
    FlyOn,
    /// Lets go of the sticks: the craft holds.
    Hold,
    /// Triggers the policy by a switch.
    TriggerPolicy,
}

/// What the pilot does when the picture does not come back while the craft holds. Where that brings none either, he
/// throws the switch after the same time again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AfterHold {
    /// Turns the craft round once, for another look of its antenna.
    Turn,
    /// Climbs, to the permitted height at most.
    Climb,
    /// Flies home without a picture.
    ComeBack,
    /// Triggers the policy by a switch.
    TriggerPolicy,
}

/// A source of interference.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Interferer {
    /// Name in the report.
    pub name: String,
    /// Where it is, x, y, and height above ground.
    pub place_m: [f64; 3],
    /// All its radiated power towards the site (EIRP), spread evenly over its bandwidth.
    pub eirp_dbm: Uncertain,
    /// Centre frequency, Hz; a link is hit when its band overlaps.
    pub frequency_hz: f64,
    /// Width of what it occupies, Hz.
    pub bandwidth_hz: f64,
    /// Share of the time that it is on, 0 to 1.
    pub duty: f64,
    /// Mean length of one burst, s.
    pub burst_s: f64,
    /// Idle networks beside it that send nothing but beacons, each as strong as it.
    pub beacons: u32,
}

impl Interferer {
    /// Share of the time that one idle network is on.
    ///
    /// # Source
    /// A beacon of 1 to 2 ms each 100 ms, 1 to 2 %; intervals as in Cheema and Salous, Electronics 8, 2019 (as quoted by
    /// others).
    pub const BEACON_SHARE: f64 = 0.015;

    /// Share of the time that it or one of the beacons is on.
    pub fn duty_with_beacons(&self) -> f64 {
        let idle = libm::pow(1.0 - Interferer::BEACON_SHARE, f64::from(self.beacons));
        1.0 - (1.0 - self.duty) * idle
    }
}

/// Two-state burst process.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bursts {
    /// Mean time in the good state, s.
    pub good_s: f64,
    /// Mean time in the bad state, s.
    pub bad_s: f64,
    /// Share of packets lost in the good state on top of all else, 0 to 1.
    pub loss_good: f64,
    /// Share of packets lost in the bad state on top of all else, 0 to 1.
    pub loss_bad: f64,
}

/// Satellites, heading, barometer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sky {
    /// UTC date and time of take-off: year, month, day, hour, minute, second.
    pub utc: [u32; 6],
    /// Take-off happens within this long after that (uniform).
    pub window_s: f64,
    /// Satellite systems used, when no almanac is given.
    pub constellations: Vec<Constellation>,
    /// Almanac or navigation file used instead of the nominal constellations.
    pub almanac: Option<PathBuf>,
    /// The almanac's text, read with the scenario.
    #[serde(skip)]
    pub almanac_text: Option<String>,
    /// Least elevation of a satellite that is used, degrees.
    pub mask_deg: f64,
    /// Surroundings, for the multipath of a range.
    pub multipath: Multipath,
    /// Residual vertical delay of the ionosphere, m, 1 sigma.
    pub ionosphere_m: f64,
    /// Factor of one flight on the position error that satellites and multipath class give.
    pub error_factor: Uncertain,
    /// Jumps of the fix in an hour, on average.
    pub jumps_per_h: f64,
    /// Length of a jump on the ground; drawn for each jump, not for each flight.
    pub jump_m: Uncertain,
    /// Time in which a jump fades to 1/e.
    pub jump_for_s: f64,
    /// C/N0 lost to the craft's own electronics.
    pub own_noise_db: Uncertain,
    /// The craft's own video transmitter as heard in the satellites' band; `None`: not at all.
    pub own_video: Option<OwnVideo>,
    /// In-band source on the ground near the site; `None`: none.
    pub interference: Option<SkyInterference>,
    /// C/N0 at which a satellite is tracked on, and at which it is taken up again.
    pub track_dbhz: [f64; 2],
    /// How long the receiver has been on at take-off.
    pub powered_before_s: Uncertain,
    /// Median time to first fix from a cold, warm or hot start, and which applies.
    pub start: SkyStart,
    /// Whether the pilot waits for a fix before take-off.
    pub wait_for_fix: bool,
    /// Fewest satellites that he waits for then …
    pub wait_satellites: u32,
    /// … and greatest HDOP.
    pub wait_hdop: f64,
    /// Mean time between losses of the fix that geometry does not explain.
    pub outage_every_s: f64,
    /// Mean length of such a loss.
    pub outage_for_s: f64,
    /// Heading believed minus true, constant over a flight, degrees clockwise.
    pub heading_bias_deg: Uncertain,
    /// Heading error at full throttle through motor currents, degrees.
    pub heading_throttle_deg: f64,
    /// Whether course over ground corrects the heading while moving.
    pub course_alignment: bool,
    /// Whether magnetic declination is applied (true) or forgotten (false: a constant error).
    pub declination_applied: bool,
    /// Stated declination, when the built-in magnetic model is not to be used.
    pub declination_deg: Option<f64>,
    /// Barometer drift, 1 sigma after a square root of a minute.
    pub baro_drift_m_per_sqrt_min: f64,
}

/// A satellite system.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Constellation {
    /// GPS, 24 base slots.
    Gps24,
    /// GPS with all six expandable slots in use.
    Gps30,
    /// Galileo.
    Galileo,
    /// GLONASS.
    Glonass,
    /// BeiDou medium orbits.
    Beidou,
}

/// Multipath class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Multipath {
    /// Open field.
    Open,
    /// Edge of a wood.
    Wooded,
    /// Among buildings or under cliffs.
    Walled,
}

/// An in-band emitter that lowers C/N0.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SkyInterference {
    /// Where it is, x, y, and height above ground.
    pub place_m: [f64; 3],
    /// Radiated power within the satellites' band, dBm.
    pub eirp_dbm: f64,
}

/// What of the craft's own video transmitter falls into the satellites' band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OwnVideo {
    /// Radiated power that falls into the band.
    pub in_band_dbm: f64,
    /// Between its antenna and that of the position receiver.
    pub distance_m: f64,
    /// Taken by a filter or screen in between.
    pub filter_db: f64,
}

/// Start of the position receiver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SkyStart {
    /// No almanac, time or place.
    Cold,
    /// Almanac, rough time and place.
    Warm,
    /// Fresh ephemerides.
    Hot,
}

/// The planned flight.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FlightPlan {
    /// Waypoints in order: x, y and height above the take-off spot.
    pub waypoints_m: Vec<[f64; 3]>,
    /// Speed over ground between them, m/s.
    pub speed_mps: f64,
    /// Hover at each waypoint, s.
    pub pause_s: f64,
    /// File it came from, if any.
    pub file: Option<PathBuf>,
}

/// The pilot.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pilot {
    /// Where he stands: x, y in local metres.
    pub place_m: [f64; 2],
    /// Height of the antenna above the ground.
    pub antenna_height_m: f64,
    /// Direction the pilot's antenna points; `None`: it follows the craft.
    pub facing_deg: Option<f64>,
    /// Time from the link's return to his hands on the sticks, s.
    pub reaction_s: Uncertain,
    /// What his sticks steer.
    pub flies_by: FliesBy,
    /// How far off the take-off spot he sets the craft down, 1 sigma a direction.
    pub lands_off_m: f64,
    /// What he does with the link back.
    pub on_regain: OnRegain,
    /// Share of pilots who do not take over when the link is back.
    pub unresponsive_share: Uncertain,
    /// Share of hand-backs that meet a switch in the wrong position, and what the craft does until it is put right.
    pub wrong_switch_share: f64,
    /// See above.
    pub wrong_switch: WrongSwitch,
    /// Link quality, per cent, at which telemetry's warning makes him turn back; 0: he does not.
    pub turn_back_below_pct: f64,
    /// Signal strength above sensitivity at which he turns back; negative: he does not.
    pub turn_back_margin_db: f64,
    /// Charge left, per cent, at which telemetry's warning makes the pilot turn back; 0 for never.
    pub turn_back_charge_pct: f64,
    /// What he does with the radio once the link is gone; `None`: nothing.
    pub hands: Option<Hands>,
}

/// What the pilot does with the radio once the link is called lost; times are counted from then on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hands {
    /// Turns to the craft and follows it; also when telemetry falls silent. `None`: he does not, or follows it anyway.
    pub turn_after_s: Option<Uncertain>,
    /// Raises the antenna.
    pub raise: Option<Raise>,
    /// Points the antenna at the craft, up and down too.
    pub aim_after_s: Option<Uncertain>,
    /// Walks.
    pub walk: Option<Walk>,
}

/// The pilot raises his antenna.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Raise {
    /// How long after the loss, s.
    pub after_s: Uncertain,
    /// Height of the raised antenna above the ground, m.
    pub to_m: f64,
}

/// The pilot walks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Walk {
    /// How long after the loss he sets out, s.
    pub after_s: Uncertain,
    /// How far he walks, m.
    pub distance_m: f64,
    /// Where to, degrees clockwise from north.
    pub toward_deg: f64,
}

/// What the pilot's sticks steer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FliesBy {
    /// The craft's attitude: the pilot steers by eye, and let go of, it keeps level and drifts.
    Attitude,
    /// A speed over ground: the craft steers by its fix and its heading, and let go of, it keeps its place.
    PositionHold,
}

/// What the craft does at hand-back while a switch stands in the wrong position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WrongSwitch {
    /// Keeps level and drifts.
    Level,
    /// Comes down, level.
    Sink,
    /// Stops its motors.
    StopMotors,
}

/// What the pilot does with the link back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum OnRegain {
    /// Takes over and flies home by hand.
    FlyHome,
    /// Takes over and goes on with the path.
    Resume,
    /// Lets the policy finish.
    LetFinish,
}

/// How the link is lost.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Loss {
    /// When physics says so.
    Modelled,
    /// Cut at a moment along the path.
    Cut {
        /// The moment at which it goes.
        at: CutAt,
        /// For how long, s; `None`: for ever.
        for_s: Option<Uncertain>,
    },
}

/// The moment of a forced loss.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CutAt {
    /// Any moment of the path, all equally likely.
    AnyTime,
    /// At a time after take-off, s.
    TimeS(Uncertain),
    /// At a share of the path's length, 0 to 1.
    PathShare(Uncertain),
    /// Within a disc.
    Near {
        /// Middle: x, y in local metres.
        place_m: [f64; 2],
        /// Radius on the ground, m.
        radius_m: f64,
    },
}

impl Scenario {
    /// Every number that may be uncertain, by key path, in a fixed order (what-if figures walk this list).
    pub fn uncertain_mut(&mut self) -> Vec<(String, &mut Uncertain)> {
        let mut list: Vec<(String, &mut Uncertain)> = vec![
            ("weather.wind_mps".into(), &mut self.weather.wind_mps),
            ("weather.from_deg".into(), &mut self.weather.from_deg),
            ("weather.turbulence".into(), &mut self.weather.turbulence),
            ("weather.gust_mps".into(), &mut self.weather.gust_mps),
            ("weather.temperature_c".into(), &mut self.weather.temperature_c),
            ("weather.tendency_pa_per_h".into(), &mut self.weather.tendency_pa_per_h),
            ("craft.mass_kg".into(), &mut self.craft.mass_kg),
            ("craft.drive_efficiency".into(), &mut self.craft.drive_efficiency),
            ("craft.linear_drag_per_s".into(), &mut self.craft.linear_drag_per_s),
            ("craft.drag_area_m2".into(), &mut self.craft.drag_area_m2),
            ("craft.fall_drag_area_m2".into(), &mut self.craft.fall_drag_area_m2),
            ("craft.battery.health".into(), &mut self.craft.battery.health),
            ("craft.battery.resistance_ohm".into(), &mut self.craft.battery.resistance_ohm),
            ("craft.battery.resistance_b_k".into(), &mut self.craft.battery.resistance_b_k),
            ("craft.battery.charge_pct".into(), &mut self.craft.battery.charge_pct),
            ("radio.control.power_dbm".into(), &mut self.radio.control.power_dbm),
            ("radio.control.noise_rise_db".into(), &mut self.radio.control.noise_rise_db),
            ("radio.control.body_loss_db".into(), &mut self.radio.control.body_loss_db),
            ("radio.shadow_sigma_db".into(), &mut self.radio.shadow_sigma_db),
            ("radio.null_depth_db".into(), &mut self.radio.null_depth_db),
            ("radio.cross_polar_db".into(), &mut self.radio.cross_polar_db),
            ("sky.own_noise_db".into(), &mut self.sky.own_noise_db),
            ("sky.powered_before_s".into(), &mut self.sky.powered_before_s),
            ("sky.error_factor".into(), &mut self.sky.error_factor),
            ("sky.heading_bias_deg".into(), &mut self.sky.heading_bias_deg),
            ("pilot.reaction_s".into(), &mut self.pilot.reaction_s),
            ("pilot.unresponsive_share".into(), &mut self.pilot.unresponsive_share),
        ];
        if self.weather.hill_wind && self.site.terrain.is_some() {
            list.push(("weather.hill_factor".into(), &mut self.weather.hill_factor));
        }
        if self.craft.battery.cell_form == CellForm::Cylinder {
            list.push(("craft.battery.cold_loss".into(), &mut self.craft.battery.cold_loss));
        }
        if let Loss::Cut { at, for_s } = &mut self.loss {
            match at {
                CutAt::TimeS(u) => list.push(("loss.cut.time_s".into(), u)),
                CutAt::PathShare(u) => list.push(("loss.cut.path_share".into(), u)),
                _ => {}
            }
            if let Some(u) = for_s {
                list.push(("loss.cut.for_s".into(), u));
            }
        }
        if let Some(hands) = &mut self.pilot.hands {
            let of = |key: &str| format!("pilot.hands.{key}_after_s");
            list.extend(hands.turn_after_s.as_mut().map(|u| (of("turn"), u)));
            list.extend(hands.raise.as_mut().map(|raise| (of("raise"), &mut raise.after_s)));
            list.extend(hands.aim_after_s.as_mut().map(|u| (of("aim"), u)));
            list.extend(hands.walk.as_mut().map(|walk| (of("walk"), &mut walk.after_s)));
        }
        for (index, source) in self.radio.interferers.iter_mut().enumerate() {
            list.push((format!("radio.interferer[{index}].eirp_dbm"), &mut source.eirp_dbm));
        }
        list
    }
}
