//! Sets as they were received: the first time that a set is seen its fingerprint goes into the log, and from then on the file
//! must stay what it was.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use archive::Fingerprint;
use archive::log::{self, Entry, What};
use record::InputRecord;

use crate::clock;
use crate::progress::Progress;
use crate::trouble::Trouble;

/// Where sets lie in a job's folder: what lies there is kept as it was received.
pub const SETS: &str = "sets";
/// The log of a job.
pub const LOG: &str = "log.csv";

/// The log of a job, and the sets that it has on record.
pub struct Received {
    log: PathBuf,
    /// Every entry, oldest first.
    pub entries: Vec<Entry>,
    /// Lines of the log that could not be read.
    pub warnings: Vec<String>,
    /// Sets by their files, from the job's folder.
    pub sets: BTreeMap<String, Fingerprint>,
}

impl Received {
    /// Reads the log of a job; it is empty where there is none yet.
    ///
    /// # Errors
    /// Where it is there and can't be read.
    pub fn of(folder: &Path) -> Result<Self, Trouble> {
        let log = folder.join(LOG);
        let read = log::read(&log)?;
        Ok(Self {
            log,
            sets: log::sets(&read.entries),
            entries: read.entries,
            warnings: read.warnings,
        })
    }

    /// As [`Self::of`]; lines that could not be read are told.
    ///
    /// # Errors
    /// Where it is there and can't be read.
    pub fn told(folder: &Path, progress: &Progress) -> Result<Self, Trouble> {
        let received = Self::of(folder)?;
        for words in &received.warnings {
            progress.warning(words);
        }
        Ok(received)
    }

    /// Adds an entry of now; `file` and `print` where it is about a file.
    ///
    /// # Errors
    /// Where the log can't be written.
    pub fn note(
        &mut self,
        what: What,
        words: impl Into<String>,
        about: Option<(&str, &Fingerprint)>,
    ) -> Result<(), Trouble> {
        self.add(Entry {
            words: words.into(),
            file: about.map_or_else(String::new, |(file, _)| file.to_string()),
            bytes: about.map(|(_, print)| print.bytes),
            sha256: about.map_or_else(String::new, |(_, print)| print.sha256.clone()),
            ..of_now(what)
        })
    }

    /// Adds an entry.
    ///
    /// # Errors
    /// Where the log can't be written.
    pub fn add(&mut self, entry: Entry) -> Result<(), Trouble> {
        log::append(&self.log, &entry)?;
        if entry.what == What::Set && !self.sets.contains_key(&entry.file) {
            let print = Fingerprint {
                sha256: entry.sha256.clone(),
                bytes: entry.bytes.unwrap_or(0),
            };
            self.sets.insert(entry.file.clone(), print);
        }
        self.entries.push(entry);
        Ok(())
    }

    /// A set that is not what it was when it was received is not worked with.
    ///
    /// # Errors
    /// Where one of the files differs from the record.
    pub fn refuse_changed(&self, inputs: &[InputRecord]) -> Result<(), Trouble> {
        for input in inputs {
            self.refuse_other(&input.file, &input.sha256, input.bytes)?;
        }
        Ok(())
    }

    /// As [`Self::refuse_changed`], of one file as it is now.
    ///
    /// # Errors
    /// Where it differs from the record.
    pub fn refuse_other(&self, file: &str, sha256: &str, bytes: u64) -> Result<(), Trouble> {
        let Some(was) = self.sets.get(file).filter(|was| was.sha256 != sha256) else {
            return Ok(());
        };
        let first = self.entries.iter().find(|e| e.file == file);
        Err(Trouble::new(format!(
            "{file}: it is not what was received on {}: {} bytes with SHA-256 {}… were on record, {bytes} bytes with {}… are there; put the received file back, or take the new one in under another name",
            first.map_or("an earlier day", |e| e.day.as_str()),
            was.bytes,
            short(&was.sha256),
            short(sha256)
        )))
    }

    /// Puts the sets among the files on record that are not there yet.
    ///
    /// # Errors
    /// Where the log can't be written.
    pub fn note_new(&mut self, inputs: &[InputRecord]) -> Result<(), Trouble> {
        for input in inputs {
            if !input.file.starts_with(&format!("{SETS}/")) || self.sets.contains_key(&input.file) {
                continue;
            }
            let print = Fingerprint {
                sha256: input.sha256.clone(),
                bytes: input.bytes,
            };
            self.note(What::Set, "found in the folder", Some((&input.file, &print)))?;
        }
        Ok(())
    }
}

/// An entry of now that says nothing yet.
pub fn of_now(what: What) -> Entry {
    let now = clock::now();
    Entry {
        day: now.day,
        time: now.time,
        what,
        words: String::new(),
        file: String::new(),
        bytes: None,
        sha256: String::new(),
    }
}

/// The first digits of a fingerprint, enough to tell two apart by eye.
pub fn short(sha256: &str) -> &str {
    sha256.get(..12).unwrap_or(sha256)
}
