//! What is said of the other side, as it stands on this one: all that a job says in the frame of a reference that is mirrored.
//!
//! It is done once, where a comparison has been checked; nothing that comes after knows of it. Names stay as they are. The
//! tables of the reference's points are brought over where they are read, as the reference itself is.

use cloud::{Bounds, Mirror, NamedPoint, Point};
use compare::{Outside, Region};

use super::asked::{Asked, SectionAsked, SectionPlanes, ShellAsked};
use super::file::Faults;
use super::section::Section;
use super::{CheckKind, Comparison, Set};

/// Takes the reference of a comparison for the other side: it is mirrored in Y = 0 of its own frame, and all that was said in
/// that frame with it. What is said of the measured set is in its own frame and stays.
pub fn from_the_other_side(mut comparison: Comparison) -> Comparison {
    comparison.reference.mirrored = true;
    for region in &mut comparison.regions {
        of_region(region);
    }
    of_asked(&mut comparison.asked);
    comparison
}

/// Other originals are of the hand of the reference: they would have to be mirrored with it, each in its own frame.
pub(super) fn refuse_originals(originals: &[Set], section: &Section<'_, '_>, faults: &mut Faults<'_>) {
    if !originals.is_empty() {
        faults.add(
            section.span(),
            format!(
                "{} has \"originals\", which aren't taken where the reference is mirrored; take them out, or make each the \"reference\" of a comparison of its own",
                section.title
            ),
        );
    }
}

fn of_region(region: &mut Region) {
    of_box(&mut region.bounds);
    region.outside = region.outside.map(|outside| match outside {
        Outside::Left => Outside::Right,
        Outside::Right => Outside::Left,
        Outside::Up | Outside::Down | Outside::Forward | Outside::Rearward => outside,
    });
    of_places(&mut region.pads);
}

fn of_asked(asked: &mut Asked) {
    for recess in &mut asked.recesses {
        of_box(&mut recess.outline);
    }
    for check in &mut asked.checks {
        of_check(&mut check.kind);
    }
    for section in &mut asked.sections {
        of_section(section);
    }
    if let Some(shell) = &mut asked.shell {
        of_shell(shell);
    }
    of_places(&mut asked.places);
}

fn of_check(kind: &mut CheckKind) {
    match kind {
        CheckKind::Drop { at } | CheckKind::Bolt { at, .. } | CheckKind::Round { at } => of_place(at),
        CheckKind::Height { between } | CheckKind::Tram { between } | CheckKind::Straight { between, .. } => {
            of_places(between);
        }
        // These speak of regions by their names.
        CheckKind::Width { .. }
        | CheckKind::Angle { .. }
        | CheckKind::Gap { .. }
        | CheckKind::Flush { .. }
        | CheckKind::Bar { .. }
        | CheckKind::Flat { .. } => {}
    }
}

fn of_section(section: &mut SectionAsked) {
    match &mut section.planes {
        SectionPlanes::One { through_mm, facing } => {
            of_point(through_mm);
            *facing = Mirror::of_sides().direction(facing);
        }
        SectionPlanes::Along { ends_mm, .. } => ends_mm.iter_mut().for_each(of_point),
    }
}

/// Of two places that mirror each other the one that was on the left is on the right now, and the left one comes first.
fn of_shell(shell: &mut ShellAsked) {
    let pairs = [&mut shell.front, &mut shell.rear].into_iter();
    for pair in pairs.chain(&mut shell.middle).chain(&mut shell.pairs) {
        of_places(pair);
        pair.swap(0, 1);
    }
    for opening in &mut shell.openings {
        of_places(&mut opening.corners);
    }
}

fn of_box(bounds: &mut Bounds) {
    let corners = [bounds.low, bounds.high].map(|corner| Mirror::of_sides().point(&corner));
    bounds.low = corners[0].inf(&corners[1]);
    bounds.high = corners[0].sup(&corners[1]);
}

fn of_places(places: &mut [NamedPoint]) {
    places.iter_mut().for_each(of_place);
}

fn of_place(place: &mut NamedPoint) {
    of_point(&mut place.at_mm);
}

