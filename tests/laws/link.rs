//! The simulated radio against the closed forms it stands for: crossings and lengths of fades, memory of shadows, runs of lost
//! packets, windows, and the receiver's clock.

use crate::field::Field;
use crate::reference::radio::fading::{average_fade_duration_s, level_crossing_rate_hz, rician_outage};
use crate::reference::radio::packets::{autocorrelation, independent_first_run, mean_loss, window_sigma};
use crate::reference::radio::shadowing::correlation;
use lostlink::chance::{Purpose, Source, standard_normal_cdf};
use lostlink::flight::{Declared, Drawn, FlightDraws, LinkLuck, LinkNow, LinkState, LossCause, Off, Streams};
use lostlink::geometry::Frame;
use lostlink::plan::reach::MapHeight;
use lostlink::plan::{ReachAsk, reach_of};
use lostlink::radio::fading::{Amplitudes, DiffuseField, DiffuseWay};
use lostlink::radio::packets::BurstProcess;
use lostlink::radio::shadowing::ShadowTile;
use lostlink::scenario::Scenario;
use lostlink::world::World;
use lostlink::world::radio::{LinkDraws, LinkFields, LinkSetup};

/// Crossings, fade lengths and depth of the field met in flight against Rice's closed forms for isotropic scattering with an
/// unshifted line of sight. The field is a function of the way travelled; one wavelength is one period of the greatest
/// Doppler shift.
#[test]
fn fades_come_and_last_as_rice_says() {
    let source = Source::new(11, Purpose::Trial);
    let field = DiffuseField::new(&source);
    let per_wavelength = 200;
    for (k_db, threshold_db) in
        [(f64::NEG_INFINITY, -10.0), (f64::NEG_INFINITY, 0.0), (6.0, -10.0), (10.0, -6.0), (3.0, 2.0)]
    {
        let k = if k_db == f64::NEG_INFINITY { 0.0 } else { 10f64.powf(k_db / 10.0) };
        let rays = Amplitudes::of_k(k);
        let threshold = 10f64.powf(threshold_db / 10.0);
        let (mut crossings, mut below, mut count) = (0u32, 0u32, 0u32);
        for flight in 0..300 {
            let read = field.read(&source, flight, 0);
            let mut last_below = None;
            for i in 0..60 * per_wavelength {
                let way = f64::from(i) / f64::from(per_wavelength);
                let now_below = rays.level(field.on_way(&read, &DiffuseWay::new(way, 0.0))) < threshold;
                crossings += u32::from(now_below && last_below == Some(false));
                below += u32::from(now_below);
                count += 1;
                last_below = Some(now_below);
            }
        }
        let wavelengths = f64::from(count) / f64::from(per_wavelength);
        let rate = f64::from(crossings) / wavelengths;
        let share = f64::from(below) / f64::from(count);
        let (want_rate, want_share) = (level_crossing_rate_hz(k, threshold_db, 1.0), rician_outage(k_db, threshold_db));
        let want_length = average_fade_duration_s(k, threshold_db, 1.0);
        let length = share / rate;
        // Rare fades are few: five standard errors of a Poisson count, besides 3 % for the sampling.
        let noise = 0.03 + 5.0 / f64::from(crossings).sqrt();
        assert!((rate / want_rate - 1.0).abs() < noise, "K {k_db} dB at {threshold_db} dB: {rate} against {want_rate}");
        assert!((share / want_share - 1.0).abs() < noise, "K {k_db} dB at {threshold_db} dB: {share} {want_share}");
        assert!((length / want_length - 1.0).abs() < noise, "K {k_db} dB: fades of {length} against {want_length}");
    }
}

/// Variance and correlation exp(−Δ/d) of the shadows over flights, on the tile's own points and between them.
#[test]
fn shadows_forget_as_gudmundson_says() {
    let source = Source::new(21, Purpose::Trial);
    let distance_m = 40.0;
    let mut tile = ShadowTile::new(distance_m);
    // The tile has three points to a correlation distance.
    let apart_m = distance_m / 3.0;
    let lags_m = [0.0, 4.0, apart_m, 20.0, 40.0, 80.0];
    let mut sums = [[0.0; 6]; 2];
    let mut count = 0.0;
    for flight in 0..600 {
        tile.redraw(&source, flight);
        for i in 0..300 {
            let (x, y) = (f64::from(i) * 37.7 + f64::from(flight) * 3.13, f64::from(i * i % 997) * 11.3);
            let on_point = [x, y].map(|along_m| (along_m / apart_m).floor() * apart_m);
            for (place, sum) in [on_point, [x, y]].iter().zip(&mut sums) {
                let here = tile.at(place[0], place[1]);
                for (lag_m, s) in lags_m.iter().zip(sum.iter_mut()) {
                    *s += here * 0.5 * (tile.at(place[0] + lag_m, place[1]) + tile.at(place[0], place[1] - lag_m));
                }
            }
        }
        count += 300.0;
    }
    for (what, sum) in [("on the points", sums[0]), ("between them", sums[1])] {
        for (lag_m, s) in lags_m.iter().zip(sum) {
            if what == "on the points" && (lag_m / apart_m).fract() > 1e-9 {
                continue;
            }
            let want = correlation(*lag_m, distance_m);
            assert!((s / count - want).abs() < 0.015, "{what}, lag {lag_m} m: {} against {want}", s / count);
        }
    }
}

