//! The profile that all sections of a bead share: depth, width at half depth, walls, and whether its floor is flat.
//!
//! The sections lie on one another, so that their points are far denser across than the spacing; the profile is drawn through
//! the medians of runs of them and is of no given form. Where half the depth is met is read off a line along the wall.

use cloud::statistics::{median, robust_spread};

use super::least::{Row, least_squares};

/// Width of the level metal at either side on which the base line first lies, mm.
const BASE_MM: f64 = 15.0;
/// Rounds in which base line, depth and width settle.
const ROUNDS: usize = 4;
/// Points to a knot at least, and knots' distance at least, mm.
const POINTS: usize = 12;
const KNOT_MM: f64 = 0.5;
/// Fewest knots, and fewest of them on either base.
const FEWEST: usize = 16;
const FEWEST_BASE: usize = 3;
/// A raised cosine's foot lies 0.7 times as far outside its tenth of the depth as that lies outside half.
const FOOT: f64 = 0.8;
/// Over this share of the depth lies the floor; with more than this share of the width it is flat. A raised cosine has 0.29 and
/// a round back 0.32, whatever their size.
const FLOOR: f64 = 0.95;
const FLAT: f64 = 0.45;
/// Steepest base line, as the share of the depth that it rises over the width: beyond it the two sides are no one sheet.
const LEANS: f64 = 0.5;
/// Distance of the shape's samples, mm.
const SAMPLE_MM: f64 = 0.25;

/// One knot: place across, height, mm.
type Knot = (f64, f64);

/// What the profile itself leaves open: standard uncertainties from the noise of the points that each figure stands on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Unsure {
    pub place_mm: f64,
    pub width_mm: f64,
    pub depth_mm: f64,
}

/// The shared profile.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Profile {
    /// From the base line to the floor or the crown, mm.
    pub depth_mm: f64,
    /// Between the half-depth lines, mm.
    pub width_mm: f64,
    /// Half way between them, mm across.
    pub middle_mm: f64,
    /// The base line: its height at 0 across, mm, and its lean.
    pub base: [f64; 2],
    /// Whether the floor is flat.
    pub flat: bool,
    /// Slope from a quarter to three quarters of the depth, rad, mean of both sides.
    pub wall: Option<f64>,
    /// How far the points scatter about the profile, mm.
    pub scatter_mm: f64,
    /// What the figures leave open.
    pub unsure: Unsure,
    shape: Vec<f64>,
    shape_from_mm: f64,
}

impl Profile {
    /// The profile of points given as (across, height) within `reach_mm` of the middle of a relief that rises to above 0 and
    /// is about `width_mm` wide. `None` where they don't show a floor with level metal on both sides.
    pub fn pooled(points: &[(f64, f64)], width_mm: f64, reach_mm: f64) -> Option<Self> {
        let wanted = (2.0 * reach_mm / KNOT_MM) as usize;
        let mut knots = knots(points, wanted.min(points.len() / POINTS).max(FEWEST));
        if knots.len() < FEWEST {
            return None;
        }
        let mut on_base: Vec<bool> = knots.iter().map(|(x, _)| x.abs() > reach_mm - BASE_MM).collect();
        let (mut level, mut lean): (f64, f64) = (0.0, 0.0);
        let mut parts = Parts {
            middle: 0.0,
            width: width_mm,
            ..Parts::default()
        };
        for _ in 0..ROUNDS {
            let line = least_squares(
                knots
                    .iter()
                    .zip(&on_base)
                    .filter(|(_, on)| **on)
                    .map(|((x, height), _)| (Row::from([1.0, *x, 0.0, 0.0, 0.0]), *height, 1.0)),
            )?;
            for (x, height) in &mut knots {
                *height -= line[0] + line[1] * *x;
            }
            level += line[0];
            lean += line[1];
            parts = Parts::of(&knots, parts.middle, parts.width)?;
            on_base = knots
                .iter()
                .map(|(x, _)| *x < parts.foot[0] || *x > parts.foot[1])
                .collect();
            let left = knots.iter().filter(|(x, _)| *x < parts.foot[0]).count();
            let right = knots.iter().filter(|(x, _)| *x > parts.foot[1]).count();
            if left < FEWEST_BASE || right < FEWEST_BASE {
                return None;
            }
        }
        if lean.abs() * parts.width > LEANS * parts.depth {
            return None;
        }
        Some(Self::made(points, &knots, &parts, [level, lean]))
    }

