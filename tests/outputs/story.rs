//! Stories of the shipped scenarios hold what the traces hold: a reader of the sentences and a reader of the traces, written apart,
//! find the same times, values, order and endings.

use crate::common::figure::{check, looks};
use lostlink::cli::Folder;
use lostlink::failsafe::{Act, Action, ActionKind, FixGuard, Guards, HeightFrom, Policy, ReturnHeight};
use lostlink::flight::{Doing, Happened, Headline, LossBudget, LossCause, Manner, Tier, Trace, TraceRow};
use lostlink::report::plot::loss;
use lostlink::report::{animated, player, story_page, trace_csv};
use lostlink::risk::picks::{Picks, Which};
use lostlink::site::{Obstacle, ObstacleKind, Whose};
use lostlink::story::{About, PolicyStory, Sentence, Told, tell};
use lostlink::world::World;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

const FLIGHTS: u32 = 10;
/// Where ten do not show what must be seen.
const MOST_FLIGHTS: u32 = 60;

fn world(name: &str) -> World {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    let text = std::fs::read_to_string(folder.join(format!("{name}.toml"))).unwrap();
    let scenario = lostlink::scenario::read(name, &text, &Folder(folder)).expect("reads well");
    World::for_planning(scenario).expect("builds")
}

/// A number in a text, with its decimals and the word after it.
#[derive(Debug, Clone, PartialEq)]
struct Said {
    value: f64,
    decimals: usize,
    unit: String,
}

impl Said {
    /// Whether it is this value, rounded.
    fn is(&self, value: f64) -> bool {
        (self.value - value).abs() <= 0.5 * 10f64.powi(-(self.decimals as i32)) + 1e-6
    }
}

/// The numbers of a text in their order. What stands in quotes is a name.
fn numbers(text: &str) -> Vec<Said> {
    let outside: String =
        text.split('"').enumerate().map(|(index, part)| if index % 2 == 0 { part } else { " name " }).collect();
    let mut found = Vec::new();
    for (index, word) in outside.split_whitespace().enumerate() {
        let bare = word.trim_start_matches('(').trim_end_matches([',', '.', ';', ':', ')']);
        let (bare, degrees) = bare.strip_suffix('°').map_or((bare, false), |bare| (bare, true));
        let plain = bare.replace('−', "-").replace(',', "");
        if let Ok(value) = plain.parse::<f64>() {
            let next = outside.split_whitespace().nth(index + 1).unwrap_or("");
            let unit = if degrees { "°" } else { next.trim_end_matches([',', '.', ';', ':', ')']) };
            let decimals = plain.split_once('.').map_or(0, |(_, rest)| rest.len());
            found.push(Said { value, decimals, unit: unit.into() });
        }
    }
    found
}

/// The first number with this unit.
fn first(sentence: &Sentence, unit: &str) -> Said {
    nth(sentence, unit, 0)
}

fn nth(sentence: &Sentence, unit: &str, n: usize) -> Said {
    let found: Vec<Said> = numbers(&sentence.text).into_iter().filter(|said| said.unit == unit).collect();
    found.get(n).unwrap_or_else(|| panic!("no number {n} in {unit}: {}", sentence.text)).clone()
}

/// What a row says at a time: the last one not later.
fn row_at(trace: &Trace, time_s: f64) -> &TraceRow {
    trace.rows.iter().take_while(|row| row.time_s <= time_s + 1e-6).last().unwrap_or(&trace.rows[0])
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

fn home_m(world: &World) -> [f64; 2] {
    [world.home_m[0], world.home_m[1]]
}

/// Whether a text tells the direction from one place to another, to one of eight.
fn tells_direction(text: &str, from_m: [f64; 2], to_m: [f64; 2]) -> bool {
    let bearing = (to_m[0] - from_m[0]).atan2(to_m[1] - from_m[1]).to_degrees();
    let names = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
    // At the edge of two either may be said.
    let near = (0..8).filter(|&k| {
        let off = (bearing - 45.0 * f64::from(k) + 540.0).rem_euclid(360.0) - 180.0;
        off.abs() <= 22.6
    });
    near.map(|k| names[k as usize]).any(|name| text.split([' ', ',', ';', '.']).any(|word| word == name))
}

/// What is said of a span between two times: the difference of the times as they are shown, to a tenth.
fn shown_span_s(from_s: f64, to_s: f64) -> f64 {
    let shown = |time_s: f64| format!("{time_s:.1}").parse::<f64>().unwrap();
    shown(to_s) - shown(from_s)
}

/// The rows between two times.
fn rows_between(trace: &Trace, from_s: f64, to_s: f64) -> Vec<&TraceRow> {
    trace.rows.iter().filter(|row| row.time_s >= from_s && row.time_s <= to_s).collect()
}

/// The mean of something over rows.
fn mean(rows: &[&TraceRow], value: &dyn Fn(&TraceRow) -> f64) -> f64 {
    rows.iter().map(|row| value(row)).sum::<f64>() / rows.len() as f64
}

/// Whether a height is said to be above the take-off spot, or below it.
fn tells_height(text: &str, height_m: f64) -> bool {
    let side = if height_m <= -0.05 { "below take-off" } else { "above take-off" };
    let parts: Vec<&str> = text.split(&format!(" m {side}")).collect();
    let ends = parts[..parts.len() - 1].iter().filter_map(|part| numbers(&format!("{part} m")).pop());
    ends.into_iter().any(|said| said.is(height_m.abs()))
}

/// `X m DIRECTION of the take-off spot` in a sentence against a place.
fn check_place(sentence: &Sentence, home_m: [f64; 2], place_m: [f64; 2]) {
    let text = &sentence.text;
    let off_m = distance(home_m, place_m);
    if text.contains("at the take-off spot") {
        assert!(off_m < 0.05, "{off_m} m: {text}");
        return;
    }
    assert!(numbers(text).iter().any(|said| said.unit == "m" && said.is(off_m)), "{off_m} m from home: {text}");
    assert!(tells_direction(text, home_m, place_m), "{place_m:?} from {home_m:?}: {text}");
}

/// Counts what was held, so that no check is left out by never being met.
type Held = BTreeMap<String, usize>;

struct Reader<'a> {
    world: &'a World,
    trace: &'a Trace,
    held: &'a mut Held,
}

