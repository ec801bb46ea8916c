//! Setting by places: named points, points in order, or the holes of both sets.

use std::path::Path;

use ::features::holes::{self, Hole};
use ::register::RegisterError;
use ::register::constellation::{Place, match_places};
use ::register::named::{NamedResidual, set_by_names};
use ::register::order::set_in_order;
use cloud::named::Datum;
use cloud::{Unit, Warning};

use super::{RunnerUp, Setting};
use crate::cli::SetBy;
use crate::job::{Comparison, PointTables};
use crate::stages::gates::unit::refuse_points;
use crate::stages::scale::{Known, Scaled};
use crate::trouble::Trouble;

/// Distances between the same two holes agree to this in both sets, mm (a sixteenth: side to side is no better).
const HOLES_AGREE_MM: f64 = 25.4 / 16.0;

/// By points of the same names.
pub fn by_names(comparison: &Comparison, scaled: &Scaled) -> Result<Setting, Trouble> {
    let (tables, reference, measured) = read(comparison, scaled)?;
    set_by_datums(&reference, &measured).map_err(|why| refused(comparison, tables, &why))
}

/// By points of the same names in two lists.
///
/// # Errors
/// Where they don't do to set one on the other.
pub fn set_by_datums(reference: &[Datum], measured: &[Datum]) -> Result<Setting, RegisterError> {
    let fit = set_by_names(reference, measured)?;
    let words = format!("the points {}", used_names(&fit.points));
    let mut setting = Setting::new(SetBy::Points, fit.reference_from_measured, words);
    setting.freedoms = freedoms(fit.freedoms, fit.spread_is_declared);
    setting.motions = Some(fit.motions);
    setting.warnings = fit.warnings;
    with_points(&mut setting, fit.points, fit.rms_mm);
    Ok(setting)
}

/// By points in order, 3-2-1.
pub fn in_order(comparison: &Comparison, scaled: &Scaled) -> Result<Setting, Trouble> {
    let (tables, reference, measured) = read(comparison, scaled)?;
    set_by_order(&reference, &measured).map_err(|why| refused(comparison, tables, &why))
}

/// By points of two lists in order.
///
/// # Errors
/// Where they don't do to set one on the other.
pub fn set_by_order(reference: &[Datum], measured: &[Datum]) -> Result<Setting, RegisterError> {
    let fit = set_in_order(reference, measured)?;
    let of_order = |wanted: u8| -> String {
        let names: Vec<&str> = fit
            .points
            .iter()
            .filter(|p| p.used && p.order == Some(wanted))
            .map(|p| p.name.as_str())
            .collect();
        names.join(", ")
    };
    let words = format!(
        "points in order: first {}; then {}; then {}",
        of_order(1),
        of_order(2),
        of_order(3)
    );
    let mut setting = Setting::new(SetBy::Order, fit.reference_from_measured, words);
    setting.freedoms = freedoms(fit.freedoms, fit.spread_is_declared);
    setting.motions = Some(fit.motions);
    setting.warnings = fit.warnings;
    let points = fit
        .points
        .into_iter()
        .map(|p| NamedResidual {
            name: p.name,
            at_mm: p.at_mm,
            residual_mm: p.residual_mm,
            used: p.used,
        })
        .collect();
    with_points(&mut setting, points, fit.rms_mm);
    Ok(setting)
}

/// By the holes that both sets have, matched by size and distances.
pub fn by_holes(scaled: &Scaled) -> Result<Setting, RegisterError> {
    let (reference, measured) = holes_of(scaled);
    set_by_holes(&reference, &measured)
}

/// The holes of both sets, each in its own frame.
pub fn holes_of(scaled: &Scaled) -> (Vec<Hole>, Vec<Hole>) {
    rayon::join(
        || holes::find(&scaled.reference),
        || holes::find(&scaled.measured),
    )
}

