//! Where the link reaches: maps, greatest distances, sections.
//!
//! Knows no antenna and no waveform: the link at a place is a function handed in.

pub use super::section::RayPoint;
use super::section::{least_clearance, ray_section};
use crate::site::SiteGrid;
use crate::stats::contours::{Raster, contour_lines};
use rayon::prelude::*;
use serde::Serialize;

/// The link at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaceLink {
    /// Mean power over what the waveform needs, shadowing and fading left out.
    pub margin_db: f64,
    /// Chance that the receiver calls the link lost while the craft stays there.
    pub loss_chance: f64,
}

/// The link to a craft at a place (z as on the site).
pub type LinkAt<'a> = dyn Fn([f64; 3]) -> PlaceLink + Sync + 'a;

/// The height that a map is drawn at.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MapHeight {
    /// So many metres above the ground below.
    AboveGroundM(f64),
    /// Level at this z.
    LevelM(f64),
}

impl MapHeight {
    /// z over a place.
    pub fn z_m(&self, grid: &SiteGrid, x_m: f64, y_m: f64) -> f64 {
        match self {
            MapHeight::AboveGroundM(height_m) => grid.ground_m(x_m, y_m) + height_m,
            // A level that would lie in the ground follows it.
            MapHeight::LevelM(z_m) => z_m.max(grid.ground_m(x_m, y_m) + 1.0),
        }
    }
}

/// Smallest chance that is stored: below it the models behind it are not to be trusted, so a map says 'this or less'.
pub const LEAST_CHANCE: f64 = 1e-4;

/// Margin and chance of a declared loss over a site at one height.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReachMap {
    /// Height it is drawn at.
    pub height: MapHeight,
    /// x of the first column of points.
    pub west_m: f64,
    /// y of the first row of points.
    pub south_m: f64,
    /// Spacing from west to east and from south to north.
    pub spacing_m: [f64; 2],
    /// Points from west to east.
    pub columns: usize,
    /// Points from south to north.
    pub rows: usize,
    /// Mean margin, row by row from the south, west to east.
    pub margin_db: Vec<f32>,
    /// Chance that the receiver calls the link lost while the craft stays there, at least [`LEAST_CHANCE`].
    pub loss_chance: Vec<f32>,
}

/// Computes a map of `columns` × `rows` points (each ≥ 2) over the whole extent, on all threads.
pub fn reach_map(grid: &SiteGrid, height: MapHeight, [columns, rows]: [usize; 2], link: &LinkAt) -> ReachMap {
    let (columns, rows) = (columns.max(2), rows.max(2));
    let extent = grid.extent_m();
    let spacing_m = [(extent[2] - extent[0]) / (columns - 1) as f64, (extent[3] - extent[1]) / (rows - 1) as f64];
    let mut margin_db = vec![0.0f32; columns * rows];
    let mut loss_chance = vec![0.0f32; columns * rows];
    margin_db.par_chunks_mut(columns).zip(loss_chance.par_chunks_mut(columns)).enumerate().for_each(
        |(row, (margins, chances))| {
            let y = extent[1] + spacing_m[1] * row as f64;
            for (column, (margin, chance)) in margins.iter_mut().zip(chances).enumerate() {
                let x = extent[0] + spacing_m[0] * column as f64;
                let here = link([x, y, height.z_m(grid, x, y)]);
                *margin = here.margin_db as f32;
                *chance = here.loss_chance.max(LEAST_CHANCE) as f32;
            }
        },
    );
    ReachMap { height, west_m: extent[0], south_m: extent[1], spacing_m, columns, rows, margin_db, loss_chance }
}

/// What contours are drawn of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ReachQuantity {
    /// Mean margin, dB.
    MarginDb,
    /// Chance of a declared loss, 0 to 1.
    LossChance,
}

impl ReachQuantity {
    /// On which scale it is nearest to linear between points: chances span decades.
    fn scale(self) -> fn(f64) -> f64 {
        match self {
            ReachQuantity::MarginDb => |margin_db| margin_db,
            ReachQuantity::LossChance => |chance| libm::log(chance.max(1e-300)),
        }
    }
}

/// A ring without the points that repeat another or lie on the straight line between their neighbours: those along the edge of a map.
fn without_straight_points(ring: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut kept: Vec<[f64; 2]> = Vec::new();
    for &next in ring {
        while let [.., before, last] = kept[..] {
            let (ax, ay) = (last[0] - before[0], last[1] - before[1]);
            let (bx, by) = (next[0] - last[0], next[1] - last[1]);
            let straight = ax * by == ay * bx && ax * bx + ay * by >= 0.0;
            if !straight {
                break;
            }
            kept.pop();
        }
        if kept.last() != Some(&next) {
            kept.push(next);
        }
    }
    kept
}

