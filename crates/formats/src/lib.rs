//! Files of points as they are written, in and out: nothing is scaled, dropped or guessed in here.
//!
//! [`read`] looks at the first bytes, then at the name, and hands the file to the reader of its format. Every reader
//! returns [`RawPoints`] or one [`FormatError`] that says which file, where in it, what was found and what to do.

pub mod e57;
pub mod named;
pub mod numbers;
pub mod obj;
pub mod ply;
pub mod raw;
pub mod readings;
pub mod stl;
mod table;
pub mod text;
pub mod trouble;

use std::fs::File;
use std::io::Read;
use std::path::Path;

pub use raw::RawPoints;
pub use trouble::{FormatError, Place};

/// Largest number of points that is taken on: indices are 32 bits wide.
pub const MOST_POINTS: usize = u32::MAX as usize - 1;

/// Reads the points of any file that is known here.
///
/// # Errors
/// A [`FormatError`] where the file can't be opened, is of another kind, is cut short or holds no points.
pub fn read(path: &Path) -> Result<RawPoints, FormatError> {
    let start = first_bytes(path)?;
    if start.is_empty() {
        return Err(FormatError::whole(
            path,
            "nothing: the file is empty",
            "export it again from the scanner's program",
        ));
    }
    let ending = path
        .extension()
        .map(|e| e.to_string_lossy().to_ascii_lowercase())
        .unwrap_or_default();
    if let Some(kind) = not_points(&start) {
        return Err(FormatError::whole(
            path,
            format!("{kind}, not points"),
            "give the file that holds the points: PLY, STL, OBJ, E57 or text",
        ));
    }
    let raw = if is_ply(&start) {
        ply::read(path)?
    } else if start.starts_with(b"ASTM-E57") {
        e57::read(path)?
    } else {
        match ending.as_str() {
            "ply" => {
                return Err(FormatError::at_line(
                    path,
                    1,
                    format!("\"{}\" where a PLY file begins with \"ply\"", printable(&start)),
                    "export it as PLY again, or give it the ending of what it is",
                ));
            }
            "e57" => {
                return Err(FormatError::whole(
                    path,
                    "no E57 signature at the start",
                    "export it again",
                ));
            }
            "stl" => stl::read(path)?,
            "obj" => obj::read(path)?,
            _ => text::read(path)?,
        }
    };
    if raw.points.is_empty() {
        return Err(FormatError::whole(
            path,
            "no points in it",
            "export it again; the file has a head but nothing under it",
        ));
    }
    if raw.points.len() > MOST_POINTS {
        return Err(FormatError::whole(
            path,
            format!("{} points", raw.points.len()),
            "split the set; at most 4 294 967 294 points are taken",
        ));
    }
    Ok(raw)
}

fn first_bytes(path: &Path) -> Result<Vec<u8>, FormatError> {
    let mut start = vec![0; 512];
    if path.is_dir() {
        return Err(FormatError::whole(path, "a folder", "name a file in it"));
    }
    let mut file = File::open(path).map_err(|e| FormatError::io(path, &e))?;
    let mut filled = 0;
    while filled < start.len() {
        match file
            .read(&mut start[filled..])
            .map_err(|e| FormatError::io(path, &e))?
        {
            0 => break,
            n => filled += n,
        }
    }
    start.truncate(filled);
    Ok(start)
}

fn is_ply(start: &[u8]) -> bool {
    let start = start.strip_prefix(b"\xef\xbb\xbf").unwrap_or(start);
    start.starts_with(b"ply") && start.get(3).is_none_or(|b| b.is_ascii_whitespace())
}

/// What a file is that surely holds no points for us.
fn not_points(start: &[u8]) -> Option<&'static str> {
    const KINDS: [(&[u8], &str); 8] = [
        (b"\x89PNG", "a PNG picture"),
        (b"\xff\xd8\xff", "a JPEG picture"),
        (b"%PDF", "a PDF document"),
        (b"PK\x03\x04", "a zip archive"),
        (b"\x1f\x8b", "a gzip archive"),
        (b"GIF8", "a GIF picture"),
        (b"{", "a JSON text"),
        (b"<", "an XML or HTML text"),
    ];
    KINDS
        .iter()
        .find(|(magic, _)| start.starts_with(magic))
        .map(|(_, kind)| *kind)
}

/// The start of a text as it can be printed in a message.
fn printable(bytes: &[u8]) -> String {
    let line: String = String::from_utf8_lossy(bytes)
        .chars()
        .take_while(|c| *c != '\n' && *c != '\r')
        .map(|c| if c.is_control() { '·' } else { c })
        .collect();
    trouble::shortened(&line)
}
