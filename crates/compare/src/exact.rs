//! The exact signed distance of a point to a mesh: the one door to the bounding-volume tree.

use std::collections::HashMap;

use cloud::{Bounds, Point, Vector, mesh};
use parry3d::math::Vector as TreeVector;
use parry3d::query::PointQueryWithLocation;
use parry3d::shape::TriMesh;

/// A mesh that distances are taken to. The tree works in `f32` from a local origin and finds the nearest triangle; the
/// distance to it and the sign are then taken in `f64`.
pub struct ExactMesh {
    tree: TriMesh,
    origin: Point,
    points: Vec<Point>,
    faces: Vec<[u32; 3]>,
    corner_normals: Vec<Vector>,
    edge_normals: HashMap<[u32; 2], (Vector, u32)>,
}

/// The nearest place of a mesh.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Foot {
    /// Signed distance, + on the outside, mm.
    pub mm: f64,
    /// The nearest place.
    pub at: Point,
    /// The outward direction there: of the face, or angle-weighted where an edge or a corner is nearest.
    pub normal: Vector,
    /// Whether the nearest place lies on an open edge: the point may lie beyond the metal.
    pub on_open_edge: bool,
    /// The nearest face.
    pub face: u32,
}

impl ExactMesh {
    /// Makes a mesh ready; faces without area are left out. `None` where no face has area.
    pub fn new(points: &[Point], faces: &[[u32; 3]]) -> Option<Self> {
        let origin = Bounds::of(points)?.centre();
        let corners = |face: &[u32; 3]| face.map(|i| points[i as usize]);
        let faces: Vec<[u32; 3]> = faces
            .iter()
            .filter(|f| mesh::face_normal(&corners(f)).is_some())
            .copied()
            .collect();
        let local: Vec<TreeVector> = points
            .iter()
            .map(|p| {
                let d = p - origin;
                TreeVector::new(d.x as f32, d.y as f32, d.z as f32)
            })
            .collect();
        let tree = TriMesh::new(local, faces.clone()).ok()?;
        let mut edge_normals: HashMap<[u32; 2], (Vector, u32)> = HashMap::new();
        for face in &faces {
            let normal = mesh::face_normal(&corners(face)).unwrap_or_else(Vector::zeros);
            for k in 0..3 {
                let entry = edge_normals.entry(edge(face, k)).or_insert((Vector::zeros(), 0));
                entry.0 += normal;
                entry.1 += 1;
            }
        }
        Some(Self {
            tree,
            origin,
            corner_normals: mesh::vertex_normals(points, &faces),
            points: points.to_vec(),
            faces,
            edge_normals,
        })
    }

    /// The nearest place of the mesh. The sign is taken from the angle-weighted pseudonormal (Bærentzen & Aanæs 2005,
    /// IEEE TVCG 11(3) 243-253), which stays right at edges and corners and on open sheet.
    pub fn foot(&self, point: &Point) -> Foot {
        let d = point - self.origin;
        let local = TreeVector::new(d.x as f32, d.y as f32, d.z as f32);
        let (_, (id, _)) = self.tree.project_local_point_and_get_location(local, true);
        let face = self.faces[id as usize];
        let corners = face.map(|i| self.points[i as usize]);
        let (at, feature) = nearest_on_triangle(point, &corners);
        let face_normal = mesh::face_normal(&corners).unwrap_or_else(Vector::z);
        let (normal, on_open_edge) = match feature {
            Feature::Inside => (face_normal, false),
            Feature::Edge(k) => {
                let (sum, count) = self.edge_normals[&edge(&face, k)];
                (sum.try_normalize(1e-9).unwrap_or(face_normal), count == 1)
            }
            Feature::Corner(k) => {
                let open = self.edge_normals[&edge(&face, k)].1 == 1
                    || self.edge_normals[&edge(&face, (k + 2) % 3)].1 == 1;
                (self.corner_normals[face[k] as usize], open)
            }
        };
        let away = point - at;
        let size = away.norm();
        Foot {
            mm: if away.dot(&normal) < 0.0 { -size } else { size },
            at,
            normal,
            on_open_edge,
            face: id,
        }
    }
}

/// The edge from corner k to the next, smaller index first.
fn edge(face: &[u32; 3], k: usize) -> [u32; 2] {
    let (a, b) = (face[k], face[(k + 1) % 3]);
    [a.min(b), a.max(b)]
}

