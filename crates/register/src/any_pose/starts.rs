//! Starts that need no features: the sets as they came, and their principal axes laid on each other in every way.

use cloud::{Body, Matrix3, Motion, Point, Scan, Vector};

/// The sets as they came, their middles laid on each other, and their principal axes in all 24 ways.
pub fn plain_starts(reference: &[Point], measured: &[Point]) -> Vec<Motion<Scan, Body>> {
    let (to, to_axes) = middle_and_axes(reference);
    let (from, from_axes) = middle_and_axes(measured);
    let about_middles = |turn: Matrix3| Motion::new(turn, to.coords - turn * from.coords);
    let on = Matrix3::from_columns(&[to_axes[0], to_axes[1], to_axes[0].cross(&to_axes[1])]);
    let mut starts = vec![Motion::identity(), about_middles(Matrix3::identity())];
    for order in [[0, 1, 2], [1, 2, 0], [2, 0, 1], [0, 2, 1], [2, 1, 0], [1, 0, 2]] {
        for signs in 0..4 {
            let sign = |bit: i32| if signs >> bit & 1 == 0 { 1.0 } else { -1.0 };
            let (u, v) = (from_axes[order[0]] * sign(0), from_axes[order[1]] * sign(1));
            let laid = Matrix3::from_columns(&[u, v, u.cross(&v)]);
            starts.push(about_middles(on * laid.transpose()));
        }
    }
    starts
}

fn middle_and_axes(points: &[Point]) -> (Point, [Vector; 3]) {
    let n = points.len().max(1) as f64;
    let middle = Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / n);
    let spread: Matrix3 = points
        .iter()
        .map(|p| (p - middle) * (p - middle).transpose())
        .sum::<Matrix3>()
        / n;
    let eigen = spread.symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    (middle, order.map(|k| eigen.eigenvectors.column(k).into_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_start_is_a_rotation_and_one_lays_a_turned_set_home() {
        let points: Vec<Point> = (0..300)
            .map(|i| {
                let t = f64::from(i);
                Point::new(
                    (t * 0.37).sin() * 900.0,
                    (t * 0.73).cos() * 400.0,
                    (t * 1.9).sin() * 100.0,
                )
            })
            .collect();
        let pose: Motion<Body, Scan> = Motion::turn_about(
            Vector::new(2.0, -1.0, 0.7),
            Point::origin(),
            Vector::new(50.0, 7.0, -900.0),
        );
        let moved: Vec<Point> = points.iter().map(|p| pose.apply(p)).collect();
        let starts = plain_starts(&points, &moved);
        assert!(
            starts
                .iter()
                .all(|s| (s.rotation().determinant() - 1.0).abs() < 1e-12)
        );
        let off = |s: &Motion<Scan, Body>| {
            moved
                .iter()
                .zip(&points)
                .map(|(m, p)| (s.apply(m) - p).norm())
                .fold(0.0, f64::max)
        };
        assert!(starts.iter().map(off).fold(f64::INFINITY, f64::min) < 1e-6);
    }
}
