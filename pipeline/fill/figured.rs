//! Figures of named places, the shell, checks and other sets, and what there is to do, as they are written to result.json.

use super::{along, at, r};
use crate::job::CheckAsked;
use crate::stages::arrangement::Arrangement;
use crate::stages::checks::place::SeenPlace;
use crate::stages::checks::{CheckResult, Counted};
use crate::stages::features::shell::ShellFigure;
use crate::stages::register::Setting;
use crate::work::Task;
use ::features::house::House;
use ::features::shell::Known;
use cloud::Vector;
use record::figured::*;

/// A place; how far it has moved has the share of the setting in its ±, and more than any where nothing holds the set that way.
pub fn place_record(place: &SeenPlace, setting: &Setting) -> PlaceRecord {
    let known = &place.known;
    let along_mm = |way: Vector| {
        known
            .along_mm(&way)
            .hypot(setting.pm_along_mm(&place.reference, &way))
    };
    let is_hole = *known != Known::alike(known.in_sheet_mm);
    PlaceRecord {
        name: place.name.clone(),
        reference_at_mm: at(&place.reference),
        measured_at_mm: at(&place.measured),
        moved_mm: along(&(place.measured - place.reference)),
        pm_mm: r(known.in_sheet_mm),
        axis: is_hole.then(|| along(&known.normal)),
        pm_out_mm: is_hole.then(|| r(known.out_of_it_mm)),
        pm_along_mm: Some([Vector::x(), Vector::y(), Vector::z()].map(|way| r(along_mm(way)))),
    }
}

pub fn shell_record(figure: &ShellFigure) -> ShellRecord {
    ShellRecord {
        name: figure.name.clone(),
        reference_mm: r(figure.reference_mm),
        measured_mm: r(figure.measured_mm),
        off_mm: r(figure.off_mm),
        pm_mm: r(figure.pm_mm),
        limit_mm: figure.limit_mm.map(r),
        verdict: figure.verdict.word().into(),
        words: figure.words.clone(),
    }
}

/// A check as one of those that were `asked` for, which have its limit.
pub fn check_record(check: &CheckResult, asked: &[CheckAsked]) -> CheckRecord {
    let limit = asked.iter().find(|a| a.name == check.name).map(|a| a.limit);
    let [reference, measured, off, pm, limit] =
        [check.reference, check.measured, check.off, check.pm, limit].map(|v| v.map(r));
    CheckRecord {
        name: check.name.clone(),
        kind: check.kind.into(),
        figures: match check.counted {
            Counted::Length => CheckFigures {
                reference_mm: reference,
                measured_mm: measured,
                off_mm: off,
                pm_mm: pm,
                limit_mm: limit,
                ..CheckFigures::default()
            },
            Counted::Angle => CheckFigures {
                reference_deg: reference,
                measured_deg: measured,
                off_deg: off,
                pm_deg: pm,
                limit_deg: limit,
                ..CheckFigures::default()
            },
        },
        verdict: check.verdict.word().into(),
        words: check.words.clone(),
        details: check
            .details
            .iter()
            .map(|d| DetailRecord {
                what: d.what.into(),
                value: r(d.value),
                pm: d.pm.map(r),
            })
            .collect(),
    }
}

pub fn arrangement_record(arrangement: &Arrangement) -> ArrangementRecord {
    ArrangementRecord {
        what: arrangement.what.clone(),
        free: r(arrangement.free),
        held: r(arrangement.held),
        kind: arrangement.kind.word().into(),
        words: arrangement.words.clone(),
    }
}

pub fn house_record(house: &House) -> HouseRecord {
    HouseRecord {
        what: house.what.clone(),
        originals: house.count,
        median: r(house.median_mm),
        spread: r(house.spread_mm),
        range: house.range_mm.map(r),
        measured: r(house.measured_mm),
        words: house.words.clone(),
    }
}

pub fn task_record(task: &Task) -> TaskRecord {
    TaskRecord {
        who: task.who.word().into(),
        words: task.words.clone(),
        figure: task.figure.clone(),
        picture: task.picture.clone(),
    }
}
