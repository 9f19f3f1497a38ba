//! A table as the office keeps it: one header row, columns found by name, every fault told with file, line and column.

use std::collections::BTreeMap;

use outyard_base::Trouble;
use outyard_base::trouble::Spot;

/// Most faults told in one pass; past that the file is plainly another one.
pub const MOST_FAULTS_TOLD: usize = 200;

/// A column a table may or must have.
#[derive(Clone, Copy, Debug)]
pub struct ColumnRule {
    /// Our own name of the column, unit last.
    pub name: &'static str,
    /// What stands in it.
    pub meaning: &'static str,
    /// Whether the table is useless without it.
    pub needed: bool,
}

/// A read table. Columns are reached by our own names, whatever the file calls them.
#[derive(Clone, Debug)]
pub struct Table {
    file: String,
    headers: BTreeMap<&'static str, (usize, String)>,
    rows: Vec<(usize, csv::StringRecord)>,
}

/// One row of a [`Table`].
#[derive(Clone, Copy, Debug)]
pub struct Row<'a> {
    table: &'a Table,
    index: usize,
}

/// Which of the file's own headers stands for which of our columns: `("high_c", "tmax_c")`.
pub type ColumnMap = BTreeMap<String, String>;

/// Reads a mapping written as `ours=theirs`.
///
/// # Errors
/// `TAB-001` when there is no `=` or a side of it is empty.
pub fn read_column_choice(text: &str) -> Result<(String, String), Trouble> {
    match text.split_once('=') {
        Some((ours, theirs)) if !ours.trim().is_empty() && !theirs.trim().is_empty() => {
            Ok((ours.trim().to_owned(), theirs.trim().to_owned()))
        }
        _ => Err(Trouble::new(
            "TAB-001",
            format!("\"{text}\" does not say which column stands for which"),
            "write it as ours=theirs, such as high_c=tmax_c",
        )),
    }
}

impl Table {
    /// Reads a comma, semicolon or tab separated text with a header row.
    ///
    /// # Errors
    /// All faults found in the shape of the table: `TAB-002` a needed column is missing, `TAB-003` a header twice,
    /// `TAB-004` a row with another number of fields, `TAB-005` no rows, `TAB-006` a mapping that names no column.
    pub fn read(file: &str, text: &str, rules: &[ColumnRule], map: &ColumnMap) -> Result<Self, Vec<Trouble>> {
        let first_line = text.lines().next().unwrap_or_default();
        let separator = [b',', b';', b'\t']
            .into_iter()
            .max_by_key(|&mark| (first_line.bytes().filter(|&byte| byte == mark).count(), mark == b','))
            .unwrap_or(b',');
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(separator)
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let mut faults = Vec::new();
        let headers = match reader.headers() {
            Ok(headers) => headers.clone(),
            Err(error) => return Err(vec![shape_fault(file, &error)]),
        };
        let found = find_columns(file, &headers, rules, map, &mut faults);
        let mut rows = Vec::new();
        for record in reader.records() {
            match record {
                Ok(record) => {
                    let line = record.position().map_or(0, |at| usize::try_from(at.line()).unwrap_or(usize::MAX));
                    if record.iter().all(str::is_empty) {
                        continue;
                    }
                    if record.len() != headers.len() {
                        faults.push(
                            Trouble::new(
                                "TAB-004",
                                format!("the row has {} fields, the header {}", record.len(), headers.len()),
                                "see whether a field holds the separator: then put it in double quotes",
                            )
                            .at(Spot::file(file).line(line)),
                        );
                    }
                    rows.push((line, record));
                }
                Err(error) => faults.push(shape_fault(file, &error)),
            }
            if faults.len() >= MOST_FAULTS_TOLD {
                break;
            }
        }
        if rows.is_empty() && faults.is_empty() {
            faults.push(
                Trouble::new("TAB-005", "the table has a header but no rows", "see whether the right sheet was saved")
                    .at(Spot::file(file)),
            );
        }
        if faults.is_empty() { Ok(Self { file: file.to_owned(), headers: found, rows }) } else { Err(faults) }
    }

    /// The rows in the order of the file.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        (0..self.rows.len()).map(|index| Row { table: self, index })
    }

    /// How many rows there are.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// True when there is no row.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Whether the file has a column of this name of ours.
    pub fn has(&self, name: &str) -> bool {
        self.headers.contains_key(name)
    }

    /// The header the file itself uses for one of our columns.
    pub fn header_of(&self, name: &str) -> Option<&str> {
        self.headers.get(name).map(|(_, header)| header.as_str())
    }
}

fn shape_fault(file: &str, error: &csv::Error) -> Trouble {
    let line = error.position().map_or(1, |at| usize::try_from(at.line()).unwrap_or(usize::MAX));
    Trouble::new("TAB-004", format!("the row cannot be read: {error}"), "open the file in a text editor at that line")
        .at(Spot::file(file).line(line))
}

