//! Recorded dates of bloom, year by year.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use outyard_base::days::{days_from, read_date};
use outyard_base::{Note, Trouble};
use outyard_season::BloomRecord;

use super::table::{ColumnMap, ColumnRule, Faults, Row, Table, read_number};
use super::weather_file::{day_of_year, read_whole};

/// What a table of recorded bloom may hold.
pub const COLUMNS: &[ColumnRule] = &[
    ColumnRule { name: "plant", meaning: "code of the plant", needed: false },
    ColumnRule { name: "group", meaning: "yard group it was seen in", needed: false },
    ColumnRule { name: "first", meaning: "date of first bloom", needed: false },
    ColumnRule { name: "year", meaning: "year, with day_of_year", needed: false },
    ColumnRule { name: "day_of_year", meaning: "day of first bloom, 1 for 1 January", needed: false },
    ColumnRule { name: "full", meaning: "date of full bloom", needed: false },
    ColumnRule { name: "seeded", meaning: "date a crop was seeded", needed: false },
];

/// Plant and group of some records; empty when the table does not tell.
pub type PlantGroup = (String, String);

/// Records of each plant and group, in the order of the years.
pub type Records = BTreeMap<PlantGroup, Vec<BloomRecord>>;

/// Reads a table of recorded bloom. A row without a date of first bloom is a year nobody wrote down, and is counted in a
/// note.
///
/// # Errors
/// All faults at once: those of the table and its cells, `BLM-001` no column of first bloom, `BLM-002` full bloom before
/// first or seeding after it, `BLM-003` a year twice for one plant and group.
pub fn read_bloom_file(file: &str, text: &str, map: &ColumnMap) -> Result<(Records, Vec<Note>), Vec<Trouble>> {
    let table = Table::read(file, text, COLUMNS, map)?;
    let by_day = !table.has("first");
    if by_day && !(table.has("year") && table.has("day_of_year")) {
        return Err(vec![
            Trouble::new(
                "BLM-001",
                "the file has no column of first bloom",
                "name it with --record-column first=NAME, or year=NAME and day_of_year=NAME",
            )
            .at(outyard_base::trouble::Spot::file(file).line(1)),
        ]);
    }
    let mut faults = Faults::default();
    let mut records = Records::new();
    let mut seen: BTreeSet<(PlantGroup, i16)> = BTreeSet::new();
    let mut empty = 0_usize;
    for row in table.rows() {
        let Some(record) = faults.keep(read_record(row, by_day)) else { continue };
        let Some(record) = record else {
            empty += 1;
            continue;
        };
        let whose = |column: &str| row.text(column).unwrap_or_default().to_owned();
        let key = (whose("plant"), whose("group"));
        let year = record.first.year();
        if !seen.insert((key.clone(), year)) {
            faults.push(
                Trouble::new("BLM-003", format!("{year} stands there already"), "keep one row for each plant and year")
                    .at(row.spot(if by_day { "year" } else { "first" })),
            );
        }
        records.entry(key).or_default().push(record);
    }
    for years in records.values_mut() {
        years.sort_by_key(|record| record.first);
    }
    let mut notes = Vec::new();
    if empty > 0 {
        notes.push(Note::new("BLM-101", format!("{empty} years have no date of first bloom and are passed over")));
    }
    faults.or((records, notes))
}

fn read_record(row: Row<'_>, by_day: bool) -> Result<Option<BloomRecord>, Trouble> {
    let first = if by_day {
        let year = row.read("year", read_whole)?;
        row.read_if_any("day_of_year", |text| {
            day_of_year(year, read_number(text)?).ok_or_else(|| {
                Trouble::new("DAT-001", format!("{year} has no day {text}"), "days of a year go from 1 to 365 or 366")
            })
        })?
    } else {
        row.read_if_any("first", read_date)?
    };
    let date = |column: &str| row.read_if_any(column, read_date);
    let (full, seeded) = (date("full")?, date("seeded")?);
    let Some(first) = first else { return Ok(None) };
    let out_of_order = |column: &str| {
        Trouble::new("BLM-002", "the dates are not in order", "seeding comes first, then first bloom, then full bloom")
            .at(row.spot(column))
    };
    let within = |from: Date, to: Date| (0..=300).contains(&days_from(from, to));
    if full.is_some_and(|full| !within(first, full)) {
        return Err(out_of_order("full"));
    }
    if seeded.is_some_and(|seeded| !within(seeded, first)) {
        return Err(out_of_order("seeded"));
    }
    Ok(Some(BloomRecord { first, full, seeded }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn read(text: &str) -> Result<(Records, Vec<Note>), Vec<Trouble>> {
        read_bloom_file("bloom.csv", text, &ColumnMap::new())
    }

    #[test]
    fn dates_and_days_of_the_year_are_read_alike() {
        let dated = "first,full,plant,group\n2025-04-20,,apple,North\n2024-04-22,2024-04-27,apple,North\n";
        let (records, notes) = read(dated).unwrap();
        let apple = &records[&("apple".to_owned(), "North".to_owned())];
        assert_eq!(apple.iter().map(|record| record.first).collect::<Vec<_>>(), [date(2024, 4, 22), date(2025, 4, 20)]);
        assert_eq!((apple[0].full, notes.len()), (Some(date(2024, 4, 27)), 0));
        let (records, notes) = read("Year,day_of_year\n2024,113.0\n2025,\n").unwrap();
        assert_eq!(records[&(String::new(), String::new())], [BloomRecord::from(date(2024, 4, 22))]);
        assert_eq!(notes[0].code, "BLM-101");
    }

    #[test]
    fn bad_rows_are_told_with_their_place() {
        for (text, code) in [
            ("first\n2025-13-01\n", "DAT-001"),
            ("year,day_of_year\n2025,366\n", "DAT-001"),
            ("year,day_of_year\n2025,soon\n", "TAB-008"),
            ("first,full\n2025-04-20,2025-04-01\n", "BLM-002"),
            ("first,seeded\n2025-04-20,2025-05-01\n", "BLM-002"),
            ("first\n2025-04-20\n2025-05-20\n", "BLM-003"),
        ] {
            let faults = read(text).unwrap_err();
            assert_eq!((faults.len(), faults[0].code), (1, code), "{text}");
            assert!(faults[0].place.as_ref().unwrap().line.is_some(), "{text}");
        }
        assert_eq!(read("year\n2025\n").unwrap_err()[0].code, "BLM-001");
    }
}
