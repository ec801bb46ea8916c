//! The bench sheet: what to shim, trim and dress, large enough to be read with gloves on at arm's length.

use cloud::unit::fraction_of_inch;
use record::figured::TaskRecord;
use record::verdict::CANT_TELL;
use record::{PadRecord, Record};

use crate::tables::trims::{Amount, amounts};
use crate::words::{self, Who};
use crate::{Given, PageError};

use super::face::Faces;
use super::flow::Flow;
use super::grid::{Column, Entry, Grid};
use super::sheet::{Laid, Paper, Sign, WIDTH_MM};
use super::{cautions, ink, margins, place};

/// Size of the type, in points.
const LARGE: f32 = 17.0;
/// The picture that shows where the pads of a region are is at most so high, and with its heading and the first pads takes so
/// much of a sheet, mm.
const PADS_MM: f32 = 110.0;
const WITH_PADS_MM: f32 = 150.0;

/// The sheet for the bench as PDF.
///
/// # Errors
/// Where a picture is no PNG, or the type can't be read, which is a fault of the program.
pub fn bench(given: &Given<'_>, result_sha256: &str, paper: Paper) -> Result<Vec<u8>, PageError> {
    let faces = Faces::new()?;
    let laid = lay(given, result_sha256, &faces)?;
    ink::write(&laid, &faces, paper)
}

fn lay<'a>(given: &Given<'a>, result_sha256: &str, faces: &'a Faces) -> Result<Laid<'a>, PageError> {
    let record = given.record;
    let mut flow = Flow::new(faces, LARGE);
    let body = flow.body();
    flow.paragraph(&record.comparison, body.sized(22.0).bold());
    flow.paragraph(&format!("Limit: {}", words::limit(record)), body.sized(16.0));
    let all = words::tasks(record);
    let tasks = all
        .iter()
        .filter(|(who, _)| *who == Who::Shop)
        .flat_map(|(_, tasks)| tasks);
    let mut any = false;
    for task in tasks {
        any = true;
        flow.gap(2.0);
        match shims(record, task) {
            Some((region, pads, besides)) => {
                let picture = given
                    .pictures
                    .iter()
                    .find(|p| task.picture.as_ref() == Some(&p.file));
                if picture.is_some() {
                    flow.keep_together(WITH_PADS_MM);
                }
                flow.heading(&format!("{region}: shims"));
                if let Some(picture) = picture {
                    flow.picture_alone(picture, [WIDTH_MM, PADS_MM], 0.0)?;
                }
                flow.grid(&shim_list(pads));
                if let Some(besides) = besides {
                    flow.paragraph(besides, body);
                }
            }
            None => flow.signed(
                Sign::Tick,
                &place::placed(&task.words, place::of_task(record, task)),
                body,
            ),
        }
    }
    if !any {
        flow.gap(2.0);
        let said = words::verdict(record);
        flow.signed(
            Sign::of(said),
            &format!("Nothing to do at the bench; verdict: {said}."),
            body,
        );
    }
    if let Some(list) = trim_list(&amounts(record)) {
        flow.gap(2.0);
        flow.heading("Trim list, in all");
        flow.grid(&list);
    }
    cautions(&mut flow, "Cautions");
    Ok(flow.finish(&margins(given, "bench sheet", result_sha256)))
}

/// The pads of a task that moves a region by them, which are read better one under the other, and what it says besides.
fn shims<'r>(
    record: &'r Record,
    task: &'r TaskRecord,
) -> Option<(&'r str, &'r [PadRecord], Option<&'r str>)> {
    let name = task.figure.strip_prefix("regions/")?;
    let region = record.regions.iter().find(|r| r.name == name)?;
    let pads = region.shift.as_ref()?.pads.as_slice();
    let words = task.words.strip_prefix(name)?.strip_prefix(": ")?;
    // What else is told of a region, such as that its pads don't hold a lean, or what is dressed in it, is told in its own words.
    let of_pad = |pad: &PadRecord| words.starts_with(&format!("{} at {}", pad.words, pad.name));
    let besides = words.split_once("; ").map(|(_, besides)| besides);
    pads.iter().any(of_pad).then_some((name, pads, besides))
}

/// One pad a row, each with a place to tick where there is something to do.
fn shim_list(pads: &[PadRecord]) -> Grid {
    let row = |pad: &PadRecord| -> Vec<Entry> {
        let still = matches!(pad.words.as_str(), "home" | CANT_TELL);
        let what = Entry {
            words: pad.words.clone(),
            sign: (!still).then_some(Sign::Tick),
        };
        vec![pad.name.clone().into(), what, words::pm(pad.pm_mm).into()]
    };
    Grid {
        columns: vec![Column::words("pad"), Column::words("do"), Column::figures("±")],
        rows: pads.iter().map(row).collect(),
        size_pt: 16.0,
    }
}

