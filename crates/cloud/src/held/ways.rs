//! Motions that nothing holds, in words that can be pictured: which way the part slides, about which line it rocks, and what a
//! little of that is at its far corner.

use super::{FreeMotion, Matrix6x6, Motions};
use crate::unit::{MM_PER_INCH, fraction_of_inch};
use crate::{Bounds, NamedPoint, Point, Vector};

/// A motion as its vector has it: the slide, then the turn times the radius.
type Six = nalgebra::Vector6<f64>;

/// What a line is told by.
#[derive(Debug, Clone, Default)]
pub struct Landmarks {
    /// Places that the shop has a name for.
    pub places: Vec<NamedPoint>,
    /// The box around the part; without one nothing is said of its length, its middle and its far corner.
    pub bounds: Option<Bounds>,
}

/// Slides and turns along and about X, Y and Z, as they stand in the vector of a free motion, in the order in which they are
/// looked for: of turns first that about the upright.
const BODY: [usize; 6] = [0, 1, 2, 5, 3, 4];
/// A later one of them is taken before an earlier one only where so much more of it is free.
const CLEARLY: f64 = 0.02;
/// So many times as much slide as turn is a slide.
const MOSTLY: f64 = 3.0;
/// A direction whose part along an axis of the body is more than this runs along it, 23° off at most …
const ALONG: f64 = 0.92;
/// … and for a part's own length it must be within 13°.
const OWN_WAY: f64 = 0.975;
/// A part whose longest side is so many times the next has a length.
const LONG: f64 = 1.5;
/// A line that passes a place within this share of the part's diagonal, or within half an inch, goes through it.
const THROUGH: f64 = 0.02;
/// Two places tell a line where they lie this far apart along it, mm (four inches).
const APART_MM: f64 = 4.0 * MM_PER_INCH;
/// A line that passes the middle of the part within this share of its diagonal goes through the middle.
const MIDDLE: f64 = 0.05;
/// What is told of a turn, a foot off its line: a sixteenth.
const A_LITTLE_MM: f64 = MM_PER_INCH / 16.0;
const FOOT_MM: f64 = 12.0 * MM_PER_INCH;

impl Motions {
    /// The motions that nothing holds, each as near to a slide along or a turn about one of the body's axes as they allow: any
    /// mixture of free motions is free, and which of them an eigen-analysis gives is chance. The words stand behind "nothing
    /// holds the set". Each vector is of unit length, and all are square to each other.
    pub fn free_ways(&self, landmarks: &Landmarks) -> Vec<FreeMotion> {
        let vectors = along_the_body(&self.held().free);
        let slides: Vec<Vector> = vectors.iter().filter_map(slide_of).collect();
        let told = |vector: Six| FreeMotion {
            words: match slide_of(&vector) {
                Some(slide) => landmarks.slide_words(&slide),
                None => landmarks.turn_words(&self.line(&vector), &slides),
            },
            vector: vector.into(),
        };
        vectors.into_iter().map(told).collect()
    }

    /// The line about which a free motion turns: the axis of its screw. With w the turn and u the slide at the centre c it
    /// passes through c + w × u / |w|².
    fn line(&self, vector: &Six) -> Line {
        let slide = Vector::new(vector[0], vector[1], vector[2]);
        let turn = Vector::new(vector[3], vector[4], vector[5]) / self.radius_mm;
        Line {
            through: self.centre_mm + turn.cross(&slide) / turn.norm_squared(),
            along: turn.normalize(),
        }
    }
}

/// The slide of a motion that is mostly one, as a unit vector.
fn slide_of(vector: &Six) -> Option<Vector> {
    let slide = Vector::new(vector[0], vector[1], vector[2]);
    let turn = Vector::new(vector[3], vector[4], vector[5]);
    (slide.norm() > MOSTLY * turn.norm()).then(|| slide.normalize())
}

