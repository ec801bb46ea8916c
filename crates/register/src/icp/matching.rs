//! Pairs of measured points and places on the reference, and their weights.

use cloud::statistics::{median, rms};
use cloud::{Body, Motion, Point, Scan, Vector};
use rayon::prelude::*;

use super::{Ending, Fixed, Moving, Settled};
use cloud::held::Motions;

/// Normals that part by more than 60° are not of the same face.
const SAME_FACE: f64 = 0.5;
/// Tukey's constant: 95 % as efficient as least squares on normal noise.
pub const TUKEY: f64 = 4.685;

/// One pair: a measured point, moved, and the place that it is set on.
#[derive(Clone, Copy)]
pub struct Pair {
    /// The moved point, mm.
    pub at: Point,
    /// Unit normal of the reference there.
    pub normal: Vector,
    /// Distance along the normal, + proud, mm.
    pub distance_mm: f64,
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
        let surface = fixed.surface;
        let (points, normals) = (surface.points(), surface.normals());
        let signed = surface.sides_known && moving.sides_known;
        let reach2 = reach_mm * reach_mm;
        let list: Vec<Pair> = moving
            .points
            .par_iter()
            .zip(&moving.normals)
            .with_min_len(256)
            .filter_map(|(point, facing)| {
                let at = motion.apply(point);
                let found = surface.near.nearest(&at)?;
                let i = found.index as usize;
                if found.squared_mm2 > reach2 || !fixed.usable[i] {
                    return None;
                }
                let normal = normals[i];
                let cosine = normal.dot(&motion.turn(facing));
                if cosine.abs() < SAME_FACE || (signed && cosine < 0.0) {
                    return None;
                }
                Some(Pair {
                    at,
                    normal,
                    distance_mm: normal.dot(&(at - points[i])),
                })
            })
            .collect();
        let mut sizes: Vec<f64> = list.iter().map(|p| p.distance_mm.abs()).collect();
        let sigma_mm = (1.4826 * median(&mut sizes)).max(1e-9);
        Self {
            sigma_mm,
            scale_mm: sigma_mm.max(widest_mm),
            list,
            moving: moving.points.len(),
        }
    }

    /// Tukey's weight of a distance at the scale that was found.
    #[inline]
    pub fn weight(&self, distance_mm: f64) -> f64 {
        let share = distance_mm / (TUKEY * self.scale_mm);
        if share.abs() >= 1.0 {
            0.0
        } else {
            (1.0 - share * share).powi(2)
        }
    }

    /// What a setting that ends with these pairs amounts to.
    pub fn summary(&self, motion: Motion<Scan, Body>, ending: Ending, steps: usize) -> Settled {
        let counting: Vec<&Pair> = self
            .list
            .iter()
            .filter(|p| self.weight(p.distance_mm) > 0.0)
            .collect();
        let distances: Vec<f64> = counting.iter().map(|p| p.distance_mm).collect();
        let at: Vec<Point> = counting.iter().map(|p| p.at).collect();
        let normals: Vec<Vector> = counting.iter().map(|p| p.normal).collect();
        Settled {
            reference_from_measured: motion,
            rms_mm: rms(&distances),
            worst_mm: distances.iter().fold(0.0, |w, d| d.abs().max(w)),
            sigma_mm: self.sigma_mm,
            pairs: counting.len(),
            share: counting.len() as f64 / self.moving.max(1) as f64,
            motions: Motions::of(&at, &normals, self.sigma_mm),
            ending,
            steps,
        }
    }
}
