//! Where the measured metal ends along a section though the reference's goes on: beyond its edge, and how far it is short.
//!
//! Only what lies beside the end of metal that was seen counts as missing; what lies farther off was not seen.

use cloud::frame::{SIDES, called};
use cloud::unit::fraction_of_inch;
use cloud::{Body, Point, Surface, Vector};
use compare::State;

use super::lengths::{SAME_METAL_MM, nearest, place};
use super::{CutPair, Line, line};

/// ± of where a set of points ends, in spacings of it: its last row lies up to one of them before the metal's edge.
const PER_END: f64 = 0.6;
/// A measured end belongs to a stretch that begins this near to it, in spacings.
const BESIDE: f64 = 3.0;
/// Stretches of less than this many spacings, of which no shortness is known, are chance.
const SHORTEST: f64 = 4.0;
/// What is said of a shortness at the least, mm (half a 32nd).
const LEAST_SAID_MM: f64 = 25.4 / 64.0;

/// A stretch of a reference line beside which the measured set ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Beyond {
    /// Its places along the line, mm.
    pub points: Vec<Point>,
    /// How far the metal is short, where the line itself ends with the stretch; `None` in the middle of a line, or where
    /// what follows was not seen.
    pub short: Option<Short>,
}

/// Metal that is missing at the end of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Short {
    /// The place of the reference beside which the measured metal ends, mm.
    pub at: Point,
    /// Unit direction in which the metal should go on.
    pub toward: Vector,
    /// How much of it is missing along the line, mm.
    pub mm: f64,
    /// ± of it, with the setting's, mm.
    pub pm_mm: f64,
}

impl Short {
    /// `7/32 short at its rear end`.
    pub fn words(&self) -> String {
        let end = called(&SIDES, &self.toward);
        format!("{} short at its {end} end", fraction_of_inch(self.mm, 32))
    }
}

/// What is known of the set besides its lines.
pub struct Known<'a> {
    /// The reference that was cut.
    pub reference: &'a Surface<Body>,
    /// What was found at each of its points.
    pub states: &'a [State],
    /// Spacing of the measured set, mm.
    pub measured_spacing_mm: f64,
    /// Whether a line of the reference that ends at a place ends there by itself, and is not cut off by the reach.
    pub ends_by_itself: &'a dyn Fn(&Point) -> bool,
    /// ± of the setting at a place along a direction, mm.
    pub setting_pm_mm: &'a dyn Fn(&Point, &Vector) -> f64,
}

impl CutPair {
    /// Tells where the measured metal ends before the reference's does. The length of the reference takes in what is missing
    /// at the ends of its line, so that the measured metal reads shorter by it.
    pub fn with_ends(mut self, known: &Known<'_>) -> Self {
        let theirs = lines(&self.measured);
        for (k, ours) in lines(&self.reference).iter().enumerate() {
            for beyond in known.beyond(ours, &theirs) {
                if let Some(short) = &beyond.short
                    && self.along == Some(k)
                {
                    self.reference_length_mm = self.reference_length_mm.map(|mm| mm + short.mm);
                    self.length_pm_mm = self.length_pm_mm.map(|pm| pm.hypot(short.pm_mm));
                }
                self.beyond.push(beyond);
            }
        }
        self
    }
}

fn lines(of: &[Vec<Point>]) -> Vec<Line> {
    of.iter().filter_map(|points| line(points.clone())).collect()
}

/// What a place of the reference's line is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Metal,
    Beyond,
    Unseen,
}

