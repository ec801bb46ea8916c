//! Side to side: the measured set held against its own mirror image in the plane that suits it best, or against the other
//! side's, which is mirrored as it is read.

use ::register::self_mirror::{centre_plane, image_of};
use cloud::{Motion, Point, Warning};
use compare::Status;
use compare::region::{DRAWN_IN_MM, Region};

use super::by_surface::from_surface;
use super::{RunnerUp, Setting};
use crate::cli::SetBy;
use crate::job::Comparison;
use crate::stages::scale::Scaled;
use crate::trouble::Trouble;

/// A plane whose score comes so near to the best's could also be meant.
const ALSO_POSSIBLE: f64 = 0.8;

/// Finds the centre plane and puts the mirror image in the reference's place: both lie in the measured set's own frame.
pub fn stand_beside_its_image(comparison: &Comparison, scaled: &mut Scaled) -> Result<Setting, Trouble> {
    let refused = |why| Trouble::not_set(&comparison.measured.path, &comparison.measured.path, &why);
    let regions = &comparison.regions;
    let any_kept = regions.iter().any(|r| r.status == Status::Kept);
    let kept = |at: &Point| left_alone(regions, at);
    let found = centre_plane(&scaled.measured, if any_kept { Some(&kept) } else { None }).map_err(refused)?;
    scaled.reference = image_of(&scaled.measured, &found.mirror);
    scaled.reference_mesh = None;
    let n = &found.mirror.normal.clone();
    let by = if any_kept {
        "what was left alone"
    } else {
        "everything"
    };
    let words = format!(
        "its own mirror image in the plane {:.4} x {:+.4} y {:+.4} z = {:.1} mm, found by {by}",
        n.x, n.y, n.z, found.mirror.offset_mm
    );
    let mut setting = from_surface(SetBy::AsIs, found.settled, words);
    // Sliding in the plane, or turning in it, changes nothing of what is read against the mirror image.
    if let Some(motions) = &mut setting.motions {
        motions.hold_in_plane(n);
    }
    // The plane stands still where both sides are read against it; what holds it is what held the image on the set.
    setting.reference_from_measured = Motion::identity();
    setting.mirror = Some(found.mirror);
    if let Some((other, best)) = found.other {
        setting.runner_up = Some(RunnerUp {
            rms_mm: setting.rms_mm.unwrap_or(0.0),
            words: format!("another plane: score {other:.2}, the best {best:.2}"),
        });
        if other > ALSO_POSSIBLE * best {
            setting.warnings.push(Warning::new(
                "could-also-lie",
                "the part is nearly its own mirror image in another plane as well; look whether the plane is the one that is meant",
            ));
        }
    }
    setting.warnings.push(Warning::new(
        "mirrored",
        "held against its own mirror image: what differs left to right is told, not what is wrong; left and right came off separate dies",
    ));
    Ok(setting)
}

/// What the reference that is mirrored is called in doubts about the hand, which are told of two sets of one hand.
const OF_THE_OTHER_SIDE: [(&str, &str); 4] = [
    (
        "it fits clearly better mirrored",
        "it fits clearly better on the reference as it is, not mirrored",
    ),
    (
        "as their mirror image they fit",
        "on the reference as it is, not mirrored, they fit",
    ),
    (
        "is it the other hand",
        "is it of the reference's own hand, so that the mirror is to be left out",
    ),
    (" (then hold it against the mirror image: --mirror)", ""),
];

/// Doubts about the hand, in words that are right where the reference is mirrored.
pub fn of_the_hand(comparison: &Comparison, words: String) -> String {
    if !comparison.reference.mirrored {
        return words;
    }
    let said = |words: String, (of_one_hand, of_both): &(&str, &str)| words.replacen(of_one_hand, of_both, 1);
    OF_THE_OTHER_SIDE.iter().fold(words, said)
}

/// The caution that the other side is no drawing; `None` where the reference is of the measured set's own side.
pub fn no_drawing(comparison: &Comparison) -> Option<Warning> {
    comparison.reference.mirrored.then(|| {
        Warning::new(
            "mirrored",
            format!(
                "{} is of the other side and was mirrored: a suspicion and not a drawing; what differs left to right is told, not what is wrong; left and right came off separate dies",
                comparison.reference.name
            ),
        )
    })
}

/// Whether a place lies in a kept region and an inch clear of every other.
fn left_alone(regions: &[Region], at: &Point) -> bool {
    let near = |r: &Region, by_mm: f64| r.bounds.grown(by_mm).contains(at);
    regions.iter().any(|r| r.status == Status::Kept && near(r, 0.0))
        && !regions
            .iter()
            .any(|r| matches!(r.status, Status::Worked | Status::New) && near(r, DRAWN_IN_MM))
}
