//! Names that may name a file of a job or of an archive on any disk, so that nothing leaves its folder.
//!
//! The narrowest disk rules: the characters and device names that Windows keeps for itself (Microsoft, "Naming Files,
//! Paths, and Namespaces"), and the forms in which Unicode writes one name twice (Unicode Standard Annex 15).

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use unicode_normalization::UnicodeNormalization;

/// The longest name that every disk takes, in bytes of UTF-8.
const NAME_BYTES: usize = 255;
/// The longest path, in bytes of UTF-8.
const PATH_BYTES: usize = 1024;

/// Look like a separator or a dot, and no Unicode table says that they stand for one.
const LOOK_ALIKES: [char; 7] = [
    '\u{2044}', '\u{2215}', '\u{2216}', '\u{2571}', '\u{29F5}', '\u{29F8}', '\u{29F9}',
];

/// Is it a name, without separators, that any disk keeps as it is?
///
/// # Errors
/// What was found, to be said after `the name "x" `.
pub fn check(name: &str) -> Result<(), String> {
    if name.len() > NAME_BYTES {
        return Err(format!(
            "is {} bytes long, and {NAME_BYTES} is the most",
            name.len()
        ));
    }
    if let Some(words) = name.chars().find_map(refused) {
        return Err(words);
    }
    shape(name)?;
    if !name.nfc().eq(name.chars()) {
        return Err("has an accent apart from its letter: write it composed (Unicode's form C)".into());
    }
    let plain: String = name.nfkc().collect();
    shape(&plain).map_err(|words| format!("can be taken for \"{}\", which {words}", shown(&plain)))
}

/// Is it a path below a folder, names joined by `/`, that any disk keeps as it is?
///
/// # Errors
/// What was found, to be said after `the name "x" `.
pub fn check_path(path: &str) -> Result<(), String> {
    if path.len() > PATH_BYTES {
        return Err(format!(
            "is {} bytes long, and {PATH_BYTES} is the most",
            path.len()
        ));
    }
    if path.starts_with('/') {
        return Err("begins with \"/\", and must lie below its folder".into());
    }
    if !path.contains('/') {
        return check(path);
    }
    for part in path.split('/') {
        check(part).map_err(|words| format!("has the part \"{}\", which {words}", shown(part)))?;
    }
    Ok(())
}

/// Would a Windows or macOS disk take the two names or paths for one? Letter case, compatible forms, and dots and blanks at
/// the end of a name make no difference there.
pub fn alike(a: &str, b: &str) -> bool {
    folded(a) == folded(b)
}

/// The first two paths of a list that a Windows or macOS disk takes for one, in the order in which they were met: two files,
/// two ways to write a folder, a file in the place of a folder, or one path twice.
pub fn first_alike<'a>(paths: impl Iterator<Item = &'a str>) -> Option<(String, String)> {
    let mut met: BTreeMap<String, &str> = BTreeMap::new();
    let mut folders: BTreeSet<&str> = BTreeSet::new();
    for path in paths {
        for (end, _) in path.match_indices('/') {
            let folder = &path[..end];
            if folders.insert(folder)
                && let Some(other) = met.insert(folded(folder), folder)
            {
                let this = if other == folder { path } else { folder };
                return Some((other.to_string(), this.to_string()));
            }
        }
        if let Some(other) = met.insert(folded(path), path) {
            return Some((other.to_string(), path.to_string()));
        }
    }
    None
}

/// A name or a path as it may be printed: what can't be seen or would move the rest of the line is written out.
pub fn shown(text: &str) -> String {
    let mut line = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_control() || is_unseen(c) {
            // Writing to a String can't fail.
            let _ = write!(line, "{{U+{:04X}}}", u32::from(c));
        } else {
            line.push(c);
        }
    }
    line
}

/// What a Windows or macOS disk knows a path by. Lower case comes first, then upper: only so do all forms of a letter meet.
pub(crate) fn folded(path: &str) -> String {
    let names: Vec<String> = path.split('/').map(folded_name).collect();
    names.join("/")
}

