//! The tables as a workbook: a sheet that says how to read it, then a sheet a table, figures as real numbers.

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, IgnoreError, Workbook, Worksheet,
    XlsxError,
};

use crate::tables::{Cell, Table};
use crate::{CAUTIONS, PageError};

/// How the sheets are to be read.
const READING: [(&str, &str); 9] = [
    (
        "lengths",
        "millimetres (mm) as numbers, and inches (in) to the nearest 32nd in words beside them; angles in degrees (deg); a share of 1 is all of it",
    ),
    ("places", "x, y and z are in the frame of the reference"),
    (
        "signs",
        "+ proud, − shy of the reference along its outward side; on an edge or a fold, above 0 is short: metal missing",
    ),
    (
        "pm",
        "the ± of the figures in its row: half the 95 % band; of a region that of its farthest spot, at a pad that of the region's move there, both with how it was set counted in",
    ),
    (
        "coverage",
        "how much of the reference there the measured set shows",
    ),
    (
        "rms",
        "the root of the mean of the squares: how far the metal lies off in the mean, without its sign, large deviations counted more",
    ),
    (
        "shims",
        "how the metal must move at the pad: the opposite of how it has moved",
    ),
    (
        "verdicts",
        "within: the figure and its ± lie inside the limit; outside: it is beyond the limit by more than its ±; too-close: its ± leaves both open; not-measured: too little of it was seen",
    ),
    ("empty cells", "the data can't tell"),
];

/// Characters that the name of a sheet must not hold.
const BARRED: [char; 7] = ['[', ']', ':', '*', '?', '/', '\\'];

/// The longest name of a sheet, in UTF-16 units.
const LONGEST_NAME: usize = 31;

/// The longest text of a cell, in UTF-16 units.
const LONGEST_TEXT: usize = 32_767;

/// Decimals beyond which a number is not shown.
const MOST_DECIMALS: usize = 6;

/// Writes the tables as an xlsx workbook; its first sheet says what it is, from `about` (what, words), and how to read it.
///
/// The same tables give the same bytes: it carries no date of its own.
///
/// # Errors
/// A table that is too large for a sheet, 1 048 576 rows with the heads.
pub fn workbook(tables: &[Table], about: &[(String, String)]) -> Result<Vec<u8>, PageError> {
    written(tables, about).map_err(|e| {
        PageError(format!(
            "tables.xlsx: {e}; the same tables are in the CSV files beside it"
        ))
    })
}

fn written(tables: &[Table], about: &[(String, String)]) -> Result<Vec<u8>, XlsxError> {
    let mut workbook = Workbook::new();
    let first_day = ExcelDateTime::from_ymd(1980, 1, 1)?;
    workbook.set_properties(&DocProperties::new().set_creation_datetime(&first_day));
    let looks = Looks::new();
    let mut taken = Vec::new();
    let sheet = workbook.add_worksheet();
    sheet.set_name(sheet_name("about", &mut taken))?;
    write_about(sheet, about, &looks)?;
    for table in tables {
        let sheet = workbook.add_worksheet();
        sheet.set_name(sheet_name(table.name, &mut taken))?;
        write_table(sheet, table, &looks)?;
    }
    workbook.save_to_buffer()
}

/// How cells look.
struct Looks {
    head: Format,
    words: Format,
    strong: Format,
    inches: Format,
    /// By decimals.
    numbers: Vec<Format>,
}

impl Looks {
    fn new() -> Self {
        let words = Format::new().set_align(FormatAlign::Top).set_text_wrap();
        let number = |decimals: usize| {
            let shown = if decimals == 0 {
                "0".to_string()
            } else {
                format!("0.{}", "0".repeat(decimals))
            };
            Format::new().set_align(FormatAlign::Top).set_num_format(shown)
        };
        Self {
            head: words.clone().set_bold().set_border_bottom(FormatBorder::Thin),
            strong: words.clone().set_bold(),
            inches: Format::new()
                .set_align(FormatAlign::Top)
                .set_align(FormatAlign::Right),
            numbers: (0..=MOST_DECIMALS).map(number).collect(),
            words,
        }
    }

