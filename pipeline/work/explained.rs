//! Distances and bolts that are off since a hole is: one fault is one job, and the hole's line tells what comes right with it.

use ::compare::Verdict;
use ::compare::verdict::decide;
use ::features::holes::Pair;
use cloud::{Point, Vector};

use super::checks::{smallest_with, way_off};
use super::metal;
use crate::job::{CheckKind, Comparison};
use crate::stages::checks::CheckResult;
use crate::stages::compare::Compared;
use crate::stages::features::{Found, HoleResult};

/// A hole this near to a named place is the one that was meant, mm.
const HOLE_MM: f64 = 10.0;

/// A check that comes right with holes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Explained {
    /// The check.
    pub check: String,
    /// The holes that must be put right for that.
    holes: Vec<String>,
    /// `tram H1 H3 (1/8 long)`.
    words: String,
}

/// `; explains tram H1 H3 (1/8 long)`, behind the line of a hole that explains something; else nothing.
pub(super) fn told(explained: &[Explained], hole: &str) -> String {
    let own: Vec<String> = explained
        .iter()
        .filter(|one| one.holes.iter().any(|name| name == hole))
        .map(|one| {
            let others: Vec<&str> = one
                .holes
                .iter()
                .map(String::as_str)
                .filter(|h| *h != hole)
                .collect();
            match others.as_slice() {
                [] => one.words.clone(),
                others => format!("{}, with {}", one.words, others.join(" and ")),
            }
        })
        .collect();
    match own.as_slice() {
        [] => String::new(),
        own => format!("; explains {}: put the hole right first", own.join(", ")),
    }
}

/// The checks that are out and come right with a hole that is out by itself.
pub(super) fn explained(comparison: &Comparison, compared: &Compared, found: &Found) -> Vec<Explained> {
    let holes = Holes {
        comparison,
        compared,
        found,
    };
    let out = |check: &&CheckResult| check.verdict == Verdict::Outside;
    let asked = comparison.asked.checks.iter();
    asked
        .filter_map(|asked| {
            let check = found.checks.iter().filter(out).find(|c| c.name == asked.name)?;
            let (holes, how) = match &asked.kind {
                CheckKind::Tram { between } => holes.of_tram(&between.each_ref().map(|p| p.at_mm), check)?,
                CheckKind::Bolt { at, size_mm } => holes.of_bolt(&at.at_mm, *size_mm)?,
                _ => return None,
            };
            Some(Explained {
                check: check.name.clone(),
                holes,
                words: format!("{} ({how})", called(check)),
            })
        })
        .collect()
}

/// `tram H1 H3`, and the name alone where it says its kind itself.
fn called(check: &CheckResult) -> String {
    match check.name.contains(check.kind) {
        true => check.name.clone(),
        false => format!("{} {}", check.kind, check.name),
    }
}

struct Holes<'a> {
    comparison: &'a Comparison,
    compared: &'a Compared,
    found: &'a Found,
}

