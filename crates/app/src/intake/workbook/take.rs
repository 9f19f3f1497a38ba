//! From mapped rows to what they tell: every fault of every row in one pass, each with sheet, row and column.

#![expect(clippy::option_option, reason = "outside: could it be read; inside: was there anything")]

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use jiff::tz::TimeZone;
use outyard_base::trouble::Spot;
use outyard_base::{Metres, Minutes, Note, Place, Share, Trouble, TruckId, YardId};
use outyard_book::{JobDone, OddCounts, Tally, YardKept};
use outyard_season::{PlantCode, PlantTable};
use outyard_trade::jobbook::JobBook;
use outyard_trade::{Kind, KindCounts};

use super::fields::{COLONIES_MOST, Sort, Subject};
use super::grid::{Cell, Grid, GridRow, column_letters};
use super::propose::SheetMapping;
use super::read_cell::{Standing, read_job, read_standing};
use super::values::{
    Axis, Told, Unit, fault, plain_letters, read_clock_cell, read_day, read_degrees, read_moment, read_place,
    read_quantity, read_whole, read_yes_no, says_none,
};
use crate::intake::yards_file::read_forage;
use crate::situation::{SCALE, WEATHER};
use crate::tally::Extra;

/// When more than this share of a scale's weights must be set aside, the unit is wrong. Assumed.
const SET_ASIDE_SHARE_MAX: f64 = 0.1;

/// What is known before a workbook is taken in.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// Yards of the book, with what people call them.
    pub yards: &'a BTreeMap<YardId, String>,
    /// The job book.
    pub jobs: &'a JobBook,
    /// The plant table.
    pub plants: &'a PlantTable,
    /// The morning: nothing later can have happened.
    pub today: Date,
    /// The outfit's clock.
    pub zone: &'a TimeZone,
    /// Home base, where a station stands of which nobody said where.
    pub home: (Place, Metres),
    /// Where each known station stands.
    pub stations: &'a BTreeMap<String, (Place, Metres)>,
    /// The yard of each known scale.
    pub scales: &'a BTreeMap<String, YardId>,
}

/// Something told by a row, and where.
#[derive(Clone, Debug, PartialEq)]
pub struct RowTold<T> {
    /// Its first row.
    pub place: Spot,
    /// What it tells.
    pub what: T,
}

/// A yard as a row tells it.
#[derive(Clone, Debug, PartialEq)]
pub struct YardTold {
    /// What is told; what the sheet has no column for is empty.
    pub kept: YardKept,
    /// Fields the sheet has a column for.
    pub tells: BTreeSet<&'static str>,
}

/// A count of colonies.
#[derive(Clone, Debug, PartialEq)]
pub struct CountTold {
    /// The yard.
    pub yard: YardId,
    /// The day; `None` when the sheet does not say.
    pub on: Option<Date>,
    /// Colonies by kind.
    pub counts: KindCounts,
}

/// A closed visit.
#[derive(Clone, Debug, PartialEq)]
pub struct VisitTold {
    /// The day.
    pub on: Date,
    /// The tally.
    pub tally: Tally,
}

/// Readings of a station or a scale, as the text that is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct SeriesTold {
    /// What it holds, as [`outyard_book::SeriesKept::what`] says it.
    pub what: &'static str,
    /// The station or the scale.
    pub source: String,
    /// The yard of a scale.
    pub yard: Option<YardId>,
    /// Where a station stands.
    pub station: Option<(Place, Metres)>,
    /// The readings under our own column names.
    pub text: String,
    /// How many.
    pub rows: u64,
    /// First day.
    pub from: Date,
    /// Last day.
    pub to: Date,
}

/// All a workbook tells.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Taken {
    /// Yards.
    pub yards: Vec<RowTold<YardTold>>,
    /// Counts of colonies.
    pub counts: Vec<RowTold<CountTold>>,
    /// Closed visits.
    pub visits: Vec<RowTold<VisitTold>>,
    /// Series of readings.
    pub series: Vec<RowTold<SeriesTold>>,
    /// Rows read, by sheet.
    pub rows: BTreeMap<String, usize>,
    /// What is worth knowing.
    pub notes: Vec<Note>,
}

