//! A sheet as plain values: its paper, and what is drawn where on it, in mm from the upper left corner of what may be printed.

use record::verdict::{DIFFERS, IN, OUT, TOO_CLOSE};

use super::face::Style;

/// The paper; what is laid out fits both kinds, the narrower width and the shorter height.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8-1/2 × 11 in (ANSI/ASME Y14.1 size A).
    Letter,
}

/// What stays white all round, mm; more where the paper is the larger one.
#[cfg(test)]
pub(super) const MARGIN_MM: f32 = 15.0;
/// What may be printed on, mm: A4's width and Letter's height without the margins.
pub(super) const WIDTH_MM: f32 = 180.0;
pub(super) const HEIGHT_MM: f32 = 249.4;

impl Paper {
    /// Both, with the words by which a job chooses them; the same words are the sizes of a style sheet (CSS Paged Media 3, 7.1).
    pub const ALL: [(&'static str, Paper); 2] = [("a4", Paper::A4), ("letter", Paper::Letter)];

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Paper::A4 => "a4",
            Paper::Letter => "letter",
        }
    }

    /// Width and height, mm.
    pub fn size_mm(self) -> [f32; 2] {
        match self {
            Paper::A4 => [210.0, 297.0],
            Paper::Letter => [215.9, 279.4],
        }
    }

    /// Where the upper left corner of what may be printed lies: in the middle of the paper, mm.
    pub(super) fn corner_mm(self) -> [f32; 2] {
        let [width, height] = self.size_mm();
        [(width - WIDTH_MM) / 2.0, (height - HEIGHT_MM) / 2.0]
    }
}

/// A box on a sheet, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Space {
    pub left: f32,
    pub top: f32,
    pub width: f32,
    pub height: f32,
}

/// A verdict, or a place to tick, as a shape that is told apart in grey.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sign {
    /// A filled square.
    Out,
    /// An open circle.
    In,
    /// A diamond, half of it filled.
    Close,
    /// An open diamond.
    Differs,
    /// A dash.
    NotMeasured,
    /// An open square.
    Tick,
}

impl Sign {
    /// The sign of a verdict, as it is said in words.
    pub fn of(verdict: &str) -> Self {
        match verdict {
            OUT => Sign::Out,
            IN => Sign::In,
            TOO_CLOSE => Sign::Close,
            DIFFERS => Sign::Differs,
            _ => Sign::NotMeasured,
        }
    }
}

/// Something that is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Mark {
    /// A line of words; `base` is where its letters stand.
    Words {
        left: f32,
        base: f32,
        width: f32,
        style: Style,
        words: String,
    },
    /// A straight line.
    Line {
        from: [f32; 2],
        to: [f32; 2],
        pen: f32,
        grey: u8,
    },
    /// A grey ground, under what is drawn after it.
    Ground { at: Space, grey: u8 },
    /// A verdict's shape.
    Sign { sign: Sign, at: Space },
    /// A picture, by its place in the list.
    Picture { which: usize, at: Space },
}

impl Mark {
    /// What it covers.
    #[cfg(test)]
    pub fn covers(&self) -> Space {
        match self {
            Mark::Words {
                left,
                base,
                width,
                style,
                ..
            } => Space {
                left: *left,
                top: base - style.above_mm(),
                width: *width,
                height: style.above_mm() + style.below_mm(),
            },
            Mark::Line { from, to, pen, .. } => Space {
                left: from[0].min(to[0]) - pen / 2.0,
                top: from[1].min(to[1]) - pen / 2.0,
                width: (from[0] - to[0]).abs() + pen,
                height: (from[1] - to[1]).abs() + pen,
            },
            Mark::Ground { at, .. } | Mark::Sign { at, .. } | Mark::Picture { at, .. } => *at,
        }
    }
}

/// One side of paper.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Sheet {
    pub marks: Vec<Mark>,
}

/// Everything that is printed, before it is.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Laid<'a> {
    pub sheets: Vec<Sheet>,
    /// The PNG files, with their names.
    pub pictures: Vec<(&'a str, &'a [u8])>,
    /// For the file's own description.
    pub title: String,
    pub program: String,
}

#[cfg(test)]
impl Laid<'_> {
    /// All words of all sheets in the order in which they are drawn, with a blank between.
    pub fn words(&self) -> String {
        let marks = self.sheets.iter().flat_map(|sheet| &sheet.marks);
        let words = marks.filter_map(|mark| match mark {
            Mark::Words { words, .. } => Some(words.as_str()),
            _ => None,
        });
        words.collect::<Vec<_>>().join(" ")
    }

    /// Nothing lies outside of what may be printed, and no words lie on other words, a picture or a sign.
    pub fn assert_tidy(&self) {
        for (k, sheet) in self.sheets.iter().enumerate() {
            let mut taken: Vec<(Space, &Mark)> = Vec::new();
            for mark in &sheet.marks {
                let at = mark.covers();
                let inside = at.left > -0.2
                    && at.top > -0.2
                    && at.left + at.width < WIDTH_MM + 0.2
                    && at.top + at.height < HEIGHT_MM + 0.2;
                assert!(inside, "sheet {}: {mark:?} at {at:?}", k + 1);
                if matches!(mark, Mark::Line { .. } | Mark::Ground { .. }) {
                    continue;
                }
                for (other, what) in &taken {
                    let apart = at.left + at.width < other.left + 0.05
                        || other.left + other.width < at.left + 0.05
                        || at.top + at.height < other.top + 0.05
                        || other.top + other.height < at.top + 0.05;
                    assert!(apart, "sheet {}: {mark:?} lies on {what:?}", k + 1);
                }
                taken.push((at, mark));
            }
        }
        for paper in [Paper::A4, Paper::Letter] {
            let ([left, top], [width, height]) = (paper.corner_mm(), paper.size_mm());
            for side in [left, top, width - left - WIDTH_MM, height - top - HEIGHT_MM] {
                assert!(side > MARGIN_MM - 0.01, "{paper:?}: {side}");
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_may_be_printed_fits_both_papers() {
        let narrow = Paper::A4.size_mm()[0].min(Paper::Letter.size_mm()[0]);
        let short = Paper::A4.size_mm()[1].min(Paper::Letter.size_mm()[1]);
        assert!((narrow - 2.0 * MARGIN_MM - WIDTH_MM).abs() < 0.01);
        assert!((short - 2.0 * MARGIN_MM - HEIGHT_MM).abs() < 0.01);
        assert_eq!(Paper::A4.corner_mm()[0], MARGIN_MM);
    }

    #[test]
    fn each_paper_is_known_by_its_word() {
        for (word, paper) in Paper::ALL {
            assert_eq!(paper.word(), word);
        }
        assert_eq!(Paper::default(), Paper::A4);
    }

    #[test]
    fn each_verdict_has_a_shape_of_its_own() {
        let words = ["OUT", "in", "too close to call", "differs", "not measured"];
        let signs: Vec<Sign> = words.iter().map(|w| Sign::of(w)).collect();
        for (k, sign) in signs.iter().enumerate() {
            assert!(!signs[k + 1..].contains(sign));
        }
        assert_eq!(Sign::of("withheld"), Sign::NotMeasured);
    }
}
