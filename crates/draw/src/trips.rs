//! Figures over the trips in and out of the jig: a strip for each, one scale for all, and what was done between the trips.

use cloud::unit::fraction_of_inch;
use compare::Verdict;

use crate::canvas::{Canvas, DrawError, Face};
use crate::colour::{INK, WITHIN};
use crate::page::{Heads, SIZE, SMALL};

mod grid;
mod heads;
mod strip;

use grid::Grid;
use strip::{BORDER, Strip, hatch, mark, step_mark};

/// Most figures on one picture; whoever has more makes several.
pub const MOST_ROWS: usize = 12;

/// Size of the key's words in pixels, and where their line begins below the strips.
const KEY: f32 = 25.0;
const KEY_TOP: f32 = 1304.0;

/// A picture of figures over trips, oldest first. The first [`MOST_ROWS`] rows are drawn, and the picture says so where
/// there are more; over about fifteen trips their names are cut.
pub struct TripsPicture<'a> {
    /// What stands above and below.
    pub heads: Heads<'a>,
    /// The trips.
    pub trips: &'a [TripHead<'a>],
    /// The figures.
    pub rows: &'a [Row<'a>],
}

/// A trip as its column is headed.
pub struct TripHead<'a> {
    /// Its name.
    pub name: &'a str,
    /// Its day.
    pub day: &'a str,
    /// What was done before it, since the trip before; may be empty.
    pub operation: &'a str,
}

/// A figure over the trips.
pub struct Row<'a> {
    /// Which figure.
    pub what: &'a str,
    /// How far from nothing it may be, mm.
    pub limit_mm: f64,
    /// At each trip the figure and its ±, mm; `None` where it was not seen, as is what is no number.
    pub readings: Vec<Option<(f64, f64)>>,
    /// Its steps: the trip before and the trip after, counted from 0.
    pub steps: Vec<(usize, usize)>,
    /// What is said of it beside its strip.
    pub words: &'a str,
}

impl Row<'_> {
    /// What a trip read, mm: the figure and its ±.
    fn seen(&self, trip: usize) -> Option<(f64, f64)> {
        let reading = self.readings.get(trip).copied().flatten();
        reading.filter(|(mm, pm_mm)| mm.is_finite() && pm_mm.is_finite())
    }

    /// Whether it made a step, or may have, between a trip and the one before it.
    fn steps_before(&self, trip: usize) -> bool {
        self.steps.iter().any(|(from, to)| *from < trip && trip <= *to)
    }
}

impl TripsPicture<'_> {
    /// Draws the picture as a PNG file; without trips or without rows it is a plain page that says so.
    ///
    /// # Errors
    /// Where it can't be encoded.
    pub fn png(&self) -> Result<Vec<u8>, DrawError> {
        self.sheet()?.png()
    }

    fn sheet(&self) -> Result<Canvas, DrawError> {
        let mut canvas = Canvas::new(SIZE[0], SIZE[1])?;
        self.heads.draw(&mut canvas);
        if self.trips.is_empty() || self.rows.is_empty() {
            canvas.text([30.0, 180.0], 40.0, Face::Bold, INK, "no figures to show");
            return Ok(canvas);
        }
        let rows = &self.rows[..self.rows.len().min(MOST_ROWS)];
        let (words, bottom) = heads::of(&canvas, self.trips, rows);
        let grid = Grid::new(self.trips.len(), rows, [bottom, KEY_TOP - 10.0]);
        heads::leaders(&mut canvas, &grid, self.trips, rows);
        for line in words {
            line.write(&mut canvas);
        }
        for (k, row) in rows.iter().enumerate() {
            Strip::new(&grid, k, row).draw(&mut canvas);
        }
        self.key(&mut canvas, &grid, rows);
        Ok(canvas)
    }

    /// The line below the strips: the scale, and what each sign is.
    fn key(&self, canvas: &mut Canvas, grid: &Grid, rows: &[Row<'_>]) {
        let middle = KEY_TOP + KEY / 2.0;
        let scale = format!("one strip is ±{} in", fraction_of_inch(grid.scale_mm, 32));
        let mut left = said(canvas, 30.0, Face::Bold, &scale);
        canvas.rect([left, middle - 12.0], [46.0, 24.0], WITHIN, 255, Some(BORDER));
        left = said(canvas, left + 56.0, Face::Regular, "its limit");
        for (off, words) in [
            (None, "within, with its ±"),
            (Some(1.0), "beyond, plus"),
            (Some(-1.0), "beyond, minus"),
        ] {
            mark(canvas, [left + 14.0, middle], off);
            left = said(canvas, left + 36.0, Face::Regular, words);
        }
        step_mark(canvas, left + 6.0, [middle - 15.0, middle + 15.0]);
        left = said(canvas, left + 22.0, Face::Regular, "a step");
        let seen = |row: &Row<'_>| (0..grid.trips).all(|trip| row.seen(trip).is_some());
        if !rows.iter().all(seen) {
            hatch(canvas, [left, middle - 12.0, 46.0, 24.0]);
            left = said(canvas, left + 56.0, Face::Regular, Verdict::NotMeasured.words());
        }
        let far = |row: &Row<'_>| {
            let mut seen = (0..grid.trips).filter_map(|trip| row.seen(trip));
            seen.any(|(mm, _)| grid.beyond(mm))
        };
        if rows.iter().any(far) {
            left = said(canvas, left, Face::Regular, "at an edge: farther off");
        }
        if rows.len() < self.rows.len() {
            let words = format!("the first {} of {} figures", rows.len(), self.rows.len());
            said(canvas, left, Face::Bold, &words);
        }
    }
}

/// Writes words of the key; gives where the next sign begins.
fn said(canvas: &mut Canvas, left: f32, face: Face, words: &str) -> f32 {
    let colour = if face == Face::Bold { INK } else { SMALL };
    canvas.text([left, KEY_TOP], KEY, face, colour, words);
    left + canvas.text_width(KEY, face, words) + 36.0
}

#[cfg(test)]
mod tests;
