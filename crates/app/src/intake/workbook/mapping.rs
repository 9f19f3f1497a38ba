//! A mapping as a file: written by a dry run, changed by a person, given back.

use std::collections::BTreeMap;

use outyard_base::Trouble;
use outyard_base::trouble::Spot;
use serde::Deserialize;

use super::fields::{Sort, Subject};
use super::grid::{Grid, column_letters, column_of};
use super::propose::{ColumnUse, SheetMapping};
use super::values::{DayOrder, Decimal, Habits, Unit};
use crate::intake::text::line_and_column;

/// Word for west in a mapping.
const WEST: &str = "west";

impl DayOrder {
    /// The word in a mapping.
    pub const fn code(self) -> &'static str {
        match self {
            Self::DayFirst => "day-first",
            Self::MonthFirst => "month-first",
        }
    }

    /// Reads the word.
    pub fn read(word: &str) -> Option<Self> {
        [Self::DayFirst, Self::MonthFirst].into_iter().find(|order| order.code() == word.trim())
    }
}

impl Decimal {
    /// The word in a mapping.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Point => "point",
            Self::Comma => "comma",
        }
    }

    /// Reads the word.
    pub fn read(word: &str) -> Option<Self> {
        [Self::Point, Self::Comma].into_iter().find(|mark| mark.code() == word.trim())
    }
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// A remark behind a line: it must stay on it.
fn remark(text: &str) -> String {
    text.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).take(90).collect()
}

