//! Writes what was laid out as a PDF file: the same bytes for the same sheets, since nothing of it asks for the day.

use krilla::Document;
use krilla::color::luma;
use krilla::geom::{Path, PathBuilder, Point, Rect, Size, Transform};
use krilla::image::Image;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};

use crate::PageError;

use super::face::{Faces, MM_PER_POINT, Style};
use super::pictures::thinned;
use super::sheet::{Laid, Mark, Paper, Sign, Space};

/// How far a quarter of a circle's control points stand out, in radii: 4(√2 − 1)/3.
const ROUND: f32 = 0.552_284_8;
/// Width of the lines of a shape, in its sides.
const PEN: f32 = 0.12;

/// The PDF file.
pub(super) fn write(laid: &Laid<'_>, faces: &Faces, paper: Paper) -> Result<Vec<u8>, PageError> {
    let [width, height] = paper.size_mm().map(points);
    let settings = PageSettings::from_wh(width, height)
        .ok_or_else(|| PageError("there is no such paper".to_string()))?;
    let ink = Ink {
        faces,
        laid,
        regular: font(notosans::REGULAR_TTF)?,
        bold: font(notosans::BOLD_TTF)?,
        corner_mm: paper.corner_mm(),
    };
    let mut document = Document::new();
    let about = Metadata::new()
        .title(laid.title.clone())
        .creator(laid.program.clone())
        .language("en-GB".to_string());
    document.set_metadata(about);
    for sheet in &laid.sheets {
        let mut page = document.start_page_with(settings.clone());
        let mut surface = page.surface();
        for mark in &sheet.marks {
            ink.draw(&mut surface, mark)?;
        }
        surface.finish();
        page.finish();
    }
    document
        .finish()
        .map_err(|why| PageError(format!("the PDF can't be written: {why}")))
}

fn points(mm: f32) -> f32 {
    mm / MM_PER_POINT
}

fn font(face: &'static [u8]) -> Result<Font, PageError> {
    Font::new(face.into(), 0).ok_or_else(|| PageError("the type can't be read".to_string()))
}

fn fill(grey: u8) -> Fill {
    Fill {
        paint: luma::Color::new(grey).into(),
        ..Fill::default()
    }
}

fn stroke(grey: u8, pen_mm: f32) -> Stroke {
    Stroke {
        paint: luma::Color::new(grey).into(),
        width: points(pen_mm),
        ..Stroke::default()
    }
}

struct Ink<'l> {
    faces: &'l Faces,
    laid: &'l Laid<'l>,
    regular: Font,
    bold: Font,
    corner_mm: [f32; 2],
}