/// By the holes of two lists that lie to each other in one way.
///
/// # Errors
/// Where fewer than three do, or those lie on one line.
pub fn set_by_holes(reference: &[Hole], measured: &[Hole]) -> Result<Setting, RegisterError> {
    let place = |hole: &Hole| Place {
        at_mm: hole.at,
        axis: hole.axis,
        size_mm: hole.diameter_mm,
    };
    let (ours, theirs): (Vec<Place>, Vec<Place>) = (
        reference.iter().map(place).collect(),
        measured.iter().map(place).collect(),
    );
    let found = match_places(&ours, &theirs, HOLES_AGREE_MM)?;
    let words = format!(
        "{} holes that both sets have ({} in the reference, {} in the measured set)",
        found.pairs.len(),
        ours.len(),
        theirs.len()
    );
    let mut setting = Setting::new(SetBy::Holes, found.reference_from_measured, words);
    setting.freedoms = freedoms(found.freedoms, false);
    setting.motions = Some(found.motions);
    if let Some((pairs, turned_deg, _)) = found.runner_up {
        setting.runner_up = Some(RunnerUp {
            rms_mm: found.rms_mm,
            words: format!("turned by {turned_deg:.0}°, by {pairs} holes"),
        });
        if pairs >= found.pairs.len() {
            setting.warnings.push(Warning::new(
                "could-also-lie",
                format!(
                    "by its holes it could also lie turned by {turned_deg:.0}°, where {pairs} holes match as well; name points to decide"
                ),
            ));
        }
    }
    let points = found
        .pairs
        .iter()
        .zip(&found.residuals_mm)
        .map(|((i, _), residual_mm)| NamedResidual {
            name: format!("hole {}", i + 1),
            at_mm: ours[*i].at_mm,
            residual_mm: *residual_mm,
            used: true,
        })
        .collect();
    with_points(&mut setting, points, found.rms_mm);
    Ok(setting)
}

/// A declared ± is known for sure; one that the residuals show rests on their degrees of freedom.
fn freedoms(count: usize, declared: bool) -> f64 {
    if declared {
        f64::INFINITY
    } else {
        // With nothing left over, the residuals say nothing of how well the points are known; one degree is the least that
        // gives a ±, and that a wide one.
        count.max(1) as f64
    }
}

fn with_points(setting: &mut Setting, points: Vec<NamedResidual>, rms_mm: f64) {
    let used = || points.iter().filter(|p| p.used);
    setting.rms_mm = Some(rms_mm);
    setting.worst_mm = Some(used().map(|p| p.residual_mm).fold(0.0, f64::max));
    setting.pairs = used().count();
    setting.points = points;
}

fn used_names(points: &[NamedResidual]) -> String {
    let names: Vec<&str> = points
        .iter()
        .filter(|p| p.used)
        .map(|p| p.name.as_str())
        .collect();
    names.join(", ")
}

/// Both tables, brought to where their sets were brought.
///
/// # Errors
/// Where there are none, where one can't be read, and where they are in two units.
pub fn read<'a>(
    comparison: &'a Comparison,
    scaled: &Scaled,
) -> Result<(&'a PointTables, Vec<Datum>, Vec<Datum>), Trouble> {
    let Some(tables) = &comparison.points else {
        return Err(Trouble::new(format!(
            "{}: set by {}, but no tables of points are given; give --points-reference and --points-measured",
            comparison.name,
            comparison.set_by.word()
        )));
    };
    let reference = read_one(&tables.reference, tables.reference_unit, &scaled.reference_from)?;
    let measured = read_one(&tables.measured, tables.measured_unit, &scaled.measured_from)?;
    refuse_points(&tables.measured, &reference, &measured)?;
    Ok((tables, reference, measured))
}

/// One table, brought to where its set was brought.
///
/// # Errors
/// Where it can't be read.
pub fn read_one(path: &Path, unit: Unit, known: &Known) -> Result<Vec<Datum>, Trouble> {
    let mut datums = formats::named::read_datums(path, unit)?;
    for datum in &mut datums {
        known.place(&mut datum.point, unit);
        datum.pm_mm = datum.pm_mm.map(|pm| pm * known.times(unit));
    }
    Ok(datums)
}

fn refused(comparison: &Comparison, tables: &PointTables, why: &RegisterError) -> Trouble {
    Trouble::new(format!(
        "{}: {} on {}: {why}",
        comparison.name,
        tables.measured.display(),
        tables.reference.display()
    ))
}
