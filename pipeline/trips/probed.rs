//! A trip on which points were probed: set by the points that are named for it, and every place as it stands then.

use std::collections::BTreeMap;

use ::features::trips::{LEAST_STEP_MM, Reading};
use cloud::Vector;
use cloud::named::Datum;
use cloud::named::spelling::Alone;

use super::figures::{Figure, Kind, Read};
use crate::job::{Job, Measured, Trip};
use crate::say;
use crate::stages::checks::place::PROBED_PM_MM;
use crate::stages::gates::unit::refuse_points;
use crate::stages::register::by_points::{set_by_datums, told};
use crate::trouble::Trouble;

/// Every place that was probed on a trip.
///
/// # Errors
/// Where the table can't be read, or its points can't be set on the places of the job.
pub fn of(job: &Job, trip: &Trip, warn: &mut dyn FnMut(String)) -> Result<BTreeMap<Figure, Read>, Trouble> {
    let Measured::Points { path, unit, by } = &trip.what else {
        return Ok(BTreeMap::new());
    };
    job.refuse_lost(&[path.as_path()])?;
    let measured = formats::named::read_datums(path, *unit)?;
    let places: Vec<Datum> = job.places.iter().cloned().map(Datum::from).collect();
    // Of the places those count that the trip is set by. Of the table any other name may be meant for one of them.
    let is_place = |name: &str| places.iter().any(|place| place.point.name == name);
    let chosen = |datums: &[Datum]| -> Vec<Datum> {
        let is_by = |d: &&Datum| by.is_empty() || by.contains(&d.point.name) || !is_place(&d.point.name);
        datums.iter().filter(is_by).cloned().collect()
    };
    let (reference, by_these) = (chosen(&places), chosen(&measured));
    refuse_points(path, &reference, &by_these)
        .map_err(|trouble| Trouble::new(format!("{}: {trouble}", trip.name)))?;
    let setting = set_by_datums(&reference, &by_these).map_err(|why| {
        let table = path.display().to_string();
        let alone = told(&Alone::of(&reference, &by_these), "the job", &table);
        Trouble::new(format!("{}: {table}: {why}{alone}", trip.name))
    })?;
    for warning in &setting.warnings {
        warn(format!("{}: {}", trip.name, warning.words));
    }
    let mut found = BTreeMap::new();
    // Points that don't lie as they should, with nobody to say which has moved, share it out: none of them is then home.
    let worst_mm = setting.worst_mm.unwrap_or(0.0);
    if worst_mm > LEAST_STEP_MM {
        warn(format!(
            "{}: set by its points they still lie up to {} off, and can't settle which of them has moved: nothing is said of this trip; probe more of them, or name with \"by\" those that nothing was done to",
            trip.name,
            say::plain_64ths(worst_mm)
        ));
        return Ok(found);
    }
    for place in &places {
        let Some(probed) = measured.iter().find(|m| m.point.name == place.point.name) else {
            continue;
        };
        let moved = setting.reference_from_measured.apply(&probed.point.at_mm) - place.point.at_mm;
        let own_pm_mm = probed.pm_mm.unwrap_or(PROBED_PM_MM);
        for axis in 0..3 {
            let mut way = Vector::zeros();
            way[axis] = 1.0;
            let pm_mm = own_pm_mm.hypot(setting.pm_along_mm(&place.point.at_mm, &way));
            let reading = Reading {
                mm: moved[axis],
                pm_mm,
            };
            found.insert(
                Figure::along(Kind::Place, &place.point.name, axis),
                Read::of(reading, job.limit_mm),
            );
        }
    }
    Ok(found)
}
