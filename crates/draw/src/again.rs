//! A picture that was drawn before, read again from its file: its window and its keys, pixel by pixel, so that what was drawn at
//! one scale is laid side by side without what it was drawn from.

use image::{ImageFormat, RgbImage};

use crate::canvas::{Canvas, DrawError};
use crate::colour::{PAPER, Rgb};
use crate::page::{COLUMN, Heads, SIZE, WINDOW};

/// A box in pixels of the sheet: left, top, width, height.
type Area = [usize; 4];

/// The column of keys beside the window.
pub const KEYS: Area = [
    COLUMN as usize - 20,
    WINDOW[1],
    SIZE[0] as usize - COLUMN as usize + 20,
    WINDOW[3],
];
/// Of the keys, which way is what and the scale: alike where two pictures show one place from one side at one scale.
const SIGHT: Area = [KEYS[0], 1000, KEYS[2], WINDOW[1] + WINDOW[3] - 1000];

/// A heat map that was drawn before.
pub struct Again {
    pixels: RgbImage,
}

impl Again {
    /// Reads it from its PNG file.
    ///
    /// # Errors
    /// Where that can't be read, or is no picture of this size.
    pub fn read(png: &[u8]) -> Result<Self, DrawError> {
        let pixels = image::load_from_memory_with_format(png, ImageFormat::Png)
            .map_err(|e| DrawError::Read(e.to_string()))?
            .into_rgb8();
        let size = [pixels.width(), pixels.height()];
        if size != SIZE {
            return Err(DrawError::Another(size[0], size[1]));
        }
        Ok(Self { pixels })
    }

    /// Whether both show one place from one side at one scale.
    pub fn same_sight(&self, other: &Self) -> bool {
        self.rows(SIGHT).eq(other.rows(SIGHT))
    }

    /// Whether both have the same keys.
    pub fn same_keys(&self, other: &Self) -> bool {
        self.rows(KEYS).eq(other.rows(KEYS))
    }

    /// How many pixels of their windows differ.
    pub fn differing(&self, other: &Self) -> usize {
        let pairs = self.rows(WINDOW).zip(other.rows(WINDOW));
        pairs
            .map(|(a, b)| {
                a.chunks_exact(3)
                    .zip(b.chunks_exact(3))
                    .filter(|(a, b)| a != b)
                    .count()
            })
            .sum()
    }

    /// The first and the last row of the window in which something is drawn, counted on the sheet; nothing on bare paper.
    pub fn drawn_rows(&self) -> Option<[usize; 2]> {
        let drawn = |row: &[u8]| row.chunks_exact(3).any(|pixel| pixel != PAPER);
        let rows: Vec<bool> = self.rows(WINDOW).map(drawn).collect();
        let first = rows.iter().position(|d| *d)?;
        let last = rows.iter().rposition(|d| *d)?;
        Some([WINDOW[1] + first, WINDOW[1] + last])
    }

    /// Lays a box of it on a sheet.
    pub fn lay(&self, canvas: &mut Canvas, area: Area, left_top: [usize; 2]) {
        let colours: Vec<Rgb> = self
            .rows(area)
            .flat_map(|row| row.chunks_exact(3).map(|p| [p[0], p[1], p[2]]))
            .collect();
        canvas.block(left_top[0], left_top[1], area[2], &colours);
    }

    /// The same window and keys under other heads, as a PNG file.
    ///
    /// # Errors
    /// Where it can't be encoded.
    pub fn under(&self, heads: &Heads<'_>) -> Result<Vec<u8>, DrawError> {
        let mut canvas = Canvas::new(SIZE[0], SIZE[1])?;
        for area in [WINDOW, KEYS] {
            self.lay(&mut canvas, area, [area[0], area[1]]);
        }
        heads.draw(&mut canvas);
        canvas.png()
    }

    /// The rows of a box.
    fn rows(&self, [left, top, width, height]: Area) -> impl Iterator<Item = &[u8]> {
        let across = SIZE[0] as usize;
        (top..top + height).filter_map(move |row| {
            let from = 3 * (row * across + left);
            self.pixels.as_raw().get(from..from + 3 * width)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn png(box_at: [f32; 2], key: Rgb) -> Vec<u8> {
        let mut canvas = Canvas::new(SIZE[0], SIZE[1]).unwrap();
        canvas.rect(box_at, [100.0, 50.0], [196, 98, 12], 255, None);
        canvas.rect([1700.0, 300.0], [50.0, 50.0], key, 255, None);
        canvas.png().unwrap()
    }

    #[test]
    fn what_was_drawn_is_found_again() {
        let one = Again::read(&png([400.0, 500.0], [0, 0, 0])).unwrap();
        let moved = Again::read(&png([400.0, 510.0], [9, 0, 0])).unwrap();
        assert_eq!(one.drawn_rows(), Some([500, 549]));
        // Ten rows of it stand free at the top and ten at the bottom.
        assert_eq!(one.differing(&moved), 2 * 10 * 100);
        assert!(one.same_sight(&moved) && !one.same_keys(&moved) && one.same_keys(&one));
        let heads = Heads {
            title: "trip 7",
            subtitle: "",
            set_by: "",
            footer: "",
        };
        let under = Again::read(&one.under(&heads).unwrap()).unwrap();
        assert!(under.same_keys(&one) && under.differing(&one) == 0);
    }

    #[test]
    fn what_is_none_of_these_pictures_is_refused() {
        assert!(matches!(Again::read(&[1, 2, 3]), Err(DrawError::Read(_))));
        let small = Canvas::new(30, 20).unwrap().png().unwrap();
        assert!(matches!(Again::read(&small), Err(DrawError::Another(30, 20))));
    }
}
