//! What stands between a source of interference and those whom it disturbs.

use super::field::{FieldOptions, LinkField, Scratch, Tracer};
use crate::radio::OutOfRange;
use crate::scenario::Interferer;
use crate::site::SiteGrid;
use std::sync::Arc;

/// Frequencies that the propagation over ground and obstacles holds for.
const FREQUENCIES_HZ: [f64; 2] = [1e8, 6e9];

/// Losses beside free space from a source of interference over a site.
#[derive(Debug, Clone)]
pub struct SourceField {
    field: LinkField,
    pilot_m: [f64; 3],
    /// To the pilot's antenna, dB.
    pub at_pilot_db: f64,
}

impl SourceField {
    /// The field of a source; `None` where free space is all there is: on a site without ground and obstacles, and from
    /// outside the site, where neither is known.
    ///
    /// # Errors
    /// As [`LinkField::new`].
    pub fn build(
        grid: &Arc<SiteGrid>,
        source: &Interferer,
        pilot_m: [f64; 3],
        options: &FieldOptions,
    ) -> Result<Option<SourceField>, OutOfRange> {
        let [x_m, y_m, height_m] = source.place_m;
        let [west, south, east, north] = grid.extent_m();
        let inside = (west..=east).contains(&x_m) && (south..=north).contains(&y_m);
        if !inside || (grid.is_flat() && !grid.has_obstacles()) {
            return Ok(None);
        }
        let place_m = [x_m, y_m, grid.ground_m(x_m, y_m) + height_m];
        let frequency_hz = SourceField::frequency_hz(source);
        let tracer = Tracer::new(grid, place_m, frequency_hz, options)?;
        Ok(Some(SourceField {
            field: LinkField::new(grid, place_m, frequency_hz, options)?,
            pilot_m,
            at_pilot_db: tracer.excess_to(pilot_m, &mut Scratch::default()).total_db(),
        }))
    }

    /// The fields of all sources of a scenario; those that `base` holds for the same place and antenna are shared.
    ///
    /// # Errors
    /// As [`LinkField::new`].
    pub fn of_all(
        grid: &Arc<SiteGrid>,
        sources: &[Interferer],
        pilot_m: [f64; 3],
        options: &FieldOptions,
        base: &[Option<Arc<SourceField>>],
    ) -> Result<Vec<Option<Arc<SourceField>>>, OutOfRange> {
        let known = |source: &Interferer| {
            let [x_m, y_m, height_m] = source.place_m;
            let place_m = [x_m, y_m, grid.ground_m(x_m, y_m) + height_m];
            base.iter().flatten().find(|field| {
                field.field.antenna_m() == place_m
                    && field.pilot_m == pilot_m
                    && field.field.frequency_hz() == SourceField::frequency_hz(source)
            })
        };
        sources
            .iter()
            .map(|source| match known(source) {
                Some(field) => Ok(Some(field.clone())),
                None => Ok(SourceField::build(grid, source, pilot_m, options)?.map(Arc::new)),
            })
            .collect()
    }

    fn frequency_hz(source: &Interferer) -> f64 {
        source.frequency_hz.clamp(FREQUENCIES_HZ[0], FREQUENCIES_HZ[1])
    }

    /// To a craft at a place, dB.
    #[inline]
    pub fn at_db(&self, place_m: [f64; 3]) -> f64 {
        self.field.excess(place_m).total_db()
    }
}
