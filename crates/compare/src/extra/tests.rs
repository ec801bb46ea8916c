//! The reverse pass on an invented part: what must be found, and what must not be invented.

use super::*;
use crate::against_points;
use crate::made::uniform;
use cloud::Cloud;
use cloud::Vector;

const LIMIT_MM: f64 = 25.4 / 16.0;
const REACH_MM: f64 = 12.7;

/// A rectangle of metal from a corner along two sides.
struct Sheet {
    corner: Point,
    sides: [Vector; 2],
}

fn sheet(corner: [f64; 3], along: [f64; 3], across: [f64; 3]) -> Sheet {
    Sheet {
        corner: Point::from(corner),
        sides: [Vector::from(along), Vector::from(across)],
    }
}

/// Random points of sheets, rough by 0.1 mm, of which only what `keep` says was seen.
fn scan<F: cloud::Frame>(
    sheets: &[Sheet],
    spacing: f64,
    seed: u64,
    keep: impl Fn(&Point) -> bool,
) -> Surface<F> {
    let (mut points, mut normals) = (Vec::new(), Vec::new());
    for (s, sheet) in sheets.iter().enumerate() {
        let area = sheet.sides[0].cross(&sheet.sides[1]);
        let normal = area.normalize();
        for i in 0..(area.norm() / spacing.powi(2)) as u64 {
            let k = 16 * (i + 1_000_003 * (20 * seed + s as u64));
            let noise = 0.1 * ((4..16).map(|j| uniform(k + j)).sum::<f64>() - 6.0);
            let at = sheet.corner + sheet.sides[0] * uniform(k) + sheet.sides[1] * uniform(k + 1);
            if keep(&at) {
                points.push(at + normal * noise);
                normals.push(normal);
            }
        }
    }
    let mut cloud = Cloud::from_points(points);
    cloud.normals = Some(normals);
    Surface::new(cloud, None).unwrap().0
}

/// A floor of 240 × 160 with a wall at its rear, and a bar on it, 30 high and 40 wide.
fn part() -> Vec<Sheet> {
    vec![
        sheet([0.0, 0.0, 0.0], [240.0, 0.0, 0.0], [0.0, 160.0, 0.0]),
        sheet([240.0, 0.0, 0.0], [0.0, 160.0, 0.0], [0.0, 0.0, 80.0]),
        sheet([160.0, 0.0, 0.0], [0.0, 0.0, 30.0], [0.0, 160.0, 0.0]),
        sheet([200.0, 0.0, 0.0], [0.0, 160.0, 0.0], [0.0, 0.0, 30.0]),
        sheet([160.0, 0.0, 30.0], [40.0, 0.0, 0.0], [0.0, 160.0, 0.0]),
    ]
}

fn under_the_bar(p: &Point) -> bool {
    p.z < 1.0 && (161.0..199.0).contains(&p.x)
}

/// The part seen whole, with more sheets beside it.
fn whole<F: cloud::Frame>(more: Vec<Sheet>, spacing: f64, seed: u64) -> Surface<F> {
    let sheets: Vec<Sheet> = part().into_iter().chain(more).collect();
    scan(&sheets, spacing, seed, |p| !under_the_bar(p))
}

fn passed(reference: &Surface<Body>, measured: &Surface<Body>) -> Reverse {
    let away: Motion<Body, Scan> = Motion::turn_about(
        Vector::new(0.2, -0.4, 0.7),
        Point::new(50.0, 20.0, 0.0),
        Vector::new(300.0, -40.0, 25.0),
    );
    let measured: Surface<Scan> = measured.moved(&away);
    let deviations = against_points::compare(reference, &measured, &away.inverse(), REACH_MM);
    reverse(reference, &deviations, &measured, &away.inverse(), LIMIT_MM)
}

/// A tab of 50 × 30 over the floor, 10 mm off it, turned by twenty degrees.
fn tab() -> Sheet {
    let (sine, cosine) = 20f64.to_radians().sin_cos();
    sheet(
        [60.0, 50.0, 10.0],
        [50.0 * cosine, 50.0 * sine, 0.0],
        [-30.0 * sine, 30.0 * cosine, 0.0],
    )
}

fn is_the_tab(found: &Reverse, spacing: f64) {
    assert_eq!(found.extra.len(), 1, "{found:?}");
    let extra = &found.extra[0];
    for (size, true_size) in extra.size_mm.iter().zip([50.0, 30.0]) {
        assert!((size - true_size).abs() <= 2.0 * spacing, "{extra:?}");
    }
    let tab = tab();
    let middle = tab.corner + (tab.sides[0] + tab.sides[1]) / 2.0;
    assert!((extra.at - middle).norm() < 2.0, "{extra:?}");
    assert!((extra.off_mm - 10.0).abs() < 0.3, "{extra:?}");
    assert!((extra.area_mm2 / 1500.0 - 1.0).abs() < 0.15, "{extra:?}");
    assert!(extra.under.z.abs() < 1.0);
}

