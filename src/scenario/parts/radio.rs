//! The radio: links, antennas, waveforms, interference.

use super::ESTIMATE;
use crate::chance::Uncertain;
use crate::radio::interference::Spells;
use crate::radio::noise::NoiseEnvironment;
use crate::radio::{Antenna, AntennaCondition, Pattern, Polarisation, Waveform};
use crate::scenario::declare::part;
use crate::scenario::kind::{Limits, above, between, tidy};
use crate::scenario::section::Section;

const NOISES: [(&str, Option<NoiseEnvironment>); 5] = [
    ("none", None),
    ("city", Some(NoiseEnvironment::City)),
    ("residential", Some(NoiseEnvironment::Residential)),
    ("rural", Some(NoiseEnvironment::Rural)),
    ("quiet_rural", Some(NoiseEnvironment::QuietRural)),
];

/// What the pilot does without a picture while control is up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VideoLost {
    /// Flies on blind along the path.
    FlyOn,
    /// Lets go of the sticks: the craft holds.
    Hold,
    /// Triggers the policy by a switch.
    TriggerPolicy,
}

const WHEN_LOST: [(&str, VideoLost); 3] =
    [("fly_on", VideoLost::FlyOn), ("hold", VideoLost::Hold), ("trigger_policy", VideoLost::TriggerPolicy)];

/// What the pilot does when the picture does not come back while the craft holds. Where that brings none either, he
/// throws the switch after the same time again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
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

const AFTER_HOLD: [(&str, AfterHold); 4] = [
    ("turn", AfterHold::Turn),
    ("climb", AfterHold::Climb),
    ("come_back", AfterHold::ComeBack),
    ("trigger_policy", AfterHold::TriggerPolicy),
];

/// What the owner of a set can look up.
const SETTING: &str = "usual: yours can be looked up";

/// Noise figure of a receiver with its filter in front.
fn noise_figure() -> Uncertain {
    Uncertain::Triangular(4.0, 6.0, 8.0)
}

part! {
    /// The radio. `traced`: terrain or obstacles are known, whose shadows the paths already hold.
    pub struct Radio<U>(s, traced: bool) {
        "The control link: the one whose loss is in question"
        control: RadioLink<U> = part(RadioLink::read(&s.table("control")));
        "Telemetry from the craft; without it the pilot gets no warning"
        telemetry: Option<Telemetry<U>> = optional_part(Telemetry);
        "The video downlink"
        video: Option<VideoLink<U>> = optional_part(VideoLink);
        "Sources of interference"
        interferers: Vec<Interferer<U>> = parts("interferer", s.tables("interferer", "Sources of interference").iter().map(Interferer::read).collect());
        "Other pilots on the band"
        neighbours: u32 = count(0, 200, 0, "alone");
        "Two-state burst process on the uplink"
        bursts: Option<Bursts> = optional(Bursts);
        "Standard deviation of shadowing that terrain and obstacles do not resolve, near the ground"
        shadow_sigma_db: U = uncertain(16, between(0.0, 15.0), if traced { 2.5 } else { 4.2 }, "3GPP TR 36.777 table B-3, in the country; 2.5 where terrain or obstacles are traced: air-to-ground 2.2 to 3.9 measured (Khawaja et al., survey)");
        let untraced = !traced && !s.has("shadow_sigma_db");
        "Height over which that deviation falls to 1/e, up to 300 m; 0: the same at every height"
        shadow_height_m: f64 = number(between(0.0, 10_000.0), if untraced { 217.0 } else { 0.0 }, "3GPP TR 36.777 table B-3: e^(-0.0046 h); 0 where terrain or obstacles are traced or `shadow_sigma_db` is stated");
        "Depth of the null along a rod's axis, for one antenna"
        null_depth_db: U = uncertain(1000, between(0.0, 60.0), Uncertain::Triangular(9.0, 12.0, 16.0), "Badi et al., MSWiM 2019: two upright rods lie 20 to 27 dB lower overhead than abeam");
        "Greatest loss by polarisation mismatch"
        cross_polar_db: U = uncertain(1001, between(0.0, 60.0), Uncertain::Triangular(6.0, 12.0, 18.0), "Badi et al. 2019; Gomez-Ponce et al. 2021: about 12 dB on a craft");
        "What the craft's own body takes from a ray: mean, and spread from direction to direction; at most 10 dB"
        craft_shadow_db: [f64; 2] = numbers(between(0.0, 20.0), [3.0, 3.0], "Badi et al. 2019: 3 to 4 dB on average in a chamber");
        "Distance at which shadowing has decayed to 1/e"
        shadow_distance_m: f64 = number(between(1.0, 1000.0), 37.0, "3GPP TR 38.901 Table 7.5-6, rural in sight (from memory)");
        "Rician K at the horizon and overhead"
        rician_k_db: [f64; 2] = numbers(between(-20.0, 40.0), [8.0, 14.0], "Rodriguez-Pineiro et al., TAP 69(2), 2021: 11 to 16 dB at 15 to 105 m, rods at both ends; 8 at the horizon as Saboor et al. 2025");
        "Rms delay spread"
        delay_spread_s: f64 = number(between(1e-9, 1e-5), 5.0e-8, "estimate: 10 to 100 ns");
        "Surroundings for man-made noise (ITU-R P.372)"
        noise_environment: Option<NoiseEnvironment> = word(&NOISES, "none", "negligible above 900 MHz");
        "Whether trees are in leaf"
        in_leaf: bool = flag(true, "the flying season");
    }
}