fn folded_name(name: &str) -> String {
    let plain: String = name.nfkc().collect();
    let plain = plain.trim_end_matches(|c: char| c == '.' || c.is_whitespace());
    let cased = plain.to_lowercase().to_uppercase();
    cased.nfkc().collect()
}

/// Why a character may not stand in a name.
fn refused(c: char) -> Option<String> {
    let why = match c {
        '/' | '\\' => "which parts folders",
        ':' => "which Windows keeps for drives",
        '<' | '>' | '"' | '|' | '?' | '*' => "which no Windows disk can hold",
        '%' => "which other programs read as the beginning of a code",
        _ if c.is_control() => "a control character",
        _ if is_unseen(c) => "which can't be seen",
        _ if stands_for_another(c) => "which looks like a separator, a dot or a refused character",
        _ => return None,
    };
    let code = u32::from(c);
    Some(if c.is_ascii_graphic() {
        format!("holds {c}, {why}")
    } else if c.is_control() || is_unseen(c) {
        format!("holds U+{code:04X}, {why}")
    } else {
        format!("holds {c} (U+{code:04X}), {why}")
    })
}

fn stands_for_another(c: char) -> bool {
    let is_told_apart = |plain: char| plain == '.' || "/\\:<>\"|?*%".contains(plain);
    LOOK_ALIKES.contains(&c) || (!c.is_ascii() && c.nfkc().any(is_told_apart))
}

/// Characters without a shape of their own: marks of direction and of joining, fillers, tags (those that Unicode's
/// DerivedCoreProperties.txt calls ignorable by default), and the two that end a line.
fn is_unseen(c: char) -> bool {
    matches!(c,
        '\u{AD}' | '\u{34F}' | '\u{61C}' | '\u{115F}' | '\u{1160}' | '\u{17B4}' | '\u{17B5}' | '\u{180B}'..='\u{180F}'
        | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{3164}'
        | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{FFA0}' | '\u{FFF0}'..='\u{FFFB}' | '\u{1BCA0}'..='\u{1BCA3}'
        | '\u{1D173}'..='\u{1D17A}' | '\u{E0000}'..='\u{E0FFF}')
}

/// What is wrong with a name as a whole.
fn shape(name: &str) -> Result<(), String> {
    let words = if name.is_empty() {
        "is empty"
    } else if name == "." || name == ".." {
        "leads to another folder"
    } else if name.starts_with(char::is_whitespace) {
        "begins with a blank"
    } else if name.ends_with(char::is_whitespace) {
        "ends with a blank, which Windows drops"
    } else if name.ends_with('.') {
        "ends with a dot, which Windows drops"
    } else if is_device(name) {
        "is a device on Windows, whatever its ending"
    } else {
        return Ok(());
    };
    Err(words.into())
}

fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default();
    let stem = stem.trim_end().to_ascii_lowercase();
    let is_numbered = |kind: &str| {
        let digit = stem.strip_prefix(kind).unwrap_or_default();
        digit.chars().count() == 1 && digit.chars().all(|c| c.is_ascii_digit() || "¹²³".contains(c))
    };
    let is_plain = ["con", "prn", "aux", "nul", "conin$", "conout$"].contains(&stem.as_str());
    is_plain || is_numbered("com") || is_numbered("lpt")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ordinary_names_are_taken() {
        for name in [
            "a",
            "scan 3.ply",
            "left floor (2).e57",
            ".hidden",
            "~lock",
            "a..b",
            "Türfalz.csv",
            "1½ in hole.txt",
            "door №4",
            "床.ply",
            "com",
            "com10",
            "console.txt",
            "lpt1a",
            "nullen.txt",
            "a'b,c;d=e+f@g#h!&$^()[]{}-_",
        ] {
            assert_eq!(check(name), Ok(()), "{name}");
        }
        assert_eq!(check(&"x".repeat(255)), Ok(()));
        assert_eq!(check_path("sets/2026/scan 3.ply"), Ok(()));
    }

    #[test]
    fn names_that_lead_elsewhere_are_refused() {
        for name in [
            "",
            ".",
            "..",
            "...",
            "a/b",
            "a\\b",
            "/",
            "C:",
            "c:x",
            "a<",
            "a>",
            "a\"",
            "a|",
            "a?",
            "a*",
            "100%",
            "%2e",
            " a",
            "a ",
            "\u{A0}a",
            "a\u{3000}",
            "a.",
            "a\n",
            "a\rb",
            "a\0",
            "\u{7F}",
            "a\u{85}b",
        ] {
            assert!(check(name).is_err(), "{name:?}");
        }
        for name in [
            "con",
            "CON.ply",
            "prn",
            "Aux.txt",
            "nul.tar.gz",
            "com0",
            "COM9.ply",
            "lpt1",
            "LPT7.x",
            "COM¹",
            "com².txt",
            "lpt³",
            "con .txt",
            "ＣＯＮ",
            "conin$",
        ] {
            let words = check(name).unwrap_err();
            assert!(words.contains("device"), "{name}: {words}");
        }
        assert!(check(&"x".repeat(256)).unwrap_err().contains("256"));
        assert!(check(&"é".repeat(128)).is_err());
    }

    #[test]
    fn what_looks_like_another_is_refused() {
        for code in [
            0x2044, 0x2215, 0x29F8, 0x2571, 0xFF0F, 0xFF3C, 0x2216, 0x29F5, 0xFE68, 0x2024, 0x2025, 0x2026,
            0xFF0E, 0xFF1A, 0xFE52, 0x2100, 0xFE56, 0xFF05, 0x200B, 0x200D, 0x200E, 0x202E, 0x2066, 0x2069,
            0xFEFF, 0xAD, 0x61C, 0x2028, 0xE0041,
        ] {
            let name = format!("a{}b", char::from_u32(code).unwrap());
            let words = check(&name).unwrap_err();
            assert!(words.contains(&format!("U+{code:04X}")), "{words}");
        }
        assert_eq!(check("caf\u{E9}"), Ok(()));
        assert!(check("cafe\u{301}").unwrap_err().contains("write it composed"));
    }

    #[test]
    fn a_path_is_refused_for_one_part() {
        for path in [
            "",
            "/a",
            "a/",
            "a//b",
            "../a",
            "a/../b",
            "./a",
            "a/./b",
            "a\\b",
            "C:/a",
            "a/con.ply",
            "a/b.",
            "a /b",
        ] {
            assert!(check_path(path).is_err(), "{path}");
        }
        let words = check_path("sets/aux.ply").unwrap_err();
        assert!(
            words.starts_with("has the part \"aux.ply\", which is a device"),
            "{words}"
        );
        assert!(check_path(&"a/".repeat(600)).unwrap_err().contains("1200"));
    }

    #[test]
    fn a_disk_that_folds_names_is_foreseen() {
        for (a, b) in [
            ("Scan.PLY", "scan.ply"),
            ("caf\u{E9}", "CAFE\u{301}"),
            ("a.", "a"),
            ("a. .", "A"),
            ("ﬁn", "FIN"),
            ("ΟΔΟΣ", "οδοσ"),
            ("οδος", "οδοσ"),
            ("STRASSE", "straße"),
            ("\u{212A}", "k"),
            ("sets/A", "Sets/a"),
        ] {
            assert!(alike(a, b), "{a} {b}");
        }
        assert!(!alike("a", "b") && !alike("a.b", "ab") && !alike("a/b", "a-b"));
    }

    #[test]
    fn the_first_two_that_collide_are_found() {
        let find = |paths: &[&str]| first_alike(paths.iter().copied());
        let pair = |a: &str, b: &str| Some((a.to_string(), b.to_string()));
        assert_eq!(find(&["a", "b", "c/a", "c/b", "c/d/a"]), None);
        assert_eq!(find(&["a", "b/x", "A"]), pair("a", "A"));
        assert_eq!(find(&["b/x", "B/y"]), pair("b", "B"));
        assert_eq!(find(&["b", "b/y"]), pair("b", "b/y"));
        assert_eq!(find(&["b/y", "B"]), pair("b", "B"));
        assert_eq!(find(&["b/y", "b/y"]), pair("b/y", "b/y"));
    }

    #[test]
    fn what_is_shown_moves_no_line() {
        assert_eq!(shown("a\n\u{202E}b"), "a{U+000A}{U+202E}b");
    }
}
