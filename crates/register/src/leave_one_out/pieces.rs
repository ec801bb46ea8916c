//! Two pieces of kept metal, each set by itself: whether they still lie to each other as they did, and what that leaves unknown.

use cloud::held::{Matrix6x6, Motions, SmallMotion, jacobian, per_arm};
use cloud::statistics::median;
use cloud::{Body, Bounds, Motion, Point, Scan, Surface, Vector};

use super::Asked;
use crate::icp::{Fixed, Settled};

/// Two pieces part by motions that are so many times the standard deviation that both leave unknown of them.
const CLEAR: f64 = 3.0;
/// Then all counts that is known with no larger a standard deviation, mm (1/64 in): what stands clear is a mixture, of a slide
/// and a lean as a rule, and alone would be told larger than it is.
const KNOWN_MM: f64 = 25.4 / 64.0;
/// What a piece is off by beyond the noise stands in neighbouring pairs alike: it counts as no more places than this.
const PLACES: f64 = 6.0;
/// Standard deviation of what a piece does not hold at all, mm: beyond anything that is asked.
const LOOSE_MM: f64 = 100.0;

/// Two pieces of kept metal that no longer lie to each other as they did.
#[derive(Debug, Clone)]
pub struct Parted {
    /// Where they part most, on one or the other, in the reference's frame, mm.
    pub at_mm: Point,
    /// How the second lies there off where the first puts it, mm.
    pub off_mm: Vector,
    /// Rms of the pairs of both, each set by itself, mm.
    pub rms_mm: f64,
    /// How the setting by both lies off that by each, as far as they part: turn times the radius, then slide.
    off: [SmallMotion; 2],
}

impl Parted {
    /// Takes into what the setting by both leaves unknown that it is the `piece`-th which lies as it did.
    pub fn may_be_right(&self, piece: usize, motions: &mut Motions) {
        motions.may_be_off_by(&self.off[piece]);
    }
}

/// Sets the measured set on each of two pieces (which points of the reference are theirs) by itself, and gives how the two part;
/// nothing where a piece is too small to be set by itself; where they agree it is by nothing, or by what no sheet keeps to.
/// `settled` is the setting by both.
///
/// The difference of the two settings is a small motion, known to the sum of what both leave unknown. It is taken apart along
/// the principal axes of that; they part where it stands clear of it along one (a Wald test axis by axis). Along what one piece does
/// not hold they can't contradict each other, however they have slid.
pub fn parted(
    reference: &Surface<Body>,
    pieces: [&[bool]; 2],
    measured: &Surface<Scan>,
    settled: &Settled,
) -> Option<Parted> {
    let asked = Asked::of(reference, measured, settled);
    let fixed = pieces.map(|piece| Fixed::kept_of(reference, piece));
    let (first, second) = rayon::join(|| asked.set_on(&fixed[0]), || asked.set_on(&fixed[1]));
    let set = [first?, second?];
    let about = &settled.motions;
    let unknown = asked.unknown(&set[0], about) + asked.unknown(&set[1], about);
    let between = |from: &Settled, to: &Settled| {
        let back = from.reference_from_measured.inverse();
        small(&back.then(&to.reference_from_measured), about)
    };
    let apart = between(&set[1], &set[0]);
    let clear = clear_of(unknown, &apart);
    let apart = clear * apart;
    let turn = apart.fixed_rows::<3>(0) / about.radius_mm;
    let slide = apart.fixed_rows::<3>(3).into_owned();
    let off = |at: &Point| slide + turn.cross(&(at - about.centre_mm));
    let of_one = |i: &usize| fixed.iter().any(|piece| piece.usable[*i]);
    let places = (0..reference.points().len()).filter(of_one);
    let (at_mm, off_mm) = places
        .map(|i| (reference.points()[i], off(&reference.points()[i])))
        .max_by(|a, b| a.1.norm().total_cmp(&b.1.norm()))?;
    let squares: f64 = set.iter().map(|one| one.pairs as f64 * one.rms_mm.powi(2)).sum();
    let pairs = set.iter().map(|one| one.pairs).sum::<usize>() as f64;
    Some(Parted {
        at_mm,
        off_mm,
        rms_mm: (squares / pairs).sqrt(),
        off: [0, 1].map(|k| clear * between(&set[k], settled)),
    })
}

/// The halves of one piece across its longest side, by as many points each, the one that lies towards the origin of that axis
/// first, and the axis; nothing where it has no points.
pub fn halves(reference: &Surface<Body>, piece: &[bool]) -> Option<([Vec<bool>; 2], usize)> {
    let own = || {
        let points = reference.points().iter().zip(piece);
        points.filter(|(_, own)| **own).map(|(point, _)| point)
    };
    let axis = Bounds::of(own())?.size().imax();
    let middle = median(&mut own().map(|point| point[axis]).collect::<Vec<f64>>());
    let half = |beyond: bool| -> Vec<bool> {
        let points = reference.points().iter().zip(piece);
        points
            .map(|(point, own)| *own && (point[axis] > middle) == beyond)
            .collect()
    };
    Some(([half(false), half(true)], axis))
}

impl Asked {
    /// What a setting by one piece leaves unknown of the six motions about the centre of `about`, all alike, mm².
    fn unknown(&self, piece: &Settled, about: &Motions) -> Matrix6x6 {
        let give_mm = (piece.rms_mm.powi(2) - self.noise_mm.powi(2)).max(0.0).sqrt();
        let mut own = piece.motions.clone();
        let alike = (piece.pairs as f64 / PLACES).sqrt();
        own.sigma_mm = own.sigma_mm.hypot(give_mm * alike);
        let loose: Matrix6x6 = own.loose().iter().map(|v| v * v.transpose()).sum();
        let unknown = own.covariance() + per_arm(&(loose * LOOSE_MM.powi(2)), own.radius_mm);
        let mut carry = Matrix6x6::identity();
        carry
            .fixed_view_mut::<3, 6>(3, 0)
            .copy_from(&jacobian(&(about.centre_mm - own.centre_mm)));
        per_arm(&(carry * unknown * carry.transpose()), 1.0 / about.radius_mm)
    }
}

