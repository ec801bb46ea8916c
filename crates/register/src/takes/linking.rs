//! Finding links: takes set on each other with no start given, or from about where they lie.

use cloud::{Body, Bounds, Motion, Scan, Surface};
use rayon::prelude::*;

use super::graph::Groups;
use super::{Link, NotJoined};
use crate::any_pose::{self, LEAST_OVERLAP, from_any_pose};
use crate::icp::{Fixed, Settled, settle};

/// Takes that lie roughly in one frame are off by less than this share of their extent.
const ROUGHLY: f64 = 1.0 / 20.0;
/// Takes that were laid by other links are off by less than this share of it.
const DRIFTED: f64 = 1.0 / 50.0;
/// What two takes from any pose must have in common, and how much of what they cover alike must agree.
const SURE_OVERLAP: f64 = 0.3;
const SURE_ALIKE: f64 = 0.85;
/// The best held motion may be held so many times as well as the least held: the bumps of a floor are enough, the
/// roughness of a flat sheet (some thousands) is not.
const HELD_ENOUGH: f64 = 400.0;
/// Pairs of a true link lie apart by the noise of both takes, this many times at most, or by this share of the spacing.
const TIMES_NOISE: f64 = 3.0;
const OF_SPACING: f64 = 0.12;
/// Points of a take that are asked whether another could be near.
const ASKED: usize = 2_000;

/// A take that others are set on, and is taken for the body for that long.
struct Onto {
    index: usize,
    surface: Surface<Body>,
}

impl Onto {
    fn new(takes: &[Surface<Scan>], index: usize) -> Self {
        Self {
            index,
            surface: takes[index].moved(&Motion::identity()),
        }
    }

    /// Sets another take on this one with no start given; `None` where there is any doubt, since a false link makes a
    /// false whole that looks like a true one.
    fn found(&self, takes: &[Surface<Scan>], measured: usize) -> Option<Link> {
        let found = from_any_pose(&self.surface, &takes[measured]).ok()?;
        let held = found.best.motions.held().condition < HELD_ENOUGH;
        let sure = held
            && found.overlap >= SURE_OVERLAP
            && found.alike >= SURE_ALIKE
            && found.doubts().is_empty()
            && self.as_rough_as(&takes[measured], &found.best, 1.0);
        sure.then(|| Link::of(self.index, measured, found.best, found.overlap))
    }

    /// Whether the pairs lie no farther apart than the roughness of both takes explains.
    fn as_rough_as(&self, measured: &Surface<Scan>, settled: &Settled, times: f64) -> bool {
        let noise = self.surface.noise_mm.hypot(measured.noise_mm);
        let coarse = self.surface.spacing_mm.max(measured.spacing_mm);
        settled.rms_mm < times * (TIMES_NOISE * noise).max(OF_SPACING * coarse)
    }

    /// Sets another take on this one from about where it lies.
    fn refined(
        &self,
        takes: &[Surface<Scan>],
        measured: usize,
        start: &Motion<Scan, Scan>,
        reach_mm: f64,
    ) -> Option<Link> {
        let start: Motion<Scan, Body> = start.then(&Motion::identity());
        let settled = settle(&Fixed::all_of(&self.surface), &takes[measured], &start, reach_mm);
        let overlap = any_pose::overlap(&self.surface, &takes[measured], &settled.reference_from_measured);
        // Where they lie is known roughly, so a real scanner's own bend may show, up to twice what is taken for sure.
        let lies = overlap >= LEAST_OVERLAP && self.as_rough_as(&takes[measured], &settled, 2.0);
        lies.then(|| Link::of(self.index, measured, settled, overlap))
    }
}

