//! Rain and air on the path: small at these frequencies, so that they can be shown to be small.

use super::range::{OutOfRange, within};

/// Coefficients of one regression of ITU-R P.838-3: Gaussians (a, b, c) over log10 f, then slope and constant.
struct Regression {
    terms: &'static [[f64; 3]],
    slope: f64,
    constant: f64,
}

impl Regression {
    fn at(&self, log_frequency_ghz: f64) -> f64 {
        let sum: f64 = self
            .terms
            .iter()
            .map(|[a, b, c]| {
                let x = (log_frequency_ghz - b) / c;
                a * libm::exp(-x * x)
            })
            .sum();
        sum + self.slope * log_frequency_ghz + self.constant
    }
}

const K_HORIZONTAL: Regression = Regression {
    terms: &[
        [-5.33980, -0.10008, 1.13098],
        [-0.35351, 1.26970, 0.45400],
        [-0.23789, 0.86036, 0.15354],
        [-0.94158, 0.64552, 0.16817],
    ],
    slope: -0.18961,
    constant: 0.71147,
};
const K_VERTICAL: Regression = Regression {
    terms: &[
        [-3.80595, 0.56934, 0.81061],
        [-3.44965, -0.22911, 0.51059],
        [-0.39902, 0.73042, 0.11899],
        [0.50167, 1.07319, 0.27195],
    ],
    slope: -0.16398,
    constant: 0.63297,
};
const ALPHA_HORIZONTAL: Regression = Regression {
    terms: &[
        [-0.14318, 1.82442, -0.55187],
        [0.29591, 0.77564, 0.19822],
        [0.32177, 0.63773, 0.13164],
        [-5.37610, -0.96230, 1.47828],
        [16.1721, -3.29980, 3.43990],
    ],
    slope: 0.67849,
    constant: -1.95537,
};
const ALPHA_VERTICAL: Regression = Regression {
    terms: &[
        [-0.07771, 2.33840, -0.76284],
        [0.56727, 0.95545, 0.54039],
        [-0.20238, 1.14520, 0.26809],
        [-48.2991, 0.791669, 0.116226],
        [48.5833, 0.791459, 0.116479],
    ],
    slope: -0.053739,
    constant: 0.83433,
};

/// k and α of the specific attenuation k R^α in dB/km, R in mm/h.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RainCoefficients {
    /// Coefficient.
    pub k: f64,
    /// Exponent.
    pub alpha: f64,
}

/// Rain coefficients; tilt 0 is horizontal, 90° vertical, 45° circular polarisation.
///
/// # Errors
/// Frequency outside 1 to 1000 GHz, elevation outside ±90°, tilt outside ±180°.
///
/// # Source
/// ITU-R P.838-3, equations (2) to (5).
pub fn rain_coefficients(frequency_hz: f64, elevation_deg: f64, tilt_deg: f64) -> Result<RainCoefficients, OutOfRange> {
    within("frequency in Hz", frequency_hz, 1e9, 1e12)?;
    within("elevation in degrees", elevation_deg, -90.0, 90.0)?;
    within("tilt in degrees", tilt_deg, -180.0, 180.0)?;
    let log_f = libm::log10(frequency_hz * 1e-9);
    let kh = libm::exp(std::f64::consts::LN_10 * K_HORIZONTAL.at(log_f));
    let kv = libm::exp(std::f64::consts::LN_10 * K_VERTICAL.at(log_f));
    let (ah, av) = (ALPHA_HORIZONTAL.at(log_f), ALPHA_VERTICAL.at(log_f));
    let cos = libm::cos(elevation_deg.to_radians());
    let turn = cos * cos * libm::cos(2.0 * tilt_deg.to_radians());
    let k = 0.5 * (kh + kv + (kh - kv) * turn);
    let alpha = (kh * ah + kv * av + (kh * ah - kv * av) * turn) / (2.0 * k);
    Ok(RainCoefficients { k, alpha })
}

