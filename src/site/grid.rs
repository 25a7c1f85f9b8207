//! The site as a grid of cells: what is below a place, in one look-up.

use super::plan::{ABOVE_SHIFT, Areas, Cell, INSIDE, Lattice, Lying, MARGIN, Plan, ZoneArea};
use super::terrain::Terrain;
use super::{Area, Obstacle, ObstacleKind, Whose, Zone, ZoneKind};
use std::sync::Arc;

/// Most cells a grid may have when its spacing is chosen here.
pub const CELLS_AT_MOST: f64 = 4.0e6;

/// Spacings offered, in metres.
const SPACINGS_M: [f64; 8] = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0];

/// What a grid is made of.
#[derive(Debug, Clone, Copy)]
pub struct GridInput<'a> {
    /// West, south, east, north edge.
    pub extent_m: [f64; 4],
    /// Spacing, when stated; else chosen by [`spacing_for`].
    pub cell_m: Option<f64>,
    /// Ground heights; `None`: flat at z = 0.
    pub terrain: Option<&'a Terrain>,
    /// Zones; later ones lie on top of earlier ones.
    pub zones: &'a [Zone],
    /// Obstacles.
    pub obstacles: &'a [Obstacle],
    /// The permitted area; `None`: the whole extent.
    pub fence: Option<&'a Area>,
    /// Width of the strip inside the fence.
    pub fence_margin_m: f64,
    /// People per km² where no zone says otherwise.
    pub people_per_km2: f64,
}

/// Ground, obstacles, zones, people and fence as look-ups that cost the same everywhere.
///
/// Areas become cells by their centre; an area too thin or small to hold a centre marks the cells it crosses,
/// so that no wire and no footpath vanishes. The height of the ground is bilinear on the terrain's own grid.
#[derive(Debug, Clone)]
pub struct SiteGrid {
    lattice: Lattice,
    terrain: Option<Terrain>,
    /// Which cell holds what: shared with grids of the same areas.
    plan: Arc<Plan>,
    /// Zones over each other, shared by cells with the same; the first is 'none'.
    layers: Vec<Layers>,
    /// What stands in a cell, shared by cells with the same; the first is 'nothing'.
    columns_above: Vec<Above>,
    spans: Vec<[f32; 2]>,
    /// Height above the ground that nothing reaches above, wires included.
    tallest_m: f32,
    highest_m: f64,
    /// Rise over run that the ground nowhere exceeds.
    steepest: f64,
}

/// A zone at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ZoneAt {
    /// Its place in the list of zones.
    pub zone: u16,
    /// What it is.
    pub kind: ZoneKind,
    /// Whose it is.
    pub whose: Whose,
    /// The place lies in the zone itself; else only within the margin around people.
    pub inside: bool,
}

/// The zones at a place, lowest first, and what follows from them.
#[derive(Debug, Clone)]
struct Layers {
    zones: Vec<ZoneAt>,
    /// That of the topmost that lies there itself.
    kind: ZoneKind,
    /// Of the topmost zone that has any people.
    people_per_km2: f32,
    /// One of them, or the margin of one, is of people.
    among_people: bool,
}

impl Layers {
    /// Zones over each other in a site.
    fn of(lying: &[Lying], input: &GridInput, spread_m2: &[f64]) -> Layers {
        let mut layers = Layers {
            zones: Vec::new(),
            kind: ZoneKind::Clear,
            people_per_km2: input.people_per_km2 as f32,
            among_people: false,
        };
        for &Lying { zone: number, inside } in lying {
            let zone = &input.zones[usize::from(number)];
            layers.zones.push(ZoneAt { zone: number, kind: zone.kind, whose: zone.whose, inside });
            layers.among_people |= zone.kind == ZoneKind::People;
            if !inside {
                continue;
            }
            layers.kind = zone.kind;
            if zone.people > 0.0 {
                let spread_m2 = spread_m2[usize::from(number)].max(1e-6);
                layers.people_per_km2 = (zone.people * zone.present_share / spread_m2 * 1e6) as f32;
            }
        }
        layers
    }
}

/// What a place is, as far as a flight counts it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Marks {
    /// In a people zone or within its margin.
    pub among_people: bool,
    /// In the permitted area.
    pub inside_fence: bool,
    /// Inside the fence but within its margin.
    pub in_fence_margin: bool,
}

