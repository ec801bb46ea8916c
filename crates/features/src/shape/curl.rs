//! The curl of a panel's edges: how far the rim stands from where the sheet behind it would carry it, inch by inch.
//!
//! At each inch along a side a line is laid through what is left from one to three inches in from the edge (least squares with
//! bisquare weights, Beaton & Tukey 1974); the curl is the median of what the last half inch stands over it. All of it is
//! deviation from the reference, so that an edge that was made with a curl has none; no setting has a share in it.

use cloud::bisquare::{TUKEY, bisquare};
use cloud::frame::{SIDES, called};
use cloud::statistics::{median, sum};
use cloud::unit::fraction_of_inch;
use cloud::{Point, Vector};

use super::{SHARED, extent};
use crate::rigid_part::Seen;

/// Length of a station along the edge, mm (an inch), and the fewest of them that make a curl.
const STATION_MM: f64 = 25.4;
const FEWEST_STATIONS: usize = 3;
/// How far in from the edge the rim goes, and from where to where the sheet behind it, mm.
const RIM_MM: f64 = 12.7;
const BEHIND_MM: [f64; 2] = [25.4, 76.2];
/// A panel that is less deep has no sheet behind its rim, mm (four inches).
const SHALLOWEST_MM: f64 = 101.6;
/// Fewest places of a rim and of the sheet behind it at a station.
const FEWEST_OF_RIM: usize = 4;
const FEWEST_BEHIND: usize = 8;
/// A figure averaged over a disc of more than this radius, half of the rim, says nothing of the rim by itself: it takes in what
/// lies round the fold. mm.
const COARSEST_DISC_MM: f64 = RIM_MM / 2.0;
/// A curl under this is none, mm (1/32 in).
const LEAST_MM: f64 = 25.4 / 32.0;
/// A median is as sure as a mean of so many fewer (normal noise: π/2).
const OF_A_MEDIAN: f64 = std::f64::consts::FRAC_PI_2;

/// What is known around a panel.
pub struct Around<'a> {
    /// Radius of the disc over which each deviation was averaged, mm.
    pub disc_mm: f64,
    /// Whether the sheet goes on past a place of the panel's border in a direction: then the border is no edge.
    pub goes_on: &'a dyn Fn(&Seen, &Vector) -> bool,
}

/// An edge of a panel that stands off over a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Curl {
    /// Which edge, in words: `rear edge`.
    pub edge: String,
    /// How far its rim stands proud of where the sheet behind would carry it, mm; below 0 it is shy.
    pub mm: f64,
    /// ± of it (half the 95 % band), mm.
    pub pm_mm: f64,
    /// Where the run begins and ends, mm.
    pub ends: [Point; 2],
    /// How long it is, mm, in whole inches.
    pub length_mm: f64,
    /// `rear edge curls up 3/32 over 12 in`.
    pub words: String,
}

impl Curl {
    /// Whether a place lies on the run, no farther in than the sheet that is taken to lie flat.
    pub fn holds(&self, at: &Point) -> bool {
        let run = self.ends[1] - self.ends[0];
        let share = (at - self.ends[0]).dot(&run) / run.norm_squared().max(1e-12);
        let foot = self.ends[0] + run * share.clamp(0.0, 1.0);
        (at - foot).norm() <= BEHIND_MM[0]
    }
}

/// A panel with what is left at each of its places without its move and its bow.
pub(super) struct Sheet<'a> {
    pub(super) faces: &'a [&'a Seen],
    pub(super) left: &'a [f64],
    pub(super) facing: Vector,
    pub(super) axes: [Vector; 2],
}

/// What a station reads.
#[derive(Clone, Copy)]
struct Reading {
    mm: f64,
    variance: f64,
    edge: Point,
}

/// The curls of all four sides, in the order of the axes, the lesser end first.
pub(super) fn curls(sheet: &Sheet<'_>, around: &Around<'_>) -> Vec<Curl> {
    if around.disc_mm > COARSEST_DISC_MM {
        return Vec::new();
    }
    let [first, second] = sheet.axes;
    [
        (-first, second),
        (first, second),
        (-second, first),
        (second, first),
    ]
    .iter()
    .flat_map(|(side, along)| sheet.side(side, along, around))
    .collect()
}

