//! What a raw map leaves open: heights that it does not state.

use crate::chance::Uncertain;
use crate::scenario::declare::part;
use crate::scenario::kind::{Limits, above};
use crate::scenario::map_tags::{MapHeight, RawMap};
use crate::scenario::section::Section;

/// Height of closed mature wood. 29.8 ± 3.7 m and 30.6 ± 5.3 m were computed from the open heights of a forest plot in Virginia (SCBI
/// ForestGEO; Anderson-Teixeira 2015); elsewhere, and for single trees, it is an estimate.
const TREES: Uncertain = Uncertain::Normal(30.0, 4.5);

/// The part of a height that is asked for.
struct Ask<'s, 'r, 'a> {
    s: &'s Section<'r, 'a>,
    raw: Option<&'s RawMap>,
}

impl Ask<'_, '_, '_> {
    /// A height that something on the map needs; what nothing needs is neither asked nor drawn.
    fn height(
        &self,
        key: &'static str,
        needs: impl Fn(&MapHeight) -> bool,
        limits: Limits,
        default: Uncertain,
        [source, meaning]: [&str; 2],
    ) -> Uncertain {
        let needed = self.raw.is_some_and(|raw| raw.has_height(needs));
        let stated = self.s.has(key);
        if !needed && stated {
            self.s.warn(
                key,
                "a height that nothing on the map needs",
                "a key of which the map has something without a height",
            );
        }
        if needed || stated || self.s.sink.is_describing() {
            return self.s.uncertain(key, limits, default, source, meaning);
        }
        Uncertain::Exact(default.central())
    }
}

part! {
    /// Heights that a raw map does not state.
    pub struct MapHeights<U>(s, raw: Option<&RawMap>) {
        let ask = Ask { s, raw };
        "Height of trees and woods on a raw map that states none"
        tree_height_m: U = drawn(1150, ask.height("tree_height_m", |height| *height == MapHeight::Trees, above(0.0, 100.0), TREES, ["closed mature wood, computed from open heights of one forest; elsewhere an estimate", "Height of trees and woods on a raw map that states none"]));
        "Height of a storey where the map counts storeys"
        storey_m: U = drawn(1151, ask.height("storey_m", |height| matches!(height, MapHeight::Storeys(_)), above(0.0, 10.0), Uncertain::Triangular(2.7, 3.0, 4.0), ["estimate: dwellings 2.7 to 3, offices and shops up to 4, roof left out", "Height of a storey where a raw map counts storeys"]));
        "Height of a building of which the map says nothing"
        building_height_m: U = drawn(1152, ask.height("building_height_m", |height| *height == MapHeight::Building, above(0.0, 500.0), Uncertain::Triangular(3.0, 8.0, 15.0), ["estimate: shed to three storeys and a roof", "Height of a building of which a raw map says nothing"]));
        "Top of a power line of high voltage"
        power_line_m: U = drawn(1153, ask.height("power_line_m", |height| *height == MapHeight::PowerLine, above(8.0, 200.0), Uncertain::Triangular(20.0, 35.0, 60.0), ["estimate: 110 to 380 kV", "Top of a power line, or of its towers, on a raw map that states none"]));
        "Top of a power line of low voltage"
        minor_line_m: U = drawn(1154, ask.height("minor_line_m", |height| *height == MapHeight::MinorLine, above(5.0, 50.0), Uncertain::Triangular(7.0, 9.0, 14.0), ["estimate: poles of a local grid", "Top of a local power line, or of its poles, on a raw map that states none"]));
    }
}

impl MapHeights<f64> {
    /// The height of something on the map.
    pub(super) fn of(&self, height: &MapHeight) -> f64 {
        match height {
            MapHeight::Stated(height_m) | MapHeight::Table(height_m) => *height_m,
            MapHeight::Storeys(storeys) => storeys * self.storey_m,
            MapHeight::Building => self.building_height_m,
            MapHeight::Trees => self.tree_height_m,
            MapHeight::PowerLine => self.power_line_m,
            MapHeight::MinorLine => self.minor_line_m,
        }
    }
}
