//! The type of the printed pages: which glyphs a line has, how wide it is, and where it is broken.

use std::ops::Range;

use ab_glyph::{Font, FontRef};

use crate::PageError;

/// A printer's point, mm.
pub(super) const MM_PER_POINT: f32 = 25.4 / 72.0;
/// How far the type reaches above and below the line it stands on, in sizes of it (Noto Sans, from its own tables).
const ABOVE: f32 = 1.069;
const BELOW: f32 = 0.293;

/// How a line is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    pub size_pt: f32,
    pub bold: bool,
    /// 0 black, 255 white.
    pub grey: u8,
}

impl Style {
    /// Black and regular.
    pub fn plain(size_pt: f32) -> Self {
        Self {
            size_pt,
            bold: false,
            grey: 0,
        }
    }

    pub fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// Grey, for what is said beside; dark enough for a bad printer.
    pub fn pale(self) -> Self {
        Self { grey: 80, ..self }
    }

    pub fn sized(self, size_pt: f32) -> Self {
        Self { size_pt, ..self }
    }

    /// From one line to the next, mm.
    pub fn line_mm(self) -> f32 {
        (ABOVE + BELOW) * self.size_pt * MM_PER_POINT
    }

    /// From the top of a line down to where its letters stand, mm.
    pub fn above_mm(self) -> f32 {
        ABOVE * self.size_pt * MM_PER_POINT
    }

    /// From where its letters stand down to the bottom of a line, mm.
    #[cfg(test)]
    pub fn below_mm(self) -> f32 {
        BELOW * self.size_pt * MM_PER_POINT
    }
}

/// A glyph of a line: its number in the face, its width in sizes of the type, the bytes of the words that it stands for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    pub glyph: u16,
    pub width_em: f32,
    pub bytes: Range<usize>,
}

/// Both faces (Noto Sans, SIL Open Font Licence 1.1).
pub(super) struct Faces {
    regular: FontRef<'static>,
    bold: FontRef<'static>,
    units_per_em: f32,
}

impl Faces {
    /// Reads them.
    ///
    /// # Errors
    /// Where they can't be read, which is a fault of the program.
    pub fn new() -> Result<Self, PageError> {
        let broken = || PageError("the type can't be read".to_string());
        let face = |bytes| FontRef::try_from_slice(bytes).map_err(|_| broken());
        let regular = face(notosans::REGULAR_TTF)?;
        Ok(Self {
            units_per_em: regular.units_per_em().ok_or_else(broken)?,
            regular,
            bold: face(notosans::BOLD_TTF)?,
        })
    }

    /// The glyphs of a line, one a letter.
    pub fn placed(&self, words: &str, style: Style) -> Vec<Placed> {
        let font = if style.bold { &self.bold } else { &self.regular };
        words
            .char_indices()
            .map(|(at, letter)| {
                let glyph = font.glyph_id(letter);
                Placed {
                    glyph: glyph.0,
                    width_em: font.h_advance_unscaled(glyph) / self.units_per_em,
                    bytes: at..at + letter.len_utf8(),
                }
            })
            .collect()
    }

    /// How wide a line is, mm.
    pub fn width_mm(&self, words: &str, style: Style) -> f32 {
        let ems: f32 = self.placed(words, style).iter().map(|p| p.width_em).sum();
        ems * style.size_pt * MM_PER_POINT
    }

