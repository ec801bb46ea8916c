//! How high a flange is at its trim edge: from the edge to the face of the sheet that it is folded from.
//!
//! Inch by inch the points of the reference beside the edge are parted by their normals: those of the flange itself, and those
//! of a sheet that looks the way in which the edge ends, or against it. The height is the median distance of the latter from
//! the edge along the flange. It is a flange only where its metal goes on to that sheet.

use cloud::statistics::median;
use cloud::{Body, Surface};

use super::compared::Run;

/// A flange is no higher than this, mm (two inches; common practice, no source).
const MOST_MM: f64 = 50.8;
/// Cosine of how far a normal may lean from that of its sheet: 37°.
const OF_ITS_SHEET: f64 = 0.8;
/// How far from the flange's plane the other sheet is looked at, mm (an inch).
const SKIN_MM: f64 = 25.4;
/// How far the flange's own points may end before the other sheet, mm: the bend.
const BEND_MM: f64 = 12.7;
/// How far from its plane a point of the flange may lie, mm.
const FLAT_MM: f64 = 3.0;
/// Fewest points of the other sheet by which a run has a height.
const FEWEST: usize = 5;

/// The height of the flange along the runs of an edge that are `numbered`, mm; `None` where less than half of them end a
/// flange.
pub fn height_mm(runs: &[Run], numbered: &[usize], reference: &Surface<Body>) -> Option<f64> {
    let mut heights: Vec<f64> = numbered
        .iter()
        .filter_map(|&k| of_run(runs.get(k)?, reference))
        .collect();
    (!heights.is_empty() && 2 * heights.len() >= numbered.len()).then(|| median(&mut heights))
}

fn of_run(run: &Run, reference: &Surface<Body>) -> Option<f64> {
    let (points, normals) = (reference.points(), reference.normals());
    let along = run.outward.cross(&run.normal);
    let half_mm = (run.to - run.from).norm() / 2.0;
    let (mut skin, mut reaches_mm) = (Vec::new(), 0.0f64);
    reference
        .near
        .visit_within(&run.middle, MOST_MM + SKIN_MM, |near| {
            let k = near.index as usize;
            let (Some(point), Some(normal)) = (points.get(k), normals.get(k)) else {
                return;
            };
            let off = point - run.middle;
            let (inward_mm, out_of_mm) = (-off.dot(&run.outward), off.dot(&run.normal));
            if off.dot(&along).abs() > half_mm || !(0.0..MOST_MM).contains(&inward_mm) {
                return;
            }
            if normal.dot(&run.outward).abs() > OF_ITS_SHEET && out_of_mm.abs() < SKIN_MM {
                skin.push(inward_mm);
            } else if normal.dot(&run.normal) > OF_ITS_SHEET && out_of_mm.abs() < FLAT_MM {
                reaches_mm = reaches_mm.max(inward_mm);
            }
        });
    if skin.len() < FEWEST {
        return None;
    }
    let height_mm = median(&mut skin);
    ((height_mm - reaches_mm).abs() < BEND_MM).then_some(height_mm)
}

#[cfg(test)]
mod tests {
    use super::super::compared::Seen;
    use super::*;
    use cloud::{Cloud, Point, Vector};

    /// A skin in the plane of x and y, and at x = 0 a flange that stands down from it by 16 mm; points every 2 mm.
    fn flanged(skin: bool) -> Surface<Body> {
        let mut rows: Vec<(Point, Vector)> = Vec::new();
        for y in 0..50 {
            let y = 2.0 * f64::from(y);
            rows.extend((0..8).map(|z| (Point::new(0.0, y, -2.0 * f64::from(z) - 2.0), -Vector::x())));
            rows.extend((1..25).map(|x| (Point::new(2.0 * f64::from(x), y, 0.0), Vector::z())));
        }
        rows.retain(|(_, normal)| skin || normal.z == 0.0);
        let mut cloud = Cloud::from_points(rows.iter().map(|(point, _)| *point).collect());
        cloud.normals = Some(rows.into_iter().map(|(_, normal)| normal).collect());
        Surface::new(cloud, None).unwrap().0
    }

    fn run(from: f64, to: f64) -> Run {
        Run {
            from: Point::new(0.0, from, -16.0),
            to: Point::new(0.0, to, -16.0),
            middle: Point::new(0.0, f64::midpoint(from, to), -16.0),
            outward: -Vector::z(),
            normal: -Vector::x(),
            seen: Seen::NotSeen,
        }
    }

    #[test]
    fn a_flange_is_as_high_as_from_its_edge_to_the_face_of_its_skin() {
        let runs = [run(20.0, 40.0), run(40.0, 60.0)];
        let height = height_mm(&runs, &[0, 1], &flanged(true)).unwrap();
        assert!((height - 16.0).abs() < 0.1, "{height}");
        assert_eq!(height_mm(&runs, &[0, 1], &flanged(false)), None);
        assert_eq!(height_mm(&runs, &[], &flanged(true)), None);
    }
}
