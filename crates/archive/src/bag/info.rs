//! `bag-info.txt`: labels and values for whoever opens the bag, among them how much it holds (RFC 8493, 2.2.2).

use super::fault::Findings;
use super::lines::{self, BLANKS};
use crate::name::shown;

/// Its name.
pub const INFO: &str = "bag-info.txt";
/// Its name before version 0.96.
pub const INFO_ONCE: &str = "package-info.txt";
/// The program that made the bag.
pub const AGENT: &str = "Bag-Software-Agent";
/// Bytes and files of the payload, `BYTES.FILES`.
pub const OXUM: &str = "Payload-Oxum";
/// The size for a person.
pub const SIZE: &str = "Bag-Size";

/// How much a payload holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Amount {
    /// Bytes of all files.
    pub bytes: u64,
    /// How many files.
    pub files: u64,
}

/// Reads labels and values in their order, repeats kept; a line that begins with white space goes on with the value above.
pub fn read(name: &str, bytes: &[u8], is_strict: bool, findings: &mut Findings) -> Vec<(String, String)> {
    let Some(text) = lines::read(name, bytes, findings) else {
        return Vec::new();
    };
    let mut pairs: Vec<(String, String)> = Vec::new();
    let mut wrong = Vec::new();
    for (number, line) in (1_usize..).zip(lines::split(text)) {
        let words = line.trim_matches(BLANKS);
        if words.is_empty() {
            continue;
        }
        if line.starts_with(BLANKS) {
            match pairs.last_mut() {
                Some((_, value)) => {
                    value.push(' ');
                    value.push_str(words);
                }
                None => wrong.push(format!(
                    "line {number} goes on with a value, and none came before"
                )),
            }
            continue;
        }
        match pair_in(line, is_strict) {
            Ok(pair) => pairs.push(pair),
            Err(found) => wrong.push(format!("line {number} {found}")),
        }
    }
    findings.lines(name, &wrong);
    pairs
}

fn pair_in(line: &str, is_strict: bool) -> Result<(String, String), String> {
    let Some((label, value)) = line.split_once(':') else {
        return Err(format!("is \"{}\": no label with a colon after it", shown(line)));
    };
    let plain = label.trim_matches(BLANKS);
    if plain.is_empty() {
        return Err("has no label before its colon".into());
    }
    if is_strict && plain != label {
        return Err("has white space between its label and the colon".into());
    }
    // RFC 8493, 2.2.2: a colon, white space, a value.
    if is_strict && !value.is_empty() && !value.starts_with(BLANKS) {
        return Err("has no white space after its colon".into());
    }
    Ok((plain.to_string(), value.trim_matches(BLANKS).to_string()))
}

/// Writes labels and values, a line each.
///
/// # Errors
/// Where a label or a value would not be read back as it is; in words, the label named.
pub fn write(pairs: &[(String, String)]) -> Result<String, String> {
    let mut text = String::new();
    for (label, value) in pairs {
        let is_plain = |text: &str| {
            !text.is_empty()
                && text.trim() == text
                && !text.chars().any(char::is_control)
                && !text.starts_with('\u{FEFF}')
        };
        if !is_plain(label) || label.contains(':') {
            return Err(format!(
                "the label \"{}\" is empty or holds a colon, a control character or a blank at an end",
                shown(label)
            ));
        }
        if !is_plain(value) {
            return Err(format!(
                "the value of \"{label}\" is empty or holds an end of a line, a control character or a blank at an end"
            ));
        }
        text.push_str(&format!("{label}: {value}\n"));
    }
    Ok(text)
}

/// The values under a label, whose letter case makes no difference.
pub fn values<'a>(pairs: &'a [(String, String)], label: &str) -> impl Iterator<Item = &'a str> {
    pairs
        .iter()
        .filter(move |(other, _)| other.eq_ignore_ascii_case(label))
        .map(|(_, value)| value.as_str())
}

/// What `Payload-Oxum` says.
///
/// # Errors
/// Where it stands there twice or is not two whole numbers with a point between; in words.
pub fn amount(pairs: &[(String, String)]) -> Result<Option<Amount>, String> {
    let mut told = values(pairs, OXUM);
    let Some(value) = told.next() else {
        return Ok(None);
    };
    if told.next().is_some() {
        return Err(format!("{OXUM} stands there more than once"));
    }
    let number = |text: &str| {
        let is_whole = text.bytes().all(|b| b.is_ascii_digit());
        text.parse::<u64>().ok().filter(|_| is_whole)
    };
    let parts = value.split_once('.');
    match parts.and_then(|(bytes, files)| Some((number(bytes)?, number(files)?))) {
        Some((bytes, files)) => Ok(Some(Amount { bytes, files })),
        None => Err(format!(
            "{OXUM} is \"{}\", and must be bytes and files, as 1024.3",
            shown(value)
        )),
    }
}

