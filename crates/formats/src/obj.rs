//! OBJ: vertices and faces; a file of vertices alone is a set of points like any other.

use std::path::Path;

use cloud::{Point, Warning};

use crate::numbers::number;
use crate::raw::fan;
use crate::trouble::shortened;
use crate::{FormatError, RawPoints};

/// Reads `v` and `f` lines; every vertex is kept, whether a face uses it or not.
///
/// # Errors
/// A [`FormatError`] with the line that can't be read.
pub fn read(path: &Path) -> Result<RawPoints, FormatError> {
    let bytes = std::fs::read(path).map_err(|e| FormatError::io(path, &e))?;
    let text = String::from_utf8_lossy(&bytes);
    let mut raw = RawPoints {
        format: "OBJ".to_string(),
        ..RawPoints::default()
    };
    let mut colours = Vec::new();
    let mut unread: Vec<String> = Vec::new();
    for (i, line) in text.lines().enumerate() {
        let trouble = |found: String, advice: &str| FormatError::at_line(path, i + 1, found, advice);
        let content = line.split('#').next().unwrap_or_default();
        let words: Vec<&str> = content.split_whitespace().collect();
        match words.first().copied() {
            Some("v") => {
                let values: Option<Vec<f64>> = words[1..].iter().map(|w| number(w)).collect();
                let Some(values) = values.filter(|v| v.len() >= 3) else {
                    return Err(trouble(
                        format!("\"{}\" where a vertex has three numbers", shortened(line.trim())),
                        "mend the line or export it again",
                    ));
                };
                raw.points.push(Point::new(values[0], values[1], values[2]));
                if let Some(colour) = values.get(3..6) {
                    colours.push([0, 1, 2].map(|c| (colour[c] * 255.0) as u8));
                }
            }
            Some("f") => {
                let corners = corners(&words[1..], raw.points.len()).ok_or_else(|| {
                    trouble(
                        format!(
                            "\"{}\" where a face names three or more of the {} vertices so far",
                            shortened(line.trim()),
                            raw.points.len()
                        ),
                        "mend the line or export it again",
                    )
                })?;
                fan(&corners, &mut raw.faces);
            }
            Some("vn" | "vt" | "vp" | "o" | "g" | "s" | "usemtl" | "mtllib" | "l" | "p") | None => {}
            Some(other) => {
                if !unread.iter().any(|u| u == other) {
                    unread.push(other.to_string());
                }
            }
        }
    }
    if raw.points.is_empty() && !unread.is_empty() {
        return Err(FormatError::at_line(
            path,
            1,
            format!("no \"v\" line, but \"{}\"", shortened(&unread[0])),
            "this is no OBJ file; give it the ending of what it is",
        ));
    }
    if !unread.is_empty() {
        raw.warnings.push(Warning::new(
            "lines-passed-over",
            format!(
                "{}: lines of kind {} were passed over",
                path.display(),
                unread.join(", ")
            ),
        ));
    }
    raw.colours = (!colours.is_empty() && colours.len() == raw.points.len()).then_some(colours);
    Ok(raw)
}

/// Corners as indices from 0: `7`, `7/1`, `7//3`, `7/1/3`, or counted back from the last, `-1`.
fn corners(words: &[&str], points: usize) -> Option<Vec<u32>> {
    let corners: Option<Vec<u32>> = words
        .iter()
        .map(|word| {
            let index: i64 = word.split('/').next()?.parse().ok()?;
            let index = if index < 0 {
                points as i64 + index
            } else {
                index - 1
            };
            (0..points as i64).contains(&index).then_some(index as u32)
        })
        .collect();
    corners.filter(|c| c.len() >= 3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read_text(text: &[u8]) -> Result<RawPoints, FormatError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("part.obj");
        std::fs::write(&path, text).unwrap();
        read(&path)
    }

    #[test]
    fn points_without_faces_are_kept() {
        let raw = read_text(b"v 1 2 3\nv 4 5 .5\nv 7 8 9 1 0 0\n").unwrap();
        assert_eq!(raw.points.len(), 3);
        assert_eq!(raw.points[1].z, 0.5);
    }

    #[test]
    fn faces_of_every_spelling_are_read_and_unused_vertices_stay() {
        let raw = read_text(b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 9 9 9\nf 1/1 2//1 3/1/1 4\nf -5 -4 -3\n")
            .unwrap();
        assert_eq!(raw.points.len(), 5);
        assert_eq!(raw.faces, vec![[0, 1, 2], [0, 2, 3], [0, 1, 2]]);
    }

    #[test]
    fn trouble_is_told_with_its_line() {
        let message = |text: &[u8]| read_text(text).unwrap_err().to_string();
        assert!(message(b"v 0 0 0\nv 1 x 0\n").contains("line 2"));
        assert!(message(b"v 0 0 0\nf 1 2 3\n").contains("line 2"));
        assert!(message(b"hello world\n").contains("no \"v\" line"));
    }

    proptest! {
        #[test]
        fn nothing_makes_it_panic(text in "[vfno0-9./ \n#-]{0,200}") {
            let _ = read_text(text.as_bytes());
        }
    }
}