#[test]
fn a_tab_that_stands_off_is_found_with_its_size() {
    let reference = whole(Vec::new(), 1.4, 1);
    is_the_tab(&passed(&reference, &whole(vec![tab()], 1.4, 2)), 1.4);
}

/// A scanner does not see the metal behind a tab.
#[test]
fn a_tab_that_hides_the_metal_behind_it_is_found_too() {
    let reference = whole(Vec::new(), 1.4, 1);
    let tab_and_part: Vec<Sheet> = part().into_iter().chain([tab()]).collect();
    let (corner, sides) = (tab().corner, tab().sides);
    let hidden = |p: &Point| {
        let off = p - corner;
        let within = |side: &Vector| (0.0..=side.norm_squared()).contains(&off.dot(side));
        p.z < 1.0 && sides.iter().all(within)
    };
    let measured = scan(&tab_and_part, 1.4, 2, |p| !under_the_bar(p) && !hidden(p));
    is_the_tab(&passed(&reference, &measured), 1.4);
}

/// What one of the scans did not see is not metal that the other has too much.
#[test]
fn nothing_is_invented_where_the_scans_saw_different_parts() {
    let hole = |p: &Point| p.z < 1.0 && (p - Point::new(70.0, 80.0, 0.0)).norm() < 35.0;
    let no_wall = |p: &Point| p.x > 239.0 && p.z > 5.0;
    let no_front_of_the_bar = |p: &Point| (p.x - 160.0).abs() < 1.0 && (2.0..28.0).contains(&p.z);
    let no_end = |p: &Point| p.x < 40.0 || p.y > 120.0;
    for (k, unseen) in [
        &hole as &dyn Fn(&Point) -> bool,
        &no_wall,
        &no_front_of_the_bar,
        &no_end,
    ]
    .into_iter()
    .enumerate()
    {
        let less = scan(&part(), 1.9, 3, |p| !under_the_bar(p) && !unseen(p));
        let more = whole(Vec::new(), 1.4, 4);
        let found = passed(&less, &more);
        assert!(found.extra.is_empty(), "{k}");
        assert!(found.beyond() > 0.01, "{k}: what lies beyond is counted");
        assert!(passed(&more, &less).extra.is_empty(), "{k}, the other way about");
    }
    let (a, b) = (whole(Vec::new(), 1.4, 5), whole(Vec::new(), 1.9, 6));
    let found = passed(&a, &b);
    assert_eq!((found.extra.len(), found.surroundings, found.unjudged), (0, 0, 0));
}

/// Metal that has moved, or is bulged, is where it should not be; it is no other metal.
#[test]
fn moved_and_bulged_metal_is_not_taken_for_extra() {
    let floor = || vec![sheet([0.0, 0.0, 0.0], [240.0, 0.0, 0.0], [0.0, 160.0, 0.0])];
    let reference: Surface<Body> = scan(&floor(), 1.4, 1, |_| true);
    for high in [10.0, 20.0] {
        let raised = [
            sheet([0.0, 0.0, 0.0], [120.0, 0.0, 0.0], [0.0, 160.0, 0.0]),
            sheet([120.0, 0.0, high], [120.0, 0.0, 0.0], [0.0, 160.0, 0.0]),
        ];
        assert!(
            passed(&reference, &scan(&raised, 1.4, 2, |_| true))
                .extra
                .is_empty()
        );
        let flat: Surface<Body> = scan(&floor(), 1.4, 3, |_| true);
        let mut cloud = Cloud::from_points(
            flat.points()
                .iter()
                .map(|p| {
                    let out = ((p.x - 100.0).hypot(p.y - 80.0) / 50.0).min(1.0);
                    p + Vector::z() * (high * (1.0 - out * out).powi(2))
                })
                .collect(),
        );
        cloud.normals = Some(flat.normals().to_vec());
        let bulged: Surface<Body> = Surface::new(cloud, None).unwrap().0;
        assert!(passed(&reference, &bulged).extra.is_empty(), "{high}");
    }
}

#[test]
fn the_table_under_the_part_is_surroundings() {
    let reference = whole(Vec::new(), 1.4, 1);
    let table = sheet([0.0, 0.0, -120.0], [240.0, 0.0, 0.0], [0.0, 160.0, 0.0]);
    let found = passed(&reference, &whole(vec![table], 1.4, 2));
    assert!(found.extra.is_empty());
    assert!(found.surroundings > 15_000 && found.unjudged == 0, "{found:?}");
    assert!((0.25..0.5).contains(&found.beyond()));
}
