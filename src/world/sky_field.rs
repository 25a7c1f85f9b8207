//! The sky over the site: how good a fix is to be had, by place, height and time.

use super::Straight;
use super::sky_source::{CANOPY_LOSS_DB, HORIZON_AZIMUTHS, Horizon, SkyError, SkySource};
use crate::chance::Uncertain;
use crate::geometry::cell_at;
use crate::radio::diffraction::single_edge_loss_db;
use crate::scenario::{OwnVideo, Scenario, Sky, SkyInterference};
use crate::site::SiteGrid;
use crate::sky::{
    CHIP_RATE_HZ, Clock, IONOSPHERE_EARTH_M, IONOSPHERE_SHELL_M, L1_HZ, LEAST_SIGNAL_DBW, Reduced, Viewpoint,
    effective_cn0_dbhz, interference_ratio_db, ionosphere_obliquity, open_sky_cn0_dbhz, smoothed_code_noise_m,
};
use crate::units::{db_from_ratio, ratio_from_db};
use libm::{cos, sin};
use rayon::prelude::*;
use std::collections::HashMap;
use std::f64::consts::TAU;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Time bin, when the window allows it.
pub const TIME_BIN_S: f64 = 30.0;

/// Tilt of the antenna for which the satellites lost are tabulated.
pub const REFERENCE_TILT_RAD: f64 = 25.0 * std::f64::consts::PI / 180.0;

/// Heights above ground for which the sky is computed.
const HEIGHTS_M: [f64; 8] = [1.5, 8.0, 16.0, 28.0, 45.0, 70.0, 110.0, 180.0];

/// Most cells of the field.
const MOST_CELLS: f64 = 576.0;

/// Most entries of the table: beyond them horizons are told apart less finely, then time is.
const MOST_ENTRIES: usize = 900_000;

/// Steps in which horizons are told apart, degrees, and lengths of a time bin as multiples of [`TIME_BIN_S`], finest first.
const DIVISIONS: [(f64, f64); 8] =
    [(0.5, 1.0), (1.0, 1.0), (2.0, 1.0), (2.0, 2.0), (2.0, 4.0), (3.0, 4.0), (3.0, 6.0), (5.0, 10.0)];

/// Gain of the craft's antenna towards the ground (estimate for a small patch above a ground plane).
const GAIN_DOWN_DBI: f64 = -5.0;

/// Resistance against white noise from null to null.
///
/// # Source
/// Kaplan and Hegarty, 2006, section 6.2.2.1; the quadrature is [`crate::sky::interference_factors`].
const Q_WHITE: f64 = 2.22;

/// What the sky offers at a place and a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkyNow {
    /// Satellites tracked.
    pub satellites: u8,
    /// Horizontal dilution of precision with a clock per system; infinite: no solution.
    pub hdop: f32,
    /// Vertical dilution of precision; infinite: no solution.
    pub vdop: f32,
    /// One sigma of the error to the east; infinite: no solution.
    pub sigma_east_m: f32,
    /// One sigma of the error to the north.
    pub sigma_north_m: f32,
    /// One sigma of the error upwards.
    pub sigma_up_m: f32,
    /// Satellites lost, on average over all directions, when the antenna tilts by [`REFERENCE_TILT_RAD`].
    pub lost_by_tilt: f32,
    /// Whether enough satellites are above the level at which one is taken up again: a lost fix comes back.
    pub reacquire: bool,
}

impl SkyNow {
    /// No satellite at all.
    pub const NOTHING: SkyNow = SkyNow {
        satellites: 0,
        hdop: f32::INFINITY,
        vdop: f32::INFINITY,
        sigma_east_m: f32::INFINITY,
        sigma_north_m: f32::INFINITY,
        sigma_up_m: f32::INFINITY,
        lost_by_tilt: 0.0,
        reacquire: false,
    };

    /// Whether there is a solution.
    #[inline]
    pub fn has_solution(&self) -> bool {
        self.hdop.is_finite()
    }
}

/// Time bins that are worked out together when one of them is first asked for.
const BINS_AT_ONCE: usize = 16;

