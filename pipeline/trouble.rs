//! What stopped the work, in the shop's words, and the exit codes.

use std::fmt;
use std::io;
use std::path::Path;

use archive::ArchiveError;
use cloud::surface::NoSurface;
use formats::FormatError;
use register::RegisterError;

/// Done, all within.
pub const DONE: u8 = 0;
/// Done, something outside, too close to call or not measured.
pub const NOT_ALL_WITHIN: u8 = 1;
/// Could not be done.
pub const COULD_NOT: u8 = 2;

/// What stopped the work: which file, where in it, what was found, what to do.
#[derive(Debug, Clone, PartialEq)]
pub struct Trouble {
    words: String,
}

impl Trouble {
    /// Trouble in words that name the file and say what to do.
    pub fn new(words: impl Into<String>) -> Self {
        Self { words: words.into() }
    }

    /// Trouble with a file or folder that was to be written.
    pub fn writing(path: &Path, error: &io::Error) -> Self {
        let (found, advice) = match error.kind() {
            io::ErrorKind::PermissionDenied => {
                ("no permission to write there", "name a folder that is yours")
            }
            io::ErrorKind::StorageFull => (
                "the disk is full",
                "make room and run it again; nothing was changed",
            ),
            io::ErrorKind::ReadOnlyFilesystem => ("it can only be read", "name a folder on another disk"),
            io::ErrorKind::NotFound => ("the folder above it is not there", "make it, or name another"),
            io::ErrorKind::NotADirectory => ("a file is in the way", "name another folder"),
            _ => {
                return Self::new(format!(
                    "{}: could not be written (\"{error}\"); nothing was changed",
                    path.display()
                ));
            }
        };
        Self::new(format!("{}: {found}; {advice}", path.display()))
    }

    /// Trouble that the system made.
    pub fn system(doing: &str, error: &dyn fmt::Display) -> Self {
        Self::new(format!("{doing} failed: {error}"))
    }

    /// A set that no surface can be made of.
    pub fn no_surface(path: &Path, why: NoSurface) -> Self {
        let advice = match why {
            NoSurface::TooFew(_) => {
                "export it with more points; for a few probed points use --points-reference and --points-measured"
            }
            NoSurface::OnePlace | NoSurface::OnALine => "export it again; this is no surface",
        };
        Self::new(format!("{}: found {why}; {advice}", path.display()))
    }

    /// Two sets that could not be set on each other.
    pub fn not_set(reference: &Path, measured: &Path, why: &RegisterError) -> Self {
        Self::new(format!(
            "{} on {}: {why}",
            measured.display(),
            reference.display()
        ))
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)
    }
}

impl From<ArchiveError> for Trouble {
    fn from(error: ArchiveError) -> Self {
        Self::new(error.to_string())
    }
}

impl From<FormatError> for Trouble {
    fn from(error: FormatError) -> Self {
        Self::new(error.to_string())
    }
}
