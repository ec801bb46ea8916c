//! What is whole of a packed file whose end is not there: its files are read one after the other from the beginning, each held
//! to the check sum that stands beside it (CRC-32).

use std::fs::File;
use std::io::{self, BufReader, Read, Seek};
use std::path::Path;

use zip::ZipArchive;
use zip::read::read_zipfile_from_stream;

use super::directory::Gathered;
use super::{Limits, Packed};
use crate::ArchiveError;

/// What is whole of a packed file.
#[derive(Debug)]
pub struct Salvaged {
    /// The files that are whole.
    pub packed: Packed,
    /// The paths of those that were begun and are not: of one that was cut short its last.
    pub broken: Vec<String>,
}

impl Packed {
    /// Opens what is whole of a packed file that was cut short.
    ///
    /// # Errors
    /// Where it was not cut short, where nothing of it is whole, and where it holds what [`Packed::open`] refuses.
    pub fn salvaged(path: &Path, limits: &Limits) -> Result<Salvaged, ArchiveError> {
        let reading = |e: io::Error| ArchiveError::reading(path, &e);
        let file = File::open(path).map_err(reading)?;
        if ZipArchive::new(BufReader::new(&file)).is_ok() {
            return Err(ArchiveError::new(
                path,
                "it was not cut short",
                "open it as it is",
            ));
        }
        let mut from = BufReader::new(file);
        from.rewind().map_err(reading)?;
        let mut gathered = Gathered::new(path, limits);
        let mut broken = Vec::new();
        while let Some(begun) = next(&mut from, &mut gathered)? {
            let ends = from.stream_position().map_err(reading)?;
            let Some(name) = begun.file else { continue };
            match gathered.found.last_mut() {
                Some((_, stretch)) if begun.whole => {
                    stretch.begins = ends.saturating_sub(stretch.packed_bytes);
                }
                _ => {
                    gathered.found.pop();
                    broken.push(name);
                }
            }
        }
        if gathered.found.is_empty() {
            return Err(ArchiveError::new(
                path,
                "nothing of it is whole",
                "copy it again from where it came from, or ask for it again",
            ));
        }
        let found = gathered.directory()?;
        Ok(Salvaged {
            packed: Self::of(path, found),
            broken,
        })
    }
}

/// A file that was begun.
struct Begun {
    /// Its path; `None` of a folder.
    file: Option<String>,
    whole: bool,
}

/// Reads the next file through, and leaves the reader behind it; `None` at what is no file: the directory, where it is there, or
/// the end of what was left. Where its bytes lie is not known here, and is to be put right.
fn next(from: &mut BufReader<File>, gathered: &mut Gathered<'_>) -> Result<Option<Begun>, ArchiveError> {
    let Ok(Some(mut entry)) = read_zipfile_from_stream(from) else {
        return Ok(None);
    };
    let file = gathered.take(&entry, Some(0))?;
    let bytes = entry.size();
    let copied = io::copy(&mut entry.by_ref().take(bytes.saturating_add(1)), &mut io::sink());
    let whole = copied.is_ok_and(|copied| copied == bytes);
    Ok(Some(Begun { file, whole }))
}
