//! Holes that lie off alike: those that one rigid motion takes to where they lie, each along its sheet.

use ::features::holes::Pair;
use ::register::fit::rigid;
use cloud::statistics::median;
use cloud::{Body, Motion, Point, Vector};

/// Fewer that lie off alike may be so by chance.
pub const FEWEST_ALIKE: usize = 3;

/// A hole of both sets.
pub struct Seen {
    /// Where the reference has it, mm.
    pub at: Point,
    /// Its axis there.
    pub axis: Vector,
    /// Where the measured set has it.
    pub there: Point,
    /// How far that is off along its sheet, mm.
    pub across: Vector,
    /// ± of its reading, the setting's share not in it, mm.
    pub pm_mm: f64,
}

impl Seen {
    /// Of a hole that both sets have.
    pub fn of(pair: &Pair) -> Option<Self> {
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
    pub fn along_sheet(&self, vector: &Vector) -> Vector {
        vector - self.axis * vector.dot(&self.axis)
    }

    /// How far it may be from where the others have it and still lie alike, mm: its ±, and the scatter of holes that are all
    /// as they should be.
    pub fn room_mm(&self, limit_mm: f64) -> f64 {
        self.pm_mm.hypot(limit_mm / 4.0)
    }

    /// How far it lies, along its sheet, from where a move puts it, mm.
    pub fn apart_mm(&self, moved: &Together) -> f64 {
        self.along_sheet(&(self.there - self.at - moved.at(&self.at)))
            .norm()
    }
}

/// How holes have moved together.
pub struct Together {
    /// `None` where they have only shifted, or lie on one line, where nothing holds the turn about it.
    motion: Option<Motion<Body, Body>>,
    /// How far they are off along their sheets, mm.
    pub shift: Vector,
}

impl Together {
    /// The shift of holes, without a turn.
    pub fn shifted(holes: &[&Seen]) -> Self {
        Self {
            motion: None,
            shift: middle(holes),
        }
    }

    /// A shift that is known.
    pub fn by(shift: Vector) -> Self {
        Self { motion: None, shift }
    }

    /// The rigid motion of holes.
    pub fn moved(holes: &[&Seen]) -> Self {
        let from: Vec<Point> = holes.iter().map(|hole| hole.at).collect();
        let to: Vec<Point> = holes.iter().map(|hole| hole.there).collect();
        Self {
            motion: rigid::<Body, Body>(&from, &to, None).ok().map(|fit| fit.motion),
            shift: middle(holes),
        }
    }

    /// How a place has moved with them, mm.
    pub fn at(&self, place: &Point) -> Vector {
        match &self.motion {
            Some(motion) => motion.apply(place) - place,
            None => self.shift,
        }
    }
}

/// Those of the holes that one rigid motion takes to where they lie, each along its sheet: the worst is left out until all of
/// them agree. Empty where too few do.
pub fn agreeing(mut holes: Vec<&Seen>, limit_mm: f64) -> Vec<&Seen> {
    while holes.len() >= FEWEST_ALIKE {
        let together = Together::moved(&holes);
        let shares = holes
            .iter()
            .map(|hole| hole.apart_mm(&together) / hole.room_mm(limit_mm));
        match shares.enumerate().max_by(|a, b| a.1.total_cmp(&b.1)) {
            Some((worst, share)) if share > 1.0 => holes.remove(worst),
            _ => return holes,
        };
    }
    Vec::new()
}

/// How far the holes are off along their sheets, taken together, mm.
pub fn middle(holes: &[&Seen]) -> Vector {
    let of = |axis: usize| median(&mut holes.iter().map(|hole| hole.across[axis]).collect::<Vec<f64>>());
    Vector::new(of(0), of(1), of(2))
}
