//! Setting surface on surface: point to plane, coarse to fine, with a robust weight whose scale is found.
//!
//! Chen & Medioni 1992 (point to plane); Tukey's biweight with c = 4.685 s, s = 1.4826 MAD, found anew at every step.
//! The fixed set is the reference, so that its regions say which pairs count; pairs on a rim, on the other face or far
//! off don't. Least squares would share a dent out over the sound metal; the weight leaves it where it is.

mod matching;
mod relief;
mod sliding;
mod step;

use cloud::{Body, Motion, Point, Scan, Surface, Vector, thin};

use cloud::bisquare::TUKEY;
use cloud::held::Motions;
use matching::Pairs;
pub use sliding::settle_at_home;

use crate::cells::Cells;

/// The reference, and which of its points count.
pub struct Fixed<'a> {
    /// The reference's surface.
    pub surface: &'a Surface<Body>,
    /// Which points pairs may be made with: not on a rim, and in a kept region where regions say so.
    pub usable: Vec<bool>,
    /// Where partners are looked up rather than searched for: enough while a pose is only tried.
    pub(crate) cells: Option<&'a Cells>,
}

impl<'a> Fixed<'a> {
    /// All of the reference but its rims.
    pub fn all_of(surface: &'a Surface<Body>) -> Self {
        Self {
            usable: surface.rim.iter().map(|rim| !rim).collect(),
            surface,
            cells: None,
        }
    }

    /// Only the points for which `kept` says yes, rims left out.
    pub fn kept_of(surface: &'a Surface<Body>, kept: &[bool]) -> Self {
        Self {
            usable: surface
                .rim
                .iter()
                .zip(kept)
                .map(|(rim, kept)| !rim && *kept)
                .collect(),
            surface,
            cells: None,
        }
    }
}

impl Fixed<'_> {
    /// The usable point that lies next to `at`, within `reach_mm`.
    #[inline]
    fn partner(&self, at: &Point, reach_mm: f64) -> Option<u32> {
        let found = match self.cells {
            None => self.surface.near.nearest_within(at, reach_mm)?.index,
            Some(cells) => {
                let i = cells.near(at)?;
                let off = self.surface.points()[i] - at;
                (off.norm_squared() <= reach_mm * reach_mm).then_some(i as u32)?
            }
        };
        self.usable[found as usize].then_some(found)
    }
}

/// How a setting came to its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// The last step was too small to matter.
    Settled,
    /// The steps began to repeat; the last was kept.
    Cycled,
    /// The steps were used up.
    RanOut,
}

/// A setting of surface on surface.
#[derive(Debug, Clone)]
pub struct Settled {
    /// The motion reference ← measured.
    pub reference_from_measured: Motion<Scan, Body>,
    /// Root mean square of the pairs that count, along the normals, mm.
    pub rms_mm: f64,
    /// Largest of them, mm.
    pub worst_mm: f64,
    /// Robust standard deviation of all pairs, mm.
    pub sigma_mm: f64,
    /// How many pairs count.
    pub pairs: usize,
    /// Share of the measured points that found a pair on a usable place and lie on it.
    pub share: f64,
    /// What the pairs hold.
    pub motions: Motions,
    /// How it ended.
    pub ending: Ending,
    /// The motions of each level, coarse to fine: its start, then the one after every step.
    pub path: Vec<Vec<Motion<Scan, Body>>>,
}

impl Settled {
    /// Steps taken on all levels.
    pub fn steps(&self) -> usize {
        self.path.iter().map(|level| level.len().saturating_sub(1)).sum()
    }

    /// Places that lie no farther apart than this pull where it is taken on from, mm.
    pub(crate) fn near_mm(&self, spacing_mm: f64) -> f64 {
        (12.0 * self.sigma_mm).max(3.0 * spacing_mm)
    }
}

/// Pairs of the same metal lie apart by so many times the noise of both sets at most, or by this share of the spacing.
const TIMES_NOISE: f64 = 3.0;
const OF_SPACING: f64 = 0.12;

/// The largest rms of pairs that the noise of both sets explains, mm: beyond it the metal has bent, or is not the same.
pub fn explained_rms_mm(reference: &Surface<Body>, measured: &Surface<Scan>) -> f64 {
    let noise_mm = reference.noise_mm.hypot(measured.noise_mm);
    let spacing_mm = reference.spacing_mm.max(measured.spacing_mm);
    (TIMES_NOISE * noise_mm).max(OF_SPACING * spacing_mm)
}

