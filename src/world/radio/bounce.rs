//! The ray off flat ground.

use super::SINE_POINTS;
use crate::radio::antenna::Antenna;
use crate::radio::free_space::{WavePolarisation, wavelength_m};
use crate::radio::ground::{ground_permittivity, reflection, roughness_factor};
use crate::radio::maths::{cos_sin_turns, quick_db};
use crate::radio::{OutOfRange, Polarisation};
use crate::scenario::Site;
use rustfft::num_complex::Complex;

/// Constants of flat ground, for the ray off it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlatGround {
    /// Relative permittivity of the ground, real part.
    pub permittivity: f64,
    /// Conductivity, S/m.
    pub conductivity_spm: f64,
    /// Rms roughness of the ground, m.
    pub roughness_m: f64,
}

impl FlatGround {
    /// Of a site's ground.
    pub fn of(site: &Site) -> FlatGround {
        FlatGround {
            permittivity: site.ground_permittivity,
            conductivity_spm: site.ground_conductivity_spm,
            roughness_m: site.ground_roughness_m,
        }
    }
}

/// The ray off flat ground, with the reflection coefficient tabled over the sine of the grazing angle.
#[derive(Debug, Clone)]
pub(crate) struct Bounce {
    pub(crate) ground_m: f64,
    per_wavelength: f64,
    /// Reflected amplitude with roughness.
    table: Vec<Complex<f64>>,
}

impl Bounce {
    pub(crate) fn new(
        ground_m: f64,
        flat: &FlatGround,
        frequency_hz: f64,
        antenna: &Antenna,
    ) -> Result<Bounce, OutOfRange> {
        let ground = ground_permittivity(frequency_hz, flat.permittivity, flat.conductivity_spm)?;
        // A rod's field follows its lean from the vertical; a circular antenna takes the mean of both, its own sense.
        let axis = antenna.field_axis();
        let upright = match antenna.polarisation {
            Polarisation::Linear => axis[2] * axis[2],
            Polarisation::RightCircular(_) | Polarisation::LeftCircular(_) => 0.5,
        };
        let mut table = Vec::with_capacity(SINE_POINTS + 1);
        for i in 0..=SINE_POINTS {
            let grazing_rad = libm::asin(i as f64 / SINE_POINTS as f64);
            let v = reflection(ground, grazing_rad, WavePolarisation::Vertical)?;
            let h = reflection(ground, grazing_rad, WavePolarisation::Horizontal)?;
            let rough = roughness_factor(frequency_hz, grazing_rad, flat.roughness_m)?;
            table.push((v * upright + h * (1.0 - upright)) * rough);
        }
        Ok(Bounce { ground_m, per_wavelength: 1.0 / wavelength_m(frequency_hz), table })
    }

    /// Loss against the direct ray, dB, negative for a gain, at most 30 dB. `amplitude` of the bounced ray against the
    /// direct one by both antennas, `direct_m` and `bounced_m` the two ways, `heights_m` their product and sum.
    #[inline]
    pub(crate) fn loss_db(&self, amplitude: f64, direct_m: f64, bounced_m: f64, sum_m: f64, product_m2: f64) -> f64 {
        let inverse = 1.0 / bounced_m;
        let x = (sum_m * inverse).min(1.0) * SINE_POINTS as f64;
        let i = (x as usize).min(SINE_POINTS - 1);
        let t = x - i as f64;
        let (a, b) = (self.table[i], self.table[i + 1]);
        let Complex { re, im } = a + (b - a) * t;
        // The ways differ by 4 h1 h2/(r1 + r2), which does not cancel.
        let extra_m = 4.0 * product_m2 / (direct_m + bounced_m);
        let (cos, sin) = cos_sin_turns(extra_m * self.per_wavelength);
        let size = amplitude * direct_m * inverse;
        // Γ·e^(−jφ)
        let (x, y) = (1.0 + size * (re * cos + im * sin), size * (im * cos - re * sin));
        -quick_db((x * x + y * y).max(1e-3))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::radio::ground::GroundBounce;

    /// The tabled bounce against the formula evaluated directly, over distances and heights of a small site.
    #[test]
    fn the_tabled_bounce_is_the_formula() {
        let flat = FlatGround { permittivity: 15.0, conductivity_spm: 0.005, roughness_m: 0.01 };
        for (axis, polarisation) in
            [([0.0, 0.0, 1.0], WavePolarisation::Vertical), ([0.0, 1.0, 0.0], WavePolarisation::Horizontal)]
        {
            let antenna = Antenna {
                pattern: crate::radio::Pattern::Dipole,
                polarisation: Polarisation::Linear,
                axis,
                condition: crate::radio::AntennaCondition::Whole,
                feed_loss_db: 0.0,
            };
            let tabled = Bounce::new(0.0, &flat, 2.44e9, &antenna).unwrap();
            let direct = GroundBounce::new(2.44e9, 15.0, 0.005, 0.01, polarisation).unwrap();
            let mut worst: f64 = 0.0;
            for i in 1..400 {
                for height_m in [2.0, 15.0, 60.0, 119.0] {
                    let level_m = f64::from(i) * 5.0;
                    let (sum_m, step_m): (f64, f64) = (1.5 + height_m, height_m - 1.5);
                    let ways = [step_m, sum_m].map(|h| (level_m * level_m + h * h).sqrt());
                    let got = tabled.loss_db(1.0, ways[0], ways[1], sum_m, 1.5 * height_m);
                    let want = direct.excess_db(level_m, 1.5, height_m, 1.0);
                    // In a null a hair of phase is decibels.
                    if want < 15.0 {
                        worst = worst.max((got - want).abs());
                    }
                }
            }
            assert!(worst < 0.1, "{worst}");
        }
    }
}
