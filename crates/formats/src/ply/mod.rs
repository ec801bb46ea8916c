//! PLY (Turk 1994): ascii and both binary orders, any scalar type, properties in any order.
//!
//! The header is checked by us, since a duplicate property would shift every later value in silence, then parsed by the
//! PLY library; plain vertex rows are read in strides by us, everything else by the library.

mod ascii;
mod header;
mod strides;
mod write;

use std::fs::File;
use std::io::{BufRead, BufReader, Seek};
use std::path::Path;

use cloud::{Point, Vector, Warning};
use ply_rs::parser::{Parser, Reader};
use ply_rs::ply::{ElementDef, Encoding, Property, PropertyAccess, PropertyAccessResult, PropertyType};

use crate::raw::fan;
use crate::{FormatError, MOST_POINTS, RawPoints};

pub use write::{Scalar, write};

/// What a vertex property is to us.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Role {
    Position(usize),
    Normal(usize),
    Colour(usize),
    Other,
}

fn role_of(name: &str) -> Role {
    match name.to_ascii_lowercase().as_str() {
        "x" => Role::Position(0),
        "y" => Role::Position(1),
        "z" => Role::Position(2),
        "nx" | "normal_x" => Role::Normal(0),
        "ny" | "normal_y" => Role::Normal(1),
        "nz" | "normal_z" => Role::Normal(2),
        "red" | "r" | "diffuse_red" => Role::Colour(0),
        "green" | "g" | "diffuse_green" => Role::Colour(1),
        "blue" | "b" | "diffuse_blue" => Role::Colour(2),
        _ => Role::Other,
    }
}

/// Reads a PLY file.
///
/// # Errors
/// A [`FormatError`] with the line or the byte where the file departs from the format or ends.
pub fn read(path: &Path) -> Result<RawPoints, FormatError> {
    let file = File::open(path).map_err(|e| FormatError::io(path, &e))?;
    let size = file.metadata().map_err(|e| FormatError::io(path, &e))?.len();
    let mut body = BufReader::with_capacity(1 << 20, file);
    let head = header::read(path, &mut body)?;
    let mut raw = RawPoints {
        format: format!("PLY, {}", encoding_words(head.ply.encoding)),
        comments: head.comments.clone(),
        ..RawPoints::default()
    };
    if !head.ply.elements.contains_key("vertex") {
        return Err(FormatError::at_line(
            path,
            head.lines,
            "no element \"vertex\" in the header",
            "export the points again",
        ));
    }
    let mut line = head.lines;
    for (_, element) in &head.ply.elements {
        let here = body.stream_position().map_err(|e| FormatError::io(path, &e))?;
        let place = Spot {
            path,
            left: size.saturating_sub(here),
            here,
            line,
            encoding: head.ply.encoding,
        };
        match element.name.as_str() {
            "vertex" => read_vertices(&place, element, &head, &mut body, &mut raw)?,
            "face" | "tristrips" => read_faces(&place, element, &head, &mut body, &mut raw)?,
            _ => {
                by_library::<Nothing>(&place, element, &head, &mut body)?;
            }
        }
        line += element.count;
    }
    let rest = body.fill_buf().map_err(|e| FormatError::io(path, &e))?;
    if !rest.iter().all(u8::is_ascii_whitespace) {
        raw.warnings.push(Warning::new(
            "trailing-bytes",
            format!(
                "{}: something follows the last row that the header announces; it was not read",
                path.display()
            ),
        ));
    }
    Ok(raw)
}

fn encoding_words(encoding: Encoding) -> &'static str {
    match encoding {
        Encoding::Ascii => "ascii",
        Encoding::BinaryBigEndian => "binary big-endian",
        Encoding::BinaryLittleEndian => "binary little-endian",
    }
}

/// Where the reading stands, for messages and for the checks of counts against bytes.
struct Spot<'a> {
    path: &'a Path,
    left: u64,
    here: u64,
    line: usize,
    encoding: Encoding,
}

impl Spot<'_> {
    fn cut_short(&self, element: &ElementDef, rows: u64) -> FormatError {
        let found = format!(
            "{rows} rows of \"{}\" where the header announces {}: the file is cut short",
            element.name, element.count
        );
        let advice = "copy or export it again";
        match self.encoding {
            Encoding::Ascii => FormatError::at_line(self.path, self.line + rows as usize, found, advice),
            _ => FormatError::at_byte(self.path, self.here + self.left, found, advice),
        }
    }
}

fn read_vertices(
    spot: &Spot<'_>,
    element: &ElementDef,
    head: &header::Head,
    body: &mut BufReader<File>,
    raw: &mut RawPoints,
) -> Result<(), FormatError> {
    let names: Vec<&str> = element.properties.keys().map(String::as_str).collect();
    for (axis, name) in ["x", "y", "z"].iter().enumerate() {
        if !names.iter().any(|n| role_of(n) == Role::Position(axis)) {
            return Err(FormatError::at_line(
                spot.path,
                head.lines,
                format!(
                    "no property \"{name}\" of vertex in the header (it has {})",
                    names.join(", ")
                ),
                "export the points with x, y and z",
            ));
        }
    }
    if element.count > MOST_POINTS {
        return Err(FormatError::at_line(
            spot.path,
            head.lines,
            format!(
                "a count of {} vertices, in a file with {} bytes left",
                element.count, spot.left
            ),
            "export it again; the header is damaged",
        ));
    }
    let all_three =
        |make: fn(usize) -> Role| (0..3).all(|axis| names.iter().any(|n| role_of(n) == make(axis)));
    let wants_normals = all_three(Role::Normal);
    let wants_colours = all_three(Role::Colour);
    if spot.encoding == Encoding::Ascii {
        return ascii::vertices(spot, element, body, raw, wants_normals, wants_colours);
    }
    if let Some(layout) = strides::Layout::of(element, spot.encoding) {
        return strides::vertices(spot, element, &layout, body, raw, wants_normals, wants_colours);
    }
    let rows: Vec<Vertex> = by_library(spot, element, head, body)?;
    raw.points = rows.iter().map(|v| Point::from(Vector::from(v.at))).collect();
    raw.normals = wants_normals.then(|| rows.iter().map(|v| v.normal.map(|c| c as f32)).collect());
    raw.colours = wants_colours.then(|| rows.iter().map(|v| v.colour.map(|c| c as u8)).collect());
    Ok(())
}

