//! Where the metal ends within a run: from the outermost points, with what the spacing takes from them given back.
//!
//! No point falls on an edge itself. Of points at random that come λ to the millimetre of depth over the whole run, the
//! k-th outermost lies k/λ inside on the average, with a standard deviation of √k/λ (order statistics: David & Nagaraja
//! 2003, Order Statistics, 3rd edition; the depths are a Poisson process). The edge is read from the outermost, as far as
//! it is no stray ([`super::end`]), and where its neighbours go on straight with them ([`super::straight`]); whether there
//! is an edge at all is judged from the second outermost, which one point that is not the sheet's moves by 1/λ at most.
//! Where the points lie in rows along the edge the depth of the first row says nothing, and the edge lies anywhere up to a
//! row's pitch beyond it.

use cloud::statistics::standard_deviation;

use super::end::Strewn;
use super::parts::{part_of, remaining};

/// How far off the reference's edge the other is looked for, mm (an inch).
pub(super) const REACH_MM: f64 = 25.4;
/// Metal goes on across gaps in depth up to this many spacings: what lies beyond a wider one is another sheet.
const GAP: f64 = 2.5;
/// Fewest points of a sheet that is read, and fewest behind its edge that say how dense it is.
const FEWEST: usize = 8;
const FEWEST_BEHIND: usize = 5;
/// Depth behind the edge over which the density is taken: spacings, and not less than mm.
const BEHIND: f64 = 3.0;
const LEAST_BEHIND_MM: f64 = 4.0;
/// An outermost point, or two, that stand off by more than this in units of 1/λ are not the sheet's: once in e⁸.
const ALONE: f64 = 8.0;
/// The outermost of each part of a run must lie within this of the run's edge, in units of 1/λ of the part.
const RAGGED: f64 = 8.0;
/// A deficit of points just inside, against those deeper, of this many standard deviations of one count says that there is
/// no sharp edge, if it would be as much as a sixteenth of an inch of metal.
const THIN: f64 = 4.0;
const LEAST_THIN_MM: f64 = 1.6;
/// How deep the points lie that may say where the edge is, in units of 1/λ, and fewest of them.
const DEEP: f64 = 10.0;
const FEWEST_OUTERMOST: usize = 6;

/// Where the metal of one set ends within a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    /// Outward of the run's line, mm.
    pub mm: f64,
    /// Variance that each run has of its own, mm².
    pub own_mm2: f64,
    /// Variance that the runs of an edge may have in common, mm².
    pub shared_mm2: f64,
    /// By how much the mean of many runs has more variance of that of their own than if none had points in common.
    pub common_runs: f64,
}

/// What a run by itself shows.
#[derive(Debug, Clone)]
pub(super) struct Read {
    /// Where its metal ends.
    pub place: Place,
    /// The points that say so; `None` where they lie in rows or a mesh ends there.
    pub outermost: Option<Outermost>,
}

/// The outermost points of a run's sheet.
#[derive(Debug, Clone)]
pub(super) struct Outermost {
    /// Each (along the run from its middle, outward), mm, the outermost first.
    pub points: Vec<(f64, f64)>,
    /// Where along the run the edge is seen, mm.
    pub from_to_mm: [f64; 2],
    /// How many points come to a millimetre of depth over that length, and the points that say so.
    pub per_mm: f64,
    /// See `per_mm`.
    pub count: f64,
    /// Variance beside that of where points at random end: noise, and an edge that is not straight, mm².
    pub added_mm2: f64,
}

impl Outermost {
    /// Over what length of the run the edge is seen, mm.
    pub fn length_mm(&self) -> f64 {
        self.from_to_mm[1] - self.from_to_mm[0]
    }
}

/// What a reading needs to know of the run and the set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Strip {
    /// Length of the run, mm.
    pub length_mm: f64,
    /// Spacing of the set, mm.
    pub spacing_mm: f64,
    /// Its noise, mm.
    pub noise_mm: f64,
    /// Whether the metal may end at the run's first, last end.
    pub loose: [bool; 2],
}