/// At a place, over flights, shadows are standard normal as far as so many flights can tell; so is their mean along a stretch, in
/// which the few slow waves of the tile show most. Two places go together as exp(−Δ/d) says, and two flights not at all, not even
/// those that share a transform.
#[test]
fn over_flights_shadows_are_normal() {
    const FLIGHTS: u32 = 20_000;
    const DISTANCE_M: f64 = 40.0;
    let n = f64::from(FLIGHTS);
    let source = Source::new(5, Purpose::Trial);
    let mut tile = ShadowTile::new(DISTANCE_M);
    // On the tile's points, between them, and far away.
    let places_m = [[0.0, 0.0], [20.0, 0.0], [33.7, -18.2], [433.1, 268.9]];
    let stretch_m: Vec<f64> = (0..32).map(|i| f64::from(i) * 10.0).collect();
    let mut at = vec![Vec::with_capacity(FLIGHTS as usize); places_m.len() + 1];
    for flight in 0..FLIGHTS {
        tile.redraw(&source, flight);
        for (list, [x, y]) in at.iter_mut().zip(places_m) {
            list.push(tile.at(x, y));
        }
        let mean = stretch_m.iter().map(|x| tile.at(*x, 100.0)).sum::<f64>() / stretch_m.len() as f64;
        at[places_m.len()].push(mean);
    }
    // The variance of a mean is the mean of all covariances.
    let pairs = stretch_m.iter().flat_map(|a| stretch_m.iter().map(move |b| correlation(a - b, DISTANCE_M)));
    let of_mean = pairs.sum::<f64>() / (stretch_m.len() * stretch_m.len()) as f64;
    for (index, values) in at.iter_mut().enumerate() {
        let variance = if index < places_m.len() { 1.0 } else { of_mean };
        let moment = |power: i32| values.iter().map(|x| (x / variance.sqrt()).powi(power)).sum::<f64>() / n;
        // Three standard errors of a normal sample; the covariance may be off by as much as averaged over places (see above).
        assert!(moment(1).abs() < 3.0 / n.sqrt(), "{index}: mean {}", moment(1));
        assert!((moment(2) - 1.0).abs() < 0.015 + 3.0 * (2.0 / n).sqrt(), "{index}: variance {}", moment(2));
        assert!(moment(3).abs() < 3.0 * (15.0 / n).sqrt(), "{index}: skewness {}", moment(3));
        let kurtosis = moment(4) / moment(2).powi(2);
        assert!((kurtosis - 3.0).abs() < 3.0 * (24.0 / n).sqrt(), "{index}: kurtosis {kurtosis}");
        let spread = (variance * moment(2)).sqrt();
        // Kolmogorov's distance from the normal law, below what one sample in a hundred exceeds: there are five.
        let mut sorted = values.clone();
        sorted.sort_by(f64::total_cmp);
        let off = |(i, x): (usize, &f64)| {
            let law = standard_normal_cdf(x / spread);
            (law - i as f64 / n).abs().max((law - (i + 1) as f64 / n).abs())
        };
        let distance = sorted.iter().enumerate().map(off).fold(0.0, f64::max);
        assert!(distance < 1.63 / n.sqrt(), "{index}: Kolmogorov distance {distance}");
    }
    let together = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>() / a.len() as f64;
    for i in 0..places_m.len() {
        for j in 0..i {
            let [dx, dy] = [0, 1].map(|axis| places_m[i][axis] - places_m[j][axis]);
            let (want, got) = (correlation(dx.hypot(dy), DISTANCE_M), together(&at[i], &at[j]));
            assert!((got - want).abs() < 0.015 + 3.0 * ((1.0 + want * want) / n).sqrt(), "{i}, {j}: {got} for {want}");
        }
    }
    for values in &at {
        let variance = together(values, values);
        let (even, odd): (Vec<f64>, Vec<f64>) =
            values.chunks_exact(2).map(|pair| (pair[0] / variance.sqrt(), pair[1] / variance.sqrt())).unzip();
        let squares = |list: &[f64]| list.iter().map(|x| x * x - 1.0).collect::<Vec<f64>>();
        assert!(together(&even, &odd).abs() < 3.0 / (n / 2.0).sqrt(), "neighbours: {}", together(&even, &odd));
        let of_squares = together(&squares(&even), &squares(&odd));
        assert!(of_squares.abs() < 3.0 * 2.0 / (n / 2.0).sqrt(), "sizes of neighbours: {of_squares}");
    }
}

/// Upright rods without a craft around them: what a closed form has nothing to say of.
fn bare(radio: &str) -> String {
    format!("[radio]\ncraft_shadow_db = [0, 0]\n{radio}")
}

fn scenario(radio: &str) -> Scenario {
    let radio = &bare(radio);
    Field { half_m: 3000.0, radio, waypoints_m: "[[0, 40, 30], [500, 60, 35]]", ..Field::default() }.read()
}

fn setup(radio: &str) -> LinkSetup {
    let s = scenario(radio);
    LinkSetup::new(&s.radio, &s.pilot, s.seed, &|_, _| 0.0, None, LinkFields::default(), None).expect("a link")
}

const LEVEL: Frame = Frame::EAST;

struct Flight {
    luck: LinkLuck,
    state: LinkState,
    step: u32,
    dt_s: f64,
    /// For fading, and for the place of a look, which lies ahead of the one given.
    velocity_mps: [f64; 3],
}

impl Flight {
    /// Steps are shifted by half a step against the packets.
    fn new(setup: &LinkSetup, flight: u32, power_dbm: f64) -> Flight {
        let draws = FlightDraws { streams: Streams::new(77), flight };
        let values = LinkDraws { power_dbm, ..LinkDraws::default() };
        let luck = LinkLuck::new(setup, draws, values);
        let state = LinkState::new(setup, &luck);
        Flight { luck, state, step: 0, dt_s: 0.05, velocity_mps: [12.0, 0.0, 0.0] }
    }

    fn time_s(&self) -> f64 {
        self.time_of_s(self.step)
    }

    fn time_of_s(&self, step: u32) -> f64 {
        (f64::from(step) + 0.5) * self.dt_s
    }

    fn step(&mut self, setup: &LinkSetup, place_m: [f64; 3], off: bool) -> LinkNow {
        let (from_s, to_s) = (self.time_s(), self.time_of_s(self.step + 1));
        let now = self.state.step(setup, &self.luck, from_s, to_s, place_m, &LEVEL, self.velocity_mps, 3.8, off);
        self.step += 1;
        now
    }
}

const WIDE_20_HZ: &str = "[radio.control]\npacket_rate_hz = 20\n";
const HOVER_M: [f64; 3] = [600.0, 0.0, 60.0];

/// Power with which the mean margin at the hover is this.
fn power_for(setup: &LinkSetup, margin_db: f64) -> f64 {
    margin_db + setup.mean(HOVER_M, &LEVEL, 0.0, 0.0).loss_db - setup.margin_at_one_metre_db(0.0, 0.0)
}

/// One packet per step: whether each arrived.
fn arrivals(setup: &LinkSetup, flight: u32, power_dbm: f64, packets: usize) -> Vec<bool> {
    let mut f = Flight::new(setup, flight, power_dbm);
    f.step(setup, HOVER_M, false);
    (0..packets)
        .map(|_| {
            let start_s = f.time_s();
            f.step(setup, HOVER_M, false);
            f.state.last_valid_s() > start_s
        })
        .collect()
}

/// A hop set whose hops fade on their own loses packets independently, with the rate of the averaged curve: share, run
/// lengths, waits for the first run.
#[test]
fn wide_hops_lose_packets_independently() {
    let setup = setup(WIDE_20_HZ);
    assert!(setup.bands() >= 16);
    let k_db = setup.mean(HOVER_M, &LEVEL, 0.0, 0.0).k_db;
    for margin_db in [0.0, 2.0] {
        let loss = setup.faded_error_rate(margin_db, k_db);
        assert!((0.05..0.6).contains(&loss), "{loss}");
        let power_dbm = power_for(&setup, margin_db);
        let (mut lost, mut runs, mut count, mut waits) = (0.0, 0.0, 0.0, 0.0);
        let flights = 60;
        for flight in 0..flights {
            let got = arrivals(&setup, flight, power_dbm, 2000);
            lost += got.iter().filter(|a| !**a).count() as f64;
            runs += got.windows(2).filter(|pair| pair[0] && !pair[1]).count() as f64;
            count += got.len() as f64;
            let mut row = 0;
            let first = got.iter().position(|&a| {
                row = if a { 0 } else { row + 1 };
                row == 2
            });
            waits += first.expect("two in a row within 2000") as f64 + 1.0;
        }
        let error = (loss * (1.0 - loss) / count).sqrt();
        assert!((lost / count - loss).abs() < 5.0 * error + 0.003, "{} against {loss}", lost / count);
        let mean_run = lost / runs;
        assert!((mean_run * (1.0 - loss) - 1.0).abs() < 0.05, "runs of {mean_run} at {loss}");
        let want = independent_first_run(loss, 2);
        let mean_wait = waits / f64::from(flights);
        // A waiting time spreads about as much as its mean.
        assert!((mean_wait / want - 1.0).abs() < 5.0 / f64::from(flights).sqrt(), "{mean_wait} against {want}");
    }
}

