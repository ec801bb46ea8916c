//! A point with a name: a datum hole, a pad, a corner that a person touched; and what was declared of it.

pub mod spelling;

use crate::Point;

/// A named point in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedPoint {
    /// The name that pairs it with its partner in another set.
    pub name: String,
    /// Where it is.
    pub at_mm: Point,
}

/// A named point with what a person declared of it for a setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Datum {
    /// Its name and its place.
    pub point: NamedPoint,
    /// How well it is known along each axis: half the 95 % band, mm. `None` where nothing was said.
    pub pm_mm: Option<f64>,
    /// Its place in a setting in order: 1 is satisfied first, then 2, then 3. `None` where it has none.
    pub order: Option<u8>,
    /// What it holds in a setting in order: along X (fore and aft), Y (side to side), Z (up and down). `None` where
    /// nothing was said, and its order decides.
    pub holds: Option<[bool; 3]>,
}

impl From<NamedPoint> for Datum {
    /// The point with nothing declared of it.
    fn from(point: NamedPoint) -> Self {
        Self {
            point,
            pm_mm: None,
            order: None,
            holds: None,
        }
    }
}
