//! The tables of what was found besides the deviation: edges, holes, beads, recesses, folds.

use record::found::{
    BeadPairRecord, BeadRecord, EdgeRecord, FoldRecord, HoleRecord, RecessPairRecord, RunRecord,
};

use super::{Cell, Table, fine, key, maybe, more, plain_inches, pm, signed_inches, text, triple, whole};

pub(super) fn edges(edges: &[EdgeRecord]) -> Table {
    let row = |edge: &EdgeRecord, k: usize, run: &RunRecord| {
        let mut row = vec![text(&edge.name), whole(k + 1)];
        row.extend(triple(Some(run.from_mm)));
        row.extend(triple(Some(run.to_mm)));
        row.extend([
            run.short_mm.map_or(text("not seen"), fine),
            signed_inches(run.short_mm),
            run.pm_mm.map_or(Cell::Nothing, pm),
        ]);
        row
    };
    let mut rows = Vec::new();
    for edge in edges {
        rows.extend(edge.runs.iter().enumerate().map(|(k, run)| row(edge, k, run)));
    }
    Table {
        name: "edges",
        title: "Edges",
        heads: vec![
            key("edge", ""),
            key("run", ""),
            key("from x", "mm"),
            key("from y", "mm"),
            key("from z", "mm"),
            more("to x", "mm"),
            more("to y", "mm"),
            more("to z", "mm"),
            more("short", "mm"),
            key("short", "in"),
            key("pm", "mm"),
        ],
        rows,
    }
}

pub(super) fn holes(holes: &[HoleRecord]) -> Table {
    Table {
        name: "holes",
        title: "Holes",
        heads: vec![
            key("hole", ""),
            more("kind", ""),
            more("state", ""),
            key("verdict", ""),
            key("words", ""),
            more("reference x", "mm"),
            more("reference y", "mm"),
            more("reference z", "mm"),
            more("off x", "mm"),
            more("off y", "mm"),
            more("off z", "mm"),
            more("reference diameter", "mm"),
            key("reference diameter", "in"),
            more("measured diameter", "mm"),
            key("measured diameter", "in"),
            more("reference length", "mm"),
            more("measured length", "mm"),
            key("pm", "mm"),
            more("off along the sheet", "mm"),
            more("off across it", "mm"),
            more("off out of it", "mm"),
            more("pm out of it", "mm"),
            more("tipped", "deg"),
            more("pm of tipped", "deg"),
            more("clear through both", "mm"),
            more("pm of clear", "mm"),
            key("goes through both", ""),
        ],
        rows: holes.iter().map(hole).collect(),
    }
}

fn hole(hole: &HoleRecord) -> Vec<Cell> {
    let ours = hole.reference_size_mm.as_ref();
    let theirs = hole.measured_size_mm.as_ref();
    let mut row = vec![
        text(&hole.name),
        text(&hole.kind),
        text(&hole.state),
        text(&hole.verdict),
        text(&hole.words),
    ];
    row.extend(triple(hole.reference_at_mm));
    row.extend(triple(hole.offset_mm));
    for size in [ours, theirs] {
        let diameter = size.map(|s| s.diameter);
        row.extend([maybe(diameter), plain_inches(diameter)]);
    }
    row.extend([
        maybe(ours.and_then(|s| s.length)),
        maybe(theirs.and_then(|s| s.length)),
        pm(hole.pm_mm),
    ]);
    let (sheet, tipped, clear) = (hole.in_sheet.as_ref(), hole.tipped.as_ref(), hole.clear.as_ref());
    row.extend([
        maybe(sheet.map(|s| s.along_mm)),
        maybe(sheet.map(|s| s.across_mm)),
        maybe(sheet.map(|s| s.out_mm)),
        sheet.map_or(Cell::Nothing, |s| pm(s.out_pm_mm)),
        maybe(tipped.map(|t| t.deg)),
        maybe(tipped.map(|t| t.pm_deg)),
        maybe(clear.map(|c| c.clear_mm)),
        clear.map_or(Cell::Nothing, |c| pm(c.pm_mm)),
        text(clear.map_or("", |c| c.words.as_str())),
    ]);
    row
}

pub(super) fn beads(beads: &[BeadPairRecord]) -> Table {
    Table {
        name: "beads",
        title: "Beads and recesses found",
        heads: vec![
            key("bead", ""),
            key("state", ""),
            key("verdict", ""),
            key("words", ""),
            more("moved x", "mm"),
            more("moved y", "mm"),
            more("moved z", "mm"),
            key("reference depth", "mm"),
            key("measured depth", "mm"),
            more("reference width", "mm"),
            more("measured width", "mm"),
            more("reference length", "mm"),
            more("measured length", "mm"),
            more("reference ring across", "mm"),
            more("measured ring across", "mm"),
            more("measured outer radius", "mm"),
            key("pm", "mm"),
        ],
        rows: beads.iter().map(bead).collect(),
    }
}

