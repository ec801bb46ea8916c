//! Triangles: their normals, their areas, points spread over them, and their open edges.

use std::collections::HashMap;

use crate::{Point, Vector};

/// Unit normals at the corners of a mesh, each the mean of its faces weighted by the angle (Thürmer & Wüthrich 1998).
///
/// A corner that no face uses, or whose faces cancel, gets +Z.
pub fn vertex_normals(points: &[Point], faces: &[[u32; 3]]) -> Vec<Vector> {
    let mut normals = vec![Vector::zeros(); points.len()];
    for face in faces {
        let corners = face.map(|i| points[i as usize]);
        let Some(normal) = face_normal(&corners) else {
            continue;
        };
        for k in 0..3 {
            let (a, b) = (
                corners[(k + 1) % 3] - corners[k],
                corners[(k + 2) % 3] - corners[k],
            );
            normals[face[k] as usize] += normal * a.angle(&b);
        }
    }
    normals
        .into_iter()
        .map(|n| n.try_normalize(1e-12).unwrap_or_else(Vector::z))
        .collect()
}

/// The unit normal of a triangle; `None` where it has no area.
pub fn face_normal(corners: &[Point; 3]) -> Option<Vector> {
    (corners[1] - corners[0])
        .cross(&(corners[2] - corners[0]))
        .try_normalize(1e-30)
}

/// The area of a triangle in mm².
pub fn area(corners: &[Point; 3]) -> f64 {
    (corners[1] - corners[0]).cross(&(corners[2] - corners[0])).norm() / 2.0
}

/// Points spread over the faces about `spacing_mm` apart, each with its face: the middles of small triangles that each
/// face is cut into. The same mesh gives the same points.
pub fn spread(points: &[Point], faces: &[[u32; 3]], spacing_mm: f64) -> Vec<(Point, u32)> {
    let mut spread = Vec::new();
    for (f, face) in faces.iter().enumerate() {
        let [a, b, c] = face.map(|i| points[i as usize]);
        // Cut into n² triangles, each of about half a spacing squared.
        let n = (2.0 * area(&[a, b, c])).sqrt() / spacing_mm.max(1e-6);
        let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm()) / spacing_mm.max(1e-6);
        let n = n.max(longest / 2.0).ceil().clamp(1.0, 2000.0) as u32;
        let at = |i: f64, j: f64| a + (b - a) * (i / f64::from(n)) + (c - a) * (j / f64::from(n));
        for i in 0..n {
            for j in 0..n - i {
                let (i, j) = (f64::from(i), f64::from(j));
                let third = 1.0 / 3.0;
                spread.push((at(i + third, j + third), f as u32));
                if i + j < f64::from(n) - 1.0 {
                    spread.push((at(i + 2.0 * third, j + 2.0 * third), f as u32));
                }
            }
        }
    }
    spread
}

/// The edges that only one face has, as pairs of corners in the face's winding.
pub fn open_edges(faces: &[[u32; 3]]) -> Vec<[u32; 2]> {
    let mut uses: HashMap<[u32; 2], (u32, [u32; 2])> = HashMap::new();
    for face in faces {
        for k in 0..3 {
            let edge = [face[k], face[(k + 1) % 3]];
            let key = [edge[0].min(edge[1]), edge[0].max(edge[1])];
            uses.entry(key).or_insert((0, edge)).0 += 1;
        }
    }
    let mut open: Vec<[u32; 2]> = uses
        .into_values()
        .filter_map(|(count, edge)| (count == 1).then_some(edge))
        .collect();
    open.sort_unstable();
    open
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> (Vec<Point>, Vec<[u32; 3]>) {
        let corner = |x, y| Point::new(x, y, 0.0);
        (
            vec![
                corner(0.0, 0.0),
                corner(10.0, 0.0),
                corner(10.0, 10.0),
                corner(0.0, 10.0),
            ],
            vec![[0, 1, 2], [0, 2, 3]],
        )
    }

    #[test]
    fn a_square_has_four_open_edges_and_faces_up() {
        let (points, faces) = square();
        assert_eq!(open_edges(&faces).len(), 4);
        for normal in vertex_normals(&points, &faces) {
            assert!((normal - Vector::z()).norm() < 1e-12);
        }
    }

    #[test]
    fn points_are_spread_evenly() {
        let (points, faces) = square();
        let spread = spread(&points, &faces, 1.0);
        assert!((90..260).contains(&spread.len()), "{}", spread.len());
        let mean = spread.iter().map(|(p, _)| p.coords).sum::<Vector>() / spread.len() as f64;
        assert!((mean - Vector::new(5.0, 5.0, 0.0)).norm() < 1e-9);
    }
}
