//! The column beside a picture: the ramp with its limit, the patterns, the lines, which way is what, and a scale.

use cloud::unit::{MM_PER_INCH, fraction_of_inch};
use compare::Verdict;

use crate::arrows::Seen;
use crate::canvas::{Canvas, Face};
use crate::colour::{self, INK};
use crate::lines::{self, LineKind, Stroke};
use crate::splat::Window;
use crate::view::View;

/// Steps of the ramp that are drawn on each side beyond the limit.
const BLOCKS: usize = 24;
/// Height of a key for a place without a figure, and of one for a line or an arrow, in pixels.
const KEY: f32 = 48.0;
const LINE_KEY: f32 = 38.0;

/// The whole column of a heat map, with its left side at `left`; `kinds` and `arrows` say what is drawn over the metal.
pub fn column(
    canvas: &mut Canvas,
    left: f32,
    limits_mm: [f64; 2],
    aside: bool,
    kinds: &[LineKind],
    arrows: &[Seen],
) {
    let [limit_mm, end_mm] = limits_mm;
    let places = if aside { 3.0 } else { 2.0 };
    let lines = (kinds.len() + arrows.len()) as f32;
    let keys = KEY * places + LINE_KEY * lines;
    // The ramp gives way to the keys, which end above the directions.
    let ramp_height = (810.0 - keys).min(620.0);
    ramp(canvas, [left, 160.0], ramp_height, limit_mm, end_mm);
    let top = 190.0 + ramp_height;
    unseen(canvas, [left, top], aside);
    overlays(canvas, [left, top + KEY * places], kinds, arrows);
}

/// Draws the ramp bar with its upper left corner at `at`, `height` pixels high.
pub fn ramp(canvas: &mut Canvas, at: [f32; 2], height: f32, limit_mm: f64, end_mm: f64) {
    let [left, top] = at;
    let width = 54.0;
    canvas.text([left, top], 27.0, Face::Bold, INK, "proud (out)");
    let (top, height) = (top + 54.0, height - 108.0);
    let y_of = |mm: f64| top + height * (0.5 - 0.5 * (mm / end_mm) as f32);
    // Blocks from the end down to the limit on each side, the pale middle between.
    for k in 0..BLOCKS {
        for sign in [1.0, -1.0] {
            let mm = |k: usize| limit_mm + (end_mm - limit_mm) * k as f64 / BLOCKS as f64;
            let (a, b) = (y_of(sign * mm(k)), y_of(sign * mm(k + 1)));
            let t = (k as f64 + 0.5) / BLOCKS as f64;
            canvas.rect(
                [left, a.min(b)],
                [width, (a - b).abs() + 0.5],
                colour::beyond(t * sign),
                255,
                None,
            );
        }
    }
    canvas.rect(
        [left, y_of(limit_mm)],
        [width, y_of(-limit_mm) - y_of(limit_mm)],
        colour::WITHIN,
        255,
        None,
    );
    pattern_key(
        canvas,
        [left, y_of(end_mm)],
        [width, y_of(limit_mm) - y_of(end_mm)],
        true,
    );
    pattern_key(
        canvas,
        [left, y_of(-limit_mm)],
        [width, y_of(-end_mm) - y_of(-limit_mm)],
        false,
    );
    canvas.rect([left, top], [width, height], [255, 255, 255], 0, Some(INK));
    let mut ticks = vec![end_mm, -end_mm];
    for share in [1.0, 2.0, 3.0] {
        let mm = limit_mm * share;
        if mm < end_mm * 0.93 {
            ticks.extend([mm, -mm]);
        }
    }
    for mm in ticks {
        let y = y_of(mm);
        let is_limit = (mm.abs() - limit_mm).abs() < 1e-9;
        let sign = if mm > 0.0 { "+" } else { "−" };
        canvas.line(
            [left + width, y],
            [left + width + 12.0, y],
            if is_limit { 4.0 } else { 2.0 },
            INK,
        );
        // A limit in millimetres may lie well between two 32nds.
        let steps = mm.abs() / MM_PER_INCH * 32.0;
        let parts = if (steps - steps.round()).abs() > 0.1 * steps {
            64
        } else {
            32
        };
        let words = format!("{sign}{} in", fraction_of_inch(mm, parts));
        canvas.text(
            [left + width + 20.0, y - 17.0],
            27.0,
            if is_limit { Face::Bold } else { Face::Regular },
            INK,
            &words,
        );
        let beside = left + width + 24.0 + canvas.text_width(27.0, Face::Bold, &words);
        canvas.text(
            [beside, y - 12.0],
            21.0,
            Face::Regular,
            [90, 90, 90],
            &format!(" {sign}{:.1} mm", mm.abs()),
        );
    }
    let y = y_of(0.0);
    canvas.text(
        [left + width + 20.0, y - 15.0],
        24.0,
        Face::Regular,
        INK,
        "within the limit",
    );
    canvas.text([left, top + height + 16.0], 27.0, Face::Bold, INK, "shy (in)");
}

