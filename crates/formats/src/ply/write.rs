//! Writing PLY: binary little-endian, points in double, with any scalars beside them.

use std::io::{self, Write};

use cloud::{Point, Vector};
use ply_rs::ply::{
    Addable, DefaultElement, ElementDef, Encoding, Header, PropertyDef, PropertyType, ScalarType,
};
use ply_rs::writer::Writer;

/// One number a point, written under its name.
pub enum Scalar<'a> {
    /// 32-bit floats.
    Float(&'a str, &'a [f32]),
    /// Bytes.
    Byte(&'a str, &'a [u8]),
}

/// Writes points, with normals, scalars, faces and comments where there are any.
///
/// Normals and scalars must have one value a point.
///
/// # Errors
/// What the system said while writing.
pub fn write(
    out: &mut impl Write,
    points: &[Point],
    normals: Option<&[Vector]>,
    scalars: &[Scalar<'_>],
    faces: &[[u32; 3]],
    comments: &[String],
) -> io::Result<()> {
    let mut vertex = ElementDef::new("vertex".to_string());
    vertex.count = points.len();
    let mut add = |name: &str, kind: ScalarType| {
        vertex
            .properties
            .add(PropertyDef::new(name.to_string(), PropertyType::Scalar(kind)));
    };
    for axis in ["x", "y", "z"] {
        add(axis, ScalarType::Double);
    }
    if normals.is_some() {
        for axis in ["nx", "ny", "nz"] {
            add(axis, ScalarType::Float);
        }
    }
    for scalar in scalars {
        match scalar {
            Scalar::Float(name, _) => add(name, ScalarType::Float),
            Scalar::Byte(name, _) => add(name, ScalarType::UChar),
        }
    }
    let mut header = Header::new();
    header.encoding = Encoding::BinaryLittleEndian;
    header.comments = comments.to_vec();
    header.elements.add(vertex);
    if !faces.is_empty() {
        let mut face = ElementDef::new("face".to_string());
        face.count = faces.len();
        face.properties.add(PropertyDef::new(
            "vertex_indices".to_string(),
            PropertyType::List(ScalarType::UChar, ScalarType::UInt),
        ));
        header.elements.add(face);
    }
    Writer::<DefaultElement>::new()
        .write_header(out, &header)
        .map_err(io::Error::other)?;
    for (i, point) in points.iter().enumerate() {
        for value in point.iter() {
            out.write_all(&value.to_le_bytes())?;
        }
        if let Some(normals) = normals {
            for value in normals[i].iter() {
                out.write_all(&(*value as f32).to_le_bytes())?;
            }
        }
        for scalar in scalars {
            match scalar {
                Scalar::Float(_, values) => out.write_all(&values[i].to_le_bytes())?,
                Scalar::Byte(_, values) => out.write_all(&[values[i]])?,
            }
        }
    }
    for face in faces {
        out.write_all(&[3])?;
        for corner in face {
            out.write_all(&corner.to_le_bytes())?;
        }
    }
    Ok(())
}
