//! What ground, buildings and trees take from a link, for every place over the site.

use crate::radio::OutOfRange;
use crate::radio::diffraction::{
    CLEAR, GroundConstants, TerrainColumn, TerrainMethod, knife_edge_loss_db, side_edge_db,
};
use crate::radio::free_space::{MEDIAN_EARTH_RADIUS_M, WavePolarisation};
use crate::radio::vegetation::Woodland;
use crate::site::SiteGrid;
use crate::units::{db_from_ratio, ratio_from_db};
use std::sync::{Arc, OnceLock};

/// What the deterministic part of the path loses beside free space.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Excess {
    /// Diffraction over ground and buildings, ≥ 0.
    pub diffraction_db: f64,
    /// Trees, ≥ 0.
    pub vegetation_db: f64,
    /// How far the straight line is cut by ground or buildings, 0 (free) to 1 (cut).
    pub blocked: f64,
}

impl Excess {
    /// Both losses.
    pub fn total_db(&self) -> f64 {
        self.diffraction_db + self.vegetation_db
    }
}

/// How a [`LinkField`] is worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldOptions {
    /// Highest place of interest, as z; the field reaches at least one level above it.
    pub top_m: f64,
    /// Polarisation of the link against the ground.
    pub polarisation: WavePolarisation,
    /// Whether trees are in leaf.
    pub in_leaf: bool,
    /// Spacing of the field's nodes over the ground and upwards; `None`: chosen by [`spacing_for`].
    pub spacing_m: Option<[f64; 2]>,
}

/// Spacing of nodes for a site: a hundredth of its longer side (5 to 100 m), upwards half of that (5 to 10 m).
///
/// A 2 km site gets 20 m by 10 m.
pub fn spacing_for(extent_m: [f64; 4]) -> [f64; 2] {
    let side = (extent_m[2] - extent_m[0]).max(extent_m[3] - extent_m[1]);
    let across = (side / 100.0).clamp(5.0, 100.0);
    [across, (0.5 * across).clamp(5.0, 10.0)]
}

/// Height above the ground for which the lowest level is computed: on the ground itself diffraction has no end.
const LOWEST_M: f64 = 1.0;

/// Diffraction, vegetation, blocked, and a spare that makes the node as wide as a vector register.
type Node = [f32; 4];

/// Cells of the field along either side of a patch.
const PATCH: usize = 4;
/// Columns of nodes along either side of a patch: its cells with both their edges.
const PATCH_SIDE: usize = PATCH + 1;

/// Losses beside free space from one antenna to every place over a site, on a grid that follows the ground.
///
/// The grid is worked out in patches of a few cells, each when a place in it is first asked for: flights pass over a small part of a
/// site. Neighbouring patches hold the nodes between them twice, so that a place is answered from one patch. What a patch holds
/// depends on nothing but its place.
///
/// Over terrain the ground counts by the delta-Bullington method; buildings count as edges, at most three of
/// them and without surcharge, ways around their sides included. Where both stand in the way the greater of the two
/// counts, never their sum: the edge method then has the terrain among its edges. Trees count by the length of the ray
/// in the canopy, at most what they add to the edges in the way and never more than they would if nothing passed them;
/// what stands on a crest that cuts the ray only raises the crest. Trees are left out of the terrain.
///
/// On a site without terrain the ground takes nothing here: there the ray off flat ground
/// hold the whole effect of the ground, and diffraction over it would count it twice. Beyond some 5 km the Earth's bulge
/// (1.5 m at 10 km) is then missed.
///
/// # Source
/// ITU-R P.526 §4, P.1812 §4.3, P.833 §2; ways around a finite screen: P.526 §5.1 (from memory), their powers summed.
#[derive(Debug, Clone)]
pub struct LinkField {
    tracer: Tracer,
    frequency_hz: f64,
    west_m: f64,
    south_m: f64,
    across_m: [f64; 2],
    per_across: [f64; 2],
    up_m: f64,
    per_level: f64,
    columns: usize,
    rows: usize,
    levels: usize,
    /// Greatest coordinate in node spacings.
    last: [f32; 3],
    /// Ground under each column of nodes.
    ground_m: Vec<f32>,
    /// Patches in a row of them.
    patch_columns: usize,
    /// Row by row from the south, west to east; in a patch its columns of nodes in the same order, each upwards.
    patches: Vec<OnceLock<Box<[Node]>>>,
}

