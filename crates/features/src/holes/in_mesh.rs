//! Holes in a mesh: the rings of its open sides that lie on a circle or on a slot.
//!
//! The corners of a ring lie on the edge of the hole itself, so that it is laid through them and nothing is added for the
//! spacing. That holds for rings that are drawn: those of a mesh that was laid through scanned points run in and out by a good
//! part of their sides' length, and are left to the points of the sheet.

use cloud::chance::student_t;
use cloud::statistics::mean;
use cloud::{Frame, Point, Surface, Vector};
use nalgebra::Vector2;
use rayon::prelude::*;

use super::judge::one_way;
use super::matched::IN_PLANE_MM;
use super::outline::Outline;
use super::rim::lip;
use super::sheet::{Metal, Plane};
use super::{Hole, LARGEST_MM, Slot};
use crate::edge::{Rim, rings};
use crate::elements::{circle, slot};

/// Fewest corners of a ring.
const FEWEST: usize = 10;
/// The corners of a ring that is drawn lie off its outline by no more than this share of its radius each, and by this share of
/// the usual length of a side together (root mean square); the corners of a triangulated scan scatter over 0.3 of it.
const OFF: f64 = 0.05;
const DRAWN: f64 = 0.1;
/// The middles of its sides lie inside by no more than this share of its radius: those of a circle of ten corners do by 0.049.
const DEEPEST: f64 = 0.05;
/// The sheet lies outside of a ring, in its plane within 60°.
const OUTSIDE: f64 = 0.5;

/// An outline through a ring's corners.
struct Laid {
    outline: Outline,
    is_slot: bool,
    /// Root mean square of the corners off it, with the freedoms that are left, mm.
    scatter_mm: f64,
    freedoms: f64,
    /// How far the middles of the sides lie inside at the most and on the average, mm.
    deepest_mm: f64,
    deep_mm: f64,
    /// By what the scatter is multiplied to be that of its place, its radius and half its length.
    place: f64,
    radius: f64,
    half_length: f64,
}

/// The holes of a mesh whose rims are drawn, in the order of its points; none of a set of points.
pub(super) fn drawn<F: Frame>(metal: &Metal<'_, F>) -> Vec<Hole> {
    if metal.surface.cloud.faces.is_empty() {
        return Vec::new();
    }
    let rings = rings(metal.surface);
    rings.par_iter().filter_map(|ring| hole(metal, ring)).collect()
}

/// Whether a face covers the middle of a hole.
pub(super) fn is_covered<F: Frame>(hole: &Hole, surface: &Surface<F>) -> bool {
    let plane = Plane::new(hole.at, hole.axis);
    let points = surface.points();
    surface.cloud.faces.par_iter().any(|face| {
        let corners = face.map(|i| points[i as usize] - hole.at);
        let [a, b, c] = corners.map(|corner| plane.flat(&corner));
        // Twice the areas of the three triangles that the middle makes with the sides.
        let parts = [b.perp(&c), c.perp(&a), a.perp(&b)];
        let whole: f64 = parts.iter().sum();
        let height: f64 = parts
            .iter()
            .zip(&corners)
            .map(|(part, corner)| part / whole * corner.dot(&hole.axis))
            .sum();
        parts.iter().all(|part| part * whole >= 0.0) && height.abs() < IN_PLANE_MM
    })
}

fn hole<F: Frame>(metal: &Metal<'_, F>, ring: &Rim) -> Option<Hole> {
    let plane = plane_of(ring)?;
    let corners: Vec<Vector2<f64>> = ring.at.iter().map(|p| plane.flat(&(p - plane.origin))).collect();
    let laid = Laid::round(&corners)
        .filter(Laid::is_drawn)
        .or_else(|| Laid::slot(&corners).filter(Laid::is_drawn))?;
    let outline = &laid.outline;
    let at = plane.place(&outline.centre);
    let n = ring.at.len() as f64;
    let heights = ring.at.iter().map(|p| (p - plane.origin).dot(&plane.axis));
    let height_pm_mm =
        student_t(0.95, n - 3.0) * (heights.map(|h| h * h).sum::<f64>() / (n - 3.0) / n).sqrt();
    let pm_mm = student_t(0.95, laid.freedoms) * laid.scatter_mm;
    // Some programs let the sides touch the edge, and not the corners.
    let sized_mm = |share: f64| (2.0 * share * pm_mm).hypot(2.0 * laid.deep_mm);
    let own = Outline {
        centre: Vector2::zeros(),
        ..*outline
    };
    Some(Hole {
        at,
        axis: plane.axis,
        axis_pm: std::f64::consts::SQRT_2 * height_pm_mm / outline.radius,
        diameter_mm: 2.0 * outline.radius,
        slot: laid.is_slot.then(|| Slot {
            length_mm: 2.0 * outline.half_length(),
            along: one_way(&plane.raised(&outline.along)),
            length_pm_mm: sized_mm(laid.half_length),
        }),
        lip: lip(metal, &Plane { origin: at, ..plane }, &own),
        place_pm_mm: laid.place * pm_mm,
        normal_pm_mm: height_pm_mm,
        size_pm_mm: sized_mm(laid.radius),
    })
}

