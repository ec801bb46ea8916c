//! Regions of the reference: what they are called, what was done there, what is allowed.

use cloud::{Body, Bounds, NamedPoint, Point, Surface, Vector};

use crate::state::{Deviations, State};

mod sheets;

use sheets::Sheets;

/// What was done to a region.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Status {
    /// Left alone.
    Kept,
    /// Straightened, moved or welded.
    Worked,
    /// New metal.
    New,
    /// Not known.
    #[default]
    Unsure,
}

impl Status {
    /// The word, as written in a job file.
    pub fn word(self) -> &'static str {
        match self {
            Status::Kept => "kept",
            Status::Worked => "worked",
            Status::New => "new",
            Status::Unsure => "unsure",
        }
    }
}

/// Which way is proud, where it is declared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outside {
    /// −Y.
    Left,
    /// +Y.
    Right,
    /// +Z.
    Up,
    /// −Z.
    Down,
    /// −X.
    Forward,
    /// +X.
    Rearward,
}

impl Outside {
    /// The direction in the body's frame: X rearward, Y right as seated, Z up.
    pub fn direction(self) -> Vector {
        match self {
            Outside::Left => -Vector::y(),
            Outside::Right => Vector::y(),
            Outside::Up => Vector::z(),
            Outside::Down => -Vector::z(),
            Outside::Forward => -Vector::x(),
            Outside::Rearward => Vector::x(),
        }
    }
}

/// Cosine of 45°: metal that leans over by more may be a wall's, by its corner; and how far around it that is seen, in spacings, which
/// is a little farther than a normal is read from.
const HALF_WAY: f64 = std::f64::consts::FRAC_1_SQRT_2;
const AROUND: f64 = 3.0;

/// A named part of the reference.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// As the owner calls it.
    pub name: String,
    /// What was done to it.
    pub status: Status,
    /// The box that it fills, in the reference's frame, mm.
    pub bounds: Bounds,
    /// How far off it may be, mm.
    pub limit_mm: f64,
    /// Which way is proud, where declared.
    pub outside: Option<Outside>,
    /// Places where an answer is wanted as a shim.
    pub pads: Vec<NamedPoint>,
}

/// How far a kept region is drawn in from the regions that were worked on, mm (an inch): the heat of a weld and the pull
/// of a cut reach that far.
pub const DRAWN_IN_MM: f64 = 25.4;

/// The points of the reference in a region; where a side is declared, only those that face it or its opposite by less
/// than 75°, so that a wall in the same box is not counted with the floor; beside a wall, by less than 45°.
pub fn members(region: &Region, reference: &Surface<Body>) -> Vec<u32> {
    let outside = region.outside.map(Outside::direction);
    let normals = reference.normals();
    let counts = |i: u32, way: &Vector| {
        let normal = &normals[i as usize];
        faces(normal, way) && (normal.dot(way).abs() > HALF_WAY || !hangs_on_a_wall(i, way, reference))
    };
    (0..reference.points().len() as u32)
        .filter(|&i| {
            region.bounds.contains(&reference.points()[i as usize])
                && outside.is_none_or(|way| counts(i, &way))
        })
        .collect()
}

/// Whether a tenth of the metal around a point is a wall, which doesn't face a way: where it meets a floor the normals of both lean over
/// as far as their neighbours reach, and what the wall is off by is none of the floor's.
fn hangs_on_a_wall(i: u32, way: &Vector, reference: &Surface<Body>) -> bool {
    let (mut walls, mut all) = (0usize, 0usize);
    let at = &reference.points()[i as usize];
    reference
        .near
        .visit_within(at, AROUND * reference.spacing_mm, |n| {
            all += 1;
            walls += usize::from(!faces(&reference.normals()[n.index as usize], way));
        });
    10 * walls >= all
}

/// Whether metal with this normal faces a way or its opposite by less than 75°.
fn faces(normal: &Vector, way: &Vector) -> bool {
    normal.dot(way).abs() > 75f64.to_radians().cos()
}

/// What declared outsides did to the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Declared {
    /// Share of the metal that declared regions decide which had to be turned, 0 to 1.
    pub turned: f64,
    /// Share of the reference in sheets of which no region decides the outside, 0 to 1; 0 where the reference says it itself.
    pub guessed: f64,
}

