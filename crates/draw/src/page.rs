//! The page that pictures share: its size, its window, the head of three lines, the footer.

use crate::canvas::{Canvas, Face};
use crate::colour::{INK, Rgb};
use crate::splat::Window;

/// Size of a picture in pixels: half a page at 300 to the inch.
pub const SIZE: [u32; 2] = [2000, 1400];
/// The window in which is drawn: left, top, width, height.
pub const WINDOW: [usize; 4] = [30, 150, 1560, 1140];
/// Left side of the column of keys beside the window, in pixels.
pub const COLUMN: f32 = 1620.0;
/// The colour of small print.
pub const SMALL: Rgb = [90, 90, 90];

/// What stands above and below a picture.
pub struct Heads<'a> {
    /// The comparison, large.
    pub title: &'a str,
    /// What was compared and from where it is seen.
    pub subtitle: &'a str,
    /// How it was set.
    pub set_by: &'a str,
    /// Files and cautions, small, at the foot.
    pub footer: &'a str,
}

impl Heads<'_> {
    /// Writes them, each cut to the width of the sheet.
    pub fn draw(&self, canvas: &mut Canvas) {
        let width = canvas.width() - 60.0;
        let bottom = canvas.height() - 42.0;
        let lines = [
            (14.0, 54.0, Face::Bold, INK, self.title),
            (72.0, 32.0, Face::Regular, INK, self.subtitle),
            (108.0, 26.0, Face::Regular, SMALL, self.set_by),
            (bottom, 22.0, Face::Regular, SMALL, self.footer),
        ];
        for (top, size, face, colour, text) in lines {
            let text = canvas.fitted(size, face, text, width);
            canvas.text([30.0, top], size, face, colour, &text);
        }
        canvas.line(
            [30.0, bottom - 10.0],
            [30.0 + width, bottom - 10.0],
            1.5,
            [160, 160, 160],
        );
    }
}

/// The window that shows a box of places (right, up), mm, as large as it fits in `fills` of the window's width and
/// height.
pub fn fitted(low: [f64; 2], high: [f64; 2], fills: [f64; 2]) -> Window {
    let needed = |k: usize| (high[k] - low[k]) / (fills[k] * WINDOW[k + 2] as f64);
    Window {
        width: WINDOW[2],
        height: WINDOW[3],
        mm_per_pixel: needed(0).max(needed(1)).max(1e-6),
        middle: [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0],
    }
}

/// The pixel of the sheet at which a place (right, up), mm, is drawn.
pub fn on_sheet(window: &Window, place: [f64; 2]) -> [f32; 2] {
    let [x, y] = window.pixel(place[0], place[1]);
    [WINDOW[0] as f32 + x as f32, WINDOW[1] as f32 + y as f32]
}

/// The window on the sheet: left, top, width, height in pixels.
pub fn area() -> [f32; 4] {
    WINDOW.map(|w| w as f32)
}
