//! Bows along a box: whether what a channel's move would explain is one, off in the middle and home at both ends.

use compare::Region;
use nalgebra::{Matrix3, Vector3};

use super::HOME_MM;
use super::seats::is_channel;
use crate::rigid_part::{Fit, Seen};

/// Metal that faces the move by less than this says little of it.
const FACING: f64 = 0.5;
/// An end is home where it is off by less than this share of the bow.
const HOME_SHARE: f64 = 0.5;

/// What metal is off by along a box, as a parabola of least squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Along(Vector3<f64>);

impl Along {
    /// Through places, each how far along it lies, from −1 at one end of the box to 1 at the other, and how far it is off, mm. `None`
    /// where they lie at fewer than three.
    pub fn of(places: impl Iterator<Item = (f64, f64)>) -> Option<Self> {
        let (mut matrix, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for (along, mm) in places {
            let row = Vector3::new(1.0, along, along * along);
            matrix += row * row.transpose();
            right += row * mm;
        }
        Some(Self(matrix.try_inverse()? * right))
    }

    /// What it is off by so far along, mm.
    pub fn at(&self, along: f64) -> f64 {
        self.0.x + along * (self.0.y + along * self.0.z)
    }

    /// How far its middle stands off the line between its ends, mm.
    pub fn bow_mm(&self) -> f64 {
        -self.0.z
    }
}

/// Whether the metal that shows a move of a channel is bowed instead: along the box a parabola through what it has moved stands off
/// between its ends by more than a 32nd, and by twice what either end is off. A rigid move has nothing of that, and one that were
/// made for the mean of a bow would send the ends off.
pub(super) fn is_bowed(region: &Region, telling: &[Seen], fit: &Fit) -> bool {
    let Some(way) = fit.translation_mm.try_normalize(1e-9) else {
        return false;
    };
    if !is_channel(&region.bounds) {
        return false;
    }
    let long = region.bounds.size().imax();
    let (low, length) = (region.bounds.low[long], region.bounds.size()[long]);
    let showing = telling.iter().filter_map(|seen| {
        let lean = seen.normal.dot(&way);
        (lean.abs() > FACING).then_some((2.0 * (seen.at[long] - low) / length - 1.0, seen.mm / lean))
    });
    Along::of(showing).is_some_and(|found| {
        let bow_mm = found.bow_mm().abs();
        bow_mm > HOME_MM
            && [-1.0, 1.0]
                .iter()
                .all(|end| found.at(*end).abs() < HOME_SHARE * bow_mm)
    })
}

#[cfg(test)]
mod tests {
    use cloud::{Bounds, Point, Vector};
    use compare::{Outside, Status};

    use super::*;
    use crate::rigid_part::robust_fits;

    /// Both walls and the top of a channel of 60 × 30 × 600, its walls moved to the right by as much as `off` has it along.
    fn is_bowed_by(off: impl Fn(f64) -> f64) -> bool {
        let mut seen = Vec::new();
        for row in 0..120 {
            let x = 5.0 * f64::from(row) + 2.5;
            for k in 0..6 {
                let (z, scatter) = (5.0 * f64::from(k), 0.05 * f64::from(row * 7 + k * 3).sin());
                for side in [-1.0, 1.0] {
                    let (at, normal) = (Point::new(x, 30.0 * side, z), Vector::y() * side);
                    let mm = side * off(x / 600.0) + scatter;
                    seen.push(Seen { at, normal, mm });
                }
                let at = Point::new(x, 10.0 * f64::from(k) - 25.0, 30.0);
                let (normal, mm) = (Vector::z(), scatter);
                seen.push(Seen { at, normal, mm });
            }
        }
        let region = Region {
            name: "sill".into(),
            status: Status::Worked,
            bounds: Bounds {
                low: Point::new(0.0, -32.0, -2.0),
                high: Point::new(600.0, 32.0, 32.0),
            },
            limit_mm: 1.6,
            outside: Some(Outside::Up),
            pads: Vec::new(),
        };
        let fit = &robust_fits(&seen)[0];
        is_bowed(&region, &seen, fit)
    }

    #[test]
    fn a_channel_that_is_pulled_in_between_its_ends_is_bowed_and_has_not_moved() {
        assert!(is_bowed_by(|share| -3.175 * (std::f64::consts::PI * share).sin()));
        assert!(!is_bowed_by(|_| -3.175));
        assert!(!is_bowed_by(|share| 4.0 * share));
        // Moved by as much again as it is bowed.
        assert!(!is_bowed_by(
            |share| 5.0 + 3.0 * (std::f64::consts::PI * share).sin()
        ));
    }
}
