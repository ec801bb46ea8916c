//! Compares the set surface with the reference, region by region.

mod unheld;
mod unseen;

use ::compare::against_mesh::{self, Asked};
use ::compare::figures::{Known, figures};
use ::compare::{Deviations, Figures, Region, Status, Verdict, against_points, region, smooth, verdict};
use cloud::{Bounds, Warning};

use super::boxes::{self, FEWEST_POINTS};
use super::features::Found;
use super::register::Setting;
use super::scale::Scaled;
use crate::job::Comparison;
use crate::say;
use unheld::{leans_on, mask_unheld};
use unseen::{metal_beyond_reach, thin};

/// A region and what was found in it.
pub struct RegionResult {
    /// The region.
    pub region: Region,
    /// Its points of the reference, ascending.
    pub members: Vec<u32>,
    /// Its figures.
    pub figures: Figures,
    /// Its verdict.
    pub verdict: Verdict,
}

/// The comparison.
pub struct Compared {
    /// At every point of the reference.
    pub deviations: Deviations,
    /// Smoothed, with ±.
    pub smoothed: Vec<Option<(f64, f64)>>,
    /// Over the whole.
    pub figures: Figures,
    /// Per region.
    pub regions: Vec<RegionResult>,
    /// Over all regions, or of the whole where there are none.
    pub verdict: Overall,
    /// Questions that withhold every verdict.
    pub open: Vec<&'static str>,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

impl Compared {
    /// Whether it is a guess which side is out: of a region, or of a whole that has none.
    pub fn side_is_guessed(&self, region: Option<&Region>) -> bool {
        let declared = region.is_some_and(|region| region.outside.is_some());
        !declared && self.warnings.iter().any(|w| w.code == "side-guessed")
    }

