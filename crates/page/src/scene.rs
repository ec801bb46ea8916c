//! What the view that turns shows: the reference with its deviations and the measured points, thinned to what the eye needs.

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
