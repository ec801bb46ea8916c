//! Points drawn as small discs with depth, soft light and dark outlines, at twice the size and brought down for smoothness.

use cloud::{Point, Vector};

use crate::colour::{self, Rgb};
use crate::picture::Tone;
use crate::view::View;

/// Finer than the paper by this, along each side.
const FINER: usize = 2;
/// A normal that leans away from the looker by more than this is seen from behind.
const BEHIND: f64 = -0.1;
/// Nothing drawn here.
const EMPTY: u32 = u32::MAX;

/// What is drawn.
pub struct Scene<'a> {
    /// Points, mm.
    pub points: &'a [Point],
    /// Unit normals.
    pub normals: &'a [Vector],
    /// What is known at each point.
    pub tones: &'a [Tone],
    /// Which points to draw.
    pub drawn: &'a [u32],
    /// Side of the square that each point has to itself, mm.
    pub spacing_mm: f64,
    /// Whether the normals say which side is out.
    pub sides_known: bool,
    /// From where.
    pub view: View,
    /// The limit within which metal is pale, mm.
    pub limit_mm: f64,
    /// The deviation at the ends of the ramp, mm.
    pub end_mm: f64,
}

/// Where on the paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// Millimetres that a pixel covers.
    pub mm_per_pixel: f64,
    /// The place (right, up) in mm that lies in the middle.
    pub middle: [f64; 2],
}

impl Window {
    /// The pixel of a place (right, up), counted from the window's upper left corner.
    pub fn pixel(&self, right: f64, up: f64) -> [f64; 2] {
        [
            self.width as f64 / 2.0 + (right - self.middle[0]) / self.mm_per_pixel,
            self.height as f64 / 2.0 - (up - self.middle[1]) / self.mm_per_pixel,
        ]
    }
}

/// A drawn window: colours by rows, and the height toward the looker at each pixel (−∞ on bare paper).
pub struct Drawn {
    /// Colours, row by row.
    pub colours: Vec<Rgb>,
    /// Heights toward the looker, mm.
    pub heights_mm: Vec<f32>,
}

/// Draws the scene through the window.
pub fn draw(scene: &Scene<'_>, window: &Window) -> Drawn {
    let (width, height) = (window.width * FINER, window.height * FINER);
    let mut depth = vec![f32::NEG_INFINITY; width * height];
    let mut owner = vec![EMPTY; width * height];
    let pixel_mm = window.mm_per_pixel / FINER as f64;
    let radius = (1.05 * scene.spacing_mm / pixel_mm).clamp(0.7, 60.0);
    for &i in scene.drawn {
        let [right, up, toward] = scene.view.project(&scene.points[i as usize]);
        let [x, y] = window.pixel(right, up);
        let (x, y) = (x * FINER as f64, y * FINER as f64);
        let toward = toward as f32;
        let rows =
            (y - radius).floor().max(0.0) as usize..((y + radius).ceil().max(0.0) as usize + 1).min(height);
        let columns =
            (x - radius).floor().max(0.0) as usize..((x + radius).ceil().max(0.0) as usize + 1).min(width);
        for row in rows {
            for column in columns.clone() {
                let (dx, dy) = (column as f64 + 0.5 - x, row as f64 + 0.5 - y);
                let at = row * width + column;
                if dx * dx + dy * dy <= radius * radius && toward > depth[at] {
                    depth[at] = toward;
                    owner[at] = i;
                }
            }
        }
    }
    let toward = scene.view.toward();
    let fine: Vec<Rgb> = (0..width * height)
        .map(|at| {
            if owner[at] == EMPTY {
                return colour::PAPER;
            }
            let (row, column) = (at / width, at % width);
            let i = owner[at] as usize;
            // Metal seen from behind keeps its shape but not its colour: its proud is away from the looker.
            let behind = scene.sides_known && scene.normals[i].dot(&toward) < BEHIND;
            let tone = if behind { &Tone::Aside } else { &scene.tones[i] };
            let light =
                soft_light(&scene.normals[i], &scene.view) * outline(&depth, at, width, height, pixel_mm);
            colour::shaded(patterned(tone, row, column, scene), light)
        })
        .collect();
    bring_down(&fine, &depth, width, window)
}