/// The plane of a ring that has the sheet around it, by the area that it encloses; `None` of one that goes round the sheet, of the end
/// of a tube, and of one that is too wide.
fn plane_of(ring: &Rim) -> Option<Plane> {
    if ring.at.len() < FEWEST {
        return None;
    }
    let n = ring.at.len() as f64;
    let middle = Point::from(ring.at.iter().map(|p| p.coords).sum::<Vector>() / n);
    let reach_mm = ring.at.iter().map(|p| (p - middle).norm()).fold(0.0, f64::max);
    let inward: f64 = ring
        .at
        .iter()
        .zip(&ring.void)
        .filter_map(|(p, void)| Some((middle - p).try_normalize(1e-12)?.dot(void)))
        .sum();
    let next = ring.at.iter().cycle().skip(1);
    let area: Vector = ring
        .at
        .iter()
        .zip(next)
        .map(|(p, q)| (p - middle).cross(&(q - middle)))
        .sum();
    let axis = area.try_normalize(1e-12)?;
    let up = ring.normal.iter().sum::<Vector>().dot(&axis);
    let is_hole = reach_mm <= LARGEST_MM && inward > OUTSIDE * n;
    is_hole.then(|| Plane::new(middle, if up < 0.0 { -axis } else { axis }))
}

impl Laid {
    fn round(corners: &[Vector2<f64>]) -> Option<Self> {
        let circle = circle::geometric(corners)?;
        let outline = Outline::round(circle.centre, circle.radius);
        let once = 1.0 / (corners.len() as f64).sqrt();
        Some(Self {
            place: std::f64::consts::SQRT_2 * once,
            radius: once,
            ..Self::of(outline, corners, 3)
        })
    }

    fn slot(corners: &[Vector2<f64>]) -> Option<Self> {
        let slot = slot::Slot::through_ring(corners)?;
        let covariance = slot.covariance(corners)?;
        let outline = Outline {
            centre: slot.centre,
            along: slot.along,
            half: [slot.half, 0.0],
            radius: slot.radius,
        };
        let length = covariance[(2, 2)] + covariance[(3, 3)] + 2.0 * covariance[(2, 3)];
        Some(Self {
            is_slot: true,
            place: covariance[(0, 0)].max(covariance[(1, 1)]).sqrt(),
            radius: covariance[(3, 3)].sqrt(),
            half_length: length.max(0.0).sqrt(),
            ..Self::of(outline, corners, 5)
        })
    }

    /// How the corners lie off an outline of so many unknowns.
    fn of(outline: Outline, corners: &[Vector2<f64>], unknowns: usize) -> Self {
        let freedoms = corners.len().saturating_sub(unknowns).max(1) as f64;
        let squares: f64 = corners.iter().map(|c| outline.off(c).powi(2)).sum();
        let sides = corners.iter().zip(corners.iter().cycle().skip(1));
        let deep: Vec<f64> = sides.map(|(a, b)| -outline.off(&((a + b) / 2.0))).collect();
        Self {
            outline,
            is_slot: false,
            scatter_mm: (squares / freedoms).sqrt(),
            freedoms,
            deepest_mm: deep.iter().copied().fold(0.0, f64::max),
            deep_mm: mean(&deep).max(0.0),
            place: 0.0,
            radius: 0.0,
            half_length: 0.0,
        }
    }

