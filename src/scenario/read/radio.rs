//! Antennas, waveforms, links, interference.

use super::ESTIMATE;
use crate::chance::Uncertain;
use crate::radio::{Antenna, AntennaCondition, Pattern, Polarisation, Waveform};
use crate::scenario::table::{Section, above, between, tidy};
use crate::scenario::types::{
    AfterHold, Bursts, Interferer, NoiseEnvironment, Radio, RadioLink, Receiver, Telemetry, VideoLink, VideoLost,
};

fn read_antenna(s: &Section, default_axis: [f64; 3]) -> Antenna {
    #[derive(Clone, Copy, PartialEq)]
    enum Shape {
        Isotropic,
        Dipole,
        QuarterWave,
        Patch,
    }
    #[derive(Clone, Copy)]
    enum Turn {
        Linear,
        Right,
        Left,
    }
    let shape = s.word(
        "pattern",
        &[
            ("dipole", Shape::Dipole),
            ("quarter_wave", Shape::QuarterWave),
            ("patch", Shape::Patch),
            ("isotropic", Shape::Isotropic),
        ],
        "dipole",
        "the usual rod",
        "Shape of the power pattern",
    );
    let exponent =
        s.number("exponent", between(0.5, 50.0), 1.0, "6 dBi", "Patch: exponent n of its cosⁿ power pattern");
    let back_db =
        s.number("back_db", between(-60.0, 0.0), -15.0, ESTIMATE, "Patch: gain behind it, relative to the peak");
    let turn = s.word(
        "polarisation",
        &[("linear", Turn::Linear), ("right_circular", Turn::Right), ("left_circular", Turn::Left)],
        "linear",
        "as a rod has",
        "Polarisation",
    );
    let axial_ratio_db = s.number(
        "axial_ratio_db",
        between(0.0, 30.0),
        2.0,
        ESTIMATE,
        "Axial ratio of a circular antenna; 0 is perfect",
    );
    let axis = s.numbers::<3>(
        "axis",
        between(-1e3, 1e3),
        default_axis,
        "upright",
        "Axis of a rod or boresight of a patch: [forward, left, up]; need not be of length 1",
    );
    let length = (axis[0] * axis[0] + axis[1] * axis[1] + axis[2] * axis[2]).sqrt();
    let axis = if length > 1e-9 {
        axis.map(|part| part / length)
    } else {
        s.error("axis", "an axis of no length", "a direction, e.g. [0, 0, 1]");
        default_axis
    };
    let damaged_db =
        s.opt_number("damaged_db", between(0.0, 60.0), "whole", "Loss of a damaged antenna in every direction");
    let missing_db = s.opt_number(
        "missing_db",
        between(0.0, 100.0),
        "fitted",
        "Loss against an isotropic antenna when it is torn off or unplugged (30 is an estimate)",
    );
    let feed_loss_db = s.number("feed_loss_db", between(0.0, 60.0), 0.5, ESTIMATE, "Loss of cable and connectors");
    if damaged_db.is_some() && missing_db.is_some() {
        s.error("missing_db", "an antenna both damaged and missing", "one of `damaged_db` and `missing_db`");
    }
    Antenna {
        pattern: match shape {
            Shape::Isotropic => Pattern::Isotropic,
            Shape::Dipole => Pattern::Dipole,
            Shape::QuarterWave => Pattern::QuarterWave,
            Shape::Patch => Pattern::Patch { exponent, back_db },
        },
        polarisation: match turn {
            Turn::Linear => Polarisation::Linear,
            Turn::Right => Polarisation::RightCircular(axial_ratio_db),
            Turn::Left => Polarisation::LeftCircular(axial_ratio_db),
        },
        axis,
        condition: match (damaged_db, missing_db) {
            (_, Some(loss_db)) => AntennaCondition::Missing { loss_db },
            (Some(loss_db), None) => AntennaCondition::Damaged { loss_db },
            (None, None) => AntennaCondition::Whole,
        },
        feed_loss_db,
    }
}

