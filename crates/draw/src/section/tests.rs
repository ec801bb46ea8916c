//! What is drawn where, pixel by pixel.

use super::*;

fn picture<'a>(reference: &'a [Vec<[f64; 2]>], measured: &'a [Vec<[f64; 2]>]) -> SectionPicture<'a> {
    SectionPicture {
        title: "floor".to_string(),
        subtitle: String::new(),
        set_by: String::new(),
        footer: String::new(),
        reference,
        measured,
        beyond: &[],
        magnified: 10.0,
        limit_mm: 0.5,
        axes: [("left", "right"), ("down", "up")],
        marks: Vec::new(),
    }
}

/// How many of the pixels along a height have a colour, from 10 to 90 mm.
fn share_of(sheet: &Canvas, layout: &Layout, up_mm: f64, colour: Rgb) -> f64 {
    let [from, row] = layout.spot(Place::new(10.0, up_mm));
    let [to, _] = layout.spot(Place::new(90.0, up_mm));
    let alike = |column: &u32| {
        let pixel = sheet.pixel(*column, row as u32).unwrap();
        pixel.iter().zip(colour).all(|(a, b)| a.abs_diff(b) <= 3)
    };
    let columns = from as u32..to as u32;
    columns.clone().filter(alike).count() as f64 / columns.len() as f64
}

#[test]
fn the_line_lies_at_ten_times_its_deviation_in_the_tone_of_its_side() {
    let reference = [vec![[0.0, 0.0], [100.0, 0.0]]];
    // 1 mm off at a limit of 0.5 is a third of the way along a ramp that ends at four limits.
    for (mm, standing) in [(1.0, Standing::Proud), (-1.0, Standing::Shy)] {
        let measured = [vec![[0.0, mm], [100.0, mm]]];
        let picture = picture(&reference, &measured);
        let sheet = picture.sheet().unwrap();
        let layout = Layout::of(&picture, &sheet);
        let own = tone(standing, 1.0 / 3.0).unwrap();
        let lies = share_of(&sheet, &layout, 10.0 * mm, own);
        assert!(lies > 0.3, "the line between its dots or strokes: {lies}");
        for elsewhere in [mm, 5.0 * mm, -10.0 * mm] {
            assert_eq!(share_of(&sheet, &layout, elsewhere, own), 0.0, "{elsewhere}");
        }
        let between = share_of(
            &sheet,
            &layout,
            7.0 * mm,
            colour::mix(PAPER, tone(standing, 0.1).unwrap(), 0.55),
        );
        assert!(between > 0.8, "what is out is filled: {between}");
        let band = share_of(&sheet, &layout, -3.0 * mm, WITHIN);
        assert!(band > 0.95, "the band of the limit on the other side: {band}");
    }
}

#[test]
fn within_the_limit_the_line_is_plain_ink() {
    let reference = [vec![[0.0, 0.0], [100.0, 0.0]]];
    let measured = [vec![[0.0, 0.4], [100.0, 0.4]]];
    let picture = picture(&reference, &measured);
    let sheet = picture.sheet().unwrap();
    let layout = Layout::of(&picture, &sheet);
    assert!(share_of(&sheet, &layout, 4.0, INK) > 0.99);
    assert!(share_of(&sheet, &layout, 0.0, SHOULD_BE) > 0.8);
}

#[test]
fn what_was_not_seen_is_broken() {
    let reference = [vec![[0.0, 0.0], [100.0, 0.0]]];
    let measured = [vec![[0.0, 0.4], [10.0, 0.4]], vec![[90.0, 0.4], [100.0, 0.4]]];
    let picture = picture(&reference, &measured);
    let sheet = picture.sheet().unwrap();
    let layout = Layout::of(&picture, &sheet);
    let drawn = share_of(&sheet, &layout, 0.0, SHOULD_BE);
    assert!(drawn > 0.45 && drawn < 0.7, "dashes of 14 in 24: {drawn}");
    assert!(share_of(&sheet, &layout, 4.0, INK) < 0.05, "no line goes over it");
}

/// In grey too it is told from what was not seen, and from metal: two thin lines, none between them.
#[test]
fn what_is_missing_at_an_edge_is_hollow() {
    let reference = [vec![[0.0, 0.0], [100.0, 0.0]]];
    let measured = [vec![[0.0, 0.4], [5.0, 0.4]]];
    let beyond = [vec![[4.0, 0.0], [100.0, 0.0]]];
    let picture = SectionPicture {
        beyond: &beyond,
        ..picture(&reference, &measured)
    };
    let sheet = picture.sheet().unwrap();
    let layout = Layout::of(&picture, &sheet);
    assert_eq!((layout.beyond.len(), layout.unseen.len()), (1, 0));
    assert!(share_of(&sheet, &layout, 0.0, PAPER) > 0.9, "hollow");
    let along_its_side = layout.mm(5.0);
    assert!(
        share_of(&sheet, &layout, along_its_side, SHOULD_BE) > 0.8,
        "between two lines"
    );
}

#[test]
fn an_empty_cut_is_an_empty_picture() {
    assert!(picture(&[], &[]).png().is_ok());
}

#[test]
fn deviations_are_drawn_as_large_as_leaves_the_shape() {
    for (worst, extent, times) in [
        (4.5, 350.0, 10.0),
        (0.0, 100.0, 50.0),
        (1.6, 2000.0, 50.0),
        (40.0, 100.0, 1.0),
        (f64::NAN, 100.0, 1.0),
    ] {
        assert_eq!(usual_magnification(worst, extent), times, "{worst} of {extent}");
    }
}
