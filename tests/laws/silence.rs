//! The chance that a receiver calls the link lost while the craft stays near a place: more margin never hurts, fades come as Rice
//! says, and a simulation packet by packet meets it.

use crate::reference::radio::fading::{level_crossing_rate_hz, rician_outage};
use lostlink::chance::{Purpose, Source};
use lostlink::radio::Waveform;
use lostlink::radio::fading::{Amplitudes, DiffuseField, DiffuseRead, DiffuseWay};
use lostlink::radio::modem::PacketCurve;
use lostlink::radio::silence::{DeclaredLoss, StayInput};

fn fsk_curve() -> PacketCurve {
    let waveform =
        Waveform::Fsk { bit_rate_bps: 100e3, modulation_index: 1.0, coding_gain_db: 0.0, implementation_loss_db: 1.0 };
    PacketCurve::new(&waveform, 12).unwrap()
}

fn one_stay(curve: &PacketCurve) -> StayInput {
    StayInput {
        frequency_hz: 2.44e9,
        packet_rate_hz: 50.0,
        patience_s: 0.5,
        stay_s: 10.0,
        speed_mps: 0.1,
        bands: 1,
        needed_snr_db: curve.snr_for_db(0.1),
        shadow_sigma_db: [0.0; 2],
        other_loss: 0.0,
    }
}

/// Mean margin from which on the chance is at most `probability`, at this K, under the greatest shadowing.
fn margin_for_db(table: &DeclaredLoss, probability: f64, k_db: f64) -> f64 {
    let (mut low, mut high) = (-80.0, 120.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if table.at(middle, k_db) > probability { low = middle } else { high = middle }
    }
    high
}

#[test]
fn more_margin_and_more_line_of_sight_never_hurt() {
    let curve = fsk_curve();
    let mut stay = one_stay(&curve);
    stay.shadow_sigma_db = [4.0; 2];
    let table = DeclaredLoss::new(&curve, &stay);
    for k_db in [f64::NEG_INFINITY, -20.0, -3.0, 5.0, 14.0, 40.0] {
        let mut last = 1.0 + 1e-6;
        for step in -80..120 {
            let p = table.at(f64::from(step) * 0.5, k_db);
            assert!((0.0..=1.0).contains(&p) && p <= last + 1e-6, "{k_db} {step}: {last} to {p}");
            last = p;
        }
    }
    assert!(table.at(15.0, 15.0) < table.at(15.0, f64::NEG_INFINITY));
    assert!(table.at(-30.0, 15.0) > 0.999 && table.at(60.0, 15.0) < 1e-6);
    let margin_db = margin_for_db(&table, 0.01, 9.0);
    assert!((table.at(margin_db, 9.0) - 0.01).abs() < 1e-3);
}

#[test]
fn shadowing_counts_both_ways() {
    let curve = fsk_curve();
    let mut stay = one_stay(&curve);
    let clear = DeclaredLoss::new(&curve, &stay);
    stay.shadow_sigma_db = [6.0; 2];
    let shadowed = DeclaredLoss::new(&curve, &stay);
    assert!(shadowed.at(20.0, 12.0) > clear.at(20.0, 12.0));
    assert!(shadowed.at(-12.0, 12.0) < clear.at(-12.0, 12.0));
}

/// Rice: fades under a level come at his rate and a share exp(−…) of them is as long as the patience; with a patience of
/// next to nothing and packets close together every fade is a loss.
#[test]
fn short_patience_loses_as_often_as_rice_says_fades_come() {
    let curve = fsk_curve();
    let k_db = 3.0;
    let stay = StayInput { packet_rate_hz: 200.0, patience_s: 0.0051, stay_s: 20.0, ..one_stay(&curve) };
    let table = DeclaredLoss::new(&curve, &stay);
    let doppler_hz = stay.speed_mps * stay.frequency_hz / 299_792_458.0;
    for margin_db in [10.0, 14.0, 18.0, 22.0] {
        // Half of the packets fail somewhat below margin 0: that is where a fade begins to cost one.
        let level_db = curve.snr_for_db(0.02) - stay.needed_snr_db - margin_db;
        let crossings = level_crossing_rate_hz(10f64.powf(k_db / 10.0), level_db, doppler_hz);
        let within = rician_outage(k_db, level_db);
        let want = 1.0 - (1.0 - within) * libm::exp(-crossings * stay.stay_s);
        let got = table.at(margin_db, k_db);
        assert!(got < 1.5 * want && got > want / 1.5, "{margin_db} dB: {got} against {want}");
    }
}

