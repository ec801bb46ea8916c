//! House dimensions: the figures of a part beside those of several originals, each set on the same reference.

use std::collections::BTreeMap;

use ::compare::verdict::{LEAST_COVERAGE, NOT_HELD_MM};
use ::features::edge::EdgeResult;
use ::features::house::{Counted, House, house};
use cloud::Warning;

use super::again::{again, alike_bead, alike_hole, shortness};
use super::checks;
use super::compare::Compared;
use super::features::Found;
use crate::job::Comparison;
use crate::trouble::Trouble;

/// A figure of a comparison: what it is called, how far it is off the reference, and its ±; mm, or degrees.
struct Figure {
    what: String,
    off: f64,
    pm: f64,
    counted: Counted,
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
        for figure in figures(found, &again.compared, &again.found) {
            of_originals.entry(figure.what).or_default().push(figure.off);
        }
    }
    Ok(figures(found, compared, found)
        .into_iter()
        .map(|figure| {
            // The reference is an original too: it is off itself by nothing.
            let mut all = vec![0.0];
            all.extend(of_originals.get(&figure.what).into_iter().flatten());
            house(&figure.what, &all, figure.off, figure.pm, figure.counted)
        })
        .collect())
}

/// Every figure of a set that the part has too: what is `asked` after was found on the part, and `found` on the set.
/// Holes and beads are known by their place on the reference, since their numbers count what only one of the sets has.
fn figures(asked: &Found, compared: &Compared, found: &Found) -> Vec<Figure> {
    let mut figures = Vec::new();
    for r in &compared.regions {
        if let Some(spread) = &r.figures.spread
            && r.figures.coverage >= LEAST_COVERAGE
            && spread.mean_pm_mm < NOT_HELD_MM
        {
            let name = &r.region.name;
            add(&mut figures, name, "mean", spread.mean_mm, spread.mean_pm_mm);
            add(&mut figures, name, "highest", spread.max_mm, spread.pm_mm);
            add(&mut figures, name, "lowest", spread.min_mm, spread.pm_mm);
        }
    }
    for fold in &found.folds {
        add(&mut figures, &fold.name, "fold short", fold.short_mm, fold.pm_mm);
    }
    for edge in &asked.edges {
        of_edge(&mut figures, edge, found);
    }
    of_pressed(&mut figures, asked, found);
    for part in &asked.holes {
        let Some(hole) = alike_hole(&part.pair, &found.holes) else {
            continue;
        };
        if let (Some(ours), Some(theirs)) = (&hole.pair.reference, &hole.pair.measured) {
            let (name, pm_mm) = (&part.pair.name, hole.pair.pm_mm);
            add(&mut figures, name, "place", (theirs.at - ours.at).norm(), pm_mm);
            let larger_mm = theirs.diameter_mm - ours.diameter_mm;
            add(&mut figures, name, "diameter", larger_mm, hole.pair.size_pm_mm);
        }
    }
    for figure in &found.shell {
        add(&mut figures, "shell", &figure.name, figure.off_mm, figure.pm_mm);
    }
    for check in &found.checks {
        if let (Some(off), Some(pm)) = (check.off, check.pm) {
            figures.push(Figure {
                what: format!("{}: off", check.name),
                off,
                pm,
                counted: match check.counted {
                    checks::Counted::Length => Counted::Length,
                    checks::Counted::Angle => Counted::Angle,
                },
            });
        }
    }
    // What nothing holds has no place among the originals.
    figures.retain(|figure| figure.pm < NOT_HELD_MM);
    figures
}

fn add(figures: &mut Vec<Figure>, name: &str, figure: &str, off_mm: f64, pm_mm: f64) {
    figures.push(Figure {
        what: format!("{name}: {figure}"),
        off: off_mm,
        pm: pm_mm,
        counted: Counted::Length,
    });
}

/// How short an edge is as a whole, and wherever the part is off: a stretch of it tells nothing of the whole.
fn of_edge(figures: &mut Vec<Figure>, edge: &EdgeResult, found: &Found) {
    let Some(same) = found.edges.iter().find(|e| e.name == edge.name) else {
        return;
    };
    let whole: Vec<usize> = (0..edge.runs.len()).collect();
    if let Some((mm, pm_mm)) = shortness(edge, &whole, same) {
        add(figures, &edge.name, "short in the mean", mm, pm_mm);
    }
    for stretch in &edge.stretches {
        if let Some((mm, pm_mm)) = shortness(edge, &stretch.runs, same) {
            let what = format!("where it is {}", stretch.words);
            add(figures, &edge.name, &what, mm, pm_mm);
        }
    }
}

/// Declared recesses, and the beads and recesses that were found.
fn of_pressed(figures: &mut Vec<Figure>, asked: &Found, found: &Found) {
    for recess in &found.recesses {
        let (name, pair) = (&recess.pair.name, &recess.pair);
        for (k, axis) in ["fore and aft", "across", "up and down"].iter().enumerate() {
            if pair.moved[k] != 0.0 {
                add(figures, name, axis, pair.moved[k], pair.pm_mm);
            }
        }
        let deeper_mm = pair.measured.depth_mm - pair.reference.depth_mm;
        add(figures, name, "depth", deeper_mm, pair.size_pm_mm);
    }
    for part in &asked.beads {
        let Some(bead) = alike_bead(&part.pair, &found.beads) else {
            continue;
        };
        let pair = &bead.pair;
        if let (Some(ours), Some(theirs)) = (&pair.reference, &pair.measured) {
            let name = &part.pair.name;
            add(figures, name, "place", pair.moved_mm.norm(), pair.pm_mm);
            let deeper_mm = theirs.depth_mm.abs() - ours.depth_mm.abs();
            let deeper_pm_mm = ours.pm_depth_mm.hypot(theirs.pm_depth_mm);
            add(figures, name, "depth", deeper_mm, deeper_pm_mm);
            let wider_mm = theirs.width_mm - ours.width_mm;
            let wider_pm_mm = ours.pm_width_mm.hypot(theirs.pm_width_mm);
            add(figures, name, "width", wider_mm, wider_pm_mm);
        }
    }
}