impl Reader<'_> {
    fn hold(&mut self, what: &str) {
        *self.held.entry(what.into()).or_default() += 1;
    }

    fn shared(&mut self, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let home_m = home_m(self.world);
        let lost_s = trace.lost_at_s;
        match sentence.about {
            About::Weather | About::Present => assert_eq!(sentence.time_s, None, "{text}"),
            About::TakeOff if sentence.time_s == Some(0.0) && trace.rows[0].stored_home_m[0].is_nan() => {
                assert!(text.contains("no home point"), "{text}");
            }
            About::TakeOff => check_place(sentence, home_m, row_at(trace, sentence.time_s.unwrap()).stored_home_m),
            About::Link if text.contains("last packet") => {
                let time_s = sentence.time_s.unwrap();
                assert_eq!(Some(time_s), trace.silent_from_s, "{text}");
                let row = row_at(trace, time_s);
                check_place(sentence, home_m, [row.place_m[0], row.place_m[1]]);
                assert!(first(sentence, "m/s").is(row.speed_mps), "{} m/s: {text}", row.speed_mps);
                assert!(tells_height(text, row.height_m), "{} m: {text}", row.height_m);
            }
            About::Link => {
                let cut =
                    trace.events.iter().find(|event| event.what() == "the scenario cuts the link").expect("a cut");
                assert_eq!(sentence.time_s, Some(cut.time_s));
            }
            About::Lost => {
                assert_eq!(sentence.time_s, lost_s, "{text}");
                if trace.cause != Some(LossCause::Switch) {
                    let silent_s = shown_span_s(trace.silent_from_s.unwrap(), lost_s.unwrap());
                    assert!(first(sentence, "s").is(silent_s), "{silent_s} s: {text}");
                }
                if self.world.scenario.radio.telemetry.is_some() {
                    let up = text.contains("still receives") || text.contains("has yet to notice");
                    assert_eq!(up, trace.loss.unwrap().telemetry_up, "{text}");
                    assert!(!text.contains("has yet to notice") || trace.cause == Some(LossCause::Cut), "{text}");
                }
                self.place_and_course(sentence);
            }
            About::Cause => self.cause(sentence),
            About::Belief => self.belief(sentence),
            About::Around => {
                let row = row_at(trace, sentence.time_s.unwrap());
                assert!(first(sentence, "m/s").is(row.wind_to_mps[0].hypot(row.wind_to_mps[1])), "{text}");
                assert!(tells_direction(text, row.wind_to_mps, [0.0, 0.0]), "{:?}: {text}", row.wind_to_mps);
                assert!(first(sentence, "%").is(row.charge_pct), "{text}");
                if row.people_m > 0.0 {
                    assert!(first(sentence, "m").is(row.people_m), "{} m: {text}", row.people_m);
                }
            }
            About::Pilot | About::Pack => {
                let said = text.trim_end_matches('.').to_lowercase();
                let at = |event: &&Happened| Some(event.time_s) == sentence.time_s;
                let told: Vec<String> = trace.events.iter().filter(at).map(|event| event.what()).collect();
                assert!(told.iter().any(|event| *event == said || event.starts_with("low pack")), "{said}: {told:?}");
            }
            About::End => assert!(lost_s.is_none() && text.contains(&trace.headline), "{text}"),
            other => panic!("{other:?} before the loss: {text}"),
        }
        self.hold(&format!("shared {:?}", sentence.about));
    }

    /// Where the craft is at the loss, and which way it goes: from the row then to the one before it.
    fn place_and_course(&mut self, sentence: &Sentence) {
        let text = &sentence.text;
        let index = self.trace.rows.iter().rposition(|row| row.time_s <= self.trace.lost_at_s.unwrap() + 1e-6).unwrap();
        let row = &self.trace.rows[index];
        let place_m = [row.place_m[0], row.place_m[1]];
        let (place, course) = text.split_once(" and ").expect("place and course");
        check_place(&Sentence { text: place.into(), ..sentence.clone() }, home_m(self.world), place_m);
        if text.contains("all but at rest") {
            assert!(row.speed_mps < 0.5, "{}: {text}", row.speed_mps);
        } else {
            let before = &self.trace.rows[index - 1];
            assert!(tells_direction(course, [before.place_m[0], before.place_m[1]], place_m), "{text}");
            assert!(first(sentence, "m/s").is(row.speed_mps), "{} m/s: {text}", row.speed_mps);
            self.hold("a course");
        }
    }

    /// Why the link is back, or gone again: both means of the margin, and the term that changed most.
    fn change_of_the_link(&mut self, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let now_s = sentence.time_s.expect("a time");
        let worse = text.contains("again");
        let lost =
            trace.events.iter().rfind(|event| event.time_s < now_s && event.what().starts_with("link declared lost"));
        let lost = lost.expect("a loss before");
        let first_loss = !lost.what().ends_with("again");
        if !worse && first_loss && matches!(trace.cause, Some(LossCause::Cut | LossCause::Restart)) {
            assert_eq!(text.contains("cut is over"), trace.cause == Some(LossCause::Cut), "{text}");
            self.hold("a cut that is over");
            return;
        }
        let then = match worse {
            true => {
                let back = trace.events.iter().rfind(|event| event.time_s < now_s && event.what() == "link back");
                let back_s = back.expect("it was back").time_s;
                rows_between(trace, back_s - 1.0, back_s)
            }
            false if first_loss => rows_between(trace, trace.silent_from_s.unwrap(), lost.time_s),
            false => rows_between(trace, lost.time_s - 1.0, lost.time_s),
        };
        let now = rows_between(trace, now_s - 1.0, now_s);
        if then.is_empty() || now.is_empty() {
            return;
        }
        let margins: Vec<Said> =
            numbers(text.split("What has").next().unwrap()).into_iter().filter(|said| said.unit == "dB").collect();
        for (said, rows) in margins.iter().zip([&now, &then]) {
            assert!(said.is(mean(rows, &|row| row.margin_db)), "{}: {text}", mean(rows, &|row| row.margin_db));
        }
        let terms: [(&str, Value); 8] = [
            ("distance", &|row| row.budget.distance_db),
            ("terrain and buildings", &|row| row.budget.diffraction_db),
            ("trees", &|row| row.budget.vegetation_db),
            ("wave off the ground", &|row| row.budget.reflection_db),
            ("antennas", &|row| row.budget.pattern_db + row.budget.polarisation_db),
            ("body", &|row| row.budget.body_db),
            ("fading", &|row| row.budget.shadowing_db + row.budget.fading_db),
            ("others on the band", &|row| row.budget.interference_db),
        ];
        let sign = if worse { 1.0 } else { -1.0 };
        let changes = terms.map(|(word, term)| (word, sign * (mean(&now, term) - mean(&then, term))));
        let most = changes.iter().map(|(_, by_db)| *by_db).fold(f64::NEG_INFINITY, f64::max);
        if let Some((_, what)) = text.split_once("What has changed most:") {
            let told = changes.iter().find(|(word, _)| what.contains(word)).expect("a term");
            assert!(told.1 >= most - 1e-9 && most >= 1.0, "{changes:?}: {text}");
            assert!(numbers(what)[0].is(told.1) && numbers(what)[0].unit == "dB", "{told:?}: {text}");
            assert_eq!(what.contains("more"), worse, "{text}");
            self.hold("a term that changed");
        } else {
            assert!(most < 1.0, "{changes:?}: {text}");
        }
    }

    /// A pass over what stands on the way: its place, both heights, their difference, and that no row of the way is closer.
    fn clearance(&mut self, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let own = self.world.of_flight(trace.flight);
        let row = row_at(trace, sentence.time_s.unwrap());
        let doing = if text.contains("pilot's hands") { Doing::TakenOver } else { Doing::Return };
        assert_eq!(row.doing, doing, "{text}");
        check_place(sentence, home_m(self.world), [row.place_m[0], row.place_m[1]]);
        let over_m = |row: &TraceRow| row.height_m - (own.grid.top_m(row.place_m[0], row.place_m[1]) - own.home_m[2]);
        let stands = |row: &TraceRow| {
            let [x, y, _] = row.place_m;
            own.grid.top_m(x, y) > own.grid.ground_m(x, y)
        };
        let way = trace.rows.iter().filter(|row| row.time_s >= trace.lost_at_s.unwrap() && row.doing == doing);
        let least =
            way.filter(|row| stands(row)).map(over_m).filter(|over_m| *over_m > 0.0).fold(f64::INFINITY, f64::min);
        assert!((over_m(row) - least).abs() < 1e-9, "{least} m at the closest, {} m here: {text}", over_m(row));
        let heights: Vec<Said> = numbers(text.split(": ").nth(1).expect("heights"));
        assert!(heights[0].is(row.height_m - least) && heights[1].is(row.height_m), "{row:?}: {text}");
        let said_m = heights[1].value - heights[0].value;
        assert!((first(sentence, "m").value - said_m).abs() < 1e-6, "{said_m} m by what is shown: {text}");
        if text.contains("trees") {
            assert!(
                own.grid.canopy_m(row.place_m[0], row.place_m[1]) - own.home_m[2] >= heights[0].value - 0.06,
                "{text}"
            );
        }
        self.named_obstacle(text, row);
    }

    /// The obstacle that a sentence names is there, of the kind said.
    fn named_obstacle(&mut self, text: &str, row: &TraceRow) {
        let site = &self.world.scenario.site;
        let place_m = [row.place_m[0], row.place_m[1]];
        for (word, kind) in [
            ("trees", ObstacleKind::Trees),
            ("a building", ObstacleKind::Building),
            ("a wire or mast", ObstacleKind::Wire),
        ] {
            if let Some((_, after)) = text.split_once(&format!("{word} (\"")) {
                let name = after.split('"').next().unwrap();
                let near = |obstacle: &&Obstacle| {
                    let off_m = obstacle.area.distance_m(place_m);
                    obstacle.name == name && obstacle.kind == kind && off_m <= 2.0 * self.world.grid.cell_m
                };
                assert!(site.obstacles.iter().any(|obstacle| near(&obstacle)), "{name} is not there: {text}");
                self.hold("an obstacle by its name");
            }
        }
    }

    /// Which guards watched: what they met at worst stands in a row, is met by none worse, and what is asked is the policy's.
    fn guards(&mut self, policy: &Policy, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let fired = |reasons: &[&str]| {
            let mut given_up =
                trace.events.iter().map(|event| event.what()).filter(|what| what.starts_with("given up: "));
            given_up.any(|what| reasons.iter().any(|reason| what.contains(reason)))
        };
        let with = |has: &dyn Fn(&Guards) -> bool| policy.actions.iter().any(|action| has(&action.guards));
        if text == "No guard is set." {
            assert!(!with(&|guards| *guards != Guards::default()), "{policy:?}");
            return;
        }
        if text.contains("ever under way") {
            assert!(with(&|guards| *guards != Guards::default()), "{policy:?}");
            return;
        }
        let acted = [
            (
                "the fix guard",
                with(&|guards| guards.fix.is_some()) && fired(&["HDOP", "no solution", "no position fix"]),
            ),
            ("the progress guard", fired(&["home moved away", "home came closer"])),
            ("the battery guard", fired(&["% of charge left"])),
            ("the duration guard", fired(&["s taken"])),
            ("the fence guard", fired(&["m to the fence"])),
        ];
        if text.ends_with("It acted.") {
            assert_eq!(acted.iter().filter(|(_, fired)| *fired).count(), 1, "{text}");
        } else {
            for (name, fired) in acted {
                assert_eq!(text.contains(name), fired, "{name}: {:?}: {text}", trace.events);
            }
        }
        let none = text.contains("None of them acted") || text.contains("It did not act");
        assert_eq!(none, acted.iter().all(|(_, fired)| !fired), "{text}");
        // Held, on the way home, or coming down on it: in the hands of the policy, before it gave anything up.
        let given_up_s = trace
            .events
            .iter()
            .find(|event| event.what().starts_with("given up") || event.what().starts_with("low pack"));
        let until_s = given_up_s.map_or(f64::INFINITY, |event| event.time_s);
        let flown = |row: &&TraceRow| row.time_s >= trace.lost_at_s.unwrap() && row.time_s < until_s;
        let by_policy =
            |row: &&TraceRow| matches!(row.doing, Doing::Return | Doing::Land | Doing::Hold | Doing::CarryOn);
        let rows: Vec<&TraceRow> = trace.rows.iter().filter(flown).filter(by_policy).collect();
        if let Some((_, fix)) = text.split_once("the fix (at worst ") {
            let said = numbers(fix);
            assert!(with(&|guards| guards.fix.is_some()), "{text}");
            assert!(trace.rows.iter().any(|row| said[0].is(f64::from(row.satellites))), "{text}");
            let home = rows.iter().filter(|row| row.doing == Doing::Return);
            let fewest = home.map(|row| row.satellites).min().unwrap_or(u32::MAX);
            assert!(said[0].value <= f64::from(fewest), "{fewest} satellites: {text}");
            if let Some((_, asks)) = fix.split_once("where at least ") {
                let asks = numbers(asks);
                let is = |guard: FixGuard| asks[0].is(f64::from(guard.satellites)) && asks[1].is(guard.hdop);
                assert!(policy.actions.iter().filter_map(|action| action.guards.fix).all(is), "{text}");
            }
            self.hold("a fix guard that watched");
        }
        if let Some((_, battery)) = text.split_once("the battery (at worst ") {
            let said = numbers(battery);
            let home = rows.iter().filter(|row| row.doing == Doing::Return);
            let least = home.map(|row| row.charge_pct).fold(f64::INFINITY, f64::min);
            assert!(said[0].value <= least + 0.5 && trace.rows.iter().any(|row| said[0].is(row.charge_pct)), "{text}");
            assert!(policy.actions.iter().filter_map(|a| a.guards.reserve_pct).all(|asks| said[1].is(asks)), "{text}");
            self.hold("a battery guard that watched");
        }
        assert_eq!(text.contains("progress towards home"), with(&|guards| guards.progress.is_some()), "{text}");
    }

    /// The cause with its term of the budget, averaged over the rows of the silence once more.
    fn cause(&mut self, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let cause = trace.cause.expect("a cause");
        let silent_s = trace.silent_from_s.unwrap();
        let until = |row: &&TraceRow| row.time_s <= trace.lost_at_s.unwrap();
        let mut rows: Vec<&TraceRow> = trace.rows.iter().filter(until).filter(|row| row.time_s >= silent_s).collect();
        if rows.is_empty() {
            rows = trace.rows.iter().rfind(until).into_iter().collect();
        }
        let mean = |term: &dyn Fn(&LossBudget) -> f64| {
            rows.iter().map(|row| term(&row.budget)).sum::<f64>() / rows.len() as f64
        };
        let (word, value_db): (&str, Option<f64>) = match cause {
            LossCause::Cut => ("the scenario has cut", None),
            LossCause::Distance => ("far away", Some(mean(&|b| b.distance_db))),
            LossCause::Obstruction => ("terrain or buildings", Some(mean(&|b| b.diffraction_db))),
            LossCause::Vegetation => ("trees", Some(mean(&|b| b.vegetation_db))),
            LossCause::Antenna => ("antennas", Some(mean(&|b| b.pattern_db + b.polarisation_db))),
            LossCause::Body => ("body", Some(mean(&|b| b.body_db))),
            LossCause::Reflection => ("wave off the ground", Some(mean(&|b| b.reflection_db))),
            LossCause::Fading => ("fading", Some(mean(&|b| b.shadowing_db + b.fading_db))),
            LossCause::Interference => ("others on the band", Some(mean(&|b| b.interference_db))),
            LossCause::Restart => ("restarted", None),
            LossCause::Switch => ("threw the switch", None),
        };
        assert!(text.contains(word), "{cause:?}: {text}");
        if let Some(value_db) = value_db.filter(|value_db| *value_db >= 1.0) {
            assert!(first(sentence, "dB").is(value_db), "{value_db} dB: {text}");
        }
        if text.contains("mean margin") {
            let margin_db = rows.iter().map(|row| row.margin_db).sum::<f64>() / rows.len() as f64;
            let said = numbers(text).into_iter().rev().find(|said| said.unit == "dB").expect("a margin");
            assert!(said.is(margin_db), "{margin_db} dB: {text}");
        }
        self.hold(&format!("cause {cause:?}"));
    }

    fn belief(&mut self, sentence: &Sentence) {
        let text = &sentence.text;
        let row = row_at(self.trace, sentence.time_s.unwrap());
        let place_m = [row.place_m[0], row.place_m[1]];
        if !row.fix_error_m.is_nan() {
            assert!(first(sentence, "m").is(distance(place_m, row.believed_m)), "{text}");
            assert!(first(sentence, "m").is(row.fix_error_m), "the error as the trace had it before: {text}");
            let part = text.split(" of its true place").next().unwrap();
            assert!(tells_direction(part, place_m, row.believed_m), "{text}");
            assert!(first(sentence, "satellites").is(f64::from(row.satellites)), "{text}");
            let hdop = format!("HDOP of {:.1}", row.hdop);
            assert!(text.contains(&hdop) || (text.contains("no solution") && row.hdop.is_infinite()), "{hdop}: {text}");
        } else {
            assert!(text.contains("no position fix"), "{text}");
        }
        let ups: Vec<Said> = {
            let part = text.split("it believes it is ").nth(1).expect("heights");
            numbers(part.split('.').take(3).collect::<Vec<_>>().join(".").as_str()).into_iter().take(2).collect()
        };
        assert!(ups[0].is(row.believed_height_m) && ups[1].is(row.height_m), "{ups:?} {row:?}");
        let rest = text.split(" m. ").nth(1).expect("home and heading");
        let home_m = home_m(self.world);
        if row.stored_home_m[0].is_finite() {
            check_place(&Sentence { text: rest.into(), ..sentence.clone() }, home_m, row.stored_home_m);
        } else {
            assert!(rest.contains("no home point"), "{text}");
        }
        if row.heading_error_deg.abs() >= 0.5 {
            let side = if row.heading_error_deg > 0.0 { "to the left" } else { "to the right" };
            assert!(first(sentence, "°").is(row.heading_error_deg.abs()) && text.contains(side), "{text}");
            self.hold("a turned north");
        }
    }

    fn of_policy(&mut self, policy: &Policy, told: &PolicyStory, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let time_s = sentence.time_s.expect("all of them have a time");
        let row = row_at(trace, time_s);
        let last = trace.rows.last().unwrap();
        let home_m = home_m(self.world);
        let happens = |words: &str| {
            trace.events.iter().any(|event| (event.time_s - time_s).abs() < 1e-9 && event.what().starts_with(words))
        };
        assert!(time_s >= trace.lost_at_s.unwrap() && time_s <= last.time_s, "{text}");
        match sentence.about {
            About::Begins => {
                let doing = trace
                    .rows
                    .iter()
                    .find(|row| row.time_s >= time_s - 0.05 && happens(&format!("begins: {}", row.doing.label())));
                let doing = doing.unwrap_or_else(|| panic!("nothing begins at {time_s}: {text}")).doing;
                let verb = match doing {
                    Doing::Hold => ["begins to hold", "keeps level"],
                    Doing::Return => ["sets out for home"; 2],
                    Doing::Land => ["starts down"; 2],
                    Doing::Drop => ["falls"; 2],
                    Doing::CarryOn => ["flies on"; 2],
                    other => panic!("{other:?} begins: {text}"),
                };
                assert!(verb.iter().any(|verb| text.contains(verb)), "{doing:?}: {text}");
                if doing == Doing::Return && row.believed_m[0].is_finite() && row.stored_home_m[0].is_finite() {
                    assert!(first(sentence, "m").is(distance(row.believed_m, row.stored_home_m)), "{text}");
                    assert!(tells_direction(text, row.believed_m, row.stored_home_m), "{text}");
                }
                if text.contains("of the take-off spot") {
                    check_place(sentence, home_m, [row.place_m[0], row.place_m[1]]);
                }
                if text.contains("above take-off") && doing != Doing::Drop {
                    assert!(tells_height(text, row.height_m), "{} m: {text}", row.height_m);
                }
                if let Some((before, _)) = text.split_once(" m above the ground") {
                    let own = self.world.of_flight(trace.flight);
                    let above_m = row.place_m[2] - own.grid.ground_m(row.place_m[0], row.place_m[1]);
                    assert!(numbers(&format!("{before} m")).last().unwrap().is(above_m), "{above_m} m: {text}");
                }
                let higher = |sinks: bool| {
                    policy.actions.iter().any(|action| match &action.kind {
                        ActionKind::Return { height, .. } => {
                            height.from == HeightFrom::Home
                                && height.may_sink == sinks
                                && row.believed_height_m > height.up_m
                        }
                        _ => false,
                    })
                };
                if let Some((_, flown)) = text.split_once("it is to fly at ") {
                    assert!(heights(policy).any(|height| flown.starts_with(&height.in_words())), "{text}");
                    let sinks = heights(policy).all(|height| height.from == HeightFrom::Home && height.may_sink);
                    let much_higher = heights(policy).all(|height| row.believed_height_m > height.up_m + 1.1);
                    assert!(text.contains("comes down to that") || !(sinks && much_higher), "{text}");
                }
                assert!(!text.contains("comes down to that") || higher(true), "{text}");
                assert!(!text.contains("stays as high as it is") || higher(false), "{text}");
            }
            About::Guards => self.guards(policy, sentence),
            About::Clearance => self.clearance(sentence),
            About::Telemetry => {
                let index = trace.rows.iter().position(|row| row.time_s == time_s).expect("a row");
                let (was_up, up) = (trace.rows[index - 1].telemetry_up, row.telemetry_up);
                assert_eq!((was_up, up), (text.contains("no longer"), !text.contains("no longer")), "{text}");
            }
            About::Guard if text.contains("taken up again") => assert!(happens("the fix is back"), "{text}"),
            About::Guard => self.guard(policy, sentence),
            About::Wind => {
                assert_eq!(row.doing, Doing::Return);
                assert!(tells_height(text, row.height_m), "{text}");
                assert!(first(sentence, "m/s").is(row.wind_to_mps[0].hypot(row.wind_to_mps[1])), "{text}");
                assert!(nth(sentence, "m/s", 1).is(row.speed_mps), "{text}");
                assert!(tells_direction(text, row.wind_to_mps, [0.0, 0.0]), "{text}");
            }
            About::Fix => {
                let back = text.contains("is back");
                let index = trace.rows.iter().position(|row| row.time_s == time_s).expect("a row");
                let (before, now) = (&trace.rows[index - 1], &trace.rows[index]);
                assert_eq!((before.fix_error_m.is_nan(), now.fix_error_m.is_nan()), (back, !back), "{text}");
                assert!(first(sentence, "satellites").is(f64::from(now.satellites)), "{text}");
            }
            About::Area if text.contains("permitted area") => {
                let index = trace.rows.iter().position(|row| row.time_s == time_s).expect("a row");
                let leaves = text.starts_with("It leaves");
                assert_eq!((trace.rows[index - 1].inside, trace.rows[index].inside), (leaves, !leaves), "{text}");
                if leaves {
                    check_place(sentence, home_m, [row.place_m[0], row.place_m[1]]);
                }
            }
            About::Area => {
                let highest =
                    trace.rows.iter().filter(|row| row.time_s >= trace.lost_at_s.unwrap()).map(|row| row.height_m);
                assert!(nth(sentence, "m", 1).is(highest.fold(0.0, f64::max)), "{text}");
                assert!(row.height_m > self.world.scenario.site.ceiling_m, "{text}");
            }
            About::People => assert_eq!(text.contains("comes over"), row.people_m == 0.0, "{text}"),
            About::Link => {
                let word = if text.contains("again") { "link declared lost again" } else { "link back" };
                assert!(happens(word), "{text}");
                self.change_of_the_link(sentence);
            }
            About::Pilot if text.contains("wrong position") => assert!(happens("the pilot takes over with"), "{text}"),
            About::Pilot if text.starts_with("The pilot takes over") => {
                assert!(happens("the pilot takes over") && row.doing == Doing::TakenOver, "{text}");
                self.takes_over(sentence);
            }
            About::Pilot => assert!(happens(&text.trim_end_matches('.').to_lowercase()), "{text}"),
            About::Pack if text.contains("no longer reaches home") => {
                assert!(row.charge_pct < row.charge_home_pct && first(sentence, "%").is(row.charge_pct), "{text}");
            }
            About::Pack => assert!(happens("low pack") || happens("the pack is empty"), "{text}"),
            _ => self.at_the_end(policy, told, sentence),
        }
        self.hold(&format!("policy {:?}", sentence.about));
    }

    /// What the policy had done when the pilot took over: nearer to the take-off spot or farther from it.
    fn takes_over(&mut self, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let home_m = home_m(self.world);
        let time_s = sentence.time_s.unwrap();
        let row = row_at(trace, time_s);
        let (now, since) = text.split_once(" Since the loss").expect("what the policy has done");
        check_place(&Sentence { text: now.into(), ..sentence.clone() }, home_m, [row.place_m[0], row.place_m[1]]);
        assert!(tells_height(now, row.height_m), "{text}");
        let lost =
            trace.events.iter().rfind(|event| event.time_s < time_s && event.what().starts_with("link declared lost"));
        let then = row_at(trace, lost.expect("a loss").time_s);
        let away_m = |row: &TraceRow| distance(home_m, [row.place_m[0], row.place_m[1]]);
        let closer_m = away_m(then) - away_m(row);
        match numbers(since).into_iter().find(|said| said.unit == "m") {
            Some(said) => {
                assert!((said.value - closer_m.abs()).abs() <= 1.0, "{closer_m} m closer: {text}");
                assert_eq!(since.contains("closer"), closer_m > 0.0, "{closer_m} m closer: {text}");
            }
            None => assert!(since.contains("no closer") && closer_m.abs() < 2.0, "{closer_m} m closer: {text}"),
        }
    }

    /// A guard: the value of the event, what the policy asks, what follows.
    fn guard(&mut self, policy: &Policy, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let time_s = sentence.time_s.expect("all of them have a time");
        let event = trace
            .events
            .iter()
            .find(|event| (event.time_s - time_s).abs() < 1e-9 && event.what().starts_with("given up: "));
        let event = &event.unwrap_or_else(|| panic!("nothing is given up at {time_s}: {text}")).event.in_words();
        // Every value of the event stands in the sentence, and what is asked stands in the policy.
        let said = numbers(text);
        for number in numbers(event) {
            let near = |said: &Said| (said.value.abs() - number.value.abs()).abs() <= 0.5 + 1e-9;
            assert!(said.iter().any(near), "{event}: {text}");
        }
        if text.contains("asked") {
            let asked = numbers(text.split("where").nth(1).expect("what is asked"));
            let words = policy.in_words();
            let stated = numbers(&words);
            assert!(asked.iter().all(|a| stated.iter().any(|s| s.value == a.value)), "{words}: {text}");
        }
        let next = trace.rows.iter().find(|row| row.time_s >= time_s - 1e-6).unwrap();
        let then = [("comes down", Act::Land), ("stops the motors", Act::Drop), ("holds", Act::Hold)];
        for (words, act) in then {
            assert_eq!(text.contains(words), next.doing == Doing::of(act), "{:?}: {text}", next.doing);
        }
    }

    /// The touch, who was near, what is left.
    fn at_the_end(&mut self, policy: &Policy, told: &PolicyStory, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let time_s = sentence.time_s.expect("all of them have a time");
        let last = trace.rows.last().unwrap();
        let ending = trace.ending.as_ref().unwrap();
        let home_m = home_m(self.world);
        match sentence.about {
            About::End => {
                let end = trace
                    .events
                    .iter()
                    .find(|event| event.what() == format!("end: {}", trace.headline))
                    .expect("an end");
                assert!((end.time_s - time_s).abs() < 1e-9 && time_s == last.time_s, "{text}");
                assert!(text.ends_with(&format!("Outcome: {}.", trace.headline)), "{text}");
                let after_s = shown_span_s(trace.lost_at_s.unwrap(), end.time_s);
                assert!(first(sentence, "s").is(after_s), "{after_s} s: {text}");
                check_place(sentence, home_m, [last.place_m[0], last.place_m[1]]);
                let by_pilot = last.doing == Doing::TakenOver && ending.manner == Manner::SetDown;
                assert_eq!(text.starts_with("The pilot sets it down"), by_pilot, "{text}");
                self.named_obstacle(text, last);
                self.how_so(policy, sentence);
                if let Some(said) = numbers(text).into_iter().find(|said| said.unit == "m/s") {
                    assert!(said.is(last.speed_mps.hypot(last.climb_mps)), "{last:?}: {text}");
                }
                assert_eq!(told.headline, Some(ending.headline));
                assert_eq!(told.outcome, ending.headline.label());
            }
            About::Near => {
                self.whom_it_passed(sentence);
                assert!(first(sentence, "J").is(f64::from(ending.impact_energy_j)), "{text}");
                if text.contains("could reach the ground") {
                    assert!(nth(sentence, "J", 1).is(f64::from(ending.energy_below_j)), "{text}");
                }
                if last.people_m > 0.0 {
                    assert!(first(sentence, "m").is(last.people_m), "{}: {text}", last.people_m);
                } else {
                    assert_eq!(last.people_m == 0.0, text.contains("There it meets"), "{text}");
                }
            }
            About::After => {
                assert!(first(sentence, "%").is(last.charge_pct), "{text}");
                if let Some(off) = numbers(text).into_iter().find(|said| said.unit == "m") {
                    let place_m = [last.place_m[0], last.place_m[1]];
                    assert!(off.is(distance(place_m, last.believed_m)), "{text}");
                    let up_m = last.believed_height_m - last.height_m;
                    if text.contains("estimate right") {
                        assert!(up_m.abs() < 0.05, "{up_m}: {text}");
                    } else {
                        assert!(nth(sentence, "m", 1).is(up_m.abs()), "{up_m}: {text}");
                        assert_eq!(text.contains("too low"), up_m < 0.0, "{text}");
                    }
                }
            }
            other => panic!("{other:?} in a policy: {text}"),
        }
    }
}

