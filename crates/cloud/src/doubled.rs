//! A doubled layer: two surfaces a fixed step apart over much of a set.
//!
//! The same sheet measured twice in frames that differ, or both faces of a sheet in one file, read as one thick rough
//! sheet. The noise of a survey says nothing here, since the second layer itself inflates it: each place judges by what is
//! left over when one curved surface and a step have been fitted to its own neighbours.

use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;

use crate::statistics::median;
use crate::survey::tangents;
use crate::{Frame, Surface};

/// Two layers in one set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Doubled {
    /// How far apart they lie, median, mm.
    pub step_mm: f64,
    /// Share of the places looked at that show this step, 0 to 1.
    pub share: f64,
}

/// How many places are looked at.
const SAMPLES: usize = 4_000;
/// Radius of the tube along the normal, in spacings: about 28 points of a single sheet.
const TUBE: f64 = 3.0;
/// How far along the normal the other layer is looked for: mm, and spacings where the set is coarse. Sheet of a car is
/// thinner, and the walls of a box section lie farther apart.
const LOOK_MM: f64 = 6.0;
const LOOK_SPACINGS: f64 = 1.5;
/// Fewest points in a tube, and the least share of them that makes a layer.
const FEWEST: usize = 12;
const LEAST_LAYER: f64 = 0.2;
/// The empty gap between the layers, in standard deviations about them, and at the least, mm.
const CLEAR: f64 = 4.0;
const LEAST_GAP_MM: f64 = 0.1;
/// Steps that differ from the median by less than this share of it are the same step.
const SAME_STEP: f64 = 0.2;
/// Share of the places that must show it: joints, hems and flanges do so in their place, and are sound.
const LEAST_SHARE: f64 = 0.25;
/// How often the split and the fit are taken in turn.
const ROUNDS: usize = 4;
/// Unknowns of the fit: two slopes, three curvatures, a height and a step.
const UNKNOWNS: usize = 7;

/// Looks for two layers; `None` where the set is a single sheet nearly everywhere.
pub fn doubled<F: Frame>(surface: &Surface<F>) -> Option<Doubled> {
    let every = surface.points().len().div_ceil(SAMPLES).max(1);
    let asked: Vec<usize> = (0..surface.points().len()).step_by(every).collect();
    let mut steps: Vec<f64> = asked.par_iter().filter_map(|&i| step_at(surface, i)).collect();
    let step_mm = median(&mut steps);
    let same = steps
        .iter()
        .filter(|step| (**step - step_mm).abs() < SAME_STEP * step_mm)
        .count();
    let share = same as f64 / asked.len().max(1) as f64;
    (share > LEAST_SHARE).then_some(Doubled { step_mm, share })
}

/// A point in the tube: across it as shares of its radius, with the squares, and along it in mm.
struct Place {
    across: [f64; 5],
    height_mm: f64,
}

/// The fit of one curved surface, with a step for the points that are `upper`.
struct Fit {
    unknowns: SVector<f64, UNKNOWNS>,
    /// Standard deviation about both layers, mm.
    about_mm: f64,
}

impl Fit {
    /// Height over the curved part of the surface, mm.
    fn above_mm(&self, place: &Place) -> f64 {
        let curved: f64 = (0..5).map(|k| self.unknowns[k] * place.across[k]).sum();
        place.height_mm - curved
    }
}

/// The step between two layers around a point, square to them, mm; `None` where there is a single one, or too little.
fn step_at<F: Frame>(surface: &Surface<F>, i: usize) -> Option<f64> {
    let (at, normal) = (surface.points()[i], surface.normals()[i]);
    let (u, v) = tangents(&normal);
    let tube_mm = TUBE * surface.spacing_mm;
    let look_mm = LOOK_MM.max(LOOK_SPACINGS * surface.spacing_mm);
    let mut places: Vec<Place> = Vec::new();
    surface.near.visit_within(&at, tube_mm.hypot(look_mm), |n| {
        let d = surface.points()[n.index as usize] - at;
        let (a, b, height_mm) = (d.dot(&u) / tube_mm, d.dot(&v) / tube_mm, d.dot(&normal));
        if a * a + b * b <= 1.0 && height_mm.abs() <= look_mm {
            places.push(Place {
                across: [a, b, a * a, a * b, b * b],
                height_mm,
            });
        }
    });
    if places.len() < FEWEST {
        return None;
    }
    let mut upper = vec![false; places.len()];
    let mut fit = fitted(&places, &upper)?;
    for _ in 0..ROUNDS {
        let next = split(&places, &fit)?;
        let settled = next == upper;
        upper = next;
        fit = fitted(&places, &upper)?;
        if settled {
            break;
        }
    }
    let (mut top_of_lower, mut foot_of_upper) = (f64::NEG_INFINITY, f64::INFINITY);
    for (place, upper) in places.iter().zip(&upper) {
        let above = fit.above_mm(place);
        if *upper {
            foot_of_upper = foot_of_upper.min(above);
        } else {
            top_of_lower = top_of_lower.max(above);
        }
    }
    let clear = foot_of_upper - top_of_lower > (CLEAR * fit.about_mm).max(LEAST_GAP_MM);
    // The normal was taken from both layers and may lean; the step is counted square to what was fitted.
    let slope = fit.unknowns[0].hypot(fit.unknowns[1]) / tube_mm;
    clear.then(|| fit.unknowns[6] / 1f64.hypot(slope))
}

