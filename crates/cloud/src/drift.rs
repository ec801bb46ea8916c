//! Drift along a set: what was measured first and what was measured last lie apart where both saw the same metal.
//!
//! The order of the rows in the file stands for time; a file whose rows were shuffled says nothing, and shows nothing.

use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;

use crate::bisquare::{TUKEY, bisquare};
use crate::held::{LEAST_HELD, Matrix6x6, SmallMotion, row};
use crate::statistics::{median, rms};
use crate::survey::tangents;
use crate::{CellList, Frame, Point, Surface, Vector};

/// The first third of a set against its last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// How far apart they lie as two rigid pieces, rms along the normals over the places, mm.
    pub step_mm: f64,
    /// Places that both saw.
    pub places: usize,
}

/// Side of a place, in spacings.
const PLACE_SPACINGS: f64 = 4.0;
/// Fewest points of either third at a place.
const FEWEST: usize = 4;
/// Where the normals at a place agree less than this (the length of their mean) it is a corner.
const FLAT: f64 = 0.97;
/// Fewest places, as a number and as a share of all places of the set; either pair will do.
const ENOUGH: [(usize, f64); 2] = [(200, 0.02), (40, 0.05)];
/// What two passes over a shell may part by, mm (1/64 in).
const LEAST_STEP_MM: f64 = 25.4 / 64.0;
/// How many times what the noise alone would give.
const CLEAR: f64 = 3.0;
/// How often the weights are taken anew.
const ROUNDS: usize = 10;

/// Looks for drift; `None` where the two thirds agree, or where they hardly saw the same metal.
pub fn drift<F: Frame>(surface: &Surface<F>) -> Option<Drift> {
    let cells = cells(surface);
    let rows = surface
        .cloud
        .rows
        .iter()
        .max()
        .map_or(0, |last| last.saturating_add(1));
    let thirds = Thirds {
        first_ends: rows / 3,
        last_begins: rows - rows / 3,
    };
    let steps: Vec<Step> = cells
        .par_iter()
        .filter_map(|cell| step_in(surface, cell, &thirds))
        .collect();
    let enough = ENOUGH
        .iter()
        .any(|(count, share)| steps.len() > *count && steps.len() as f64 > share * cells.len() as f64);
    if !enough {
        return None;
    }
    let (step_mm, noise_mm) = rigid_part_mm(&steps)?;
    (step_mm > LEAST_STEP_MM && step_mm > CLEAR * noise_mm).then_some(Drift {
        step_mm,
        places: steps.len(),
    })
}

/// Rows of the file: before the one, and from the other on.
struct Thirds {
    first_ends: u32,
    last_begins: u32,
}

/// A place that both thirds saw.
struct Step {
    at: Point,
    normal: Vector,
    /// From the first third to the last, along the normal, mm.
    mm: f64,
}

/// The points of each place in the order of the set; places with too few to hold both thirds are left out.
fn cells<F: Frame>(surface: &Surface<F>) -> Vec<Vec<u32>> {
    CellList::new(surface.points(), PLACE_SPACINGS * surface.spacing_mm)
        .cells()
        .filter(|cell| cell.len() >= 2 * FEWEST)
        .map(<[u32]>::to_vec)
        .collect()
}

/// The step at a place: a plane and a step fitted to the points of both thirds.
fn step_in<F: Frame>(surface: &Surface<F>, cell: &[u32], thirds: &Thirds) -> Option<Step> {
    let rows = &surface.cloud.rows;
    let taken: Vec<(u32, bool)> = cell
        .iter()
        .filter_map(|&i| match rows[i as usize] {
            early if early < thirds.first_ends => Some((i, false)),
            late if late >= thirds.last_begins => Some((i, true)),
            _ => None,
        })
        .collect();
    let late = taken.iter().filter(|(_, late)| *late).count();
    if late < FEWEST || taken.len() - late < FEWEST {
        return None;
    }
    let first = surface.normals()[taken[0].0 as usize];
    let mean: Vector = taken
        .iter()
        .map(|(i, _)| {
            let normal = surface.normals()[*i as usize];
            if normal.dot(&first) < 0.0 { -normal } else { normal }
        })
        .sum::<Vector>()
        / taken.len() as f64;
    if mean.norm() < FLAT {
        return None;
    }
    let normal = mean.normalize();
    let points = surface.points();
    let at = Point::from(
        taken
            .iter()
            .map(|(i, _)| points[*i as usize].coords)
            .sum::<Vector>()
            / taken.len() as f64,
    );
    let (u, v) = tangents(&normal);
    let side = PLACE_SPACINGS * surface.spacing_mm;
    // A trace on the diagonal keeps a slope that the points don't show at nothing.
    let mut matrix = SMatrix::<f64, 4, 4>::identity() * (1e-9 * taken.len() as f64);
    let mut right = SVector::<f64, 4>::zeros();
    for (i, late) in &taken {
        let d = points[*i as usize] - at;
        let terms = SVector::<f64, 4>::from([
            d.dot(&u) / side,
            d.dot(&v) / side,
            1.0,
            f64::from(u8::from(*late)),
        ]);
        matrix += terms * terms.transpose();
        right += terms * d.dot(&normal);
    }
    let fitted = matrix.cholesky()?.solve(&right);
    Some(Step {
        at,
        normal,
        mm: fitted[3],
    })
}

