//! A workbook of any make as plain cells, within bounds: zip bombs, torn files, locked ones and such that hold a few
//! cells at the ends of the earth are refused with what to do.

use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

use calamine::{
    Data, DataRef, ExcelDateTime, Ods, OdsError, Reader, Sheet, SheetType, SheetVisible, Xls, XlsError, Xlsx, XlsxError,
};
use jiff::civil::DateTime;
use outyard_app::intake::workbook::decode::grid_of_text;
use outyard_app::intake::workbook::grid::{Cell, Grid};
use outyard_base::{Note, Trouble};

use crate::bounds::{
    CELLS_MOST, FILE_BYTES_MOST, Packed, another_sort, check_ods, check_packed, locked, too_large, torn,
};

/// Rows a cell merged downwards is read into; assumed.
const MERGED_ROWS_MOST: u32 = 10_000;

/// Reads a workbook or a text table. What it is, its bytes say; its ending is not believed.
///
/// # Errors
/// `WBK-001` torn, `WBK-002` too large, `WBK-003` locked, `WBK-004` no table; for text those of
/// [`grid_of_text`].
pub fn read_workbook(file: &str, bytes: &[u8]) -> Result<(Vec<Grid>, Vec<Note>), Vec<Trouble>> {
    let sheets = match bytes {
        [b'P', b'K', 3 | 5, 4 | 6, ..] => packed(file, bytes),
        [0xd0, 0xcf, 0x11, 0xe0, ..] => old(file, bytes),
        [b'P', b'A', b'R', b'1', ..] => {
            Err(another_sort(file, "a column file; `outyard book in` reads those of outyard"))
        }
        [b'%', b'P', b'D', b'F', ..] => Err(another_sort(file, "a printed page (PDF)")),
        [b'{', ..] => Err(another_sort(file, "JSON; `outyard book in` reads entries")),
        _ => {
            let (grid, mut notes) = grid_of_text(file, bytes)?;
            let ending = file.rsplit('.').next().unwrap_or_default().to_lowercase();
            if matches!(ending.as_str(), "xlsx" | "ods" | "xls") {
                let note = format!("the file is called .{ending} but is a text table; it was read as that");
                notes.push(Note::new("IMP-110", note));
            }
            return Ok((vec![grid], notes));
        }
    };
    sheets.map(|sheets| (sheets, Vec::new())).map_err(|trouble| vec![trouble])
}

fn packed(file: &str, bytes: &[u8]) -> Result<Vec<Grid>, Trouble> {
    if bytes.len() > FILE_BYTES_MOST {
        return Err(too_large(file, format!("{} MiB", bytes.len() >> 20)));
    }
    match check_packed(file, bytes)? {
        Packed::Xlsx => guarded(file, || xlsx(file, bytes)),
        Packed::Ods => {
            check_ods(file, bytes)?;
            guarded(file, || ods(file, bytes))
        }
    }
}

/// A reader that trips over a torn file must not take the program down.
fn guarded<T>(file: &str, read: impl FnOnce() -> Result<T, Trouble>) -> Result<T, Trouble> {
    catch_unwind(AssertUnwindSafe(read)).unwrap_or_else(|_| Err(torn(file, "its parts do not fit together")))
}

fn hidden(sheet: &Sheet) -> bool {
    sheet.visible != SheetVisible::Visible
}

fn xlsx(file: &str, bytes: &[u8]) -> Result<Vec<Grid>, Trouble> {
    let bad = |error: XlsxError| match error {
        XlsxError::Password => locked(file),
        other => torn(file, other),
    };
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(bad)?;
    let sheets: Vec<Sheet> =
        book.sheets_metadata().iter().filter(|sheet| sheet.typ == SheetType::WorkSheet).cloned().collect();
    let mut grids = Vec::with_capacity(sheets.len());
    let mut count = 0;
    for sheet in sheets {
        let mut cells = Vec::new();
        let mut reader = book.worksheet_cells_reader(&sheet.name).map_err(bad)?;
        while let Some(cell) = reader.next_cell().map_err(bad)? {
            let (row, column) = cell.get_position();
            if let Some(value) = of_ref(cell.get_value()) {
                cells.push((row as usize, column as usize, value));
            }
            count += 1;
            if count > CELLS_MOST {
                return Err(too_large(file, format!("more than {CELLS_MOST} cells")));
            }
        }
        drop(reader);
        for region in book.merge_cells_by_sheet_name(&sheet.name).map_err(bad)? {
            fill_down(&mut cells, region.start, region.end);
        }
        if cells.len() > CELLS_MOST {
            return Err(too_large(file, format!("more than {CELLS_MOST} cells")));
        }
        grids.push(Grid::of(sheet.name.clone(), hidden(&sheet), cells));
    }
    Ok(grids)
}

/// Words and days merged over several rows hold for each of them; numbers do not, for they would be counted again.
fn fill_down(cells: &mut Vec<(usize, usize, Cell)>, start: (u32, u32), end: (u32, u32)) {
    let (rows, columns) = (end.0.saturating_sub(start.0), end.1.saturating_sub(start.1));
    if rows == 0 || columns > 0 || rows > MERGED_ROWS_MOST {
        return;
    }
    let (row, column) = (start.0 as usize, start.1 as usize);
    let first = cells.iter().find(|cell| (cell.0, cell.1) == (row, column)).map(|cell| cell.2.clone());
    if let Some(value @ (Cell::Text(_) | Cell::Moment(_))) = first {
        cells.extend((row + 1..=end.0 as usize).map(|row| (row, column, value.clone())));
    }
}

