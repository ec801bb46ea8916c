//! Trying poses on few points, then on more, and judging the last few on many points of both sets.

use cloud::bisquare::TUKEY;
use cloud::{Body, Mirror, Motion, Point, Scan, Surface, Vector};
use rayon::prelude::*;

use super::judged::{Judged, Views};
use super::pairs::PairIndex;
use super::starts;
use super::worth::{Sample, agreement, evenly, side_of};
use crate::cells::Cells;
use crate::icp::{Fixed, Level, Moving, Settled, one_level, settle_near};

/// Points of each set that pairs are made of.
const PAIR_POINTS: f64 = 2_500.0;
/// Measured points on which a pose is tried first: those that are worth most.
const FIRST_POINTS: usize = 250;
/// Measured points on which the better ones are tried again.
const SECOND_POINTS: f64 = 3_000.0;
/// Measured points by which the last few are settled.
const SETTLED_POINTS: f64 = 8_000.0;
/// Measured points on which the last few are told apart.
pub(super) const LAST_POINTS: f64 = 20_000.0;
/// Reference points that are searched meanwhile.
const REFERENCE_POINTS: f64 = 6_000.0;
/// Reference points on which the last few are told apart.
const JUDGE_POINTS: f64 = 200_000.0;
/// Poses of each way to seek them that are tried first, again for a few steps, again to the end, and on many points at the last.
const FIRST: usize = 600;
const SECOND: usize = 60;
const THIRD: usize = 20;
const LAST: usize = 6;
/// Steps that each of the last few is given before the hopeless ones are left, and to the end.
const BEGUN_STEPS: usize = 10;
const LAST_STEPS: usize = 22;
/// A pose whose score falls short of the best's by more than this share of what speaks for that is hopeless.
const HOPELESS: f64 = 0.5;
/// Poses no farther apart than this share of the judged points' spacing came to one place.
const ONE_PLACE: f64 = 0.05;
/// How far places that pair at first may lie apart, as a share of the extent.
const FIRST_REACH: f64 = 1.0 / 12.0;
/// The cells in which partners are looked up meanwhile, as a share of the spacing of the reference's points.
const CELL: f64 = 0.5;

/// The reference made ready for many tries.
pub struct Ready<'a> {
    reference: &'a Surface<Body>,
    coarse: Surface<Body>,
    cells: Cells,
    judge: Surface<Body>,
    pairs: PairIndex,
    seen: Sample,
    extent_mm: f64,
}

impl<'a> Ready<'a> {
    /// Makes a reference ready for measured sets of the size of `measured`.
    pub fn new(reference: &'a Surface<Body>, measured: &Surface<Scan>) -> Self {
        let extent_mm = measured.cloud.bounds().map_or(0.0, |b| b.diagonal());
        let coarse = thinned(reference, REFERENCE_POINTS);
        let reach_mm = extent_mm * FIRST_REACH;
        Self {
            cells: Cells::within(coarse.points(), CELL * coarse.spacing_mm, reach_mm),
            coarse,
            judge: thinned(reference, JUDGE_POINTS),
            pairs: PairIndex::new(Sample::of(reference, PAIR_POINTS), extent_mm),
            seen: Sample::of(reference, LAST_POINTS),
            extent_mm,
            reference,
        }
    }

