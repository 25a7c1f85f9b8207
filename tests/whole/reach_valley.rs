//! The shipped valley: the link is lost behind its ridge, and is not when the ridge is taken away.

use lostlink::plan::reach::{MapHeight, PathReach, Reach, weakest};
use lostlink::plan::{ReachAsk, reach_of};
use lostlink::radio::free_space::WavePolarisation;
use lostlink::scenario::{self, Files, Scenario};
use lostlink::world::FlightPath;
use lostlink::world::radio::{FieldOptions, LinkField, LinkFields, LinkSetup, PilotFields};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The scenarios' folder.
struct Folder(PathBuf);

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        std::fs::read(self.0.join(name)).map_err(|error| error.to_string())
    }
}

fn valley() -> Scenario {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    let text = std::fs::read_to_string(folder.join("ridge-valley.toml")).unwrap();
    match scenario::read("ridge-valley.toml", &text, &Folder(folder)) {
        Ok(scenario) => scenario,
        Err(found) => panic!("{}", found.iter().map(|finding| finding.in_words() + "\n").collect::<String>()),
    }
}

fn reach(scenario: &Scenario) -> Reach {
    let grid = Arc::new(scenario.site.grid());
    let home = scenario.site.home_m;
    let home_z_m = grid.ground_m(home[0], home[1]);
    let [x, y] = scenario.pilot.place_m;
    let antenna_m = [x, y, grid.ground_m(x, y) + scenario.pilot.antenna_height_m];
    let options = FieldOptions {
        top_m: home_z_m + scenario.site.ceiling_m + 20.0,
        polarisation: WavePolarisation::Vertical,
        in_leaf: scenario.radio.in_leaf,
        spacing_m: None,
    };
    let field = LinkField::new(&grid, antenna_m, scenario.radio.control.frequency_hz, &options).unwrap();
    let fields =
        LinkFields { standing: PilotFields { control: Some(Arc::new(field)), video: None }, ..LinkFields::default() };
    let link = LinkSetup::of_scenario(scenario, &grid, fields, None).unwrap();
    let plan = &scenario.path;
    let path =
        FlightPath::new(home, home_z_m, &plan.waypoints_m, plan.speed_mps, scenario.craft.climb_mps, plan.pause_s);
    let ask = ReachAsk { heights: vec![MapHeight::AboveGroundM(30.0)], points: [71, 51], ..ReachAsk::default() };
    reach_of(scenario, &grid, &path, &link, &ask).unwrap()
}

#[test]
fn the_shadow_is_the_ridges() {
    let scenario = valley();
    let removed = scenario.conditions.iter().find(|condition| condition.name == "ridge removed").unwrap();
    let (with, without) = (reach(&scenario), reach(&removed.scenario));

    // Along the path the margin is gone behind the ridge, where the ray is cut …
    let worst = with.along[weakest(&with.along).unwrap()];
    assert!(worst.place_m[0] > 400.0 && worst.clearance < 0.0, "{worst:?}");
    assert!(worst.margin_db < -10.0 && worst.loss_chance > 0.9, "{worst:?}");
    // … and the wave arrives at last by the crest, not through the hill: trees on it only raise it.
    assert!(worst.margin_db > -60.0, "{worst:?}");
    // Without the ridge the far half of the path is reached everywhere.
    let far: Vec<&PathReach> = without.along.iter().filter(|point| point.place_m[0] > 300.0).collect();
    assert!(!far.is_empty());
    for point in far {
        assert!(point.margin_db > 10.0 && point.loss_chance < 0.01 && point.clearance > 0.0, "{point:?}");
    }

    // On the map more of the site is out of reach, and eastwards the link holds less far.
    let out = |reach: &Reach| 1.0 - reach.maps[0].share_with_margin(0.0);
    assert!(out(&with) > out(&without) + 0.1, "{} {}", out(&with), out(&without));
    let east = [with.directions[4], without.directions[4]];
    assert!(east[0].unbroken_m < 0.7 * east[1].unbroken_m, "{east:?}");
    for direction in with.directions.iter().chain(&without.directions) {
        assert!(direction.unbroken_m <= direction.farthest_m && direction.farthest_m <= direction.edge_m);
    }
}