impl Sheet<'_> {
    /// The curls of the edge that looks toward `side` and runs along `along`.
    fn side(&self, side: &Vector, along: &Vector, around: &Around<'_>) -> Vec<Curl> {
        if 2.0 * extent(self.faces, side).1 < SHALLOWEST_MM {
            return Vec::new();
        }
        let (middle, half_mm) = extent(self.faces, along);
        let mut stations: Vec<Vec<usize>> = vec![Vec::new(); (2.0 * half_mm / STATION_MM) as usize + 1];
        let last = stations.len() - 1;
        for (i, seen) in self.faces.iter().enumerate() {
            let mm = seen.at.coords.dot(along) - (middle - half_mm);
            stations[((mm / STATION_MM) as usize).min(last)].push(i);
        }
        let readings: Vec<Option<Reading>> = stations
            .iter()
            .map(|station| self.read(station, side, around))
            .collect();
        readings
            .chunk_by(|a, b| stands(a) == stands(b))
            .filter(|run| run.len() >= FEWEST_STATIONS && stands(&run[0]) != 0)
            .filter_map(|run| self.told(&run.iter().flatten().copied().collect::<Vec<_>>(), side))
            .collect()
    }

    /// Reads a station; `None` where its border is no edge, or too little of it was seen.
    fn read(&self, station: &[usize], side: &Vector, around: &Around<'_>) -> Option<Reading> {
        let toward = |i: usize| self.faces[i].at.coords.dot(side);
        let outermost = station
            .iter()
            .copied()
            .max_by(|&a, &b| toward(a).total_cmp(&toward(b)))?;
        let edge_mm = toward(outermost);
        let (mut rim, mut behind) = (Vec::new(), Vec::new());
        for &i in station {
            let in_mm = edge_mm - toward(i);
            if in_mm <= RIM_MM {
                rim.push((in_mm, self.left[i]));
            } else if (BEHIND_MM[0]..=BEHIND_MM[1]).contains(&in_mm) {
                behind.push((in_mm, self.left[i]));
            }
        }
        let edge = self.faces[outermost];
        if rim.len() < FEWEST_OF_RIM || behind.len() < FEWEST_BEHIND || (around.goes_on)(edge, side) {
            return None;
        }
        let line = Line::through(&behind)?;
        let mut over: Vec<f64> = rim.iter().map(|(in_mm, mm)| mm - line.at(*in_mm)).collect();
        let mm = median(&mut over);
        let own = |count: usize| (count as f64 / SHARED).max(1.0);
        let carried_mm = line.middle_mm - RIM_MM / 2.0;
        let variance = line.sigma_mm.powi(2)
            * (OF_A_MEDIAN / own(rim.len())
                + 1.0 / own(behind.len())
                + carried_mm * carried_mm * SHARED / line.spread_mm2);
        Some(Reading {
            mm,
            variance,
            edge: edge.at,
        })
    }

    /// A run of stations that all stand off the same way; `None` where it is no more than its ±.
    fn told(&self, run: &[Reading], side: &Vector) -> Option<Curl> {
        let count = run.len() as f64;
        let mm = sum(run.iter().map(|r| r.mm)) / count;
        let pm_mm = 1.96 * sum(run.iter().map(|r| r.variance)).sqrt() / count;
        let (first, last) = (run.first()?, run.last()?);
        if mm.abs() <= pm_mm.max(LEAST_MM) {
            return None;
        }
        let edge = format!("{} edge", called(&SIDES, side));
        // Up and down are said of a sheet that lies; of one that stands, out and in.
        let outward = mm > 0.0;
        let way = match (
            self.facing.z.abs() > super::FACING,
            outward == (self.facing.z > 0.0),
        ) {
            (true, true) => "up",
            (true, false) => "down",
            (false, _) if outward => "out",
            (false, _) => "in",
        };
        let size = fraction_of_inch(mm, 32);
        Some(Curl {
            words: format!("{edge} curls {way} {size} over {} in", run.len()),
            edge,
            mm,
            pm_mm,
            ends: [first.edge, last.edge],
            length_mm: count * STATION_MM,
        })
    }
}

/// Which way a station stands off for sure: 1 proud, −1 shy, 0 not.
fn stands(reading: &Option<Reading>) -> i8 {
    match reading {
        Some(r) if r.mm.abs() > LEAST_MM.max(1.96 * r.variance.sqrt()) => {
            if r.mm > 0.0 {
                1
            } else {
                -1
            }
        }
        _ => 0,
    }
}

/// A line through heights at distances from an edge.
struct Line {
    middle_mm: f64,
    height_mm: f64,
    slope: f64,
    /// Weighted sum of the squared distances from the middle, mm².
    spread_mm2: f64,
    /// Robust spread of what it leaves, mm.
    sigma_mm: f64,
}

