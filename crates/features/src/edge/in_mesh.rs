//! Free edges in a mesh: the sides of faces that no second face has, exact.

use cloud::{Frame, Point, Surface, Vector, mesh};
use rayon::prelude::*;

use super::boundary::Rim;

/// Long sides are cut into pieces of at most this, mm.
const PIECE_MM: f64 = 1.0;
/// Corners no farther apart than this are one, mm: what is rounded to six digits, or to 24 bits at the length of a car, parts by
/// less.
const WELDED_MM: f64 = 1e-3;

/// A side of a face that has no second face.
struct OpenSide {
    ends: [u32; 2],
    /// Unit, in the face, off it, square to the side.
    void: Vector,
    /// The face's unit normal, on the side of the surface's.
    normal: Vector,
}

/// The edges of a mesh, cut fine.
pub(super) fn rims<F: Frame>(surface: &Surface<F>) -> Vec<Rim> {
    let open = open_sides(surface);
    lines(&open)
        .into_iter()
        .map(|line| cut_fine(surface.points(), &open, &line, PIECE_MM))
        .collect()
}

/// The edges of a mesh that close in themselves, by their corners alone.
pub(crate) fn rings<F: Frame>(surface: &Surface<F>) -> Vec<Rim> {
    let open = open_sides(surface);
    lines(&open)
        .into_iter()
        .filter(|line| line.closed)
        .map(|line| cut_fine(surface.points(), &open, &line, f64::INFINITY))
        .collect()
}

/// For each point the first of those that coincide with it: files repeat corners along the seams of their pictures, and
/// programs write the two sides of a seam each with its own rounding.
fn welded<F: Frame>(surface: &Surface<F>) -> Vec<u32> {
    let first: Vec<u32> = surface
        .points()
        .par_iter()
        .enumerate()
        .with_min_len(512)
        .map(|(i, at)| {
            let mut first = i as u32;
            surface
                .near
                .visit_within(at, WELDED_MM, |n| first = first.min(n.index));
            first
        })
        .collect();
    let mut same: Vec<u32> = Vec::with_capacity(first.len());
    for (i, first) in first.into_iter().enumerate() {
        let of_first = same.get(first as usize).copied();
        same.push(of_first.unwrap_or(i as u32));
    }
    same
}

fn open_sides<F: Frame>(surface: &Surface<F>) -> Vec<OpenSide> {
    let same = welded(surface);
    let faces: Vec<[u32; 3]> = surface
        .cloud
        .faces
        .iter()
        .map(|face| face.map(|i| same[i as usize]))
        .filter(|[a, b, c]| a != b && b != c && c != a)
        .collect();
    // (ends, face)
    let mut sides: Vec<([u32; 2], u32)> = faces
        .par_iter()
        .enumerate()
        .flat_map_iter(|(f, &[a, b, c])| {
            [[a, b], [b, c], [c, a]].map(|[p, q]| ([p.min(q), p.max(q)], f as u32))
        })
        .collect();
    sides.par_sort_unstable();
    sides
        .chunk_by(|a, b| a.0 == b.0)
        .filter(|alike| alike.len() == 1)
        .filter_map(|alone| open_side(surface, alone[0].0, &faces[alone[0].1 as usize]))
        .collect()
}

/// `None` for a face without area.
fn open_side<F: Frame>(surface: &Surface<F>, ends: [u32; 2], face: &[u32; 3]) -> Option<OpenSide> {
    let at = |i: u32| surface.points()[i as usize];
    let third = face.iter().find(|i| !ends.contains(i))?;
    let along = (at(ends[1]) - at(ends[0])).try_normalize(1e-12)?;
    let inward = at(*third) - at(ends[0]);
    let void = -(inward - along * inward.dot(&along)).try_normalize(1e-12)?;
    let normal = mesh::face_normal(&face.map(at))?;
    let turned = normal.dot(&surface.normals()[ends[0] as usize]) < 0.0;
    Some(OpenSide {
        ends,
        void,
        normal: if turned { -normal } else { normal },
    })
}

/// A line of open sides: each with the point that it is walked from; an open line's last point is its last side's other.
struct SideLine {
    /// (point, side)
    steps: Vec<(u32, usize)>,
    closed: bool,
}

/// The sides at a point, from the list of (point, side) that is sorted.
fn at_point(by_point: &[(u32, usize)], point: u32) -> &[(u32, usize)] {
    let first = by_point.partition_point(|(p, _)| *p < point);
    let count = by_point[first..].partition_point(|(p, _)| *p == point);
    &by_point[first..first + count]
}

