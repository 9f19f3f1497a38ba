//! Nights of a scale, by group: what the owner reads off in the morning.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::days::read_date;
use outyard_base::{KilogramsPerDay, Trouble};

use crate::intake::table::{ColumnMap, ColumnRule, Faults, Row, Table, read_number};

/// Net gains, midnight to midnight, of one group of yards or one scale.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupNights {
    /// Its name.
    pub name: String,
    /// Net gain by day, in order.
    pub nights: Vec<(Date, KilogramsPerDay)>,
}

/// What a table of nights may hold.
pub const COLUMNS: &[ColumnRule] = &[
    ColumnRule { name: "date", meaning: "the day", needed: true },
    ColumnRule { name: "group", meaning: "group of yards, or scale", needed: true },
    ColumnRule { name: "net_kg", meaning: "net gain midnight to midnight", needed: true },
];

/// Reads a table of nights.
///
/// # Errors
/// All faults at once; `NGT-001` a day of a group twice, `NGT-002` a gain no colony can have.
pub fn read_nights(file: &str, text: &str, map: &ColumnMap) -> Result<Vec<GroupNights>, Vec<Trouble>> {
    let table = Table::read(file, text, COLUMNS, map)?;
    let mut faults = Faults::default();
    let mut groups: BTreeMap<String, BTreeMap<Date, KilogramsPerDay>> = BTreeMap::new();
    let mut order: Vec<String> = Vec::new();
    for row in table.rows() {
        let Some((date, group, gain)) = faults.keep(read_row(row)) else { continue };
        if !order.contains(&group) {
            order.push(group.clone());
        }
        if groups.entry(group.clone()).or_default().insert(date, gain).is_some() {
            faults.push(
                Trouble::new("NGT-001", format!("{date} of {group} stands there already"), "keep one row for each day")
                    .at(row.spot("date")),
            );
        }
    }
    let groups = order
        .into_iter()
        .map(|name| {
            let nights = groups.remove(&name).unwrap_or_default().into_iter().collect();
            GroupNights { name, nights }
        })
        .collect();
    faults.or(groups)
}

fn read_row(row: Row<'_>) -> Result<(Date, String, KilogramsPerDay), Trouble> {
    let date = row.read("date", read_date)?;
    let group = row.needed("group")?.to_owned();
    let gain = row.read("net_kg", |text| match read_number(text)? {
        kg if (-30.0..=40.0).contains(&kg) => Ok(KilogramsPerDay::of(kg)),
        kg => Err(Trouble::new(
            "NGT-002",
            format!("{kg} kg is more than a colony gains or loses in a day"),
            "take boxes put on and off out of the reading first; `outyard scale read` does",
        )),
    })?;
    Ok((date, group, gain))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nights_are_grouped_in_the_order_of_the_file() {
        let text = "date,group,net_kg\n2026-07-02,South,-0.2\n2026-07-01,North,0.2\n2026-07-01,South,0.1\n";
        let groups = read_nights("nights.csv", text, &ColumnMap::new()).unwrap();
        assert_eq!(groups.iter().map(|group| group.name.as_str()).collect::<Vec<_>>(), ["South", "North"]);
        assert_eq!(groups[0].nights[0].0.to_string(), "2026-07-01");
    }

    #[test]
    fn bad_cells_are_told() {
        for (row, code) in [
            ("2026-07-32,North,1", "DAT-001"),
            ("2026-07-01,,1", "TAB-007"),
            ("2026-07-01,North,44", "NGT-002"),
            ("2026-07-01,North,much", "TAB-008"),
        ] {
            let text = format!("date,group,net_kg\n{row}\n");
            assert_eq!(read_nights("n.csv", &text, &ColumnMap::new()).unwrap_err()[0].code, code, "{row}");
        }
        let twice = "date,group,net_kg\n2026-07-01,N,1\n2026-07-01,N,1\n";
        assert_eq!(read_nights("n.csv", twice, &ColumnMap::new()).unwrap_err()[0].code, "NGT-001");
    }
}
