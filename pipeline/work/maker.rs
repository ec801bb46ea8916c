//! What is wrong with the part itself: for whoever made it or its tool, as figures that he can repeat with a rule.

use ::compare::{Status, Verdict};
use ::features::edge::Stretch;

use super::brought::Then;
use super::folded::folded_again;
use super::pressed::off_in_words;
use super::pressed_with::{is_as_made, left_to_press};
use super::straightened::hole_straightened;
use super::{List, Task, Who, brought, checks, explained, metal};
use crate::job::Comparison;
use crate::stages::arrangement::Kind;
use crate::stages::checks::CheckResult;
use crate::stages::compare::{Compared, RegionResult};

/// Most things that are named in the line on sending a part back.
const MOST_NAMED: usize = 6;

/// What a region shows that is no move: its name, and in words the spots that are proud or shy.
pub(super) type Shape = (String, String);

/// Whether the shape of a region may be its maker's doing: not where it was left alone or worked on, and not in a shell, which
/// is nobody's part.
pub(super) fn of_its_maker(comparison: &Comparison, region: &RegionResult) -> bool {
    comparison.asked.shell.is_none() && matches!(region.region.status, Status::New | Status::Unsure)
}

impl List<'_> {
    /// The maker's list; `shapes` are the spots of regions that may be his doing.
    pub(super) fn of_the_maker(&mut self, shapes: Vec<Shape>) {
        self.lines_of_the_maker(shapes);
        let any_out = self.tasks.iter().any(|t| t.who == Who::Maker);
        self.sprung();
        let any = self.tasks.iter().any(|t| t.who == Who::Maker);
        if any_out {
            self.maker(
                "if it was bought in: send back, or rework what is listed here".to_string(),
                "verdict".to_string(),
            );
        }
        if any && self.shown.comparison.originals.is_empty() {
            self.maker(
                "only one reference: the original's own spread is not known".to_string(),
                "verdict".to_string(),
            );
        }
    }

    /// One line before what the shop would mend of a part that somebody else may have made: the maker's list has the figures
    /// then, and the shop's own lines are what it does instead of sending the part back.
    pub(super) fn or_send_back(&mut self) {
        if self.shown.comparison.asked.shell.is_some() {
            return;
        }
        let his = |task: &Task| {
            // How a region lies is nobody's pressing; what is left to dress in it may be.
            let shaped = [": dress ", ": crowned ", ": hollow "];
            let made =
                !task.figure.starts_with("regions/") || shaped.iter().any(|shape| task.words.contains(shape));
            let mut maker = self.tasks.iter().filter(|t| t.who == Who::Maker);
            task.who == Who::Shop && made && maker.any(|t| t.figure == task.figure)
        };
        let shared: Vec<usize> = (0..self.tasks.len()).filter(|k| his(&self.tasks[*k])).collect();
        let Some(&first) = shared.first() else {
            return;
        };
        let figures = shared.iter().map(|k| self.tasks[*k].figure.as_str());
        let task = self.task(Who::Shop, sent_back(figures), "verdict".to_string());
        self.tasks.insert(first, task);
    }

    fn lines_of_the_maker(&mut self, shapes: Vec<Shape>) {
        let part = self.part();
        let (comparison, found) = (self.shown.comparison, self.shown.found);
        let as_made = |region: &str| comparison.asked.shell.is_none() && is_as_made(part, region);
        for fold in folded_again(part) {
            self.maker(
                format!("{}: fold {}", fold.name, fold.words),
                format!("folds/{}", fold.name),
            );
        }
        for edge in found.edges.iter().filter(|e| e.verdict == Verdict::Outside) {
            // What comes home with its panel is how the panel lies, and none of its maker's doing.
            let own = |s: &&Stretch| match brought::explained_by(part, edge, s) {
                Some((Then::Home, with)) => as_made(with),
                _ => true,
            };
            let own = edge.stretches_out().filter(own);
            let words: Vec<&str> = own.map(|s| s.words.as_str()).collect();
            if words.is_empty() {
                continue;
            }
            self.maker(
                format!("{}: {}", edge.name, words.join(", ")),
                format!("edges/{}", edge.name),
            );
        }
        for (name, words) in shapes {
            self.maker(format!("{name}: {words}"), format!("regions/{name}"));
        }
        self.pressed_by_the_maker();
        for hole in found.holes.iter().filter(|h| h.verdict == Verdict::Outside) {
            let name = &hole.pair.name;
            let limit_mm = comparison.limit_mm;
            let explains = explained::told(&self.explained, &format!("holes/{name}"));
            let with = brought::hole_moved_with(part, &hole.pair, limit_mm);
            let comes_home = with.is_some_and(|with| !as_made(with));
            if comes_home && explains.is_empty() && !metal::missized(&hole.pair, limit_mm) {
                continue;
            }
            let straight = hole_straightened(part, &hole.pair).map(|(_, straight)| straight);
            let words = straight.as_ref().unwrap_or(&hole.pair).words();
            self.maker(format!("{name}: {words}{explains}"), format!("holes/{name}"));
        }
        let explained: Vec<String> = self.explained.iter().map(|one| one.check.clone()).collect();
        let alone =
            |check: &&CheckResult| check.verdict == Verdict::Outside && !explained.contains(&check.name);
        for check in found.checks.iter().filter(alone) {
            let words = match check.kind {
                "angle" => Some(angle(check)),
                "bar" | "width" | "flat" | "tram" if of_a_part(comparison, self.shown.compared, check) => {
                    Some(checks::told(check))
                }
                _ => None,
            };
            if let Some(words) = words {
                self.maker(words, format!("checks/{}", check.name));
            }
        }
    }

    fn pressed_by_the_maker(&mut self) {
        let (part, found) = (self.part(), self.shown.found);
        let recesses = found
            .recesses
            .iter()
            .filter(|r| r.verdict == Verdict::Outside)
            .map(|r| ("recesses", &r.pair.name, r.pair.words.as_slice()));
        let beads = found.beads.iter().filter(|b| b.verdict == Verdict::Outside);
        let beads = beads.filter_map(|b| Some(("beads", &b.pair.name, left_to_press(part, b)?.words)));
        for (kind, name, words) in recesses.chain(beads) {
            self.maker(
                format!("{name}: {}", off_in_words(words)),
                format!("{kind}/{name}"),
            );
        }
    }

    /// What goes when the part is held is no fault of its place, and still tells its maker that it was left under stress.
    fn sprung(&mut self) {
        let (compared, found) = (self.shown.compared, self.shown.found);
        for one in found.arrangements.iter().filter(|a| a.kind == Kind::Arrangement) {
            if compared.regions.iter().any(|r| r.region.name == one.what) {
                self.maker(
                    format!("{}: {}", one.what, one.words),
                    format!("regions/{}", one.what),
                );
            }
        }
    }
}

