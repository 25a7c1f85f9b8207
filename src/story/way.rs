//! What stands under the way of a craft, and how closely it passes.

use super::words::{between, high_to, length, level, lies, rounded};
use crate::flight::{Doing, TraceRow};
use crate::risk::words::{named, number};
use crate::site::ObstacleKind;
use crate::world::World;

/// A name is that of an obstacle no farther away than this many cells: the grid draws outlines to a cell.
const NAMED_WITHIN_CELLS: f64 = 1.5;

/// Decimals of heights that are held against each other.
const DECIMALS: usize = 1;

/// What stands on the ground at a place.
pub(super) struct Standing {
    /// What it is, with its name.
    pub(super) what: String,
    /// Whether it is many: trees.
    many: bool,
    /// Its top, above the take-off spot.
    pub(super) top_m: f64,
}

impl Standing {
    /// What stands at a place; `None`: nothing but the ground.
    pub(super) fn at(world: &World, place_m: [f64; 2]) -> Option<Standing> {
        let [x, y] = place_m;
        let grid = &world.grid;
        let top_m = grid.top_m(x, y);
        if top_m <= grid.ground_m(x, y) {
            return None;
        }
        let [building_m, trees_m] = grid.standing_m(x, y);
        let (kind, what) = match () {
            () if trees_m > 0.0 => (ObstacleKind::Trees, "trees"),
            () if building_m > 0.0 => (ObstacleKind::Building, "a building"),
            () => (ObstacleKind::Wire, "a wire or mast"),
        };
        let near = world.scenario.site.obstacles.iter().filter(|obstacle| obstacle.kind == kind);
        let nearest = near
            .map(|obstacle| (obstacle, obstacle.area.distance_m(place_m)))
            .filter(|(_, off_m)| *off_m <= NAMED_WITHIN_CELLS * grid.cell_m)
            .min_by(|a, b| a.1.total_cmp(&b.1).then(b.0.height_m.total_cmp(&a.0.height_m)));
        let name = nearest.map(|(obstacle, _)| obstacle.name.as_str()).filter(|name| !name.is_empty());
        let what = name.map_or(what.into(), |name| format!("{what} ({})", named(&[name])));
        Some(Standing { what, many: kind == ObstacleKind::Trees, top_m: top_m - world.home_m[2] })
    }

    /// Its top in words: `they reach 83 m above take-off there`.
    pub(super) fn reaches(&self) -> String {
        let reach = if self.many { "they reach" } else { "it reaches" };
        format!("{reach} {} there", high_to(self.top_m, DECIMALS))
    }
}

/// The highest top of what stands on the straight line between two places, above the take-off spot; −∞: nothing stands there.
pub(super) fn highest_between(world: &World, from_m: [f64; 2], to_m: [f64; 2]) -> f64 {
    let grid = &world.grid;
    let way = between(from_m, to_m);
    let steps = (length(way) / grid.cell_m).ceil().max(1.0) as u32;
    let places = (0..=steps).map(|k| {
        let share = f64::from(k) / f64::from(steps);
        [from_m[0] + share * way[0], from_m[1] + share * way[1]]
    });
    let tops =
        places.map(|[x, y]| (grid.top_m(x, y), grid.ground_m(x, y))).filter(|(top_m, ground_m)| top_m > ground_m);
    tops.map(|(top_m, _)| top_m - world.home_m[2]).fold(f64::NEG_INFINITY, f64::max)
}

/// Where a craft passed most closely over what stands on its way.
pub(super) struct Closest<'t> {
    pub(super) row: &'t TraceRow,
    over: Standing,
}

/// The closest pass over what stands, in the rows in which the craft does this.
pub(super) fn closest<'t>(world: &World, rows: &'t [TraceRow], doing: Doing) -> Option<Closest<'t>> {
    let over = rows.iter().filter(|row| row.doing == doing).filter_map(|row| {
        let over = Standing::at(world, level(row.place_m))?;
        // Under a wire is not over it.
        (row.height_m > over.top_m).then_some(Closest { row, over })
    });
    over.min_by(|a, b| (a.row.height_m - a.over.top_m).total_cmp(&(b.row.height_m - b.over.top_m)))
}

impl Closest<'_> {
    /// In words; `when` goes before it.
    pub(super) fn in_words(&self, world: &World, when: &str) -> String {
        let [top_m, height_m] = [self.over.top_m, self.row.height_m].map(|value_m| rounded(value_m, DECIMALS));
        format!(
            "{when} it passes {} m over {}, {}: {} {} m above take-off, and the craft flies at {} m.",
            number(height_m - top_m, DECIMALS),
            self.over.what,
            lies(level(world.home_m), level(self.row.place_m), "the take-off spot"),
            if self.over.many { "they reach" } else { "it reaches" },
            number(top_m, DECIMALS),
            number(height_m, DECIMALS)
        )
    }
}
