//! Setting from any pose, with no start given: many poses tried on few points, the best carried to the end.
//!
//! Poses come from pairs of points that look alike on both sets (`pairs`) and from laying the principal axes on each
//! other. Each is let settle on a few points that are worth most, and scored by what speaks for it less what speaks against
//! it (`worth`); metal that has no counterpart says nothing, so that a third of the surface in common is enough. The
//! runner-up is kept: a nearly symmetrical part can lie in more than one way.

mod by_kept;
mod by_metal;
mod judged;
mod pairs;
mod ready;
mod starts;
mod worth;

use cloud::{Body, Frame, Motion, Scan, Surface, Warning};
use rayon::prelude::*;

use crate::RegisterError;
use crate::icp::Settled;
pub use by_kept::told_by_kept;
pub use by_metal::{Metal, Rather, metal_would_rather};
pub use judged::Judged;
pub use ready::Ready;
use ready::{LAST_POINTS, explained_mm, mirror_image};
use worth::Sample;

/// Share of the surface that the two sets must have in common.
pub const LEAST_OVERLAP: f64 = 0.2;
/// A runner-up whose score falls short of the best's by less than this share of what speaks for the best could also be
/// meant.
const ALSO_POSSIBLE: f64 = 0.2;

/// … and that has at least this share of the metal in common that the best has.
const LEAST_SAID: f64 = 0.3;
/// Two whose scores differ by less than this share of what speaks for the best are level …
const LEVEL: f64 = 0.05;
/// … and the one is taken that is contradicted clearly less for what it says, by this factor and by this share of it: a wrong
/// pose that happens to lay more metal on metal scores more for it, but cannot keep walls from lying across.
const CLEARLY_LESS: f64 = 0.75;
const MATERIAL: f64 = 0.01;
/// One of which at least this share of what the best says lies on metal, and hardly less of it alike, fits elsewhere as well:
/// two ends of a plain pan lie on each other without a word against it.
const SAYS_SOMETHING: f64 = 0.4;
const HARDLY_LESS: f64 = 0.05;

/// The best setting found, and the next that is really another.
#[derive(Debug, Clone)]
pub struct AnyPose {
    /// The best.
    pub best: Settled,
    /// What speaks for it less what speaks against it, both sets' views together, at most two.
    pub score: f64,
    /// What speaks for it.
    pub on: f64,
    /// Root mean square distance of the best along the normals, each capped, mm.
    pub cost_mm: f64,
    /// The next best that lies differently.
    pub runner_up: Option<RunnerUp>,
    /// All that lie differently, from it and from each other, and fit nearly as well.
    pub also: Vec<Motion<Scan, Body>>,
    /// One that lies elsewhere, with less in common, and is contradicted no more, where none of `also` is told instead.
    pub elsewhere: Option<Elsewhere>,
    /// Score of the best when the measured set is mirrored: much larger where it is of the other hand.
    pub mirrored_score: f64,
    /// As `alike`, of that.
    pub mirrored_alike: f64,
    /// Share of the surface that the two have in common, the larger of the two views.
    pub overlap: f64,
    /// Of what has a counterpart near, the share that lies on it and faces alike.
    pub alike: f64,
}

/// The next best setting.
#[derive(Debug, Clone)]
pub struct RunnerUp {
    /// Its score.
    pub score: f64,
    /// Its capped cost, mm.
    pub cost_mm: f64,
    /// How far it is turned from the best, degrees.
    pub turned_deg: f64,
    /// Whether it fits nearly as well.
    pub nearly_as_good: bool,
    /// Whether nothing says which of the two is meant: it fits as well, or is clearly less contradicted.
    pub undecided: bool,
}

/// A setting with less in common than the best, and no more against it.
#[derive(Debug, Clone, Copy)]
pub struct Elsewhere {
    /// How far it is turned from the best, degrees.
    pub turned_deg: f64,
    /// What speaks for it, as a share of what speaks for the best.
    pub share: f64,
}

/// The warnings that it could lie another way round.
pub const WAYS_ROUND: [&str; 2] = [EITHER_WAY, COULD_ALSO];
const EITHER_WAY: &str = "lies-either-way";
const COULD_ALSO: &str = "could-also-lie";

/// Where less of what the sets cover alike lies on each other, the two may not be the same part.
const LEAST_ALIKE: f64 = 0.6;
/// Where less does, they are not.
const NOT_ALIKE: f64 = 0.4;
/// The mirror image fits clearly better where its score is higher by this share of what speaks for the plain one.
const CLEARLY_BETTER: f64 = 0.15;

