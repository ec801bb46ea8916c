//! A verdict as a sign that is told apart by its shape, in grey as well as in colours.

use crate::canvas::{Canvas, Pen};
use crate::colour::{INK, PAPER};

/// The sign of a verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// A ring with a dot.
    In,
    /// A full triangle.
    Out,
    /// A ring, half of it full.
    TooClose,
    /// A hatched square.
    NotMeasured,
    /// A crossed-out equals.
    Differs,
    /// A square with a bar.
    Withheld,
}

impl Sign {
    /// The sign of a verdict in the words of the pages: `in`, `OUT`, `too close to call`, `differs`, `withheld`; of all others
    /// that of what was not measured.
    pub fn of(verdict: &str) -> Self {
        match verdict {
            "in" => Sign::In,
            "OUT" => Sign::Out,
            "too close to call" => Sign::TooClose,
            "differs" => Sign::Differs,
            "withheld" => Sign::Withheld,
            _ => Sign::NotMeasured,
        }
    }

    /// Draws it into a square with its upper left corner at `left_top`.
    pub fn draw(self, canvas: &mut Canvas, left_top: [f32; 2], side: f32) {
        let at = |x: f32, y: f32| [left_top[0] + x * side, left_top[1] + y * side];
        let pen = Pen::square(0.11 * side, INK);
        match self {
            Sign::In => {
                ring(canvas, at(0.5, 0.5), side);
                canvas.disc(at(0.5, 0.5), 0.13 * side, INK);
            }
            Sign::Out => canvas.polygon(&[at(0.5, 0.02), at(1.0, 0.95), at(0.0, 0.95)], INK, 255),
            Sign::TooClose => {
                ring(canvas, at(0.5, 0.5), side);
                let half: Vec<[f32; 2]> = (0..=24)
                    .map(|k| {
                        let turn = std::f32::consts::PI * (0.5 + k as f32 / 24.0);
                        at(0.5 + 0.42 * turn.cos(), 0.5 - 0.42 * turn.sin())
                    })
                    .collect();
                canvas.polygon(&half, INK, 255);
            }
            Sign::NotMeasured => {
                square(canvas, &at, &pen);
                for (from, to) in [
                    (at(0.1, 0.5), at(0.5, 0.1)),
                    (at(0.1, 0.9), at(0.9, 0.1)),
                    (at(0.5, 0.9), at(0.9, 0.5)),
                ] {
                    canvas.polyline(&[from, to], &Pen::square(0.07 * side, INK));
                }
            }
            Sign::Differs => {
                for (from, to) in [
                    (at(0.08, 0.35), at(0.92, 0.35)),
                    (at(0.08, 0.65), at(0.92, 0.65)),
                    (at(0.7, 0.06), at(0.3, 0.94)),
                ] {
                    canvas.polyline(&[from, to], &pen);
                }
            }
            Sign::Withheld => {
                square(canvas, &at, &pen);
                canvas.polyline(&[at(0.28, 0.5), at(0.72, 0.5)], &pen);
            }
        }
    }
}

fn ring(canvas: &mut Canvas, middle: [f32; 2], side: f32) {
    canvas.disc(middle, 0.47 * side, INK);
    canvas.disc(middle, 0.36 * side, PAPER);
}

fn square(canvas: &mut Canvas, at: &impl Fn(f32, f32) -> [f32; 2], pen: &Pen) {
    let corners = [at(0.08, 0.08), at(0.92, 0.08), at(0.92, 0.92), at(0.08, 0.92)];
    canvas.polyline(
        &[
            corners[0], corners[1], corners[2], corners[3], corners[0], corners[1],
        ],
        pen,
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Sign; 6] = [
        Sign::In,
        Sign::Out,
        Sign::TooClose,
        Sign::NotMeasured,
        Sign::Differs,
        Sign::Withheld,
    ];

    fn inked(sign: Sign) -> Vec<bool> {
        let mut canvas = Canvas::new(60, 60).unwrap();
        sign.draw(&mut canvas, [5.0, 5.0], 50.0);
        let pixels = (0..60u32).flat_map(|y| (0..60u32).map(move |x| (x, y)));
        pixels
            .map(|(x, y)| canvas.pixel(x, y).unwrap()[1] < 128)
            .collect()
    }

    #[test]
    fn signs_are_told_apart_without_colour() {
        for (k, one) in ALL.into_iter().enumerate() {
            for other in &ALL[..k] {
                let differ = inked(one)
                    .iter()
                    .zip(inked(*other))
                    .filter(|(a, b)| **a != *b)
                    .count();
                assert!(differ > 250, "{one:?} and {other:?}: {differ} of 3600");
            }
        }
    }

    #[test]
    fn each_verdict_has_its_own() {
        let words = [
            "in",
            "OUT",
            "too close to call",
            "not measured",
            "differs",
            "withheld",
        ];
        assert_eq!(words.map(Sign::of), ALL);
    }
}
