//! `bagit.txt`: that it is a bag, of which version, and how its tag files are written (RFC 8493, 2.1.1).

use std::fmt;

use super::fault::{FaultKind, Findings};
use super::lines::{self, BLANKS};
use crate::name::shown;

/// Its name.
pub const DECLARATION: &str = "bagit.txt";
/// As it is written here.
pub const WRITTEN: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

const VERSION: &str = "BagIt-Version";
const ENCODING: &str = "Tag-File-Character-Encoding";

/// A version of BagIt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Version {
    /// Before the point.
    pub major: u32,
    /// After the point, two digits where the first is 0.
    pub minor: u32,
}

impl Version {
    /// RFC 8493.
    pub const RFC: Version = Version { major: 1, minor: 0 };

    const KNOWN: [Version; 6] = [
        Version { major: 0, minor: 93 },
        Version { major: 0, minor: 94 },
        Version { major: 0, minor: 95 },
        Version { major: 0, minor: 96 },
        Version { major: 0, minor: 97 },
        Version::RFC,
    ];
}

impl fmt::Display for Version {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}", self.major, self.minor)
    }
}

/// What `bagit.txt` says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Declaration {
    /// The version, where it is a known one.
    pub version: Option<Version>,
    /// Are the tag files said to be UTF-8, or is nothing else said?
    pub is_utf8: bool,
}

/// Nothing that can be read is said.
pub const NOTHING: Declaration = Declaration {
    version: None,
    is_utf8: true,
};

/// Reads it. From 1.0 on not a blank may be wrong; the drafts before left white space around the colon open.
pub fn read(bytes: &[u8], findings: &mut Findings) -> Declaration {
    let Some(text) = lines::read(DECLARATION, bytes, findings) else {
        return NOTHING;
    };
    let lines = lines::split(text);
    // With lines too many or too few, what each of them lacks says nothing more.
    let mut unsaid = Findings::default();
    let findings = if lines.len() == 2 {
        findings
    } else {
        let words = format!("it has {} lines, and must have exactly two", lines.len());
        findings.fault(FaultKind::Malformed, DECLARATION, words);
        &mut unsaid
    };
    let line = |at: usize| lines.get(at).copied().unwrap_or_default();
    let version = version_in(line(0), findings);
    let is_strict = version.is_none_or(|v| v >= Version::RFC);
    Declaration {
        version,
        is_utf8: is_utf8_in(line(1), is_strict, findings),
    }
}

fn version_in(line: &str, findings: &mut Findings) -> Option<Version> {
    let Some(value) = value_in(line, VERSION) else {
        findings.fault(
            FaultKind::Malformed,
            DECLARATION,
            format!("line 1 is \"{}\", and must be \"{VERSION}: 1.0\"", shown(line)),
        );
        return None;
    };
    let Some(version) = Version::KNOWN.into_iter().find(|v| v.to_string() == value) else {
        let words = format!("version \"{}\" is not known here; 0.93 to 1.0 are", shown(value));
        findings.fault(FaultKind::NotRead, DECLARATION, words);
        return None;
    };
    if version >= Version::RFC && line != format!("{VERSION}: {version}") {
        findings.fault(
            FaultKind::Malformed,
            DECLARATION,
            "line 1 has white space other than the one blank after the colon",
        );
    }
    Some(version)
}

fn is_utf8_in(line: &str, is_strict: bool, findings: &mut Findings) -> bool {
    let value = value_in(line, ENCODING).filter(|value| !value.is_empty());
    let Some(value) = value else {
        findings.fault(
            FaultKind::Malformed,
            DECLARATION,
            format!("line 2 is \"{}\", and must be \"{ENCODING}: UTF-8\"", shown(line)),
        );
        return true;
    };
    if is_strict && line != format!("{ENCODING}: {value}") {
        findings.fault(
            FaultKind::Malformed,
            DECLARATION,
            "line 2 has white space other than the one blank after the colon",
        );
    }
    let is_utf8 = value.eq_ignore_ascii_case("UTF-8");
    if !is_utf8 {
        let words = format!(
            "its tag files are said to be {}, which can't be read here: this program reads UTF-8 only",
            shown(value)
        );
        findings.fault(FaultKind::NotRead, DECLARATION, words);
    }
    is_utf8
}

fn value_in<'a>(line: &'a str, label: &str) -> Option<&'a str> {
    let (before, value) = line.split_once(':')?;
    (before.trim_matches(BLANKS) == label).then(|| value.trim_matches(BLANKS))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kinds(text: &str) -> (Declaration, Vec<FaultKind>) {
        let mut findings = Findings::default();
        let declaration = read(text.as_bytes(), &mut findings);
        (declaration, findings.faults.iter().map(|f| f.kind).collect())
    }

    #[test]
    fn what_is_written_is_read() {
        let (declaration, faults) = kinds(WRITTEN);
        assert_eq!(declaration.version, Some(Version::RFC));
        assert!(declaration.is_utf8 && faults.is_empty());
        let (_, faults) = kinds(&WRITTEN.replace('\n', "\r\n"));
        assert!(faults.is_empty());
    }

    #[test]
    fn one_blank_too_many_is_a_fault_from_1_0_on() {
        for (from, to) in [
            ("BagIt-Version:", "BagIt-Version :"),
            (": 1.0", ":  1.0"),
            (": 1.0", ":1.0"),
            (": 1.0", ":\t1.0"),
            ("1.0\n", "1.0 \n"),
            ("BagIt", " BagIt"),
            ("Encoding:", "Encoding :"),
            (": UTF", ":  UTF"),
            ("UTF-8\n", "UTF-8 \n"),
        ] {
            let text = WRITTEN.replace(from, to);
            assert_eq!(kinds(&text).1, [FaultKind::Malformed], "{text}");
            let old = text.replace("1.0", "0.97");
            assert!(kinds(&old).1.is_empty(), "{old}");
        }
    }

    #[test]
    fn other_lines_and_versions_are_told() {
        let utf8 = "Tag-File-Character-Encoding: UTF-8\n";
        for (text, expected) in [
            (format!("{WRITTEN}\n"), FaultKind::Malformed),
            ("BagIt-Version: 1.0\n".to_string(), FaultKind::Malformed),
            (format!("\u{FEFF}{WRITTEN}"), FaultKind::Malformed),
            (format!("bagit-version: 1.0\n{utf8}"), FaultKind::Malformed),
            (format!("BagIt-Version: 2.0\n{utf8}"), FaultKind::NotRead),
            (format!("BagIt-Version: 0.98\n{utf8}"), FaultKind::NotRead),
            (format!("BagIt-Version: 1.00\n{utf8}"), FaultKind::NotRead),
            (format!("BagIt-Version: .97\n{utf8}"), FaultKind::NotRead),
            (WRITTEN.replace("UTF-8", "UTF-16"), FaultKind::NotRead),
            (WRITTEN.replace("UTF-8", "ISO-8859-1"), FaultKind::NotRead),
        ] {
            let (_, faults) = kinds(&text);
            assert!(faults.contains(&expected), "{text}: {faults:?}");
        }
        assert!(!kinds(&WRITTEN.replace("UTF-8", "UTF-16")).0.is_utf8);
    }
}
