//! One picture: what was compared, the metal in its colours, the worst spots, the legend.

use cloud::{Bounds, Point, Vector};
use compare::State;

use crate::canvas::{Canvas, DrawError, Face};
use crate::colour::INK;
use crate::label::{self, Label};
use crate::legend;
use crate::splat::{Scene, Window, draw};
use crate::view::View;

/// Size of a picture in pixels: half a page at 300 to the inch.
pub const SIZE: [u32; 2] = [2000, 1400];
/// The window in which the metal is drawn: left, top, width, height.
const WINDOW: [usize; 4] = [30, 150, 1560, 1140];
/// Share of the window that the metal fills.
const FILLS: f64 = 0.9;

/// What is known at a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tone {
    /// How far the measured metal is off, mm.
    Deviation(f32),
    /// The measured set ends beside it.
    BeyondEdge,
    /// Not seen.
    NotMeasured,
    /// Drawn only so that the place can be known.
    Aside,
}

impl Tone {
    /// The tone of a state, smoothed where it could be.
    pub fn of(state: &State, smoothed: Option<(f64, f64)>) -> Self {
        match state {
            State::Distance { mm, .. } => Tone::Deviation(smoothed.map_or(*mm, |s| s.0) as f32),
            State::BeyondEdge => Tone::BeyondEdge,
            State::NotMeasured => Tone::NotMeasured,
        }
    }
}

/// Something that is pointed at: the first of its places that is seen in the view.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Places in mm with what is written there; the first line is bold.
    pub choices: Vec<(Point, Vec<String>)>,
    /// Point at the first place even where it is hidden: a flange seen edge on must not go unsaid.
    pub hidden_too: bool,
    /// Radius of the ring around it, mm; a usual one where nothing is said.
    pub ring_mm: Option<f64>,
}

/// Everything that a picture shows.
pub struct Picture<'a> {
    /// The comparison.
    pub title: String,
    /// What was compared and from where it is seen.
    pub subtitle: String,
    /// How it was set.
    pub set_by: String,
    /// Files and cautions, small.
    pub footer: String,
    /// Points, mm.
    pub points: &'a [Point],
    /// Unit normals.
    pub normals: &'a [Vector],
    /// What is known at each point.
    pub tones: &'a [Tone],
    /// Which points are drawn.
    pub drawn: &'a [u32],
    /// What is to be seen, mm.
    pub frame: Bounds,
    /// Side of the square that each point has to itself, mm.
    pub spacing_mm: f64,
    /// Whether the normals say which side is out.
    pub sides_known: bool,
    /// From where.
    pub view: View,
    /// The limit, mm.
    pub limit_mm: f64,
    /// The deviation at the ends of the ramp, mm.
    pub end_mm: f64,
    /// Spots, worst first.
    pub marks: Vec<Mark>,
    /// Whether other metal is drawn aside.
    pub aside: bool,
}

impl Picture<'_> {
    /// Draws the picture as a PNG file.
    ///
    /// # Errors
    /// Where it can't be encoded.
    pub fn png(&self) -> Result<Vec<u8>, DrawError> {
        let mut canvas = Canvas::new(SIZE[0], SIZE[1])?;
        let window = self.window();
        let scene = Scene {
            points: self.points,
            normals: self.normals,
            tones: self.tones,
            drawn: self.drawn,
            spacing_mm: self.spacing_mm,
            sides_known: self.sides_known,
            view: self.view,
            limit_mm: self.limit_mm,
            end_mm: self.end_mm,
        };
        let drawn = draw(&scene, &window);
        canvas.block(WINDOW[0], WINDOW[1], WINDOW[2], &drawn.colours);
        self.heads(&mut canvas);
        let labels: Vec<Label> = self
            .marks
            .iter()
            .filter_map(|mark| {
                mark.choices.iter().find_map(|(at, lines)| {
                    let [right, up, toward] = self.view.project(at);
                    let [x, y] = window.pixel(right, up);
                    let (column, row) = (x.floor() as isize, y.floor() as isize);
                    let inside = (0..window.width as isize).contains(&column)
                        && (0..window.height as isize).contains(&row);
                    if !inside {
                        return None;
                    }
                    // A place that something hides is not pointed at in this view.
                    let highest = drawn.heights_mm[row as usize * window.width + column as usize];
                    let seen = mark.hidden_too || f64::from(highest) <= toward + 3.0 * self.spacing_mm;
                    seen.then(|| Label {
                        spot: [WINDOW[0] as f32 + x as f32, WINDOW[1] as f32 + y as f32],
                        radius: mark
                            .ring_mm
                            .map_or(label::USUAL_RING, |mm| (mm / window.mm_per_pixel) as f32),
                        lines: lines.clone(),
                    })
                })
            })
            .collect();
        let area = WINDOW.map(|w| w as f32);
        label::draw(&mut canvas, &labels, area);
        let left = (WINDOW[0] + WINDOW[2]) as f32 + 30.0;
        legend::ramp(&mut canvas, [left, 160.0], 620.0, self.limit_mm, self.end_mm);
        legend::unseen(&mut canvas, [left, 810.0], self.aside);
        legend::directions(&mut canvas, [left, 1110.0], &self.view);
        legend::scale(&mut canvas, [left, 1260.0], &window);
        canvas.png()
    }

    fn heads(&self, canvas: &mut Canvas) {
        let width = canvas.width() - 60.0;
        let fit = |canvas: &Canvas, size, face, text: &str| canvas.fitted(size, face, text, width);
        let title = fit(canvas, 54.0, Face::Bold, &self.title);
        canvas.text([30.0, 14.0], 54.0, Face::Bold, INK, &title);
        let subtitle = fit(canvas, 32.0, Face::Regular, &self.subtitle);
        canvas.text([30.0, 72.0], 32.0, Face::Regular, INK, &subtitle);
        let set_by = fit(canvas, 26.0, Face::Regular, &self.set_by);
        canvas.text([30.0, 108.0], 26.0, Face::Regular, [90, 90, 90], &set_by);
        let footer = fit(canvas, 22.0, Face::Regular, &self.footer);
        let bottom = canvas.height() - 42.0;
        canvas.line(
            [30.0, bottom - 10.0],
            [30.0 + width, bottom - 10.0],
            1.5,
            [160, 160, 160],
        );
        canvas.text([30.0, bottom], 22.0, Face::Regular, [90, 90, 90], &footer);
    }

    /// The window that shows the frame as large as it fits.
    fn window(&self) -> Window {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for corner in self.frame.corners() {
            let place = self.view.project(&corner);
            for k in 0..2 {
                low[k] = low[k].min(place[k]);
                high[k] = high[k].max(place[k]);
            }
        }
        let needed = [
            (high[0] - low[0]) / (FILLS * WINDOW[2] as f64),
            (high[1] - low[1]) / (FILLS * WINDOW[3] as f64),
        ];
        Window {
            width: WINDOW[2],
            height: WINDOW[3],
            mm_per_pixel: needed[0].max(needed[1]).max(1e-6),
            middle: [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0],
        }
    }
}
