//! Where everything of a cut lies on the sheet: the lines, their pieces, the window that shows them.

use super::SectionPicture;
use super::beyond::{Parted, parted};
use crate::canvas::{Canvas, Face};
use crate::ground::{DRAWN_OVER, Ground};
use crate::magnified::{Place, Reference, Sample, finely, without_folds};
use crate::page::{self, WINDOW};
use crate::splat::Window;

/// Height of the words at the sides of the picture, in pixels.
pub(super) const SIDE_WORDS: f32 = 30.0;
/// A stretch of the reference that was not seen and is shorter than this goes unsaid, in pixels.
const UNSEEN: f64 = 8.0;

/// Everything in its place.
pub(super) struct Layout {
    pub(super) reference: Reference,
    /// Pieces of the measured line that hang together.
    pub(super) pieces: Vec<Vec<Sample>>,
    /// Stretches of the reference that were not seen, and those beside which the measured set ends.
    pub(super) unseen: Vec<Vec<Place>>,
    pub(super) beyond: Vec<Vec<Place>>,
    /// How many times the deviation is drawn.
    pub(super) magnified: f64,
    pub(super) window: Window,
}

impl Layout {
    pub(super) fn of(picture: &SectionPicture<'_>, canvas: &Canvas) -> Self {
        let magnified = picture.magnified.max(1.0);
        let reference = Reference::of(picture.reference);
        let given = picture.reference.iter().chain(picture.measured);
        let [low, high] = bounds(given.flatten().map(|at| Place::from(*at)));
        let step_mm = (high - low).norm().max(1e-6) / 600.0;
        let runs: Vec<Vec<Sample>> = picture
            .measured
            .iter()
            .map(|line| reference.samples(line, magnified, step_mm))
            .collect();
        let pieces: Vec<Vec<Sample>> = runs
            .iter()
            .flat_map(|run| run.chunk_by(hang_together))
            .map(without_folds)
            .collect();
        let band = Place::repeat(picture.limit_mm * magnified);
        let should_be = reference.lines().flatten().flat_map(|at| [at - band, at + band]);
        let [low, high] = bounds(pieces.iter().flatten().map(|s| s.drawn).chain(should_be));
        let widest = |words: (&str, &str)| {
            let width = |text| canvas.text_width(SIDE_WORDS, Face::Bold, text);
            f64::from(width(words.0).max(width(words.1)))
        };
        let aside = [widest(picture.axes[0]) + 40.0, 60.0];
        let fills = [0, 1].map(|k| (1.0 - 2.0 * aside[k] / WINDOW[k + 2] as f64).max(0.3));
        let window = page::fitted(low.into(), high.into(), fills);
        let least_mm = UNSEEN * window.mm_per_pixel;
        let stretches = reference.unseen(&runs, least_mm);
        let Parted { beyond, unseen } = parted(stretches, picture.beyond, least_mm / 4.0, least_mm);
        Self {
            reference,
            pieces,
            unseen,
            beyond,
            magnified,
            window,
        }
    }

    pub(super) fn spot(&self, place: Place) -> [f32; 2] {
        page::on_sheet(&self.window, place.into())
    }

    pub(super) fn spots(&self, places: impl Iterator<Item = Place>) -> Vec<[f32; 2]> {
        places.map(|place| self.spot(place)).collect()
    }

    pub(super) fn mm(&self, pixels: f64) -> f64 {
        pixels * self.window.mm_per_pixel
    }

    /// Where a place of either line is drawn.
    pub(super) fn drawn(&self, place: Place) -> Place {
        if let Some(foot) = self.reference.foot(place).filter(|foot| !foot.beyond) {
            return foot.at + (place - foot.at) * self.magnified;
        }
        // Past an end it goes with the line, which hangs on where it passed.
        let away = |s: &&Sample| (s.place - place).norm_squared();
        let nearest = self
            .pieces
            .iter()
            .flatten()
            .min_by(|a, b| away(a).total_cmp(&away(b)));
        place + nearest.map_or_else(Place::zeros, |s| s.drawn - s.place)
    }
}

/// What labels should not hide: both lines and what lies between them.
pub(super) fn ground(layout: &Layout) -> Ground {
    let mut ground = Ground::bare(page::area());
    for line in layout.reference.lines() {
        for place in finely(line, layout.mm(6.0)) {
            ground.note(layout.spot(place), DRAWN_OVER);
        }
    }
    for sample in layout.pieces.iter().flatten() {
        let foot = sample.foot.map_or(sample.drawn, |foot| foot.at);
        for place in finely(&[foot, sample.drawn], layout.mm(6.0)) {
            ground.note(layout.spot(place), DRAWN_OVER);
        }
    }
    ground
}

/// Whether the measured line goes on from one place to the next: it does not where it goes over to another sheet.
fn hang_together(a: &Sample, b: &Sample) -> bool {
    match (a.beside(), b.beside()) {
        (Some(a), Some(b)) => a.line == b.line,
        _ => true,
    }
}

/// The lowest and the highest of both coordinates; a millimetre where there is nothing.
fn bounds(places: impl Iterator<Item = Place>) -> [Place; 2] {
    let nothing = [Place::repeat(f64::INFINITY), Place::repeat(f64::NEG_INFINITY)];
    let found = places
        .filter(|place| place.iter().all(|c| c.is_finite()))
        .fold(nothing, |[low, high], place| [low.inf(&place), high.sup(&place)]);
    if found[0].x <= found[1].x {
        found
    } else {
        [Place::zeros(), Place::repeat(1.0)]
    }
}
