//! A workbook from its cells to the entries it becomes, and taken in again.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use outyard_base::{Metres, Place, Trouble, YardId};
use outyard_book::outfit::fold;
use outyard_book::{Entry, EntryId, Fact};
use outyard_season::PlantTable;
use outyard_trade::jobbook::JobBook;
use outyard_trade::{Kind, KindCounts};

use super::against::{Against, against};
use super::decode::grid_of_text;
use super::fields::Subject;
use super::grid::Grid;
use super::mapping::lay_over;
use super::propose::{SheetMapping, Wishes, propose};
use super::take::{Known, Taken, take_in};
use super::values::{DayOrder, Habits};

const TODAY: Date = date(2026, 7, 20);

struct Bench {
    jobs: JobBook,
    plants: PlantTable,
    yards: BTreeMap<YardId, String>,
    habits: Habits,
}

impl Bench {
    fn new() -> Self {
        Self {
            jobs: JobBook::standard(),
            plants: PlantTable::built_in(),
            yards: BTreeMap::from([("7".parse().unwrap(), "Mill".to_owned()), ("12".parse().unwrap(), String::new())]),
            habits: Habits::default(),
        }
    }

    fn grids(text: &str) -> Vec<Grid> {
        vec![grid_of_text("year.csv", text.as_bytes()).unwrap().0]
    }

    fn proposed(&self, grids: &[Grid]) -> Vec<SheetMapping> {
        propose(grids, &Wishes { sheet: None, subject: None, habits: self.habits, jobs: &self.jobs })
    }

    fn taken(&self, grids: &[Grid], sheets: &[SheetMapping]) -> Result<Taken, Vec<Trouble>> {
        let known = Known {
            yards: &self.yards,
            jobs: &self.jobs,
            plants: &self.plants,
            today: TODAY,
            zone: &TimeZone::get("America/Winnipeg").unwrap(),
            home: (Place::new(47.5, -99.1).unwrap(), Metres::of(480.0)),
            stations: &BTreeMap::new(),
            scales: &BTreeMap::from([("Scale 1".to_owned(), "7".parse().unwrap())]),
        };
        take_in("year.csv", grids, sheets, &known)
    }

    fn read(&self, text: &str) -> Result<Taken, Vec<Trouble>> {
        let grids = Self::grids(text);
        self.taken(&grids, &self.proposed(&grids))
    }

    fn faults(&self, text: &str) -> Vec<(&'static str, usize, String)> {
        let faults = self.read(text).unwrap_err();
        faults
            .iter()
            .map(|fault| {
                let place = fault.place.as_ref().unwrap();
                (fault.code, place.line.unwrap_or(0), place.column.clone().unwrap_or_default())
            })
            .collect()
    }
}

/// Writes what is to be written, as the command does.
fn written(book: &mut Vec<Entry>, plan: &Against) -> usize {
    for one in &plan.write {
        let at = Timestamp::from_second(1_784_000_000 + i64::try_from(book.len()).unwrap()).unwrap();
        let mut chance = [0; 10];
        chance[..8].copy_from_slice(&(book.len() as u64).to_be_bytes());
        let id = EntryId::new(at, chance);
        book.push(Entry::new(id, "office".parse().unwrap(), "Ana", one.on, at, one.told()));
    }
    plan.write.len()
}

fn into_book(book: &mut Vec<Entry>, taken: &Taken) {
    let plan = against(taken, book, TODAY);
    written(book, &plan);
}

const YARDS: &str = "\
Our bees 2026,,,,,\n\
\n\
Apiary,Latitude,Longitude,Altitude (ft),Colonies on hand,,Gate\n\
,,,,Doubles,Nucs,\n\
North 1,47°30'N,99.1 W,\"1,575\",26,6,chain\n\
South,47.4,-98.9,1600,\"30\",,\n\
North 1,47°30'N,99.1 W,\"1,575\",26,6,chain\n\
Total,,,,56,6,\n";

#[test]
fn yards_come_in_from_under_titles_and_double_headers() {
    let taken = Bench::new().read(YARDS).unwrap();
    assert_eq!((taken.yards.len(), taken.counts.len(), taken.colonies()), (2, 2, 62));
    let first = &taken.yards[0].what.kept;
    let place = first.place.unwrap();
    assert!((place.latitude() - 47.5).abs() < 1e-9 && (place.longitude() + 99.1).abs() < 1e-9);
    assert!((first.elevation.unwrap().get() - 480.06).abs() < 1e-6);
    assert_eq!(first.gate, "chain");
    assert_eq!(taken.counts[0].what.counts, KindCounts::of(&[(Kind::Double, 26), (Kind::Split, 6)]));
    let notes: Vec<&str> = taken.notes.iter().map(|note| note.code).collect();
    assert_eq!(notes, ["IMP-102", "IMP-105"]);
}