/// The sky over the site for the take-off window and the flights that follow.
///
/// Everything is worked out when first asked for: a flight meets a small part of the window, the places and the heights, and many a
/// field is made for a world that stands for others and is never flown in.
#[derive(Debug, Clone)]
pub struct SkyField {
    sky: Sky,
    grid: SiteGrid,
    asked: Asked,
    /// Shared by fields over the same ground.
    horizons: Arc<OnceLock<Arc<Horizons>>>,
    /// Shared by those of them that tell places apart alike.
    places: Arc<OnceLock<Arc<Places>>>,
    orbits: Arc<Orbits>,
    noise: CodeNoise,
    height_bin: [u8; 64],
    offers: OnceLock<Offers>,
}

/// What the sky offers, place by place.
#[derive(Debug, Clone)]
struct Offers {
    places: Arc<Places>,
    passes: Arc<Passes>,
    /// What blocks of time bins offer, by level, class and block.
    table: Vec<OnceLock<Box<Block>>>,
}

/// What is there, or made now. Nobody is kept waiting meanwhile, who might be flying on the thread that works on it: at worst it is
/// made twice.
fn there_or_made<T>(place: &OnceLock<T>, make: impl FnOnce() -> T) -> &T {
    match place.get() {
        Some(there) => there,
        None => {
            let made = make();
            place.get_or_init(|| made)
        }
    }
}

/// What time bins offer that are worked out together; beyond the last bin, nothing.
type Block = [SkyNow; BINS_AT_ONCE];

/// The satellites of a scenario and their passes over the site, whatever hides them there: the same for a whole family of worlds.
#[derive(Debug)]
struct Orbits {
    source: SkySource,
    /// By length and number of time bins.
    passes: Mutex<Vec<Arc<Passes>>>,
}

impl Orbits {
    fn passes(&self, bin_s: f64, bins: usize) -> Arc<Passes> {
        let mut known = self.passes.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(same) = known.iter().find(|passes| passes.bin_s == bin_s && passes.bins.len() == bins) {
            return same.clone();
        }
        let passes = Arc::new(Passes { bin_s, bins: vec![OnceLock::new(); bins] });
        known.push(passes.clone());
        passes
    }
}

/// The satellites above the mask in each time bin.
#[derive(Debug)]
struct Passes {
    bin_s: f64,
    bins: Vec<OnceLock<Box<[Standing]>>>,
}

impl Passes {
    fn in_bin(&self, source: &SkySource, bin: usize) -> &[Standing] {
        self.bins[bin].get_or_init(|| standing(source, self.bin_s * (bin as f64 + 0.5)).into())
    }
}

/// The places of the site told apart by what hides and weakens their sky, whatever stands in it.
#[derive(Debug)]
struct Places {
    horizons: Arc<Horizons>,
    /// Class of each cell and height.
    class: Vec<u32>,
    classes: Vec<ClassSky>,
    noise: NoiseLevels,
    bin_s: f64,
    per_bin: f64,
    bins: usize,
    /// Blocks of time bins.
    blocks: usize,
}

/// What of a scenario's sky tells places apart.
#[derive(Debug, Clone, PartialEq)]
struct Asked {
    interference: Option<SkyInterference>,
    own_video: Option<OwnVideo>,
    own_noise_db: Uncertain,
    track_dbhz: [f64; 2],
    mask_deg: f64,
    span_s: f64,
}

impl Asked {
    fn new(sky: &Sky, flight_s: f64) -> Asked {
        Asked {
            interference: sky.interference.clone(),
            own_video: sky.own_video.clone(),
            own_noise_db: sky.own_noise_db.clone(),
            track_dbhz: sky.track_dbhz,
            mask_deg: sky.mask_deg,
            span_s: sky.window_s.max(0.0) + flight_s.max(0.0),
        }
    }
}

/// The horizons over the site in cells and heights: of the ground and what stands on it alone.
#[derive(Debug)]
struct Horizons {
    west_m: f64,
    south_m: f64,
    per_cell: f64,
    columns: usize,
    rows: usize,
    /// The spot that stands for each cell.
    spots_m: Vec<[f64; 2]>,
    /// z of the ground below it.
    ground_m: Vec<f32>,
    /// One for each of [`HEIGHTS_M`] above each of them.
    seen: Vec<Vec<Horizon>>,
}

