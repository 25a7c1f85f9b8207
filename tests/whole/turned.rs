//! The same site turned, mirrored and moved, with the same luck turned along.

use crate::bench::{endings, fly};
use crate::plain::{self, ANY_TIME, CRAFT, NO_FIX, PILOT, SKY, STRONG, paired_alike, policy};
use lostlink::chance::Uncertain;
use lostlink::flight::{Ending, Flags, FlightOutcome, Headline, Tier};
use lostlink::radio::antenna::{Antenna, Polarisation};
use lostlink::scenario::{CutAt, Loss, Scenario};
use lostlink::site::{Area, Terrain};

/// What is done to a site: mirrored east for west or not, then turned about the origin against the clock, then moved.
#[derive(Debug, Clone, Copy)]
struct Motion {
    mirrored: bool,
    turned_deg: f64,
    moved_m: [f64; 2],
}

impl Motion {
    const fn turn(turned_deg: f64) -> Motion {
        Motion { mirrored: false, turned_deg, moved_m: [0.0; 2] }
    }

    const fn mirror() -> Motion {
        Motion { mirrored: true, turned_deg: 0.0, moved_m: [0.0; 2] }
    }

    const fn shift(moved_m: [f64; 2]) -> Motion {
        Motion { mirrored: false, turned_deg: 0.0, moved_m }
    }

    fn place(&self, place_m: [f64; 2]) -> [f64; 2] {
        let x = if self.mirrored { -place_m[0] } else { place_m[0] };
        let y = place_m[1];
        // Quarter turns without rounding.
        let (sin, cos) = match self.turned_deg.rem_euclid(360.0) {
            0.0 => (0.0, 1.0),
            90.0 => (1.0, 0.0),
            180.0 => (0.0, -1.0),
            270.0 => (-1.0, 0.0),
            other => libm::sincos(other.to_radians()),
        };
        [cos * x - sin * y + self.moved_m[0], sin * x + cos * y + self.moved_m[1]]
    }

    fn places(&self, places_m: &mut [[f64; 2]]) {
        for place in places_m {
            *place = self.place(*place);
        }
    }

    /// A compass direction, clockwise from north.
    fn compass_deg(&self, deg: f64) -> f64 {
        (if self.mirrored { -deg } else { deg }) - self.turned_deg
    }

    /// A number that turns clockwise: its sign in a mirror.
    fn hand(&self, value: f64) -> f64 {
        if self.mirrored { -value } else { value }
    }

    fn area(&self, area: &mut Area) {
        match area {
            Area::Polygon(points) => self.places(points),
            Area::Circle { centre_m, .. } => *centre_m = self.place(*centre_m),
            Area::Strip { line_m, .. } => self.places(line_m),
        }
    }

    /// Each draw of a distribution of directions, turned: the same share of it gives the direction turned.
    fn compass(&self, number: &Uncertain) -> Uncertain {
        let sign = if self.mirrored { -1.0 } else { 1.0 };
        match number {
            Uncertain::Exact(value) => Uncertain::Exact(self.compass_deg(*value)),
            Uncertain::Normal(mean, sd) => Uncertain::Normal(self.compass_deg(*mean), sign * sd),
            Uncertain::Uniform(low, high) => Uncertain::Uniform(self.compass_deg(*low), self.compass_deg(*high)),
            Uncertain::Choice(options) => {
                Uncertain::Choice(options.iter().map(|(value, weight)| (self.compass_deg(*value), *weight)).collect())
            }
            Uncertain::Within(inner, ..) => self.compass(inner),
            other => panic!("no law for directions spread like {other:?}"),
        }
    }

    fn antenna(&self, antenna: &mut Antenna) {
        antenna.axis[1] = self.hand(antenna.axis[1]);
        if self.mirrored {
            antenna.polarisation = match antenna.polarisation {
                Polarisation::RightCircular(db) => Polarisation::LeftCircular(db),
                Polarisation::LeftCircular(db) => Polarisation::RightCircular(db),
                Polarisation::Linear => Polarisation::Linear,
            };
        }
    }