impl<'a> Holes<'a> {
    /// The hole of the reference that is meant by a place.
    fn at(&self, place: &Point) -> Option<&'a HoleResult> {
        let apart = |hole: &HoleResult| {
            let ours = hole.pair.reference.as_ref();
            ours.map_or(f64::INFINITY, |ours| (ours.at - place).norm())
        };
        let holes = self.found.holes.iter().filter(|hole| apart(hole) < HOLE_MM);
        holes.min_by(|a, b| apart(a).total_cmp(&apart(b)))
    }

    /// How far a hole lies off for sure, where it is the hole and not the metal around it that does.
    fn off_by_itself(&self, hole: &HoleResult) -> Option<Vector> {
        let off = misplaced(hole, self.comparison.limit_mm)?;
        let at = hole.pair.reference.as_ref()?.at;
        (!self.moved_with_region(&at, &off, hole.pair.pm_mm) && !self.moved_with_another(hole, &at, &off))
            .then_some(off)
    }

    /// Whether a region has moved so, and the hole in it.
    fn moved_with_region(&self, at: &Point, off: &Vector, pm_mm: f64) -> bool {
        let mut regions = self.compared.regions.iter().zip(&self.found.shifts);
        regions.any(|(region, shift)| {
            let Some(shift) = shift else { return false };
            let own = std::slice::from_ref(&region.region);
            smallest_with(own, &[*at]).is_some() && (off - shift.at(at)).norm() <= pm_mm.hypot(shift.pm_mm)
        })
    }

    /// Whether another hole of the same metal is off alike: then it is the metal that has moved.
    fn moved_with_another(&self, hole: &HoleResult, at: &Point, off: &Vector) -> bool {
        let regions = &self.comparison.regions;
        let metal = |at: &Point| smallest_with(regions, &[*at]).map(|region| &region.name);
        self.found.holes.iter().any(|other| {
            let alike = misplaced(other, self.comparison.limit_mm)
                .is_some_and(|theirs| (theirs - off).norm() <= hole.pair.pm_mm.hypot(other.pair.pm_mm));
            let there = other.pair.reference.as_ref().map(|ours| ours.at);
            other.pair.name != hole.pair.name
                && alike
                && there.is_some_and(|there| metal(&there) == metal(at))
        })
    }

    /// The holes that put a distance right, and how it is off.
    fn of_tram(&self, at: &[Point; 2], check: &CheckResult) -> Option<(Vec<String>, String)> {
        let holes = at.each_ref().map(|place| self.at(place));
        let moved = holes.map(|hole| self.off_by_itself(hole?));
        let grown = check.details.iter().find(|d| d.what.starts_with("grown"));
        let off_mm = check.off?;
        let wrong_mm = off_mm - grown.map_or(0.0, |grown| grown.value);
        let ends = ends_that_explain(at, &moved, wrong_mm, check.pm?)?;
        let names = ends.iter().filter_map(|&k| Some(holes[k]?.pair.name.clone()));
        Some((names.collect(), way_off(off_mm)))
    }

    /// The hole that lets a bolt through once it is put right.
    fn of_bolt(&self, at: &Point, bolt_mm: f64) -> Option<(Vec<String>, String)> {
        let hole = self.at(at)?;
        if hole.verdict != Verdict::Outside {
            return None;
        }
        let goes_then = match hole.pair.measured {
            None => true,
            Some(_) => {
                let placed = self.off_by_itself(hole).is_some();
                clearance_when_right(&hole.pair, placed, self.comparison.limit_mm, bolt_mm)? > 0.0
            }
        };
        goes_then.then(|| (vec![hole.pair.name.clone()], "it does not go".to_string()))
    }
}

/// How far a hole lies off, where that is out for sure.
fn misplaced(hole: &HoleResult, limit_mm: f64) -> Option<Vector> {
    metal::misplaced(&hole.pair, limit_mm).filter(|_| hole.verdict == Verdict::Outside)
}

/// Which of the two ends, put home by what they have `moved`, take away what a distance is off within its ±: one alone where
/// one does, else both.
fn ends_that_explain(
    at: &[Point; 2],
    moved: &[Option<Vector>; 2],
    off_mm: f64,
    pm_mm: f64,
) -> Option<Vec<usize>> {
    let length_mm = |by: [Vector; 2]| (at[1] + by[1] - at[0] - by[0]).norm();
    let left_mm = |ends: &[usize]| {
        let by = [0, 1].map(|k| {
            moved[k]
                .filter(|_| ends.contains(&k))
                .unwrap_or_else(Vector::zeros)
        });
        (off_mm - (length_mm(by) - length_mm([Vector::zeros(); 2]))).abs()
    };
    let known = |ends: &&[usize]| ends.iter().all(|&k| moved[k].is_some());
    let alone: [&[usize]; 2] = [&[0], &[1]];
    let nearest = alone
        .into_iter()
        .filter(known)
        .min_by(|a, b| left_mm(a).total_cmp(&left_mm(b)));
    let both: [&[usize]; 1] = [&[0, 1]];
    nearest
        .into_iter()
        .chain(both.into_iter().filter(known))
        .find(|ends| left_mm(ends) <= pm_mm)
        .map(<[usize]>::to_vec)
}

