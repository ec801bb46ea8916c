//! The fingerprint of a file as it was received: its size and its SHA-256. The only file that knows the hashes.

use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;

use md5::Md5;
use sha1::Sha1;
use sha2::{Digest, Sha256, Sha512};

use crate::ArchiveError;

/// Bytes that are read at once.
const AT_ONCE: usize = 1 << 16;

/// What a file is known again by.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Fingerprint {
    /// SHA-256 of the bytes (FIPS 180-4), in lower-case hexadecimal.
    pub sha256: String,
    /// Size in bytes.
    pub bytes: u64,
}

impl Fingerprint {
    /// Of a file, which is read once.
    ///
    /// # Errors
    /// Where the file can't be opened or read.
    pub fn of(path: &Path) -> Result<Self, ArchiveError> {
        let read = || Self::through(&mut File::open(path)?, &mut io::sink());
        read().map_err(|e| ArchiveError::reading(path, &e))
    }

    /// Of bytes at hand.
    pub fn of_bytes(bytes: &[u8]) -> Self {
        Self {
            sha256: hexadecimal(&Sha256::digest(bytes)),
            bytes: bytes.len() as u64,
        }
    }

    /// Of what is copied from `from` to `to`, byte for byte.
    ///
    /// # Errors
    /// What the system said.
    pub fn through(from: &mut dyn Read, to: &mut dyn Write) -> io::Result<Self> {
        let (sha256, bytes) = digest_through::<Sha256>(from, to)?;
        Ok(Self { sha256, bytes })
    }
}

/// The hashes that a manifest of a bag may be made with (RFC 8493, 2.4 and 3).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Algorithm {
    /// MD5, RFC 1321: read in old bags, never written.
    Md5,
    /// SHA-1, FIPS 180-4: read in old bags, never written.
    Sha1,
    /// SHA-256, FIPS 180-4.
    Sha256,
    /// SHA-512, FIPS 180-4.
    Sha512,
}

impl Algorithm {
    /// All of them.
    pub const ALL: [Algorithm; 4] = [Self::Md5, Self::Sha1, Self::Sha256, Self::Sha512];

    /// The word in the name of a manifest.
    pub fn word(self) -> &'static str {
        match self {
            Self::Md5 => "md5",
            Self::Sha1 => "sha1",
            Self::Sha256 => "sha256",
            Self::Sha512 => "sha512",
        }
    }

    /// How many hexadecimal digits its values have.
    pub fn digits(self) -> usize {
        match self {
            Self::Md5 => 32,
            Self::Sha1 => 40,
            Self::Sha256 => 64,
            Self::Sha512 => 128,
        }
    }

    /// The value of everything that `from` gives, in lower-case hexadecimal, and how many bytes it gave.
    ///
    /// # Errors
    /// What the system said.
    pub fn of(self, from: &mut dyn Read) -> io::Result<(String, u64)> {
        match self {
            Self::Md5 => digest_through::<Md5>(from, &mut io::sink()),
            Self::Sha1 => digest_through::<Sha1>(from, &mut io::sink()),
            Self::Sha256 => digest_through::<Sha256>(from, &mut io::sink()),
            Self::Sha512 => digest_through::<Sha512>(from, &mut io::sink()),
        }
    }
}

fn digest_through<D: Digest>(from: &mut dyn Read, to: &mut dyn Write) -> io::Result<(String, u64)> {
    let mut hash = D::new();
    let mut buffer = vec![0; AT_ONCE];
    let mut bytes = 0;
    loop {
        let n = match from.read(&mut buffer) {
            Ok(0) => return Ok((hexadecimal(&hash.finalize()), bytes)),
            Ok(n) => n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(e),
        };
        hash.update(&buffer[..n]);
        to.write_all(&buffer[..n])?;
        bytes += n as u64;
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        // Writing to a String can't fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    // The published examples of "abc": RFC 1321 A.5, FIPS 180-4 examples.
    #[test]
    fn the_hashes_are_the_published_ones() {
        let published = [
            (Algorithm::Md5, "900150983cd24fb0d6963f7d28e17f72"),
            (Algorithm::Sha1, "a9993e364706816aba3e25717850c26c9cd0d89d"),
            (
                Algorithm::Sha256,
                "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
            ),
            (
                Algorithm::Sha512,
                "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f",
            ),
        ];
        for (algorithm, value) in published {
            let (found, bytes) = algorithm.of(&mut &b"abc"[..]).unwrap();
            assert_eq!((found.as_str(), bytes), (value, 3), "{}", algorithm.word());
            assert_eq!(value.len(), algorithm.digits());
        }
        let print = Fingerprint::of_bytes(b"abc");
        assert_eq!(print.sha256, published[2].1);
        let mut copy = Vec::new();
        assert_eq!(Fingerprint::through(&mut &b"abc"[..], &mut copy).unwrap(), print);
        assert_eq!(copy, b"abc");
    }
}
