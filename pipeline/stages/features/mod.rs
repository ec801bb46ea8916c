//! Reads what was asked for besides the deviation: moves of regions, folds, edges, holes, recesses, beads, sections.

mod at_bead;
mod edges;
mod extra;
mod holes;
mod pressed;
pub mod sections;
pub mod shell;
pub mod warmth;

use ::features::edge::EdgeResult;
use ::features::fold::{Fold, fold};
use ::features::house::House;
use ::features::shift::{Shift, Spot, shift, spots_of_whole};
use cloud::{Point, Vector, Warning};
use compare::Verdict;

use super::arrangement::Arrangement;
use super::checks::CheckResult;
use super::checks::place::SeenPlace;
use super::compare::{Compared, RegionResult};
use super::register::Setting;
use super::scale::Scaled;
use crate::job::Comparison;
pub use edges::smallest_with;
pub use extra::ExtraResult;
pub use holes::{HoleResult, call_by_places, coarser_spacing_mm};
pub use pressed::{BeadResult, RecessResult};
use sections::SectionResult;
use shell::ShellFigure;

/// Everything found.
pub struct Found {
    /// The move of each region, in their order.
    pub shifts: Vec<Option<Shift>>,
    /// What is proud or shy of the whole set, the worst first, where no regions are declared.
    pub spots: Vec<Spot>,
    /// Folds asked for.
    pub folds: Vec<Fold>,
    /// Trim edges, where asked for.
    pub edges: Vec<EdgeResult>,
    /// Metal that the reference does not have.
    pub extra: Vec<ExtraResult>,
    /// Recesses asked for.
    pub recesses: Vec<RecessResult>,
    /// Beads and recesses found in the regions asked for.
    pub beads: Vec<BeadResult>,
    /// Holes, where asked for.
    pub holes: Vec<HoleResult>,
    /// Sections asked for.
    pub sections: Vec<SectionResult>,
    /// Named places that were seen in both sets.
    pub places: Vec<SeenPlace>,
    /// The shell's figures, where asked for.
    pub shell: Vec<ShellFigure>,
    /// Figures asked for by name.
    pub checks: Vec<CheckResult>,
    /// What holding the part does, where a held set is given.
    pub arrangements: Vec<Arrangement>,
    /// The figures beside those of several originals.
    pub houses: Vec<House>,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

impl Found {
    /// Takes every verdict back, where a question is open.
    pub fn withhold(&mut self) {
        let folds = self.folds.iter_mut().flat_map(|f| {
            let of_stretches = f.stretches.iter_mut().map(|s| &mut s.verdict);
            of_stretches.chain([&mut f.verdict])
        });
        let edges = self.edges.iter_mut().map(|e| &mut e.verdict);
        let recesses = self.recesses.iter_mut().map(|r| &mut r.verdict);
        let beads = self.beads.iter_mut().map(|b| &mut b.verdict);
        let holes = self.holes.iter_mut().map(|h| &mut h.verdict);
        let shell = self.shell.iter_mut().map(|f| &mut f.verdict);
        let checks = self.checks.iter_mut().map(|c| &mut c.verdict);
        for verdict in folds
            .chain(edges)
            .chain(recesses)
            .chain(beads)
            .chain(holes)
            .chain(shell)
            .chain(checks)
        {
            *verdict = Verdict::NotMeasured;
        }
    }

    /// Whether metal that stands off by `mm` at a place is a bead that is told by itself, as moved or as one that may have.
    pub fn is_at_bead(&self, at: &Point, mm: f64) -> bool {
        let told = |bead: &&BeadResult| bead.verdict == Verdict::Outside || bead.may_have_moved();
        let mut each = self
            .beads
            .iter()
            .filter(told)
            .flat_map(|b| [&b.pair.reference, &b.pair.measured])
            .flatten();
        each.any(|bead| at_bead::is_bead(bead, at, mm))
    }