fn of_range(file: &str, sheet: &Sheet, range: &calamine::Range<Data>, count: &mut usize) -> Result<Grid, Trouble> {
    let (top, left) = range.start().unwrap_or((0, 0));
    let mut cells = Vec::new();
    for (row, column, value) in range.used_cells() {
        if let Some(cell) = of_data(value) {
            cells.push((row + top as usize, column + left as usize, cell));
        }
        *count += 1;
        if *count > CELLS_MOST {
            return Err(too_large(file, format!("more than {CELLS_MOST} cells")));
        }
    }
    Ok(Grid::of(sheet.name.clone(), hidden(sheet), cells))
}

fn ods(file: &str, bytes: &[u8]) -> Result<Vec<Grid>, Trouble> {
    let bad = |error: OdsError| match error {
        OdsError::Password => locked(file),
        other => torn(file, other),
    };
    let mut book: Ods<_> = Ods::new(Cursor::new(bytes)).map_err(bad)?;
    let sheets = book.sheets_metadata().to_vec();
    let mut count = 0;
    sheets
        .iter()
        .map(|sheet| {
            let range = book.worksheet_range(&sheet.name).map_err(bad)?;
            of_range(file, sheet, &range, &mut count)
        })
        .collect()
}

fn old(file: &str, bytes: &[u8]) -> Result<Vec<Grid>, Trouble> {
    if bytes.len() > FILE_BYTES_MOST {
        return Err(too_large(file, format!("{} MiB", bytes.len() >> 20)));
    }
    // A locked workbook of the newer make is wrapped into the older shell under this name.
    let wrapped: Vec<u8> = "EncryptedPackage".encode_utf16().flat_map(u16::to_le_bytes).collect();
    if bytes.windows(wrapped.len()).any(|part| part == wrapped) {
        return Err(locked(file));
    }
    crate::old::check_old(file, bytes)?;
    guarded(file, || {
        let bad = |error: XlsError| match error {
            XlsError::Password => locked(file),
            other => torn(file, other),
        };
        let mut book: Xls<_> = Xls::new(Cursor::new(bytes)).map_err(bad)?;
        let sheets: Vec<Sheet> =
            book.sheets_metadata().iter().filter(|sheet| sheet.typ == SheetType::WorkSheet).cloned().collect();
        let mut count = 0;
        sheets
            .iter()
            .map(|sheet| {
                let range = book.worksheet_range(&sheet.name).map_err(bad)?;
                of_range(file, sheet, &range, &mut count)
            })
            .collect()
    })
}

fn of_ref(value: &DataRef<'_>) -> Option<Cell> {
    match value {
        DataRef::SharedString(text) => Some(Cell::Text((*text).to_owned())),
        other => of_data(&Data::from(other.clone())),
    }
}

fn of_data(value: &Data) -> Option<Cell> {
    match value {
        Data::Empty => None,
        #[expect(clippy::cast_precision_loss, reason = "a number of a sheet")]
        Data::Int(number) => Some(Cell::Number(*number as f64)),
        Data::Float(number) if number.is_finite() => Some(Cell::Number(*number)),
        Data::Float(number) => Some(Cell::Broken(number.to_string())),
        Data::String(text) => Some(Cell::Text(text.clone())),
        Data::Bool(truth) => Some(Cell::Truth(*truth)),
        Data::DateTime(serial) => Some(of_serial(serial)),
        Data::DateTimeIso(text) => Some(of_iso(text)),
        Data::DurationIso(text) => Some(of_duration(text)),
        Data::Error(error) => Some(Cell::Broken(error.to_string())),
    }
}

fn of_serial(serial: &ExcelDateTime) -> Cell {
    let number = serial.as_f64();
    // A time of day alone, or a span of hours: a part of a day.
    if serial.is_duration() || !(1.0..2_958_466.0).contains(&number) {
        return Cell::Number(number);
    }
    let (year, month, day, hour, minute, second, _) = serial.to_ymd_hms_milli();
    let small = |part: u8| i8::try_from(part).unwrap_or(-1);
    let year = i16::try_from(year).unwrap_or(i16::MAX);
    DateTime::new(year, small(month), small(day), small(hour), small(minute), small(second), 0)
        .map_or(Cell::Number(number), Cell::Moment)
}

fn of_iso(text: &str) -> Cell {
    let moment = text.parse::<DateTime>().or_else(|_| text.parse::<jiff::civil::Date>().map(|day| day.at(0, 0, 0, 0)));
    moment.map_or_else(|_| Cell::Text(text.to_owned()), Cell::Moment)
}

/// `PT05H40M00S` as a part of a day.
fn of_duration(text: &str) -> Cell {
    match text.parse::<jiff::Span>().ok().and_then(|span| span.total(jiff::Unit::Second).ok()) {
        Some(seconds) => Cell::Number(seconds / 86_400.0),
        None => Cell::Text(text.to_owned()),
    }
}
