//! Every control gives a scenario that the reader accepts, says what was set, and leaves the rest of the text alone.

use crate::client::{FIELD, field, live, shipped};
use lostlink::failsafe::{ActionKind, HeightFrom};
use lostlink::live::{Control, Key, Kind, Live, Setting, State};
use lostlink::scenario::{CutAt, Folder, Loss, NoFiles, Remembered, read, read_again};
use lostlink::{Scenario, Uncertain};
use std::path::Path;

fn scenario(text: &str) -> Scenario {
    let folder = Folder(Path::new(env!("LOSTLINK_ROOT")).join("scenarios"));
    let words = |found: Vec<lostlink::scenario::Diagnostic>| {
        found.iter().map(|finding| finding.in_words()).collect::<Vec<_>>().join("\n")
    };
    read("saved", text, &folder).unwrap_or_else(|found| panic!("{}\n{text}", words(found)))
}

/// The same of a text that has been read in full before.
fn scenario_again(text: &str) -> Scenario {
    let folder = Folder(Path::new(env!("LOSTLINK_ROOT")).join("scenarios"));
    read_again("saved", text, &folder, &Remembered::default()).unwrap_or_else(|found| panic!("{found:?}\n{text}"))
}

/// Whether a scenario says what a control was set to.
fn says(scenario: &Scenario, key: Key, setting: &Setting, path_m: f64) -> bool {
    let number = if let Setting::Number(number) = setting { *number } else { f64::NAN };
    let exactly = |value: &Uncertain| matches!(value, Uncertain::Exact(value) if *value == number);
    match key {
        Key::Cut => match (&scenario.loss, setting) {
            (Loss::Modelled, Setting::Words(words)) => words.as_slice() == ["radio"],
            (Loss::Cut { at: CutAt::PathShare(Uncertain::Exact(share)), .. }, Setting::Number(at_m)) => {
                (share * path_m - at_m).abs() <= 1e-6 * path_m
            }
            _ => false,
        },
        Key::Height => {
            let ways =
                scenario.policies.iter().flat_map(|policy| &policy.actions).filter_map(|action| match &action.kind {
                    ActionKind::Return { height, .. } if height.from != HeightFrom::Here => Some(height.up_m),
                    _ => None,
                });
            let all: Vec<f64> = ways.collect();
            !all.is_empty() && all.iter().all(|up_m| *up_m == number)
        }
        Key::Patience => exactly(&scenario.radio.control.receiver.patience_s),
        Key::Wind => exactly(&scenario.weather.wind_mps),
        Key::WindFrom => exactly(&scenario.weather.from_deg),
        Key::Constellations => {
            let Setting::Words(words) = setting else { return false };
            let own: Vec<String> =
                scenario.sky.constellations.iter().map(|one| format!("{one:?}").to_lowercase()).collect();
            own == *words
        }
        Key::Pack => exactly(&scenario.craft.battery.charge_pct),
        Key::Hour => {
            let [.., hour, minute, second] = scenario.sky.utc;
            let hours = f64::from(hour) + f64::from(minute) / 60.0 + f64::from(second) / 3600.0;
            (hours - number).abs() < 1e-3
        }
    }
}

/// Both ends of a range, each choice.
fn ends(control: &Control) -> Vec<Setting> {
    let words: Vec<&'static str> = control.choices.iter().map(|choice| choice.value).collect();
    match control.kind {
        Kind::Range => {
            let numbers = [control.min, control.max].into_iter().flatten().map(Setting::Number);
            numbers.chain(words.into_iter().map(|word| Setting::Words(vec![word]))).collect()
        }
        Kind::Set => vec![Setting::Words(words[..1].to_vec()), Setting::Words(words)],
    }
}

/// Lines of one text that another lacks, counted.
fn lacking(of: &str, other: &str) -> usize {
    let mut left: Vec<&str> = other.lines().collect();
    of.lines().filter(|line| left.iter().position(|known| known == line).map(|at| left.remove(at)).is_none()).count()
}

/// The comments of a text.
fn comments(text: &str) -> Vec<String> {
    text.lines().filter_map(|line| Some(line.split_once('#')?.1.trim().to_string())).collect()
}

fn both_ends(text: &str, live: &Live) {
    let path_m = live.base().path.length_m();
    let ways = text.matches("return").count();
    for control in live.controls(&State::default()) {
        for setting in ends(&control) {
            let state = State::default().with(control.key, setting.clone());
            let saved = live.text(&state).unwrap_or_else(|refused| panic!("{:?}: {refused}", control.key));
            let made = scenario_again(&saved);
            assert!(says(&made, control.key, &setting, path_m), "{:?} {setting:?}:\n{saved}", control.key);
            // Its own line, one for each way home; of a cut that goes, its header and how long it lasts too.
            let most = match control.key {
                Key::Height => ways,
                Key::Cut => 3,
                _ => 1,
            };
            let gone = lacking(text, &saved);
            // A key that was not there may bring the header of its table and a blank line before it.
            assert!(gone <= most && lacking(&saved, text) <= most + 2, "{:?} {setting:?}: {gone} lines", control.key);
            assert_eq!(comments(text).len(), comments(&saved).len(), "{:?} {setting:?}", control.key);
            for comment in comments(text) {
                assert!(saved.contains(&comment), "{:?} {setting:?} lost '{comment}'", control.key);
            }
        }
    }
    assert_eq!(live.text(&State::default()).unwrap(), text);
}

