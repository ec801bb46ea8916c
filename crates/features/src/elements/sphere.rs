//! The sphere with the least sum of squared distances.

use cloud::{Matrix3, Point, Vector};
use nalgebra::{Matrix4, Vector4};

use super::settle::{Element, Framed, framed, settle};

/// A sphere and how well its points lie on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sphere {
    /// Centre, mm.
    pub centre: Point,
    /// Radius, mm.
    pub radius_mm: f64,
    /// Root mean square of the distances from it (divisor n), mm.
    pub rms_mm: f64,
}

/// The sphere of least squares through `points`, mm (Forbes 1989, NPL report DITC 140/89, by Levenberg-Marquardt instead
/// of Gauss-Newton), from the one of Taubin's algebraic fit. `None` below four points, for points on a plane, and where
/// they are so nearly on one that the sphere runs off.
pub fn fit(points: &[Point]) -> Option<Sphere> {
    if points.len() < 4 {
        return None;
    }
    let places: Vec<Vector> = points.iter().map(|p| p.coords).collect();
    let frame = framed(&places)?;
    let spread: Matrix3 = frame.points.iter().map(|p| p * p.transpose()).sum();
    // A ring of points lies on as many spheres as one likes.
    if spread.symmetric_eigenvalues().min() <= 1e-12 * spread.trace() {
        return None;
    }
    let end = settle::<3, 4, Ball>(&frame.points, algebraic(&frame)?);
    end.rests.then(|| Sphere {
        centre: Point::from(frame.middle + end.element.centre * frame.reach),
        radius_mm: end.element.radius * frame.reach,
        rms_mm: frame.reach * (end.squares / points.len() as f64).sqrt(),
    })
}

/// A sphere among framed points.
#[derive(Clone, Copy)]
struct Ball {
    centre: Vector,
    radius: f64,
}

/// The sphere whose algebraic distance, divided by its mean squared gradient, is least (Taubin 1991, IEEE PAMI 13(11)
/// 1115-1138): about the middle and in units of the reach the smallest eigenvector of a spread.
fn algebraic(frame: &Framed<3>) -> Option<Ball> {
    let row = |p: &Vector| Vector4::new((p.norm_squared() - 1.0) / 2.0, p.x, p.y, p.z);
    let spread: Matrix4<f64> = frame.points.iter().map(|p| row(p) * row(p).transpose()).sum();
    let eigen = spread.symmetric_eigen();
    let u = eigen.eigenvectors.column(eigen.eigenvalues.imin());
    let centre = Vector::new(u[1], u[2], u[3]) / -u[0];
    let radius = (centre.norm_squared() + 1.0).sqrt();
    radius.is_finite().then_some(Ball { centre, radius })
}

impl Element<3, 4> for Ball {
    fn distance(&self, point: &Vector) -> (f64, Vector4<f64>) {
        let d = point - self.centre;
        let r = d.norm().max(1e-300);
        (r - self.radius, Vector4::new(-d.x / r, -d.y / r, -d.z / r, -1.0))
    }

    fn stepped(&self, step: &Vector4<f64>) -> Option<Self> {
        let radius = self.radius + step.w;
        (radius > 0.0).then(|| Self {
            centre: self.centre + step.xyz(),
            radius,
        })
    }

    fn size(&self) -> f64 {
        self.radius
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    /// Points of a cap of 19.05 mm radius, `open` rad from its pole to its rim, off it by up to `scatter` either way.
    fn cap(count: u64, open: f64, scatter: f64) -> Vec<Point> {
        (0..count)
            .map(|i| {
                let z = 1.0 - (1.0 - open.cos()) * uniform(3 * i);
                let a = std::f64::consts::TAU * uniform(3 * i + 1);
                let side = (1.0 - z * z).sqrt();
                let off = scatter * (2.0 * uniform(3 * i + 2) - 1.0);
                let out = Vector::new(side * a.cos(), z, side * a.sin());
                Point::new(812.4, -355.1, 94.7) + out * (19.05 + off)
            })
            .collect()
    }

    #[test]
    fn a_cap_gives_its_ball() {
        let found = fit(&cap(300, 0.5, 0.0)).unwrap();
        assert!((found.centre - Point::new(812.4, -355.1, 94.7)).norm() < 1e-8);
        assert!((found.radius_mm - 19.05).abs() < 1e-8 && found.rms_mm < 1e-9);
    }

    #[test]
    fn scatter_is_told_and_moves_the_ball_little() {
        let found = fit(&cap(2000, 1.5, 0.1)).unwrap();
        assert!((found.centre - Point::new(812.4, -355.1, 94.7)).norm() < 0.02);
        assert!((found.radius_mm - 19.05).abs() < 0.01);
        // Uniform within ±0.1.
        assert!(
            (found.rms_mm - 0.1 / 3.0f64.sqrt()).abs() < 0.002,
            "{}",
            found.rms_mm
        );
    }

    #[test]
    fn what_lies_on_a_plane_is_no_sphere() {
        let flat = |scatter: f64| -> Vec<Point> {
            (0..300)
                .map(|i| {
                    Point::new(
                        100.0 * uniform(3 * i),
                        60.0 * uniform(3 * i + 1),
                        scatter * uniform(3 * i + 2),
                    )
                })
                .collect()
        };
        assert!(fit(&flat(0.0)).is_none());
        assert!(fit(&flat(1e-3)).is_none());
        assert!(fit(&cap(3, 1.0, 0.0)).is_none() && fit(&[]).is_none());
    }
}
