//! Setting by holes without names: the largest set of pairs that lie in one and the same constellation.
//!
//! Two pairs go together where the distance between their holes is the same on both sides, and so are the angles between
//! their axes and against the line from the one to the other. The largest set of pairs that all go together, two and two,
//! is the setting (maximal clique of the correspondences; Bailey, Nebot, Rosenblatt & Durrant-Whyte 2000, Proc. ICRA).
//! Distances don't tell a constellation from its mirror image, so that every set must also be brought together by a turn
//! and a shift. The best set with another motion is handed back too: a symmetrical pattern lies in more than one way.

mod clique;

use cloud::held::Motions;
use cloud::{Body, Bounds, Matrix3, Motion, Point, Scan, Vector, eigen, statistics};

use crate::RegisterError;
use crate::fit::{PairFit, rigid};
use crate::partners::held_by;
use clique::{Graph, Judged};

/// Two holes may be one when their sizes differ by no more than this, mm (1/32 in).
const SAME_SIZE_MM: f64 = 25.4 / 32.0;
/// … or than the ± of both explains, but never by more than this, mm (1/8 in).
const MOST_SIZE_MM: f64 = 25.4 / 8.0;
/// Angles agree within this, rad (10°).
const SAME_ANGLE: f64 = std::f64::consts::PI / 18.0;
/// The line between two holes has a direction worth comparing from this many tolerances on: 1/10 is half of 10°.
const LONG_ENOUGH: f64 = 10.0;
/// Holes hold the turn about their line when they lie off it by this many tolerances (rms).
const OFF_THE_LINE: f64 = 2.0;
/// Of sets with as many holes the one counts whose turn is known best; each hole is known to no less than so many tolerances.
const KNOWN_TO: f64 = 0.25;
/// Two motions that part farther than so many tolerances anywhere in the set are two.
const ANOTHER: f64 = 5.0;
/// A pair belongs to a motion that leaves it so many tolerances apart, when the runner-up is sought.
const ITS_OWN: f64 = 2.0;
/// Pairs that are searched at most; of more, those of the rarer sizes.
const MOST_PAIRS: usize = 4_096;
/// Sets that are tried at most, for the best and for the runner-up.
const MOST_TRIES: usize = 200_000;
/// Other ways that are sought at most: a square lies on itself in eight.
const MOST_OTHERS: usize = 7;
/// Rounds of counting what fits and fitting it again.
const MOST_ROUNDS: usize = 10;

/// A hole, or another place with an axis and a size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Its centre, mm.
    pub at_mm: Point,
    /// Its axis; which way it points and how long it is don't count. All zeros where it is not known.
    pub axis: Vector,
    /// Its size, mm: the diameter of a round hole.
    pub size_mm: f64,
    /// Its ±, mm; 0 where it is known for sure.
    pub size_pm_mm: f64,
}

/// A setting by holes without names.
#[derive(Debug, Clone)]
pub struct Constellation {
    /// The motion reference ← measured.
    pub reference_from_measured: Motion<Scan, Body>,
    /// Which hole of the reference is which of the measured, by their indices, in the reference's order.
    pub pairs: Vec<(usize, usize)>,
    /// How far each pair lies apart after the setting, mm.
    pub residuals_mm: Vec<f64>,
    /// Over the pairs, mm.
    pub rms_mm: f64,
    /// What the pairs hold, with the spread that their residuals show.
    pub motions: Motions,
    /// Degrees of freedom of the residuals: 3 n − 6.
    pub freedoms: usize,
    /// The next best setting that is another: how many pairs it has, how far it is turned from the best (degrees), and
    /// its motion. With as many pairs as the best, nothing tells the two apart.
    pub runner_up: Option<(usize, f64, Motion<Scan, Body>)>,
    /// Whether every set of pairs was tried; else a better one, or a better runner-up, may have been missed.
    pub searched_all: bool,
}

/// Sets the measured places on the reference's by the largest constellation that both have in common. Two places of it lie
/// as far apart on the one side as on the other within `tolerance_mm`; after the setting each pair lies together within it.
///
/// # Errors
/// Where fewer than three places match, or all that do lie on one line; where a coordinate is not finite.
pub fn match_places(
    reference: &[Place],
    measured: &[Place],
    tolerance_mm: f64,
) -> Result<Constellation, RegisterError> {
    match_ways(reference, measured, tolerance_mm).map(|(best, _)| best)
}

