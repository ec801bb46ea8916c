//! Edges, holes and faces of a bar that is bent: it is straightened, and what its bend carries comes home with it.

use ::compare::Region;
use ::features::bar::Bar;
use ::features::edge::{EdgeResult, Stretch};
use ::features::holes::Pair;
use ::features::shift::{Shift, Spot};
use cloud::{Point, Vector};

use super::brought::{BY_MM, Then};
use super::checks::smallest_with;
use super::part::Part;

/// An edge that faces along its bar by more than this (the cosine) is an end of it, which no straightening moves.
const ALONG: f64 = 0.7;

/// What comes of a stretch of an edge that is out when the bar that it is of is straightened, and the region of the bar; `None`
/// where it is of no bent bar, or at an end of one.
pub(super) fn after_straightening<'a>(
    part: Part<'a>,
    edge: &EdgeResult,
    stretch: &Stretch,
) -> Option<(Then, &'a str)> {
    let name = edge.region.as_ref()?;
    let check = part.found.bent_by(name)?;
    let mut regions = part.compared.regions.iter().zip(&part.found.shifts);
    let (result, shift) = regions.find(|(result, _)| result.region.name == *name)?;
    let bows = check
        .details
        .iter()
        .filter(|detail| detail.what.starts_with("bow "));
    let bow = bows.max_by(|a, b| a.value.abs().total_cmp(&b.value.abs()))?;
    let bent = Bent {
        along: result.region.bounds.size().imax(),
        shift: shift.as_ref(),
        bow_mm: bow.value.abs(),
        pm_mm: bow.pm.unwrap_or(0.0),
    };
    Some((bent.does_to(edge, stretch)?, result.region.name.as_str()))
}

/// A hole of both sets as it lies once the bar that it is of is straightened, and the region of that; `None` where it is of no bent
/// bar, or lies no nearer its place then.
pub(super) fn hole_straightened<'a>(part: Part<'a>, pair: &Pair) -> Option<(&'a str, Pair)> {
    let (region, bar) = bent_with(part, &pair.reference.as_ref()?.at)?;
    Some((region.name.as_str(), without_bend(bar, pair)?))
}

/// A hole of both sets as it lies once its bar is straight, where it is nearer its place then.
fn without_bend(bar: &Bar, pair: &Pair) -> Option<Pair> {
    let moved = bar.moved(&pair.reference.as_ref()?.at);
    let off = pair.offset()?.whole;
    let mut straight = pair.clone();
    straight.measured.as_mut()?.at -= moved;
    ((off - moved).norm() < off.norm()).then_some(straight)
}

/// Whether a region is a face of a bar that is bent, and not all of it: how it is bowed and twisted is told of the bar.
pub(super) fn is_of_bent_bar(part: Part<'_>, face: &Region) -> bool {
    let bounds = &face.bounds;
    let mut bars = part.compared.regions.iter().map(|result| &result.region);
    bars.any(|bar| {
        let around = bar.bounds.grown(BY_MM);
        let holds = around.contains(&bounds.low) && around.contains(&bounds.high);
        bar.name != face.name && holds && part.found.bent_bar(&bar.name)
    })
}

/// Whether a spot that a region's `shift` leaves is what the bend of its bar carries: for the better half, and to within the limit.
pub(super) fn explains(part: Part<'_>, spot: &Spot, shift: &Shift) -> bool {
    let Some((region, bar)) = bent_with(part, &spot.at) else {
        return false;
    };
    let Some(nearest) = part.reference.near.nearest(&spot.at) else {
        return false;
    };
    let normal = part.reference.normals()[nearest.index as usize];
    let carried = bar.moved(&spot.at) - shift.at(&spot.at);
    let left_mm = (spot.mm - normal.dot(&carried)).abs();
    left_mm <= region.limit_mm && left_mm < spot.mm.abs() / 2.0
}

/// The bent bar that has a place in it, and its region.
fn bent_with<'a>(part: Part<'a>, place: &Point) -> Option<(&'a Region, &'a Bar)> {
    let Part { compared, found, .. } = part;
    compared.regions.iter().find_map(|result| {
        let region = smallest_with(std::slice::from_ref(&result.region), &[*place])?;
        Some((region, found.bent_by(&region.name)?.bar.as_ref()?))
    })
}

/// A bar that is bent.
struct Bent<'a> {
    /// The axis along which it lies.
    along: usize,
    /// How it has moved as a whole.
    shift: Option<&'a Shift>,
    /// How far it is bowed, and the ± of that, mm.
    bow_mm: f64,
    pm_mm: f64,
}