    /// The last few settings, the best first. What is hopeless beside `other`, a setting of the same part, goes no further.
    pub fn settings(&self, measured: &Surface<Scan>, other: Option<&Judged>) -> Vec<Judged> {
        let extent = self.extent_mm;
        let paired = Sample::of(measured, PAIR_POINTS);
        let more = Sample::of(measured, SECOND_POINTS);
        let few = more.by_worth(FIRST_POINTS);
        let coarse_off = 0.15 * self.coarse.spacing_mm;
        let tried = |starts: Vec<Motion<Scan, Body>>| {
            let how = Try {
                moving: &few,
                reach_mm: extent * FIRST_REACH,
                near_mm: 1.5 * self.coarse.spacing_mm,
                off_mm: coarse_off.max(extent / 500.0),
                steps: 12,
            };
            self.tried(starts, &how)
        };
        let again = |starts: Vec<Motion<Scan, Body>>, steps: usize| {
            let how = Try {
                moving: &more,
                reach_mm: extent / 25.0,
                near_mm: 1.2 * self.coarse.spacing_mm,
                off_mm: coarse_off,
                steps,
            };
            self.tried(starts, &how)
        };
        let promising = |starts: Vec<Motion<Scan, Body>>| {
            // Nearly alike ones are kept here: the better scored of two is not always the one that settles well.
            let first = distinct(tried(starts), measured, SECOND, extent / 200.0);
            let second = distinct(again(first, 6), measured, THIRD, extent / 200.0);
            distinct(again(second, 20), measured, LAST, extent / 60.0)
        };
        // Each way to seek hands on its own: what one is sure of would crowd out what another alone has found.
        let plain = starts::plain_starts(self.reference.points(), measured.points());
        let sought = self.pairs.poses(&paired, FIRST);
        let last: Vec<_> = [plain].into_iter().chain(sought).flat_map(promising).collect();
        self.told_apart(measured, &last, &more, other)
    }

    /// Poses let settle to the end and judged on many points from both sides, the best first.
    ///
    /// Each settles in two ways: what lies off from the first is left where it is, or all within reach pulls at first. What
    /// holds a part fore and aft may be a few walls that the floors call outliers; and a floor that was put in too high may
    /// pull the rest with it. The score tells which was right. After a few steps those that are hopeless, and those that
    /// came to one place, go no further.
    fn told_apart(
        &self,
        measured: &Surface<Scan>,
        poses: &[Motion<Scan, Body>],
        few: &Sample,
        other: Option<&Judged>,
    ) -> Vec<Judged> {
        let fixed = Fixed::all_of(&self.judge);
        let (few_moving, settled_by) = (Moving::from(few), settled_by(measured));
        let many = Sample::of(measured, LAST_POINTS);
        let reach_mm = self.extent_mm / 50.0;
        let level = |widest_mm: f64, most_steps: usize| Level {
            reach_mm,
            widest_mm,
            spacing_mm: self.judge.spacing_mm,
            tolerance_mm: 0.02 * self.judge.spacing_mm,
            most_steps,
        };
        let mut begun: Vec<(Judged, Settled)> = poses
            .par_iter()
            .flat_map_iter(|pose| [0.0, reach_mm / TUKEY].map(|widest_mm| (pose, widest_mm)))
            .map(|(pose, widest_mm)| {
                let done = one_level(&fixed, &few_moving, *pose, &level(widest_mm, BEGUN_STEPS));
                (self.judged(measured, few, done.reference_from_measured), done)
            })
            .collect();
        begun.sort_by(|a, b| b.0.score.total_cmp(&a.0.score));
        let best = other.or(begun.first().map(|b| &b.0));
        let hopeless = best.map_or(0.0, |best| best.score - HOPELESS * best.on);
        // One is always carried on.
        let hopeful = begun
            .partition_point(|(judged, _)| judged.score >= hopeless)
            .max(1);
        begun.truncate(hopeful);
        let bounds = measured.cloud.bounds();
        let apart = |a: &Settled, b: &Settled| {
            bounds.is_some_and(|bounds| {
                let (a, b) = (&a.reference_from_measured, &b.reference_from_measured);
                a.largest_gap_mm(b, &bounds) > ONE_PLACE * self.judge.spacing_mm
            })
        };
        let mut kept: Vec<Settled> = Vec::new();
        for (_, done) in begun {
            if kept.iter().all(|other| apart(other, &done)) {
                kept.push(done);
            }
        }
        let mut last: Vec<Judged> = kept
            .into_par_iter()
            .map(|begun| {
                let level = level(0.0, LAST_STEPS);
                let done = one_level(&fixed, &settled_by, begun.reference_from_measured, &level);
                self.judged(measured, &many, done.reference_from_measured)
            })
            .collect();
        last.sort_by(|a, b| b.score.total_cmp(&a.score));
        last
    }

