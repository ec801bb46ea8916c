//! One table of a job file being read: what is asked for is taken with its kind, what is left over is unknown.

use std::ops::Range;

use cloud::{Length, NamedPoint, Point, Unit};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::file::{Faults, did_you_mean};

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
                let hint = match did_you_mean(name, self.asked.iter().copied()) {
                    none if none.is_empty() => format!("; it knows {}", self.asked.join(", ")),
                    hint => hint,
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

    /// The name of a `[[kind]]` table, which becomes its title in messages; told where it is `taken` by another.
    pub fn titled(
        &mut self,
        kind: &str,
        plural: &str,
        taken: impl Fn(&str) -> bool,
        faults: &mut Faults<'_>,
    ) -> Option<(String, Range<usize>)> {
        let (name, span) = self.needed_text("name", faults)?;
        self.title = format!("[[{kind}]] \"{name}\"");
        if taken(&name) {
            faults.add(&span, format!("two {plural} are named \"{name}\""));
        }
        Some((name, span))
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

    /// A plain number.
    pub fn number(&mut self, key: &'static str, faults: &mut Faults<'_>) -> Option<f64> {
        let value = self.take(key)?;
        let found = number(value);
        if found.is_none() {
            self.wrong(key, value, "a number", faults);
        }
        found
    }

    /// Exactly `count` texts, such as two names; they must be there.
    pub fn names(
        &mut self,
        key: &'static str,
        wanted: &str,
        count: usize,
        faults: &mut Faults<'_>,
    ) -> Option<Vec<(String, Range<usize>)>> {
        let value = self.take(key);
        let span = value.map_or_else(|| self.span.clone(), Spanned::span);
        if value.is_some() {
            let texts = self.texts(key, faults)?;
            if texts.len() == count {
                return Some(texts);
            }
        }
        faults.add(&span, format!("\"{key}\" in {} must name {wanted}", self.title));
        None
    }

    /// The table of a key, such as `[shell]`.
    pub fn table(&mut self, key: &'static str, faults: &mut Faults<'_>) -> Option<Section<'t, 'd>> {
        let value = self.take(key)?;
        let table = value.get_ref().as_table();
        if table.is_none() {
            self.wrong(key, value, &format!("a table, written [{key}]"), faults);
        }
        Some(Section::new(format!("[{key}]"), table?, value.span()))
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

    /// A table of places, name = [x, y, z], given in `unit`.
    pub fn places(&mut self, key: &'static str, unit: Unit, faults: &mut Faults<'_>) -> Vec<NamedPoint> {
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
                Some(at) => Some(NamedPoint {
                    name: name.get_ref().to_string(),
                    at_mm: Point::from(at) * unit.in_mm(),
                }),
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
