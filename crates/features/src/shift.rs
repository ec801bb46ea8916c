//! How a region has moved as a whole, and what is left when that is taken away: shim, or dress.
//!
//! The rigid part is fitted on the seating line (the half-inch band along the region's edge) with bisquare weights
//! (Beaton & Tukey 1974), so that a dent in the middle does not lean the whole; motions that the region's shape does not
//! show stay unknown.

use cloud::held::{LEAST_HELD, Matrix6x6, Motions, SmallMotion, row};
use cloud::statistics::median;
use cloud::{Body, NamedPoint, Near, Point, Surface, Vector};
use compare::{Deviations, Region, State};

use crate::words;

/// Width of the band along the region's edge that carries it, mm (half an inch).
const SEATING_MM: f64 = 12.7;
/// What counts as home, mm (1/32 in).
pub const HOME_MM: f64 = 25.4 / 32.0;
/// Share of the deviation that the move must explain for "shim only".
const SHIM_ONLY: f64 = 0.8;

/// A pad's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Pad {
    /// Its name.
    pub name: String,
    /// Where it is, mm.
    pub at: Point,
    /// What must be added there to bring the region home, mm; only along directions that are known.
    pub shim_mm: Vector,
    /// ± of the shim, mm.
    pub pm_mm: f64,
    /// In the shop's words.
    pub words: String,
}

/// A spot that is left proud or shy by more than a 32nd when the move is taken away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Greatest height over the moved reference, mm; negative is shy.
    pub mm: f64,
    /// Where that is, mm.
    pub at: Point,
    /// How much metal is off by more than a 32nd there, mm².
    pub area_mm2: f64,
}

/// Smallest spot that a hammer is taken to, mm² (half an inch square), and the fewest points that show it.
const LEAST_SPOT_MM2: f64 = 161.0;
const LEAST_SPOT_POINTS: usize = 20;

/// The rigid part and the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Shift {
    /// How the region's middle has moved, mm; nothing along unknown directions.
    pub translation_mm: Vector,
    /// How it has turned, rotation vector, rad.
    pub rotation: Vector,
    /// The point about which it turned, mm.
    pub about: Point,
    /// Motions that the region's shape does not show: words and vector (translation, rotation).
    pub unheld: Vec<(String, [f64; 6])>,
    /// Share of the deviation that the move explains, 0 to 1.
    pub explained: f64,
    /// ± of the move at the middle, mm.
    pub pm_mm: f64,
    /// Answers at the pads.
    pub pads: Vec<Pad>,
    /// What is left to dress, the highest and deepest first.
    pub spots: Vec<Spot>,
    /// The whole in the shop's words.
    pub words: String,
}

/// One place with its deviation.
#[derive(Clone, Copy)]
struct Seen {
    at: Point,
    normal: Vector,
    mm: f64,
}