fn bead(bead: &BeadPairRecord) -> Vec<Cell> {
    let mut row = vec![
        text(&bead.name),
        text(&bead.state),
        text(&bead.verdict),
        text(&bead.words.join("; ")),
    ];
    row.extend(triple(bead.moved_mm));
    // What closes in itself has no length, but a diameter; what runs on beyond what is seen of it has neither.
    let figures: [fn(&BeadRecord) -> Option<f64>; 4] = [
        |b| Some(b.depth_mm),
        |b| Some(b.width_mm),
        |b| (!b.ring).then_some(b.length_mm),
        |b| b.ring.then_some(b.length_mm),
    ];
    let told = if bead.runs_on() { 2 } else { figures.len() };
    for (k, figure) in figures.into_iter().enumerate() {
        if k >= told {
            row.extend([maybe(None), maybe(None)]);
            continue;
        }
        row.push(maybe(bead.reference.as_ref().and_then(figure)));
        row.push(maybe(bead.measured.as_ref().and_then(figure)));
    }
    row.push(maybe(bead.measured.as_ref().and_then(|b| b.outer_radius_mm)));
    row.push(pm(bead.pm_mm));
    row
}

pub(super) fn recesses(recesses: &[RecessPairRecord]) -> Table {
    Table {
        name: "recesses",
        title: "Recesses",
        heads: vec![
            key("recess", ""),
            key("verdict", ""),
            key("words", ""),
            more("moved x", "mm"),
            more("moved y", "mm"),
            more("moved z", "mm"),
            key("reference depth", "mm"),
            key("measured depth", "mm"),
            more("reference outer radius", "mm"),
            more("measured outer radius", "mm"),
            more("reference inner radius", "mm"),
            more("measured inner radius", "mm"),
            more("reference wall", "deg"),
            more("measured wall", "deg"),
            key("pm", "mm"),
        ],
        rows: recesses.iter().map(recess).collect(),
    }
}

fn recess(recess: &RecessPairRecord) -> Vec<Cell> {
    let (ours, theirs) = (&recess.reference, &recess.measured);
    let mut row = vec![
        text(&recess.name),
        text(&recess.verdict),
        text(&recess.words.join("; ")),
    ];
    row.extend(triple(Some(recess.moved_mm)));
    row.extend([
        fine(ours.depth_mm),
        fine(theirs.depth_mm),
        maybe(ours.outer_radius_mm),
        maybe(theirs.outer_radius_mm),
        maybe(ours.inner_radius_mm),
        maybe(theirs.inner_radius_mm),
        fine(ours.wall_deg),
        fine(theirs.wall_deg),
        pm(recess.pm_mm),
    ]);
    row
}

pub(super) fn folds(folds: &[FoldRecord]) -> Table {
    Table {
        name: "folds",
        title: "Folds",
        heads: vec![
            key("fold", ""),
            more("short", "mm"),
            key("short", "in"),
            key("pm", "mm"),
            key("verdict", ""),
            key("words", ""),
            more("stretch", ""),
            more("seen over", "mm"),
            more("from x", "mm"),
            more("from y", "mm"),
            more("from z", "mm"),
            more("to x", "mm"),
            more("to y", "mm"),
            more("to z", "mm"),
        ],
        rows: folds.iter().flat_map(fold_rows).collect(),
    }
}

