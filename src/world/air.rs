//! The air over the site: mean wind by height and place, density, wind shadow of obstacles, wind over hills.

use super::relief::ReliefField;
use crate::air::lee::{SOLID_LOSS, TREE_LOSS, Wedge};
use crate::air::relief::Flow;
use crate::air::wind::RelativeProfile;
use crate::air::{atmosphere, turbulence, wind};
use crate::chance::{Range, Uncertain};
use crate::geometry::cell_at;
use crate::radio::maths::quick_db;
use crate::scenario::Weather;
use crate::site::SiteGrid;
use std::sync::Arc;

/// The mean wind is taken as it is at this height above ground further up: the logarithmic law does not hold there.
pub const PROFILE_TOP_M: f64 = 300.0;

/// Angle between the wind directions that wind shadows and hills are worked out for, rad.
const SECTOR_RAD: f64 = 15.0 * std::f64::consts::PI / 180.0;

/// Most cells of the wind-shadow grid per direction.
const LEE_CELLS_AT_MOST: f64 = 160_000.0;

/// The mean wind of one flight at the reference height, as a vector.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanWind {
    /// Wind at the reference height: east, north.
    pub reference_mps: [f64; 2],
    /// Direction it blows to at the reference height, as a unit vector; east when there is no wind.
    pub along: [f64; 2],
    /// Factor on the speed-up over crests.
    pub hill_factor: f64,
    /// The direction whose wind shadows and hills apply.
    sector: usize,
}

/// A clockwise turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    cos: f64,
    sin: f64,
}

impl Turn {
    const NONE: Turn = Turn { cos: 1.0, sin: 0.0 };

    /// A vector turned so.
    #[inline]
    pub fn of(self, [x, y]: [f64; 2]) -> [f64; 2] {
        [self.cos * x + self.sin * y, self.cos * y - self.sin * x]
    }
}

/// Everything about the air that is the same for all flights.
#[derive(Debug, Clone)]
pub struct AirField {
    /// Range of heights over which the wind changes.
    heights_m: (f64, f64),
    /// 1/z₀ in 1/m, and 1/ln(z_ref/z₀), both logarithms taken as decibels, which are quicker to have.
    per_roughness: f64,
    per_db: f64,
    /// Cosine and sine of the clockwise turning at whole metres of height; empty without any.
    veer: Vec<[f64; 2]>,
    /// The wind by height as it was measured; `None`: by the logarithmic law.
    profile: Option<RelativeProfile>,
    /// Directions that wind shadows and hills are worked out for.
    along: Vec<[f64; 2]>,
    /// How far wind shadows reach, in heights of what casts them.
    lee_heights: f64,
    lee: Option<Arc<LeeField>>,
    hill_wind: bool,
    relief: Option<Arc<ReliefField>>,
    height_amsl_m: f64,
    pressure_pa: f64,
}

impl AirField {
    /// Works the field out. `height_amsl_m` is that of z = 0 above mean sea level; `same_shape` is a field over the same ground with the
    /// same obstacles, if there is one: what does not depend on the speed of the wind is then taken from it.
    pub fn new(weather: &Weather, grid: &SiteGrid, height_amsl_m: f64, same_shape: Option<&AirField>) -> AirField {
        let roughness_m = weather.roughness_m.max(1e-5);
        let foot_m = wind::foot_m(roughness_m);
        let reference_m = weather.wind_height_m.max(foot_m);
        let veer_rad_per_m = weather.veer_deg_per_100m.to_radians() / 100.0;
        let veer = if veer_rad_per_m == 0.0 {
            Vec::new()
        } else {
            (0..=PROFILE_TOP_M as usize + 1)
                .map(|height_m| {
                    let turn_rad = veer_rad_per_m * (height_m as f64 - reference_m);
                    [libm::cos(turn_rad), libm::sin(turn_rad)]
                })
                .collect()
        };
        let along = directions(weather);
        let known = same_shape.filter(|known| known.along == along);
        let lee = match known.filter(|known| known.lee_heights == weather.lee_heights) {
            Some(known) => known.lee.clone(),
            None => LeeField::new(weather, grid, &along).map(Arc::new),
        };
        let relief = match known.filter(|known| known.hill_wind == weather.hill_wind) {
            Some(known) => known.relief.clone(),
            None if weather.hill_wind => ReliefField::new(grid, &along).map(Arc::new),
            None => None,
        };
        AirField {
            heights_m: (foot_m, PROFILE_TOP_M.max(foot_m)),
            per_roughness: 1.0 / roughness_m,
            per_db: 1.0 / quick_db(reference_m / roughness_m),
            veer,
            along,
            lee_heights: weather.lee_heights,
            profile: weather.profile.as_ref().map(|rows| {
                let rows = rows.as_ref().clone();
                wind::Profile::new(rows, roughness_m, veer_rad_per_m).over(reference_m)
            }),
            lee,
            hill_wind: weather.hill_wind,
            relief,
            height_amsl_m,
            pressure_pa: weather.pressure_pa,
        }
    }

