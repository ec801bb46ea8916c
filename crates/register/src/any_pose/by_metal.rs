//! What the metal says of a setting by places: whether it lies clearly better another way that brings the same places on each
//! other, or as its mirror image where they all lie in one plane.
//!
//! Places that lie alike from both ends, or whose names were begun from the other end, agree to a hair the wrong way round.
//! Holes and names say nothing then, but beads and walls do.

use cloud::eigen::flattest_direction;
use cloud::{Body, Matrix3, Mirror, Motion, Point, Scan, Surface, Vector};

use super::judged::{Judged, Views};
use super::ready::{LAST_POINTS, explained_mm};
use super::worth::{Sample, evenly};
use super::{CLEARLY_BETTER, overlap};
use crate::constellation::{Place, match_ways};
use crate::icp::{Fixed, settle_at_home};

/// Places that are off their plane by less than this tell nothing of the hand, mm (a sixteenth: set points agree no better).
const ONE_PLANE_MM: f64 = 25.4 / 16.0;
/// One explains clearly more where it leaves less than this share of the metal unexplained that the other leaves, …
const CLEARLY_LESS: f64 = 0.5;
/// … and that is this share of all the metal less.
const WORTH_ASKING: f64 = 0.02;
/// Places lie on themselves another way where each comes within this of another, mm (an eighth: names that were exchanged
/// leave little more, or the points would have been found not to agree).
const ON_THEMSELVES_MM: f64 = 25.4 / 8.0;
/// Of more places than this nobody mistakes which is which alike for all.
const MOST_PLACES: usize = 16;

/// Both sets made ready to be asked how much of their metal lies on each other, whichever way their normals were written.
pub struct Metal<'a> {
    fixed: Fixed<'a>,
    measured: &'a Surface<Scan>,
    /// Enough of it to let it settle.
    few: Surface<Scan>,
    seen: Sample,
    many: Sample,
    extent_mm: f64,
}

impl<'a> Metal<'a> {
    /// Makes both ready.
    pub fn of(reference: &'a Surface<Body>, measured: &'a Surface<Scan>) -> Self {
        let (picked, spacing_mm) = evenly(measured, LAST_POINTS);
        let mut few = measured.picked(&picked, spacing_mm);
        few.sides_known = false;
        let seen = Sample {
            sides_known: false,
            ..Sample::of(reference, LAST_POINTS)
        };
        Self {
            fixed: Fixed::all_of(reference),
            seen,
            many: Sample::of(&few, LAST_POINTS),
            few,
            extent_mm: measured.cloud.bounds().map_or(0.0, |b| b.diagonal()),
            measured,
        }
    }

    /// What it says of a pose: of where it comes to rest from there, since places put it there only as well as they are known.
    pub fn judged(&self, motion: Motion<Scan, Body>) -> Judged {
        let reference = self.fixed.surface;
        let reach_mm = (self.extent_mm / 80.0).max(4.0 * self.few.spacing_mm.max(reference.spacing_mm));
        let rest = settle_at_home(&self.fixed, &self.few, &motion, reach_mm);
        let views = Views {
            judge: reference,
            seen: &self.seen,
            measured: self.measured,
            many: &self.many,
            off_mm: explained_mm(reference, self.measured),
            extent_mm: self.extent_mm,
        };
        Judged {
            motion,
            ..views.judged(rest.reference_from_measured)
        }
    }
}

impl Judged {
    /// Whether no less metal lies on each other than by another, and clearly less speaks against it or is left unexplained.
    pub fn is_clearly_better_than(&self, other: &Self) -> bool {
        let scored = self.score > other.score + CLEARLY_BETTER * other.on;
        self.on >= other.on && (scored || explains_clearly_more(self.alike, other.alike))
    }
}

/// Whether a share of metal that lies alike leaves clearly less unexplained than another.
fn explains_clearly_more(share: f64, other: f64) -> bool {
    (1.0 - share) < CLEARLY_LESS * (1.0 - other) && share - other > WORTH_ASKING
}

