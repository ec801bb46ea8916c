//! Measured metal that the reference does not have: tabs, brackets, doublers that stand off it.
//!
//! The reverse pass, from the measured set to the reference. It must not invent: where the reference's points end for want of
//! looking, measured metal goes on past them as a longer flange would, and one can't be told from the other. So only metal
//! that stands over seen metal of the reference is told, and only where that metal was found at its own place, or is hidden
//! behind it and found all round; the rest is counted. A bulge rises from its surroundings and is a deviation.

mod group;

use cloud::statistics::median;
use cloud::unit::MM_PER_INCH;
use cloud::{Body, Motion, Point, Scan, Surface};
use rayon::prelude::*;

use crate::state::{Deviations, State};
use group::{Frame, groups};

/// Metal nearer than this to the reference is that metal, in spacings of the coarser set, and in mm (a quarter inch).
const COUNTERPART_SPACINGS: f64 = 4.0;
const COUNTERPART_MM: f64 = MM_PER_INCH / 4.0;
/// What lies this far outside of the reference's box is the jig, the table, the next part, mm.
const SURROUNDINGS_MM: f64 = 2.0 * MM_PER_INCH;
/// Metal farther than this from any of the reference says nothing of it, mm.
const FAR_MM: f64 = 4.0 * MM_PER_INCH;
/// Fewest points, and the least area, of a piece, mm² (a square inch).
const FEWEST: usize = 40;
const LEAST_MM2: f64 = MM_PER_INCH * MM_PER_INCH;
/// A larger piece is another part, or another side of it that the reference's scan did not see: mm², and as a share of the
/// reference's area, whichever is more.
const MOST_MM2: f64 = 36.0 * MM_PER_INCH * MM_PER_INCH;
const MOST_SHARE: f64 = 0.05;
/// Metal is over a place of the reference where it lies along its normal: the cosine between.
const OVER: f64 = 0.8;
/// Half of a piece must lie over the reference, and half of that over metal found at its own place.
const HALF: f64 = 0.5;
/// A piece that comes down to the reference at its rims, by more than this share of where it comes down, goes on from it.
const AT_RIMS: f64 = 0.25;
/// A piece comes down to the reference where it lies nearer than this, in spacings beyond the counterpart's.
const DOWN_SPACINGS: f64 = 2.0;
/// A place is at the rim where at least so many points that look like it lie within so many spacings: of single points
/// inside of a sheet one in forty looks like the rim by chance.
const RIM_POINTS: usize = 2;
const RIM_SPACINGS: f64 = 2.0;
/// How far round a piece home metal is looked for, mm, in how many directions, and in how many of them it must be.
const ROUND_MM: f64 = MM_PER_INCH;
const WAYS: usize = 12;
const WAYS_HOME: usize = 8;
/// Fewest points of the reference that say what lies in one direction.
const FEWEST_A_WAY: usize = 3;

/// One piece of metal that the reference does not have.
#[derive(Debug, Clone, PartialEq)]
pub struct Extra {
    /// Its middle, in the reference's frame, mm.
    pub at: Point,
    /// How long and how wide it is in its own plane, the longer first, mm.
    pub size_mm: [f64; 2],
    /// Its area, from its points and their spacing, mm².
    pub area_mm2: f64,
    /// How far it stands off the nearest metal of the reference, in the median, mm.
    pub off_mm: f64,
    /// Its points.
    pub points: usize,
    /// The place of the reference that lies nearest to its middle.
    pub under: Point,
}

/// What the reverse pass found.
#[derive(Debug, Clone, PartialEq)]
pub struct Reverse {
    /// The pieces, the largest first.
    pub extra: Vec<Extra>,
    /// Measured points outside of the reference's box: surroundings.
    pub surroundings: usize,
    /// Measured points inside of it that have no counterpart and belong to no piece.
    pub unjudged: usize,
    /// All measured points.
    pub measured: usize,
}

