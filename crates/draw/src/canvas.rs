//! Paper to draw on: lines, boxes, discs and real type, all smooth.

use ab_glyph::{Font, FontRef, Glyph, PxScale, ScaleFont, point};
use image::RgbImage;
use tiny_skia::{
    Color, FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, Rect, Stroke, StrokeDash, Transform,
};

use crate::colour::Rgb;

/// A face of the type (Noto Sans, SIL Open Font Licence 1.1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Face {
    /// Regular.
    Regular,
    /// Bold.
    Bold,
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    /// Width in pixels.
    pub width: f32,
    /// Colour.
    pub colour: Rgb,
    /// Length of each dash and of the gap after it, in pixels; drawn through where nothing is said.
    pub dash: Option<[f32; 2]>,
    /// Whether its ends, and those of its dashes, are round; else they are cut square.
    pub round: bool,
}

impl Pen {
    /// A line drawn through, with round ends.
    pub fn solid(width: f32, colour: Rgb) -> Self {
        Self {
            width,
            colour,
            dash: None,
            round: true,
        }
    }

    /// A line drawn through, with ends cut square.
    pub fn square(width: f32, colour: Rgb) -> Self {
        Self {
            round: false,
            ..Self::solid(width, colour)
        }
    }
}

/// A sheet of paper in pixels.
pub struct Canvas {
    paper: Pixmap,
    regular: FontRef<'static>,
    bold: FontRef<'static>,
}

/// Why a picture could not be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DrawError {
    /// No paper of that size.
    #[error("no picture of {0} × {1} pixels can be made")]
    Size(u32, u32),
    /// The type could not be read.
    #[error("the type can't be read")]
    Type,
    /// The picture could not be written as PNG.
    #[error("the picture can't be written as PNG: {0}")]
    Png(String),
    /// A picture that was to be laid on the sheet is no PNG.
    #[error("a picture can't be read as PNG: {0}")]
    Read(String),
    /// A picture that was to be shown again has another size than those that are drawn here.
    #[error("a picture of {0} × {1} pixels is no heat map of this version; run the job again")]
    Another(u32, u32),
}

impl Canvas {
    /// White paper.
    ///
    /// # Errors
    /// Where the size is nothing or far too much.
    pub fn new(width: u32, height: u32) -> Result<Self, DrawError> {
        let mut paper = Pixmap::new(width, height).ok_or(DrawError::Size(width, height))?;
        paper.fill(Color::WHITE);
        let face = |bytes| FontRef::try_from_slice(bytes).map_err(|_| DrawError::Type);
        Ok(Self {
            paper,
            regular: face(notosans::REGULAR_TTF)?,
            bold: face(notosans::BOLD_TTF)?,
        })
    }

    /// Width in pixels.
    pub fn width(&self) -> f32 {
        self.paper.width() as f32
    }

    /// Height in pixels.
    pub fn height(&self) -> f32 {
        self.paper.height() as f32
    }

    /// Sets a block of pixels, row by row.
    pub fn block(&mut self, left: usize, top: usize, width: usize, colours: &[Rgb]) {
        let paper_width = self.paper.width() as usize;
        let data = self.paper.data_mut();
        for (i, colour) in colours.iter().enumerate() {
            let at = 4 * ((top + i / width) * paper_width + left + i % width);
            if let Some(pixel) = data.get_mut(at..at + 4) {
                pixel.copy_from_slice(&[colour[0], colour[1], colour[2], 255]);
            }
        }
    }

    /// A straight line.
    pub fn line(&mut self, from: [f32; 2], to: [f32; 2], width: f32, colour: Rgb) {
        self.polyline(&[from, to], &Pen::solid(width, colour));
    }

    /// A line through places, with round corners.
    pub fn polyline(&mut self, at: &[[f32; 2]], pen: &Pen) {
        if let Some(path) = through(at, false) {
            let stroke = Stroke {
                width: pen.width,
                line_cap: if pen.round { LineCap::Round } else { LineCap::Butt },
                line_join: LineJoin::Round,
                dash: pen.dash.and_then(|d| StrokeDash::new(d.to_vec(), 0.0)),
                ..Stroke::default()
            };
            self.paper.stroke_path(
                &path,
                &paint(pen.colour, 255),
                &stroke,
                Transform::identity(),
                None,
            );
        }
    }

