//! What was found, as features on the Earth: what the writers of GeoJSON and KML write alike.

use super::words::number as n;
use crate::plan::reach::{MapHeight, Reach, ReachContour, ReachMap, ReachQuantity};
use crate::risk::summary::{PolicySummary, SiteMap, SiteOnEarth, Summary};
use crate::site::Area;
use crate::site::shape::signed_area_m2;
use serde_json::Value;

/// What is said where these files are left out, and how to have them.
pub const WITHOUT: &str = "left out: the scenario does not say where the site lies, and these files need longitude and latitude; state both of \
    site.lat_deg and site.lon_deg, those of the place x = y = 0";

/// A ring or line of positions, each longitude and latitude in degrees to a centimetre.
pub type Positions = Vec<[f64; 2]>;

/// A surface: its outer ring runs anticlockwise, its holes clockwise, each ends with its first position.
#[derive(Debug, Clone, PartialEq)]
pub struct Surface {
    /// Around it.
    pub outer: Positions,
    /// Around what is not part of it.
    pub holes: Vec<Positions>,
}

/// Where a feature lies.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// One place.
    Point([f64; 2]),
    /// Several places.
    Points(Positions),
    /// A line.
    Line(Positions),
    /// Several lines.
    Lines(Vec<Positions>),
    /// One or more surfaces.
    Surfaces(Vec<Surface>),
}

/// Something on the Earth.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// Features of a kind, or of a policy, are shown together.
    pub group: String,
    /// What a reader sees beside it.
    pub name: String,
    /// Where it lies.
    pub shape: Shape,
    /// Height above the take-off spot of each position of a point or a line; empty: on the ground.
    pub up_m: Vec<f64>,
    /// What is known of it, by name.
    pub properties: Vec<(&'static str, Value)>,
}

/// Features with what holds for all of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Features {
    /// Title of the scenario.
    pub title: String,
    /// Whether place and craft are invented.
    pub invented: bool,
    /// Longitude and latitude of x = y = 0.
    pub origin_deg: [f64; 2],
    /// Height of the take-off spot above mean sea level; `None`: not stated.
    pub home_amsl_m: Option<f64>,
    /// The features.
    pub list: Vec<Feature>,
}

impl Features {
    /// What the heights are, for who reads the file.
    pub fn about_heights(&self) -> String {
        let amsl = match self.home_amsl_m {
            Some(home_m) => format!(
                "those with amsl in their name are above mean sea level, the take-off spot being at {} m as the scenario or its terrain file states it",
                n(home_m, 1)
            ),
            None => "how high the site lies above the sea is not stated (site.height_amsl_m)".into(),
        };
        format!("heights with above_home in their name are above the take-off spot; {amsl}")
    }

    /// Height above mean sea level of a height above the take-off spot.
    pub fn amsl_m(&self, up_m: f64) -> Option<f64> {
        self.home_amsl_m.map(|home_m| hundredth(home_m + up_m))
    }
}

/// To a centimetre.
fn hundredth(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// So many decimals: what a model knows no better.
fn rounded(value: f64, decimals: i32) -> Value {
    let unit = f64::from(10_i32.pow(decimals.unsigned_abs()));
    Value::from((value * unit).round() / unit)
}

/// Of a policy: no other group has such a name.
fn group_of(policy: &PolicySummary) -> String {
    format!("policy: {}", policy.name)
}

/// The name, or what it is and its place in the list.
fn named(name: &str, what: &str, index: usize) -> String {
    if name.is_empty() { format!("{what} {}", index + 1) } else { name.into() }
}

/// A serialisable word.
fn word<T: serde::Serialize>(value: &T) -> Value {
    serde_json::to_value(value).unwrap_or_default()
}

/// Makes features of local metres.
struct Maker<'s> {
    site: &'s SiteOnEarth,
    middle_lon_deg: f64,
    list: Vec<Feature>,
}

