//! The trim edges of the reference, run by run: how short or long the measured metal is there.

use cloud::{Body, Motion, Point, Scan, Surface, Vector};
use compare::Verdict;
use nalgebra::Vector2;
use rayon::prelude::*;

use super::axes::{Axes, runs};
use super::boundary::{find, step_mm};
use super::name::names;
use super::pieces::{Piece, pieces};
use super::place::{Place, Read};
use super::source::Source;
use super::straight::together;
use super::stretch::{Reading, Stretch, said};
use crate::minimum_zone::straightness;
use crate::shift::HOME_MM;

/// Fewest runs that say how straight an edge is.
const FEWEST_RUNS: usize = 5;
/// The readings of straight metal scatter over about this many of their standard deviations.
const SCATTER: f64 = 4.0;

/// One run of an edge, half an inch to an inch long; its places are on the edge of the reference.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Where it begins, mm.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
    /// Its middle.
    pub middle: Point,
    /// Unit, in the surface, off the metal.
    pub outward: Vector,
    /// Unit normal of the surface, on the reference's side.
    pub normal: Vector,
    /// What the measured set shows there.
    pub seen: Seen,
}

/// What the measured set shows of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seen {
    /// Where its metal ends.
    Short {
        /// Metal missing against the reference, mm; negative is metal too much.
        mm: f64,
        /// ± (half the 95 % band), the setting's counted in, mm.
        pm_mm: f64,
    },
    /// In one of the sets the outermost points make no continuous run, or there is nothing, or the metal goes on past an
    /// inch.
    NotSeen,
}

/// One edge's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeResult {
    /// Where it lies, in words: `rear edge of the floor`, `left edge beside the floor` where it borders no region, `left edge` far
    /// from any, `…, at the front` beside a longer one of that name.
    pub name: String,
    /// The region that it borders.
    pub region: Option<String>,
    /// Length on the reference, mm.
    pub length_mm: f64,
    /// Its runs in order.
    pub runs: Vec<Run>,
    /// Whether it goes round without a corner.
    pub closed: bool,
    /// Width of the narrowest straight zone, in the surface, that holds the measured edge, mm. `None` where the reference's
    /// is not straight, too little was seen, or the scatter of the runs alone would look like more than the limit.
    pub straightness_mm: Option<f64>,
    /// Where it is off, in order.
    pub stretches: Vec<Stretch>,
    /// Against the limit: that of the worst stretch, and of the rest together.
    pub verdict: Verdict,
    /// `7/32 short over 15-1/2`, `home`, `edge not seen over 4`, one a finding.
    pub words: Vec<String>,
}

impl EdgeResult {
    /// The stretches that are out by themselves: where an edge is out at one place, what is within the limit or too close to
    /// call at another is not worked on.
    pub fn stretches_out(&self) -> impl Iterator<Item = &Stretch> {
        self.stretches.iter().filter(|s| s.verdict == Verdict::Outside)
    }

    /// The longest stretch that is out; where none is, the longest that is off at all.
    pub fn longest_off(&self) -> Option<&Stretch> {
        let longer = |a: &&Stretch, b: &&Stretch| a.length_mm.total_cmp(&b.length_mm);
        let out = self.stretches_out().max_by(longer);
        out.or_else(|| self.stretches.iter().max_by(longer))
    }
}

