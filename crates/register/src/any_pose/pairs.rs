//! Poses from pairs of points with normals: two places and their normals on one set that look like two on the other say how
//! the sets lie.
//!
//! Oriented point pairs, looked up by their distance and three angles, sampled and scored on a coarse grid (Winkelbach,
//! Molkenstruck & Wahl 2006, DAGM; Papazov & Burschka 2010, ACCV). The angles are taken without the normals' sign, since
//! many sets don't say which side is out. Pairs on one plane are left out: a sheet has millions of them, all alike.

use std::collections::HashSet;

use cloud::{Body, Bounds, Matrix3, Motion, Point, Scan, Vector};
use rayon::prelude::*;

use super::worth::{AGAINST_COSTS, ALIKE, Sample};
use crate::cells::Cells;

/// Angles from 0 to 90° fall into this many classes, about 7.5° each.
const ANGLES: usize = 12;
/// Two places are on one plane when both their normals and their joining line agree with it to this (sine of 10°).
const ONE_PLANE: f64 = 0.17;
/// Pairs of the measured set that are drawn, and how many of them are tried.
const DRAWN: u64 = 60_000;
const TRIED: usize = 10_000;
/// Most counterparts of a pair that are tried; of more, evenly chosen ones.
const COUNTERPARTS: usize = 48;
/// Best poses that each pair hands on.
const EACH: usize = 3;
/// Places on which a pose is scored.
const SCORED: usize = 80;
/// What a place that lies across takes from a pose's score: poses are sought by each. With little, one that is still a little
/// off isn't lost where many walls stand close together; with as much as at the end, the right one of two sets with a third in
/// common isn't lost among the thousands that lay more metal on metal and cross it somewhere.
const ACROSS: [f64; 2] = [0.5, AGAINST_COSTS];

/// A stream of numbers that look random and are always the same (splitmix, Steele, Lea & Flood 2014, OOPSLA).
struct Draw(u64);

impl Draw {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut x = self.0;
        x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((x ^ x >> 31) % count.max(1) as u64) as usize
    }
}

/// How far apart the places of a pair lie.
#[derive(Clone, Copy)]
struct Reach {
    least_mm: f64,
    most_mm: f64,
    class_mm: f64,
}

/// The class of an ordered pair; `None` where it is too near, too far, or on one plane.
fn class(p: &Point, n: &Vector, q: &Point, m: &Vector, reach: &Reach) -> Option<u32> {
    let line = q - p;
    let length = line.norm();
    if length < reach.least_mm || length > reach.most_mm {
        return None;
    }
    let line = line / length;
    let (a, b, c) = (n.dot(&line).abs(), m.dot(&line).abs(), n.dot(m).abs());
    if a < ONE_PLANE && b < ONE_PLANE && n.cross(m).norm() < ONE_PLANE {
        return None;
    }
    // √(1 − cos) is nearly even in the angle, 0 at 0° and 1 at 90°, and far cheaper than the arc.
    let angle = |cosine: f64| (((1.0 - cosine).max(0.0).sqrt() * ANGLES as f64) as usize).min(ANGLES - 1);
    let far = ((length - reach.least_mm) / reach.class_mm) as usize;
    Some((((far * ANGLES + angle(a)) * ANGLES + angle(b)) * ANGLES + angle(c)) as u32)
}

/// All pairs of the reference, by class, and cells that tell what lies where.
pub struct PairIndex {
    sample: Sample,
    reach: Reach,
    pairs: Vec<(u32, u16, u16)>,
    cells: Cells,
}

impl PairIndex {
    /// Indexes the pairs of `sample` (at most 65 535 points) for measured sets of the extent `extent_mm`.
    pub fn new(sample: Sample, extent_mm: f64) -> Self {
        let reach = Reach {
            least_mm: 0.1 * extent_mm,
            most_mm: 0.5 * extent_mm,
            class_mm: sample.spacing_mm,
        };
        let count = sample.points.len().min(usize::from(u16::MAX));
        let (points, normals) = (&sample.points, &sample.normals);
        let mut pairs: Vec<(u32, u16, u16)> = (0..count)
            .into_par_iter()
            .flat_map_iter(|i| {
                (0..count).filter_map(move |j| {
                    let key = class(&points[i], &normals[i], &points[j], &normals[j], &reach)?;
                    Some((key, i as u16, j as u16))
                })
            })
            .collect();
        pairs.par_sort_unstable();
        Self {
            cells: Cells::beside(&sample.points, sample.spacing_mm),
            sample,
            reach,
            pairs,
        }
    }

