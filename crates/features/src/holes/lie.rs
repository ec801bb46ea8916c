//! How a hole lies in its sheet: how far off along it, across it and out of it, and how far its axis is tipped.

use cloud::Vector;
use cloud::frame::TOWARD;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};
use compare::verdict::NOT_HELD_MM;

use super::Pair;
use crate::words::{PLACE_NOT_HELD, as_sure_as};

/// What is said of a place at the least, mm.
const LEAST_SAID_MM: f64 = MM_PER_INCH / 64.0;
/// Of two parts in the sheet the smaller is said where it is over this share of the larger.
const SHARE_SAID: f64 = 1.0 / 3.0;
/// A sheet is a wall where its normal rises by less than this: it stands within 30° of upright.
const UPRIGHT: f64 = 0.5;
/// What is said of a tip at the least, degrees.
const LEAST_TIP_DEG: f64 = 1.0;
/// A tip that is known no better than this isn't known, degrees.
const UNKNOWN_TIP_DEG: f64 = 10.0;

/// Where a hole of both sets lies in the reference's sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Lie {
    /// Unit direction in the sheet: rearward; on a wall level, rearward or to the right.
    pub along: Vector,
    /// Unit direction in the sheet, square to the other: to the right; on a wall up it.
    pub across: Vector,
    /// How far it is off along, across, and out of the sheet to the outside, mm.
    pub off_mm: [f64; 3],
    /// `1/16 rearward, 1/32 up the wall`, `1/8 proud`, `in its place`.
    pub words: String,
}

/// How far the axis of a hole is tipped from the reference's.
#[derive(Debug, Clone, PartialEq)]
pub struct Tip {
    /// The angle between the two axes, degrees.
    pub deg: f64,
    /// ± of it, degrees.
    pub pm_deg: f64,
    /// `tipped 2.5°, its face turned rearward`; `not tipped` where that can't be told.
    pub words: String,
}

impl Tip {
    /// Whether it is more than its ± and than a degree.
    pub fn is_told(&self) -> bool {
        self.deg > self.pm_deg.max(LEAST_TIP_DEG)
    }
}

