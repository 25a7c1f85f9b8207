//! What can be said before any flight is simulated: link, sky and energy along the path, clearance, points of no
//! return, and the site as drawn.

use super::summary::{AlongPath, Knowledge, NoReturn, Section, SectionPoint, SiteMap, SiteWind};
use super::words::{grouped, named};
use crate::failsafe::ActionKind;
use crate::flight::{Drawn, LossBudget, MOST_S, air_draws, craft_draws};
use crate::geometry::Frame;
use crate::scenario::{AfterHold, Loss, Multipath, VideoLost};
use crate::site::Area;
use crate::world::radio::{LinkDraws, LinkSetup, Strength};
use crate::world::reach::ray_section;
use crate::world::{HomeEnergy, PathEnergy, Way, World};
use serde::Serialize;

/// Places along the path that are looked at.
const PLACES: f64 = 150.0;

/// Everything `check` prints and the report needs about the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Survey {
    /// Along the path.
    pub along: Vec<AlongPath>,
    /// Index of the weakest place for the link.
    pub weakest: usize,
    /// Where the margin goes at the weakest place.
    pub weakest_budget: LossBudget,
    /// Margin with both ends one metre apart.
    pub margin_at_one_metre_db: f64,
    /// Level below which packets fail, at the craft.
    pub sensitivity_dbm: f64,
    /// Sections to the weakest and the farthest place.
    pub sections: Vec<Section>,
    /// The path's weakest place while every source of interference is on; `None` without sources.
    pub with_sources_on: Option<SourcesOn>,
    /// One per policy that returns.
    pub no_return: Vec<NoReturn>,
    /// Least height of the path above what stands below, and where along it.
    pub path_clearance_m: f64,
    /// Distance flown there.
    pub path_clearance_at_m: f64,
    /// One per policy that returns.
    pub ways: Vec<WayHome>,
    /// Planned time of the path.
    pub duration_s: f64,
    /// Hover power of the middle craft in still air.
    pub hover_power_w: f64,
    /// Top airspeed that tilt allows.
    pub top_airspeed_mps: f64,
    /// Odd but legal: of the scenario as read, then of the plan.
    pub warnings: Vec<String>,
}

/// Where the link is weakest while every source of interference is on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SourcesOn {
    /// Mean margin.
    pub margin_db: f64,
    /// Distance flown.
    pub distance_m: f64,
    /// Place above home.
    pub place_m: [f64; 3],
}

/// The way home of one policy.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WayHome {
    /// Policy index.
    pub policy: usize,
    /// Policy name.
    pub name: String,
    /// Least height of the straight way home above what stands below it, over all places of the path.
    pub clearance_m: f64,
    /// Place on the path from which that is so.
    pub from_m: [f64; 3],
    /// Greatest height above home on the way.
    pub height_m: f64,
    /// Least height above home at which a way home is flown.
    pub least_height_m: f64,
    /// Greatest charge needed to come home from the path, per cent; NaN when it cannot from somewhere.
    pub charge_needed_pct: f64,
}

/// The mean uplink at full power, with the middle values of everything uncertain.
pub struct MiddleLink<'a> {
    world: &'a World,
    drawn: Drawn,
    strengths: Vec<Strength>,
}

