//! Holes and slots of both sets, matched, each with its verdict.

use ::features::holes::{Missing, Pair, SURELY_FOUND, matched};
use cloud::Vector;
use cloud::held::{SmallMotion, row};
use cloud::survey::tangents;
use compare::{Verdict, verdict};

use crate::job::{CheckKind, Comparison};
use crate::stages::register::Setting;
use crate::stages::scale::Scaled;

/// A hole with its verdict.
pub struct HoleResult {
    /// What was found; its ± have the setting's share in them.
    pub pair: Pair,
    /// Against the comparison's limit.
    pub verdict: Verdict,
}

/// Finds the holes where they are asked for, or where something that is asked for leans on them.
pub fn holes(comparison: &Comparison, scaled: &Scaled, setting: &Setting) -> Vec<HoleResult> {
    let asked = &comparison.asked;
    let leant_on = asked.shell.is_some()
        || asked.checks.iter().any(|c| {
            matches!(
                c.kind,
                CheckKind::Bolt { .. }
                    | CheckKind::Tram { .. }
                    | CheckKind::Height { .. }
                    | CheckKind::Round { .. }
            )
        });
    if !asked.holes && !leant_on {
        return Vec::new();
    }
    let (reference, measured) = (&scaled.reference, &scaled.measured);
    let spacing_mm = reference.spacing_mm.max(measured.spacing_mm);
    matched(reference, measured, &setting.reference_from_measured)
        .into_iter()
        .map(|mut pair| {
            if let Some(ours) = &pair.reference {
                let out = row(&(ours.at - setting.centre_mm()), &ours.axis);
                pair.pm_mm = pair.pm_mm.hypot(setting.pm_across_mm(&ours.at, &ours.axis));
                pair.normal_pm_mm = pair.normal_pm_mm.hypot(setting.pm_of_row_mm(&out));
                pair.axis_pm = pair.axis_pm.hypot(turn_pm(setting, &ours.axis));
            }
            let verdict = verdict_of(&pair, comparison.limit_mm, spacing_mm);
            HoleResult { pair, verdict }
        })
        .collect()
}

/// ± of how the setting may tip an axis, rad: what a turn about a direction across it moves at the radius of what set it.
fn turn_pm(setting: &Setting, axis: &Vector) -> f64 {
    let Some(motions) = &setting.motions else {
        return 0.0;
    };
    let about = |way: &Vector| {
        let turn = way * motions.radius_mm;
        setting.pm_of_row_mm(&SmallMotion::new(turn.x, turn.y, turn.z, 0.0, 0.0, 0.0)) / motions.radius_mm
    };
    let (u, v) = tangents(axis);
    about(&u).max(about(&v))
}

fn verdict_of(pair: &Pair, limit_mm: f64, spacing_mm: f64) -> Verdict {
    match (&pair.reference, &pair.measured) {
        (Some(ours), Some(theirs)) => Verdict::of_all([
            verdict::decide((theirs.at - ours.at).norm(), pair.pm_mm, limit_mm),
            verdict::decide(theirs.diameter_mm - ours.diameter_mm, pair.size_pm_mm, limit_mm),
        ]),
        (Some(hole), None) | (None, Some(hole)) if hole.diameter_mm < SURELY_FOUND * spacing_mm => {
            Verdict::NotMeasured
        }
        // Metal all round and no clean hole in it: torn, filled by half, or there and not read.
        (Some(_), None) if pair.missing == Some(Missing::MetalAround) => Verdict::NotMeasured,
        _ => Verdict::Outside,
    }
}
