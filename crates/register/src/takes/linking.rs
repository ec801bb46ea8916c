//! Finding links: takes set on each other with no start given, or from about where they lie.

use cloud::{Body, Bounds, Motion, Scan, Surface};
use rayon::prelude::*;

use super::graph::Groups;
use super::no_link::{Tried, least_held, loose};
use super::{Link, NoLink, NotJoined};
use crate::RegisterError;
use crate::any_pose::{self, AnyPose, LEAST_OVERLAP, from_any_pose};
use crate::icp::{Fixed, Settled, explained_rms_mm, settle};

/// Takes that lie roughly in one frame are off by less than this share of their extent.
const ROUGHLY: f64 = 1.0 / 20.0;
/// Takes that were laid by other links are off by less than this share of it.
const DRIFTED: f64 = 1.0 / 50.0;
/// What two takes from any pose must have in common, and how much of what they cover alike must agree.
const SURE_OVERLAP: f64 = 0.3;
const SURE_ALIKE: f64 = 0.85;
/// It is the other hand only where the mirror image agrees so well, and the take as it is does not.
const MIRRORED_ALIKE: f64 = 0.9;
/// The best held motion may be held so many times as well as the least held: the bumps of a floor are enough, the
/// roughness of a flat sheet (some thousands) is not.
const HELD_ENOUGH: f64 = 400.0;
/// A real scanner's own bend may show between takes of which it is known roughly where they lie, up to so many times.
pub const KNOWN_ROUGHLY: f64 = 2.0;
/// Another pose that is turned by less than this lies a little beside the best, degrees: the one slides on the other.
const BESIDE_DEG: f64 = 1.0;
/// Points of a take that are asked whether another could be near.
const ASKED: usize = 2_000;

/// A take that others are set on, and is taken for the body for that long.
pub struct Onto {
    pub index: usize,
    pub surface: Surface<Body>,
}

impl Onto {
    pub fn new(takes: &[Surface<Scan>], index: usize) -> Self {
        Self {
            index,
            surface: takes[index].moved(&Motion::identity()),
        }
    }

    /// Sets another take on this one with no start given; not where there is any doubt, since a false link makes a false whole
    /// that looks like a true one.
    fn found(&self, takes: &[Surface<Scan>], measured: usize) -> Result<Link, NoLink> {
        let found = from_any_pose(&self.surface, &takes[measured]).map_err(|why| refused(&why))?;
        match self.doubt(&takes[measured], &found) {
            Some(why) => Err(why),
            None => Ok(Link::of(self.index, measured, found.best, found.overlap)),
        }
    }

    /// What speaks against a setting from any pose, what says most first.
    fn doubt(&self, measured: &Surface<Scan>, found: &AnyPose) -> Option<NoLink> {
        let (overlap, alike) = (found.overlap, Some(found.alike));
        let doubts = found.doubts();
        let doubted = |code: &str| doubts.iter().any(|doubt| doubt.code == code);
        let other = found.runner_up.as_ref().filter(|other| other.nearly_as_good);
        let turned_deg = other.map(|o| o.turned_deg).filter(|deg| *deg >= BESIDE_DEG);
        let beside = other.is_some() && turned_deg.is_none();
        let held = found.best.motions.held().condition < HELD_ENOUGH;
        if overlap < SURE_OVERLAP {
            return Some(NoLink::TooLittle { overlap });
        }
        if doubted("fits-mirrored") {
            let is_other_hand = found.mirrored_alike > MIRRORED_ALIKE && found.alike < SURE_ALIKE;
            return Some(if is_other_hand {
                NoLink::Mirrored { overlap }
            } else {
                NoLink::LittleRelief { overlap }
            });
        }
        if doubted("poor-match") {
            return Some(NoLink::NotAlike { overlap, alike });
        }
        if beside || !held {
            return Some(NoLink::Slides {
                overlap,
                ways: least_held(&found.best.motions),
                by_axes_of: self.index,
                turned_deg,
            });
        }
        if let Some(turned_deg) = turned_deg {
            return Some(NoLink::EitherWay { overlap, turned_deg });
        }
        if found.alike < SURE_ALIKE {
            return Some(NoLink::NotAlike { overlap, alike });
        }
        self.too_rough(measured, &found.best, overlap, 1.0)
    }

