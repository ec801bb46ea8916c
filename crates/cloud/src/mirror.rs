//! A reflection in a plane: not a motion (det −1), so it has a type of its own.

use crate::{Cloud, Frame, Point, Vector};

/// The reflection in the plane `normal · x = offset_mm`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mirror {
    /// Unit normal of the plane.
    pub normal: Vector,
    /// Distance of the plane from the origin along the normal.
    pub offset_mm: f64,
}

impl Mirror {
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
    }
}
