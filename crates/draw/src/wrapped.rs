//! A text in as few lines as hold it, broken between words, and cut where it is still too wide.

use crate::canvas::{Canvas, Face};

/// How much narrower is tried each time that lines are made even.
const NARROWER: f32 = 0.96;

/// How a text is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Type {
    /// Height of a line in pixels.
    pub size: f32,
    /// Its face.
    pub face: Face,
}

/// A text in one line where it fits in `width` pixels; else in up to `most`, broken between words (after a hyphen where there
/// is but one word) so that the widest is about as narrow as can be. What the last line doesn't hold is cut.
pub fn in_lines(canvas: &Canvas, of: Type, text: &str, width: f32, most: usize) -> Vec<String> {
    let wide = |line: &str| canvas.text_width(of.size, of.face, line);
    let text = text.trim();
    if text.is_empty() {
        return Vec::new();
    }
    if wide(text) <= width {
        return vec![text.to_string()];
    }
    let spaced = text.contains(char::is_whitespace);
    let (pieces, between): (Vec<&str>, &str) = if spaced {
        (text.split_whitespace().collect(), " ")
    } else {
        (text.split_inclusive('-').collect(), "")
    };
    let filled = |narrow: f32| {
        let mut lines: Vec<String> = Vec::new();
        for piece in &pieces {
            let longer = lines.last().map(|line| format!("{line}{between}{piece}"));
            match (longer, lines.last_mut()) {
                (Some(longer), Some(line)) if wide(&longer) <= narrow => *line = longer,
                _ => lines.push((*piece).to_string()),
            }
        }
        lines
    };
    let mut lines = filled(width);
    if lines.len() > most.max(1) {
        let rest = lines.split_off(most.max(1) - 1);
        lines.push(rest.join(between));
    } else {
        // Made even: as narrow as it still takes no more lines.
        let (count, mut narrow) = (lines.len(), width * NARROWER);
        let holds = |lines: &[String], narrow: f32| lines.iter().all(|line| wide(line) <= narrow);
        loop {
            let even = filled(narrow);
            if even.len() > count || !holds(&even, narrow) {
                break;
            }
            lines = even;
            narrow *= NARROWER;
        }
    }
    lines
        .iter()
        .map(|line| canvas.fitted(of.size, of.face, line, width))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn broken(text: &str, width: f32, most: usize) -> Vec<String> {
        let canvas = Canvas::new(100, 100).unwrap();
        let of = Type {
            size: 23.0,
            face: Face::Regular,
        };
        let lines = in_lines(&canvas, of, text, width, most);
        assert!(
            lines
                .iter()
                .all(|l| canvas.text_width(23.0, Face::Regular, l) <= width)
        );
        lines
    }

    #[test]
    fn what_is_too_wide_is_broken_evenly_and_then_cut() {
        assert_eq!(broken(" trip 3 ", 200.0, 2), ["trip 3"]);
        assert_eq!(broken("2025-11-12", 70.0, 2), ["2025-", "11-12"]);
        assert_eq!(broken("12 Nov 2025", 90.0, 2), ["12 Nov", "2025"]);
        let long = broken(
            "welded the right inner sill to the floor and the tunnel",
            150.0,
            2,
        );
        assert_eq!(long.len(), 2);
        assert!(long[1].ends_with('…') && !long[0].ends_with('…'), "{long:?}");
        assert!(broken("straightening", 60.0, 2)[0].ends_with('…'));
        assert!(broken("  ", 60.0, 2).is_empty());
    }

    #[test]
    fn more_lines_hold_what_two_do_not() {
        let text = "welded the right inner sill to the floor and the tunnel";
        let lines = broken(text, 160.0, 4);
        assert!(lines.len() > 2 && lines.len() <= 4, "{lines:?}");
        assert_eq!(lines.join(" "), text);
        // None is left nearly bare beside a full one.
        let canvas = Canvas::new(100, 100).unwrap();
        let widths: Vec<f32> = lines
            .iter()
            .map(|l| canvas.text_width(23.0, Face::Regular, l))
            .collect();
        let narrowest = widths.iter().copied().fold(f32::INFINITY, f32::min);
        assert!(narrowest > 80.0, "{widths:?}");
    }
}
