//! Takes of parts of one thing, each in a frame of its own, joined into one set by all that they have in common.
//!
//! Two takes that overlap are set on each other, which makes a link (`linking`). Takes that are only laid one on the
//! next drift, since every link adds its error; a link that closes a loop shows how far. The pose graph (`graph`)
//! meets all links at once and shares the drift out by what each of them holds (Lu & Milios 1997, Autonomous Robots 4,
//! 333-349; Borrmann, Elseberg, Lingemann, Nüchter & Hertzberg 2008, Robotics and Autonomous Systems 56, 130-142).
//! Links that the others contradict are left out and told. Named points that takes share lay them first (`by_points`); why one was
//! not laid on another is told too (`no_link`). The same on any number of threads.

mod by_points;
mod graph;
mod linking;
mod misfit;
mod no_link;

use cloud::held::Motions;
use cloud::named::Datum;
use cloud::{Body, Bounds, Motion, Point, Scan, Surface, Warning};

use crate::RegisterError;
use crate::icp::Settled;
use by_points::links_by_points;
use graph::{LEAST_WEIGHT, held_to_the_first, laid_along, off_mm, solve, tree};
use linking::{first_links, loops};
use misfit::{KNOWN_POORLY_MM, length};

pub use by_points::FEWEST as FEWEST_POINTS;
pub use misfit::{LaidByPoints, PointsDoubt};
pub use no_link::{Loose, NoLink};

/// How often loops are looked for; each round lays the takes better for the next.
const ROUNDS: usize = 3;
/// What is told of, mm: 1/32 in.
const TOLD_MM: f64 = 25.4 / 32.0;

/// Two takes, set on each other by what they have in common.
#[derive(Debug, Clone)]
pub struct Link {
    /// The take that the other was set on, counted from 0.
    pub reference: usize,
    /// The other.
    pub measured: usize,
    /// The motion reference ← measured, by this link alone.
    pub reference_from_measured: Motion<Scan, Scan>,
    /// What the pairs hold, in the frame of the reference.
    pub motions: Motions,
    /// How many pairs count.
    pub pairs: usize,
    /// Root mean square of their distances along the normals, mm.
    pub rms_mm: f64,
    /// Share of the surface that the two have in common, the larger of the two views.
    pub overlap: f64,
    /// Whether named points that both takes have laid the one on the other.
    pub by_points: bool,
    /// What those points say of it; `None` where none have.
    pub points: Option<LaidByPoints>,
    /// Whether the takes hang together without it.
    pub closes_loop: bool,
    /// How far the measured take lies from where this link would have it, at the far corner of the take, when the
    /// takes are laid one on the next, mm.
    pub before_mm: f64,
    /// The same when all links are met at once, mm.
    pub after_mm: f64,
    /// What it counts, from 0 (contradicted by the others) to 1.
    pub weight: f64,
    /// Whether the other links say enough to have found it false.
    pub checked: bool,
}

impl Link {
    /// Whether the others contradict it, so that it was left out.
    pub fn left_out(&self) -> bool {
        self.weight < LEAST_WEIGHT
    }

    /// Two takes by the metal that they share.
    fn of(reference: usize, measured: usize, settled: Settled, overlap: f64) -> Self {
        // The reference was taken for the body for as long as the other was set on it.
        let motion = settled.reference_from_measured.then(&Motion::identity());
        Self {
            pairs: settled.pairs,
            rms_mm: settled.rms_mm,
            overlap,
            ..Self::new(reference, measured, motion, settled.motions)
        }
    }

    /// A link that has met no others yet, and of which nothing is known but how the two lie and what holds them so.
    fn new(
        reference: usize,
        measured: usize,
        reference_from_measured: Motion<Scan, Scan>,
        motions: Motions,
    ) -> Self {
        Self {
            reference,
            measured,
            reference_from_measured,
            motions,
            pairs: 0,
            rms_mm: 0.0,
            overlap: 0.0,
            by_points: false,
            points: None,
            closes_loop: false,
            before_mm: 0.0,
            after_mm: 0.0,
            weight: 1.0,
            checked: false,
        }
    }

    /// `take 3 on take 2`, counted from 1.
    fn words(&self) -> String {
        format!("take {} on take {}", self.measured + 1, self.reference + 1)
    }
}

/// What laying the takes one on the next adds up to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// The first take of the longest run of takes that each hang on the one before, counted from 0.
    pub first: usize,
    /// Its last.
    pub last: usize,
    /// How far the last would lie off at its far corner, against where all links put it, mm.
    pub off_mm: f64,
}

