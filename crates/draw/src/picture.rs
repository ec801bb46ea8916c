//! One picture: what was compared, the metal in its colours, lines and arrows over it, the worst spots, the legend.

mod lengths;

use cloud::{Bounds, Point, Vector};
use compare::State;

use crate::arrows::{self, Arrow};
use crate::canvas::{Canvas, DrawError};
use crate::ground::{self, Ground};
use crate::label::{self, Label};
use crate::legend;
use crate::lines::{self, Line, LineKind, Stroke};
use crate::page::{self, COLUMN, Heads, SIZE};
use crate::places::{self, NamedPlace};
use crate::sight::Sight;
use crate::splat::{Drawn, Scene, Window, draw};
use crate::view::View;

use lengths::Length;

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

    /// How a picture is read that is drawn in lengths one under the other, as a long strip is: `in two lengths that join at A`;
    /// nothing where it is drawn in one.
    pub fn in_lengths(&self) -> &'static str {
        lengths::words(self.lengths().len())
    }

    fn sheet(&self) -> Result<(Canvas, bool), DrawError> {
        let mut canvas = Canvas::new(SIZE[0], SIZE[1])?;
        let lengths = self.lengths();
        let drawn: Vec<Drawn> = lengths.iter().map(|l| self.metal(&l.window)).collect();
        let mut ground = Ground::bare(page::area());
        let mut sights = Vec::new();
        for (length, drawn) in lengths.iter().zip(&drawn) {
            let sight = Sight {
                view: self.view,
                window: length.window,
                corner: length.corner.map(|pixel| pixel as f32),
                drawn,
                slack_mm: 3.0 * self.spacing_mm,
            };
            let [left, top] = length.corner;
            canvas.block(left, top, length.window.width, &drawn.colours);
            ground.lay(drawn, &length.window, sight.corner);
            sights.push(sight);
        }
        let coloured = ground.is_coloured();
        let kinds = self.lines_over(&mut canvas, &sights, &mut ground);
        let [low, high] = self.on_paper();
        let mut kept_clear = lengths::marked(&mut canvas, &lengths, high[1] - low[1], &self.view);
        let arrows = self.arrows_over(&mut canvas, &sights);
        kept_clear.extend(arrows.boxes);
        let labels = at_arrows(self.labels(&sights), arrows.labels);
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
        let taken = label::draw(&mut canvas, &labels, &kept_clear, &ground);
        for sight in &sights {
            places::draw(&mut canvas, &self.places, sight, &taken);
        }
        let limits_mm = [self.limit_mm, self.end_mm];
        legend::column(&mut canvas, COLUMN, limits_mm, self.aside, &kinds, &arrows.seen);
        legend::directions(&mut canvas, [COLUMN, 1110.0], &self.view);
        legend::scale(&mut canvas, [COLUMN, 1260.0], &lengths[0].window);
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
    fn lines_over(&self, canvas: &mut Canvas, sights: &[Sight<'_>], ground: &mut Ground) -> Vec<LineKind> {
        let mut strokes = Vec::new();
        for sight in sights {
            for line in &self.lines {
                for run in lines::seen_runs(&line.at, sight) {
                    for spot in &run {
                        ground.note(*spot, ground::DRAWN_OVER);
                    }
                    strokes.push(Stroke {
                        side: lines::outside(&run, sight),
                        kind: line.kind,
                        run,
                    });
                }
            }
        }
        lines::draw(canvas, &strokes);
        LineKind::ALL
            .into_iter()
            .filter(|kind| strokes.iter().any(|stroke| stroke.kind == *kind))
            .collect()
    }

    /// Draws each arrow once, in the first length in which its place is seen.
    fn arrows_over(&self, canvas: &mut Canvas, sights: &[Sight<'_>]) -> arrows::Shown {
        let first = |arrow: &Arrow| sights.iter().position(|sight| sight.seen(&arrow.at).is_some());
        let mut all = arrows::Shown::default();
        for (k, sight) in sights.iter().enumerate() {
            let here = self.arrows.iter().filter(|arrow| first(arrow) == Some(k));
            let here: Vec<Arrow> = here.cloned().collect();
            all.add(arrows::draw(canvas, &here, sight));
        }
        all
    }

    /// The labels of the marks that are seen.
    fn labels(&self, sights: &[Sight<'_>]) -> Vec<Label> {
        let label = |mark: &Mark| {
            mark.choices.iter().find_map(|(at, lines)| {
                // A place that something hides is not pointed at in this view.
                let spot = |sight: &Sight<'_>| match mark.hidden_too {
                    true => sight.spot(at),
                    false => sight.seen(at),
                };
                let (sight, spot) = sights.iter().find_map(|sight| Some((sight, spot(sight)?)))?;
                let ring = |mm: f64| (mm / sight.window.mm_per_pixel) as f32;
                Some(Label {
                    spot,
                    radius: mark.ring_mm.map_or(label::USUAL_RING, ring),
                    ringed: true,
                    lines: lines.clone(),
                })
            })
        };
        self.marks.iter().filter_map(label).collect()
    }

    /// The lengths that show the frame as large as it fits; but one where it is no long strip.
    fn lengths(&self) -> Vec<Length> {
        let [low, high] = self.on_paper();
        lengths::lengths(low, high)
    }

    /// The box of the frame on the paper (right, up), its low and its high corner, mm.
    fn on_paper(&self) -> [[f64; 2]; 2] {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for corner in self.frame.corners() {
            let place = self.view.project(&corner);
            for k in 0..2 {
                low[k] = low[k].min(place[k]);
                high[k] = high[k].max(place[k]);
            }
        }
        [low, high]
    }
}

/// The labels of marks and arrows; a mark whose ring would lie on an arrow says what it has to say at the arrow.
fn at_arrows(marks: Vec<Label>, mut arrows: Vec<Label>) -> Vec<Label> {
    let mut labels = Vec::new();
    for mark in marks {
        let arrow = arrows.iter_mut().find(|arrow| {
            let [dx, dy] = [0, 1].map(|k| arrow.spot[k] - mark.spot[k]);
            dx.hypot(dy) < arrow.radius + mark.radius
        });
        match arrow {
            Some(arrow) => arrow.lines.extend(mark.lines),
            None => labels.push(mark),
        }
    }
    labels.extend(arrows);
    labels
}

#[cfg(test)]
mod tests;
