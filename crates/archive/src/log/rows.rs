//! Rows of comma-separated text (RFC 4180), read whether commas or semicolons part their fields.

use std::borrow::Cow;

/// The fields of the first row of a text, and how many bytes it takes with its end (RFC 4180). The first comma or
/// semicolon of a row is what parts its fields: a spreadsheet may have changed the rows above, and not those added since.
pub(super) fn row(text: &str) -> Option<(Vec<String>, usize)> {
    let mut fields = Vec::new();
    let mut separator = None;
    let mut at = 0;
    loop {
        let (value, taken) = field(&text[at..], separator)?;
        fields.push(value);
        at += taken;
        let rest = &text[at..];
        match rest.chars().next() {
            None => return Some((fields, at)),
            Some('\n') => return Some((fields, at + 1)),
            Some('\r') => return Some((fields, at + 2)),
            Some(other) => {
                separator = Some(other);
                at += 1;
            }
        }
    }
}

/// The first field of a text, and how many bytes it takes without what ends it: a separator, `\n`, `\r\n` or the end.
fn field(text: &str, separator: Option<char>) -> Option<(String, usize)> {
    let parts = |c: char| separator.map_or(c == ',' || c == ';', |s| c == s);
    let Some(quoted) = text.strip_prefix('"') else {
        let end = text.find(|c: char| c == '\n' || parts(c)).unwrap_or(text.len());
        let mut value = &text[..end];
        if text[end..].starts_with('\n') {
            value = value.strip_suffix('\r').unwrap_or(value);
        }
        let whole = !value.contains('"');
        return whole.then(|| (value.to_string(), value.len()));
    };
    let mut value = String::new();
    let mut rest = quoted;
    loop {
        let end = rest.find('"')?;
        value.push_str(&rest[..end]);
        rest = &rest[end + 1..];
        // Two quotes stand for one.
        match rest.strip_prefix('"') {
            Some(more) => {
                value.push('"');
                rest = more;
            }
            None => break,
        }
    }
    let ends =
        rest.is_empty() || rest.starts_with('\n') || rest.starts_with("\r\n") || rest.starts_with(parts);
    ends.then(|| (value, text.len() - rest.len()))
}

/// A field as it is written: in quotes where it holds what would end it.
pub(super) fn quoted(field: &str) -> Cow<'_, str> {
    if field.contains([',', ';', '"', '\n', '\r']) {
        Cow::Owned(format!("\"{}\"", field.replace('"', "\"\"")))
    } else {
        Cow::Borrowed(field)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(text: &str) -> Option<Vec<String>> {
        row(text).map(|(fields, _)| fields)
    }

    #[test]
    fn a_row_ends_where_its_line_ends_and_not_within_quotes() {
        let text = "a,\"b, \"\"c\"\"\r\nd\",e\r\nnext";
        let (found, taken) = row(text).unwrap();
        assert_eq!(found, ["a", "b, \"c\"\r\nd", "e"]);
        assert_eq!(&text[taken..], "next");
        assert_eq!(row("a,b"), Some((vec!["a".into(), "b".into()], 3)));
        assert_eq!(row(",\n"), Some((vec![String::new(), String::new()], 2)));
    }

    #[test]
    fn the_first_separator_of_a_row_is_its_only_one() {
        assert_eq!(fields("a;b,c;d\n").unwrap(), ["a", "b,c", "d"]);
        assert_eq!(fields("\"a\",b;c\n").unwrap(), ["a", "b;c"]);
    }

    #[test]
    fn what_is_not_whole_is_no_row() {
        for text in ["a,\"open", "a,\"open\nb,\"c\",d\n", "a,b\"c,d\n", "a,\"b\"c\n"] {
            assert_eq!(row(text), None, "{text}");
        }
    }

    // Every text of four of the characters that matter comes back as it was written.
    #[test]
    fn what_is_written_is_read() {
        let letters = ['a', '"', ',', ';', '\n', '\r'];
        for n in 0..6_usize.pow(4) {
            let text: String = (0..4).map(|i| letters[n / 6_usize.pow(i) % 6]).collect();
            let line = format!("first,{},{}\n", quoted(&text), quoted("last"));
            assert_eq!(fields(&line).unwrap(), ["first", text.as_str(), "last"]);
        }
    }
}
