//! Unit normals from the neighbours of each point, without a side: which way is out is decided in [`crate::orient`].

use rayon::prelude::*;

use crate::eigen::flattest_direction;
use crate::{CellList, Matrix3, Near, Point, Vector};

/// Fewest neighbours from which a plane is taken; below it the search is widened.
const FEWEST: usize = 8;

/// Moments of a neighbourhood about a point: count, sum and sum of products.
#[derive(Default)]
struct Moments {
    count: usize,
    sum: Vector,
    products: [f64; 6],
}

impl Moments {
    #[inline]
    fn add(&mut self, d: Vector) {
        self.count += 1;
        self.sum += d;
        let p = &mut self.products;
        p[0] += d.x * d.x;
        p[1] += d.x * d.y;
        p[2] += d.x * d.z;
        p[3] += d.y * d.y;
        p[4] += d.y * d.z;
        p[5] += d.z * d.z;
    }

    fn flattest(&self) -> Vector {
        let p = &self.products;
        let m = Matrix3::new(p[0], p[1], p[2], p[1], p[3], p[4], p[2], p[4], p[5]);
        let mean = self.sum / self.count.max(1) as f64;
        flattest_direction(&(m - self.sum * mean.transpose()))
    }
}

/// What the neighbours of a point say about the surface there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facet {
    /// Unit normal, of arbitrary sign.
    pub normal: Vector,
    /// How far the middle of the neighbours lies from the point, as a share of the radius: about 0.1 inside a sheet,
    /// 0.42 at its edge (the middle of a half disc).
    pub off_middle: f64,
    /// Neighbours within the radius, the point itself among them.
    pub neighbours: u32,
}

/// Beyond this share of the radius the neighbours lie on one side: the point is on the rim of its sheet.
pub const RIM: f64 = 0.3;

/// The surface at every one of `at`, from the neighbours in `points` (searched by `near`) within `radius_mm`.
///
/// Total least squares plane (Hoppe et al. 1992, SIGGRAPH, section 3.1). Where fewer than eight neighbours lie within
/// the radius the twelve nearest are taken.
pub fn from_neighbours(at: &[Point], points: &[Point], near: &Near, radius_mm: f64) -> Vec<Facet> {
    at.par_iter()
        .with_min_len(1024)
        .map(|point| {
            let mut moments = Moments::default();
            near.visit_within(point, radius_mm, |n| {
                moments.add(points[n.index as usize] - point);
            });
            facet(moments, point, points, near, radius_mm)
        })
        .collect()
}

/// As [`from_neighbours`], at every one of the points themselves: several times quicker, since neighbours share theirs.
pub fn at_each(points: &[Point], near: &Near, radius_mm: f64) -> Vec<Facet> {
    CellList::new(points, radius_mm).each_around(points, |around| {
        let mut moments = Moments::default();
        around.offsets().for_each(|d| moments.add(d));
        facet(moments, &around.at, points, near, radius_mm)
    })
}

/// The unit normal, of arbitrary sign, of the plane through the ends of `offsets` with the least squares.
pub(crate) fn through(offsets: impl Iterator<Item = Vector>) -> Vector {
    let mut moments = Moments::default();
    offsets.for_each(|d| moments.add(d));
    moments.flattest()
}

/// The surface at `point` from the moments of what lies within the radius, or where that is too little of the nearest.
fn facet(mut moments: Moments, point: &Point, points: &[Point], near: &Near, radius_mm: f64) -> Facet {
    let neighbours = moments.count as u32;
    let mut reach_mm = radius_mm;
    if moments.count < FEWEST {
        moments = Moments::default();
        for n in near.nearest_n(point, 12) {
            moments.add(points[n.index as usize] - point);
            reach_mm = n.squared_mm2.sqrt();
        }
    }
    let middle = moments.sum / moments.count.max(1) as f64;
    Facet {
        normal: moments.flattest(),
        off_middle: middle.norm() / reach_mm.max(f64::MIN_POSITIVE),
        neighbours,
    }
}

/// The radius that holds about twenty neighbours at a spacing of `spacing_mm`.
pub fn usual_radius_mm(spacing_mm: f64) -> f64 {
    (20.0 / std::f64::consts::PI).sqrt() * spacing_mm
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn on_a_ball_they_point_along_the_radius() {
        let golden = std::f64::consts::PI * (3.0 - 5f64.sqrt());
        let ball: Vec<Point> = (0..4000)
            .map(|i| {
                let z = 1.0 - 2.0 * (f64::from(i) + 0.5) / 4000.0;
                let r = (1.0 - z * z).sqrt();
                let a = golden * f64::from(i);
                Point::new(100.0 * r * a.cos(), 100.0 * r * a.sin(), 100.0 * z)
            })
            .collect();
        let near = Near::new(&ball);
        for (facet, point) in from_neighbours(&ball, &ball, &near, 14.0).iter().zip(&ball) {
            assert!(facet.normal.dot(&point.coords.normalize()).abs() > 0.9995);
            assert!(facet.off_middle < RIM);
        }
    }

    #[test]
    fn the_rim_of_a_sheet_is_known_from_its_inside() {
        let sheet: Vec<Point> = (0..900)
            .map(|i| Point::new(f64::from(i % 30), f64::from(i / 30), 0.0))
            .collect();
        let near = Near::new(&sheet);
        for (facet, point) in from_neighbours(&sheet, &sheet, &near, 2.6).iter().zip(&sheet) {
            let rim = [point.x, point.y].iter().any(|c| *c < 0.5 || *c > 28.5);
            let inside = [point.x, point.y].iter().all(|c| (3.0..=26.0).contains(c));
            assert!(!rim || facet.off_middle > RIM);
            assert!(!inside || facet.off_middle < RIM);
        }
    }
}