    fn number(&self, decimals: u8) -> &Format {
        &self.numbers[usize::from(decimals).min(MOST_DECIMALS)]
    }
}

fn write_about(sheet: &mut Worksheet, about: &[(String, String)], looks: &Looks) -> Result<(), XlsxError> {
    let given = about.iter().map(|(what, words)| (what.as_str(), words.as_str()));
    let cautions = CAUTIONS
        .into_iter()
        .enumerate()
        .map(|(k, words)| (if k == 0 { "cautions" } else { "" }, words));
    for (row, (what, words)) in (0_u32..).zip(given.chain(READING).chain(cautions)) {
        sheet.write_string_with_format(row, 0, cut(what, LONGEST_TEXT), &looks.strong)?;
        sheet.write_string_with_format(row, 1, cut(words, LONGEST_TEXT), &looks.words)?;
    }
    sheet.set_column_width(0, 16)?;
    sheet.set_column_width(1, 90)?;
    sheet.set_print_fit_to_pages(1, 0);
    sheet.set_footer("&CPage &P of &N");
    Ok(())
}

fn write_table(sheet: &mut Worksheet, table: &Table, looks: &Looks) -> Result<(), XlsxError> {
    for (col, head) in (0_u16..).zip(&table.heads) {
        sheet.write_string_with_format(0, col, head.text(), &looks.head)?;
        sheet.set_column_width(col, width(table, usize::from(col)))?;
    }
    let verdict = table.heads.iter().position(|head| head.words == "verdict");
    for (row, cells) in (1_u32..).zip(&table.rows) {
        for (col, cell) in (0_u16..).zip(cells) {
            let strong = verdict == Some(usize::from(col)) && cell.text() == "outside";
            write_cell(sheet, (row, col), cell, looks, strong)?;
        }
    }
    let last_row = u32::try_from(table.rows.len()).unwrap_or(u32::MAX);
    if let Some(last) = table.heads.len().checked_sub(1) {
        let last_col = u16::try_from(last).unwrap_or(u16::MAX);
        sheet.autofilter(0, 0, last_row, last_col)?;
        // A fraction such as 3/16 is words on purpose.
        sheet.ignore_error_range(0, 0, last_row, last_col, IgnoreError::NumberStoredAsText)?;
    }
    sheet.set_freeze_panes(1, 1)?;
    sheet.set_repeat_rows(0, 0)?;
    sheet.set_landscape();
    sheet.set_print_fit_to_pages(1, 0);
    sheet.set_header(format!("&L{}", cut(table.title, 100).replace('&', "&&")));
    sheet.set_footer("&CPage &P of &N");
    Ok(())
}

/// Writes one cell. Words are written as words whatever they begin with: nothing becomes a formula.
fn write_cell(
    sheet: &mut Worksheet,
    (row, col): (u32, u16),
    cell: &Cell,
    looks: &Looks,
    strong: bool,
) -> Result<(), XlsxError> {
    match cell {
        Cell::Nothing => {}
        Cell::Text(words) => {
            let look = if strong { &looks.strong } else { &looks.words };
            sheet.write_string_with_format(row, col, cut(words, LONGEST_TEXT), look)?;
        }
        Cell::Whole(count) => {
            sheet.write_number_with_format(row, col, *count as f64, looks.number(0))?;
        }
        Cell::Number { value, decimals } if value.is_finite() => {
            sheet.write_number_with_format(row, col, *value, looks.number(*decimals))?;
        }
        Cell::Number { .. } => {}
        Cell::Inches { .. } => {
            sheet.write_string_with_format(row, col, cell.text(), &looks.inches)?;
        }
    }
    Ok(())
}

