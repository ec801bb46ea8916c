//! One figure's strip: the band of its limit, a dot with its ± for each trip, and its steps.

use cloud::unit::{fraction_of_inch, signed_32nds};

use super::Row;
use super::grid::{APART, Grid, LEFT, RIGHT, WORDS, pitch};
use crate::canvas::{Canvas, Face, Pen};
use crate::colour::{self, INK, PAPER, Rgb, WITHIN};
use crate::page::SMALL;
use crate::wrapped::{Type, in_lines};

/// The border of the band.
pub(super) const BORDER: Rgb = [176, 176, 172];
const JOINED: Rgb = [110, 110, 110];
const HATCH: Rgb = [165, 165, 165];
const FRAME: Rgb = [215, 215, 215];

/// Heights of lines in pixels: a figure's name, its limit, what is said of it, a figure beyond the strip.
const NAME: f32 = 27.0;
const LIMIT: f32 = 21.0;
const SAID: f32 = 30.0;
const BEYOND: f32 = 20.0;
/// What is said is set smaller where it would be cut otherwise: words that are cut may say the opposite.
const SAID_SIZES: [f32; 3] = [SAID, 26.0, 23.0];

/// A figure at its place on the sheet.
pub(super) struct Strip<'a> {
    grid: &'a Grid,
    place: usize,
    row: &'a Row<'a>,
    /// The trips that saw it, with the figure and its ±, mm.
    seen: Vec<(usize, f64, f64)>,
}

impl<'a> Strip<'a> {
    pub(super) fn new(grid: &'a Grid, place: usize, row: &'a Row<'a>) -> Self {
        let seen = (0..grid.trips).filter_map(|t| row.seen(t).map(|(mm, pm_mm)| (t, mm, pm_mm)));
        Self {
            grid,
            place,
            row,
            seen: seen.collect(),
        }
    }

    pub(super) fn draw(&self, canvas: &mut Canvas) {
        self.ground(canvas);
        self.steps(canvas);
        self.joined(canvas);
        for (trip, mm, pm_mm) in &self.seen {
            self.bar(canvas, *trip, [mm - pm_mm, mm + pm_mm]);
            dot(canvas, self.spot(*trip, *mm), self.off(*mm));
        }
        self.beyond(canvas);
        self.words(canvas);
    }

    /// The strip, the band of the limit, and hatching where a trip did not see it.
    fn ground(&self, canvas: &mut Canvas) {
        let [top, bottom] = self.grid.strip(self.place);
        let limit_mm = self.row.limit_mm;
        if limit_mm.is_finite() && limit_mm > 0.0 {
            let [high, low] = [limit_mm, -limit_mm].map(|mm| self.grid.height(self.place, mm));
            canvas.rect(
                [LEFT, high],
                [RIGHT - LEFT, low - high],
                WITHIN,
                255,
                Some(BORDER),
            );
        }
        let zero = self.grid.height(self.place, 0.0);
        canvas.line([LEFT, zero], [RIGHT, zero], 1.5, BORDER);
        canvas.rect([LEFT, top], [RIGHT - LEFT, bottom - top], PAPER, 0, Some(FRAME));
        let wide = pitch(self.grid.trips);
        for trip in (0..self.grid.trips).filter(|t| self.row.seen(*t).is_none()) {
            let left = self.grid.gap(trip) + 8.0;
            hatch(canvas, [left, top + 1.0, wide - 16.0, bottom - top - 2.0]);
        }
    }

    /// A heavy mark for each step; where trips between did not see the figure, a bar over all the time in which it was made.
    fn steps(&self, canvas: &mut Canvas) {
        let [top, bottom] = self.grid.strip(self.place);
        for (from, to) in &self.row.steps {
            if from >= to || *to >= self.grid.trips {
                continue;
            }
            let (first, last) = (self.grid.gap(from + 1), self.grid.gap(*to));
            step_mark(canvas, (first + last) / 2.0, [top - 2.0, bottom + 2.0]);
            if last > first {
                for y in [top, bottom] {
                    canvas.polyline(&[[first, y], [last, y]], &Pen::square(5.0, INK));
                }
            }
        }
    }

    /// The line from dot to dot, dashed over what was not seen.
    fn joined(&self, canvas: &mut Canvas) {
        for pair in self.seen.windows(2) {
            let ends = [pair[0], pair[1]].map(|(trip, mm, _)| self.spot(trip, mm));
            let solid = Pen::solid(3.0, JOINED);
            let pen = if pair[1].0 == pair[0].0 + 1 {
                solid
            } else {
                Pen {
                    dash: Some([10.0, 8.0]),
                    round: false,
                    ..solid
                }
            };
            canvas.polyline(&ends, &pen);
        }
    }

    /// The bar of a ±, with ends where they lie on the strip.
    fn bar(&self, canvas: &mut Canvas, trip: usize, ends_mm: [f64; 2]) {
        let [from, to] = ends_mm.map(|mm| self.spot(trip, mm));
        canvas.line(from, to, 2.5, INK);
        for (end, mm) in [from, to].into_iter().zip(ends_mm) {
            if !self.grid.beyond(mm) {
                bar_end(canvas, end);
            }
        }
    }

    /// The figures that lie beyond the strip, in small print at its edge; the last has its figure beside it anyhow.
    fn beyond(&self, canvas: &mut Canvas) {
        let before_last = &self.seen[..self.seen.len().saturating_sub(1)];
        for (trip, mm, _) in before_last.iter().filter(|s| self.grid.beyond(s.1)) {
            let at = self.spot(*trip, *mm);
            let text = signed_32nds(*mm);
            let wide = canvas.text_width(BEYOND, Face::Regular, &text);
            let top = if *mm > 0.0 {
                at[1] + 10.0
            } else {
                at[1] - 10.0 - BEYOND
            };
            canvas.text([at[0] - wide / 2.0, top], BEYOND, Face::Regular, INK, &text);
        }
    }