/// The heights of the ways home of a policy.
fn heights(policy: &Policy) -> impl Iterator<Item = ReturnHeight> {
    policy.actions.iter().filter_map(|action| match &action.kind {
        ActionKind::Return { height, .. } => Some(*height),
        _ => None,
    })
}

impl Reader<'_> {
    /// What was struck and how high it is, how the way home came to be lower, how far a fall went.
    fn how_so(&mut self, policy: &Policy, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let last = trace.rows.last().unwrap();
        let own = self.world.of_flight(trace.flight);
        let [x, y, z] = last.place_m;
        if let Some((_, fall)) = text.split_once("On the way down it has gone ") {
            let begun = trace.events.iter().rfind(|event| event.what() == "begins: fall").expect("a fall");
            let from = trace.rows.iter().find(|row| row.time_s >= begun.time_s - 1e-6).unwrap();
            let gone_m = distance([from.place_m[0], from.place_m[1]], [x, y]);
            let said = numbers(fall);
            let wind_mps = from.wind_to_mps[0].hypot(from.wind_to_mps[1]);
            assert!(said[0].is(gone_m) && said[1].is(from.speed_mps) && said[2].is(wind_mps), "{gone_m} m: {text}");
            let wind = fall.split_once("wind of").expect("a wind").1.split_once('.').unwrap().1;
            assert!(tells_direction(wind.split('.').next().unwrap(), from.wind_to_mps, [0.0, 0.0]), "{text}");
            let part = fall.split(',').next().unwrap();
            assert!(tells_direction(part, [from.place_m[0], from.place_m[1]], [x, y]), "{text}");
            self.hold("a drift");
        }
        let above = z > own.grid.ground_m(x, y) + 0.5;
        let stands = own.grid.top_m(x, y) > own.grid.ground_m(x, y);
        if trace.ending.as_ref().unwrap().manner == Manner::Strike && above && stands {
            let (struck, there) = text.split_once(" They reach ").or(text.split_once(" It reaches ")).expect("a top");
            assert!(tells_height(struck, last.height_m), "{text}");
            let top_m = own.grid.top_m(x, y) - own.home_m[2];
            assert!(tells_height(there.split(" there").next().unwrap(), top_m), "{top_m} m: {text}");
            let farther_m = self.highest_from([x, y]);
            let highest_m = match there.split_once("the highest top is at ") {
                Some((_, farther)) => {
                    assert!((numbers(farther)[0].value - farther_m).abs() < 1.0, "{farther_m} m farther on: {text}");
                    numbers(farther)[0].value
                }
                None => top_m,
            };
            let set_out = last.doing == Doing::Return;
            assert!(!set_out || farther_m <= highest_m + 1.0, "{farther_m} m farther on: {text}");
            self.hold("a strike");
            let begun = trace.events.iter().rfind(|event| event.what() == "begins: return");
            if let Some((_, flown)) = there.split_once("way home is flown at ") {
                assert!(heights(policy).any(|height| flown.starts_with(&height.in_words())), "{text}");
            }
            if let Some((_, down)) = there.split_once("It had come down from ") {
                let from = trace.rows.iter().find(|row| row.time_s >= begun.unwrap().time_s - 1e-6).unwrap();
                let said = numbers(down);
                assert!(said[0].is(from.height_m) && from.height_m > last.height_m, "{text}");
                assert_eq!(down.contains("would have been"), said[0].value > highest_m + 0.05, "{highest_m}: {text}");
                if let Some((at, over)) = down.split_once(" it would have been ") {
                    assert!(numbers(at).last().unwrap().is(from.height_m), "{text}");
                    assert!((numbers(over)[0].value - (from.height_m - highest_m)).abs() <= 0.11, "{text}");
                }
                let sinks = |action: &Action| match &action.kind {
                    ActionKind::Return { height, .. } => height.may_sink,
                    _ => false,
                };
                assert!(policy.actions.iter().any(sinks), "{text}");
                self.hold("a way home that had come down");
            }
        }
    }

    /// The highest top of what stands between a place and the take-off spot, metre by metre.
    fn highest_from(&self, from_m: [f64; 2]) -> f64 {
        let own = self.world.of_flight(self.trace.flight);
        let to_m = home_m(self.world);
        let steps = distance(from_m, to_m).ceil().max(1.0) as usize;
        let at = |k: usize| [0, 1].map(|axis| from_m[axis] + (to_m[axis] - from_m[axis]) * k as f64 / steps as f64);
        let tops = (0..=steps).map(at).filter(|[x, y]| own.grid.top_m(*x, *y) > own.grid.ground_m(*x, *y));
        tops.map(|[x, y]| own.grid.top_m(x, y) - own.home_m[2]).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Those whom it passed over or close to are people who are there, and no others were as near.
    fn whom_it_passed(&mut self, sentence: &Sentence) {
        let (trace, text) = (self.trace, &sentence.text);
        let Some((_, whom)) = text.split_once("On the way it was over people") else { return };
        assert!(
            first(&Sentence { text: whom.into(), ..sentence.clone() }, "s")
                .is(f64::from(trace.ending.as_ref().unwrap().over_people_s))
        );
        let site = &self.world.scenario.site;
        let flown: Vec<&TraceRow> = trace.rows.iter().filter(|row| row.time_s >= trace.lost_at_s.unwrap()).collect();
        let mut said = 0;
        for (index, (zone, name)) in site.zones.iter().zip(site.zone_names()).enumerate() {
            let whose = if zone.whose == Whose::Crew { "the crew" } else { "others" };
            let told = whom.contains(&format!("{whose} at \"{name}\", with a margin of "));
            let near_m = |row: &&&TraceRow| zone.area.distance_m([row.place_m[0], row.place_m[1]]);
            let near = flown.iter().filter(|row| near_m(row) <= zone.margin_m + 1.5 * self.world.grid.cell_m).count();
            let nearest = flown.iter().filter(|row| {
                row.people_zone == Some(index as u16) && row.people_m < zone.margin_m - 1.5 * self.world.grid.cell_m
            });
            assert!(!told || near > 0, "{name} is far: {text}");
            assert!(told || nearest.count() == 0, "{name} is not told of: {text}");
            said += usize::from(told);
        }
        // Rows are 0.2 s apart: a corner passed faster may lie between them.
        assert!(said > 0 || trace.ending.as_ref().unwrap().over_people_s < 0.2, "{text}");
        self.hold("people passed over");
    }
}

