//! Ellipses through points of the plane: direct, and with the least sum of squared distances.

use std::f64::consts::{FRAC_PI_2, PI};

use nalgebra::{DMatrix, Matrix2, Matrix3, SVector, Vector2, Vector3};

use super::circle::{self, off_a_line};
use super::pencil::least_positive;
use super::settle::{Element, Framed, lowest, settle};

/// An ellipse of the plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse {
    /// Centre.
    pub centre: Vector2<f64>,
    /// Half the axes, the major first.
    pub semi: [f64; 2],
    /// Of the major axis from the first coordinate's, rad, 0 to below π.
    pub angle: f64,
}

impl Ellipse {
    /// The ellipse in the points' own place and unit.
    fn out_of(self, frame: &Framed<2>) -> Self {
        let angle = self.angle.rem_euclid(PI);
        Self {
            centre: frame.middle + self.centre * frame.reach,
            semi: self.semi.map(|s| s * frame.reach),
            // The remainder of a hair below nothing is π itself.
            angle: if angle < PI { angle } else { 0.0 },
        }
    }

    /// The ellipse u · (x², xy, y²) + rest · (x, y, 1) = 0, if it is a real one.
    fn of_conic(u: &Vector3<f64>, rest: &Vector3<f64>) -> Option<Self> {
        // The matrix of an ellipse is positive in one of the two senses.
        let sense = (u[0] + u[2]).signum();
        let matrix = Matrix2::new(u[0], u[1] / 2.0, u[1] / 2.0, u[2]) * sense;
        let slope = rest.xy() * sense;
        let centre = -(matrix.try_inverse()? * slope) / 2.0;
        let level = -(rest[2] * sense + slope.dot(&centre) / 2.0);
        let eigen = matrix.symmetric_eigen();
        let flat = eigen.eigenvalues.imin();
        let along = eigen.eigenvectors.column(flat);
        let semi = [flat, 1 - flat].map(|k| (level / eigen.eigenvalues[k]).sqrt());
        let real = semi.iter().all(|s| s.is_finite() && *s > 0.0);
        real.then(|| Self {
            centre,
            semi,
            angle: along[1].atan2(along[0]),
        })
    }
}

/// The ellipse whose algebraic distance is least where 4ac − b² = 1 (Fitzgibbon, Pilu & Fisher 1999, IEEE PAMI 21(5)
/// 476-480; in the stable form of Halíř & Flusser 1998, WSCG, 125-132). Always an ellipse, and a small, round one on
/// scattered arcs: a start for [`geometric`]. `None` below five points and for points on a line.
pub fn direct(points: &[Vector2<f64>]) -> Option<Ellipse> {
    let frame = off_a_line(points)?;
    Some(direct_framed(&frame.points)?.out_of(&frame))
}

fn direct_framed(points: &[Vector2<f64>]) -> Option<Ellipse> {
    if points.len() < 5 {
        return None;
    }
    let (mut squares, mut mixed, mut plain) = (Matrix3::zeros(), Matrix3::zeros(), Matrix3::zeros());
    for p in points {
        let (a, b) = (
            Vector3::new(p.x * p.x, p.x * p.y, p.y * p.y),
            Vector3::new(p.x, p.y, 1.0),
        );
        squares += a * a.transpose();
        mixed += a * b.transpose();
        plain += b * b.transpose();
    }
    // The plain half of the unknowns follows from the square half.
    let rest_of_square = -plain.cholesky()?.solve(&mixed.transpose());
    let reduced = squares + mixed * rest_of_square;
    let even = (reduced + reduced.transpose()) / 2.0;
    let form = DMatrix::from_fn(3, 3, |i, j| even[(i, j)]);
    #[rustfmt::skip]
    let constraint = DMatrix::from_row_slice(3, 3, &[
        0.0, 0.0, 2.0,
        0.0, -1.0, 0.0,
        2.0, 0.0, 0.0,
    ]);
    let u = least_positive(form, &constraint)?;
    let u = Vector3::new(u[0], u[1], u[2]);
    Ellipse::of_conic(&u, &(rest_of_square * u))
}

