//! Tables on the sheets: columns as wide as their contents ask, heads again on each sheet, rows never cut.

use super::face::Style;
use super::flow::Flow;
use super::sheet::{Mark, Sign, Space, WIDTH_MM};

/// White at either side of a cell, mm.
const SIDE_MM: f32 = 1.0;
/// White above and below a row, mm.
const ABOVE_MM: f32 = 0.4;
/// A word of a cell may ask for this much width; one that is longer is broken, mm.
const WIDEST_WORD_MM: f32 = 30.0;
/// Lines of one cell; what is longer ends with ….
const MOST_LINES: usize = 14;
/// So that words which fit exactly don't wrap by a rounding, mm.
const SLACK_MM: f32 = 0.05;

/// What a column holds.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Column {
    pub head: String,
    /// Whether its cells stand flush right, as figures do.
    pub right: bool,
    /// What it is wide at least, mm: for a column to write in.
    pub least_mm: f32,
}

impl Column {
    pub fn words(head: impl Into<String>) -> Self {
        Self {
            head: head.into(),
            ..Self::default()
        }
    }

    pub fn figures(head: impl Into<String>) -> Self {
        Self {
            right: true,
            ..Self::words(head)
        }
    }

    /// An empty column to write in.
    pub fn blank(head: impl Into<String>, least_mm: f32) -> Self {
        Self {
            least_mm,
            ..Self::words(head)
        }
    }
}

/// A cell of a table, with a verdict's shape before its words where it has one.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Entry {
    pub words: String,
    pub sign: Option<Sign>,
}

impl From<String> for Entry {
    fn from(words: String) -> Self {
        Self { words, sign: None }
    }
}

impl From<&str> for Entry {
    fn from(words: &str) -> Self {
        words.to_string().into()
    }
}

impl Entry {
    /// A verdict as it is said in words.
    pub fn verdict(words: &str) -> Self {
        Self {
            words: words.to_string(),
            sign: Some(Sign::of(words)),
        }
    }
}

/// A table as it is printed.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Grid {
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<Entry>>,
    pub size_pt: f32,
}

/// A row ready to be placed: the lines of each cell, and how high it is.
struct Row<'g> {
    cells: Vec<(Vec<String>, Option<Sign>, &'g Column)>,
    height: f32,
}

/// What a shape before words takes of a line's height.
fn sign_mm(style: Style) -> f32 {
    0.6 * style.line_mm()
}

/// What is left of a cell for its words, mm.
fn inner_mm(width: f32, sign: Option<Sign>, style: Style) -> f32 {
    width - 2.0 * SIDE_MM - sign.map_or(0.0, |_| sign_mm(style) + SIDE_MM)
}

/// Gives each column what it asks for. Where that is too much, each has what its longest word needs, and the rest is shared out
/// alike: columns that ask for little have it all, and the wide ones wrap.
fn shared(asked: &[f32], least: &[f32], room: f32) -> Vec<f32> {
    let (all, needed): (f32, f32) = (asked.iter().sum(), least.iter().sum());
    if all <= room {
        return asked.to_vec();
    }
    if needed >= room {
        return least.iter().map(|l| l * room / needed).collect();
    }
    let mut widths = least.to_vec();
    let mut open: Vec<usize> = (0..asked.len()).collect();
    let mut rest = room - needed;
    while !open.is_empty() {
        let share = rest / open.len() as f32;
        let (full, wider): (Vec<usize>, Vec<usize>) =
            open.iter().copied().partition(|k| asked[*k] - least[*k] <= share);
        if full.is_empty() {
            for k in wider {
                widths[k] += share;
            }
            break;
        }
        for k in full {
            rest -= asked[k] - least[k];
            widths[k] = asked[k];
        }
        open = wider;
    }
    widths
}