/// Bursts on a strong link: share, mean bad run, memory, spread of a window, first run, as the two-state closed forms say.
#[test]
fn bursts_run_as_the_two_state_forms_say() {
    let setup = setup(
        "[radio.control]\npacket_rate_hz = 20\n[radio.bursts]\ngood_s = 3.0\nbad_s = 0.4\nloss_good = 0.01\nloss_bad = 0.8\n",
    );
    let process = BurstProcess::sampled(3.0, 0.4, 0.01, 0.8, 0.05);
    let power_dbm = power_for(&setup, 60.0);
    let (mut lost, mut pairs, mut count, mut waits) = (0.0, 0.0, 0.0, 0.0);
    let mut windows = Vec::new();
    let (flights, packets, run) = (300u32, 2000, 4);
    for flight in 0..flights {
        let got = arrivals(&setup, flight, power_dbm, packets);
        lost += got.iter().filter(|a| !**a).count() as f64;
        pairs += got.windows(2).filter(|pair| !pair[0] && !pair[1]).count() as f64;
        count += packets as f64;
        windows.extend(got.chunks(100).map(|w| w.iter().filter(|a| **a).count() as f64 / 100.0));
        let mut row = 0;
        let first = got.iter().position(|&a| {
            row = if a { 0 } else { row + 1 };
            row == run
        });
        waits += first.map_or(packets as f64, |i| i as f64 + 1.0);
    }
    let loss: f64 = lost / count;
    // Correlated losses carry less news: 600 000 packets with a memory of some 14.
    assert!((loss - mean_loss(&process)).abs() < 0.006, "{loss} against {}", mean_loss(&process));
    let lag_one = (pairs / count - loss * loss) / (loss * (1.0 - loss));
    assert!(
        (lag_one - autocorrelation(&process, 1)).abs() < 0.02,
        "{lag_one} against {}",
        autocorrelation(&process, 1)
    );
    let mean = windows.iter().sum::<f64>() / windows.len() as f64;
    let sigma = (windows.iter().map(|w| (w - mean) * (w - mean)).sum::<f64>() / windows.len() as f64).sqrt();
    let want = window_sigma(&process, 100);
    assert!((sigma / want - 1.0).abs() < 0.06, "{sigma} against {want}");
    let (mean_wait, want) = (waits / f64::from(flights), process.first_run(run as u64));
    assert!(want < 300.0, "the cut at 2000 packets must not matter: {want}");
    assert!((mean_wait / want - 1.0).abs() < 5.0 / f64::from(flights).sqrt(), "{mean_wait} against {want}");
}

/// From the sender's end to the declared loss: patience, to within one packet interval, at any rate and step.
#[test]
fn silence_is_timed_to_the_packet() {
    for (rate_hz, patience_s) in [(20.0, 1.0), (33.3, 0.5), (50.0, 1.5), (250.0, 0.37), (7.0, 2.0)] {
        // Packets short enough for every rate asked for.
        let radio = format!(
            "[radio.control]\npacket_rate_hz = {rate_hz:?}\nfsk = {{ bit_rate_bps = 1e6 }}\n[radio.control.receiver]\n\
             patience_s = {patience_s:?}\n"
        );
        let setup = setup(&radio);
        for flight in 0..6 {
            let mut f = Flight::new(&setup, flight, power_for(&setup, 60.0));
            f.dt_s = if flight % 2 == 0 { 0.05 } else { 0.013 };
            let off_at = 100 + flight;
            let mut off_s = f64::NAN;
            let lost_s = loop {
                let off = f.step >= off_at;
                if f.step == off_at {
                    off_s = f.time_s();
                }
                let now = f.step(&setup, HOVER_M, off);
                if let Some(Declared::Lost { at_s }) = now.event {
                    assert!(!now.up);
                    break at_s;
                }
                assert!(now.up && f.step < 2000);
            };
            let waited_s = lost_s - off_s;
            assert!(
                waited_s <= patience_s + 1e-9 && waited_s > patience_s - 1.0 / rate_hz - 1e-9,
                "{rate_hz} Hz: lost {waited_s} s after the end, patience {patience_s} s"
            );
            assert_eq!(f.state.cause(), LossCause::Cut);
        }
    }
}

/// Link quality is the share of the last window's packets; control comes back only after good link for `handback_s`.
#[test]
fn quality_is_the_window_and_control_returns_after_a_good_spell() {
    let radio = "[radio.control]\npacket_rate_hz = 20\n[radio.control.receiver]\nwindow_s = 2\npatience_s = 1\n\
                 handback_s = 1.5\nhandback_quality_pct = 80\n";
    let setup = setup(radio);
    let window = 40;
    // A link near its edge: the quality follows the window exactly.
    let k_db = setup.mean(HOVER_M, &LEVEL, 0.0, 0.0).k_db;
    assert!(setup.faded_error_rate(0.0, k_db) > 0.1);
    let mut f = Flight::new(&setup, 3, power_for(&setup, 0.0));
    f.step(&setup, HOVER_M, false);
    let mut heard = Vec::new();
    for _ in 0..600 {
        let start_s = f.time_s();
        let now = f.step(&setup, HOVER_M, false);
        heard.push(f.state.last_valid_s() > start_s);
        if heard.len() > window {
            let share = heard[heard.len() - window..].iter().filter(|h| **h).count() as f64 / window as f64;
            assert!((now.quality_pct - 100.0 * share).abs() < 1e-9);
        }
    }
    // Off for 5 s, then strong again.
    let mut f = Flight::new(&setup, 4, power_for(&setup, 60.0));
    let (mut good_since_s, mut restored_s) = (f64::NAN, f64::NAN);
    for _ in 0..400 {
        let off = (100..200).contains(&f.step);
        let now = f.step(&setup, HOVER_M, off);
        if f.step > 200 && good_since_s.is_nan() && now.quality_pct >= 80.0 {
            good_since_s = f.state.last_valid_s();
        }
        if let Some(Declared::Restored { at_s }) = now.event {
            assert!(restored_s.is_nan() && now.up, "restored once");
            restored_s = at_s;
        }
    }
    let waited_s = restored_s - good_since_s;
    assert!((1.5 - 1e-9..1.5 + 0.05 + 1e-9).contains(&waited_s), "{waited_s}");
    // A poor link after the loss never hands control back, and does not chatter.
    let mut f = Flight::new(&setup, 5, power_for(&setup, -3.0));
    let mut events = 0;
    for _ in 0..1200 {
        let off = (100..200).contains(&f.step);
        events += u32::from(f.step(&setup, HOVER_M, off).event.is_some());
    }
    assert_eq!(events, 1);
}

