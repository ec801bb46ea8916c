//! Edges that are off since the metal that they end is: one fault is one job, and its line tells which edges come home with it.

use ::compare::verdict::LEAST_COVERAGE;
use ::compare::{Region, Verdict};
use ::features::edge::{EdgeResult, Run, Stretch};
use ::features::shift::{HOME_MM, Pad, Shift};
use cloud::Point;

use super::folded::after_folding;
use super::is_moved;
use crate::stages::compare::Compared;
use crate::stages::features::Found;

/// An edge whose runs lie mostly this near to a region's box may be of a flange that hangs from it, mm (an inch).
const BY_MM: f64 = 25.4;

/// What comes of an edge when the fault beside it is put right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Then {
    /// It comes home.
    Home,
    /// It moves, and not home: only when the other is right is it known how far it is off.
    Moves,
}

impl Then {
    /// Of an edge that is off by `left_mm` then, both ± together being `pm_mm`.
    pub(super) fn of(left_mm: f64, pm_mm: f64) -> Self {
        match left_mm.abs() <= pm_mm {
            true => Then::Home,
            false => Then::Moves,
        }
    }
}

/// `rear edge: 7/32 short over 12: fold flange first, then measure it again`, after what is done `first`.
pub(super) fn measured_after(edge: &str, stretch: &Stretch, first: &str) -> String {
    format!(
        "{edge}: {}: {first} first, which moves this edge too, then measure it again before it is trimmed or built up",
        stretch.words
    )
}

/// What comes of a stretch of an edge that is out when the list's moves are made, and the region that moves it; `None` where
/// none does, or where it follows a fold.
pub fn moved_with<'a>(
    compared: &'a Compared,
    found: &'a Found,
    edge: &EdgeResult,
    stretch: &Stretch,
) -> Option<(Then, &'a str)> {
    if edge.verdict != Verdict::Outside || after_folding(found, edge, stretch).is_some() {
        return None;
    }
    let all: Vec<(Then, &str)> = moved(compared, found)
        .filter_map(|one| Some((one.does_to(edge, stretch)?, one.region.name.as_str())))
        .collect();
    let home = all.iter().find(|(then, _)| *then == Then::Home);
    home.or(all.first()).copied()
}

/// Whether a stretch of an edge comes home with the move of a region.
pub(super) fn comes_home(compared: &Compared, found: &Found, edge: &EdgeResult, stretch: &Stretch) -> bool {
    matches!(moved_with(compared, found, edge, stretch), Some((Then::Home, _)))
}

/// The edges that come home with a region, behind its line; nothing where none does.
pub(super) fn told(compared: &Compared, found: &Found, region: &str) -> String {
    let edges: Vec<String> = found
        .edges
        .iter()
        .filter_map(|edge| {
            let home = |s: &&Stretch| moved_with(compared, found, edge, s) == Some((Then::Home, region));
            let own = edge.stretches.iter().filter(home);
            let words: Vec<&str> = own.map(|s| s.words.as_str()).collect();
            (!words.is_empty()).then(|| format!("{} ({})", edge.name, words.join(", ")))
        })
        .collect();
    match edges.is_empty() {
        true => String::new(),
        false => format!(
            "; the edges come home with it and are left as they are: {}",
            edges.join(", ")
        ),
    }
}

/// A region that the list says is to be moved.
struct Moved<'a> {
    region: &'a Region,
    shift: &'a Shift,
}

/// The regions that are moved: not what is folded again, bent back or straightened.
fn moved<'a>(compared: &'a Compared, found: &'a Found) -> impl Iterator<Item = Moved<'a>> {
    let each = compared.regions.iter().zip(&found.shifts);
    each.filter_map(move |(result, shift)| {
        let region = &result.region;
        let shift = shift.as_ref().filter(|shift| is_moved(shift))?;
        let otherwise = found.folds.iter().any(|f| f.name == region.name)
            || found.bent_bar(&region.name)
            || found.leans(&region.name);
        let out = result.verdict == Verdict::Outside && result.figures.coverage >= LEAST_COVERAGE;
        (out && !otherwise).then_some(Moved { region, shift })
    })
}

