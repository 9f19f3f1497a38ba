//! Daily weather from a station's file.

use std::collections::BTreeSet;

use jiff::civil::Date;
use outyard_base::days::read_date;
use outyard_base::{Celsius, KilometresPerHour, Megajoules, Millimetres, Note, Trouble};
use outyard_season::hours::wind_at_two_metres;
use outyard_season::weather::{DayWeather, Origin};

use super::table::{ColumnMap, ColumnRule, Faults, Row, Table, out_of_range, read_number};

/// What a file of daily weather may hold. Each reading comes in one of several units, by the column's name.
pub const COLUMNS: &[ColumnRule] = &[
    ColumnRule { name: "date", meaning: "the day", needed: false },
    ColumnRule { name: "year", meaning: "year of the day, with month and day", needed: false },
    ColumnRule { name: "month", meaning: "its month, 1 to 12", needed: false },
    ColumnRule { name: "day", meaning: "its day of the month, or of the year when there is no month", needed: false },
    ColumnRule { name: "low_c", meaning: "lowest air temperature, °C", needed: false },
    ColumnRule { name: "high_c", meaning: "highest air temperature, °C", needed: false },
    ColumnRule { name: "low_f", meaning: "lowest air temperature, °F", needed: false },
    ColumnRule { name: "high_f", meaning: "highest air temperature, °F", needed: false },
    ColumnRule { name: "rain_mm", meaning: "rain, mm", needed: false },
    ColumnRule { name: "rain_in", meaning: "rain, inches", needed: false },
    ColumnRule { name: "wind_km_per_h", meaning: "mean wind 2 m above ground, km/h", needed: false },
    ColumnRule { name: "wind_m_per_s", meaning: "mean wind 2 m above ground, m/s", needed: false },
    ColumnRule { name: "wind_km_per_day", meaning: "wind run 2 m above ground, km a day", needed: false },
    ColumnRule { name: "wind_mi_per_h", meaning: "mean wind 2 m above ground, miles an hour", needed: false },
    ColumnRule { name: "wind_10m_km_per_h", meaning: "mean wind 10 m above ground, km/h", needed: false },
    ColumnRule { name: "wind_10m_m_per_s", meaning: "mean wind 10 m above ground, m/s", needed: false },
    ColumnRule { name: "sun_mj_per_m2", meaning: "solar energy, MJ/m² a day", needed: false },
];

/// Lowest and highest air temperature a daily file may hold, °C. The records are -89.2 and 56.7
/// (World Meteorological Organization archive of extremes, from memory); a high above that is Fahrenheit.
const AIR_C: (f64, f64) = (-89.2, 56.7);

/// Most rain a day may hold, mm: the world record is 1,825 (World Meteorological Organization, from memory).
const RAIN_MM_MAX: f64 = 1825.0;

/// Strongest daily mean wind taken, km/h; assumed.
const WIND_KM_PER_H_MAX: f64 = 200.0;

