//! Beads (swages) and recesses found without help, read across, and matched between two sets.
//!
//! The metal of a region is laid flat sheet by sheet, the sheet without its relief is drawn under it, what stands off it by
//! more than half of its own depth is gathered ([`relief`]), and each piece is read across by the profile that all of its
//! sections share, square to its middle line where it bends or closes in itself (`curved`). Depth is counted along the
//! sheet's own normal, place and width at half depth.

use cloud::{Frame, Point, Surface, Vector};

mod base;
mod curved;
mod ends;
mod least;
mod matched;
mod moved;
mod outline;
mod profile;
mod radius;
mod recess;
pub mod relief;
mod say;
mod section;
mod sheet;
mod skirt;
mod straight;
#[cfg(test)]
mod tests;

pub use matched::{Pair, matched};

use sheet::Sheet;

/// What a relief is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Longer than three of its widths.
    Bead,
    /// Anything rounder: a recess, a dish.
    Recess,
}

impl Kind {
    /// The word: `bead`, `recess`.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Bead => "bead",
            Kind::Recess => "recess",
        }
    }
}

/// One section across a bead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeadSection {
    /// On the sheet under the bead, half way between the two half-depth lines, mm.
    pub at: Point,
    /// Depth, mm; above 0 where it is raised to the outside.
    pub depth_mm: f64,
    /// Width at half depth, mm.
    pub width_mm: f64,
}

/// A bead or a recess of one set.
#[derive(Debug, Clone, PartialEq)]
pub struct Bead {
    /// Bead or recess.
    pub kind: Kind,
    /// Its middle, on the sheet without it, mm.
    pub at: Point,
    /// Unit vector along it: rearward, or to the right or up where it runs so.
    pub along: Vector,
    /// Unit vector across it, in the sheet; along × across = up.
    pub across: Vector,
    /// Unit normal of the sheet, to the outside.
    pub up: Vector,
    /// From end to end at half depth, along it where it bends, mm; of a ring what its middle line measures across, the mean over
    /// all directions.
    pub length_mm: f64,
    /// Across at half depth, mm.
    pub width_mm: f64,
    /// Depth from the sheet to the floor, or to the crown where there is no flat floor, mm; above 0 where it is raised to
    /// the outside.
    pub depth_mm: f64,
    /// Whether it has a flat floor; a round top has no edges to have a radius.
    pub flat: bool,
    /// Slope of the walls against the sheet, rad; `None` where they can't be told.
    pub wall: Option<f64>,
    /// Radius between sheet and wall, mm; `None` where the points are too coarse or too rough to tell, or the top is round.
    pub outer_radius_mm: Option<f64>,
    /// Radius between wall and floor, mm; `None` likewise.
    pub inner_radius_mm: Option<f64>,
    /// Where it ends at half depth, first the end that `along` comes from, mm; of a ring two places of its middle line that
    /// face each other.
    pub ends: [Point; 2],
    /// Whether it runs out of what is seen there, at the region's edge, under other metal or where nothing was measured:
    /// such an end is no end. A ring has none.
    pub open: [bool; 2],
    /// Whether it runs straight.
    pub straight: bool,
    /// Whether it closes in itself: a ring.
    pub closed: bool,
    /// Its middle line on the sheet where it was followed round bends, from the first end on, about 2 mm apart, mm; of a ring
    /// the first is not repeated. Empty for a bead that is read along one axis, and for a recess.
    pub middle_line: Vec<Point>,
    /// Across it, from the first end on; empty for a round recess.
    pub sections: Vec<BeadSection>,
    /// ± of the depth (half the 95 % band), mm.
    pub pm_depth_mm: f64,
    /// ± of its place across, mm; of one that was followed round bends in the direction that its sections tell worst.
    pub pm_place_mm: f64,
    /// ± of the width, mm.
    pub pm_width_mm: f64,
    /// ± of the place of either end along it, mm; of a ring that of its size.
    pub pm_ends_mm: [f64; 2],
}

impl Bead {
    /// Whether it is a bead that goes on beyond the region's box or what was seen of it: what it measures from end to end is then
    /// no length of its own.
    pub fn runs_on(&self) -> bool {
        self.kind == Kind::Bead && !self.closed && self.open != [false; 2]
    }

    /// The same bead with its direction turned round.
    fn turned_round(mut self) -> Self {
        self.along = -self.along;
        self.across = -self.across;
        self.ends.reverse();
        self.open.reverse();
        self.pm_ends_mm.reverse();
        self.sections.reverse();
        self.middle_line.reverse();
        self
    }
}

/// Finds and reads the beads and recesses among the points `members` of a set, front to back, left to right. What can't be
/// read across (too few points, no level metal beside it, no one middle line) is left out; [`relief::found`] still has its
/// outline.
pub fn read<F: Frame>(surface: &Surface<F>, members: &[u32]) -> Vec<Bead> {
    let mut beads: Vec<Bead> = sheet::laid(surface, members)
        .iter()
        .flat_map(|sheet| {
            let outlines = relief::outlines(sheet);
            let read = |k: usize| {
                outlines[k]
                    .pressed
                    .then(|| read_one(sheet, &outlines, k))
                    .flatten()
            };
            (0..outlines.len()).filter_map(read).collect::<Vec<_>>()
        })
        .collect();
    front_to_back(&mut beads, |b| b.at);
    beads
}

/// Reads the outline number `which` of a sheet; the others are kept out of its sections.
fn read_one(sheet: &Sheet, outlines: &[relief::Outline], which: usize) -> Option<Bead> {
    let outline = &outlines[which];
    let read = match (&outline.followed, outline.kind) {
        (Some(followed), _) => curved::read(sheet, outlines, which, followed),
        (None, Kind::Bead) => straight::read(sheet, outlines, which),
        (None, Kind::Recess) => recess::read(sheet, outlines, which),
    };
    // What is read as far less or more than stands there was read across something else: a ring's middle as a recess, a T as
    // a bead. Of what was read right, at up to 0.6 mm of noise, a depth comes to 0.8 to 1 of the outline's and a width to 0.9
    // to 1.4.
    let alike = |read: f64, outlined: f64| (0.5..2.0).contains(&(read / outlined));
    read.filter(|bead| {
        alike(bead.depth_mm, outline.depth_mm)
            && (bead.kind == Kind::Recess || alike(bead.width_mm, outline.width_mm))
    })
}

/// Things whose middles lie within this of each other fore and aft lie abreast, mm (an inch).
const ABREAST_MM: f64 = 25.4;

/// Sorts front to back; what lies abreast, left to right.
fn front_to_back<T>(things: &mut Vec<T>, at: impl Fn(&T) -> Point) {
    things.sort_by(|a, b| at(a).x.total_cmp(&at(b).x));
    let mut row = Vec::with_capacity(things.len());
    let (mut number, mut from) = (0usize, f64::NEG_INFINITY);
    for thing in things.drain(..) {
        let place = at(&thing);
        if place.x - from > ABREAST_MM {
            number += 1;
            from = place.x;
        }
        row.push((number, thing));
    }
    row.sort_by(|(n, a), (m, b)| {
        let (a, b) = (at(a), at(b));
        n.cmp(m).then(a.y.total_cmp(&b.y)).then(a.z.total_cmp(&b.z))
    });
    things.extend(row.into_iter().map(|(_, thing)| thing));
}
