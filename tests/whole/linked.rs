//! The link to the packet: never lost when it is strong, lost at the cut plus the patience, and after runs of packets as
//! often as the closed forms say.

use crate::bench::{fly, read, shipped};
use crate::plain::{self, CRAFT, NO_FIX, PILOT, SKY, STRONG, mean_of, policy};
use lostlink::chance::Uncertain;
use lostlink::flight::{FlightOutcome, LossCause};
use lostlink::scenario::Loss;

/// With power to spare, alone on the band, over the shipped paths: no link is lost, no receiver of another kind needed.
#[test]
fn a_strong_link_alone_on_the_band_is_never_lost() {
    for name in ["club-field", "ridge-valley", "lake-shore", "quarry", "open-air-stage", "wrong-heading"] {
        let mut scenario = shipped(name);
        scenario.loss = Loss::Modelled;
        let radio = &mut scenario.radio;
        radio.interferers.clear();
        radio.neighbours = 0;
        radio.bursts = None;
        radio.video = None;
        radio.shadow_sigma_db = Uncertain::Exact(0.0);
        radio.control.power_steps_dbm.clear();
        radio.control.power_dbm = Uncertain::Exact(60.0);
        radio.control.receiver.restarts_per_h = 0.0;
        scenario.pilot.turn_back_below_pct = 0.0;
        scenario.pilot.turn_back_margin_db = -1.0;
        scenario.pilot.turn_back_charge_pct = 0.0;
        let lost: Vec<_> = fly(&scenario, 60).into_iter().filter_map(|outcome| outcome.loss).collect();
        assert!(lost.is_empty(), "{name}: {} of 60 lost, {:?}", lost.len(), lost.first());
    }
}

/// A flight that hovers, with the link cut.
fn cut(rate_hz: f64, patience_s: f64, loss: &str, flights: u32) -> Vec<FlightOutcome> {
    let text = plain::text(&[
        &plain::site(200.0, 5.0, ""),
        &plain::still(),
        CRAFT,
        // Packets short enough for every rate asked for.
        &format!(
            "{STRONG}packet_rate_hz = {rate_hz:?}\nfsk = {{ bit_rate_bps = 2e6 }}\n\n[radio.control.receiver]\n\
             patience_s = {patience_s:?}\n"
        ),
        SKY,
        &plain::path("[[0, 0, 30], [20, 0, 30]]", 5.0, 10.0),
        PILOT,
        &format!("\n[loss.cut]\n{loss}\n"),
        &policy("drop", &["drop = {}"]),
    ]);
    fly(&read(&text), flights)
}

/// The link is called lost at the last packet before the cut plus the patience, at any rate and patience.
#[test]
fn a_cut_is_declared_at_the_last_packet_plus_the_patience() {
    for (rate_hz, patience_s) in
        [(50.0, 1.0), (50.0, 0.5), (20.0, 0.73), (7.0, 2.0), (250.0, 0.3), (333.0, 1.5), (1.5, 3.0)]
    {
        // At whole steps; packet times that fall on the cut itself are left to rounding, so none does.
        for at_s in [9.05_f64, 12.35, 15.15] {
            let interval_s = 1.0 / rate_hz;
            let packet = (at_s * rate_hz).floor();
            if (at_s * rate_hz - packet).min(packet + 1.0 - at_s * rate_hz) < 1e-6 {
                continue;
            }
            let want_s = packet * interval_s + patience_s;
            for outcome in cut(rate_hz, patience_s, &format!("time_s = {at_s:?}"), 8) {
                let loss = outcome.loss.expect("a cut for ever is a loss");
                assert_eq!(loss.cause, LossCause::Cut);
                let error = loss.time_s - want_s;
                assert!(
                    error.abs() < 1e-4,
                    "{rate_hz}/s, {patience_s} s: cut at {at_s} s, lost at {} s, not {want_s}",
                    loss.time_s
                );
            }
        }
    }
    // Between steps the cut falls on one of the two beside it.
    for at_s in [9.013, 12.377, 15.141] {
        for outcome in cut(250.0, 0.6, &format!("time_s = {at_s:?}"), 4) {
            let silent_from_s = outcome.loss.expect("a loss").time_s - 0.6;
            assert!(
                (silent_from_s - at_s).abs() < 0.05 + 0.004 + 1e-4,
                "cut at {at_s} s, silent from {silent_from_s} s"
            );
        }
    }
}