/// Reads points, each (along the run from its middle, outward), mm. `None` where no sheet ends within an inch or its
/// outermost points make no continuous run.
pub(super) fn of_points(points: &[(f64, f64)], strip: &Strip) -> Option<Read> {
    let mut sorted = points.to_vec();
    sorted.sort_unstable_by(|p, q| q.1.total_cmp(&p.1).then(p.0.total_cmp(&q.0)));
    let sheet = without_strays(sheet_that_ends(&sorted, strip.spacing_mm)?, strip.spacing_mm)?;
    let density = Density::behind(sheet, strip.spacing_mm)?;
    if density.thins_out() {
        return None;
    }
    let row = first_row(sheet, density.per_mm, strip.spacing_mm);
    let stood_mm = match row {
        Some(row) => row.at_mm + row.pitch_mm / 2.0,
        None => sheet[1].1 + 2.0 / density.per_mm,
    };
    let count = ((strip.length_mm / (3.0 * strip.spacing_mm)) as usize).clamp(3, 6);
    let share = count as f64 / density.full_per_mm;
    let tolerance = RAGGED * share + 3.0 * strip.noise_mm + row.map_or(0.0, |r| r.pitch_mm);
    let depths: Vec<f64> = outermost_of_parts(sheet, count, strip.length_mm)
        .into_iter()
        .map(|out| stood_mm - out)
        .collect();
    let seen: Vec<bool> = depths.iter().map(|depth| *depth <= tolerance).collect();
    if seen.contains(&false) {
        let (kept, part, shift_mm) = seen_part(sheet, strip, &seen)?;
        return Some(moved_along(of_points(&kept, &part)?, shift_mm));
    }
    let mut added_mm2 = strip.noise_mm.powi(2) / 2.0;
    // Parts that differ by clearly more than chance: the edge is not straight within the run.
    let scatter = standard_deviation(&depths).powi(2);
    if row.is_none() && scatter > 4.0 * share * share {
        added_mm2 += (scatter - share * share) / count as f64;
    }
    match row {
        Some(row) => Some(Read {
            place: Place {
                mm: stood_mm,
                own_mm2: added_mm2,
                shared_mm2: row.pitch_mm.powi(2) / 12.0,
                common_runs: 1.0,
            },
            outermost: None,
        }),
        None => alone(sheet, strip, &density, added_mm2),
    }
}

/// A run of points at random, from its own.
fn alone(sheet: &[(f64, f64)], strip: &Strip, density: &Density, added_mm2: f64) -> Option<Read> {
    let deepest = sheet.first()?.1 - DEEP / density.per_mm;
    let near = sheet.iter().take_while(|p| p.1 >= deepest).count();
    let outermost = Outermost {
        points: sheet[..near.max(FEWEST_OUTERMOST).min(sheet.len())].to_vec(),
        from_to_mm: [-strip.length_mm / 2.0, strip.length_mm / 2.0],
        per_mm: density.per_mm,
        count: density.count,
        added_mm2,
    };
    let level = Strewn {
        points: outermost.points.clone(),
        lengths_mm: vec![outermost.from_to_mm],
        per_mm2: density.per_mm / strip.length_mm,
    };
    let end = level.end(false)?;
    let place = Place {
        mm: end.mm,
        own_mm2: end.mm2 * (1.0 + 2.0 / density.count) + added_mm2,
        shared_mm2: 0.0,
        common_runs: 1.0,
    };
    Some(Read {
        place,
        outermost: Some(outermost),
    })
}

/// What a part of a run shows, told from the middle of the run, from which the part's lies off by `shift_mm`.
fn moved_along(mut read: Read, shift_mm: f64) -> Read {
    if let Some(outermost) = &mut read.outermost {
        outermost.points.iter_mut().for_each(|p| p.0 += shift_mm);
        outermost.from_to_mm = outermost.from_to_mm.map(|along| along + shift_mm);
    }
    read
}

/// The outermost sheet that begins inside of the reference's edge and ends within reach; a sheet beyond the edge is the
/// next part's, and one that runs on past the reach ends elsewhere.
fn sheet_that_ends(sorted: &[(f64, f64)], spacing_mm: f64) -> Option<&[(f64, f64)]> {
    let gap = GAP * spacing_mm;
    sorted
        .chunk_by(|p, q| p.1 - q.1 <= gap)
        .find(|sheet| {
            let (outermost, innermost) = (sheet[0].1, sheet[sheet.len() - 1].1);
            let deep = outermost - innermost >= 2.0 * spacing_mm;
            sheet.len() >= FEWEST && deep && outermost <= REACH_MM - gap && innermost < -spacing_mm
        })
        .filter(|sheet| sheet[0].1 >= -REACH_MM)
}

/// Leaves out one or two outermost points that stand alone; twice at the most.
fn without_strays(mut sheet: &[(f64, f64)], spacing_mm: f64) -> Option<&[(f64, f64)]> {
    let per_mm = Density::behind(sheet, spacing_mm)?.per_mm;
    for _ in 0..2 {
        let (first, second) = (sheet[0].1 - sheet[1].1, sheet[1].1 - sheet[2].1);
        if first * per_mm > ALONE {
            sheet = &sheet[1..];
        } else if second * per_mm > ALONE {
            sheet = &sheet[2..];
        }
    }
    Some(sheet)
}

