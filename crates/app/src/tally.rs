//! Tallies as people type them: one on the command line, or a table of them in the evening.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::days::read_date;
use outyard_base::trouble::Spot;
use outyard_base::{GearCode, JobCode, Minutes, Share, Trouble, TruckId};
use outyard_book::{GearCounts, JobDone, OddCounts, Tally};
use outyard_trade::jobbook::JobBook;
use outyard_trade::{Kind, KindCounts};

use crate::intake::table::{ColumnMap, ColumnRule, Faults, Row, Table, read_count, read_number};
use crate::intake::yards_file::read_yard_name;

/// Most colonies of one kind in one tally; past it the number stands in the wrong place.
const COLONIES_MAX: u32 = 2000;
/// Kind of box the plain box columns of a table count.
const USUAL_BOX: &str = "deep";

/// Reads `single-down-blow:double=26,split=6`.
///
/// # Errors
/// `TLY-001` not of that form, `TRD-010` no such job, `TLY-002` no such kind or no count.
pub fn read_job_counts(jobs: &JobBook, text: &str) -> Result<(JobCode, KindCounts), Trouble> {
    let form = || {
        Trouble::new(
            "TLY-001",
            format!("\"{text}\" does not say what was done to how many"),
            "write it as job:kind=count, such as single-down-blow:double=26 or add-boxes:single=24,split=6",
        )
    };
    let (job, counts) = text.split_once(':').ok_or_else(form)?;
    let job = jobs.job(job)?.code.clone();
    let mut done = KindCounts::NONE;
    for part in counts.split(',').filter(|part| !part.trim().is_empty()) {
        let (kind, count) = part.split_once('=').ok_or_else(form)?;
        let kind: Kind = kind.parse().map_err(|bad: outyard_trade::kinds::BadKind| {
            Trouble::new("TLY-002", bad.to_string(), "name one of them")
        })?;
        done.set(kind, read_colonies(count)?);
    }
    if counts.trim().is_empty() { Err(form()) } else { Ok((job, done)) }
}

fn read_colonies(text: &str) -> Result<u32, Trouble> {
    match read_count(text)? {
        count if count <= COLONIES_MAX => Ok(count),
        count => Err(Trouble::new(
            "TLY-002",
            format!("{count} colonies in one yard is past {COLONIES_MAX}"),
            "see whether the number stands in the wrong place",
        )),
    }
}

/// Puts what was done and what was left together, job by job.
///
/// # Errors
/// As [`read_job_counts`], all at once.
pub fn jobs_done(jobs: &JobBook, done: &[String], undone: &[String]) -> Result<Vec<JobDone>, Vec<Trouble>> {
    let mut faults = Faults::default();
    let mut all: BTreeMap<JobCode, JobDone> = BTreeMap::new();
    for (texts, is_done) in [(done, true), (undone, false)] {
        for text in texts {
            let Some((job, counts)) = faults.keep(read_job_counts(jobs, text)) else { continue };
            let line =
                all.entry(job.clone()).or_insert(JobDone { job, done: KindCounts::NONE, undone: KindCounts::NONE });
            if is_done {
                line.done += counts;
            } else {
                line.undone += counts;
            }
        }
    }
    faults.or(all.into_values().collect())
}

/// Reads odd hives: `dead=1`, `queenless=1`, `swarmed=2`, `weak=1`.
///
/// # Errors
/// `TLY-003`.
pub fn read_odd(texts: &[String]) -> Result<OddCounts, Trouble> {
    let mut odd = OddCounts::default();
    for text in texts.iter().flat_map(|text| text.split(',')) {
        let bad = || {
            Trouble::new(
                "TLY-003",
                format!("\"{text}\" is no count of odd hives"),
                "write it as dead=1, queenless=1, swarmed=2 or weak=1",
            )
        };
        let (what, count) = text.split_once('=').ok_or_else(bad)?;
        let count = read_colonies(count)?;
        match what.trim() {
            "dead" => odd.dead = count,
            "queenless" => odd.queenless = count,
            "swarmed" => odd.swarmed = count,
            "weak" => odd.weak = count,
            _ => return Err(bad()),
        }
    }
    Ok(odd)
}