    /// Ground on a square grid about the origin, turned by quarters.
    fn terrain(&self, terrain: &Terrain) -> Terrain {
        let count = terrain.columns;
        assert_eq!((count, terrain.west_m), (terrain.rows, terrain.south_m), "a square about the origin");
        let mut height_m = terrain.height_m.to_vec();
        let still = Motion { moved_m: [0.0; 2], ..*self };
        for row in 0..count {
            for column in 0..count {
                let at = |index: usize| terrain.west_m + terrain.cell_m * index as f64;
                let [x, y] = still.place([at(column), at(row)]);
                let index = |value: f64| ((value - terrain.west_m) / terrain.cell_m).round() as usize;
                height_m[index(y) * count + index(x)] = terrain.height_m[row * count + column];
            }
        }
        Terrain {
            west_m: terrain.west_m + self.moved_m[0],
            south_m: terrain.south_m + self.moved_m[1],
            height_m: height_m.into(),
            ..terrain.clone()
        }
    }

    /// The scenario so moved: every place, direction and sense of turning in it.
    fn scenario(&self, given: &Scenario) -> Scenario {
        let mut s = given.clone();
        let [west, south, east, north] = s.site.extent_m;
        let mut corners = [[west, south], [east, south], [east, north], [west, north]];
        self.places(&mut corners);
        let ends = |axis: usize| {
            corners.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), corner| {
                (low.min(corner[axis]), high.max(corner[axis]))
            })
        };
        let ((west, east), (south, north)) = (ends(0), ends(1));
        s.site.extent_m = [west, south, east, north];
        s.site.terrain = s.site.terrain.as_ref().map(|terrain| self.terrain(terrain));
        s.site.zones.iter_mut().for_each(|zone| self.area(&mut zone.area));
        s.site.obstacles.iter_mut().for_each(|obstacle| self.area(&mut obstacle.area));
        s.site.fence.iter_mut().for_each(|fence| self.area(fence));
        s.site.home_m = self.place(s.site.home_m);
        s.weather.from_deg = self.compass(&s.weather.from_deg);
        s.weather.veer_deg_per_100m = self.hand(s.weather.veer_deg_per_100m);
        let radio = &mut s.radio;
        self.antenna(&mut radio.control.pilot_antenna);
        self.antenna(&mut radio.control.craft_antenna);
        if let Some(video) = &mut radio.video {
            self.antenna(&mut video.pilot_antenna);
            self.antenna(&mut video.craft_antenna);
        }
        let lifted = |place: [f64; 3]| {
            let [x, y] = self.place([place[0], place[1]]);
            [x, y, place[2]]
        };
        radio.interferers.iter_mut().for_each(|source| source.place_m = lifted(source.place_m));
        s.sky.interference.iter_mut().for_each(|source| source.place_m = lifted(source.place_m));
        if self.mirrored {
            s.sky.heading_bias_deg = match &s.sky.heading_bias_deg {
                Uncertain::Exact(value) => Uncertain::Exact(-value),
                Uncertain::Normal(mean, sd) => Uncertain::Normal(-mean, -sd),
                other => panic!("no law for a bias spread like {other:?}"),
            };
            s.sky.heading_throttle_deg = Uncertain::Exact(-s.sky.heading_throttle_deg.central());
            s.sky.declination_deg = s.sky.declination_deg.map(|deg| -deg);
        }
        s.path.waypoints_m.iter_mut().for_each(|point| *point = lifted(*point));
        s.pilot.place_m = self.place(s.pilot.place_m);
        s.pilot.facing_deg = s.pilot.facing_deg.map(|deg| self.compass_deg(deg));
        if let Some(walk) = s.pilot.hands.as_mut().and_then(|hands| hands.walk.as_mut()) {
            walk.toward_deg = self.compass_deg(walk.toward_deg);
        }
        if let Loss::Cut { at: CutAt::Near { place_m, .. }, .. } = &mut s.loss {
            *place_m = self.place(*place_m);
        }
        s
    }

    fn end(&self, end_m: [f32; 3]) -> [f64; 3] {
        let [x, y, z] = end_m.map(f64::from);
        let [x, y] = self.place([x, y]);
        [x, y, z]
    }
}

fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum::<f64>().sqrt()
}