    fn made(points: &[(f64, f64)], knots: &[Knot], parts: &Parts, base: [f64; 2]) -> Self {
        let (shape, shape_from_mm) = sampled(knots, parts);
        let mut profile = Self {
            depth_mm: parts.depth,
            width_mm: parts.width,
            middle_mm: parts.middle,
            base,
            flat: parts.floor >= FLAT,
            wall: parts.wall,
            scatter_mm: 0.0,
            unsure: Unsure {
                place_mm: 0.0,
                width_mm: 0.0,
                depth_mm: 0.0,
            },
            shape,
            shape_from_mm,
        };
        let rest: Vec<f64> = points
            .iter()
            .map(|(x, height)| {
                height - base[0] - base[1] * x - profile.depth_mm * profile.at(x - profile.middle_mm)
            })
            .collect();
        profile.scatter_mm = robust_spread(&rest);
        // A half-depth line is as sure as the noise of the points on its wall, put flat by the wall's slope.
        let steep = parts.wall.unwrap_or(0.5).tan();
        let run = parts.depth / 4.0 / steep;
        let from_middle = |x: f64| (x - parts.middle).abs();
        let on_walls = points
            .iter()
            .filter(|(x, _)| (from_middle(*x) - parts.width / 2.0).abs() < run)
            .count();
        let on_top = points
            .iter()
            .filter(|(x, _)| from_middle(*x) < 0.22 * parts.width)
            .count();
        let line = profile.scatter_mm / steep / (on_walls as f64 / 2.0).max(1.0).sqrt();
        profile.unsure = Unsure {
            place_mm: line / std::f64::consts::SQRT_2,
            width_mm: line * std::f64::consts::SQRT_2,
            // Half as much again for the medians that it is read off.
            depth_mm: 1.5 * profile.scatter_mm / (on_top.max(1) as f64).sqrt(),
        };
        profile
    }

    /// Height at a place across from the middle, as a share of the depth.
    pub fn at(&self, across_mm: f64) -> f64 {
        let place = (across_mm - self.shape_from_mm) / SAMPLE_MM;
        let below = place.floor();
        if below < 0.0 || below as usize + 1 >= self.shape.len() {
            return 0.0;
        }
        let (a, b) = (self.shape[below as usize], self.shape[below as usize + 1]);
        a + (place - below) * (b - a)
    }
}

/// What is read off the knots.
#[derive(Default)]
struct Parts {
    depth: f64,
    middle: f64,
    width: f64,
    foot: [f64; 2],
    floor: f64,
    wall: Option<f64>,
}

impl Parts {
    fn of(knots: &[Knot], middle: f64, width: f64) -> Option<Self> {
        let mut crown: Vec<f64> = knots
            .iter()
            .filter(|(x, _)| (x - middle).abs() < 0.15 * width)
            .map(|(_, height)| *height)
            .collect();
        let top = median(&mut crown);
        if crown.is_empty() || top <= 0.0 {
            return None;
        }
        let centre = (0..knots.len()).min_by(|&a, &b| {
            (knots[a].0 - middle)
                .abs()
                .total_cmp(&(knots[b].0 - middle).abs())
        })?;
        // Outward from the middle to either side.
        let left: Vec<Knot> = knots[..=centre].iter().rev().copied().collect();
        let right = knots[centre..].to_vec();
        let half = [half_depth(&left, top)?, half_depth(&right, top)?];
        let (middle, width) = ((half[0] + half[1]) / 2.0, half[1] - half[0]);
        let floor = share_of_floor(knots, FLOOR * top, half) / width;
        let depth = if floor >= FLAT {
            let mut flat: Vec<f64> = knots
                .iter()
                .filter(|(x, _)| (x - middle).abs() < 0.25 * floor * width)
                .map(|(_, height)| *height)
                .collect();
            if flat.is_empty() { top } else { median(&mut flat) }
        } else {
            crown_of(knots, middle, width).unwrap_or(top)
        };
        let half = [half_depth(&left, depth)?, half_depth(&right, depth)?];
        let tenth = [through(&left, 0.1 * depth)?, through(&right, 0.1 * depth)?];
        let (middle, width) = ((half[0] + half[1]) / 2.0, half[1] - half[0]);
        let quarters =
            [0.25, 0.75].map(|share| Some(through(&right, share * depth)? - through(&left, share * depth)?));
        let wall = match quarters {
            [Some(low), Some(high)] if low > high => Some((depth / (low - high)).atan()),
            _ => None,
        };
        (width > 0.0).then(|| Self {
            depth,
            middle,
            width,
            foot: [
                tenth[0] - FOOT * (half[0] - tenth[0]).max(0.0),
                tenth[1] + FOOT * (tenth[1] - half[1]).max(0.0),
            ],
            floor,
            wall,
        })
    }
}