/// Whether a figure is of the part itself and not of how a shell was set up or worked on.
fn of_a_part(comparison: &Comparison, compared: &Compared, check: &CheckResult) -> bool {
    let region = check
        .of
        .as_ref()
        .and_then(|name| compared.regions.iter().find(|r| r.region.name == *name));
    comparison.asked.shell.is_none() && region.is_none_or(|region| of_its_maker(comparison, region))
}

/// `rear flange, hole 1: if bought in, …`, from where their figures stand; each thing once.
fn sent_back<'a>(figures: impl Iterator<Item = &'a str>) -> String {
    let mut names: Vec<&str> = Vec::new();
    for figure in figures {
        let name = figure.split_once('/').map_or(figure, |(_, name)| name);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let (named, more) = names.split_at(names.len().min(MOST_NAMED));
    let more = match more.len() {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    format!(
        "{}{more}: if bought in, send it back with the supplier's list, which has the figures; else mend it as listed",
        named.join(", ")
    )
}

fn angle(check: &CheckResult) -> String {
    match check.off {
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
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_may_be_sent_back_is_named_once_and_not_without_end() {
        let words = sent_back(["folds/rear flange", "folds/rear flange", "holes/hole 1"].into_iter());
        assert!(
            words.starts_with("rear flange, hole 1: if bought in, send it back"),
            "{words}"
        );
        let many: Vec<String> = (0..9).map(|k| format!("holes/hole {k}")).collect();
        let words = sent_back(many.iter().map(String::as_str));
        assert!(
            words.starts_with("hole 0, hole 1, hole 2, hole 3, hole 4, hole 5 and 3 more: "),
            "{words}"
        );
    }
}
