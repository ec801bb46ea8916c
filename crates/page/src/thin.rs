//! A scene with no more points than a page can carry: an even sample, the far-off ones not favoured.

use crate::scene::Scene;

/// Most points of a mesh that is still drawn as one; a finer one is as closed by its points alone, and its faces take more bytes.
const MESH_POINTS: usize = 90_000;

/// The scene with at most so many points of the reference and of the measured set.
///
/// The points of a set come along a space-filling curve, so that steps of even length along it are even over the metal. Where
/// points of the reference are left out its faces are dropped and the spacing grows with the root of their share; the faces of a
/// mesh of more than 90 000 points are dropped too.
pub fn thinned(mut scene: Scene, reference_points: usize, measured_points: usize) -> Scene {
    let count = scene.points_mm.len();
    if count > reference_points.min(MESH_POINTS) {
        scene.faces = Vec::new();
    }
    if count > reference_points {
        scene.points_mm = even(scene.points_mm, reference_points);
        scene.normals = even(scene.normals, reference_points);
        scene.deviation_mm = even(scene.deviation_mm, reference_points);
        scene.pm_mm = even(scene.pm_mm, reference_points);
        scene.state = even(scene.state, reference_points);
        scene.region = even(scene.region, reference_points);
        if reference_points > 0 {
            scene.spacing_mm *= (count as f32 / reference_points as f32).sqrt();
        }
    }
    scene.measured_mm = even(scene.measured_mm, measured_points);
    scene
}

/// `keep` of all, in even steps, each from the middle of its step.
fn even<T: Copy>(all: Vec<T>, keep: usize) -> Vec<T> {
    if all.len() <= keep {
        return all;
    }
    let (count, keep) = (all.len() as u64, keep as u64);
    (0..keep)
        .filter_map(|k| all.get(((2 * k + 1) * count / (2 * keep)) as usize).copied())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(count: usize) -> Scene {
        Scene {
            points_mm: (0..count).map(|i| [i as f32, 0.0, 0.0]).collect(),
            normals: vec![[0.0, 0.0, 1.0]; count],
            deviation_mm: (0..count).map(|i| i as f32 / 100.0).collect(),
            pm_mm: vec![0.1; count],
            state: (0..count).map(|i| (i % 3) as u8).collect(),
            region: (0..count).map(|i| i as u16).collect(),
            faces: vec![[0, 1, 2]],
            measured_mm: (0..count).map(|i| [i as f32, 0.0, 5.0]).collect(),
            spacing_mm: 2.0,
        }
    }

    #[test]
    fn every_ninth_is_kept_with_all_that_belongs_to_it() {
        let thin = thinned(line(900), 100, 300);
        assert_eq!(thin.points_mm.len(), 100);
        assert_eq!(thin.measured_mm.len(), 300);
        for (k, point) in thin.points_mm.iter().enumerate() {
            let i = 9 * k + 4;
            assert_eq!(point[0], i as f32);
            assert_eq!(thin.deviation_mm[k], i as f32 / 100.0);
            assert_eq!(thin.state[k], (i % 3) as u8);
            assert_eq!(thin.region[k], i as u16);
        }
        assert_eq!((thin.normals.len(), thin.pm_mm.len()), (100, 100));
        assert!(thin.faces.is_empty());
        assert_eq!(thin.spacing_mm, 6.0);
    }

    #[test]
    fn steps_differ_by_one_at_most_and_no_point_comes_twice() {
        let thin = thinned(line(1000), 640, 1000);
        let steps: Vec<f32> = thin.points_mm.windows(2).map(|w| w[1][0] - w[0][0]).collect();
        assert_eq!(thin.points_mm.len(), 640);
        assert!(steps.iter().all(|s| *s == 1.0 || *s == 2.0));
    }

    #[test]
    fn a_small_scene_stays_as_it_is() {
        assert_eq!(thinned(line(50), 50, 60), line(50));
    }

    #[test]
    fn a_fine_mesh_is_kept_as_its_points() {
        let fine = thinned(line(MESH_POINTS + 1), MESH_POINTS + 1, 0);
        assert_eq!(fine.points_mm.len(), MESH_POINTS + 1);
        assert!(fine.faces.is_empty());
        assert_eq!(fine.spacing_mm, 2.0);
    }
}