fn read_faces(
    spot: &Spot<'_>,
    element: &ElementDef,
    head: &header::Head,
    body: &mut BufReader<File>,
    raw: &mut RawPoints,
) -> Result<(), FormatError> {
    let faces: Vec<Face> = by_library(spot, element, head, body)?;
    if element.name == "tristrips" {
        raw.warnings.push(Warning::new(
            "strips-not-read",
            format!(
                "{}: triangle strips are not read; the points are",
                spot.path.display()
            ),
        ));
        return Ok(());
    }
    let count = raw.points.len() as i64;
    for (i, face) in faces.iter().enumerate() {
        if let Some(bad) = face.corners.iter().find(|&&c| c < 0 || c >= count) {
            return Err(FormatError::whole(
                spot.path,
                format!(
                    "corner {bad} in face {i}, where the vertices are 0 to {}",
                    count - 1
                ),
                "export it again",
            ));
        }
        let corners: Vec<u32> = face.corners.iter().map(|&c| c as u32).collect();
        fan(&corners, &mut raw.faces);
    }
    Ok(())
}

/// Reads the rows of one element with the library, its trouble put into our words.
fn by_library<E: PropertyAccess>(
    spot: &Spot<'_>,
    element: &ElementDef,
    head: &header::Head,
    body: &mut BufReader<File>,
) -> Result<Vec<E>, FormatError> {
    // A row takes at least a byte: a count beyond that is damage, and must not become an allocation.
    if element.count as u64 > spot.left && !element.properties.is_empty() {
        return Err(spot.cut_short(element, spot.left.min(element.count as u64)));
    }
    let mut reader = Reader::new(body);
    Parser::<E>::new()
        .read_payload_for_element(&mut reader, element, &head.ply)
        .map_err(|e| {
            let found = format!("a row of \"{}\" that can't be read", element.name);
            match (spot.encoding, e.line()) {
                (Encoding::Ascii, Some(line)) => FormatError::at_line(
                    spot.path,
                    spot.line + line,
                    found,
                    "the line is cut short or holds text in a number; export it again",
                ),
                _ => FormatError::whole(
                    spot.path,
                    format!("{found}: the file is cut short or damaged"),
                    "copy or export it again",
                ),
            }
        })
}

/// An element that is read past.
struct Nothing;

impl PropertyAccess for Nothing {
    fn new() -> Self {
        Nothing
    }
}

#[derive(Default)]
struct Vertex {
    at: [f64; 3],
    normal: [f64; 3],
    colour: [f64; 3],
}

impl PropertyAccess for Vertex {
    fn new() -> Self {
        Self::default()
    }

    fn set_property(&mut self, name: &str, property: Property) -> PropertyAccessResult {
        let value = match property {
            Property::Char(v) => f64::from(v),
            Property::UChar(v) => f64::from(v),
            Property::Short(v) => f64::from(v),
            Property::UShort(v) => f64::from(v),
            Property::Int(v) => f64::from(v),
            Property::UInt(v) => f64::from(v),
            Property::Float(v) => f64::from(v),
            Property::Double(v) => v,
            _ => return PropertyAccessResult::Ignored,
        };
        match role_of(name) {
            Role::Position(axis) => self.at[axis] = value,
            Role::Normal(axis) => self.normal[axis] = value,
            Role::Colour(axis) => self.colour[axis] = value,
            Role::Other => return PropertyAccessResult::Ignored,
        }
        PropertyAccessResult::Set
    }
}

#[derive(Default)]
struct Face {
    corners: Vec<i64>,
}

impl PropertyAccess for Face {
    fn new() -> Self {
        Self::default()
    }

    fn set_property(&mut self, name: &str, property: Property) -> PropertyAccessResult {
        if name != "vertex_indices" && name != "vertex_index" {
            return PropertyAccessResult::Ignored;
        }
        self.corners = match property {
            Property::ListChar(v) => v.into_iter().map(i64::from).collect(),
            Property::ListUChar(v) => v.into_iter().map(i64::from).collect(),
            Property::ListShort(v) => v.into_iter().map(i64::from).collect(),
            Property::ListUShort(v) => v.into_iter().map(i64::from).collect(),
            Property::ListInt(v) => v.into_iter().map(i64::from).collect(),
            Property::ListUInt(v) => v.into_iter().map(i64::from).collect(),
            _ => return PropertyAccessResult::UnsupportedType,
        };
        PropertyAccessResult::Set
    }
}

/// Size in bytes of a scalar in a binary file; `None` for a list.
fn scalar_size(kind: &PropertyType) -> Option<usize> {
    use ply_rs::ply::ScalarType as S;
    match kind {
        PropertyType::List(..) => None,
        PropertyType::Scalar(scalar) => Some(match scalar {
            S::Char | S::UChar => 1,
            S::Short | S::UShort => 2,
            S::Int | S::UInt | S::Float => 4,
            S::Double => 8,
        }),
    }
}

#[cfg(test)]
mod tests;