/// Lines of one value on a map.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReachContour {
    /// Of what.
    pub quantity: ReachQuantity,
    /// The value.
    pub level: f64,
    /// The lines; a closed one ends with its first point.
    pub lines_m: Vec<Vec<[f64; 2]>>,
}

impl ReachMap {
    /// Contours at these levels; a level that does not occur gives no line.
    pub fn contours(&self, quantity: ReachQuantity, levels: &[f64]) -> Vec<ReachContour> {
        let scale = quantity.scale();
        let values: Vec<f64> = self.values(quantity).iter().map(|value| scale(f64::from(*value))).collect();
        let raster = Raster {
            west_m: self.west_m,
            south_m: self.south_m,
            dx_m: self.spacing_m[0],
            dy_m: self.spacing_m[1],
            columns: self.columns,
            values: &values,
        };
        levels
            .iter()
            .map(|level| ReachContour { quantity, level: *level, lines_m: contour_lines(&raster, scale(*level)) })
            .collect()
    }

    /// Where a value is at least `level`: closed rings, anticlockwise around such places, clockwise around gaps in them. Where it goes on
    /// beyond the map, the map's edge closes the ring.
    pub fn areas(&self, quantity: ReachQuantity, level: f64) -> Vec<Vec<[f64; 2]>> {
        // Far below every level: a line between a point of the edge and one of these runs through the point of the edge.
        const BEYOND: f64 = -1e30;
        let (columns, scale, list) = (self.columns + 2, quantity.scale(), self.values(quantity));
        let mut values = vec![BEYOND; columns * (self.rows + 2)];
        for (row, own) in list.chunks(self.columns).enumerate() {
            let start = (row + 1) * columns + 1;
            for (value, own) in values[start..start + own.len()].iter_mut().zip(own) {
                *value = scale(f64::from(*own));
            }
        }
        let [dx_m, dy_m] = self.spacing_m;
        let (west_m, south_m) = (self.west_m - dx_m, self.south_m - dy_m);
        let raster = Raster { west_m, south_m, dx_m, dy_m, columns, values: &values };
        contour_lines(&raster, scale(level)).iter().map(|ring| without_straight_points(ring)).collect()
    }

    fn values(&self, quantity: ReachQuantity) -> &[f32] {
        match quantity {
            ReachQuantity::MarginDb => &self.margin_db,
            ReachQuantity::LossChance => &self.loss_chance,
        }
    }

    /// Share of the map's points whose mean margin is at least `margin_db`.
    pub fn share_with_margin(&self, margin_db: f64) -> f64 {
        let holding = self.margin_db.iter().filter(|margin| f64::from(**margin) >= margin_db).count();
        holding as f64 / self.margin_db.len().max(1) as f64
    }
}

/// How far the link reaches in one direction, within the site.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DirectionReach {
    /// Direction from the pilot, clockwise from north.
    pub bearing_deg: f64,
    /// Nearest distance at which the margin holds: right over the pilot upright antennas see little of each other. NaN:
    /// nowhere.
    pub from_m: f64,
    /// Distance up to which the margin holds from there without a gap; 0: nowhere.
    pub unbroken_m: f64,
    /// Greatest distance at which it holds at all; beyond gaps.
    pub farthest_m: f64,
    /// Distance to the site's edge: nothing is known beyond.
    pub edge_m: f64,
}

impl DirectionReach {
    /// Whether the margin holds, from where it begins to, all the way to the edge of the site.
    pub fn to_the_edge(&self) -> bool {
        self.unbroken_m >= self.edge_m
    }
}

