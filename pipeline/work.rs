//! What there is to do, in the shop's words and in the order in which it is done, each line with the figure and the picture
//! that it comes from.

mod aside;
mod bowed;
mod brought;
mod carried;
mod checks;
mod differences;
mod explained;
mod extra;
mod folded;
mod folded_from;
mod in_doubt;
mod lean;
mod maker;
mod metal;
mod moved;
mod pads;
mod part;
mod pictures;
mod pressed;
mod pressed_with;
mod slid;
mod straightened;
mod whence;
mod whole;
mod withheld;

use ::compare::Verdict;
use ::compare::verdict::LEAST_COVERAGE;
use ::features::shape::Curl;
use ::features::shift::{Shift, Spot};
use cloud::unit::MM_PER_INCH;
use cloud::{Body, Surface, Vector};

use crate::job::Comparison;
use crate::say;
use crate::stages::compare::{Compared, RegionResult};
use crate::stages::features::Found;
pub use brought::{Then, explained_by};
pub use carried::carried_by;
use explained::Explained;
use lean::lean;
use maker::{Shape, of_its_maker};
pub use part::Part;
use pictures::Shown;
pub use slid::slid_so;

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
/// Worst places of two regions' spots that lie this near to each other are of one dent, mm (half an inch).
const SAME_METAL_MM: f64 = MM_PER_INCH / 2.0;
/// A spot over more than this share of a panel is its crown, and not a spot.
const CROWN: f64 = 0.25;

/// The list, in the order in which it is done: questions, the shell, widths and bars, moves, heights, folds, edges, holes, what
/// was pressed, gaps, dressing; then what goes to the maker of the part. While questions are open nothing else is to be done;
/// while the shell is out of square the rest stands behind it, since it comes with the shell.
///
/// Against a mirror image, its own or the other side's, nothing is wrong with a set: what differs is put on record.
pub fn list(
    comparison: &Comparison,
    reference: &Surface<Body>,
    compared: &Compared,
    found: &Found,
    pictures: &[String],
) -> Vec<Task> {
    let mut list = List {
        tasks: Vec::new(),
        explained: explained::explained(
            comparison,
            Part {
                reference,
                compared,
                found,
            },
        ),
        shown: Shown {
            comparison,
            reference,
            compared,
            found,
            pictures,
        },
    };
    if !compared.open.is_empty() {
        for question in &compared.open {
            list.shop(format!("first: {question}"), "warnings".to_string());
        }
        return list.tasks;
    }
    if comparison.against_image() {
        list.differences();
        list.spots_that_differ();
        list.extra();
        return list.tasks;
    }
    list.shell();
    let of_shell = list.tasks.len();
    list.checks(&checks::BEFORE_MOVES);
    let Dressing { spots, shapes } = list.moves();
    list.checks(&checks::AS_IT_SITS);
    list.folds();
    list.edges();
    list.edges_without_verdict();
    list.holes();
    list.holes_in_doubt();
    list.extra();
    list.pressed();
    list.checks(&checks::BESIDE);
    for (name, words) in spots {
        list.shop(format!("{name}: {words}"), format!("regions/{name}"));
    }
    list.spots_of_whole();
    list.checks(&checks::DRESSED);
    list.after_the_shell(of_shell);
    list.differing_pairs();
    list.of_the_maker(shapes);
    list.or_send_back();
    list.tasks
}

/// What is left of regions when their moves are taken away: spots for the shop, and those that may be the maker's doing.
#[derive(Default)]
struct Dressing {
    spots: Vec<Shape>,
    shapes: Vec<Shape>,
}

struct List<'a> {
    tasks: Vec<Task>,
    /// Checks that come right with a hole, or with the move of a region.
    explained: Vec<Explained>,
    shown: Shown<'a>,
}