/// A cut shorter than the patience is no loss; one that outlasts it by a packet is one.
#[test]
fn a_cut_shorter_than_the_patience_is_no_loss() {
    for (rate_hz, patience_s) in [(50.0, 1.0), (16.0, 0.5), (250.0, 0.3)] {
        let run =
            |for_s: f64| cut(rate_hz, patience_s, &format!("time_s = {{ uniform = [9, 15] }}\nfor_s = {for_s:?}"), 40);
        let lost = |outcomes: &[FlightOutcome]| outcomes.iter().filter(|outcome| outcome.loss.is_some()).count();
        // The silence runs from the last packet before the cut to the first after it: longer than the cut, by less than two
        // intervals; and the cut ends with a step.
        let short = run(patience_s - 2.0 / rate_hz - 0.051);
        assert_eq!(lost(&short), 0, "{rate_hz}/s, {patience_s} s");
        let long = run(patience_s + 0.051);
        assert_eq!(lost(&long), 40, "{rate_hz}/s, {patience_s} s");
    }
}

/// A cut of whole steps takes as many packets, when one falls due with each step, and lasts as many steps, whenever it
/// begins: no packet slips over the edge of a step by the last bit of a time.
#[test]
fn a_cut_of_eight_steps_takes_eight_packets() {
    let when = "time_s = { uniform = [9, 15] }\nfor_s = 0.4";
    let lost =
        |patience_s: f64| cut(20.0, patience_s, when, 120).iter().filter(|outcome| outcome.loss.is_some()).count();
    // From the packet before the eight to the one after them it is silent for nine intervals.
    assert_eq!(lost(9.5 * 0.05), 0, "nine packets taken");
    assert_eq!(lost(8.5 * 0.05), 120, "seven packets taken");
}

/// Losses while hovering with packets lost by bursts that the scenario states.
fn disturbed(bursts: &str, rate_hz: f64, patience_s: f64, flights: u32) -> Vec<f64> {
    let text = plain::text(&[
        &plain::site(100.0, 5.0, ""),
        &plain::still(),
        CRAFT,
        &format!(
            "{STRONG}packet_rate_hz = {rate_hz:?}\n\n[radio.control.receiver]\npatience_s = {patience_s:?}\n\n\
             [radio.bursts]\n{bursts}\n"
        ),
        NO_FIX,
        &plain::path("[[0, 0, 20], [10, 0, 20]]", 5.0, 1500.0),
        PILOT,
        &policy("drop", &["drop = {}"]),
    ])
    .replace("step_s = 0.05", "step_s = 0.1");
    let times: Vec<f64> =
        fly(&read(&text), flights).iter().filter_map(|outcome| outcome.loss.as_ref()).map(|loss| loss.time_s).collect();
    assert_eq!(times.len(), flights as usize, "every flight waits until its link is lost");
    times
}

/// Independent losses: the mean time to the first run that outlasts the patience, and its spread.
///
/// # Source
/// Feller, An Introduction to Probability Theory, volume 1, XIII.7 (from memory): runs of n losses of chance p come after
/// (1 − pⁿ)/(q pⁿ) packets in the mean, with variance 1/(q pⁿ)² − (2n + 1)/(q pⁿ) − p/q².
#[test]
fn independent_losses_are_declared_as_renewal_theory_says() {
    for (loss, rate_hz, missing) in [(0.6_f64, 20.0, 9_i32), (0.4, 50.0, 6), (0.85, 20.0, 18)] {
        // Silence reaches the patience between the last missing packet and the next.
        let patience_s = (f64::from(missing) + 0.5) / rate_hz;
        let bursts = format!("good_s = 1e6\nbad_s = 0.01\nloss_good = {loss:?}\nloss_bad = {loss:?}");
        let flights = 1500;
        let times = disturbed(&bursts, rate_hz, patience_s, flights);
        // The packet at take-off is the first; the loss is declared half an interval after the last of the run.
        let packets: Vec<f64> = times.iter().map(|time_s| time_s * rate_hz - 0.5 + 1.0).collect();
        let (mean, _) = mean_of(&packets);
        let (q, pn) = (1.0 - loss, loss.powi(missing));
        let want = (1.0 - pn) / (q * pn);
        let variance = 1.0 / (q * pn).powi(2) - (2.0 * f64::from(missing) + 1.0) / (q * pn) - loss / (q * q);
        let error = (variance / f64::from(flights)).sqrt();
        assert!(
            (mean - want).abs() < 3.5 * error,
            "loss {loss}, {missing} in a row: {mean} packets, not {want} ± {error}"
        );
        let spread = packets.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / f64::from(flights - 1);
        // The variance of a waiting time of exponential kind is known to √(8/n) of itself.
        assert!((spread / variance - 1.0).abs() < 3.5 * (8.0 / f64::from(flights)).sqrt(), "{spread}, not {variance}");
    }
}

