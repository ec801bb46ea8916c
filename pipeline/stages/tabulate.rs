//! Writes the tables: result.json, regions.csv, holes.csv, deviation.ply, and the table for the terminal.

use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use ::compare::State;
use formats::ply::Scalar;
use record::Record;
use record::figured::{ShellRecord, TaskRecord};
use record::found::EdgeRecord;

use super::compare::Compared;
use super::scale::Scaled;
use crate::say;
use crate::trouble::Trouble;
use crate::work::Who;

/// Writes all tables into `folder`, and notes them in the record.
pub fn tables(
    folder: &Path,
    scaled: &Scaled,
    compared: &Compared,
    record: &mut Record,
) -> Result<(), Trouble> {
    let mirrored = record.reference.mirrored;
    write_deviation(&folder.join("deviation.ply"), scaled, compared, mirrored)?;
    for table in page::tables::all(record) {
        let name = format!("{}.csv", table.name);
        save(&folder.join(&name), table.csv().as_bytes())?;
        if !record.files.contains(&name) {
            record.files.push(name);
        }
    }
    Ok(())
}

/// The record as it is written.
pub fn json(record: &Record) -> Result<Vec<u8>, Trouble> {
    let mut json =
        serde_json::to_vec_pretty(record).map_err(|e| Trouble::system("writing result.json", &e))?;
    json.push(b'\n');
    Ok(json)
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

fn write_deviation(path: &Path, scaled: &Scaled, compared: &Compared, mirrored: bool) -> Result<(), Trouble> {
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
        match mirrored {
            true => {
                "points of the reference, which is of the other side, mirrored in Y = 0 of its own frame, millimetres"
            }
            false => "points of the reference, its own frame, millimetres",
        },
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

/// How wide the words of a verdict are, and how a region lies.
const VERDICT: usize = 17;
const LIES: usize = 34;

/// A text cut to a width.
pub fn fit(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return format!("{text:<width$}");
    }
    text.chars().take(width - 1).chain("…".chars()).collect()
}

/// The table for the terminal: words first, 100 columns at most.
pub fn table(record: &Record) -> String {
    let mut out = String::new();
    let said = |word: &str| record::verdict::of(record, word);
    let against = match record.mirror {
        Some(_) => "its mirror image".to_string(),
        None => record.reference.called(),
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
            "  it lies to {rms:.2} mm in the mean over {} places; how it was set: {} at the far corner",
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
            let words = format!(
                "whole: {}; from {} to {}; {} % within the limit; {:.0} % seen",
                out_by(record, s),
                say::signed(s.min_mm),
                say::signed(s.max_mm),
                share_within(s.within_share),
                100.0 * record.figures.coverage
            );
            for part in wrapped(&words, 96) {
                let _ = writeln!(out, "  {part}");
            }
        } else {
            let _ = writeln!(out, "  whole: {}", said(&record.verdict));
        }
    } else {
        let _ = writeln!(
            out,
            "\n  {} {} {} {:>19} {:>5}",
            fit("region", 18),
            fit("", VERDICT),
            fit("how it lies", LIES),
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
            let words = region.shift.as_ref().map_or(String::new(), |m| {
                let shape = m.shape.as_ref().map_or("", |shape| shape.words.as_str());
                let both = [m.words.as_str(), shape];
                both.into_iter()
                    .filter(|w| !w.is_empty())
                    .collect::<Vec<_>>()
                    .join("; ")
            });
            let mut lines = wrapped(&words, LIES).into_iter();
            let _ = writeln!(
                out,
                "  {} {} {} {:>19} {:>4.0}%",
                fit(&region.name, 18),
                fit(record::verdict::of_region(record, region), VERDICT),
                fit(&lines.next().unwrap_or_default(), LIES),
                worst,
                100.0 * region.figures.coverage
            );
            for line in lines {
                let _ = writeln!(out, "  {} {} {line}", fit("", 18), fit("", VERDICT));
            }
            for pad in region.shift.iter().flat_map(|m| &m.pads) {
                let size = cloud::Vector::from(pad.shim_mm).norm();
                let figures = match pad.words == record::verdict::NOT_MEASURED {
                    true => String::new(),
                    false => format!(" ({size:.1} mm, {})", say::pm(pad.pm_mm)),
                };
                let words = format!("pad {}: {}{figures}", pad.name, pad.words);
                for part in wrapped(&words, 76) {
                    let _ = writeln!(out, "  {} {part}", fit("", 18));
                }
            }
        }
    }
    let beside = page::words::decided_beside_faces(record);
    let by_regions = record.regions.iter().any(|r| r.verdict == record.verdict);
    if !record.regions.is_empty() && !by_regions && !beside.is_empty() {
        let words = alone(record::verdict::of(record, &record.verdict), &beside);
        for part in wrapped(&format!("all in all: {words}"), 96) {
            let _ = writeln!(out, "  {part}");
        }
    }
    for fold in &record.folds {
        line(
            &mut out,
            &format!("fold {}", fold.name),
            said(&fold.verdict),
            &format!("{} ({})", fold.words, say::pm(fold.pm_mm)),
        );
    }
    // Edges of no region are in the table; here they are said where they read as out.
    let unnamed = |e: &&EdgeRecord| e.region.is_none() && !e.reads_out();
    for edge in record.edges.iter().filter(|e| !unnamed(e)) {
        line(&mut out, &edge.name, said(&edge.verdict), &edge.words.join("; "));
    }
    let others = record.edges.iter().filter(unnamed).count();
    if others > 0 {
        let words = format!("{others} edges of no region, none of them seen to be out; see edges.csv");
        line(&mut out, "other edges", "", &words);
    }
    for recess in &record.recesses {
        line(
            &mut out,
            &recess.name,
            said(&recess.verdict),
            &recess.words.join("; "),
        );
    }
    for bead in &record.beads {
        line(&mut out, &bead.name, said(&bead.verdict), &bead.words.join("; "));
    }
    for hole in record.holes.iter().filter(|_| record.made_with.asked.holes) {
        line(
            &mut out,
            &format!("{} ({})", hole.name, hole.state),
            said(&hole.verdict),
            &hole.words,
        );
    }
    // Diagonals, widths and pairs side to side are in the table; here they are said where they are out.
    let minor = |f: &&ShellRecord| {
        f.name.starts_with("diagonal ") || f.name.starts_with("width") || f.name.contains(" / ")
    };
    for figure in record.shell.iter().filter(|f| !minor(f) || f.verdict != "within") {
        line(&mut out, &figure.name, said(&figure.verdict), &figure.words);
    }
    for check in &record.checks {
        line(&mut out, &check.name, said(&check.verdict), &check.words);
    }
    for one in &record.arrangement {
        line(&mut out, &one.what, &one.kind, &one.words);
    }
    for figure in record.house.iter().filter(|h| h.words.starts_with("outside")) {
        line(&mut out, &figure.what, "originals", &figure.words);
    }
    for who in [Who::Shop, Who::Maker, Who::Record] {
        let tasks: Vec<&TaskRecord> = record.work.iter().filter(|t| t.who == who.word()).collect();
        if tasks.is_empty() {
            continue;
        }
        let head = match who {
            Who::Record if record.reference.mirrored => {
                "to put on record: what differs from the other side".to_string()
            }
            Who::Record => "to put on record, no fault".to_string(),
            _ => format!("to do, for the {}", who.word()),
        };
        let _ = writeln!(out, "\n  {head}");
        for (k, task) in tasks.into_iter().enumerate() {
            let words = format!("{:>2}. {}", k + 1, task.words);
            for (k, part) in wrapped(&words, 92).into_iter().enumerate() {
                let _ = writeln!(out, "    {}{part}", if k == 0 { "" } else { "    " });
            }
        }
    }
    out.trim_end().to_string()
}

