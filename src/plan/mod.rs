//! What is worked out without flights: link, sky and energy along the path, ways home, where the link reaches, a day of the sky,
//! what bench and field tests should show.

pub mod along;
pub mod bench;
pub mod field;
pub mod reach;
pub mod ways;
pub mod words;

mod knowledge;
mod link_reach;
mod middle_link;
mod notice;
mod odd;
mod picture;
mod section;
mod site_map;
mod sky_day;
mod stay;
mod survey;
mod warnings;

pub use knowledge::{Knowledge, knowledge};
pub use link_reach::{ReachAsk, reach_of};
pub use middle_link::{MiddleLink, PlaceMargin};
pub use picture::Picture;
pub use section::{RayPoint, Section, SectionPoint, least_clearance, ray_section};
pub use site_map::{Relief, Rings, SiteMap, SiteOnEarth, SiteWind, site_map};
pub use sky_day::{DayRow, FixLimit, GuardDay, HourRow, SAMPLE_S, SetDay, SkyDay, SkyTrack, fix_limits};
pub use survey::{AlongPath, SourcesOn, Survey, survey};
pub use ways::{NoReturn, WayHome};

/// A place with its height above home instead of z.
fn above_home(world: &crate::world::World, place_m: [f64; 3]) -> [f64; 3] {
    [place_m[0], place_m[1], place_m[2] - world.home_m[2]]
}
