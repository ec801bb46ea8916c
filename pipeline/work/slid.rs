//! A section that slid in its own plane: its metal shows nothing of that, and its holes all of it.
//!
//! That is one move of the section and not a job for each hole: holes that are cut anew in a section that only lies wrong are
//! wrong for good (common practice, no source).

use ::compare::Region;
use ::compare::verdict::{Verdict, decide};
use ::features::edge;
use ::features::shift::{HOME_MM, Shift};
use ::features::words::displacement;
use cloud::statistics::median;
use cloud::unit::MM_PER_INCH;
use cloud::{Point, Vector};

use super::checks::smallest_with;
use super::moved::moved_alone;
use super::part::Part;
use crate::stages::compare::RegionResult;
use crate::stages::gates::alike::{FEWEST_ALIKE, Seen, Together, agreeing};

/// At least this share of the holes that can tell must lie alike.
const NEARLY_ALL: f64 = 0.75;
/// A hole tells of a slide of which at least this share runs along its sheet.
const ALONG_SHEET: f64 = 0.5;
/// A slide shows in metal that faces, or ends, along more than this share of it.
const SHOWS: f64 = 0.25;
/// Metal that shows less than this share of it has not slid.
const HAS_SLID: f64 = 0.5;
/// Less of a region than this share is no wall and no swage, and fewer runs are no edge.
const LEAST_METAL: f64 = 0.02;
const FEWEST_RUNS: usize = 3;
/// About so many places of a region are looked at.
const LOOKED_AT: usize = 500;
/// Less than this is not told, mm (a 64th).
const LEAST_MM: f64 = MM_PER_INCH / 64.0;

/// How a region slid.
pub(super) struct Slide<'a> {
    together: Together,
    /// ± of that, mm: a hole's own in the mean, since the setting's share in it is all the holes'.
    pub pm_mm: f64,
    /// The holes that lie alike.
    alike: Vec<Own<'a>>,
    /// Those that could tell of it and do not.
    others: Vec<&'a str>,
}

/// A hole of a region.
struct Own<'a> {
    name: &'a str,
    /// Over and above what the region's metal shows of a move.
    seen: Seen,
    /// ± of where it lies, the setting's share in it, mm.
    pm_mm: f64,
}

impl<'a> Slide<'a> {
    /// How a region slid over and above the move that its metal shows; `None` where its holes don't say so, or its own walls,
    /// swages and edges say otherwise.
    pub(super) fn of(part: Part<'a>, result: &RegionResult, shown: Option<&Shift>) -> Option<Self> {
        let region = &result.region;
        let shown = |at: &Point| shown.map_or_else(Vector::zeros, |shift| shift.at(at));
        let pairs = part.found.holes.iter().map(|hole| &hole.pair);
        let holes = pairs.filter_map(|pair| {
            let mut seen = Seen::of(pair)?;
            if !is_of(part, region, &seen.at) {
                return None;
            }
            seen.across -= seen.along_sheet(&shown(&seen.at));
            seen.there = seen.at + seen.across;
            Some(Own {
                name: &pair.name,
                seen,
                pm_mm: pair.pm_mm,
            })
        });
        let slide = Self::of_holes(holes.collect(), region.limit_mm)?;
        let metal = slide.in_metal(part, result, &shown);
        let edges = slide.in_edges(part, &region.name, &shown);
        (!speaks_against(metal) && !speaks_against(edges)).then_some(slide)
    }

    fn of_holes(holes: Vec<Own<'a>>, limit_mm: f64) -> Option<Self> {
        let off = holes.iter().filter(|hole| hole.seen.across.norm() > hole.pm_mm);
        let group = agreeing(off.map(|hole| &hole.seen).collect(), limit_mm);
        if group.len() < FEWEST_ALIKE {
            return None;
        }
        // A turn that they can be explained without is most likely the scatter of their readings.
        let shifted = Together::shifted(&group);
        let level = group
            .iter()
            .all(|hole| hole.apart_mm(&shifted) <= hole.room_mm(limit_mm));
        let together = if level { shifted } else { Together::moved(&group) };
        let agrees = |hole: &Own| group.iter().any(|seen| std::ptr::eq(*seen, &hole.seen));
        let agreed: Vec<bool> = holes.iter().map(agrees).collect();
        let (mut alike, mut others) = (Vec::new(), Vec::new());
        for (hole, agrees) in holes.into_iter().zip(agreed) {
            let slid = together.at(&hole.seen.at);
            if agrees {
                alike.push(hole);
            } else if hole.seen.along_sheet(&slid).norm() >= ALONG_SHEET * slid.norm() {
                others.push(hole.name);
            }
        }
        let out = alike
            .iter()
            .filter(|hole| decide(hole.seen.across.norm(), hole.pm_mm, limit_mm) == Verdict::Outside);
        let most_are_out = 2 * out.count() > alike.len();
        let nearly_all = alike.len() as f64 >= NEARLY_ALL * (alike.len() + others.len()) as f64;
        let pm_mm = alike.iter().map(|hole| hole.pm_mm).sum::<f64>() / alike.len() as f64;
        (most_are_out && nearly_all).then_some(Self {
            together,
            pm_mm,
            alike,
            others,
        })
    }

