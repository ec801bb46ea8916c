//! How much less sure a bent bead's place is than the mean of its sections.
//!
//! A section tells its place square to the middle line only, and the bead may have turned or, if it closes, have grown: the
//! place that all of them tell together has the covariance of those least squares. What counts is its worst direction, which of
//! an L is the one that the shorter leg tells with its few sections.

use nalgebra::{Matrix3, Vector3};

use crate::bead::moved::{STILL, third};
use crate::bead::sheet::Flat;

/// How many times the ± of the mean of all sections' middles the place has in its worst direction. Sections are given as where
/// they lie and the unit vector along the line there.
pub(super) fn direction(sections: &[(Flat, Flat)], closed: bool) -> f64 {
    let count = sections.len().max(1) as f64;
    let about = sections.iter().map(|(at, _)| at).sum::<Flat>() / count;
    let squares = sections.iter().map(|(at, _)| (at - about).norm_squared());
    let lever_mm = (squares.sum::<f64>() / count).sqrt().max(1.0);
    let mut told = Matrix3::from_diagonal_element(STILL * count);
    for (at, way) in sections {
        let left = Flat::new(-way.y, way.x);
        let row = Vector3::new(left.x, left.y, third(&left, &(at - about), lever_mm, closed));
        told += row * row.transpose();
    }
    // What holds still is there, so that it has an inverse.
    let left_open = told.try_inverse().unwrap_or_else(Matrix3::identity);
    let worst = left_open.fixed_view::<2, 2>(0, 0).symmetric_eigenvalues().max();
    (count * worst).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn a_ring_tells_both_directions_with_half_of_its_sections() {
        let ring: Vec<(Flat, Flat)> = (0..24)
            .map(|k| TAU * f64::from(k) / 24.0)
            .map(|turn| {
                (
                    Flat::new(turn.cos(), turn.sin()) * 50.0,
                    Flat::new(-turn.sin(), turn.cos()),
                )
            })
            .collect();
        // What holds still adds 0.02 to the half.
        let expected = (1.0_f64 / 0.52).sqrt();
        assert!((direction(&ring, true) - expected).abs() < 1e-9);
    }

    #[test]
    fn the_shorter_leg_of_an_l_is_the_less_sure_and_a_straight_bead_tells_nothing_along() {
        let rearward = (4..14).map(|k| (Flat::new(10.0 * f64::from(k), 0.0), Flat::x()));
        let across = |count: i32| (4..4 + count).map(|k| (Flat::new(0.0, 10.0 * f64::from(k)), Flat::y()));
        let l = |count: i32| direction(&rearward.clone().chain(across(count)).collect::<Vec<_>>(), false);
        assert!(l(2) > l(4) && l(4) > l(10) && l(10) > 1.4, "{} {}", l(2), l(10));
        // Twelve sections of which two tell a direction would give the root of six, what holds still and the turn left out.
        assert!((1.9..3.2).contains(&l(2)), "{}", l(2));
        let straight: Vec<(Flat, Flat)> = rearward.collect();
        assert!((direction(&straight, false) - 50.0_f64.sqrt()).abs() < 1e-6);
    }
}
