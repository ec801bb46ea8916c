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
    comment: Option<u8>,
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
        let bytes = with_line_feeds(bytes);
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
            comment,
            reader,
        })
    }

    /// The rows under the heads, each with its line in the file.
    pub fn rows(&mut self) -> impl Iterator<Item = Result<(usize, StringRecord), FormatError>> + '_ {
        std::iter::from_fn(move || {
            let mut record = StringRecord::new();
            match self.reader.read_record(&mut record) {
                Ok(true) => Some(Ok((self.line_of(&record), record))),
                Ok(false) => None,
                Err(error) => Some(Err(no_text(self.path, &error))),
            }
        })
    }

    /// The line on which a row stands. The reader says where it began to look for it: blank lines and comments come before.
    fn line_of(&self, record: &StringRecord) -> usize {
        let Some(began) = record.position() else {
            return 0;
        };
        let bytes = self.reader.get_ref().get_ref();
        let rest = bytes.get(began.byte() as usize..).unwrap_or_default();
        let is_comment = |line: &[u8]| self.comment.is_some_and(|sign| line.first() == Some(&sign));
        let passed = rest
            .split(|b| *b == b'\n')
            .take_while(|line| line.is_empty() || is_comment(line));
        began.line() as usize + passed.count()
    }
}

/// Every line ends with a line feed: the reader counts the lines of a table one short where they end with two bytes, and not
/// at all where they end with a carriage return.
fn with_line_feeds(bytes: Vec<u8>) -> Vec<u8> {
    if !bytes.contains(&b'\r') {
        return bytes;
    }
    let mut out = Vec::with_capacity(bytes.len());
    for (i, byte) in bytes.iter().enumerate() {
        match byte {
            b'\r' if bytes.get(i + 1) == Some(&b'\n') => {}
            b'\r' => out.push(b'\n'),
            _ => out.push(*byte),
        }
    }
    out
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
