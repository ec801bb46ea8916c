//! Matches the holes of both sets, and tells what is missing or was added from what was not seen.

use crate::pairing::nearest_first;
use cloud::survey::tangents;
use cloud::unit::MM_PER_INCH;
use cloud::{Body, Frame, Motion, Point, Scan, Surface, Vector};

use super::in_mesh::is_covered;
use super::{FOUND_FROM, Hole, Missing, Pair, find};

/// Two holes farther apart than this are not the same, mm.
const SAME_MM: f64 = MM_PER_INCH;
/// Cosine of the angle between the axes of two that are: 37°.
const SAME_WAY: f64 = 0.8;
/// Metal counts as in the place of a hole within this share of its radius, and within an eighth of an inch of its plane or
/// two spacings.
const IN_PLACE: f64 = 0.7;
pub(super) const IN_PLANE_MM: f64 = MM_PER_INCH / 8.0;
/// Share of the points that a whole sheet would have there, and the fewest that say so.
const CLOSED: f64 = 0.5;
const FEWEST: f64 = 3.0;
/// Metal all round is within this of the rim, mm (half an inch), in so many of its 24 directions.
const AROUND_MM: f64 = MM_PER_INCH / 2.0;
const DIRECTIONS: u32 = 24;
const AROUND: usize = 20;

/// Matches the holes of both sets, each with the one that is nearest in place and size. A hole of the reference without a
/// partner is missing where the measured set has metal in its place, or all round it and is fine enough to show it; one of
/// the measured set is extra where the reference has metal in its place. Else it was not seen and is left out.
pub fn matched(
    reference: &Surface<Body>,
    measured: &Surface<Scan>,
    reference_from_measured: &Motion<Scan, Body>,
) -> Vec<Pair> {
    let (ours, theirs) = rayon::join(|| find(reference), || find(measured));
    let theirs: Vec<Hole> = theirs
        .into_iter()
        .map(|hole| moved(&hole, reference_from_measured))
        .collect();
    let partner = partners(&ours, &theirs);
    let back = reference_from_measured.inverse();
    let mut pairs: Vec<Pair> = Vec::new();
    // Numbered as they are in the reference, so that a hole has one number wherever it is told of.
    let named = |i: usize, mut pair: Pair| {
        pair.name = format!("hole {}", i + 1);
        pair
    };
    for (i, hole) in ours.iter().enumerate() {
        let theirs = partner[i].map(|k| theirs[k]);
        let missing = if theirs.is_none() {
            why_missing(&moved(hole, &back), measured)
        } else {
            None
        };
        if theirs.is_some() || missing.is_some() {
            pairs.push(named(i, Pair::new(Some(*hole), theirs, missing)));
        }
    }
    let extra = |k: &usize| !partner.contains(&Some(*k)) && metal_in_place(&theirs[*k], reference);
    pairs.extend(
        (0..theirs.len())
            .filter(extra)
            .enumerate()
            .map(|(i, k)| named(ours.len() + i, Pair::new(None, Some(theirs[k]), None))),
    );
    pairs
}

/// A hole in another frame.
fn moved<From: Frame, To: Frame>(hole: &Hole, motion: &Motion<From, To>) -> Hole {
    let mut moved = *hole;
    moved.at = motion.apply(&hole.at);
    moved.axis = motion.turn(&hole.axis);
    if let Some(slot) = &mut moved.slot {
        slot.along = motion.turn(&slot.along);
    }
    moved
}

/// For each of ours which of theirs it is, the nearest of all first.
fn partners(ours: &[Hole], theirs: &[Hole]) -> Vec<Option<usize>> {
    let mut likely: Vec<(f64, usize, usize)> = Vec::new();
    for (i, a) in ours.iter().enumerate() {
        for (k, b) in theirs.iter().enumerate() {
            let apart = (a.at - b.at).norm();
            if apart < SAME_MM && a.axis.dot(&b.axis).abs() > SAME_WAY {
                likely.push((apart + (a.diameter_mm - b.diameter_mm).abs(), i, k));
            }
        }
    }
    let mut partner = vec![None; ours.len()];
    for (i, k) in nearest_first(likely) {
        partner[i] = Some(k);
    }
    partner
}

/// Why the measured set, in whose frame the hole is given, is said not to have it; `None` where it does not show.
fn why_missing<F: Frame>(hole: &Hole, surface: &Surface<F>) -> Option<Missing> {
    if metal_in_place(hole, surface) {
        return Some(Missing::MetalInPlace);
    }
    let fine_enough = hole.diameter_mm >= FOUND_FROM * surface.spacing_mm;
    (fine_enough && metal_around(hole, surface)).then_some(Missing::MetalAround)
}