/// Turns the reference's normals to the side that its regions declare as outside, and with them the signs of the
/// deviations that were read along them. Of the regions that hold a point the first decides whose outside, or the opposite, it
/// faces by less than 75°. Where sides were guessed, each sheet is turned whole first, by most of the metal that is decided on
/// it. Which of the two a wall in the same box faces is chance: it is turned where most of the metal that does face them is.
pub fn face_declared_sides(
    regions: &[Region],
    reference: &mut Surface<Body>,
    deviations: &mut Deviations,
) -> Declared {
    let declared: Vec<(Bounds, Vector)> = regions
        .iter()
        .filter_map(|r| Some((r.bounds, r.outside?.direction())))
        .collect();
    let mut done = Declared {
        turned: 0.0,
        guessed: if reference.sides_known { 0.0 } else { 1.0 },
    };
    if declared.is_empty() || reference.cloud.normals.is_none() {
        return done;
    }
    let decides = |point: &Point, normal: &Vector| {
        declared
            .iter()
            .position(|(bounds, outside)| bounds.contains(point) && faces(normal, outside))
    };
    let votes: Vec<Option<bool>> = reference
        .points()
        .iter()
        .zip(reference.normals())
        .map(|(point, normal)| decides(point, normal).map(|k| normal.dot(&declared[k].1) < 0.0))
        .collect();
    let asked = votes.iter().flatten().count();
    done.turned = votes.iter().flatten().filter(|turn| **turn).count() as f64 / asked.max(1) as f64;
    if !reference.sides_known {
        let (turned, undecided) = Sheets::of(reference).turned(&votes);
        done.guessed = undecided;
        turn(reference, deviations, &turned);
    }
    // How many points each region decides, and how many of them must still be turned.
    let mut decided = vec![(0usize, 0usize); declared.len()];
    for (point, normal) in reference.points().iter().zip(reference.normals()) {
        if let Some(k) = decides(point, normal) {
            decided[k].0 += 1;
            decided[k].1 += usize::from(normal.dot(&declared[k].1) < 0.0);
        }
    }
    let turned: Vec<bool> = reference
        .points()
        .iter()
        .zip(reference.normals())
        .map(|(point, normal)| match decides(point, normal) {
            Some(k) => normal.dot(&declared[k].1) < 0.0,
            None => declared
                .iter()
                .position(|(bounds, _)| bounds.contains(point))
                .is_some_and(|k| 2 * decided[k].1 > decided[k].0),
        })
        .collect();
    turn(reference, deviations, &turned);
    done
}

/// Turns the normals of some points, and the signs of what was read along them.
fn turn(reference: &mut Surface<Body>, deviations: &mut Deviations, which: &[bool]) {
    let normals = reference.cloud.normals.iter_mut().flatten();
    for ((normal, state), _) in normals
        .zip(&mut deviations.states)
        .zip(which)
        .filter(|(_, turned)| **turned)
    {
        *normal = -*normal;
        if let State::Distance { mm, .. } = state {
            *mm = -*mm;
        }
    }
}

