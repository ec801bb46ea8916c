//! Figures over the trips in and out of the jig: what each trip read, the steps between them, and what was done before a step.

pub mod figures;
pub mod probed;
pub mod shown;

use std::collections::BTreeMap;

use ::compare::verdict::NOT_HELD_MM;
use ::features::trips::{Home, Series, Step, creep, home, since, steps};
use archive::log::{Entry, operations_between};
use cloud::unit::fraction_of_inch;
use record::verdict::{NOT_MEASURED, OUT, TOO_CLOSE};

use figures::{Figure, Read, Worst};

use crate::commands::record_of;
use crate::job::{Job, Measured};
use crate::trouble::Trouble;

/// Trips that can be laid beside each other: those that are like one comparison, and those on which points were probed.
pub struct Group {
    /// The comparison that they are like; what the trips are called where all were probed.
    pub name: String,
    /// The trips, by day.
    pub trips: Vec<TripSeen>,
    /// The figures over them.
    pub rows: Vec<Row>,
}

/// A trip of a group.
pub struct TripSeen {
    /// Its name.
    pub name: String,
    /// Its day.
    pub day: String,
    /// What was done to the part since the trip before.
    pub operation: String,
    found: BTreeMap<Figure, Read>,
}

/// A figure over the trips.
pub struct Row {
    /// Which.
    pub figure: Figure,
    /// What each trip read.
    pub series: Series,
    /// Its steps.
    pub steps: Vec<Step>,
    /// Whether it is home on the last trip that saw it.
    pub home: Option<Home>,
    /// What is said of it.
    pub words: String,
}

/// Lays the trips of a job beside each other; what is to be told on the way goes to `warn`.
///
/// # Errors
/// Where a table of points can't be read or set; where no trip has anything to show.
pub fn groups(job: &Job, entries: &[Entry], warn: &mut dyn FnMut(String)) -> Result<Vec<Group>, Trouble> {
    let mut names: Vec<&str> = Vec::new();
    for trip in &job.trips {
        if let Measured::Set { like, .. } = &trip.what
            && !names.contains(&like.as_str())
        {
            names.push(like);
        }
    }
    if names.is_empty() {
        names.push("trips");
    }
    let mut groups = Vec::new();
    for name in names {
        let mut trips = Vec::new();
        let mut before: Option<&str> = None;
        for trip in &job.trips {
            let found = match &trip.what {
                Measured::Points { .. } => probed::of(job, trip, warn)?,
                Measured::Set { like, .. } if like != name => continue,
                Measured::Set { shown_by, .. } => match of_results(job, shown_by) {
                    Ok(found) => found,
                    Err(trouble) => {
                        warn(format!("{}: left out: {trouble}; run the job first", trip.name));
                        continue;
                    }
                },
            };
            trips.push(TripSeen {
                name: trip.name.clone(),
                day: trip.day.clone(),
                operation: trip
                    .after
                    .clone()
                    .unwrap_or_else(|| logged(entries, before, &trip.day)),
                found,
            });
            before = Some(&trip.day);
        }
        if trips.iter().any(|trip| !trip.found.is_empty()) {
            let rows = rows(&trips);
            groups.push(Group {
                name: name.to_string(),
                trips,
                rows,
            });
        }
    }
    if groups.is_empty() {
        return Err(Trouble::new(format!(
            "{}: no trip has anything to show; declare [[trip]] in job.toml, each with its day and its set or its points, and run the job",
            job.folder.display()
        )));
    }
    Ok(groups)
}

fn of_results(job: &Job, name: &str) -> Result<BTreeMap<Figure, Read>, Trouble> {
    let record = record_of(job, name)?;
    let comparison = job.comparisons.iter().find(|c| c.name == name);
    Ok(comparison.map_or_else(BTreeMap::new, |comparison| figures::of(&record, comparison)))
}

/// What the log says was done after one day and up to another.
fn logged(entries: &[Entry], after: Option<&str>, up_to: &str) -> String {
    let done = operations_between(entries, after, up_to);
    let words: Vec<&str> = done.iter().map(|entry| entry.words.as_str()).collect();
    words.join(", ")
}

fn rows(trips: &[TripSeen]) -> Vec<Row> {
    let mut figures: Vec<&Figure> = trips.iter().flat_map(|trip| trip.found.keys()).collect();
    figures.sort();
    figures.dedup();
    let mut rows: Vec<Row> = figures.into_iter().map(|figure| row(figure, trips)).collect();
    // Of a place that goes three ways the way that it goes most is shown, and each on which it steps.
    let most: BTreeMap<_, f64> = rows.iter().fold(BTreeMap::new(), |mut most, row| {
        let (kind, name) = row.figure.subject();
        let of_subject: &mut f64 = most.entry((kind, name.to_string())).or_insert(-1.0);
        *of_subject = of_subject.max(farthest_mm(row));
        most
    });
    rows.retain(|row| {
        let (kind, name) = row.figure.subject();
        row.figure.axis.is_none()
            || !row.steps.is_empty()
            || most[&(kind, name.to_string())] == farthest_mm(row)
    });
    rows
}

