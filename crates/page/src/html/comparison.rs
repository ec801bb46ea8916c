//! The page of a comparison.

use std::collections::BTreeSet;

use askama::Template;
use cloud::unit::decimal;
use record::figured::TaskRecord;
use record::verdict::IN;
use record::{Record, SetRecord};
use serde_json::Value;

use super::parts::{self, Shown, Verdict};
use super::sheet::{Said, Sheet, can_be_flown_to, sheet};
use super::{FileLine, Frame, over, written};
use crate::given::{CAUTIONS, Given, Picture};
use crate::words::Who;
use crate::{PageError, tables, words};

/// The view that turns: what it draws and what it says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct View {
    /// The points, as [`crate::view::packed()`] makes them.
    pub points: Vec<u8>,
    /// Everything else that the view needs, as JSON.
    pub data_json: String,
}

/// A view as it stands in the page.
struct ViewParts {
    points: String,
    data: String,
    code: &'static str,
    /// Lists of places that can be flown to, besides that of the regions: by these the page keeps room for it.
    lists: usize,
}

struct TaskList<'a> {
    heading: &'static str,
    tasks: Vec<TaskLine<'a>>,
}

struct TaskLine<'a> {
    words: &'a str,
    /// The same with its place.
    told: String,
    /// The name of its picture in the page, or nothing.
    picture: String,
    /// Where the view that turns shows it, or nothing.
    fly: String,
}

struct PointLine<'a> {
    name: &'a str,
    left_over: String,
    used: &'static str,
}

#[derive(Template)]
#[template(path = "comparison.html")]
struct Page<'a> {
    frame: Frame,
    over: String,
    said: Vec<(&'static str, &'a str)>,
    comparison: &'a str,
    against: String,
    verdict: Verdict,
    summary: Vec<String>,
    tasks: Vec<TaskList<'a>>,
    pictures: Vec<Shown>,
    view: Option<ViewParts>,
    tables: Vec<Sheet>,
    sections: Option<Sheet>,
    cuts: Vec<Shown>,
    set_how: Vec<String>,
    points: Vec<PointLine<'a>>,
    sets: Vec<String>,
    warnings: Vec<&'a str>,
    cautions: [&'static str; 3],
    files: Vec<FileLine>,
    roles: bool,
    beside: String,
    settings: Vec<(String, String)>,
    /// Words that a stranger may not know, with what is meant by each.
    glossary: Vec<(&'static str, &'static str)>,
    /// What there is to do where no list says so.
    first: String,
}

/// The page of a comparison, with the view that turns where one is given. Pictures are embedded as they are given: make them
/// small with [`super::for_page`] first.
///
/// # Errors
/// A picture that is no PNG file.
pub fn comparison(given: &Given<'_>, view: Option<&View>) -> Result<String, PageError> {
    let Given {
        about,
        record,
        pictures,
    } = *given;
    let (cuts, whole): (Vec<&Picture>, Vec<&Picture>) =
        pictures.iter().partition(|p| p.file.starts_with("section-"));
    let first_cut = whole.len() + 1;
    let mut pictures = parts::shown(whole.into_iter(), 1)?;
    for picture in &mut pictures {
        picture.is_in = shows_what_is_in(record, picture);
    }
    let cuts = parts::shown(cuts.into_iter(), first_cut)?;
    let said = Said {
        withheld: words::withheld(record),
        mirrored: record.against_image(),
        view: view.is_some(),
    };
    let all = tables::all(record);
    // What is to do and the warnings have parts of their own, where they can be read.
    let own_part = ["work", "warnings", "sections"];
    let page = Page {
        frame: Frame::new(about, &record.comparison, record.program.clone()),
        over: over(about),
        said: parts::said(about),
        comparison: &record.comparison,
        against: against(record),
        verdict: parts::verdict(words::verdict(record)),
        summary: words::summary(record),
        tasks: tasks(record, [&pictures, &cuts], said.view),
        view: view.map(|view| ViewParts {
            points: parts::base64(&view.points),
            data: parts::json_for_script(&view.data_json),
            code: crate::view::CODE,
            lists: lists(&view.data_json),
        }),
        tables: all
            .iter()
            .filter(|t| !own_part.contains(&t.name) && !t.rows.is_empty())
            .map(|t| sheet(t, said))
            .collect(),
        sections: all.iter().find(|t| t.name == "sections").map(|t| sheet(t, said)),
        pictures,
        cuts,
        set_how: words::set_how(record),
        points: points(record),
        sets: [&record.reference, &record.measured].map(words::file_line).into(),
        warnings: warnings(record),
        cautions: CAUTIONS,
        files: files(record),
        roles: true,
        beside: record.files.join(", "),
        settings: settings(record),
        glossary: words::glossary(),
        first: words::first_to_do(record),
    };
    written(&page)
}

/// How many kinds of marks the view lists.
fn lists(data_json: &str) -> usize {
    let data: Value = serde_json::from_str(data_json).unwrap_or_default();
    let marks = data["marks"].as_array().into_iter().flatten();
    let kinds: BTreeSet<&str> = marks.filter_map(|mark| mark["kind"].as_str()).collect();
    kinds.len()
}

