//! The self-contained pages: one of a comparison, one of a job. Each is a single file that opens without anything else, sends
//! nothing and fetches nothing.

mod comparison;
mod job;
mod leaf;
mod palette;
mod parts;
mod picture;
mod sheet;

#[cfg(test)]
mod tests;

pub use comparison::{View, comparison};
pub use job::job;
pub use leaf::Leaves;
pub use picture::for_page;

use askama::Template;

use crate::PageError;
use crate::given::About;

/// What every page has around it.
struct Frame {
    title: String,
    /// What stands at the head of every printed sheet, as a string of the style sheet.
    print_head: String,
    program: String,
    /// The size of every printed sheet, in the words of the style sheet.
    paper: &'static str,
    css: &'static str,
    js: &'static str,
}

impl Frame {
    fn new(about: &About, what: &str, program: String) -> Self {
        let parts: Vec<&str> = [what, about.job.as_str(), about.shell.as_str(), about.day.as_str()]
            .into_iter()
            .filter(|part| !part.is_empty())
            .collect();
        let title = parts.join(" · ");
        Self {
            print_head: parts::css_string(&title),
            title,
            program,
            paper: about.paper.word(),
            css: concat!(
                include_str!("../templates/page.css"),
                include_str!("../templates/view.css"),
                include_str!("../templates/leaf.css")
            ),
            js: include_str!("../templates/page.js"),
        }
    }
}

/// A file with what tells it from every other.
struct FileLine {
    path: String,
    role: String,
    size: String,
    sha256: String,
}

fn written(page: &impl Template) -> Result<String, PageError> {
    page.render()
        .map_err(|e| PageError(format!("the page could not be written: {e}")))
}

/// What stands above the title: the shop and the job.
fn over(about: &About) -> String {
    let parts = [about.shop.as_str(), about.job.as_str()];
    let said: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    said.join(" · ")
}