/// Bursts: the first bad spell that outlasts the patience, by the two-state chain of packets.
#[test]
fn bursts_are_declared_as_the_two_state_chain_says() {
    for (good_s, bad_s, rate_hz, missing) in [(4.0_f64, 0.5_f64, 20.0_f64, 15_usize), (1.0, 0.2, 50.0, 20)] {
        let patience_s = (missing as f64 + 0.5) / rate_hz;
        let flights = 1500;
        let bursts = format!("good_s = {good_s:?}\nbad_s = {bad_s:?}\nloss_good = 0\nloss_bad = 1");
        let times = disturbed(&bursts, rate_hz, patience_s, flights);
        let packets: Vec<f64> = times.iter().map(|time_s| time_s * rate_hz - 0.5 + 1.0).collect();
        // Two states in continuous time seen once a packet: with rates a = 1/good and b = 1/bad,
        // P(good → bad) = a/(a + b) (1 − e^{−(a + b)Δ}).
        let (a, b) = (1.0 / good_s, 1.0 / bad_s);
        let kept = libm::exp(-(a + b) / rate_hz);
        let (to_bad, to_good) = (a / (a + b) * (1.0 - kept), b / (a + b) * (1.0 - kept));
        // Mean packets from a good one: E = 1/to_bad to the first bad one, which makes a run of one; from a run of k the
        // next packet is bad, or good and all begins anew. With s = 1 − to_good: from a run of one the run is completed
        // with chance s^{n−1}, after Σ_{k<n−1} s^k packets in the mean either way.
        let s = 1.0 - to_good;
        let done = s.powi(missing as i32 - 1);
        let more: f64 = (0..missing - 1).map(|k| s.powi(k as i32)).sum();
        let from_good = (1.0 / to_bad + more) / done;
        // Starting in either state as often as in the long run: the packet itself, then what follows.
        let bad_share = a / (a + b);
        let want = 1.0 + bad_share * (more + (1.0 - done) * from_good) + (1.0 - bad_share) * from_good;
        let (mean, error) = mean_of(&packets);
        assert!((mean - want).abs() < 3.5 * error, "bad spells of {bad_s} s: {mean} ± {error} packets, not {want}");
    }
}

/// A longer patience never makes the loss earlier, more power never loses what less keeps, more noise never keeps what less
/// loses: flight by flight, with the same luck.
#[test]
fn patience_power_and_noise_act_one_way() {
    let run = |power_dbm: f64, noise_db: f64, patience_s: f64| {
        let text = plain::text(&[
            &plain::site(900.0, 5.0, ""),
            &plain::steady_wind(4.0, 200.0),
            CRAFT,
            &format!(
                "\n[radio]\nshadow_sigma_db = 3\n\n[radio.control]\npower_dbm = {power_dbm:?}\nnoise_rise_db = {noise_db:?}\n\
                 hop_channels = 1\nhop_span_hz = 0\nfsk = {{ bit_rate_bps = 250e3 }}\n\n[radio.control.receiver]\n\
                 patience_s = {patience_s:?}\n"
            ),
            NO_FIX,
            &plain::path("[[40, 0, 30], [400, 60, 50], [650, -80, 45], [200, -60, 30]]", 12.0, 1.0),
            PILOT,
            &policy("drop", &["drop = {}"]),
        ]);
        let times: Vec<f64> = fly(&read(&text), 150)
            .iter()
            .map(|outcome| outcome.loss.as_ref().map_or(f64::INFINITY, |loss| loss.time_s))
            .collect();
        times
    };
    let never_earlier = |what: &str, less: &[f64], more: &[f64]| {
        for (flight, (a, b)) in less.iter().zip(more).enumerate() {
            assert!(a <= b, "{what}: flight {flight} lost at {a} s, then at {b} s");
        }
        assert!(less.iter().zip(more).any(|(a, b)| a < b), "{what} makes no difference");
    };
    let base = run(-1.0, 1.0, 0.5);
    let lost = base.iter().filter(|time_s| time_s.is_finite()).count();
    assert!((30..150).contains(&lost), "{lost} of 150 lost");
    never_earlier("twice the patience", &base, &run(-1.0, 1.0, 1.0));
    never_earlier("five times the patience", &base, &run(-1.0, 1.0, 2.5));
    never_earlier("three decibels more", &base, &run(2.0, 1.0, 0.5));
    never_earlier("less noise", &run(-1.0, 4.0, 0.5), &base);
}
