//! A bar against the reference: its bow in two planes, whether its ends are home, its twist, and what a straight edge shows.
//!
//! Not the shape is read but the displacement: at every inch of its length the section's offset and its roll are fitted to the
//! deviations along the normals. Bow and twist are counted from the bar's own ends, so the setting does not enter them.

use cloud::unit::fraction_of_inch;
use cloud::{Body, Point, Surface, Vector};
use compare::Deviations;
use compare::verdict::NOT_HELD_MM;

use crate::shift::HOME_MM;
use crate::words;

mod carried;
mod run;
mod stations;
mod straight_edge;
mod told;

use run::Run;
use stations::{Axes, Member, Station};
pub use straight_edge::StraightEdge;

/// A ± beyond this leaves nothing to be said, mm (1/16 in, the trade's usual limit for a shell's twist and sag).
const CANT_TELL_MM: f64 = 25.4 / 16.0;

/// How a bar bows in one plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Bow {
    /// The way that counts as positive, of unit length.
    pub toward: Vector,
    /// The largest departure of the section from the straight line between the bar's ends, mm.
    pub mm: f64,
    /// How far that is from the bar's first end, mm.
    pub at_mm: f64,
    /// ± (half the 95 % band), mm; the setting has no share in it.
    pub pm_mm: f64,
}

/// Where one end of a bar lies.
#[derive(Debug, Clone, PartialEq)]
pub struct End {
    /// `left end`.
    pub name: &'static str,
    /// Where it is on the reference, in the middle of the section, mm.
    pub at: Point,
    /// How it has moved across the bar, mm; nothing along the bar and along directions that are not shown.
    pub moved_mm: Vector,
    /// ± (half the 95 % band) with the setting's share, mm, the worst direction shown.
    pub pm_mm: f64,
    /// `1/16 low`, `home`.
    pub words: String,
}

/// How the far end of a bar is turned against the first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Twist {
    /// By how much, degrees, right-handed about the way from the first end to the other.
    pub deg: f64,
    /// ± (half the 95 % band), degrees; the setting has no share in it.
    pub pm_deg: f64,
    /// What that is over the bar's width, mm.
    pub over_width_mm: f64,
}

/// One inch of a bar: how its section lies against the reference's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inch {
    /// From the first end, mm.
    pub at_mm: f64,
    /// Offset along the two directions of the bows, mm; `None` where no face shows it.
    pub offset_mm: [Option<f64>; 2],
    /// Roll about the bar, degrees.
    pub roll_deg: Option<f64>,
}

/// A bar's answers.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// As declared.
    pub name: String,
    /// The middle of the section at the first end, mm.
    origin: Point,
    /// From the first end to the other.
    along: Vector,
    /// The directions of the bows.
    across: [Vector; 2],
    /// Length of the region along the bar, mm.
    pub length_mm: f64,
    /// Its width across, level, mm.
    pub width_mm: f64,
    /// Bow in the level plane and in the upright one; `None` where no face shows it.
    pub bows: [Option<Bow>; 2],
    /// Its ends, the first (left, front or lower) first; `None` where they can't be read.
    pub ends: Option<[End; 2]>,
    /// Twist from end to end.
    pub twist: Option<Twist>,
    /// What a straight edge laid along it shows.
    pub straight_edge: Option<StraightEdge>,
    /// Inch by inch.
    pub inches: Vec<Inch>,
    /// `bow 3/32 up at 9-1/2 from its left end`, `ends home`, `twisted 0.6°`, `straight edge shows 3/32 from below`.
    pub words: Vec<String>,
}

