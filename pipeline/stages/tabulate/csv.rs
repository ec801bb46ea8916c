//! The tables as CSV, units in the heads.

use std::fmt::Write as _;

use cloud::unit::{fraction_of_inch, signed_32nds};

use crate::record::{CheckRecord, HoleRecord, RegionRecord};

/// A field of a table, in quotes where it must be.
fn field(text: &str) -> String {
    if text.contains([',', '"', '\n']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_string()
    }
}

pub fn regions_csv(regions: &[RegionRecord]) -> String {
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

pub fn holes_csv(holes: &[HoleRecord]) -> String {
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

pub fn checks_csv(checks: &[CheckRecord]) -> String {
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
