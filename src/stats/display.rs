//! Numbers for figures: icons of an array, dots of a quantile dotplot.

/// Icons per class in an array of `icons`, by largest remainder; ties go to the earlier class.
///
/// # Source
/// Hamilton's method of apportionment.
pub fn icon_counts(counts: &[u64], icons: u64) -> Vec<u64> {
    let total: u128 = counts.iter().map(|&c| u128::from(c)).sum();
    if total == 0 {
        return vec![0; counts.len()];
    }
    let quota = |c: u64| u128::from(c) * u128::from(icons);
    let mut shown: Vec<u64> = counts.iter().map(|&c| (quota(c) / total) as u64).collect();
    let left = icons - shown.iter().sum::<u64>();
    let mut order: Vec<usize> = (0..counts.len()).collect();
    order.sort_by_key(|&i| (std::cmp::Reverse(quota(counts[i]) % total), i));
    for &i in order.iter().take(left as usize) {
        shown[i] += 1;
    }
    shown
}

/// The probabilities (i − ½)/dots of a quantile dotplot.
pub fn dot_probabilities(dots: usize) -> impl Iterator<Item = f64> {
    (0..dots).map(move |i| (i as f64 + 0.5) / dots as f64)
}

/// A quantile dotplot of any distribution given by its quantile function.
pub fn quantile_dots(dots: usize, quantile: impl Fn(f64) -> f64) -> Vec<f64> {
    dot_probabilities(dots).map(quantile).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn icons_add_up_and_ties_go_first() {
        assert_eq!(icon_counts(&[8703, 962, 241, 71, 23], 100), [87, 10, 2, 1, 0]);
        assert_eq!(icon_counts(&[1, 1, 1], 100), [34, 33, 33]);
        assert_eq!(icon_counts(&[0, 0], 100), [0, 0]);
        assert_eq!(icon_counts(&[u64::MAX / 2, u64::MAX / 2], 3), [2, 1]);
    }
}
