//! The cylinder with the least sum of squared distances, its axis found without help.

use cloud::survey::tangents;
use cloud::{Matrix3, Point, Vector};
use nalgebra::{SVector, Vector2};

use super::circle;
use super::settle::{Element, framed, lowest, settle};

/// Directions tried for the axis, besides the three along which the points spread: one within 11° of any.
const DIRECTIONS: u32 = 48;
/// Of these the best are brought to rest.
const KEPT: usize = 4;
/// Points by which the axis is sought; all of them settle it.
const SEEKING: usize = 1000;

/// A cylinder and how well its points lie on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cylinder {
    /// The place of the axis nearest to the middle of the points, mm.
    pub on_axis: Point,
    /// Unit direction of the axis; of the two the one whose largest part is positive.
    pub axis: Vector,
    /// Radius, mm.
    pub radius_mm: f64,
    /// Root mean square of the distances from it (divisor n), mm.
    pub rms_mm: f64,
}

/// The cylinder of least squares through `points`, mm, in the unknowns of Forbes 1989 (NPL report DITC 140/89): the frame
/// is turned along the axis at every step, so that two shifts, two slopes and the radius are left.
///
/// Seen along each of many directions the points lie on a circle, more or less (Taubin's); from the best few the cylinder
/// is brought to rest, and the lowest counts. `None` below six points, and where the points lie on a sheet so flat that
/// the cylinder runs off.
pub fn fit(points: &[Point]) -> Option<Cylinder> {
    if points.len() < 6 {
        return None;
    }
    let places: Vec<Vector> = points.iter().map(|p| p.coords).collect();
    let frame = framed(&places)?;
    let few: Vec<Vector> = frame
        .points
        .iter()
        .step_by(points.len().div_ceil(SEEKING))
        .copied()
        .collect();
    let mut starts: Vec<(f64, Tube)> = candidates(&few)
        .into_iter()
        .filter_map(|axis| start(&few, axis))
        .collect();
    starts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let ends = starts
        .into_iter()
        .take(KEPT)
        .map(|(_, tube)| settle::<3, 5, Tube>(&few, tube))
        .collect();
    let end = settle::<3, 5, Tube>(&frame.points, lowest(ends)?.element);
    let tube = end.element;
    end.rests.then(|| Cylinder {
        on_axis: Point::from(frame.middle + tube.on_axis * frame.reach),
        axis: tube.axis * tube.axis[tube.axis.iamax()].signum(),
        radius_mm: tube.radius * frame.reach,
        rms_mm: frame.reach * (end.squares / points.len() as f64).sqrt(),
    })
}

/// Directions that an axis may have: along the spread of the points, and evenly over half a ball (a spiral of equal areas).
fn candidates(points: &[Vector]) -> Vec<Vector> {
    let spread: Matrix3 = points.iter().map(|p| p * p.transpose()).sum();
    let eigen = spread.symmetric_eigen();
    let golden = std::f64::consts::PI * (3.0 - 5.0f64.sqrt());
    let spiral = (0..DIRECTIONS).map(|k| {
        let place = f64::from(k) + 0.5;
        let z = place / f64::from(DIRECTIONS);
        let side = (1.0 - z * z).sqrt();
        let turn = golden * place;
        Vector::new(side * turn.cos(), side * turn.sin(), z)
    });
    (0..3)
        .map(|k| eigen.eigenvectors.column(k).into_owned())
        .chain(spiral)
        .collect()
}

/// The cylinder on the circle that the points lie on as seen along `axis`, with the sum of its squared distances.
fn start(points: &[Vector], axis: Vector) -> Option<(f64, Tube)> {
    let (u, v) = tangents(&axis);
    let seen: Vec<Vector2<f64>> = points
        .iter()
        .map(|p| Vector2::new(p.dot(&u), p.dot(&v)))
        .collect();
    let circle = circle::taubin(&seen)?;
    let squares = seen
        .iter()
        .map(|p| ((p - circle.centre).norm() - circle.radius).powi(2))
        .sum();
    let on_axis = u * circle.centre.x + v * circle.centre.y;
    Some((squares, Tube::new(on_axis, axis, circle.radius)))
}

/// A cylinder among framed points, with the two directions that stand square to its axis.
#[derive(Clone, Copy)]
struct Tube {
    /// Nearest to the middle of the points.
    on_axis: Vector,
    axis: Vector,
    across: (Vector, Vector),
    radius: f64,
}

impl Tube {
    fn new(on_axis: Vector, axis: Vector, radius: f64) -> Self {
        Self {
            on_axis: on_axis - axis * on_axis.dot(&axis),
            axis,
            across: tangents(&axis),
            radius,
        }
    }
}

