//! The clear circle through a hole of both sets as they lie on each other, and which common bolt goes through it.

use cloud::survey::tangents;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};
use cloud::{Point, Vector};
use compare::verdict::NOT_HELD_MM;
use nalgebra::Vector2;

use super::{Hole, Pair};
use crate::words::NOT_HELD;

/// Common bolts by their nominal diameters, smallest first: in inches those of ASME B18.2.1, in millimetres those of ISO
/// 262; from memory. A bolt's own hole is drilled larger by a clearance that is not counted here.
const INCHES: [(&str, f64); 7] = [
    ("1/4", 0.25 * MM_PER_INCH),
    ("5/16", 0.3125 * MM_PER_INCH),
    ("3/8", 0.375 * MM_PER_INCH),
    ("7/16", 0.4375 * MM_PER_INCH),
    ("1/2", 0.5 * MM_PER_INCH),
    ("5/8", 0.625 * MM_PER_INCH),
    ("3/4", 0.75 * MM_PER_INCH),
];
pub(super) const METRIC: [(&str, f64); 4] = [("M6", 6.0), ("M8", 8.0), ("M10", 10.0), ("M12", 12.0)];
/// From this clear circle on a hole is for something else than a bolt, and its diameter is said, mm (an inch; common practice,
/// no source).
const BOLTED_MM: f64 = MM_PER_INCH;
/// Two diameters that differ by less are the same, mm.
pub(super) const NO_AIR_MM: f64 = 1e-9;

/// What goes through a hole of the reference and the measured one at once.
#[derive(Debug, Clone, PartialEq)]
pub struct Clear {
    /// Diameter of the largest circle that lies in both, mm; nothing where they do not meet.
    pub mm: f64,
    /// ± of it, mm.
    pub pm_mm: f64,
    /// The largest common bolt in inches that goes through for sure: `7/16`; from an inch on neither is said.
    pub inch_bolt: Option<&'static str>,
    /// The largest metric one: `M10`.
    pub metric_bolt: Option<&'static str>,
    /// `a 7/16 bolt goes through both as they lie (metric: M10)`; from an inch on `1-3/8 in clear through both as they lie`.
    pub words: String,
}

impl Pair {
    /// What goes through both, where both sets have it.
    pub fn clear(&self) -> Option<Clear> {
        let ours = self.reference.as_ref()?;
        let (mm, pm_mm) = self.clear_mm()?;
        let unbolted = |words: String| Clear {
            mm: mm.max(0.0),
            pm_mm,
            inch_bolt: None,
            metric_bolt: None,
            words,
        };
        Some(if pm_mm > NOT_HELD_MM {
            unbolted(NOT_HELD.to_string())
        } else if mm >= BOLTED_MM {
            unbolted(format!(
                "{} in clear through both as they lie",
                fraction_of_inch(mm, 32)
            ))
        } else {
            bolted(mm, pm_mm, ours.diameter_mm + ours.size_pm_mm)
        })
    }

    /// Diameter of the largest circle that lies in both with its ±, mm; below nothing where they do not meet.
    ///
    /// Seen along the reference's axis, two circles of d₁ and d₂ whose middles lie e apart hold one of (d₁ + d₂)/2 − e
    /// between them, and no larger one than the smaller of them. In a slot the half circle of its end slides, so that e is the
    /// distance between the lines on which the two middles can be.
    pub(super) fn clear_mm(&self) -> Option<(f64, f64)> {
        let (ours, theirs) = self.reference.as_ref().zip(self.measured.as_ref())?;
        let between_mm = (ours.diameter_mm + theirs.diameter_mm) / 2.0 - gap(ours, theirs).norm();
        let smaller = if ours.diameter_mm < theirs.diameter_mm {
            ours
        } else {
            theirs
        };
        let mm = between_mm.min(smaller.diameter_mm);
        // Within its ± the other of the two may be the less.
        let least_mm = (between_mm - self.pm_mm.hypot(self.size_pm_mm / 2.0))
            .min(smaller.diameter_mm - smaller.size_pm_mm);
        Some((mm, mm - least_mm))
    }
}

/// Which of the bolts is the largest that goes into `mm`.
fn largest(bolts: &[(&str, f64)], mm: f64) -> Option<usize> {
    bolts.iter().rposition(|bolt| bolt.1 <= mm + NO_AIR_MM)
}