/// Flights that ended in another way, more than `within_m` from where the first ones ended, turned along, or more than
/// `within_s` earlier or later.
fn strayed(
    motion: Motion,
    plain: &[FlightOutcome],
    other: &[FlightOutcome],
    within_m: f64,
    within_s: f32,
) -> Vec<String> {
    let mut found = Vec::new();
    for (a, b) in plain.iter().zip(other) {
        let lost = |outcome: &FlightOutcome| outcome.loss.as_ref().map(|loss| loss.time_s);
        match (lost(a), lost(b)) {
            (None, None) if a.without_loss == b.without_loss => {}
            (Some(x), Some(y)) if (x - y).abs() < 1e-3 => {}
            (x, y) => {
                found.push(format!("flight {}: lost at {x:?} s and at {y:?} s", a.flight));
                continue;
            }
        }
        for (policy, (x, y)) in a.endings.iter().zip(&b.endings).enumerate() {
            let far = apart(motion.end(x.end_m), y.end_m.map(f64::from));
            if x.headline != y.headline || far > within_m || (x.time_to_end_s - y.time_to_end_s).abs() > within_s {
                found.push(format!(
                    "flight {} under policy {policy}: {:?} at {:?} after {} s and {:?} at {:?} after {} s, {far:.3} m",
                    a.flight, x.headline, x.end_m, x.time_to_end_s, y.headline, y.end_m, y.time_to_end_s
                ));
            }
        }
    }
    found
}

/// A site of all kinds: people beside a road, a pond, a garden, a wood, a barn, a fence.
const GROUND: &str = r#"
[site]
extent_m = [-400, -400, 400, 400]
cell_m = 1
people_per_km2 = 10
home_m = [-20, -10]

[site.fence]
polygon_m = [[-150, -140], [260, -120], [240, 180], [-160, 150]]

[[site.zone]]
name = "meadow"
kind = "people"
polygon_m = [[40, -20], [110, -30], [120, 40], [50, 30]]
people = 40

[[site.zone]]
name = "road"
kind = "road"
line_m = [[-400, 70], [0, 65], [400, 90]]
width_m = 8

[[site.zone]]
name = "pond"
kind = "water"
circle_m = [170, 20, 35]

[[site.zone]]
name = "garden"
kind = "property"
polygon_m = [[-120, -100], [-60, -110], [-50, -50], [-110, -40]]

[[site.obstacle]]
name = "wood"
kind = "trees"
polygon_m = [[0, 110], [90, 100], [100, 140], [10, 150]]
height_m = 14

[[site.obstacle]]
name = "barn"
kind = "building"
polygon_m = [[130, -80], [160, -85], [165, -60], [135, -55]]
height_m = 9
"#;

const WAY: &str = "[[60, 30, 30], [200, 60, 45], [180, -60, 40], [20, 120, 25], [-60, 20, 30]]";

fn drop_land_and_home() -> String {
    policy("drop", &["drop = {}"])
        + &policy("down", &["hold = { for_s = 4 }", "land = {}"])
        + &policy("home", &["return = { height = { up_m = 50 } }"])
}

/// Without a fix nothing looks at the compass but wind and site: what falls, and what drifts level with the wind, ends
/// turned along to the centimetre.
#[test]
fn what_falls_and_drifts_is_turned_along() {
    let weather = |turbulence: f64| {
        format!(
            "\n[weather]\nwind_mps = {{ lognormal = [5, 1.4] }}\nfrom_deg = {{ uniform = [0, 360] }}\n\
             veer_deg_per_100m = 12\nturbulence = {turbulence:?}\ndrift_mps = 0\ngust_mps = {{ uniform = [0, 4] }}\n"
        )
    };
    let base = |turbulence: f64| {
        crate::bench::read(&plain::text(&[
            GROUND,
            &weather(turbulence),
            CRAFT,
            STRONG,
            NO_FIX,
            &plain::path(WAY, 11.0, 2.0),
            PILOT,
            ANY_TIME,
            &drop_land_and_home(),
        ]))
    };
    let gusty = base(1.0);
    let plain = fly(&gusty, 200);
    let kinds = endings(&plain, 1).iter().map(|ending| ending.headline).collect::<std::collections::BTreeSet<_>>();
    assert!(kinds.len() >= 5, "a law over {kinds:?} says little");
    for motion in [Motion::turn(90.0), Motion::turn(180.0), Motion::turn(270.0)] {
        let found = strayed(motion, &plain, &fly(&motion.scenario(&gusty), 200), 0.02, 0.01);
        assert!(found.is_empty(), "{motion:?}: {found:#?}");
    }
    // Areas lie on a grid of metres: at odd angles a wall is met a step of the grid earlier or later, and a few ends at an
    // edge fall into another kind of ground.
    for motion in [Motion::turn(37.0), Motion { mirrored: false, turned_deg: -110.0, moved_m: [-310.0, 170.0] }] {
        let found = strayed(motion, &plain, &fly(&motion.scenario(&gusty), 200), 3.0, 1.5);
        assert!(found.len() <= 6, "{motion:?}: {} of 600, {found:#?}", found.len());
    }
    // Five kilometres.
    let motion = Motion::shift([4000.0, -3000.0]);
    let found = strayed(motion, &plain, &fly(&motion.scenario(&gusty), 200), 0.02, 0.01);
    assert!(found.is_empty(), "{motion:?}: {found:#?}");
    // Gusts across the wind have no mirrored twin with the same luck: mirrors are for steady wind.
    let steady = base(0.0);
    let plain = fly(&steady, 200);
    let found = strayed(Motion::mirror(), &plain, &fly(&Motion::mirror().scenario(&steady), 200), 0.02, 0.01);
    assert!(found.is_empty(), "mirrored: {found:#?}");
}

