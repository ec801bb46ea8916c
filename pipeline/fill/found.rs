//! What was found besides the deviation, as it is written to result.json.

use super::{along, at, r};
use crate::stages::features::sections::{PlaneResult, SectionResult};
use crate::stages::features::{BeadResult, ExtraResult, HoleResult, RecessResult};
use ::features::bead::Bead;
use ::features::edge::{EdgeResult, Seen, Stretch};
use ::features::fold::Fold;
use ::features::holes::{Hole, Lie, Missing};
use ::features::recess::Recess;
use cloud::Point;
use compare::Verdict;
use record::found::*;

pub fn fold_record(fold: &Fold, moved_with: Option<&str>) -> FoldRecord {
    FoldRecord {
        name: fold.name.clone(),
        short_mm: r(fold.short_mm),
        pm_mm: r(fold.pm_mm),
        verdict: fold.verdict.word().into(),
        words: fold.words.clone(),
        moved_with: moved_with.map(str::to_string),
        stretches: fold.stretches.iter().map(fold_stretch_record).collect(),
        runs: fold
            .runs
            .iter()
            .map(|run| run_record([&run.from, &run.to], run.seen))
            .collect(),
    }
}

fn fold_stretch_record(stretch: &Stretch) -> FoldStretchRecord {
    FoldStretchRecord {
        from_mm: at(&stretch.from),
        to_mm: at(&stretch.to),
        length_mm: r(stretch.length_mm),
        short_mm: r(stretch.short_mm),
        pm_mm: r(stretch.pm_mm),
        verdict: stretch.verdict.word().into(),
        words: stretch.words.clone(),
    }
}

pub fn edge_record(
    edge: &EdgeResult,
    moved_with: &dyn Fn(&Stretch) -> Option<MovedWithRecord>,
) -> EdgeRecord {
    EdgeRecord {
        name: edge.name.clone(),
        region: edge.region.clone(),
        length_mm: r(edge.length_mm),
        closed: edge.closed,
        straightness_mm: edge.straightness_mm.map(r),
        verdict: edge.verdict.word().into(),
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
                height_mm: s.height_mm.map(r),
                moved_with: moved_with(s),
                not_out: s.verdict != Verdict::Outside,
                words: s.words.clone(),
            })
            .collect(),
        runs: edge
            .runs
            .iter()
            .map(|run| run_record([&run.from, &run.to], run.seen))
            .collect(),
    }
}

pub fn extra_record(piece: &ExtraResult) -> ExtraRecord {
    ExtraRecord {
        name: piece.name.clone(),
        region: piece.region.clone(),
        at_mm: at(&piece.metal.at),
        size_mm: piece.metal.size_mm.map(r),
        area_mm2: r(piece.metal.area_mm2),
        off_mm: r(piece.metal.off_mm),
        points: piece.metal.points,
        words: piece.words.clone(),
    }
}

fn run_record([from, to]: [&Point; 2], seen: Seen) -> RunRecord {
    let (short_mm, pm_mm) = match seen {
        Seen::Short { mm, pm_mm } => (Some(r(mm)), Some(r(pm_mm))),
        Seen::NotSeen => (None, None),
    };
    RunRecord {
        from_mm: at(from),
        to_mm: at(to),
        short_mm,
        pm_mm,
    }
}

