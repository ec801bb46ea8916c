//! Whether metal that stands off at a place is a bead itself, which is told by itself.

use ::features::bead::Bead;
use ::features::shift::HOME_MM;
use cloud::Point;

/// What lies this near to a bead's outline comes with the bead, mm (half an inch).
const BESIDE_MM: f64 = 12.7;
/// How far a sheet may rise from a bead's middle toward its ends, as a share of how far they lie: a crowned skin does.
const RISES: f64 = 0.15;

/// Whether metal that stands off by `mm` at a place is a bead: on its sheet, and off by no more than a bead can be that is not
/// where, or as deep as, it should be. Of another sheet over it, or deeper than it, it is a dent.
pub(super) fn is_bead(bead: &Bead, at: &Point, mm: f64) -> bool {
    let deep_mm = bead.depth_mm.abs();
    if mm.abs() > deep_mm + HOME_MM {
        return false;
    }
    let half_mm = bead.width_mm / 2.0 + BESIDE_MM;
    let level_mm = deep_mm + BESIDE_MM;
    if !bead.middle_line.is_empty() {
        return bead.middle_line.iter().any(|p| {
            let off = at - p;
            let rise_mm = off.dot(&bead.up);
            (off - bead.up * rise_mm).norm() < half_mm && rise_mm.abs() < level_mm
        });
    }
    let off = at - bead.at;
    let along_mm = off.dot(&bead.along).abs();
    along_mm < bead.length_mm / 2.0 + BESIDE_MM
        && off.dot(&bead.across).abs() < half_mm
        && off.dot(&bead.up).abs() < level_mm + RISES * along_mm
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    /// Read along one axis, and followed round its bends.
    #[test]
    fn what_stands_off_along_a_bead_is_the_bead_and_a_dent_in_it_or_over_it_is_none() {
        let line = (-225..=225).map(|k| Point::new(2.0 * f64::from(k), 0.0, 0.0));
        for middle_line in [Vec::new(), line.collect()] {
            let bead = Bead {
                middle_line,
                ..made::bead(0.0)
            };
            let is = |at: [f64; 3], mm: f64| is_bead(&bead, &Point::from(at), mm);
            assert!(is([300.0, 8.0, 6.0], 5.5) && is([-440.0, -15.0, 0.0], -4.0));
            // Deeper than the bead is; beside it; in a sheet 6 inches below it.
            assert!(!is([300.0, 0.0, 6.0], -12.0));
            assert!(!is([300.0, 40.0, 0.0], -4.0) && !is([500.0, 0.0, 0.0], -4.0));
            assert!(!is([300.0, 8.0, -152.4], -4.0));
        }
    }
}
