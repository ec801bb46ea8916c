//! Distances and bolts that are off since a hole is, and heights that are off since a region is: one fault is one job, and the line
//! of the hole or the region tells what comes right with it.

use ::compare::Verdict;
use ::compare::verdict::decide;
use ::features::holes::Pair;
use cloud::{NamedPoint, Point, Vector};

use super::checks::{size, smallest_with, way_off};
use super::metal;
use super::moved::moved;
use super::part::Part;
use crate::job::{CheckKind, Comparison};
use crate::stages::checks::CheckResult;
use crate::stages::compare::Compared;
use crate::stages::features::{Found, HoleResult};

/// A hole this near to a named place is the one that was meant, mm.
const HOLE_MM: f64 = 10.0;

/// A check that comes right with something else.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Explained {
    /// The check.
    pub check: String,
    /// What must be put right for that: where the figures of holes or regions stand, such as `holes/hole 1`.
    by: Vec<String>,
    /// `tram H1 H3 (1/8 long)`.
    words: String,
}

/// `; explains tram H1 H3 (1/8 long): put the hole right first`, behind the line of a hole that explains something, and
/// `; drop H1 (1/8 high) comes right with it` behind that of a region; else nothing.
pub(super) fn told(explained: &[Explained], figure: &str) -> String {
    let own: Vec<String> = explained
        .iter()
        .filter(|one| one.by.iter().any(|by| by == figure))
        .map(|one| {
            let others = one.by.iter().filter(|by| *by != figure);
            let others: Vec<&str> = others
                .map(|by| by.split_once('/').map_or(by.as_str(), |(_, name)| name))
                .collect();
            match others.as_slice() {
                [] => one.words.clone(),
                others => format!("{}, with {}", one.words, others.join(" and ")),
            }
        })
        .collect();
    match own.as_slice() {
        [] => String::new(),
        own if figure.starts_with("holes/") => {
            format!("; explains {}: put the hole right first", own.join(", "))
        }
        [one] => format!("; {one} comes right with it"),
        several => format!("; {} come right with it", several.join(", ")),
    }
}

/// The checks that are out and come right with a hole that is out by itself, or with regions that are moved.
pub(super) fn explained(comparison: &Comparison, part: Part<'_>) -> Vec<Explained> {
    let Part { compared, found, .. } = part;
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
            let lifted = |ends: &[(f64, &NamedPoint)], ways: [&str; 2]| {
                let off_mm = check.off?;
                let by = lifted(part, ends, check, asked.limit)?;
                Some((
                    by,
                    format!("{} {}", size(off_mm), ways[usize::from(off_mm > 0.0)]),
                ))
            };
            let (by, how) = match &asked.kind {
                CheckKind::Tram { between } => holes.of_tram(&between.each_ref().map(|p| p.at_mm), check)?,
                CheckKind::Bolt { at, size_mm } => (
                    holes.of_bolt(part, &at.at_mm, *size_mm)?,
                    "it does not go".to_string(),
                ),
                CheckKind::Drop { at } => lifted(&[(1.0, at)], ["low", "high"])?,
                CheckKind::Height { between: [from, to] } => {
                    lifted(&[(-1.0, from), (1.0, to)], ["too little", "too much"])?
                }
                _ => return None,
            };
            Some(Explained {
                check: check.name.clone(),
                by,
                words: format!("{} ({how})", called(check)),
            })
        })
        .collect()
}

/// The regions that bring a height home when they are moved, which is the sum of its ends, each with its sign; `None` where they
/// don't.
fn lifted(
    part: Part<'_>,
    ends: &[(f64, &NamedPoint)],
    check: &CheckResult,
    limit_mm: f64,
) -> Option<Vec<String>> {
    let (off_mm, pm_mm) = check.off.zip(check.pm)?;
    let (mut by, mut left_mm, mut left_pm_mm) = (Vec::new(), off_mm, pm_mm);
    for (sign, place) in ends {
        if let Some(one) = moved(part).find(|one| one.has(&place.at_mm)) {
            left_mm -= sign * one.at(&place.at_mm).z;
            left_pm_mm = left_pm_mm.hypot(one.pm_at(&place.at_mm));
            let figure = format!("regions/{}", one.region.name);
            if !by.contains(&figure) {
                by.push(figure);
            }
        }
    }
    comes_right(off_mm, left_mm, left_pm_mm, limit_mm).then_some(by)
}