/// Reads the bar whose points are `members` of the reference, with a deviation a point; its long axis is the members' own.
/// `setting_pm_mm` gives the setting's ± at a place along a direction: it tells in the ends, the form does without.
///
/// `None` where the members are no bar (less than 2½ times as long as wide), or fewer than five inches of it were seen.
pub fn bar(
    name: &str,
    members: &[u32],
    reference: &Surface<Body>,
    deviations: &Deviations,
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> Option<Bar> {
    let members: Vec<Member> = members
        .iter()
        .map(|&i| Member {
            at: reference.points()[i as usize],
            normal: reference.normals()[i as usize],
            mm: deviations.states[i as usize].mm(),
        })
        .collect();
    let axes = Axes::of(&members)?;
    let stations = stations::stations(&axes, &members);
    if stations.len() < run::FEWEST {
        return None;
    }
    let offsets = [0, 1].map(|d| Run::of(&stations, |s| s.offset_mm[d]));
    let rolls = Run::of(&stations, |s| s.roll);
    let bows = [0, 1].map(|d| {
        let bow = offsets[d].as_ref()?.bow(axes.length_mm)?;
        Some(Bow {
            toward: axes.across[d],
            mm: bow.mm,
            at_mm: bow.at_mm,
            pm_mm: bow.pm_mm,
        })
    });
    let ends = ends(&axes, &offsets, setting_pm_mm);
    let twist = rolls.and_then(|r| twist(&r, &axes));
    let straight_edge = straight_edge::laid_along(&stations, axes.length_mm);
    let words = told::in_words(
        &axes,
        &bows,
        ends.as_ref(),
        twist.as_ref(),
        straight_edge.as_ref(),
    );
    Some(Bar {
        name: name.to_string(),
        origin: axes.origin,
        along: axes.along,
        across: axes.across,
        length_mm: axes.length_mm,
        width_mm: axes.width_mm,
        bows,
        ends,
        twist,
        straight_edge,
        inches: stations.iter().map(inch).collect(),
        words,
    })
}

fn inch(station: &Station) -> Inch {
    Inch {
        at_mm: station.at_mm,
        offset_mm: station.offset_mm,
        roll_deg: station.roll.map(f64::to_degrees),
    }
}

/// Both ends, foretold from the inches next to them.
fn ends(
    axes: &Axes,
    offsets: &[Option<Run>; 2],
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> Option<[End; 2]> {
    let end = |k: usize| -> Option<End> {
        let along_mm = [0.0, axes.length_mm][k];
        let at = axes.origin + axes.along * along_mm;
        let mut moved_mm = Vector::zeros();
        let (mut own_pm_mm, mut of_setting_mm): (Option<f64>, f64) = (None, 0.0);
        for (toward, run) in axes.across.iter().zip(offsets) {
            if let Some((mm, pm)) = run.as_ref().and_then(|r| r.foretold(along_mm)) {
                moved_mm += toward * mm;
                own_pm_mm = Some(own_pm_mm.map_or(pm, |p| p.max(pm)));
                of_setting_mm = of_setting_mm.max(setting_pm_mm(&at, toward));
            }
        }
        let pm_mm = own_pm_mm?.hypot(of_setting_mm);
        Some(End {
            name: axes.end_names()[k],
            at,
            moved_mm,
            pm_mm,
            words: if pm_mm > NOT_HELD_MM {
                "can't tell, nothing holds the set there".to_string()
            } else if pm_mm > CANT_TELL_MM {
                format!("can't tell, ± {}", fraction_of_inch(pm_mm, 32))
            } else {
                words::displacement(&moved_mm, HOME_MM.max(pm_mm))
            },
        })
    };
    Some([end(0)?, end(1)?])
}

fn twist(rolls: &Run, axes: &Axes) -> Option<Twist> {
    let (roll, pm) = rolls.end_to_end(axes.length_mm)?;
    Some(Twist {
        deg: roll.to_degrees(),
        pm_deg: pm.to_degrees(),
        over_width_mm: axes.width_mm * roll.tan(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::Cloud;
    use compare::State;

    const LENGTH: f64 = 19.0 * 25.4;

    /// A bar of a U section, 76 wide and 50 high, 19 in along Y from Y 127; its front, top and back.
    fn section() -> Surface<Body> {
        let mut places = Vec::new();
        for row in 0..97 {
            let y = 127.0 + LENGTH * f64::from(row) / 96.0;
            for k in 0..16 {
                places.push((
                    Point::new(-38.0 + 76.0 * f64::from(k) / 15.0, y, 50.0),
                    Vector::z(),
                ));
            }
            for k in 0..10 {
                let z = 5.0 * f64::from(k);
                places.push((Point::new(-38.0, y, z), -Vector::x()));
                places.push((Point::new(38.0, y, z), Vector::x()));
            }
        }
        let (points, normals): (Vec<Point>, Vec<Vector>) = places.into_iter().unzip();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(normals);
        Surface::new(cloud, None).unwrap().0
    }

    /// The bar moved at each place by `by`, seen with noise up to `noise` either way at the members that `seen` picks.
    fn read(by: impl Fn(&Point) -> Vector, noise: f64, seen: impl Fn(&Vector) -> bool) -> Bar {
        let reference = section();
        let states = (0..reference.points().len())
            .map(|i| State::Distance {
                mm: reference.normals()[i].dot(&by(&reference.points()[i]))
                    + noise * (2.0 * uniform(i as u64) - 1.0),
                pm_mm: 0.05,
            })
            .collect();
        let deviations = Deviations {
            states,
            disc_mm: 10.0,
        };
        let members: Vec<u32> = (0..reference.points().len() as u32)
            .filter(|&i| seen(&reference.normals()[i as usize]))
            .collect();
        bar("right cross bar", &members, &reference, &deviations, &|_, _| 0.1).unwrap()
    }

    /// Up by a parabola of 2.4 mm at the middle, and rolled from −0.3° to +0.3° about the middle of the top.
    fn bent(p: &Point) -> Vector {
        let share = (p.y - 127.0) / LENGTH;
        let roll = 0.6f64.to_radians() * (share - 0.5);
        let arm = p - Point::new(0.0, p.y, 50.0);
        Vector::z() * (9.6 * share * (1.0 - share)) + Vector::y().cross(&arm) * roll
    }

    #[test]
    fn a_bent_and_twisted_bar_is_told_in_the_trades_words() {
        let found = read(bent, 0.0, |_| true);
        let bow = found.bows[1].as_ref().unwrap();
        assert!((bow.mm - 2.4).abs() < 0.04, "{bow:?}");
        assert!((bow.at_mm - LENGTH / 2.0).abs() < 3.0);
        let twist = found.twist.unwrap();
        assert!((twist.deg - 0.6).abs() < 0.005, "{twist:?}");
        assert!(found.bows[0].as_ref().unwrap().mm.abs() < 0.02);
        assert_eq!(
            found.words,
            [
                "bow 3/32 up at 9-1/2 from its left end",
                "ends home",
                "twisted 0.6°",
                "straight edge shows 3/32 from below"
            ]
        );
        let edge = found.straight_edge.unwrap();
        assert!(
            (edge.mm - 2.4).abs() < 0.04 && edge.reference_mm < 1e-6,
            "{edge:?}"
        );
    }

    #[test]
    fn roughness_is_in_the_band_and_a_straight_bar_that_moved_is_straight() {
        let found = read(bent, 0.4, |_| true);
        let bow = found.bows[1].as_ref().unwrap();
        assert!(
            (bow.mm - 2.4).abs() < 2.0 * bow.pm_mm && bow.pm_mm < 0.4,
            "{bow:?}"
        );
        let twist = found.twist.unwrap();
        assert!(
            (twist.deg - 0.6).abs() < 2.0 * twist.pm_deg && twist.pm_deg < 0.4,
            "{twist:?}"
        );
        let lifted = read(
            |p| Vector::z() * (1.6 + 0.005 * (p.y - 127.0)) - Vector::x() * 3.2,
            0.1,
            |_| true,
        );
        assert_eq!(
            lifted.words,
            [
                "straight",
                "left end 1/8 forward and 1/16 high, right end 5/32 high and 1/8 forward",
                "out of wind",
                "straight edge shows nothing"
            ]
        );
    }

    #[test]
    fn where_only_the_top_was_seen_fore_and_aft_can_not_be_told() {
        let found = read(bent, 0.05, |n| n.z > 0.9);
        assert!(found.bows[0].is_none() && found.bows[1].is_some());
        assert!(
            found
                .inches
                .iter()
                .all(|i| i.offset_mm[0].is_none() && i.roll_deg.is_some())
        );
        assert!(
            found.words[1].starts_with("fore and aft: can't tell"),
            "{:?}",
            found.words
        );
    }

    #[test]
    fn a_sheet_is_no_bar() {
        let sheet = (0..3600).map(|i| Point::new(f64::from(i % 60) * 5.0, f64::from(i / 60) * 5.0, 0.0));
        let (reference, _) = Surface::<Body>::new(Cloud::from_points(sheet.collect()), None).unwrap();
        let deviations = Deviations {
            states: vec![State::Distance { mm: 0.0, pm_mm: 0.1 }; 3600],
            disc_mm: 10.0,
        };
        let members: Vec<u32> = (0..3600).collect();
        assert!(bar("floor", &members, &reference, &deviations, &|_, _| 0.0).is_none());
    }
}
