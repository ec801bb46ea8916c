//! What there is to do, in the shop's words and in the order in which it is done, each line with the figure and the picture
//! that it comes from.

mod differences;
mod lean;

use ::compare::Verdict;
use ::compare::verdict::LEAST_COVERAGE;
use ::features::edge::Stretch;
use ::features::shift::{Shift, Spot};
use ::features::words::displacement;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};
use cloud::{Body, Surface, Vector};

use crate::job::Comparison;
use crate::say;
use crate::stages::compare::{Compared, RegionResult};
use crate::stages::features::Found;
use lean::lean;

/// Who is to do it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    /// The shop that has the part in the jig.
    Shop,
    /// Whoever made the part, or its tool.
    Maker,
    /// Nobody: it is put on record as it was found.
    Record,
}

impl Who {
    /// The word, as written.
    pub fn word(self) -> &'static str {
        match self {
            Who::Shop => "shop",
            Who::Maker => "supplier or toolmaker",
            Who::Record => "record",
        }
    }
}

/// One thing to do.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    /// Who is to do it.
    pub who: Who,
    /// What, in words.
    pub words: String,
    /// Where its figure stands in result.json, such as `regions/right floor`.
    pub figure: String,
    /// The picture that shows it.
    pub picture: Option<String>,
}

/// Most spots of a region that are listed.
const MOST_SPOTS: usize = 4;
/// A spot of less metal than this is a dent or a high spot, mm² (four square inches; common practice, no source).
const SMALL_SPOT_MM2: f64 = 4.0 * MM_PER_INCH * MM_PER_INCH;
/// A spot over more than this share of a panel is its crown, and not a spot.
const CROWN: f64 = 0.25;

/// The list, in the order in which it is done: questions, the shell, moves, bars, folds, edges, holes, dressing; then what
/// goes to the maker of the part. While questions are open nothing else is to be done.
///
/// Against its own mirror image nothing is wrong with a set: what differs is put on record.
pub fn list(
    comparison: &Comparison,
    reference: &Surface<Body>,
    compared: &Compared,
    found: &Found,
    pictures: &[String],
) -> Vec<Task> {
    let mut list = List {
        tasks: Vec::new(),
        pictures,
    };
    if !compared.open.is_empty() {
        for question in &compared.open {
            list.shop(format!("first: {question}"), "warnings".to_string());
        }
        return list.tasks;
    }
    if comparison.mirror {
        list.differences(compared, found);
        return list.tasks;
    }
    list.shell_and_bars(found);
    // What the parts of a shell that is out of square show comes with the shell.
    if found.shell.iter().any(|f| f.verdict == Verdict::Outside) {
        list.shop(
            "then measure again: where its parts lie now comes with the shell".to_string(),
            "regions".to_string(),
        );
        return list.tasks;
    }
    let mut dress = Vec::new();
    for (region, shift) in compared.regions.iter().zip(&found.shifts) {
        let name = &region.region.name;
        let told_otherwise = found.folds.iter().any(|f| f.name == *name) || found.bent_bar(name);
        let Some(shift) = shift else { continue };
        // Where too little was seen nothing is known, and nothing is to be done.
        let seen = region.figures.coverage >= LEAST_COVERAGE;
        // What is too close to call is measured again and not worked on.
        if region.verdict != Verdict::Outside || told_otherwise || !seen {
            continue;
        }
        // What is bent back comes home by that, face and all.
        let leans = found
            .leans(name)
            .then(|| {
                lean(
                    reference,
                    &region.members,
                    &compared.smoothed,
                    region.region.limit_mm,
                )
            })
            .flatten()
            .filter(|lean| lean.alone);
        if leans.is_some_and(|lean| lean.hinge_home) {
            continue;
        }
        list.move_of(region, shift);
        if leans.is_some() {
            continue;
        }
        let spots = shift.spots.iter().filter(|spot| !found.is_at_bead(&spot.at));
        for spot in spots.take(MOST_SPOTS) {
            dress.push((region.region.name.clone(), dressed(region, spot)));
        }
    }
    list.folds_and_edges(found);
    list.holes(found);
    for (name, words) in dress {
        list.shop(format!("{name}: {words}"), format!("regions/{name}"));
    }
    list.of_the_maker(found);
    list.tasks
}

struct List<'a> {
    tasks: Vec<Task>,
    pictures: &'a [String],
}

