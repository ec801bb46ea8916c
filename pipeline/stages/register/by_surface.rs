//! Setting surface on surface: by what was left alone, or all over.

use ::register::RegisterError;
use ::register::icp::{Ending, Fixed, Settled, explained_rms_mm, settle, settle_at_home};
use cloud::{Body, Motion, Scan, Surface, Warning};
use compare::{Region, Status, region};

use super::super::scale::Scaled;
use super::Setting;
use super::from_nowhere::{from_any_pose, runner_up, way_round};
use super::kept_parted::{against_itself, kept_regions};
use crate::cli::SetBy;
use crate::job::Comparison;
use crate::say;

/// Least share of the reference's points in kept regions that a setting is taken from.
pub(super) const LEAST_KEPT: f64 = 0.05;
/// Where regions say that more was changed than this share of what they cover, an all-over setting is refused.
const MOST_CHANGED: f64 = 0.5;
/// What bent kept metal is off by is alike over a piece of this share of its rms radius, as where a whole kept region has moved.
const PIECE: f64 = 0.8;
/// Where named points and kept metal part by more than this (1/32 in), one of them has moved.
const PARTED_MM: f64 = 25.4 / 32.0;
/// A region that two settings read less otherwise than this is not told of, mm (1/64 in).
const LEAST_PARTED_MM: f64 = 25.4 / 64.0;

/// Sets by everything: a first look.
pub fn all_over(comparison: &Comparison, scaled: &mut Scaled) -> Result<Setting, RegisterError> {
    refuse_mostly_changed(comparison, &scaled.reference)?;
    let (found, doubts) = from_any_pose(scaled)?;
    let (way, doubts) = way_round(&found, doubts, None, scaled);
    let runner_up = runner_up(&found);
    let hand_told = found.hand_told();
    let best = if way == found.best.reference_from_measured {
        found.best
    } else {
        let reach_mm = comparison.reach_mm.max(12.0 * scaled.reference.spacing_mm);
        settle(
            &Fixed::all_of(&scaled.reference),
            &scaled.measured,
            &way,
            reach_mm,
        )
    };
    let mut words = "everything, all over: a first look".to_string();
    if !hand_told {
        words.push_str("; nothing in its shape tells left hand from right");
    }
    let mut setting = from_surface(SetBy::AllOver, best, words);
    setting.warnings.push(Warning::new(
        "all-over",
        "set all over: where much of the metal has moved, that can hide the fault; mark what was left alone as kept",
    ));
    setting.warnings.extend(doubts);
    setting.runner_up = runner_up;
    setting.hand_told = hand_told;
    Ok(setting)
}

/// A fit over everything follows the majority: where regions say that the majority is new, it is refused.
fn refuse_mostly_changed(comparison: &Comparison, reference: &Surface<Body>) -> Result<(), RegisterError> {
    let (mut kept, mut changed) = (0usize, 0usize);
    for point in reference.points() {
        let held_by = |status: &[Status]| {
            comparison
                .regions
                .iter()
                .any(|r| status.contains(&r.status) && r.bounds.contains(point))
        };
        if held_by(&[Status::Worked, Status::New]) {
            changed += 1;
        } else if held_by(&[Status::Kept]) {
            kept += 1;
        }
    }
    let share = changed as f64 / (kept + changed).max(1) as f64;
    if share > MOST_CHANGED {
        return Err(RegisterError::MostlyChanged {
            kept_percent: 100.0 * (1.0 - share),
        });
    }
    Ok(())
}

/// Sets by the kept regions, started by named points or from any pose.
pub fn left_alone(
    comparison: &Comparison,
    scaled: &mut Scaled,
    start: Option<Setting>,
) -> Result<Setting, RegisterError> {
    let kept = region::left_alone(&comparison.regions, &scaled.reference).unwrap_or_default();
    let share = kept.iter().filter(|k| **k).count() as f64 / kept.len().max(1) as f64;
    if share < LEAST_KEPT {
        return Err(RegisterError::TooLittleKept {
            share_percent: 100.0 * share,
        });
    }
    let reach_mm = comparison.reach_mm.max(12.0 * scaled.reference.spacing_mm);
    let (first, mut warnings, other, hand_told) = match &start {
        Some(points) => (points.reference_from_measured, Vec::new(), None, points.hand_told),
        None => {
            let (found, doubts) = from_any_pose(scaled)?;
            let (first, doubts) = way_round(&found, doubts, Some((&kept, reach_mm)), scaled);
            (first, doubts, runner_up(&found), found.hand_told())
        }
    };
    let reference = &scaled.reference;
    let fixed = Fixed::kept_of(reference, &kept);
    // Along what the kept metal does not hold it stays where the points, or everything together, have it.
    let mut done = settle_at_home(&fixed, &scaled.measured, &first, reach_mm);
    // By what noise leaves unknown: that the metal has bent is why the two may part.
    let parted = start.as_ref().and_then(|points| {
        let mut by_noise = done.clone();
        points.hold(&mut by_noise);
        parted(reference, &kept, points, &by_noise)
    });
    let (names, by_region) = kept_regions(comparison, reference, &kept);
    // First the metal's own ±, then the points': they hold what slides as well, however it has bent.
    let (against, rms_mm) = against_itself(scaled, &names, &by_region, &mut done);
    let bent = bent(scaled, rms_mm, &mut done);
    let by_points = start
        .as_ref()
        .map_or(String::new(), |points| points.hold(&mut done));
    // Where the kept metal has bent nobody knows which of the two is wrong.
    if start.is_none() && bent.is_none() && against.is_none() {
        warnings.extend(all_over_would_read(comparison, reference, &first, &done));
    }
    let words = format!(
        "what was left alone ({:.0} % of the points): {}{by_points}",
        100.0 * share,
        names.join(", ")
    );
    let mut setting = from_surface(SetBy::LeftAlone, done, words);
    setting.warnings.extend(against);
    setting.warnings.extend(bent);
    setting.runner_up = other;
    setting.hand_told = hand_told;
    warnings.append(&mut setting.warnings);
    if let Some(points) = start {
        warnings.extend(points.warnings.iter().cloned());
        setting.points.clone_from(&points.points);
        if let Some(warning) = parted {
            // Datums win: their places were chosen to come back to.
            warnings.push(warning);
            setting = Setting {
                words: format!("{}, which the kept metal does not bear out", points.words),
                ..points
            };
        }
    }
    setting.warnings = warnings;
    Ok(setting)
}

