//! Holes that speak against what the set was set by: where most of them lie off alike, it may have slid on its metal, or one of
//! the points that set it in order was knocked.

mod most;

use ::compare::{Region, Status, region::DRAWN_IN_MM};
use ::features::holes::Pair;
use ::features::shift::Shift;
use cloud::statistics::median;
use cloud::unit::MM_PER_INCH;
use cloud::{Point, Vector, Warning};

use super::alike::{FEWEST_ALIKE, Seen};
use crate::cli::SetBy;
use crate::job::Comparison;
use crate::say;
use crate::stages::compare::Compared;
use crate::stages::features::Found;
use crate::stages::register::Setting;
use most::{Alike, most_alike};

/// Of fewer matched holes nothing is made.
const FEWEST_MATCHED: usize = 4;
/// Holes that lie off by less are not asked about, mm (1/32 in).
const LEAST_MM: f64 = MM_PER_INCH / 32.0;
/// What they are off by is over so many times their own ± and the setting's.
const OVER_READING: f64 = 2.0;
const OVER_SETTING: f64 = 4.0;
/// A region has moved as a whole where its move explains more than this share of what is off in it.
const AS_A_WHOLE: f64 = 0.5;
/// What lies this near to a region's box is in it, mm (half an inch).
const BESIDE_MM: f64 = MM_PER_INCH / 2.0;
/// A hole within this of a point that the set was set by is that point, mm (half an inch); of a larger one it may be anywhere
/// in it.
const SAME_PLACE_MM: f64 = MM_PER_INCH / 2.0;
/// What was worked on may lie elsewhere than it did.
const TOUCHED: [Status; 2] = [Status::Worked, Status::New];

/// What the holes say of a set that was set by its surface alone, or by points in order: where most of them lie off alike, far
/// beyond the ± of the setting, it has slid, or one of the points was knocked; or the whole skin has moved. Holes in regions that
/// were found moved say nothing of it, nor do those that it was set by; where metal is kept, only those in it or by it do.
pub fn disagree(
    comparison: &Comparison,
    setting: &Setting,
    compared: &Compared,
    found: &Found,
) -> Option<Warning> {
    let in_order = comparison.set_by == SetBy::Order;
    if comparison.mirror || !(in_order || by_surface_alone(comparison)) {
        return None;
    }
    let pairs = found.holes.iter().map(|hole| &hole.pair);
    let mut holes: Vec<Seen> = pairs
        .filter(|pair| !(in_order && is_datum(pair, setting)))
        .filter_map(Seen::of)
        .collect();
    if holes.len() < FEWEST_MATCHED {
        return None;
    }
    for (region, shift) in compared.regions.iter().zip(&found.shifts) {
        // A point that was knocked moves all metal with its holes: by itself only what was worked may have moved.
        let by_itself = !in_order || TOUCHED.contains(&region.region.status);
        holes.retain(|hole| !(by_itself && moved_with(&region.region, shift.as_ref(), &hole.at)));
    }
    let holes = that_count(comparison.set_by, &comparison.regions, holes);
    let pm_mm = |at: &Point, way: &Vector| setting.pm_along_mm(at, way);
    match in_order {
        true => knocked(&holes, comparison.limit_mm, &pm_mm, &setting.later_points),
        false => slid(&holes, comparison.limit_mm, &pm_mm),
    }
}

fn by_surface_alone(comparison: &Comparison) -> bool {
    match comparison.set_by {
        SetBy::AllOver => true,
        SetBy::LeftAlone => comparison.points.is_none() && comparison.datum_holes.is_none(),
        _ => false,
    }
}

/// Whether a hole is one of the points that the set was set by.
fn is_datum(pair: &Pair, setting: &Setting) -> bool {
    pair.reference.as_ref().is_some_and(|hole| {
        let within_mm = SAME_PLACE_MM.max(hole.diameter_mm / 2.0);
        let mut used = setting.points.iter().filter(|point| point.used);
        used.any(|point| (point.at_mm - hole.at).norm() <= within_mm)
    })
}

/// Whether a region was found moved as a whole, and the place with it.
fn moved_with(region: &Region, shift: Option<&Shift>, at: &Point) -> bool {
    let Some(shift) = shift else { return false };
    region.bounds.grown(BESIDE_MM).contains(at)
        && shift.explained > AS_A_WHOLE
        && shift.at(at).norm() > shift.pm_mm.max(region.limit_mm / 2.0)
}

/// The holes by which the setting can be asked: where metal is kept those in it or by it, and clear of what was worked. A set
/// that was set all over, or by points, is asked by all where these are too few.
fn that_count(set_by: SetBy, regions: &[Region], holes: Vec<Seen>) -> Vec<Seen> {
    let is_by = |at: &Point, of: &[Status]| {
        let mut those = regions.iter().filter(|region| of.contains(&region.status));
        those.any(|region| region.bounds.grown(DRAWN_IN_MM).contains(at))
    };
    if regions.iter().all(|region| region.status != Status::Kept) {
        return holes;
    }
    let (kept, others): (Vec<Seen>, Vec<Seen>) = holes
        .into_iter()
        .partition(|hole| is_by(&hole.at, &[Status::Kept]) && !is_by(&hole.at, &TOUCHED));
    if kept.len() >= FEWEST_ALIKE || set_by == SetBy::LeftAlone {
        return kept;
    }
    kept.into_iter().chain(others).collect()
}

