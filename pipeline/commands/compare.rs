//! `compare`: one comparison without a job.

use std::path::Path;

use page::About;

use crate::cli::Compare;
use crate::cli::SetBy;
use crate::commands::code;
use crate::job::{self, Asked, Comparison, PointTables, Set, file, mirrored, regions};
use crate::made_from::{Prints, made_from};
use crate::progress::Progress;
use crate::stages::{self, tabulate};
use crate::trouble::Trouble;

/// Compares two files.
pub fn compare(asked: Compare, timings: bool, progress: &Progress) -> Result<u8, Trouble> {
    if asked.beads && asked.regions.is_none() {
        return Err(Trouble::new(
            "--beads reads beads region by region: give --regions FILE",
        ));
    }
    let declared = match &asked.regions {
        Some(path) => regions::regions_file(path, &file::text_of(path)?, asked.limit.mm)?,
        None => Vec::new(),
    };
    let reference_unit = asked.reference_units.or(asked.units);
    let points = match (&asked.points_reference, &asked.points_measured) {
        (Some(reference), Some(measured)) => Some(PointTables {
            reference: reference.clone(),
            reference_unit: reference_unit.unwrap_or(cloud::Unit::Millimetre),
            measured: measured.clone(),
            measured_unit: asked.units.unwrap_or(cloud::Unit::Millimetre),
        }),
        _ => None,
    };
    let set_by = asked
        .set_by
        .unwrap_or_else(|| job::usual_setting(&declared, points.is_some()));
    if matches!(set_by, SetBy::Points | SetBy::Order) && points.is_none() {
        return Err(Trouble::new(format!(
            "--set-by {}: no tables of points are given; give --points-reference and --points-measured",
            set_by.word()
        )));
    }
    if set_by == SetBy::LeftAlone && !declared.iter().any(|r| r.status == ::compare::Status::Kept) {
        return Err(Trouble::new(
            "--set-by left-alone: no region is kept; give --regions with status = \"kept\" on what was left alone",
        ));
    }
    let (reference, measured) = match (asked.files.as_slice(), asked.mirror) {
        ([reference, measured], true) if reference == measured => {
            return Err(Trouble::new(
                "compare --mirror: both files are one; to hold a set against its own mirror image leave the reference out, or name the set of the other side first",
            ));
        }
        ([measured], true) => (measured, measured),
        ([reference, measured], _) => (reference, measured),
        _ => {
            return Err(Trouble::new(
                "compare needs a reference and a measured set; one set alone is held against its own mirror image with --mirror",
            ));
        }
    };
    let other_side = asked.mirror && asked.files.len() > 1;
    let comparison = Comparison {
        name: "compare".to_string(),
        reference: set(reference, reference_unit),
        measured: set(measured, asked.units),
        mirror: asked.mirror && !other_side,
        repeat: asked.repeat.as_deref().map(|path| set(path, asked.units)),
        held: None,
        originals: Vec::new(),
        answered: asked.answered,
        set_by,
        points,
        datum_holes: None,
        asked: Asked {
            beads: if asked.beads {
                declared.iter().map(|r| r.name.clone()).collect()
            } else {
                Vec::new()
            },
            holes: asked.holes,
            edges: asked.edges,
            ..Asked::default()
        },
        limit_mm: asked.limit.mm,
        reach_mm: asked.reach.mm,
        regions: declared,
    };
    let comparison = match other_side {
        true => mirrored::from_the_other_side(comparison),
        false => comparison,
    };
    let made_from = made_from(&comparison, &About::default(), Path::new(""), &Prints::default())?;
    let outcome = stages::run(&comparison, made_from, &About::default(), &asked.out, progress)?;
    progress.result(&tabulate::table(&outcome.record));
    progress.result(&format!("results: {}", asked.out.display()));
    if timings {
        progress.result(&outcome.timings.table());
    }
    Ok(code(&outcome.record))
}

fn set(path: &Path, unit: Option<cloud::Unit>) -> Set {
    let name = path.file_name().map_or_else(
        || path.display().to_string(),
        |n| n.to_string_lossy().into_owned(),
    );
    Set::new(name, path, unit)
}
