//! Straightness and roundness of places in space, each in the plane that is asked for.

use cloud::survey::tangents;
use cloud::{Point, Vector};
use nalgebra::Vector2;

use super::{Roundness, Straightness, roundness, straightness};

/// How straight places are, mm, seen along and by the direction `high`: from the first of `ends` to the second, and by as
/// much of `high` as is square to that. `None` where the ends are one place or `high` leads from one to the other, and as
/// [`straightness`].
pub fn straight(places: &[Point], ends: &[Point; 2], high: &Vector) -> Option<Straightness> {
    let along = (ends[1] - ends[0]).try_normalize(1e-9)?;
    let up = (high - along * high.dot(&along)).try_normalize(1e-9)?;
    let profile: Vec<Vector2<f64>> = places
        .iter()
        .map(|place| {
            let off = place - ends[0];
            Vector2::new(off.dot(&along), off.dot(&up))
        })
        .collect();
    straightness(&profile)
}

/// How round places are, mm, seen along a direction. `None` where it has no length, and as [`roundness`].
pub fn round(places: &[Point], axis: &Vector) -> Option<Roundness> {
    let axis = axis.try_normalize(1e-9)?;
    let first = places.first()?;
    let (u, v) = tangents(&axis);
    let rim: Vec<Vector2<f64>> = places
        .iter()
        .map(|place| {
            let off = place - first;
            Vector2::new(off.dot(&u), off.dot(&v))
        })
        .collect();
    roundness(&rim)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bow_is_read_square_to_its_ends_and_to_no_other_side() {
        // A parabola of 2 mm in the direction that is asked for, of 5 mm square to it.
        let (from, to) = (Point::new(10.0, 20.0, 30.0), Point::new(110.0, 20.0, 30.0));
        let places: Vec<Point> = (0..=20)
            .map(|k| {
                let share = f64::from(k) / 20.0;
                let bow = 4.0 * share * (1.0 - share);
                from + Vector::new(100.0 * share, 5.0 * bow, 2.0 * bow)
            })
            .collect();
        // The direction may lean: only what is square to the ends counts.
        let up = Vector::new(0.5, 0.0, 1.0);
        let found = straight(&places, &[from, to], &up).unwrap();
        assert!((found.zone_mm - 2.0).abs() < 1e-9, "{found:?}");
        assert!(straight(&places, &[from, from], &up).is_none());
        assert!(straight(&places, &[from, to], &Vector::x()).is_none());
    }

    #[test]
    fn an_ellipse_is_out_of_round_by_the_difference_of_its_half_axes_seen_square() {
        let axis = Vector::new(1.0, 2.0, 2.0) / 3.0;
        let (u, v) = tangents(&axis);
        let places: Vec<Point> = (0..72)
            .map(|k| {
                let a = std::f64::consts::TAU * f64::from(k) / 72.0;
                // What it waves along the axis does not count.
                Point::new(5.0, 6.0, 7.0)
                    + u * (30.0 * a.cos())
                    + v * (28.5 * a.sin())
                    + axis * (3.0 * a).sin()
            })
            .collect();
        let found = round(&places, &(axis * 2.0)).unwrap();
        assert!((found.zone_mm - 1.5).abs() < 1e-6, "{found:?}");
        assert!(round(&places, &Vector::zeros()).is_none());
    }
}
