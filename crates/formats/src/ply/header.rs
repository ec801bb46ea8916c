//! The header of a PLY file, checked line by line before the library parses it.

use std::io::{BufRead, Cursor};
use std::path::Path;

use ply_rs::parser::{Parser, Reader};
use ply_rs::ply::{DefaultElement, Header};

use crate::FormatError;
use crate::trouble::shortened;

/// A header longer than this is not a header.
const MOST_LINES: usize = 10_000;
/// A line longer than this is not a line of PLY text.
const MOST_BYTES: usize = 100_000;

/// The words that a line of a header begins with, of which a file that was cut short may hold a part.
const WORDS: [&str; 6] = [
    "format",
    "comment",
    "obj_info",
    "element",
    "property",
    "end_header",
];

/// A parsed header, the comments as written, and how many lines it took.
pub struct Head {
    /// What the library made of it.
    pub ply: Header,
    /// Comments and `obj_info` lines, in their order.
    pub comments: Vec<String>,
    /// Lines up to and with `end_header`.
    pub lines: usize,
}

/// Reads and checks the header; `body` is left at the first byte after it.
pub fn read(path: &Path, body: &mut impl BufRead) -> Result<Head, FormatError> {
    let mut clean = String::new();
    let mut comments = Vec::new();
    let mut seen: Vec<String> = Vec::new();
    let mut elements: Vec<String> = Vec::new();
    let mut number = 0;
    loop {
        number += 1;
        let Some(bytes) = line(path, body, number)? else {
            return Err(cut_short(path, number));
        };
        let text = String::from_utf8_lossy(&bytes);
        let text = text.trim_start_matches('\u{feff}').trim();
        let words: Vec<&str> = text.split_whitespace().collect();
        match words.as_slice() {
            [] => continue,
            ["comment" | "obj_info", ..] => {
                comments.push(text.to_string());
                continue;
            }
            ["property", .., kind, name] => {
                let clean_name: String = name
                    .chars()
                    .map(|c| {
                        if c.is_ascii_alphanumeric() || c == '_' {
                            c
                        } else {
                            '_'
                        }
                    })
                    .collect();
                if kind.ends_with("64") && kind.contains("int") {
                    return Err(FormatError::at_line(
                        path,
                        number,
                        format!("property \"{name}\" of type {kind}, which PLY does not have"),
                        "export it as float or double",
                    ));
                }
                if seen.contains(&clean_name) {
                    return Err(FormatError::at_line(
                        path,
                        number,
                        format!("property \"{name}\" for the second time"),
                        "export it again with each property once; read as it stands, every value would be shifted",
                    ));
                }
                clean.push_str(&words[..words.len() - 1].join(" "));
                clean.push(' ');
                clean.push_str(&clean_name);
                clean.push('\n');
                seen.push(clean_name);
                continue;
            }
            ["element", name, count] => {
                if count.parse::<usize>().is_err() {
                    return Err(FormatError::at_line(
                        path,
                        number,
                        format!("\"{}\" as the count of \"{name}\"", shortened(count)),
                        "the count must be a whole number; export it again",
                    ));
                }
                if elements.iter().any(|e| e == name) {
                    return Err(FormatError::at_line(
                        path,
                        number,
                        format!("element \"{name}\" for the second time"),
                        "export it again with one block of each",
                    ));
                }
                elements.push((*name).to_string());
                seen.clear();
            }
            ["ply" | "format" | "end_header", ..] => {}
            _ => {
                let is_begun = WORDS.iter().any(|word| word.starts_with(words[0]));
                if is_begun && body.fill_buf().is_ok_and(<[u8]>::is_empty) {
                    return Err(cut_short(path, number));
                }
                return Err(FormatError::at_line(
                    path,
                    number,
                    format!("\"{}\" in the header", shortened(text)),
                    "a PLY header holds format, comment, element and property lines; export it again",
                ));
            }
        }
        clean.push_str(&words.join(" "));
        clean.push('\n');
        if words == ["end_header"] {
            break;
        }
        if number > MOST_LINES {
            return Err(FormatError::at_line(
                path,
                number,
                "no \"end_header\" so far",
                "this is no PLY header; export it again",
            ));
        }
    }
    let ply = Parser::<DefaultElement>::new()
        .read_header(&mut Reader::new(Cursor::new(clean)))
        .map_err(|_| {
            FormatError::at_line(
                path,
                number,
                "a header that PLY does not know (its \"format\" line, a type or an order of lines)",
                "export it again as PLY 1.0, ascii or binary",
            )
        })?;
    if ply.version.major != 1 {
        return Err(FormatError::at_line(
            path,
            2,
            format!("PLY version {}", ply.version),
            "export it as PLY 1.0",
        ));
    }
    Ok(Head {
        ply,
        comments,
        lines: number,
    })
}

fn cut_short(path: &Path, line: usize) -> FormatError {
    FormatError::at_line(
        path,
        line,
        "the end of the file before \"end_header\"",
        "the file is cut short; copy or export it again",
    )
}

/// One line without its end (LF, CR LF or CR); `None` at the end of the file.
pub fn line(path: &Path, body: &mut impl BufRead, number: usize) -> Result<Option<Vec<u8>>, FormatError> {
    let mut bytes = Vec::new();
    loop {
        let buffer = body.fill_buf().map_err(|e| FormatError::io(path, &e))?;
        if buffer.is_empty() {
            return Ok((!bytes.is_empty()).then_some(bytes));
        }
        let end = buffer.iter().position(|b| *b == b'\n' || *b == b'\r');
        let taken = end.unwrap_or(buffer.len());
        bytes.extend_from_slice(&buffer[..taken]);
        let Some(end) = end else {
            body.consume(taken);
            if bytes.len() > MOST_BYTES {
                return Err(FormatError::at_line(
                    path,
                    number,
                    "a line without an end",
                    "this is no PLY text; export it again",
                ));
            }
            continue;
        };
        let carriage_return = buffer[end] == b'\r';
        body.consume(end + 1);
        if carriage_return {
            let next = body.fill_buf().map_err(|e| FormatError::io(path, &e))?;
            if next.first() == Some(&b'\n') {
                body.consume(1);
            }
        }
        return Ok(Some(bytes));
    }
}
