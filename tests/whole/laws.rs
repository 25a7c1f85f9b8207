//! The same thing said twice: a site raised, powers and units shifted, policies of one meaning.

use crate::bench::{endings, fly, outcomes, read};
use crate::plain::{self, ANY_TIME, CRAFT, NO_FIX, PILOT, SKY, STRONG, policy};
use lostlink::flight::{Ending, Flags, FlightOutcome};
use lostlink::risk::assess::condition_worlds;
use lostlink::scenario::Scenario;
use lostlink::world::World;

/// Two runs that say the same: losses at the same packet, endings of the same kind within metres and seconds.
fn assert_same(what: &str, a: &[FlightOutcome], b: &[FlightOutcome], within: [f32; 2]) {
    assert_eq!(a.len(), b.len());
    for (x, y) in a.iter().zip(b) {
        let lost = |outcome: &FlightOutcome| outcome.loss.as_ref().map(|loss| loss.time_s);
        assert_eq!(lost(x), lost(y), "{what}: flight {}", x.flight);
        for (x, y) in x.endings.iter().zip(&y.endings) {
            assert_alike(what, x, y, within);
        }
    }
}

fn assert_alike(what: &str, x: &Ending, y: &Ending, [within_m, within_s]: [f32; 2]) {
    let far = x.end_m.iter().zip(y.end_m).map(|(a, b)| (a - b) * (a - b)).sum::<f32>().sqrt();
    let later = (x.loss_time_s - y.loss_time_s + (x.time_to_end_s - y.time_to_end_s)).abs();
    assert!(
        x.headline == y.headline && far <= within_m && later <= within_s,
        "{what}: {far} m and {later} s apart, {x:?} and {y:?}"
    );
}

/// The air at a height of the standard atmosphere, °C and Pa.
///
/// # Source
/// ISO 2533: T = 288.15 − 0.0065 H, p = 101 325 (T/288.15)^5.25588.
fn standard_air(height_m: f64) -> (f64, f64) {
    let kelvin = 288.15 - 0.0065 * height_m;
    (kelvin - 273.15, 101_325.0 * libm::pow(kelvin / 288.15, 5.255_88))
}

/// A slope with a wood, raised as a whole together with the sea's distance below it.
fn slope(raised_m: f64, temperature_c: f64, pressure_pa: f64, sky: &str) -> Scenario {
    let text = plain::text(&[
        &format!(
            "\n[site]\nlat_deg = 47\nlon_deg = 8\nextent_m = [-500, -500, 500, 500]\ncell_m = 2\n\
             terrain_file = \"ground.asc\"\nheight_amsl_m = {:?}\nceiling_m = 150\n\
             [[site.obstacle]]\nkind = \"trees\"\ncircle_m = [150, 60, 40]\nheight_m = 12\n",
            200.0 + raised_m
        ),
        &format!(
            "\n[weather]\nwind_mps = {{ lognormal = [4, 1.4] }}\nfrom_deg = {{ uniform = [0, 360] }}\n\
             tendency_pa_per_h = 0\ntemperature_c = {temperature_c:?}\npressure_pa = {pressure_pa:?}\n"
        ),
        CRAFT,
        "\n[radio.control]\npower_dbm = 0\n",
        sky,
        &plain::path("[[60, 20, 40], [200, 90, 60], [300, 0, 50]]", 10.0, 3.0),
        PILOT,
        ANY_TIME,
        &policy("drop", &["drop = {}"]),
        &policy("down", &["hold = { for_s = 3 }", "land = {}"]),
        &policy("home", &["return = { height = { up_m = 60 } }"]),
    ]);
    plain::over_ground(&text, 500.0, 20.0, |x, y| 210.0 + raised_m + 0.08 * x - 0.03 * y)
}

