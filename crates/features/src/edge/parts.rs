//! A run in equal parts: which of them show where the metal ends.

/// Which of `count` equal parts of a run a place lies in.
pub(super) fn part_of(along_mm: f64, count: usize, length_mm: f64) -> usize {
    let share = (along_mm / length_mm + 0.5) * count as f64;
    (share.max(0.0) as usize).min(count - 1)
}

/// Which parts remain when those that were not seen are taken off the loose ends: first and one past the last. `None` where
/// others are missing too, or less than half remains.
pub(super) fn remaining(seen: &[bool], loose: [bool; 2]) -> Option<(usize, usize)> {
    let first = if loose[0] {
        seen.iter().position(|s| *s)?
    } else {
        0
    };
    let last = if loose[1] {
        seen.iter().rposition(|s| *s)? + 1
    } else {
        seen.len()
    };
    let whole = seen.get(first..last)?.iter().all(|s| *s);
    (whole && 2 * (last - first) >= seen.len()).then_some((first, last))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_are_taken_off_loose_ends_only_and_half_must_remain() {
        assert_eq!(part_of(-5.0, 4, 10.0), 0);
        assert_eq!(part_of(0.1, 4, 10.0), 2);
        assert_eq!(part_of(5.0, 4, 10.0), 3);
        let seen = [false, true, true, true];
        assert_eq!(remaining(&seen, [true, false]), Some((1, 4)));
        assert_eq!(remaining(&seen, [false, true]), None);
        assert_eq!(remaining(&[true, false, true, true], [true, true]), None);
        assert_eq!(remaining(&[false, false, true, false], [true, true]), None);
        assert_eq!(remaining(&[true; 4], [false; 2]), Some((0, 4)));
    }
}
