//! The air.

use super::ESTIMATE;
use super::sky::Sky;
use crate::air::wind::{Profile, Series, WindAt};
use crate::chance::Uncertain;
use crate::scenario::declare::part;
use crate::scenario::files::Keeper;
use crate::scenario::kind::{Limits, between, tidy};
use crate::scenario::section::Section;
use crate::scenario::wind::{read_profile, read_series};
use std::sync::Arc;

part! {
    /// The air. The wind blows *from* `from_deg`.
    pub struct Weather<U>(s, keep: &Keeper) {
        let profile = WindProfile::read(s, keep);
        let series = read_hours(s, keep);
        let told = Told { s, profile: profile.as_ref(), by_the_hour: series.is_some() };
        "Mean wind at the reference height"
        wind_mps: U = drawn(0, told.number("wind_mps", between(0.0, 40.0), Uncertain::Lognormal(4.0, 1.4), |wind| wind.speed_mps, ["estimate: light to moderate", "Mean wind at the reference height"]));
        "Height above ground of that wind"
        wind_height_m: f64 = number(between(2.0, 200.0), profile.as_ref().map_or(10.0, |profile| profile.reference.at), "WMO: 10 m; of a profile with one height that height");
        "Direction the wind comes from, clockwise from north"
        from_deg: U = drawn(1, told.number("from_deg", between(-360.0, 720.0), Uncertain::Uniform(0.0, 360.0), |wind| wind.from_deg, ["any direction", "Direction the wind comes from, clockwise from north"]));
        "The wind by the hour, where a file has it"
        hours: Option<WindHours> = made(series.map(|series| WindHours::new(s, series)));
        "The wind by height, where a file has it for more than one"
        profile: Option<Arc<Vec<WindAt>>> = made(profile.and_then(|profile| profile.shape()));
        "Turning of the wind with height, clockwise positive"
        veer_deg_per_100m: f64 = number(between(-90.0, 90.0), VEER_DEG_PER_100M, ESTIMATE);
        "Roughness length of the surroundings (Davenport-Wieringa: water 0.0002, grass 0.03, crops 0.1, scattered trees 0.25, forest or suburb 1)"
        roughness_m: f64 = number(between(0.0001, 3.0), ROUGHNESS_M, "WMO class: open grass");
        "Factor on the turbulence that wind and height give: 0 none, 1 standard"
        turbulence: U = uncertain(2, between(0.0, 5.0), 1.0, "as the standard says");
        "Slow change of the mean wind over a flight: standard deviation"
        drift_mps: U = uncertain(1111, between(0.0, 10.0), Uncertain::Lognormal(0.5, 1.5), ESTIMATE);
        "Memory of that change"
        drift_memory_s: U = uncertain(1112, between(1.0, 36_000.0), Uncertain::Lognormal(300.0, 1.5), ESTIMATE);
        "Single gust added once at a random moment: amplitude"
        gust_mps: U = uncertain(3, between(0.0, 30.0), 0.0, "none");
        "Length of that gust along the wind"
        gust_length_m: U = uncertain(1113, between(1.0, 2000.0), Uncertain::Lognormal(80.0, 1.4), ESTIMATE);
        "Length of the wind shadow behind obstacles; 0 for none"
        lee_heights: f64 = number(between(0.0, 30.0), 0.0, "none");
        "Whether hills change the wind: faster over crests, weak, gusty and backwards behind slopes over 20°"
        hill_wind: bool = flag(true, "where there is terrain");
        "Factor on the speed-up over crests; the wind stated is that over level ground"
        hill_factor: U = uncertain(1043, between(0.0, 4.0), Uncertain::Lognormal(1.0, 1.25), "speed-up 2 h/L (ridge), 1.6 h/L (hill), 0.8 h/L (scarp): Jackson and Hunt 1975, Taylor and Lee 1984; spread: estimate");
        "Temperature at the site"
        temperature_c: U = uncertain(4, between(-40.0, 50.0), 15.0, "ISO 2533 at sea level");
        "Sea-level pressure"
        pressure_pa: f64 = number(between(87_000.0, 108_500.0), 101_325.0, "ISO 2533");
        "Change of pressure with time"
        tendency_pa_per_h: U = uncertain(5, between(-1500.0, 1500.0), Uncertain::Normal(0.0, 50.0), ESTIMATE);
        "Rain"
        rain_mm_per_h: f64 = number(between(0.0, 200.0), 0.0, "dry");
    }
}

/// Wind under which a profile has no direction at its reference height, m/s. Estimate.
const CALM_MPS: f64 = 0.05;

/// Standard reference height (WMO).
const REFERENCE_M: f64 = 10.0;

/// A profile as it is read.
struct WindProfile {
    rows: Vec<WindAt>,
    /// The wind at its reference height.
    reference: WindAt,
}