/// What stands in a cell, above its ground.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Above {
    building_m: f32,
    trees_m: f32,
    first: u32,
    count: u32,
}

/// Finest spacing on offer that keeps a site within [`CELLS_AT_MOST`] cells.
pub fn spacing_for(extent_m: [f64; 4]) -> f64 {
    let (width, height) = (extent_m[2] - extent_m[0], extent_m[3] - extent_m[1]);
    for spacing in SPACINGS_M {
        if (width / spacing).ceil() * (height / spacing).ceil() <= CELLS_AT_MOST {
            return spacing;
        }
    }
    (width * height / CELLS_AT_MOST).sqrt().ceil().max(100.0)
}

/// The grid's own measures: edges, spacing, numbers of cells.
impl std::ops::Deref for SiteGrid {
    type Target = Lattice;

    fn deref(&self) -> &Lattice {
        &self.lattice
    }
}

fn areas_of(input: &GridInput) -> Areas {
    let margin_m = |zone: &Zone| if zone.kind == ZoneKind::People { zone.margin_m } else { 0.0 };
    let zone = |zone: &Zone| ZoneArea { area: zone.area.clone(), margin_m: margin_m(zone) };
    Areas {
        extent_m: input.extent_m,
        cell_m: input.cell_m.unwrap_or_else(|| spacing_for(input.extent_m)),
        zones: input.zones.iter().map(zone).collect(),
        obstacles: input.obstacles.iter().map(|obstacle| obstacle.area.clone()).collect(),
        fence: input.fence.cloned(),
        fence_margin_m: input.fence_margin_m,
    }
}

impl SiteGrid {
    /// Builds the grid. `extent_m` must have a positive width and height.
    pub fn new(input: &GridInput) -> SiteGrid {
        SiteGrid::beside(&[], input)
    }

    /// As [`SiteGrid::new`]; where the areas are those of a grid known already, the two share their cells.
    pub fn beside(known: &[&SiteGrid], input: &GridInput) -> SiteGrid {
        let areas = areas_of(input);
        let plan = match known.iter().find(|known| known.plan.areas == areas) {
            Some(known) => known.plan.clone(),
            None => Arc::new(Plan::new(areas)),
        };
        let layers = plan.layers.iter().map(|lying| Layers::of(lying, input, &plan.spread_m2)).collect();
        let mut spans = Vec::new();
        let columns_above = plan.standing.iter().map(|standing| {
            let mut above = Above { building_m: 0.0, trees_m: 0.0, first: spans.len() as u32, count: 0 };
            for &number in standing {
                let obstacle = &input.obstacles[number as usize];
                let height_m = obstacle.height_m as f32;
                spans.push([obstacle.base_m as f32, height_m]);
                above.count += 1;
                match obstacle.kind {
                    ObstacleKind::Building => above.building_m = above.building_m.max(height_m),
                    ObstacleKind::Trees => above.trees_m = above.trees_m.max(height_m),
                    ObstacleKind::Wire => {}
                }
            }
            above
        });
        let columns_above: Vec<Above> = columns_above.collect();
        let (lattice, terrain) = (plan.lattice, input.terrain.cloned());
        let standing_m =
            columns_above.iter().fold(0.0, |most: f32, above| most.max(above.building_m).max(above.trees_m));
        let highest_m = terrain.as_ref().map_or(0.0, Terrain::highest_m) + f64::from(standing_m);
        let tallest_m = spans.iter().fold(0.0, |most: f32, [_, top_m]| most.max(*top_m));
        let steepest = terrain.as_ref().map_or(0.0, Terrain::steepest);
        SiteGrid { lattice, terrain, plan, layers, columns_above, spans, tallest_m, highest_m, steepest }
    }

    /// What lies at a place; `None` beyond the edge.
    #[inline]
    fn cell(&self, x_m: f64, y_m: f64) -> Option<Cell> {
        self.lattice.square_of(x_m, y_m).map(|square| self.plan.at(square))
    }

    /// Zones of the nearest cell (NaN counts as the south-west corner).
    #[inline]
    fn layers_at(&self, x_m: f64, y_m: f64) -> &Layers {
        &self.layers[self.plan.at(self.lattice.nearest(x_m, y_m)).layers as usize]
    }

