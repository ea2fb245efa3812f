//! Text with separators (RFC 4180 and what programs make of it): any line end, UTF-8, UTF-16 or
//! Windows-1252, comma, semicolon or tab.

use crate::{COLUMNS_MAX, Cell, Grid, Row, Unreadable, of_file, too_large};
use std::borrow::Cow;

/// Windows-1252 from 0x80 to 0x9F (WHATWG Encoding, index windows-1252); above and below it is
/// Latin-1.
const WINDOWS: [char; 32] = [
    '\u{20AC}', '\u{81}', '\u{201A}', '\u{192}', '\u{201E}', '\u{2026}', '\u{2020}', '\u{2021}',
    '\u{2C6}', '\u{2030}', '\u{160}', '\u{2039}', '\u{152}', '\u{8D}', '\u{17D}', '\u{8F}',
    '\u{90}', '\u{2018}', '\u{2019}', '\u{201C}', '\u{201D}', '\u{2022}', '\u{2013}', '\u{2014}',
    '\u{2DC}', '\u{2122}', '\u{161}', '\u{203A}', '\u{153}', '\u{9D}', '\u{17E}', '\u{178}',
];
/// Rows from which the separator is told.
const LOOKED_AT: usize = 50;

/// The letters of a file.
fn letters(bytes: &[u8]) -> Cow<'_, str> {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let wide = |bytes: &[u8], read: fn([u8; 2]) -> u16| {
        let units = bytes.chunks_exact(2).map(|pair| read([pair[0], pair[1]]));
        char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
    };
    if let Some(rest) = bytes.strip_prefix(b"\xFF\xFE") {
        return Cow::Owned(wide(rest, u16::from_le_bytes));
    }
    if let Some(rest) = bytes.strip_prefix(b"\xFE\xFF") {
        return Cow::Owned(wide(rest, u16::from_be_bytes));
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Cow::Borrowed(text);
    }
    let letter = |b: &u8| match b {
        0x80..=0x9F => WINDOWS.get(usize::from(b - 0x80)).copied().unwrap_or(' '),
        other => char::from(*other),
    };
    Cow::Owned(bytes.iter().map(letter).collect())
}

/// Reads a text.
///
/// # Errors
/// When it is empty, cut off inside a quoted cell, or larger than `cells_max`.
pub fn read(bytes: &[u8], cells_max: usize) -> Result<Grid, Unreadable> {
    let text = letters(bytes);
    if text.contains('\0') {
        let text = "this is no table: choose a file of XLSX or CSV";
        return Err((1, of_file("no_table", text)));
    }
    let separator = separator(&text);
    let mut rows = Vec::new();
    let mut cells_count = 0;
    let mut cutter = Cutter::new(&text, separator);
    while let Some(row) = cutter.next()? {
        cells_count += row.cells.len();
        if cells_count > cells_max {
            return Err(too_large());
        }
        rows.push(row);
    }
    if rows.is_empty() {
        let text = "the file is empty: one line must name the columns";
        return Err((1, of_file("empty", text)));
    }
    Ok(Grid { name: String::new(), separator: Some(separator), rows })
}

/// What parts the cells: a tab or semicolon where it parts the rows about as evenly as the comma,
/// which stands in numbers and sentences as well.
fn separator(text: &str) -> char {
    // Cells of the rows that have the most, from the first row that it parts; 0 where these are few.
    let evenly_parted = |separator: char| {
        let mut cutter = Cutter::new(text, separator);
        let mut counts: Vec<usize> = Vec::new();
        while let Ok(Some(row)) = cutter.next() {
            if counts.len() == LOOKED_AT {
                break;
            }
            let width = row.width.unwrap_or(0);
            if width > 1 || !counts.is_empty() {
                counts.push(width);
            }
        }
        let width = counts.iter().copied().max().unwrap_or(1);
        let even = counts.iter().filter(|c| **c == width).count();
        if width > 1 && even * 2 >= counts.len() { width * even } else { 0 }
    };
    let commas = evenly_parted(',');
    let wins = |separator: &char| {
        let cells = evenly_parted(*separator);
        cells > 0 && cells * 2 > commas
    };
    ['\t', ';'].into_iter().find(wins).unwrap_or(',')
}

/// Cuts a text into rows.
struct Cutter<'a> {
    chars: std::iter::Peekable<std::str::Chars<'a>>,
    separator: char,
    /// The line that comes next.
    line: u64,
}

/// How a cell ended.
enum End {
    Cell,
    Row,
    Text,
}

impl<'a> Cutter<'a> {
    fn new(text: &'a str, separator: char) -> Self {
        Self { chars: text.chars().peekable(), separator, line: 1 }
    }

    /// The next row that is not empty.
    fn next(&mut self) -> Result<Option<Row>, Unreadable> {
        loop {
            let line = self.line;
            let (mut cells, mut width) = (Vec::new(), 0);
            let is_last = loop {
                let (text, end) = self.cell()?;
                width += 1;
                let cell = Cell::text(&text);
                if !cell.text.is_empty() {
                    if width > COLUMNS_MAX {
                        let text = "this line has too many columns: remove those on the right";
                        return Err((line, of_file("columns_many", text)));
                    }
                    cells.resize_with(width - 1, Cell::default);
                    cells.push(cell);
                }
                match end {
                    End::Cell => {}
                    End::Row => break false,
                    End::Text => break true,
                }
            };
            if !cells.is_empty() {
                return Ok(Some(Row { line, width: Some(width), cells }));
            }
            if is_last {
                return Ok(None);
            }
        }
    }