/// A motion of the metal as a small motion about the centre of `about`: turn times the radius, then slide.
fn small(motion: &Motion<Body, Body>, about: &Motions) -> SmallMotion {
    let slide = motion.apply(&about.centre_mm) - about.centre_mm;
    let turn = motion.rotation_vector() * about.radius_mm;
    SmallMotion::new(turn.x, turn.y, turn.z, slide.x, slide.y, slide.z)
}

/// What takes of a small motion the parts, along the principal axes of what is unknown of it, that are known or stand clear of
/// that; nothing where none does.
fn clear_of(unknown: Matrix6x6, motion: &SmallMotion) -> Matrix6x6 {
    let eigen = unknown.symmetric_eigen();
    let (mut clear, mut parts) = (Matrix6x6::zeros(), false);
    for k in 0..6 {
        let axis = eigen.eigenvectors.column(k).into_owned();
        let sd_mm = eigen.eigenvalues[k].max(0.0).sqrt();
        let stands_clear = axis.dot(motion).abs() > CLEAR * sd_mm;
        parts |= stands_clear;
        if stands_clear || sd_mm < KNOWN_MM {
            clear += axis * axis.transpose();
        }
    }
    if parts { clear } else { Matrix6x6::zeros() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::Cloud;
    use cloud::held::{pm_at, pm_of_row, row};

    /// A pan of 600 × 280 with walls 25 mm down at its front, its rear and one side; what lies rearward of 300 is off.
    fn pan(seed: u64, off: impl Fn(&Point) -> Vector) -> Vec<Point> {
        (0..36_000u64)
            .map(|i| {
                let k = 3 * (i + 1_000_000 * seed);
                let (u, v, w) = (uniform(k), uniform(k + 1), 0.3 * (uniform(k + 2) - 0.5));
                let at = match i % 12 {
                    0 => Point::new(w, 280.0 * u, -25.0 * v),
                    1 => Point::new(600.0 + w, 280.0 * u, -25.0 * v),
                    2 => Point::new(600.0 * u, w, -25.0 * v),
                    _ => Point::new(600.0 * u, 280.0 * v, w),
                };
                at + if at.x > 300.0 { off(&at) } else { Vector::zeros() }
            })
            .collect()
    }

    /// The setting by both halves, wider by how they part, and how they part.
    fn halves_of(off: impl Fn(&Point) -> Vector) -> (Settled, Option<Parted>) {
        let still = |_: &Point| Vector::zeros();
        let reference = Surface::<Body>::new(Cloud::from_points(pan(1, still)), None)
            .unwrap()
            .0;
        let measured = Surface::<Scan>::new(Cloud::from_points(pan(2, off)), None)
            .unwrap()
            .0;
        let all = vec![true; reference.points().len()];
        let fixed = Fixed::kept_of(&reference, &all);
        let mut settled = crate::icp::settle(&fixed, &measured, &Motion::identity(), 25.0);
        let (halves, axis) = halves(&reference, &all).unwrap();
        assert_eq!(axis, 0);
        let parted = parted(&reference, [&halves[0], &halves[1]], &measured, &settled);
        if let Some(parted) = &parted {
            parted.may_be_right(0, &mut settled.motions);
            parted.may_be_right(1, &mut settled.motions);
        }
        (settled, parted)
    }

    #[test]
    fn halves_that_lie_to_each_other_as_they_did_do_not_part() {
        let (_, parted) = halves_of(|_| Vector::zeros());
        assert!(parted.is_some_and(|parted| parted.off_mm.norm() < 0.1));
    }

    /// The front half lies as it did: the setting by both is wrong, and its band must say so wherever it is.
    #[test]
    fn of_two_halves_that_part_either_may_be_right_and_the_band_holds_the_truth() {
        for by in [Vector::new(0.0, 0.0, 1.5), Vector::new(0.0, 1.0, 2.0)] {
            let (settled, parted) = halves_of(|_| by);
            let parted = parted.unwrap();
            assert!((parted.off_mm - by).norm() < 0.25, "{parted:?}");
            assert!(parted.rms_mm < 0.2, "{parted:?}");
            let motions = &settled.motions;
            let covariance = motions.covariance();
            let mut widest_mm = 0.0f64;
            for (x, y) in [
                (0.0, 0.0),
                (600.0, 0.0),
                (600.0, 280.0),
                (300.0, 140.0),
                (600.0, 460.0),
            ] {
                let at = Point::new(x, y, 0.0);
                let off = settled.reference_from_measured.apply(&at) - at;
                let follows = row(&(at - motions.centre_mm), &Vector::z());
                let pm_mm = pm_of_row(&covariance, &follows);
                assert!(off.z.abs() < pm_mm + 0.1, "{} ± {pm_mm} at {at}", off.z);
                assert!(pm_at(&covariance, &(at - motions.centre_mm)) < 6.0);
                widest_mm = widest_mm.max(pm_mm);
            }
            assert!(widest_mm > 0.7, "{widest_mm}");
        }
    }

    /// The rear half leans up by 3 mm at its end.
    #[test]
    fn one_piece_that_was_bent_parts_in_halves() {
        let (_, parted) = halves_of(|at| Vector::z() * ((at.x - 300.0) / 100.0));
        let parted = parted.unwrap();
        assert!(parted.off_mm.z.abs() > 2.0, "{parted:?}");
    }
}
