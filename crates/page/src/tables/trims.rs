//! The trim list: along which edges there is metal too much or missing, stretch by stretch, by the amount, and in all.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use cloud::unit::{MM_PER_INCH, fraction_of_inch};
use record::Record;
use record::found::{EdgeRecord, StretchRecord};

use super::{Cell, Table, fine, key, maybe, more, plain_inches, pm, text, triple, whole};
use crate::words::Who;

/// What is done at an edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Do {
    /// It is long.
    Trim,
    /// It is short.
    Add,
}

impl Do {
    const ALL: [Do; 2] = [Do::Trim, Do::Add];

    fn at(stretch: &StretchRecord) -> Self {
        if stretch.short_mm < 0.0 { Do::Trim } else { Do::Add }
    }

    /// As it is said.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Do::Trim => "trim off",
            Do::Add => "add, or live with it",
        }
    }
}

/// How far an edge goes on being off by the same amount, over every edge of the list.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Amount {
    pub what: Do,
    /// By how much, in 32nds of an inch: `7/32`; `None` for every amount together.
    pub by: Option<String>,
    pub stretches: usize,
    pub over_mm: f64,
}

/// The list by amounts, what is to be trimmed first and the most of it first; what is to be done by several amounts has a last
/// line for them together.
pub(crate) fn amounts(record: &Record) -> Vec<Amount> {
    let mut by_amount: BTreeMap<(Do, Reverse<u64>), (usize, f64)> = BTreeMap::new();
    for stretch in edges(record).flat_map(|edge| stretches(record, edge)) {
        let key = (Do::at(stretch), Reverse(steps(stretch.short_mm)));
        let (stretches, over_mm) = by_amount.entry(key).or_default();
        *stretches += 1;
        *over_mm += stretch.length_mm;
    }
    let mut amounts = Vec::new();
    for what in Do::ALL {
        let own = by_amount.iter().filter(|((other, _), _)| *other == what);
        let lines: Vec<Amount> = own
            .map(|((_, Reverse(steps)), (stretches, over_mm))| Amount {
                what,
                by: Some(fraction_of_inch(*steps as f64 * MM_PER_INCH / 64.0, 64)),
                stretches: *stretches,
                over_mm: *over_mm,
            })
            .collect();
        let together = (lines.len() > 1).then(|| Amount {
            what,
            by: None,
            stretches: lines.iter().map(|l| l.stretches).sum(),
            over_mm: lines.iter().map(|l| l.over_mm).sum(),
        });
        amounts.extend(lines);
        amounts.extend(together);
    }
    amounts
}

/// 64ths of an inch, of a length that is said in 32nds unless that would be nothing.
fn steps(mm: f64) -> u64 {
    let of = |parts: f64| (mm.abs() / MM_PER_INCH * parts).round() as u64;
    match of(32.0) {
        0 => of(64.0),
        steps => 2 * steps,
    }
}

/// The edges that the shop has something to do at.
fn edges(record: &Record) -> impl Iterator<Item = &EdgeRecord> {
    record.edges.iter().filter(|edge| {
        let figure = format!("edges/{}", edge.name);
        let mut own = record.work.iter().filter(|t| t.who == Who::Shop.word());
        own.any(|task| task.figure == figure)
    })
}

/// The stretches of an edge that are trimmed or built up: those that are out for sure. What has moved with a region is moved
/// back with it first.
fn stretches<'a>(record: &Record, edge: &'a EdgeRecord) -> impl Iterator<Item = &'a StretchRecord> + use<'a> {
    let limit_mm = record.made_with.limit_mm;
    let out = move |s: &&StretchRecord| s.short_mm.abs() - s.pm_mm > limit_mm;
    edge.stretches
        .iter()
        .filter(|s| s.moved_with.is_none())
        .filter(out)
}

/// A line a stretch; then one an edge that has several, and those of the amounts over all edges.
pub(super) fn trims(record: &Record) -> Table {
    let mut rows = Vec::new();
    for edge in edges(record) {
        rows.extend(stretches(record, edge).map(|stretch| of_stretch(edge, stretch)));
        for what in Do::ALL {
            let own = || stretches(record, edge).filter(|s| Do::at(s) == what);
            if own().count() > 1 {
                let over_mm = own().map(|s| s.length_mm).sum();
                rows.push(row(
                    [&edge.name, what.words()],
                    None,
                    (own().count(), over_mm),
                    None,
                ));
            }
        }
    }
    let several = rows.len() > 1;
    for amount in amounts(record).iter().filter(|_| several) {
        let mut line = row(
            ["all edges", amount.what.words()],
            None,
            (amount.stretches, amount.over_mm),
            None,
        );
        line[2] = amount.by.as_deref().map_or(Cell::Nothing, text);
        rows.push(line);
    }
    Table {
        name: "trims",
        title: "Trim list",
        heads: vec![
            key("edge", ""),
            key("do", ""),
            key("by", "in"),
            more("by", "mm"),
            more("pm", "mm"),
            key("stretches", ""),
            key("over", "in"),
            more("over", "mm"),
            more("from x", "mm"),
            more("from y", "mm"),
            more("from z", "mm"),
            more("to x", "mm"),
            more("to y", "mm"),
            more("to z", "mm"),
        ],
        rows,
    }
}

