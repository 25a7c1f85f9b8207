//! The documentation of the format, made from the reader's own key list.

use super::read::key_list;
use super::table::KeyDoc;

/// Sections in the order of the documentation and of the report's inputs.
pub(super) const SECTIONS: [&str; 12] =
    ["", "judge", "site", "weather", "craft", "radio", "sky", "path", "pilot", "loss", "policy", "condition"];

/// Place of a key's section in [`SECTIONS`].
pub(super) fn section_of(key: &str) -> usize {
    let first = key.split(['.', '[']).next().unwrap_or_default();
    let first = if first == "delivered" { "policy" } else { first };
    // Keys at the top stand before all sections.
    SECTIONS.iter().position(|section| *section == first && !section.is_empty()).unwrap_or(0)
}

/// A scenario as short as can be; everything else has a default.
pub const SHORTEST: &str = r#"title = "My field"

[craft]
mass_kg = 1.0

[path]
waypoints_m = [[0, 50, 30], [120, 80, 40], [0, 20, 30]]

[[policy]]
name = "hold, then land"

[[policy.action]]
hold = { for_s = 3 }

[[policy.action]]
land = {}
"#;

const HEAD: &str = r#"# The scenario file

This page is made from the reader's own list of keys (`cargo run --example keys`); a test holds it current.

A scenario is a TOML file. Numbers are numbers, and the unit stands in the key: `_m` metres, `_mps` metres per second, `_deg`
degrees, `_pct` per cent, `_dbm` and `_db` levels and gains. Places are local metres: x east, y north, from the site's origin; heights of
the path and of policies are above the take-off spot. A wind blows *from* its direction. Files named in a scenario lie
relative to its folder. An unknown key is an error: nothing is silently ignored.

Few keys are required. All others have a default, and every report lists every input with its source: the comment behind
the key in the file, or the default's source. Write there where your number comes from.

The shortest scenario that can be assessed:

```toml
SHORTEST```

## Uncertain numbers

Where 'a number or a distribution' is accepted, a distribution is drawn once per flight, the same for every policy:

| form | meaning |
|---|---|
| `{ normal = [mean, sd] }` | normal, cut at four standard deviations |
| `{ uniform = [low, high] }` | all values alike |
| `{ triangular = [low, mode, high] }` | most likely in the middle |
| `{ lognormal = [median, factor] }` | 68 % lie within median ÷ factor and median × factor |
| `{ choice = [[value, weight], ...] }` | one of several values |

Where a key says 'drawn for each', it is drawn at each such event instead.

A normal or log-normal distribution may reach beyond the range stated for its key: draws beyond it count as its limit.

## Areas

A zone, an obstacle and the fence take one of `polygon_m` (corners that do not cross, the last joins the first),
`circle_m = [x, y, radius]`, or `line_m` with `width_m` for a strip such as a road, a path or a wire.

## Policies

A policy is a chain of actions. Each `[[policy.action]]` holds one of `hold`, `land`, `return`, `drop` with its settings in a table, its
guards, and in the same table what follows when a guard fails: `otherwise = "land"`, `"drop"` or `"next"`.

```toml
[[policy]]
name = "home at 60 m"

[[policy.action]]
hold = { for_s = 2 }

[[policy.action]]
return = { height = { up_m = 60 }, speed_mps = 12, home_circle_m = 15, otherwise = "land" }
guard.fix = { satellites = 8, hdop = 2.5 }
guard.progress = { closing_mps = 1.0, within_s = 20 }
guard.battery = { reserve_pct = 15 }
```

## Conditions

A condition is the same scenario with some keys changed, assessed beside it:

```toml
[[condition]]
name = "gusty"
odds = 1
set = { "weather.wind_mps" = 9.0, "site.obstacle" = [] }
```

Tables of a list are counted from 0: `"radio.interferer[0].duty"`. A table that may be left out takes `false` for 'none'. Title, `about`,
`invented`, seed, number of flights, step, `judge` and `delivered` cannot be changed. Policies keep their number, names and order, by which
results are set beside each other; what one does may change: `"policy[1].action[0].hold.for_s" = 10`.

## A map as GeoJSON

`site.ground_file` reads zones, obstacles, fence and home from GeoJSON (longitude and latitude; `site.lat_deg` and `site.lon_deg` are
needed). A feature's property `role` is `zone` (the default), `obstacle`, `fence` or `home`; zones and obstacles have the properties `name`,
`kind`, `people`, `present_share`, `margin_m`, `height_m`, `base_m` of the tables below. A LineString needs `width_m`, a Point
`radius_m` (but not as `home`). Other properties are ignored. Zones of the file lie below those of the scenario.

## A path as GPX or GeoJSON

`path.file` reads the first track of a GPX file (or its first route), or the first LineString of a GeoJSON file. Heights in it are above mean
sea level unless `path.heights = "above_home"`; then `site.height_amsl_m` matters.

## Ground heights

`site.terrain_file` is an Esri ASCII grid in metres. Its coordinates are those of the site unless `site.terrain_origin_m` names the
grid's coordinates of the site's origin. z = 0 is `site.height_amsl_m`, or the ground at x = y = 0 when that is left out. Points without data
take their neighbours' height.
"#;

/// The page `docs/scenario.md`.
pub fn format_page() -> String {
    let mut keys = key_list();
    keys.sort_by_key(|key| section_of(&key.key));
    let mut page = HEAD.replace("SHORTEST", SHORTEST);
    let mut section = usize::MAX;
    for key in keys.iter().filter(|key| stands_for_itself(&key.key)) {
        if section_of(&key.key) != section {
            section = section_of(&key.key);
            let name = if section == 0 { "Top of the file".to_string() } else { format!("`{}`", SECTIONS[section]) };
            page += &format!(
                "\n## {name}\n\n| key | meaning | accepted | default | source of the default |\n|---|---|---|---|---|\n"
            );
        }
        page += &row(key);
    }
    page
}

/// Tables that are like another are told once.
fn stands_for_itself(key: &str) -> bool {
    const LIKE: [&str; 8] = [
        "delivered.",
        "radio.control.craft_antenna.",
        "radio.video.craft_antenna.",
        "radio.video.pilot_antenna.",
        "radio.video.chirp",
        "radio.video.fsk",
        "radio.video.video",
        "radio.control.video",
    ];
    !LIKE.iter().any(|like| key.starts_with(like))
}

fn row(key: &KeyDoc) -> String {
    let cell = |text: &str| text.replace('|', "\\|");
    let code = |text: &str| {
        if text.is_empty() || text == "none" || text == "required" { text.to_string() } else { format!("`{text}`") }
    };
    let meaning = match key.key.as_str() {
        "radio.control.pilot_antenna.pattern" => format!(
            "{} (the keys are the same for `craft_antenna` and for both antennas of `radio.video`)",
            key.meaning
        ),
        "radio.video" => format!(
            "{}; its waveform is `chirp`, `fsk` or `video` with `bandwidth_hz`, `snr_needed_db`, `slope_db`",
            key.meaning
        ),
        _ => key.meaning.clone(),
    };
    format!(
        "| `{}` | {} | {} | {} | {} |\n",
        key.key,
        cell(&meaning),
        cell(&key.accepts),
        cell(&code(&key.default)),
        cell(&key.source)
    )
}