/// Reads a file of daily weather. Empty readings are gaps and are counted in a note, never filled here.
///
/// # Errors
/// All faults at once: those of [`Table::read`] and its cells, `WTH-001` no temperatures at all, `WTH-002` a day twice,
/// `WTH-003` the low above the high, `WTH-004` a reading that cannot be in the unit its column names.
pub fn read_weather(file: &str, text: &str, map: &ColumnMap) -> Result<(Vec<DayWeather>, Vec<Note>), Vec<Trouble>> {
    let table = Table::read(file, text, COLUMNS, map)?;
    let pair = |low: &str, high: &str| table.has(low) && table.has(high);
    if !pair("low_c", "high_c") && !pair("low_f", "high_f") {
        return Err(vec![
            Trouble::new(
                "WTH-001",
                "the file has no pair of low and high temperatures",
                "name them with --column low_c=NAME --column high_c=NAME (or low_f and high_f)",
            )
            .at(outyard_base::trouble::Spot::file(file).line(1)),
        ]);
    }
    let split = !table.has("date");
    if split && !(table.has("year") && table.has("day")) {
        return Err(vec![
            Trouble::new(
                "TAB-002",
                "there is no column date (the day), nor year, month and day",
                "say which column holds the date with --column date=NAME",
            )
            .at(outyard_base::trouble::Spot::file(file).line(1)),
        ]);
    }
    let mut faults = Faults::default();
    let mut days = Vec::with_capacity(table.len());
    let mut seen: BTreeSet<Date> = BTreeSet::new();
    let mut missing = 0_usize;
    for row in table.rows() {
        let date = faults.keep(if split { split_date(row) } else { row.read("date", read_date) });
        let readings = faults.keep(read_row(row));
        let (Some(date), Some(readings)) = (date, readings) else { continue };
        if !seen.insert(date) {
            faults.push(
                Trouble::new("WTH-002", format!("{date} stands there already"), "keep one row for each day")
                    .at(row.spot("date")),
            );
            continue;
        }
        let (Some(low), Some(high)) = (readings.low, readings.high) else {
            missing += 1;
            continue;
        };
        if low > high {
            faults.push(
                Trouble::new(
                    "WTH-003",
                    format!("the low {low} is above the high {high}"),
                    "see whether the two columns are swapped",
                )
                .at(row.spot(if table.has("low_c") { "low_c" } else { "low_f" })),
            );
            continue;
        }
        days.push(DayWeather {
            date,
            low,
            high,
            rain: readings.rain,
            wind: readings.wind,
            sun: readings.sun,
            origin: Origin::Seen,
        });
    }
    let mut notes = Vec::new();
    if missing > 0 {
        notes.push(Note::new("WTH-006", format!("{missing} days have no temperature and count as gaps")));
    }
    days.sort_by_key(|day| day.date);
    faults.or((days, notes))
}

/// A date in three columns, or in two: year and day of the year.
fn split_date(row: Row<'_>) -> Result<Date, Trouble> {
    let whole = |column: &str| row.read(column, read_whole);
    let year = whole("year")?;
    let day = whole("day")?;
    let date = if row.has_column("month") {
        let month = whole("month")?;
        i8::try_from(month).ok().zip(i8::try_from(day).ok()).and_then(|(month, day)| Date::new(year, month, day).ok())
    } else {
        day_of_year(year, f64::from(day))
    };
    date.ok_or_else(|| {
        Trouble::new("DAT-001", "there is no such day", "see the three columns of its date").at(row.spot("day"))
    })
}

/// A whole number as loggers write it, `1998` or `1998.0`.
pub(super) fn read_whole(text: &str) -> Result<i16, Trouble> {
    match read_number(text)? {
        #[expect(clippy::cast_possible_truncation, reason = "checked to be whole and small")]
        number if number.fract().abs() < 1e-9 && (1.0..=9999.0).contains(&number) => Ok(number as i16),
        number => Err(Trouble::new(
            "TAB-008",
            format!("{number} is no whole number of a date"),
            "write years as 2026, months and days as 1, 2, 3",
        )),
    }
}

/// A day of the year, 1 for 1 January; parts of a day are dropped.
pub(super) fn day_of_year(year: i16, day: f64) -> Option<Date> {
    let first = Date::new(year, 1, 1).ok()?;
    #[expect(clippy::cast_possible_truncation, reason = "checked to lie within a year")]
    let ahead = (1.0..=f64::from(first.days_in_year())).contains(&day.floor()).then(|| day.floor() as i64 - 1)?;
    Some(outyard_base::days::plus_days(first, ahead))
}

struct Readings {
    low: Option<Celsius>,
    high: Option<Celsius>,
    rain: Option<Millimetres>,
    wind: Option<KilometresPerHour>,
    sun: Option<Megajoules>,
}

fn read_row(row: Row<'_>) -> Result<Readings, Trouble> {
    Ok(Readings {
        low: air(row, "low_c", "low_f")?,
        high: air(row, "high_c", "high_f")?,
        rain: first_of(row, &[("rain_mm", 1.0), ("rain_in", 25.4)], 0.0, RAIN_MM_MAX, "mm")?
            .map(|mm| Millimetres::new(mm).map_err(out_of_range))
            .transpose()?,
        wind: wind(row)?,
        sun: first_of(row, &[("sun_mj_per_m2", 1.0)], 0.0, 45.0, "MJ/m²")?
            .map(|energy| Megajoules::new(energy).map_err(out_of_range))
            .transpose()?,
    })
}