/// A site 400 m higher above the sea, under the standard temperature there and a pressure that makes the air as dense as
/// it was: nothing changes. Under the pressure as it was, the thinner air alone tells.
#[test]
fn a_raised_site_changes_nothing_but_the_air() {
    let [low_m, high_m] = [200.0, 600.0];
    let ((low_c, low_pa), (high_c, high_pa)) = (standard_air(low_m), standard_air(high_m));
    // Sea-level pressure that gives the lower site's density at the higher one, whose air is colder.
    let same_pa = 101_325.0 * (low_pa / (low_c + 273.15)) / (high_pa / (high_c + 273.15));
    let below = fly(&slope(0.0, low_c, 101_325.0, SKY), 100);
    let above = fly(&slope(400.0, high_c, same_pa, SKY), 100);
    assert!(below.iter().filter(|outcome| outcome.loss.is_some()).count() > 90);
    assert_same("raised in air as dense", &below, &above, [0.3, 0.3]);

    // 5 % of density less after 400 m: what falls meets the ground faster, as the terminal speed's root of it.
    let thinner = fly(&slope(400.0, high_c, 101_325.0, SKY), 100);
    let (a, b) = (endings(&below, 0), endings(&thinner, 0));
    let share = high_pa / (high_c + 273.15) / (low_pa / (low_c + 273.15));
    assert!((0.955..0.97).contains(&share), "{share}");
    // Those whose link was lost at the same moment, high up: cut, not worn down by the radio.
    let high = |x: &Ending| x.end_m[2] < x.loss_m[2] - 30.0;
    let pairs: Vec<_> =
        a.iter().zip(&b).filter(|(x, y)| high(x) && (x.loss_time_s - y.loss_time_s).abs() < 0.05).collect();
    assert!(pairs.len() > 40, "{} falls", pairs.len());
    for (x, y) in pairs {
        let faster = f64::from(y.impact_speed_mps / x.impact_speed_mps);
        let most = (1.0 / share).sqrt();
        assert!(faster > 1.0 && faster < most, "{faster} of at most {most}: {x:?} {y:?}");
    }
}

/// The height stated for z = 0 counts with or without a place on Earth.
#[test]
fn a_stated_height_counts_without_a_place_on_earth() {
    let with = |place: &str| {
        let text = plain::text(&[
            &plain::site(300.0, 2.0, &format!("height_amsl_m = 2000\n{place}")),
            &plain::steady_wind(3.0, 250.0),
            CRAFT,
            STRONG,
            NO_FIX,
            &plain::path("[[0, 0, 100], [100, 0, 100]]", 8.0, 0.0),
            PILOT,
            ANY_TIME,
            &policy("drop", &["drop = {}"]),
        ]);
        fly(&read(&text), 20)
    };
    assert_same("2,000 m above the sea", &with("lat_deg = 45\nlon_deg = 0"), &with(""), [0.02, 0.01]);
}

/// Flat ground as a file of one height is flat ground.
#[test]
fn a_level_ground_file_is_level_ground() {
    let text = |file: &str| {
        plain::text(&[
            &plain::site(400.0, 2.0, file),
            &plain::steady_wind(5.0, 250.0),
            CRAFT,
            "\n[radio]\nshadow_sigma_db = 0\n\n[radio.control]\npower_dbm = 20\n",
            SKY,
            &plain::path("[[40, 0, 30], [200, 30, 40]]", 10.0, 2.0),
            PILOT,
            ANY_TIME,
            &policy("drop", &["drop = {}"]),
            &policy("down", &["land = {}"]),
            &policy("home", &["return = { height = { up_m = 40 } }"]),
        ])
    };
    let bare = fly(&read(&text("")), 60);
    let filed = plain::over_ground(&text("terrain_file = \"ground.asc\"\nheight_amsl_m = 0"), 400.0, 20.0, |_, _| 0.0);
    assert_same("a file of zeros", &bare, &fly(&filed, 60), [0.05, 0.02]);
}

const WEAK_WAY: &str = "[[40, 0, 30], [400, 60, 50], [650, -80, 45], [200, -60, 30]]";

/// A link at the end of its reach over a field.
fn weak(radio: &str) -> Vec<FlightOutcome> {
    let text = plain::text(&[
        &plain::site(900.0, 5.0, ""),
        &plain::steady_wind(4.0, 200.0),
        CRAFT,
        radio,
        NO_FIX,
        &plain::path(WEAK_WAY, 12.0, 1.0),
        PILOT,
        &policy("drop", &["drop = {}"]),
    ]);
    fly(&read(&text), 150)
}