#[test]
fn the_same_file_twice_adds_nothing_and_a_changed_row_corrects() {
    let bench = Bench::new();
    let mut book = Vec::new();
    let plan = against(&bench.read(YARDS).unwrap(), &book, TODAY);
    assert_eq!((written(&mut book, &plan), plan.same, plan.corrections()), (4, 0, 0));
    let plan = against(&bench.read(YARDS).unwrap(), &book, TODAY);
    assert_eq!((plan.write.len(), plan.same), (0, 4));
    // On a later day too: a count of no day says what is known.
    assert_eq!(against(&bench.read(YARDS).unwrap(), &book, date(2026, 7, 25)).write.len(), 0);
    let changed = YARDS.replace("South,47.4", "South,47.45").replace("\"30\"", "\"31\"");
    let plan = against(&bench.read(&changed).unwrap(), &book, TODAY);
    assert_eq!((plan.write.len(), plan.corrections(), plan.same), (2, 2, 2));
    written(&mut book, &plan);
    let outfit = fold(&book);
    let south: YardId = "South".parse().unwrap();
    assert_eq!(outfit.yards[&south].colonies.get(Kind::Double), 31);
    assert!((outfit.yards[&south].kept.place.unwrap().latitude() - 47.45).abs() < 1e-9);
    assert_eq!((outfit.conflicts.len(), outfit.contested.len()), (0, 0));
}

#[test]
fn what_a_sheet_has_no_column_for_stays_as_the_book_has_it() {
    let mut bench = Bench::new();
    let mut book = Vec::new();
    into_book(&mut book, &bench.read(YARDS).unwrap());
    bench.yards.extend(["North 1", "South"].map(|yard| (yard.parse().unwrap(), String::new())));
    let plan =
        against(&bench.read("yard,latitude,longitude\nNORTH 1,47.6,-99.1\nSouth,47.4,-98.9\n").unwrap(), &book, TODAY);
    assert_eq!((plan.write.len(), plan.same), (1, 1));
    let Fact::YardKept(kept) = &plan.write[0].fact else { panic!("a yard") };
    assert_eq!((kept.yard.as_str(), kept.gate.as_str()), ("North 1", "chain"));
}

#[test]
fn one_row_a_colony_adds_up_and_dead_ones_do_not_count() {
    let text = "Hive No.;Apiary;Type;Inspected\n\
                1;Yard 7;Double;13/6/2026\n2;7;double deep;13/6/2026\n3;MILL;nuc;13/06/26\n4;7;dead;13/6/2026\n1;12;D;14/6/2026\n";
    let taken = Bench::new().read(text).unwrap();
    let counts: Vec<(String, Option<Date>, KindCounts)> =
        taken.counts.iter().map(|count| (count.what.yard.to_string(), count.what.on, count.what.counts)).collect();
    assert_eq!(
        counts,
        [
            ("12".to_owned(), Some(date(2026, 6, 14)), KindCounts::of(&[(Kind::Double, 1)])),
            ("7".to_owned(), Some(date(2026, 6, 13)), KindCounts::of(&[(Kind::Double, 2), (Kind::Split, 1)])),
        ]
    );
    assert_eq!(taken.notes[0].code, "IMP-106");
}

#[test]
fn tallies_of_past_years_come_in_and_are_put_right() {
    let text = "Date,Yard,Work done,Doubles,Nucs,Supers on,Hours,Crew size,Remarks\n\
                2025-07-03,7,Put down,26,,26,2.5,2,windy\n2025-07-03,7,Brood up,,6,6,,,\n2025-07-04,12,Add supers,20,,20,1,2,\n";
    let bench = Bench::new();
    let taken = bench.read(text).unwrap();
    assert_eq!(taken.visits.len(), 2);
    let seven = &taken.visits[0].what.tally;
    assert_eq!((seven.jobs.len(), seven.minutes.map(|minutes| minutes.0), seven.hands), (2, Some(150), Some(2)));
    assert_eq!(seven.boxes_on.of(&"deep".parse().unwrap()), 32);
    let mut book = Vec::new();
    into_book(&mut book, &taken);
    let plan = against(&bench.read(&text.replace("2.5,2,windy", "3,2,windy")).unwrap(), &book, TODAY);
    assert_eq!((plan.write.len(), plan.corrections(), plan.same), (1, 1, 1));
    written(&mut book, &plan);
    let outfit = fold(&book);
    let visits = &outfit.yards[&"7".parse::<YardId>().unwrap()].visits;
    assert_eq!((visits.len(), visits[0].tally.minutes.map(|minutes| minutes.0)), (1, Some(180)));
}