/// The dots of proud, the lines of shy, as they are laid over the metal; darkest at the end away from the limit.
fn pattern_key(canvas: &mut Canvas, at: [f32; 2], size: [f32; 2], dots: bool) {
    let steps = (size[1] / 8.0) as usize;
    for k in 1..steps {
        let share = k as f64 / steps as f64;
        let ground = colour::beyond(if dots { 1.0 - share } else { -share });
        let mark = colour::pattern_on(ground);
        let y = at[1] + 8.0 * k as f32;
        if dots {
            let shift = if k % 2 == 0 { 4.0 } else { 0.0 };
            let mut x = at[0] + 6.0 + shift;
            while x < at[0] + size[0] - 3.0 {
                canvas.line([x, y], [x + 0.1, y], 2.8, mark);
                x += 8.0;
            }
        } else {
            canvas.line([at[0] + 1.0, y], [at[0] + size[0] - 1.0, y], 1.4, mark);
        }
    }
}

/// The keys for places without a figure.
pub fn unseen(canvas: &mut Canvas, at: [f32; 2], aside: bool) {
    let mut y = at[1];
    let mut key = |canvas: &mut Canvas, draw: &dyn Fn(&mut Canvas, f32), words: &str| {
        canvas.rect([at[0], y], [54.0, 36.0], colour::UNSEEN, 255, None);
        draw(canvas, y);
        canvas.rect([at[0], y], [54.0, 36.0], [255, 255, 255], 0, Some(INK));
        canvas.text([at[0] + 74.0, y + 2.0], 25.0, Face::Regular, INK, words);
        y += KEY;
    };
    let left = at[0];
    let slanted = move |canvas: &mut Canvas, y: f32, other_way: bool| {
        for k in -4..7 {
            let x = left + 9.0 * k as f32;
            // A line from the bottom to the top, cut to the box.
            let (a, b) = (x.max(left), (x + 36.0).min(left + 54.0));
            if b > a {
                let (ya, yb) = (y + 36.0 - (a - x), y + 36.0 - (b - x));
                let flip = |v: f32| if other_way { 2.0 * y + 36.0 - v } else { v };
                canvas.line([a, flip(ya)], [b, flip(yb)], 1.8, [120, 120, 120]);
            }
        }
    };
    let not_measured = Verdict::NotMeasured.words();
    key(canvas, &move |c, y| slanted(c, y, false), not_measured);
    key(
        canvas,
        &move |c, y| {
            slanted(c, y, false);
            slanted(c, y, true);
        },
        "beyond its edge",
    );
    if aside {
        key(
            canvas,
            &move |c, y| c.rect([left, y], [54.0, 36.0], colour::ASIDE, 255, None),
            "other, or from behind",
        );
    }
}

/// The keys for what is drawn over the metal.
fn overlays(canvas: &mut Canvas, at: [f32; 2], kinds: &[LineKind], arrows: &[Seen]) {
    let mut y = at[1] + 16.0;
    let words = |canvas: &mut Canvas, y: f32, words: &str| {
        canvas.text([at[0] + 74.0, y - 15.0], 25.0, Face::Regular, INK, words);
    };
    for kind in kinds {
        let key = Stroke {
            run: vec![[at[0], y], [at[0] + 56.0, y]],
            kind: *kind,
            side: Some(-1.0),
        };
        lines::draw(canvas, &[key]);
        words(canvas, y, kind.words());
        y += LINE_KEY;
    }
    for seen in arrows {
        seen.key(canvas, [at[0], y], 56.0);
        words(canvas, y, seen.words());
        y += LINE_KEY;
    }
}

/// Two arrows that say what is right and up on the paper.
pub fn directions(canvas: &mut Canvas, corner: [f32; 2], view: &View) {
    let [x, y] = corner;
    // Forward is what he looks for first; where it lies left on the paper the arrow points left.
    let across = if View::direction_name(&view.right) == "rearward" {
        -view.right
    } else {
        view.right
    };
    let leftward = across.dot(&view.right) < 0.0;
    let up = if View::direction_name(&view.up) == "down" {
        -view.up
    } else {
        view.up
    };
    let middle = x + 150.0;
    let tip = if leftward { middle - 100.0 } else { middle + 100.0 };
    canvas.arrow([middle, y], [tip, y], 5.0, INK);
    let words = View::direction_name(&across);
    let wide = canvas.text_width(27.0, Face::Bold, words);
    canvas.text(
        [if leftward { tip } else { tip - wide }, y + 8.0],
        27.0,
        Face::Bold,
        INK,
        words,
    );
    canvas.arrow([middle, y], [middle, y - 92.0], 5.0, INK);
    canvas.text(
        [middle + 14.0, y - 100.0],
        27.0,
        Face::Bold,
        INK,
        View::direction_name(&up),
    );
}

/// A scale bar of a round length, with its lower left corner at `at`.
pub fn scale(canvas: &mut Canvas, at: [f32; 2], window: &Window) {
    let inch = MM_PER_INCH / window.mm_per_pixel;
    let lengths = [0.0625, 0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 6.0, 12.0, 24.0, 36.0];
    let length = lengths
        .into_iter()
        .filter(|l| l * inch <= 330.0)
        .fold(0.03125, f64::max);
    let pixels = (length * inch) as f32;
    let [x, y] = at;
    canvas.line([x, y], [x + pixels, y], 5.0, INK);
    for end in [x, x + pixels] {
        canvas.line([end, y - 11.0], [end, y + 11.0], 4.0, INK);
    }
    let words = format!(
        "{} in ({:.*} mm)",
        fraction_of_inch(length * MM_PER_INCH, 32),
        usize::from(length < 1.0),
        length * MM_PER_INCH
    );
    canvas.text([x, y - 46.0], 27.0, Face::Regular, INK, &words);
}
