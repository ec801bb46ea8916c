//! What holds a set beside the share that its own pairs have: relief that was asked place by place, named points, a mirror's plane.

use nalgebra::DMatrix;

use super::{Matrix6x6, Motions, SmallMotion, follows, pm_of_row};
use crate::Vector;

/// Nothing is known better than this, mm.
const LEAST_SD_MM: f64 = 1e-6;

impl Motions {
    /// Takes one of the [`Motions::loose`] for held, by places that leave it the standard deviation `sd_mm`: known no better,
    /// whatever the noise of all other places seems to know along it.
    pub fn take_for_held(&mut self, direction: &SmallMotion, sd_mm: f64) {
        let by_noise_mm2 = self.sigma_mm.powi(2) / direction.dot(&(self.alike() * direction));
        let along = direction * direction.transpose();
        self.firm += along;
        self.scatter_mm2 += along * (sd_mm.powi(2) - by_noise_mm2).max(0.0);
    }

    /// Takes into what is unknown that the set may lie off by a small motion, turn times the radius, then slide: the ± of what
    /// follows it is no less than that.
    pub fn may_be_off_by(&mut self, off: &SmallMotion) {
        let sd = off / pm_of_row(&Matrix6x6::identity(), &SmallMotion::x());
        self.scatter_mm2 += sd * sd.transpose();
    }

    /// Holds what is loose by what others know of it, whose ± counts `times`: named points along which a set that slides was kept.
    /// What they leave unknown by more than [`NOT_HELD_MM`](follows::NOT_HELD_MM) stays loose.
    pub fn hold_by(&mut self, others: &Self, times: f64) {
        let theirs = others.covariance();
        let apart = self.centre_mm - others.centre_mm;
        let stacked =
            |turn: Vector, slide: Vector| SmallMotion::new(turn.x, turn.y, turn.z, slide.x, slide.y, slide.z);
        // Each direction as a row over a small motion about the own centre, and over one about the others'.
        let held: Vec<(SmallMotion, SmallMotion, SmallMotion)> = self
            .loose()
            .into_iter()
            .map(|direction| {
                let (turn, slide) = (direction.fixed_rows::<3>(0), direction.fixed_rows::<3>(3));
                let (turn, slide) = (turn * self.radius_mm, slide.into_owned());
                let to_others = stacked(turn + apart.cross(&slide), slide);
                (direction, stacked(turn, slide), to_others)
            })
            .filter(|(_, _, to_others)| times * pm_of_row(&theirs, to_others) < follows::NOT_HELD_MM)
            .collect();
        let spread = DMatrix::from_fn(held.len(), held.len(), |i, j| {
            let shared = (times * times) * held[i].2.dot(&(theirs * held[j].2));
            shared + if i == j { LEAST_SD_MM.powi(2) } else { 0.0 }
        });
        let Some(known) = spread.try_inverse() else {
            return;
        };
        // The set lies there as the others have it: what its own places seem to know along it counts no more.
        let own_places = self.alike();
        for (i, (direction, own, _)) in held.iter().enumerate() {
            for (j, (_, other, _)) in held.iter().enumerate() {
                self.information += own * other.transpose() * (self.sigma_mm.powi(2) * known[(i, j)]);
            }
            self.information -= own * own.transpose() * direction.dot(&(own_places * direction));
            self.firm += direction * direction.transpose();
        }
    }

