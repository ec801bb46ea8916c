//! How well a place is known: a probed point alike every way, a hole another way in its sheet than out of it.

use cloud::Vector;

/// The ± of a place (half the 95 % band) along any way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Unit normal of the sheet that it lies in.
    pub normal: Vector,
    /// ± along any way in that sheet, mm.
    pub in_sheet_mm: f64,
    /// ± out of it, mm.
    pub out_of_it_mm: f64,
}

impl Known {
    /// Alike every way.
    pub fn alike(pm_mm: f64) -> Self {
        Self {
            normal: Vector::z(),
            in_sheet_mm: pm_mm,
            out_of_it_mm: pm_mm,
        }
    }

    /// ± of what changes by `way` for each millimetre along each axis; of a place along a unit way. To first order (JCGM
    /// 100:2008, 5.1.2), its parts in the sheet and out of it being read by themselves.
    pub fn along_mm(&self, way: &Vector) -> f64 {
        let out_of_it = way.dot(&self.normal);
        let in_sheet = (way - self.normal * out_of_it).norm();
        (in_sheet * self.in_sheet_mm).hypot(out_of_it * self.out_of_it_mm)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hole_is_known_out_of_its_sheet_as_the_sheet_is() {
        let normal = Vector::new(0.0, 0.6, 0.8);
        let hole = Known {
            normal,
            in_sheet_mm: 0.7,
            out_of_it_mm: 0.04,
        };
        assert!((hole.along_mm(&normal) - 0.04).abs() < 1e-12);
        assert!((hole.along_mm(&Vector::x()) - 0.7).abs() < 1e-12);
        // Half way between: the root of the mean of both squares.
        let between = (normal + Vector::x()).normalize();
        let mean = ((0.7f64.powi(2) + 0.04f64.powi(2)) / 2.0).sqrt();
        assert!((hole.along_mm(&between) - mean).abs() < 1e-12);
        assert!((hole.along_mm(&(between * 3.0)) - 3.0 * mean).abs() < 1e-12);
        let probed = Known::alike(0.3);
        assert!((probed.along_mm(&between) - 0.3).abs() < 1e-12);
    }
}
