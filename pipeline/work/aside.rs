//! Things of one section that lie aside alike: each tells of a shift only along the ways in its sheet that it shows.
//!
//! A straight bead shows what is across it, and what is along it where both of its ends were seen; a bead that bends, a recess
//! and a hole show both.

use ::features::bead::{Bead, Kind, Pair};
use cloud::{Point, Vector};

use crate::stages::gates::alike::{FEWEST_ALIKE, Seen};

/// A shift is told of by what shows at least this share of it.
const TELLS: f64 = 0.5;
/// What holds a direction still that nothing shows, as a share of all that is shown.
const STILL: f64 = 1e-3;

/// A hole, a bead or a recess of both sets, and how far it lies aside.
pub(super) struct Aside<'a> {
    /// `hole`, `bead`, `recess`.
    pub kind: &'static str,
    pub name: &'a str,
    /// Where the reference has it, mm.
    pub at: Point,
    /// What it shows.
    pub ways: Vec<Way>,
}

/// One way in which something shows a shift.
#[derive(Clone, Copy)]
pub(super) struct Way {
    /// Unit vector.
    pub way: Vector,
    /// How far it lies off so, mm.
    pub off_mm: f64,
    /// ± of that, mm.
    pub pm_mm: f64,
}

impl<'a> Aside<'a> {
    /// Of a bead or a recess of both sets, over and above the move that its region's metal shows.
    pub(super) fn of_pair(pair: &'a Pair, shown: &dyn Fn(&Point) -> Vector) -> Option<Self> {
        let (ours, theirs) = pair.reference.as_ref().zip(pair.measured.as_ref())?;
        let own = shown(&ours.at);
        let way = |way: Vector, pm_mm: f64| Way {
            way,
            off_mm: way.dot(&(pair.moved_mm - own)),
            pm_mm,
        };
        let mut ways = vec![way(ours.across, pair.pm_mm)];
        if shows_along(ours, theirs) {
            let ends = ours.pm_ends_mm.iter().chain(&theirs.pm_ends_mm);
            let ends_pm_mm = ends.fold(0.0_f64, |all, pm| all.hypot(*pm)) / 2.0;
            let along_pm_mm = if is_straight(ours) { ends_pm_mm } else { 0.0 };
            ways.push(way(ours.along, pair.pm_mm.hypot(along_pm_mm)));
        }
        Some(Self {
            kind: ours.kind.word(),
            name: &pair.name,
            at: ours.at,
            ways,
        })
    }

    /// Of a hole, as it is seen along its sheet; ± with the setting's share in it, mm.
    pub(super) fn of_hole(name: &'a str, seen: &Seen, pm_mm: f64) -> Self {
        let mut least = Vector::zeros();
        least[seen.axis.iamin()] = 1.0;
        let first = seen.axis.cross(&least).normalize();
        let ways = [first, seen.axis.cross(&first)].map(|way| Way {
            way,
            off_mm: way.dot(&seen.across),
            pm_mm,
        });
        Self {
            kind: "hole",
            name,
            at: seen.at,
            ways: ways.into(),
        }
    }

    /// The part of a shift that it shows.
    pub(super) fn shows(&self, shift: &Vector) -> Vector {
        self.ways.iter().map(|one| one.way * one.way.dot(shift)).sum()
    }

    /// Whether it shows enough of a shift to tell of it.
    pub(super) fn tells(&self, shift: &Vector) -> bool {
        self.shows(shift).norm() >= TELLS * shift.norm()
    }

    /// How far it lies off, mm.
    pub(super) fn off(&self) -> Vector {
        self.ways.iter().map(|one| one.way * one.off_mm).sum()
    }

    /// ± of what it shows best, mm.
    pub(super) fn pm_mm(&self) -> f64 {
        self.ways
            .iter()
            .map(|one| one.pm_mm)
            .fold(f64::INFINITY, f64::min)
    }

    /// Whether it lies off beyond its ±.
    fn is_off(&self) -> bool {
        self.ways.iter().any(|one| one.off_mm.abs() > one.pm_mm)
    }

    /// How far it is from where a shift puts it, as a share of what it may be.
    fn apart(&self, shift: &Vector, limit_mm: f64) -> f64 {
        let share = |one: &Way| (one.off_mm - one.way.dot(shift)).abs() / one.room_mm(limit_mm);
        self.ways.iter().map(share).fold(0.0, f64::max)
    }
}

impl Way {
    /// The scatter of things that are all as they should be is in it.
    fn room_mm(&self, limit_mm: f64) -> f64 {
        self.pm_mm.hypot(limit_mm / 4.0)
    }
}

/// Whether a bead or a recess shows how far it has moved along itself.
fn shows_along(ours: &Bead, theirs: &Bead) -> bool {
    !is_straight(ours) || (ours.open == [false; 2] && theirs.open == [false; 2])
}

fn is_straight(bead: &Bead) -> bool {
    bead.kind == Kind::Bead && bead.middle_line.is_empty()
}

