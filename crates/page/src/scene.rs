//! What the view that turns shows: the reference with its deviations and the measured points, thinned to what the eye needs.

use crate::PageError;

/// Points of the reference with what was found there, and the measured points; all in the reference's frame, mm.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Scene {
    /// Places on the reference.
    pub points_mm: Vec<[f32; 3]>,
    /// Its unit normals, to the outside.
    pub normals: Vec<[f32; 3]>,
    /// Where the measured metal lies along the normal, + proud; 0 where [`Scene::state`] is not 0.
    pub deviation_mm: Vec<f32>,
    /// Half the 95 % band of it.
    pub pm_mm: Vec<f32>,
    /// 0 a distance, 1 beyond the edge of the measured set, 2 not measured.
    pub state: Vec<u8>,
    /// The region of each place: 1 + its index in the record's regions, 0 where it has none.
    pub region: Vec<u16>,
    /// Triangles of the reference, where it is a mesh that need not be thinned.
    pub faces: Vec<[u32; 3]>,
    /// Measured places.
    pub measured_mm: Vec<[f32; 3]>,
    /// Spacing of the reference's points as they are here, mm.
    pub spacing_mm: f32,
}

impl Scene {
    /// Whether its parts fit together.
    ///
    /// # Errors
    /// Where nothing is there to show, lists differ in length, or a face names a point that is not there.
    pub(crate) fn check(&self) -> Result<(), PageError> {
        let count = self.points_mm.len();
        if count == 0 && self.measured_mm.is_empty() {
            return Err(unfit("neither set has a point"));
        }
        let lengths = [
            self.normals.len(),
            self.deviation_mm.len(),
            self.pm_mm.len(),
            self.state.len(),
            self.region.len(),
        ];
        if lengths.iter().any(|length| *length != count) {
            return Err(unfit("its lists differ in length"));
        }
        let corners = self.faces.iter().flatten();
        if corners.copied().any(|corner| corner as usize >= count) {
            return Err(unfit("a face names a point that is not there"));
        }
        Ok(())
    }
}

/// What is wrong with a scene.
pub(crate) fn unfit(words: &str) -> PageError {
    PageError(format!("the view that turns can't be made: {words}"))
}
