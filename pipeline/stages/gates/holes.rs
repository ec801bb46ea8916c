//! Holes that speak against the metal that the set was set by: where most of them lie off alike, it may have slid.

use ::compare::{Region, Status, region::DRAWN_IN_MM};
use ::features::holes::Pair;
use ::features::shift::Shift;
use ::features::words::displacement;
use ::register::fit::rigid;
use cloud::statistics::median;
use cloud::unit::MM_PER_INCH;
use cloud::{Body, Point, Vector, Warning};

use crate::cli::SetBy;
use crate::job::Comparison;
use crate::say;
use crate::stages::compare::Compared;
use crate::stages::features::Found;
use crate::stages::register::Setting;

/// Of fewer matched holes nothing is made, and fewer that lie off alike may be so by chance.
const FEWEST_MATCHED: usize = 4;
const FEWEST_ALIKE: usize = 3;
/// Holes that lie off by less are not asked about, mm (1/32 in).
const LEAST_MM: f64 = MM_PER_INCH / 32.0;
/// What they are off by is over so many times their own ± and the setting's.
const OVER_READING: f64 = 2.0;
const OVER_SETTING: f64 = 4.0;
/// Offsets that differ by more than this share of themselves are not alike, however they may be turned.
const SHARE: f64 = 1.0 / 3.0;
/// A hole tells of a motion of which at least this share runs along its sheet.
const ALONG_SHEET: f64 = 0.5;
/// A region has moved as a whole where its move explains more than this share of what is off in it.
const AS_A_WHOLE: f64 = 0.5;
/// What lies this near to a region's box is in it, mm (half an inch).
const BESIDE_MM: f64 = MM_PER_INCH / 2.0;

/// What the holes say of a set that was set by its surface alone: where most of them lie off alike, far beyond the ± of the
/// setting, either it has slid or the whole skin has. Holes in regions that were found moved say nothing of it; where metal
/// is kept, only those in it or by it do.
pub fn disagree(
    comparison: &Comparison,
    setting: &Setting,
    compared: &Compared,
    found: &Found,
) -> Option<Warning> {
    if !by_surface_alone(comparison) {
        return None;
    }
    let mut holes: Vec<Seen> = found.holes.iter().filter_map(|h| Seen::of(&h.pair)).collect();
    if holes.len() < FEWEST_MATCHED {
        return None;
    }
    for (region, shift) in compared.regions.iter().zip(&found.shifts) {
        holes.retain(|hole| !moved_with(&region.region, shift.as_ref(), &hole.at));
    }
    let holes = that_count(comparison.set_by, &comparison.regions, holes);
    let pm_mm = |at: &Point, way: &Vector| setting.pm_along_mm(at, way);
    slid(&holes, comparison.limit_mm, &pm_mm)
}

fn by_surface_alone(comparison: &Comparison) -> bool {
    let alone = match comparison.set_by {
        SetBy::AllOver => true,
        SetBy::LeftAlone => comparison.points.is_none() && comparison.datum_holes.is_none(),
        _ => false,
    };
    alone && !comparison.mirror
}

/// A hole of both sets.
struct Seen {
    at: Point,
    axis: Vector,
    /// Where the measured set has it.
    there: Point,
    /// How far that is off along its sheet, mm.
    across: Vector,
    /// ± of its reading, the setting's share not in it, mm.
    pm_mm: f64,
}

impl Seen {
    fn of(pair: &Pair) -> Option<Self> {
        let (ours, theirs) = pair.reference.as_ref().zip(pair.measured.as_ref())?;
        Some(Self {
            at: ours.at,
            axis: ours.axis,
            there: theirs.at,
            across: pair.offset()?.across,
            pm_mm: ours.place_pm_mm.hypot(theirs.place_pm_mm),
        })
    }

    /// The part of a vector along its sheet.
    fn along_sheet(&self, vector: &Vector) -> Vector {
        vector - self.axis * vector.dot(&self.axis)
    }

    /// How far it may be from where the others have it and still lie alike, mm: its ±, and the scatter of holes that are all
    /// as they should be.
    fn room_mm(&self, limit_mm: f64) -> f64 {
        self.pm_mm.hypot(limit_mm / 4.0)
    }
}

/// Whether a region was found moved as a whole, and the place with it.
fn moved_with(region: &Region, shift: Option<&Shift>, at: &Point) -> bool {
    let Some(shift) = shift else { return false };
    region.bounds.grown(BESIDE_MM).contains(at)
        && shift.explained > AS_A_WHOLE
        && shift.at(at).norm() > shift.pm_mm.max(region.limit_mm / 2.0)
}

/// The holes by which the setting can be asked: where metal is kept those in it or by it, and clear of what was worked. A set
/// that was set all over is asked by all where these are too few.
fn that_count(set_by: SetBy, regions: &[Region], holes: Vec<Seen>) -> Vec<Seen> {
    let is_by = |at: &Point, of: &[Status]| {
        let mut those = regions.iter().filter(|region| of.contains(&region.status));
        those.any(|region| region.bounds.grown(DRAWN_IN_MM).contains(at))
    };
    if regions.iter().all(|region| region.status != Status::Kept) {
        return holes;
    }
    let touched = [Status::Worked, Status::New];
    let (kept, others): (Vec<Seen>, Vec<Seen>) = holes
        .into_iter()
        .partition(|hole| is_by(&hole.at, &[Status::Kept]) && !is_by(&hole.at, &touched));
    if kept.len() >= FEWEST_ALIKE || set_by == SetBy::LeftAlone {
        return kept;
    }
    kept.into_iter().chain(others).collect()
}

