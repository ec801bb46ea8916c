//! A rigid motion from one frame to another.

use std::marker::PhantomData;

use nalgebra::{Rotation3, UnitQuaternion};

use crate::{Frame, Matrix3, Point, Vector};

/// A rigid motion that takes points of frame `From` to frame `To`: `p ↦ R p + t`, det R = +1.
///
/// Named `to_from` where it is kept: `reference_from_measured`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion<From, To> {
    rotation: Matrix3,
    translation_mm: Vector,
    frames: PhantomData<(From, To)>,
}

impl<From: Frame, To: Frame> Motion<From, To> {
    /// A motion from its rotation matrix and its translation in millimetres.
    pub fn new(rotation: Matrix3, translation_mm: Vector) -> Self {
        Self {
            rotation,
            translation_mm,
            frames: PhantomData,
        }
    }

    /// The motion that moves nothing: the two frames are declared to be one.
    pub fn identity() -> Self {
        Self::new(Matrix3::identity(), Vector::zeros())
    }

    /// A turn by `rotation_vector` (radians, axis times angle) about the point `about`, then a shift in millimetres.
    pub fn turn_about(rotation_vector: Vector, about: Point, shift_mm: Vector) -> Self {
        let rotation = Rotation3::new(rotation_vector).into_inner();
        Self::new(rotation, about.coords + shift_mm - rotation * about.coords)
    }

    /// The rotation matrix.
    pub fn rotation(&self) -> &Matrix3 {
        &self.rotation
    }

    /// The translation in millimetres.
    pub fn translation_mm(&self) -> &Vector {
        &self.translation_mm
    }

    /// Where `point` goes.
    #[inline]
    pub fn apply(&self, point: &Point) -> Point {
        Point::from(self.rotation * point.coords + self.translation_mm)
    }

    /// How the direction `vector` turns.
    #[inline]
    pub fn turn(&self, vector: &Vector) -> Vector {
        self.rotation * vector
    }

    /// The way back.
    pub fn inverse(&self) -> Motion<To, From> {
        let back = self.rotation.transpose();
        Motion::new(back, -(back * self.translation_mm))
    }

    /// This motion, then `next`.
    pub fn then<Next: Frame>(&self, next: &Motion<To, Next>) -> Motion<From, Next> {
        Motion::new(
            next.rotation * self.rotation,
            next.rotation * self.translation_mm + next.translation_mm,
        )
    }

    /// The angle of the turn in radians, 0 to π.
    pub fn angle(&self) -> f64 {
        self.rotation_vector().norm()
    }

    /// The turn as axis times angle, in radians.
    pub fn rotation_vector(&self) -> Vector {
        // By way of the quaternion, which keeps its digits for tiny turns and for half turns alike.
        UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(self.rotation)).scaled_axis()
    }

    /// The 4 × 4 matrix by rows, millimetres in the last column.
    pub fn rows(&self) -> [[f64; 4]; 4] {
        let (r, t) = (&self.rotation, &self.translation_mm);
        [
            [r[(0, 0)], r[(0, 1)], r[(0, 2)], t.x],
            [r[(1, 0)], r[(1, 1)], r[(1, 2)], t.y],
            [r[(2, 0)], r[(2, 1)], r[(2, 2)], t.z],
            [0.0, 0.0, 0.0, 1.0],
        ]
    }

    /// The farthest that the two motions part anywhere in the box `bounds` (attained at a corner), in millimetres.
    pub fn largest_gap_mm(&self, other: &Self, bounds: &crate::Bounds) -> f64 {
        bounds
            .corners()
            .iter()
            .map(|corner| (self.apply(corner) - other.apply(corner)).norm())
            .fold(0.0, f64::max)
    }

    /// The same motion with its rotation made exactly orthonormal again, after many small steps.
    pub fn tidied(&self) -> Self {
        let svd = self.rotation.svd(true, true);
        match (svd.u, svd.v_t) {
            (Some(u), Some(v_t)) => Self::new(u * v_t, self.translation_mm),
            _ => *self,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Body, Scan};

    #[test]
    fn there_and_back_is_nothing() {
        let there: Motion<Scan, Body> = Motion::turn_about(
            Vector::new(0.3, -0.2, 0.9),
            Point::new(100.0, 20.0, -5.0),
            Vector::new(1.0, 2.0, 3.0),
        );
        let both = there.then(&there.inverse());
        assert!((both.rotation() - Matrix3::identity()).norm() < 1e-14);
        assert!(both.translation_mm().norm() < 1e-12);
    }

    #[test]
    fn a_turn_leaves_its_centre_where_it_was() {
        let centre = Point::new(7.0, 8.0, 9.0);
        let turn: Motion<Scan, Scan> =
            Motion::turn_about(Vector::new(0.0, 0.0, 1.0), centre, Vector::zeros());
        assert!((turn.apply(&centre) - centre).norm() < 1e-14);
        assert!((turn.angle() - 1.0).abs() < 1e-14);
    }

    #[test]
    fn half_a_turn_and_a_tiny_one_keep_their_angles() {
        for angle in [std::f64::consts::PI, 1e-9, 0.0] {
            let turn: Motion<Scan, Scan> =
                Motion::turn_about(Vector::x() * angle, Point::origin(), Vector::zeros());
            assert!((turn.angle() - angle).abs() < 1e-9, "{angle}: {}", turn.angle());
        }
    }
}