/// Most measured points that take part on the finest level; more make the answer no better than the noise allows.
const MOST_POINTS: usize = 300_000;
/// Most steps on one level.
const MOST_STEPS: usize = 60;

/// Sets the measured surface on the fixed one from `start`. Places farther apart than `reach_mm` at the start can't
/// pull; it shrinks as the setting settles. At first every place within reach pulls alike.
pub fn settle(
    fixed: &Fixed<'_>,
    measured: &Surface<Scan>,
    start: &Motion<Scan, Body>,
    reach_mm: f64,
) -> Settled {
    // On the first level every usable place pulls, however far off: a flange that holds a panel fore and aft is a small
    // minority, and a scale taken from the skin alone would call it an outlier.
    in_levels(fixed, measured, start, reach_mm, reach_mm / TUKEY)
}

/// As [`settle`], from a start that is nearly right: metal that lies off from the first is left where it is.
pub fn settle_near(
    fixed: &Fixed<'_>,
    measured: &Surface<Scan>,
    start: &Motion<Scan, Body>,
    reach_mm: f64,
) -> Settled {
    in_levels(fixed, measured, start, reach_mm, 0.0)
}

fn in_levels(
    fixed: &Fixed<'_>,
    measured: &Surface<Scan>,
    start: &Motion<Scan, Body>,
    reach_mm: f64,
    widest_mm: f64,
) -> Settled {
    let extent = measured.cloud.bounds().map_or(0.0, |b| b.diagonal());
    let spacing = measured.spacing_mm.max(fixed.surface.spacing_mm);
    let area = measured.points().len() as f64 * measured.spacing_mm.powi(2);
    let finest = (area / MOST_POINTS as f64).sqrt();
    let mut motion = *start;
    let mut reach = reach_mm;
    let mut path = Vec::new();
    let mut last = None;
    for (cell, tolerance) in [
        ((extent / 60.0).max(3.0 * spacing), 0.02),
        ((extent / 200.0).max(1.5 * spacing), 0.003),
        (finest, 2e-4),
    ] {
        let moving = Moving::of(measured, cell);
        let level = Level {
            reach_mm: reach,
            widest_mm: if last.is_none() { widest_mm } else { 0.0 },
            spacing_mm: spacing,
            tolerance_mm: tolerance * spacing,
            most_steps: MOST_STEPS,
        };
        let Some((pairs, steps, ending)) = steps(fixed, &moving, motion, &level) else {
            break;
        };
        let mut done = pairs.summary(steps, ending);
        motion = done.reference_from_measured;
        path.append(&mut done.path);
        reach = done.near_mm(spacing).min(reach);
        last = Some((done, pairs));
    }
    // Without points there is no level.
    let Some((mut done, pairs)) = last else {
        return Settled::nothing(motion);
    };
    // Asked of a setting that counts, and not of the thousands that are tried.
    relief::hold(&mut done.motions, &pairs.list);
    done.path = path;
    done
}

/// The measured points that take part on one level.
pub(crate) struct Moving {
    pub points: Vec<Point>,
    pub normals: Vec<Vector>,
    pub sides_known: bool,
    pub noise_mm: f64,
}

impl Moving {
    pub(crate) fn of(measured: &Surface<Scan>, cell_mm: f64) -> Self {
        // Cells as fine as the spacing would keep nearly every point at the price of a sort.
        let picked;
        let cloud = if cell_mm > 0.9 * measured.spacing_mm {
            let inner: Vec<u32> = thin::on_grid(measured.points(), cell_mm);
            picked = measured.cloud.pick(&inner);
            &picked
        } else {
            &measured.cloud
        };
        Self {
            points: cloud.points_mm.clone(),
            normals: cloud.normals.clone().unwrap_or_default(),
            sides_known: measured.sides_known,
            noise_mm: measured.noise_mm,
        }
    }
}

impl Settled {
    fn nothing(motion: Motion<Scan, Body>) -> Self {
        Self {
            reference_from_measured: motion,
            rms_mm: 0.0,
            worst_mm: 0.0,
            sigma_mm: 0.0,
            pairs: 0,
            share: 0.0,
            motions: Motions::of(&[], &[], 0.0),
            ending: Ending::RanOut,
            path: Vec::new(),
        }
    }
}

