//! Many pictures small on one sheet, to be looked over at once.

use crate::canvas::{Canvas, DrawError, Face};
use crate::colour::{INK, PAPER};

/// Size of the sheet in pixels: A4 lying down.
const SIZE: [u32; 2] = [2000, 1414];
/// Most pictures on one sheet: more could not be read.
const MOST: usize = 30;
/// Edge of the sheet, and room between pictures, in pixels.
const EDGE: f32 = 30.0;
const APART: f32 = 24.0;
/// Where the pictures begin below the title, in pixels.
const TOP: f32 = 96.0;
/// Height of a line of a caption in pixels; each picture has room for two.
const LINE: f32 = 31.0;
/// Width of a picture as a share of its height.
const SHAPE: f32 = 10.0 / 7.0;

/// Lays pictures, each with its caption and as a PNG file, row by row on one sheet and gives that as a PNG file. More
/// than thirty are not laid; the sheet then says how many there are.
///
/// # Errors
/// Where a picture can't be read or the sheet can't be encoded.
pub fn contact_sheet(title: &str, pictures: &[(String, Vec<u8>)]) -> Result<Vec<u8>, DrawError> {
    sheet(title, pictures)?.png()
}

fn sheet(title: &str, pictures: &[(String, Vec<u8>)]) -> Result<Canvas, DrawError> {
    let mut canvas = Canvas::new(SIZE[0], SIZE[1])?;
    let laid = pictures.len().min(MOST);
    let title = if laid < pictures.len() {
        format!("{title} (the first {laid} of {} pictures)", pictures.len())
    } else {
        title.to_string()
    };
    let title = canvas.fitted(54.0, Face::Bold, &title, canvas.width() - 2.0 * EDGE);
    canvas.text([EDGE, 14.0], 54.0, Face::Bold, INK, &title);
    let columns = columns(laid);
    let [width, height] = cell(laid, columns);
    for (k, (caption, png)) in pictures.iter().take(laid).enumerate() {
        let left = EDGE + (k % columns) as f32 * (width + APART);
        let top = TOP + (k / columns) as f32 * (height + APART);
        let room = [width as usize, (height - 2.0 * LINE) as usize];
        let [across, down] = canvas.picture([left as usize, top as usize], room, png)?;
        let (at, size) = ([left.floor(), top.floor()], [across as f32, down as f32]);
        canvas.rect(at, size, PAPER, 0, Some([160, 160, 160]));
        for (i, line) in in_two_lines(&canvas, caption, width).iter().enumerate() {
            let below = at[1] + size[1] + 1.0 + LINE * i as f32;
            canvas.text([left, below], LINE, Face::Bold, INK, line);
        }
    }
    Ok(canvas)
}

/// Width and height that each of so many pictures has with its caption, in so many columns.
fn cell(count: usize, columns: usize) -> [f32; 2] {
    let each = |whole: f32, parts: usize| (whole - APART * (parts as f32 - 1.0)) / parts as f32;
    let rows = count.div_ceil(columns).max(1);
    [
        each(SIZE[0] as f32 - 2.0 * EDGE, columns),
        each(SIZE[1] as f32 - TOP - EDGE, rows),
    ]
}

/// The number of columns with which the pictures are largest.
fn columns(count: usize) -> usize {
    let width_of_picture = |columns: usize| {
        let [width, height] = cell(count, columns);
        width.min((height - 2.0 * LINE) * SHAPE)
    };
    let mut best = 1;
    for columns in 2..=6 {
        if width_of_picture(columns) > width_of_picture(best) {
            best = columns;
        }
    }
    best
}

/// A caption broken between words where it is too wide, and cut where two lines don't hold it.
fn in_two_lines(canvas: &Canvas, caption: &str, width: f32) -> Vec<String> {
    let words: Vec<&str> = caption.split_whitespace().collect();
    let fits = |count: &usize| canvas.text_width(LINE, Face::Bold, &words[..*count].join(" ")) <= width;
    // A first word that alone is too wide is cut.
    let first = (1..=words.len()).rev().find(fits).unwrap_or(1).min(words.len());
    [&words[..first], &words[first..]]
        .into_iter()
        .filter(|line| !line.is_empty())
        .map(|line| canvas.fitted(LINE, Face::Bold, &line.join(" "), width))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Rgb;

    fn plain(colour: Rgb) -> Vec<u8> {
        let mut canvas = Canvas::new(1000, 700).unwrap();
        canvas.rect([0.0, 0.0], [1000.0, 700.0], colour, 255, None);
        canvas.png().unwrap()
    }

    #[test]
    fn pictures_lie_row_by_row_in_their_order() {
        let colours: Vec<Rgb> = (0..7).map(|k| [30 * k + 20, 90, 200]).collect();
        let pictures: Vec<(String, Vec<u8>)> = colours
            .iter()
            .map(|c| ("right floor, seen from above".to_string(), plain(*c)))
            .collect();
        let sheet = sheet("floor", &pictures).unwrap();
        let across = columns(7);
        let [width, height] = cell(7, across);
        assert!(across == 3 || across == 4, "{across}");
        for (k, colour) in colours.iter().enumerate() {
            let left = EDGE + (k % across) as f32 * (width + APART);
            let top = TOP + (k / across) as f32 * (height + APART);
            let pixel = sheet.pixel(left as u32 + 100, top as u32 + 100);
            assert_eq!(pixel, Some(*colour), "{k}");
        }
    }

    #[test]
    fn every_picture_keeps_on_the_sheet_whatever_their_number() {
        for count in 0..=MOST {
            let across = columns(count);
            let [width, height] = cell(count, across);
            let rows = count.div_ceil(across).max(1);
            let right = 2.0 * EDGE + across as f32 * (width + APART) - APART;
            let bottom = TOP + EDGE + rows as f32 * (height + APART) - APART;
            assert!(right <= SIZE[0] as f32 + 0.1 && bottom <= SIZE[1] as f32 + 0.1);
            assert!(
                width > 250.0 && height - 2.0 * LINE > 130.0,
                "{count}: {width} × {height}"
            );
        }
    }

    #[test]
    fn captions_are_broken_between_words_and_cut_after_two_lines() {
        let canvas = Canvas::new(100, 100).unwrap();
        let short = in_two_lines(&canvas, "right floor", 300.0);
        assert_eq!(short, ["right floor"]);
        let long = in_two_lines(&canvas, &"right floor seen from above ".repeat(4), 300.0);
        assert_eq!(long.len(), 2);
        assert!(long[1].ends_with('…') && !long[0].ends_with('…'), "{long:?}");
        assert!(
            long.iter()
                .all(|l| canvas.text_width(LINE, Face::Bold, l) <= 300.0)
        );
        assert!(in_two_lines(&canvas, "", 300.0).is_empty());
    }

    #[test]
    fn what_is_no_picture_is_refused() {
        let trouble = contact_sheet("floor", &[("nothing".to_string(), vec![1, 2, 3])]);
        assert!(matches!(trouble, Err(DrawError::Read(_))), "{trouble:?}");
    }
}