/// The ellipse with the least sum of squared distances (Gander, Golub & Strebel 1994, BIT 34, 558-578), the angle of each
/// point's foot being taken out of the unknowns.
///
/// From the direct ellipse and from a round one; the lower end counts. `None` below five points, and where the sum falls
/// toward a parabola or a line without end, as it does on many short or widely scattered arcs.
pub fn geometric(points: &[Vector2<f64>]) -> Option<Ellipse> {
    if points.len() < 5 {
        return None;
    }
    let frame = off_a_line(points)?;
    let starts = [direct_framed(&frame.points), rounded(&frame.points)];
    let ends = starts
        .into_iter()
        .flatten()
        .map(|start| settle::<2, 5, Ellipse>(&frame.points, start))
        .collect();
    Some(lowest(ends)?.element.out_of(&frame))
}

/// The circle of framed points, drawn out by a tenth the way they lie: a circle itself tells no bearing.
fn rounded(points: &[Vector2<f64>]) -> Option<Ellipse> {
    let circle = circle::taubin(points)?;
    let spread: Matrix2<f64> = points.iter().map(|p| p * p.transpose()).sum();
    Some(Ellipse {
        centre: circle.centre,
        semi: [circle.radius, 0.9 * circle.radius],
        angle: (2.0 * spread[(0, 1)]).atan2(spread[(0, 0)] - spread[(1, 1)]) / 2.0,
    })
}

/// Cosine and sine of the eccentric angle of the foot, on the ellipse `semi` along the axes, of a point.
///
/// With s ≥ 0 the foot is where (a x / (s + a² − b²))² + (b y / s)² = 1; from below, that falls and bends one way, so that
/// Newton's steps rise to it.
fn foot(semi: [f64; 2], point: &Vector2<f64>) -> (f64, f64) {
    let [a, b] = semi;
    let (x, y) = (a * point.x.abs(), b * point.y.abs());
    let apart = (a - b) * (a + b);
    let mut s = y.max(x - apart);
    let (cos, sin) = if s > 0.0 {
        for _ in 0..60 {
            let (p, q) = (x / (s + apart), y / s);
            let rise = (p * p + q * q - 1.0) / (2.0 * (p * p / (s + apart) + q * q / s));
            s += rise;
            if rise <= 1e-15 * s {
                break;
            }
        }
        let (p, q) = (x / (s + apart), y / s);
        let length = p.hypot(q);
        (p / length, q / length)
    } else {
        // On the major axis, within the centres of curvature of its ends.
        let p = if apart > 0.0 { (x / apart).min(1.0) } else { 1.0 };
        (p, (1.0 - p * p).sqrt())
    };
    (cos.copysign(point.x), sin.copysign(point.y))
}

impl Element<2, 5> for Ellipse {
    fn distance(&self, point: &Vector2<f64>) -> (f64, SVector<f64, 5>) {
        let (sin, cos) = self.angle.sin_cos();
        let d = point - self.centre;
        let own = Vector2::new(cos * d.x + sin * d.y, cos * d.y - sin * d.x);
        let (p, q) = foot(self.semi, &own);
        let [a, b] = self.semi;
        let foot = Vector2::new(a * p, b * q);
        let out = Vector2::new(b * p, a * q).normalize();
        let row = [
            -(out.x * cos - out.y * sin),
            -(out.x * sin + out.y * cos),
            -out.x * p,
            -out.y * q,
            out.x * foot.y - out.y * foot.x,
        ];
        (out.dot(&(own - foot)), SVector::from(row))
    }

    fn stepped(&self, step: &SVector<f64, 5>) -> Option<Self> {
        let (a, b) = (self.semi[0] + step[2], self.semi[1] + step[3]);
        let angle = self.angle + step[4];
        let centre = self.centre + Vector2::new(step[0], step[1]);
        let (semi, angle) = if a < b {
            ([b, a], angle + FRAC_PI_2)
        } else {
            ([a, b], angle)
        };
        (semi[1] > 0.0).then_some(Self { centre, semi, angle })
    }

