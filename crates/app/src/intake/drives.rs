//! Known drive times: a table `from, to, minutes` with `home` for the home base.

use std::collections::BTreeMap;

use outyard_base::{Kilometres, Minutes, Trouble, YardId};

use super::table::{ColumnMap, ColumnRule, Faults, Row, Table, out_of_range, read_number};

/// The word that stands for the home base in a table of drives.
pub const HOME: &str = "home";

/// One end of a drive.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stand {
    /// The home base.
    Home,
    /// A yard.
    Yard(YardId),
}

/// A known drive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drive {
    /// Time on the road.
    pub minutes: Minutes,
    /// Length, when the table tells it.
    pub length: Option<Kilometres>,
}

/// Drives known from a table. A drive told one way only holds both ways.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drives(BTreeMap<(Stand, Stand), Drive>);

/// What a table of drives may hold.
pub const COLUMNS: &[ColumnRule] = &[
    ColumnRule { name: "from", meaning: "yard, or home", needed: true },
    ColumnRule { name: "to", meaning: "yard, or home", needed: true },
    ColumnRule { name: "minutes", meaning: "drive time", needed: true },
    ColumnRule { name: "km", meaning: "road length", needed: false },
];

impl Drives {
    /// The drive between two stands, either way round.
    pub fn between(&self, from: &Stand, to: &Stand) -> Option<Drive> {
        let (from, to) = (from.clone(), to.clone());
        self.0.get(&(from.clone(), to.clone())).or_else(|| self.0.get(&(to, from))).copied()
    }

    /// How many drives are known.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// True when none is known.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// Reads a table of drives.
///
/// # Errors
/// All faults at once: those of [`Table::read`] and of its cells, `DRV-001` a drive from a place to itself,
/// `DRV-002` a drive told twice with another time.
pub fn read_drives(file: &str, text: &str, map: &ColumnMap) -> Result<Drives, Vec<Trouble>> {
    let table = Table::read(file, text, COLUMNS, map)?;
    let mut faults = Faults::default();
    let mut drives: BTreeMap<(Stand, Stand), Drive> = BTreeMap::new();
    for row in table.rows() {
        let read = faults.keep(read_row(row));
        let Some((from, to, drive)) = read else { continue };
        if from == to {
            faults.push(
                Trouble::new("DRV-001", "the drive ends where it began", "correct one of the two ends")
                    .at(row.spot("to")),
            );
            continue;
        }
        if drives.get(&(from.clone(), to.clone())).is_some_and(|known| *known != drive) {
            faults.push(
                Trouble::new(
                    "DRV-002",
                    "the same drive stands there already with another time",
                    "keep one of the rows",
                )
                .at(row.spot("minutes")),
            );
            continue;
        }
        drives.insert((from, to), drive);
    }
    faults.or(Drives(drives))
}

fn read_stand(text: &str) -> Result<Stand, Trouble> {
    if text.eq_ignore_ascii_case(HOME) {
        return Ok(Stand::Home);
    }
    super::yards_file::read_yard_name(text).map(Stand::Yard)
}

fn read_row(row: Row<'_>) -> Result<(Stand, Stand, Drive), Trouble> {
    let from = row.read("from", read_stand)?;
    let to = row.read("to", read_stand)?;
    let minutes = row.read("minutes", |text| {
        let minutes = read_number(text)?;
        if (0.0..=1440.0).contains(&minutes) {
            Ok(Minutes::ceil_of(minutes))
        } else {
            Err(Trouble::new("TAB-010", format!("{minutes} min is outside 0 to 1440 min"), "write the time in minutes"))
        }
    })?;
    let length =
        row.read_if_any("km", |text| read_number(text).and_then(|km| Kilometres::new(km).map_err(out_of_range)))?;
    Ok((from, to, Drive { minutes, length }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn yard(name: &str) -> Stand {
        Stand::Yard(name.parse().unwrap())
    }

    #[test]
    fn a_drive_holds_both_ways_unless_told_twice() {
        let text = "from,to,minutes,km\nHome,7,25,21.5\n7,12,15,\n12,7,18,\n";
        let drives = read_drives("drives.csv", text, &ColumnMap::new()).unwrap();
        assert_eq!(drives.between(&yard("7"), &Stand::Home).unwrap().minutes, Minutes(25));
        assert_eq!(drives.between(&yard("7"), &yard("12")).unwrap().minutes, Minutes(15));
        assert_eq!(drives.between(&yard("12"), &yard("7")).unwrap().minutes, Minutes(18));
        assert_eq!(drives.between(&Stand::Home, &yard("9")), None);
    }

    #[test]
    fn faults_of_all_rows_are_told_at_once() {
        let text = "from,to,minutes\nhome,home,3\nhome,7,x\n7,home,-4\n7,8,5\n7,8,6\n,8,5\n";
        let faults = read_drives("drives.csv", text, &ColumnMap::new()).unwrap_err();
        let told: Vec<_> = faults.iter().map(|f| (f.code, f.place.as_ref().unwrap().line.unwrap())).collect();
        assert_eq!(told, [("DRV-001", 2), ("TAB-008", 3), ("TAB-010", 4), ("DRV-002", 6), ("TAB-007", 7)]);
    }
}