    /// The words in lines of at most this width; a word that is wider by itself is broken.
    pub fn lines(&self, words: &str, style: Style, width_mm: f32) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in parts(words) {
            let longer = if line.is_empty() {
                word.clone()
            } else {
                format!("{line} {word}")
            };
            if self.width_mm(&longer, style) <= width_mm {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            line = self.broken(&word, style, width_mm, &mut lines);
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// Adds the full lines of a single word, and gives what is left of it.
    fn broken(&self, word: &str, style: Style, width_mm: f32, lines: &mut Vec<String>) -> String {
        let mut piece = String::new();
        for letter in word.chars() {
            let mut longer = piece.clone();
            longer.push(letter);
            if self.width_mm(&longer, style) > width_mm && !piece.is_empty() {
                lines.push(std::mem::take(&mut piece));
                piece.push(letter);
            } else {
                piece = longer;
            }
        }
        piece
    }

    /// The words on one line, cut with … where they are too wide.
    pub fn cut(&self, words: &str, style: Style, width_mm: f32) -> String {
        let mut kept = parts(words).join(" ");
        if self.width_mm(&kept, style) <= width_mm {
            return kept;
        }
        while kept.pop().is_some() {
            let short = format!("{}…", kept.trim_end());
            if self.width_mm(&short, style) <= width_mm {
                return short;
            }
        }
        String::new()
    }

    /// Lines as above, at most so many; the last one ends with … where there would be more.
    pub fn most_lines(&self, words: &str, style: Style, width_mm: f32, most: usize) -> Vec<String> {
        let mut lines = self.lines(words, style, width_mm);
        if lines.len() > most {
            let rest = lines.split_off(most.max(1) - 1).join(" ");
            lines.push(self.cut(&rest, style, width_mm));
        }
        lines
    }
}

/// Words between blanks, without anything that can't be printed; a space that doesn't break stays inside its word.
fn parts(words: &str) -> Vec<String> {
    words
        .split(|letter: char| letter.is_whitespace() && letter != '\u{a0}')
        .map(|word| {
            word.chars()
                .filter(|letter| !letter.is_control())
                .collect::<String>()
        })
        .filter(|word| !word.is_empty())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_broken_at_blanks_and_lose_no_word() {
        let faces = Faces::new().unwrap();
        let style = Style::plain(9.0);
        let words = "right floor: shim up 3/64 at front inner,\n\tshim up 1/8 at front outer";
        let lines = faces.lines(words, style, 40.0);
        assert!(lines.len() > 1);
        assert!(lines.iter().all(|line| faces.width_mm(line, style) <= 40.0));
        let told: Vec<&str> = words.split_whitespace().collect();
        assert_eq!(lines.join(" "), told.join(" "));
    }

    #[test]
    fn a_word_without_blanks_is_broken_and_a_space_that_does_not_break_is_not() {
        let faces = Faces::new().unwrap();
        let style = Style::plain(9.0);
        let sum = "a81caa495f1b3269".repeat(4);
        let lines = faces.lines(&sum, style, 30.0);
        assert!(lines.len() > 2);
        assert_eq!(lines.concat(), sum);
        assert_eq!(faces.lines("300\u{a0}175", style, 90.0), ["300\u{a0}175"]);
    }

    #[test]
    fn what_is_cut_ends_with_three_dots_and_fits() {
        let faces = Faces::new().unwrap();
        let style = Style::plain(12.0).bold();
        let cut = faces.cut("the shell of a man with a long name", style, 25.0);
        assert!(cut.ends_with('…') && faces.width_mm(&cut, style) <= 25.0, "{cut}");
        assert_eq!(faces.cut("short", style, 25.0), "short");
        let two = faces.most_lines("one two three four five six seven eight", style, 25.0, 2);
        assert_eq!(two.len(), 2);
        assert!(
            two[1].ends_with('…') && faces.width_mm(&two[1], style) <= 25.0,
            "{two:?}"
        );
    }

    #[test]
    fn signs_of_the_trade_are_in_both_faces() {
        let faces = Faces::new().unwrap();
        for style in [Style::plain(9.0), Style::plain(9.0).bold()] {
            for placed in faces.placed("±…−°×·•–3/16é", style) {
                assert_ne!(placed.glyph, 0);
                assert!(placed.width_em > 0.0);
            }
        }
    }

    /// An em of Noto Sans is 2048 units, a figure 1171 of them wide.
    #[test]
    fn widths_are_those_of_the_face() {
        let faces = Faces::new().unwrap();
        let wide = faces.width_mm("0000000000", Style::plain(72.0));
        assert!((wide - 10.0 * 25.4 * 1171.0 / 2048.0).abs() < 0.01, "{wide}");
    }
}