    fn of_class(&self, key: u32) -> &[(u32, u16, u16)] {
        let from = self.pairs.partition_point(|p| p.0 < key);
        let to = self.pairs.partition_point(|p| p.0 <= key);
        &self.pairs[from..to]
    }

    /// Up to `keep` poses of the measured set that differ, the best scored first, for each way to seek them.
    pub fn poses(&self, measured: &Sample, keep: usize) -> [Vec<Motion<Scan, Body>>; ACROSS.len()] {
        let drawn = self.drawn(measured);
        let places = measured.by_worth(SCORED);
        let signed = self.sample.sides_known && measured.sides_known;
        ACROSS.map(|across| {
            let scoring = Scoring {
                places: &places,
                signed,
                across,
            };
            self.best_scored(&drawn, &scoring, measured, keep)
        })
    }

    /// Up to `keep` of the poses that lay the drawn pairs on their counterparts that differ, the best scored first.
    fn best_scored(
        &self,
        drawn: &[Drawn<'_>],
        scoring: &Scoring<'_>,
        measured: &Sample,
        keep: usize,
    ) -> Vec<Motion<Scan, Body>> {
        let Some(bounds) = Bounds::of(&measured.points) else {
            return Vec::new();
        };
        let tried = |drawn: &[Drawn<'_>], least: f64| -> Vec<Scored> {
            drawn
                .par_iter()
                .flat_map_iter(|drawn| self.best_of(drawn, scoring, least))
                .collect()
        };
        // What the rarest pairs found is the mark that the others must reach.
        let (rarest, others) = drawn.split_at(drawn.len() / 4);
        let mut found = tried(rarest, f64::NEG_INFINITY);
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mark = found.get(2 * keep).map_or(f64::NEG_INFINITY, |f| f.0);
        found.extend(tried(others, mark));
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        let apart = 1.5 * self.sample.spacing_mm;
        let corners = bounds.corners();
        let mut seen: HashSet<[i64; 9]> = HashSet::new();
        found
            .into_iter()
            .map(|(_, pose)| pose)
            .filter(|pose| {
                let mut key = [0; 9];
                for (k, corner) in [corners[0], corners[3], corners[5]].iter().enumerate() {
                    let at = pose.apply(corner);
                    for axis in 0..3 {
                        key[3 * k + axis] = (at[axis] / apart).round() as i64;
                    }
                }
                seen.insert(key)
            })
            .take(keep)
            .collect()
    }

    /// Pairs of the measured set with counterparts, the rarest first: a pair that has few says more than one that has thousands.
    fn drawn(&self, measured: &Sample) -> Vec<Drawn<'_>> {
        let firsts = measured.by_worth(TRIED / 4);
        if firsts.points.is_empty() {
            return Vec::new();
        }
        let mut drawn: Vec<Drawn<'_>> = (0..DRAWN)
            .into_par_iter()
            .filter_map(|k| {
                let mut draw = Draw(k);
                let i = draw.below(firsts.points.len());
                let j = draw.below(measured.points.len());
                let pair = (
                    firsts.points[i],
                    firsts.normals[i],
                    measured.points[j],
                    measured.normals[j],
                );
                let all = self.of_class(class(&pair.0, &pair.1, &pair.2, &pair.3, &self.reach)?);
                (!all.is_empty()).then_some((all.len(), k, pair, all))
            })
            .collect();
        drawn.sort_by_key(|d| (d.0, d.1));
        drawn.truncate(TRIED);
        drawn
    }

