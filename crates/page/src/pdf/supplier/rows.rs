//! What is wrong with the part, a row a figure: where it is on the part, what it should be and what it is.

use record::Record;
use record::figured::{CheckRecord, TaskRecord};
use record::found::{EdgeRecord, FoldRecord, FoldStretchRecord, StretchRecord};

use super::super::grid::Entry;
use super::super::{figure, place};
use crate::words;

/// What a check of an angle has its flange's height under, on the reference and as measured.
const HEIGHTS: [&str; 2] = ["width on the reference (mm)", "width (mm)"];

/// A bow under this is nil in words, mm: then the bar is out by its twist.
const LEAST_BOW_MM: f64 = 25.4 / 64.0;

/// Where a task stands on the sheet: what a rule tells comes first, then what wants a square or a gauge, then what wants both
/// sets to be seen.
pub(super) fn turn(record: &Record, task: &TaskRecord) -> usize {
    let Some((kind, name)) = task.figure.split_once('/') else {
        return 4;
    };
    match kind {
        "edges" | "holes" | "folds" => 0,
        "checks" => {
            let check = record.checks.iter().find(|c| c.name == name);
            match check.map(|c| &*c.kind) {
                Some("width" | "tram" | "height" | "drop") => 1,
                _ => 3,
            }
        }
        "beads" | "recesses" => 2,
        _ => 4,
    }
}

/// A task's rows: one, but a row a stretch for an edge, and for a fold that is not alike all along.
pub(super) fn rows_of(record: &Record, task: &TaskRecord) -> Vec<Vec<Entry>> {
    let (kind, name) = task.figure.split_once('/').unwrap_or_default();
    let edge = record.edges.iter().find(|e| kind == "edges" && e.name == name);
    if let Some(edge) = edge.filter(|e| !e.stretches.is_empty()) {
        // What comes home with its panel is how the panel lies, and what is not out is not wrong.
        let stretches = edge.stretches.iter().filter(|s| !s.comes_home() && !s.not_out);
        return stretches.map(|stretch| edge_row(record, edge, stretch)).collect();
    }
    let fold = record.folds.iter().find(|f| kind == "folds" && f.name == name);
    if let Some(fold) = fold.filter(|f| f.stretches.len() > 1) {
        let out = fold.stretches.iter().filter(|s| s.verdict == "outside");
        return out.map(|stretch| fold_row(record, fold, stretch)).collect();
    }
    // A spot and a crown have their figures in their words; the region's is that of its farthest, which may be another.
    let in_words = [" over ", ": crowned ", ": hollow "];
    let spot = kind == "regions" && in_words.iter().any(|words| task.words.contains(words));
    let mut found = figure::at(record, &task.figure)
        .filter(|_| !spot)
        .unwrap_or_default();
    if let Some(moved) = place::moved(record, kind, name) {
        found.reference.push_str(&format!(", {}", moved.belongs));
        found.measured.push_str(&format!(", moved {}", moved.by));
    }
    let check = record.checks.iter().find(|c| kind == "checks" && c.name == name);
    if let Some(bow_mm) = check.and_then(bow_mm) {
        found.reference = "straight".to_string();
        found.measured = format!("bowed {}", words::length(bow_mm));
    }
    if let Some([was, is]) = check.and_then(heights) {
        found.reference.push_str(&format!(", {was} high"));
        found.measured.push_str(&format!(", {is} high"));
    }
    let all_along = fold.and_then(|f| Some(place::of_fold(record, &f.name, f.stretches.first()?)));
    let place = all_along.or_else(|| place::of_task(record, task));
    vec![vec![
        task.words.as_str().into(),
        place.unwrap_or_default().into(),
        found.reference.into(),
        found.measured.into(),
        found.pm.into(),
        "".into(),
    ]]
}

/// How high the flange of an angle is from its fold to its lip, as it should be and as it is.
fn heights(check: &CheckRecord) -> Option<[String; 2]> {
    let of = |what: &str| {
        let detail = check.details.iter().find(|d| d.what == what)?;
        Some(words::length(detail.value))
    };
    Some([of(HEIGHTS[0])?, of(HEIGHTS[1])?])
}

/// How far a bar is bowed, whichever way, where it is: that is what a straight edge laid along it shows.
fn bow_mm(check: &CheckRecord) -> Option<f64> {
    let bow_mm = check.figures.measured_mm.filter(|_| check.kind == "bar")?;
    (bow_mm.abs() >= LEAST_BOW_MM).then_some(bow_mm)
}

fn edge_row(record: &Record, edge: &EdgeRecord, stretch: &StretchRecord) -> Vec<Entry> {
    // Where the panel has moved too, an edge that is off is not the flange that is low or high.
    let height_mm = stretch.height_mm.filter(|_| stretch.moved_with.is_none());
    let [should, is] = match height_mm {
        Some(mm) => [mm, mm - stretch.short_mm].map(|mm| format!("{} high", words::length(mm))),
        None => [String::new(), String::new()],
    };
    let mut short = short_by(stretch.short_mm);
    if let Some(with) = &stretch.moved_with {
        short.push_str(&format!(", part of it since {} has moved", with.region));
    }
    vec![
        format!("{}: {}", edge.name, stretch.words).into(),
        place::of_stretches(record, edge, &[stretch])
            .unwrap_or_default()
            .into(),
        should.into(),
        [is, short]
            .into_iter()
            .filter(|part| !part.is_empty())
            .collect::<Vec<_>>()
            .join(", ")
            .into(),
        words::pm(stretch.pm_mm).into(),
        "".into(),
    ]
}

fn fold_row(record: &Record, fold: &FoldRecord, stretch: &FoldStretchRecord) -> Vec<Entry> {
    vec![
        format!("{}: fold {}", fold.name, stretch.words).into(),
        place::of_fold(record, &fold.name, stretch).into(),
        "".into(),
        short_by(stretch.short_mm).into(),
        words::pm(stretch.pm_mm).into(),
        "".into(),
    ]
}

/// `7/32 (5.6 mm) short`.
fn short_by(short_mm: f64) -> String {
    let way = if short_mm > 0.0 { "short" } else { "long" };
    format!("{} {way}", words::length(short_mm))
}
