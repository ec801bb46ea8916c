//! Puts pictures on the sheets, as large as there is room, and thins those that hold more than paper can show.

use std::io::Cursor;

use image::ImageFormat;
use image::imageops::FilterType;

use crate::{PageError, Picture};

use super::flow::Flow;
use super::sheet::{Mark, Space, WIDTH_MM};

/// Points of a picture that paper shows on a millimetre: 330 to the inch, what a good printer resolves.
const POINTS_PER_MM: f32 = 13.0;
/// White between a picture and its words, and between two pictures beside each other, mm.
const BENEATH_MM: f32 = 1.0;
const BETWEEN_MM: f32 = 4.0;

/// Width and height in the picture's own points, from the head of the file (PNG, ISO/IEC 15948, clause 11.2.1).
fn size_px(picture: &Picture) -> Result<[f32; 2], PageError> {
    let png = &picture.png;
    let number = |at: usize| -> Option<u32> {
        let bytes = png.get(at..at + 4)?;
        Some(u32::from_be_bytes(bytes.try_into().ok()?))
    };
    match (png.starts_with(b"\x89PNG\r\n\x1a\n"), number(16), number(20)) {
        (true, Some(wide), Some(high)) if wide > 0 && high > 0 => Ok([wide as f32, high as f32]),
        _ => Err(unreadable(&picture.file, "it is no PNG")),
    }
}

fn unreadable(file: &str, why: &str) -> PageError {
    PageError(format!(
        "{file}: the picture can't be printed: {why}; run the comparison again"
    ))
}

/// A picture with no more points than paper shows at this width; as it is where it has no more.
pub(super) fn thinned(file: &str, png: &[u8], width_mm: f32) -> Result<Vec<u8>, PageError> {
    let wrong = |why: image::ImageError| unreadable(file, &why.to_string());
    let read = image::load_from_memory_with_format(png, ImageFormat::Png).map_err(wrong)?;
    let most = (width_mm * POINTS_PER_MM).ceil().max(1.0) as u32;
    if read.width() <= most {
        return Ok(png.to_vec());
    }
    let high = (read.height() as f32 * most as f32 / read.width() as f32)
        .round()
        .max(1.0) as u32;
    let mut thin = Cursor::new(Vec::new());
    read.resize_exact(most, high, FilterType::Triangle)
        .write_to(&mut thin, ImageFormat::Png)
        .map_err(wrong)?;
    Ok(thin.into_inner())
}

impl<'a> Flow<'a> {
    /// A picture with what it shows beneath, both on one sheet, at most so wide and so high.
    pub fn picture(&mut self, picture: &'a Picture, [wide, high]: [f32; 2]) -> Result<(), PageError> {
        let style = self.body().sized(8.0).pale();
        let beneath = self.height_mm(&picture.caption, style);
        self.picture_alone(picture, [wide, high], BENEATH_MM + beneath)?;
        self.paragraph(&picture.caption, style);
        self.gap(BENEATH_MM);
        Ok(())
    }

    /// A picture without words of its own, at most so wide and so high, with room for what comes `beneath` it on the same sheet.
    pub fn picture_alone(
        &mut self,
        picture: &'a Picture,
        [wide, high]: [f32; 2],
        beneath: f32,
    ) -> Result<(), PageError> {
        let [wide_px, high_px] = size_px(picture)?;
        let scale = (wide / wide_px).min(high / high_px);
        self.keep_together(high_px * scale + beneath);
        self.place_picture(picture, [0.0, wide_px * scale, high_px * scale]);
        self.pass(high_px * scale + BENEATH_MM);
        Ok(())
    }

    /// Two pictures beside each other (or one, in half the width), at most so high.
    pub fn beside(&mut self, two: &[&'a Picture], high: f32) -> Result<(), PageError> {
        let style = self.body().sized(7.0).pale();
        let column = (WIDTH_MM - BETWEEN_MM) / 2.0;
        let mut shown = Vec::new();
        for picture in two.iter().take(2) {
            let [wide_px, high_px] = size_px(picture)?;
            let scale = (column / wide_px).min(high / high_px);
            let lines = self.faces().most_lines(&picture.caption, style, column, 2);
            shown.push((*picture, wide_px * scale, high_px * scale, lines));
        }
        let tallest = shown.iter().map(|s| s.2).fold(0.0_f32, f32::max);
        let beneath = shown.iter().map(|s| s.3.len()).max().unwrap_or(0) as f32 * style.line_mm();
        self.keep_together(tallest + BENEATH_MM + beneath);
        for (k, (picture, wide, high, lines)) in shown.into_iter().enumerate() {
            let left = k as f32 * (column + BETWEEN_MM);
            self.place_picture(picture, [left, wide, high]);
            for (row, line) in lines.into_iter().enumerate() {
                let top = self.at_mm() + tallest + BENEATH_MM + row as f32 * style.line_mm();
                self.line_of_words([left, top], line, style);
            }
        }
        self.pass(tallest + BENEATH_MM + beneath);
        Ok(())
    }

    fn place_picture(&mut self, picture: &'a Picture, [left, width, height]: [f32; 3]) {
        let which = self.picture_file(&picture.file, &picture.png);
        let at = Space {
            left,
            top: self.at_mm(),
            width,
            height,
        };
        self.place(Mark::Picture { which, at });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn the_size_is_read_from_the_head_of_the_file() {
        assert_eq!(size_px(&made::picture("a.png", "")).unwrap(), [8.0, 6.0]);
        let cut = Picture {
            png: made::picture("a.png", "").png[..20].to_vec(),
            ..made::picture("a.png", "")
        };
        assert!(size_px(&cut).unwrap_err().0.starts_with("a.png: "));
    }

    #[test]
    fn a_picture_of_too_many_points_is_thinned_and_a_small_one_left_as_it_is() {
        let picture = made::picture("a.png", "");
        assert_eq!(thinned("a.png", &picture.png, 100.0).unwrap(), picture.png);
        let thin = thinned("a.png", &picture.png, 4.0 / POINTS_PER_MM - 0.01).unwrap();
        let thin = Picture { png: thin, ..picture };
        assert_eq!(size_px(&thin).unwrap(), [4.0, 3.0]);
    }
}
