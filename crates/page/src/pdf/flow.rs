//! Sets headings, paragraphs, lists, blanks to fill in and pictures one under the other, sheet after sheet.

use super::Margins;
use super::face::{Faces, Style};
use super::sheet::{HEIGHT_MM, Laid, Mark, Sheet, Sign, Space, WIDTH_MM};

/// What the head and the foot of a sheet take, mm.
const HEAD_MM: f32 = 9.0;
const FOOT_MM: f32 = 7.0;
/// Where the text of a sheet begins and ends, mm from its upper edge.
pub(super) const TOP_MM: f32 = HEAD_MM;
pub(super) const BOTTOM_MM: f32 = HEIGHT_MM - FOOT_MM;

/// Pages in the making.
pub(super) struct Flow<'a> {
    faces: &'a Faces,
    body: Style,
    sheets: Vec<Sheet>,
    pictures: Vec<(&'a str, &'a [u8])>,
    /// Where the next thing goes, mm from the upper edge.
    at_mm: f32,
}

impl<'a> Flow<'a> {
    /// An empty first sheet; the text is set in this size.
    pub fn new(faces: &'a Faces, body_pt: f32) -> Self {
        Self {
            faces,
            body: Style::plain(body_pt),
            sheets: vec![Sheet::default()],
            pictures: Vec::new(),
            at_mm: TOP_MM,
        }
    }