/// What is to be cut off and what is missing, by the amount and in all; where it is one stretch its task says it.
fn trim_list(amounts: &[Amount]) -> Option<Grid> {
    let stretches: usize = amounts
        .iter()
        .filter(|a| a.by.is_some())
        .map(|a| a.stretches)
        .sum();
    let row = |amount: &Amount| -> Vec<Entry> {
        vec![
            amount.what.words().into(),
            amount.by.as_deref().unwrap_or("in all").into(),
            fraction_of_inch(amount.over_mm, 2).into(),
            amount.stretches.to_string().into(),
        ]
    };
    (stretches > 1).then(|| Grid {
        columns: vec![
            Column::words("do"),
            Column::figures("by (in)"),
            Column::figures("over (in)"),
            Column::figures("stretches"),
        ],
        rows: amounts.iter().map(row).collect(),
        size_pt: 16.0,
    })
}

#[cfg(test)]
mod tests {
    use super::super::sheet::Mark;
    use super::*;
    use crate::made;

    fn given_of<'a>(about: &'a crate::About, record: &'a Record) -> Given<'a> {
        Given {
            about,
            record,
            pictures: &[],
        }
    }

    fn ticks(laid: &Laid<'_>) -> usize {
        let marks = laid.sheets.iter().flat_map(|s| &s.marks);
        marks
            .filter(|m| matches!(m, Mark::Sign { sign: Sign::Tick, .. }))
            .count()
    }

    #[test]
    fn each_task_of_the_shop_and_each_pad_has_a_box_to_tick_and_large_type() {
        let (about, record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        let laid = lay(&given_of(&about, &record), "", &faces).unwrap();
        laid.assert_tidy();
        assert_eq!(laid.sheets.len(), 1);
        assert_eq!(ticks(&laid), 2);
        let large = |words: &str| {
            laid.sheets[0].marks.iter().any(|mark| match mark {
                Mark::Words { words: w, style, .. } => w.contains(words) && style.size_pt >= 16.0,
                _ => false,
            })
        };
        for words in [
            "front inner",
            "take 3/16 of shim out",
            "open it out to 1-1/2",
            "Limit: within 1/16",
        ] {
            assert!(large(words), "{words}");
        }
        assert!(
            !laid.words().contains("in its place"),
            "the supplier's task is not the bench's"
        );
    }

    #[test]
    fn what_the_pads_of_a_region_leave_unsaid_is_told() {
        let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        let said = |record: &Record| lay(&given_of(&about, record), "", &faces).unwrap().words();
        let own = "take 3/16 of shim out at front inner";
        assert!(!said(&record).contains(own), "the list has it");
        record.work[0].words += "; hole H6 comes home with it";
        assert!(said(&record).contains("hole H6 comes home with it") && !said(&record).contains(own));
        let leans = "3/32 high in the middle and leaning, and its pads don't hold the lean";
        record.work[0].words = format!("right <floor>: {leans}");
        record.regions[0].shift.as_mut().unwrap().pads[0].words = "home".to_string();
        assert!(said(&record).contains(leans), "{}", said(&record));
    }

    #[test]
    fn where_the_pads_of_a_region_are_is_shown_beside_its_shims() {
        let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        let pictures = [
            made::picture("heat-plan.png", ""),
            made::picture("heat-region-right--floor-.png", ""),
        ];
        let shown = |record: &Record| -> Vec<String> {
            let given = Given {
                about: &about,
                record,
                pictures: &pictures,
            };
            let laid = lay(&given, "", &faces).unwrap();
            laid.assert_tidy();
            laid.pictures.iter().map(|(name, _)| name.to_string()).collect()
        };
        record.work[0].picture = Some("heat-region-right--floor-.png".to_string());
        assert_eq!(shown(&record), ["heat-region-right--floor-.png"]);
        record.regions[0].shift.as_mut().unwrap().pads.clear();
        assert!(shown(&record).is_empty());
    }

    #[test]
    fn a_hole_is_told_with_its_place() {
        let (about, record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        let laid = lay(&given_of(&about, &record), "", &faces).unwrap();
        let told = "open it out to 1-1/2. Where: from the reference's zero: 21-1/2";
        assert!(laid.words().contains(told), "{}", laid.words());
    }

    #[test]
    fn lengths_to_trim_are_told_in_all_where_there_are_several() {
        let (about, record, faces) = (made::about(), crate::tables::trims::made(), Faces::new().unwrap());
        let laid = lay(&given_of(&about, &record), "", &faces).unwrap();
        laid.assert_tidy();
        let words = laid.words();
        for told in [
            "Trim list, in all",
            "trim off",
            "7/32",
            "20",
            "add, or live with it",
        ] {
            assert!(words.contains(told), "{told}\n{words}");
        }
        let one = &amounts(&record)[1..2];
        assert_eq!((one[0].stretches, trim_list(one)), (1, None));
    }

    #[test]
    fn where_nothing_is_to_be_done_the_verdict_stands_there() {
        let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        record.work.clear();
        record.verdict = "within".into();
        let laid = lay(&given_of(&about, &record), "", &faces).unwrap();
        assert_eq!(ticks(&laid), 0);
        assert!(laid.words().contains("Nothing to do at the bench; verdict: in."));
    }

    #[test]
    fn a_long_list_goes_on_over_sheets() {
        let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
        let task = record.work[1].clone();
        record.work.extend(std::iter::repeat_n(task, 40));
        let laid = lay(&given_of(&about, &record), "", &faces).unwrap();
        laid.assert_tidy();
        assert_eq!(ticks(&laid), 42);
        assert!(laid.sheets.len() >= 2);
    }
}