/// Where less of the surface than this is in common, metal that is much alike elsewhere can pass for it: two windows of a tub,
/// a third in common and a fifth of strays, were laid end for end twice in eighteen.
const LITTLE_IN_COMMON: f64 = 0.45;

/// A set that can't be set as it is may be of the other hand where of its mirror image more than this lies alike.
const SURELY_ALIKE: f64 = 0.8;

/// The hand is told where plain and mirrored differ by more than this share of what speaks for the plain one.
const HAND_TOLD: f64 = 0.03;

impl AnyPose {
    /// Whether anything in the shape tells the hand: the mirror image fits otherwise than the set itself.
    pub fn hand_told(&self) -> bool {
        (self.mirrored_score - self.score).abs() > HAND_TOLD * self.on
    }

    /// The one of the poses that could be meant of which `says` tells something clearly better than of every other, each with
    /// each; nothing where nothing can be said of one of them, or where none stands out.
    pub fn told_by<T>(
        &self,
        says: impl Fn(&Motion<Scan, Body>) -> Option<T>,
        clearly_better: impl Fn(&T, &T) -> bool,
    ) -> Option<Motion<Scan, Body>> {
        let best = std::iter::once(&self.best.reference_from_measured);
        let poses: Vec<_> = best.chain(&self.also).copied().collect();
        let said: Vec<T> = poses.iter().map(says).collect::<Option<_>>()?;
        standing_out(&said, clearly_better).map(|which| poses[which])
    }

    /// What to look at where so little is in common that a part that is alike at both ends may lie wrongly.
    pub fn little_in_common(&self) -> Option<Warning> {
        (self.overlap < LITTLE_IN_COMMON).then(|| {
            Warning::new(
                "little-in-common",
                format!(
                    "only {:.0} % of the surface is in common: metal that is alike elsewhere may have been taken for it; look at the picture, or name points",
                    100.0 * self.overlap
                ),
            )
        })
    }

    /// What to look at where the shape says little about where the set lies.
    pub fn fits_elsewhere(&self) -> Option<Warning> {
        self.elsewhere.map(|other| {
            let turned = match other.turned_deg < 1.0 {
                true => "beside where it was laid".to_string(),
                false => format!("turned by {:.0}°", other.turned_deg),
            };
            Warning::new(
                "fits-elsewhere",
                format!(
                    "{turned}, with {:.0} % of the metal in common that it has as it was laid, nothing would speak against it either: its shape says little about where it lies; look at the picture, or name points or holes",
                    100.0 * other.share
                ),
            )
        })
    }

    /// What speaks against the setting: another that fits nearly as well, the other hand, another part.
    pub fn doubts(&self) -> Vec<Warning> {
        let mut doubts = Vec::new();
        if self.mirrored_score > self.score + CLEARLY_BETTER * self.on {
            doubts.push(Warning::new(
                "fits-mirrored",
                format!(
                    "it fits clearly better mirrored (score {:.2} for {:.2}): is it the other hand, or are two axes swapped in the file?",
                    self.mirrored_score, self.score
                ),
            ));
        }
        if self.alike < LEAST_ALIKE {
            doubts.push(Warning::new(
                "poor-match",
                format!(
                    "only {:.0} % of the surface that the two sets cover alike lies on each other: are they the same part, and in the right units?",
                    100.0 * self.alike
                ),
            ));
        }
        if let Some(other) = self.runner_up.as_ref().filter(|r| r.nearly_as_good) {
            let there = if other.turned_deg < 1.0 {
                "a little beside where it was laid".to_string()
            } else {
                format!("turned by {:.0}°", other.turned_deg)
            };
            let scores = format!("score {:.2} for {:.2}", other.score, self.score);
            doubts.push(if other.undecided {
                Warning::new(
                    EITHER_WAY,
                    format!(
                        "it could as well lie {there} ({scores}), and its shape does not say which: look at the picture, and name points to set it by"
                    ),
                )
            } else {
                Warning::new(
                    COULD_ALSO,
                    format!(
                        "it could also lie {there}, which fits nearly as well ({scores}); name points to decide"
                    ),
                )
            });
        }
        doubts
    }
}

