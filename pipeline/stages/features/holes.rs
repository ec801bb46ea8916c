//! Holes and slots of both sets, matched, each with its verdict.

use ::features::holes::{Missing, Pair, SURELY_FOUND, matched};
use cloud::held::{SmallMotion, row};
use cloud::survey::tangents;
use cloud::{NamedPoint, Vector};
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

/// Calls each hole by the named place that lies in it, the nearest to its centre: `hole H5`. The others keep their numbers, and
/// so does one whose name another has already.
pub fn call_by_places<'p>(holes: &mut [HoleResult], places: impl Iterator<Item = &'p NamedPoint> + Clone) {
    for k in 0..holes.len() {
        let pair = &holes[k].pair;
        let Some(hole) = pair.reference.or(pair.measured) else {
            continue;
        };
        let nearest = places
            .clone()
            .map(|place| ((place.at_mm - hole.at).norm(), place))
            .filter(|(apart_mm, _)| *apart_mm < hole.diameter_mm / 2.0)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, place)) = nearest {
            let called = format!("hole {}", place.name);
            if holes.iter().all(|other| other.pair.name != called) {
                holes[k].pair.name = called;
            }
        }
    }
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

#[cfg(test)]
mod tests {
    use super::*;
    use ::features::holes::{Hole, Lip};
    use cloud::Point;

    fn found(name: &str, x: f64) -> HoleResult {
        let hole = Hole {
            at: Point::new(x, 0.0, 0.0),
            axis: Vector::z(),
            axis_pm: 0.01,
            diameter_mm: 20.0,
            slot: None,
            lip: Lip::CantTell,
            place_pm_mm: 0.1,
            normal_pm_mm: 0.1,
            size_pm_mm: 0.1,
        };
        let pair = Pair {
            name: name.to_string(),
            reference: Some(hole),
            measured: None,
            pm_mm: 0.1,
            normal_pm_mm: 0.1,
            axis_pm: 0.01,
            size_pm_mm: 0.1,
            missing: None,
        };
        HoleResult {
            pair,
            verdict: Verdict::Within,
        }
    }

    #[test]
    fn a_hole_is_called_by_the_place_that_lies_in_it() {
        let place = |name: &str, x: f64| NamedPoint {
            name: name.to_string(),
            at_mm: Point::new(x, 0.0, 0.0),
        };
        let mut holes = ["hole 1", "hole 2", "hole 3"].map(|name| found(name, 0.0));
        for (hole, x) in holes.iter_mut().zip([0.0, 100.0, 200.0]) {
            hole.pair.reference.as_mut().unwrap().at.x = x;
        }
        // Beside the second by more than its radius; in the third two, the nearer of which is meant.
        let places = [
            place("H5", 3.0),
            place("H6", 111.0),
            place("H7", 206.0),
            place("H8", 199.0),
        ];
        call_by_places(&mut holes, places.iter());
        let names: Vec<&str> = holes.iter().map(|h| h.pair.name.as_str()).collect();
        assert_eq!(names, ["hole H5", "hole 2", "hole H8"]);
    }
}
