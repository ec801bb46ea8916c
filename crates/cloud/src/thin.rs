//! Fewer points, evenly spread: one of the measured points per cell of a grid.

use crate::{CellList, Point, Vector};

/// Indices of one point per cube of `cell_mm`, the one nearest to the mean of the points in its cube, along a
/// space-filling curve. No point is invented and none is moved.
///
/// All points must be finite; cells finer than 2⁻²¹ of the extent are widened to that.
pub fn on_grid(points: &[Point], cell_mm: f64) -> Vec<u32> {
    CellList::new(points, cell_mm)
        .cells()
        .map(|cell| {
            let mean = cell.iter().map(|&i| points[i as usize].coords).sum::<Vector>() / cell.len() as f64;
            let mut best = cell[0];
            let mut least = f64::INFINITY;
            for &i in cell {
                let apart = (points[i as usize].coords - mean).norm_squared();
                if apart < least {
                    (best, least) = (i, apart);
                }
            }
            best
        })
        .collect()
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
