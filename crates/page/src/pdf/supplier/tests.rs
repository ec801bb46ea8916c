//! That the sheet holds every figure, that which a rule tells first.

use super::rows::rows_of;
use super::*;
use crate::made;

#[test]
fn one_sheet_with_each_task_its_figure_and_a_place_to_write() {
    let (about, record, faces) = (made::about(), made::record(), Faces::new().unwrap());
    let pictures = [made::picture("heat-plan.png", "from above")];
    let given = Given {
        about: &about,
        record: &record,
        pictures: &pictures,
    };
    let laid = lay(&given, "0123456789abcdef", &faces).unwrap();
    laid.assert_tidy();
    assert_eq!((laid.sheets.len(), laid.pictures.len()), (1, 1));
    let printed = laid.words();
    for words in [
        "hole 1: 1-3/8",
        "21-1/2 rearward",
        "1-1/2 (38.1",
        "1-3/8 (35.0",
        "OUT (1): hole 1.",
        "±0.09 mm",
        "you read",
        "floor & sills was measured and laid on as \"found\"",
        "Positions only.",
    ] {
        assert!(printed.contains(words), "{words}\n{printed}");
    }
    assert!(
        !printed.contains("open it out"),
        "the shop's task is not the supplier's"
    );
}

#[test]
fn a_spot_does_not_stand_beside_the_figure_of_another() {
    let record = made::record();
    let mut task = record.work[2].clone();
    task.figure = "regions/right <floor>".to_string();
    let is = |task: &TaskRecord| format!("{:?}", rows_of(&record, task));
    task.words = "right <floor>: 3/16 high".to_string();
    assert!(is(&task).contains("proud at most"), "{}", is(&task));
    task.words = "right <floor>: 5/64 in (1.9 mm) shy over 2 × 1 in".to_string();
    assert!(!is(&task).contains("at most"), "{}", is(&task));
}

#[test]
fn what_becomes_of_the_whole_part_is_said_in_the_words_of_its_task() {
    let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
    let mut whole = record.work[2].clone();
    whole.words = "if it was bought in: send back, or rework what is listed here".to_string();
    whole.figure = "verdict".to_string();
    let hole = record.work[2].clone();
    record.work.extend(std::iter::repeat_n(hole, 60));
    record.work.push(whole);
    let pictures = [made::picture("heat-plan.png", "from above")];
    let given = Given {
        about: &about,
        record: &record,
        pictures: &pictures,
    };
    let laid = lay(&given, "", &faces).unwrap();
    laid.assert_tidy();
    assert!(laid.sheets.len() > 1);
    let printed = laid.words();
    assert_eq!(printed.matches("send back").count(), 1);
    // Nothing that is out is left to other pages.
    assert_eq!(printed.matches("1-3/8 (35.0").count(), 61);
    assert!(!printed.contains("more:"), "{printed}");
}

