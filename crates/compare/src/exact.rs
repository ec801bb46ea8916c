//! The exact signed distance of a point to a mesh: the one door to the bounding-volume tree.

use cloud::{Bounds, Point, Vector, mesh};
use parry3d::math::Vector as TreeVector;
use parry3d::query::PointQueryWithLocation;
use parry3d::shape::TriMesh;
use rayon::prelude::*;

/// A mesh that distances are taken to. The tree works in `f32` from a local origin and finds the nearest triangle; the
/// distance to it and the sign are then taken in `f64`.
pub struct ExactMesh {
    tree: TriMesh,
    origin: Point,
    points: Vec<Point>,
    faces: Vec<[u32; 3]>,
    corner_normals: Vec<Vector>,
    face_normals: Vec<Vector>,
    /// The face across each edge (from a corner to the next); none where the edge is open.
    across: Vec<[u32; 3]>,
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
        let (tree, (face_normals, (corner_normals, across))) = rayon::join(
            || TriMesh::new(local, faces.clone()).ok(),
            || {
                let of_faces = faces
                    .par_iter()
                    .map(|f| mesh::face_normal(&corners(f)).unwrap_or_else(Vector::z))
                    .collect();
                let of_corners = rayon::join(
                    || mesh::vertex_normals(points, &faces),
                    || faces_across(&faces, points.len()),
                );
                (of_faces, of_corners)
            },
        );
        Some(Self {
            tree: tree?,
            origin,
            corner_normals,
            points: points.to_vec(),
            across,
            faces,
            face_normals,
        })
    }

    /// The nearest place of the mesh. The sign is taken from the angle-weighted pseudonormal (Bærentzen & Aanæs 2005,
    /// IEEE TVCG 11(3) 243-253), which stays right at edges and corners and on open sheet.
    pub fn foot(&self, point: &Point) -> Foot {
        self.foot_within(point, f32::MAX)
    }

    /// The feet of many points, in their order. Points that follow each other are found faster: each begins from the last
    /// one's foot, which bounds how far its own can be.
    pub fn feet(&self, points: &[Point]) -> Vec<Foot> {
        points
            .par_chunks(1024)
            .flat_map_iter(|run| {
                let mut last: Option<Point> = None;
                run.iter().map(move |point| {
                    let bound = last.map_or(f32::MAX, |at| (point - at).norm() as f32 * 1.0001 + 1e-3);
                    let foot = self.foot_within(point, bound);
                    last = Some(foot.at);
                    foot
                })
            })
            .collect()
    }

    #[inline]
    fn corners(&self, face: u32) -> [Point; 3] {
        self.faces[face as usize].map(|i| self.points[i as usize])
    }

    fn foot_within(&self, point: &Point, bound_mm: f32) -> Foot {
        let d = point - self.origin;
        let local = TreeVector::new(d.x as f32, d.y as f32, d.z as f32);
        let found = self
            .tree
            .project_local_point_and_get_location_with_max_dist(local, true, bound_mm);
        let id = match found {
            Some((_, (id, _))) => id,
            // Rounding put the bound a hair too low.
            None => self.tree.project_local_point_and_get_location(local, true).1.0,
        };
        let (at, feature) = nearest_on_triangle(point, &self.corners(id));
        let face_normal = self.face_normals[id as usize];
        let across = self.across[id as usize];
        let (normal, on_open_edge) = match feature {
            Feature::Inside => (face_normal, false),
            Feature::Edge(k) if across[k] == NONE => (face_normal, true),
            Feature::Edge(k) => {
                let sum = face_normal + self.face_normals[across[k] as usize];
                (sum.try_normalize(1e-9).unwrap_or(face_normal), false)
            }
            Feature::Corner(k) => {
                let open = across[k] == NONE || across[(k + 2) % 3] == NONE;
                (self.corner_normals[self.faces[id as usize][k] as usize], open)
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

/// No face.
const NONE: u32 = u32::MAX;

/// For each face and edge the face on the other side; of more than two faces at an edge, the next in their order. Edges are laid
/// together by their lower corner, of the `corners` that there are, and few share one.
fn faces_across(faces: &[[u32; 3]], corners: usize) -> Vec<[u32; 3]> {
    let edges = || {
        (0u32..).zip(faces).flat_map(|(f, face)| {
            [(0, 1), (1, 2), (2, 0)].map(|(k, next)| {
                let (a, b) = (face[k], face[next]);
                (a.min(b) as usize, (a.max(b), f, k as u32))
            })
        })
    };
    let mut next = vec![0u32; corners + 1];
    for (low, _) in edges() {
        next[low + 1] += 1;
    }
    for corner in 0..corners {
        next[corner + 1] += next[corner];
    }
    let mut sides = vec![(0u32, 0u32, 0u32); 3 * faces.len()];
    let mut begins = next.clone();
    for (low, side) in edges() {
        sides[next[low] as usize] = side;
        next[low] += 1;
    }
    begins.dedup();
    let mut across = vec![[NONE; 3]; faces.len()];
    for bounds in begins.windows(2) {
        let at_corner = &mut sides[bounds[0] as usize..bounds[1] as usize];
        at_corner.sort_unstable();
        for edge in at_corner.chunk_by(|a, b| a.0 == b.0) {
            for (i, side) in edge.iter().enumerate() {
                let other = edge[(i + 1) % edge.len()];
                if edge.len() > 1 {
                    across[side.1 as usize][side.2 as usize] = other.1;
                }
            }
        }
    }
    across
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

    /// Three sheets on one edge, and one with a neighbour at another: by hand.
    #[test]
    fn the_face_across_each_edge_is_its_neighbour_and_the_next_where_three_meet() {
        let faces = [[0, 1, 2], [1, 0, 3], [4, 0, 1], [2, 1, 5]];
        let none = NONE;
        let expected = [[1, 3, none], [2, none, none], [none, 0, none], [0, none, none]];
        assert_eq!(faces_across(&faces, 6), expected);
        assert!(faces_across(&[], 3).is_empty());
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