impl LinkField {
    /// The field of an antenna at `antenna_m` (z up, not above ground) at a frequency.
    ///
    /// # Errors
    /// A frequency outside 100 MHz to 6 GHz.
    pub fn new(
        grid: &Arc<SiteGrid>,
        antenna_m: [f64; 3],
        frequency_hz: f64,
        options: &FieldOptions,
    ) -> Result<LinkField, OutOfRange> {
        let tracer = Tracer::new(grid, antenna_m, frequency_hz, options)?;
        let extent = grid.extent_m();
        let [across, up_m] = options.spacing_m.unwrap_or_else(|| spacing_for(extent));
        let count = |length: f64| ((length / across).ceil() as usize).max(1) + 1;
        let (width, height) = (extent[2] - extent[0], extent[3] - extent[1]);
        let (columns, rows) = (count(width), count(height));
        let across_m = [width / (columns - 1) as f64, height / (rows - 1) as f64];
        let mut field = LinkField {
            tracer,
            frequency_hz,
            west_m: extent[0],
            south_m: extent[1],
            across_m,
            per_across: across_m.map(|m| 1.0 / m),
            up_m,
            per_level: 1.0 / up_m,
            columns,
            rows,
            levels: 0,
            last: [0.0; 3],
            ground_m: Vec::new(),
            patch_columns: (columns - 1).div_ceil(PATCH),
            patches: vec![OnceLock::new(); (columns - 1).div_ceil(PATCH) * (rows - 1).div_ceil(PATCH)],
        };
        let ground_at = |index: usize| {
            let [x, y] = field.foot_m(index % columns, index / columns);
            grid.ground_m(x, y) as f32
        };
        field.ground_m = (0..rows * columns).map(ground_at).collect();
        let lowest = field.ground_m.iter().copied().fold(f32::INFINITY, f32::min);
        field.levels = (((options.top_m - f64::from(lowest)) / up_m).ceil().max(1.0) as usize) + 2;
        field.last = [columns, rows, field.levels].map(|count| (count - 1) as f32);
        Ok(field)
    }

    /// x and y of a column of nodes.
    fn foot_m(&self, column: usize, row: usize) -> [f64; 2] {
        [self.west_m + self.across_m[0] * column as f64, self.south_m + self.across_m[1] * row as f64]
    }

    /// The nodes of a patch.
    #[cold]
    fn trace(&self, patch: usize) -> Box<[Node]> {
        let (first_row, first_column) = (patch / self.patch_columns * PATCH, patch % self.patch_columns * PATCH);
        let mut nodes: Box<[Node]> = vec![[0.0; 4]; PATCH_SIDE * PATCH_SIDE * self.levels].into();
        let mut scratch = Scratch::default();
        for (index, over) in nodes.chunks_exact_mut(self.levels).enumerate() {
            let (row, column) = (first_row + index / PATCH_SIDE, first_column + index % PATCH_SIDE);
            if row >= self.rows || column >= self.columns {
                continue;
            }
            let ground = f64::from(self.ground_m[row * self.columns + column]);
            self.tracer.aim(self.foot_m(column, row), ground, &mut scratch);
            for (level, value) in over.iter_mut().enumerate() {
                let excess = self.tracer.excess(&mut scratch, ground + (level as f64 * self.up_m).max(LOWEST_M));
                *value = [excess.diffraction_db as f32, excess.vegetation_db as f32, excess.blocked as f32, 0.0];
            }
        }
        nodes
    }

    /// Losses at a place, trilinear between nodes; beyond the grid those of its nearest point.
    #[inline]
    pub fn excess(&self, place_m: [f64; 3]) -> Excess {
        let Along { cell: column, share: tx } =
            Along::of((place_m[0] - self.west_m) * self.per_across[0], self.last[0]);
        let Along { cell: row, share: ty } = Along::of((place_m[1] - self.south_m) * self.per_across[1], self.last[1]);
        let ground = if self.tracer.grid.is_flat() {
            0.0
        } else {
            let at = row * self.columns + column;
            let side = |index: usize| {
                let pair = &self.ground_m[index..index + 2];
                pair[0] + tx * (pair[1] - pair[0])
            };
            let (low, high) = (side(at), side(at + self.columns));
            f64::from(low + ty * (high - low))
        };
        let Along { cell: level, share: tz } = Along::of((place_m[2] - ground) * self.per_level, self.last[2]);
        let patch = row / PATCH * self.patch_columns + column / PATCH;
        let nodes = self.patches[patch].get_or_init(|| self.trace(patch));
        let south = (row % PATCH * PATCH_SIDE + column % PATCH) * self.levels + level;
        let north = south + PATCH_SIDE * self.levels;
        let corner = |index: usize| {
            let pair = &nodes[index..index + 2];
            mix(&pair[0], &pair[1], tz)
        };
        let low = mix(&corner(south), &corner(south + self.levels), tx);
        let high = mix(&corner(north), &corner(north + self.levels), tx);
        let [diffraction, vegetation, blocked, _] = mix(&low, &high, ty);
        Excess {
            diffraction_db: f64::from(diffraction),
            vegetation_db: f64::from(vegetation),
            blocked: f64::from(blocked),
        }
    }

