//! Setting by places: named points, points in order, or the holes of both sets.

use std::path::Path;

use ::features::holes::{self, Hole};
use ::register::RegisterError;
use ::register::constellation::{Constellation, Place, match_places, match_ways};
use ::register::named::{NamedResidual, set_by_names};
use ::register::order::set_in_order;
use cloud::named::Datum;
use cloud::named::spelling::Alone;
use cloud::unit::{MM_PER_INCH, decimal};
use cloud::{Point, Unit, Warning};

use super::way_by_holes::{COULD_ALSO, told_by_metal};
use super::{RunnerUp, Setting};
use crate::cli::SetBy;
use crate::job::{Comparison, PointTables};
use crate::say;
use crate::stages::gates::unit::refuse_points;
use crate::stages::scale::{Known, Scaled};
use crate::trouble::Trouble;

/// Distances between the same two holes agree to this in both sets, mm (a sixteenth: side to side is no better).
const HOLES_AGREE_MM: f64 = 25.4 / 16.0;
/// A measured hole that lies this near to one of the reference, and is no more larger or smaller than this, may be that hole,
/// mm (half an inch, an eighth).
const BESIDE_MM: f64 = 12.7;
const SAME_SIZE_MM: f64 = 25.4 / 8.0;

/// By points of the same names.
pub fn by_names(comparison: &Comparison, scaled: &Scaled) -> Result<Setting, Trouble> {
    let (tables, reference, measured) = read(comparison, scaled)?;
    let set = set_by_datums(&reference, &measured);
    set.map_err(|why| refused(comparison, tables, &why, &Alone::of(&reference, &measured)))
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
    let set = set_by_order(&reference, &measured);
    set.map_err(|why| refused(comparison, tables, &why, &Alone::of(&reference, &measured)))
}

/// By points of two lists in order.
///
/// # Errors
/// Where they don't do to set one on the other.
pub fn set_by_order(reference: &[Datum], measured: &[Datum]) -> Result<Setting, RegisterError> {
    let fit = set_in_order(reference, measured)?;
    let of_order = |wanted: u8| -> Vec<String> {
        let those = fit.points.iter().filter(|p| p.used && p.order == Some(wanted));
        those.map(|p| p.name.clone()).collect()
    };
    let [first, second, third] = [1, 2, 3].map(of_order);
    let words = format!(
        "points in order: first {}; then {}; then {}",
        first.join(", "),
        second.join(", "),
        third.join(", ")
    );
    let mut setting = Setting::new(SetBy::Order, fit.reference_from_measured, words);
    setting.later_points = [second, third].concat();
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

/// By the holes that both sets have, matched by size and distances; which way round they don't tell is told by the metal.
pub fn by_holes(scaled: &Scaled) -> Result<Setting, RegisterError> {
    let (reference, measured) = holes_of(scaled);
    let [ours, theirs] = [places_of(&reference), places_of(&measured)];
    let (best, others) =
        match_ways(&ours, &theirs, HOLES_AGREE_MM).map_err(|why| of_how_many(why, &ours, &theirs))?;
    let others = others.into_iter().map(|found| laid(&ours, &theirs, found));
    let best = laid(&ours, &theirs, best);
    Ok(told_by_metal(scaled, best, others.collect()))
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
    let [ours, theirs] = [places_of(reference), places_of(measured)];
    let found =
        match_places(&ours, &theirs, HOLES_AGREE_MM).map_err(|why| of_how_many(why, &ours, &theirs))?;
    Ok(laid(&ours, &theirs, found))
}

/// Where too few match, of how many of each set.
fn of_how_many(why: RegisterError, ours: &[Place], theirs: &[Place]) -> RegisterError {
    match why {
        RegisterError::TooFew { found, needed, .. } => RegisterError::TooFewHoles {
            found,
            needed,
            of_reference: ours.len(),
            of_measured: theirs.len(),
        },
        other => other,
    }
}

fn places_of(holes: &[Hole]) -> Vec<Place> {
    let place = |hole: &Hole| Place {
        at_mm: hole.at,
        axis: hole.axis,
        size_mm: hole.diameter_mm,
        size_pm_mm: hole.size_pm_mm,
    };
    holes.iter().map(place).collect()
}

/// The setting by a constellation of the holes of both sets.
fn laid(ours: &[Place], theirs: &[Place], found: Constellation) -> Setting {
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
                COULD_ALSO,
                format!(
                    "by its holes it could also lie turned by {turned_deg:.0}°, where {pairs} holes match as well; name points to decide"
                ),
            ));
        }
    }
    let residual = |i: usize, residual_mm: f64, used: bool| NamedResidual {
        name: format!("hole {}", i + 1),
        at_mm: ours[i].at_mm,
        residual_mm,
        used,
    };
    let taken = found.pairs.iter().zip(&found.residuals_mm);
    let mut points: Vec<NamedResidual> = taken.map(|((i, _), mm)| residual(*i, *mm, true)).collect();
    let moved: Vec<Point> = theirs
        .iter()
        .map(|hole| found.reference_from_measured.apply(&hole.at_mm))
        .collect();
    for (i, off_mm) in odd_ones(ours, theirs, &moved, &found.pairs) {
        let odd = residual(i, off_mm, false);
        setting.warnings.push(left_out(&odd));
        points.push(odd);
    }
    with_points(&mut setting, points, found.rms_mm);
    setting
}