impl<'a> MiddleLink<'a> {
    /// Of a world.
    pub fn of(world: &'a World) -> MiddleLink<'a> {
        let drawn = Drawn::central(&world.scenario);
        let mut strengths = Vec::new();
        world.link.strengths(&LinkDraws::from(&drawn), &mut strengths);
        MiddleLink { world, drawn, strengths }
    }

    /// Whether anything interferes.
    pub fn has_sources(&self) -> bool {
        !self.strengths.is_empty()
    }

    /// What the losses are taken from.
    pub fn at_one_metre_db(&self) -> f64 {
        let link = &self.world.link;
        link.margin_at_one_metre_db(link.full_power_dbm(self.drawn.power_dbm), self.drawn.noise_rise_db)
    }

    /// Margin at a place and where it went, without interference.
    pub fn quiet(&self, place_m: [f64; 3], body: &Frame) -> (f64, LossBudget) {
        let mean = self.world.link.mean(place_m, body, self.drawn.body_loss_db, 0.0);
        (self.at_one_metre_db() - mean.loss_db, mean.budget)
    }

    /// The same with the mean rise of the noise floor by the sources.
    pub fn margin(&self, place_m: [f64; 3], body: &Frame) -> (f64, LossBudget) {
        self.under(LinkSetup::mean_rise_db, place_m, body)
    }

    /// The same while every source is on.
    pub fn margin_with_all_on(&self, place_m: [f64; 3], body: &Frame) -> (f64, LossBudget) {
        self.under(LinkSetup::greatest_rise_db, place_m, body)
    }

    fn under(&self, rise_db: fn(&LinkSetup, &[f64]) -> f64, place_m: [f64; 3], body: &Frame) -> (f64, LossBudget) {
        let (quiet_db, mut budget) = self.quiet(place_m, body);
        let link = &self.world.link;
        budget.interference_db = rise_db(link, &link.at_craft(&self.strengths, place_m, body));
        (quiet_db - budget.interference_db, budget)
    }
}

/// The planner's view of coming home, with middle values.
pub fn home_energy<'w>(world: &'w World, drawn: &Drawn) -> HomeEnergy<'w> {
    HomeEnergy::new(
        &world.scenario.craft,
        &craft_draws(drawn),
        &air_draws(drawn),
        &world.air,
        &world.grid,
        world.home_m,
    )
    .after_silence(world.scenario.radio.control.receiver.patience_s)
}

/// Surveys the plan.
pub fn survey(world: &World) -> Survey {
    let scenario = &world.scenario;
    let drawn = Drawn::central(scenario);
    let link = MiddleLink::of(world);
    let energy = home_energy(world, &drawn);
    let returning: Vec<(usize, Way)> = world
        .scenario
        .policies
        .iter()
        .enumerate()
        .filter_map(|(index, policy)| Some((index, Way::of(policy)?)))
        .collect();
    let ways: Vec<Way> = returning.iter().map(|way| way.1).collect();
    let every_m = (world.path.length_m() / PLACES).max(1.0);
    let points = energy.along(&world.path, &ways, drawn.charge_pct / 100.0, every_m);

    let mut along = Vec::with_capacity(points.len());
    let mut budgets = Vec::with_capacity(points.len());
    let mut with_sources_on: Option<SourcesOn> = None;
    let mut heading = world.path.first_heading();
    for (index, point) in points.iter().enumerate() {
        let next = &points[(index + 1).min(points.len() - 1)];
        let ahead = [next.place_m[0] - point.place_m[0], next.place_m[1] - point.place_m[1]];
        // Straight up and at the end the nose stays where it was.
        if ahead[0] * ahead[0] + ahead[1] * ahead[1] > 1e-12 {
            heading = ahead;
        }
        let (margin_db, budget) = link.margin(point.place_m, &Frame::level(heading));
        if link.has_sources() {
            let (margin_db, _) = link.margin_with_all_on(point.place_m, &Frame::level(heading));
            if with_sources_on.is_none_or(|weakest| margin_db < weakest.margin_db) {
                let place_m = above_home(world, point.place_m);
                with_sources_on = Some(SourcesOn { margin_db, distance_m: point.flown_m, place_m });
            }
        }
        let sky = world.sky.at(point.time_s + 0.5 * scenario.sky.window_s, point.place_m);
        along.push(AlongPath {
            distance_m: point.flown_m,
            time_s: point.time_s,
            place_m: above_home(world, point.place_m),
            surface_m: world.grid.surface_m(point.place_m[0], point.place_m[1]) - world.home_m[2],
            margin_db,
            satellites: u32::from(sky.satellites),
            hdop: if sky.has_solution() { f64::from(sky.hdop) } else { f64::NAN },
            charge_pct: 100.0 * point.charge,
            charge_home_pct: point.cheapest().map_or(f64::NAN, |need| 100.0 * need.charge),
        });
        budgets.push(budget);
    }
    // The take-off spot itself is next to the pilot; the weakest place is looked for everywhere.
    let weakest = (0..along.len()).min_by(|&a, &b| along[a].margin_db.total_cmp(&along[b].margin_db)).unwrap_or(0);
    let away = |p: &PathEnergy| crate::world::length(p.place_m, world.antenna_m);
    let farthest = (0..points.len()).max_by(|&a, &b| away(&points[a]).total_cmp(&away(&points[b]))).unwrap_or(0);
    let mut sections = vec![section(
        world,
        "weakest place of the path",
        points[weakest].place_m,
        along[weakest].margin_db,
        &budgets[weakest],
    )];
    if farthest != weakest {
        sections.push(section(
            world,
            "farthest place of the path",
            points[farthest].place_m,
            along[farthest].margin_db,
            &budgets[farthest],
        ));
    }

    let (mut path_clearance_m, mut path_clearance_at_m) = (f64::INFINITY, 0.0);
    for point in &along {
        // Take-off and landing start on the ground; they are no clearance to speak of.
        let near_home = (point.place_m[0] - world.home_m[0]).abs() + (point.place_m[1] - world.home_m[1]).abs() < 5.0;
        let clearance_m = point.place_m[2] - point.surface_m;
        if !near_home && clearance_m < path_clearance_m {
            (path_clearance_m, path_clearance_at_m) = (clearance_m, point.distance_m);
        }
    }

    let ways: Vec<WayHome> = returning
        .iter()
        .enumerate()
        .map(|(slot, (policy, way))| {
            way_home(world, &energy, &points, slot, *policy, way, &world.scenario.policies[*policy].name)
        })
        .collect();
    Survey {
        weakest,
        warnings: warnings(world, &ways),
        weakest_budget: budgets[weakest],
        margin_at_one_metre_db: link.at_one_metre_db(),
        with_sources_on,
        sensitivity_dbm: world.link.sensitivity_dbm(drawn.noise_rise_db),
        sections,
        no_return: no_return(&energy, &points, &returning),
        path_clearance_m,
        path_clearance_at_m,
        ways,
        duration_s: world.path.duration_s(),
        hover_power_w: energy.level.power_w(0.0),
        top_airspeed_mps: energy.top_airspeed_mps(),
        along,
    }
}

