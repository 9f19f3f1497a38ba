//! A deliberately messy workbook of an invented outfit with 1,200 colonies: every fault planted in it is found and named
//! in one pass, nothing else is called a fault, and without the faults it comes in whole, once.

#![expect(clippy::unwrap_used, reason = "what fails here fails the test, with its line")]

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use outyard_app::intake::workbook::against::against;
use outyard_app::intake::workbook::fields::Subject;
use outyard_app::intake::workbook::propose::{SheetMapping, Wishes, propose};
use outyard_app::intake::workbook::take::{Known, Taken, take_in};
use outyard_app::intake::workbook::values::Habits;
use outyard_base::{Chance, Metres, Place, Trouble, YardId};
use outyard_book::outfit::fold;
use outyard_book::{Entry, EntryId, Kind};
use outyard_season::PlantTable;
use outyard_tables::read::read_workbook;
use outyard_trade::JobBook;
use rust_xlsxwriter::{Format, Formula, Workbook, Worksheet};

const TODAY: Date = date(2026, 7, 20);
const FILE: &str = "messy.xlsx";
const YARDS: u32 = 36;
const COLONIES: usize = 1200;

type Planted = BTreeSet<(String, usize, String, &'static str)>;

/// A sheet being written, and the faults planted in it.
struct Page<'a> {
    sheet: &'a mut Worksheet,
    name: &'static str,
    row: u32,
    planted: &'a mut Planted,
}

impl Page<'_> {
    fn text(&mut self, column: u16, text: &str) {
        self.sheet.write_string(self.row, column, text).unwrap();
    }

    fn blank(&mut self, column: u16) {
        self.sheet.write_blank(self.row, column, &Format::new()).unwrap();
    }

    fn number(&mut self, column: u16, number: f64) {
        self.sheet.write_number(self.row, column, number).unwrap();
    }

    fn day(&mut self, column: u16, day: Date) {
        let serial = f64::from(i32::try_from(outyard_base::days::days_from(date(1899, 12, 30), day)).unwrap());
        let format = Format::new().set_num_format("yyyy-mm-dd");
        self.sheet.write_number_with_format(self.row, column, serial, &format).unwrap();
    }

    fn formula(&mut self, column: u16, formula: &str, shows: &str) {
        self.sheet.write_formula(self.row, column, Formula::new(formula).set_result(shows)).unwrap();
    }

    fn plant(&mut self, column: char, code: &'static str) {
        self.planted.insert((self.name.to_owned(), self.row as usize + 1, column.to_string(), code));
    }
}

fn latitude(yard: u32) -> f64 {
    47.0 + f64::from(yard) * 0.0125
}

fn longitude(yard: u32) -> f64 {
    99.0 + f64::from(yard) * 0.025
}

/// Degrees in one of the ways people write them.
fn degrees(number: f64, way: u32, letter: char) -> String {
    let minutes = number.fract() * 60.0;
    match way {
        0 => format!("{:.0}°{:.0}'{:.1}\"{letter}", number.floor(), minutes.floor(), minutes.fract() * 60.0),
        1 => format!("{:.0} {minutes:.3} {letter}", number.floor()),
        2 => format!("{letter}{number:.4}"),
        _ => format!("{number:.4} {letter}"),
    }
}

