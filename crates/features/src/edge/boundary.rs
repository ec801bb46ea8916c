//! The free edges of a surface: from its points, or from the open sides of its faces.

use cloud::{Frame, Point, Surface, Vector};
use rayon::prelude::*;

use super::line::Line;
use super::{Edge, in_mesh, in_points, smooth};

/// Edges shorter than this many steps are left out: a sheet at random spacing now and then has a gap as large.
const SHORTEST: f64 = 16.0;

/// An edge as it was found, rough as the points or the faces make it.
pub(crate) struct Rim {
    /// Its places, at least one.
    pub at: Vec<Point>,
    /// Unit directions off the metal.
    pub void: Vec<Vector>,
    /// Unit normals of the surface.
    pub normal: Vec<Vector>,
    /// Whether the first place follows the last.
    pub closed: bool,
}

/// The free edges of a surface, found without help, in the order of its points.
///
/// In points an edge is followed along the outermost of them and smoothed over four spacings, so that it lies inside the
/// metal by about a third of a spacing; in a mesh it is exact. Holes are among the edges. Edges under sixteen spacings are
/// left out. The end of what was seen is an edge too.
pub fn find<F: Frame>(surface: &Surface<F>) -> Vec<Edge> {
    let step_mm = step_mm(surface);
    rims(surface)
        .par_iter()
        .map(|rim| smooth::edge(rim, step_mm))
        .collect()
}

/// How far apart the places of an edge may be thought to lie, mm: the spacing, and in a mesh, whose edges are finer than
/// its corners lie apart, not more than 1.5.
pub(super) fn step_mm<F: Frame>(surface: &Surface<F>) -> f64 {
    if surface.cloud.faces.is_empty() {
        surface.spacing_mm
    } else {
        surface.spacing_mm.clamp(0.5, 1.5)
    }
}

/// The edges as they were found, the short ones left out.
pub(super) fn rims<F: Frame>(surface: &Surface<F>) -> Vec<Rim> {
    let mut rims = if surface.cloud.faces.is_empty() {
        in_points::rims(surface)
    } else {
        in_mesh::rims(surface)
    };
    let shortest = SHORTEST * step_mm(surface);
    rims.retain(|rim| rim.at.len() >= 3 && Line::new(&rim.at, rim.closed).length_mm >= shortest);
    rims
}
