//! Where an uncertain input stands in the scenario.

use std::fmt;

/// The path of an input while the scenario is walked, as a chain from the innermost key outwards.
#[derive(Debug, Clone, Copy, Default)]
pub struct Place<'p> {
    above: Option<&'p Place<'p>>,
    key: &'static str,
    index: Option<u32>,
}

impl<'p> Place<'p> {
    /// A key below this place.
    pub(super) fn key(&'p self, key: &'static str) -> Place<'p> {
        Place { above: Some(self), key, index: None }
    }

    /// One of a list of tables.
    pub(super) fn item(self, index: usize) -> Place<'p> {
        Place { index: Some(index as u32), ..self }
    }

    /// Whether it belongs to the site: what stands there is the same for many flights.
    pub(super) fn shapes_the_site(&self) -> bool {
        match self.above {
            Some(above) if !above.key.is_empty() => above.shapes_the_site(),
            _ => self.key == "site",
        }
    }

    /// The block of the random draw of an input at this place: the one declared, counted on within a list of tables.
    pub(super) fn block(&self, declared: u32) -> u32 {
        declared + self.above.and_then(|table| table.index).unwrap_or(0)
    }
}

impl fmt::Display for Place<'_> {
    /// The path as a scenario file has it: `radio.interferer[0].eirp_dbm`.
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        if let Some(above) = self.above.filter(|above| !above.key.is_empty()) {
            write!(out, "{above}.")?;
        }
        out.write_str(self.key)?;
        self.index.map_or(Ok(()), |index| write!(out, "[{index}]"))
    }
}
