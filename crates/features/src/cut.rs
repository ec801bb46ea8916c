//! Sections: the lines that a plane cuts out of a set, and how long they are along the metal.
//!
//! Of points, those beside the plane are slid onto it along their own sheet, so that a sheet that slopes through the plane
//! is not smeared; they are smoothed a little and strung together. Of a mesh, the triangles are cut exactly.

use cloud::survey::tangents;
use cloud::{Body, Frame, Motion, Point, Surface, Vector};
use rayon::prelude::*;

mod chain;
mod ends;
mod lengths;
mod triangles;

pub use ends::{Beyond, Known, Short};
pub use lengths::{CutPair, pair};

/// Narrowest band beside the plane, in spacings: with half of it points are so few along the line that gaps of chance break it.
const NARROWEST: f64 = 1.5;
/// A sheet that leaves the plane by less than 18° (this is the square of its sine) is not cut by it, it lies along it.
const LEAST_LEAN: f64 = 0.1;

/// A plane to cut by, in the body's frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    /// A place on it, mm.
    pub through: Point,
    /// The direction that it faces; need not be of unit length.
    pub facing: Vector,
}

/// One point of a set, slid onto the plane, in the body's frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutPoint {
    /// Where it is, on the plane, mm.
    pub at: Point,
    /// The sheet's normal there as it lies in the plane, of unit length.
    pub normal: Vector,
}

/// One unbroken line of a section.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its points in their order, mm, in the body's frame; a closed one ends where it begins.
    pub points: Vec<Point>,
    /// Its length along the metal, mm.
    pub length_mm: f64,
}

/// Cuts `surface`, set by `to_body`, by `plane`: the lines, longest first, each beginning at the end with the lower
/// coordinate. Points count within `half_width_mm` of the plane (never less than 1½ spacings) and within `reach_mm` of
/// its place; infinite cuts the whole set. A line breaks where no point follows within 3½ spacings.
///
/// Of points, a fold without radius is cut short by about ¾ of a spacing.
pub fn cut<F: Frame>(
    surface: &Surface<F>,
    to_body: &Motion<F, Body>,
    plane: &Plane,
    half_width_mm: f64,
    reach_mm: f64,
) -> Vec<Line> {
    let Some(facing) = plane.facing.try_normalize(1e-12) else {
        return Vec::new();
    };
    let plane = Plane { facing, ..*plane };
    let lines = if surface.cloud.faces.is_empty() {
        let beside = beside(surface, to_body, &plane, half_width_mm, reach_mm);
        chain::chained(&beside, &facing, surface.spacing_mm)
    } else {
        triangles::cut(surface, to_body, &plane, reach_mm)
    };
    in_order(lines, &facing)
}

/// The points of `surface` beside the plane (its facing of unit length), slid onto it, in the order of the set.
///
/// A point p at the height d over the plane with the normal n goes to p − d (f − (f·n) n) / (1 − (f·n)²), with f the
/// facing: down the sheet's own steepest way to the plane. Where the sheet lies along the plane it is left out.
pub fn beside<F: Frame>(
    surface: &Surface<F>,
    to_body: &Motion<F, Body>,
    plane: &Plane,
    half_width_mm: f64,
    reach_mm: f64,
) -> Vec<CutPoint> {
    let half_width_mm = half_width_mm.max(NARROWEST * surface.spacing_mm);
    let back = to_body.inverse();
    let (through, facing) = (back.apply(&plane.through), back.turn(&plane.facing));
    let (points, normals) = (surface.points(), surface.normals());
    let slid = |i: usize| -> Option<CutPoint> {
        let (point, normal) = (points[i], normals[i]);
        let height = (point - through).dot(&facing);
        if height.abs() > half_width_mm {
            return None;
        }
        let across = normal.dot(&facing);
        let lean = 1.0 - across * across;
        (lean > LEAST_LEAN).then(|| CutPoint {
            at: to_body.apply(&(point - (facing - normal * across) * (height / lean))),
            normal: to_body.turn(&((normal - facing * across) / lean.sqrt())),
        })
    };
    if reach_mm.is_finite() {
        let mut close: Vec<u32> = Vec::new();
        surface
            .near
            .visit_within(&through, reach_mm, |n| close.push(n.index));
        close.sort_unstable();
        return close.into_iter().filter_map(|i| slid(i as usize)).collect();
    }
    (0..points.len())
        .into_par_iter()
        .with_min_len(4096)
        .filter_map(slid)
        .collect()
}

/// Planes square to a seam that runs straight from `from` to `to`, every `every_mm` along it, the first at its beginning.
///
/// Each holds the direction `up` (the way the sheet faces at the seam), so that the sections stand upright; a seam that
/// itself runs within 30° of `up` is cut square. None where the seam has no length or the steps have none.
pub fn along_seam(from: &Point, to: &Point, every_mm: f64, up: &Vector) -> Vec<Plane> {
    let run = to - from;
    let Some(along) = run.try_normalize(1e-9) else {
        return Vec::new();
    };
    if every_mm.is_nan() || every_mm <= 0.0 {
        return Vec::new();
    }
    let level = up
        .try_normalize(1e-12)
        .map_or(along, |up| along - up * up.dot(&along));
    let facing = level.try_normalize(0.5).unwrap_or(along);
    // The last plane must not be lost to rounding.
    let steps = (run.norm() / every_mm + 1e-9) as usize;
    (0..=steps)
        .map(|k| Plane {
            through: from + along * (k as f64 * every_mm),
            facing,
        })
        .collect()
}

