//! A job file as written: tables of keys and values with the lines they stand on, every fault noted and none final.

use std::ops::Range;
use std::path::Path;

use cloud::{Length, Unit};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::trouble::Trouble;

/// The text of a job file.
pub fn text_of(path: &Path) -> Result<String, Trouble> {
    let bytes = std::fs::read(path).map_err(|e| Trouble::from(formats::FormatError::io(path, &e)))?;
    String::from_utf8(bytes).map_err(|_| {
        Trouble::new(format!(
            "{}: found bytes that are no text; save it as UTF-8",
            path.display()
        ))
    })
}

/// Faults found so far, each with its line.
pub struct Faults<'a> {
    file: &'a Path,
    text: &'a str,
    found: Vec<(usize, String)>,
}

impl<'a> Faults<'a> {
    pub fn new(file: &'a Path, text: &'a str) -> Self {
        Self {
            file,
            text,
            found: Vec::new(),
        }
    }

    /// Notes a fault at a place of the text.
    pub fn add(&mut self, at: &Range<usize>, words: impl Into<String>) {
        let line = self.text[..at.start.min(self.text.len())].matches('\n').count() + 1;
        self.found.push((line, words.into()));
    }

    /// Nothing found, or all of it.
    pub fn done(mut self) -> Result<(), Trouble> {
        if self.found.is_empty() {
            return Ok(());
        }
        self.found.sort();
        self.found.dedup();
        let lines: Vec<String> = self
            .found
            .iter()
            .map(|(line, words)| format!("{}, line {line}: {words}", self.file.display()))
            .collect();
        Err(Trouble::new(lines.join("\nwitnessmark: ")))
    }
}

/// Parses a file into its top table; faults of the language itself are noted, all that there are.
pub fn parse<'t>(text: &'t str, faults: &mut Faults<'_>) -> Spanned<DeTable<'t>> {
    let (table, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        faults.add(
            &error.span().unwrap_or(0..0),
            format!("{}; mend the line", error.message().trim()),
        );
    }
    table
}

/// A table being read: what is asked for is taken, what is left over at the end is unknown.
pub struct Section<'t, 'd> {
    /// `[[region]] "left leg"`, for messages.
    pub title: String,
    table: &'t DeTable<'d>,
    span: Range<usize>,
    asked: Vec<&'static str>,
}

impl<'t, 'd> Section<'t, 'd> {
    pub fn new(title: impl Into<String>, table: &'t DeTable<'d>, span: Range<usize>) -> Self {
        Self {
            title: title.into(),
            table,
            span,
            asked: Vec::new(),
        }
    }

    /// Where the section begins.
    pub fn span(&self) -> &Range<usize> {
        &self.span
    }

    /// The value of a key, if it is there.
    pub fn take(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'d>>> {
        if !self.asked.contains(&key) {
            self.asked.push(key);
        }
        self.table
            .iter()
            .find(|(k, _)| k.get_ref() == key)
            .map(|(_, v)| v)
    }

    /// Notes every key that was not asked for, with the nearest that is known.
    pub fn end(self, faults: &mut Faults<'_>) {
        for key in self.table.keys() {
            let name = key.get_ref().as_ref();
            if !self.asked.contains(&name) {
                let nearest = nearest(name, self.asked.iter().copied());
                let hint = match nearest {
                    Some(nearest) => format!("; did you mean \"{nearest}\"?"),
                    None => format!("; it knows {}", self.asked.join(", ")),
                };
                faults.add(
                    &key.span(),
                    format!("unknown key \"{name}\" in {}{hint}", self.title),
                );
            }
        }
    }

    fn wrong(&self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str, faults: &mut Faults<'_>) {
        faults.add(
            &value.span(),
            format!(
                "\"{key}\" in {} is of kind {}; it must be {wanted}",
                self.title,
                value.get_ref().type_str()
            ),
        );
    }

    /// A text.
    pub fn text(&mut self, key: &'static str, faults: &mut Faults<'_>) -> Option<(String, Range<usize>)> {
        let value = self.take(key)?;
        match value.get_ref().as_str() {
            Some(text) => Some((text.to_string(), value.span())),
            None => {
                self.wrong(key, value, "a text in quotes", faults);
                None
            }
        }
    }

    /// A text, or a bare number as it is written.
    pub fn text_or_number(
        &mut self,
        key: &'static str,
        faults: &mut Faults<'_>,
    ) -> Option<(String, Range<usize>)> {
        let value = self.take(key)?;
        let number = match value.get_ref() {
            DeValue::Integer(number) => number.as_str(),
            DeValue::Float(number) => number.as_str(),
            _ => return self.text(key, faults),
        };
        Some((number.to_string(), value.span()))
    }

    /// A text that must be there.
    pub fn needed_text(
        &mut self,
        key: &'static str,
        faults: &mut Faults<'_>,
    ) -> Option<(String, Range<usize>)> {
        self.needed(key, faults)?;
        self.text(key, faults).filter(|(text, span)| {
            let filled = !text.trim().is_empty();
            if !filled {
                faults.add(span, format!("\"{key}\" in {} is empty", self.title));
            }
            filled
        })
    }

    /// A length such as "3/16 in", more than nothing, in mm.
    pub fn length_mm(&mut self, key: &'static str, faults: &mut Faults<'_>) -> Option<f64> {
        let (text, span) = self.text(key, faults)?;
        match text.parse::<Length>() {
            Ok(length) if length.mm > 0.0 => Some(length.mm),
            Ok(_) => {
                faults.add(
                    &span,
                    format!("\"{key}\" in {} must be more than nothing", self.title),
                );
                None
            }
            Err(words) => {
                faults.add(&span, format!("\"{key}\" in {}: {words}", self.title));
                None
            }
        }
    }