impl Taken {
    /// Colonies of all counts: of each yard the latest.
    pub fn colonies(&self) -> u32 {
        let mut latest: BTreeMap<&YardId, (Option<Date>, KindCounts)> = BTreeMap::new();
        for count in &self.counts {
            let known = latest.entry(&count.what.yard).or_insert((count.what.on, count.what.counts));
            if count.what.on >= known.0 {
                *known = (count.what.on, count.what.counts);
            }
        }
        latest.values().map(|(_, counts)| counts.total()).sum()
    }
}

/// Takes all mapped sheets in.
///
/// # Errors
/// All faults of all sheets at once, each with sheet, row and column; `docs/errors/` has a paragraph for each code.
pub fn take_in(file: &str, grids: &[Grid], sheets: &[SheetMapping], known: &Known<'_>) -> Result<Taken, Vec<Trouble>> {
    let mut taking = Taking { known, taken: Taken::default(), faults: Vec::new(), names: BTreeMap::new() };
    for (yard, name) in known.yards {
        taking.names.insert(yard_key(yard.as_str()), yard.clone());
        taking.learn_name(yard, name);
    }
    let mut in_order: Vec<(&SheetMapping, &Grid, Subject)> = sheets
        .iter()
        .filter_map(|sheet| {
            let grid = grids.iter().find(|grid| grid.name == sheet.sheet)?;
            sheet.subject.map(|subject| (sheet, grid, subject))
        })
        .collect();
    // Yards first: the other sheets name them.
    in_order.sort_by_key(|(.., subject)| *subject);
    if in_order.is_empty() {
        let why: Vec<String> = sheets.iter().map(|sheet| format!("\"{}\": {}", sheet.sheet, sheet.why_out)).collect();
        return Err(vec![
            Trouble::new(
                "IMP-004",
                format!("no sheet of it can be taken in ({})", why.join("; ")),
                "name the sheet and what it holds with --sheet and --what, or write a mapping with --mapping-to",
            )
            .at(Spot::file(file)),
        ]);
    }
    let lacking: Vec<Trouble> = in_order
        .iter()
        .filter_map(|(sheet, _, subject)| {
            let lacks = subject.lacks(|field| sheet.columns.contains_key(field))?;
            Some(
                Trouble::new(
                    "IMP-005",
                    format!("no column of sheet \"{}\" was found for {lacks}", sheet.sheet),
                    "say which one it is with --map field=column, or in the mapping",
                )
                .at(Spot::file(file)),
            )
        })
        .collect();
    if !lacking.is_empty() {
        return Err(lacking);
    }
    for (sheet, grid, subject) in in_order {
        let label = if sheet.sheet.is_empty() { file.to_owned() } else { format!("{file}, sheet {}", sheet.sheet) };
        let rows = taking.rows_of(&label, sheet, grid);
        taking.taken.rows.insert(sheet.sheet.clone(), rows.len());
        let read: Vec<RowReader<'_>> = rows.into_iter().map(|row| RowReader { label: &label, sheet, row }).collect();
        match subject {
            Subject::Yards => taking.yards(&read),
            Subject::Counts => taking.counts(&read),
            Subject::Tallies => taking.tallies(&read),
            Subject::Weather => taking.weather(&label, sheet, &read),
            Subject::Scale => taking.scale(&label, sheet, &read),
        }
    }
    if taking.faults.is_empty() { Ok(taking.taken) } else { Err(taking.faults) }
}

/// By what yards of several spellings are known to be one: small letters, single blanks, no word for yard before it.
fn yard_key(text: &str) -> String {
    let plain = plain_letters(text);
    let words: Vec<&str> = plain.split_whitespace().collect();
    let words = match words.as_slice() {
        ["yard" | "apiary" | "apiario" | "colmenar" | "rucher" | "site" | "stand", rest @ ..] if !rest.is_empty() => {
            rest
        }
        all => all,
    };
    words.join(" ").trim_start_matches('#').trim().to_owned()
}

/// A row and how its columns are to be read.
#[derive(Clone, Copy)]
struct RowReader<'a> {
    label: &'a str,
    sheet: &'a SheetMapping,
    row: &'a GridRow,
}

impl<'a> RowReader<'a> {
    fn cell(&self, field: &str) -> Option<&'a Cell> {
        let column = self.sheet.columns.get(field)?;
        self.row.cell(column.column).filter(|cell| !says_none(cell))
    }

    fn spot(&self, field: &str) -> Spot {
        let column = self.sheet.columns.get(field).map_or_else(
            || field.to_owned(),
            |column| {
                let letters = column_letters(column.column);
                if column.header.is_empty() { letters } else { format!("{letters} ({})", column.header) }
            },
        );
        Spot::file(self.label).line(self.row.line).column(column)
    }

    fn place(&self) -> Spot {
        Spot::file(self.label).line(self.row.line)
    }
}