/// The same, with the other ways in which the measured places lie on the reference's: those that bring as many pairs together
/// as the best, or one fewer, and one more that brings fewer. Where so many sets of pairs go together that they can't all be
/// tried in time, one other at most.
///
/// # Errors
/// As [`match_places`].
pub fn match_ways(
    reference: &[Place],
    measured: &[Place],
    tolerance_mm: f64,
) -> Result<(Constellation, Vec<Constellation>), RegisterError> {
    let finite = |p: &Place| p.at_mm.iter().chain(p.axis.iter()).all(|c| c.is_finite());
    if !reference.iter().chain(measured).all(finite) {
        return Err(RegisterError::NotFinite);
    }
    let sky = Sky::new(reference, measured, tolerance_mm);
    let first = sky.sought(&[]);
    let (refused, first_searched_all) = (first.refused(), first.searched_all);
    let Some(mut best) = first.best.map(|found| sky.counted_again(found)) else {
        return Err(refused);
    };
    let mut searched_all = sky.has_all_pairs && first_searched_all;
    let mut others: Vec<Found> = Vec::new();
    while others.is_empty() || (searched_all && others.len() < MOST_OTHERS) {
        let ways = std::iter::once(&best).chain(&others);
        let known: Vec<Motion<Scan, Body>> = ways.map(|way| way.fit.motion).collect();
        let next = sky.sought(&known);
        searched_all &= next.searched_all;
        let other = next
            .best
            .map(|found| sky.counted_again(found))
            .filter(|other| known.iter().all(|one| sky.part(one, &other.fit.motion)));
        let Some(mut other) = other else {
            break;
        };
        if other.is_better_than(&best, tolerance_mm) {
            std::mem::swap(&mut best, &mut other);
        }
        let many = other.pairs.len() + 1 >= best.pairs.len();
        others.push(other);
        if !many {
            break;
        }
    }
    let told = |one: &Found, other: Option<&Found>| sky.constellation(one, other, searched_all);
    let rest = others.iter().map(|other| told(other, Some(&best))).collect();
    Ok((told(&best, others.first()), rest))
}

/// Pairs that lie in one constellation, and their fit.
struct Found {
    /// By the reference's index.
    pairs: Vec<(usize, usize)>,
    fit: PairFit<Scan, Body>,
    /// How far they lie off one line (rms), mm.
    off_the_line_mm: f64,
}

impl Found {
    /// More pairs, or as many that lie closer for how far they lie off one line; rounding does not decide.
    fn is_better_than(&self, other: &Self, tolerance_mm: f64) -> bool {
        let more = self.pairs.len().cmp(&other.pairs.len());
        let turn = |one: &Self| (one.fit.rms_mm + KNOWN_TO * tolerance_mm) / one.off_the_line_mm;
        more.is_gt() || (more.is_eq() && turn(self) < (1.0 - 1e-6) * turn(other))
    }
}

/// What a search gave.
struct Sought {
    best: Option<Found>,
    /// Of the sets that don't hold a turn, the size of the largest.
    loose: usize,
    searched_all: bool,
}

impl Sought {
    fn refused(&self) -> RegisterError {
        match self.loose {
            0..3 => RegisterError::TooFew {
                what: "holes that match",
                found: self.loose,
                needed: 3,
            },
            _ => RegisterError::OnALine,
        }
    }
}

/// The places of both sides, and which pairs of them go together.
struct Sky<'a> {
    reference: &'a [Place],
    measured: &'a [Place],
    tolerance_mm: f64,
    /// Around the measured places.
    bounds: Option<Bounds>,
    /// The pairs that are searched.
    pairs: Vec<(usize, usize)>,
    /// Whether those are all that there are.
    has_all_pairs: bool,
    graph: Graph,
}

impl<'a> Sky<'a> {
    fn new(reference: &'a [Place], measured: &'a [Place], tolerance_mm: f64) -> Self {
        let (pairs, has_all_pairs) = alike(reference, measured);
        let together = |a: usize, b: usize| {
            let ((i, j), (k, l)) = (pairs[a], pairs[b]);
            let (from, to) = ([&reference[i], &reference[k]], [&measured[j], &measured[l]]);
            i != k && j != l && lie_alike(from, to, tolerance_mm)
        };
        Self {
            graph: Graph::new(pairs.len(), together),
            bounds: Bounds::of(measured.iter().map(|p| &p.at_mm)),
            reference,
            measured,
            tolerance_mm,
            pairs,
            has_all_pairs,
        }
    }

