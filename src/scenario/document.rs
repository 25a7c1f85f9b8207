//! The documentation of the format, made from the reader's own key list.

use super::kind::{KeyDoc, SECTIONS, section_of};
use super::map_tags::table_in_markdown;
use super::parts::policy::ACTIONS;
use super::read::key_list;

/// A scenario as short as can be; everything else has a default.
pub const SHORTEST: &str = r#"title = "My field"

[craft]
mass_kg = 1.0

[path]
waypoints_m = [[0, 50, 30], [120, 80, 40], [0, 20, 30]]

[loss.cut]
any_time = true

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

The shortest scenario that can be assessed and loses links; without `[loss.cut]` the radio model decides, and so near it would lose none:

```toml
SHORTEST```

`lostlink new` writes a longer one with comments, and the [JSON Schema](scenario.schema.json) beside it by which editors with a TOML
language server complete and check keys; `lostlink schema` prints that schema alone. A scenario names it in its first line:

```toml
#:schema ./scenario.schema.json
```

## Limits

What is larger is refused, with what is accepted, before memory is taken for it. Only regular files are read: no pipe, no device.

| what | at most |
|---|---|
| a scenario or a lesson | 16 MB |
| a file that it names, a summary to print | 1 GB |
| a file of features or a path | 64 MB, 2,000,000 positions |
| points of a path | 20,000 |
| zones of a site | 60,000, 10,000 of them over one place |
| rows of a table of winds | 10,000 |
| samples of a raster that are held | 36,000,000 |
| the site, either way | 60 km |
| cells of its grid | 4 million |
| policies | 24 |
| flights | 10,000,000 |

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

A default whose source says 'estimate' is a guess of this program. Where it is a distribution, it is drawn for each flight unless the file
states a number or a distribution of its own. `lostlink check` lists the guesses that a scenario leaves in force.

What shapes the site (`site.terrain_error_m`, `site.home_east_m` and `home_north_m`, `height_m` of obstacles and `margin_m` of zones) is
drawn for a family of four worlds instead: flights 0, 4, 8 … are flown in the first, 1, 5, 9 … in the second, and so on. Each input is spread
evenly over the four.

A normal or log-normal distribution may reach beyond the range stated for its key: draws beyond it count as its limit.

## Areas

A zone, an obstacle and the fence take one of `polygon_m` (corners that do not cross, the last joins the first),
`circle_m = [x, y, radius]`, or `line_m` with `width_m` for a strip such as a road, a path or a wire.

## Policies

A policy is a chain of actions. Each `[[policy.action]]` holds one of ACTIONS with its settings in a
table, and in the same table what follows when a guard fails: `otherwise = "land"`, `"drop"` or `"next"`. Its guards stand beside that table.

```toml
[[policy]]
name = "home at 60 m"

[[policy.action]]
hold = { for_s = 2 }

[[policy.action]]
return = { height = { up_m = 60 }, speed_mps = 12, home_circle_m = 15, otherwise = "land" }
guard.fix = { satellites = 7, hdop = 3 }
guard.progress = { closing_mps = 1.0, within_s = 20 }
guard.battery = { reserve_pct = 15 }
```

The height of a `return` answers two questions: `up_m` metres above what (`from = "home"`, the usual one, `"here"`, `"path"` for the highest
point flown, `"ground"` for the ground below by a table on board), and whether the craft, when it is higher, comes down to it (`may_sink`).
`height = { from = "here" }` keeps the height it has; `height = { up_m = 40 }` is 40 m above home or higher; with `may_sink = true` it is 40 m
whether it has to climb or to sink. `climbs = "on_the_way"` starts home at once instead of climbing first.

### Nothing set

`carry_on` is what a craft does on which no failsafe is set: the last commands stay. What those were depends on `pilot.flies_by`: sticks that
steer the attitude leave it tilted as it was, sticks that steer a speed leave it that speed. With `for_s` the next action follows; without, it
ends with the pack, the ground or an obstacle.

### Fence guard

`guard.fence = { within_m = 20 }` fails when the place at which the craft would come to a stop has less than `within_m` to the fence, and
less than the craft has now: a way back inwards passes. It goes by the position that the craft believes, and without a fix it is silent.
Without `site.fence` the edge of the extent counts. A fence stops nobody by itself: without this guard a policy knows of none.

### Ceilings

