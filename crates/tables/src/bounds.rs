//! Bounds a workbook must keep before anybody unfolds it: a small file can stand for more than a machine holds.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | | `FILE_BYTES_MOST` | largest workbook | bytes | 64 MiB | assumed |
//! | | `UNPACKED_BYTES_MOST` | all its parts unpacked | bytes | 256 MiB | assumed |
//! | | `PART_BYTES_MOST` | its table of words unpacked | bytes | 64 MiB | assumed |
//! | | `PARTS_MOST` | parts in it | - | 10,000 | assumed |
//! | | `CELLS_MOST` | cells with something in them, all sheets together | cells | 4,000,000 | assumed |

use std::io::{self, Cursor, Read};

use outyard_base::Trouble;
use outyard_base::trouble::Spot;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use zip::ZipArchive;
use zip::result::ZipError;

/// Largest workbook taken, in bytes; assumed.
pub(crate) const FILE_BYTES_MOST: usize = 64 << 20;
/// Most bytes all parts of a workbook may unpack to; assumed.
const UNPACKED_BYTES_MOST: u64 = 256 << 20;
/// Most bytes its table of words may unpack to; assumed.
const PART_BYTES_MOST: u64 = 64 << 20;
/// Most parts in a workbook; assumed.
const PARTS_MOST: usize = 10_000;
/// Most cells with something in them; assumed.
pub(crate) const CELLS_MOST: usize = 4_000_000;

/// What a packed workbook is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Packed {
    Xlsx,
    Ods,
}

pub(crate) fn torn(file: &str, why: impl core::fmt::Display) -> Trouble {
    Trouble::new(
        "WBK-001",
        format!("the workbook cannot be read: {}", why.to_string().chars().take(160).collect::<String>()),
        "open it in the program that wrote it, save it again and give that file; or save the sheet as CSV",
    )
    .at(Spot::file(file))
}

pub(crate) fn too_large(file: &str, what: impl core::fmt::Display) -> Trouble {
    Trouble::new(
        "WBK-002",
        format!("the workbook is too large: {what}"),
        "take out sheets and rows that are not needed, or save the sheet as CSV and give that",
    )
    .at(Spot::file(file))
}

pub(crate) fn locked(file: &str) -> Trouble {
    Trouble::new(
        "WBK-003",
        "the workbook is locked with a password",
        "open it, save it without a password and give that file; outyard asks for no passwords",
    )
    .at(Spot::file(file))
}

pub(crate) fn another_sort(file: &str, what: &str) -> Trouble {
    Trouble::new(
        "WBK-004",
        format!("this is {what}, not a table"),
        "give a workbook (.xlsx, .ods, .xls) or a text table (.csv)",
    )
    .at(Spot::file(file))
}

/// Unpacks every part into nothing, counting: what a part says of its own size is not believed.
pub(crate) fn check_packed(file: &str, bytes: &[u8]) -> Result<Packed, Trouble> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|error| torn(file, error))?;
    if archive.len() > PARTS_MOST {
        return Err(too_large(file, format!("{} parts", archive.len())));
    }
    let mut left = UNPACKED_BYTES_MOST;
    let mut sort = None;
    for index in 0..archive.len() {
        let part = archive.by_index(index).map_err(|error| match error {
            ZipError::UnsupportedArchive(ZipError::PASSWORD_REQUIRED) | ZipError::InvalidPassword => locked(file),
            other => torn(file, other),
        })?;
        let name = part.name().map_err(|error| torn(file, error))?.into_owned();
        sort = match name.as_str() {
            "xl/workbook.xml" => Some(Packed::Xlsx),
            "content.xml" => sort.or(Some(Packed::Ods)),
            "xl/workbook.bin" => {
                return Err(another_sort(file, "a binary workbook (.xlsb)"));
            }
            "word/document.xml" => return Err(another_sort(file, "a letter")),
            _ => sort,
        };
        let most = if name.ends_with("sharedStrings.xml") { left.min(PART_BYTES_MOST) } else { left };
        let taken = io::copy(&mut part.take(most + 1), &mut io::sink()).map_err(|error| torn(file, error))?;
        if taken > most {
            return Err(too_large(file, format!("its part {name} unpacks to more than {} MiB", most >> 20)));
        }
        left -= taken;
    }
    sort.ok_or_else(|| another_sort(file, "an archive"))
}