/// Takes that were joined.
#[derive(Debug, Clone)]
pub struct Joined {
    /// The motion joined ← take for each; the joined frame is that of the first take.
    pub joined_from_take: Vec<Motion<Scan, Body>>,
    /// The ± of each take at the far corner of its box in the joined frame, by all links through the chain, mm: 0 for the first;
    /// `None` where it hangs on one that slides.
    pub pms_mm: Vec<Option<f64>>,
    /// All links that were found: those that hang the takes together first, then those that close loops.
    pub links: Vec<Link>,
    /// The drift; `None` where no loop closes, so that nothing is known of it.
    pub drift: Option<Drift>,
    /// What the user should know; takes are counted from 1 in words.
    pub warnings: Vec<Warning>,
}

/// Why takes could not be joined.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NotJoined {
    /// Nothing to join.
    #[error("only {0} take; at least two are joined")]
    TooFew(usize),
    /// Takes that could be laid on none of the others without doubt.
    #[error("{}", each(.loose))]
    HangOnNothing {
        /// They, each with what came nearest; the largest group that hangs together is not among them.
        loose: Vec<Loose>,
    },
    /// The named points of two takes don't belong together.
    #[error("{}: {why}", pair(.measured, .reference))]
    PointsDisagree {
        /// The take that the other was set on, counted from 0.
        reference: usize,
        /// The other.
        measured: usize,
        /// Why.
        why: RegisterError,
    },
    /// The named points of two takes don't lay the one on the other without doubt.
    #[error("{}: {why}", pair(.measured, .reference))]
    PointsDoubtful {
        /// The take that the other was set on, counted from 0.
        reference: usize,
        /// The other.
        measured: usize,
        /// Why not.
        why: PointsDoubt,
    },
}

fn each(loose: &[Loose]) -> String {
    let take = |k: usize| format!("take {}", k + 1);
    let words: Vec<String> = loose
        .iter()
        .map(|one| format!("{} {}", take(one.take), one.why.words(one.on, take)))
        .collect();
    words.join("; ")
}

fn pair(measured: &usize, reference: &usize) -> String {
    format!("take {} on take {}", measured + 1, reference + 1)
}

/// Joins takes, each in a frame of its own or, where `given_in_one_frame`, all roughly in one. They are best given in
/// the order in which they were made: neighbours in the order are tried first. Two takes are linked where they have at
/// least [`crate::any_pose::LEAST_OVERLAP`] of their surface in common.
///
/// # Errors
/// [`NotJoined`] where there are fewer than two takes, or where some hang on nothing.
pub fn join(takes: &[Surface<Scan>], given_in_one_frame: bool) -> Result<Joined, NotJoined> {
    join_with_points(takes, given_in_one_frame, &[])
}

/// The same where named points of the takes are known, `points[k]` those of take k in its own frame: two takes that share
/// [`FEWEST_POINTS`] or more, not on one line, are laid by them, and what they have in common finishes it; along what that does
/// not hold the points keep it.
///
/// # Errors
/// As [`join`], where the points of two takes don't belong together, and where what they alone hold is in doubt.
pub fn join_with_points(
    takes: &[Surface<Scan>],
    given_in_one_frame: bool,
    points: &[Vec<Datum>],
) -> Result<Joined, NotJoined> {
    if takes.len() < 2 {
        return Err(NotJoined::TooFew(takes.len()));
    }
    let nowhere = Bounds {
        low: Point::origin(),
        high: Point::origin(),
    };
    let bounds: Vec<Bounds> = takes
        .iter()
        .map(|take| take.cloud.bounds().unwrap_or(nowhere))
        .collect();
    let (by_points, told) = links_by_points(takes, points)?;
    let mut links = first_links(takes, &bounds, given_in_one_frame, by_points)?;
    for _ in 0..ROUNDS {
        let laid = solve(&links, &bounds).joined_from_take;
        let more = loops(takes, &bounds, &laid, &links);
        if more.is_empty() {
            break;
        }
        links.extend(more);
    }
    let mut joined = met_at_once(links, &bounds);
    let of_links = std::mem::replace(&mut joined.warnings, told);
    joined.warnings.extend(of_links);
    Ok(joined)
}

