//! The world: everything that is the same for all flights, made once.

use super::radio::{LinkError, LinkFields, LinkSetup};
use super::{AirField, FixSetup, FixSetupError, FlightPath, LowPack, Near, SkyError, SkyField};
use crate::failsafe::{Limits, Policy};
use crate::radio::OutOfRange;
use crate::scenario::{CutAt, Loss, Scenario};
use crate::site::{Area, SiteGrid};
use rayon::prelude::*;
use std::sync::Arc;

/// A command older than this, and than so many packets, is an old one. Estimate.
const FRESH_S: f64 = 0.25;
const FRESH_PACKETS: f64 = 2.5;

/// Worlds of a family: memory and time for the ground, radio and sky over it are bounded by so many.
pub const FAMILY: u32 = 4;

/// Time that the sky is worked out for beyond the planned path: policies fly on after it.
const SKY_BEYOND_S: f64 = 900.0;
/// The time is rounded up to whole ones of this, so that worlds whose paths take nearly as long share a sky.
const SKY_GRAIN_S: f64 = 60.0;

/// The world of one scenario. Large parts are shared between worlds that differ in other things only.
pub struct World {
    /// The scenario it was built from.
    pub scenario: Scenario,
    /// Ground, obstacles, zones, people.
    pub grid: Arc<SiteGrid>,
    /// Planned path.
    pub path: FlightPath,
    /// Take-off spot: x, y, z.
    pub home_m: [f64; 3],
    /// The pilot's antenna: x, y, z.
    pub antenna_m: [f64; 3],
    /// The radio: links, noise floor, sources, what stands in the way.
    pub link: LinkSetup,
    /// Satellites over the site.
    pub sky: Arc<SkyField>,
    /// Wind and density.
    pub air: Arc<AirField>,
    /// Parts of the path near the place of a forced loss.
    pub near: Near,
    /// The sense of place: fix, heading, barometer.
    pub fix: FixSetup,
    /// What the craft can do, as policies count on it.
    pub limits: Limits,
    /// What a low pack makes the craft do.
    pub low_pack: LowPack,
    /// A command older than this, s, is an old one.
    pub fresh_s: f64,
    /// Worlds that stand for what shapes the site and is not known exactly; empty where all is known.
    pub family: Vec<World>,
    /// Made for questions that fly nothing.
    plans_only: bool,
}