/// A sheet of yards under two title lines, with a group head over its counts, sums below and in between.
fn yards(page: &mut Page<'_>, faults: bool) {
    page.text(0, "Thistle Creek Bees - all yards, spring list");
    page.row = 1;
    page.text(0, "typed by Ana, please do not sort");
    page.row = 3;
    let center = Format::new();
    for (column, head) in [(0, "Apiary"), (1, "Latitude"), (2, "Longitude"), (3, "Altitude (ft)"), (4, "Region")] {
        page.sheet.merge_range(3, column, 4, column, head, &center).unwrap();
    }
    page.sheet.merge_range(3, 5, 3, 8, "Colonies", &center).unwrap();
    for (column, head) in [(9, "Wet road?"), (10, "Forage"), (11, "Invoice no")] {
        page.text(column, head);
    }
    page.row = 4;
    for (column, head) in [(5, "Doubles"), (6, "Nucs"), (7, "Weak"), (8, "Queenless")] {
        page.text(column, head);
    }
    page.row = 5;
    for yard in 1..=YARDS {
        if yard % 12 == 0 {
            // A blank row now and then.
            page.row += 1;
        }
        match yard % 4 {
            0 => page.number(0, f64::from(yard)),
            1 => page.text(0, &format!("  {yard} ")),
            _ => page.text(0, &yard.to_string()),
        }
        if yard % 5 == 0 {
            page.number(1, latitude(yard));
            page.number(2, -longitude(yard));
        } else {
            page.text(1, &degrees(latitude(yard), yard % 4, 'N'));
            page.text(2, &degrees(longitude(yard), yard % 4, 'W'));
        }
        page.text(3, if yard % 2 == 0 { "1,550" } else { "1575 ft" });
        page.text(4, if yard <= 18 { "North" } else { "South" });
        page.number(5, 26.0);
        page.text(6, if yard % 3 == 0 { " 6" } else { "6 nucs" });
        page.text(7, "-");
        if yard % 9 == 0 {
            page.number(8, 1.0);
        }
        page.text(9, ["yes", "No", "Y", "n"][yard as usize % 4]);
        page.text(10, "white-clover:0.6; alfalfa:0.4");
        page.text(11, "=NOW()");
        if faults {
            match yard {
                2 => {
                    page.text(1, "47°75'N");
                    page.plant('B', "IMP-017");
                }
                3 => {
                    page.text(2, "199.2 W");
                    page.plant('C', "IMP-017");
                    page.text(5, "~26");
                    page.plant('F', "IMP-012");
                }
                4 => {
                    page.blank(1);
                    page.plant('B', "TAB-007");
                }
                6 => {
                    page.text(5, "about twenty");
                    page.plant('F', "IMP-011");
                }
                7 => {
                    page.number(5, 12.5);
                    page.plant('F', "IMP-015");
                    page.text(9, "perhaps");
                    page.plant('J', "YRD-004");
                }
                8 => {
                    page.number(5, 4500.0);
                    page.plant('F', "IMP-016");
                }
                10 => {
                    page.formula(6, "=Z99/0", "#DIV/0!");
                    page.plant('G', "IMP-018");
                }
                11 => {
                    page.text(3, "500 fathoms");
                    page.plant('D', "IMP-019");
                }
                14 => {
                    page.text(10, "moon-flower:1");
                    page.plant('K', "PLT-007");
                }
                15 => {
                    page.number(3, 42_000.0);
                    page.plant('D', "IMP-016");
                }
                _ => {}
            }
        }
        page.row += 1;
        if yard == 18 {
            page.text(0, "Subtotal");
            page.formula(5, "=SUM(F6:F24)", "468");
            page.row += 1;
        }
    }
    if faults {
        page.text(0, " YARD 5 ");
        page.number(1, 47.9);
        page.number(2, -99.9);
        page.plant('A', "YRD-002");
        page.row += 1;
        page.text(0, "the yard behind the old grain elevator");
        page.number(1, 47.9);
        page.number(2, -99.9);
        page.plant('A', "YRD-001");
        page.row += 1;
        page.number(1, 47.8);
        page.number(2, -99.8);
        page.text(4, "South");
        page.plant('A', "TAB-007");
        page.row += 1;
    }
    page.text(0, "TOTAL:");
    page.formula(5, "=SUM(F6:F45)", "936");
}