impl List<'_> {
    fn task(&self, who: Who, words: String, figure: String) -> Task {
        Task {
            who,
            words,
            picture: self.shown.of(&figure),
            figure,
        }
    }

    fn add(&mut self, who: Who, words: String, figure: String) {
        let task = self.task(who, words, figure);
        self.tasks.push(task);
    }

    fn shop(&mut self, words: String, figure: String) {
        self.add(Who::Shop, words, figure);
    }

    fn maker(&mut self, words: String, figure: String) {
        self.add(Who::Maker, words, figure);
    }

    fn shell(&mut self) {
        let shell = self.shown.found.shell.iter();
        for figure in shell.filter(|f| f.verdict == Verdict::Outside) {
            self.shop(
                format!(
                    "shell: {}; bring it back before anything is fitted to it",
                    figure.words
                ),
                format!("shell/{}", figure.name),
            );
        }
    }

    /// Tells behind the first `of_shell` tasks, where there are any, that all others come after them.
    fn after_the_shell(&mut self, of_shell: usize) {
        if of_shell == 0 {
            return;
        }
        let words = if self.tasks.len() > of_shell {
            "after the shell is right, measure again first: where its parts lie now comes with it. As it stands:"
        } else {
            "then measure again: where its parts lie now comes with the shell"
        };
        let task = self.task(Who::Shop, words.to_string(), "regions".to_string());
        self.tasks.insert(of_shell, task);
    }

    /// Pairs side to side that differ: told, and never wrong.
    fn differing_pairs(&mut self) {
        for figure in self.shown.found.shell.iter().filter(|f| f.differs) {
            self.add(
                Who::Record,
                format!("{}: as found", figure.words),
                format!("shell/{}", figure.name),
            );
        }
    }

    /// What must be moved; hands on what is left to dress then.
    fn moves(&mut self) -> Dressing {
        let Shown {
            comparison,
            reference,
            compared,
            found,
            ..
        } = self.shown;
        let mut dressing = Dressing::default();
        let mut listed: Vec<Spot> = Vec::new();
        for (region, shift) in compared.regions.iter().zip(&found.shifts) {
            let name = &region.region.name;
            // A flange whose fold is home is not moved, and what is off of its face is dressed.
            let fold = found.folds.iter().find(|f| f.name == *name);
            let told_otherwise = found.bent_bar(name) || fold.is_some_and(|f| f.verdict != Verdict::Within);
            let Some(shift) = shift else { continue };
            // Where too little was seen nothing is known, and nothing is to be done.
            let seen = region.figures.coverage >= LEAST_COVERAGE;
            if told_otherwise || !seen {
                continue;
            }
            // What is too close to call is measured again and not worked on; what slid in its own plane its holes alone tell.
            if region.verdict != Verdict::Outside {
                self.move_of(region, None);
                continue;
            }
            // What hangs from a panel that is moved is told with it.
            if carried_by(self.part(), name).is_some() {
                continue;
            }
            // What is bent back comes home by that, face and all.
            let limit_mm = region.region.limit_mm;
            let leans = found
                .leans(name)
                .then(|| lean(reference, &region.members, &compared.smoothed, limit_mm))
                .flatten()
                .filter(|lean| lean.alone);
            if leans.is_some_and(|lean| lean.hinge_home) {
                continue;
            }
            let moves = fold.is_none() && self.move_of(region, Some(shift));
            if leans.is_some() {
                continue;
            }
            let curls: &[Curl] = shift.shape.as_ref().map_or(&[][..], |shape| &shape.curls);
            let of_bar = straightened::is_of_bent_bar(self.part(), &region.region);
            for (done, looks) in bowed::shapes(region, shift, moves, of_bar) {
                if of_its_maker(comparison, region) {
                    dressing.shapes.push((name.clone(), looks));
                }
                dressing.spots.push((name.clone(), done));
            }
            let twisted = shift.shape.as_ref().and_then(|shape| shape.twisted.as_ref());
            // What lies along a curl comes home with it, what is of a crown or a twist with that.
            let along_curl = |spot: &Spot| curls.iter().any(|curl| curl.holds(&spot.at));
            let spots = shift
                .spots
                .iter()
                .filter(|spot| !found.is_at_bead(&spot.at, spot.mm));
            let spots = spots.filter(|spot| !along_curl(spot));
            let spots = spots.filter(|spot| !bowed::explains(self.part(), region, spot));
            let spots = spots.filter(|spot| !straightened::explains(self.part(), spot, shift));
            let spots = spots.filter(|spot| twisted.is_none_or(|all| !all.explains(spot.mm, &spot.at)));
            // What is within the limit once the whole is moved is left as it is.
            let spots = spots.filter(|spot| !moves || spot.mm.abs() > limit_mm);
            // Where regions have metal in common its dent is told once.
            let spots = spots.filter(|spot| !listed.iter().any(|other| same_metal(other, spot)));
            let own: Vec<Spot> = spots.take(MOST_SPOTS).copied().collect();
            for spot in &own {
                let place = whence::place(&spot.at, &region.region.pads, &found.places);
                let shape = shape(&region.region.bounds.size(), spot, &place);
                let shape = sided(shape, compared.side_is_guessed(Some(&region.region)));
                if of_its_maker(comparison, region) {
                    dressing.shapes.push((name.clone(), shape.clone()));
                }
                dressing.spots.push((name.clone(), dressed(&shape, moves)));
            }
            listed.extend(own);
        }
        dressing
    }

    /// What a region must be moved by, where its metal shows a shift or its holes a slide; tells whether its metal does.
    fn move_of(&mut self, region: &RegionResult, shift: Option<&Shift>) -> bool {
        let (part, name) = (self.part(), &region.region.name);
        let shifted = shift.and_then(|shift| pads::words(&region.region, shift));
        let words: Vec<String> = shifted.into_iter().chain(slid::told(part, name)).collect();
        if !words.is_empty() {
            let figure = format!("regions/{name}");
            let with = carried::told(part, name)
                + &brought::told(part, name, self.shown.comparison.limit_mm)
                + &explained::told(&self.explained, &figure);
            self.shop(format!("{name}: {}{with}", words.join("; ")), figure);
        }
        shift.is_some_and(|shift| pads::is_moved(&region.region, shift))
    }
}

