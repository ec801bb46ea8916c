//! `look`: what files hold, and what is wrong with them.

use cloud::unit::MM_PER_INCH;
use cloud::{Surface, Unit};

use crate::cli::Look;
use crate::job::Set;
use crate::progress::Progress;
use crate::stages::load;
use crate::stages::scale::to_mm;
use crate::trouble::{COULD_NOT, DONE, Trouble};

/// Looks at each file; one that can't be read does not stop the others.
pub fn look(asked: &Look, progress: &Progress) -> Result<u8, Trouble> {
    let mut worst = DONE;
    for path in &asked.files {
        let set = Set::new(path.display().to_string(), path, asked.units);
        match one(&set, progress) {
            Ok(words) => progress.result(&words),
            Err(trouble) => {
                progress.trouble(&trouble);
                worst = COULD_NOT;
            }
        }
    }
    Ok(worst)
}

fn one(set: &Set, progress: &Progress) -> Result<String, Trouble> {
    let step = progress.step(&set.name);
    step.doing("reading");
    let loaded = load::one(set)?;
    let mut lines = vec![
        set.name.clone(),
        format!("  format     {}", loaded.raw.format),
        format!(
            "  size       {} bytes, sha256 {}",
            loaded.print.bytes, loaded.print.sha256
        ),
        format!(
            "  points     {}{}{}{}",
            loaded.raw.points.len(),
            if loaded.raw.normals.is_some() {
                ", with normals"
            } else {
                ""
            },
            if loaded.raw.colours.is_some() {
                ", with colours"
            } else {
                ""
            },
            match loaded.raw.faces.len() {
                0 => String::new(),
                n => format!(", {n} triangles"),
            }
        ),
    ];
    let said = loaded.raw.unit;
    let unknown = said.is_none() && set.unit.is_none();
    let comments = loaded.raw.comments.clone();
    // Without a unit the file can still be looked at, in its own numbers.
    let assumed = Set {
        unit: set.unit.or(Some(Unit::Millimetre)),
        ..set.clone()
    };
    let mut warnings = Vec::new();
    let scaled = to_mm(&assumed, loaded, &mut warnings)?;
    let Some(bounds) = scaled.cloud.bounds() else {
        return Ok(lines.join("\n"));
    };
    let size = bounds.size();
    if unknown {
        lines.push(format!(
            "  extent     {:.4} × {:.4} × {:.4} in the file's own unit",
            size.x, size.y, size.z
        ));
        lines.push(format!(
            "  unit       not said by the file; {}",
            likely(bounds.diagonal())
        ));
        warnings.retain(|w| w.code != "unit-doubtful");
    } else {
        lines.push(format!(
            "  extent     {:.1} × {:.1} × {:.1} mm ({:.2} × {:.2} × {:.2} in)",
            size.x,
            size.y,
            size.z,
            size.x / MM_PER_INCH,
            size.y / MM_PER_INCH,
            size.z / MM_PER_INCH
        ));
        lines.push(format!(
            "  unit       {} {}",
            scaled.known.unit,
            if said.is_some() {
                "(the file says so)"
            } else {
                "(declared)"
            }
        ));
    }
    step.doing("preparing");
    match Surface::new(scaled.cloud, scaled.viewpoint) {
        Ok((surface, more)) => {
            let unit = if unknown { "in the file's own unit" } else { "mm" };
            lines.push(format!("  spacing    {:.4} {unit}", surface.spacing_mm));
            lines.push(format!(
                "  noise      {:.4} {unit}, point to point",
                surface.noise_mm
            ));
            lines.push(format!(
                "  side       {}",
                if surface.sides_known {
                    "known which side is out"
                } else {
                    "not known which side is out"
                }
            ));
            lines.push(format!(
                "  strays     {}; repeats {}",
                surface.strays, surface.repeats
            ));
            warnings.extend(more);
        }
        Err(why) => lines.push(format!("  surface    none: {why}")),
    }
    for comment in comments.iter().take(12) {
        lines.push(format!("  note       {comment}"));
    }
    for warning in warnings {
        lines.push(format!("  warning    {}", warning.words));
    }
    Ok(lines.join("\n"))
}

/// The units in which an extent would be that of a car's part.
fn likely(extent: f64) -> String {
    let fitting: Vec<String> = Unit::ALL
        .into_iter()
        .filter(|u| (40.0..=8000.0).contains(&(extent * u.in_mm())))
        .map(|u| format!("{u} ({:.0} mm across)", extent * u.in_mm()))
        .collect();
    if fitting.is_empty() {
        "none of the usual units makes a car's part of it".to_string()
    } else {
        format!("a car's part if {}", fitting.join(" or "))
    }
}