    /// Where the antenna stands.
    pub fn antenna_m(&self) -> [f64; 3] {
        self.tracer.antenna_m
    }

    /// Frequency of the link.
    pub fn frequency_hz(&self) -> f64 {
        self.frequency_hz
    }

    /// Nodes from west to east, from south to north, and upwards.
    pub fn shape(&self) -> [usize; 3] {
        [self.columns, self.rows, self.levels]
    }

    /// Spacing of nodes eastwards, northwards and upwards.
    pub fn spacing_m(&self) -> [f64; 3] {
        [self.across_m[0], self.across_m[1], self.up_m]
    }
}

/// The point between two nodes.
#[inline(always)]
fn mix(a: &Node, b: &Node, share: f32) -> Node {
    // Written out: a closure over the array is not inlined here.
    let at = |k: usize| a[k] + share * (b[k] - a[k]);
    [at(0), at(1), at(2), at(3)]
}

/// A place along one axis of the grid: its cell, and the share of the cell before it.
struct Along {
    cell: usize,
    share: f32,
}

impl Along {
    /// Of a coordinate in node spacings, kept inside the grid; `last` is the greatest coordinate.
    #[inline(always)]
    fn of(coordinate: f64, last: f32) -> Along {
        let x = coordinate as f32;
        let x = if x > 0.0 { x } else { 0.0 };
        let x = if x < last { x } else { last };
        let cell = if x < last { x as i32 } else { last as i32 - 1 };
        Along { cell: cell as usize, share: x - cell as f32 }
    }
}

/// z of the top of what a wave cannot pass at a place.
type Tops = fn(&SiteGrid, f64, f64) -> f64;

/// Exact losses of single paths over a site, without the field's interpolation.
#[derive(Debug, Clone)]
pub struct Tracer {
    grid: Arc<SiteGrid>,
    antenna_m: [f64; 3],
    method: TerrainMethod,
    woodland: Woodland,
    coarse_m: f64,
    obstacle_step_m: f64,
}

/// Spacing of the terrain profile near the antenna, where a low rise is a high edge …
const FINE_M: f64 = 5.0;
/// … and how far that goes.
const FINE_REACH_M: f64 = 200.0;
/// Things lower than this do not stand on the ground.
const STANDS_M: f64 = 0.3;
/// Farthest side of a building that is looked for.
const WIDEST_M: f64 = 120.0;
/// Nearest sample of an obstacle: nearer, the antenna would be in it.
const NEAREST_M: f64 = 0.5;

/// One sample of something on the path.
#[derive(Debug, Clone, Copy)]
struct Sample {
    distance_m: f64,
    ground_m: f64,
    top_m: f64,
    building: bool,
}

/// Buffers of one path; reuse them.
#[derive(Debug, Clone, Default)]
pub struct Scratch {
    distance_m: Vec<f64>,
    height_m: Vec<f64>,
    terrain: TerrainColumn,
    /// The terrain profile between the ends, as edges.
    ground: Vec<Sample>,
    buildings: Vec<Sample>,
    trees: Vec<Sample>,
    /// Buildings and trees, all as if nothing passed them.
    opaque: Vec<Sample>,
    /// What of them stands where the straight line runs in the ground.
    crest: Vec<Sample>,
    /// Trees over the straight line: first where it runs above ground, then where it runs in the ground.
    over: Vec<Sample>,
    foot_m: [f64; 2],
    total_m: f64,
}