/// A waveform from one of the tables `chirp`, `fsk`, `video`.
fn read_waveform(s: &Section, default: Waveform) -> Waveform {
    let loss = (0.0, 20.0);
    let chirp = s.opt_table("chirp", "Waveform: chirp spread spectrum").map(|c| {
        let spreading_factor = c.whole("spreading_factor", 5, 12, 7, "middle of the range", "Spreading factor") as u32;
        Waveform::Chirp {
            spreading_factor,
            bandwidth_hz: c.number("bandwidth_hz", between(7.0e3, 2.0e6), 500.0e3, ESTIMATE, "Chirp bandwidth"),
            coding_rate_index: c.whole("coding_rate_index", 0, 4, 1, "coding rate 4/5", "Coding rate 4/(4 + index)")
                as u32,
            preamble_symbols: c.whole("preamble_symbols", 0, 1000, 8, "usual", "Preamble length") as u32,
            implementation_loss_db: c.number(
                "implementation_loss_db",
                between(loss.0, loss.1),
                1.0 + 0.3 * f64::from(spreading_factor.saturating_sub(7)),
                "1 dB at factor 7 to 2.5 dB at 12, against the ideal detector",
                "SNR lost against the ideal detector",
            ),
        }
    });
    let fsk = s.opt_table("fsk", "Waveform: frequency-shift keying").map(|f| Waveform::Fsk {
        bit_rate_bps: f.number("bit_rate_bps", between(100.0, 20.0e6), 250.0e3, ESTIMATE, "Bits per second on the air"),
        modulation_index: f.number(
            "modulation_index",
            between(0.3, 5.0),
            1.0,
            "orthogonal",
            "Modulation index h; 1 is orthogonal",
        ),
        coding_gain_db: f.number("coding_gain_db", between(0.0, 12.0), 0.0, "no coding", "Coding gain"),
        implementation_loss_db: f.number(
            "implementation_loss_db",
            between(loss.0, loss.1),
            2.0,
            ESTIMATE,
            "SNR lost against the ideal detector",
        ),
    });
    let video = s.opt_table("video", "Waveform: digital video judged by a needed SNR").map(|v| Waveform::Video {
        bandwidth_hz: v.number("bandwidth_hz", between(1.0e5, 2.0e8), 20.0e6, ESTIMATE, "Noise bandwidth"),
        snr_needed_db: v.number(
            "snr_needed_db",
            between(-20.0, 40.0),
            8.0,
            ESTIMATE,
            "SNR at which half the frames are lost",
        ),
        slope_db: v.number("slope_db", above(0.0, 20.0), 1.0, ESTIMATE, "Width of the slope from good to bad"),
    });
    let given: Vec<Waveform> = [chirp, fsk, video].into_iter().flatten().collect();
    if given.len() > 1 && !s.sink.is_describing() {
        s.error("", "more than one waveform", "one of `chirp`, `fsk`, `video`");
    }
    given.first().copied().unwrap_or(default)
}

const DEFAULT_CHIRP: Waveform = Waveform::Chirp {
    spreading_factor: 7,
    bandwidth_hz: 500.0e3,
    coding_rate_index: 1,
    preamble_symbols: 8,
    implementation_loss_db: 1.0,
};