    /// What speaks for a pose less what speaks against it, a point each; `None` once it can't come to more than `least`.
    fn score(&self, scoring: &Scoring<'_>, pose: &Motion<Scan, Body>, least: f64) -> Option<f64> {
        let places = scoring.places;
        let mut score = 0.0;
        let mut to_come = places.points.len() as f64;
        for (point, facing) in places.points.iter().zip(&places.normals) {
            if score + to_come <= least {
                return None;
            }
            to_come -= 1.0;
            let at = pose.apply(point);
            let Some(i) = self.cells.near(&at) else {
                continue;
            };
            let normal = self.sample.normals[i];
            let cosine = normal.dot(&pose.turn(facing));
            let alike = if scoring.signed { cosine } else { cosine.abs() };
            let off = normal.dot(&(at - self.sample.points[i])).abs() / self.cells.cell_mm();
            score += if alike > ALIKE {
                1.0 - off.min(1.0)
            } else {
                -scoring.across
            };
        }
        (score > least).then_some(score)
    }

    /// The poses that lay a pair on its counterparts best, at most [`EACH`], those that score more than `least`.
    fn best_of(&self, (_, k, pair, all): &Drawn<'_>, scoring: &Scoring<'_>, least: f64) -> Vec<Scored> {
        let step = all.len().div_ceil(COUNTERPARTS).max(1);
        let skipped = Draw(!k).below(step);
        let mut best: Vec<Scored> = Vec::with_capacity(EACH + 1);
        for &(_, a, b) in all.iter().skip(skipped).step_by(step) {
            let to = self.oriented(usize::from(a), usize::from(b));
            for pose in laid_on(pair, &to, scoring.signed) {
                let least = best.get(EACH - 1).map_or(least, |last| last.0.max(least));
                if let Some(score) = self.score(scoring, &pose, least) {
                    let at = best.partition_point(|other| other.0 >= score);
                    best.insert(at, (score, pose));
                    best.truncate(EACH);
                }
            }
        }
        best
    }

    fn oriented(&self, i: usize, j: usize) -> Oriented {
        let s = &self.sample;
        (s.points[i], s.normals[i], s.points[j], s.normals[j])
    }
}

/// How poses are scored.
struct Scoring<'a> {
    places: &'a Sample,
    /// Whether the sides of both sets are known.
    signed: bool,
    /// As [`ACROSS`].
    across: f64,
}

/// A pose and its score.
type Scored = (f64, Motion<Scan, Body>);

/// A pair that was drawn: how many counterparts it has, its number, itself, and they.
type Drawn<'a> = (usize, u64, Oriented, &'a [(u32, u16, u16)]);

/// Two places with their normals.
type Oriented = (Point, Vector, Point, Vector);

/// The motions that lay one pair on another: one where the normals' sides are known, else up to two.
fn laid_on(from: &Oriented, to: &Oriented, signed: bool) -> impl Iterator<Item = Motion<Scan, Body>> {
    // The normal that stands more across the joining line says how the pair is turned about it.
    let line = (from.2 - from.0).normalize();
    let first = from.1.dot(&line).abs() < from.3.dot(&line).abs();
    let across = |pair: &Oriented, sign: f64| -> Option<Matrix3> {
        let x = (pair.2 - pair.0).normalize();
        let normal = if first { pair.1 } else { pair.3 };
        let y = (normal - x * normal.dot(&x)).try_normalize(0.1)? * sign;
        Some(Matrix3::from_columns(&[x, y, x.cross(&y)]))
    };
    let other = |pair: &Oriented| if first { pair.3 } else { pair.1 };
    let (other_from, other_to) = (other(from), other(to));
    let laid = across(from, 1.0);
    let signs: &[f64] = if signed { &[1.0] } else { &[1.0, -1.0] };
    let middle = |pair: &Oriented| (pair.0.coords + pair.2.coords) / 2.0;
    let (middle_from, middle_to) = (middle(from), middle(to));
    let frames: Vec<Matrix3> = signs.iter().filter_map(|sign| across(to, *sign)).collect();
    frames.into_iter().filter_map(move |on| {
        let turn = on * laid?.transpose();
        let cosine = (turn * other_from).dot(&other_to);
        let alike = if signed { cosine } else { cosine.abs() };
        (alike > ALIKE).then(|| Motion::new(turn, middle_to - turn * middle_from))
    })
}
