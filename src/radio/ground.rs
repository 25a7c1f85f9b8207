//! The ground: permittivity of water and soil, reflection, and the two rays over flat ground.

use super::complex::Complex;
use super::free_space::{WavePolarisation, wavelength_m};
use super::maths::{cos_sin_turns, quick_db};
use super::range::{OutOfRange, any_frequency, any_length, within};
use std::f64::consts::{PI, TAU};

/// Complex relative permittivity ε′ − jε″ as its two parts, both ≥ 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Permittivity {
    /// Real part ε′.
    pub real: f64,
    /// Loss part ε″.
    pub loss: f64,
}

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

/// Permittivity of ground given by its real part and its conductivity.
///
/// # Errors
/// Frequency out of range, permittivity below 1 or above 200, conductivity outside 0 to 100 S/m.
///
/// # Source
/// ITU-R P.527: ε = εr − j 18 σ/f_GHz.
pub fn ground_permittivity(
    frequency_hz: f64,
    permittivity: f64,
    conductivity_spm: f64,
) -> Result<Permittivity, OutOfRange> {
    any_frequency(frequency_hz)?;
    within("relative permittivity", permittivity, 1.0, 200.0)?;
    within("conductivity in S/m", conductivity_spm, 0.0, 100.0)?;
    Ok(Permittivity { real: permittivity, loss: 18.0 * conductivity_spm / (frequency_hz * 1e-9) })
}

/// Reflection coefficient of flat smooth ground, as magnitude and phase in [0, 2π).
///
/// # Errors
/// A grazing angle outside 0 to π/2.
///
/// # Source
/// Fresnel's plane-wave coefficients over ITU-R P.527 ground, e.g. Parsons, The Mobile Radio Propagation Channel, §2.3.
pub fn reflection(
    ground: Permittivity,
    grazing_rad: f64,
    polarisation: WavePolarisation,
) -> Result<(f64, f64), OutOfRange> {
    within("grazing angle in rad", grazing_rad, 0.0, PI / 2.0 + 1e-12)?;
    let gamma = coefficient(Complex::new(ground.real, -ground.loss), libm::sin(grazing_rad), polarisation);
    let phase = libm::atan2(gamma.im, gamma.re);
    let phase = if phase < 0.0 { phase + TAU } else { phase };
    Ok((gamma.norm(), if phase >= TAU { 0.0 } else { phase }))
}

#[inline]
fn coefficient(eps: Complex, sin_grazing: f64, polarisation: WavePolarisation) -> Complex {
    let root = (eps - Complex::new(1.0 - sin_grazing * sin_grazing, 0.0)).sqrt();
    let direct = match polarisation {
        WavePolarisation::Horizontal => Complex::new(sin_grazing, 0.0),
        WavePolarisation::Vertical => eps * sin_grazing,
    };
    (direct - root) / (direct + root)
}

/// Share of the reflected field's amplitude that rough ground leaves in the mirror direction.
///
/// # Errors
/// Negative roughness, a grazing angle outside 0 to π/2, frequency out of range.
///
/// # Source
/// Ament 1953 (from memory): e^(−2 (2π s sin ψ/λ)²), s the rms roughness.
pub fn roughness_factor(frequency_hz: f64, grazing_rad: f64, rms_roughness_m: f64) -> Result<f64, OutOfRange> {
    any_frequency(frequency_hz)?;
    within("grazing angle in rad", grazing_rad, 0.0, PI / 2.0 + 1e-12)?;
    within("rms roughness in m", rms_roughness_m, 0.0, 1e3)?;
    let phase = TAU * rms_roughness_m * libm::sin(grazing_rad) / wavelength_m(frequency_hz);
    Ok(libm::exp(-2.0 * phase * phase))
}

