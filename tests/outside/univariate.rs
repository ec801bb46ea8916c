//! Means and standard deviations on the NIST StRD univariate sets (Statistical Reference Datasets, itl.nist.gov/div898/strd).

use cloud::statistics::{mean, standard_deviation};

use crate::data::{figures, file};

/// The observations of a .dat file: what stands below "Data: Y".
fn observations(name: &str) -> Vec<f64> {
    let text = std::fs::read_to_string(file(&format!("nist_strd/{name}.dat"))).unwrap();
    let (_, data) = text.split_once("Data: Y").unwrap();
    data.lines().filter_map(|l| l.trim().parse().ok()).collect()
}

#[test]
fn means_and_spreads_are_the_certified_ones() {
    let all = figures("nist_univariate.json");
    for (name, mean_tolerance, sd_tolerance) in [
        ("Lottery", 1e-14, 1e-12),
        ("Lew", 1e-14, 1e-12),
        ("Mavro", 1e-14, 1e-12),
        ("Michelso", 1e-14, 1e-12),
        ("NumAcc1", 1e-14, 1e-12),
        ("NumAcc2", 1e-14, 1e-12),
        ("NumAcc3", 1e-14, 1e-8),
        ("NumAcc4", 1e-14, 1e-7),
    ] {
        let expected = &all[name];
        let certified: Vec<f64> = expected["certified"]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_str().unwrap().parse().unwrap())
            .collect();
        let values = observations(name);
        assert_eq!(values.len() as u64, expected["n"].as_u64().unwrap(), "{name}");
        let exact: Vec<f64> = expected["recomputed_50digit"]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_str().unwrap().parse().unwrap())
            .collect();
        let relative = |found: f64, exact: f64| ((found - exact) / exact).abs();
        assert!(
            relative(mean(&values), exact[0]) <= mean_tolerance,
            "{name}: mean {}",
            mean(&values)
        );
        assert!(
            relative(standard_deviation(&values), exact[1]) <= sd_tolerance,
            "{name}: s {} for {}",
            standard_deviation(&values),
            certified[1]
        );
    }
}
