//! `trips`: named points and regions over the trips in and out of the jig.

use std::path::Path;

use ::features::trips::Home;
use ::page::xlsx;
use archive::log::Entry;
use archive::tree::refuse_led_out;
use serde_json::json;

use crate::job::Job;
use crate::made_from::{PROGRAM, of_trips};
use crate::progress::Progress;
use crate::put_in_place::{Building, MARK, told_of};
use crate::received::Received;
use crate::stages::tabulate::save;
use crate::trips::{Group, groups, shown};
use crate::trouble::{DONE, NOT_ALL_WITHIN, Trouble};

/// Lays the trips beside each other; 0 where every figure is home and none has stepped, else 1.
pub fn trips(path: &Path, progress: &Progress) -> Result<u8, Trouble> {
    let groups = made(&Job::read(path)?, progress)?;
    let calm = |group: &Group| {
        group
            .rows
            .iter()
            .all(|row| row.steps.is_empty() && row.home == Some(Home::Home))
    };
    Ok(if groups.iter().all(calm) {
        DONE
    } else {
        NOT_ALL_WITHIN
    })
}

/// Writes table and pictures into the job's folder `trips`, and says what they show.
///
/// # Errors
/// Where no trip has anything to show, or nothing can be written.
pub fn made(job: &Job, progress: &Progress) -> Result<Vec<Group>, Trouble> {
    let mut received = Received::told(&job.folder, progress)?;
    let measured = of_trips(job)?;
    received.refuse_changed(&measured)?;
    let groups = groups(job, &received.entries, &mut |words| progress.warning(&words))?;
    let place = job.folder.join("trips");
    refuse_led_out(&job.folder, &place)?;
    written(job, &groups, &received.entries, &place, progress)
        .map_err(|trouble| told_of(&place, &trouble))?;
    received.note_new(&measured)?;
    progress.result(&format!("  picture and table: {}", place.display()));
    Ok(groups)
}

fn written(
    job: &Job,
    groups: &[Group],
    entries: &[Entry],
    place: &Path,
    progress: &Progress,
) -> Result<(), Trouble> {
    let building = Building::begin(place)?;
    let sheet = shown::sheet(groups);
    let said = [
        ("job".to_string(), job.name.clone()),
        ("made by".to_string(), PROGRAM.to_string()),
    ];
    let workbook = xlsx::workbook(std::slice::from_ref(&sheet), &said)
        .map_err(|e| Trouble::system("making the workbook", &e))?;
    let mut files = vec![MARK.to_string()];
    let mut pictures = Vec::new();
    for (name, bytes) in [("trips.csv", sheet.csv().as_bytes()), ("trips.xlsx", &workbook)] {
        save(&building.path().join(name), bytes)?;
        files.push(name.to_string());
    }
    for group in groups {
        for (name, png) in shown::pictures(group, &job.name)? {
            save(&building.path().join(&name), &png)?;
            files.push(name);
        }
        let metal = shown::metal::metal(job, group, entries, &mut |words| progress.warning(&words))?;
        for picture in metal.into_pictures() {
            save(&building.path().join(&picture.file), &picture.png)?;
            pictures.push(json!({ "file": picture.file, "caption": picture.caption }));
            files.push(picture.file);
        }
        progress.result(&shown::table(group));
    }
    let mut record = serde_json::to_vec_pretty(&record(groups, &files, &pictures))
        .map_err(|e| Trouble::system("writing result.json", &e))?;
    record.push(b'\n');
    save(&building.path().join(MARK), &record)?;
    building.finish()
}

fn record(groups: &[Group], files: &[String], pictures: &[serde_json::Value]) -> serde_json::Value {
    let groups: Vec<_> = groups
        .iter()
        .map(|group| {
            let rows: Vec<_> = group
                .rows
                .iter()
                .map(|row| {
                    json!({
                        "name": row.series.what,
                        "limit_mm": row.series.limit_mm,
                        "readings": row.series.readings.iter().map(|r| r.map(|r| json!({ "mm": r.mm, "pm_mm": r.pm_mm }))).collect::<Vec<_>>(),
                        "steps": row.steps.iter().map(|s| json!({
                            "from": group.trips[s.from].name,
                            "to": group.trips[s.to].name,
                            "by_mm": s.by_mm,
                            "pm_mm": s.pm_mm,
                        })).collect::<Vec<_>>(),
                        "words": row.words,
                    })
                })
                .collect();
            let trips: Vec<_> = group
                .trips
                .iter()
                .map(|trip| json!({ "name": trip.name, "day": trip.day, "done_before": trip.operation }))
                .collect();
            json!({ "like": group.name, "trips": trips, "figures": rows })
        })
        .collect();
    json!({ "schema": 1, "program": PROGRAM, "groups": groups, "files": files, "pictures": pictures })
}
