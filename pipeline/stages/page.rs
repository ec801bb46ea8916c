//! Makes what he prints and sends: page.html, page.pdf, the bench's and the supplier's sheet, tables.xlsx and view.glb.

use std::path::Path;

use ::page::html::{self, View};
use ::page::scene::Scene;
use ::page::words::{self, Who};
use ::page::{About, Given, Picture, glb, pdf, tables, thin, view, xlsx};
use archive::Fingerprint;
use cloud::Point;
use rayon::prelude::*;
use record::Record;

use super::compare::Compared;
use super::register::Setting;
use super::scale::Scaled;
use super::tabulate::save;
use crate::trouble::Trouble;

/// Most points of the reference and of the measured set that a page looks at; of them it takes what fits into a page that goes by
/// mail.
const SHOWN: [usize; 2] = [900_000, 600_000];
/// Points of both in view.glb, which other programs open too, and not all of them at ease.
const IN_GLB: [usize; 2] = [90_000, 45_000];
/// Where trips stand: the workbook is made of one comparison, whichever trips its job has had or will have.
const TRIPS: &str = "figures of places and regions from trip to trip are not here: where the job has trips, see trips/trips.xlsx in its folder";

/// The files that are made of a comparison whose record is otherwise complete.
pub fn files(record: &Record) -> Vec<String> {
    let mut files = vec!["page.html", "page.pdf", "tables.xlsx", "view.glb"];
    let tasks = words::tasks(record);
    for (who, file) in [(Who::Shop, "bench.pdf"), (Who::Maker, "supplier.pdf")] {
        if tasks.iter().any(|(one, tasks)| *one == who && !tasks.is_empty()) {
            files.push(file);
        }
    }
    files.into_iter().map(String::from).collect()
}

/// Writes them into `folder`, where the pictures are; `json` is the result.json that will stand beside them.
///
/// # Errors
/// Where a picture can't be read again, or a page can't be written.
pub fn write(
    folder: &Path,
    about: &About,
    record: &Record,
    json: &[u8],
    scene: Scene,
) -> Result<(), Trouble> {
    let pictures = pictures(folder, record)?;
    let given = Given {
        about,
        record,
        pictures: &pictures,
    };
    let sha256 = Fingerprint::of_bytes(json).sha256;
    let limit_mm = record.made_with.limit_mm;
    let failed = |e| Trouble::system("making the page", &e);
    let shown = View {
        points: view::packed(&scene, view::MOST_BYTES).map_err(failed)?,
        data_json: view::data(record),
    };
    let few = thin::thinned(scene, IN_GLB[0], IN_GLB[1]);
    let glb = glb::write(&few, limit_mm, view::end_mm(limit_mm), &record.comparison).map_err(failed)?;
    let paper = about.paper;
    let made = files(record).into_par_iter().map(|name| {
        let bytes = match name.as_str() {
            "page.html" => html::comparison(&given, Some(&shown)).map(String::into_bytes),
            "page.pdf" => pdf::comparison(&given, &sha256, paper),
            "bench.pdf" => pdf::bench(&given, &sha256, paper),
            "supplier.pdf" => pdf::supplier(&given, &sha256, paper),
            "tables.xlsx" => xlsx::workbook(&tables::all(record), &said(about, record)),
            _ => Ok(glb.clone()),
        };
        save(&folder.join(&name), &bytes.map_err(failed)?)
    });
    made.collect()
}

/// The pictures of a folder of results, as pages show them.
///
/// # Errors
/// Where one can't be read.
pub fn pictures(folder: &Path, record: &Record) -> Result<Vec<Picture>, Trouble> {
    let read = record.pictures.par_iter().map(|picture| {
        let path = folder.join(&picture.file);
        let png = std::fs::read(&path).map_err(|e| Trouble::from(formats::FormatError::io(&path, &e)))?;
        html::for_page(&Picture {
            file: picture.file.clone(),
            caption: picture.caption.clone(),
            png,
        })
        .map_err(|e| Trouble::system("making the page", &e))
    });
    read.collect()
}

fn said(about: &About, record: &Record) -> Vec<(String, String)> {
    let said = [
        ("job", about.job.as_str()),
        ("shell or panel", &about.shell),
        ("shop", &about.shop),
        ("measured by", &about.measured_by),
        ("comparison", &record.comparison),
        ("measured set", &record.measured.file),
        ("reference", &record.reference.file),
        ("set by", &record.setting.words),
        ("made by", &record.program),
        ("trips", TRIPS),
    ];
    said.into_iter()
        .filter(|(_, words)| !words.is_empty())
        .map(|(what, words)| (what.to_string(), words.to_string()))
        .collect()
}

/// What the view shows of a comparison.
pub fn scene(scaled: &Scaled, setting: &Setting, compared: &Compared) -> Scene {
    let reference = &scaled.reference;
    let mut region = vec![0u16; reference.points().len()];
    for (k, of) in compared.regions.iter().enumerate() {
        for &i in &of.members {
            region[i as usize] = (k + 1).min(usize::from(u16::MAX)) as u16;
        }
    }
    let short = |v: &cloud::Vector| [v.x as f32, v.y as f32, v.z as f32];
    let place = |p: &Point| short(&p.coords);
    let scene = Scene {
        points_mm: reference.points().iter().map(place).collect(),
        normals: reference.normals().iter().map(short).collect(),
        deviation_mm: compared
            .smoothed
            .iter()
            .map(|s| s.map_or(0.0, |(mm, _)| mm as f32))
            .collect(),
        pm_mm: compared
            .smoothed
            .iter()
            .map(|s| s.map_or(0.0, |(_, pm)| pm as f32))
            .collect(),
        state: compared
            .deviations
            .codes()
            .into_iter()
            .zip(&compared.smoothed)
            // What could not be averaged is not shown as if nothing were off.
            .map(|(code, smoothed)| if code == 0 && smoothed.is_none() { 2 } else { code })
            .collect(),
        region,
        faces: reference.cloud.faces.clone(),
        measured_mm: scaled
            .measured
            .points()
            .iter()
            .map(|p| place(&setting.reference_from_measured.apply(p)))
            .collect(),
        spacing_mm: reference.spacing_mm as f32,
    };
    thin::thinned(scene, SHOWN[0], SHOWN[1])
}
