//! Measured points against a mesh: each point's exact distance, averaged over a disc about each place of the reference.
//!
//! The mesh is exact and so is its curvature; only the measured noise is averaged out.

use cloud::survey::tangents;
use cloud::{Body, Motion, Near, Point, Scan, Surface, Vector};
use rayon::prelude::*;

use crate::exact::{ExactMesh, Foot};
use crate::patch::{Sums, step};
use crate::state::{Deviations, State, without_distance};

/// Radius of the disc in spacings of the measured set.
const DISC_SPACINGS: f64 = 2.5;
/// Normals that part by more than 60° are of another face.
const SAME_FACE: f64 = 0.5;

/// A place of the mesh that is asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// Where.
    pub at: Point,
    /// Unit normal of the mesh there.
    pub normal: Vector,
}

/// Compares the measured surface with `mesh` at each place of `asked`, metal farther than `reach_mm` left aside.
pub fn compare(
    mesh: &ExactMesh,
    asked: &[Asked],
    measured: &Surface<Scan>,
    reference_from_measured: &Motion<Scan, Body>,
    reach_mm: f64,
) -> Deviations {
    let disc_mm = DISC_SPACINGS * measured.spacing_mm;
    let moved: Vec<Point> = measured
        .points()
        .par_iter()
        .map(|p| reference_from_measured.apply(p))
        .collect();
    let feet: Vec<Foot> = mesh
        .feet(&moved)
        .into_par_iter()
        .zip(measured.normals())
        .filter_map(|(foot, facing)| {
            let cosine = reference_from_measured.turn(facing).dot(&foot.normal);
            let same = if measured.sides_known {
                cosine > SAME_FACE
            } else {
                cosine.abs() > SAME_FACE
            };
            (foot.mm.abs() <= reach_mm && same).then_some(foot)
        })
        .collect();
    let places: Vec<Point> = feet.iter().map(|foot| foot.at).collect();
    let near = Near::new(&places);
    let states = asked
        .par_iter()
        .with_min_len(512)
        .map(|asked| {
            let (u, v) = tangents(&asked.normal);
            let mut sums = Sums::default();
            let mut nearest = f64::INFINITY;
            near.visit_within(&asked.at, disc_mm, |n| {
                let foot = &feet[n.index as usize];
                if !foot.on_open_edge && foot.normal.dot(&asked.normal) > SAME_FACE {
                    let d = foot.at - asked.at;
                    nearest = nearest.min(n.squared_mm2);
                    sums.add(d.dot(&u) / disc_mm, d.dot(&v) / disc_mm, foot.mm);
                }
            });
            let close = nearest.sqrt() <= 2.0 * measured.spacing_mm;
            if sums.count >= 3.0
                && close
                && (sums.off_middle() <= 0.5 || nearest.sqrt() <= 0.7 * measured.spacing_mm)
            {
                // The mesh itself is the first sheet: flat at height nothing once distances are taken.
                let mut flat = Sums::default();
                for (a, b) in [(0.0, 0.0), (0.7, 0.7), (-0.7, 0.7), (0.7, -0.7), (-0.7, -0.7)] {
                    flat.add(a, b, 0.0);
                }
                if let Some(step) = step(&flat.known_exactly(), &sums) {
                    return State::Distance {
                        mm: step.mm,
                        pm_mm: step.pm_mm,
                    };
                }
            }
            without_distance(&asked.at, &places, &near, measured.spacing_mm, |_| true)
        })
        .collect();
    Deviations { states, disc_mm }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Cloud;

    #[test]
    fn a_sheet_held_off_a_mesh_reads_its_height() {
        let corner = |x: f64, y: f64| Point::new(x, y, 0.0);
        let corners = [
            corner(0.0, 0.0),
            corner(100.0, 0.0),
            corner(100.0, 100.0),
            corner(0.0, 100.0),
        ];
        let mesh = ExactMesh::new(&corners, &[[0, 1, 2], [0, 2, 3]]).unwrap();
        let mut cloud = Cloud::from_points(
            (0..1250)
                .map(|i| Point::new(f64::from(i % 25) * 2.0 + 1.0, f64::from(i / 25) * 2.0 + 1.0, 0.75))
                .collect(),
        );
        cloud.normals = Some(vec![Vector::z(); 1250]);
        let (measured, _) = Surface::new(cloud, None).unwrap();
        let asked: Vec<Asked> = (0..100)
            .map(|i| Asked {
                at: corner(f64::from(i % 10) * 10.0 + 5.0, f64::from(i / 10) * 10.0 + 5.0),
                normal: Vector::z(),
            })
            .collect();
        let found = compare(&mesh, &asked, &measured, &Motion::identity(), 5.0);
        for (state, asked) in found.states.iter().zip(&asked) {
            match state.mm() {
                Some(mm) => assert!((mm - 0.75).abs() < 1e-6 && asked.at.x < 52.0),
                None => assert!(asked.at.x > 50.0),
            }
        }
    }

    /// A floor that has not moved, and a wall on it that stands 2 mm proud.
    #[test]
    fn the_metal_round_a_corner_is_not_averaged_in() {
        let corners = [
            Point::new(0.0, 0.0, 0.0),
            Point::new(100.0, 0.0, 0.0),
            Point::new(100.0, 100.0, 0.0),
            Point::new(0.0, 100.0, 0.0),
            Point::new(100.0, 0.0, 50.0),
            Point::new(100.0, 100.0, 50.0),
        ];
        let mesh = ExactMesh::new(&corners, &[[0, 1, 2], [0, 2, 3], [1, 4, 5], [1, 5, 2]]).unwrap();
        let floor =
            (0..2500).map(|i| Point::new(f64::from(i % 50) * 2.0 + 1.0, f64::from(i / 50) * 2.0 + 1.0, 0.0));
        let wall =
            (0..1000).map(|i| Point::new(98.0, f64::from(i % 50) * 2.0 + 1.0, f64::from(i / 50) * 2.0 + 3.0));
        let mut cloud = Cloud::from_points(floor.chain(wall).collect());
        cloud.normals = Some([vec![Vector::z(); 2500], vec![-Vector::x(); 1000]].concat());
        let (measured, _) = Surface::new(cloud, None).unwrap();
        let asked: Vec<Asked> = (10..90)
            .map(|y| Asked {
                at: Point::new(97.0, f64::from(y), 0.0),
                normal: Vector::z(),
            })
            .collect();
        let found = compare(&mesh, &asked, &measured, &Motion::identity(), 5.0);
        for state in &found.states {
            assert!(state.mm().unwrap().abs() < 1e-6, "{state:?}");
        }
    }
}