fn losses(outcomes: &[FlightOutcome]) -> Vec<Option<f64>> {
    outcomes.iter().map(|outcome| outcome.loss.as_ref().map(|loss| loss.time_s)).collect()
}

/// Flights lost at another packet, or in one run alone.
fn differing(a: &[FlightOutcome], b: &[FlightOutcome]) -> usize {
    losses(a).iter().zip(losses(b)).filter(|(a, b)| **a != *b).count()
}

/// Twice the power under twice the noise, and a decibel of the antenna for one of the set, lose the same packets: of hops
/// that fade apart, and of hops that fade together.
#[test]
fn power_noise_and_antennas_trade_decibel_for_decibel() {
    for hops in ["hop_channels = 40\nhop_span_hz = 70e6", "hop_channels = 1\nhop_span_hz = 0"] {
        let radio = |power_dbm: f64, more: &str| {
            format!(
                "\n[radio]\nshadow_sigma_db = 2.5\n\n[radio.control]\npower_dbm = {power_dbm:?}\nbody_loss_db = 10\n\
                 fsk = {{ bit_rate_bps = 250e3 }}\n{hops}\n{more}\n"
            )
        };
        let power_dbm = -4.0;
        let base = weak(&radio(power_dbm, "noise_rise_db = 1"));
        let lost = losses(&base).iter().flatten().count();
        assert!((15..=149).contains(&lost), "{hops}: {lost} of 150 links lost");
        let double = 10.0 * libm::log10(2.0);
        let feeds = "noise_rise_db = 1\n[radio.control.pilot_antenna]\nfeed_loss_db = 1.5";
        for (what, other) in [
            ("twice both", weak(&radio(power_dbm + double, &format!("noise_rise_db = {:?}", 1.0 + double)))),
            (
                "noise figure",
                weak(&radio(power_dbm + double, &format!("noise_rise_db = 1\nnoise_figure_db = {:?}", 6.0 + double))),
            ),
            ("the pilot's cable", weak(&radio(power_dbm + 1.0, feeds))),
            ("the craft's cable", weak(&radio(power_dbm + 1.0, &feeds.replace("pilot", "craft")))),
        ] {
            // A packet whose chance lies within a rounding of its draw may go either way.
            let differ = differing(&base, &other);
            assert!(differ <= 1, "{hops}, {what}: {differ} of {lost} losses differ");
        }
        // And it is no law of anything: three decibels of power alone lose fewer.
        let stronger = losses(&weak(&radio(power_dbm + 3.0, "noise_rise_db = 1"))).iter().flatten().count();
        assert!(stronger < lost, "{hops}: {stronger} of {lost}");
    }
}

/// A source twice as strong, with the set twice as strong and the noise twice as great, takes the same packets.
#[test]
fn a_source_scales_with_the_rest() {
    let double = 10.0 * libm::log10(2.0);
    let radio = |more: f64, source: f64| {
        format!(
            "\n[radio]\nshadow_sigma_db = 0\n\n[radio.control]\npower_dbm = {:?}\nnoise_rise_db = {:?}\n\
             fsk = {{ bit_rate_bps = 250e3 }}\n\n[[radio.interferer]]\nplace_m = [500, 100, 5]\neirp_dbm = {:?}\n\
             frequency_hz = 2.44e9\nbandwidth_hz = 80e6\nduty = 0.6\nburst_s = 2\n",
            16.0 + more,
            1.0 + more,
            20.0 + source
        )
    };
    let run = |more: f64, source: f64| weak(&radio(more, source));
    let (base, twice) = (run(0.0, 0.0), run(double, double));
    let lost = losses(&base).iter().flatten().count();
    assert!((30..=120).contains(&lost), "{lost} of 150 links lost");
    assert!(differing(&base, &twice) <= 1, "{} of {lost} losses differ", differing(&base, &twice));
    // It is the source that takes them: by itself it has to be no stronger than it is.
    let count = |outcomes: &[FlightOutcome]| losses(outcomes).iter().flatten().count();
    assert!(count(&run(double, 0.0)) < lost && count(&run(0.0, double)) > lost && count(&run(0.0, -30.0)) < lost / 4);
}