part! {
    /// One radio link with both its ends.
    pub struct RadioLink<U>(c) {
        "Carrier"
        frequency_hz: f64 = number(between(100.0e6, 6.0e9), 2.44e9, "licence-free band");
        "Conducted power at the pilot's antenna port"
        power_dbm: U = uncertain(13, between(-40.0, 40.0), 20.0, "100 mW: a usual limit in the licence-free band");
        "Powers stepped through when quality falls, lowest first"
        power_steps_dbm: Vec<f64> = list(between(-40.0, 40.0), "fixed power");
        "Link quality under which the power goes one step up"
        power_up_below_pct: f64 = number(between(0.0, 100.0), 80.0, SETTING);
        let (pilot, craft) = (read_antenna(&c.table("pilot_antenna")), read_antenna(&c.table("craft_antenna")));
        "The pilot's antenna, with the middle loss of its feed"
        pilot_antenna: Antenna = made(pilot.antenna);
        "The craft's antenna, with the middle loss of its feed"
        craft_antenna: Antenna = made(craft.antenna);
        "Loss of cable and connectors at the pilot's end"
        pilot_feed_loss_db: U = drawn_as(1121, "pilot_antenna.feed_loss_db", pilot.feed_loss_db);
        "Loss of cable and connectors at the craft's end"
        craft_feed_loss_db: U = drawn_as(1122, "craft_antenna.feed_loss_db", craft.feed_loss_db);
        "Noise figure of the craft's receiver"
        noise_figure_db: U = uncertain(1123, between(0.0, 30.0), noise_figure(), ESTIMATE);
        "Noise added by the craft's own electronics"
        noise_rise_db: U = uncertain(14, between(0.0, 40.0), Uncertain::Lognormal(if frequency_hz < 6.0e8 { 3.0 } else { 1.0 }, 1.4), "estimate: 3 dB at 433 MHz, 1 dB above");
        "Modulation and coding, for the packet error rate"
        waveform: Waveform = made(read_waveform(c, DEFAULT_CHIRP));
        "Packets per second"
        packet_rate_hz: f64 = number(between(1.0, 2000.0), 50.0, SETTING);
        "Payload of one packet"
        payload_bytes: u32 = count(1, 255, 8, SETTING);
        "Channels hopped over"
        hop_channels: u32 = count(1, 500, 40, SETTING);
        "Width of the hop band"
        hop_span_hz: f64 = number(between(0.0, 1.0e9), 70.0e6, SETTING);
        "Greatest loss through the pilot's body"
        body_loss_db: U = uncertain(15, between(0.0, 40.0), Uncertain::Normal(if frequency_hz < 2.0e9 { 10.0 } else { 15.0 }, 3.0), "estimate inside the measured range");
        "The craft's receiver: when it calls the link lost, when it gives control back"
        receiver: Receiver<U> = part(Receiver::read(&c.table("receiver")));
    }
    then {
        if power_steps_dbm.windows(2).any(|pair| pair[0] >= pair[1]) {
            c.error("power_steps_dbm", "powers that do not rise", "powers in rising order");
        }
        if let Ok(Some(airtime_s)) = waveform.time_on_air_s(payload_bytes) && airtime_s * packet_rate_hz > 1.0 {
            let found = format!("{} packets per second of {} ms each", tidy(packet_rate_hz), tidy(1e3 * airtime_s));
            let most = (1.0 / airtime_s).floor();
            c.error("packet_rate_hz", found, format!("at most {most} packets per second, or a waveform with shorter packets"));
        }
        if receiver.patience_s.central() * packet_rate_hz < 2.0 {
            let (patience, every) = (tidy(receiver.patience_s.central()), tidy(1.0 / packet_rate_hz));
            let found = format!("a silence of {patience} s that counts as a loss, with a packet every {every} s");
            c.warn("packet_rate_hz", found, "`receiver.patience_s` of two packet intervals or more: else a healthy link is called lost");
        }
    }
}

