//! Round holes, found in both sets without help and matched.
//!
//! From each point that is open to one side a circle without points is grown and moved until it can grow no more: in a
//! hole it stops on the rim all round, at the outer edge of a sheet it runs off. Its size, less what the spacing adds (no
//! point ever falls on the rim itself), is the hole's; a rim fit reads large by about the spacing.

use cloud::survey::tangents;
use cloud::{Body, Frame, Motion, Point, Scan, Surface, Vector};
use nalgebra::Vector2;
use rayon::prelude::*;

use crate::circle::Circle;

/// Largest hole that is looked for, mm of radius.
const LARGEST_MM: f64 = 60.0;
/// Smallest radius in spacings: a random gap as large, where twenty points should be, comes once in e²⁰.
const SMALLEST: f64 = 2.6;
/// Neighbours within this many spacings say whether a point is open to one side.
const LOOK: f64 = 2.5;
/// A point whose neighbours leave an angle of this free is open: a third of the turn; twenty neighbours at random leave
/// as much once in a hundred times.
const OPEN: f64 = std::f64::consts::TAU / 3.0;
/// Widest gap in the rim around a hole, rad (an eighth of the turn): what is open wider is a place that was not seen.
const WIDEST_GAP: f64 = std::f64::consts::TAU / 8.0;
/// Points that touch the largest empty circle on the average, in the ring that the spacing adds: from simulation, see
/// the tests.
const TOUCHING: f64 = 2.3;
/// Two holes farther apart than this are not the same, mm.
const SAME_MM: f64 = 25.4;

/// A round hole of one set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hole {
    /// Centre, mm.
    pub at: Point,
    /// Unit axis, to the outside.
    pub axis: Vector,
    /// Diameter, mm.
    pub diameter_mm: f64,
}

/// A hole of both sets, or of one.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// `hole 1`, counted from the front.
    pub name: String,
    /// In the reference.
    pub reference: Option<Hole>,
    /// In the measured set, in the reference's frame.
    pub measured: Option<Hole>,
    /// ± of an offset, mm.
    pub pm_mm: f64,
}

/// The holes of a surface, front to back.
pub fn find<F: Frame>(surface: &Surface<F>) -> Vec<Hole> {
    let lonely = lonely_points(surface);
    let mut holes: Vec<Hole> = Vec::new();
    // Places from which nothing was found; their neighbours would find nothing either.
    let mut in_vain: Vec<Point> = Vec::new();
    for (i, void) in open_points(surface) {
        let at = surface.points()[i as usize];
        if in_vain
            .iter()
            .rev()
            .take(64)
            .any(|p| (p - at).norm() < 2.0 * surface.spacing_mm)
        {
            continue;
        }
        let on_known_rim = holes.iter().any(|h| {
            let off = (at - h.at).norm() - h.diameter_mm / 2.0;
            off < 2.0 * surface.spacing_mm
        });
        if on_known_rim {
            continue;
        }
        match grown(surface, &lonely, i, &void) {
            Some(hole)
                if holes
                    .iter()
                    .all(|h| (h.at - hole.at).norm() > h.diameter_mm / 2.0) =>
            {
                holes.push(hole)
            }
            _ => in_vain.push(at),
        }
    }
    holes.sort_by(|a, b| {
        let key = |h: &Hole| [h.at.x, h.at.y, h.at.z];
        let mut orders = key(a).into_iter().zip(key(b)).map(|(a, b)| a.total_cmp(&b));
        orders.find(|o| o.is_ne()).unwrap_or(std::cmp::Ordering::Equal)
    });
    holes
}

/// The points whose neighbours leave a wide angle free, in the order of the set, each with the direction of its middle.
fn open_points<F: Frame>(surface: &Surface<F>) -> Vec<(u32, Vector)> {
    let points = surface.points();
    (0..points.len() as u32)
        .into_par_iter()
        .with_min_len(512)
        .filter_map(|i| {
            let (at, normal) = (points[i as usize], surface.normals()[i as usize]);
            let (u, v) = tangents(&normal);
            let mut angles: Vec<f64> = Vec::with_capacity(32);
            surface.near.visit_within(&at, LOOK * surface.spacing_mm, |n| {
                let d = points[n.index as usize] - at;
                let (a, b) = (d.dot(&u), d.dot(&v));
                if a != 0.0 || b != 0.0 {
                    angles.push(b.atan2(a));
                }
            });
            angles.sort_by(f64::total_cmp);
            let (gap, middle) = widest_gap(&angles);
            (gap > OPEN).then(|| (i, u * middle.cos() + v * middle.sin()))
        })
        .collect()
}

/// The widest gap between sorted angles, all the way round, and its middle; a whole turn where there are none.
fn widest_gap(sorted: &[f64]) -> (f64, f64) {
    let (Some(first), Some(last)) = (sorted.first(), sorted.last()) else {
        return (std::f64::consts::TAU, 0.0);
    };
    let round = first + std::f64::consts::TAU - last;
    let mut widest = (round, last + round / 2.0);
    for pair in sorted.windows(2) {
        let gap = pair[1] - pair[0];
        if gap > widest.0 {
            widest = (gap, pair[0] + gap / 2.0);
        }
    }
    widest
}