fn read_control(c: &Section) -> RadioLink {
    let frequency_hz = c.number("frequency_hz", between(100.0e6, 6.0e9), 2.44e9, "licence-free band", "Carrier");
    let power_dbm = c.uncertain(
        "power_dbm",
        between(-40.0, 40.0),
        20.0,
        "100 mW: a usual limit in the licence-free band",
        "Conducted power at the pilot's antenna port",
    );
    let power_steps_dbm = c.list(
        "power_steps_dbm",
        between(-40.0, 40.0),
        "fixed power",
        "Powers stepped through when quality falls, lowest first",
    );
    if power_steps_dbm.windows(2).any(|pair| pair[0] >= pair[1]) {
        c.error("power_steps_dbm", "powers that do not rise", "powers in rising order");
    }
    let power_up_below_pct = c.number(
        "power_up_below_pct",
        between(0.0, 100.0),
        80.0,
        ESTIMATE,
        "Link quality under which the power goes one step up",
    );
    let pilot_antenna = read_antenna(&c.table("pilot_antenna"), [0.0, 0.0, 1.0]);
    let craft_antenna = read_antenna(&c.table("craft_antenna"), [0.0, 0.0, 1.0]);
    let noise_figure_db =
        c.number("noise_figure_db", between(0.0, 30.0), 6.0, ESTIMATE, "Noise figure of the craft's receiver");
    let rise = if frequency_hz < 6.0e8 { 3.0 } else { 1.0 };
    let noise_rise_db = c.uncertain(
        "noise_rise_db",
        between(0.0, 40.0),
        rise,
        "estimate: 3 dB at 433 MHz, 1 dB above",
        "Noise added by the craft's own electronics",
    );
    let waveform = read_waveform(c, DEFAULT_CHIRP);
    let packet_rate_hz = c.number("packet_rate_hz", between(1.0, 2000.0), 50.0, ESTIMATE, "Packets per second");
    let payload_bytes = c.whole("payload_bytes", 1, 255, 8, ESTIMATE, "Payload of one packet") as u32;
    let hop_channels = c.whole("hop_channels", 1, 500, 40, ESTIMATE, "Channels hopped over") as u32;
    let hop_span_hz = c.number("hop_span_hz", between(0.0, 1.0e9), 70.0e6, ESTIMATE, "Width of the hop band");
    let body = if frequency_hz < 2.0e9 { 10.0 } else { 15.0 };
    let body_loss_db = c.uncertain(
        "body_loss_db",
        between(0.0, 40.0),
        Uncertain::Normal(body, 3.0),
        "estimate inside the measured range",
        "Greatest loss through the pilot's body",
    );
    let receiver = read_receiver(&c.table("receiver"));
    if let Ok(Some(airtime_s)) = waveform.time_on_air_s(payload_bytes)
        && airtime_s * packet_rate_hz > 1.0
    {
        c.error(
            "packet_rate_hz",
            format!("{} packets per second of {} ms each", tidy(packet_rate_hz), tidy(1e3 * airtime_s)),
            format!("at most {} packets per second, or a waveform with shorter packets", (1.0 / airtime_s).floor()),
        );
    }
    if receiver.patience_s * packet_rate_hz < 2.0 {
        c.warn(
            "packet_rate_hz",
            format!(
                "a silence of {} s that counts as a loss, with a packet every {} s",
                tidy(receiver.patience_s),
                tidy(1.0 / packet_rate_hz)
            ),
            "`receiver.patience_s` of two packet intervals or more: else a healthy link is called lost",
        );
    }
    RadioLink {
        frequency_hz,
        power_dbm,
        power_steps_dbm,
        power_up_below_pct,
        pilot_antenna,
        craft_antenna,
        noise_figure_db,
        noise_rise_db,
        waveform,
        packet_rate_hz,
        payload_bytes,
        hop_channels,
        hop_span_hz,
        body_loss_db,
        receiver,
    }
}

fn read_receiver(r: &Section) -> Receiver {
    Receiver {
        window_s: r.number("window_s", between(0.05, 60.0), 1.0, ESTIMATE, "Window of the link quality"),
        patience_s: r.number(
            "patience_s",
            between(0.05, 60.0),
            1.0,
            ESTIMATE,
            "Silence before the link is called lost",
        ),
        handback_s: r.number("handback_s", between(0.0, 60.0), 2.0, ESTIMATE, "Good link before control goes back"),
        handback_quality_pct: r.number(
            "handback_quality_pct",
            between(0.0, 100.0),
            70.0,
            ESTIMATE,
            "Link quality that counts as good",
        ),
        rssi_step_db: r.number("rssi_step_db", between(0.0, 10.0), 1.0, ESTIMATE, "Resolution of the signal strength"),
        brownout_v: r.number(
            "brownout_v",
            between(0.0, 4.2),
            0.0,
            "never",
            "Pack voltage per cell under which the receiver restarts; 0 for never",
        ),
        restarts_per_h: r.number(
            "restarts_per_h",
            between(0.0, 100.0),
            0.0,
            "never",
            "Chance per flight hour that it restarts by itself",
        ),
        restart_s: r.number("restart_s", between(0.0, 300.0), 3.0, ESTIMATE, "How long a restart takes"),
    }
}

fn read_telemetry(t: &Section) -> Telemetry {
    Telemetry {
        power_dbm: t.number("power_dbm", between(-40.0, 40.0), 14.0, ESTIMATE, "Power at the craft's antenna port"),
        packet_rate_hz: t.number("packet_rate_hz", between(0.1, 2000.0), 5.0, ESTIMATE, "Packets per second"),
        noise_figure_db: t.number(
            "noise_figure_db",
            between(0.0, 30.0),
            6.0,
            ESTIMATE,
            "Noise figure of the pilot's receiver",
        ),
        patience_s: t.number(
            "patience_s",
            between(0.1, 60.0),
            2.0,
            ESTIMATE,
            "Silence after which telemetry is said to be lost",
        ),
    }
}

