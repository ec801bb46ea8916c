//! Recesses in their declared outlines, and beads and recesses that are found, each with its verdict.

use ::features::bead::{self, Bead, Pair};
use ::features::recess::{RecessPair, read};
use cloud::{Bounds, Vector, Warning};
use compare::{Verdict, verdict};

use crate::job::Comparison;
use crate::stages::compare::Compared;
use crate::stages::register::Setting;
use crate::stages::scale::Scaled;

/// A recess with its verdict.
pub struct RecessResult {
    /// What was read.
    pub pair: RecessPair,
    /// Against its limit.
    pub verdict: Verdict,
}

/// A bead with its verdict.
pub struct BeadResult {
    /// The region in which it was found.
    pub region: String,
    /// What was found.
    pub pair: Pair,
    /// How far its place, depth and width may be off, mm.
    pub limit_mm: f64,
    /// Against that limit.
    pub verdict: Verdict,
}

impl BeadResult {
    /// Whether it reads as moved and only the ± of the setting hides that: either the bead has moved or the set has slid.
    pub fn may_have_moved(&self) -> bool {
        let told = matches!(self.verdict, Verdict::TooClose | Verdict::NotMeasured);
        let by_reading = |pm_mm| verdict::decide(self.pair.moved_mm.norm(), pm_mm, self.limit_mm);
        told && self.pair.read_pm_mm().map(by_reading) == Some(Verdict::Outside)
    }

    /// Whether it is out by more than its place once it is moved back by `moved` (mm): too deep, narrow, short at an end, or in one
    /// of the two sets only.
    pub fn is_out_in_form(&self, moved: &Vector) -> bool {
        let both = self.pair.reference.as_ref().zip(self.pair.measured.as_ref());
        both.is_none_or(|both| {
            verdict_of_form(both, moved, self.limit_mm, self.pair.pm_mm) == Verdict::Outside
        })
    }
}

/// A bead narrower at half depth than this many spacings may be found in one set and not in the other.
const SURELY_FOUND: f64 = 3.0;

/// Reads the recesses whose outlines are declared.
pub fn recesses(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    warnings: &mut Vec<Warning>,
) -> Vec<RecessResult> {
    let mut recesses = Vec::new();
    for asked in &comparison.asked.recesses {
        match read(
            &asked.name,
            &asked.outline,
            &scaled.reference,
            &scaled.measured,
            &setting.reference_from_measured,
        ) {
            Ok(pair) => {
                let setting_pm_mm = setting.pm_across_mm(&pair.reference.at, &into(&asked.outline));
                let pair = pair.with_setting(setting_pm_mm);
                recesses.push(RecessResult {
                    verdict: verdict_of_recess(&pair, asked.limit_mm),
                    pair,
                });
            }
            Err(why) => warnings.push(Warning::new(
                "recess-not-read",
                format!("the recess {} could not be read: {why}", asked.name),
            )),
        }
    }
    recesses
}

/// The way into the skin in which a recess is pressed: the thinnest of its outline.
fn into(outline: &Bounds) -> Vector {
    let mut into = Vector::zeros();
    into[outline.size().imin()] = 1.0;
    into
}

fn verdict_of_recess(pair: &RecessPair, limit_mm: f64) -> Verdict {
    let sizes = [
        pair.measured.depth_mm - pair.reference.depth_mm,
        pair.measured.width_mm[0] - pair.reference.width_mm[0],
        pair.measured.width_mm[1] - pair.reference.width_mm[1],
    ];
    let place = verdict::decide(pair.moved.norm(), pair.pm_mm, limit_mm);
    let sizes = sizes.map(|off| verdict::decide(off, pair.size_pm_mm, limit_mm));
    Verdict::of_all([place].into_iter().chain(sizes))
}

/// Finds beads and recesses in the regions asked for, and matches them.
pub fn beads(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    compared: &Compared,
) -> Vec<BeadResult> {
    let spacing_mm = scaled.reference.spacing_mm.max(scaled.measured.spacing_mm);
    let mut beads = Vec::new();
    for result in &compared.regions {
        let region = &result.region;
        if !comparison.asked.beads.contains(&region.name) {
            continue;
        }
        let pairs = bead::matched(
            &scaled.reference,
            &result.members,
            &scaled.measured,
            &setting.reference_from_measured,
        );
        beads.extend(pairs.into_iter().map(|pair| {
            let either = pair.reference.as_ref().or(pair.measured.as_ref());
            let setting_pm_mm = either.map_or(0.0, |b| setting.pm_across_mm(&b.at, &b.up));
            let mut pair = pair.with_setting(setting_pm_mm);
            let either = pair.reference.as_ref().or(pair.measured.as_ref());
            // So coarse a set may not show a bead that it has.
            let coarse = either.is_some_and(|b| b.width_mm < SURELY_FOUND * spacing_mm);
            let unmatched = pair.reference.is_none() || pair.measured.is_none();
            let verdict = if unmatched && coarse {
                Verdict::NotMeasured
            } else {
                verdict_of_bead(&pair, region.limit_mm, setting_pm_mm)
            };
            pair.name = called(&region.name, &pair.name, &comparison.asked.beads);
            BeadResult {
                region: region.name.clone(),
                pair,
                limit_mm: region.limit_mm,
                verdict,
            }
        }));
    }
    beads
}

/// Regions may have beads of the same number: the name tells where. A region that is called for its bead says the word once,
/// unless another region would lend the same name then.
fn called(region: &str, bead: &str, regions: &[String]) -> String {
    let kind = bead.split(' ').next().unwrap_or_default();
    let before = region
        .strip_suffix(kind)
        .map(str::trim_end)
        .filter(|before| before.len() < region.len() - kind.len() || before.is_empty());
    match before {
        Some("") => bead.to_string(),
        Some(before) if !regions.iter().any(|other| other == before) => format!("{before} {bead}"),
        _ => format!("{region} {bead}"),
    }
}

