//! Looks for voids in a sheet: from each place that is open to one side a circle without points is grown and moved until it
//! can grow no more.
//!
//! In a hole it stops on the rim all round, in a slot between its sides, at the outer edge of a sheet it runs off; what it
//! stands in is judged in `judge.rs`.

use std::f64::consts::TAU;

use cloud::survey::tangents;
use cloud::{Frame, Near, Point, Surface, Vector};
use rayon::prelude::*;

use super::in_mesh::{drawn, is_covered};
use super::judge::judged;
use super::sheet::{Metal, Plane};
use super::void::{SMALLEST, Void, widened};
use super::{Hole, LARGEST_MM};
use crate::gap::widest;

/// Neighbours within this many spacings say whether a point is open to one side.
const LOOK: f64 = 2.5;
/// A point whose neighbours leave an angle of this free is open: a third of the turn; twenty neighbours at random leave
/// as much once in a hundred times.
const OPEN: f64 = TAU / 3.0;
/// Circles are begun this many spacings apart: the smallest hole still has five beginnings.
const APART: f64 = 3.0;
/// Metal is looked for from this many spacings on, ahead and half a right angle to either side; a place this share of its
/// distance from the line still lies on it.
const FROM: f64 = 3.0;
const ASIDE: f64 = 0.9;
const ON_LINE: f64 = 0.2;

/// A point that is open to one side.
struct Start {
    index: u32,
    /// Unit direction of the middle of what is open.
    open: Vector,
}

/// The holes of a surface, front to back.
pub fn find<F: Frame>(surface: &Surface<F>) -> Vec<Hole> {
    if surface.spacing_mm.is_nan() || surface.spacing_mm <= 0.0 {
        return Vec::new();
    }
    let metal = Metal::of(surface);
    let least = SMALLEST * surface.spacing_mm;
    let roomy: Vec<Start> = open_points(surface)
        .into_par_iter()
        .with_min_len(64)
        .filter(|start| grown(&metal, start, least).is_some_and(|v| v.radius >= least))
        .collect();
    let voids: Vec<Void> = far_between(surface, roomy)
        .into_par_iter()
        .filter(|start| sees_metal_across(surface, start))
        .filter_map(|start| grown(&metal, &start, f64::INFINITY))
        .filter(|void| void.radius >= least)
        .collect();
    let found: Vec<Hole> = one_of_each(voids)
        .par_iter()
        .filter_map(|void| judged(&metal, void))
        .filter(|hole| !is_covered(hole, surface))
        .collect();
    let mut holes: Vec<Hole> = Vec::new();
    for hole in drawn(&metal).into_iter().chain(found) {
        let reach = |h: &Hole| h.slot.map_or(h.diameter_mm, |s| s.length_mm) / 2.0;
        if holes
            .iter()
            .all(|h| (h.at - hole.at).norm() > reach(h).max(reach(&hole)))
        {
            holes.push(hole);
        }
    }
    holes.sort_by(|a, b| {
        let key = |h: &Hole| [h.at.x, h.at.y, h.at.z];
        let mut orders = key(a).into_iter().zip(key(b)).map(|(a, b)| a.total_cmp(&b));
        orders.find(|o| o.is_ne()).unwrap_or(std::cmp::Ordering::Equal)
    });
    holes
}

/// The points whose neighbours leave a wide angle free, in the order of the set. That they lie to one side is not asked: those of a
/// rim that has more points than the sheet don't.
fn open_points<F: Frame>(surface: &Surface<F>) -> Vec<Start> {
    let points = surface.points();
    (0..points.len() as u32)
        .into_par_iter()
        .with_min_len(512)
        .filter_map(|index| {
            let at = points[index as usize];
            let (u, v) = tangents(&surface.normals()[index as usize]);
            let mut angles: Vec<f64> = Vec::with_capacity(32);
            surface.near.visit_within(&at, LOOK * surface.spacing_mm, |n| {
                let d = points[n.index as usize] - at;
                let (a, b) = (d.dot(&u), d.dot(&v));
                if a != 0.0 || b != 0.0 {
                    angles.push(b.atan2(a));
                }
            });
            angles.sort_by(f64::total_cmp);
            let (gap, middle) = widest(&angles, TAU);
            (gap > OPEN).then(|| Start {
                index,
                open: u * middle.cos() + v * middle.sin(),
            })
        })
        .collect()
}

