//! Figures of whole sheets: the angle of a flange, the gap at a seam, a bar, how flat a face is.

use ::compare::Verdict;
use ::compare::verdict::{LEAST_COVERAGE, decide};
use ::features::bar::bar;
use ::features::edge::{Run, Seen};
use ::features::flange::flange;
use ::features::minimum_zone::flatness;
use cloud::held::SmallMotion;
use cloud::statistics::mean;
use cloud::unit::fraction_of_inch;
use cloud::{Point, Vector, thin};

use super::form::Form;
use super::{CheckResult, Detail, Reader, Reading};
use crate::job::CheckAsked;
use crate::stages::compare::RegionResult;

/// How wide a strip along a seam says how the sheets stand there, mm (an inch).
const STRIP_MM: f64 = 25.4;
/// Edges that face each other across more than this are no gap, mm (an inch and a half).
const WIDEST_GAP_MM: f64 = 38.1;
/// Fewest places of which a face is called flat or not.
const FEWEST: usize = 12;

/// How far the sheets stand apart at a seam: the way out, both strips, the step between them on the reference.
type Beside = (Vector, [Vec<u32>; 2], f64);

impl Reader<'_> {
    pub(super) fn angle(&self, asked: &CheckAsked, between: &[String; 2]) -> CheckResult {
        let result = CheckResult::unseen(asked);
        let (Some(a), Some(b)) = (self.region(&between[0]), self.region(&between[1])) else {
            return result;
        };
        let read = flange(
            &asked.name,
            &a.members,
            &b.members,
            &self.scaled.reference,
            &self.scaled.measured,
            &self.setting.reference_from_measured,
        );
        let Some(read) = read else {
            return result;
        };
        let result = CheckResult {
            words: read.words.clone(),
            details: vec![
                Detail {
                    what: "opening at the lip (mm)",
                    value: read.opening_mm,
                    pm: Some(read.opening_pm_mm),
                },
                Detail {
                    what: "width (mm)",
                    value: read.measured_width_mm,
                    pm: None,
                },
                Detail {
                    what: "width on the reference (mm)",
                    value: read.reference_width_mm,
                    pm: None,
                },
            ],
            ..result
        };
        let was: Vec<f64> = read.runs.iter().map(|run| run.reference_deg).collect();
        let result = result.read(mean(&was), read.off_deg, read.pm_deg, asked.limit);
        if read.seen < LEAST_COVERAGE {
            return CheckResult {
                verdict: Verdict::NotMeasured,
                ..result
            };
        }
        result
    }

    /// The gap between the edges of two regions that face each other; what is short of either edge widens it.
    pub(super) fn gap(&self, asked: &CheckAsked, between: &[String; 2]) -> CheckResult {
        let result = CheckResult::unseen(asked);
        let runs = |name: &str| -> Vec<&Run> {
            let of_it = self
                .found
                .edges
                .iter()
                .filter(|e| e.region.as_deref() == Some(name));
            of_it.flat_map(|e| &e.runs).collect()
        };
        let (first, second) = (runs(&between[0]), runs(&between[1]));
        let (mut was, mut off, mut pms) = (Vec::new(), Vec::new(), Vec::new());
        let mut follows = SmallMotion::zeros();
        for run in first {
            let across = second.iter().filter(|other| faces(run, other)).min_by(|a, b| {
                let apart = |r: &Run| (r.middle - run.middle).norm();
                apart(a).total_cmp(&apart(b))
            });
            let Some(other) = across else { continue };
            let (Some((a, pa)), Some((b, pb))) = (self.short_of(run), self.short_of(other)) else {
                continue;
            };
            follows -= self.setting.row_along(&run.middle, &run.outward)
                + self.setting.row_along(&other.middle, &other.outward);
            was.push((other.middle - run.middle).dot(&run.outward));
            off.push(a + b);
            pms.push(pa.hypot(pb));
        }
        if off.is_empty() {
            return CheckResult {
                words: "no two edges of them that face each other were seen".to_string(),
                ..result
            };
        }
        let (was_mm, off_mm) = (mean(&was), mean(&off));
        let now_mm: Vec<f64> = was.iter().zip(&off).map(|(w, o)| w + o).collect();
        let range = |f: fn(f64, f64) -> f64, start: f64| now_mm.iter().copied().fold(start, f);
        let (least, most) = (range(f64::min, f64::INFINITY), range(f64::max, f64::NEG_INFINITY));
        let size = |mm: f64| fraction_of_inch(mm, 32);
        let result = CheckResult {
            words: format!(
                "gap {} ({} as it was), from {} to {}",
                size(was_mm + off_mm),
                size(was_mm),
                size(least),
                size(most)
            ),
            details: vec![Detail {
                what: "from the least to the most (mm)",
                value: most - least,
                pm: None,
            }],
            ..result
        };
        // Runs are their own evidence of the mean, but the spacing is shared by all. The setting takes both sheets along: only
        // how they turn with it tells in the gap.
        let reading = Reading {
            off_mm,
            pm_mm: mean(&pms),
            follows: follows / off.len() as f64,
        };
        self.judged(result, was_mm, &reading, asked.limit)
    }

    /// How short a run of an edge is, and the ± of that without the setting's share, mm; `None` where it was not seen.
    pub(super) fn short_of(&self, run: &Run) -> Option<(f64, f64)> {
        let Seen::Short { mm, pm_mm } = run.seen else {
            return None;
        };
        let of_setting_mm = self.setting.pm_along_mm(&run.middle, &run.outward);
        Some((mm, (pm_mm.powi(2) - of_setting_mm.powi(2)).max(0.0).sqrt()))
    }

    pub(super) fn bar(&self, asked: &CheckAsked, region: &str) -> CheckResult {
        let result = CheckResult::unseen(asked);
        let Some(found) = self.region(region) else {
            return result;
        };
        let read = bar(
            &asked.name,
            &found.members,
            &self.scaled.reference,
            &self.compared.deviations,
            &|at, way| self.setting.pm_along_mm(at, way),
        );
        let Some(bar) = read else {
            return CheckResult {
                words: "too little of it was seen, or it is no bar".to_string(),
                ..result
            };
        };
        let mut details = Vec::new();
        let mut add =
            |what: &'static str, value: f64, pm: Option<f64>| details.push(Detail { what, value, pm });
        let names = ["bow level (mm)", "bow upright (mm)"];
        for (what, bow) in names.into_iter().zip(&bar.bows) {
            if let Some(bow) = bow {
                add(what, bow.mm, Some(bow.pm_mm));
            }
        }
        if let Some(twist) = &bar.twist {
            add("twist (deg)", twist.deg, Some(twist.pm_deg));
            add("twist over its width (mm)", twist.over_width_mm, None);
        }
        if let Some(edge) = &bar.straight_edge {
            add("straight edge (mm)", edge.mm, Some(edge.pm_mm));
        }
        if let Some(ends) = &bar.ends {
            add("first end (mm)", ends[0].moved_mm.norm(), Some(ends[0].pm_mm));
            add("other end (mm)", ends[1].moved_mm.norm(), Some(ends[1].pm_mm));
        }
        let bows = bar.bows.iter().flatten();
        let worst = bows.max_by(|a, b| a.mm.abs().total_cmp(&b.mm.abs()));
        let result = CheckResult {
            words: bar.words.join(", "),
            details,
            bar: Some(bar.clone()),
            ..result
        };
        match worst {
            Some(bow) => {
                let mut result = result.read(0.0, bow.mm, bow.pm_mm, asked.limit);
                // A bar that is twisted by more than its limit over its own width is not straight either.
                if let Some(twist) = &bar.twist {
                    let pm_mm = bar.width_mm * twist.pm_deg.to_radians();
                    let twisted = decide(twist.over_width_mm, pm_mm, asked.limit);
                    result.verdict = Verdict::of_all([result.verdict, twisted]);
                }
                result
            }
            None => result,
        }
    }

    /// How flat the measured face is by itself: minimum zone (ISO 1101), over places that are means of a disc, since single
    /// points would add their noise. Where the reference's face is not flat either it is held against that.
    pub(super) fn flat(&self, asked: &CheckAsked, region: &str) -> CheckResult {
        let result = CheckResult::unseen(asked);
        let Some(found) = self.region(region) else {
            return result;
        };
        let (reference, measured) = (&self.scaled.reference, &self.scaled.measured);
        let disc_mm = self.compared.deviations.disc_mm;
        let of_it: Vec<Point> = found
            .members
            .iter()
            .map(|&i| reference.points()[i as usize])
            .collect();
        let back = self.setting.reference_from_measured.inverse();
        let (mut was, mut is): (Vec<Point>, Vec<Point>) = (Vec::new(), Vec::new());
        for &i in &thin::on_grid(&of_it, 2.0 * disc_mm) {
            let at = of_it[i as usize];
            let normal = reference.normals()[found.members[i as usize] as usize];
            was.extend(mean_place(reference, &at, &normal, disc_mm));
            is.extend(mean_place(
                measured,
                &back.apply(&at),
                &back.turn(&normal),
                disc_mm,
            ));
        }
        if is.len() < FEWEST || was.len() < FEWEST {
            return result;
        }
        let (Some(was), Some(is)) = (flatness(&was), flatness(&is)) else {
            return result;
        };
        // Both ends of the zone rest on the mean of a disc.
        let pm_mm = |spacing_mm: f64, noise_mm: f64| {
            let in_disc = std::f64::consts::PI * (disc_mm / spacing_mm).powi(2);
            1.96 * std::f64::consts::SQRT_2 * noise_mm / in_disc.max(1.0).sqrt()
        };
        let own_pm_mm = pm_mm(measured.spacing_mm, measured.noise_mm);
        let form = Form {
            was_mm: was.zone_mm,
            is_mm: is.zone_mm,
            pm_mm: own_pm_mm,
            off_pm_mm: own_pm_mm.hypot(pm_mm(reference.spacing_mm, reference.noise_mm)),
        };
        let within = format!(
            "flat within {} ({} by least squares)",
            fraction_of_inch(is.zone_mm, 32),
            fraction_of_inch(is.least_squares_mm, 32)
        );
        form.judged(result, [&within, "flatter"], asked.limit)
    }

    /// The strips of two regions on either side of their seam: each within an inch of the other region's metal.
    pub(super) fn beside(&self, a: &RegionResult, b: &RegionResult) -> Option<Beside> {
        let surface = &self.scaled.reference;
        let strip = |of: &RegionResult, other: &RegionResult| -> Vec<u32> {
            let near = |i: u32| {
                let mut found = false;
                surface
                    .near
                    .visit_within(&surface.points()[i as usize], STRIP_MM, |n| {
                        found |= other.members.binary_search(&n.index).is_ok();
                    });
                found
            };
            of.members.iter().copied().filter(|&i| near(i)).collect()
        };
        let strips = [strip(a, b), strip(b, a)];
        if strips.iter().any(|s| s.len() < FEWEST) {
            return None;
        }
        let normals = strips.iter().flatten().map(|&i| surface.normals()[i as usize]);
        let out = normals.sum::<Vector>().try_normalize(1e-9)?;
        let height = |strip: &[u32]| {
            let heights: Vec<f64> = strip
                .iter()
                .map(|&i| out.dot(&surface.points()[i as usize].coords))
                .collect();
            mean(&heights)
        };
        let step_mm = height(&strips[0]) - height(&strips[1]);
        Some((out, strips, step_mm))
    }
}

/// Whether two runs are the two edges of one gap.
fn faces(run: &Run, other: &Run) -> bool {
    let across = other.middle - run.middle;
    let along = (run.to - run.from)
        .try_normalize(1e-9)
        .unwrap_or_else(Vector::zeros);
    run.outward.dot(&other.outward) < -0.7
        && across.norm() < WIDEST_GAP_MM
        && across.dot(&along).abs() < (run.to - run.from).norm()
}

/// The mean place of a disc of a surface along its normal; `None` where too few points lie in it.
pub(super) fn mean_place<F: cloud::Frame>(
    surface: &cloud::Surface<F>,
    at: &Point,
    normal: &Vector,
    disc_mm: f64,
) -> Option<Point> {
    let mut heights = Vec::new();
    surface.near.visit_within(at, disc_mm, |n| {
        let facing = surface.normals()[n.index as usize].dot(normal).abs();
        if facing > 0.5 {
            heights.push((surface.points()[n.index as usize] - at).dot(normal));
        }
    });
    (heights.len() >= 6).then(|| at + normal * mean(&heights))
}
