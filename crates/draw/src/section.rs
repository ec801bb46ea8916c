//! A cut through the metal: where it should be, where it is with the deviation drawn larger, and the limit as a band.

use cloud::unit::fraction_of_inch;
use compare::Verdict;

use crate::canvas::{Canvas, DrawError, Face, Pen};
use crate::colour::{self, ENDS, INK, PAPER, Rgb, WITHIN};
use crate::ground::Area;
use crate::label::{self, Label, USUAL_RING};
use crate::legend;
use crate::magnified::{Place, Sample};
use crate::page::{self, COLUMN, Heads, SIZE, SMALL};
use crate::splat::Window;

mod beyond;
mod layout;
mod strokes;

use layout::{Layout, SIDE_WORDS, ground};
use strokes::{SHOULD_BE, Standing, missing, not_seen, out_of_limit, spread, tone};

/// The border of the band.
const BORDER: Rgb = [176, 176, 172];
/// What is said of the reference where the measured set ends, as in the heat maps.
const BEYOND: &str = "beyond its edge";
/// Distance along the reference between whiskers, dots and strokes, in pixels.
const WHISKERS: f64 = 44.0;
const DOTS: f64 = 34.0;
const STROKES: f64 = 24.0;

/// A picture of a cut. Out lies to the left of the way in which each reference line runs.
pub struct SectionPicture<'a> {
    /// What was found, large.
    pub title: String,
    /// What was cut where, and from where it is seen.
    pub subtitle: String,
    /// How it was set.
    pub set_by: String,
    /// Files and cautions, small.
    pub footer: String,
    /// Where the metal should be: lines of places (right, up) in the plane of the cut, mm; out is to their left.
    pub reference: &'a [Vec<[f64; 2]>],
    /// Where it is: a line for each stretch that was seen, mm.
    pub measured: &'a [Vec<[f64; 2]>],
    /// Stretches of the reference, on its lines, beside which the measured set ends: metal that is missing, mm.
    pub beyond: &'a [Vec<[f64; 2]>],
    /// How many times the deviation is drawn; 1 at the least. See [`usual_magnification`].
    pub magnified: f64,
    /// The limit, mm.
    pub limit_mm: f64,
    /// Directions in words at the left and right sides of the picture, then at the bottom and the top.
    pub axes: [(&'a str, &'a str); 2],
    /// Places of the reference or of the measured line, mm, with what is written there; the first line is bold.
    pub marks: Vec<([f64; 2], Vec<String>)>,
}

/// How many times a deviation is drawn so that the worst is plain to see and the cut still keeps its shape: 1, 2, 5, 10,
/// 20 or 50. `worst_mm` is the worst deviation or the limit, whichever is larger; `extent_mm` the size of the cut.
pub fn usual_magnification(worst_mm: f64, extent_mm: f64) -> f64 {
    [50.0, 20.0, 10.0, 5.0, 2.0]
        .into_iter()
        .find(|times| worst_mm.abs() * times <= extent_mm / 7.0)
        .unwrap_or(1.0)
}