/// Another basis of what the free motions span: one after the other the motion of the body of which most is free, as far as it
/// is, without what was taken before.
fn along_the_body(free: &[FreeMotion]) -> Vec<Six> {
    let mut projector = Matrix6x6::zeros();
    for motion in free {
        let vector = Six::from(motion.vector);
        projector += vector * vector.transpose();
    }
    let mut found = Vec::new();
    for _ in free {
        let most = BODY.into_iter().reduce(|best, next| {
            let more = projector[(next, next)] > projector[(best, best)] + CLEARLY;
            if more { next } else { best }
        });
        let image: Six = projector.column(most.unwrap_or(0)).into_owned();
        let Some(vector) = image.try_normalize(1e-6) else {
            break;
        };
        projector -= vector * vector.transpose();
        found.push(vector);
    }
    found
}

/// A line that something turns about.
struct Line {
    through: Point,
    along: Vector,
}

impl Line {
    /// How far along the line a place lies from where it is told through, and how far off the line, mm.
    fn reach(&self, place: &Point) -> (f64, f64) {
        let arm = place - self.through;
        let along = arm.dot(&self.along);
        (along, (arm - self.along * along).norm())
    }
}

/// The axis of the body along which a direction runs.
fn axis_of(direction: &Vector, least: f64) -> Option<usize> {
    (0..3).find(|&axis| direction[axis].abs() > least)
}

impl Landmarks {
    /// `fore and aft, along its own length`.
    fn slide_words(&self, slide: &Vector) -> String {
        let words = ways_of(slide, ["fore and aft", "side to side", "up and down"]);
        match axis_of(slide, OWN_WAY) {
            Some(axis) if self.long_axis() == Some(axis) => format!("{words}, along its own length"),
            _ => words,
        }
    }

    /// `against rocking about the fore-and-aft line through H1 and H3 (1/16 a foot off it is 7/32 at the far corner)`. Where the
    /// line may as well stand elsewhere, since the part slides across it, its place is not told.
    fn turn_words(&self, line: &Line, slides: &[Vector]) -> String {
        let axis = axis_of(&line.along, ALONG);
        let (verb, name) = match axis {
            Some(0) => ("rocking", "the fore-and-aft line"),
            Some(1) => ("rocking", "the side-to-side line"),
            Some(_) => ("turning", "the upright"),
            None => ("rocking", "a slanting line"),
        };
        let anywhere = slides
            .iter()
            .any(|slide| slide.cross(&line.along).norm() > CLEARLY.sqrt());
        if anywhere {
            return format!("against {verb} about {name}");
        }
        let place = self.named_on(line).or_else(|| self.beside_the_middle(line));
        let far = self.far_corner(line);
        if self.rolls(line) {
            return format!("against rolling about its own length{far}");
        }
        match place {
            Some(place) => format!("against {verb} about {name} {place}{far}"),
            None => format!("against {verb} about {name}{far}"),
        }
    }

    /// The axis along which the part is long.
    fn long_axis(&self) -> Option<usize> {
        let size = self.bounds.as_ref()?.size();
        let longest = (0..3).max_by(|&a, &b| size[a].total_cmp(&size[b]))?;
        (0..3)
            .all(|axis| axis == longest || size[longest] > LONG * size[axis])
            .then_some(longest)
    }

    /// Whether a line runs along the length of the part through its middle.
    fn rolls(&self, line: &Line) -> bool {
        let long = axis_of(&line.along, OWN_WAY).filter(|axis| self.long_axis() == Some(*axis));
        let middle = |bounds: &Bounds| line.reach(&bounds.centre()).1 < MIDDLE * bounds.diagonal();
        long.is_some() && self.bounds.as_ref().is_some_and(middle)
    }