fn read_video(v: &Section) -> VideoLink {
    VideoLink {
        frequency_hz: v.number("frequency_hz", between(100.0e6, 6.0e9), 5.8e9, "licence-free band", "Carrier"),
        power_dbm: v.number(
            "power_dbm",
            between(-40.0, 40.0),
            14.0,
            "25 mW: a usual limit in the licence-free band",
            "Power at the craft's antenna port",
        ),
        craft_antenna: read_antenna(&v.table("craft_antenna"), [0.0, 0.0, 1.0]),
        pilot_antenna: read_antenna(&v.table("pilot_antenna"), [0.0, 0.0, 1.0]),
        noise_figure_db: v.number(
            "noise_figure_db",
            between(0.0, 30.0),
            6.0,
            ESTIMATE,
            "Noise figure of the pilot's receiver",
        ),
        waveform: read_waveform(v, Waveform::Video { bandwidth_hz: 20.0e6, snr_needed_db: 8.0, slope_db: 1.0 }),
        patience_s: v.number(
            "patience_s",
            between(0.1, 60.0),
            2.0,
            ESTIMATE,
            "Picture gone for this long counts as lost",
        ),
        when_lost: v.word(
            "when_lost",
            &[("fly_on", VideoLost::FlyOn), ("hold", VideoLost::Hold), ("trigger_policy", VideoLost::TriggerPolicy)],
            "hold",
            ESTIMATE,
            "What the pilot does without a picture while control is up",
        ),
        hold_s: v.number(
            "hold_s",
            between(0.0, 3600.0),
            10.0,
            ESTIMATE,
            "How long the pilot lets the craft hold without a picture before doing something else",
        ),
        after_hold: v.word(
            "after_hold",
            &[
                ("turn", AfterHold::Turn),
                ("climb", AfterHold::Climb),
                ("come_back", AfterHold::ComeBack),
                ("trigger_policy", AfterHold::TriggerPolicy),
            ],
            "trigger_policy",
            ESTIMATE,
            "What the pilot does then; when `turn` or `climb` brings no picture back within `hold_s` either, the pilot triggers the policy by the switch",
        ),
    }
}

fn read_interferer(i: &Section) -> Interferer {
    Interferer {
        name: i.text("name", "", "none", "Name"),
        place_m: i.numbers::<3>(
            "place_m",
            between(-1e6, 1e6),
            [0.0, 0.0, 2.0],
            "at the origin",
            "Where it is: [x, y, height above ground]",
        ),
        eirp_dbm: i.uncertain(
            "eirp_dbm",
            between(-60.0, 80.0),
            20.0,
            "100 mW: the limit of ETSI EN 300 328 at 2.4 GHz",
            "All its radiated power towards the site (EIRP), spread evenly over `bandwidth_hz`; a receiver gets the part that falls into its own band",
        ),
        frequency_hz: i.number(
            "frequency_hz",
            between(30.0e6, 30.0e9),
            2.44e9,
            "licence-free band",
            "Centre frequency",
        ),
        bandwidth_hz: i.number("bandwidth_hz", between(1.0e3, 1.0e9), 20.0e6, ESTIMATE, "Width of what it occupies; what falls into a link's band is the width in common over this"),
        duty: i.number(
            "duty",
            between(0.0, 1.0),
            0.15,
            "access points see their channel used for 0.03 to 0.55 of the time: Biswas et al., SIGCOMM 2015; Cheema and Salous 2019",
            "Share of the time that it is on",
        ),
        burst_s: i.number(
            "burst_s",
            between(1e-4, 3600.0),
            0.001,
            "frames are mostly shorter than 1 ms: Wollenberg et al., MSWiM 2012",
            "Mean length of one burst",
        ),
        beacons: i.whole(
            "beacons",
            0,
            1000,
            0,
            "none",
            "Idle networks beside it, as strong, that send nothing but beacons: each is on for 0.015 of the time",
        ) as u32,
    }
}

fn read_bursts(b: &Section) -> Bursts {
    Bursts {
        good_s: b.number("good_s", above(0.0, 1e6), 60.0, ESTIMATE, "Mean time in the good state"),
        bad_s: b.number("bad_s", above(0.0, 1e6), 1.0, ESTIMATE, "Mean time in the bad state"),
        loss_good: b.number("loss_good", between(0.0, 1.0), 0.0, ESTIMATE, "Packet loss added in the good state"),
        loss_bad: b.number("loss_bad", between(0.0, 1.0), 1.0, ESTIMATE, "Packet loss added in the bad state"),
    }
}

