//! Summaries made by hand: the report is tested on them without flying anything.
#![allow(dead_code)]

pub mod figure;

use lostlink::flight::{Doing, Event, Flags, Happened, Headline, LossBudget, LossCause, Tier, Trace, TraceRow};
use lostlink::risk::choice::{Choice, SetAside};
use lostlink::risk::compare::Standing;
use lostlink::risk::faults::Faults;
use lostlink::risk::information::{AtValue, FlownAgain, Information, Turn};
use lostlink::risk::outcome::Concern;
use lostlink::risk::summary::*;
use lostlink::scenario::{Hard, InputRow, Matters};
use lostlink::site::{ObstacleKind, ZoneKind};
use lostlink::sky::{Geodetic, LocalFrame};

/// A small generator, good enough for made-up points.
pub struct Dice(pub u64);

impl Dice {
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// A share with a plausible interval (Wilson's, and the rule of 3.7 at the ends).
pub fn share(events: u64, of: u64) -> Share {
    if of == 0 {
        return Share { events, of, low: 0.0, high: 1.0 };
    }
    let (n, p, z) = (of as f64, events as f64 / of as f64, 1.96f64);
    let middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let low = if events == 0 { 0.0 } else { (middle - half).max(0.0) };
    let high = if events == of { 1.0 } else { (middle + half).min(1.0) };
    Share { events, of, low, high }
}

fn band(value: f64) -> QuantileBand {
    QuantileBand { value, low: Some(value * 0.97), high: Some(value * 1.03) }
}

fn measure(key: &'static str, label: &'static str, unit: &'static str, median: f64, spread: f64) -> Measure {
    let dots: Vec<f64> = (0..50)
        .map(|i| {
            let q = (i as f64 + 0.5) / 50.0;
            (median * (1.0 + spread * (q / (1.0 - q)).ln() * 0.4)).max(0.0)
        })
        .collect();
    Measure {
        key: key.into(),
        label: label.into(),
        unit: unit.into(),
        p05: band(dots[2]),
        p50: band(dots[25]),
        p95: band(dots[47]),
        dots,
    }
}

/// Counts that add up to `lost`: among people (some gently, some of the crew), road, left, property, struck, dry, water, fell
/// (some into trees), rough, clear, home, pilot, not settled.
pub fn policy(
    name: &str,
    words: &str,
    counts: [u64; 13],
    centre_m: [f64; 2],
    spread_m: f64,
    seed: u64,
) -> PolicySummary {
    let [among, road, left, property, struck, dry, water, fell, rough, clear, home, pilot, unsettled] = counts;
    let (gently, crew, trees) = (among / 3, among / 9, fell / 9);
    let hard = among - gently - crew;
    let counts = [
        hard,
        road,
        gently,
        crew,
        left,
        property,
        struck,
        dry,
        water,
        trees,
        fell - trees,
        rough,
        clear,
        home,
        pilot,
        unsettled,
    ];
    let lost: u64 = counts.iter().sum();
    let mut dice = Dice(seed);
    let headlines: Vec<(Headline, Share)> =
        Headline::ALL.iter().zip(counts).map(|(headline, events)| (*headline, share(events, lost))).collect();
    let tiers = Tier::ALL
        .iter()
        .map(|group| {
            let events = headlines.iter().filter(|(h, _)| h.tier() == *group).map(|(_, s)| s.events).sum();
            (*group, share(events, lost))
        })
        .collect();
    let mut ends = Vec::new();
    let shown = lost.min(MAP_ENDS as u64);
    for flight in 0..shown {
        let mut pick = dice.uniform() * lost as f64;
        let headline = Headline::ALL
            .into_iter()
            .zip(counts)
            .find(|(_, n)| {
                pick -= *n as f64;
                pick < 0.0
            })
            .map_or(Headline::AtHome, |found| found.0);
        let place = match headline {
            Headline::AtHome | Headline::PilotBack => [dice.normal() * 4.0, dice.normal() * 4.0],
            Headline::HardAmongOthers | Headline::AmongOthers => {
                [150.0 + dice.normal() * 18.0, 80.0 + dice.normal() * 14.0]
            }
            Headline::LeftArea => [260.0 + dice.normal().abs() * 40.0, 60.0 + dice.normal() * 60.0],
            Headline::OnRoad => [-160.0 + dice.normal() * 3.0, dice.normal() * 60.0],
            _ => [centre_m[0] + dice.normal() * spread_m, centre_m[1] + dice.normal() * spread_m * 0.7],
        };
        ends.push(EndPoint { flight: flight as u32, place_m: place.map(|v| v as f32), headline });
    }
    let contours = if lost < 200 {
        vec![]
    } else {
        [(0.5, 1.2), (0.9, 2.1), (0.99, 3.0)]
            .into_iter()
            .map(|(share, k)| Contour {
                share,
                rings_m: vec![
                    (0..72)
                        .map(|i| {
                            let angle = f64::from(i) * 5f64.to_radians();
                            [centre_m[0] + k * spread_m * angle.cos(), centre_m[1] + 0.7 * k * spread_m * angle.sin()]
                        })
                        .collect(),
                ],
            })
            .collect()
    };
    let count = |on: Concern| headlines.iter().filter(|(h, _)| on.counts(*h)).map(|(_, s)| s.events).sum::<u64>();
    let danger = count(Concern::Danger);
    let concerns = Concern::ALL.map(|on| (on, share(count(on), lost))).to_vec();
    PolicySummary {
        name: name.into(),
        words: words.into(),
        lost,
        headline_by_flag: Headline::ALL
            .iter()
            .zip(counts)
            .map(|(_, n)| Flags::NAMED.iter().enumerate().map(|(k, _)| n / (k as u64 + 2)).collect())
            .collect(),
        flags: flag_labels()
            .enumerate()
            .map(|(k, label)| (label.into(), share(lost / (3 * k as u64 + 4), lost)))
            .collect(),
        home: share(home + pilot, lost),
        headlines,
        tiers,
        concerns,
        met: Vec::new(),
        danger_bounds: (unsettled * 1000 > lost && lost > 0)
            .then(|| (danger as f64 / lost as f64, (danger + unsettled) as f64 / lost as f64)),
        danger_without_pilot: share(danger, lost.saturating_sub(pilot)),
        measures: vec![
            measure("distance_home_m", "distance from home at the end", "m", 20.0 + centre_m[0].abs(), 0.6),
            measure("time_to_end_s", "time from loss to the end", "s", 48.0, 0.4),
            measure("pack_left_pct", "pack left at the end", "%", 46.0, 0.12),
            measure("impact_energy_j", "impact energy", "J", 14.0, 0.9),
            measure("energy_below_j", "energy it could reach the ground with", "J", 14.0, 0.9),
        ],
        within_99_m: (lost >= 500).then_some(120.0 + centre_m[0].abs() * 2.0),
        circles_m: [30.0 + centre_m[0].abs(), 90.0 + centre_m[0].abs(), 120.0 + 2.0 * centre_m[0].abs()],
        contours,
        kernel_m: 8.4,
        ends,
        tracks_m: (0..8)
            .map(|k| {
                (0..=10)
                    .map(|i| {
                        let f = i as f32 / 10.0;
                        [
                            140.0 * (1.0 - f) + 6.0 * k as f32 * f,
                            90.0 * (1.0 - f) + (k as f32 - 4.0) * 9.0 * f * (1.0 - f),
                        ]
                    })
                    .collect()
            })
            .collect(),
        danger_by_moment: (0..12)
            .map(|k| {
                let of = lost / 12;
                let events = (of as f64 * 0.25 * (-((f64::from(k) - 7.0) / 2.0).powi(2)).exp()) as u64;
                (f64::from(k) / 12.0, (f64::from(k) + 1.0) / 12.0, share(events, of))
            })
            .collect(),
        harm: None,
    }
}

/// A flight told second by second.
pub fn trace(flight: u32, policy: &str, headline: &str, seed: u64) -> Trace {
    let mut dice = Dice(seed);
    let (lost_at, end) = (62.0, 128.0);
    let rows = (0..=(end * 10.0) as usize)
        .map(|k| {
            let t = k as f64 / 10.0;
            let doing = match t {
                t if t < 60.4 => Doing::Piloted,
                t if t < lost_at => Doing::Silent,
                t if t < 67.0 => Doing::Hold,
                t if t < 110.0 => Doing::Return,
                _ => Doing::Land,
            };
            let height_m = match t {
                t if t < 15.0 => 2.0 * t,
                t if t < 67.0 => 30.0,
                t if t < 77.0 => 30.0 + 3.0 * (t - 67.0),
                t if t < 110.0 => 60.0,
                t => (60.0 - 3.4 * (t - 110.0)).max(0.0),
            };
            let gap = (60.0..88.0).contains(&t);
            let fading_db = 3.0 + 2.5 * dice.normal().abs();
            let diffraction_db = if gap { 17.0 } else { 2.0 + (t * 0.1).sin().abs() * 2.0 };
            let budget = LossBudget {
                distance_db: 48.0 + 10.0 * (t / 60.0).min(1.0) - 6.0 * ((t - 80.0) / 30.0).clamp(0.0, 1.0),
                diffraction_db,
                vegetation_db: if gap { 4.0 } else { 0.5 },
                reflection_db: -1.5 + (t * 0.7).sin(),
                pattern_db: 2.0 + 1.5 * (t * 0.21).sin().abs(),
                polarisation_db: 1.0,
                body_db: 0.4,
                shadowing_db: 2.0 + 1.5 * (t * 0.05).sin(),
                fading_db,
                interference_db: 1.2,
            };
            let total = budget.distance_db + diffraction_db + fading_db + budget.pattern_db + budget.vegetation_db;
            let no_fix = (84.0..91.0).contains(&t);
            TraceRow {
                time_s: t,
                place_m: [140.0 * (t / 60.0).min(1.0) * (1.0 - ((t - 77.0) / 33.0).clamp(0.0, 1.0)), 40.0, height_m],
                height_m,
                surface_m: if (70.0..90.0).contains(&t) { 14.0 } else { 0.0 },
                speed_mps: 8.0,
                doing,
                quality_pct: if gap {
                    (100.0 - (t - 60.0) * 60.0).max(0.0)
                } else {
                    (97.0 + 2.0 * dice.normal()).clamp(0.0, 100.0)
                },
                margin_db: 84.0 - total,
                budget,
                telemetry_up: !gap,
                video_up: !(59.0..=92.0).contains(&t),
                satellites: if no_fix { 4 } else { 14 + (3.0 * (t * 0.05).sin()) as u32 },
                hdop: if no_fix { f64::NAN } else { 0.9 + 0.3 * (t * 0.08).sin().abs() },
                fix_error_m: if no_fix { f64::NAN } else { 2.0 },
                charge_pct: 95.0 - 0.38 * t,
                charge_home_pct: if t < 3.0 {
                    f64::NAN
                } else {
                    3.0 + 12.0 * (t / 60.0).min(1.0) * (1.0 - ((t - 77.0) / 33.0).clamp(0.0, 1.0))
                },
                cell_v: 3.7,
                wind_mps: 5.0 + dice.normal(),
                wind_to_mps: [5.0, 0.0],
                climb_mps: 0.0,
                believed_m: [f64::NAN; 2],
                believed_height_m: height_m,
                stored_home_m: [0.0; 2],
                heading_error_deg: 0.0,
                people_m: f64::NAN,
                people_zone: None,
                inside: true,
            }
        })
        .collect();
    Trace {
        flight,
        policy: policy.into(),
        every_s: 0.1,
        rows,
        silent_from_s: Some(60.4),
        lost_at_s: Some(lost_at),
        cause: Some(LossCause::Distance),
        loss: None,
        ending: None,
        events: [
            (60.4, "link silent"),
            (lost_at, "link declared lost"),
            (67.0, "held 5 s, turned for home"),
            (84.0, "position fix lost"),
            (91.0, "position fix regained"),
            (110.0, "home circle reached"),
            (127.6, "touched down"),
        ]
        .map(|(time_s, what): (f64, &'static str)| Happened { time_s, event: Event::Pilot(what) })
        .into(),
        headline: headline.into(),
    }
}

fn square(cx: f64, cy: f64, hx: f64, hy: f64) -> Vec<[f64; 2]> {
    vec![[cx - hx, cy - hy], [cx + hx, cy - hy], [cx + hx, cy + hy], [cx - hx, cy + hy]]
}

pub fn site() -> SiteMap {
    SiteMap {
        extent_m: [-500.0, -400.0, 600.0, 500.0],
        home_m: [0.0, 0.0],
        pilot_m: [-8.0, -12.0],
        // One on the site, one beyond it.
        sources_m: vec![[-70.0, -80.0], [4000.0, 0.0]],
        path_m: (0..=80)
            .map(|k| {
                let t = f64::from(k) / 80.0 * std::f64::consts::TAU;
                [70.0 + 120.0 * (t - 1.57).sin() + 50.0, 20.0 + 75.0 * (2.0 * t).sin(), 30.0]
            })
            .collect(),
        zones: vec![
            ("meadow".into(), ZoneKind::Clear, vec![square(40.0, 10.0, 180.0, 120.0)]),
            ("pond".into(), ZoneKind::Water, vec![square(40.0, -90.0, 45.0, 22.0)]),
            ("lane".into(), ZoneKind::Road, vec![square(-160.0, 0.0, 4.0, 180.0)]),
            ("picnic place".into(), ZoneKind::People, vec![square(150.0, 80.0, 30.0, 22.0)]),
            ("garden".into(), ZoneKind::Property, vec![square(-90.0, 100.0, 30.0, 24.0)]),
            ("scrub".into(), ZoneKind::Rough, vec![square(200.0, -70.0, 34.0, 40.0)]),
        ],
        obstacles: vec![
            ("oak wood".into(), ObstacleKind::Trees, vec![square(100.0, 40.0, 22.0, 16.0)], 14.0),
            ("barn".into(), ObstacleKind::Building, vec![square(-90.0, 96.0, 11.0, 7.0)], 8.0),
            ("wire".into(), ObstacleKind::Wire, vec![square(20.0, 120.0, 150.0, 0.6)], 12.0),
        ],
        fence: vec![vec![[-150.0, -130.0], [240.0, -140.0], [260.0, 130.0], [60.0, 170.0], [-140.0, 140.0]]],
        terrain: (0..4)
            .map(|k| {
                let r = 60.0 + 60.0 * f64::from(k);
                let line = (0..40)
                    .map(|i| {
                        [-150.0 + r * (f64::from(i) * 0.04).cos() * 2.0, -160.0 + r * (f64::from(i) * 0.04).sin() * 2.0]
                    })
                    .collect();
                (20.0 - 5.0 * f64::from(k), line)
            })
            .collect(),
        relief: Some(Relief {
            cell_m: 20.0,
            bright: (0..45).map(|j| (0..55).map(|i| f64::from((i * j) % 100) / 100.0).collect()).collect(),
        }),
        wind: SiteWind { speed_mps: 5.2, from_rad: 250f64.to_radians(), height_m: 10.0 },
        ceiling_m: 100.0,
        earth: Some(SiteOnEarth {
            frame: LocalFrame::new(Geodetic::from_deg(47.1234, 9.4567, 400.0)),
            home_amsl_m: Some(400.0),
            zones: vec![],
            obstacles: vec![],
            fence: None,
        }),
    }
}

fn pair(first: usize, second: usize, difference: f64, half: f64, standing: Standing) -> Pair {
    Pair {
        first,
        second,
        about: Concern::Danger,
        table: [60, 200, 40, 4700],
        difference,
        low: difference - half,
        high: difference + half,
        p_adjusted: Some(0.003),
        standing,
        apart: difference.abs() > half,
        flights_needed: (standing == Standing::Open).then_some(21_000),
        pairing_gain: 2.8,
    }
}

/// One policy left, the others set aside.
fn choice(policies: usize, left: usize) -> Choice {
    let aside = SetAside { by: left, on: Concern::Danger, difference: 0.03, low: 0.02, high: 0.04 };
    let others = (0..policies).rev().filter(|&policy| policy != left);
    Choice {
        left: vec![left],
        ranking: std::iter::once(left).chain(others).collect(),
        set_aside: (0..policies).map(|policy| (policy != left).then_some(aside)).collect(),
    }
}

/// A whole summary with four policies.
pub fn summary() -> Summary {
    let policies = vec![
        policy("drop", "stop the motors", [410, 12, 95, 40, 3, 0, 210, 3810, 300, 0, 120, 0, 0], [90.0, 20.0], 55.0, 3),
        policy(
            "hold, then land",
            "hold for 20 s, then land where it is",
            [120, 9, 40, 22, 60, 18, 160, 0, 700, 3471, 80, 320, 0],
            [95.0, 25.0],
            48.0,
            5,
        ),
        policy(
            "home at 30 m",
            "return home at 30 m above home or higher, starting down within 10 m of home",
            [22, 0, 31, 6, 402, 9, 4, 0, 60, 310, 3846, 310, 0],
            [30.0, 10.0],
            30.0,
            7,
        ),
        policy(
            "home at 60 m",
            "return home at 60 m above home or higher, starting down within 10 m of home",
            [11, 0, 36, 2, 12, 41, 3, 0, 44, 290, 4231, 322, 8],
            [20.0, 6.0],
            24.0,
            9,
        ),
    ];
    let map = site();
    let along = map
        .path_m
        .iter()
        .enumerate()
        .map(|(k, place)| {
            let far = (place[0] * place[0] + place[1] * place[1]).sqrt();
            AlongPath {
                distance_m: k as f64 * 9.0,
                time_s: k as f64 * 1.2,
                place_m: *place,
                surface_m: if (60.0..130.0).contains(&place[0]) { 14.0 } else { 0.0 },
                margin_db: 28.0 - far / 9.0 - if (20..34).contains(&k) { 12.0 } else { 0.0 },
                satellites: 15 - (k % 20) as u32 / 6,
                hdop: if k == 30 { f64::NAN } else { 0.8 + 0.01 * k as f64 },
                charge_pct: 96.0 - 0.6 * k as f64,
                charge_home_pct: 4.0 + far / 14.0,
            }
        })
        .collect();
    Summary {
        format: SUMMARY_FORMAT.into(),
        version: SUMMARY_VERSION,
        program_version: "0.1.0".into(),
        title: "Club field beside a road and a picnic place".into(),
        about: "If the control link goes while filming over the meadow, which policy endangers the fewest people?"
            .into(),
        invented: true,
        scenario_hash: "9f2c1d7a4b6e8f0011223344556677889900aabbccddeeff0123456789abcdef".into(),
        scenario_name: "scenarios/club-field.toml".into(),
        command: "lostlink assess scenarios/club-field.toml --flights 5000 --seed 7".into(),
        seed: 7,
        flights: 5000,
        flights_rule: "fixed".into(),
        step_s: 0.05,
        confidence: 0.95,
        matters: Matters {
            grave_points: 0.5,
            danger_points: 0.5,
            trespass_points: 2.0,
            craft_lost_points: 5.0,
            at_risk_points: 10.0,
            away_points: 10.0,
        },
        hard: Hard { others_j: 15.0, crew_j: 33.9 },
        zones: Vec::new(),
        loss: LossSummary {
            how: "modelled".into(),
            lost: share(4980, 5000),
            time_s: [21.0, 62.0, 96.0],
            distance_m: [60.0, 140.0, 182.0],
            causes: vec![
                ("trees in the way".into(), 3010),
                ("shadowing and fading".into(), 1400),
                ("distance".into(), 570),
            ],
            without_loss: vec![("at-home".into(), 20)],
            not_taken_off: 0,
        },
        faults: Faults::new(4),
        pairs: vec![
            pair(0, 1, 0.0732, 0.010, Standing::Worse),
            pair(0, 2, 0.0996, 0.010, Standing::Worse),
            pair(0, 3, 0.1016, 0.010, Standing::Worse),
            pair(1, 2, 0.0264, 0.007, Standing::Worse),
            pair(1, 3, 0.0284, 0.007, Standing::Worse),
            pair(2, 3, 0.0020, 0.0062, Standing::Open),
        ],
        verdict: Verdict {
            choice: choice(4, 3),
            decision: Decision::One,
            sentence:
                "Home at 60 m: no policy is better for others, and it loses fewer craft than home at 30 m (95 % sure)."
                    .into(),
            others: "Hold, then land endangers 28 more of 1,000 lost links; drop endangers 102 more.".into(),
            decided_by: "craft lost".into(),
        },
        conditions: vec![],
        over_conditions: None,
        information: None,
        what_if: vec![],
        along,
        sections: vec![Section {
            title: "weakest place of the path".into(),
            points: (0..=60)
                .map(|k| {
                    let d = f64::from(k) * 3.0;
                    let f = f64::from(k) / 60.0;
                    let ground = 4.0 * (f * 3.0).sin();
                    SectionPoint {
                        distance_m: d,
                        ground_m: ground,
                        surface_m: if (28..42).contains(&k) { ground + 14.0 } else { ground },
                        ray_m: 1.5 + f * 28.5,
                        fresnel_m: (0.125 * d * (180.0 - d) / 180.0).max(0.0).sqrt(),
                    }
                })
                .collect(),
            margin_db: 3.4,
            diffraction_db: 9.1,
            vegetation_db: 2.4,
        }],
        no_return: vec![
            NoReturn { policy: 2, distance_m: None, place_m: None, best_speed_mps: 12.0, headwind_mps: 4.1 },
            NoReturn {
                policy: 3,
                distance_m: Some(520.0),
                place_m: Some([180.0, 40.0, 30.0]),
                best_speed_mps: 13.0,
                headwind_mps: 6.3,
            },
        ],
        losses: Vec::new(),
        traces: vec![
            ("typical flight of home at 60 m".into(), trace(412, "home at 60 m", "landed at home", 11)),
            ("worst flight of home at 60 m".into(), trace(77, "home at 60 m", "left the permitted area", 13)),
        ],
        map,
        inputs: (0..30)
            .map(|k| InputRow {
                key: format!("craft.some_long_key_name_{k}_m"),
                value: if k % 4 == 0 { "{ normal = [5.0, 1.5] }".into() } else { format!("{}", k * 7) },
                line: (k % 3 != 0).then_some(12 + k),
                note: if k % 3 == 0 { "estimate".into() } else { "measured on the bench".into() },
            })
            .collect(),
        knowledge: vec![
            Knowledge {
                model: "link".into(),
                grade: "middling".into(),
                why: "published propagation models, no field readings of this site".into(),
            },
            Knowledge {
                model: "fix".into(),
                grade: "middling".into(),
                why: "nominal constellations, mask from the drawn obstacles".into(),
            },
            Knowledge {
                model: "wind".into(),
                grade: "weak".into(),
                why: "one mean wind and a textbook profile".into(),
            },
            Knowledge {
                model: "people".into(),
                grade: "weak".into(),
                why: "head counts are the user's estimate".into(),
            },
            Knowledge { model: "craft".into(), grade: "middling".into(), why: "generic class, not this craft".into() },
        ],
        warnings: vec!["the path passes within 6 m of `oak wood`".into()],
        order: None,
        policies,
    }
}

/// One stated number at which the choice turns, one that changes nothing.
fn flown_again() -> Information {
    let at = |value: f64, leads: usize| AtValue { value, lost: 250, endings: vec![[0; 6]; 4], leads: Some(leads) };
    let again = |key: &str, turns: Vec<Turn>| FlownAgain {
        key: key.into(),
        stated: true,
        others_in: None,
        assumed: 7.0,
        at: vec![at(3.5, 3), at(5.6, 3), at(8.8, 1), at(11.2, 1)],
        turns,
    };
    Information {
        screened: 53,
        inputs: vec![],
        stands: None,
        stands_error: None,
        again: vec![
            again("weather.wind_height_m", vec![Turn { above: 6.8, under: 7.1, below: 3, from_there: 1 }]),
            again("weather.gust_factor", vec![]),
        ],
        flights: 250,
    }
}

/// Everything there is: conditions, what-if bars, harm, a changed order, unsettled flights.
pub fn full() -> Summary {
    let mut s = summary();
    s.information = Some(flown_again());
    let n = s.policies.len();
    let condition = |name: &str, odds: Option<f64>, dangers: [u64; 4], best: usize| ConditionSummary {
        name: name.into(),
        odds,
        danger: dangers.iter().map(|d| share(*d, 5000)).collect(),
        craft_lost: dangers.iter().map(|d| share(d + 150, 5000)).collect(),
        lost: 5000,
        choice: Some(choice(4, best)),
        behind_points: dangers
            .iter()
            .map(|d| (*d as f64 - *dangers.iter().min().unwrap_or(&0) as f64) / 50.0)
            .collect(),
    };
    s.conditions = vec![
        condition("as stated", Some(0.5), [557, 191, 59, 49], 3),
        condition("strong wind", Some(0.2), [780, 420, 210, 330], 2),
        condition("weak link", Some(0.2), [560, 230, 88, 60], 3),
        condition("dusk, few satellites", Some(0.1), [557, 196, 140, 131], 3),
    ];
    s.over_conditions = Some(OverConditions {
        rule: "expected".into(),
        left: vec![2],
        set_aside: vec![None; 4],
        sentence: "\"home at 30 m\" comes first on average over 4 conditions, weighted by the odds given.".into(),
    });
    s.what_if = vec![
        WhatIf {
            key: "weather.wind_mps".into(),
            values: [2.1, 9.4],
            policy: 3,
            change_points: [-0.6, 2.3],
            interval_points: [[-0.9, -0.3], [1.7, 2.9]],
        },
        WhatIf {
            key: "radio.control.power_dbm".into(),
            values: [14.0, 20.0],
            policy: 3,
            change_points: [0.4, -0.2],
            interval_points: [[0.1, 0.7], [-0.5, 0.1]],
        },
        WhatIf {
            key: "craft.drag_area_m2".into(),
            values: [0.01, 0.03],
            policy: 3,
            change_points: [0.0, 0.1],
            interval_points: [[-0.2, 0.2], [-0.1, 0.3]],
        },
    ];
    for policy in &mut s.policies {
        policy.harm = Some(Harm {
            low_per_million: 0.4,
            mean_per_million: 6.0,
            high_per_million: 20.0,
            strike_area_m2: 1.9,
            above_lines: [0.8, 0.5, 0.2],
        });
    }
    for k in 0..n {
        if let Some(other) = s.pairs.get(k) {
            let exploratory = Pair { about: Concern::CraftLost, p_adjusted: None, ..other.clone() };
            s.pairs.push(exploratory);
        }
    }
    s
}

/// Many policies with long names.
pub fn many() -> Summary {
    let mut s = full();
    let names = [
        "hold for half a minute above the meadow, then come home below the wood at a low height",
        "returnhomeatahundredandtwentymetreswithoutanyspaceinitsname",
        "düsen & <größe> \"quoted\"",
    ];
    for (k, name) in names.iter().enumerate() {
        let mut more = s.policies[k].clone();
        more.name = (*name).into();
        s.policies.push(more);
    }
    for condition in &mut s.conditions {
        for k in 0..3 {
            condition.danger.push(condition.danger[k]);
            condition.craft_lost.push(condition.craft_lost[k]);
            condition.behind_points.push(condition.behind_points[k]);
        }
    }
    s.pairs.push(pair(4, 5, 0.0001, 0.003, Standing::Equal));
    s.pairs.push(pair(5, 6, -0.004, 0.003, Standing::Better));
    s
}

/// One policy, no event of danger, flat and nameless place, no conditions, nothing along the path, few flights.
pub fn bare() -> Summary {
    let mut s = summary();
    s.policies = vec![policy("land", "land where it is", [0, 0, 0, 0, 0, 0, 0, 0, 0, 60, 0, 0, 0], [5.0, 5.0], 3.0, 1)];
    s.pairs.clear();
    s.verdict = Verdict {
        choice: choice(1, 0),
        decision: Decision::Lone,
        sentence: "Land was the only policy; nothing to compare.".into(),
        others: String::new(),
        decided_by: "nothing".into(),
    };
    s.map = SiteMap {
        extent_m: [-200.0, -200.0, 200.0, 200.0],
        path_m: vec![[0.0, 0.0, 0.0], [50.0, 0.0, 20.0]],
        wind: SiteWind::default(),
        ceiling_m: 120.0,
        ..SiteMap::default()
    };
    s.policies[0].within_99_m = None;
    s.traces.clear();
    s.along.clear();
    s.sections.clear();
    s.no_return.clear();
    s.inputs.clear();
    s.warnings.clear();
    s.invented = false;
    s
}

/// The link never went.
pub fn never_lost() -> Summary {
    let mut s = bare();
    s.policies = vec![
        policy("land", "land where it is", [0; 13], [0.0, 0.0], 1.0, 1),
        policy("drop", "stop the motors", [0; 13], [0.0, 0.0], 1.0, 1),
    ];
    for policy in &mut s.policies {
        for measure in &mut policy.measures {
            measure.dots.clear();
            for band in [&mut measure.p05, &mut measure.p50, &mut measure.p95] {
                *band = QuantileBand { value: f64::NAN, low: None, high: None };
            }
        }
        policy.circles_m = [f64::NAN; 3];
        policy.danger_by_moment.clear();
    }
    s.loss.lost = share(0, 5000);
    s.loss.time_s = [f64::NAN; 3];
    s.loss.distance_m = [f64::NAN; 3];
    s.loss.causes.clear();
    s.verdict.sentence = "The link was never lost in 5,000 flights: nothing can be said about the policies.".into();
    s
}

pub fn heights() -> Heights {
    let rows = (0..25)
        .map(|k| {
            let h = 10.0 + 4.0 * f64::from(k);
            let danger = (20.0 + 700.0 * (-(h - 10.0) / 9.0).exp() + 0.012 * (h - 60.0).max(0.0).powi(2) * 2.0) as u64;
            let craft =
                danger + (900.0 * (-(h - 10.0) / 8.0).exp()) as u64 + (0.02 * (h - 50.0).max(0.0).powi(2)) as u64;
            HeightRow {
                height_m: h,
                speed_mps: None,
                danger: share(danger.min(2000), 2000),
                craft_lost: share(craft.min(2000), 2000),
                at_home: share(2000 - craft.min(2000), 2000),
                not_settled: share(0, 2000),
                above_ceiling: share(0, 2000),
                pack_left_pct: [38.0 - h * 0.1, 48.0 - h * 0.08, 56.0 - h * 0.07],
                time_s: [30.0 + h * 0.3, 44.0 + h * 0.4, 70.0 + h * 0.5],
            }
        })
        .collect();
    Heights {
        format: HEIGHTS_FORMAT.into(),
        version: SUMMARY_VERSION,
        title: "Wooded valley".into(),
        invented: true,
        program_version: "0.1.0".into(),
        scenario_hash: "d0b7f2f6c1a24e5b9c3d8e7f60718293a4b5c6d7e8f90a1b2c3d4e5f60718293".into(),
        policy: "home".into(),
        measured_from: "home".into(),
        seed: 7,
        flights: 2000,
        matters: summary().matters,
        faults: Faults::new(25),
        rows,
        tallest_m: 31.0,
        clearance_m: 10.0,
        first: None,
        ceiling_m: 100.0,
        interval_m: Some([46.0, 66.0]),
        below: "obstacles, and the link in the shadow of the ridge".into(),
        above: "wind that grows with height".into(),
        sentence: "Fly home between 46 and 66 m: lower strikes trees, higher drifts out of the area.".into(),
    }
}

pub fn sheet() -> lostlink::report::sheet::Sheet {
    use lostlink::report::sheet::{FieldTest, Setting, Sheet, SkyMoment};
    let test = |group: &str, how: &str, what: &str, predicted: &str, tolerance: &str| FieldTest {
        group: group.into(),
        how: how.into(),
        what: what.into(),
        predicted: predicted.into(),
        tolerance: tolerance.into(),
    };
    let setting = |what: &str, chosen: &str, delivered: Option<&str>| Setting {
        what: what.into(),
        chosen: chosen.into(),
        delivered: delivered.map(Into::into),
    };
    let s = summary();
    Sheet {
        title: s.title,
        about: s.about,
        invented: true,
        program_version: s.program_version,
        seed: 7,
        scenario_hash: s.scenario_hash,
        command: "lostlink sheet scenarios/club-field.toml".into(),
        opening: "Failsafe to set: home at 60 m".into(),
        policy: "home at 60 m".into(),
        policy_words: s.policies[3].words.clone(),
        verdict: s.verdict.sentence,
        changes: vec![
            "The margin around the bench (stated as 7 m): up to 6.8 m \"home\" comes first, from 7 m \"land\".".into(),
        ],
        danger: share(49, 5000),
        settings: vec![
            setting("action", "return home", Some("stop the motors")),
            setting("height of the way home", "at least 60 m above home", Some("15 m above home")),
            setting("wait before the link is called lost", "1.5 s", Some("1.5 s")),
            setting("least satellites", "8", None),
        ],
        delivered_name: Some("stop the motors".into()),
        height_m: Some([46.0, 66.0]),
        height_why: "Below: oak wood, 14 m, and the link in its shadow. Above: wind.".into(),
        no_return: "home can be reached from everywhere on the path in the stated wind.".into(),
        wind: "above 9 m/s at 10 m height, hold then land endangers fewer people.".into(),
        least_satellites: 8,
        greatest_hdop: 2.0,
        forecast: (0..6)
            .map(|k| SkyMoment {
                time: format!("09:{}0 UTC", k),
                satellites: 14 + k % 3,
                hdop: 0.9 + 0.05 * f64::from(k),
            })
            .collect(),
        fades: vec![
            "behind the oak wood, 140 to 180 m from the pilot: mean margin 3 dB".into(),
            "far turn: mean margin 8 dB".into(),
        ],
        underneath: vec!["picnic place, about 6 people at midday".into(), "lane, cars now and then".into()],
        bystanders: vec![
            "If it loses its link it climbs and comes back here by itself.".into(),
            "Please stay behind this line until the propellers stand still.".into(),
        ],
        first: vec![],
        cautions: vec!["The path passes within 6 m of the oak wood.".into()],
        tests: vec![
            test(
                "On the bench, propellers removed",
                "Arm, then switch the transmitter off",
                "time until the craft says that the link is lost",
                "1.5 s",
                "±0.3 s",
            ),
            test(
                "On the bench, propellers removed",
                "Switch the transmitter on again",
                "time until control is back",
                "2.0 s",
                "±0.5 s",
            ),
            test("Range walk, reduced power", "Walk to 30 m in the open", "signal at the receiver", "−71 dBm", "±6 dB"),
            test("Range walk, reduced power", "Walk to 60 m in the open", "signal at the receiver", "−77 dBm", "±6 dB"),
            test("Range walk, reduced power", "Walk behind the oak wood", "link quality", "80 %", "±20 %"),
            test(
                "Home point",
                "Wait for the fix, look at the home point on the map",
                "distance from the true spot",
                "under 3 m",
                "+2 m",
            ),
            test("Hold", "Hover at 5 m for one minute, sticks free", "drift", "under 2 m", "+2 m"),
        ],
    }
}

/// A reach with a shadow in the north-east.
pub fn reach() -> lostlink::plan::reach::Reach {
    use lostlink::plan::reach::*;
    let (columns, rows, spacing) = (61, 45, 10.0);
    let (west_m, south_m) = (-250.0, -220.0);
    let margin = |x: f64, y: f64| {
        let d = ((x + 8.0).powi(2) + (y + 12.0).powi(2)).sqrt().max(5.0);
        let angle = y.atan2(x);
        44.0 - 16.0 * (d / 10.0).log10() - if d > 110.0 && (0.2..0.9).contains(&angle) { 18.0 } else { 0.0 }
    };
    let chance = |margin: f64| (1.0 / (1.0 + ((margin - 4.0) * 0.6).exp())).clamp(LEAST_CHANCE, 1.0);
    let map = |height| {
        let mut margins = Vec::new();
        for row in 0..rows {
            for column in 0..columns {
                margins.push(margin(west_m + spacing * column as f64, south_m + spacing * row as f64) as f32);
            }
        }
        let loss_chance = margins.iter().map(|m| chance(f64::from(*m)) as f32).collect();
        ReachMap { height, west_m, south_m, spacing_m: [spacing; 2], columns, rows, margin_db: margins, loss_chance }
    };
    let along = (0..=60)
        .map(|k| {
            let flown_m = 5.0 * f64::from(k);
            let margin_db = margin(flown_m * 0.8, flown_m * 0.5);
            PathReach {
                flown_m,
                place_m: [flown_m * 0.8, flown_m * 0.5, 30.0],
                ground_m: 0.0,
                surface_m: 0.0,
                margin_db,
                loss_chance: chance(margin_db),
                clearance: 0.4,
            }
        })
        .collect();
    Reach {
        title: "Club field".into(),
        antenna_m: [-8.0, -12.0, 1.6],
        needed_margin_db: 10.0,
        stay_s: 10.0,
        maps: vec![map(MapHeight::AboveGroundM(30.0)), map(MapHeight::LevelM(60.0))],
        directions: (0..16)
            .map(|k| DirectionReach {
                bearing_deg: 22.5 * f64::from(k),
                from_m: 5.0,
                unbroken_m: if k % 3 == 0 { 220.0 } else { 120.0 },
                farthest_m: 200.0,
                edge_m: 220.0,
            })
            .collect(),
        along,
        weakest: (0..=40)
            .map(|k| {
                let d = 5.0 * f64::from(k);
                RayPoint {
                    distance_m: d,
                    ground_m: 0.0,
                    surface_m: if (18..24).contains(&k) { 16.0 } else { 0.0 },
                    ray_m: 1.6 + 0.14 * d,
                    fresnel_m: (0.125 * d * (200.0 - d) / 200.0).max(0.0).sqrt(),
                }
            })
            .collect(),
    }
}