/// The shift that things have in common, and which of them lie so: the worst is left out until all of the others agree. `None`
/// where too few do.
pub(super) fn in_common(things: &[Aside<'_>], limit_mm: f64) -> Option<(Vector, Vec<usize>)> {
    let mut agree: Vec<usize> = (0..things.len()).filter(|&k| things[k].is_off()).collect();
    while agree.len() >= FEWEST_ALIKE {
        let shift = shift_of(agree.iter().map(|&k| &things[k]), limit_mm)?;
        let apart = agree.iter().map(|&k| things[k].apart(&shift, limit_mm));
        match apart.enumerate().max_by(|a, b| a.1.total_cmp(&b.1)) {
            Some((worst, share)) if share > 1.0 => agree.remove(worst),
            _ => return Some((shift, agree)),
        };
    }
    None
}

/// Least squares, each way weighed by its ±.
fn shift_of<'t>(things: impl Iterator<Item = &'t Aside<'t>>, limit_mm: f64) -> Option<Vector> {
    let mut matrix = Vector::zeros() * Vector::zeros().transpose();
    let (mut right, mut all) = (Vector::zeros(), 0.0);
    for one in things.flat_map(|thing| &thing.ways) {
        let weight = one.room_mm(limit_mm).powi(-2);
        matrix += one.way * one.way.transpose() * weight;
        right += one.way * (one.off_mm * weight);
        all += weight;
    }
    for axis in [Vector::x(), Vector::y(), Vector::z()] {
        matrix += axis * axis.transpose() * (STILL * all);
    }
    matrix.cholesky().map(|fixed| fixed.solve(&right))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    const LIMIT_MM: f64 = 1.6;

    /// A straight bead of a level sheet that runs so, and what it lies off across.
    fn bead(along: Vector, across_mm: f64) -> Aside<'static> {
        Aside {
            kind: "bead",
            name: "bead",
            at: Point::origin(),
            ways: vec![Way {
                way: Vector::z().cross(&along),
                off_mm: across_mm,
                pm_mm: 0.05,
            }],
        }
    }

    #[test]
    fn beads_that_run_alike_tell_the_way_across_and_one_askew_the_other_too() {
        let level = |across_mm: [f64; 3]| across_mm.map(|mm| bead(Vector::x(), mm));
        let (shift, agree) = in_common(&level([3.15, 3.19, 3.17]), LIMIT_MM).unwrap();
        assert!((shift - Vector::y() * 3.17).norm() < 0.02, "{shift}");
        assert_eq!(agree.len(), 3);
        let mut askew: Vec<Aside> = level([3.15, 3.19, 3.17]).into();
        let along = Vector::new(1.0, 1.0, 0.0).normalize();
        askew.push(bead(
            along,
            Vector::z().cross(&along).dot(&Vector::new(2.0, 3.17, 0.0)),
        ));
        let (shift, _) = in_common(&askew, LIMIT_MM).unwrap();
        assert!((shift - Vector::new(2.0, 3.17, 0.0)).norm() < 0.1, "{shift}");
        assert!(in_common(&level([3.2, 0.0, -3.2]), LIMIT_MM).is_none());
        assert!(in_common(&level([3.2, 3.2, 0.0]), LIMIT_MM).is_none());
    }

    #[test]
    fn a_bead_shows_what_is_along_it_by_both_of_its_ends_only() {
        let pair = |open: [bool; 2]| Pair {
            name: "bead 1".to_string(),
            reference: Some(Bead {
                open,
                ..made::bead(0.0)
            }),
            measured: Some(made::bead(3.2)),
            moved_mm: Vector::y() * 3.2,
            pm_mm: 0.07,
            words: Vec::new(),
        };
        let still = |_: &Point| Vector::zeros();
        let moved = Vector::new(5.0, 3.2, 0.0);
        let (cut, whole) = (pair([false, true]), pair([false; 2]));
        let cut = Aside::of_pair(&cut, &still).unwrap();
        assert!((cut.shows(&moved) - Vector::y() * 3.2).norm() < 1e-9);
        let whole = Aside::of_pair(&whole, &still).unwrap();
        assert!((whole.shows(&moved) - moved).norm() < 1e-9);
        assert!((whole.off() - Vector::y() * 3.2).norm() < 1e-9);
    }

    #[test]
    fn a_hole_shows_all_of_its_sheet() {
        let across = Vector::new(4.8, -0.5, 0.0);
        let at = Point::new(1.0, 2.0, 3.0);
        let seen = Seen {
            at,
            axis: Vector::z(),
            there: at + across,
            across,
            pm_mm: 0.3,
        };
        let hole = Aside::of_hole("hole 1", &seen, 0.4);
        assert!((hole.off() - across).norm() < 1e-9);
        assert!((hole.shows(&Vector::new(1.0, 2.0, 3.0)) - Vector::new(1.0, 2.0, 0.0)).norm() < 1e-9);
    }
}