/// The colour of a tone at a fine pixel, with the dots, lines and hatching that say the sign without colour.
fn patterned(tone: &Tone, row: usize, column: usize, scene: &Scene<'_>) -> Rgb {
    match tone {
        Tone::Aside => colour::ASIDE,
        Tone::NotMeasured => {
            if (row + column) % 18 < 4 {
                [120, 120, 120]
            } else {
                colour::UNSEEN
            }
        }
        Tone::BeyondEdge => {
            let line = (row + column) % 18 < 3 || (row + 18 - column % 18) % 18 < 3;
            if line { [150, 150, 150] } else { colour::UNSEEN }
        }
        Tone::Deviation(mm) => {
            let base = colour::of_deviation(f64::from(*mm), scene.limit_mm, scene.end_mm);
            if f64::from(mm.abs()) <= scene.limit_mm {
                return base;
            }
            let marked = if *mm > 0.0 {
                // Dots in staggered rows.
                let stagger = if (row / 16).is_multiple_of(2) { 0 } else { 8 };
                let (dx, dy) = ((column + stagger) % 16, row % 16);
                (dx as i32 - 8).pow(2) + (dy as i32 - 8).pow(2) <= 7
            } else {
                // Lines.
                row % 14 < 2
            };
            if marked { colour::pattern_on(base) } else { base }
        }
    }
}

/// Light from the upper left, over the looker's shoulder; both sides of a sheet are lit alike.
fn soft_light(normal: &Vector, view: &View) -> f64 {
    let toward = view.toward();
    let facing = if normal.dot(&toward) < 0.0 {
        -normal
    } else {
        *normal
    };
    let lamp = (view.up * 0.55 - view.right * 0.45 + toward * 0.7).normalize();
    0.72 + 0.28 * facing.dot(&lamp).max(0.0)
}

/// Darker where the metal next to it lies much higher or ends: edges show without lines being drawn (the idea of
/// eye-dome lighting, Boucheny 2009).
fn outline(depth: &[f32], at: usize, width: usize, height: usize, pixel_mm: f64) -> f64 {
    let (row, column) = ((at / width) as isize, (at % width) as isize);
    let here = depth[at];
    let mut dark = 0.0;
    for (dr, dc) in [
        (-2, 0),
        (2, 0),
        (0, -2),
        (0, 2),
        (-1, -1),
        (-1, 1),
        (1, -1),
        (1, 1),
    ] {
        let (r, c) = (row + dr, column + dc);
        if r < 0 || c < 0 || r >= height as isize || c >= width as isize {
            continue;
        }
        let there = depth[r as usize * width + c as usize];
        if there == f32::NEG_INFINITY {
            dark += 0.8;
        } else {
            let rise = f64::from(there - here) / (8.0 * pixel_mm);
            dark += (rise - 0.4).clamp(0.0, 1.0);
        }
    }
    (-0.16 * dark).exp()
}

/// Means over the fine pixels of each pixel.
fn bring_down(fine: &[Rgb], depth: &[f32], fine_width: usize, window: &Window) -> Drawn {
    let mut colours = Vec::with_capacity(window.width * window.height);
    let mut heights_mm = Vec::with_capacity(window.width * window.height);
    for row in 0..window.height {
        for column in 0..window.width {
            let mut sums = [0u32; 3];
            let mut highest = f32::NEG_INFINITY;
            for dr in 0..FINER {
                for dc in 0..FINER {
                    let at = (row * FINER + dr) * fine_width + column * FINER + dc;
                    for (sum, c) in sums.iter_mut().zip(fine[at]) {
                        *sum += u32::from(c);
                    }
                    highest = highest.max(depth[at]);
                }
            }
            colours.push(sums.map(|s| (s / (FINER * FINER) as u32) as u8));
            heights_mm.push(highest);
        }
    }
    Drawn { colours, heights_mm }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scene_of<'a>(
        points: &'a [Point],
        normals: &'a [Vector],
        tones: &'a [Tone],
        drawn: &'a [u32],
    ) -> Scene<'a> {
        Scene {
            points,
            normals,
            tones,
            drawn,
            spacing_mm: 10.0,
            sides_known: true,
            view: View::all()[0],
            limit_mm: 1.0,
            end_mm: 4.0,
        }
    }

    #[test]
    fn what_lies_higher_hides_what_lies_lower() {
        let points = [Point::new(0.0, 0.0, 5.0), Point::new(0.0, 0.0, 0.0)];
        let normals = [Vector::z(); 2];
        let tones = [Tone::Deviation(3.0), Tone::Deviation(-3.0)];
        let window = Window {
            width: 21,
            height: 21,
            mm_per_pixel: 1.0,
            middle: [0.0, 0.0],
        };
        for order in [[0, 1], [1, 0]] {
            let drawn = draw(&scene_of(&points, &normals, &tones, &order), &window);
            let middle = drawn.colours[10 * 21 + 10];
            assert!(middle[0] > middle[2], "proud is warm: {middle:?}");
            assert!((drawn.heights_mm[10 * 21 + 10] - 5.0).abs() < 1e-6);
            assert_eq!(drawn.colours[0], colour::PAPER);
        }
    }
}