/// What was held against what.
pub(super) fn against(record: &Record) -> String {
    if record.mirror.is_some() {
        return format!("{} against its own mirror image", record.measured.name);
    }
    format!("{} against {}", record.measured.name, record.reference.called())
}

/// Whether a picture is of one region, and that region is in: its caption begins with both.
fn shows_what_is_in(record: &Record, picture: &Shown) -> bool {
    let begins = |name: &str| {
        let verdict = picture
            .caption
            .strip_prefix(name)
            .and_then(|rest| rest.strip_prefix(": "));
        verdict
            .and_then(|rest| rest.strip_prefix(IN))
            .is_some_and(|rest| rest.starts_with([',', '.', ';']))
    };
    let of_a_region = picture.file.starts_with("heat-region-");
    of_a_region && record.regions.iter().any(|r| begins(&r.name))
}

fn tasks<'a>(record: &'a Record, pictures: [&[Shown]; 2], view: bool) -> Vec<TaskList<'a>> {
    let line = |who: Who, task: &'a TaskRecord| {
        let own = pictures
            .into_iter()
            .flatten()
            .find(|p| task.picture.as_ref() == Some(&p.file));
        let known = task
            .figure
            .split_once('/')
            .is_some_and(|(table, _)| can_be_flown_to(table));
        let fly = view && known;
        TaskLine {
            words: &task.words,
            told: words::told(record, who, task),
            picture: own.map_or(String::new(), |p| p.id.clone()),
            fly: if fly { task.figure.clone() } else { String::new() },
        }
    };
    words::tasks(record)
        .into_iter()
        .map(|(who, tasks)| TaskList {
            heading: who.heading(record),
            tasks: tasks.into_iter().map(|task| line(who, task)).collect(),
        })
        .collect()
}

fn points(record: &Record) -> Vec<PointLine<'_>> {
    let points = record.setting.points.iter();
    points
        .map(|point| PointLine {
            name: &point.name,
            left_over: format!("{:.2}", point.residual_mm),
            used: if point.used { "yes" } else { "left out" },
        })
        .collect()
}

/// The warnings, each once: one that came of both sets says so by its words.
fn warnings(record: &Record) -> Vec<&str> {
    let mut all: Vec<&str> = Vec::new();
    for warning in &record.warnings {
        if !all.contains(&warning.words.as_str()) {
            all.push(&warning.words);
        }
    }
    all
}

/// The files that had a share; an older record knows those of the two sets only.
fn files(record: &Record) -> Vec<FileLine> {
    if record.inputs.is_empty() {
        let set = |role: &str, set: &SetRecord| FileLine {
            path: set.file.clone(),
            role: role.to_string(),
            size: words::size(set.bytes),
            sha256: set.sha256.clone(),
        };
        return vec![
            set("reference", &record.reference),
            set("measured", &record.measured),
        ];
    }
    let inputs = record.inputs.iter();
    inputs
        .map(|input| FileLine {
            path: input.file.clone(),
            role: input.role.to_string(),
            size: words::size(input.bytes),
            sha256: input.sha256.clone(),
        })
        .collect()
}

fn settings(record: &Record) -> Vec<(String, String)> {
    let made = &record.made_with;
    let mut all = vec![
        ("set by".to_string(), made.set_by.to_string()),
        ("limit".to_string(), words::limit(record)),
        (
            "looked for the other set as far as".to_string(),
            words::length(made.reach_mm),
        ),
        (
            "each figure is averaged over".to_string(),
            format!("{:.1} mm across", 2.0 * made.disc_mm),
        ),
        ("asked for".to_string(), asked(record)),
    ];
    for (name, region) in &made.regions {
        let [low, high] = region
            .corners_mm
            .map(|corner| corner.map(|mm| decimal(mm, 1)).join(", "));
        let words = format!(
            "{}, limit {}, from ({low}) to ({high}) mm",
            region.status,
            words::length(region.limit_mm)
        );
        all.push((format!("region {name}"), words));
    }
    all.push((
        "SHA-256 of all settings".to_string(),
        made.settings_sha256.clone(),
    ));
    all
}

/// What was asked for, besides how far the metal lies off.
fn asked(record: &Record) -> String {
    let asked = &record.made_with.asked;
    let mut all = vec!["how far the metal lies off".to_string()];
    let single = [
        (asked.holes, "holes"),
        (asked.edges, "edges"),
        (asked.shell, "the shell"),
    ];
    all.extend(
        single
            .iter()
            .filter(|(there, _)| *there)
            .map(|(_, what)| what.to_string()),
    );
    let several = [
        ("folds", &asked.folds),
        ("recesses", &asked.recesses),
        ("beads", &asked.beads),
        ("sections", &asked.sections),
        ("checks", &asked.checks),
        ("originals", &asked.originals),
    ];
    for (what, names) in several {
        if !names.is_empty() {
            all.push(format!("{what} ({})", names.join(", ")));
        }
    }
    if let Some(held) = &asked.held {
        all.push(format!("the same part held ({held})"));
    }
    all.join("; ")
}