/// The rigid motion that the steps share, as its rms along their normals, and what their noise alone would make of it.
fn rigid_part_mm(steps: &[Step]) -> Option<(f64, f64)> {
    let n = steps.len() as f64;
    let centre = Point::from(steps.iter().map(|s| s.at.coords).sum::<Vector>() / n);
    let radius = (steps.iter().map(|s| (s.at - centre).norm_squared()).sum::<f64>() / n)
        .sqrt()
        .max(f64::MIN_POSITIVE);
    let rows: Vec<SmallMotion> = steps
        .iter()
        .map(|s| row(&((s.at - centre) / radius), &s.normal))
        .collect();
    let mut weights = vec![1.0; steps.len()];
    let mut moved = vec![0.0; steps.len()];
    let mut sigma = 0.0;
    for _ in 0..ROUNDS {
        let (mut matrix, mut right) = (Matrix6x6::zeros(), SmallMotion::zeros());
        for ((row, step), weight) in rows.iter().zip(steps).zip(&weights) {
            let weighted = row * *weight;
            matrix += weighted * row.transpose();
            right += weighted * step.mm;
        }
        let eigen = matrix.symmetric_eigen();
        let largest = eigen.eigenvalues.max();
        if largest.is_nan() || largest <= 0.0 {
            return None;
        }
        let mut motion = SmallMotion::zeros();
        for k in 0..6 {
            let value = eigen.eigenvalues[k];
            if value >= LEAST_HELD * largest {
                let v = eigen.eigenvectors.column(k).into_owned();
                motion += v * (v.dot(&right) / value);
            }
        }
        moved = rows.iter().map(|row| row.dot(&motion)).collect();
        let rest: Vec<f64> = steps.iter().zip(&moved).map(|(s, m)| s.mm - m).collect();
        let mut sizes: Vec<f64> = rest.iter().map(|r| r.abs()).collect();
        sigma = (1.4826 * median(&mut sizes)).max(1e-9);
        for (weight, rest) in weights.iter_mut().zip(&rest) {
            *weight = bisquare(*rest, TUKEY * sigma);
        }
    }
    Some((rms(&moved), sigma * (6.0 / n).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use crate::{Cloud, Scan};

    /// A strip of 1000 × 200 mm walked along and back again, 25 000 points each way in the order walked; on the way
    /// back everything lies `lean` per mm and `lift` higher.
    fn there_and_back(lean: f64, lift: f64) -> Vec<Point> {
        let count = 25_000u64;
        let point = |i: u64, x: f64| {
            let noise = 0.2 * (uniform(6 * i + 1) + uniform(6 * i + 2) + uniform(6 * i + 3) - 1.5);
            Point::new(x, 200.0 * uniform(6 * i), 8.0 * (x / 60.0).sin() + noise)
        };
        let along = |i: u64| 1000.0 * (i as f64 + uniform(6 * i + 4)) / count as f64;
        let there = (0..count).map(|i| point(i, along(i)));
        let back = (0..count).map(|i| {
            let x = 1000.0 - along(i);
            let mut p = point(i + count, x);
            p.z += lean * (1000.0 - x) + lift;
            p
        });
        there.chain(back).collect()
    }

    fn looked_at(points: Vec<Point>) -> Option<Drift> {
        let (surface, _) = Surface::<Scan>::new(Cloud::from_points(points), None).unwrap();
        drift(&surface)
    }

    #[test]
    fn a_set_that_leaned_on_the_way_back_is_told() {
        let found = looked_at(there_and_back(0.001, 0.0)).unwrap();
        // The thirds meet between x = 0 and 667 mm; there the lean is 0.33 to 1 mm: rms √((1 + 0.33 + 0.11) / 3).
        assert!((found.step_mm - 0.69).abs() < 0.05, "{found:?}");
        assert!(found.places > 500, "{found:?}");
        let lifted = looked_at(there_and_back(0.0, 0.8)).unwrap();
        assert!((lifted.step_mm - 0.8).abs() < 0.03, "{lifted:?}");
    }

    #[test]
    fn a_steady_set_and_a_shuffled_file_show_none() {
        assert_eq!(looked_at(there_and_back(0.0, 0.0)), None);
        let walked = there_and_back(0.001, 0.8);
        // 50 000 and 7 919 have no factor in common, so every point is taken once.
        let shuffled = (0..walked.len()).map(|i| walked[(i * 7919) % walked.len()]);
        assert_eq!(looked_at(shuffled.collect()), None);
    }

    #[test]
    fn a_set_that_never_comes_back_says_nothing() {
        let half = there_and_back(0.001, 0.8)[..25_000].to_vec();
        assert_eq!(looked_at(half), None);
    }
}
