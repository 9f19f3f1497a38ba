//! What the program makes of a workbook before anybody confirmed it: where the header stands, what the rows tell, which
//! column is which, how sure that is and why.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | w | `word_score` | how well the header's words stand for a field | of 1 | 1, 0.95, 0.45 to 0.85 | assumed |
//! | r | `reads` | cells of the column that read as the field | of 1 | counted | - |
//! | s | `ColumnUse::sure` | w (0.3 + 0.7 r), less where a unit is missing | of 1 | - | assumed |
//! | | `SURE_LEAST` | below it a column is not proposed | of 1 | 0.3 | assumed |
//! | | `DOUBTFUL_BELOW` | below it a column is told as doubtful | of 1 | 0.7 | assumed |

use std::collections::{BTreeMap, BTreeSet};

use outyard_trade::jobbook::JobBook;

use super::fields::{Field, Sort, Subject, word_score, words_of};
use super::grid::{Cell, Grid, GridRow, column_letters};
use super::read_cell::{reads_as_job, reads_as_kind};
use super::values::{
    Axis, Habits, Measure, Unit, day_habit, decimal_habit, plain_letters, read_clock_cell, read_day, read_degrees,
    read_moment, read_place, read_quantity, read_whole, read_yes_no, says_none,
};

/// Below this a column is not proposed; assumed.
const SURE_LEAST: f64 = 0.3;
/// Below this a column is told as doubtful; assumed.
pub const DOUBTFUL_BELOW: f64 = 0.7;
/// Rows looked through for a header; assumed.
const HEADER_WITHIN: usize = 40;
/// Cells looked at in a column; assumed.
const SAMPLE: usize = 400;
/// What a second header row must bring to be believed; assumed.
const SECOND_ROW_COSTS: f64 = 0.3;
/// What the name of a sheet adds to the subject it names; assumed.
const SHEET_NAME_ADDS: f64 = 0.6;
/// What is left of a subject's score when a column it needs is missing; assumed.
const LACKING_LEAVES: f64 = 0.3;

/// A column that stands for a field.
#[derive(Clone, Debug, PartialEq)]
pub struct ColumnUse {
    /// The column, counted from 0.
    pub column: usize,
    /// What stands over it.
    pub header: String,
    /// Its unit, for a quantity.
    pub unit: Option<&'static Unit>,
    /// True when degrees in it count to the west though they have no sign.
    pub west: bool,
    /// How sure that is, 0 to 1; 1 when a person said so.
    pub sure: f64,
    /// Why.
    pub why: String,
}

/// What is made of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetMapping {
    /// Its name.
    pub sheet: String,
    /// What its rows tell; `None` when it is left out.
    pub subject: Option<Subject>,
    /// Why it is left out, when it is.
    pub why_out: String,
    /// Lines of the header, first and last; the rows below it are taken in.
    pub header: (usize, usize),
    /// Last line taken in, when a person said so.
    pub last: Option<usize>,
    /// Decimal mark and order of day and month.
    pub habits: Habits,
    /// Column of each field.
    pub columns: BTreeMap<&'static str, ColumnUse>,
    /// Station or scale, for readings.
    pub source: String,
    /// Yard a scale stands in.
    pub yard: String,
    /// Where a station stands: degrees north and east, metres above the sea.
    pub station: Option<(f64, f64, f64)>,
    /// Columns with a header that stand for nothing: letters and header.
    pub passed_over: Vec<(String, String)>,
}

impl SheetMapping {
    /// A sheet that is left out.
    pub fn left_out(sheet: &str, why: impl Into<String>) -> Self {
        Self {
            sheet: sheet.to_owned(),
            subject: None,
            why_out: why.into(),
            header: (0, 0),
            last: None,
            habits: Habits::default(),
            columns: BTreeMap::new(),
            source: String::new(),
            yard: String::new(),
            station: None,
            passed_over: Vec::new(),
        }
    }