/// Reads a whole story beside its traces.
fn read(world: &World, policies: &[Policy], told: &Told, held: &mut Held) {
    let story = &told.story;
    let all: Vec<&Sentence> = story.sentences().collect();
    assert!(all.iter().enumerate().all(|(index, sentence)| sentence.number == index + 1), "numbered without a gap");
    let in_order = |sentences: &[Sentence]| {
        sentences.windows(2).all(|pair| pair[0].time_s.unwrap_or(0.0) <= pair[1].time_s.unwrap_or(f64::MAX))
    };
    assert!(in_order(&story.shared) && story.policies.iter().all(|policy| in_order(&policy.sentences)));
    for sentence in &all {
        let text = &sentence.text;
        assert!(text.ends_with('.') && !text.contains("NaN") && !text.contains('–') && !text.contains("  "), "{text}");
        assert!(!text.to_lowercase().split(|c: char| !c.is_alphabetic()).any(|word| word == "safe"), "{text}");
    }
    let first = &told.traces[0];
    for sentence in &story.shared {
        Reader { world, trace: first, held }.shared(sentence);
    }
    assert_eq!(story.lost_at_s, first.lost_at_s);
    if story.policies.is_empty() {
        assert!(first.lost_at_s.is_none() && told.traces.len() == 1);
        *held.entry("never lost".into()).or_default() += 1;
        return;
    }
    assert_eq!(story.policies.len(), policies.len());
    for ((policy, part), trace) in policies.iter().zip(&story.policies).zip(&told.traces) {
        assert_eq!((&policy.name, &part.name), (&trace.policy, &trace.policy));
        for sentence in &part.sentences {
            Reader { world, trace, held }.of_policy(policy, part, sentence);
        }
        // Nothing that the trace tells is left out.
        let count = |about: About| part.sentences.iter().filter(|sentence| sentence.about == about).count();
        let events = |words: &str| trace.events.iter().filter(|event| event.what().starts_with(words)).count();
        assert_eq!(count(About::Begins), events("begins: "), "{:?}", trace.events);
        assert_eq!(count(About::Guard), events("given up: ") + events("the fix is back"), "{:?}", trace.events);
        assert_eq!(count(About::Link), events("link back") + events("link declared lost again"), "{:?}", trace.events);
        assert_eq!((count(About::End), count(About::After), count(About::Guards)), (1, 1, 1));
        assert_eq!(part.ended_at_s, trace.rows.last().unwrap().time_s);
        // All saw the same until the loss.
        let before = |trace: &Trace| {
            let rows = trace.rows.iter().filter(|row| row.time_s < trace.lost_at_s.unwrap() - 0.1);
            rows.map(|row| row.place_m).collect::<Vec<_>>()
        };
        assert_eq!(before(trace), before(first));
    }
    compared(world, told);
}