/// One row a hive, with the header repeated as on printed pages.
fn hives(page: &mut Page<'_>, faults: bool, chance: &mut Chance) {
    let heads = ["Hive No.", "Yard", "Type", "Inspected", "Remarks"];
    let head = |page: &mut Page<'_>| {
        for (column, head) in (0..).zip(heads) {
            page.text(column, head);
        }
        page.row += 1;
    };
    head(page);
    for hive in 0..COLONIES {
        if hive > 0 && hive % 300 == 0 {
            head(page);
        }
        let yard = u32::try_from(hive).unwrap() % YARDS + 1;
        page.number(0, f64::from(u32::try_from(hive).unwrap() + 1));
        page.text(
            1,
            &match hive % 3 {
                0 => yard.to_string(),
                1 => format!("Yard {yard}"),
                _ => format!("{yard}  "),
            },
        );
        page.text(2, ["Double", "double deep", "D", "nuc", "Single"][chance.index(5)]);
        let day = date(2026, 6, 13 + i8::try_from(hive % 3).unwrap());
        match hive % 4 {
            0 => page.day(3, day),
            1 => page.text(3, &format!("{}/06/2026", day.day())),
            2 => page.text(3, &format!("{} juin 2026", day.day())),
            _ => page.text(3, &format!("{}.6.26", day.day())),
        }
        if faults {
            match hive {
                40 => {
                    page.text(1, "Yard 77");
                    page.plant('B', "IMP-020");
                }
                90 => {
                    page.text(2, "blue");
                    page.plant('C', "IMP-022");
                }
                130 => {
                    page.text(3, "31/6/2026");
                    page.plant('D', "IMP-013");
                }
                170 => {
                    page.day(3, date(2027, 6, 13));
                    page.plant('D', "YRD-006");
                }
                210 => {
                    page.text(3, "13 June");
                    page.plant('D', "IMP-013");
                }
                250 => {
                    page.blank(1);
                    page.plant('B', "TAB-007");
                }
                // Hive 331 stands in yard 7 on 14 June already.
                366 => {
                    page.number(0, 331.0);
                    page.text(3, "14/06/2026");
                    page.plant('A', "IMP-023");
                }
                330 => page.text(3, "14/06/2026"),
                _ => {}
            }
        }
        page.row += 1;
    }
}

/// Visits of the year before: hours by formula, days in three forms, hidden text in numbers.
fn visits(page: &mut Page<'_>, faults: bool) {
    for (column, head) in (0..).zip([
        "Date",
        "Rucher",
        "Work done",
        "Doubles",
        "Nucs",
        "Supers on",
        "Minutes",
        "Crew size",
        "Full %",
        "Notes",
    ]) {
        page.text(column, head);
    }
    page.row += 1;
    for visit in 0..60_u32 {
        let day = date(2025, 7, 3 + i8::try_from(visit % 20).unwrap());
        match visit % 3 {
            0 => page.day(0, day),
            1 => page.text(0, &format!("{}/7/2025", day.day())),
            _ => page.text(0, &format!("July {}, 2025", day.day())),
        }
        page.text(1, &format!("rucher {}", visit % YARDS + 1));
        page.text(2, if visit % 2 == 0 { "Put down" } else { "Add supers" });
        page.text(3, "26 ");
        page.text(5, "26");
        page.formula(6, "=G1*2", "150");
        page.number(7, 2.0);
        page.text(8, "60 %");
        page.text(9, "+1 queen seen");
        if faults {
            match visit {
                4 => {
                    page.text(2, "dance");
                    page.plant('C', "TRD-010");
                }
                7 => {
                    page.number(6, 2500.0);
                    page.plant('G', "IMP-016");
                }
                9 => {
                    page.number(7, 45.0);
                    page.plant('H', "IMP-016");
                }
                11 => {
                    page.text(5, "-3");
                    page.plant('F', "IMP-015");
                }
                13 => {
                    page.text(8, "140");
                    page.plant('I', "IMP-016");
                }
                16 => {
                    page.number(4, 6.0);
                    page.plant('E', "TLY-004");
                }
                21 => {
                    page.blank(0);
                    page.plant('A', "TAB-007");
                }
                25 => {
                    page.sheet.write_boolean(page.row, 0, true).unwrap();
                    page.plant('A', "IMP-013");
                }
                _ => {}
            }
        }
        page.row += 1;
    }
    if faults {
        page.day(0, date(2025, 7, 3));
        page.number(1, 1.0);
        page.text(2, "put down");
        page.number(3, 26.0);
        page.plant('C', "TLY-008");
    }
}

fn weather(page: &mut Page<'_>, faults: bool) {
    page.text(0, "Station North, read at 7");
    page.row = 1;
    for (column, head) in (0..).zip(["Fecha", "Min °F", "Max °F", "Lluvia (in)"]) {
        page.text(column, head);
    }
    page.row = 2;
    for day in 0..90 {
        page.day(0, outyard_base::days::plus_days(date(2026, 4, 1), day));
        page.text(1, "48,5");
        page.number(2, 71.0);
        page.text(3, if day % 7 == 0 { "0,25" } else { "-" });
        if faults {
            match day {
                5 => {
                    page.text(1, "88,5");
                    page.plant('B', "WTH-003");
                }
                9 => {
                    page.day(0, date(2026, 4, 3));
                    page.number(2, 70.0);
                    page.plant('A', "WTH-002");
                }
                20 => {
                    page.text(3, "lots");
                    page.plant('D', "IMP-011");
                }
                30 => {
                    page.number(2, 212.0);
                    page.plant('C', "IMP-016");
                }
                40 => {
                    page.day(3, date(2026, 1, 2));
                    page.plant('D', "IMP-011");
                }
                _ => {}
            }
        }
        page.row += 1;
    }
}

