//! From bytes to text: the checks every file goes through before anyone reads a column of it.

use std::io::BufRead;

use outyard_base::Trouble;
use outyard_base::trouble::Spot;

/// Longest line taken, in bytes. A line of a table or a settings file is a few hundred.
pub const LONGEST_LINE_BYTES: usize = 1 << 20;

/// Largest file taken, in bytes: twenty years of five-minute scale readings are about 100 MB.
pub const LARGEST_FILE_BYTES: usize = 256 << 20;

/// Reads a whole file as text without ever holding more than [`LARGEST_FILE_BYTES`] of it.
///
/// A byte-order mark at the start is dropped. Lines may end in LF or CRLF.
///
/// # Errors
/// `FIL-001` cannot be read on, `FIL-002` empty, `FIL-003` a line too long, `FIL-004` too large,
/// `FIL-005` not UTF-8, `FIL-006` holds NUL bytes (a spreadsheet or an archive, not text).
pub fn read_text(name: &str, mut source: impl BufRead) -> Result<String, Trouble> {
    let mut bytes: Vec<u8> = Vec::new();
    let mut line_start = 0;
    let mut line = 1;
    loop {
        let chunk = match source.fill_buf() {
            Ok(chunk) => chunk,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => {
                return Err(Trouble::new(
                    "FIL-001",
                    format!("cannot be read to its end: {error}"),
                    "see that the file is there, that it is a file and that you may read it",
                )
                .at(Spot::file(name)));
            }
        };
        if chunk.is_empty() {
            break;
        }
        let taken = chunk.len();
        for &byte in chunk {
            if byte == 0 {
                return Err(Trouble::new(
                    "FIL-006",
                    "this is not a text file",
                    "save the table as CSV (comma separated, UTF-8) and give that file",
                )
                .at(Spot::file(name).line(line)));
            }
            bytes.push(byte);
            if byte == b'\n' {
                line += 1;
                line_start = bytes.len();
            } else if bytes.len() - line_start > LONGEST_LINE_BYTES {
                return Err(Trouble::new(
                    "FIL-003",
                    "the line is longer than 1 MiB",
                    "see whether the file is the one you meant; a table has one row per line",
                )
                .at(Spot::file(name).line(line)));
            }
        }
        if bytes.len() > LARGEST_FILE_BYTES {
            return Err(Trouble::new(
                "FIL-004",
                "the file is larger than 256 MiB",
                "split it by year and import the parts",
            )
            .at(Spot::file(name)));
        }
        source.consume(taken);
    }
    let text = match String::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) => {
            let good = error.utf8_error().valid_up_to();
            let before = &error.as_bytes()[..good];
            let (line, column) = line_and_column(&String::from_utf8_lossy(before), good);
            return Err(Trouble::new(
                "FIL-005",
                "the text is not UTF-8",
                "save the file again with the encoding set to UTF-8",
            )
            .at(Spot::file(name).line(line).column(column.to_string())));
        }
    };
    let text = text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Trouble::new("FIL-002", "the file is empty", "see whether the export that made it ran to its end")
            .at(Spot::file(name)));
    }
    Ok(text)
}

/// Line and column, both from 1, of a byte offset in a text; columns count characters.
pub fn line_and_column(text: &str, offset: usize) -> (usize, usize) {
    let mut end = offset.min(text.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let before = &text[..end];
    let line = before.matches('\n').count() + 1;
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    (line, before[start..].chars().count() + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(bytes: &[u8]) -> Result<String, Trouble> {
        read_text("yards.csv", bytes)
    }

    #[test]
    fn good_text_comes_through_without_its_mark() {
        assert_eq!(read(b"\xef\xbb\xbfyard,name\r\n7,Mill\r\n").unwrap(), "yard,name\r\n7,Mill\r\n");
    }

    #[test]
    fn bad_files_are_refused_with_place() {
        assert_eq!(read(b"").unwrap_err().code, "FIL-002");
        assert_eq!(read(b" \n\t\n").unwrap_err().code, "FIL-002");
        assert_eq!(read(b"PK\x03\x04\0\0").unwrap_err().code, "FIL-006");
        let latin = read(b"yard,name\n7,caf\xe9\n").unwrap_err();
        assert_eq!(latin.to_string(), "yards.csv, line 2, column 6: the text is not UTF-8 [FIL-005]");
    }

    /// A source with no end and no line break: reading must stop by itself.
    struct Endless;
    impl std::io::Read for Endless {
        fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
            buffer.fill(b'7');
            Ok(buffer.len())
        }
    }

    #[test]
    fn an_endless_line_stops_at_the_limit() {
        let refused = read_text("yards.csv", std::io::BufReader::new(Endless)).unwrap_err();
        assert_eq!(refused.code, "FIL-003");
        assert_eq!(refused.place.unwrap().line, Some(1));
    }

    #[test]
    fn offsets_become_lines_and_columns() {
        assert_eq!(line_and_column("a = 1\né = 2\n", 6), (2, 1));
        assert_eq!(line_and_column("a = 1\né = 2\n", 9), (2, 3));
        assert_eq!(line_and_column("abc", 99), (1, 4));
    }
}