/// A number, with the ways a station says that there is none read as none.
fn reading(row: Row<'_>, column: &str) -> Result<Option<f64>, Trouble> {
    match row.text(column) {
        None => Ok(None),
        Some(text) if ["na", "nan", "null", "-", "m"].contains(&text.to_ascii_lowercase().as_str()) => Ok(None),
        Some(text) => read_number(text).map(Some).map_err(|trouble| trouble.at(row.spot(column))),
    }
}

fn air(row: Row<'_>, celsius: &str, fahrenheit: &str) -> Result<Option<Celsius>, Trouble> {
    let (column, degrees) = match reading(row, celsius)? {
        Some(degrees) => (celsius, degrees),
        None => match reading(row, fahrenheit)? {
            Some(degrees) => (fahrenheit, (degrees - 32.0) / 1.8),
            None => return Ok(None),
        },
    };
    if (AIR_C.0..=AIR_C.1).contains(&degrees) {
        return Ok(Some(Celsius::of(degrees)));
    }
    Err(Trouble::new(
        "WTH-004",
        format!("{degrees:.1} °C is hotter or colder than air has ever been"),
        "if the file is in Fahrenheit, name its columns low_f and high_f",
    )
    .at(row.spot(column)))
}

/// Wind at hive height: a reading from a mast is brought down.
fn wind(row: Row<'_>) -> Result<Option<KilometresPerHour>, Trouble> {
    let low =
        [("wind_km_per_h", 1.0), ("wind_m_per_s", 3.6), ("wind_km_per_day", 1.0 / 24.0), ("wind_mi_per_h", 1.609_344)];
    let high = [("wind_10m_km_per_h", 1.0), ("wind_10m_m_per_s", 3.6)];
    let read = |columns: &[(&str, f64)]| {
        first_of(row, columns, 0.0, WIND_KM_PER_H_MAX, "km/h")?
            .map(|speed| KilometresPerHour::new(speed).map_err(out_of_range))
            .transpose()
    };
    match read(&low)? {
        Some(speed) => Ok(Some(speed)),
        None => Ok(read(&high)?.map(wind_at_two_metres)),
    }
}

