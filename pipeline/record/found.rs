//! What was found besides the deviation, as it is written to result.json.

use ::features::bead::Bead;
use ::features::edge::{EdgeResult, Run, Seen};
use ::features::fold::Fold;
use ::features::holes::Hole;
use ::features::recess::Recess;
use serde::Serialize;

use super::fill::{along, at, r};
use crate::stages::features::sections::{PlaneResult, SectionResult};
use crate::stages::features::{BeadResult, HoleResult, RecessResult};

#[derive(Serialize)]
pub struct FoldRecord {
    pub name: String,
    pub short_mm: f64,
    pub pm_mm: f64,
    pub verdict: &'static str,
    pub words: String,
}

impl From<&Fold> for FoldRecord {
    fn from(fold: &Fold) -> Self {
        Self {
            name: fold.name.clone(),
            short_mm: r(fold.short_mm),
            pm_mm: r(fold.pm_mm),
            verdict: fold.verdict.word(),
            words: fold.words.clone(),
        }
    }
}

#[derive(Serialize)]
pub struct EdgeRecord {
    pub name: String,
    pub length_mm: f64,
    pub closed: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub straightness_mm: Option<f64>,
    pub verdict: &'static str,
    pub words: Vec<String>,
    /// Neighbouring runs that are off alike.
    pub stretches: Vec<StretchRecord>,
    pub runs: Vec<RunRecord>,
}

#[derive(Serialize)]
pub struct StretchRecord {
    pub from_mm: [f64; 3],
    pub to_mm: [f64; 3],
    pub length_mm: f64,
    pub short_mm: f64,
    pub pm_mm: f64,
    pub words: String,
}

/// One run; without `short_mm` the edge was not seen there.
#[derive(Serialize)]
pub struct RunRecord {
    pub from_mm: [f64; 3],
    pub to_mm: [f64; 3],
    #[serde(skip_serializing_if = "Option::is_none")]
    pub short_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pm_mm: Option<f64>,
}

impl From<&EdgeResult> for EdgeRecord {
    fn from(edge: &EdgeResult) -> Self {
        Self {
            name: edge.name.clone(),
            length_mm: r(edge.length_mm),
            closed: edge.closed,
            straightness_mm: edge.straightness_mm.map(r),
            verdict: edge.verdict.word(),
            words: edge.words.clone(),
            stretches: edge
                .stretches
                .iter()
                .map(|s| StretchRecord {
                    from_mm: at(&s.from),
                    to_mm: at(&s.to),
                    length_mm: r(s.length_mm),
                    short_mm: r(s.short_mm),
                    pm_mm: r(s.pm_mm),
                    words: s.words.clone(),
                })
                .collect(),
            runs: edge.runs.iter().map(run_record).collect(),
        }
    }
}

fn run_record(run: &Run) -> RunRecord {
    let (short_mm, pm_mm) = match run.seen {
        Seen::Short { mm, pm_mm } => (Some(r(mm)), Some(r(pm_mm))),
        Seen::NotSeen => (None, None),
    };
    RunRecord {
        from_mm: at(&run.from),
        to_mm: at(&run.to),
        short_mm,
        pm_mm,
    }
}

#[derive(Serialize)]
pub struct RecessPairRecord {
    pub name: String,
    pub reference: RecessRecord,
    pub measured: RecessRecord,
    pub moved_mm: [f64; 3],
    pub pm_mm: f64,
    pub verdict: &'static str,
    pub words: Vec<String>,
}

#[derive(Serialize)]
pub struct RecessRecord {
    pub at_mm: [f64; 3],
    pub depth_mm: f64,
    pub width_mm: [f64; 2],
    pub wall_deg: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outer_radius_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inner_radius_mm: Option<f64>,
}

impl From<&RecessResult> for RecessPairRecord {
    fn from(result: &RecessResult) -> Self {
        let pair = &result.pair;
        Self {
            name: pair.name.clone(),
            reference: recess_record(&pair.reference),
            measured: recess_record(&pair.measured),
            moved_mm: along(&pair.moved),
            pm_mm: r(pair.pm_mm),
            verdict: result.verdict.word(),
            words: pair.words.clone(),
        }
    }
}

fn recess_record(recess: &Recess) -> RecessRecord {
    RecessRecord {
        at_mm: at(&recess.at),
        depth_mm: r(recess.depth_mm),
        width_mm: recess.width_mm.map(r),
        wall_deg: r(recess.wall.to_degrees()),
        outer_radius_mm: recess.outer_radius_mm.map(r),
        inner_radius_mm: recess.inner_radius_mm.map(r),
    }
}

/// A bead, or a recess that was found.
#[derive(Serialize)]
pub struct BeadPairRecord {
    pub name: String,
    pub region: String,
    pub state: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference: Option<BeadRecord>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured: Option<BeadRecord>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub moved_mm: Option<[f64; 3]>,
    pub pm_mm: f64,
    pub verdict: &'static str,
    pub words: Vec<String>,
}