/// Numbers as distributions of no width, a strip as a thin polygon, a disc as many corners, a place said as a share of the
/// path: the same endings.
#[test]
fn one_input_said_two_ways_gives_the_same_endings() {
    let said = |number: &dyn Fn(f64) -> String, strip: &str, cut: &str| {
        let text = plain::text(&[
            &plain::site(
                300.0,
                1.0,
                &format!(
                    "[[site.zone]]\nkind = \"road\"\n{strip}\n[[site.obstacle]]\nkind = \"building\"\n\
                     polygon_m = [[60, 60], [90, 60], [90, 90], [60, 90]]\nheight_m = 15\n"
                ),
            ),
            &format!(
                "\n[weather]\nwind_mps = {}\nfrom_deg = {}\nturbulence = {}\ngust_mps = {}\ntemperature_c = {}\n\
                 tendency_pa_per_h = {}\n",
                number(6.0),
                number(230.0),
                number(1.0),
                number(2.0),
                number(17.0),
                number(30.0)
            ),
            &format!(
                "\n[craft]\nmass_kg = {}\nlinear_drag_per_s = {}\ndrag_area_m2 = {}\nfall_drag_area_m2 = {}\n\
                 [craft.battery]\nhealth = {}\nresistance_ohm = {}\ncharge_pct = {}\n",
                number(1.1),
                number(0.2),
                number(0.02),
                number(0.03),
                number(0.9),
                number(0.05),
                number(98.0)
            ),
            &format!(
                "\n[radio]\nshadow_sigma_db = {}\n\n[radio.control]\npower_dbm = {}\nnoise_rise_db = {}\nbody_loss_db = {}\n",
                number(2.0),
                number(20.0),
                number(1.0),
                number(12.0)
            ),
            &format!(
                "\n[sky]\nown_noise_db = {}\npowered_before_s = {}\nheading_bias_deg = {}\n",
                number(3.0),
                number(200.0),
                number(4.0)
            ),
            &plain::path("[[0, 0, 40], [160, 40, 40]]", 10.0, 0.0),
            &format!("\n[pilot]\nreaction_s = {}\n", number(2.0)),
            cut,
            &policy("drop", &["drop = {}"]),
            &policy("down", &["hold = { for_s = 2 }", "land = {}"]),
            &policy("home", &["return = { height = { up_m = 45 } }"]),
        ]);
        fly(&read(&text), 80)
    };
    let exact = |value: f64| format!("{value:?}");
    let strip = "line_m = [[100, -300], [100, 300]]\nwidth_m = 10";
    let base = said(&exact, strip, ANY_TIME);
    assert!(endings(&base, 0).iter().any(|ending| ending.headline == lostlink::flight::Headline::OnRoad));
    let uniform = |value: f64| format!("{{ uniform = [{value:?}, {value:?}] }}");
    let normal = |value: f64| format!("{{ normal = [{value:?}, 0] }}");
    let choice = |value: f64| format!("{{ choice = [[{value:?}, 1], [{value:?}, 2]] }}");
    let triangular = |value: f64| format!("{{ triangular = [{value:?}, {value:?}, {value:?}] }}");
    let kinds: [(&str, &dyn Fn(f64) -> String); 4] =
        [("uniform", &uniform), ("normal", &normal), ("choice", &choice), ("triangular", &triangular)];
    for (what, number) in kinds {
        assert_same(what, &base, &said(number, strip, ANY_TIME), [0.0, 0.0]);
    }
    // The strip's round ends lie outside the site.
    let polygon = "polygon_m = [[95, -300], [105, -300], [105, 300], [95, 300]]";
    assert_same("a strip as a polygon", &base, &said(&exact, polygon, ANY_TIME), [0.0, 0.0]);
    let modelled = "\n[loss]\nmodelled = false\n\n[loss.cut]\nany_time = true\n";
    assert_same("modelled = false", &base, &said(&exact, strip, modelled), [0.0, 0.0]);
    // Half of a path of 40 m up and √(160² + 40²) m out.
    let half = |cut: &str| said(&exact, strip, &format!("\n[loss.cut]\n{cut}\n"));
    let whole_m = 40.0 + libm::hypot(160.0, 40.0);
    let (x, y) = (
        (0.5 * whole_m - 40.0) / libm::hypot(160.0, 40.0) * 160.0,
        (0.5 * whole_m - 40.0) / libm::hypot(160.0, 40.0) * 40.0,
    );
    let (share, near) = (half("path_share = 0.5"), half(&format!("near_m = [{x:?}, {y:?}, 1.5]")));
    for (a, b) in share.iter().zip(&near) {
        let (a, b) = (a.loss.as_ref().expect("cut").place_m, b.loss.as_ref().expect("cut").place_m);
        assert!((a[0] - b[0]).hypot(a[1] - b[1]) < 3.0, "a share of the path and a disc on it: {a:?}, {b:?}");
    }
}

