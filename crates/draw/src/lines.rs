//! Lines over the metal: edges by their state, outlines of holes and beads, told apart without colour.

use cloud::Point;

use crate::canvas::{Canvas, Pen};
use crate::colour::{INK, PAPER};
use crate::sight::Sight;

/// What a line over the metal says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineKind {
    /// An edge where the metal ends too soon.
    EdgeShort,
    /// An edge beyond which metal stands.
    EdgeLong,
    /// An edge where it should be.
    EdgeHome,
    /// An edge that was not seen.
    EdgeNotSeen,
    /// Where a hole or a bead should be.
    Outline,
}

impl LineKind {
    /// All of them, in the order of the keys.
    pub const ALL: [LineKind; 5] = [
        LineKind::EdgeShort,
        LineKind::EdgeLong,
        LineKind::EdgeHome,
        LineKind::EdgeNotSeen,
        LineKind::Outline,
    ];

    /// What it is called beside its key.
    pub fn words(self) -> &'static str {
        match self {
            LineKind::EdgeShort => "edge short",
            LineKind::EdgeLong => "edge long",
            LineKind::EdgeHome => "edge home",
            LineKind::EdgeNotSeen => "edge not seen",
            LineKind::Outline => "hole or bead",
        }
    }

    /// The line, and the paper on both sides that sets it off from any ground.
    fn pens(self) -> [Pen; 2] {
        let dashed = |pen: Pen, dash: [f32; 2]| Pen {
            dash: Some(dash),
            ..pen
        };
        match self {
            LineKind::EdgeShort => [
                dashed(Pen::square(9.0, INK), [24.0, 16.0]),
                Pen::square(15.0, PAPER),
            ],
            LineKind::EdgeLong => [Pen::square(7.0, INK), Pen::square(13.0, PAPER)],
            LineKind::EdgeHome => [Pen::solid(3.0, INK), Pen::solid(7.0, PAPER)],
            LineKind::EdgeNotSeen => [dashed(Pen::solid(7.0, INK), [0.1, 15.9]), Pen::solid(11.0, PAPER)],
            LineKind::Outline => [Pen::solid(2.0, INK), Pen::solid(4.5, PAPER)],
        }
    }
}

/// A line over the metal.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Places along it, mm.
    pub at: Vec<Point>,
    /// What it says.
    pub kind: LineKind,
}

/// Distance between the places at which is looked whether a line is seen, in pixels.
const STEP: f64 = 3.0;
/// A stretch of this many such places that something hides does not break a line, and one no longer is not drawn: what
/// is broken must not look like an edge that was not seen.
const FLICKER: usize = 4;
/// Distance between the ticks of an edge that is long, and their length, in pixels.
const TICKS: f32 = 24.0;
const TICK: f32 = 20.0;

/// The stretches of a line that are seen, in pixels of the sheet.
pub fn seen_runs(at: &[Point], sight: &Sight<'_>) -> Vec<Vec<[f32; 2]>> {
    let places = evenly(at, STEP * sight.window.mm_per_pixel);
    let mut seen: Vec<bool> = places.iter().map(|p| sight.seen(p).is_some()).collect();
    bridge(&mut seen);
    let mut runs: Vec<Vec<[f32; 2]>> = Vec::new();
    let mut run = Vec::new();
    for (place, seen) in places.iter().zip(seen) {
        if let Some(spot) = sight.spot(place).filter(|_| seen) {
            run.push(spot);
        } else {
            runs.push(std::mem::take(&mut run));
        }
    }
    runs.push(run);
    // A whole line may be short, a piece of a longer one may not.
    let least = FLICKER.min(places.len()).max(2);
    runs.retain(|run| run.len() >= least);
    runs
}

/// A stretch of a line on the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// Its places, in pixels.
    pub run: Vec<[f32; 2]>,
    /// What it says.
    pub kind: LineKind,
    /// On which side of its way on the paper an edge's outside lies, 1 to the right and −1 to the left; on both where it is
    /// not known.
    pub side: Option<f32>,
}

impl Stroke {
    /// The short lines that stand on an edge that is long.
    fn ticks(&self) -> Vec<[[f32; 2]; 2]> {
        if self.kind != LineKind::EdgeLong {
            return Vec::new();
        }
        let sides = self.side.map_or(vec![1.0, -1.0], |s| vec![s]);
        along(&self.run, TICKS)
            .into_iter()
            .flat_map(|(at, way)| sides.iter().map(move |s| [at, beside(at, way, s * TICK)]))
            .collect()
    }
}

/// Draws stretches, first the paper that sets them off: that of one must not cut another, which would look like two.
pub fn draw(canvas: &mut Canvas, strokes: &[Stroke]) {
    for stroke in strokes {
        let [_, apart] = stroke.kind.pens();
        canvas.polyline(&stroke.run, &apart);
        for tick in stroke.ticks() {
            canvas.polyline(&tick, &Pen::solid(10.0, PAPER));
        }
    }
    for stroke in strokes {
        let [pen, _] = stroke.kind.pens();
        canvas.polyline(&stroke.run, &pen);
        for tick in stroke.ticks() {
            canvas.polyline(&tick, &Pen::square(5.0, INK));
        }
    }
}

/// The side of an edge's way on which no metal continues it: 1 to the right on the paper, −1 to the left.
pub fn outside(run: &[[f32; 2]], sight: &Sight<'_>) -> Option<f32> {
    // Drawn metal reaches past its last point by a spacing.
    let reach = (0.7 * TICK).max((0.6 * sight.slack_mm / sight.window.mm_per_pixel) as f32);
    let mut votes = 0.0;
    for (at, way) in along(run, TICKS / 2.0) {
        let here = sight.height_mm(at);
        let step = |side: f32| (sight.height_mm(beside(at, way, side * reach)) - here).abs();
        let (right, left) = (step(1.0), step(-1.0));
        if right > left {
            votes += 1.0;
        } else if left > right {
            votes -= 1.0;
        }
    }
    (votes != 0.0).then(|| f32::signum(votes))
}