/// The holes of the reference that are in no pair although a measured one of their size, in none either, lies beside them as the
/// set lies (`moved`), and how far off that is, mm; the nearest two first, each once.
fn odd_ones(
    ours: &[Place],
    theirs: &[Place],
    moved: &[Point],
    pairs: &[(usize, usize)],
) -> Vec<(usize, f64)> {
    let mut apart: Vec<(f64, usize, usize)> = Vec::new();
    for (i, there) in ours.iter().enumerate() {
        for (k, here) in theirs.iter().enumerate() {
            let free = pairs.iter().all(|&(a, b)| a != i && b != k);
            let one_size = (there.size_mm - here.size_mm).abs() <= SAME_SIZE_MM;
            let off_mm = (moved[k] - there.at_mm).norm();
            if free && one_size && off_mm <= BESIDE_MM {
                apart.push((off_mm, i, k));
            }
        }
    }
    apart.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut odd: Vec<(usize, f64)> = Vec::new();
    let mut taken: Vec<usize> = Vec::new();
    for (off_mm, i, k) in apart {
        if odd.iter().all(|(other, _)| *other != i) && !taken.contains(&k) {
            odd.push((i, off_mm));
            taken.push(k);
        }
    }
    odd.sort_by_key(|(i, _)| *i);
    odd
}

fn left_out(odd: &NamedResidual) -> Warning {
    let [x, y, z] = [odd.at_mm.x, odd.at_mm.y, odd.at_mm.z].map(|mm| decimal(mm / MM_PER_INCH, 1));
    let why = if odd.residual_mm <= HOLES_AGREE_MM {
        "lies where the other holes put it, but reads another size or faces another way".to_string()
    } else {
        let off = say::plain_64ths(odd.residual_mm);
        format!("lies {off} from where the other holes put it")
    };
    Warning::new(
        "hole-left-out",
        format!(
            "{} at ({x}, {y}, {z}) in {why}: it was left out, and they alone set it",
            odd.name
        ),
    )
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

/// What is wrong with the points; a name that was misspelt in one table is missing there, so those without a partner are told.
fn refused(comparison: &Comparison, tables: &PointTables, why: &RegisterError, alone: &Alone<'_>) -> Trouble {
    let [reference, measured] = [&tables.reference, &tables.measured].map(|path| path.display().to_string());
    Trouble::new(format!(
        "{}: {measured} on {reference}: {why}{}",
        comparison.name,
        told(alone, &reference, &measured)
    ))
}

/// The names that only one of two lists has, to stand behind why they don't do; the lists called as they are given here.
pub fn told(alone: &Alone<'_>, reference: &str, measured: &str) -> String {
    let words = alone.words(reference, measured);
    words.map_or(String::new(), |words| format!("; {words}"))
}

#[cfg(test)]
mod tests {
    use super::super::found_holes::made::hole;
    use super::*;

    /// Five holes that lie as they did, and a sixth that was drilled 4 mm rearward.
    #[test]
    fn a_hole_that_was_left_out_is_named_with_its_place_and_how_far_off_it_is() {
        let places = [
            (0.0, 0.0),
            (610.0, 0.0),
            (600.0, 400.0),
            (0.0, 380.0),
            (250.0, 150.0),
            (254.0, 330.0),
        ];
        let holes = |off_mm: f64| -> Vec<Hole> {
            let all = places.iter().enumerate();
            all.map(|(k, (x, y))| hole(if k == 5 { x + off_mm } else { *x }, *y, 19.0, None))
                .collect()
        };
        let set = set_by_holes(&holes(0.0), &holes(4.0)).unwrap();
        assert_eq!((set.pairs, set.points.len()), (5, 6));
        let odd = set.points.iter().find(|p| !p.used).unwrap();
        assert!(odd.name == "hole 6" && (odd.residual_mm - 4.0).abs() < 1e-6);
        assert!(set.worst_mm.unwrap() < 1e-6);
        let told: Vec<&Warning> = set
            .warnings
            .iter()
            .filter(|w| w.code == "hole-left-out")
            .collect();
        assert_eq!(told.len(), 1);
        assert!(
            told[0]
                .words
                .starts_with("hole 6 at (10.0, 13.0, 0.0) in lies 5/32 in (4.0 mm) from where"),
            "{}",
            told[0].words
        );
        let none = set_by_holes(&holes(0.0), &[]).err().unwrap().to_string();
        let counted = format!(
            "(found: {} in the reference, 0 in the measured set)",
            holes(0.0).len()
        );
        assert!(none.contains(&counted), "{none}");
        let home = set_by_holes(&holes(0.0), &holes(0.0)).unwrap();
        assert!(
            home.points.iter().all(|p| p.used) && home.warnings.iter().all(|w| w.code != "hole-left-out")
        );
    }
}