/// A people zone as a disc or as many corners: the margin counts round both.
#[test]
fn a_disc_is_a_polygon_of_many_corners() {
    let circle = "circle_m = [90, 10, 25]".to_string();
    let corners: Vec<String> = (0..180)
        .map(|k| {
            let (sin, cos) = libm::sincos(f64::from(k) * std::f64::consts::PI / 90.0);
            format!("[{:?}, {:?}]", 90.0 + 25.0 * cos, 10.0 + 25.0 * sin)
        })
        .collect();
    let run = |area: &str| {
        let text = plain::text(&[
            &plain::site(300.0, 0.5, &format!("[[site.zone]]\nkind = \"people\"\npeople = 30\nmargin_m = 8\n{area}\n")),
            &plain::steady_wind(6.0, 200.0),
            CRAFT,
            STRONG,
            NO_FIX,
            &plain::path("[[0, 0, 40], [200, 20, 40]]", 10.0, 0.0),
            PILOT,
            ANY_TIME,
            &policy("drop", &["drop = {}"]),
        ]);
        endings(&fly(&read(&text), 400), 0)
    };
    let (disc, polygon) = (run(&circle), run(&format!("polygon_m = [{}]", corners.join(", "))));
    let people = |all: &[Ending]| {
        all.iter().filter(|ending| ending.headline == lostlink::flight::Headline::HardAmongOthers).count()
    };
    assert!(people(&disc) > 40);
    let differ = disc.iter().zip(&polygon).filter(|(a, b)| a.headline != b.headline).count();
    assert!(differ <= 4, "{} and {} among people, {differ} differ", people(&disc), people(&polygon));
}

/// The scenario for policies that mean the same.
fn meanings(policies: &[String], sky: &str) -> Vec<FlightOutcome> {
    let text = plain::text(&[
        &plain::site(400.0, 2.0, "[[site.zone]]\nkind = \"people\"\npeople = 30\ncircle_m = [60, 10, 30]\n"),
        "\n[weather]\nwind_mps = { lognormal = [4, 1.3] }\n",
        &CRAFT.replace("mass_kg = 1.0", "mass_kg = { normal = [1.0, 0.05] }"),
        "\n[radio.control]\npower_dbm = 20\n",
        &format!("\n[sky]\nwindow_s = 0\n{sky}\n"),
        &plain::path("[[40, 0, 70], [250, 40, 75], [200, -60, 72]]", 10.0, 2.0),
        PILOT,
        "\n[loss.cut]\npath_share = { uniform = [0.3, 1.0] }\n",
        &policies.concat(),
    ]);
    fly(&read(&text), 120)
}

