//! The extent of a site and the spacing of the grid over it, and what is drawn too far away for either.

use crate::scenario::kind::{between, tidy};
use crate::scenario::section::Section;
use crate::site::{Area, CELLS_AT_MOST, spacing_for};

/// Around all that is given.
const RIM_M: f64 = 300.0;

/// The widest site: beyond it cells are coarser than what stands there, and a plane no longer stands for the Earth. Estimate.
const WIDEST_M: f64 = 60_000.0;

/// Something drawn on the ground, and the box around it.
pub(super) struct Outline {
    pub(super) what: String,
    pub(super) bounds_m: [f64; 4],
}

impl Outline {
    pub(super) fn of(kind: &str, index: usize, name: &str, area: &Area) -> Outline {
        let what = if name.is_empty() { format!("{kind} {}", index + 1) } else { format!("the {kind} \"{name}\"") };
        Outline { what, bounds_m: area.bounds_m() }
    }
}

fn around(a: [f64; 4], b: [f64; 4]) -> [f64; 4] {
    [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])]
}

fn rimmed(bounds: [f64; 4]) -> [f64; 4] {
    let round = |value: f64| (value / 10.0).round() * 10.0;
    [round(bounds[0] - RIM_M), round(bounds[1] - RIM_M), round(bounds[2] + RIM_M), round(bounds[3] + RIM_M)]
}

/// How far a box reaches beyond another.
fn beyond_m(inner: [f64; 4], outer: [f64; 4]) -> f64 {
    [inner[0] - outer[0], inner[1] - outer[1], outer[2] - inner[2], outer[3] - inner[3]].into_iter().fold(0.0, f64::max)
}

/// What stretches the site most, in words.
fn stretched(flown: [f64; 4], drawn: &[Outline]) -> String {
    let farthest = drawn.iter().max_by(|a, b| beyond_m(flown, a.bounds_m).total_cmp(&beyond_m(flown, b.bounds_m)));
    match farthest.map(|far| (far, beyond_m(flown, far.bounds_m))) {
        Some((far, by_m)) if by_m > RIM_M => format!("; {} reaches {:.1} km beyond the path", far.what, by_m * 1e-3),
        _ => String::new(),
    }
}

/// One thing drawn far away makes the grid coarser everywhere.
fn warn_of_the_far(s: &Section, flown: [f64; 4], drawn: &[Outline], extent_m: [f64; 4]) {
    let by_m = |index: usize| beyond_m(flown, drawn[index].bounds_m);
    let Some(far) = (0..drawn.len()).max_by(|&a, &b| by_m(a).total_cmp(&by_m(b))) else { return };
    let others = drawn.iter().enumerate().filter(|(other, _)| *other != far).map(|(_, other)| other);
    let without = rimmed(others.fold(flown, |bounds, other| around(bounds, other.bounds_m)));
    let [coarse_m, fine_m] = [extent_m, without].map(spacing_for);
    if fine_m < coarse_m {
        let found = format!(
            "{} reaching {:.1} km beyond the path: for its sake the grid's cells are {} m wide everywhere instead of {} m",
            drawn[far].what,
            by_m(far) * 1e-3,
            tidy(coarse_m),
            tidy(fine_m)
        );
        s.warn("extent_m", found, "what is drawn near the path, or an `extent_m` that leaves out what is far");
    }
}

/// The extent, stated or all there is with a rim, and the spacing of the grid over it.
pub(super) fn read_extent(s: &Section, home: [f64; 2], waypoints_m: &[[f64; 3]], drawn: &[Outline]) -> ([f64; 4], f64) {
    let flown = waypoints_m.iter().fold([home[0], home[1], home[0], home[1]], |bounds, point| {
        around(bounds, [point[0], point[1], point[0], point[1]])
    });
    let default = rimmed(drawn.iter().fold(flown, |bounds, drawn| around(bounds, drawn.bounds_m)));
    let mut extent_m = s.numbers::<4>(
        "extent_m",
        between(-1e6, 1e6),
        default,
        "all that is given, and 300 m around",
        "West, south, east, north edge of the simulated area",
    );
    let [wide_m, high_m] = [extent_m[2] - extent_m[0], extent_m[3] - extent_m[1]];
    if wide_m < 10.0 || high_m < 10.0 {
        s.error("extent_m", "an area less than 10 m wide or high", "west, south, east, north edge in this order");
        extent_m = default;
    }
    if wide_m.max(high_m) > WIDEST_M {
        let found = format!("an area of {:.0} km by {:.0} km{}", wide_m * 1e-3, high_m * 1e-3, stretched(flown, drawn));
        s.error("extent_m", found, format!("at most {:.0} km either way", WIDEST_M * 1e-3));
        // What follows builds the grid.
        extent_m = rimmed(flown);
    } else if s.find("extent_m").is_none() {
        warn_of_the_far(s, flown, drawn, extent_m);
    } else {
        let [west, south, east, north] = extent_m;
        for Outline { what, bounds_m: [w, s_edge, e, n] } in drawn {
            if *e < west || *w > east || *n < south || *s_edge > north {
                let found = format!("{what} wholly outside it: nothing of it counts");
                s.warn("extent_m", found, "an area that holds all that is drawn");
            }
        }
    }
    let mut cell_m = s.number(
        "cell_m",
        between(0.1, 1000.0),
        spacing_for(extent_m),
        "chosen so that the site has at most 4 million cells",
        "Grid spacing",
    );
    let cells = ((extent_m[2] - extent_m[0]) / cell_m).ceil() * ((extent_m[3] - extent_m[1]) / cell_m).ceil();
    if cells > 1.01 * CELLS_AT_MOST {
        let least = ((extent_m[2] - extent_m[0]) * (extent_m[3] - extent_m[1]) / CELLS_AT_MOST).sqrt();
        let found = format!("a spacing of {} m, which makes {:.0} million cells", tidy(cell_m), cells * 1e-6);
        s.error("cell_m", found, format!("at most 4 million cells: {:.1} m or more", least + 0.05));
        // What follows builds the grid.
        cell_m = spacing_for(extent_m);
    }
    (extent_m, cell_m)
}
