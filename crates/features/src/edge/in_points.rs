//! Free edges in points: where a disc of a few spacings lies against a point and holds no other.
//!
//! The disc is rolled around every point in its tangent plane; where it finds room between two neighbours that stop it,
//! the point is on an edge and the two are its neighbours along it (the α-shape of Edelsbrunner, Kirkpatrick & Seidel
//! 1983, IEEE Trans. Inf. Theory 29, 551-559, taken in the surface). All points near the tangent plane stop the disc,
//! however they face: at a fold and where a sheet stands on another there is no room. With a disc of 2.5 spacings a sheet
//! at random spacing shows a hole that is none once in ten million points; folds back on themselves by more than about
//! 125° count as edges.

use std::f64::consts::TAU;

use cloud::survey::tangents;
use cloud::{Frame, Surface, Vector};
use rayon::prelude::*;

use super::boundary::Rim;
use super::link;

/// Radius of the disc, in spacings.
const DISC: f64 = 2.5;
/// With fewer points than this within the disc's radius, itself among them, a point is dirt and stops nothing.
const CROWDED: u32 = 4;
/// Points farther off the tangent plane than this many spacings and a tenth of their distance stop nothing.
const OFF_PLANE: f64 = 2.0;

/// Room for the disc beside a point.
pub(super) struct Opening {
    /// The point.
    pub point: u32,
    /// The points that stop the disc, one at each end of the room.
    pub stops: [u32; 2],
    /// Unit directions from the point to the middle of the disc at either end.
    pub towards: [Vector; 2],
    /// Unit direction of the middle of the room: off the metal.
    pub void: Vector,
}

/// The edges of a set of points, rough as the spacing makes them.
pub(super) fn rims<F: Frame>(surface: &Surface<F>) -> Vec<Rim> {
    let openings = openings(surface);
    let radius_mm = DISC * surface.spacing_mm;
    link::chains(&openings, surface.points(), radius_mm)
        .into_iter()
        .map(|chain| {
            let open = || chain.openings.iter().map(|&k| &openings[k]);
            Rim {
                at: open().map(|o| surface.points()[o.point as usize]).collect(),
                void: open().map(|o| o.void).collect(),
                normal: open().map(|o| surface.normals()[o.point as usize]).collect(),
                closed: chain.closed,
            }
        })
        .collect()
}

/// The openings of all points, in the order of the set.
fn openings<F: Frame>(surface: &Surface<F>) -> Vec<Opening> {
    let surroundings = surroundings(surface);
    (0..surface.points().len() as u32)
        .into_par_iter()
        .with_min_len(512)
        .filter(|&i| surroundings[i as usize].may_open)
        .flat_map_iter(|i| openings_at(surface, &surroundings, i))
        .collect()
}

/// What a point's neighbours within the disc's radius say.
struct Surroundings {
    /// Too few of them: dirt.
    alone: bool,
    /// They leave a third of the turn free, as they must where a disc lies against the point.
    may_open: bool,
}

fn surroundings<F: Frame>(surface: &Surface<F>) -> Vec<Surroundings> {
    let (points, normals) = (surface.points(), surface.normals());
    (0..points.len())
        .into_par_iter()
        .with_min_len(512)
        .map(|i| {
            let (at, normal) = (points[i], normals[i]);
            let (u, v) = tangents(&normal);
            let (mut count, mut taken) = (0, 0u32);
            surface.near.visit_within(&at, DISC * surface.spacing_mm, |n| {
                count += 1;
                let d = points[n.index as usize] - at;
                if stops(&d, &normal, surface.spacing_mm) {
                    let turn = d.dot(&v).atan2(d.dot(&u)) / TAU + 1.0;
                    taken |= 1 << ((turn * 12.0) as u32 % 12);
                }
            });
            // A third of the turn holds three whole twelfths in a row.
            let free = !taken & 0xfff;
            let next = |twelfths: u32| ((twelfths << 1) | (twelfths >> 11)) & 0xfff;
            let alone = count < CROWDED;
            Surroundings {
                alone,
                may_open: !alone && free & next(free) & next(next(free)) != 0,
            }
        })
        .collect()
}

/// Whether a point that lies by `d` from another can stop the disc there.
fn stops(d: &Vector, normal: &Vector, spacing_mm: f64) -> bool {
    let distance = d.norm();
    distance > 0.0 && d.dot(normal).abs() < OFF_PLANE * spacing_mm + 0.1 * distance
}

/// Directions of the disc's middle that a neighbour forbids, rad.
struct Arc {
    start: f64,
    end: f64,
    by: u32,
}

