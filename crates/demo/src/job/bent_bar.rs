//! The tub after its right cross bar was welded in: the bar bent and wound, both its ends home.

use std::io;
use std::path::Path;

use super::{IN_MM, frame, of_the_tub, save};
use crate::scan::Closer;
use crate::sheet::Place;
use crate::tub;

/// The bar.
const BAR: &str = "right cross bar";
/// Where it begins, at the tunnel, and ends, at the sill, along Y; inches.
const ENDS: [f64; 2] = [5.0, 24.0];
/// How far it is bowed up at its middle, 9-1/2 from either end, inches.
const BOW: f64 = 3.0 / 32.0;
/// How far its sill end is turned to its tunnel end, right-handed about +Y, degrees: at the sill the rear edge is low.
const TWIST_DEG: f64 = 0.6;
/// What it is turned about, as X and Z: the centroid of its section, front, top and back together.
const AXIS: [f64; 2] = [35.5, 150.0 / 7.0];

/// The bar and what it is welded to are gone over closely; the rest is a quick set.
const CLOSER: [Closer; 1] = [Closer {
    spacing_mm: 3.0,
    parts: &[BAR, "right floor", "tunnel", "right inner sill"],
    here: |p| (30.0..41.0).contains(&p.x) && p.y > 3.0 && p.z < 24.0,
}];

/// Puts a place of the bar where welding pulled it: a bow of one curvature, and a turn that grows evenly along it and is
/// nothing at the middle.
fn pulled(part: &str, place: &mut Place) {
    if part != BAR {
        return;
    }
    let share = (place.at.y - ENDS[0]) / (ENDS[1] - ENDS[0]);
    let (sine, cosine) = (TWIST_DEG.to_radians() * (share - 0.5)).sin_cos();
    let (x, z) = (place.at.x - AXIS[0], place.at.z - AXIS[1]);
    place.at.x = AXIS[0] + cosine * x + sine * z;
    place.at.z = AXIS[1] + cosine * z - sine * x + BOW * 4.0 * share * (1.0 - share);
}

/// Writes `bar-welded.ply`, in a frame of the scanner's own; and the bar a trip before, `bar-tacked.ply`.
pub(super) fn write(folder: &Path) -> io::Result<()> {
    let boot_corner = vec![([82.0, 20.0, 30.0], 7.0)];
    let scanner = |seed: u64, turn: f64, shift: f64| {
        let pose = frame(
            [-0.3, 0.2, turn],
            [1000.0, 0.0, 600.0],
            [250.0 + shift, 600.0, -120.0],
        );
        of_the_tub(6.5, seed, pose, boot_corner.clone())
    };
    let welded = scanner(61, 1.4, 0.0).scan_closer(&CLOSER, tub::sheets, pulled);
    save(folder, "bar-welded.ply", &welded, IN_MM)?;
    let tacked = scanner(62, 0.6, 300.0).scan_closer(&CLOSER, tub::sheets, |_, _| {});
    save(folder, "bar-tacked.ply", &tacked, IN_MM)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Point, Vector};

    fn after(part: &str, x: f64, y: f64, z: f64) -> Point {
        let mut place = Place {
            at: Point::new(x, y, z),
            normal: Vector::z(),
        };
        pulled(part, &mut place);
        place.at
    }

    #[test]
    fn the_bar_is_up_at_the_middle_and_home_at_its_ends() {
        // The middle of the bar's top, and over the tunnel's foot and the sill.
        assert!((after(BAR, 35.5, 14.5, 22.0) - Point::new(35.5, 14.5, 22.0 + 0.09375)).norm() < 1e-12);
        for y in ENDS {
            let off = after(BAR, 35.5, y, 22.0) - Point::new(35.5, y, 22.0);
            assert!(off.norm() < 0.004, "{off}");
            // Even the edges of its top are home there within a hundredth.
            for x in [34.0, 37.0] {
                let off = after(BAR, x, y, 22.0) - Point::new(x, y, 22.0);
                assert!(off.norm() < 0.01, "{off}");
            }
        }
        assert_eq!(
            after("right floor", 33.0, 14.5, 20.0),
            Point::new(33.0, 14.5, 20.0)
        );
    }

    #[test]
    fn the_bar_is_wound_by_what_was_planted_from_end_to_end() {
        let tilt_deg = |y: f64| {
            let across = after(BAR, 37.0, y, 22.0) - after(BAR, 34.0, y, 22.0);
            assert!((across.norm() - 3.0).abs() < 1e-12);
            // Right-handed about +Y the rear goes down.
            (-across.z).atan2(across.x).to_degrees()
        };
        assert!((tilt_deg(ENDS[1]) - tilt_deg(ENDS[0]) - TWIST_DEG).abs() < 1e-9);
        assert!(tilt_deg(14.5).abs() < 1e-12);
        assert!(tilt_deg(ENDS[1]) > 0.0);
    }
}
