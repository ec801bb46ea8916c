//! A pressed recess: where its middle lies, how deep it is, how wide at half depth, its wall and its edge radii.
//!
//! In both sets the skin around the outline gives the level, each wall is fitted with skin, arc, straight wall, arc and
//! floor at once (Levenberg-Marquardt over the run along the wall), and the two half-depth lines give the middle.

use cloud::bisquare::{TUKEY, bisquare};
use cloud::{Body, Bounds, Frame, Motion, Point, Surface, Vector};
use nalgebra::SVector;

use crate::wall_profile::fit_profile;
use say::in_words;

mod say;

/// How far around the outline the skin is looked at, mm (an inch).
const AROUND_MM: f64 = 25.4;
/// ± of what is read of a recess, mm.
const READ_PM_MM: f64 = 0.1;
/// Share of each side's length, about its middle, that the wall is read on: corners are round.
const MIDDLE: f64 = 0.6;

/// One recess of one set.
#[derive(Debug, Clone, PartialEq)]
pub struct Recess {
    /// Middle of the outline at half depth, mm.
    pub at: Point,
    /// Depth below the skin, mm.
    pub depth_mm: f64,
    /// Width at half depth along the two directions of the box, mm.
    pub width_mm: [f64; 2],
    /// Slope of the walls against the skin, rad, mean of the sides.
    pub wall: f64,
    /// Radius between skin and wall; `None` where the points are too coarse to tell.
    pub outer_radius_mm: Option<f64>,
    /// Radius between wall and floor.
    pub inner_radius_mm: Option<f64>,
}

/// A recess of both sets.
#[derive(Debug, Clone, PartialEq)]
pub struct RecessPair {
    /// As declared.
    pub name: String,
    /// In the reference.
    pub reference: Recess,
    /// In the measured set.
    pub measured: Recess,
    /// How its middle has moved, mm, in the plane of the skin.
    pub moved: Vector,
    /// ± of the move along one direction, mm.
    pub pm_mm: f64,
    /// ± of depth and widths, mm.
    pub size_pm_mm: f64,
    /// `3/16 forward`, `1/16 shallow`, one a finding.
    pub words: Vec<String>,
}

/// Why a recess could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoRecess {
    /// Too few points in or around the box.
    #[error("too few points in or around its box")]
    TooFewPoints,
    /// The box holds no step deeper than the noise.
    #[error("no step in its box")]
    NoStep,
    /// It stands to the other side of the skin than the reference's.
    #[error("it is pressed the other way, out where the reference's goes in")]
    OtherWay,
    /// A wall could not be fitted.
    #[error("a wall of it is not seen")]
    NoWall,
}

/// Reads the recess in `outline` (its sides where the recess begins on the reference; the thinnest direction of the box
/// is its depth) in both sets. `measured` is given with the motion that sets it.
///
/// # Errors
/// Where one of the sets does not show it.
pub fn read<F: Frame>(
    name: &str,
    outline: &Bounds,
    reference: &Surface<Body>,
    measured: &Surface<F>,
    reference_from_measured: &Motion<F, Body>,
) -> Result<RecessPair, NoRecess> {
    let back = reference_from_measured.inverse();
    let ours = near_outline(outline, reference.points(), |p| *p);
    let middle = back.apply(&outline.centre());
    let reach = outline.diagonal() / 2.0 + 1.5 * AROUND_MM;
    let mut close: Vec<u32> = Vec::new();
    measured
        .near
        .visit_within(&middle, reach, |n| close.push(n.index));
    close.sort_unstable();
    let close: Vec<Point> = close.iter().map(|&i| measured.points()[i as usize]).collect();
    let theirs = near_outline(outline, &close, |p| reference_from_measured.apply(p));
    let (reference, side) = read_one(outline, &ours, reference.spacing_mm)?;
    let (measured, measured_side) = read_one(outline, &theirs, measured.spacing_mm)?;
    if side != measured_side {
        return Err(NoRecess::OtherWay);
    }
    let moved = measured.at - reference.at;
    let words = in_words(&reference, &measured, &moved);
    Ok(RecessPair {
        name: name.to_string(),
        pm_mm: READ_PM_MM,
        size_pm_mm: READ_PM_MM,
        reference,
        measured,
        moved,
        words,
    })
}

fn near_outline(outline: &Bounds, points: &[Point], place: impl Fn(&Point) -> Point) -> Vec<Point> {
    let around = outline.grown(AROUND_MM);
    points.iter().map(place).filter(|p| around.contains(p)).collect()
}

/// The directions of a box: two across the skin, one into it.
struct Axes {
    across: [usize; 2],
    into: usize,
}