/// The mapping as a text to be looked through and given back.
pub fn write_mapping(file: &str, sheets: &[SheetMapping]) -> String {
    let mut out = format!(
        "# What outyard makes of {}. Put right what is wrong and give it back:\n\
         #   outyard import FILE --mapping THIS-FILE\n\
         # A column is its letters, for a quantity with the unit: \"C lb\". Take a line out to leave a column out.\n\
         # what = yards, counts, tallies, weather, scale, or nothing\n",
        remark(file)
    );
    for sheet in sheets {
        out.push_str(&format!("\n[[sheet]]\nname = {}\n", quoted(&sheet.sheet)));
        let Some(subject) = sheet.subject else {
            out.push_str(&format!("what = \"nothing\"  # {}\n", remark(&sheet.why_out)));
            continue;
        };
        out.push_str(&format!("what = \"{}\"\n", subject.code()));
        out.push_str(&format!("header = [{}, {}]  # first and last line of it\n", sheet.header.0, sheet.header.1));
        match sheet.last {
            Some(last) => out.push_str(&format!("last = {last}\n")),
            None => out.push_str("# last = 60  # last line taken in, when not the end of the sheet\n"),
        }
        match sheet.habits.dates {
            Some(order) => out.push_str(&format!("dates = \"{}\"\n", order.code())),
            None => out.push_str("# dates = \"day-first\"  # or \"month-first\", where 3/7/2026 could be either\n"),
        }
        match sheet.habits.decimal {
            Some(mark) => out.push_str(&format!("decimal = \"{}\"\n", mark.code())),
            None => out.push_str("# decimal = \"point\"  # or \"comma\", where 1,200 could be either\n"),
        }
        if matches!(subject, Subject::Weather | Subject::Scale) {
            out.push_str(&format!("source = {}  # name of the station or the scale\n", quoted(&sheet.source)));
        }
        if subject == Subject::Scale {
            out.push_str(&format!("yard = {}  # yard the scale stands in\n", quoted(&sheet.yard)));
        }
        if subject == Subject::Weather {
            match sheet.station {
                Some((north, east, metres)) => out.push_str(&format!("station = [{north:?}, {east:?}, {metres:?}]\n")),
                None => {
                    out.push_str("# station = [47.5, -99.1, 480.0]  # degrees north and east, metres above the sea\n");
                }
            }
        }
        out.push_str("[sheet.columns]\n");
        for (field, column) in &sheet.columns {
            let mut place = column_letters(column.column);
            if let Some(unit) = column.unit {
                place.push(' ');
                place.push_str(unit.code);
            }
            if column.west {
                place.push(' ');
                place.push_str(WEST);
            }
            let line = format!("{field} = {}", quoted(&place));
            out.push_str(&format!(
                "{line:<24} # {}: {:.0} %, {}\n",
                remark(&column.header),
                column.sure * 100.0,
                remark(&column.why)
            ));
        }
        for (letters, header) in &sheet.passed_over {
            out.push_str(&format!("# passed over: {letters} {}\n", remark(header)));
        }
    }
    out
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    sheet: Vec<SheetText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SheetText {
    name: String,
    what: String,
    header: Option<[usize; 2]>,
    last: Option<usize>,
    dates: Option<String>,
    decimal: Option<String>,
    #[serde(default)]
    source: String,
    #[serde(default)]
    yard: String,
    station: Option<[f64; 3]>,
    #[serde(default)]
    columns: BTreeMap<String, String>,
}

fn bad(file: &str, cause: String, remedy: &str) -> Trouble {
    Trouble::new("IMP-002", cause, remedy).at(Spot::file(file))
}

/// Reads a mapping a person gave back, and holds it against the sheets.
///
/// # Errors
/// `IMP-001` no mapping at all, `IMP-002` what it says cannot be, all at once.
pub fn read_mapping(file: &str, text: &str, grids: &[Grid]) -> Result<Vec<SheetMapping>, Vec<Trouble>> {
    let told: FileText = toml::from_str(text).map_err(|error| {
        let at = error.span().map_or(0, |span| span.start);
        let (line, column) = line_and_column(text, at);
        vec![
            Trouble::new(
                "IMP-001",
                format!("the mapping cannot be read: {}", error.message()),
                "begin with a mapping of a dry run (--dry-run --mapping-to FILE) and change only what is wrong",
            )
            .at(Spot::file(file).line(line).column(column.to_string())),
        ]
    })?;
    let mut faults = Vec::new();
    let mut sheets = Vec::new();
    for sheet in told.sheet {
        let Some(grid) = grids.iter().find(|grid| grid.name == sheet.name) else {
            faults.push(bad(file, format!("there is no sheet \"{}\"", sheet.name), "name the sheets as the file does"));
            continue;
        };
        sheets.push(sheet.checked(file, grid, &mut faults));
    }
    for grid in grids {
        if !sheets.iter().any(|sheet: &SheetMapping| sheet.sheet == grid.name) {
            sheets.push(SheetMapping::left_out(&grid.name, "the mapping does not name it"));
        }
    }
    if faults.is_empty() { Ok(sheets) } else { Err(faults) }
}

impl SheetText {
    fn checked(self, file: &str, grid: &Grid, faults: &mut Vec<Trouble>) -> SheetMapping {
        let mut mapping = SheetMapping::left_out(&self.name, "the mapping leaves it out");
        if self.what.trim() == "nothing" {
            return mapping;
        }
        let name = &self.name;
        let Some(subject) = Subject::read(&self.what) else {
            faults.push(bad(
                file,
                format!("sheet {name}: \"{}\" is nothing a sheet can hold", self.what),
                "write yards, counts, tallies, weather, scale or nothing",
            ));
            return mapping;
        };
        let [first, last] = self.header.unwrap_or([0, 0]);
        mapping.subject = Some(subject);
        mapping.why_out = String::new();
        mapping.header = (first, last.max(first));
        mapping.last = self.last;
        mapping.source = if self.source.trim().is_empty() { name.clone() } else { self.source.trim().to_owned() };
        self.yard.trim().clone_into(&mut mapping.yard);
        mapping.station = self.station.map(|[north, east, metres]| (north, east, metres));
        if let Some(word) = &self.dates {
            mapping.habits.dates = DayOrder::read(word);
            if mapping.habits.dates.is_none() {
                faults.push(bad(file, format!("sheet {name}: dates = \"{word}\""), "write day-first or month-first"));
            }
        }
        if let Some(word) = &self.decimal {
            mapping.habits.decimal = Decimal::read(word);
            if mapping.habits.decimal.is_none() {
                faults.push(bad(file, format!("sheet {name}: decimal = \"{word}\""), "write point or comma"));
            }
        }
        for (field, place) in &self.columns {
            if let Some(column) = column_told(file, grid, subject, field, place, mapping.header.1, faults) {
                mapping.columns.insert(column.0, column.1);
            }
        }
        if let Some(lacks) = subject.lacks(|field| mapping.columns.contains_key(field)) {
            faults.push(bad(
                file,
                format!("sheet {name}: {} need a column for {lacks}", subject.code()),
                "add a line for it under [sheet.columns], or write what = \"nothing\"",
            ));
        }
        mapping
    }
}

/// What stands over a column, in the last line of its header or above.
fn header_over(grid: &Grid, column: usize, header: usize) -> String {
    let rows = grid.rows.iter().rev().filter(|row| row.line <= header);
    rows.filter_map(|row| row.cell(column)).map(super::grid::Cell::text).next().unwrap_or_default()
}

fn column_told(
    file: &str,
    grid: &Grid,
    subject: Subject,
    field: &str,
    place: &str,
    header: usize,
    faults: &mut Vec<Trouble>,
) -> Option<(&'static str, ColumnUse)> {
    let Some(known) = subject.field(field) else {
        let names: Vec<&str> = subject.fields().iter().map(|field| field.name).collect();
        faults.push(bad(
            file,
            format!("{} have no field \"{field}\"", subject.code()),
            &format!("the fields are: {}", names.join(", ")),
        ));
        return None;
    };
    let (letters, rest) = place.trim().split_once(' ').unwrap_or((place.trim(), ""));
    let Some(column) = column_of(letters).filter(|column| *column < grid.width()) else {
        faults.push(bad(
            file,
            format!("{field} = \"{place}\" names no column of the sheet"),
            "write the letters the sheet puts over the column, such as C, with a unit behind them if it has one",
        ));
        return None;
    };
    let mut told = ColumnUse {
        column,
        header: header_over(grid, column, header),
        unit: None,
        west: false,
        sure: 1.0,
        why: "you said so".to_owned(),
    };
    match known.sort {
        Sort::Quantity(measure, ..) => {
            let unit = if rest.trim().is_empty() { Some(Unit::ours(measure)) } else { Unit::of_code(measure, rest) };
            if unit.is_none() {
                faults.push(bad(file, format!("{field}: \"{rest}\" is no unit of it"), &units_said(measure)));
            }
            told.unit = unit;
        }
        Sort::East if rest.trim() == WEST => told.west = true,
        _ if rest.trim().is_empty() => {}
        _ => faults.push(bad(file, format!("{field} has no unit, and \"{rest}\" is none"), "write its letters alone")),
    }
    Some((known.name, told))
}

fn units_said(measure: super::values::Measure) -> String {
    let codes: Vec<&str> =
        super::values::UNITS.iter().filter(|unit| unit.measure == measure).map(|unit| unit.code).collect();
    format!("its units are: {}", codes.join(", "))
}

/// Lays a choice of the command line over what is proposed: `field=column`, the column by its header or letters, with a
/// sheet before it where several have the field (`Yards:yard=Apiary`), and a unit behind it (`weight=Gross lb`).
///
/// # Errors
/// `IMP-003`.
pub fn lay_over(choice: &str, grids: &[Grid], sheets: &mut [SheetMapping]) -> Result<(), Trouble> {
    let form = |cause: String| {
        Trouble::new("IMP-003", cause, "write it as field=column, such as yard=Apiary, weight=\"C lb\" or Yards:yard=B")
    };
    let (ours, theirs) = choice
        .split_once('=')
        .ok_or_else(|| form(format!("\"{choice}\" does not say which column stands for which")))?;
    let (sheet, field) = ours.rsplit_once(':').map_or((None, ours), |(sheet, field)| (Some(sheet.trim()), field));
    let mut placed = false;
    for mapping in sheets.iter_mut().filter(|mapping| sheet.is_none_or(|name| mapping.sheet == name)) {
        let Some(subject) = mapping.subject else { continue };
        let Some(known) = subject.field(field) else { continue };
        let Some(grid) = grids.iter().find(|grid| grid.name == mapping.sheet) else { continue };
        let (place, unit) = find_column(grid, mapping.header.1, theirs.trim(), known.sort);
        let Some(place) = place else { continue };
        let mut faults = Vec::new();
        let told = format!("{} {unit}", column_letters(place));
        if let Some((name, column)) =
            column_told("--map", grid, subject, known.name, told.trim(), mapping.header.1, &mut faults)
        {
            mapping.columns.retain(|_, known| known.column != place);
            mapping.columns.insert(name, column);
            placed = true;
        }
        if let Some(fault) = faults.pop() {
            return Err(fault);
        }
    }
    if placed {
        Ok(())
    } else {
        Err(form(format!(
            "no sheet that is taken in has a field \"{}\" and a column \"{}\"",
            field.trim(),
            theirs.trim()
        )))
    }
}

/// The column a person named by its header or its letters, and the unit behind it.
fn find_column<'a>(grid: &Grid, header: usize, theirs: &'a str, sort: Sort) -> (Option<usize>, &'a str) {
    let by_header =
        |wanted: &str| (0..grid.width()).find(|column| header_over(grid, *column, header).eq_ignore_ascii_case(wanted));
    if let Some(column) = by_header(theirs) {
        let unit = if let Sort::Quantity(measure, ..) = sort {
            let over = super::values::plain_letters(&header_over(grid, column, header));
            over.split(|letter: char| !(letter.is_alphanumeric() || matches!(letter, '/' | '%' | '°')))
                .rev()
                .find_map(|word| Unit::of_word(measure, word))
                .map_or("", |unit| unit.code)
        } else {
            ""
        };
        return (Some(column), unit);
    }
    let (front, unit) = theirs.rsplit_once(' ').unwrap_or((theirs, ""));
    let named = by_header(front).or_else(|| column_of(front)).or_else(|| column_of(theirs));
    (named.filter(|column| *column < grid.width()), unit)
}