/// The starts without those that lie near to an earlier one.
fn far_between<F: Frame>(surface: &Surface<F>, starts: Vec<Start>) -> Vec<Start> {
    let points = surface.points();
    let mut taken = vec![false; points.len()];
    starts
        .into_iter()
        .filter(|start| {
            let at = start.index as usize;
            if taken[at] {
                return false;
            }
            surface
                .near
                .visit_within(&points[at], APART * surface.spacing_mm, |n| {
                    taken[n.index as usize] = true;
                });
            true
        })
        .collect()
}

/// Whether there is metal ahead and on either side within the largest hole: off an outer edge there is none.
fn sees_metal_across<F: Frame>(surface: &Surface<F>, start: &Start) -> bool {
    let at = surface.points()[start.index as usize];
    let aside = surface.normals()[start.index as usize].cross(&start.open);
    [0.0, ASIDE, -ASIDE].iter().all(|a| {
        let (sin, cos) = f64::sin_cos(*a);
        meets_metal(surface, &at, &(start.open * cos + aside * sin))
    })
}

/// Whether a line meets a point, going ahead by as much as the nearest is away.
fn meets_metal<F: Frame>(surface: &Surface<F>, from: &Point, direction: &Vector) -> bool {
    let spacing = surface.spacing_mm;
    let mut gone = FROM * spacing;
    while gone < 2.0 * LARGEST_MM {
        let Some(nearest) = surface.near.nearest(&(from + direction * gone)) else {
            return false;
        };
        let away = nearest.squared_mm2.sqrt();
        let on_line = (1.5 * spacing).max(ON_LINE * gone);
        if away < on_line {
            return true;
        }
        gone += (away - on_line).max(spacing);
    }
    false
}

/// The void into which a start looks: the circle that can grow no more, or one of `enough` radius. `None` where it grows
/// beyond the largest hole.
fn grown<F: Frame>(metal: &Metal<'_, F>, start: &Start, enough: f64) -> Option<Void> {
    let surface = metal.surface;
    let spacing = surface.spacing_mm;
    let index = start.index as usize;
    let plane = Plane::new(surface.points()[index], surface.normals()[index]);
    let from = plane.flat(&start.open) * spacing;
    widened(metal, &plane, &from, 2.0 * spacing, enough)
}

