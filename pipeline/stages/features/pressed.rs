//! Recesses in their declared outlines, and beads and recesses that are found, each with its verdict.

use ::features::bead::{self, Pair};
use ::features::recess::{RecessPair, read};
use cloud::Warning;
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
            Ok(pair) => recesses.push(RecessResult {
                verdict: verdict_of_recess(&pair, asked.limit_mm, setting.pm_at_mm(&pair.reference.at)),
                pair,
            }),
            Err(why) => warnings.push(Warning::new(
                "recess-not-read",
                format!("the recess {} could not be read: {why}", asked.name),
            )),
        }
    }
    recesses
}

fn verdict_of_recess(pair: &RecessPair, limit_mm: f64, setting_pm_mm: f64) -> Verdict {
    let pm = pair.pm_mm.hypot(setting_pm_mm);
    let sizes = [
        pair.measured.depth_mm - pair.reference.depth_mm,
        pair.measured.width_mm[0] - pair.reference.width_mm[0],
        pair.measured.width_mm[1] - pair.reference.width_mm[1],
    ];
    let place = verdict::decide(pair.moved.norm(), pm, limit_mm);
    let sizes = sizes.map(|off| verdict::decide(off, pair.pm_mm, limit_mm));
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
        beads.extend(pairs.into_iter().map(|mut pair| {
            let either = pair.reference.as_ref().or(pair.measured.as_ref());
            let setting_pm_mm = either.map_or(0.0, |b| setting.pm_across_mm(&b.at, &b.up));
            // So coarse a set may not show a bead that it has.
            let coarse = either.is_some_and(|b| b.width_mm < SURELY_FOUND * spacing_mm);
            let unmatched = pair.reference.is_none() || pair.measured.is_none();
            let verdict = if unmatched && coarse {
                Verdict::NotMeasured
            } else {
                verdict_of_bead(&pair, region.limit_mm, setting_pm_mm)
            };
            // Regions may have beads of the same number: the name tells where.
            pair.name = format!("{} {}", region.name, pair.name);
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

fn verdict_of_bead(pair: &Pair, limit_mm: f64, setting_pm_mm: f64) -> Verdict {
    let (Some(ours), Some(theirs)) = (&pair.reference, &pair.measured) else {
        // What can't be placed to half of its own width may be the shadow of something else.
        let placed = |bead: &bead::Bead| pair.pm_mm.hypot(setting_pm_mm) < bead.width_mm / 2.0;
        let alone = pair.reference.as_ref().or(pair.measured.as_ref());
        return match alone.is_some_and(placed) {
            true => Verdict::Outside,
            false => Verdict::NotMeasured,
        };
    };
    let both = |pm: fn(&bead::Bead) -> f64| pm(ours).hypot(pm(theirs));
    // An end that runs out of what is seen is no end, and a round recess has none.
    let has_ends = ours.kind == bead::Kind::Bead && theirs.kind == bead::Kind::Bead;
    let ends = (0..2)
        .filter(|&k| has_ends && !ours.open[k] && !theirs.open[k])
        .map(|k| {
            let off_mm = (theirs.ends[k] - ours.ends[k]).dot(&ours.along);
            verdict::decide(off_mm, both(|b| b.pm_end_mm).hypot(setting_pm_mm), limit_mm)
        });
    let sizes = [
        verdict::decide(pair.moved_mm.norm(), pair.pm_mm.hypot(setting_pm_mm), limit_mm),
        verdict::decide(theirs.depth_mm - ours.depth_mm, both(|b| b.pm_depth_mm), limit_mm),
        verdict::decide(theirs.width_mm - ours.width_mm, both(|b| b.pm_width_mm), limit_mm),
    ];
    // A ring has its size where others have ends.
    let ring = (ours.closed && theirs.closed)
        .then(|| verdict::decide(theirs.length_mm - ours.length_mm, both(|b| b.pm_end_mm), limit_mm));
    Verdict::of_all(sizes.into_iter().chain(ends).chain(ring))
}