/// One satellite in one time bin.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Standing {
    group: usize,
    azimuth_bin: usize,
    azimuth_share: f32,
    elevation_rad: f32,
    direction: [f64; 3],
    cn0_dbhz: f64,
    obliquity: f64,
    variance_m2: f64,
    /// Tilted by θ towards a side φ away, the antenna sees a satellite at sin E cos θ + cos E sin θ cos φ, and its C/N0 follows
    /// the sine with 19 dB: it is lost where cos φ > spare dB × `per_spare_db` − `tilt_offset`, φ from the far side.
    per_spare_db: f64,
    tilt_offset: f64,
}

/// Variance of the code noise by C/N0 in half dB-Hz steps up to 60.
#[derive(Debug, Clone)]
pub(crate) struct CodeNoise([f64; 121]);

impl CodeNoise {
    pub(crate) fn new() -> Self {
        CodeNoise(std::array::from_fn(|k| {
            let noise_m = smoothed_code_noise_m(0.5 * k as f64);
            noise_m * noise_m
        }))
    }

    #[inline]
    fn variance_m2(&self, cn0_dbhz: f64) -> f64 {
        self.0[((2.0 * cn0_dbhz + 0.5).max(0.0) as usize).min(120)]
    }
}

/// What hides and weakens the sky of a class of places.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ClassSky {
    pub(crate) horizon: Horizon,
    pub(crate) interference_db: f64,
}

impl SkyField {
    /// The field for flights of up to `flight_s` that start within the scenario's window. `same_shape` is a field over the same ground
    /// with the same obstacles, if there is one: what the ground hides is then not worked out again.
    ///
    /// # Errors
    /// As [`SkySource::new`].
    pub fn new(
        scenario: &Scenario,
        grid: &SiteGrid,
        flight_s: f64,
        same_shape: Option<&SkyField>,
    ) -> Result<SkyField, SkyError> {
        let (source, asked) = (SkySource::new(scenario)?, Asked::new(&scenario.sky, flight_s));
        let same_ground = same_shape.filter(|field| field.is_alike() == is_alike(grid, &scenario.sky));
        let field = SkyField {
            horizons: same_ground.map_or_else(Arc::default, |field| field.horizons.clone()),
            places: same_shape
                .filter(|field| field.asked == asked)
                .map_or_else(Arc::default, |field| field.places.clone()),
            asked,
            sky: scenario.sky.clone(),
            grid: grid.clone(),
            orbits: Arc::new(Orbits { source, passes: Mutex::default() }),
            noise: CodeNoise::new(),
            height_bin: height_bins(),
            offers: OnceLock::new(),
        };
        Ok(same_shape.into_iter().fold(field, SkyField::under_the_sky_of))
    }

    /// The same, sharing the satellites and their passes with another field where they are the same.
    #[must_use]
    pub fn under_the_sky_of(mut self, other: &SkyField) -> SkyField {
        if self.orbits.source == other.orbits.source {
            self.orbits = other.orbits.clone();
        }
        self
    }

    /// Works out what tells places apart, in parallel, before flights ask for it.
    pub fn prepare(&self) {
        self.offers();
    }

    #[inline]
    fn offers(&self) -> &Offers {
        self.offers.get().unwrap_or_else(|| self.worked_out())
    }

    #[cold]
    fn worked_out(&self) -> &Offers {
        there_or_made(&self.offers, || {
            let places = there_or_made(&self.places, || {
                let horizons =
                    there_or_made(&self.horizons, || Arc::new(Horizons::new(&self.grid, self.is_alike()))).clone();
                Arc::new(Places::new(&self.sky, &self.grid, self.asked.span_s, horizons))
            });
            Offers {
                passes: self.orbits.passes(places.bin_s, places.bins),
                table: vec![OnceLock::new(); places.noise.levels_db.len() * places.classes.len() * places.blocks],
                places: places.clone(),
            }
        })
    }

    fn is_alike(&self) -> bool {
        is_alike(&self.grid, &self.sky)
    }

