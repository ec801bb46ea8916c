//! Writes the tables: result.json, regions.csv, holes.csv, deviation.ply, and the table for the terminal.

use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use ::compare::State;
use cloud::unit::{fraction_of_inch, signed_32nds};
use formats::ply::Scalar;

use super::compare::Compared;
use super::scale::Scaled;
use crate::put_in_place::MARK;
use crate::record::{CheckRecord, HoleRecord, Record, RegionRecord};
use crate::say;
use crate::trouble::Trouble;

/// Writes all tables into `folder`.
pub fn write(folder: &Path, scaled: &Scaled, compared: &Compared, record: &Record) -> Result<(), Trouble> {
    write_deviation(&folder.join("deviation.ply"), scaled, compared)?;
    save(
        &folder.join("regions.csv"),
        regions_csv(&record.regions).as_bytes(),
    )?;
    if record.made_with.holes {
        save(&folder.join("holes.csv"), holes_csv(&record.holes).as_bytes())?;
    }
    if !record.checks.is_empty() {
        save(&folder.join("checks.csv"), checks_csv(&record.checks).as_bytes())?;
    }
    // Last, since it is the mark of a complete folder.
    let path = folder.join(MARK);
    let mut json =
        serde_json::to_vec_pretty(record).map_err(|e| Trouble::system("writing result.json", &e))?;
    json.push(b'\n');
    save(&path, &json)
}

/// Writes a file and waits until it is on the disk.
pub fn save(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    let write = || -> std::io::Result<()> {
        let mut file = File::create(path)?;
        file.write_all(bytes)?;
        file.sync_all()
    };
    write().map_err(|e| Trouble::writing(path, &e))
}

fn write_deviation(path: &Path, scaled: &Scaled, compared: &Compared) -> Result<(), Trouble> {
    let reference = &scaled.reference.cloud;
    // In the order of the file that the reference came from, so that the rows can be laid beside it.
    let mut order: Vec<u32> = (0..reference.len() as u32).collect();
    order.sort_by_key(|&i| reference.rows[i as usize]);
    let picked = reference.pick(&order);
    let mut new_of_old = vec![0u32; order.len()];
    for (new, &old) in order.iter().enumerate() {
        new_of_old[old as usize] = new as u32;
    }
    let faces: Vec<[u32; 3]> = reference
        .faces
        .iter()
        .map(|f| f.map(|i| new_of_old[i as usize]))
        .collect();
    let states = &compared.deviations.states;
    let mm: Vec<f32> = order
        .iter()
        .map(|&i| states[i as usize].mm().unwrap_or(0.0) as f32)
        .collect();
    let pm: Vec<f32> = order
        .iter()
        .map(|&i| match states[i as usize] {
            State::Distance { pm_mm, .. } => pm_mm as f32,
            _ => 0.0,
        })
        .collect();
    let codes = compared.deviations.codes();
    let state: Vec<u8> = order.iter().map(|&i| codes[i as usize]).collect();
    let comments = [
        "points of the reference, its own frame, millimetres",
        "deviation_mm: where the measured metal lies along the normal, + proud, - shy",
        "state: 0 a distance, 1 beyond the edge of the measured set, 2 not measured; other than 0 the deviation says nothing",
    ]
    .map(String::from);
    let write = || -> std::io::Result<()> {
        let mut out = BufWriter::with_capacity(1 << 20, File::create(path)?);
        formats::ply::write(
            &mut out,
            &picked.points_mm,
            picked.normals.as_deref(),
            &[
                Scalar::Float("deviation_mm", &mm),
                Scalar::Float("pm_mm", &pm),
                Scalar::Byte("state", &state),
            ],
            &faces,
            &comments,
        )?;
        out.flush()?;
        out.get_ref().sync_all()
    };
    write().map_err(|e| Trouble::writing(path, &e))
}

/// A field of a table, in quotes where it must be.
fn field(text: &str) -> String {
    if text.contains([',', '"', '\n']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_string()
    }
}

