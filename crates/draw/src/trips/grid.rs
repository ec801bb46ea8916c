//! Where the strips and the trips lie on the sheet, and the one scale of all strips.

use cloud::unit::MM_PER_INCH;

use super::Row;

/// Left and right sides of the strips in pixels: left of them the figures' names, right of them what is said of each.
pub(super) const LEFT: f32 = 350.0;
pub(super) const RIGHT: f32 = 1490.0;
/// Left side of the words beside the strips; between lies room for a figure beside the last dot.
pub(super) const WORDS: f32 = 1610.0;

/// Room between strips, and the height of the tallest, in pixels.
pub(super) const APART: f32 = 14.0;
const TALLEST: f32 = 180.0;

/// What a strip may reach either way, inches.
const SCALES_IN: [f64; 9] = [0.0625, 0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0];
/// So many limits are the most that a strip reaches, as in the heat maps, or one figure that is far off would make all
/// others look home; and the least, so that the edge of the band shows.
const MOST_LIMITS: f64 = 4.0;
const LEAST_LIMITS: f64 = 1.5;

/// The strips on the sheet.
pub(super) struct Grid {
    /// How many trips there are.
    pub(super) trips: usize,
    /// What a strip reaches either way, mm.
    pub(super) scale_mm: f64,
    top: f32,
    row_height: f32,
}

impl Grid {
    /// For so many trips and these figures, between a top and a bottom in pixels.
    pub(super) fn new(trips: usize, rows: &[Row<'_>], between: [f32; 2]) -> Self {
        let [top, bottom] = between;
        Self {
            trips,
            scale_mm: scale_mm(rows),
            top,
            row_height: ((bottom - top) / rows.len().max(1) as f32).min(TALLEST),
        }
    }

    /// The middle of a trip's column.
    pub(super) fn column(&self, trip: usize) -> f32 {
        LEFT + pitch(self.trips) * (trip as f32 + 0.5)
    }

    /// Between a trip and the one before it.
    pub(super) fn gap(&self, trip: usize) -> f32 {
        LEFT + pitch(self.trips) * trip as f32
    }

    /// Top and bottom of a strip.
    pub(super) fn strip(&self, row: usize) -> [f32; 2] {
        let top = self.top + self.row_height * row as f32;
        [top + APART / 2.0, top + self.row_height - APART / 2.0]
    }

    /// The height of a figure on a strip, kept on it.
    pub(super) fn height(&self, row: usize, mm: f64) -> f32 {
        let [top, bottom] = self.strip(row);
        let share = (mm / self.scale_mm).clamp(-1.0, 1.0) as f32;
        (top + bottom) / 2.0 - share * (bottom - top) / 2.0
    }

    /// Whether a figure lies beyond the strips.
    pub(super) fn beyond(&self, mm: f64) -> bool {
        mm.abs() > self.scale_mm * 1.001
    }
}

/// Width of a trip's column for so many trips.
pub(super) fn pitch(trips: usize) -> f32 {
    (RIGHT - LEFT) / trips.max(1) as f32
}

/// What every strip reaches either way, mm: all figures and limits, up to some limits.
fn scale_mm(rows: &[Row<'_>]) -> f64 {
    let limit_mm = largest(rows.iter().map(|row| row.limit_mm));
    let figures = rows.iter().flat_map(|row| row.readings.iter().flatten());
    let mut wanted_mm = largest(figures.map(|(mm, _)| mm.abs()));
    if limit_mm > 0.0 {
        wanted_mm = wanted_mm.min(MOST_LIMITS * limit_mm).max(LEAST_LIMITS * limit_mm);
    }
    let reach_mm = SCALES_IN.map(|inches| inches * MM_PER_INCH);
    let holds_all = reach_mm.into_iter().find(|mm| *mm >= 0.999 * wanted_mm);
    holds_all.unwrap_or(reach_mm[reach_mm.len() - 1])
}

/// The largest of some lengths; 0 where there are none.
fn largest(lengths_mm: impl Iterator<Item = f64>) -> f64 {
    lengths_mm.filter(|mm| mm.is_finite()).fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(limit_mm: f64, mm: f64) -> Row<'static> {
        Row {
            what: "",
            limit_mm,
            readings: vec![Some((mm, 0.1)), None, Some((f64::NAN, 0.1))],
            steps: Vec::new(),
            words: "",
        }
    }

    #[test]
    fn one_scale_holds_all_figures_unless_one_is_far_off() {
        let inch = |rows: &[Row<'_>]| scale_mm(rows) / MM_PER_INCH;
        assert_eq!(inch(&[row(1.5875, 0.1)]), 0.125);
        assert_eq!(inch(&[row(1.5875, 0.1), row(1.5875, -6.35)]), 0.25);
        assert_eq!(inch(&[row(1.5875, 30.0)]), 0.25);
        assert_eq!(inch(&[row(0.0, 30.0)]), 2.0);
        assert_eq!(inch(&[row(0.0, 1e9)]), 16.0);
        assert_eq!(inch(&[]), 0.0625);
    }

    #[test]
    fn strips_and_columns_lie_side_by_side() {
        let rows: Vec<Row<'_>> = (0..12).map(|_| row(1.5875, 3.0)).collect();
        let grid = Grid::new(15, &rows, [330.0, 1290.0]);
        for k in 1..12 {
            assert!(grid.strip(k)[0] > grid.strip(k - 1)[1]);
        }
        assert!(grid.strip(0)[0] > 330.0 && grid.strip(11)[1] < 1290.0);
        assert!(grid.column(14) < RIGHT && grid.gap(14) > grid.column(13));
        let [top, bottom] = grid.strip(3);
        for (mm, height) in [
            (0.0, (top + bottom) / 2.0),
            (100.0, top),
            (-grid.scale_mm, bottom),
        ] {
            assert!((grid.height(3, mm) - height).abs() < 0.01, "{mm}");
        }
        assert!(grid.beyond(7.0) && !grid.beyond(-3.0));
    }
}
