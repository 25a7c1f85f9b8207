//! The ground: permittivity of water and soil, reflection, and the two rays over flat ground.

use super::free_space::{WavePolarisation, wavelength_m};
use super::range::{OutOfRange, any_frequency, within};
use rustfft::num_complex::Complex;
use std::f64::consts::{PI, TAU};

/// Complex relative permittivity ε′ − jε″ as its two parts, both ≥ 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Permittivity {
    /// Real part ε′.
    pub real: f64,
    /// Loss part ε″.
    pub loss: f64,
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

/// Reflection coefficient of flat smooth ground, of complex amplitudes.
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
) -> Result<Complex<f64>, OutOfRange> {
    within("grazing angle in rad", grazing_rad, 0.0, PI / 2.0 + 1e-12)?;
    let (eps, sin_grazing) = (Complex::new(ground.real, -ground.loss), libm::sin(grazing_rad));
    let root = root(eps - (1.0 - sin_grazing * sin_grazing));
    let direct = match polarisation {
        WavePolarisation::Horizontal => Complex::from(sin_grazing),
        WavePolarisation::Vertical => eps * sin_grazing,
    };
    let whole = direct + root;
    Ok((direct - root) * whole.conj() * (1.0 / whole.norm_sqr()))
}

/// Principal root, real part ≥ 0; not that of the library, which goes through angles of the system's own.
fn root(z: Complex<f64>) -> Complex<f64> {
    let size = z.norm_sqr().sqrt();
    // The larger part by a sum of like signs, the other from the product, so that nothing cancels.
    let large = (0.5 * (size + z.re.abs())).sqrt();
    let small = if large > 0.0 { 0.5 * z.im.abs() / large } else { 0.0 };
    let (re, im) = if z.re >= 0.0 { (large, small) } else { (small, large) };
    Complex::new(re, im.copysign(z.im))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_root_squared_gives_the_number_back() {
        for (re, im) in [(3.0, 4.0), (-3.0, 1e-9), (-2.0, -5.0), (0.0, 2.0), (0.0, 0.0)] {
            let z = Complex::new(re, im);
            let root = root(z);
            assert!(root.re >= 0.0 && (root * root - z).norm() <= 1e-14 * z.norm());
        }
    }

    #[test]
    fn grazing_incidence_turns_the_wave_over() {
        // Γ → −1 for both polarisations.
        let ground = ground_permittivity(2.4e9, 15.0, 0.005).unwrap();
        for polarisation in [WavePolarisation::Horizontal, WavePolarisation::Vertical] {
            let gamma = reflection(ground, 1e-6, polarisation).unwrap();
            assert!((gamma + 1.0).norm() < 1e-3 && (gamma.norm() - 1.0).abs() < 1e-4);
        }
        assert!(reflection(ground, 2.0, WavePolarisation::Vertical).is_err());
    }
}
