//! The section of a mesh: every triangle cut exactly, the pieces joined end to end.

use cloud::{Body, Frame, Motion, Point, Surface};
use rayon::prelude::*;

use super::{Line, Plane, line};

/// Cuts the faces of `surface` by `plane` (its facing of unit length); pieces with an end within `reach_mm` of its place.
pub(super) fn cut<F: Frame>(
    surface: &Surface<F>,
    to_body: &Motion<F, Body>,
    plane: &Plane,
    reach_mm: f64,
) -> Vec<Line> {
    let back = to_body.inverse();
    let (through, facing) = (back.apply(&plane.through), back.turn(&plane.facing));
    let points = surface.points();
    let pieces: Vec<[Point; 2]> = surface
        .cloud
        .faces
        .par_iter()
        .with_min_len(4096)
        .filter_map(|face| {
            let corners = face.map(|i| points[i as usize]);
            let heights = corners.map(|p| (p - through).dot(&facing));
            let piece = crossed(&corners, &heights)?.map(|p| to_body.apply(&p));
            let close = |p: &Point| (p - plane.through).norm() <= reach_mm;
            (piece[0] != piece[1] && piece.iter().any(close)).then_some(piece)
        })
        .collect();
    strung(&pieces).into_iter().filter_map(line).collect()
}

/// Where the plane crosses two sides of a triangle; a corner on the plane counts as above it, so that neighbours agree.
fn crossed(corners: &[Point; 3], heights: &[f64; 3]) -> Option<[Point; 2]> {
    let mut ends = [Point::origin(); 2];
    let mut count = 0;
    for k in 0..3 {
        let (a, b) = (k, (k + 1) % 3);
        let (below, above) = if heights[a] < 0.0 { (a, b) } else { (b, a) };
        if heights[below] < 0.0 && heights[above] >= 0.0 {
            // From the lower corner in both triangles of a side, so that they meet to the last bit.
            let share = heights[below] / (heights[below] - heights[above]);
            ends[count] = if heights[above] == 0.0 {
                corners[above]
            } else {
                corners[below] + (corners[above] - corners[below]) * share
            };
            count += 1;
        }
    }
    (count == 2).then_some(ends)
}

/// The end that each end meets: end 2 i + k is the k-th of piece i. Where more than two meet, the line ends.
fn partners(pieces: &[[Point; 2]]) -> Vec<Option<usize>> {
    let mut ends: Vec<([u64; 3], usize)> = pieces
        .iter()
        .flatten()
        // Adding zero makes the two zeros one.
        .map(|p| [p.x, p.y, p.z].map(|c| (c + 0.0).to_bits()))
        .enumerate()
        .map(|(i, key)| (key, i))
        .collect();
    ends.sort_unstable();
    let mut partners = vec![None; ends.len()];
    for meeting in ends.chunk_by(|a, b| a.0 == b.0) {
        if let [(_, a), (_, b)] = meeting {
            partners[*a] = Some(*b);
            partners[*b] = Some(*a);
        }
    }
    partners
}

/// The pieces joined: lines with ends first, then closed ones, which end where they begin.
fn strung(pieces: &[[Point; 2]]) -> Vec<Vec<Point>> {
    let partners = partners(pieces);
    let mut taken = vec![false; pieces.len()];
    let loose = (0..partners.len()).filter(|&end| partners[end].is_none());
    let mut lines = Vec::new();
    for start in loose.chain(0..partners.len()) {
        if taken[start / 2] {
            continue;
        }
        let mut line = vec![pieces[start / 2][start % 2]];
        let mut end = start;
        loop {
            taken[end / 2] = true;
            let out = end ^ 1;
            line.push(pieces[out / 2][out % 2]);
            match partners[out] {
                Some(next) if !taken[next / 2] => end = next,
                _ => break,
            }
        }
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Cloud, Vector};

    /// A tube of six sides, 100 long, made of many triangles; `open` leaves one side out.
    fn tube(open: bool) -> Surface<Body> {
        let (around, along) = (6u32, 12u32);
        let mut points = Vec::new();
        for j in 0..=along {
            for i in 0..around {
                let a = std::f64::consts::TAU * f64::from(i) / f64::from(around);
                points.push(Point::new(
                    100.0 * f64::from(j) / f64::from(along),
                    a.cos() * 50.0,
                    a.sin() * 50.0,
                ));
            }
        }
        let mut cloud = Cloud::from_points(points);
        for j in 0..along {
            for i in 0..around - u32::from(open) {
                let at = |i: u32, j: u32| j * around + i % around;
                cloud.faces.push([at(i, j), at(i + 1, j), at(i + 1, j + 1)]);
                cloud.faces.push([at(i, j), at(i + 1, j + 1), at(i, j + 1)]);
            }
        }
        Surface::new(cloud, None).unwrap().0
    }

    fn lines(open: bool, x: f64) -> Vec<Line> {
        let plane = Plane {
            through: Point::new(x, 0.0, 0.0),
            facing: Vector::x(),
        };
        cut(&tube(open), &Motion::identity(), &plane, f64::INFINITY)
    }

    /// The side of a regular hexagon is its outer radius; 50 lies on a row of corners, 33 between two.
    #[test]
    fn a_six_sided_tube_has_six_radii_of_girth() {
        for x in [33.0, 50.0] {
            let closed = lines(false, x);
            assert_eq!(closed.len(), 1, "{x}");
            assert!((closed[0].length_mm - 300.0).abs() < 1e-9);
            assert_eq!(closed[0].points.first(), closed[0].points.last());
            let open = lines(true, x);
            assert_eq!(open.len(), 1, "{x}");
            assert!((open[0].length_mm - 250.0).abs() < 1e-9);
        }
        assert!(lines(false, 101.0).is_empty());
    }
}
