//! The stages of one comparison, in the order in which data flows.

pub mod load;

pub mod scale;

pub mod gates;

pub mod register;

pub mod boxes;

pub mod compare;

pub mod features;

pub mod checks;

pub mod again;

pub mod arrangement;

pub mod originals;

pub mod draw;

pub mod tabulate;

pub mod page;

use std::path::Path;

use ::page::About;
use cloud::Warning;
use record::Record;

use crate::fill::{self, Besides};
use crate::job::Comparison;
use crate::made_from::MadeFrom;
use crate::progress::Progress;
use crate::put_in_place::{Building, MARK};
use crate::timings::Timings;
use crate::trouble::Trouble;

/// What came of a comparison.
pub struct Outcome {
    /// What was found.
    pub record: Record,
    /// Where the time went.
    pub timings: Timings,
}

/// Says warnings as they come up: a comparison that can't be done later has said by then what may be the reason.
fn warn(progress: &Progress, comparison: &Comparison, warnings: &[Warning]) {
    for warning in warnings {
        progress.warning(&format!("{}: {}", comparison.name, warning.words));
    }
}

/// Runs one comparison from its files to a folder of results at `place`.
///
/// # Errors
/// Where a set can't be read, can't be set, or the results can't be written; the place is then as it was.
pub fn run(
    comparison: &Comparison,
    made_from: MadeFrom,
    about: &About,
    place: &Path,
    progress: &Progress,
) -> Result<Outcome, Trouble> {
    let step = progress.step(&comparison.name);
    let mut timings = Timings::start();
    // Begun first, so that a place that can't be written to is known before an hour's work.
    let building = Building::begin(place)?;
    step.doing("reading");
    let loaded = load::load(comparison)?;
    load::refuse_changed(&loaded, &made_from)?;
    timings.mark("read");
    step.doing("preparing");
    let mut scaled = scale::scale(comparison, loaded)?;
    timings.mark("prepare");
    step.doing("setting");
    scaled
        .warnings
        .extend(gates::gates(comparison, &scaled.reference, &scaled.measured));
    // A set that is held against itself has its warnings twice.
    scaled.warnings.dedup();
    warn(progress, comparison, &scaled.warnings);
    let setting = if comparison.mirror {
        register::mirror::stand_beside_its_image(comparison, &mut scaled)
    } else {
        register::register(comparison, &mut scaled)
    };
    let mut setting =
        setting.map_err(|trouble| gates::unit::asked_first(comparison, &scaled.warnings, trouble))?;
    setting.repeat_mm = register::repeat::repeat_pm_mm(comparison, &scaled, &setting)?;
    warn(progress, comparison, &setting.warnings);
    let mut asked: Vec<Warning> = scaled.warnings.iter().chain(&setting.warnings).cloned().collect();
    let mut open = gates::withheld(&asked, &comparison.answered);
    timings.mark("set");
    step.doing("comparing");
    let mut compared = compare::compare(comparison, &mut scaled, &setting, &open);
    timings.mark("compare");
    step.doing("reading features");
    let mut found = again::found(comparison, &scaled, &setting, &compared)?;
    timings.mark("features");
    let of_hand = gates::hand_doubtful(&setting, &found)
        .map(|doubt| Warning::new(doubt.code, register::mirror::of_the_hand(comparison, doubt.words)));
    let of_holes = gates::holes::disagree(comparison, &setting, &compared, &found);
    for doubt in [of_hand, of_holes].into_iter().flatten() {
        found.warnings.push(doubt.clone());
        asked.push(doubt);
        open = gates::withheld(&asked, &comparison.answered);
        if !open.is_empty() {
            compared.withhold(&open);
        }
    }
    if comparison.held.is_some() || !comparison.originals.is_empty() {
        step.doing("comparing its other sets");
        found.arrangements = arrangement::arrangements(comparison, &mut compared, &mut found)?;
        found.houses = originals::houses(comparison, &compared, &mut found)?;
        timings.mark("other sets");
    }
    if !open.is_empty() {
        found.withhold();
    }
    step.doing("drawing");
    let pictures = draw::draw(comparison, &scaled, &setting, &compared, &found, building.path())?;
    timings.mark("draw");
    step.doing("writing");
    let mut warnings: Vec<Warning> = scaled.warnings.clone();
    warnings.extend(setting.warnings.iter().cloned());
    warnings.extend(compared.warnings.iter().cloned());
    warnings.extend(found.warnings.iter().cloned());
    warn(progress, comparison, &compared.warnings);
    warn(progress, comparison, &found.warnings);
    let besides = Besides {
        warnings,
        pictures,
        made_from,
    };
    let mut record = fill::record(comparison, &scaled, &setting, &compared, &found, besides);
    tabulate::tables(building.path(), &scaled, &compared, &mut record)?;
    record.files.extend(page::files(&record));
    let json = tabulate::json(&record)?;
    timings.mark("write");
    step.doing("making its pages");
    let scene = page::scene(&scaled, &setting, &compared);
    page::write(building.path(), about, &record, &json, scene)?;
    // Last, since it is the mark of a complete folder.
    tabulate::save(&building.path().join(MARK), &json)?;
    building.finish()?;
    timings.mark("pages");
    Ok(Outcome { record, timings })
}
