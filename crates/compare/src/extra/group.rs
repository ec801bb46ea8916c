//! Points without a counterpart put together where they lie close, and the plane and the size of such a group.

use std::ops::Range;

use cloud::eigen::flattest_direction;
use cloud::survey::tangents;
use cloud::{Matrix3, Point, Vector};

/// The cells beside one, each pair of cells once.
const BESIDE: [[i64; 3]; 13] = [
    [0, 0, 1],
    [0, 1, -1],
    [0, 1, 0],
    [0, 1, 1],
    [1, -1, -1],
    [1, -1, 0],
    [1, -1, 1],
    [1, 0, -1],
    [1, 0, 0],
    [1, 0, 1],
    [1, 1, -1],
    [1, 1, 0],
    [1, 1, 1],
];

/// The points, by their numbers, put together where their cells of `side_mm` touch: points up to a side apart always are,
/// and none that are more than two sides apart along an axis. In the order of their cells.
pub(super) fn groups(at: &[Point], side_mm: f64) -> Vec<Vec<usize>> {
    let mut keyed: Vec<([i64; 3], usize)> = at
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let cell = [p.x, p.y, p.z].map(|c| (c / side_mm.max(f64::MIN_POSITIVE)).floor() as i64);
            (cell, i)
        })
        .collect();
    keyed.sort_unstable();
    let mut cells: Vec<([i64; 3], Range<usize>)> = Vec::new();
    for (k, (cell, _)) in keyed.iter().enumerate() {
        match cells.last_mut() {
            Some((last, members)) if *last == *cell => members.end = k + 1,
            _ => cells.push((*cell, k..k + 1)),
        }
    }
    let mut first: Vec<usize> = (0..cells.len()).collect();
    for (k, (own, _)) in cells.iter().enumerate() {
        for step in &BESIDE {
            let cell: [i64; 3] = std::array::from_fn(|axis| own[axis].saturating_add(step[axis]));
            if let Ok(other) = cells.binary_search_by(|(c, _)| c.cmp(&cell)) {
                let (a, b) = (root(&mut first, k), root(&mut first, other));
                first[a.max(b)] = a.min(b);
            }
        }
    }
    let mut of_root: Vec<Vec<usize>> = vec![Vec::new(); cells.len()];
    for (k, (_, members)) in cells.iter().enumerate() {
        let own = keyed[members.clone()].iter().map(|(_, i)| *i);
        of_root[root(&mut first, k)].extend(own);
    }
    of_root.retain(|group| !group.is_empty());
    of_root
}

/// The first cell of the group that a cell is in; the way to it is shortened.
fn root(first: &mut [usize], mut cell: usize) -> usize {
    while first[cell] != cell {
        first[cell] = first[first[cell]];
        cell = first[cell];
    }
    cell
}

/// A group's own plane: the flattest through its points, turned so that the rectangle around them is the smallest.
pub(super) struct Frame {
    /// The middle of the rectangle, mm.
    pub middle: Point,
    /// Along it, across it, and square to it: unit vectors.
    axes: [Vector; 3],
    /// How long it is along and across, the longer first, mm.
    pub size_mm: [f64; 2],
}

impl Frame {
    /// The plane and the rectangle of some points, of which there must be one.
    pub fn of(points: &[Point]) -> Self {
        let count = points.len().max(1) as f64;
        let centre = Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / count);
        let spread: Matrix3 = points
            .iter()
            .map(|p| (p - centre) * (p - centre).transpose())
            .sum();
        let normal = flattest_direction(&spread);
        let (u, v) = tangents(&normal);
        // A degree is fine enough: half a degree off makes a side longer by under a hundredth of the other one.
        let turned = (0..90).map(|degrees| {
            let (sine, cosine) = f64::from(degrees).to_radians().sin_cos();
            let axes = [u * cosine + v * sine, v * cosine - u * sine, normal];
            (axes, extents(points, &centre, &axes))
        });
        let area = |e: &[[f64; 2]; 2]| (e[0][1] - e[0][0]) * (e[1][1] - e[1][0]);
        let smallest = turned.min_by(|a, b| area(&a.1).total_cmp(&area(&b.1)));
        let (axes, extents) = smallest.unwrap_or(([u, v, normal], [[0.0; 2]; 2]));
        let half = |e: [f64; 2]| (e[0] + e[1]) / 2.0;
        let frame = Self {
            middle: centre + axes[0] * half(extents[0]) + axes[1] * half(extents[1]),
            axes,
            size_mm: extents.map(|e| e[1] - e[0]),
        };
        if frame.size_mm[0] >= frame.size_mm[1] {
            return frame;
        }
        let [u, v, normal] = frame.axes;
        Self {
            middle: frame.middle,
            axes: [v, -u, normal],
            size_mm: [frame.size_mm[1], frame.size_mm[0]],
        }
    }

    /// The unit normal of the plane.
    pub fn normal(&self) -> Vector {
        self.axes[2]
    }

    /// Where a place lies from the middle: along, across, off the plane, mm.
    pub fn coordinates(&self, at: &Point) -> [f64; 3] {
        let off = at - self.middle;
        [0, 1, 2].map(|k: usize| off.dot(&self.axes[k]))
    }
}

/// From where to where points reach along the first two axes, mm from `centre`.
fn extents(points: &[Point], centre: &Point, axes: &[Vector; 3]) -> [[f64; 2]; 2] {
    let mut extents = [[f64::INFINITY, f64::NEG_INFINITY]; 2];
    for point in points {
        let off = point - centre;
        for (extent, axis) in extents.iter_mut().zip(axes) {
            let along = off.dot(axis);
            *extent = [extent[0].min(along), extent[1].max(along)];
        }
    }
    extents
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_close_is_put_together_and_what_lies_apart_is_not() {
        let row = |y: f64| (0..20).map(move |i| Point::new(f64::from(i) - 7.0, y, 0.0));
        let points: Vec<Point> = row(0.0).chain(row(1.5)).chain(row(9.0)).collect();
        let found = groups(&points, 2.0);
        assert_eq!(found.iter().map(Vec::len).collect::<Vec<_>>(), [40, 20]);
        assert!(found[1].iter().all(|&i| i >= 40));
        assert!(groups(&[], 2.0).is_empty());
    }

    #[test]
    fn a_turned_rectangle_keeps_its_size() {
        let turn: cloud::Motion<cloud::Scan, cloud::Body> = cloud::Motion::turn_about(
            Vector::new(0.4, -0.7, 1.1),
            Point::origin(),
            Vector::new(5.0, 6.0, 7.0),
        );
        let points: Vec<Point> = (0..=50)
            .flat_map(|i| (0..=30).map(move |j| Point::new(f64::from(i), f64::from(j), 0.0)))
            .map(|p| turn.apply(&p))
            .collect();
        let frame = Frame::of(&points);
        // The nearest degree is up to half a degree off, which adds its sine times the other side.
        assert!(
            (frame.size_mm[0] - 50.0).abs() < 0.3 && (frame.size_mm[1] - 30.0).abs() < 0.5,
            "{:?}",
            frame.size_mm
        );
        assert!((frame.middle - turn.apply(&Point::new(25.0, 15.0, 0.0))).norm() < 0.3);
        assert!(frame.normal().dot(&turn.turn(&Vector::z())).abs() > 1.0 - 1e-9);
    }
}