pub fn recess_pair_record(result: &RecessResult) -> RecessPairRecord {
    let pair = &result.pair;
    RecessPairRecord {
        name: pair.name.clone(),
        reference: recess_record(&pair.reference),
        measured: recess_record(&pair.measured),
        moved_mm: along(&pair.moved),
        pm_mm: r(pair.pm_mm),
        verdict: result.verdict.word().into(),
        words: pair.words.clone(),
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

pub fn bead_pair_record(result: &BeadResult) -> BeadPairRecord {
    let pair = &result.pair;
    BeadPairRecord {
        name: pair.name.clone(),
        region: result.region.clone(),
        state: state(pair.reference.is_some(), pair.measured.is_some()).into(),
        reference: pair.reference.as_ref().map(bead_record),
        measured: pair.measured.as_ref().map(bead_record),
        moved_mm: pair
            .reference
            .as_ref()
            .and(pair.measured.as_ref())
            .map(|_| along(&pair.moved_mm)),
        pm_mm: r(pair.pm_mm),
        verdict: result.verdict.word().into(),
        words: pair.words.clone(),
    }
}

fn bead_record(bead: &Bead) -> BeadRecord {
    BeadRecord {
        at_mm: at(&bead.at),
        ends_mm: bead.ends.map(|end| at(&end)),
        length_mm: r(bead.length_mm),
        width_mm: r(bead.width_mm),
        depth_mm: r(bead.depth_mm),
        ring: bead.closed,
        runs_on: bead.runs_on(),
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

pub fn hole_record(result: &HoleResult, limit_mm: f64) -> HoleRecord {
    let pair = &result.pair;
    let size = |h: &Hole| SizeRecord {
        diameter: r(h.diameter_mm),
        length: h.slot.as_ref().map(|s| r(s.length_mm)),
    };
    let either = pair.reference.as_ref().or(pair.measured.as_ref());
    HoleRecord {
        name: pair.name.clone(),
        kind: if either.is_some_and(|h| h.slot.is_some()) {
            "slot"
        } else {
            "round"
        }
        .into(),
        state: match pair.missing {
            Some(Missing::TooSmall) => "can't be read",
            _ => state(pair.reference.is_some(), pair.measured.is_some()),
        }
        .into(),
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
        verdict: result.verdict.word().into(),
        words: result.words(limit_mm),
        reference_axis: pair.reference.as_ref().map(|h| along(&h.axis)),
        measured_axis: pair.measured.as_ref().map(|h| along(&h.axis)),
        tipped: pair.tip().map(|tip| TipRecord {
            deg: r(tip.deg),
            pm_deg: r(tip.pm_deg),
            words: tip.words,
        }),
        in_sheet: pair.lie().map(|lie| in_sheet_record(&lie, pair.normal_pm_mm)),
        clear: pair.clear().map(|clear| ClearRecord {
            clear_mm: r(clear.mm),
            pm_mm: r(clear.pm_mm),
            inch_bolt: clear.inch_bolt.map(String::from),
            metric_bolt: clear.metric_bolt.map(String::from),
            words: clear.words,
        }),
    }
}

fn in_sheet_record(lie: &Lie, out_pm_mm: f64) -> InSheetRecord {
    let [along_mm, across_mm, out_mm] = lie.off_mm.map(r);
    InSheetRecord {
        along: along(&lie.along),
        across: along(&lie.across),
        along_mm,
        across_mm,
        out_mm,
        out_pm_mm: r(out_pm_mm),
        words: lie.words.clone(),
    }
}

pub fn section_record(section: &SectionResult) -> SectionRecord {
    SectionRecord {
        name: section.name.clone(),
        planes: section.planes.iter().map(plane_record).collect(),
    }
}

fn plane_record(plane: &PlaneResult) -> PlaneRecord {
    PlaneRecord {
        through_mm: at(&plane.plane.through),
        facing: along(&plane.plane.facing),
        along_mm: plane.along_mm.map(r),
        cuts_nothing: plane.cuts_nothing(),
        off_mm: plane.off_mm.map(|(mm, _)| r(mm)),
        pm_mm: plane.off_mm.map(|(_, pm)| r(pm)),
        reference_length_mm: plane.pair.reference_length_mm.map(r),
        measured_length_mm: plane.pair.measured_length_mm.map(r),
        length_pm_mm: plane.pair.length_pm_mm.map(r),
        grown_mm: plane.grown_mm.map(r),
        ends: plane
            .ends()
            .map(|short| EndRecord {
                at_mm: at(&short.at),
                short_mm: r(short.mm),
                pm_mm: r(short.pm_mm),
                words: short.words(),
            })
            .collect(),
    }
}