/// Medians of runs of points along the profile, in `count` runs of as many points each.
fn knots(points: &[(f64, f64)], count: usize) -> Vec<Knot> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    sorted
        .chunks(sorted.len().div_ceil(count).max(1))
        .map(|run| {
            let x = run.iter().map(|(x, _)| x).sum::<f64>() / run.len() as f64;
            let mut heights: Vec<f64> = run.iter().map(|(_, height)| *height).collect();
            (x, median(&mut heights))
        })
        .collect()
}

/// Where a path outward from the middle first falls through a height.
fn through(path: &[Knot], height: f64) -> Option<f64> {
    let below = path.iter().position(|(_, h)| *h < height)?;
    let (a, b) = (path[below.checked_sub(1)?], path[below]);
    Some(a.0 + (b.0 - a.0) * (a.1 - height) / (a.1 - b.1))
}

/// Where a path outward from the middle falls through half of the depth: on the line through the knots of the wall between
/// a quarter and three quarters of it.
fn half_depth(path: &[Knot], depth: f64) -> Option<f64> {
    let crossing = through(path, depth / 2.0)?;
    let below = path.iter().position(|(_, h)| *h < depth / 2.0)?;
    let on_wall = |i: &usize| (0.25 * depth..0.75 * depth).contains(&path[*i].1);
    let first = (0..below).rev().take_while(on_wall).last().unwrap_or(below);
    let last = (below..path.len())
        .take_while(on_wall)
        .last()
        .map_or(below, |i| i + 1);
    let wall = &path[first..last];
    if wall.len() < 3 {
        return Some(crossing);
    }
    let n = wall.len() as f64;
    let x = wall.iter().map(|k| k.0).sum::<f64>() / n;
    let height = wall.iter().map(|k| k.1).sum::<f64>() / n;
    let (mut square, mut product): (f64, f64) = (0.0, 0.0);
    for knot in wall {
        square += (knot.0 - x).powi(2);
        product += (knot.0 - x) * (knot.1 - height);
    }
    let line = x + (depth / 2.0 - height) * square / product;
    // A wall of a few knots that is nearly upright keeps to the crossing itself.
    Some(if line.is_finite() {
        line.clamp(crossing - 2.0, crossing + 2.0)
    } else {
        crossing
    })
}

/// How wide the knots between the half-depth lines lie over `height`.
fn share_of_floor(knots: &[Knot], height: f64, half: [f64; 2]) -> f64 {
    knots
        .windows(3)
        .filter(|k| k[1].1 >= height && k[1].0 > half[0] && k[1].0 < half[1])
        .map(|k| (k[2].0 - k[0].0) / 2.0)
        .sum()
}

/// Height of a round top: the vertex of the parabola through the knots about the middle; `None` where they don't arch.
fn crown_of(knots: &[Knot], middle: f64, width: f64) -> Option<f64> {
    let about = knots
        .iter()
        .map(|(x, height)| ((x - middle) / width, *height))
        .filter(|(t, _)| t.abs() < 0.22);
    if about.clone().count() < 4 {
        return None;
    }
    let c = least_squares(about.map(|(t, height)| (Row::from([1.0, t, t * t, 0.0, 0.0]), height, 1.0)))?;
    let top = (-c[1] / (2.0 * c[2])).clamp(-0.15, 0.15);
    (c[2] < 0.0).then(|| c[0] + top * (c[1] + top * c[2]))
}