/// The width of a column in characters: its longest cell, or the longest word of its head with the filter's button, up to a
/// width from which on words are wrapped.
fn width(table: &Table, col: usize) -> u32 {
    // The first column stands still while the others roll past, so that it must leave them room.
    let widest = if col == 0 { 30 } else { 60 };
    let head = table
        .heads
        .get(col)
        .map_or(0, |head| longest(head.text().split_whitespace()) + 3);
    let cells = table.rows.iter().filter_map(|row| row.get(col));
    let cells = cells.map(|cell| longest(cell.text().lines()) + 1);
    cells.max().unwrap_or(0).max(head).min(widest) as u32
}

fn longest<'a>(parts: impl Iterator<Item = &'a str>) -> usize {
    parts.map(|part| part.chars().count()).max().unwrap_or(0)
}

/// A name that a sheet may have and that none has yet, capitals and small letters being the same; it is then taken.
fn sheet_name(wanted: &str, taken: &mut Vec<String>) -> String {
    let plain: String = wanted
        .chars()
        .map(|c| {
            if BARRED.contains(&c) || c.is_control() {
                '-'
            } else {
                c
            }
        })
        .collect();
    let edges = [' ', '\''];
    // "History" is a name that spreadsheets keep for themselves.
    let plain = match plain.trim_matches(edges) {
        "" => "table",
        name if name.eq_ignore_ascii_case("history") => "table",
        name => name,
    };
    let mut name = cut(plain, LONGEST_NAME).trim_end_matches(edges).to_string();
    let mut k = 1;
    while taken.contains(&name.to_lowercase()) {
        k += 1;
        let tail = format!(" {k}");
        name = cut(plain, LONGEST_NAME - tail.len()).trim_end().to_string() + &tail;
    }
    taken.push(name.to_lowercase());
    name
}

/// The beginning of a text, of at most so many UTF-16 units.
fn cut(text: &str, longest: usize) -> &str {
    let mut units = 0;
    let beyond = text.char_indices().find(|(_, c)| {
        units += c.len_utf16();
        units > longest
    });
    beyond.map_or(text, |(at, _)| &text[..at])
}

#[cfg(test)]
mod tests {
    use std::io::{Cursor, Read};

    use super::*;
    use crate::tables::{self, Head};

    fn about() -> Vec<(String, String)> {
        vec![("job".to_string(), "=floor & \"sills\"".to_string())]
    }

    fn of_words(name: &'static str, words: &str) -> Table {
        Table {
            name,
            title: "Made & meant",
            heads: [("name", ""), ("off", "mm"), ("off", "in"), ("verdict", "")]
                .map(|(words, unit)| Head {
                    words,
                    unit,
                    key: true,
                })
                .to_vec(),
            rows: vec![vec![
                Cell::Text(words.to_string()),
                Cell::Number {
                    value: 4.7625,
                    decimals: 3,
                },
                Cell::Inches {
                    mm: 4.7625,
                    signed: true,
                },
                Cell::Text("outside".to_string()),
            ]],
        }
    }

    /// A file out of the workbook.
    fn part(workbook: &[u8], name: &str) -> String {
        let mut archive = zip::ZipArchive::new(Cursor::new(workbook)).unwrap();
        let mut text = String::new();
        archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
        text
    }

    #[test]
    fn the_same_tables_give_the_same_bytes() {
        let tables = tables::all(&crate::made::record());
        let first = workbook(&tables, &about()).unwrap();
        assert!(first.starts_with(b"PK\x03\x04"));
        assert_eq!(first, workbook(&tables, &about()).unwrap());
        let core = part(&first, "docProps/core.xml");
        assert!(core.contains("1980-01-01T00:00:00Z"), "{core}");
    }

    #[test]
    fn a_sheet_a_table_after_the_one_that_says_how_to_read_them() {
        let tables = tables::all(&crate::made::record());
        let made = workbook(&tables, &about()).unwrap();
        let book = part(&made, "xl/workbook.xml");
        let names: Vec<&str> = book
            .split("<sheet name=\"")
            .skip(1)
            .map(|rest| rest.split('"').next().unwrap())
            .collect();
        let wanted: Vec<&str> = std::iter::once("about")
            .chain(tables.iter().map(|table| table.name))
            .collect();
        assert_eq!(names, wanted);
        let words = part(&made, "xl/sharedStrings.xml");
        assert!(words.contains("+ proud, − shy"));
        assert!(words.contains("half the 95 % band"));
        assert!(words.contains("Positions only."));
    }

