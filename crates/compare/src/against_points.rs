//! Two sets of points: at each reference point the step from the reference's sheet to the measured one, along the normal.

use cloud::survey::tangents;
use cloud::{Body, Motion, Point, Scan, Surface, Vector};
use rayon::prelude::*;

use crate::patch::{FOR_A_PLANE, Sums, step};
use crate::state::{Deviations, State, without_distance};

/// Radius of the disc in spacings of the coarser set: about twenty points of it.
const DISC_SPACINGS: f64 = 2.5;
/// Fewest points in the disc.
const FEWEST: f64 = 6.0;
/// Normals that part by more than 45° are of another face: at a joint the normals run from one to the other.
const SAME_FACE: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// Beyond this off-middle, and with no point close by, the measured set ends beside the point.
const ONE_SIDED: f64 = 0.5;

/// Compares every point of `reference` with the measured surface, set by `reference_from_measured`. Metal farther than
/// `reach_mm` along the normal is not taken for the same sheet.
pub fn compare(
    reference: &Surface<Body>,
    measured: &Surface<Scan>,
    reference_from_measured: &Motion<Scan, Body>,
    reach_mm: f64,
) -> Deviations {
    let disc_mm = DISC_SPACINGS * reference.spacing_mm.max(measured.spacing_mm);
    let place = Place {
        reference,
        measured,
        measured_from_reference: reference_from_measured.inverse(),
        reach_mm,
        disc_mm,
        signed: reference.sides_known && measured.sides_known,
    };
    let states = (0..reference.points().len())
        .into_par_iter()
        .with_min_len(512)
        .map(|i| place.state_at(i))
        .collect();
    Deviations { states, disc_mm }
}

struct Place<'a> {
    reference: &'a Surface<Body>,
    measured: &'a Surface<Scan>,
    measured_from_reference: Motion<Body, Scan>,
    reach_mm: f64,
    disc_mm: f64,
    signed: bool,
}

