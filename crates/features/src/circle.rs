//! Circles through points of the plane, algebraic and geometric.

use nalgebra::{Matrix3, Vector2, Vector3};

/// A circle of the plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Centre.
    pub centre: Vector2<f64>,
    /// Radius.
    pub radius: f64,
}

/// The circle whose algebraic distance is least (Kåsa 1976, IEEE Trans. Instrum. Meas. 25, 8-14): a start for the
/// geometric one. `None` where the points lie on a line.
pub fn algebraic(points: &[Vector2<f64>]) -> Option<Circle> {
    let n = points.len() as f64;
    let middle = points.iter().sum::<Vector2<f64>>() / n;
    let (mut matrix, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for p in points {
        let d = p - middle;
        let row = Vector3::new(d.x, d.y, 1.0);
        matrix += row * row.transpose();
        right += row * d.norm_squared();
    }
    // Points on a line leave a turn of the plane without extent; rounding must not make a circle of it.
    let across = cloud::eigen::eigenvalues(&matrix)[0];
    if across <= 1e-12 * matrix.trace() {
        return None;
    }
    let solution = matrix.cholesky()?.solve(&right);
    let centre = Vector2::new(solution.x, solution.y) / 2.0;
    let square = solution.z + centre.norm_squared();
    (square > 0.0 && square.is_finite()).then(|| Circle {
        centre: centre + middle,
        radius: square.sqrt(),
    })
}

/// The circle with the least sum of squared distances (Gander, Golub & Strebel 1994, BIT 34, 558-578), by Gauss-Newton
/// from the algebraic one. `None` where there is none or it does not settle.
pub fn geometric(points: &[Vector2<f64>]) -> Option<Circle> {
    let mut circle = algebraic(points)?;
    for _ in 0..200 {
        let (mut matrix, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for p in points {
            let d = p - circle.centre;
            let r = d.norm().max(1e-300);
            let row = Vector3::new(-d.x / r, -d.y / r, -1.0);
            matrix += row * row.transpose();
            right -= row * (r - circle.radius);
        }
        let step = matrix.cholesky()?.solve(&right);
        circle.centre += Vector2::new(step.x, step.y);
        circle.radius += step.z;
        if step.norm() < 1e-13 * circle.radius.abs().max(1.0) {
            return (circle.radius > 0.0).then_some(circle);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    // Gander, Golub & Strebel 1994, BIT 34, 558-578: six points; the paper prints four decimals (4.7398, 2.9835, 4.7142).
    // The ten digits here are the stationary point in 40-digit arithmetic.
    #[test]
    fn the_published_six_points() {
        let points = [
            (1.0, 7.0),
            (2.0, 6.0),
            (5.0, 8.0),
            (7.0, 7.0),
            (9.0, 5.0),
            (3.0, 7.0),
        ]
        .map(|(x, y)| Vector2::new(x, y));
        let best = geometric(&points).unwrap();
        for (found, expected) in [
            (best.centre.x, 4.739_782_410_9),
            (best.centre.y, 2.983_532_699_3),
            (best.radius, 4.714_226_037_8),
        ] {
            assert!((found - expected).abs() < 1e-9, "{found} for {expected}");
        }
        let kasa = algebraic(&points).unwrap();
        assert!((kasa.centre.x - 4.742_331_288_3).abs() < 1e-8);
        assert!((kasa.radius - 4.108_761_522_3).abs() < 1e-8);
        assert!(
            algebraic(&[
                Vector2::new(0.0, 0.0),
                Vector2::new(1.0, 1.0),
                Vector2::new(2.0, 2.0)
            ])
            .is_none()
        );
    }
}