/// Whether two spots, read in two regions, are of the same metal.
fn same_metal(one: &Spot, other: &Spot) -> bool {
    one.mm * other.mm > 0.0 && (one.at - other.at).norm() <= SAME_METAL_MM
}

/// What is done about a shape. Where its region moves first the figure is of what is left then: beside a region that lies low
/// `3/64 proud` would else read as a contradiction.
fn dressed(shape: &str, moves: bool) -> String {
    if moves {
        format!("dress what is left after the move: {shape}")
    } else {
        format!("dress {shape}")
    }
}

/// An edge that curls, as what is dressed.
fn curled(words: &str) -> String {
    format!("its {}", words.replacen(" curls", ", which curls", 1))
}

/// The shape of a spot, with a word where proud and shy follow a guess of the outside.
fn sided(shape: String, guessed: bool) -> String {
    match guessed {
        true => format!("{shape} (side guessed: feel whether it stands proud)"),
        false => shape,
    }
}

/// A spot of metal of this size with where it is and what it looks like; only he who has his hand on it knows.
fn shape(size: &Vector, spot: &Spot, place: &str) -> String {
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
        "{} {} over {} ({:.1} sq in) at {place}; looks like {looks_like}",
        say::plain_64ths(spot.mm),
        if spot.mm > 0.0 { "proud" } else { "shy" },
        spot.extent_in_words(),
        spot.area_mm2 / MM_PER_INCH.powi(2)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spot_says_where_its_side_was_guessed() {
        let told = sided("1/8 proud; looks like a high spot to planish".to_string(), true);
        assert!(told.contains("to planish (side guessed: "), "{told}");
        assert_eq!(sided("1/8 proud".to_string(), false), "1/8 proud");
    }

    #[test]
    fn what_is_dressed_after_a_move_says_so() {
        let shape = "3/64 proud over 2 × 1 in";
        assert_eq!(dressed(shape, false), "dress 3/64 proud over 2 × 1 in");
        assert_eq!(
            dressed(shape, true),
            "dress what is left after the move: 3/64 proud over 2 × 1 in"
        );
        assert_eq!(
            curled("rear edge curls up 3/32 over 12 in"),
            "its rear edge, which curls up 3/32 over 12 in"
        );
    }
}