    /// Where the pairs lie farther apart than the roughness of both takes explains, `times` over.
    pub fn too_rough(
        &self,
        measured: &Surface<Scan>,
        settled: &Settled,
        overlap: f64,
        times: f64,
    ) -> Option<NoLink> {
        let explained_mm = times * explained_rms_mm(&self.surface, measured);
        let rms_mm = settled.rms_mm;
        let is_explained = rms_mm < explained_mm;
        (!is_explained).then_some(NoLink::Rough {
            overlap,
            rms_mm,
            explained_mm,
        })
    }

    /// Sets another take on this one from about where it lies.
    fn refined(
        &self,
        takes: &[Surface<Scan>],
        measured: usize,
        start: &Motion<Scan, Scan>,
        reach_mm: f64,
    ) -> Result<Link, NoLink> {
        let start: Motion<Scan, Body> = start.then(&Motion::identity());
        let settled = settle(&Fixed::all_of(&self.surface), &takes[measured], &start, reach_mm);
        let overlap = any_pose::overlap(&self.surface, &takes[measured], &settled.reference_from_measured);
        if overlap < LEAST_OVERLAP {
            return Err(NoLink::TooLittle { overlap });
        }
        match self.too_rough(&takes[measured], &settled, overlap, KNOWN_ROUGHLY) {
            Some(why) => Err(why),
            None => Ok(Link::of(self.index, measured, settled, overlap)),
        }
    }
}

/// Why nothing at all was found from any pose.
fn refused(why: &RegisterError) -> NoLink {
    let overlap = match why {
        RegisterError::TooLittleOverlap { overlap_percent, .. } => overlap_percent / 100.0,
        RegisterError::FitsMirrored { mirrored_percent, .. } => {
            let overlap = mirrored_percent / 100.0;
            return NoLink::Mirrored { overlap };
        }
        _ => 0.0,
    };
    if overlap < LEAST_OVERLAP {
        NoLink::TooLittle { overlap }
    } else {
        NoLink::NotAlike { overlap, alike: None }
    }
}

/// Links over which all takes hang together: those that are given, then each take on the one before, and where that is not to be
/// had, any on any.
///
/// # Errors
/// [`NotJoined::HangOnNothing`] where that leaves some loose.
pub fn first_links(
    takes: &[Surface<Scan>],
    bounds: &[Bounds],
    given_in_one_frame: bool,
    mut links: Vec<Link>,
) -> Result<Vec<Link>, NotJoined> {
    let look = |reference: usize, measured: usize| {
        if !given_in_one_frame {
            return Onto::new(takes, reference).found(takes, measured);
        }
        let reach_mm = ROUGHLY * larger_mm(&bounds[reference], &bounds[measured]);
        let there = Motion::identity();
        let overlap = could_share(&takes[reference], &takes[measured], &there, reach_mm);
        if overlap < LEAST_OVERLAP {
            return Err(NoLink::TooLittle { overlap });
        }
        Onto::new(takes, reference).refined(takes, measured, &there, reach_mm)
    };
    let mut groups = Groups::of(takes.len());
    for link in &links {
        groups.tie(link.reference, link.measured);
    }
    let mut tried: Vec<Tried> = Vec::new();
    for (reference, measured) in in_turn(takes.len()) {
        let the_other_way = |t: &Tried| (t.measured, t.reference) == (reference, measured);
        let in_vain = |t: &Tried| the_other_way(t) && t.why.holds_both_ways();
        if groups.tied(reference, measured) || tried.iter().any(in_vain) {
            continue;
        }
        match look(reference, measured) {
            Ok(link) => {
                groups.tie(reference, measured);
                links.push(link);
            }
            Err(why) => tried.push(Tried {
                reference,
                measured,
                why,
            }),
        }
    }
    if groups.loose().is_empty() {
        Ok(links)
    } else {
        Err(NotJoined::HangOnNothing {
            loose: loose(&groups, &tried),
        })
    }
}

/// Which pairs are tried, reference and measured: each take on the one before, then the nearest in order first. One may be found
/// on the other where the other is not found on the one.
fn in_turn(takes: usize) -> Vec<(usize, usize)> {
    let mut pairs: Vec<(usize, usize)> = (1..takes).map(|measured| (measured - 1, measured)).collect();
    for apart in 1..takes {
        for low in 0..takes - apart {
            if apart > 1 {
                pairs.push((low, low + apart));
            }
            pairs.push((low + apart, low));
        }
    }
    pairs
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
                    .refined(takes, measured, &start, reach_mm)
                    .ok(),
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
pub fn could_share(
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
