//! A table with heads as it is written: comma or semicolon, with a byte order mark or without.

use std::io::Cursor;
use std::path::Path;

use csv::StringRecord;

use crate::FormatError;

/// A table whose heads have been read.
pub struct Table<'a> {
    path: &'a Path,
    /// The heads, in small letters.
    pub heads: Vec<String>,
    /// Whether semicolons part the fields, so that a comma may be a decimal comma.
    pub semicolons: bool,
    reader: csv::Reader<Cursor<Vec<u8>>>,
}

impl<'a> Table<'a> {
    /// Reads the heads of a table; lines that begin with `comment` are passed over.
    ///
    /// # Errors
    /// A [`FormatError`] where the file can't be read, or its heads are no text.
    pub fn open(path: &'a Path, comment: Option<u8>) -> Result<Self, FormatError> {
        let mut bytes = std::fs::read(path).map_err(|e| FormatError::io(path, &e))?;
        if bytes.starts_with(b"\xef\xbb\xbf") {
            bytes.drain(..3);
        }
        let first = bytes.split(|b| *b == b'\n').next().unwrap_or_default();
        let semicolons = first.contains(&b';');
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(if semicolons { b';' } else { b',' })
            .comment(comment)
            .trim(csv::Trim::All)
            .flexible(true)
            .from_reader(Cursor::new(bytes));
        let heads = reader
            .headers()
            .map_err(|e| no_text(path, &e))?
            .iter()
            .map(str::to_ascii_lowercase)
            .collect();
        Ok(Self {
            path,
            heads,
            semicolons,
            reader,
        })
    }

    /// The rows under the heads, each with its line in the file.
    pub fn rows(&mut self) -> impl Iterator<Item = Result<(usize, StringRecord), FormatError>> + '_ {
        let path = self.path;
        self.reader.records().map(move |record| {
            let record = record.map_err(|e| no_text(path, &e))?;
            Ok((record.position().map_or(0, |p| p.line() as usize), record))
        })
    }
}

/// A column that must be there and is not.
pub fn no_column(path: &Path, heads: &[String], wanted: &str, advice: &str) -> FormatError {
    let found = format!(
        "no column headed \"{wanted}\" (the heads are {})",
        heads.join(", ")
    );
    FormatError::at_line(path, 1, found, advice)
}

fn no_text(path: &Path, error: &csv::Error) -> FormatError {
    let line = error.position().map_or(1, |p| p.line() as usize);
    FormatError::at_line(path, line, "a row that is no text", "save the table as UTF-8 CSV")
}
