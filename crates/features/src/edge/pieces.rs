//! An edge cut into pieces that have one name each: at its corners, and where the region's name changes.

use cloud::{Point, Vector};

use super::Edge;
use super::corners::between;

/// A name that holds for less than half an inch of an edge is the neighbour's: a line of points runs in and out of the
/// side of a box.
const LEAST_NAMED_MM: f64 = 12.7;

/// A piece of an edge: places, directions off the metal and normals, as those of an edge.
pub(super) struct Piece {
    /// The region's name, where it has one.
    pub name: Option<String>,
    /// Its places, at least two, mm.
    pub at: Vec<Point>,
    /// Unit directions off the metal.
    pub outward: Vec<Vector>,
    /// Unit normals.
    pub normal: Vec<Vector>,
    /// Whether it is a whole closed edge.
    pub closed: bool,
}

/// Its name and which places of the edge it has.
type Named = (Option<String>, Vec<usize>);

/// The pieces of an edge, in order along it.
pub(super) fn pieces(edge: &Edge, name_of: &dyn Fn(&Point) -> Option<String>) -> Vec<Piece> {
    let names: Vec<Option<String>> = edge.at.iter().map(name_of).collect();
    between(edge.at.len(), edge.closed, &edge.corners)
        .into_iter()
        .flat_map(|(places, closed)| {
            let parts = by_name(edge, &names, places, closed);
            let closed = closed && parts.len() == 1;
            parts.into_iter().map(move |part| (part, closed))
        })
        .filter(|((_, places), _)| places.len() >= 2)
        .map(|((name, places), closed)| Piece {
            name,
            at: places.iter().map(|&i| edge.at[i]).collect(),
            outward: places.iter().map(|&i| edge.outward[i]).collect(),
            normal: places.iter().map(|&i| edge.normal[i]).collect(),
            closed,
        })
        .collect()
}

/// Cuts a stretch of an edge where the name changes for good; neighbours share the place between them.
fn by_name(edge: &Edge, names: &[Option<String>], mut places: Vec<usize>, closed: bool) -> Vec<Named> {
    let change = |places: &[usize]| places.windows(2).position(|two| names[two[0]] != names[two[1]]);
    if let (true, Some(k)) = (closed, change(&places)) {
        // A ring of several names is opened at one of the changes.
        places.rotate_left(k + 1);
        places.push(places[0]);
    }
    let length = |places: &[usize]| {
        let steps = places
            .windows(2)
            .map(|two| (edge.at[two[1]] - edge.at[two[0]]).norm());
        steps.sum::<f64>()
    };
    let mut parts: Vec<Named> = Vec::new();
    for alike in places.chunk_by(|a, b| names[*a] == names[*b]) {
        let name = &names[alike[0]];
        let goes_on = parts.last().is_some_and(|(before, _)| before == name);
        let joins = goes_on || length(alike) < LEAST_NAMED_MM;
        let takes_over = parts
            .last()
            .is_some_and(|(_, held)| length(held) < LEAST_NAMED_MM);
        match parts.last_mut() {
            Some((_, held)) if joins => held.extend(alike),
            Some((before, held)) if takes_over => {
                before.clone_from(name);
                held.extend(alike);
            }
            _ => parts.push((name.clone(), alike.to_vec())),
        }
    }
    for k in 1..parts.len() {
        let first = parts[k].1[0];
        parts[k - 1].1.push(first);
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of side 100 in steps of 1 mm, closed, without corners of its own.
    fn ring(corners: Vec<usize>) -> Edge {
        let at: Vec<Point> = (0..400)
            .map(|i| {
                let (side, along) = (i / 100, f64::from(i % 100));
                match side {
                    0 => Point::new(along, 0.0, 0.0),
                    1 => Point::new(100.0, along, 0.0),
                    2 => Point::new(100.0 - along, 100.0, 0.0),
                    _ => Point::new(0.0, 100.0 - along, 0.0),
                }
            })
            .collect();
        Edge {
            outward: at
                .iter()
                .map(|p| (p - Point::new(50.0, 50.0, 0.0)).normalize())
                .collect(),
            normal: vec![Vector::z(); 400],
            at,
            closed: true,
            corners,
        }
    }

    fn length(piece: &Piece) -> f64 {
        piece.at.windows(2).map(|two| (two[1] - two[0]).norm()).sum()
    }

    #[test]
    fn a_ring_is_cut_at_corners_and_where_a_name_lasts() {
        let nameless = |_: &Point| None;
        let whole = pieces(&ring(Vec::new()), &nameless);
        assert!(whole.len() == 1 && whole[0].closed && whole[0].at.len() == 400);
        let sides = pieces(&ring(vec![0, 100, 200, 300]), &nameless);
        assert!(sides.len() == 4 && sides.iter().all(|s| !s.closed));
        assert!(sides.iter().all(|s| (length(s) - 100.0).abs() < 1e-9));
        // A name for all with x over 60, and one for a place too short for a piece.
        let named = |p: &Point| match p {
            p if p.x > 60.0 => Some("rear".to_string()),
            p if p.x < 1.0 && (p.y - 50.0).abs() < 4.0 => Some("spot".to_string()),
            _ => None,
        };
        let two = pieces(&ring(Vec::new()), &named);
        let names: Vec<Option<&str>> = two.iter().map(|p| p.name.as_deref()).collect();
        assert_eq!(names, [Some("rear"), None]);
        assert!((two.iter().map(length).sum::<f64>() - 400.0).abs() < 1e-9);
        assert!(two.iter().all(|p| !p.closed));
    }
}
