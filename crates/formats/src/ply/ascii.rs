//! Vertex rows in ascii: one row a line, odd spellings and blank lines allowed.

use std::fs::File;
use std::io::BufReader;

use cloud::Point;
use ply_rs::ply::{ElementDef, PropertyType, ScalarType};

use super::header::line;
use super::{Role, Spot, role_of};
use crate::numbers::number;
use crate::trouble::shortened;
use crate::{FormatError, RawPoints};

/// Reads all rows.
pub fn vertices(
    spot: &Spot<'_>,
    element: &ElementDef,
    body: &mut BufReader<File>,
    raw: &mut RawPoints,
    wants_normals: bool,
    wants_colours: bool,
) -> Result<(), FormatError> {
    // Each value takes at least a digit and a separator: a larger count is damage, and must not become an allocation.
    let room = (spot.left + 1) / (2 * element.properties.len().max(1)) as u64;
    if element.count as u64 > room {
        return Err(spot.cut_short(element, room));
    }
    let columns: Vec<(Role, &PropertyType, &str)> = element
        .properties
        .iter()
        .map(|(name, property)| (role_of(name), &property.data_type, name.as_str()))
        .collect();
    let mut normals = Vec::new();
    let mut colours = Vec::new();
    raw.points.reserve(element.count);
    let mut number_of_line = spot.line;
    while raw.points.len() < element.count {
        number_of_line += 1;
        let Some(line) = line(spot.path, body, number_of_line)? else {
            return Err(spot.cut_short(element, raw.points.len() as u64));
        };
        let text = String::from_utf8_lossy(&line);
        let mut words = text.split_whitespace().peekable();
        if words.peek().is_none() {
            continue;
        }
        let (mut at, mut normal, mut colour) = ([0.0; 3], [0.0; 3], [0u8; 3]);
        for (role, kind, name) in &columns {
            let mut next = || {
                let word = words.next().ok_or_else(|| {
                    FormatError::at_line(
                        spot.path,
                        number_of_line,
                        format!("a row that ends before \"{name}\""),
                        "the row is cut short; export it again",
                    )
                })?;
                number(word).ok_or_else(|| {
                    FormatError::at_line(
                        spot.path,
                        number_of_line,
                        format!("\"{}\" where \"{name}\" should be a number", shortened(word)),
                        "mend the line or export it again (a decimal comma is not PLY)",
                    )
                })
            };
            let value = next()?;
            if let PropertyType::List(..) = kind {
                for _ in 0..value as usize {
                    next()?;
                }
                continue;
            }
            match role {
                Role::Position(axis) => at[*axis] = value,
                Role::Normal(axis) => normal[*axis] = value,
                Role::Colour(axis) => {
                    let fraction =
                        matches!(kind, PropertyType::Scalar(ScalarType::Float | ScalarType::Double));
                    colour[*axis] = (value * if fraction { 255.0 } else { 1.0 }) as u8;
                }
                Role::Other => {}
            }
        }
        raw.points.push(Point::from(at));
        if wants_normals {
            normals.push(normal.map(|c| c as f32));
        }
        if wants_colours {
            colours.push(colour);
        }
    }
    raw.normals = wants_normals.then_some(normals);
    raw.colours = wants_colours.then_some(colours);
    Ok(())
}
