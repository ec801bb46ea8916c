//! What the head of a column says to people, where the short word that it has in a file would not be known.

/// The words of a head: `±` for `pm`, `seen` for `coverage`.
pub fn said(words: &str) -> String {
    let known = match words {
        "words" => "in words",
        "coverage" => "seen",
        "min" => "farthest in",
        "max" => "farthest out",
        "p05" => "5 % lie under",
        "p95" => "95 % lie under",
        "sd" => "standard deviation",
        "rms" => "in the mean, by the squares",
        _ => {
            let parts: Vec<&str> = words
                .split(' ')
                .map(|word| if word == "pm" { "±" } else { word })
                .collect();
            return parts.join(" ");
        }
    };
    known.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{made, tables};

    #[test]
    fn heads_are_said_for_people() {
        assert_eq!(said("mean pm"), "mean ±");
        assert_eq!(
            said("pm of the lengths' difference"),
            "± of the lengths' difference"
        );
        assert_eq!(said("off"), "off");
    }

    #[test]
    fn no_table_says_the_short_words_of_its_file() {
        for table in tables::all(&made::record()) {
            for head in &table.heads {
                let said = said(head.words);
                let short = said
                    .split(' ')
                    .find(|word| ["pm", "rms", "coverage"].contains(word));
                assert_eq!(short, None, "{}: {said}", table.name);
            }
        }
    }
}