/// The ray off flat ground beside the direct one, ready for use in flight.
///
/// Holds over flat open ground larger than the first Fresnel zone around the point of reflection. Over terrain the
/// bounce's phase is set by unknown metres of ground and is random: there it belongs to fading, and this must be off.
/// Nulls from it do not go away by hopping inside one band ([`two_ray_null_spacing_hz`]).
#[derive(Debug, Clone, Copy)]
pub struct GroundBounce {
    per_wavelength: f64,
    eps: Complex,
    roughness: f64,
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
        let wave_number = TAU / wavelength_m(frequency_hz);
        Ok(GroundBounce {
            per_wavelength: 1.0 / wavelength_m(frequency_hz),
            eps: Complex::new(ground.real, -ground.loss),
            roughness: 2.0 * (wave_number * rms_roughness_m) * (wave_number * rms_roughness_m),
            polarisation,
        })
    }

    /// Loss in dB over free space on the direct ray (negative: gain), at most 60 dB.
    ///
    /// `ground_distance_m` > 0 or a difference of heights; heights above the ground, clamped to ≥ 0. `bounce_re_direct`
    /// is the ratio of field amplitudes that the antennas give the bounced and the direct ray: √(product of both
    /// antennas' power gains towards the bounce over the same towards each other); 1 for isotropic antennas.
    ///
    /// # Source
    /// −20 log10|1 + ρ Γ (r1/r2) e^(−j2π(r2 − r1)/λ)|, ρ of [`roughness_factor`], Γ of [`reflection`].
    #[inline]
    pub fn excess_db(&self, ground_distance_m: f64, height_1_m: f64, height_2_m: f64, bounce_re_direct: f64) -> f64 {
        let (h1, h2) = (height_1_m.max(0.0), height_2_m.max(0.0));
        let square = ground_distance_m * ground_distance_m;
        let (sum, difference) = (h1 + h2, h1 - h2);
        let direct = (square + difference * difference).sqrt();
        let bounced = (square + sum * sum).sqrt();
        if direct <= 0.0 {
            return 0.0;
        }
        let per_bounced = 1.0 / bounced;
        let sin_grazing = sum * per_bounced;
        let gamma = coefficient(self.eps, sin_grazing, self.polarisation);
        let roughness = self.roughness * (sin_grazing * sin_grazing);
        let rough = if roughness > 0.0 { libm::exp(-roughness) } else { 1.0 };
        // r2 − r1 = 4 h1 h2/(r1 + r2) keeps its digits at grazing incidence.
        let detour = 4.0 * h1 * h2 / (direct + bounced);
        let (cos, sin) = cos_sin_turns(detour * self.per_wavelength);
        let ray = gamma * Complex::new(cos, -sin) * (rough * direct * per_bounced * bounce_re_direct);
        -quick_db((Complex::ONE + ray).norm_squared().max(1e-6))
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
    Ok(crate::units::SPEED_OF_LIGHT_MPS / detour)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grazing_incidence_turns_the_wave_over() {
        // Γ → −1 for both polarisations.
        let ground = ground_permittivity(2.4e9, 15.0, 0.005).unwrap();
        for polarisation in [WavePolarisation::Horizontal, WavePolarisation::Vertical] {
            let (magnitude, phase_rad) = reflection(ground, 1e-6, polarisation).unwrap();
            assert!((magnitude - 1.0).abs() < 1e-4 && (phase_rad - PI).abs() < 1e-3);
        }
        assert!(reflection(ground, 2.0, WavePolarisation::Vertical).is_err());
    }

    #[test]
    fn beyond_the_break_distance_loss_grows_twelve_db_an_octave() {
        let bounce = GroundBounce::new(2.44e9, 15.0, 0.005, 0.0, WavePolarisation::Horizontal).unwrap();
        let far = 20.0 * two_ray_break_distance_m(2.44e9, 1.5, 10.0).unwrap();
        // 6 dB of these 12 are free space's.
        let octave = bounce.excess_db(2.0 * far, 1.5, 10.0, 1.0) - bounce.excess_db(far, 1.5, 10.0, 1.0);
        assert!((octave - 6.02).abs() < 0.1, "{octave}");
    }

    #[test]
    fn rough_ground_takes_the_bounce_away() {
        let rough = GroundBounce::new(5.8e9, 15.0, 0.005, 2.0, WavePolarisation::Vertical).unwrap();
        assert!(rough.excess_db(300.0, 2.0, 60.0, 1.0).abs() < 1e-6);
        assert!(roughness_factor(5.8e9, 0.2, 2.0).unwrap() < 1e-6);
        let shaded = GroundBounce::new(5.8e9, 15.0, 0.005, 0.0, WavePolarisation::Vertical).unwrap();
        assert_eq!(shaded.excess_db(300.0, 2.0, 60.0, 0.0).abs(), 0.0);
    }

    #[test]
    fn wetter_soil_has_more_permittivity() {
        let soil = |water_share| Soil {
            sand_pct: 51.52,
            clay_pct: 13.42,
            silt_pct: 35.06,
            water_share,
            specific_gravity: 2.65,
        };
        let real = |water| soil_permittivity(2.4e9, 20.0, soil(water)).unwrap().real;
        assert!(real(0.05) < real(0.15) && real(0.15) < real(0.3));
        assert!(soil_permittivity(2.4e9, 20.0, soil(0.9)).is_err());
    }
}