impl Tracer {
    /// For an antenna on a site.
    ///
    /// # Errors
    /// A frequency outside 100 MHz to 6 GHz.
    pub fn new(
        grid: &Arc<SiteGrid>,
        antenna_m: [f64; 3],
        frequency_hz: f64,
        options: &FieldOptions,
    ) -> Result<Self, OutOfRange> {
        let woodland = Woodland::mixed_forest(frequency_hz, options.in_leaf)?;
        let method =
            TerrainMethod::new(frequency_hz, MEDIAN_EARTH_RADIUS_M, GroundConstants::LAND, options.polarisation)?;
        Ok(Tracer {
            grid: grid.clone(),
            antenna_m,
            method,
            woodland,
            coarse_m: grid.terrain().map_or(20.0, |terrain| terrain.cell_m.clamp(5.0, 20.0)),
            obstacle_step_m: grid.cell_m.clamp(1.0, 5.0),
        })
    }

    /// Losses to one place.
    pub fn excess_to(&self, place_m: [f64; 3], scratch: &mut Scratch) -> Excess {
        let foot = [place_m[0], place_m[1]];
        self.aim(foot, self.grid.ground_m(foot[0], foot[1]), scratch);
        self.excess(scratch, place_m[2])
    }

    /// Prepares the paths to all heights over one foot point.
    pub fn aim(&self, foot_m: [f64; 2], foot_ground_m: f64, s: &mut Scratch) {
        let (dx, dy) = (foot_m[0] - self.antenna_m[0], foot_m[1] - self.antenna_m[1]);
        let total = (dx * dx + dy * dy).sqrt();
        s.foot_m = foot_m;
        s.total_m = total;
        s.distance_m.clear();
        s.height_m.clear();
        s.ground.clear();
        s.buildings.clear();
        s.trees.clear();
        s.opaque.clear();
        if total < NEAREST_M {
            return;
        }
        let along = |d: f64| [self.antenna_m[0] + dx * (d / total), self.antenna_m[1] + dy * (d / total)];
        if !self.grid.is_flat() {
            let fine_end = total.min(FINE_REACH_M);
            let fine = ((fine_end / FINE_M).ceil() as usize).max(2);
            let coarse = ((total - fine_end) / self.coarse_m).ceil() as usize;
            let mut push = |d: f64| {
                let [x, y] = along(d);
                s.distance_m.push(d);
                s.height_m.push(self.grid.ground_m(x, y));
            };
            (0..=fine).for_each(|i| push(fine_end * i as f64 / fine as f64));
            (1..=coarse).for_each(|i| push(fine_end + (total - fine_end) * i as f64 / coarse as f64));
            if let Some(last) = s.height_m.last_mut() {
                *last = foot_ground_m;
            }
            s.terrain.set(&self.method, &s.distance_m, &s.height_m, self.antenna_m[2]);
            let inner = s.distance_m.iter().zip(&s.height_m).skip(1).take(s.distance_m.len() - 2);
            s.ground.extend(inner.map(|(d, h)| Sample { distance_m: *d, ground_m: *h, top_m: *h, building: false }));
        }
        if self.grid.has_obstacles() {
            let steps = (total / self.obstacle_step_m).ceil();
            let step = total / steps;
            for i in 0..steps as usize {
                let d = (i as f64 + 0.5) * step;
                let [x, y] = along(d);
                let [building_m, trees_m] = self.grid.standing_m(x, y);
                if d < NEAREST_M || building_m.max(trees_m) < STANDS_M {
                    continue;
                }
                let ground = self.grid.ground_m(x, y);
                if building_m > STANDS_M {
                    s.buildings.push(Sample {
                        distance_m: d,
                        ground_m: ground,
                        top_m: ground + building_m,
                        building: true,
                    });
                }
                if trees_m > STANDS_M {
                    s.trees.push(Sample { distance_m: d, ground_m: ground, top_m: ground + trees_m, building: false });
                }
            }
            if !s.trees.is_empty() {
                s.opaque.extend(s.buildings.iter().chain(&s.trees).map(|sample| Sample { building: true, ..*sample }));
            }
        }
    }

