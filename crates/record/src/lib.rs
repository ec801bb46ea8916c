//! Everything that a comparison found, as it is written to result.json and read back: lengths in mm, angles in degrees.

// The fields are the keys of result.json: their names say what they hold and in which unit.
#![allow(missing_docs)]

pub mod figured;
pub mod found;
pub mod verdict;

use std::borrow::Cow;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use figured::*;
use found::*;

/// A word of a fixed choice, such as a verdict.
pub type Word = Cow<'static, str>;

/// A comparison's results.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Record {
    pub schema: u32,
    pub program: String,
    pub comparison: String,
    pub made_with: MadeWith,
    /// Every file that had a share in it, as it was then.
    pub inputs: Vec<InputRecord>,
    pub reference: SetRecord,
    pub measured: SetRecord,
    pub setting: SettingRecord,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mirror: Option<MirrorRecord>,
    pub figures: FiguresRecord,
    pub regions: Vec<RegionRecord>,
    /// What is proud or shy of the whole set, the worst first, where no regions are declared.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub spots: Vec<SpotRecord>,
    pub folds: Vec<FoldRecord>,
    pub edges: Vec<EdgeRecord>,
    /// Metal that the reference does not have.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub extra: Vec<ExtraRecord>,
    pub recesses: Vec<RecessPairRecord>,
    pub beads: Vec<BeadPairRecord>,
    pub holes: Vec<HoleRecord>,
    pub sections: Vec<SectionRecord>,
    pub places: Vec<PlaceRecord>,
    pub shell: Vec<ShellRecord>,
    pub checks: Vec<CheckRecord>,
    /// Free against held.
    pub arrangement: Vec<ArrangementRecord>,
    /// House dimensions.
    pub house: Vec<HouseRecord>,
    /// What there is to do, in the order in which it is done.
    pub work: Vec<TaskRecord>,
    pub warnings: Vec<WarningRecord>,
    pub verdict: Word,
    /// What the pictures show.
    pub pictures: Vec<PictureRecord>,
    pub files: Vec<String>,
}

impl Record {
    /// Reads a result.json.
    ///
    /// # Errors
    /// What is wrong with it, where it is no record of this kind.
    pub fn from_json(json: &[u8]) -> Result<Self, serde_json::Error> {
        serde_json::from_slice(json)
    }

    /// Whether it was held against a mirror image: its own, or the other side's. What is off differs then, and is not wrong.
    pub fn against_image(&self) -> bool {
        self.mirror.is_some() || self.reference.mirrored
    }
}

/// What a set is called on pages: its name, and that its mirror image stands in for it where it is of the other side.
pub fn called(name: &str, mirrored: bool) -> String {
    match mirrored {
        true => format!("{name} (the other side, mirrored)"),
        false => name.to_string(),
    }
}

/// A file that had a share in the results.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct InputRecord {
    /// What it was taken for: reference, measured, repeat, held, original, points of the reference, points of the measured set.
    pub role: Word,
    pub file: String,
    pub sha256: String,
    pub bytes: u64,
}

/// A picture beside the result.json.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PictureRecord {
    pub file: String,
    /// What it shows, in words that a stranger understands.
    pub caption: String,
}

/// All settings as filled in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MadeWith {
    /// SHA-256 of all settings as they were checked, files aside: the same again where nothing was set otherwise.
    pub settings_sha256: String,
    pub set_by: Word,
    pub limit_mm: f64,
    pub reach_mm: f64,
    pub asked: AskedMadeWith,
    pub regions: BTreeMap<String, RegionMadeWith>,
    pub disc_mm: f64,
}

