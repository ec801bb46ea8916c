//! Edges of a region that reads as moved and has no verdict: they read short or long with it, and wait with it.

use super::List;
use super::brought::edges_with;
use super::moved::withheld;

impl List<'_> {
    /// One line for each such region that has edges which are out.
    pub(super) fn edges_without_verdict(&mut self) {
        let part = self.part();
        for one in withheld(part) {
            let name = &one.region.name;
            let edges = edges_with(part, name, |_| true);
            let lies = one.shift.and_then(|shift| shift.words.split(':').next());
            if let Some(lies) = lies.filter(|_| !edges.is_empty()) {
                self.shop(told(name, lies, &edges), format!("regions/{name}"));
            }
        }
    }
}

fn told(region: &str, lies: &str, edges: &[String]) -> String {
    format!(
        "{region}: reads {lies}, and has no verdict; its edges read so with it: hold the set there, or see more of it, and measure again before they are trimmed or built up: {}",
        edges.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_edges_of_a_bar_without_a_verdict_wait_with_it() {
        let edges = ["bottom edge of the bar (1/8 short over 31)".to_string()];
        let words = told("bar", "1/8 high, all of it", &edges);
        assert!(
            words
                .starts_with("bar: reads 1/8 high, all of it, and has no verdict; its edges read so with it"),
            "{words}"
        );
        assert!(
            words.ends_with("trimmed or built up: bottom edge of the bar (1/8 short over 31)"),
            "{words}"
        );
        assert!(!words.contains("weld"), "{words}");
    }
}