/// Two policies with one meaning have the same endings, whatever their names, their places in the list and their words.
#[test]
fn policies_of_one_meaning_have_the_same_endings() {
    let home = "return = { height = { up_m = 60 } }";
    let guarded = format!(
        "{home}\nguard.fix = {{ satellites = 4, hdop = 50 }}\nguard.battery = {{ reserve_pct = 0 }}\n\
         guard.duration = {{ at_most_s = 7200 }}"
    );
    let list = [
        policy("a", &["land = {}"]),
        policy("c", &["land = { otherwise = \"drop\" }"]),
        policy("d", &["return = { height = { from = \"here\" } }"]),
        policy("e", &[home]),
        policy("f", &[&guarded]),
        policy("g", &["return = { height = { up_m = 20 }, otherwise = \"next\" }", "land = {}"]),
        policy("z", &["land = {}"]),
    ];
    let flown = meanings(&list, "");
    let of = |policy: usize| endings(&flown, policy);
    let all = of(0).len();
    assert!(all >= 115, "{all} of 120 lost");
    for (what, a, b) in [
        ("another name and place", 0, 6),
        ("a way out never taken", 0, 1),
        ("at least 60 m when above it", 2, 3),
        ("guards that always hold", 3, 4),
        ("at least 20 m, or the next", 3, 5),
    ] {
        let sank = |end: &Ending| what.ends_with("above it") && end.flags.has(Flags::TAKEN_UP_AGAIN);
        // What gave up for want of a fix and took it up again has come down in between.
        for (x, y) in of(a).iter().zip(&of(b)).filter(|(x, _)| !sank(x)) {
            assert_alike(what, x, y, [0.0, 0.0]);
        }
    }
    // In another order, under other names.
    let back =
        meanings(&[policy("q", &["return = { height = { from = \"here\" } }"]), policy("r", &["land = {}"])], "");
    for (mine, other) in [(0, 2), (1, 0)] {
        for (x, y) in endings(&back, mine).iter().zip(&of(other)) {
            assert_alike("another order", x, y, [0.0, 0.0]);
        }
    }
}

/// A hold of a part of a step, or of more than one, delays a landing by itself, whenever it begins: the point that it keeps is taken that
/// much further on, and it sinks that much later. The fix is exact here, else the point has the fix's noise in it.
#[test]
fn a_short_hold_delays_a_landing_by_itself() {
    const HOLDS_S: [f32; 3] = [0.05, 0.15, 0.3];
    let holds =
        |for_s: f32| policy(&format!("held {for_s} s"), &[&format!("hold = {{ for_s = {for_s} }}"), "land = {}"]);
    let list = [policy("a", &["land = {}"]), holds(HOLDS_S[0]), holds(HOLDS_S[1]), holds(HOLDS_S[2])];
    let flown = meanings(&list, "error_factor = 0\njumps_per_h = 0");
    let plain = endings(&flown, 0);
    assert!(plain.len() >= 115, "{} of 120 lost", plain.len());
    for (policy, held_s) in (1..).zip(HOLDS_S) {
        let mut mean_s = 0.0;
        for (x, y) in plain.iter().zip(&endings(&flown, policy)) {
            let (far_m, later_s) =
                ((x.end_m[0] - y.end_m[0]).hypot(x.end_m[1] - y.end_m[1]), y.time_to_end_s - x.time_to_end_s);
            // At 10 m/s over ground at most, and 0.1 m for gusts met a little higher up.
            assert!(far_m < 10.1 * held_s + 0.1 && x.headline == y.headline, "{held_s} s: {far_m} m, {x:?} and {y:?}");
            // Gusts met a little higher up move the end of a single descent by more than a tenth of a second, and on average not at all.
            assert!((later_s - held_s).abs() < 0.2, "{held_s} s: {later_s} s later, {x:?} and {y:?}");
            mean_s += later_s / plain.len() as f32;
        }
        assert!((mean_s - held_s).abs() < 0.004, "{held_s} s: {mean_s} s later on average");
    }
}