fn above_home(world: &World, place_m: [f64; 3]) -> [f64; 3] {
    [place_m[0], place_m[1], place_m[2] - world.home_m[2]]
}

fn section(world: &World, title: &str, place_m: [f64; 3], margin_db: f64, budget: &LossBudget) -> Section {
    let home_z_m = world.home_m[2];
    let span_m = crate::world::length(place_m, world.antenna_m);
    let points = ray_section(
        &world.grid,
        world.scenario.radio.control.frequency_hz,
        world.antenna_m,
        place_m,
        (span_m / 300.0).max(0.5),
    );
    let points = points
        .iter()
        .map(|p| SectionPoint {
            distance_m: p.distance_m,
            ground_m: p.ground_m - home_z_m,
            surface_m: p.surface_m - home_z_m,
            ray_m: p.ray_m - home_z_m,
            fresnel_m: p.fresnel_m,
        })
        .collect();
    let (diffraction_db, vegetation_db) = (budget.diffraction_db, budget.vegetation_db);
    Section { title: title.into(), points, margin_db, diffraction_db, vegetation_db }
}

fn no_return(energy: &HomeEnergy, points: &[PathEnergy], returning: &[(usize, Way)]) -> Vec<NoReturn> {
    returning
        .iter()
        .enumerate()
        .map(|(slot, (policy, way))| {
            let last = energy.last_point(points, slot, 0.0);
            let place_m = last.map_or_else(
                || {
                    points.iter().map(|p| p.place_m).fold(energy.home_m, |a, b| {
                        if crate::world::length(a, energy.home_m) >= crate::world::length(b, energy.home_m) {
                            a
                        } else {
                            b
                        }
                    })
                },
                |last| last.place_m,
            );
            let highest_z_m = points.iter().map(|p| p.place_m[2]).fold(f64::NEG_INFINITY, f64::max);
            let best = energy.best_speed(way, place_m, highest_z_m);
            NoReturn {
                policy: *policy,
                distance_m: last.map(|last| last.flown_m),
                place_m: last.map(|last| [last.place_m[0], last.place_m[1], last.place_m[2] - energy.home_m[2]]),
                best_speed_mps: best.map_or(f64::NAN, |best| best.ground_mps),
                headwind_mps: best.map_or(f64::NAN, |best| best.headwind_mps),
            }
        })
        .collect()
}

