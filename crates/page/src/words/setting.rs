//! How the measured set was set on the reference and what holds it, in sentences.

use record::Record;

use super::{pm, thousands};

/// How it was set and what holds it: the method, how well it lies there, what nothing holds, the ± at the far corner, the
/// re-seated repeat or its absence, points that were left out, the scale.
pub fn set_how(record: &Record) -> Vec<String> {
    let setting = &record.setting;
    let mut out = vec![format!("Set by {}.", setting.words)];
    out.extend(method(&setting.method).map(String::from));
    if record.reference.mirrored {
        out.push(format!(
            "{} is of the other side and was mirrored in Y = 0 of its own frame: a suspicion and not a drawing; what differs is told, not what is wrong.",
            record.reference.name
        ));
    }
    if let Some(rms) = setting.rms_mm {
        let over = if setting.points.is_empty() {
            format!("{} places of both", thousands(setting.pairs as u64))
        } else {
            format!("{} points", setting.pairs)
        };
        let worst = setting
            .worst_mm
            .map_or(String::new(), |w| format!(", the worst {w:.2} mm"));
        out.push(format!(
            "It lies there to {rms:.2} mm in the mean over {over}{worst}."
        ));
    }
    out.extend(held(record));
    if let Some(far) = far_corner_pm_mm(record) {
        out.push(format!(
            "{} comes from how it was set, at the far corner of the part.",
            pm(far)
        ));
    }
    out.push(match setting.repeat_pm_mm {
        Some(repeat) => format!(
            "Putting it back and measuring again adds {}; it is in every ±.",
            pm(repeat)
        ),
        None => "No re-seated repeat was given: what putting it back changes is not in the ±.".to_string(),
    });
    if !setting.settled {
        out.push(
            "The set did not come to rest on the reference; treat every figure as a first look.".to_string(),
        );
    }
    if let Some(other) = &setting.runner_up {
        out.push(format!("The next best way to lay it: {}.", other.words));
    }
    for set in [&record.reference, &record.measured] {
        if (set.scale - 1.0).abs() > 1e-9 {
            out.push(format!(
                "The scale of {} was set by bars of known length: its figures were multiplied by {:.6}.",
                set.name, set.scale
            ));
        }
    }
    if record.reference.celsius.is_none() || record.measured.celsius.is_none() {
        let words = "The temperature was not given for both sets: growth by warmth is not taken out (84 in of steel grows 0.010 in over 10 °C).";
        out.push(words.to_string());
    }
    out
}

/// The largest ± that comes from the setting at a corner of the part, mm; what re-seating adds is in it.
pub fn far_corner_pm_mm(record: &Record) -> Option<f64> {
    record
        .setting
        .predicted_pm_mm
        .iter()
        .map(|p| p.pm_mm)
        .reduce(f64::max)
}

fn method(word: &str) -> Option<&'static str> {
    Some(match word {
        "left-alone" => "Only metal that was left alone counts, so that what was moved cannot pull at it.",
        "points" => "Only the named points count, all alike.",
        "order" => "The points count in order: the first hold three motions, the next two, the last one.",
        "holes" => "Only holes that both sets show count, matched by their distances.",
        "all-over" => "Everything counts: where much of the metal has moved, that can hide the fault.",
        "mirror" => {
            "The part is held against its own mirror image: what differs left to right is told, not what is wrong."
        }
        "as-is" => "Nothing was moved: both sets were taken to lie in one frame already.",
        _ => return None,
    })
}

fn held(record: &Record) -> Option<String> {
    let held = record.setting.held.as_ref()?;
    if held.free.is_empty() {
        return Some("All six motions are held.".to_string());
    }
    let free: Vec<&str> = held.free.iter().map(|f| f.words.as_str()).collect();
    Some(format!(
        "Nothing holds it {}; nothing is said in that direction.",
        free.join("; ")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn what_holds_it_and_what_does_not_is_said() {
        let mut record = made::record();
        let said = set_how(&record).join(" ");
        for words in [
            "Set by what was left alone (67 % of the points): tunnel.",
            "It lies there to 0.16 mm in the mean over 1\u{a0}234 places of both, the worst 0.90 mm.",
            "Nothing holds it fore and aft; nothing is said in that direction.",
            "±0.33 mm comes from how it was set, at the far corner of the part.",
            "No re-seated repeat was given: what putting it back changes is not in the ±.",
        ] {
            assert!(said.contains(words), "{words}\n{said}");
        }
        assert!(!said.contains("the other side"), "{said}");
        record.reference.mirrored = true;
        let said = set_how(&record).join(" ");
        assert!(said.contains("a suspicion and not a drawing"), "{said}");
        record.setting.repeat_pm_mm = Some(0.4);
        record.setting.settled = false;
        let said = set_how(&record).join(" ");
        assert!(said.contains("measuring again adds ±0.40 mm"), "{said}");
        assert!(said.contains("did not come to rest"), "{said}");
    }
}
