//! Speed of the radio in flight: `cargo bench --bench link_step`. Each timed round of a link is 1,000 steps, so that its
//! microseconds read as nanoseconds per step.

use divan::{Bencher, black_box};
use lostlink::chance::{Purpose, Source};
use lostlink::flight::{FlightDraws, LinkLuck, LinkState, Streams};
use lostlink::geometry::Frame;
use lostlink::radio::antenna::{Antenna, AntennaCondition, AntennaPair, Floor, Pattern, Polarisation};
use lostlink::radio::fading::{DiffuseField, DiffuseWay};
use lostlink::radio::shadowing::ShadowTile;
use lostlink::scenario::{NoFiles, Scenario, read};
use lostlink::site::{GridInput, SiteGrid};
use lostlink::world::radio::{FieldOptions, LinkDraws, LinkField, LinkFields, LinkSetup, PilotFields, SourceField};
use std::sync::Arc;

fn main() {
    divan::main();
}

/// Everything on: obstacles, bounce, bursts, an interferer, neighbours, a fixed facing; downlinks as asked.
fn scenario(radio: &str, downlinks: &str) -> Scenario {
    let text = format!(
        r#"
title = "bench"
[site]
extent_m = [-1000, -1000, 1000, 1000]
home_m = [0, 0]
[[site.obstacle]]
name = "barn"
kind = "building"
polygon_m = [[100, 100], [140, 100], [140, 130], [100, 130]]
height_m = 12
[[site.obstacle]]
name = "wood"
kind = "trees"
polygon_m = [[300, -200], [400, -200], [400, 200], [300, 200]]
height_m = 15
[craft]
mass_kg = 1
[radio.control]
{radio}
[radio]
neighbours = 3
[radio.bursts]
good_s = 20
bad_s = 0.3
[[radio.interferer]]
place_m = [200, 300, 5]
eirp_dbm = 26
frequency_hz = 2.44e9
duty = 0.3
burst_s = 0.05
{downlinks}
[sky]
utc = 2026-05-16T09:30:00Z
[path]
waypoints_m = [[0, 40, 30], [500, 60, 35]]
speed_mps = 9
[pilot]
place_m = [0, -12]
facing_deg = 20
[[policy]]
name = "land"
[[policy.action]]
land = {{}}
"#
    );
    // The interferer sits on the control link's frequency.
    let text = if radio.contains("868e6") { text.replace("2.44e9\nburst", "868e6\nburst") } else { text };
    // `[radio]` keys must come before its tables in TOML; build the order by hand.
    let text = text
        .replace("[radio]\nneighbours = 3\n", "")
        .replace("[radio.control]", "[radio]\nneighbours = 3\n[radio.control]");
    read("bench.toml", &text, &NoFiles).unwrap_or_else(|errors| panic!("{errors:?}"))
}

/// Place, attitude, velocity.
type Moment = ([f64; 3], Frame, [f64; 3]);

struct Prepared {
    setup: LinkSetup,
    luck: LinkLuck,
    state: LinkState,
    track: Vec<Moment>,
}

