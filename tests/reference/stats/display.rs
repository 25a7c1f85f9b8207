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
