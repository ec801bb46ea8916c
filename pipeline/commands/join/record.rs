//! What is on record of a joined set: in its own head, in the file beside it, and on the terminal.

use std::fmt::Write as _;
use std::path::Path;

use ::register::takes::{Joined, LaidByPoints, Link};
use cloud::unit::fraction_of_inch;
use cloud::{Scan, Surface, Warning};
use serde::Serialize;
use serde_json::Value;

use super::points::Named;
use crate::cli::Join;
use crate::fill::{r, rows, warning_record};
use crate::stages::scale::Known;
use record::WarningRecord;

const PROGRAM: &str = concat!("witnessmark ", env!("CARGO_PKG_VERSION"));
/// A set that was joined by us begins its first comment so.
const MARK: &str = "joined by witnessmark ";

/// Whether a file that begins so is a set that was joined by us.
pub fn is_head_of_ours(start: &[u8]) -> bool {
    String::from_utf8_lossy(start).contains(&format!("comment {MARK}"))
}

/// Whether a text is our record of a joined set.
pub fn is_record_of_ours(text: &[u8]) -> bool {
    let record: Option<Value> = serde_json::from_slice(text).ok();
    record.is_some_and(|r| {
        r["joined"].is_object()
            && r["program"]
                .as_str()
                .is_some_and(|p| p.starts_with("witnessmark "))
    })
}

/// What the file itself says of where it comes from: every take with its motion, joined ← take, by rows.
pub fn comments(known: &[Known], surfaces: &[Surface<Scan>], joined: &Joined) -> Vec<String> {
    let mut lines = vec![format!(
        "{MARK}{} from {} takes, in the frame of the first, millimetres",
        env!("CARGO_PKG_VERSION"),
        known.len()
    )];
    for (k, (file, surface)) in known.iter().zip(surfaces).enumerate() {
        // A comment is one line of plain letters.
        let name: String = name_of(Path::new(&file.file))
            .chars()
            .map(|c| if c.is_ascii_graphic() || c == ' ' { c } else { '?' })
            .collect();
        let points = surface.cloud.len();
        lines.push(format!(
            "take {}: {name}, {points} points, sha256 {}",
            k + 1,
            file.print.sha256
        ));
        let numbers: Vec<String> = rows(&joined.joined_from_take[k])
            .as_flattened()
            .iter()
            .map(f64::to_string)
            .collect();
        lines.push(format!("joined from take {}: {}", k + 1, numbers.join(" ")));
    }
    lines
}

/// The last part of a path.
pub fn name_of(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |n| n.to_string_lossy().into_owned(),
    )
}

/// The record beside the joined set; takes are counted from 1, lengths are in mm.
#[derive(Serialize)]
pub struct Record {
    schema: u32,
    program: &'static str,
    joined: SetRecord,
    as_placed: bool,
    /// The table of named points, where one was given.
    points: Option<PointsRecord>,
    takes: Vec<TakeRecord>,
    links: Vec<LinkRecord>,
    /// Nothing where no loop closes.
    drift_mm: Option<f64>,
    warnings: Vec<WarningRecord>,
}

impl Record {
    /// Puts everything on record.
    pub fn of(
        set: SetRecord,
        asked: &Join,
        known: &[Known],
        surfaces: &[Surface<Scan>],
        joined: &Joined,
        warnings: &[Warning],
    ) -> Self {
        Self {
            schema: 1,
            program: PROGRAM,
            joined: set,
            as_placed: asked.as_placed,
            points: None,
            takes: take_records(known, surfaces, joined),
            links: joined.links.iter().map(link_record).collect(),
            drift_mm: joined.drift.map(|d| r(d.off_mm)),
            warnings: warnings.iter().map(warning_record).collect(),
        }
    }

    /// With the named points that took part.
    pub fn with_points(mut self, named: Option<&Named>) -> Self {
        self.points = named.map(|named| PointsRecord {
            file: named.file.clone(),
            sha256: named.print.sha256.clone(),
        });
        self
    }
}

/// The table of named points.
#[derive(Serialize)]
struct PointsRecord {
    file: String,
    sha256: String,
}

/// The joined set's own file.
#[derive(Serialize)]
pub struct SetRecord {
    /// Its name.
    pub file: String,
    /// Its fingerprint.
    pub sha256: String,
    /// Its points.
    pub points: usize,
    /// Its unit.
    pub unit: &'static str,
    /// Whether it has normals.
    pub normals: bool,
}

#[derive(Serialize)]
struct TakeRecord {
    take: usize,
    file: String,
    sha256: String,
    bytes: u64,
    unit: &'static str,
    points: usize,
    points_used: usize,
    /// At the far corner of the take, in the joined frame; nothing where it slides on another.
    pm_mm: Option<f64>,
    joined_from_take: [[f64; 4]; 4],
}

#[derive(Serialize)]
struct LinkRecord {
    reference: usize,
    measured: usize,
    pairs: usize,
    rms_mm: f64,
    overlap: f64,
    by_points: bool,
    /// What the named points say that laid it.
    points: Option<PointsOfLink>,
    closes_loop: bool,
    checked: bool,
    left_out: bool,
    weight: f64,
    before_mm: f64,
    after_mm: f64,
}

