//! House dimensions: the figures of a part beside those of several originals, each set on the same reference.

use std::collections::BTreeMap;

use ::compare::verdict::LEAST_COVERAGE;
use ::features::house::{House, house};

use cloud::Warning;

use super::again::again;
use super::compare::Compared;
use super::features::Found;
use crate::job::Comparison;
use crate::trouble::Trouble;

/// A figure of a comparison: what it is called, how far it is off the reference, and its ±, mm.
struct Figure {
    what: String,
    off_mm: f64,
    pm_mm: f64,
}

/// Lays every figure of the comparison beside those of its originals; nothing where none are given.
///
/// # Errors
/// Where an original can't be read or set.
pub fn houses(
    comparison: &Comparison,
    compared: &Compared,
    found: &mut Found,
) -> Result<Vec<House>, Trouble> {
    if comparison.originals.is_empty() {
        return Ok(Vec::new());
    }
    let mut of_originals: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for original in &comparison.originals {
        let again = again(comparison, original)?;
        if again.compared.figures.coverage < LEAST_COVERAGE {
            found.warnings.push(Warning::new(
                "original-unlike",
                format!(
                    "the original \"{}\" shows {:.0} % of the reference only; is it the same part?",
                    original.name,
                    100.0 * again.compared.figures.coverage
                ),
            ));
        }
        for figure in figures(&again.compared, &again.found) {
            of_originals.entry(figure.what).or_default().push(figure.off_mm);
        }
    }
    Ok(figures(compared, found)
        .into_iter()
        .map(|figure| {
            // The reference is an original too: it is off itself by nothing.
            let mut all = vec![0.0];
            all.extend(of_originals.get(&figure.what).into_iter().flatten());
            house(&figure.what, &all, figure.off_mm, figure.pm_mm)
        })
        .collect())
}

/// Every figure of a comparison that has a name which the same figure of another set has too.
fn figures(compared: &Compared, found: &Found) -> Vec<Figure> {
    let mut figures = Vec::new();
    let mut add = |what: String, off_mm: f64, pm_mm: f64| figures.push(Figure { what, off_mm, pm_mm });
    for r in &compared.regions {
        if let Some(spread) = &r.figures.spread
            && r.figures.coverage >= LEAST_COVERAGE
        {
            let name = &r.region.name;
            add(format!("{name}: mean"), spread.mean_mm, spread.mean_pm_mm);
            add(format!("{name}: highest"), spread.max_mm, spread.pm_mm);
            add(format!("{name}: lowest"), spread.min_mm, spread.pm_mm);
        }
    }
    for fold in &found.folds {
        add(format!("{}: fold short", fold.name), fold.short_mm, fold.pm_mm);
    }
    for recess in &found.recesses {
        let (name, pair) = (&recess.pair.name, &recess.pair);
        for (k, axis) in ["fore and aft", "across", "up and down"].iter().enumerate() {
            if pair.moved[k] != 0.0 {
                add(format!("{name}: {axis}"), pair.moved[k], pair.pm_mm);
            }
        }
        let deeper = pair.measured.depth_mm - pair.reference.depth_mm;
        add(format!("{name}: depth"), deeper, pair.pm_mm);
    }
    for hole in &found.holes {
        if let (Some(ours), Some(theirs)) = (&hole.pair.reference, &hole.pair.measured) {
            let name = &hole.pair.name;
            add(
                format!("{name}: place"),
                (theirs.at - ours.at).norm(),
                hole.pair.pm_mm,
            );
            add(
                format!("{name}: diameter"),
                theirs.diameter_mm - ours.diameter_mm,
                hole.pair.pm_mm,
            );
        }
    }
    for check in &found.checks {
        if let (Some(off), Some(pm)) = (check.off, check.pm) {
            add(format!("{}: off", check.name), off, pm);
        }
    }
    figures
}
