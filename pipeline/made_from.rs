//! What a comparison is made from: every file that has a share in it, by fingerprint, and all settings. The same again gives the
//! same results, so what hasn't changed isn't done again.

use std::cell::RefCell;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

use archive::Fingerprint;
use page::About;
use record::{InputRecord, Record};

use crate::job::{Comparison, Job, Measured, Set};
use crate::trouble::Trouble;

/// The program and its version, as it stands in every record.
pub const PROGRAM: &str = concat!("witnessmark ", env!("CARGO_PKG_VERSION"));

/// What a comparison is made from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MadeFrom {
    /// Every file that has a share in it.
    pub inputs: Vec<InputRecord>,
    /// SHA-256 of all settings, files aside.
    pub settings_sha256: String,
}

/// Fingerprints of files, each taken once.
#[derive(Debug, Default)]
pub struct Prints {
    taken: RefCell<HashMap<PathBuf, Fingerprint>>,
}

impl Prints {
    /// The fingerprint of a file as it is now, or was when it was first asked for.
    ///
    /// # Errors
    /// Where it can't be read.
    pub fn of(&self, path: &Path) -> Result<Fingerprint, Trouble> {
        let known = self.taken.borrow().get(path).cloned();
        if let Some(print) = known {
            return Ok(print);
        }
        let print = Fingerprint::of(path)?;
        self.taken.borrow_mut().insert(path.to_path_buf(), print.clone());
        Ok(print)
    }
}

/// The sets of a comparison with what each is taken for.
pub fn sets(comparison: &Comparison) -> Vec<(&'static str, &Set)> {
    let mut sets = vec![
        ("reference", &comparison.reference),
        ("measured", &comparison.measured),
    ];
    sets.extend(comparison.repeat.iter().map(|set| ("repeat", set)));
    sets.extend(comparison.held.iter().map(|set| ("held", set)));
    sets.extend(comparison.originals.iter().map(|set| ("original", set)));
    sets
}

/// Every file of a comparison.
pub fn files_of(comparison: &Comparison) -> Vec<&Path> {
    let sets = sets(comparison).into_iter().map(|(_, set)| set.path.as_path());
    let tables = tables(comparison).into_iter().map(|(_, path)| path);
    sets.chain(tables).collect()
}

/// The tables of points of a comparison with whose each is.
fn tables(comparison: &Comparison) -> Vec<(&'static str, &Path)> {
    let Some(own) = &comparison.points else {
        // Where holes are found, a table of the reference alone says which.
        let alone = comparison
            .datum_holes
            .as_ref()
            .and_then(|holes| holes.table.as_ref());
        let path = alone.map(|table| ("points of the reference", table.path.as_path()));
        return path.into_iter().collect();
    };
    let mut tables = vec![
        ("points of the reference", own.reference.as_path()),
        ("points of the measured set", own.measured.as_path()),
    ];
    let others = [
        ("points of the repeat", comparison.repeat.as_slice()),
        ("points of the held set", comparison.held.as_slice()),
        ("points of an original", comparison.originals.as_slice()),
    ];
    for (role, sets) in others {
        tables.extend(sets.iter().filter_map(|set| Some((role, set.points.as_deref()?))));
    }
    tables
}

/// What `comparison` is made from; files are named from `folder`.
///
/// # Errors
/// Where one of its files can't be read.
pub fn made_from(
    comparison: &Comparison,
    about: &About,
    folder: &Path,
    prints: &Prints,
) -> Result<MadeFrom, Trouble> {
    let mut inputs = Vec::new();
    for (role, set) in sets(comparison) {
        inputs.push(input(role, set.file.clone(), prints.of(&set.path)?));
    }
    for (role, path) in tables(comparison) {
        inputs.push(input(role, named_from(folder, path), prints.of(path)?));
    }
    Ok(MadeFrom {
        inputs,
        settings_sha256: settings_sha256(comparison, about),
    })
}