/// The verdict of a set without regions, and where its face is not out, what is.
fn out_by(record: &Record, face: &record::SpreadRecord) -> String {
    let verdict = record::verdict::of(record, &record.verdict);
    let worst_mm = face.max_mm.abs().max(face.min_mm.abs());
    let face_decides = match &*record.verdict {
        "too-close" => worst_mm + face.pm_mm > record.made_with.limit_mm,
        _ => worst_mm - face.pm_mm > record.made_with.limit_mm,
    };
    match face_decides {
        true => verdict.to_string(),
        false => alone(verdict, &page::words::decided_beside_faces(record)),
    }
}

/// `OUT by hole 3 alone`, `OUT by hole 3 and front edge alone`.
fn alone(verdict: &str, out: &[&str]) -> String {
    match out.split_last() {
        None => verdict.to_string(),
        Some((one, [])) => format!("{verdict} by {one} alone"),
        Some((last, others)) => format!("{verdict} by {} and {last} alone", others.join(", ")),
    }
}

/// A line of the table: what, its verdict, and words; what it is and the words may take several lines.
fn line(out: &mut String, what: &str, verdict: &str, words: &str) {
    let (what, words) = (wrapped(what, 26), wrapped(words, 52));
    for k in 0..what.len().max(words.len()) {
        let part = |of: &[String]| of.get(k).cloned().unwrap_or_default();
        let verdict = if k == 0 { verdict } else { "" };
        let verdict = fit(verdict, VERDICT);
        let row = format!("  {} {verdict} {}", fit(&part(&what), 26), part(&words));
        let _ = writeln!(out, "{}", row.trim_end());
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
/// A share as a whole per cent that says 100 only where it is all.
fn share_within(share: f64) -> String {
    match 100.0 * share {
        all if all >= 100.0 => "100".to_string(),
        nearly if nearly > 99.0 => "over 99".to_string(),
        part => format!("{part:.0}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_alone_is_out_of_a_whole_is_said() {
        assert_eq!(alone("in", &[]), "in");
        assert_eq!(alone("OUT", &["hole 3"]), "OUT by hole 3 alone");
        assert_eq!(
            alone("OUT", &["front edge", "hole 1", "hole 3"]),
            "OUT by front edge, hole 1 and hole 3 alone"
        );
    }
}
