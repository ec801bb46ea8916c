//! The tables as CSV, units in the heads.

use std::fmt::Write as _;

use cloud::unit::{fraction_of_inch, signed_32nds};

use crate::record::figured::{CheckRecord, HouseRecord, PlaceRecord, ShellRecord, TaskRecord};
use crate::record::found::{BeadPairRecord, BeadRecord, EdgeRecord, HoleRecord, SectionRecord};
use crate::record::{Record, RegionRecord};

/// A field of a table, in quotes where it must be.
pub fn field(text: &str) -> String {
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

/// A table being written: heads, then rows of as many fields.
struct Table(String);

impl Table {
    fn new(heads: &str) -> Self {
        Self(format!("{heads}\n"))
    }

    fn row<const N: usize>(&mut self, fields: [String; N]) {
        let fields = fields.map(|text| field(&text));
        self.0.push_str(&fields.join(","));
        self.0.push('\n');
    }
}

fn mm(value: f64) -> String {
    format!("{value:.3}")
}

fn number(value: Option<f64>) -> String {
    value.map_or(String::new(), mm)
}

fn inches(value: Option<f64>) -> String {
    value.map_or(String::new(), signed_32nds)
}

/// Three fields of a place.
fn triple(place: Option<[f64; 3]>) -> [String; 3] {
    place.map_or([const { String::new() }; 3], |p| p.map(mm))
}

/// Every table that has rows beside that of the regions: its file's name and its text.
pub fn tables(record: &Record) -> Vec<(&'static str, String)> {
    let all = [
        ("edges.csv", record.edges.is_empty(), edges(&record.edges)),
        ("holes.csv", !record.made_with.asked.holes, holes(&record.holes)),
        (
            "beads.csv",
            record.made_with.asked.beads.is_empty(),
            beads(&record.beads),
        ),
        (
            "sections.csv",
            record.sections.is_empty(),
            sections(&record.sections),
        ),
        ("places.csv", record.places.is_empty(), places(&record.places)),
        ("shell.csv", record.shell.is_empty(), shell(&record.shell)),
        ("checks.csv", record.checks.is_empty(), checks(&record.checks)),
        ("house.csv", record.house.is_empty(), house(&record.house)),
        ("work.csv", record.work.is_empty(), work(&record.work)),
    ];
    all.into_iter()
        .filter(|(_, nothing, _)| !nothing)
        .map(|(name, _, text)| (name, text))
        .collect()
}

fn edges(edges: &[EdgeRecord]) -> String {
    let mut table = Table::new(
        "edge,run,from x (mm),from y (mm),from z (mm),to x (mm),to y (mm),to z (mm),short (mm),short (in),pm (mm)",
    );
    for edge in edges {
        for (k, run) in edge.runs.iter().enumerate() {
            let [a, b, c] = triple(Some(run.from_mm));
            let [d, e, f] = triple(Some(run.to_mm));
            let short = run.short_mm.map_or("not seen".to_string(), mm);
            table.row([
                edge.name.clone(),
                (k + 1).to_string(),
                a,
                b,
                c,
                d,
                e,
                f,
                short,
                inches(run.short_mm),
                number(run.pm_mm),
            ]);
        }
    }
    table.0
}

fn holes(holes: &[HoleRecord]) -> String {
    let mut table = Table::new(
        "hole,kind,state,verdict,words,reference x (mm),reference y (mm),reference z (mm),off x (mm),off y (mm),off z (mm),reference diameter (mm),reference diameter (in),measured diameter (mm),measured diameter (in),reference length (mm),measured length (mm),pm (mm)",
    );
    let plain = |v: Option<f64>| v.map_or(String::new(), |v| fraction_of_inch(v, 32));
    for hole in holes {
        let [a, b, c] = triple(hole.reference_at_mm);
        let [d, e, f] = triple(hole.offset_mm);
        let ours = hole.reference_size_mm.as_ref().map(|s| s.diameter);
        let theirs = hole.measured_size_mm.as_ref().map(|s| s.diameter);
        table.row([
            hole.name.clone(),
            hole.kind.to_string(),
            hole.state.to_string(),
            hole.verdict.to_string(),
            hole.words.clone(),
            a,
            b,
            c,
            d,
            e,
            f,
            number(ours),
            plain(ours),
            number(theirs),
            plain(theirs),
            number(hole.reference_size_mm.as_ref().and_then(|s| s.length)),
            number(hole.measured_size_mm.as_ref().and_then(|s| s.length)),
            mm(hole.pm_mm),
        ]);
    }
    table.0
}

fn beads(beads: &[BeadPairRecord]) -> String {
    let mut table = Table::new(
        "bead,state,verdict,words,moved x (mm),moved y (mm),moved z (mm),reference depth (mm),measured depth (mm),reference width (mm),measured width (mm),reference length (mm),measured length (mm),measured outer radius (mm),pm (mm)",
    );
    for bead in beads {
        let [a, b, c] = triple(bead.moved_mm);
        let ours = |f: fn(&BeadRecord) -> f64| number(bead.reference.as_ref().map(f));
        let theirs = |f: fn(&BeadRecord) -> f64| number(bead.measured.as_ref().map(f));
        table.row([
            bead.name.clone(),
            bead.state.to_string(),
            bead.verdict.to_string(),
            bead.words.join("; "),
            a,
            b,
            c,
            ours(|b| b.depth_mm),
            theirs(|b| b.depth_mm),
            ours(|b| b.width_mm),
            theirs(|b| b.width_mm),
            ours(|b| b.length_mm),
            theirs(|b| b.length_mm),
            number(bead.measured.as_ref().and_then(|b| b.outer_radius_mm)),
            mm(bead.pm_mm),
        ]);
    }
    table.0
}

fn sections(sections: &[SectionRecord]) -> String {
    let mut table = Table::new(
        "section,along (mm),through x (mm),through y (mm),through z (mm),off (mm),off (in),pm (mm),reference length (mm),measured length (mm),pm of the lengths' difference (mm)",
    );
    for section in sections {
        for plane in &section.planes {
            let [a, b, c] = triple(Some(plane.through_mm));
            table.row([
                section.name.clone(),
                number(plane.along_mm),
                a,
                b,
                c,
                number(plane.off_mm),
                inches(plane.off_mm),
                number(plane.pm_mm),
                number(plane.reference_length_mm),
                number(plane.measured_length_mm),
                number(plane.length_pm_mm),
            ]);
        }
    }
    table.0
}

fn places(places: &[PlaceRecord]) -> String {
    let mut table = Table::new(
        "place,reference x (mm),reference y (mm),reference z (mm),measured x (mm),measured y (mm),measured z (mm),moved x (mm),moved y (mm),moved z (mm),pm (mm)",
    );
    for place in places {
        let [a, b, c] = triple(Some(place.reference_at_mm));
        let [d, e, f] = triple(Some(place.measured_at_mm));
        let [g, h, i] = triple(Some(place.moved_mm));
        table.row([place.name.clone(), a, b, c, d, e, f, g, h, i, mm(place.pm_mm)]);
    }
    table.0
}

fn shell(figures: &[ShellRecord]) -> String {
    let mut table = Table::new("figure,verdict,words,reference (mm),measured (mm),off (mm),off (in),pm (mm)");
    for figure in figures {
        table.row([
            figure.name.clone(),
            figure.verdict.to_string(),
            figure.words.clone(),
            mm(figure.reference_mm),
            mm(figure.measured_mm),
            mm(figure.off_mm),
            inches(Some(figure.off_mm)),
            mm(figure.pm_mm),
        ]);
    }
    table.0
}

fn checks(checks: &[CheckRecord]) -> String {
    let mut table = Table::new(
        "check,kind,verdict,words,reference (mm),measured (mm),off (mm),off (in),pm (mm),reference (deg),measured (deg),off (deg),pm (deg)",
    );
    for check in checks {
        let f = &check.figures;
        table.row([
            check.name.clone(),
            check.kind.to_string(),
            check.verdict.to_string(),
            check.words.clone(),
            number(f.reference_mm),
            number(f.measured_mm),
            number(f.off_mm),
            inches(f.off_mm),
            number(f.pm_mm),
            number(f.reference_deg),
            number(f.measured_deg),
            number(f.off_deg),
            number(f.pm_deg),
        ]);
    }
    table.0
}

fn house(house: &[HouseRecord]) -> String {
    let mut table = Table::new("figure,originals,median,spread,least,largest,measured,words");
    for figure in house {
        table.row([
            figure.what.clone(),
            figure.originals.to_string(),
            mm(figure.median),
            mm(figure.spread),
            mm(figure.range[0]),
            mm(figure.range[1]),
            mm(figure.measured),
            figure.words.clone(),
        ]);
    }
    table.0
}

fn work(work: &[TaskRecord]) -> String {
    let mut table = Table::new("order,for,to do,figure,picture");
    for (k, task) in work.iter().enumerate() {
        table.row([
            (k + 1).to_string(),
            task.who.to_string(),
            task.words.clone(),
            task.figure.clone(),
            task.picture.clone().unwrap_or_default(),
        ]);
    }
    table.0
}