/// Branches cloned from one trunk meet the same luck when they fly the same way, and the shadows are those of the place.
#[test]
fn clones_share_their_luck_and_places_their_shadows() {
    let setup = setup("[radio.control]\nfrequency_hz = 868e6\nhop_span_hz = 2e6\nhop_channels = 20\n[radio.bursts]\n");
    assert_eq!(setup.bands(), 1);
    let mut f = Flight::new(&setup, 9, power_for(&setup, 12.0));
    let mut values = f.luck.values.clone();
    values.shadow_sigma_db = 4.0;
    f.luck.redraw(&setup, FlightDraws { streams: Streams::new(77), flight: 9 }, values);
    let out = |i: u32| [40.0 + 5.0 * f64::from(i), 3.0 * f64::from(i), 50.0];
    // It stands at each place for so long that the mean link is looked at there, however rare looks may be.
    f.velocity_mps = [0.0; 3];
    let shadow_at = |f: &mut Flight, i: u32| {
        for _ in 0..20 {
            f.step(&setup, out(i), false);
        }
        f.state.budget().shadowing_db
    };
    let there: Vec<f64> = (0..100).map(|i| shadow_at(&mut f, i)).collect();
    for i in (0..100).rev() {
        assert_eq!(shadow_at(&mut f, i), there[i as usize], "out and back");
    }
    assert!(there.iter().any(|x| *x > 1.0) && there.iter().any(|x| *x < -1.0));
    let hover: Vec<f64> = (0..20).map(|_| shadow_at(&mut f, 40)).collect();
    assert!(hover.iter().all(|x| *x == hover[0]), "hovering");

    let (mut a, mut b) = (f.state.clone(), f.state.clone());
    for step in f.step..f.step + 400 {
        let (from_s, to_s) = (f.time_of_s(step), f.time_of_s(step + 1));
        let fly = |state: &mut LinkState| {
            state.step(&setup, &f.luck, from_s, to_s, out(step % 90), &LEVEL, [9.0, 0.0, 0.0], 3.8, false)
        };
        let (x, y) = (fly(&mut a), fly(&mut b));
        assert_eq!(format!("{x:?}"), format!("{y:?}"));
    }
}

/// The mean link that packets meet neither lags behind the craft nor runs ahead of it, whether it flies out or back and however rarely
/// the link is looked at.
#[test]
fn the_mean_link_is_that_of_where_the_craft_is() {
    let set = setup(WIDE_20_HZ);
    let (near_m, height_m, speed_mps, steps) = (40.0, 30.0, 12.0, 640);
    // With packets at stake, and with far more power than they need.
    for power_dbm in [-20.0, 20.0].map(|above_db| power_for(&set, above_db)) {
        let margin_at_db = |x_m: f64| {
            set.margin_at_one_metre_db(power_dbm, 0.0) - set.mean([x_m, 0.0, height_m], &LEVEL, 0.0, 0.0).loss_db
        };
        let far_m = near_m + speed_mps * f64::from(steps) * 0.05;
        for (from_m, velocity_mps) in [(near_m, speed_mps), (far_m, -speed_mps)] {
            let mut f = Flight::new(&set, 3, power_dbm);
            f.velocity_mps = [velocity_mps, 0.0, 0.0];
            let (mut off_db, mut in_a_tenth_db) = (0.0, 0.0);
            for step in 0..steps {
                let x_m = from_m + velocity_mps * 0.05 * f64::from(step);
                let middle_m = x_m + 0.025 * velocity_mps;
                off_db += f.step(&set, [x_m, 0.0, height_m], false).margin_db - margin_at_db(middle_m);
                in_a_tenth_db += margin_at_db(middle_m) - margin_at_db(middle_m - 0.1 * velocity_mps);
            }
            assert!(
                off_db.abs() < 0.1 * in_a_tenth_db.abs(),
                "{power_dbm} dBm at {velocity_mps} m/s: off by {:.2} of what a tenth of a second makes",
                off_db / in_a_tenth_db
            );
        }
    }
}

/// A link over a site, for steps of the scenario.
fn link_over(site: &str, radio: &str, step_s: f64) -> LinkSetup {
    let mut scenario = Field { half_m: 300.0, site, radio: &bare(radio), ..Field::default() }.read();
    scenario.step_s = step_s;
    World::new(scenario).expect("a world").link.clone()
}

/// Past the end of a high wall the margin falls from plenty to far too little, or rises as steeply: the packets of a flight meet that
/// hardly earlier than the craft is there, and not later than by half of the time for which a look at a settled link holds.
#[test]
fn the_end_of_a_wall_is_met_where_it_stands() {
    let wall = "[[site.obstacle]]\nname = \"wall\"\nkind = \"building\"\nheight_m = 60\n\
                polygon_m = [[150, 0], [160, 0], [160, 300], [150, 300]]\n";
    let at_m = |y_m: f64| [180.0, y_m, 25.0];
    for step_s in [0.05, 0.1, 0.13, 0.2] {
        let set = link_over(wall, WIDE_20_HZ, step_s);
        let lost_db = |y_m: f64| set.mean(at_m(y_m), &LEVEL, 0.0, 0.0).loss_db;
        let power_dbm = 25.0 + lost_db(-60.0) - set.margin_at_one_metre_db(0.0, 0.0);
        let margin_db = |y_m: f64| set.margin_at_one_metre_db(power_dbm, 0.0) - lost_db(y_m);
        let edge_m = (-6_000..6_000).map(|y| 0.01 * f64::from(y)).find(|y| margin_db(*y) < 0.0).expect("a shadow");
        assert!(margin_db(edge_m - 10.0) > 20.0 && margin_db(edge_m + 20.0) < -5.0);
        for (from_m, speed_mps) in [(edge_m - 40.0, 12.0), (edge_m + 25.0, -12.0)] {
            for phase in 0..16 {
                let mut f = Flight::new(&set, 1, power_dbm);
                (f.dt_s, f.velocity_mps) = (step_s, [0.0, speed_mps, 0.0]);
                let mut y_m = from_m + 0.05 * speed_mps * f64::from(phase);
                let begins_in_shadow = f.step(&set, at_m(y_m), false).margin_db < 0.0;
                for _ in 0..(10.0 / step_s) as u32 {
                    y_m += speed_mps * step_s;
                    if (f.step(&set, at_m(y_m), false).margin_db < 0.0) != begins_in_shadow {
                        break;
                    }
                }
                let late_s = (y_m - edge_m) / speed_mps;
                // Half of what a look holds early, half of what a settled one holds late; and a step, in which the craft is in one place.
                let look_s = (0.2 / step_s).round() * step_s;
                let within = -0.5 * look_s - step_s..2.0 * look_s + step_s;
                assert!(within.contains(&late_s), "steps of {step_s} s at {speed_mps} m/s: {late_s:.2} s late");
            }
        }
    }
}