#[test]
fn what_a_rule_tells_comes_first() {
    let mut record = made::record();
    let task = |figure: &str| TaskRecord {
        figure: figure.to_string(),
        ..record.work[2].clone()
    };
    let mut tasks = [
        "regions/right <floor>",
        "checks/flange",
        "beads/bead 1",
        "checks/width",
        "holes/hole 1",
    ]
    .map(task);
    record.checks = ["angle", "width"]
        .map(|kind| {
            let name = if kind == "angle" { "flange" } else { kind };
            let check =
                format!(r#"{{"name": "{name}", "kind": "{kind}", "verdict": "outside", "words": ""}}"#);
            serde_json::from_str(&check).unwrap()
        })
        .to_vec();
    tasks.sort_by_key(|task| rows::turn(&record, task));
    assert_eq!(
        tasks.map(|task| task.figure),
        [
            "holes/hole 1",
            "checks/width",
            "beads/bead 1",
            "checks/flange",
            "regions/right <floor>"
        ]
    );
}

#[test]
fn a_moved_hole_says_where_it_belongs_and_each_stretch_of_an_edge_how_high_it_is() {
    let mut record = made::record();
    let said = |record: &Record, task: &TaskRecord| -> Vec<Vec<String>> {
        let rows = rows_of(record, task);
        rows.into_iter()
            .map(|row| row.into_iter().map(|entry| entry.words).collect())
            .collect()
    };
    let hole = &mut record.holes[0];
    hole.measured_at_mm = Some([546.1 + 6.35, 0.0, 279.4]);
    hole.offset_mm = Some([6.35, 0.0, 0.0]);
    let rows = said(&record, &record.work[2]);
    assert_eq!(
        rows[0][1..4],
        [
            "from the reference's zero: 21-3/4 rearward, 11 up",
            "1-1/2 (38.1 mm), from the reference's zero: 21-1/2 rearward, 11 up",
            "1-3/8 (35.0 mm), moved 1/4 rearward (6.3 mm)"
        ]
    );
    record.edges = serde_json::from_str(
        r#"[{"name": "lower edge", "length_mm": 50, "closed": false, "verdict": "outside", "words": [], "runs": [],
          "stretches": [
            {"from_mm": [0, 254, 0], "to_mm": [0, 508, 0], "length_mm": 254, "short_mm": 3.175, "pm_mm": 0.3,
              "height_mm": 15.875, "words": "1/8 short over 10"},
            {"from_mm": [0, 762, 0], "to_mm": [0, 1016, 0], "length_mm": 254, "short_mm": -3.175, "pm_mm": 0.3,
              "words": "1/8 long over 10"}]}]"#,
    )
    .unwrap();
    let mut task = record.work[2].clone();
    task.figure = "edges/lower edge".to_string();
    let rows = said(&record, &task);
    assert_eq!(rows.len(), 2);
    assert_eq!(
        rows[0][2..5],
        [
            "5/8 (15.9 mm) high",
            "1/2 (12.7 mm) high, 1/8 (3.2 mm) short",
            "±0.30 mm"
        ]
    );
    assert_eq!(rows[1][2..4], ["", "1/8 (3.2 mm) long"]);
    assert_eq!(
        rows[1][1],
        "from the reference's zero: 30 to the right to 40 to the right"
    );
}

#[test]
fn what_moved_with_its_panel_makes_no_flange_low_and_what_comes_home_with_it_is_not_wrong() {
    let mut record = made::record();
    record.edges = serde_json::from_str(
        r#"[{"name": "lower edge", "region": "floor", "length_mm": 50, "closed": false, "verdict": "outside", "words": [],
          "runs": [], "stretches": [
            {"from_mm": [0, 254, 0], "to_mm": [0, 508, 0], "length_mm": 254, "short_mm": 3.175, "pm_mm": 0.3,
              "height_mm": 15.875, "moved_with": {"region": "floor", "home": true}, "words": "1/8 short over 10"},
            {"from_mm": [0, 762, 0], "to_mm": [0, 1016, 0], "length_mm": 254, "short_mm": 6.35, "pm_mm": 0.3,
              "height_mm": 15.875, "moved_with": {"region": "floor", "home": false}, "words": "1/4 short over 10"}]}]"#,
    )
    .unwrap();
    let mut task = record.work[2].clone();
    task.figure = "edges/lower edge".to_string();
    let rows = rows_of(&record, &task);
    assert_eq!(rows.len(), 1);
    assert_eq!(rows[0][2].words, "");
    assert_eq!(
        rows[0][3].words,
        "1/4 (6.3 mm) short, part of it since floor has moved"
    );
    let told = |record: &Record| looked_at(record, &[&task]).unwrap();
    assert!(told(&record).contains("OUT (1): lower edge."));
    record.edges[0].stretches[1].not_out = true;
    assert!(rows_of(&record, &task).is_empty() && !told(&record).contains("lower edge"));
    record.edges[0].stretches[1].not_out = false;
    record.edges[0].stretches.pop();
    assert!(!told(&record).contains("lower edge"));
}