    #[inline]
    fn above(&self, x_m: f64, y_m: f64) -> Above {
        self.cell(x_m, y_m)
            .map_or(self.columns_above[0], |cell| self.columns_above[(cell.mark >> ABOVE_SHIFT) as usize])
    }

    /// z of the ground: bilinear, constant beyond the edges of the terrain.
    #[inline]
    pub fn ground_m(&self, x_m: f64, y_m: f64) -> f64 {
        self.terrain.as_ref().map_or(0.0, |terrain| terrain.ground_m(x_m, y_m))
    }

    /// z of the top of what stands there (buildings, trees), else of the ground.
    #[inline]
    pub fn surface_m(&self, x_m: f64, y_m: f64) -> f64 {
        let above = self.above(x_m, y_m);
        self.ground_m(x_m, y_m) + f64::from(above.building_m.max(above.trees_m))
    }

    /// Heights above the ground of the buildings and of the trees in a cell, 0 for none. Needs no ground.
    #[inline]
    pub fn standing_m(&self, x_m: f64, y_m: f64) -> [f64; 2] {
        let above = self.above(x_m, y_m);
        [f64::from(above.building_m), f64::from(above.trees_m)]
    }

    /// z of the ground or of a building's top: what no radio wave passes.
    #[inline]
    pub fn opaque_m(&self, x_m: f64, y_m: f64) -> f64 {
        self.ground_m(x_m, y_m) + f64::from(self.above(x_m, y_m).building_m)
    }

    /// z of the tree tops, else of the ground.
    #[inline]
    pub fn canopy_m(&self, x_m: f64, y_m: f64) -> f64 {
        self.ground_m(x_m, y_m) + f64::from(self.above(x_m, y_m).trees_m)
    }

    /// z of building and tree tops, as [`SiteGrid::opaque_m`] and [`SiteGrid::canopy_m`] give them.
    #[inline]
    pub fn opaque_and_canopy_m(&self, x_m: f64, y_m: f64) -> [f64; 2] {
        let (ground_m, above) = (self.ground_m(x_m, y_m), self.above(x_m, y_m));
        [above.building_m, above.trees_m].map(|up_m| ground_m + f64::from(up_m))
    }

    /// z that no ground, building or tree top of the site reaches above.
    pub fn highest_m(&self) -> f64 {
        self.highest_m
    }

    /// What stands at a place, wires included: underside and top of each above the ground.
    #[inline]
    fn spans_at(&self, x_m: f64, y_m: f64) -> &[[f32; 2]] {
        let above = self.above(x_m, y_m);
        &self.spans[above.first as usize..(above.first + above.count) as usize]
    }

    /// z of the top of whatever stands there, wires included, else of the ground.
    pub fn top_m(&self, x_m: f64, y_m: f64) -> f64 {
        let highest = self.spans_at(x_m, y_m).iter().fold(0.0, |most: f32, [_, top]| most.max(*top));
        self.ground_m(x_m, y_m) + f64::from(highest)
    }

    /// Whether the place is inside an obstacle (between its underside and its top) or below the ground.
    #[inline]
    pub fn struck(&self, [x_m, y_m, z_m]: [f64; 3]) -> bool {
        let height_m = (z_m - self.ground_m(x_m, y_m)) as f32;
        height_m < 0.0 || any_reaches(self.spans_at(x_m, y_m), height_m)
    }

    /// Whether the place is inside an obstacle. Few places have any, and only there is the ground looked up.
    #[inline]
    pub fn in_obstacle(&self, [x_m, y_m, z_m]: [f64; 3]) -> bool {
        let spans = self.spans_at(x_m, y_m);
        !spans.is_empty() && any_reaches(spans, (z_m - self.ground_m(x_m, y_m)) as f32)
    }

    /// Whether neither ground nor obstacle comes up to `z_m` anywhere within `reach_m` of a place with its ground at `ground_m`, as far as
    /// the steepest ground and the tallest obstacle of the site tell: where this is false, only a look-up decides.
    #[inline]
    pub fn is_clear_of_all(&self, z_m: f64, ground_m: f64, reach_m: f64) -> bool {
        z_m - ground_m - self.steepest * reach_m > f64::from(self.tallest_m)
    }

