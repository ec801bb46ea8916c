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

/// How an arrow is seen; each has a key of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// In the paper.
    Lying,
    /// Its point.
    Toward,
    /// Its feathers.
    Away,
}

impl Seen {
    /// All of them, in the order of the keys.
    pub const ALL: [Seen; 3] = [Seen::Lying, Seen::Toward, Seen::Away];

    /// What is said beside its key.
    pub fn words(self) -> &'static str {
        match self {
            Seen::Lying => "it must go this way",
            Seen::Toward => "it must come toward you",
            Seen::Away => "it must go away from you",
        }
    }

    /// Draws its key from a left end, `wide` pixels wide.
    pub fn key(self, canvas: &mut Canvas, left: [f32; 2], wide: f32) {
        match self {
            Seen::Lying => canvas.arrow(left, [left[0] + wide, left[1]], 5.0, INK),
            Seen::Toward => end_on(canvas, [left[0] + wide / 2.0, left[1]], KEY_END_ON, true),
            Seen::Away => end_on(canvas, [left[0] + wide / 2.0, left[1]], KEY_END_ON, false),
        }
    }
}

/// What was drawn of the arrows.
#[derive(Default)]
pub struct Shown {
    /// Their labels.
    pub labels: Vec<Label>,
    /// The boxes that labels must keep clear of.
    pub boxes: Vec<Area>,
    /// How they are seen, each way once, in the order of the keys.
    pub seen: Vec<Seen>,
}

impl Shown {
    /// Adds what was drawn of others.
    pub fn add(&mut self, other: Self) {
        self.labels.extend(other.labels);
        self.boxes.extend(other.boxes);
        self.seen = Seen::ALL
            .into_iter()
            .filter(|way| self.seen.contains(way) || other.seen.contains(way))
            .collect();
    }
}

/// Length of an arrow in pixels, whatever its figure.
const LENGTH: f32 = 110.0;
/// Width of its shaft in pixels.
const WIDTH: f32 = 7.0;
/// Radius of the circle of an arrow that is seen end on, in pixels.
const END_ON: f32 = 24.0;
/// The same in the keys.
const KEY_END_ON: f32 = 14.0;
/// An arrow of whose length less than this lies in the paper is seen end on: within 20° of the line of sight.
const LEAST_SHARE: f64 = 0.35;
/// Half of 1/32 in: what is written as 0, mm.
const NOTHING_MM: f64 = MM_PER_INCH / 64.0;

/// Draws the arrows whose place is seen.
pub fn draw(canvas: &mut Canvas, arrows: &[Arrow], sight: &Sight<'_>) -> Shown {
    let (mut labels, mut boxes, mut seen) = (Vec::new(), Vec::new(), Vec::new());
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
                seen.push(Seen::Lying);
            } else {
                let toward = sight.view.toward().dot(&way) > 0.0;
                let words = if toward { "toward you" } else { "away from you" };
                lines.push(words.to_string());
                end_on(canvas, spot, END_ON, toward);
                seen.push(if toward { Seen::Toward } else { Seen::Away });
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
    Shown {
        labels,
        boxes,
        seen: Seen::ALL.into_iter().filter(|way| seen.contains(way)).collect(),
    }
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
fn end_on(canvas: &mut Canvas, spot: [f32; 2], radius: f32, toward: bool) {
    canvas.disc(spot, radius + 4.0, PAPER);
    canvas.disc(spot, radius, INK);
    canvas.disc(spot, 0.8 * radius, PAPER);
    if toward {
        canvas.disc(spot, radius / 3.0, INK);
        return;
    }
    let arm = 0.88 * radius * std::f32::consts::FRAC_1_SQRT_2;
    for side in [1.0, -1.0] {
        canvas.line(
            [spot[0] - arm, spot[1] - side * arm],
            [spot[0] + arm, spot[1] + side * arm],
            0.2 * radius,
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
            corner: [page::area()[0], page::area()[1]],
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
        let shown = draw(&mut canvas, &[arrow], &sight);
        (canvas, shown.labels, shown.boxes)
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

    #[test]
    fn each_way_of_being_seen_has_a_key_of_its_own() {
        let inked = Seen::ALL.map(|seen| {
            let mut canvas = Canvas::new(80, 50).unwrap();
            seen.key(&mut canvas, [10.0, 25.0], 56.0);
            let pixels = (0..50u32).flat_map(|y| (0..80u32).map(move |x| (x, y)));
            pixels
                .filter(|(x, y)| canvas.pixel(*x, *y).is_some_and(|p| p[1] < 80))
                .collect::<Vec<_>>()
        });
        for k in 0..3 {
            let (one, other) = (&inked[k], &inked[(k + 1) % 3]);
            let apart = one.iter().filter(|at| !other.contains(at)).count();
            assert!(one.len() > 150 && apart > 15, "{k}: {apart} of {}", one.len());
        }
    }
}
