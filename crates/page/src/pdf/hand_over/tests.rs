//! The hand-over page holds its ten points on two sheets, however long the record is.

use record::figured::ShellRecord;

use super::super::tape::made_place;
use super::*;
use crate::made;

const SUM: &str = "a81caa495f1b3269c63cb028580ebee8a6b4fd9f71feeaecc2e252758a86a74b";

fn shell(name: &str) -> ShellRecord {
    ShellRecord {
        name: name.to_string(),
        reference_mm: 0.18,
        measured_mm: 4.87,
        off_mm: 4.69,
        pm_mm: 0.57,
        limit_mm: Some(3.175),
        verdict: "outside".into(),
        words: "rock 3/16, left front and right rear up".to_string(),
    }
}

/// A record with everything that the page prints; `times` makes it long.
fn full(times: usize) -> Record {
    let mut record = made::record();
    let corners = [
        ("H1", 0.0, 0.0),
        ("H2", 0.0, 711.0),
        ("H5", 1930.0, 0.0),
        ("H6", 1930.0, 787.0),
    ];
    record.places = corners
        .map(|(name, x, y)| made_place(name, [x, y, 500.0]))
        .to_vec();
    record.shell = (0..times).map(|k| shell(&format!("rock {k}"))).collect();
    let mut odd = record.work[0].clone();
    odd.who = Who::Record.word().into();
    odd.words = "left cross bar: 5/16 rearward of the other side: as found".to_string();
    record.work.extend(std::iter::repeat_n(odd, times));
    let region = record.regions[0].clone();
    record.regions.extend(std::iter::repeat_n(region, times));
    record
}

fn printed(about: &About, record: &Record, files: &[(String, u64, String)], check: impl Fn(&Laid<'_>)) {
    let faces = Faces::new().unwrap();
    let pictures = [
        made::picture("heat-left.png", "from the left"),
        made::picture("heat-rear.png", "from the rear"),
        made::picture("heat-plan.png", "from above"),
    ];
    let chosen = Given {
        about,
        record,
        pictures: &pictures,
    };
    let refused = [("years later".to_string(), "too little in common".to_string())];
    let comparisons = [chosen];
    let job = GivenJob {
        about,
        comparisons: &comparisons,
        standings: &[],
        refused: &refused,
        trips: None,
        files,
        log: &[],
    };
    let laid = lay(&job, &chosen, SUM, &faces).unwrap();
    laid.assert_tidy();
    check(&laid);
    let pdf = hand_over(&job, &chosen, SUM, Paper::A4).unwrap();
    assert!(pdf.starts_with(b"%PDF"));
    assert_eq!(pdf, hand_over(&job, &chosen, SUM, Paper::A4).unwrap());
}

#[test]
fn the_ten_points_stand_on_at_most_two_sheets() {
    let files = [("sets/as-found.ply".to_string(), 15_412_719, SUM.to_string())];
    printed(&made::about(), &full(1), &files, |laid| {
        assert!(laid.sheets.len() <= SHEETS);
        let files: Vec<&str> = laid.pictures.iter().map(|p| p.0).collect();
        assert_eq!(files, ["heat-plan.png", "heat-left.png"]);
        let words = laid.words();
        for told in [
            "1 Job and shell",
            "number <7>",
            "2 State",
            "20 °C",
            "3 How it was set",
            "Left alone: boot floor.",
            "front ±0.10 mm, rear ±0.33 mm",
            "4 Seen from above",
            "5 Figures",
            "3/16 (4.9 mm)",
            "6 Regions",
            "7 Oddities",
            "5/16 rearward of the other side",
            "not mended: right <floor>: take 3/16 of shim out at front inner",
            "could not be done: years later: too little in common",
            "8 Tape sheet",
            "your tape",
            "9 Archive",
            "15.4 MB",
            "10 Cautions",
            "Rules checked",
            "handed over by, day",
        ] {
            assert!(words.contains(told), "{told}\n{words}");
        }
    });
}

#[test]
fn a_long_record_is_shortened_and_says_so() {
    let files: Vec<(String, u64, String)> = (0..80)
        .map(|k| {
            (
                format!("results/handed over/file number {k}.csv"),
                1000,
                SUM.to_string(),
            )
        })
        .collect();
    printed(&About::default(), &full(60), &files, |laid| {
        assert_eq!(laid.sheets.len(), SHEETS);
        let words = laid.words();
        for told in [
            "more rows (",
            "in page.html and tables.xlsx of floor <1>",
            "more of these in page.html of floor <1>",
            "more files in page.html of the job",
        ] {
            assert!(words.contains(told), "{told}\n{words}");
        }
    });
}

#[test]
fn both_diagonals_are_on_the_tape_sheet() {
    let record = full(1);
    let read = tape::readings(&record.places, TAPED);
    assert_eq!((read[0].from, read[0].to), ("H1", "H6"));
    assert_eq!((read[1].from, read[1].to), ("H2", "H5"));
}

#[test]
fn what_is_out_is_printed_before_what_is_in_and_faults_before_oddities() {
    let mut record = full(40);
    for (k, figure) in record.shell.iter_mut().enumerate() {
        figure.verdict = ["within", "too-close", "outside"][k % 3].into();
    }
    for region in record.regions.iter_mut().skip(3) {
        region.verdict = "within".into();
    }
    let last = record.regions.len() - 1;
    record.regions[last].verdict = "outside".into();
    record.regions[last].name = "last of all".to_string();
    printed(&made::about(), &record, &[], |laid| {
        let words = laid.words();
        let at = |what: &str| words.find(what).unwrap();
        assert!(at("rock 2 ") < at("rock 5 "));
        assert!(!words.contains("rock 0 "), "{words}");
        assert!(words.contains("last of all"));
        let unknown = at("could not be done");
        assert!(at("not mended: right <floor>") < unknown);
        assert!(words.find("as found").is_none_or(|oddity| oddity > unknown));
        assert!(words.contains(" in) in page.html and tables.xlsx"), "{words}");
    });
}

#[test]
fn it_says_whether_what_is_shown_counts_now() {
    let (about, record, faces) = (made::about(), full(1), Faces::new().unwrap());
    let mut later = full(1);
    later.comparison = "measured again".to_string();
    later.measured.name = "another set".to_string();
    let mut panel = full(1);
    panel.comparison = "boot side".to_string();
    panel.reference.name = "a good one".to_string();
    let comparisons = [&record, &later, &panel].map(|record| Given {
        about: &about,
        record,
        pictures: &[],
    });
    let days = ["2026-10-02", "2026-10-05", "2026-10-05"].map(|day| Some(day.to_string()));
    let standings = crate::given::standings(&comparisons, &days);
    let job = GivenJob {
        about: &about,
        comparisons: &comparisons,
        standings: &standings,
        refused: &[],
        trips: None,
        files: &[],
        log: &[],
    };
    let words = |k: usize| lay(&job, &comparisons[k], SUM, &faces).unwrap().words();
    let earlier = words(0);
    assert!(earlier.contains(", measured 2026-10-02. It is earlier: replaced by measured again"));
    assert!(words(1).contains("Shown here: measured again, measured 2026-10-05. It counts now."));
    assert!(words(1).contains("count now besides: boot side (OUT)."));
}
