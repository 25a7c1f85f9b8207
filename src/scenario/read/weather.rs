//! Weather.

use super::ESTIMATE;
use crate::chance::Uncertain;
use crate::scenario::table::{Section, between};
use crate::scenario::types::Weather;

pub(super) fn read_weather(s: &Section) -> Weather {
    let wind_mps = s.uncertain(
        "wind_mps",
        between(0.0, 40.0),
        Uncertain::Lognormal(4.0, 1.4),
        "estimate: light to moderate",
        "Mean wind at the reference height",
    );
    let wind_height_m =
        s.number("wind_height_m", between(2.0, 200.0), 10.0, "WMO: 10 m", "Height above ground of that wind");
    let from_deg = s.uncertain(
        "from_deg",
        between(-360.0, 720.0),
        Uncertain::Uniform(0.0, 360.0),
        "any direction",
        "Direction the wind comes from, clockwise from north",
    );
    let veer_deg_per_100m = s.number(
        "veer_deg_per_100m",
        between(-90.0, 90.0),
        3.0,
        ESTIMATE,
        "Turning of the wind with height, clockwise positive",
    );
    let roughness_m = s.number("roughness_m", between(0.0001, 3.0), 0.03, "WMO class: open grass", "Roughness length of the surroundings (Davenport-Wieringa: water 0.0002, grass 0.03, crops 0.1, scattered trees 0.25, forest or suburb 1)");
    let turbulence = s.uncertain(
        "turbulence",
        between(0.0, 5.0),
        1.0,
        "as the standard says",
        "Factor on the turbulence that wind and height give: 0 none, 1 standard",
    );
    let drift_mps = s.number(
        "drift_mps",
        between(0.0, 10.0),
        0.5,
        ESTIMATE,
        "Slow change of the mean wind over a flight: standard deviation",
    );
    let drift_memory_s = s.number("drift_memory_s", between(1.0, 36_000.0), 300.0, ESTIMATE, "Memory of that change");
    let gust_mps = s.uncertain(
        "gust_mps",
        between(0.0, 30.0),
        0.0,
        "none",
        "Single gust added once at a random moment: amplitude",
    );
    let gust_length_m =
        s.number("gust_length_m", between(1.0, 2000.0), 80.0, ESTIMATE, "Length of that gust along the wind");
    let lee_heights = s.number(
        "lee_heights",
        between(0.0, 30.0),
        0.0,
        "none",
        "Length of the wind shadow behind obstacles; 0 for none",
    );
    let hill_wind = s.flag(
        "hill_wind",
        true,
        "where there is terrain",
        "Whether hills change the wind: faster over crests, weak, gusty and backwards behind slopes over 20°",
    );
    let hill_factor = s.uncertain(
        "hill_factor",
        between(0.0, 4.0),
        Uncertain::Lognormal(1.0, 1.25),
        "speed-up 2 h/L (ridge), 1.6 h/L (hill), 0.8 h/L (scarp): Jackson and Hunt 1975, Taylor and Lee 1984; spread: estimate",
        "Factor on the speed-up over crests; the wind stated is that over level ground",
    );
    let temperature_c =
        s.uncertain("temperature_c", between(-40.0, 50.0), 15.0, "ISO 2533 at sea level", "Temperature at the site");
    let pressure_pa =
        s.number("pressure_pa", between(87_000.0, 108_500.0), 101_325.0, "ISO 2533", "Sea-level pressure");
    let tendency_pa_per_h = s.uncertain(
        "tendency_pa_per_h",
        between(-1500.0, 1500.0),
        Uncertain::Normal(0.0, 50.0),
        ESTIMATE,
        "Change of pressure with time",
    );
    let rain_mm_per_h = s.number("rain_mm_per_h", between(0.0, 200.0), 0.0, "dry", "Rain");
    Weather {
        wind_mps,
        wind_height_m,
        from_deg,
        veer_deg_per_100m,
        roughness_m,
        turbulence,
        drift_mps,
        drift_memory_s,
        gust_mps,
        gust_length_m,
        lee_heights,
        hill_wind,
        hill_factor,
        temperature_c,
        pressure_pa,
        tendency_pa_per_h,
        rain_mm_per_h,
    }
}
