//! A reflection in a plane: not a motion (det −1), so it has a type of its own.

use crate::{Cloud, Frame, Matrix3, Point, Vector};

/// The reflection in the plane `normal · x = offset_mm`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mirror {
    /// Unit normal of the plane.
    pub normal: Vector,
    /// Distance of the plane from the origin along the normal.
    pub offset_mm: f64,
}

impl Mirror {
    /// The plane Y = 0, in which left becomes right: Y is across the car.
    pub fn of_sides() -> Self {
        Self {
            normal: Vector::y(),
            offset_mm: 0.0,
        }
    }

    /// What the reflection does to directions, as a matrix: 1 − 2nnᵀ (Householder).
    pub fn matrix(&self) -> Matrix3 {
        Matrix3::identity() - self.normal * self.normal.transpose() * 2.0
    }

    /// The mirror image of a point.
    pub fn point(&self, point: &Point) -> Point {
        point - self.normal * (2.0 * (self.normal.dot(&point.coords) - self.offset_mm))
    }

    /// The mirror image of a direction.
    pub fn direction(&self, direction: &Vector) -> Vector {
        direction - self.normal * (2.0 * self.normal.dot(direction))
    }

    /// The mirror image of a whole set: points and normals reflected, faces wound the other way.
    pub fn cloud<F: Frame>(&self, cloud: &Cloud<F>) -> Cloud<F> {
        let mut image = cloud.clone();
        for point in &mut image.points_mm {
            *point = self.point(point);
        }
        if let Some(normals) = &mut image.normals {
            for normal in normals {
                *normal = self.direction(normal);
            }
        }
        for face in &mut image.faces {
            face.swap(1, 2);
        }
        image
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twice_reflected_is_the_same() {
        let mirror = Mirror {
            normal: Vector::new(0.6, 0.8, 0.0),
            offset_mm: 12.0,
        };
        let point = Point::new(3.0, -4.0, 5.0);
        assert!((mirror.point(&mirror.point(&point)) - point).norm() < 1e-12);
        let foot = Point::from(mirror.normal * mirror.offset_mm);
        assert!((mirror.point(&foot) - foot).norm() < 1e-12);
        let way = Vector::new(1.0, -2.0, 0.5);
        assert!((mirror.matrix() * way - mirror.direction(&way)).norm() < 1e-12);
    }

    #[test]
    fn left_becomes_right_and_nothing_else_changes() {
        let sides = Mirror::of_sides();
        assert_eq!(
            sides.point(&Point::new(3.0, -4.0, 5.0)),
            Point::new(3.0, 4.0, 5.0)
        );
        assert_eq!(
            sides.matrix(),
            Matrix3::from_diagonal(&Vector::new(1.0, -1.0, 1.0))
        );
    }
}
