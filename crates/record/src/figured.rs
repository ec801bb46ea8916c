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
    /// Of its reading alone; of a hole that in its sheet.
    pub pm_mm: f64,
    /// Unit normal of that sheet, where it is a hole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub axis: Option<[f64; 3]>,
    /// Of its reading alone out of that sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pm_out_mm: Option<f64>,
    /// Of how it has moved along X, Y and Z, the setting's share in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pm_along_mm: Option<[f64; 3]>,
}

impl PlaceRecord {
    /// The ± of how it has moved along X, Y and Z, mm.
    pub fn moved_pm_mm(&self) -> [f64; 3] {
        self.pm_along_mm.unwrap_or([self.pm_mm; 3])
    }

    /// The ± of a distance from it to another place, mm.
    pub fn pm_to_mm(&self, other: &Self) -> f64 {
        let way = [0, 1, 2].map(|k| other.measured_at_mm[k] - self.measured_at_mm[k]);
        self.pm_toward_mm(way).hypot(other.pm_toward_mm(way))
    }

    /// The ± of its reading along a way of any length, mm.
    fn pm_toward_mm(&self, way: [f64; 3]) -> f64 {
        let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        let squared = dot(way, way);
        let Some((axis, pm_out_mm)) = self.axis.zip(self.pm_out_mm).filter(|_| squared > 0.0) else {
            return self.pm_mm;
        };
        let out = dot(axis, way).powi(2) / squared;
        ((1.0 - out).max(0.0) * self.pm_mm.powi(2) + out * pm_out_mm.powi(2)).sqrt()
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Holes of two upright walls that face each other, and of a floor below one of them.
    #[test]
    fn a_distance_between_holes_is_as_sure_as_their_rims_along_it_and_their_sheets_across() {
        let hole = |at: [f64; 3], axis: [f64; 3]| PlaceRecord {
            name: String::new(),
            reference_at_mm: at,
            measured_at_mm: at,
            moved_mm: [0.0; 3],
            pm_mm: 0.4,
            axis: Some(axis),
            pm_out_mm: Some(0.03),
            pm_along_mm: None,
        };
        let left = hole([0.0, -700.0, 500.0], [0.0, -1.0, 0.0]);
        let right = hole([0.0, 700.0, 500.0], [0.0, 1.0, 0.0]);
        let floor = hole([0.0, -700.0, 0.0], [0.0, 0.0, 1.0]);
        assert!((left.pm_to_mm(&right) - 0.03 * 2f64.sqrt()).abs() < 1e-12);
        assert!((left.pm_to_mm(&floor) - 0.4f64.hypot(0.03)).abs() < 1e-12);
        let probed = PlaceRecord {
            axis: None,
            ..floor.clone()
        };
        assert!((probed.pm_to_mm(&floor) - 0.4 * 2f64.sqrt()).abs() < 1e-12);
    }
}