/// The question of a set by its surface, where most of the holes lie off alike; `pm_mm` is the setting's ± at a place along a
/// direction.
fn slid(holes: &[Seen], limit_mm: f64, pm_mm: &dyn Fn(&Point, &Vector) -> f64) -> Option<Warning> {
    let alike = most_alike(holes, limit_mm, false)?;
    let setting_mm = far_beyond(&alike, limit_mm, pm_mm)?;
    Some(Warning::new(
        "holes-disagree",
        format!(
            "{} {}: the setting has slid, which its {} does not show, or the whole skin has. Set it by holes (set_by = \"holes\") or name points",
            alike.count(),
            alike.words(limit_mm),
            say::pm(setting_mm)
        ),
    ))
}

/// The question of a set by points in order, of which `later` are those that come second and third.
fn knocked(
    holes: &[Seen],
    limit_mm: f64,
    pm_mm: &dyn Fn(&Point, &Vector) -> f64,
    later: &[String],
) -> Option<Warning> {
    let alike = most_alike(holes, limit_mm, true)?;
    let setting_mm = far_beyond(&alike, limit_mm, pm_mm)?;
    Some(Warning::new(
        "holes-against-points",
        format!(
            "{} that did not set it {}, far over the setting's {}: most likely a stop or a line point ({}) was knocked, or not probed where it was before; or all of the metal has moved on its pads. Look at those points and probe them again, or set it by holes (set_by = \"holes\")",
            alike.count(),
            alike.words(limit_mm),
            say::pm(setting_mm),
            later.join(", ")
        ),
    ))
}

/// The setting's ± where the holes stand, mm, where they lie off far beyond it, and beyond what they are read to.
fn far_beyond(alike: &Alike<'_>, limit_mm: f64, pm_mm: &dyn Fn(&Point, &Vector) -> f64) -> Option<f64> {
    let off_mm = alike.off_mm();
    let mut reading: Vec<f64> = alike.holes.iter().map(|hole| hole.pm_mm).collect();
    if off_mm <= LEAST_MM.max(limit_mm / 2.0) || off_mm <= OVER_READING * median(&mut reading) {
        return None;
    }
    let own_way = |hole: &&Seen| Some(pm_mm(&hole.at, &hole.across.try_normalize(1e-9)?));
    let mut setting: Vec<f64> = alike.holes.iter().filter_map(own_way).collect();
    let setting_mm = median(&mut setting);
    (off_mm > OVER_SETTING * setting_mm).then_some(setting_mm)
}

#[cfg(test)]
mod tests {
    use super::most::made::{off_by, seen, turned};
    use super::*;
    use cloud::Bounds;

    const LIMIT_MM: f64 = MM_PER_INCH / 16.0;
    const FORWARD_MM: f64 = -MM_PER_INCH / 4.0;

    /// What is asked where the setting says ±0.01 mm.
    fn asked(holes: &[Seen]) -> Option<String> {
        slid(holes, LIMIT_MM, &|_, _| 0.01).map(|warning| warning.words)
    }

    #[test]
    fn five_of_six_that_lie_off_alike_are_asked_about() {
        let f = FORWARD_MM;
        let words = asked(&off_by([f, f + 0.2, f - 0.2, f, f + 4.76, f])).unwrap();
        assert!(
            words.starts_with("5 of 6 holes lie 1/4 forward of where"),
            "{words}"
        );
        // The one that is off is no part of what is told, wherever it stands.
        let words = asked(&off_by([f + 4.76, f, f, f, f, f])).unwrap();
        assert!(words.starts_with("5 of 6 holes lie 1/4 forward"), "{words}");
    }

    #[test]
    fn holes_that_are_off_by_themselves_are_not() {
        let f = FORWARD_MM;
        assert_eq!(asked(&off_by([0.0, 0.1, -0.1, f, 0.0, 0.0])), None);
        assert_eq!(asked(&off_by([0.0, f, 0.0, f, 0.0, f])), None);
        assert_eq!(asked(&off_by([1.0, -2.5, 3.0, f, 4.8, -1.2])), None);
        // Under half the limit.
        assert_eq!(asked(&off_by([-0.7; 6])), None);
        assert!(asked(&off_by([-0.9; 6])).is_some());
    }

    #[test]
    fn what_the_setting_or_the_reading_leaves_open_is_no_contradiction() {
        let mut holes = off_by([FORWARD_MM; 6]);
        assert_eq!(slid(&holes, LIMIT_MM, &|_, _| 2.0), None);
        // What nothing holds forward may still be held to the side.
        let to_the_side = |_: &Point, way: &Vector| if way.x.abs() > 0.5 { 1_000.0 } else { 0.01 };
        assert_eq!(slid(&holes, LIMIT_MM, &to_the_side), None);
        for hole in &mut holes {
            hole.pm_mm = 4.0;
        }
        assert_eq!(asked(&holes), None);
    }

