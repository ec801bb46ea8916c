//! A section that slid in its own plane: its metal shows nothing of that, and its holes, beads and recesses all of it.
//!
//! That is one move of the section and not a job for each of them: holes that are cut anew, and beads that are hammered out, in
//! a section that only lies wrong are wrong for good (common practice, no source).

use ::compare::Region;
use ::compare::verdict::{Verdict, decide};
use ::features::edge;
use ::features::shift::{HOME_MM, Shift};
use ::features::words::displacement;
use cloud::statistics::median;
use cloud::unit::MM_PER_INCH;
use cloud::{Point, Vector};

use super::aside::{Aside, Way, in_common};
use super::checks::smallest_with;
use super::moved::moved_alone;
use super::part::Part;
use crate::stages::compare::RegionResult;
use crate::stages::gates::alike::{FEWEST_ALIKE, Seen, Together, agreeing};

/// At least this share of what can tell must lie alike.
const NEARLY_ALL: f64 = 0.75;
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
    /// What lies alike.
    alike: Vec<Thing<'a>>,
    /// What could tell of it and does not.
    others: Vec<Thing<'a>>,
}

/// A hole, a bead or a recess of a region.
struct Thing<'a> {
    kind: &'static str,
    name: &'a str,
    at: Point,
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
    /// How a region slid over and above the move that its metal shows; `None` where neither its holes nor all that it has say so,
    /// or its own walls, swages and edges say otherwise.
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
        let holes: Vec<Own<'a>> = holes.collect();
        let pairs = part.found.beads.iter().map(|bead| &bead.pair);
        let beads = pairs.filter_map(|pair| Aside::of_pair(pair, &shown));
        let beads: Vec<Aside<'a>> = beads.filter(|bead| is_of(part, region, &bead.at)).collect();
        let by_beads = beads
            .iter()
            .flat_map(|bead| bead.ways.iter().map(|way| (bead.at, way)));
        let by_beads: Vec<(Point, Way)> = by_beads.map(|(at, way)| (at, *way)).collect();
        let slide = Self::of_holes(&holes, region.limit_mm)
            .or_else(|| Self::of_all(as_seen(&holes).chain(beads).collect(), region.limit_mm))?;
        let beads = by_beads
            .iter()
            .filter_map(|(at, one)| slide.share(at, &one.way, one.off_mm, one.pm_mm));
        let against = speaks_against(beads.collect())
            || speaks_against(slide.in_metal(part, result, &shown))
            || speaks_against(slide.in_edges(part, &region.name, &shown));
        (!against).then_some(slide)
    }

    /// By its holes, which tell of a turn too.
    fn of_holes(holes: &[Own<'a>], limit_mm: f64) -> Option<Self> {
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
        let agree: Vec<usize> = (0..holes.len()).filter(|&k| agrees(&holes[k])).collect();
        Self::told_by(together, &as_seen(holes).collect::<Vec<_>>(), &agree, limit_mm)
    }

    /// By all that it has.
    fn of_all(things: Vec<Aside<'a>>, limit_mm: f64) -> Option<Self> {
        let (shift, agree) = in_common(&things, limit_mm)?;
        Self::told_by(Together::by(shift), &things, &agree, limit_mm)
    }

    /// By those of some things that `agree`; `None` where too many of the others tell otherwise, or hardly any is out.
    fn told_by(together: Together, things: &[Aside<'a>], agree: &[usize], limit_mm: f64) -> Option<Self> {
        let (mut alike, mut others) = (Vec::new(), Vec::new());
        let (mut out, mut pm_mm) = (0, 0.0);
        for (k, one) in things.iter().enumerate() {
            let thing = Thing {
                kind: one.kind,
                name: one.name,
                at: one.at,
            };
            if agree.contains(&k) {
                out += usize::from(decide(one.off().norm(), one.pm_mm(), limit_mm) == Verdict::Outside);
                pm_mm += one.pm_mm();
                alike.push(thing);
            } else if one.tells(&together.at(&one.at)) {
                others.push(thing);
            }
        }
        let most_are_out = 2 * out > alike.len();
        let nearly_all = alike.len() as f64 >= NEARLY_ALL * (alike.len() + others.len()) as f64;
        (most_are_out && nearly_all).then_some(Self {
            together,
            pm_mm: pm_mm / alike.len() as f64,
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
            // A bead has told by its own reading; its walls are averaged with what lies beside them.
            if part.found.is_at_bead(at, 0.0) {
                return None;
            }
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

    /// Where it lies: `3/16 rearward`; `None` where it turned as well, so that each place lies otherwise.
    pub(super) fn lies(&self) -> Option<String> {
        let shift = self.together.shift;
        let turns = |one: &Thing| (self.at(&one.at) - shift).norm() > HOME_MM;
        (!self.alike.iter().any(turns)).then(|| displacement(&shift, LEAST_MM))
    }

    /// `move it 3/16 forward: 4 of its 4 holes lie 3/16 rearward, all alike`.
    fn words(&self) -> String {
        let counted = self.counted();
        let words = match self.lies() {
            Some(lie) => format!(
                "move it {}: {counted} lie {lie}, all alike",
                back(&self.together.shift)
            ),
            None => {
                let at = |one: &Thing| format!("{} at {}", back(&self.at(&one.at)), one.name);
                let each: Vec<String> = self.alike.iter().map(at).collect();
                format!("move it {}: {counted} lie off by one move", each.join(", "))
            }
        };
        let others: Vec<&str> = self.others.iter().map(|one| one.name).collect();
        match others.as_slice() {
            [] => words,
            others => format!("{words}, and {} not: look there then", others.join(", ")),
        }
    }

    /// `3 of its 3 beads and 1 of its 2 holes`.
    fn counted(&self) -> String {
        let of = |things: &[Thing], kind: &str| things.iter().filter(|one| one.kind == kind).count();
        let kinds = [("bead", "beads"), ("recess", "recesses"), ("hole", "holes")];
        let counted = kinds.iter().filter_map(|(kind, several)| {
            let (alike, others) = (of(&self.alike, kind), of(&self.others, kind));
            match alike + others {
                0 => None,
                1 => Some(format!("{alike} of its 1 {kind}")),
                all => Some(format!("{alike} of its {all} {several}")),
            }
        });
        counted.collect::<Vec<String>>().join(" and ")
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

/// Where a region that slid in its plane lies: `1/8 to the right`; `None` where it did not slide, or turned as well.
pub fn slid_so(part: Part<'_>, region: &str) -> Option<String> {
    let one = moved_alone(part).find(|one| one.region.name == region)?;
    one.slide?.lies()
}

/// Holes as what tells of a shift.
fn as_seen<'a>(holes: &[Own<'a>]) -> impl Iterator<Item = Aside<'a>> {
    holes
        .iter()
        .map(|hole| Aside::of_hole(hole.name, &hole.seen, hole.pm_mm))
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
        Slide::of_holes(&holes.collect::<Vec<_>>(), LIMIT_MM)
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

    /// A straight bead along x, and how far it lies off to the right.
    fn bead(name: &str, y: f64, off_mm: f64) -> Aside<'_> {
        Aside {
            kind: "bead",
            name,
            at: Point::new(0.0, y, 500.0),
            ways: vec![Way {
                way: Vector::y(),
                off_mm,
                pm_mm: 0.05,
            }],
        }
    }

    #[test]
    fn beads_that_lie_off_alike_are_one_move_of_their_section() {
        let three = |off: [f64; 3]| {
            let names = ["bead 1", "bead 2", "bead 3"]
                .into_iter()
                .zip([220.0, 320.0, 420.0]);
            let beads = names.zip(off).map(|((name, y), off)| bead(name, y, off));
            beads.collect::<Vec<Aside>>()
        };
        let slide = Slide::of_all(three([3.15, 3.19, 3.17]), LIMIT_MM).unwrap();
        assert_eq!(
            slide.words(),
            "move it 1/8 to the left: 3 of its 3 beads lie 1/8 to the right, all alike"
        );
        assert_eq!(slide.lies().unwrap(), "1/8 to the right");
        assert!(Slide::of_all(three([3.2, 3.2, 0.0]), LIMIT_MM).is_none());
        // Within the limit nothing is moved.
        assert!(Slide::of_all(three([1.2, 1.2, 1.2]), LIMIT_MM).is_none());
        // Of four, one that lies otherwise is named.
        let mut four = three([3.15, 3.19, 3.17]);
        four.push(bead("bead 4", 520.0, 0.1));
        let words = Slide::of_all(four, LIMIT_MM).unwrap().words();
        assert!(
            words.contains("3 of its 4 beads lie 1/8 to the right, all alike, and bead 4 not"),
            "{words}"
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