/// `traced`: terrain or obstacles are known, whose shadows the paths already hold.
pub(super) fn read_radio(s: &Section, traced: bool) -> Radio {
    let control = read_control(&s.table("control"));
    let telemetry = s.opt_table("telemetry", "Telemetry from the craft; without it the pilot gets no warning");
    let telemetry = telemetry.as_ref().map(read_telemetry);
    let video = s.opt_table("video", "The video downlink").as_ref().map(read_video);
    let interferers = s.tables("interferer", "Sources of interference").iter().map(read_interferer).collect();
    let neighbours = s.whole("neighbours", 0, 200, 0, "alone", "Other pilots on the band") as u32;
    let bursts = s.opt_table("bursts", "Two-state burst process on the uplink").as_ref().map(read_bursts);
    let shadow_sigma_db = s.uncertain(
        "shadow_sigma_db",
        between(0.0, 15.0),
        if traced { 2.5 } else { 4.2 },
        "3GPP TR 36.777 table B-3, in the country; 2.5 where terrain or obstacles are traced: air-to-ground 2.2 to 3.9 measured (Khawaja et al., survey)",
        "Standard deviation of shadowing that terrain and obstacles do not resolve, near the ground",
    );
    let shadow_height_m = s.number(
        "shadow_height_m",
        between(0.0, 10_000.0),
        if traced || s.has("shadow_sigma_db") { 0.0 } else { 217.0 },
        "3GPP TR 36.777 table B-3: e^(-0.0046 h); 0 where terrain or obstacles are traced or `shadow_sigma_db` is stated",
        "Height over which that deviation falls to 1/e, up to 300 m; 0: the same at every height",
    );
    let null_depth_db = s.uncertain(
        "null_depth_db",
        between(0.0, 60.0),
        Uncertain::Triangular(9.0, 12.0, 16.0),
        "Badi et al., MSWiM 2019: two upright rods lie 20 to 27 dB lower overhead than abeam",
        "Depth of the null along a rod's axis, for one antenna",
    );
    let cross_polar_db = s.uncertain(
        "cross_polar_db",
        between(0.0, 60.0),
        Uncertain::Triangular(6.0, 12.0, 18.0),
        "Badi et al. 2019; Gomez-Ponce et al. 2021: about 12 dB on a craft",
        "Greatest loss by polarisation mismatch",
    );
    let craft_shadow_db = s.numbers::<2>(
        "craft_shadow_db",
        between(0.0, 20.0),
        [3.0, 3.0],
        "Badi et al. 2019: 3 to 4 dB on average in a chamber",
        "What the craft's own body takes from a ray: mean, and spread from direction to direction; at most 10 dB",
    );
    let shadow_distance_m = s.number(
        "shadow_distance_m",
        between(1.0, 1000.0),
        37.0,
        "3GPP TR 38.901 Table 7.5-6, rural in sight (from memory)",
        "Distance at which shadowing has decayed to 1/e",
    );
    let rician_k_db = s.numbers::<2>(
        "rician_k_db",
        between(-20.0, 40.0),
        [8.0, 14.0],
        "Rodriguez-Pineiro et al., TAP 69(2), 2021: 11 to 16 dB at 15 to 105 m, rods at both ends; 8 at the horizon as Saboor et al. 2025",
        "Rician K at the horizon and overhead",
    );
    let delay_spread_s =
        s.number("delay_spread_s", between(1e-9, 1e-5), 5.0e-8, "estimate: 10 to 100 ns", "Rms delay spread");
    let noise_environment = s.word(
        "noise_environment",
        &[
            ("none", None),
            ("city", Some(NoiseEnvironment::City)),
            ("residential", Some(NoiseEnvironment::Residential)),
            ("rural", Some(NoiseEnvironment::Rural)),
            ("quiet_rural", Some(NoiseEnvironment::QuietRural)),
        ],
        "none",
        "negligible above 900 MHz",
        "Surroundings for man-made noise (ITU-R P.372)",
    );
    let in_leaf = s.flag("in_leaf", true, "the flying season", "Whether trees are in leaf");
    Radio {
        control,
        telemetry,
        video,
        interferers,
        neighbours,
        bursts,
        shadow_sigma_db,
        shadow_height_m,
        null_depth_db,
        cross_polar_db,
        craft_shadow_db,
        shadow_distance_m,
        rician_k_db,
        delay_spread_s,
        noise_environment,
        in_leaf,
    }
}