/// Where all that there is gets through easily, or not at all, the link is looked at a quarter as often as where something hangs on it:
/// the uplink, telemetry or the picture, or whether somebody else is on the air.
#[test]
fn the_link_is_looked_at_more_often_where_anything_hangs_on_it() {
    const OFTEN: usize = 40;
    const RARELY: usize = 10;
    let looks = |more: &str, sources_dbm: &[f64], margin_db: f64| {
        let radio = format!("[radio.control]\npacket_rate_hz = 20\n{more}");
        let set = setup(&radio);
        let mut f = Flight::new(&set, 1, power_for(&set, margin_db));
        let mut met = f.luck.values.clone();
        met.interferer_dbm = sources_dbm.to_vec();
        f.luck.redraw(&set, FlightDraws { streams: Streams::new(77), flight: 1 }, met);
        let mut distances_db: Vec<f64> = (0..160)
            .map(|step| {
                f.step(&set, [HOVER_M[0] + 12.0 * 0.05 * f64::from(step), 0.0, HOVER_M[2]], false);
                f.state.budget().distance_db
            })
            .collect();
        distances_db.dedup();
        distances_db.len()
    };
    let rarely = |looks: usize| (RARELY..RARELY + 4).contains(&looks);
    for (margin_db, often) in [(40.0, false), (10.0, true), (-10.0, true), (-40.0, false)] {
        let found = looks("", &[], margin_db);
        assert!(if often { found == OFTEN } else { rarely(found) }, "{margin_db} dB: {found} looks");
    }
    let set = setup(WIDE_20_HZ);
    let telemetry = |weaker_db: f64| {
        let power_dbm = power_for(&set, 40.0) - weaker_db;
        looks(&format!("[radio.telemetry]\npower_dbm = {power_dbm:?}\n"), &[], 40.0)
    };
    assert!(rarely(telemetry(0.0)) && telemetry(40.0) == OFTEN, "{} {}", telemetry(0.0), telemetry(40.0));
    let picture = |power_dbm: f64| looks(&format!("[radio.video]\npower_dbm = {power_dbm:?}\n"), &[], 40.0);
    let pictures: Vec<usize> = (-4..=4).map(|tens| picture(10.0 * f64::from(tens))).collect();
    assert!(rarely(pictures[0]) && rarely(pictures[8]) && pictures[1..8].contains(&OFTEN), "{pictures:?}");
    // It is on for a thousandth of the time.
    let source = "[[radio.interferer]]\nplace_m = [600, 300, 60]\nbandwidth_hz = 200e6\nduty = 0.001\nburst_s = 0.1\n";
    assert_eq!(looks(source, &[36.0], 40.0), OFTEN);
}

/// Whoever flies is told before each look at the geometry, whatever brings it about, so that it sees the craft as it is turned then.
#[test]
fn every_look_is_announced() {
    let telemetry = "[radio.telemetry]\npower_dbm = 40\n";
    // Poor at the lower step, and perfect at the upper: it goes up and down.
    let steps = |set: &LinkSetup| {
        let [low, high] = [0.0, 40.0].map(|margin_db| power_for(set, margin_db));
        format!("power_steps_dbm = [{low:?}, {high:?}]\npower_up_below_pct = 90\n{telemetry}")
    };
    let plain = setup(WIDE_20_HZ);
    for more in [String::new(), telemetry.into(), "[radio.video]\n".into(), steps(&plain)] {
        let set = setup(&format!("[radio.control]\npacket_rate_hz = 20\n{more}"));
        // Where looks begin to hold longer differs by flight.
        for later in 0..8 {
            let mut f = Flight::new(&set, 1, power_for(&set, 25.0));
            let (mut looks, mut before_db) = (0, f64::NAN);
            for step in 0..600 {
                let announced = f.state.looks(&set);
                f.step(&set, [HOVER_M[0] + 0.6 * f64::from(step + 7 * later), 0.0, HOVER_M[2]], false);
                let distance_db = f.state.budget().distance_db;
                assert!(announced || distance_db == before_db, "{more}: not told in step {step}");
                looks += u32::from(distance_db != before_db);
                before_db = distance_db;
            }
            assert!(looks >= 30, "{more}: {looks} looks");
        }
    }
}

/// What takes the margin is what is named.
#[test]
fn a_missing_antenna_is_named_as_the_cause() {
    let radio = "[radio.control.craft_antenna]\nmissing_db = 45\n";
    let setup = setup(radio);
    let mut f = Flight::new(&setup, 1, 20.0);
    for _ in 0..4000 {
        let now = f.step(&setup, [200.0 + 0.5 * f64::from(f.step), 0.0, 60.0], false);
        if now.event.is_some() {
            assert_eq!(f.state.cause(), LossCause::Antenna);
            return;
        }
    }
    panic!("2 km away without an antenna and still up");
}

/// A pack that sags under the receiver's least voltage silences it; it comes back when the voltage does, and the restart is named.
#[test]
fn a_brown_out_silences_the_receiver() {
    let radio = "[radio.control]\npacket_rate_hz = 20\n[radio.control.receiver]\nbrownout_v = 3.2\nrestart_s = 2\n\
                 patience_s = 1\nhandback_s = 1\n";
    let setup = setup(radio);
    let mut f = Flight::new(&setup, 1, power_for(&setup, 60.0));
    let (mut lost_s, mut restored_s) = (f64::NAN, f64::NAN);
    for _ in 0..400 {
        let (time_s, end_s) = (f.time_s(), f.time_of_s(f.step + 1));
        let cell_v = if (5.0..5.2).contains(&time_s) { 3.0 } else { 3.8 };
        let now = f.state.step(&setup, &f.luck, time_s, end_s, HOVER_M, &LEVEL, [0.0, 0.0, 0.0], cell_v, false);
        f.step += 1;
        match now.event {
            Some(Declared::Lost { at_s }) => {
                assert_eq!(f.state.cause(), LossCause::Restart);
                lost_s = at_s;
            }
            Some(Declared::Restored { at_s }) => restored_s = at_s,
            None => {}
        }
    }
    assert!((lost_s - 6.0).abs() < 0.1, "{lost_s}");
    // Back on at 7.2 s; the empty window of 20 packets needs 14 for 70 %, then a second of good link.
    assert!((restored_s - 8.9).abs() < 0.15, "{restored_s}");
}

