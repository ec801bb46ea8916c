//! `look`: what files hold, and what is wrong with them.

use cloud::unit::MM_PER_INCH;
use cloud::{Bounds, Surface, Unit};

use crate::cli::Look;
use crate::job::Set;
use crate::progress::Progress;
use crate::stages::load;
use crate::stages::scale::to_mm;
use crate::trouble::{COULD_NOT, DONE, Trouble};

/// Strays that reach less than this share of the metal's extent beyond it are not told of.
const LEAST_REACH: f64 = 0.01;

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
    let Some(with_strays) = scaled.cloud.bounds() else {
        return Ok(lines.join("\n"));
    };
    step.doing("preparing");
    let made = Surface::new(scaled.cloud, scaled.viewpoint);
    let of_metal = made.as_ref().ok().and_then(|(surface, _)| surface.cloud.bounds());
    let bounds = of_metal.unwrap_or(with_strays);
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
    lines.extend(reach_of_strays(&with_strays, &bounds));
    match made {
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

/// How far the strays reach that the extent leaves out, where that is farther than the metal by more than a hundredth.
fn reach_of_strays(with_strays: &Bounds, metal: &Bounds) -> Option<String> {
    let (all, size) = (with_strays.size(), metal.size());
    ((all - size).amax() > LEAST_REACH * size.amax()).then(|| {
        format!(
            "  strays     reach {:.1} × {:.1} × {:.1}; the extent is without them",
            all.x, all.y, all.z
        )
    })
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

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::Point;

    #[test]
    fn strays_are_told_where_they_reach_beyond_the_metal() {
        let to = |x: f64| Bounds {
            low: Point::origin(),
            high: Point::new(x, 400.0, 20.0),
        };
        assert_eq!(reach_of_strays(&to(1005.0), &to(1000.0)), None);
        assert_eq!(
            reach_of_strays(&to(2355.5), &to(1000.0)).unwrap(),
            "  strays     reach 2355.5 × 400.0 × 20.0; the extent is without them"
        );
    }
}
