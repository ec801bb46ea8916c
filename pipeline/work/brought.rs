//! Edges that are off since the metal that they end is: one fault is one job, and its line tells which edges come home with it.

use ::compare::Verdict;
use ::features::edge::{EdgeResult, Run, Stretch};
use ::features::holes::Pair;
use ::features::shift::HOME_MM;
use cloud::{Point, Vector};

use super::folded::after_folding;
use super::folded_from::after_root;
use super::metal::misplaced;
use super::moved::{Moved, moved, withheld};
use super::part::Part;
use super::pressed_with::bead_moved_with;
use super::straightened::{after_straightening, hole_straightened};

/// An edge whose runs lie mostly this near to a region's box may be of a flange that hangs from it, mm (an inch).
pub(super) const BY_MM: f64 = 25.4;

/// What comes of an edge when the fault beside it is put right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Then {
    /// It comes home.
    Home,
    /// It moves, and not home: only when the other is right is it known how far it is off.
    Moves,
}

impl Then {
    /// Of what is off by `off_mm` now and by `left_mm` then, both ± together being `pm_mm`. A wide ± explains everything; then
    /// it must at least be the better half.
    pub(super) fn of(left_mm: f64, off_mm: f64, pm_mm: f64) -> Self {
        match left_mm.abs() <= pm_mm && left_mm.abs() < off_mm.abs() / 2.0 {
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

/// What comes of a stretch of an edge that is out when the list's moves are made, its bars are straightened and the sheet that it
/// is folded from is home, and the region that moves it, which may have no verdict; `None` where none does, or where it follows a
/// fold.
pub(super) fn moved_with<'a>(
    part: Part<'a>,
    edge: &EdgeResult,
    stretch: &Stretch,
) -> Option<(Then, &'a str)> {
    if edge.verdict != Verdict::Outside || after_folding(part, edge, stretch).is_some() {
        return None;
    }
    let with_region = || {
        let all: Vec<(Then, &str)> = moved(part)
            .chain(withheld(part))
            .filter_map(|one| Some((one.does_to(edge, stretch)?, one.region.name.as_str())))
            .collect();
        let home = all.iter().find(|(then, _)| *then == Then::Home);
        home.or(all.first()).copied()
    };
    let with = after_straightening(part, edge, stretch).or_else(with_region);
    match with {
        Some((Then::Home, _)) => with,
        _ => match after_root(part, edge, stretch) {
            Some((Then::Moves, _)) if with.is_some() => with,
            root => root.or(with),
        },
    }
}

/// What explains a stretch of an edge that is out: the fold that brings it home, or the region that moves it.
pub fn explained_by<'a>(part: Part<'a>, edge: &EdgeResult, stretch: &Stretch) -> Option<(Then, &'a str)> {
    let folded = || after_folding(part, edge, stretch).filter(|(then, _)| *then == Then::Home);
    let out = edge.verdict == Verdict::Outside;
    moved_with(part, edge, stretch).or_else(|| folded().filter(|_| out))
}

/// The region whose move, or the bar whose straightening, brings a hole of both sets to its place, which is off for sure (as
/// `limit_mm` has it) since the metal around it is; `None` where it is off by itself.
pub(super) fn hole_moved_with<'a>(part: Part<'a>, pair: &Pair, limit_mm: f64) -> Option<&'a str> {
    misplaced(pair, limit_mm)?;
    let region = moved(part).find(|one| one.brings_home(pair, limit_mm));
    let straightened = || {
        let (region, straight) = hole_straightened(part, pair)?;
        misplaced(&straight, limit_mm).is_none().then_some(region)
    };
    region.map_or_else(straightened, |one| Some(one.region.name.as_str()))
}