part! {
    /// The craft's receiver.
    pub struct Receiver<U>(r) {
        "Window of the link quality"
        window_s: U = uncertain(1124, between(0.05, 60.0), Uncertain::Lognormal(1.0, 1.25), ESTIMATE);
        "Silence before the link is called lost"
        patience_s: U = uncertain(1125, between(0.05, 60.0), Uncertain::Lognormal(1.0, 1.25), ESTIMATE);
        "Good link before control goes back"
        handback_s: U = uncertain(1126, between(0.0, 60.0), Uncertain::Lognormal(2.0, 1.25), ESTIMATE);
        "Link quality that counts as good"
        handback_quality_pct: U = uncertain(1127, between(0.0, 100.0), Uncertain::Triangular(55.0, 70.0, 85.0), ESTIMATE);
        "Resolution of the signal strength"
        rssi_step_db: f64 = number(between(0.0, 10.0), 1.0, SETTING);
        "Pack voltage per cell under which the receiver restarts; 0 for never"
        brownout_v: f64 = number(between(0.0, 4.2), 0.0, "never");
        "Chance per flight hour that it restarts by itself"
        restarts_per_h: f64 = number(between(0.0, 100.0), 0.0, "never");
        "How long a restart takes"
        restart_s: U = uncertain(1128, between(0.0, 300.0), Uncertain::Lognormal(3.0, 1.4), ESTIMATE);
    }
}

part! {
    /// Telemetry on the control link's frequency and antennas.
    pub struct Telemetry<U>(t) {
        "Power at the craft's antenna port"
        power_dbm: U = uncertain(1129, between(-40.0, 40.0), Uncertain::Triangular(11.0, 14.0, 17.0), ESTIMATE);
        "Packets per second"
        packet_rate_hz: f64 = number(between(0.1, 2000.0), 5.0, SETTING);
        "Noise figure of the pilot's receiver"
        noise_figure_db: U = uncertain(1130, between(0.0, 30.0), noise_figure(), ESTIMATE);
        "Silence after which telemetry is said to be lost"
        patience_s: U = uncertain(1131, between(0.1, 60.0), Uncertain::Lognormal(2.0, 1.25), ESTIMATE);
    }
}

