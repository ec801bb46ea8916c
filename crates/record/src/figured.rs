//! Figures of named places, the shell, checks and other sets, and what there is to do.

use serde::{Deserialize, Serialize};

use crate::Word;

/// A named place that was seen in both sets.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlaceRecord {
    pub name: String,
    pub reference_at_mm: [f64; 3],
    pub measured_at_mm: [f64; 3],
    pub moved_mm: [f64; 3],
    /// Of its reading alone: what a distance between two places has.
    pub pm_mm: f64,
    /// Of how it has moved along X, Y and Z, the setting's share in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pm_along_mm: Option<[f64; 3]>,
}

impl PlaceRecord {
    /// The ± of how it has moved along X, Y and Z, mm.
    pub fn moved_pm_mm(&self) -> [f64; 3] {
        self.pm_along_mm.unwrap_or([self.pm_mm; 3])
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShellRecord {
    pub name: String,
    pub reference_mm: f64,
    pub measured_mm: f64,
    pub off_mm: f64,
    pub pm_mm: f64,
    /// What it was judged by; nothing where it is told and not judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_mm: Option<f64>,
    pub verdict: Word,
    pub words: String,
}

/// A check; an angle is in degrees, everything else in mm.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CheckRecord {
    pub name: String,
    pub kind: Word,
    #[serde(flatten)]
    pub figures: CheckFigures,
    pub verdict: Word,
    pub words: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub details: Vec<DetailRecord>,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CheckFigures {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub off_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pm_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference_deg: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_deg: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub off_deg: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pm_deg: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_deg: Option<f64>,
}

/// A figure beside the first one of a check; `what` says in what it is counted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DetailRecord {
    #[serde(rename = "name")]
    pub what: Word,
    pub value: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pm: Option<f64>,
}

/// What holding the part does to a figure: mm, or degrees for an angle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ArrangementRecord {
    #[serde(rename = "name")]
    pub what: String,
    pub free: f64,
    pub held: f64,
    pub kind: Word,
    pub words: String,
}

/// A figure beside those of several originals, the reference among them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HouseRecord {
    #[serde(rename = "name")]
    pub what: String,
    pub originals: usize,
    pub median: f64,
    pub spread: f64,
    pub range: [f64; 2],
    pub measured: f64,
    pub words: String,
}

/// A thing to do.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TaskRecord {
    #[serde(rename = "for")]
    pub who: Word,
    pub words: String,
    /// Where its figure stands in this file.
    pub figure: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub picture: Option<String>,
}