impl Ink<'_> {
    /// A place on the sheet as a place on the paper, in points.
    fn on_paper(&self, [left, top]: [f32; 2]) -> [f32; 2] {
        [points(left + self.corner_mm[0]), points(top + self.corner_mm[1])]
    }

    fn draw(&self, surface: &mut Surface<'_>, mark: &Mark) -> Result<(), PageError> {
        match mark {
            Mark::Words {
                left,
                base,
                style,
                words,
                ..
            } => self.words(surface, [*left, *base], words, *style),
            Mark::Line { from, to, pen, grey } => {
                self.stroked(surface, self.path(&[*from, *to], false), stroke(*grey, *pen));
            }
            Mark::Ground { at, grey } => self.filled(surface, self.box_of(*at), fill(*grey)),
            Mark::Sign { sign, at } => self.sign(surface, *sign, *at),
            Mark::Picture { which, at } => self.picture(surface, *which, *at)?,
        }
        Ok(())
    }

    fn words(&self, surface: &mut Surface<'_>, at: [f32; 2], words: &str, style: Style) {
        let glyphs: Vec<KrillaGlyph> = self
            .faces
            .placed(words, style)
            .into_iter()
            .map(|p| {
                let glyph = GlyphId::new(u32::from(p.glyph));
                KrillaGlyph::new(glyph, p.width_em, 0.0, 0.0, 0.0, p.bytes, None)
            })
            .collect();
        if glyphs.is_empty() {
            return;
        }
        let font = if style.bold { &self.bold } else { &self.regular };
        let [x, y] = self.on_paper(at);
        surface.set_stroke(None);
        surface.set_fill(Some(fill(style.grey)));
        surface.draw_glyphs(
            Point::from_xy(x, y),
            &glyphs,
            font.clone(),
            words,
            style.size_pt,
            false,
        );
    }

    /// A line through places, back to the first where it is closed.
    fn path(&self, places: &[[f32; 2]], closed: bool) -> Option<Path> {
        let mut path = PathBuilder::new();
        for (k, place) in places.iter().enumerate() {
            let [x, y] = self.on_paper(*place);
            if k == 0 {
                path.move_to(x, y);
            } else {
                path.line_to(x, y);
            }
        }
        if closed {
            path.close();
        }
        path.finish()
    }

    fn box_of(&self, at: Space) -> Option<Path> {
        let [x, y] = self.on_paper([at.left, at.top]);
        let mut path = PathBuilder::new();
        path.push_rect(Rect::from_xywh(x, y, points(at.width), points(at.height))?);
        path.finish()
    }

    fn circle(&self, middle: [f32; 2], radius_mm: f32) -> Option<Path> {
        let ([x, y], r) = (self.on_paper(middle), points(radius_mm));
        let c = ROUND * r;
        let mut path = PathBuilder::new();
        path.move_to(x + r, y);
        path.cubic_to(x + r, y + c, x + c, y + r, x, y + r);
        path.cubic_to(x - c, y + r, x - r, y + c, x - r, y);
        path.cubic_to(x - r, y - c, x - c, y - r, x, y - r);
        path.cubic_to(x + c, y - r, x + r, y - c, x + r, y);
        path.close();
        path.finish()
    }

    fn filled(&self, surface: &mut Surface<'_>, path: Option<Path>, fill: Fill) {
        if let Some(path) = path {
            surface.set_stroke(None);
            surface.set_fill(Some(fill));
            surface.draw_path(&path);
        }
    }

    fn stroked(&self, surface: &mut Surface<'_>, path: Option<Path>, stroke: Stroke) {
        if let Some(path) = path {
            surface.set_fill(None);
            surface.set_stroke(Some(stroke));
            surface.draw_path(&path);
        }
    }

    /// A shape; its lines stay inside of its space.
    fn sign(&self, surface: &mut Surface<'_>, sign: Sign, at: Space) {
        let pen_mm = PEN * at.width;
        let (inset, half) = (pen_mm / 2.0, at.width / 2.0);
        let [x, y] = [at.left + half, at.top + half];
        let reach = half - inset;
        let inner = Space {
            left: at.left + inset,
            top: at.top + inset,
            width: at.width - pen_mm,
            height: at.height - pen_mm,
        };
        let black = stroke(0, pen_mm);
        // A line's corner reaches farther out than its side: √2 of half its width.
        let tip = half - 1.5 * inset;
        let [up, right, down, left] = [[x, y - tip], [x + tip, y], [x, y + tip], [x - tip, y]];
        match sign {
            Sign::Out => self.filled(surface, self.box_of(at), fill(0)),
            Sign::In => self.stroked(surface, self.circle([x, y], reach), black),
            Sign::Tick => self.stroked(surface, self.box_of(inner), black),
            Sign::Differs => self.stroked(surface, self.path(&[up, right, down, left], true), black),
            Sign::Close => {
                self.filled(surface, self.path(&[up, down, left], true), fill(0));
                self.stroked(surface, self.path(&[up, right, down, left], true), black);
            }
            Sign::NotMeasured => {
                let dash = self.path(&[[x - reach, y], [x + reach, y]], false);
                self.stroked(surface, dash, stroke(0, 1.5 * pen_mm));
            }
        }
    }

    fn picture(&self, surface: &mut Surface<'_>, which: usize, at: Space) -> Result<(), PageError> {
        let Some((file, png)) = self.laid.pictures.get(which) else {
            return Ok(());
        };
        let thin = thinned(file, png, at.width)?;
        let image = Image::from_png(thin.into(), true)
            .map_err(|why| PageError(format!("{file}: the picture can't be printed: {why}")))?;
        let [x, y] = self.on_paper([at.left, at.top]);
        if let Some(size) = Size::from_wh(points(at.width), points(at.height)) {
            surface.push_transform(&Transform::from_translate(x, y));
            surface.draw_image(image, size);
            surface.pop();
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::Margins;
    use super::super::flow::Flow;
    use super::*;

    /// How often a page object stands in the file; the tree that holds them is another kind.
    fn pages(pdf: &[u8]) -> usize {
        let text = String::from_utf8_lossy(pdf).replace(' ', "");
        text.matches("/Type/Page").count() - text.matches("/Type/Pages").count()
    }

    #[test]
    fn every_sheet_becomes_a_page_and_every_shape_is_drawn() {
        let faces = Faces::new().unwrap();
        let mut flow = Flow::new(&faces, 9.0);
        for sign in [
            Sign::Out,
            Sign::In,
            Sign::Close,
            Sign::Differs,
            Sign::NotMeasured,
            Sign::Tick,
        ] {
            flow.signed(sign, "±1/32 in … é", Style::plain(12.0));
        }
        flow.turn();
        flow.paragraph("second", Style::plain(9.0));
        let laid = flow.finish(&Margins {
            job: "tub",
            part: "floor",
            kind: "comparison",
            program: "witnessmark",
            result_sha256: "",
        });
        let pdf = write(&laid, &faces, Paper::Letter).unwrap();
        assert_eq!(pages(&pdf), 2);
        assert!(pdf.ends_with(b"%%EOF"));
        let mut without = laid.clone();
        without.sheets[0]
            .marks
            .retain(|m| !matches!(m, Mark::Sign { .. }));
        assert_ne!(pdf, write(&without, &faces, Paper::Letter).unwrap());
    }

    /// Letter is 612 by 792 points, A4 595.28 by 841.89.
    #[test]
    fn the_paper_has_its_size() {
        let letter = Paper::Letter.size_mm().map(points);
        assert!((letter[0] - 612.0).abs() < 0.01 && (letter[1] - 792.0).abs() < 0.01);
        let a4 = Paper::A4.size_mm().map(points);
        assert!((a4[0] - 595.28).abs() < 0.01 && (a4[1] - 841.89).abs() < 0.01);
    }
}
