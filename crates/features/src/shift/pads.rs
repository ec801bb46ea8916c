//! What the metal at a pad is off by, and what must be added there to bring it home.

use cloud::unit::{MM_PER_INCH, fraction_of_inch};
use cloud::{Body, NamedPoint, Point, Surface, Vector};
use compare::{Region, Verdict};

use super::{CANT_TELL, HOME_MM, SAME_PLACE_MM};
use crate::rigid_part::Fit;
use crate::shape::Twisted;
use crate::words;

/// Metal that parts from the move by less than this is not told apart from it, mm (1/64 in).
const LEAST_PART_MM: f64 = MM_PER_INCH / 64.0;
/// Shim under this is not said, mm (1/128 in).
const LEAST_SHIM_MM: f64 = MM_PER_INCH / 128.0;

/// A pad's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Pad {
    /// Its name.
    pub name: String,
    /// Where it is, mm.
    pub at: Point,
    /// What must be added there to bring the metal home, mm; only along directions that are known. It is that of the region's
    /// move, or of the metal at the pad where that surely lies otherwise.
    pub shim_mm: Vector,
    /// ± of it, mm: never less than the metal at the pad parts from it; without end where it was not measured.
    pub pm_mm: f64,
    /// In the shop's words.
    pub words: String,
}

/// What was seen of a region.
pub(super) struct Metal<'a> {
    /// Its points of the reference.
    pub members: &'a [u32],
    pub reference: &'a Surface<Body>,
    /// How far each point of the reference is off with its ±, smoothed.
    pub smoothed: &'a [Option<(f64, f64)>],
    /// The way it faces as a whole, unit.
    pub facing: Vector,
    /// Its twist, where it is surely off.
    pub twisted: Option<&'a Twisted>,
    /// Whether enough of it was seen for its pads to be told.
    pub seen_enough: bool,
}

/// The metal at one place.
#[derive(Clone, Copy)]
struct Off {
    mm: f64,
    pm_mm: f64,
    normal: Vector,
}

impl Metal<'_> {
    /// Of the nearest member within half an inch.
    fn at(&self, pad: &Point) -> Option<Off> {
        let apart = |i: u32| (self.reference.points()[i as usize] - pad).norm();
        let nearest = self
            .members
            .iter()
            .copied()
            .filter(|&i| self.smoothed[i as usize].is_some() && apart(i) < SAME_PLACE_MM)
            .min_by(|&a, &b| apart(a).total_cmp(&apart(b)))?;
        let (mm, pm_mm) = self.smoothed[nearest as usize]?;
        let normal = self.reference.normals()[nearest as usize];
        Some(Off { mm, pm_mm, normal })
    }
}