    fn size(&self) -> f64 {
        self.semi[0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    fn at(ellipse: &Ellipse, turn: f64) -> Vector2<f64> {
        let (sin, cos) = ellipse.angle.sin_cos();
        let (x, y) = (ellipse.semi[0] * turn.cos(), ellipse.semi[1] * turn.sin());
        ellipse.centre + Vector2::new(cos * x - sin * y, sin * x + cos * y)
    }

    fn same(found: &Ellipse, expected: &Ellipse, within: f64) {
        let lean = (found.angle - expected.angle).sin();
        assert!(
            (found.centre - expected.centre).norm() < within
                && (found.semi[0] - expected.semi[0]).abs() < within
                && (found.semi[1] - expected.semi[1]).abs() < within
                && lean.abs() < within,
            "{found:?} for {expected:?}"
        );
    }

    // Gander, Golub & Strebel 1994, BIT 34, 558-578, prints four decimals (2.6996, 3.8160, 6.5187, 3.0319, 0.3596); the
    // digits here are the stationary point in 40-digit arithmetic. Halíř & Flusser's ellipse of the same points: two codes.
    #[test]
    fn the_published_eight_points() {
        let points = [
            (1.0, 7.0),
            (2.0, 6.0),
            (5.0, 8.0),
            (7.0, 7.0),
            (9.0, 5.0),
            (3.0, 7.0),
            (6.0, 2.0),
            (8.0, 4.0),
        ]
        .map(|(x, y)| Vector2::new(x, y));
        let least = Ellipse {
            centre: Vector2::new(2.699_612_187_941_2, 3.815_956_645_939_1),
            semi: [6.518_722_302_526_6, 3.031_886_001_736_3],
            angle: 0.359_624_271_041_5,
        };
        same(&geometric(&points).unwrap(), &least, 1e-9);
        let quick = Ellipse {
            centre: Vector2::new(5.063_877_719_459_9, 5.069_752_704_188_7),
            semi: [3.775_663_714_711_9, 2.642_333_998_946_2],
            angle: 2.755_472_615_703_9,
        };
        same(&direct(&points).unwrap(), &quick, 1e-9);
    }

    #[test]
    fn points_of_an_ellipse_give_it_and_scatter_moves_it_little() {
        let truth = Ellipse {
            centre: Vector2::new(1500.0, 300.0),
            semi: [20.0, 8.0],
            angle: 2.9,
        };
        let rim: Vec<Vector2<f64>> = (0..60).map(|i| at(&truth, 0.1 * f64::from(i))).collect();
        same(&direct(&rim).unwrap(), &truth, 1e-7);
        same(&geometric(&rim).unwrap(), &truth, 1e-7);
        let rough: Vec<Vector2<f64>> = rim
            .iter()
            .zip(0..)
            .map(|(p, i)| p + Vector2::new(uniform(2 * i) - 0.5, uniform(2 * i + 1) - 0.5) * 0.2)
            .collect();
        same(&geometric(&rough).unwrap(), &truth, 0.1);
        let round = Ellipse {
            semi: [20.0, 20.0],
            ..truth
        };
        let rim: Vec<Vector2<f64>> = (0..60).map(|i| at(&round, 0.1 * f64::from(i))).collect();
        let found = geometric(&rim).unwrap();
        assert!((found.centre - round.centre).norm() < 1e-7);
        assert!(found.semi.iter().all(|s| (s - 20.0).abs() < 1e-7));
    }

    #[test]
    fn no_place_of_the_ellipse_is_nearer_than_the_foot() {
        let ellipse = Ellipse {
            centre: Vector2::zeros(),
            semi: [5.0, 2.0],
            angle: 0.0,
        };
        let mut points: Vec<Vector2<f64>> = (0..200)
            .map(|i| Vector2::new(14.0 * uniform(2 * i) - 7.0, 8.0 * uniform(2 * i + 1) - 4.0))
            .collect();
        for special in [
            (0.0, 0.0),
            (1.0, 0.0),
            (4.3, 0.0),
            (7.0, 0.0),
            (0.0, 1e-9),
            (0.0, 3.0),
        ] {
            points.push(Vector2::new(special.0, special.1));
        }
        for p in &points {
            let off = ellipse.distance(p).0.abs();
            let nearest = (0..5_000)
                .map(|k| (at(&ellipse, std::f64::consts::TAU * f64::from(k) / 5_000.0) - p).norm())
                .fold(f64::INFINITY, f64::min);
            assert!(
                off <= nearest + 1e-9 && off > nearest - 5e-3,
                "{p:?}: {off}, {nearest}"
            );
        }
    }

    #[test]
    fn a_line_and_four_points_are_no_ellipse() {
        let line: Vec<Vector2<f64>> = (0..9).map(|i| Vector2::new(0.1, 0.7) * f64::from(i)).collect();
        assert!(direct(&line).is_none() && geometric(&line).is_none());
        let four = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)].map(|(x, y)| Vector2::new(x, y));
        assert!(direct(&four).is_none() && geometric(&four).is_none());
    }
}
