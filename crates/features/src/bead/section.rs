//! The sections across a relief: each is the shared profile, moved, scaled and stretched to fit, on a base line of its own.
//!
//! Fitting the whole profile uses every point of a section, so that a section of fifty points at 4 mm spacing still gives its
//! depth to a twentieth of a millimetre. How the sections scatter gives the ± (Student's t), with what the profile itself
//! leaves open.

use cloud::bisquare::{TUKEY, bisquare};
use cloud::chance::student_t;
use cloud::statistics::{mean, median, robust_spread, standard_deviation};
use rayon::prelude::*;

use super::least::{Row, least_squares};
use super::outline::Midline;
use super::profile::Profile;

/// Length of metal that makes a section, mm: half an inch, or an inch where the points are coarse; six spacings between.
const SHORTEST_MM: f64 = 12.7;
const LONGEST_MM: f64 = 25.4;
const SPACINGS: f64 = 6.0;
/// Fewest and most sections.
const FEWEST: usize = 4;
const MOST: usize = 120;
/// Fewest sections that tell a scatter.
const TELLING: usize = 3;
/// Fewest points of a section: in all, on the relief, and on either base.
const POINTS: usize = 20;
const POINTS_ON: usize = 5;
const POINTS_BESIDE: usize = 3;
/// Rounds in which profile and middle line settle, and steps of one section's fit.
const ROUNDS: usize = 3;
const STEPS: usize = 8;
/// Sections farther off than this many spreads are not counted.
const OUT: f64 = 4.0;

/// A point of the sheet beside the long axis: along, across, height over the base (above 0 on the relief), mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Laid {
    pub along: f64,
    pub across: f64,
    pub height: f64,
}

/// A figure and its ± (half the 95 % band), mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Told {
    pub mm: f64,
    pub pm_mm: f64,
}

/// One section as fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fitted {
    /// Its place along, mm; of a diameter of a round recess its angle, rad.
    pub along: f64,
    /// How far its middle lies across from the middle line, mm.
    pub off: f64,
    pub depth: f64,
    pub width: f64,
}

/// Sections as points (across, height), one after the other.
pub(super) type Cut = Vec<Vec<(f64, f64)>>;

/// What the sections say together.
pub(super) struct Reading {
    pub profile: Profile,
    pub midline: Midline,
    pub sections: Vec<Fitted>,
    pub depth: Told,
    pub width: Told,
    /// ± of the middle line across, mm.
    pub pm_place_mm: f64,
    /// The points as the profile saw them: (across, height), section by section.
    pub cut: Cut,
}

/// Where and how a relief is read across.
#[derive(Debug, Clone, Copy)]
pub(super) struct Course {
    /// From where to where along, mm.
    pub range: [f64; 2],
    /// About how wide, mm.
    pub width_mm: f64,
    /// How far to either side the points go, mm.
    pub reach_mm: f64,
    pub spacing_mm: f64,
    pub midline: Midline,
    pub straight: bool,
}

impl Course {
    /// How many sections it is cut into.
    pub fn count(&self) -> usize {
        let step = (SPACINGS * self.spacing_mm).clamp(SHORTEST_MM, LONGEST_MM);
        (((self.range[1] - self.range[0]) / step) as usize).clamp(FEWEST, MOST)
    }

    /// The points as (across from `midline`, height), section by section.
    pub fn cut(&self, points: &[Laid], midline: &Midline) -> Cut {
        let count = self.count();
        let length = self.range[1] - self.range[0];
        let mut cut = vec![Vec::new(); count];
        for p in points {
            let share = (p.along - self.range[0]) / length;
            if !(0.0..1.0).contains(&share) {
                continue;
            }
            let lean = midline.lean(p.along);
            let across = (p.across - midline.at(p.along)) / lean.hypot(1.0);
            if across.abs() < self.reach_mm {
                cut[((share * count as f64) as usize).min(count - 1)].push((across, p.height));
            }
        }
        cut
    }