/// Packet by packet in the field that flights meet, with a luck of its own.
fn simulated(curve: &PacketCurve, stay: &StayInput, margin_db: f64, k_db: f64, trials: u32) -> f64 {
    let source = Source::new(7, Purpose::Uplink);
    let field = DiffuseField::new(&source);
    let rays = Amplitudes::of_k(if k_db.is_finite() { 10f64.powf(k_db / 10.0) } else { 0.0 });
    let wavelengths = stay.speed_mps * stay.frequency_hz / 299_792_458.0 / stay.packet_rate_hz;
    let packets = (stay.stay_s * stay.packet_rate_hz) as u32;
    let run = (stay.patience_s * stay.packet_rate_hz) as u32;
    let mut declared = 0;
    for trial in 0..trials {
        let shadow_db = stay.shadow_sigma_db[1] * source.normals(trial, 0, 77_777)[0];
        let reads: Vec<DiffuseRead> = (0..stay.bands).map(|band| field.read(&source, trial, band)).collect();
        let mut silent = 0;
        for packet in 0..packets {
            let luck = source.units(trial, packet, 1)[0];
            // Any even and scattered order of hops.
            let hop = (f64::from(packet) * 0.618_033_988_75 + f64::from(trial) * 0.379).fract();
            let read = &reads[(hop * f64::from(stay.bands)) as usize];
            let way = DiffuseWay::new(f64::from(packet) * wavelengths, 0.0);
            let level = rays.level(field.on_way(read, &way));
            let error = curve.at(margin_db + shadow_db + stay.needed_snr_db + 10.0 * level.log10());
            silent = if luck < error { silent + 1 } else { 0 };
            if silent >= run {
                declared += 1;
                break;
            }
        }
    }
    f64::from(declared) / f64::from(trials)
}

/// The table against a direct simulation, by ratio and down to chances of one in a hundred: hovering and flying, one band
/// and several, short and long patience.
#[test]
fn the_table_agrees_with_a_simulation() {
    let curve = fsk_curve();
    for (speed_mps, bands, patience_s, k_db, sigma_db) in [
        (0.1, 1, 0.31, 6.0, 0.0),
        (0.1, 1, 0.31, f64::NEG_INFINITY, 3.0),
        (0.1, 4, 0.31, f64::NEG_INFINITY, 0.0),
        (12.0, 1, 0.51, 6.0, 2.0),
        (12.0, 8, 0.51, f64::NEG_INFINITY, 4.0),
        (0.1, 1, 1.51, 9.0, 2.0),
    ] {
        let stay = StayInput { speed_mps, bands, patience_s, shadow_sigma_db: [sigma_db; 2], ..one_stay(&curve) };
        let table = DeclaredLoss::new(&curve, &stay);
        for target in [0.01, 0.05, 0.2, 0.5] {
            let margin_db = margin_for_db(&table, target, k_db);
            // So that a seldom loss is met some forty times and chance does not decide on a frequent one.
            let trials = (100.0 / target).clamp(1000.0, 4000.0) as u32;
            let met = simulated(&curve, &stay, margin_db, k_db, trials);
            let error = 3.0 * (target * (1.0 - target) / f64::from(trials)).sqrt();
            assert!(
                met <= 1.5 * target + error && met >= target / 1.5 - error,
                "{speed_mps} m/s, {bands} bands, {patience_s} s, K {k_db}: {met} met, {target} stated"
            );
        }
    }
}
