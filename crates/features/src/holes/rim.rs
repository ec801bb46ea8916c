//! The rim of a hole: whether it is seen all round and lies on the outline, and whether its edge turns out of the sheet.

use cloud::Frame;
use cloud::chance::student_t;
use nalgebra::Vector2;

use super::outline::Outline;
use super::sheet::{Ground, Metal, Plane};
use crate::gap::widest;

/// The sheet around is read from one to this many spacings off the rim.
const RING: [f64; 2] = [1.0, 4.0];
/// A stretch of the rim is seen where a point lies within this many spacings of it.
const SEEN: f64 = 2.0;
/// Length of the stretches that are looked at one by one, and how far out, in spacings of the ring.
const STRETCH: f64 = 1.5;
const FARTHEST: f64 = 3.0;
/// Fewest points of the ring.
const FEWEST_RING: usize = 8;
/// Widest stretch without a point, as a share of the rim: what is open wider is a place that was not seen.
const WIDEST_GAP: f64 = 1.0 / 8.0;
/// The stretches of a true rim meet their first points later than this many standard deviations of chance once in five
/// hundred times.
const LATEST: f64 = 3.5;

/// How the points lie along an outline.
#[derive(Debug, Clone, Copy)]
pub struct Rim {
    /// Points of the sheet around to the square millimetre.
    pub density: f64,
    /// The widest stretch without a point, as a share of the rim.
    pub widest_gap: f64,
    /// How much later than by chance its stretches meet their first points, in standard deviations.
    pub late: f64,
}

impl Rim {
    /// Of an outline and the places of the sheet around it. `None` where there are hardly any.
    ///
    /// Each stretch of the rim is pushed outward until it meets a point. The number of points that the sheet's density
    /// would have put where it was pushed over is exponential with mean one, so that the sum over n stretches has mean n
    /// and standard deviation √n; the rim of a torn or a square opening is met later.
    pub fn of(places: &[Vector2<f64>], outline: &Outline, spacing_mm: f64) -> Option<Self> {
        let around: Vec<(f64, f64)> = places
            .iter()
            .map(|p| (outline.off(p), outline.share_along(p)))
            .collect();
        let [inner, outer] = RING.map(|r| r * spacing_mm);
        let in_ring = around
            .iter()
            .filter(|(off, _)| (inner..outer).contains(off))
            .count();
        if in_ring < FEWEST_RING {
            return None;
        }
        let density = in_ring as f64 / (outline.wider(outer).area() - outline.wider(inner).area());
        let mut shares: Vec<f64> = around
            .iter()
            .filter(|(off, _)| *off < SEEN * spacing_mm)
            .map(|(_, share)| *share)
            .collect();
        shares.sort_by(f64::total_cmp);
        Some(Self {
            density,
            widest_gap: widest(&shares, 1.0).0,
            late: late(&around, outline, density),
        })
    }

    /// Whether it is seen all round and lies on the outline.
    pub fn is_whole(&self) -> bool {
        self.widest_gap <= WIDEST_GAP && self.late <= LATEST
    }
}

fn late(around: &[(f64, f64)], outline: &Outline, density: f64) -> f64 {
    let spacing = 1.0 / density.sqrt();
    let perimeter = outline.perimeter();
    let stretches = ((perimeter / (STRETCH * spacing)) as usize).max(8);
    let mut first = vec![FARTHEST * spacing; stretches];
    for (off, share) in around {
        let k = ((share * stretches as f64) as usize).min(stretches - 1);
        first[k] = first[k].min(off.max(0.0));
    }
    let n = stretches as f64;
    let met: f64 = first
        .iter()
        .map(|off| density * (perimeter / n * off + std::f64::consts::PI / n * off * off))
        .sum();
    (met - n) / n.sqrt()
}

/// Whether the edge of a hole turns out of the sheet: a pressed lip, a flare, a burr.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lip {
    /// It lies in the sheet.
    Flat,
    /// It stands off the sheet.
    Tipped {
        /// By how much at the very edge, mm.
        mm: f64,
        /// Whether to the outside.
        up: bool,
    },
    /// The points are too few or too rough.
    CantTell,
}

/// A lip is some two or three millimetres wide: of less its rise shows by a share only.
const LIP_MM: f64 = 2.0;
const WIDEST_LIP_MM: f64 = 3.0;
/// What rises by no more than this is flat, mm (1/64 in), and what may rise by more than twice as much may be no more so.
const FLAT_MM: f64 = 25.4 / 64.0;
/// Fewest points of the lip.
const FEWEST_LIP: usize = 12;

