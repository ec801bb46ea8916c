//! A job: every value checked and filled in.

pub mod check;
pub mod file;
pub mod regions;

use std::path::{Path, PathBuf};

use cloud::{Bounds, Unit};
use compare::Region;

use crate::cli::SetBy;
use crate::trouble::Trouble;

/// A set as declared.
#[derive(Debug, Clone, PartialEq)]
pub struct Set {
    /// What the job calls it.
    pub name: String,
    /// Where it lies.
    pub path: PathBuf,
    /// Its unit; `None` where the file itself must say.
    pub unit: Option<Unit>,
}

/// A recess that is to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct RecessAsked {
    /// What the job calls it.
    pub name: String,
    /// Its outline on the reference, mm.
    pub outline: Bounds,
    /// How far its place, depth and width may be off, mm.
    pub limit_mm: f64,
}

/// Named points that the sets are set by.
#[derive(Debug, Clone, PartialEq)]
pub struct PointTables {
    /// In the reference.
    pub reference: PathBuf,
    /// Their unit, where no head says so.
    pub reference_unit: Unit,
    /// In the measured set.
    pub measured: PathBuf,
    /// Their unit, where no head says so.
    pub measured_unit: Unit,
}

/// One comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// What the job calls it.
    pub name: String,
    /// The reference.
    pub reference: Set,
    /// The measured set.
    pub measured: Set,
    /// What the measured set is set by.
    pub set_by: SetBy,
    /// Named points, where given.
    pub points: Option<PointTables>,
    /// Regions of the reference.
    pub regions: Vec<Region>,
    /// Names of the regions whose folds are read.
    pub folds: Vec<String>,
    /// Recesses that are read.
    pub recesses: Vec<RecessAsked>,
    /// Whether holes are looked for.
    pub holes: bool,
    /// How far metal may be off where no region says otherwise, mm.
    pub limit_mm: f64,
    /// How far metal is still taken for the same sheet, mm.
    pub reach_mm: f64,
}

/// A job.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// What the owner calls it.
    pub name: String,
    /// Its folder.
    pub folder: PathBuf,
    /// Its comparisons, in the file's order.
    pub comparisons: Vec<Comparison>,
}

impl Job {
    /// Reads the job in a folder, or in a job file.
    ///
    /// # Errors
    /// All faults of the file at once, each with its line and key.
    pub fn read(path: &Path) -> Result<Self, Trouble> {
        let file = if path.is_dir() {
            path.join("job.toml")
        } else {
            path.to_path_buf()
        };
        let text = file::text_of(&file)?;
        let folder = match file.parent() {
            Some(above) if !above.as_os_str().is_empty() => above.to_path_buf(),
            _ => PathBuf::from("."),
        };
        check::job(&file, &folder, &text)
    }

    /// Where the results of a comparison go.
    pub fn results(&self, comparison: &str) -> PathBuf {
        self.folder.join("results").join(comparison)
    }
}

/// What a set is set by where nothing is said: by what was left alone where a region is kept, by points where they are
/// given, else all over.
pub fn usual_setting(regions: &[Region], points: bool) -> SetBy {
    if regions.iter().any(|r| r.status == compare::Status::Kept) {
        SetBy::LeftAlone
    } else if points {
        SetBy::Points
    } else {
        SetBy::AllOver
    }
}