    /// How the metal at a place has slid, mm.
    pub(super) fn at(&self, place: &Point) -> Vector {
        self.together.at(place)
    }

    /// The share of the slide that metal shows which is read along `way` and is off by `mm`; `None` where it can't show it.
    fn share(&self, at: &Point, way: &Vector, mm: f64, pm_mm: f64) -> Option<f64> {
        let slid = self.at(at);
        let along_mm = way.dot(&slid);
        let shows = along_mm.abs() > SHOWS * slid.norm() && along_mm.abs() > 2.0 * pm_mm;
        shows.then(|| mm / along_mm)
    }

    /// The shares that the faces of a region's metal show; none where too few of them can.
    fn in_metal(&self, part: Part<'_>, result: &RegionResult, shown: &dyn Fn(&Point) -> Vector) -> Vec<f64> {
        let step = result.members.len().div_ceil(LOOKED_AT).max(1);
        let looked_at: Vec<usize> = result.members.iter().step_by(step).map(|&i| i as usize).collect();
        let share = |&i: &usize| {
            let (mm, pm_mm) = part.compared.smoothed[i]?;
            let (at, normal) = (&part.reference.points()[i], &part.reference.normals()[i]);
            self.share(at, normal, mm - normal.dot(&shown(at)), pm_mm)
        };
        let shares: Vec<f64> = looked_at.iter().filter_map(share).collect();
        match shares.len() as f64 >= LEAST_METAL * looked_at.len() as f64 {
            true => shares,
            false => Vec::new(),
        }
    }

    /// The shares that the trim edges of a region show; none where too few runs can.
    fn in_edges(&self, part: Part<'_>, region: &str, shown: &dyn Fn(&Point) -> Vector) -> Vec<f64> {
        let edges = part.found.edges.iter();
        let own = edges.filter(|edge| edge.region.as_deref() == Some(region));
        let share = |run: &edge::Run| match run.seen {
            edge::Seen::Short { mm, pm_mm } => {
                let longer_mm = -mm - run.outward.dot(&shown(&run.middle));
                self.share(&run.middle, &run.outward, longer_mm, pm_mm)
            }
            edge::Seen::NotSeen => None,
        };
        let shares: Vec<f64> = own.flat_map(|edge| &edge.runs).filter_map(share).collect();
        match shares.len() >= FEWEST_RUNS {
            true => shares,
            false => Vec::new(),
        }
    }

    /// `move it 3/16 forward: 4 of its 4 holes lie 3/16 rearward, all alike`.
    fn words(&self) -> String {
        let shift = self.together.shift;
        let turns = |hole: &Own| (self.at(&hole.seen.at) - shift).norm() > HOME_MM;
        let count = self.alike.len();
        let of = count + self.others.len();
        let words = if self.alike.iter().any(turns) {
            let each = self
                .alike
                .iter()
                .map(|hole| format!("{} at {}", back(&self.at(&hole.seen.at)), hole.name));
            let each: Vec<String> = each.collect();
            format!(
                "move it {}: {count} of its {of} holes lie off by one move",
                each.join(", ")
            )
        } else {
            let lie = displacement(&shift, LEAST_MM);
            format!(
                "move it {}: {count} of its {of} holes lie {lie}, all alike",
                back(&shift)
            )
        };
        match self.others.as_slice() {
            [] => words,
            others => format!("{words}, and {} not: look there then", others.join(", ")),
        }
    }
}

/// The way home of what has moved so: `3/16 forward`, `1/8 up`.
fn back(moved: &Vector) -> String {
    displacement(&-moved, LEAST_MM)
        .replace(" high", " up")
        .replace(" low", " down")
}

/// How a region is moved in its own plane, in words; `None` where it did not slide.
pub(super) fn told(part: Part<'_>, region: &str) -> Option<String> {
    let one = moved_alone(part).find(|one| one.region.name == region)?;
    one.slide.map(|slide| slide.words())
}

