//! Readings of a hive scale from its file.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use outyard_base::{Kilograms, Note, Trouble};

use super::table::{ColumnMap, ColumnRule, Faults, Row, Table, read_number};

/// What a file of scale readings may hold.
pub const COLUMNS: &[ColumnRule] = &[
    ColumnRule { name: "time", meaning: "date and time of the reading", needed: true },
    ColumnRule { name: "weight_kg", meaning: "weight, kg", needed: false },
    ColumnRule { name: "weight_lb", meaning: "weight, lb", needed: false },
    ColumnRule { name: "weight_g", meaning: "weight, g", needed: false },
];

/// What a scale under a hive can show, kg; past it the reading is set aside. Assumed.
const WEIGHT_KG: (f64, f64) = (-300.0, 600.0);

/// When more than this share of the readings must be set aside, the unit is wrong. Assumed.
const SET_ASIDE_SHARE_MAX: f64 = 0.1;

/// Readings in the order of the file, with what was set aside.
pub type Readings = (Vec<(Timestamp, Kilograms)>, Vec<Note>);

/// Reads a file of scale readings. A time without an offset is taken on the outfit's own clock; in the hour that
/// comes twice in autumn the first passing is meant, in the hour left out in spring the later one.
///
/// # Errors
/// All faults at once: those of [`Table::read`] and its cells, `SCL-001` no weight column, `SCL-002` a time that
/// cannot be read, `SCL-003` weights that cannot be in the unit the column names, `SCL-004` no reading at all.
pub fn read_scale_file(file: &str, text: &str, map: &ColumnMap, zone: &TimeZone) -> Result<Readings, Vec<Trouble>> {
    let table = Table::read(file, text, COLUMNS, &with_timestamp(text, map))?;
    let whole_file = || outyard_base::trouble::Spot::file(file).line(1);
    let units = [("weight_kg", 1.0), ("weight_lb", 0.453_592_37), ("weight_g", 0.001)];
    let Some((column, factor)) = units.into_iter().find(|(name, _)| table.has(name)) else {
        return Err(vec![
            Trouble::new(
                "SCL-001",
                "the file has no column of weights",
                "name it with --column weight_kg=NAME (or weight_lb, weight_g)",
            )
            .at(whole_file()),
        ]);
    };
    let mut faults = Faults::default();
    let mut readings = Vec::with_capacity(table.len());
    let (mut empty, mut aside) = (0_usize, 0_usize);
    for row in table.rows() {
        let Some(time) = faults.keep(row.read("time", |text| read_time(text, zone))) else { continue };
        match faults.keep(weight(row, column)) {
            Some(Some(number)) if (WEIGHT_KG.0..=WEIGHT_KG.1).contains(&(number * factor)) => {
                readings.push((time, Kilograms::of(number * factor)));
            }
            Some(Some(_)) => aside += 1,
            Some(None) => empty += 1,
            None => {}
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "rows of a file that fits in memory")]
    let share_aside = aside as f64 / (aside + readings.len()).max(1) as f64;
    if share_aside > SET_ASIDE_SHARE_MAX {
        faults.push(
            Trouble::new(
                "SCL-003",
                format!("{aside} of {} weights are outside what a hive scale shows", aside + readings.len()),
                "see whether the column holds grams or pounds; name it weight_g or weight_lb then",
            )
            .at(whole_file().column(table.header_of(column).unwrap_or(column))),
        );
    } else if readings.is_empty() && faults.is_empty() {
        faults.push(
            Trouble::new("SCL-004", "the file holds no reading", "see whether the right columns are named")
                .at(whole_file()),
        );
    }
    let mut notes = Vec::new();
    if empty > 0 {
        notes.push(Note::new("SCL-005", format!("{empty} rows have no weight and count as gaps")));
    }
    if aside > 0 {
        notes.push(Note::new("SCL-006", format!("{aside} weights no hive can have were set aside")));
    }
    faults.or((readings, notes))
}

/// Many loggers call the column of times `timestamp`: taken as `time` when no choice was made and there is no `time`.
pub(super) fn with_timestamp(text: &str, map: &ColumnMap) -> ColumnMap {
    let headers = text.lines().next().unwrap_or_default().to_ascii_lowercase();
    let has = |name: &str| headers.split([',', ';', '\t']).any(|header| header.trim().trim_matches('"') == name);
    let mut map = map.clone();
    if !map.contains_key("time") && !has("time") && has("timestamp") {
        map.insert("time".to_owned(), "timestamp".to_owned());
    }
    map
}