/// Best first, each with its end.
fn compared(world: &World, told: &Told) {
    let story = &told.story;
    let place = |name: &str| {
        let starts = format!("\"{name}\": ");
        story.compared.iter().position(|sentence| sentence.text.starts_with(&starts)).expect("told")
    };
    let mut order: Vec<(usize, Headline)> = story
        .policies
        .iter()
        .zip(&told.traces)
        .map(|(policy, trace)| {
            let sentence = &story.compared[place(&policy.name)];
            let ending = trace.ending.as_ref().unwrap();
            assert!(sentence.text.contains(ending.headline.label()), "{}", sentence.text);
            let last = trace.rows.last().unwrap();
            check_place(sentence, home_m(world), [last.place_m[0], last.place_m[1]]);
            let after_s = shown_span_s(trace.lost_at_s.unwrap(), policy.ended_at_s);
            assert!(first(sentence, "s").is(after_s), "{}", sentence.text);
            assert!(first(sentence, "J").is(f64::from(ending.energy_below_j)), "{}", sentence.text);
            (place(&policy.name), ending.headline)
        })
        .collect();
    order.sort_unstable_by_key(|(place, _)| *place);
    assert!(order.windows(2).all(|pair| pair[0].1 >= pair[1].1), "best first: {order:?}");
    // Best and worst are all those that share the level, and the level is that of their tier.
    let [.., ranked, scale] = story.compared.as_slice() else { panic!("neither rank nor scale: {:?}", story.compared) };
    let tiers: Vec<Tier> = order.iter().map(|o| o.1.tier()).filter(|tier| *tier != Tier::NotSettled).collect();
    let (best, worst) = (tiers.iter().max().copied(), tiers.iter().min().copied());
    let of = |tier: Option<Tier>| -> BTreeSet<String> {
        story.policies.iter().filter(|policy| policy.tier == tier).map(|policy| policy.name.clone()).collect()
    };
    let quoted = |text: &str| -> BTreeSet<String> { text.split('"').skip(1).step_by(2).map(String::from).collect() };
    if best == worst {
        assert!(best.is_none_or(|best| ranked.text.contains("on one level") && ranked.text.contains(best.label())));
    } else {
        let (first, rest) = ranked.text.split_once(" Worst: ").expect("best and worst");
        let rest = rest.split_once(". ").unwrap().0;
        assert_eq!((quoted(first), quoted(rest)), (of(best), of(worst)), "{}", ranked.text);
        assert!(first.contains(best.unwrap().label()) && rest.contains(worst.unwrap().label()), "{}", ranked.text);
    }
    let at =
        Tier::ALL.iter().take(6).map(|tier| scale.text.find(tier.label()).expect("all levels")).collect::<Vec<_>>();
    assert!(at.is_sorted(), "{}", scale.text);
    let energies: Vec<f64> =
        numbers(&scale.text).iter().filter(|said| said.unit == "J").map(|said| said.value).collect();
    let hard = world.scenario.judge.hard;
    assert_eq!(energies, [hard.others_j, hard.crew_j], "{}", scale.text);
    let over: BTreeSet<String> = story
        .policies
        .iter()
        .zip(&told.traces)
        .filter(|(_, trace)| trace.ending.as_ref().unwrap().over_people_s > 0.0)
        .map(|(policy, _)| policy.name.clone())
        .collect();
    assert_eq!(quoted(&scale.text), over, "{}", scale.text);
}