/// Works out the move of `region`, over `members` of the reference. `None` with fewer than fifty distances.
pub fn shift(
    region: &Region,
    members: &[u32],
    reference: &Surface<Body>,
    deviations: &Deviations,
    smoothed: &[Option<(f64, f64)>],
    setting_pm_mm: &dyn Fn(&Point) -> f64,
) -> Option<Shift> {
    let seen: Vec<Seen> = members
        .iter()
        .filter_map(|&i| match deviations.states[i as usize] {
            State::Distance { mm, .. } => Some(Seen {
                at: reference.points()[i as usize],
                normal: reference.normals()[i as usize],
                mm,
            }),
            _ => None,
        })
        .collect();
    if seen.len() < 50 {
        return None;
    }
    let seats = seating_line(region, &seen);
    let fit = robust_fit(&seats)?;
    let moved = |p: &Point| fit.rotation.cross(&(p - fit.about)) + fit.translation_mm;
    let (mut left, mut all) = (0.0, 0.0);
    for s in &seen {
        left += (s.mm - s.normal.dot(&moved(&s.at))).powi(2);
        all += s.mm * s.mm;
    }
    let explained = if all > 0.0 {
        (1.0 - left / all).max(0.0)
    } else {
        0.0
    };
    let rest: Vec<(Point, f64)> = members
        .iter()
        .filter_map(|&i| {
            let (mm, pm) = smoothed[i as usize]?;
            let (at, normal) = (reference.points()[i as usize], reference.normals()[i as usize]);
            let rest = mm - normal.dot(&moved(&at));
            (rest.abs() > HOME_MM && compare::figures::sure_enough(pm, region.limit_mm)).then_some((at, rest))
        })
        .collect();
    let spots = spots(&rest, reference.spacing_mm);
    let pads: Vec<Pad> = region
        .pads
        .iter()
        .map(|pad| answer(pad, &fit, moved(&pad.at_mm), setting_pm_mm))
        .collect();
    let middle_pm = fit.pm_mm.hypot(setting_pm_mm(&fit.about));
    let words = whole_in_words(&fit, &seats, explained, &spots, &pads, middle_pm);
    Some(Shift {
        translation_mm: fit.translation_mm,
        rotation: fit.rotation,
        about: fit.about,
        unheld: fit.unheld.clone(),
        explained,
        pm_mm: middle_pm,
        pads,
        spots,
        words,
    })
}

fn answer(pad: &NamedPoint, fit: &Fit, moved: Vector, setting_pm_mm: &dyn Fn(&Point) -> f64) -> Pad {
    let shim_mm = -moved;
    let pm_mm = fit.pm_at(&pad.at_mm).hypot(setting_pm_mm(&pad.at_mm));
    Pad {
        name: pad.name.clone(),
        at: pad.at_mm,
        shim_mm,
        pm_mm,
        words: words::correction(&shim_mm, pm_mm.max(25.4 / 128.0)),
    }
}

fn whole_in_words(
    fit: &Fit,
    seats: &[Seen],
    explained: f64,
    spots: &[Spot],
    pads: &[Pad],
    pm_mm: f64,
) -> String {
    let least = HOME_MM.max(pm_mm);
    let place = words::displacement(&fit.translation_mm, least);
    // How far the turn carries the region's far end, beyond what the middle moved.
    let lift = seats
        .iter()
        .map(|s| fit.rotation.cross(&(s.at - fit.about)).norm())
        .fold(0.0, f64::max);
    let level = lift < HOME_MM;
    let moved = place != "home" || !level || pads.iter().any(|p| p.shim_mm.norm() > HOME_MM);
    match (moved, !spots.is_empty()) {
        (false, false) => "home".to_string(),
        (false, true) => "dress only: it sits home, its shape is off".to_string(),
        (true, false) if level => format!("{place}, all of it: shim only"),
        (true, false) => format!("{place} in the middle and leaning: shim only"),
        (true, true) if level && explained > SHIM_ONLY => {
            format!("{place}, all of it: shim, then dress what is left")
        }
        (true, true) => format!("{place} in the middle: shim, then dress what is left"),
    }
}

/// Gathers places that are off into spots of one sign that hang together, drops the specks, worst first.
fn spots(rest: &[(Point, f64)], spacing_mm: f64) -> Vec<Spot> {
    let places: Vec<Point> = rest.iter().map(|r| r.0).collect();
    let near = Near::new(&places);
    let mut taken = vec![false; rest.len()];
    let mut spots: Vec<Spot> = Vec::new();
    for start in 0..rest.len() {
        if taken[start] {
            continue;
        }
        taken[start] = true;
        let mut group = vec![start as u32];
        let mut next = 0;
        while next < group.len() {
            near.visit_within(&places[group[next] as usize], 2.0 * spacing_mm, |n| {
                let i = n.index as usize;
                if !taken[i] && rest[i].1 * rest[start].1 > 0.0 {
                    taken[i] = true;
                    group.push(n.index);
                }
            });
            next += 1;
        }
        let area_mm2 = group.len() as f64 * spacing_mm.powi(2);
        let worst = group
            .iter()
            .map(|&i| rest[i as usize])
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        if let Some((at, mm)) = worst
            && area_mm2 >= LEAST_SPOT_MM2
            && group.len() >= LEAST_SPOT_POINTS
        {
            spots.push(Spot { mm, at, area_mm2 });
        }
    }
    spots.sort_by(|a, b| b.mm.abs().total_cmp(&a.mm.abs()));
    spots
}

