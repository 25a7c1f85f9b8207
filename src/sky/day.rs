//! Ranks within a day's samples.

/// The sample at rank ⌊p (n − 1)⌋ in rising order; NaN for none.
pub fn lower_quantile(mut values: Vec<f64>, p: f64) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    values.sort_by(f64::total_cmp);
    values[(p * (values.len() - 1) as f64).floor() as usize]
}
