//! What stopped a file from being read: which file, where in it, what was found, what to do.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

/// Where in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The file as a whole.
    Whole,
    /// A line, counted from 1.
    Line(usize),
    /// A byte, counted from 0.
    Byte(u64),
}

/// Why a file could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct FormatError {
    /// The file as it was given.
    pub file: PathBuf,
    /// Where in it.
    pub place: Place,
    /// What was found there.
    pub found: String,
    /// What to do about it.
    pub advice: String,
}

impl FormatError {
    /// Trouble with the file as a whole.
    pub fn whole(file: &Path, found: impl Into<String>, advice: impl Into<String>) -> Self {
        Self {
            file: file.to_path_buf(),
            place: Place::Whole,
            found: found.into(),
            advice: advice.into(),
        }
    }

    /// Trouble in a line, counted from 1.
    pub fn at_line(file: &Path, line: usize, found: impl Into<String>, advice: impl Into<String>) -> Self {
        Self {
            place: Place::Line(line),
            ..Self::whole(file, found, advice)
        }
    }

    /// Trouble at a byte, counted from 0.
    pub fn at_byte(file: &Path, byte: u64, found: impl Into<String>, advice: impl Into<String>) -> Self {
        Self {
            place: Place::Byte(byte),
            ..Self::whole(file, found, advice)
        }
    }

    /// What the system said when the file was opened or read.
    pub fn io(file: &Path, error: &io::Error) -> Self {
        let (found, advice) = match error.kind() {
            io::ErrorKind::NotFound => ("no such file", "check the name and the folder"),
            io::ErrorKind::PermissionDenied => ("no permission to read it", "ask for the right to read it"),
            io::ErrorKind::IsADirectory => ("a folder", "name a file in it"),
            _ => return Self::whole(file, format!("\"{error}\" from the system"), "try again"),
        };
        Self::whole(file, found, advice)
    }
}

impl fmt::Display for FormatError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file.display())?;
        match self.place {
            Place::Whole => {}
            Place::Line(line) => write!(f, ", line {line}")?,
            Place::Byte(byte) => write!(f, ", byte {byte}")?,
        }
        write!(f, ": found {}; {}", self.found, self.advice)
    }
}

/// A text cut to what fits in a message.
pub fn shortened(text: &str) -> String {
    const MOST: usize = 60;
    if text.chars().count() <= MOST {
        return text.to_string();
    }
    text.chars().take(MOST).chain("…".chars()).collect()
}