    /// The rows to be taken in.
    pub fn rows<'a>(&self, grid: &'a Grid) -> impl Iterator<Item = &'a GridRow> {
        let (header, last) = (self.header.1, self.last.unwrap_or(usize::MAX));
        grid.rows.iter().filter(move |row| row.line > header && row.line <= last)
    }
}

/// What is wanted of a proposal beyond the sheets themselves.
#[derive(Clone, Copy, Debug)]
pub struct Wishes<'a> {
    /// Only this sheet.
    pub sheet: Option<&'a str>,
    /// What the rows tell, when a person said so.
    pub subject: Option<Subject>,
    /// Decimal mark and order of days a person told.
    pub habits: Habits,
    /// The job book, to know jobs in cells.
    pub jobs: &'a JobBook,
}

/// Proposes what each sheet is.
pub fn propose(grids: &[Grid], wishes: &Wishes<'_>) -> Vec<SheetMapping> {
    grids.iter().map(|grid| propose_sheet(grid, wishes)).collect()
}

fn propose_sheet(grid: &Grid, wishes: &Wishes<'_>) -> SheetMapping {
    if wishes.sheet.is_some_and(|name| !name.eq_ignore_ascii_case(grid.name.trim())) {
        return SheetMapping::left_out(&grid.name, "another sheet was asked for");
    }
    if grid.hidden && wishes.sheet.is_none() {
        return SheetMapping::left_out(&grid.name, "it is hidden; name it with --sheet to take it in");
    }
    if grid.rows.is_empty() {
        return SheetMapping::left_out(&grid.name, "it is empty");
    }
    let found = find_header(grid).or_else(|| wishes.subject.and_then(|_| plain_header(grid)));
    let Some((first, last, headers)) = found else {
        return SheetMapping::left_out(&grid.name, "no row of it reads as a header");
    };
    let below: Vec<&GridRow> = grid.rows.iter().filter(|row| row.line > last).collect();
    let habits = habits_of(&below, wishes.habits);
    let subjects: Vec<Subject> = wishes.subject.map_or_else(|| Subject::ALL.to_vec(), |subject| vec![subject]);
    let best = subjects
        .into_iter()
        .map(|subject| {
            let columns = columns_of(subject, &headers, &below, habits, wishes.jobs);
            (score(subject, &columns, &grid.name), subject, columns)
        })
        .max_by(|left, right| left.0.total_cmp(&right.0));
    let Some((score, subject, columns)) = best else {
        return SheetMapping::left_out(&grid.name, "nothing was asked of it");
    };
    if wishes.subject.is_none() && (score < 1.0 || subject.lacks(|field| columns.contains_key(field)).is_some()) {
        let lacks = subject.lacks(|field| columns.contains_key(field)).unwrap_or("a field that is known");
        return SheetMapping {
            header: (first, last),
            ..SheetMapping::left_out(
                &grid.name,
                format!("it looks most like {}, but has no column for {lacks}", subject.code()),
            )
        };
    }
    let used: BTreeSet<usize> = columns.values().map(|column| column.column).collect();
    let passed_over = headers
        .iter()
        .filter(|(column, header)| !used.contains(column) && !header.said.is_empty())
        .map(|(column, header)| (column_letters(*column), header.said.clone()))
        .collect();
    SheetMapping {
        subject: Some(subject),
        why_out: String::new(),
        header: (first, last),
        habits,
        columns,
        source: if matches!(subject, Subject::Weather | Subject::Scale) { grid.name.clone() } else { String::new() },
        passed_over,
        ..SheetMapping::left_out(&grid.name, "")
    }
}

fn habits_of(below: &[&GridRow], told: Habits) -> Habits {
    let cells = || below.iter().flat_map(|row| row.cells.iter().map(|(_, cell)| cell));
    Habits {
        decimal: told.decimal.or_else(|| decimal_habit(cells())),
        dates: told.dates.or_else(|| day_habit(cells())),
    }
}