/// Oxygen lines of ITU-R P.676-12 table 1: f0 in GHz, a1 … a6.
#[rustfmt::skip]
const OXYGEN: [[f64; 7]; 44] = [
    [50.474214, 0.975, 9.651, 6.690, 0.0, 2.566, 6.850],
    [50.987745, 2.529, 8.653, 7.170, 0.0, 2.246, 6.800],
    [51.503360, 6.193, 7.709, 7.640, 0.0, 1.947, 6.729],
    [52.021429, 14.320, 6.819, 8.110, 0.0, 1.667, 6.640],
    [52.542418, 31.240, 5.983, 8.580, 0.0, 1.388, 6.526],
    [53.066934, 64.290, 5.201, 9.060, 0.0, 1.349, 6.206],
    [53.595775, 124.600, 4.474, 9.550, 0.0, 2.227, 5.085],
    [54.130025, 227.300, 3.800, 9.960, 0.0, 3.170, 3.750],
    [54.671180, 389.700, 3.182, 10.370, 0.0, 3.558, 2.654],
    [55.221384, 627.100, 2.618, 10.890, 0.0, 2.560, 2.952],
    [55.783815, 945.300, 2.109, 11.340, 0.0, -1.172, 6.135],
    [56.264774, 543.400, 0.014, 17.030, 0.0, 3.525, -0.978],
    [56.363399, 1331.800, 1.654, 11.890, 0.0, -2.378, 6.547],
    [56.968211, 1746.600, 1.255, 12.230, 0.0, -3.545, 6.451],
    [57.612486, 2120.100, 0.910, 12.620, 0.0, -5.416, 6.056],
    [58.323877, 2363.700, 0.621, 12.950, 0.0, -1.932, 0.436],
    [58.446588, 1442.100, 0.083, 14.910, 0.0, 6.768, -1.273],
    [59.164204, 2379.900, 0.387, 13.530, 0.0, -6.561, 2.309],
    [59.590983, 2090.700, 0.207, 14.080, 0.0, 6.957, -0.776],
    [60.306056, 2103.400, 0.207, 14.150, 0.0, -6.395, 0.699],
    [60.434778, 2438.000, 0.386, 13.390, 0.0, 6.342, -2.825],
    [61.150562, 2479.500, 0.621, 12.920, 0.0, 1.014, -0.584],
    [61.800158, 2275.900, 0.910, 12.630, 0.0, 5.014, -6.619],
    [62.411220, 1915.400, 1.255, 12.170, 0.0, 3.029, -6.759],
    [62.486253, 1503.000, 0.083, 15.130, 0.0, -4.499, 0.844],
    [62.997984, 1490.200, 1.654, 11.740, 0.0, 1.856, -6.675],
    [63.568526, 1078.000, 2.108, 11.340, 0.0, 0.658, -6.139],
    [64.127775, 728.700, 2.617, 10.880, 0.0, -3.036, -2.895],
    [64.678910, 461.300, 3.181, 10.380, 0.0, -3.968, -2.590],
    [65.224078, 274.000, 3.800, 9.960, 0.0, -3.528, -3.680],
    [65.764779, 153.000, 4.473, 9.550, 0.0, -2.548, -5.002],
    [66.302096, 80.400, 5.200, 9.060, 0.0, -1.660, -6.091],
    [66.836834, 39.800, 5.982, 8.580, 0.0, -1.680, -6.393],
    [67.369601, 18.560, 6.818, 8.110, 0.0, -1.956, -6.475],
    [67.900868, 8.172, 7.708, 7.640, 0.0, -2.216, -6.545],
    [68.431006, 3.397, 8.652, 7.170, 0.0, -2.492, -6.600],
    [68.960312, 1.334, 9.650, 6.690, 0.0, -2.773, -6.650],
    [118.750334, 940.300, 0.010, 16.640, 0.0, -0.439, 0.079],
    [368.498246, 67.400, 0.048, 16.400, 0.0, 0.0, 0.0],
    [424.763020, 637.700, 0.044, 16.400, 0.0, 0.0, 0.0],
    [487.249273, 237.400, 0.049, 16.000, 0.0, 0.0, 0.0],
    [715.392902, 98.100, 0.145, 16.000, 0.0, 0.0, 0.0],
    [773.839490, 572.300, 0.141, 16.200, 0.0, 0.0, 0.0],
    [834.145546, 183.100, 0.145, 14.700, 0.0, 0.0, 0.0],
];