    /// Reads the relief. `None` where it has no profile or fewer than three sections show it.
    pub fn read(&self, points: &[Laid]) -> Option<Reading> {
        let length = self.range[1] - self.range[0];
        let mut midline = self.midline;
        let mut last: Option<(Profile, Vec<Fitted>, Cut)> = None;
        for _ in 0..ROUNDS {
            let cut = self.cut(points, &midline);
            let profile = Profile::pooled(&cut.concat(), self.width_mm, self.reach_mm)?;
            let step = length / cut.len() as f64;
            let mut sections: Vec<Fitted> = cut
                .par_iter()
                .enumerate()
                .filter_map(|(k, section)| {
                    let along = self.range[0] + (k as f64 + 0.5) * step;
                    fitted(section, &profile).map(|f| Fitted { along, ..f })
                })
                .collect();
            if sections.len() < TELLING {
                return None;
            }
            let moved = self.line_through(&sections)?;
            for section in &mut sections {
                section.off -= moved.at(section.along);
            }
            midline = midline.and(&moved);
            last = Some((profile, sections, cut));
        }
        let (profile, sections, cut) = last?;
        let figures = |of: fn(&Fitted) -> f64| sections.iter().map(of).collect::<Vec<f64>>();
        let telling = |figures: &[f64], lost: usize, shared_mm: f64| {
            told(figures, lost, shared_mm, profile.scatter_mm, self.spacing_mm)
        };
        let lost = if self.straight { 2 } else { 5 };
        Some(Reading {
            depth: telling(&figures(|s| s.depth), 1, profile.unsure.depth_mm)?,
            width: telling(&figures(|s| s.width), 1, profile.unsure.width_mm)?,
            pm_place_mm: telling(&figures(|s| s.off), lost, profile.unsure.place_mm)?.pm_mm,
            profile,
            midline,
            sections,
            cut,
        })
    }

    /// The line through the sections' middles, those far off left out.
    fn line_through(&self, sections: &[Fitted]) -> Option<Midline> {
        let mut cut = f64::INFINITY;
        let mut line = None;
        // A fourth degree through few sections would only follow their scatter.
        let straight = self.straight || sections.len() < 12;
        for _ in 0..3 {
            let places: Vec<(f64, f64, f64)> = sections
                .iter()
                .map(|s| {
                    let rest = line.map_or(0.0, |l: Midline| s.off - l.at(s.along));
                    (s.along, s.off, bisquare(rest, cut))
                })
                .collect();
            let next = self.midline.through(&places, straight)?;
            let rest: Vec<f64> = sections.iter().map(|s| s.off - next.at(s.along)).collect();
            cut = TUKEY * robust_spread(&rest).max(0.02);
            line = Some(next);
        }
        line
    }
}

/// The mean of the sections' figures and its ±: Student's t on their scatter, with `lost` freedoms gone, the standard
/// uncertainty that they share, and what a profile of points that scatter by `scatter_mm` loses. `None` with fewer than three
/// that agree.
pub(super) fn told(
    figures: &[f64],
    lost: usize,
    shared_mm: f64,
    scatter_mm: f64,
    spacing_mm: f64,
) -> Option<Told> {
    let mut sorted = figures.to_vec();
    let middle = median(&mut sorted);
    let far = OUT * robust_spread(figures).max(1e-6);
    let kept: Vec<f64> = figures
        .iter()
        .copied()
        .filter(|f| (f - middle).abs() <= far)
        .collect();
    let freedoms = kept.len().checked_sub(lost.min(kept.len().saturating_sub(1)))?;
    if kept.len() < TELLING {
        return None;
    }
    let scatter = student_t(0.95, freedoms as f64) * standard_deviation(&kept) / (kept.len() as f64).sqrt();
    // What the medians of the profile lose where it bends: a twentieth of the scatter and a four-hundredth of the spacing
    // held it at every spacing from 0.5 to 4 mm and noise from 0.05 to 0.3 mm.
    let bend = 0.05 * scatter_mm + spacing_mm / 400.0;
    Some(Told {
        mm: mean(&kept),
        pm_mm: scatter.hypot(1.96 * shared_mm).hypot(bend),
    })
}