    /// The sky so long after the start of the window, at a place (z above the site's origin), with the middle own noise.
    ///
    /// Nearest cell, height and time bin; beyond the edges and the end of the time the nearest.
    #[inline]
    pub fn at(&self, time_s_since_window_start: f64, place_m: [f64; 3]) -> SkyNow {
        self.at_level(self.offers().places.noise.central, time_s_since_window_start, place_m)
    }

    /// As [`SkyField::at`], with the own noise of a level from [`SkyField::level_of`].
    #[inline]
    pub fn at_level(&self, level: usize, time_s_since_window_start: f64, place_m: [f64; 3]) -> SkyNow {
        let offers = self.offers();
        let places = &*offers.places;
        let (cell, ground_m) = places.horizons.cell(place_m);
        let height_m = (place_m[2] - ground_m).max(0.0);
        let height = self.height_bin[cell_at(height_m * 0.25, 63)];
        let class = places.class[cell * HEIGHTS_M.len() + usize::from(height)] as usize;
        let bin = cell_at(time_s_since_window_start * places.per_bin, places.bins - 1);
        let block = bin / BINS_AT_ONCE;
        let slot = &offers.table[(level * places.classes.len() + class) * places.blocks + block];
        slot.get_or_init(|| self.over_time(offers, level, class, block))[bin % BINS_AT_ONCE]
    }

    /// What a block of time bins offers to a class of places at a level of own noise.
    #[cold]
    fn over_time(&self, offers: &Offers, level: usize, class: usize, block: usize) -> Box<Block> {
        let places = &*offers.places;
        let sky = &places.classes[class];
        let loss_db = places.noise.levels_db[level] + sky.interference_db;
        let ionosphere_m = self.source().budget.ionosphere_m;
        let mut found = Box::new([SkyNow::NOTHING; BINS_AT_ONCE]);
        for (bin, now) in (block * BINS_AT_ONCE..places.bins).zip(found.iter_mut()) {
            let satellites = offers.passes.in_bin(self.source(), bin);
            *now = assess(satellites, sky, loss_db, self.sky.track_dbhz, ionosphere_m, &self.noise);
        }
        found
    }

    /// The level whose own noise is nearest.
    pub fn level_of(&self, own_noise_db: f64) -> usize {
        let levels_db = &self.offers().places.noise.levels_db;
        let distance = |k: &usize| (levels_db[*k] - own_noise_db).abs();
        (0..levels_db.len()).min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap_or(0)
    }

    /// Satellites, place and time behind it.
    pub fn source(&self) -> &SkySource {
        &self.orbits.source
    }
}

impl Places {
    fn new(sky: &Sky, grid: &SiteGrid, span_s: f64, horizons: Arc<Horizons>) -> Places {
        let mask_rad = sky.mask_deg.to_radians();
        let noise = noise_levels(sky, grid, mask_rad);
        let skies = horizons.skies(grid, sky);
        let Division { bin_s, classes } = division(&skies, span_s, noise.levels_db.len(), mask_rad);
        let bins = (span_s / bin_s).floor() as usize + 1;
        let Classes { class, skies: classes } = classes;
        Places {
            horizons,
            class,
            classes,
            noise,
            bin_s,
            per_bin: 1.0 / bin_s,
            bins,
            blocks: bins.div_ceil(BINS_AT_ONCE),
        }
    }
}

/// Whether one cell stands for all: nothing there tells places apart.
fn is_alike(grid: &SiteGrid, sky: &Sky) -> bool {
    grid.is_flat() && !grid.has_obstacles() && sky.interference.is_none()
}

