//! What several parts of a page are made of: pictures in place, marks, links, and text that is made harmless where a template
//! can't do it.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use record::verdict::{DIFFERS, IN, OUT, TOO_CLOSE, WITHHELD, meaning};

use super::picture::dimensions;
use crate::PageError;
use crate::given::{About, Picture};

/// A picture as it stands in a page.
pub(super) struct Shown {
    pub id: String,
    pub file: String,
    pub caption: String,
    pub width: u32,
    pub height: u32,
    pub base64: String,
    /// Whether it shows a region that is in: printed smaller than what there is something to do about.
    pub is_in: bool,
}

impl Shown {
    /// The caption up to its first colon: `trip 6, 2026-10-02`.
    pub fn called(&self) -> &str {
        let parts = self.caption.split_once(": ");
        parts.map_or(self.caption.as_str(), |(called, _)| called)
    }
}

/// Pictures with the names by which the page points at them, counted from `first`.
pub(super) fn shown<'a>(
    pictures: impl Iterator<Item = &'a Picture>,
    first: usize,
) -> Result<Vec<Shown>, PageError> {
    pictures
        .enumerate()
        .map(|(k, picture)| {
            let (width, height) = dimensions(&picture.png)
                .ok_or_else(|| PageError(format!("{}: the picture is no PNG file", picture.file)))?;
            Ok(Shown {
                id: format!("picture-{}", first + k),
                file: picture.file.clone(),
                caption: picture.caption.clone(),
                width,
                height,
                base64: STANDARD.encode(&picture.png),
                is_in: false,
            })
        })
        .collect()
}

/// Bytes as text.
pub(super) fn base64(bytes: &[u8]) -> String {
    STANDARD.encode(bytes)
}

/// A verdict with its mark, which differs in shape, and what it means.
pub(super) struct Verdict {
    pub words: &'static str,
    pub mark: &'static str,
    pub meaning: &'static str,
}

/// A verdict in the words of [`crate::words::verdict`].
pub(super) fn verdict(words: &'static str) -> Verdict {
    Verdict {
        words,
        mark: mark(words),
        meaning: meaning(words),
    }
}

/// The name of the mark that stands beside a verdict.
pub(super) fn mark(words: &str) -> &'static str {
    match words {
        IN => "in",
        OUT => "out",
        TOO_CLOSE => "close",
        DIFFERS => "differs",
        WITHHELD => "withheld",
        _ => "unseen",
    }
}

/// What the owner says, with the words that stand over it; what he doesn't say stays, to be written in by hand.
pub(super) fn said(about: &About) -> Vec<(&'static str, &str)> {
    let mut all = vec![
        ("Job", about.job.as_str()),
        ("Shell or panel", about.shell.as_str()),
        ("Shop", about.shop.as_str()),
        ("Contact", about.contact.as_str()),
        ("Day", about.day.as_str()),
        ("Measured by", about.measured_by.as_str()),
        ("With", about.instrument.as_str()),
        ("How it stood", about.state.as_str()),
    ];
    if !about.notes.is_empty() {
        all.push(("Notes", about.notes.as_str()));
    }
    all
}

/// JSON that can stand in a script element: no sign in it ends the element or opens a comment.
pub(super) fn json_for_script(json: &str) -> String {
    json.replace('<', "\\u003c")
        .replace('>', "\\u003e")
        .replace('&', "\\u0026")
}

/// A text as a string of a style sheet: everything but letters and digits of ASCII as its number.
pub(super) fn css_string(text: &str) -> String {
    let mut out = String::from("\"");
    for sign in text.chars() {
        if sign.is_ascii_alphanumeric() {
            out.push(sign);
        } else {
            out.push_str(&format!("\\{:x} ", u32::from(sign)));
        }
    }
    out.push('"');
    out
}

/// A name as one step of a link (RFC 3986, 2.1 and 2.3).
pub(super) fn link_step(name: &str) -> String {
    let mut out = String::new();
    for byte in name.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_cannot_leave_its_script() {
        let json = r#"{"name":"</script><!-- & -->"}"#;
        let harmless = json_for_script(json);
        assert!(!harmless.contains(['<', '>', '&']));
        let back: serde_json::Value = serde_json::from_str(&harmless).unwrap();
        let was: serde_json::Value = serde_json::from_str(json).unwrap();
        assert_eq!(back, was);
    }

    #[test]
    fn links_and_strings_hold_any_name() {
        assert_eq!(link_step("more new, than/old"), "more%20new%2C%20than%2Fold");
        assert_eq!(link_step("küche"), "k%C3%BCche");
        assert_eq!(css_string("a\"}<1"), "\"a\\22 \\7d \\3c 1\"");
    }
}
