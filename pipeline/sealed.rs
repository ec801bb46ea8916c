//! The files of a job as they are sealed: all that is kept, and a page in plain text that says what each is.

use std::fmt::Write as _;
use std::io::Read;
use std::path::Path;

use archive::ArchiveError;
use archive::bag::{Checked, FaultKind};
use archive::packed::{Limits, Packed};
use archive::tree::{Entry, Folder, Tree};
use page::About;

use crate::made_from::PROGRAM;
use crate::trouble::Trouble;

/// The page in plain text, first in the bag.
pub const EXPLAINED: &str = "WHAT-IS-HERE.txt";

/// A job's folder with the page that explains it.
pub struct JobTree {
    folder: Folder,
    entries: Vec<Entry>,
    explained: String,
}

impl JobTree {
    /// Lists the job; what begins with a dot is under construction, and no part of it.
    ///
    /// # Errors
    /// Where the folder can't be listed, or holds links.
    pub fn of(folder: &Path, about: &About, day: &str) -> Result<Self, Trouble> {
        let folder = Folder::list(folder)?;
        let kept = |entry: &&Entry| {
            !entry.path.split('/').any(|name| name.starts_with('.')) && entry.path != EXPLAINED
        };
        let mut entries: Vec<Entry> = folder.entries().iter().filter(kept).cloned().collect();
        let explained = explained(about, day, &entries);
        entries.push(Entry {
            path: EXPLAINED.to_string(),
            bytes: explained.len() as u64,
        });
        entries.sort();
        Ok(Self {
            folder,
            entries,
            explained,
        })
    }
}

impl Tree for JobTree {
    fn entries(&self) -> &[Entry] {
        &self.entries
    }

    fn open(&self, path: &str) -> Result<Box<dyn Read + '_>, ArchiveError> {
        if path == EXPLAINED {
            return Ok(Box::new(self.explained.as_bytes()));
        }
        self.folder.open(path)
    }

    fn place(&self) -> &Path {
        self.folder.place()
    }
}

/// A bag, in a folder or in one file.
///
/// # Errors
/// Where it is neither.
pub fn open(bag: &Path) -> Result<Box<dyn Tree>, Trouble> {
    if bag.is_file() {
        return Ok(Box::new(Packed::open(bag, &Limits::default())?));
    }
    Ok(Box::new(Folder::list(bag)?))
}

/// What each file is, for someone who has never heard of this program.
fn explained(about: &About, day: &str, entries: &[Entry]) -> String {
    let mut text = format!(
        "WHAT IS HERE\n\nA job of measuring a car's shell or panels, sealed on {day} by {PROGRAM}.\n\n"
    );
    let said = [
        ("Job", &about.job),
        ("Shop", &about.shop),
        ("Contact", &about.contact),
        ("Shell or panel", &about.shell),
        ("Measured by", &about.measured_by),
        ("With", &about.instrument),
        ("State", &about.state),
        ("Day", &about.day),
        ("Notes", &about.notes),
    ];
    for (what, words) in said.iter().filter(|(_, words)| !words.is_empty()) {
        let _ = writeln!(text, "{what}: {words}");
    }
    text.push_str(READ);
    for (begins, what) in WHAT {
        let count = entries.iter().filter(|e| is_of(&e.path, begins)).count();
        if count > 0 {
            let files = if count == 1 {
                "1 file"
            } else {
                &format!("{count} files")
            };
            let _ = writeln!(text, "{begins:<28} {what} ({files})");
        }
    }
    text.push_str(CHECKED);
    text
}

/// Whether a path is of a kind such as `results/*.png`.
fn is_of(path: &str, kind: &str) -> bool {
    match kind.split_once('*') {
        Some((begins, ends)) => path.starts_with(begins) && path.ends_with(ends),
        None => path == kind,
    }
}