/// Water-vapour lines of ITU-R P.676-12 table 2: f0 in GHz, b1 … b6.
#[rustfmt::skip]
const VAPOUR: [[f64; 7]; 35] = [
    [22.235080, 0.1079, 2.144, 26.38, 0.76, 5.087, 1.00],
    [67.803960, 0.0011, 8.732, 28.58, 0.69, 4.930, 0.82],
    [119.995940, 0.0007, 8.353, 29.48, 0.70, 4.780, 0.79],
    [183.310087, 2.273, 0.668, 29.06, 0.77, 5.022, 0.85],
    [321.225630, 0.0470, 6.179, 24.04, 0.67, 4.398, 0.54],
    [325.152888, 1.514, 1.541, 28.23, 0.64, 4.893, 0.74],
    [336.227764, 0.0010, 9.825, 26.93, 0.69, 4.740, 0.61],
    [380.197353, 11.67, 1.048, 28.11, 0.54, 5.063, 0.89],
    [390.134508, 0.0045, 7.347, 21.52, 0.63, 4.810, 0.55],
    [437.346667, 0.0632, 5.048, 18.45, 0.60, 4.230, 0.48],
    [439.150807, 0.9098, 3.595, 20.07, 0.63, 4.483, 0.52],
    [443.018343, 0.1920, 5.048, 15.55, 0.60, 5.083, 0.50],
    [448.001085, 10.41, 1.405, 25.64, 0.66, 5.028, 0.67],
    [470.888999, 0.3254, 3.597, 21.34, 0.66, 4.506, 0.65],
    [474.689092, 1.260, 2.379, 23.20, 0.65, 4.804, 0.64],
    [488.490108, 0.2529, 2.852, 25.86, 0.69, 5.201, 0.72],
    [503.568532, 0.0372, 6.731, 16.12, 0.61, 3.980, 0.43],
    [504.482692, 0.0124, 6.731, 16.12, 0.61, 4.010, 0.45],
    [547.676440, 0.9785, 0.158, 26.00, 0.70, 4.500, 1.00],
    [552.020960, 0.1840, 0.158, 26.00, 0.70, 4.500, 1.00],
    [556.935985, 497.0, 0.159, 30.86, 0.69, 4.552, 1.00],
    [620.700807, 5.015, 2.391, 24.38, 0.71, 4.856, 0.68],
    [645.766085, 0.0067, 8.633, 18.00, 0.60, 4.000, 0.50],
    [658.005280, 0.2732, 7.816, 32.10, 0.69, 4.140, 1.00],
    [752.033113, 243.4, 0.396, 30.86, 0.68, 4.352, 0.84],
    [841.051732, 0.0134, 8.177, 15.90, 0.33, 5.760, 0.45],
    [859.965698, 0.1325, 8.055, 30.60, 0.68, 4.090, 0.84],
    [899.303175, 0.0547, 7.914, 29.85, 0.68, 4.530, 0.90],
    [902.611085, 0.0386, 8.429, 28.65, 0.70, 5.100, 0.95],
    [906.205957, 0.1836, 5.110, 24.08, 0.70, 4.700, 0.53],
    [916.171582, 8.400, 1.441, 26.73, 0.70, 5.150, 0.78],
    [923.112692, 0.0079, 10.293, 29.00, 0.70, 5.000, 0.80],
    [970.315022, 9.009, 1.919, 25.50, 0.64, 4.940, 0.67],
    [987.926764, 134.6, 0.257, 29.85, 0.68, 4.550, 0.90],
    [1780.000000, 17506.0, 0.952, 196.3, 2.00, 24.15, 5.00],
];