/// Which bolts go through `mm` known to `pm_mm`, where the reference's hole is `reference_mm` at the most.
fn bolted(mm: f64, pm_mm: f64, reference_mm: f64) -> Clear {
    let [surely, perhaps] = [mm - pm_mm, mm + pm_mm].map(|most| largest(&INCHES, most));
    let metric = largest(&METRIC, mm - pm_mm);
    let meant = largest(&INCHES, reference_mm).filter(|k| Some(*k) > perhaps);
    let mut words = surely_goes(mm, surely, metric);
    if let Some(k) = perhaps.filter(|_| perhaps > surely) {
        words.push_str(&format!("; a {} is too close to call", INCHES[k].0));
    }
    if let Some(k) = meant {
        words.push_str(&format!("; the reference's hole takes a {}", INCHES[k].0));
    }
    Clear {
        mm: mm.max(0.0),
        pm_mm,
        inch_bolt: surely.map(|k| INCHES[k].0),
        metric_bolt: metric.map(|m| METRIC[m].0),
        words,
    }
}

/// What surely goes through `mm`, in words.
fn surely_goes(mm: f64, surely: Option<usize>, metric: Option<usize>) -> String {
    if surely == Some(INCHES.len() - 1) {
        return "every common bolt up to 3/4 goes through both as they lie".to_string();
    }
    match (surely, metric) {
        (Some(k), Some(m)) => format!(
            "a {} bolt goes through both as they lie (metric: {})",
            INCHES[k].0, METRIC[m].0
        ),
        (Some(k), None) => format!("a {} bolt goes through both as they lie", INCHES[k].0),
        (None, Some(m)) => format!("an {} bolt goes through both as they lie", METRIC[m].0),
        (None, None) if mm <= 0.0 => "the two holes do not meet: nothing goes through both".to_string(),
        (None, None) => "no common bolt surely goes through both as they lie".to_string(),
    }
}

/// The shortest way across the reference's axis from the line on which the middle of the measured hole can be to that of the
/// reference's, mm; those of round holes are points.
pub(super) fn gap(ours: &Hole, theirs: &Hole) -> Vector {
    let (u, v) = tangents(&ours.axis);
    let flat = |way: &Vector| Vector2::new(way.dot(&u), way.dot(&v));
    let ends = |hole: &Hole, about: &Point| {
        let slides = hole.slot.as_ref().map_or(Vector::zeros(), |slot| {
            slot.along * ((slot.length_mm - hole.diameter_mm) / 2.0).max(0.0)
        });
        let middle = hole.at - about;
        [flat(&(middle - slides)), flat(&(middle + slides))]
    };
    let [a, b] = ends(ours, &ours.at);
    let [c, d] = ends(theirs, &ours.at);
    // Lines that cross do so between the ends of both.
    let side = |from: Vector2<f64>, to: Vector2<f64>, of: Vector2<f64>| (to - from).perp(&(of - from));
    if side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0 {
        return Vector::zeros();
    }
    let ways = [
        off_line(&a, &[c, d]),
        off_line(&b, &[c, d]),
        -off_line(&c, &[a, b]),
        -off_line(&d, &[a, b]),
    ];
    let shorter = |best: Vector2<f64>, way: Vector2<f64>| {
        if way.norm() < best.norm() { way } else { best }
    };
    let shortest = ways.into_iter().fold(ways[0], shorter);
    u * shortest.x + v * shortest.y
}

