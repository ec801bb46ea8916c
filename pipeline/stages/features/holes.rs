//! Holes and slots of both sets, matched, each with its verdict.

use ::features::holes::{Hole, Missing, Pair, found_from_mm, matched, surely_found_from_mm};
use cloud::held::SmallMotion;
use cloud::survey::tangents;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};
use cloud::{NamedPoint, Vector, Warning};
use compare::{Verdict, verdict};

use crate::job::{CheckKind, Comparison};
use crate::say;
use crate::stages::register::Setting;
use crate::stages::scale::Scaled;

/// Where narrower holes than this are not found it is said, mm (a quarter inch; common practice, no source).
const COMMON_MM: f64 = MM_PER_INCH / 4.0;

/// A hole with its verdict.
pub struct HoleResult {
    /// What was found; its ± have the setting's share in them.
    pub pair: Pair,
    /// Against the comparison's limit.
    pub verdict: Verdict,
}

impl HoleResult {
    /// In the shop's words; what is too close to call is named, each with its ±.
    pub fn words(&self, limit_mm: f64) -> String {
        let words = self.pair.words();
        if self.verdict != Verdict::TooClose {
            return words;
        }
        let close = judged(&self.pair, limit_mm).into_iter();
        let close = close.filter(|(.., verdict)| *verdict == Verdict::TooClose);
        let named: Vec<String> = close
            .map(|(what, pm_mm, _)| format!("{what} ({})", say::pm(pm_mm)))
            .collect();
        match named.is_empty() {
            true => words,
            false => format!("{words}; too close to call: {}", named.join(", ")),
        }
    }
}

/// How far apart the points of the coarser set lie, mm: it bounds what both sets show. A mesh bounds nothing beside a set of points,
/// since its holes are drawn.
pub fn coarser_spacing_mm(scaled: &Scaled) -> f64 {
    let (ours_mm, theirs_mm) = (scaled.reference.spacing_mm, scaled.measured.spacing_mm);
    match is_mesh(scaled) {
        [true, false] => theirs_mm,
        [false, true] => ours_mm,
        _ => ours_mm.max(theirs_mm),
    }
}

/// Whether the reference has faces, and the measured set.
fn is_mesh(scaled: &Scaled) -> [bool; 2] {
    [
        !scaled.reference.cloud.faces.is_empty(),
        !scaled.measured.cloud.faces.is_empty(),
    ]
}

/// Finds the holes where they are asked for, or where something that is asked for leans on them.
pub fn holes(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    warnings: &mut Vec<Warning>,
) -> Vec<HoleResult> {
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
    let spacing_mm = coarser_spacing_mm(scaled);
    let [ours_drawn, theirs_drawn] = is_mesh(scaled);
    let mut found: Vec<HoleResult> = matched(reference, measured, &setting.reference_from_measured)
        .into_iter()
        .map(|mut pair| {
            if let Some(ours) = &pair.reference {
                pair.pm_mm = pair.pm_mm.hypot(setting.pm_across_mm(&ours.at, &ours.axis));
                pair.normal_pm_mm = pair.normal_pm_mm.hypot(setting.pm_along_mm(&ours.at, &ours.axis));
                pair.axis_pm = pair.axis_pm.hypot(turn_pm(setting, &ours.axis));
            }
            let lacking_is_drawn = if pair.reference.is_some() {
                theirs_drawn
            } else {
                ours_drawn
            };
            if !lacking_is_drawn {
                mark_too_small(&mut pair, spacing_mm);
            }
            let verdict = verdict_of(&pair, comparison.limit_mm);
            HoleResult { pair, verdict }
        })
        .collect();
    withhold_alone(&mut found, |hole| {
        setting.pm_across_mm(&hole.at, &hole.axis) > verdict::NOT_HELD_MM
    });
    if asked.holes {
        warnings.extend(too_small(found.len(), spacing_mm));
    }
    found
}

/// Where each set has holes that the other has not, those in sheets that slide where nothing holds them may be the same ones.
fn withhold_alone(found: &mut [HoleResult], slides: impl Fn(&Hole) -> bool) {
    let alone = |pair: &Pair| pair.reference.is_some() != pair.measured.is_some();
    let of_ours = |ours: bool| {
        let mut pairs = found.iter().map(|hole| &hole.pair);
        pairs.any(|pair| alone(pair) && pair.reference.is_some() == ours)
    };
    if !of_ours(true) || !of_ours(false) {
        return;
    }
    for hole in found.iter_mut().filter(|hole| alone(&hole.pair)) {
        let either = hole.pair.reference.as_ref().or(hole.pair.measured.as_ref());
        if either.is_some_and(&slides) {
            hole.verdict = Verdict::NotMeasured;
        }
    }
}