`site.ceiling_m` limits the height above the take-off spot, `site.ceiling_above_ground_m` that above the ground below; both hold where both
are stated. No policy heeds them: flying above either is flagged. The pilot keeps under both where what stands on the way home leaves room, and
`heights` and the site card recommend no way home above them.

## Low pack

A pack warns at `warn_charge_pct` and is at its limit at `land_charge_pct`; a cell voltage under load of `warn_v` or `land_v` counts as the
same, whatever the charge. What the craft then does by itself, also while the pilot flies it, is `at_warning` and `at_limit`: `"nothing"`,
`"return"` (at the height it has, or `return_at_least_m`) or `"land"`. While the link is lost that goes before the policy unless
`goes_first = "policy"`; then the policy flies on until the motors have no thrust left.

```toml
[craft.battery]
warn_charge_pct = 25
at_warning = "return"
return_at_least_m = 50
```

## The pilot

`pilot.flies_by = "attitude"` flies by eye or by the picture and needs no fix; letting go of the sticks levels the craft, and the wind takes it along.
`"position_hold"` steers a speed over ground by the craft's own fix and heading, with their errors, and let go of it holds its place; without
a fix it is flown as by attitude.

Without a picture (`radio.video`) while the control link is up, `when_lost = "hold"` lets go of the sticks for `hold_s`, then does what
`after_hold` says; with the picture back the pilot flies home. `"trigger_policy"` throws the switch that starts the policy; a pilot who did that does not take over by himself.

`pilot.hands` is what the pilot does with the radio once the link is called lost: turns to face the craft, raises the antenna, points it,
walks. Each comes with a delay of its own and is done the same way under every policy. Left out, he only turns, and that only where
`facing_deg` says which way he faced; `hands = false` leaves the radio as it is.

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

## A map of the place

`site.ground_file` reads zones, obstacles, fence and home from a map in longitude and latitude (`site.lat_deg` and `site.lon_deg` are
needed): GeoJSON, KML, or a raw export of the open map. What the map has lies below the zones that the scenario lists.

In GeoJSON and KML a feature's property `role` is `zone` (the default), `obstacle`, `fence` or `home`. Zones and obstacles have the
properties `name`, `kind`, `whose`, `people`, `present_share`, `hours`, `margin_m`, `height_m`, `base_m` of the tables below. A line needs `width_m`,
a point `radius_m` (but not as `home`). Other properties are ignored. In KML properties are `Data` or `SimpleData` of a placemark's
`ExtendedData`, and `name` is its own name; folders do not matter, a `NetworkLink` is refused. A hole in a polygon is no part of it: what
lies below shows there. A fence has no holes.

### A raw export of the open map

The open map's XML export (`<osm>`), and features of GeoJSON or KML that have neither `role` nor `kind`, are read by their tags. The first row
that fits counts. Each feature is used or listed with the reason why not: `lostlink check` shows the counts and the first few, `check
--json` (`map`) all of them. Only what reaches into the site's extent is used, and the map does not stretch the extent.

A height is what `height` states (metres, or feet as `40'`), else `building:levels` times `site.map.storey_m`, else one of the
heights of `[site.map]`, which are drawn, or one of the table; `min_height` is the underside, `width` the width of a line, `diameter_crown` that
of a tree. What lies in a tunnel or under the ground is not used. Widths, heights and head counts of the table are estimates of a busy
hour: someone is on a stretch shorter than one head needs for that share of the time. Footpaths are places of people.

MAPTABLE
## A path as GPX, GeoJSON or KML

`path.file` reads the first track of a GPX file (or its first route), or the first line of a GeoJSON or KML file (also a `gx:Track`).

`path.heights` says what the heights of waypoints are above: `"above_home"`, `"above_ground"` (the ground below each waypoint; legs between
them are straight) or `"amsl"`, the sea, for which `site.height_amsl_m` matters. Left out, those of `waypoints_m` are above home; of a file
they are what it says itself (`altitudeMode` of KML), else above the sea. A line that KML clamps to the ground has no heights.

With `path.above_ground_m` the whole path follows the ground at that height, whatever other heights say: it is looked up every half cell of
the terrain, of the ground and not of what stands on it. The craft looks a second ahead, and slows where the slope asks for more climb or
descent than it has; `check` says where.

## Wind from a file

`weather.profile_file` is the wind by height, `weather.series_file` that over the hours of a day at `wind_height_m`: plain CSV with the names of
the columns in its first line, in any order, commas between, points in numbers; lines that begin with `#` are remarks.

```csv
height_m,speed_mps,direction_deg
10,4.5,260
80,8,275
```