/// Where the disc has room beside the point `i`.
fn openings_at<F: Frame>(surface: &Surface<F>, surroundings: &[Surroundings], i: u32) -> Vec<Opening> {
    let radius = DISC * surface.spacing_mm;
    let (at, normal) = (surface.points()[i as usize], surface.normals()[i as usize]);
    let (u, v) = tangents(&normal);
    let mut arcs: Vec<Arc> = Vec::with_capacity(96);
    surface.near.visit_within(&at, 2.0 * radius, |n| {
        let d = surface.points()[n.index as usize] - at;
        if surroundings[n.index as usize].alone || !stops(&d, &normal, surface.spacing_mm) {
            return;
        }
        let half = (d.norm() / (2.0 * radius)).min(1.0).acos();
        let start = (d.dot(&v).atan2(d.dot(&u)) - half).rem_euclid(TAU);
        arcs.push(Arc {
            start,
            end: start + 2.0 * half,
            by: n.index,
        });
    });
    arcs.sort_unstable_by(|a, b| a.start.total_cmp(&b.start).then(a.by.cmp(&b.by)));
    let Some(last) = arcs.iter().max_by(|a, b| a.end.total_cmp(&b.end)) else {
        return Vec::new();
    };
    let (mut reach, mut by) = (last.end - TAU, last.by);
    let towards = |angle: f64| u * angle.cos() + v * angle.sin();
    let mut found = Vec::new();
    for arc in &arcs {
        if arc.start > reach + 1e-9 {
            found.push(Opening {
                point: i,
                stops: [by, arc.by],
                towards: [towards(reach), towards(arc.start)],
                void: towards((reach + arc.start) / 2.0),
            });
        }
        if arc.end > reach {
            (reach, by) = (arc.end, arc.by);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::super::find;
    use super::super::plates::{ball, flanged, holed, standing};
    use super::*;
    use cloud::Body;

    #[test]
    fn a_plate_with_a_hole_has_two_closed_edges_of_the_right_length() {
        for (spacing, slack) in [(1.0, 0.02), (3.0, 0.04)] {
            let edges = find(&holed::<Body>(spacing, 30.0, 4));
            assert_eq!(edges.len(), 2, "{spacing}");
            let mut lengths: Vec<f64> = edges.iter().map(|e| e.length_mm()).collect();
            lengths.sort_by(f64::total_cmp);
            assert!(edges.iter().all(|e| e.closed));
            assert!((lengths[1] / 600.0 - 1.0).abs() < slack, "{lengths:?}");
            assert!(
                (lengths[0] / (30.0 * TAU / 2.0) - 1.0).abs() < 5.0 * slack,
                "{lengths:?}"
            );
        }
    }

    #[test]
    fn outward_is_off_the_metal_and_square_to_the_normal() {
        for edge in find(&holed::<Body>(1.0, 30.0, 5)) {
            for ((p, outward), normal) in edge.at.iter().zip(&edge.outward).zip(&edge.normal) {
                let ahead = p + outward * 4.0;
                let in_hole = (ahead.x - 60.0).hypot(ahead.y - 50.0) < 15.0;
                let on_plate = (0.0..200.0).contains(&ahead.x) && (0.0..100.0).contains(&ahead.y);
                assert!(in_hole || !on_plate, "{p} {outward}");
                assert!(outward.dot(normal).abs() < 1e-9 && normal.z.abs() > 0.9);
            }
        }
    }

    /// A fold is no edge, whether crisp or round; its lip is one, and the sides run over it without a break.
    #[test]
    fn a_fold_is_no_edge_and_its_lip_is() {
        for (spacing, radius) in [(1.0, 0.0), (1.0, 3.0), (3.0, 0.0), (3.0, 6.0)] {
            let plate = flanged::<Body>(spacing, radius, 12.7, 6);
            let edges = find(&plate);
            assert_eq!(edges.len(), 1, "{spacing} {radius}");
            assert!(edges[0].closed);
            let at_the_fold = |z: f64, y: f64| z > -6.0 && (10.0..90.0).contains(&y);
            let wrong = edges[0]
                .at
                .iter()
                .filter(|p| p.x > 185.0 && at_the_fold(p.z, p.y));
            assert_eq!(wrong.count(), 0, "{spacing} {radius}");
            let lip = edges[0]
                .at
                .iter()
                .filter(|p| p.z < -8.0 && (10.0..90.0).contains(&p.y));
            assert!(lip.count() as f64 > 80.0 / (3.0 * spacing), "{spacing} {radius}");
        }
    }

    #[test]
    fn where_a_sheet_stands_on_another_there_is_no_edge() {
        let joint: Surface<Body> = standing(1.0, 7);
        for edge in find(&joint) {
            // The wall stands at x 100, y 0 to 100.
            let wrong = edge
                .at
                .iter()
                .filter(|p| p.z.abs() < 3.0 && (p.x - 100.0).abs() < 3.0);
            let wrong: Vec<_> = wrong.filter(|p| (8.0..92.0).contains(&p.y)).collect();
            assert!(wrong.is_empty(), "{wrong:?}");
        }
    }

    #[test]
    fn a_closed_ball_has_no_edge() {
        assert!(find(&ball::<Body>(1.0, 8)).is_empty());
        assert!(find(&ball::<Body>(3.0, 9)).is_empty());
    }
}