impl Known<'_> {
    /// The stretches of a line of the reference beside which all of the measured lines end.
    fn beyond(&self, ours: &Line, theirs: &[Line]) -> Vec<Beyond> {
        let count = ((2.0 * ours.length_mm / self.reference.spacing_mm).ceil() as usize).clamp(1, 100_000);
        let step_mm = ours.length_mm / count as f64;
        let kinds: Vec<Kind> = (0..=count)
            .map(|i| self.kind_at(ours, i as f64 * step_mm))
            .collect();
        let ends = ends_beside(ours, theirs);
        let mut first = 0;
        let mut found = Vec::new();
        for alike in kinds.chunk_by(|a, b| a == b) {
            let (from, last) = (first, first + alike.len() - 1);
            first = last + 1;
            if alike[0] != Kind::Beyond {
                continue;
            }
            let metal_before = from > 0 && kinds[from - 1] == Kind::Metal;
            let metal_after = last < count && kinds[last + 1] == Kind::Metal;
            // The metal ends a little before a place that surely lies beyond it.
            let widened = |metal: bool| if metal { self.measured_spacing_mm } else { 0.0 };
            let from_mm = (from as f64 * step_mm - widened(metal_before)).max(0.0);
            let to_mm = (last as f64 * step_mm + widened(metal_after)).min(ours.length_mm);
            let short = if last == count && metal_before {
                self.short(ours, &ends, from_mm, false)
            } else if from == 0 && metal_after {
                self.short(ours, &ends, to_mm, true)
            } else {
                None
            };
            // At the very end the last row of one set lies past that of the other by chance.
            if short.is_some() || to_mm - from_mm >= SHORTEST * self.measured_spacing_mm {
                found.push(Beyond {
                    points: between(ours, from_mm, to_mm),
                    short,
                });
            }
        }
        found
    }

    fn kind_at(&self, ours: &Line, along_mm: f64) -> Kind {
        let nearest = place(ours, along_mm).and_then(|at| self.reference.near.nearest(&at));
        match nearest.and_then(|n| self.states.get(n.index as usize)) {
            Some(State::Distance { .. }) => Kind::Metal,
            Some(State::BeyondEdge) => Kind::Beyond,
            Some(State::NotMeasured) | None => Kind::Unseen,
        }
    }

    /// How much is missing of a line whose metal ends near `near_mm` along it, at the line's beginning or at its end. `None`
    /// where the line goes on past the reach, no measured line ends there, or it is no more than its ±.
    fn short(&self, ours: &Line, ends: &[f64], near_mm: f64, at_beginning: bool) -> Option<Short> {
        let coarser = self.reference.spacing_mm.max(self.measured_spacing_mm);
        let end = if at_beginning {
            ours.points.first()
        } else {
            ours.points.last()
        }?;
        let beside = |along: &f64| {
            if at_beginning {
                *along <= near_mm + BESIDE * coarser
            } else {
                *along >= near_mm - BESIDE * coarser
            }
        };
        let from_end = |along: f64| {
            if at_beginning {
                along
            } else {
                ours.length_mm - along
            }
        };
        let along = ends
            .iter()
            .copied()
            .filter(beside)
            .min_by(|a, b| from_end(*a).total_cmp(&from_end(*b)))?;
        let at = place(ours, along)?;
        let toward = (end - at).try_normalize(1e-9)?;
        let own = PER_END * self.reference.spacing_mm.hypot(self.measured_spacing_mm);
        let short = Short {
            at,
            toward,
            mm: from_end(along),
            pm_mm: own.hypot((self.setting_pm_mm)(&at, &toward)),
        };
        let told = short.mm > short.pm_mm.max(LEAST_SAID_MM) && (self.ends_by_itself)(end);
        told.then_some(short)
    }
}

/// How far along a line of the reference the measured lines beside it end, mm.
fn ends_beside(ours: &Line, theirs: &[Line]) -> Vec<f64> {
    theirs
        .iter()
        .filter(|other| other.points.first() != other.points.last())
        .flat_map(|other| [other.points.first(), other.points.last()])
        .flatten()
        .map(|end| nearest(ours, end))
        .filter(|(_, apart_mm)| *apart_mm <= SAME_METAL_MM)
        .map(|(along_mm, _)| along_mm)
        .collect()
}

/// The places of a line from one to another, its own among them.
fn between(line: &Line, from_mm: f64, to_mm: f64) -> Vec<Point> {
    let mut passed = 0.0;
    let mut points: Vec<Point> = place(line, from_mm).into_iter().collect();
    for pair in line.points.windows(2) {
        passed += (pair[1] - pair[0]).norm();
        if passed > from_mm && passed < to_mm {
            points.push(pair[1]);
        }
    }
    points.extend(place(line, to_mm));
    points
}