/// Why a world cannot be built from a scenario that reads well.
#[derive(Debug, thiserror::Error)]
pub enum WorldError {
    /// The sky: an almanac that does not serve.
    #[error("sky: {0}")]
    Sky(#[from] SkyError),
    /// The radio: a frequency outside what the propagation models hold for.
    #[error("radio: {0}")]
    Radio(#[from] OutOfRange),
    /// The radio: figures outside what its waveform, noise or ground models hold for.
    #[error("radio: {0}")]
    Link(#[from] LinkError),
    /// The date or place lies outside what the models of the fix hold for.
    #[error("sky: {0}")]
    Fix(#[from] FixSetupError),
    /// A loss forced near a place that the path never comes near.
    #[error(
        "loss.cut.near: the path never comes within {radius_m} m of ({x_m}, {y_m}); accepted: a disc that the path crosses"
    )]
    NeverNear {
        /// Radius.
        radius_m: f64,
        /// x of the middle.
        x_m: f64,
        /// y of the middle.
        y_m: f64,
    },
}

impl World {
    /// Works out the world of a scenario, in parallel where it pays.
    ///
    /// # Errors
    /// An almanac that does not serve, a date or radio figures that the models do not cover, or a forced loss that can never
    /// come.
    pub fn new(scenario: Scenario) -> Result<World, WorldError> {
        World::beside(None, None, scenario)?.with_family(None)
    }

    /// The world with the middle of what is not known of its site, for questions that fly nothing: neither it nor a variation of it
    /// has a family.
    ///
    /// # Errors
    /// As [`World::new`].
    pub fn for_planning(scenario: Scenario) -> Result<World, WorldError> {
        Ok(World { plans_only: true, ..World::beside(None, None, scenario)? })
    }

    /// The one world that this flight is flown in, for telling it alone.
    ///
    /// # Errors
    /// As [`World::new`].
    pub fn for_flight(scenario: Scenario, flight: u32) -> Result<World, WorldError> {
        let member = scenario.member(flight % FAMILY, FAMILY);
        World::beside(None, None, member.unwrap_or(scenario))
    }

    /// The world of a variation: what the change does not touch is shared with `base`.
    ///
    /// # Errors
    /// As [`World::new`].
    pub fn like(base: &World, scenario: Scenario) -> Result<World, WorldError> {
        let world = World::beside(Some(base), None, scenario)?;
        if base.plans_only { Ok(World { plans_only: true, ..world }) } else { world.with_family(Some(base)) }
    }

    /// The same world under other policies.
    ///
    /// # Errors
    /// As [`World::new`].
    pub fn with_policies(&self, policies: Vec<Policy>) -> Result<World, WorldError> {
        World::like(self, Scenario { policies, ..self.scenario.clone() })
    }

    /// The permitted area: the fence, or the extent.
    pub fn permitted_area(&self) -> Area {
        self.scenario.site.fence.clone().unwrap_or_else(|| {
            let [west, south, east, north] = self.grid.extent_m();
            Area::Polygon(vec![[west, south], [east, south], [east, north], [west, north]])
        })
    }

    /// The world of a scenario: what it has in common with `base` is shared. `head` is the head of the family that it belongs to, whose
    /// areas are mostly its own too.
    fn beside(base: Option<&World>, head: Option<&World>, scenario: Scenario) -> Result<World, WorldError> {
        let site = &scenario.site;
        let grid = match base.filter(|base| base.scenario.site.same_ground(site)) {
            Some(base) => base.grid.clone(),
            None => {
                let known: Vec<&SiteGrid> = base.into_iter().chain(head).map(|world| &*world.grid).collect();
                Arc::new(site.grid_beside(&known))
            }
        };
        let on_ground = |p: [f64; 2], above_m: f64| [p[0], p[1], grid.ground_m(p[0], p[1]) + above_m];
        let home_m = on_ground(site.home_m, 0.0);
        let antenna_m = on_ground(scenario.pilot.place_m, scenario.pilot.antenna_height_m);
        let plan = &scenario.path;
        let craft = scenario.craft.central();
        let limits = super::craft::limits(&craft);
        let path = FlightPath::planned(site.home_m, home_m[2], plan, scenario.craft.climb_mps)
            .paced(&limits, craft.attitude_lag_s);
        let highest_m = path.highest_m().max(home_m[2] + site.ceiling_m);

        let options = LinkFields::options(&scenario, highest_m);
        let same_shape = base.filter(|base| base.scenario.site.same_shape(site));
        let same_air = same_shape.filter(|base| {
            base.antenna_m == antenna_m
                && LinkFields::options(&base.scenario, highest_m) == options
                && base.scenario.path == *plan
        });
        let fields = LinkFields::of(&scenario, &grid, antenna_m, &options, same_air.map(|base| &base.link.fields))?;

        let sky = match same_shape
            .filter(|base| base.scenario.sky == scenario.sky && sky_span_s(&base.path) == sky_span_s(&path))
        {
            Some(base) => base.sky.clone(),
            None => {
                let known = same_shape.map(|base| &*base.sky);
                let field = SkyField::new(&scenario, &grid, sky_span_s(&path), known)?;
                Arc::new(base.into_iter().chain(head).fold(field, |field, kin| field.under_the_sky_of(&kin.sky)))
            }
        };
        let air = match same_shape.filter(|base| base.scenario.weather == scenario.weather) {
            Some(base) => base.air.clone(),
            None => {
                let known = same_shape.map(|base| &*base.air);
                Arc::new(AirField::new(&scenario.weather, &grid, site.height_amsl_m, known))
            }
        };
        let near = match scenario.loss {
            Loss::Cut { at: CutAt::Near { place_m, radius_m }, .. } => {
                let near = Near::of(&path, place_m, radius_m);
                if near.is_empty() {
                    return Err(WorldError::NeverNear { radius_m, x_m: place_m[0], y_m: place_m[1] });
                }
                near
            }
            _ => Near::default(),
        };
        Ok(World {
            family: Vec::new(),
            plans_only: false,
            link: LinkSetup::of_scenario(&scenario, &grid, fields, base.map(|base| &base.link))?,
            fix: FixSetup::new(&scenario, &sky, home_m[2])?,
            limits,
            low_pack: LowPack::of(&scenario.craft.battery),
            fresh_s: FRESH_S.max(FRESH_PACKETS / scenario.radio.control.packet_rate_hz),
            grid,
            path,
            home_m,
            antenna_m,
            sky,
            air,
            near,
            scenario,
        })
    }

    /// Builds the family, each beside its counterpart of `base` or beside this world, in parallel.
    fn with_family(mut self, base: Option<&World>) -> Result<World, WorldError> {
        let members: Vec<Scenario> = (0..FAMILY).map_while(|index| self.scenario.member(index, FAMILY)).collect();
        let one = |(index, member): (usize, Scenario)| {
            let kin = base.and_then(|base| base.family.get(index)).unwrap_or(&self);
            let world = World::beside(Some(kin), Some(&self), member)?;
            world.sky.prepare();
            Ok(world)
        };
        // The sky of a world that flights are flown in is ready before them; the head of a family flies none, but members with its
        // shape see its sky.
        let same_shape = |member: &Scenario| member.site.same_shape(&self.scenario.site);
        if members.is_empty() || members.iter().any(same_shape) {
            self.sky.prepare();
        }
        self.family = members.into_par_iter().enumerate().map(one).collect::<Result<Vec<World>, WorldError>>()?;
        Ok(self)
    }

    /// The world that a flight is flown in: one of the family by its number, or this one where all is known.
    pub fn of_flight(&self, flight: u32) -> &World {
        let count = self.family.len().max(1);
        self.family.get(flight as usize % count).unwrap_or(self)
    }
}

/// Time that the sky is worked out for, from the end of the take-off window on.
fn sky_span_s(path: &FlightPath) -> f64 {
    ((path.duration_s() + SKY_BEYOND_S) / SKY_GRAIN_S).ceil() * SKY_GRAIN_S
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What takes memory is there once for a family, or not before it is asked for; its head, in which nothing flies, has next to
    /// nothing. Of a variation of weather alone all of it is that of the first family.
    #[test]
    fn a_family_holds_once_what_its_members_share() {
        let scenario = Scenario::from_file(concat!(env!("LOSTLINK_ROOT"), "scenarios/quarry.toml")).unwrap();
        let world = World::new(scenario.clone()).unwrap();
        assert_eq!(world.family.len(), FAMILY as usize);
        let first = &world.family[0];
        assert_eq!(world.sky.shares_passes_with(&first.sky), None, "the head's sky was worked out");
        for member in &world.family {
            assert_eq!(member.sky.shares_passes_with(&first.sky), Some(true));
            assert!(Arc::ptr_eq(&member.link.fading, &world.link.fading));
            assert!(member.grid.shares_cells_with(&world.grid));
            let [worked_out, all] = member.air.directions_over_hills();
            assert!(worked_out <= 1 && all > 1, "{worked_out} of {all} directions");
        }
        let mut windier = scenario;
        windier.weather.turbulence = crate::chance::Uncertain::Exact(0.0);
        let windier = World::like(&world, windier).unwrap();
        for (member, kin) in windier.family.iter().zip(&world.family) {
            assert!(Arc::ptr_eq(&member.sky, &kin.sky) && Arc::ptr_eq(&member.grid, &kin.grid));
            assert!(member.air.shares_hills_with(&kin.air));
        }
    }
}