/// The places within half an inch of the region's edge; all of them where the band holds too few.
fn seating_line(region: &Region, seen: &[Seen]) -> Vec<Seen> {
    let size = region.bounds.size();
    let thin = size.imin();
    let band: Vec<Seen> = seen
        .iter()
        .filter(|s| {
            (0..3).filter(|&axis| axis != thin).any(|axis| {
                let (a, b) = (
                    s.at[axis] - region.bounds.low[axis],
                    region.bounds.high[axis] - s.at[axis],
                );
                a.min(b) < SEATING_MM
            })
        })
        .copied()
        .collect();
    if band.len() >= 50 && band.len() * 50 > seen.len() {
        band
    } else {
        seen.to_vec()
    }
}

struct Fit {
    translation_mm: Vector,
    rotation: Vector,
    about: Point,
    unheld: Vec<(String, [f64; 6])>,
    pm_mm: f64,
    covariance: Matrix6x6,
}

impl Fit {
    fn pm_at(&self, at: &Point) -> f64 {
        cloud::held::pm_at(&self.covariance, &(at - self.about))
    }
}

fn robust_fit(seats: &[Seen]) -> Option<Fit> {
    let n = seats.len() as f64;
    let about = Point::from(seats.iter().map(|s| s.at.coords).sum::<Vector>() / n);
    let radius = (seats.iter().map(|s| (s.at - about).norm_squared()).sum::<f64>() / n)
        .sqrt()
        .max(1e-9);
    let points: Vec<Point> = seats.iter().map(|s| s.at).collect();
    let normals: Vec<Vector> = seats.iter().map(|s| s.normal).collect();
    let unheld: Vec<(String, [f64; 6])> = Motions::of(&points, &normals, 0.0)
        .held()
        .free
        .into_iter()
        .map(|f| (f.words, f.vector))
        .collect();
    let rows: Vec<SmallMotion> = seats
        .iter()
        .map(|s| row(&((s.at - about) / radius), &s.normal))
        .collect();
    let mut small = SmallMotion::zeros();
    let mut sigma = 0.0;
    let mut held_inverse = Matrix6x6::zeros();
    for round in 0..15 {
        let rest: Vec<f64> = seats
            .iter()
            .zip(&rows)
            .map(|(s, r)| s.mm - r.dot(&small))
            .collect();
        let mut sizes: Vec<f64> = rest.iter().map(|r| r.abs()).collect();
        sigma = (1.4826 * median(&mut sizes)).max(1e-6);
        let (mut matrix, mut right) = (Matrix6x6::zeros(), SmallMotion::zeros());
        for ((seat, row), rest) in seats.iter().zip(&rows).zip(&rest) {
            // The first round takes all alike: the region may have moved as a whole by far more than it is rough.
            let share = if round == 0 { 0.0 } else { rest / (4.685 * sigma) };
            if share.abs() < 1.0 {
                let weighted = row * (1.0 - share * share).powi(2);
                matrix += weighted * row.transpose();
                right += weighted * seat.mm;
            }
        }
        let eigen = matrix.symmetric_eigen();
        let largest = eigen.eigenvalues.max();
        if largest.is_nan() || largest <= 0.0 {
            return None;
        }
        let mut next = SmallMotion::zeros();
        held_inverse = Matrix6x6::zeros();
        for k in 0..6 {
            let value = eigen.eigenvalues[k];
            if value >= LEAST_HELD * largest {
                let v = eigen.eigenvectors.column(k).into_owned();
                next += v * (v.dot(&right) / value);
                held_inverse += v * v.transpose() / value;
            }
        }
        let step = (next - small).norm();
        small = next;
        if round > 0 && step < 1e-6 {
            break;
        }
    }
    // Neighbours share their points over a disc: about one in twenty places is its own evidence.
    let mut covariance = held_inverse * (sigma * sigma * 20.0);
    for i in 0..6 {
        for j in 0..6 {
            covariance[(i, j)] /= radius.powi((i < 3) as i32 + (j < 3) as i32);
        }
    }
    let pm_mm = cloud::held::pm_at(&covariance, &Vector::zeros());
    Some(Fit {
        translation_mm: Vector::new(small[3], small[4], small[5]),
        rotation: Vector::new(small[0], small[1], small[2]) / radius,
        about,
        unheld,
        pm_mm,
        covariance,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Bounds, Cloud};
    use compare::Status;

    /// A flat floor of 600 × 300 with a pressed-in spot, moved as `by` says.
    fn moved(by: impl Fn(&Point) -> f64) -> Shift {
        let sheet: Vec<Point> = (0..7200)
            .map(|i| Point::new(f64::from(i % 120) * 5.0, f64::from(i / 120) * 5.0, 0.0))
            .collect();
        let mut cloud = Cloud::from_points(sheet);
        cloud.normals = Some(vec![Vector::z(); 7200]);
        let (reference, _) = Surface::<Body>::new(cloud, None).unwrap();
        let states = reference
            .points()
            .iter()
            .map(|p| State::Distance {
                mm: by(p),
                pm_mm: 0.05,
            })
            .collect();
        let deviations = Deviations {
            states,
            disc_mm: 10.0,
        };
        let smoothed = compare::smooth::smoothed(&reference, &deviations);
        let region = Region {
            name: "floor".into(),
            status: Status::Worked,
            bounds: Bounds {
                low: Point::new(0.0, 0.0, -5.0),
                high: Point::new(595.0, 295.0, 5.0),
            },
            limit_mm: 1.6,
            outside: None,
            pads: vec![NamedPoint {
                name: "RR".into(),
                at_mm: Point::new(595.0, 295.0, 0.0),
            }],
        };
        let members: Vec<u32> = (0..7200).collect();
        shift(&region, &members, &reference, &deviations, &smoothed, &|_| 0.0).unwrap()
    }

    #[test]
    fn a_leaning_floor_gives_the_shim_at_its_pad_and_only_that() {
        let plane = |p: &Point| -3.0 - 0.0025 * (p.x - 300.0) + 0.004 * (p.y - 150.0);
        let found = moved(plane);
        let expected = -plane(&Point::new(595.0, 295.0, 0.0));
        assert!((found.pads[0].shim_mm.z - expected).abs() < 1e-6);
        assert!(found.explained > 0.999);
        assert!(found.words.ends_with("shim only"), "{}", found.words);
        assert_eq!(found.unheld.len(), 3);
        assert!(found.translation_mm.xy().norm() < 1e-9);
    }

    #[test]
    fn a_dent_in_the_middle_does_not_lean_the_whole() {
        let found = moved(|p| {
            if (p - Point::new(300.0, 150.0, 0.0)).norm() < 90.0 {
                -4.0
            } else {
                0.0
            }
        });
        assert!(found.pads[0].shim_mm.norm() < 0.05);
        assert!(found.words.starts_with("dress only"), "{}", found.words);
        assert_eq!(found.spots.len(), 1);
        assert!((found.spots[0].mm + 4.0).abs() < 0.1);
        // A disc of 90 mm radius.
        assert!((found.spots[0].area_mm2 / (std::f64::consts::PI * 8100.0) - 1.0).abs() < 0.1);
    }
}