/// Whether a place is of a region and of none that is smaller.
fn is_of(part: Part<'_>, region: &Region, at: &Point) -> bool {
    let has = |region: &Region| smallest_with(std::slice::from_ref(region), &[*at]).is_some();
    let size = |region: &Region| region.bounds.size().product();
    let mut all = part.compared.regions.iter().map(|other| &other.region);
    has(region) && all.all(|other| size(other) >= size(region) || !has(other))
}

/// Whether what shows a slide has, for the most part, not slid.
fn speaks_against(mut shares: Vec<f64>) -> bool {
    !shares.is_empty() && median(&mut shares) < HAS_SLID
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMIT_MM: f64 = 1.6;
    const NAMES: [&str; 5] = ["hole 1", "hole 2", "hole 3", "hole 4", "hole 5"];
    const PLACES: [[f64; 2]; 5] = [
        [0.0, 0.0],
        [200.0, 0.0],
        [0.0, 150.0],
        [200.0, 150.0],
        [90.0, 80.0],
    ];

    /// Holes of a level section that are off so.
    fn slide(off: &[[f64; 2]]) -> Option<Slide<'static>> {
        let holes = NAMES.iter().zip(PLACES).zip(off);
        let holes = holes.map(|((name, [x, y]), off)| {
            let (at, across) = (Point::new(x, y, 500.0), Vector::new(off[0], off[1], 0.0));
            Own {
                name,
                seen: Seen {
                    at,
                    axis: Vector::z(),
                    there: at + across,
                    across,
                    pm_mm: 0.3,
                },
                pm_mm: 0.4,
            }
        });
        Slide::of_holes(holes.collect(), LIMIT_MM)
    }

    #[test]
    fn holes_that_lie_off_alike_are_one_move_of_their_section() {
        let all = slide(&[[4.8, 0.1], [4.7, 0.0], [4.9, -0.1], [4.7, 0.2]]).unwrap();
        assert_eq!(
            all.words(),
            "move it 3/16 forward: 4 of its 4 holes lie 3/16 rearward, all alike"
        );
        assert!((all.at(&Point::new(900.0, 0.0, 500.0)).x - 4.75).abs() < 0.1);
        // One that is off by itself stays so.
        let most = slide(&[[4.8, 0.0], [4.7, 0.0], [0.0, 0.0], [4.8, 0.1], [4.7, 0.0]]).unwrap();
        assert_eq!(
            most.words(),
            "move it 3/16 forward: 4 of its 5 holes lie 3/16 rearward, all alike, and hole 3 not: look there then"
        );
    }

    #[test]
    fn holes_that_are_off_by_themselves_are_no_slide() {
        assert!(slide(&[[4.8, 0.0], [0.0, 4.8], [-4.8, 0.0], [0.0, -9.0]]).is_none());
        assert!(slide(&[[4.8, 0.0], [4.8, 0.0]]).is_none());
        assert!(slide(&[[4.8, 0.0], [4.8, 0.0], [4.8, 0.0], [0.0, 0.0], [0.0, 0.0]]).is_none());
        // Within the limit nothing is moved.
        assert!(slide(&[[1.2, 0.0], [1.2, 0.0], [1.2, 0.0]]).is_none());
    }

    /// Turned by 2° about its middle: each hole goes its own way, and all by one move.
    #[test]
    fn a_section_that_turned_in_its_plane_says_so_at_each_hole() {
        let turn = 2.0_f64.to_radians();
        let off = PLACES.map(|[x, y]| [4.8 - turn * (y - 75.0), turn * (x - 100.0)]);
        let turned = slide(&off[..4]).unwrap();
        let words = turned.words();
        assert!(words.contains(" at hole 1, "), "{words}");
        assert!(words.ends_with("4 of its 4 holes lie off by one move"), "{words}");
        let slid = turned.at(&Point::new(100.0, 75.0, 500.0));
        assert!((slid.x - 4.8).abs() < 0.1 && slid.y.abs() < 0.1, "{slid}");
    }

    #[test]
    fn a_wall_or_an_edge_that_is_home_speaks_against_a_slide() {
        let all = slide(&[[4.8, 0.0]; 4]).unwrap();
        let at = Point::new(0.0, 75.0, 500.0);
        let shares = |mm: f64| vec![all.share(&at, &Vector::x(), mm, 0.2).unwrap(); 5];
        assert!(speaks_against(shares(0.3)) && !speaks_against(shares(4.5)));
        // The sheet itself and what is not known well enough say nothing.
        assert_eq!(all.share(&at, &Vector::z(), 0.0, 0.2), None);
        assert_eq!(all.share(&at, &Vector::x(), 0.0, 3.0), None);
        assert!(!speaks_against(Vec::new()));
    }
}