    /// Marks of the place in one look-up.
    #[inline]
    pub fn marks(&self, x_m: f64, y_m: f64) -> Marks {
        let (nearest, beyond_edge) = match self.lattice.square_of(x_m, y_m) {
            Some(square) => (square, false),
            None => (self.lattice.nearest(x_m, y_m), true),
        };
        let cell = self.plan.at(nearest);
        let fence = if beyond_edge { 0 } else { cell.mark };
        Marks {
            among_people: self.layers[cell.layers as usize].among_people,
            inside_fence: fence & INSIDE != 0,
            in_fence_margin: fence & MARGIN != 0,
        }
    }

    /// What the ground is; beyond the edge, what it is at the nearest cell.
    #[inline]
    pub fn kind(&self, x_m: f64, y_m: f64) -> ZoneKind {
        self.layers_at(x_m, y_m).kind
    }

    /// People per km²: those of the topmost zone that has any, else of the surroundings.
    #[inline]
    pub fn people_per_km2(&self, x_m: f64, y_m: f64) -> f64 {
        f64::from(self.layers_at(x_m, y_m).people_per_km2)
    }

    /// The zones that lie at a place or have it in their margin, lowest first; beyond the edge, those of the nearest cell.
    pub fn zones_at(&self, x_m: f64, y_m: f64) -> &[ZoneAt] {
        &self.layers_at(x_m, y_m).zones
    }

    /// Steepness of the ground.
    pub fn slope_rad(&self, x_m: f64, y_m: f64) -> f64 {
        self.terrain.as_ref().map_or(0.0, |terrain| terrain.slope_rad(x_m, y_m))
    }

    /// Whether there is no terrain: the ground is z = 0 everywhere.
    pub fn is_flat(&self) -> bool {
        self.terrain.is_none()
    }

    /// Whether anything stands on the ground.
    pub fn has_obstacles(&self) -> bool {
        self.columns_above.len() > 1
    }

    /// The terrain, when there is one.
    pub fn terrain(&self) -> Option<&Terrain> {
        self.terrain.as_ref()
    }
}

/// Whether a height above the ground lies between the underside and the top of one of these.
#[inline]
fn any_reaches(spans: &[[f32; 2]], height_agl_m: f32) -> bool {
    spans.iter().any(|[base_m, top_m]| *base_m <= height_agl_m && height_agl_m <= *top_m)
}

#[cfg(test)]
mod tests {
    use super::super::plan::Square;
    use super::*;

    impl SiteGrid {
        /// Whether the cells are there once for both.
        pub(crate) fn shares_cells_with(&self, other: &SiteGrid) -> bool {
            Arc::ptr_eq(&self.plan, &other.plan)
        }
    }

    fn zone(kind: ZoneKind, area: Area) -> Zone {
        let (whose, hours_utc) = (Whose::Others, None);
        Zone { name: String::new(), kind, whose, area, people: 0.0, present_share: 1.0, hours_utc, margin_m: 0.0 }
    }

    fn rectangle(west: f64, south: f64, east: f64, north: f64) -> Area {
        Area::Polygon(vec![[west, south], [east, south], [east, north], [west, north]])
    }

    fn input<'a>(zones: &'a [Zone], obstacles: &'a [Obstacle]) -> GridInput<'a> {
        GridInput {
            extent_m: [-100.0, -50.0, 100.0, 50.0],
            cell_m: Some(1.0),
            terrain: None,
            zones,
            obstacles,
            fence: None,
            fence_margin_m: 0.0,
            people_per_km2: 5.0,
        }
    }

    fn marked(grid: &SiteGrid, kind: ZoneKind) -> usize {
        let mut count = 0;
        for row in 0..grid.rows {
            for column in 0..grid.columns {
                let centre = grid.centre_of(row * grid.columns + column);
                count += usize::from(grid.kind(centre[0], centre[1]) == kind);
            }
        }
        count
    }

