//! Arrows that say which way the metal must go, as long as can be read at once, with their figure.

use cloud::unit::{MM_PER_INCH, fraction_of_inch};
use cloud::{Point, Vector};

use crate::canvas::Canvas;
use crate::colour::{INK, PAPER};
use crate::ground::Area;
use crate::label::{Label, USUAL_RING};
use crate::page;
use crate::sight::Sight;

/// A move that the metal must make.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrow {
    /// From where, mm.
    pub at: Point,
    /// Which way, a unit vector.
    pub along: Vector,
    /// How far, mm; negative goes the other way. Under 1/64 in there is nothing to move, and a ring
    /// is drawn instead.
    pub mm: f64,
    /// What is written there, the first line bold; the figure where there is none.
    pub lines: Vec<String>,
}

/// Length of an arrow in pixels, whatever its figure.
const LENGTH: f32 = 110.0;
/// Width of its shaft in pixels.
const WIDTH: f32 = 7.0;
/// Radius of the circle of an arrow that is seen end on, in pixels.
const END_ON: f32 = 24.0;
/// An arrow of whose length less than this lies in the paper is seen end on: within 20° of the line of sight.
const LEAST_SHARE: f64 = 0.35;
/// Half of 1/32 in: what is written as 0, mm.
const NOTHING_MM: f64 = MM_PER_INCH / 64.0;

/// Draws the arrows whose place is seen, and gives their labels and the boxes that labels must keep clear of.
pub fn draw(canvas: &mut Canvas, arrows: &[Arrow], sight: &Sight<'_>) -> (Vec<Label>, Vec<Area>) {
    let (mut labels, mut boxes) = (Vec::new(), Vec::new());
    for arrow in arrows {
        let Some(spot) = sight.seen(&arrow.at) else {
            continue;
        };
        if !arrow.mm.is_finite() || !arrow.along.norm().is_finite() {
            continue;
        }
        let mut lines = arrow.lines.clone();
        let mut radius = USUAL_RING;
        let moves = arrow.mm.abs() >= NOTHING_MM;
        if moves {
            if lines.is_empty() {
                lines.push(figure(arrow.mm.abs()));
            }
            let way = arrow.along * arrow.mm.signum();
            let (right, up) = (sight.view.right.dot(&way), sight.view.up.dot(&way));
            let lies = right.hypot(up);
            if lies >= LEAST_SHARE {
                let way = [(right / lies) as f32, (-up / lies) as f32];
                boxes.push(lying(canvas, spot, way));
            } else {
                let toward = sight.view.toward().dot(&way) > 0.0;
                let words = if toward { "toward you" } else { "away from you" };
                lines.push(words.to_string());
                end_on(canvas, spot, toward);
                radius = END_ON + 4.0;
            }
        } else if lines.is_empty() {
            lines.push("home".to_string());
        }
        labels.push(Label {
            spot,
            radius,
            ringed: !moves,
            lines,
        });
    }
    (labels, boxes)
}

/// An arrow in the paper; gives the box around it.
fn lying(canvas: &mut Canvas, spot: [f32; 2], way: [f32; 2]) -> Area {
    let at = |length: f32| [spot[0] + way[0] * length, spot[1] + way[1] * length];
    let [left, top, width, height] = page::area();
    let tip = at(LENGTH + WIDTH);
    let fits = tip[0] > left && tip[0] < left + width && tip[1] > top && tip[1] < top + height;
    // Where it would leave the window it comes to the place instead of leaving it.
    let (from, to) = if fits {
        (at(0.0), at(LENGTH))
    } else {
        (at(-LENGTH), at(0.0))
    };
    canvas.disc(from, 1.4 * WIDTH, PAPER);
    let past = [to[0] + 1.2 * WIDTH * way[0], to[1] + 1.2 * WIDTH * way[1]];
    canvas.arrow(from, past, 1.4 * WIDTH, PAPER);
    canvas.arrow(from, to, WIDTH, INK);
    canvas.disc(from, WIDTH, INK);
    let grown = 2.5 * WIDTH;
    [
        from[0].min(to[0]) - grown,
        from[1].min(to[1]) - grown,
        (from[0] - to[0]).abs() + 2.0 * grown,
        (from[1] - to[1]).abs() + 2.0 * grown,
    ]
}