/// Lays told habits over every sheet.
pub fn lay_habits(habits: Habits, sheets: &mut [SheetMapping]) {
    for sheet in sheets {
        sheet.habits.dates = habits.dates.or(sheet.habits.dates);
        sheet.habits.decimal = habits.decimal.or(sheet.habits.decimal);
    }
}

#[cfg(test)]
mod tests {
    use super::super::grid::Cell;
    use super::super::propose::{Wishes, propose};
    use super::*;
    use outyard_trade::jobbook::JobBook;

    fn grid(rows: &[&[&str]]) -> Grid {
        let cells = rows.iter().enumerate().flat_map(|(row, cells)| {
            cells.iter().enumerate().map(move |(column, text)| (row, column, Cell::Text((*text).to_owned())))
        });
        Grid::of("Yards", false, cells.collect())
    }

    fn proposed(grids: &[Grid]) -> Vec<SheetMapping> {
        let jobs = JobBook::standard();
        propose(grids, &Wishes { sheet: None, subject: None, habits: Habits::default(), jobs: &jobs })
    }

    const ROWS: &[&[&str]] = &[
        &["Bees of the year"],
        &["Apiary", "Lat", "Long (W)", "Altitude ft", "", "Colonies", ""],
        &["", "", "", "", "Owner", "Doubles", "Nucs"],
        &["7", "47.5", "99.2", "1550", "", "26", "6"],
        &["8", "47.6", "99.3", "1,600", "mill", "30", ""],
    ];

