//! Edges that are off since the sheet that their metal is folded from lies off: how far a flange reaches from its fold follows no
//! setting, so that what fold and edge are off by alike is neither short nor long.
//!
//! The shift of a wall along itself can't be seen on its own face. What can be is the sheet at its root, which faces the way in
//! which the edge ends, or against it: from the edge the wall is followed inward to it, and its own step is told along the edge's
//! outward direction.

use ::features::edge::{EdgeResult, Run, Stretch};
use ::features::shift::HOME_MM;
use cloud::statistics::{mean, median};
use cloud::{Body, Point, Surface, Vector};

use super::List;
use super::brought::{Then, moved_with};
use super::carried::carried_by;
use super::moved::{moved, withheld};
use super::part::Part;
use crate::stages::compare::RegionResult;

/// A wall is followed no farther than this, mm (eight inches: a sill's side; common practice, no source).
const MOST_MM: f64 = 203.2;
/// What is no higher than this is a flange, and moves with its sheet even where it is off by itself as well, mm (two inches).
const FLANGE_MM: f64 = 50.8;
/// It is followed in steps of this, mm (half an inch), …
const STEP_MM: f64 = 12.7;
/// … by what lies as near as this many steps, so that one meets what the next meets too, or this many spacings in a coarse set.
const STEPS: f64 = 1.5;
const SPACINGS: f64 = 3.0;
/// Cosine of how far the sheet at the root may face from the edge's outward direction: 26°.
const ACROSS: f64 = 0.9;
/// Fewest places of that sheet by which a run is told.
const FEWEST: usize = 5;
/// The sheet lies in a region's box or this near to it, mm, and the region looks so far across the edge (a cosine), as about so
/// many of its places say.
const BESIDE_MM: f64 = 5.0;
const LOOKS_SO: f64 = 0.7;
const FACES: usize = 500;
/// About so many runs of a stretch are looked at.
const LOOKED_AT: usize = 8;
/// What the sheet is called that is of no region.
const NAMELESS: &str = "the metal beside it";

/// The sheet at the root of an edge.
struct Root {
    /// A place of it.
    at: Point,
    /// The way in which the edge ends, unit.
    outward: Vector,
    /// How far from the edge it is, mm.
    inward_mm: f64,
    /// How far it has moved the way in which the edge ends, and the ± of that, mm.
    outward_mm: f64,
    pm_mm: f64,
}

/// What comes of a stretch of an edge when the sheet that its metal is folded from is home, and the region of that sheet, or the
/// one that the region comes home with. `None` where the sheet is home, or far off and not what the edge is off by.
pub(super) fn after_root<'a>(
    part: Part<'a>,
    edge: &EdgeResult,
    stretch: &Stretch,
) -> Option<(Then, &'a str)> {
    let runs: Vec<&Run> = stretch.runs.iter().filter_map(|&k| edge.runs.get(k)).collect();
    let step = runs.len().div_ceil(LOOKED_AT).max(1);
    let looked_at = runs.iter().step_by(step);
    let smoothed = &part.compared.smoothed;
    let roots: Vec<Root> = looked_at
        .filter_map(|run| root(run, part.reference, smoothed))
        .collect();
    if 2 * roots.len() < runs.len().div_ceil(step) {
        return None;
    }
    let then = does_to(&roots, stretch)?;
    let name = region_of(part, roots.get(roots.len() / 2)?);
    let carrier = name.and_then(|name| carried_by(part, name));
    Some((then, carrier.or(name).unwrap_or(NAMELESS)))
}

/// What comes of a stretch when its roots are home.
fn does_to(roots: &[Root], stretch: &Stretch) -> Option<Then> {
    let of = |value: fn(&Root) -> f64| mean(&roots.iter().map(value).collect::<Vec<_>>());
    // Metal that has moved the way in which it ends reads as long.
    let outward_mm = of(|root| root.outward_mm);
    let left_mm = (stretch.short_mm + outward_mm).abs();
    let known_mm = HOME_MM.max(stretch.pm_mm.hypot(of(|root| root.pm_mm)));
    let half_mm = stretch.short_mm.abs() / 2.0;
    if left_mm <= known_mm && left_mm < half_mm {
        return Some(Then::Home);
    }
    // A notch beside a sheet that is off by little is a notch.
    let is_flange = of(|root| root.inward_mm) <= FLANGE_MM;
    (is_flange && outward_mm.abs() > known_mm.max(half_mm)).then_some(Then::Moves)
}

