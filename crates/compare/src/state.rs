//! What is known at each point of the reference.

use cloud::{Near, Point};

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

/// How far around a place metal tells that the measured set ends there, in spacings, and at the least, mm.
const AROUND_SPACINGS: f64 = 6.0;
const AROUND_MM: f64 = 12.0;
/// So many points in that many spacings around the nearest are an end of metal: in a sheet there are a hundred, at a corner of one a
/// quarter of that.
const LEAST_AT_AN_END: usize = 20;

/// What is known of a place near which too few of `points` lie for a distance: the measured set ends beside it where some that
/// `count` lie around. Not measured it is where those next to it, or next to it on the other side, are scattered so thinly that every
/// gap between them would look like an end. `near` searches the points, which have `spacing_mm` squared to themselves.
pub(crate) fn without_distance(
    at: &Point,
    points: &[Point],
    near: &Near,
    spacing_mm: f64,
    counts: impl Fn(usize) -> bool,
) -> State {
    let mut around: Vec<(f64, u32)> = Vec::new();
    near.visit_within(at, (AROUND_SPACINGS * spacing_mm).max(AROUND_MM), |n| {
        if counts(n.index as usize) {
            around.push((n.squared_mm2, n.index));
        }
    });
    around.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    if around.len() < 3 {
        return State::NotMeasured;
    }
    let way = |place: &(f64, u32)| points[place.1 as usize] - at;
    let across = around.iter().find(|place| way(place).dot(&way(&around[0])) < 0.0);
    let is_an_end = |place: &(f64, u32)| {
        let mut count = 0;
        let radius_mm = AROUND_SPACINGS * spacing_mm;
        near.visit_within(&points[place.1 as usize], radius_mm, |_| count += 1);
        count >= LEAST_AT_AN_END
    };
    if is_an_end(&around[0]) && across.is_none_or(is_an_end) {
        State::BeyondEdge
    } else {
        State::NotMeasured
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