part! {
    /// The video downlink.
    pub struct VideoLink<U>(v) {
        "Carrier"
        frequency_hz: f64 = number(between(100.0e6, 6.0e9), 5.8e9, "licence-free band");
        "Power at the craft's antenna port"
        power_dbm: f64 = number(between(-40.0, 40.0), 14.0, "25 mW: a usual limit in the licence-free band");
        let (craft, pilot) = (read_antenna(&v.table("craft_antenna")), read_antenna(&v.table("pilot_antenna")));
        "The craft's antenna, with the middle loss of its feed"
        craft_antenna: Antenna = made(craft.antenna);
        "The pilot's antenna, with the middle loss of its feed"
        pilot_antenna: Antenna = made(pilot.antenna);
        "Loss of cable and connectors at the craft's end"
        craft_feed_loss_db: U = drawn_as(1132, "craft_antenna.feed_loss_db", craft.feed_loss_db);
        "Loss of cable and connectors at the pilot's end"
        pilot_feed_loss_db: U = drawn_as(1133, "pilot_antenna.feed_loss_db", pilot.feed_loss_db);
        "Noise figure of the pilot's receiver"
        noise_figure_db: U = uncertain(1134, between(0.0, 30.0), noise_figure(), ESTIMATE);
        "Modulation and coding of the picture"
        waveform: Waveform = made(read_waveform(v, Waveform::Video { bandwidth_hz: 20.0e6, snr_needed_db: 8.0, slope_db: 1.0 }));
        "Picture gone for this long counts as lost"
        patience_s: U = uncertain(1135, between(0.1, 60.0), Uncertain::Lognormal(2.0, 1.25), ESTIMATE);
        "What the pilot does without a picture while control is up"
        when_lost: VideoLost = word(&WHEN_LOST, "hold", ESTIMATE);
        "How long the pilot lets the craft hold without a picture before doing something else"
        hold_s: U = uncertain(1136, between(0.0, 3600.0), Uncertain::Lognormal(10.0, 1.4), ESTIMATE);
        "What the pilot does then; when `turn` or `climb` brings no picture back within `hold_s` either, the pilot triggers the policy by the switch"
        after_hold: AfterHold = word(&AFTER_HOLD, "trigger_policy", ESTIMATE);
    }
}

part! {
    /// A source of interference.
    pub struct Interferer<U>(i) {
        "Name"
        name: String = text("", "none");
        "Where it is: [x, y, height above ground]"
        place_m: [f64; 3] = numbers(between(-1e6, 1e6), [0.0, 0.0, 2.0], "at the origin");
        "All its radiated power towards the site (EIRP), spread evenly over `bandwidth_hz`; a receiver gets the part that falls into its own band"
        eirp_dbm: U = uncertain(32, between(-60.0, 80.0), 20.0, "100 mW: the limit of ETSI EN 300 328 at 2.4 GHz");
        "Centre frequency"
        frequency_hz: f64 = number(between(30.0e6, 30.0e9), 2.44e9, "licence-free band");
        "Width of what it occupies; what falls into a link's band is the width in common over this"
        bandwidth_hz: f64 = number(between(1.0e3, 1.0e9), 20.0e6, ESTIMATE);
        "Share of the time that it is on"
        duty: U = uncertain(1900, between(0.0, 1.0), Uncertain::Triangular(0.03, 0.15, 0.55), "access points see their channel used for 0.03 to 0.55 of the time: Biswas et al., SIGCOMM 2015; Cheema and Salous 2019");
        "Mean length of one burst"
        burst_s: f64 = number(between(1e-4, 3600.0), 0.001, "frames are mostly shorter than 1 ms: Wollenberg et al., MSWiM 2012");
        "Idle networks beside it, as strong, that send nothing but beacons: each is on for 0.015 of the time"
        beacons: u32 = count(0, 1000, 0, "none");
    }
}

impl<U> Interferer<U> {
    /// Share of the time that one idle network is on.
    ///
    /// # Source
    /// A beacon of 1 to 2 ms each 100 ms, 1 to 2 %; intervals as in Cheema and Salous, Electronics 8, 2019 (as quoted by
    /// others).
    pub const BEACON_SHARE: f64 = 0.015;
}

impl Interferer<f64> {
    /// When it or one of the beacons is on.
    pub fn spells(&self) -> Spells {
        let idle = libm::pow(1.0 - Self::BEACON_SHARE, f64::from(self.beacons));
        Spells::of_duty(1.0 - (1.0 - self.duty) * idle, self.burst_s)
    }
}