/// Compares the trim edges of the reference with the measured metal, front to back.
///
/// The edges are cut at corners sharper than 35° and where `name_of`, the name of the region in which a place lies,
/// changes. Closed edges around an opening that is nowhere wider than 130 mm are left to the hole finder. `limit_mm` is how
/// far off an edge may be; `setting_pm_mm` is the ± of the setting at a place along a direction. An edge of the measured set
/// is never looked for by itself: where the measured set ends for want of looking it shows as not seen, as ragged, or, if
/// it ends along a straight line within an inch, as short.
pub fn compared(
    reference: &Surface<Body>,
    measured: &Surface<Scan>,
    reference_from_measured: &Motion<Scan, Body>,
    name_of: &dyn Fn(&Point) -> Option<String>,
    limit_mm: f64,
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> Vec<EdgeResult> {
    let as_it_is = Motion::identity();
    let ours = Source::new(reference, &as_it_is);
    let theirs = Source::new(measured, reference_from_measured);
    let mut pieces: Vec<Piece> = find(reference)
        .iter()
        .filter(|edge| !edge.goes_round_a_hole())
        .flat_map(|edge| pieces(edge, name_of))
        .collect();
    pieces.sort_by(|a, b| {
        let (a, b) = (a.middle(), b.middle());
        a.x.total_cmp(&b.x)
            .then(a.y.total_cmp(&b.y))
            .then(a.z.total_cmp(&b.z))
    });
    let spacing = reference.spacing_mm.max(measured.spacing_mm);
    let cut: Vec<(Piece, Vec<Axes>)> = pieces
        .into_iter()
        .map(|piece| {
            let runs = runs(&piece, step_mm(reference), spacing);
            (piece, runs)
        })
        .filter(|(_, runs)| !runs.is_empty())
        .collect();
    let places: Vec<Vec<[Option<Place>; 2]>> = cut
        .par_iter()
        .map(|(piece, runs)| {
            let reads: (Vec<Option<Read>>, Vec<Option<Read>>) = runs
                .par_iter()
                .map(|axes| (ours.read(axes), theirs.read(axes)))
                .unzip();
            let (ours, theirs) = (
                together(runs, &reads.0, piece.closed),
                together(runs, &reads.1, piece.closed),
            );
            ours.into_iter().zip(theirs).map(|(a, b)| [a, b]).collect()
        })
        .collect();
    let lengths: Vec<f64> = cut.iter().map(|(piece, _)| length_mm(piece)).collect();
    let of_cut: Vec<&Piece> = cut.iter().map(|(piece, _)| piece).collect();
    let names = names(&of_cut, &lengths, reference, name_of);
    let mut results = Vec::with_capacity(cut.len());
    for (((piece, axes), places), (name, length_mm)) in
        cut.iter().zip(&places).zip(names.into_iter().zip(lengths))
    {
        let readings: Vec<Option<Reading>> = axes
            .iter()
            .zip(places)
            .map(|(axes, places)| reading(axes, places, setting_pm_mm))
            .collect();
        let runs: Vec<Run> = axes
            .iter()
            .zip(places)
            .zip(&readings)
            .map(|((axes, [ours, _]), reading)| run(axes, ours.map_or(0.0, |p| p.mm), reading.as_ref()))
            .collect();
        let said = said(&runs, &readings, piece.closed, limit_mm);
        results.push(EdgeResult {
            name,
            region: piece.name.clone(),
            length_mm,
            straightness_mm: straightness_mm(axes, places, piece.closed, limit_mm),
            runs,
            closed: piece.closed,
            stretches: said.stretches,
            verdict: said.verdict,
            words: said.words,
        });
    }
    results
}

fn length_mm(piece: &Piece) -> f64 {
    super::line::Line::new(&piece.at, piece.closed).length_mm
}

fn reading(
    axes: &Axes,
    places: &[Option<Place>; 2],
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> Option<Reading> {
    let (ours, theirs) = (places[0]?, places[1]?);
    Some(Reading {
        short_mm: ours.mm - theirs.mm,
        own_mm2: ours.own_mm2 + theirs.own_mm2,
        shared_mm2: ours.shared_mm2 + theirs.shared_mm2,
        common_runs: ours.common_runs.max(theirs.common_runs),
        setting_pm_mm: setting_pm_mm(&axes.middle, &axes.outward),
    })
}

/// A run whose edge on the reference lies `out_mm` outward of its line.
fn run(axes: &Axes, out_mm: f64, reading: Option<&Reading>) -> Run {
    let half = axes.length_mm / 2.0;
    Run {
        from: axes.place(-half, out_mm),
        to: axes.place(half, out_mm),
        middle: axes.place(0.0, out_mm),
        outward: axes.outward,
        normal: axes.normal,
        seen: reading.map_or(Seen::NotSeen, |reading| Seen::Short {
            mm: reading.short_mm,
            pm_mm: reading.pm_mm(),
        }),
    }
}

fn straightness_mm(axes: &[Axes], places: &[[Option<Place>; 2]], closed: bool, limit_mm: f64) -> Option<f64> {
    let seen: Vec<(&Axes, Place, Place)> = axes
        .iter()
        .zip(places)
        .filter_map(|(axes, [ours, theirs])| Some((axes, (*ours)?, (*theirs)?)))
        .collect();
    if closed || seen.len() < FEWEST_RUNS {
        return None;
    }
    let (first, last) = (seen.first()?.0, seen.last()?.0);
    let along = (last.middle - first.middle).try_normalize(1e-9)?;
    let outward = seen.iter().map(|(axes, ..)| axes.outward).sum::<Vector>();
    let outward = (outward - along * outward.dot(&along)).try_normalize(1e-9)?;
    // Which of the two edges, and the standard deviation of one of its readings.
    let zone = |of: &dyn Fn(&(&Axes, Place, Place)) -> Place| {
        let place = |run: &(&Axes, Place, Place)| {
            let d = run.0.place(0.0, of(run).mm) - first.middle;
            Vector2::new(d.dot(&along), d.dot(&outward))
        };
        let variance = seen.iter().map(|run| of(run).own_mm2).sum::<f64>() / seen.len() as f64;
        let places: Vec<Vector2<f64>> = seen.iter().map(place).collect();
        Some((straightness(&places)?.zone_mm, SCATTER * variance.sqrt()))
    };
    let ((ours, our_scatter), (theirs, their_scatter)) = (zone(&|run| run.1)?, zone(&|run| run.2)?);
    (ours <= HOME_MM + our_scatter && their_scatter <= limit_mm).then_some(theirs)
}

#[cfg(test)]
mod tests {
    use super::super::plates::{flanged, holed, meshed, plate};
    use super::*;

    const LIMIT_MM: f64 = 25.4 / 32.0;

    fn nameless(_: &Point) -> Option<String> {
        None
    }

    /// The results, set with a known motion undone.
    fn results(reference: &Surface<Body>, measured: &Surface<Body>, limit_mm: f64) -> Vec<EdgeResult> {
        let away: Motion<Body, Scan> = Motion::turn_about(
            Vector::new(0.2, -0.4, 0.7),
            Point::new(50.0, 20.0, 0.0),
            Vector::new(300.0, -40.0, 25.0),
        );
        let measured: Surface<Scan> = measured.moved(&away);
        compared(
            reference,
            &measured,
            &away.inverse(),
            &nameless,
            limit_mm,
            &|_, _| 0.05,
        )
    }

    fn shorts(result: &EdgeResult) -> Vec<(f64, f64)> {
        let seen = result.runs.iter().filter_map(|run| match run.seen {
            Seen::Short { mm, pm_mm } => Some((mm, pm_mm)),
            Seen::NotSeen => None,
        });
        seen.collect()
    }

    #[test]
    fn a_plate_that_is_short_at_one_end_is_short_there_only() {
        let found = results(
            &plate(1.0, 1, |_, _| true),
            &plate(1.0, 2, |x, _| x < 194.5),
            LIMIT_MM,
        );
        assert_eq!(found.len(), 4);
        let (mut inside, mut all) = (0, 0);
        for edge in &found {
            let out = edge.runs[0].outward;
            let sides = [
                (-out.x, "front"),
                (out.x, "rear"),
                (-out.y, "left"),
                (out.y, "right"),
            ];
            let side = sides.iter().max_by(|a, b| a.0.total_cmp(&b.0)).unwrap().1;
            assert_eq!(edge.name, format!("{side} edge"));
            let short = if edge.runs[0].outward.x > 0.9 { 5.5 } else { 0.0 };
            for (mm, pm_mm) in shorts(edge) {
                inside += usize::from((mm - short).abs() <= pm_mm);
                all += 1;
                assert!(
                    (mm - short).abs() < 1.5 && pm_mm < 1.5,
                    "{} {mm} ± {pm_mm}",
                    edge.name
                );
            }
        }
        assert!(all >= 36 && inside * 100 >= all * 85, "{inside} of {all}");
        // Read alone, two runs of half an inch would have 1.96 √2/λ, 0.21 mm; the noise has 0.20 and the setting 0.05.
        let mut bands: Vec<f64> = found.iter().flat_map(shorts).map(|(_, pm_mm)| pm_mm).collect();
        assert!(cloud::statistics::median(&mut bands) < 0.28, "{bands:?}");
        let rear = found.last().unwrap();
        assert_eq!(rear.words, ["7/32 short over 4"]);
        assert_eq!(rear.verdict, Verdict::Outside);
        assert!(rear.straightness_mm.unwrap() < 1.0);
        for edge in &found[..3] {
            assert_eq!(
                (edge.words.as_slice(), edge.verdict),
                (["home".to_string()].as_slice(), Verdict::Within)
            );
        }
    }

    #[test]
    fn a_coarse_set_says_the_same_with_a_wider_band() {
        let found = results(
            &plate(3.0, 11, |_, _| true),
            &plate(3.0, 12, |x, _| x < 194.5),
            25.4 / 8.0,
        );
        let rear = found.iter().find(|e| e.runs[0].outward.x > 0.9).unwrap();
        let (mm, pm_mm) = (rear.stretches[0].short_mm, rear.stretches[0].pm_mm);
        assert!((mm - 5.5).abs() < 1.5 && pm_mm < 1.5, "{mm} ± {pm_mm}");
    }

    #[test]
    fn meshes_are_read_exactly() {
        let found = results(&meshed(200.0), &meshed(194.5), LIMIT_MM);
        assert_eq!(found.len(), 4);
        for edge in &found {
            let short = if edge.runs[0].outward.x > 0.9 { 5.5 } else { 0.0 };
            assert!(!shorts(edge).is_empty());
            for (mm, pm_mm) in shorts(edge) {
                assert!(
                    (mm - short).abs() < 1e-6 && pm_mm < 0.06,
                    "{} {mm} ± {pm_mm}",
                    edge.name
                );
            }
        }
    }

    #[test]
    fn a_ragged_edge_is_not_seen_and_a_hole_is_left_out() {
        let teeth = |y: f64| 16.0 * (y / 12.7 - (y / 12.7).round()).abs();
        let found = results(
            &holed(1.0, 30.0, 3),
            &plate(1.0, 4, |x, y| x < 198.0 - teeth(y)),
            LIMIT_MM,
        );
        assert_eq!(found.len(), 4);
        let rear = found.iter().find(|e| e.runs[0].outward.x > 0.9).unwrap();
        let sure = shorts(rear).iter().filter(|(_, pm_mm)| *pm_mm < 1.0).count();
        assert!(2 * sure < rear.runs.len(), "{:?}", rear.runs);
        assert!(rear.words.iter().any(|w| w.starts_with("edge not seen over")));
        assert_ne!(rear.verdict, Verdict::Within);
    }

    /// A lip that is short, on a flange that was moved by a quarter inch off its place, with the region's name.
    #[test]
    fn a_lip_is_read_on_a_flange_that_was_moved() {
        let reference: Surface<Body> = flanged(1.0, 2.0, 12.7, 5);
        let shorter: Surface<Body> = flanged(1.0, 2.0, 9.7, 6);
        let moved: Motion<Body, Scan> = Motion::new(cloud::Matrix3::identity(), Vector::new(-6.0, 0.0, 0.0));
        let name_of = |p: &Point| (p.x > 196.0).then(|| "rear flange".to_string());
        let set = shorter.moved(&moved);
        let found = compared(
            &reference,
            &set,
            &Motion::identity(),
            &name_of,
            LIMIT_MM,
            &|_, _| 0.0,
        );
        let of_flange = |e: &&EdgeResult| e.region.as_deref() == Some("rear flange");
        let lip = found
            .iter()
            .filter(of_flange)
            .max_by(|a, b| a.length_mm.total_cmp(&b.length_mm))
            .unwrap();
        assert_eq!(lip.name, "bottom edge of the rear flange");
        assert!(
            lip.runs[0].outward.z < -0.9 && (lip.length_mm - 100.0).abs() < 4.0,
            "{lip:?}"
        );
        assert_eq!(lip.words, ["1/8 short over 4"]);
        assert!(found.iter().filter(of_flange).any(|e| e.name != lip.name));
    }
}