/// The first of several columns that holds a reading, in our unit.
fn first_of(row: Row<'_>, columns: &[(&str, f64)], least: f64, most: f64, unit: &str) -> Result<Option<f64>, Trouble> {
    for (column, factor) in columns {
        let Some(number) = reading(row, column)? else { continue };
        let ours = number * factor;
        if (least..=most).contains(&ours) {
            return Ok(Some(ours));
        }
        return Err(Trouble::new(
            "WTH-004",
            format!("{ours:.1} {unit} is outside {least} to {most} {unit}"),
            "see whether the column holds another unit than its name says; an absent reading is an empty field",
        )
        .at(row.spot(column)));
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, map: &[(&str, &str)]) -> Result<(Vec<DayWeather>, Vec<Note>), Vec<Trouble>> {
        let map = map.iter().map(|(ours, theirs)| ((*ours).to_owned(), (*theirs).to_owned())).collect();
        read_weather("station.csv", text, &map)
    }

    #[test]
    fn units_are_told_by_the_column_and_gaps_are_noted() {
        let (days, notes) = read(
            "day,hi,lo,rain,wind\n2026-07-02,86,59,0.5,240\n2026-07-01,68,50,,\n2026-07-03,NA,,,\n",
            &[("date", "day"), ("high_f", "hi"), ("low_f", "lo"), ("rain_in", "rain"), ("wind_km_per_day", "wind")],
        )
        .unwrap();
        assert_eq!(days.len(), 2);
        assert!((days[1].high.get() - 30.0).abs() < 1e-9 && (days[1].low.get() - 15.0).abs() < 1e-9);
        assert!((days[1].rain.unwrap().get() - 12.7).abs() < 1e-9);
        assert!((days[1].wind.unwrap().get() - 10.0).abs() < 1e-9);
        assert_eq!((days[0].rain, days[0].wind), (None, None));
        assert_eq!(notes[0].text, "1 days have no temperature and count as gaps");
    }

    #[test]
    fn a_date_may_stand_in_three_columns_or_two() {
        let (days, _) = read("Year,Month,Day,low_c,high_c\n2026,7,1,10,20\n2026.0,12,31,1,2\n", &[]).unwrap();
        assert_eq!(days.iter().map(|day| day.date.to_string()).collect::<Vec<_>>(), ["2026-07-01", "2026-12-31"]);
        let (days, _) = read("year,doy,low_c,high_c\n2024,366,10,20\n", &[("day", "doy")]).unwrap();
        assert_eq!(days[0].date.to_string(), "2024-12-31");
        for row in ["2026,2,29", "2026,13,1", "2026,0,1", "2026,1.5,1", "x,1,1"] {
            let faults = read(&format!("year,month,day,low_c,high_c\n{row},10,20\n"), &[]).unwrap_err();
            assert!(["DAT-001", "TAB-008"].contains(&faults[0].code), "{row}: {faults:?}");
            assert_eq!(faults[0].place.as_ref().unwrap().line, Some(2));
        }
        assert_eq!(read("year,day,low_c,high_c\n2026,366,10,20\n", &[]).unwrap_err()[0].code, "DAT-001");
        assert_eq!(read("when,low_c,high_c\n2026,10,20\n", &[]).unwrap_err()[0].code, "TAB-002");
    }

    // Log profile over short grass, z0 = 0.03 m: u2 = 0.723 u10.
    #[test]
    fn wind_from_a_mast_is_brought_down_to_hive_height() {
        let (days, _) = read("date,low_c,high_c,wind_10m_m_per_s\n2026-07-01,10,20,5\n", &[]).unwrap();
        assert!((days[0].wind.unwrap().get() - 18.0 * 0.723).abs() < 0.01);
    }

    #[test]
    fn every_column_refuses_what_cannot_be() {
        let cases = [
            ("date", "2026-02-29", "DAT-001"),
            ("date", "", "TAB-007"),
            ("low_c", "x", "TAB-008"),
            ("high_c", "86", "WTH-004"),
            ("low_c", "-95", "WTH-004"),
            ("low_c", "25", "WTH-003"),
            ("rain_mm", "-1", "WTH-004"),
            ("rain_mm", "9999", "WTH-004"),
            ("wind_km_per_h", "-2", "WTH-004"),
            ("wind_m_per_s", "90", "WTH-004"),
            ("wind_km_per_day", "9999", "WTH-004"),
            ("wind_mi_per_h", "x", "TAB-008"),
            ("wind_10m_km_per_h", "-1", "WTH-004"),
            ("wind_10m_m_per_s", "80", "WTH-004"),
            ("sun_mj_per_m2", "300", "WTH-004"),
        ];
        for (column, value, code) in cases {
            let mut cells = vec![("date", "2026-07-01"), ("low_c", "10"), ("high_c", "20")];
            match cells.iter_mut().find(|(name, _)| *name == column) {
                Some(cell) => cell.1 = value,
                None => cells.push((column, value)),
            }
            let header: Vec<_> = cells.iter().map(|cell| cell.0).collect();
            let row: Vec<_> = cells.iter().map(|cell| cell.1).collect();
            let faults = read(&format!("{}\n{}\n", header.join(","), row.join(",")), &[]).unwrap_err();
            assert_eq!((faults.len(), faults[0].code), (1, code), "{column} = {value}: {faults:?}");
            let place = faults[0].place.as_ref().unwrap();
            assert_eq!((place.line, place.column.as_deref()), (Some(2), Some(column)));
        }
        assert_eq!(read("date,rain_mm\n2026-07-01,1\n", &[]).unwrap_err()[0].code, "WTH-001");
        let twice = "date,low_c,high_c\n2026-07-01,1,2\n2026-07-01,1,2\n";
        assert_eq!(read(twice, &[]).unwrap_err()[0].code, "WTH-002");
    }
}