impl Judged {
    /// Whether its score falls short of another's by less than a share of what speaks for that, and it says enough.
    fn near_to(&self, other: &Self, share: f64) -> bool {
        self.score > other.score - share * other.on && self.on > LEAST_SAID * other.on
    }

    /// How far it is turned from another, degrees.
    fn turned_deg(&self, other: &Self) -> f64 {
        self.motion.then(&other.motion.inverse()).angle().to_degrees()
    }

    /// Whether it lays a good part of what another lays on metal, and no more speaks against it.
    fn as_clean_as(&self, other: &Self) -> bool {
        self.on > SAYS_SOMETHING * other.on
            && self.alike > other.alike - HARDLY_LESS
            && self.contradicted < other.contradicted + MATERIAL
    }

    /// Whether clearly less speaks against it than against another, for what each says.
    fn clearly_less_contradicted_than(&self, other: &Self) -> bool {
        self.contradicted < (CLEARLY_LESS * other.contradicted).min(other.contradicted - MATERIAL)
    }
}

/// Finds how the measured surface lies on the fixed one, from any pose.
///
/// # Errors
/// [`RegisterError::TooLittleOverlap`] where the best setting leaves too much without a partner, and
/// [`RegisterError::FitsMirrored`] where the mirror image's does not.
pub fn from_any_pose(reference: &Surface<Body>, measured: &Surface<Scan>) -> Result<AnyPose, RegisterError> {
    let ready = Ready::new(reference, measured);
    let last = ready.settings(measured, None);
    let refused = |overlap: f64| RegisterError::TooLittleOverlap {
        overlap_percent: 100.0 * overlap,
        needed_percent: 100.0 * LEAST_OVERLAP,
    };
    let bounds = measured.cloud.bounds();
    let elsewhere = |a: &Judged, b: &Judged| {
        bounds.is_some_and(|around| a.motion.largest_gap_mm(&b.motion, &around) > around.diagonal() / 40.0)
    };
    let first = foremost(&last, elsewhere).ok_or_else(|| refused(0.0))?;
    let many = Sample::of(measured, LAST_POINTS);
    let runner_up = last
        .iter()
        .find(|other| elsewhere(first, other))
        .map(|other| RunnerUp {
            score: other.score,
            cost_mm: ready.cost_mm(measured, &many, other),
            turned_deg: first.turned_deg(other),
            nearly_as_good: other.near_to(first, ALSO_POSSIBLE),
            undecided: other.near_to(first, LEVEL) || other.clearly_less_contradicted_than(first),
        });
    let mut also: Vec<&Judged> = Vec::new();
    for other in last.iter().filter(|other| other.near_to(first, ALSO_POSSIBLE)) {
        if elsewhere(first, other) && also.iter().all(|a| elsewhere(a, other)) {
            also.push(other);
        }
    }
    let clean = |other: &&Judged| elsewhere(first, other) && other.as_clean_as(first);
    let elsewhere = last
        .iter()
        .filter(|_| also.is_empty())
        .find(clean)
        .map(|other| Elsewhere {
            turned_deg: first.turned_deg(other),
            share: other.on / first.on,
        });
    let best = ready.steadied(measured, &first.motion);
    let overlap = overlap(reference, measured, &best.reference_from_measured);
    let image = mirror_image(measured);
    let mirrored = ready.settings(&image, Some(first));
    if overlap < LEAST_OVERLAP || first.alike < NOT_ALIKE {
        let fits = mirrored
            .first()
            .filter(|m| m.alike > SURELY_ALIKE && m.is_clearly_better_than(first));
        let share = fits.map_or(0.0, |m| self::overlap(reference, &image, &m.motion));
        return Err(if share < LITTLE_IN_COMMON {
            refused(overlap)
        } else {
            RegisterError::FitsMirrored {
                overlap_percent: 100.0 * overlap,
                mirrored_percent: 100.0 * share,
            }
        });
    }
    Ok(AnyPose {
        score: first.score,
        on: first.on,
        alike: first.alike,
        best,
        cost_mm: ready.cost_mm(measured, &many, first),
        mirrored_score: mirrored.first().map_or(0.0, |m| m.score),
        mirrored_alike: mirrored.first().map_or(0.0, |m| m.alike),
        runner_up,
        also: also.iter().map(|other| other.motion).collect(),
        elsewhere,
        overlap,
    })
}