/// Which points have too few neighbours to be of the sheet: dirt in a hole must not fill it.
fn lonely_points<F: Frame>(surface: &Surface<F>) -> Vec<bool> {
    surface
        .points()
        .par_iter()
        .with_min_len(512)
        .map(|p| {
            let mut count = 0;
            surface
                .near
                .visit_within(p, 2.5 * surface.spacing_mm, |_| count += 1);
            count < 5
        })
        .collect()
}

/// The hole into which the open point `start` looks along `void`, if it is one.
fn grown<F: Frame>(surface: &Surface<F>, lonely: &[bool], start: u32, void: &Vector) -> Option<Hole> {
    let spacing = surface.spacing_mm;
    let (points, normals) = (surface.points(), surface.normals());
    let (from, axis) = (points[start as usize], normals[start as usize]);
    let (u, v) = tangents(&axis);
    // Points of the same sheet within `reach` of a place, in the plane through the start.
    let sheet = |centre: &Vector2<f64>, reach: f64| {
        let place = from + u * centre.x + v * centre.y;
        let mut found: Vec<(Vector2<f64>, u32)> = Vec::new();
        surface.near.visit_within(&place, reach, |n| {
            let j = n.index as usize;
            let d = points[j] - from;
            if d.dot(&axis).abs() < 2.0 * spacing + 0.1 * reach
                && normals[j].dot(&axis).abs() > 0.5
                && !lonely[j]
            {
                found.push((Vector2::new(d.dot(&u), d.dot(&v)), n.index));
            }
        });
        found
    };
    let room = |centre: &Vector2<f64>, reach: f64| {
        let nearest = sheet(centre, reach)
            .iter()
            .map(|(q, _)| (q - centre).norm_squared())
            .fold(f64::INFINITY, f64::min);
        nearest.sqrt().min(reach)
    };
    let mut centre = Vector2::new(void.dot(&u), void.dot(&v)) * spacing;
    let mut radius = room(&centre, 2.0 * spacing);
    let mut step = spacing;
    while step > 0.05 * spacing {
        let mut best = (radius, centre);
        for k in 0..8 {
            let a = std::f64::consts::TAU * f64::from(k) / 8.0;
            let next = centre + Vector2::new(a.cos(), a.sin()) * step;
            let r = room(&next, radius + step + spacing);
            if r > best.0 {
                best = (r, next);
            }
        }
        if best.0 > LARGEST_MM {
            return None;
        }
        if best.0 > radius {
            (radius, centre) = best;
            step *= 1.3;
        } else {
            step /= 2.0;
        }
    }
    let around = sheet(&centre, radius + 2.0 * spacing);
    let places: Vec<Vector2<f64>> = around.iter().map(|(q, _)| *q).collect();
    let empty = largest_empty(&places, &Circle { centre, radius }, spacing);
    if empty.radius < SMALLEST * spacing {
        return None;
    }
    let mut angles: Vec<f64> = places
        .iter()
        .map(|q| (q.y - empty.centre.y).atan2(q.x - empty.centre.x))
        .collect();
    angles.sort_by(f64::total_cmp);
    if widest_gap(&angles).0 > WIDEST_GAP {
        return None;
    }
    // The rim itself says how the hole stands: its mean place along the axis, its mean normal.
    let n = around.len() as f64;
    let stands = around
        .iter()
        .map(|(_, i)| normals[*i as usize])
        .sum::<Vector>()
        .try_normalize(0.5 * n)?;
    let height = around
        .iter()
        .map(|(_, i)| (points[*i as usize] - from).dot(&axis))
        .sum::<f64>()
        / n;
    let added = TOUCHING * spacing * spacing / (std::f64::consts::TAU * empty.radius);
    Some(Hole {
        at: from + u * empty.centre.x + v * empty.centre.y + axis * height,
        axis: stands,
        diameter_mm: 2.0 * (empty.radius - added),
    })
}

/// The largest circle without a point in it, its centre within `slack` of the start's, by a shrinking search.
fn largest_empty(points: &[Vector2<f64>], start: &Circle, slack: f64) -> Circle {
    let room = |centre: &Vector2<f64>| {
        points
            .iter()
            .map(|p| (p - centre).norm_squared())
            .fold(f64::INFINITY, f64::min)
            .sqrt()
    };
    let mut best = start.centre;
    let mut radius = room(&best);
    let mut step = slack / 2.0;
    while step > 1e-4 {
        let mut moved = false;
        for k in 0..16 {
            let a = std::f64::consts::TAU * f64::from(k) / 16.0;
            let next = best + Vector2::new(a.cos(), a.sin()) * step;
            let r = room(&next);
            if r > radius && (next - start.centre).norm() <= slack {
                (best, radius, moved) = (next, r, true);
            }
        }
        if !moved {
            step /= 2.0;
        }
    }
    Circle {
        centre: best,
        radius: if radius.is_finite() { radius } else { start.radius },
    }
}