    /// `through H1 and H3`: of the named places on the line the two that lie farthest apart, or the one.
    fn named_on(&self, line: &Line) -> Option<String> {
        let diagonal_mm = self.bounds.as_ref().map_or(0.0, Bounds::diagonal);
        let near_mm = (THROUGH * diagonal_mm).max(MM_PER_INCH / 2.0);
        let mut on: Vec<(f64, &str)> = self
            .places
            .iter()
            .map(|place| (line.reach(&place.at_mm), place.name.as_str()))
            .filter(|((_, off_mm), _)| *off_mm < near_mm)
            .map(|((along_mm, _), name)| (along_mm, name))
            .collect();
        on.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(b.1)));
        let (first, last) = (on.first()?, on.last()?);
        if last.0 - first.0 < APART_MM {
            return Some(format!("through {}", first.1));
        }
        let (first, last) = (first.1.min(last.1), first.1.max(last.1));
        Some(format!("through {first} and {last}"))
    }

    /// `12 in right of and 3 in above its middle`.
    fn beside_the_middle(&self, line: &Line) -> Option<String> {
        let bounds = self.bounds.as_ref()?;
        let middle = bounds.centre();
        let arm = line.through - middle;
        let off = arm - line.along * arm.dot(&line.along);
        let ways = [
            ("behind", "ahead of"),
            ("right of", "left of"),
            ("above", "below"),
        ];
        let told: Vec<String> = ways
            .iter()
            .zip(off.iter())
            .filter(|(_, mm)| mm.abs() > MIDDLE * bounds.diagonal())
            .map(|((plus, minus), mm)| {
                let way = if *mm > 0.0 { plus } else { minus };
                format!("{} in {way}", fraction_of_inch(*mm, 4))
            })
            .collect();
        Some(match told.is_empty() {
            true => "through its middle".to_string(),
            false => format!("{} its middle", told.join(" and ")),
        })
    }

    /// What a sixteenth a foot off a line is at the corner of the part that is farthest from it; nothing where that is no more.
    fn far_corner(&self, line: &Line) -> String {
        let corners = self.bounds.iter().flat_map(|bounds| bounds.corners());
        let far_mm = corners.map(|corner| line.reach(&corner).1).fold(0.0, f64::max);
        if far_mm < LONG * FOOT_MM {
            return String::new();
        }
        let there = fraction_of_inch(A_LITTLE_MM * far_mm / FOOT_MM, 32);
        format!(" (1/16 a foot off it is {there} at the far corner)")
    }
}

/// The motion in the shop's words. `vector` is translation, then rotation, in the body's frame.
pub(super) fn words(vector: &[f64; 6]) -> String {
    let slide = Vector::new(vector[0], vector[1], vector[2]);
    let turn = Vector::new(vector[3], vector[4], vector[5]);
    let slide_words = ways_of(&slide, ["fore and aft", "side to side", "up and down"]);
    let turn_words = ways_of(
        &turn,
        [
            "turning about the fore-and-aft line",
            "turning about the side-to-side line",
            "turning about the upright",
        ],
    );
    if slide.norm() > 3.0 * turn.norm() {
        slide_words
    } else if turn.norm() > 3.0 * slide.norm() {
        turn_words
    } else {
        format!("{slide_words}, {turn_words}")
    }
}

