//! What there is to do, in the shop's words, each line with the figure that it comes from.

use ::compare::Verdict;
use ::compare::verdict::LEAST_COVERAGE;
use ::features::words::displacement;
use cloud::Vector;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};

use crate::say;
use crate::stages::compare::Compared;
use crate::stages::features::Found;

/// Most spots of a region that are listed.
const MOST_SPOTS: usize = 4;

/// The list: moves first, then dressing, then folds, recesses and holes; empty where all is in.
/// While questions are open they come first, and nothing else is to be done.
pub fn list(compared: &Compared, found: &Found) -> Vec<String> {
    if !compared.open.is_empty() {
        return compared
            .open
            .iter()
            .map(|question| format!("first: {question}"))
            .collect();
    }
    let mut work = Vec::new();
    let mut dress = Vec::new();
    for (region, shift) in compared.regions.iter().zip(&found.shifts) {
        let name = &region.region.name;
        let told_as_fold = found.folds.iter().any(|f| f.name == *name);
        let Some(shift) = shift else { continue };
        // Where too little was seen nothing is known, and nothing is to be done.
        let seen = region.figures.coverage >= LEAST_COVERAGE;
        if region.verdict == Verdict::Within || told_as_fold || !seen {
            continue;
        }
        if shift.pads.is_empty() {
            if shift.words != "home" && !shift.words.starts_with("can't tell") {
                work.push(format!("{name}: {}", shift.words));
            }
        } else {
            let pads: Vec<String> = shift
                .pads
                .iter()
                .filter(|p| p.words != "can't tell" && p.words != "home")
                .map(|p| format!("{} at {}", p.words, p.name))
                .collect();
            if !pads.is_empty() {
                work.push(format!("{name}: {}", pads.join(", ")));
            }
        }
        for spot in shift.spots.iter().take(MOST_SPOTS) {
            let inches = spot.at / MM_PER_INCH;
            dress.push(format!(
                "{name}: dress {} {} over {:.1} sq in at ({:.1}, {:.1}, {:.1}) in",
                say::plain_64ths(spot.mm),
                if spot.mm > 0.0 { "proud" } else { "shy" },
                spot.area_mm2 / MM_PER_INCH.powi(2),
                inches.x,
                inches.y,
                inches.z
            ));
        }
    }
    work.append(&mut dress);
    let features = features(found);
    let bought_in = !features.is_empty();
    work.extend(features);
    if bought_in {
        work.push("if it was bought in: send back, or rework what is listed here".to_string());
    }
    work
}

fn features(found: &Found) -> Vec<String> {
    let mut work = Vec::new();
    for fold in found.folds.iter().filter(|f| f.verdict == Verdict::Outside) {
        work.push(format!("{}: fold {}", fold.name, fold.words));
    }
    for recess in found.recesses.iter().filter(|r| r.verdict == Verdict::Outside) {
        let words: Vec<&str> = recess
            .pair
            .words
            .iter()
            .map(String::as_str)
            .filter(|w| *w != "in its place")
            .collect();
        work.push(format!("{}: {}", recess.pair.name, words.join("; ")));
    }
    for hole in found.holes.iter().filter(|h| h.verdict == Verdict::Outside) {
        let size = |mm: f64| fraction_of_inch(mm, 32);
        let words = match (&hole.pair.reference, &hole.pair.measured) {
            (Some(ours), Some(theirs)) => {
                let off: Vector = theirs.at - ours.at;
                let place = match displacement(&off, MM_PER_INCH / 64.0).as_str() {
                    "home" => "in its place".to_string(),
                    place => place.to_string(),
                };
                format!(
                    "{} in for {} in, {place}",
                    size(theirs.diameter_mm),
                    size(ours.diameter_mm)
                )
            }
            (Some(ours), None) => format!("{} in hole missing", size(ours.diameter_mm)),
            (None, Some(theirs)) => format!(
                "{} in hole that the reference does not have",
                size(theirs.diameter_mm)
            ),
            (None, None) => continue,
        };
        work.push(format!("{}: {words}", hole.pair.name));
    }
    work
}
