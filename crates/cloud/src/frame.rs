//! The two frames that a point can be in, as types, so that mixing them does not compile.

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

impl Frame for Scan {}
impl Frame for Body {}