    /// The mean wind of a flight.
    pub fn mean_wind(&self, weather: &Weather<f64>) -> MeanWind {
        let from_rad = weather.from_deg.to_radians();
        let reference_mps = wind::vector_mps(weather.wind_mps, from_rad);
        let along = if weather.wind_mps > 0.0 { wind::vector_mps(1.0, from_rad) } else { [1.0, 0.0] };
        MeanWind { reference_mps, along, hill_factor: weather.hill_factor, sector: self.sector(along) }
    }

    /// The direction worked out that is nearest to a wind.
    fn sector(&self, along: [f64; 2]) -> usize {
        nearest(&self.along, along)
    }

    /// Density of the air at the site for a flight, kg/m³; held constant over the flight (1 % per 100 m of height).
    pub fn density_kgpm3(&self, weather: &Weather<f64>) -> f64 {
        atmosphere::density_at_site_kgpm3(self.height_amsl_m, self.pressure_pa, weather.temperature_c + 273.15)
    }

    /// Share of the reference wind at a height above ground, away from obstacles.
    #[inline]
    pub fn height_share(&self, height_agl_m: f64) -> f64 {
        let height_m = height_agl_m.clamp(self.heights_m.0, self.heights_m.1);
        if let Some(profile) = &self.profile {
            return profile.share(height_m);
        }
        quick_db(height_m * self.per_roughness) * self.per_db
    }

    /// How the wind is turned at a height above ground against that at the reference height.
    #[inline]
    pub fn turn(&self, height_agl_m: f64) -> Turn {
        let height_m = height_agl_m.clamp(0.0, PROFILE_TOP_M);
        if let Some(profile) = &self.profile {
            let [cos, sin] = profile.turn(height_m);
            return Turn { cos, sin };
        }
        if self.veer.is_empty() {
            return Turn::NONE;
        }
        let index = cell_at(height_m, self.veer.len() - 2);
        let share = height_m - index as f64;
        let (low, high) = (self.veer[index], self.veer[index + 1]);
        Turn { cos: low[0] + share * (high[0] - low[0]), sin: low[1] + share * (high[1] - low[1]) }
    }

    /// Share of the mean wind left at a place by the obstacles upwind of it.
    #[inline]
    pub fn lee_share(&self, mean: &MeanWind, place_m: [f64; 2], height_agl_m: f64) -> f64 {
        self.lee.as_ref().map_or(1.0, |lee| lee.wind_share(mean.sector, place_m, height_agl_m))
    }

    /// What hills make of wind and turbulence at a place.
    #[inline]
    pub fn over_hills(&self, mean: &MeanWind, place_m: [f64; 2], height_agl_m: f64) -> Flow {
        self.relief
            .as_ref()
            .map_or(Flow::LEVEL, |relief| relief.at(mean.sector, place_m, height_agl_m, mean.hill_factor))
    }