/// The name of the axis along which a vector mostly points, and of the next where it is nearly as much along that.
fn ways_of(v: &Vector, names: [&str; 3]) -> String {
    let a = v.abs();
    let mut order = [0, 1, 2];
    order.sort_by(|&i, &j| a[j].total_cmp(&a[i]));
    let most = names[order[0]];
    if a[order[1]] > 0.4 * a[order[0]] {
        format!("{most} with {}", names[order[1]])
    } else {
        most.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn held(shape: impl Fn(f64, f64) -> (Point, Vector)) -> Motions {
        let grid = (0..1600).map(|i| (f64::from(i % 40) / 19.5 - 1.0, f64::from(i / 40) / 19.5 - 1.0));
        let (points, normals): (Vec<Point>, Vec<Vector>) = grid.map(|(u, v)| shape(u, v)).unzip();
        Motions::of(&points, &normals, 0.1)
    }

    fn told(motions: &Motions, landmarks: &Landmarks) -> Vec<String> {
        let free = motions.free_ways(landmarks);
        free.into_iter().map(|motion| motion.words).collect()
    }

    fn landmarks(low: [f64; 3], high: [f64; 3], places: &[(&str, [f64; 3])]) -> Landmarks {
        let named = |(name, at): &(&str, [f64; 3])| NamedPoint {
            name: (*name).to_string(),
            at_mm: Point::from(*at),
        };
        Landmarks {
            places: places.iter().map(named).collect(),
            bounds: Bounds::of(&[Point::from(low), Point::from(high)]),
        }
    }

    /// Half a cone about the fore-and-aft line at the height of 500 mm: it holds all but the turn about that line, which does
    /// not go through its own middle.
    fn half_cone(u: f64, v: f64) -> (Point, Vector) {
        let (angle, radius) = (PI / 2.0 * u, 120.0 + 60.0 * v);
        let (side, up) = (angle.cos(), angle.sin());
        let at = Point::new(150.0 * v, radius * side, 500.0 + radius * up);
        (at, Vector::new(-0.4, side, up).normalize())
    }

    #[test]
    fn a_long_flat_sheet_slides_along_its_length_and_across_and_turns() {
        let sheet = held(|u, v| (Point::new(900.0 * u, 300.0 * v, 0.0), Vector::z()));
        let around = landmarks([-900.0, -300.0, 0.0], [900.0, 300.0, 0.0], &[("H1", [0.0; 3])]);
        assert_eq!(
            told(&sheet, &around),
            [
                "fore and aft, along its own length",
                "side to side",
                "against turning about the upright"
            ]
        );
    }

    /// The free motions of a sheet on edge that stands askew: whatever the eigen-analysis mixes, the first is up and down.
    #[test]
    fn what_is_free_is_laid_along_the_body_and_spans_the_same() {
        let askew = Vector::new(0.5, 0.75f64.sqrt(), 0.0);
        let along = askew.cross(&Vector::z());
        let sheet = held(|u, v| {
            (
                Point::from(along * (400.0 * u) + Vector::z() * (400.0 * v)),
                askew,
            )
        });
        let (mixed, laid) = (sheet.held().free, sheet.free_ways(&Landmarks::default()));
        assert_eq!((mixed.len(), laid.len()), (3, 3));
        assert_eq!(laid[0].words, "up and down");
        assert_eq!(laid[1].words, "fore and aft with side to side");
        assert_eq!(laid[2].words, "against rocking about a slanting line");
        let project = |free: &[FreeMotion]| -> Matrix6x6 {
            let vectors = free.iter().map(|f| Six::from(f.vector));
            vectors.map(|v| v * v.transpose()).sum()
        };
        assert!((project(&mixed) - project(&laid)).norm() < 1e-9);
    }

    #[test]
    fn a_line_is_told_by_the_places_on_it_or_beside_the_middle_with_what_it_is_at_the_far_corner() {
        let cone = held(half_cone);
        let (low, high) = ([-1200.0, -900.0, 0.0], [1200.0, 900.0, 600.0]);
        let named = [
            ("H3", [1200.0, 3.0, 498.0]),
            ("H2", [0.0, 700.0, 500.0]),
            ("H1", [-1000.0, 0.0, 500.0]),
        ];
        let of = |places: &[(&str, [f64; 3])]| told(&cone, &landmarks(low, high, places));
        // The far corner is √(900² + 500²) = 1030 mm from the line: 3.38 feet, and as many sixteenths.
        let far = "(1/16 a foot off it is 7/32 at the far corner)";
        let line = "against rocking about the fore-and-aft line";
        assert_eq!(of(&named), [format!("{line} through H1 and H3 {far}")]);
        assert_eq!(of(&named[1..]), [format!("{line} through H1 {far}")]);
        assert_eq!(of(&[]), [format!("{line} 7-3/4 in above its middle {far}")]);
        assert_eq!(told(&cone, &Landmarks::default()), [line]);
    }

    #[test]
    fn a_tube_slides_along_its_length_and_rolls_about_it() {
        let tube = held(|u, v| {
            let out = Vector::new(0.0, (PI * u).cos(), (PI * u).sin());
            (Point::from(out * 100.0 + Vector::x() * (300.0 * v)), out)
        });
        let around = landmarks([-300.0, -100.0, -100.0], [300.0, 100.0, 100.0], &[]);
        assert_eq!(
            told(&tube, &around),
            [
                "fore and aft, along its own length",
                "against rolling about its own length"
            ]
        );
    }
}