    #[test]
    fn figures_are_numbers_and_words_are_never_a_formula() {
        for words in ["=1+1", "+1", "-1", "@SUM(A1)", "{=1}", "http://x.example"] {
            let made = workbook(&[of_words("made", words)], &about()).unwrap();
            let sheet = part(&made, "xl/worksheets/sheet2.xml");
            assert!(!sheet.contains("<f>") && !sheet.contains("<hyperlink"), "{sheet}");
            let cell = |place: &str| {
                let from = sheet.find(&format!("<c r=\"{place}\"")).unwrap();
                sheet[from..].split("</c>").next().unwrap()
            };
            assert!(cell("A2").contains("t=\"s\""), "{}", cell("A2"));
            assert!(cell("B2").ends_with("<v>4.7625</v>") && !cell("B2").contains("t="));
            assert!(cell("C2").contains("t=\"s\""));
            let shared = part(&made, "xl/sharedStrings.xml");
            assert!(shared.contains(&format!("<t>{words}</t>")), "{shared}");
            assert!(shared.contains("<t>+3/16</t>"));
        }
    }

    #[test]
    fn heads_stay_in_sight_and_on_every_page() {
        let made = workbook(&[of_words("made", "sill")], &about()).unwrap();
        let sheet = part(&made, "xl/worksheets/sheet2.xml");
        assert!(sheet.contains("state=\"frozen\""));
        assert!(sheet.contains("<autoFilter ref=\"A1:D2\"/>"));
        assert!(sheet.contains("orientation=\"landscape\""));
        assert!(sheet.contains("&amp;LMade &amp;&amp; meant"));
        assert!(part(&made, "xl/workbook.xml").contains("_xlnm.Print_Titles"));
        assert!(part(&made, "xl/styles.xml").contains("formatCode=\"0.000\""));
    }

    #[test]
    fn any_name_becomes_one_that_a_sheet_may_have() {
        let long = "a name of forty characters, no less, ok!";
        assert_eq!(long.len(), 40);
        let mut taken = Vec::new();
        assert_eq!(sheet_name(long, &mut taken), &long[..30]);
        assert_eq!(sheet_name(long, &mut taken), format!("{} 2", &long[..29]));
        assert_eq!(sheet_name("[a]:b*c?d/e\\f", &mut taken), "-a--b-c-d-e-f");
        assert_eq!(sheet_name("History", &mut taken), "table");
        assert_eq!(sheet_name("", &mut taken), "table 2");
        assert_eq!(sheet_name("'TABLE'", &mut taken), "TABLE 3");
        assert_eq!(cut("𝄞𝄞𝄞", 5), "𝄞𝄞");
        let same = [of_words("[a]", "x"), of_words("About", "x"), of_words("[A]", "x")];
        let book = part(&workbook(&same, &[]).unwrap(), "xl/workbook.xml");
        for name in ["\"-a-\"", "\"About 2\"", "\"-A- 2\""] {
            assert!(book.contains(name), "{book}");
        }
    }

    #[test]
    fn what_no_sheet_can_hold_is_cut_or_left_out() {
        let mut table = of_words("made", &"x".repeat(40_000));
        table.rows[0][1] = Cell::Number {
            value: f64::NAN,
            decimals: 3,
        };
        let made = workbook(&[table], &about()).unwrap();
        let sheet = part(&made, "xl/worksheets/sheet2.xml");
        assert!(!sheet.contains("r=\"B2\""));
        let table = of_words("made", &"long ".repeat(100));
        assert_eq!(width(&table, 0), 30);
        assert_eq!(width(&table, 1), 7);
        assert_eq!(width(&table, 3), 10);
    }
}
