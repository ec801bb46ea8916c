//! The tables of the regions and of the shims at their pads.

use record::verdict::NOT_MEASURED;
use record::{RegionRecord, SpreadRecord};

use super::{Cell, Table, fine, key, maybe, more, number, pm, signed_inches, text, triple, whole};

/// Cells that a region without a single distance leaves empty.
const OF_THE_SPREAD: usize = 21;

pub(super) fn regions(regions: &[RegionRecord]) -> Table {
    Table {
        name: "regions",
        title: "Regions",
        heads: vec![
            key("region", ""),
            more("status", ""),
            key("verdict", ""),
            key("words", ""),
            more("limit", "mm"),
            more("points", ""),
            key("coverage", "share"),
            more("mean", "mm"),
            more("mean", "32nds of in"),
            more("mean pm", "mm"),
            more("sd", "mm"),
            more("rms", "mm"),
            more("median", "mm"),
            more("p05", "mm"),
            more("p95", "mm"),
            more("min", "mm"),
            key("min", "in"),
            more("max", "mm"),
            key("max", "in"),
            more("within limit", "share"),
            more("profile", "mm"),
            key("pm", "mm"),
            more("min at x", "mm"),
            more("min at y", "mm"),
            more("min at z", "mm"),
            more("max at x", "mm"),
            more("max at y", "mm"),
            more("max at z", "mm"),
            more("shape", ""),
        ],
        rows: regions.iter().map(region).collect(),
    }
}

fn region(region: &RegionRecord) -> Vec<Cell> {
    let mut row = vec![
        text(&region.name),
        text(&region.status),
        text(&region.verdict),
        text(region.shift.as_ref().map_or("", |m| m.words.as_str())),
        fine(region.limit_mm),
        whole(region.figures.points),
        number(region.figures.coverage, 4),
    ];
    match &region.figures.spread {
        Some(spread) => row.extend(of_the_spread(spread)),
        None => row.extend([const { Cell::Nothing }; OF_THE_SPREAD]),
    }
    let shape = region.shift.as_ref().and_then(|m| m.shape.as_ref());
    row.push(text(shape.map_or("", |shape| shape.words.as_str())));
    row
}

fn of_the_spread(s: &SpreadRecord) -> [Cell; OF_THE_SPREAD] {
    let [a, b, c] = s.min_at_mm.map(|axis| number(axis, 1));
    let [d, e, f] = s.max_at_mm.map(|axis| number(axis, 1));
    [
        fine(s.mean_mm),
        number(s.mean_mm / 25.4 * 32.0, 1),
        pm(s.mean_pm_mm),
        fine(s.sd_mm),
        fine(s.rms_mm),
        fine(s.median_mm),
        fine(s.p05_mm),
        fine(s.p95_mm),
        fine(s.min_mm),
        signed_inches(Some(s.min_mm)),
        fine(s.max_mm),
        signed_inches(Some(s.max_mm)),
        number(s.within_share, 4),
        fine(s.profile_mm),
        pm(s.pm_mm),
        a,
        b,
        c,
        d,
        e,
        f,
    ]
}

/// The shims at the pads of every region that has any.
pub(super) fn pads(regions: &[RegionRecord]) -> Table {
    let mut rows = Vec::new();
    for region in regions {
        for pad in region.shift.iter().flat_map(|shift| &shift.pads) {
            let [a, b, c] = triple(Some(pad.at_mm));
            let is_measured = pad.words != NOT_MEASURED;
            let [d, e, f] = triple(is_measured.then_some(pad.shim_mm));
            rows.push(vec![
                text(&region.name),
                text(&pad.name),
                a,
                b,
                c,
                d,
                e,
                f,
                maybe(is_measured.then_some(pad.pm_mm)),
                text(&pad.words),
            ]);
        }
    }
    Table {
        name: "pads",
        title: "Shims at the pads",
        heads: vec![
            key("region", ""),
            key("pad", ""),
            more("at x", "mm"),
            more("at y", "mm"),
            more("at z", "mm"),
            key("shim x", "mm"),
            key("shim y", "mm"),
            key("shim z", "mm"),
            key("pm", "mm"),
            key("words", ""),
        ],
        rows,
    }
}
