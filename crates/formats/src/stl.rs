//! STL, both kinds; a binary file is known by its length, since its free header may begin with "solid" too.

use std::collections::HashMap;
use std::path::Path;

use cloud::{Point, Warning};

use crate::numbers::number;
use crate::trouble::shortened;
use crate::{FormatError, RawPoints};

const HEADER: usize = 84;
const FACET: usize = 50;

/// Reads an STL file; corners with equal coordinates become one point.
///
/// # Errors
/// A [`FormatError`] with the line or the byte where the file departs from the format or ends.
pub fn read(path: &Path) -> Result<RawPoints, FormatError> {
    let bytes = std::fs::read(path).map_err(|e| FormatError::io(path, &e))?;
    let announced = bytes
        .get(80..HEADER)
        .map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]) as usize);
    let fits = announced.is_some_and(|n| bytes.len() as u64 == HEADER as u64 + n as u64 * FACET as u64);
    let text_like = bytes.len() >= 5
        && bytes[..5].eq_ignore_ascii_case(b"solid")
        && !bytes.iter().take(2048).any(|b| *b == 0);
    match announced {
        _ if !fits && text_like => ascii(path, &String::from_utf8_lossy(&bytes)),
        Some(count) => binary(path, &bytes, count),
        None => Err(FormatError::whole(
            path,
            format!("{} bytes, too few for an STL file", bytes.len()),
            "the file is cut short; copy or export it again",
        )),
    }
}

fn binary(path: &Path, bytes: &[u8], count: usize) -> Result<RawPoints, FormatError> {
    let held = (bytes.len() - HEADER) / FACET;
    if held < count {
        return Err(FormatError::at_byte(
            path,
            bytes.len() as u64,
            format!("{held} triangles where the header announces {count}: the file is cut short"),
            "copy or export it again",
        ));
    }
    let mut build = Builder::new("STL, binary");
    for facet in bytes[HEADER..].chunks_exact(FACET).take(count) {
        let corner = |k: usize| {
            let float = |axis: usize| {
                let at = 12 + 12 * k + 4 * axis;
                f64::from(f32::from_le_bytes([
                    facet[at],
                    facet[at + 1],
                    facet[at + 2],
                    facet[at + 3],
                ]))
            };
            Point::new(float(0), float(1), float(2))
        };
        build.facet([corner(0), corner(1), corner(2)]);
    }
    if bytes.len() > HEADER + count * FACET {
        build.raw.warnings.push(Warning::new(
            "trailing-bytes",
            format!(
                "{}: something follows the last triangle that the header announces; it was not read",
                path.display()
            ),
        ));
    }
    Ok(build.raw)
}

fn ascii(path: &Path, text: &str) -> Result<RawPoints, FormatError> {
    let mut build = Builder::new("STL, ascii");
    let mut solids = 0;
    let mut open = false;
    let mut corners: Vec<Point> = Vec::new();
    let mut last_line = 0;
    for (i, line) in text.lines().enumerate() {
        last_line = i + 1;
        let words: Vec<&str> = line.split_whitespace().collect();
        let keyword = words.first().map(|w| w.to_ascii_lowercase());
        match keyword.as_deref() {
            Some("solid") => {
                solids += 1;
                open = true;
            }
            Some("endsolid") => open = false,
            Some("vertex") => {
                let values: Vec<f64> = words[1..].iter().filter_map(|w| number(w)).collect();
                if values.len() != 3 || words.len() != 4 {
                    return Err(FormatError::at_line(
                        path,
                        last_line,
                        format!("\"{}\" where a vertex has three numbers", shortened(line.trim())),
                        "mend the line or export it again",
                    ));
                }
                corners.push(Point::new(values[0], values[1], values[2]));
            }
            Some("endloop") => {
                let Ok(three) = <[Point; 3]>::try_from(std::mem::take(&mut corners)) else {
                    return Err(FormatError::at_line(
                        path,
                        last_line,
                        "a facet that has not three vertices",
                        "mend the facet or export it again",
                    ));
                };
                build.facet(three);
            }
            // Facet normals are worked out from the corners, since programs write nonsense there.
            Some("facet" | "outer" | "endfacet") | None => {}
            Some(_) => {
                return Err(FormatError::at_line(
                    path,
                    last_line,
                    format!("\"{}\" in an STL text", shortened(line.trim())),
                    "mend the line or export it again",
                ));
            }
        }
    }
    if open || !corners.is_empty() {
        return Err(FormatError::at_line(
            path,
            last_line,
            "the end of the file before \"endsolid\"",
            "the file is cut short; copy or export it again",
        ));
    }
    if solids > 1 {
        build.raw.warnings.push(Warning::new(
            "several-solids",
            format!(
                "{}: {solids} solids in one file; all are read as one set",
                path.display()
            ),
        ));
    }
    Ok(build.raw)
}

