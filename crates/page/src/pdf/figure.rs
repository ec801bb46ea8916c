//! A figure with what it is held against and its ±, as it is printed; found by where a task says that it stands.

use cloud::unit::signed_decimal;
use record::Record;
use record::figured::{CheckRecord, ShellRecord};
use record::found::{BeadRecord, EdgeRecord, RecessRecord, SizeRecord};

use crate::words;

/// Under half a 64th of an inch a length is nil, and has no sign.
const NIL_MM: f64 = 25.4 / 128.0;

/// A figure of the reference and of the measured part, in words; empty where there is none.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Figure {
    pub reference: String,
    pub measured: String,
    pub off: String,
    pub pm: String,
}

/// The figure at `regions/right floor`, `holes/hole 1` and the like.
pub(super) fn at(record: &Record, place: &str) -> Option<Figure> {
    let (kind, name) = place.split_once('/')?;
    match kind {
        "shell" => record.shell.iter().find(|f| f.name == name).map(of_shell),
        "checks" => record.checks.iter().find(|c| c.name == name).map(of_check),
        "edges" => record.edges.iter().find(|e| e.name == name).and_then(of_edge),
        "regions" => of_region(record, name),
        "folds" => {
            let fold = record.folds.iter().find(|f| f.name == name)?;
            Some(short_by(fold.short_mm, fold.pm_mm))
        }
        "holes" => {
            let hole = record.holes.iter().find(|h| h.name == name)?;
            Some(Figure {
                reference: hole.reference_size_mm.as_ref().map_or_else(none, size),
                measured: hole.measured_size_mm.as_ref().map_or_else(none, size),
                off: String::new(),
                pm: words::pm(hole.pm_mm),
            })
        }
        "recesses" => {
            let recess = record.recesses.iter().find(|r| r.name == name)?;
            Some(Figure {
                reference: recess_size(&recess.reference),
                measured: recess_size(&recess.measured),
                off: String::new(),
                pm: words::pm(recess.pm_mm),
            })
        }
        "beads" => {
            let bead = record.beads.iter().find(|b| b.name == name)?;
            Some(Figure {
                reference: bead
                    .reference
                    .as_ref()
                    .map_or_else(none, |b| bead_size(b, bead.runs_on())),
                measured: bead
                    .measured
                    .as_ref()
                    .map_or_else(none, |b| bead_size(b, bead.runs_on())),
                off: String::new(),
                pm: words::pm(bead.pm_mm),
            })
        }
        _ => None,
    }
}

/// A length with its sign where it is below nothing, as a height under a line is.
fn length(mm: f64) -> String {
    let sign = if mm <= -NIL_MM { "−" } else { "" };
    format!("{sign}{}", words::length(mm))
}

/// How far off, with its sign; nil where it is under a 64th.
fn off(mm: f64) -> String {
    let sign = match mm {
        _ if mm.abs() < NIL_MM => "",
        _ if mm < 0.0 => "−",
        _ => "+",
    };
    format!("{sign}{}", words::length(mm))
}

/// What stands for a thing that one of the two does not have.
fn none() -> String {
    "none".to_string()
}

/// A figure of the shell.
pub(super) fn of_shell(figure: &ShellRecord) -> Figure {
    Figure {
        reference: length(figure.reference_mm),
        measured: length(figure.measured_mm),
        off: off(figure.off_mm),
        pm: words::pm(figure.pm_mm),
    }
}

/// A check, in lengths or in degrees.
pub(super) fn of_check(check: &CheckRecord) -> Figure {
    let f = &check.figures;
    let either = |mm: Option<String>, deg: Option<String>| mm.or(deg).unwrap_or_default();
    Figure {
        reference: either(
            f.reference_mm.map(length),
            f.reference_deg.map(|d| format!("{d:.1}°")),
        ),
        measured: either(
            f.measured_mm.map(length),
            f.measured_deg.map(|d| format!("{d:.1}°")),
        ),
        off: either(
            f.off_mm.map(off),
            f.off_deg.map(|d| format!("{}°", signed_decimal(d, 1))),
        ),
        pm: either(f.pm_mm.map(words::pm), f.pm_deg.map(|d| format!("±{d:.1}°"))),
    }
}