/// A source on all the time in the whole hop set costs what its power says, in part of the set what its share says.
#[test]
fn interference_costs_what_power_and_overlap_say() {
    let radio = |bandwidth_hz: f64, duty: f64| {
        format!(
            "[radio.control]\npacket_rate_hz = 20\n[[radio.interferer]]\nplace_m = [600, 300, 60]\n\
             bandwidth_hz = {bandwidth_hz:?}\nduty = {duty:?}\nburst_s = 0.5\n"
        )
    };
    let share_lost = |setup: &LinkSetup, margin_db: f64, eirp_dbm: f64| {
        let (mut lost, mut rise_db, mut count) = (0.0, 0.0, 0.0);
        for flight in 0..20 {
            let mut f = Flight::new(setup, flight, power_for(setup, margin_db));
            let mut values = f.luck.values.clone();
            values.interferer_dbm = vec![eirp_dbm];
            f.luck.redraw(setup, FlightDraws { streams: Streams::new(77), flight }, values);
            f.step(setup, HOVER_M, false);
            for _ in 0..1000 {
                let start_s = f.time_s();
                f.step(setup, HOVER_M, false);
                lost += f64::from(u8::from(f.state.last_valid_s() <= start_s));
                rise_db += f.state.budget().interference_db;
                count += 1.0;
            }
        }
        (lost / count, rise_db / count)
    };
    // Everywhere, always: the floor rises by 10 log(1 + I/N), the packets fail as at that lower margin.
    let wide = setup(&radio(200e6, 1.0));
    let k_db = wide.mean(HOVER_M, &LEVEL, 0.0, 0.0).k_db;
    // 1 mW of its 400 mW fall into 500 kHz of 200 MHz.
    let (lost, rise_db) = share_lost(&wide, 14.0, 10.0 * 400f64.log10());
    // By hand: the craft is level with the source, 300 m away; dipole peak 2.15 dBi less 0.5 dB of feed; noise in 500 kHz.
    let free_db = 20.0 * (4.0 * std::f64::consts::PI * 300.0 * 2.44e9 / 299_792_458.0_f64).log10();
    let figure_db = scenario(&radio(200e6, 1.0)).radio.control.noise_figure_db.central();
    let noise_dbm = -173.975 + 10.0 * 500e3_f64.log10() + figure_db;
    let over_noise_db = 2.151 - 0.5 - free_db - noise_dbm;
    let by_hand_db = 10.0 * (1.0 + 10f64.powf(over_noise_db / 10.0)).log10();
    assert!((rise_db - by_hand_db).abs() < 0.02, "{rise_db} against {by_hand_db}");
    let want = wide.faded_error_rate(14.0 - rise_db, k_db);
    assert!((lost - want).abs() < 0.015, "{lost} against {want}");
    // A quarter of the hop set drowned, half of the time: an eighth of the packets.
    let part = setup(&radio(17e6, 0.5));
    let (lost, _) = share_lost(&part, 60.0, 60.0);
    assert!((lost - 0.125).abs() < 0.02, "{lost}");
    // Drowned throughout: lost, and the interference is named.
    let mut f = Flight::new(&wide, 2, power_for(&wide, 14.0));
    let mut values = f.luck.values.clone();
    values.interferer_dbm = vec![86.0];
    f.luck.redraw(&wide, FlightDraws { streams: Streams::new(77), flight: 2 }, values);
    let event = (0..100).find_map(|_| f.step(&wide, HOVER_M, false).event);
    assert!(matches!(event, Some(Declared::Lost { .. })));
    assert_eq!(f.state.cause(), LossCause::Interference);
}

/// Two sources on the same channels are one of twice the power: in flight, on average over time, and while all are on.
#[test]
fn sources_on_one_channel_add_their_powers() {
    for bandwidth in ["200e6", "17e6"] {
        let met = |each_dbm: &[f64]| {
            let source =
                format!("[[radio.interferer]]\nplace_m = [400, 0, 20]\nbandwidth_hz = {bandwidth}\nduty = 1\n");
            let set = setup(&format!("[radio.control]\n{}", source.repeat(each_dbm.len())));
            let mut f = Flight::new(&set, 1, 20.0);
            let values = LinkDraws { interferer_dbm: each_dbm.to_vec(), ..f.luck.values.clone() };
            f.luck.redraw(&set, FlightDraws { streams: Streams::new(77), flight: 1 }, values);
            for _ in 0..8 {
                f.step(&set, HOVER_M, false);
            }
            let mut strengths = Vec::new();
            set.strengths(&f.luck.values, &mut strengths);
            let ratios = set.at_craft(&strengths, HOVER_M, &LEVEL);
            [f.state.budget().interference_db, set.mean_rise_db(&ratios), set.greatest_rise_db(&ratios)]
        };
        let (two, one) = (met(&[10.0, 10.0]), met(&[10.0 + 10.0 * 2f64.log10()]));
        assert!(one[0] > 3.0, "{one:?}");
        for (two, one) in two.into_iter().zip(one) {
            assert!((two - one).abs() < 1e-9, "{bandwidth}: {two} {one}");
        }
    }
}

/// Where the set steps its power, the reach is that of the highest step.
#[test]
fn the_reach_is_that_of_full_power() {
    let margin_db = |power: &str| {
        let world = World::new(Field { radio: &format!("[radio.control]\n{power}\n"), ..Field::default() }.read());
        let world = world.expect("a world");
        let set = world.link.clone();
        let ask = ReachAsk { points: [3, 3], ..ReachAsk::default() };
        reach_of(&world.scenario, &world.grid, &world.path, &set, &ask).expect("a reach").maps[0].margin_db[5]
    };
    let (full, low) = (margin_db("power_dbm = 20"), margin_db("power_dbm = 5"));
    assert!((full - low - 15.0).abs() < 1e-4);
    assert_eq!(margin_db("power_dbm = 5\npower_steps_dbm = [0, 10, 20]"), full);
}

/// A wall between source and craft keeps the interference off by what an edge of its height takes, for the craft and, when it
/// stands before the pilot, for his telemetry.
#[test]
fn a_wall_shields_from_interference() {
    let radio = "[radio.control]\n[radio.telemetry]\npacket_rate_hz = 50\npower_dbm = 0\n[[radio.interferer]]\n\
                 place_m = [400, 0, 2]\neirp_dbm = 36\nbandwidth_hz = 200e6\nduty = 1\n";
    let world = |wall: &str| World::new(Field { site: wall, radio, ..Field::default() }.read()).expect("a world");
    let wall = |height_m: f64| {
        format!(
            "cell_m = 2\n[[site.obstacle]]\nname = \"wall\"\nkind = \"building\"\npolygon_m = [[199, -500], [201, -500], \
             [201, 500], [199, 500]]\nheight_m = {height_m:?}\n"
        )
    };
    // Interference to noise at the craft, and the share of telemetry heard.
    let met = |wall: &str, place_m: [f64; 3]| {
        let world = world(wall);
        let set = world.link.clone();
        let mut f = Flight::new(&set, 1, 20.0);
        let mut values = f.luck.values.clone();
        values.interferer_dbm = vec![36.0];
        f.luck.redraw(&set, FlightDraws { streams: Streams::new(77), flight: 1 }, values);
        let now = (0..200).map(|_| f.step(&set, place_m, false)).last().expect("flown");
        let rise_db = f.state.budget().interference_db;
        (10.0 * (10f64.powf(rise_db / 10.0) - 1.0).log10(), now.telemetry_quality_pct)
    };
    let over_pilot_m = [0.0, 3.0, 10.0];
    let (open_db, _) = met("", over_pilot_m);
    let (shielded_db, _) = met(&wall(20.0), over_pilot_m);
    // P.526-15 eq. 26 and 31: halfway over 400 m the ray from 2 m to 10 m stands at 6 m.
    let v = (20.0 - 6.0) * (2.0 / (299_792_458.0 / 2.44e9_f64) * (1.0 / 200.0 + 1.0 / 200.0)).sqrt();
    let edge_db = 6.9 + 20.0 * (((v - 0.1) * (v - 0.1) + 1.0).sqrt() + v - 0.1).log10();
    let kept_db = open_db - shielded_db;
    // The field lies between nodes some metres apart, and the wall is two metres thick.
    assert!((kept_db - edge_db).abs() < 1.5, "{kept_db} against {edge_db}");
    let (low_db, _) = met(&wall(1.0), over_pilot_m);
    assert!((low_db - open_db).abs() < 0.1, "a low wall keeps nothing: {low_db} against {open_db}");
    // Far on the other side the craft speaks softly; the pilot behind the wall hears it.
    let far_m = [-550.0, 0.0, 40.0];
    let (open_pct, shielded_pct) = (met("", far_m).1, met(&wall(20.0), far_m).1);
    assert!(open_pct < 30.0 && shielded_pct > 70.0, "{open_pct} {shielded_pct}");
}