impl Place<'_> {
    fn same_face(&self, cosine: f64) -> bool {
        if self.signed {
            cosine > SAME_FACE
        } else {
            cosine.abs() > SAME_FACE
        }
    }

    fn state_at(&self, i: usize) -> State {
        let (point, normal) = (self.reference.points()[i], self.reference.normals()[i]);
        let at = self.measured_from_reference.apply(&point);
        let facing = self.measured_from_reference.turn(&normal);
        let Some(height_mm) = self.height_of_measured(&at, &facing) else {
            return State::NotMeasured;
        };
        // The same tangents in both frames, so that the curvature is shared.
        let (u, v) = tangents(&normal);
        let (mu, mv) = (
            self.measured_from_reference.turn(&u),
            self.measured_from_reference.turn(&v),
        );
        let foot = at + facing * height_mm;
        let mut second = Sums::default();
        let mut nearest = f64::INFINITY;
        let points = self.measured.points();
        let normals = self.measured.normals();
        self.measured.near.visit_within(&foot, self.disc_mm, |n| {
            let j = n.index as usize;
            if self.same_face(facing.dot(&normals[j])) {
                let d = points[j] - foot;
                let (a, b) = (d.dot(&mu), d.dot(&mv));
                nearest = nearest.min(a * a + b * b);
                second.add(a / self.disc_mm, b / self.disc_mm, d.dot(&facing));
            }
        });
        let nearest = nearest.sqrt();
        // About twenty points lie in a whole disc and ten in the half of it at an edge: far fewer are strays.
        if second.count < FEWEST || nearest > 2.0 * self.measured.spacing_mm {
            return self.edge_or_gap(&foot, &facing);
        }
        if second.off_middle() > ONE_SIDED && nearest > 0.7 * self.measured.spacing_mm {
            return State::BeyondEdge;
        }
        let mut first = Sums::default();
        let mut other_faces = 0.0;
        let (points, normals) = (self.reference.points(), self.reference.normals());
        self.reference.near.visit_within(&point, self.disc_mm, |n| {
            let j = n.index as usize;
            if normal.dot(&normals[j]) > SAME_FACE {
                let d = points[j] - point;
                first.add(d.dot(&u) / self.disc_mm, d.dot(&v) / self.disc_mm, d.dot(&normal));
            } else {
                other_faces += 1.0;
            }
        });
        // A reference so thin that the point is alone in its disc says nothing of the metal between, and no neighbour bears it out.
        if first.count + other_faces < 2.0 {
            return State::NotMeasured;
        }
        // Where it is too thin for a plane what its few points leave over doesn't tell their noise.
        let few_mm = match first.count < FOR_A_PLANE {
            true => 1.96 * self.reference.noise_mm / first.count.sqrt(),
            false => 0.0,
        };
        // Where sheets meet, which of them a point belongs to is known to about half a spacing.
        let joint_mm = 0.5 * self.measured.spacing_mm.max(self.reference.spacing_mm) * other_faces
            / (other_faces + first.count).max(1.0);
        match step(&first, &second) {
            Some(step) if (step.mm + height_mm).abs() <= self.reach_mm => State::Distance {
                mm: step.mm + height_mm,
                pm_mm: step.pm_mm.hypot(joint_mm).hypot(few_mm),
            },
            _ => State::NotMeasured,
        }
    }

    /// About how far along the normal the measured sheet lies: the nearest point of the same face, its plane met.
    fn height_of_measured(&self, at: &Point, facing: &Vector) -> Option<f64> {
        let points = self.measured.points();
        let normals = self.measured.normals();
        let met = |j: usize| {
            let lean = normals[j].dot(facing);
            let height = normals[j].dot(&(points[j] - at)) / lean;
            // On a steep plane the crossing can lie far off; the point itself is the better guess there.
            if height.abs() <= self.reach_mm {
                height
            } else {
                (points[j] - at).dot(facing)
            }
        };
        let reach = self.reach_mm + self.disc_mm;
        let first = self.measured.near.nearest_within(at, reach)?;
        let j = first.index as usize;
        if self.same_face(normals[j].dot(facing)) {
            return Some(met(j));
        }
        let mut best: Option<(f64, u32)> = None;
        self.measured.near.visit_within(at, reach, |n| {
            let better = best.is_none_or(|(d, k)| (n.squared_mm2, n.index) < (d, k));
            if better && self.same_face(normals[n.index as usize].dot(facing)) {
                best = Some((n.squared_mm2, n.index));
            }
        });
        best.map(|(_, j)| met(j as usize))
    }

    /// No measured point close by: beside the end of the measured set, or far from all of it.
    fn edge_or_gap(&self, foot: &Point, facing: &Vector) -> State {
        let (measured, normals) = (self.measured, self.measured.normals());
        without_distance(
            foot,
            measured.points(),
            &measured.near,
            measured.spacing_mm,
            |j| self.same_face(facing.dot(&normals[j])),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::Cloud;

    fn surface<F: cloud::Frame>(points: Vec<Point>, normals: Vec<Vector>) -> Surface<F> {
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(normals);
        Surface::new(cloud, None).unwrap().0
    }

    /// A tube of 45 mm radius, where a plain average over a 12 mm disc reads 0.1 mm proud.
    fn tube(seed: u64, grow_mm: f64) -> (Vec<Point>, Vec<Vector>) {
        (0..30_000u64)
            .map(|i| {
                let k = 5 * (i + seed * 100_000);
                let (a, z) = (std::f64::consts::TAU * uniform(k), 300.0 * uniform(k + 1));
                let noise = 0.1 * (uniform(k + 2) + uniform(k + 3) + uniform(k + 4) - 1.5) * 2.0;
                let normal = Vector::new(a.cos(), a.sin(), 0.0);
                (
                    Point::from(normal * (45.0 + grow_mm + noise)) + Vector::z() * z,
                    normal,
                )
            })
            .unzip()
    }

    fn middle(deviations: &Deviations) -> (f64, f64) {
        let known: Vec<f64> = deviations.states.iter().filter_map(State::mm).collect();
        (
            cloud::statistics::mean(&known),
            cloud::statistics::standard_deviation(&known),
        )
    }

    #[test]
    fn a_tube_that_did_not_move_reads_nothing_and_one_that_grew_reads_its_growth() {
        let (points, normals) = tube(1, 0.0);
        let reference: Surface<Body> = surface(points, normals);
        for grown in [0.0, 0.5] {
            let (points, normals) = tube(2, grown);
            let measured: Surface<Scan> = surface(points, normals);
            let found = compare(&reference, &measured, &Motion::identity(), 12.0);
            let (mean, sd) = middle(&found);
            assert!((mean - grown).abs() < 0.01, "{mean} for {grown}");
            assert!(sd < 0.1, "{sd}");
        }
    }

    #[test]
    fn a_hole_is_beyond_the_edge_or_not_measured_and_never_a_distance() {
        let sheet = |hole: bool| -> (Vec<Point>, Vec<Vector>) {
            (0..10_000)
                .map(|i| Point::new(f64::from(i % 100) * 2.0, f64::from(i / 100) * 2.0, 0.0))
                .filter(|p| !hole || (p - Point::new(100.0, 100.0, 0.0)).norm() > 40.0)
                .map(|p| (p, Vector::z()))
                .unzip()
        };
        let (points, normals) = sheet(false);
        let reference: Surface<Body> = surface(points, normals);
        let (points, normals) = sheet(true);
        let measured: Surface<Scan> = surface(points, normals);
        let found = compare(&reference, &measured, &Motion::identity(), 12.0);
        for (state, point) in found.states.iter().zip(reference.points()) {
            let from_middle = (point - Point::new(100.0, 100.0, 0.0)).norm();
            match state {
                State::Distance { mm, .. } => {
                    assert!(mm.abs() < 1e-9 && from_middle > 36.0, "{mm} at {from_middle}");
                }
                State::BeyondEdge => assert!((20.0..46.0).contains(&from_middle)),
                State::NotMeasured => assert!(from_middle < 30.0),
            }
        }
    }

    /// A square of 100 mm at a spacing of 1 mm, and one beside it at `thin_mm`, flat, at a height.
    fn two_squares(thin_mm: f64, height_mm: f64) -> (Vec<Point>, Vec<Vector>) {
        let square = |from_mm: f64, step_mm: f64| {
            let count = (100.0 / step_mm) as usize;
            (0..count * count).map(move |i| {
                let (x, y) = ((i % count) as f64 * step_mm, (i / count) as f64 * step_mm);
                (Point::new(from_mm + x, y, height_mm), Vector::z())
            })
        };
        square(0.0, 1.0).chain(square(99.0 + thin_mm, thin_mm)).unzip()
    }

    /// Probed metal that goes on from a fine scan: every gap between its points looked like an end of the set.
    #[test]
    fn metal_that_was_probed_thinly_is_not_measured_and_has_no_end_in_it() {
        let (points, normals) = two_squares(2.0, 0.0);
        let reference: Surface<Body> = surface(points, normals);
        let (points, normals) = two_squares(12.0, 0.5);
        let count = points.len();
        let measured: Surface<Scan> = surface(points, normals);
        assert_eq!(measured.points().len(), count);
        let found = compare(&reference, &measured, &Motion::identity(), 12.0);
        for (state, point) in found.states.iter().zip(reference.points()) {
            match point.x {
                ..95.0 => assert!((state.mm().unwrap() - 0.5).abs() < 1e-6, "{point}"),
                103.0..=195.0 if point.y <= 84.0 => assert_eq!(*state, State::NotMeasured, "{point}"),
                _ => {}
            }
        }
    }

    #[test]
    fn a_point_of_the_reference_that_is_alone_in_its_disc_is_not_measured() {
        let (points, normals) = two_squares(12.0, 0.0);
        let count = points.len();
        let reference: Surface<Body> = surface(points, normals);
        assert_eq!(reference.points().len(), count);
        let (points, normals) = two_squares(1.0, 0.5);
        let measured: Surface<Scan> = surface(points, normals);
        let found = compare(&reference, &measured, &Motion::identity(), 12.0);
        for (state, point) in found.states.iter().zip(reference.points()) {
            match point.x < 105.0 {
                true => assert!((state.mm().unwrap() - 0.5).abs() < 1e-6, "{point}"),
                false => assert_eq!(*state, State::NotMeasured, "{point}"),
            }
        }
    }
}