impl WindProfile {
    fn read(s: &Section, keep: &Keeper) -> Option<WindProfile> {
        let meaning = "Wind by height: CSV with the columns `height_m`, `speed_mps`, `direction_deg`";
        let file = s.file_name("profile_file", "the logarithmic law from `wind_mps` at `wind_height_m`", meaning)?;
        let text = keep.text(s, "profile_file", &file)?;
        let rows = match read_profile(&text) {
            Ok(rows) => rows,
            Err(fault) => {
                s.sink.push_in(&file, &text, fault);
                return None;
            }
        };
        let roughness_m = s.foreseen("roughness_m").filter(|z| *z > 0.0).unwrap_or(ROUGHNESS_M);
        let usual_m = match rows.as_slice() {
            [only] if (2.0..=200.0).contains(&only.at) => only.at,
            _ => REFERENCE_M,
        };
        let at = s.foreseen("wind_height_m").unwrap_or(usual_m);
        let veer_rad_per_m = s.foreseen("veer_deg_per_100m").unwrap_or(VEER_DEG_PER_100M).to_radians() / 100.0;
        let reference = Profile::new(rows.clone(), roughness_m, veer_rad_per_m).at(at);
        if reference.speed_mps < CALM_MPS && rows.iter().any(|row| row.speed_mps >= CALM_MPS) {
            let found = format!("a profile without wind at {} m, the height it is measured by", tidy(at));
            s.error("profile_file", found, "a `wind_height_m` at which the profile has wind");
            return None;
        }
        Some(WindProfile { rows, reference })
    }

    /// What the usual law does not give: nothing for one height, or without any wind.
    fn shape(self) -> Option<Arc<Vec<WindAt>>> {
        let usual = self.rows.len() == 1 && self.rows[0].at == self.reference.at;
        (!usual && self.reference.speed_mps >= CALM_MPS).then(|| Arc::new(self.rows))
    }
}

/// Roughness length of open grass.
const ROUGHNESS_M: f64 = 0.03;

/// Turning with height where none is stated.
const VEER_DEG_PER_100M: f64 = 3.0;

/// What is told of the wind.
struct Told<'s, 'r, 'a> {
    s: &'s Section<'r, 'a>,
    profile: Option<&'s WindProfile>,
    by_the_hour: bool,
}

impl Told<'_, '_, '_> {
    /// Speed or direction at the reference height: as stated, else as a file has it.
    fn number(
        &self,
        key: &'static str,
        limits: Limits,
        default: Uncertain,
        of: impl Fn(&WindAt) -> f64,
        [source, meaning]: [&str; 2],
    ) -> Uncertain {
        if self.by_the_hour && !self.s.has(key) {
            self.s.sink.record(self.s.path(key), None, "by the hour", "`weather.series_file`");
            return Uncertain::Exact(0.0);
        }
        if self.by_the_hour {
            self.s.warn(key, "a wind stated beside `series_file`: it goes before what the file has", "one of the two");
        }
        match self.profile {
            Some(profile) if !self.s.sink.is_describing() => {
                self.s.uncertain(key, limits, of(&profile.reference), "`weather.profile_file`", meaning)
            }
            _ => self.s.uncertain(key, limits, default, source, meaning),
        }
    }
}

fn read_hours(s: &Section, keep: &Keeper) -> Option<Series> {
    let meaning = "Wind at the reference height over the day: CSV with the columns `hour_utc` or `time`, `speed_mps`, `direction_deg`";
    let file = s.file_name("series_file", "the same wind at any hour", meaning)?;
    let text = keep.text(s, "series_file", &file)?;
    match read_series(&text) {
        Ok(series) => Some(series),
        Err(fault) => {
            s.sink.push_in(&file, &text, fault);
            None
        }
    }
}

/// The wind over the day, as far as nothing stated goes before it.
#[derive(Debug, Clone, PartialEq)]
pub struct WindHours {
    series: Arc<Series>,
    /// Whether speed and direction are those of the series.
    speed: bool,
    direction: bool,
    /// Directions in the take-off window, which may reach beyond 360°.
    pub directions_deg: std::ops::Range<f64>,
}

impl WindHours {
    fn new(s: &Section, series: Series) -> WindHours {
        let (speed, direction) = (!s.has("wind_mps"), !s.has("from_deg"));
        WindHours { series: Arc::new(series), speed, direction, directions_deg: 0.0..360.0 }
    }

    /// Whether the direction is that of the series.
    pub fn gives_direction(&self) -> bool {
        self.direction
    }
}

impl Weather {
    /// Takes the middle values from the series: those of the middle of the take-off window.
    pub(in crate::scenario) fn settle(&mut self, sky: &Sky) {
        let Some(hours) = &mut self.hours else { return };
        let [.., hour, minute, second] = sky.utc;
        let from_h = f64::from(hour * 3600 + minute * 60 + second) / 3600.0;
        let window_h = sky.window_s / 3600.0;
        hours.directions_deg = hours.series.directions_deg(from_h..from_h + window_h);
        let middle = hours.series.at(from_h + 0.5 * window_h);
        if hours.speed {
            self.wind_mps = Uncertain::Exact(middle.speed_mps);
        }
        if hours.direction {
            self.from_deg = Uncertain::Exact(middle.from_deg);
        }
    }
}

impl Weather<f64> {
    /// The wind of a flight that takes off at an hour of the day, where a series has it.
    pub fn take_off_at(&mut self, hour_utc: f64) {
        let Some(hours) = &self.hours else { return };
        let wind = hours.series.at(hour_utc);
        if hours.speed {
            self.wind_mps = wind.speed_mps;
        }
        if hours.direction {
            self.from_deg = wind.from_deg;
        }
    }
}