/// One case of what a reach map states against flights on the spot.
struct Stay<'a> {
    what: &'a str,
    /// Lines of `[radio]` and of `[radio.control]`.
    radio: &'a str,
    control: &'a str,
    /// Other users.
    others: String,
    /// Mean margin without them.
    margin_db: f64,
    speed_mps: f64,
    flights: u32,
    /// How far the mean margin met may lie off that stated: about four standard errors.
    margin_within_db: f64,
}

/// The chance that a reach map states, that flights met with its standard error, and the mean margins of both.
fn stated_and_met(stay: &Stay) -> ([f64; 3], [f64; 2]) {
    let place_m = [600.0, 0.0, 60.0];
    let world = |power_dbm: f64| {
        let radio = format!(
            "[radio]\nshadow_sigma_db = 3\n{}\n[radio.control]\npacket_rate_hz = 20\nnoise_rise_db = 1\nbody_loss_db = 0\n\
             power_dbm = {power_dbm:.3}\n{}\n[radio.control.receiver]\npatience_s = 0.8\n{}",
            stay.radio, stay.control, stay.others
        );
        World::new(Field { radio: &radio, ..Field::default() }.read()).expect("a world")
    };
    let link = |world: &World| world.link.clone();
    let power_dbm = {
        let world = world(0.0);
        let set = link(&world);
        stay.margin_db + set.mean(place_m, &LEVEL, 0.0, 0.0).loss_db - set.margin_at_one_metre_db(0.0, 1.0)
    };
    let world = world(power_dbm);
    let set = link(&world);
    let ask = ReachAsk {
        heights: vec![MapHeight::AboveGroundM(60.0)],
        points: [3, 3],
        stay_s: 10.0,
        speed_mps: stay.speed_mps,
        ..ReachAsk::default()
    };
    let map = &reach_of(&world.scenario, &world.grid, &world.path, &set, &ask).expect("a reach").maps[0];
    let (mut lost, mut margin_sum_db) = (0u32, 0.0);
    let mut luck: Option<LinkLuck> = None;
    for flight in 0..stay.flights {
        let draws = FlightDraws { streams: Streams::new(77), flight };
        let values = LinkDraws::from(&Drawn::of_flight(&world.scenario, &draws));
        let luck = match &mut luck {
            Some(luck) => {
                luck.redraw(&set, draws, values);
                luck
            }
            none => none.insert(LinkLuck::new(&set, draws, values)),
        };
        let mut state = LinkState::new(&set, luck);
        let mut declared = false;
        // Less than hovering: the scatterers' own speed comes on top of the craft's.
        let velocity_mps = [(stay.speed_mps * stay.speed_mps - 0.01).max(0.0).sqrt(), 0.0, 0.0];
        for step in 0..200 {
            let [time_s, end_s] = [step, step + 1].map(|step| (f64::from(step) + 0.5) * 0.05);
            let now = state.step(&set, luck, time_s, end_s, place_m, &LEVEL, velocity_mps, 3.8, false);
            declared |= matches!(now.event, Some(Declared::Lost { .. }));
            margin_sum_db += now.margin_db / 200.0;
        }
        lost += u32::from(declared);
    }
    let flights = f64::from(stay.flights);
    let met = f64::from(lost) / flights;
    let error = (met * (1.0 - met) / flights).sqrt().max(1.0 / flights);
    ([f64::from(map.loss_chance[5]), met, error], [f64::from(map.margin_db[5]), margin_sum_db / flights])
}

