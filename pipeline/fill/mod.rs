//! Fills the record from what the stages found, rounded to a millionth.

mod figured;
mod found;
pub mod lies;

use ::compare::{Figures, Spread};
use ::features::edge::{EdgeResult, Stretch};
use ::features::shape::Curl;
use ::features::shift::{Shift, Spot};
use cloud::{Frame, Motion, Point, Vector, Warning};

use figured::*;
use found::*;
use record::found::MovedWithRecord;
use record::*;

use crate::job::{Comparison, Set};
use crate::made_from::MadeFrom;
use crate::stages::compare::Compared;
use crate::stages::features::Found;
use crate::stages::register::Setting;
use crate::stages::scale::{Known, Scaled};
use crate::work::{Part, Then};

/// A number as written: a millionth of a millimetre is finer than anything here is known.
pub fn r(value: f64) -> f64 {
    to_parts(value, 1e6)
}

fn to_parts(value: f64, parts: f64) -> f64 {
    let rounded = (value * parts).round() / parts;
    // Minus nothing is nothing.
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// A motion by rows. Rotations want more digits than lengths: a millionth of a degree moves 5 m by a tenth of a micrometre.
pub fn rows<A: Frame, B: Frame>(motion: &Motion<A, B>) -> [[f64; 4]; 4] {
    motion.rows().map(|row| row.map(|value| to_parts(value, 1e12)))
}

/// A warning as written.
pub fn warning_record(warning: &Warning) -> WarningRecord {
    WarningRecord {
        code: warning.code.into(),
        words: warning.words.clone(),
    }
}

pub fn at(point: &Point) -> [f64; 3] {
    [r(point.x), r(point.y), r(point.z)]
}

pub fn along(vector: &Vector) -> [f64; 3] {
    [r(vector.x), r(vector.y), r(vector.z)]
}

/// What is on record besides what was found.
pub struct Besides {
    /// What the user should know.
    pub warnings: Vec<Warning>,
    /// What the pictures show.
    pub pictures: Vec<PictureRecord>,
    /// Files and settings.
    pub made_from: MadeFrom,
}

/// Puts everything on record.
pub fn record(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    compared: &Compared,
    found: &Found,
    besides: Besides,
) -> Record {
    let Besides {
        warnings,
        pictures,
        made_from,
    } = besides;
    let reference = &scaled.reference;
    let measured = &scaled.measured;
    let mut files: Vec<String> = ["result.json", "regions.csv", "deviation.ply"]
        .map(String::from)
        .to_vec();
    let part = Part {
        reference,
        compared,
        found,
    };
    let names: Vec<String> = pictures.iter().map(|p| p.file.clone()).collect();
    let work = crate::work::list(comparison, reference, compared, found, &names);
    files.extend(names);
    Record {
        schema: 1,
        program: crate::made_from::PROGRAM.to_string(),
        comparison: comparison.name.clone(),
        made_with: made_with(comparison, compared, made_from.settings_sha256),
        inputs: made_from.inputs,
        reference: set_record(&comparison.reference, &scaled.reference_from, reference),
        measured: set_record(&comparison.measured, &scaled.measured_from, measured),
        setting: setting_record(setting, scaled),
        mirror: setting.mirror.map(|mirror| MirrorRecord {
            plane: MirrorPlaneRecord {
                normal: along(&mirror.normal),
                offset_mm: r(mirror.offset_mm),
            },
        }),
        figures: figures_record(&compared.figures),
        regions: compared
            .regions
            .iter()
            .zip(&found.shifts)
            .map(|(region, shift)| RegionRecord {
                name: region.region.name.clone(),
                status: region.region.status.word().into(),
                limit_mm: r(region.region.limit_mm),
                figures: figures_record(&region.figures),
                verdict: region.verdict.word().into(),
                withheld: !compared.open.is_empty(),
                shift: shift.as_ref().map(|shift| {
                    let words = lies::words(part, region, shift, comparison);
                    let mut record = move_record(shift, words);
                    lies::slid_at_pads(part, &region.region.name, comparison, &mut record.pads);
                    record
                }),
                shape: shift.as_ref().map(shape_record),
            })
            .collect(),
        spots: found.spots.iter().map(spot_record).collect(),
        folds: found
            .folds
            .iter()
            .map(|fold| fold_record(fold, lies::moved_with(part, &fold.name, comparison)))
            .collect(),
        edges: found
            .edges
            .iter()
            .map(|edge| edge_record(edge, &|stretch| moved_with(comparison, part, edge, stretch)))
            .collect(),
        extra: found.extra.iter().map(extra_record).collect(),
        recesses: found.recesses.iter().map(recess_pair_record).collect(),
        beads: found.beads.iter().map(bead_pair_record).collect(),
        holes: found
            .holes
            .iter()
            .map(|hole| hole_record(hole, comparison.limit_mm))
            .collect(),
        sections: found.sections.iter().map(section_record).collect(),
        places: found
            .places
            .iter()
            .map(|place| place_record(place, setting))
            .collect(),
        shell: found.shell.iter().map(shell_record).collect(),
        checks: found
            .checks
            .iter()
            .map(|check| check_record(check, &comparison.asked.checks))
            .collect(),
        arrangement: found.arrangements.iter().map(arrangement_record).collect(),
        house: found.houses.iter().map(house_record).collect(),
        work: work.iter().map(task_record).collect(),
        warnings: warnings.iter().map(warning_record).collect(),
        verdict: compared.verdict.max_with(found).word().into(),
        pictures,
        files,
    }
}

fn made_with(comparison: &Comparison, compared: &Compared, settings_sha256: String) -> MadeWith {
    MadeWith {
        settings_sha256,
        set_by: comparison.set_by.word().into(),
        limit_mm: r(comparison.limit_mm),
        reach_mm: r(comparison.reach_mm),
        asked: AskedMadeWith {
            holes: comparison.asked.holes,
            edges: comparison.asked.edges,
            shell: comparison.asked.shell.is_some(),
            folds: comparison.asked.folds.clone(),
            recesses: comparison.asked.recesses.iter().map(|r| r.name.clone()).collect(),
            beads: comparison.asked.beads.clone(),
            sections: comparison.asked.sections.iter().map(|s| s.name.clone()).collect(),
            checks: comparison.asked.checks.iter().map(|c| c.name.clone()).collect(),
            held: comparison.held.as_ref().map(|set| set.name.clone()),
            originals: comparison.originals.iter().map(|set| set.name.clone()).collect(),
        },
        regions: comparison
            .regions
            .iter()
            .map(|region| {
                let made_with = RegionMadeWith {
                    status: region.status.word().into(),
                    corners_mm: [at(&region.bounds.low), at(&region.bounds.high)],
                    limit_mm: r(region.limit_mm),
                };
                (region.name.clone(), made_with)
            })
            .collect(),
        disc_mm: r(compared.deviations.disc_mm),
    }
}

/// What a stretch of an edge is told to come home with, or to be measured again after; against a mirror image a set has
/// nothing to be moved.
fn moved_with(
    comparison: &Comparison,
    part: Part<'_>,
    edge: &EdgeResult,
    stretch: &Stretch,
) -> Option<MovedWithRecord> {
    if comparison.against_image() {
        return None;
    }
    let (then, region) = crate::work::explained_by(part, edge, stretch)?;
    Some(MovedWithRecord {
        region: region.to_string(),
        home: then == Then::Home,
    })
}

fn set_record<F: Frame>(set: &Set, known: &Known, surface: &cloud::Surface<F>) -> SetRecord {
    SetRecord {
        name: set.name.clone(),
        file: known.file.clone(),
        sha256: known.print.sha256.clone(),
        bytes: known.print.bytes,
        unit: known.unit.symbol().into(),
        scale: r(known.scale),
        celsius: set.celsius,
        points: known.points,
        points_used: surface.points().len(),
        spacing_mm: r(surface.spacing_mm),
        noise_mm: r(surface.noise_mm),
        strays: surface.strays,
        mirrored: set.mirrored,
    }
}

fn setting_record(setting: &Setting, scaled: &Scaled) -> SettingRecord {
    SettingRecord {
        method: if setting.mirror.is_some() {
            "mirror"
        } else {
            setting.method.word()
        }
        .into(),
        words: setting.words.clone(),
        reference_from_measured: rows(&setting.reference_from_measured),
        rms_mm: setting.rms_mm.map(r),
        worst_mm: setting.worst_mm.map(r),
        pairs: setting.pairs,
        settled: setting.settled,
        held: setting.motions.as_ref().map(|motions| {
            let held = motions.held();
            HeldRecord {
                condition: r(held.condition.min(1e12)),
                free: setting
                    .free()
                    .into_iter()
                    .map(|f| FreeRecord {
                        words: f.words,
                        vector: f.vector.map(r),
                    })
                    .collect(),
                sd_mm: held.sd_mm.map(|s| r(s.min(1e6))),
                motions: held.words,
            }
        }),
        runner_up: setting.runner_up.as_ref().map(|other| RunnerUpRecord {
            rms_mm: r(other.rms_mm),
            words: other.words.clone(),
        }),
        repeat_pm_mm: setting.repeat_mm.map(r),
        predicted_pm_mm: scaled
            .reference
            .cloud
            .bounds()
            .map(|b| b.corners().to_vec())
            .unwrap_or_default()
            .iter()
            .map(|corner| PmRecord {
                at_mm: at(corner),
                pm_mm: r(setting.pm_at_mm(corner).min(1e6)),
            })
            .collect(),
        points: setting
            .points
            .iter()
            .map(|p| PointRecord {
                name: p.name.clone(),
                residual_mm: r(p.residual_mm),
                used: p.used,
            })
            .collect(),
    }
}

fn figures_record(figures: &Figures) -> FiguresRecord {
    FiguresRecord {
        points: figures.points,
        coverage: r(figures.coverage),
        beyond_edge: figures.beyond_edge,
        spread: figures.spread.as_ref().map(spread_record),
    }
}

fn spread_record(s: &Spread) -> SpreadRecord {
    SpreadRecord {
        mean_mm: r(s.mean_mm),
        mean_pm_mm: r(s.mean_pm_mm.min(1e6)),
        sd_mm: r(s.sd_mm),
        rms_mm: r(s.rms_mm),
        median_mm: r(s.median_mm),
        p05_mm: r(s.p05_mm),
        p95_mm: r(s.p95_mm),
        min_mm: r(s.min_mm),
        max_mm: r(s.max_mm),
        within_share: r(s.within_share),
        profile_mm: r(s.profile_mm),
        pm_mm: r(s.pm_mm.min(1e6)),
        min_at_mm: at(&s.min_at),
        max_at_mm: at(&s.max_at),
    }
}

fn move_record(shift: &Shift, words: String) -> MoveRecord {
    MoveRecord {
        words,
        translation_mm: along(&shift.translation_mm),
        rotation_deg: along(&shift.rotation.map(f64::to_degrees)),
        about_mm: at(&shift.about),
        pm_mm: r(shift.pm_mm.min(1e6)),
        explained: r(shift.explained),
        unheld: shift
            .unheld
            .iter()
            .map(|(words, vector)| FreeRecord {
                words: words.clone(),
                vector: vector.map(r),
            })
            .collect(),
        pads: shift
            .pads
            .iter()
            .map(|pad| PadRecord {
                name: pad.name.clone(),
                at_mm: at(&pad.at),
                shim_mm: along(&pad.shim_mm),
                pm_mm: r(pad.pm_mm.min(1e6)),
                words: pad.words.clone(),
            })
            .collect(),
        shape: shift.shape.as_ref().map(|shape| PanelShapeRecord {
            words: shape.words.clone(),
            length_mm: r(shape.length_mm),
            width_mm: r(shape.width_mm),
            along_mm: r(shape.along.mm),
            along_pm_mm: r(shape.along.pm_mm),
            across_mm: r(shape.across.mm),
            across_pm_mm: r(shape.across.pm_mm),
            twist_mm: r(shape.twist.mm),
            twist_pm_mm: r(shape.twist.pm_mm),
            curls: shape.curls.iter().map(curl_record).collect(),
        }),
    }
}

fn curl_record(curl: &Curl) -> CurlRecord {
    CurlRecord {
        edge: curl.edge.clone(),
        curl_mm: r(curl.mm),
        pm_mm: r(curl.pm_mm),
        ends_mm: curl.ends.map(|end| at(&end)),
        length_mm: r(curl.length_mm),
        words: curl.words.clone(),
    }
}

fn shape_record(shift: &Shift) -> ShapeRecord {
    ShapeRecord {
        spots: shift.spots.iter().map(spot_record).collect(),
    }
}

fn spot_record(spot: &Spot) -> SpotRecord {
    SpotRecord {
        off_mm: r(spot.mm),
        at_mm: at(&spot.at),
        area_mm2: r(spot.area_mm2),
        length_mm: Some(r(spot.length_mm)),
        width_mm: Some(r(spot.width_mm)),
    }
}
