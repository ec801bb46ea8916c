//! Points in one plane can't tell the hand: a mirrored part lies on them as well, upside down. Its metal tells.

use ::register::any_pose::overlap;
use cloud::eigen::flattest_direction;
use cloud::{Matrix3, Mirror, Point, Vector, Warning};

use super::Setting;
use crate::stages::scale::Scaled;

/// Points that are off their plane by less than this tell nothing of the hand, mm (a sixteenth: set points agree no better).
const ONE_PLANE_MM: f64 = 25.4 / 16.0;
/// The image is asked about where it leaves less than this share of the metal unexplained that the set itself leaves, …
const CLEARLY_LESS: f64 = 0.5;
/// … and that is this share of all the metal less.
const WORTH_ASKING: f64 = 0.02;

/// Asks whether a set that was set by points in one plane is of the other hand: where its image in that plane lies clearly
/// better on the reference.
pub fn doubted(scaled: &Scaled, setting: &Setting) -> Option<Warning> {
    let at: Vec<Point> = setting
        .points
        .iter()
        .filter(|p| p.used)
        .map(|p| p.at_mm)
        .collect();
    let middle = Point::from(at.iter().map(|p| p.coords).sum::<Vector>() / at.len().max(1) as f64);
    let spread: Matrix3 = at.iter().map(|p| (p - middle) * (p - middle).transpose()).sum();
    let normal = flattest_direction(&spread);
    let off_mm = (normal.dot(&(spread * normal)).max(0.0) / at.len().max(1) as f64).sqrt();
    if at.len() < 3 || off_mm > ONE_PLANE_MM {
        return None;
    }
    let there = setting.reference_from_measured.inverse();
    let across = there.turn(&normal);
    let mirror = Mirror {
        offset_mm: across.dot(&there.apply(&middle).coords),
        normal: across,
    };
    let motion = &setting.reference_from_measured;
    let plain = overlap(&scaled.reference, &scaled.measured, motion);
    let image = overlap(&scaled.reference, &scaled.measured.mirrored(&mirror), motion);
    ((1.0 - image) < CLEARLY_LESS * (1.0 - plain) && image - plain > WORTH_ASKING).then(|| {
        Warning::new(
            "fits-mirrored",
            format!(
                "it fits clearly better mirrored ({:.0} % of the metal lies on the other set for {:.0} %), and points in one plane can't tell: is it the other hand, or are two axes swapped in the file?",
                100.0 * image,
                100.0 * plain
            ),
        )
    })
}