/// The region of a sheet: the smallest with it in its box that looks the way in which it does, be it out or in.
fn region_of<'a>(part: Part<'a>, root: &Root) -> Option<&'a str> {
    let normals = part.reference.normals();
    let looks_so = |result: &&RegionResult| {
        let step = result.members.len().div_ceil(FACES).max(1);
        let sum: Vector = result
            .members
            .iter()
            .step_by(step)
            .map(|&i| normals[i as usize])
            .sum();
        let facing = sum.try_normalize(1e-6);
        facing.is_some_and(|facing| facing.dot(&root.outward).abs() > LOOKS_SO)
    };
    let with = part.compared.regions.iter().filter(|result| {
        let around = result.region.bounds.grown(BESIDE_MM);
        around.contains(&root.at)
    });
    let volume = |result: &RegionResult| result.region.bounds.size().product();
    let smallest = with
        .filter(looks_so)
        .min_by(|a, b| volume(a).total_cmp(&volume(b)));
    smallest.map(|result| result.region.name.as_str())
}

/// The sheet that the metal of a run is folded from; `None` where there is none, the metal doesn't go on to it, or it was not
/// seen.
fn root(run: &Run, reference: &Surface<Body>, smoothed: &[Option<(f64, f64)>]) -> Option<Root> {
    let normals = reference.normals();
    let reach_mm = (STEPS * STEP_MM).max(SPACINGS * reference.spacing_mm);
    let steps = (MOST_MM / STEP_MM) as u32;
    for step in 0..=steps {
        let inward_mm = STEP_MM * f64::from(step);
        let place = run.middle - run.outward * inward_mm;
        let (mut goes_on, mut seen) = (false, Vec::new());
        reference.near.visit_within(&place, reach_mm, |near| {
            goes_on = true;
            let k = near.index as usize;
            let faces = normals[k].dot(&run.outward);
            if faces.abs() > ACROSS
                && let Some((mm, pm_mm)) = smoothed.get(k).copied().flatten()
            {
                seen.push((k, mm / faces, pm_mm));
            }
        });
        if seen.len() >= FEWEST {
            let mut outward_mm: Vec<f64> = seen.iter().map(|(_, mm, _)| *mm).collect();
            let mut pm_mm: Vec<f64> = seen.iter().map(|(.., pm_mm)| *pm_mm).collect();
            let (first, ..) = seen.iter().min_by_key(|(k, ..)| *k)?;
            return Some(Root {
                at: reference.points()[*first],
                outward: run.outward,
                inward_mm,
                outward_mm: median(&mut outward_mm),
                pm_mm: median(&mut pm_mm),
            });
        }
        if !goes_on {
            return None;
        }
    }
    None
}

/// Whether what comes home with this region is told in a line of its own: of its move, of its bar, or that it waits.
pub(super) fn told_with(part: Part<'_>, region: &str) -> bool {
    part.found.bent_bar(region)
        || moved(part)
            .chain(withheld(part))
            .any(|one| one.region.name == region)
}

impl List<'_> {
    /// One line for an edge of which stretches are home once the metal beside them is, where no other line tells it.
    pub(super) fn edge_with_its_root(&mut self, edge: &EdgeResult) {
        let part = self.part();
        let mut by_region: Vec<(&str, Vec<&str>)> = Vec::new();
        for stretch in edge.stretches_out() {
            let Some((Then::Home, region)) = moved_with(part, edge, stretch) else {
                continue;
            };
            if told_with(part, region) {
                continue;
            }
            match by_region.iter_mut().find(|(other, _)| *other == region) {
                Some((_, words)) => words.push(stretch.words.as_str()),
                None => by_region.push((region, vec![stretch.words.as_str()])),
            }
        }
        for (region, words) in by_region {
            self.shop(told(&edge.name, &words, region), format!("edges/{}", edge.name));
        }
    }
}

