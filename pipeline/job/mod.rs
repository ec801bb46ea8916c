//! A job: every value checked and filled in.

pub mod about;
pub mod asked;
pub mod check;
pub mod checks;
pub mod comparison;
pub mod file;
pub mod inside;
pub mod mirrored;
pub mod named;
pub mod regions;
pub mod section;
pub mod sets;
pub mod trips;

use std::path::{Path, PathBuf};

use cloud::gauge::Gauge;
use cloud::{NamedPoint, Unit};
use compare::Region;

use crate::cli::SetBy;
use crate::trouble::Trouble;
pub use asked::Asked;
pub use checks::{CheckAsked, CheckKind, Straight};
pub use file::Lost;
pub use named::DatumHoles;
pub use sets::{Bar, Face, Up};
pub use trips::{Measured, Trip};

/// A set as declared.
#[derive(Debug, Clone, PartialEq)]
pub struct Set {
    /// What the job calls it.
    pub name: String,
    /// Its file, as the job or the command line names it.
    pub file: String,
    /// Where it lies.
    pub path: PathBuf,
    /// Its unit; `None` where the file itself or the bars must say.
    pub unit: Option<Unit>,
    /// Which axis of the file points up; Z where nothing is said.
    pub up: Option<Up>,
    /// How thick the sheet is.
    pub gauge: Option<Gauge>,
    /// Which face of the sheet was measured.
    pub face: Option<Face>,
    /// How warm the metal was, °C.
    pub celsius: Option<f64>,
    /// Known distances that the set is scaled by: none, or at least two in different directions.
    pub bars: Vec<Bar>,
    /// A table of its named points, for where it stands beside the measured set of a comparison by points.
    pub points: Option<PathBuf>,
    /// Whether it is of the other side, so that its mirror image in Y = 0 of its own frame stands in for it.
    pub mirrored: bool,
}

impl Set {
    /// A set of which nothing is said but its unit.
    pub fn new(name: impl Into<String>, path: &Path, unit: Option<Unit>) -> Self {
        Self {
            name: name.into(),
            file: path.display().to_string().replace('\\', "/"),
            path: path.to_path_buf(),
            unit,
            up: None,
            gauge: None,
            face: None,
            celsius: None,
            bars: Vec::new(),
            points: None,
            mirrored: false,
        }
    }
}

/// The questions that withhold every verdict until the owner has looked: the words of `answered`.
pub const QUESTIONS: [&str; 9] = [
    "unit", "hand", "way", "face", "layers", "drift", "axes", "rest", "holes",
];

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
    /// The reference; the measured set itself where it is held against its mirror image. Where it is of the other side, all
    /// that is said in its frame is said of its mirror image ([`mirrored::from_the_other_side`]).
    pub reference: Set,
    /// The measured set.
    pub measured: Set,
    /// Whether the measured set is held against its own mirror image.
    pub mirror: bool,
    /// The same thing, re-seated and measured again.
    pub repeat: Option<Set>,
    /// What the measured set is set by.
    pub set_by: SetBy,
    /// Named points, where given.
    pub points: Option<PointTables>,
    /// Holes that are found in every set and stand in for named points, where given.
    pub datum_holes: Option<DatumHoles>,
    /// Regions of the reference.
    pub regions: Vec<Region>,
    /// What is asked for besides the deviation.
    pub asked: Asked,
    /// The same part held on its pads, where the measured set shows it free.
    pub held: Option<Set>,
    /// Other originals of the part, which show how far such parts differ by themselves.
    pub originals: Vec<Set>,
    /// Questions that the owner has looked at, of [`QUESTIONS`]; they withhold no verdict.
    pub answered: Vec<String>,
    /// How far metal may be off where no region says otherwise, mm.
    pub limit_mm: f64,
    /// How far metal is still taken for the same sheet, mm.
    pub reach_mm: f64,
}

impl Comparison {
    /// Whether the measured set is held against a mirror image: its own, or the other side's. What is off differs then, and is
    /// not wrong.
    pub fn against_image(&self) -> bool {
        self.mirror || self.reference.mirrored
    }

    /// The tables of points by which another set of the part is set on the reference: the reference's, and its own. `None`
    /// where either is not given.
    pub fn points_of(&self, other: &Set) -> Option<PointTables> {
        Some(PointTables {
            measured: other.points.clone()?,
            ..self.points.clone()?
        })
    }

    /// How far the measured points must be shifted along their normals to lie on the reference's face of the sheet, mm;
    /// `None` where both were measured on one face, or nothing is said.
    pub fn face_shift_mm(&self) -> Option<f64> {
        let thickness = self.measured.gauge.as_ref().or(self.reference.gauge.as_ref())?.mm;
        match (self.measured.face?, self.reference.face?) {
            (Face::Inside, Face::Outside) => Some(thickness),
            (Face::Outside, Face::Inside) => Some(-thickness),
            _ => None,
        }
    }
}

/// A job.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// What the owner calls it.
    pub name: String,
    /// Its job file.
    pub file: PathBuf,
    /// Files that it names and that are not there.
    pub lost: Vec<Lost>,
    /// Its folder.
    pub folder: PathBuf,
    /// Where its results go.
    pub results_in: PathBuf,
    /// What the owner says of it.
    pub about: page::About,
    /// Its named places.
    pub places: Vec<NamedPoint>,
    /// Its comparisons, in the file's order; those of its trips after them.
    pub comparisons: Vec<Comparison>,
    /// Its trips, by day.
    pub trips: Vec<Trip>,
    /// How far metal may be off where nothing else is said, mm.
    pub limit_mm: f64,
}

impl Job {
    /// Reads the job in a folder, or in a job file.
    ///
    /// # Errors
    /// All faults of the file at once, each with its line and key.
    pub fn read(path: &Path) -> Result<Self, Trouble> {
        let file = file::of(path);
        let text = file::text_of(&file)?;
        check::job(&file, &file::folder(&file), &text)
    }

    /// Files that are lost are told all at once, each with its line in the job file.
    ///
    /// # Errors
    /// Where one of `paths` is not there.
    pub fn refuse_lost(&self, paths: &[&Path]) -> Result<(), Trouble> {
        let lost = self
            .lost
            .iter()
            .filter(|lost| paths.contains(&lost.path.as_path()));
        let mut words: Vec<String> = lost.map(|lost| lost.words(&self.file)).collect();
        words.dedup();
        if words.is_empty() {
            return Ok(());
        }
        Err(Trouble::new(words.join("\nwitnessmark: ")))
    }

    /// Where the results of a comparison go.
    pub fn results(&self, comparison: &str) -> PathBuf {
        self.results_in.join(comparison)
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