/// The link of a craft with a patch that looks back, a pilot who faces one way and whose body is in the way, a source in
/// spells, telemetry: lost at the same packet of the same flight wherever the site is turned. What a craft's own body takes has
/// a left and a right, so that a mirrored craft would be another one: it takes the same in every direction here.
#[test]
fn the_link_is_lost_at_the_same_packet() {
    let radio = r#"
[radio]
shadow_sigma_db = 0
rician_k_db = [3, 9]
craft_shadow_db = [3, 0]

[radio.control]
power_dbm = -30
noise_rise_db = 10
body_loss_db = 12
packet_rate_hz = 50
hop_channels = 40
hop_span_hz = 70e6

[radio.control.craft_antenna]
pattern = "patch"
axis = [-1, 0.4, 0]
polarisation = "right_circular"
axial_ratio_db = 3

[radio.control.pilot_antenna]
pattern = "patch"
axis = [1, 0.2, 0.1]
exponent = 2
polarisation = "left_circular"
axial_ratio_db = 3

[radio.telemetry]

[[radio.interferer]]
name = "stage"
place_m = [150, 60, 4]
eirp_dbm = -4
bandwidth_hz = 80e6
duty = 0.5
burst_s = 1.5
"#;
    let text = plain::text(&[
        GROUND,
        &plain::steady_wind(4.0, 250.0),
        CRAFT,
        radio,
        NO_FIX,
        &plain::path(WAY, 11.0, 4.0),
        "\n[pilot]\nplace_m = [-24, -16]\nfacing_deg = 60\non_regain = \"let_finish\"\n",
        &policy("drop", &["drop = {}"]),
    ]);
    let base = crate::bench::read(&text);
    let plain = fly(&base, 200);
    let lost = plain.iter().filter(|outcome| outcome.loss.is_some()).count();
    assert!((40..=200).contains(&lost), "{lost} of 200 links lost: a law over few");
    let early = plain.iter().filter(|outcome| outcome.loss.as_ref().is_some_and(|loss| loss.time_s < 10.0)).count();
    assert_eq!(early, 0, "lost while the nose looks where it did on the ground, which is not turned along");
    let quarters = [Motion::turn(90.0), Motion::turn(180.0), Motion::turn(270.0)];
    for motion in quarters.into_iter().chain([Motion::mirror(), Motion::shift([-3000.0, 4000.0])]) {
        let found = strayed(motion, &plain, &fly(&motion.scenario(&base), 200), 0.05, 0.02);
        // A packet whose chance lies within a rounding of its draw may go either way.
        assert!(
            found.len() <= 1,
            "{motion:?}: {} of 200, {lost} lost: {:#?}",
            found.len(),
            &found[..found.len().min(5)]
        );
    }
}

