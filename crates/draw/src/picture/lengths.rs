//! A long narrow piece, broken into lengths one under the other so that it fills the window, with marks where it goes on.

use crate::canvas::{Canvas, Face, Pen};
use crate::colour::INK;
use crate::ground::Area;
use crate::page::{self, SMALL, WINDOW};
use crate::splat::Window;
use crate::view::View;

/// Share of the window that what is drawn in one piece fills.
const FILLS: f64 = 0.9;
/// What is this many times as long as wide is broken.
const STRIP: f64 = 6.0;
/// Most lengths that are still read at a glance.
const MOST: usize = 3;
/// Share of a length that the next one shows again.
const OVERLAP: f64 = 0.06;
/// Share of the window's width that a length takes: beside it stands what its ends are called.
const WIDE: f64 = 0.82;
/// What is left of a length's height for labels, in pixels.
const LABELS: f64 = 150.0;
/// Height of the words about a length, in pixels.
const WORDS: f32 = 27.0;
/// White between a length and its words, in pixels.
const BESIDE: f32 = 12.0;

/// One of the lengths that a picture shows; the only one where it isn't broken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Length {
    /// What it shows.
    pub window: Window,
    /// Its upper left corner on the sheet, in pixels.
    pub corner: [usize; 2],
}

/// The lengths that show a box of places (right, up), mm, as large as they fit.
pub(super) fn lengths(low: [f64; 2], high: [f64; 2]) -> Vec<Length> {
    let [long, wide] = [high[0] - low[0], high[1] - low[1]];
    if long < STRIP * wide {
        return vec![Length {
            window: page::fitted(low, high, [FILLS; 2]),
            corner: [WINDOW[0], WINDOW[1]],
        }];
    }
    // What each of so many shows, mm, and the millimetres that a pixel then covers.
    let broken = |count: usize| {
        let shown = long / (count as f64 - (count as f64 - 1.0) * OVERLAP);
        let height = (WINDOW[3] / count) as f64 - LABELS;
        let mm_per_pixel = (shown / (WIDE * WINDOW[2] as f64)).max(wide / height);
        (count, shown, mm_per_pixel.max(1e-6))
    };
    let larger = |a: (usize, f64, f64), b: (usize, f64, f64)| if b.2 < a.2 { b } else { a };
    let (count, shown, mm_per_pixel) = (3..=MOST).map(broken).fold(broken(2), larger);
    let width = ((shown / mm_per_pixel).round().max(1.0) as usize).min(WINDOW[2]);
    let height = WINDOW[3] / count;
    let middle = |k: usize| low[0] + shown / 2.0 + k as f64 * shown * (1.0 - OVERLAP);
    (0..count)
        .map(|k| Length {
            window: Window {
                width,
                height,
                mm_per_pixel,
                middle: [middle(k), (low[1] + high[1]) / 2.0],
            },
            corner: [WINDOW[0] + (WINDOW[2] - width) / 2, WINDOW[1] + k * height],
        })
        .collect()
}

/// Writes what the ends and the sides of a broken piece are called and marks where one length goes on in the next; `wide` is
/// how wide it is on the paper, mm. Gives the boxes that labels must keep clear of.
pub(super) fn marked(canvas: &mut Canvas, lengths: &[Length], wide: f64, view: &View) -> Vec<Area> {
    let mut boxes = Vec::new();
    if lengths.len() < 2 {
        return boxes;
    }
    for (k, length) in lengths.iter().enumerate() {
        let [left, top] = length.corner.map(|pixel| pixel as f32);
        let middle = top + length.window.height as f32 / 2.0;
        let half = (wide / 2.0 / length.window.mm_per_pixel) as f32;
        let [above, below] = [middle - half, middle + half];
        let right = left + length.window.width as f32;
        let mut write = |at: [f32; 2], words: &str, from_right: bool| {
            let size = [canvas.text_width(WORDS, Face::Bold, words), WORDS];
            let left = if from_right { at[0] - size[0] } else { at[0] };
            // Other metal may lie there.
            canvas.rect([left, at[1]], size, [255, 255, 255], 200, None);
            canvas.text([left, at[1]], WORDS, Face::Bold, SMALL, words);
            boxes.push([left, at[1], size[0], size[1]]);
        };
        let line = middle - WORDS / 2.0;
        if k == 0 {
            write([left - BESIDE, line], View::side_name(&-view.right), true);
        }
        if k + 1 == lengths.len() {
            write([right + BESIDE, line], View::side_name(&view.right), false);
        }
        let inside = left + 2.0 * BESIDE + (OVERLAP * length.window.width as f64) as f32;
        write([inside, above - BESIDE - WORDS], View::side_name(&view.up), false);
        write([inside, below + BESIDE], View::side_name(&-view.up), false);
        let joint = (OVERLAP / 2.0 * length.window.width as f64) as f32;
        if k > 0 {
            boxes.push(goes_on(canvas, left + joint, [above, below], letter(k - 1)));
        }
        if k + 1 < lengths.len() {
            boxes.push(goes_on(canvas, right - joint, [above, below], letter(k)));
        }
    }
    boxes
}

