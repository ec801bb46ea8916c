//! Many heat maps small on sheets to be printed and looked over at once, each with its name and its verdict.

use image::{ImageFormat, RgbImage, imageops};

use crate::canvas::{Canvas, DrawError, Face};
use crate::colour::{INK, PAPER};
use crate::page::{self, SMALL, WINDOW};
use crate::sign::Sign;
use crate::wrapped::{Type, in_lines};

/// Size of a sheet in pixels: A4 lying down.
const SIZE: [u32; 2] = [2000, 1414];
/// Most pictures on one sheet: of more not even the verdicts could be read at arm's length.
pub const MOST: usize = 6;
/// Edge of the sheet, and room between pictures, in pixels.
const EDGE: f32 = 30.0;
const APART: f32 = 28.0;
/// Where the pictures begin below the title, and where they end above the key, in pixels.
const TOP: f32 = 96.0;
const FOOT: f32 = 56.0;
/// Height of a line of a caption in pixels: small letters are 3 mm high in print. Each picture has room for its verdict and two
/// lines of its name.
const LINE: f32 = 52.0;
const LINES: usize = 3;
/// Side of a verdict's sign in pixels.
const SIGN: f32 = 42.0;
/// Width of a window as a share of its height.
const SHAPE: f32 = WINDOW[2] as f32 / WINDOW[3] as f32;
/// What the colours say, since a window is shown without its keys.
const KEY: &str = "pale: within the limit · orange with dots: proud (out) · purple with lines: shy (in) · hatched: not measured";

/// A picture of a contact sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Small<'a> {
    /// What it is of.
    pub name: &'a str,
    /// How that stands, in the words of the pages: `in`, `OUT`, `too close to call`.
    pub verdict: &'a str,
    /// The PNG file, of the shape of a heat map; of that its window is shown. Of another shape it is shown whole.
    pub png: &'a [u8],
}

