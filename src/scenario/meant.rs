//! What an unknown name probably means: by its letters where fingers slipped; by its words, its unit and the meanings of the known keys
//! where another name was expected.

use super::kind::KeyDoc;

/// Likeness from which a name is proposed. Estimate, by the cases of the tests.
const LIKE_ENOUGH: f64 = 0.6;

/// Likeness from which a key of another table is proposed: there is more to choose from.
const LIKE_ENOUGH_ELSEWHERE: f64 = 0.85;

/// The known word that is probably meant.
pub(super) fn nearest_word<'k>(name: &str, known: impl Iterator<Item = &'k str>) -> Option<String> {
    best(known.map(|candidate| (letters(name, candidate), candidate.to_string())), LIKE_ENOUGH)
}

/// The key of a table that is probably meant; `documented` tells what the table's keys mean.
pub(super) fn nearest_key(name: &str, prefix: &str, known: &[&str], documented: &[KeyDoc]) -> Option<String> {
    let meaning = |key: &str| {
        let path = format!("{prefix}{key}");
        documented
            .iter()
            .find(|doc| doc.key == path)
            .map_or(String::new(), |doc| format!("{} {}", doc.meaning, doc.source))
    };
    let known = known.iter().map(|key| (likeness(name, key, &meaning(key)), (*key).to_string()));
    best(known, LIKE_ENOUGH)
}

/// The path that is probably meant by a key whose own table has none like it: a key of another table.
pub(super) fn elsewhere(path: &str, documented: &[KeyDoc]) -> Option<String> {
    let name = last(path);
    // A place in a list is somebody's own choice.
    let known = documented.iter().filter(|doc| !doc.key.contains('[') && doc.key != path);
    best(known.map(|doc| (likeness(name, last(&doc.key), ""), doc.key.clone())), LIKE_ENOUGH_ELSEWHERE)
}

/// The whole path that is probably meant.
pub(super) fn nearest_path(path: &str, documented: &[KeyDoc]) -> Option<String> {
    let section = |path: &str| path.split(['.', '[']).next().unwrap_or_default().to_string();
    let known = documented.iter().map(|doc| {
        let same = if section(&doc.key) == section(path) { 0.0 } else { 0.15 };
        let by_words = likeness(last(path), last(&doc.key), &doc.meaning) - same;
        (letters(path, &doc.key).max(by_words), doc.key.clone())
    });
    best(known, LIKE_ENOUGH)
}

fn last(path: &str) -> &str {
    path.rsplit('.').next().unwrap_or_default()
}

fn best(known: impl Iterator<Item = (f64, String)>, enough: f64) -> Option<String> {
    let found = known.filter(|(likeness, _)| *likeness >= enough).max_by(|a, b| a.0.total_cmp(&b.0));
    found.map(|(_, candidate)| format!("did you mean `{candidate}`?"))
}

/// How much a name is like a known key, 0 to a little over 1.
fn likeness(name: &str, candidate: &str, meaning: &str) -> f64 {
    letters(name, candidate).max(sense(name, candidate, meaning))
}

/// Likeness by letters.
fn letters(name: &str, candidate: &str) -> f64 {
    let stem = |text: &str| text.rsplit_once('_').map_or(text.to_string(), |pair| pair.0.to_string());
    let whole = strsim::normalized_damerau_levenshtein(name, candidate);
    // 'wind_kmh' means 'wind_mps' although half of its letters differ: what stands before the unit counts too.
    whole.max(strsim::normalized_damerau_levenshtein(&stem(name), &stem(candidate)) - 0.1)
}

/// Likeness by what is meant: `cruise_speed_mps` is `cruise_mps`, the speed at which the craft cruises, not `tip_speed_mps`. Its weights
/// are estimates, by the cases of the tests.
fn sense(name: &str, candidate: &str, meaning: &str) -> f64 {
    let (asked, known) = (Named::of(name), Named::of(candidate));
    let told: Vec<String> = meaning.split(|c: char| !c.is_alphanumeric() && c != '-').map(plain).collect();
    let met = |word: &String| {
        let is = |other: &String| word == other;
        // A slip within a word.
        let near = |other: &String| strsim::normalized_damerau_levenshtein(word, other) >= 0.75;
        if known.words.iter().any(is) {
            1.0
        } else if known.words.iter().any(near) {
            0.9
        } else if told.first().is_some_and(is) {
            // What a meaning begins with is what it is about.
            0.75
        } else if told.iter().any(is) {
            0.7
        } else {
            0.0
        }
    };
    let hits: f64 = asked.words.iter().map(met).sum();
    if hits == 0.0 {
        return 0.0;
    }
    let hit = hits / asked.words.len() as f64;
    let covered = known.words.iter().filter(|word| asked.words.contains(word)).count();
    let cover = covered as f64 / known.words.len().max(1) as f64;
    let unit = match (asked.unit, known.unit) {
        (Some(asked), Some(known)) if asked == known => 0.15,
        (Some(asked), Some(known)) if asked.0 == known.0 => 0.1,
        (Some(_), Some(_)) => -0.3,
        _ => 0.0,
    };
    0.7 * hit + 0.2 * cover + unit
}

/// A dimension and the unit in which it is stated.
type Unit = (&'static str, &'static str);

/// A key taken apart.
struct Named {
    words: Vec<String>,
    unit: Option<Unit>,
}