/// What was asked for besides the deviation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AskedMadeWith {
    pub holes: bool,
    pub edges: bool,
    pub shell: bool,
    pub folds: Vec<String>,
    pub recesses: Vec<String>,
    pub beads: Vec<String>,
    pub sections: Vec<String>,
    pub checks: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub held: Option<String>,
    pub originals: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RegionMadeWith {
    pub status: Word,
    #[serde(rename = "box")]
    pub corners_mm: [[f64; 3]; 2],
    pub limit_mm: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetRecord {
    pub name: String,
    pub file: String,
    pub sha256: String,
    pub bytes: u64,
    pub unit: Word,
    /// What the file's numbers were multiplied by besides the unit: 1 unless bars say otherwise.
    pub scale: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub celsius: Option<f64>,
    pub points: usize,
    pub points_used: usize,
    pub spacing_mm: f64,
    pub noise_mm: f64,
    pub strays: usize,
    /// Whether it is of the other side and its mirror image in Y = 0 of its own frame stands in for it: what is said of its
    /// frame elsewhere is said of the mirrored one.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub mirrored: bool,
}

impl SetRecord {
    /// What it is called on pages.
    pub fn called(&self) -> String {
        called(&self.name, self.mirrored)
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SettingRecord {
    pub method: Word,
    pub words: String,
    pub reference_from_measured: [[f64; 4]; 4],
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rms_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub worst_mm: Option<f64>,
    pub pairs: usize,
    pub settled: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub held: Option<HeldRecord>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub runner_up: Option<RunnerUpRecord>,
    /// ± that re-seating and measuring again adds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeat_pm_mm: Option<f64>,
    pub predicted_pm_mm: Vec<PmRecord>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub points: Vec<PointRecord>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HeldRecord {
    pub condition: f64,
    pub free: Vec<FreeRecord>,
    pub sd_mm: [f64; 6],
    /// The six motions that `sd_mm` belongs to, best held first.
    pub motions: [String; 6],
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FreeRecord {
    pub words: String,
    pub vector: [f64; 6],
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunnerUpRecord {
    pub rms_mm: f64,
    pub words: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PmRecord {
    pub at_mm: [f64; 3],
    pub pm_mm: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PointRecord {
    pub name: String,
    pub residual_mm: f64,
    pub used: bool,
}

/// Figures; those of the distances are left out where there are none.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FiguresRecord {
    pub points: usize,
    pub coverage: f64,
    pub beyond_edge: usize,
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub spread: Option<SpreadRecord>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpreadRecord {
    pub mean_mm: f64,
    pub mean_pm_mm: f64,
    pub sd_mm: f64,
    pub rms_mm: f64,
    pub median_mm: f64,
    pub p05_mm: f64,
    pub p95_mm: f64,
    pub min_mm: f64,
    pub max_mm: f64,
    pub within_share: f64,
    pub profile_mm: f64,
    pub pm_mm: f64,
    pub min_at_mm: [f64; 3],
    pub max_at_mm: [f64; 3],
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RegionRecord {
    pub name: String,
    pub status: Word,
    pub limit_mm: f64,
    #[serde(flatten)]
    pub figures: FiguresRecord,
    pub verdict: Word,
    /// Whether the verdict is withheld until a question is answered.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withheld: bool,
    #[serde(rename = "move", skip_serializing_if = "Option::is_none")]
    pub shift: Option<MoveRecord>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shape: Option<ShapeRecord>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MoveRecord {
    pub words: String,
    pub translation_mm: [f64; 3],
    pub rotation_deg: [f64; 3],
    pub about_mm: [f64; 3],
    pub pm_mm: f64,
    pub explained: f64,
    pub unheld: Vec<FreeRecord>,
    pub pads: Vec<PadRecord>,
    /// How what is left is bent as a whole, where the region is a panel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shape: Option<PanelShapeRecord>,
}

/// The low-order shape of a panel: a bow is above 0 where its middle is crowned, the twist is corner to corner.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PanelShapeRecord {
    /// What of it is surely off; empty where nothing is.
    pub words: String,
    pub length_mm: f64,
    pub width_mm: f64,
    pub along_mm: f64,
    pub along_pm_mm: f64,
    pub across_mm: f64,
    pub across_pm_mm: f64,
    pub twist_mm: f64,
    pub twist_pm_mm: f64,
    /// Edges whose rim stands off where the sheet behind would carry it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub curls: Vec<CurlRecord>,
}

/// A run of an edge that stands proud (above 0) or shy.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CurlRecord {
    pub edge: String,
    pub curl_mm: f64,
    pub pm_mm: f64,
    pub ends_mm: [[f64; 3]; 2],
    pub length_mm: f64,
    pub words: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PadRecord {
    pub name: String,
    pub at_mm: [f64; 3],
    pub shim_mm: [f64; 3],
    pub pm_mm: f64,
    pub words: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShapeRecord {
    pub spots: Vec<SpotRecord>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpotRecord {
    pub off_mm: f64,
    pub at_mm: [f64; 3],
    pub area_mm2: f64,
    /// Its extents along its own principal axes in the sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width_mm: Option<f64>,
}

/// The centre plane, normal · x = offset, in the measured set's own frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MirrorRecord {
    pub plane: MirrorPlaneRecord,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MirrorPlaneRecord {
    pub normal: [f64; 3],
    pub offset_mm: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WarningRecord {
    pub code: Word,
    pub words: String,
}
