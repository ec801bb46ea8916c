//! Copying byte for byte, and telling which of the two sides failed.

use std::io::{self, Read, Write};

use crate::Fingerprint;

/// Which side of a copy failed, and what the system said.
#[derive(Debug)]
pub(crate) enum Failed {
    /// The file that was read.
    Reading(io::Error),
    /// The file that was written.
    Writing(io::Error),
}

/// Copies everything, and gives the fingerprint of what was copied.
pub(crate) fn copy(from: &mut dyn Read, to: &mut dyn Write) -> Result<Fingerprint, Failed> {
    let mut from = Watched { from, failed: false };
    let copied = Fingerprint::through(&mut from, to);
    copied.map_err(|e| from.say(e))
}

/// Copies a file that says how many bytes it has; more or fewer are a failure of the reading, and no more than one more
/// is ever written.
pub(crate) fn copy_exactly(from: &mut dyn Read, to: &mut dyn Write, bytes: u64) -> Result<(), Failed> {
    let mut from = Watched { from, failed: false };
    let copied = io::copy(&mut from.by_ref().take(bytes.saturating_add(1)), to);
    match copied {
        Ok(n) if n == bytes => Ok(()),
        Ok(_) => Err(Failed::Reading(io::Error::new(
            io::ErrorKind::InvalidData,
            format!("it does not hold the {bytes} bytes that it should"),
        ))),
        Err(e) => Err(from.say(e)),
    }
}

/// What is read, and whether the reading failed.
struct Watched<'a> {
    from: &'a mut dyn Read,
    failed: bool,
}

impl Watched<'_> {
    fn say(&self, error: io::Error) -> Failed {
        if self.failed {
            Failed::Reading(error)
        } else {
            Failed::Writing(error)
        }
    }
}

impl Read for Watched<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.from.read(buffer);
        if let Err(e) = &read {
            // An interrupted reading is begun again.
            self.failed = e.kind() != io::ErrorKind::Interrupted;
        }
        read
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Broken;

    impl Read for Broken {
        fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
            Err(io::Error::other("broken"))
        }
    }

    impl Write for Broken {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(io::Error::other("broken"))
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn the_side_that_failed_is_told() {
        let mut to = Vec::new();
        assert!(matches!(copy(&mut Broken, &mut to), Err(Failed::Reading(_))));
        assert!(matches!(
            copy(&mut &b"ab"[..], &mut Broken),
            Err(Failed::Writing(_))
        ));
        assert!(matches!(
            copy_exactly(&mut Broken, &mut to, 1),
            Err(Failed::Reading(_))
        ));
        assert!(matches!(
            copy_exactly(&mut &b"ab"[..], &mut Broken, 2),
            Err(Failed::Writing(_))
        ));
    }

    #[test]
    fn neither_more_nor_fewer_bytes_are_taken_than_were_said() {
        for (bytes, fine) in [(2, false), (3, true), (4, false)] {
            let mut to = Vec::new();
            assert_eq!(copy_exactly(&mut &b"abc"[..], &mut to, bytes).is_ok(), fine);
        }
        let mut endless = io::repeat(7);
        let mut to = Vec::new();
        assert!(copy_exactly(&mut endless, &mut to, 10).is_err());
        assert_eq!(to.len(), 11);
    }
}