/// Flights from all over the run, each under all policies: ten, and more until all that a scenario must show was met.
fn stories_hold(name: &str, must: &[&str]) {
    let world = world(name);
    let policies = world.scenario.policies.clone();
    let mut held = Held::new();
    let always = ["shared Belief", "shared Cause", "policy Begins", "policy End", "policy Near"];
    let missing = |held: &Held| must.iter().chain(&always).find(|what| !held.contains_key(**what)).copied();
    for k in 0..MOST_FLIGHTS {
        if k >= FLIGHTS && missing(&held).is_none() {
            break;
        }
        let flight = (k * 7_919 + 13) % world.scenario.flights;
        let told = tell(&world, flight, "a test", &policies, 0.2);
        read(&world, &policies, &told, &mut held);
    }
    if let Some(what) = missing(&held) {
        panic!("{name}: '{what}' was never met: {held:?}");
    }
}

#[test]
fn club_field() {
    let must =
        ["cause Cut", "policy Wind", "a drift", "a fix guard that watched", "people passed over", "policy Telemetry"];
    stories_hold("club-field", &must);
}

#[test]
fn ridge_valley() {
    let must =
        ["cause Vegetation", "policy Link", "policy Pilot", "a term that changed", "policy Clearance", "a strike"];
    stories_hold("ridge-valley", &must);
}

#[test]
fn lake_shore() {
    stories_hold("lake-shore", &["cause Cut", "policy Guard"]);
}

#[test]
fn quarry() {
    stories_hold("quarry", &["policy Guard", "policy Fix"]);
}

#[test]
fn open_air_stage() {
    stories_hold("open-air-stage", &["cause Interference", "policy Link", "policy Pilot"]);
}

#[test]
fn wrong_heading() {
    stories_hold("wrong-heading", &["a turned north", "policy Guard", "policy Area"]);
}

/// A flight that keeps its link is told to its end, once, and can be played.
#[test]
fn a_flight_without_a_loss() {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    let text = std::fs::read_to_string(folder.join("club-field.toml")).unwrap();
    let (before, rest) = text.split_once("[loss.cut]").expect("it is cut");
    let text = format!("{before}{}", &rest[rest.find("\n[").expect("another table")..]);
    let scenario = lostlink::scenario::read("kept", &text, &Folder(folder)).expect("reads well");
    let world = World::for_planning(scenario).expect("builds");
    let told = tell(&world, 3, "a test", &world.scenario.policies, 0.2);
    let mut held = Held::new();
    read(&world, &world.scenario.policies, &told, &mut held);
    assert!(held.contains_key("never lost") && held.contains_key("shared End"), "{held:?}");
    assert_eq!(told.story.shared.last().unwrap().time_s, told.traces[0].rows.last().map(|row| row.time_s));
    // One track, which is no policy's.
    let page = page(&told);
    assert_eq!(page.matches("class=\"player-data\">").count(), 1);
    assert!(page.contains("\"name\":\"the flight\"") && page.contains("\"lost_at_s\":null"));
}

/// The test itself sees a story that says something else.
#[test]
fn a_story_that_says_something_else_is_caught() {
    let world = world("club-field");
    let policies = world.scenario.policies.clone();
    let told = tell(&world, 13, "a test", &policies, 0.2);
    let caught = |told: &Told| std::panic::catch_unwind(|| read(&world, &policies, told, &mut Held::new())).is_err();
    assert!(!caught(&told));
    let hook = std::panic::take_hook();
    std::panic::set_hook(Box::new(|_| {}));
    let mut missed = Vec::new();
    let mut tried = 0;
    // A digit more in any number of any sentence that has a time and is not a name or a setting.
    for index in 0..told.story.policies[2].sentences.len() {
        let mut other = told.clone();
        let text = &mut other.story.policies[2].sentences[index].text;
        let Some(at) = text.find(|c: char| c.is_ascii_digit()) else { continue };
        text.insert(at, '7');
        tried += 1;
        if !caught(&other) {
            missed.push(other.story.policies[2].sentences[index].text.clone());
        }
    }
    for index in 2..told.story.shared.len() {
        let mut other = told.clone();
        let sentence = &mut other.story.shared[index];
        sentence.time_s = sentence.time_s.map(|time_s| time_s + 3.0);
        tried += 1;
        if !caught(&other) {
            missed.push(other.story.shared[index].text.clone());
        }
    }
    std::panic::set_hook(hook);
    assert!(tried > 8 && missed.len() * 4 <= tried, "{} of {tried} were not seen: {missed:#?}", missed.len());
}

