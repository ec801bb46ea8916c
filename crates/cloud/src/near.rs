//! Finding neighbours: the one door to the k-d tree.
//!
//! The tree holds `f32` coordinates from a local origin, turned to a generic attitude: it splits its axes in turn,
//! and a sheet that lies in an axis plane would waste every third split. Distances that matter are taken again in
//! `f64` by the caller; the tree decides only who is near, to about 1e-4 mm on a car body.

use std::num::NonZero;

use kiddo::leaf_strategies::FlatVec;
use kiddo::stem_strategies::EytzingerNoPf;
use kiddo::{KdTree, SquaredEuclidean};
use nalgebra::{Rotation3, Vector3};
use rayon::prelude::*;

use crate::{Bounds, Matrix3, Point};

/// Points to a leaf: half the library's usual number, which is quicker on sheet.
const LEAF: usize = 16;

/// The tree, made once and never changed. Coordinates in one run each: the nearest is found in two thirds of the time that the
/// library's usual leaves take.
type Tree = KdTree<f32, u32, EytzingerNoPf, FlatVec<f32, u32, 3, LEAF>, 3, LEAF>;

/// A search over a set of points; answers are indices into the slice it was made from.
pub struct Near {
    tree: Option<Tree>,
    origin: Point,
    attitude: Matrix3,
}

/// One neighbour: its index and its squared distance in mm².
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Neighbour {
    /// Index into the slice that the search was made from.
    pub index: u32,
    /// Squared distance in mm².
    pub squared_mm2: f64,
}

impl Near {
    /// A search over `points`, which must be finite. An empty slice gives a search that finds nothing.
    pub fn new(points: &[Point]) -> Self {
        let origin = Bounds::of(points).map_or(Point::origin(), |b| b.centre());
        let attitude = Rotation3::new(Vector3::new(0.41, -0.67, 0.53)).into_inner();
        let mut near = Self {
            tree: None,
            origin,
            attitude,
        };
        let turned: Vec<[f32; 3]> = points
            .par_iter()
            .with_min_len(4096)
            .map(|p| near.inside(p))
            .collect();
        // The tree refuses only what it can't hold (more than 2³² items); such a set then finds no neighbours.
        near.tree = (!turned.is_empty())
            .then(|| Tree::new_from_slice(&turned).ok())
            .flatten();
        near
    }

    #[inline]
    fn inside(&self, point: &Point) -> [f32; 3] {
        let turned = self.attitude * (point - self.origin);
        [turned.x as f32, turned.y as f32, turned.z as f32]
    }

    /// The nearest point, at any distance; `None` only where there are no points.
    #[inline]
    pub fn nearest(&self, point: &Point) -> Option<Neighbour> {
        let found = self
            .tree
            .as_ref()?
            .query(&self.inside(point))
            .nearest_one::<SquaredEuclidean<f32>>()
            .execute();
        found.distance.is_finite().then(|| Neighbour {
            index: found.item,
            squared_mm2: f64::from(found.distance),
        })
    }

    /// The nearest point within `radius_mm`.
    #[inline]
    pub fn nearest_within(&self, point: &Point, radius_mm: f64) -> Option<Neighbour> {
        self.tree
            .as_ref()?
            .query(&self.inside(point))
            .nearest_n::<SquaredEuclidean<f32>>(NonZero::<usize>::MIN)
            .within((radius_mm * radius_mm) as f32)
            .execute()
            .first()
            .map(|found| Neighbour {
                index: found.item,
                squared_mm2: f64::from(found.distance),
            })
    }

    /// The `count` nearest points, nearest first; fewer where there are fewer.
    pub fn nearest_n(&self, point: &Point, count: usize) -> Vec<Neighbour> {
        let (Some(tree), Some(count)) = (self.tree.as_ref(), NonZero::new(count)) else {
            return Vec::new();
        };
        tree.query(&self.inside(point))
            .nearest_n::<SquaredEuclidean<f32>>(count)
            .execute()
            .into_iter()
            .filter(|n| n.distance.is_finite())
            .map(|n| Neighbour {
                index: n.item,
                squared_mm2: f64::from(n.distance),
            })
            .collect()
    }

    /// Calls `visit` with every point within `radius_mm`, in an order that is always the same for the same set.
    #[inline]
    pub fn visit_within(&self, point: &Point, radius_mm: f64, mut visit: impl FnMut(Neighbour)) {
        let Some(tree) = self.tree.as_ref() else {
            return;
        };
        tree.query(&self.inside(point))
            .within::<SquaredEuclidean<f32>>((radius_mm * radius_mm) as f32)
            .unsorted()
            .visit(|n| {
                visit(Neighbour {
                    index: n.item,
                    squared_mm2: f64::from(n.distance),
                });
            });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flat_lattice() -> Vec<Point> {
        (0..900)
            .map(|i| Point::new(f64::from(i % 30), f64::from(i / 30), 0.0))
            .collect()
    }

    /// Flat sheet gives thousands of points that share a coordinate: the case on which a growing tree fails.
    #[test]
    fn a_flat_sheet_and_identical_points_are_held() {
        let mut points = flat_lattice();
        points.extend(std::iter::repeat_n(Point::new(5.0, 5.0, 0.0), 500));
        let near = Near::new(&points);
        let mut count = 0;
        near.visit_within(&Point::new(5.0, 5.0, 0.0), 0.5, |_| count += 1);
        assert_eq!(count, 501);
    }

    #[test]
    fn agrees_with_brute_force() {
        let points = flat_lattice();
        let near = Near::new(&points);
        for k in 0..200 {
            let t = f64::from(k);
            let query = Point::new(
                (t * 0.37).sin() * 20.0 + 10.0,
                (t * 0.91).cos() * 20.0 + 10.0,
                (t * 0.13).sin() * 3.0,
            );
            let best = points
                .iter()
                .map(|p| (p - query).norm_squared())
                .fold(f64::INFINITY, f64::min);
            let found = near.nearest(&query).unwrap();
            assert!((found.squared_mm2 - best).abs() < 1e-3);
            assert!(((points[found.index as usize] - query).norm_squared() - best).abs() < 1e-3);
            let within = points.iter().filter(|p| (*p - query).norm() < 4.3).count();
            let mut seen = 0;
            near.visit_within(&query, 4.3, |_| seen += 1);
            assert_eq!(seen, within);
        }
    }

    #[test]
    fn nothing_is_found_among_nothing() {
        let near = Near::new(&[]);
        assert!(near.nearest(&Point::origin()).is_none());
        assert!(near.nearest_n(&Point::origin(), 3).is_empty());
    }
}