impl Horizons {
    fn new(grid: &SiteGrid, alike: bool) -> Horizons {
        let [west_m, south_m, east_m, north_m] = grid.extent_m();
        let area_m2 = (east_m - west_m) * (north_m - south_m);
        let cell_m = if alike { (area_m2.sqrt() * 4.0).max(1.0) } else { (area_m2 / MOST_CELLS).sqrt().max(10.0) };
        let columns = ((east_m - west_m) / cell_m).ceil().max(1.0) as usize;
        let rows = ((north_m - south_m) / cell_m).ceil().max(1.0) as usize;
        let corner_m =
            |index: usize| [west_m + (index % columns) as f64 * cell_m, south_m + (index / columns) as f64 * cell_m];
        let spots_m: Vec<[f64; 2]> =
            (0..columns * rows).map(|index| freest_spot(grid, corner_m(index), cell_m)).collect();
        let ground_m: Vec<f32> = spots_m.iter().map(|spot| grid.ground_m(spot[0], spot[1]) as f32).collect();
        let seen =
            spots_m.par_iter().zip(&ground_m).map(|(&spot, &ground)| horizons_above(grid, spot, ground)).collect();
        Horizons { west_m, south_m, per_cell: 1.0 / cell_m, columns, rows, spots_m, ground_m, seen }
    }

    /// The cell of a place, and z of the ground that stands for it.
    #[inline]
    fn cell(&self, place_m: [f64; 3]) -> (usize, f64) {
        let column = cell_at((place_m[0] - self.west_m) * self.per_cell, self.columns - 1);
        let row = cell_at((place_m[1] - self.south_m) * self.per_cell, self.rows - 1);
        let cell = row * self.columns + column;
        (cell, f64::from(self.ground_m[cell]))
    }

    /// What hides and weakens the sky in each cell at each height.
    fn skies(&self, grid: &SiteGrid, settings: &Sky) -> Vec<Vec<ClassSky>> {
        let cells = self.spots_m.par_iter().zip(&self.ground_m).zip(&self.seen);
        cells
            .map(|((&spot, &ground), seen)| {
                let sky = |(horizon, height_m): (&Horizon, f64)| ClassSky {
                    horizon: *horizon,
                    interference_db: interference_loss_db(
                        grid,
                        settings,
                        [spot[0], spot[1], f64::from(ground) + height_m],
                    ),
                };
                seen.iter().zip(HEIGHTS_M).map(sky).collect()
            })
            .collect()
    }
}

/// Height bin of each 4 m of height above ground: the nearest of [`HEIGHTS_M`].
fn height_bins() -> [u8; 64] {
    std::array::from_fn(|k| {
        let height_m = 4.0 * k as f64 + 2.0;
        let far = |h: &f64| (h - height_m).abs();
        (0..HEIGHTS_M.len()).min_by(|&a, &b| far(&HEIGHTS_M[a]).total_cmp(&far(&HEIGHTS_M[b]))).unwrap_or(0) as u8
    })
}

/// The spot that stands for a cell: its centre, or the freest of nine when something stands there. What flies low in a cell
/// flies beside its obstacles, not in them.
fn freest_spot(grid: &SiteGrid, corner_m: [f64; 2], cell_m: f64) -> [f64; 2] {
    const SHARES: [f64; 3] = [0.5, 0.2, 0.8];
    let mut best_m = [corner_m[0] + 0.5 * cell_m, corner_m[1] + 0.5 * cell_m];
    let mut least_m = f64::INFINITY;
    for dy in SHARES {
        for dx in SHARES {
            let spot = [corner_m[0] + dx * cell_m, corner_m[1] + dy * cell_m];
            let stands_m = grid.surface_m(spot[0], spot[1]) - grid.ground_m(spot[0], spot[1]);
            if stands_m < least_m {
                (best_m, least_m) = (spot, stands_m);
            }
        }
    }
    best_m
}

/// The horizon at each of [`HEIGHTS_M`] above a spot.
fn horizons_above(grid: &SiteGrid, spot_m: [f64; 2], ground_m: f32) -> Vec<Horizon> {
    if grid.is_flat() && !grid.has_obstacles() {
        return vec![Horizon::OPEN; HEIGHTS_M.len()];
    }
    let mut horizons = Vec::with_capacity(HEIGHTS_M.len());
    Horizon::above_spot(grid, spot_m, &HEIGHTS_M.map(|height_m| f64::from(ground_m) + height_m), &mut horizons);
    horizons
}