/// No number and none of the words that tell one thing from its opposite can be wrong in a strike, a pass over trees, a link that
/// came back, a hand-over, the guards, a drift, or the ranking without being seen.
#[test]
fn no_number_of_what_came_about_can_be_wrong() {
    let world = world("ridge-valley");
    let policies = world.scenario.policies.clone();
    let caught = |told: &Told| std::panic::catch_unwind(|| read(&world, &policies, told, &mut Held::new())).is_err();
    let hook = std::panic::take_hook();
    let (mut missed, mut tried) = (Vec::new(), BTreeSet::new());
    let swaps = [
        ("closer to the take-off", "farther from the take-off"),
        (" less.", " more."),
        ("most: trees", "most: terrain and buildings"),
        ("It did not act", "It acted"),
        ("The pilot sets it down", "It sets down"),
        ("wood on the ridge", "far wood"),
        ("to the east, with", "to the west, with"),
        ("above take-off there", "below take-off there"),
        ("and comes down to that", "or higher"),
        ("(ended fine)", "(craft at risk)"),
        ("\"drop\", \"hold", "\"hold"),
    ];
    let abouts = [About::Clearance, About::Guards, About::Link, About::Pilot, About::End, About::Begins];
    let all_tried = |tried: &BTreeSet<String>| swaps.iter().all(|(word, _)| tried.contains(*word));
    for flight in 0..MOST_FLIGHTS {
        if all_tried(&tried) {
            break;
        }
        let told = tell(&world, flight, "a test", &policies, 0.2);
        assert!(!caught(&told), "flight {flight}");
        std::panic::set_hook(Box::new(|_| {}));
        let mut try_with = |of: &dyn Fn(&mut Told) -> &mut String, what: &str, text: String| {
            let mut other = told.clone();
            *of(&mut other) = text.clone();
            tried.insert(what.to_string());
            if !caught(&other) {
                missed.push(format!("flight {flight}, {what}: {text}"));
            }
        };
        for policy in 0..policies.len() {
            for index in 0..told.story.policies[policy].sentences.len() {
                let sentence = &told.story.policies[policy].sentences[index];
                if !abouts.contains(&sentence.about) {
                    continue;
                }
                for (what, text) in wrong(&sentence.text, &swaps) {
                    try_with(&|told| &mut told.story.policies[policy].sentences[index].text, &what, text);
                }
            }
        }
        for index in 0..told.story.compared.len() {
            for (what, text) in wrong(&told.story.compared[index].text, &swaps) {
                try_with(&|told| &mut told.story.compared[index].text, &what, text);
            }
        }
        let _ = std::panic::take_hook();
    }
    std::panic::set_hook(hook);
    assert!(missed.is_empty(), "{} were not seen: {missed:#?}", missed.len());
    for (word, _) in swaps {
        assert!(tried.contains(word), "'{word}' is nowhere: {tried:?}");
    }
}

/// A text with one number wrong, for each number outside of names, and with one word changed for another.
fn wrong(text: &str, swaps: &[(&str, &str)]) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let (mut quoted, mut before) = (false, ' ');
    for (at, letter) in text.char_indices() {
        quoted ^= letter == '"';
        if letter.is_ascii_digit() && !quoted && (before == ' ' || before == '−' || before == '(') {
            let mut other = text.to_string();
            other.insert(at, '7');
            found.push(("a number".into(), other));
        }
        before = letter;
    }
    let changed = swaps.iter().filter(|(word, _)| text.contains(word));
    found.extend(changed.map(|(word, other)| (word.to_string(), text.replace(word, other))));
    found
}

/// One loss of a scenario, told.
fn one(name: &str, flight: u32) -> Told {
    let world = world(name);
    tell(&world, flight, "a test", &world.scenario.policies, 0.2)
}

fn page(told: &Told) -> String {
    let mut bytes = Vec::new();
    story_page::write(told, &story_page::gallery(told), &mut bytes).expect("writing into memory");
    String::from_utf8(bytes).expect("UTF-8")
}

/// Pages for the browser test, and what every page must hold.
fn page_holds(name: &str, flight: u32) {
    let told = one(name, flight);
    let page = page(&told);
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("pages");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(format!("story-{name}.html")), &page).unwrap();

    assert!(!page.contains("https://"), "{name}: nothing from outside");
    assert_eq!(page.matches("http://").count(), page.matches("http://www.w3.org/2000/svg").count(), "{name}");
    let mut ids = BTreeSet::new();
    for piece in page.split(" id=\"").skip(1) {
        let id = &piece[..piece.find('"').unwrap()];
        assert!(ids.insert(id), "{name}: id {id} twice");
    }
    for piece in page.split("url(#").skip(1) {
        let id = &piece[..piece.find(')').unwrap()];
        assert!(ids.contains(id), "{name}: nothing has the id {id}");
    }
    for sentence in told.story.sentences() {
        assert!(page.contains(&format!("data-number=\"{}\"", sentence.number)), "{name}: {}", sentence.text);
    }
    data_is_the_trace(&told, &page);
}

/// Reads a value off a row.
type Value<'a> = &'a dyn Fn(&TraceRow) -> f64;

/// The data in the page, against the traces.
fn data_is_the_trace(told: &Told, page: &str) {
    let from = page.find("class=\"player-data\">").expect("data") + "class=\"player-data\">".len();
    let text = &page[from..from + page[from..].find("</script>").expect("closed")];
    let data: serde_json::Value = serde_json::from_str(text).expect("JSON");
    let policies = data["policies"].as_array().unwrap();
    assert_eq!(policies.len(), told.traces.len());
    let [from_s, to_s] = told.window_s();
    let shown = [0, 1].map(|end| data["window_s"][end].as_f64().unwrap());
    assert!(shown[0] <= from_s && shown[0] > from_s - 0.1 && shown[1] >= to_s && shown[1] < to_s + 0.1, "{shown:?}");
    let home = told.map.home_m;
    let way = told.cut.direction;
    for (policy, trace) in policies.iter().zip(&told.traces) {
        assert_eq!(
            (policy["name"].as_str(), policy["outcome"].as_str()),
            (Some(&*trace.policy), Some(&*trace.headline))
        );
        let rows: Vec<&TraceRow> = trace.rows.iter().filter(|row| row.time_s >= from_s).collect();
        let columns: [(&str, Value); 10] = [
            ("time_s", &|row| row.time_s),
            ("x_m", &|row| row.place_m[0]),
            ("y_m", &|row| row.place_m[1]),
            ("along_m", &|row| (row.place_m[0] - home[0]) * way[0] + (row.place_m[1] - home[1]) * way[1]),
            ("height_m", &|row| row.height_m),
            ("from_home_m", &|row| distance(home, [row.place_m[0], row.place_m[1]])),
            ("people_m", &|row| row.people_m),
            ("fix_error_m", &|row| row.fix_error_m),
            ("charge_pct", &|row| row.charge_pct),
            ("speed_mps", &|row| row.speed_mps),
        ];
        for (key, value) in columns {
            let column = policy["columns"][key].as_array().unwrap();
            assert_eq!(column.len(), rows.len(), "{key}");
            for (told, row) in column.iter().zip(&rows) {
                let is = value(row);
                let same = told.as_f64().map_or(is.is_nan(), |told| (told - is).abs() <= 0.005_001);
                assert!(same, "{key} at {}: {told} for {is}", row.time_s);
            }
        }
        for (number, row) in policy["doing"].as_array().unwrap().iter().zip(&rows) {
            assert_eq!(data["doings"][number.as_u64().unwrap() as usize], row.doing.label());
        }
    }
    // The moments are the sentences with a time, in time order.
    let moments = data["moments"].as_array().unwrap();
    let timed = |sentence: &&Sentence| sentence.time_s.is_some_and(|time_s| time_s >= from_s - 1e-6);
    assert_eq!(moments.len(), told.story.sentences().filter(timed).count());
    assert!(moments.windows(2).all(|pair| pair[0]["time_s"].as_f64() <= pair[1]["time_s"].as_f64()));
    for moment in moments {
        let number = moment["number"].as_u64().unwrap() as usize;
        let sentence = told.story.sentences().find(|sentence| sentence.number == number).unwrap();
        assert_eq!(moment["text"], *sentence.text);
        assert!((moment["time_s"].as_f64().unwrap() - sentence.time_s.unwrap()).abs() < 1e-3);
    }
}

#[test]
fn page_of_the_club_field() {
    page_holds("club-field", 13);
}

#[test]
fn page_of_the_valley() {
    page_holds("ridge-valley", 137);
}

/// A policy's name may hold anything: it ends no script and begins no element.
#[test]
fn names_stay_names() {
    let world = world("club-field");
    let mut policies = world.scenario.policies.clone();
    policies[0].name = "</script><b>\"drop\" & more".into();
    let told = tell(&world, 13, "a test", &policies, 0.2);
    let page = page(&told);
    assert!(!page.contains("</script><b>") && !page.contains("<b>\"drop\""));
    data_is_the_trace(&told, &page);
    // A piece of a page: two of them share no id.
    let ids = |piece: &str| -> BTreeSet<String> {
        piece.split(" id=\"").skip(1).map(|part| part[..part.find('"').unwrap()].to_string()).collect()
    };
    let [one, two] = ["one", "two"].map(|id| ids(&player::fragment(&told, id).unwrap()));
    assert!(!one.is_empty() && one.is_disjoint(&two));
}

#[test]
fn figures_of_a_loss() {
    for (name, flight) in [("club-field", 13), ("wrong-heading", 330)] {
        let told = one(name, flight);
        for (look_name, look) in looks() {
            let drawn = [loss::plan(&told, look), loss::side(&told, look), loss::lines(&told, look)];
            for scaled in &drawn {
                check(name, look_name, &scaled.figure);
            }
            check(name, look_name, &loss::moments(&told, look));
        }
        // Policies differ by more than colour, and the marks of the ends lie where the traces end.
        let strokes: BTreeSet<String> = (0..told.traces.len())
            .map(|index| format!("{:?} {:?}", loss::stroke_of(index).dash_px, loss::stroke_of(index).shape))
            .collect();
        assert_eq!(strokes.len(), told.traces.len());
        let shapes: BTreeSet<String> = (0..12).map(|index| format!("{:?}", loss::stroke_of(index).shape)).collect();
        assert!(shapes.len() >= 10, "{shapes:?}");
    }
}