fn way_home(
    world: &World,
    energy: &HomeEnergy,
    points: &[PathEnergy],
    slot: usize,
    policy: usize,
    way: &Way,
    name: &str,
) -> WayHome {
    let home = world.home_m;
    let (mut clearance_m, mut from_m) = (f64::INFINITY, home);
    let (mut height_m, mut least_height_m) = (f64::NEG_INFINITY, f64::INFINITY);
    let mut highest_z_m = f64::NEG_INFINITY;
    let mut charge_needed_pct: f64 = 0.0;
    for point in points {
        let p = point.place_m;
        highest_z_m = highest_z_m.max(p[2]);
        let transit_z_m = energy.transit_z_m(way, p, highest_z_m);
        height_m = height_m.max(transit_z_m - home[2]);
        least_height_m = least_height_m.min(transit_z_m - home[2]);
        let far_m = ((p[0] - home[0]) * (p[0] - home[0]) + (p[1] - home[1]) * (p[1] - home[1])).sqrt();
        let steps = (far_m / world.grid.cell_m.max(1.0)).ceil().max(1.0) as usize;
        for k in 0..=steps {
            let share = k as f64 / steps as f64;
            let (x, y) = (p[0] + share * (home[0] - p[0]), p[1] + share * (home[1] - p[1]));
            let room_m = transit_z_m - world.grid.surface_m(x, y);
            if room_m < clearance_m {
                (clearance_m, from_m) = (room_m, above_home(world, p));
            }
        }
        charge_needed_pct = match point.home[slot] {
            Some(need) if !charge_needed_pct.is_nan() => charge_needed_pct.max(100.0 * need.charge),
            _ => f64::NAN,
        };
    }
    WayHome { policy, name: name.into(), clearance_m, from_m, height_m, least_height_m, charge_needed_pct }
}

/// What is odd about a scenario but allowed, and about the plan that it makes: for check, report and card alike.
fn warnings(world: &World, ways: &[WayHome]) -> Vec<String> {
    let scenario = &world.scenario;
    let mut lines = scenario.warnings.clone();

    // Who may never come down.
    let duration_s = world.path.duration_s();
    if let Some(video) = scenario.radio.video.as_ref().filter(|video| video.when_lost == VideoLost::Hold) {
        // Turned or climbed, he waits the same time again.
        let again = matches!(video.after_hold, AfterHold::Turn | AfterHold::Climb);
        let hovers_s = if again { 2.0 } else { 1.0 } * video.hold_s;
        if hovers_s > duration_s {
            lines.push(format!(
                "radio.video.hold_s = {}: without a picture the craft hovers for {hovers_s:.0} s with the link up, longer than \
                 the {duration_s:.0} s of the path; such a flight ends by its pack or not at all",
                video.hold_s
            ));
        }
    }
    for policy in &world.scenario.policies {
        let hold_s: f64 = policy
            .actions
            .iter()
            .map(|action| if let ActionKind::Hold { for_s } = action.kind { for_s } else { 0.0 })
            .sum();
        if hold_s >= MOST_S {
            lines.push(format!(
                "policy \"{}\" holds for {} s: a flight is watched for {} s from the loss, so this one ends by its pack or not at all",
                policy.name,
                grouped(hold_s as u64),
                grouped(MOST_S as u64)
            ));
        }
    }

    // Home needs a home point.
    let homeward: Vec<&str> = ways.iter().map(|way| way.name.as_str()).collect();
    if !scenario.sky.wait_for_fix && !homeward.is_empty() {
        lines.push(format!(
            "sky.wait_for_fix = false: a craft that takes off without a fix has no home point, without which no policy comes \
             home: {}",
            named(&homeward)
        ));
    }

    if let Some((name, top_m)) = tallest(world) {
        for way in ways.iter().filter(|way| way.least_height_m < top_m) {
            lines.push(format!(
                "policy \"{}\" comes home at {:.0} m above home, under the highest thing of the site: {name}, {top_m:.0} m above home",
                way.name, way.least_height_m
            ));
        }
    }

    if scenario.radio.telemetry.is_none() {
        let pilot = &scenario.pilot;
        for (key, heeded) in [
            ("pilot.turn_back_below_pct", pilot.turn_back_below_pct > 0.0),
            ("pilot.turn_back_margin_db", pilot.turn_back_margin_db >= 0.0),
            ("pilot.turn_back_charge_pct", pilot.turn_back_charge_pct > 0.0),
        ] {
            if heeded {
                lines.push(format!("{key} is stated, but there is no radio.telemetry: nothing warns the pilot"));
            }
        }
    }
    lines
}

