//! The table of yards: where each stands, what grows round it, what was counted there.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::days::read_date;
use outyard_base::{Metres, Place, Share, Trouble, YardId};
use outyard_trade::kinds::Kind;

use super::table::{ColumnMap, ColumnRule, Faults, Row, Table, read_count, read_number};

/// What a table of yards may hold.
pub const COLUMNS: &[ColumnRule] = &[
    ColumnRule { name: "yard", meaning: "short name of the yard", needed: true },
    ColumnRule { name: "name", meaning: "what people call it", needed: false },
    ColumnRule { name: "latitude", meaning: "degrees north", needed: true },
    ColumnRule { name: "longitude", meaning: "degrees east, west is negative", needed: true },
    ColumnRule { name: "elevation_m", meaning: "height above the sea", needed: false },
    ColumnRule { name: "group", meaning: "yards that flow alike", needed: false },
    ColumnRule { name: "doubles", meaning: "colonies in two brood chambers", needed: false },
    ColumnRule { name: "singles", meaning: "colonies in one brood chamber", needed: false },
    ColumnRule { name: "splits", meaning: "this year's splits, in singles", needed: false },
    ColumnRule { name: "weak", meaning: "weak colonies", needed: false },
    ColumnRule { name: "queenless", meaning: "queenless colonies", needed: false },
    ColumnRule { name: "counted_on", meaning: "date of the count", needed: false },
    ColumnRule {
        name: "forage",
        meaning: "plants with their share: white-clover:0.6; canola:0.4@2026-05-15",
        needed: false,
    },
    ColumnRule { name: "gate", meaning: "gate, key, dog", needed: false },
    ColumnRule { name: "wet_road", meaning: "yes when the road is bad after rain", needed: false },
    ColumnRule { name: "landowner", meaning: "owner and terms", needed: false },
];

/// A plant within reach of a yard.
#[derive(Clone, Debug, PartialEq)]
pub struct Forage {
    /// Code of the plant in the plant table.
    pub plant: String,
    /// How much of a full stand of it there is.
    pub weight: Share,
    /// For a crop: when it was seeded.
    pub seeded: Option<Date>,
}

/// A row of the table of yards.
#[derive(Clone, Debug, PartialEq)]
pub struct YardRow {
    /// Line in the file.
    pub line: usize,
    /// Short name.
    pub yard: YardId,
    /// What people call it.
    pub name: Option<String>,
    /// Where it stands.
    pub place: Place,
    /// Height above the sea.
    pub elevation: Option<Metres>,
    /// Yards that flow alike.
    pub group: Option<String>,
    /// Colonies counted; empty when the row counts none.
    pub counts: BTreeMap<Kind, u32>,
    /// Date of the count.
    pub counted_on: Option<Date>,
    /// Plants within reach.
    pub forage: Vec<Forage>,
    /// Gate, key, dog.
    pub gate: Option<String>,
    /// Bad road after rain.
    pub wet_road: bool,
    /// Owner and terms.
    pub landowner: Option<String>,
}

/// Reads the name of a yard.
///
/// # Errors
/// `YRD-001`.
pub fn read_yard_name(text: &str) -> Result<YardId, Trouble> {
    YardId::new(text)
        .map_err(|bad| Trouble::new("YRD-001", bad.to_string(), "choose a short name, such as 7 or North 3"))
}

/// Reads the table of yards.
///
/// # Errors
/// All faults at once, with file, line and column: those of [`Table::read`] and its cells, `YRD-001` a name that will
/// not do, `YRD-002` a yard twice, `YRD-003` forage that cannot be read, `YRD-004` neither yes nor no, `PLC-001`.
pub fn read_yards(file: &str, text: &str, map: &ColumnMap) -> Result<Vec<YardRow>, Vec<Trouble>> {
    let table = Table::read(file, text, COLUMNS, map)?;
    let mut faults = Faults::default();
    let mut rows: Vec<YardRow> = Vec::new();
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    for row in table.rows() {
        let Some(yard) = read_row(row, &mut faults) else { continue };
        if let Some(line) = seen.insert(yard.yard.as_str().to_lowercase(), row.line()) {
            faults.push(
                Trouble::new(
                    "YRD-002",
                    format!("yard {} stands on line {line} already", yard.yard),
                    "keep one of the two rows",
                )
                .at(row.spot("yard")),
            );
            continue;
        }
        rows.push(yard);
    }
    faults.or(rows)
}

