//! Draws the pictures: the whole from every view that shows it, and each region from its best side.

use std::path::Path;

use ::draw::view::{self, View};
use ::draw::{Mark, Picture, Tone};
use cloud::unit::fraction_of_inch;
use cloud::{Bounds, Point, Vector};
use compare::figures::sure_enough;
use compare::{Region, Verdict};
use rayon::prelude::*;

use super::compare::Compared;
use super::features::Found;
use super::register::Setting;
use super::scale::Scaled;
use super::tabulate::save;
use crate::job::Comparison;
use crate::trouble::Trouble;

/// The ends of the ramp, in limits.
const ENDS: f64 = 4.0;
/// Most spots that are pointed at in one picture.
const MOST_MARKS: usize = 5;
/// How much of the metal around a region is drawn with it, mm (an inch and a half).
const AROUND_MM: f64 = 38.1;

/// What a picture is of.
enum Subject<'a> {
    Whole(View),
    Region(&'a Region, &'a [u32], Verdict, String),
}

/// Draws every picture into `folder` and gives their names.
pub fn draw(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    compared: &Compared,
    found: &Found,
    folder: &Path,
) -> Result<Vec<String>, Trouble> {
    let reference = &scaled.reference;
    let tones: Vec<Tone> = compared
        .deviations
        .states
        .par_iter()
        .zip(&compared.smoothed)
        .map(|(state, smoothed)| Tone::of(state, *smoothed))
        .collect();
    let mut subjects: Vec<Subject<'_>> = view::showing(reference.normals())
        .into_iter()
        .map(Subject::Whole)
        .collect();
    for (region, shift) in compared.regions.iter().zip(&found.shifts) {
        if region.members.len() >= 30 {
            let fold = found.folds.iter().find(|f| f.name == region.region.name);
            let words = match (fold, shift) {
                (Some(fold), _) => format!("fold {}", fold.words),
                (None, Some(shift)) => shift.words.clone(),
                (None, None) => String::new(),
            };
            subjects.push(Subject::Region(
                &region.region,
                &region.members,
                region.verdict,
                words,
            ));
        }
    }
    let sheet = Sheet {
        comparison,
        scaled,
        setting,
        compared,
        found,
        tones: &tones,
    };
    let pictures: Vec<Result<(String, Vec<u8>), Trouble>> =
        subjects.par_iter().map(|s| sheet.one(s)).collect();
    let mut names = Vec::new();
    for picture in pictures {
        let (name, png) = picture?;
        save(&folder.join(&name), &png)?;
        names.push(name);
    }
    Ok(names)
}

/// What all pictures of a comparison share.
struct Sheet<'a> {
    comparison: &'a Comparison,
    scaled: &'a Scaled,
    setting: &'a Setting,
    compared: &'a Compared,
    found: &'a Found,
    tones: &'a [Tone],
}