/// The obstacle whose top is the highest of the site, and that top above home; `None` without any.
fn tallest(world: &World) -> Option<(String, f64)> {
    let grid = &world.grid;
    let top_m = |area: &Area| {
        let places = area.outline_m().into_iter().flatten().chain(std::iter::once(area.middle_m()));
        places.map(|[x, y]| grid.top_m(x, y)).fold(f64::NEG_INFINITY, f64::max)
    };
    let tops = world.scenario.site.obstacles.iter().map(|o| (o.name.clone(), top_m(&o.area) - world.home_m[2]));
    tops.max_by(|a, b| a.1.total_cmp(&b.1))
}

/// The site as drawn.
pub fn site_map(world: &World) -> SiteMap {
    let site = &world.scenario.site;
    let rings = |area: &Area| area.outline_m();
    let drawn = Drawn::central(&world.scenario);
    let terrain = site.terrain.as_ref().map_or_else(Vec::new, |terrain| {
        terrain
            .contours(terrain.contour_step_m())
            .into_iter()
            .flat_map(|(z_m, lines)| lines.into_iter().map(move |line| (z_m - world.home_m[2], line)))
            .collect()
    });
    SiteMap {
        extent_m: world.grid.extent_m(),
        home_m: site.home_m,
        pilot_m: world.scenario.pilot.place_m,
        sources_m: world.scenario.radio.interferers.iter().map(|s| [s.place_m[0], s.place_m[1]]).collect(),
        path_m: world.path.points_m().iter().map(|&p| above_home(world, p)).collect(),
        zones: site.zones.iter().map(|zone| (zone.name.clone(), zone.kind, rings(&zone.area))).collect(),
        obstacles: site.obstacles.iter().map(|o| (o.name.clone(), o.kind, rings(&o.area), o.height_m)).collect(),
        fence: site.fence.as_ref().map_or_else(Vec::new, rings),
        terrain,
        wind: SiteWind {
            speed_mps: drawn.wind_mps,
            from_rad: drawn.from_deg.to_radians(),
            height_m: world.scenario.weather.wind_height_m,
        },
        ceiling_m: site.ceiling_m,
        origin_deg: site.origin.map(|origin| (origin.lat_deg, origin.lon_deg)),
    }
}

/// How well each model is known, by stated rules: what the scenario measured or left to defaults.
pub fn knowledge(world: &World) -> Vec<Knowledge> {
    let s = &world.scenario;
    let stated = |prefix: &str| s.inputs.iter().filter(|row| row.key.starts_with(prefix) && row.line.is_some()).count();
    let link = match (&s.loss, s.site.terrain.is_some() || !s.site.obstacles.is_empty()) {
        (Loss::Cut { .. }, _) => ("middling", "the loss is forced; the link model only decides when it comes back"),
        (Loss::Modelled, true) => (
            "middling",
            "terrain and obstacles are given; shadowing, fading and on-board noise are typical values, not measured here",
        ),
        (Loss::Modelled, false) => {
            ("weak", "no terrain and no obstacles are given: what stands in the way is not in it")
        }
    };
    let fix = match (s.sky.almanac.is_some(), s.sky.multipath) {
        (_, Multipath::Walled) => ("weak", "among walls reflections rule, and their statistics are estimates"),
        (true, _) => ("middling", "satellites of a stated almanac; error budget from published figures"),
        (false, _) => {
            ("middling", "nominal constellations, representative of any day; error budget from published figures")
        }
    };
    let wind = if s.weather.wind_mps.is_exact() {
        ("weak", "one wind without a spread: intervals hold for that wind alone")
    } else {
        ("middling", "mean wind drawn per flight; turbulence from a published model for open terrain")
    };
    let people = if s.site.zones.iter().any(|zone| zone.people > 0.0) {
        ("middling", "head counts and hours as stated; nobody is counted outside the zones drawn")
    } else {
        ("weak", "no head counts are given")
    };
    let craft = if stated("craft.") >= 12 {
        ("middling", "most figures of the craft are stated")
    } else {
        ("weak", "most figures of the craft are class estimates; measured hover power and drag would replace them")
    };
    [("link", link), ("fix", fix), ("wind", wind), ("people", people), ("craft", craft)]
        .map(|(model, (grade, why))| Knowledge { model, grade, why: why.into() })
        .to_vec()
}
