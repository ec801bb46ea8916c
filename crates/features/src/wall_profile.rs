//! The section across a pressed wall: skin, arc, straight wall, arc, floor, and its fit to points.

use cloud::bisquare::{TUKEY, bisquare, bisquare_loss};
use nalgebra::{SMatrix, SVector};

/// Depth at the distance `d` inward of the half-depth line: skin, arc, wall, arc, floor.
pub fn profile(d: f64, depth: f64, slope: f64, outer: f64, inner: f64) -> f64 {
    let tangent = slope.tan();
    let (run_outer, run_inner) = (outer * (slope / 2.0).tan(), inner * (slope / 2.0).tan());
    let corner = depth / 2.0 / tangent;
    let leg = slope.cos();
    if d <= -corner - run_outer {
        0.0
    } else if d < -corner + run_outer * leg {
        let x = d + corner + run_outer;
        outer - (outer * outer - x * x).max(0.0).sqrt()
    } else if d <= corner - run_inner * leg {
        depth / 2.0 + d * tangent
    } else if d < corner + run_inner {
        let x = corner + run_inner - d;
        depth - inner + (inner * inner - x * x).max(0.0).sqrt()
    } else {
        depth
    }
}

/// Levenberg-Marquardt over (half-depth line, slope, outer radius, inner radius); residuals square to the profile, with
/// bisquare weights. Returns the cost and the parameters.
pub fn fit_profile(run: &[(f64, f64)], depth: f64, start: SVector<f64, 4>) -> (f64, SVector<f64, 4>) {
    let clamp = |p: SVector<f64, 4>| {
        // The two arcs must leave the wall some length.
        let slope = p[1].clamp(0.2, 1.45);
        let longest = 0.98 * depth / (1.0 - slope.cos());
        let (outer, inner) = (p[2].max(0.0), p[3].max(0.0));
        let shrink = if outer + inner > longest {
            longest / (outer + inner)
        } else {
            1.0
        };
        SVector::<f64, 4>::new(p[0], slope, outer * shrink, inner * shrink)
    };
    let residual = |p: &SVector<f64, 4>, (d, z): &(f64, f64)| {
        let x = d - p[0];
        let h = 1e-4;
        let at = profile(x, depth, p[1], p[2], p[3]);
        let lean =
            (profile(x + h, depth, p[1], p[2], p[3]) - profile(x - h, depth, p[1], p[2], p[3])) / (2.0 * h);
        (z - at) / (1.0 + lean * lean).sqrt()
    };
    let scale_of = |p: &SVector<f64, 4>| {
        let rest: Vec<f64> = run.iter().map(|q| residual(p, q)).collect();
        cloud::statistics::robust_spread(&rest).max(1e-3)
    };
    let mut p = clamp(start);
    let mut scale = scale_of(&p);
    let cost = |p: &SVector<f64, 4>, scale: f64| {
        let loss = |q| bisquare_loss(residual(p, q), TUKEY * scale);
        run.iter().map(loss).sum::<f64>()
    };
    let mut damping = 1e-3;
    for round in 0..60 {
        if round < 20 {
            scale = scale_of(&p);
        }
        let (mut matrix, mut right) = (SMatrix::<f64, 4, 4>::zeros(), SVector::<f64, 4>::zeros());
        for q in run {
            let r = residual(&p, q);
            let weight = bisquare(r, TUKEY * scale);
            if weight == 0.0 {
                continue;
            }
            let row = SVector::<f64, 4>::from_fn(|i, _| {
                let step = if i == 1 { 1e-3 } else { 0.01 };
                let (mut up, mut down) = (p, p);
                up[i] += step;
                down[i] -= step;
                (residual(&up, q) - residual(&down, q)) / (2.0 * step)
            });
            matrix += row * row.transpose() * weight;
            right -= row * (r * weight);
        }
        let before = cost(&p, scale);
        let mut accepted = false;
        for _ in 0..6 {
            let mut damped = matrix;
            for i in 0..4 {
                damped[(i, i)] += damping * matrix[(i, i)].max(1e-6);
            }
            let Some(step) = damped.cholesky().map(|c| c.solve(&right)) else {
                damping *= 10.0;
                continue;
            };
            let next = clamp(p + step);
            if cost(&next, scale) < before {
                let small = (next - p).norm() < 1e-5;
                p = next;
                damping = (damping * 0.3).max(1e-9);
                accepted = !small;
                break;
            }
            damping *= 10.0;
        }
        if !accepted && round >= 20 {
            break;
        }
    }
    (cost(&p, scale) * scale * scale, p)
}
