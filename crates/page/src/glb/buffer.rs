//! The numbers of a glTF file: bytes, and the lists that say what lies where in them.

use serde_json::{Value, json};

/// Types of a component, as glTF counts them.
pub const BYTE: u32 = 5120;
pub const UNSIGNED_BYTE: u32 = 5121;
pub const SHORT: u32 = 5122;
pub const UNSIGNED_SHORT: u32 = 5123;
const UNSIGNED_INT: u32 = 5125;
/// What a stretch of bytes is for.
const OF_PLACES: u32 = 34962;
const OF_FACES: u32 = 34963;

/// What an attribute is made of.
pub struct Kind {
    pub component: u32,
    pub shape: &'static str,
    pub normalised: bool,
}

/// Bytes, always a multiple of four, with their views and accessors.
#[derive(Default)]
pub struct Buffer {
    pub bytes: Vec<u8>,
    pub views: Vec<Value>,
    pub accessors: Vec<Value>,
}

impl Buffer {
    /// Appends one row of `N` bytes, a multiple of four, for each place; returns the accessor's number.
    pub fn attribute<const N: usize>(
        &mut self,
        rows: impl Iterator<Item = [u8; N]>,
        kind: Kind,
        bounds: Option<[[u16; 3]; 2]>,
    ) -> usize {
        let start = self.bytes.len();
        self.bytes.extend(rows.flatten());
        let length = self.bytes.len() - start;
        self.views.push(json!({
            "buffer": 0, "byteOffset": start, "byteLength": length, "byteStride": N, "target": OF_PLACES,
        }));
        let mut accessor = json!({
            "bufferView": self.views.len() - 1,
            "componentType": kind.component,
            "type": kind.shape,
            "normalized": kind.normalised,
            "count": length / N,
        });
        if let Some([low, high]) = bounds {
            accessor["min"] = json!(low);
            accessor["max"] = json!(high);
        }
        self.accessors.push(accessor);
        self.accessors.len() - 1
    }

    /// Appends the corners of faces over `points` points, in two bytes each where that is enough; returns the accessor's number.
    pub fn indices(&mut self, faces: &[[u32; 3]], points: usize) -> usize {
        let start = self.bytes.len();
        // 65 535 itself is set aside by glTF.
        let short = points <= usize::from(u16::MAX);
        for corner in faces.iter().flatten() {
            let bytes = corner.to_le_bytes();
            self.bytes
                .extend_from_slice(if short { &bytes[..2] } else { &bytes });
        }
        let length = self.bytes.len() - start;
        self.bytes.resize(self.bytes.len().next_multiple_of(4), 0);
        self.views.push(json!({
            "buffer": 0, "byteOffset": start, "byteLength": length, "target": OF_FACES,
        }));
        self.accessors.push(json!({
            "bufferView": self.views.len() - 1,
            "componentType": if short { UNSIGNED_SHORT } else { UNSIGNED_INT },
            "type": "SCALAR",
            "count": 3 * faces.len(),
        }));
        self.accessors.len() - 1
    }
}