/// The setting's share of the ± is in that of the pair, and `setting_pm_mm` is it by itself.
fn verdict_of_bead(pair: &Pair, limit_mm: f64, setting_pm_mm: f64) -> Verdict {
    let (Some(ours), Some(theirs)) = (&pair.reference, &pair.measured) else {
        // What can't be placed to half of its own width may be the shadow of something else.
        let placed = |bead: &Bead| pair.pm_mm < bead.width_mm / 2.0;
        let alone = pair.reference.as_ref().or(pair.measured.as_ref());
        return match alone.is_some_and(placed) {
            true => Verdict::Outside,
            false => Verdict::NotMeasured,
        };
    };
    let place = verdict::decide(pair.moved_mm.norm(), pair.pm_mm, limit_mm);
    let form = verdict_of_form((ours, theirs), &Vector::zeros(), limit_mm, setting_pm_mm);
    Verdict::of_all([place, form])
}

/// Of all but its place, each end as it lies once the bead is moved back by `moved`, mm.
fn verdict_of_form(
    (ours, theirs): (&Bead, &Bead),
    moved: &Vector,
    limit_mm: f64,
    setting_pm_mm: f64,
) -> Verdict {
    let both = |pm: fn(&Bead) -> f64| pm(ours).hypot(pm(theirs));
    // An end that runs out of what is seen is no end, and a round recess has none.
    let has_ends = ours.kind == bead::Kind::Bead && theirs.kind == bead::Kind::Bead;
    let ends = (0..2)
        .filter(|&k| has_ends && !ours.open[k] && !theirs.open[k])
        .map(|k| {
            let off_mm = (theirs.ends[k] - ours.ends[k] - moved).dot(&ours.along);
            let pm_mm = ours.pm_ends_mm[k].hypot(theirs.pm_ends_mm[k]);
            verdict::decide(off_mm, pm_mm.hypot(setting_pm_mm), limit_mm)
        });
    let sizes = [
        verdict::decide(theirs.depth_mm - ours.depth_mm, both(|b| b.pm_depth_mm), limit_mm),
        verdict::decide(theirs.width_mm - ours.width_mm, both(|b| b.pm_width_mm), limit_mm),
    ];
    // A ring has its size where others have ends.
    let ring = (ours.closed && theirs.closed).then(|| {
        verdict::decide(
            theirs.length_mm - ours.length_mm,
            both(|b| b.pm_ends_mm[0]),
            limit_mm,
        )
    });
    Verdict::of_all(sizes.into_iter().chain(ends).chain(ring))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn a_region_that_is_called_for_its_bead_says_the_word_once() {
        let regions = ["bead", "left bead", "sill bead", "sill", "tread", "redbead"].map(String::from);
        for (region, bead, name) in [
            ("bead", "bead 1", "bead 1"),
            ("bead", "recess 1", "bead recess 1"),
            ("left bead", "bead 2", "left bead 2"),
            ("sill bead", "bead 1", "sill bead bead 1"),
            ("sill", "bead 1", "sill bead 1"),
            ("redbead", "bead 1", "redbead bead 1"),
        ] {
            assert_eq!(called(region, bead, &regions), name);
        }
    }

    /// A bead of both sets that reads 3.2 mm aside, known to a tenth by itself.
    fn aside(setting_pm_mm: f64) -> BeadResult {
        let pair = Pair {
            name: "bead 1".to_string(),
            reference: Some(made::bead(0.0)),
            measured: Some(made::bead(3.2)),
            moved_mm: Vector::y() * 3.2,
            pm_mm: 0.07,
            words: vec!["1/8 to the right".to_string()],
        };
        let pair = pair.with_setting(setting_pm_mm);
        BeadResult {
            region: "floor".to_string(),
            verdict: verdict_of_bead(&pair, 1.6, setting_pm_mm),
            pair,
            limit_mm: 1.6,
        }
    }

    #[test]
    fn a_bead_that_only_lies_wrong_is_right_in_form_once_it_is_moved_back() {
        let moved = Vector::new(4.8, 3.2, 0.0);
        let mut bead = aside(0.1);
        assert!(!bead.is_out_in_form(&Vector::zeros()));
        let theirs = bead.pair.measured.as_mut().unwrap();
        theirs.ends = theirs.ends.map(|end| end + Vector::x() * 4.8);
        assert!(bead.is_out_in_form(&Vector::zeros()) && !bead.is_out_in_form(&moved));
        let theirs = bead.pair.measured.as_mut().unwrap();
        theirs.depth_mm = 3.0;
        assert!(bead.is_out_in_form(&moved));
    }

    #[test]
    fn the_plus_minus_of_a_place_has_the_share_of_the_setting() {
        let sure = aside(0.24);
        assert!((sure.pair.pm_mm - 0.25).abs() < 1e-3);
        assert_eq!(sure.pair.words, ["1/8 to the right"]);
        assert!(sure.verdict == Verdict::Outside && !sure.may_have_moved());
        let hidden = aside(4.0);
        assert_eq!(hidden.pair.words, ["in its place"]);
        assert!(hidden.verdict == Verdict::TooClose && hidden.may_have_moved());
        let slides = aside(1_000.0);
        assert!(slides.pair.words[0].contains("nothing holds the set"));
        assert!(slides.verdict == Verdict::NotMeasured && slides.may_have_moved());
    }
}