/// Least squares; where no point is upper the step stays nothing.
fn fitted(places: &[Place], upper: &[bool]) -> Option<Fit> {
    let rows: Vec<SVector<f64, UNKNOWNS>> = places
        .iter()
        .zip(upper)
        .map(|(place, upper)| {
            let [a, b, aa, ab, bb] = place.across;
            SVector::<f64, UNKNOWNS>::from([a, b, aa, ab, bb, 1.0, f64::from(u8::from(*upper))])
        })
        .collect();
    // A trace on the diagonal keeps what the points don't show at nothing.
    let mut matrix = SMatrix::<f64, UNKNOWNS, UNKNOWNS>::identity() * (1e-9 * places.len() as f64);
    let mut right = SVector::<f64, UNKNOWNS>::zeros();
    for (row, place) in rows.iter().zip(places) {
        matrix += row * row.transpose();
        right += row * place.height_mm;
    }
    let unknowns = matrix.cholesky()?.solve(&right);
    let squares: f64 = rows
        .iter()
        .zip(places)
        .map(|(row, place)| (place.height_mm - row.dot(&unknowns)).powi(2))
        .sum();
    let degrees = places.len().saturating_sub(UNKNOWNS).max(1);
    Some(Fit {
        unknowns,
        about_mm: (squares / degrees as f64).sqrt(),
    })
}

/// Which points lie above the widest empty gap that leaves a layer on either side.
fn split(places: &[Place], fit: &Fit) -> Option<Vec<bool>> {
    let mut by_height: Vec<(f64, usize)> = places
        .iter()
        .enumerate()
        .map(|(i, place)| (fit.above_mm(place), i))
        .collect();
    by_height.sort_by(|a, b| a.0.total_cmp(&b.0));
    let least = ((LEAST_LAYER * places.len() as f64).ceil() as usize).max(4);
    let last = places.len().checked_sub(least)?;
    let widest = (least..=last).max_by(|&a, &b| {
        let gap = |k: usize| by_height[k].0 - by_height[k - 1].0;
        gap(a).total_cmp(&gap(b))
    })?;
    let mut upper = vec![false; places.len()];
    for (_, i) in &by_height[widest..] {
        upper[*i] = true;
    }
    Some(upper)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use crate::{Cloud, Point, Scan};

    /// A deviate of nearly normal distribution and standard deviation 1: twelve uniforms.
    fn deviate(i: u64) -> f64 {
        (0..12).map(|k| uniform(i + k)).sum::<f64>() - 6.0
    }

    /// A sheet of 200 × 200 mm at 2 mm spacing, gently curved, lifted by `lift`.
    fn sheet(seed: u64, noise: f64, lift: f64) -> Vec<Point> {
        (0..10_000u64)
            .map(|i| {
                let k = 16 * (i + 20_000 * seed);
                let (x, y) = (200.0 * uniform(k), 200.0 * uniform(k + 1));
                Point::new(x, y, x * x / 1000.0 + lift + noise * deviate(k + 2))
            })
            .collect()
    }

    fn looked_at(points: Vec<Point>) -> Option<Doubled> {
        let (surface, _) = Surface::<Scan>::new(Cloud::from_points(points), None).unwrap();
        doubled(&surface)
    }

    #[test]
    fn one_rough_sheet_is_not_doubled() {
        assert_eq!(looked_at(sheet(1, 0.1, 0.0)), None);
    }

    #[test]
    fn both_faces_of_a_sheet_are_two_layers_and_their_step_is_its_thickness() {
        let mut both = sheet(2, 0.05, 0.0);
        both.extend(sheet(3, 0.05, 0.9));
        let found = looked_at(both).unwrap();
        assert!((found.step_mm / 0.9 - 1.0).abs() < 0.05, "{found:?}");
        assert!(found.share > 0.4, "{found:?}");
    }

    #[test]
    fn a_corner_and_a_tube_are_single_sheets() {
        let flat = |seed: u64| {
            (0..5_000u64).map(move |i| {
                let k = 16 * (i + 20_000 * seed);
                (140.0 * uniform(k), 140.0 * uniform(k + 1), 0.05 * deviate(k + 2))
            })
        };
        let mut corner: Vec<Point> = flat(4).map(|(x, y, h)| Point::new(x, y, h)).collect();
        corner.extend(flat(5).map(|(y, z, h)| Point::new(h, y, z)));
        assert_eq!(looked_at(corner), None);
        let tube = (0..8_000u64)
            .map(|i| {
                let k = 16 * (i + 20_000 * 6);
                let (a, r) = (std::f64::consts::TAU * uniform(k), 20.0 + 0.05 * deviate(k + 2));
                Point::new(r * a.cos(), r * a.sin(), 300.0 * uniform(k + 1))
            })
            .collect();
        assert_eq!(looked_at(tube), None);
    }
}