    /// A unit.
    pub fn unit(&mut self, key: &'static str, faults: &mut Faults<'_>) -> Option<Unit> {
        let (text, span) = self.text(key, faults)?;
        text.parse()
            .map_err(|words: String| faults.add(&span, format!("\"{key}\" in {}: {words}", self.title)))
            .ok()
    }

    /// True or false.
    pub fn flag(&mut self, key: &'static str, faults: &mut Faults<'_>) -> Option<bool> {
        let value = self.take(key)?;
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            self.wrong(key, value, "true or false", faults);
        }
        flag
    }

    /// A list of texts.
    pub fn texts(
        &mut self,
        key: &'static str,
        faults: &mut Faults<'_>,
    ) -> Option<Vec<(String, Range<usize>)>> {
        let value = self.take(key)?;
        let texts = value.get_ref().as_array().and_then(|list| {
            list.iter()
                .map(|v| Some((v.get_ref().as_str()?.to_string(), v.span())))
                .collect::<Option<Vec<_>>>()
        });
        if texts.is_none() {
            self.wrong(key, value, "a list of texts in quotes", faults);
        }
        texts
    }

    /// The tables of a list such as `[[region]]`.
    pub fn tables(&mut self, key: &'static str, faults: &mut Faults<'_>) -> Vec<Section<'t, 'd>> {
        let Some(value) = self.take(key) else {
            return Vec::new();
        };
        let tables = value.get_ref().as_array().and_then(|list| {
            list.iter()
                .map(|v| {
                    Some(Section::new(
                        format!("[[{key}]]"),
                        v.get_ref().as_table()?,
                        v.span(),
                    ))
                })
                .collect::<Option<Vec<_>>>()
        });
        if tables.is_none() {
            self.wrong(
                key,
                value,
                &format!("a list of tables, written [[{key}]] or {key} = [{{ … }}]"),
                faults,
            );
        }
        tables.unwrap_or_default()
    }

    /// A table of places, name = [x, y, z].
    pub fn places(&mut self, key: &'static str, faults: &mut Faults<'_>) -> Vec<(String, [f64; 3])> {
        let Some(value) = self.take(key) else {
            return Vec::new();
        };
        let Some(table) = value.get_ref().as_table() else {
            self.wrong(key, value, "a table of places, { \"name\" = [x, y, z] }", faults);
            return Vec::new();
        };
        table
            .iter()
            .filter_map(|(name, at)| match triple(at) {
                Some(at) => Some((name.get_ref().to_string(), at)),
                None => {
                    self.wrong(key, at, "three numbers, [x, y, z]", faults);
                    None
                }
            })
            .collect()
    }

    /// Two places, such as the opposite corners of a box; they must be there.
    pub fn two_places(
        &mut self,
        key: &'static str,
        what: &str,
        faults: &mut Faults<'_>,
    ) -> Option<[[f64; 3]; 2]> {
        let value = self.needed(key, faults)?;
        let places = value.get_ref().as_array().and_then(|list| {
            let places: Vec<[f64; 3]> = list.iter().map(triple).collect::<Option<_>>()?;
            <[[f64; 3]; 2]>::try_from(places).ok()
        });
        if places.is_none() {
            let wanted = format!("two {what}, [[x, y, z], [x, y, z]]");
            self.wrong(key, value, &wanted, faults);
        }
        places
    }

    /// One place; it must be there.
    pub fn place(&mut self, key: &'static str, faults: &mut Faults<'_>) -> Option<[f64; 3]> {
        let value = self.needed(key, faults)?;
        let place = triple(value);
        if place.is_none() {
            self.wrong(key, value, "three numbers, [x, y, z]", faults);
        }
        place
    }

    /// The value of a key that must be there.
    fn needed(&mut self, key: &'static str, faults: &mut Faults<'_>) -> Option<&'t Spanned<DeValue<'d>>> {
        let value = self.take(key);
        if value.is_none() {
            faults.add(
                &self.span.clone(),
                format!("\"{key}\" is missing in {}", self.title),
            );
        }
        value
    }
}

fn triple(value: &Spanned<DeValue<'_>>) -> Option<[f64; 3]> {
    let numbers: Vec<f64> = value
        .get_ref()
        .as_array()?
        .iter()
        .map(number)
        .collect::<Option<_>>()?;
    <[f64; 3]>::try_from(numbers).ok()
}

fn number(value: &Spanned<DeValue<'_>>) -> Option<f64> {
    let number: f64 = match value.get_ref() {
        DeValue::Float(float) => float.as_str().parse().ok()?,
        DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix()).ok()? as f64,
        _ => return None,
    };
    number.is_finite().then_some(number)
}

/// The known word nearest to a mistyped one, where one is near enough.
pub fn nearest<'k>(word: &str, known: impl Iterator<Item = &'k str>) -> Option<&'k str> {
    known
        .map(|k| (edits(word, k), k))
        .filter(|(edits, k)| *edits <= 1 + k.len() / 4)
        .min()
        .map(|(_, k)| k)
}

/// How many letters must be put in, taken out or changed (Levenshtein 1966).
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let change = diagonal + usize::from(x != *y);
            diagonal = row[j + 1];
            row[j + 1] = change.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_key_is_offered() {
        assert_eq!(nearest("limti", ["limit", "name"].into_iter()), Some("limit"));
        assert_eq!(nearest("zebra", ["limit", "name"].into_iter()), None);
        assert_eq!(edits("kitten", "sitting"), 3);
    }
}
