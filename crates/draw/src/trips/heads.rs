//! The heads of the columns: each trip's name and day, and what was done in the gap before it.

use super::grid::{Grid, LEFT, pitch};
use super::{Row, TripHead};
use crate::canvas::{Canvas, Face, Pen};
use crate::colour::{INK, Rgb};
use crate::page::SMALL;
use crate::wrapped::{Type, in_lines};

/// Where the heads begin, in pixels.
const TOP: f32 = 150.0;
/// Heights of lines in pixels.
const OPERATION: f32 = 25.0;
const NAME: f32 = 28.0;
const DAY: f32 = 23.0;
/// Room between words side by side.
const APART: f32 = 12.0;
/// Columns narrower than this have their operations in two tiers by turns, each twice as wide.
const NARROW: f32 = 200.0;
/// The first operation has no more room to its left than this on each side.
const WIDEST: f32 = 2.0 * (LEFT - 30.0);

/// A line of text at its place.
pub(super) struct Written {
    pub(super) at: [f32; 2],
    pub(super) size: f32,
    pub(super) face: Face,
    pub(super) colour: Rgb,
    pub(super) text: String,
}

impl Written {
    pub(super) fn write(&self, canvas: &mut Canvas) {
        canvas.text(self.at, self.size, self.face, self.colour, &self.text);
    }
}

/// All words of the heads, and where the strips may begin below them. What was done where a figure made a step is bold.
pub(super) fn of(canvas: &Canvas, trips: &[TripHead<'_>], rows: &[Row<'_>]) -> (Vec<Written>, f32) {
    let pitch = pitch(trips.len());
    let tiers = tiers(trips.len());
    let mut words = Vec::new();
    for (k, trip) in trips.iter().enumerate() {
        let (face, colour) = if stepped(rows, k) {
            (Face::Bold, INK)
        } else {
            (Face::Regular, SMALL)
        };
        let column = Column {
            middle: LEFT + pitch * k as f32,
            width: (pitch * tiers as f32 - APART).min(WIDEST),
            top: tier_top(k % tiers),
            room: 2,
        };
        column.add(canvas, &mut words, (OPERATION, face, colour), trip.operation);
    }
    let mut top = tier_top(tiers);
    let names: Vec<&str> = trips.iter().map(|trip| trip.name).collect();
    let days: Vec<&str> = trips.iter().map(|trip| trip.day).collect();
    for (size, face, colour, texts) in [(NAME, Face::Bold, INK, names), (DAY, Face::Regular, SMALL, days)] {
        let mut most = 0;
        for (k, text) in texts.into_iter().enumerate() {
            let column = Column {
                middle: LEFT + pitch * (k as f32 + 0.5),
                width: pitch - APART,
                top,
                room: 0,
            };
            most = most.max(column.add(canvas, &mut words, (size, face, colour), text));
        }
        top += size * most as f32;
    }
    (words, top + 4.0)
}

/// Lines from what was done down to the strips; where a figure made a step, on to the last that did.
pub(super) fn leaders(canvas: &mut Canvas, grid: &Grid, trips: &[TripHead<'_>], rows: &[Row<'_>]) {
    let tiers = tiers(trips.len());
    let foot = grid.strip(0)[0];
    for (k, trip) in trips.iter().enumerate() {
        if trip.operation.trim().is_empty() {
            continue;
        }
        let x = grid.gap(k);
        let head = tier_top(k % tiers + 1);
        let last = rows.iter().rposition(|row| row.steps_before(k));
        if let Some(last) = last {
            let pen = Pen {
                dash: Some([3.0, 7.0]),
                ..Pen::square(3.0, INK)
            };
            canvas.polyline(&[[x, head], [x, grid.strip(last)[0]]], &pen);
        } else {
            canvas.line([x, head], [x, foot], 1.5, [170, 170, 170]);
        }
    }
}

/// How many tiers the operations stand in.
fn tiers(trips: usize) -> usize {
    if pitch(trips) < NARROW { 2 } else { 1 }
}

fn tier_top(tier: usize) -> f32 {
    TOP + tier as f32 * (2.0 * OPERATION + 6.0)
}

fn stepped(rows: &[Row<'_>], trip: usize) -> bool {
    rows.iter().any(|row| row.steps_before(trip))
}

/// Where words stand one below the other.
struct Column {
    middle: f32,
    width: f32,
    top: f32,
    /// Lines that it has room for; fewer stand at its bottom.
    room: usize,
}

impl Column {
    /// Sets a text in it; gives the number of its lines.
    fn add(&self, canvas: &Canvas, words: &mut Vec<Written>, type_of: (f32, Face, Rgb), text: &str) -> usize {
        let (size, face, colour) = type_of;
        let lines = in_lines(canvas, Type { size, face }, text, self.width, 2);
        let count = lines.len();
        let above = self.room.saturating_sub(count);
        for (i, text) in lines.into_iter().enumerate() {
            let left = self.middle - canvas.text_width(size, face, &text) / 2.0;
            words.push(Written {
                at: [left, self.top + size * (above + i) as f32],
                size,
                face,
                colour,
                text,
            });
        }
        count
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_words_of_the_heads_lie_over_others() {
        let canvas = Canvas::new(100, 100).unwrap();
        for count in [1, 2, 5, 6, 15] {
            let heads: Vec<TripHead<'_>> = (0..count)
                .map(|k| TripHead {
                    name: if k % 2 == 0 {
                        "trip 12"
                    } else {
                        "the trip after paint"
                    },
                    day: "2025-11-12",
                    operation: "welded the right inner sill and the rear of the right floor to the tunnel",
                })
                .collect();
            let row = Row {
                what: "LF pad",
                limit_mm: 1.5,
                readings: Vec::new(),
                steps: vec![(0, 1), (3, 5)],
                words: "",
            };
            let (words, bottom) = of(&canvas, &heads, &[row]);
            let boxes: Vec<[f32; 4]> = words
                .iter()
                .map(|w| {
                    let wide = canvas.text_width(w.size, w.face, &w.text);
                    [w.at[0], w.at[1], w.at[0] + wide, w.at[1] + w.size]
                })
                .collect();
            for (i, a) in boxes.iter().enumerate() {
                assert!(a[0] >= 29.0 && a[3] <= bottom, "{}", words[i].text);
                for (b, other) in boxes[..i].iter().zip(&words) {
                    let apart = a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1];
                    assert!(apart, "{count}: {} over {}", words[i].text, other.text);
                }
            }
            assert!(bottom < 400.0, "{bottom}");
        }
    }
}
