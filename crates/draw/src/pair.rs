//! Before and after: one view of the metal twice, at one scale and with one ramp, and every region's figure below.

use crate::again::{Again, KEYS};
use crate::canvas::{Canvas, DrawError, Face};
use crate::colour::INK;
use crate::page::{Heads, SIZE, SMALL, WINDOW};

/// Height of a title above a picture, and the room that it takes, in pixels.
const TITLE: f32 = 42.0;
const TITLED: usize = 60;
/// Bare paper that is left above and below what is drawn, in pixels.
const AROUND: usize = 24;
/// Height of a figure's words and of its line, in pixels.
const FIGURE: f32 = 31.0;
const LINE: f32 = 42.0;
/// Columns of figures, and the most in each.
const COLUMNS: usize = 2;
const MOST_ROWS: usize = 12;
/// Room for the footer, in pixels.
const FOOT: f32 = 70.0;

/// A view of the metal before and after.
pub struct PairPicture<'a> {
    /// What stands above and below.
    pub heads: Heads<'a>,
    /// Before and after.
    pub sides: [Side<'a>; 2],
    /// What became of the figures, the most important first.
    pub figures: &'a [Became],
}

/// One of the two.
pub struct Side<'a> {
    /// Its title: before or after, name, day.
    pub title: &'a str,
    /// The heat map that was drawn of it.
    pub picture: &'a Again,
}

/// What became of a figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Became {
    /// Which.
    pub what: String,
    /// How it stood, and how it stands: `7/32 short`, `home`.
    pub words: [String; 2],
    /// Whether it has changed by more than is not known of it.
    pub changed: bool,
}

impl PairPicture<'_> {
    /// Draws it as a PNG file. Both pictures must show one place from one side at one scale ([`Again::same_sight`]).
    ///
    /// # Errors
    /// Where it can't be encoded.
    pub fn png(&self) -> Result<Vec<u8>, DrawError> {
        self.sheet()?.png()
    }

    fn sheet(&self) -> Result<Canvas, DrawError> {
        let [before, after] = &self.sides;
        let [first, last] = rows([before.picture, after.picture]);
        let down = last - first + 1;
        let tops = [WINDOW[1], WINDOW[1] + TITLED + down];
        // Keys that are alike stand there once; lines over the metal may be of other kinds before and after.
        let mut keys_at = vec![(before.picture, WINDOW[1])];
        if !before.picture.same_keys(after.picture) {
            keys_at.push((after.picture, tops[1].max(WINDOW[1] + KEYS[3])));
        }
        let keys_end = keys_at.last().map_or(0, |(_, top)| top + KEYS[3]);
        let end = (tops[1] + TITLED + down).max(keys_end);
        let shown = self.figures.len().min(COLUMNS * MOST_ROWS);
        let lines =
            shown.div_ceil(COLUMNS) + usize::from(shown > 0) + usize::from(shown < self.figures.len());
        let height = end as f32 + LINE * lines as f32 + FOOT;
        let mut canvas = Canvas::new(SIZE[0], height as u32)?;
        for (side, top) in self.sides.iter().zip(tops) {
            let width = WINDOW[2] as f32;
            let title = canvas.fitted(TITLE, Face::Bold, side.title, width);
            canvas.text([30.0, top as f32 + 6.0], TITLE, Face::Bold, INK, &title);
            let area = [WINDOW[0], first, WINDOW[2], down];
            side.picture.lay(&mut canvas, area, [WINDOW[0], top + TITLED]);
        }
        let line = tops[1] as f32;
        canvas.line([30.0, line], [30.0 + WINDOW[2] as f32, line], 2.5, INK);
        for (picture, top) in keys_at {
            picture.lay(&mut canvas, KEYS, [KEYS[0], top]);
        }
        self.figures(&mut canvas, end as f32, shown);
        self.heads.draw(&mut canvas);
        Ok(canvas)
    }

    /// The figures, column by column.
    fn figures(&self, canvas: &mut Canvas, top: f32, shown: usize) {
        if shown == 0 {
            return;
        }
        canvas.line([30.0, top], [canvas.width() - 30.0, top], 2.5, INK);
        canvas.text(
            [30.0, top + 6.0],
            FIGURE,
            Face::Regular,
            SMALL,
            "farthest off in each region, before → after; in bold what has changed",
        );
        let wide = (canvas.width() - 60.0) / COLUMNS as f32;
        let rows = shown.div_ceil(COLUMNS);
        for (k, became) in self.figures[..shown].iter().enumerate() {
            let left = 30.0 + wide * (k / rows) as f32;
            let y = top + LINE * (1 + k % rows) as f32 + 6.0;
            let [before, after] = &became.words;
            let words = format!("{}: {before} → {after}", became.what);
            let (face, colour) = if became.changed {
                (Face::Bold, INK)
            } else {
                (Face::Regular, SMALL)
            };
            let words = canvas.fitted(FIGURE, face, &words, wide - 24.0);
            canvas.text([left, y], FIGURE, face, colour, &words);
        }
        if shown < self.figures.len() {
            let words = format!("the first {shown} of {} regions", self.figures.len());
            let y = top + LINE * (1 + rows) as f32 + 6.0;
            canvas.text([30.0, y], FIGURE, Face::Regular, SMALL, &words);
        }
    }
}

