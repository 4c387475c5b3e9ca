//! Where rows and cells begin and end.

use memchr::memchr;

use super::dialect::Separator;

/// A row: its bytes without the line's end, and where the next one begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Row {
    pub(super) start: usize,
    pub(super) end: usize,
    pub(super) next: usize,
    /// Lines that it takes: more than one where a quoted cell holds line ends.
    pub(super) lines: usize,
}

/// The row that begins at `start`. `None` where its end is not in these bytes.
pub(super) fn row_at(bytes: &[u8], start: usize, line_end: u8) -> Option<Row> {
    let rest = bytes.get(start..)?;
    let length = memchr(line_end, rest)?;
    let line = &rest[..length];
    if memchr(b'"', line).is_none() || is_marked(line) {
        return Some(row(bytes, start, start + length, 1));
    }
    quoted_row(bytes, start, line_end)
}

/// The same with quotes as plain characters.
pub(super) fn line_at(bytes: &[u8], start: usize, line_end: u8) -> Option<Row> {
    let length = memchr(line_end, bytes.get(start..)?)?;
    Some(row(bytes, start, start + length, 1))
}

fn row(bytes: &[u8], start: usize, end: usize, lines: usize) -> Row {
    let next = end + 1;
    let end = if end > start && bytes.get(end - 1) == Some(&b'\r') { end - 1 } else { end };
    Row { start, end, next, lines }
}

/// A row in which a quote stands: a line end inside a quoted cell does not end it.
fn quoted_row(bytes: &[u8], start: usize, line_end: u8) -> Option<Row> {
    let mut at = start;
    let mut lines = 1;
    let mut opens = true;
    loop {
        let byte = *bytes.get(at)?;
        if byte == line_end {
            return Some(row(bytes, start, at, lines));
        }
        if byte == b'"' && opens {
            let close = closing(bytes, at)?;
            lines += memchr::memchr_iter(line_end, &bytes[at..close]).count();
            at = close + 1;
            opens = false;
            continue;
        }
        opens = matches!(byte, b',' | b';' | b'\t' | b'|') || (byte == b' ' && opens);
        at += 1;
    }
}

/// The quote that closes the one at `open`; a doubled quote is a character of the cell.
fn closing(bytes: &[u8], open: usize) -> Option<usize> {
    let mut at = open + 1;
    loop {
        let quote = at + memchr(b'"', bytes.get(at..)?)?;
        if bytes.get(quote + 1) != Some(&b'"') {
            return Some(quote);
        }
        at = quote + 2;
    }
}

/// Whether a line says itself that it is no row.
fn is_marked(line: &[u8]) -> bool {
    let line = line.trim_ascii_start();
    line.first() == Some(&b'#') || line.starts_with(b"//")
}

/// Whether a row is empty or a comment.
pub(super) fn is_no_row(line: &[u8], separator: Separator) -> bool {
    let trimmed = line.trim_ascii();
    trimmed.is_empty()
        || is_marked(trimmed)
        || (trimmed.first() == Some(&b';') && separator != Separator::Byte(b';'))
}

/// The text of a comment without its mark.
pub(super) fn comment_text(line: &[u8]) -> Option<&[u8]> {
    let trimmed = line.trim_ascii();
    let rest = trimmed.strip_prefix(b"//").or_else(|| trimmed.strip_prefix(b"#"));
    rest.or_else(|| trimmed.strip_prefix(b";"))
}

/// A cell: the bytes of its content in the row, without quotes and the spaces round it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cell {
    pub(super) start: usize,
    pub(super) end: usize,
    pub(super) quoted: bool,
}

impl Cell {
    /// The content; doubled quotes as they are written.
    pub(super) fn of<'a>(&self, row: &'a [u8]) -> &'a [u8] {
        row.get(self.start..self.end).unwrap_or_default()
    }

    /// The content as a text.
    pub(super) fn text(&self, row: &[u8]) -> String {
        let text = String::from_utf8_lossy(self.of(row));
        if self.quoted { text.replace("\"\"", "\"") } else { text.into_owned() }
    }
}

/// The cells of a row.
pub(super) fn cells(row: &[u8], separator: Separator, into: &mut Vec<Cell>) {
    into.clear();
    let is_space = |byte: u8| byte == b' ' || (byte == b'\t' && separator != Separator::Byte(b'\t'));
    let length = row.len();
    let mut at = 0;
    if separator == Separator::Spaces {
        while at < length && is_space(row[at]) {
            at += 1;
        }
    }
    loop {
        let mut start = at;
        while start < length && is_space(row[start]) {
            start += 1;
        }
        let (cell, end) = cell(row, start, separator);
        into.push(cell);
        match separator {
            Separator::None => return,
            Separator::Byte(_) => {
                if end >= length {
                    return;
                }
                at = end + 1;
            }
            Separator::Spaces => {
                at = end;
                while at < length && is_space(row[at]) {
                    at += 1;
                }
                if at >= length {
                    return;
                }
            }
        }
    }
}

/// The cell at `start`, and where it ends: at its separator or the end of the row.
fn cell(row: &[u8], start: usize, separator: Separator) -> (Cell, usize) {
    if row.get(start) == Some(&b'"')
        && let Some(close) = closing(row, start)
    {
        let after = &row[close + 1..];
        let end = close + 1 + separator.find(after).unwrap_or(after.len());
        if row[close + 1..end].trim_ascii().is_empty() {
            return (Cell { start: start + 1, end: close, quoted: true }, end);
        }
    }
    let rest = row.get(start..).unwrap_or_default();
    let end = start + separator.find(rest).unwrap_or(rest.len());
    let trimmed = row.get(start..end).unwrap_or_default().trim_ascii_end().len();
    (Cell { start, end: start + trimmed, quoted: false }, end)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(row: &str, separator: Separator) -> Vec<String> {
        let mut found = Vec::new();
        cells(row.as_bytes(), separator, &mut found);
        found.iter().map(|cell| cell.text(row.as_bytes())).collect()
    }

    #[test]
    fn quoted_cells_may_hold_separators_quotes_and_line_ends() {
        let row = "1, \"a,\"\"b\"\"\nc\" ,,2 \n";
        let found = row_at(row.as_bytes(), 0, b'\n').expect("a row");
        assert_eq!((found.end, found.lines), (row.len() - 1, 2));
        assert_eq!(split(&row[..found.end], Separator::Byte(b',')), ["1", "a,\"b\"\nc", "", "2"]);
    }

    #[test]
    fn a_quote_inside_a_cell_is_a_character_of_it() {
        let text = b"1,5\" disc\n2,x\n";
        assert_eq!(row_at(text, 0, b'\n').map(|row| row.next), Some(10));
        assert_eq!(split("1,5\" disc", Separator::Byte(b',')), ["1", "5\" disc"]);
    }

    #[test]
    fn spaces_and_tabs_in_a_row_are_one_separator() {
        assert_eq!(split("  1.5 \t 2   3  ", Separator::Spaces), ["1.5", "2", "3"]);
        assert_eq!(split("1 2", Separator::None), ["1 2"]);
        assert_eq!(split("1\t\t3", Separator::Byte(b'\t')), ["1", "", "3"]);
        assert_eq!(split("1;", Separator::Byte(b';')), ["1", ""]);
    }

    #[test]
    fn a_quote_that_is_never_closed_has_no_row() {
        assert_eq!(row_at(b"1,\"2\n3,4\n", 0, b'\n'), None);
        assert_eq!(row_at(b"# a \"comment\n3,4\n", 0, b'\n').map(|row| row.next), Some(13));
    }
}