fn prepare(scenario: &Scenario, power_dbm: f64) -> Prepared {
    let site = SiteGrid::new(&GridInput {
        extent_m: scenario.site.extent_m,
        cell_m: None,
        terrain: None,
        zones: &scenario.site.zones,
        obstacles: &scenario.site.obstacles,
        fence: None,
        fence_margin_m: 0.0,
        people_per_km2: 0.0,
    });
    let site = std::sync::Arc::new(site);
    let options = FieldOptions {
        top_m: 120.0,
        polarisation: lostlink::radio::free_space::WavePolarisation::Vertical,
        in_leaf: true,
        spacing_m: None,
    };
    let antenna_m = [0.0, -12.0, 1.5];
    let field = LinkField::new(&site, antenna_m, scenario.radio.control.frequency_hz, &options).expect("a field");
    let sources = SourceField::of_all(&site, &scenario.radio.interferers, antenna_m, &options, &[]).expect("fields");
    let fields = LinkFields {
        standing: PilotFields { control: Some(Arc::new(field)), video: None },
        sources,
        ..LinkFields::default()
    };
    let setup = LinkSetup::of_scenario(scenario, &site, fields, None).expect("a link");
    let draws = FlightDraws { streams: Streams::new(1), flight: 0 };
    let values = LinkDraws {
        power_dbm,
        noise_rise_db: 1.0,
        body_loss_db: 12.0,
        shadow_sigma_db: 3.0,
        interferer_dbm: vec![26.0; scenario.radio.interferers.len()],
        ..LinkDraws::default()
    };
    let luck = LinkLuck::new(&setup, draws, values);
    let state = LinkState::new(&setup, &luck);
    let track = (0..STEPS)
        .map(|step| {
            let (sin, cos) = (f64::from(step) * 0.05 * 0.05).sin_cos();
            let body = Frame::of_nose_and_up([cos, sin], [0.2 * cos, 0.2 * sin, 0.98]);
            ([500.0 * cos, 400.0 * sin, 40.0 + 10.0 * sin], body, [-20.0 * sin, 16.0 * cos, 0.0])
        })
        .collect();
    Prepared { setup, luck, state, track }
}

/// Steps per timed round: 50 s of flight.
const STEPS: u32 = 1000;

fn fly(p: &Prepared) -> f64 {
    let mut state = p.state.clone();
    let mut sum = 0.0;
    for (step, (place_m, body, velocity_mps)) in (0..).zip(&p.track) {
        let (time_s, end_s) = (f64::from(step) * 0.05, f64::from(step + 1) * 0.05);
        let now = state.step(&p.setup, &p.luck, time_s, end_s, *place_m, body, *velocity_mps, 3.8, false);
        sum += now.margin_db;
    }
    sum
}

/// Power of a sound link, and of one that loses many packets all the way.
const SOUND_DBM: f64 = 20.0;
const EDGE_DBM: f64 = -22.0;

fn timed(bencher: Bencher, radio: &str, downlinks: &str, power_dbm: f64) {
    let prepared = prepare(&scenario(radio, downlinks), power_dbm);
    bencher.counter(divan::counter::ItemsCount::new(STEPS)).bench_local(|| fly(black_box(&prepared)));
}

const WIDE: &str = "frequency_hz = 2.44e9\npacket_rate_hz = 50";
const NARROW: &str = "frequency_hz = 868e6\npacket_rate_hz = 50\nhop_span_hz = 2e6\nhop_channels = 20";

const DOWNLINKS: &str = "[radio.telemetry]\n[radio.video]\n";

/// Without interferers and bursts.
#[divan::bench]
fn uplink_undisturbed_50_hz(bencher: Bencher) {
    let mut quiet = scenario(WIDE, "");
    quiet.radio.bursts = None;
    quiet.radio.interferers.clear();
    let prepared = prepare(&quiet, SOUND_DBM);
    bencher.counter(divan::counter::ItemsCount::new(STEPS)).bench_local(|| fly(black_box(&prepared)));
}

#[divan::bench]
fn uplink_wide_hops_50_hz(bencher: Bencher) {
    timed(bencher, WIDE, "", SOUND_DBM);
}

#[divan::bench]
fn uplink_wide_hops_50_hz_at_the_edge(bencher: Bencher) {
    timed(bencher, WIDE, "", EDGE_DBM);
}

#[divan::bench]
fn uplink_wide_hops_250_hz(bencher: Bencher) {
    timed(bencher, &WIDE.replace("50", "250"), "", SOUND_DBM);
}

#[divan::bench]
fn uplink_narrow_hops_50_hz(bencher: Bencher) {
    timed(bencher, NARROW, "", SOUND_DBM);
}

#[divan::bench]
fn uplink_narrow_hops_50_hz_at_the_edge(bencher: Bencher) {
    timed(bencher, NARROW, "", EDGE_DBM - 10.0);
}

#[divan::bench]
fn uplink_narrow_hops_250_hz(bencher: Bencher) {
    timed(bencher, &NARROW.replace("50", "250"), "", SOUND_DBM);
}