/// C/N0 lost at a place to the emitter on the ground and to the craft's own video transmitter, where there are such.
pub(crate) fn interference_loss_db(grid: &SiteGrid, sky: &Sky, place_m: [f64; 3]) -> f64 {
    let on_ground_db = sky.interference.as_ref().map_or(0.0, |emitter| ground_emitter_loss_db(grid, emitter, place_m));
    let own_db = sky.own_video.as_ref().map_or(0.0, own_video_loss_db);
    if on_ground_db > 0.0 && own_db > 0.0 { together_db(on_ground_db, own_db) } else { on_ground_db + own_db }
}

/// C/N0 lost to an in-band emitter: free space, one knife edge where ground or buildings stand in between.
///
/// The loss is the same for every satellite, as the rise of the noise is.
fn ground_emitter_loss_db(grid: &SiteGrid, emitter: &SkyInterference, place_m: [f64; 3]) -> f64 {
    let [ex, ey] = [emitter.place_m[0], emitter.place_m[1]];
    let ez = grid.ground_m(ex, ey) + emitter.place_m[2];
    let flat_m = ((place_m[0] - ex).powi(2) + (place_m[1] - ey).powi(2)).sqrt();
    let distance_m = (flat_m * flat_m + (place_m[2] - ez).powi(2)).sqrt().max(1.0);
    let way = Straight::between([ex, ey, ez], place_m).every((flat_m / 64.0).max(grid.cell_m));
    let heights: Vec<f64> = way.map(|[x, y]| grid.opaque_m(x, y)).collect();
    let last = heights.len() - 1;
    let mut edge_db: f64 = 0.0;
    for (k, top_m) in heights.iter().enumerate().take(last).skip(1) {
        let share = k as f64 / last as f64;
        let ray_m = ez + (place_m[2] - ez) * share;
        let loss = single_edge_loss_db(L1_HZ, flat_m * share, flat_m * (1.0 - share), top_m - ray_m);
        edge_db = edge_db.max(loss.unwrap_or(0.0));
    }
    emitter_loss_db(emitter.eirp_dbm - edge_db, distance_m)
}

/// C/N0 lost to the craft's own video transmitter. Its antenna sits beside or below that of the receiver, whose gain
/// there is as small as towards the ground.
fn own_video_loss_db(own: &OwnVideo) -> f64 {
    emitter_loss_db(own.in_band_dbm - own.filter_db, own.distance_m)
}

/// What two rises of the noise take together, dB: above the noise they add as powers.
fn together_db(a_db: f64, b_db: f64) -> f64 {
    db_from_ratio(ratio_from_db(a_db) + ratio_from_db(b_db) - 1.0)
}

/// C/N0 lost to an emitter in free space.
fn emitter_loss_db(eirp_dbm: f64, distance_m: f64) -> f64 {
    let eirp_dbw = eirp_dbm - 30.0;
    let ratio_db = interference_ratio_db(eirp_dbw, distance_m, L1_HZ, GAIN_DOWN_DBI, LEAST_SIGNAL_DBW, 0.0);
    // The signal of this least power gives this C/N0 at the zenith of the same antenna and receiver.
    let clear_dbhz = open_sky_cn0_dbhz(std::f64::consts::FRAC_PI_2);
    clear_dbhz - effective_cn0_dbhz(clear_dbhz, ratio_db, Q_WHITE, CHIP_RATE_HZ)
}

/// Own noise for which the field is computed.
#[derive(Debug)]
struct NoiseLevels {
    levels_db: Vec<f64>,
    /// Which of them is the middle one.
    central: usize,
}

/// Three quantiles, or one where even the most of them loses no satellite.
fn noise_levels(sky: &Sky, grid: &SiteGrid, mask_rad: f64) -> NoiseLevels {
    let own = &sky.own_noise_db;
    let levels = [0.1, 0.5, 0.9].map(|p| own.quantile(p));
    let weakest_dbhz = open_sky_cn0_dbhz(mask_rad) - levels[2];
    let plain = !grid.has_obstacles() && sky.interference.is_none() && sky.own_video.is_none();
    if own.is_exact() || (plain && weakest_dbhz >= sky.track_dbhz[0]) {
        NoiseLevels { levels_db: vec![own.central()], central: 0 }
    } else {
        NoiseLevels { levels_db: levels.to_vec(), central: 1 }
    }
}

