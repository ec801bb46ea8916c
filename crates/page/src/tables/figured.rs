//! The tables of named places, the shell, checks, the originals, what there is to do, and the warnings.

use record::WarningRecord;
use record::figured::{CheckRecord, HouseRecord, PlaceRecord, ShellRecord, TaskRecord};

use super::{Cell, Table, fine, key, maybe, more, plain_inches, pm, signed_inches, text, triple, whole};

pub(super) fn places(places: &[PlaceRecord]) -> Table {
    let row = |place: &PlaceRecord| {
        let mut row = vec![text(&place.name)];
        row.extend(triple(Some(place.reference_at_mm)));
        row.extend(triple(Some(place.measured_at_mm)));
        row.extend(triple(Some(place.moved_mm)));
        row.push(pm(place.moved_pm_mm().into_iter().fold(0.0, f64::max)));
        row
    };
    Table {
        name: "places",
        title: "Named places",
        heads: vec![
            key("place", ""),
            more("reference x", "mm"),
            more("reference y", "mm"),
            more("reference z", "mm"),
            more("measured x", "mm"),
            more("measured y", "mm"),
            more("measured z", "mm"),
            key("moved x", "mm"),
            key("moved y", "mm"),
            key("moved z", "mm"),
            key("pm", "mm"),
        ],
        rows: places.iter().map(row).collect(),
    }
}

pub(super) fn shell(figures: &[ShellRecord]) -> Table {
    let row = |figure: &ShellRecord| {
        vec![
            text(&figure.name),
            text(&figure.verdict),
            text(&figure.words),
            fine(figure.reference_mm),
            fine(figure.measured_mm),
            fine(figure.off_mm),
            signed_inches(Some(figure.off_mm)),
            pm(figure.pm_mm),
            maybe(figure.limit_mm),
            plain_inches(figure.limit_mm),
        ]
    };
    Table {
        name: "shell",
        title: "The shell",
        heads: vec![
            key("figure", ""),
            key("verdict", ""),
            key("words", ""),
            more("reference", "mm"),
            more("measured", "mm"),
            more("off", "mm"),
            key("off", "in"),
            key("pm", "mm"),
            more("limit", "mm"),
            key("limit", "in"),
        ],
        rows: figures.iter().map(row).collect(),
    }
}

pub(super) fn checks(checks: &[CheckRecord]) -> Table {
    let row = |check: &CheckRecord| {
        let f = &check.figures;
        vec![
            text(&check.name),
            text(&check.kind),
            text(&check.verdict),
            text(&check.words),
            maybe(f.reference_mm),
            maybe(f.measured_mm),
            maybe(f.off_mm),
            signed_inches(f.off_mm),
            f.pm_mm.map_or(Cell::Nothing, pm),
            maybe(f.reference_deg),
            maybe(f.measured_deg),
            maybe(f.off_deg),
            maybe(f.pm_deg),
            maybe(f.limit_mm),
            plain_inches(f.limit_mm),
            maybe(f.limit_deg),
        ]
    };
    Table {
        name: "checks",
        title: "Checks",
        heads: vec![
            key("check", ""),
            more("kind", ""),
            key("verdict", ""),
            key("words", ""),
            more("reference", "mm"),
            more("measured", "mm"),
            more("off", "mm"),
            key("off", "in"),
            key("pm", "mm"),
            more("reference", "deg"),
            more("measured", "deg"),
            key("off", "deg"),
            key("pm", "deg"),
            more("limit", "mm"),
            more("limit", "in"),
            more("limit", "deg"),
        ],
        rows: checks.iter().map(row).collect(),
    }
}

/// A figure may be a length or an angle, so that the heads name no unit.
pub(super) fn house(house: &[HouseRecord]) -> Table {
    let row = |figure: &HouseRecord| {
        vec![
            text(&figure.what),
            whole(figure.originals),
            fine(figure.median),
            fine(figure.spread),
            fine(figure.range[0]),
            fine(figure.range[1]),
            fine(figure.measured),
            text(&figure.words),
        ]
    };
    Table {
        name: "house",
        title: "Beside the originals",
        heads: vec![
            key("figure", ""),
            key("originals", ""),
            key("median", ""),
            more("spread", ""),
            key("least", ""),
            key("largest", ""),
            key("measured", ""),
            key("words", ""),
        ],
        rows: house.iter().map(row).collect(),
    }
}

pub(super) fn work(work: &[TaskRecord]) -> Table {
    let row = |(k, task): (usize, &TaskRecord)| {
        vec![
            whole(k + 1),
            text(&task.who),
            text(&task.words),
            text(&task.figure),
            text(task.picture.as_deref().unwrap_or_default()),
        ]
    };
    Table {
        name: "work",
        title: "What to do",
        heads: vec![
            key("order", ""),
            key("for", ""),
            key("to do", ""),
            more("figure", ""),
            key("picture", ""),
        ],
        rows: work.iter().enumerate().map(row).collect(),
    }
}

pub(super) fn warnings(warnings: &[WarningRecord]) -> Table {
    Table {
        name: "warnings",
        title: "Warnings",
        heads: vec![more("code", ""), key("words", "")],
        rows: warnings
            .iter()
            .map(|warning| vec![text(&warning.code), text(&warning.words)])
            .collect(),
    }
}