/// Gathers triangles, corner by corner.
struct Builder {
    raw: RawPoints,
    known: HashMap<[u64; 3], u32>,
}

impl Builder {
    fn new(format: &str) -> Self {
        Self {
            raw: RawPoints {
                format: format.to_string(),
                ..RawPoints::default()
            },
            known: HashMap::new(),
        }
    }

    fn facet(&mut self, corners: [Point; 3]) {
        let face = corners.map(|corner| {
            // Adding zero makes the two zeros one.
            let key = [corner.x, corner.y, corner.z].map(|c| (c + 0.0).to_bits());
            *self.known.entry(key).or_insert_with(|| {
                self.raw.points.push(corner);
                (self.raw.points.len() - 1) as u32
            })
        });
        if face[0] != face[1] && face[1] != face[2] && face[2] != face[0] {
            self.raw.faces.push(face);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read_bytes(bytes: &[u8]) -> Result<RawPoints, FormatError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("part.stl");
        std::fs::write(&path, bytes).unwrap();
        read(&path)
    }

    fn facet(z: f32) -> String {
        format!(
            "facet normal -nan(ind) 0 1\n outer loop\n vertex 0 0 {z}\n vertex 1 0 {z}\n vertex 0 1 {z}\n endloop\nendfacet\n"
        )
    }

    fn binary_file(header: &[u8], triangles: u32) -> Vec<u8> {
        let mut bytes = vec![b' '; 80];
        bytes[..header.len()].copy_from_slice(header);
        bytes.extend(triangles.to_le_bytes());
        for t in 0..triangles {
            for value in [
                0.0, 0.0, 1.0, 0.0, 0.0, t as f32, 1.0, 0.0, t as f32, 0.0, 1.0, t as f32,
            ] {
                bytes.extend(f32::to_le_bytes(value));
            }
            bytes.extend([0, 0]);
        }
        bytes
    }

    #[test]
    fn a_second_solid_is_read_and_told() {
        let text = format!(
            "SOLID\n{}endsolid\nsolid two\n{}endsolid two\n",
            facet(0.0),
            facet(5.0)
        );
        let raw = read_bytes(text.as_bytes()).unwrap();
        assert_eq!((raw.points.len(), raw.faces.len()), (6, 2));
        assert_eq!(raw.warnings[0].code, "several-solids");
    }

    #[test]
    fn a_binary_file_that_begins_with_solid_is_binary() {
        let raw = read_bytes(&binary_file(b"solid made by a program", 3)).unwrap();
        assert_eq!((raw.points.len(), raw.faces.len()), (9, 3));
        assert_eq!(raw.format, "STL, binary");
    }

    #[test]
    fn cut_short_files_are_refused_with_their_place() {
        let bytes = binary_file(b"", 3);
        let message = read_bytes(&bytes[..bytes.len() - 60]).unwrap_err().to_string();
        assert!(
            message.contains("1 triangles where the header announces 3"),
            "{message}"
        );
        let text = format!("solid\n{}", facet(0.0));
        let message = read_bytes(text.as_bytes()).unwrap_err().to_string();
        assert!(message.contains("before \"endsolid\""), "{message}");
        let message = read_bytes(b"solid\nfacet normal 0 0 1\nouter loop\nvertex 0 0 x\n")
            .unwrap_err()
            .to_string();
        assert!(message.contains("line 4"), "{message}");
    }

    proptest! {
        #[test]
        fn nothing_makes_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
            let _ = read_bytes(&bytes);
        }
    }
}
