//! What an edge is called: after where it lies on the region that it borders, or on the whole part, in the shell's directions.

use std::collections::BTreeMap;

use cloud::frame::{self, FACING, SIDES};
use cloud::{Body, Bounds, Point, Surface, Vector};

use super::pieces::Piece;

/// The extent of a region is taken from about this many points of the reference.
const POINTS: usize = 20_000;
/// Metal that reaches less far along an axis than this share of its width is thin there, and has no sides.
const THIN: f64 = 0.15;
/// What its place alone counts, beside whether the edge also faces to that side.
const PLACE: f64 = 0.5;
/// An edge of no region is named after one whose metal lies as near as this, mm (six inches).
const BESIDE_MM: f64 = 152.4;
/// An edge that scores less than this lies in the midst of the metal.
const LEAST: f64 = 0.4;

/// The name of each piece. The longest of those that would be called the same keeps the name; the others are told from it by
/// where they lie, and numbered only where that is the same too.
pub(super) fn names(
    pieces: &[&Piece],
    lengths_mm: &[f64],
    reference: &Surface<Body>,
    name_of: &dyn Fn(&Point) -> Option<String>,
) -> Vec<String> {
    let extents = extents(reference, name_of);
    let plain: Vec<String> = pieces
        .iter()
        .map(|piece| {
            let extent = extents.get(&piece.name).copied();
            let of = match (&piece.name, beside(piece, &extents)) {
                (Some(name), _) => format!(" of {}", the(name)),
                (None, Some(name)) => format!(" beside {}", the(name)),
                (None, None) => String::new(),
            };
            called(piece, extent.or_else(|| Bounds::of(&piece.at)), &of)
        })
        .collect();
    let mut longest_first: Vec<usize> = (0..pieces.len()).collect();
    longest_first.sort_by(|&a, &b| lengths_mm[b].total_cmp(&lengths_mm[a]).then(a.cmp(&b)));
    let mut names = vec![String::new(); pieces.len()];
    let mut longest: BTreeMap<&str, usize> = BTreeMap::new();
    let mut taken: BTreeMap<String, usize> = BTreeMap::new();
    for i in longest_first {
        let Some(&first) = longest.get(plain[i].as_str()) else {
            longest.insert(&plain[i], i);
            names[i].clone_from(&plain[i]);
            continue;
        };
        let side = frame::called(&SIDES, &(pieces[i].middle() - pieces[first].middle()));
        let name = format!("{}, at the {side}", plain[i]);
        let count = taken.entry(name.clone()).or_insert(0);
        *count += 1;
        names[i] = if *count == 1 {
            name
        } else {
            format!("{name}, {count}")
        };
    }
    names
}

/// How far the metal of each region reaches; that of the whole part under no name.
fn extents(
    reference: &Surface<Body>,
    name_of: &dyn Fn(&Point) -> Option<String>,
) -> BTreeMap<Option<String>, Bounds> {
    let points = reference.points();
    let step = points.len().div_ceil(POINTS).max(1);
    let mut of_regions: BTreeMap<Option<String>, Vec<Point>> = BTreeMap::new();
    for point in points.iter().step_by(step) {
        if let Some(name) = name_of(point) {
            of_regions.entry(Some(name)).or_default().push(*point);
        }
        of_regions.entry(None).or_default().push(*point);
    }
    of_regions
        .into_iter()
        .filter_map(|(name, at)| Some((name, Bounds::of(&at)?)))
        .collect()
}

/// The region whose metal a piece lies nearest to, in the mean; `None` where none is near.
fn beside<'a>(piece: &Piece, extents: &'a BTreeMap<Option<String>, Bounds>) -> Option<&'a str> {
    let apart_mm = |extent: &Bounds| {
        let beyond = |p: &Point| (extent.low - p).sup(&(p - extent.high)).sup(&Vector::zeros());
        piece.at.iter().map(|p| beyond(p).norm()).sum::<f64>() / piece.at.len().max(1) as f64
    };
    let regions = extents
        .iter()
        .filter_map(|(name, extent)| Some((name.as_deref()?, apart_mm(extent))));
    let near = regions.filter(|(_, mm)| *mm <= BESIDE_MM);
    near.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(name, _)| name)
}

/// `the floor`.
fn the(name: &str) -> String {
    match name.starts_with("the ") {
        true => name.to_string(),
        false => format!("the {name}"),
    }
}

/// `rear edge of the floor`, `edge of the floor facing left` where it lies in the midst of it, from ` of the floor`; of what
/// belongs to no region ` beside the floor`.
fn called(piece: &Piece, extent: Option<Bounds>, of: &str) -> String {
    if piece.closed {
        let round = match of {
            "" => "edge all round".to_string(),
            _ => format!("edge{of}, all round"),
        };
        return match piece.goes_round_metal() {
            true => round,
            false => format!("edge of an opening{}", of.replacen(" of ", " in ", 1)),
        };
    }
    match extent.and_then(|extent| side(piece, &extent)) {
        Some((axis, greater)) => format!("{} edge{of}", SIDES[axis][usize::from(greater)]),
        None => format!("edge{of} facing {}", frame::called(&FACING, &piece.facing())),
    }
}

/// On which side of its metal a piece lies: the axis, and whether it is the greater side of it. It lies the more on a side
/// the farther out it is and the more it faces that way.
fn side(piece: &Piece, extent: &Bounds) -> Option<(usize, bool)> {
    let half = extent.size() / 2.0;
    let off = piece.middle() - extent.centre();
    let facing = piece.facing();
    let mut sorted = [half.x, half.y, half.z];
    sorted.sort_by(f64::total_cmp);
    let wide = sorted[1];
    (0..3)
        .filter(|&k| half[k] > 0.0 && half[k] >= THIN * wide)
        .map(|k| {
            let faces = (facing[k] * off[k].signum()).max(0.0);
            (k, (off[k] / half[k]).abs() * (PLACE + faces))
        })
        .filter(|(_, score)| *score >= LEAST)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(k, _)| (k, off[k] > 0.0))
}

