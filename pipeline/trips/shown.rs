//! Trips as they are shown: the table for the screen, trips.csv, and the pictures.

use std::fmt::Write as _;

use ::draw::page::Heads;
use ::draw::trips::{MOST_ROWS, Row as Strip, TripHead, TripsPicture};
use ::features::trips::Home;
use cloud::unit::signed_32nds;
use page::tables::field;

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
pub fn csv(groups: &[Group]) -> String {
    let mut out = String::from(
        "like,figure,trip,day,done before,off (mm),off (in),pm (mm),limit (mm),step from (trip),step (mm),words\n",
    );
    for group in groups {
        for row in &group.rows {
            for (k, (trip, reading)) in group.trips.iter().zip(&row.series.readings).enumerate() {
                let (mm, inches, pm) = reading.map_or_else(Default::default, |r| {
                    (
                        format!("{:.3}", r.mm),
                        signed_32nds(r.mm),
                        format!("{:.3}", r.pm_mm),
                    )
                });
                let step = row.steps.iter().find(|step| step.to == k);
                let (from, by) = step.map_or_else(Default::default, |s| {
                    (group.trips[s.from].name.clone(), format!("{:.3}", s.by_mm))
                });
                let last = k + 1 == group.trips.len();
                let fields = [
                    field(&group.name),
                    field(&row.series.what),
                    field(&trip.name),
                    trip.day.clone(),
                    field(&trip.operation),
                    mm,
                    inches,
                    pm,
                    format!("{:.3}", row.series.limit_mm),
                    field(&from),
                    by,
                    if last { field(&row.words) } else { String::new() },
                ];
                let _ = writeln!(out, "{}", fields.join(","));
            }
        }
    }
    out
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
