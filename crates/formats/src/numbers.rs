//! Numbers as scanners' programs write them.

/// A number in any of the usual spellings (`1`, `-.5`, `1.`, `1E3`, `nan`, `inf`, `-nan(ind)`), with a decimal point.
pub fn number(text: &str) -> Option<f64> {
    // The standard parser takes all of these but the last; "infinity" and "nan" in words are not-finite rows.
    text.parse().ok().or_else(|| {
        let lower = text.trim_start_matches(['-', '+']).to_ascii_lowercase();
        (lower.starts_with("nan(") || lower.starts_with("1.#")).then_some(f64::NAN)
    })
}

/// The same with a decimal comma.
pub fn number_with_comma(text: &str) -> Option<f64> {
    if text.contains('.') || text.matches(',').count() > 1 {
        return None;
    }
    number(&text.replace(',', "."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odd_spellings_are_read() {
        for (text, value) in [("-.5", -0.5), ("1.", 1.0), ("1E3", 1000.0), ("+2", 2.0)] {
            assert_eq!(number(text), Some(value));
        }
        for text in ["nan", "NaN", "-nan(ind)", "1.#QNAN"] {
            assert!(number(text).is_some_and(f64::is_nan), "{text}");
        }
        assert_eq!(number("inf"), Some(f64::INFINITY));
        assert_eq!(number("12a"), None);
        assert_eq!(number(""), None);
        assert_eq!(number_with_comma("1,25"), Some(1.25));
        assert_eq!(number_with_comma("1.000,25"), None);
    }
}
