//! Regions that are to be moved: out by what their metal shows of a move, or by their holes and beads alone.

use ::compare::verdict::LEAST_COVERAGE;
use ::compare::{Region, Verdict};
use ::features::shape::Twisted;
use ::features::shift::{Pad, Shift};
use cloud::{Point, Vector};

use super::carried::carried_by;
use super::checks::smallest_with;
use super::pads::is_moved;
use super::part::Part;
use super::slid::Slide;

/// A region that the list says is to be moved.
pub(super) struct Moved<'a> {
    pub region: &'a Region,
    /// Its points of the reference.
    pub members: &'a [u32],
    /// The move that its metal shows, where it is to be moved so.
    pub shift: Option<&'a Shift>,
    /// How it slid besides, which its holes and beads alone show.
    pub slide: Option<Slide<'a>>,
    /// Whether it has no verdict: then nobody is told to move it, and what is off with it waits.
    withheld: bool,
}

/// The regions that are moved and do not come home with another.
pub(super) fn moved(part: Part<'_>) -> impl Iterator<Item = Moved<'_>> {
    moved_alone(part).filter(move |one| carried_by(part, &one.region.name).is_none())
}

/// The regions that are moved, each by itself: not what is folded again, bent back or straightened.
pub(super) fn moved_alone(part: Part<'_>) -> impl Iterator<Item = Moved<'_>> {
    lying_off(part).filter(|one| !one.withheld)
}

/// The regions that read as moved and have no verdict.
pub(super) fn withheld(part: Part<'_>) -> impl Iterator<Item = Moved<'_>> {
    lying_off(part).filter(|one| one.withheld)
}

fn lying_off(part: Part<'_>) -> impl Iterator<Item = Moved<'_>> {
    let Part { compared, found, .. } = part;
    let each = compared.regions.iter().zip(&found.shifts);
    each.filter_map(move |(result, shift)| {
        let region = &result.region;
        let otherwise = found.folds.iter().any(|f| f.name == region.name)
            || found.bent_bar(&region.name)
            || found.leans(&region.name);
        if otherwise {
            return None;
        }
        let withheld = result.verdict == Verdict::NotMeasured;
        let seen = result.figures.coverage >= LEAST_COVERAGE;
        let off = withheld || (seen && result.verdict == Verdict::Outside);
        let shift = shift.as_ref().filter(|shift| off && is_moved(region, shift));
        let slide = if withheld {
            None
        } else {
            Slide::of(part, result, shift)
        };
        (shift.is_some() || slide.is_some()).then_some(Moved {
            region,
            members: &result.members,
            shift,
            slide,
            withheld,
        })
    })
}

impl Moved<'_> {
    /// How the metal at a place has moved with it, mm; a twist that is taken out as well is counted in.
    pub(super) fn at(&self, place: &Point) -> Vector {
        let shift = self.shift.map(|shift| shift.at(place));
        let slide = self.slide.as_ref().map(|slide| slide.at(place));
        let twist = self.twisted().map(|twisted| twisted.moves(place));
        [shift, slide, twist].into_iter().flatten().sum()
    }

    /// Its twist, where it is surely off.
    pub(super) fn twisted(&self) -> Option<&Twisted> {
        self.shift?.shape.as_ref()?.twisted.as_ref()
    }

    /// Whether a place is of its metal.
    pub(super) fn has(&self, place: &Point) -> bool {
        smallest_with(std::slice::from_ref(self.region), &[*place]).is_some()
    }

    /// ± of how a place has moved with it, mm: the nearest pad's where it is wider than the middle's.
    pub(super) fn pm_at(&self, place: &Point) -> f64 {
        let slide_mm = self.slide.as_ref().map_or(0.0, |slide| slide.pm_mm);
        let Some(shift) = self.shift else { return slide_mm };
        let apart = |pad: &&Pad| (pad.at - place).norm();
        let nearest = shift.pads.iter().min_by(|a, b| apart(a).total_cmp(&apart(b)));
        let shift_mm = nearest.map_or(shift.pm_mm, |pad| pad.pm_mm.max(shift.pm_mm));
        shift_mm.hypot(slide_mm)
    }
}

#[cfg(test)]
impl<'a> Moved<'a> {
    /// A region that its metal alone shows moved.
    pub(super) fn by_shift(region: &'a Region, shift: &'a Shift) -> Self {
        Self {
            region,
            members: &[],
            shift: Some(shift),
            slide: None,
            withheld: false,
        }
    }
}
