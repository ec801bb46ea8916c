//! What is wrong with a bag: which file, in which way, in words.

use std::collections::BTreeMap;

/// In which way something is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FaultKind {
    /// It is there, and not as it was.
    Altered,
    /// It is listed, and not there.
    Missing,
    /// It is there, and not listed.
    Extra,
    /// It is there unchanged, under another name.
    Renamed,
    /// It is not written as a bag has it.
    Malformed,
    /// It could not be read here, so nothing is said of it.
    NotRead,
}

impl FaultKind {
    /// In a word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Altered => "altered",
            Self::Missing => "missing",
            Self::Extra => "extra",
            Self::Renamed => "renamed",
            Self::Malformed => "malformed",
            Self::NotRead => "not read",
        }
    }
}

/// One thing that is wrong with a bag.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// In which way.
    pub kind: FaultKind,
    /// Of which file, from the bag's folder. Of a foreign bag it may hold what must not be printed: see
    /// [`crate::name::shown`].
    pub path: String,
    /// What was found, fit to be printed.
    pub words: String,
}

/// Lines of one file that are told one by one; of a spoilt file the rest is counted.
const LINES_TOLD: usize = 10;

/// What a look at a bag brings up.
#[derive(Debug, Default)]
pub struct Findings {
    /// What is wrong.
    pub faults: Vec<Fault>,
    /// What is worth knowing, and not wrong.
    pub notes: Vec<String>,
    /// Files that are there under another name, each with the name under which it is listed.
    pub renamed: BTreeMap<String, String>,
}

impl Findings {
    /// Something is wrong.
    pub fn fault(&mut self, kind: FaultKind, path: &str, words: impl Into<String>) {
        self.faults.push(Fault {
            kind,
            path: path.to_string(),
            words: words.into(),
        });
    }

    /// Something is worth knowing.
    pub fn note(&mut self, words: impl Into<String>) {
        self.notes.push(words.into());
    }

    /// Lines of a file are wrong, each told with its number.
    pub fn lines(&mut self, path: &str, lines: &[String]) {
        for words in lines.iter().take(LINES_TOLD) {
            self.fault(FaultKind::Malformed, path, words);
        }
        if lines.len() > LINES_TOLD {
            let rest = lines.len() - LINES_TOLD;
            self.fault(
                FaultKind::Malformed,
                path,
                format!("{rest} more of its lines are wrong"),
            );
        }
    }

    /// The faults in order: a file that is told twice in one way, by two manifests, is told once.
    pub fn sorted(mut self) -> Self {
        self.faults.sort();
        self.faults.dedup_by(|later, first| {
            let is_same = later.kind == first.kind && later.path == first.path;
            is_same && (first.kind != FaultKind::Malformed || later.words == first.words)
        });
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spoilt_file_is_told_shortly() {
        let mut findings = Findings::default();
        let lines: Vec<String> = (1..=500).map(|n| format!("line {n} is wrong")).collect();
        findings.lines("manifest-md5.txt", &lines);
        assert_eq!(findings.faults.len(), 11);
        assert!(findings.faults[10].words.starts_with("490 more"));
    }

    #[test]
    fn one_fault_is_told_once() {
        let mut findings = Findings::default();
        findings.fault(FaultKind::Missing, "b", "by one");
        findings.fault(FaultKind::Missing, "b", "by another");
        findings.fault(FaultKind::Altered, "c", "by one");
        let faults = findings.sorted().faults;
        let told: Vec<_> = faults.iter().map(|f| (f.kind, f.path.as_str())).collect();
        assert_eq!(told, [(FaultKind::Altered, "c"), (FaultKind::Missing, "b")]);
    }
}