/// What is never called for changes nothing, to the last bit: settings for a low pack that never is, for a picture that never
/// goes, for switches and pilots that never get the craft, for hills on flat ground, for fences and fixes that hold.
#[test]
fn what_is_never_called_for_changes_nothing() {
    let run = |battery: &str, video: &str, pilot: &str, more: &str, home: &str| {
        let text = plain::text(&[
            &plain::site(
                400.0,
                2.0,
                "[site.fence]\npolygon_m = [[-390, -390], [390, -390], [390, 390], [-390, 390]]\n",
            ),
            &format!("\n[weather]\nwind_mps = {{ lognormal = [4, 1.3] }}\n{more}\n"),
            &CRAFT.replace("charge_pct = 100", &format!("charge_pct = {battery}")),
            &format!("{STRONG}\n[radio.video]\npower_dbm = 30\n{video}\n"),
            SKY,
            &plain::path("[[40, 0, 40], [150, 40, 40], [100, -60, 30]]", 10.0, 2.0),
            &format!("\n[pilot]\nreaction_s = 2\n{pilot}\n"),
            ANY_TIME,
            &policy("down", &["hold = { for_s = 2 }", "land = {}"]),
            &policy("home", &[&format!("return = {{ height = {{ up_m = 50 }}{home}")]),
        ]);
        fly(&read(&text), 40)
    };
    let let_finish = "on_regain = \"let_finish\"";
    let base = run("100", "", let_finish, "", " }");
    assert!(base.iter().filter(|outcome| outcome.loss.is_some()).count() == 40);
    let same = |what: &str, other: &[FlightOutcome]| {
        for (x, y) in base.iter().zip(other) {
            assert_eq!(format!("{x:?}"), format!("{y:?}"), "{what}");
        }
    };
    for low in [
        "at_warning = \"land\"",
        "at_warning = \"return\"\nat_limit = \"nothing\"",
        "at_limit = \"return\"\ngoes_first = \"policy\"",
        "warn_charge_pct = 70\nland_charge_pct = 60",
    ] {
        same(low, &run(&format!("100\n{low}"), "", let_finish, "", " }"));
    }
    for blind in ["when_lost = \"fly_on\"", "hold_s = 1\nafter_hold = \"turn\"", "when_lost = \"trigger_policy\""] {
        same(blind, &run("100", blind, let_finish, "", " }"));
    }
    for pilot in [
        "on_regain = \"fly_home\"",
        "on_regain = \"resume\"\nunresponsive_share = 1",
        "on_regain = \"let_finish\"\nlands_off_m = 5",
        "on_regain = \"let_finish\"\nhands = false",
        "on_regain = \"let_finish\"\n[pilot.hands]\nraise_to_m = 4\nwalk_m = 20\naim = true",
        "on_regain = \"fly_home\"\nwrong_switch_share = 1\nwrong_switch = \"stop_motors\"",
    ] {
        same(pilot, &run("100", "", pilot, "", " }"));
    }
    for weather in ["hill_wind = false", "hill_factor = 3", "lee_heights = 20"] {
        same(weather, &run("100", "", let_finish, weather, " }"));
    }
    for home in [", resumes_after_s = 0 }", ", otherwise = \"drop\" }\nguard.fence = { within_m = 5 }"] {
        same(home, &run("100", "", let_finish, "", home));
    }
    // Called for, each of them tells.
    let differs = |what: &str, other: &[FlightOutcome]| {
        let differ = base.iter().zip(other).filter(|(x, y)| format!("{x:?}") != format!("{y:?}")).count();
        assert!(differ > 5, "{what}: {differ} of 40 differ");
    };
    differs("warned at once", &run("100\nat_warning = \"return\"\nwarn_charge_pct = 94", "", let_finish, "", " }"));
    differs("a short fence", &run("100", "", let_finish, "", " }\nguard.fence = { within_m = 300 }"));
    differs("no picture", &run("100", "\n[radio.video.craft_antenna]\nmissing_db = 100", let_finish, "", " }"));
}

