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
    /// The region that its flange hangs from, where that has moved and its move brings the fold home.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moved_with: Option<String>,
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

/// A piece of metal that the reference does not have; its size is in its own plane, the longer side first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ExtraRecord {
    pub name: String,
    /// The region that it stands at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub region: Option<String>,
    pub at_mm: [f64; 3],
    pub size_mm: [f64; 2],
    pub area_mm2: f64,
    /// How far it stands off the nearest metal of the reference.
    pub off_mm: f64,
    pub points: usize,
    pub words: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StretchRecord {
    pub from_mm: [f64; 3],
    pub to_mm: [f64; 3],
    pub length_mm: f64,
    pub short_mm: f64,
    pub pm_mm: f64,
    /// How high the flange is on the reference that ends there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_mm: Option<f64>,
    /// The region that it has moved with, where that is why it is off, or part of why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moved_with: Option<MovedWithRecord>,
    /// Whether it is within the limit, or too close to it to be called out: then nothing is done about it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub not_out: bool,
    pub words: String,
}

impl StretchRecord {
    /// Whether it comes home when its region is moved home.
    pub fn comes_home(&self) -> bool {
        self.moved_with.as_ref().is_some_and(|with| with.home)
    }
}

impl EdgeRecord {
    /// Whether a stretch of it reads as out, be the verdict given or withheld.
    pub fn reads_out(&self) -> bool {
        self.verdict == "outside" || self.stretches.iter().any(|stretch| !stretch.not_out)
    }

    /// Whether all that is out of it comes home with regions: then it is how they lie, and no fault of the edge.
    pub fn comes_home(&self) -> bool {
        let mut all = self.stretches.iter();
        let any = self.stretches.iter().any(StretchRecord::comes_home);
        any && all.all(|stretch| stretch.not_out || stretch.comes_home())
    }
}

/// What an edge has moved with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MovedWithRecord {
    pub region: String,
    /// Whether it comes home with it; else it is measured again then.
    pub home: bool,
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

impl BeadPairRecord {
    /// Whether it goes on beyond what one of the sets shows of it, so that there are no two lengths to compare.
    pub fn runs_on(&self) -> bool {
        self.reference
            .iter()
            .chain(&self.measured)
            .any(|bead| bead.runs_on)
    }
}

/// Depth is above 0 where it is raised to the outside.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BeadRecord {
    pub at_mm: [f64; 3],
    pub ends_mm: [[f64; 3]; 2],
    /// Of a ring the diameter of its middle line.
    pub length_mm: f64,
    pub width_mm: f64,
    pub depth_mm: f64,
    /// Whether it closes in itself.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub ring: bool,
    /// Whether it goes on beyond its region's box or what was seen of it, so that its length is none of its own.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub runs_on: bool,
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
    /// Unit normals of the sheet at the hole, to the outside; both in the reference's frame.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference_axis: Option<[f64; 3]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_axis: Option<[f64; 3]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tipped: Option<TipRecord>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_sheet: Option<InSheetRecord>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clear: Option<ClearRecord>,
}

/// How far the axis is tipped from the reference's.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TipRecord {
    pub deg: f64,
    pub pm_deg: f64,
    pub words: String,
}

/// The offset by the directions of the reference's sheet: along and across it, and out of it to the outside.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InSheetRecord {
    pub along: [f64; 3],
    pub across: [f64; 3],
    pub along_mm: f64,
    pub across_mm: f64,
    pub out_mm: f64,
    /// ± of the last; that of the others is the hole's.
    pub out_pm_mm: f64,
    pub words: String,
}

/// The largest circle that lies in both as they lie, and the common bolts that go through it for sure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClearRecord {
    pub clear_mm: f64,
    pub pm_mm: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inch_bolt: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub metric_bolt: Option<String>,
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
    /// How much of the measured length is growth by warmth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grown_mm: Option<f64>,
    /// Where the measured metal ends before the reference's does.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ends: Vec<EndRecord>,
}

/// Metal that is missing at the end of a cut; the reference length takes it in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EndRecord {
    pub at_mm: [f64; 3],
    pub short_mm: f64,
    pub pm_mm: f64,
    pub words: String,
}
