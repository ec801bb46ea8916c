//! A job file as written: its text, its top table, and every fault of it noted with its line, none final.

use std::ops::Range;
use std::path::{Path, PathBuf};

use cloud::named::spelling::nearest;
use toml::Spanned;
use toml::de::DeTable;

use crate::trouble::Trouble;

/// The job file of a folder, or the file itself.
pub fn of(path: &Path) -> PathBuf {
    if path.is_dir() {
        path.join("job.toml")
    } else {
        path.to_path_buf()
    }
}

/// The folder of a job file.
pub fn folder(file: &Path) -> PathBuf {
    match file.parent() {
        Some(above) if !above.as_os_str().is_empty() => above.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

/// The folder of a job that need not be in order yet.
///
/// # Errors
/// Where there is no job.
pub fn folder_of(path: &Path) -> Result<PathBuf, Trouble> {
    let file = of(path);
    if !file.is_file() {
        return Err(Trouble::new(format!(
            "{}: there is no job; make one with witnessmark start",
            file.display()
        )));
    }
    Ok(folder(&file))
}

/// The text of a job file.
pub fn text_of(path: &Path) -> Result<String, Trouble> {
    let bytes = std::fs::read(path).map_err(|e| Trouble::from(formats::FormatError::io(path, &e)))?;
    String::from_utf8(bytes).map_err(|_| {
        Trouble::new(format!(
            "{}: found bytes that are no text; save it as UTF-8",
            path.display()
        ))
    })
}

/// Faults found so far, each with its line.
pub struct Faults<'a> {
    file: &'a Path,
    text: &'a str,
    found: Vec<(usize, String)>,
    lost: Vec<Lost>,
}

/// A file that the job names and that is not there: what leans on it can't be done, and all else can.
#[derive(Debug, Clone, PartialEq)]
pub struct Lost {
    /// Where it should lie.
    pub path: PathBuf,
    line: usize,
    words: String,
}

impl Lost {
    /// As a fault of the job file.
    pub fn words(&self, file: &Path) -> String {
        format!("{}, line {}: {}", file.display(), self.line, self.words)
    }
}

impl<'a> Faults<'a> {
    pub fn new(file: &'a Path, text: &'a str) -> Self {
        Self {
            file,
            text,
            found: Vec::new(),
            lost: Vec::new(),
        }
    }

    /// Notes a fault at a place of the text.
    pub fn add(&mut self, at: &Range<usize>, words: impl Into<String>) {
        let line = self.line_of(at);
        self.found.push((line, words.into()));
    }

    /// Notes a file that is not there.
    pub fn lost(&mut self, at: &Range<usize>, path: &Path, words: impl Into<String>) {
        self.lost.push(Lost {
            path: path.to_path_buf(),
            line: self.line_of(at),
            words: words.into(),
        });
    }

    fn line_of(&self, at: &Range<usize>) -> usize {
        self.text[..at.start.min(self.text.len())].matches('\n').count() + 1
    }

    /// The files that are not there, where nothing else was found; else all that was found.
    pub fn done(mut self) -> Result<Vec<Lost>, Trouble> {
        if self.found.is_empty() {
            return Ok(self.lost);
        }
        self.found
            .extend(self.lost.into_iter().map(|lost| (lost.line, lost.words)));
        self.found.sort();
        self.found.dedup();
        let lines: Vec<String> = self
            .found
            .iter()
            .map(|(line, words)| format!("{}, line {line}: {words}", self.file.display()))
            .collect();
        Err(Trouble::new(lines.join("\nwitnessmark: ")))
    }
}

/// Parses a file into its top table; faults of the language itself are noted, all that there are.
pub fn parse<'t>(text: &'t str, faults: &mut Faults<'_>) -> Spanned<DeTable<'t>> {
    let (table, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        faults.add(
            &error.span().unwrap_or(0..0),
            format!("{}; mend the line", error.message().trim()),
        );
    }
    table
}

/// `; did you mean "limit"?` where a known word is near, else nothing.
pub fn did_you_mean<'k>(word: &str, known: impl Iterator<Item = &'k str>) -> String {
    nearest(word, known).map_or(String::new(), |near| format!("; did you mean \"{near}\"?"))
}
