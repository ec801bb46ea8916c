//! A trip on which points were probed: set by the points that are named for it, and every place as it stands then.

use std::collections::BTreeMap;

use ::features::trips::Reading;
use cloud::named::Datum;

use super::figures::{Figure, Kind, Read};
use crate::job::{Job, Measured, Trip};
use crate::stages::checks::place::PROBED_PM_MM;
use crate::stages::register::by_points::set_by_datums;
use crate::trouble::Trouble;

/// Every place that was probed on a trip.
///
/// # Errors
/// Where the table can't be read, or its points can't be set on the places of the job.
pub fn of(job: &Job, trip: &Trip, warn: &mut dyn FnMut(String)) -> Result<BTreeMap<Figure, Read>, Trouble> {
    let Measured::Points { path, unit, by } = &trip.what else {
        return Ok(BTreeMap::new());
    };
    let measured = formats::named::read_datums(path, *unit)?;
    let places: Vec<Datum> = job.places.iter().cloned().map(Datum::from).collect();
    let chosen = |datums: &[Datum]| -> Vec<Datum> {
        let is_by = |d: &&Datum| by.is_empty() || by.contains(&d.point.name);
        datums.iter().filter(is_by).cloned().collect()
    };
    let setting = set_by_datums(&chosen(&places), &chosen(&measured))
        .map_err(|why| Trouble::new(format!("{}: {}: {why}", trip.name, path.display())))?;
    for warning in &setting.warnings {
        warn(format!("{}: {}", trip.name, warning.words));
    }
    let mut found = BTreeMap::new();
    for place in &places {
        let Some(probed) = measured.iter().find(|m| m.point.name == place.point.name) else {
            continue;
        };
        let moved = setting.reference_from_measured.apply(&probed.point.at_mm) - place.point.at_mm;
        let own_pm_mm = probed.pm_mm.unwrap_or(PROBED_PM_MM);
        let pm_mm = own_pm_mm.hypot(setting.pm_at_mm(&place.point.at_mm));
        for axis in 0..3 {
            let reading = Reading {
                mm: moved[axis],
                pm_mm,
            };
            found.insert(
                Figure::along(Kind::Place, &place.point.name, axis),
                (reading, job.limit_mm),
            );
        }
    }
    Ok(found)
}