/// Meets all links at once, and says what that changed.
fn met_at_once(mut links: Vec<Link>, bounds: &[Bounds]) -> Joined {
    let hanging = tree(bounds.len(), &links, 0..links.len());
    let before = laid_along(bounds.len(), &links, &hanging);
    let solved = solve(&links, bounds);
    let after = solved.joined_from_take;
    for (l, link) in links.iter_mut().enumerate() {
        link.closes_loop = !hanging.contains(&l);
        link.before_mm = off_mm(link, &before, bounds);
        link.after_mm = off_mm(link, &after, bounds);
        link.weight = solved.weights[l];
        link.checked = solved.checked[l];
    }
    let drift = drift(&links, &before, &after, bounds);
    let held = held_to_the_first(&links, bounds.len());
    let pms_mm: Vec<Option<f64>> = solved
        .pms_mm
        .into_iter()
        .zip(held)
        .map(|(pm, held)| pm.filter(|_| held))
        .collect();
    let mut warnings = warnings(&links, drift, bounds.len());
    warnings.extend(known_poorly(&pms_mm));
    Joined {
        warnings,
        joined_from_take: after,
        pms_mm,
        links,
        drift,
    }
}

/// The drift of the longest run of takes that each hang on the one before.
fn drift(
    links: &[Link],
    before: &[Motion<Scan, Body>],
    after: &[Motion<Scan, Body>],
    bounds: &[Bounds],
) -> Option<Drift> {
    let steps = |low: usize| {
        links.iter().find(|l| {
            !l.closes_loop && l.reference.min(l.measured) == low && l.reference.abs_diff(l.measured) == 1
        })
    };
    let (mut first, mut last, mut start) = (0, 0, 0);
    for take in 1..bounds.len() {
        if steps(take - 1).is_none() {
            start = take;
        }
        if take - start > last - first {
            (first, last) = (start, take);
        }
    }
    // Where no loop leads over any of these links, nothing is known of their errors.
    if !(first..last).filter_map(steps).any(|l| l.checked) {
        return None;
    }
    let chained = before[last].then(&before[first].inverse()).then(&after[first]);
    Some(Drift {
        first,
        last,
        off_mm: chained.largest_gap_mm(&after[last], &bounds[last]),
    })
}

/// A warning of the takes that the links put no nearer than to an eighth of an inch.
fn known_poorly(pms_mm: &[Option<f64>]) -> Option<Warning> {
    let each: Vec<String> = pms_mm
        .iter()
        .enumerate()
        .filter_map(|(k, pm)| Some((k, pm.filter(|pm| *pm > KNOWN_POORLY_MM)?)))
        .map(|(k, pm_mm)| format!("take {} to ± {}", k + 1, length(pm_mm)))
        .collect();
    (!each.is_empty()).then(|| {
        Warning::new(
            "take-known-poorly",
            format!(
                "the far corner of a take is known poorly through all the links before it ({}): let the takes have more in common, name more points and set them wider apart, or take one more that meets the first again",
                each.join(", ")
            ),
        )
    })
}

fn warnings(links: &[Link], drift: Option<Drift>, takes: usize) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for link in links {
        let words = link.words();
        if link.left_out() {
            warnings.push(Warning::new(
                "link-left-out",
                format!(
                    "{words}: the other links put it {:.1} mm off from there; this link was left out",
                    link.after_mm
                ),
            ));
        } else if link.checked && link.after_mm > TOLD_MM {
            warnings.push(Warning::new(
                "loop-open",
                format!(
                    "{words}: lies {:.1} mm off at the far corner when all links are met; a link on its loop is false, or the thing has changed between the takes",
                    link.after_mm
                ),
            ));
        }
        if link.checked {
            continue;
        }
        let free = link.motions.held().free.len();
        if free > 0 && !link.by_points {
            warnings.push(Warning::new(
                "link-slides",
                format!(
                    "{words}: what they have in common leaves {free} of the six motions free, and no loop holds them; take one more that sees both"
                ),
            ));
        }
    }
    match drift {
        Some(drift) if drift.off_mm > TOLD_MM => warnings.push(Warning::new(
            "drift",
            format!(
                "laid one on the next from take {} on, take {} would lie {:.1} mm off; the loops share that out",
                drift.first + 1,
                drift.last + 1,
                drift.off_mm
            ),
        )),
        None if takes > 2 => warnings.push(Warning::new(
            "drift-unknown",
            "no take overlaps one that it was not laid on, so no loop closes and nothing says how far the takes drift; take one more that meets the first again",
        )),
        _ => {}
    }
    warnings
}

#[cfg(test)]
mod tests;