/// A link that is gone until the pilot has turned to the craft, on the spot or while he walks and aims: it comes back at the
/// same packet, and he flies home by eye the same way.
#[test]
fn what_the_pilot_does_for_the_link_is_turned_along() {
    let run = |hands: &str| {
        crate::bench::read(&plain::text(&[
            GROUND,
            &plain::steady_wind(3.0, 250.0),
            CRAFT,
            "\n[radio]\nshadow_sigma_db = 0\ncraft_shadow_db = [3, 0]\n\n[radio.control]\npower_dbm = -26\nnoise_rise_db = 10\n\
             body_loss_db = 25\n\n[radio.control.pilot_antenna]\npattern = \"patch\"\naxis = [1, 0.1, 0.1]\nexponent = 2\n",
            NO_FIX,
            &plain::path("[[0, 30, 20], [60, 160, 15], [-60, 170, 15]]", 8.0, 6.0),
            &format!(
                "\n[pilot]\nplace_m = [-24, -16]\nfacing_deg = 100\nunresponsive_share = 0\nlands_off_m = 0\n\
                 on_regain = \"fly_home\"\n\n[pilot.hands]\n{hands}\n"
            ),
            &policy("down", &["hold = { for_s = 25 }", "land = {}"]),
        ]))
    };
    for hands in [
        "turn_after_s = 3",
        "turn_after_s = { uniform = [3, 8] }\naim = true\naim_after_s = 5\nwalk_m = 25\nwalk_deg = 40\nwalk_after_s = 1",
    ] {
        let base = run(hands);
        let plain = fly(&base, 60);
        let count = |flag: Flags| {
            plain.iter().flat_map(|outcome| &outcome.endings).filter(|ending| ending.flags.has(flag)).count()
        };
        let lost = plain.iter().filter(|outcome| outcome.loss.is_some()).count();
        let back = count(Flags::PILOT_TOOK_OVER);
        assert!(lost > 50 && back > 40, "{hands}: {back} of {lost} links come back");
        for motion in [Motion { mirrored: true, turned_deg: 90.0, moved_m: [0.0; 2] }, Motion::shift([-3000.0, 4000.0])]
        {
            let found = strayed(motion, &plain, &fly(&motion.scenario(&base), 60), 0.1, 0.05);
            assert!(found.len() <= 1, "{motion:?}: {} of 60: {:#?}", found.len(), &found[..found.len().min(5)]);
        }
    }
}

/// A ridge, a wood on it and a link that goes behind it, turned by quarters and moved: the ground is turned on its grid.
#[test]
fn a_ridge_shadows_the_same_flights() {
    let half_m = 600.0;
    let hill = |x: f64, y: f64| {
        let ridge = 45.0 * libm::exp(-((x - 180.0 + 0.2 * y) / 45.0).powi(2));
        300.0 + ridge + 0.01 * (x + 2.0 * y)
    };
    let text = plain::text(&[
        "\n[site]\nextent_m = [-600, -600, 600, 600]\ncell_m = 2\nterrain_file = \"ground.asc\"\nceiling_m = 120\n\
         [[site.obstacle]]\nkind = \"trees\"\npolygon_m = [[150, -100], [220, -100], [220, 60], [150, 60]]\nheight_m = 8\n\
         [[site.zone]]\nkind = \"rough\"\npolygon_m = [[120, -300], [400, -300], [400, 300], [120, 300]]\n",
        &plain::steady_wind(4.0, 200.0),
        CRAFT,
        // A craft's own body has a left and a right: evenly, or a mirrored craft would be another one.
        "\n[radio]\nshadow_sigma_db = 0\ncraft_shadow_db = [3, 0]\n\n[radio.control]\npower_dbm = 6\n",
        NO_FIX,
        &plain::path("[[40, 0, 25], [180, 30, 75], [300, 40, 55], [420, 0, 40], [420, 60, 40]]", 9.0, 5.0),
        PILOT,
        &policy("drop", &["drop = {}"]),
        &policy("down", &["land = {}"]),
    ]);
    let base = plain::over_ground(&text, half_m, 20.0, hill);
    let plain = fly(&base, 120);
    let lost = plain.iter().filter(|outcome| outcome.loss.is_some()).count();
    assert!(lost >= 60, "{lost} of 120 links lost behind the ridge");
    let motions = [Motion::turn(90.0), Motion::turn(180.0), Motion::mirror(), Motion::shift([3000.0, -4000.0])];
    for motion in motions {
        let found = strayed(motion, &plain, &fly(&motion.scenario(&base), 120), 0.1, 0.05);
        assert!(found.len() <= 2, "{motion:?}: {} of 120: {:#?}", found.len(), &found[..found.len().min(5)]);
    }
}