/// Kept metal that lies less well (`rms_mm`) than the noise of both sets explains has bent or moved since: that is told, and
/// counts in the setting's ± as what is off by pieces rather than by points.
fn bent(scaled: &Scaled, rms_mm: f64, done: &mut Settled) -> Option<Warning> {
    let (reference, measured) = (&scaled.reference, &scaled.measured);
    if rms_mm < explained_rms_mm(reference, measured) {
        return None;
    }
    let noise_mm = reference.noise_mm.hypot(measured.noise_mm);
    // By the share, since of very many points not all make pairs.
    let area_mm2 = done.share * measured.points().len() as f64 * measured.spacing_mm.powi(2);
    let motions = &mut done.motions;
    let pieces = (area_mm2 / (PIECE * motions.radius_mm).powi(2)).max(6.0);
    let bent_mm = (rms_mm.powi(2) - noise_mm.powi(2)).max(0.0).sqrt();
    motions.sigma_mm = motions
        .sigma_mm
        .hypot(bent_mm * (done.pairs as f64 / pieces).max(1.0).sqrt());
    Some(Warning::new(
        "kept-bent",
        format!(
            "what was left alone lies to {rms_mm:.2} mm in the mean, where the noise of the points explains {noise_mm:.2}: it has bent or moved since. The ± of the setting is widened by it; mark what has moved as worked, or name points"
        ),
    ))
}

/// Named points and kept metal that say two things: where they part most on the kept metal, if that is more than 1/32 in
/// and more than their ± together.
fn parted(reference: &Surface<Body>, kept: &[bool], points: &Setting, metal: &Settled) -> Option<Warning> {
    let between = metal
        .reference_from_measured
        .inverse()
        .then(&points.reference_from_measured);
    let (at, apart_mm) = reference
        .points()
        .iter()
        .zip(kept)
        .filter(|(_, kept)| **kept)
        .map(|(at, _)| (*at, (between.apply(at) - at).norm()))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let pm_mm = points.pm_at_mm(&at).hypot(metal.motions.pm_at_mm(&at));
    // Along what the kept metal does not hold it can't contradict.
    let told = apart_mm > PARTED_MM.max(pm_mm) && metal.motions.held().free.is_empty();
    told.then(|| {
        Warning::new(
            "points-against-metal",
            format!(
                "the named points and the kept metal part by {} at {:.0}, {:.0}, {:.0} mm: one of them has moved. The points were followed; check them, and what is marked as kept",
                say::plain_64ths(apart_mm),
                at.x,
                at.y,
                at.z
            ),
        )
    })
}

/// What the worked and new regions would read less under an all-over setting, as a warning. Along what the kept metal does not
/// hold the two lie alike, and it tells nothing of a fault.
fn all_over_would_read(
    comparison: &Comparison,
    reference: &Surface<Body>,
    all_over: &Motion<Scan, Body>,
    done: &Settled,
) -> Option<Warning> {
    let between = done.reference_from_measured.inverse().then(all_over);
    let (region, mm) = most_parted(comparison, reference, &between)?;
    if mm.abs() < LEAST_PARTED_MM {
        return None;
    }
    Some(Warning::new(
        "all-over-differs",
        format!(
            "set all over it would read {region} by {mm:.1} mm otherwise than what was left alone says: it shares the fault out"
        ),
    ))
}

/// The region that two settings read most otherwise, and by how much, mm; `between` leads from the one to the other.
fn most_parted<'a>(
    comparison: &'a Comparison,
    reference: &Surface<Body>,
    between: &Motion<Body, Body>,
) -> Option<(&'a str, f64)> {
    let shift = |r: &Region| {
        let members = region::members(r, reference);
        let sum: f64 = members
            .iter()
            .map(|&i| {
                let at = reference.points()[i as usize];
                reference.normals()[i as usize].dot(&(between.apply(&at) - at))
            })
            .sum();
        sum / members.len().max(1) as f64
    };
    let regions = comparison.regions.iter();
    regions
        .map(|r| (r.name.as_str(), shift(r)))
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
}

pub fn from_surface(method: SetBy, done: Settled, words: String) -> Setting {
    let mut setting = Setting::new(method, done.reference_from_measured, words);
    if done.ending == Ending::RanOut {
        setting.warnings.push(Warning::new(
            "not-settled",
            "the set did not come to rest on the reference; treat every figure as a first look",
        ));
    }
    setting.rms_mm = Some(done.rms_mm);
    setting.worst_mm = Some(done.worst_mm);
    setting.pairs = done.pairs;
    setting.settled = done.ending != Ending::RanOut;
    setting.motions = Some(done.motions);
    setting
}