/// What a hole is off by once its region, which slid, is moved home, or the bar that it is of straightened, and the region; `None`
/// where none slid and none is bent.
pub(super) fn left_by_slide<'a>(part: Part<'a>, pair: &Pair) -> Option<(&'a str, Vector)> {
    let mut slid = moved(part).filter(|one| one.slide.is_some());
    let slid = slid.find_map(|one| Some((one.region.name.as_str(), one.leaves(pair)?)));
    slid.or_else(|| {
        let (region, straight) = hole_straightened(part, pair)?;
        Some((region, straight.offset()?.whole))
    })
}

/// The region that slid with a place in it.
pub(super) fn slid_with<'a>(part: Part<'a>, place: &Point) -> Option<&'a str> {
    let mut slid = moved(part).filter(|one| one.slide.is_some());
    slid.find(|one| one.has(place))
        .map(|one| one.region.name.as_str())
}

/// The holes, beads and edges that come home with a region, behind its line; nothing where none does.
pub(super) fn told(part: Part<'_>, region: &str, limit_mm: f64) -> String {
    let holes = part.found.holes.iter().map(|hole| &hole.pair);
    let holes = holes
        .filter(|pair| hole_moved_with(part, pair, limit_mm) == Some(region))
        .map(|pair| pair.name.as_str());
    let beads = part
        .found
        .beads
        .iter()
        .filter(|bead| bead_moved_with(part, bead).is_some_and(|(by, _)| by == region))
        .map(|bead| bead.pair.name.as_str());
    let things: Vec<&str> = holes.chain(beads).collect();
    let things = match things.as_slice() {
        [] => String::new(),
        [one] => format!("; {one} comes home with it"),
        several => format!("; {} come home with it", several.join(", ")),
    };
    things + &edges_told(part, region)
}

/// The edges that come home with a region that is moved, or a bar that is straightened, behind its line.
pub(super) fn edges_told(part: Part<'_>, region: &str) -> String {
    let edges = edges_with(part, region, |then| then == Then::Home);
    match edges.is_empty() {
        true => String::new(),
        false => {
            let twisted = moved(part).any(|one| one.region.name == region && one.twisted().is_some());
            let with = if twisted { " once it is untwisted" } else { "" };
            let edges = edges.join(", ");
            format!("; the edges come home with it{with} and are left as they are: {edges}")
        }
    }
}

/// The edges of which a region does so to stretches that are out, each with these.
pub(super) fn edges_with(part: Part<'_>, region: &str, does: fn(Then) -> bool) -> Vec<String> {
    let edges = part.found.edges.iter();
    let told = edges.filter_map(|edge| {
        let with =
            |s: &&Stretch| moved_with(part, edge, s).is_some_and(|(then, by)| by == region && does(then));
        let words: Vec<&str> = edge
            .stretches_out()
            .filter(with)
            .map(|s| s.words.as_str())
            .collect();
        (!words.is_empty()).then(|| format!("{} ({})", edge.name, words.join(", ")))
    });
    told.collect()
}