/// What two opposite directions are called, the lesser first.
type Ways = [&'static str; 2];

/// The directions of a sheet, and what they are called.
struct Directions {
    along: Vector,
    across: Vector,
    /// Of a place, along and across.
    places: [Ways; 2],
    /// Of what the face looks at more, along and across.
    turned: [Ways; 2],
}

const FORE_AFT: Ways = TOWARD[0];
const SIDE_TO_SIDE: Ways = TOWARD[1];

impl Directions {
    /// Of the sheet with this unit normal.
    fn of(normal: &Vector) -> Self {
        let in_sheet = |way: Vector| (way - normal * way.dot(normal)).normalize();
        if normal.z.abs() < UPRIGHT {
            let up = in_sheet(Vector::z());
            let level = positive(up.cross(normal));
            let ways = if level.x.abs() >= level.y.abs() {
                FORE_AFT
            } else {
                SIDE_TO_SIDE
            };
            return Self {
                along: level,
                across: up,
                places: [ways, ["down the wall", "up the wall"]],
                turned: [ways, ["down", "up"]],
            };
        }
        let along = in_sheet(Vector::x());
        let across = normal.cross(&along);
        Self {
            along,
            across: if across.y < 0.0 { -across } else { across },
            places: [FORE_AFT, SIDE_TO_SIDE],
            turned: [FORE_AFT, SIDE_TO_SIDE],
        }
    }
}

/// A way in the sheet with this unit normal: `1/16 forward`, `3/32 forward and 1/16 up the wall`; the smaller part is said as in
/// [`Pair::lie`].
pub(super) fn in_sheet(normal: &Vector, way: &Vector) -> String {
    let directions = Directions::of(normal);
    let parts = [way.dot(&directions.along), way.dot(&directions.across)];
    let largest = parts[0].abs().max(parts[1].abs());
    let said = parts
        .into_iter()
        .zip(directions.places)
        .filter(|(mm, _)| mm.abs() >= SHARE_SAID * largest)
        .map(|(mm, ways)| {
            let length = [32, 64].map(|parts| fraction_of_inch(mm, parts));
            let length = length.into_iter().find(|length| length != "0");
            let length = length.unwrap_or_else(|| format!("{:.2} mm", mm.abs()));
            format!("{length} {}", ways[usize::from(mm > 0.0)])
        });
    said.collect::<Vec<_>>().join(" and ")
}

/// The one of a direction and its opposite whose largest part is positive.
fn positive(way: Vector) -> Vector {
    if way[way.iamax()] < 0.0 { -way } else { way }
}

impl Pair {
    /// Where it lies in the reference's sheet, where both sets have it.
    ///
    /// A part in the sheet is told where it is over the ± and over a third of the other; how far it stands out of the sheet
    /// is told by itself.
    pub fn lie(&self) -> Option<Lie> {
        let offset = self.offset()?;
        let directions = Directions::of(&self.reference.as_ref()?.axis);
        let off_mm = [
            offset.across.dot(&directions.along),
            offset.across.dot(&directions.across),
            offset.along_mm,
        ];
        let largest = off_mm[0].abs().max(off_mm[1].abs());
        let in_sheet_mm = self.pm_mm.max(LEAST_SAID_MM).max(SHARE_SAID * largest);
        let proud_mm = self.normal_pm_mm.max(LEAST_SAID_MM);
        let [along, across] = directions.places;
        let mut said: Vec<String> = [
            (off_mm[0], in_sheet_mm, self.pm_mm, along),
            (off_mm[1], in_sheet_mm, self.pm_mm, across),
            (off_mm[2], proud_mm, self.normal_pm_mm, ["shy", "proud"]),
        ]
        .into_iter()
        .filter(|(mm, least_mm, ..)| mm.abs() >= *least_mm)
        .map(|(mm, _, pm_mm, ways)| format!("{} {}", as_sure_as(mm, pm_mm), ways[usize::from(mm > 0.0)]))
        .collect();
        if self.pm_mm.max(self.normal_pm_mm) > NOT_HELD_MM {
            said.push(PLACE_NOT_HELD.to_string());
        }
        let words = match said.is_empty() {
            true => "in its place".to_string(),
            false => said.join(", "),
        };
        Some(Lie {
            along: directions.along,
            across: directions.across,
            off_mm,
            words,
        })
    }

    /// How far its axis is tipped, where both sets have it and it is known to better than ten degrees. An axis has no
    /// sense of its own here: the face of the sheet that looks out is the reference's.
    pub fn tip(&self) -> Option<Tip> {
        let (ours, theirs) = self.reference.as_ref().zip(self.measured.as_ref())?;
        let axis = if theirs.axis.dot(&ours.axis) < 0.0 {
            -theirs.axis
        } else {
            theirs.axis
        };
        let deg = ours
            .axis
            .cross(&axis)
            .norm()
            .atan2(ours.axis.dot(&axis))
            .to_degrees();
        let pm_deg = self.axis_pm.to_degrees();
        if pm_deg.is_nan() || pm_deg >= UNKNOWN_TIP_DEG {
            return None;
        }
        let mut tip = Tip {
            deg,
            pm_deg,
            words: "not tipped".to_string(),
        };
        if tip.is_told() {
            let directions = Directions::of(&ours.axis);
            let turns = [axis.dot(&directions.along), axis.dot(&directions.across)];
            let which = usize::from(turns[1].abs() > turns[0].abs());
            let way = directions.turned[which][usize::from(turns[which] > 0.0)];
            tip.words = format!("tipped {deg:.1}°, its face turned {way}");
        }
        Some(tip)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::Hole;
    use crate::holes::plates::hole;
    use cloud::Point;

    /// A hole of a sheet with this normal, moved by inches and its axis swung.
    fn moved(normal: Vector, by_in: Vector, swung: Vector) -> Pair {
        let ours = Hole {
            axis: normal,
            ..hole(Point::new(100.0, 200.0, 300.0), 10.0, None)
        };
        let theirs = Hole {
            at: ours.at + by_in * MM_PER_INCH,
            axis: (normal + swung).normalize(),
            ..ours
        };
        Pair::new(Some(ours), Some(theirs), None)
    }

    #[test]
    fn places_are_said_in_words_of_the_part() {
        let (x, y, z) = (Vector::x(), Vector::y(), Vector::z());
        let still = Vector::zeros();
        for (normal, by, words) in [
            (z, x / 16.0 - y / 32.0, "1/16 rearward, 1/32 to the left"),
            (-z, y / 8.0 - z / 16.0, "1/8 to the right, 1/16 proud"),
            (y, x / 16.0 + z / 32.0, "1/16 rearward, 1/32 up the wall"),
            (-y, -z / 16.0 + y / 8.0, "1/16 down the wall, 1/8 shy"),
            (x, -y / 16.0, "1/16 to the left"),
            (x, -y / 2.0 + z / 8.0, "1/2 to the left"),
            (z, x / 200.0, "in its place"),
            (z, x * 3.0 / 64.0, "3/64 rearward"),
        ] {
            assert_eq!(moved(normal, by, still).lie().unwrap().words, words);
        }
    }

    #[test]
    fn a_place_that_is_hardly_known_is_told_in_32nds() {
        let mut pair = moved(Vector::z(), Vector::x() * 5.2 / 64.0, Vector::zeros());
        pair.pm_mm = 0.6;
        assert_eq!(pair.lie().unwrap().words, "3/32 rearward");
    }

    #[test]
    fn a_place_that_nothing_holds_is_not_called_its_own() {
        let mut pair = moved(Vector::z(), Vector::z() / 16.0, Vector::zeros());
        pair.pm_mm = 1_000.0;
        let words = pair.lie().unwrap().words;
        assert_eq!(words, format!("1/16 proud, {PLACE_NOT_HELD}"));
        pair.normal_pm_mm = 1_000.0;
        assert_eq!(pair.lie().unwrap().words, PLACE_NOT_HELD);
    }

    #[test]
    fn the_parts_are_those_of_the_offset_on_any_slope() {
        let normal = Vector::new(0.3, -0.2, 0.6).normalize();
        let by = Vector::new(0.1, 0.05, -0.07);
        for normal in [normal, Vector::new(0.8, 0.5, -0.3).normalize()] {
            let lie = moved(normal, by, Vector::zeros()).lie().unwrap();
            let [along, across, out] = lie.off_mm;
            let again = lie.along * along + lie.across * across + normal * out;
            assert!((again - by * MM_PER_INCH).norm() < 1e-9);
            assert!(lie.along.dot(&lie.across).abs() < 1e-12 && lie.across.dot(&normal).abs() < 1e-12);
            assert!(lie.along.x > 0.0 || lie.along.y > 0.0);
        }
    }

    #[test]
    fn a_tip_is_the_angle_between_the_axes_whichever_way_they_point() {
        let by = 3f64.to_radians().tan();
        let wall = moved(Vector::y(), Vector::zeros(), Vector::z() * by);
        let tip = wall.tip().unwrap();
        assert!((tip.deg - 3.0).abs() < 1e-9, "{tip:?}");
        assert!((tip.pm_deg - (0.01 * 2f64.sqrt()).to_degrees()).abs() < 1e-9);
        assert_eq!(tip.words, "tipped 3.0°, its face turned up");
        assert!(
            wall.words()
                .ends_with("in its place, tipped 3.0°, its face turned up")
        );
        let mut floor = moved(Vector::z(), Vector::zeros(), -Vector::x() * by);
        if let Some(theirs) = &mut floor.measured {
            theirs.axis = -theirs.axis;
        }
        assert_eq!(floor.tip().unwrap().words, "tipped 3.0°, its face turned forward");
        // Half a degree is within its ±, and what is known to 20° isn't known.
        let half = moved(Vector::z(), Vector::zeros(), Vector::x() * 0.5f64.to_radians());
        assert_eq!(half.tip().unwrap().words, "not tipped");
        floor.axis_pm = 20f64.to_radians();
        assert_eq!(floor.tip(), None);
    }

    #[test]
    fn a_way_in_the_sheet_is_said_in_its_directions() {
        let way = |x: f64, y: f64, z: f64| Vector::new(x, y, z) * (MM_PER_INCH / 16.0);
        assert_eq!(in_sheet(&Vector::z(), &way(-1.0, 0.1, 0.0)), "1/16 forward");
        assert_eq!(
            in_sheet(&Vector::y(), &way(2.0, 0.0, 1.0)),
            "1/8 rearward and 1/16 up the wall"
        );
        assert_eq!(
            in_sheet(&Vector::z(), &way(0.0, 0.06, 0.0)),
            "0.10 mm to the right"
        );
    }
}
