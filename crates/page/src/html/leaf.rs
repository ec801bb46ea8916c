//! Leafing: a view of the metal over the trips, all its pictures in one place, turned by buttons and by the arrow keys without a
//! script.

use askama::Template;

use super::parts::{self, Shown};
use super::written;
use crate::PageError;
use crate::given::Picture;

/// A view over the trips.
#[derive(Debug, Clone, Copy)]
pub struct Leaves<'a> {
    /// From where it is seen: `from above`.
    pub name: &'a str,
    /// Its pictures, oldest first, all of one size.
    pub pictures: &'a [Picture],
}

/// A view as the page shows it.
struct View<'a> {
    name: &'a str,
    /// The name of its buttons: that of its first picture, which no other view has.
    group: String,
    count: usize,
    pictures: Vec<Shown>,
}

#[derive(Template)]
#[template(path = "leaf.html")]
struct Part<'a> {
    views: Vec<View<'a>>,
}

/// The part of a page in which views are leafed through; nothing where there are none. `first` counts its pictures on from those
/// above it. Its style is in `templates/leaf.css`.
///
/// # Errors
/// A picture that is no PNG file.
pub fn leaves(views: &[Leaves<'_>], first: usize) -> Result<String, PageError> {
    let mut shown = Vec::new();
    let mut next = first;
    for view in views.iter().filter(|view| !view.pictures.is_empty()) {
        shown.push(View {
            name: view.name,
            group: format!("leaf-{next}"),
            count: view.pictures.len(),
            pictures: parts::shown(view.pictures.iter(), next)?,
        });
        next += view.pictures.len();
    }
    if shown.is_empty() {
        return Ok(String::new());
    }
    written(&Part { views: shown })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    fn pictures(count: usize) -> Vec<Picture> {
        (1..=count)
            .map(|k| made::picture(&format!("leaf-plan-{k}.png"), &format!("trip {k}: \"<in>\"")))
            .collect()
    }

    #[test]
    fn every_button_turns_to_a_picture_that_is_there() {
        let (three, two) = (pictures(3), pictures(2));
        let views = [("from above", &three), ("from the left", &two)].map(|(name, pictures)| Leaves {
            name,
            pictures: pictures.as_slice(),
        });
        let html = leaves(&views, 7).unwrap();
        let after = |mark: &str| -> Vec<String> {
            let parts = html.split(mark).skip(1);
            parts
                .filter_map(|part| part.split('"').next())
                .map(String::from)
                .collect()
        };
        let ids = after("<input type=\"radio\" id=\"");
        assert_eq!(
            ids,
            ["leaf-7-1", "leaf-7-2", "leaf-7-3", "leaf-10-1", "leaf-10-2"]
        );
        // From each to its neighbours: two of three have one before them, two one after them.
        let turned_to = after("<label for=\"");
        assert_eq!(turned_to.len(), 4 + 2);
        assert!(turned_to.iter().all(|id| ids.contains(id)), "{turned_to:?}");
        // The last of each is shown first, as it stands now.
        assert_eq!(html.matches(" checked>").count(), 2);
        assert!(html.contains("id=\"leaf-7-3\" name=\"leaf-7\" aria-label=\"trip 3"));
        assert_eq!(
            after("<figure id=\"").last().map(String::as_str),
            Some("picture-11")
        );
        // Each button has its name beside it, up to the caption's first colon.
        assert_eq!(html.matches("<label class=\"leaf-name\"").count(), 3 + 2);
        assert!(html.contains("for=\"leaf-7-3\">trip 3</label>"));
        assert!(!html.contains("<script") && !html.contains("<in>"));
    }

    #[test]
    fn without_pictures_there_is_nothing_to_leaf_through() {
        let none = Leaves {
            name: "from above",
            pictures: &[],
        };
        assert_eq!(leaves(&[none], 1).unwrap(), "");
        assert_eq!(leaves(&[], 1).unwrap(), "");
    }
}
