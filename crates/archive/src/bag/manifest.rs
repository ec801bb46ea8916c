//! Manifests: a line for each file with its value and its path, for the payload and for the tag files (RFC 8493, 2.1.3 and
//! 2.2.1).

use std::collections::BTreeMap;

use super::fault::Findings;
use super::lines;
use super::path;
use crate::fingerprint::Algorithm;
use crate::name::shown;

/// Which files a manifest lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lists {
    /// Those in `data/`.
    Payload,
    /// Those beside it.
    Tags,
}

impl Lists {
    fn prefix(self) -> &'static str {
        match self {
            Self::Payload => "manifest-",
            Self::Tags => "tagmanifest-",
        }
    }

    /// The name of a manifest.
    pub fn name(self, algorithm: Algorithm) -> String {
        format!("{}{}.txt", self.prefix(), algorithm.word())
    }

    /// The word for the hash in a name, where it is the name of such a manifest.
    pub fn word_in(self, name: &str) -> Option<&str> {
        let word = name.strip_prefix(self.prefix())?.strip_suffix(".txt")?;
        (!word.contains('/')).then_some(word)
    }
}

/// The hash that is meant by the word in a name, where it is a known one.
pub fn algorithm_of(word: &str) -> Option<Algorithm> {
    Algorithm::ALL
        .into_iter()
        .find(|algorithm| algorithm.word().eq_ignore_ascii_case(word))
}

/// A line of a manifest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// The path from the bag's folder.
    pub path: String,
    /// The path as it is written, its codes left as they are.
    pub written: String,
    /// The value in lower-case hexadecimal.
    pub value: String,
    /// Counted from 1.
    pub line: usize,
}

/// A manifest that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Manifest {
    /// Its name.
    pub name: String,
    /// The hash of its values.
    pub algorithm: Algorithm,
    /// Its lines in their order, each path once.
    pub listed: Vec<Listed>,
    /// Is it byte for byte what is written here of its lines?
    pub is_ours: bool,
}

impl Manifest {
    /// Does it list a path?
    pub fn lists(&self, path: &str) -> bool {
        self.listed.iter().any(|listed| listed.path == path)
    }
}

/// Reads a manifest. Every line that is not written as it must be is told and left out; nothing comes of a file of which
/// no line can be read. Before 1.0, not `is_strict`, paths may have the marks of a sum tool before them, `*` or `./`.
pub fn read(
    (name, bytes): (&str, &[u8]),
    algorithm: Algorithm,
    lists: Lists,
    is_strict: bool,
    findings: &mut Findings,
) -> Option<Manifest> {
    let text = lines::read(name, bytes, findings)?;
    let mut listed: Vec<Listed> = Vec::new();
    let mut first: BTreeMap<String, usize> = BTreeMap::new();
    let mut wrong = Vec::new();
    let mut has_marks = false;
    for (number, line) in (1_usize..).zip(lines::split(text)) {
        if line.is_empty() && !is_strict {
            continue;
        }
        let found = value_and_path(line, algorithm).and_then(|(value, written)| {
            let plain = if is_strict { written } else { unmarked(written) };
            has_marks |= plain.len() != written.len();
            listed_in(plain, value, number, lists)
        });
        match found {
            Err(words) => wrong.push(format!("line {number} {words}")),
            Ok(line) => match first.get(&line.path) {
                Some(before) => wrong.push(format!(
                    "line {number} lists \"{}\" again, after line {before}",
                    shown(&line.path)
                )),
                None => {
                    first.insert(line.path.clone(), number);
                    listed.push(line);
                }
            },
        }
    }
    if has_marks {
        findings.note(format!("{name} has paths with the marks of a sum tool, * or ./"));
    }
    findings.lines(name, &wrong);
    let is_ours = write(listed.iter().map(|l| (l.path.as_str(), l.value.as_str()))).as_bytes() == bytes;
    (wrong.is_empty() || !listed.is_empty()).then(|| Manifest {
        name: name.to_string(),
        algorithm,
        listed,
        is_ours,
    })
}

/// Writes a manifest: value, two blanks, path, sorted by path.
pub fn write<'a>(paths_and_values: impl Iterator<Item = (&'a str, &'a str)>) -> String {
    let mut sorted: Vec<(&str, &str)> = paths_and_values.collect();
    sorted.sort_unstable();
    sorted
        .iter()
        .map(|(path, value)| format!("{value}  {}\n", path::encoded(path)))
        .collect()
}

fn value_and_path(line: &str, algorithm: Algorithm) -> Result<(&str, &str), String> {
    let Some((value, written)) = lines::cut(line) else {
        return Err(format!(
            "is \"{}\", and not a value and a path with a blank between",
            shown(line)
        ));
    };
    if value.len() != algorithm.digits() || !value.bytes().all(|b| b.is_ascii_hexdigit()) {
        return Err(format!(
            "does not begin with the {} hexadecimal digits of {}",
            algorithm.digits(),
            algorithm.word()
        ));
    }
    Ok((value, written))
}

fn unmarked(written: &str) -> &str {
    let written = written.strip_prefix('*').unwrap_or(written);
    written.strip_prefix("./").unwrap_or(written)
}

