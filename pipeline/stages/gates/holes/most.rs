//! The most of the holes that lie off alike, as on one sheet that slid, or that was turned with it; in words.

use ::features::words::displacement;
use cloud::Vector;
use cloud::statistics::median;
use cloud::unit::MM_PER_INCH;

use crate::say;
use crate::stages::gates::alike::{FEWEST_ALIKE, Seen, agreeing, middle};

/// Fewer that were turned alike may be so by chance.
const FEWEST_TURNED: usize = 4;
/// Offsets that differ by more than this share of themselves are not alike, however they may be turned.
const SHARE: f64 = 1.0 / 3.0;
/// A hole tells of a motion of which at least this share runs along its sheet.
const ALONG_SHEET: f64 = 0.5;

/// Whether a hole lies as far off as a shift would have it.
fn is_shifted_by(hole: &Seen, shift: &Vector, limit_mm: f64) -> bool {
    let apart = hole.along_sheet(&(hole.across - shift)).norm();
    apart <= hole.room_mm(limit_mm).max(SHARE * shift.norm())
}

/// Holes that one rigid motion takes to where they lie.
pub struct Alike<'h> {
    /// They.
    pub holes: Vec<&'h Seen>,
    /// Of how many.
    pub asked: usize,
}

impl Alike<'_> {
    /// How far most of them lie off along their sheets, mm.
    pub fn off_mm(&self) -> f64 {
        let mut each: Vec<f64> = self.holes.iter().map(|hole| hole.across.norm()).collect();
        median(&mut each)
    }

    /// `5 of 6 holes`.
    pub fn count(&self) -> String {
        format!("{} of {} holes", self.holes.len(), self.asked)
    }

    /// `lie 1/4 forward of where the reference has them, all alike`.
    pub fn words(&self, limit_mm: f64) -> String {
        let shift = middle(&self.holes);
        let mut each = self.holes.iter();
        if each.all(|hole| is_shifted_by(hole, &shift, limit_mm)) {
            let by = displacement(&shift, MM_PER_INCH / 64.0);
            return format!("lie {by} of where the reference has them, all alike");
        }
        let most_mm = self
            .holes
            .iter()
            .map(|hole| hole.across.norm())
            .fold(0.0, f64::max);
        let by = say::plain_64ths(most_mm);
        format!("lie up to {by} from where the reference has them, as on one sheet that was turned")
    }
}

/// The most that lie off alike, where those are more than half of the holes that can tell; `may_turn` where what was turned as
/// a whole is alike as well.
pub fn most_alike(holes: &[Seen], limit_mm: f64, may_turn: bool) -> Option<Alike<'_>> {
    let (fewest, turned) = match may_turn {
        true => (FEWEST_TURNED, agreeing(holes.iter().collect(), limit_mm)),
        false => (FEWEST_ALIKE, Vec::new()),
    };
    let mut most = Alike {
        holes: turned,
        asked: holes.len(),
    };
    for seed in holes {
        let way = seed.across;
        let least = ALONG_SHEET * way.norm();
        let telling: Vec<&Seen> = holes
            .iter()
            .filter(|hole| hole.along_sheet(&way).norm() >= least)
            .collect();
        let near = |hole: &&Seen| is_shifted_by(hole, &way, limit_mm);
        let group = agreeing(telling.iter().copied().filter(near).collect(), limit_mm);
        if group.len() > most.holes.len() {
            most = Alike {
                holes: group,
                asked: telling.len(),
            };
        }
    }
    (most.holes.len() >= fewest && 2 * most.holes.len() > most.asked).then_some(most)
}

#[cfg(test)]
pub mod made {
    use super::*;
    use cloud::{Body, Motion, Point};

    pub const PLACES: [[f64; 2]; 6] = [
        [60.0, 205.0],
        [60.0, -200.0],
        [300.0, 60.0],
        [600.0, -210.0],
        [640.0, 190.0],
        [450.0, 0.0],
    ];

    /// A hole in a floor, with ±0.14 mm of its reading.
    pub fn seen(at: [f64; 2], off: Vector) -> Seen {
        let at = Point::new(at[0], at[1], 500.0);
        Seen {
            at,
            axis: Vector::z(),
            there: at + off,
            across: Vector::new(off.x, off.y, 0.0),
            pm_mm: 0.14,
        }
    }

    /// Holes that are off by so much rearward.
    pub fn off_by(rearward_mm: [f64; 6]) -> Vec<Seen> {
        let each = PLACES.into_iter().zip(rearward_mm);
        each.map(|(at, mm)| seen(at, Vector::new(mm, 0.0, 0.0))).collect()
    }

    /// Holes that were all moved together, turned about the origin by so much (rad), then moved rearward.
    pub fn turned(by: f64, rearward_mm: f64) -> Vec<Seen> {
        let shift = Vector::x() * rearward_mm;
        let moved = Motion::<Body, Body>::turn_about(Vector::z() * by, Point::origin(), shift);
        let each = PLACES.into_iter().map(|at| {
            let place = Point::new(at[0], at[1], 500.0);
            seen(at, moved.apply(&place) - place)
        });
        each.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::made::{off_by, turned};
    use super::*;

    const LIMIT_MM: f64 = MM_PER_INCH / 16.0;

    fn words(holes: &[Seen], may_turn: bool) -> Option<String> {
        let alike = most_alike(holes, LIMIT_MM, may_turn)?;
        Some(format!("{} {}", alike.count(), alike.words(LIMIT_MM)))
    }

    /// About the origin by 0.01 rad: the hole at 640, 190 goes 0.01 · 667.6 mm, 17/64 in.
    #[test]
    fn what_was_turned_lies_alike_only_where_it_may_turn() {
        let mut holes = turned(0.01, 0.0);
        assert_eq!(words(&holes, false), None);
        let told = words(&holes, true).unwrap();
        assert!(
            told.starts_with("6 of 6 holes lie up to 17/64 in (6.7 mm) from where"),
            "{told}"
        );
        // One that was drilled elsewhere is left out.
        holes[2].there.y += 4.0;
        holes[2].across.y += 4.0;
        assert!(words(&holes, true).unwrap().starts_with("5 of 6 holes lie up to"));
    }

    #[test]
    fn a_shift_is_told_as_one_whether_it_may_turn_or_not() {
        for may_turn in [false, true] {
            let told = words(&off_by([5.0, 5.1, 4.9, 5.0, 5.0, 0.0]), may_turn).unwrap();
            assert!(
                told.starts_with("5 of 6 holes lie 3/16 rearward of where"),
                "{told}"
            );
            assert_eq!(words(&off_by([1.0, -2.5, 3.0, -6.35, 4.8, -1.2]), may_turn), None);
        }
    }
}
