//! Where the time went.

use std::fmt::Write;
use std::time::Instant;

/// Stages and the seconds that they took.
pub struct Timings {
    last: Instant,
    stages: Vec<(&'static str, f64)>,
}

impl Timings {
    /// Starts counting.
    pub fn start() -> Self {
        Self {
            last: Instant::now(),
            stages: Vec::new(),
        }
    }

    /// The time since the last mark went into `stage`.
    pub fn mark(&mut self, stage: &'static str) {
        self.stages.push((stage, self.last.elapsed().as_secs_f64()));
        self.last = Instant::now();
    }

    /// A table, a line a stage.
    pub fn table(&self) -> String {
        let total: f64 = self.stages.iter().map(|s| s.1).sum();
        let mut out = String::new();
        for (stage, seconds) in &self.stages {
            let share = 100.0 * seconds / total.max(1e-9);
            let _ = writeln!(out, "  {stage:<12} {seconds:>8.2} s {share:>5.0} %");
        }
        let _ = write!(out, "  {:<12} {total:>8.2} s", "together");
        out
    }
}
