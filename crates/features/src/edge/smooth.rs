//! A rough edge made smooth between its corners: locally weighted straight lines (Cleveland 1979, J. Am. Stat. Assoc. 74,
//! 829-836), which reach the corners without drawing them in and leave a straight edge as it is.

use cloud::{Point, Vector};

use super::Edge;
use super::boundary::Rim;
use super::corners::{between, corners};
use super::line::Line;

/// Half the width of the weights, in steps.
const REACH: f64 = 4.0;

/// The edge that a rough one stands for.
pub(super) fn edge(rim: &Rim, step_mm: f64) -> Edge {
    let corners = corners(&rim.at, rim.closed, step_mm);
    let mut edge = Edge {
        at: Vec::new(),
        outward: Vec::new(),
        normal: Vec::new(),
        closed: rim.closed,
        corners: Vec::new(),
    };
    for (places, closed) in between(rim.at.len(), rim.closed, &corners) {
        for (k, place) in smoothed(rim, &places, closed, REACH * step_mm)
            .into_iter()
            .enumerate()
        {
            match edge.at.len().checked_sub(1) {
                Some(last) if k == 0 => {
                    meet(&mut edge, last, &place);
                    edge.corners.push(last);
                }
                _ => {
                    edge.at.push(place.at);
                    edge.outward.push(place.outward);
                    edge.normal.push(place.normal);
                }
            }
        }
    }
    if rim.closed && !corners.is_empty() {
        // Once round: the last place is the first corner again.
        if let (Some(at), Some(outward), Some(normal)) =
            (edge.at.pop(), edge.outward.pop(), edge.normal.pop())
        {
            meet(&mut edge, 0, &Place { at, outward, normal });
            edge.corners.insert(0, 0);
        }
    }
    edge
}

/// A place of a smooth edge.
struct Place {
    at: Point,
    outward: Vector,
    normal: Vector,
}

/// Puts the place `k` of an edge to the middle between itself and `other`.
fn meet(edge: &mut Edge, k: usize, other: &Place) {
    let both = |a: Vector, b: Vector| (a + b).try_normalize(0.1).unwrap_or(a);
    edge.at[k] = edge.at[k] + (other.at - edge.at[k]) / 2.0;
    let normal = both(edge.normal[k], other.normal);
    let outward = both(edge.outward[k], other.outward);
    // The mean of two directions square to their normals need not be square to the mean of these.
    edge.outward[k] = (outward - normal * outward.dot(&normal))
        .try_normalize(0.1)
        .unwrap_or(edge.outward[k]);
    edge.normal[k] = normal;
}

/// The smooth places of one stretch between corners, given by its places of the rough edge.
fn smoothed(rim: &Rim, places: &[usize], closed: bool, reach_mm: f64) -> Vec<Place> {
    let at: Vec<Point> = places.iter().map(|&i| rim.at[i]).collect();
    let line = Line::new(&at, closed);
    (0..at.len())
        .map(|i| {
            // (weight, distance along, place of the rough edge)
            let around: Vec<(f64, f64, usize)> = line
                .around(i, reach_mm, reach_mm)
                .into_iter()
                .map(|(off, j)| {
                    let share = off.abs() / (1.001 * reach_mm);
                    ((1.0 - share.powi(3)).powi(3), off, places[j])
                })
                .collect();
            smoothed_place(rim, places[i], &around)
        })
        .collect()
}

fn smoothed_place(rim: &Rim, own: usize, around: &[(f64, f64, usize)]) -> Place {
    let weights: f64 = around.iter().map(|(w, ..)| w).sum();
    let sum = |value: &dyn Fn(usize) -> Vector| around.iter().map(|&(w, _, j)| value(j) * w).sum::<Vector>();
    let middle = around.iter().map(|(w, off, _)| w * off).sum::<f64>() / weights;
    let squares: f64 = around.iter().map(|(w, off, _)| w * (off - middle).powi(2)).sum();
    let origin = rim.at[own];
    let mean = sum(&|j| rim.at[j] - origin) / weights;
    let slope = if squares > 1e-12 {
        around
            .iter()
            .map(|&(w, off, j)| (rim.at[j] - origin) * (w * (off - middle)))
            .sum::<Vector>()
            / squares
    } else {
        Vector::zeros()
    };
    let along = slope.try_normalize(1e-9).unwrap_or_else(Vector::zeros);
    // The sides of neighbouring normals may be guessed differently.
    let side = |j: usize| {
        if rim.normal[j].dot(&rim.normal[own]) < 0.0 {
            -1.0
        } else {
            1.0
        }
    };
    let normal = sum(&|j| rim.normal[j] * side(j));
    let normal = (normal - along * normal.dot(&along))
        .try_normalize(1e-9)
        .unwrap_or(rim.normal[own]);
    let void = sum(&|j| rim.void[j]);
    let outward = (void - along * void.dot(&along) - normal * void.dot(&normal))
        .try_normalize(1e-9)
        .unwrap_or(rim.void[own]);
    Place {
        at: origin + mean - slope * middle,
        outward,
        normal,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A rough line along x, open, off by ±0.3 mm in y with the void at +y.
    fn rough() -> Rim {
        let at: Vec<Point> = (0..100)
            .map(|i| Point::new(f64::from(i), 0.3 * (f64::from(i) * 2.1).sin(), 5.0))
            .collect();
        let void = (0..100).map(|i| Vector::new((f64::from(i) * 1.3).sin() * 0.5, 1.0, 0.0).normalize());
        Rim {
            void: void.collect(),
            normal: (0..100)
                .map(|i| Vector::z() * if i % 7 == 0 { -1.0 } else { 1.0 })
                .collect(),
            at,
            closed: false,
        }
    }

    #[test]
    fn a_rough_straight_edge_comes_out_straight_with_its_ends_where_they_were() {
        let edge = edge(&rough(), 1.0);
        assert_eq!(edge.at.len(), 100);
        assert!(edge.corners.is_empty() && !edge.closed);
        let mean_off = edge.at.iter().map(|p| p.y.abs()).sum::<f64>() / 100.0;
        assert!(mean_off < 0.08, "{mean_off}");
        assert!(edge.at[0].x.abs() < 0.3 && (edge.at[99].x - 99.0).abs() < 0.3);
        for (outward, normal) in edge.outward.iter().zip(&edge.normal) {
            assert!(outward.y > 0.9 && normal.z.abs() > 0.99 && outward.dot(normal).abs() < 1e-9);
        }
    }
}
