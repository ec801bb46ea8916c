//! Feet, deviations drawn larger, and what was not seen, on lines whose answers are known.

use super::*;

fn straight() -> Reference {
    Reference::of(&[vec![[0.0, 0.0], [100.0, 0.0]]])
}

#[test]
fn a_deviation_is_drawn_larger_at_its_foot_and_its_side_is_known() {
    let samples = straight().samples(&[[20.0, 1.0], [30.0, -0.5]], 10.0, 100.0);
    assert!((samples[0].drawn - Place::new(20.0, 10.0)).norm() < 1e-12);
    assert!((samples[1].drawn - Place::new(30.0, -5.0)).norm() < 1e-12);
    let deviations = [1.0, -0.5];
    for (sample, deviation) in samples.iter().zip(deviations) {
        assert!((sample.foot.unwrap().deviation_mm - deviation).abs() < 1e-12);
    }
}

#[test]
fn past_an_end_the_length_is_true() {
    let samples = straight().samples(&[[90.0, 2.0], [100.0, 2.0], [112.0, 2.0]], 10.0, 100.0);
    assert!(samples[2].foot.unwrap().beyond && samples[2].beside().is_none());
    assert!((samples[2].drawn - Place::new(112.0, 20.0)).norm() < 1e-12);
    // Nothing beside the reference to hang on: as it is.
    let alone = straight().samples(&[[110.0, 2.0], [112.0, 2.0]], 10.0, 100.0);
    assert_eq!(alone[1].drawn, Place::new(112.0, 2.0));
}

#[test]
fn a_corner_has_its_out_between_its_sides() {
    let corner = Reference::of(&[vec![[0.0, 0.0], [0.0, 0.0], [10.0, 0.0], [10.0, -10.0]]]);
    let foot = corner.foot(Place::new(13.0, 4.0)).unwrap();
    assert_eq!(foot.at, Place::new(10.0, 0.0));
    assert!((foot.deviation_mm - 5.0).abs() < 1e-12 && !foot.beyond);
    assert!((foot.along_mm - 10.0).abs() < 1e-12);
}

/// A ring that runs clockwise, so that out is outside; measured a millimetre larger, from another start.
#[test]
fn a_closed_line_has_no_ends() {
    let ring = |radius: f64, start: f64| -> Vec<[f64; 2]> {
        (0..=90)
            .map(|k| {
                let turn = start - std::f64::consts::TAU * f64::from(k % 90) / 90.0;
                [radius * turn.cos(), radius * turn.sin()]
            })
            .collect()
    };
    let reference = Reference::of(&[ring(50.0, 0.0)]);
    let samples = reference.samples(&ring(51.0, 1.0), 5.0, 1.0);
    for sample in &samples {
        let foot = sample.beside().unwrap();
        assert!((foot.deviation_mm - 1.0).abs() < 0.1, "{foot:?}");
        assert!((sample.drawn.norm() - 55.0).abs() < 0.5);
    }
    assert!(reference.unseen(&[samples], 1.0).is_empty());
}

#[test]
fn what_was_not_measured_is_told() {
    let reference = straight();
    let runs: Vec<Vec<Sample>> = [[[-5.0, 0.3], [40.0, 0.3]], [[60.0, -0.3], [95.0, -0.3]]]
        .iter()
        .map(|line| reference.samples(line, 10.0, 1.0))
        .collect();
    let unseen = reference.unseen(&runs, 1.0);
    assert_eq!(unseen.len(), 2, "{unseen:?}");
    for (stretch, [from, to]) in unseen.iter().zip([[40.0, 60.0], [95.0, 100.0]]) {
        assert!((stretch[0] - Place::new(from, 0.0)).norm() < 1e-9, "{stretch:?}");
        assert!((stretch[1] - Place::new(to, 0.0)).norm() < 1e-9, "{stretch:?}");
    }
    assert_eq!(
        reference.unseen(&[], 1.0),
        [[Place::zeros(), Place::new(100.0, 0.0)]]
    );
}

/// Two millimetres off on the inside of a square corner: ten times larger the line would overshoot to 2 and come back.
#[test]
fn inside_a_corner_the_line_goes_over_without_a_fold() {
    let corner = Reference::of(&[vec![[0.0, 40.0], [0.0, 0.0], [40.0, 0.0]]]);
    let samples = corner.samples(&[[2.0, 40.0], [2.0, 2.0], [40.0, 2.0]], 10.0, 1.0);
    assert!(samples.iter().any(|s| s.drawn.y < 3.0), "the control: it folds");
    assert!(
        corner.unseen(std::slice::from_ref(&samples), 1.0).is_empty(),
        "the jump was seen"
    );
    let kept = without_folds(&samples);
    assert!(kept.len() > 35);
    for sample in &kept {
        assert!(sample.drawn.min() > 19.0, "{sample:?}");
    }
    // Where nothing folds all is kept, a spike too.
    let spike = straight().samples(
        &[[10.0, 0.1], [11.0, 0.1], [11.1, 2.0], [11.2, 0.1], [20.0, 0.1]],
        20.0,
        1.0,
    );
    assert_eq!(without_folds(&spike).len(), spike.len());
}
