//! A point with a name: a datum hole, a pad, a corner that a person touched.

use crate::Point;

/// A named point in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedPoint {
    /// The name that pairs it with its partner in another set.
    pub name: String,
    /// Where it is.
    pub at_mm: Point,
}
