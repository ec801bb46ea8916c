//! What a set is like: how far apart its points lie, and how rough they are.

use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;

use crate::normals;
use crate::statistics::median;
use crate::{Near, Point, Vector};

/// How many places are looked at; enough for a median to 1 %.
const SAMPLES: usize = 8_000;
/// Neighbours that carry the roughness estimate.
const NEIGHBOURS: usize = 24;

/// Spacing and noise of a set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Survey {
    /// The side of the square that each point has to itself, median over the set, in mm.
    pub spacing_mm: f64,
    /// Standard deviation of the points off the local surface, median over the set, in mm.
    ///
    /// Only what differs from point to point: errors that neighbours share don't show.
    pub noise_mm: f64,
}

/// Surveys `points`, searched by `near`. Zeros where there are fewer than seven points.
pub fn survey(points: &[Point], near: &Near) -> Survey {
    let step = points.len().div_ceil(SAMPLES).max(1);
    let samples: Vec<&Point> = points.iter().step_by(step).collect();
    let mut spacings: Vec<f64> = samples
        .par_iter()
        .filter_map(|p| {
            // The sixth neighbour's disc holds six points: exact in the mean at random, 2 % high on a square grid.
            let sixth = near.nearest_n(p, 7).get(6)?.squared_mm2;
            Some((std::f64::consts::PI * sixth / 6.0).sqrt())
        })
        .collect();
    let mut roughness: Vec<f64> = samples
        .par_iter()
        .filter_map(|p| roughness(p, points, near))
        .collect();
    Survey {
        spacing_mm: median(&mut spacings),
        noise_mm: median(&mut roughness),
    }
}

/// Standard deviation of the neighbours of `at` off a quadric through them, on n − 6 degrees of freedom.
fn roughness(at: &Point, points: &[Point], near: &Near) -> Option<f64> {
    let around: Vec<Point> = near
        .nearest_n(at, NEIGHBOURS)
        .iter()
        .map(|n| points[n.index as usize])
        .collect();
    if around.len() < NEIGHBOURS {
        return None;
    }
    let reach = (around.last()? - at).norm();
    let normal = normals::through(around.iter().map(|p| p - at));
    let (u, v) = tangents(&normal);
    let rows: Vec<(SVector<f64, 6>, f64)> = around
        .iter()
        .map(|p| {
            let d = (p - at) / reach.max(1e-12);
            let (a, b) = (d.dot(&u), d.dot(&v));
            (
                SVector::<f64, 6>::from([1.0, a, b, a * a, a * b, b * b]),
                (p - at).dot(&normal),
            )
        })
        .collect();
    let mut matrix = SMatrix::<f64, 6, 6>::zeros();
    let mut right = SVector::<f64, 6>::zeros();
    for (row, height) in &rows {
        matrix += row * row.transpose();
        right += row * *height;
    }
    let quadric = matrix.cholesky()?.solve(&right);
    let squares: f64 = rows
        .iter()
        .map(|(row, height)| (height - row.dot(&quadric)).powi(2))
        .sum();
    Some((squares / (NEIGHBOURS - 6) as f64).sqrt())
}

/// Two unit directions that stand square to the unit vector `normal` and to each other.
pub fn tangents(normal: &Vector) -> (Vector, Vector) {
    let least = normal.iamin();
    let mut axis = Vector::zeros();
    axis[least] = 1.0;
    let u = normal.cross(&axis).normalize();
    (u, normal.cross(&u))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_square_grid_gives_its_pitch() {
        let points: Vec<Point> = (0..10_000)
            .map(|i| Point::new(f64::from(i % 100) * 2.0, f64::from(i / 100) * 2.0, 0.0))
            .collect();
        let found = survey(&points, &Near::new(&points));
        assert!((found.spacing_mm - 2.0).abs() < 0.1, "{found:?}");
        assert!(found.noise_mm < 1e-6);
    }

    #[test]
    fn known_noise_on_a_curved_sheet_is_found_within_a_tenth() {
        // Sum of twelve hashed uniforms: near enough to a normal deviate for a spread.
        let uniform = |i: u64| {
            let mut x = i.wrapping_mul(0x9e37_79b9_7f4a_7c15);
            x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
            (x ^ x >> 31) as f64 / u64::MAX as f64
        };
        let points: Vec<Point> = (0..20_000u64)
            .map(|i| {
                let (x, y) = (uniform(40 * i) * 300.0, uniform(40 * i + 1) * 300.0);
                let deviate: f64 = (2..14).map(|k| uniform(40 * i + k)).sum::<f64>() - 6.0;
                Point::new(x, y, x * x / 2000.0 + 0.1 * deviate)
            })
            .collect();
        let found = survey(&points, &Near::new(&points));
        assert!((found.noise_mm - 0.1).abs() < 0.01, "{found:?}");
    }

    proptest! {
        #[test]
        fn tangents_stand_square(x in -1.0f64..1.0, y in -1.0f64..1.0, z in 0.1f64..1.0) {
            let normal = Vector::new(x, y, z).normalize();
            let (u, v) = tangents(&normal);
            prop_assert!(u.dot(&normal).abs() < 1e-12 && v.dot(&normal).abs() < 1e-12);
            prop_assert!((u.cross(&v) - normal).norm() < 1e-12);
        }
    }
}