    /// A filled outline; `cover` 255 hides what is under it.
    pub fn polygon(&mut self, at: &[[f32; 2]], colour: Rgb, cover: u8) {
        if let Some(path) = through(at, true) {
            self.paper.fill_path(
                &path,
                &paint(colour, cover),
                FillRule::Winding,
                Transform::identity(),
                None,
            );
        }
    }

    /// A filled disc.
    pub fn disc(&mut self, middle: [f32; 2], radius: f32, colour: Rgb) {
        if let Some(path) = PathBuilder::from_circle(middle[0], middle[1], radius) {
            self.paper.fill_path(
                &path,
                &paint(colour, 255),
                FillRule::Winding,
                Transform::identity(),
                None,
            );
        }
    }

    /// A line with a head at its end.
    pub fn arrow(&mut self, from: [f32; 2], to: [f32; 2], width: f32, colour: Rgb) {
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        let length = dx.hypot(dy).max(1e-3);
        let (ux, uy) = (dx / length, dy / length);
        let head = 4.5 * width;
        let neck = [to[0] - ux * head, to[1] - uy * head];
        self.line(from, neck, width, colour);
        let across = [-uy * head * 0.45, ux * head * 0.45];
        let barb = |side: f32| [neck[0] + side * across[0], neck[1] + side * across[1]];
        self.polygon(&[to, barb(1.0), barb(-1.0)], colour, 255);
    }

    /// A ring: white outside, ink inside, so that it shows on every ground.
    pub fn ring(&mut self, middle: [f32; 2], radius: f32, colour: Rgb) {
        for (width, colour) in [(7.0, [255, 255, 255]), (3.5, colour)] {
            if let Some(path) = PathBuilder::from_circle(middle[0], middle[1], radius) {
                let stroke = Stroke {
                    width,
                    ..Stroke::default()
                };
                self.paper
                    .stroke_path(&path, &paint(colour, 255), &stroke, Transform::identity(), None);
            }
        }
    }

    /// A filled box, with its border where one is asked for; `cover` 255 hides what is under it.
    pub fn rect(&mut self, left_top: [f32; 2], size: [f32; 2], fill: Rgb, cover: u8, border: Option<Rgb>) {
        let Some(rect) = Rect::from_xywh(left_top[0], left_top[1], size[0], size[1]) else {
            return;
        };
        self.paper
            .fill_rect(rect, &paint(fill, cover), Transform::identity(), None);
        if let Some(border) = border {
            let path = PathBuilder::from_rect(rect);
            let stroke = Stroke {
                width: 2.0,
                ..Stroke::default()
            };
            self.paper
                .stroke_path(&path, &paint(border, 255), &stroke, Transform::identity(), None);
        }
    }

    /// Writes a line of text with its upper left corner at `left_top`; `size` is the height of the line in pixels.
    pub fn text(&mut self, left_top: [f32; 2], size: f32, face: Face, colour: Rgb, text: &str) {
        let glyphs = self.laid_out(size, face, text);
        let font = self.font(face).clone();
        let ascent = font.as_scaled(PxScale::from(size)).ascent();
        let (width, height) = (self.paper.width() as i32, self.paper.height() as i32);
        for mut glyph in glyphs {
            glyph.position.x += left_top[0];
            glyph.position.y += left_top[1] + ascent;
            let Some(outline) = font.outline_glyph(glyph) else {
                continue;
            };
            let bounds = outline.px_bounds();
            let data = self.paper.data_mut();
            outline.draw(|x, y, cover| {
                let (x, y) = (bounds.min.x as i32 + x as i32, bounds.min.y as i32 + y as i32);
                if (0..width).contains(&x) && (0..height).contains(&y) {
                    let at = 4 * (y as usize * width as usize + x as usize);
                    for (k, c) in colour.iter().enumerate() {
                        let under = f32::from(data[at + k]);
                        data[at + k] = (under + (f32::from(*c) - under) * cover.min(1.0)).round() as u8;
                    }
                }
            });
        }
    }