/// What stands over a column.
#[derive(Clone, Debug, Default)]
struct Header {
    /// As a page shows it.
    said: String,
    /// Words that may name the field: of the lower row, and of both.
    words: Vec<Vec<String>>,
}

type Headers = BTreeMap<usize, Header>;

fn headers_of(above: Option<&GridRow>, row: &GridRow) -> Headers {
    let mut headers = Headers::new();
    let mut over = String::new();
    let columns: BTreeSet<usize> =
        above.into_iter().chain([row]).flat_map(|row| row.cells.iter().map(|(column, _)| *column)).collect();
    for column in columns {
        let top = above.and_then(|row| row.cell(column)).map(Cell::text).unwrap_or_default();
        let low = row.cell(column).map(Cell::text).unwrap_or_default();
        if !top.is_empty() {
            over.clone_from(&top);
        }
        let said = match (low.is_empty(), over.is_empty()) {
            (true, _) => top,
            (false, true) => low.clone(),
            // One head merged over both rows.
            (false, false) if over == low => low.clone(),
            (false, false) => format!("{over} / {low}"),
        };
        let mut words = vec![words_of(if low.is_empty() { &said } else { &low })];
        if !low.is_empty() && !over.is_empty() {
            words.push(words_of(&format!("{over} {low}")));
        }
        headers.insert(column, Header { said: said.split_whitespace().collect::<Vec<_>>().join(" "), words });
    }
    headers
}

impl Header {
    fn score(&self, field: &Field) -> f64 {
        let units = |words: &[String]| -> Vec<String> {
            let Sort::Quantity(measure, ..) = field.sort else { return words.to_vec() };
            let kept: Vec<String> =
                words.iter().filter(|word| Unit::of_word(measure, word).is_none()).cloned().collect();
            if kept.is_empty() { words.to_vec() } else { kept }
        };
        self.words
            .iter()
            .map(|words| word_score(field, words).max(word_score(field, &units(words))))
            .fold(0.0, f64::max)
    }

    fn best_score(&self) -> f64 {
        Subject::ALL.iter().flat_map(|subject| subject.fields()).map(|field| self.score(field)).fold(0.0, f64::max)
    }
}

/// The header: its lines and what stands over each column. One row, or two where a group stands over several columns.
fn find_header(grid: &Grid) -> Option<(usize, usize, Headers)> {
    let mut best: Option<(f64, usize, usize, Headers)> = None;
    for (at, row) in grid.rows.iter().enumerate().take(HEADER_WITHIN) {
        let words_only = row.cells.iter().all(|(_, cell)| matches!(cell, Cell::Text(_)));
        if !words_only {
            continue;
        }
        let above = at.checked_sub(1).map(|above| &grid.rows[above]).filter(|above| {
            above.line + 1 == row.line && above.cells.iter().all(|(_, cell)| matches!(cell, Cell::Text(_)))
        });
        for above in [None, above].into_iter().take(1 + usize::from(above.is_some())) {
            let headers = headers_of(above, row);
            let known = headers.values().map(Header::best_score).filter(|score| *score >= 0.5);
            let costs = if above.is_some() { SECOND_ROW_COSTS } else { 0.0 };
            let score = known.clone().sum::<f64>() - costs;
            let enough = known.count() >= 2;
            if enough && best.as_ref().is_none_or(|(known, ..)| score > *known + 1e-9) {
                best = Some((score, above.map_or(row.line, |above| above.line), row.line, headers));
            }
        }
    }
    best.map(|(_, first, last, headers)| (first, last, headers))
}

/// Where somebody said what the rows are, the first row with more than one word in it is the header.
fn plain_header(grid: &Grid) -> Option<(usize, usize, Headers)> {
    let words = |row: &&GridRow| row.cells.iter().filter(|(_, cell)| matches!(cell, Cell::Text(_))).count() > 1;
    grid.rows.iter().take(HEADER_WITHIN).find(words).map(|row| (row.line, row.line, headers_of(None, row)))
}