impl Bent<'_> {
    /// What is off by no more than the move and the bow comes home.
    fn does_to(&self, edge: &EdgeResult, stretch: &Stretch) -> Option<Then> {
        let runs = || stretch.runs.iter().filter_map(move |&k| edge.runs.get(k));
        let outward = runs()
            .map(|run| run.outward)
            .sum::<Vector>()
            .try_normalize(1e-9)?;
        if outward[self.along].abs() > ALONG {
            return None;
        }
        // Metal that has moved the way in which it ends reads as long.
        let longer_mm = self.shift.map_or(0.0, |shift| {
            let each = runs().map(|run| shift.at(&run.middle).dot(&run.outward));
            each.sum::<f64>() / runs().count() as f64
        });
        let left_mm = stretch.short_mm + longer_mm;
        let bent = left_mm.abs() <= self.bow_mm + stretch.pm_mm.hypot(self.pm_mm);
        Some(if bent { Then::Home } else { Then::Moves })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;
    use ::compare::{Deviations, State, Verdict};
    use ::features::bar::bar;
    use ::features::edge::{Run, Seen};
    use cloud::{Body, Cloud, Surface};

    /// A stretch of an edge of a bar that lies across, facing as `outward` says.
    fn edge(outward: Vector, short_mm: f64) -> (EdgeResult, Stretch) {
        let at = |y: f64| Point::new(0.0, y, -16.0);
        let run = Run {
            from: at(200.0),
            to: at(225.0),
            middle: at(212.5),
            outward,
            normal: Vector::x(),
            seen: Seen::NotSeen,
        };
        let stretch = Stretch {
            runs: vec![0],
            from: at(200.0),
            to: at(225.0),
            length_mm: 25.0,
            short_mm,
            pm_mm: 0.2,
            height_mm: None,
            verdict: Verdict::Outside,
            words: "3/32 short over 1".to_string(),
        };
        let edge = made::edge("bottom edge", Some("bar"), vec![run], vec![stretch.clone()]);
        (edge, stretch)
    }

    #[test]
    fn the_edges_of_a_bowed_bar_come_home_when_it_is_straightened() {
        let shift = Shift {
            translation_mm: Vector::z() * 2.0,
            rotation: Vector::zeros(),
            about: Point::origin(),
            unheld: Vec::new(),
            explained: 0.8,
            pm_mm: 0.1,
            pads: Vec::new(),
            spots: Vec::new(),
            shape: None,
            words: String::new(),
        };
        let bar = Bent {
            along: 1,
            shift: Some(&shift),
            bow_mm: 3.0,
            pm_mm: 0.1,
        };
        let does = |outward: Vector, short_mm: f64| {
            let (edge, stretch) = edge(outward, short_mm);
            bar.does_to(&edge, &stretch)
        };
        // Bowed up by 3, in the mean by 2: its lower edge reads short by up to as much, its upper one long.
        assert_eq!(does(-Vector::z(), 2.4), Some(Then::Home));
        assert_eq!(does(-Vector::z(), 3.0), Some(Then::Home));
        assert_eq!(does(Vector::z(), -2.4), Some(Then::Home));
        // Cut short as well, by more than the bow tells.
        assert_eq!(does(-Vector::z(), 9.0), Some(Then::Moves));
        // Its end is where it was.
        assert_eq!(does(Vector::y(), 2.4), None);
    }

    /// The top and a side of a bar of 1200 along X, bowed up by 4 in the middle.
    fn bowed() -> Bar {
        let along = |k: u32| 5.0 + 10.0 * f64::from(k);
        let top = (0..120 * 8).map(|k| {
            (
                Point::new(along(k / 8), 10.0 * f64::from(k % 8), 120.0),
                Vector::z(),
            )
        });
        let side = (0..120 * 8).map(|k| {
            (
                Point::new(along(k / 8), 80.0, 15.0 * f64::from(k % 8)),
                Vector::y(),
            )
        });
        let (points, normals): (Vec<Point>, Vec<Vector>) = top.chain(side).unzip();
        let mut cloud: Cloud<Body> = Cloud::from_points(points);
        cloud.normals = Some(normals);
        let surface = Surface::new(cloud, None).unwrap().0;
        let carried = |at: &Point| Vector::z() * (4.0 * (1.0 - (at.x / 600.0 - 1.0).powi(2)));
        let each = surface.points().iter().zip(surface.normals());
        let states = each.map(|(at, normal)| State::Distance {
            mm: carried(at).dot(normal),
            pm_mm: 0.05,
        });
        let deviations = Deviations {
            states: states.collect(),
            disc_mm: 10.0,
        };
        let members: Vec<u32> = (0..surface.points().len() as u32).collect();
        bar("sill", &members, &surface, &deviations, &|_, _| 0.0).unwrap()
    }

    #[test]
    fn a_hole_that_the_bow_carried_up_keeps_only_what_is_its_own() {
        let bar = bowed();
        let left = |off: [f64; 3]| {
            let (mut ours, mut theirs) = (made::hole(600.0, 12.7), made::hole(600.0, 12.7));
            (ours.at.z, theirs.at.z) = (120.0, 120.0);
            theirs.at += Vector::from(off);
            without_bend(&bar, &made::pair(Some(ours), Some(theirs)))
        };
        let carried = left([0.0, 0.0, 3.9]).unwrap().offset().unwrap().whole;
        assert!(carried.norm() < 0.3, "{carried}");
        let moved = left([6.35, 0.0, 4.1]).unwrap();
        let off = moved.offset().unwrap();
        assert!(
            (off.whole.x - 6.35).abs() < 1e-9 && off.along_mm.abs() < 0.3,
            "{off:?}"
        );
        assert!(moved.words().ends_with("1/4 rearward"), "{}", moved.words());
        // Down, against the bow: that is something else.
        assert_eq!(left([0.0, 0.0, -3.0]), None);
    }
}