/// The answers at the pads of a region that has moved by `fit`; `setting_pm_mm` is the ± of the setting at a place along a
/// direction.
pub(super) fn pads(
    region: &Region,
    metal: &Metal<'_>,
    fit: &Fit,
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> Vec<Pad> {
    let answer = |pad: &NamedPoint| {
        if !metal.seen_enough {
            return not_measured(pad);
        }
        let at = &pad.at_mm;
        let (moved, fit_pm_mm) = (fit.at(at), fit.pm_at(at));
        let found = metal.at(at);
        let normal = found.map_or(metal.facing, |off| off.normal);
        let rest_mm = found.map_or(0.0, |off| off.mm - normal.dot(&moved));
        let parts = found.filter(|off| rest_mm.abs() > LEAST_PART_MM.max(off.pm_mm.hypot(fit_pm_mm)));
        let (off, own_pm_mm) = match (parts, found) {
            (Some(metal), _) => (moved + normal * rest_mm, metal.pm_mm),
            (None, Some(_)) => (moved, fit_pm_mm.hypot(rest_mm)),
            // What lies there is as unsure as what the move leaves elsewhere.
            (None, None) => (moved, fit_pm_mm.hypot(1.96 * fit.sigma_mm)),
        };
        let pm_mm = own_pm_mm.hypot(pm_of_move(at, &off, &normal, setting_pm_mm));
        let least_mm = pm_mm.max(LEAST_SHIM_MM);
        let words = if pm_mm > region.limit_mm {
            CANT_TELL.to_string()
        } else if parts.is_none() {
            words::correction(&back(&moved), least_mm)
        } else {
            let twist_mm = metal.twisted.map_or(0.0, |twisted| twisted.at(at));
            in_words(&moved, &normal, [rest_mm, twist_mm], least_mm)
        };
        Pad {
            name: pad.name.clone(),
            at: *at,
            shim_mm: back(&off),
            pm_mm,
            words,
        }
    };
    region.pads.iter().map(answer).collect()
}

/// Of a region of which too little was seen nothing is known at its pads either: the few distances at its rim would make
/// metal that was cut out sit home.
fn not_measured(pad: &NamedPoint) -> Pad {
    Pad {
        name: pad.name.clone(),
        at: pad.at_mm,
        shim_mm: Vector::zeros(),
        pm_mm: f64::INFINITY,
        words: Verdict::NotMeasured.words().to_string(),
    }
}

/// The way back; nothing is not said with a sign.
fn back(moved: &Vector) -> Vector {
    Vector::zeros() - moved
}

/// Of metal that parts from the move by `rest_mm`, as much of which as it explains is the twist's.
fn in_words(moved: &Vector, normal: &Vector, [rest_mm, twist_mm]: [f64; 2], least_mm: f64) -> String {
    let own_mm = rest_mm - twist_mm;
    let (own_mm, twist_mm) = match own_mm.abs() < rest_mm.abs() {
        true => (own_mm, twist_mm),
        false => (rest_mm, 0.0),
    };
    let of_move = words::correction(&back(moved), least_mm);
    let still = of_move == "home";
    let in_all = words::displacement(&(moved + normal * rest_mm), HOME_MM / 2.0);
    if own_mm.abs() > HOME_MM {
        // The part as a whole may sit home and the metal at the pad still be bent; it is told as finely as the shim beside it,
        // lest two pads that are bent alike read apart.
        let side = if own_mm > 0.0 { "proud" } else { "shy" };
        let size = fraction_of_inch(own_mm, 64);
        let bent = format!("{of_move}, but the metal there is bent {size} {side}");
        return match still && twist_mm.abs() <= LEAST_PART_MM {
            true => bent,
            false => format!("{bent}, {in_all} in all"),
        };
    }
    // What sits home is not shimmed for the unevenness of a spot.
    let shim = match still {
        true => of_move,
        false => words::correction(&back(&(moved + normal * own_mm)), least_mm),
    };
    match twist_mm.abs() > LEAST_PART_MM {
        true => format!("{shim}, {in_all} with its twist"),
        false => shim,
    }
}

/// The ± of the setting of a move at a place whose metal faces along `normal`: along the way in which it has moved, and along
/// the normal, along which it is read.
pub(super) fn pm_of_move(
    at: &Point,
    moved: &Vector,
    normal: &Vector,
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> f64 {
    let read = setting_pm_mm(at, normal);
    let way = moved.try_normalize(HOME_MM);
    way.map_or(read, |way| read.max(setting_pm_mm(at, &way)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(moved_mm: f64, rest_mm: f64, twist_mm: f64) -> String {
        in_words(
            &(Vector::z() * moved_mm),
            &Vector::z(),
            [rest_mm, twist_mm],
            LEAST_SHIM_MM,
        )
    }

    #[test]
    fn metal_that_parts_from_the_move_is_told_with_what_it_is_off_in_all() {
        let sixteenth = 25.4 / 16.0;
        assert_eq!(
            said(0.0, -sixteenth, 0.0),
            "home, but the metal there is bent 1/16 shy"
        );
        assert_eq!(
            said(2.0 * sixteenth, sixteenth, 0.0),
            "take 1/8 of shim out, but the metal there is bent 1/16 proud, 3/16 high in all"
        );
        assert_eq!(
            said(2.0 * sixteenth, sixteenth, sixteenth),
            "take 1/8 of shim out, 3/16 high with its twist"
        );
        // Under a 32nd: where the region moves the shim is the metal's, and what sits home stays.
        assert_eq!(
            said(2.0 * sixteenth, -sixteenth / 4.0, 0.0),
            "take 7/64 of shim out"
        );
        assert_eq!(said(0.0, sixteenth / 3.0, 0.0), "home");
        // A twist that goes the other way explains nothing.
        assert_eq!(
            said(0.0, sixteenth, -sixteenth),
            "home, but the metal there is bent 1/16 proud"
        );
    }
}