    fn cell(&mut self) -> Result<(String, End), Unreadable> {
        let mut text = String::new();
        if self.chars.next_if_eq(&'"').is_some() {
            self.quoted(&mut text)?;
        }
        while let Some(c) = self.chars.next() {
            match c {
                '\r' | '\n' => {
                    self.end_line(c);
                    return Ok((text, End::Row));
                }
                c if c == self.separator => return Ok((text, End::Cell)),
                c => text.push(c),
            }
        }
        Ok((text, End::Text))
    }

    /// What stands between quotes; a doubled quote is one.
    fn quoted(&mut self, text: &mut String) -> Result<(), Unreadable> {
        let line = self.line;
        while let Some(c) = self.chars.next() {
            match c {
                '"' if self.chars.next_if_eq(&'"').is_none() => return Ok(()),
                '\r' | '\n' => {
                    self.end_line(c);
                    text.push('\n');
                }
                c => text.push(c),
            }
        }
        let text = "a quoted cell is not closed: the file may have been cut off; copy it again";
        Err((line, of_file("quotes", text)))
    }

    fn end_line(&mut self, c: char) {
        if c == '\r' {
            self.chars.next_if_eq(&'\n');
        }
        self.line += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(text: &str) -> Vec<(u64, Vec<String>)> {
        let grid = read(text.as_bytes(), 1_000).expect("readable");
        let cells = |row: Row| row.cells.into_iter().map(|c| c.text).collect();
        grid.rows.into_iter().map(|row| (row.line, cells(row))).collect()
    }

    /// The same rows, and the same lines, whatever ends a line (RFC 4180 has CRLF; files of old
    /// Macintosh programs have CR).
    #[test]
    fn lines_are_those_of_the_file_whatever_ends_them() {
        let text = "name,note\n\nA,\"two\nlines\"\n , \nB,x\n";
        let want = [(1, ["name", "note"]), (3, ["A", "two\nlines"]), (6, ["B", "x"])];
        for end in ["\n", "\r\n", "\r"] {
            let found = cut(&text.replace('\n', end));
            assert_eq!(found.len(), want.len(), "{end:?}: {found:?}");
            for ((line, cells), (want_line, want_cells)) in found.iter().zip(&want) {
                assert_eq!(
                    (line, cells.as_slice()),
                    (want_line, &want_cells.map(str::to_owned)[..])
                );
            }
        }
    }

    #[test]
    fn separators_and_letters_are_told_apart() {
        let semicolons =
            read(b"Seed list, 2026\nname;kg;l\nA;2,5;1,5\nB;3,5;1,0\n", 99).expect("read");
        assert_eq!(semicolons.separator, Some(';'));
        assert_eq!(semicolons.rows[1].cells.len(), 3);
        let tabs =
            read("\u{FEFF}name\tkg\nA, the first; and only\t2\n".as_bytes(), 99).expect("read");
        assert_eq!(tabs.rows[0].cells[0].text, "name");
        assert_eq!(tabs.rows[1].cells[0].text, "A, the first; and only");
        let commas =
            read(b"name,note\nA,one; two\nB,three\nC,four; five; six\n", 99).expect("read");
        assert_eq!(commas.rows[3].cells.len(), 2);
        let notes =
            read(b"id,a,b,c,note\n1,2,3,4,one; two\n1,2,3,4,five; six\n", 99).expect("read");
        assert_eq!(notes.separator, Some(','));
        // "José, 5 €" as Windows-1252 has it (WHATWG Encoding, index windows-1252).
        let old = read(b"name\nJos\xE9 5 \x80\n", 99).expect("read");
        assert_eq!(old.rows[1].cells[0].text, "José 5 €");
        let wide: Vec<u8> =
            "\u{FEFF}name\nJosé\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
        assert_eq!(read(&wide, 99).expect("read").rows[1].cells[0].text, "José");
    }

    #[test]
    fn damage_is_said_with_its_line() {
        let code =
            |bytes: &[u8], most: usize| read(bytes, most).map_err(|(line, e)| (line, e.code));
        assert_eq!(code(b"a,b\r\n1,\"x", 99), Err((2, "quotes")));
        assert_eq!(code(b" \n\n", 99), Err((1, "empty")));
        assert_eq!(code(b"a,b\n1,2\n3,4\n", 5), Err((0, "sheet_too_large")));
        assert_eq!(code(&[b','; 1_000], 99), Err((1, "empty")));
        let wide = [vec![b','; 400], b"x".to_vec()].concat();
        assert_eq!(code(&wide, 9_999), Err((1, "columns_many")));
        assert_eq!(code(b"\x89PNG\0\0", 99), Err((1, "no_table")));
    }
}
