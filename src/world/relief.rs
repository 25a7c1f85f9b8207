//! Wind over the hills of a site, by direction of the wind: worked out once along lines with the wind.

use crate::air::relief::{Crest, Flow, Relief, Rise, crests, wakes_m};
use crate::geometry::cell_at;
use crate::site::{SiteGrid, Terrain};
use std::sync::OnceLock;

/// Most places per direction.
const PLACES_AT_MOST: f64 = 20_000.0;

/// Finest spacing, m: what is smaller than this is no hill.
const FINEST_M: f64 = 5.0;

/// Half-lengths to the side at which a hill has fallen by half its height, and a ridge has not.
const HILL_WITHIN: f64 = 3.0;

/// Least height of separated air that counts, m. Estimate: about a craft's own reach.
const LEAST_WAKE_M: f64 = 2.0;

/// Wind over hills by direction and place. Axes are turned with the wind, so that a site turned with its wind gives the same.
///
/// Each line is worked out when it is first asked for: flights stay over a part of the site, and a few meet a few directions.
#[derive(Debug, Clone)]
pub(super) struct ReliefField {
    terrain: Terrain,
    middle_m: [f64; 2],
    spacing_m: f64,
    samples_per_m: f64,
    /// Samples along and across the wind.
    count: usize,
    along: Vec<[f64; 2]>,
    /// Lines across the site by direction, each with its samples along the wind.
    lines: Vec<OnceLock<Box<[Relief]>>>,
}

impl ReliefField {
    /// For some directions that the wind blows to; `None` when nothing on the site changes the wind.
    pub(super) fn new(grid: &SiteGrid, along: &[[f64; 2]]) -> Option<ReliefField> {
        let terrain = grid.terrain()?.clone();
        let [west_m, south_m, east_m, north_m] = grid.extent_m();
        // A square that holds the extent however it is turned.
        let side_m = (east_m - west_m).hypot(north_m - south_m);
        let spacing_m = (side_m / PLACES_AT_MOST.sqrt()).max(FINEST_M);
        let count = (side_m / spacing_m).ceil() as usize + 1;
        let field = ReliefField {
            terrain,
            middle_m: [0.5 * (west_m + east_m), 0.5 * (south_m + north_m)],
            spacing_m,
            samples_per_m: 1.0 / spacing_m,
            count,
            along: along.to_vec(),
            lines: vec![OnceLock::new(); along.len() * count],
        };
        let level = |place: &Relief| place.speed_up < 0.01 && place.wake_m == 0.0;
        // Not kept: nobody may ever fly there.
        let changes_the_wind = |at: usize| !field.work_out(at).iter().all(level);
        (0..field.lines.len()).any(changes_the_wind).then_some(field)
    }

    /// A line by its place in the list.
    #[inline]
    fn line(&self, at: usize) -> &[Relief] {
        self.lines[at].get_or_init(|| self.work_out(at))
    }

    #[cold]
    fn work_out(&self, at: usize) -> Box<[Relief]> {
        let (count, spacing_m, direction) = (self.count, self.spacing_m, self.along[at / self.count]);
        let across = self.offset_m((at % count) as f64);
        let ground = |k: f64, aside_m: f64| {
            let (a, b) = (self.offset_m(k), across + aside_m);
            let [x, y] = [direction[0] * a - direction[1] * b, direction[1] * a + direction[0] * b];
            self.terrain.ground_m(self.middle_m[0] + x, self.middle_m[1] + y)
        };
        let ground_m: Vec<f64> = (0..count).map(|k| ground(k as f64, 0.0)).collect();
        let mut row: Vec<Relief> = wakes_m(&ground_m, spacing_m)
            .into_iter()
            .map(|wake_m| Relief {
                wake_m: if wake_m < LEAST_WAKE_M { 0.0 } else { wake_m as f32 },
                ..Relief::default()
            })
            .collect();
        for crest in crests(&ground_m, spacing_m) {
            let top_m = ground_m[(crest.at.round() as usize).min(count - 1)];
            let aside_m = HILL_WITHIN * crest.half_length_m;
            let fallen = |aside_m: f64| ground(crest.at, aside_m) < top_m - 0.5 * crest.height_m;
            let rise = match crest.falls_again {
                false => Rise::Scarp,
                true if fallen(aside_m) && fallen(-aside_m) => Rise::Hill,
                true => Rise::Ridge,
            };
            lay(&mut row, &crest, rise, spacing_m);
        }
        row.into()
    }