impl Piece {
    /// The mean of its places.
    pub(super) fn middle(&self) -> Point {
        Point::from(self.at.iter().map(|p| p.coords).sum::<Vector>() / self.at.len() as f64)
    }

    /// The way off the metal in the mean, a unit vector; nothing where it goes round.
    fn facing(&self) -> Vector {
        let sum = self.outward.iter().sum::<Vector>();
        sum.try_normalize(1e-9).unwrap_or_else(Vector::zeros)
    }

    /// Whether a closed piece has its metal inside.
    fn goes_round_metal(&self) -> bool {
        let middle = self.middle();
        let out: f64 = self
            .at
            .iter()
            .zip(&self.outward)
            .map(|(p, outward)| (p - middle).dot(outward))
            .sum();
        out > 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::super::plates::plate;
    use super::*;

    /// A straight piece from one place to another that faces `outward`.
    fn piece(name: Option<&str>, from: (f64, f64), to: (f64, f64), outward: Vector) -> Piece {
        let at: Vec<Point> = (0..=20)
            .map(|i| {
                let share = f64::from(i) / 20.0;
                Point::new(
                    from.0 + share * (to.0 - from.0),
                    from.1 + share * (to.1 - from.1),
                    0.0,
                )
            })
            .collect();
        Piece {
            name: name.map(String::from),
            outward: vec![outward; at.len()],
            normal: vec![Vector::z(); at.len()],
            at,
            closed: false,
        }
    }

    /// The names on a plate of 200 × 100 whose rear half is a region.
    fn named(pieces: &[Piece]) -> Vec<String> {
        let reference: Surface<Body> = plate(2.0, 21, |_, _| true);
        let all: Vec<&Piece> = pieces.iter().collect();
        let lengths: Vec<f64> = pieces.iter().map(|p| (p.at[20] - p.at[0]).norm()).collect();
        names(&all, &lengths, &reference, &|p| {
            (p.x > 100.0).then(|| "floor".to_string())
        })
    }

    #[test]
    fn edges_are_called_after_their_side_of_the_region_or_of_the_whole() {
        let (x, y) = (Vector::x(), Vector::y());
        let found = named(&[
            piece(None, (0.0, 0.0), (0.0, 100.0), -x),
            // Half of a side is still that side.
            piece(None, (0.0, 0.0), (50.0, 0.0), -y),
            piece(Some("floor"), (200.0, 0.0), (200.0, 100.0), x),
            piece(Some("floor"), (100.0, 100.0), (200.0, 100.0), y),
            // A lip that is turned in faces inward, and lies at the rear all the same.
            piece(None, (199.0, 0.0), (199.0, 100.0), -Vector::z()),
            // One side of a slit in the middle.
            piece(Some("floor"), (140.0, 52.0), (160.0, 52.0), -y),
        ]);
        assert_eq!(
            found,
            [
                "front edge beside the floor",
                "left edge beside the floor",
                "rear edge of the floor",
                "right edge of the floor",
                "rear edge beside the floor",
                "edge of the floor facing left",
            ]
        );
    }

    #[test]
    fn an_edge_far_from_every_region_is_called_after_the_whole() {
        let extents = BTreeMap::from([(
            Some("floor".to_string()),
            Bounds {
                low: Point::new(100.0, 0.0, 0.0),
                high: Point::new(200.0, 100.0, 0.0),
            },
        )]);
        let at = |x: f64| piece(None, (x, 0.0), (x, 100.0), Vector::x());
        assert_eq!(beside(&at(300.0), &extents), Some("floor"));
        assert_eq!(beside(&at(400.0), &extents), None);
    }

    #[test]
    fn what_would_be_called_the_same_is_told_apart_and_numbered_only_where_it_must_be() {
        let x = Vector::x();
        let found = named(&[
            piece(Some("floor"), (200.0, 80.0), (200.0, 100.0), x),
            piece(Some("floor"), (200.0, 30.0), (200.0, 75.0), x),
            piece(Some("floor"), (200.0, 0.0), (200.0, 12.0), x),
            piece(Some("floor"), (200.0, 14.0), (200.0, 28.0), x),
        ]);
        assert_eq!(
            found,
            [
                "rear edge of the floor, at the right",
                "rear edge of the floor",
                "rear edge of the floor, at the left, 2",
                "rear edge of the floor, at the left",
            ]
        );
    }

    #[test]
    fn a_ring_is_told_from_an_opening() {
        let ring = |outward: f64| {
            let at: Vec<Point> = (0..60)
                .map(|i| {
                    let a = f64::from(i) * std::f64::consts::TAU / 60.0;
                    Point::new(150.0 + 40.0 * a.cos(), 50.0 + 40.0 * a.sin(), 0.0)
                })
                .collect();
            Piece {
                name: Some("floor".to_string()),
                outward: at
                    .iter()
                    .map(|p| (p - Point::new(150.0, 50.0, 0.0)).normalize() * outward)
                    .collect(),
                normal: vec![Vector::z(); 60],
                at,
                closed: true,
            }
        };
        let found = named(&[ring(1.0), ring(-1.0)]);
        assert_eq!(
            found,
            ["edge of the floor, all round", "edge of an opening in the floor"]
        );
    }
}