impl List<'_> {
    fn add(&mut self, who: Who, words: String, figure: String) {
        // A region has a picture of its own; everything else is pointed at in the first of the whole.
        let own = figure
            .strip_prefix("regions/")
            .or_else(|| figure.strip_prefix("folds/"));
        let own = own.map(|name| format!("heat-region-{}.png", say::file_part(name)));
        let picture = own
            .filter(|name| self.pictures.contains(name))
            .or_else(|| self.pictures.iter().find(|p| p.starts_with("heat-")).cloned());
        self.tasks.push(Task {
            who,
            words,
            figure,
            picture,
        });
    }

    fn shop(&mut self, words: String, figure: String) {
        self.add(Who::Shop, words, figure);
    }

    fn maker(&mut self, words: String, figure: String) {
        self.add(Who::Maker, words, figure);
    }

    fn shell_and_bars(&mut self, found: &Found) {
        for figure in found.shell.iter().filter(|f| f.verdict == Verdict::Outside) {
            self.shop(
                format!(
                    "shell: {}; bring it back before anything is fitted to it",
                    figure.words
                ),
                format!("shell/{}", figure.name),
            );
        }
        for check in found.checks.iter().filter(|c| c.verdict == Verdict::Outside) {
            let figure = format!("checks/{}", check.name);
            match check.kind {
                "bar" => self.shop(format!("{}: straighten: {}", check.name, check.words), figure),
                "angle" => self.shop(format!("{}: bend back: {}", check.name, check.words), figure),
                "bolt" => self.shop(
                    format!("{}: {}; ream or move the hole", check.name, check.words),
                    figure,
                ),
                _ => {}
            }
        }
    }

    fn move_of(&mut self, region: &RegionResult, shift: &Shift) {
        let name = &region.region.name;
        let figure = format!("regions/{name}");
        if shift.pads.is_empty() {
            if shift.words != "home" && !shift.words.starts_with("can't tell") {
                self.shop(format!("{name}: {}", shift.words), figure);
            }
            return;
        }
        let pads: Vec<String> = shift
            .pads
            .iter()
            .filter(|p| p.words != "can't tell" && p.words != "home")
            .map(|p| format!("{} at {}", p.words, p.name))
            .collect();
        if !pads.is_empty() {
            self.shop(format!("{name}: {}", pads.join(", ")), figure);
        }
    }

    fn folds_and_edges(&mut self, found: &Found) {
        for fold in found.folds.iter().filter(|f| f.verdict == Verdict::Outside) {
            for words in fold.out_in_words() {
                self.shop(
                    format!(
                        "{}: fold {words}: looks like a fold in the wrong place, fold it again",
                        fold.name
                    ),
                    format!("folds/{}", fold.name),
                );
            }
        }
        // The rims of a bent bar come home with it.
        let edges = found
            .edges
            .iter()
            .filter(|e| e.verdict == Verdict::Outside)
            .filter(|e| !e.region.as_ref().is_some_and(|region| found.bent_bar(region)));
        for edge in edges {
            for stretch in &edge.stretches {
                self.shop(
                    format!("{}: {}", edge.name, trimmed(stretch)),
                    format!("edges/{}", edge.name),
                );
            }
        }
    }

    fn holes(&mut self, found: &Found) {
        for hole in found.holes.iter().filter(|h| h.verdict == Verdict::Outside) {
            let size = |mm: f64| fraction_of_inch(mm, 32);
            let words = match (&hole.pair.reference, &hole.pair.measured) {
                (Some(ours), Some(theirs)) => {
                    let off: Vector = theirs.at - ours.at;
                    let larger = theirs.diameter_mm - ours.diameter_mm;
                    let sized = match (size(larger).as_str(), larger > 0.0) {
                        ("0", _) => String::new(),
                        (_, false) => format!("open it out to {}", size(ours.diameter_mm)),
                        (by, true) => format!("it is {by} too large"),
                    };
                    let placed = match displacement(&off, MM_PER_INCH / 64.0).as_str() {
                        "home" => String::new(),
                        place => format!("it stands {place}: slot it, or fill and drill again"),
                    };
                    let parts: Vec<String> = [sized, placed].into_iter().filter(|p| !p.is_empty()).collect();
                    parts.join("; ")
                }
                (Some(ours), None) => format!("{} in hole missing: drill it", size(ours.diameter_mm)),
                (None, Some(theirs)) => format!(
                    "{} in hole that the reference does not have: fill it",
                    size(theirs.diameter_mm)
                ),
                (None, None) => continue,
            };
            let name = &hole.pair.name;
            self.shop(format!("{name}: {words}"), format!("holes/{name}"));
        }
    }

    /// What is wrong with the part itself: for whoever made it, as figures that he can repeat with a rule.
    fn of_the_maker(&mut self, found: &Found) {
        for fold in found.folds.iter().filter(|f| f.verdict == Verdict::Outside) {
            self.maker(
                format!("{}: fold {}", fold.name, fold.words),
                format!("folds/{}", fold.name),
            );
        }
        for edge in found.edges.iter().filter(|e| e.verdict == Verdict::Outside) {
            let words: Vec<&str> = edge.stretches.iter().map(|s| s.words.as_str()).collect();
            self.maker(
                format!("{}: {}", edge.name, words.join(", ")),
                format!("edges/{}", edge.name),
            );
        }
        let pressed = found
            .recesses
            .iter()
            .map(|r| ("recesses", r.verdict, &r.pair.name, &r.pair.words))
            .chain(
                found
                    .beads
                    .iter()
                    .map(|b| ("beads", b.verdict, &b.pair.name, &b.pair.words)),
            );
        let mut lines = Vec::new();
        for (kind, verdict, name, words) in pressed {
            if verdict == Verdict::Outside {
                let words: Vec<&str> = words
                    .iter()
                    .map(String::as_str)
                    .filter(|w| *w != "in its place")
                    .collect();
                lines.push((format!("{name}: {}", words.join("; ")), format!("{kind}/{name}")));
            }
        }
        for hole in found.holes.iter().filter(|h| h.verdict == Verdict::Outside) {
            let name = &hole.pair.name;
            lines.push((format!("{name}: {}", hole.pair.words()), format!("holes/{name}")));
        }
        for check in &found.checks {
            if check.verdict == Verdict::Outside && check.kind == "angle" {
                let words = match check.off {
                    // A first guess: the tool is bent against it by seven to ten tenths (common practice, no source).
                    Some(off) => format!(
                        "{}: {}; a first guess at the tool: {:.1} to {:.1}° {}",
                        check.name,
                        check.words,
                        0.7 * off.abs(),
                        off.abs(),
                        if off > 0.0 {
                            "farther closed"
                        } else {
                            "farther open"
                        }
                    ),
                    None => format!("{}: {}", check.name, check.words),
                };
                lines.push((words, format!("checks/{}", check.name)));
            }
        }
        for (words, figure) in lines {
            self.maker(words, figure);
        }
        if self.tasks.iter().any(|t| t.who == Who::Maker) {
            self.maker(
                "if it was bought in: send back, or rework what is listed here".to_string(),
                "verdict".to_string(),
            );
        }
    }
}