fn told(edge: &str, words: &[&str], region: &str) -> String {
    format!(
        "{edge}: reads {} since the sheet that it is folded from lies off by as much, and its flange is as high as it was: leave it as it is, and measure again when {region} is home",
        words.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::compare::Verdict;
    use ::features::edge::Seen;
    use cloud::Cloud;

    /// A skin in the plane of x and y, and at x = 0 a wall that stands down from it by `high_mm`; points every 4 mm.
    fn walled(high_mm: f64, skin: bool) -> Surface<Body> {
        let mut rows: Vec<(Point, Vector)> = Vec::new();
        for y in 0..25 {
            let y = 4.0 * f64::from(y);
            let wall = (1..).map(|z| -4.0 * f64::from(z)).take_while(|z| *z >= -high_mm);
            rows.extend(wall.map(|z| (Point::new(0.0, y, z), -Vector::x())));
            if skin {
                rows.extend((1..25).map(|x| (Point::new(4.0 * f64::from(x), y, 0.0), Vector::z())));
            }
        }
        let mut cloud = Cloud::from_points(rows.iter().map(|(point, _)| *point).collect());
        cloud.normals = Some(rows.into_iter().map(|(_, normal)| normal).collect());
        Surface::new(cloud, None).unwrap().0
    }

    /// The sheet at the root of the edge of such a wall, where all of the skin is off by so much.
    fn found(high_mm: f64, skin: bool, off_mm: f64) -> Option<Root> {
        let reference = walled(high_mm, skin);
        let off = |normal: &Vector| Some((off_mm * normal.z, 0.1));
        let smoothed: Vec<Option<(f64, f64)>> = reference.normals().iter().map(off).collect();
        let run = Run {
            from: Point::new(0.0, 40.0, -high_mm),
            to: Point::new(0.0, 60.0, -high_mm),
            middle: Point::new(0.0, 50.0, -high_mm),
            outward: -Vector::z(),
            normal: -Vector::x(),
            seen: Seen::NotSeen,
        };
        root(&run, &reference, &smoothed)
    }

    fn stretch(short_mm: f64) -> Stretch {
        Stretch {
            runs: vec![0],
            from: Point::origin(),
            to: Point::new(0.0, 20.0, 0.0),
            length_mm: 20.0,
            short_mm,
            pm_mm: 0.1,
            height_mm: None,
            verdict: Verdict::Outside,
            words: "7/16 long over 22".to_string(),
        }
    }

    #[test]
    fn an_edge_is_neither_long_nor_short_by_what_its_skin_has_moved() {
        for high_mm in [16.0, 148.0] {
            // Down by 10.6: the lower edge reads as long as that, and is as far from its fold as it was.
            let sunk = [found(high_mm, true, -10.6).unwrap()];
            assert!((sunk[0].outward_mm - 10.6).abs() < 1e-9);
            assert_eq!(does_to(&sunk, &stretch(-10.74)), Some(Then::Home));
            // Too long as well: by how much is known once the skin is home.
            let moves = (high_mm < FLANGE_MM).then_some(Then::Moves);
            assert_eq!(does_to(&sunk, &stretch(-13.0)), moves);
            assert_eq!(does_to(&sunk, &stretch(10.74)), moves);
            let raised = [found(high_mm, true, 4.8).unwrap()];
            assert_eq!(does_to(&raised, &stretch(4.7)), Some(Then::Home));
            let home = [found(high_mm, true, 0.0).unwrap()];
            assert_eq!(does_to(&home, &stretch(4.7)), None);
            assert_eq!(does_to(&home, &stretch(1.0)), None);
            let little = [found(high_mm, true, 1.0).unwrap()];
            assert_eq!(does_to(&little, &stretch(10.0)), None);
        }
        assert!(found(148.0, false, -10.6).is_none() && found(400.0, true, -10.6).is_none());
    }

    #[test]
    fn nobody_is_told_to_trim_it() {
        let words = told("rear edge", &["7/16 long over 22"], "skin");
        assert!(
            words.starts_with("rear edge: reads 7/16 long over 22 since the sheet"),
            "{words}"
        );
        assert!(words.ends_with("measure again when skin is home"), "{words}");
        assert!(!words.contains("trim") && !words.contains("weld"), "{words}");
    }
}