    #[test]
    fn spacing_follows_the_size() {
        assert_eq!(spacing_for([0.0, 0.0, 600.0, 600.0]), 0.5);
        assert_eq!(spacing_for([0.0, 0.0, 2000.0, 2000.0]), 1.0);
        assert_eq!(spacing_for([0.0, 0.0, 2001.0, 2000.0]), 2.0);
        for size in [10.0, 999.0, 12_345.0, 9e5, 3e6] {
            let spacing = spacing_for([0.0, 0.0, size, size]);
            assert!((size / spacing).ceil().powi(2) <= 1.01 * CELLS_AT_MOST, "{size}");
        }
    }

    #[test]
    fn areas_become_cells_by_their_centre_and_later_zones_lie_on_top() {
        let zones = [
            zone(ZoneKind::Water, rectangle(0.0, 0.0, 20.0, 10.0)),
            zone(ZoneKind::Road, rectangle(10.0, 0.0, 30.0, 10.0)),
            zone(ZoneKind::Rough, Area::Circle { centre_m: [-50.0, 0.0], radius_m: 20.0 }),
        ];
        let grid = SiteGrid::new(&input(&zones, &[]));
        assert_eq!((grid.columns, grid.rows), (200, 100));
        assert_eq!(marked(&grid, ZoneKind::Water), 100);
        assert_eq!(marked(&grid, ZoneKind::Road), 200);
        // π 20² = 1256.6 cells.
        assert!(marked(&grid, ZoneKind::Rough).abs_diff(1257) < 15);
        assert_eq!(grid.kind(5.0, 5.0), ZoneKind::Water);
        assert_eq!(grid.kind(15.0, 5.0), ZoneKind::Road);
        assert_eq!(grid.kind(5.0, 20.0), ZoneKind::Clear);
    }

