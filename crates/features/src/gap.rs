//! The widest gap between places round a turn.

/// The widest gap between sorted places, all the way round a whole `turn`, and its middle; the whole turn where there are
/// none.
pub(crate) fn widest(sorted: &[f64], turn: f64) -> (f64, f64) {
    let (Some(first), Some(last)) = (sorted.first(), sorted.last()) else {
        return (turn, 0.0);
    };
    let round = first + turn - last;
    let mut widest = (round, last + round / 2.0);
    for pair in sorted.windows(2) {
        let gap = pair[1] - pair[0];
        if gap > widest.0 {
            widest = (gap, pair[0] + gap / 2.0);
        }
    }
    widest
}