fn weight(row: Row<'_>, column: &str) -> Result<Option<f64>, Trouble> {
    match row.text(column) {
        Some(text) if !["na", "nan", "null", "-"].contains(&text.to_ascii_lowercase().as_str()) => {
            read_number(text).map(Some).map_err(|trouble| trouble.at(row.spot(column)))
        }
        _ => Ok(None),
    }
}

/// Reads `2026-07-03 05:40:00`, with `T` for the blank, with or without seconds, offset or `Z`.
pub(super) fn read_time(text: &str, zone: &TimeZone) -> Result<Timestamp, Trouble> {
    let bad = || {
        Trouble::new(
            "SCL-002",
            format!("\"{}\" is no date and time", text.chars().take(40).collect::<String>()),
            "write it as 2026-07-03 05:40, with Z or an offset such as -05:00 when it is not the outfit's own clock",
        )
    };
    let plain = text.trim();
    if plain.len() < 16 || plain.as_bytes()[4] != b'-' {
        return Err(bad());
    }
    let instant = plain.parse::<Timestamp>().ok().or_else(|| {
        plain
            .parse::<DateTime>()
            .ok()
            .and_then(|time| time.to_zoned_datetime(zone.clone()).ok())
            .map(|at| at.timestamp())
    });
    let sensible = |at: &Timestamp| (-2_208_988_800..7_258_118_400).contains(&at.as_second());
    instant.filter(sensible).ok_or_else(bad)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Readings, Vec<Trouble>> {
        read_scale_file("scale.csv", text, &ColumnMap::new(), &TimeZone::get("America/Chicago").unwrap())
    }

    #[test]
    fn local_times_offsets_and_units_come_out_alike() {
        let want: Timestamp = "2026-07-03T10:40:00Z".parse().unwrap();
        for row in
            ["2026-07-03 05:40:00,44", "2026-07-03T05:40,44", "2026-07-03T10:40:00Z,44", "2026-07-03T12:40:00+02:00,44"]
        {
            let (readings, _) = read(&format!("time,weight_kg\n{row}\n")).unwrap();
            assert_eq!(readings, [(want, Kilograms::of(44.0))], "{row}");
        }
        let (readings, _) = read("time,weight_g\n2026-07-03 05:40,44000\n").unwrap();
        assert!((readings[0].1.get() - 44.0).abs() < 1e-9);
        let (readings, _) = read("time,weight_lb\n2026-07-03 05:40,100\n").unwrap();
        assert!((readings[0].1.get() - 45.359_237).abs() < 1e-9);
    }

    #[test]
    fn a_loggers_timestamp_is_a_time() {
        let text = "timestamp,weight_kg\n2026-07-03 05:40,44\n";
        assert_eq!(read(text).unwrap().0.len(), 1);
        // A choice that was made stands, and so does a column of our own name.
        assert_eq!(read("time,timestamp,weight_kg\n2026-07-03 05:40,never,44\n").unwrap().0.len(), 1);
        let chosen = ColumnMap::from([("time".to_owned(), "when".to_owned())]);
        let fault = read_scale_file("scale.csv", text, &chosen, &TimeZone::UTC).unwrap_err();
        assert_eq!(fault[0].code, "TAB-002");
    }

    #[test]
    fn gaps_and_wild_values_are_noted_and_wrong_units_refused() {
        let mut text = "time,weight_kg\n".to_owned();
        for minute in 10..40 {
            text.push_str(&format!("2026-07-03 05:{minute},44.1\n"));
        }
        let (readings, notes) = read(&format!("{text}2026-07-03 06:00,\n2026-07-03 06:05,9999\n")).unwrap();
        assert_eq!((readings.len(), notes.len()), (30, 2));
        assert_eq!(read(&text.replace("44.1", "44100")).unwrap_err()[0].code, "SCL-003");
        assert_eq!(read(&text.replace("44.1", "")).unwrap_err()[0].code, "SCL-004");
        assert_eq!(read(&text.replace("weight_kg", "kilo")).unwrap_err()[0].code, "SCL-001");
    }

    #[test]
    fn a_bad_time_or_weight_is_told_with_its_place() {
        for time in ["2026-07-03", "03.07.2026 05:40", "2026-13-03 05:40", "2026-07-03 25:40", "5000-01-01 00:00", "x"]
        {
            let faults = read(&format!("time,weight_kg\n{time},44\n")).unwrap_err();
            assert_eq!(faults[0].code, "SCL-002", "{time}");
            assert_eq!(faults[0].place.as_ref().unwrap().column.as_deref(), Some("time"));
        }
        assert_eq!(read("time,weight_kg\n2026-07-03 05:40,heavy\n").unwrap_err()[0].code, "TAB-008");
    }
}