/// How one level goes.
pub(crate) struct Level {
    /// Places farther apart than this can't pull at the start; it shrinks.
    pub reach_mm: f64,
    /// The scale of the weight is at least this at the start, and less with every step (graduated non-convexity, Blake &
    /// Zisserman 1987).
    pub widest_mm: f64,
    /// Spacing of the coarser set.
    pub spacing_mm: f64,
    /// A step that moves nothing by more than this is the last.
    pub tolerance_mm: f64,
    /// Most steps.
    pub most_steps: usize,
}

/// While nothing has moved by more than this share of the spacing since the last search, its pairs are kept.
const STILL_THE_SAME: f64 = 0.02;
/// What is left of the widest scale after each step.
const NARROWING: f64 = 0.65;

/// Steps on one level until they are too small to matter.
pub(crate) fn one_level(
    fixed: &Fixed<'_>,
    moving: &Moving,
    start: Motion<Scan, Body>,
    level: &Level,
) -> Settled {
    match steps(fixed, moving, start, level) {
        Some((pairs, path, ending)) => pairs.summary(path, ending),
        None => Settled::nothing(start),
    }
}

/// The motions of one level: its start, then the one after every step.
type Way = Vec<Motion<Scan, Body>>;

/// The pairs at the end, the motions on the way and how it ended; `None` where there are no points.
fn steps(
    fixed: &Fixed<'_>,
    moving: &Moving,
    start: Motion<Scan, Body>,
    level: &Level,
) -> Option<(Pairs, Way, Ending)> {
    let bounds = cloud::Bounds::of(&moving.points)?;
    let mut path = vec![start];
    let mut motion = start;
    let mut reach = level.reach_mm;
    let mut widest = level.widest_mm;
    let mut ending = Ending::RanOut;
    let mut pairs = Pairs::find(fixed, moving, &motion, reach, widest);
    let mut searched = motion;
    let mut fresh = true;
    while path.len() <= level.most_steps {
        let Some(next) = step::solve(&pairs, &motion) else {
            break;
        };
        let moved = next.largest_gap_mm(&motion, &bounds);
        motion = next;
        path.push(motion);
        widest *= NARROWING;
        reach = (0.7 * reach)
            .max(10.0 * pairs.sigma_mm)
            .max(2.0 * TUKEY * widest)
            .max(2.5 * level.spacing_mm)
            .min(reach);
        let narrowing = widest > pairs.sigma_mm.max(level.tolerance_mm);
        let rests = moved < level.tolerance_mm && !narrowing;
        let step_was_fresh = std::mem::replace(&mut fresh, false);
        // At rest on kept pairs is not at rest: with new ones it may go on, and often does where it slides.
        let far = motion.largest_gap_mm(&searched, &bounds) >= STILL_THE_SAME * level.spacing_mm;
        pairs = if far || (rests && !step_was_fresh) {
            searched = motion;
            fresh = true;
            Pairs::find(fixed, moving, &motion, reach, widest)
        } else {
            pairs.again(fixed, moving, &motion, widest)
        };
        if narrowing {
            continue;
        }
        if rests && step_was_fresh {
            ending = Ending::Settled;
            break;
        }
        let repeats = |b: &Motion<Scan, Body>| motion.largest_gap_mm(b, &bounds) < 0.2 * level.tolerance_mm;
        if path.len() > 9 && path.iter().rev().skip(2).take(4).any(repeats) {
            ending = Ending::Cycled;
            break;
        }
    }
    Some((pairs, path, ending))
}

/// The normals and the distances along them, + proud, mm, of all pairs within `reach_mm` under a motion: none is left out
/// for lying off.
pub(crate) fn distances(
    fixed: &Fixed<'_>,
    moving: &Moving,
    motion: &Motion<Scan, Body>,
    reach_mm: f64,
) -> Vec<(Vector, f64)> {
    let pairs = Pairs::find(fixed, moving, motion, reach_mm, 0.0);
    pairs.list.iter().map(|p| (p.normal, p.distance_mm)).collect()
}

#[cfg(test)]
mod tests;