    pub fn faces(&self) -> &'a Faces {
        self.faces
    }

    /// How plain text is set.
    pub fn body(&self) -> Style {
        self.body
    }

    /// All that is said so far.
    pub fn said(&self) -> String {
        let marks = self.sheets.iter().flat_map(|sheet| &sheet.marks);
        let words = marks.filter_map(|mark| match mark {
            Mark::Words { words, .. } => Some(words.as_str()),
            _ => None,
        });
        words.collect::<Vec<_>>().join(" ")
    }

    pub fn at_mm(&self) -> f32 {
        self.at_mm
    }

    /// What is left of this sheet, mm.
    pub fn rest_mm(&self) -> f32 {
        BOTTOM_MM - self.at_mm
    }

    pub fn place(&mut self, mark: Mark) {
        if let Some(sheet) = self.sheets.last_mut() {
            sheet.marks.push(mark);
        }
    }

    /// A line of words whose upper left corner is given.
    pub fn line_of_words(&mut self, [left, top]: [f32; 2], words: String, style: Style) {
        let width = self.faces.width_mm(&words, style);
        self.place(Mark::Words {
            left,
            base: top + style.above_mm(),
            width,
            style,
            words,
        });
    }

    /// A picture file that is shown, and its place in the list.
    pub fn picture_file(&mut self, name: &'a str, png: &'a [u8]) -> usize {
        self.pictures.push((name, png));
        self.pictures.len() - 1
    }

    /// A thin line across the sheet, or a part of it.
    pub fn rule(&mut self, left: f32, right: f32, at_mm: f32) {
        self.place(Mark::Line {
            from: [left, at_mm],
            to: [right, at_mm],
            pen: 0.2,
            grey: 120,
        });
    }

    /// Goes on with the next sheet.
    pub fn turn(&mut self) {
        self.sheets.push(Sheet::default());
        self.at_mm = TOP_MM;
    }

    /// What comes next is so high and stays on one sheet.
    pub fn keep_together(&mut self, height_mm: f32) {
        if self.at_mm > TOP_MM && height_mm > self.rest_mm() {
            self.turn();
        }
    }

    /// Leaves some white; none at the top of a sheet.
    pub fn gap(&mut self, height_mm: f32) {
        if self.at_mm > TOP_MM {
            self.at_mm += height_mm;
        }
    }

    /// Goes down past something that was placed.
    pub fn pass(&mut self, height_mm: f32) {
        self.at_mm += height_mm;
    }

    /// How high words become across the sheet, mm.
    pub fn height_mm(&self, words: &str, style: Style) -> f32 {
        self.faces.lines(words, style, WIDTH_MM).len() as f32 * style.line_mm()
    }

    /// Lines one under the other, over the edge of a sheet where they must.
    fn lines(&mut self, left: f32, lines: Vec<String>, style: Style) {
        // No single line is left behind at the bottom of a sheet.
        self.keep_together(lines.len().min(2) as f32 * style.line_mm());
        for line in lines {
            self.keep_together(style.line_mm());
            self.line_of_words([left, self.at_mm], line, style);
            self.at_mm += style.line_mm();
        }
    }

    pub fn paragraph(&mut self, words: &str, style: Style) {
        let lines = self.faces.lines(words, style, WIDTH_MM);
        self.lines(0.0, lines, style);
        self.at_mm += 0.25 * style.line_mm();
    }

    /// The name of the page.
    pub fn title(&mut self, words: &str) {
        let style = self.body.sized(1.9 * self.body.size_pt).bold();
        let lines = self.faces.most_lines(words, style, WIDTH_MM, 2);
        self.lines(0.0, lines, style);
        self.gap(0.5);
    }

    /// The name of a part, with some of the part below it on the same sheet.
    pub fn heading(&mut self, words: &str) {
        let style = self.body.sized(1.2 * self.body.size_pt).bold();
        self.gap(0.7 * self.body.line_mm());
        self.keep_together(style.line_mm() + 3.0 * self.body.line_mm());
        let lines = self.faces.most_lines(words, style, WIDTH_MM, 2);
        self.lines(0.0, lines, style);
        self.at_mm += 0.15 * self.body.line_mm();
    }

    /// Items of a list, each with a point before it.
    pub fn bullets<W: AsRef<str>>(&mut self, items: impl IntoIterator<Item = W>) {
        let style = self.body;
        let indent = 1.1 * style.line_mm();
        for item in items {
            let lines = self.faces.lines(item.as_ref(), style, WIDTH_MM - indent);
            if lines.is_empty() {
                continue;
            }
            self.keep_together(lines.len().min(2) as f32 * style.line_mm());
            self.line_of_words([0.3 * indent, self.at_mm], "•".to_string(), style);
            self.lines(indent, lines, style);
            self.at_mm += 0.2 * style.line_mm();
        }
    }

    /// Words behind a shape; they stay on one sheet.
    pub fn signed(&mut self, sign: Sign, words: &str, style: Style) {
        let side = 0.55 * style.line_mm();
        let indent = 1.1 * style.line_mm();
        let most = ((BOTTOM_MM - TOP_MM) / style.line_mm()) as usize;
        let lines = self.faces.most_lines(words, style, WIDTH_MM - indent, most);
        self.keep_together(lines.len() as f32 * style.line_mm());
        let top = self.at_mm + 0.5 * (style.line_mm() - side);
        self.sign(sign, [0.2 * side, top], side);
        self.lines(indent, lines, style);
        self.at_mm += 0.25 * style.line_mm();
    }

    /// A shape by itself.
    pub fn sign(&mut self, sign: Sign, [left, top]: [f32; 2], side: f32) {
        let at = Space {
            left,
            top,
            width: side,
            height: side,
        };
        self.place(Mark::Sign { sign, at });
    }

    /// What is said of a thing, two and two beside each other; where nothing is said a line to write on is left.
    pub fn pairs(&mut self, pairs: &[(&str, String)]) {
        let column = WIDTH_MM / 2.0;
        let label_mm = pairs
            .iter()
            .map(|(label, _)| self.faces.width_mm(label, self.body.pale()))
            .fold(0.0_f32, f32::max)
            .min(0.45 * column);
        let value_mm = column - label_mm - 6.0;
        for both in pairs.chunks(2) {
            let values: Vec<Vec<String>> = both
                .iter()
                .map(|(_, value)| self.faces.most_lines(value, self.body, value_mm, 6))
                .collect();
            let most = values.iter().map(Vec::len).max().unwrap_or(1).max(1);
            let height = most as f32 * self.body.line_mm() + 0.8;
            self.keep_together(height);
            for (k, ((label, _), lines)) in both.iter().zip(values).enumerate() {
                let left = k as f32 * column;
                let label = self.faces.cut(label, self.body.pale(), label_mm + 0.1);
                self.line_of_words([left, self.at_mm], label, self.body.pale());
                let value_left = left + label_mm + 2.5;
                if lines.is_empty() {
                    self.rule(
                        value_left,
                        value_left + value_mm,
                        self.at_mm + self.body.line_mm(),
                    );
                }
                for (row, line) in lines.into_iter().enumerate() {
                    let top = self.at_mm + row as f32 * self.body.line_mm();
                    self.line_of_words([value_left, top], line, self.body);
                }
            }
            self.at_mm += height;
        }
    }

    /// Lines to sign on, two beside each other.
    pub fn signatures(&mut self, labels: &[&str]) {
        let style = self.body.pale();
        let height = 9.0 + style.line_mm();
        for both in labels.chunks(2) {
            self.keep_together(height);
            for (k, label) in both.iter().enumerate() {
                let left = k as f32 * WIDTH_MM / 2.0;
                let width = WIDTH_MM / 2.0 - 6.0;
                self.rule(left, left + width, self.at_mm + 8.5);
                let label = self.faces.cut(label, style, width);
                self.line_of_words([left, self.at_mm + 9.0], label, style);
            }
            self.at_mm += height;
        }
    }

    /// Puts a head and a foot on every sheet.
    pub fn finish(mut self, margins: &Margins<'_>) -> Laid<'a> {
        let style = Style::plain(7.5).pale();
        let (job, of) = (margins.job, self.sheets.len());
        let digits: String = margins.result_sha256.chars().take(12).collect();
        let sheets = std::mem::take(&mut self.sheets);
        let mut done = Vec::with_capacity(of);
        for (k, sheet) in sheets.into_iter().enumerate() {
            // What is placed goes on the last sheet: while it is at hand, that is this one.
            self.sheets.push(sheet);
            let left = self.faces.cut(&format!("job {job}"), style, 0.6 * WIDTH_MM);
            self.line_of_words([0.0, 0.0], left, style);
            let right = self.faces.cut(margins.part, style, 0.35 * WIDTH_MM);
            let right_at = WIDTH_MM - self.faces.width_mm(&right, style);
            self.line_of_words([right_at, 0.0], right, style);
            self.rule(0.0, WIDTH_MM, 4.5);
            let short = self.faces.cut(job, style, 0.25 * WIDTH_MM);
            let mut foot = format!("job {short} · sheet {} of {of}", k + 1);
            if !digits.is_empty() {
                foot.push_str(&format!(" · result.json SHA-256 {digits}…"));
            }
            let top = HEIGHT_MM - style.line_mm();
            self.rule(0.0, WIDTH_MM, top - 0.8);
            self.line_of_words([0.0, top], foot, style);
            let caution = "positions only: see the cautions";
            let at = WIDTH_MM - self.faces.width_mm(caution, style);
            self.line_of_words([at, top], caution.to_string(), style);
            done.append(&mut self.sheets);
        }
        Laid {
            sheets: done,
            pictures: self.pictures,
            title: format!("{}: {}", margins.job, margins.kind),
            program: margins.program.to_string(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn margins(job: &str) -> Margins<'_> {
        Margins {
            job,
            part: "floor",
            kind: "comparison",
            program: "witnessmark",
            result_sha256: "0123456789abcdef",
        }
    }

    #[test]
    fn a_long_list_goes_on_the_next_sheet_with_head_and_foot_on_each() {
        let faces = Faces::new().unwrap();
        let mut flow = Flow::new(&faces, 9.0);
        flow.heading("To do");
        flow.bullets((0..90).map(|k| format!("right floor: shim up 3/64 at pad {k}")));
        let laid = flow.finish(&margins("Tub 7"));
        laid.assert_tidy();
        assert_eq!(laid.sheets.len(), 3);
        let words = laid.words();
        for foot in [
            "sheet 1 of 3",
            "sheet 3 of 3",
            "0123456789ab…",
            "job Tub 7",
            "pad 89",
        ] {
            assert!(words.contains(foot), "{foot}");
        }
    }

    #[test]
    fn names_that_are_too_long_are_cut_or_wrapped_and_not_overprinted() {
        let faces = Faces::new().unwrap();
        let mut flow = Flow::new(&faces, 9.0);
        let long = "a-shell-of-a-very-long-name-".repeat(12);
        flow.title(&long);
        flow.pairs(&[
            ("job", long.clone()),
            ("shell or panel, its number", String::new()),
            ("measured with", "an arm".to_string()),
        ]);
        flow.signed(Sign::Tick, &long, Style::plain(18.0));
        flow.signatures(&["handed over by", long.as_str()]);
        let laid = flow.finish(&margins(&long));
        laid.assert_tidy();
        assert!(laid.words().contains('…'));
    }

    #[test]
    fn what_is_not_said_leaves_a_line_to_write_on() {
        let faces = Faces::new().unwrap();
        let mut flow = Flow::new(&faces, 9.0);
        flow.pairs(&[("day", String::new())]);
        let lines = flow.sheets[0].marks.iter();
        assert_eq!(lines.filter(|m| matches!(m, Mark::Line { .. })).count(), 1);
    }
}
