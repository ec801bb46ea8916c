//! That a thing is found where its words say that it is.

use super::super::tape::made_place;
use super::*;
use crate::made;

fn from<T: serde::de::DeserializeOwned>(json: &str) -> T {
    serde_json::from_str(json).unwrap()
}

#[test]
fn a_hole_is_placed_from_the_reference_s_zero_and_better_from_a_named_place() {
    let mut record = made::record();
    // 546.2 mm are 21.504 in, 279.4 are 11.
    let hole = of(&record, "holes", "hole 1").unwrap();
    assert_eq!(hole, "from the reference's zero: 21-1/2 rearward, 11 up");
    record.places = vec![
        made_place("far", [0.0; 3]),
        made_place("H4", [546.2 + 50.8, 25.4, 279.4]),
    ];
    let hole = of(&record, "holes", "hole 1").unwrap();
    assert_eq!(hole, "from H4: 2 forward, 1 to the left");
    record.holes[0].measured_at_mm = Some([598.0, 25.4, 279.4]);
    assert_eq!(of(&record, "holes", "hole 1").unwrap(), "at H4");
    record.holes[0].measured_at_mm = None;
    record.holes[0].reference_at_mm = None;
    assert_eq!(of(&record, "holes", "hole 1"), None);
}

#[test]
fn a_part_with_two_sides_has_them_named_and_so_is_the_smallest_region() {
    let mut record = made::record();
    record.setting.predicted_pm_mm =
        from(r#"[{"at_mm": [0, -600, 0], "pm_mm": 0.1}, {"at_mm": [2000, 600, 0], "pm_mm": 0.1}]"#);
    record.holes[0].measured_at_mm = Some([254.0, 254.0, 10.0]);
    assert_eq!(
        of(&record, "holes", "hole 1").unwrap(),
        "right side, on right <floor>, from pad front inner: 6-1/16 rearward, 6-1/16 to the right, 3/8 up"
    );
    let mut pan = record.made_with.regions["right <floor>"].clone();
    pan.corners_mm = [[250.0, 250.0, 0.0], [260.0, 260.0, 20.0]];
    record.made_with.regions.insert("drain".to_string(), pan);
    record.holes[0].measured_at_mm = Some([254.0, 254.0, 0.0]);
    assert!(of(&record, "holes", "hole 1").unwrap().contains("on drain,"));
    for (across, side) in [(-254.0, "left side"), (20.0, "in the middle")] {
        record.holes[0].measured_at_mm = Some([254.0, across, 0.0]);
        assert!(of(&record, "holes", "hole 1").unwrap().starts_with(side));
    }
}

#[test]
fn a_bead_is_told_with_its_run_and_one_that_is_missing_where_it_belongs() {
    let mut record = made::record();
    record.beads = from(
        r#"[{"name": "floor bead 1", "region": "floor", "state": "missing", "pm_mm": 0.2, "verdict": "outside",
          "reference": {"at_mm": [254, 0, 0], "ends_mm": [[0, 0, 0], [508, 0, 0]], "length_mm": 508, "width_mm": 32,
            "depth_mm": 6.3}, "words": ["missing"]}]"#,
    );
    assert_eq!(
        of(&record, "beads", "floor bead 1").unwrap(),
        "on floor, from the reference's zero: 10 rearward, 20 long fore and aft"
    );
    let ring = record.beads[0].reference.as_mut().unwrap();
    (ring.ring, ring.length_mm) = (true, 101.6);
    assert_eq!(
        of(&record, "beads", "floor bead 1").unwrap(),
        "on floor, from the reference's zero: 10 rearward, a ring 4 across"
    );
    let recess = r#"{"at_mm": [0, 0, 127], "depth_mm": 9.5, "width_mm": [120, 200], "wall_deg": 80}"#;
    record.recesses = from(&format!(
        r#"[{{"name": "recess", "reference": {recess}, "measured": {recess}, "moved_mm": [0, 0, 0], "pm_mm": 0.2,
          "verdict": "outside", "words": []}}]"#
    ));
    assert_eq!(
        of(&record, "recesses", "recess").unwrap(),
        "from the reference's zero: 5 up"
    );
}