    /// Its name and limit at the left, the last figure beside its dot, what is said of it at the right.
    fn words(&self, canvas: &mut Canvas) {
        let [top, bottom] = self.grid.strip(self.place);
        let middle = (top + bottom) / 2.0;
        let bold = Type {
            size: NAME,
            face: Face::Bold,
        };
        let name = in_lines(canvas, bold, self.row.what, LEFT - 50.0, 2);
        let limit = format!("limit ±{} in", fraction_of_inch(self.row.limit_mm, 64));
        let mut y = middle - (NAME * name.len() as f32 + LIMIT) / 2.0;
        for line in &name {
            canvas.text([30.0, y], NAME, Face::Bold, INK, line);
            y += NAME;
        }
        canvas.text([30.0, y], LIMIT, Face::Regular, SMALL, &limit);
        let mut face = Face::Regular;
        if let Some((trip, mm, _)) = self.seen.last() {
            let at = self.spot(*trip, *mm);
            let text = signed_32nds(*mm);
            let mut left_top = [at[0] + 22.0, at[1] - SAID / 2.0];
            if trip + 1 < self.grid.trips {
                let wide = canvas.text_width(SAID, Face::Bold, &text);
                canvas.rect(left_top, [wide, SAID], PAPER, 255, None);
            } else {
                left_top[0] = RIGHT + 10.0;
            }
            canvas.text(left_top, SAID, Face::Bold, INK, &text);
            if self.off(*mm).is_some() || !self.row.steps.is_empty() {
                face = Face::Bold;
            }
        }
        let width = canvas.width() - 30.0 - WORDS;
        let (size, said) = self.said(canvas, face, [width, bottom - top + APART]);
        for (i, line) in said.iter().enumerate() {
            let y = middle + size * (i as f32 - said.len() as f32 / 2.0);
            canvas.text([WORDS, y], size, face, INK, line);
        }
    }

    /// What is said of it in lines, in the largest type in which a room (width, height) holds all of it; cut where none does.
    fn said(&self, canvas: &Canvas, face: Face, room: [f32; 2]) -> (f32, Vec<String>) {
        let set = |size: f32| {
            let most = ((room[1] / size) as usize).max(1);
            let of = Type { size, face };
            (size, in_lines(canvas, of, self.row.words, room[0], most))
        };
        let whole = |said: &Vec<String>| said.last().is_none_or(|line| !line.ends_with('…'));
        let fits = SAID_SIZES.into_iter().map(set).find(|(_, said)| whole(said));
        fits.unwrap_or_else(|| set(SAID_SIZES[SAID_SIZES.len() - 1]))
    }

    fn spot(&self, trip: usize, mm: f64) -> [f32; 2] {
        [self.grid.column(trip), self.grid.height(self.place, mm)]
    }

    /// The figure where it lies beyond its limit.
    fn off(&self, mm: f64) -> Option<f64> {
        (mm.abs() > self.row.limit_mm).then_some(mm)
    }
}

/// A dot with the bar of its ±, as the key shows it.
pub(super) fn mark(canvas: &mut Canvas, at: [f32; 2], off: Option<f64>) {
    let [from, to] = [-14.0, 14.0].map(|down| [at[0], at[1] + down]);
    canvas.line(from, to, 2.5, INK);
    bar_end(canvas, from);
    bar_end(canvas, to);
    dot(canvas, at, off);
}

fn bar_end(canvas: &mut Canvas, at: [f32; 2]) {
    canvas.line([at[0] - 7.0, at[1]], [at[0] + 7.0, at[1]], 2.5, INK);
}

/// An open dot within the limit; beyond it a filled and larger arrow head, up for plus and down for minus.
fn dot(canvas: &mut Canvas, at: [f32; 2], off: Option<f64>) {
    let Some(mm) = off else {
        canvas.disc(at, 7.0, INK);
        canvas.disc(at, 4.0, PAPER);
        return;
    };
    let way = if mm > 0.0 { -1.0 } else { 1.0 };
    for (size, colour) in [(16.0, INK), (9.5, colour::beyond(0.5_f64.copysign(mm)))] {
        let corner = |across: f32, along: f32| [at[0] + across * size, at[1] + along * way * size];
        canvas.polygon(
            &[corner(0.0, 1.0), corner(0.87, -0.5), corner(-0.87, -0.5)],
            colour,
            255,
        );
    }
}

/// The heavy mark of a step, from a top to a bottom.
pub(super) fn step_mark(canvas: &mut Canvas, x: f32, from_to: [f32; 2]) {
    canvas.polyline(&[[x, from_to[0]], [x, from_to[1]]], &Pen::square(10.0, INK));
}

/// Slanted lines over a box (left, top, width, height): not seen.
pub(super) fn hatch(canvas: &mut Canvas, area: [f32; 4]) {
    let [left, top, width, height] = area;
    for k in 1..((width + height) / 11.0).max(0.0) as usize {
        let start = left - height + 11.0 * k as f32;
        // From the bottom at its start to the top, cut to the box.
        let ends = [start.max(left), (start + height).min(left + width)];
        let at = ends.map(|x| [x, top + height - (x - start)]);
        if ends[1] > ends[0] {
            canvas.line(at[0], at[1], 1.8, HATCH);
        }
    }
}
