//! The middle line of a relief that bends or closes in itself, followed through its points at half depth.
//!
//! A relief that is open is ordered by the way through its own metal from one end (Dijkstra 1959, *Numerische Mathematik* 1,
//! 269-271), one that closes by the angle about its middle. Then the line is drawn through the middles of its points, width by
//! width, twice (a principal curve, Hastie & Stuetzle 1989, JASA 84, 502-516). It is followed only where the relief
//! then is a strip of one width along it.

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use cloud::statistics::{mean, median, rms};

use super::line::{Line, Ruler};
use crate::bead::outline::{BEAD, stadium_width};
use crate::bead::relief::{LINK_MM, LINK_SPACINGS};
use crate::bead::sheet::{Flat, Sheet};
use crate::bead::skirt::SHEET;

/// Points that the way through the metal is looked for on, at the most.
const LOOKED_AT: f64 = 2500.0;
/// Fewest pieces that the line is drawn through.
const PIECES: usize = 4;
const PIECES_ROUND: usize = 8;
/// Rounds in which the line settles.
const ROUNDS: usize = 2;
/// How far the points may stray from the line, as a share of what those of a strip do; and how many lie beyond three quarters
/// of the width.
const STRAYS: f64 = 1.2;
const BEYOND: f64 = 0.75;
const FEW: f64 = 0.02;
/// How far the line goes on beyond the outline's ends, mm, and two widths.
pub(super) const ON_MM: f64 = 60.0;
/// Places at which the metal inside of a ring is looked at, within so many spacings, and the share that must be sheet.
const INSIDE: usize = 12;
const SHOWS: f64 = 2.5;
const LEVEL: f64 = 0.6;

/// A middle line with the part of it that the relief covers.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::bead) struct Followed {
    pub line: Line,
    /// From where to where along the relief goes at half depth, mm.
    pub range_mm: [f64; 2],
    /// Width from the area, mm.
    pub width_mm: f64,
}

impl Followed {
    /// How long it is along its middle line, mm.
    pub fn length_mm(&self) -> f64 {
        self.range_mm[1] - self.range_mm[0]
    }

    /// How far from a place its middle line passes, mm.
    pub fn passes_mm(&self, at: &Flat) -> f64 {
        self.line.passes_mm(at, self.range_mm)
    }

    /// The place at a share of its length, and so far across.
    pub fn place(&self, share: f64, across_mm: f64) -> Flat {
        self.line
            .beside(self.range_mm[0] + share * self.length_mm(), across_mm)
    }

    /// Its two ends and the directions out of it.
    pub fn ends(&self) -> [(Flat, Flat); 2] {
        let [(first, from), (last, to)] = self.range_mm.map(|along| self.line.at(along));
        [(first, -from), (last, to)]
    }
}

/// Follows the points `of` (at half depth or more) of a relief that is `depth_mm` deep. `None` where they are no strip longer
/// than a bead must be, or where it closes round metal that is no sheet.
pub(in crate::bead) fn follow(sheet: &Sheet, of: &[u32], depth_mm: f64) -> Option<Followed> {
    let core: Vec<Flat> = of.iter().map(|&i| sheet.flat[i as usize]).collect();
    let area_mm2 = core.len() as f64 * sheet.spacing_mm.powi(2);
    let round = around_its_middle(&core, area_mm2, sheet.spacing_mm);
    let closed = round.is_some();
    let mut nodes = match round {
        Some(nodes) => nodes,
        None => from_end_to_end(&core, area_mm2, sheet.spacing_mm)?,
    };
    // The first line goes on far enough for the ends of the widest strip that is one.
    let mut beyond = (area_mm2 / BEAD).sqrt();
    for _ in 0..ROUNDS {
        let line = Line::through(&nodes, closed, beyond)?;
        let laid = laid(&line.ruler(), &core);
        let followed = strip(line, &laid, area_mm2)?;
        nodes = quiet(&middles(&followed, &laid)?, closed);
        beyond = 2.0 * followed.width_mm + ON_MM;
    }
    let line = Line::through(&nodes, closed, beyond)?;
    let laid = laid(&line.ruler(), &core);
    let followed = strip(line, &laid, area_mm2)?;
    let across: Vec<f64> = laid.iter().map(|(_, across)| *across).collect();
    let far = across
        .iter()
        .filter(|a| a.abs() > BEYOND * followed.width_mm)
        .count();
    let is_strip = rms(&across) <= STRAYS * followed.width_mm / 12.0_f64.sqrt()
        && far as f64 <= FEW * across.len() as f64
        && (!closed || has_sheet_inside(sheet, &followed, depth_mm));
    is_strip.then_some(followed)
}

fn laid(ruler: &Ruler, core: &[Flat]) -> Vec<(f64, f64)> {
    core.iter().filter_map(|p| ruler.laid(p)).collect()
}