/// Counts the cells an ODS workbook stands for: it may say of one row that it comes a million times.
pub(crate) fn check_ods(file: &str, bytes: &[u8]) -> Result<(), Trouble> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|error| torn(file, error))?;
    let mut content = Vec::new();
    archive
        .by_name("content.xml")
        .map_err(|error| torn(file, error))?
        .take(UNPACKED_BYTES_MOST)
        .read_to_end(&mut content)
        .map_err(|error| torn(file, error))?;
    let mut reader = Reader::from_reader(content.as_slice());
    let mut count = OdsCount::default();
    loop {
        match reader.read_event() {
            Ok(Event::Start(tag)) => count.open(&tag),
            Ok(Event::Empty(tag)) => {
                count.open(&tag);
                count.close(tag.name().as_ref());
            }
            Ok(Event::Text(text)) => count.filled |= !text.trim().is_empty(),
            Ok(Event::End(tag)) => count.close(tag.name().as_ref()),
            Ok(Event::Eof) => break,
            Ok(_) => {}
            Err(error) => return Err(torn(file, error)),
        }
        if count.cells() > CELLS_MOST as u64 {
            return Err(too_large(file, format!("it stands for more than {CELLS_MOST} cells")));
        }
    }
    Ok(())
}

/// Cells from the first to the last that hold something, as the reader unfolds them.
#[derive(Default)]
struct OdsCount {
    sheets: u64,
    rows: u64,
    rows_waiting: u64,
    width: u64,
    row_repeats: u64,
    row_width: u64,
    row_filled: u64,
    cell_repeats: u64,
    filled: bool,
}

impl OdsCount {
    fn repeats(tag: &BytesStart<'_>, name: &str) -> u64 {
        let told = tag.attributes().flatten().find(|attribute| attribute.key.as_ref() == name);
        told.and_then(|told| told.value.parse().ok()).unwrap_or(1)
    }

    fn open(&mut self, tag: &BytesStart<'_>) {
        match tag.name().as_ref() {
            "table:table-row" => {
                self.row_repeats = Self::repeats(tag, "table:number-rows-repeated");
                (self.row_width, self.row_filled) = (0, 0);
            }
            "table:table-cell" | "table:covered-table-cell" => {
                self.cell_repeats = Self::repeats(tag, "table:number-columns-repeated");
                self.filled = tag.attributes().flatten().any(|attribute| attribute.key.as_ref() == "office:value-type");
            }
            _ => {}
        }
    }

    fn close(&mut self, name: &str) {
        match name {
            "table:table-cell" | "table:covered-table-cell" => {
                self.row_width = self.row_width.saturating_add(self.cell_repeats);
                if self.filled {
                    self.row_filled = self.row_width;
                }
                self.filled = false;
            }
            "table:table-row" => {
                self.rows_waiting = self.rows_waiting.saturating_add(self.row_repeats);
                if self.row_filled > 0 {
                    self.width = self.width.max(self.row_filled);
                    self.rows = self.rows.saturating_add(self.rows_waiting);
                    self.rows_waiting = 0;
                }
            }
            "table:table" => {
                self.sheets = self.sheets.saturating_add(self.rows.saturating_mul(self.width));
                (self.rows, self.rows_waiting, self.width) = (0, 0, 0);
            }
            _ => {}
        }
    }

    fn cells(&self) -> u64 {
        let row = self.row_width.max(self.row_filled).saturating_mul(u64::from(self.filled));
        self.sheets.saturating_add(self.rows.saturating_mul(self.width)).saturating_add(row)
    }
}