impl Element<3, 5> for Tube {
    fn distance(&self, point: &Vector) -> (f64, SVector<f64, 5>) {
        let d = point - self.on_axis;
        let (u, v) = self.across;
        let (x, y, z) = (d.dot(&u), d.dot(&v), d.dot(&self.axis));
        let r = x.hypot(y).max(1e-300);
        let (x, y) = (x / r, y / r);
        (r - self.radius, SVector::from([-x, -y, -x * z, -y * z, -1.0]))
    }

    fn stepped(&self, step: &SVector<f64, 5>) -> Option<Self> {
        let (u, v) = self.across;
        let axis = (self.axis + u * step[2] + v * step[3]).normalize();
        let radius = self.radius + step[4];
        (radius > 0.0).then(|| Self::new(self.on_axis + u * step[0] + v * step[1], axis, radius))
    }

    fn size(&self) -> f64 {
        self.radius
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    const ON: [f64; 3] = [1500.0, 10.0, 420.0];
    const AXIS: [f64; 3] = [0.48, -0.6, 0.64];

    /// Points of a tube of 20 mm radius and `long`, `open` rad of it, off it by up to `scatter` either way.
    fn tube(count: u64, long: f64, open: f64, scatter: f64) -> Vec<Point> {
        let axis = Vector::from(AXIS);
        let (u, v) = tangents(&axis);
        (0..count)
            .map(|i| {
                let a = open * uniform(3 * i);
                let along = long * (uniform(3 * i + 1) - 0.5);
                let off = scatter * (2.0 * uniform(3 * i + 2) - 1.0);
                Point::from(ON) + axis * along + (u * a.cos() + v * a.sin()) * (20.0 + off)
            })
            .collect()
    }

    /// How far the found cylinder's axis and radius are off.
    fn off(found: &Cylinder) -> [f64; 3] {
        let axis = Vector::from(AXIS);
        [
            found.axis.cross(&axis).norm(),
            (found.on_axis - Point::from(ON)).cross(&axis).norm(),
            (found.radius_mm - 20.0).abs(),
        ]
    }

    #[test]
    fn whole_short_and_open_tubes_give_their_axis() {
        use std::f64::consts::TAU;
        for (long, open) in [(400.0, TAU), (20.0, TAU), (6.0, TAU), (60.0, 1.5), (400.0, 3.0)] {
            let found = fit(&tube(400, long, open, 0.0)).unwrap();
            assert!(off(&found).iter().all(|o| *o < 1e-7), "{long} {open}: {found:?}");
            assert!(found.rms_mm < 1e-9);
            assert!(found.axis[found.axis.iamax()] > 0.0);
        }
    }

    #[test]
    fn scatter_is_told_and_the_thinned_search_is_settled_on_all() {
        let points = tube(5000, 100.0, 2.0, 0.1);
        let found = fit(&points).unwrap();
        let [lean, aside, size] = off(&found);
        assert!(lean < 2e-3 && aside < 0.1 && size < 0.1, "{found:?}");
        assert!((found.rms_mm - 0.1 / 3.0f64.sqrt()).abs() < 0.002);
        // Least: neither a larger nor a smaller one, nor one aside, lies better.
        let squares = |on: &Point, axis: &Vector, radius: f64| -> f64 {
            let far = |p: &Point| (p - on).cross(axis).norm() - radius;
            points.iter().map(|p| far(p).powi(2)).sum()
        };
        let least = squares(&found.on_axis, &found.axis, found.radius_mm);
        let (u, v) = tangents(&found.axis);
        for side in [-1e-3, 1e-3] {
            assert!(squares(&found.on_axis, &found.axis, found.radius_mm + side) > least);
            for across in [u, v] {
                let aside = found.on_axis + across * side;
                assert!(squares(&aside, &found.axis, found.radius_mm) > least);
                let leaning = (found.axis + across * side).normalize();
                assert!(squares(&found.on_axis, &leaning, found.radius_mm) > least);
            }
        }
    }

    #[test]
    fn a_flat_sheet_is_no_cylinder() {
        for scatter in [0.0, 0.05] {
            let sheet: Vec<Point> = (0..300)
                .map(|i| {
                    Point::new(
                        100.0 * uniform(3 * i),
                        60.0 * uniform(3 * i + 1),
                        scatter * uniform(3 * i + 2),
                    )
                })
                .collect();
            assert!(fit(&sheet).is_none(), "{scatter}");
        }
        assert!(fit(&tube(5, 10.0, 6.0, 0.0)).is_none() && fit(&[]).is_none());
    }
}
