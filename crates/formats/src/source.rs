//! A file as it was received: its path, its size and its SHA-256.

use std::fmt::Write;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use crate::FormatError;

/// A file and the fingerprint by which it is known again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFile {
    /// The path as given.
    pub path: PathBuf,
    /// Size in bytes.
    pub bytes: u64,
    /// SHA-256 of the bytes (FIPS 180-4), in lower-case hexadecimal.
    pub sha256: String,
}

impl SourceFile {
    /// Reads the file once to take its fingerprint.
    ///
    /// # Errors
    /// Where the file can't be opened or read.
    pub fn of(path: &Path) -> Result<Self, FormatError> {
        let mut file = File::open(path).map_err(|e| FormatError::io(path, &e))?;
        let mut hash = Sha256::new();
        let mut buffer = vec![0; 1 << 20];
        let mut bytes = 0;
        loop {
            let n = file.read(&mut buffer).map_err(|e| FormatError::io(path, &e))?;
            if n == 0 {
                break;
            }
            hash.update(&buffer[..n]);
            bytes += n as u64;
        }
        let mut sha256 = String::with_capacity(64);
        for byte in hash.finalize() {
            // Writing to a String can't fail.
            let _ = write!(sha256, "{byte:02x}");
        }
        Ok(Self {
            path: path.to_path_buf(),
            bytes,
            sha256,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // FIPS 180-4 example: SHA-256 of "abc".
    #[test]
    fn the_fingerprint_is_the_published_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc");
        std::fs::write(&path, "abc").unwrap();
        let source = SourceFile::of(&path).unwrap();
        assert_eq!(source.bytes, 3);
        assert_eq!(
            source.sha256,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
