//! The two frames that a point can be in, as types, so that mixing them does not compile.

use crate::Vector;

/// A frame that points are given in.
pub trait Frame: Copy + Send + Sync + 'static {}

/// The frame that a measured set came in: the scanner's or the probe arm's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scan;

/// The frame of the reference: the body's own (X rearward, Y right as seated, Z up from the table top).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Body;

/// What lies off along X, Y and Z of the body is called: against the axis, and along it.
pub const WAYS: [(&str, &str); 3] = [
    ("forward", "rearward"),
    ("to the left", "to the right"),
    ("low", "high"),
];
/// What a way along X, Y and Z of the body is called: against the axis, and along it.
pub const TOWARD: [[&str; 2]; 3] = [
    ["forward", "rearward"],
    ["to the left", "to the right"],
    ["down", "up"],
];
/// The same of what faces or counts so.
pub const FACING: [[&str; 2]; 3] = [["forward", "rearward"], ["left", "right"], ["down", "up"]];
/// What the sides and ends of a piece along X, Y and Z of the body are called: the lesser and the greater one.
pub const SIDES: [[&str; 2]; 3] = [["front", "rear"], ["left", "right"], ["bottom", "top"]];

/// The one of such words for a direction in the body's frame: that of the axis along which most of it lies.
pub fn called(words: &[[&'static str; 2]; 3], direction: &Vector) -> &'static str {
    let axis = direction.iamax();
    words[axis][usize::from(direction[axis] > 0.0)]
}

impl Frame for Scan {}
impl Frame for Body {}