    fn is_drawn(&self) -> bool {
        let corners = self.freedoms + if self.is_slot { 5.0 } else { 3.0 };
        let side_mm = self.outline.perimeter() / corners;
        let radius = self.outline.radius;
        let even = self.scatter_mm <= (DRAWN * side_mm).min(OFF * radius);
        even && self.deepest_mm <= DEEPEST * radius && self.outline.half_length() <= LARGEST_MM
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{PI, TAU};

    use cloud::{Body, Cloud, Motion, Scan};

    use super::*;
    use crate::holes::plates::plate;
    use crate::holes::{find, matched};
    use crate::made::uniform;

    /// A sheet in the plane of x and y as a ring of faces around each outline, three corners wide to the outside.
    fn sheet<F: Frame>(outlines: &[Vec<Vector2<f64>>]) -> Surface<F> {
        let (mut points, mut faces) = (Vec::new(), Vec::new());
        for outline in outlines {
            let first = points.len() as u32;
            let n = outline.len() as u32;
            let middle = outline.iter().sum::<Vector2<f64>>() / f64::from(n);
            for times in [1.0, 1.3, 1.6, 2.0] {
                let wider = outline.iter().map(|corner| middle + (corner - middle) * times);
                points.extend(wider.map(|at| Point::new(at.x, at.y, 0.0)));
            }
            for (row, k) in (0..3).flat_map(|row| (0..n).map(move |k| (row, k))) {
                let at = |row: u32, k: u32| first + row * n + k % n;
                let [a, b, c, d] = [at(row, k), at(row + 1, k), at(row + 1, k + 1), at(row, k + 1)];
                faces.extend([[a, b, c], [a, c, d]]);
            }
        }
        let mut cloud = Cloud::from_points(points);
        cloud.faces = faces;
        Surface::new(cloud, None).unwrap().0
    }

    fn circle_of(middle: (f64, f64), radius: f64, corners: u64, off_mm: f64) -> Vec<Vector2<f64>> {
        (0..corners)
            .map(|k| {
                let angle = TAU * k as f64 / corners as f64;
                let far = radius + off_mm * (2.0 * uniform(k) - 1.0);
                Vector2::new(middle.0 + far * angle.cos(), middle.1 + far * angle.sin())
            })
            .collect()
    }

    /// Over all 20 × 9, with corners on its ends alone.
    fn slot_about(x: f64, y: f64) -> Vec<Vector2<f64>> {
        let end = |at: f64, from: f64| {
            (0..24).map(move |k| {
                let angle = from + PI * f64::from(k) / 23.0;
                Vector2::new(x + at + 4.5 * angle.cos(), y + 4.5 * angle.sin())
            })
        };
        end(5.5, -PI / 2.0).chain(end(-5.5, PI / 2.0)).collect()
    }

    #[test]
    fn holes_that_are_drawn_have_the_size_that_they_were_drawn_with() {
        let surface: Surface<Body> = sheet(&[
            circle_of((20.0, 20.0), 4.5, 48, 0.0),
            circle_of((60.0, 20.0), 6.0, 16, 0.0),
            slot_about(120.0, 20.0),
        ]);
        let holes = find(&surface);
        assert_eq!(holes.len(), 3, "{holes:?}");
        for (hole, (x, across)) in holes.iter().zip([(20.0, 9.0), (60.0, 12.0), (120.0, 9.0)]) {
            assert!((hole.diameter_mm - across).abs() < 1e-4, "{hole:?}");
            assert!((hole.at - Point::new(x, 20.0, 0.0)).norm() < 1e-4, "{hole:?}");
            assert!(
                hole.axis.z.abs() > 0.999_999 && hole.place_pm_mm < 1e-3,
                "{hole:?}"
            );
        }
        // The middle of a side of 48 lies 4.5 (1 − cos 3.75°) inside, of 16 6 (1 − cos 11.25°).
        assert!(
            (holes[0].size_pm_mm - 0.0193).abs() < 1e-3,
            "{}",
            holes[0].size_pm_mm
        );
        assert!(
            (holes[1].size_pm_mm - 0.2306).abs() < 1e-3,
            "{}",
            holes[1].size_pm_mm
        );
        let slot = holes[2].slot.unwrap();
        assert!(holes[0].slot.is_none() && (slot.length_mm - 20.0).abs() < 1e-4);
        assert!((slot.along - Vector::x()).norm() < 1e-4, "{slot:?}");
    }

    #[test]
    fn the_scatter_of_the_corners_is_the_band() {
        let surface: Surface<Body> = sheet(&[circle_of((20.0, 20.0), 20.0, 48, 0.2)]);
        let hole = drawn(&Metal::of(&surface))[0];
        // 2.01 × 0.2/√3 over the root of the corners, twice for the diameter, and the depth of the sides.
        assert!((0.05..0.15).contains(&hole.size_pm_mm), "{hole:?}");
        assert!((hole.diameter_mm - 40.0).abs() < hole.size_pm_mm, "{hole:?}");
    }

    #[test]
    fn what_is_square_or_ragged_or_the_outer_edge_is_no_ring_of_a_hole() {
        let square: Vec<Vector2<f64>> = (0..40)
            .map(|k| {
                let (side, along) = (k / 10, f64::from(k % 10) - 5.0);
                let (sin, cos) = (f64::from(side) * PI / 2.0).sin_cos();
                Vector2::new(50.0 + along * cos + 5.0 * sin, 50.0 + along * sin - 5.0 * cos)
            })
            .collect();
        for outline in [
            square,
            circle_of((20.0, 20.0), 10.0, 48, 0.5),
            circle_of((20.0, 20.0), 10.0, 8, 0.0),
        ] {
            let surface: Surface<Body> = sheet(&[outline]);
            let holes = drawn(&Metal::of(&surface));
            assert!(holes.is_empty(), "{holes:?}");
        }
    }

    /// The reference is drawn with large faces, and the part was drilled where it has none.
    #[test]
    fn a_hole_where_a_mesh_has_a_face_is_extra() {
        let corners = [(0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0)];
        let mut cloud = Cloud::from_points(corners.map(|(x, y)| Point::new(x, y, 0.0)).to_vec());
        cloud.faces = vec![[0, 1, 2], [0, 2, 3]];
        let reference: Surface<Body> = Surface::new(cloud, None).unwrap().0;
        let drilled: Surface<Scan> = plate(1, |x, y| (x - 52.0).hypot(y - 35.0) > 6.0, |_, _| 0.0);
        let pairs = matched(&reference, &drilled, &Motion::identity());
        assert_eq!(pairs.len(), 1, "{pairs:?}");
        assert!(pairs[0].words().starts_with("extra "), "{}", pairs[0].words());
    }
}
