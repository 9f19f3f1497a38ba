//! A workbook as plain cells: what every reader of a sheet hands over, whatever the file was.

use jiff::civil::DateTime;

/// What stands in a cell. An empty cell is not kept.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Words, as they stand.
    Text(String),
    /// A number; of a formula, what it last came to.
    Number(f64),
    /// A day, or a day and a time.
    Moment(DateTime),
    /// Yes or no.
    Truth(bool),
    /// A formula that came to nothing, as the sheet shows it: `#REF!`.
    Broken(String),
}

impl Cell {
    /// The cell as words, as a person reads it.
    pub fn text(&self) -> String {
        match self {
            Self::Text(text) => text.trim().to_owned(),
            Self::Number(number) => number.to_string(),
            Self::Moment(at) if at.time() == jiff::civil::Time::midnight() => at.date().to_string(),
            Self::Moment(at) => at.to_string(),
            Self::Truth(true) => "yes".to_owned(),
            Self::Truth(false) => "no".to_owned(),
            Self::Broken(sign) => sign.clone(),
        }
    }
}

/// A row with something in it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GridRow {
    /// Its number in the sheet, from 1.
    pub line: usize,
    /// Cells by column, counted from 0, in that order; empty ones left out.
    pub cells: Vec<(usize, Cell)>,
}

impl GridRow {
    /// The cell of a column.
    pub fn cell(&self, column: usize) -> Option<&Cell> {
        self.cells.binary_search_by_key(&column, |(at, _)| *at).ok().map(|at| &self.cells[at].1)
    }
}

/// One sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    /// Its name; empty for a text file, which has one sheet and no name for it.
    pub name: String,
    /// True when the workbook does not show it.
    pub hidden: bool,
    /// Rows with something in them, in order.
    pub rows: Vec<GridRow>,
}

impl Grid {
    /// Puts a sheet together from cells in any order; what is blank is left out.
    pub fn of(name: impl Into<String>, hidden: bool, mut cells: Vec<(usize, usize, Cell)>) -> Self {
        cells.retain(|(_, _, cell)| !matches!(cell, Cell::Text(text) if text.trim().is_empty()));
        cells.sort_by_key(|(row, column, _)| (*row, *column));
        cells.dedup_by_key(|(row, column, _)| (*row, *column));
        let mut rows: Vec<GridRow> = Vec::new();
        for (row, column, cell) in cells {
            let line = row + 1;
            match rows.last_mut() {
                Some(last) if last.line == line => last.cells.push((column, cell)),
                _ => rows.push(GridRow { line, cells: vec![(column, cell)] }),
            }
        }
        Self { name: name.into(), hidden, rows }
    }

    /// One more than the last column with something in it.
    pub fn width(&self) -> usize {
        self.rows.iter().filter_map(|row| row.cells.last()).map(|(column, _)| column + 1).max().unwrap_or(0)
    }
}

/// The letters a sheet puts over a column counted from 0: `A`, `Z`, `AA`.
pub fn column_letters(column: usize) -> String {
    let mut letters = Vec::new();
    let mut rest = column + 1;
    while rest > 0 {
        letters.push(char::from(b'A' + u8::try_from((rest - 1) % 26).expect("below 26")));
        rest = (rest - 1) / 26;
    }
    letters.iter().rev().collect()
}

/// The column of such letters; `None` when they are no column's.
pub fn column_of(letters: &str) -> Option<usize> {
    let known = (1..=3).contains(&letters.len()) && letters.bytes().all(|letter| letter.is_ascii_alphabetic());
    known.then(|| {
        letters.bytes().fold(0, |column, letter| column * 26 + usize::from(letter.to_ascii_uppercase() - b'A') + 1) - 1
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_of_columns_read_back() {
        for (column, letters) in [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA"), (16_383, "XFD")] {
            assert_eq!(column_letters(column), letters);
            assert_eq!(column_of(&letters.to_lowercase()), Some(column));
        }
        assert_eq!((column_of(""), column_of("A1"), column_of("WORD")), (None, None, None));
    }

    #[test]
    fn cells_come_in_any_order_and_blanks_fall_out() {
        let text = |text: &str| Cell::Text(text.to_owned());
        let grid = Grid::of("Yards", false, vec![(4, 1, text("b")), (0, 2, text("  ")), (4, 0, text(" a "))]);
        assert_eq!((grid.rows.len(), grid.rows[0].line, grid.width()), (1, 5, 2));
        assert_eq!(grid.rows[0].cell(0).map(Cell::text).as_deref(), Some("a"));
        assert_eq!(grid.rows[0].cell(2), None);
    }
}