    /// Whether a check says that the bar in a region is bent: it is straightened then, and not shimmed.
    pub fn bent_bar(&self, region: &str) -> bool {
        self.bent_by(region).is_some()
    }

    /// The check that says so.
    pub fn bent_by(&self, region: &str) -> Option<&CheckResult> {
        self.check_out("bar", region)
    }

    /// Whether a check says that the flange in a region is open or closed: it is bent back then.
    pub fn leans(&self, region: &str) -> bool {
        self.check_out("angle", region).is_some()
    }

    fn check_out(&self, kind: &str, region: &str) -> Option<&CheckResult> {
        let mut own = self.checks.iter().filter(|c| c.of.as_deref() == Some(region));
        own.find(|c| c.kind == kind && c.verdict == Verdict::Outside)
    }

    /// The verdicts of everything but the regions.
    pub fn verdicts(&self) -> impl Iterator<Item = Verdict> + '_ {
        self.folds
            .iter()
            .map(|f| f.verdict)
            .chain(self.edges.iter().map(|e| e.verdict))
            .chain(self.recesses.iter().map(|r| r.verdict))
            .chain(self.beads.iter().map(|b| b.verdict))
            .chain(self.holes.iter().map(|h| h.verdict))
            .chain(self.shell.iter().map(|f| f.verdict))
            .chain(self.checks.iter().map(|c| c.verdict))
    }
}

/// Why the fold of a flange can't be read: nothing holds the set along its face, or too little of it was seen.
fn fold_not_seen(flange: &RegionResult, scaled: &Scaled, setting: &Setting) -> Warning {
    let (points, normals) = (scaled.reference.points(), scaled.reference.normals());
    let face = flange
        .members
        .iter()
        .map(|&i| (points[i as usize], normals[i as usize]));
    let name = &flange.region.name;
    let words = match setting.leans_on_free(&setting.mean_row(face)) {
        Some(free) => {
            format!("the fold of the flange {name} can't be told, since nothing holds the set {free}")
        }
        None => format!("the flange {name} is not seen well enough to read its fold"),
    };
    Warning::new("fold-not-seen", words)
}

/// Reads everything that the comparison asks for, but what leans on named places.
pub fn features(comparison: &Comparison, scaled: &Scaled, setting: &Setting, compared: &Compared) -> Found {
    let reference = &scaled.reference;
    let pm = |at: &Point, way: &Vector| setting.pm_along_mm(at, way);
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
        .filter(|r| comparison.asked.folds.contains(&r.region.name))
    {
        match fold(&r.region, &r.members, reference, &compared.deviations, &pm) {
            Some(found) => folds.push(found),
            None => warnings.push(fold_not_seen(r, scaled, setting)),
        }
    }
    let sections = sections::sections(comparison, scaled, setting, compared);
    for section in &sections {
        if section.planes.iter().all(|plane| plane.cuts_nothing()) {
            warnings.push(Warning::new(
                "section-empty",
                format!(
                    "section {}: it cuts no metal of the reference; check where it lies, and its unit",
                    section.name
                ),
            ));
        }
    }
    let edges = edges::edges(comparison, scaled, setting);
    // Regions say more: there what has only moved is told from what is bent.
    let spots = match compared.regions.is_empty() {
        true => spots_of_whole(reference, &compared.smoothed, comparison.limit_mm, &pm),
        false => Vec::new(),
    };
    Found {
        shifts,
        spots,
        folds,
        extra: extra::extra(comparison, scaled, setting, compared, &edges, &mut warnings),
        edges,
        recesses: pressed::recesses(comparison, scaled, setting, &mut warnings),
        beads: pressed::beads(comparison, scaled, setting, compared),
        holes: holes::holes(comparison, scaled, setting, &mut warnings),
        sections,
        places: Vec::new(),
        shell: Vec::new(),
        checks: Vec::new(),
        arrangements: Vec::new(),
        houses: Vec::new(),
        warnings,
    }
}
