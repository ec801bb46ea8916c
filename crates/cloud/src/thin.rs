//! Fewer points, evenly spread: one of the measured points per cell of a grid.

use rayon::prelude::*;

use crate::curve::spread;
use crate::{Bounds, Point, Vector};

/// Indices of one point per cube of `cell_mm`, the one nearest to the mean of the points in its cube, along a
/// space-filling curve. No point is invented and none is moved.
///
/// All points must be finite; cells finer than 2⁻²¹ of the extent are widened to that.
pub fn on_grid(points: &[Point], cell_mm: f64) -> Vec<u32> {
    by_cell(points, cell_mm)
        .chunk_by(|a, b| a.0 == b.0)
        .map(|cell| {
            let mean = cell
                .iter()
                .map(|&(_, i)| points[i as usize].coords)
                .sum::<Vector>()
                / cell.len() as f64;
            let mut best = cell[0].1;
            let mut least = f64::INFINITY;
            for &(_, i) in cell {
                let apart = (points[i as usize].coords - mean).norm_squared();
                if apart < least {
                    (best, least) = (i, apart);
                }
            }
            best
        })
        .collect()
}

/// Each point's index with the number of its cube of `cell_mm`, cube after cube along a space-filling curve; widened as in
/// [`on_grid`].
pub(crate) fn by_cell(points: &[Point], cell_mm: f64) -> Vec<(u64, u32)> {
    let Some(bounds) = Bounds::of(points) else {
        return Vec::new();
    };
    let cell = cell_mm.max(bounds.size().max() / ((1u64 << 21) - 1) as f64);
    let mut keyed: Vec<(u64, u32)> = points
        .par_iter()
        .enumerate()
        .map(|(i, point)| {
            let at = (point - bounds.low) / cell;
            let key = spread(at.x as u64) | spread(at.y as u64) << 1 | spread(at.z as u64) << 2;
            (key, i as u32)
        })
        .collect();
    keyed.par_sort_unstable();
    keyed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_point_a_cell_and_all_of_them_given() {
        let points: Vec<Point> = (0..10_000)
            .map(|i| Point::new(f64::from(i % 100), f64::from(i / 100), 0.0))
            .collect();
        let kept = on_grid(&points, 10.0);
        assert_eq!(kept.len(), 100);
        for &i in &kept {
            assert!(points[i as usize].x % 10.0 >= 4.0 && points[i as usize].x % 10.0 <= 5.0);
        }
        assert!(on_grid(&[], 1.0).is_empty());
    }
}