/// How finely times and horizons are told apart.
struct Division {
    bin_s: f64,
    classes: Classes,
}

/// The finest division that keeps the table small.
fn division(skies: &[Vec<ClassSky>], span_s: f64, levels: usize, mask_rad: f64) -> Division {
    let bins = |bin_s: f64| (span_s / bin_s).floor() as usize + 1;
    for (step_deg, times) in DIVISIONS {
        let bin_s = TIME_BIN_S * times;
        let at_most = MOST_ENTRIES / (bins(bin_s) * levels);
        if let Some(classes) = classes(skies, mask_rad, step_deg.to_radians(), at_most) {
            return Division { bin_s, classes };
        }
    }
    // A window of days over rugged ground: the bins grow as they must.
    let [.., (step_deg, times)] = DIVISIONS;
    let classes = classes(skies, mask_rad, step_deg.to_radians(), usize::MAX).unwrap_or_default();
    let most_bins = (MOST_ENTRIES / (levels * classes.skies.len()).max(1)).max(1);
    Division { bin_s: (TIME_BIN_S * times).max(span_s / most_bins as f64), classes }
}

/// Classes of places that see the same sky.
#[derive(Default)]
struct Classes {
    /// The class of each place in order.
    class: Vec<u32>,
    /// One sky of each class.
    skies: Vec<ClassSky>,
}

/// The same to a step of the horizon and half a decibel; `None` when there are more than so many.
fn classes(skies: &[Vec<ClassSky>], mask_rad: f64, step_rad: f64, at_most: usize) -> Option<Classes> {
    let mut known: HashMap<[u8; 2 * HORIZON_AZIMUTHS + 1], u32> = HashMap::new();
    let mut classes = Classes::default();
    for sky in skies.iter().flatten() {
        let class = *known.entry(key(sky, mask_rad, step_rad)).or_insert_with(|| {
            classes.skies.push(*sky);
            classes.skies.len() as u32 - 1
        });
        if classes.skies.len() > at_most {
            return None;
        }
        classes.class.push(class);
    }
    Some(classes)
}

#[inline]
fn key(sky: &ClassSky, mask_rad: f64, step_rad: f64) -> [u8; 2 * HORIZON_AZIMUTHS + 1] {
    let mut key = [0; 2 * HORIZON_AZIMUTHS + 1];
    for (slot, &elevation_rad) in key.iter_mut().zip(sky.horizon.opaque_rad.iter().chain(&sky.horizon.canopy_rad)) {
        *slot = steps(f64::from(elevation_rad).max(mask_rad) / step_rad);
    }
    key[2 * HORIZON_AZIMUTHS] = (2.0 * sky.interference_db).round().min(255.0) as u8;
    key
}

/// The nearest whole number, 255 at most. `round` is a call to a library, and there are hundreds of thousands.
fn steps(count: f64) -> u8 {
    let count = count.clamp(0.0, 255.0);
    let whole = count as i32;
    (whole + i32::from(count - f64::from(whole) >= 0.5)) as u8
}

/// The satellites above the mask so long after the start of the window.
pub(crate) fn standing(source: &SkySource, after_s: f64) -> Vec<Standing> {
    let view = Viewpoint::new(source.site);
    let at = source.start.plus(after_s);
    let sights = source.satellites.list.iter().map(|satellite| (satellite.system(), satellite.sight(&view, at)));
    let mut list: Vec<Standing> = sights
        .filter(|(_, sight)| sight.elevation_rad >= source.mask_rad.max(0.0))
        .map(|(system, sight)| {
            let turn = sight.azimuth_rad / TAU * HORIZON_AZIMUTHS as f64;
            let sigma_m = source.budget.independent_sigma_m(sight.elevation_rad, 0.0);
            let sin_elevation = sight.direction[2];
            let sideways = (1.0 - sin_elevation * sin_elevation).max(1e-6).sqrt() * sin(REFERENCE_TILT_RAD);
            Standing {
                group: system.index(),
                azimuth_bin: turn as usize % HORIZON_AZIMUTHS,
                azimuth_share: turn.fract() as f32,
                elevation_rad: sight.elevation_rad as f32,
                direction: sight.direction,
                cn0_dbhz: open_sky_cn0_dbhz(sight.elevation_rad),
                obliquity: ionosphere_obliquity(sight.elevation_rad, IONOSPHERE_SHELL_M, IONOSPHERE_EARTH_M),
                variance_m2: sigma_m * sigma_m,
                per_spare_db: 1.0 / (19.0 * sideways),
                tilt_offset: sin_elevation * (1.0 - cos(REFERENCE_TILT_RAD)) / sideways,
            }
        })
        .collect();
    list.sort_by_key(|s| s.group);
    list
}

