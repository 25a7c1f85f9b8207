//! The site: ground, obstacles, zones and people as grids with O(1) look-ups.
//!
//! Plain local metres: x east, y north, z up; z = 0 is the height of the site's origin.

mod contours;
mod grid;
mod kinds;
mod plan;
pub mod shape;
mod terrain;

pub use contours::Contour;
pub use grid::{CELLS_AT_MOST, GridInput, Marks, SiteGrid, ZoneAt, spacing_for};
pub use kinds::{Area, Obstacle, ObstacleKind, Whose, Zone, ZoneKind};
pub use plan::Lattice;
pub use terrain::Terrain;