fn regions_csv(regions: &[RegionRecord]) -> String {
    let mut out = String::from(
        "region,status,verdict,words,limit (mm),points,coverage (share),mean (mm),mean (32nds of in),mean pm (mm),sd (mm),rms (mm),median (mm),p05 (mm),p95 (mm),min (mm),min (in),max (mm),max (in),within limit (share),profile (mm),pm (mm),min at x (mm),min at y (mm),min at z (mm),max at x (mm),max at y (mm),max at z (mm)\n",
    );
    for region in regions {
        let words = region.shift.as_ref().map_or("", |m| m.words.as_str());
        let _ = write!(
            out,
            "{},{},{},{},{:.3},{},{:.4}",
            field(&region.name),
            region.status,
            region.verdict,
            field(words),
            region.limit_mm,
            region.figures.points,
            region.figures.coverage
        );
        match &region.figures.spread {
            Some(s) => {
                let _ = write!(
                    out,
                    ",{:.3},{:.1},{:.3},{:.3},{:.3},{:.3},{:.3},{:.3},{:.3},{},{:.3},{},{:.4},{:.3},{:.3}",
                    s.mean_mm,
                    s.mean_mm / 25.4 * 32.0,
                    s.mean_pm_mm,
                    s.sd_mm,
                    s.rms_mm,
                    s.median_mm,
                    s.p05_mm,
                    s.p95_mm,
                    s.min_mm,
                    signed_32nds(s.min_mm),
                    s.max_mm,
                    signed_32nds(s.max_mm),
                    s.within_share,
                    s.profile_mm,
                    s.pm_mm
                );
                for value in s.min_at_mm.iter().chain(&s.max_at_mm) {
                    let _ = write!(out, ",{value:.1}");
                }
            }
            None => out.push_str(&",".repeat(21)),
        }
        out.push('\n');
    }
    out
}

fn holes_csv(holes: &[HoleRecord]) -> String {
    let mut out = String::from(
        "hole,kind,state,verdict,reference x (mm),reference y (mm),reference z (mm),off x (mm),off y (mm),off z (mm),reference diameter (mm),reference diameter (in),measured diameter (mm),measured diameter (in),pm (mm)\n",
    );
    let triple = |v: &Option<[f64; 3]>| match v {
        Some(v) => format!("{:.3},{:.3},{:.3}", v[0], v[1], v[2]),
        None => ",,".to_string(),
    };
    let size = |v: &Option<crate::record::SizeRecord>| match v {
        Some(v) => format!("{:.3},{}", v.diameter, fraction_of_inch(v.diameter, 32)),
        None => ",".to_string(),
    };
    for hole in holes {
        let _ = writeln!(
            out,
            "{},{},{},{},{},{},{},{},{:.3}",
            field(&hole.name),
            hole.kind,
            hole.state,
            hole.verdict,
            triple(&hole.reference_at_mm),
            triple(&hole.offset_mm),
            size(&hole.reference_size_mm),
            size(&hole.measured_size_mm),
            hole.pm_mm
        );
    }
    out
}

fn checks_csv(checks: &[CheckRecord]) -> String {
    let mut out = String::from(
        "check,kind,verdict,words,reference (mm),measured (mm),off (mm),off (32nds of in),pm (mm)\n",
    );
    let number = |v: Option<f64>| v.map_or(String::new(), |v| format!("{v:.3}"));
    for check in checks {
        let _ = writeln!(
            out,
            "{},{},{},{},{:.3},{},{},{},{}",
            field(&check.name),
            check.kind,
            check.verdict,
            field(&check.words),
            check.reference_mm,
            number(check.measured_mm),
            number(check.off_mm),
            check
                .off_mm
                .map_or(String::new(), |v| format!("{:.1}", v / 25.4 * 32.0)),
            number(check.pm_mm)
        );
    }
    out
}

/// The words of a verdict as printed; a side that differs from the other's mirror image is not for that wrong.
fn verdict_words(word: &str, mirrored: bool) -> &'static str {
    match word {
        "within" => "in",
        "outside" if mirrored => "differs",
        "outside" => "OUT",
        "too-close" => "too close",
        _ => "not measured",
    }
}

/// A text cut to a width.
fn fit(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return format!("{text:<width$}");
    }
    text.chars().take(width - 1).chain("…".chars()).collect()
}

