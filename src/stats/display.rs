//! Numbers for figures: dots of a quantile dotplot.

/// A quantile dotplot of any distribution given by its quantile function: at the probabilities (i − ½)/dots.
pub fn quantile_dots(dots: usize, quantile: impl Fn(f64) -> f64) -> Vec<f64> {
    (0..dots).map(|i| quantile((i as f64 + 0.5) / dots as f64)).collect()
}
