//! What re-seating adds: the same thing put back and measured again, held against its first set.

use cloud::statistics::rms;
use compare::{against_points, smooth};

use super::{Setting, register};
use crate::cli::SetBy;
use crate::job::Comparison;
use crate::stages::load::load;
use crate::stages::scale::{Scaled, scale};
use crate::trouble::Trouble;

/// The ± (half the 95 % band) that putting the part back and measuring it again shows: 1.96 s, s² half the mean square of
/// the difference between the two sets, each set in the same way. One repeat gives a guide, not a law.
///
/// # Errors
/// Where the repeat can't be read or set; by points that were taken once it can't be, by datum holes it is by its own.
pub fn repeat_pm_mm(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
) -> Result<Option<f64>, Trouble> {
    let Some(again) = &comparison.repeat else {
        return Ok(None);
    };
    let points = comparison.points_of(again);
    let by_points = matches!(comparison.set_by, SetBy::Points | SetBy::Order);
    let found = comparison.datum_holes.is_some();
    if (by_points && points.is_none() && !found) || comparison.mirror {
        return Err(Trouble::new(format!(
            "{}: a repeat is set as the set itself is, but its named points were taken only once; give its own as \"points\" in its [[set]], set by what was left alone, by holes (\"datum_holes\" finds named ones) or all over, or leave the repeat out",
            comparison.name
        )));
    }
    let asked = Comparison {
        measured: again.clone(),
        repeat: None,
        points,
        ..comparison.clone()
    };
    let mut second = scale(&asked, load(&asked)?)?;
    let second_setting = register(&asked, &mut second)?;
    let first = scaled.measured.moved(&setting.reference_from_measured);
    let apart = against_points::compare(
        &first,
        &second.measured,
        &second_setting.reference_from_measured,
        comparison.reach_mm,
    );
    let apart: Vec<f64> = smooth::smoothed(&first, &apart)
        .into_iter()
        .flatten()
        .map(|(mm, _)| mm)
        .collect();
    if apart.is_empty() {
        return Err(Trouble::new(format!(
            "{}: the repeat \"{}\" has no metal where the set itself has; is it the same thing?",
            comparison.name, again.name
        )));
    }
    Ok(Some(1.96 * rms(&apart) / std::f64::consts::SQRT_2))
}