/// The stretch of an edge that is off most.
fn of_edge(edge: &EdgeRecord) -> Option<Figure> {
    let worst = edge
        .stretches
        .iter()
        .max_by(|a, b| a.short_mm.abs().total_cmp(&b.short_mm.abs()))?;
    Some(short_by(worst.short_mm, worst.pm_mm))
}

/// Metal that is missing at a fold or an edge, or too much of it.
fn short_by(short_mm: f64, pm_mm: f64) -> Figure {
    let way = if short_mm > 0.0 { "short" } else { "long" };
    Figure {
        measured: format!("{} {way}", words::length(short_mm)),
        pm: words::pm(pm_mm),
        ..Figure::default()
    }
}

/// The spot of a region that lies farthest off.
fn of_region(record: &Record, name: &str) -> Option<Figure> {
    let region = record.regions.iter().find(|r| r.name == name)?;
    let spread = region.figures.spread.as_ref()?;
    let far = if spread.max_mm.abs() >= spread.min_mm.abs() {
        spread.max_mm
    } else {
        spread.min_mm
    };
    let way = if far > 0.0 { "proud" } else { "shy" };
    Some(Figure {
        measured: format!("{} {way} at most", words::length(far)),
        pm: words::pm(spread.pm_mm),
        ..Figure::default()
    })
}

fn size(size: &SizeRecord) -> String {
    match size.length {
        Some(length) => format!("{} by {}", words::length(size.diameter), words::length(length)),
        None => words::length(size.diameter),
    }
}

fn recess_size(recess: &RecessRecord) -> String {
    let [a, b] = recess.width_mm.map(words::length);
    let mut said = format!("depth {}, {a} by {b}", words::length(recess.depth_mm));
    if let Some(radius) = recess.outer_radius_mm {
        said.push_str(&format!(", outer radius {}", words::length(radius)));
    }
    said
}

/// Where one of the two runs on beyond what is seen of it there are no lengths to compare.
fn bead_size(bead: &BeadRecord, runs_on: bool) -> String {
    let length = words::length(bead.length_mm);
    let size = if runs_on {
        "runs on beyond its box or what was seen".to_string()
    } else if bead.ring {
        format!("a ring {length} across")
    } else {
        format!("length {length}")
    };
    let mut said = format!(
        "depth {}, width {}, {size}",
        words::length(bead.depth_mm),
        words::length(bead.width_mm)
    );
    if let Some(radius) = bead.outer_radius_mm {
        said.push_str(&format!(", outer radius {}", words::length(radius)));
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn a_task_leads_to_its_figure() {
        let record = made::record();
        let hole = at(&record, "holes/hole 1").unwrap();
        assert_eq!(hole.reference, "1-1/2 (38.1 mm)");
        assert_eq!(hole.measured, "1-3/8 (35.0 mm)");
        assert_eq!(hole.pm, "±0.09 mm");
        let floor = at(&record, "regions/right <floor>").unwrap();
        assert_eq!(floor.measured, "3/16 (4.8 mm) proud at most");
        for nowhere in [
            "verdict",
            "warnings",
            "holes/hole 9",
            "regions/tunnel",
            "moons/one",
        ] {
            assert_eq!(at(&record, nowhere), None, "{nowhere}");
        }
    }

    #[test]
    fn what_is_short_and_what_lies_below_is_told_from_what_is_long_and_above() {
        assert_eq!(short_by(5.556, 0.3).measured, "7/32 (5.6 mm) short");
        assert_eq!(short_by(-5.556, 0.3).measured, "7/32 (5.6 mm) long");
        assert_eq!(length(-84.1375), "−3-5/16 (84.1 mm)");
        assert_eq!(off(4.7625), "+3/16 (4.8 mm)");
        assert_eq!(off(-0.05), "nil (0.1 mm)");
    }
}