    /// The pose carried to the end, steadied against metal that was moved as one piece.
    ///
    /// A side that was repaired tilts the whole a little, and from there every point is off by so little that none looks
    /// wrong. So the set is also set by each larger half of the reference alone, cut across each axis; the setting whose
    /// distances have the least median wins (least median of squares, Rousseeuw 1984).
    pub fn steadied(&self, measured: &Surface<Scan>, pose: &Motion<Scan, Body>) -> Settled {
        let many = settled_by(measured);
        let level = |reach_mm: f64| Level {
            reach_mm,
            widest_mm: 0.0,
            spacing_mm: self.judge.spacing_mm,
            tolerance_mm: 0.01 * self.judge.spacing_mm,
            most_steps: 30,
        };
        let all = Fixed::all_of(&self.judge);
        let whole = one_level(&all, &many, *pose, &level(self.extent_mm / 100.0));
        let halves = larger_halves(self.judge.points());
        let tried: Vec<Settled> = halves
            .into_par_iter()
            .map(|half| {
                let fixed = Fixed::kept_of(&self.judge, &half);
                let by_half = one_level(&fixed, &many, *pose, &level(self.extent_mm / 100.0));
                one_level(
                    &all,
                    &many,
                    by_half.reference_from_measured,
                    &level(by_half.near_mm(self.judge.spacing_mm)),
                )
            })
            .collect();
        // A half may lead astray to where little is in common; what counts must stay comparable.
        let comparable = 0.5 * whole.pairs as f64;
        let best = tried
            .into_iter()
            .filter(|t| t.pairs as f64 > comparable)
            .fold(
                whole,
                |best, t| if t.sigma_mm < 0.9 * best.sigma_mm { t } else { best },
            );
        settle_near(
            &Fixed::all_of(self.reference),
            measured,
            &best.reference_from_measured,
            best.near_mm(self.judge.spacing_mm),
        )
    }

    fn judged(&self, measured: &Surface<Scan>, many: &Sample, motion: Motion<Scan, Body>) -> Judged {
        let views = Views {
            judge: &self.judge,
            seen: &self.seen,
            measured,
            many,
            off_mm: explained_mm(self.reference, measured),
            extent_mm: self.extent_mm,
        };
        views.judged(motion)
    }

    /// As [`super::AnyPose::cost_mm`], of a pose, on `many` points of the measured set.
    pub fn cost_mm(&self, measured: &Surface<Scan>, many: &Sample, pose: &Judged) -> f64 {
        let cap_mm = (6.0 * self.reference.spacing_mm.max(measured.spacing_mm)).max(self.extent_mm / 500.0);
        along_normals_mm(&self.judge, many, &pose.motion, cap_mm)
    }

    /// Poses let settle from near where they are, and judged, the best first.
    pub fn settled_near(&self, measured: &Surface<Scan>, poses: &[Motion<Scan, Body>]) -> Vec<Judged> {
        self.told_apart(measured, poses, &Sample::of(measured, SECOND_POINTS), None)
    }

    /// Lets every start settle and scores it, the best first.
    fn tried(&self, starts: Vec<Motion<Scan, Body>>, how: &Try<'_>) -> Vec<Motion<Scan, Body>> {
        let fixed = Fixed {
            cells: Some(&self.cells),
            ..Fixed::all_of(&self.coarse)
        };
        let moving = Moving::from(how.moving);
        let level = Level {
            reach_mm: how.reach_mm,
            widest_mm: 0.0,
            spacing_mm: self.coarse.spacing_mm,
            tolerance_mm: 0.05 * self.coarse.spacing_mm,
            most_steps: how.steps,
        };
        let mut tried: Vec<(f64, Motion<Scan, Body>)> = starts
            .par_iter()
            .map(|start| {
                let motion = one_level(&fixed, &moving, *start, &level).reference_from_measured;
                (
                    agreement(how.moving, &self.coarse, &motion, how.near_mm, how.off_mm).score(),
                    motion,
                )
            })
            .collect();
        tried.sort_by(|a, b| b.0.total_cmp(&a.0));
        tried.into_iter().map(|t| t.1).collect()
    }
}