/// Links over which all takes hang together: each take on the one before, and where that is not to be had, any on any.
///
/// # Errors
/// [`NotJoined::HangOnNothing`] where that leaves some loose.
pub fn first_links(
    takes: &[Surface<Scan>],
    bounds: &[Bounds],
    given_in_one_frame: bool,
) -> Result<Vec<Link>, NotJoined> {
    let look = |reference: usize, measured: usize| {
        if !given_in_one_frame {
            return Onto::new(takes, reference).found(takes, measured);
        }
        let reach_mm = ROUGHLY * larger_mm(&bounds[reference], &bounds[measured]);
        let there = Motion::identity();
        (could_share(&takes[reference], &takes[measured], &there, reach_mm) >= LEAST_OVERLAP)
            .then(|| Onto::new(takes, reference).refined(takes, measured, &there, reach_mm))
            .flatten()
    };
    let mut groups = Groups::of(takes.len());
    let mut links = Vec::new();
    for measured in 1..takes.len() {
        if let Some(link) = look(measured - 1, measured) {
            groups.tie(measured - 1, measured);
            links.push(link);
        }
    }
    for apart in 1..takes.len() {
        for low in 0..takes.len() - apart {
            let high = low + apart;
            // One may be found on the other where the other is not found on the one.
            for (reference, measured) in [(low, high), (high, low)] {
                let tried = apart == 1 && reference == low;
                if tried || groups.tied(low, high) {
                    continue;
                }
                if let Some(link) = look(reference, measured) {
                    groups.tie(low, high);
                    links.push(link);
                }
            }
        }
    }
    let takes = groups.loose();
    if takes.is_empty() {
        Ok(links)
    } else {
        Err(NotJoined::HangOnNothing { takes })
    }
}

/// Links between takes that have none yet and, as they are laid now, could have enough in common.
pub fn loops(
    takes: &[Surface<Scan>],
    bounds: &[Bounds],
    laid: &[Motion<Scan, Body>],
    links: &[Link],
) -> Vec<Link> {
    let mut more = Vec::new();
    for reference in 0..takes.len() {
        let mut onto = None;
        for measured in reference + 1..takes.len() {
            let linked = |l: &Link| {
                (l.reference, l.measured) == (reference, measured)
                    || (l.reference, l.measured) == (measured, reference)
            };
            if links.iter().any(linked) {
                continue;
            }
            let start = laid[measured].then(&laid[reference].inverse());
            let reach_mm = DRIFTED * larger_mm(&bounds[reference], &bounds[measured]);
            if could_share(&takes[reference], &takes[measured], &start, reach_mm) < LEAST_OVERLAP {
                continue;
            }
            more.extend(
                onto.get_or_insert_with(|| Onto::new(takes, reference))
                    .refined(takes, measured, &start, reach_mm),
            );
        }
    }
    more
}

fn larger_mm(a: &Bounds, b: &Bounds) -> f64 {
    a.diagonal().max(b.diagonal())
}

/// The share of the surface that two takes could have in common where they lie, the larger of the two views: with
/// metal of the other within `reach_mm` that faces alike.
fn could_share(
    reference: &Surface<Scan>,
    measured: &Surface<Scan>,
    reference_from_measured: &Motion<Scan, Scan>,
    reach_mm: f64,
) -> f64 {
    let signed = reference.sides_known && measured.sides_known;
    let view = |from: &Surface<Scan>, onto: &Surface<Scan>, onto_from: &Motion<Scan, Scan>| {
        let step = from.points().len().div_ceil(ASKED).max(1);
        let asked: Vec<usize> = (0..from.points().len()).step_by(step).collect();
        let near = asked
            .par_iter()
            .filter(|&&i| {
                let at = onto_from.apply(&from.points()[i]);
                onto.near.nearest_within(&at, reach_mm).is_some_and(|found| {
                    let normal = onto.normals()[found.index as usize];
                    let cosine = normal.dot(&onto_from.turn(&from.normals()[i]));
                    let facing = if signed { cosine } else { cosine.abs() };
                    facing > std::f64::consts::FRAC_1_SQRT_2
                })
            })
            .count();
        near as f64 / asked.len().max(1) as f64
    };
    let there = view(measured, reference, reference_from_measured);
    let back = view(reference, measured, &reference_from_measured.inverse());
    there.max(back)
}