#[test]
fn each_task_of_an_edge_has_the_stretch_in_its_turn() {
    let mut record = made::record();
    record.edges = from(
        r#"[{"name": "rear", "length_mm": 50, "closed": false, "verdict": "outside", "words": [], "runs": [], "stretches": [
          {"from_mm": [0, 254, 0], "to_mm": [0, 508, 0], "length_mm": 254, "short_mm": -2, "pm_mm": 0.3, "words": "1/16 long"},
          {"from_mm": [0, 762, 0], "to_mm": [0, 1016, 0], "length_mm": 254, "short_mm": -2, "pm_mm": 0.3,
            "words": "1/16 long"}]}]"#,
    );
    let mut task = record.work[0].clone();
    task.figure = "edges/rear".to_string();
    task.words = "rear: trim: 1/16 long".to_string();
    record.work = vec![task.clone(), task];
    let placed: Vec<String> = record.work.iter().filter_map(|t| of_task(&record, t)).collect();
    assert_eq!(
        placed,
        [
            // From its pad at (100, 100, 0).
            "on right <floor>, from pad front inner: 3-15/16 forward, 6-1/16 to the right to 3-15/16 forward, \
             16-1/16 to the right"
                .to_string(),
            "from the reference's zero: 30 to the right to 40 to the right".to_string()
        ]
    );
    // One task for all of them has them all.
    record.work.pop();
    let all = of_task(&record, &record.work[0]).unwrap();
    assert!(
        all.contains("16-1/16 to the right; 3-15/16 forward, 26-1/16 to the right"),
        "{all}"
    );
    record.work[0].figure = "verdict".to_string();
    assert_eq!(of_task(&record, &record.work[0]), None);
}

#[test]
fn what_goes_over_the_full_width_stands_on_no_side() {
    let mut record = made::record();
    record.setting.predicted_pm_mm =
        from(r#"[{"at_mm": [0, -600, 0], "pm_mm": 0.1}, {"at_mm": [2000, 600, 0], "pm_mm": 0.1}]"#);
    let mut stretch: FoldStretchRecord = from(
        r#"{"from_mm": [0, -500, 0], "to_mm": [0, 500, 0], "length_mm": 1000, "short_mm": 2, "pm_mm": 0.3,
          "verdict": "outside", "words": "1/16 short"}"#,
    );
    assert!(
        of_fold(&record, "front flange", &stretch).starts_with("over both sides, on front flange, from ")
    );
    stretch.to_mm[1] = -100.0;
    assert!(of_fold(&record, "front flange", &stretch).starts_with("left side, on front flange, from "));
    // From the left to the middle it lies on the left and in the middle.
    stretch.to_mm[1] = 0.0;
    assert!(of_fold(&record, "front flange", &stretch).starts_with("left side, on front flange, from "));
}

#[test]
fn a_hole_that_a_place_is_called_for_is_told_from_another_place() {
    let mut record = made::record();
    record.holes[0].name = "hole H4".to_string();
    record.places = vec![
        made_place("H4", [546.2, 0.0, 279.4]),
        made_place("H3", [546.2 - 254.0, 0.0, 279.4]),
    ];
    assert_eq!(of(&record, "holes", "hole H4").unwrap(), "from H3: 10 rearward");
}

#[test]
fn what_was_moved_is_told_with_where_it_belongs_and_by_how_much() {
    let mut record = made::record();
    // A tenth of a millimetre is no move.
    assert_eq!(moved(&record, "holes", "hole 1"), None);
    let hole = &mut record.holes[0];
    hole.measured_at_mm = Some([546.1 + 6.35, 0.0, 279.4 - 3.175]);
    hole.offset_mm = Some([6.35, 0.0, -3.175]);
    let told = Moved {
        belongs: "from the reference's zero: 21-1/2 rearward, 11 up".to_string(),
        by: "1/4 rearward and 1/8 down (7.1 mm)".to_string(),
    };
    assert_eq!(moved(&record, "holes", "hole 1"), Some(told));
    record.places = vec![made_place("H4", [546.1, 25.4, 279.4])];
    let told = moved(&record, "holes", "hole 1").unwrap();
    assert_eq!(told.belongs, "from H4: 1 to the left");
}
