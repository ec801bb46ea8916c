//! One figure along a bar, inch by inch: its ends foretold, its bow, its ± from what jumps between neighbours.

use cloud::chance::student_t;
use nalgebra::{Matrix3, Vector3};

use super::stations::Station;

/// Fewest inches of which anything is said.
pub(super) const FEWEST: usize = 5;
/// With so many inches an end is foretold by a parabola through five of them, else by a line through three.
const FOR_A_PARABOLA: usize = 10;
/// An end is not foretold from farther off than this, mm (2½ in): what was not seen may be bent.
const FARTHEST_MM: f64 = 63.5;
/// Freedoms that each third difference brings: neighbours share three of their four inches, so that the squares of n
/// differences say as much as 20² n / (20² + 2 (15² + 6² + 1²)) that share none (moving-average theory; the differences
/// themselves after Gasser, Sroka & Jennen-Steinmetz 1986, Biometrika 73, 625-633).
const FREEDOMS_EACH: f64 = 400.0 / 924.0;

/// The inches that show a figure.
pub(super) struct Run {
    /// Which inch of the bar each is.
    stations: Vec<usize>,
    /// From the first end, mm.
    at_mm: Vec<f64>,
    values: Vec<f64>,
    /// ± of one value.
    pm: f64,
}

/// The largest departure from the line between the ends.
pub(super) struct Largest {
    pub mm: f64,
    pub at_mm: f64,
    pub pm_mm: f64,
}

impl Run {
    /// The figure that `value` takes from the inches; `None` where too few show it, or none that follow each other.
    pub(super) fn of(stations: &[Station], value: impl Fn(&Station) -> Option<f64>) -> Option<Self> {
        let mut run = Self {
            stations: Vec::new(),
            at_mm: Vec::new(),
            values: Vec::new(),
            pm: 0.0,
        };
        for station in stations {
            if let Some(value) = value(station) {
                run.stations.push(station.inch);
                run.at_mm.push(station.at_mm);
                run.values.push(value);
            }
        }
        if run.values.len() < FEWEST {
            return None;
        }
        run.pm = run.chance()?;
        Some(run)
    }

    /// ± of one value: the scatter about the parabola through its neighbours, by third divided differences, which a bow
    /// leaves at nothing.
    fn chance(&self) -> Option<f64> {
        let mut squares = Vec::new();
        for k in 0..self.values.len().saturating_sub(3) {
            if self.stations[k + 3] != self.stations[k] + 3 {
                continue;
            }
            let at = &self.at_mm[k..k + 4];
            let weight = |i: usize| -> f64 {
                let apart = (0..4).filter(|&j| j != i).map(|j| (at[i] - at[j]) / 25.4);
                1.0 / apart.product::<f64>()
            };
            let weights = [0, 1, 2, 3].map(weight);
            let difference: f64 = weights.iter().zip(&self.values[k..]).map(|(w, v)| w * v).sum();
            squares.push(difference.powi(2) / weights.iter().map(|w| w * w).sum::<f64>());
        }
        if squares.len() < 2 {
            return None;
        }
        let sd = cloud::statistics::mean(&squares).sqrt();
        Some(student_t(0.95, FREEDOMS_EACH * squares.len() as f64) * sd)
    }

    /// With what weight each value counts for the figure at one end, `place_mm` along: least squares over those next to
    /// it. `None` where the end was not seen.
    fn weights_at_end(&self, place_mm: f64) -> Option<Vec<f64>> {
        let n = self.values.len();
        let (count, curved) = if n >= FOR_A_PARABOLA {
            (5, true)
        } else {
            (3, false)
        };
        let (first, next_to_it) = if place_mm < self.at_mm[n / 2] {
            (0, 0)
        } else {
            (n - count, n - 1)
        };
        if (self.at_mm[next_to_it] - place_mm).abs() > FARTHEST_MM {
            return None;
        }
        let row = |k: usize| {
            let x = (self.at_mm[k] - place_mm) / 25.4;
            Vector3::new(1.0, x, if curved { x * x } else { 0.0 })
        };
        let mut matrix: Matrix3<f64> = (first..first + count).map(|k| row(k) * row(k).transpose()).sum();
        if !curved {
            matrix[(2, 2)] = 1.0;
        }
        let inverse = matrix.try_inverse()?;
        let mut weights = vec![0.0; n];
        for (k, weight) in weights.iter_mut().enumerate().skip(first).take(count) {
            *weight = (inverse * row(k)).x;
        }
        Some(weights)
    }

