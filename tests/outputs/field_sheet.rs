//! What the card for the field says about the shipped scenarios.

use lostlink::flight::LossCause;
use lostlink::risk::field_sheet::{
    Fades, bench, fades, fix_tests, hover_test, range_walk, sky_wait, underneath, wind_limit,
};
use lostlink::scenario::{self, Files};
use lostlink::world::World;
use std::path::{Path, PathBuf};

struct Beside(PathBuf);

impl Files for Beside {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        std::fs::read(self.0.join(name)).map_err(|error| error.to_string())
    }
}

fn world(name: &str) -> World {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    let text = std::fs::read_to_string(folder.join(format!("{name}.toml"))).expect("shipped");
    let scenario = scenario::read(name, &text, &Beside(folder)).expect("shipped scenarios read well");
    World::new(scenario).expect("and have a world")
}

#[test]
fn behind_the_ridge_the_link_fades_because_of_the_ridge() {
    let world = world("ridge-valley");
    let Fades { stretches: list, least_db } = fades(&world);
    assert_eq!(list.len(), 1, "{list:?}");
    // The crest lies 340 m from the pilot; the path is beyond it from there to its turn and back.
    let fade = list[0];
    assert!(fade.from_m > 380.0 && fade.to_m < 1_150.0 && fade.to_m - fade.from_m > 400.0, "{fade:?}");
    assert_eq!((fade.cause, fade.least_db), (LossCause::Obstruction, least_db));
    let near: Vec<String> = underneath(&world).into_iter().map(|row| row.zone.name).collect();
    assert_eq!(near, ["forest track"], "the road stays 90 m off");
}

#[test]
fn at_the_club_the_bench_is_near_and_the_road_is_not() {
    let world = world("club-field");
    let rows = underneath(&world);
    let names: Vec<&str> = rows.iter().map(|row| row.zone.name.as_str()).collect();
    assert_eq!(names, ["pilots' bench", "spectators"]);
    // Home is 7.5 m from the bench's edge and 22 m from the spectators'.
    assert!((rows[0].from_path_m - 7.5).abs() < 0.01 && (rows[1].from_path_m - 22.0).abs() < 0.01, "{rows:?}");
    assert!(fades(&world).stretches.is_empty());

    let walk = range_walk(&world).expect("the radio's formulas cover it");
    assert_eq!((walk.power_dbm, walk.less_db), (0.0, 20.0));
    assert!(walk.stops.windows(2).all(|pair| pair[1].rssi_dbm < pair[0].rssi_dbm - 2.0), "{walk:?}");
    for stop in &walk.stops {
        let [low, high] = stop.quality_span_pct;
        assert!(low <= stop.quality_pct && stop.quality_pct <= high, "{stop:?}");
    }
    // Between free space with both peaks, 0 dBm less 32.45 + 20 log(2440 MHz · 0.02 km) = 66.2 dB and some gain of
    // antennas, and that less what reflection and pointing take.
    assert!((-75.0..=-55.0).contains(&walk.stops[0].rssi_dbm), "{walk:?}");

    let times = bench(&world.link.receiver);
    assert!((times.lost_after_s - world.scenario.radio.control.receiver.patience_s.central()).abs() < 1e-9);
    assert!(times.back_after_s >= world.scenario.radio.control.receiver.handback_s.central());

    let fix = fix_tests(&world, 100);
    assert!(fix.with_fix > 95, "{fix:?}");
    assert!(fix.home_95_m > 0.2 && fix.home_95_m < 5.0 && fix.hold_95_m > 0.1 && fix.hold_95_m < 5.0, "{fix:?}");
    assert!(fix.heading_deg[0] < -3.0 && fix.heading_deg[1] > 3.0 && fix.heading_deg[1] < 15.0, "{fix:?}");
    let hover = hover_test(&world, 100);
    assert!(hover.power_w[0] < hover.power_w[1] && hover.power_w[1] < hover.power_w[2], "{hover:?}");
    // Energy and charge tell of the same pack: 6 cells of 3.7 to 4.2 V, 2.2 Ah of which 94 % are left.
    let pack_j = hover.power_w[1] * hover.for_s / (hover.charge_pct[1] / 100.0);
    assert!((6.0 * 3.7 * 2.07 * 3_600.0..6.0 * 4.2 * 2.07 * 3_600.0).contains(&pack_j), "{pack_j}");
}

#[test]
fn a_wrong_compass_shows_before_the_flight() {
    let world = world("wrong-heading");
    let fix = fix_tests(&world, 100);
    assert!(fix.heading_deg[0] > 60.0 && fix.heading_deg[1] < 120.0, "{fix:?}");
}

#[test]
fn on_the_quarry_floor_the_sky_asked_for_never_comes() {
    let world = world("quarry");
    let sky = sky_wait(&world, &world.scenario.policies[2]);
    assert_eq!(sky.satellites, 7);
    assert!(sky.failing * 50 >= sky.samples.len() * 49, "{} of {}", sky.failing, sky.samples.len());
}

#[test]
fn off_the_shore_a_stronger_wind_takes_the_return_away() {
    let mut scenario = world("lake-shore").scenario;
    // So few flights show no less of danger to people.
    (scenario.judge.matters.grave_points, scenario.judge.matters.danger_points) = (8.0, 8.0);
    let world = World::new(scenario).expect("a world");
    let low = world.scenario.policies.iter().position(|policy| policy.name == "home at 15 m").expect("it is offered");
    let limit = wind_limit(&world, low, 120, &|_| {}).expect("it flies");
    assert!(limit.steps.windows(2).all(|pair| pair[0].wind_mps < pair[1].wind_mps), "{limit:?}");
    let flip = limit.above.expect("in a gale it does not come home");
    // The tilt of 30° that the scenario states carries it against some 15 m/s of air at most.
    assert!(flip.at_mps > 8.0 && flip.at_mps <= 18.0 && flip.to != low, "{flip:?}");
    assert!(flip.holds_at_mps.is_some_and(|holds| holds < flip.at_mps && flip.at_mps - holds <= 1.0), "{flip:?}");
}