impl<'s> Maker<'s> {
    fn new(site: &'s SiteOnEarth) -> Maker<'s> {
        let [_, middle_lon_deg] = site.frame.degrees_from_local([0.0, 0.0]);
        Maker { site, middle_lon_deg, list: Vec::new() }
    }

    fn position(&self, place_m: [f64; 2]) -> [f64; 2] {
        let [lat, lon] = self.site.frame.degrees_from_local(place_m);
        // A site at the date line stays whole: its longitudes go on beyond 180°.
        let lon = lon + 360.0 * ((self.middle_lon_deg - lon) / 360.0).round();
        // 1e-7° is a centimetre.
        [lon, lat].map(|degrees| (degrees * 1e7).round() / 1e7)
    }

    fn positions(&self, places_m: &[[f64; 2]]) -> Positions {
        let mut found = Positions::new();
        for place_m in places_m {
            let position = self.position(*place_m);
            if found.last() != Some(&position) {
                found.push(position);
            }
        }
        found
    }

    /// A closed ring that runs anticlockwise, or clockwise; `None` where too little of it is left.
    fn ring(&self, ring_m: &[[f64; 2]], anticlockwise: bool) -> Option<Positions> {
        let mut ring = self.positions(ring_m);
        if ring.len() > 1 && ring.first() == ring.last() {
            ring.pop();
        }
        if ring.len() < 3 {
            return None;
        }
        if (signed_area_m2(ring_m) > 0.0) != anticlockwise {
            ring.reverse();
        }
        ring.push(ring[0]);
        Some(ring)
    }

    /// Surfaces of rings of which those that run clockwise are holes of the others.
    fn surfaces(&self, rings_m: &[Vec<[f64; 2]>]) -> Vec<Surface> {
        let (outer, holes): (Vec<_>, Vec<_>) = rings_m.iter().partition(|ring| signed_area_m2(ring) > 0.0);
        let areas: Vec<Area> = outer.iter().map(|ring| Area::Polygon(ring.to_vec())).collect();
        let bounds: Vec<[f64; 4]> = areas.iter().map(Area::bounds_m).collect();
        let mut holes_of = vec![Vec::new(); areas.len()];
        for hole in holes {
            let Some(&[x, y]) = hole.first() else { continue };
            let around = |index: &usize| {
                let [west, south, east, north] = bounds[*index];
                (west..=east).contains(&x) && (south..=north).contains(&y) && areas[*index].contains([x, y])
            };
            let nearest =
                (0..areas.len()).filter(around).min_by(|&a, &b| areas[a].size_m2().total_cmp(&areas[b].size_m2()));
            if let Some(index) = nearest {
                holes_of[index].extend(self.ring(hole, false));
            }
        }
        let whole = outer.iter().zip(holes_of);
        whole.filter_map(|(ring, holes)| Some(Surface { outer: self.ring(ring, true)?, holes })).collect()
    }

    /// An area as it is stated: a strip is its middle line, whose width is a property.
    fn area(&self, area: &Area) -> (Shape, Vec<(&'static str, Value)>) {
        match area {
            Area::Strip { line_m, width_m } => {
                (Shape::Line(self.positions(line_m)), vec![("width_m", Value::from(*width_m))])
            }
            Area::Circle { radius_m, .. } => (self.outline(area), vec![("radius_m", Value::from(*radius_m))]),
            Area::Polygon(_) => (self.outline(area), Vec::new()),
        }
    }

    fn outline(&self, area: &Area) -> Shape {
        let rings = area.outline_m();
        let surface = |ring: &Vec<[f64; 2]>| Some(Surface { outer: self.ring(ring, true)?, holes: Vec::new() });
        Shape::Surfaces(rings.iter().filter_map(surface).collect())
    }

    fn push(&mut self, group: &str, name: &str, shape: Shape, properties: Vec<(&'static str, Value)>) {
        self.raised(group, name, shape, Vec::new(), properties);
    }

    fn raised(
        &mut self,
        group: &str,
        name: &str,
        shape: Shape,
        up_m: Vec<f64>,
        mut properties: Vec<(&'static str, Value)>,
    ) {
        // One height for a point, a list along a line: under names of their own, since a column of a table has one type.
        let is_point = matches!(shape, Shape::Point(_));
        let [home, amsl] = if is_point {
            ["height_above_home_m", "height_amsl_m"]
        } else {
            ["heights_above_home_m", "heights_amsl_m"]
        };
        let said = |over_m: f64| -> Value {
            let heights: Vec<f64> = up_m.iter().map(|up| hundredth(over_m + up)).collect();
            match heights.as_slice() {
                [one] if is_point => Value::from(*one),
                _ => Value::from(heights),
            }
        };
        if !up_m.is_empty() {
            properties.push((home, said(0.0)));
            properties.extend(self.site.home_amsl_m.map(|home_m| (amsl, said(home_m))));
        }
        self.list.push(Feature { group: group.into(), name: name.into(), shape, up_m, properties });
    }

    /// Take-off spot, pilot, sources of interference, fence, zones and obstacles.
    fn site(&mut self, map: &SiteMap) {
        const SITE: &str = "site";
        let what = |what: &str| ("what", Value::from(what));
        let home = Shape::Point(self.position(map.home_m));
        self.raised(SITE, "take-off spot", home, vec![0.0], vec![what("home")]);
        let pilot = Shape::Point(self.position(map.pilot_m));
        self.push(SITE, "pilot", pilot, vec![what("pilot")]);
        for source_m in &map.sources_m {
            let source = Shape::Point(self.position(*source_m));
            self.push(SITE, "source of interference", source, vec![what("interferer")]);
        }
        let site = self.site;
        if let Some(fence) = &site.fence {
            let (shape, properties) = self.area(fence);
            self.push(SITE, "fence", shape, [vec![what("fence")], properties].concat());
        }
        for (index, zone) in site.zones.iter().enumerate() {
            let (shape, more) = self.area(&zone.area);
            let mut properties = vec![
                what("zone"),
                ("kind", word(&zone.kind)),
                ("whose", word(&zone.whose)),
                ("people", Value::from(zone.people)),
                ("present_share", Value::from(zone.present_share)),
                ("margin_m", Value::from(zone.margin_m)),
            ];
            properties.extend(more);
            self.push("zones", &named(&zone.name, "zone", index), shape, properties);
        }
        for (index, obstacle) in site.obstacles.iter().enumerate() {
            let (shape, more) = self.area(&obstacle.area);
            let mut properties = vec![
                what("obstacle"),
                ("kind", word(&obstacle.kind)),
                ("height_m", Value::from(obstacle.height_m)),
                ("base_m", Value::from(obstacle.base_m)),
            ];
            properties.extend(more);
            self.push("obstacles", &named(&obstacle.name, "obstacle", index), shape, properties);
        }
    }

    /// The planned path with its heights.
    fn path(&mut self, path_m: &[[f64; 3]]) {
        if path_m.len() < 2 {
            return;
        }
        let line = path_m.iter().map(|p| self.position([p[0], p[1]])).collect();
        let up_m = path_m.iter().map(|p| p[2]).collect();
        self.raised("path", "path", Shape::Line(line), up_m, vec![("what", "path".into())]);
    }

    fn point(&mut self, group: &str, name: &str, at_m: [f64; 3], properties: Vec<(&'static str, Value)>) {
        let shape = Shape::Point(self.position([at_m[0], at_m[1]]));
        self.raised(group, name, shape, vec![at_m[2]], properties);
    }

    /// Link, sky and charge along the path.
    fn along(&mut self, summary: &Summary) {
        for place in summary.along.iter().filter(|place| place.place_m.iter().all(|v| v.is_finite())) {
            let name = format!("after {} m", n(place.distance_m, 0));
            let properties = vec![
                ("what", "along_path".into()),
                ("distance_m", rounded(place.distance_m, 2)),
                ("time_s", rounded(place.time_s, 2)),
                ("margin_db", rounded(place.margin_db, 2)),
                ("satellites", place.satellites.into()),
                ("hdop", rounded(place.hdop, 2)),
                ("charge_pct", rounded(place.charge_pct, 2)),
                ("charge_home_pct", rounded(place.charge_home_pct, 2)),
            ];
            self.point("along the path", &name, place.place_m, properties);
        }
    }

    /// Where the ends of a policy lie closest together.
    fn contours(&mut self, policy: &PolicySummary) {
        for contour in &policy.contours {
            let surfaces = self.surfaces(&contour.rings_m);
            if surfaces.is_empty() {
                continue;
            }
            let name = format!("{} % of the ends, {}", n(100.0 * contour.share, 0), policy.name);
            let properties = vec![
                ("what", "contour".into()),
                ("policy", policy.name.as_str().into()),
                ("share", contour.share.into()),
                ("ends", policy.listed().into()),
                ("kernel_m", rounded(policy.kernel_m, 2)),
            ];
            self.push(&group_of(policy), &name, Shape::Surfaces(surfaces), properties);
        }
    }

    fn no_return(&mut self, summary: &Summary) {
        for back in &summary.no_return {
            let (Some(place_m), Some(policy)) = (back.place_m, summary.policies.get(back.policy)) else { continue };
            let properties = vec![
                ("what", "no_return".into()),
                ("policy", policy.name.as_str().into()),
                ("distance_m", back.distance_m.map_or(Value::Null, |distance_m| rounded(distance_m, 2))),
                ("best_speed_mps", rounded(back.best_speed_mps, 2)),
                ("headwind_mps", rounded(back.headwind_mps, 2)),
            ];
            let name = format!("point of no return, {}", policy.name);
            self.point(&group_of(policy), &name, place_m, properties);
        }
    }

    fn done(self, title: &str, invented: bool) -> Features {
        let origin_deg = self.position([0.0, 0.0]);
        let home_amsl_m = self.site.home_amsl_m;
        Features { title: title.into(), invented, origin_deg, home_amsl_m, list: self.list }
    }
}

/// What an assessment found but for the single ends: the site, the path and what is known along it, contours of the ends, points of no
/// return. `None` where the site is not tied to the Earth.
pub fn of_summary(summary: &Summary) -> Option<Features> {
    let mut made = Maker::new(summary.map.earth.as_ref()?);
    // The path first: who reads a line from the file, as `path.file` of a scenario does, takes the first.
    made.path(&summary.map.path_m);
    made.site(&summary.map);
    made.along(summary);
    made.no_return(summary);
    summary.policies.iter().for_each(|policy| made.contours(policy));
    Some(made.done(&summary.title, summary.invented))
}

/// The ends that the map of a report shows, one feature each.
pub fn ends(summary: &Summary) -> Option<Features> {
    let mut made = Maker::new(summary.map.earth.as_ref()?);
    for policy in &summary.policies {
        for end in policy.ends.iter().filter(|end| end.place_m.iter().all(|v| v.is_finite())) {
            let properties = vec![
                ("what", "end".into()),
                ("policy", policy.name.as_str().into()),
                ("flight", end.flight.into()),
                ("headline", end.headline.word().into()),
                ("tier", word(&end.headline.tier())),
            ];
            let place = Shape::Point(made.position(end.place_m.map(f64::from)));
            made.push(&group_of(policy), &format!("flight {}", end.flight), place, properties);
        }
    }
    Some(made.done(&summary.title, summary.invented))
}

/// The same ends, those of a policy with the same outcome together: a viewer of the Earth stays usable with thousands of them.
pub fn ends_together(ends: &Features) -> Features {
    let mut list: Vec<Feature> = Vec::new();
    for end in &ends.list {
        let Shape::Point(position) = end.shape else { continue };
        let of = |key: &str, feature: &Feature| {
            feature.properties.iter().find(|(name, _)| *name == key).map(|(_, value)| value.clone()).unwrap_or_default()
        };
        let same =
            list.iter_mut().find(|there| there.group == end.group && of("headline", there) == of("headline", end));
        let there = match same {
            Some(there) => there,
            None => {
                let (headline, tier) = (of("headline", end), of("tier", end));
                let policy = of("policy", end);
                list.push(Feature {
                    group: end.group.clone(),
                    name: format!("ends: {}", headline.as_str().unwrap_or_default()),
                    shape: Shape::Points(Positions::new()),
                    up_m: Vec::new(),
                    properties: vec![
                        ("what", "ends".into()),
                        ("policy", policy),
                        ("headline", headline),
                        ("tier", tier),
                        ("flights", Value::Array(Vec::new())),
                    ],
                });
                let last = list.len() - 1;
                &mut list[last]
            }
        };
        if let Shape::Points(positions) = &mut there.shape {
            positions.push(position);
        }
        for (name, value) in &mut there.properties {
            if let ("flights", Value::Array(flights)) = (*name, value) {
                flights.push(of("flight", end));
            }
        }
    }
    Features { list, ..ends.clone() }
}

/// Levels of the lines of a map of the reach: mean margin, dB, and chance of a declared loss.
const MARGINS_DB: [f64; 5] = [0.0, 5.0, 10.0, 20.0, 30.0];
const CHANCES: [f64; 4] = [0.001, 0.01, 0.1, 0.5];

/// Where the link holds, at every height asked for: the surface with the margin asked for, lines of margin and of the chance of a
/// declared loss, the path with both, and the site. `None` where the site is not tied to the Earth.
///
/// `home_z_m`: height of the take-off spot on the site.
pub fn of_reach(reach: &Reach, map: &SiteMap, home_z_m: f64, invented: bool) -> Option<Features> {
    let mut made = Maker::new(map.earth.as_ref()?);
    made.path(&map.path_m);
    made.site(map);
    for place in &reach.along {
        let [x, y, z] = place.place_m;
        let properties = vec![
            ("what", "along_path".into()),
            ("distance_m", rounded(place.flown_m, 2)),
            ("margin_db", rounded(place.margin_db, 2)),
            ("loss_chance", rounded(place.loss_chance, 4)),
        ];
        let name = format!("after {} m", n(place.flown_m, 0));
        made.point("along the path", &name, [x, y, z - home_z_m], properties);
    }
    for level in &reach.maps {
        made.reach_map(level, reach.needed_margin_db);
    }
    Some(made.done(&reach.title, invented))
}

impl Maker<'_> {
    fn reach_map(&mut self, map: &ReachMap, needed_db: f64) {
        let (height, words) = match map.height {
            MapHeight::AboveGroundM(m) => {
                (("height_above_ground_m", Value::from(m)), format!("{m} m above the ground"))
            }
            MapHeight::LevelM(z_m) => (("level_z_m", Value::from(z_m)), format!("{z_m} m above the site's origin")),
        };
        let group = format!("reach {words}");
        let holds = self.surfaces(&map.areas(ReachQuantity::MarginDb, needed_db));
        if !holds.is_empty() {
            let name = format!("mean margin of {} dB or more, {words}", n(needed_db, 0));
            let properties = vec![
                ("what", "link_holds".into()),
                height.clone(),
                ("margin_db", needed_db.into()),
                ("share", rounded(map.share_with_margin(needed_db), 6)),
            ];
            self.push(&group, &name, Shape::Surfaces(holds), properties);
        }
        let mut contours = map.contours(ReachQuantity::MarginDb, &MARGINS_DB);
        contours.extend(map.contours(ReachQuantity::LossChance, &CHANCES));
        for ReachContour { quantity, level, lines_m } in contours.iter().filter(|contour| !contour.lines_m.is_empty()) {
            let (what, key, name) = match quantity {
                ReachQuantity::MarginDb => ("margin", "margin_db", format!("mean margin {level} dB")),
                ReachQuantity::LossChance => {
                    ("loss_chance", "loss_chance", format!("chance of a declared loss {level}"))
                }
            };
            let lines: Vec<Positions> =
                lines_m.iter().map(|line| self.positions(line)).filter(|line| line.len() > 1).collect();
            if !lines.is_empty() {
                let properties = vec![("what", what.into()), height.clone(), (key, (*level).into())];
                self.push(&group, &format!("{name}, {words}"), Shape::Lines(lines), properties);
            }
        }
    }
}