part! {
    /// Two-state burst process.
    #[derive(Copy)]
    pub struct Bursts(b) {
        "Mean time in the good state"
        good_s: f64 = number(above(0.0, 1e6), 60.0, ESTIMATE);
        "Mean time in the bad state"
        bad_s: f64 = number(above(0.0, 1e6), 1.0, ESTIMATE);
        "Packet loss added in the good state"
        loss_good: f64 = number(between(0.0, 1.0), 0.0, ESTIMATE);
        "Packet loss added in the bad state"
        loss_bad: f64 = number(between(0.0, 1.0), 1.0, ESTIMATE);
    }
}

#[derive(Clone, Copy)]
enum Shape {
    Isotropic,
    Dipole,
    QuarterWave,
    Patch,
}

const SHAPES: [(&str, Shape); 4] = [
    ("dipole", Shape::Dipole),
    ("quarter_wave", Shape::QuarterWave),
    ("patch", Shape::Patch),
    ("isotropic", Shape::Isotropic),
];

type Turned = fn(f64) -> Polarisation;

const TURNS: [(&str, Turned); 3] = [
    ("linear", |_| Polarisation::Linear),
    ("right_circular", Polarisation::RightCircular),
    ("left_circular", Polarisation::LeftCircular),
];

/// An antenna with what its feed takes.
struct AntennaInput {
    antenna: Antenna,
    feed_loss_db: Uncertain,
}

fn read_antenna(s: &Section) -> AntennaInput {
    let shape = s.word("pattern", &SHAPES, "dipole", "the usual rod", "Shape of the power pattern");
    let exponent =
        s.number("exponent", between(0.5, 50.0), 1.0, "6 dBi", "Patch: exponent n of its cosⁿ power pattern");
    let back_db =
        s.number("back_db", between(-60.0, 0.0), -15.0, ESTIMATE, "Patch: gain behind it, relative to the peak");
    let polarisation = s.word("polarisation", &TURNS, "linear", "as a rod has", "Polarisation");
    let axial_ratio_db = s.number(
        "axial_ratio_db",
        between(0.0, 30.0),
        2.0,
        ESTIMATE,
        "Axial ratio of a circular antenna; 0 is perfect",
    );
    let axis = read_axis(s);
    let condition = read_condition(s);
    let usual = Uncertain::Lognormal(0.5, 1.5);
    let feed_loss_db = s.uncertain("feed_loss_db", between(0.0, 60.0), usual, ESTIMATE, "Loss of cable and connectors");
    let pattern = match shape {
        Shape::Isotropic => Pattern::Isotropic,
        Shape::Dipole => Pattern::Dipole,
        Shape::QuarterWave => Pattern::QuarterWave,
        Shape::Patch => Pattern::Patch { exponent, back_db },
    };
    let polarisation = polarisation(axial_ratio_db);
    let antenna = Antenna { pattern, polarisation, axis, condition, feed_loss_db: feed_loss_db.central() };
    AntennaInput { antenna, feed_loss_db }
}

fn read_axis(s: &Section) -> [f64; 3] {
    const UP: [f64; 3] = [0.0, 0.0, 1.0];
    let meaning = "Axis of a rod or boresight of a patch: [forward, left, up]; need not be of length 1";
    let axis = s.numbers::<3>("axis", between(-1e3, 1e3), UP, "upright", meaning);
    let length = (axis[0] * axis[0] + axis[1] * axis[1] + axis[2] * axis[2]).sqrt();
    if length > 1e-9 {
        return axis.map(|part| part / length);
    }
    s.error("axis", "an axis of no length", "a direction, e.g. [0, 0, 1]");
    UP
}

