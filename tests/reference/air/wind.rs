//! Mean wind by height, terrain categories, gust peaks, and the wind triangle's direction conventions.

/// Mean wind at a height by the logarithmic law of a neutral surface layer, m/s.
///
/// `height_m` and `height_ref_m` are above ground and should exceed the roughness length; at or below it the
/// result is 0. Neither this law nor [`power_law_mps`] holds above about 200 m.
///
/// # Source
/// Monin–Obukhov similarity for neutral stability; EN 1991-1-4:2005 §4.3.2 uses the same form.
#[inline]
pub fn log_law_mps(wind_ref_mps: f64, height_ref_m: f64, height_m: f64, roughness_m: f64) -> f64 {
    if height_m <= roughness_m {
        return 0.0;
    }
    wind_ref_mps * libm::log(height_m / roughness_m) / libm::log(height_ref_m / roughness_m)
}

/// Mean wind at a height by the power law, m/s; `height_m` ≥ 0.
///
/// # Source
/// Common practice; exponent 1/7 over open land (IEC 61400-1 uses 0.2 for design).
pub fn power_law_mps(wind_ref_mps: f64, height_ref_m: f64, height_m: f64, exponent: f64) -> f64 {
    wind_ref_mps * libm::pow(height_m.max(0.0) / height_ref_m, exponent)
}

/// Terrain category of EN 1991-1-4.
#[allow(clippy::upper_case_acronyms)]
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TerrainCategory {
    /// Sea or coast exposed to the open sea.
    Zero,
    /// Lakes, flat land without obstacles.
    I,
    /// Low vegetation, isolated obstacles.
    II,
    /// Villages, suburbs, forest.
    Third,
    /// Towns with buildings above 15 m.
    IV,
}

impl TerrainCategory {
    /// All, smoothest first.
    pub const ALL: [TerrainCategory; 5] =
        [TerrainCategory::Zero, TerrainCategory::I, TerrainCategory::II, TerrainCategory::Third, TerrainCategory::IV];

    /// From its designation `0`, `I`, `II`, `III` or `IV`; `None` for any other word.
    pub fn from_word(word: &str) -> Option<TerrainCategory> {
        TerrainCategory::ALL.into_iter().find(|category| category.word() == word)
    }

    /// Its designation.
    pub fn word(self) -> &'static str {
        match self {
            TerrainCategory::Zero => "0",
            TerrainCategory::I => "I",
            TerrainCategory::II => "II",
            TerrainCategory::Third => "III",
            TerrainCategory::IV => "IV",
        }
    }

    /// Roughness length, m.
    ///
    /// # Source
    /// EN 1991-1-4:2005 table 4.1.
    pub fn roughness_m(self) -> f64 {
        match self {
            TerrainCategory::Zero => 0.003,
            TerrainCategory::I => 0.01,
            TerrainCategory::II => 0.05,
            TerrainCategory::Third => 0.3,
            TerrainCategory::IV => 1.0,
        }
    }

    /// Height below which mean wind and intensity stay as they are there, m.
    ///
    /// # Source
    /// EN 1991-1-4:2005 table 4.1.
    pub fn least_height_m(self) -> f64 {
        match self {
            TerrainCategory::Zero | TerrainCategory::I => 1.0,
            TerrainCategory::II => 2.0,
            TerrainCategory::Third => 5.0,
            TerrainCategory::IV => 10.0,
        }
    }

    /// Mean wind in m/s at a height above ground for a basic wind (category II, 10 m).
    ///
    /// # Source
    /// EN 1991-1-4:2005 equations 4.3 to 4.5 with orography factor 1.
    pub fn mean_wind_mps(self, height_m: f64, basic_wind_mps: f64) -> f64 {
        let roughness_m = self.roughness_m();
        let terrain_factor = 0.19 * libm::pow(roughness_m / TerrainCategory::II.roughness_m(), 0.07);
        basic_wind_mps * terrain_factor * libm::log(height_m.max(self.least_height_m()) / roughness_m)
    }

    /// Turbulence intensity at a height above ground, −.
    ///
    /// # Source
    /// EN 1991-1-4:2005 equation 4.7 with turbulence and orography factor 1.
    pub fn turbulence_intensity(self, height_m: f64) -> f64 {
        1.0 / libm::log(height_m.max(self.least_height_m()) / self.roughness_m())
    }
}

/// Short gust speed from the mean wind and the turbulence intensity, m/s.
///
/// # Source
/// EN 1991-1-4:2005 equation 4.8 (peak factor 3.5 on the pressure), as a speed.
pub fn gust_peak_mps(mean_wind_mps: f64, turbulence_intensity: f64) -> f64 {
    mean_wind_mps * (1.0 + 7.0 * turbulence_intensity).sqrt()
}

/// Direction (clockwise from north, −π to π) that a wind vector blows *from*.
pub fn from_rad(wind_mps: [f64; 2]) -> f64 {
    libm::atan2(-wind_mps[0], -wind_mps[1])
}