/// Fits the profile to one section of points (across, height): z = a + b x + s P((x − o)/k), Gauss-Newton with bisquare
/// weights. `None` where the section does not show it; `along` is left at 0.
pub(super) fn fitted(points: &[(f64, f64)], profile: &Profile) -> Option<Fitted> {
    let half = profile.width_mm / 2.0;
    let across = |p: &(f64, f64)| p.0 - profile.middle_mm;
    let left = points.iter().filter(|&p| across(p) < -1.2 * half).count();
    let right = points.iter().filter(|&p| across(p) > 1.2 * half).count();
    let on = points.iter().filter(|&p| across(p).abs() < half).count();
    if points.len() < POINTS || left < POINTS_BESIDE || right < POINTS_BESIDE || on < POINTS_ON {
        return None;
    }
    let (mut offset, mut stretch): (f64, f64) = (0.0, 1.0);
    let still = points.iter().map(|p| {
        let x = across(p);
        (Row::from([1.0, x, profile.at(x), 0.0, 0.0]), p.1, 1.0)
    });
    let mut depth = least_squares(still)?[2];
    let mut weights = vec![1.0; points.len()];
    let reach = 0.5;
    for _ in 0..STEPS {
        let rows: Vec<Row> = points
            .iter()
            .map(|p| {
                let x = across(p);
                let u = (x - offset) / stretch;
                let steep = (profile.at(u + reach) - profile.at(u - reach)) / (2.0 * reach);
                let moves = -depth * steep / stretch;
                Row::from([1.0, x, profile.at(u), moves, moves * u])
            })
            .collect();
        let found = least_squares(
            rows.iter()
                .zip(points)
                .zip(&weights)
                .map(|((row, p), weight)| (*row, p.1, *weight)),
        )?;
        depth = found[2];
        offset += found[3].clamp(-3.0, 3.0);
        stretch += found[4].clamp(-0.1, 0.1);
        if !(0.5..2.0).contains(&stretch) || offset.abs() > half {
            return None;
        }
        let rest: Vec<f64> = rows
            .iter()
            .zip(points)
            .map(|(row, p)| p.1 - row.dot(&found))
            .collect();
        let cut = TUKEY * robust_spread(&rest).max(0.01);
        for (weight, rest) in weights.iter_mut().zip(&rest) {
            *weight = bisquare(*rest, cut);
        }
        if found[3].abs() < 1e-5 && found[4].abs() < 1e-6 {
            break;
        }
    }
    // Where the relief is not there a section fits anything.
    let there = (0.3..3.0).contains(&(depth / profile.depth_mm));
    there.then_some(Fitted {
        along: 0.0,
        off: offset + profile.middle_mm,
        depth,
        width: stretch * profile.width_mm,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    fn cosine(x: f64) -> f64 {
        let t = x / 15.875;
        if t.abs() < 1.0 {
            3.175 * (1.0 + (std::f64::consts::PI * t).cos())
        } else {
            0.0
        }
    }

    /// A bead 600 mm long at 4 mm spacing with 0.1 mm of noise, off by `place` and leaning, as deep as `depth` times 6.35.
    fn bead(place: f64, depth: f64, seed: u64) -> Vec<Laid> {
        (0..5250u64)
            .map(|i| {
                let k = 5 * (i + seed * 10_000);
                let (along, across) = (600.0 * uniform(k), 140.0 * uniform(k + 1) - 70.0);
                let noise = 0.2 * (uniform(k + 2) + uniform(k + 3) + uniform(k + 4) - 1.5);
                let x = across - place - 0.002 * (along - 300.0);
                Laid {
                    along,
                    across,
                    height: depth * cosine(x) + noise,
                }
            })
            .collect()
    }

    fn course() -> Course {
        Course {
            range: [0.0, 600.0],
            width_mm: 18.0,
            reach_mm: 40.0,
            spacing_mm: 4.0,
            midline: Midline::straight(600.0),
            straight: true,
        }
    }

    /// A thirty-second too shallow shows beside its ±, and the figures lie within it nearly always.
    #[test]
    fn depth_place_and_width_of_a_bead_at_four_millimetres_are_right() {
        let (mut inside, mut all) = (0, 0);
        for seed in 0..20 {
            let read = course().read(&bead(1.3, 0.875, seed)).unwrap();
            let depth = 0.875 * 6.35;
            assert!((read.depth.mm - depth).abs() < 0.1, "{}", read.depth.mm);
            assert!(read.depth.pm_mm < 0.1, "{}", read.depth.pm_mm);
            // The line's middle is that of the bead: half of its length is where the along coordinate is 300.
            let place = read.midline.at(300.0);
            assert!((place - 1.3).abs() < 0.12, "{place}");
            assert!((read.midline.lean(300.0) - 0.002).abs() < 0.001);
            for (off, pm) in [
                (read.depth.mm - depth, read.depth.pm_mm),
                (read.width.mm - 15.875, read.width.pm_mm),
                (place - 1.3, read.pm_place_mm),
            ] {
                inside += i32::from(off.abs() <= pm);
                all += 1;
            }
        }
        assert!(inside * 10 >= all * 8, "{inside} of {all}");
    }

    #[test]
    fn a_section_without_the_bead_is_none() {
        let read = course().read(&bead(0.0, 1.0, 1)).unwrap();
        let bare: Vec<(f64, f64)> = (0..200u64)
            .map(|i| (80.0 * uniform(2 * i) - 40.0, 0.2 * uniform(2 * i + 1)))
            .collect();
        assert!(fitted(&bare, &read.profile).is_none());
    }
}