fn score(subject: Subject, columns: &BTreeMap<&'static str, ColumnUse>, sheet: &str) -> f64 {
    let words = words_of(sheet);
    let named = words.iter().any(|word| subject.sheet_words().contains(&word.as_str()));
    let sum: f64 = columns.values().map(|column| column.sure).sum::<f64>() + if named { SHEET_NAME_ADDS } else { 0.0 };
    if subject.lacks(|field| columns.contains_key(field)).is_some() { sum * LACKING_LEAVES } else { sum }
}

fn columns_of(
    subject: Subject,
    headers: &Headers,
    below: &[&GridRow],
    habits: Habits,
    jobs: &JobBook,
) -> BTreeMap<&'static str, ColumnUse> {
    let mut offers: Vec<(f64, usize, usize, ColumnUse)> = Vec::new();
    for (column, header) in headers {
        let cells: Vec<&Cell> =
            below.iter().filter_map(|row| row.cell(*column)).filter(|cell| !says_none(cell)).take(SAMPLE).collect();
        for (order, field) in subject.fields().iter().enumerate() {
            let word = header.score(field);
            if let Some(offer) = offer(field, *column, header, word, &cells, habits, jobs) {
                offers.push((offer.sure, order, *column, offer));
            }
        }
    }
    offers.sort_by(|left, right| right.0.total_cmp(&left.0).then(left.1.cmp(&right.1)).then(left.2.cmp(&right.2)));
    let mut columns: BTreeMap<&'static str, ColumnUse> = BTreeMap::new();
    for (_, order, _, offer) in offers {
        let name = subject.fields()[order].name;
        if !columns.contains_key(name) && !columns.values().any(|known| known.column == offer.column) {
            columns.insert(name, offer);
        }
    }
    columns
}

fn offer(
    field: &Field,
    column: usize,
    header: &Header,
    word: f64,
    cells: &[&Cell],
    habits: Habits,
    jobs: &JobBook,
) -> Option<ColumnUse> {
    #[expect(clippy::cast_precision_loss, reason = "a few hundred cells")]
    let reads = if cells.is_empty() {
        0.4
    } else {
        cells.iter().filter(|cell| reads_as(field.sort, cell, habits, jobs)).count() as f64 / cells.len() as f64
    };
    let by_value_alone = matches!(field.sort, Sort::Kind | Sort::Job | Sort::Place) && reads > 0.9 && !cells.is_empty();
    let mut sure = if word > 0.0 {
        word * (0.3 + 0.7 * reads)
    } else if by_value_alone {
        0.5
    } else {
        0.0
    };
    let mut why = match () {
        () if word >= 1.0 => "the header is our own word".to_owned(),
        () if word >= 0.9 => "the header is a word for it".to_owned(),
        () if word > 0.0 => "the header holds a word for it".to_owned(),
        () => "by its values alone".to_owned(),
    };
    let read_count = format!("{:.0} % of its cells read as one", reads * 100.0);
    if cells.is_empty() {
        why.push_str("; it is empty");
    } else if reads < 0.995 {
        why.push_str("; ");
        why.push_str(&read_count);
    }
    let mut unit = None;
    if let Sort::Quantity(measure, ..) = field.sort {
        let (found, how) = unit_of(measure, field.name, &header.said, cells, habits);
        unit = Some(found);
        why.push_str(&format!("; {} {how}", found.code));
        if how == GUESSED {
            sure *= 0.7;
        }
    }
    let west = field.sort == Sort::East
        && words_of(&header.said).iter().any(|word| matches!(word.as_str(), "w" | "west" | "oeste" | "ouest"));
    if west {
        why.push_str("; its header says west");
    }
    (sure >= SURE_LEAST).then(|| ColumnUse { column, header: header.said.clone(), unit, west, sure, why })
}

const GUESSED: &str = "was guessed: no unit is told";