/// The shortest way to a place from a line between two ends.
fn off_line(place: &Vector2<f64>, [from, to]: &[Vector2<f64>; 2]) -> Vector2<f64> {
    let line = to - from;
    let square = line.norm_squared();
    let share = if square > 0.0 {
        ((place - from).dot(&line) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    place - from - line * share
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::plates::hole;

    fn inch(diameter: f64, length: Option<f64>, x: f64, y: f64) -> Hole {
        hole(
            Point::new(x, y, 0.0) * MM_PER_INCH,
            diameter * MM_PER_INCH,
            length.map(|l| l * MM_PER_INCH),
        )
    }

    fn clear_in(ours: Hole, theirs: Hole) -> f64 {
        let pair = Pair::new(Some(ours), Some(theirs), None);
        pair.clear().unwrap().mm / MM_PER_INCH
    }

    /// The largest circle that lies in both, searched for on a lattice of a hundredth of an inch.
    fn searched(ours: &Hole, theirs: &Hole) -> f64 {
        let room = |hole: &Hole, at: &Vector2<f64>| {
            let slides = hole
                .slot
                .as_ref()
                .map_or(0.0, |s| (s.length_mm - hole.diameter_mm) / 2.0);
            let along = hole.slot.as_ref().map_or(Vector::x(), |s| s.along).xy() * slides;
            let middle = hole.at.coords.xy();
            hole.diameter_mm - 2.0 * off_line(at, &[middle - along, middle + along]).norm()
        };
        let mut best = 0f64;
        for i in -100..=100 {
            for j in -100..=100 {
                let at = Vector2::new(f64::from(i), f64::from(j)) * (MM_PER_INCH / 100.0);
                best = best.max(room(ours, &at).min(room(theirs, &at)));
            }
        }
        best / MM_PER_INCH
    }

    #[test]
    fn two_circles_hold_half_their_sum_less_the_offset_and_never_more_than_the_smaller() {
        assert!((clear_in(inch(0.5, None, 0.0, 0.0), inch(0.5, None, 0.0625, 0.0)) - 0.4375).abs() < 1e-12);
        assert!((clear_in(inch(0.5, None, 0.0, 0.0), inch(0.75, None, 0.1, 0.0)) - 0.5).abs() < 1e-12);
        assert!((clear_in(inch(0.5, None, 0.0, 0.0), inch(0.75, None, 0.2, 0.0)) - 0.425).abs() < 1e-12);
        assert_eq!(
            clear_in(inch(0.5, None, 0.0, 0.0), inch(0.5, None, 0.0, 0.6)),
            0.0
        );
    }

    #[test]
    fn slots_hold_what_a_search_finds() {
        let mut turned = inch(0.4, Some(0.9), 0.1, 0.05);
        if let Some(slot) = &mut turned.slot {
            slot.along = Vector::new(0.6, 0.8, 0.0);
        }
        for (ours, theirs) in [
            (inch(0.5, None, 0.0, 0.0), inch(0.4, Some(0.8), 0.3, 0.1)),
            (inch(0.5, Some(0.8), 0.0, 0.0), inch(0.5, Some(0.7), 0.35, 0.12)),
            (inch(0.5, Some(1.0), 0.0, 0.0), turned),
            (inch(0.3, Some(0.5), -0.3, 0.0), turned),
        ] {
            let (closed, lattice) = (clear_in(ours, theirs), searched(&ours, &theirs));
            assert!((closed - lattice).abs() < 0.015, "{closed} and {lattice}");
        }
    }

    #[test]
    fn the_bolt_is_the_largest_that_goes_for_sure() {
        let said = |ours: f64, theirs: f64, off: f64| {
            Pair::new(
                Some(inch(ours, None, 0.0, 0.0)),
                Some(inch(theirs, None, off, 0.0)),
                None,
            )
            .clear()
            .unwrap()
        };
        // 15/32 by 15/32 in its place: 11.9 mm, known to a tenth.
        let home = said(15.0 / 32.0, 15.0 / 32.0, 0.0);
        assert_eq!((home.inch_bolt, home.metric_bolt), (Some("7/16"), Some("M10")));
        assert_eq!(
            home.words,
            "a 7/16 bolt goes through both as they lie (metric: M10)"
        );
        let off = said(15.0 / 32.0, 15.0 / 32.0, 1.0 / 16.0);
        assert_eq!(
            off.words,
            "a 3/8 bolt goes through both as they lie (metric: M10); the reference's hole takes a 7/16"
        );
        // As large as the bolt itself: the ± decides nothing.
        let close = said(7.0 / 16.0, 7.0 / 16.0, 0.0);
        assert_eq!(
            close.words,
            "a 3/8 bolt goes through both as they lie (metric: M10); a 7/16 is too close to call"
        );
        assert_eq!(
            said(0.875, 0.875, 0.0).words,
            "every common bolt up to 3/4 goes through both as they lie"
        );
        // So large a hole is for no bolt.
        let wide = said(1.5, 1.375, 0.0);
        assert_eq!(wide.words, "1-3/8 in clear through both as they lie");
        assert_eq!((wide.inch_bolt, wide.metric_bolt), (None, None));
        let apart = said(0.375, 0.375, 0.5);
        assert_eq!(
            apart.words,
            "the two holes do not meet: nothing goes through both; the reference's hole takes a 3/8"
        );
        assert_eq!((apart.mm, apart.inch_bolt), (0.0, None));
        assert_eq!(
            Pair::new(Some(inch(0.5, None, 0.0, 0.0)), None, None).clear(),
            None
        );
    }
}