/// A condition that sets what is set already flies the same flights, and one that changes something flies what the scenario so
/// changed would: nothing is shared that the change bears on.
#[test]
fn a_condition_is_the_scenario_so_changed() {
    let mut conditions = String::new();
    let keys = [
        ("nothing", "\"weather.wind_mps\" = { lognormal = [5, 1.4] }, \"radio.control.power_dbm\" = -6.0"),
        ("wind", "\"weather.from_deg\" = 90"),
        ("shade", "\"weather.lee_heights\" = 15"),
        ("roughness", "\"weather.roughness_m\" = 0.3"),
        ("bare", "\"site.obstacle\" = []"),
        ("mast", "\"pilot.antenna_height_m\" = 4"),
        ("carrier", "\"radio.control.frequency_hz\" = 868e6"),
        ("leafless", "\"radio.in_leaf\" = false"),
        ("stage", "\"radio.interferer[0].place_m\" = [100, 40, 5]"),
        ("mask", "\"sky.mask_deg\" = 35"),
        ("hour", "\"sky.utc\" = 2026-03-01T03:00:00Z"),
        ("fast", "\"path.speed_mps\" = 12"),
        ("heavy", "\"craft.mass_kg\" = 1.3"),
        ("zone", "\"site.zone[0].circle_m\" = [120, 40, 60]"),
    ];
    for (name, set) in keys {
        conditions += &format!("\n[[condition]]\nname = \"{name}\"\nset = {{ {set} }}\n");
    }
    let text = plain::text(&[
        &plain::site(
            400.0,
            2.0,
            "[[site.zone]]\nkind = \"people\"\npeople = 30\ncircle_m = [60, 10, 30]\n\
             [[site.obstacle]]\nkind = \"trees\"\npolygon_m = [[60, -80], [100, -80], [100, 60], [60, 60]]\nheight_m = 18\n",
        ),
        "\n[weather]\nwind_mps = { lognormal = [5, 1.4] }\n",
        CRAFT,
        "\n[radio]\nshadow_sigma_db = 0\n\n[radio.control]\npower_dbm = -6.0\n\n[[radio.interferer]]\nplace_m = [150, 60, 4]\n\
         eirp_dbm = 10\nbandwidth_hz = 80e6\nduty = 0.5\nburst_s = 1.5\n",
        "\n[sky]\nwindow_s = 0\nutc = 2026-03-01T10:00:00Z\n",
        &plain::path("[[40, 0, 25], [180, 30, 30], [150, -60, 25]]", 10.0, 2.0),
        PILOT,
        "\n[loss.cut]\nany_time = true\n",
        &policy("drop", &["drop = {}"]),
        &policy("home", &["return = { height = { up_m = 40 } }"]),
        &conditions,
    ])
    // A low ceiling makes for a small world.
    .replace("ceiling_m = 500", "ceiling_m = 60");
    let world = World::new(read(&text)).expect("a world");
    let told = |world: &World| format!("{:?}", outcomes(world, 40));
    let base = told(&world);
    let others = condition_worlds(&world).expect("each can be flown");
    for (condition, other) in world.scenario.conditions.iter().zip(&others) {
        let shared = told(other);
        let fresh = World::new((*condition.scenario).clone()).expect("a world");
        assert!(shared == told(&fresh), "'{}' beside the others is not '{}' alone", condition.name, condition.name);
        assert_eq!(shared == base, condition.name == "nothing", "'{}' and the scenario as stated", condition.name);
    }
}

/// A craft too heavy for its motors, or with a pack too weak, stays on the ground it stood on: nothing goes below it, and
/// nothing ends before it began.
#[test]
fn what_cannot_lift_stays_on_the_ground() {
    for craft in [
        "\n[craft]\nmass_kg = 0.1\npayload_kg = 1\n",
        "\n[craft]\nmass_kg = 1.0\n\n[craft.battery]\ncharge_pct = 1\n",
        "\n[craft]\nmass_kg = 1.0\nclimb_mps = 0.2\n",
    ] {
        let text = plain::text(&[
            &plain::site(200.0, 5.0, ""),
            &plain::steady_wind(3.0, 200.0),
            craft,
            STRONG,
            NO_FIX,
            &plain::path("[[0, 0, 10], [40, 0, 10]]", 8.0, 0.0),
            PILOT,
            "\n[loss.cut]\ntime_s = { uniform = [0, 4] }\n",
            &policy("drop", &["drop = {}"]),
            &policy("down", &["land = {}"]),
        ]);
        for outcome in fly(&read(&text), 30) {
            for ending in &outcome.endings {
                assert!(
                    ending.loss_m[2] > -0.05 && ending.end_m[2] > -0.05 && ending.time_to_end_s > -1e-3,
                    "{craft}: {ending:?}"
                );
            }
        }
    }
}