/// Says from which width on holes are found: where none was, and where it is more than that of a common hole.
fn too_small(found: usize, spacing_mm: f64) -> Option<Warning> {
    let from_mm = found_from_mm(spacing_mm);
    let none = match found {
        0 => "no hole was found that can be compared: ",
        _ if from_mm > COMMON_MM => "",
        _ => return None,
    };
    Some(Warning::new(
        "holes-too-small",
        format!(
            "{none}points lie {spacing_mm:.2} mm ({}) apart: a hole under {} is not found, and one under {} not surely; scan nearer",
            fraction_of_inch(spacing_mm, 64),
            say::plain_64ths(from_mm),
            say::plain_64ths(surely_found_from_mm(spacing_mm))
        ),
    ))
}

/// Of a hole that one set alone shows nothing is known where the other may have it and not show it.
fn mark_too_small(pair: &mut Pair, spacing_mm: f64) {
    let ((Some(hole), None) | (None, Some(hole))) = (&pair.reference, &pair.measured) else {
        return;
    };
    let unread = pair.missing == Some(Missing::MetalAround);
    if !unread && hole.diameter_mm < surely_found_from_mm(spacing_mm) {
        pair.missing = Some(Missing::TooSmall);
    }
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

/// Of a hole of both sets what is judged, its ± and the verdict: its place in the sheet and out of it, and its size. A round hole
/// that was torn long is out as one is that was drilled too wide.
fn judged(pair: &Pair, limit_mm: f64) -> Vec<(&'static str, f64, Verdict)> {
    let (Some(off), Some([wider, longer])) = (pair.offset(), pair.larger_mm()) else {
        return Vec::new();
    };
    let [in_sheet, out_of_it] = pair.placed(&off, 0.0, limit_mm);
    let sized =
        |what: &'static str, (mm, pm_mm): (f64, f64)| (what, pm_mm, verdict::decide(mm, pm_mm, limit_mm));
    let mut all = vec![
        ("where it lies in the sheet", pair.pm_mm, in_sheet),
        ("how it stands out of the sheet", pair.normal_pm_mm, out_of_it),
        sized("its width", wider),
    ];
    let mut holes = [&pair.reference, &pair.measured].into_iter().flatten();
    if holes.any(|hole| hole.slot.is_some()) {
        all.push(sized("its length", longer));
    }
    all
}

fn verdict_of(pair: &Pair, limit_mm: f64) -> Verdict {
    match judged(pair, limit_mm) {
        all if !all.is_empty() => Verdict::of_all(all.into_iter().map(|(.., verdict)| verdict)),
        // Too small to be seen in both; or metal all round and no clean hole in it: torn, filled by half, or there and not
        // read.
        _ if matches!(pair.missing, Some(Missing::TooSmall | Missing::MetalAround)) => Verdict::NotMeasured,
        _ => Verdict::Outside,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::{hole, pair};
    use ::features::holes::Slot;
    use cloud::Point;

    fn found(name: &str, x: f64) -> HoleResult {
        let pair = pair(Some(hole(x, 20.0)), None);
        HoleResult {
            pair: Pair {
                name: name.to_string(),
                ..pair
            },
            verdict: Verdict::Within,
        }
    }

    /// At 2.15 mm the bound is 5.5 × 2.15 = 11.8 mm, and 7 × 2.15 = 15.05 mm for a sure find.
    #[test]
    fn what_holes_the_spacing_hides_is_told() {
        let words = too_small(0, 2.15).unwrap().words;
        let said = "points lie 2.15 mm (5/64) apart: a hole under 15/32 in (11.8 mm) is not found, and one under 19/32 in";
        assert!(
            words.starts_with("no hole was found") && words.contains(said),
            "{words}"
        );
        assert!(too_small(3, 2.15).unwrap().words.starts_with("points lie"));
        // A quarter inch is seen at 1.1 mm.
        assert_eq!(too_small(3, 1.1), None);
        assert!(too_small(0, 1.1).is_some());
    }

    #[test]
    fn a_hole_of_one_set_near_the_bound_is_neither_drilled_nor_filled() {
        let alone = |diameter_mm: f64, spacing_mm: f64, ours: bool, missing: Option<Missing>| {
            let mut pair = found("hole 1", 0.0).pair;
            pair.missing = missing;
            if let Some(hole) = &mut pair.reference {
                hole.diameter_mm = diameter_mm;
            }
            if !ours {
                pair.measured = pair.reference.take();
            }
            mark_too_small(&mut pair, spacing_mm);
            (pair.missing, verdict_of(&pair, 1.6))
        };
        let metal = Some(Missing::MetalInPlace);
        let unknown = (Some(Missing::TooSmall), Verdict::NotMeasured);
        assert_eq!(alone(14.0, 2.15, true, metal), unknown);
        assert_eq!(alone(14.0, 2.15, false, None), unknown);
        assert_eq!(alone(16.0, 2.15, true, metal), (metal, Verdict::Outside));
        assert_eq!(alone(16.0, 2.15, false, None), (None, Verdict::Outside));
        let around = Some(Missing::MetalAround);
        assert_eq!(alone(14.0, 2.15, true, around), (around, Verdict::NotMeasured));
    }

    #[test]
    fn a_round_hole_that_was_torn_long_is_out() {
        let torn = |length_mm: f64| {
            let mut pair = found("hole 1", 0.0).pair;
            pair.measured = pair.reference;
            if let Some(hole) = &mut pair.measured {
                hole.slot = Some(Slot {
                    length_mm,
                    along: Vector::x(),
                    length_pm_mm: 0.2,
                });
            }
            verdict_of(&pair, 1.6)
        };
        assert_eq!(torn(26.0), Verdict::Outside);
        assert_eq!(torn(21.0), Verdict::Within);
    }

    /// Read to 0.7 in its sheet and to 5.2 out of it; a slot whose length is known to 1.3.
    #[test]
    fn a_hole_is_out_by_no_other_plus_minus_and_says_what_is_too_close() {
        let mut pair = pair(Some(hole(0.0, 20.0)), Some(hole(0.1, 20.0)));
        if let Some(theirs) = &mut pair.measured {
            theirs.at.z = -2.32;
        }
        (pair.pm_mm, pair.normal_pm_mm) = (0.7, 5.19);
        let badly_held = HoleResult {
            verdict: verdict_of(&pair, 1.5875),
            pair,
        };
        assert_eq!(badly_held.verdict, Verdict::TooClose);
        let words = badly_held.words(1.5875);
        let close = "; too close to call: how it stands out of the sheet (±5.19 mm)";
        assert!(words.ends_with(close), "{words}");
        let slot = |length_mm: f64, length_pm_mm: f64| Slot {
            length_mm,
            along: Vector::x(),
            length_pm_mm,
        };
        let mut pair = crate::made::pair(Some(hole(0.0, 12.0)), Some(hole(0.2, 12.0)));
        for (hole, length_mm) in [(&mut pair.reference, 29.7), (&mut pair.measured, 29.2)] {
            if let Some(hole) = hole {
                hole.slot = Some(slot(length_mm, 0.9));
            }
        }
        let verdict = verdict_of(&pair, 1.5875);
        let words = HoleResult { pair, verdict }.words(1.5875);
        assert!(
            words.ends_with("; too close to call: its length (±1.27 mm)"),
            "{words}"
        );
    }

    /// One that is missing here and one too many there, in a sheet that slides: nothing is drilled and nothing filled.
    #[test]
    fn holes_of_one_set_each_in_a_sheet_that_slides_may_be_the_same() {
        let judged = |sets: &[bool], slides: bool| -> Vec<Verdict> {
            let mut holes: Vec<HoleResult> = sets.iter().map(|_| found("hole", 0.0)).collect();
            for (hole, ours) in holes.iter_mut().zip(sets) {
                hole.verdict = Verdict::Outside;
                if !ours {
                    hole.pair.measured = hole.pair.reference.take();
                }
            }
            withhold_alone(&mut holes, |_| slides);
            holes.iter().map(|hole| hole.verdict).collect()
        };
        assert_eq!(judged(&[true, false], true), [Verdict::NotMeasured; 2]);
        assert_eq!(judged(&[true, false], false), [Verdict::Outside; 2]);
        assert_eq!(judged(&[true, true], true), [Verdict::Outside; 2]);
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
