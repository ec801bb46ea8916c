//! Figures over the trips in and out of the jig: what each trip read, the steps between them, and what was done before a step.

pub mod figures;
pub mod probed;
pub mod shown;

use std::collections::BTreeMap;

use ::features::trips::{Home, Series, Step, creep, since, steps};
use archive::log::{Entry, operations_between};
use record::verdict::NOT_MEASURED;

use figures::{Figure, Read, home_by};

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
    let read: Vec<Option<&Read>> = trips.iter().map(|trip| trip.found.get(figure)).collect();
    let limit_mm = read
        .iter()
        .flatten()
        .map(|read| read.limit_mm)
        .fold(f64::INFINITY, f64::min);
    let last = read.iter().rev().find_map(|read| *read);
    let series = Series {
        what: figure.words(),
        limit_mm,
        readings: read.iter().map(|read| read.map(|read| read.reading)).collect(),
    };
    let steps = steps(&series);
    let home = last.map(|read| home_by(read.verdict(limit_mm)));
    let words = words(figure, &series, &steps, last, trips);
    Row {
        figure: figure.clone(),
        series,
        steps,
        home,
        words,
    }
}

/// `not home, 3/32 up since trip 7 (welded the right bar)`.
fn words(
    figure: &Figure,
    series: &Series,
    steps: &[Step],
    last: Option<&Read>,
    trips: &[TripSeen],
) -> String {
    let Some(last) = last else {
        return NOT_MEASURED.to_string();
    };
    let by_reading = || figure.stands(last.verdict(series.limit_mm), &last.reading);
    let stands = last.words.clone().unwrap_or_else(by_reading);
    let done = |trip: usize| match trips[trip].operation.as_str() {
        "" => String::new(),
        words => format!(" ({words})"),
    };
    match (since(series, steps), steps.last(), creep(series)) {
        (Some(trip), ..) => format!("{stands} since {}{}", trips[trip].name, done(trip)),
        // Where the way out was not surely seen, and the way back was, the trip between stands out.
        (None, Some(only), _) if steps.len() == 1 => format!(
            "{stands}; it stood {} at {} and was back at {}",
            figure.size(-only.by_mm),
            trips[only.from].name,
            trips[only.to].name
        ),
        (None, Some(last), _) => format!(
            "{stands}; it stepped {} at {}{} and was back at {}",
            figure.size(steps[0].by_mm),
            trips[steps[0].to].name,
            done(steps[0].to),
            trips[last.to].name
        ),
        (None, None, Some(creep)) => format!(
            "{stands}; it crept {} from {} to {}",
            figure.size(creep.by_mm),
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
    use record::verdict::{IN, OUT};

    /// A hole that stepped 3 rearward, of which the comparison of the last trip gives a verdict and words or does not.
    fn hole(verdict: Option<&'static str>, words: Option<&str>) -> Row {
        let figure = Figure::along(Kind::Place, "H3", 0);
        let trip = |name: &str, mm: f64| TripSeen {
            name: name.to_string(),
            day: String::new(),
            operation: String::new(),
            found: BTreeMap::from([(
                figure.clone(),
                Read {
                    verdict,
                    words: words.map(str::to_string),
                    ..Read::of(Reading { mm, pm_mm: 0.2 }, 1.5875)
                },
            )]),
        };
        row(&figure, &[trip("trip 1", 0.0), trip("trip 2", 3.175)])
    }

    #[test]
    fn what_was_surely_seen_only_to_come_back_is_told_at_the_trip_that_stands_out() {
        let figure = Figure::along(Kind::Place, "H4", 1);
        let trip = |name: &str, mm: f64, pm_mm: f64| TripSeen {
            name: name.to_string(),
            day: String::new(),
            operation: String::new(),
            found: BTreeMap::from([(figure.clone(), Read::of(Reading { mm, pm_mm }, 1.5875))]),
        };
        let trips = [
            trip("trip 5", 0.2, 1.2),
            trip("trip 6", 2.5, 0.4),
            trip("trip 7", 0.0, 0.4),
        ];
        assert_eq!(
            row(&figure, &trips).words,
            "home; it stood 3/32 right at trip 6 and was back at trip 7"
        );
    }

    #[test]
    fn what_the_comparison_says_of_a_figure_the_trips_say_too() {
        let by_reading = hole(None, None);
        assert_eq!(by_reading.home, Some(Home::NotHome));
        assert_eq!(by_reading.words, "not home, 1/8 rearward since trip 2");
        let by_comparison = hole(Some(OUT), Some("not home, 1/2 hole, 1/8 rearward, 1/16 shy"));
        assert_eq!(by_comparison.home, Some(Home::NotHome));
        assert_eq!(
            by_comparison.words,
            "not home, 1/2 hole, 1/8 rearward, 1/16 shy since trip 2"
        );
        let goes = hole(
            Some(IN),
            Some("a 7/16 bolt goes through both as they lie, 1/32 to spare"),
        );
        assert_eq!(goes.home, Some(Home::Home));
        assert!(
            goes.words
                .starts_with("a 7/16 bolt goes through both as they lie")
        );
    }
}
