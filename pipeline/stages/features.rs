//! Reads what was asked for besides the deviation: moves of regions, folds, holes, recesses.

use ::features::fold::{Fold, fold};
use ::features::holes::{Pair, matched};
use ::features::recess::{RecessPair, read};
use ::features::shift::{Shift, shift};
use cloud::{Point, Warning};
use compare::{Verdict, verdict};

use super::checks::CheckResult;
use super::compare::Compared;
use super::register::Setting;
use super::scale::Scaled;
use crate::job::Comparison;

/// A recess with its verdict.
pub struct RecessResult {
    /// What was read.
    pub pair: RecessPair,
    /// Against its limit.
    pub verdict: Verdict,
}

/// A hole with its verdict.
pub struct HoleResult {
    /// What was found.
    pub pair: Pair,
    /// Against the comparison's limit.
    pub verdict: Verdict,
}

/// Everything found.
pub struct Found {
    /// The move of each region, in their order.
    pub shifts: Vec<Option<Shift>>,
    /// Folds asked for.
    pub folds: Vec<Fold>,
    /// Recesses asked for.
    pub recesses: Vec<RecessResult>,
    /// Holes, where asked for.
    pub holes: Vec<HoleResult>,
    /// Figures asked for by name.
    pub checks: Vec<CheckResult>,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

impl Found {
    /// Takes every verdict back, where a question is open.
    pub fn withhold(&mut self) {
        let folds = self.folds.iter_mut().map(|f| &mut f.verdict);
        let recesses = self.recesses.iter_mut().map(|r| &mut r.verdict);
        let holes = self.holes.iter_mut().map(|h| &mut h.verdict);
        let checks = self.checks.iter_mut().map(|c| &mut c.verdict);
        for verdict in folds.chain(recesses).chain(holes).chain(checks) {
            *verdict = Verdict::NotMeasured;
        }
    }

    /// The verdicts of folds, recesses, holes and checks.
    pub fn verdicts(&self) -> impl Iterator<Item = Verdict> + '_ {
        self.folds
            .iter()
            .map(|f| f.verdict)
            .chain(self.recesses.iter().map(|r| r.verdict))
            .chain(self.holes.iter().map(|h| h.verdict))
            .chain(self.checks.iter().map(|c| c.verdict))
    }
}

/// Reads everything that the comparison asks for.
pub fn features(comparison: &Comparison, scaled: &Scaled, setting: &Setting, compared: &Compared) -> Found {
    let reference = &scaled.reference;
    let pm = |at: &Point| setting.pm_at_mm(at);
    let mut warnings = Vec::new();
    let shifts = compared
        .regions
        .iter()
        .map(|r| {
            shift(
                &r.region,
                &r.members,
                reference,
                &compared.deviations,
                &compared.smoothed,
                &pm,
            )
        })
        .collect();
    let mut folds = Vec::new();
    for r in compared
        .regions
        .iter()
        .filter(|r| comparison.folds.contains(&r.region.name))
    {
        match fold(&r.region, &r.members, reference, &compared.deviations, &pm) {
            Some(found) => folds.push(found),
            None => warnings.push(Warning::new(
                "fold-not-seen",
                format!(
                    "the flange {} is not seen well enough to read its fold",
                    r.region.name
                ),
            )),
        }
    }
    let mut recesses = Vec::new();
    for asked in &comparison.recesses {
        match read(
            &asked.name,
            &asked.outline,
            reference,
            &scaled.measured,
            &setting.reference_from_measured,
        ) {
            Ok(pair) => recesses.push(RecessResult {
                verdict: verdict_of_recess(&pair, asked.limit_mm, pm(&pair.reference.at)),
                pair,
            }),
            Err(why) => warnings.push(Warning::new(
                "recess-not-read",
                format!("the recess {} could not be read: {why}", asked.name),
            )),
        }
    }
    let holes = if comparison.holes {
        matched(reference, &scaled.measured, &setting.reference_from_measured)
            .into_iter()
            .map(|mut pair| {
                let spacing_mm = reference.spacing_mm.max(scaled.measured.spacing_mm);
                let verdict = verdict_of_hole(&pair, comparison.limit_mm, spacing_mm, &pm);
                if let Some(ours) = &pair.reference {
                    pair.pm_mm = pair.pm_mm.hypot(pm(&ours.at));
                }
                HoleResult { verdict, pair }
            })
            .collect()
    } else {
        Vec::new()
    };
    Found {
        shifts,
        folds,
        recesses,
        holes,
        checks: Vec::new(),
        warnings,
    }
}

fn verdict_of_recess(pair: &RecessPair, limit_mm: f64, setting_pm_mm: f64) -> Verdict {
    let pm = pair.pm_mm.hypot(setting_pm_mm);
    Verdict::of_all([
        verdict::decide(pair.moved.norm(), pm, limit_mm),
        verdict::decide(
            pair.measured.depth_mm - pair.reference.depth_mm,
            pair.pm_mm,
            limit_mm,
        ),
        verdict::decide(
            pair.measured.width_mm[0] - pair.reference.width_mm[0],
            pair.pm_mm,
            limit_mm,
        ),
        verdict::decide(
            pair.measured.width_mm[1] - pair.reference.width_mm[1],
            pair.pm_mm,
            limit_mm,
        ),
    ])
}

/// A hole narrower than this many spacings may be found in one set and not in the other, though both have it.
const SURELY_FOUND: f64 = 7.0;

fn verdict_of_hole(
    pair: &Pair,
    limit_mm: f64,
    spacing_mm: f64,
    setting_pm_mm: &dyn Fn(&Point) -> f64,
) -> Verdict {
    match (&pair.reference, &pair.measured) {
        (Some(ours), Some(theirs)) => {
            let pm = pair.pm_mm.hypot(setting_pm_mm(&ours.at));
            Verdict::of_all([
                verdict::decide((theirs.at - ours.at).norm(), pm, limit_mm),
                verdict::decide(theirs.diameter_mm - ours.diameter_mm, pair.pm_mm, limit_mm),
            ])
        }
        (Some(hole), None) | (None, Some(hole)) if hole.diameter_mm < SURELY_FOUND * spacing_mm => {
            Verdict::NotMeasured
        }
        _ => Verdict::Outside,
    }
}