fn read_condition(s: &Section) -> AntennaCondition {
    let damaged_db =
        s.opt_number("damaged_db", between(0.0, 60.0), "whole", "Loss of a damaged antenna in every direction");
    let missing_db = s.opt_number(
        "missing_db",
        between(0.0, 100.0),
        "fitted",
        "Loss against an isotropic antenna when it is torn off or unplugged (30 is an estimate)",
    );
    match (damaged_db, missing_db) {
        (damaged, Some(loss_db)) => {
            if damaged.is_some() {
                s.error("missing_db", "an antenna both damaged and missing", "one of `damaged_db` and `missing_db`");
            }
            AntennaCondition::Missing { loss_db }
        }
        (Some(loss_db), None) => AntennaCondition::Damaged { loss_db },
        (None, None) => AntennaCondition::Whole,
    }
}

const DEFAULT_CHIRP: Waveform = Waveform::Chirp {
    spreading_factor: 7,
    bandwidth_hz: 500.0e3,
    coding_rate_index: 1,
    preamble_symbols: 8,
    implementation_loss_db: 1.0,
};

/// SNR that a receiver loses against the ideal detector.
fn read_implementation_loss(s: &Section, default: f64, source: &str) -> f64 {
    const LOSS: Limits = between(0.0, 20.0);
    s.number("implementation_loss_db", LOSS, default, source, "SNR lost against the ideal detector")
}

fn read_chirp(c: &Section) -> Waveform {
    let spreading_factor = c.count("spreading_factor", 5, 12, 7, "middle of the range", "Spreading factor");
    let loss = 1.0 + 0.3 * f64::from(spreading_factor.saturating_sub(7));
    Waveform::Chirp {
        spreading_factor,
        bandwidth_hz: c.number("bandwidth_hz", between(7.0e3, 2.0e6), 500.0e3, SETTING, "Chirp bandwidth"),
        coding_rate_index: c.count("coding_rate_index", 0, 4, 1, "coding rate 4/5", "Coding rate 4/(4 + index)"),
        preamble_symbols: c.count("preamble_symbols", 0, 1000, 8, "usual", "Preamble length"),
        implementation_loss_db: read_implementation_loss(
            c,
            loss,
            "1 dB at factor 7 to 2.5 dB at 12, against the ideal detector",
        ),
    }
}

fn read_fsk(f: &Section) -> Waveform {
    let (index, one) = (between(0.3, 5.0), "Modulation index h; 1 is orthogonal");
    Waveform::Fsk {
        bit_rate_bps: f.number("bit_rate_bps", between(100.0, 20.0e6), 250.0e3, SETTING, "Bits per second on the air"),
        modulation_index: f.number("modulation_index", index, 1.0, "orthogonal", one),
        coding_gain_db: f.number("coding_gain_db", between(0.0, 12.0), 0.0, "no coding", "Coding gain"),
        implementation_loss_db: read_implementation_loss(f, 2.0, ESTIMATE),
    }
}

fn read_video_waveform(v: &Section) -> Waveform {
    let half = "SNR at which half the frames are lost";
    Waveform::Video {
        bandwidth_hz: v.number("bandwidth_hz", between(1.0e5, 2.0e8), 20.0e6, SETTING, "Noise bandwidth"),
        snr_needed_db: v.number("snr_needed_db", between(-20.0, 40.0), 8.0, ESTIMATE, half),
        slope_db: v.number("slope_db", above(0.0, 20.0), 1.0, ESTIMATE, "Width of the slope from good to bad"),
    }
}

/// A waveform from one of the tables `chirp`, `fsk`, `video`.
fn read_waveform(s: &Section, default: Waveform) -> Waveform {
    let given: Vec<Waveform> = [
        s.opt_table("chirp", "Waveform: chirp spread spectrum").map(|c| read_chirp(&c)),
        s.opt_table("fsk", "Waveform: frequency-shift keying").map(|f| read_fsk(&f)),
        s.opt_table("video", "Waveform: digital video judged by a needed SNR").map(|v| read_video_waveform(&v)),
    ]
    .into_iter()
    .flatten()
    .collect();
    if given.len() > 1 && !s.sink.is_describing() {
        s.error("", "more than one waveform", "one of `chirp`, `fsk`, `video`");
    }
    given.first().copied().unwrap_or(default)
}