/// Which points of the reference were left alone: in a kept region, and more than an inch from every region that was
/// worked on or is new. `None` where no region is kept.
pub fn left_alone(regions: &[Region], reference: &Surface<Body>) -> Option<Vec<bool>> {
    if !regions.iter().any(|r| r.status == Status::Kept) {
        return None;
    }
    let mut kept = vec![false; reference.points().len()];
    for region in regions.iter().filter(|r| r.status == Status::Kept) {
        for i in members(region, reference) {
            kept[i as usize] = true;
        }
    }
    let touched: Vec<Bounds> = regions
        .iter()
        .filter(|r| matches!(r.status, Status::Worked | Status::New))
        .map(|r| r.bounds.grown(DRAWN_IN_MM))
        .collect();
    for (kept, point) in kept.iter_mut().zip(reference.points()) {
        *kept &= !touched.iter().any(|b| b.contains(point));
    }
    Some(kept)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Cloud;

    fn region(name: &str, status: Status, x: [f64; 2]) -> Region {
        Region {
            name: name.to_string(),
            status,
            bounds: Bounds {
                low: Point::new(x[0], -1.0, -1.0),
                high: Point::new(x[1], 101.0, 1.0),
            },
            limit_mm: 1.6,
            outside: None,
            pads: Vec::new(),
        }
    }

    #[test]
    fn kept_metal_is_drawn_in_from_what_was_worked_on() {
        let sheet = (0..2500).map(|i| Point::new(f64::from(i % 50) * 4.0, f64::from(i / 50) * 2.0, 0.0));
        let (reference, _) = Surface::<Body>::new(Cloud::from_points(sheet.collect()), None).unwrap();
        let regions = [
            region("a", Status::Kept, [0.0, 100.0]),
            region("b", Status::New, [100.0, 200.0]),
        ];
        let kept = left_alone(&regions, &reference).unwrap();
        for (kept, point) in kept.iter().zip(reference.points()) {
            assert_eq!(*kept, point.x < 100.0 - DRAWN_IN_MM, "{point}");
        }
        assert!(left_alone(&regions[1..], &reference).is_none());
    }

    /// A sill of which the top alone is declared, by a box that reaches down its wall; its normals are read from its points.
    #[test]
    fn the_corner_of_a_wall_is_none_of_the_top() {
        let top = (0..2500).map(|i| Point::new(f64::from(i % 50) * 2.0, f64::from(i / 50) * 2.0, 0.0));
        let wall =
            (0..1000).map(|i| Point::new(0.0, f64::from(i % 50) * 2.0, -2.0 - f64::from(i / 50) * 2.0));
        let (reference, _) =
            Surface::<Body>::new(Cloud::from_points(top.chain(wall).collect()), None).unwrap();
        let mut declared = region("top", Status::Worked, [-1.0, 101.0]);
        declared.bounds.low.z = -10.0;
        declared.outside = Some(Outside::Up);
        let found = members(&declared, &reference);
        assert!(found.len() >= 2400, "{}", found.len());
        for i in found {
            let at = &reference.points()[i as usize];
            assert!(at.z > -1.0, "{at}");
        }
    }

    /// A floor whose normals look down, and an upright wall behind it whose normals all look to the rear, but for their noise.
    #[test]
    fn a_wall_in_a_floors_box_is_turned_with_the_floor_and_not_by_chance() {
        let floor = (0..1600).map(|i| Point::new(f64::from(i % 40) * 2.0, f64::from(i / 40) * 2.0, 0.0));
        let wall =
            (0..1600).map(|i| Point::new(80.0, f64::from(i % 40) * 2.0, f64::from(i / 40) * 2.0 + 2.0));
        let (reference, _) =
            Surface::<Body>::new(Cloud::from_points(floor.chain(wall).collect()), None).unwrap();
        let is_floor: Vec<bool> = reference.points().iter().map(|p| p.z < 1.0).collect();
        let leans = |i: usize| if i.is_multiple_of(2) { 0.03 } else { -0.03 };
        for (floor_looks, wall_looks) in [(-1.0, -1.0), (1.0, 1.0)] {
            let mut reference: Surface<Body> = reference.moved(&cloud::Motion::identity());
            reference.cloud.normals = Some(
                (0..3200)
                    .map(|i| match is_floor[i] {
                        true => Vector::z() * floor_looks,
                        false => Vector::new(1.0, 0.0, leans(i)).normalize(),
                    })
                    .collect(),
            );
            let mut floor = region("floor", Status::Kept, [-1.0, 101.0]);
            floor.bounds.high.z = 101.0;
            floor.outside = Some(Outside::Up);
            let mut deviations = Deviations {
                states: vec![State::Distance { mm: 1.0, pm_mm: 0.1 }; 3200],
                disc_mm: 5.0,
            };
            let done = face_declared_sides(&[floor], &mut reference, &mut deviations);
            assert_eq!(done.turned, if floor_looks < 0.0 { 1.0 } else { 0.0 });
            for (i, normal) in reference.normals().iter().enumerate() {
                let faces = if is_floor[i] {
                    normal.z
                } else {
                    normal.x * wall_looks
                };
                assert!(faces > 0.9, "{i}: {normal}");
                assert_eq!(deviations.states[i].mm(), Some(floor_looks));
            }
        }
    }

    /// A floor 200 by 98 mm and one more apart from it, both looking down and read 1 mm off; a box over the first half of the first.
    fn half_in_a_box(sides_known: bool) -> (Surface<Body>, Deviations, Declared) {
        let floor = |from: f64| {
            (0..5000).map(move |i| Point::new(from + f64::from(i % 100) * 2.0, f64::from(i / 100) * 2.0, 0.0))
        };
        let points = floor(0.0).chain(floor(1000.0)).collect();
        let (mut reference, _) = Surface::<Body>::new(Cloud::from_points(points), None).unwrap();
        let count = reference.points().len();
        reference.cloud.normals = Some(vec![-Vector::z(); count]);
        reference.sides_known = sides_known;
        let mut deviations = Deviations {
            states: vec![State::Distance { mm: 1.0, pm_mm: 0.1 }; count],
            disc_mm: 5.0,
        };
        let mut half = region("half", Status::Kept, [-1.0, 99.0]);
        half.outside = Some(Outside::Up);
        let done = face_declared_sides(&[half], &mut reference, &mut deviations);
        (reference, deviations, done)
    }

    #[test]
    fn a_guessed_sheet_half_in_a_box_keeps_one_sign() {
        let (reference, deviations, done) = half_in_a_box(false);
        for (i, point) in reference.points().iter().enumerate() {
            // The floor apart stays as it was guessed: nobody says which way it looks.
            let sign = if point.x < 500.0 { 1.0 } else { -1.0 };
            assert_eq!(reference.normals()[i].z, sign, "{point}");
            assert_eq!(deviations.states[i].mm(), Some(-sign), "{point}");
        }
        assert_eq!(done.turned, 1.0);
        assert!((done.guessed - 0.5).abs() < 1e-9, "{}", done.guessed);
    }

    #[test]
    fn known_sides_are_turned_in_the_box_alone() {
        let (reference, deviations, done) = half_in_a_box(true);
        for (i, point) in reference.points().iter().enumerate() {
            let sign = if point.x < 99.0 { 1.0 } else { -1.0 };
            assert_eq!(reference.normals()[i].z, sign, "{point}");
            assert_eq!(deviations.states[i].mm(), Some(-sign), "{point}");
        }
        assert_eq!((done.turned, done.guessed), (1.0, 0.0));
    }
}
