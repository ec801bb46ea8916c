//! The edge radii of a relief with a flat floor: sheet, arc, straight wall, arc and floor fitted to its walls, piece by piece.
//!
//! Each wall is cut into pieces along it and every piece is fitted by itself; the mean is told only where the pieces agree to
//! a sixty-fourth of an inch, the arc holds five points to a section, and it bends away from its corner by more than the
//! points scatter: an arc under the noise reads too large however many points there are.

use cloud::chance::student_t;
use cloud::statistics::{mean, standard_deviation};
use nalgebra::SVector;
use rayon::prelude::*;

use super::profile::Profile;
use crate::wall_profile::fit_profile;

/// How sure a radius must be to be told, mm (1/64 in).
const SURE_MM: f64 = 25.4 / 64.0;
/// Points that an arc must hold in a section, on the average.
const ARC_POINTS: f64 = 5.0;
/// Metal beyond a wall that its fit sees, mm (half an inch) and the depth.
const BESIDE_MM: f64 = 12.7;
/// Share of the half width that a wall's fit sees: the other wall must not come in.
const HALF: f64 = 0.95;
/// Runs of points that a piece is fitted on at the most.
const RUNS: usize = 240;
/// Fewest points of a piece, and fewest pieces.
const POINTS: usize = 40;
const PIECES: usize = 4;
/// Radii from which the fit starts, as shares of the depth.
const STARTS: [f64; 2] = [0.3, 0.8];

/// One piece of wall: (way inward from the half-depth line, height) of its points, mm, and how many sections it spans.
pub(super) struct Piece {
    pub points: Vec<(f64, f64)>,
    pub sections: f64,
}

/// What the walls say.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Edges {
    /// Slope, rad.
    pub wall: Option<f64>,
    pub outer_mm: Option<f64>,
    pub inner_mm: Option<f64>,
}

/// The pieces of both walls of a relief that was cut into sections of (across, height): four along each.
pub(super) fn pieces(cut: &[Vec<(f64, f64)>], profile: &Profile) -> Vec<Piece> {
    let each = cut.len().div_ceil(PIECES).max(1);
    let half = profile.width_mm / 2.0;
    let mut pieces = Vec::new();
    for side in [-1.0, 1.0] {
        for some in cut.chunks(each) {
            let points = some
                .iter()
                .flatten()
                .map(|(x, height)| {
                    let level = profile.base[0] + profile.base[1] * x;
                    (half - side * (x - profile.middle_mm), height - level)
                })
                .collect();
            pieces.push(Piece {
                points,
                sections: some.len() as f64,
            });
        }
    }
    pieces
}

/// Fits the pieces of walls of a relief of this profile; `thin` says that only one point in so many was kept.
pub(super) fn edges(pieces: &[Piece], profile: &Profile, thin: usize) -> Edges {
    if !profile.flat {
        return Edges {
            wall: profile.wall,
            ..Edges::default()
        };
    }
    // (slope, outer, inner) and the points on the two arcs to a section.
    let fits: Vec<(SVector<f64, 4>, [f64; 2])> = pieces
        .par_iter()
        .filter_map(|piece| fitted(piece, profile, thin as f64))
        .collect();
    if fits.len() < PIECES {
        return Edges {
            wall: profile.wall,
            ..Edges::default()
        };
    }
    let slopes: Vec<f64> = fits.iter().map(|(p, _)| p[1]).collect();
    let slope = mean(&slopes);
    let radius = |which: usize| {
        let radii: Vec<f64> = fits.iter().map(|(p, _)| p[2 + which]).collect();
        let on_arc: Vec<f64> = fits.iter().map(|(_, on)| on[which]).collect();
        let n = radii.len() as f64;
        let radius = mean(&radii);
        let pm = student_t(0.95, n - 1.0) * standard_deviation(&radii) / n.sqrt();
        let bends_by = radius * (1.0 - (slope / 2.0).cos());
        (pm < SURE_MM && mean(&on_arc) >= ARC_POINTS && bends_by >= profile.scatter_mm).then_some(radius)
    };
    Edges {
        wall: Some(slope),
        outer_mm: radius(0),
        inner_mm: radius(1),
    }
}