struct Taking<'a> {
    known: &'a Known<'a>,
    taken: Taken,
    faults: Vec<Trouble>,
    /// Yards by each of their spellings.
    names: BTreeMap<String, YardId>,
}

/// Words at the beginning of a row that only adds up.
const SUM_WORDS: [&str; 14] = [
    "total",
    "totals",
    "totales",
    "totaux",
    "subtotal",
    "sum",
    "suma",
    "somme",
    "grand total",
    "average",
    "mean",
    "promedio",
    "moyenne",
    "in all",
];

fn is_sum_word(cell: &Cell) -> bool {
    let Cell::Text(text) = cell else { return false };
    let plain = plain_letters(text.trim());
    let plain = plain.trim_end_matches([':', '.', '=', ' ']);
    SUM_WORDS.contains(&plain) || plain.starts_with("total ") || plain.ends_with(" total")
}

impl<'a> Taking<'a> {
    fn learn_name(&mut self, yard: &YardId, name: &str) {
        let key = yard_key(name);
        if !key.is_empty() {
            self.names.entry(key).or_insert_with(|| yard.clone());
        }
    }

    /// The rows that tell something: no blank ones, no sums, no header repeated.
    fn rows_of(&mut self, label: &str, sheet: &SheetMapping, grid: &'a Grid) -> Vec<&'a GridRow> {
        let header = grid.rows.iter().find(|row| row.line == sheet.header.1);
        let used: Vec<usize> = sheet.columns.values().map(|column| column.column).collect();
        let numeric: Vec<usize> = sheet
            .columns
            .iter()
            .filter(|(field, _)| {
                let sort = sheet.subject.and_then(|subject| subject.field(field)).map(|field| field.sort);
                matches!(sort, Some(Sort::Count(_) | Sort::Quantity(..)))
            })
            .map(|(_, column)| column.column)
            .collect();
        let mut sums: BTreeMap<usize, f64> = BTreeMap::new();
        let (mut rows, mut summed, mut repeated, mut beside) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for row in sheet.rows(grid) {
            let here: Vec<(usize, &Cell)> =
                used.iter().filter_map(|column| row.cell(*column).map(|cell| (*column, cell))).collect();
            if row.cells.iter().take(3).any(|(_, cell)| is_sum_word(cell)) {
                summed.push(row.line);
                continue;
            }
            if here.is_empty() {
                beside.push(row.line);
                continue;
            }
            let again = header.is_some_and(|header| {
                here.len() > 1 && here.iter().all(|(column, cell)| header.cell(*column) == Some(*cell))
            });
            if again {
                repeated.push(row.line);
                continue;
            }
            let numbers: Vec<(usize, f64)> = here
                .iter()
                .filter(|(column, _)| numeric.contains(column))
                .filter_map(|(column, cell)| {
                    read_quantity(cell, sheet.habits, false).ok().map(|(number, _)| (*column, number))
                })
                .collect();
            let adds_up = numbers.len() == here.len()
                && rows.len() > 1
                && numbers.iter().any(|(_, number)| *number != 0.0)
                && numbers.iter().all(|(column, number)| {
                    sums.get(column).is_some_and(|sum| (sum - number).abs() < 1e-6 * sum.abs().max(1.0))
                });
            if adds_up {
                summed.push(row.line);
                continue;
            }
            for (column, number) in numbers {
                *sums.entry(column).or_default() += number;
            }
            rows.push(row);
        }
        for (code, lines, what) in [
            ("IMP-102", summed, "only add up and were passed over"),
            ("IMP-103", repeated, "repeat the header and were passed over"),
            ("IMP-104", beside, "have nothing in the columns taken in and were passed over"),
        ] {
            if !lines.is_empty() {
                let first: Vec<String> = lines.iter().take(8).map(ToString::to_string).collect();
                let more = if lines.len() > 8 { ", ..." } else { "" };
                let note = format!("{} rows {what}: {}{more}", lines.len(), first.join(", "));
                self.taken.notes.push(Note::new(code, note).at(Spot::file(label)));
            }
        }
        rows
    }

    /// Reads a cell; an empty one is `Some(None)`, a fault is kept and gives `None`.
    fn maybe<T>(
        &mut self,
        row: &RowReader<'_>,
        field: &str,
        read: impl FnOnce(&Cell) -> Result<T, Trouble>,
    ) -> Option<Option<T>> {
        match row.cell(field).map(read) {
            None => Some(None),
            Some(Ok(value)) => Some(Some(value)),
            Some(Err(trouble)) => {
                self.faults.push(trouble.at(row.spot(field)));
                None
            }
        }
    }

    /// Reads a cell that must hold something.
    fn must<T>(
        &mut self,
        row: &RowReader<'_>,
        field: &str,
        read: impl FnOnce(&Cell) -> Result<T, Trouble>,
    ) -> Option<T> {
        let read = self.maybe(row, field, read)?;
        if read.is_none() {
            self.faults.push(
                fault("TAB-007", "the field is empty", "fill it in, or leave the whole row out").at(row.spot(field)),
            );
        }
        read
    }

    fn words(row: &RowReader<'_>, field: &str) -> String {
        row.cell(field).map(Cell::text).unwrap_or_default()
    }

    fn quantity(&mut self, row: &RowReader<'_>, subject: Subject, field: &str) -> Option<Option<f64>> {
        let Some(Sort::Quantity(measure, least, most)) = subject.field(field).map(|field| field.sort) else {
            return Some(None);
        };
        let usual = row.sheet.columns.get(field).and_then(|column| column.unit).unwrap_or_else(|| Unit::ours(measure));
        let habits = row.sheet.habits;
        self.maybe(row, field, |cell| {
            let (number, rest) = read_quantity(cell, habits, false)?;
            let unit = if rest.is_empty() {
                usual
            } else {
                Unit::of_word(measure, &rest).ok_or_else(|| {
                    fault(
                        "IMP-019",
                        format!("\"{}\" is no unit of {field}", rest.chars().take(20).collect::<String>()),
                        "write the number alone; the unit stands in the header or the mapping",
                    )
                })?
            };
            let ours = unit.to_ours(number);
            if (least - 1e-9..=most + 1e-9).contains(&ours) {
                return Ok(ours);
            }
            Err(fault(
                "IMP-016",
                format!("{number} {} is outside {least} to {most} {}", unit.code, Unit::ours(measure).code),
                "see whether the unit is right, and the number in its column",
            ))
        })
    }

    fn count(&mut self, row: &RowReader<'_>, field: &str, most: u32) -> Option<Option<u32>> {
        let habits = row.sheet.habits;
        self.maybe(row, field, |cell| read_whole(cell, habits, most))
    }

    /// The wide columns of kinds; `None` when the sheet has none of them filled.
    fn kinds(&mut self, row: &RowReader<'_>) -> Option<Option<KindCounts>> {
        let columns = [
            ("doubles", Kind::Double),
            ("singles", Kind::Single),
            ("splits", Kind::Split),
            ("weak", Kind::Weak),
            ("queenless", Kind::Queenless),
        ];
        let mut counts = KindCounts::NONE;
        let (mut any, mut good) = (false, true);
        for (field, kind) in columns {
            match self.count(row, field, COLONIES_MOST) {
                Some(Some(count)) => {
                    counts.set(kind, count);
                    any = true;
                }
                Some(None) => {}
                None => good = false,
            }
        }
        good.then_some(any.then_some(counts))
    }

    fn day(&mut self, row: &RowReader<'_>, field: &str, late: (&'static str, &'static str)) -> Option<Option<Date>> {
        let (habits, today) = (row.sheet.habits, self.known.today);
        self.maybe(row, field, |cell| {
            let day = read_day(cell, habits)?;
            if day <= today {
                return Ok(day);
            }
            Err(fault(late.0, format!("{day} has not come yet"), late.1))
        })
    }

    /// The yard a cell names, as the book or a sheet of yards spells it.
    fn yard(&mut self, row: &RowReader<'_>) -> Option<YardId> {
        let names = self.names.clone();
        self.must(row, "yard", |cell| {
            let text = cell.text();
            names.get(&yard_key(&text)).cloned().ok_or_else(|| {
                fault(
                    "IMP-020",
                    format!(
                        "no yard \"{}\" in the book or in a sheet of yards",
                        text.chars().take(40).collect::<String>()
                    ),
                    "correct its name, or take the yard in first; `outyard yards` lists them",
                )
            })
        })
    }

    fn yards(&mut self, rows: &[RowReader<'_>]) {
        let mut seen: BTreeMap<String, (usize, YardKept)> = BTreeMap::new();
        let tells: BTreeSet<&'static str> =
            rows.first().map(|row| row.sheet.columns.keys().copied().collect()).unwrap_or_default();
        for row in rows {
            let yard = self.must(row, "yard", |cell| {
                let text = cell.text().split_whitespace().collect::<Vec<_>>().join(" ");
                YardId::new(&text)
                    .map_err(|bad| fault("YRD-001", bad.to_string(), "choose a short name, such as 7 or North 3"))
            });
            let kept = self.yard_row(row);
            let counts = self.kinds(row);
            let on = self.day(row, "counted_on", ("YRD-006", "correct the date of the count"));
            let Some(yard) = yard else { continue };
            let key = yard_key(yard.as_str());
            let known = self.names.get(&key).cloned();
            // A yard the book spells otherwise keeps the book's spelling.
            let yard = known.filter(|known| self.known.yards.contains_key(known)).unwrap_or(yard);
            let Some(kept) = kept.map(|kept| YardKept { yard: yard.clone(), ..kept }) else {
                seen.entry(key.clone()).or_insert((row.row.line, YardKept::new(yard.clone())));
                self.names.entry(key).or_insert(yard);
                continue;
            };
            if let Some((line, before)) = seen.get(&key) {
                if *before == kept {
                    let note = format!("yard {yard} stands on row {line} already, word for word; it counts once");
                    self.taken.notes.push(Note::new("IMP-105", note).at(row.place()));
                } else {
                    self.faults.push(
                        fault(
                            "YRD-002",
                            format!("yard {yard} stands on row {line} already"),
                            "keep one of the two rows",
                        )
                        .at(row.spot("yard")),
                    );
                }
                continue;
            }
            seen.insert(key.clone(), (row.row.line, kept.clone()));
            self.names.insert(key, yard.clone());
            self.learn_name(&yard, &kept.name);
            self.taken.yards.push(RowTold { place: row.place(), what: YardTold { kept, tells: tells.clone() } });
            if let (Some(Some(counts)), Some(on)) = (counts, on) {
                self.taken.counts.push(RowTold { place: row.place(), what: CountTold { yard, on, counts } });
            }
        }
    }

    fn yard_row(&mut self, row: &RowReader<'_>) -> Option<YardKept> {
        let west = row.sheet.columns.get("longitude").is_some_and(|column| column.west);
        let place = if row.sheet.columns.contains_key("latitude") {
            let north = self.must(row, "latitude", |cell| read_degrees(cell, Axis::North, false));
            let east = self.must(row, "longitude", |cell| read_degrees(cell, Axis::East, west));
            north.zip(east).and_then(|(north, east)| Place::new(north, east).ok())
        } else {
            self.must(row, "place", |cell| {
                let (north, east) = read_place(cell)?;
                Place::new(north, east)
            })
        };
        let elevation = self.quantity(row, Subject::Yards, "elevation");
        let plants = self.known.plants;
        let forage = self.maybe(row, "forage", |cell| {
            let forage = read_forage(&cell.text())?;
            match forage
                .iter()
                .find(|stand| PlantCode::new(&stand.plant).map_or(true, |code| plants.get(&code).is_none()))
            {
                Some(stand) => Err(fault(
                    "PLT-007",
                    format!("no plant \"{}\" in the plant table", stand.plant),
                    "use a code `outyard plants` lists, or add the plant to your own table",
                )),
                None => Ok(forage),
            }
        });
        let wet_road = self.maybe(row, "wet_road", read_yes_no);
        let forage = forage?.unwrap_or_default();
        Some(YardKept {
            name: Self::words(row, "name"),
            place: Some(place?),
            elevation: elevation?.map(Metres::of),
            group: Self::words(row, "group"),
            gate: Self::words(row, "gate"),
            wet_road: wet_road?.unwrap_or(false),
            landowner: Self::words(row, "landowner"),
            forage: forage
                .into_iter()
                .map(|stand| outyard_book::Forage {
                    plant: stand.plant,
                    weight: stand.weight.get(),
                    seeded_on: stand.seeded,
                })
                .collect(),
            ..YardKept::new(YardId::new("?").expect("a question mark is a name"))
        })
    }

    fn counts(&mut self, rows: &[RowReader<'_>]) {
        let mut sums: BTreeMap<(YardId, Option<Date>), (Spot, KindCounts)> = BTreeMap::new();
        let mut marks: BTreeMap<(YardId, Option<Date>, String), usize> = BTreeMap::new();
        let mut gone = 0_usize;
        for row in rows {
            let by_kind = row.sheet.columns.contains_key("kind");
            let yard = self.yard(row);
            let on = self.day(row, "date", ("YRD-006", "correct the date of the count"));
            let counts =
                if by_kind { self.one_kind(row, &mut gone) } else { self.kinds(row).map(Option::unwrap_or_default) };
            let (Some(yard), Some(on), Some(counts)) = (yard, on, counts) else { continue };
            let mark = Self::words(row, "colony");
            if !mark.is_empty()
                && let Some(line) = marks.insert((yard.clone(), on, mark.to_lowercase()), row.row.line)
            {
                self.faults.push(
                    fault(
                        "IMP-023",
                        format!("colony {mark} of yard {yard} stands on row {line} already"),
                        "keep one of the two rows, or give one of them its right mark",
                    )
                    .at(row.spot("colony")),
                );
                continue;
            }
            let sum = sums.entry((yard.clone(), on)).or_insert_with(|| (row.place(), KindCounts::NONE));
            if !by_kind && !sum.1.is_empty() {
                self.faults.push(
                    fault(
                        "IMP-024",
                        format!("yard {yard} was counted on that day in an earlier row already"),
                        "keep one count for each yard and day",
                    )
                    .at(row.spot("yard")),
                );
                continue;
            }
            sum.1 += counts;
        }
        if gone > 0 {
            self.taken
                .notes
                .push(Note::new("IMP-106", format!("{gone} rows are of dead or empty hives and count no colony")));
        }
        for ((yard, on), (place, counts)) in sums {
            self.taken.counts.push(RowTold { place, what: CountTold { yard, on, counts } });
        }
    }

    fn one_kind(&mut self, row: &RowReader<'_>, gone: &mut usize) -> Option<KindCounts> {
        let kind = self.must(row, "kind", read_standing);
        let count = self.count(row, "count", COLONIES_MOST);
        let count = count?.unwrap_or(1);
        match kind? {
            Standing::Is(kind) => Some(KindCounts::of(&[(kind, count)])),
            Standing::Gone => {
                *gone += 1;
                Some(KindCounts::NONE)
            }
        }
    }

    fn tallies(&mut self, rows: &[RowReader<'_>]) {
        let mut visits: Vec<RowTold<VisitTold>> = Vec::new();
        for row in rows {
            let on = self.day(row, "date", ("TLY-006", "correct the date; a visit is closed when it is done"));
            if on == Some(None) {
                self.faults.push(
                    fault("TAB-007", "the field is empty", "fill it in, or leave the whole row out")
                        .at(row.spot("date")),
                );
            }
            let yard = self.yard(row);
            let jobs = self.known.jobs;
            let job = self.must(row, "job", |cell| read_job(cell, jobs));
            let done = self.kinds(row);
            let extra = self.extra(row);
            let (Some(Some(on)), Some(yard), Some(job), Some(done), Some(extra)) = (on, yard, job, done, extra) else {
                continue;
            };
            let done = done.unwrap_or_default();
            let stranger =
                jobs.jobs.get(&job).and_then(|rule| done.iter().find(|(kind, _)| !rule.kinds.contains(kind)));
            if let Some((kind, count)) = stranger {
                let field = match kind {
                    Kind::Double => "doubles",
                    Kind::Single => "singles",
                    Kind::Split => "splits",
                    Kind::Weak => "weak",
                    Kind::Queenless => "queenless",
                };
                self.faults.push(
                    fault(
                        "TLY-004",
                        format!("{job} is no job for {count} {}", kind.label(count)),
                        "see whether the number stands in the wrong column, or the job is another one",
                    )
                    .at(row.spot(field)),
                );
                continue;
            }
            let at = visits.iter().position(|told| told.what.on == on && told.what.tally.yard == yard).unwrap_or_else(
                || {
                    visits
                        .push(RowTold { place: row.place(), what: VisitTold { on, tally: Tally::new(yard.clone()) } });
                    visits.len() - 1
                },
            );
            let tally = &mut visits[at].what.tally;
            if tally.jobs.iter().any(|known| known.job == job) {
                self.faults.push(
                    fault(
                        "TLY-008",
                        format!("{job} of yard {yard} on {on} stands in an earlier row already"),
                        "keep one of the rows; two crews in one yard write a file each",
                    )
                    .at(row.spot("job")),
                );
                continue;
            }
            extra.put_into(tally);
            tally.jobs.push(JobDone { job, done, undone: KindCounts::NONE });
            tally.odd = OddCounts::default();
        }
        self.taken.visits.extend(visits);
    }

    fn extra(&mut self, row: &RowReader<'_>) -> Option<Extra> {
        let gear = ["boxes_on", "boxes_off", "boxes_left", "excluders_on", "excluders_off"].map(|field| {
            let most = match Subject::Tallies.field(field).map(|field| field.sort) {
                Some(Sort::Count(most)) => most,
                _ => 0,
            };
            (field, self.count(row, field, most))
        });
        let full = self.quantity(row, Subject::Tallies, "full");
        let minutes = self.quantity(row, Subject::Tallies, "minutes");
        let hands = self.count(row, "hands", 30);
        let truck = self.maybe(row, "truck", |cell| {
            TruckId::new(&cell.text())
                .map_err(|bad| fault("TLY-005", bad.to_string(), "name the truck as outfit.toml does"))
        });
        let mut counts = Vec::new();
        for (field, count) in gear {
            if let Some(count) = count? {
                counts.push((field, count));
            }
        }
        Some(Extra {
            gear: counts,
            full: full?.map(|percent| Share::of((percent / 100.0).clamp(0.0, 1.0))),
            minutes: minutes?.map(Minutes::ceil_of),
            hands: hands?.filter(|hands| *hands > 0),
            truck: truck?,
            note: Self::words(row, "note"),
        })
    }

    fn weather(&mut self, label: &str, sheet: &SheetMapping, rows: &[RowReader<'_>]) {
        let mut days: BTreeMap<Date, (usize, [Option<f64>; 5])> = BTreeMap::new();
        for row in rows {
            let on = self.day(
                row,
                "date",
                ("WTH-007", "correct the date; a forecast goes in with `outyard weather import --forecast`"),
            );
            if on == Some(None) {
                self.faults.push(
                    fault("TAB-007", "the field is empty", "fill it in, or leave the whole row out")
                        .at(row.spot("date")),
                );
            }
            let mut good = true;
            let readings = ["low", "high", "rain", "wind", "sun"].map(|field| {
                let read = self.quantity(row, Subject::Weather, field);
                good &= read.is_some();
                read.flatten()
            });
            let (true, Some(Some(on))) = (good, on) else { continue };
            if let [Some(low), Some(high), ..] = readings
                && low > high
            {
                self.faults.push(
                    fault(
                        "WTH-003",
                        format!("the low {low:.1} °C is above the high {high:.1} °C"),
                        "see whether the two columns are swapped",
                    )
                    .at(row.spot("low")),
                );
                continue;
            }
            match days.get(&on) {
                Some((_, before)) if *before == readings => {}
                Some((line, _)) => self.faults.push(
                    fault("WTH-002", format!("{on} stands on row {line} already"), "keep one row for each day")
                        .at(row.spot("date")),
                ),
                None => {
                    days.insert(on, (row.row.line, readings));
                }
            }
        }
        let (Some((first, _)), Some((last, _))) = (days.first_key_value(), days.last_key_value()) else { return };
        let (from, to) = (*first, *last);
        let station = match (sheet.station, self.known.stations.get(&sheet.source)) {
            (Some((north, east, metres)), _) => match Place::new(north, east) {
                Ok(place) => (place, Metres::of(metres)),
                Err(trouble) => {
                    self.faults.push(trouble.at(Spot::file(label)));
                    return;
                }
            },
            (None, Some(known)) => *known,
            (None, None) => {
                let note = format!(
                    "nobody said where station {} stands; it is taken to stand at home (station = [north, east, metres] in the mapping)",
                    sheet.source
                );
                self.taken.notes.push(Note::new("IMP-107", note).at(Spot::file(label)));
                self.known.home
            }
        };
        let mut text = String::from("date,low_c,high_c,rain_mm,wind_km_per_h,sun_mj_per_m2\n");
        for (day, (_, readings)) in &days {
            let cells: Vec<String> = readings.iter().map(|reading| reading.map(rounded).unwrap_or_default()).collect();
            text.push_str(&format!("{day},{}\n", cells.join(",")));
        }
        self.taken.series.push(RowTold {
            place: Spot::file(label),
            what: SeriesTold {
                what: WEATHER,
                source: sheet.source.clone(),
                yard: None,
                station: Some(station),
                text,
                rows: days.len() as u64,
                from,
                to,
            },
        });
    }

    fn scale(&mut self, label: &str, sheet: &SheetMapping, rows: &[RowReader<'_>]) {
        let yard = self.yard_of_scale(label, sheet);
        let mut readings: BTreeMap<jiff::Timestamp, f64> = BTreeMap::new();
        let (mut aside, mut twice) = (0_usize, 0_usize);
        for row in rows {
            let at = self.instant(row);
            // What no hive can weigh is a slip of the scale, not of the hand: set aside and counted.
            let before = self.faults.len();
            let weight = self.quantity(row, Subject::Scale, "weight");
            if self.faults.len() > before && self.faults.last().is_some_and(|fault| fault.code == "IMP-016") {
                self.faults.pop();
                aside += 1;
                continue;
            }
            let (Some(at), Some(Some(weight))) = (at, weight) else { continue };
            if readings.insert(at, weight).is_some_and(|before| (before - weight).abs() > 1e-9) {
                twice += 1;
            }
        }
        #[expect(clippy::cast_precision_loss, reason = "rows of a sheet")]
        let share_aside = aside as f64 / (aside + readings.len()).max(1) as f64;
        if share_aside > SET_ASIDE_SHARE_MAX {
            let column = sheet.columns.get("weight").map(|column| column_letters(column.column)).unwrap_or_default();
            self.faults.push(
                fault(
                    "SCL-003",
                    format!("{aside} of {} weights are outside what a hive scale shows", aside + readings.len()),
                    "see whether the column holds another unit; name it in the mapping, such as weight = \"C lb\"",
                )
                .at(Spot::file(label).column(column)),
            );
            return;
        }
        if aside > 0 {
            let note = format!("{aside} weights no hive can have were set aside");
            self.taken.notes.push(Note::new("SCL-006", note).at(Spot::file(label)));
        }
        if twice > 0 {
            let note = format!("{twice} moments stand there twice; the later row counts");
            self.taken.notes.push(Note::new("IMP-108", note).at(Spot::file(label)));
        }
        let day = |at: &jiff::Timestamp| self.known.zone.to_datetime(*at).date();
        let (Some(from), Some(to)) = (readings.keys().next().map(day), readings.keys().next_back().map(day)) else {
            return;
        };
        let mut text = String::from("time,weight_kg\n");
        for (at, weight) in &readings {
            text.push_str(&format!("{at},{}\n", rounded(*weight)));
        }
        let Some(yard) = yard else { return };
        self.taken.series.push(RowTold {
            place: Spot::file(label),
            what: SeriesTold {
                what: SCALE,
                source: sheet.source.clone(),
                yard: Some(yard),
                station: None,
                text,
                rows: readings.len() as u64,
                from,
                to,
            },
        });
    }

    fn yard_of_scale(&mut self, label: &str, sheet: &SheetMapping) -> Option<YardId> {
        let told = if sheet.yard.is_empty() {
            self.known.scales.get(&sheet.source).cloned()
        } else {
            self.names.get(&yard_key(&sheet.yard)).cloned()
        };
        if told.is_none() {
            let cause = if sheet.yard.is_empty() {
                format!("nobody said in which yard scale {} stands", sheet.source)
            } else {
                format!("no yard \"{}\" in the book or in a sheet of yards", sheet.yard)
            };
            self.faults.push(
                fault("IMP-021", cause, "say it with yard = \"7\" in the mapping, or --yard").at(Spot::file(label)),
            );
        }
        told
    }

    fn instant(&mut self, row: &RowReader<'_>) -> Option<jiff::Timestamp> {
        let habits = row.sheet.habits;
        let told = if row.sheet.columns.contains_key("time") {
            self.must(row, "time", |cell| read_moment(cell, habits))?
        } else {
            let day = self.must(row, "date", |cell| read_day(cell, habits));
            let clock = self.must(row, "clock", read_clock_cell);
            Told::Local(day?.to_datetime(clock?))
        };
        match told {
            Told::Exact(at) => Some(at),
            Told::Local(at) => at.to_zoned_datetime(self.known.zone.clone()).ok().map(|at| at.timestamp()),
        }
    }
}

/// A number as a table writes it: no more digits than a thermometer or a scale has.
fn rounded(number: f64) -> String {
    let text = format!("{number:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
