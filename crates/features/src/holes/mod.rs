//! Holes, round ones and slots: found in both sets without help, measured with their ±, and matched.
//!
//! A hole is a void in a sheet whose rim is seen all round and lies on a circle or on a slot (two half circles and what is
//! between them), with the sheet as dense and as smooth around it as elsewhere and nothing in it. What is open otherwise is
//! a place that was not seen, and nothing is said of it. Square and odd holes are not reported.
//!
//! *What is found.* Holes under about 5½ spacings across are not found ([`FOUND_FROM`]), under 7 not surely
//! ([`SURELY_FOUND`]). A square hole is told from a round one from about 8 spacings on, a slot where it is at least a
//! spacing and a half longer than wide; below, both read as round. The largest is 120 mm over all.
//!
//! *In a mesh* a hole is read from the ring of open sides that goes round it, of any width, where the ring is drawn; from its
//! points only where no ring is, and no face covers the place.
//!
//! *What may be invented.* A place in the scanner's shadow that is round to within half a spacing all round, in a smooth
//! sheet, cannot be told from a hole: of the six hundred voids of the full Stanford dragon one in a hundred passes, of the
//! five range scans of the Stanford bunny none; of the bunny's mesh the two holes in its base are found and no other.
//!
//! *What may be passed over.* A hole in front of a second sheet that lies nearer behind it than three spacings or a quarter
//! of its width is taken for filled. One whose rim runs over a bead or a fold lies in no plane and is not read.

mod bolt;
mod clear;
mod find;
mod in_mesh;
mod judge;
mod lie;
mod matched;
mod outline;
mod pair;
mod rim;
mod round;
mod sheet;
mod size;
mod slot;
mod void;

use cloud::unit::fraction_of_inch;
use cloud::{Point, Vector};

pub use bolt::Bolt;
pub use clear::Clear;
pub use find::find;
pub use lie::{Lie, Tip};
pub use matched::matched;
pub use pair::{Missing, Offset, Pair};
pub use rim::Lip;
pub use round::{RoundRim, round_rim};

/// Holes narrower than this many spacings are not found.
pub const FOUND_FROM: f64 = 5.5;
/// Holes narrower than this many spacings may be found in one set and not in the other, though both have them.
pub const SURELY_FOUND: f64 = 7.0;

/// The narrowest hole that is found where points lie so far apart, mm.
pub fn found_from_mm(spacing_mm: f64) -> f64 {
    FOUND_FROM * spacing_mm
}

/// The narrowest hole that is surely found where points lie so far apart, mm.
pub fn surely_found_from_mm(spacing_mm: f64) -> f64 {
    SURELY_FOUND * spacing_mm
}

/// Largest half length that is looked for, mm.
const LARGEST_MM: f64 = 60.0;

/// A hole of one set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hole {
    /// The middle of its rim, mm.
    pub at: Point,
    /// Unit axis, square to the sheet there, to the outside.
    pub axis: Vector,
    /// ± of the axis in the direction that is known worst, rad.
    pub axis_pm: f64,
    /// Diameter, mm; of a slot its width.
    pub diameter_mm: f64,
    /// Its length, where it is a slot.
    pub slot: Option<Slot>,
    /// Whether its edge turns out of the sheet.
    pub lip: Lip,
    /// ± of its place in any one direction across the axis, mm.
    pub place_pm_mm: f64,
    /// ± of its place along the axis, mm.
    pub normal_pm_mm: f64,
    /// ± of its diameter or width, mm.
    pub size_pm_mm: f64,
}

/// What a slot has besides a round hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slot {
    /// Length over all, mm.
    pub length_mm: f64,
    /// Unit direction of its length, across the axis; which of the two ways does not matter.
    pub along: Vector,
    /// ± of the length, mm.
    pub length_pm_mm: f64,
}

impl Hole {
    /// `round` or `slot`.
    pub fn kind(&self) -> &'static str {
        if self.slot.is_some() { "slot" } else { "round" }
    }

    /// Its size in inches, as written on a drawing: `3/8`, of a slot `1/2 × 1`.
    pub fn size(&self) -> String {
        let width = fraction_of_inch(self.diameter_mm, 32);
        match &self.slot {
            Some(slot) => format!("{width} × {}", fraction_of_inch(slot.length_mm, 32)),
            None => width,
        }
    }

    /// What it is called: `3/8 hole`, `slot 1/2 × 1`.
    pub fn called(&self) -> String {
        match self.slot {
            Some(_) => format!("slot {}", self.size()),
            None => format!("{} hole", self.size()),
        }
    }
}

/// Plates with holes, and chance, for the tests of this folder.
#[cfg(test)]
mod plates {
    use cloud::{Cloud, Frame, Point, Surface, Vector};
    use nalgebra::Vector2;

    use super::{Hole, Lip, Slot};
    use crate::made::uniform;

    /// A sheet over 100 × 80 mm at 1 mm spacing, points at random with 0.06 mm of noise up and down, where `metal` says
    /// that there is some, at the height that `height` gives.
    pub fn plate<F: Frame>(
        seed: u64,
        metal: impl Fn(f64, f64) -> bool,
        height: impl Fn(f64, f64) -> f64,
    ) -> Surface<F> {
        let points: Vec<Point> = (0..8000u64)
            .map(|i| {
                let k = 8 * (i + seed * 20_000);
                let (x, y) = (100.0 * uniform(k), 80.0 * uniform(k + 1));
                Point::new(x, y, height(x, y) + 0.2 * (uniform(k + 2) - 0.5))
            })
            .filter(|p| metal(p.x, p.y))
            .collect();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(vec![Vector::z(); cloud.points_mm.len()]);
        Surface::new(cloud, None).unwrap().0
    }

    /// Places of a plate in its plane, at random, where `metal` says that there is some.
    pub fn places(metal: impl Fn(f64, f64) -> bool, seed: u64) -> Vec<Vector2<f64>> {
        (0..8000u64)
            .map(|i| {
                let k = 2 * (i + seed * 10_000);
                Vector2::new(100.0 * uniform(k), 80.0 * uniform(k + 1))
            })
            .filter(|p| metal(p.x, p.y))
            .collect()
    }

    /// How far outside of a slot over all `length` × `width` about the middle of the plate, leaning by half a radian.
    pub fn off_slot(x: f64, y: f64, length: f64, width: f64) -> f64 {
        let (sin, cos) = 0.5f64.sin_cos();
        let (dx, dy) = (x - 50.0, y - 40.0);
        let along = (dx * cos + dy * sin).abs() - (length - width) / 2.0;
        along.max(0.0).hypot(dy * cos - dx * sin) - width / 2.0
    }

    /// A hole as if it had been found.
    pub fn hole(at: Point, diameter_mm: f64, length_mm: Option<f64>) -> Hole {
        Hole {
            at,
            axis: Vector::z(),
            axis_pm: 0.01,
            diameter_mm,
            slot: length_mm.map(|length_mm| Slot {
                length_mm,
                along: Vector::x(),
                length_pm_mm: 0.1,
            }),
            lip: Lip::CantTell,
            place_pm_mm: 0.1,
            normal_pm_mm: 0.1,
            size_pm_mm: 0.1,
        }
    }
}