/// Lays pictures row by row on sheets of six and gives these as PNG files; without pictures one bare sheet.
///
/// # Errors
/// Where a picture can't be read or a sheet can't be encoded.
pub fn contact_sheets(title: &str, pictures: &[Small<'_>]) -> Result<Vec<Vec<u8>>, DrawError> {
    sheets(title, pictures)?.iter().map(Canvas::png).collect()
}

fn sheets(title: &str, pictures: &[Small<'_>]) -> Result<Vec<Canvas>, DrawError> {
    let count = pictures.len().div_ceil(MOST).max(1);
    (0..count)
        .map(|k| {
            let from = (k * MOST).min(pictures.len());
            let some = &pictures[from..(from + MOST).min(pictures.len())];
            let title = if count > 1 {
                format!("{title}, sheet {} of {count}", k + 1)
            } else {
                title.to_string()
            };
            sheet(&title, some)
        })
        .collect()
}

fn sheet(title: &str, pictures: &[Small<'_>]) -> Result<Canvas, DrawError> {
    let mut canvas = Canvas::new(SIZE[0], SIZE[1])?;
    let title = canvas.fitted(60.0, Face::Bold, title, canvas.width() - 2.0 * EDGE);
    canvas.text([EDGE, 12.0], 60.0, Face::Bold, INK, &title);
    let columns = columns(pictures.len());
    let [width, height] = cell(pictures.len(), columns);
    for (k, picture) in pictures.iter().enumerate() {
        let at = [
            (EDGE + (k % columns) as f32 * (width + APART)).floor(),
            (TOP + (k / columns) as f32 * (height + APART)).floor(),
        ];
        lay(&mut canvas, at, [width, height], picture)?;
    }
    canvas.text(
        [EDGE, SIZE[1] as f32 - FOOT + 8.0],
        31.0,
        Face::Regular,
        SMALL,
        KEY,
    );
    Ok(canvas)
}

/// One picture in its cell, with its verdict and its name below.
fn lay(canvas: &mut Canvas, at: [f32; 2], cell: [f32; 2], picture: &Small<'_>) -> Result<(), DrawError> {
    let room = [cell[0] as usize, (cell[1] - LINES as f32 * LINE) as usize];
    let window = window_of(picture.png)?;
    let [across, down] = canvas.picture([at[0] as usize, at[1] as usize], room, &window);
    canvas.rect(at, [across as f32, down as f32], PAPER, 0, Some([160, 160, 160]));
    let below = at[1] + down as f32 + 2.0;
    Sign::of(picture.verdict).draw(canvas, [at[0], below + (LINE - SIGN) / 2.0], SIGN);
    let bold = Type {
        size: LINE,
        face: Face::Bold,
    };
    let left = at[0] + SIGN + 14.0;
    let verdict = canvas.fitted(LINE, Face::Bold, picture.verdict, cell[0] - SIGN - 14.0);
    canvas.text([left, below], LINE, Face::Bold, INK, &verdict);
    let name = in_lines(canvas, bold, picture.name, cell[0], LINES - 1);
    for (i, line) in name.iter().enumerate() {
        let y = below + LINE * (1 + i) as f32;
        canvas.text([at[0], y], LINE, Face::Bold, INK, line);
    }
    Ok(())
}

/// The window of a picture that has the shape of a heat map; any other whole.
fn window_of(png: &[u8]) -> Result<RgbImage, DrawError> {
    let read = image::load_from_memory_with_format(png, ImageFormat::Png)
        .map_err(|e| DrawError::Read(e.to_string()))?
        .into_rgb8();
    let share = f64::from(read.width()) / f64::from(page::SIZE[0]);
    let height = f64::from(page::SIZE[1]) * share;
    if (height - f64::from(read.height())).abs() > 1.0 {
        return Ok(read);
    }
    let [left, top, width, height] = WINDOW.map(|n| (n as f64 * share).round() as u32);
    Ok(imageops::crop_imm(&read, left, top, width.max(1), height.max(1)).to_image())
}

/// Width and height that each of so many pictures has with its caption, in so many columns.
fn cell(count: usize, columns: usize) -> [f32; 2] {
    let each = |whole: f32, parts: usize| (whole - APART * (parts as f32 - 1.0)) / parts as f32;
    let rows = count.div_ceil(columns).max(1);
    [
        each(SIZE[0] as f32 - 2.0 * EDGE, columns),
        each(SIZE[1] as f32 - TOP - FOOT, rows),
    ]
}

/// The number of columns with which the pictures are largest.
fn columns(count: usize) -> usize {
    let width_of_picture = |columns: usize| {
        let [width, height] = cell(count, columns);
        width.min((height - LINES as f32 * LINE) * SHAPE)
    };
    let mut best = 1;
    for columns in 2..=3 {
        if width_of_picture(columns) > width_of_picture(best) {
            best = columns;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Rgb;

    fn plain(colour: Rgb) -> Vec<u8> {
        let mut canvas = Canvas::new(1000, 700).unwrap();
        let [left, top, width, height] = WINDOW.map(|n| n as f32 / 2.0);
        canvas.rect([left, top], [width, height], colour, 255, None);
        canvas.png().unwrap()
    }

    fn small<'a>(png: &'a [u8], verdict: &'a str) -> Small<'a> {
        Small {
            name: "right floor, seen from above",
            verdict,
            png,
        }
    }

    #[test]
    fn windows_lie_row_by_row_in_their_order_on_as_many_sheets_as_they_need() {
        let colours: Vec<Rgb> = (0..8).map(|k| [30 * k + 20, 90, 200]).collect();
        let pngs: Vec<Vec<u8>> = colours.iter().map(|c| plain(*c)).collect();
        let pictures: Vec<Small<'_>> = pngs.iter().map(|png| small(png, "in")).collect();
        let sheets = sheets("floor", &pictures).unwrap();
        assert_eq!(sheets.len(), 2);
        for (k, colour) in colours.iter().enumerate() {
            let (sheet, k, count) = if k < MOST {
                (&sheets[0], k, MOST)
            } else {
                (&sheets[1], k - MOST, 2)
            };
            let across = columns(count);
            let [width, height] = cell(count, across);
            let left = EDGE + (k % across) as f32 * (width + APART);
            let top = TOP + (k / across) as f32 * (height + APART);
            // The head of the picture is not shown: its window begins at the corner.
            for (x, y) in [(6.0, 6.0), (100.0, 100.0)] {
                let pixel = sheet.pixel((left + x) as u32, (top + y) as u32);
                assert_eq!(pixel, Some(*colour), "{k}");
            }
        }
    }

    #[test]
    fn captions_are_read_at_arms_length() {
        // A small letter of the type is 536 of 1362 parts of the line high (Noto Sans: x-height, ascender less descender).
        let pixels_a_mm = SIZE[0] as f32 / 297.0;
        assert!(LINE * 536.0 / 1362.0 / pixels_a_mm >= 3.0);
        for count in 0..=MOST {
            let across = columns(count);
            let [width, height] = cell(count, across);
            let rows = count.div_ceil(across).max(1);
            let right = 2.0 * EDGE + across as f32 * (width + APART) - APART;
            let bottom = TOP + FOOT + rows as f32 * (height + APART) - APART;
            assert!(right <= SIZE[0] as f32 + 0.1 && bottom <= SIZE[1] as f32 + 0.1);
            // A window is at least as wide as a hand.
            let picture = width.min((height - LINES as f32 * LINE) * SHAPE);
            assert!(picture / pixels_a_mm > 80.0, "{count}: {picture}");
        }
        let canvas = Canvas::new(100, 100).unwrap();
        assert!(canvas.text_width(31.0, Face::Regular, KEY) < SIZE[0] as f32 - 2.0 * EDGE);
    }

    #[test]
    fn a_verdict_is_told_by_its_sign_and_its_words() {
        let png = plain([242, 241, 236]);
        let inked = |verdict: &str| -> Vec<bool> {
            let sheet = &sheets("floor", &[small(&png, verdict)]).unwrap()[0];
            // The small window keeps its size: 570 high.
            let top = TOP as u32 + 572;
            let row = (top..top + LINE as u32).flat_map(|y| (30..500).map(move |x| (x, y)));
            row.map(|(x, y)| sheet.pixel(x, y).unwrap()[1] < 128).collect()
        };
        let differ = inked("in")
            .iter()
            .zip(inked("OUT"))
            .filter(|(a, b)| **a != *b)
            .count();
        assert!(differ > 800, "{differ}");
    }

    #[test]
    fn what_is_no_picture_is_refused_and_nothing_is_a_bare_sheet() {
        let trouble = contact_sheets("floor", &[small(&[1, 2, 3], "in")]);
        assert!(matches!(trouble, Err(DrawError::Read(_))), "{trouble:?}");
        assert_eq!(contact_sheets("floor", &[]).unwrap().len(), 1);
    }
}