/// The whole of a fold; where its stretches differ each of them too.
fn fold_rows(fold: &FoldRecord) -> Vec<Vec<Cell>> {
    let figure = |short_mm: f64, pm_mm: f64, verdict: &str, words: &str| {
        vec![
            text(&fold.name),
            fine(short_mm),
            signed_inches(Some(short_mm)),
            pm(pm_mm),
            text(verdict),
            text(words),
        ]
    };
    let mut whole_row = figure(fold.short_mm, fold.pm_mm, &fold.verdict, &fold.words);
    let seen = fold.stretches.iter().map(|s| s.length_mm).reduce(|a, b| a + b);
    whole_row.extend([text("whole"), maybe(seen)]);
    whole_row.extend(triple(fold.runs.first().map(|run| run.from_mm)));
    whole_row.extend(triple(fold.runs.last().map(|run| run.to_mm)));
    let mut rows = vec![whole_row];
    if fold.stretches.len() > 1 {
        rows.extend(fold.stretches.iter().enumerate().map(|(k, stretch)| {
            let mut row = figure(stretch.short_mm, stretch.pm_mm, &stretch.verdict, &stretch.words);
            row.extend([whole(k + 1), fine(stretch.length_mm)]);
            row.extend(triple(Some(stretch.from_mm)));
            row.extend(triple(Some(stretch.to_mm)));
            row
        }));
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ring_has_no_length_but_is_so_far_across() {
        let shape = |more: &str| {
            format!(
                r#"{{"at_mm": [0, 0, 0], "ends_mm": [[0, 0, 0], [9, 0, 0]], "length_mm": 100, "width_mm": 25,
                     "depth_mm": 6{more}}}"#
            )
        };
        let read: Vec<BeadPairRecord> = serde_json::from_str(&format!(
            r#"[{{"name": "bead 1", "region": "floor", "state": "matched", "pm_mm": 0.2, "verdict": "within",
                 "words": ["in its place"], "reference": {}, "measured": {}}}]"#,
            shape(""),
            shape(r#", "ring": true"#)
        ))
        .unwrap();
        let table = beads(&read);
        let cell = |head: &str| {
            let place = table.heads.iter().position(|h| h.words == head).unwrap();
            table.rows[0][place].clone()
        };
        assert_eq!(table.heads.len(), table.rows[0].len());
        for (head, expected) in [
            ("reference length", Some(100.0)),
            ("measured length", None),
            ("reference ring across", None),
            ("measured ring across", Some(100.0)),
        ] {
            assert_eq!(cell(head), maybe(expected), "{head}");
        }
    }

    #[test]
    fn a_bead_that_one_set_cuts_has_no_lengths_to_compare() {
        let read: Vec<BeadPairRecord> = serde_json::from_str(
            r#"[{"name": "bead 1", "region": "floor", "state": "matched", "pm_mm": 0.2, "verdict": "within",
                 "words": ["in its place"],
                 "reference": {"at_mm": [0, 0, 0], "ends_mm": [[0, 0, 0], [9, 0, 0]], "length_mm": 100, "width_mm": 25,
                     "depth_mm": 6, "runs_on": true},
                 "measured": {"at_mm": [0, 0, 0], "ends_mm": [[0, 0, 0], [9, 0, 0]], "length_mm": 112.7, "width_mm": 25,
                     "depth_mm": 6}}]"#,
        )
        .unwrap();
        let table = beads(&read);
        assert_eq!(table.heads.len(), table.rows[0].len());
        for (head, expected) in [
            ("reference width", Some(25.0)),
            ("reference length", None),
            ("measured length", None),
        ] {
            let place = table.heads.iter().position(|h| h.words == head).unwrap();
            assert_eq!(table.rows[0][place], maybe(expected), "{head}");
        }
    }

    #[test]
    fn a_fold_has_a_row_and_where_its_stretches_differ_each_has_one() {
        let read: Vec<FoldRecord> = serde_json::from_str(
            r#"[{"name": "rear", "short_mm": 5.55, "pm_mm": 0.2, "verdict": "outside",
                 "words": "7/32 short over 8, home over 4", "stretches": [
                   {"from_mm": [0, 0, 0], "to_mm": [200, 0, 0], "length_mm": 200, "short_mm": 5.56, "pm_mm": 0.1,
                    "verdict": "outside", "words": "7/32 short over 8"},
                   {"from_mm": [200, 0, 0], "to_mm": [300, 0, 1], "length_mm": 100, "short_mm": 0.1, "pm_mm": 0.2,
                    "verdict": "within", "words": "home over 4"}],
                 "runs": [{"from_mm": [0, 0, 0], "to_mm": [150, 0, 0], "short_mm": 5.56, "pm_mm": 0.1},
                          {"from_mm": [150, 0, 0], "to_mm": [300, 0, 1]}]},
                {"name": "front", "short_mm": 0, "pm_mm": 0.2, "verdict": "within", "words": "home"}]"#,
        )
        .unwrap();
        let wanted = "fold,short (mm),short (in),pm (mm),verdict,words,stretch,seen over (mm),from x (mm),from y (mm),from z (mm),to x (mm),to y (mm),to z (mm)
rear,5.550,+7/32,0.200,outside,\"7/32 short over 8, home over 4\",whole,300.000,0.000,0.000,0.000,300.000,0.000,1.000
rear,5.560,+7/32,0.100,outside,7/32 short over 8,1,200.000,0.000,0.000,0.000,200.000,0.000,0.000
rear,0.100,0,0.200,within,home over 4,2,100.000,200.000,0.000,0.000,300.000,0.000,1.000
front,0.000,0,0.200,within,home,whole,,,,,,,
";
        assert_eq!(folds(&read).csv(), wanted);
    }
}
