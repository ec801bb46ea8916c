//! What is drawn where, pixel by pixel.

use super::*;
use crate::colour::{PAPER, Rgb, beyond};

const LIMIT_MM: f64 = 1.5875;

fn trips(count: usize) -> Vec<TripHead<'static>> {
    let head = |_| TripHead {
        name: "trip 12",
        day: "2025-11-12",
        operation: "welded the right inner sill to the floor",
    };
    (0..count).map(head).collect()
}

fn row(mm: &[Option<f64>], steps: &[(usize, usize)]) -> Row<'static> {
    Row {
        what: "right cross bar at mid, 9-1/2 from the tunnel",
        limit_mm: LIMIT_MM,
        readings: mm.iter().map(|m| m.map(|mm| (mm, 0.4))).collect(),
        steps: steps.to_vec(),
        words: "3/32 up since trip 7",
    }
}

fn picture<'a>(trips: &'a [TripHead<'a>], rows: &'a [Row<'a>]) -> TripsPicture<'a> {
    TripsPicture {
        heads: Heads {
            title: "trips",
            subtitle: "pins and pads",
            set_by: "set by what was left alone",
            footer: "",
        },
        trips,
        rows,
    }
}

/// The sheet, and where everything lies on it.
fn drawn(trips: &[TripHead<'_>], rows: &[Row<'_>]) -> (Canvas, Grid) {
    let sheet = picture(trips, rows).sheet().unwrap();
    let (_, bottom) = heads::of(&sheet, trips, rows);
    let grid = Grid::new(trips.len(), rows, [bottom, KEY_TOP - 10.0]);
    (sheet, grid)
}

fn at(sheet: &Canvas, x: f32, y: f32) -> Rgb {
    sheet.pixel(x as u32, y as u32).unwrap()
}

#[test]
fn any_number_of_trips_and_figures_is_drawn_the_same_each_time() {
    for (count, figures) in [(1, 12), (2, 12), (15, 12), (15, 1)] {
        let trips = trips(count);
        let mm: Vec<Option<f64>> = (0..count)
            .map(|t| (t % 4 != 3).then_some(0.7 * t as f64))
            .collect();
        let rows: Vec<Row<'_>> = (0..figures).map(|_| row(&mm, &[(2, 4)])).collect();
        let first = picture(&trips, &rows).png().unwrap();
        assert!(first.starts_with(b"\x89PNG"));
        assert!(
            first == picture(&trips, &rows).png().unwrap(),
            "{count} × {figures}"
        );
    }
}

#[test]
fn without_trips_or_figures_it_is_a_plain_page_that_says_so() {
    let one = [row(&[Some(0.1)], &[])];
    for (trips, rows) in [(trips(0), &one[..]), (trips(2), &one[..0]), (trips(0), &one[..0])] {
        let sheet = picture(&trips, rows).sheet().unwrap();
        let ink = (30..400).flat_map(|x| (180..220).map(move |y| (x, y)));
        assert!(ink.filter(|(x, y)| sheet.pixel(*x, *y) == Some(INK)).count() > 200);
        assert!((1..2000).all(|x| sheet.pixel(x, 700) == Some(PAPER)));
    }
}

#[test]
fn a_step_is_marked_in_its_gap_and_in_no_other() {
    let mm: Vec<Option<f64>> = (0..15).map(|t| Some(if t < 3 { 0.0 } else { 2.4 })).collect();
    let trips = trips(15);
    let rows = |steps: &[(usize, usize)]| vec![row(&mm, &[]), row(&mm, steps), row(&mm, &[])];
    let (plain, grid) = drawn(&trips, &rows(&[]));
    let (marked, _) = drawn(&trips, &rows(&[(2, 3)]));
    let top = grid.strip(1)[0];
    assert_eq!(at(&plain, grid.gap(3), top + 4.0), PAPER);
    assert_eq!(at(&marked, grid.gap(3), top + 4.0), INK);
    let from = grid.strip(0)[0] as u32;
    let to = grid.strip(2)[1] as u32;
    for gap in (1..15).filter(|gap| *gap != 3) {
        let x = grid.gap(gap) as u32;
        assert!(
            (from..to).all(|y| plain.pixel(x, y) == marked.pixel(x, y)),
            "{gap}"
        );
    }
    // What was not seen between may have been made at any time in it.
    let (long, _) = drawn(&trips, &rows(&[(4, 8)]));
    let bottom = grid.strip(1)[1];
    for x in [grid.gap(5) + 3.0, grid.gap(6), grid.gap(8) - 3.0] {
        assert_eq!(at(&long, x, bottom), INK, "{x}");
    }
    assert_ne!(at(&long, grid.gap(5) - 3.0, bottom), INK);
}

#[test]
fn a_figure_beyond_its_limit_is_filled_in_the_tone_of_its_side() {
    let trips = trips(4);
    let mm = [0.5, 2.4, -2.4, 30.0];
    let rows = [row(&mm.map(Some), &[])];
    let (sheet, grid) = drawn(&trips, &rows);
    let tones = [PAPER, beyond(0.5), beyond(-0.5), beyond(0.5)];
    for (trip, (mm, tone)) in mm.into_iter().zip(tones).enumerate() {
        let (x, y) = (grid.column(trip), grid.height(0, mm));
        assert_eq!(at(&sheet, x, y), tone, "{mm}");
    }
    // One that is far off stands at the edge of the strip.
    assert!((grid.height(0, 30.0) - grid.strip(0)[0]).abs() < 0.01);
}

#[test]
fn a_trip_that_did_not_see_it_is_hatched() {
    let trips = trips(3);
    let share = |middle: Option<f64>| {
        let rows = [row(&[Some(0.5), middle, Some(0.4)], &[])];
        let (sheet, grid) = drawn(&trips, &rows);
        let (left, top) = (grid.gap(1) as u32 + 20, grid.strip(0)[0] as u32 + 4);
        let cell = (left..left + 300).flat_map(|x| (top..top + 20).map(move |y| (x, y)));
        cell.filter(|(x, y)| sheet.pixel(*x, *y) != Some(PAPER)).count() as f64 / 6000.0
    };
    assert_eq!(share(Some(0.3)), 0.0);
    for unseen in [None, Some(f64::NAN)] {
        let share = share(unseen);
        assert!(share > 0.1 && share < 0.6, "{share}");
    }
}

#[test]
fn figures_that_find_no_room_are_left_to_another_picture() {
    let trips = trips(3);
    let rows: Vec<Row<'_>> = (0..MOST_ROWS + 2)
        .map(|_| row(&[Some(0.0), Some(0.1), Some(0.0)], &[]))
        .collect();
    let all = picture(&trips, &rows).sheet().unwrap();
    let fit = picture(&trips, &rows[..MOST_ROWS]).sheet().unwrap();
    let alike = |y: &u32| (0..2000).step_by(3).all(|x| all.pixel(x, *y) == fit.pixel(x, *y));
    assert!((0..KEY_TOP as u32).step_by(3).all(|y| alike(&y)));
    assert!(
        !(KEY_TOP as u32..KEY_TOP as u32 + 25).all(|y| alike(&y)),
        "the key says so"
    );
}
