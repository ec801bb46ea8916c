//! A warning as a value: a code that a program can match, and words for a person.

/// Something that the user should know, handed back beside a result and never printed by a library.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// Short, stable, lower case with hyphens: `unit-doubtful`.
    pub code: &'static str,
    /// One or two sentences in the shop's words.
    pub words: String,
}

impl Warning {
    /// A warning with its code and its words.
    pub fn new(code: &'static str, words: impl Into<String>) -> Self {
        Self {
            code,
            words: words.into(),
        }
    }
}