/// What was measured on the trips of a job: the tables that were probed, and the sets with what they were held against. One that
/// is not there is told where it is read.
///
/// # Errors
/// Where one can't be read.
pub fn of_trips(job: &Job) -> Result<Vec<InputRecord>, Trouble> {
    let prints = Prints::default();
    let mut inputs = Vec::new();
    for trip in &job.trips {
        let files: Vec<(&'static str, String, &Path)> = match &trip.what {
            Measured::Points { path, .. } => {
                vec![("points of a trip", named_from(&job.folder, path), path.as_path())]
            }
            Measured::Set { shown_by, .. } => {
                let shown = job
                    .comparisons
                    .iter()
                    .filter(|c| c.name == *shown_by)
                    .flat_map(sets);
                shown
                    .map(|(role, set)| (role, set.file.clone(), set.path.as_path()))
                    .collect()
            }
        };
        for (role, file, path) in files.into_iter().filter(|(.., path)| path.is_file()) {
            inputs.push(input(role, file, prints.of(path)?));
        }
    }
    Ok(inputs)
}

fn input(role: &'static str, file: String, print: Fingerprint) -> InputRecord {
    InputRecord {
        role: role.into(),
        file,
        sha256: print.sha256,
        bytes: print.bytes,
    }
}

/// A path as it is named from a folder, with `/` between names.
pub fn named_from(folder: &Path, path: &Path) -> String {
    let below = path.strip_prefix(folder).unwrap_or(path);
    below.display().to_string().replace('\\', "/")
}

/// The debug text of a checked comparison holds every value of it, and a setting that is added later by itself; where its files
/// lie is not among what is set. What the owner says of the job stands on its pages.
fn settings_sha256(comparison: &Comparison, about: &About) -> String {
    let mut set = comparison.clone();
    let sets = [&mut set.reference, &mut set.measured]
        .into_iter()
        .chain(&mut set.repeat)
        .chain(&mut set.held)
        .chain(&mut set.originals);
    for one in sets {
        one.path = PathBuf::new();
        // Only those that have a share are among the inputs.
        one.points = None;
    }
    if let Some(tables) = &mut set.points {
        tables.reference = PathBuf::new();
        tables.measured = PathBuf::new();
    }
    if let Some(table) = set.datum_holes.as_mut().and_then(|holes| holes.table.as_mut()) {
        table.path = PathBuf::new();
    }
    Fingerprint::of_bytes(format!("{set:?} {about:?}").as_bytes()).sha256
}

/// Why results are to be made anew.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stale {
    /// There are none, or they are not whole.
    Never,
    /// It was asked for.
    Asked,
    /// Another version made them.
    Program(String),
    /// The settings have changed.
    Settings,
    /// A file has changed: what it is taken for, and its name.
    Input(String, String),
}

impl Stale {
    /// In words.
    pub fn words(&self) -> String {
        match self {
            Stale::Never => "not done yet".to_string(),
            Stale::Asked => "asked for again".to_string(),
            Stale::Program(was) => format!("was made by {was}"),
            Stale::Settings => "its settings have changed".to_string(),
            Stale::Input(role, file) => format!("its {role} has changed ({file})"),
        }
    }
}

/// The record of results that need not be made again, or why they must.
///
/// # Errors
/// [`Stale`]: nothing is wrong then; there is work to do.
pub fn still_good(made_from: &MadeFrom, results: &Path) -> Result<Record, Stale> {
    let json = std::fs::read(results.join(crate::put_in_place::MARK)).map_err(|_| Stale::Never)?;
    let whole: serde_json::Value = serde_json::from_slice(&json).map_err(|_| Stale::Never)?;
    // Of another version nothing but its name need be readable.
    let program = whole["program"].as_str().unwrap_or("something else");
    if program != PROGRAM {
        return Err(Stale::Program(program.to_string()));
    }
    let record = Record::from_json(&json).map_err(|_| Stale::Never)?;
    if record.made_with.settings_sha256 != made_from.settings_sha256 {
        return Err(Stale::Settings);
    }
    if let Some(changed) = made_from.inputs.iter().find(|i| !record.inputs.contains(i)) {
        return Err(Stale::Input(changed.role.to_string(), changed.file.clone()));
    }
    if record.inputs.len() != made_from.inputs.len() {
        return Err(Stale::Settings);
    }
    if record.files.iter().any(|file| !results.join(file).is_file()) {
        return Err(Stale::Never);
    }
    Ok(record)
}