    /// Losses at a height z over the foot point that `scratch` was aimed at.
    pub fn excess(&self, s: &mut Scratch, z_m: f64) -> Excess {
        if s.total_m < NEAREST_M {
            return Excess::default();
        }
        let mut excess = Excess::default();
        let half_wave_m = 0.5 * self.method.wavelength_m();
        let ray = Ray { start_m: 0.0, end_m: s.total_m, from_m: self.antenna_m[2], to_m: z_m, half_wave_m };
        if !self.grid.is_flat() {
            excess.diffraction_db = s.terrain.loss_db(&self.method, z_m);
            excess.blocked = if s.terrain.is_blocked(z_m) { 1.0 } else { 0.0 };
        }
        let terrain_db = excess.diffraction_db;
        if ray.worst([&s.buildings, &[]]).is_some_and(|edge| edge.v > CLEAR) {
            if s.buildings.iter().any(|sample| sample.top_m > ray.height_m(sample.distance_m)) {
                excess.blocked = 1.0;
            }
            excess.diffraction_db =
                self.opaque_db(terrain_db, [&s.buildings, &s.ground], &mut s.crest, ray, s.foot_m, SiteGrid::opaque_m);
        }
        if !s.trees.is_empty() {
            let through_db = self.vegetation_db(s, ray);
            if through_db > 0.0 {
                let edges = [&s.opaque[..], &s.ground];
                let opaque_db = self.opaque_db(terrain_db, edges, &mut s.crest, ray, s.foot_m, SiteGrid::surface_m);
                excess.vegetation_db = through_db.min((opaque_db - excess.diffraction_db).max(0.0));
            }
        }
        excess
    }

    /// Terrain with things that nothing passes: the greater of the terrain's own loss and that of the edges of both; on a
    /// crest that cuts the ray they raise the crest. `top_m` tells how high they stand beside the path.
    fn opaque_db(
        &self,
        terrain_db: f64,
        [things, ground]: [&[Sample]; 2],
        crest: &mut Vec<Sample>,
        ray: Ray,
        foot_m: [f64; 2],
        top_m: Tops,
    ) -> f64 {
        let edges_db = |things: &[Sample]| self.edges_db([things, ground], ray, foot_m, top_m);
        let loss_db = terrain_db.max(edges_db(things));
        crest.clear();
        crest.extend(things.iter().filter(|sample| ray.height_m(sample.distance_m) <= sample.ground_m));
        if crest.is_empty() { loss_db } else { loss_db.max(terrain_db + edges_db(crest) - edges_db(&[])) }
    }

    /// Trees: through them or over them, whichever is less. Where the straight line runs in the ground, the wave passes over
    /// the crest, and trees there only raise it.
    fn vegetation_db(&self, s: &mut Scratch, ray: Ray) -> f64 {
        s.over.clear();
        let buried = |sample: &Sample| ray.height_m(sample.distance_m) <= sample.ground_m;
        let over = |sample: &&Sample| ray.height_m(sample.distance_m) < sample.top_m;
        s.over.extend(s.trees.iter().filter(over).filter(|sample| !buried(sample)));
        let split = s.over.len();
        s.over.extend(s.trees.iter().filter(|sample| buried(sample)));
        if s.over.is_empty() {
            return 0.0;
        }
        let steps = (s.total_m / self.obstacle_step_m).ceil();
        let rise = ray.to_m - ray.from_m;
        let step_m = (s.total_m * s.total_m + rise * rise).sqrt() / steps;
        let edges_db = |trees: &[Sample]| self.edges_db([trees, &s.ground], ray, s.foot_m, SiteGrid::opaque_m);
        let bare_db = edges_db(&[]);
        let raised_db = |trees: &[Sample]| (edges_db(trees) - bare_db).max(0.0);
        let (beside, on_crest) = s.over.split_at(split);
        let mut loss = 0.0;
        for trees in [beside, on_crest].into_iter().filter(|trees| !trees.is_empty()) {
            loss += self.woodland.loss_db(trees.len() as f64 * step_m).min(raised_db(trees));
        }
        // Over all of them is a way too.
        if beside.is_empty() || on_crest.is_empty() { loss } else { loss.min(raised_db(&s.over)) }
    }