/// Greatest distances in 16 directions at which the mean margin is at least `needed_db`, in steps of `step_m` (> 0).
///
/// `pilot_m` lies on the site; distances are over the ground.
pub fn reach_in_directions(
    grid: &SiteGrid,
    pilot_m: [f64; 2],
    height: MapHeight,
    needed_db: f64,
    step_m: f64,
    link: &LinkAt,
) -> [DirectionReach; 16] {
    let extent = grid.extent_m();
    std::array::from_fn(|index| {
        let bearing_deg = index as f64 * 22.5;
        let (east, north) = libm::sincos(bearing_deg.to_radians());
        let until = |at: f64, along: f64, low: f64, high: f64| {
            if along > 1e-12 {
                (high - at) / along
            } else if along < -1e-12 {
                (low - at) / along
            } else {
                f64::INFINITY
            }
        };
        let edge_m =
            until(pilot_m[0], east, extent[0], extent[2]).min(until(pilot_m[1], north, extent[1], extent[3])).max(0.0);
        let holds = |d: f64| {
            let (x, y) = (pilot_m[0] + east * d, pilot_m[1] + north * d);
            link([x, y, height.z_m(grid, x, y)]).margin_db >= needed_db
        };
        let (mut from_m, mut unbroken_m, mut farthest_m, mut gap) = (f64::NAN, 0.0, 0.0, false);
        let steps = (edge_m / step_m).ceil() as usize;
        for i in 1..=steps {
            let d = (i as f64 * step_m).min(edge_m);
            if holds(d) {
                farthest_m = d;
                if from_m.is_nan() {
                    from_m = d;
                }
                if !gap {
                    unbroken_m = d;
                }
            } else {
                gap = !from_m.is_nan();
            }
        }
        DirectionReach { bearing_deg, from_m, unbroken_m, farthest_m, edge_m }
    })
}

/// One place along a path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PathReach {
    /// Distance flown.
    pub flown_m: f64,
    /// Place, z as on the site.
    pub place_m: [f64; 3],
    /// Ground below.
    pub ground_m: f64,
    /// Top of what stands below.
    pub surface_m: f64,
    /// Mean margin.
    pub margin_db: f64,
    /// Chance that the receiver calls the link lost during a stay there, at least [`LEAST_CHANCE`].
    pub loss_chance: f64,
    /// Least room under the ray in radii of the first Fresnel zone.
    pub clearance: f64,
}

/// The link along a path: `place_at` gives the place (z as on the site) after a distance flown; `points` ≥ 2 of them,
/// both ends included.
#[allow(clippy::too_many_arguments)]
pub fn reach_along(
    grid: &SiteGrid,
    frequency_hz: f64,
    antenna_m: [f64; 3],
    length_m: f64,
    points: usize,
    place_at: &(dyn Fn(f64) -> [f64; 3] + Sync),
    link: &LinkAt,
) -> Vec<PathReach> {
    let last = points.max(2) - 1;
    let step_m = grid.cell_m.clamp(1.0, 10.0);
    (0..=last)
        .into_par_iter()
        .map(|i| {
            let flown_m = length_m * i as f64 / last as f64;
            let place_m = place_at(flown_m);
            let here = link(place_m);
            PathReach {
                flown_m,
                place_m,
                ground_m: grid.ground_m(place_m[0], place_m[1]),
                surface_m: grid.surface_m(place_m[0], place_m[1]),
                margin_db: here.margin_db,
                loss_chance: here.loss_chance.max(LEAST_CHANCE),
                clearance: least_clearance(&ray_section(grid, frequency_hz, antenna_m, place_m, step_m)),
            }
        })
        .collect()
}

/// Everything that `reach` finds, for the writers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reach {
    /// Title of the scenario.
    pub title: String,
    /// Place of the pilot's antenna.
    pub antenna_m: [f64; 3],
    /// Mean margin that is asked for.
    pub needed_margin_db: f64,
    /// How long the craft stays in one place, for the chance of a declared loss.
    pub stay_s: f64,
    /// Maps, one per height.
    pub maps: Vec<ReachMap>,
    /// Greatest distances at the height of the first map.
    pub directions: Vec<DirectionReach>,
    /// Along the path.
    pub along: Vec<PathReach>,
    /// Section under the ray to the place of the path with the least margin.
    pub weakest: Vec<RayPoint>,
}

/// Index of the place with the least margin; `None` for an empty path.
pub fn weakest(along: &[PathReach]) -> Option<usize> {
    (0..along.len()).min_by(|a, b| along[*a].margin_db.total_cmp(&along[*b].margin_db))
}