    /// Takes the verdict over all regions anew, where one of theirs was changed.
    pub fn judge_again(&mut self) {
        if !self.regions.is_empty() {
            self.verdict = Overall(Verdict::of_all(self.regions.iter().map(|r| r.verdict)));
        }
    }
}

/// The verdict over all regions.
#[derive(Debug, Clone, Copy)]
pub struct Overall(pub Verdict);

impl Overall {
    /// The verdict with those of the features taken in.
    pub fn max_with(&self, found: &Found) -> Verdict {
        Verdict::of_all([self.0].into_iter().chain(found.verdicts()))
    }
}

/// Figures averaged over a disc of more than this radius are told to be, mm.
const COARSE_DISC_MM: f64 = 8.0;

/// How far around a declared recess the skin is left to the recess, mm (half an inch).
const AROUND_RECESS_MM: f64 = 12.7;

/// Compares. While questions are `open` no verdict is given.
pub fn compare(
    comparison: &Comparison,
    scaled: &mut Scaled,
    setting: &Setting,
    open: &[&'static str],
) -> Compared {
    let reference = &scaled.reference;
    let motion = &setting.reference_from_measured;
    let mut deviations = match &scaled.reference_mesh {
        Some(mesh) => {
            let asked: Vec<Asked> = reference
                .points()
                .iter()
                .zip(reference.normals())
                .map(|(at, normal)| Asked {
                    at: *at,
                    normal: *normal,
                })
                .collect();
            against_mesh::compare(mesh, &asked, &scaled.measured, motion, comparison.reach_mm)
        }
        None => against_points::compare(reference, &scaled.measured, motion, comparison.reach_mm),
    };
    let free = setting.free();
    if let Some(motions) = &setting.motions {
        mask_unheld(&free, motions, reference, &mut deviations);
    }
    let sides_known = reference.sides_known;
    let declared = region::face_declared_sides(&comparison.regions, &mut scaled.reference, &mut deviations);
    let reference = &scaled.reference;
    let smoothed = smooth::smoothed(reference, &deviations);
    let setting_mm = setting.pm_at_places_mm();
    let known = Known {
        at_mm: &setting_mm,
        of_mean_mm: &|seen| mean_pm_mm(scaled, setting, seen),
    };
    let mut warnings = Vec::new();
    if !sides_known {
        warnings.extend(guessed(&comparison.regions, declared.guessed));
    }
    if sides_known && declared.turned > 0.5 {
        warnings.push(Warning::new(
            "outside-contradicts",
            format!(
                "{:.0} % of the metal in regions with a declared outside faces the other way in the reference's file; the declaration was followed",
                100.0 * declared.turned
            ),
        ));
    }
    if deviations.disc_mm > COARSE_DISC_MM {
        warnings.push(Warning::new(
            "coarse",
            format!(
                "the points lie so far apart that each figure is averaged over {:.0} mm; a fault smaller than that reads less than it is",
                2.0 * deviations.disc_mm
            ),
        ));
    }
    if !open.is_empty() {
        warnings.push(unanswered(open));
    }
    if !free.is_empty() {
        let words: Vec<&str> = free.iter().map(|f| f.words.as_str()).collect();
        warnings.push(Warning::new(
            "not-held",
            format!(
                "nothing holds the set {}; nothing is said in that direction. Keep metal that lies wider apart or faces along it, or name points",
                words.join("; ")
            ),
        ));
    }
    let recesses: Vec<Bounds> = comparison
        .asked
        .recesses
        .iter()
        .map(|r| r.outline.grown(AROUND_RECESS_MM))
        .collect();
    let mut regions = Vec::new();
    for region in &comparison.regions {
        let mut members = region::members(region, reference);
        // A recess is judged by itself; the skin around it should not be called bent because the recess is misplaced.
        members.retain(|&i| {
            !recesses
                .iter()
                .any(|r| r.contains(&reference.points()[i as usize]))
        });
        if members.len() < FEWEST_POINTS {
            warnings.push(Warning::new(
                "region-empty",
                boxes::empty(region, members.len(), reference),
            ));
        }
        warnings.extend(metal_beyond_reach(
            &region.name,
            &members,
            reference,
            scaled,
            setting,
            comparison,
            &deviations,
        ));
        let figures = figures(
            reference,
            &deviations,
            &smoothed,
            &members,
            region.limit_mm,
            &known,
        );
        let mut verdict = verdict::of_region(&figures);
        let of = format!("region {}", region.name);
        if let Some(thin) = thin(&members, scaled, setting, &deviations) {
            warnings.push(thin.told(&of, deviations.disc_mm));
            if thin.hides_too_much() {
                verdict = Verdict::NotMeasured;
            }
        }
        if let Some(motions) = &setting.motions
            && let Some(leaning) = leans_on(&free, &members, reference, motions)
            && verdict != Verdict::NotMeasured
        {
            warnings.push(Warning::new(
                "verdict-withheld",
                format!(
                    "region {}: no verdict, since nothing holds the set {leaning}",
                    region.name
                ),
            ));
            verdict = Verdict::NotMeasured;
        }
        if !open.is_empty() {
            verdict = Verdict::NotMeasured;
        }
        if region.status == Status::Kept && verdict == Verdict::Outside {
            let others = comparison
                .regions
                .iter()
                .filter(|r| r.status == Status::Kept)
                .count()
                > 1;
            let words = if others {
                "but does not lie where the other kept metal says: one of them has moved. Mark it otherwise, or set by points"
            } else {
                "but not all of it lies as it did. Mark what of it was worked or knocked as a region of its own, or set by points"
            };
            warnings.push(Warning::new(
                "kept-has-moved",
                format!("region {} is marked as left alone, {words}", region.name),
            ));
        }
        warnings.extend(judged_elsewhere(&of, &figures, verdict));
        regions.push(RegionResult {
            region: region.clone(),
            members,
            figures,
            verdict,
        });
    }
    let everything: Vec<u32> = (0..reference.points().len() as u32).collect();
    let figures = figures(
        reference,
        &deviations,
        &smoothed,
        &everything,
        comparison.limit_mm,
        &known,
    );
    if figures.coverage < 0.05 {
        warnings.push(Warning::new(
            "hardly-seen",
            "hardly any of the reference has measured metal near it: do the two sets lie in one frame, and are they the same part?",
        ));
    }
    let overall = if regions.is_empty() {
        let thin = thin(&everything, scaled, setting, &deviations);
        warnings.extend(thin.iter().map(|thin| thin.told("the part", deviations.disc_mm)));
        if free.is_empty() && open.is_empty() && !thin.is_some_and(|thin| thin.hides_too_much()) {
            let verdict = verdict::of_region(&figures);
            warnings.extend(judged_elsewhere("the part", &figures, verdict));
            verdict
        } else {
            Verdict::NotMeasured
        }
    } else {
        Verdict::of_all(regions.iter().map(|r| r.verdict))
    };
    Compared {
        deviations,
        smoothed,
        figures,
        regions,
        verdict: Overall(overall),
        open: open.to_vec(),
        warnings,
    }
}

/// Less of the reference than this on sheets whose outside nobody declares isn't told of.
const LEAST_GUESSED: f64 = 0.02;

/// What is told where the reference does not say which side is out: of all of it, or of the share that no region declares.
fn guessed(regions: &[Region], share: f64) -> Option<Warning> {
    if regions.iter().all(|r| r.outside.is_none()) {
        return Some(Warning::new(
            "side-guessed",
            "the reference does not say which side is out; + and − follow a guess. Give it normals, or regions their \"outside\"",
        ));
    }
    (share > LEAST_GUESSED).then(|| {
        Warning::new(
            "side-guessed",
            format!(
                "the reference does not say which side is out, and {:.0} % of its metal lies beyond a sharp fold from every region with an \"outside\", or apart from them: there + and − follow a guess. Give it normals, or a region there its \"outside\"",
                100.0 * share
            ),
        )
    })
}

fn unanswered(open: &[&str]) -> Warning {
    Warning::new(
        "unanswered",
        format!(
            "no verdict is given until you have looked: {} Then say so with answered = [...] (--answered)",
            open.join(" ")
        ),
    )
}

impl Compared {
    /// Takes every verdict back, since these questions came up after they were given.
    pub fn withhold(&mut self, open: &[&'static str]) {
        for region in &mut self.regions {
            region.verdict = Verdict::NotMeasured;
        }
        self.verdict = Overall(Verdict::NotMeasured);
        self.open = open.to_vec();
        self.warnings.retain(|w| w.code != "unanswered");
        self.warnings.push(unanswered(open));
    }
}

/// Tells of a verdict that the worst spot does not explain, whose ± is printed: another place has it, by its own.
fn judged_elsewhere(whose: &str, figures: &Figures, verdict: Verdict) -> Option<Warning> {
    let spread = figures.spread.as_ref()?;
    let judged = spread.judged;
    let is_worst = judged.mm.abs() >= spread.max_mm.abs().max(spread.min_mm.abs());
    (judged.verdict == verdict && !is_worst).then(|| {
        Warning::new(
            "judged-elsewhere",
            format!(
                "{whose}: {} by the place at {:.0}, {:.0}, {:.0} mm, which is off {} {}; its worst spot, with the ± that is known there, would say otherwise",
                verdict.words(),
                judged.at.x,
                judged.at.y,
                judged.at.z,
                say::signed(judged.mm),
                say::pm(judged.pm_mm)
            ),
        )
    })
}

/// The ± of a mean over the places `seen` (half the 95 % band), mm: the setting's share, and the noise of both sets, each
/// point of which is counted once.
fn mean_pm_mm(scaled: &Scaled, setting: &Setting, seen: &[u32]) -> f64 {
    let (reference, measured) = (&scaled.reference, &scaled.measured);
    let places = seen.iter().map(|&i| {
        let i = i as usize;
        (reference.points()[i], reference.normals()[i])
    });
    let count = seen.len().max(1) as f64;
    let measured_count = count * (reference.spacing_mm / measured.spacing_mm).powi(2);
    let noise =
        (reference.noise_mm.powi(2) / count + measured.noise_mm.powi(2) / measured_count.max(1.0)).sqrt();
    let follows = setting.mean_row(places);
    setting.pm_of_row_mm(&follows).hypot(1.96 * noise)
}

#[cfg(test)]
mod honest;