fn find_columns(
    file: &str,
    headers: &csv::StringRecord,
    rules: &[ColumnRule],
    map: &ColumnMap,
    faults: &mut Vec<Trouble>,
) -> BTreeMap<&'static str, (usize, String)> {
    for ours in map.keys() {
        if !rules.iter().any(|rule| rule.name == ours) {
            let names: Vec<&str> = rules.iter().map(|rule| rule.name).collect();
            faults.push(Trouble::new(
                "TAB-006",
                format!("this table has no column called {ours}"),
                format!("the columns are: {}", names.join(", ")),
            ));
        }
    }
    let mut found = BTreeMap::new();
    for rule in rules {
        let wanted = map.get(rule.name).map_or(rule.name, String::as_str);
        let places: Vec<usize> =
            (0..headers.len()).filter(|&at| headers[at].eq_ignore_ascii_case(wanted.trim())).collect();
        match places.as_slice() {
            [] if rule.needed || map.contains_key(rule.name) => {
                let present: Vec<&str> = headers.iter().take(30).collect();
                faults.push(
                    Trouble::new(
                        "TAB-002",
                        format!("there is no column {wanted} ({})", rule.meaning),
                        format!(
                            "the file has: {}; say which one it is with --column {}=NAME",
                            present.join(", "),
                            rule.name
                        ),
                    )
                    .at(Spot::file(file).line(1)),
                );
            }
            [] => {}
            [at] => {
                found.insert(rule.name, (*at, headers[*at].to_owned()));
            }
            _ => faults.push(
                Trouble::new(
                    "TAB-003",
                    format!("the header names {wanted} {} times", places.len()),
                    "keep one of them, or rename the others",
                )
                .at(Spot::file(file).line(1)),
            ),
        }
    }
    found
}

impl<'a> Row<'a> {
    /// Line in the file, from 1.
    pub fn line(&self) -> usize {
        self.table.rows[self.index].0
    }

    /// The text of a cell; `None` when the column is absent or the cell empty.
    pub fn text(&self, name: &str) -> Option<&'a str> {
        let (at, _) = self.table.headers.get(name)?;
        self.table.rows[self.index].1.get(*at).filter(|text| !text.is_empty())
    }

    /// Whether the file has a column of this name of ours.
    pub fn has_column(&self, name: &str) -> bool {
        self.table.has(name)
    }

    /// Where a cell stands, for a fault about it.
    pub fn spot(&self, name: &str) -> Spot {
        let header = self.table.header_of(name).unwrap_or(name);
        Spot::file(&self.table.file).line(self.line()).column(header)
    }

    /// The text of a cell that must not be empty.
    ///
    /// # Errors
    /// `TAB-007`.
    pub fn needed(&self, name: &str) -> Result<&'a str, Trouble> {
        self.text(name).ok_or_else(|| {
            Trouble::new("TAB-007", "the field is empty", "fill it in, or leave the whole row out").at(self.spot(name))
        })
    }

    /// Reads a cell with a reader of ours; its trouble gets this cell's place.
    ///
    /// # Errors
    /// `TAB-007` when empty; else the reader's own.
    pub fn read<T>(&self, name: &str, reader: impl FnOnce(&str) -> Result<T, Trouble>) -> Result<T, Trouble> {
        reader(self.needed(name)?).map_err(|trouble| trouble.at(self.spot(name)))
    }

    /// As [`Row::read`], with an empty cell or absent column as `None`.
    ///
    /// # Errors
    /// The reader's own.
    pub fn read_if_any<T>(
        &self,
        name: &str,
        reader: impl FnOnce(&str) -> Result<T, Trouble>,
    ) -> Result<Option<T>, Trouble> {
        self.text(name).map(|text| reader(text).map_err(|trouble| trouble.at(self.spot(name)))).transpose()
    }
}

/// Reads a decimal number with a point (or a comma when that is the only mark in it).
///
/// # Errors
/// `TAB-008` when it is no number or not finite.
pub fn read_number(text: &str) -> Result<f64, Trouble> {
    let plain = text.trim();
    let pointed = if plain.matches(',').count() == 1 && !plain.contains('.') {
        plain.replace(',', ".")
    } else {
        plain.to_owned()
    };
    let looks_plain =
        pointed.chars().all(|letter| letter.is_ascii_digit() || matches!(letter, '+' | '-' | '.' | 'e' | 'E'));
    match pointed.parse::<f64>() {
        Ok(number) if number.is_finite() && looks_plain => Ok(number),
        _ => Err(Trouble::new(
            "TAB-008",
            format!("\"{}\" is no number", plain.chars().take(40).collect::<String>()),
            "write a plain number with no unit in the field; the unit is in the column's name",
        )),
    }
}