/// The rows of the window that both need, counted on the sheet; all of it where nothing is drawn.
fn rows(pictures: [&Again; 2]) -> [usize; 2] {
    let whole = [WINDOW[1], WINDOW[1] + WINDOW[3] - 1];
    let drawn = pictures.iter().filter_map(|picture| picture.drawn_rows());
    drawn
        .reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
        .map_or(whole, |[first, last]| {
            [
                first.saturating_sub(AROUND).max(whole[0]),
                (last + AROUND).min(whole[1]),
            ]
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Rgb;

    const PROUD: Rgb = [196, 98, 12];
    const SHY: Rgb = [98, 66, 148];

    fn map(spot: Rgb, key: Rgb) -> Again {
        let mut canvas = Canvas::new(SIZE[0], SIZE[1]).unwrap();
        canvas.rect([200.0, 600.0], [1000.0, 200.0], [242, 241, 236], 255, None);
        canvas.rect([700.0, 650.0], [50.0, 50.0], spot, 255, None);
        canvas.rect([1700.0, 300.0], [50.0, 50.0], key, 255, None);
        Again::read(&canvas.png().unwrap()).unwrap()
    }

    fn sheet(after_key: Rgb, figures: usize) -> Canvas {
        let (before, after) = (map(PROUD, [0, 0, 0]), map(SHY, after_key));
        let became = |k: usize| Became {
            what: format!("region {k}"),
            words: ["7/32 short".to_string(), "home".to_string()],
            changed: k == 0,
        };
        let figures: Vec<Became> = (0..figures).map(became).collect();
        let picture = PairPicture {
            heads: Heads {
                title: "rear flange",
                subtitle: "",
                set_by: "",
                footer: "",
            },
            sides: [
                Side {
                    title: "before: as sent",
                    picture: &before,
                },
                Side {
                    title: "after: reworked",
                    picture: &after,
                },
            ],
            figures: &figures,
        };
        picture.sheet().unwrap()
    }

    #[test]
    fn one_place_stands_in_both_at_the_same_spot() {
        let sheet = sheet([0, 0, 0], 3);
        // What is drawn begins at 600, less the bare paper around it; the spot lies 50 below that.
        let top = WINDOW[1] + TITLED + AROUND + 50 + 10;
        let below = TITLED + (200 + 2 * AROUND);
        assert_eq!(sheet.pixel(710, top as u32), Some(PROUD));
        assert_eq!(sheet.pixel(710, (top + below) as u32), Some(SHY));
        // One set of keys, where it always stands.
        assert_eq!(sheet.pixel(1710, 310), Some([0, 0, 0]));
        let dark = (0..sheet.height() as u32).filter(|y| sheet.pixel(1710, *y) == Some([0, 0, 0]));
        assert_eq!(dark.count(), 50);
    }

    #[test]
    fn keys_that_differ_stand_beside_each() {
        let sheet = sheet([9, 0, 0], 3);
        let [first, second] = [[0, 0, 0], [9, 0, 0]].map(|key| {
            (0..sheet.height() as u32)
                .filter(|y| sheet.pixel(1710, *y) == Some(key))
                .count()
        });
        assert_eq!([first, second], [50, 50]);
    }

    #[test]
    fn the_sheet_grows_with_its_figures_and_tells_how_many_it_leaves_out() {
        let [none, few, most, more] = [0, 3, 24, 40].map(|count| sheet([0, 0, 0], count).height());
        assert!(
            none < few && few < most && most < more,
            "{none} {few} {most} {more}"
        );
        assert!((more - most - LINE).abs() < 1.5);
    }
}