/// How much air a bolt has, mm, when a hole of both sets is as its line wants it: home where it is `placed` anew, and as wide as
/// the reference's where it is too small for sure.
fn clearance_when_right(pair: &Pair, placed: bool, limit_mm: f64, bolt_mm: f64) -> Option<f64> {
    let (ours, theirs) = pair.reference.as_ref().zip(pair.measured.as_ref())?;
    let [(wider_mm, pm_mm), _] = pair.larger_mm()?;
    let opened = wider_mm < 0.0 && decide(wider_mm, pm_mm, limit_mm) == Verdict::Outside;
    let wide_mm = if opened {
        ours.diameter_mm
    } else {
        theirs.diameter_mm
    };
    let across_mm = if placed { 0.0 } else { pair.offset()?.across.norm() };
    Some((wide_mm - bolt_mm) / 2.0 - across_mm)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::hole;
    use ::features::holes::Hole;

    fn pair(ours: Hole, theirs: Hole) -> Pair {
        Pair {
            name: "hole 1".to_string(),
            reference: Some(ours),
            measured: Some(theirs),
            pm_mm: 0.2,
            normal_pm_mm: 0.1,
            axis_pm: 0.01,
            size_pm_mm: 0.2,
            missing: None,
        }
    }

    #[test]
    fn the_end_that_lies_wrong_explains_the_distance_and_only_along_it() {
        let at = [Point::origin(), Point::new(900.0, 0.0, 0.0)];
        let along = Some(Vector::new(3.2, 0.0, 0.0));
        let ends = |moved, off_mm| ends_that_explain(&at, &moved, off_mm, 0.3);
        assert_eq!(ends([None, along], 3.1), Some(vec![1]));
        assert_eq!(ends([along, None], -3.1), Some(vec![0]));
        // Off the other way, by more than it, or across the line: something else is off as well.
        assert_eq!(ends([along, None], 3.1), None);
        assert_eq!(ends([None, along], 5.0), None);
        assert_eq!(ends([None, Some(Vector::new(0.0, 3.2, 0.0))], 3.2), None);
        assert_eq!(ends([None, None], 3.1), None);
        // Of two that are off each has its part, or one has all of it.
        let back = Some(Vector::new(-2.0, 0.0, 0.0));
        assert_eq!(ends([back, along], 5.2), Some(vec![0, 1]));
        assert_eq!(ends([Some(Vector::y() * 4.0), along], 3.1), Some(vec![1]));
    }

    #[test]
    fn a_bolt_goes_when_what_the_line_of_its_hole_wants_is_done() {
        let moved = pair(hole(0.0, 12.7), hole(3.2, 12.7));
        assert!((clearance_when_right(&moved, true, 1.6, 11.1).unwrap() - 0.8).abs() < 1e-9);
        assert!(clearance_when_right(&moved, false, 1.6, 11.1).unwrap() < -2.0);
        let small = pair(hole(0.0, 12.7), hole(0.0, 9.5));
        assert!(clearance_when_right(&small, false, 1.6, 11.1).unwrap() > 0.7);
        assert!(clearance_when_right(&small, false, 1.6, 12.7).unwrap() <= 0.0);
        // Within the limit it is not opened out.
        let tight = pair(hole(0.0, 12.7), hole(0.0, 11.7));
        assert!(clearance_when_right(&tight, false, 1.6, 12.0).unwrap() < 0.0);
    }

    #[test]
    fn a_hole_is_misplaced_where_that_is_out_for_sure() {
        let result = |x: f64, verdict| HoleResult {
            pair: pair(hole(0.0, 12.7), hole(x, 12.7)),
            verdict,
        };
        assert_eq!(
            misplaced(&result(3.2, Verdict::Outside), 1.6),
            Some(Vector::x() * 3.2)
        );
        assert_eq!(misplaced(&result(1.7, Verdict::Outside), 1.6), None);
        assert_eq!(misplaced(&result(3.2, Verdict::NotMeasured), 1.6), None);
    }

    #[test]
    fn what_a_hole_explains_stands_behind_its_line() {
        let one = |check: &str, holes: &[&str]| Explained {
            check: check.to_string(),
            holes: holes.iter().map(|h| h.to_string()).collect(),
            words: format!("{check} (1/8 long)"),
        };
        let all = [one("tram A", &["hole 1"]), one("tram B", &["hole 1", "hole 2"])];
        assert_eq!(
            told(&all, "hole 1"),
            "; explains tram A (1/8 long), tram B (1/8 long), with hole 2: put the hole right first"
        );
        assert_eq!(
            told(&all, "hole 2"),
            "; explains tram B (1/8 long), with hole 1: put the hole right first"
        );
        assert_eq!(told(&all, "hole 3"), "");
    }
}
