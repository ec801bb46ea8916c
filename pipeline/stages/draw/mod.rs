//! Draws the pictures: the whole from every view that shows it, and each region from its best side.

mod lines;
mod marks;
mod pointed;
mod sections;

use std::path::Path;

use ::draw::colour::end_mm;
use ::draw::view::{self, View};
use ::draw::{NamedPlace, Picture, Tone};
use cloud::{Bounds, Vector};
use compare::{Region, Verdict};
use rayon::prelude::*;
use record::PictureRecord;
use record::verdict::{DIFFERS, OUT, TOO_CLOSE, WITHHELD, of_the_whole, said};

use super::compare::Compared;
use super::features::Found;
use super::register::Setting;
use super::scale::Scaled;
use super::tabulate::save;
use crate::fill::lies;
use crate::job::Comparison;
use crate::say::file_part;
use crate::trouble::Trouble;
use crate::work::Part;

/// How much of the metal around a region is drawn with it, mm (an inch and a half).
const AROUND_MM: f64 = 38.1;

/// Pictures: what is on record of each, and its PNG.
type Pictures = Vec<(PictureRecord, Vec<u8>)>;

/// What a picture is of.
enum Subject<'a> {
    Whole(View),
    Region(&'a Region, &'a [u32], Verdict, String),
}

/// The file of the picture of the whole from a view.
pub fn file_of_whole(view: &View) -> String {
    format!("heat-{}.png", view.short)
}

/// Draws every picture into `folder` and tells what each shows.
pub fn draw(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    compared: &Compared,
    found: &Found,
    folder: &Path,
) -> Result<Vec<PictureRecord>, Trouble> {
    let reference = &scaled.reference;
    let tones: Vec<Tone> = compared
        .deviations
        .states
        .par_iter()
        .zip(&compared.smoothed)
        .map(|(state, smoothed)| Tone::of(state, *smoothed))
        .collect();
    let part = Part {
        reference,
        compared,
        found,
    };
    let views = view::showing(reference.normals());
    let mut subjects: Vec<Subject<'_>> = views.iter().copied().map(Subject::Whole).collect();
    let wholes = subjects.len();
    for (region, shift) in compared.regions.iter().zip(&found.shifts) {
        if region.members.len() >= 30 {
            let words = shift.as_ref().map_or(String::new(), |shift| {
                lies::words(part, region, shift, comparison)
            });
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
        views: &views,
    };
    let drawn: Vec<Result<_, Trouble>> = subjects.par_iter().map(|s| sheet.one(s)).collect();
    let mut drawn = drawn.into_iter().collect::<Result<Vec<_>, _>>()?;
    // The first is shown where there is room for one only: so of the whole the sides that show what is off come first.
    drawn[..wholes].sort_by_key(|(_, _, is_seen)| !is_seen);
    let sections: Vec<Result<Pictures, Trouble>> =
        found.sections.par_iter().map(|s| sheet.sections(s)).collect();
    let mut all: Pictures = drawn.into_iter().map(|(told, png, _)| (told, png)).collect();
    for section in sections {
        all.extend(section?);
    }
    let mut told = Vec::new();
    for (picture, png) in all {
        save(&folder.join(&picture.file), &png)?;
        told.push(picture);
    }
    Ok(told)
}

/// What all pictures of a comparison share.
struct Sheet<'a> {
    comparison: &'a Comparison,
    scaled: &'a Scaled,
    setting: &'a Setting,
    compared: &'a Compared,
    found: &'a Found,
    tones: &'a [Tone],
    /// The views of the whole that are drawn.
    views: &'a [View],
}

