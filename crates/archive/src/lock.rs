//! The lock of a folder: who changes a job is alone in it, who reads it may be one of many.

use std::fs::{File, OpenOptions, TryLockError};
use std::io;
use std::path::Path;

use crate::ArchiveError;

/// The file in the folder that is locked. It is empty, and stays.
pub const FILE: &str = ".lock";

/// A lock that is held until this is dropped. The system lets go of it when the process ends, however it ends, so that
/// none is ever left behind.
#[derive(Debug)]
pub struct Lock {
    held: Option<File>,
}

impl Lock {
    /// Whether there is a lock at all: a folder that can only be read, or a disk that can't lock, has none.
    pub fn is_held(&self) -> bool {
        self.held.is_some()
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // Closing lets go as well, but not at once on every system.
        if let Some(file) = &self.held {
            let _ = file.unlock();
        }
    }
}

/// For reading: others may read meanwhile, and none may change anything. `doing` says what is to be done, as in "check
/// it", for the advice. Where the folder can only be read, or its disk can't lock, it goes on without a lock.
///
/// # Errors
/// Where another is changing something in it, and where the folder is not there.
pub fn shared(folder: &Path, doing: &str) -> Result<Lock, ArchiveError> {
    let path = folder.join(FILE);
    // Where the file can't be made it may be there all the same, made by one who could.
    let file = match open(&path).or_else(|_| File::open(&path)) {
        Ok(file) => file,
        Err(_) if folder.is_dir() => return Ok(Lock { held: None }),
        Err(e) => return Err(ArchiveError::reading(folder, &e)),
    };
    match file.try_lock_shared() {
        Ok(()) => Ok(Lock { held: Some(file) }),
        Err(TryLockError::WouldBlock) => Err(busy(folder, doing)),
        Err(TryLockError::Error(_)) => Ok(Lock { held: None }),
    }
}

/// For changing: none may read or change anything meanwhile. `doing` says what is to be done, as in "seal it", for the
/// advice.
///
/// # Errors
/// Where another is at work in it, where the folder can't be written, and where its disk can't lock.
pub fn exclusive(folder: &Path, doing: &str) -> Result<Lock, ArchiveError> {
    let file = open(&folder.join(FILE)).map_err(|e| match e.kind() {
        io::ErrorKind::NotFound => ArchiveError::reading(folder, &e),
        io::ErrorKind::ReadOnlyFilesystem | io::ErrorKind::PermissionDenied => ArchiveError::new(
            folder,
            "nothing can be written into it",
            format!("copy it to where you may write, and {doing} there; nothing was changed"),
        ),
        _ => ArchiveError::writing(folder, &e),
    })?;
    match file.try_lock() {
        Ok(()) => Ok(Lock { held: Some(file) }),
        Err(TryLockError::WouldBlock) => Err(busy(folder, doing)),
        Err(TryLockError::Error(e)) => Err(ArchiveError::new(
            folder,
            format!("its disk can't lock a file (\"{e}\"), so nobody can be kept out meanwhile"),
            "copy the folder to another disk and work there",
        )),
    }
}

fn open(path: &Path) -> io::Result<File> {
    OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .open(path)
}

fn busy(folder: &Path, doing: &str) -> ArchiveError {
    ArchiveError::new(
        folder,
        "another witnessmark is at work in it",
        format!("wait until it has ended, and {doing} then; nothing was changed"),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn many_may_read_and_one_may_change() {
        let folder = tempfile::tempdir().unwrap();
        let one = shared(folder.path(), "check it").unwrap();
        let two = shared(folder.path(), "check it").unwrap();
        assert!(one.is_held() && two.is_held());
        let refused = exclusive(folder.path(), "seal it").unwrap_err();
        assert_eq!(refused.found, "another witnessmark is at work in it");
        assert!(refused.advice.contains("seal it then; nothing was changed"));
        drop(one);
        assert!(exclusive(folder.path(), "seal it").is_err());
        drop(two);
        let alone = exclusive(folder.path(), "seal it").unwrap();
        assert!(alone.is_held());
        assert!(shared(folder.path(), "check it").is_err());
        assert!(exclusive(folder.path(), "seal it").is_err());
        drop(alone);
        assert!(shared(folder.path(), "check it").unwrap().is_held());
        // The file of the lock stays, and is empty.
        assert_eq!(fs::metadata(folder.path().join(FILE)).unwrap().len(), 0);
    }

    #[test]
    fn a_folder_that_is_not_there_is_told_and_one_that_cannot_be_locked_is_read_all_the_same() {
        let folder = tempfile::tempdir().unwrap();
        let gone = folder.path().join("gone");
        assert!(
            shared(&gone, "check it")
                .unwrap_err()
                .found
                .contains("no such file")
        );
        assert!(
            exclusive(&gone, "seal it")
                .unwrap_err()
                .found
                .contains("no such file")
        );
        // What is in the way of the file stands for a folder that can't be written: that holds for a superuser too.
        fs::create_dir_all(folder.path().join(FILE).join("in the way")).unwrap();
        assert!(exclusive(folder.path(), "seal it").is_err());
        let _lock = shared(folder.path(), "check it").unwrap();
    }
}