/// How many points come to a millimetre of depth.
struct Density {
    /// Just behind the edge.
    per_mm: f64,
    /// The points there.
    count: f64,
    /// As many or more, where the sheet is denser farther in.
    full_per_mm: f64,
    /// Points as much farther in, and the depth of either band, mm.
    deeper: f64,
    band_mm: f64,
}

impl Density {
    /// Behind the third outermost point of a sheet; `None` with too few.
    fn behind(sheet: &[(f64, f64)], spacing_mm: f64) -> Option<Self> {
        let (from, innermost) = (sheet.get(2)?.1, sheet.last()?.1);
        let band_mm = (BEHIND * spacing_mm).max(LEAST_BEHIND_MM).min(from - innermost);
        let within = |near: f64, far: f64| sheet.iter().filter(|p| (far..near).contains(&p.1)).count();
        let count = within(from, from - band_mm);
        let deeper = within(from - band_mm, from - 2.0 * band_mm) as f64;
        (count >= FEWEST_BEHIND && band_mm > 0.0 && sheet.len() >= FEWEST_BEHIND + 3).then(|| Self {
            per_mm: count as f64 / band_mm,
            count: count as f64,
            full_per_mm: deeper.max(count as f64) / band_mm,
            deeper,
            band_mm,
        })
    }

    /// Whether the sheet fades towards its edge, or is cut up there.
    fn thins_out(&self) -> bool {
        let missing = self.deeper - self.count;
        missing > THIN * self.deeper.sqrt() && self.band_mm * missing / self.deeper > LEAST_THIN_MM
    }
}

/// The first of rows along the edge.
#[derive(Debug, Clone, Copy)]
struct Row {
    at_mm: f64,
    pitch_mm: f64,
}

/// The first row, where the outermost points lie in one: at least half of what the pitch holds, all within half the pitch.
fn first_row(sheet: &[(f64, f64)], per_mm: f64, spacing_mm: f64) -> Option<Row> {
    let looked_at = ((per_mm * spacing_mm).ceil() as usize + 3).min(sheet.len() - 1);
    let step = |k: usize| sheet[k].1 - sheet[k + 1].1;
    let last = (0..looked_at).find(|&k| step(k) > spacing_mm / 2.0)?;
    let (count, pitch_mm) = (last + 1, step(last));
    let full = count >= 3 && count as f64 >= per_mm * pitch_mm / 2.0;
    let level = sheet[0].1 - sheet[last].1 <= pitch_mm / 2.0;
    (full && level).then(|| Row {
        at_mm: sheet[..count].iter().map(|p| p.1).sum::<f64>() / count as f64,
        pitch_mm,
    })
}

/// The outermost point of each part of the run; −∞ where a part has none.
fn outermost_of_parts(sheet: &[(f64, f64)], count: usize, length_mm: f64) -> Vec<f64> {
    let mut outermost = vec![f64::NEG_INFINITY; count];
    for (along, out) in sheet {
        let part = &mut outermost[part_of(*along, count, length_mm)];
        *part = part.max(*out);
    }
    outermost
}

/// Points (along, outward), their strip, and how far along the run their middle lies, mm.
type SeenPart = (Vec<(f64, f64)>, Strip, f64);