/// What one set shows, and the side to which it is pressed along the box's thinnest direction, −1 or 1.
fn read_one(outline: &Bounds, points: &[Point], spacing_mm: f64) -> Result<(Recess, f64), NoRecess> {
    let size = outline.size();
    let into = size.imin();
    let across = [0, 1, 2].into_iter().filter(|&a| a != into).collect::<Vec<_>>();
    let axes = Axes {
        across: [across[0], across[1]],
        into,
    };
    let level = skin_level(outline, points, &axes)?;
    let height = |p: &Point| level.height(p, &axes);
    // The floor: the middle half of the box.
    let mut floor: Vec<f64> = points
        .iter()
        .filter(|p| {
            axes.across.iter().all(|&a| {
                let share = (p[a] - outline.low[a]) / size[a];
                (0.25..=0.75).contains(&share)
            })
        })
        .map(height)
        .collect();
    if floor.len() < 30 {
        return Err(NoRecess::TooFewPoints);
    }
    let floor_height = cloud::statistics::median(&mut floor);
    let depth = floor_height.abs();
    if depth < (0.5f64).max(spacing_mm / 4.0) {
        return Err(NoRecess::NoStep);
    }
    let sign = floor_height.signum();
    let mut walls = Vec::new();
    for k in 0..2 {
        for far in [false, true] {
            walls.push(wall(outline, points, &axes, k, far, depth, &|p| {
                sign * height(p)
            })?);
        }
    }
    let mut at = outline.centre();
    let mut width_mm = [0.0; 2];
    for k in 0..2 {
        let (low, high) = (walls[2 * k].place, walls[2 * k + 1].place);
        at[axes.across[k]] = (low + high) / 2.0;
        width_mm[k] = high - low;
    }
    at[axes.into] = level.at(at[axes.across[0]], at[axes.across[1]]);
    let mean = |f: &dyn Fn(&Wall) -> f64| walls.iter().map(f).sum::<f64>() / 4.0;
    let slope = mean(&|w| w.slope);
    let radius = |f: &dyn Fn(&Wall) -> f64| {
        let r = mean(f);
        let spread = (walls.iter().map(|w| (f(w) - r).powi(2)).sum::<f64>() / 3.0).sqrt();
        // The arc must be long enough to carry points of its own, and the four sides must agree to 1/64 in the mean.
        let told = r * slope >= 2.0 * spacing_mm && spread / 2.0 < 25.4 / 64.0;
        told.then_some(r)
    };
    let recess = Recess {
        at,
        depth_mm: depth,
        width_mm,
        wall: slope,
        outer_radius_mm: radius(&|w| w.outer),
        inner_radius_mm: radius(&|w| w.inner),
    };
    Ok((recess, sign))
}

/// The skin around the outline as a plane over the two directions across.
struct Level {
    coefficients: Vector,
    middle: [f64; 2],
}

impl Level {
    fn at(&self, a: f64, b: f64) -> f64 {
        self.coefficients
            .dot(&Vector::new(1.0, a - self.middle[0], b - self.middle[1]))
    }

    fn height(&self, p: &Point, axes: &Axes) -> f64 {
        p[axes.into] - self.at(p[axes.across[0]], p[axes.across[1]])
    }
}

fn skin_level(outline: &Bounds, points: &[Point], axes: &Axes) -> Result<Level, NoRecess> {
    let centre = outline.centre();
    let middle = [centre[axes.across[0]], centre[axes.across[1]]];
    // A ring well outside the outline, since the recess may have been moved by a quarter inch.
    let ring: Vec<&Point> = points
        .iter()
        .filter(|p| {
            axes.across.iter().any(|&a| {
                let out = (outline.low[a] - p[a]).max(p[a] - outline.high[a]);
                out > 10.0
            })
        })
        .collect();
    if ring.len() < 60 {
        return Err(NoRecess::TooFewPoints);
    }
    let mut heights: Vec<f64> = ring.iter().map(|p| p[axes.into]).collect();
    let mut coefficients = Vector::new(cloud::statistics::median(&mut heights), 0.0, 0.0);
    let mut scale = f64::INFINITY;
    for _ in 0..8 {
        let (mut matrix, mut right) = (cloud::Matrix3::zeros(), Vector::zeros());
        let mut rest = Vec::with_capacity(ring.len());
        for p in &ring {
            let row = Vector::new(1.0, p[axes.across[0]] - middle[0], p[axes.across[1]] - middle[1]);
            let off = p[axes.into] - row.dot(&coefficients);
            rest.push(off);
            let weight = bisquare(off, TUKEY * scale);
            matrix += row * row.transpose() * weight;
            right += row * (p[axes.into] * weight);
        }
        scale = cloud::statistics::robust_spread(&rest).max(1e-6);
        coefficients = matrix.cholesky().ok_or(NoRecess::TooFewPoints)?.solve(&right);
    }
    Ok(Level { coefficients, middle })
}

/// One wall: where its half-depth line lies, its slope and its two radii.
struct Wall {
    place: f64,
    slope: f64,
    outer: f64,
    inner: f64,
}