impl SectionPicture<'_> {
    /// Draws the picture as a PNG file.
    ///
    /// # Errors
    /// Where it can't be encoded.
    pub fn png(&self) -> Result<Vec<u8>, DrawError> {
        self.sheet()?.png()
    }

    fn sheet(&self) -> Result<Canvas, DrawError> {
        let mut canvas = Canvas::new(SIZE[0], SIZE[1])?;
        let heads = Heads {
            title: &self.title,
            subtitle: &self.subtitle,
            set_by: &self.set_by,
            footer: &self.footer,
        };
        heads.draw(&mut canvas);
        let layout = Layout::of(self, &canvas);
        self.where_it_should_be(&mut canvas, &layout);
        self.where_it_is(&mut canvas, &layout);
        let kept_clear = self.side_words(&mut canvas);
        let labels: Vec<Label> = self
            .marks
            .iter()
            .map(|(at, lines)| Label {
                spot: layout.spot(layout.drawn(Place::from(*at))),
                radius: USUAL_RING,
                ringed: true,
                lines: lines.clone(),
            })
            .collect();
        label::draw(&mut canvas, &labels, &kept_clear, &ground(&layout));
        self.column(&mut canvas, &layout);
        Ok(canvas)
    }

    /// The band of the limit, what is out of it, and the reference with its stretches that were not seen.
    fn where_it_should_be(&self, canvas: &mut Canvas, layout: &Layout) {
        let band = (2.0 * self.limit_mm * layout.magnified / layout.window.mm_per_pixel) as f32;
        let lines: Vec<Vec<[f32; 2]>> = layout
            .reference
            .lines()
            .map(|line| layout.spots(line.iter().copied()))
            .collect();
        for pen in [Pen::square(band + 4.0, BORDER), Pen::square(band, WITHIN)] {
            for line in &lines {
                canvas.polyline(line, &pen);
            }
        }
        for (standing, stretch) in layout.pieces.iter().flat_map(|p| self.stretches(p)) {
            let Some(tone) = tone(standing, 0.1) else { continue };
            let feet = stretch.iter().map(|s| s.foot.map_or(s.place, |foot| foot.at));
            let outline = layout.spots(feet.chain(stretch.iter().rev().map(|s| s.drawn)));
            canvas.polygon(&outline, colour::mix(PAPER, tone, 0.55), 255);
        }
        for line in &lines {
            canvas.polyline(line, &Pen::solid(11.0, SHOULD_BE));
        }
        for stretch in &layout.unseen {
            not_seen(canvas, &layout.spots(stretch.iter().copied()));
        }
        for stretch in &layout.beyond {
            missing(canvas, &layout.spots(stretch.iter().copied()));
        }
    }

    /// The measured line, with whiskers to where it should be.
    fn where_it_is(&self, canvas: &mut Canvas, layout: &Layout) {
        for piece in &layout.pieces {
            for i in spread(piece, layout.mm(WHISKERS)) {
                if let Some(foot) = piece[i].beside() {
                    let (from, to) = (layout.spot(foot.at), layout.spot(piece[i].drawn));
                    canvas.line(from, to, 2.2, [70, 70, 70]);
                }
            }
            let whole = layout.spots(piece.iter().map(|s| s.drawn));
            canvas.polyline(&whole, &Pen::solid(6.0, INK));
            for (standing, stretch) in self.stretches(piece) {
                let tones: Vec<Rgb> = stretch
                    .iter()
                    .filter_map(|s| tone(standing, self.share(s)))
                    .collect();
                let every = if standing == Standing::Shy { STROKES } else { DOTS };
                let marked = spread(stretch, layout.mm(every));
                let spots = layout.spots(stretch.iter().map(|s| s.drawn));
                out_of_limit(canvas, &spots, &tones, standing, &marked);
            }
        }
    }

    /// How far beyond the limit, as a share of the ramp.
    fn share(&self, sample: &Sample) -> f64 {
        let mm = sample.foot.map_or(0.0, |foot| foot.deviation_mm.abs());
        ((mm - self.limit_mm) / ((ENDS - 1.0) * self.limit_mm).max(1e-9)).clamp(0.0, 1.0)
    }

    /// Stretches of a piece that stand alike, each up to and with the first place of the next.
    fn stretches<'s>(&self, piece: &'s [Sample]) -> Vec<(Standing, &'s [Sample])> {
        let standings: Vec<Standing> = piece.iter().map(|s| Standing::of(s, self.limit_mm)).collect();
        let mut start = 0;
        let mut found = Vec::new();
        for alike in standings.chunk_by(|a, b| a == b) {
            let end = start + alike.len();
            found.push((alike[0], &piece[start..(end + 1).min(piece.len())]));
            start = end;
        }
        found
    }

    /// The directions at the sides; gives the boxes that they take.
    fn side_words(&self, canvas: &mut Canvas) -> Vec<Area> {
        let [left, top, width, height] = page::area();
        let [(leftward, rightward), (downward, upward)] = self.axes;
        let places = [
            (leftward, 0.0, 0.5),
            (rightward, 1.0, 0.5),
            (downward, 0.5, 1.0),
            (upward, 0.5, 0.0),
        ];
        places
            .into_iter()
            .map(|(words, across, down)| {
                let wide = canvas.text_width(SIDE_WORDS, Face::Bold, words);
                let at = [
                    left + 8.0 + across * (width - 16.0 - wide),
                    top + down * (height - SIDE_WORDS),
                ];
                canvas.text(at, SIDE_WORDS, Face::Bold, INK, words);
                [at[0], at[1], wide, SIDE_WORDS]
            })
            .collect()
    }

    /// The column beside it: how many times, what each line is, and the scales.
    fn column(&self, canvas: &mut Canvas, layout: &Layout) {
        let times = if layout.magnified > 1.0 {
            format!("{} times", layout.magnified)
        } else {
            "as it is".to_string()
        };
        canvas.text([COLUMN, 146.0], 40.0, Face::Bold, INK, "deviation drawn");
        canvas.text([COLUMN, 180.0], 84.0, Face::Bold, INK, &times);
        let limit = format!("limit ±{} in", fraction_of_inch(self.limit_mm, 64));
        let limit_mm = format!("(±{:.1} mm)", self.limit_mm);
        let mut keys = vec![
            "where it should be",
            limit.as_str(),
            "where it is",
            "proud (out)",
            "shy (in)",
        ];
        if !layout.unseen.is_empty() {
            keys.push(Verdict::NotMeasured.words());
        }
        if !layout.beyond.is_empty() {
            keys.push(BEYOND);
        }
        for (k, words) in keys.into_iter().enumerate() {
            let y = 330.0 + 66.0 * k as f32;
            let run: Vec<[f32; 2]> = [5.0, 14.0, 24.0, 43.0, 62.0, 72.0, 81.0]
                .iter()
                .map(|x| [COLUMN + x, y])
                .collect();
            match k {
                0 => canvas.polyline(&run, &Pen::solid(11.0, SHOULD_BE)),
                1 => {
                    canvas.rect([COLUMN, y - 20.0], [86.0, 40.0], WITHIN, 255, Some(BORDER));
                    canvas.polyline(&run, &Pen::solid(7.0, SHOULD_BE));
                    canvas.text([COLUMN + 104.0, y + 12.0], 21.0, Face::Regular, SMALL, &limit_mm);
                }
                2 => canvas.polyline(&run, &Pen::solid(6.0, INK)),
                5.. if words == BEYOND => missing(canvas, &run),
                5.. => not_seen(canvas, &run),
                _ => {
                    let (standing, marked) = if k == 3 {
                        (Standing::Proud, vec![1, 3, 5])
                    } else {
                        (Standing::Shy, vec![1, 2, 3, 4, 5])
                    };
                    let tones: Vec<Rgb> = run.iter().filter_map(|_| tone(standing, 0.5)).collect();
                    out_of_limit(canvas, &run, &tones, standing, &marked);
                }
            }
            canvas.text([COLUMN + 104.0, y - 17.0], 27.0, Face::Regular, INK, words);
        }
        canvas.text([COLUMN, 950.0], 27.0, Face::Bold, INK, "length");
        legend::scale(canvas, [COLUMN, 1036.0], &layout.window);
        if layout.magnified > 1.0 {
            let off = Window {
                mm_per_pixel: layout.window.mm_per_pixel / layout.magnified,
                ..layout.window
            };
            canvas.text([COLUMN, 1110.0], 27.0, Face::Bold, INK, "how far it is off");
            legend::scale(canvas, [COLUMN, 1196.0], &off);
        }
    }
}

#[cfg(test)]
mod tests;