/// A slide is 16:9, its text at least 20 pt on a width of 13.3 inches, and nothing is cut or hidden by other text.
#[test]
fn slides_can_be_read() {
    for (name, flight) in [("club-field", 13), ("lake-shore", 247), ("wrong-heading", 330)] {
        let told = one(name, flight);
        let times_s = animated::times_s(&told);
        assert!(times_s.windows(2).all(|pair| pair[0] < pair[1]) && times_s.len() > 40);
        assert!(
            (times_s[0] - told.window_s()[0]).abs() < 1e-9
                && (times_s.last().unwrap() - told.window_s()[1]).abs() < 1e-6
        );
        for time_s in [times_s[0], told.story.lost_at_s.unwrap(), *times_s.last().unwrap()] {
            let figure = loss::slide(&told, time_s);
            let [width, height] = figure.layout.size_px;
            assert_eq!((width, height), (1_280.0, 720.0));
            for piece in figure.svg.split("font-size=\"").skip(1) {
                // Drawings are ten times larger than their px; 1,280 px are 13.3 inches of 72 pt.
                let size: f64 = piece[..piece.find('"').unwrap()].parse().unwrap();
                assert!(size / 10.0 * 13.333 * 72.0 / 1_280.0 >= 20.0, "{name}: {size}");
            }
            assert!(figure.layout.cut().is_empty(), "{name}: {:?}", figure.layout.cut());
            assert!(figure.layout.overlaps().is_empty(), "{name} at {time_s}: {:?}", figure.layout.overlaps());
        }
    }
}

/// The animation, read back: all its pictures, put together, are the slides.
#[test]
fn the_animation_shows_the_flight() {
    let told = one("club-field", 13);
    let bytes = animated::apng(&told).expect("drawn");
    assert!(bytes.len() < 6_000_000, "{} bytes", bytes.len());
    let times_s = animated::times_s(&told);
    let mut reader = png::Decoder::new(std::io::Cursor::new(&bytes)).read_info().unwrap();
    let control = *reader.info().animation_control().expect("animated");
    assert_eq!((control.num_frames as usize, control.num_plays), (times_s.len(), 0));
    let (width, height) = (reader.info().width as usize, reader.info().height as usize);
    assert_eq!(width * 9, height * 16);
    let mut part = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut part).unwrap();
    let still = part.clone();
    let mut shown = vec![0; 3 * width * height];
    for (index, time_s) in times_s.iter().enumerate() {
        reader.next_frame(&mut part).unwrap();
        let at = *reader.info().frame_control().unwrap();
        let (w, h) = (at.width as usize, at.height as usize);
        for y in 0..h {
            let to = 3 * ((at.y_offset as usize + y) * width + at.x_offset as usize);
            shown[to..to + 3 * w].copy_from_slice(&part[3 * y * w..3 * (y + 1) * w]);
        }
        if [0, times_s.len() / 2, times_s.len() - 1].contains(&index) {
            let slide = loss::slide(&told, *time_s).pixels(1.0).unwrap();
            let rgb: Vec<u8> = slide.data().chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
            assert!(rgb == shown, "picture {index} is not the slide of {time_s} s");
            let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("figures");
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(folder.join(format!("slide-{index}.png")), slide.encode_png().unwrap()).unwrap();
        }
    }
    assert!(still == shown, "programs that do not play it show the end");
}

#[test]
fn traces_as_csv() {
    let told = one("club-field", 13);
    let trace = &told.traces[2];
    let mut bytes = Vec::new();
    trace_csv::write(trace, &mut bytes).unwrap();
    let mut read = csv::Reader::from_reader(bytes.as_slice());
    let head = read.headers().unwrap().clone();
    let units = ["_s", "_m", "_mps", "_deg", "_pct", "_db", "_v"];
    let plain = ["flight", "policy", "doing", "satellites", "hdop", "telemetry_up", "video_up", "inside"];
    assert!(head.iter().all(|name| units.iter().any(|unit| name.ends_with(unit)) || plain.contains(&name)), "{head:?}");
    let records: Vec<csv::StringRecord> = read.records().map(Result::unwrap).collect();
    assert_eq!(records.len(), trace.rows.len());
    for (record, row) in records.iter().zip(&trace.rows) {
        let cell = |name: &str| record.get(head.iter().position(|head| head == name).unwrap()).unwrap();
        let is = |name: &str, value: f64, within: f64| {
            let told = cell(name);
            assert!(
                if told.is_empty() { value.is_nan() } else { (told.parse::<f64>().unwrap() - value).abs() <= within },
                "{name}: {told} {value}"
            );
        };
        is("time_s", row.time_s, 0.000_51);
        is("after_loss_s", row.time_s - trace.lost_at_s.unwrap(), 0.000_51);
        is("x_m", row.place_m[0], 0.005_01);
        is("believed_y_m", row.believed_m[1], 0.005_01);
        is("stored_home_x_m", row.stored_home_m[0], 0.005_01);
        is("charge_home_pct", row.charge_home_pct, 0.005_01);
        is("wind_to_north_mps", row.wind_to_mps[1], 0.005_01);
        is("antennas_db", row.budget.pattern_db + row.budget.polarisation_db, 0.050_1);
        assert_eq!((cell("policy"), cell("doing")), (&*trace.policy, row.doing.label()));
    }
}

/// Each word picks what it says, read off the endings once more.
#[test]
fn picks_are_what_they_say() {
    let text = std::fs::read_to_string(Path::new(env!("LOSTLINK_ROOT")).join("scenarios/club-field.toml")).unwrap();
    let folder = Folder(Path::new(env!("LOSTLINK_ROOT")).join("scenarios"));
    let scenario = lostlink::scenario::read("club-field", &text, &folder).unwrap();
    let outcomes = lostlink::fly(&scenario, 0..120).unwrap();
    let mut picks = Picks::new(scenario.policies.len());
    outcomes.iter().for_each(|outcome| picks.push(outcome));
    let lost: Vec<_> = outcomes.iter().filter(|outcome| outcome.loss.is_some()).collect();
    assert_eq!(picks.lost(), lost.len());
    for among in [vec![0, 1, 2, 3], vec![2], vec![1, 3]] {
        let ends = |flight: u32| {
            let outcome = lost.iter().find(|outcome| outcome.flight == flight).unwrap();
            among.iter().map(|&policy| outcome.endings[policy]).collect::<Vec<_>>()
        };
        let headlines = |flight: u32| ends(flight).iter().map(|ending| ending.headline).collect::<Vec<_>>();
        let flights = || lost.iter().map(|outcome| outcome.flight);

        // Typical: no other set of outcomes is commoner, and as many of its flights are shorter as are longer.
        let typical = picks.pick(Which::Typical, &among).unwrap();
        let alike = |of: u32| flights().filter(|&flight| headlines(flight) == headlines(of)).collect::<Vec<_>>();
        let common = alike(typical);
        assert!(flights().all(|flight| alike(flight).len() <= common.len()));
        let length = |flight: u32| ends(flight).iter().map(|ending| ending.time_to_end_s).sum::<f32>();
        let shorter = common.iter().filter(|&&flight| length(flight) < length(typical)).count();
        let longer = common.iter().filter(|&&flight| length(flight) > length(typical)).count();
        assert!(shorter.abs_diff(longer) <= 1, "{shorter} shorter, {longer} longer");

        // Worst: no flight has a worse outcome.
        let worst = picks.pick(Which::Worst, &among).unwrap();
        let least = |flight: u32| *headlines(flight).iter().min().unwrap();
        assert!(flights().all(|flight| least(worst) <= least(flight)));

        // The first that struck.
        let struck = |flight: u32| ends(flight).iter().any(|ending| ending.manner == lostlink::flight::Manner::Strike);
        assert_eq!(picks.pick(Which::FirstThatStruck, &among), flights().find(|&flight| struck(flight)));

        // Most unlike: no other flight spans more tiers.
        let spans = |flight: u32| {
            let tiers: Vec<usize> =
                ends(flight).iter().map(|ending| ending.headline.tier() as usize).filter(|tier| *tier < 6).collect();
            tiers.iter().max().unwrap_or(&0) - tiers.iter().min().unwrap_or(&0)
        };
        let apart = picks.pick(Which::PoliciesDifferMost, &among).unwrap();
        assert!(flights().all(|flight| spans(flight) <= spans(apart)));
        assert_eq!(picks.pick(Which::Number(7), &among), Some(7));
    }
    assert_eq!(Picks::new(2).pick(Which::Typical, &[0, 1]), None);
    for which in Which::PICKED {
        assert_eq!(Which::from_word(which.word().unwrap()), Some(which));
    }
    assert_eq!((Which::from_word("41"), Which::from_word("nearest")), (Some(Which::Number(41)), None));
}