/// Sixty per cent of the points at either end of each axis.
fn larger_halves(points: &[Point]) -> Vec<Vec<bool>> {
    let mut halves = Vec::new();
    for axis in 0..3 {
        let mut along: Vec<f64> = points.iter().map(|p| p[axis]).collect();
        along.sort_by(f64::total_cmp);
        let at = |share: f64| {
            along
                .get((along.len() as f64 * share) as usize)
                .copied()
                .unwrap_or(0.0)
        };
        let (low, high) = (at(0.6), at(0.4));
        if high < low {
            halves.push(points.iter().map(|p| p[axis] <= low).collect());
            halves.push(points.iter().map(|p| p[axis] >= high).collect());
        }
    }
    halves
}

/// How starts are tried.
struct Try<'a> {
    moving: &'a Sample,
    reach_mm: f64,
    near_mm: f64,
    off_mm: f64,
    steps: usize,
}

/// The points of a set by which the last few poses are settled.
fn settled_by(measured: &Surface<Scan>) -> Moving {
    Moving::from(&Sample::of(measured, SETTLED_POINTS))
}

impl From<&Sample> for Moving {
    fn from(sample: &Sample) -> Self {
        Self {
            points: sample.points.clone(),
            normals: sample.normals.clone(),
            sides_known: sample.sides_known,
            noise_mm: 0.0,
        }
    }
}

/// The mirror image of a set, thinned to what is needed to try how it lies.
pub fn mirror_image(measured: &Surface<Scan>) -> Surface<Scan> {
    let (picked, _) = evenly(measured, 2.0 * LAST_POINTS);
    let mirror = Mirror {
        normal: Vector::x(),
        offset_mm: 0.0,
    };
    let spacing_mm = side_of(measured, picked.len() as f64);
    measured.picked(&picked, spacing_mm).mirrored(&mirror)
}

/// How far off the surface the noise of both sets explains, or a third of the spacing.
pub fn explained_mm(reference: &Surface<Body>, measured: &Surface<Scan>) -> f64 {
    let spacing = reference.spacing_mm.max(measured.spacing_mm);
    (6.0 * reference.noise_mm.hypot(measured.noise_mm)).max(0.35 * spacing)
}

/// The surface on about `count` of its points, normals kept.
fn thinned(surface: &Surface<Body>, count: f64) -> Surface<Body> {
    let (picked, spacing_mm) = evenly(surface, count);
    surface.picked(&picked, spacing_mm)
}

/// Root mean square distance along the reference's normals, each capped.
fn along_normals_mm(
    reference: &Surface<Body>,
    moving: &Sample,
    motion: &Motion<Scan, Body>,
    cap_mm: f64,
) -> f64 {
    let signed = reference.sides_known && moving.sides_known;
    let sum: f64 = moving
        .points
        .iter()
        .zip(&moving.normals)
        .map(|(point, facing)| {
            let at = motion.apply(point);
            let Some(found) = reference.near.nearest_within(&at, 4.0 * cap_mm) else {
                return cap_mm * cap_mm;
            };
            let i = found.index as usize;
            let normal = reference.normals()[i];
            let cosine = normal.dot(&motion.turn(facing));
            if cosine.abs() < 0.5 || (signed && cosine < 0.0) {
                return cap_mm * cap_mm;
            }
            let d = normal.dot(&(at - reference.points()[i]));
            (d * d).min(cap_mm * cap_mm)
        })
        .sum();
    (sum / moving.points.len().max(1) as f64).sqrt()
}

/// The first `keep` settings that differ from each other by more than `apart_mm` somewhere.
fn distinct(
    tried: Vec<Motion<Scan, Body>>,
    measured: &Surface<Scan>,
    keep: usize,
    apart_mm: f64,
) -> Vec<Motion<Scan, Body>> {
    let Some(bounds) = measured.cloud.bounds() else {
        return Vec::new();
    };
    let mut kept: Vec<Motion<Scan, Body>> = Vec::new();
    for candidate in tried {
        if kept.len() == keep {
            break;
        }
        if kept
            .iter()
            .all(|k| k.largest_gap_mm(&candidate, &bounds) > apart_mm)
        {
            kept.push(candidate);
        }
    }
    kept
}
