//! One step: the small motion that takes the weighted pairs nearest to their planes.

use cloud::{Body, Motion, Point, Scan, Vector};
use rayon::prelude::*;

use super::matching::{Pair, Pairs};
use cloud::held::{Matrix6x6, SmallMotion, row};

/// Pairs that are summed together; fixed, so that the sum does not depend on the number of threads.
const BLOCK: usize = 4096;
/// A motion whose eigenvalue is under this share of the largest is left where it is, rather than thrown about by noise.
const HOPELESS: f64 = 1e-7;

/// The motion after one Gauss-Newton step; `None` with too few pairs.
pub fn solve(pairs: &Pairs, motion: &Motion<Scan, Body>) -> Option<Motion<Scan, Body>> {
    if pairs.list.len() < 12 {
        return None;
    }
    let n = pairs.list.len() as f64;
    let centre = Point::from(pairs.list.iter().map(|p| p.at.coords).sum::<Vector>() / n);
    let radius = (pairs
        .list
        .iter()
        .map(|p| (p.at - centre).norm_squared())
        .sum::<f64>()
        / n)
        .sqrt()
        .max(f64::MIN_POSITIVE);
    let block = |block: &[Pair]| {
        let (mut matrix, mut right) = (Matrix6x6::zeros(), SmallMotion::zeros());
        for pair in block {
            let weight = pairs.weight(pair.distance_mm);
            if weight > 0.0 {
                let row = row(&((pair.at - centre) / radius), &pair.normal);
                let weighted = row * weight;
                right -= weighted * pair.distance_mm;
                // Upper triangle only; it is mirrored once at the end.
                for j in 0..6 {
                    for i in 0..=j {
                        matrix[(i, j)] += weighted[i] * row[j];
                    }
                }
            }
        }
        (matrix, right)
    };
    let sums: Vec<_> = pairs.list.par_chunks(BLOCK).map(block).collect();
    let (mut matrix, mut right) = (Matrix6x6::zeros(), SmallMotion::zeros());
    for (m, r) in sums {
        matrix += m;
        right += r;
    }
    matrix.fill_lower_triangle_with_upper_triangle();
    let eigen = matrix.symmetric_eigen();
    let largest = eigen.eigenvalues.max();
    if largest.is_nan() || largest <= 0.0 {
        return None;
    }
    let mut small = SmallMotion::zeros();
    for k in 0..6 {
        let value = eigen.eigenvalues[k];
        if value > HOPELESS * largest {
            let v = eigen.eigenvectors.column(k);
            small += v * (v.dot(&right) / value);
        }
    }
    let turn = Vector::new(small[0], small[1], small[2]) / radius;
    let shift = Vector::new(small[3], small[4], small[5]);
    Some(motion.then(&Motion::turn_about(turn, centre, shift)))
}