/// Of voids that lie in one another the largest, largest first.
fn one_of_each(mut voids: Vec<Void>) -> Vec<Void> {
    voids.sort_by(|a, b| b.radius.total_cmp(&a.radius));
    let middles: Vec<Point> = voids.iter().map(|v| v.at).collect();
    let near = Near::new(&middles);
    let mut taken = vec![false; voids.len()];
    let mut kept = Vec::new();
    for (i, void) in voids.iter().enumerate() {
        if taken[i] {
            continue;
        }
        near.visit_within(&void.at, void.radius, |n| taken[n.index as usize] = true);
        kept.push(*void);
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::Lip;
    use crate::holes::plates::{off_slot, plate};
    use cloud::statistics::{mean, standard_deviation};
    use cloud::{Body, Cloud};

    fn off_round(x: f64, y: f64, diameter: f64) -> f64 {
        (x - 50.0).hypot(y - 40.0) - diameter / 2.0
    }

    // What is to be expected of a hole of eleven spacings is told in `size.rs`.
    #[test]
    fn place_and_size_are_right_on_the_average_and_within_their_pm() {
        let diameter = 11.1125;
        let found: Vec<Hole> = (0..12)
            .map(|seed| {
                let surface: Surface<Body> = plate(seed, |x, y| off_round(x, y, diameter) > 0.0, |_, _| 0.0);
                let holes = find(&surface);
                assert_eq!(holes.len(), 1, "seed {seed}: {holes:?}");
                holes[0]
            })
            .collect();
        let off: Vec<f64> = found.iter().map(|h| h.diameter_mm - diameter).collect();
        assert!(mean(&off).abs() < 0.1, "{}", mean(&off));
        assert!(standard_deviation(&off) < 0.16, "{}", standard_deviation(&off));
        let within = found
            .iter()
            .filter(|h| (h.diameter_mm - diameter).abs() <= h.size_pm_mm)
            .count();
        assert!(within >= 10, "{within} of 12");
        for hole in &found {
            assert!((hole.at - Point::new(50.0, 40.0, 0.0)).norm() < 2.0 * hole.place_pm_mm + 0.05);
            assert!(hole.place_pm_mm < 0.4 && hole.size_pm_mm < 0.5, "{hole:?}");
            assert!(hole.axis.z > 0.999);
            assert_eq!(hole.kind(), "round");
            assert_eq!(hole.lip, Lip::Flat);
        }
    }

    #[test]
    fn a_slot_is_found_with_its_length_and_its_direction() {
        for seed in 0..3 {
            let surface: Surface<Body> = plate(seed, |x, y| off_slot(x, y, 30.0, 12.0) > 0.0, |_, _| 0.0);
            let holes = find(&surface);
            assert_eq!(holes.len(), 1, "{holes:?}");
            let slot = holes[0].slot.unwrap();
            assert!((holes[0].diameter_mm - 12.0).abs() < 0.4, "{holes:?}");
            assert!((slot.length_mm - 30.0).abs() < 0.7, "{holes:?}");
            assert!((slot.along - Vector::new(0.5f64.cos(), 0.5f64.sin(), 0.0)).norm() < 0.05);
            assert!((holes[0].at - Point::new(50.0, 40.0, 0.0)).norm() < 0.5);
            assert_eq!(holes[0].kind(), "slot");
        }
    }

    #[test]
    fn no_hole_is_found_where_there_is_none_or_where_it_is_square_torn_or_filled() {
        let nothing = |surface: Surface<Body>, what: &str| {
            let holes = find(&surface);
            assert!(holes.is_empty(), "{what}: {holes:?}");
        };
        nothing(plate(1, |_, _| true, |_, _| 0.0), "a plate");
        for seed in 0..2 {
            for half in [20.0, 6.0] {
                let square = |x: f64, y: f64| (x - 50.0).abs().max((y - 40.0).abs()) > half;
                nothing(plate(seed, square, |_, _| 0.0), "a square");
            }
            // A bite out of the edge; a tear.
            nothing(plate(seed, |x, y| x.hypot(y - 40.0) > 12.0, |_, _| 0.0), "a bite");
            let torn =
                |x: f64, y: f64| off_round(x, y, 24.0) > 3.0 * (4.0 * (y - 40.0).atan2(x - 50.0)).sin();
            nothing(plate(seed, torn, |_, _| 0.0), "a tear");
            // The head of a bolt stands in it: two spacings of its rim are free all round.
            let bolt = |x: f64, y: f64| off_round(x, y, 24.0) > 0.0 || off_round(x, y, 18.0) < 0.0;
            let high = |x: f64, y: f64| if off_round(x, y, 18.0) < 0.0 { 5.0 } else { 0.0 };
            nothing(plate(seed, bolt, high), "a bolt");
            // A wall of 6 mm that the scanner did not see between two floors.
            let step = |x: f64, _: f64| if x > 50.0 { 6.0 } else { 0.0 };
            nothing(plate(seed, |x, y| off_round(x, y, 20.0) > 0.0, step), "a step");
        }
    }

    #[test]
    fn a_hole_in_a_tube_is_found_and_dirt_in_it_does_not_fill_it() {
        // A quarter of a tube of 45 mm radius along y, unrolled over 100 mm, with a drilled hole of 20 mm.
        let surface: Surface<Body> = {
            let flat: Surface<Body> = plate(3, |_, _| true, |_, _| 0.0);
            let mut points: Vec<Point> = flat
                .points()
                .iter()
                .map(|p| {
                    let a = (p.x - 50.0) / 45.0;
                    let r = 45.0 + p.z;
                    Point::new(r * a.sin(), p.y, r * a.cos())
                })
                .filter(|p| p.z < 0.0 || p.x.hypot(p.y - 40.0) > 10.0)
                .collect();
            points.push(Point::new(1.0, 41.0, 45.0));
            points.push(Point::new(2.5, 38.0, 44.8));
            let mut cloud = Cloud::from_points(points);
            let outward = |p: &Point| Vector::new(p.x, 0.0, p.z).normalize();
            cloud.normals = Some(cloud.points_mm.iter().map(outward).collect());
            Surface::new(cloud, None).unwrap().0
        };
        let holes = find(&surface);
        assert_eq!(holes.len(), 1, "{holes:?}");
        assert!((holes[0].diameter_mm - 20.0).abs() < 0.5, "{holes:?}");
        assert!(holes[0].at.x.abs() < 0.4 && (holes[0].at.y - 40.0).abs() < 0.4);
        // The rim's mean height: 45 − the mean of x²/90 over the circle.
        assert!((holes[0].at.z - (45.0 - 50.0 / 90.0)).abs() < 0.2, "{holes:?}");
        assert!(holes[0].axis.z > 0.995);
    }
}