    /// Distance of a sample from the middle.
    fn offset_m(&self, index: f64) -> f64 {
        (index - 0.5 * (self.count - 1) as f64) * self.spacing_m
    }

    /// The sample before a place given in samples from the first, and the share of the way from it to the next; the outermost hold
    /// beyond them.
    #[inline]
    fn sample_before(&self, at_samples: f64) -> (usize, f32) {
        let index = cell_at(at_samples, self.count - 2);
        (index, (at_samples - index as f64).clamp(0.0, 1.0) as f32)
    }

    /// Wind and turbulence at a place for a direction, between the samples around it; `factor` is on the speed-up.
    #[inline]
    pub(super) fn at(&self, direction: usize, place_m: [f64; 2], height_agl_m: f64, factor: f64) -> Flow {
        let [c, s] = self.along[direction];
        let (dx, dy) = (place_m[0] - self.middle_m[0], place_m[1] - self.middle_m[1]);
        let last = (self.count - 1) as f64;
        let (a, ta) = self.sample_before((c * dx + s * dy) * self.samples_per_m + 0.5 * last);
        let (b, tb) = self.sample_before((c * dy - s * dx) * self.samples_per_m + 0.5 * last);
        let line = direction * self.count + b;
        let (low, high) = (self.line(line), self.line(line + 1));
        let (p, q, r, t) = (&low[a], &low[a + 1], &high[a], &high[a + 1]);
        let mix = |f: fn(&Relief) -> f32| {
            let (low, high) = (f(p) + ta * (f(q) - f(p)), f(r) + ta * (f(t) - f(r)));
            low + tb * (high - low)
        };
        let relief =
            Relief { speed_up: mix(|x| x.speed_up), decay_per_m: mix(|x| x.decay_per_m), wake_m: mix(|x| x.wake_m) };
        relief.at(height_agl_m, factor)
    }
}

/// Lays the speed-up of a crest over a line; where several reach, the strongest holds.
fn lay(row: &mut [Relief], crest: &Crest, rise: Rise, spacing_m: f64) {
    for (index, place) in row.iter_mut().enumerate() {
        let behind_m = (index as f64 - crest.at) * spacing_m;
        let here = Relief::of(rise, crest.height_m, crest.half_length_m, behind_m);
        if here.speed_up > place.speed_up {
            (place.speed_up, place.decay_per_m) = (here.speed_up, here.decay_per_m);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    impl ReliefField {
        /// Directions of which something was worked out so far.
        pub(in crate::world) fn directions_worked_out(&self) -> usize {
            self.lines.chunks(self.count).filter(|lines| lines.iter().any(|line| line.get().is_some())).count()
        }
    }

    /// Nothing is worked out but the lines beside the places asked about, and these are there then.
    #[test]
    fn lines_are_worked_out_when_asked_for() {
        let quarry = concat!(env!("LOSTLINK_ROOT"), "scenarios/quarry.toml");
        let grid = crate::scenario::Scenario::from_file(quarry).unwrap().site.grid();
        let field = ReliefField::new(&grid, &[[1.0, 0.0], [0.0, 1.0]]).expect("a quarry changes the wind");
        let worked_out = || field.lines.iter().filter(|line| line.get().is_some()).count();
        assert_eq!(worked_out(), 0);
        let flow = field.at(1, [60.0, 0.0], 5.0, 1.0);
        assert_eq!((worked_out(), field.directions_worked_out()), (2, 1));
        assert_eq!((field.at(1, [60.0, 0.0], 5.0, 1.0), worked_out()), (flow, 2));
        assert!(flow != Flow::LEVEL, "{flow:?}");
    }
}