fn farthest_mm(row: &Row) -> f64 {
    let readings = row.series.readings.iter().flatten();
    readings.map(|r| r.mm.abs()).fold(0.0, f64::max)
}

fn row(figure: &Figure, trips: &[TripSeen]) -> Row {
    let read: Vec<Option<Read>> = trips.iter().map(|trip| trip.found.get(figure).copied()).collect();
    let limit_mm = read
        .iter()
        .flatten()
        .map(|read| read.limit_mm)
        .fold(f64::INFINITY, f64::min);
    let last = read.iter().rev().find_map(|r| *r);
    let series = Series {
        what: figure.words(),
        limit_mm,
        readings: read.into_iter().map(|r| r.map(|read| read.reading)).collect(),
    };
    let steps = steps(&series);
    let home = last.map(|read| held(home(&read.reading, limit_mm), read.worst));
    let words = words(figure, &series, &steps, last, trips);
    Row {
        figure: figure.clone(),
        series,
        steps,
        home,
        words,
    }
}

/// How a figure stands, held also to the worst spot of its region: where that is OUT or too close to call, the mean alone
/// does not make it home.
fn held(mean: Home, worst: Option<Worst>) -> Home {
    match (mean, worst) {
        (_, Some(worst)) if worst.verdict == OUT => Home::NotHome,
        (Home::Home, Some(_)) => Home::TooClose,
        (mean, _) => mean,
    }
}

/// Less than a 64th is not said, mm.
const LEAST_SAID_MM: f64 = 25.4 / 64.0;

/// `not home, 3/32 up since trip 7 (welded the right bar)`.
fn words(figure: &Figure, series: &Series, steps: &[Step], last: Option<Read>, trips: &[TripSeen]) -> String {
    let Some(Read {
        reading: last, worst, ..
    }) = last
    else {
        return NOT_MEASURED.to_string();
    };
    let size = |mm: f64| format!("{} {}", fraction_of_inch(mm, 32), figure.way(mm));
    let by_mean = home(&last, series.limit_mm);
    let by_worst = worst.filter(|_| by_mean != held(by_mean, worst));
    let stands = match by_mean {
        Home::Home if last.mm.abs() <= last.pm_mm.max(LEAST_SAID_MM) => "home".to_string(),
        Home::Home => format!("home, {}", size(last.mm)),
        Home::NotHome => format!("not home, {}", size(last.mm)),
        Home::TooClose if last.pm_mm > NOT_HELD_MM => "can't tell: nothing holds the set there".to_string(),
        Home::TooClose => format!("{TOO_CLOSE}, {}", size(last.mm)),
    };
    let stands = by_worst.map_or(stands, |worst| {
        format!("{} at its worst spot, {}", worst.verdict, size(worst.mm))
    });
    let done = |trip: usize| match trips[trip].operation.as_str() {
        "" => String::new(),
        words => format!(" ({words})"),
    };
    match (since(series, steps), steps.last(), creep(series)) {
        (Some(trip), ..) => format!("{stands} since {}{}", trips[trip].name, done(trip)),
        (None, Some(last), _) => format!(
            "{stands}; it stepped {} at {}{} and was back at {}",
            size(steps[0].by_mm),
            trips[steps[0].to].name,
            done(steps[0].to),
            trips[last.to].name
        ),
        (None, None, Some(creep)) => format!(
            "{stands}; it crept {} from {} to {}",
            size(creep.by_mm),
            trips[creep.from].name,
            trips[creep.to].name
        ),
        (None, None, None) => stands,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::features::trips::Reading;
    use figures::Kind;

    /// A floor that reads nothing in the mean on the first trip and 0.36 on the second, where its worst spot is as given.
    fn floor(worst: Option<Worst>) -> Row {
        let figure = Figure::whole(Kind::Region, "left floor");
        let trip = |name: &str, mm: f64, worst: Option<Worst>| TripSeen {
            name: name.to_string(),
            day: String::new(),
            operation: String::new(),
            found: BTreeMap::from([(
                figure.clone(),
                Read {
                    worst,
                    ..Read::of(Reading { mm, pm_mm: 0.02 }, 1.5875)
                },
            )]),
        };
        row(&figure, &[trip("trip 1", 0.0, None), trip("trip 2", 0.36, worst)])
    }

    #[test]
    fn a_region_is_not_called_home_over_the_trips_where_its_verdict_is_not_in() {
        let at = |verdict| Some(Worst { verdict, mm: 2.3 });
        let within = floor(None);
        assert_eq!(within.home, Some(Home::Home));
        assert_eq!(within.words, "home");
        let out = floor(at(OUT));
        assert_eq!(out.home, Some(Home::NotHome));
        assert_eq!(out.words, "OUT at its worst spot, 3/32 proud");
        let close = floor(at(TOO_CLOSE));
        assert_eq!(close.home, Some(Home::TooClose));
        assert_eq!(close.words, "too close to call at its worst spot, 3/32 proud");
    }
}