#[test]
fn weather_and_scales_come_in_in_their_own_units() {
    let bench = Bench::new();
    let weather = "Fecha\tMax °F\tMin °F\tLluvia (in)\n13/06/2026\t86\t59\t0,5\n14/06/2026\t88\t60\t\n";
    let taken = bench.read(weather).unwrap();
    let series = &taken.series[0].what;
    assert_eq!(series.text.lines().nth(1), Some("2026-06-13,15,30,12.7,,"));
    let (days, _) =
        crate::intake::weather_file::read_weather("kept", &series.text, &BTreeMap::new()).expect("our own columns");
    assert_eq!(days.len(), 2);
    let mut grids =
        Bench::grids("Date/Time,Gross lb\n2026-07-03 05:40,100\n7/3/2026 6:40 AM,101\n7/13/2026 6:40 AM,102\n");
    grids[0].name = "Scale 1".to_owned();
    let sheets = bench.proposed(&grids);
    assert_eq!(sheets[0].subject, Some(Subject::Scale));
    let taken = bench.taken(&grids, &sheets).unwrap();
    let lines: Vec<&str> = taken.series[0].what.text.lines().collect();
    assert_eq!(lines[1..3], ["2026-07-03T10:40:00Z,45.359", "2026-07-03T11:40:00Z,45.813"]);
    let mut book = Vec::new();
    into_book(&mut book, &taken);
    assert_eq!(against(&taken, &book, TODAY).write.len(), 0);
    grids[0] = Grid {
        name: "Scale 1".to_owned(),
        ..Bench::grids("Date/Time,Gross lb\n2026-07-03 05:40,100\n7/3/2026 6:40 AM,101.5\n7/13/2026 6:40 AM,102\n")
            .remove(0)
    };
    let plan = against(&bench.taken(&grids, &sheets).unwrap(), &book, TODAY);
    assert_eq!((plan.write.len(), plan.corrections()), (1, 1));
}

#[test]
fn every_fault_of_every_row_is_told_with_its_column() {
    let text = "yard,latitude,longitude,doubles,counted on,wet road\n\
                1,47.5,-99.1,26,2026-06-13,yes\n\
                ,47.5,-99.1,26,2026-06-13,\n\
                2,147.5,-99.1,lots,2026-06-31,maybe\n\
                3,47.5,west,5000,2027-06-13,no\n\
                1,47.6,-99.1,26,2026-06-13,\n\
                a yard with a name that no run sheet holds,47.5,-99.1,3.5,13 June,\n";
    let got = Bench::new().faults(text);
    let want = [
        ("TAB-007", 3, "A (yard)"),
        ("IMP-017", 4, "B (latitude)"),
        ("YRD-004", 4, "F (wet road)"),
        ("IMP-011", 4, "D (doubles)"),
        ("IMP-013", 4, "E (counted on)"),
        ("IMP-017", 5, "C (longitude)"),
        ("IMP-016", 5, "D (doubles)"),
        ("YRD-006", 5, "E (counted on)"),
        ("YRD-002", 6, "A (yard)"),
        ("YRD-001", 7, "A (yard)"),
        ("IMP-015", 7, "D (doubles)"),
        ("IMP-013", 7, "E (counted on)"),
    ];
    assert_eq!(got, want.map(|(code, line, column)| (code, line, column.to_owned())));
}

#[test]
fn days_that_can_be_two_are_asked_for_once_said_they_are_read() {
    let text = "date,yard,doubles\n3/7/2026,7,26\n4/7/2026,12,20\n";
    let mut bench = Bench::new();
    let got = bench.faults(text);
    assert_eq!(got.iter().map(|(code, line, _)| (*code, *line)).collect::<Vec<_>>(), [("IMP-010", 2), ("IMP-010", 3)]);
    bench.habits.dates = Some(DayOrder::MonthFirst);
    let taken = bench.read(text).unwrap();
    assert_eq!(taken.counts[1].what.on, Some(date(2026, 3, 7)));
}

#[test]
fn a_person_says_what_the_program_cannot_see() {
    let grids = Bench::grids("Wo;B;L;Volk\n7;47,5;-99,1;26\n12;47,6;-99,2;20\n");
    let bench = Bench::new();
    assert_eq!(bench.taken(&grids, &bench.proposed(&grids)).unwrap_err()[0].code, "IMP-004");
    let wishes = Wishes { sheet: None, subject: Some(Subject::Yards), habits: bench.habits, jobs: &bench.jobs };
    let mut sheets = propose(&grids, &wishes);
    assert_eq!(bench.taken(&grids, &sheets).unwrap_err()[0].code, "IMP-005");
    for choice in ["yard=Wo", "latitude=B", "longitude=L", "doubles=Volk"] {
        lay_over(choice, &grids, &mut sheets).unwrap();
    }
    let taken = bench.taken(&grids, &sheets).unwrap();
    assert_eq!((taken.yards.len(), taken.colonies()), (2, 46));
}

#[test]
fn tallies_that_differ_are_left_to_a_person() {
    let bench = Bench::new();
    let text = "date,yard,job,doubles,minutes\n2025-07-03,7,pull,26,150\n";
    let taken = bench.read(text).unwrap();
    let mut book = Vec::new();
    into_book(&mut book, &taken);
    let other = bench.read(&text.replace("26,150", "25,150")).unwrap();
    let mut both = against(&other, &[], TODAY);
    both.write[0].corrects = None;
    written(&mut book, &both);
    book.last_mut().unwrap().device = "phone-b".parse().unwrap();
    assert_eq!(fold(&book).conflicts.len(), 1);
    let plan = against(&taken, &book, TODAY);
    assert_eq!((plan.write.len(), plan.notes[0].code), (0, "IMP-109"));
}
