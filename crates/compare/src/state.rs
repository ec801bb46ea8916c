//! What is known at each point of the reference.

/// What was found at one point of the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum State {
    /// The measured metal lies here.
    Distance {
        /// Along the reference's normal, + proud, mm.
        mm: f64,
        /// ± of it (half the 95 % band) from the roughness and the number of points, without the setting's, mm.
        pm_mm: f64,
    },
    /// The measured set ends beside this point: short, holed or cut off.
    BeyondEdge,
    /// No measured point near: not seen.
    NotMeasured,
}

impl State {
    /// The distance, where there is one, mm.
    #[inline]
    pub fn mm(&self) -> Option<f64> {
        match self {
            State::Distance { mm, .. } => Some(*mm),
            _ => None,
        }
    }
}

/// The comparison at every point of the reference, in its order.
#[derive(Debug, Clone, PartialEq)]
pub struct Deviations {
    /// One state a point.
    pub states: Vec<State>,
    /// Radius of the disc over which noise was averaged, mm.
    pub disc_mm: f64,
}

impl Deviations {
    /// The states as small numbers for a file: 0 distance, 1 beyond the edge, 2 not measured.
    pub fn codes(&self) -> Vec<u8> {
        self.states
            .iter()
            .map(|s| match s {
                State::Distance { .. } => 0,
                State::BeyondEdge => 1,
                State::NotMeasured => 2,
            })
            .collect()
    }
}