/// A size for a person, to a tenth: `1.4 MB`, 1 kB being 1000 B.
pub fn in_words(bytes: u64) -> String {
    if bytes < 1000 {
        return format!("{bytes} B");
    }
    let mut unit: u128 = 1000;
    let mut tenths = 0;
    for word in ["kB", "MB", "GB", "TB"] {
        tenths = (u128::from(bytes) * 10 + unit / 2) / unit;
        if tenths < 10_000 {
            return format!("{}.{} {word}", tenths / 10, tenths % 10);
        }
        unit *= 1000;
    }
    format!("{}.{} TB", tenths / 10, tenths % 10)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs_of(text: &str, is_strict: bool) -> (Vec<(String, String)>, usize) {
        let mut findings = Findings::default();
        let pairs = read(INFO, text.as_bytes(), is_strict, &mut findings);
        (pairs, findings.faults.len())
    }

    fn pair(label: &str, value: &str) -> (String, String) {
        (label.to_string(), value.to_string())
    }

    // The amount of the example in RFC 8493, 2.2.2.
    #[test]
    fn labels_repeat_and_values_go_on() {
        let text = "Contact-Name: A\r\nContact-Name: B\nExternal-Description: a shell\n  set on\n\tits pads\n\
                    Payload-Oxum: 279164409832.1198\nNote:\n";
        let (pairs, faults) = pairs_of(text, true);
        let expected = [
            pair("Contact-Name", "A"),
            pair("Contact-Name", "B"),
            pair("External-Description", "a shell set on its pads"),
            pair("Payload-Oxum", "279164409832.1198"),
            pair("Note", ""),
        ];
        assert_eq!((pairs.as_slice(), faults), (&expected[..], 0));
        let amount = amount(&pairs).unwrap().unwrap();
        assert_eq!((amount.bytes, amount.files), (279_164_409_832, 1198));
        assert_eq!(values(&pairs, "contact-name").collect::<Vec<_>>(), ["A", "B"]);
    }

    #[test]
    fn bad_lines_are_told() {
        for text in ["  goes on\n", "no colon\n", ": value\n", "Label : value\n"] {
            assert_eq!(pairs_of(text, true).1, 1, "{text}");
        }
        assert_eq!(
            pairs_of("Label : value\n", false),
            (vec![pair("Label", "value")], 0)
        );
    }

    #[test]
    fn an_amount_is_two_whole_numbers() {
        for value in [
            "",
            "12",
            "12.",
            ".3",
            "1,2.3",
            "+12.3",
            "12.3.4",
            "12.3 files",
            "-1.2",
            "99999999999999999999.1",
        ] {
            assert!(amount(&[pair(OXUM, value)]).is_err(), "{value}");
        }
        assert!(amount(&[pair(OXUM, "1.1"), pair("payload-oxum", "1.1")]).is_err());
        assert_eq!(amount(&[]), Ok(None));
        assert_eq!(
            amount(&[pair(OXUM, "0.0")]),
            Ok(Some(Amount { bytes: 0, files: 0 }))
        );
    }

    #[test]
    fn what_is_written_is_read_back() {
        let pairs = [
            pair("Job Number", "17: left floor"),
            pair("Note", "ü"),
            pair("Note", "b"),
        ];
        let text = write(&pairs).unwrap();
        assert_eq!(pairs_of(&text, true), (pairs.to_vec(), 0));
        for (label, value) in [
            ("", "a"),
            ("a:", "b"),
            (" a", "b"),
            ("a", ""),
            ("a", "b\nc: d"),
            ("a", "b "),
            ("a\r", "b"),
        ] {
            assert!(write(&[pair(label, value)]).is_err(), "{label:?} {value:?}");
        }
    }

    #[test]
    fn sizes_are_rounded_to_a_tenth() {
        for (bytes, words) in [
            (0, "0 B"),
            (999, "999 B"),
            (1000, "1.0 kB"),
            (1449, "1.4 kB"),
            (999_949, "999.9 kB"),
            (999_950, "1.0 MB"),
            (42_600_000_000, "42.6 GB"),
            (u64::MAX, "18446744.1 TB"),
        ] {
            assert_eq!(in_words(bytes), words);
        }
    }
}
