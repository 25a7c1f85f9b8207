//! The ground: permittivity of water and soil, reflection, and the two rays over flat ground.

use super::range::{any_frequency, any_length};
use lostlink::radio::free_space::{WavePolarisation, wavelength_m};
use lostlink::radio::ground::*;
use lostlink::radio::range::{OutOfRange, within};
use lostlink::units::SPEED_OF_LIGHT_MPS;
use rustfft::num_complex::Complex64 as Complex;
use std::f64::consts::{PI, TAU};

/// Parameters of the double Debye form at a temperature.
struct Debye {
    static_limit: f64,
    middle: f64,
    optical: f64,
    relaxation_ghz: [f64; 2],
}

impl Debye {
    fn at(temperature_c: f64) -> Debye {
        let theta = 300.0 / (temperature_c + 273.15) - 1.0;
        let static_limit = 77.66 + 103.3 * theta;
        let first_ghz = 20.20 - 146.4 * theta + 316.0 * theta * theta;
        Debye {
            static_limit,
            middle: 0.0671 * static_limit,
            optical: 3.52 - 7.52 * theta,
            relaxation_ghz: [first_ghz, 39.8 * first_ghz],
        }
    }

    fn permittivity(&self, frequency_ghz: f64) -> Permittivity {
        let [x1, x2] = self.relaxation_ghz.map(|f| frequency_ghz / f);
        let first = (self.static_limit - self.middle) / (1.0 + x1 * x1);
        let second = (self.middle - self.optical) / (1.0 + x2 * x2);
        Permittivity { real: first + second + self.optical, loss: x1 * first + x2 * second }
    }
}

/// Permittivity of pure (fresh) water.
///
/// # Errors
/// Frequency outside 10 kHz to 1000 GHz, temperature outside −4 to 40 °C.
///
/// # Source
/// ITU-R P.527 §5.1.1, equations (5) to (13).
pub fn water_permittivity(frequency_hz: f64, temperature_c: f64) -> Result<Permittivity, OutOfRange> {
    any_frequency(frequency_hz)?;
    within("water temperature in °C", temperature_c, -4.0, 40.0)?;
    Ok(Debye::at(temperature_c).permittivity(frequency_hz * 1e-9))
}

/// What a soil is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Soil {
    /// Sand, per cent of the dry mass.
    pub sand_pct: f64,
    /// Clay, per cent of the dry mass.
    pub clay_pct: f64,
    /// Silt, per cent of the dry mass.
    pub silt_pct: f64,
    /// Volume of water per volume of soil.
    pub water_share: f64,
    /// Mass of the solid relative to that of as much water, commonly 2.65.
    pub specific_gravity: f64,
}

/// Permittivity of soil, moist, not frozen.
///
/// # Errors
/// Frequency outside 10 MHz to 1000 GHz, temperature outside 0 to 50 °C, a share of sand, clay or silt outside 0 to 100
/// exclusive of 0 (the density formula takes their logarithms), volumetric water outside 0.001 to 0.6, specific gravity outside
/// 2 to 3.5.
///
/// # Source
/// ITU-R P.527 §5.2, equations (56) to (70) of edition 6.
pub fn soil_permittivity(frequency_hz: f64, temperature_c: f64, soil: Soil) -> Result<Permittivity, OutOfRange> {
    within("frequency in Hz", frequency_hz, 1e7, 1e12)?;
    within("soil temperature in °C", temperature_c, 0.0, 50.0)?;
    let sand = within("sand in per cent", soil.sand_pct, 1e-3, 100.0)?;
    let clay = within("clay in per cent", soil.clay_pct, 1e-3, 100.0)?;
    let silt = within("silt in per cent", soil.silt_pct, 1e-3, 100.0)?;
    let water = within("volumetric water", soil.water_share, 1e-3, 0.6)?;
    let gravity = within("specific gravity", soil.specific_gravity, 2.0, 3.5)?;
    let f = frequency_hz * 1e-9;

    // Bulk density, and the permittivity of the solid.
    let bulk = 1.07256 + 0.078886 * libm::log(sand) + 0.038753 * libm::log(clay) + 0.032732 * libm::log(silt);
    let solid = {
        let s = 1.01 + 0.44 * gravity;
        s * s - 0.062
    };
    // Effective conductivity of the water held in the soil.
    let sigma_1 = 0.0467 + 0.2204 * bulk - 0.004111 * sand - 0.006614 * clay;
    let sigma_2 = -1.645 + 1.939 * bulk - 0.0225622 * sand + 0.01594 * clay;
    let x = f / 1.35;
    let relaxing = (sigma_1 - sigma_2) / (1.0 + x * x);
    let held = 18.0 / f * (gravity - bulk) / (gravity * water);
    let pure = Debye::at(temperature_c).permittivity(f);
    let free = Permittivity { real: pure.real + held * x * relaxing, loss: pure.loss + held * (sigma_2 + relaxing) };

    let alpha = 0.65;
    let beta_real = 1.2748 - 0.00519 * sand - 0.00152 * clay;
    let beta_loss = 1.33797 - 0.00603 * sand - 0.00166 * clay;
    let real = 1.0
        + bulk / gravity * (libm::pow(solid, alpha) - 1.0)
        + libm::pow(water, beta_real) * libm::pow(free.real.max(0.0), alpha)
        - water;
    let loss = libm::pow(water, beta_loss) * libm::pow(free.loss.max(0.0), alpha);
    Ok(Permittivity { real: libm::pow(real.max(0.0), 1.0 / alpha), loss: libm::pow(loss, 1.0 / alpha) })
}