/// The one to take of settings that are given best first.
fn foremost(last: &[Judged], elsewhere: impl Fn(&Judged, &Judged) -> bool) -> Option<&Judged> {
    let best = last.first()?;
    let instead = last
        .iter()
        .filter(|other| other.near_to(best, LEVEL) && elsewhere(best, other))
        .filter(|other| other.clearly_less_contradicted_than(best))
        .min_by(|a, b| a.contradicted.total_cmp(&b.contradicted));
    instead.or(Some(best))
}

/// Which of them is clearly better than every other.
fn standing_out<T>(all: &[T], clearly_better: impl Fn(&T, &T) -> bool) -> Option<usize> {
    let beats = |one: usize, k: usize| k == one || clearly_better(&all[one], &all[k]);
    (0..all.len()).find(|&one| (0..all.len()).all(|k| beats(one, k)))
}

/// The share of surface that the two sets have in common when so set: of the measured points that lie on the
/// reference, or of the reference's that lie on the measured set, whichever is larger, so that a small part on a whole
/// shell counts as all in common. To lie on it is to be near, to face alike within 45° and to be off the surface by no
/// more than the noise explains (or a third of the spacing).
pub fn overlap(reference: &Surface<Body>, measured: &Surface<Scan>, motion: &Motion<Scan, Body>) -> f64 {
    let spacing = reference.spacing_mm.max(measured.spacing_mm);
    let off = explained_mm(reference, measured);
    share_on(measured, reference, motion, 3.0 * spacing, off).max(share_on(
        reference,
        measured,
        &motion.inverse(),
        3.0 * spacing,
        off,
    ))
}

/// The share of `from` that lies on `onto`, when moved.
fn share_on<F: Frame, G: Frame>(
    from: &Surface<F>,
    onto: &Surface<G>,
    onto_from: &Motion<F, G>,
    reach_mm: f64,
    off_mm: f64,
) -> f64 {
    let step = from.points().len().div_ceil(5_000).max(1);
    let asked: Vec<usize> = (0..from.points().len()).step_by(step).collect();
    let hits = asked
        .par_iter()
        .filter(|&&i| {
            let at = onto_from.apply(&from.points()[i]);
            onto.near.nearest_within(&at, reach_mm).is_some_and(|n| {
                let j = n.index as usize;
                let normal = onto.normals()[j];
                let alike =
                    normal.dot(&onto_from.turn(&from.normals()[i])).abs() > std::f64::consts::FRAC_1_SQRT_2;
                alike && normal.dot(&(at - onto.points()[j])).abs() < off_mm
            })
        })
        .count();
    hits as f64 / asked.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_stands_out_only_where_it_is_clearly_better_than_every_other() {
        let by_two = |all: &[i32]| standing_out(all, |one, other| *one >= other + 2);
        assert_eq!(by_two(&[1, 5, 3]), Some(1));
        assert_eq!(by_two(&[4, 2]), Some(0));
        assert_eq!(by_two(&[4, 1, 3]), None);
        assert_eq!(by_two(&[3, 3]), None);
    }

    /// The figures are those of two windows of a tub with a third in common: laid right, and end for end.
    #[test]
    fn of_two_that_are_level_the_one_that_is_contradicted_less_is_taken() {
        let judged = |score: f64, on: f64, contradicted: f64| Judged {
            motion: Motion::identity(),
            score,
            on,
            alike: 0.9,
            contradicted,
        };
        let (end_for_end, right) = (judged(0.632, 0.97, 0.055), judged(0.622, 0.75, 0.03));
        let taken = |last: &[Judged]| foremost(last, |_, _| true).map(|first| first.on);
        assert_eq!(taken(&[end_for_end, right]), Some(0.75));
        assert_eq!(
            foremost(&[end_for_end, right], |_, _| false).map(|f| f.on),
            Some(0.97)
        );
        // Clearly better by score, hardly less contradicted, or too little said: the best stays.
        for other in [
            judged(0.5, 0.75, 0.03),
            judged(0.622, 0.75, 0.05),
            judged(0.622, 0.2, 0.0),
        ] {
            assert_eq!(taken(&[end_for_end, other]), Some(0.97));
        }
        // Nearly nothing speaks against either: which of the two has still less of it is chance.
        let (right, turned) = (judged(1.751, 1.564, 0.0024), judged(1.728, 1.471, 0.0006));
        assert_eq!(taken(&[right, turned]), Some(1.564));
        assert_eq!(taken(&[]), None);
    }
}