    #[test]
    fn a_set_that_slid_and_turned_a_little_takes_all_its_holes_along() {
        let words = asked(&turned(0.002, FORWARD_MM)).unwrap();
        assert!(words.starts_with("6 of 6 holes lie 1/4 forward"), "{words}");
    }

    /// A line point that was knocked turns the set, a stop shifts it: either way the points are named.
    #[test]
    fn of_points_in_order_a_stop_or_a_line_point_is_named() {
        let names = ["L1", "L2", "S"].map(str::to_string);
        let asked = |holes: &[Seen], pm_mm: f64| {
            let found = knocked(holes, LIMIT_MM, &|_, _| pm_mm, &names);
            found.map(|warning| warning.words)
        };
        let words = asked(&turned(0.01, 0.0), 0.4).unwrap();
        assert!(
            words.starts_with("6 of 6 holes that did not set it lie up to"),
            "{words}"
        );
        assert!(words.contains("(L1, L2, S) was knocked"), "{words}");
        let f = FORWARD_MM;
        let words = asked(&off_by([f; 6]), 0.4).unwrap();
        assert!(words.contains("lie 1/4 forward of where"), "{words}");
        // What the points leave open, three alike, half of them, and holes that are home are no contradiction.
        assert_eq!(asked(&off_by([f; 6]), 1.8), None);
        assert_eq!(asked(&off_by([f; 6])[..3], 0.4), None);
        assert_eq!(asked(&off_by([f, f, f, 0.0, 0.1, -0.1]), 0.4), None);
        assert_eq!(asked(&off_by([0.3; 6]), 0.01), None);
    }

    #[test]
    fn holes_on_one_line_are_taken_by_their_shift_alone() {
        let on_a_line = |off: [f64; 4]| -> Vec<Seen> {
            let each = off.into_iter().zip([0.0, 100.0, 200.0, 300.0]);
            each.map(|(mm, y)| seen([0.0, y], Vector::new(mm, 0.0, 0.0)))
                .collect()
        };
        let f = FORWARD_MM;
        assert!(asked(&on_a_line([f, f, 0.0, f])).unwrap().starts_with("3 of 4"));
        assert_eq!(asked(&on_a_line([f, 0.0, 0.0, f])), None);
    }

    #[test]
    fn a_hole_in_a_wall_that_faces_the_slide_is_not_asked() {
        let mut holes = off_by([FORWARD_MM; 6]);
        for hole in &mut holes[..2] {
            hole.axis = Vector::x();
            hole.across = Vector::zeros();
        }
        assert!(asked(&holes).unwrap().starts_with("4 of 4"));
    }

    fn region(status: Status, x: [f64; 2]) -> Region {
        Region {
            name: "skin".to_string(),
            status,
            bounds: Bounds {
                low: Point::new(x[0], -300.0, 490.0),
                high: Point::new(x[1], 300.0, 510.0),
            },
            limit_mm: LIMIT_MM,
            outside: None,
            pads: Vec::new(),
        }
    }

    #[test]
    fn holes_that_moved_with_their_region_say_nothing() {
        let shift = |mm: f64, explained: f64| Shift {
            translation_mm: Vector::new(mm, 0.0, 0.0),
            rotation: Vector::zeros(),
            about: Point::origin(),
            unheld: Vec::new(),
            explained,
            pm_mm: 0.2,
            pads: Vec::new(),
            spots: Vec::new(),
            shape: None,
            words: String::new(),
        };
        let (front, at) = (region(Status::Unsure, [0.0, 320.0]), Point::new(60.0, 0.0, 500.0));
        assert!(moved_with(&front, Some(&shift(FORWARD_MM, 0.9)), &at));
        assert!(!moved_with(&front, Some(&shift(0.1, 0.9)), &at));
        assert!(!moved_with(&front, Some(&shift(FORWARD_MM, 0.1)), &at));
        assert!(!moved_with(&front, None, &at));
        let rear = Point::new(600.0, 0.0, 500.0);
        assert!(!moved_with(&front, Some(&shift(FORWARD_MM, 0.9)), &rear));
    }

    #[test]
    fn where_metal_is_kept_only_the_holes_by_it_count() {
        let left = |set_by, regions: &[Region]| that_count(set_by, regions, off_by([0.0; 6])).len();
        let (kept, new) = (
            region(Status::Kept, [0.0, 320.0]),
            region(Status::New, [400.0, 700.0]),
        );
        assert_eq!(left(SetBy::AllOver, std::slice::from_ref(&new)), 6);
        assert_eq!(left(SetBy::LeftAlone, &[kept, new]), 3);
        let narrow = region(Status::Kept, [0.0, 100.0]);
        assert_eq!(left(SetBy::LeftAlone, std::slice::from_ref(&narrow)), 2);
        assert_eq!(left(SetBy::AllOver, std::slice::from_ref(&narrow)), 6);
    }
}