/// A line through `points`; `None` where it has no length.
fn line(points: Vec<Point>) -> Option<Line> {
    let length_mm = cloud::statistics::sum(points.windows(2).map(|pair| (pair[1] - pair[0]).norm()));
    (length_mm > 0.0).then_some(Line { points, length_mm })
}

/// The lines longest first, each from its lower end on.
fn in_order(mut lines: Vec<Line>, facing: &Vector) -> Vec<Line> {
    let (u, v) = tangents(facing);
    for line in &mut lines {
        if let (Some(first), Some(last)) = (line.points.first(), line.points.last()) {
            let run = last - first;
            let larger = if run.dot(&u).abs() > run.dot(&v).abs() {
                u
            } else {
                v
            };
            // Of the two ways along a tangent the one toward higher coordinates.
            let upward = larger * larger[larger.iamax()].signum();
            if run.dot(&upward) < 0.0 {
                line.points.reverse();
            }
        }
    }
    lines.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::{Cloud, Scan};

    fn surface<F: Frame>(places: Vec<(Point, Vector)>) -> Surface<F> {
        let (points, normals): (Vec<Point>, Vec<Vector>) = places.into_iter().unzip();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(normals);
        Surface::new(cloud, None).unwrap().0
    }

    fn square_to_x(x: f64) -> Plane {
        Plane {
            through: Point::new(x, 0.0, 0.0),
            facing: Vector::x(),
        }
    }

    /// A sheet that rises by 45° through the plane is a line at one height; put straight onto the plane it would smear by
    /// the width of the band. The set lies in a frame of its own.
    #[test]
    fn a_sloping_sheet_is_not_smeared() {
        let pose: Motion<Scan, Body> = Motion::turn_about(
            Vector::new(0.4, -0.3, 0.8),
            Point::new(30.0, 0.0, 9.0),
            Vector::new(5.0, 6.0, 7.0),
        );
        let back = pose.inverse();
        let places = (0..20_000u64)
            .map(|i| {
                let (x, y) = (100.0 * uniform(2 * i), 200.0 * uniform(2 * i + 1));
                let normal = Vector::new(-1.0, 0.0, 1.0).normalize();
                (back.apply(&Point::new(x, y, x)), back.turn(&normal))
            })
            .collect();
        let set: Surface<Scan> = surface(places);
        let lines = cut(&set, &pose, &square_to_x(40.0), 2.0, f64::INFINITY);
        assert_eq!(lines.len(), 1);
        for p in &lines[0].points {
            assert!((p.x - 40.0).abs() < 1e-6 && (p.z - 40.0).abs() < 1e-6, "{p}");
        }
        assert!((lines[0].length_mm - 200.0).abs() < 3.0, "{}", lines[0].length_mm);
        assert!(lines[0].points.windows(2).all(|pair| pair[0].y < pair[1].y));
    }

    #[test]
    fn a_rough_half_tube_has_half_its_girth() {
        let places = (0..14_000u64)
            .map(|i| {
                let a = std::f64::consts::PI * uniform(4 * i);
                let normal = Vector::new(0.0, a.cos(), a.sin());
                let noise = 0.2 * (uniform(4 * i + 1) + uniform(4 * i + 2) - 1.0);
                let x = 100.0 * uniform(4 * i + 3);
                (Point::from(normal * (45.0 + noise)) + Vector::x() * x, normal)
            })
            .collect();
        let set: Surface<Body> = surface(places);
        let lines = cut(&set, &Motion::identity(), &square_to_x(50.0), 1.5, f64::INFINITY);
        assert_eq!(lines.len(), 1);
        let girth = 45.0 * std::f64::consts::PI;
        assert!(
            (lines[0].length_mm - girth).abs() < 2.0,
            "{} for {girth}",
            lines[0].length_mm
        );
        for p in &lines[0].points {
            assert!((p.y.hypot(p.z) - 45.0).abs() < 0.2, "{p}");
        }
    }

    #[test]
    fn a_gap_breaks_the_line_and_a_reach_ends_it() {
        let places = (0..9_000u64)
            .map(|i| Point::new(60.0 * uniform(2 * i), 150.0 * uniform(2 * i + 1), 0.0))
            .filter(|p| (p.y - 60.0).abs() > 10.0)
            .map(|p| (p, Vector::z()))
            .collect();
        let set: Surface<Body> = surface(places);
        let whole = cut(&set, &Motion::identity(), &square_to_x(30.0), 1.5, f64::INFINITY);
        assert_eq!(whole.len(), 2);
        assert!((whole[0].length_mm - 80.0).abs() < 3.0 && (whole[1].length_mm - 50.0).abs() < 3.0);
        let close = cut(&set, &Motion::identity(), &square_to_x(30.0), 1.5, 30.0);
        assert!(close.len() == 1 && (close[0].length_mm - 30.0).abs() < 3.0);
    }

    #[test]
    fn planes_stand_along_the_seam_and_upright() {
        let planes = along_seam(
            &Point::new(0.0, 10.0, 0.0),
            &Point::new(101.6, 10.0, 5.0),
            25.4,
            &Vector::z(),
        );
        assert_eq!(planes.len(), 5);
        assert!((planes[4].through - Point::new(101.6, 10.0, 5.0)).norm() < 0.2);
        assert!(planes.iter().all(|p| (p.facing - Vector::x()).norm() < 1e-12));
        let post = along_seam(&Point::origin(), &Point::new(0.0, 0.0, 50.0), 25.0, &Vector::z());
        assert!(post.len() == 3 && (post[0].facing - Vector::z()).norm() < 1e-12);
        assert!(along_seam(&Point::origin(), &Point::origin(), 25.0, &Vector::z()).is_empty());
    }
}
