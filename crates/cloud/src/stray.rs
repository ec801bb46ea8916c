//! Points that belong to no surface: dust, reflections, the scanner's imagination.

use rayon::prelude::*;

use crate::eigen::{eigenvalues, flattest_direction};
use crate::statistics::{median, percentile_of_sorted};
use crate::{Matrix3, Near, Point, Vector};

mod thin_sheet;

/// A point with two neighbours within this many spacings is one of many.
const CLOSE: f64 = 1.5;
/// Where its six neighbours lie farther than this many spacings, the place is empty; 1.4 is usual.
const EMPTY: f64 = 3.0;
/// How far it must lie off its neighbours' plane, as a share of the distance to the sixth.
const OFF: f64 = 0.4;
/// How far its neighbours must be from lying in a plane with it, as a share of the same, where the place is empty.
const ROUGH: f64 = 0.05;
/// Where its six neighbours lie farther than this many spacings, no scanner has looked that closely.
const NOWHERE: f64 = 12.0;
/// Where even the nearest neighbour lies nearly as far as the sixth, all of them lie on one side, far away.
const APART: f64 = 0.75;

/// A point farther from the middle than so many times as far as nine in ten is no part of the set.
const FAR_OFF: f64 = 1_000.0;
/// How many points say where the middle is.
const SAMPLES: usize = 10_000;

/// Which of `points`, given in curve order, lie beyond all measure: a row that nothing was seen in is written as the origin, which
/// can be a thousand kilometres from a shell in the grid of a site. One such point leaves the rest no digits to be told apart by.
pub fn far_off(points: &[Point]) -> Vec<bool> {
    let step = points.len().div_ceil(SAMPLES).max(1);
    let sample: Vec<&Point> = points.iter().step_by(step).collect();
    let along = |axis: usize| median(&mut sample.iter().map(|p| p[axis]).collect::<Vec<_>>());
    let middle = Point::new(along(0), along(1), along(2));
    let mut apart: Vec<f64> = sample.iter().map(|p| (*p - middle).norm()).collect();
    apart.sort_unstable_by(f64::total_cmp);
    let most_mm = FAR_OFF * percentile_of_sorted(&apart, 0.9);
    points
        .par_iter()
        .with_min_len(4096)
        .map(|point| most_mm > 0.0 && (point - middle).norm() > most_mm)
        .collect()
}

/// Which of `points` are strays: alone (fewer than two neighbours within 1.5 spacings) and either well off the plane of
/// the six nearest, or in an empty place with neighbours that lie in no plane or all far to one side. A thinly scanned
/// sheet stays, however thin: its points lie in one plane with neighbours that are as far apart as they are (`thin_sheet`).
///
/// Only points for which `maybe` says yes are looked at.
pub fn strays(
    points: &[Point],
    near: &Near,
    spacing_mm: f64,
    maybe: &(dyn Fn(usize) -> bool + Sync),
) -> Vec<bool> {
    let (sixth_mm, mut stray): (Vec<f32>, Vec<bool>) = points
        .par_iter()
        .enumerate()
        .with_min_len(1024)
        .map(|(i, point)| {
            if !maybe(i) {
                return (0.0, false);
            }
            // Nearly every point ends here: itself and two more lie close.
            let mut close = 0;
            near.visit_within(point, CLOSE * spacing_mm, |_| close += 1);
            if close >= 3 {
                return (0.0, false);
            }
            let around = near.nearest_n(point, 7);
            let distance = |k: usize| around.get(k).map(|n| n.squared_mm2.sqrt());
            let (Some(first), Some(sixth)) = (distance(1), distance(6)) else {
                return (0.0, false);
            };
            let offsets: Vec<Vector> = around[1..]
                .iter()
                .map(|n| points[n.index as usize] - point)
                .collect();
            let (mean, spread) = spread(&offsets);
            let roughness = eigenvalues(&spread)[0].max(0.0).sqrt();
            let off = mean.dot(&flattest_direction(&spread)).abs();
            let empty = sixth > EMPTY * spacing_mm;
            let in_no_sheet = roughness > ROUGH * sixth || off > 3.0 * ROUGH * sixth || first > APART * sixth;
            let stray = off > OFF * sixth || (empty && in_no_sheet) || sixth > NOWHERE * spacing_mm;
            (sixth as f32, stray)
        })
        .unzip();
    thin_sheet::take_back(points, near, &sixth_mm, EMPTY * spacing_mm, &mut stray);
    stray
}

/// The middle of some places, and their mean squares and products about it.
fn spread(offsets: &[Vector]) -> (Vector, Matrix3) {
    let count = offsets.len() as f64;
    let mean = offsets.iter().sum::<Vector>() / count;
    let about = offsets.iter().map(|d| (d - mean) * (d - mean).transpose());
    (mean, about.sum::<Matrix3>() / count)
}

/// Which of `points`, given in curve order, repeat an earlier point exactly.
pub fn repeats_along_curve(points: &[Point]) -> Vec<bool> {
    let mut repeats = vec![false; points.len()];
    // Equal points share a cell of the curve and so lie together; a short look back finds them.
    for i in 1..points.len() {
        repeats[i] = (i.saturating_sub(8)..i).rev().any(|j| points[j] == points[i]);
    }
    repeats
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_stays_and_what_floats_above_it_goes() {
        let mut points: Vec<Point> = (0..2500)
            .map(|i| Point::new(f64::from(i % 50), f64::from(i / 50), 0.0))
            .collect();
        // The same sheet scanned four times more thinly, farther on.
        points.extend(
            (0..100).map(|i| Point::new(100.0 + 4.0 * f64::from(i % 10), 4.0 * f64::from(i / 10), 0.0)),
        );
        let sheet = points.len();
        points.push(Point::new(20.0, 20.0, 30.0));
        points.push(Point::new(25.0, 60.0, -40.0));
        // One just above the sheet, and one beyond its edge in its plane.
        points.push(Point::new(30.5, 12.5, 2.5));
        points.push(Point::new(-30.0, 25.0, 0.0));
        let found = strays(&points, &Near::new(&points), 1.0, &|_| true);
        assert!(found[..sheet].iter().all(|stray| !stray));
        assert!(found[sheet..].iter().all(|&stray| stray));
    }

    #[test]
    fn repeats_are_found_once_each() {
        let points = [Point::origin(), Point::origin(), Point::new(1.0, 0.0, 0.0)];
        assert_eq!(repeats_along_curve(&points), [false, true, false]);
    }
}