/// Places every so many pixels along a line, the first after half of that, with the way there.
pub fn along(run: &[[f32; 2]], every: f32) -> Vec<([f32; 2], [f32; 2])> {
    let mut found = Vec::new();
    let mut left = every / 2.0;
    for ends in run.windows(2) {
        let (dx, dy) = (ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]);
        let length = dx.hypot(dy);
        let way = [dx / length, dy / length];
        let mut gone = 0.0;
        while length.is_finite() && gone + left <= length {
            gone += left;
            left = every;
            found.push(([ends[0][0] + way[0] * gone, ends[0][1] + way[1] * gone], way));
        }
        left -= length - gone;
    }
    found
}

/// The place so many pixels to the right of a way on the paper.
fn beside(at: [f32; 2], way: [f32; 2], right: f32) -> [f32; 2] {
    [at[0] - way[1] * right, at[1] + way[0] * right]
}

/// Places along a line, no farther apart than asked for and its ends among them; where that would be more than twenty
/// thousand, farther apart.
fn evenly(at: &[Point], step_mm: f64) -> Vec<Point> {
    let whole: f64 = at.windows(2).map(|ends| (ends[1] - ends[0]).norm()).sum();
    let step = step_mm.max(whole / 20_000.0);
    let mut places: Vec<Point> = at.first().copied().into_iter().collect();
    if !whole.is_finite() || step <= 0.0 {
        return places;
    }
    let mut left = step;
    for ends in at.windows(2) {
        let way = ends[1] - ends[0];
        let length = way.norm();
        let mut gone = 0.0;
        while gone + left <= length {
            gone += left;
            left = step;
            places.push(ends[0] + way * (gone / length));
        }
        left -= length - gone;
    }
    places.extend(at.last());
    places
}

/// Closes short gaps between what is seen.
fn bridge(seen: &mut [bool]) {
    let kept: Vec<usize> = (0..seen.len()).filter(|&i| seen[i]).collect();
    for pair in kept.windows(2) {
        if pair[1] - pair[0] <= FLICKER {
            seen[pair[0]..pair[1]].fill(true);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How many of the pixels along a row are dark.
    fn dark_share(canvas: &Canvas, row: u32) -> f64 {
        let dark = (100..900)
            .filter(|&x| canvas.pixel(x, row).unwrap()[1] < 80)
            .count();
        dark as f64 / 800.0
    }

    fn to_the_right(run: Vec<[f32; 2]>, kind: LineKind) -> Stroke {
        Stroke {
            run,
            kind,
            side: Some(1.0),
        }
    }

    #[test]
    fn a_line_is_not_cut_by_the_paper_about_the_next() {
        let mut canvas = Canvas::new(1000, 200).unwrap();
        let halves = [[50.0, 500.0], [500.0, 950.0]];
        let strokes =
            halves.map(|[from, to]| to_the_right(vec![[from, 100.5], [to, 100.5]], LineKind::EdgeHome));
        draw(&mut canvas, &strokes);
        assert_eq!(dark_share(&canvas, 100), 1.0);
    }

    #[test]
    fn kinds_of_edges_are_told_apart_in_grey() {
        let run = [[50.0, 100.5], [950.0, 100.5]];
        let shares: Vec<[f64; 3]> = LineKind::ALL
            .iter()
            .map(|kind| {
                let mut canvas = Canvas::new(1000, 200).unwrap();
                draw(&mut canvas, &[to_the_right(run.to_vec(), *kind)]);
                // On the line, at its side, and where ticks stand to the right: downward on the paper.
                [100, 103, 112].map(|row| dark_share(&canvas, row))
            })
            .collect();
        let [short, long, home, not_seen, outline]: [[f64; 3]; 5] = std::array::from_fn(|i| shares[i]);
        assert!(short[0] > 0.5 && short[0] < 0.7 && short[1] > 0.5, "{short:?}");
        assert!(long[0] > 0.99 && long[1] > 0.99, "{long:?}");
        assert!(long[2] > 0.1 && long[2] < 0.35, "{long:?}");
        assert!(home[0] > 0.99 && home[1] == 0.0, "{home:?}");
        assert!(not_seen[0] > 0.2 && not_seen[0] < 0.6, "{not_seen:?}");
        assert!(outline[0] > 0.99 && outline[1] == 0.0, "{outline:?}");
        assert_eq!(short[2] + home[2] + not_seen[2] + outline[2], 0.0);
    }

    #[test]
    fn short_gaps_are_closed_and_long_ones_are_not() {
        let mut seen = [true, false, false, true, false, false, false, false, false, true];
        bridge(&mut seen);
        assert_eq!(seen[..4], [true; 4]);
        assert_eq!(seen[4..9], [false; 5]);
    }

    #[test]
    fn places_lie_evenly_round_a_corner() {
        let corner = [
            Point::origin(),
            Point::new(2.5, 0.0, 0.0),
            Point::new(2.5, 2.5, 0.0),
        ];
        let places = evenly(&corner, 1.0);
        assert_eq!(places.len(), 7);
        assert!((places[3] - Point::new(2.5, 0.5, 0.0)).norm() < 1e-12);
        let ticks = along(&[[0.0, 0.0], [2.5, 0.0], [2.5, 2.5]], 1.0);
        assert_eq!(ticks.len(), 5);
        assert_eq!(ticks[4].0, [2.5, 2.0]);
    }
}