/// Reads a count of things: a whole number, 0 or more.
///
/// # Errors
/// `TAB-009`.
pub fn read_count(text: &str) -> Result<u32, Trouble> {
    text.trim().parse::<u32>().map_err(|_| {
        Trouble::new(
            "TAB-009",
            format!("\"{}\" is no count", text.trim().chars().take(40).collect::<String>()),
            "write a whole number, 0 or more",
        )
    })
}

/// Puts a range error of a unit into the form a row tells.
pub fn out_of_range(error: outyard_base::OutOfRange) -> Trouble {
    Trouble::new("TAB-010", error.to_string(), "see whether the column holds another unit than its name says")
}

/// Gathers faults over all rows, so that one pass tells them all.
#[derive(Debug, Default)]
pub struct Faults(Vec<Trouble>);

impl Faults {
    /// Keeps the fault of a failed reading and passes a good one on.
    pub fn keep<T>(&mut self, reading: Result<T, Trouble>) -> Option<T> {
        reading.map_err(|trouble| self.0.push(trouble)).ok()
    }

    /// Adds a fault.
    pub fn push(&mut self, trouble: Trouble) {
        self.0.push(trouble);
    }

    /// True when no fault was found so far.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The value when no fault was found.
    ///
    /// # Errors
    /// All faults gathered, at most [`MOST_FAULTS_TOLD`].
    pub fn or<T>(mut self, value: T) -> Result<T, Vec<Trouble>> {
        if self.0.is_empty() {
            return Ok(value);
        }
        self.0.truncate(MOST_FAULTS_TOLD);
        Err(self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULES: &[ColumnRule] = &[
        ColumnRule { name: "yard", meaning: "name of the yard", needed: true },
        ColumnRule { name: "doubles", meaning: "doubles counted", needed: true },
        ColumnRule { name: "note", meaning: "anything", needed: false },
    ];

    fn read(text: &str) -> Result<Table, Vec<Trouble>> {
        Table::read("yards.csv", text, RULES, &ColumnMap::new())
    }

    #[test]
    fn columns_are_found_by_name_in_any_order_and_separator() {
        for text in ["doubles,yard\n26,7\n", "Doubles;YARD\n26;7\n", "note\tdoubles\tyard\n\t26\t7\n"] {
            let table = read(text).unwrap();
            let row = table.rows().next().unwrap();
            assert_eq!((row.text("yard"), row.read("doubles", read_count).unwrap()), (Some("7"), 26));
            assert_eq!(row.text("note"), None);
        }
    }

    #[test]
    fn a_mapping_names_the_files_own_headers() {
        let map = ColumnMap::from([("yard".to_owned(), "Stand".to_owned())]);
        let table = Table::read("y.csv", "stand,doubles\n7,x\n", RULES, &map).unwrap();
        let fault = table.rows().next().unwrap().read("doubles", read_count).unwrap_err();
        assert_eq!(fault.to_string(), "y.csv, line 2, column doubles: \"x\" is no count [TAB-009]");
        let fault = Table::read("y.csv", "yard,doubles\n7,1\n", RULES, &map).unwrap_err();
        assert_eq!(fault[0].code, "TAB-002");
        let map = ColumnMap::from([("hives".to_owned(), "x".to_owned())]);
        assert_eq!(Table::read("y.csv", "yard,doubles\n7,1\n", RULES, &map).unwrap_err()[0].code, "TAB-006");
    }

    #[test]
    fn faults_of_shape_are_all_told() {
        let faults = read("yard,note,note\n7,1\n").unwrap_err();
        assert_eq!(faults.iter().map(|fault| fault.code).collect::<Vec<_>>(), ["TAB-002", "TAB-003", "TAB-004"]);
        assert_eq!(read("yard,doubles\n").unwrap_err()[0].code, "TAB-005");
        assert_eq!(read("yard,doubles\n7,1,2\n").unwrap_err()[0].place.as_ref().unwrap().line, Some(2));
    }

    #[test]
    fn numbers_are_plain_or_refused() {
        for (text, number) in [("3.5", 3.5), (" -2 ", -2.0), ("1,5", 1.5), ("1e2", 100.0)] {
            assert!((read_number(text).unwrap() - number).abs() < 1e-12, "{text}");
        }
        for text in ["", "3 kg", "nan", "inf", "1,000.5", "1,2,3", "--1", "0x10"] {
            assert_eq!(read_number(text).unwrap_err().code, "TAB-008", "{text}");
        }
        for text in ["-1", "2.5", "", "1e3", "99999999999"] {
            assert_eq!(read_count(text).unwrap_err().code, "TAB-009", "{text}");
        }
    }
}