/// The kinds of files of a job, and what each holds.
const WHAT: [(&str, &str); 14] = [
    (
        "job.toml",
        "what was asked: the sets, their units, regions, checks, comparisons (TOML, plain text)",
    ),
    (
        "log.csv",
        "what was done, by day, and the SHA-256 of each set when it was received",
    ),
    (
        "sets/*",
        "the points as they were received, never changed: PLY, STL, OBJ, E57 or text",
    ),
    (
        "results/*/result.json",
        "everything that a comparison found; lengths in mm, angles in degrees",
    ),
    ("results/*.csv", "the same as tables, the unit in each head"),
    (
        "results/*.png",
        "pictures: pale within the limit, orange with dots proud, purple with lines shy",
    ),
    (
        "results/*/deviation.ply",
        "the reference's points (mirrored, where it is of the other side), each with its deviation and its state",
    ),
    ("results/*.glb", "the same for any viewer of glTF 2.0"),
    (
        "results/*.html",
        "the page to read in a browser; it holds all that it shows",
    ),
    ("results/*.pdf", "the page to print"),
    ("results/*.xlsx", "the tables as a workbook"),
    (
        "pages/*",
        "pages of the whole job: one to read, one to print for the next shop",
    ),
    ("tape/*", "distances that were foretold, and what the tape read"),
    (
        "trips/*",
        "figures over the trips in and out of the jig; the metal before and after each; each view over them",
    ),
];

const READ: &str = "
HOW TO READ IT

Axes: X rearward, Y to the right as seated, Z up from the table; right-handed. Lengths in result.json are millimetres
(1 in = 25.4 mm exactly). A deviation is + where the metal is proud of the reference, to its outside, and - where it is shy.
\"pm\" is half of the 95 % band. A set's own unit is declared in job.toml or in the file itself.
Positions only: nothing here speaks of strength, weld quality, hidden corrosion or crash behaviour. Figures hold to the
pm given, on the day, in that state.

THE FILES

";

const CHECKED: &str = "
HOW TO CHECK IT

This folder is the payload of a bag after BagIt 1.0 (RFC 8493). The file manifest-sha256.txt above it lists the SHA-256 of
every file; any program for bags checks it, and so does this one in the folder above: sha256sum -c manifest-sha256.txt
";

/// The payload of a bag: what is below `data/`, without the files that are not whole, each under the name that it was sealed by.
pub struct Payload<'a> {
    bag: &'a dyn Tree,
    entries: Vec<Entry>,
    /// Where each lies in the bag, in the order of the entries.
    lies_in: Vec<&'a str>,
}

impl<'a> Payload<'a> {
    /// Of a bag that was checked.
    pub fn of(bag: &'a dyn Tree, checked: &Checked) -> Self {
        let bad = |path: &str| {
            let mut faults = checked.faults.iter();
            faults.any(|fault| fault.path == path && fault.kind != FaultKind::Missing)
        };
        let named = |entry: &'a Entry| {
            let sealed_as = checked.renamed.get(&entry.path).unwrap_or(&entry.path);
            let path = sealed_as.strip_prefix("data/")?.to_string();
            let bytes = entry.bytes;
            Some((Entry { path, bytes }, entry.path.as_str()))
        };
        let whole = bag.entries().iter().filter(|entry| !bad(&entry.path));
        let mut both: Vec<(Entry, &'a str)> = whole.filter_map(named).collect();
        both.sort();
        let (entries, lies_in) = both.into_iter().unzip();
        Self {
            bag,
            entries,
            lies_in,
        }
    }
}

impl Tree for Payload<'_> {
    fn entries(&self) -> &[Entry] {
        &self.entries
    }

    fn open(&self, path: &str) -> Result<Box<dyn Read + '_>, ArchiveError> {
        let found = self
            .entries
            .binary_search_by(|entry| entry.path.as_str().cmp(path));
        match found {
            Ok(k) => self.bag.open(self.lies_in[k]),
            Err(_) => self.bag.open(&format!("data/{path}")),
        }
    }

    fn place(&self) -> &Path {
        self.bag.place()
    }
}
