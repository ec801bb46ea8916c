//! The printed pages as PDF: a comparison, the hand-over page for the next shop, the supplier's sheet and the bench sheet.
//!
//! A page is first laid out on sheets as plain values (`sheet`, `flow`, `grid`), which tests can look at, and then written with
//! ink (`ink`, the only door to the PDF library). Every sheet fits A4 and Letter alike, and says nothing by colour alone.

mod bench;
mod comparison;
mod face;
mod figure;
mod flow;
mod grid;
mod hand_over;
mod ink;
mod pictures;
pub(crate) mod place;
mod printed;
mod sheet;
mod supplier;
mod tape;

pub use bench::bench;
pub use comparison::comparison;
pub use hand_over::hand_over;
pub use sheet::Paper;
pub use supplier::supplier;

use record::Record;

use crate::{CAUTIONS, Given, words};
use flow::Flow;
use sheet::Sign;

/// What stands at the head and the foot of every sheet.
#[derive(Debug, Clone, Copy)]
struct Margins<'a> {
    job: &'a str,
    part: &'a str,
    /// What kind of page it is, for the title of the file.
    kind: &'a str,
    /// The program that made the record.
    program: &'a str,
    result_sha256: &'a str,
}

/// What the head and the foot say of a comparison; a job without a name has that of its comparison.
fn margins<'a>(given: &Given<'a>, kind: &'a str, result_sha256: &'a str) -> Margins<'a> {
    let record = given.record;
    let job = match given.about.job.as_str() {
        "" => record.comparison.as_str(),
        job => job,
    };
    Margins {
        job,
        part: &record.comparison,
        kind,
        program: &record.program,
        result_sha256,
    }
}

/// The verdict over everything and the limit that it was held against, behind the shape of the verdict.
fn verdict(flow: &mut Flow<'_>, record: &Record) {
    let said = words::verdict(record);
    let style = flow.body().sized(1.4 * flow.body().size_pt).bold();
    flow.signed(
        Sign::of(said),
        &format!("{said} (limit: {})", words::limit(record)),
        style,
    );
}

/// The cautions that every printed page carries.
fn cautions(flow: &mut Flow<'_>, heading: &str) {
    let small = flow.body().sized(7.5);
    let bold = small.sized(9.5).bold();
    let all: f32 = CAUTIONS.iter().map(|c| flow.height_mm(c, small)).sum();
    flow.gap(bold.line_mm());
    flow.keep_together(all + 2.0 * bold.line_mm());
    flow.paragraph(heading, bold);
    for caution in CAUTIONS {
        flow.paragraph(caution, small);
    }
}

/// The words that are used so far and that a stranger may not know, one behind the other to save room.
fn glossary(flow: &mut Flow<'_>) {
    let small = flow.body().sized(7.5);
    let bold = small.sized(9.5).bold();
    let used = words::used_in(&flow.said()).into_iter();
    let said: Vec<String> = used.map(|(word, meaning)| format!("{word}: {meaning}")).collect();
    if said.is_empty() {
        return;
    }
    let said = said.join(" · ");
    flow.gap(bold.line_mm());
    flow.keep_together(flow.height_mm(&said, small) + 2.0 * bold.line_mm());
    flow.paragraph("Words on these sheets", bold);
    flow.paragraph(&said, small);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{About, PageError, Picture, made};

    type Page = fn(&Given<'_>, &str, Paper) -> Result<Vec<u8>, PageError>;

    #[test]
    fn every_page_is_a_pdf_and_the_same_bytes_twice() {
        let (about, record) = (made::about(), made::record());
        let shown = [made::picture("heat-plan.png", "seen from above")];
        let given = Given {
            about: &about,
            record: &record,
            pictures: &shown,
        };
        let mut all = Vec::new();
        for page in [comparison as Page, supplier, bench] {
            for paper in [Paper::A4, Paper::Letter] {
                let first = page(&given, "0123456789abcdef", paper).unwrap();
                assert!(first.starts_with(b"%PDF"));
                assert_eq!(first, page(&given, "0123456789abcdef", paper).unwrap());
                assert!(!String::from_utf8_lossy(&first).contains("CreationDate"));
                assert!(!all.contains(&first));
                all.push(first);
            }
        }
    }

    #[test]
    fn a_picture_that_is_none_is_named() {
        let (about, record) = (About::default(), made::record());
        let shown = [Picture {
            png: b"no picture".to_vec(),
            ..made::picture("heat-plan.png", "")
        }];
        let given = Given {
            about: &about,
            record: &record,
            pictures: &shown,
        };
        let told = comparison(&given, "", Paper::A4).unwrap_err();
        assert!(told.0.contains("heat-plan.png"), "{told}");
    }
}