fn unit_of(
    measure: Measure,
    field: &str,
    header: &str,
    cells: &[&Cell],
    habits: Habits,
) -> (&'static Unit, &'static str) {
    if let Some(unit) = unit_in_header(measure, header) {
        return (unit, "by the header");
    }
    let mut numbers: Vec<f64> = Vec::new();
    let mut of_cells: Option<&'static Unit> = None;
    for cell in cells {
        let Ok((number, rest)) = read_quantity(cell, habits, false) else { continue };
        numbers.push(number);
        of_cells = of_cells.or_else(|| Unit::of_word(measure, &rest));
    }
    if let Some(unit) = of_cells {
        return (unit, "by the cells");
    }
    numbers.sort_by(f64::total_cmp);
    let middle = numbers.get(numbers.len() / 2).copied().unwrap_or(0.0);
    let last = numbers.last().copied().unwrap_or(0.0);
    let code = match measure {
        // Warmer at noon than air has ever been, or a night of a summer in Celsius that no bee would fly after.
        Measure::Temperature if middle > if field == "high" { 45.0 } else { 32.0 } => "F",
        Measure::Percent if last <= 1.0 => "share",
        Measure::Percent => return (Unit::ours(measure), "as such things are told"),
        Measure::Minutes if words_of(header).iter().any(|word| word.starts_with("min")) => {
            return (Unit::ours(measure), "by the header");
        }
        Measure::Minutes if last <= 14.0 => "h",
        _ => return (Unit::ours(measure), GUESSED),
    };
    (Unit::of_code(measure, code).expect("a unit of the table"), GUESSED)
}

/// The unit a header names: in brackets, behind a comma, or as a word of its own. A single letter must stand in brackets,
/// last, or behind a degree sign.
fn unit_in_header(measure: Measure, header: &str) -> Option<&'static Unit> {
    let plain = plain_letters(header).replace('_', " ").replace(" per ", "/");
    let marked: String = plain
        .chars()
        .map(|letter| if matches!(letter, '[' | '(' | ']' | ')' | ',' | ':' | ';') { ' ' } else { letter })
        .collect();
    let words: Vec<&str> = marked.split_whitespace().collect();
    words.iter().enumerate().rev().find_map(|(at, word)| {
        let lone = word.chars().filter(|letter| letter.is_alphabetic()).count() == 1 && !word.starts_with('°');
        let stands_apart =
            at + 1 == words.len() || plain.contains(&format!("({word})")) || plain.contains(&format!("[{word}]"));
        if lone && !(stands_apart && words.len() > 1) { None } else { Unit::of_word(measure, word) }
    })
}

fn reads_as(sort: Sort, cell: &Cell, habits: Habits, jobs: &JobBook) -> bool {
    // What is only ambiguous is of the right sort.
    let fine = |code: Option<&'static str>| code.is_none_or(|code| matches!(code, "IMP-010" | "IMP-012" | "IMP-014"));
    match sort {
        Sort::Name => matches!(cell, Cell::Text(_) | Cell::Number(_)) && cell.text().chars().count() <= 32,
        Sort::Words => !matches!(cell, Cell::Broken(_)),
        Sort::Count(most) => fine(read_whole(cell, habits, most).err().map(|trouble| trouble.code)),
        Sort::Quantity(..) => fine(read_quantity(cell, habits, false).err().map(|trouble| trouble.code)),
        Sort::Day => fine(read_day(cell, habits).err().map(|trouble| trouble.code)),
        Sort::Moment => fine(read_moment(cell, habits).err().map(|trouble| trouble.code)),
        Sort::Clock => read_clock_cell(cell).is_ok(),
        Sort::North => read_degrees(cell, Axis::North, false).is_ok(),
        Sort::East => read_degrees(cell, Axis::East, false).is_ok(),
        Sort::Place => read_place(cell).is_ok(),
        Sort::YesNo => read_yes_no(cell).is_ok(),
        Sort::Forage => crate::intake::yards_file::read_forage(&cell.text()).is_ok(),
        Sort::Kind => reads_as_kind(cell),
        Sort::Job => reads_as_job(cell, jobs),
    }
}
