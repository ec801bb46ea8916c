//! Files by their paths, whether they lie in a folder or are packed into one file.

use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

use crate::ArchiveError;

/// A file of a tree.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Entry {
    /// Where it lies in the tree, names joined by `/`.
    pub path: String,
    /// Size in bytes, as the folder or the packing says.
    pub bytes: u64,
}

/// Files by their paths.
pub trait Tree: Sync {
    /// Every file, sorted by path. Folders are not listed; a tree has none that are empty.
    fn entries(&self) -> &[Entry];

    /// Opens the file at a path of [`Tree::entries`].
    ///
    /// # Errors
    /// Where it can't be opened.
    fn open(&self, path: &str) -> Result<Box<dyn Read + '_>, ArchiveError>;

    /// Whether there is a folder of this name at the top, be it empty.
    fn has_folder(&self, name: &str) -> bool {
        let below = format!("{name}/");
        self.entries().iter().any(|entry| entry.path.starts_with(&below))
    }

    /// What the tree is called in messages: its folder or its file.
    fn place(&self) -> &Path;
}

/// A folder and all that is below it.
#[derive(Debug)]
pub struct Folder {
    place: PathBuf,
    entries: Vec<Entry>,
}

impl Folder {
    /// Lists a folder.
    ///
    /// # Errors
    /// Where a folder can't be listed, where a name is no Unicode text, and where something is neither a file nor a folder:
    /// a link leads elsewhere, and what is kept must lie here.
    pub fn list(place: &Path) -> Result<Self, ArchiveError> {
        let mut entries = Vec::new();
        list_into(place, "", &mut entries)?;
        entries.sort();
        Ok(Self {
            place: place.to_path_buf(),
            entries,
        })
    }
}

/// Refuses a place below a folder that a link leads out of it: what is written there would lie elsewhere, and what is read
/// there was made elsewhere. What is not there yet leads nowhere.
///
/// # Errors
/// The first part of the way that leads out.
pub fn refuse_led_out(folder: &Path, place: &Path) -> Result<(), ArchiveError> {
    let (Ok(below), Ok(home)) = (place.strip_prefix(folder), folder.canonicalize()) else {
        return Ok(());
    };
    let mut at = folder.to_path_buf();
    for part in below {
        at.push(part);
        if at.symlink_metadata().is_err() {
            return Ok(());
        }
        // A link that leads to nothing would be written through.
        if !at.canonicalize().is_ok_and(|real| real.starts_with(&home)) {
            return Err(ArchiveError::new(
                &at,
                format!("it is a link that leads out of {}", folder.display()),
                "take the link away, and put what it leads to there itself",
            ));
        }
    }
    Ok(())
}

fn list_into(folder: &Path, above: &str, entries: &mut Vec<Entry>) -> Result<(), ArchiveError> {
    let failed = |e: std::io::Error| ArchiveError::reading(folder, &e);
    for entry in fs::read_dir(folder).map_err(failed)? {
        let entry = entry.map_err(failed)?;
        let path = entry.path();
        let Some(name) = entry.file_name().to_str().map(String::from) else {
            return Err(ArchiveError::new(
                &path,
                "its name is no Unicode text",
                "rename it",
            ));
        };
        // Of the thing itself: a link is told from what it leads to.
        let kind = entry.file_type().map_err(|e| ArchiveError::reading(&path, &e))?;
        if kind.is_dir() {
            list_into(&path, &format!("{above}{name}/"), entries)?;
        } else if kind.is_file() {
            let bytes = entry
                .metadata()
                .map_err(|e| ArchiveError::reading(&path, &e))?
                .len();
            entries.push(Entry {
                path: format!("{above}{name}"),
                bytes,
            });
        } else {
            return Err(ArchiveError::new(
                &path,
                "it is a link or a device, and no file",
                "put the file itself there",
            ));
        }
    }
    Ok(())
}

impl Tree for Folder {
    fn entries(&self) -> &[Entry] {
        &self.entries
    }

    fn open(&self, path: &str) -> Result<Box<dyn Read + '_>, ArchiveError> {
        let path = self.place.join(path);
        let file = File::open(&path).map_err(|e| ArchiveError::reading(&path, &e))?;
        Ok(Box::new(file))
    }

    fn has_folder(&self, name: &str) -> bool {
        self.place.join(name).is_dir()
    }

    fn place(&self) -> &Path {
        &self.place
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_that_is_not_there_yet_leads_nowhere() {
        let folder = tempfile::tempdir().unwrap();
        let job = folder.path().join("job");
        fs::create_dir_all(job.join("results/look")).unwrap();
        for below in ["", "results", "results/look", "results/other", "tape/sheet.csv"] {
            assert_eq!(refuse_led_out(&job, &job.join(below)), Ok(()), "{below}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_link_that_leads_out_is_told_and_one_that_does_not_is_followed() {
        use std::os::unix::fs::symlink;
        let folder = tempfile::tempdir().unwrap();
        let job = folder.path().join("job");
        fs::create_dir_all(job.join("kept")).unwrap();
        fs::create_dir(folder.path().join("elsewhere")).unwrap();
        symlink("kept", job.join("inside")).unwrap();
        symlink("../elsewhere", job.join("results")).unwrap();
        symlink("../gone", job.join("trips")).unwrap();
        assert_eq!(refuse_led_out(&job, &job.join("inside/look")), Ok(()));
        for below in ["results", "results/look", "trips"] {
            let refused = refuse_led_out(&job, &job.join(below)).unwrap_err();
            assert!(refused.found.contains("leads out of"), "{refused}");
            assert_eq!(refused.file, job.join(below.split('/').next().unwrap()));
        }
    }
}
