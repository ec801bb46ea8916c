//! How well named points lay one take on another: how far they lie apart, what only they hold, and what speaks against it.

use std::fmt;

use cloud::chance::student_t;
use cloud::held::pm_at;
use cloud::named::Datum;
use cloud::unit::fraction_of_inch;
use cloud::{Body, Bounds, Motion, Scan};

use super::Link;
use super::graph::{LEAST_SIGMA_MM, SHARED};
use crate::any_pose::Rather;
use crate::named::{NamedFit, NamedResidual};
use crate::partners::{COVER, LEAST_BAD_MM};

/// Named points of two takes may lie so far apart, mm (1/16 in), or by the ± that was declared of them.
const AGREE_MM: f64 = 25.4 / 16.0;
/// A take whose far corner is known no better than to this is known poorly, mm (1/8 in).
pub const KNOWN_POORLY_MM: f64 = 25.4 / 8.0;

/// What named points say of a link that they laid.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidByPoints {
    /// How many took part.
    pub count: usize,
    /// Root mean square of how far they lie apart when laid by them alone, mm.
    pub rms_mm: f64,
    /// The one that lies farthest apart for what may be expected of it.
    pub worst: String,
    /// How far it does, mm.
    pub worst_mm: f64,
    /// What only they hold, by the axes of the reference: `fore and aft`, `against turning about the upright`. Empty where the
    /// metal holds all.
    pub only_they_hold: Vec<String>,
    /// The ± at the far corner of the measured take by this link alone, mm.
    pub pm_mm: f64,
}

/// Why named points don't lay one take on another without doubt.
#[derive(Debug, Clone, PartialEq)]
pub enum PointsDoubt {
    /// Three disagree, and there is no fourth to tell which is wrong.
    Apart {
        /// The one that lies farthest apart for what may be expected of it.
        worst: String,
        /// How far it does, mm.
        worst_mm: f64,
        /// What only they hold.
        ways: String,
    },
    /// Three, which can't check each other, lie so that the far corner is known poorly.
    Wide {
        /// The ± there, mm.
        pm_mm: f64,
        /// What only they hold.
        ways: String,
    },
    /// The metal does not bear them out, and they are too few, or don't agree.
    Alone {
        /// The share of the surface that is in common where they put it.
        overlap: f64,
        /// How many they are.
        count: usize,
        /// How far the worst lies apart, mm.
        worst_mm: f64,
    },
    /// The metal would carry a point off, and they are too few to be followed against it, or don't agree.
    AgainstMetal {
        /// How far, mm.
        off_mm: f64,
        /// How many they are.
        count: usize,
    },
    /// The metal would rather have the mirror image, or another way in which they lie on each other as well.
    MetalWouldRather(Rather),
}

impl fmt::Display for PointsDoubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let agree = "by points alone a take is laid only where four or more agree within 1/16 in or their ±";
        f.write_str("can't be laid without doubt: ")?;
        match self {
            Self::Apart {
                worst,
                worst_mm,
                ways,
            } => write!(
                f,
                "only the three named points hold it {ways}, and they disagree ({worst} lies {} off), with no fourth to tell which is wrong; measure them again, or name a fourth",
                length(*worst_mm)
            ),
            Self::Wide { pm_mm, ways } => write!(
                f,
                "only three named points hold it {ways}, which can't check each other and leave its far corner known to ± {}; name a fourth, and set them wider apart",
                length(*pm_mm)
            ),
            Self::Alone {
                overlap,
                count,
                worst_mm,
            } => {
                let common = format!(
                    "the {count} named points put it where {:.0} % of the surface is in common",
                    100.0 * overlap
                );
                let lies = if *overlap < crate::any_pose::LEAST_OVERLAP {
                    ""
                } else {
                    ", which does not lie on each other well"
                };
                write!(
                    f,
                    "{common}{lies}, and lie up to {} apart; {agree}. Are they points of these takes, and in their unit?",
                    length(*worst_mm)
                )
            }
            Self::MetalWouldRather(Rather::Image { share, as_laid }) => write!(
                f,
                "the take fits clearly better mirrored ({}), and points in one plane can't tell: is it of the other hand, or are two axes swapped in one of the files?",
                shares(*share, *as_laid)
            ),
            Self::MetalWouldRather(Rather::AnotherWay {
                turned_deg,
                share,
                as_laid,
            }) => write!(
                f,
                "the take fits clearly better turned by {turned_deg:.0}° ({}), where the same points lie on each other as well: are their names exchanged, or begun from the other end?",
                shares(*share, *as_laid)
            ),
            Self::AgainstMetal { off_mm, count } => write!(
                f,
                "the metal that they have in common would carry one of the {count} named points {} off; {agree}. Check the points",
                length(*off_mm)
            ),
        }
    }
}

