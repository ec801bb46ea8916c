//! What stopped the archive: which file or folder, what was found, what to do.

use std::io;
use std::path::{Path, PathBuf};

/// Why something could not be kept, sealed, checked or brought back.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}: {found}; {advice}", .file.display())]
pub struct ArchiveError {
    /// The file or folder, as it was given.
    pub file: PathBuf,
    /// What was found there.
    pub found: String,
    /// What to do about it.
    pub advice: String,
}

impl ArchiveError {
    /// Trouble with a file or folder.
    pub fn new(file: &Path, found: impl Into<String>, advice: impl Into<String>) -> Self {
        Self {
            file: file.to_path_buf(),
            found: found.into(),
            advice: advice.into(),
        }
    }

    /// What the system said when a file was opened or read.
    pub fn reading(file: &Path, error: &io::Error) -> Self {
        let (found, advice) = match error.kind() {
            io::ErrorKind::NotFound => ("no such file", "check the name and the folder"),
            io::ErrorKind::PermissionDenied => ("no permission to read it", "ask for the right to read it"),
            io::ErrorKind::IsADirectory => ("found a folder", "name a file in it"),
            _ => return Self::new(file, format!("it could not be read (\"{error}\")"), "try again"),
        };
        Self::new(file, found, advice)
    }

    /// What the system said when a file or folder was written.
    pub fn writing(file: &Path, error: &io::Error) -> Self {
        let (found, advice) = match error.kind() {
            io::ErrorKind::PermissionDenied => {
                ("no permission to write there", "name a folder that is yours")
            }
            io::ErrorKind::StorageFull => (
                "the disk is full",
                "make room and do it again; nothing was changed",
            ),
            io::ErrorKind::ReadOnlyFilesystem => (
                "it can only be read",
                "name a folder on another disk, or copy the job to one",
            ),
            io::ErrorKind::NotFound => ("the folder above it is not there", "make it, or name another"),
            io::ErrorKind::NotADirectory => ("a file is in the way", "name another folder"),
            _ => {
                return Self::new(
                    file,
                    format!("it could not be written (\"{error}\")"),
                    "nothing was changed; try again",
                );
            }
        };
        Self::new(file, found, advice)
    }
}
