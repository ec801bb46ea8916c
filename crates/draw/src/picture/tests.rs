//! What a picture shows: lines over the metal, strips in lengths, labels beside their arrows.

use super::*;

/// A plate of 200 × 100 mm seen from above.
fn plate<'a>(points: &'a [Point], normals: &'a [Vector], tones: &'a [Tone], drawn: &'a [u32]) -> Picture<'a> {
    Picture {
        title: "plate".to_string(),
        subtitle: String::new(),
        elsewhere: String::new(),
        set_by: String::new(),
        footer: String::new(),
        points,
        normals,
        tones,
        drawn,
        frame: Bounds {
            low: Point::origin(),
            high: Point::new(200.0, 100.0, 0.0),
        },
        spacing_mm: 2.0,
        sides_known: true,
        view: View::all()[0],
        limit_mm: 1.0,
        end_mm: 4.0,
        marks: Vec::new(),
        lines: Vec::new(),
        arrows: Vec::new(),
        places: Vec::new(),
        aside: false,
    }
}

/// The same with a line along it at each of some places.
fn row_by_row(lines: &[(f64, f64, LineKind)]) -> Vec<Vec<bool>> {
    let points: Vec<Point> = (0..101 * 51)
        .map(|i| Point::new(f64::from(2 * (i % 101)), f64::from(2 * (i / 101)), 0.0))
        .collect();
    let normals = vec![Vector::z(); points.len()];
    let tones = vec![Tone::Deviation(0.0); points.len()];
    let drawn: Vec<u32> = (0..points.len() as u32).collect();
    let picture = Picture {
        lines: lines
            .iter()
            .map(|&(y, z, kind)| Line {
                at: vec![Point::new(10.0, y, z), Point::new(190.0, y, z)],
                kind,
            })
            .collect(),
        ..plate(&points, &normals, &tones, &drawn)
    };
    let (sheet, _) = picture.sheet().unwrap();
    let window = picture.lengths()[0].window;
    let rows = lines.iter().map(|&(y, ..)| {
        (20..180)
            .map(|x| {
                let [column, row] = page::on_sheet(&window, [f64::from(x), y]);
                sheet.pixel(column as u32, row as u32).unwrap()[1] < 80
            })
            .collect()
    });
    rows.collect()
}

#[test]
fn a_strip_is_drawn_in_lengths_and_each_mark_is_said_once() {
    let points: Vec<Point> = (0..601 * 11)
        .map(|i| Point::new(f64::from(2 * (i % 601)), f64::from(2 * (i / 601)), 0.0))
        .collect();
    let normals = vec![Vector::z(); points.len()];
    let tones = vec![Tone::Deviation(0.0); points.len()];
    let drawn: Vec<u32> = (0..points.len() as u32).collect();
    let mark = |x: f64| Mark {
        choices: vec![(Point::new(x, 10.0, 0.0), vec![format!("{x}")])],
        hidden_too: false,
        ring_mm: None,
    };
    let picture = Picture {
        marks: vec![mark(20.0), mark(600.0), mark(1180.0)],
        frame: Bounds {
            low: Point::origin(),
            high: Point::new(1200.0, 20.0, 0.0),
        },
        ..plate(&points, &normals, &tones, &drawn)
    };
    assert_eq!(picture.in_lengths(), "in three lengths that join at A and B");
    let lengths = picture.lengths();
    let bare = |length: &Length| Drawn {
        colours: Vec::new(),
        heights_mm: vec![f32::NEG_INFINITY; length.window.width * length.window.height],
    };
    let bare: Vec<Drawn> = lengths.iter().map(bare).collect();
    let sights: Vec<Sight<'_>> = lengths
        .iter()
        .zip(&bare)
        .map(|(length, drawn)| Sight {
            view: picture.view,
            window: length.window,
            corner: length.corner.map(|pixel| pixel as f32),
            drawn,
            slack_mm: 6.0,
        })
        .collect();
    let rows: Vec<f32> = picture.labels(&sights).iter().map(|l| l.spot[1]).collect();
    assert_eq!(
        rows,
        [340.0, 720.0, 1100.0],
        "the middles of three lengths of 380 under 150"
    );
    // The metal of each is on the sheet.
    let (sheet, _) = picture.sheet().unwrap();
    for (length, row) in lengths.iter().zip(rows) {
        let middle = length.corner[0] + length.window.width / 3;
        assert_ne!(sheet.pixel(middle as u32, row as u32), Some([255; 3]));
    }
}

#[test]
fn a_mark_on_an_arrow_is_said_at_the_arrow() {
    let label = |x: f32, words: &str| Label {
        spot: [x, 100.0],
        radius: label::USUAL_RING,
        ringed: true,
        lines: vec![words.to_string()],
    };
    let marks = vec![label(110.0, "+3/32 in"), label(400.0, "−1/8 in")];
    let labels = at_arrows(marks, vec![label(100.0, "take 1/16 of shim out")]);
    let said: Vec<String> = labels.iter().map(|l| l.lines.join(", ")).collect();
    assert_eq!(said, ["−1/8 in", "take 1/16 of shim out, +3/32 in"]);
}

#[test]
fn edges_are_drawn_over_the_metal_and_what_lies_under_it_is_not() {
    let rows = row_by_row(&[
        (0.0, 0.0, LineKind::EdgeHome),
        (100.0, 0.0, LineKind::EdgeShort),
        (50.0, -50.0, LineKind::EdgeLong),
    ]);
    let dark = |row: &[bool]| row.iter().filter(|d| **d).count() as f64 / row.len() as f64;
    assert!(dark(&rows[0]) > 0.95, "home is drawn through: {}", dark(&rows[0]));
    let short = dark(&rows[1]);
    assert!(short > 0.4 && short < 0.8, "short is dashed: {short}");
    assert_eq!(dark(&rows[2]), 0.0, "what the plate hides is not drawn");
}