fn scale(page: &mut Page<'_>, faults: bool) {
    for (column, head) in (0..).zip(["Date/Time", "Gross (lb)"]) {
        page.text(column, head);
    }
    page.row = 1;
    for reading in 0..200_u32 {
        let (day, hour) = (1 + reading / 24, reading % 24);
        page.text(0, &format!("2026-07-{day:02} {hour:02}:05"));
        page.number(1, 132.0 + f64::from(reading) * 0.05);
        if faults {
            match reading {
                17 => {
                    page.text(0, "2026-07-01");
                    page.plant('A', "IMP-013");
                }
                29 => {
                    page.text(1, "heavy");
                    page.plant('B', "IMP-011");
                }
                _ => {}
            }
        }
        page.row += 1;
    }
}

fn messy(faults: bool) -> (Vec<u8>, Planted) {
    let mut book = Workbook::new();
    let mut planted = Planted::new();
    let mut chance = Chance::new(7, "messy workbook");
    let words = book.add_worksheet();
    words.set_name("Read me").unwrap();
    words.write_string(0, 0, "Ask Ana before you change anything.").unwrap();
    let mut page = |name: &'static str, fill: &mut dyn FnMut(&mut Page<'_>)| {
        let sheet = book.add_worksheet();
        sheet.set_name(name).unwrap();
        fill(&mut Page { sheet, name, row: 0, planted: &mut planted });
    };
    page("Yards 2026", &mut |page| yards(page, faults));
    page("Hives", &mut |page| hives(page, faults, &mut chance));
    page("Visits", &mut |page| visits(page, faults));
    page("Weather", &mut |page| weather(page, faults));
    page("Scale 1", &mut |page| scale(page, faults));
    let old = book.add_worksheet();
    old.set_name("Old").unwrap().set_hidden(true);
    for (column, head) in (0..).zip(["Yard", "Latitude", "Longitude"]) {
        old.write_string(0, column, head).unwrap();
        old.write_string(1, column, "never to be seen").unwrap();
    }
    (book.save_to_buffer().unwrap(), planted)
}

struct Office {
    jobs: JobBook,
    plants: PlantTable,
}

impl Office {
    fn sheets(&self, bytes: &[u8]) -> (Vec<outyard_app::intake::workbook::grid::Grid>, Vec<SheetMapping>) {
        let (grids, _) = read_workbook(FILE, bytes).unwrap();
        let wishes = Wishes { sheet: None, subject: None, habits: Habits::default(), jobs: &self.jobs };
        let mut sheets = propose(&grids, &wishes);
        for sheet in sheets.iter_mut().filter(|sheet| sheet.subject == Some(Subject::Scale)) {
            "7".clone_into(&mut sheet.yard);
        }
        (grids, sheets)
    }

    fn take(&self, bytes: &[u8]) -> Result<Taken, Vec<Trouble>> {
        let (grids, sheets) = self.sheets(bytes);
        let known = Known {
            yards: &BTreeMap::new(),
            jobs: &self.jobs,
            plants: &self.plants,
            today: TODAY,
            zone: &TimeZone::get("America/Winnipeg").unwrap(),
            home: (Place::new(47.5, -99.1).unwrap(), Metres::of(480.0)),
            stations: &BTreeMap::new(),
            scales: &BTreeMap::new(),
        };
        take_in(FILE, &grids, &sheets, &known)
    }
}

fn office() -> Office {
    Office { jobs: JobBook::standard(), plants: PlantTable::built_in() }
}