fn of_stretch(edge: &EdgeRecord, stretch: &StretchRecord) -> Vec<Cell> {
    row(
        [&edge.name, Do::at(stretch).words()],
        Some(stretch.short_mm.abs()),
        (1, stretch.length_mm),
        Some(stretch),
    )
}

fn row(
    [edge, what]: [&str; 2],
    by_mm: Option<f64>,
    (stretches, over_mm): (usize, f64),
    stretch: Option<&StretchRecord>,
) -> Vec<Cell> {
    let mut row = vec![
        text(edge),
        text(what),
        plain_inches(by_mm),
        maybe(by_mm),
        stretch.map_or(Cell::Nothing, |s| pm(s.pm_mm)),
        whole(stretches),
        plain_inches(Some(over_mm)),
        fine(over_mm),
    ];
    row.extend(triple(stretch.map(|s| s.from_mm)));
    row.extend(triple(stretch.map(|s| s.to_mm)));
    row
}

/// Two edges with a task of the shop's each: one long twice by the same amount and once by another, one short.
#[cfg(test)]
pub(crate) fn made() -> Record {
    let mut record = crate::made::record();
    let stretch = |short: f64, long: f64| {
        format!(
            r#"{{"from_mm": [0, 0, 0], "to_mm": [{long}, 0, 0], "length_mm": {long}, "short_mm": {short}, "pm_mm": 0.01, "words": "off"}}"#
        )
    };
    let edge = |name: &str, stretches: &[String]| {
        format!(
            r#"{{"name": "{name}", "length_mm": 900, "closed": false, "verdict": "outside", "words": [], "runs": [],
              "stretches": [{}]}}"#,
            stretches.join(",")
        )
    };
    let rear = [stretch(-5.5, 254.0), stretch(-3.2, 127.0)];
    // The last is within the limit.
    let front = [stretch(-5.6, 127.0), stretch(1.6, 50.8), stretch(-1.2, 100.0)];
    let none = [stretch(-9.0, 500.0)];
    let edges = [
        edge("rear edge", &rear),
        edge("front edge", &front),
        edge("other edge", &none),
    ];
    record.edges = serde_json::from_str(&format!("[{}]", edges.join(","))).unwrap();
    for name in ["rear edge", "front edge"] {
        let mut task = record.work[0].clone();
        task.figure = format!("edges/{name}");
        task.words = format!("{name}: trim");
        record.work.push(task);
    }
    record
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_added_up_by_the_amount_and_in_all() {
        let told: Vec<(Do, Option<String>, usize, f64)> = amounts(&made())
            .into_iter()
            .map(|a| (a.what, a.by, a.stretches, a.over_mm))
            .collect();
        let by = |words: &str| Some(words.to_string());
        assert_eq!(
            told,
            [
                (Do::Trim, by("7/32"), 2, 381.0),
                (Do::Trim, by("1/8"), 1, 127.0),
                (Do::Trim, None, 3, 508.0),
                (Do::Add, by("1/16"), 1, 50.8),
            ],
            "an edge without a task is not on the list"
        );
        assert!(amounts(&crate::made::record()).is_empty());
        let mut moved = made();
        for stretch in &mut moved.edges[0].stretches {
            stretch.moved_with = Some(record::found::MovedWithRecord {
                region: "floor".to_string(),
                home: false,
            });
        }
        assert_eq!(
            amounts(&moved).len(),
            2,
            "what a region moves is moved back first"
        );
    }

    #[test]
    fn the_table_has_each_stretch_each_edge_and_all_of_them() {
        let table = trims(&made());
        assert!(table.rows.iter().all(|row| row.len() == table.heads.len()));
        let lines: Vec<String> = table
            .rows
            .iter()
            .map(|row| [0, 1, 2, 5, 6].map(|k| row[k].text()).join(" | "))
            .collect();
        assert_eq!(
            lines,
            [
                "rear edge | trim off | 7/32 | 1 | 10",
                "rear edge | trim off | 1/8 | 1 | 5",
                "rear edge | trim off |  | 2 | 15",
                "front edge | trim off | 7/32 | 1 | 5",
                "front edge | add, or live with it | 1/16 | 1 | 2",
                "all edges | trim off | 7/32 | 2 | 15",
                "all edges | trim off | 1/8 | 1 | 5",
                "all edges | trim off |  | 3 | 20",
                "all edges | add, or live with it | 1/16 | 1 | 2",
            ]
        );
        assert!(trims(&crate::made::record()).rows.is_empty());
    }
}