/// Reads every cell even after a fault, so that one pass tells them all.
fn read_row(row: Row<'_>, faults: &mut Faults) -> Option<YardRow> {
    let yard = faults.keep(row.read("yard", read_yard_name));
    let latitude = faults.keep(row.read("latitude", read_number));
    let longitude = faults.keep(row.read("longitude", read_number));
    let place = match (latitude, longitude) {
        (Some(latitude), Some(longitude)) => {
            faults.keep(Place::new(latitude, longitude).map_err(|trouble| trouble.at(row.spot("latitude"))))
        }
        _ => None,
    };
    let elevation = faults.keep(row.read_if_any("elevation_m", |text| {
        let metres = read_number(text)?;
        if (-430.0..=6000.0).contains(&metres) {
            Ok(Metres::of(metres))
        } else {
            Err(Trouble::new("TAB-010", format!("{metres} m is outside -430 to 6000 m"), "write the height in metres"))
        }
    }));
    let mut counts = BTreeMap::new();
    for (column, kind) in [
        ("doubles", Kind::Double),
        ("singles", Kind::Single),
        ("splits", Kind::Split),
        ("weak", Kind::Weak),
        ("queenless", Kind::Queenless),
    ] {
        if let Some(Some(count)) = faults.keep(row.read_if_any(column, read_colony_count)) {
            counts.insert(kind, count);
        }
    }
    let counted_on = faults.keep(row.read_if_any("counted_on", read_date));
    let forage = faults.keep(row.read_if_any("forage", read_forage));
    let wet_road = faults.keep(row.read_if_any("wet_road", read_yes_no));
    let words = |column: &str| row.text(column).map(str::to_owned);
    Some(YardRow {
        line: row.line(),
        yard: yard?,
        name: words("name"),
        place: place?,
        elevation: elevation?,
        group: words("group"),
        counts,
        counted_on: counted_on?,
        forage: forage?.unwrap_or_default(),
        gate: words("gate"),
        wet_road: wet_road?.unwrap_or(false),
        landowner: words("landowner"),
    })
}

/// Colonies of one kind in one yard: past 2,000 the number stands in the wrong column.
fn read_colony_count(text: &str) -> Result<u32, Trouble> {
    let count = read_count(text)?;
    if count <= 2000 {
        return Ok(count);
    }
    Err(Trouble::new(
        "TAB-010",
        format!("{count} colonies is outside 0 to 2000"),
        "see whether the columns are mixed up",
    ))
}

fn read_yes_no(text: &str) -> Result<bool, Trouble> {
    match text.to_ascii_lowercase().as_str() {
        "yes" | "y" | "true" | "1" => Ok(true),
        "no" | "n" | "false" | "0" => Ok(false),
        _ => Err(Trouble::new("YRD-004", format!("\"{text}\" is neither yes nor no"), "write yes or no")),
    }
}