impl Flow<'_> {
    /// A table across the sheet; nothing where it has no rows.
    pub fn grid(&mut self, grid: &Grid) {
        let style = Style::plain(grid.size_pt);
        let widths = self.widths(grid, style);
        let heads: Vec<Entry> = grid.columns.iter().map(|c| c.head.as_str().into()).collect();
        let rows: Vec<Row<'_>> = grid
            .rows
            .iter()
            .map(|row| self.row(grid, row, &widths, style))
            .collect();
        let Some(first) = rows.first() else { return };
        let head = self.row(grid, &heads, &widths, style.bold());
        self.keep_together(head.height + first.height);
        self.head(&head, &widths, style);
        for row in &rows {
            if row.height > self.rest_mm() {
                self.turn();
                self.head(&head, &widths, style);
            }
            self.put(row, &widths, style);
        }
        self.gap(0.4 * style.line_mm());
    }

    fn widths(&self, grid: &Grid, style: Style) -> Vec<f32> {
        let faces = self.faces();
        let (mut asked, mut least) = (Vec::new(), Vec::new());
        for (k, column) in grid.columns.iter().enumerate() {
            let around = 2.0 * SIDE_MM + SLACK_MM;
            let word_mm = |words: &str, style: Style| {
                words
                    .split_whitespace()
                    .map(|word| faces.width_mm(word, style))
                    .fold(0.0_f32, f32::max)
                    .min(WIDEST_WORD_MM)
            };
            let bold = style.bold();
            let mut wide = column.least_mm.max(faces.width_mm(&column.head, bold) + around);
            let mut narrow = column.least_mm.max(word_mm(&column.head, bold) + around);
            for entry in grid.rows.iter().filter_map(|row| row.get(k)) {
                let sign = entry.sign.map_or(0.0, |_| sign_mm(style) + SIDE_MM) + around;
                wide = wide.max(faces.width_mm(&entry.words, style) + sign);
                narrow = narrow.max(word_mm(&entry.words, style) + sign);
            }
            asked.push(wide);
            least.push(narrow);
        }
        shared(&asked, &least, WIDTH_MM)
    }

    fn row<'g>(&self, grid: &'g Grid, entries: &[Entry], widths: &[f32], style: Style) -> Row<'g> {
        let cells: Vec<_> = entries
            .iter()
            .zip(&grid.columns)
            .zip(widths)
            .map(|((entry, column), width)| {
                let inner = inner_mm(*width, entry.sign, style);
                let lines = self.faces().most_lines(&entry.words, style, inner, MOST_LINES);
                (lines, entry.sign, column)
            })
            .collect();
        let most = cells
            .iter()
            .map(|(lines, ..)| lines.len())
            .max()
            .unwrap_or(1)
            .max(1);
        Row {
            cells,
            height: most as f32 * style.line_mm() + 2.0 * ABOVE_MM,
        }
    }

    fn head(&mut self, head: &Row<'_>, widths: &[f32], style: Style) {
        let at = Space {
            left: 0.0,
            top: self.at_mm(),
            width: widths.iter().sum(),
            height: head.height,
        };
        self.place(Mark::Ground { at, grey: 228 });
        self.put(head, widths, style.bold());
    }

    fn put(&mut self, row: &Row<'_>, widths: &[f32], style: Style) {
        let mut left = 0.0_f32;
        for ((lines, sign, column), width) in row.cells.iter().zip(widths) {
            let top = self.at_mm() + ABOVE_MM;
            let mut at = left + SIDE_MM;
            if let Some(sign) = sign {
                let side = sign_mm(style);
                self.sign(*sign, [at, top + 0.5 * (style.line_mm() - side)], side);
                at += side + SIDE_MM;
            }
            for (k, line) in lines.iter().enumerate() {
                let flush = left + width - SIDE_MM - self.faces().width_mm(line, style);
                let start = if column.right { flush.max(at) } else { at };
                self.line_of_words([start, top + k as f32 * style.line_mm()], line.clone(), style);
            }
            left += width;
        }
        self.pass(row.height);
        self.rule(0.0, left, self.at_mm());
    }
}

#[cfg(test)]
mod tests {
    use super::super::Margins;
    use super::super::face::Faces;
    use super::*;

    const MARGINS: Margins<'static> = Margins {
        job: "tub",
        part: "floor",
        kind: "comparison",
        program: "witnessmark",
        result_sha256: "",
    };

    fn long(rows: usize) -> Grid {
        Grid {
            columns: vec![
                Column::words("figure"),
                Column::words("verdict"),
                Column::figures("off (in)"),
                Column::blank("yours", 30.0),
            ],
            rows: (0..rows)
                .map(|k| {
                    vec![
                        format!("width {k}").into(),
                        Entry::verdict("OUT"),
                        "-3/16".into(),
                        "".into(),
                    ]
                })
                .collect(),
            size_pt: 8.0,
        }
    }

    /// A row of one line at 8 points is 3.84 + 0.8 mm high; a sheet has 233.4 mm, its head row one of them.
    #[test]
    fn a_long_table_takes_as_many_sheets_as_its_rows_need_with_heads_on_each() {
        let faces = Faces::new().unwrap();
        for (rows, sheets) in [(49, 1), (50, 2), (98, 2), (99, 3)] {
            let mut flow = Flow::new(&faces, 9.0);
            flow.grid(&long(rows));
            let laid = flow.finish(&MARGINS);
            laid.assert_tidy();
            assert_eq!(laid.sheets.len(), sheets, "{rows} rows");
            assert_eq!(laid.words().matches("off (in)").count(), sheets);
            assert!(laid.words().contains(&format!("width {}", rows - 1)));
        }
    }

    #[test]
    fn words_of_any_length_stay_in_their_columns() {
        let faces = Faces::new().unwrap();
        let mut grid = long(3);
        grid.rows[1][0] = "a very long name of a region that goes on and on and on without an end"
            .repeat(4)
            .into();
        grid.rows[2][2] = "c6887423ddeef65e86435df6bc1fc927bf3cda2b7401885a8e3cc25531ddc542".into();
        let mut flow = Flow::new(&faces, 9.0);
        flow.grid(&grid);
        flow.finish(&MARGINS).assert_tidy();
    }

    #[test]
    fn room_is_shared_out_by_what_is_asked_and_needed() {
        assert_eq!(shared(&[10.0, 20.0], &[5.0, 5.0], 40.0), [10.0, 20.0]);
        assert_eq!(shared(&[10.0, 50.0], &[10.0, 10.0], 40.0), [10.0, 30.0]);
        assert_eq!(shared(&[12.0, 99.0, 99.0], &[10.0; 3], 60.0), [12.0, 24.0, 24.0]);
        assert_eq!(shared(&[90.0, 90.0], &[60.0, 20.0], 40.0), [30.0, 10.0]);
    }

    #[test]
    fn a_table_without_rows_prints_nothing() {
        let faces = Faces::new().unwrap();
        let mut flow = Flow::new(&faces, 9.0);
        let before = flow.at_mm();
        flow.grid(&long(0));
        assert_eq!(flow.at_mm(), before);
    }
}