impl Reverse {
    /// The share of the measured points that lie beyond the reference and are not judged.
    pub fn beyond(&self) -> f64 {
        (self.surroundings + self.unjudged) as f64 / self.measured.max(1) as f64
    }
}

/// A measured point without a counterpart.
struct Alone {
    at: Point,
    /// From the place of the reference nearest to it, mm.
    apart_mm: f64,
    /// Whether that place is at the reference's rim.
    at_rim: bool,
    /// Whether it lies over the reference's metal, and not at its rim.
    over: bool,
    /// Whether that metal was found, and somewhere else than here.
    found: bool,
}

/// Looks for measured metal that has no counterpart on the reference; `deviations` are those of the reference's points.
pub fn reverse(
    reference: &Surface<Body>,
    deviations: &Deviations,
    measured: &Surface<Scan>,
    reference_from_measured: &Motion<Scan, Body>,
    limit_mm: f64,
) -> Reverse {
    let spacing_mm = reference.spacing_mm.max(measured.spacing_mm);
    let counterpart_mm = (COUNTERPART_SPACINGS * spacing_mm)
        .max(COUNTERPART_MM)
        .max(limit_mm);
    let without: Vec<Point> = measured
        .points()
        .par_iter()
        .with_min_len(1024)
        .map(|p| reference_from_measured.apply(p))
        .filter(|p| reference.near.nearest_within(p, counterpart_mm).is_none())
        .collect();
    let pass = Pass {
        reference,
        deviations,
        spacing_mm: measured.spacing_mm,
        counterpart_mm,
    };
    let bounds = reference.cloud.bounds().map(|b| b.grown(SURROUNDINGS_MM));
    let inside: Vec<Point> = without
        .iter()
        .filter(|p| bounds.as_ref().is_some_and(|b| b.contains(p)))
        .copied()
        .collect();
    let alone: Vec<Alone> = inside
        .par_iter()
        .with_min_len(1024)
        .filter_map(|p| pass.alone(p))
        .collect();
    let places: Vec<Point> = alone.iter().map(|a| a.at).collect();
    let mut extra: Vec<Extra> = groups(&places, 2.0 * measured.spacing_mm)
        .iter()
        .filter_map(|members| {
            let members: Vec<&Alone> = members.iter().map(|&i| &alone[i]).collect();
            pass.piece(&members)
        })
        .collect();
    extra.sort_by(|a, b| b.area_mm2.total_cmp(&a.area_mm2));
    let told: usize = extra.iter().map(|e| e.points).sum();
    Reverse {
        surroundings: without.len() - inside.len(),
        unjudged: inside.len() - told,
        measured: measured.points().len(),
        extra,
    }
}

struct Pass<'a> {
    reference: &'a Surface<Body>,
    deviations: &'a Deviations,
    /// Of the measured set.
    spacing_mm: f64,
    counterpart_mm: f64,
}

