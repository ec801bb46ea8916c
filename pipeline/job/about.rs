//! What the owner says of his job, for the pages and the sealed bag.

use page::About;

use super::file::Faults;
use super::section::Section;

/// Checks `[about]`; all of it may be left out.
pub fn about(section: Option<Section<'_, '_>>, job: &str, faults: &mut Faults<'_>) -> About {
    let mut about = About {
        job: job.to_string(),
        ..About::default()
    };
    let Some(mut section) = section else {
        return about;
    };
    let mut text = |key: &'static str| {
        let said = section.text(key, faults).map(|(text, _)| text);
        said.unwrap_or_default()
    };
    about.shop = text("shop");
    about.contact = text("contact");
    about.shell = text("shell");
    about.measured_by = text("measured_by");
    about.instrument = text("instrument");
    about.state = text("state");
    about.day = text("day");
    about.notes = text("notes");
    section.end(faults);
    about
}
