//! Figures that a job asks for by name: widths between two regions, drops to the table.

use cloud::{Point, Unit};
use compare::Region;

use super::file::{Faults, Section, nearest};
use super::regions::one_of;
use super::{CheckAsked, CheckKind};

/// The kinds as written.
#[derive(Clone, Copy)]
enum Kind {
    Width,
    Drop,
}

/// Checks the tables `[[check]]`; `regions` are those of the job.
pub fn checks(
    sections: Vec<Section<'_, '_>>,
    unit: Unit,
    limit_mm: f64,
    regions: &[Region],
    faults: &mut Faults<'_>,
) -> Vec<CheckAsked> {
    let mut checks: Vec<CheckAsked> = Vec::new();
    for mut section in sections {
        let name = section.needed_text("name", faults);
        if let Some((name, span)) = &name {
            section.title = format!("[[check]] \"{name}\"");
            if checks.iter().any(|c| c.name == *name) {
                faults.add(span, format!("two checks are named \"{name}\""));
            }
        }
        let span = section.span().clone();
        let said = section.take("kind").is_some();
        let kind = one_of(
            &mut section,
            "kind",
            &[("width", Kind::Width), ("drop", Kind::Drop)],
            faults,
        );
        if !said {
            faults.add(
                &span,
                format!("\"kind\" is missing in {}; it is width or drop", section.title),
            );
        }
        let kind = match kind {
            Some(Kind::Width) => width(&mut section, regions, faults),
            Some(Kind::Drop) => section.place("at", faults).map(|at| CheckKind::Drop {
                at_mm: Point::from(at) * unit.in_mm(),
            }),
            None => {
                // Of no kind yet: its other keys are not called unknown on top of that.
                let _ = (section.take("between"), section.take("at"));
                None
            }
        };
        let limit_mm = section.length_mm("limit", faults).unwrap_or(limit_mm);
        section.end(faults);
        if let (Some((name, _)), Some(kind)) = (name, kind) {
            checks.push(CheckAsked { name, kind, limit_mm });
        }
    }
    checks
}

/// The two regions of a width: there, not one and the same, and with outsides that oppose each other.
fn width(section: &mut Section<'_, '_>, regions: &[Region], faults: &mut Faults<'_>) -> Option<CheckKind> {
    let span = section.span().clone();
    let Some(names) = section.texts("between", faults) else {
        if section.take("between").is_none() {
            faults.add(
                &span,
                format!(
                    "\"between\" is missing in {}; name two regions, [\"left …\", \"right …\"]",
                    section.title
                ),
            );
        }
        return None;
    };
    let [a, b] = names.as_slice() else {
        faults.add(
            &span,
            format!("\"between\" in {} must name two regions", section.title),
        );
        return None;
    };
    let mut found = Vec::new();
    for (name, span) in [a, b] {
        match regions.iter().find(|r| r.name == *name) {
            Some(region) => found.push(region),
            None => {
                let hint = nearest(name, regions.iter().map(|r| r.name.as_str()))
                    .map_or(String::new(), |n| format!("; did you mean \"{n}\"?"));
                faults.add(
                    span,
                    format!(
                        "\"between\" in {}: there is no region \"{name}\"{hint}",
                        section.title
                    ),
                );
            }
        }
    }
    let [first, second] = found.as_slice() else {
        return None;
    };
    let oppose = first
        .outside
        .zip(second.outside)
        .is_some_and(|(a, b)| a.direction().dot(&b.direction()) < -0.5);
    if !oppose {
        faults.add(
            &span,
            format!(
                "{}: the outsides of \"{}\" and \"{}\" must oppose each other, like left and right; declare \"outside\" in both regions",
                section.title, first.name, second.name
            ),
        );
        return None;
    }
    Some(CheckKind::Width {
        between: [first.name.clone(), second.name.clone()],
    })
}
