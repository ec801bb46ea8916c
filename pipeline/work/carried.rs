//! Flanges that are off since the panel that they hang from is: its move brings them home, and they are no job of their own.

use ::compare::Region;
use ::compare::verdict::{Verdict, decide};
use cloud::{Point, Vector};

use super::brought::BY_MM;
use super::moved::{Moved, moved_alone};
use super::part::Part;

/// About so many places of a flange are looked at.
const LOOKED_AT: usize = 500;
/// What moves along its own face shows less of the move than this share, and hardly says by itself how far it went.
const SLIDES: f64 = 0.5;
/// A region of which more than this share slides with a panel hangs from it.
const HANGS: f64 = 0.7;
/// Share of a flange that must be home then: where a bend has a small radius a move by as much shows otherwise.
const HOME: f64 = 0.9;
/// Where less is, what is left is told: it may be a dent.
const ALL_HOME: f64 = 0.98;

/// The region whose move brings another home that hangs from it: a flange by its fold, or metal that slides with the move. `None`
/// where a region has moved by itself.
pub fn carried_by<'a>(part: Part<'a>, region: &str) -> Option<&'a str> {
    carried(part, region).map(|(panel, _)| panel)
}

/// That region, and the share of what was seen that comes home.
fn carried<'a>(part: Part<'a>, region: &str) -> Option<(&'a str, f64)> {
    let mut all = part.compared.regions.iter();
    let result = all.find(|result| result.region.name == region)?;
    let step = result.members.len().div_ceil(LOOKED_AT).max(1);
    let looked_at = result.members.iter().step_by(step).map(|&i| Place {
        at: part.reference.points()[i as usize],
        normal: part.reference.normals()[i as usize],
        off_mm: part.compared.smoothed[i as usize],
    });
    let flange = Flange {
        region: &result.region,
        places: looked_at.collect(),
        folded: part.found.folds.iter().any(|fold| fold.name == region),
    };
    moved_alone(part)
        .filter(|panel| panel.members.len() > result.members.len())
        .filter_map(|panel| Some((panel.region.name.as_str(), flange.comes_home_with(&panel)?)))
        .find(|(panel, _)| carried(part, panel).is_none())
}

/// The regions that come home with one, behind its line; nothing where none does.
pub(super) fn told(part: Part<'_>, region: &str) -> String {
    let regions = part.compared.regions.iter();
    let off = regions.filter(|result| {
        let name = &result.region.name;
        let mut folds = part.found.folds.iter();
        let folded = folds.any(|fold| fold.name == *name && fold.verdict == Verdict::Outside);
        result.verdict == Verdict::Outside || folded
    });
    let (mut names, mut but_for) = (Vec::new(), String::new());
    for result in off {
        let name = &result.region.name;
        if let Some((_, home)) = carried(part, name).filter(|(panel, _)| *panel == region) {
            names.push(name.as_str());
            if home < ALL_HOME {
                but_for.push_str(&format!(
                    ", {name} but for {:.0} % of what was seen of it: look there",
                    100.0 * (1.0 - home)
                ));
            }
        }
    }
    match names.as_slice() {
        [] => String::new(),
        [one] => format!("; {one} comes home with it{but_for}"),
        several => format!("; {} come home with it{but_for}", several.join(" and ")),
    }
}

/// A place of a flange on the reference.
struct Place {
    at: Point,
    normal: Vector,
    /// How far it is off along the normal, and the ± of that, mm.
    off_mm: Option<(f64, f64)>,
}

/// A region that may hang from another.
struct Flange<'a> {
    region: &'a Region,
    places: Vec<Place>,
    /// Whether its fold is read.
    folded: bool,
}

impl Flange<'_> {
    /// The share of what was seen that a panel's move leaves home; `None` where it does not hang from the panel, or its move
    /// leaves it off.
    fn comes_home_with(&self, panel: &Moved<'_>) -> Option<f64> {
        let around = panel.region.bounds.grown(BY_MM);
        let (mut beside, mut slides) = (0usize, 0usize);
        let (mut seen, mut was_home, mut is_home) = (0usize, 0usize, 0usize);
        for place in &self.places {
            let moved = panel.at(&place.at);
            let shows_mm = place.normal.dot(&moved);
            beside += usize::from(around.contains(&place.at));
            slides += usize::from(shows_mm.abs() < SLIDES * moved.norm());
            if let Some((mm, pm_mm)) = place.off_mm {
                let home = |off_mm: f64| decide(off_mm, pm_mm, self.region.limit_mm) != Verdict::Outside;
                seen += 1;
                was_home += usize::from(home(mm));
                is_home += usize::from(home(mm - shows_mm));
            }
        }
        let share = |count: usize, of: usize| count as f64 / of.max(1) as f64;
        let all = self.places.len();
        let hangs = share(beside, all) > 0.5 && (self.folded || share(slides, all) > HANGS);
        let home = share(is_home, seen);
        (hangs && home >= HOME && is_home > was_home).then_some(home)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::compare::Status;
    use ::features::shift::Shift;
    use cloud::Bounds;

    fn region(name: &str, low: [f64; 3], high: [f64; 3]) -> Region {
        Region {
            name: name.to_string(),
            status: Status::Worked,
            bounds: Bounds {
                low: Point::from(low),
                high: Point::from(high),
            },
            limit_mm: 1.6,
            outside: None,
            pads: Vec::new(),
        }
    }

    /// Whether the flange at the right of a floor comes home with it: the floor is 600 × 300 and 3 high, the flange hangs 16 down
    /// from it, begins with a strip of the floor that is a fifth of it, and is off by `off` of the normal.
    fn comes_home(off: impl Fn(&Vector) -> f64) -> bool {
        let strip = (0..40).map(|i| (Point::new(f64::from(i) * 15.0, 298.0, 0.0), Vector::z()));
        let wall = (0..160).map(|i| {
            let at = Point::new(f64::from(i % 40) * 15.0, 300.0, -4.0 * f64::from(1 + i / 40));
            (at, Vector::y())
        });
        let places = strip.chain(wall).map(|(at, normal)| Place {
            at,
            normal,
            off_mm: Some((off(&normal), 0.1)),
        });
        let floor = region("floor", [0.0, 0.0, -5.0], [600.0, 295.0, 5.0]);
        let shift = Shift {
            translation_mm: Vector::z() * 3.0,
            rotation: Vector::zeros(),
            about: Point::new(300.0, 150.0, 0.0),
            unheld: Vec::new(),
            explained: 1.0,
            pm_mm: 0.1,
            pads: Vec::new(),
            spots: Vec::new(),
            shape: None,
            words: "1/8 high, all of it: shim only".to_string(),
        };
        let panel = Moved::by_shift(&floor, &shift);
        let own = region("right flange", [0.0, 296.0, -20.0], [600.0, 305.0, 2.0]);
        let flange = Flange {
            region: &own,
            places: places.collect(),
            folded: false,
        };
        flange.comes_home_with(&panel).is_some()
    }

    #[test]
    fn a_flange_that_its_floor_has_lifted_comes_home_with_it_and_one_that_is_off_by_itself_does_not() {
        assert!(comes_home(|normal| 3.0 * normal.z));
        // It leans out as well; it is home by itself, and would be off with the move.
        assert!(!comes_home(|normal| 3.0 * normal.z + 2.5 * normal.y));
        assert!(!comes_home(|_| 0.0));
    }
}