fn listed_in(written: &str, value: &str, line: usize, lists: Lists) -> Result<Listed, String> {
    let path = path::decoded(written);
    path::inside(&path, lists == Lists::Payload)
        .map_err(|words| format!("lists \"{}\", {words}", shown(&path)))?;
    Ok(Listed {
        path,
        written: written.to_string(),
        value: value.to_ascii_lowercase(),
        line,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const NAME: &str = "manifest-md5.txt";
    const VALUE: &str = "49afbd86a1ca9f34b677a3f09655eae9";

    fn read_md5(text: &str, is_strict: bool) -> (Option<Manifest>, Findings) {
        let mut findings = Findings::default();
        let file = (NAME, text.as_bytes());
        let manifest = read(file, Algorithm::Md5, Lists::Payload, is_strict, &mut findings);
        (manifest, findings)
    }

    // The manifest of the example in RFC 8493, 4.1.
    #[test]
    fn the_published_example_is_read() {
        let text = "49afbd86a1ca9f34b677a3f09655eae9 data/27613-h/images/q172.png\n\
                    408ad21d50cef31da4df6d9ed81b01a7 data/27613-h/images/q172.txt\n";
        let (manifest, findings) = read_md5(text, true);
        let manifest = manifest.unwrap();
        assert!(findings.faults.is_empty());
        assert_eq!(manifest.listed[1].path, "data/27613-h/images/q172.txt");
        assert_eq!(manifest.listed[1].value, "408ad21d50cef31da4df6d9ed81b01a7");
        assert!(!manifest.is_ours && read_md5(&text.replace(' ', "  "), true).0.unwrap().is_ours);
    }

    #[test]
    fn what_may_differ_may_differ() {
        let upper = VALUE.to_uppercase();
        let text = format!("{upper} \t data/b  c.txt\r\n{VALUE}  data/100%25%0a.txt\r{VALUE} data/*a");
        let (manifest, findings) = read_md5(&text, true);
        assert!(findings.faults.is_empty(), "{:?}", findings.faults);
        let manifest = manifest.unwrap();
        let paths: Vec<&str> = manifest.listed.iter().map(|l| l.path.as_str()).collect();
        assert_eq!(paths, ["data/b  c.txt", "data/100%\n.txt", "data/*a"]);
        assert_eq!(manifest.listed[0].value, VALUE);
        assert_eq!(manifest.listed[1].written, "data/100%25%0a.txt");
    }

    #[test]
    fn a_bad_line_is_told_with_its_number() {
        let short = &VALUE[1..];
        for line in [
            String::new(),
            VALUE.to_string(),
            format!("{VALUE} "),
            format!(" {VALUE} data/a"),
            format!("{VALUE}data/a"),
            format!("{short} data/a"),
            format!("{short}g data/a"),
            format!("{VALUE}{VALUE} data/a"),
            format!("{VALUE} *data/a"),
            format!("{VALUE} ./data/a"),
            format!("{VALUE} data/../a"),
            format!("{VALUE} /data/a"),
            format!("{VALUE} ~/data/a"),
            format!("{VALUE} bagit.txt"),
            format!("{VALUE} data/first"),
        ] {
            let (manifest, findings) =
                read_md5(&format!("{VALUE} data/first\n{line}\n{VALUE} data/last\n"), true);
            assert_eq!(findings.faults.len(), 1, "{line}");
            assert!(findings.faults[0].words.starts_with("line 2 "), "{line}");
            assert_eq!(manifest.unwrap().listed.len(), 2, "{line}");
        }
        assert!(read_md5("nothing\n", true).0.is_none());
        assert!(read_md5("", true).0.unwrap().is_ours);
    }

    #[test]
    fn sum_tools_marked_their_paths_before_1_0() {
        let (manifest, findings) = read_md5(&format!("{VALUE} *data/a\n{VALUE}  ./data/b\n\n"), false);
        let manifest = manifest.unwrap();
        assert!(findings.faults.is_empty());
        assert_eq!(findings.notes.len(), 1);
        assert_eq!((manifest.lists("data/a"), manifest.lists("data/b")), (true, true));
    }

    #[test]
    fn the_hash_stands_in_the_name() {
        assert_eq!(Lists::Payload.word_in("manifest-sha256.txt"), Some("sha256"));
        assert_eq!(Lists::Payload.word_in("tagmanifest-sha256.txt"), None);
        assert_eq!(Lists::Tags.word_in("tagmanifest-sha224.txt"), Some("sha224"));
        assert_eq!(Lists::Tags.name(Algorithm::Sha256), "tagmanifest-sha256.txt");
        assert_eq!(algorithm_of("SHA512"), Some(Algorithm::Sha512));
        assert_eq!(algorithm_of("sha224"), None);
    }

    #[test]
    fn what_is_written_is_read_back() {
        let text = write([("data/b%", VALUE), ("data/a\n", VALUE)].into_iter());
        assert_eq!(text, format!("{VALUE}  data/a%0A\n{VALUE}  data/b%25\n"));
        let (manifest, _) = read_md5(&text, true);
        assert!(manifest.unwrap().is_ours);
    }
}