#[test]
fn every_column_of_the_messy_workbook_is_proposed_rightly() {
    let (bytes, _) = messy(true);
    let (_, sheets) = office().sheets(&bytes);
    let told: Vec<(&str, Option<&str>, Vec<String>)> = sheets
        .iter()
        .map(|sheet| {
            let columns = sheet.columns.iter().map(|(field, column)| {
                let unit = column.unit.map_or(String::new(), |unit| format!(" {}", unit.code));
                format!("{field}={}{unit}", outyard_app::intake::workbook::grid::column_letters(column.column))
            });
            (sheet.sheet.as_str(), sheet.subject.map(Subject::code), columns.collect())
        })
        .collect();
    let want: [(&str, Option<&str>, &[&str]); 7] = [
        ("Read me", None, &[]),
        (
            "Yards 2026",
            Some("yards"),
            &[
                "doubles=F",
                "elevation=D ft",
                "forage=K",
                "group=E",
                "latitude=B",
                "longitude=C",
                "queenless=I",
                "splits=G",
                "weak=H",
                "wet_road=J",
                "yard=A",
            ],
        ),
        ("Hives", Some("counts"), &["colony=A", "date=D", "kind=C", "note=E", "yard=B"]),
        (
            "Visits",
            Some("tallies"),
            &[
                "boxes_on=F",
                "date=A",
                "doubles=D",
                "full=I %",
                "hands=H",
                "job=C",
                "minutes=G min",
                "note=J",
                "splits=E",
                "yard=B",
            ],
        ),
        ("Weather", Some("weather"), &["date=A", "high=C F", "low=B F", "rain=D in"]),
        ("Scale 1", Some("scale"), &["time=A", "weight=B lb"]),
        ("Old", None, &[]),
    ];
    let want: Vec<(&str, Option<&str>, Vec<String>)> = want
        .iter()
        .map(|(sheet, what, columns)| (*sheet, *what, columns.iter().map(|column| (*column).to_owned()).collect()))
        .collect();
    assert_eq!(told, want);
}

#[test]
fn every_planted_fault_is_found_and_named_in_one_pass() {
    let (bytes, planted) = messy(true);
    let faults = office().take(&bytes).unwrap_err();
    let found: Planted = faults
        .iter()
        .map(|fault| {
            let place = fault.place.as_ref().unwrap();
            let sheet = place.file.as_deref().unwrap().trim_start_matches("messy.xlsx, sheet ").to_owned();
            let column = place.column.as_deref().unwrap().split(' ').next().unwrap().to_owned();
            (sheet, place.line.unwrap(), column, fault.code)
        })
        .collect();
    let missed: Vec<_> = planted.difference(&found).collect();
    let invented: Vec<_> = found.difference(&planted).collect();
    assert!(missed.is_empty() && invented.is_empty(), "missed {missed:#?}\ninvented {invented:#?}");
    assert_eq!((faults.len(), planted.len()), (38, 38));
}

#[test]
fn without_its_faults_it_comes_in_whole_and_once() {
    let (bytes, planted) = messy(false);
    assert!(planted.is_empty());
    let office = office();
    let taken = office.take(&bytes).unwrap();
    assert_eq!((taken.yards.len(), taken.visits.len(), taken.series.len()), (36, 60, 2));
    let hives: u32 =
        taken.counts.iter().filter(|count| count.what.on.is_some()).map(|count| count.what.counts.total()).sum();
    assert_eq!(hives, 1200);
    for (number, yard) in (1..).zip(&taken.yards) {
        let place = yard.what.kept.place.unwrap();
        assert!((place.latitude() - latitude(number)).abs() < 1e-4, "yard {number}");
        assert!((place.longitude() + longitude(number)).abs() < 1e-4, "yard {number}");
    }
    let mut book: Vec<Entry> = Vec::new();
    let plan = against(&taken, &book, TODAY);
    for (at, one) in (0_u64..).zip(&plan.write) {
        let written = Timestamp::from_second(1_784_000_000 + i64::try_from(at).unwrap()).unwrap();
        let mut name = [0; 10];
        name[..8].copy_from_slice(&at.to_be_bytes());
        let id = EntryId::new(written, name);
        book.push(Entry::new(id, "office".parse().unwrap(), "Ana", one.on, written, one.told()));
    }
    let outfit = fold(&book);
    assert_eq!((outfit.yards.len(), outfit.conflicts.len(), outfit.series.len()), (36, 0, 2));
    let first: YardId = "1".parse().unwrap();
    assert!(outfit.yards[&first].colonies.get(Kind::Double) > 0);
    let again = against(&office.take(&bytes).unwrap(), &book, TODAY);
    assert_eq!((again.write.len(), again.same), (0, book.len()));
}
