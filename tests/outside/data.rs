//! Where the outside data lies.

use std::fs;
use std::path::PathBuf;

use serde_json::Value;

/// A file of the outside data, which must be there.
pub fn file(name: &str) -> PathBuf {
    let folder = std::env::var("WITNESSMARK_CHECKS")
        .expect("set WITNESSMARK_CHECKS to the folder that holds the outside figures and data");
    let path = PathBuf::from(folder).join(name);
    assert!(path.exists(), "the outside data is missing: {}", path.display());
    path
}

/// A file of figures.
pub fn figures(name: &str) -> Value {
    serde_json::from_slice(&fs::read(file(name)).unwrap()).unwrap()
}

/// A list of numbers.
pub fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_f64().unwrap())
        .collect()
}