/// Lines end, or begin anew, where not just two open sides meet.
fn lines(open: &[OpenSide]) -> Vec<SideLine> {
    let mut by_point: Vec<(u32, usize)> = open
        .iter()
        .enumerate()
        .flat_map(|(k, side)| side.ends.map(|point| (point, k)))
        .collect();
    by_point.sort_unstable();
    let passes = |point: u32| at_point(&by_point, point).len() == 2;
    let mut starts: Vec<(u32, usize)> = by_point.iter().copied().filter(|(p, _)| !passes(*p)).collect();
    starts.extend(open.iter().enumerate().map(|(k, side)| (side.ends[0], k)));
    let mut used = vec![false; open.len()];
    let mut lines = Vec::new();
    for (start, first) in starts {
        if used[first] {
            continue;
        }
        used[first] = true;
        let mut steps = vec![(start, first)];
        let mut point = other_end(&open[first], start);
        while point != start && passes(point) {
            let onward = at_point(&by_point, point).iter().find(|(_, k)| !used[*k]);
            let Some(&(_, next)) = onward else { break };
            used[next] = true;
            steps.push((point, next));
            point = other_end(&open[next], point);
        }
        lines.push(SideLine {
            steps,
            closed: point == start,
        });
    }
    lines
}

fn other_end(side: &OpenSide, point: u32) -> u32 {
    if side.ends[0] == point {
        side.ends[1]
    } else {
        side.ends[0]
    }
}

fn cut_fine(points: &[Point], open: &[OpenSide], line: &SideLine, piece_mm: f64) -> Rim {
    let mut rim = Rim {
        at: Vec::new(),
        void: Vec::new(),
        normal: Vec::new(),
        closed: line.closed,
    };
    let mut push = |at: Point, side: &OpenSide| {
        rim.at.push(at);
        rim.void.push(side.void);
        rim.normal.push(side.normal);
    };
    for &(point, k) in &line.steps {
        let from = points[point as usize];
        let way = points[other_end(&open[k], point) as usize] - from;
        let pieces = (way.norm() / piece_mm).ceil().clamp(1.0, 10_000.0) as u32;
        for piece in 0..pieces {
            push(from + way * (f64::from(piece) / f64::from(pieces)), &open[k]);
        }
    }
    if let (false, Some(&(point, k))) = (line.closed, line.steps.last()) {
        push(points[other_end(&open[k], point) as usize], &open[k]);
    }
    rim
}

#[cfg(test)]
mod tests {
    use super::super::find;
    use super::super::plates::meshed;
    use super::*;
    use cloud::{Body, Cloud};

    #[test]
    fn the_edge_of_a_meshed_plate_is_exact() {
        let edges = find(&meshed::<Body>(200.0));
        assert_eq!(edges.len(), 1);
        let edge = &edges[0];
        assert!(edge.closed && edge.corners.len() == 4, "{:?}", edge.corners);
        assert!((edge.length_mm() - 600.0).abs() < 1e-6, "{}", edge.length_mm());
        for k in &edge.corners {
            let p = edge.at[*k];
            assert!(p.x.min(200.0 - p.x) < 1e-6 && p.y.min(100.0 - p.y) < 1e-6, "{p}");
        }
        let middle = Point::new(100.0, 50.0, 0.0);
        for (p, outward) in edge.at.iter().zip(&edge.outward) {
            assert!(outward.dot(&(p - middle)) > 0.0);
        }
    }

    /// Two squares that repeat the corners of the side between them, one of them rounded otherwise, are one sheet.
    #[test]
    fn a_seam_with_repeated_corners_is_no_edge() {
        let at = [
            (0.0, 0.0),
            (20.0, 0.0),
            (20.0, 20.0),
            (0.0, 20.0),
            (20.0, 0.0),
            (40.0, 0.0),
            (40.0, 20.0),
            (20.000_002, 19.999_999),
        ];
        let mut cloud = Cloud::<Body>::from_points(at.map(|(x, y)| Point::new(x, y, 0.0)).to_vec());
        cloud.faces = vec![[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]];
        let surface = Surface::new(cloud, None).unwrap().0;
        let rims = rims(&surface);
        assert_eq!(rims.len(), 1);
        assert!(rims[0].closed);
        // A side that is longer by its rounding makes a piece more.
        assert!((120..=122).contains(&rims[0].at.len()), "{}", rims[0].at.len());
    }
}
