//! What was found besides the deviation: folds, edges, recesses, beads, holes, sections.

use serde::{Deserialize, Serialize};

use crate::Word;

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FoldRecord {
    pub name: String,
    pub short_mm: f64,
    pub pm_mm: f64,
    pub verdict: Word,
    pub words: String,
    /// Neighbouring runs that are alike, those that are home too.
    #[serde(default)]
    pub stretches: Vec<FoldStretchRecord>,
    #[serde(default)]
    pub runs: Vec<RunRecord>,
}

/// A stretch of a fold; its length is of what was seen between its ends.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FoldStretchRecord {
    pub from_mm: [f64; 3],
    pub to_mm: [f64; 3],
    pub length_mm: f64,
    pub short_mm: f64,
    pub pm_mm: f64,
    pub verdict: Word,
    pub words: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EdgeRecord {
    pub name: String,
    /// The region that it borders.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub region: Option<String>,
    pub length_mm: f64,
    pub closed: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub straightness_mm: Option<f64>,
    pub verdict: Word,
    pub words: Vec<String>,
    /// Neighbouring runs that are off alike.
    pub stretches: Vec<StretchRecord>,
    pub runs: Vec<RunRecord>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StretchRecord {
    pub from_mm: [f64; 3],
    pub to_mm: [f64; 3],
    pub length_mm: f64,
    pub short_mm: f64,
    pub pm_mm: f64,
    pub words: String,
}

/// One run; without `short_mm` the edge or the fold was not seen there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunRecord {
    pub from_mm: [f64; 3],
    pub to_mm: [f64; 3],
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub short_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pm_mm: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RecessPairRecord {
    pub name: String,
    pub reference: RecessRecord,
    pub measured: RecessRecord,
    pub moved_mm: [f64; 3],
    pub pm_mm: f64,
    pub verdict: Word,
    pub words: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RecessRecord {
    pub at_mm: [f64; 3],
    pub depth_mm: f64,
    pub width_mm: [f64; 2],
    pub wall_deg: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outer_radius_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inner_radius_mm: Option<f64>,
}

/// A bead, or a recess that was found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BeadPairRecord {
    pub name: String,
    pub region: String,
    pub state: Word,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference: Option<BeadRecord>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured: Option<BeadRecord>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moved_mm: Option<[f64; 3]>,
    pub pm_mm: f64,
    pub verdict: Word,
    pub words: Vec<String>,
}

/// Depth is above 0 where it is raised to the outside.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BeadRecord {
    pub at_mm: [f64; 3],
    pub ends_mm: [[f64; 3]; 2],
    pub length_mm: f64,
    pub width_mm: f64,
    pub depth_mm: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wall_deg: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outer_radius_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inner_radius_mm: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HoleRecord {
    pub name: String,
    pub kind: Word,
    pub state: Word,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference_at_mm: Option<[f64; 3]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_at_mm: Option<[f64; 3]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset_mm: Option<[f64; 3]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference_size_mm: Option<SizeRecord>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_size_mm: Option<SizeRecord>,
    pub pm_mm: f64,
    pub verdict: Word,
    pub words: String,
}

/// A slot's length is over all.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SizeRecord {
    pub diameter: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SectionRecord {
    pub name: String,
    pub planes: Vec<PlaneRecord>,
}

/// One plane of a section; the lengths are along the metal, over what both sets have.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlaneRecord {
    pub through_mm: [f64; 3],
    pub facing: [f64; 3],
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub along_mm: Option<f64>,
    /// Whether the reference has no metal there.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub cuts_nothing: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub off_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pm_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference_length_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_length_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_pm_mm: Option<f64>,
}
