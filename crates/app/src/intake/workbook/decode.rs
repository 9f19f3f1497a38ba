//! A text table of any make as a sheet: its letters (UTF-8, UTF-16, Windows-1252) and its separator found out.

use outyard_base::trouble::Spot;
use outyard_base::{Note, Trouble};

use super::grid::{Cell, Grid};
use crate::intake::text::{LARGEST_FILE_BYTES, LONGEST_LINE_BYTES};

/// What Windows-1252 puts on the bytes 0x80 to 0x9F; the rest is as in Latin-1 (WHATWG Encoding Standard, index
/// windows-1252). `\u{fffd}` stands where it has no letter.
const WINDOWS_1252: [char; 32] = [
    '€', '\u{fffd}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{fffd}', 'Ž', '\u{fffd}', '\u{fffd}',
    '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{fffd}', 'ž', 'Ÿ',
];

/// How a text file's letters are written down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Letters {
    /// UTF-8, with or without its mark.
    Utf8,
    /// UTF-16, either byte first.
    Utf16,
    /// The usual letters of older office machines.
    Windows1252,
}

/// Turns the bytes of a text file into text.
///
/// # Errors
/// `FIL-002` empty, `FIL-003` a line too long, `FIL-004` too large, `FIL-006` not text at all.
pub fn decode(file: &str, bytes: &[u8]) -> Result<(String, Letters), Trouble> {
    let trouble = |code, cause: &str, remedy: &str| Err(Trouble::new(code, cause, remedy).at(Spot::file(file)));
    if bytes.len() > LARGEST_FILE_BYTES {
        return trouble("FIL-004", "the file is larger than 256 MiB", "split it by year and import the parts");
    }
    let (text, letters) = match bytes {
        [0xef, 0xbb, 0xbf, rest @ ..] => (String::from_utf8_lossy(rest).into_owned(), Letters::Utf8),
        [0xff, 0xfe, rest @ ..] => (utf16(rest, u16::from_le_bytes), Letters::Utf16),
        [0xfe, 0xff, rest @ ..] => (utf16(rest, u16::from_be_bytes), Letters::Utf16),
        _ if bytes.contains(&0) => {
            // UTF-16 without its mark: every second byte of plain letters is nought.
            let even = bytes.iter().step_by(2).take(2000).filter(|byte| **byte == 0).count();
            let odd = bytes.iter().skip(1).step_by(2).take(2000).filter(|byte| **byte == 0).count();
            let half = bytes.len().min(4000) / 2;
            if odd * 10 > half * 6 && even == 0 {
                (utf16(bytes, u16::from_le_bytes), Letters::Utf16)
            } else if even * 10 > half * 6 && odd == 0 {
                (utf16(bytes, u16::from_be_bytes), Letters::Utf16)
            } else {
                return trouble(
                    "FIL-006",
                    "this is not a text file",
                    "give a table as CSV, or a workbook with its own ending: .xlsx, .ods or .xls",
                );
            }
        }
        _ => match str::from_utf8(bytes) {
            Ok(text) => (text.to_owned(), Letters::Utf8),
            Err(_) => (bytes.iter().map(|byte| windows_letter(*byte)).collect(), Letters::Windows1252),
        },
    };
    if text.contains('\0') {
        return trouble("FIL-006", "this is not a text file", "see whether the file is the one you meant");
    }
    if text.trim().is_empty() {
        return trouble("FIL-002", "the file is empty", "see whether the export that made it ran to its end");
    }
    if let Some(line) = text.split('\n').position(|line| line.len() > LONGEST_LINE_BYTES) {
        return Err(Trouble::new(
            "FIL-003",
            "the line is longer than 1 MiB",
            "see whether the file is the one you meant; a table has one row per line",
        )
        .at(Spot::file(file).line(line + 1)));
    }
    Ok((text, letters))
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> String {
    let units: Vec<u16> = bytes.chunks_exact(2).map(|pair| unit([pair[0], pair[1]])).collect();
    String::from_utf16_lossy(&units)
}

fn windows_letter(byte: u8) -> char {
    match byte {
        0x80..=0x9f => WINDOWS_1252[usize::from(byte - 0x80)],
        byte => char::from(byte),
    }
}

/// Cuts a text table into cells. Every cell is text: what it means is found out later, column by column.
///
/// # Errors
/// As [`decode`]; `TAB-004` a row that cannot be read.
pub fn grid_of_text(file: &str, bytes: &[u8]) -> Result<(Grid, Vec<Note>), Vec<Trouble>> {
    let (text, letters) = decode(file, bytes).map_err(|trouble| vec![trouble])?;
    let separator = separator_of(&text);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut cells = Vec::new();
    let mut faults = Vec::new();
    for record in reader.records() {
        match record {
            Ok(record) => {
                let line = record.position().map_or(0, |at| line_of(&text, at));
                let filled = record.iter().enumerate().filter(|(_, text)| !text.is_empty());
                cells
                    .extend(filled.map(|(column, text)| (line.saturating_sub(1), column, Cell::Text(text.to_owned()))));
            }
            Err(error) => {
                let line = error.position().map_or(1, |at| line_of(&text, at));
                faults.push(
                    Trouble::new(
                        "TAB-004",
                        format!("the row cannot be read: {error}"),
                        "open the file in a text editor at that line",
                    )
                    .at(Spot::file(file).line(line)),
                );
            }
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut notes = Vec::new();
    match letters {
        Letters::Utf8 => {}
        Letters::Utf16 => notes.push(Note::new("IMP-101", "the text is UTF-16; it was read as that")),
        Letters::Windows1252 => notes.push(Note::new(
            "IMP-101",
            "the text is no UTF-8; its accents were read as Windows-1252: look at the names before you confirm",
        )),
    }
    Ok((Grid::of("", false, cells), notes))
}

/// The line a record begins on: the reader counts from the blank lines before it.
fn line_of(text: &str, at: &csv::Position) -> usize {
    let start = usize::try_from(at.byte()).unwrap_or(usize::MAX).min(text.len());
    let blank = text.as_bytes()[start..].iter().take_while(|byte| matches!(byte, b'\r' | b'\n'));
    usize::try_from(at.line()).unwrap_or(usize::MAX) + blank.filter(|byte| **byte == b'\n').count()
}

/// The separator that cuts the most lines into the same number of parts, more than one.
fn separator_of(text: &str) -> u8 {
    let lines: Vec<&str> = text.lines().filter(|line| !line.trim().is_empty()).take(60).collect();
    let agreement = |mark: char| {
        let mut counts: Vec<usize> = lines.iter().map(|line| outside_quotes(line, mark)).collect();
        counts.sort_unstable();
        let middle = counts.get(counts.len() / 2).copied().unwrap_or(0);
        let alike = counts.iter().filter(|count| **count == middle && middle > 0).count();
        (alike, middle)
    };
    let marks = [b',', b';', b'\t'];
    marks.into_iter().rev().max_by_key(|mark| agreement(char::from(*mark))).unwrap_or(b',')
}

fn outside_quotes(line: &str, mark: char) -> usize {
    let mut quoted = false;
    line.chars()
        .filter(|letter| {
            quoted ^= *letter == '"';
            *letter == mark && !quoted
        })
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(bytes: &[u8]) -> Vec<String> {
        let (grid, _) = grid_of_text("yards.csv", bytes).unwrap();
        grid.rows.iter().flat_map(|row| row.cells.iter().map(|(_, cell)| cell.text())).collect()
    }

    #[test]
    fn letters_of_every_make_come_out_alike() {
        let text = "yard;name\n7;Colmenar Peña – €\n";
        let mut utf16 = vec![0xff, 0xfe];
        utf16.extend(text.encode_utf16().flat_map(u16::to_le_bytes));
        let mut big = vec![0xfe, 0xff];
        big.extend(text.encode_utf16().flat_map(u16::to_be_bytes));
        let mut marked = b"\xef\xbb\xbf".to_vec();
        marked.extend(text.as_bytes());
        let want = ["yard", "name", "7", "Colmenar Peña – €"];
        for bytes in [text.as_bytes(), &utf16, &utf16[2..], &big, &big[2..], &marked] {
            // Without its mark UTF-16 is known by its noughts, which needs plain letters.
            if bytes.starts_with(b"y\0") || bytes.starts_with(b"\0y") {
                let plain = String::from("yard;name\n7;Mill\n");
                let bytes: Vec<u8> = if bytes[0] == 0 {
                    plain.encode_utf16().flat_map(u16::to_be_bytes).collect()
                } else {
                    plain.encode_utf16().flat_map(u16::to_le_bytes).collect()
                };
                assert_eq!(names(&bytes), ["yard", "name", "7", "Mill"]);
            } else {
                assert_eq!(names(bytes), want);
            }
        }
        assert_eq!(names(b"yard;name\n7;Colmenar Pe\xf1a \x96 \x80\n"), want);
    }

    #[test]
    fn rows_keep_their_lines_behind_blank_ones() {
        let (grid, _) = grid_of_text("t.csv", b"a,b\r\n\r\n\r\n1,\"x\ny\"\n,,\n\n2,z\n").unwrap();
        assert_eq!(grid.rows.iter().map(|row| row.line).collect::<Vec<_>>(), [1, 4, 8]);
    }

    #[test]
    fn the_separator_is_the_one_that_agrees() {
        for text in ["a;b;c\n1,5;2,5;x\n", "a\tb\tc\n1,5\t2,5\tx\n", "a,b,c\n1.5,2.5,x;y\n", "a,b,c\n1.5,\"2,5;\",x\n"]
        {
            let (grid, _) = grid_of_text("t.csv", text.as_bytes()).unwrap();
            assert_eq!((grid.width(), grid.rows.len()), (3, 2), "{text}");
        }
    }

    #[test]
    fn what_is_no_text_is_refused() {
        for (bytes, code) in [
            (&b""[..], "FIL-002"),
            (b" \n ", "FIL-002"),
            (b"PK\x03\x04\0\0\x08\0\x01", "FIL-006"),
            (b"\xff\xfea\0\0\0", "FIL-006"),
        ] {
            assert_eq!(grid_of_text("t.csv", bytes).unwrap_err()[0].code, code, "{bytes:?}");
        }
        let long = "x".repeat(LONGEST_LINE_BYTES + 1);
        assert_eq!(grid_of_text("t.csv", long.as_bytes()).unwrap_err()[0].code, "FIL-003");
    }
}