/// The table for the terminal: words first, 100 columns at most.
pub fn table(record: &Record) -> String {
    let mut out = String::new();
    let said = |word: &str| verdict_words(word, record.mirror.is_some());
    let against = if record.mirror.is_some() {
        "its mirror image"
    } else {
        &record.reference.name
    };
    let _ = writeln!(
        out,
        "{}: {} against {against}",
        record.comparison, record.measured.name
    );
    for line in wrapped(&format!("set by {}", record.setting.words), 96) {
        let _ = writeln!(out, "  {line}");
    }
    if let Some(rms) = record.setting.rms_mm {
        let worst_pm = record
            .setting
            .predicted_pm_mm
            .iter()
            .map(|p| p.pm_mm)
            .fold(0.0, f64::max);
        let _ = writeln!(
            out,
            "  it lies there to {rms:.2} mm rms over {} pairs; {} from the setting at the far corner",
            record.setting.pairs,
            say::pm(worst_pm)
        );
    }
    if let Some(held) = &record.setting.held
        && !held.free.is_empty()
    {
        let words: Vec<&str> = held.free.iter().map(|f| f.words.as_str()).collect();
        for part in wrapped(&format!("nothing holds it {}", words.join("; ")), 94) {
            let _ = writeln!(out, "  {part}");
        }
    }
    for point in &record.setting.points {
        let _ = writeln!(
            out,
            "    {:<12} {:>6.2} mm{}",
            point.name,
            point.residual_mm,
            if point.used { "" } else { "  left out" }
        );
    }
    if record.regions.is_empty() {
        if let Some(s) = &record.figures.spread {
            let _ = writeln!(
                out,
                "  whole: {}; from {} to {}; {:.0} % within the limit; {:.0} % seen",
                said(record.verdict),
                say::signed(s.min_mm),
                say::signed(s.max_mm),
                100.0 * s.within_share,
                100.0 * record.figures.coverage
            );
        } else {
            let _ = writeln!(out, "  whole: not measured");
        }
    } else {
        let _ = writeln!(
            out,
            "\n  {} {} {} {:>19} {:>5}",
            fit("region", 18),
            fit("", 12),
            fit("how it lies", 38),
            "worst spot",
            "seen"
        );
        for region in &record.regions {
            let worst = region.figures.spread.as_ref().map_or(String::new(), |s| {
                let worst = if s.max_mm.abs() >= s.min_mm.abs() {
                    s.max_mm
                } else {
                    s.min_mm
                };
                // What its own ± hides is not there to be seen.
                if worst.abs() < s.pm_mm {
                    "nil".to_string()
                } else {
                    say::signed(worst)
                }
            });
            let words = region.shift.as_ref().map_or("", |m| m.words.as_str());
            let mut lines = wrapped(words, 38).into_iter();
            let _ = writeln!(
                out,
                "  {} {} {} {:>19} {:>4.0}%",
                fit(&region.name, 18),
                fit(
                    if region.withheld {
                        "withheld"
                    } else {
                        said(region.verdict)
                    },
                    12
                ),
                fit(&lines.next().unwrap_or_default(), 38),
                worst,
                100.0 * region.figures.coverage
            );
            for line in lines {
                let _ = writeln!(out, "  {} {} {line}", fit("", 18), fit("", 12));
            }
            for pad in region.shift.iter().flat_map(|m| &m.pads) {
                let size = cloud::Vector::from(pad.shim_mm).norm();
                let words = format!(
                    "pad {}: {} ({size:.1} mm, {})",
                    pad.name,
                    pad.words,
                    say::pm(pad.pm_mm)
                );
                for part in wrapped(&words, 76) {
                    let _ = writeln!(out, "  {} {part}", fit("", 18));
                }
            }
        }
    }
    for fold in &record.folds {
        line(
            &mut out,
            &format!("fold {}", fold.name),
            said(fold.verdict),
            &format!("{} ({})", fold.words, say::pm(fold.pm_mm)),
        );
    }
    for recess in &record.recesses {
        line(
            &mut out,
            &recess.name,
            said(recess.verdict),
            &recess.words.join("; "),
        );
    }
    for check in &record.checks {
        line(&mut out, &check.name, said(check.verdict), &check.words);
    }
    for hole in &record.holes {
        let size = |s: &Option<crate::record::SizeRecord>| {
            s.as_ref()
                .map_or("none".to_string(), |s| say::plain_64ths(s.diameter))
        };
        let off = hole.offset_mm.map_or(String::new(), |o| {
            let place = ::features::words::displacement(&cloud::Vector::from(o), 25.4 / 64.0);
            format!(", {}", place.replace("home", "in its place"))
        });
        let words = format!(
            "{} for {}{off}",
            size(&hole.measured_size_mm),
            size(&hole.reference_size_mm)
        );
        line(
            &mut out,
            &format!("{} ({})", hole.name, hole.state),
            said(hole.verdict),
            &words,
        );
    }
    if !record.work.is_empty() {
        let _ = writeln!(out, "\n  to do");
        for item in &record.work {
            for (k, part) in wrapped(item, 92).into_iter().enumerate() {
                let _ = writeln!(out, "    {}{part}", if k == 0 { "" } else { "  " });
            }
        }
    }
    out.trim_end().to_string()
}

/// A line of the table: what, its verdict, and words that may take several lines.
fn line(out: &mut String, what: &str, verdict: &str, words: &str) {
    for (k, part) in wrapped(words, 56).into_iter().enumerate() {
        let (what, verdict) = if k == 0 { (what, verdict) } else { ("", "") };
        let _ = writeln!(out, "  {} {} {part}", fit(what, 26), fit(verdict, 12));
    }
}

/// Words broken into lines of at most `width`.
pub fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines
}
