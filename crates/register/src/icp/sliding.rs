//! What a surface lets slide: a setting taken along it to where another has it, and no farther.

use cloud::{Body, Motion, Scan, Surface, Vector};

use super::{Ending, Fixed, Settled, settle, settle_near};

/// A setting that another round of steps moves by no more than this has come to rest, mm: a hundredth of what can be told at a
/// frame table, and about what pairs that change from step to step jitter by.
const AT_REST_MM: f64 = 0.05;
/// Rounds, at most.
const ROUNDS: usize = 3;

/// As [`settle`], and what the pairs don't hold stays where `home`, the start, has it: along that the steps never end and lead
/// anywhere. It has come to rest when what is held has.
pub fn settle_at_home(
    fixed: &Fixed<'_>,
    measured: &Surface<Scan>,
    home: &Motion<Scan, Body>,
    reach_mm: f64,
) -> Settled {
    let mut done = settle(fixed, measured, home, reach_mm);
    let Some(bounds) = measured.cloud.bounds() else {
        return done;
    };
    let spacing_mm = measured.spacing_mm.max(fixed.surface.spacing_mm);
    for _ in 0..ROUNDS {
        if done.ending != Ending::RanOut && done.motions.held().free.is_empty() {
            break;
        }
        let there = done.slid_to(home);
        let mut again = settle_near(fixed, measured, &there, done.near_mm(spacing_mm).min(reach_mm));
        again.reference_from_measured = again.slid_to(home);
        let moved_mm = again.reference_from_measured.largest_gap_mm(&there, &bounds);
        let (mut path, mut more) = (done.path, again.path);
        path.append(&mut more);
        done = Settled { path, ..again };
        if moved_mm < AT_REST_MM {
            done.ending = Ending::Settled;
            break;
        }
    }
    done
}

impl Settled {
    /// The motion reference ← measured, slid along what the pairs don't hold to where `other` has it that way: named points keep
    /// what the metal lets slide.
    pub(crate) fn slid_to(&self, other: &Motion<Scan, Body>) -> Motion<Scan, Body> {
        let (centre, radius) = (self.motions.centre_mm, self.motions.radius_mm);
        let back = self.reference_from_measured.inverse().then(other);
        let (shift, turn) = (back.apply(&centre) - centre, back.rotation_vector() * radius);
        let (mut slid, mut turned) = (Vector::zeros(), Vector::zeros());
        for free in self.motions.held().free {
            let [x, y, z, a, b, c] = free.vector;
            let (along, about) = (Vector::new(x, y, z), Vector::new(a, b, c));
            let share = along.dot(&shift) + about.dot(&turn);
            slid += along * share;
            turned += about * share;
        }
        let home = Motion::turn_about(turned / radius, centre, slid);
        self.reference_from_measured.then(&home)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::icp::Ending;
    use cloud::Point;
    use cloud::held::Motions;

    /// A flat sheet holds its height and its lean, and slides in its plane.
    #[test]
    fn a_set_that_slides_is_taken_along_what_nothing_holds_and_no_farther() {
        let sheet: Vec<Point> = (0..400)
            .map(|i| Point::new(10.0 * f64::from(i % 20), 10.0 * f64::from(i / 20), 0.0))
            .collect();
        let shifted = |x: f64, z: f64| Motion::new(cloud::Matrix3::identity(), Vector::new(x, 0.0, z));
        let done = Settled {
            reference_from_measured: shifted(0.0, 0.0),
            rms_mm: 0.1,
            worst_mm: 0.3,
            sigma_mm: 0.1,
            pairs: 400,
            share: 1.0,
            motions: Motions::of(&sheet, &[Vector::z(); 400], 0.1),
            ending: Ending::RanOut,
            path: Vec::new(),
        };
        assert_eq!(done.motions.held().free.len(), 3);
        let slid = done.slid_to(&shifted(5.0, 2.0));
        let off = slid.apply(&Point::origin()) - Point::origin();
        assert!((off - Vector::new(5.0, 0.0, 0.0)).norm() < 1e-6, "{off}");
    }
}
