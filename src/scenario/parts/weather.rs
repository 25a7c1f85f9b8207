//! The air.

use super::ESTIMATE;
use crate::chance::Uncertain;
use crate::scenario::declare::part;
use crate::scenario::kind::between;

part! {
    /// The air. The wind blows *from* `from_deg`.
    pub struct Weather<U>(s) {
        "Mean wind at the reference height"
        wind_mps: U = uncertain(0, between(0.0, 40.0), Uncertain::Lognormal(4.0, 1.4), "estimate: light to moderate");
        "Height above ground of that wind"
        wind_height_m: f64 = number(between(2.0, 200.0), 10.0, "WMO: 10 m");
        "Direction the wind comes from, clockwise from north"
        from_deg: U = uncertain(1, between(-360.0, 720.0), Uncertain::Uniform(0.0, 360.0), "any direction");
        "Turning of the wind with height, clockwise positive"
        veer_deg_per_100m: f64 = number(between(-90.0, 90.0), 3.0, ESTIMATE);
        "Roughness length of the surroundings (Davenport-Wieringa: water 0.0002, grass 0.03, crops 0.1, scattered trees 0.25, forest or suburb 1)"
        roughness_m: f64 = number(between(0.0001, 3.0), 0.03, "WMO class: open grass");
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
