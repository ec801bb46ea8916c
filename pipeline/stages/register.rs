//! Sets the measured set on the reference, as the comparison asks.

use ::register::icp::{Ending, Fixed, Settled, settle};
use ::register::named::{NamedFit, NamedResidual, set_by_names};
use ::register::{RegisterError, any_pose};
use cloud::held::Motions;
use cloud::{Body, Motion, Point, Scan, Surface, Warning};
use compare::{Region, region};

use super::scale::Scaled;
use crate::cli::SetBy;
use crate::job::{Comparison, PointTables};
use crate::trouble::Trouble;

/// How the measured set was set.
pub struct Setting {
    /// By what.
    pub method: SetBy,
    /// The motion reference ← measured.
    pub reference_from_measured: Motion<Scan, Body>,
    /// Rms of what set it, mm; `None` where nothing was fitted.
    pub rms_mm: Option<f64>,
    /// The worst of it, mm.
    pub worst_mm: Option<f64>,
    /// Pairs that count.
    pub pairs: usize,
    /// Whether it came to rest.
    pub settled: bool,
    /// What holds it; `None` where nothing was fitted.
    pub motions: Option<Motions>,
    /// Named points and their residuals.
    pub points: Vec<NamedResidual>,
    /// The next best way it could lie, and how it is turned against the best.
    pub runner_up: Option<(f64, f64)>,
    /// In words, for pages: what it was set by.
    pub words: String,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

impl Setting {
    /// The ± of the setting at a place, mm.
    pub fn pm_at_mm(&self, at: &Point) -> f64 {
        self.motions.as_ref().map_or(0.0, |m| m.pm_at_mm(at))
    }
}

/// Least share of the reference's points in kept regions that a setting is taken from.
const LEAST_KEPT: f64 = 0.05;

/// Where less of the smaller set than this lies on the other, the two may not be the same part.
const LEAST_ALIKE: f64 = 0.6;

/// Sets the measured set.
pub fn register(comparison: &Comparison, scaled: &Scaled) -> Result<Setting, Trouble> {
    let refused =
        |why: RegisterError| Trouble::not_set(&comparison.reference.path, &comparison.measured.path, &why);
    match comparison.set_by {
        SetBy::AsIs => Ok(as_is()),
        SetBy::Points => match &comparison.points {
            Some(tables) => {
                let fit = by_points(tables, comparison)?;
                Ok(from_points(fit))
            }
            None => Err(Trouble::new(format!(
                "{}: set by points, but no tables of points are given; give --points-reference and --points-measured",
                comparison.name
            ))),
        },
        SetBy::AllOver => all_over(scaled).map_err(refused),
        SetBy::LeftAlone => {
            let start = match &comparison.points {
                Some(tables) => Some(by_points(tables, comparison)?),
                None => None,
            };
            left_alone(comparison, scaled, start).map_err(refused)
        }
    }
}

fn as_is() -> Setting {
    Setting {
        method: SetBy::AsIs,
        reference_from_measured: Motion::identity(),
        rms_mm: None,
        worst_mm: None,
        pairs: 0,
        settled: true,
        motions: None,
        points: Vec::new(),
        runner_up: None,
        words: "as is: both sets are declared to be in one frame".to_string(),
        warnings: Vec::new(),
    }
}

fn by_points(tables: &PointTables, comparison: &Comparison) -> Result<NamedFit, Trouble> {
    let reference = formats::named::read(&tables.reference, tables.reference_unit)?;
    let measured = formats::named::read(&tables.measured, tables.measured_unit)?;
    set_by_names(&reference, &measured).map_err(|why| {
        Trouble::new(format!(
            "{}: {} on {}: {why}",
            comparison.name,
            tables.measured.display(),
            tables.reference.display()
        ))
    })
}

fn from_points(fit: NamedFit) -> Setting {
    let used: Vec<&str> = fit
        .points
        .iter()
        .filter(|p| p.used)
        .map(|p| p.name.as_str())
        .collect();
    let worst = fit
        .points
        .iter()
        .filter(|p| p.used)
        .map(|p| p.residual_mm)
        .fold(0.0, f64::max);
    Setting {
        method: SetBy::Points,
        reference_from_measured: fit.reference_from_measured,
        rms_mm: Some(fit.rms_mm),
        worst_mm: Some(worst),
        pairs: used.len(),
        settled: true,
        words: format!("the points {}", used.join(", ")),
        motions: Some(fit.motions),
        points: fit.points,
        runner_up: None,
        warnings: fit.warnings,
    }
}

fn all_over(scaled: &Scaled) -> Result<Setting, RegisterError> {
    let found = any_pose::from_any_pose(&scaled.reference, &scaled.measured)?;
    let doubts = doubts(&found);
    let mut setting = from_surface(
        SetBy::AllOver,
        found.best,
        "everything, all over: a first look".to_string(),
    );
    setting.warnings.push(Warning::new(
        "all-over",
        "set all over: where much of the metal has moved, such a setting can hide the fault; mark what was left alone as kept",
    ));
    setting.warnings.extend(doubts);
    if let Some(other) = &found.runner_up {
        setting.runner_up = Some((other.cost_mm, other.turned_deg));
        if other.nearly_as_good {
            setting.warnings.push(Warning::new(
                "could-also-lie",
                format!(
                    "it could also lie turned by {:.0}°, which fits nearly as well ({:.2} mm for {:.2} mm); name points to decide",
                    other.turned_deg, other.cost_mm, found.cost_mm
                ),
            ));
        }
    }
    Ok(setting)
}

fn left_alone(
    comparison: &Comparison,
    scaled: &Scaled,
    start: Option<NamedFit>,
) -> Result<Setting, RegisterError> {
    let reference = &scaled.reference;
    let kept = region::left_alone(&comparison.regions, reference).unwrap_or_default();
    let share = kept.iter().filter(|k| **k).count() as f64 / kept.len().max(1) as f64;
    if share < LEAST_KEPT {
        return Err(RegisterError::TooLittleKept {
            share_percent: 100.0 * share,
        });
    }
    let (first, mut warnings, points) = match start {
        Some(fit) => (fit.reference_from_measured, fit.warnings, fit.points),
        None => {
            let found = any_pose::from_any_pose(reference, &scaled.measured)?;
            let mut warnings = doubts(&found);
            if found.runner_up.as_ref().is_some_and(|r| r.nearly_as_good) {
                warnings.push(Warning::new(
                    "could-also-lie",
                    "it could also lie another way that fits nearly as well; name points to decide",
                ));
            }
            (found.best.reference_from_measured, warnings, Vec::new())
        }
    };
    let fixed = Fixed::kept_of(reference, &kept);
    let done = settle(
        &fixed,
        &scaled.measured,
        &first,
        comparison.reach_mm.max(12.0 * reference.spacing_mm),
    );
    let names: Vec<&str> = comparison
        .regions
        .iter()
        .filter(|r| {
            let holds = |i: &u32| kept[*i as usize];
            r.status == compare::Status::Kept && region::members(r, reference).iter().any(holds)
        })
        .map(|r| r.name.as_str())
        .collect();
    let words = format!(
        "what was left alone ({:.0} % of the points): {}",
        100.0 * share,
        names.join(", ")
    );
    if points.is_empty() {
        warnings.extend(all_over_would_read(comparison, reference, &first, &done));
    }
    let mut setting = from_surface(SetBy::LeftAlone, done, words);
    warnings.append(&mut setting.warnings);
    setting.warnings = warnings;
    setting.points = points;
    Ok(setting)
}

/// What speaks against the two sets being the same part of the same hand.
fn doubts(found: &any_pose::AnyPose) -> Vec<Warning> {
    let mut doubts = Vec::new();
    if found.mirrored_cost_mm < 0.5 * found.cost_mm {
        doubts.push(Warning::new(
            "fits-mirrored",
            format!(
                "it fits clearly better mirrored ({:.2} mm for {:.2} mm): is it the other hand, or are two axes swapped in the file?",
                found.mirrored_cost_mm, found.cost_mm
            ),
        ));
    }
    if found.alike < LEAST_ALIKE {
        doubts.push(Warning::new(
            "poor-match",
            format!(
                "only {:.0} % of the surface that the two sets cover alike lies on each other: are they the same part, and in the right units?",
                100.0 * found.alike
            ),
        ));
    }
    doubts
}

/// What the worked and new regions would read less under an all-over setting, as a warning.
fn all_over_would_read(
    comparison: &Comparison,
    reference: &Surface<Body>,
    all_over: &Motion<Scan, Body>,
    done: &Settled,
) -> Option<Warning> {
    let between = done.reference_from_measured.inverse().then(all_over);
    let shift = |r: &Region| {
        let members = region::members(r, reference);
        let sum: f64 = members
            .iter()
            .map(|&i| {
                let at = reference.points()[i as usize];
                reference.normals()[i as usize].dot(&(between.apply(&at) - at))
            })
            .sum();
        sum / members.len().max(1) as f64
    };
    let worst = comparison
        .regions
        .iter()
        .map(|r| (r, shift(r)))
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    (worst.1.abs() > 25.4 / 64.0).then(|| {
        Warning::new(
            "all-over-differs",
            format!(
                "an all-over setting would read {} by {:.1} mm otherwise than what was left alone says: it shares the fault out",
                worst.0.name, worst.1
            ),
        )
    })
}

fn from_surface(method: SetBy, done: Settled, words: String) -> Setting {
    let mut warnings = Vec::new();
    if done.ending == Ending::RanOut {
        warnings.push(Warning::new(
            "not-settled",
            "the setting did not come to rest; treat every figure as a first look",
        ));
    }
    Setting {
        method,
        reference_from_measured: done.reference_from_measured,
        rms_mm: Some(done.rms_mm),
        worst_mm: Some(done.worst_mm),
        pairs: done.pairs,
        settled: done.ending != Ending::RanOut,
        motions: Some(done.motions),
        points: Vec::new(),
        runner_up: None,
        words,
        warnings,
    }
}