/// Depth is above 0 where it is raised to the outside.
#[derive(Serialize)]
pub struct BeadRecord {
    pub at_mm: [f64; 3],
    pub ends_mm: [[f64; 3]; 2],
    pub length_mm: f64,
    pub width_mm: f64,
    pub depth_mm: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wall_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outer_radius_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inner_radius_mm: Option<f64>,
}

impl From<&BeadResult> for BeadPairRecord {
    fn from(result: &BeadResult) -> Self {
        let pair = &result.pair;
        Self {
            name: pair.name.clone(),
            region: result.region.clone(),
            state: state(pair.reference.is_some(), pair.measured.is_some()),
            reference: pair.reference.as_ref().map(bead_record),
            measured: pair.measured.as_ref().map(bead_record),
            moved_mm: pair
                .reference
                .as_ref()
                .and(pair.measured.as_ref())
                .map(|_| along(&pair.moved_mm)),
            pm_mm: r(pair.pm_mm),
            verdict: result.verdict.word(),
            words: pair.words.clone(),
        }
    }
}

fn bead_record(bead: &Bead) -> BeadRecord {
    BeadRecord {
        at_mm: at(&bead.at),
        ends_mm: bead.ends.map(|end| at(&end)),
        length_mm: r(bead.length_mm),
        width_mm: r(bead.width_mm),
        depth_mm: r(bead.depth_mm),
        wall_deg: bead.wall.map(|wall| r(wall.to_degrees())),
        outer_radius_mm: bead.outer_radius_mm.map(r),
        inner_radius_mm: bead.inner_radius_mm.map(r),
    }
}

fn state(reference: bool, measured: bool) -> &'static str {
    match (reference, measured) {
        (true, true) => "matched",
        (true, false) => "missing",
        _ => "extra",
    }
}

#[derive(Serialize)]
pub struct HoleRecord {
    pub name: String,
    pub kind: &'static str,
    pub state: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference_at_mm: Option<[f64; 3]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured_at_mm: Option<[f64; 3]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub offset_mm: Option<[f64; 3]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference_size_mm: Option<SizeRecord>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured_size_mm: Option<SizeRecord>,
    pub pm_mm: f64,
    pub verdict: &'static str,
    pub words: String,
}

/// A slot's length is over all.
#[derive(Serialize)]
pub struct SizeRecord {
    pub diameter: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length: Option<f64>,
}

impl From<&HoleResult> for HoleRecord {
    fn from(result: &HoleResult) -> Self {
        let pair = &result.pair;
        let size = |h: &Hole| SizeRecord {
            diameter: r(h.diameter_mm),
            length: h.slot.as_ref().map(|s| r(s.length_mm)),
        };
        let either = pair.reference.as_ref().or(pair.measured.as_ref());
        Self {
            name: pair.name.clone(),
            kind: if either.is_some_and(|h| h.slot.is_some()) {
                "slot"
            } else {
                "round"
            },
            state: state(pair.reference.is_some(), pair.measured.is_some()),
            reference_at_mm: pair.reference.as_ref().map(|h| at(&h.at)),
            measured_at_mm: pair.measured.as_ref().map(|h| at(&h.at)),
            offset_mm: pair
                .reference
                .as_ref()
                .zip(pair.measured.as_ref())
                .map(|(ours, theirs)| along(&(theirs.at - ours.at))),
            reference_size_mm: pair.reference.as_ref().map(size),
            measured_size_mm: pair.measured.as_ref().map(size),
            pm_mm: r(pair.pm_mm),
            verdict: result.verdict.word(),
            words: pair.words(),
        }
    }
}

#[derive(Serialize)]
pub struct SectionRecord {
    pub name: String,
    pub planes: Vec<PlaneRecord>,
}

/// One plane of a section; the lengths are along the metal, over what both sets have.
#[derive(Serialize)]
pub struct PlaneRecord {
    pub through_mm: [f64; 3],
    pub facing: [f64; 3],
    #[serde(skip_serializing_if = "Option::is_none")]
    pub along_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub off_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pm_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference_length_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured_length_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_pm_mm: Option<f64>,
}

impl From<&SectionResult> for SectionRecord {
    fn from(section: &SectionResult) -> Self {
        Self {
            name: section.name.clone(),
            planes: section.planes.iter().map(plane_record).collect(),
        }
    }
}

fn plane_record(plane: &PlaneResult) -> PlaneRecord {
    PlaneRecord {
        through_mm: at(&plane.plane.through),
        facing: along(&plane.plane.facing),
        along_mm: plane.along_mm.map(r),
        off_mm: plane.off_mm.map(|(mm, _)| r(mm)),
        pm_mm: plane.off_mm.map(|(_, pm)| r(pm)),
        reference_length_mm: plane.pair.reference_length_mm.map(r),
        measured_length_mm: plane.pair.measured_length_mm.map(r),
        length_pm_mm: plane.pair.length_pm_mm.map(r),
    }
}