/// Matches the holes of both sets; a hole of the reference without a partner is missing only where the measured set
/// shows metal all round or in its place, else it was not seen and is left out.
pub fn matched(
    reference: &Surface<Body>,
    measured: &Surface<Scan>,
    reference_from_measured: &Motion<Scan, Body>,
) -> Vec<Pair> {
    let ours = find(reference);
    let mut theirs: Vec<Option<Hole>> = find(measured)
        .into_iter()
        .map(|h| {
            Some(Hole {
                at: reference_from_measured.apply(&h.at),
                axis: reference_from_measured.turn(&h.axis),
                ..h
            })
        })
        .collect();
    let spacing = reference.spacing_mm.max(measured.spacing_mm);
    let mut pairs = Vec::new();
    for hole in ours {
        let partner = (0..theirs.len())
            .filter(|&k| {
                theirs[k]
                    .is_some_and(|t| (t.at - hole.at).norm() < SAME_MM && t.axis.dot(&hole.axis).abs() > 0.8)
            })
            .min_by(|&a, &b| {
                let gap = |k: usize| theirs[k].map_or(f64::INFINITY, |t| (t.at - hole.at).norm());
                gap(a).total_cmp(&gap(b))
            });
        let measured_hole = partner.and_then(|k| theirs[k].take());
        if measured_hole.is_none() && !seen_around(&hole, measured, reference_from_measured) {
            continue;
        }
        pairs.push((Some(hole), measured_hole));
    }
    pairs.extend(theirs.into_iter().flatten().map(|h| (None, Some(h))));
    pairs
        .into_iter()
        .enumerate()
        .map(|(i, (reference, measured))| Pair {
            name: format!("hole {}", i + 1),
            pm_mm: reference.or(measured).map_or(0.0, |h| {
                // The width of the ring that the spacing adds, shared by three touching points; on identical plates holes
                // of 10 to 13 mm scattered by 0.12 spacings, so three tenths of one hold the 95 %.
                (1.96 * spacing * spacing / (std::f64::consts::PI * h.diameter_mm)).max(0.3 * spacing)
            }),
            reference,
            measured,
        })
        .collect()
}

/// Whether the measured set shows the sheet on most of the ring around the hole.
fn seen_around(hole: &Hole, measured: &Surface<Scan>, reference_from_measured: &Motion<Scan, Body>) -> bool {
    let back = reference_from_measured.inverse();
    let (u, v) = tangents(&hole.axis);
    let radius = hole.diameter_mm / 2.0 + 3.0 * measured.spacing_mm;
    let hits = (0..24)
        .filter(|k| {
            let a = std::f64::consts::TAU * f64::from(*k) / 24.0;
            let at = hole.at + (u * a.cos() + v * a.sin()) * radius;
            measured.near.nearest_within(&back.apply(&at), 12.7).is_some()
        })
        .count();
    hits >= 20
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Cloud;
    use cloud::statistics::{mean, standard_deviation};

    fn uniform(i: u64) -> f64 {
        let mut x = i.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        (x ^ x >> 31) as f64 / u64::MAX as f64
    }

    /// A flat sheet of 80 × 80 mm at 1 mm spacing with one hole of `diameter` about (40, 40).
    fn holed(diameter: f64, seed: u64) -> Surface<Body> {
        let points: Vec<Point> = (0..6400u64)
            .map(|i| {
                let k = 4 * (i + seed * 10_000);
                Point::new(
                    80.0 * uniform(k),
                    80.0 * uniform(k + 1),
                    0.1 * (uniform(k + 2) - 0.5),
                )
            })
            .filter(|p| (p.x - 40.0).hypot(p.y - 40.0) > diameter / 2.0)
            .collect();
        let n = points.len();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(vec![Vector::z(); n]);
        Surface::new(cloud, None).unwrap().0
    }

    #[test]
    fn centre_and_size_are_right_on_the_average_and_no_hole_is_invented() {
        let diameter = 11.1125;
        let found: Vec<Hole> = (0..30)
            .map(|seed| {
                let holes = find(&holed(diameter, seed));
                assert_eq!(holes.len(), 1, "seed {seed}: {holes:?}");
                holes[0]
            })
            .collect();
        let sizes: Vec<f64> = found.iter().map(|h| h.diameter_mm - diameter).collect();
        assert!(mean(&sizes).abs() < 0.06, "{}", mean(&sizes));
        assert!(
            standard_deviation(&sizes) < 0.15,
            "{}",
            standard_deviation(&sizes)
        );
        let off: Vec<f64> = found
            .iter()
            .map(|h| (h.at.x - 40.0).hypot(h.at.y - 40.0))
            .collect();
        assert!(mean(&off) < 0.15, "{}", mean(&off));
        assert!(find(&holed(0.0, 99)).is_empty());
    }
}