/// The line with the part that the points cover; `None` where that is too short for its width.
fn strip(line: Line, laid: &[(f64, f64)], area_mm2: f64) -> Option<Followed> {
    let range_mm = if line.closed {
        [0.0, line.round_mm()]
    } else {
        let along = || laid.iter().map(|(along, _)| *along);
        [
            along().fold(f64::INFINITY, f64::min),
            along().fold(f64::NEG_INFINITY, f64::max),
        ]
    };
    let length_mm = range_mm[1] - range_mm[0];
    let width_mm = if line.closed {
        area_mm2 / length_mm
    } else {
        stadium_width(area_mm2, length_mm)
    };
    (length_mm > BEAD * width_mm).then_some(Followed {
        line,
        range_mm,
        width_mm,
    })
}

/// The middles of the points across, width by width, without the round ends. Where the strip bends there is more of it outside
/// of its middle line than inside, so that the mean lies off by a twelfth of what it turns over its width.
fn middles(strip: &Followed, laid: &[(f64, f64)]) -> Option<Vec<Flat>> {
    let closed = strip.line.closed;
    let inset = if closed { 0.0 } else { strip.width_mm / 2.0 };
    let from = strip.range_mm[0] + inset;
    let length = strip.length_mm() - 2.0 * inset;
    let fewest = if closed { PIECES_ROUND } else { PIECES };
    let count = ((length / strip.width_mm).round() as usize).max(fewest);
    let mut across = vec![Vec::new(); count];
    for (along, off) in laid {
        let share = (along - from) / length;
        if (0.0..1.0).contains(&share) {
            across[((share * count as f64) as usize).min(count - 1)].push(*off);
        }
    }
    across
        .iter()
        .enumerate()
        .map(|(k, offs)| {
            let along = from + (k as f64 + 0.5) / count as f64 * length;
            let outside = strip.line.turns(along, strip.width_mm) * strip.width_mm / 12.0;
            (!offs.is_empty()).then(|| strip.line.beside(along, mean(offs) + outside))
        })
        .collect()
}

/// Nodes without what goes to and fro from one to the next; a cubic stays as it is.
fn quiet(nodes: &[Flat], closed: bool) -> Vec<Flat> {
    let count = nodes.len();
    (0..count)
        .map(|k| {
            if !closed && (k < 2 || k + 2 >= count) {
                return nodes[k];
            }
            let at = |off: usize| nodes[(k + count + off - 2) % count];
            (at(1) * 4.0 + at(2) * 10.0 + at(3) * 4.0 - at(0) - at(4)) / 16.0
        })
        .collect()
}

/// Nodes about the middle of points that lie all around it, none of them near it; `None` where they don't.
fn around_its_middle(core: &[Flat], area_mm2: f64, spacing_mm: f64) -> Option<Vec<Flat>> {
    let middle = core.iter().sum::<Flat>() / core.len() as f64;
    let seen: Vec<(f64, f64)> = core
        .iter()
        .map(|p| p - middle)
        .map(|d| (d.y.atan2(d.x).rem_euclid(TAU) / TAU, d.norm()))
        .collect();
    let mut radii: Vec<f64> = seen.iter().map(|(_, radius)| *radius).collect();
    let round_mm = TAU * median(&mut radii);
    let width_mm = area_mm2 / round_mm;
    if round_mm <= 0.0 || radii.iter().any(|radius| *radius < width_mm / 3.0) {
        return None;
    }
    let sectors = |count: usize| {
        let mut sectors = vec![Vec::new(); count];
        for (share, radius) in &seen {
            sectors[((share * count as f64) as usize).min(count - 1)].push(*radius);
        }
        sectors
    };
    // A gap as wide as this parts relief elsewhere, too.
    let gap_mm = (LINK_SPACINGS * spacing_mm).max(LINK_MM);
    let narrow = ((round_mm / gap_mm) as usize).max(PIECES_ROUND);
    if sectors(narrow).iter().any(Vec::is_empty) {
        return None;
    }
    let count = ((round_mm / width_mm).round() as usize).max(PIECES_ROUND);
    sectors(count)
        .iter()
        .enumerate()
        .map(|(k, radii)| {
            let turn = TAU * (k as f64 + 0.5) / count as f64;
            (!radii.is_empty()).then(|| middle + Flat::new(turn.cos(), turn.sin()) * mean(radii))
        })
        .collect()
}