/// Sticks that steer a speed by a fix and a wrong heading, what carries on by them, a way home and a carrying on that heed the
/// fence: nothing of it knows where north is, which hand is left, or how far off the origin lies. The place is exact; the noise
/// of the speed that the craft takes itself to have lies in axes of the Earth, and so does the wander of its heading in a
/// mirror: they move an end by metres, and on average not at all.
#[test]
fn what_flies_by_fix_and_heading_is_turned_along() {
    let (open, _) = GROUND.split_once("[[site.obstacle]]").expect("obstacles");
    // The fence is looked at once per step: at 0.1 s one look earlier or later moves a stop by 1 m, at 0.2 s by 2 m, more than is
    // allowed below.
    let base = |turbulence: f64| {
        crate::bench::read(&plain::text(&[
            "step_s = 0.1\n",
            open,
            &format!(
                "\n[weather]\nwind_mps = {{ lognormal = [5, 1.4] }}\nfrom_deg = {{ uniform = [0, 360] }}\n\
                 veer_deg_per_100m = 12\nturbulence = {turbulence:?}\ndrift_mps = 0\n"
            ),
            CRAFT,
            STRONG,
            &(SKY.replace("heading_bias_deg = 0", "heading_bias_deg = 12\ncourse_alignment = false")
                + "error_factor = 0\njumps_per_h = 0\n"),
            &plain::path(WAY, 11.0, 2.0),
            &format!("{PILOT}flies_by = \"position_hold\"\n"),
            ANY_TIME,
            &policy(
                "on",
                &["carry_on = { for_s = 8, otherwise = \"drop\" }\nguard.fence = { within_m = 20 }", "land = {}"],
            ),
            &policy("home", &["return = { height = { up_m = 50 } }\nguard.fence = { within_m = 70 }"]),
        ]))
    };
    const FLIGHTS: u32 = 1000;
    let check = |scenario: &Scenario, motions: &[Motion], most_m: f64| {
        let plain = fly(scenario, FLIGHTS);
        for policy in 0..2 {
            let gave_up = |ending: &&Ending| ending.flags.has(Flags::FELL_BACK);
            let gave_up = endings(&plain, policy).iter().filter(gave_up).count();
            assert!((70..930).contains(&gave_up), "policy {policy}: {gave_up} of {FLIGHTS} heed the fence");
        }
        for &motion in motions {
            let other = fly(&motion.scenario(scenario), FLIGHTS);
            // A craft whose stop lies just so may heed the fence or not: one to three endings in a hundred, by motion.
            let found = strayed(motion, &plain, &other, most_m, 1.5);
            assert!(
                found.len() <= 2 * FLIGHTS as usize / 25,
                "{motion:?}: {} of {} endings: {:#?}",
                found.len(),
                2 * FLIGHTS,
                &found[..found.len().min(5)]
            );
            for policy in 0..2 {
                let pairs: Vec<_> = endings(&plain, policy).into_iter().zip(endings(&other, policy)).collect();
                for axis in 0..2 {
                    let off = |(a, b): &(Ending, Ending)| motion.end(a.end_m)[axis] - f64::from(b.end_m[axis]);
                    let off_m: Vec<f64> = pairs.iter().map(off).filter(|off_m| off_m.abs() < most_m).collect();
                    let (mean_m, error_m) = plain::mean_of(&off_m);
                    assert!(
                        off_m.len() > 930 && mean_m.abs() < 3.5 * error_m + 0.02,
                        "{motion:?}, policy {policy}, axis {axis}: {mean_m} ± {error_m} m"
                    );
                }
            }
        }
    };
    let moved = Motion { mirrored: false, turned_deg: 90.0, moved_m: [3000.0, 4000.0] };
    check(&base(1.0), &[Motion::turn(180.0), moved], 3.0);
    check(&base(0.0), &[Motion::mirror()], 5.0);
}

fn group_counts(plain: &[Ending], other: &[Ending], is: impl Fn(Headline) -> bool) -> (usize, usize, usize) {
    let pairs = || plain.iter().zip(other).map(|(a, b)| (is(a.headline), is(b.headline)));
    let only = |first: bool| pairs().filter(|pair| *pair == (first, !first)).count();
    (only(true), only(false), pairs().filter(|pair| pair.0).count())
}