impl Named {
    fn of(key: &str) -> Named {
        let parts: Vec<&str> = key.split('_').filter(|part| !part.is_empty()).collect();
        let unit = parts.last().filter(|_| parts.len() > 1).and_then(|last| unit_of(last));
        let words = if unit.is_some() { &parts[..parts.len() - 1] } else { &parts[..] };
        Named { words: words.iter().map(|word| plain(word)).collect(), unit }
    }
}

/// Units that may stand at the end of a key, by what they measure: those of the format and others that people write.
fn unit_of(word: &str) -> Option<Unit> {
    const UNITS: [(&str, &[&str]); 14] = [
        ("speed", &["mps", "kmh", "kph", "kn", "knots", "kt", "mph", "fps"]),
        ("length", &["m", "km", "cm", "mm", "ft", "feet", "metres", "meters"]),
        ("time", &["s", "ms", "sec", "min", "h"]),
        ("mass", &["kg", "g", "lb", "lbs"]),
        ("angle", &["deg", "rad"]),
        ("power", &["w", "mw", "kw"]),
        ("level", &["dbm"]),
        ("gain", &["db", "dbi"]),
        ("frequency", &["hz", "khz", "mhz", "ghz"]),
        ("charge", &["ah", "mah"]),
        ("share", &["pct", "percent", "share"]),
        ("voltage", &["v", "mv"]),
        ("temperature", &["c", "k", "f"]),
        ("pressure", &["pa", "hpa", "mbar", "psi"]),
    ];
    let word = word.to_ascii_lowercase();
    UNITS.iter().find_map(|(of, units)| units.iter().find(|unit| **unit == word).map(|unit| (*of, *unit)))
}

/// A word as it is compared: small letters, one name for what has several, no plural.
fn plain(word: &str) -> String {
    const SAME: [(&str, &str); 10] = [
        ("altitude", "height"),
        ("alt", "height"),
        ("velocity", "speed"),
        ("weight", "mass"),
        ("position", "place"),
        ("location", "place"),
        ("launch", "takeoff"),
        ("max", "greatest"),
        ("maximum", "greatest"),
        ("sink", "descent"),
    ];
    let word = word.to_lowercase().replace('-', "");
    let word = if word.len() > 3 && !word.ends_with("ss") { word.trim_end_matches('s') } else { &word };
    SAME.iter().find(|(other, _)| *other == word).map_or(word, |pair| pair.1).to_string()
}

#[cfg(test)]
mod tests {
    use super::super::read::key_list;
    use super::*;

    /// What somebody may write in a table, and the key there that it means; none where nothing is like it.
    #[test]
    fn a_key_is_found_by_what_it_means() {
        let keys = key_list();
        let cases = [
            ("craft.", "cruise_speed_mps", Some("cruise_mps")),
            ("craft.", "max_tilt_deg", Some("tilt_max_deg")),
            ("craft.", "weight_kg", Some("mass_kg")),
            ("craft.", "climb_speed_mps", Some("climb_mps")),
            ("craft.", "sink_speed_mps", Some("descent_mps")),
            ("craft.", "drag_area_sqm", Some("drag_area_m2")),
            ("craft.battery.", "capacity_mah", Some("capacity_ah")),
            ("path.", "cruise_speed_mps", Some("speed_mps")),
            ("path.", "altitude_m", Some("height_m")),
            ("path.", "waypoints", Some("waypoints_m")),
            ("weather.", "wind_kmh", Some("wind_mps")),
            ("weather.", "wind_speed_mps", Some("wind_mps")),
            ("weather.", "wind_direction_deg", Some("from_deg")),
            ("weather.", "gusts_kmh", Some("gust_mps")),
            ("pilot.", "position_m", Some("place_m")),
            ("pilot.", "reaction_time_s", Some("reaction_s")),
            ("site.", "takeoff_m", Some("home_m")),
            ("site.", "latitude_deg", Some("lat_deg")),
            ("site.", "max_height_m", Some("ceiling_m")),
            ("radio.control.", "tx_power_dbm", Some("power_dbm")),
            ("radio.control.", "frequency_mhz", Some("frequency_hz")),
            ("radio.control.receiver.", "timeout_s", None),
            ("craft.", "colour", None),
        ];
        let mut wrong = String::new();
        for (prefix, name, meant) in cases {
            let own =
                keys.iter().filter_map(|doc| doc.key.strip_prefix(prefix)).filter(|key| !key.contains(['.', '[']));
            let known: Vec<&str> = own.collect();
            assert!(!known.contains(&name), "{prefix}{name} is a key");
            let found = nearest_key(name, prefix, &known, &keys);
            let expected = meant.map(|key| format!("did you mean `{key}`?"));
            if found != expected {
                wrong += &format!("{prefix}{name}: {found:?}, not {expected:?}\n");
            }
        }
        assert!(wrong.is_empty(), "{wrong}");
    }

    #[test]
    fn a_key_of_another_table_and_a_whole_path_are_found() {
        let keys = key_list();
        assert_eq!(elsewhere("craft.wind_mps", &keys).as_deref(), Some("did you mean `weather.wind_mps`?"));
        assert_eq!(elsewhere("waypoints_m", &keys).as_deref(), Some("did you mean `path.waypoints_m`?"));
        assert_eq!(elsewhere("craft.colour", &keys), None);
        assert_eq!(nearest_path("weather.wind_kmh", &keys).as_deref(), Some("did you mean `weather.wind_mps`?"));
        assert_eq!(nearest_path("wind_mps", &keys).as_deref(), Some("did you mean `weather.wind_mps`?"));
        assert_eq!(nearest_path("craft.cruise_speed_mps", &keys).as_deref(), Some("did you mean `craft.cruise_mps`?"));
    }
}