fn of_point(point: &mut Point) {
    *point = Mirror::of_sides().point(point);
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use cloud::Vector;

    use super::*;
    use crate::job::{Job, check};

    /// A job in which every kind of thing that is said in the reference's frame is said.
    const TEXT: &str = r#"
name = "x"
[[set]]
name = "right"
file = "Cargo.toml"
[[set]]
name = "left"
file = "README.md"
[[set]]
name = "third"
file = "LICENSE-MIT"
[[region]]
name = "skin"
box = [[0, 100, 0], [50, 130, 20]]
outside = "right"
pads = { front = [5, 120, 1] }
[[region]]
name = "flange"
box = [[0, 100, -20], [50, 130, 0]]
outside = "rearward"
[[recess]]
name = "filler"
box = [[10, 105, 0], [20, 115, 9]]
[places]
A = [1, 110, 2]
B = [30, 120, 2]
C = [30, -120, 2]
D = [1, -110, 2]
[shell]
front = ["D", "A"]
rear = ["C", "B"]
openings = [{ name = "door", corners = ["A", "B", "C", "D"] }]
pairs = [{ left = "C", right = "B" }]
[[section]]
name = "one"
through = [3, 104, 5]
facing = [0, 1, 0]
[[section]]
name = "seam"
along = [[0, 101, 0], [50, 102, 0]]
[[check]]
name = "hole"
kind = "bolt"
at = "A"
size = "8 mm"
[[check]]
name = "tape"
kind = "tram"
between = ["A", "B"]
[[check]]
name = "fold"
kind = "angle"
between = ["flange", "skin"]
[[comparison]]
name = "one"
reference = "right"
measured = "left"
recesses = ["filler"]
sections = ["one", "seam"]
checks = ["hole", "tape", "fold"]
shell = true
MIRROR
"#;

    fn job(mirror: &str) -> Job {
        let text = TEXT.replace("MIRROR", mirror);
        check::job(Path::new("job.toml"), Path::new("."), &text).unwrap()
    }

    #[test]
    fn all_that_is_said_of_the_other_side_is_mirrored_with_it_and_names_stay() {
        let one = &job("mirror = true").comparisons[0];
        assert!(one.reference.mirrored && !one.measured.mirrored && !one.mirror && one.against_image());
        let skin = &one.regions[0];
        assert_eq!(skin.name, "skin");
        assert_eq!(skin.bounds.low, Point::new(0.0, -130.0, 0.0));
        assert_eq!(skin.bounds.high, Point::new(50.0, -100.0, 20.0));
        assert_eq!(skin.outside, Some(Outside::Left));
        assert_eq!(skin.pads[0].at_mm, Point::new(5.0, -120.0, 1.0));
        assert_eq!(one.regions[1].outside, Some(Outside::Rearward));
        let asked = &one.asked;
        assert_eq!(asked.recesses[0].outline.high, Point::new(20.0, -105.0, 9.0));
        let a = asked.places.iter().find(|place| place.name == "A").unwrap();
        assert_eq!(a.at_mm, Point::new(1.0, -110.0, 2.0));
        let CheckKind::Bolt { at, .. } = &asked.checks[0].kind else {
            panic!("{:?}", asked.checks[0]);
        };
        assert_eq!(at, a);
        let CheckKind::Tram { between } = &asked.checks[1].kind else {
            panic!("{:?}", asked.checks[1]);
        };
        assert_eq!(between[1].at_mm, Point::new(30.0, -120.0, 2.0));
        let SectionPlanes::One { through_mm, facing } = &asked.sections[0].planes else {
            panic!("{:?}", asked.sections[0]);
        };
        assert_eq!(*through_mm, Point::new(3.0, -104.0, 5.0));
        assert_eq!(*facing, -Vector::y());
        let SectionPlanes::Along { ends_mm, .. } = &asked.sections[1].planes else {
            panic!("{:?}", asked.sections[1]);
        };
        assert_eq!(ends_mm[1], Point::new(50.0, -102.0, 0.0));
    }

    #[test]
    fn what_can_not_be_mirrored_is_refused() {
        let refused = |more: &str| {
            let text = format!("{}{more}\n", TEXT.replace("MIRROR", "mirror = true\n"));
            let read = check::job(Path::new("job.toml"), Path::new("."), &text);
            read.unwrap_err().to_string()
        };
        let originals = refused("originals = [\"third\"]");
        assert!(
            originals.contains("\"originals\", which aren't taken"),
            "{originals}"
        );
    }

    #[test]
    fn of_two_places_of_a_shell_the_left_one_still_comes_first() {
        let one = &job("mirror = true").comparisons[0];
        let shell = one.asked.shell.as_ref().unwrap();
        for pair in [&shell.front, &shell.rear, &shell.pairs[0]] {
            assert!(pair[0].at_mm.y < 0.0 && pair[1].at_mm.y > 0.0, "{pair:?}");
        }
        assert_eq!(shell.front[0].name, "A");
        assert_eq!(shell.openings[0].corners[0].at_mm, shell.front[0].at_mm);
    }

    #[test]
    fn mirrored_twice_it_is_as_it_was_said() {
        let plain = job("").comparisons[0].clone();
        assert!(!plain.reference.mirrored && !plain.against_image());
        let mut twice = from_the_other_side(from_the_other_side(plain.clone()));
        twice.reference.mirrored = false;
        assert_eq!(twice, plain);
    }
}