fn shares(share: f64, as_laid: f64) -> String {
    let [share, as_laid] = [share, as_laid].map(|share| 100.0 * share);
    format!("{share:.0} % of the surface in common for {as_laid:.0} %")
}

/// `5/32 in (4.00 mm)`; only in mm where it is no 32nd.
pub fn length(mm: f64) -> String {
    match fraction_of_inch(mm, 32).as_str() {
        "0" => format!("{mm:.2} mm"),
        fraction => format!("{fraction} in ({mm:.2} mm)"),
    }
}

/// A named point, how far it lies off, and how far it may, mm.
pub struct Off {
    pub name: String,
    pub mm: f64,
    allowed_mm: f64,
}

impl Off {
    /// Whether that is more than may be expected.
    pub fn is_too_far(&self) -> bool {
        self.mm > self.allowed_mm
    }
}

/// The named points of two takes, and how the one is laid on the other by them.
pub struct ByNames<'a> {
    pub reference: &'a [Datum],
    pub measured: &'a [Datum],
    pub fit: &'a NamedFit,
}

impl ByNames<'_> {
    /// The points that took part.
    pub fn used(&self) -> impl Iterator<Item = &NamedResidual> {
        self.fit.points.iter().filter(|point| point.used)
    }

    /// How many took part.
    pub fn count(&self) -> usize {
        self.used().count()
    }

    /// The one that lies farthest off for what may be expected of it when the measured take is laid so.
    pub fn worst(&self, reference_from_measured: &Motion<Scan, Body>) -> Off {
        let mut worst = Off {
            name: String::new(),
            mm: 0.0,
            allowed_mm: AGREE_MM,
        };
        for (point, mm) in self.off(reference_from_measured) {
            let allowed_mm = self.allowed_mm(&point.name);
            if worst.name.is_empty() || mm / allowed_mm > worst.mm / worst.allowed_mm {
                let name = point.name.clone();
                worst = Off { name, mm, allowed_mm };
            }
        }
        worst
    }

    /// The farthest that any of them lies off when the measured take is laid so, mm.
    pub fn farthest_mm(&self, reference_from_measured: &Motion<Scan, Body>) -> f64 {
        let off = self.off(reference_from_measured);
        off.map(|(_, mm)| mm).fold(0.0, f64::max)
    }

    /// The points that took part, each with how far it lies off when the measured take is laid so, mm.
    fn off(
        &self,
        reference_from_measured: &Motion<Scan, Body>,
    ) -> impl Iterator<Item = (&NamedResidual, f64)> {
        self.used().filter_map(move |point| {
            let own = self.measured.iter().find(|d| d.point.name == point.name)?;
            let there = reference_from_measured.apply(&own.point.at_mm);
            Some((point, (there - point.at_mm).norm()))
        })
    }

    /// Whether they are enough to check each other, and do agree.
    pub fn agree(&self) -> bool {
        self.count() > super::FEWEST_POINTS && !self.worst(&self.fit.reference_from_measured).is_too_far()
    }

    fn allowed_mm(&self, name: &str) -> f64 {
        let pm_mm = |list: &[Datum]| {
            let declared = list
                .iter()
                .find(|d| d.point.name == name)
                .and_then(|d| d.pm_mm)
                .filter(|pm| pm.is_finite());
            declared.unwrap_or(0.0)
        };
        AGREE_MM.max(pm_mm(self.reference).hypot(pm_mm(self.measured)))
    }

    /// Standard deviation of a point along one axis, mm: what their residuals show, widened by Student's t since so few show it.
    /// That a few happen to agree does not make them known better than a pin repeats.
    pub fn sigma_mm(&self) -> f64 {
        let widened = if self.fit.spread_is_declared {
            1.0
        } else {
            student_t(0.95, self.fit.freedoms as f64) / COVER
        };
        (self.fit.motions.sigma_mm * widened).max(LEAST_BAD_MM)
    }
}