/// Holds a tally against what is known: a yard nobody keeps, more colonies than stand there, a job of the wrong kind.
///
/// # Errors
/// `YRD-005` no such yard, `TLY-004` more done than stood there.
pub fn check_tally(tally: &Tally, standing: Option<&KindCounts>, jobs: &JobBook) -> Result<(), Vec<Trouble>> {
    let Some(standing) = standing else {
        return Err(vec![Trouble::new(
            "YRD-005",
            format!("the book knows of no yard {}", tally.yard),
            "correct its name, or import it; `outyard yards` lists them",
        )]);
    };
    let mut faults = Faults::default();
    for line in &tally.jobs {
        let Ok(job) = jobs.job(line.job.as_str()) else { continue };
        for (kind, count) in (line.done + line.undone).iter() {
            // A count may be old, and splits may have been made since: only what is past all doubt is refused.
            let most = standing.total().max(standing.get(kind)) + 10;
            if !job.kinds.contains(&kind) || count > most {
                faults.push(Trouble::new(
                    "TLY-004",
                    format!(
                        "{}: {count} {} in yard {}, where the book has {standing}",
                        line.job,
                        kind.label(count),
                        tally.yard
                    ),
                    "correct the number or the kind; if the yard changed, import its new count first",
                ));
            }
        }
    }
    faults.or(())
}

/// What a table of tallies may hold. Rows of one yard and one date are one tally.
pub const COLUMNS: &[ColumnRule] = &[
    ColumnRule { name: "date", meaning: "the day", needed: true },
    ColumnRule { name: "yard", meaning: "short name of the yard", needed: true },
    ColumnRule { name: "job", meaning: "job, by its code in the job book", needed: true },
    ColumnRule { name: "double", meaning: "doubles done", needed: false },
    ColumnRule { name: "single", meaning: "singles done", needed: false },
    ColumnRule { name: "split", meaning: "splits done", needed: false },
    ColumnRule { name: "weak", meaning: "weak done", needed: false },
    ColumnRule { name: "queenless", meaning: "queenless done", needed: false },
    ColumnRule { name: "boxes_on", meaning: "deep boxes put on hives", needed: false },
    ColumnRule { name: "boxes_off", meaning: "deep boxes taken off hives", needed: false },
    ColumnRule { name: "boxes_left", meaning: "deep boxes left loose in the yard", needed: false },
    ColumnRule { name: "excluders_on", meaning: "excluders put on", needed: false },
    ColumnRule { name: "excluders_off", meaning: "excluders taken off", needed: false },
    ColumnRule { name: "full_percent", meaning: "how full the boxes stood", needed: false },
    ColumnRule { name: "minutes", meaning: "minutes at the yard", needed: false },
    ColumnRule { name: "hands", meaning: "people who worked", needed: false },
    ColumnRule { name: "truck", meaning: "truck the gear came on", needed: false },
    ColumnRule { name: "note", meaning: "anything worth adding", needed: false },
];

/// A tally, the day it tells of and where it was told.
#[derive(Clone, Debug, PartialEq)]
pub struct ToldTally {
    /// The day of the visit.
    pub on: Date,
    /// What was told.
    pub tally: Tally,
    /// Its first row, when it comes from a table.
    pub place: Option<Spot>,
}

/// Reads a table of tallies, in the order of the file.
///
/// # Errors
/// All faults at once, with file, line and column; `TLY-008` a job of one yard and day twice.
pub fn read_tallies(file: &str, text: &str, map: &ColumnMap, jobs: &JobBook) -> Result<Vec<ToldTally>, Vec<Trouble>> {
    let table = Table::read(file, text, COLUMNS, map)?;
    let mut faults = Faults::default();
    let mut tallies: Vec<ToldTally> = Vec::new();
    for row in table.rows() {
        let date = faults.keep(row.read("date", read_date));
        let yard = faults.keep(row.read("yard", read_yard_name));
        let line = read_line(row, jobs, &mut faults);
        let extra = read_extra(row, &mut faults);
        let (Some(date), Some(yard), Some(line), Some(extra)) = (date, yard, line, extra) else { continue };
        let at = tallies.iter().position(|told| told.on == date && told.tally.yard == yard).unwrap_or_else(|| {
            let place = Some(Spot::file(file).line(row.line()));
            tallies.push(ToldTally { on: date, tally: Tally::new(yard.clone()), place });
            tallies.len() - 1
        });
        if tallies[at].tally.jobs.iter().any(|known| known.job == line.job) {
            faults.push(
                Trouble::new(
                    "TLY-008",
                    format!("{} of yard {yard} on {date} stands there already", line.job),
                    "keep one of the rows; two crews in one yard write a file each",
                )
                .at(row.spot("job")),
            );
            continue;
        }
        extra.put_into(&mut tallies[at].tally);
        tallies[at].tally.jobs.push(line);
    }
    faults.or(tallies)
}