#[test]
fn as_many_are_counted_as_out_as_are_listed() {
    let mut record = made::record();
    record.checks = serde_json::from_str(
        r#"[{"name": "tram H1 H4", "kind": "tram", "verdict": "outside", "words": "1/8 long"}]"#,
    )
    .unwrap();
    record.edges = serde_json::from_str(
        r#"[{"name": "right edge", "length_mm": 50, "closed": false, "verdict": "outside", "words": [], "runs": [],
          "stretches": []}]"#,
    )
    .unwrap();
    let hole = record.work[2].clone();
    let edge = TaskRecord {
        figure: "edges/right edge".to_string(),
        ..hole.clone()
    };
    assert_eq!(
        looked_at(&record, &[&hole, &edge]).unwrap(),
        "OUT (2): right edge, hole 1. OUT as well, and not listed here (1): tram H1 H4."
    );
    // An edge of no region that is not listed is one of many.
    assert_eq!(
        looked_at(&record, &[&hole]).unwrap(),
        "OUT (1): hole 1. OUT as well, and not listed here (1): tram H1 H4."
    );
}

#[test]
fn the_angle_of_a_flange_comes_with_its_height() {
    let mut record = made::record();
    record.checks = serde_json::from_str(
        r#"[{"name": "lip", "kind": "angle", "reference_deg": 90, "measured_deg": 92.5, "pm_deg": 0.3, "verdict": "outside",
          "words": "2-1/2° open", "details": [{"name": "width (mm)", "value": 12.7},
            {"name": "width on the reference (mm)", "value": 15.875}]}]"#,
    )
    .unwrap();
    let mut task = record.work[2].clone();
    task.figure = "checks/lip".to_string();
    let row: Vec<String> = rows_of(&record, &task)
        .swap_remove(0)
        .into_iter()
        .map(|entry| entry.words)
        .collect();
    assert_eq!(
        row[2..4],
        ["90.0°, 5/8 (15.9 mm) high", "92.5°, 1/2 (12.7 mm) high"]
    );
}

#[test]
fn a_bow_is_told_as_one_and_where_a_straight_edge_shows_it() {
    let mut record = made::record();
    let words = "bow 3/32 down at 9-1/2 from its left end, ends home, straight edge shows 3/32 from above";
    let check = format!(
        r#"{{"name": "bar", "kind": "bar", "verdict": "outside", "reference_mm": 0, "measured_mm": -2.38, "off_mm": -2.38,
        "pm_mm": 0.05, "words": "{words}"}}"#
    );
    record.checks = vec![serde_json::from_str(&check).unwrap()];
    let task = TaskRecord {
        figure: "checks/bar".to_string(),
        words: format!("bar: {words} (±0.05 mm)"),
        ..record.work[2].clone()
    };
    let row = format!("{:?}", rows_of(&record, &task));
    for told in [words, "\"straight\"", "bowed 3/32 (2.4 mm)", "±0.05 mm"] {
        assert!(row.contains(told), "{told}: {row}");
    }
    assert!(!row.contains("short"), "{row}");
}