/// The knots as shares of the depth at even distances about the middle, nothing beyond the foot.
fn sampled(knots: &[Knot], parts: &Parts) -> (Vec<f64>, f64) {
    let from = parts.foot[0] - 2.0 * SAMPLE_MM;
    let count = ((parts.foot[1] + 2.0 * SAMPLE_MM - from) / SAMPLE_MM) as usize + 2;
    let mut next = 0;
    let shape = (0..count)
        .map(|k| {
            let x = from + k as f64 * SAMPLE_MM;
            if x < parts.foot[0] || x > parts.foot[1] {
                return 0.0;
            }
            while next + 1 < knots.len() && knots[next].0 < x {
                next += 1;
            }
            let (a, b) = (knots[next.saturating_sub(1)], knots[next]);
            let share = if b.0 > a.0 { (x - a.0) / (b.0 - a.0) } else { 0.0 };
            (a.1 + share.clamp(0.0, 1.0) * (b.1 - a.1)) / parts.depth
        })
        .collect();
    (shape, from - parts.middle)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use crate::wall_profile::profile;

    /// Points over ±50 mm of a shape that lies at 2 mm across, on a base that leans, with noise of 0.1 mm.
    fn pooled(shape: impl Fn(f64) -> f64) -> Profile {
        let points: Vec<(f64, f64)> = (0..6000u64)
            .map(|i| {
                let x = 100.0 * uniform(4 * i) - 50.0;
                let noise = 0.2 * (uniform(4 * i + 1) + uniform(4 * i + 2) + uniform(4 * i + 3) - 1.5);
                (x, shape(x - 2.0) + 0.3 + 0.01 * x + noise)
            })
            .collect();
        Profile::pooled(&points, 18.0, 50.0).unwrap()
    }

    /// A raised cosine of 31.75 mm at its foot is half as wide at half depth, and steepest there.
    #[test]
    fn a_round_bead_is_read_from_its_crown() {
        let found = pooled(|x| {
            let t = x / 15.875;
            6.35 * if t.abs() < 1.0 {
                0.5 * (1.0 + (std::f64::consts::PI * t).cos())
            } else {
                0.0
            }
        });
        assert!((found.depth_mm - 6.35).abs() < 0.06, "{}", found.depth_mm);
        assert!((found.width_mm - 15.875).abs() < 0.12, "{}", found.width_mm);
        assert!((found.middle_mm - 2.0).abs() < 0.05, "{}", found.middle_mm);
        assert!(!found.flat);
        assert!((found.at(0.0) - 1.0).abs() < 0.03 && (found.at(15.875 / 2.0) - 0.5).abs() < 0.03);
        assert_eq!(found.at(40.0), 0.0);
        // From a quarter to three quarters: half the depth over a third of 15.875.
        let wall = (3.175_f64 / (15.875 / 3.0)).atan();
        assert!((found.wall.unwrap() - wall).abs() < 0.02, "{:?}", found.wall);
    }

    #[test]
    fn a_flat_floor_is_known_and_read_as_deep_as_it_lies() {
        let found = pooled(|x| profile(11.0 - x.abs(), 6.35, 0.9, 2.0, 3.0));
        assert!(found.flat);
        assert!((found.depth_mm - 6.35).abs() < 0.04, "{}", found.depth_mm);
        assert!((found.width_mm - 22.0).abs() < 0.1, "{}", found.width_mm);
        assert!((found.wall.unwrap() - 0.9).abs() < 0.05, "{:?}", found.wall);
    }

    #[test]
    fn metal_that_is_level_on_one_side_only_has_no_profile() {
        let points: Vec<(f64, f64)> = (0..3000u64)
            .map(|i| 100.0 * uniform(i) - 50.0)
            .map(|x| (x, if x > -8.0 { 5.0 } else { 0.0 }))
            .collect();
        assert!(Profile::pooled(&points, 18.0, 50.0).is_none());
    }
}