```csv
time,speed_mps,direction_deg
09:00+02:00,3,240
15:00+02:00,7,280
```

Heights are above the ground, and rise; a direction is where the wind comes from; `time` has its offset from UTC, or `hour_utc` is a number.
Between rows the wind is interpolated as a vector. Below the lowest and above the highest row the logarithmic law of `roughness_m` and
`veer_deg_per_100m` goes on from there, up to 300 m: a profile of one row is a stated wind at that height. Before the first and after the last
hour the wind stays as it is there. A flight has the wind of the moment at which it takes off, and `drift_mps` changes it from there.

What the scenario states goes before a file: `wind_mps` beside a profile is its speed at `wind_height_m`, `from_deg` its direction there, and the
other heights follow; beside a series it is the speed at all hours. Turbulence follows the wind near the ground, at whatever height that of the
profile is measured; hills and lee act on the wind of each height as they do on a stated one.

## Time of day

Times are UTC, or have their offset: `sky.utc = 2026-06-01T10:00:00+02:00` is 08:00 UTC, and outputs that tell times then name the
local one too. The hours of a zone are `hours_utc = [7, 15.5]` or `hours = "09:00+02:00/17:30+02:00"`, which is also the form in a map.

## Ground heights

`site.terrain_file` names one file or a list of them, told by what is in them, not by their ending:

| format | coordinates | heights |
|---|---|---|
| height tile of one degree (HGT, as SRTM has them), 601 to 10801 samples a side | longitude and latitude, by a name such as `N45E007.hgt` | metres above the sea; -32768 is a void |
| GeoTIFF or BigTIFF of one band: integers or floats, strips or tiles, plain or packed by deflate or LZW, with predictor, scale and offset | longitude and latitude on WGS 84, ETRS89 or NAD83, or any projection with an EPSG code that is known here (UTM, Lambert, transverse Mercator, stereographic, Albers and others) | metres or feet as it says |
| Esri ASCII grid | longitude and latitude where its numbers are too small for metres; else metres on the site's own axes, `site.terrain_origin_m` being the grid's coordinates of the site's origin | metres |

Overviews are left alone. A file that does not state its coordinates takes `site.terrain_epsg`. WGS 84, ETRS89 and NAD83 count as one: they
differ by up to 2 m. Longitude and latitude and projections need `site.lat_deg` and `site.lon_deg`: every place is taken from one to the
other, so that a projection's own north does no harm. Such heights, and several files together, are laid on a lattice of local metres about a quarter as wide as
the samples lie apart (at most 4 million points), interpolated between the four samples around. Of a file only what lies under the site and
300 m around it is held: at most 36 million samples, of files of at most 1 GB.

Where files overlap the first one named counts; where it has a void, the next. Tiles that only touch are joined without a gap. In a
grid or GeoTIFF that does not say what stands for a void, -9999 does. What is void in all of the files is told with its share of the site
and the largest gap, and filled from around; a site that is half void is refused.
Beyond the files the ground goes on about level, which is warned of.

z = 0 is `site.height_amsl_m`, or the ground at x = y = 0 when that is left out. Heights count from mean sea level unless a file says that they
count from the ellipsoid, or `site.terrain_heights` says it; then `site.geoid_above_ellipsoid_m` takes them to the sea. A path file whose
heights lie clearly below the ground, or a recorded flight that begins and ends far above it, is warned of: one of the two then counts from
another level.

`site.terrain_is` says whether the heights are of the surface (models from orbit see roofs, and crowns in part) or of the bare earth. Buildings
and woods drawn on a surface count twice as far as it shows them, which is warned of. The default of `site.terrain_error_m` follows: 2.4 m, and
1.55 m for bare earth; for tiles from the radar mission of 2000 (SRTM) 5.5 m is nearer (5.4 to 7.5 m rms were found), for a survey by laser
0.1 to 0.2 m (from memory).

```toml
[site]
lat_deg = 45.3012
lon_deg = 7.6031
terrain_file = ["valley-1m.tif", "N45E007.hgt"]
terrain_is = "bare_earth"
```
"#;

/// The page `docs/scenario.md`.
pub fn format_page() -> String {
    let mut keys = key_list();
    keys.sort_by_key(|key| section_of(&key.key));
    let mut page =
        HEAD.replace("SHORTEST", SHORTEST).replace("ACTIONS", ACTIONS).replace("MAPTABLE", &table_in_markdown());
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
