//! A file in the making: hidden beside its place, locked while it is written, and put there without overwriting anything.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::process;
use std::sync::atomic::{AtomicU64, Ordering};

/// A file that is being written. Dropped, its temporary name is removed; what was put in place stays.
#[derive(Debug)]
pub(crate) struct Temporary {
    path: PathBuf,
    file: File,
}

impl Temporary {
    /// Begins a file in `folder` under a name that begins with `prefix` and that nothing else has.
    ///
    /// # Errors
    /// What the system said.
    pub(crate) fn create(folder: &Path, prefix: &str) -> io::Result<Self> {
        static MADE: AtomicU64 = AtomicU64::new(0);
        loop {
            let number = MADE.fetch_add(1, Ordering::Relaxed);
            let path = folder.join(format!("{prefix}{}-{number}", process::id()));
            let file = match OpenOptions::new()
                .read(true)
                .write(true)
                .create_new(true)
                .open(&path)
            {
                Ok(file) => file,
                // Left behind by a process that had our number.
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists => continue,
                Err(e) => return Err(e),
            };
            // Between the making and the locking another run may have taken it for one left behind.
            let ours = !matches!(file.try_lock(), Err(TryLockError::WouldBlock)) && path.exists();
            if ours {
                return Ok(Self { path, file });
            }
        }
    }

    /// The file, to write into and to read from.
    pub(crate) fn file(&self) -> &File {
        &self.file
    }

    /// Gives the file its name. What has the name already is never overwritten: that is an error of the kind
    /// `AlreadyExists`.
    ///
    /// # Errors
    /// What the system said; nothing is in the place then that was not there before.
    pub(crate) fn put_in_place(&self, place: &Path) -> io::Result<()> {
        match fs::hard_link(&self.path, place) {
            Ok(()) => Ok(()),
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists => Err(e),
            // A disk that knows no links (a memory stick): looked first, then renamed.
            Err(_) => match fs::symlink_metadata(place) {
                Ok(_) => Err(io::ErrorKind::AlreadyExists.into()),
                Err(e) if e.kind() == io::ErrorKind::NotFound => fs::rename(&self.path, place),
                Err(e) => Err(e),
            },
        }
    }
}

impl Drop for Temporary {
    fn drop(&mut self) {
        // After a renaming it is gone already.
        let _ = fs::remove_file(&self.path);
    }
}

/// Removes what killed runs left in `folder` under names that begin with `prefix`. One that is being written is locked,
/// and stays; so does what can't be removed, which is in nobody's way.
pub(crate) fn clear(folder: &Path, prefix: &str) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let ours = entry.file_name().to_string_lossy().starts_with(prefix)
            && entry.file_type().is_ok_and(|kind| kind.is_file());
        if !ours {
            continue;
        }
        let path = entry.path();
        if let Ok(file) = File::open(&path)
            && file.try_lock().is_ok()
        {
            let _ = fs::remove_file(&path);
        }
    }
}

/// Makes the names in a folder outlast a power cut, where the system can.
pub(crate) fn sync_folder(folder: &Path) {
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    #[test]
    fn nothing_is_overwritten_and_no_temporary_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("kept");
        for (bytes, fine) in [("first", true), ("second", false)] {
            let temporary = Temporary::create(folder.path(), ".taking-").unwrap();
            temporary.file().write_all(bytes.as_bytes()).unwrap();
            let put = temporary.put_in_place(&place);
            assert_eq!(put.is_ok(), fine);
            if let Err(e) = put {
                assert_eq!(e.kind(), io::ErrorKind::AlreadyExists);
            }
        }
        assert_eq!(fs::read(&place).unwrap(), b"first");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn what_was_left_behind_is_cleared_and_what_is_being_written_is_not() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(".taking-1-0"), "half").unwrap();
        fs::write(folder.path().join("scan.ply"), "whole").unwrap();
        let living = Temporary::create(folder.path(), ".taking-").unwrap();
        clear(folder.path(), ".taking-");
        assert!(!folder.path().join(".taking-1-0").exists());
        assert!(folder.path().join("scan.ply").exists());
        assert!(living.path.exists());
        let path = living.path.clone();
        drop(living);
        assert!(!path.exists());
    }
}
