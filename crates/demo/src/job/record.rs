//! The record of the tub as found, before anything is cut: what its left side has otherwise than its right, none of it a
//! fault.

use std::io;
use std::path::Path;

use cloud::Motion;

use super::{IN_MM, as_drawn, of_the_tub, save};
use crate::sheet::Sheet;
use crate::tub::{self, Own};

/// What this tub has of its own: the left bar 5/16 rearward, the right floor with one bead more, the left sill notched.
const OWN: Own = Own {
    left_bar_rearward: 0.3125,
    fourth_bead: true,
    notch: true,
};

/// The outer sills are off, and what stands behind the seats is not in question.
const NOT_MEASURED: [&str; 8] = [
    "left outer sill",
    "right outer sill",
    "boot floor",
    "left boot side",
    "right boot side",
    "left leg",
    "right leg",
    "rear bulkhead",
];

/// A notch is as small as a few points: this closely it is seen, mm.
const SPACING_MM: f64 = 3.5;

fn sheets() -> Vec<Sheet> {
    let mut sheets = tub::sheets_with(OWN);
    sheets.retain(|sheet| !NOT_MEASURED.contains(&sheet.part));
    sheets
}

/// Writes `as-found-record.ply`, in the body's own frame.
pub(super) fn write(folder: &Path) -> io::Result<()> {
    // The scanner could not get under the scuttle.
    let blind = vec![([0.0, -20.0, 42.0], 5.0)];
    let found = of_the_tub(SPACING_MM, 51, Motion::identity(), blind).scan(&sheets(), as_drawn);
    save(folder, "as-found-record.ply", &found, IN_MM)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::unit::MM_PER_INCH;

    #[test]
    fn the_left_edge_is_notched_as_the_scanner_sees_it_and_the_right_is_whole() {
        let mut scanner = of_the_tub(SPACING_MM, 51, Motion::identity(), Vec::new());
        scanner.strays = 0.0;
        let mut sill_tops = sheets();
        sill_tops.retain(|sheet| sheet.part.ends_with("inner sill"));
        let seen = scanner.scan(&sill_tops, as_drawn);
        let in_notch = |side: f64| {
            seen.points_mm
                .iter()
                .map(|p| p / MM_PER_INCH)
                .filter(|p| p.y * side > 0.0 && (p.x - 12.0).abs() < 0.625 && p.z > 26.625)
                .count()
        };
        assert_eq!(in_notch(-1.0), 0);
        let expected = 0.375 * 1.25 * (MM_PER_INCH / SPACING_MM).powi(2);
        assert!((in_notch(1.0) as f64 / expected - 1.0).abs() < 0.5);
    }
}