#[divan::bench]
fn all_links_wide_hops_50_hz(bencher: Bencher) {
    timed(bencher, WIDE, DOWNLINKS, SOUND_DBM);
}

#[divan::bench]
fn all_links_wide_hops_250_hz(bencher: Bencher) {
    timed(bencher, &WIDE.replace("50", "250"), DOWNLINKS, SOUND_DBM);
}

#[divan::bench]
fn all_links_narrow_hops_50_hz(bencher: Bencher) {
    timed(bencher, NARROW, DOWNLINKS, SOUND_DBM);
}

/// The mean budget alone, which is evaluated at every look (0.2 s).
#[divan::bench]
fn mean_budget(bencher: Bencher) {
    let p = prepare(&scenario(WIDE, ""), SOUND_DBM);
    bencher.counter(divan::counter::ItemsCount::new(STEPS)).bench_local(|| {
        let p = black_box(&p);
        p.track.iter().map(|(place_m, body, _)| p.setup.mean(*place_m, body, 12.0, 1.0).loss_db).sum::<f64>()
    });
}

#[divan::bench]
fn redraw_the_luck_of_a_flight(bencher: Bencher) {
    let prepared = prepare(&scenario(WIDE, ""), SOUND_DBM);
    let mut luck = prepared.luck.clone();
    let mut flight = 0;
    bencher.bench_local(|| {
        flight += 1;
        let draws = FlightDraws { streams: Streams::new(1), flight };
        luck.redraw(&prepared.setup, draws, prepared.luck.values.clone());
    });
}

#[divan::bench]
fn coupling_of_two_antennas(bencher: Bencher) {
    let a = Antenna {
        pattern: Pattern::Dipole,
        polarisation: Polarisation::Linear,
        axis: [0.0, 0.0, 1.0],
        condition: AntennaCondition::Whole,
        feed_loss_db: 0.5,
    };
    let b = Antenna { pattern: Pattern::Patch { exponent: 2.0, back_db: -15.0 }, axis: [1.0, 0.0, 0.0], ..a };
    let level = Frame::EAST;
    let tilted = Frame::of_nose_and_up([1.0, 0.0], [0.2, 0.0, 0.98]);
    let pair = AntennaPair::new(&a, &b);
    let floor = Floor::default();
    bencher.counter(divan::counter::ItemsCount::new(1000u32)).bench(|| {
        let mut sum = 0.0;
        let pair = black_box(&pair);
        for i in 0..1000 {
            let x = f64::from(i) * 1e-3;
            let direction = [(1.0 - x * x).sqrt(), 0.6 * x, 0.8 * x];
            let joined = pair.coupling(&floor, &level, &tilted, direction);
            sum += joined.gain_db - joined.polarisation_db;
        }
        sum
    });
}

/// The shadows of a flight, drawn flight by flight as a thread does.
#[divan::bench]
fn shadow_tile(bencher: Bencher) {
    let (mut tile, source) = (ShadowTile::new(37.0), Source::new(1, Purpose::Trial));
    bencher.counter(divan::counter::ItemsCount::new(16u32)).bench_local(|| {
        for flight in 0..16 {
            tile.redraw(&source, black_box(flight));
        }
    });
}

#[divan::bench]
fn shadow_look_up(bencher: Bencher) {
    let mut tile = ShadowTile::new(37.0);
    tile.redraw(&Source::new(1, Purpose::Trial), 0);
    bencher.counter(divan::counter::ItemsCount::new(1000u32)).bench(|| {
        let tile = black_box(&tile);
        (0..1000).map(|i| tile.at(f64::from(i) * 0.7, f64::from(i) * -0.3)).sum::<f64>()
    });
}

#[divan::bench]
fn fading_look_up(bencher: Bencher) {
    let source = Source::new(1, Purpose::Trial);
    let field = DiffuseField::new(&source);
    let read = field.read(&source, 3, 1);
    bencher.counter(divan::counter::ItemsCount::new(1000u32)).bench(|| {
        let field = black_box(&field);
        (0..1000).map(|i| field.on_way(&read, &DiffuseWay::new(f64::from(i) * 1.3, 0.0))[0]).sum::<f64>()
    });
}
