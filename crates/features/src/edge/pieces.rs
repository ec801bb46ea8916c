//! An edge cut into pieces that have one name each: at its corners, and where the region's name changes for good.

use cloud::{Point, Vector};

use super::Edge;
use super::corners::between;

/// A name that holds for less than half an inch of an edge is the neighbour's: a line of points runs in and out of the
/// side of a box.
const LEAST_NAMED_MM: f64 = 12.7;
/// What has no name for less than this is of the side that it goes on, mm (two inches): a box seldom ends just where the
/// metal does.
const LEAST_NAMELESS_MM: f64 = 50.8;
/// A side that leaves a box and comes back to it strays no farther than this off the straight line, mm: what bows more has
/// left it.
const STRAIGHT_MM: f64 = 12.7;

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
            let mut parts = joined(edge, by_name(edge, &names, places, closed));
            let closed = closed && parts.len() == 1;
            // A ring that was opened at a name and closed again has its first place twice.
            if closed
                && let [(_, places)] = parts.as_mut_slice()
                && places.len() > 1
                && places.first() == places.last()
            {
                places.pop();
            }
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
    let length = |places: &[usize]| length_mm(edge, places);
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

/// Joins what a line of points along the side of a box falls into: between two parts of one name a straight one without any is
/// of the same side, since a box has no gaps, and so is a short one beside a name. What has no name for the better part has none.
fn joined(edge: &Edge, parts: Vec<Named>) -> Vec<Named> {
    let mut sides: Vec<Side> = Vec::new();
    for (name, places) in parts {
        let nameless_mm = match name {
            Some(_) => 0.0,
            None => length_mm(edge, &places),
        };
        let side = Side {
            name,
            places,
            nameless_mm,
        };
        let comes_back = match sides.as_slice() {
            [.., before, between] => {
                side.name.is_some() && before.name == side.name && between.is_straight_gap(edge)
            }
            _ => false,
        };
        if comes_back && let Some(between) = sides.pop() {
            append(&mut sides, between);
            append(&mut sides, side);
        } else {
            sides.push(side);
        }
    }
    for side in &mut sides {
        if 2.0 * side.nameless_mm > length_mm(edge, &side.places) {
            side.name = None;
        }
    }
    let mut together: Vec<Side> = Vec::new();
    for side in sides {
        let Some(before) = together.last_mut() else {
            together.push(side);
            continue;
        };
        if before.name == side.name || side.is_stub(edge) {
            append(&mut together, side);
        } else if before.is_stub(edge) {
            before.name.clone_from(&side.name);
            append(&mut together, side);
        } else {
            together.push(side);
        }
    }
    let named = |side: Side| (side.name, side.places);
    together.into_iter().map(named).collect()
}

/// Puts a part behind the last one, which it shares a place with.
fn append(sides: &mut [Side], part: Side) {
    if let Some(last) = sides.last_mut() {
        let again = usize::from(last.places.last() == part.places.first());
        last.places.extend(part.places.into_iter().skip(again));
        last.nameless_mm += part.nameless_mm;
    }
}

/// A part of a side, and how much of it has no name of its own, mm.
struct Side {
    name: Option<String>,
    places: Vec<usize>,
    nameless_mm: f64,
}

impl Side {
    /// Whether it has no name and is too short to be a side of its own.
    fn is_stub(&self, edge: &Edge) -> bool {
        self.name.is_none() && length_mm(edge, &self.places) < LEAST_NAMELESS_MM
    }

    /// Whether it has no name and goes straight.
    fn is_straight_gap(&self, edge: &Edge) -> bool {
        let (Some(&first), Some(&last)) = (self.places.first(), self.places.last()) else {
            return false;
        };
        let along = (edge.at[last] - edge.at[first]).try_normalize(1e-9);
        let along = along.unwrap_or_else(Vector::zeros);
        let strays = |&i: &usize| {
            let off = edge.at[i] - edge.at[first];
            (off - along * off.dot(&along)).norm() > STRAIGHT_MM
        };
        self.name.is_none() && !self.places.iter().any(strays)
    }
}

fn length_mm(edge: &Edge, places: &[usize]) -> f64 {
    let steps = places
        .windows(2)
        .map(|two| (edge.at[two[1]] - edge.at[two[0]]).norm());
    steps.sum()
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

    /// A straight side of 400 in steps of 1 mm that lies on the side of a box, so that it has the box's name now and then.
    fn side_of_a_box(named: impl Fn(f64) -> bool) -> Vec<(Option<String>, f64)> {
        let at: Vec<Point> = (0..=400).map(|i| Point::new(f64::from(i), 0.0, 0.0)).collect();
        let edge = Edge {
            outward: vec![-Vector::z(); at.len()],
            normal: vec![Vector::y(); at.len()],
            at,
            closed: false,
            corners: Vec::new(),
        };
        let cut = pieces(&edge, &|p: &Point| named(p.x).then(|| "floor".to_string()));
        assert!((cut.iter().map(length).sum::<f64>() - 400.0).abs() < 1e-9);
        cut.iter().map(|p| (p.name.clone(), length(p))).collect()
    }

    #[test]
    fn a_side_along_the_border_of_a_box_is_one_piece() {
        let floor = Some("floor".to_string());
        let now_and_then = side_of_a_box(|x| !(70.0..110.0).contains(&x) && !(200.0..260.0).contains(&x));
        assert_eq!(now_and_then, [(floor.clone(), 400.0)]);
        // It ends an inch and a half before the metal does.
        assert_eq!(side_of_a_box(|x| x < 362.0), [(floor.clone(), 400.0)]);
        assert_eq!(side_of_a_box(|x| x > 38.0), [(floor.clone(), 400.0)]);
        // Mostly without a name, it has none.
        let seldom = side_of_a_box(|x| (90.0..130.0).contains(&x) || (300.0..340.0).contains(&x));
        assert_eq!(seldom, [(None, 400.0)]);
        // A box that ends in the midst of it cuts it.
        let half: Vec<Option<String>> = side_of_a_box(|x| x < 200.0).into_iter().map(|p| p.0).collect();
        assert_eq!(half, [floor, None]);
    }
}