impl Sheet<'_> {
    fn one(&self, subject: &Subject<'_>) -> Result<(String, Vec<u8>), Trouble> {
        let reference = &self.scaled.reference;
        let sets = format!(
            "{} against {}",
            self.comparison.measured.name, self.comparison.reference.name
        );
        let everything: Vec<u32>;
        let own_tones: Vec<Tone>;
        let (name, title, subtitle, view, drawn, tones, frame, limit_mm, marks, aside);
        match subject {
            Subject::Whole(whole) => {
                name = format!("heat-{}.png", whole.short);
                title = format!(
                    "{}: {}",
                    self.comparison.name,
                    verdict_of_whole(self.compared.verdict.0)
                );
                subtitle = format!("{sets}, seen {}", whole.name);
                view = *whole;
                everything = (0..reference.points().len() as u32).collect();
                drawn = everything.as_slice();
                tones = self.tones;
                frame = reference.cloud.bounds();
                limit_mm = self.limit_of_whole();
                marks = self.marks_of_whole(whole);
                aside = reference.sides_known;
            }
            Subject::Region(region, members, verdict, words) => {
                name = format!("heat-region-{}.png", file_part(&region.name));
                let words = if words.is_empty() {
                    String::new()
                } else {
                    format!(", {words}")
                };
                title = format!("{}: {}{words}", region.name, verdict.words());
                view = view::best(members.iter().map(|&i| reference.normals()[i as usize]));
                subtitle = format!("{}: {sets}, seen {}", self.comparison.name, view.name);
                let around = grown(&region.bounds, AROUND_MM);
                everything = (0..reference.points().len() as u32)
                    .filter(|&i| around.contains(&reference.points()[i as usize]))
                    .collect();
                drawn = everything.as_slice();
                let mut mine = vec![Tone::Aside; self.tones.len()];
                for &i in *members {
                    mine[i as usize] = self.tones[i as usize];
                }
                own_tones = mine;
                tones = own_tones.as_slice();
                frame = Bounds::of(members.iter().map(|&i| &reference.points()[i as usize]))
                    .map(|b| grown(&b, 0.04 * b.diagonal()));
                limit_mm = region.limit_mm;
                marks = self.marks_of_region(region, members);
                aside = true;
            }
        }
        let Some(frame) = frame else {
            return Err(Trouble::new(format!("{}: nothing to draw", self.comparison.name)));
        };
        let picture = Picture {
            title,
            subtitle,
            set_by: format!("set by {}", self.setting.words),
            footer: self.footer(),
            points: reference.points(),
            normals: reference.normals(),
            tones,
            drawn,
            frame,
            spacing_mm: reference.spacing_mm,
            sides_known: reference.sides_known,
            view,
            limit_mm,
            end_mm: ENDS * limit_mm,
            marks,
            aside,
        };
        let png = picture.png().map_err(|e| Trouble::system("drawing", &e))?;
        Ok((name, png))
    }

    /// The limit of the whole: that of the comparison, or of its regions where they all have one.
    fn limit_of_whole(&self) -> f64 {
        let mut limits = self.compared.regions.iter().map(|r| r.region.limit_mm);
        match limits.next() {
            Some(first) if limits.all(|l| l == first) => first,
            _ => self.comparison.limit_mm,
        }
    }

    fn footer(&self) -> String {
        let short = |sha: &str| sha.chars().take(12).collect::<String>();
        format!(
            "Positions only; figures hold to their ±. witnessmark {} · reference {} · measured {}",
            env!("CARGO_PKG_VERSION"),
            short(&self.scaled.reference_from.source.sha256),
            short(&self.scaled.measured_from.source.sha256)
        )
    }

    /// What was read at holes, recesses and folds, then the worst spot of each region that is not in; without regions the
    /// worst spots of the whole.
    fn marks_of_whole(&self, view: &View) -> Vec<Mark> {
        let reference = &self.scaled.reference;
        let mut marks = self.marks_of_features();
        if self.compared.regions.is_empty() {
            let all: Vec<u32> = (0..reference.points().len() as u32).collect();
            let spots = self.spots(&all, self.comparison.limit_mm, MOST_MARKS, Some(view));
            marks.extend(spots.into_iter().map(|choice| Mark {
                choices: vec![choice],
                hidden_too: false,
            }));
            return marks;
        }
        let mut of_regions: Vec<(f64, Mark)> = Vec::new();
        for r in &self.compared.regions {
            let told_as_fold = self.found.folds.iter().any(|f| f.name == r.region.name);
            if r.verdict == Verdict::Within || told_as_fold {
                continue;
            }
            let mut choices = self.spots(&r.members, r.region.limit_mm, 8, Some(view));
            for (_, lines) in &mut choices {
                lines.push(r.region.name.clone());
            }
            if let Some(s) = &r.figures.spread {
                of_regions.push((
                    s.max_mm.abs().max(s.min_mm.abs()),
                    Mark {
                        choices,
                        hidden_too: false,
                    },
                ));
            }
        }
        of_regions.sort_by(|a, b| b.0.total_cmp(&a.0));
        marks.extend(of_regions.into_iter().take(MOST_MARKS + 2).map(|m| m.1));
        marks
    }

    /// Holes, recesses and folds that are not in.
    fn marks_of_features(&self) -> Vec<Mark> {
        let mut marks = Vec::new();
        let mut add = |at: Point, lines: Vec<String>| {
            marks.push(Mark {
                choices: vec![(at, lines)],
                hidden_too: true,
            });
        };
        for r in self
            .found
            .recesses
            .iter()
            .filter(|r| r.verdict != Verdict::Within)
        {
            let mut lines = vec![r.pair.name.clone()];
            lines.extend(
                r.pair
                    .words
                    .iter()
                    .take(3)
                    .map(|w| w.split(';').next().unwrap_or(w).to_string()),
            );
            add(r.pair.reference.at, lines);
        }
        for h in self.found.holes.iter().filter(|h| h.verdict != Verdict::Within) {
            let size = |mm: f64| fraction_of_inch(mm, 32);
            let (line, at) = match (&h.pair.reference, &h.pair.measured) {
                (Some(ours), Some(theirs)) => (
                    format!(
                        "{} in for {} in",
                        size(theirs.diameter_mm),
                        size(ours.diameter_mm)
                    ),
                    // Beside the hole: in its middle there is no metal to point at.
                    ours.at,
                ),
                (Some(ours), None) => ("missing".to_string(), ours.at),
                (None, Some(theirs)) => (format!("extra, {} in", size(theirs.diameter_mm)), theirs.at),
                (None, None) => continue,
            };
            add(at, vec![h.pair.name.clone(), line]);
        }
        for fold in self.found.folds.iter().filter(|f| f.verdict != Verdict::Within) {
            if let Some(r) = self.compared.regions.iter().find(|r| r.region.name == fold.name) {
                let middle = r.region.bounds.centre();
                let nearest = r
                    .members
                    .iter()
                    .map(|&i| self.scaled.reference.points()[i as usize])
                    .min_by(|a, b| {
                        (a - middle)
                            .norm_squared()
                            .total_cmp(&(b - middle).norm_squared())
                    });
                if let Some(at) = nearest {
                    add(at, vec![fold.name.clone(), fold.words.clone()]);
                }
            }
        }
        marks
    }

    fn marks_of_region(&self, region: &Region, members: &[u32]) -> Vec<Mark> {
        let shift = self
            .compared
            .regions
            .iter()
            .position(|r| r.region.name == region.name)
            .and_then(|k| self.found.shifts[k].as_ref());
        let pads = shift.map_or(&[][..], |s| &s.pads);
        // Where pads give the answer, one spot is enough beside them.
        let most = if pads.is_empty() { 3 } else { 1 };
        let mut marks: Vec<Mark> = self
            .spots(members, region.limit_mm, most, None)
            .into_iter()
            .map(|choice| Mark {
                hidden_too: false,
                choices: vec![choice],
            })
            .collect();
        marks.extend(pads.iter().map(|pad| Mark {
            hidden_too: true,
            choices: vec![(pad.at, vec![pad.words.clone(), format!("pad {}", pad.name)])],
        }));
        marks
    }

    /// Up to `most` spots that are farthest off and lie apart, each with its figure.
    fn spots(
        &self,
        members: &[u32],
        limit_mm: f64,
        most: usize,
        view: Option<&View>,
    ) -> Vec<(Point, Vec<String>)> {
        let reference = &self.scaled.reference;
        let toward = view.map(View::toward);
        let mut order: Vec<(f64, u32)> = members
            .iter()
            .filter(|&&i| {
                // Only metal that faces the looker, where it is known which side is out.
                toward.is_none_or(|t| {
                    let cosine = reference.normals()[i as usize].dot(&t);
                    cosine > 0.3 || (!reference.sides_known && cosine < -0.3)
                })
            })
            .filter_map(|&i| {
                let (mm, pm) = self.compared.smoothed[i as usize]?;
                sure_enough(pm, limit_mm).then_some((mm, i))
            })
            .collect();
        order.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()).then(a.1.cmp(&b.1)));
        let apart = Bounds::of(members.iter().map(|&i| &reference.points()[i as usize]))
            .map_or(0.0, |b| b.diagonal() / 5.0);
        let mut chosen: Vec<(f64, u32)> = Vec::new();
        for (mm, i) in order {
            // After the worst, only what is out is worth pointing at.
            if chosen.len() == most || (!chosen.is_empty() && mm.abs() <= limit_mm) {
                break;
            }
            let at = reference.points()[i as usize];
            if chosen
                .iter()
                .all(|(_, j)| (reference.points()[*j as usize] - at).norm() > apart)
            {
                chosen.push((mm, i));
            }
        }
        chosen
            .into_iter()
            .map(|(mm, i)| (reference.points()[i as usize], vec![figure(mm)]))
            .collect()
    }
}

/// `+3/16 in (+4.8 mm)`, with a real minus: the hyphen of a mixed number is none.
fn figure(mm: f64) -> String {
    let inches = fraction_of_inch(mm, 32);
    let sign = if mm < 0.0 { "−" } else { "+" };
    let sign_in = if inches == "0" { "" } else { sign };
    format!("{sign_in}{inches} in ({sign}{:.1} mm)", mm.abs())
}

fn verdict_of_whole(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "all within the limit",
        Verdict::Outside => "OUT of the limit in places",
        Verdict::TooClose => "too close to call in places",
        Verdict::NotMeasured => "not all measured",
    }
}

fn grown(bounds: &Bounds, by_mm: f64) -> Bounds {
    Bounds {
        low: bounds.low - Vector::repeat(by_mm),
        high: bounds.high + Vector::repeat(by_mm),
    }
}

/// A name as part of a file's name.
fn file_part(name: &str) -> String {
    name.chars()
        .map(|c| if c.is_alphanumeric() || c == '-' { c } else { '-' })
        .collect()
}
