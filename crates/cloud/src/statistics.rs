//! Means, spreads and percentiles that stay right on coordinates far from the origin.

/// The sum of `values`, compensated (Neumaier 1974, ZAMM 54, 39-51).
pub fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0f64, 0.0f64);
    for value in values {
        let next = total + value;
        lost += if total.abs() >= value.abs() {
            (total - next) + value
        } else {
            (value - next) + total
        };
        total = next;
    }
    total + lost
}

/// The arithmetic mean; 0 where there are no values.
pub fn mean(values: &[f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let first = sum(values.iter().copied()) / values.len() as f64;
    first + sum(values.iter().map(|v| v - first)) / values.len() as f64
}

/// The standard deviation with divisor n − 1, by two passes (Chan, Golub & LeVeque 1983); 0 below two values.
pub fn standard_deviation(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    if values.len() < 2 {
        return 0.0;
    }
    let centre = mean(values);
    let squares = sum(values.iter().map(|v| (v - centre).powi(2)));
    let drift = sum(values.iter().map(|v| v - centre));
    ((squares - drift * drift / n) / (n - 1.0)).max(0.0).sqrt()
}

/// The root of the mean square; 0 where there are no values.
pub fn rms(values: &[f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    (sum(values.iter().map(|v| v * v)) / values.len() as f64).sqrt()
}

/// The `share` (0 to 1) percentile of values that are sorted ascending: definition 7 of Hyndman & Fan 1996.
///
/// 0 where there are no values.
pub fn percentile_of_sorted(sorted: &[f64], share: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return 0.0;
    };
    let place = share.clamp(0.0, 1.0) * last as f64;
    let below = place.floor() as usize;
    let above = (below + 1).min(last);
    sorted[below] + (place - below as f64) * (sorted[above] - sorted[below])
}

/// The median; 0 where there are no values. The slice is reordered.
pub fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    let (below, &mut upper, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    if below.len() < middle || values.len() % 2 == 1 {
        return upper;
    }
    let lower = values[..middle].iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (lower + upper) / 2.0
}

/// A standard deviation that outliers don't move: 1.4826 × the median distance from the median.
pub fn robust_spread(values: &[f64]) -> f64 {
    let mut work = values.to_vec();
    let centre = median(&mut work);
    for value in &mut work {
        *value = (*value - centre).abs();
    }
    1.4826 * median(&mut work)
}

#[cfg(test)]
mod tests {
    use super::*;

    // Hyndman & Fan 1996, The American Statistician 50(4) 361-365, definition 7; the figures are worked by hand from it.
    #[test]
    fn percentiles_are_of_type_seven() {
        let sorted = [15.0, 20.0, 35.0, 40.0, 50.0];
        for (share, expected) in [
            (0.05, 16.0),
            (0.25, 20.0),
            (0.40, 29.0),
            (0.50, 35.0),
            (0.75, 40.0),
            (0.95, 48.0),
        ] {
            assert!((percentile_of_sorted(&sorted, share) - expected).abs() < 1e-12);
        }
    }

    #[test]
    fn the_median_of_an_even_count_is_the_middle() {
        assert_eq!(median(&mut [4.0, 1.0, 3.0, 2.0]), 2.5);
        assert_eq!(median(&mut [3.0, 1.0, 2.0]), 2.0);
        assert_eq!(median(&mut []), 0.0);
    }

    // NIST StRD NumAcc3 in miniature: 1000000.2 and 1001 values alternating by 0.1; certified s is 0.1.
    #[test]
    fn far_from_the_origin_the_spread_survives() {
        let mut values = vec![1_000_000.2];
        for _ in 0..500 {
            values.push(1_000_000.1);
            values.push(1_000_000.3);
        }
        assert!((mean(&values) - 1_000_000.2).abs() < 1e-8);
        assert!((standard_deviation(&values) - 0.1).abs() < 1e-9);
    }
}