    /// The worst edge and the worst on either side of it, without surcharge.
    fn edges_db(&self, samples: [&[Sample]; 2], ray: Ray, foot_m: [f64; 2], top_m: Tops) -> f64 {
        let Some(Edge { sample: principal, v: p }) = ray.worst(samples) else { return 0.0 };
        if p <= CLEAR {
            return 0.0;
        }
        let (at, top) = (principal.distance_m, principal.top_m);
        let mut loss = self.with_ways_around_db(principal, knife_edge_loss_db(p), p, ray, foot_m, top_m);
        let before = Ray { to_m: top, end_m: at, ..ray };
        let after = Ray { from_m: top, start_m: at, ..ray };
        for part in [before, after] {
            let Some(Edge { sample: side, v }) = part.worst(samples) else { continue };
            let q = ray.parameter(side);
            let over = side_edge_db(v, p, q, at, side.distance_m, ray.end_m);
            loss += self.with_ways_around_db(side, over, v, part, foot_m, top_m);
        }
        loss
    }

    /// Loss of one edge; for a building the ways around its two sides carry power too.
    fn with_ways_around_db(&self, edge: Sample, over_db: f64, v: f64, ray: Ray, foot_m: [f64; 2], top_m: Tops) -> f64 {
        if !edge.building || over_db <= 0.0 {
            return over_db;
        }
        let per_metre = ray.parameter_per_metre(edge.distance_m);
        // A ray that grazes the top from above has the building at its sides all the same.
        let ray_m = ray.height_m(edge.distance_m).min(edge.top_m - 0.5);
        // A side so far out that it carries next to nothing beside the way over the top need not be found.
        let reach_m = ((v.max(0.0) + 3.0) / per_metre).min(WIDEST_M);
        let (dx, dy) = (foot_m[0] - self.antenna_m[0], foot_m[1] - self.antenna_m[1]);
        let length = (dx * dx + dy * dy).sqrt();
        let (ux, uy) = (dx / length, dy / length);
        let (x, y) = (self.antenna_m[0] + ux * edge.distance_m, self.antenna_m[1] + uy * edge.distance_m);
        let step = self.obstacle_step_m;
        let mut power = ratio_from_db(-over_db);
        for side in [-1.0, 1.0] {
            let mut out = step;
            while out <= reach_m && top_m(&self.grid, x - uy * out * side, y + ux * out * side) > ray_m {
                out += step;
            }
            if out <= reach_m {
                power += ratio_from_db(-knife_edge_loss_db((out - 0.5 * step) * per_metre));
            }
        }
        (-db_from_ratio(power)).max(0.0)
    }
}

/// A sample that stands as an edge against a ray.
struct Edge {
    sample: Sample,
    /// Its Fresnel parameter.
    v: f64,
}

/// A straight line over the profile, between two distances from the antenna.
#[derive(Debug, Clone, Copy)]
struct Ray {
    start_m: f64,
    end_m: f64,
    from_m: f64,
    to_m: f64,
    half_wave_m: f64,
}

impl Ray {
    #[inline]
    fn height_m(&self, distance_m: f64) -> f64 {
        self.from_m + (self.to_m - self.from_m) * ((distance_m - self.start_m) / (self.end_m - self.start_m))
    }

    /// Fresnel parameter per metre of height at a distance.
    #[inline]
    fn parameter_per_metre(&self, distance_m: f64) -> f64 {
        let (d1, d2) = (distance_m - self.start_m, self.end_m - distance_m);
        ((self.end_m - self.start_m) / (self.half_wave_m * d1 * d2)).sqrt()
    }

    #[inline]
    fn parameter(&self, sample: Sample) -> f64 {
        (sample.top_m - self.height_m(sample.distance_m)) * self.parameter_per_metre(sample.distance_m)
    }