impl Line {
    fn through(places: &[(f64, f64)]) -> Option<Self> {
        let mut line: Option<Self> = None;
        for _ in 0..10 {
            let weight = |in_mm: f64, mm: f64| {
                line.as_ref()
                    .map_or(1.0, |l| bisquare(mm - l.at(in_mm), TUKEY * l.sigma_mm))
            };
            let weights: Vec<f64> = places.iter().map(|(in_mm, mm)| weight(*in_mm, *mm)).collect();
            let weighted = |of: &dyn Fn(&(f64, f64)) -> f64| {
                sum(places
                    .iter()
                    .zip(&weights)
                    .map(|(place, weight)| weight * of(place)))
            };
            let total = weighted(&|_| 1.0);
            if total <= 0.0 {
                return line;
            }
            let middle_mm = weighted(&|p| p.0) / total;
            let height_mm = weighted(&|p| p.1) / total;
            let spread_mm2 = weighted(&|p| (p.0 - middle_mm).powi(2));
            if spread_mm2 < 1e-6 {
                return line;
            }
            let slope = weighted(&|p| (p.0 - middle_mm) * (p.1 - height_mm)) / spread_mm2;
            let mut next = Self {
                middle_mm,
                height_mm,
                slope,
                spread_mm2,
                sigma_mm: 0.0,
            };
            let mut left: Vec<f64> = places.iter().map(|p| (p.1 - next.at(p.0)).abs()).collect();
            next.sigma_mm = (1.4826 * median(&mut left)).max(1e-6);
            line = Some(next);
        }
        line
    }

    fn at(&self, in_mm: f64) -> f64 {
        self.height_mm + self.slope * (in_mm - self.middle_mm)
    }
}

#[cfg(test)]
mod tests {
    use super::super::shape;
    use super::*;

    const LIMIT_MM: f64 = 1.5875;

    /// A floor of 508 × 305 from (0, 0) in places 4 mm apart that faces `facing`, with what is left at each (x, y), roughened.
    fn floor(facing: Vector, left: impl Fn(f64, f64) -> f64) -> Vec<Seen> {
        (0..128 * 77)
            .map(|i: u32| (4.0 * f64::from(i % 128), 4.0 * f64::from(i / 128), i))
            .map(|(x, y, i)| Seen {
                at: Point::new(x, y, 0.0),
                normal: facing,
                mm: left(x, y) + 0.05 * f64::from(i * 7919).sin(),
            })
            .collect()
    }

    fn read(floor: &[Seen], disc_mm: f64, goes_on: bool) -> Vec<Curl> {
        let around = Around {
            disc_mm,
            goes_on: &|_, _| goes_on,
        };
        shape(floor, LIMIT_MM, &around).unwrap().curls
    }

    /// From an inch in the sheet rises by 1/8 in at the edge, as the square of the way: over the last half inch, in places
    /// 0, 4, 8 and 12 mm in, the middle of it stands at 3.175 (1 − 6/25.4)² = 1.85 mm.
    fn curled(x: f64, y: f64) -> f64 {
        let in_mm = 508.0 - x;
        let runs = (101.6..203.2).contains(&y);
        if runs && in_mm < 25.4 {
            3.175 * (1.0 - in_mm / 25.4).powi(2)
        } else {
            0.0
        }
    }

    #[test]
    fn a_rim_that_turns_up_is_told_with_its_edge_and_its_run() {
        let found = read(&floor(Vector::z(), curled), 5.0, false);
        assert_eq!(found.len(), 1, "{found:?}");
        let curl = &found[0];
        assert!((curl.mm - 1.85).abs() < 0.15, "{curl:?}");
        assert!(curl.pm_mm < 0.2 && curl.edge == "rear edge", "{curl:?}");
        assert!(
            curl.words.starts_with("rear edge curls up 1/16 over "),
            "{curl:?}"
        );
        assert!((curl.length_mm - 101.6).abs() <= 25.4, "{curl:?}");
        assert!(curl.holds(&Point::new(500.0, 150.0, 0.0)) && !curl.holds(&Point::new(400.0, 150.0, 0.0)));
        // Seen from below the same metal stands out downward.
        let below = read(&floor(-Vector::z(), curled), 5.0, false);
        assert!(below[0].words.starts_with("rear edge curls down"), "{below:?}");
    }

    /// A lean, a bow, and a rim that stands off where the sheet goes on, or that was not resolved, are no curl.
    #[test]
    fn what_is_no_curl_is_not_told() {
        let leaning = |x: f64, y: f64| 0.01 * x - 0.02 * y;
        assert!(read(&floor(Vector::z(), leaning), 5.0, false).is_empty());
        let bowed = |x: f64, _: f64| 6.0 * (1.0 - ((x - 254.0) / 254.0).powi(2));
        assert!(read(&floor(Vector::z(), bowed), 5.0, false).is_empty());
        let floor = floor(Vector::z(), curled);
        assert!(read(&floor, 5.0, true).is_empty());
        assert!(read(&floor, 12.0, false).is_empty());
    }
}