    /// Takes the motions in the plane of the unit vector `normal` (two slides and the turn about it) for held as well as
    /// the best held one.
    pub fn hold_in_plane(&mut self, normal: &Vector) {
        let largest = self.eigen()[5].0;
        let (u, v) = crate::survey::tangents(normal);
        for (turn, slide) in [
            (*normal, Vector::zeros()),
            (Vector::zeros(), u),
            (Vector::zeros(), v),
        ] {
            let turn = turn * self.radius_mm;
            let row = SmallMotion::new(turn.x, turn.y, turn.z, slide.x, slide.y, slide.z);
            self.information += row * row.transpose() * largest;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Point;
    use crate::held::row;

    /// A sheet whose normals scatter by 2° seems to know how it slides.
    #[test]
    fn what_is_taken_for_held_is_known_as_was_said_and_no_better() {
        let places: Vec<Point> = (0..1600)
            .map(|i| Point::new(45.0 * f64::from(i % 40), 15.0 * f64::from(i / 40), 0.0))
            .collect();
        let normals: Vec<Vector> = (0..1600)
            .map(|i| {
                let t = 2.4 * f64::from(i);
                Vector::new(0.035 * t.cos(), 0.035 * t.sin(), 1.0).normalize()
            })
            .collect();
        let mut sheet = Motions::of(&places, &normals, 0.1);
        assert_eq!(sheet.held().free.len(), 3);
        let (least_held, seems) = (sheet.loose()[0], sheet.held().sd_mm[5]);
        sheet.take_for_held(&least_held, 5.0 * seems);
        let held = sheet.held();
        assert_eq!(held.free.len(), 2);
        assert!((held.sd_mm[5] / seems - 5.0).abs() < 1e-6);
    }

    /// A sheet that may have risen by 2 mm and leant by as much at its radius.
    #[test]
    fn what_a_set_may_be_off_by_is_in_its_band_wherever_it_shows() {
        let places: Vec<Point> = (0..1600)
            .map(|i| Point::new(45.0 * f64::from(i % 40), 15.0 * f64::from(i / 40), 0.0))
            .collect();
        let mut sheet = Motions::of(&places, &[Vector::z(); 1600], 0.1);
        sheet.may_be_off_by(&SmallMotion::new(0.0, 2.0, 0.0, 0.0, 0.0, 2.0));
        let up = |forward: f64| {
            let arm = Vector::new(-forward * sheet.radius_mm, 0.0, 0.0);
            pm_of_row(&sheet.covariance(), &row(&arm, &Vector::z()))
        };
        for (forward, off_mm) in [(0.0, 2.0), (1.0, 4.0), (-1.0, 0.0)] {
            assert!(
                (up(forward) - off_mm).abs() < 0.02,
                "{} at {forward}",
                up(forward)
            );
        }
    }

    /// A sheet that slides is known along that to what the pins leave, here at a corner of theirs and about another centre.
    #[test]
    fn what_slides_is_held_by_pins_and_known_as_well_as_they_are() {
        let places: Vec<Point> = (0..1600)
            .map(|i| Point::new(45.0 * f64::from(i % 40), 15.0 * f64::from(i / 40), 0.0))
            .collect();
        let mut sheet = Motions::of(&places, &[Vector::z(); 1600], 0.1);
        let pins: Vec<Point> = [(200.0, 0.0), (800.0, 50.0), (500.0, 250.0), (300.0, -200.0)]
            .map(|(x, y)| Point::new(x, y, 0.0))
            .into();
        let thrice: Vec<Point> = pins.iter().flat_map(|p| [*p; 3]).collect();
        let axes: Vec<Vector> = pins
            .iter()
            .flat_map(|_| [Vector::x(), Vector::y(), Vector::z()])
            .collect();
        let by_pins = Motions::of(&thrice, &axes, 0.3).of_named();
        sheet.hold_by(&by_pins, 2.0);
        assert!(sheet.held().free.is_empty());
        let in_plane = |motions: &Motions, at: Point| {
            pm_of_row(
                &motions.covariance(),
                &row(&(at - motions.centre_mm), &Vector::x()),
            )
        };
        for at in [Point::origin(), Point::new(800.0, 200.0, 0.0), pins[0]] {
            let (found, expected) = (in_plane(&sheet, at), 2.0 * in_plane(&by_pins, at));
            assert!(
                (found / expected - 1.0).abs() < 0.02,
                "{found} for {expected} at {at}"
            );
        }
        // Up and down the sheet knows better than any pin.
        let up = row(&(pins[0] - sheet.centre_mm), &Vector::z());
        assert!(pm_of_row(&sheet.covariance(), &up) < 0.02);
    }
}