    /// Mean wind at a height above level ground, away from obstacles: east, north.
    pub fn wind_at_height_mps(&self, mean: &MeanWind, height_agl_m: f64) -> [f64; 2] {
        let share = self.height_share(height_agl_m);
        self.turn(height_agl_m).of(mean.reference_mps).map(|w| share * w)
    }

    /// Mean wind at a place, over hills and in the shadow of obstacles: east, north.
    pub fn wind_at_mps(&self, mean: &MeanWind, place_m: [f64; 2], height_agl_m: f64) -> [f64; 2] {
        let share = self.lee_share(mean, place_m, height_agl_m) * self.over_hills(mean, place_m, height_agl_m).wind;
        self.wind_at_height_mps(mean, height_agl_m).map(|w| share * w)
    }

    /// Vertical intensity of the turbulence in a flight, m/s.
    pub fn sigma_w_mps(&self, weather: &Weather<f64>) -> f64 {
        weather.turbulence * turbulence::sigma_w_mps(weather.wind_mps * self.height_share(turbulence::WIND_HEIGHT_M))
    }
}

/// Wind shadows by direction of the wind and cell.
#[derive(Debug, Clone)]
struct LeeField {
    west_m: f64,
    south_m: f64,
    per_metre: f64,
    columns: usize,
    rows: usize,
    /// Tallest obstacle.
    tallest_m: f64,
    /// Per direction and cell: top over `tallest_m` and loss, in 255ths.
    wedges: Vec<[u8; 2]>,
}

impl LeeField {
    fn new(weather: &Weather, grid: &SiteGrid, along: &[[f64; 2]]) -> Option<LeeField> {
        if weather.lee_heights <= 0.0 || !grid.has_obstacles() {
            return None;
        }
        let [west_m, south_m, east_m, north_m] = grid.extent_m();
        let (width_m, depth_m) = (east_m - west_m, north_m - south_m);
        let cell_m = (width_m * depth_m / LEE_CELLS_AT_MOST).sqrt().max(grid.cell_m).max(1.0);
        let columns = ((width_m / cell_m).ceil() as usize).max(1);
        let rows = ((depth_m / cell_m).ceil() as usize).max(1);

        // Tallest building and tree in each of these coarser cells.
        let mut heights_m = vec![[0.0_f64; 2]; columns * rows];
        for row in 0..grid.rows {
            for column in 0..grid.columns {
                let x_m = west_m + (column as f64 + 0.5) * grid.cell_m;
                let y_m = south_m + (row as f64 + 0.5) * grid.cell_m;
                let (surface_m, ground_m) = (grid.surface_m(x_m, y_m), grid.ground_m(x_m, y_m));
                if surface_m <= ground_m {
                    continue;
                }
                let index = (((y_m - south_m) / cell_m) as usize).min(rows - 1) * columns
                    + (((x_m - west_m) / cell_m) as usize).min(columns - 1);
                let [solid_m, tree_m] = &mut heights_m[index];
                *solid_m = solid_m.max(grid.opaque_m(x_m, y_m) - ground_m);
                *tree_m = tree_m.max(grid.canopy_m(x_m, y_m) - ground_m);
            }
        }
        let tallest_m = heights_m.iter().flatten().fold(0.0_f64, |most, &h| most.max(h));
        if tallest_m <= 0.0 {
            return None;
        }

        let mut wedges = Vec::with_capacity(along.len() * columns * rows);
        for direction in along {
            let mut field = vec![Wedge::default(); columns * rows];
            for (index, heights) in heights_m.iter().enumerate() {
                for (&height_m, loss) in heights.iter().zip([SOLID_LOSS, TREE_LOSS]) {
                    if height_m <= 0.0 {
                        continue;
                    }
                    let start = [(index % columns) as f64 + 0.5, (index / columns) as f64 + 0.5];
                    // Half a cell at a time, so that the rays of neighbouring cells leave no gaps.
                    let mut reach = 0.0;
                    while reach * cell_m < weather.lee_heights * height_m {
                        let (x, y) = (start[0] + reach * direction[0], start[1] + reach * direction[1]);
                        if x < 0.0 || y < 0.0 || x >= columns as f64 || y >= rows as f64 {
                            break;
                        }
                        let cell = &mut field[y as usize * columns + x as usize];
                        *cell = cell.stronger(Wedge::behind(height_m, reach * cell_m, weather.lee_heights, loss));
                        reach += 0.5;
                    }
                }
            }
            wedges.extend(field.iter().map(|wedge| {
                let top = f64::from(wedge.top_m) / tallest_m * 255.0;
                [top.ceil() as u8, (f64::from(wedge.loss) * 255.0).round() as u8]
            }));
        }
        Some(LeeField { west_m, south_m, per_metre: 1.0 / cell_m, columns, rows, tallest_m, wedges })
    }