fn read_line(row: Row<'_>, jobs: &JobBook, faults: &mut Faults) -> Option<JobDone> {
    let job = faults.keep(row.read("job", |text| jobs.job(text).map(|job| job.code.clone())));
    let mut done = KindCounts::NONE;
    for kind in Kind::ALL {
        if let Some(Some(count)) = faults.keep(row.read_if_any(kind.code(), read_colonies)) {
            done.set(kind, count);
        }
    }
    Some(JobDone { job: job?, done, undone: KindCounts::NONE })
}

/// What a row of a table or a workbook tells besides its job.
pub(crate) struct Extra {
    /// Columns of boxes and excluders that held a count.
    pub(crate) gear: Vec<(&'static str, u32)>,
    /// How full the boxes stood.
    pub(crate) full: Option<Share>,
    /// Minutes at the yard.
    pub(crate) minutes: Option<Minutes>,
    /// People who worked.
    pub(crate) hands: Option<u32>,
    /// The truck.
    pub(crate) truck: Option<TruckId>,
    /// Anything worth adding; empty when nothing was.
    pub(crate) note: String,
}

fn read_extra(row: Row<'_>, faults: &mut Faults) -> Option<Extra> {
    let mut counts =
        |column: &'static str| faults.keep(row.read_if_any(column, read_count)).map(|count| (column, count));
    let gear = [
        counts("boxes_on")?,
        counts("boxes_off")?,
        counts("boxes_left")?,
        counts("excluders_on")?,
        counts("excluders_off")?,
    ];
    let full = faults.keep(row.read_if_any("full_percent", |text| match read_number(text)? {
        percent if (0.0..=100.0).contains(&percent) => Ok(Share::of(percent / 100.0)),
        percent => Err(Trouble::new("TAB-010", format!("{percent} % is outside 0 to 100 %"), "write percent")),
    }));
    let minutes = faults.keep(row.read_if_any("minutes", |text| match read_number(text)? {
        minutes if (0.0..=1440.0).contains(&minutes) => Ok(Minutes::ceil_of(minutes)),
        minutes => Err(Trouble::new("TAB-010", format!("{minutes} min is outside 0 to 1440 min"), "write minutes")),
    }));
    let hands = faults.keep(row.read_if_any("hands", |text| match read_count(text)? {
        hands @ 1..=30 => Ok(hands),
        hands => Err(Trouble::new("TAB-010", format!("{hands} hands is outside 1 to 30"), "count the people")),
    }));
    let truck = faults.keep(row.read_if_any("truck", |text| {
        TruckId::new(text).map_err(|bad| Trouble::new("TLY-005", bad.to_string(), "name the truck as outfit.toml does"))
    }));
    Some(Extra {
        gear: gear.into_iter().filter_map(|(column, count)| Some((column, count?))).collect(),
        full: full?,
        minutes: minutes?,
        hands: hands?,
        truck: truck?,
        note: row.text("note").unwrap_or_default().to_owned(),
    })
}

impl Extra {
    /// Adds it to the tally of its yard and day.
    pub(crate) fn put_into(self, tally: &mut Tally) {
        let gear = |code: &str| GearCode::new(code).expect("a short plain code");
        for (column, count) in self.gear {
            let (counts, code) = match column {
                "boxes_on" => (&mut tally.boxes_on, USUAL_BOX),
                "boxes_off" => (&mut tally.boxes_off, USUAL_BOX),
                "boxes_left" => (&mut tally.boxes_left, USUAL_BOX),
                "excluders_on" => (&mut tally.gear_put, "excluder"),
                _ => (&mut tally.gear_taken, "excluder"),
            };
            counts.add(&gear(code), count);
        }
        tally.fullness = self.full.or(tally.fullness);
        tally.minutes = match (tally.minutes, self.minutes) {
            (Some(before), Some(more)) => Some(before + more),
            (before, more) => more.or(before),
        };
        tally.hands = self.hands.or(tally.hands);
        tally.truck = self.truck.or(tally.truck.take());
        if !self.note.is_empty() {
            tally.note = if tally.note.is_empty() { self.note } else { format!("{}; {}", tally.note, self.note) };
        }
    }
}

/// Gear counts from words of the command line.
pub fn gear_counts(pairs: &[(GearCode, u32)]) -> GearCounts {
    pairs.iter().cloned().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Vec<ToldTally>, Vec<Trouble>> {
        read_tallies("tallies.csv", text, &ColumnMap::new(), &JobBook::standard())
    }

    #[test]
    fn rows_of_one_yard_and_day_are_one_tally() {
        let text = "date,yard,job,double,split,boxes_on,excluders_on,minutes,truck\n\
                    2026-07-03,7,single-down-blow,26,,26,26,130,Red\n2026-07-03,7,brood-lift,,6,6,6,29,Red\n\
                    2026-07-03,12,single-down-blow,20,,20,20,,Red\n";
        let tallies = read(text).unwrap();
        assert_eq!(tallies.len(), 2);
        let seven = &tallies[0].tally;
        assert_eq!(tallies[1].place.as_ref().unwrap().line, Some(4));
        assert_eq!(seven.jobs.len(), 2);
        assert_eq!(seven.boxes_on.of(&"deep".parse().unwrap()), 32);
        let twice = format!("{text}2026-07-03,12,single-down-blow,20,,20,20,,Red\n");
        assert_eq!(read(&twice).unwrap_err()[0].code, "TLY-008");
        assert_eq!((seven.minutes, seven.truck.as_ref().map(TruckId::as_str)), (Some(Minutes(159)), Some("Red")));
    }

    #[test]
    fn every_column_refuses_what_cannot_be() {
        for (column, value, code) in [
            ("date", "3 July", "DAT-001"),
            ("yard", "", "TAB-007"),
            ("job", "dance", "TRD-010"),
            ("double", "-1", "TAB-009"),
            ("single", "x", "TAB-009"),
            ("split", "9999", "TLY-002"),
            ("weak", "1.5", "TAB-009"),
            ("queenless", "many", "TAB-009"),
            ("boxes_on", "-3", "TAB-009"),
            ("boxes_off", "x", "TAB-009"),
            ("boxes_left", "x", "TAB-009"),
            ("excluders_on", "x", "TAB-009"),
            ("excluders_off", "x", "TAB-009"),
            ("full_percent", "120", "TAB-010"),
            ("minutes", "2000", "TAB-010"),
            ("hands", "0", "TAB-010"),
            ("truck", "a truck with a name that is far too long", "TLY-005"),
        ] {
            let mut cells = vec![("date", "2026-07-03"), ("yard", "7"), ("job", "pull")];
            match cells.iter_mut().find(|(name, _)| *name == column) {
                Some(cell) => cell.1 = value,
                None => cells.push((column, value)),
            }
            let header: Vec<_> = cells.iter().map(|cell| cell.0).collect();
            let row: Vec<_> = cells.iter().map(|cell| cell.1).collect();
            let faults = read(&format!("{}\n{}\n", header.join(","), row.join(","))).unwrap_err();
            assert_eq!((faults.len(), faults[0].code), (1, code), "{column} = {value}: {faults:?}");
            assert_eq!(faults[0].place.as_ref().unwrap().column.as_deref(), Some(column));
        }
    }

    #[test]
    fn words_of_the_command_line_are_read_or_refused() {
        let jobs = JobBook::standard();
        let (job, counts) = read_job_counts(&jobs, "add-boxes:single=24, split=6").unwrap();
        assert_eq!((job.as_str(), counts.total()), ("add-boxes", 30));
        for (text, code) in [
            ("add-boxes", "TLY-001"),
            ("add-boxes:", "TLY-001"),
            ("fly:single=1", "TRD-010"),
            ("add-boxes:hive=1", "TLY-002"),
        ] {
            assert_eq!(read_job_counts(&jobs, text).unwrap_err().code, code, "{text}");
        }
        assert_eq!(read_odd(&["dead=1,weak=2".to_owned()]).unwrap().weak, 2);
        assert_eq!(read_odd(&["lost=1".to_owned()]).unwrap_err().code, "TLY-003");
    }

    #[test]
    fn a_tally_past_all_doubt_is_refused() {
        let jobs = JobBook::standard();
        let standing = KindCounts::of(&[(Kind::Double, 26)]);
        let mut tally = Tally::new("7".parse().unwrap());
        tally.jobs = jobs_done(&jobs, &["single-down-blow:double=26".to_owned()], &[]).unwrap();
        assert!(check_tally(&tally, Some(&standing), &jobs).is_ok());
        assert_eq!(check_tally(&tally, None, &jobs).unwrap_err()[0].code, "YRD-005");
        tally.jobs = jobs_done(&jobs, &["single-down-blow:double=260".to_owned()], &[]).unwrap();
        assert_eq!(check_tally(&tally, Some(&standing), &jobs).unwrap_err()[0].code, "TLY-004");
        tally.jobs = jobs_done(&jobs, &["single-down-blow:split=2".to_owned()], &[]).unwrap();
        assert_eq!(check_tally(&tally, Some(&standing), &jobs).unwrap_err()[0].code, "TLY-004");
    }
}
