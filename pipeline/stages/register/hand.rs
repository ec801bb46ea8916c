//! What places can't tell and the metal does: points in one plane lie on a mirrored part as well, upside down, and points that
//! lie alike from both ends agree though their names were begun from the other end.

use ::register::any_pose::{Rather, metal_would_rather};
use cloud::{Point, Warning};

use super::Setting;
use crate::stages::scale::Scaled;

/// Asks whether a set that was set by places is of the other hand, or lies another way round: where its image in their plane,
/// or another way that brings them on each other as well, clearly lies better on the reference.
pub fn doubted(scaled: &Scaled, setting: &Setting) -> Option<Warning> {
    let used = setting.points.iter().filter(|p| p.used);
    let at: Vec<Point> = used.map(|p| p.at_mm).collect();
    let motion = &setting.reference_from_measured;
    let shares = |share: f64, as_laid: f64| {
        format!(
            "{:.0} % of the metal lies on the other set for {:.0} %",
            100.0 * share,
            100.0 * as_laid
        )
    };
    let warning = match metal_would_rather(&scaled.reference, &scaled.measured, &at, motion)? {
        Rather::Image { share, as_laid } => Warning::new(
            "fits-mirrored",
            format!(
                "it fits clearly better mirrored ({}), and points in one plane can't tell: is it the other hand, or are two axes swapped in the file?",
                shares(share, as_laid)
            ),
        ),
        Rather::AnotherWay {
            turned_deg,
            share,
            as_laid,
        } => Warning::new(
            "lies-either-way",
            format!(
                "it fits clearly better turned by {turned_deg:.0}° ({}), where the same places lie on each other as well: are their names exchanged, or begun from the other end?",
                shares(share, as_laid)
            ),
        ),
    };
    Some(warning)
}
