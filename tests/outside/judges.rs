//! Second judges: Python libraries that know nothing of the program, and look at what it wrote.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

/// What a script of this folder finds; it prints JSON.
pub fn asked(script: &str, arguments: &[&str]) -> Value {
    let python = std::env::var("WITNESSMARK_JUDGES_PYTHON").expect(
        "set WITNESSMARK_JUDGES_PYTHON to a Python that has bagit, openpyxl, trimesh, numpy and pypdf",
    );
    let script = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/outside")
        .join(script);
    let output = Command::new(&python)
        .arg(&script)
        .args(arguments)
        .output()
        .unwrap_or_else(|e| panic!("WITNESSMARK_JUDGES_PYTHON is {python}, which can't be run: {e}"));
    assert!(
        output.status.success(),
        "{}: {}",
        script.display(),
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).unwrap()
}
