//! The lines of a tag file: UTF-8 without a byte order mark, each ended by LF, CR or both (RFC 8493, 2).

use super::fault::{FaultKind, Findings};

/// The white space that parts what stands in a line.
pub const BLANKS: [char; 2] = [' ', '\t'];

/// The text of a tag file. A byte order mark is told and left out, so that the rest can still be read.
pub fn read<'a>(name: &str, bytes: &'a [u8], findings: &mut Findings) -> Option<&'a str> {
    let bytes = if let Some(rest) = bytes.strip_prefix(b"\xEF\xBB\xBF") {
        findings.fault(
            FaultKind::Malformed,
            name,
            "it begins with a byte order mark, and must not",
        );
        rest
    } else {
        bytes
    };
    match std::str::from_utf8(bytes) {
        Ok(text) => Some(text),
        Err(e) => {
            let before = bytes[..e.valid_up_to()].iter();
            let line = 1 + before.filter(|b| **b == b'\n').count();
            let words = format!("line {line} is no UTF-8, so the file can't be read here");
            findings.fault(FaultKind::NotRead, name, words);
            None
        }
    }
}

/// The lines of a text, without their ends.
pub fn split(text: &str) -> Vec<&str> {
    let mut lines = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let (line, end) = rest.split_at(rest.find(['\n', '\r']).unwrap_or(rest.len()));
        lines.push(line);
        rest = end
            .strip_prefix("\r\n")
            .or_else(|| end.strip_prefix(['\n', '\r']))
            .unwrap_or_default();
    }
    lines
}

/// A line in two at its first white space, which may be any length.
pub fn cut(line: &str) -> Option<(&str, &str)> {
    let (head, rest) = line.split_at(line.find(BLANKS)?);
    Some((head, rest.trim_start_matches(BLANKS)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_end_of_a_line_is_known() {
        assert_eq!(split("a\nb\r\nc\rd"), ["a", "b", "c", "d"]);
        assert_eq!(split("a\n\nb\r\r\n"), ["a", "", "b", ""]);
        assert_eq!(split(""), [""; 0]);
    }

    #[test]
    fn a_line_is_cut_at_its_first_blanks_only() {
        assert_eq!(cut("ab \t data/a b "), Some(("ab", "data/a b ")));
        assert_eq!(cut("ab"), None);
    }

    #[test]
    fn what_is_no_utf8_is_told_with_its_line() {
        let mut findings = Findings::default();
        assert_eq!(read("x.txt", b"a\nb\xFF\n", &mut findings), None);
        assert!(findings.faults[0].words.starts_with("line 2"));
        assert_eq!(read("x.txt", b"\xEF\xBB\xBFa", &mut findings), Some("a"));
        assert_eq!(findings.faults[1].kind, FaultKind::Malformed);
    }
}
