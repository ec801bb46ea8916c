//! What a label would hide: bare paper, metal, metal in its colours, or something drawn over it.

use crate::splat::{Drawn, Window};

/// A box in pixels: left, top, width, height.
pub type Area = [f32; 4];

/// Weight of metal.
pub const METAL: f32 = 1.0;
/// Weight of metal beyond the limit: its colour is what is looked for.
pub const COLOURED: f32 = 3.0;
/// Weight of lines and arrows over the metal.
pub const DRAWN_OVER: f32 = 6.0;

/// Side of a cell in pixels.
const CELL: f32 = 12.0;
/// Difference between the strongest and the weakest of red, green and blue from which metal counts as coloured.
const COLOURFUL: u8 = 18;

/// The window in cells, each with the weight of the most important thing in it.
pub struct Ground {
    area: Area,
    columns: usize,
    weights: Vec<f32>,
}

impl Ground {
    /// Bare paper.
    pub fn bare(area: Area) -> Self {
        let cells = |length: f32| (length / CELL).ceil().max(1.0) as usize;
        let (columns, rows) = (cells(area[2]), cells(area[3]));
        Self {
            area,
            columns,
            weights: vec![0.0; columns * rows],
        }
    }

    /// Adds metal as it was drawn through a window with its upper left corner at a pixel of the sheet.
    pub fn lay(&mut self, drawn: &Drawn, window: &Window, [left, top]: [f32; 2]) {
        for row in (0..window.height).step_by(4) {
            for column in (0..window.width).step_by(4) {
                let at = row * window.width + column;
                if drawn.heights_mm[at] == f32::NEG_INFINITY {
                    continue;
                }
                let [r, g, b] = drawn.colours[at];
                let coloured = r.max(g).max(b) - r.min(g).min(b) >= COLOURFUL;
                let weight = if coloured { COLOURED } else { METAL };
                self.note([left + column as f32, top + row as f32], weight);
            }
        }
    }

    /// Whether more than a thousandth of the metal lies beyond the limit: less is noise at an edge. Lines that were noted over
    /// the metal would count with it.
    pub fn is_coloured(&self) -> bool {
        let cells = |least: f32| self.weights.iter().filter(|w| **w >= least).count();
        cells(COLOURED) * 1000 > cells(METAL)
    }

    /// Where labels may stand.
    pub fn area(&self) -> Area {
        self.area
    }

    /// Says that something lies at a pixel of the sheet.
    pub fn note(&mut self, spot: [f32; 2], weight: f32) {
        let (x, y) = (spot[0] - self.area[0], spot[1] - self.area[1]);
        if x >= 0.0 && y >= 0.0 && x < self.area[2] && y < self.area[3] {
            let at = (y / CELL) as usize * self.columns + (x / CELL) as usize;
            if let Some(cell) = self.weights.get_mut(at) {
                *cell = cell.max(weight);
            }
        }
    }

    /// The mean weight of what a box within the area would hide.
    pub fn hidden_by(&self, label: &Area) -> f32 {
        let rows = self.weights.len() / self.columns;
        let cells = |k: usize, most: usize| {
            let from = ((label[k] - self.area[k]) / CELL).max(0.0) as usize;
            let to = ((label[k] + label[k + 2] - self.area[k]) / CELL).max(0.0) as usize;
            from..(to + 1).min(most)
        };
        let (mut sum, mut count) = (0.0, 0.0);
        for row in cells(1, rows) {
            for column in cells(0, self.columns) {
                sum += self.weights[row * self.columns + column];
                count += 1.0;
            }
        }
        if count > 0.0 { sum / count } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_speck_of_colour_is_none_and_a_spot_is() {
        let mut ground = Ground::bare([0.0, 0.0, 1200.0, 1200.0]);
        let middle = |cell: usize| (cell as f32 + 0.5) * CELL;
        for cell in 0..100 * 100 {
            ground.note([middle(cell % 100), middle(cell / 100)], METAL);
        }
        assert!(!ground.is_coloured());
        for cell in 0..10 {
            ground.note([middle(cell), middle(50)], COLOURED);
        }
        assert!(!ground.is_coloured());
        ground.note([middle(10), middle(50)], COLOURED);
        assert!(ground.is_coloured());
    }
}
