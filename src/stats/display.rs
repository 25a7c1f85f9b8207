//! Numbers for figures: icons of an array, dots of a quantile dotplot.

/// The probabilities (i − ½)/dots of a quantile dotplot.
pub fn dot_probabilities(dots: usize) -> impl Iterator<Item = f64> {
    (0..dots).map(move |i| (i as f64 + 0.5) / dots as f64)
}

/// A quantile dotplot of any distribution given by its quantile function.
pub fn quantile_dots(dots: usize, quantile: impl Fn(f64) -> f64) -> Vec<f64> {
    dot_probabilities(dots).map(quantile).collect()
}