/// The ± of the measured take at the far corner of its box, by its link alone, mm.
pub fn pm_by_link_mm(link: &Link, bounds: &Bounds) -> f64 {
    let mut motions = link.motions.clone();
    motions.sigma_mm = motions.sigma_mm.max(LEAST_SIGMA_MM) * SHARED.sqrt();
    let covariance = motions.covariance();
    let corners = bounds.corners();
    let pms = corners.iter().map(|corner| {
        let arm = link.reference_from_measured.apply(corner) - motions.centre_mm;
        pm_at(&covariance, &arm)
    });
    pms.fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::named::set_by_names;
    use cloud::{NamedPoint, Point};

    fn named(places: &[[f64; 2]]) -> Vec<Datum> {
        let name = |k: usize| ["A", "B", "C", "D"][k].to_string();
        places
            .iter()
            .enumerate()
            .map(|(k, [x, y])| {
                let at_mm = Point::new(*x, *y, 0.0);
                Datum::from(NamedPoint { name: name(k), at_mm })
            })
            .collect()
    }

    const NEARLY_ON_A_LINE: [[f64; 2]; 3] = [[430.0, 250.0], [450.0, 60.0], [480.0, 430.0]];

    /// Of three points nearly on a line the end one is 6 mm off across it: the other two take most of the blame, and the spread
    /// is that of a fit with three freedoms, which Student's t makes 1.62 times as wide.
    #[test]
    fn three_that_disagree_are_too_far_off_and_four_that_agree_are_enough() {
        let reference = named(&NEARLY_ON_A_LINE);
        let mut measured = reference.clone();
        measured[1].point.at_mm.x += 6.0;
        let fit = set_by_names(&reference, &measured).unwrap();
        let names = ByNames {
            reference: &reference,
            measured: &measured,
            fit: &fit,
        };
        let worst = names.worst(&fit.reference_from_measured);
        assert!(
            worst.is_too_far() && (1.6..3.0).contains(&worst.mm),
            "{} mm",
            worst.mm
        );
        assert_eq!(worst.name, "A");
        assert!(!names.agree());
        let widened = names.sigma_mm() / fit.motions.sigma_mm;
        assert!((widened - 3.182 / 1.96).abs() < 1e-3, "{widened}");
        // A declared ± allows as much.
        for datum in &mut measured {
            datum.pm_mm = Some(4.0);
        }
        let fit = set_by_names(&reference, &measured).unwrap();
        let coarse = ByNames {
            reference: &reference,
            measured: &measured,
            fit: &fit,
        };
        assert!(!coarse.worst(&fit.reference_from_measured).is_too_far() && !coarse.agree());
        let four = named(&[[0.0, 0.0], [300.0, 10.0], [20.0, 400.0], [310.0, 390.0]]);
        let fit = set_by_names(&four, &four).unwrap();
        let good = ByNames {
            reference: &four,
            measured: &four,
            fit: &fit,
        };
        assert!(good.agree());
        assert!((good.sigma_mm() - LEAST_BAD_MM).abs() < 1e-12);
    }

    #[test]
    fn each_doubt_says_what_was_found_and_what_to_do() {
        let apart = PointsDoubt::Apart {
            worst: "A".to_string(),
            worst_mm: 2.05,
            ways: "fore and aft".to_string(),
        };
        assert_eq!(
            apart.to_string(),
            "can't be laid without doubt: only the three named points hold it fore and aft, and they disagree (A lies 3/32 in (2.05 mm) off), with no fourth to tell which is wrong; measure them again, or name a fourth"
        );
        let alone = PointsDoubt::Alone {
            overlap: 0.004,
            count: 3,
            worst_mm: 0.25,
        };
        let told = alone.to_string();
        for words in [
            "put it where 0 % of the surface is in common, and lie up to",
            "only where four or more agree",
        ] {
            assert!(told.contains(words), "{words}: {told}");
        }
        let mirrored = PointsDoubt::MetalWouldRather(Rather::Image {
            share: 0.97,
            as_laid: 0.36,
        });
        assert_eq!(
            mirrored.to_string(),
            "can't be laid without doubt: the take fits clearly better mirrored (97 % of the surface in common for 36 %), and points in one plane can't tell: is it of the other hand, or are two axes swapped in one of the files?"
        );
    }
}