/// What is done at an edge that is short or long.
fn trimmed(stretch: &Stretch) -> String {
    if stretch.short_mm < 0.0 {
        format!("trim: {}", stretch.words)
    } else {
        format!("{}: let the fold out, or weld a strip on", stretch.words)
    }
}

/// A spot with what it looks like; only he who has his hand on it knows.
fn dressed(region: &RegionResult, spot: &Spot) -> String {
    let inches = spot.at / MM_PER_INCH;
    let size = region.region.bounds.size();
    let face_mm2 = size.product() / size.min().max(1e-9);
    let looks_like = match (
        spot.area_mm2 > CROWN * face_mm2,
        spot.area_mm2 < SMALL_SPOT_MM2,
        spot.mm > 0.0,
    ) {
        (true, _, true) => "a crown: sprung, or stretched metal to shrink",
        (true, _, false) => "a hollow over the whole: sprung, or metal to stretch",
        (_, true, true) => "a high spot to planish",
        (_, true, false) => "a dent to raise and planish",
        (_, false, true) => "a swelling to shrink",
        (_, false, false) => "a hollow to raise",
    };
    format!(
        "dress {} {} over {:.1} sq in at ({:.1}, {:.1}, {:.1}) in; looks like {looks_like}",
        say::plain_64ths(spot.mm),
        if spot.mm > 0.0 { "proud" } else { "shy" },
        spot.area_mm2 / MM_PER_INCH.powi(2),
        inches.x,
        inches.y,
        inches.z
    )
}