/// Reads the edge: a straight line through the heights of the metal over the first two millimetres (or two spacings, and
/// as much inward, where a steep lip stands), against the surface of the second degree through the metal from there to
/// about 2½ times the hole's width.
pub fn lip<F: Frame>(metal: &Metal<'_, F>, plane: &Plane, outline: &Outline) -> Lip {
    let spacing = metal.surface.spacing_mm;
    let width = (2.0 * spacing).max(LIP_MM);
    if width > WIDEST_LIP_MM {
        return Lip::CantTell;
    }
    let inner = width + 0.5 * spacing;
    let outer = inner + (1.5 * outline.radius).clamp(4.0 * spacing, 40.0);
    let reach = outline.half_length() + outer;
    let mut around = Vec::new();
    metal.sheet(plane, &outline.centre, reach, &mut around);
    around.retain(|s| (inner..outer).contains(&outline.off(&s.flat)));
    let Some(ground) = Ground::through(&around) else {
        return Lip::CantTell;
    };
    let mut edge = Vec::new();
    metal.all(plane, &outline.centre, reach, &mut edge);
    let lip: Vec<(f64, f64)> = edge
        .iter()
        .map(|s| (outline.off(&s.flat), s.height - ground.height(&s.flat)))
        .filter(|(off, rise)| off.abs() < width && rise.abs() < 1.5 * width)
        .collect();
    let Some((rise, pm)) = at_the_edge(&lip) else {
        return Lip::CantTell;
    };
    // The surface is drawn inward from where it is seen: about as sure there as two of its points in five are.
    let pm = pm.hypot(1.96 * ground.spread_mm * (2.5 / around.len() as f64).sqrt());
    if rise.abs() - pm > FLAT_MM {
        Lip::Tipped {
            mm: rise.abs(),
            up: rise > 0.0,
        }
    } else if rise.abs() + pm <= 2.0 * FLAT_MM {
        Lip::Flat
    } else {
        Lip::CantTell
    }
}

/// The height at the very edge and its ±, from the straight line through (how far out, how high).
fn at_the_edge(lip: &[(f64, f64)]) -> Option<(f64, f64)> {
    if lip.len() < FEWEST_LIP {
        return None;
    }
    let n = lip.len() as f64;
    let out = lip.iter().map(|(off, _)| off).sum::<f64>() / n;
    let high = lip.iter().map(|(_, rise)| rise).sum::<f64>() / n;
    let spread: f64 = lip.iter().map(|(off, _)| (off - out).powi(2)).sum();
    if spread <= 0.0 {
        return None;
    }
    let slope = lip
        .iter()
        .map(|(off, rise)| (off - out) * (rise - high))
        .sum::<f64>()
        / spread;
    let rest: f64 = lip
        .iter()
        .map(|(off, rise)| (rise - high - slope * (off - out)).powi(2))
        .sum();
    let sd = (rest / (n - 2.0) * (1.0 / n + out * out / spread)).sqrt();
    Some((high - slope * out, student_t(0.95, n - 2.0) * sd))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::plates::{off_slot, places, plate};
    use cloud::{Body, Point, Surface, Vector};

    #[test]
    fn a_rim_is_whole_where_it_lies_on_the_outline_and_only_there() {
        let round = Outline::round(Vector2::new(50.0, 40.0), 10.0);
        let off = |x: f64, y: f64| (x - 50.0).hypot(y - 40.0) - 10.0;
        for seed in 0..8 {
            let hole = Rim::of(&places(|x, y| off(x, y) > 0.0, seed), &round, 1.0).unwrap();
            assert!(hole.is_whole(), "{hole:?}");
            assert!((hole.density - 1.0).abs() < 0.3, "{hole:?}");
            // Not seen beyond a straight line; torn by three spacings in and out; a square; a slot.
            let half = Rim::of(&places(|x, y| off(x, y) > 0.0 && x < 56.0, seed), &round, 1.0).unwrap();
            assert!(!half.is_whole(), "{half:?}");
            let torn = |x: f64, y: f64| off(x, y) > 1.5 + 1.5 * (5.0 * (y - 40.0).atan2(x - 50.0)).sin();
            let torn = Rim::of(&places(torn, seed), &round, 1.0).unwrap();
            assert!(!torn.is_whole(), "{torn:?}");
            let square = |x: f64, y: f64| (x - 50.0).abs().max((y - 40.0).abs()) > 10.0;
            let square = Rim::of(&places(square, seed), &round, 1.0).unwrap();
            assert!(!square.is_whole(), "{square:?}");
            let slot = Rim::of(
                &places(|x, y| off_slot(x, y, 30.0, 20.0) > 0.0, seed),
                &round,
                1.0,
            )
            .unwrap();
            assert!(!slot.is_whole(), "{slot:?}");
        }
        assert!(Rim::of(&[], &round, 1.0).is_none());
    }

    /// A plate with a hole of 20 mm whose edge rises by `rise` over its first three millimetres, on a sheet that is bent.
    fn lip_of(rise: f64, seed: u64) -> Lip {
        let off = |x: f64, y: f64| (x - 50.0).hypot(y - 40.0) - 10.0;
        let height = |x: f64, y: f64| (x - 50.0).powi(2) / 600.0 + rise * ((3.0 - off(x, y)) / 3.0).max(0.0);
        let surface: Surface<Body> = plate(seed, |x, y| off(x, y) > 0.0, height);
        let plane = Plane::new(Point::new(50.0, 40.0, 0.0), Vector::z());
        let middle = plane.flat(&Vector::zeros());
        lip(&Metal::of(&surface), &plane, &Outline::round(middle, 10.0))
    }

    #[test]
    fn a_tipped_edge_is_told_from_a_flat_one_on_a_bent_sheet() {
        for seed in 0..4 {
            assert_eq!(lip_of(0.0, seed), Lip::Flat, "{seed}");
            for planted in [1.6, -1.6] {
                match lip_of(planted, seed) {
                    Lip::Tipped { mm, up } => {
                        assert!((mm - 1.6).abs() < 0.2 && up == (planted > 0.0), "{mm} {up}");
                    }
                    other => panic!("{other:?} for {planted}"),
                }
            }
        }
        let few = [(0.5, 1.0); 11];
        assert!(at_the_edge(&few).is_none());
    }
}
