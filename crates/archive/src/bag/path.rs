//! Paths as a manifest writes them: from the bag's folder, names joined by `/`, ends of lines and `%` as codes (RFC 8493,
//! 2.1.3).

/// Where a bag keeps the files that it is made for.
pub const PAYLOAD: &str = "data/";

/// A path as it is written in a manifest.
pub fn encoded(path: &str) -> String {
    path.replace('%', "%25").replace('\n', "%0A").replace('\r', "%0D")
}

/// A path from how it is written. A `%` that begins none of the three codes stands for itself: programs write it so.
pub fn decoded(written: &str) -> String {
    let mut path = String::with_capacity(written.len());
    let mut rest = written;
    while let Some(at) = rest.find('%') {
        path.push_str(&rest[..at]);
        let code = rest.get(at + 1..at + 3).unwrap_or_default();
        let character = match code.to_ascii_uppercase().as_str() {
            "0A" => Some('\n'),
            "0D" => Some('\r'),
            "25" => Some('%'),
            _ => None,
        };
        let length = if character.is_some() { 3 } else { 1 };
        path.push(character.unwrap_or('%'));
        rest = &rest[at + length..];
    }
    path.push_str(rest);
    path
}

/// Does a path stay in the bag, and in the part of it that is meant?
///
/// # Errors
/// What it is instead, to be said after the path.
pub fn inside(path: &str, is_payload: bool) -> Result<(), &'static str> {
    let has_drive =
        path.as_bytes().get(1) == Some(&b':') && path.starts_with(|c: char| c.is_ascii_alphabetic());
    let words = if path.is_empty() {
        "which names no file"
    } else if path.starts_with(['/', '\\']) || has_drive {
        "an absolute path"
    } else if path.starts_with('~') {
        "which leads to someone's own folder"
    } else if path.split(['/', '\\']).any(|name| name == "..") {
        "which leads out of its folder"
    } else if path.split('/').any(|name| name.is_empty() || name == ".") {
        "which is not written plainly, from name to name"
    } else if is_payload && !path.starts_with(PAYLOAD) {
        "which is not in data/"
    } else if !is_payload && path.starts_with(PAYLOAD) {
        "which is in data/"
    } else {
        return Ok(());
    };
    Err(words)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_characters_are_codes_and_no_more() {
        for path in [
            "data/a b",
            "data/a\nb",
            "data/a\r\nb",
            "data/100%",
            "data/%0A",
            "data/%25é%",
        ] {
            let written = encoded(path);
            assert!(!written.contains(['\n', '\r']));
            assert_eq!(decoded(&written), path);
        }
        assert_eq!(encoded("a%\n\rb"), "a%25%0A%0Db");
        assert_eq!(decoded("a%0ab%0d%25%20%é%2"), "a\nb\r%%20%é%2");
    }

    #[test]
    fn nothing_leads_out() {
        for path in [
            "",
            "/etc/passwd",
            "\\\\host\\x",
            "C:/x",
            "c:x",
            "~/x",
            "~root/x",
            "../x",
            "data/../x",
            "data/a/../../x",
            "data\\..\\x",
            "./data/x",
            "data//x",
            "data/x/",
            "data/",
            "data",
            "dato/x",
        ] {
            assert!(inside(path, true).is_err(), "{path}");
        }
        assert!(inside("data/x", false).is_err() && inside("../x", false).is_err());
        assert_eq!(inside("data/a..b/~x", true), Ok(()));
        assert_eq!(inside("meta/x.txt", false), Ok(()));
    }
}