#[test]
fn beads_and_recesses_are_told_as_fully_as_the_rest() {
    let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
    let bead = |x: f64, depth: f64| {
        format!(
            r#"{{"at_mm": [{x}, 0, 508], "ends_mm": [[0, 0, 508], [508, 0, 508]], "length_mm": 508, "width_mm": 31.75,
              "depth_mm": {depth}, "outer_radius_mm": 4.7625}}"#
        )
    };
    let beads = format!(
        r#"[{{"name": "pan bead 1", "region": "pan", "state": "matched", "pm_mm": 0.2, "verdict": "outside",
          "reference": {}, "measured": {}, "words": ["in its place", "3/32 shallow"]}},
          {{"name": "pan bead 2", "region": "pan", "state": "matched", "pm_mm": 0.2, "verdict": "within",
          "reference": {0}, "measured": {0}, "words": ["in its place"]}}]"#,
        bead(254.0, 6.35),
        bead(254.0, 3.96875),
    );
    record.beads = serde_json::from_str(&beads).unwrap();
    let mut task = record.work[2].clone();
    task.words = "pan bead 1: 3/32 shallow".to_string();
    task.figure = "beads/pan bead 1".to_string();
    record.work.push(task);
    let given = Given {
        about: &about,
        record: &record,
        pictures: &[],
    };
    let laid = lay(&given, "", &faces).unwrap();
    laid.assert_tidy();
    let printed = laid.words();
    for words in [
        "on pan, from the reference's zero: 10 rearward, 20 up, 20 long fore and aft",
        "depth 1/4 (6.3 mm), width 1-1/4 (31.8 mm), length 20 (508.0 mm), outer radius 3/16 (4.8 mm)",
        "depth 5/32 (4.0 mm)",
        "OUT (2): pan bead 1, hole 1. in (1): pan bead 2.",
    ] {
        assert!(printed.contains(words), "{words}\n{printed}");
    }
}

#[test]
fn each_stretch_of_a_fold_that_is_out_has_its_figure_and_its_ends() {
    let mut record = made::record();
    let stretch = |from: f64, to: f64, short: f64, verdict: &str, words: &str| {
        format!(
            r#"{{"from_mm": [660.4, 0, {from}], "to_mm": [660.4, 0, {to}], "length_mm": {}, "short_mm": {short},
              "pm_mm": 0.1, "verdict": "{verdict}", "words": "{words}"}}"#,
            to - from
        )
    };
    let stretches = [
        stretch(25.4, 203.2, 5.556, "outside", "7/32 short over 7"),
        stretch(203.2, 406.4, 0.1, "within", "home over 8"),
    ];
    record.folds = serde_json::from_str(&format!(
        r#"[{{"name": "rear", "short_mm": 0.1, "pm_mm": 2.2, "verdict": "outside",
          "words": "7/32 short over 7, home over 8", "stretches": [{}]}}]"#,
        stretches.join(", ")
    ))
    .unwrap();
    let mut task = record.work[2].clone();
    task.figure = "folds/rear".to_string();
    task.words = "rear: fold 7/32 short over 7, home over 8".to_string();
    let said = |record: &Record| -> Vec<Vec<String>> {
        let rows = rows_of(record, &task);
        rows.into_iter()
            .map(|row| row.into_iter().map(|entry| entry.words).collect())
            .collect()
    };
    let rows = said(&record);
    assert_eq!(rows.len(), 1);
    assert_eq!(rows[0][0], "rear: fold 7/32 short over 7");
    assert_eq!(
        rows[0][1],
        "on rear, from the reference's zero: 26 rearward, 1 up to 26 rearward, 8 up"
    );
    assert_eq!(rows[0][2..5], ["", "7/32 (5.6 mm) short", "±0.10 mm"]);
    // Alike all along it has the words of the task, and the figure of the whole.
    record.folds[0].stretches.truncate(1);
    let rows = said(&record);
    assert_eq!((rows.len(), &rows[0][0]), (1, &task.words));
    assert!(
        rows[0][1].ends_with("8 up") && rows[0][4] == "±2.20 mm",
        "{rows:?}"
    );
}

#[test]
fn without_tasks_nothing_is_asked_of_him() {
    let (about, mut record, faces) = (made::about(), made::record(), Faces::new().unwrap());
    record.work.clear();
    let given = Given {
        about: &about,
        record: &record,
        pictures: &[],
    };
    let laid = lay(&given, "", &faces).unwrap();
    assert!(
        laid.words()
            .contains("Nothing is listed for the supplier or toolmaker.")
    );
    assert!(!laid.words().contains("send back"));
}