impl Pass<'_> {
    fn alone(&self, at: &Point) -> Option<Alone> {
        let nearest = self.reference.near.nearest_within(at, FAR_MM)?;
        let i = nearest.index as usize;
        let off = at - self.reference.points()[i];
        let (apart_mm, height_mm) = (off.norm(), off.dot(&self.reference.normals()[i]));
        let found = self.deviations.states[i].mm();
        let at_rim = self.is_at_rim(&self.reference.points()[i]);
        Some(Alone {
            at: *at,
            apart_mm,
            at_rim,
            over: !at_rim && height_mm.abs() >= OVER * apart_mm,
            // What was taken for the reference's own metal is no other metal.
            found: found.is_some_and(|mm| (mm - height_mm).abs() > self.counterpart_mm / 2.0),
        })
    }

    fn is_at_rim(&self, at: &Point) -> bool {
        let mut count = 0;
        let radius_mm = RIM_SPACINGS * self.reference.spacing_mm;
        self.reference.near.visit_within(at, radius_mm, |n| {
            count += usize::from(self.reference.rim[n.index as usize]);
        });
        count >= RIM_POINTS
    }

    /// The piece that a group of points is, where it is one beyond doubt.
    fn piece(&self, members: &[&Alone]) -> Option<Extra> {
        let area_mm2 = members.len() as f64 * self.spacing_mm.powi(2);
        let whole_mm2 = self.reference.points().len() as f64 * self.reference.spacing_mm.powi(2);
        let most_mm2 = MOST_MM2.max(MOST_SHARE * whole_mm2);
        if members.len() < FEWEST || !(LEAST_MM2..=most_mm2).contains(&area_mm2) {
            return None;
        }
        let over: Vec<&&Alone> = members.iter().filter(|a| a.over).collect();
        if (over.len() as f64) < HALF * members.len() as f64 {
            return None;
        }
        let down_mm = self.counterpart_mm + DOWN_SPACINGS * self.spacing_mm;
        let down: Vec<&&Alone> = members.iter().filter(|a| a.apart_mm < down_mm).collect();
        let at_rims = down.iter().filter(|a| a.at_rim).count();
        if at_rims as f64 > AT_RIMS * down.len() as f64 {
            return None;
        }
        let places: Vec<Point> = members.iter().map(|a| a.at).collect();
        let frame = Frame::of(&places);
        let off_mm = median(&mut over.iter().map(|a| a.apart_mm).collect::<Vec<_>>());
        let found = over.iter().filter(|a| a.found).count();
        // As many points come down as stand all round it: it rises from the reference's own metal.
        let around = 2.0 * (frame.size_mm[0] + frame.size_mm[1]) / self.spacing_mm;
        let rises = down.len() as f64 >= around;
        let stands =
            found as f64 >= HALF * over.len() as f64 || (!rises && self.home_all_round(&frame, off_mm));
        let under = self.reference.near.nearest(&frame.middle)?;
        stands.then(|| Extra {
            at: frame.middle,
            size_mm: frame.size_mm,
            area_mm2,
            off_mm,
            points: members.len(),
            under: self.reference.points()[under.index as usize],
        })
    }

    /// Whether the reference's metal around a piece, of the same face, was found at its place in most directions.
    fn home_all_round(&self, frame: &Frame, off_mm: f64) -> bool {
        let half = frame.size_mm.map(|size| size / 2.0 + self.spacing_mm);
        let reach_mm = (half[0] + ROUND_MM).hypot(half[1] + ROUND_MM).hypot(off_mm);
        let mut ways = [(0usize, 0usize); WAYS];
        let (points, normals) = (self.reference.points(), self.reference.normals());
        self.reference.near.visit_within(&frame.middle, reach_mm, |n| {
            let i = n.index as usize;
            let [along, across, height] = frame.coordinates(&points[i]);
            let inside = along.abs() <= half[0] && across.abs() <= half[1];
            let beside = along.abs() <= half[0] + ROUND_MM && across.abs() <= half[1] + ROUND_MM;
            let same_face = normals[i].dot(&frame.normal()).abs() >= OVER;
            if inside || !beside || !same_face || height.abs() > off_mm + COUNTERPART_MM {
                return;
            }
            let turn = (across / half[1]).atan2(along / half[0]) / std::f64::consts::TAU;
            let way = (turn.rem_euclid(1.0) * WAYS as f64) as usize;
            let (home, all) = &mut ways[way.min(WAYS - 1)];
            *all += 1;
            let mm = match self.deviations.states[i] {
                State::Distance { mm, .. } => mm.abs(),
                _ => f64::INFINITY,
            };
            *home += usize::from(mm <= off_mm / 2.0);
        });
        let home = ways
            .iter()
            .filter(|(home, all)| *home >= FEWEST_A_WAY && 2 * home >= *all);
        home.count() >= WAYS_HOME
    }
}

#[cfg(test)]
mod tests;