/// Fits one wall. `k` says across which direction, `far` which of its two; `depth_at` gives depths as positive numbers.
fn wall(
    outline: &Bounds,
    points: &[Point],
    axes: &Axes,
    k: usize,
    far: bool,
    depth: f64,
    depth_at: &dyn Fn(&Point) -> f64,
) -> Result<Wall, NoRecess> {
    let (across, along) = (axes.across[k], axes.across[1 - k]);
    let (low, high) = (outline.low[along], outline.high[along]);
    let trim = (1.0 - MIDDLE) / 2.0 * (high - low);
    let side = if far {
        outline.high[across]
    } else {
        outline.low[across]
    };
    let inward = if far { -1.0 } else { 1.0 };
    let reach = 12.7 + 2.0 * depth;
    // (distance inward from the declared side, depth)
    let run: Vec<(f64, f64)> = points
        .iter()
        .filter(|p| (low + trim..=high - trim).contains(&p[along]))
        .map(|p| (inward * (p[across] - side), depth_at(p)))
        .filter(|(d, _)| d.abs() < reach)
        .collect();
    if run.len() < 40 {
        return Err(NoRecess::NoWall);
    }
    // A first guess: the middle of the points between a quarter and three quarters of the depth.
    let mut middles: Vec<f64> = run
        .iter()
        .filter(|(_, z)| (0.25 * depth..0.75 * depth).contains(z))
        .map(|(d, _)| *d)
        .collect();
    if middles.len() < 6 {
        return Err(NoRecess::NoWall);
    }
    let first = cloud::statistics::median(&mut middles);
    let mut best: Option<(f64, SVector<f64, 4>)> = None;
    for radius in [0.3, 0.8] {
        for slope in [0.7f64, 1.1] {
            let start = SVector::<f64, 4>::new(first, slope, radius * depth, radius * depth);
            let (cost, found) = fit_profile(&run, depth, start);
            if best.as_ref().is_none_or(|(c, _)| cost < *c) {
                best = Some((cost, found));
            }
        }
    }
    let (_, p) = best.ok_or(NoRecess::NoWall)?;
    Ok(Wall {
        place: side + inward * p[0],
        slope: p[1],
        outer: p[2],
        inner: p[3],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use crate::wall_profile::profile;
    use cloud::{Cloud, Scan};

    /// A skin of 260 × 200 with a recess pressed down: from (x, 60) to (x + 120, 140), walls at 1 rad.
    fn pan<F: Frame>(x0: f64, depth: f64, outer: f64, seed: u64) -> Surface<F> {
        let points: Vec<Point> = (0..52_000u64)
            .map(|i| {
                let k = 5 * (i + seed * 100_000);
                let (x, y) = (260.0 * uniform(k), 200.0 * uniform(k + 1));
                let d = (x - x0).min(x0 + 120.0 - x).min(y - 60.0).min(140.0 - y);
                let noise = 0.08 * (uniform(k + 2) + uniform(k + 3) + uniform(k + 4) - 1.5);
                Point::new(x, y, noise - profile(d, depth, 1.0, outer, 4.0))
            })
            .collect();
        let n = points.len();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(vec![Vector::z(); n]);
        Surface::new(cloud, None).unwrap().0
    }

    #[test]
    fn place_depth_and_radius_of_a_pressed_recess_are_found() {
        let reference: Surface<Body> = pan(70.0, 9.5, 1.6, 1);
        let measured: Surface<Scan> = pan(66.0, 8.0, 4.8, 2);
        let outline = Bounds {
            low: Point::new(70.0, 60.0, -15.0),
            high: Point::new(190.0, 140.0, 3.0),
        };
        let found = read("recess", &outline, &reference, &measured, &Motion::identity()).unwrap();
        assert!(
            (found.moved.x + 4.0).abs() < 0.1 && found.moved.y.abs() < 0.1,
            "{:?}",
            found.moved
        );
        assert!((found.measured.depth_mm - 8.0).abs() < 0.05);
        assert!((found.reference.width_mm[0] - 120.0).abs() < 0.2);
        assert!(
            (found.measured.outer_radius_mm.unwrap() - 4.8).abs() < 0.5,
            "{:?}",
            found.measured
        );
        // 1.6 mm over one radian is shorter than two spacings.
        assert_eq!(found.reference.outer_radius_mm, None);
        assert!(
            found.words.iter().any(|w| w.contains("forward")),
            "{:?}",
            found.words
        );
    }

    #[test]
    fn a_recess_pressed_to_the_other_side_is_not_taken_for_as_deep() {
        let reference: Surface<Body> = pan(70.0, 8.0, 1.6, 1);
        let turned = pan::<Scan>(70.0, 8.0, 1.6, 2);
        let points = turned
            .points()
            .iter()
            .map(|p| Point::new(p.x, p.y, -p.z))
            .collect();
        let measured = Surface::new(Cloud::<Scan>::from_points(points), None).unwrap().0;
        let outline = Bounds {
            low: Point::new(70.0, 60.0, -12.0),
            high: Point::new(190.0, 140.0, 3.0),
        };
        let read = read("recess", &outline, &reference, &measured, &Motion::identity());
        assert_eq!(read, Err(NoRecess::OtherWay));
    }

    #[test]
    fn a_flat_sheet_has_no_recess() {
        let flat: Surface<Body> = pan(70.0, 0.0, 1.6, 1);
        let outline = Bounds {
            low: Point::new(70.0, 60.0, -15.0),
            high: Point::new(190.0, 140.0, 3.0),
        };
        assert_eq!(
            read_one(&outline, &near_outline(&outline, flat.points(), |p| *p), 1.0),
            Err(NoRecess::NoStep)
        );
    }
}
