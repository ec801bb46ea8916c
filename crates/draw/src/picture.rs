//! One picture: what was compared, the metal in its colours, lines and arrows over it, the worst spots, the legend.

use cloud::{Bounds, Point, Vector};
use compare::State;

use crate::arrows::{self, Arrow};
use crate::canvas::{Canvas, DrawError};
use crate::ground::{self, Ground};
use crate::label::{self, Label};
use crate::legend;
use crate::lines::{self, Line, LineKind};
use crate::page::{self, COLUMN, Heads, SIZE, WINDOW};
use crate::places::{self, NamedPlace};
use crate::sight::Sight;
use crate::splat::{Drawn, Scene, Window, draw};
use crate::view::View;

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
    /// What is added to that where nothing of what is off is seen from here; nothing where it is empty.
    pub elsewhere: String,
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
    /// Edges and outlines over the metal; what metal hides of them is not drawn.
    pub lines: Vec<Line>,
    /// Which way the metal must go, where that place is seen.
    pub arrows: Vec<Arrow>,
    /// Places that are named where they are seen and labels leave room; none where they are more than 16.
    pub places: Vec<NamedPlace>,
    /// Whether other metal is drawn aside.
    pub aside: bool,
}

impl Picture<'_> {
    /// Draws the picture as a PNG file, and whether what it is about is seen in it: without words for the case that it is not it
    /// counts as seen.
    ///
    /// # Errors
    /// Where it can't be encoded.
    pub fn png(&self) -> Result<(Vec<u8>, bool), DrawError> {
        let (canvas, is_seen) = self.sheet()?;
        Ok((canvas.png()?, is_seen))
    }

    fn sheet(&self) -> Result<(Canvas, bool), DrawError> {
        let mut canvas = Canvas::new(SIZE[0], SIZE[1])?;
        let window = self.window();
        let drawn = self.metal(&window);
        canvas.block(WINDOW[0], WINDOW[1], WINDOW[2], &drawn.colours);
        let sight = Sight {
            view: self.view,
            window,
            drawn: &drawn,
            slack_mm: 3.0 * self.spacing_mm,
        };
        let mut ground = Ground::of(&drawn, &window);
        let coloured = ground.is_coloured();
        let kinds = self.lines_over(&mut canvas, &sight, &mut ground);
        let arrows = arrows::draw(&mut canvas, &self.arrows, &sight);
        let mut labels = self.labels(&sight);
        labels.extend(arrows.labels);
        // Who looks from a side that shows nothing of it is not left to search.
        let is_seen = self.elsewhere.is_empty() || coloured || !labels.is_empty();
        let subtitle = if is_seen {
            self.subtitle.clone()
        } else {
            format!("{}; {}", self.subtitle, self.elsewhere)
        };
        let heads = Heads {
            title: &self.title,
            subtitle: &subtitle,
            set_by: &self.set_by,
            footer: &self.footer,
        };
        heads.draw(&mut canvas);
        let taken = label::draw(&mut canvas, &labels, &arrows.boxes, &ground);
        places::draw(&mut canvas, &self.places, &sight, &taken);
        let limits_mm = [self.limit_mm, self.end_mm];
        legend::column(&mut canvas, COLUMN, limits_mm, self.aside, &kinds, &arrows.seen);
        legend::directions(&mut canvas, [COLUMN, 1110.0], &self.view);
        legend::scale(&mut canvas, [COLUMN, 1260.0], &window);
        Ok((canvas, is_seen))
    }

    fn metal(&self, window: &Window) -> Drawn {
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
        draw(&scene, window)
    }

    /// Draws what is seen of the lines and gives the kinds among it.
    fn lines_over(&self, canvas: &mut Canvas, sight: &Sight<'_>, ground: &mut Ground) -> Vec<LineKind> {
        let mut kinds = Vec::new();
        for line in &self.lines {
            for run in lines::seen_runs(&line.at, sight) {
                for spot in &run {
                    ground.note(*spot, ground::DRAWN_OVER);
                }
                lines::stroke(canvas, &run, line.kind, lines::outside(&run, sight));
                kinds.push(line.kind);
            }
        }
        LineKind::ALL
            .into_iter()
            .filter(|kind| kinds.contains(kind))
            .collect()
    }

    /// The labels of the marks that are seen.
    fn labels(&self, sight: &Sight<'_>) -> Vec<Label> {
        let label = |mark: &Mark| {
            mark.choices.iter().find_map(|(at, lines)| {
                // A place that something hides is not pointed at in this view.
                let spot = if mark.hidden_too {
                    sight.spot(at)
                } else {
                    sight.seen(at)
                };
                let ring = |mm: f64| (mm / sight.window.mm_per_pixel) as f32;
                spot.map(|spot| Label {
                    spot,
                    radius: mark.ring_mm.map_or(label::USUAL_RING, ring),
                    ringed: true,
                    lines: lines.clone(),
                })
            })
        };
        self.marks.iter().filter_map(label).collect()
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
        page::fitted(low, high, [FILLS; 2])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plate of 200 × 100 mm seen from above, with a line along it at each of some places.
    fn row_by_row(lines: &[(f64, f64, LineKind)]) -> Vec<Vec<bool>> {
        let points: Vec<Point> = (0..101 * 51)
            .map(|i| Point::new(f64::from(2 * (i % 101)), f64::from(2 * (i / 101)), 0.0))
            .collect();
        let normals = vec![Vector::z(); points.len()];
        let tones = vec![Tone::Deviation(0.0); points.len()];
        let drawn: Vec<u32> = (0..points.len() as u32).collect();
        let picture = Picture {
            title: "plate".to_string(),
            subtitle: String::new(),
            elsewhere: String::new(),
            set_by: String::new(),
            footer: String::new(),
            points: &points,
            normals: &normals,
            tones: &tones,
            drawn: &drawn,
            frame: Bounds {
                low: Point::origin(),
                high: Point::new(200.0, 100.0, 0.0),
            },
            spacing_mm: 2.0,
            sides_known: true,
            view: View::all()[0],
            limit_mm: 1.0,
            end_mm: 4.0,
            marks: Vec::new(),
            lines: lines
                .iter()
                .map(|&(y, z, kind)| Line {
                    at: vec![Point::new(10.0, y, z), Point::new(190.0, y, z)],
                    kind,
                })
                .collect(),
            arrows: Vec::new(),
            places: Vec::new(),
            aside: false,
        };
        let (sheet, _) = picture.sheet().unwrap();
        let window = picture.window();
        let rows = lines.iter().map(|&(y, ..)| {
            (20..180)
                .map(|x| {
                    let [column, row] = page::on_sheet(&window, [f64::from(x), y]);
                    sheet.pixel(column as u32, row as u32).unwrap()[1] < 80
                })
                .collect()
        });
        rows.collect()
    }

    #[test]
    fn edges_are_drawn_over_the_metal_and_what_lies_under_it_is_not() {
        let rows = row_by_row(&[
            (0.0, 0.0, LineKind::EdgeHome),
            (100.0, 0.0, LineKind::EdgeShort),
            (50.0, -50.0, LineKind::EdgeLong),
        ]);
        let dark = |row: &[bool]| row.iter().filter(|d| **d).count() as f64 / row.len() as f64;
        assert!(dark(&rows[0]) > 0.95, "home is drawn through: {}", dark(&rows[0]));
        let short = dark(&rows[1]);
        assert!(short > 0.4 && short < 0.8, "short is dashed: {short}");
        assert_eq!(dark(&rows[2]), 0.0, "what the plate hides is not drawn");
    }
}