/// Index of the first place with the greatest chance of a declared loss; `None` for an empty path.
pub fn likeliest_lost(along: &[PathReach]) -> Option<usize> {
    (0..along.len()).rev().max_by(|a, b| along[*a].loss_chance.total_cmp(&along[*b].loss_chance))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::radio::Waveform;
    use crate::radio::free_space::WavePolarisation;
    use crate::radio::modem::PacketCurve;
    use crate::radio::silence::{DeclaredLoss, StayInput};
    use crate::site::shape::signed_area_m2;
    use crate::site::{GridInput, Terrain};
    use crate::world::radio::{FieldOptions, LinkField};

    fn loss() -> DeclaredLoss {
        let waveform = Waveform::Fsk {
            bit_rate_bps: 100e3,
            modulation_index: 1.0,
            coding_gain_db: 0.0,
            implementation_loss_db: 1.0,
        };
        let curve = PacketCurve::new(&waveform, 12).unwrap();
        let needed_snr_db = curve.snr_for_db(0.1);
        let input = StayInput {
            frequency_hz: 2.44e9,
            packet_rate_hz: 50.0,
            patience_s: 1.0,
            stay_s: 20.0,
            speed_mps: 5.0,
            bands: 8,
            needed_snr_db,
            shadow_sigma_db: [3.0; 2],
            other_loss: 0.0,
        };
        DeclaredLoss::new(&curve, &input)
    }

    fn site(terrain: Option<&Terrain>) -> SiteGrid {
        SiteGrid::new(&GridInput {
            extent_m: [-500.0, -400.0, 500.0, 400.0],
            cell_m: Some(5.0),
            terrain,
            zones: &[],
            obstacles: &[],
            fence: None,
            fence_margin_m: 0.0,
            people_per_km2: 0.0,
        })
    }

    fn ridge() -> Terrain {
        let height = |x: f64| (40.0 * (1.0 - (x - 100.0).abs() / 60.0)).max(0.0);
        Terrain {
            file: "ridge.asc".into(),
            west_m: -500.0,
            south_m: -400.0,
            cell_m: 10.0,
            columns: 101,
            rows: 81,
            height_m: (0..101 * 81).map(|i| height(-500.0 + 10.0 * (i % 101) as f64) as f32).collect(),
        }
    }

    const PILOT: [f64; 3] = [-100.0, 0.0, 1.8];

    /// 60 dB at 1 m less free space over one metre: the margin falls through 0 at 1 km.
    fn free_db(place_m: [f64; 3]) -> f64 {
        let d2: f64 = (0..3).map(|i| (place_m[i] - PILOT[i]) * (place_m[i] - PILOT[i])).sum();
        60.0 - 10.0 * libm::log10(d2.max(1.0))
    }

    fn free(place_m: [f64; 3]) -> PlaceLink {
        PlaceLink { margin_db: free_db(place_m), loss_chance: 0.0 }
    }

    #[test]
    fn over_an_open_field_the_reach_is_a_circle() {
        let grid = site(None);
        // 8 dB are left at 10^(52/20) = 398.1 m slant.
        let reach = reach_in_directions(&grid, [-100.0, 0.0], MapHeight::AboveGroundM(1.8), 8.0, 1.0, &free);
        for direction in &reach {
            let until = direction.edge_m.min(398.1);
            assert!((direction.unbroken_m - until).abs() <= 1.0, "{direction:?}");
            assert_eq!(direction.unbroken_m, direction.farthest_m);
            assert_eq!(direction.from_m, 1.0);
        }
        // Where nothing is heard right overhead, the reach begins beside it.
        let cone = |place_m: [f64; 3]| PlaceLink {
            margin_db: if (place_m[0] + 100.0).hypot(place_m[1]) < 20.0 { 0.0 } else { free_db(place_m) },
            loss_chance: 0.0,
        };
        let beside = reach_in_directions(&grid, [-100.0, 0.0], MapHeight::AboveGroundM(1.8), 8.0, 1.0, &cone);
        assert!((beside[4].from_m - 20.0).abs() <= 1.0 && (beside[4].unbroken_m - 398.1).abs() <= 1.0, "{beside:?}");
        let nowhere = reach_in_directions(&grid, [-100.0, 0.0], MapHeight::AboveGroundM(1.8), 90.0, 1.0, &free);
        assert!(nowhere[0].from_m.is_nan() && nowhere[0].unbroken_m == 0.0);
        // West lies the edge at 400 m, north-west too; east it is at 600 m.
        assert!(!reach[4].to_the_edge() && (reach[4].edge_m - 600.0).abs() < 1e-9);
        assert!((reach[12].edge_m - 400.0).abs() < 1e-9);

        let map = reach_map(&grid, MapHeight::AboveGroundM(1.8), [201, 161], &free);
        let lines = map.contours(ReachQuantity::MarginDb, &[8.0, 200.0]);
        assert!(lines[1].lines_m.is_empty());
        for line in &lines[0].lines_m {
            for [x, y] in line {
                let d = ((x + 100.0) * (x + 100.0) + y * y).sqrt();
                assert!((d - 398.1).abs() < 0.5, "{x} {y}: {d}");
            }
        }
        // The surface within: a disc that the edges of the site at 400 m west and north leave whole.
        let [disc] = map.areas(ReachQuantity::MarginDb, 8.0).try_into().expect("one ring");
        assert!((signed_area_m2(&disc) / (std::f64::consts::PI * 398.1 * 398.1) - 1.0).abs() < 2e-3);
        assert!(map.areas(ReachQuantity::MarginDb, 200.0).is_empty());
        // Wholly within reach: the edge of the site, corners alone.
        let [all] = map.areas(ReachQuantity::MarginDb, -50.0).try_into().expect("one ring");
        assert_eq!((signed_area_m2(&all), all.len() <= 6), (800e3, true), "{all:?}");
        // Nothing is heard right overhead: a hole.
        let ring =
            reach_map(&grid, MapHeight::AboveGroundM(1.8), [201, 161], &cone).areas(ReachQuantity::MarginDb, 8.0);
        let areas_m2: Vec<f64> = ring.iter().map(|ring| signed_area_m2(ring)).collect();
        assert!(
            areas_m2.len() == 2 && areas_m2.iter().any(|area_m2| (-1500.0..-900.0).contains(area_m2)),
            "{areas_m2:?}"
        );

        let inside = std::f64::consts::PI * 398.1 * 398.1 / 800e3;
        assert!((map.share_with_margin(8.0) - inside).abs() < 0.01);
    }

    #[test]
    fn behind_the_ridge_the_map_is_worse_and_the_chance_says_so() {
        let terrain = ridge();
        let grid = std::sync::Arc::new(site(Some(&terrain)));
        let options =
            FieldOptions { top_m: 120.0, polarisation: WavePolarisation::Vertical, in_leaf: true, spacing_m: None };
        let field = LinkField::new(&grid, PILOT, 2.44e9, &options).unwrap();
        let loss = loss();
        let mean = |place: [f64; 3]| {
            let excess = field.excess(place);
            let k_db = if excess.blocked > 0.95 { f64::NEG_INFINITY } else { 10.0 };
            let margin_db = free_db(place) + 10.0 - excess.total_db();
            PlaceLink { margin_db, loss_chance: loss.at(margin_db, k_db) }
        };
        let map = reach_map(&grid, MapHeight::AboveGroundM(15.0), [101, 81], &mean);
        let at = |column: usize, row: usize| {
            let index = row * map.columns + column;
            (map.margin_db[index], map.loss_chance[index])
        };
        let (before, behind) = (at(50, 40), at(80, 40));
        assert!(before.0 > 20.0 && before.1 < 0.01, "{before:?}");
        assert!(behind.0 < 0.0 && behind.1 > 0.5, "{behind:?}");
        assert!(map.loss_chance.iter().all(|chance| f64::from(*chance) >= LEAST_CHANCE * 0.999 && *chance <= 1.0));

        let reach = reach_in_directions(&grid, [-100.0, 0.0], MapHeight::AboveGroundM(15.0), 6.0, 2.0, &mean);
        assert!(reach[4].unbroken_m > 150.0 && reach[4].unbroken_m < 320.0, "{:?}", reach[4]);
        assert!(reach[12].to_the_edge());

        let path = |flown: f64| [-100.0 + flown, 0.0, 30.0];
        let along = reach_along(&grid, 2.44e9, PILOT, 550.0, 56, &path, &mean);
        let worst = weakest(&along).unwrap();
        assert!(along[worst].place_m[0] > 110.0 && along[worst].clearance < 0.0, "{:?}", along[worst]);
        assert!(along[likeliest_lost(&along).unwrap()].loss_chance >= along[worst].loss_chance);
        assert!(along[5].clearance > 0.6 && along[5].margin_db > along[worst].margin_db + 20.0);
        let section = ray_section(&grid, 2.44e9, PILOT, along[worst].place_m, 5.0);
        assert!((least_clearance(&section) - along[worst].clearance).abs() < 1e-9);
        assert_eq!((section[0].fresnel_m, section[0].ray_m), (0.0, 1.8));
    }

    #[test]
    fn the_fresnel_zone_is_widest_in_the_middle() {
        let section = ray_section(&site(None), 2.4e9, [-500.0, 0.0, 2.0], [500.0, 0.0, 2.0], 10.0);
        // √(λ d/4) at 1 km, 2.4 GHz: 5.588 m, ITU-R P.526 §2.1.
        assert!((section[50].fresnel_m - 5.588_236).abs() < 1e-5);
        assert!((least_clearance(&section) - 2.0 / 5.588_236).abs() < 1e-5);
    }
}