/// Reads `white-clover:0.6; canola:0.4@2026-05-15`. A plant without a share counts as a full stand.
///
/// # Errors
/// `YRD-003`, and `DAT-001` for a seeding date.
pub fn read_forage(text: &str) -> Result<Vec<Forage>, Trouble> {
    let bad = |part: &str| {
        Trouble::new(
            "YRD-003",
            format!("\"{part}\" is no plant with its share"),
            "write it as plant:share, share from 0 to 1, for a crop with its seeding date: canola:0.4@2026-05-15",
        )
    };
    let mut forage: Vec<Forage> = Vec::new();
    for part in text.split(';').map(str::trim).filter(|part| !part.is_empty()) {
        let (stand, seeded) = match part.split_once('@') {
            Some((stand, date)) => (stand, Some(read_date(date)?)),
            None => (part, None),
        };
        let (plant, weight) = match stand.split_once(':') {
            Some((plant, weight)) => {
                let weight = read_number(weight).ok().and_then(|weight| Share::new(weight).ok());
                (plant, weight.ok_or_else(|| bad(part))?)
            }
            None => (stand, Share::of(1.0)),
        };
        let plant = plant.trim();
        let plain = plant.chars().all(|letter| letter.is_ascii_alphanumeric() || letter == '-');
        if plant.is_empty() || !plain || forage.iter().any(|known| known.plant == plant) {
            return Err(bad(part));
        }
        forage.push(Forage { plant: plant.to_owned(), weight, seeded });
    }
    Ok(forage)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn read(text: &str) -> Result<Vec<YardRow>, Vec<Trouble>> {
        read_yards("yards.csv", text, &ColumnMap::new())
    }

    #[test]
    fn a_full_row_is_read() {
        let rows = read(
            "yard,name,latitude,longitude,elevation_m,group,doubles,splits,counted_on,forage,wet_road,gate\n\
             7,Mill,45.1,-93.9,300,North,26,6,2026-06-20,white-clover:0.6;canola:0.4@2026-05-15,yes,chain\n",
        )
        .unwrap();
        assert_eq!(rows[0].counts, BTreeMap::from([(Kind::Double, 26), (Kind::Split, 6)]));
        assert_eq!(rows[0].forage[1].seeded, Some(date(2026, 5, 15)));
        assert!(rows[0].wet_road);
    }

    /// One bad value for each column, and the code it must raise.
    #[test]
    fn every_column_refuses_what_cannot_be() {
        let cases = [
            ("yard", "", "TAB-007"),
            ("yard", "a name that is far too long for a run sheet", "YRD-001"),
            ("latitude", "", "TAB-007"),
            ("latitude", "145.0", "PLC-001"),
            ("latitude", "45°06'", "TAB-008"),
            ("longitude", "-193", "PLC-001"),
            ("longitude", "west", "TAB-008"),
            ("elevation_m", "9999", "TAB-010"),
            ("doubles", "-1", "TAB-009"),
            ("doubles", "26.5", "TAB-009"),
            ("singles", "many", "TAB-009"),
            ("splits", "5000", "TAB-010"),
            ("weak", "-3", "TAB-009"),
            ("queenless", "x", "TAB-009"),
            ("counted_on", "2026-06-31", "DAT-001"),
            ("forage", "clover:2", "YRD-003"),
            ("forage", "canola:0.4@15 May", "DAT-001"),
            ("forage", "canola;canola", "YRD-003"),
            ("wet_road", "perhaps", "YRD-004"),
        ];
        for (column, value, code) in cases {
            let mut header = vec!["yard", "latitude", "longitude"];
            let mut cells = vec!["7", "45.1", "-93.9"];
            if let Some(at) = header.iter().position(|name| *name == column) {
                cells[at] = value;
            } else {
                header.push(column);
                cells.push(value);
            }
            let faults = read(&format!("{}\n{}\n", header.join(","), cells.join(","))).unwrap_err();
            assert_eq!(faults.len(), 1, "{column} = {value}: {faults:?}");
            assert_eq!(faults[0].code, code, "{column} = {value}");
            let place = faults[0].place.as_ref().unwrap();
            assert_eq!(place.line, Some(2));
            let told = place.column.as_deref().unwrap();
            assert!(told == column || (code == "PLC-001" && told == "latitude"), "{column}: told at {told}");
        }
    }

    #[test]
    fn a_yard_twice_is_refused_whatever_the_case() {
        let faults = read("yard,latitude,longitude\nN1,45,-93\nn1,45,-94\n").unwrap_err();
        assert_eq!(faults[0].to_string(), "yards.csv, line 3, column yard: yard n1 stands on line 2 already [YRD-002]");
    }
}