#[cfg(test)]
mod tests {
    use super::super::{Plane, pair};
    use super::*;
    use cloud::{Cloud, Frame, Motion, Scan};

    const SPACING_MM: f64 = 1.0;

    /// A flat sheet of 60 across and from 0 to 200 along Y in rows of a millimetre, without what is `gone`.
    fn sheet<F: Frame>(gone: impl Fn(f64) -> bool) -> Surface<F> {
        let points: Vec<Point> = (0..61 * 201)
            .map(|i| Point::new(f64::from(i % 61) - 30.0, f64::from(i / 61), 0.0))
            .filter(|p| !gone(p.y))
            .collect();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(vec![Vector::z(); cloud.points_mm.len()]);
        Surface::new(cloud, None).unwrap().0
    }

    /// The sheet cut along Y, the measured one without what is `gone`.
    fn cut(gone: impl Fn(f64) -> bool) -> CutPair {
        let reference: Surface<Body> = sheet(|_| false);
        let measured: Surface<Scan> = sheet(gone);
        let still = Motion::identity();
        let states = compare::against_points::compare(&reference, &measured, &still, 12.7).states;
        let plane = Plane {
            through: Point::new(0.0, 100.0, 0.0),
            facing: Vector::x(),
        };
        pair(&reference, &measured, &still, &plane, 1.5, f64::INFINITY).with_ends(&Known {
            reference: &reference,
            states: &states,
            measured_spacing_mm: SPACING_MM,
            ends_by_itself: &|_| true,
            setting_pm_mm: &|_, _| 0.1,
        })
    }

    /// 7/32 in is 5.56 mm: the last row that is left is that at 194.
    #[test]
    fn metal_that_is_short_at_an_end_is_told_and_makes_the_length_shorter() {
        let found = cut(|y| y > 194.5);
        assert_eq!(found.beyond.len(), 1, "{:?}", found.beyond);
        let short = found.beyond[0].short.unwrap();
        assert!((short.mm - 6.0).abs() < 0.3, "{short:?}");
        assert!((short.at.y - 194.0).abs() < 0.3 && (short.toward - Vector::y()).norm() < 1e-6);
        assert_eq!(
            short.words(),
            format!("{} short at its right end", fraction_of_inch(short.mm, 32))
        );
        let shorter = found.reference_length_mm.unwrap() - found.measured_length_mm.unwrap();
        assert!((shorter - 6.0).abs() < 0.5, "{shorter}");
        assert!(found.length_pm_mm.unwrap() >= short.pm_mm);
        let front = cut(|y| y < 5.5);
        let short = front.beyond[0].short.unwrap();
        assert!((short.mm - 6.0).abs() < 0.3, "{short:?}");
        assert!(short.words().ends_with("short at its left end"));
    }

    #[test]
    fn whole_metal_has_no_ends_and_a_slot_is_beyond_an_edge_without_a_shortness() {
        assert!(cut(|_| false).beyond.is_empty());
        let slot = cut(|y| (80.5..95.5).contains(&y));
        assert_eq!(slot.beyond.len(), 1, "{:?}", slot.beyond);
        let only = &slot.beyond[0];
        assert!(only.short.is_none());
        let (first, last) = (only.points.first().unwrap(), only.points.last().unwrap());
        let (low, high) = (first.y.min(last.y), first.y.max(last.y));
        assert!(
            (78.0..83.0).contains(&low) && (93.0..98.0).contains(&high),
            "{low} {high}"
        );
    }

    /// Beside its end the set is known to end; what lies sixty millimetres off was not seen and may be there.
    #[test]
    fn what_lies_far_from_the_end_stays_unseen() {
        let found = cut(|y| y > 130.5);
        assert_eq!(found.beyond.len(), 1, "{:?}", found.beyond);
        assert!(found.beyond[0].short.is_none());
        let far = found.beyond[0].points.iter().map(|p| p.y).fold(0.0, f64::max);
        assert!((140.0..150.0).contains(&far), "{far}");
        assert!((found.reference_length_mm.unwrap() - found.measured_length_mm.unwrap()).abs() < 1.5);
    }
}
