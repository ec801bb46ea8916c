//! Trips as they are shown: the table for the screen, the sheet for CSV and workbook, and the pictures.

mod became;
pub mod metal;

use std::fmt::Write as _;

use ::draw::page::Heads;
use ::draw::trips::{MOST_ROWS, Row as Strip, TripHead, TripsPicture};
use ::features::trips::Home;
use page::tables::{Cell, Head, Table};

use super::{Group, Row};
use crate::say;
use crate::stages::tabulate::{fit, wrapped};
use crate::trouble::Trouble;

/// What is said of a group on the screen: steps first.
pub fn table(group: &Group) -> String {
    let mut out = format!("\n{}: {} trips\n", group.name, group.trips.len());
    let mut rows: Vec<&Row> = group.rows.iter().collect();
    rows.sort_by_key(|row| row.steps.is_empty());
    for row in rows {
        for (k, part) in wrapped(&row.words, 66).into_iter().enumerate() {
            let what = if k == 0 { row.series.what.as_str() } else { "" };
            let _ = writeln!(out, "  {} {part}", fit(what, 30));
        }
    }
    out.trim_end().to_string()
}

/// All groups as a table: a line for each figure and trip.
pub fn sheet(groups: &[Group]) -> Table {
    let head = |words, unit, key| Head { words, unit, key };
    let mut sheet = Table {
        name: "trips",
        title: "Trips",
        heads: vec![
            head("like", "", false),
            head("figure", "", true),
            head("trip", "", true),
            head("day", "", true),
            head("done before", "", true),
            head("off", "mm", false),
            head("off", "in", true),
            head("pm", "mm", true),
            head("limit", "mm", false),
            head("step from", "trip", false),
            head("step", "mm", false),
            head("words", "", true),
        ],
        rows: Vec::new(),
    };
    for group in groups {
        for row in &group.rows {
            for k in 0..group.trips.len() {
                sheet.rows.push(cells(group, row, k));
            }
        }
    }
    sheet
}

/// What one trip read of a figure.
fn cells(group: &Group, row: &Row, k: usize) -> Vec<Cell> {
    let trip = &group.trips[k];
    let reading = row.series.readings[k];
    let step = row.steps.iter().find(|step| step.to == k);
    let text = |words: &str| Cell::Text(words.to_string());
    let mm = |value: Option<f64>| value.map_or(Cell::Nothing, |value| Cell::Number { value, decimals: 3 });
    let is_last = k + 1 == group.trips.len();
    vec![
        text(&group.name),
        text(&row.series.what),
        text(&trip.name),
        text(&trip.day),
        text(&trip.operation),
        mm(reading.map(|r| r.mm)),
        reading.map_or(Cell::Nothing, |r| Cell::Inches {
            mm: r.mm,
            signed: true,
        }),
        mm(reading.map(|r| r.pm_mm)),
        mm(Some(row.series.limit_mm)),
        step.map_or(Cell::Nothing, |step| text(&group.trips[step.from].name)),
        mm(step.map(|step| step.by_mm)),
        if is_last { text(&row.words) } else { Cell::Nothing },
    ]
}

/// The pictures of a group, by name: figures that step or are not home first.
///
/// # Errors
/// Where one can't be encoded.
pub fn pictures(group: &Group, job: &str) -> Result<Vec<(String, Vec<u8>)>, Trouble> {
    let mut rows: Vec<&Row> = group.rows.iter().collect();
    rows.sort_by_key(|row| (row.steps.is_empty(), row.home == Some(Home::Home)));
    let heads: Vec<TripHead<'_>> = group
        .trips
        .iter()
        .map(|trip| TripHead {
            name: &trip.name,
            day: &trip.day,
            operation: &trip.operation,
        })
        .collect();
    let count = rows.len().div_ceil(MOST_ROWS);
    let subtitle = format!(
        "{} trips in and out of the jig, like {}",
        group.trips.len(),
        group.name
    );
    let mut pictures = Vec::new();
    for (k, some) in rows.chunks(MOST_ROWS).enumerate() {
        let strips: Vec<Strip<'_>> = some.iter().map(|row| strip(row)).collect();
        let title = if count > 1 {
            format!("{job}: over the trips, {} of {count}", k + 1)
        } else {
            format!("{job}: over the trips")
        };
        let picture = TripsPicture {
            heads: Heads {
                title: &title,
                subtitle: &subtitle,
                set_by: "a step is marked where it is over 1/32 in and over twice its ±",
                footer: &format!(
                    "Positions only; figures hold to their ±. {}",
                    crate::made_from::PROGRAM
                ),
            },
            trips: &heads,
            rows: &strips,
        };
        let part = say::file_part(&group.name);
        let name = if count > 1 {
            format!("trips-{part}-{}.png", k + 1)
        } else {
            format!("trips-{part}.png")
        };
        pictures.push((name, picture.png().map_err(|e| Trouble::system("drawing", &e))?));
    }
    Ok(pictures)
}

fn strip(row: &Row) -> Strip<'_> {
    Strip {
        what: &row.series.what,
        limit_mm: row.series.limit_mm,
        readings: row
            .series
            .readings
            .iter()
            .map(|r| r.map(|r| (r.mm, r.pm_mm)))
            .collect(),
        steps: row.steps.iter().map(|step| (step.from, step.to)).collect(),
        words: &row.words,
    }
}
