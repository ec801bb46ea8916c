//! Files packed into one (a zip): made, read without being unpacked, and unpacked. What comes from elsewhere is checked
//! before anything of it is inflated.

mod directory;
mod pack;
mod salvaged;
mod unpack;

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use flate2::read::DeflateDecoder;

use crate::ArchiveError;
use crate::tree::{Entry, Tree};
use directory::{Directory, Stretch};
pub use pack::pack;
pub use salvaged::Salvaged;
pub use unpack::unpack;

/// How much a packed file may hold. What says that it holds more is refused: it may be made to fill the disk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// Most files, folders that are listed among them.
    pub files: usize,
    /// Most bytes of all files when they are unpacked.
    pub bytes: u64,
    /// Most bytes that come out of one byte, of a file above 1 MiB.
    pub ratio: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            files: 100_000,
            bytes: 256 << 30,
            ratio: 1000,
        }
    }
}

/// A packed file that was opened: a tree whose paths are those below its one top folder.
#[derive(Debug)]
pub struct Packed {
    place: PathBuf,
    top: String,
    entries: Vec<Entry>,
    /// In the order of the entries.
    stretches: Vec<Stretch>,
}

impl Packed {
    /// Opens a packed file: its directory is read and checked, and nothing is inflated.
    ///
    /// # Errors
    /// Where it is not whole, where it holds more than the limits allow, names that can't be kept everywhere or look
    /// alike, links, what is locked by a password or packed in a way that is not read here, and more than one top folder.
    pub fn open(path: &Path, limits: &Limits) -> Result<Self, ArchiveError> {
        let file = File::open(path).map_err(|e| ArchiveError::reading(path, &e))?;
        Ok(Self::of(path, directory::read(&file, path, limits)?))
    }

    fn of(path: &Path, found: Directory) -> Self {
        Self {
            place: path.to_path_buf(),
            top: found.top,
            entries: found.entries,
            stretches: found.stretches,
        }
    }

    /// The name of the top folder in it.
    pub fn top(&self) -> &str {
        &self.top
    }
}

impl Tree for Packed {
    fn entries(&self) -> &[Entry] {
        &self.entries
    }

    fn open(&self, path: &str) -> Result<Box<dyn Read + '_>, ArchiveError> {
        let reading = |e: io::Error| ArchiveError::reading(&self.place, &e);
        let found = self
            .entries
            .binary_search_by(|entry| entry.path.as_str().cmp(path));
        let Ok(index) = found else {
            return Err(ArchiveError::new(
                &self.place,
                format!("\"{path}\" is not in it"),
                "ask for it again",
            ));
        };
        let stretch = self.stretches[index];
        let mut file = File::open(&self.place).map_err(reading)?;
        file.seek(SeekFrom::Start(stretch.begins)).map_err(reading)?;
        let packed = file.take(stretch.packed_bytes);
        let left = self.entries[index].bytes;
        let reader: Box<dyn Read> = if stretch.deflated {
            Box::new(Declared {
                from: DeflateDecoder::new(packed),
                left,
            })
        } else {
            Box::new(Declared { from: packed, left })
        };
        Ok(reader)
    }

    fn place(&self) -> &Path {
        &self.place
    }
}

/// Gives exactly as many bytes as were declared: more, as from one that is made to fill the disk, and fewer are errors.
struct Declared<R> {
    from: R,
    left: u64,
}

impl<R: Read> Read for Declared<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let lied = |words: &str| io::Error::new(io::ErrorKind::InvalidData, words.to_string());
        if buffer.is_empty() {
            return Ok(0);
        }
        if self.left == 0 {
            return match self.from.read(&mut [0])? {
                0 => Ok(0),
                _ => Err(lied("more bytes come out of it than it says")),
            };
        }
        let most = usize::try_from(self.left).map_or(buffer.len(), |left| left.min(buffer.len()));
        match self.from.read(&mut buffer[..most])? {
            0 => Err(lied("fewer bytes come out of it than it says")),
            n => {
                self.left -= n as u64;
                Ok(n)
            }
        }
    }
}

#[cfg(test)]
mod tests;