/// The ray off flat ground beside the direct one.
///
/// Holds over flat open ground larger than the first Fresnel zone around the point of reflection. In flight a table of the same
/// coefficients stands in its place.
#[derive(Debug, Clone, Copy)]
pub struct GroundBounce {
    frequency_hz: f64,
    ground: Permittivity,
    rms_roughness_m: f64,
    polarisation: WavePolarisation,
}

impl GroundBounce {
    /// Over ground of these constants at this frequency.
    ///
    /// # Errors
    /// As [`ground_permittivity`] and [`roughness_factor`].
    pub fn new(
        frequency_hz: f64,
        permittivity: f64,
        conductivity_spm: f64,
        rms_roughness_m: f64,
        polarisation: WavePolarisation,
    ) -> Result<Self, OutOfRange> {
        let ground = ground_permittivity(frequency_hz, permittivity, conductivity_spm)?;
        within("rms roughness in m", rms_roughness_m, 0.0, 1e3)?;
        Ok(GroundBounce { frequency_hz, ground, rms_roughness_m, polarisation })
    }

    /// Loss in dB over free space on the direct ray (negative: gain), at most 60 dB.
    ///
    /// `ground_distance_m` > 0 or a difference of heights; heights above the ground, clamped to ≥ 0. `bounce_re_direct`
    /// is the ratio of field amplitudes that the antennas give the bounced and the direct ray: √(product of both
    /// antennas' power gains towards the bounce over the same towards each other); 1 for isotropic antennas.
    ///
    /// # Source
    /// −20 log10|1 + ρ Γ (r1/r2) e^(−j2π(r2 − r1)/λ)|, ρ of [`roughness_factor`], Γ of [`reflection`].
    pub fn excess_db(&self, ground_distance_m: f64, height_1_m: f64, height_2_m: f64, bounce_re_direct: f64) -> f64 {
        let (h1, h2) = (height_1_m.max(0.0), height_2_m.max(0.0));
        let direct = ground_distance_m.hypot(h1 - h2);
        let bounced = ground_distance_m.hypot(h1 + h2);
        if direct <= 0.0 {
            return 0.0;
        }
        let grazing_rad = libm::atan2(h1 + h2, ground_distance_m);
        let (Ok(gamma), Ok(rough)) = (
            reflection(self.ground, grazing_rad, self.polarisation),
            roughness_factor(self.frequency_hz, grazing_rad, self.rms_roughness_m),
        ) else {
            return f64::NAN;
        };
        // r2 − r1 = 4 h1 h2/(r1 + r2) keeps its digits at grazing incidence.
        let detour = 4.0 * h1 * h2 / (direct + bounced);
        let turn_rad = gamma.arg() - TAU * detour / wavelength_m(self.frequency_hz);
        let ray = Complex::from_polar(gamma.norm() * rough * direct / bounced * bounce_re_direct, turn_rad);
        -10.0 * libm::log10((Complex::ONE + ray).norm_sqr().max(1e-6))
    }
}

/// Distance in metres from which the two-ray loss grows 40 dB a decade.
///
/// # Errors
/// A height or the frequency not above zero.
///
/// # Source
/// 4π h1 h2/λ: Rappaport, Wireless Communications, 2nd ed., §4.6.
pub fn two_ray_break_distance_m(frequency_hz: f64, height_1_m: f64, height_2_m: f64) -> Result<f64, OutOfRange> {
    any_frequency(frequency_hz)?;
    any_length("first height in m", height_1_m)?;
    any_length("second height in m", height_2_m)?;
    Ok(4.0 * PI * height_1_m * height_2_m / wavelength_m(frequency_hz))
}

/// Spacing in frequency of the two rays' nulls, in Hz.
///
/// # Errors
/// A length not above zero.
///
/// # Source
/// c/(r2 − r1), geometry.
pub fn two_ray_null_spacing_hz(ground_distance_m: f64, height_1_m: f64, height_2_m: f64) -> Result<f64, OutOfRange> {
    any_length("ground distance in m", ground_distance_m)?;
    any_length("first height in m", height_1_m)?;
    any_length("second height in m", height_2_m)?;
    let square = ground_distance_m * ground_distance_m;
    let (sum, difference) = (height_1_m + height_2_m, height_1_m - height_2_m);
    let detour =
        4.0 * height_1_m * height_2_m / ((square + sum * sum).sqrt() + (square + difference * difference).sqrt());
    Ok(SPEED_OF_LIGHT_MPS / detour)
}