/// Where on a triangle the nearest place lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Feature {
    Inside,
    /// The edge from this corner to the next.
    Edge(usize),
    Corner(usize),
}

/// The place of a triangle nearest to a point, by the regions of the barycentric plane (Ericson 2005, Real-Time
/// Collision Detection, section 5.1.5).
fn nearest_on_triangle(p: &Point, [a, b, c]: &[Point; 3]) -> (Point, Feature) {
    let (ab, ac, ap) = (b - a, c - a, p - a);
    let (d1, d2) = (ab.dot(&ap), ac.dot(&ap));
    if d1 <= 0.0 && d2 <= 0.0 {
        return (*a, Feature::Corner(0));
    }
    let bp = p - b;
    let (d3, d4) = (ab.dot(&bp), ac.dot(&bp));
    if d3 >= 0.0 && d4 <= d3 {
        return (*b, Feature::Corner(1));
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 {
        return (a + ab * (d1 / (d1 - d3)), Feature::Edge(0));
    }
    let cp = p - c;
    let (d5, d6) = (ab.dot(&cp), ac.dot(&cp));
    if d6 >= 0.0 && d5 <= d6 {
        return (*c, Feature::Corner(2));
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        return (a + ac * (d2 / (d2 - d6)), Feature::Edge(2));
    }
    let va = d3 * d6 - d5 * d4;
    if va <= 0.0 && d4 - d3 >= 0.0 && d5 - d6 >= 0.0 {
        let w = (d4 - d3) / ((d4 - d3) + (d5 - d6));
        return (b + (c - b) * w, Feature::Edge(1));
    }
    let whole = va + vb + vc;
    (a + ab * (vb / whole) + ac * (vc / whole), Feature::Inside)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cube of side 20 about the origin.
    fn cube() -> ExactMesh {
        let points: Vec<Point> = (0..8)
            .map(|i| {
                let c = |bit: i32| if i >> bit & 1 == 0 { -10.0 } else { 10.0 };
                Point::new(c(0), c(1), c(2))
            })
            .collect();
        let faces = [
            [0, 2, 3],
            [0, 3, 1],
            [4, 5, 7],
            [4, 7, 6],
            [0, 1, 5],
            [0, 5, 4],
            [2, 6, 7],
            [2, 7, 3],
            [0, 4, 6],
            [0, 6, 2],
            [1, 3, 7],
            [1, 7, 5],
        ];
        ExactMesh::new(&points, &faces).unwrap()
    }

    /// The closed form for a box: outside the distance to the clamped point, inside minus the least depth.
    #[test]
    fn agrees_with_the_closed_form_of_a_box_in_and_out() {
        let cube = cube();
        for i in 0..2000 {
            let t = f64::from(i);
            let p = Point::new(
                25.0 * (0.37 * t).sin(),
                25.0 * (0.59 * t).cos(),
                25.0 * (0.83 * t).sin(),
            );
            let clamped = p.map(|c| c.clamp(-10.0, 10.0));
            let outside = (p - clamped).norm();
            let expected = if outside > 0.0 {
                outside
            } else {
                -p.iter().map(|c| 10.0 - c.abs()).fold(f64::INFINITY, f64::min)
            };
            let foot = cube.foot(&p);
            assert!(
                (foot.mm - expected).abs() < 1e-5,
                "{p}: {} for {expected}",
                foot.mm
            );
            assert!(!foot.on_open_edge);
        }
    }

    #[test]
    fn beyond_the_edge_of_an_open_sheet_is_told() {
        let points = [
            Point::new(0.0, 0.0, 0.0),
            Point::new(10.0, 0.0, 0.0),
            Point::new(0.0, 10.0, 0.0),
        ];
        let sheet = ExactMesh::new(&points, &[[0, 1, 2]]).unwrap();
        assert!(sheet.foot(&Point::new(5.0, -3.0, 0.0)).on_open_edge);
        assert!(sheet.foot(&Point::new(-1.0, -1.0, 0.0)).on_open_edge);
        let above = sheet.foot(&Point::new(2.0, 2.0, -1.5));
        assert!(!above.on_open_edge && (above.mm + 1.5).abs() < 1e-9);
        assert!(ExactMesh::new(&points, &[[0, 1, 1]]).is_none());
    }
}
