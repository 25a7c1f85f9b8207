//! The radio over the site: what every flight meets alike.
//!
//! Fields of what stands in the way, one way of a link, the pilot's end of it, the ray off the ground, other users of the band;
//! [`LinkSetup`] joins them, [`LinkSetup::mean`] asks them for a place.

pub mod field;

mod bounce;
mod budget;
mod draws;
mod fields;
mod hops;
mod interference;
mod mean;
mod one_way;
mod picture;
mod pilot_end;
mod setup;
mod source;
mod source_field;

pub use bounce::FlatGround;
pub use budget::LossBudget;
pub use draws::LinkDraws;
pub use field::{Excess, FieldOptions, LinkField};
pub use fields::{LinkFields, PilotFields};
pub(crate) use interference::towards;
pub use interference::{Covered, Strength};
pub use mean::MeanLink;
pub(crate) use mean::MeanTerms;
pub(crate) use picture::MeanPicture;
pub use pilot_end::HOVER_SCATTER_MPS;
pub(crate) use pilot_end::{HandsSetup, PilotEnd};
pub use setup::{LinkError, LinkSetup};
pub(crate) use setup::{TelemetrySetup, VideoSetup};
pub use source_field::SourceField;

/// Entries of the tables over the sine of an angle.
const SINE_POINTS: usize = 256;