/// Whether what is left of a height is within its limit, or hidden by its ±, and the lesser half of what it was.
fn comes_right(off_mm: f64, left_mm: f64, pm_mm: f64, limit_mm: f64) -> bool {
    left_mm.abs() <= limit_mm.max(pm_mm) && left_mm.abs() < off_mm.abs() / 2.0
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
        let names = ends.iter().filter_map(|&k| Some(figure(holes[k]?)));
        Some((names.collect(), way_off(off_mm)))
    }

    /// The region that lets a bolt through once it is moved home, or the hole that does once it is put right.
    fn of_bolt(&self, part: Part<'_>, at: &Point, bolt_mm: f64) -> Option<Vec<String>> {
        let hole = self.at(at)?;
        let ours = hole.pair.reference.as_ref()?;
        let with = moved(part).find(|one| one.has(&ours.at));
        if let Some(one) = with.filter(|one| goes_once_moved(&hole.pair, &one.at(&ours.at), bolt_mm)) {
            return Some(vec![format!("regions/{}", one.region.name)]);
        }
        if hole.verdict != Verdict::Outside {
            return None;
        }
        let goes_then = match hole.pair.measured {
            None => true,
            Some(_) => {
                let placed = self.off_by_itself(hole).is_some();
                clear_when_right(&hole.pair, placed, self.comparison.limit_mm)? > bolt_mm
            }
        };
        goes_then.then(|| vec![figure(hole)])
    }
}

/// Where the figure of a hole stands.
fn figure(hole: &HoleResult) -> String {
    format!("holes/{}", hole.pair.name)
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

/// Whether a bolt no longer surely fails to go when the metal of its hole is home that has moved so.
fn goes_once_moved(pair: &Pair, by: &Vector, bolt_mm: f64) -> bool {
    let mut home = pair.clone();
    if let Some(theirs) = &mut home.measured {
        theirs.at -= *by;
    }
    home.bolt_goes(bolt_mm)
        .is_some_and(|bolt| bolt.verdict != Verdict::Outside)
}

/// What goes through a hole of both sets, mm, when it is as its line wants it: home where it is `placed` anew, and as wide as the
/// reference's where it is too small for sure.
fn clear_when_right(pair: &Pair, placed: bool, limit_mm: f64) -> Option<f64> {
    let [(wider_mm, pm_mm), _] = pair.larger_mm()?;
    let mut right = pair.clone();
    let (ours, theirs) = right.reference.as_ref().zip(right.measured.as_mut())?;
    if wider_mm < 0.0 && decide(wider_mm, pm_mm, limit_mm) == Verdict::Outside {
        theirs.diameter_mm = ours.diameter_mm;
    }
    if placed {
        theirs.at = ours.at;
    }
    Some(right.clear()?.mm)
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
        let clear_mm = |pair: &Pair, placed: bool| clear_when_right(pair, placed, 1.6).unwrap();
        let moved = pair(hole(0.0, 12.7), hole(3.2, 12.7));
        assert!((clear_mm(&moved, true) - 12.7).abs() < 1e-9);
        assert!((clear_mm(&moved, false) - 9.5).abs() < 1e-9);
        let small = pair(hole(0.0, 12.7), hole(0.0, 9.5));
        assert!((clear_mm(&small, false) - 12.7).abs() < 1e-9);
        // Within the limit it is not opened out.
        let tight = pair(hole(0.0, 12.7), hole(0.0, 11.7));
        assert!((clear_mm(&tight, false) - 11.7).abs() < 1e-9);
        // Its panel is moved home, and the hole is left as it is; a lift alone lets nothing through.
        let goes = |by: [f64; 3]| goes_once_moved(&moved, &Vector::from(by), 11.1);
        assert!(goes([3.0, 0.0, 1.0]));
        assert!(!goes([0.0, 0.0, 3.0]) && !goes([-3.0, 0.0, 0.0]));
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
        let one = |check: &str, by: &[&str]| Explained {
            check: check.to_string(),
            by: by.iter().map(|by| by.to_string()).collect(),
            words: format!("{check} (1/8 long)"),
        };
        let all = [
            one("tram A", &["holes/hole 1"]),
            one("tram B", &["holes/hole 1", "holes/hole 2"]),
        ];
        assert_eq!(
            told(&all, "holes/hole 1"),
            "; explains tram A (1/8 long), tram B (1/8 long), with hole 2: put the hole right first"
        );
        assert_eq!(
            told(&all, "holes/hole 2"),
            "; explains tram B (1/8 long), with hole 1: put the hole right first"
        );
        assert_eq!(told(&all, "holes/hole 3"), "");
        let sill = |check: &str| one(check, &["regions/sill"]);
        assert_eq!(
            told(&[sill("height A")], "regions/sill"),
            "; height A (1/8 long) comes right with it"
        );
        assert_eq!(
            told(&[sill("height A"), sill("drop B")], "regions/sill"),
            "; height A (1/8 long), drop B (1/8 long) come right with it"
        );
    }

    #[test]
    fn a_height_comes_right_where_what_is_left_is_little_and_within_its_limit() {
        let right = |off_mm: f64, left_mm: f64| comes_right(off_mm, left_mm, 0.05, 1.0);
        assert!(right(3.92, 0.02) && right(3.92, -0.9));
        assert!(!right(3.92, 3.92) && !right(3.92, 1.2) && !right(1.4, 0.8) && !right(3.92, 7.8));
    }
}