/// With a fix, shadows, drift of the wind and tolerances, luck lies in axes of the Earth: then rates are alike. The site
/// lies near the pole, where the satellites circle round it and the fix errs alike in every direction.
#[test]
fn with_a_fix_rates_are_turned_along() {
    let text = plain::text(&[
        &GROUND.replace("[site]\n", "[site]\nlat_deg = 89.8\nlon_deg = 10\n"),
        "\n[weather]\nwind_mps = { lognormal = [5, 1.4] }\nfrom_deg = { normal = [240, 30] }\ndrift_mps = 0.5\n",
        "\n[craft]\nmass_kg = 1.0\n",
        "\n[radio.control]\npower_dbm = 5\n",
        "\n[sky]\nwindow_s = 43200\nionosphere_m = 3\noutage_every_s = 300\noutage_for_s = 6\ndeclination_deg = 0\n\
         heading_bias_deg = { normal = [0, 15] }\n",
        &plain::path(WAY, 11.0, 2.0),
        PILOT,
        "\n[loss.cut]\nany_time = true\n",
        &policy("down", &["hold = { for_s = 4 }", "land = {}"]),
        &policy("home", &["return = { height = { up_m = 40 } }\nguard.fix = { satellites = 6, hdop = 2.5 }"]),
    ]);
    let base = crate::bench::read(&text);
    let flights = 1000;
    let plain = fly(&base, flights);
    for motion in [Motion::turn(90.0), Motion { mirrored: true, turned_deg: 200.0, moved_m: [150.0, 60.0] }] {
        let other = fly(&motion.scenario(&base), flights);
        let (both_plain, both_other): (Vec<_>, Vec<_>) =
            plain.iter().zip(&other).filter(|(a, b)| a.loss.is_some() && b.loss.is_some()).unzip();
        assert!(both_plain.len() > 900, "{} of {flights} lost in both", both_plain.len());
        for policy in 0..2 {
            let of = |all: &[&FlightOutcome]| all.iter().map(|outcome| outcome.endings[policy]).collect::<Vec<_>>();
            let (a, b) = (of(&both_plain), of(&both_other));
            for group in Tier::ALL {
                let (first, second, all) = group_counts(&a, &b, |headline| headline.tier() == group);
                assert!(
                    paired_alike(first, second),
                    "{motion:?}, policy {policy}: {group:?} in {all} flights, {first} only as it was, {second} only so"
                );
            }
            let more: Vec<f64> =
                a.iter().zip(&b).map(|(x, y)| f64::from(x.distance_home_m) - f64::from(y.distance_home_m)).collect();
            let (mean, error) = plain::mean_of(&more);
            assert!(
                mean.abs() < 3.5 * error + 0.05,
                "{motion:?}, policy {policy}: {mean} ± {error} m further from home"
            );
        }
    }
}

/// A fix without luck in its axes: what comes home by it comes down at home, wherever home is turned.
#[test]
fn a_way_home_takes_the_same_time_whatever_the_direction() {
    let text = plain::text(&[
        &plain::site(400.0, 2.0, ""),
        &plain::steady_wind(5.0, 300.0),
        CRAFT,
        STRONG,
        SKY,
        &plain::path("[[150, 80, 30], [220, -40, 45]]", 10.0, 3.0),
        PILOT,
        ANY_TIME,
        &policy("home", &["return = { height = { up_m = 50 } }"]),
    ]);
    let base = crate::bench::read(&text);
    let plain = endings(&fly(&base, 150), 0);
    for motion in [Motion::turn(90.0), Motion::turn(133.0), Motion::mirror()] {
        let other = endings(&fly(&motion.scenario(&base), 150), 0);
        assert_eq!(plain.len(), other.len());
        for (a, b) in plain.iter().zip(&other) {
            let far = apart(motion.end(a.end_m), b.end_m.map(f64::from));
            // What is left is the error of the fix, metres, and the time it takes to fly them.
            let later = f64::from(a.time_to_end_s - b.time_to_end_s);
            assert!(far < 12.0 && later.abs() < 3.0, "{motion:?}: {a:?} and {b:?}, {far} m, {later} s");
        }
        let later: Vec<f64> =
            plain.iter().zip(&other).map(|(a, b)| f64::from(a.time_to_end_s - b.time_to_end_s)).collect();
        let (mean, error) = plain::mean_of(&later);
        assert!(mean.abs() < 3.5 * error + 0.1, "{motion:?}: home {mean} ± {error} s later");
    }
}
