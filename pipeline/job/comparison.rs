//! Comparisons as declared: which sets, set by what, and what is asked for, of the names that the job has declared.

use compare::{Region, Status};

use super::check::Known;
use super::file::{Faults, did_you_mean};
use super::mirrored::{from_the_other_side, refuse_originals};
use super::named::{refuse_setting, refuse_without_points};
use super::regions::{STATUSES, one_of, refuse_odd_name};
use super::section::Section;
use super::{Asked, CheckAsked, Comparison, QUESTIONS, Set, usual_setting};
use crate::cli::SetBy;

/// What a set can be set by.
const SETTINGS: [SetBy; 6] = [
    SetBy::LeftAlone,
    SetBy::Points,
    SetBy::Order,
    SetBy::Holes,
    SetBy::AllOver,
    SetBy::AsIs,
];

impl Known<'_> {
    /// Checks a `[[comparison]]`; `None` where something in it is missing, which has been noted then.
    pub fn comparison(&self, mut section: Section<'_, '_>, faults: &mut Faults<'_>) -> Option<Comparison> {
        let name = section.needed_text("name", faults);
        if let Some((name, span)) = &name {
            section.title = format!("[[comparison]] \"{name}\"");
            refuse_odd_name(name, span, faults);
        }
        let measured = self.set_of("measured", true, &mut section, faults);
        let mirrored = section.flag("mirror", faults).unwrap_or(false);
        let reference = self.reference_of(mirrored, measured.as_ref(), &mut section, faults);
        let mirror = mirrored && section.take("reference").is_none();
        let repeat = self.set_of("repeat", false, &mut section, faults);
        let set_by = one_of(&mut section, "set_by", &SETTINGS.map(|s| (s.word(), s)), faults);
        let limit = section.length_mm("limit", faults);
        let reach_mm = section.length_mm("reach", faults).unwrap_or(self.reach_mm);
        let regions = self.regions_of(&mut section, limit, faults);
        let named = self.named_of(&mut section, faults);
        let region_names: Vec<&str> = regions.iter().map(|r| r.name.as_str()).collect();
        let asked = self.asked_of(&mut section, &region_names, faults);
        let held = self.set_of("held", false, &mut section, faults);
        let originals = self.originals_of(&mut section, faults);
        let answered = known_names(&mut section, "answered", &QUESTIONS, "question", faults);
        let any_named = named.points.is_some() || named.holes.is_some();
        let set_by = set_by.unwrap_or_else(|| usual_setting(&regions, any_named));
        let span = section.span().clone();
        refuse_setting(set_by, mirror, &named, &section, faults);
        if set_by == SetBy::LeftAlone && !regions.iter().any(|r| r.status == Status::Kept) {
            faults.add(
                &span,
                format!(
                    "{} is set by what was left alone, but no region of it is kept",
                    section.title
                ),
            );
        }
        if mirrored && !mirror {
            refuse_originals(&originals, &section, faults);
        }
        let title = section.title.clone();
        section.end(faults);
        let comparison = Comparison {
            name: name?.0,
            reference: reference?,
            measured: measured?,
            mirror,
            repeat,
            set_by,
            points: named.points,
            datum_holes: named.holes,
            regions,
            asked,
            held,
            originals,
            answered,
            limit_mm: limit.unwrap_or(self.limit_mm),
            reach_mm,
        };
        let others = || comparison.held.iter().chain(&comparison.originals);
        let twice =
            others().find(|set| [&comparison.measured.name, &comparison.reference.name].contains(&&set.name));
        if let Some(set) = twice {
            faults.add(
                &span,
                format!(
                    "{title}: the set \"{}\" is its reference or its measured set already; name another under \"held\" or \"originals\"",
                    set.name
                ),
            );
        }
        let others = comparison.repeat.iter().chain(others());
        refuse_without_points(&comparison, others, &title, &span, faults);
        let faces = (comparison.measured.face, comparison.reference.face);
        if matches!(faces, (Some(a), Some(b)) if a != b) && comparison.face_shift_mm().is_none() {
            faults.add(
                &span,
                format!(
                    "{title}: the sets \"{}\" and \"{}\" show different faces of the sheet, so its thickness is needed: give \"gauge\" in [[set]] \"{}\"",
                    comparison.reference.name, comparison.measured.name, comparison.measured.name
                ),
            );
        }
        Some(match mirrored && !mirror {
            true => from_the_other_side(comparison),
            false => comparison,
        })
    }

    /// The reference: another set, or the measured one where `mirrored` has no other to be said of.
    fn reference_of(
        &self,
        mirrored: bool,
        measured: Option<&Set>,
        section: &mut Section<'_, '_>,
        faults: &mut Faults<'_>,
    ) -> Option<Set> {
        let given = section.take("reference").map(|value| value.span());
        if mirrored && given.is_none() {
            return measured.cloned();
        }
        let reference = self.set_of("reference", true, section, faults)?;
        let itself = measured.is_some_and(|set| set.name == reference.name);
        if let Some(span) = given.filter(|_| mirrored && itself) {
            faults.add(
                &span,
                format!(
                    "{} is held against its own mirror image, so it has no \"reference\"; take it out, or name the set of the other side",
                    section.title
                ),
            );
        }
        Some(reference)
    }

    /// What a comparison asks for besides the deviation.
    fn asked_of(&self, section: &mut Section<'_, '_>, regions: &[&str], faults: &mut Faults<'_>) -> Asked {
        let of_this = "region of this comparison";
        let folds = known_names(section, "folds", regions, of_this, faults);
        let beads = known_names(section, "beads", regions, of_this, faults);
        let known: Vec<&str> = self.recesses.iter().map(|r| r.name.as_str()).collect();
        let recesses = known_names(section, "recesses", &known, "recess", faults);
        let known: Vec<&str> = self.sections.iter().map(|s| s.name.as_str()).collect();
        let sections = known_names(section, "sections", &known, "section", faults);
        let shell = section.flag("shell", faults).unwrap_or(false);
        if shell && self.shell.is_none() {
            faults.add(
                section.span(),
                format!(
                    "{} asks for the shell's figures, but there is no table [shell] that names the places",
                    section.title
                ),
            );
        }
        Asked {
            folds,
            recesses: chosen(&self.recesses, &recesses, |r| &r.name),
            beads,
            checks: self.checks_of(section, regions, faults),
            sections: chosen(&self.sections, &sections, |s| &s.name),
            shell: self.shell.clone().filter(|_| shell),
            places: self.places.clone(),
            holes: section.flag("holes", faults).unwrap_or(false),
            edges: section.flag("edges", faults).unwrap_or(false),
        }
    }

    /// The sets of other originals.
    fn originals_of(&self, section: &mut Section<'_, '_>, faults: &mut Faults<'_>) -> Vec<Set> {
        let known: Vec<&str> = self.sets.keys().map(String::as_str).collect();
        let names = known_names(section, "originals", &known, "set", faults);
        names
            .iter()
            .filter_map(|name| self.sets.get(name))
            .cloned()
            .collect()
    }

    /// The checks of a comparison; the regions that they need must be regions of the comparison.
    fn checks_of(
        &self,
        section: &mut Section<'_, '_>,
        regions: &[&str],
        faults: &mut Faults<'_>,
    ) -> Vec<CheckAsked> {
        let known: Vec<&str> = self.checks.iter().map(|c| c.name.as_str()).collect();
        let names = known_names(section, "checks", &known, "check", faults);
        let checks = chosen(&self.checks, &names, |c| &c.name);
        for check in &checks {
            for region in check.kind.regions().into_iter().filter(|r| !regions.contains(r)) {
                faults.add(
                    section.span(),
                    format!(
                        "the check \"{}\" in {} needs the region \"{region}\"; list it under kept, worked, new or unsure",
                        check.name, section.title
                    ),
                );
            }
        }
        checks
    }

    pub(super) fn set_of(
        &self,
        key: &'static str,
        needed: bool,
        section: &mut Section<'_, '_>,
        faults: &mut Faults<'_>,
    ) -> Option<Set> {
        let (name, span) = if needed {
            section.needed_text(key, faults)?
        } else {
            section.text(key, faults)?
        };
        let set = self.sets.get(&name);
        if set.is_none() {
            let hint = did_you_mean(&name, self.sets.keys().map(String::as_str));
            faults.add(
                &span,
                format!("\"{key}\" in {}: there is no set \"{name}\"{hint}", section.title),
            );
        }
        set.cloned()
    }

    /// The regions of a comparison with the status that it gives them: those it lists under `kept`, `worked`, `new` and
    /// `unsure`; all of the job's where it lists none.
    fn regions_of(
        &self,
        section: &mut Section<'_, '_>,
        limit: Option<f64>,
        faults: &mut Faults<'_>,
    ) -> Vec<Region> {
        let names: Vec<&str> = self.regions.iter().map(|r| r.name.as_str()).collect();
        let mut listed: Vec<(String, Status)> = Vec::new();
        let mut any = false;
        for status in STATUSES {
            let key = status.word();
            any |= section.take(key).is_some();
            for name in known_names(section, key, &names, "region", faults) {
                if listed.iter().any(|(n, _)| *n == name) {
                    let span = section.span().clone();
                    faults.add(
                        &span,
                        format!("region \"{name}\" stands in two lists of {}", section.title),
                    );
                }
                listed.push((name, status));
            }
        }
        self.regions
            .iter()
            .filter_map(|region| {
                let mut region = region.clone();
                if any {
                    region.status = listed.iter().find(|(n, _)| *n == region.name)?.1;
                }
                // A limit of the comparison stands in where the region has none of its own.
                if let Some(limit) = limit
                    && !self.limited.contains(&region.name)
                {
                    region.limit_mm = limit;
                }
                Some(region)
            })
            .collect()
    }
}

fn known_names(
    section: &mut Section<'_, '_>,
    key: &'static str,
    known: &[&str],
    what: &str,
    faults: &mut Faults<'_>,
) -> Vec<String> {
    let mut names = Vec::new();
    for (name, span) in section.texts(key, faults).unwrap_or_default() {
        if known.contains(&name.as_str()) {
            names.push(name);
        } else {
            let hint = did_you_mean(&name, known.iter().copied());
            faults.add(
                &span,
                format!(
                    "\"{key}\" in {}: there is no {what} \"{name}\"{hint}",
                    section.title
                ),
            );
        }
    }
    names
}

/// Those of `all` whose names are wanted, in the order in which they were declared.
fn chosen<T: Clone>(all: &[T], wanted: &[String], name: impl Fn(&T) -> &String) -> Vec<T> {
    all.iter()
        .filter(|one| wanted.contains(name(one)))
        .cloned()
        .collect()
}
