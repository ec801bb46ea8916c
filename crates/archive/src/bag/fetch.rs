//! `fetch.txt`: files of the payload that were left out, and where they lay (RFC 8493, 2.2.3). Nothing is fetched here.

use std::collections::BTreeMap;

use super::fault::Findings;
use super::lines;
use super::path;
use crate::name::shown;

/// Its name.
pub const FETCH: &str = "fetch.txt";

/// The paths that it lists, each with its line.
pub fn read(bytes: &[u8], findings: &mut Findings) -> BTreeMap<String, usize> {
    let mut listed = BTreeMap::new();
    let Some(text) = lines::read(FETCH, bytes, findings) else {
        return listed;
    };
    let mut wrong = Vec::new();
    for (number, line) in (1_usize..).zip(lines::split(text)) {
        match path_in(line) {
            Ok(path) => {
                listed.entry(path).or_insert(number);
            }
            Err(words) => wrong.push(format!("line {number} {words}")),
        }
    }
    findings.lines(FETCH, &wrong);
    listed
}

fn path_in(line: &str) -> Result<String, String> {
    let parts = lines::cut(line).and_then(|(place, rest)| Some((place, lines::cut(rest)?)));
    let Some((place, (length, written))) = parts.filter(|(place, _)| !place.is_empty()) else {
        return Err(format!(
            "is \"{}\", and not a place, a length and a path",
            shown(line)
        ));
    };
    if !is_address(place) {
        return Err(format!("has \"{}\", which is no address", shown(place)));
    }
    if length != "-" && !length.bytes().all(|b| b.is_ascii_digit()) {
        return Err(format!(
            "has the length \"{}\" after \"{}\", and must have bytes or -",
            shown(length),
            shown(place)
        ));
    }
    let path = path::decoded(written);
    path::inside(&path, true).map_err(|words| format!("lists \"{}\", {words}", shown(&path)))?;
    Ok(path)
}

/// An absolute URI begins with a scheme and a colon (RFC 3986, 3.1).
fn is_address(place: &str) -> bool {
    place.split_once(':').is_some_and(|(scheme, rest)| {
        let plain = |c: char| c.is_ascii_alphanumeric() || "+-.".contains(c);
        scheme.starts_with(|c: char| c.is_ascii_alphabetic()) && scheme.chars().all(plain) && !rest.is_empty()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // The first line is one of the example in RFC 8493, 4.2.
    #[test]
    fn places_lengths_and_paths_are_read() {
        let text = "http://WB20.Stanford.Edu/gov-06-2006.arc.gz 26583985 data/gov-06-2006.arc.gz\r\n\
                    http://a.example/b%20c -  data/b c\n";
        let mut findings = Findings::default();
        let listed = read(text.as_bytes(), &mut findings);
        assert!(findings.faults.is_empty());
        assert_eq!((listed["data/gov-06-2006.arc.gz"], listed["data/b c"]), (1, 2));
    }

    #[test]
    fn bad_lines_are_told() {
        for line in [
            "",
            "http://a.example/b",
            "http://a.example/b 12",
            "http://a.example/b data/b",
            "http://a.example/b 12k data/b",
            "http://a.example/b -1 data/b",
            "http://a.example/b 12 bagit.txt",
            "http://a.example/b 12 data/../../b",
            " 12 data/b",
        ] {
            let mut findings = Findings::default();
            read(format!("{line}\n").as_bytes(), &mut findings);
            assert_eq!(findings.faults.len(), 1, "{line}");
        }
    }
}
