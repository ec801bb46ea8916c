//! Corners of a line: where it turns by more than 35°, and goes on in the new direction.

use cloud::{Point, Vector};

use super::line::Line;

/// A turn sharper than this is a corner, rad (35°).
const SHARP: f64 = 35.0 * std::f64::consts::PI / 180.0;
/// The directions before and after a place are taken over this many steps and not less than a quarter inch: at random
/// spacing the line that touches the outermost points is rough by a third of the spacing.
const ARM: f64 = 8.0;
const LEAST_ARM_MM: f64 = 6.35;
/// A corner must still be one over this many steps and an inch, or as far as the next corner: a dent is none.
const LONG_ARM: f64 = 20.0;
const LEAST_LONG_ARM_MM: f64 = 25.4;

/// The corners of the line through `at`, ascending; `step_mm` is how far apart its places lie, about.
pub(super) fn corners(at: &[Point], closed: bool, step_mm: f64) -> Vec<usize> {
    let line = Line::new(at, closed);
    let arm = (ARM * step_mm).max(LEAST_ARM_MM);
    let turns: Vec<f64> = (0..at.len())
        .map(|i| {
            let along = line.from_first_mm[i];
            let at_end = !closed && along.min(line.length_mm - along) < arm / 2.0;
            if at_end { 0.0 } else { turn(&line, i, arm, arm) }
        })
        .collect();
    let mut found: Vec<usize> = (0..at.len())
        .filter(|&i| turns[i] >= SHARP)
        .filter_map(|i| {
            let around = line.around(i, arm, arm);
            let sharpest = around
                .iter()
                .all(|&(_, j)| turns[i] > turns[j] || (turns[i] == turns[j] && i <= j));
            sharpest.then(|| tip(at, &around))
        })
        .collect();
    found.sort_unstable();
    found.dedup();
    let long = (LONG_ARM * step_mm).max(LEAST_LONG_ARM_MM);
    while let Some((k, least)) = least_sharp(&line, &found, long) {
        if least >= SHARP {
            break;
        }
        found.remove(k);
    }
    found
}

/// The angle between the directions before and after a place, rad; 0 where one of them has no extent.
fn turn(line: &Line, i: usize, back_mm: f64, forth_mm: f64) -> f64 {
    let before = line.direction(&line.around(i, back_mm, 0.0));
    let after = line.direction(&line.around(i, 0.0, forth_mm));
    match (before, after) {
        (Some(before), Some(after)) => before.dot(&after).clamp(-1.0, 1.0).acos(),
        _ => 0.0,
    }
}

/// The place that stands farthest off the chord of `around`.
fn tip(at: &[Point], around: &[(f64, usize)]) -> usize {
    let (first, last) = (around[0].1, around[around.len() - 1].1);
    let chord = (at[last] - at[first])
        .try_normalize(1e-9)
        .unwrap_or_else(Vector::zeros);
    let off = |j: usize| {
        let d = at[j] - at[first];
        (d - chord * d.dot(&chord)).norm()
    };
    around
        .iter()
        .map(|(_, j)| *j)
        .max_by(|&a, &b| off(a).total_cmp(&off(b)))
        .unwrap_or(first)
}

/// The corner that turns least when it is looked at over long arms, and by how much.
fn least_sharp(line: &Line, corners: &[usize], long_mm: f64) -> Option<(usize, f64)> {
    let along = |k: usize| line.from_first_mm[corners[k]];
    let last = corners.len().checked_sub(1)?;
    (0..=last)
        .map(|k| {
            let back = match k {
                0 if line.closed => along(0) + line.length_mm - along(last),
                0 => along(0),
                _ => along(k) - along(k - 1),
            };
            let forth = match k {
                k if k < last => along(k + 1) - along(k),
                _ if line.closed => along(0) + line.length_mm - along(k),
                _ => line.length_mm - along(k),
            };
            (k, turn(line, corners[k], back.min(long_mm), forth.min(long_mm)))
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// The stretches of a line of `n` places between its `corners`, each by its places in order, with whether it is closed;
/// two neighbours share the corner between them.
pub(super) fn between(n: usize, closed: bool, corners: &[usize]) -> Vec<(Vec<usize>, bool)> {
    let Some(&first) = corners.first() else {
        return vec![((0..n).collect(), closed)];
    };
    let mut cuts = corners.to_vec();
    if closed {
        // Round once: from the first corner back to it.
        cuts.push(first + n);
        return cuts
            .windows(2)
            .map(|ends| ((ends[0]..=ends[1]).map(|i| i % n).collect(), false))
            .collect();
    }
    cuts.insert(0, 0);
    cuts.push(n - 1);
    cuts.windows(2)
        .filter(|ends| ends[1] > ends[0])
        .map(|ends| ((ends[0]..=ends[1]).collect(), false))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A closed line of 1 mm steps around a rectangle of 60 × 40 that begins in the middle of a side, rough by ±0.3 mm.
    fn rectangle() -> Vec<Point> {
        let corners = [(30.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0), (0.0, 0.0)];
        let mut at = Vec::new();
        for k in 0..5 {
            let (a, b): ((f64, f64), (f64, f64)) = (corners[k], corners[(k + 1) % 5]);
            let steps = (b.0 - a.0).hypot(b.1 - a.1) as usize;
            for s in 0..steps {
                let share = s as f64 / steps as f64;
                let rough = 0.3 * (at.len() as f64 * 1.7).sin();
                at.push(Point::new(
                    a.0 + (b.0 - a.0) * share + rough,
                    a.1 + (b.1 - a.1) * share + rough,
                    0.0,
                ));
            }
        }
        at
    }

    #[test]
    fn a_rough_rectangle_has_its_four_corners_and_a_circle_none() {
        let at = rectangle();
        let found = corners(&at, true, 1.0);
        assert_eq!(found.len(), 4, "{found:?}");
        for (i, (x, y)) in found
            .iter()
            .zip([(60.0, 0.0), (60.0, 40.0), (0.0, 40.0), (0.0, 0.0)])
        {
            assert!((at[*i].x - x).hypot(at[*i].y - y) < 2.0, "{}", at[*i]);
        }
        let stretches = between(at.len(), true, &found);
        assert_eq!(stretches.len(), 4);
        assert!(
            stretches
                .iter()
                .all(|(places, closed)| places.len() >= 37 && !closed)
        );
        let circle: Vec<Point> = (0..180)
            .map(|i| {
                let a = f64::from(i) * std::f64::consts::TAU / 180.0;
                Point::new(30.0 * a.cos(), 30.0 * a.sin(), 0.0)
            })
            .collect();
        assert!(corners(&circle, true, 1.0).is_empty());
    }

    #[test]
    fn a_dent_is_no_corner_and_an_open_line_ends_without_one() {
        let dented: Vec<Point> = (0..100)
            .map(|i| {
                let dent = (3.6 - 0.9 * (f64::from(i) - 50.0).abs()).max(0.0);
                Point::new(f64::from(i), dent, 0.0)
            })
            .collect();
        assert!(corners(&dented, false, 1.0).is_empty());
        assert_eq!(between(100, false, &[]).len(), 1);
        assert_eq!(between(100, false, &[40])[1].0.len(), 60);
    }
}