impl Moved<'_> {
    /// What a hole of it is off by once it is moved home, mm; `None` of one that is not its own.
    fn leaves(&self, pair: &Pair) -> Option<Vector> {
        let (ours, off) = pair.reference.as_ref().zip(pair.offset())?;
        self.has(&ours.at).then(|| off.whole - self.at(&ours.at))
    }

    /// Whether moving it home brings a hole of it to its place: for the better half, and no more out.
    fn brings_home(&self, pair: &Pair, limit_mm: f64) -> bool {
        let Some(((left, off), ours)) = self.leaves(pair).zip(pair.offset()).zip(pair.reference.as_ref())
        else {
            return false;
        };
        let placed = pair
            .parted(left)
            .map(|left| pair.placed(&left, self.pm_at(&ours.at), limit_mm));
        placed.is_some_and(|placed| !placed.contains(&Verdict::Outside))
            && left.norm() < off.whole.norm() / 2.0
    }

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
        let longer = runs.iter().map(|run| self.at(&run.middle).dot(&run.outward));
        let short_by_it_mm = -longer.sum::<f64>() / runs.len() as f64;
        let left_mm = stretch.short_mm - short_by_it_mm;
        let pm_mm = stretch.pm_mm.hypot(self.pm_at(&middle));
        match Then::of(left_mm, stretch.short_mm, pm_mm) {
            Then::Home => Some(Then::Home),
            // What hangs from it may be of another part, which nobody has moved.
            Then::Moves => (own && short_by_it_mm.abs() > HOME_MM.max(pm_mm)).then_some(Then::Moves),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;
    use ::compare::{Region, Status};
    use ::features::edge;
    use ::features::rigid_part::Seen;
    use ::features::shape::{Around, shape};
    use ::features::shift::Shift;
    use cloud::Bounds;

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
            seen: edge::Seen::NotSeen,
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
        let floor = Moved::by_shift(&region, &shift);
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
    fn the_edge_at_the_corner_of_a_floor_that_is_twisted_as_well_comes_home_with_both() {
        let (region, mut shift) = (floor(), lifted());
        let twist = |at: &Point| 4.0 * (at.x - 300.0) / 300.0 * (at.y - 150.0) / 150.0;
        let rest: Vec<Seen> = (0..1800)
            .map(|i| {
                Point::new(
                    f64::from(i % 60) * 10.0 + 5.0,
                    f64::from(i / 60) * 10.0 + 5.0,
                    0.0,
                )
            })
            .map(|at| Seen {
                at,
                normal: Vector::z(),
                mm: twist(&at),
            })
            .collect();
        let around = Around {
            disc_mm: 10.0,
            goes_on: &|_, _| true,
        };
        let does = |shift: &Shift, short_mm: f64| {
            let floor = Moved::by_shift(&region, shift);
            let (edge, stretch) = edge(Some("floor"), 300.0, -Vector::z(), short_mm);
            floor.does_to(&edge, &stretch)
        };
        // At 212.5 along and 150 to the right of the middle: the lift is 3.75, and the twist takes 1.17 off it.
        let short_mm = 3.75 + twist(&Point::new(212.5, 300.0, 0.0));
        assert_eq!(does(&shift, short_mm), Some(Then::Moves));
        shift.shape = shape(&rest, region.limit_mm, &around);
        assert_eq!(does(&shift, short_mm), Some(Then::Home));
    }

    #[test]
    fn a_hole_that_was_lifted_with_its_floor_is_not_drilled_again() {
        let (region, shift) = (floor(), lifted());
        let floor = Moved::by_shift(&region, &shift);
        let home = |at: [f64; 2], off: [f64; 3]| {
            let mut ours = made::hole(at[0], 12.7);
            ours.at.y = at[1];
            let mut theirs = ours;
            theirs.at += Vector::from(off);
            floor.brings_home(
                &Pair {
                    name: "hole H6".to_string(),
                    reference: Some(ours),
                    measured: Some(theirs),
                    pm_mm: 0.2,
                    normal_pm_mm: 0.1,
                    axis_pm: 0.01,
                    size_pm_mm: 0.2,
                    missing: None,
                },
                1.6,
            )
        };
        assert!(home([300.0, 150.0], [0.0, 0.0, 3.1]));
        assert!(home([300.0, 290.0], [0.0, 0.0, 3.7]));
        // Off in the sheet as well; in other metal; lifted by something else.
        assert!(!home([300.0, 150.0], [3.2, 0.0, 3.1]));
        assert!(!home([300.0, 400.0], [0.0, 0.0, 4.25]));
        assert!(!home([300.0, 150.0], [0.0, 0.0, -3.1]));
    }

    #[test]
    fn a_wide_plus_minus_explains_no_edge_by_itself() {
        let (region, mut shift) = (floor(), lifted());
        shift.pm_mm = 5.0;
        let floor = Moved::by_shift(&region, &shift);
        let (edge, stretch) = edge(Some("floor"), 300.0, -Vector::z(), 8.0);
        assert_eq!(floor.does_to(&edge, &stretch), None);
        assert!(
            measured_after(&edge.name, &stretch, "shim floor")
                .starts_with("right edge: 1/8 short over 1: shim floor first")
        );
    }
}
