//! What is said on the way: bars on a terminal, plain lines elsewhere, nothing when quiet. The only file that knows indicatif.

use std::io::{IsTerminal, Write};
use std::time::Duration;

use indicatif::{MultiProgress, ProgressBar, ProgressStyle};

use crate::trouble::Trouble;

/// Where progress, warnings and results are said.
pub struct Progress {
    quiet: bool,
    bars: Option<MultiProgress>,
}

/// One comparison under way.
pub struct Step {
    name: String,
    bar: Option<ProgressBar>,
    plain: bool,
}

impl Progress {
    /// Bars where stderr is a terminal, plain lines where it is not.
    pub fn new(quiet: bool) -> Self {
        let bars = (!quiet && std::io::stderr().is_terminal()).then(MultiProgress::new);
        Self { quiet, bars }
    }

    /// A comparison begins.
    pub fn step(&self, name: &str) -> Step {
        let bar = self.bars.as_ref().map(|bars| {
            let bar = bars.add(ProgressBar::new_spinner());
            if let Ok(style) = ProgressStyle::with_template("{spinner} {prefix}: {msg} {elapsed}") {
                bar.set_style(style);
            }
            bar.set_prefix(name.to_string());
            bar.enable_steady_tick(Duration::from_millis(120));
            bar
        });
        Step {
            name: name.to_string(),
            plain: bar.is_none() && !self.quiet,
            bar,
        }
    }

    /// A line of results, on stdout.
    pub fn result(&self, text: &str) {
        // Who reads may have seen enough: a closed pipe is no trouble.
        self.around(|| drop(writeln!(std::io::stdout(), "{text}")));
    }

    /// A line about the work, on stderr; nothing when quiet.
    pub fn note(&self, text: &str) {
        if !self.quiet {
            self.around(|| eprintln!("{text}"));
        }
    }

    /// A warning, on stderr.
    pub fn warning(&self, text: &str) {
        self.around(|| eprintln!("warning: {text}"));
    }

    /// What stopped the work, on stderr.
    pub fn trouble(&self, trouble: &Trouble) {
        self.around(|| eprintln!("witnessmark: {trouble}"));
    }

    fn around(&self, say: impl FnOnce()) {
        match &self.bars {
            Some(bars) => bars.suspend(say),
            None => say(),
        }
    }
}

impl Step {
    /// What is being done now.
    pub fn doing(&self, what: &str) {
        if let Some(bar) = &self.bar {
            bar.set_message(what.to_string());
        } else if self.plain {
            eprintln!("{}: {what}", self.name);
        }
    }
}

impl Drop for Step {
    fn drop(&mut self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