    /// The largest set of pairs that a motion brings together, of equals the closest; with `known`, of those whose motion
    /// is another than any of those.
    fn sought(&self, known: &[Motion<Scan, Body>]) -> Sought {
        let mut best: Option<Found> = None;
        let mut loose = 0;
        let searched_all = self.graph.search(MOST_TRIES, &mut |chosen| {
            let mut pairs: Vec<(usize, usize)> = chosen.iter().map(|&c| self.pairs[c]).collect();
            pairs.sort_unstable();
            let Some(found) = self.found(pairs) else {
                loose = loose.max(chosen.len());
                return Judged::Open;
            };
            // A mirror image has the distances but can't be turned there; no larger set with it can.
            if found.fit.rms_mm > self.tolerance_mm {
                return Judged::Rejected;
            }
            let mut another = true;
            for known in known {
                let own = ITS_OWN * self.tolerance_mm;
                let its_own = found.pairs.iter().all(|pair| self.apart_mm(known, pair) <= own);
                match (its_own, self.part(known, &found.fit.motion)) {
                    (true, false) => return Judged::Rejected,
                    (false, true) => {}
                    _ => another = false,
                }
            }
            if !another {
                return Judged::Open;
            }
            if best
                .as_ref()
                .is_none_or(|b| found.is_better_than(b, self.tolerance_mm))
            {
                best = Some(found);
            }
            Judged::Good
        });
        Sought {
            best,
            loose,
            searched_all,
        }
    }

    /// All that is to be told of what was found, with the next best beside it.
    fn constellation(&self, found: &Found, other: Option<&Found>, searched_all: bool) -> Constellation {
        let motion = found.fit.motion;
        let at: Vec<Point> = found
            .pairs
            .iter()
            .map(|&(i, _)| self.reference[i].at_mm)
            .collect();
        let freedoms = (3 * at.len()).saturating_sub(6);
        let square: f64 = found.fit.residuals_mm.iter().map(|r| r * r).sum();
        let sigma_mm = (square / freedoms.max(1) as f64).sqrt();
        Constellation {
            reference_from_measured: motion,
            motions: held_by(&at, &vec![1.0; at.len()], sigma_mm),
            rms_mm: statistics::rms(&found.fit.residuals_mm),
            pairs: found.pairs.clone(),
            residuals_mm: found.fit.residuals_mm.clone(),
            freedoms,
            runner_up: other.map(|other| {
                let other_motion = other.fit.motion;
                let turned = motion.then(&other_motion.inverse()).angle();
                (other.pairs.len(), turned.to_degrees(), other_motion)
            }),
            searched_all,
        }
    }

    /// All pairs that the motion brings together, each hole once and the closest first, fitted anew until nothing changes.
    fn counted_again(&self, mut found: Found) -> Found {
        for _ in 0..MOST_ROUNDS {
            let pairs = self.brought_together(&found.fit.motion);
            let again = (pairs != found.pairs).then(|| self.found(pairs)).flatten();
            let Some(again) = again else {
                break;
            };
            found = again;
        }
        found
    }

    /// Each place with the nearest of the other side under the motion, within the tolerance and each once; by the
    /// reference's index.
    fn brought_together(&self, motion: &Motion<Scan, Body>) -> Vec<(usize, usize)> {
        let mut near: Vec<(f64, (usize, usize))> = Vec::new();
        for (i, there) in self.reference.iter().enumerate() {
            for (j, here) in self.measured.iter().enumerate() {
                let apart_mm = self.apart_mm(motion, &(i, j));
                if apart_mm <= self.tolerance_mm
                    && of_one_size(there, here)
                    && angle(&there.axis, &motion.turn(&here.axis)).is_none_or(|a| a <= SAME_ANGLE)
                {
                    near.push((apart_mm, (i, j)));
                }
            }
        }
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut pairs: Vec<(usize, usize)> = Vec::new();
        for (_, (i, j)) in near {
            if pairs.iter().all(|&(k, l)| i != k && j != l) {
                pairs.push((i, j));
            }
        }
        pairs.sort_unstable();
        pairs
    }

    fn fit(&self, pairs: &[(usize, usize)]) -> Result<PairFit<Scan, Body>, RegisterError> {
        let from: Vec<Point> = pairs.iter().map(|&(_, j)| self.measured[j].at_mm).collect();
        let to: Vec<Point> = pairs.iter().map(|&(i, _)| self.reference[i].at_mm).collect();
        rigid(&from, &to, None)
    }