/// A dashed line across a length with the letter that stands at the same place of the next one; gives the letter's box.
fn goes_on(canvas: &mut Canvas, x: f32, [above, below]: [f32; 2], letter: &str) -> Area {
    let ends = [[x, above - BESIDE], [x, below + BESIDE]];
    canvas.polyline(&ends, &Pen::square(7.0, [255, 255, 255]));
    let dashed = Pen {
        dash: Some([14.0, 8.0]),
        ..Pen::square(3.0, INK)
    };
    canvas.polyline(&ends, &dashed);
    let size = 1.3 * WORDS;
    let wide = canvas.text_width(size, Face::Bold, letter);
    let at = [x - wide / 2.0, above - BESIDE - size];
    canvas.rect(at, [wide, size], [255, 255, 255], 200, None);
    canvas.text(at, size, Face::Bold, INK, letter);
    [at[0], at[1], wide, size]
}

fn letter(joint: usize) -> &'static str {
    if joint == 0 { "A" } else { "B" }
}

/// How a piece in so many lengths is read; nothing where it is whole.
pub(super) fn words(count: usize) -> &'static str {
    match count {
        0 | 1 => "",
        2 => "in two lengths that join at A",
        _ => "in three lengths that join at A and B",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The place of a length's ends along it, mm.
    fn ends(length: &Length) -> [f64; 2] {
        let half = length.window.width as f64 * length.window.mm_per_pixel / 2.0;
        [length.window.middle[0] - half, length.window.middle[0] + half]
    }

    #[test]
    fn a_panel_stays_whole_and_a_strip_is_broken_and_drawn_larger() {
        let panel = lengths([0.0, 0.0], [1200.0, 400.0]);
        assert_eq!(panel.len(), 1);
        assert_eq!(panel[0].corner, [WINDOW[0], WINDOW[1]]);
        assert_eq!(
            [panel[0].window.width, panel[0].window.height],
            [WINDOW[2], WINDOW[3]]
        );
        for (long, wide, count) in [(1200.0, 30.0, 3), (1200.0, 190.0, 2)] {
            let strip = lengths([100.0, 0.0], [100.0 + long, wide]);
            assert_eq!(strip.len(), count, "{long} × {wide}");
            let whole = page::fitted([100.0, 0.0], [100.0 + long, wide], [FILLS; 2]);
            assert!(
                strip[0].window.mm_per_pixel < 0.7 * whole.mm_per_pixel,
                "{strip:?}"
            );
        }
    }

    #[test]
    fn the_lengths_show_all_of_a_strip_and_lie_apart_on_the_sheet() {
        let strip = lengths([100.0, -15.0], [1300.0, 15.0]);
        assert!((ends(&strip[0])[0] - 100.0).abs() < 0.5 && (ends(&strip[2])[1] - 1300.0).abs() < 0.5);
        for pair in strip.windows(2) {
            let shared = ends(&pair[0])[1] - ends(&pair[1])[0];
            let shown = ends(&pair[0])[1] - ends(&pair[0])[0];
            assert!((shared / shown - OVERLAP).abs() < 0.005, "{shared} of {shown}");
            assert_eq!(pair[1].corner[1], pair[0].corner[1] + pair[0].window.height);
        }
        let last = strip[2];
        assert!(last.corner[0] + last.window.width <= WINDOW[0] + WINDOW[2]);
        assert!(last.corner[1] + last.window.height <= WINDOW[1] + WINDOW[3]);
    }

    #[test]
    fn a_broken_strip_says_what_its_ends_are_and_where_it_goes_on() {
        let [plan, ..] = View::all();
        let mut canvas = Canvas::new(page::SIZE[0], page::SIZE[1]).unwrap();
        let whole = lengths([0.0, 0.0], [300.0, 200.0]);
        assert!(marked(&mut canvas, &whole, 200.0, &plan).is_empty());
        let strip = lengths([0.0, 0.0], [1200.0, 30.0]);
        // Two ends, two sides of each length, and two letters twice.
        let boxes = marked(&mut canvas, &strip, 30.0, &plan);
        assert_eq!(boxes.len(), 2 + 6 + 4);
        let [left, top, width, height] = page::area();
        for (k, one) in boxes.iter().enumerate() {
            let inside = one[0] > left && one[1] > top && one[0] + one[2] < left + width;
            assert!(inside && one[1] + one[3] < top + height, "{one:?}");
            assert!(
                boxes[..k].iter().all(|other| !crate::label::overlap(one, other)),
                "{boxes:?}"
            );
        }
        // Where the first goes on there is a line across it.
        let joint = strip[0].corner[0] as f64 + (1.0 - OVERLAP / 2.0) * strip[0].window.width as f64;
        let middle = (strip[0].corner[1] + strip[0].window.height / 2) as u32;
        let dark = (middle - 40..middle + 40).filter(|y| canvas.pixel(joint as u32, *y).unwrap()[1] < 80);
        assert!(dark.count() > 30);
    }
}