/// The chance of a declared loss that a reach map states against flights that stay in one place, by ratio: with nobody else
/// there over hopping links and over one band, hovering and moving, down to a few in a thousand; and with each kind of
/// other user.
#[test]
fn the_reach_map_states_the_chance_that_flights_meet() {
    const EVEN: &str = "craft_shadow_db = [0, 0]\nnull_depth_db = 12\ncross_polar_db = 12";
    const ONE_BAND: &str = "frequency_hz = 2.44e9\nhop_channels = 1";
    let source = |rest: &str| format!("[[radio.interferer]]\n{rest}\n");
    let case = |what, control, margin_db, speed_mps, flights| Stay {
        what,
        radio: EVEN,
        control,
        others: String::new(),
        margin_db,
        speed_mps,
        flights,
        margin_within_db: 0.5,
    };
    let other = |what, margin_db, others, margin_within_db| Stay {
        others,
        margin_within_db,
        ..case(what, "", margin_db, 12.0, 600)
    };
    let cases = [
        case("hopping", "", 0.5, 12.0, 600),
        case("hopping, hovering", "", 2.5, 0.1, 1500),
        case("hopping, seldom", "", 5.0, 0.1, 3000),
        Stay { radio: "craft_shadow_db = [3, 3]", ..case("a body of its own", "", 6.0, 0.1, 1500) },
        case("one band, hovering", ONE_BAND, 4.0, 0.1, 1500),
        case("one band, seldom", ONE_BAND, 9.0, 0.1, 3000),
        case("one band, slow", ONE_BAND, 5.0, 0.5, 1500),
        case("one band, moving", ONE_BAND, 1.0, 12.0, 1500),
        case("one band, moving, seldom", ONE_BAND, 4.0, 12.0, 3000),
        case("four bands, hovering", "hop_channels = 8\nhop_span_hz = 11e6", 5.0, 0.1, 1500),
        other("noise throughout", 10.0, source("bandwidth_hz = 200e6\nduty = 1\neirp_dbm = 27"), 0.5),
        other("long spells", 30.0, source("bandwidth_hz = 200e6\nduty = 0.25\nburst_s = 1.5\neirp_dbm = 76"), 2.2),
        other("short spells", 30.0, source("bandwidth_hz = 200e6\nduty = 0.5\nburst_s = 0.4\neirp_dbm = 76"), 1.3),
        other("most channels", 30.0, source("bandwidth_hz = 68e6\nduty = 1\neirp_dbm = 41"), 0.5),
        other("bursts", 30.0, "[radio.bursts]\ngood_s = 8\nbad_s = 0.9\n".into(), 0.5),
        other("weak and bursts", 3.0, "[radio.bursts]\ngood_s = 8\nbad_s = 0.5\n".into(), 0.5),
    ];
    let mut wrong = Vec::new();
    for stay in &cases {
        let ([stated, met, error], [stated_db, met_db]) = stated_and_met(stay);
        let what = stay.what;
        println!("{what}: {stated:.4} stated, {met:.4} ± {error:.4} met; margin {stated_db:.2} and {met_db:.2} dB");
        if !(0.003..0.98).contains(&met) {
            wrong.push(format!("{what}: the case tells nothing, {met}"));
        }
        if stated > 1.5 * (met + 3.0 * error) || stated < (met - 3.0 * error) / 1.5 {
            wrong.push(format!("{what}: {stated} stated, {met} ± {error} met"));
        }
        if (stated_db - met_db).abs() > stay.margin_within_db {
            wrong.push(format!("{what}: {stated_db} dB stated, {met_db} dB met"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Downlinks go by their own budgets: a weak picture is gone while control holds; without telemetry nothing is heard.
#[test]
fn downlinks_have_budgets_of_their_own() {
    let radio = "[radio.control]\n[radio.telemetry]\n[radio.video]\npower_dbm = 0\n";
    let set = setup(radio);
    let mut f = Flight::new(&set, 1, power_for(&set, 40.0));
    let now = (0..400).map(|_| f.step(&set, [1500.0, 0.0, 60.0], false)).last().expect("flown");
    assert!(now.up && now.telemetry_up && now.telemetry_quality_pct > 90.0 && !now.video_up);
    let near = (0..40).map(|_| f.step(&set, [30.0, 0.0, 20.0], false)).last().expect("flown");
    assert!(near.video_up);
    let off = (0..100).map(|_| f.step(&set, [30.0, 0.0, 20.0], true)).last().expect("flown");
    assert!(!off.up && !off.telemetry_up && off.video_up, "the camera sends on its own");
    let mute = setup("[radio.control]\n");
    let mut f = Flight::new(&mute, 1, power_for(&mute, 40.0));
    let now = f.step(&mute, HOVER_M, false);
    assert!(now.up && !now.telemetry_up && !now.video_up);
}

/// A sound picture and sound telemetry are never called gone, however little patience the pilot has for them.
#[test]
fn little_patience_does_not_lose_sound_downlinks() {
    let radio =
        "[radio.control]\n[radio.telemetry]\npacket_rate_hz = 50\npatience_s = 0.1\n[radio.video]\npatience_s = 0.1\n";
    let set = setup(radio);
    for dt_s in [0.05, 0.013] {
        let mut f = Flight::new(&set, 1, power_for(&set, 40.0));
        f.dt_s = dt_s;
        for _ in 0..400 {
            let now = f.step(&set, [30.0, 0.0, 20.0], false);
            assert!(now.telemetry_up && now.video_up, "at {} s", f.time_s());
        }
    }
}

/// What was sent before the pilot's set fell silent was heard: telemetry counts as gone its patience later, as soon as that is told, and
/// never earlier.
#[test]
fn telemetry_is_heard_until_the_set_is_off() {
    let set = setup("[radio.control]\n[radio.telemetry]\npacket_rate_hz = 50\npatience_s = 1\n");
    for phase in 0..20 {
        let off_s = 5.0 + 0.013 * f64::from(phase);
        let off = Off { from_s: off_s, until_s: f64::INFINITY };
        let mut f = Flight::new(&set, 1, power_for(&set, 40.0));
        let told_s = (0..400).find_map(|_| {
            let (from_s, to_s) = (f.time_s(), f.time_of_s(f.step + 1));
            let now = f.state.step(&set, &f.luck, from_s, to_s, [30.0, 0.0, 20.0], &LEVEL, [0.0; 3], 3.8, off);
            f.step += 1;
            (!now.telemetry_up).then_some((from_s, now.telemetry_turned_s))
        });
        let (told_s, turned_s) = told_s.expect("it falls silent");
        // The last packet was sent within a fiftieth of a second before; news comes every fifth.
        assert!((0.98..1.2).contains(&(told_s - off_s)), "told {:.3} s after the set fell silent", told_s - off_s);
        let gone_s = turned_s.expect("it is news");
        assert!((0.98..=1.0).contains(&(gone_s - off_s)), "gone {:.3} s after the set fell silent", gone_s - off_s);
    }
}

/// Nothing ties telemetry's packets to the take-off: when a set falls silent, the last one has been heard for anything up to the time
/// between two, each as likely.
#[test]
fn telemetry_is_sent_at_no_particular_moment() {
    const FLIGHTS: usize = 400;
    let set = setup("[radio.control]\n[radio.telemetry]\npacket_rate_hz = 5\npatience_s = 1\n");
    let off = Off { from_s: 5.0, until_s: f64::INFINITY };
    let mut before_s = Vec::with_capacity(FLIGHTS);
    for flight in 0..FLIGHTS as u32 {
        let mut f = Flight::new(&set, flight, power_for(&set, 40.0));
        let turned_s = (0..400).find_map(|_| {
            let (from_s, to_s) = (f.time_s(), f.time_of_s(f.step + 1));
            let now = f.state.step(&set, &f.luck, from_s, to_s, [30.0, 0.0, 20.0], &LEVEL, [0.0; 3], 3.8, off);
            f.step += 1;
            now.telemetry_turned_s
        });
        before_s.push(off.from_s + 1.0 - turned_s.expect("it falls silent"));
    }
    before_s.sort_by(f64::total_cmp);
    assert!(before_s[0] > 0.0 && before_s[FLIGHTS - 1] <= 0.2, "{} to {} s", before_s[0], before_s[FLIGHTS - 1]);
    // The largest distance from an even distribution, Kolmogorov's test at 1 %: √(ln(2/α)/2)/√n, the first term of his limit.
    let n = FLIGHTS as f64;
    let sides = |(rank, before_s): (usize, &f64)| {
        let share = before_s / 0.2;
        (share - rank as f64 / n).abs().max(((rank + 1) as f64 / n - share).abs())
    };
    let apart = before_s.iter().enumerate().map(sides).fold(0.0, f64::max);
    assert!(apart < (200f64.ln() / 2.0).sqrt() / n.sqrt(), "{before_s:?}");
}

/// Power rises while the quality is poor and falls when it is perfect.
#[test]
fn power_steps_follow_the_quality() {
    let radio = "[radio.control]\npacket_rate_hz = 20\npower_steps_dbm = [0, 10, 20]\npower_up_below_pct = 90\n[radio.telemetry]\n";
    let set = setup(radio);
    let mut f = Flight::new(&set, 1, 0.0);
    // The mean link is looked at where a craft comes: one that stands stays where it is.
    f.velocity_mps = [0.0; 3];
    let margin = |f: &mut Flight, place_m: [f64; 3]| {
        (0..200).map(|_| f.step(&set, place_m, false)).last().expect("flown").margin_db
    };
    let first = f.step(&set, [40.0, 0.0, 20.0], false).margin_db;
    assert!((margin(&mut f, [40.0, 0.0, 20.0]) - first).abs() < 1e-9, "strong at the lowest power: it stays");
    // Where even 20 dBm loses many packets, the highest step is taken and kept.
    let far_m = {
        let loss_db = |x_m: f64| set.mean([x_m, 0.0, 60.0], &LEVEL, 0.0, 0.0).loss_db;
        let mut x_m = 100.0;
        while set.margin_at_one_metre_db(0.0, 0.0) - loss_db(x_m) > -24.0 {
            x_m *= 1.1;
        }
        [x_m, 0.0, 60.0]
    };
    let at_zero_db = set.margin_at_one_metre_db(0.0, 0.0) - set.mean(far_m, &LEVEL, 0.0, 0.0).loss_db;
    assert!((margin(&mut f, far_m) - at_zero_db - 20.0).abs() < 1e-9);
    assert!((margin(&mut f, [40.0, 0.0, 20.0]) - first).abs() < 1e-9, "and it comes down again");
}