/// The fix to be had from these satellites.
pub(crate) fn assess(
    satellites: &[Standing],
    sky: &ClassSky,
    loss_db: f64,
    track_dbhz: [f64; 2],
    ionosphere_m: f64,
    noise: &CodeNoise,
) -> SkyNow {
    let (mut plain, mut weighted) = (Reduced::default(), Reduced::default());
    let mut lost_by_tilt = 0.0;
    let (mut strong, mut strong_groups) = (0u32, 0u32);
    // Satellites come sorted by clock.
    for group in satellites.chunk_by(|a, b| a.group == b.group) {
        let (mut one, mut other) = (Clock::default(), Clock::default());
        for s in group {
            let next = (s.azimuth_bin + 1) % HORIZON_AZIMUTHS;
            let between = |line: &[f32; HORIZON_AZIMUTHS]| {
                line[s.azimuth_bin] + (line[next] - line[s.azimuth_bin]) * s.azimuth_share
            };
            if s.elevation_rad < between(&sky.horizon.opaque_rad) {
                continue;
            }
            let leaves_db = if s.elevation_rad < between(&sky.horizon.canopy_rad) { CANOPY_LOSS_DB } else { 0.0 };
            let cn0_dbhz = s.cn0_dbhz - loss_db - leaves_db;
            if cn0_dbhz < track_dbhz[0] {
                continue;
            }
            if cn0_dbhz >= track_dbhz[1] {
                strong += 1;
                strong_groups |= 1 << s.group;
            }
            one.add(s.direction, 1.0, 0.0);
            other.add(s.direction, 1.0 / (s.variance_m2 + noise.variance_m2(cn0_dbhz)), s.obliquity);
            // Share of all directions of tilt in which it falls below the threshold, the arc cosine taken as a straight line.
            let least = (cn0_dbhz - track_dbhz[0]) * s.per_spare_db - s.tilt_offset;
            lost_by_tilt += (0.5 * (1.0 - least)).clamp(0.0, 1.0);
        }
        plain.absorb(&one);
        weighted.absorb(&other);
    }
    let (Some(dop), Some(covariance)) = (plain.covariance(), weighted.covariance()) else {
        return SkyNow { satellites: plain.count() as u8, ..SkyNow::NOTHING };
    };
    let sigma = |k: usize| {
        let common_m = ionosphere_m * covariance.common[k];
        (covariance.variance[k] + common_m * common_m).sqrt() as f32
    };
    SkyNow {
        satellites: plain.count().min(255) as u8,
        hdop: (dop.variance[0] + dop.variance[1]).sqrt() as f32,
        vdop: dop.variance[2].sqrt() as f32,
        sigma_east_m: sigma(0),
        sigma_north_m: sigma(1),
        sigma_up_m: sigma(2),
        lost_by_tilt: lost_by_tilt as f32,
        reacquire: strong >= 3 + strong_groups.count_ones(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    impl SkyField {
        /// Whether both were worked out, and with the same passes.
        pub(in crate::world) fn shares_passes_with(&self, other: &SkyField) -> Option<bool> {
            Some(Arc::ptr_eq(&self.offers.get()?.passes, &other.offers.get()?.passes))
        }
    }

    #[test]
    fn steps_are_the_nearest_whole_numbers() {
        let halves = (0..600).map(|k| 0.5 * f64::from(k));
        for count in halves.flat_map(|half| [half.next_down(), half, half.next_up()]).chain([-3.7, 1e9, f64::INFINITY])
        {
            assert_eq!(steps(count), count.round().min(255.0) as u8, "{count}");
        }
    }
}