    #[test]
    fn a_proposal_reads_back_from_its_own_file() {
        let grids = [grid(ROWS)];
        let sheets = proposed(&grids);
        let columns: Vec<(&str, usize)> =
            sheets[0].columns.iter().map(|(field, column)| (*field, column.column)).collect();
        assert_eq!(
            columns,
            [
                ("doubles", 5),
                ("elevation", 3),
                ("landowner", 4),
                ("latitude", 1),
                ("longitude", 2),
                ("splits", 6),
                ("yard", 0)
            ]
        );
        assert_eq!((sheets[0].header, sheets[0].columns["elevation"].unit.unwrap().code), ((2, 3), "ft"));
        assert!(sheets[0].columns["longitude"].west);
        let text = write_mapping("year.xlsx", &sheets);
        let mut back = read_mapping("m.toml", &text, &grids).unwrap();
        for (mine, theirs) in back[0].columns.iter().zip(&sheets[0].columns) {
            assert_eq!(
                (mine.0, mine.1.column, mine.1.unit, mine.1.west),
                (theirs.0, theirs.1.column, theirs.1.unit, theirs.1.west)
            );
        }
        assert_eq!((back[0].subject, back[0].header), (sheets[0].subject, sheets[0].header));
        lay_over("group=Owner", &grids, &mut back).unwrap();
        assert_eq!(back[0].columns.get("landowner"), None);
        assert_eq!(back[0].columns["group"].column, 4);
        lay_over("Yards:elevation=D m", &grids, &mut back).unwrap();
        assert_eq!(back[0].columns["elevation"].unit.unwrap().code, "m");
    }

    #[test]
    fn what_a_mapping_cannot_say_is_refused() {
        let grids = [grid(ROWS)];
        let told = |what: &str| {
            let text = format!("[[sheet]]\nname = \"Yards\"\nwhat = \"yards\"\nheader = [2, 3]\n{what}");
            read_mapping("m.toml", &text, &grids)
                .map_err(|faults| faults.iter().map(|fault| fault.code).collect::<Vec<_>>())
        };
        let good = "[sheet.columns]\nyard = \"A\"\nlatitude = \"B\"\nlongitude = \"C west\"\n";
        assert!(told(good).is_ok());
        assert_eq!(told(&format!("{good}honey = \"D\"\n")), Err(vec!["IMP-002"]));
        assert_eq!(told(&format!("{good}elevation = \"D stone\"\n")), Err(vec!["IMP-002"]));
        assert_eq!(told(&format!("{good}elevation = \"ZZ\"\n")), Err(vec!["IMP-002"]));
        assert_eq!(told("[sheet.columns]\nyard = \"A\"\n"), Err(vec!["IMP-002"]));
        assert_eq!(told(&format!("dates = \"us\"\n{good}")), Err(vec!["IMP-002"]));
        assert_eq!(told("columns = 7\n"), Err(vec!["IMP-001"]));
        let mut sheets = proposed(&grids);
        for choice in ["yard", "honey=A", "yard=Nowhere", "Other:yard=A"] {
            assert_eq!(lay_over(choice, &grids, &mut sheets).unwrap_err().code, "IMP-003", "{choice}");
        }
    }
}