    /// How wide a line of text will be, in pixels.
    pub fn text_width(&self, size: f32, face: Face, text: &str) -> f32 {
        let font = self.font(face).as_scaled(PxScale::from(size));
        let glyphs = self.laid_out(size, face, text);
        glyphs.last().map_or(0.0, |g| g.position.x + font.h_advance(g.id))
    }

    /// The text cut to a width, with an ellipsis where it was cut.
    pub fn fitted(&self, size: f32, face: Face, text: &str, width: f32) -> String {
        if self.text_width(size, face, text) <= width {
            return text.to_string();
        }
        let mut kept: Vec<char> = text.chars().collect();
        while !kept.is_empty() {
            kept.pop();
            let tried: String = kept.iter().chain(&['…']).collect();
            if self.text_width(size, face, &tried) <= width {
                return tried;
            }
        }
        String::new()
    }

    fn font(&self, face: Face) -> &FontRef<'static> {
        match face {
            Face::Regular => &self.regular,
            Face::Bold => &self.bold,
        }
    }

    fn laid_out(&self, size: f32, face: Face, text: &str) -> Vec<Glyph> {
        let scale = PxScale::from(size);
        let font = self.font(face).as_scaled(scale);
        let mut x = 0.0;
        let mut last = None;
        text.chars()
            .map(|c| {
                let id = font.glyph_id(c);
                if let Some(last) = last {
                    x += font.kern(last, id);
                }
                last = Some(id);
                let glyph = id.with_scale_and_position(scale, point(x, 0.0));
                x += font.h_advance(id);
                glyph
            })
            .collect()
    }

    /// Lays a picture on the sheet with its upper left corner at `left_top`, made small enough for a box of `size` pixels, which
    /// must lie on the sheet; gives the width and height that it takes.
    pub fn picture(&mut self, left_top: [usize; 2], size: [usize; 2], picture: &RgbImage) -> [usize; 2] {
        let share = |k: usize, whole: u32| size[k] as f64 / f64::from(whole.max(1));
        let smaller = share(0, picture.width()).min(share(1, picture.height())).min(1.0);
        let [width, height] =
            [picture.width(), picture.height()].map(|n| ((f64::from(n) * smaller).floor() as u32).max(1));
        let colours: Vec<Rgb> = image::imageops::thumbnail(picture, width, height)
            .pixels()
            .map(|pixel| pixel.0)
            .collect();
        self.block(left_top[0], left_top[1], width as usize, &colours);
        [width as usize, height as usize]
    }

    /// The colour at a pixel of the sheet.
    #[cfg(test)]
    pub(crate) fn pixel(&self, column: u32, row: u32) -> Option<Rgb> {
        let pixel = self.paper.pixel(column, row)?;
        Some([pixel.red(), pixel.green(), pixel.blue()])
    }

    /// The sheet as a PNG file.
    ///
    /// # Errors
    /// Where it can't be encoded.
    pub fn png(&self) -> Result<Vec<u8>, DrawError> {
        use image::ImageEncoder;
        use image::codecs::png::{CompressionType, FilterType, PngEncoder};
        let rgb: Vec<u8> = self
            .paper
            .data()
            .chunks_exact(4)
            .flat_map(|p| [p[0], p[1], p[2]])
            .collect();
        let mut out = Vec::new();
        PngEncoder::new_with_quality(&mut out, CompressionType::Fast, FilterType::Adaptive)
            .write_image(
                &rgb,
                self.paper.width(),
                self.paper.height(),
                image::ExtendedColorType::Rgb8,
            )
            .map_err(|e| DrawError::Png(e.to_string()))?;
        Ok(out)
    }
}

/// The path through places; `None` where they are fewer than two or not finite.
fn through(at: &[[f32; 2]], closed: bool) -> Option<Path> {
    let (first, rest) = at.split_first()?;
    let mut path = PathBuilder::new();
    path.move_to(first[0], first[1]);
    for place in rest {
        path.line_to(place[0], place[1]);
    }
    if closed {
        path.close();
    }
    path.finish()
}

fn paint(colour: Rgb, cover: u8) -> Paint<'static> {
    let mut paint = Paint::default();
    paint.set_color_rgba8(colour[0], colour[1], colour[2], cover);
    paint.anti_alias = true;
    paint
}