macro_rules! shipped_scenarios {
    ($($name:ident: $file:literal;)*) => {$(
        #[test]
        fn $name() {
            let text = shipped($file, 8);
            both_ends(&text, &live(&text));
        }
    )*};
}

shipped_scenarios! {
    club_field: "club-field.toml";
    lake_shore: "lake-shore.toml";
    open_air_stage: "open-air-stage.toml";
    quarry: "quarry.toml";
    ridge_valley: "ridge-valley.toml";
    wrong_heading: "wrong-heading.toml";
}

/// Whatever way tables and lists are written, also by earlier files.
#[test]
fn other_ways_of_writing_the_same() {
    let plain = FIELD.split("[weather]").next().unwrap().to_string()
        + "[craft]\nmass_kg = 1.0\n[path]\nwaypoints_m = [[0, 20, 30], [80, 60, 30], [-60, 60, 30]]\n";
    let policies = "[[policy]]\nname = \"home\"\naction = [{ return = { height = { at_least_m = 30 } } }]\n";
    let dotted = "policy = [{ name = \"home\", action = [{ return.height.up_m = 30 }] }, { name = \"level\", action = [{ return.height.from = \"here\" }] }]\n\
        weather.wind_mps = 3 # forecast\nradio.control.receiver = {}\nloss.cut.path_share = 0.5 # half way\n";
    let texts = [
        format!("{plain}{policies}"),
        format!("{dotted}{plain}"),
        format!("{plain}{policies}[loss]\nmodelled = true # as it is\n"),
        format!("{plain}{policies}[loss]\ncut = {{ time_s = 12, for_s = 5 }} # soon\n"),
        format!("{plain}{policies}[loss.cut] # a disc\nnear_m = [80, 60, 20] # there\nfor_s = 9\n"),
        format!(
            "{plain}{policies}[loss]\ncut = false\n[radio.control.receiver]\npatience_s = 2 # s\n[radio.telemetry]\n"
        ),
        format!(
            "{plain}{policies}[radio.telemetry]\n[weather] # air\nfrom_deg = {{ uniform = [0, 360] }}\n[craft.battery] # pack\n"
        ),
        format!(
            "radio = {{ control = {{ power_dbm = 20 }} }}\nloss = {{ cut = {{ any_time = true }} }}\n{plain}{policies}"
        ),
    ];
    for text in texts {
        let live = Live::open("x", &text, &NoFiles).unwrap_or_else(|error| panic!("{error}\n{text}"));
        both_ends(&text, &live);
    }
}

/// How long a cut lasts is left as it is.
#[test]
fn the_length_of_a_cut_stays() {
    let text = FIELD.replace("any_time = true", "for_s = 7\nany_time = true");
    let live = Live::open("x", &text, &NoFiles).unwrap_or_else(|error| panic!("{error}"));
    let state = live.state([("cut_m", "60")]).unwrap();
    let made = scenario(&live.text(&state).unwrap());
    assert!(
        matches!(made.loss, Loss::Cut { at: CutAt::PathShare(_), for_s: Some(Uncertain::Exact(7.0)) }),
        "{:?}",
        made.loss
    );
}

/// All at once, and the conditions are still there.
#[test]
fn everything_moved_at_once() {
    let live = field();
    let path_m = live.base().path.length_m();
    let asked = [
        ("cut_m", "100"),
        ("height_m", "33"),
        ("patience_s", "0.7"),
        ("wind_mps", "12.5"),
        ("wind_from_deg", "270"),
        ("constellations", "glonass,gps30"),
        ("pack_pct", "44"),
        ("hour_utc", "17.25"),
    ];
    let state = live.state(asked).unwrap();
    let saved = live.text(&state).unwrap();
    let made = scenario(&saved);
    for (key, setting) in state.settings() {
        assert!(says(&made, key, setting, path_m), "{key:?} {setting:?}\n{saved}");
    }
    assert_eq!(made.conditions.len(), 1);
    assert_eq!(live.state(asked.into_iter().rev()).unwrap(), state, "the order of keys says nothing");
    let at = live.at(&state).unwrap();
    assert_eq!(at.world.scenario.weather, made.weather);
    assert_eq!(at.world.scenario.policies, made.policies);
}

/// A condition that a state takes the ground from under is told, not saved.
#[test]
fn a_state_that_does_not_go_with_a_condition_is_told() {
    let text = FIELD.replace("set = { \"weather.wind_mps\" = 1.0 }", "set = { \"loss.cut.any_time\" = true }");
    let live = Live::open("x", &text, &NoFiles).unwrap_or_else(|error| panic!("{error}"));
    let state = live.state([("cut_m", "60")]).unwrap();
    let refused = live.text(&state).unwrap_err();
    assert!(refused.error.contains("loss.cut") && refused.error.contains("more than one moment"), "{refused}");
    assert!(live.at(&state).is_ok(), "it can be flown all the same");
}

/// What stands in the way of the path is not looked for again with every state, but its warnings stay, as a full reading has them.
#[test]
fn a_state_has_the_warnings_of_its_saved_scenario() {
    let text = FIELD.replace("home_m = [0, 0]", "home_m = [0, 0]\nceiling_m = 25");
    let live = Live::open("saved", &text, &NoFiles).unwrap_or_else(|error| panic!("{error}"));
    for (asked, count) in [("20", 3), ("40", 4)] {
        let state = live.state([("height_m", asked)]).unwrap();
        let mut full = scenario(&live.text(&state).unwrap()).warnings;
        let mut own = live.at(&state).unwrap().world.scenario.warnings.clone();
        full.sort();
        own.sort();
        assert_eq!((own.len(), own), (count, full));
    }
}