/// The points of the parts that remain, about their own middle, their strip, and how far along the run their middle lies.
fn seen_part(sheet: &[(f64, f64)], strip: &Strip, seen: &[bool]) -> Option<SeenPart> {
    let (first, last) = remaining(seen, strip.loose)?;
    let part = strip.length_mm / seen.len() as f64;
    let shift = part * ((first + last) as f64 - seen.len() as f64) / 2.0;
    let kept = sheet
        .iter()
        .filter(|(along, _)| (first..last).contains(&part_of(*along, seen.len(), strip.length_mm)))
        .map(|(along, out)| (along - shift, *out));
    let length_mm = part * (last - first) as f64;
    Some((
        kept.collect(),
        Strip {
            length_mm,
            loose: [false; 2],
            ..*strip
        },
        shift,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::statistics::mean;

    fn strip(length_mm: f64, spacing_mm: f64) -> Strip {
        Strip {
            length_mm,
            spacing_mm,
            noise_mm: 0.0,
            loose: [false; 2],
        }
    }

    /// Points at random over a strip from 30 mm outside to 40 mm inside, whose metal ends at `end(along)`.
    fn strewn(strip: &Strip, seed: u64, end: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        let count = (strip.length_mm * 70.0 / strip.spacing_mm.powi(2)) as u64;
        (0..count)
            .map(|i| {
                let k = 2 * (i + seed * 100_003);
                (strip.length_mm * (uniform(k) - 0.5), 30.0 - 70.0 * uniform(k + 1))
            })
            .filter(|(along, out)| *out < end(*along))
            .collect()
    }

    // The spread foretold by order statistics is 1/λ = s²/L: 0.039 s at 1 mm and 0.118 s at 3 mm over an inch.
    #[test]
    fn an_inch_of_edge_is_read_without_bias_and_as_closely_as_the_spacing_lets() {
        for spacing in [1.0, 3.0] {
            let strip = strip(25.4, spacing);
            let (mut offs, mut inside) = (Vec::new(), 0);
            for seed in 0..40 {
                let ours = of_points(&strewn(&strip, seed, |_| 0.0), &strip).unwrap().place;
                let theirs = of_points(&strewn(&strip, seed + 40, |_| -5.5), &strip)
                    .unwrap()
                    .place;
                let pm = 1.96 * (ours.own_mm2 + theirs.own_mm2).sqrt();
                inside += usize::from((ours.mm - theirs.mm - 5.5).abs() <= pm);
                offs.extend([ours.mm / spacing, (theirs.mm + 5.5) / spacing]);
            }
            let expected = spacing / 25.4;
            assert!(mean(&offs).abs() < 0.1, "{spacing}: {}", mean(&offs));
            let spread = standard_deviation(&offs);
            assert!((0.6..1.5).contains(&(spread / expected)), "{spacing}: {spread}");
            assert!(inside >= 34, "{spacing}: {inside} of 40");
        }
    }

    #[test]
    fn points_in_rows_say_no_more_than_their_pitch() {
        let strip = strip(25.4, 2.0);
        let mut offs = Vec::new();
        for phase in 0..20 {
            let first = -2.0 * f64::from(phase) / 20.0;
            let rows =
                (0..13).flat_map(|k| (0..12).map(move |i| (2.1 * f64::from(i) - 11.5, -2.0 * f64::from(k))));
            let rows: Vec<(f64, f64)> = rows.map(|(along, out)| (along, out + first)).collect();
            let found = of_points(&rows, &strip).unwrap().place;
            assert!((found.shared_mm2 - 4.0 / 12.0).abs() < 1e-9 && found.own_mm2 < 1e-9);
            offs.push(found.mm);
        }
        assert!(
            mean(&offs).abs() < 0.1 && standard_deviation(&offs) < 0.7,
            "{offs:?}"
        );
    }

    #[test]
    fn a_lone_point_beyond_the_edge_and_the_next_part_are_not_the_metal() {
        let strip = strip(25.4, 1.0);
        let clean = strewn(&strip, 3, |_| -2.0);
        let place = of_points(&clean, &strip).unwrap().place;
        let mut dirty = clean.clone();
        dirty.push((1.0, -0.5));
        dirty.extend((0..400).map(|i| (25.4 * (uniform(i) - 0.5), 4.0 + 30.0 * uniform(i + 7_000))));
        let found = of_points(&dirty, &strip).unwrap().place;
        assert!(
            (found.mm - place.mm).abs() < 1e-9,
            "{} for {}",
            found.mm,
            place.mm
        );
    }

    #[test]
    fn a_ragged_edge_a_missing_end_and_metal_without_end_are_not_seen() {
        let strip = strip(12.7, 1.0);
        let read = |end: &dyn Fn(f64) -> f64, strip: &Strip| -> usize {
            let seeds = 0..8;
            seeds
                .filter(|seed| of_points(&strewn(strip, *seed, end), strip).is_some())
                .count()
        };
        assert_eq!(read(&|_| 0.0, &strip), 8);
        // Teeth 8 mm deep, one to half an inch.
        assert!(read(&|a| -8.0 * (2.0 * (a / 12.7).abs()), &strip) <= 1);
        // A third of the run has no metal: only where it may end.
        let cut = |a: f64| if a < -2.5 { -40.0 } else { 0.0 };
        assert_eq!(read(&cut, &strip), 0);
        let loose = Strip {
            loose: [true, false],
            ..strip
        };
        assert!(read(&cut, &loose) >= 6);
        assert_eq!(read(&|_| 29.0, &strip), 0);
        assert_eq!(read(&|_| -29.0, &strip), 0);
        assert!(of_points(&[], &strip).is_none());
    }
}