/// What the metal would rather have than a setting by places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rather {
    /// The mirror image in the plane of the places.
    Image {
        /// Share of the surface in common then.
        share: f64,
        /// Share of it as it was laid.
        as_laid: f64,
    },
    /// Another way that brings the same places on each other.
    AnotherWay {
        /// How far that is turned from how it was laid, degrees.
        turned_deg: f64,
        /// Share of the surface in common then.
        share: f64,
        /// Share of it as it was laid.
        as_laid: f64,
    },
}

/// What the metal would clearly rather have than `motion`, which brings places `at` of the reference on their partners; nothing
/// where it has nothing against that.
pub fn metal_would_rather(
    reference: &Surface<Body>,
    measured: &Surface<Scan>,
    at: &[Point],
    motion: &Motion<Scan, Body>,
) -> Option<Rather> {
    let (turns, mirror) = (on_themselves(at), own_plane(at, motion));
    if turns.is_empty() && mirror.is_none() {
        return None;
    }
    let metal = Metal::of(reference, measured);
    let plain = metal.judged(*motion);
    let as_laid = overlap(reference, measured, motion);
    let another = turns
        .iter()
        .map(|turn| metal.judged(motion.then(turn)))
        .filter(|other| other.is_clearly_better_than(&plain))
        .max_by(|a, b| a.score.total_cmp(&b.score));
    if let Some(mirror) = mirror {
        let image = measured.mirrored(&mirror);
        let judged = Metal::of(reference, &image).judged(*motion);
        let share = overlap(reference, &image, motion);
        // Where a turn does as well it is the likelier.
        let needed = another.is_none_or(|other| judged.is_clearly_better_than(&other));
        if needed && (explains_clearly_more(share, as_laid) || judged.is_clearly_better_than(&plain)) {
            return Some(Rather::Image { share, as_laid });
        }
    }
    another.map(|other| Rather::AnotherWay {
        turned_deg: motion.then(&other.motion.inverse()).angle().to_degrees(),
        share: overlap(reference, measured, &other.motion),
        as_laid,
    })
}

/// The motions other than none that bring places on themselves.
fn on_themselves(at: &[Point]) -> Vec<Motion<Body, Body>> {
    if at.len() > MOST_PLACES {
        return Vec::new();
    }
    let place = |at: &Point| Place {
        at_mm: *at,
        axis: Vector::zeros(),
        size_mm: 0.0,
        size_pm_mm: 0.0,
    };
    let places: Vec<Place> = at.iter().map(place).collect();
    let Ok((best, others)) = match_ways(&places, &places, ON_THEMSELVES_MM) else {
        return Vec::new();
    };
    let all = others
        .into_iter()
        .filter(|other| other.pairs.len() == best.pairs.len());
    all.map(|other| other.reference_from_measured)
        .map(|turn| Motion::new(*turn.rotation(), *turn.translation_mm()))
        .collect()
}

