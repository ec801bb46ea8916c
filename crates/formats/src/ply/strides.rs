//! Binary vertex rows of fixed length, read in strides.

use std::fs::File;
use std::io::{BufReader, Read};

use cloud::Point;
use ply_rs::ply::{ElementDef, Encoding, PropertyType, ScalarType};
use rayon::prelude::*;

use super::{Role, Spot, role_of, scalar_size};
use crate::{FormatError, RawPoints};

/// Rows that are read at once.
const ROWS: usize = 1 << 17;
/// Rows that one thread decodes at a time.
const SHARE: usize = 1 << 13;

/// Where a value stands in a row.
#[derive(Clone)]
struct Column {
    offset: usize,
    kind: ScalarType,
}

/// Where everything stands in a row.
pub struct Layout {
    stride: usize,
    big_endian: bool,
    position: [Column; 3],
    normal: [Column; 3],
    colour: [Column; 3],
    /// Where x, y, z (and nx, ny, nz) begin, where they are consecutive little-endian floats: the case worth a path of its own.
    plain_position: Option<usize>,
    plain_normal: Option<usize>,
}

impl Layout {
    /// The layout of the rows; `None` where a list makes their length vary.
    pub fn of(element: &ElementDef, encoding: Encoding) -> Option<Self> {
        let nowhere = Column {
            offset: 0,
            kind: ScalarType::UChar,
        };
        let empty: [Column; 3] = std::array::from_fn(|_| nowhere.clone());
        let (mut position, mut normal, mut colour) = (empty.clone(), empty.clone(), empty);
        let mut stride = 0;
        for (name, property) in &element.properties {
            let PropertyType::Scalar(kind) = &property.data_type else {
                return None;
            };
            let column = Column {
                offset: stride,
                kind: kind.clone(),
            };
            match role_of(name) {
                Role::Position(axis) => position[axis] = column,
                Role::Normal(axis) => normal[axis] = column,
                Role::Colour(axis) => colour[axis] = column,
                Role::Other => {}
            }
            stride += scalar_size(&property.data_type)?;
        }
        let big_endian = encoding == Encoding::BinaryBigEndian;
        let plain = |columns: &[Column; 3]| {
            let start = columns[0].offset;
            let consecutive =
                (0..3).all(|k| columns[k].kind == ScalarType::Float && columns[k].offset == start + 4 * k);
            (consecutive && !big_endian).then_some(start)
        };
        Some(Self {
            stride,
            big_endian,
            plain_position: plain(&position),
            plain_normal: plain(&normal),
            position,
            normal,
            colour,
        })
    }

    #[inline]
    fn value(&self, row: &[u8], column: &Column) -> f64 {
        let at = &row[column.offset..];
        macro_rules! read {
            ($kind:ty, $size:literal) => {{
                let mut bytes = [0u8; $size];
                bytes.copy_from_slice(&at[..$size]);
                if self.big_endian {
                    <$kind>::from_be_bytes(bytes) as f64
                } else {
                    <$kind>::from_le_bytes(bytes) as f64
                }
            }};
        }
        match column.kind {
            ScalarType::Char => read!(i8, 1),
            ScalarType::UChar => read!(u8, 1),
            ScalarType::Short => read!(i16, 2),
            ScalarType::UShort => read!(u16, 2),
            ScalarType::Int => read!(i32, 4),
            ScalarType::UInt => read!(u32, 4),
            ScalarType::Float => read!(f32, 4),
            ScalarType::Double => read!(f64, 8),
        }
    }

    #[inline]
    fn triple(&self, row: &[u8], columns: &[Column; 3]) -> [f64; 3] {
        [
            self.value(row, &columns[0]),
            self.value(row, &columns[1]),
            self.value(row, &columns[2]),
        ]
    }

    #[inline]
    fn point(&self, row: &[u8]) -> [f64; 3] {
        match self.plain_position {
            Some(start) => floats(row, start).map(f64::from),
            None => self.triple(row, &self.position),
        }
    }

    #[inline]
    fn normal(&self, row: &[u8]) -> [f32; 3] {
        match self.plain_normal {
            Some(start) => floats(row, start),
            None => self.triple(row, &self.normal).map(|c| c as f32),
        }
    }

    /// Colours written as numbers from 0 to 1 are brought to 0 to 255.
    fn colour(&self, row: &[u8]) -> [u8; 3] {
        let scale = match self.colour[0].kind {
            ScalarType::Float | ScalarType::Double => 255.0,
            _ => 1.0,
        };
        self.triple(row, &self.colour).map(|c| (c * scale) as u8)
    }
}

/// Three consecutive little-endian floats.
#[inline]
fn floats(row: &[u8], start: usize) -> [f32; 3] {
    let at = &row[start..][..12];
    std::array::from_fn(|k| f32::from_le_bytes([at[4 * k], at[4 * k + 1], at[4 * k + 2], at[4 * k + 3]]))
}

/// Reads all rows.
pub fn vertices(
    spot: &Spot<'_>,
    element: &ElementDef,
    layout: &Layout,
    body: &mut BufReader<File>,
    raw: &mut RawPoints,
    wants_normals: bool,
    wants_colours: bool,
) -> Result<(), FormatError> {
    let whole_rows = spot.left / layout.stride.max(1) as u64;
    if whole_rows < element.count as u64 {
        return Err(spot.cut_short(element, whole_rows));
    }
    let count = element.count;
    raw.points.reserve_exact(count);
    let mut normals = Vec::with_capacity(if wants_normals { count } else { 0 });
    let mut colours = Vec::with_capacity(if wants_colours { count } else { 0 });
    let mut buffer = vec![0u8; ROWS.min(count) * layout.stride];
    for start in (0..count).step_by(ROWS) {
        let rows = ROWS.min(count - start);
        let bytes = &mut buffer[..rows * layout.stride];
        body.read_exact(bytes).map_err(|e| match e.kind() {
            std::io::ErrorKind::UnexpectedEof => spot.cut_short(element, start as u64),
            _ => FormatError::io(spot.path, &e),
        })?;
        let by_row = || bytes.par_chunks_exact(layout.stride).with_min_len(SHARE);
        raw.points
            .par_extend(by_row().map(|row| Point::from(layout.point(row))));
        if wants_normals {
            normals.par_extend(by_row().map(|row| layout.normal(row)));
        }
        if wants_colours {
            colours.par_extend(by_row().map(|row| layout.colour(row)));
        }
    }
    raw.normals = wants_normals.then_some(normals);
    raw.colours = wants_colours.then_some(colours);
    Ok(())
}