    /// The sample with the greatest Fresnel parameter strictly between the ends.
    fn worst(&self, samples: [&[Sample]; 2]) -> Option<Edge> {
        // v |v| up to a factor orders as v does, and needs no root.
        let per_metre = (self.to_m - self.from_m) / (self.end_m - self.start_m);
        let mut best: Option<(Sample, f64)> = None;
        for sample in samples.into_iter().flatten() {
            let (d1, d2) = (sample.distance_m - self.start_m, self.end_m - sample.distance_m);
            if d1 <= 0.0 || d2 <= 0.0 {
                continue;
            }
            let over = sample.top_m - (self.from_m + per_metre * d1);
            let square = over * over.abs() / (d1 * d2);
            if best.is_none_or(|(_, most)| square > most) {
                best = Some((*sample, square));
            }
        }
        best.map(|(sample, _)| Edge { sample, v: self.parameter(sample) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::radio::diffraction::{Edges, knife_edges_exact_db};
    use crate::site::{Area, GridInput, Obstacle, ObstacleKind, Terrain};

    fn rectangle(west: f64, south: f64, east: f64, north: f64) -> Area {
        Area::Polygon(vec![[west, south], [east, south], [east, north], [west, north]])
    }

    fn obstacle(kind: ObstacleKind, area: Area, height_m: f64) -> Obstacle {
        Obstacle { name: String::new(), kind, area, height_m, base_m: 0.0 }
    }

    fn site(terrain: Option<&Terrain>, obstacles: &[Obstacle]) -> Arc<SiteGrid> {
        Arc::new(SiteGrid::new(&GridInput {
            extent_m: [-500.0, -500.0, 500.0, 500.0],
            cell_m: Some(2.0),
            terrain,
            zones: &[],
            obstacles,
            fence: None,
            fence_margin_m: 0.0,
            people_per_km2: 0.0,
        }))
    }

    fn options(top_m: f64) -> FieldOptions {
        FieldOptions { top_m, polarisation: WavePolarisation::Vertical, in_leaf: true, spacing_m: None }
    }

    /// A ridge along y at x = 0, 30 m high and 100 m wide at its foot.
    fn ridge() -> Terrain {
        let height = |x: f64| (30.0 * (1.0 - x.abs() / 50.0)).max(0.0);
        let columns = 101;
        Terrain {
            file: "ridge.asc".into(),
            west_m: -500.0,
            south_m: -500.0,
            cell_m: 10.0,
            columns,
            rows: 101,
            height_m: (0..columns * 101).map(|i| height(-500.0 + 10.0 * (i % columns) as f64) as f32).collect(),
        }
    }

    const PILOT: [f64; 3] = [-400.0, 0.0, 1.5];

    #[test]
    fn over_flat_open_ground_nothing_is_lost_here() {
        let field = LinkField::new(&site(None, &[]), PILOT, 2.44e9, &options(120.0)).unwrap();
        assert!(field.tracer.grid.is_flat());
        for place in [[-400.0, 0.0, 1.5], [480.0, -300.0, 3.0], [0.0, 0.0, 119.0], [9e3, 9e3, 500.0]] {
            assert_eq!(field.excess(place), Excess::default());
        }
    }

    #[test]
    fn a_ridge_shadows_what_lies_behind_it_and_only_that() {
        let terrain = ridge();
        let field = LinkField::new(&site(Some(&terrain), &[]), PILOT, 2.44e9, &options(120.0)).unwrap();
        let behind = field.excess([200.0, 0.0, 10.0]);
        // About 23 m over the ray: v near 5.6, 28 dB for the edge and 10 dB of surcharge.
        assert!(behind.diffraction_db > 30.0 && behind.diffraction_db < 45.0, "{behind:?}");
        assert!(behind.blocked > 0.99);
        let over = field.excess([200.0, 0.0, 100.0]);
        assert!(over.diffraction_db < 0.5 && over.blocked == 0.0, "{over:?}");
        let before = field.excess([-300.0, 50.0, 20.0]);
        assert!(before.diffraction_db < 0.5 && before.blocked == 0.0, "{before:?}");
    }

    #[test]
    fn a_wide_wall_is_one_edge_without_surcharge_and_a_narrow_one_leaks() {
        let wall = |half_width: f64| {
            let area = rectangle(-1.0, -half_width, 1.0, half_width);
            site(None, &[obstacle(ObstacleKind::Building, area, 15.0)])
        };
        let place = [200.0, 0.0, 5.0];
        let loss = |grid: &Arc<SiteGrid>| {
            let tracer = Tracer::new(grid, PILOT, 2.44e9, &options(120.0)).unwrap();
            tracer.excess_to(place, &mut Scratch::default())
        };
        let wide = loss(&wall(490.0));
        let ray = 1.5 + 3.5 * 400.0 / 600.0;
        // Samples stand at 399 and 401 m: a roof 2 m wide, judged by the exact integral.
        let (spacings, heights) = ([399.0, 2.0, 199.0], [15.0 - ray; 2]);
        let exact = knife_edges_exact_db(2.44e9, Edges::new(&spacings, &heights).unwrap()).unwrap();
        assert!(wide.blocked == 1.0 && (wide.diffraction_db - exact).abs() < 1.0, "{wide:?} {exact}");
        let narrow = loss(&wall(6.0));
        assert!(narrow.diffraction_db < wide.diffraction_db - 3.0 && narrow.diffraction_db > 5.0, "{narrow:?}");
    }

    #[test]
    fn trees_cost_their_depth_but_never_more_than_the_way_over_them() {
        let wood = |depth: f64, height: f64| {
            site(None, &[obstacle(ObstacleKind::Trees, rectangle(-depth / 2.0, -490.0, depth / 2.0, 490.0), height)])
        };
        let loss = |grid: &Arc<SiteGrid>, z: f64| {
            let tracer = Tracer::new(grid, PILOT, 868e6, &options(120.0)).unwrap();
            tracer.excess_to([400.0, 0.0, z], &mut Scratch::default())
        };
        let through = Woodland::mixed_forest(868e6, true).unwrap().loss_db(20.0);
        let thin = loss(&wood(20.0, 40.0), 3.0);
        assert!((thin.vegetation_db - through).abs() < 0.3, "{thin:?} {through}");
        assert_eq!((thin.diffraction_db, thin.blocked), (0.0, 0.0));
        // 200 m of canopy 1 m above the ray: the way over the tops is cheaper than 18 dB of leaves.
        let capped = loss(&wood(200.0, 8.0), 10.0);
        let deep = Woodland::mixed_forest(868e6, true).unwrap().loss_db(200.0);
        assert!(capped.vegetation_db < deep - 2.0 && capped.vegetation_db > 5.0, "{capped:?} {deep}");
        assert_eq!(loss(&wood(200.0, 8.0), 90.0).vegetation_db, 0.0);
    }

    #[test]
    fn trees_on_a_ridge_raise_it_and_are_not_waded_through() {
        let terrain = ridge();
        let trees = [obstacle(ObstacleKind::Trees, rectangle(-45.0, -490.0, 45.0, 490.0), 6.0)];
        let (bare, wooded) = (site(Some(&terrain), &[]), site(Some(&terrain), &trees));
        let loss = |grid: &Arc<SiteGrid>, z: f64| {
            let tracer = Tracer::new(grid, PILOT, 2.44e9, &options(120.0)).unwrap();
            tracer.excess_to([200.0, 0.0, z], &mut Scratch::default())
        };
        let (a, b) = (loss(&bare, 5.0), loss(&wooded, 5.0));
        assert_eq!((a.diffraction_db, a.vegetation_db), (b.diffraction_db, 0.0));
        // The ridge stands some 26 m over the ray, with trees 32 m: 20 log(32/26) = 1.8 dB, and a wider crest costs more.
        assert!(b.vegetation_db > 1.0 && b.vegetation_db < 9.0, "{b:?}");
        // High over the ridge there is nothing.
        assert_eq!(loss(&wooded, 110.0).vegetation_db, 0.0);
    }

    #[test]
    fn between_its_nodes_the_field_follows_the_single_path() {
        let terrain = ridge();
        let grid = site(Some(&terrain), &[]);
        let field = LinkField::new(&grid, PILOT, 868e6, &options(120.0)).unwrap();
        let tracer = Tracer::new(&grid, PILOT, 868e6, &options(120.0)).unwrap();
        let mut scratch = Scratch::default();
        let mut errors: Vec<f64> = (0..1000)
            .map(|i| {
                let x = -480.0 + 960.0 * (f64::from(i) * 0.618_034).fract();
                let y = -480.0 + 960.0 * (f64::from(i) * 0.754_878).fract();
                let z = grid.ground_m(x, y) + 15.0 + 80.0 * (f64::from(i) * 0.569_840).fract();
                let exact = tracer.excess_to([x, y, z], &mut scratch).diffraction_db;
                (field.excess([x, y, z]).diffraction_db - exact).abs()
            })
            .collect();
        errors.sort_by(f64::total_cmp);
        // At the shadow's border the loss climbs from 0 to 16 dB within some metres: there a node's spacing shows.
        let mean = errors.iter().sum::<f64>() / errors.len() as f64;
        assert!(mean < 0.3 && errors[950] < 2.0, "mean {mean}, one in twenty above {}", errors[950]);
    }

    #[test]
    fn spacing_follows_the_site() {
        assert_eq!(spacing_for([0.0, 0.0, 2000.0, 2000.0]), [20.0, 10.0]);
        assert_eq!(spacing_for([0.0, 0.0, 400.0, 300.0]), [5.0, 5.0]);
        assert_eq!(spacing_for([0.0, 0.0, 30e3, 1e3]), [100.0, 10.0]);
    }
}