impl Moved<'_> {
    /// What moving it home does to a stretch of an edge; `None` to one of other metal, or that it does not surely move along
    /// the way in which the edge is off.
    fn does_to(&self, edge: &EdgeResult, stretch: &Stretch) -> Option<Then> {
        let runs: Vec<&Run> = stretch.runs.iter().filter_map(|&k| edge.runs.get(k)).collect();
        let middle = runs.get(runs.len() / 2)?.middle;
        let own = edge.region.as_ref() == Some(&self.region.name);
        let around = self.region.bounds.grown(BY_MM);
        let by = runs.iter().filter(|run| around.contains(&run.middle)).count();
        if !own && 2 * by <= runs.len() {
            return None;
        }
        // Metal that has moved the way in which it ends reads as long.
        let longer = runs
            .iter()
            .map(|run| self.shift.at(&run.middle).dot(&run.outward));
        let short_by_it_mm = -longer.sum::<f64>() / runs.len() as f64;
        let left_mm = stretch.short_mm - short_by_it_mm;
        let pm_mm = stretch.pm_mm.hypot(self.pm_at(&middle));
        // A wide ± explains everything; then it must at least be the better half.
        let mostly = left_mm.abs() < stretch.short_mm.abs() / 2.0;
        match Then::of(left_mm, pm_mm) {
            Then::Home if mostly => Some(Then::Home),
            // What hangs from it may be of another part, which nobody has moved.
            _ => (own && short_by_it_mm.abs() > HOME_MM.max(pm_mm)).then_some(Then::Moves),
        }
    }

    /// ± of that, mm: the nearest pad's where it is wider than the middle's.
    fn pm_at(&self, place: &Point) -> f64 {
        let apart = |pad: &&Pad| (pad.at - place).norm();
        let pads = self.shift.pads.iter();
        let nearest = pads.min_by(|a, b| apart(a).total_cmp(&apart(b)));
        nearest.map_or(self.shift.pm_mm, |pad| pad.pm_mm.max(self.shift.pm_mm))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;
    use ::compare::Status;
    use ::features::edge::Seen;
    use cloud::{Bounds, Vector};

    fn floor() -> Region {
        Region {
            name: "floor".to_string(),
            status: Status::New,
            bounds: Bounds {
                low: Point::new(0.0, 0.0, -5.0),
                high: Point::new(600.0, 300.0, 5.0),
            },
            limit_mm: 1.6,
            outside: None,
            pads: Vec::new(),
        }
    }

    /// Lifted by 3 in the middle, and by 1 more for each 200 to the right of it.
    fn lifted() -> Shift {
        Shift {
            translation_mm: Vector::z() * 3.0,
            rotation: Vector::x() * 0.005,
            about: Point::new(300.0, 150.0, 0.0),
            unheld: Vec::new(),
            explained: 1.0,
            pm_mm: 0.3,
            pads: Vec::new(),
            spots: Vec::new(),
            shape: None,
            words: "1/8 high in the middle and leaning: shim only".to_string(),
        }
    }

    /// A stretch of the edge of the flange that hangs from the floor at a y, facing as `outward` says.
    fn edge(region: Option<&str>, y: f64, outward: Vector, short_mm: f64) -> (EdgeResult, Stretch) {
        let at = |x: f64| Point::new(x, y, -16.0);
        let run = Run {
            from: at(200.0),
            to: at(225.0),
            middle: at(212.5),
            outward,
            normal: Vector::y(),
            seen: Seen::NotSeen,
        };
        let stretch = Stretch {
            runs: vec![0],
            from: run.from,
            to: run.to,
            length_mm: 25.0,
            short_mm,
            pm_mm: 0.2,
            height_mm: Some(16.0),
            verdict: Verdict::Outside,
            words: "1/8 short over 1".to_string(),
        };
        (
            made::edge("right edge", region, vec![run], vec![stretch.clone()]),
            stretch,
        )
    }

    #[test]
    fn the_edge_of_a_flange_that_was_lifted_with_its_floor_comes_home_with_it() {
        let (region, shift) = (floor(), lifted());
        let floor = Moved {
            region: &region,
            shift: &shift,
        };
        let does = |(edge, stretch): (EdgeResult, Stretch)| floor.does_to(&edge, &stretch);
        let down = -Vector::z();
        // 3 in the middle, 0.75 more at the right.
        assert_eq!(does(edge(Some("floor"), 300.0, down, 3.7)), Some(Then::Home));
        assert_eq!(does(edge(Some("floor"), 300.0, down, 3.0)), Some(Then::Moves));
        assert_eq!(does(edge(Some("floor"), 300.0, down, -3.7)), Some(Then::Moves));
        // The lean about the long way does not carry it sideways by as much as it is short there.
        assert_eq!(does(edge(Some("floor"), 300.0, Vector::y(), 3.7)), None);
        // A flange that hangs from it has its own name or none; what is of another part is left alone.
        assert_eq!(does(edge(None, 310.0, down, 3.7)), Some(Then::Home));
        assert_eq!(does(edge(Some("flange"), 310.0, down, 6.0)), None);
        assert_eq!(does(edge(Some("flange"), 400.0, down, 4.25)), None);
    }

    #[test]
    fn a_wide_plus_minus_explains_no_edge_by_itself() {
        let (region, mut shift) = (floor(), lifted());
        shift.pm_mm = 5.0;
        let floor = Moved {
            region: &region,
            shift: &shift,
        };
        let (edge, stretch) = edge(Some("floor"), 300.0, -Vector::z(), 8.0);
        assert_eq!(floor.does_to(&edge, &stretch), None);
        assert!(
            measured_after(&edge.name, &stretch, "shim floor")
                .starts_with("right edge: 1/8 short over 1: shim floor first")
        );
    }
}
