//! The rows of a file in the file's own unit, as they were written.

use cloud::{Point, Unit, Warning};

/// What a file holds: n points, with n normals or none, n colours or none, and faces by point index or none.
///
/// Points may be not finite and normals of any length: that is sorted out when the set is scaled.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RawPoints {
    /// The format in the words of a message: `PLY, binary little-endian`.
    pub format: String,
    /// Points in the file's own unit.
    pub points: Vec<Point>,
    /// Normals as written; single precision is more than any program that writes them has.
    pub normals: Option<Vec<[f32; 3]>>,
    /// Red, green, blue.
    pub colours: Option<Vec<[u8; 3]>>,
    /// Triangles; polygons are cut into fans.
    pub faces: Vec<[u32; 3]>,
    /// The unit, where the file itself says so.
    pub unit: Option<Unit>,
    /// Where the scanner stood, where the file says so, in the file's own unit.
    pub viewpoint: Option<Point>,
    /// Comments of the file, kept for the record.
    pub comments: Vec<String>,
    /// What a reader of the file should know.
    pub warnings: Vec<Warning>,
}

/// Cuts a polygon into triangles that share its first corner.
pub(crate) fn fan(corners: &[u32], faces: &mut Vec<[u32; 3]>) {
    for pair in corners.windows(2).skip(1) {
        faces.push([corners[0], pair[0], pair[1]]);
    }
}