    /// The figure at one end of the bar, and its ±.
    pub(super) fn foretold(&self, place_mm: f64) -> Option<(f64, f64)> {
        let weights = self.weights_at_end(place_mm)?;
        Some(self.weighed(&weights))
    }

    /// How much larger the figure is at the far end than at the first, and its ±.
    pub(super) fn end_to_end(&self, length_mm: f64) -> Option<(f64, f64)> {
        let (first, last) = (self.weights_at_end(0.0)?, self.weights_at_end(length_mm)?);
        let weights: Vec<f64> = first.iter().zip(&last).map(|(a, b)| b - a).collect();
        Some(self.weighed(&weights))
    }

    /// The largest departure from the straight line between the ends.
    pub(super) fn bow(&self, length_mm: f64) -> Option<Largest> {
        let (first, last) = (self.weights_at_end(0.0)?, self.weights_at_end(length_mm)?);
        (0..self.values.len())
            .map(|k| {
                let share = self.at_mm[k] / length_mm;
                let mut weights: Vec<f64> = first
                    .iter()
                    .zip(&last)
                    .map(|(a, b)| -(a * (1.0 - share) + b * share))
                    .collect();
                weights[k] += 1.0;
                let (mm, pm_mm) = self.weighed(&weights);
                Largest {
                    mm,
                    at_mm: self.at_mm[k],
                    pm_mm,
                }
            })
            .max_by(|a, b| a.mm.abs().total_cmp(&b.mm.abs()))
    }

    fn weighed(&self, weights: &[f64]) -> (f64, f64) {
        let value = weights.iter().zip(&self.values).map(|(w, v)| w * v).sum();
        let spread = weights.iter().map(|w| w * w).sum::<f64>().sqrt();
        (value, self.pm * spread)
    }

    /// ± of one value.
    pub(super) fn pm(&self) -> f64 {
        self.pm
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;

    /// Nineteen inches, each read at a place of its own within the inch.
    fn run(value: impl Fn(f64, u64) -> f64) -> Run {
        let stations: Vec<Station> = (0..19u64)
            .map(|k| {
                let at_mm = 25.4 * (k as f64 + 0.4 + 0.2 * uniform(k));
                Station {
                    inch: k as usize,
                    at_mm,
                    offset_mm: [Some(value(at_mm, k)), None],
                    roll: None,
                    own_mm: None,
                }
            })
            .collect();
        assert!(Run::of(&stations, |s| s.offset_mm[1]).is_none());
        Run::of(&stations, |s| s.offset_mm[0]).unwrap()
    }

    const LENGTH: f64 = 19.0 * 25.4;

    #[test]
    fn a_parabola_is_exact_and_has_no_scatter() {
        let run = run(|x, _| 0.7 + 0.01 * x - 2e-5 * x * x);
        assert!(run.pm() < 1e-9);
        for end in [0.0, LENGTH] {
            let expected = 0.7 + 0.01 * end - 2e-5 * end * end;
            assert!((run.foretold(end).unwrap().0 - expected).abs() < 1e-9);
        }
        let bow = run.bow(LENGTH).unwrap();
        let share = bow.at_mm / LENGTH;
        assert!((bow.mm - 2e-5 * LENGTH * LENGTH * share * (1.0 - share)).abs() < 1e-9);
    }

    /// The 95 % bands of the bow and of the ends hold in about 95 of 100 repeats, for a bow that is a sine.
    #[test]
    fn the_bands_hold() {
        let (mut bow_holds, mut end_holds, mut twist_holds) = (0, 0, 0);
        for repeat in 0..400u64 {
            let run = run(|x, k| {
                let seed = 64 * (repeat * 20 + k);
                let deviate: f64 = (0..12).map(|j| uniform(seed + j)).sum::<f64>() - 6.0;
                2.4 * (std::f64::consts::PI * x / LENGTH).sin() + 0.1 * deviate
            });
            let bow = run.bow(LENGTH).unwrap();
            bow_holds += i32::from((bow.mm - 2.4).abs() <= bow.pm_mm);
            let (mm, pm) = run.foretold(0.0).unwrap();
            end_holds += i32::from(mm.abs() <= pm);
            let (mm, pm) = run.end_to_end(LENGTH).unwrap();
            twist_holds += i32::from(mm.abs() <= pm);
        }
        for holds in [bow_holds, end_holds, twist_holds] {
            assert!(
                (364..=394).contains(&holds),
                "{bow_holds} {end_holds} {twist_holds}"
            );
        }
    }
}
