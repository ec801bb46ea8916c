//! Pairs of measured points and places on the reference, and their weights.

use cloud::bisquare::{TUKEY, bisquare};
use cloud::statistics::{median, rms};
use cloud::{Body, Motion, Point, Scan, Vector};
use rayon::prelude::*;

use super::{Ending, Fixed, Moving, Settled};
use cloud::held::Motions;

/// Normals that part by more than 60° are not of the same face.
const SAME_FACE: f64 = 0.5;

/// What the error of the normals adds to the variance: a pair lies aside by some 0.4 spacings, a normal from twenty
/// neighbours errs by some 0.2 σ a spacing, and those twenty share it: 20 × 0.08² ≈ 0.1.
const NORMALS: f64 = 1.1;

/// One pair: a measured point, moved, and the place that it is set on.
#[derive(Clone, Copy)]
pub struct Pair {
    /// The moved point, mm.
    pub at: Point,
    /// Unit normal between the reference's there and the measured set's: their mean, so that two places on one curve are
    /// no distance apart (the symmetric objective, Rusinkiewicz 2019, ACM TOG 38(4)).
    pub normal: Vector,
    /// Distance along the normal, + proud, mm.
    pub distance_mm: f64,
    /// The measured point, and the reference's.
    of: u32,
    on: u32,
}

/// All pairs of one step.
pub struct Pairs {
    /// In the order of the measured points.
    pub list: Vec<Pair>,
    /// Robust standard deviation of the distances, mm.
    pub sigma_mm: f64,
    /// Scale of the weights: that deviation, or more where it is asked for.
    scale_mm: f64,
    moving: usize,
    /// Share of the noise that is the reference's own.
    reference_share: f64,
}

/// The pair of a measured point with the reference's point `on`, unless they face apart.
#[inline]
fn pair(
    fixed: &Fixed<'_>,
    moving: &Moving,
    motion: &Motion<Scan, Body>,
    signed: bool,
    of: u32,
    on: u32,
) -> Option<Pair> {
    let at = motion.apply(&moving.points[of as usize]);
    let facing = motion.turn(&moving.normals[of as usize]);
    let normal = fixed.surface.normals()[on as usize];
    let cosine = normal.dot(&facing);
    if cosine.abs() < SAME_FACE || (signed && cosine < 0.0) {
        return None;
    }
    let both = normal + facing * cosine.signum();
    let normal = both / both.norm();
    Some(Pair {
        distance_mm: normal.dot(&(at - fixed.surface.points()[on as usize])),
        at,
        normal,
        of,
        on,
    })
}

impl Pairs {
    /// Finds for each moved point the nearest place of the reference, within `reach_mm`, on a usable point, of the same
    /// face. The scale of the weights is at least `widest_mm`.
    pub fn find(
        fixed: &Fixed<'_>,
        moving: &Moving,
        motion: &Motion<Scan, Body>,
        reach_mm: f64,
        widest_mm: f64,
    ) -> Self {
        let signed = fixed.surface.sides_known && moving.sides_known;
        let list: Vec<Pair> = (0..moving.points.len() as u32)
            .into_par_iter()
            .with_min_len(256)
            .filter_map(|of| {
                let at = motion.apply(&moving.points[of as usize]);
                let on = fixed.partner(&at, reach_mm)?;
                pair(fixed, moving, motion, signed, of, on)
            })
            .collect();
        Self::of(list, fixed, moving, widest_mm)
    }

    /// The same pairs under a motion that differs by much less than the points are spaced: nothing is searched.
    pub fn again(
        &self,
        fixed: &Fixed<'_>,
        moving: &Moving,
        motion: &Motion<Scan, Body>,
        widest_mm: f64,
    ) -> Self {
        let signed = fixed.surface.sides_known && moving.sides_known;
        let list = self
            .list
            .par_iter()
            .with_min_len(1024)
            .filter_map(|p| pair(fixed, moving, motion, signed, p.of, p.on))
            .collect();
        Self::of(list, fixed, moving, widest_mm)
    }

    fn of(list: Vec<Pair>, fixed: &Fixed<'_>, moving: &Moving, widest_mm: f64) -> Self {
        let mut sizes: Vec<f64> = list.iter().map(|p| p.distance_mm.abs()).collect();
        let sigma_mm = (1.4826 * median(&mut sizes)).max(1e-9);
        let (reference, measured) = (fixed.surface.noise_mm.powi(2), moving.noise_mm.powi(2));
        let noise = reference + measured;
        Self {
            sigma_mm,
            scale_mm: sigma_mm.max(widest_mm),
            list,
            moving: moving.points.len(),
            reference_share: if noise > 0.0 { reference / noise } else { 0.5 },
        }
    }

    /// Tukey's weight of a distance at the scale that was found.
    #[inline]
    pub fn weight(&self, distance_mm: f64) -> f64 {
        bisquare(distance_mm, TUKEY * self.scale_mm)
    }

    /// The standard deviation that one pair stands for when the motion's spread is worked out from the pairs as if each
    /// were for itself.
    ///
    /// Three things beyond the scatter: the robust fit's own loss (mean ψ² over the square of mean ψ', Huber 1981, Robust
    /// Statistics, 7.6), that a point of the reference on which several pairs lie brings its own error into each, and what
    /// the normals err by.
    fn standing_mm(&self, counting: &[&Pair]) -> f64 {
        let n = counting.len() as f64;
        let (mut squares, mut slopes) = (0.0, 0.0);
        let scale = TUKEY * self.scale_mm;
        for pair in counting {
            let share = (pair.distance_mm / scale).powi(2);
            squares += (pair.distance_mm * (1.0 - share).powi(2)).powi(2);
            slopes += (1.0 - share) * (1.0 - 5.0 * share);
        }
        let slope = (slopes / n).max(0.1);
        let alone = (squares / (n - 6.0).max(1.0)).sqrt() / slope;
        let mut on: Vec<u32> = counting.iter().map(|p| p.on).collect();
        on.par_sort_unstable();
        let shared: f64 = on
            .chunk_by(|a, b| a == b)
            .map(|same| (same.len() as f64).powi(2))
            .sum();
        alone * (NORMALS * (1.0 - self.reference_share + self.reference_share * shared / n.max(1.0))).sqrt()
    }

    /// What a setting that ends with these pairs amounts to.
    pub fn summary(&self, path: Vec<Motion<Scan, Body>>, ending: Ending) -> Settled {
        let counting: Vec<&Pair> = self
            .list
            .iter()
            .filter(|p| self.weight(p.distance_mm) > 0.0)
            .collect();
        let distances: Vec<f64> = counting.iter().map(|p| p.distance_mm).collect();
        let at: Vec<Point> = counting.iter().map(|p| p.at).collect();
        let normals: Vec<Vector> = counting.iter().map(|p| p.normal).collect();
        Settled {
            reference_from_measured: path.last().map_or_else(Motion::identity, Motion::tidied),
            rms_mm: rms(&distances),
            worst_mm: distances.iter().fold(0.0, |w, d| d.abs().max(w)),
            sigma_mm: self.sigma_mm,
            pairs: counting.len(),
            share: counting.len() as f64 / self.moving.max(1) as f64,
            motions: Motions::of(&at, &normals, self.standing_mm(&counting)),
            ending,
            path: vec![path],
        }
    }
}