/// Nodes from one end of the points to the other, ordered by the way through them.
fn from_end_to_end(core: &[Flat], area_mm2: f64, spacing_mm: f64) -> Option<Vec<Flat>> {
    let cell_mm = spacing_mm.max((area_mm2 / LOOKED_AT).sqrt());
    let mut cells: BTreeMap<(i64, i64), Flat> = BTreeMap::new();
    for p in core {
        let cell = (p / cell_mm).map(f64::floor);
        cells.entry((cell.x as i64, cell.y as i64)).or_insert(*p);
    }
    let few: Vec<Flat> = cells.into_values().collect();
    let link_mm = (LINK_SPACINGS * cell_mm).max(LINK_MM);
    let middle = few.iter().sum::<Flat>() / few.len() as f64;
    let farthest = |ways: &[f64]| (0..ways.len()).max_by(|&a, &b| ways[a].total_cmp(&ways[b]));
    let out: Vec<f64> = few.iter().map(|p| (p - middle).norm()).collect();
    let start = farthest(&ways_from(&few, farthest(&out)?, link_mm))?;
    let ways = ways_from(&few, start, link_mm);
    let length_mm = ways[farthest(&ways)?];
    if !length_mm.is_finite() {
        return None;
    }
    let width_mm = stadium_width(area_mm2, length_mm);
    if length_mm <= BEAD * width_mm {
        return None;
    }
    let count = ((length_mm / width_mm).round() as usize).max(PIECES);
    let mut sums = vec![(Flat::zeros(), 0usize); count];
    for (p, way) in few.iter().zip(&ways) {
        let piece = &mut sums[((way / length_mm * count as f64) as usize).min(count - 1)];
        piece.0 += p;
        piece.1 += 1;
    }
    sums.iter()
        .map(|(sum, count)| (*count > 0).then(|| sum / *count as f64))
        .collect()
}

/// The shortest way from one of some places to each, over steps of at most `link_mm`; infinite where there is none.
fn ways_from(places: &[Flat], start: usize, link_mm: f64) -> Vec<f64> {
    let mut ways = vec![f64::INFINITY; places.len()];
    let mut left: Vec<usize> = (0..places.len()).collect();
    ways[start] = 0.0;
    while let Some(k) = (0..left.len()).min_by(|&a, &b| ways[left[a]].total_cmp(&ways[left[b]])) {
        let here = left.swap_remove(k);
        if !ways[here].is_finite() {
            break;
        }
        for &next in &left {
            let step = (places[next] - places[here]).norm();
            if step < link_mm {
                ways[next] = ways[next].min(ways[here] + step);
            }
        }
    }
    ways
}

/// Whether there is sheet one width inside of a closed line, which runs with its inside to the left.
fn has_sheet_inside(sheet: &Sheet, ring: &Followed, depth_mm: f64) -> bool {
    let level = (0..INSIDE)
        .map(|k| ring.place((k as f64 + 0.5) / INSIDE as f64, ring.width_mm))
        .filter_map(|at| sheet.nearest(&at, SHOWS * sheet.spacing_mm))
        .filter(|&i| sheet.height_mm[i].abs() < SHEET * depth_mm.abs())
        .count();
    level as f64 >= LEVEL * INSIDE as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    #[test]
    fn the_way_through_the_metal_goes_round_the_corner() {
        // A row of places along two legs, 10 mm apart.
        let legs: Vec<Flat> = (0..=10)
            .map(|k| Flat::new(100.0 - 10.0 * f64::from(k), 0.0))
            .chain((1..=8).map(|k| Flat::new(0.0, 10.0 * f64::from(k))))
            .collect();
        let ways = ways_from(&legs, 0, 11.0);
        for (k, way) in ways.iter().enumerate() {
            assert!((way - 10.0 * k as f64).abs() < 1e-9, "{k} {way}");
        }
        assert!(ways_from(&legs, 0, 9.0)[1].is_infinite());
    }

    #[test]
    fn a_ring_is_one_and_a_disc_or_a_ring_with_a_gap_is_none() {
        let places = |inner: f64, gap: f64| -> Vec<Flat> {
            (0..6000u64)
                .map(|i| Flat::new(140.0 * uniform(2 * i) - 70.0, 140.0 * uniform(2 * i + 1) - 70.0))
                .filter(|p| (inner..62.5).contains(&p.norm()) && (p.x < 0.0 || p.y.abs() > gap / 2.0))
                .collect()
        };
        let spacing = 140.0 / 6000.0_f64.sqrt();
        let nodes = |core: &[Flat]| around_its_middle(core, core.len() as f64 * spacing * spacing, spacing);
        for node in nodes(&places(37.5, 0.0)).unwrap() {
            assert!((node.norm() - 51.0).abs() < 2.5, "{node}");
        }
        assert!(nodes(&places(0.0, 0.0)).is_none());
        assert!(nodes(&places(37.5, 20.0)).is_none());
    }

    #[test]
    fn what_goes_to_and_fro_is_quieted_and_a_parabola_stays() {
        let parabola: Vec<Flat> = (0..9).map(f64::from).map(|x| Flat::new(x, 0.1 * x * x)).collect();
        for (a, b) in quiet(&parabola, false).iter().zip(&parabola) {
            assert!((a - b).norm() < 1e-12);
        }
        let sway: Vec<Flat> = (0..9)
            .map(|k| Flat::new(f64::from(k), if k % 2 == 0 { 1.0 } else { -1.0 }))
            .collect();
        assert!(quiet(&sway, false)[2..7].iter().all(|p| p.y.abs() < 1e-12));
    }
}
