//! Slots through points of the plane: two half circles and the straight runs between them.

use std::f64::consts::{PI, TAU};

use nalgebra::{SMatrix, SVector, Vector2};

use super::circle::off_a_line;
use super::settle::{Element, settle};

/// A slot of the plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slot {
    /// Its middle.
    pub centre: Vector2<f64>,
    /// Unit direction of its length.
    pub along: Vector2<f64>,
    /// Half the distance of the middles of its two half circles.
    pub half: f64,
    /// Their radius: half its width.
    pub radius: f64,
}

impl Slot {
    /// The slot with the least sum of squared distances from the corners of a ring, which are given in their order. `None` where
    /// there is none.
    ///
    /// It is begun from what the ring encloses and how long it is, which for a slot are A = πr² + 4rh and P = 2πr + 4h, so that
    /// r = (P − √(P² − 4πA)) / 2π, and from the direction in which its sides lie farthest from their middle.
    pub fn through_ring(corners: &[Vector2<f64>]) -> Option<Self> {
        let frame = off_a_line(corners)?;
        let end = settle::<2, 5, Self>(&frame.points, Self::begun(&frame.points)?);
        let found = end.element;
        end.rests.then(|| Self {
            centre: frame.middle + found.centre * frame.reach,
            half: found.half * frame.reach,
            radius: found.radius * frame.reach,
            ..found
        })
    }

    fn begun(ring: &[Vector2<f64>]) -> Option<Self> {
        let sides = || ring.iter().zip(ring.iter().cycle().skip(1));
        let perimeter: f64 = sides().map(|(a, b)| (b - a).norm()).sum();
        let area = sides().map(|(a, b)| a.perp(b)).sum::<f64>().abs() / 2.0;
        let centre = sides()
            .map(|(a, b)| (a + b) / 2.0 * (b - a).norm())
            .sum::<Vector2<f64>>()
            / perimeter;
        let spread: SMatrix<f64, 2, 2> = sides()
            .map(|(a, b)| {
                let off = (a + b) / 2.0 - centre;
                off * off.transpose() * (b - a).norm()
            })
            .sum();
        let bearing = (2.0 * spread[(0, 1)]).atan2(spread[(0, 0)] - spread[(1, 1)]) / 2.0;
        let radius = (perimeter - (perimeter * perimeter - 4.0 * PI * area).max(0.0).sqrt()) / TAU;
        (radius > 0.0).then(|| Self {
            centre,
            along: Vector2::new(bearing.cos(), bearing.sin()),
            half: ((perimeter - TAU * radius) / 4.0).max(0.0),
            radius,
        })
    }

    /// By what a point's scatter squared is multiplied to be that of the middle along and across, of `half`, of `radius` and of
    /// the bearing: the inverse of the normal equations. `None` where the points don't hold all of them.
    pub fn covariance(&self, points: &[Vector2<f64>]) -> Option<SMatrix<f64, 5, 5>> {
        let rows = points.iter().map(|point| self.distance(point).1);
        let sum = rows.fold(SMatrix::<f64, 5, 5>::zeros(), |sum, row| {
            sum + row * row.transpose()
        });
        sum.try_inverse()
    }

    fn across(&self) -> Vector2<f64> {
        Vector2::new(-self.along.y, self.along.x)
    }
}

impl Element<2, 5> for Slot {
    fn distance(&self, point: &Vector2<f64>) -> (f64, SVector<f64, 5>) {
        let from_middle = point - self.centre;
        let own = Vector2::new(from_middle.dot(&self.along), from_middle.dot(&self.across()));
        let out = Vector2::new(own.x - own.x.clamp(-self.half, self.half), own.y);
        let far = out.norm().max(1e-300);
        let way = out / far;
        let turned = way.x * own.y - way.y * own.x;
        let row = SVector::from([-way.x, -way.y, -way.x.abs(), -1.0, turned]);
        (far - self.radius, row)
    }

    fn stepped(&self, step: &SVector<f64, 5>) -> Option<Self> {
        let (half, radius) = (self.half + step[2], self.radius + step[3]);
        (half >= 0.0 && radius > 0.0).then(|| Self {
            centre: self.centre + self.along * step[0] + self.across() * step[1],
            along: (self.along * step[4].cos() + self.across() * step[4].sin()).normalize(),
            half,
            radius,
        })
    }

    fn size(&self) -> f64 {
        self.half + self.radius
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    /// Corners on the ends of a slot of 20 × 9 that leans, none on its straight runs, each off by as much as `off_mm`.
    fn ring(off_mm: f64) -> Vec<Vector2<f64>> {
        let (sin, cos) = 0.4f64.sin_cos();
        (0..48u64)
            .map(|i| {
                let end = if i < 24 { 5.5 } else { -5.5 };
                let angle = PI * ((i % 24) as f64 / 23.0 - 0.5) + if i < 24 { 0.0 } else { PI };
                let far = 4.5 + off_mm * (2.0 * uniform(i) - 1.0);
                let (x, y) = (end + far * angle.cos(), far * angle.sin());
                Vector2::new(120.0 + x * cos - y * sin, 60.0 + x * sin + y * cos)
            })
            .collect()
    }

    #[test]
    fn corners_that_lie_on_a_slot_give_that_slot() {
        let found = Slot::through_ring(&ring(0.0)).unwrap();
        assert!(
            (found.half - 5.5).abs() < 1e-8 && (found.radius - 4.5).abs() < 1e-8,
            "{found:?}"
        );
        assert!(
            (found.centre - Vector2::new(120.0, 60.0)).norm() < 1e-8,
            "{found:?}"
        );
        assert!((found.along.y.abs() - 0.4f64.sin()).abs() < 1e-8, "{found:?}");
        assert_eq!(
            Slot::through_ring(&[Vector2::zeros(), Vector2::x(), Vector2::x() * 3.0]),
            None
        );
    }

    // The scatter of a number spread evenly over ± a is a/√3.
    #[test]
    fn scattered_corners_give_it_within_their_scatter() {
        let ring = ring(0.1);
        let found = Slot::through_ring(&ring).unwrap();
        let covariance = found.covariance(&ring).unwrap();
        let sd = |k: usize| 0.1 / 3f64.sqrt() * covariance[(k, k)].sqrt();
        assert!(
            (found.half - 5.5).abs() < 3.0 * sd(2) && sd(2) < 0.03,
            "{found:?}"
        );
        assert!(
            (found.radius - 4.5).abs() < 3.0 * sd(3) && sd(3) < 0.02,
            "{found:?}"
        );
    }
}