/// The plane of places that lie in one, where they lie on the measured set; `None` where they don't.
fn own_plane(at: &[Point], motion: &Motion<Scan, Body>) -> Option<Mirror> {
    let middle = Point::from(at.iter().map(|p| p.coords).sum::<Vector>() / at.len().max(1) as f64);
    let spread: Matrix3 = at.iter().map(|p| (p - middle) * (p - middle).transpose()).sum();
    let normal = flattest_direction(&spread);
    let off_mm = (normal.dot(&(spread * normal)).max(0.0) / at.len().max(1) as f64).sqrt();
    if at.len() < 3 || off_mm > ONE_PLANE_MM {
        return None;
    }
    let there = motion.inverse();
    let across = there.turn(&normal);
    Some(Mirror {
        offset_mm: across.dot(&there.apply(&middle).coords),
        normal: across,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Cloud;

    const CORNERS: [[f64; 3]; 4] = [
        [60.0, 60.0, 0.0],
        [540.0, 60.0, 0.0],
        [60.0, 400.0, 0.0],
        [540.0, 400.0, 0.0],
    ];

    fn corners() -> Vec<Point> {
        CORNERS.map(Point::from).to_vec()
    }

    /// A floor of 600 × 460 mm with one swage along it, 10 mm high, nearer to one side and ending short of one end.
    fn floor() -> Vec<Point> {
        let at = |i: i32, j: i32| {
            let (x, y) = (6.0 * f64::from(i), 6.0 * f64::from(j));
            let across = (1.0 - ((y - 130.0) / 25.0).powi(2)).max(0.0);
            let along = ((x - 200.0) / 30.0).clamp(0.0, 1.0);
            Point::new(x, y, 10.0 * across * along)
        };
        (0..=100).flat_map(|i| (0..=76).map(move |j| at(i, j))).collect()
    }

    fn surface<F: cloud::Frame>(points: Vec<Point>) -> Surface<F> {
        Surface::new(Cloud::from_points(points), None).unwrap().0
    }

    #[test]
    fn a_rectangle_lies_on_itself_three_other_ways_and_one_that_is_not_square_none() {
        let mut turns: Vec<f64> = on_themselves(&corners())
            .iter()
            .map(|turn| turn.angle().to_degrees())
            .collect();
        turns.sort_by(f64::total_cmp);
        assert_eq!(turns.len(), 3);
        assert!(turns.iter().all(|deg| (deg - 180.0).abs() < 0.01), "{turns:?}");
        let mut askew = corners();
        askew[3] += Vector::new(30.0, -20.0, 0.0);
        assert!(on_themselves(&askew).is_empty());
        let two_alike = [[0.0, 0.0, 0.0], [400.0, 0.0, 0.0], [200.0, 300.0, 0.0]].map(Point::from);
        assert_eq!(on_themselves(&two_alike).len(), 1);
    }

    /// Laid by names that were begun from each of the other three corners, and right.
    #[test]
    fn a_floor_with_a_swage_would_rather_lie_as_it_does_than_turned_by_exchanged_names() {
        let (reference, measured) = (surface::<Body>(floor()), surface::<Scan>(floor()));
        let home: Motion<Scan, Body> = Motion::identity();
        assert_eq!(metal_would_rather(&reference, &measured, &corners(), &home), None);
        for turn in on_themselves(&corners()) {
            let wrong = home.then(&turn);
            let rather = metal_would_rather(&reference, &measured, &corners(), &wrong);
            let told = matches!(rather, Some(Rather::AnotherWay { turned_deg, share, as_laid })
                if (turned_deg - 180.0).abs() < 0.01 && share > 0.99 && as_laid < 0.97);
            assert!(told, "{rather:?}");
        }
    }

    /// The other hand is the floor's image in the plane of its corners: laid by them its swage stands on the wrong side.
    #[test]
    fn a_floor_of_the_other_hand_would_rather_be_mirrored() {
        let other = floor().iter().map(|p| Point::new(p.x, p.y, -p.z)).collect();
        let (reference, measured) = (surface::<Body>(floor()), surface::<Scan>(other));
        let rather = metal_would_rather(&reference, &measured, &corners(), &Motion::identity());
        assert!(
            matches!(rather, Some(Rather::Image { share, as_laid }) if share > 0.99 && as_laid < 0.97),
            "{rather:?}"
        );
    }

    #[test]
    fn a_bare_floor_has_nothing_against_any_way() {
        let bare = || {
            floor()
                .iter()
                .map(|p| Point::new(p.x, p.y, 0.0))
                .collect::<Vec<_>>()
        };
        let (reference, measured) = (surface::<Body>(bare()), surface::<Scan>(bare()));
        // Its own outline is as far from the corners on all sides: 60 mm.
        let at = on_themselves(&corners());
        let turned = Motion::<Scan, Body>::identity().then(&at[0]);
        assert_eq!(
            metal_would_rather(&reference, &measured, &corners(), &turned),
            None
        );
    }
}