    #[test]
    fn thin_and_small_things_never_vanish() {
        let wire = Area::Strip { line_m: vec![[-90.0, -40.0], [90.0, 37.0]], width_m: 0.02 };
        let mast = Area::Circle { centre_m: [3.3, 3.3], radius_m: 0.05 };
        let sliver = rectangle(-80.0, 20.1, 80.0, 20.2);
        for area in [wire, mast, sliver] {
            let zones = [zone(ZoneKind::Road, area.clone())];
            let grid = SiteGrid::new(&input(&zones, &[]));
            let on = match &area {
                Area::Strip { line_m, .. } => (0..=1000)
                    .map(|i| {
                        let t = f64::from(i) / 1000.0;
                        let (a, b) = (line_m[0], line_m[1]);
                        [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
                    })
                    .collect(),
                other => vec![other.middle_m()],
            };
            for point in on {
                assert_eq!(grid.kind(point[0], point[1]), ZoneKind::Road, "{area:?} at {point:?}");
            }
        }
    }

    #[test]
    fn heads_are_kept_when_people_become_a_density() {
        let mut field = zone(ZoneKind::People, rectangle(0.0, 0.0, 40.0, 25.0));
        (field.people, field.present_share, field.margin_m) = (30.0, 0.5, 5.0);
        let mut path =
            zone(ZoneKind::People, Area::Strip { line_m: vec![[-90.0, -30.0], [90.0, -20.0]], width_m: 0.4 });
        path.people = 8.0;
        let zones = [field, path];
        let grid = SiteGrid::new(&input(&zones, &[]));
        // 15 people on 1000 m² are 15 000 per km².
        assert!((grid.people_per_km2(20.0, 10.0) - 15_000.0).abs() < 1e-2);
        assert_eq!(grid.people_per_km2(-50.0, 40.0), 5.0);
        let mut heads = 0.0;
        for index in 0..grid.rows * grid.columns {
            let square = Square { column: index % grid.columns, row: index / grid.columns };
            let density = f64::from(grid.layers[grid.plan.at(square).layers as usize].people_per_km2);
            heads += if density > 5.0 { density * 1e-6 } else { 0.0 };
        }
        assert!((heads - 23.0).abs() < 0.01, "{heads}");
        assert!(grid.marks(43.0, 10.0).among_people && !grid.marks(46.5, 10.0).among_people);
        assert_eq!(grid.kind(43.0, 10.0), ZoneKind::Clear);
        let zones_at = |x, y| grid.zones_at(x, y).iter().map(|at| (at.zone, at.inside)).collect::<Vec<_>>();
        assert_eq!((zones_at(20.0, 10.0), zones_at(43.0, 10.0)), (vec![(0, true)], vec![(0, false)]));
        assert_eq!(zones_at(46.5, 10.0), []);
    }

    #[test]
    fn obstacles_are_struck_between_base_and_top() {
        let obstacle = |kind, area, base_m, height_m| Obstacle { name: String::new(), kind, area, height_m, base_m };
        let obstacles = [
            obstacle(ObstacleKind::Building, rectangle(0.0, 0.0, 10.0, 10.0), 0.0, 12.0),
            obstacle(ObstacleKind::Trees, rectangle(5.0, 0.0, 20.0, 10.0), 0.0, 18.0),
            obstacle(
                ObstacleKind::Wire,
                Area::Strip { line_m: vec![[-50.0, -40.0], [-50.0, 40.0]], width_m: 0.05 },
                8.0,
                9.0,
            ),
        ];
        let grid = SiteGrid::new(&input(&[], &obstacles));
        assert_eq!((grid.surface_m(2.0, 5.0), grid.opaque_m(2.0, 5.0), grid.canopy_m(2.0, 5.0)), (12.0, 12.0, 0.0));
        assert_eq!((grid.surface_m(7.0, 5.0), grid.opaque_m(7.0, 5.0), grid.canopy_m(7.0, 5.0)), (18.0, 12.0, 18.0));
        assert_eq!((grid.surface_m(15.0, 5.0), grid.opaque_m(15.0, 5.0), grid.canopy_m(15.0, 5.0)), (18.0, 0.0, 18.0));
        assert_eq!(grid.surface_m(-50.0, 0.0), 0.0);
        assert!(grid.struck([2.0, 5.0, 11.0]) && !grid.struck([2.0, 5.0, 12.5]));
        assert!(grid.struck([-49.9, 0.0, 8.5]) && !grid.struck([-49.9, 0.0, 5.0]) && !grid.struck([-49.9, 0.0, 10.0]));
        assert!(grid.struck([50.0, 0.0, -0.1]) && !grid.struck([50.0, 0.0, 0.1]));
        // The ground is no obstacle; what stands on it is one from there up.
        assert!(!grid.in_obstacle([50.0, 0.0, -0.1]) && !grid.in_obstacle([2.0, 5.0, -0.1]));
        assert!(grid.in_obstacle([2.0, 5.0, 11.0]) && !grid.in_obstacle([2.0, 5.0, 12.5]));
        assert!(grid.in_obstacle([-49.9, 0.0, 8.5]) && !grid.in_obstacle([-49.9, 0.0, 5.0]));
        assert!(grid.has_obstacles() && grid.is_flat());
    }

    #[test]
    fn fence_and_its_margin() {
        let fence = rectangle(-60.0, -30.0, 60.0, 30.0);
        let mut plain = input(&[], &[]);
        (plain.fence, plain.fence_margin_m) = (Some(&fence), 10.0);
        let grid = SiteGrid::new(&plain);
        assert!(grid.marks(0.0, 0.0).inside_fence && !grid.marks(0.0, 0.0).in_fence_margin);
        assert!(grid.marks(55.0, 0.0).inside_fence && grid.marks(55.0, 0.0).in_fence_margin);
        assert!(!grid.marks(65.0, 0.0).inside_fence && !grid.marks(65.0, 0.0).in_fence_margin);
        let open = SiteGrid::new(&input(&[], &[]));
        assert!(open.marks(99.0, 49.0).inside_fence && !open.marks(101.0, 0.0).inside_fence);
    }

    #[test]
    fn profiles_hold_both_ends() {
        let terrain = Terrain {
            file: "slope.asc".into(),
            west_m: -100.0,
            south_m: -50.0,
            cell_m: 50.0,
            columns: 5,
            rows: 3,
            height_m: (0..15).map(|index| (index % 5) as f32 * 5.0 + (index / 5) as f32 * 20.0).collect(),
        };
        let mut sloped = input(&[], &[]);
        sloped.terrain = Some(&terrain);
        let grid = SiteGrid::new(&sloped);
        // 5 m per 50 m to the east, 20 m per 50 m to the north: z = (x + 100)/10 + 0.4 (y + 50).
        assert!((grid.ground_m(-37.0, 12.0) - (6.3 + 24.8)).abs() < 1e-5);
        assert!((grid.slope_rad(0.0, 0.0) - libm::atan(0.17f64.sqrt())).abs() < 1e-6);
        assert_eq!(grid.ground_m(500.0, 500.0), 60.0);
    }

    mod laws {
        use super::*;
        use proptest::prelude::*;
        use proptest::test_runner::RngSeed;

        /// A polygon around a middle that does not cross itself: radii in rising directions.
        fn star() -> impl Strategy<Value = Area> {
            (-30.0..30.0f64, -20.0..20.0f64, prop::collection::vec(3.0..25.0f64, 3..12)).prop_map(|(x, y, radii)| {
                let count = radii.len() as f64;
                let corner = |(index, radius): (usize, &f64)| {
                    let angle = std::f64::consts::TAU * index as f64 / count;
                    [x + radius * libm::cos(angle), y + radius * libm::sin(angle)]
                };
                Area::Polygon(radii.iter().enumerate().map(corner).collect())
            })
        }

        fn grown(area: &Area, by_m: f64) -> Area {
            match area {
                Area::Circle { centre_m, radius_m } => Area::Circle { centre_m: *centre_m, radius_m: radius_m + by_m },
                Area::Strip { line_m, width_m } => {
                    Area::Strip { line_m: line_m.clone(), width_m: width_m + 2.0 * by_m }
                }
                Area::Polygon(_) => unreachable!("strips and discs only"),
            }
        }

        fn strip_or_disc() -> impl Strategy<Value = Area> {
            let point = || (-120.0..120.0f64, -70.0..70.0f64).prop_map(|(x, y)| [x, y]);
            prop_oneof![
                (prop::collection::vec(point(), 2..6), 0.01..9.0f64)
                    .prop_map(|(line_m, width_m)| Area::Strip { line_m, width_m }),
                (point(), 0.01..30.0f64).prop_map(|(centre_m, radius_m)| Area::Circle { centre_m, radius_m }),
            ]
        }

        proptest! {
            #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, rng_seed: RngSeed::Fixed(20_260_516), ..ProptestConfig::default() })]

            /// Cells of a broad polygon are exactly those whose centre it contains.
            #[test]
            fn polygons_mark_the_centres_they_contain(area in star()) {
                prop_assert!(area.self_crossing().is_none());
                let zones = [zone(ZoneKind::Water, area.clone())];
                let grid = SiteGrid::new(&input(&zones, &[]));
                for row in 0..grid.rows {
                    for column in 0..grid.columns {
                        let centre = grid.centre_of(row * grid.columns + column);
                        let water = grid.kind(centre[0], centre[1]) == ZoneKind::Water;
                        if area.edge_distance_m(centre) > 1e-9 {
                            prop_assert_eq!(water, area.contains(centre), "{:?}", centre);
                        }
                    }
                }
            }

            /// Strips and discs mark every centre they contain, none further than a cell away, and all of their middle line.
            #[test]
            fn strips_and_discs_mark_what_they_cover(area in strip_or_disc()) {
                let zones = [zone(ZoneKind::Road, area.clone())];
                let grid = SiteGrid::new(&input(&zones, &[]));
                for row in 0..grid.rows {
                    for column in 0..grid.columns {
                        let centre = grid.centre_of(row * grid.columns + column);
                        let road = grid.kind(centre[0], centre[1]) == ZoneKind::Road;
                        let away = area.distance_m(centre);
                        prop_assert!(!road || away <= 0.7072, "{:?} is {} m away", centre, away);
                        prop_assert!(road || away > 0.0, "{:?} is inside", centre);
                    }
                }
            }

            /// Where a grid says that all is clear, nothing stands within the reach asked about.
            #[test]
            fn what_is_clear_of_all_meets_nothing(
                heights in prop::collection::vec(0.0..60.0f32, 15),
                at in (-100.0..100.0f64, -50.0..50.0f64),
                up_m in 0.0..90.0f64,
                reach_m in 0.0..15.0f64,
            ) {
                let terrain = Terrain {
                    file: "hills.asc".into(),
                    west_m: -100.0,
                    south_m: -50.0,
                    cell_m: 50.0,
                    columns: 5,
                    rows: 3,
                    height_m: heights.into(),
                };
                let wood = [Obstacle {
                    name: String::new(),
                    kind: ObstacleKind::Trees,
                    area: rectangle(-100.0, -50.0, 100.0, 50.0),
                    height_m: 12.0,
                    base_m: 0.0,
                }];
                let mut hilly = input(&[], &wood);
                hilly.terrain = Some(&terrain);
                let grid = SiteGrid::new(&hilly);
                let ground_m = grid.ground_m(at.0, at.1);
                let z_m = ground_m + up_m;
                let clear = grid.is_clear_of_all(z_m, ground_m, reach_m);
                prop_assert!(!clear || up_m > 12.0, "clear among the tops of the trees");
                for k in 0..64 {
                    let (angle, away_m) = (f64::from(k), reach_m * f64::from(k % 4 + 1) / 4.0);
                    let (x, y) = (at.0 + away_m * libm::cos(angle), at.1 + away_m * libm::sin(angle));
                    prop_assert!(!clear || !grid.struck([x, y, z_m + 1e-6]), "something stands at {x}, {y}");
                }
            }

            /// A strip or a disc grown by the distance of a point reaches the point.
            #[test]
            fn distance_is_what_growing_needs(area in strip_or_disc(), x in -150.0..150.0f64, y in -100.0..100.0f64) {
                let away = area.distance_m([x, y]);
                if away > 0.0 {
                    prop_assert!(grown(&area, away + 1e-6).contains([x, y]));
                    prop_assert!(!grown(&area, away - 1e-6).contains([x, y]) || away < 1e-6);
                }
            }
        }
    }

    /// Beside a grid of the same areas, whatever else differs, a grid is as it would be alone, with the same cells in memory; beside
    /// one of other areas it has cells of its own.
    #[test]
    fn grids_of_the_same_areas_share_their_cells() {
        let path = Area::Strip { line_m: vec![[-100.0, 3.0], [100.0, -2.0]], width_m: 0.6 };
        let mut zones = vec![
            zone(ZoneKind::Water, rectangle(-90.0, -40.0, -20.0, 40.0)),
            Zone { people: 4.0, margin_m: 6.0, ..zone(ZoneKind::People, path) },
        ];
        let wood = |height_m: f64| Obstacle {
            name: String::new(),
            kind: ObstacleKind::Trees,
            area: rectangle(-30.0, -10.0, 30.0, 30.0),
            height_m,
            base_m: 0.0,
        };
        let house = Obstacle { kind: ObstacleKind::Building, area: rectangle(0.0, 0.0, 9.0, 9.0), ..wood(7.0) };
        let first_obstacles = [wood(18.0), house.clone()];
        let first = SiteGrid::new(&input(&zones, &first_obstacles));
        (zones[1].people, zones[1].whose, zones[0].margin_m) = (9.0, Whose::Crew, 3.0);
        let obstacles = [wood(21.0), house];
        let alone = SiteGrid::new(&input(&zones, &obstacles));
        let beside = SiteGrid::beside(&[&first], &input(&zones, &obstacles));
        assert!(Arc::ptr_eq(&beside.plan, &first.plan) && !Arc::ptr_eq(&alone.plan, &first.plan));
        let mut met = 0;
        for index in 0..alone.rows * alone.columns {
            let [x_m, y_m] = alone.centre_of(index);
            assert_eq!(alone.zones_at(x_m, y_m), beside.zones_at(x_m, y_m));
            assert_eq!(alone.marks(x_m, y_m), beside.marks(x_m, y_m));
            assert_eq!(alone.kind(x_m, y_m), beside.kind(x_m, y_m));
            assert_eq!(alone.people_per_km2(x_m, y_m), beside.people_per_km2(x_m, y_m));
            assert_eq!(alone.spans_at(x_m, y_m), beside.spans_at(x_m, y_m));
            assert_eq!(alone.standing_m(x_m, y_m), beside.standing_m(x_m, y_m));
            met += usize::from(beside.standing_m(x_m, y_m) == [7.0, 21.0]);
        }
        assert_eq!(met, 81);
        zones[1].margin_m = 7.0;
        let wider = SiteGrid::beside(&[&first, &alone], &input(&zones, &obstacles));
        assert!(!Arc::ptr_eq(&wider.plan, &first.plan) && !Arc::ptr_eq(&wider.plan, &alone.plan));
    }
}
