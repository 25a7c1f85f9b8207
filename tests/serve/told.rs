//! What the page is told before and beside the shares.

use crate::client::{FIELD, Served, field};
use lostlink::live::State;
use lostlink::scenario::{NoFiles, read};
use lostlink::serve::Bounds;
use lostlink::{World, tell};
use serde_json::Value;

fn numbers(of: &Value) -> Vec<f64> {
    of.as_array().unwrap().iter().map(|value| value.as_f64().unwrap_or(f64::NAN)).collect()
}

#[test]
fn a_flight_is_the_story_of_the_saved_scenario() {
    let served = Served::new(field(), Bounds::default());
    let query = "wind_mps=6&height_m=70";
    let found = served.get(&format!("/api/flight?{query}&flight=3")).json();
    let saved = served.get(&format!("/api/scenario.toml?{query}")).text();
    let scenario = read("saved", &saved, &NoFiles).unwrap();
    let world = World::for_flight(scenario, 3).unwrap();
    let told = tell(&world, 3, "", &world.scenario.policies, 0.2);
    assert_eq!((found["flight"].as_u64(), found["answer"].as_str()), (Some(3), Some(told.story.answer.as_str())));
    let sentences: Vec<&str> =
        found["sentences"].as_array().unwrap().iter().map(|said| said["text"].as_str().unwrap()).collect();
    let expected: Vec<&str> = told.story.sentences().map(|said| said.text.as_str()).collect();
    assert_eq!(sentences, expected);
    let policies = found["policies"].as_array().unwrap();
    assert_eq!(policies.len(), told.traces.len());
    for (policy, trace) in policies.iter().zip(&told.traces) {
        let rows = told.watched(trace);
        let heights = numbers(&policy["rows"]["height_m"]);
        assert_eq!(heights.len(), rows.len());
        assert!(heights.iter().zip(rows).all(|(found, row)| (found - row.height_m).abs() < 0.006));
        assert_eq!(policy["rows"]["doing"].as_array().unwrap().len(), rows.len());
        assert_eq!(policy["outcome"].as_str(), Some(trace.headline.as_str()));
    }
    // Without a number it is one of the first, and lost.
    let typical = served.get(&format!("/api/flight?{query}")).json();
    assert!(typical["flight"].as_u64().unwrap() < 16 && typical["lost_at_s"].is_f64(), "{}", typical["flight"]);
    // Where the radio decides nothing is lost on a field this small.
    let never = served.get("/api/flight?cut_m=radio&flight=2").json();
    assert_eq!((never["lost_at_s"].is_null(), never["policies"].as_array().unwrap().len()), (true, 1));
}

#[test]
fn the_beginning_has_all_that_the_page_draws() {
    let served = Served::new(field(), Bounds::default());
    let start = served.get("/api/start?height_m=70&wind_mps=6").json();
    assert_eq!((start["title"].as_str(), start["flights"].as_u64()), (Some("A small field"), Some(80)));
    let policies = start["policies"].as_array().unwrap();
    assert!(policies[1]["words"].as_str().unwrap().contains("70 m above home"), "{}", policies[1]);
    assert!(policies.iter().all(|policy| policy["ink"].as_str().unwrap().starts_with("--")));
    let cautions = start["cautions"].to_string();
    assert!(cautions.contains("permits nothing") && cautions.contains("conditions are not flown"), "{cautions}");
    // The plan's scale holds the whole path.
    let scale = &start["plan"]["scale"];
    let [x, y] = ["x", "y"].map(|axis| numbers(&scale[axis]));
    let points = start["path"]["points"].as_array().unwrap();
    for point in points {
        let [east, north] = ["x_m", "y_m"].map(|key| point[key].as_f64().unwrap());
        assert!(east >= x[0] && east <= x[1] && north >= y[0] && north <= y[1], "{point}");
    }
    let along: Vec<f64> = points.iter().map(|point| point["along_m"].as_f64().unwrap()).collect();
    assert!(along[0] == 0.0 && along.windows(2).all(|pair| pair[0] < pair[1] && pair[1] - pair[0] <= 5.01));
    assert!((along[along.len() - 1] - start["path"]["length_m"].as_f64().unwrap()).abs() < 0.02);
    // The policy of the page lets no style through that stands in the drawing itself.
    let svg = start["plan"]["svg"].as_str().unwrap();
    assert!(svg.starts_with("<svg") && !svg.contains("style") && !svg.contains("href=\"http"));
    let text = start.to_string().to_lowercase();
    assert!(!text.split(|c: char| !c.is_alphabetic()).any(|word| word == "safe"));
}

#[test]
fn controls_say_what_the_scenario_says() {
    let served = Served::new(field(), Bounds::default());
    let controls = |query: &str| served.get(&format!("/api/start?{query}")).json()["controls"].clone();
    let of = |controls: &Value, key: &str| -> Value {
        controls.as_array().unwrap().iter().find(|control| control["key"] == key).unwrap().clone()
    };
    let plain = controls("");
    let wind = of(&plain, "wind_mps");
    assert_eq!((&wind["initial"], wind["typical"].as_f64()), (&Value::Null, Some(4.0)));
    assert!(
        wind["note"].as_str().unwrap().contains("Drawn for each flight: 2.7 to 5.3 m/s in eight of ten."),
        "{wind}"
    );
    let height = of(&plain, "height_m");
    assert_eq!((height["initial"].as_f64(), height["value"].as_f64()), (Some(40.0), Some(40.0)));
    assert!(of(&plain, "cut_m")["value"].is_null());
    let moved = controls("wind_mps=6.5&cut_m=radio&constellations=beidou,gps30");
    assert_eq!(of(&moved, "wind_mps")["value"].as_f64(), Some(6.5));
    assert_eq!(of(&moved, "cut_m")["value"], "radio");
    assert_eq!(of(&moved, "constellations")["value"], "gps30,beidou");
    assert_eq!(of(&moved, "constellations")["initial"], "gps30,galileo");
}

/// Nothing to set in what does not fly home.
#[test]
fn a_control_that_bears_on_nothing_is_not_there() {
    let text = FIELD.replace("return = { height = { up_m = 40 } }", "drop = {}");
    let live = lostlink::live::Live::open("x", &text, &NoFiles).unwrap_or_else(|error| panic!("{error}"));
    assert!(live.controls(&State::default()).iter().all(|control| control.key.word() != "height_m"));
    assert!(live.state([("height_m", "40")]).unwrap_err().error.contains("no key \"height_m\""));
}