impl Sheet<'_> {
    /// The picture of a subject, and whether what it is about is seen in it.
    fn one(&self, subject: &Subject<'_>) -> Result<(PictureRecord, Vec<u8>, bool), Trouble> {
        let reference = &self.scaled.reference;
        let reference_set = &self.comparison.reference;
        let against = match self.comparison.mirror {
            true => "its mirror image".to_string(),
            false => record::called(&reference_set.name, reference_set.mirrored),
        };
        let sets = format!("{} against {against}", self.comparison.measured.name);
        let everything: Vec<u32>;
        let own_tones: Vec<Tone>;
        let mut elsewhere = "";
        let (name, title, subtitle, view, drawn, tones, frame, limit_mm, marks, lines, arrows, places, aside);
        match subject {
            Subject::Whole(whole) => {
                name = file_of_whole(whole);
                let said = self.said(self.compared.verdict.max_with(self.found));
                elsewhere = if [OUT, DIFFERS, TOO_CLOSE].contains(&said) {
                    "nothing of it is seen from this side"
                } else {
                    ""
                };
                title = format!("{}: {}", self.comparison.name, of_the_whole(said));
                subtitle = format!("{sets}, seen {}", whole.name);
                view = *whole;
                everything = (0..reference.points().len() as u32).collect();
                drawn = everything.as_slice();
                tones = self.tones;
                frame = reference.cloud.bounds();
                limit_mm = self.limit_of_whole();
                marks = self.marks_of_whole(whole);
                lines = self.lines();
                arrows = Vec::new();
                places = self.named_places();
                aside = reference.sides_known;
            }
            Subject::Region(region, members, verdict, words) => {
                name = format!("heat-region-{}.png", file_part(&region.name));
                let words = if words.is_empty() {
                    String::new()
                } else {
                    format!(", {words}")
                };
                title = format!("{}: {}{words}", region.name, self.said(*verdict));
                let seen_from = view::best(members.iter().map(|&i| reference.normals()[i as usize]));
                // A flange that stands upright is laid along the sheet.
                let box_of_it = Bounds::of(members.iter().map(|&i| &reference.points()[i as usize]));
                view = if box_of_it.is_some_and(|b| seen_from.is_tall(&b)) {
                    seen_from.laid_down()
                } else {
                    seen_from
                };
                subtitle = format!("{}: {sets}, seen {}", self.comparison.name, view.name);
                let around = region.bounds.grown(AROUND_MM);
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
                frame = box_of_it.map(|b| b.grown(room_mm(&b, &view)));
                limit_mm = region.limit_mm;
                marks = self.marks_of_region(region, members);
                lines = self.lines_within(&around);
                arrows = self.arrows_of_region(region, &view);
                places = Vec::new();
                aside = true;
            }
        }
        let Some(frame) = frame else {
            return Err(Trouble::new(format!("{}: nothing to draw", self.comparison.name)));
        };
        let mut picture = Picture {
            title,
            subtitle,
            elsewhere: elsewhere.to_string(),
            set_by: self.set_by(),
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
            end_mm: end_mm(limit_mm),
            marks,
            lines,
            arrows,
            places,
            aside,
        };
        let in_lengths = picture.in_lengths();
        if !in_lengths.is_empty() {
            picture.subtitle = format!("{}, {in_lengths}", picture.subtitle);
        }
        let caption = format!("{}. {}", picture.title, picture.subtitle);
        let (png, is_seen) = picture.png().map_err(|e| Trouble::system("drawing", &e))?;
        let caption = match is_seen {
            true => format!("{caption}."),
            false => format!("{caption}; {elsewhere}."),
        };
        let told = PictureRecord { file: name, caption };
        Ok((told, png, is_seen))
    }

    /// The named places that were seen, where they are on the reference.
    fn named_places(&self) -> Vec<NamedPlace> {
        let places = self.found.places.iter();
        places
            .map(|place| NamedPlace {
                name: place.name.clone(),
                at: place.reference,
            })
            .collect()
    }

    /// What a verdict is called, as on every page; none is given while a question is open.
    fn said(&self, verdict: Verdict) -> &'static str {
        if self.compared.open.is_empty() {
            said(verdict.word(), self.comparison.against_image())
        } else {
            WITHHELD
        }
    }

    /// What it was set by. Where a mirror plane lies in numbers stands in result.json.
    fn set_by(&self) -> String {
        let words = &self.setting.words;
        let image = words.split_once(" in the plane ").zip(words.rsplit_once(", "));
        match image {
            Some(((image, _), (_, found_by))) if self.comparison.mirror => {
                format!("set by {image}, {found_by}")
            }
            _ => format!("set by {words}"),
        }
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
            short(&self.scaled.reference_from.print.sha256),
            short(&self.scaled.measured_from.print.sha256)
        )
    }
}

/// What is shown beyond a region's box on every side, mm: little of a narrow one, or it would be a thread on a bare sheet.
fn room_mm(bounds: &Bounds, view: &View) -> f64 {
    let along = |direction: &Vector| direction.abs().dot(&bounds.size());
    let narrow = along(&view.right).min(along(&view.up));
    0.04 * bounds.diagonal().min(8.0 * narrow)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The legends of pictures take their words from the verdict itself, everything else from the record's.
    #[test]
    fn pictures_and_records_have_one_set_of_words() {
        for verdict in [
            Verdict::Within,
            Verdict::Outside,
            Verdict::TooClose,
            Verdict::NotMeasured,
        ] {
            assert_eq!(said(verdict.word(), false), verdict.words());
        }
    }
}