    fn apart_mm(&self, motion: &Motion<Scan, Body>, &(i, j): &(usize, usize)) -> f64 {
        (motion.apply(&self.measured[j].at_mm) - self.reference[i].at_mm).norm()
    }

    /// Whether two motions are two: somewhere in the measured set they part.
    fn part(&self, one: &Motion<Scan, Body>, other: &Motion<Scan, Body>) -> bool {
        let gap_mm = self.bounds.map_or(0.0, |b| one.largest_gap_mm(other, &b));
        gap_mm > ANOTHER * self.tolerance_mm
    }

    /// The fit of pairs, where there are three or more, and far enough off one line that they hold the turn about it.
    fn found(&self, pairs: Vec<(usize, usize)>) -> Option<Found> {
        if pairs.len() < 3 {
            return None;
        }
        let n = pairs.len() as f64;
        let at: Vec<Vector> = pairs.iter().map(|p| self.reference[p.0].at_mm.coords).collect();
        let middle = at.iter().sum::<Vector>() / n;
        let scatter: Matrix3 = at.iter().map(|p| (p - middle) * (p - middle).transpose()).sum();
        let [thin, narrow, _] = eigen::eigenvalues(&scatter);
        let off_the_line_mm = ((thin.max(0.0) + narrow.max(0.0)) / n).sqrt();
        if off_the_line_mm < OFF_THE_LINE * self.tolerance_mm {
            return None;
        }
        Some(Found {
            fit: self.fit(&pairs).ok()?,
            pairs,
            off_the_line_mm,
        })
    }
}

/// The pairs of one size, by index, and whether those are all: of too many the ones whose places have the fewest others.
fn alike(reference: &[Place], measured: &[Place]) -> (Vec<(usize, usize)>, bool) {
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    let (mut of_reference, mut of_measured) = (vec![0usize; reference.len()], vec![0usize; measured.len()]);
    for (i, there) in reference.iter().enumerate() {
        for (j, here) in measured.iter().enumerate() {
            if of_one_size(there, here) {
                pairs.push((i, j));
                of_reference[i] += 1;
                of_measured[j] += 1;
            }
        }
    }
    let all = pairs.len() <= MOST_PAIRS;
    if !all {
        pairs.sort_by_key(|&(i, j)| (of_reference[i] * of_measured[j], i, j));
        pairs.truncate(MOST_PAIRS);
        pairs.sort_unstable();
    }
    (pairs, all)
}

fn of_one_size(a: &Place, b: &Place) -> bool {
    let pm_mm = a.size_pm_mm.hypot(b.size_pm_mm).min(MOST_SIZE_MM);
    (a.size_mm - b.size_mm).abs() <= SAME_SIZE_MM.max(pm_mm)
}

/// Whether two places of the reference lie to each other as two of the measured do: the distance between them, the angle
/// of their axes, and the angle of each axis against the line from one to the other.
fn lie_alike(there: [&Place; 2], here: [&Place; 2], tolerance_mm: f64) -> bool {
    let line = |[a, b]: [&Place; 2]| b.at_mm - a.at_mm;
    let (line_there, line_here) = (line(there), line(here));
    let length_mm = line_there.norm();
    if (length_mm - line_here.norm()).abs() > tolerance_mm {
        return false;
    }
    // An axis that is not known agrees with everything.
    let agree = |a: Option<f64>, b: Option<f64>| a.zip(b).is_none_or(|(a, b)| (a - b).abs() <= SAME_ANGLE);
    let axes = |[a, b]: [&Place; 2]| angle(&a.axis, &b.axis);
    if !agree(axes(there), axes(here)) {
        return false;
    }
    length_mm < LONG_ENOUGH * tolerance_mm
        || (0..2).all(|k| {
            agree(
                angle(&there[k].axis, &line_there),
                angle(&here[k].axis, &line_here),
            )
        })
}

/// The angle between two lines along `a` and `b`, 0 to π/2; `None` where one of them has no direction.
fn angle(a: &Vector, b: &Vector) -> Option<f64> {
    let lengths = a.norm() * b.norm();
    (lengths > 0.0).then(|| (a.dot(b).abs() / lengths).min(1.0).acos())
}

#[cfg(test)]
mod tests;
