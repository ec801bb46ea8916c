//! Pairs of two lists, the nearest first.

/// Of likely pairs, (how far apart, one, the other), the nearest first, each of both sides once.
pub(crate) fn nearest_first(mut likely: Vec<(f64, usize, usize)>) -> Vec<(usize, usize)> {
    likely.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (_, i, k) in likely {
        if pairs.iter().all(|(a, b)| *a != i && *b != k) {
            pairs.push((i, k));
        }
    }
    pairs
}