fn fitted(piece: &Piece, profile: &Profile, thin: f64) -> Option<(SVector<f64, 4>, [f64; 2])> {
    let depth = profile.depth_mm;
    let (from, to) = (
        -(BESIDE_MM + depth),
        (BESIDE_MM + depth).min(HALF * profile.width_mm / 2.0),
    );
    let mut seen: Vec<(f64, f64)> = piece
        .points
        .iter()
        .copied()
        .filter(|(way, _)| (from..to).contains(way))
        .collect();
    if seen.len() < POINTS {
        return None;
    }
    seen.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    // Means of short runs keep an arc's bend and make the fit quick.
    let runs: Vec<(f64, f64)> = seen
        .chunks(seen.len().div_ceil(RUNS))
        .map(|run| {
            let n = run.len() as f64;
            let sum = run.iter().fold((0.0, 0.0), |sum, p| (sum.0 + p.0, sum.1 + p.1));
            (sum.0 / n, sum.1 / n)
        })
        .collect();
    let slope = profile.wall.unwrap_or(0.8).clamp(0.3, 1.3);
    let best = STARTS
        .iter()
        .map(|share| {
            let start = SVector::<f64, 4>::new(0.0, slope, share * depth, share * depth);
            fit_profile(&runs, depth, start)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))?
        .1;
    // Each arc runs from where it leaves the level to where the wall begins.
    let corner = depth / 2.0 / best[1].tan();
    let arc = |radius: f64, corner: f64, inward: f64| {
        let run = radius * (best[1] / 2.0).tan();
        let span = [-run, run * best[1].cos()].map(|end| best[0] + inward * (corner + end));
        let (low, high) = (span[0].min(span[1]), span[0].max(span[1]));
        let on = seen.iter().filter(|(way, _)| (low..high).contains(way)).count();
        on as f64 * thin / piece.sections.max(1.0)
    };
    Some((best, [arc(best[2], -corner, 1.0), arc(best[3], -corner, -1.0)]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use crate::wall_profile::profile;

    /// Twenty-four sections half an inch long of a bead 25.4 mm wide and 6.35 mm deep, its walls at 1 rad; the noise is
    /// along the height.
    fn edges_of(outer: f64, spacing: f64, noise: f64, seed: u64) -> Edges {
        let each = (12.7 * 100.0 / spacing / spacing) as u64;
        let cut: Vec<Vec<(f64, f64)>> = (0..24u64)
            .map(|k| {
                (0..each)
                    .map(|i| {
                        let i = 4 * (i + k * each + seed * 1_000_000);
                        let x = 100.0 * uniform(i) - 50.0;
                        let rough = 2.0 * noise * (uniform(i + 1) + uniform(i + 2) + uniform(i + 3) - 1.5);
                        (x, profile(12.7 - x.abs(), 6.35, 1.0, outer, 3.2) + rough)
                    })
                    .collect()
            })
            .collect();
        let shape = Profile::pooled(&cut.concat(), 28.0, 50.0).unwrap();
        edges(&pieces(&cut, &shape), &shape, 1)
    }

    #[test]
    fn a_crisp_and_a_soft_edge_are_told_where_the_points_allow() {
        for (outer, spacing, noise) in [(1.6, 1.0, 0.05), (4.8, 1.0, 0.1), (4.8, 2.0, 0.1)] {
            let found = edges_of(outer, spacing, noise, 1);
            let radius = found.outer_mm.unwrap();
            assert!((radius - outer).abs() < 0.4, "{radius} for {outer} at {spacing}");
            assert!((found.wall.unwrap() - 1.0).abs() < 0.05, "{:?}", found.wall);
            assert!(
                (found.inner_mm.unwrap() - 3.2).abs() < 0.5,
                "{:?}",
                found.inner_mm
            );
        }
    }

    #[test]
    fn a_crisp_edge_under_rough_or_coarse_points_is_not_told() {
        assert_eq!(edges_of(1.6, 1.0, 0.3, 2).outer_mm, None);
        assert_eq!(edges_of(1.6, 4.0, 0.05, 3).outer_mm, None);
    }
}
