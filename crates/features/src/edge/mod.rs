//! Trim edges: where the metal of a sheet ends, found without help, and how short or long it is against the reference.
//!
//! The edges are found on the reference, in points as well as in meshes, and cut into runs of half an inch to an inch. Both
//! sets are read around each run in the same way, so that most of what the spacing does to a reading falls out of the
//! difference; runs of a straight edge are read with their neighbours. Where the reference was not seen its points end too, and that cannot be told from the end of the metal.

mod axes;
mod boundary;
mod compared;
mod corners;
mod end;
mod height;
mod in_mesh;
mod in_points;
mod line;
mod link;
mod name;
mod parts;
mod pieces;
mod place;
#[cfg(test)]
mod plates;
mod sides;
mod smooth;
mod source;
mod straight;
mod stretch;

use cloud::{Point, Vector};

pub(crate) use boundary::Rim;
pub use boundary::find;
pub use compared::{EdgeResult, Run, Seen, compared};
pub use height::height_mm;
pub(crate) use in_mesh::rings;
pub use stretch::Stretch;
pub(crate) use stretch::{HELD_MM, Reading, SURE, alike, short_or_long};

/// A closed edge no wider than this belongs to the hole finder where the metal lies outside of it, mm.
const HOLE_MM: f64 = 130.0;

/// A free edge of a surface, as a line of n places, n at least three.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// The places in order along the edge, mm; a closed edge does not repeat its first.
    pub at: Vec<Point>,
    /// Unit directions in the surface, off the metal, one a place.
    pub outward: Vec<Vector>,
    /// Unit normals of the surface, one a place; on the side that the surface's own have.
    pub normal: Vec<Vector>,
    /// Whether the last place is followed by the first.
    pub closed: bool,
    /// Which places are corners, ascending.
    corners: Vec<usize>,
}

impl Edge {
    /// Its length, mm.
    pub fn length_mm(&self) -> f64 {
        line::Line::new(&self.at, self.closed).length_mm
    }

    /// Whether it is the rim of a hole: closed, within 130 mm across, the metal outside of it.
    fn goes_round_a_hole(&self) -> bool {
        let middle = Point::from(self.at.iter().map(|p| p.coords).sum::<Vector>() / self.at.len() as f64);
        let inward: f64 = self
            .at
            .iter()
            .zip(&self.outward)
            .map(|(p, outward)| (middle - p).dot(outward))
            .sum();
        let small = self.at.iter().all(|p| (p - middle).norm() <= HOLE_MM / 2.0);
        self.closed && small && inward > 0.0
    }
}