/// The question, where most of the holes lie off alike; `pm_mm` is the setting's ± at a place along a direction.
fn slid(holes: &[Seen], limit_mm: f64, pm_mm: &dyn Fn(&Point, &Vector) -> f64) -> Option<Warning> {
    let mut alike: Vec<&Seen> = Vec::new();
    let mut asked = 0;
    for seed in holes {
        let way = seed.across;
        let least = ALONG_SHEET * way.norm();
        let telling: Vec<&Seen> = holes
            .iter()
            .filter(|hole| hole.along_sheet(&way).norm() >= least)
            .collect();
        let near = |hole: &&Seen| {
            let apart = hole.along_sheet(&(hole.across - way)).norm();
            apart <= hole.room_mm(limit_mm).max(SHARE * way.norm())
        };
        let group = agreeing(telling.iter().copied().filter(near).collect(), limit_mm);
        if group.len() > alike.len() {
            alike = group;
            asked = telling.len();
        }
    }
    if alike.len() < FEWEST_ALIKE || 2 * alike.len() <= asked {
        return None;
    }
    let off = middle(&alike);
    let off_mm = off.norm();
    let way = off.try_normalize(1e-9)?;
    let mut reading: Vec<f64> = alike.iter().map(|hole| hole.pm_mm).collect();
    let mut setting: Vec<f64> = alike.iter().map(|hole| pm_mm(&hole.at, &way)).collect();
    let setting_mm = median(&mut setting);
    let told = off_mm > LEAST_MM.max(limit_mm / 2.0)
        && off_mm > OVER_READING * median(&mut reading)
        && off_mm > OVER_SETTING * setting_mm;
    told.then(|| {
        Warning::new(
            "holes-disagree",
            format!(
                "{} of {asked} holes lie {} of where the reference has them, all alike: the setting has slid, which its {} does not show, or the whole skin has. Set it by holes (set_by = \"holes\") or name points",
                alike.len(),
                displacement(&off, MM_PER_INCH / 64.0),
                say::pm(setting_mm)
            ),
        )
    })
}

/// Those of the holes that one rigid motion takes to where they lie, each along its sheet: the worst is left out until all of
/// them agree. Empty where too few do.
fn agreeing(mut holes: Vec<&Seen>, limit_mm: f64) -> Vec<&Seen> {
    while holes.len() >= FEWEST_ALIKE {
        let shares = apart_mm(&holes)
            .into_iter()
            .zip(&holes)
            .map(|(apart, hole)| apart / hole.room_mm(limit_mm));
        match shares.enumerate().max_by(|a, b| a.1.total_cmp(&b.1)) {
            Some((worst, share)) if share > 1.0 => holes.remove(worst),
            _ => return holes,
        };
    }
    Vec::new()
}

/// How far each lies, along its sheet, from where the motion that they share puts it, mm.
fn apart_mm(holes: &[&Seen]) -> Vec<f64> {
    let from: Vec<Point> = holes.iter().map(|hole| hole.at).collect();
    let to: Vec<Point> = holes.iter().map(|hole| hole.there).collect();
    let fit = rigid::<Body, Body>(&from, &to, None);
    let shared = middle(holes);
    holes
        .iter()
        .map(|hole| {
            let off = match &fit {
                Ok(fit) => hole.there - fit.motion.apply(&hole.at),
                // On one line nothing holds the turn about it.
                Err(_) => hole.across - shared,
            };
            hole.along_sheet(&off).norm()
        })
        .collect()
}

/// How far the holes are off along their sheets, taken together, mm.
fn middle(holes: &[&Seen]) -> Vector {
    let of = |axis: usize| median(&mut holes.iter().map(|hole| hole.across[axis]).collect::<Vec<f64>>());
    Vector::new(of(0), of(1), of(2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Bounds;
    use cloud::Motion;

    const LIMIT_MM: f64 = MM_PER_INCH / 16.0;
    const FORWARD_MM: f64 = -MM_PER_INCH / 4.0;
    const PLACES: [[f64; 2]; 6] = [
        [60.0, 205.0],
        [60.0, -200.0],
        [300.0, 60.0],
        [600.0, -210.0],
        [640.0, 190.0],
        [450.0, 0.0],
    ];

    /// A hole in a floor, with ±0.14 mm of its reading.
    fn seen(at: [f64; 2], off: Vector) -> Seen {
        let at = Point::new(at[0], at[1], 500.0);
        Seen {
            at,
            axis: Vector::z(),
            there: at + off,
            across: Vector::new(off.x, off.y, 0.0),
            pm_mm: 0.14,
        }
    }

    fn off_by(forward_mm: [f64; 6]) -> Vec<Seen> {
        let each = PLACES.into_iter().zip(forward_mm);
        each.map(|(at, mm)| seen(at, Vector::new(mm, 0.0, 0.0))).collect()
    }

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
        let slid_off =
            Motion::<Body, Body>::turn_about(Vector::z() * 0.002, Point::origin(), Vector::x() * FORWARD_MM);
        let holes: Vec<Seen> = PLACES
            .into_iter()
            .map(|at| {
                let place = Point::new(at[0], at[1], 500.0);
                seen(at, slid_off.apply(&place) - place)
            })
            .collect();
        let words = asked(&holes).unwrap();
        assert!(words.starts_with("6 of 6 holes lie 1/4 forward"), "{words}");
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