    #[inline]
    fn wind_share(&self, sector: usize, place_m: [f64; 2], height_agl_m: f64) -> f64 {
        if height_agl_m >= self.tallest_m {
            return 1.0;
        }
        let (x, y) = ((place_m[0] - self.west_m) * self.per_metre, (place_m[1] - self.south_m) * self.per_metre);
        if x < 0.0 || y < 0.0 || x >= self.columns as f64 || y >= self.rows as f64 {
            return 1.0;
        }
        let [top, loss] = self.wedges[(sector * self.rows + y as usize) * self.columns + x as usize];
        let top_m = f32::from(top) * (self.tallest_m as f32 / 255.0);
        Wedge { top_m, loss: f32::from(loss) * (1.0 / 255.0) }.wind_share(height_agl_m)
    }
}

/// The direction nearest to another; of equally near ones the first.
fn nearest(directions: &[[f64; 2]], along: [f64; 2]) -> usize {
    let closeness = |index: usize| directions[index][0] * along[0] + directions[index][1] * along[1];
    (0..directions.len()).fold(0, |best, index| if closeness(index) > closeness(best) { index } else { best })
}

/// Directions to which the wind may blow in this weather, [`SECTOR_RAD`] apart; one when it is certain, and of a choice those that
/// stand for one of its winds.
fn directions(weather: &Weather) -> Vec<[f64; 2]> {
    let by_the_hour = weather.hours.as_ref().filter(|hours| hours.gives_direction());
    let Range { low, high } = match by_the_hour {
        Some(hours) => Range { low: hours.directions_deg.start, high: hours.directions_deg.end },
        None => weather.from_deg.range(),
    };
    let (low, span) = (low.to_radians(), (high - low).to_radians());
    let full = std::f64::consts::TAU;
    let count = if span >= full - SECTOR_RAD {
        (full / SECTOR_RAD).round() as usize
    } else {
        (span / SECTOR_RAD).ceil() as usize + 1
    };
    let step = if span >= full - SECTOR_RAD { SECTOR_RAD } else { span / (count - 1).max(1) as f64 };
    let all: Vec<[f64; 2]> = (0..count).map(|index| wind::vector_mps(1.0, low + step * index as f64)).collect();
    let Some(Uncertain::Choice(winds)) = by_the_hour.is_none().then_some(&weather.from_deg) else { return all };
    let stands_for = |&(from_deg, _): &(f64, f64)| nearest(&all, wind::vector_mps(1.0, from_deg.to_radians()));
    let met: Vec<usize> = winds.iter().map(stands_for).collect();
    (0..count).filter(|index| met.contains(index)).map(|index| all[index]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    impl AirField {
        /// Directions of the wind over hills that were worked out, and how many there are.
        pub(in crate::world) fn directions_over_hills(&self) -> [usize; 2] {
            let worked_out = self.relief.as_ref().map_or(0, |relief| relief.directions_worked_out());
            [worked_out, self.along.len()]
        }

        /// Whether wind over hills is worked out once for both.
        pub(in crate::world) fn shares_hills_with(&self, other: &AirField) -> bool {
            self.relief.as_ref().zip(other.relief.as_ref()).is_some_and(|(own, other)| Arc::ptr_eq(own, other))
        }
    }
}