/// An arrow seen from its end: the point of it toward the looker, the crossed feathers away from him.
fn end_on(canvas: &mut Canvas, spot: [f32; 2], toward: bool) {
    canvas.disc(spot, END_ON + 4.0, PAPER);
    canvas.disc(spot, END_ON, INK);
    canvas.disc(spot, END_ON - 5.0, PAPER);
    if toward {
        canvas.disc(spot, 8.0, INK);
        return;
    }
    let arm = (END_ON - 3.0) * std::f32::consts::FRAC_1_SQRT_2;
    for side in [1.0, -1.0] {
        canvas.line(
            [spot[0] - arm, spot[1] - side * arm],
            [spot[0] + arm, spot[1] + side * arm],
            5.0,
            INK,
        );
    }
}

/// `3/16 in (4.8 mm)`.
fn figure(mm: f64) -> String {
    format!("{} in ({mm:.1} mm)", fraction_of_inch(mm, 32))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::splat::{Drawn, Window};
    use crate::view::View;

    fn drawn_in(view: View, along: Vector, mm: f64) -> (Canvas, Vec<Label>, Vec<Area>) {
        let window = Window {
            width: 1560,
            height: 1140,
            mm_per_pixel: 1.0,
            middle: [0.0, 0.0],
        };
        let bare = Drawn {
            colours: Vec::new(),
            heights_mm: vec![f32::NEG_INFINITY; window.width * window.height],
        };
        let sight = Sight {
            view,
            window,
            drawn: &bare,
            slack_mm: 1.0,
        };
        let [width, height] = page::SIZE;
        let mut canvas = Canvas::new(width, height).unwrap();
        let arrow = Arrow {
            at: Point::origin(),
            along,
            mm,
            lines: Vec::new(),
        };
        let (labels, boxes) = draw(&mut canvas, &[arrow], &sight);
        (canvas, labels, boxes)
    }

    fn is_ink(canvas: &Canvas, right: i32, up: i32) -> bool {
        let pixel = canvas.pixel((810 + right) as u32, (720 - up) as u32).unwrap();
        pixel[1] < 80
    }

    #[test]
    fn an_arrow_lies_the_way_the_metal_must_go() {
        let [plan, from_left, ..] = View::all();
        let (canvas, labels, boxes) = drawn_in(from_left, Vector::z(), 4.7625);
        assert!(is_ink(&canvas, 0, 60) && !is_ink(&canvas, 0, -60) && !is_ink(&canvas, 60, 0));
        assert_eq!(labels[0].lines, ["3/16 in (4.8 mm)"]);
        assert_eq!(boxes.len(), 1);
        let (canvas, ..) = drawn_in(from_left, Vector::z(), -4.7625);
        assert!(!is_ink(&canvas, 0, 60) && is_ink(&canvas, 0, -60));
        // End on: a dot toward the looker, a cross away from him.
        let (canvas, labels, _) = drawn_in(plan, Vector::z(), 4.7625);
        assert!(is_ink(&canvas, 0, 0) && !is_ink(&canvas, 12, 12));
        assert_eq!(labels[0].lines[1], "toward you");
        let (canvas, labels, _) = drawn_in(plan, Vector::z(), -4.7625);
        assert!(is_ink(&canvas, 0, 0) && is_ink(&canvas, 12, 12));
        assert_eq!(labels[0].lines[1], "away from you");
    }

    #[test]
    fn where_nothing_must_move_no_arrow_is_drawn() {
        let (canvas, labels, boxes) = drawn_in(View::all()[1], Vector::z(), 0.2);
        assert!(!is_ink(&canvas, 0, 60) && boxes.is_empty());
        assert!(labels[0].ringed && labels[0].lines == ["home"]);
    }
}