/// Specific attenuation of air in dB/km: oxygen and water vapour, line by line.
///
/// # Errors
/// Frequency outside 0.1 to 350 GHz, total pressure outside 100 to 120 000 Pa, temperature outside 180 to 340 K, vapour
/// outside 0 to 50 g/m³.
///
/// # Source
/// ITU-R P.676-12 annex 1, equations (1) to (9) and tables 1 and 2 (tables from memory; an independent code is
/// met to 2 % from 0.15 to 300 GHz and from 500 to 1020 hPa). `pressure_pa` is the pressure of dry air, to which the vapour's own is added, as that code takes it.
pub fn gas_specific_attenuation_db_per_km(
    frequency_hz: f64,
    pressure_pa: f64,
    temperature_k: f64,
    vapour_g_per_m3: f64,
) -> Result<f64, OutOfRange> {
    let f = within("frequency in Hz", frequency_hz, 1e8, 350e9)? * 1e-9;
    let p = within("pressure in Pa", pressure_pa, 100.0, 120e3)? * 1e-2;
    let t = within("temperature in K", temperature_k, 180.0, 340.0)?;
    let vapour = within("water vapour in g/m³", vapour_g_per_m3, 0.0, 50.0)?;
    let theta = 300.0 / t;
    let e = vapour * t / 216.7;

    let shape = |f0: f64, width: f64, delta: f64| {
        let part = |d: f64, sign: f64| (width - sign * delta * d) / (d * d + width * width);
        f / f0 * (part(f0 - f, 1.0) + part(f0 + f, 1.0))
    };
    let mut imaginary = 0.0;
    let theta_08 = libm::pow(theta, 0.8);
    for [f0, a1, a2, a3, a4, a5, a6] in OXYGEN {
        let strength = a1 * 1e-7 * p * theta * theta * theta * libm::exp(a2 * (1.0 - theta));
        let width = a3 * 1e-4 * (p * libm::pow(theta, 0.8 - a4) + 1.1 * e * theta);
        let width = (width * width + 2.25e-6).sqrt();
        let delta = (a5 + a6 * theta) * 1e-4 * (p + e) * theta_08;
        imaginary += strength * shape(f0, width, delta);
    }
    // Dry continuum: Debye spectrum of oxygen and pressure-induced nitrogen.
    let d = 5.6e-4 * (p + e) * theta_08;
    imaginary += f
        * p
        * theta
        * theta
        * (6.14e-5 / (d * (1.0 + (f / d) * (f / d)))
            + 1.4e-12 * p * libm::pow(theta, 1.5) / (1.0 + 1.9e-5 * libm::pow(f, 1.5)));
    for [f0, b1, b2, b3, b4, b5, b6] in VAPOUR {
        let strength = b1 * 1e-1 * e * libm::pow(theta, 3.5) * libm::exp(b2 * (1.0 - theta));
        let width = b3 * 1e-4 * (p * libm::pow(theta, b4) + b5 * e * libm::pow(theta, b6));
        let width = 0.535 * width + (0.217 * width * width + 2.1316e-12 * f0 * f0 / theta).sqrt();
        imaginary += strength * shape(f0, width, 0.0);
    }
    Ok(0.1820 * f * imaginary)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn circular_polarisation_lies_between_the_linear_ones() {
        let k = |tilt| rain_coefficients(5.8e9, 0.0, tilt).unwrap().k;
        assert!((k(45.0) - 0.5 * (k(0.0) + k(90.0))).abs() < 1e-12);
        assert!(rain_coefficients(433e6, 0.0, 0.0).is_err());
    }

    #[test]
    fn air_is_next_to_nothing_over_ten_kilometres() {
        // ITU-R P.676: under 0.1 dB over 10 km up to 5.8 GHz at sea level.
        for frequency_hz in [433e6, 868e6, 2.4e9, 5.8e9] {
            let db_per_km = gas_specific_attenuation_db_per_km(frequency_hz, 101_325.0, 288.15, 7.5).unwrap();
            assert!(db_per_km > 0.0 && db_per_km < 0.01);
        }
    }
}