/// Whether a surface has metal where the hole is: a mesh by its faces, however far apart their corners lie.
fn metal_in_place<F: Frame>(hole: &Hole, surface: &Surface<F>) -> bool {
    if !surface.cloud.faces.is_empty() {
        return is_covered(hole, surface);
    }
    let within = IN_PLACE * hole.diameter_mm / 2.0;
    let off_plane = IN_PLANE_MM.max(2.0 * surface.spacing_mm);
    let (points, normals) = (surface.points(), surface.normals());
    let mut count = 0u32;
    surface.near.visit_within(&hole.at, within.hypot(off_plane), |n| {
        let d: Vector = points[n.index as usize] - hole.at;
        let high = d.dot(&hole.axis);
        let across = (d - hole.axis * high).norm();
        let same_way = normals[n.index as usize].dot(&hole.axis).abs() > 0.5;
        if across < within && high.abs() < off_plane && same_way {
            count += 1;
        }
    });
    let whole = std::f64::consts::PI * (within / surface.spacing_mm).powi(2);
    f64::from(count) >= (CLOSED * whole).max(FEWEST)
}

/// Whether a surface shows metal on most of the ring around the hole.
fn metal_around<F: Frame>(hole: &Hole, surface: &Surface<F>) -> bool {
    let (u, v) = tangents(&hole.axis);
    let radius = hole.diameter_mm / 2.0 + 3.0 * surface.spacing_mm;
    let slides = hole.slot.as_ref().map_or(Vector::zeros(), |slot| {
        slot.along * ((slot.length_mm - hole.diameter_mm) / 2.0).max(0.0)
    });
    let seen = (0..DIRECTIONS)
        .filter(|k| {
            let a = std::f64::consts::TAU * f64::from(*k) / f64::from(DIRECTIONS);
            let out = u * a.cos() + v * a.sin();
            let ahead = if out.dot(&slides) < 0.0 { -slides } else { slides };
            let at: Point = hole.at + ahead + out * radius;
            surface.near.nearest_within(&at, AROUND_MM).is_some()
        })
        .count();
    seen >= AROUND
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::plates::{hole, plate};

    fn at(x: f64, y: f64) -> Point {
        Point::new(x, y, 0.0)
    }

    #[test]
    fn each_is_matched_with_its_own_though_two_lie_close() {
        let ours = [hole(at(0.0, 0.0), 10.0, None), hole(at(14.0, 0.0), 10.0, None)];
        let theirs = [hole(at(13.0, 0.0), 10.0, None)];
        assert_eq!(partners(&ours, &theirs), [None, Some(0)]);
    }

    #[test]
    fn missing_and_extra_want_metal_in_the_place_and_what_was_not_seen_is_left_out() {
        let off = |x: f64, y: f64, at: f64| (x - at).hypot(y - 40.0) - 6.0;
        let reference: Surface<Body> = plate(
            1,
            |x, y| off(x, y, 20.0) > 0.0 && off(x, y, 50.0) > 0.0 && off(x, y, 85.0) > 0.0,
            |_, _| 0.0,
        );
        // The first is there, the second closed, the third not seen; one more has come, 28 above the middle.
        let measured: Surface<Scan> = plate(
            2,
            |x, y| off(x, y, 20.5) > 0.0 && x < 70.0 && (x - 50.0).hypot(y - 68.0) > 5.0,
            |_, _| 0.0,
        );
        let pairs = matched(&reference, &measured, &Motion::identity());
        assert_eq!(pairs.len(), 3, "{pairs:?}");
        assert_eq!(pairs[0].name, "hole 1");
        let moved = pairs[0].offset().unwrap();
        assert!((moved.across.x - 0.5).abs() < 2.0 * pairs[0].pm_mm, "{moved:?}");
        assert_eq!(pairs[1].missing, Some(Missing::MetalInPlace));
        assert!(pairs[1].words().ends_with("hole missing, metal in its place"));
        assert!(pairs[2].reference.is_none() && pairs[2].missing.is_none());
        assert!(pairs[2].words().starts_with("extra "), "{}", pairs[2].words());
        // A torn opening: the metal is there all round, and no clean hole in it.
        let torn: Surface<Scan> = plate(
            3,
            |x, y| {
                let waves = 3.0 * (3.0 * (y - 40.0).atan2(x - 50.0)).sin();
                off(x, y, 50.0) > waves
            },
            |_, _| 0.0,
        );
        let hole = hole(at(50.0, 40.0), 12.0, None);
        assert_eq!(why_missing(&hole, &torn), Some(Missing::MetalAround));
        // As coarse as this the set could not show it.
        assert_eq!(
            why_missing(
                &Hole {
                    diameter_mm: 4.0,
                    ..hole
                },
                &torn
            ),
            None
        );
    }
}