#[derive(Serialize)]
struct PointsOfLink {
    count: usize,
    rms_mm: f64,
    worst: String,
    worst_mm: f64,
    only_they_hold: Vec<String>,
    /// At the far corner of the measured take, by this link alone.
    pm_mm: f64,
}

fn points_of_link(points: &LaidByPoints) -> PointsOfLink {
    PointsOfLink {
        count: points.count,
        rms_mm: r(points.rms_mm),
        worst: points.worst.clone(),
        worst_mm: r(points.worst_mm),
        only_they_hold: points.only_they_hold.clone(),
        pm_mm: r(points.pm_mm),
    }
}

fn take_records(known: &[Known], surfaces: &[Surface<Scan>], joined: &Joined) -> Vec<TakeRecord> {
    known
        .iter()
        .zip(surfaces)
        .enumerate()
        .map(|(k, (file, surface))| TakeRecord {
            take: k + 1,
            file: file.file.clone(),
            sha256: file.print.sha256.clone(),
            bytes: file.print.bytes,
            unit: file.unit.symbol(),
            points: file.points,
            points_used: surface.cloud.len(),
            pm_mm: joined.pms_mm.get(k).copied().flatten().map(r),
            joined_from_take: rows(&joined.joined_from_take[k]),
        })
        .collect()
}

fn link_record(link: &Link) -> LinkRecord {
    LinkRecord {
        reference: link.reference + 1,
        measured: link.measured + 1,
        pairs: link.pairs,
        rms_mm: r(link.rms_mm),
        overlap: r(link.overlap),
        by_points: link.by_points,
        points: link.points.as_ref().map(points_of_link),
        closes_loop: link.closes_loop,
        checked: link.checked,
        left_out: link.left_out(),
        weight: r(link.weight),
        before_mm: r(link.before_mm),
        after_mm: r(link.after_mm),
    }
}

/// What is told of a link behind its figures.
fn remark(link: &Link) -> String {
    let by_points = link.by_points.then_some("by named points");
    let loops = if link.left_out() {
        Some("left out: the others contradict it")
    } else if link.closes_loop {
        Some("closes a loop")
    } else if !link.checked {
        Some("no loop checks it")
    } else {
        None
    };
    let remarks: Vec<&str> = by_points.into_iter().chain(loops).collect();
    remarks.join(", ")
}

/// `2 on 1: 3 named points lie 0.08 mm apart in the mean, most A (0.11 mm); only they hold it fore and aft; ± 1.60 mm …`.
fn points_words(link: &Link, points: &LaidByPoints) -> String {
    let holds = if points.only_they_hold.is_empty() {
        "the metal holds it in every way".to_string()
    } else {
        format!("only they hold it {}", points.only_they_hold.join(" and "))
    };
    format!(
        "  {} on {}: {} named points lie {:.2} mm apart in the mean, most {} ({:.2} mm); {holds}; ± {:.2} mm at its far corner by this link",
        link.measured + 1,
        link.reference + 1,
        points.count,
        points.rms_mm,
        points.worst,
        points.worst_mm,
        points.pm_mm
    )
}

/// The table for the terminal.
pub fn table(asked: &Join, surfaces: &[Surface<Scan>], joined: &Joined, points: usize) -> String {
    let mut out = format!(
        "joined {} takes in the frame of the first: {points} points\n",
        surfaces.len()
    );
    for (k, (path, surface)) in asked.takes.iter().zip(surfaces).enumerate() {
        let pm = match joined.pms_mm.get(k).copied().flatten() {
            // The first lies still.
            _ if k == 0 => String::new(),
            Some(pm_mm) => format!("± {pm_mm:.2} mm"),
            None => "± not known".to_string(),
        };
        let _ = writeln!(
            out,
            "  take {:<4} {:>10} points  {pm:>12}  {}",
            k + 1,
            surface.cloud.len(),
            path.display()
        );
    }
    out.push_str("  ± at the far corner of the take, in the frame of the first, through all links\n");
    let _ = writeln!(
        out,
        "\n  link         places mean mm  common   off, mm: one on the next   all at once"
    );
    for link in &joined.links {
        let remark = remark(link);
        let line = format!(
            "  {:<9} {:>9} {:>7.2} {:>6.0}% {:>26.2} {:>13.2}  {remark}",
            format!("{} on {}", link.measured + 1, link.reference + 1),
            link.pairs,
            link.rms_mm,
            100.0 * link.overlap,
            link.before_mm,
            link.after_mm,
        );
        let _ = writeln!(out, "{}", line.trim_end());
    }
    for link in &joined.links {
        if let Some(points) = &link.points {
            let _ = writeln!(out, "{}", points_words(link, points));
        }
    }
    match joined.drift {
        Some(drift) => {
            let _ = writeln!(
                out,
                "\n  drift: {} in ({:.2} mm) at the far corner of take {}, if takes {} to {} were only laid one on the next",
                fraction_of_inch(drift.off_mm, 32),
                drift.off_mm,
                drift.last + 1,
                drift.first + 1,
                drift.last + 1
            );
        }
        None => out.push_str("\n  drift: not known, since no loop closes\n"),
    }
    let _ = write!(
        out,
        "  written: {} and {}",
        asked.out.display(),
        asked.out.with_extension("json").display()
    );
    out
}
