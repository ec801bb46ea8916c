//! Places, normals and figures in whole steps, so that a file stays small, and what that rounds away.

/// A cube over a set of places; each coordinate is kept in whole steps, 65 535 of them along its side.
pub struct Grid {
    pub low_mm: [f64; 3],
    pub step_mm: f64,
}

impl Grid {
    /// The cube over `points`, at least one. One side for all axes: a stretched mesh would bend its normals.
    pub fn over(points: &[[f32; 3]]) -> Self {
        let end = |pick: fn(f32, f32) -> f32, from: f32| -> [f32; 3] {
            points.iter().fold([from; 3], |ends, p| {
                std::array::from_fn(|axis| pick(ends[axis], p[axis]))
            })
        };
        let low_mm = end(f32::min, f32::INFINITY).map(f64::from);
        let high_mm = end(f32::max, f32::NEG_INFINITY).map(f64::from);
        let side = (0..3)
            .map(|axis| high_mm[axis] - low_mm[axis])
            .fold(0.0, f64::max);
        Self {
            low_mm,
            // A single point has no extent, and no viewer likes a scale of nothing.
            step_mm: if side > 0.0 {
                side / f64::from(u16::MAX)
            } else {
                1.0
            },
        }
    }

    /// A place in steps.
    pub fn steps(&self, point: &[f32; 3]) -> [u16; 3] {
        std::array::from_fn(|axis| {
            let steps = (f64::from(point[axis]) - self.low_mm[axis]) / self.step_mm;
            steps.round() as u16
        })
    }

    /// Most by which a coordinate is rounded, mm.
    pub fn rounding_mm(&self) -> f64 {
        self.step_mm / 2.0
    }
}

/// What signed figures are kept as shares of, in 32 767 steps to each side.
pub struct Scale {
    pub mm: f64,
}

impl Scale {
    /// The size of the largest; 1 mm at least.
    pub fn over(figures_mm: &[f32]) -> Self {
        let most = figures_mm
            .iter()
            .map(|mm| f64::from(mm.abs()))
            .fold(1.0, f64::max);
        Self { mm: most }
    }

    /// A figure in steps.
    pub fn share(&self, mm: f32) -> i16 {
        (f64::from(mm) / self.mm * f64::from(i16::MAX)).round() as i16
    }

    /// Most by which a figure is rounded, mm.
    pub fn rounding_mm(&self) -> f64 {
        self.mm / f64::from(i16::MAX) / 2.0
    }
}

/// A normal in 127 steps to each side, and a byte that lies idle; one without a direction points up, for light's sake.
pub fn normal(normal: &[f32; 3]) -> [u8; 4] {
    let length = normal.iter().map(|c| f64::from(*c).powi(2)).sum::<f64>().sqrt();
    let unit = if length > 1e-6 && length.is_finite() {
        normal.map(|c| f64::from(c) / length)
    } else {
        [0.0, 0.0, 1.0]
    };
    let [x, y, z] = unit.map(|c| (c * f64::from(i8::MAX)).round() as i8 as u8);
    [x, y, z, 0]
}
