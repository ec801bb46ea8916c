//! Figures of named places, the shell, checks and other sets, and what there is to do, as they are written to result.json.

use ::features::house::House;
use serde::Serialize;

use super::fill::{along, at, r};
use crate::stages::arrangement::Arrangement;
use crate::stages::checks::place::SeenPlace;
use crate::stages::checks::{CheckResult, Counted};
use crate::stages::features::shell::ShellFigure;
use crate::work::Task;

/// A named place that was seen in both sets.
#[derive(Serialize)]
pub struct PlaceRecord {
    pub name: String,
    pub reference_at_mm: [f64; 3],
    pub measured_at_mm: [f64; 3],
    pub moved_mm: [f64; 3],
    pub pm_mm: f64,
}

impl From<&SeenPlace> for PlaceRecord {
    fn from(place: &SeenPlace) -> Self {
        Self {
            name: place.name.clone(),
            reference_at_mm: at(&place.reference),
            measured_at_mm: at(&place.measured),
            moved_mm: along(&(place.measured - place.reference)),
            pm_mm: r(place.pm_mm),
        }
    }
}

#[derive(Serialize)]
pub struct ShellRecord {
    pub name: String,
    pub reference_mm: f64,
    pub measured_mm: f64,
    pub off_mm: f64,
    pub pm_mm: f64,
    pub verdict: &'static str,
    pub words: String,
}

impl From<&ShellFigure> for ShellRecord {
    fn from(figure: &ShellFigure) -> Self {
        Self {
            name: figure.name.clone(),
            reference_mm: r(figure.reference_mm),
            measured_mm: r(figure.measured_mm),
            off_mm: r(figure.off_mm),
            pm_mm: r(figure.pm_mm),
            verdict: figure.verdict.word(),
            words: figure.words.clone(),
        }
    }
}

/// A check; an angle is in degrees, everything else in mm.
#[derive(Serialize)]
pub struct CheckRecord {
    pub name: String,
    pub kind: &'static str,
    #[serde(flatten)]
    pub figures: CheckFigures,
    pub verdict: &'static str,
    pub words: String,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub details: Vec<DetailRecord>,
}

#[derive(Serialize, Default)]
pub struct CheckFigures {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub off_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pm_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub off_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pm_deg: Option<f64>,
}

/// A figure beside the first one of a check; `what` says in what it is counted.
#[derive(Serialize)]
pub struct DetailRecord {
    #[serde(rename = "name")]
    pub what: &'static str,
    pub value: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pm: Option<f64>,
}

impl From<&CheckResult> for CheckRecord {
    fn from(check: &CheckResult) -> Self {
        let [reference, measured, off, pm] =
            [check.reference, check.measured, check.off, check.pm].map(|v| v.map(r));
        Self {
            name: check.name.clone(),
            kind: check.kind,
            figures: match check.counted {
                Counted::Length => CheckFigures {
                    reference_mm: reference,
                    measured_mm: measured,
                    off_mm: off,
                    pm_mm: pm,
                    ..CheckFigures::default()
                },
                Counted::Angle => CheckFigures {
                    reference_deg: reference,
                    measured_deg: measured,
                    off_deg: off,
                    pm_deg: pm,
                    ..CheckFigures::default()
                },
            },
            verdict: check.verdict.word(),
            words: check.words.clone(),
            details: check
                .details
                .iter()
                .map(|d| DetailRecord {
                    what: d.what,
                    value: r(d.value),
                    pm: d.pm.map(r),
                })
                .collect(),
        }
    }
}

/// What holding the part does to a figure: mm, or degrees for an angle.
#[derive(Serialize)]
pub struct ArrangementRecord {
    #[serde(rename = "name")]
    pub what: String,
    pub free: f64,
    pub held: f64,
    pub kind: &'static str,
    pub words: String,
}

impl From<&Arrangement> for ArrangementRecord {
    fn from(arrangement: &Arrangement) -> Self {
        Self {
            what: arrangement.what.clone(),
            free: r(arrangement.free),
            held: r(arrangement.held),
            kind: arrangement.kind.word(),
            words: arrangement.words.clone(),
        }
    }
}

/// A figure beside those of several originals, the reference among them.
#[derive(Serialize)]
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

impl From<&House> for HouseRecord {
    fn from(house: &House) -> Self {
        Self {
            what: house.what.clone(),
            originals: house.count,
            median: r(house.median_mm),
            spread: r(house.spread_mm),
            range: house.range_mm.map(r),
            measured: r(house.measured_mm),
            words: house.words.clone(),
        }
    }
}

/// A thing to do.
#[derive(Serialize)]
pub struct TaskRecord {
    #[serde(rename = "for")]
    pub who: &'static str,
    pub words: String,
    /// Where its figure stands in this file.
    pub figure: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub picture: Option<String>,
}

impl From<&Task> for TaskRecord {
    fn from(task: &Task) -> Self {
        Self {
            who: task.who.word(),
            words: task.words.clone(),
            figure: task.figure.clone(),
            picture: task.picture.clone(),
        }
    }
}
