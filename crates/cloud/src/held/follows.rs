//! How a figure follows the motions that nothing holds: what changes with them is not known, however well it was read.

use super::{FreeMotion, Motions, SmallMotion};
use crate::Vector;

/// A figure that changes by more than this share of a motion that nothing holds leans on it.
pub const LEANS: f64 = 0.2;
/// A ± beyond this stands for a direction in which nothing holds the setting, mm (ten inches): no nearer measuring helps there,
/// so that the figure is not measured, and not too close to call.
pub const NOT_HELD_MM: f64 = 254.0;

impl FreeMotion {
    /// How much a figure that follows small motions by `row` changes with it: with a slide by a unit, or with a turn that
    /// carries what lies at the rms radius by a unit.
    pub fn change(&self, motions: &Motions, row: &SmallMotion) -> f64 {
        let v = &self.vector;
        let turn = Vector::new(v[3], v[4], v[5]) / motions.radius_mm;
        row.dot(&SmallMotion::new(turn.x, turn.y, turn.z, v[0], v[1], v[2]))
    }
}

/// The free motion that a figure leans on the most, where it leans on what is free at all; `change` is how much the figure
/// changes with each. Any mixture of free motions is free, so that the changes count together: which of the mixtures stand
/// for them all makes no difference.
pub fn leans_on(free: &[FreeMotion], change: impl Fn(&FreeMotion) -> f64) -> Option<&FreeMotion> {
    let changes: Vec<(f64, &FreeMotion)> = free.iter().map(|motion| (change(motion).abs(), motion)).collect();
    let together = changes
        .iter()
        .map(|(change, _)| change.powi(2))
        .sum::<f64>()
        .sqrt();
    let most = changes.into_iter().max_by(|a, b| a.0.total_cmp(&b.0));
    most.filter(|_| together > LEANS).map(|(_, motion)| motion)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Point;
    use crate::held::row;

    /// A level sheet of 1800 × 600 mm: it slides both ways and turns about the upright.
    fn sheet() -> Motions {
        let grid = (0..1600).map(|i| (f64::from(i % 40) / 19.5 - 1.0, f64::from(i / 40) / 19.5 - 1.0));
        let (points, normals): (Vec<Point>, Vec<Vector>) = grid
            .map(|(u, v)| (Point::new(900.0 * u, 300.0 * v, 0.0), Vector::z()))
            .unzip();
        Motions::of(&points, &normals, 0.1)
    }

    /// How a figure along `direction` at the place (300, 0, 0) follows the sheet's motions.
    fn along(motions: &Motions, direction: Vector) -> SmallMotion {
        row(&(Point::new(300.0, 0.0, 0.0) - motions.centre_mm), &direction)
    }

    #[test]
    fn a_figure_leans_by_its_share_along_what_is_free_whichever_mixture_stands_for_it() {
        let motions = sheet();
        let mixed = motions.held().free;
        let laid = motions.free_ways(&crate::held::ways::Landmarks::default());
        for (direction, leans) in [
            (Vector::z(), false),
            (Vector::x(), true),
            (Vector::new(1.0, 1.0, 0.0).normalize(), true),
            (Vector::new(0.19, 0.0, 0.98).normalize(), false),
            (Vector::new(0.22, 0.0, 0.98).normalize(), true),
            // By less than a fifth of either slide, and by more of both together.
            (Vector::new(0.18, 0.18, 0.97).normalize(), true),
        ] {
            let row = along(&motions, direction);
            for free in [&mixed, &laid] {
                let leaning = leans_on(free, |motion| motion.change(&motions, &row));
                assert_eq!(leaning.is_some(), leans, "{direction:?}");
            }
        }
        let row = along(&motions, Vector::x());
        let words = leans_on(&laid, |motion| motion.change(&motions, &row)).map(|m| m.words.as_str());
        assert_eq!(words, Some("fore and aft"));
    }

    #[test]
    fn a_change_is_how_the_place_moves_along_the_direction_and_a_distance_has_none() {
        let motions = sheet();
        let (here, there) = (Point::new(300.0, 200.0, 0.0), Point::new(-700.0, 200.0, 40.0));
        for motion in &motions.held().free {
            let direction = Vector::new(0.3, -0.5, 0.2);
            let row_at = |at: &Point, way: &Vector| row(&(at - motions.centre_mm), way);
            let moved = motion.at(&motions, &here).dot(&direction);
            assert!((motion.change(&motions, &row_at(&here, &direction)) - moved).abs() < 1e-12);
            let between = (there - here).normalize();
            let apart = row_at(&there, &between) - row_at(&here, &between);
            assert!(motion.change(&motions, &apart).abs() < 1e-12);
        }
        assert!(leans_on(&[], |_| 1.0).is_none());
    }
}
