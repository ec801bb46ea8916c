//! A line of the log: what it is about, and how it is written and read.

use super::day::is_day;
use super::rows::quoted;

/// The heads of the columns.
pub(super) const HEADS: [&str; 7] = ["day", "time", "what", "words", "file", "bytes", "sha256"];

/// What a line of the log is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// The job was begun.
    Started,
    /// A set was taken in.
    Set,
    /// Something was done to the car or the panel.
    Operation,
    /// A comparison was run.
    Ran,
    /// Readings of the tape came back.
    Taped,
    /// The job was sealed.
    Sealed,
    /// The job was brought back from a sealed one.
    Unsealed,
    /// A word that is none of ours, as it stands there.
    Other(String),
}

impl What {
    /// The word in the log.
    pub fn word(&self) -> &str {
        match self {
            Self::Started => "started",
            Self::Set => "set",
            Self::Operation => "operation",
            Self::Ran => "ran",
            Self::Taped => "taped",
            Self::Sealed => "sealed",
            Self::Unsealed => "unsealed",
            Self::Other(word) => word,
        }
    }

    /// From the word in the log.
    pub fn parse(word: &str) -> Self {
        match word {
            "started" => Self::Started,
            "set" => Self::Set,
            "operation" => Self::Operation,
            "ran" => Self::Ran,
            "taped" => Self::Taped,
            "sealed" => Self::Sealed,
            "unsealed" => Self::Unsealed,
            other => Self::Other(other.to_string()),
        }
    }
}

/// A line of the log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// The day, as in 2026-11-26; something else only where another program wrote it so.
    pub day: String,
    /// The time of the day, as in 14:03.
    pub time: String,
    /// What it is about.
    pub what: What,
    /// What was done, in his words.
    pub words: String,
    /// The file it is about; empty where it is about none.
    pub file: String,
    /// Size of the file in bytes.
    pub bytes: Option<u64>,
    /// SHA-256 of the file, in lower-case hexadecimal; empty where it is about none.
    pub sha256: String,
}

/// Whether there are as many fields as columns; a spreadsheet may add empty ones.
pub(super) fn is_row(fields: &[String]) -> bool {
    is_empty(fields) || (fields.len() >= HEADS.len() && is_empty(&fields[HEADS.len()..]))
}

pub(super) fn is_empty(fields: &[String]) -> bool {
    fields.iter().all(|field| field.trim().is_empty())
}

pub(super) fn is_head(fields: &[String]) -> bool {
    fields.iter().zip(HEADS).all(|(field, head)| field.trim() == head)
}

/// A row as an entry. What can't be read in it is left out and warned of.
pub(super) fn entry(fields: &[String], warn: &mut dyn FnMut(&str)) -> Entry {
    let trimmed = |i: usize| fields[i].trim();
    let (day, bytes, sha256) = (trimmed(0), trimmed(5), trimmed(6));
    if !is_day(day) {
        warn(&format!(
            "the day \"{day}\" is kept as it is, but counts for no trip; write it as in 2026-11-26"
        ));
    }
    let size: Option<u64> = bytes.parse().ok();
    if size.is_none() && !bytes.is_empty() {
        warn(&format!("\"{bytes}\" is no number of bytes, and is left out"));
    }
    let is_print = sha256.len() == 64 && sha256.bytes().all(|b| b.is_ascii_hexdigit());
    if !is_print && !sha256.is_empty() {
        warn("its sha256 is not whole, and is left out");
    }
    Entry {
        day: day.to_string(),
        time: trimmed(1).to_string(),
        what: What::parse(trimmed(2)),
        words: fields[3].clone(),
        file: fields[4].clone(),
        bytes: size,
        sha256: if is_print {
            sha256.to_ascii_lowercase()
        } else {
            String::new()
        },
    }
}

/// An entry as a line, without its end.
pub(super) fn line(entry: &Entry, separator: &str) -> String {
    let bytes = entry.bytes.map_or_else(String::new, |b| b.to_string());
    let fields: [&str; 7] = [
        &entry.day,
        &entry.time,
        entry.what.word(),
        &entry.words,
        &entry.file,
        &bytes,
        &entry.sha256,
    ];
    fields.map(quoted).join(separator)
}
